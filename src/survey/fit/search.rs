//! The search for the least misfit at given weights, by Levenberg and Marquardt's method.
#![allow(
    clippy::indexing_slicing,
    reason = "matrices and lists with an entry for each reading or unknown, one at least of each"
)]

use super::{FitError, Posterior, Reading, scatter::band_of_reduced, setup::Setup};
use levenberg_marquardt::{LeastSquaresProblem, LevenbergMarquardt, TerminationReason};
use nalgebra::{DMatrix, DVector, Dyn, storage::Owned};
use std::fmt;

/// Beyond this, squares and their sums may overflow.
const HUGE: f64 = 1e100;

/// How far from the least misfit a search may end, in standard uncertainties of the estimates. The
/// searches end far nearer; this only guards against an end that is none.
const OFFSET: f64 = 1e-3;

/// Where steps of Gauss and Newton stop, and how many there may be.
const POLISHED: f64 = 1e-10;
const STEPS: usize = 20;

/// Predicts the readings.
pub(crate) trait Predict {
    /// Why it may fail.
    type Error: Clone;

    /// Writes the prediction of every reading at these unknowns to `values`, and its derivatives
    /// with regard to them to `jacobian`, which is row by row: that of reading i and unknown k stands
    /// at i x (number of unknowns) + k.
    ///
    /// # Errors
    ///
    /// When nothing can be predicted there; the search then takes a shorter step.
    fn predict(
        &mut self,
        theta: &[f64],
        values: &mut [f64],
        jacobian: &mut [f64],
    ) -> Result<(), Self::Error>;
}

impl<F, E: Clone> Predict for F
where
    F: FnMut(&[f64], &mut [f64], &mut [f64]) -> Result<(), E>,
{
    type Error = E;

    fn predict(
        &mut self,
        theta: &[f64],
        values: &mut [f64],
        jacobian: &mut [f64],
    ) -> Result<(), E> {
        self(theta, values, jacobian)
    }
}

/// Why a search ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize),
    serde(rename_all = "snake_case")
)]
#[non_exhaustive]
pub enum FitEnd {
    /// The misfit, or the unknowns, no longer changed.
    Settled,
    /// The misfit is level in every direction.
    Level,
    /// Every reading is met, at the start.
    Exact,
    /// It cannot be improved in `f64`.
    Precision,
    /// The limit of evaluations, or of rounds of weighting, was reached.
    Patience,
    /// Numbers too large or too small.
    Numbers,
}

impl fmt::Display for FitEnd {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Self::Settled => "the misfit no longer changed",
            Self::Level => "the misfit was level",
            Self::Exact => "every reading was met",
            Self::Precision => "the precision of numbers was reached",
            Self::Patience => "the limit of evaluations was reached",
            Self::Numbers => "numbers were too large or too small",
        })
    }
}

impl FitEnd {
    // No `From`, which would put a type of levenberg-marquardt among the public items.
    fn of(reason: TerminationReason) -> Self {
        match reason {
            TerminationReason::Converged { .. } => Self::Settled,
            TerminationReason::Orthogonal => Self::Level,
            TerminationReason::ResidualsZero => Self::Exact,
            TerminationReason::NoImprovementPossible(_) => Self::Precision,
            TerminationReason::LostPatience => Self::Patience,
            // Of these only the first can come up: shapes are right, and nothing is withheld.
            TerminationReason::Numerical(_)
            | TerminationReason::User(_)
            | TerminationReason::NoParameters
            | TerminationReason::NoResiduals
            | TerminationReason::WrongDimensions(_) => Self::Numbers,
        }
    }
}

/// Everything at one set of unknowns.
#[derive(Debug, Clone)]
pub(super) struct State {
    pub(super) z: DVector<f64>,
    pub(super) theta: Vec<f64>,
    pub(super) values: Vec<f64>,
    /// (f - y) / s.
    pub(super) residuals: DVector<f64>,
    /// df/dz / s.
    pub(super) jacobian: DMatrix<f64>,
}

/// Where a search ended.
#[derive(Debug, Clone)]
pub(super) struct Found {
    pub(super) state: State,
    pub(super) posterior: Posterior,
    pub(super) weights: Vec<f64>,
    pub(super) ended: FitEnd,
    pub(super) offset: f64,
}

impl Found {
    pub(super) fn new(setup: &Setup<'_>, state: State, weights: Vec<f64>) -> Self {
        let posterior = Posterior::new(setup, &state, &weights);
        Self {
            offset: posterior.offset(&state, &weights),
            state,
            posterior,
            weights,
            ended: FitEnd::Settled,
        }
    }

    /// The sum that was made least: readings, weighted, and priors.
    pub(super) fn misfit(&self) -> f64 {
        self.chi_square() + self.state.z.norm_squared()
    }

    /// How many numbers the readings told: the trace of I - C, which is that of the hat matrix.
    pub(super) fn told(&self) -> f64 {
        let variances = (0..self.state.z.len()).map(|k| self.posterior.whitened(k, k));
        variances.map(|v| (1.0 - v).clamp(0.0, 1.0)).sum()
    }

    /// What chi-square is if all uncertainties are right: the readings less the numbers they told.
    pub(super) fn degrees_of_freedom(&self) -> f64 {
        (self.weights.iter().sum::<f64>() - self.told()).max(0.0)
    }

    /// Chi-square over its degrees of freedom, where it is more than chance allows.
    pub(super) fn excess(&self) -> Option<f64> {
        let degrees = self.degrees_of_freedom();
        let reduced = self.chi_square() / degrees;
        (degrees >= 0.5 && reduced > band_of_reduced(degrees).1).then_some(reduced)
    }

    /// The readings' part of it.
    pub(super) fn chi_square(&self) -> f64 {
        let residuals = self.state.residuals.iter();
        residuals.zip(&self.weights).map(|(r, w)| w * r * r).sum()
    }
}

/// Searches, and counts what they cost.
#[derive(Debug)]
pub(super) struct Searcher<'a, P: Predict> {
    pub(super) setup: &'a Setup<'a>,
    predict: &'a mut P,
    patience: usize,
    pub(super) evaluations: usize,
    pub(super) failed: usize,
    error: Option<P::Error>,
}

impl<'a, P: Predict> Searcher<'a, P> {
    pub(super) fn new(setup: &'a Setup<'a>, predict: &'a mut P, patience: usize) -> Self {
        Self {
            setup,
            predict,
            // The method multiplies it by the number of unknowns.
            patience: patience.clamp(1, 1_000_000),
            evaluations: 0,
            failed: 0,
            error: None,
        }
    }

    /// Everything at these unknowns.
    pub(super) fn state(&mut self, z: &DVector<f64>) -> Result<State, Miss<P::Error>> {
        let state = self.evaluate(z);
        if let Err(miss) = &state {
            self.failed += 1;
            self.error = match miss {
                Miss::Told(error) => Some(error.clone()),
                Miss::Number(_) => None,
            };
        }
        state
    }

    fn evaluate(&mut self, z: &DVector<f64>) -> Result<State, Miss<P::Error>> {
        let (m, n) = (self.setup.readings.len(), self.setup.unknowns.len());
        let theta = self.setup.theta(z.as_slice()).ok_or(Miss::Number(0))?;
        self.evaluations += 1;
        let (mut values, mut rows) = (vec![f64::NAN; m], vec![f64::NAN; m * n]);
        self.predict
            .predict(&theta, &mut values, &mut rows)
            .map_err(Miss::Told)?;
        let slopes: Vec<f64> = (self.setup.unknowns.iter().zip(&theta))
            .map(|(unknown, &theta)| unknown.slope(theta))
            .collect();
        let over = |at: &Reading, value: f64| (value - at.value) / at.standard;
        let residuals = self.setup.readings.iter().zip(&values);
        let residuals = DVector::from_iterator(m, residuals.map(|(at, &value)| over(at, value)));
        let mut jacobian = DMatrix::from_row_slice(m, n, &rows);
        for (i, reading) in self.setup.readings.iter().enumerate() {
            let mut row = jacobian.row_mut(i);
            for (slot, slope) in row.iter_mut().zip(&slopes) {
                *slot *= slope / reading.standard;
            }
            let fine = |x: &f64| x.abs() < HUGE;
            if !(fine(&residuals[i]) && row.iter().all(fine)) {
                return Err(Miss::Number(i));
            }
        }
        Ok(State {
            z: z.clone(),
            theta,
            values,
            residuals,
            jacobian,
        })
    }

    /// The least misfit with these weights of the readings, searched from `z`.
    pub(super) fn search(
        &mut self,
        z: &DVector<f64>,
        weights: Vec<f64>,
    ) -> Result<Found, FitError<P::Error>> {
        let state = match self.state(z) {
            Ok(state) => state,
            Err(Miss::Told(error)) => return Err(FitError::Start { error }),
            Err(Miss::Number(i)) => {
                let reading = self.setup.readings.get(i).map(|at| at.name.clone());
                let reading = reading.unwrap_or_default();
                return Err(FitError::StartNotFinite { reading });
            }
        };
        let failed = self.failed;
        let roots: Vec<f64> = weights.iter().map(|w| w.sqrt()).collect();
        let walk = Walk {
            roots: &roots,
            z: z.clone(),
            state: Some(state.clone()),
            searcher: self,
        };
        let method = LevenbergMarquardt::new().with_patience(walk.searcher.patience);
        let (walk, report) = method.minimize(walk);
        // None only if the method gave up at a step that failed, rather than take it back.
        let state = walk.state.unwrap_or(state);
        let mut found = Found::new(self.setup, state, weights);
        found.ended = FitEnd::of(report.termination);
        self.polish(&mut found);
        if found.offset <= OFFSET {
            Ok(found)
        } else if self.failed > failed {
            Err(FitError::Blocked {
                failed: self.failed - failed,
                error: self.error.clone(),
            })
        } else {
            Err(FitError::NotConverged {
                ended: found.ended,
                evaluations: self.evaluations,
                offset: found.offset,
            })
        }
    }
}

impl<P: Predict> Searcher<'_, P> {
    /// Gauss and Newton's steps while each comes nearer: the search ends where the misfit no longer
    /// changes, and near its least that leaves half of the digits open.
    fn polish(&mut self, found: &mut Found) {
        for _ in 0..STEPS {
            if found.offset <= POLISHED || found.offset > OFFSET {
                return;
            }
            let z = &found.state.z + found.posterior.step(&found.state, &found.weights);
            let Ok(state) = self.state(&z) else { return };
            let next = Found::new(self.setup, state, found.weights.clone());
            if next.offset > 0.9 * found.offset {
                return;
            }
            *found = Found {
                ended: found.ended,
                ..next
            };
        }
    }
}

/// Why there is no state.
pub(super) enum Miss<E> {
    Told(E),
    /// Not finite, or huge: at this reading.
    Number(usize),
}

/// One search: the rows of the readings times the roots of their weights, then those of the priors.
struct Walk<'w, 'a, P: Predict> {
    searcher: &'w mut Searcher<'a, P>,
    roots: &'w [f64],
    z: DVector<f64>,
    /// None where nothing was predicted.
    state: Option<State>,
}

impl<P: Predict> LeastSquaresProblem<f64, Dyn, Dyn> for Walk<'_, '_, P> {
    type ResidualStorage = Owned<f64, Dyn>;
    type JacobianStorage = Owned<f64, Dyn, Dyn>;
    type ParameterStorage = Owned<f64, Dyn>;

    fn set_params(&mut self, z: &DVector<f64>) {
        // A search that ends goes back to the last step that was good: often this one.
        if self.state.as_ref().is_some_and(|state| state.z == *z) {
            return;
        }
        self.z.copy_from(z);
        self.state = self.searcher.state(z).ok();
    }

    fn params(&self) -> DVector<f64> {
        self.z.clone()
    }

    fn residuals(&self) -> Option<DVector<f64>> {
        let (m, n) = (self.roots.len(), self.z.len());
        let mut all = DVector::zeros(m + n);
        match &self.state {
            Some(state) => {
                let roots = self.roots.iter();
                let readings = roots.zip(state.residuals.iter()).map(|(w, r)| w * r);
                for (slot, r) in all.iter_mut().zip(readings.chain(state.z.iter().copied())) {
                    *slot = r;
                }
            }
            // An infinite misfit, upon which the method takes a tenth of the step; nothing at all
            // would end the search.
            None => all
                .iter_mut()
                .take(1)
                .for_each(|first| *first = f64::INFINITY),
        }
        Some(all)
    }

    fn jacobian(&self) -> Option<DMatrix<f64>> {
        let state = self.state.as_ref()?;
        Some(with_priors(&state.jacobian, self.roots))
    }
}

/// The rows of the readings times these roots of weights, above those of the priors.
pub(super) fn with_priors(jacobian: &DMatrix<f64>, roots: &[f64]) -> DMatrix<f64> {
    let (m, n) = jacobian.shape();
    DMatrix::from_fn(m + n, n, |i, k| match roots.get(i) {
        Some(root) => root * jacobian[(i, k)],
        None => f64::from(u8::from(i - m == k)),
    })
}
