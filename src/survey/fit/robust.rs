//! Weights that keep a wrong reading from pulling the fit, by iteratively re-weighted least squares.

use super::{
    Ended, FitError, Predict,
    search::{Found, Searcher},
};
use nalgebra::DVector;

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

/// Rounds of weighting at most. Each lowers the misfit that the weighting stands for, so they settle;
/// some twenty is usual.
const ROUNDS: usize = 300;

impl Weighting {
    pub(super) fn weight(self, r: f64) -> f64 {
        match self {
            Self::Huber if r.abs() <= HUBER => 1.0,
            Self::Huber => HUBER / r.abs(),
            Self::Biweight if r.abs() < BIWEIGHT => (1.0 - (r / BIWEIGHT).powi(2)).powi(2),
            Self::Biweight => 0.0,
        }
    }
}

impl<P: Predict> Searcher<'_, P> {
    /// The estimate that is left as it is by weighting its own residuals, from the one that was found
    /// before; the search ends when a round moves it less than `close` standard uncertainties. Also
    /// the number of rounds.
    pub(super) fn weighted(
        &mut self,
        weighting: Weighting,
        from: &Found,
        close: f64,
    ) -> Result<(Found, usize), FitError<P::Error>> {
        let (mut found, mut rounds) = match weighting {
            Weighting::Huber => (from.clone(), 0),
            Weighting::Biweight => self.weighted(Weighting::Huber, from, close)?,
        };
        for _ in 0..ROUNDS {
            let residuals: &DVector<f64> = &found.state.residuals;
            let weights = residuals.iter().map(|&r| weighting.weight(r)).collect();
            let next = self.search(&found.state.z, weights)?;
            let moved = next.posterior.distance(&next.state.z, &found.state.z);
            found = next;
            rounds += 1;
            if moved <= close {
                return Ok((found, rounds));
            }
        }
        Err(FitError::NotConverged {
            ended: Ended::Patience,
            evaluations: self.evaluations,
            offset: found.offset,
        })
    }
}
