//! A fit, and what is told of it.

use super::{
    CorrelatedUnknowns, FitEnd, FitError, Posterior, Predict, Reading, Unknown, WeakDirection,
    Weighting,
    identify::{directions, pairs},
    outlier::standings,
    scatter::band_of_reduced,
    search::Searcher,
    setup::Setup,
};
use crate::solve::{HALF_BAND, Spread};

/// How close the rounds of weighting come to their end, in standard uncertainties of the estimates.
const CLOSE: f64 = 1e-9;

/// Share of the prior variance below which an unknown counts as not told: judgement.
const UNTOLD: f64 = 0.1;

/// How to fit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Fitting {
    /// What wrong readings may do.
    pub treatment: OutlierTreatment,
    /// Evaluations of one search at most, for each unknown and one more; 100 if not said otherwise.
    pub patience: usize,
}

/// What readings that the others contradict may do to the estimates. They are named in any case.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "snake_case")
)]
#[non_exhaustive]
pub enum OutlierTreatment {
    /// All readings count in full.
    #[default]
    All,
    /// Those that do not agree with the fit count for less.
    Weighted(Weighting),
    /// The outliers are left out.
    WithoutOutliers,
}

impl Default for Fitting {
    fn default() -> Self {
        Self {
            treatment: OutlierTreatment::default(),
            patience: 100,
        }
    }
}

impl Fitting {
    /// With this treatment.
    #[must_use]
    pub(crate) const fn treatment(mut self, treatment: OutlierTreatment) -> Self {
        self.treatment = treatment;
        self
    }
}

/// An unknown after the readings.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct Estimate {
    /// Its name.
    pub name: String,
    /// The most probable value, in the unit of the unknown.
    pub value: f64,
    /// Its standard uncertainty, in its unit.
    pub standard: f64,
    /// Lower end of the band that holds 95 %: of a scaled unknown by a factor, so above 0.
    pub low: f64,
    /// Upper end, in that unit.
    pub high: f64,
    /// How far the readings moved it from its start, in prior standard uncertainties. Beyond 3 they
    /// and the prior contradict each other.
    pub moved: f64,
    /// Share of the prior variance that the readings took away: 0 they told nothing, 1 all. The sum
    /// over the unknowns is how many numbers they told.
    pub told: f64,
}

impl Estimate {
    /// Whether the readings told at least a tenth of its variance (judgement): else its value is what
    /// was believed before.
    #[must_use]
    pub fn is_told(&self) -> bool {
        self.told >= UNTOLD
    }
}

/// A reading after the fit.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct FittedReading {
    /// Its name.
    pub name: String,
    /// What was read, in the SI unit of its output.
    pub value: f64,
    /// What the estimates predict, in that unit.
    pub predicted: f64,
    /// Standard uncertainty of that prediction, in that unit.
    pub predicted_standard: f64,
    /// Prediction less reading, in standard uncertainties of the reading.
    pub residual: f64,
    /// The same against a prediction without this reading, over the standard uncertainty of the
    /// difference; for a reading that counts in full, the residual over its own standard deviation.
    /// None if nothing but this reading says what it should be.
    pub standardised: Option<f64>,
    /// The same against a prediction from the readings that are not outliers: how far, over the
    /// standard uncertainty of the difference, the others
    /// contradict it.
    pub apart: Option<f64>,
    /// Share of its error that would show, 0 to 1: 0 if no other reading nor prior checks it.
    pub checked: f64,
    /// Weight with which it counted, 0 to 1.
    pub weight: f64,
    /// Whether the others contradict it.
    pub outlier: bool,
}

/// A fit: always at a least misfit, near the start if there are several.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub(crate) struct Fit {
    /// Every unknown, in the order given.
    pub unknowns: Vec<Estimate>,
    /// Every reading, in the order given.
    pub readings: Vec<FittedReading>,
    /// How well the unknowns are known, and go together.
    pub posterior: Posterior,
    /// Unknowns that the readings tell better together than alone.
    pub pairs: Vec<CorrelatedUnknowns>,
    /// What the readings cannot tell apart.
    pub directions: Vec<WeakDirection>,
    /// Sum of the weighted squares of the residuals, without the priors.
    pub chi_square: f64,
    /// How many numbers the readings told: the trace of the hat matrix, no more than there are
    /// readings, nor unknowns.
    pub told: f64,
    /// Sum of weights less the numbers told: what chi-square is if the uncertainties are right.
    pub degrees_of_freedom: f64,
    /// Why the search ended.
    pub ended: FitEnd,
    /// Rounds of weighting.
    pub rounds: usize,
    /// Predictions asked for, those that failed among them.
    pub evaluations: usize,
    /// Predictions that failed; the search went around them.
    pub failed: usize,
}

impl Fit {
    /// Chi-square over its degrees of freedom: about 1 if readings and priors are as uncertain as was
    /// said. None if the readings left less than half a degree.
    ///
    /// The degrees are the readings less the trace of the hat matrix, priors among its rows. If the
    /// truth is spread as the priors say, the mean of chi-square is just that: the covariance of the
    /// residuals is I - H. The trace as number of parameters: D. J. Spiegelhalter et al., *Bayesian
    /// measures of model complexity and fit*, J. R. Statist. Soc. B 64, 2002 (abstract read).
    #[must_use]
    pub(crate) fn reduced_chi_square(&self) -> Option<f64> {
        (self.degrees_of_freedom >= 0.5).then(|| self.chi_square / self.degrees_of_freedom)
    }

    /// The band that holds 95 % of [`reduced_chi_square`](Self::reduced_chi_square). Above it the
    /// readings scatter more than their uncertainties say, or the model is wrong; below it they are
    /// better than was said. It is a guide only below two degrees of freedom, and with weights.
    #[must_use]
    pub(crate) fn band_of_reduced_chi_square(&self) -> Option<(f64, f64)> {
        (self.degrees_of_freedom >= 0.5).then(|| band_of_reduced(self.degrees_of_freedom))
    }

    #[cfg(test)]
    pub(super) fn untold(&self) -> impl Iterator<Item = &Estimate> {
        self.unknowns.iter().filter(|unknown| !unknown.is_told())
    }

    /// The readings that the others contradict.
    #[cfg(test)]
    pub(super) fn outliers(&self) -> impl Iterator<Item = &FittedReading> {
        self.readings.iter().filter(|reading| reading.outlier)
    }
}

/// Fits the unknowns to the readings.
///
/// The search is local, from the start of every unknown: J. J. More, *The Levenberg-Marquardt
/// algorithm: implementation and theory*, Lecture Notes in Mathematics 630, 1978 (from memory), as
/// the crate `levenberg-marquardt` writes it. Where a prediction fails it takes a shorter step. The
/// uncertainties are to first order about the estimates; those of a weighted fit take its weights as
/// given.
///
/// # Errors
///
/// When an unknown or a reading cannot be, when the prediction at the start fails or is not finite,
/// when the search is stopped by failing predictions, or does not converge.
pub(crate) fn fit<P: Predict>(
    unknowns: &[Unknown],
    readings: &[Reading],
    predict: &mut P,
    how: &Fitting,
) -> Result<Fit, FitError<P::Error>> {
    let setup = Setup::new(unknowns, readings)?;
    let mut searcher = Searcher::new(&setup, predict, how.patience);
    let start = nalgebra::DVector::zeros(unknowns.len());
    let all = searcher.search(&start, vec![1.0; readings.len()])?;
    let clean = searcher.clean(&all);
    let (found, rounds) = match how.treatment {
        OutlierTreatment::All => (all, 0),
        OutlierTreatment::Weighted(weighting) => searcher.weighted(weighting, &all, CLOSE)?,
        OutlierTreatment::WithoutOutliers => (clean.found.clone(), 0),
    };
    let (evaluations, failed) = (searcher.evaluations, searcher.failed);

    let estimates: Vec<Estimate> = (unknowns.iter().zip(&found.state.theta))
        .zip(&found.state.z)
        .enumerate()
        .map(|(k, ((unknown, &value), &moved))| {
            let variance = found.posterior.whitened(k, k);
            let half = HALF_BAND * unknown.standard * variance.sqrt();
            let (low, high) = match unknown.spread {
                Spread::Even => (value - half, value + half),
                Spread::Scaled => (value * (-half).exp(), value * half.exp()),
            };
            Estimate {
                name: unknown.name.clone(),
                value,
                standard: unknown.slope(value) * variance.sqrt(),
                low,
                high,
                moved,
                told: (1.0 - variance).clamp(0.0, 1.0),
            }
        })
        .collect();
    let predicted = found.posterior.predicted(&found.state.jacobian);
    let readings: Vec<FittedReading> = (standings(&found).iter().zip(standings(&clean.found)))
        .zip(readings.iter().zip(&found.state.values))
        .zip(clean.outlier.iter().zip(&found.weights))
        .zip(found.state.residuals.iter().zip(predicted.row_iter()))
        .map(|(((rows, at), flags), numbers)| {
            let ((own, clean), (reading, &predicted)) = (rows, at);
            let ((&outlier, &weight), (&residual, spread)) = (flags, numbers);
            FittedReading {
                name: reading.name.clone(),
                value: reading.value,
                predicted,
                predicted_standard: spread.norm() * reading.standard,
                residual,
                standardised: own.apart,
                apart: clean.apart,
                checked: own.checked,
                weight,
                outlier,
            }
        })
        .collect();
    let names: Vec<&str> = unknowns.iter().map(|at| at.name.as_str()).collect();
    Ok(Fit {
        pairs: pairs(&found.posterior),
        directions: directions(&found, &names),
        chi_square: found.chi_square(),
        told: found.told(),
        degrees_of_freedom: found.degrees_of_freedom(),
        unknowns: estimates,
        readings,
        ended: found.ended,
        posterior: found.posterior,
        rounds,
        evaluations,
        failed,
    })
}
