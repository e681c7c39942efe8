//! Weights that keep a wrong reading from pulling the fit, by iteratively re-weighted least squares.

use super::{
    FitEnd, FitError, Predict,
    search::{Found, Searcher, State},
    setup::Setup,
};
use nalgebra::{DMatrix, DVector};

/// How much a reading counts that is r standard uncertainties off.
///
/// P. J. Huber, *Robust Statistics*, Wiley 1981, ch. 7 (from memory). The constants are those at which
/// an estimate from readings that are all right, of normal errors, loses 5 % of its efficiency (seen
/// in the manual of S-PLUS, function `chb`, which cites Huber 1981 and Hampel et al. 1986). The scale
/// is the readings' own uncertainty, not one estimated from so few of them.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "snake_case")
)]
#[non_exhaustive]
pub enum Weighting {
    /// 1 up to 1.345, beyond it 1.345 / |r|: a wrong reading pulls no harder for being more wrong.
    Huber,
    /// (1 - (r / 4.685)^2)^2, and 0 from 4.685 on, starting where Huber's ends: a wrong reading pulls
    /// not at all. J. W. Tukey's biweight.
    Biweight,
}

const HUBER: f64 = 1.345;
const BIWEIGHT: f64 = 4.685;

/// Where a round comes no nearer than this though it should, numbers have no more digits.
const PRECISION: f64 = 1e-6;

/// Rounds of weighting at most. Each lowers the misfit that the weighting stands for, so they settle;
/// ten is usual.
const ROUNDS: usize = 300;

impl Weighting {
    fn weight(self, r: f64) -> f64 {
        match self {
            Self::Huber if r.abs() <= HUBER => 1.0,
            Self::Huber => HUBER / r.abs(),
            Self::Biweight if r.abs() < BIWEIGHT => (1.0 - (r / BIWEIGHT).powi(2)).powi(2),
            Self::Biweight => 0.0,
        }
    }

    /// What takes the place of the square in the misfit: its derivative is 2 r times the weight.
    fn misfit(self, r: f64) -> f64 {
        match self {
            Self::Huber if r.abs() <= HUBER => r * r,
            Self::Huber => HUBER * (2.0 * r.abs() - HUBER),
            Self::Biweight => {
                let rest = (1.0 - (r / BIWEIGHT).powi(2)).max(0.0);
                BIWEIGHT * BIWEIGHT / 3.0 * (1.0 - rest.powi(3))
            }
        }
    }

    /// Half the second derivative of that.
    fn curvature(self, r: f64) -> f64 {
        let share = (r / BIWEIGHT).powi(2);
        match self {
            Self::Huber if r.abs() <= HUBER => 1.0,
            Self::Biweight if share < 1.0 => (1.0 - share) * (1.0 - 5.0 * share),
            Self::Huber | Self::Biweight => 0.0,
        }
    }

    fn weights(self, state: &State) -> Vec<f64> {
        state.residuals.iter().map(|&r| self.weight(r)).collect()
    }

    fn total(self, state: &State) -> f64 {
        let readings: f64 = state.residuals.iter().map(|&r| self.misfit(r)).sum();
        readings + state.z.norm_squared()
    }
}

impl<P: Predict> Searcher<'_, P> {
    /// The estimate that is left as it is by weighting its own residuals, to within `close` standard
    /// uncertainties, from the one that was found before. Also the number of rounds.
    pub(super) fn weighted(
        &mut self,
        weighting: Weighting,
        from: &Found,
        close: f64,
    ) -> Result<(Found, usize), FitError<P::Error>> {
        let (from, before) = match weighting {
            Weighting::Huber => (from.clone(), 0),
            Weighting::Biweight => self.weighted(Weighting::Huber, from, close)?,
        };
        let own = |setup: &Setup<'_>, state: State, ended| {
            let weights = weighting.weights(&state);
            Found {
                ended,
                ..Found::new(setup, state, weights)
            }
        };
        let mut found = own(self.setup, from.state, from.ended);
        for round in 0..ROUNDS {
            if found.offset <= close {
                return Ok((found, before + round));
            }
            // Weighting comes nearer by a constant share a round, which may be small; where Newton's
            // step comes nearer still, it is taken.
            let newton = newton(weighting, &found).and_then(|z| self.state(&z).ok());
            let newton = newton.filter(|at| weighting.total(at) <= weighting.total(&found.state));
            let newton = newton.map(|state| own(self.setup, state, found.ended));
            found = match newton.filter(|at| at.offset < 0.5 * found.offset) {
                Some(newton) => newton,
                None => {
                    let next = self.search(&found.state.z, found.weights.clone())?;
                    let state = self.farther(weighting, &found.state, next.state);
                    let next = own(self.setup, state, next.ended);
                    if next.offset >= found.offset && found.offset <= PRECISION {
                        found.ended = FitEnd::Precision;
                        return Ok((found, before + round));
                    }
                    next
                }
            };
        }
        Err(FitError::NotConverged {
            ended: FitEnd::Patience,
            evaluations: self.evaluations,
            offset: found.offset,
        })
    }
}

impl<P: Predict> Searcher<'_, P> {
    /// Twice, four times... the step of a round as long as the misfit falls: on a nearly level slope of
    /// the biweight's rounds are short.
    fn farther(&mut self, weighting: Weighting, before: &State, after: State) -> State {
        let (step, mut best) = (&after.z - &before.z, after);
        let mut times = 2.0;
        while let Ok(next) = self.state(&(&before.z + &step * times))
            && weighting.total(&next) < weighting.total(&best)
        {
            best = next;
            times *= 2.0;
        }
        best
    }
}

/// Newton's step to the least of the weighting's misfit, if it is curved upward here.
fn newton(weighting: Weighting, found: &Found) -> Option<DVector<f64>> {
    let State {
        z,
        residuals,
        jacobian,
        ..
    } = &found.state;
    let mut curved = jacobian.clone();
    for (mut row, &r) in curved.row_iter_mut().zip(residuals) {
        row *= weighting.curvature(r);
    }
    let n = z.len();
    let matrix = jacobian.tr_mul(&curved) + DMatrix::identity(n, n);
    let pulls = residuals.zip_map(&DVector::from_column_slice(&found.weights), |r, w| r * w);
    let uphill = jacobian.tr_mul(&pulls) + z;
    Some(z - matrix.cholesky()?.solve(&uphill))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn weights_are_the_slopes_of_the_misfit() {
        for weighting in [Weighting::Huber, Weighting::Biweight] {
            for r in [-9.0, -4.6, -3.0, -1.4, -1.3, 0.0, 0.7, 1.34, 2.0, 4.7] {
                let step = 1e-6;
                let slope = |f: &dyn Fn(f64) -> f64| (f(r + step) - f(r - step)) / (2.0 * step);
                let misfit = slope(&|r| weighting.misfit(r));
                assert!((misfit - 2.0 * r * weighting.weight(r)).abs() < 1e-7, "{r}");
                let pull = slope(&|r| r * weighting.weight(r));
                assert!((pull - weighting.curvature(r)).abs() < 1e-7, "{r}");
            }
        }
    }
}
