//! A system fitted to readings, across several open sets at once.
#![allow(
    clippy::indexing_slicing,
    reason = "a change for each of the doubts, and the causes point at doubts"
)]

use super::{
    calibrate_error::CalibrateError,
    fit::{
        CorrelatedUnknowns, Estimate, FitEnd, FittedReading, Fitting, OutlierTreatment, Posterior,
        WeakDirection, fit,
    },
    movers::{Movers, numbers_of},
    observation::Observation,
    predict::{Sight, check, predict},
    unknown::Unknown,
};
use crate::{
    place::Name,
    solve::{Causes, Doubt, Output},
    system::System,
};

/// A system fitted to readings, by [`calibrate`].
#[derive(Debug, Clone)]
#[non_exhaustive]
pub struct Calibration {
    /// The system with every unknown at its estimate: to be solved, changed and written as any other.
    pub system: System,
    /// What was to be found, in the order given.
    pub estimates: Vec<Estimate>,
    /// The readings, in the order given.
    pub readings: Vec<FittedReading>,
    /// Pairs of unknowns that go together.
    pub correlated: Vec<CorrelatedUnknowns>,
    /// What the readings cannot tell apart.
    pub weak: Vec<WeakDirection>,
    /// Sum of the weighted squares of the residuals over its degrees of freedom: about 1 if readings
    /// and beliefs are as uncertain as was said. `None` where the readings left less than half a
    /// degree.
    pub reduced_chi_square: Option<f64>,
    /// What 95 of 100 such sums (no unit) lie between if they are.
    pub usual_chi_square: Option<[f64; 2]>,
    /// Count of the numbers that the readings told: no more than there are unknowns.
    pub told: f64,
    /// Why the search ended.
    pub ended: FitEnd,
    /// How many times the readings were predicted.
    pub evaluations: usize,
    unknowns: Vec<Unknown>,
    values: Vec<f64>,
    posterior: Posterior,
}

/// An output of a system with what calibration left of its uncertainty, by
/// [`Calibration::predict`].
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct Prediction {
    /// What it is.
    pub output: Output,
    /// Its value, in [its unit](Output::unit).
    pub value: f64,
    /// Its standard uncertainty, in the same unit.
    pub standard: f64,
    /// The share of that which the calibrated unknowns left, in the same unit; the rest is that of
    /// other doubts.
    pub from_calibration: f64,
}

/// A reading that could be taken, and what it would do, by [`Calibration::next_readings`].
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct NextReading {
    /// Its name among the candidates.
    pub id: Name,
    /// Standard uncertainty that each wanted output would have after it, in their order
    /// and SI units.
    pub standards: Vec<f64>,
    /// Share of the variance that it would take away, 0 to 1: the mean over the wanted outputs.
    pub reduction: f64,
}

/// Fits unknown numbers of a system to readings: the most probable ones, given what was believed
/// before and what was read.
///
/// Least squares with priors, over all open sets at once; derivatives are those of
/// [`Gradient`](crate::Gradient). Readings that the others contradict are named, whatever the
/// treatment. More unknowns than readings is no fault: `told` and [`weak`](Calibration::weak) say
/// what the readings did not tell.
///
/// Only what is among the unknowns is moved: what else is wrong with the model goes into them, as
/// far as they can take it.
///
/// ```
/// # fn main() -> Result<(), Box<dyn std::error::Error>> {
/// # #[cfg(feature = "serde")] {
/// use airsplit::*;
/// let study: Study = toml::from_str(&std::fs::read_to_string("examples/chair_shop.toml")?)?;
/// let readings = [
///     Observation::new("planer", Output::Hood("planer port".into()), 0.455, 0.015).with_open(["planer"]),
///     Observation::new("lathe", Output::Hood("lathe scoop".into()), 0.222, 0.01).with_open(["lathe"]),
/// ];
/// let hoses = Unknown::usual(&study.system, UnknownKind::HoseSlack, None)?;
/// let fan = Unknown::usual(&study.system, UnknownKind::FanScale, None)?;
/// let fitted = calibrate(&study.system, &readings, &[hoses, fan], OutlierTreatment::All)?;
/// for estimate in &fitted.estimates {
///     println!("{}: {:.2}, {:.2} to {:.2}", estimate.name, estimate.value, estimate.low, estimate.high);
/// }
/// let planer = [Output::Machine("planer".into())];
/// let after = fitted.predict(&fitted.system, &["planer".into()], &planer, &[])?;
/// println!("{:.3} +- {:.3} m3/s", after[0].value, after[0].standard);
/// # }
/// # Ok(())
/// # }
/// ```
///
/// # Errors
///
/// [`CalibrateError`]: a reading or an unknown that cannot be, a model with faults, no answer.
pub fn calibrate(
    system: &System,
    readings: &[Observation],
    unknowns: &[Unknown],
    outliers: OutlierTreatment,
) -> Result<Calibration, CalibrateError> {
    check(readings)?;
    if unknowns.len() > Unknown::MOST {
        let given = unknowns.len();
        return Err(CalibrateError::TooManyUnknowns { given });
    }
    let movers = Movers::new(system, unknowns)?;
    let mut values_and_rows =
        |theta: &[f64], values: &mut [f64], rows: &mut [f64]| -> Result<(), CalibrateError> {
            let moved = movers.system(system, theta)?;
            let predicted = predict(&moved, readings, &movers.numbers)?;
            values.copy_from_slice(&predicted.values);
            let told = predicted.rows.iter().zip(rows.chunks_mut(unknowns.len()));
            for (row, to) in told {
                movers.gradient(theta, &predicted.numbers, row, to);
            }
            Ok(())
        };
    let wanted: Vec<_> = unknowns.iter().map(Unknown::for_fit).collect();
    let read: Vec<_> = readings.iter().map(Observation::for_fit).collect();
    let how = Fitting::default().treatment(outliers);
    let fitted = fit(&wanted, &read, &mut values_and_rows, &how)?;
    let values: Vec<f64> = fitted.unknowns.iter().map(|at| at.value).collect();
    Ok(Calibration {
        system: movers.system(system, &values)?,
        reduced_chi_square: fitted.reduced_chi_square(),
        usual_chi_square: fitted
            .band_of_reduced_chi_square()
            .map(|(low, high)| [low, high]),
        estimates: fitted.unknowns,
        readings: fitted.readings,
        correlated: fitted.pairs,
        weak: fitted.directions,
        told: fitted.told,
        ended: fitted.ended,
        evaluations: fitted.evaluations,
        unknowns: unknowns.to_vec(),
        values,
        posterior: fitted.posterior,
    })
}

impl Calibration {
    /// The readings that the others contradict.
    pub fn outliers(&self) -> impl Iterator<Item = &FittedReading> {
        self.readings.iter().filter(|reading| reading.outlier)
    }

    /// Covariance of two unknowns by their places, in the product of their SI units; of one with itself
    /// its variance. `None` where there is no such place.
    #[must_use]
    pub fn covariance(&self, one: usize, other: usize) -> Option<f64> {
        self.posterior.covariance(one, other)
    }

    /// Correlation of two unknowns by their places, -1 to 1. `None` where there is no such place.
    #[must_use]
    pub fn correlation(&self, one: usize, other: usize) -> Option<f64> {
        self.posterior.correlation(one, other)
    }

    /// Outputs of a system with the uncertainty that calibration left: of the calibrated system, or of
    /// one that was made of it by changes.
    ///
    /// `others` are doubts about numbers that were not calibrated, those of
    /// [`Network::doubts`](crate::Network::doubts) or none; doubts about numbers that were are left out. Numbers that the
    /// system does not have any more move nothing.
    ///
    /// # Errors
    ///
    /// An output or name that is not there, a model with faults, no balance, a doubt that cannot be.
    pub fn predict(
        &self,
        system: &System,
        open: &[Name],
        outputs: &[Output],
        others: &[Doubt],
    ) -> Result<Vec<Prediction>, CalibrateError> {
        let calibrated = numbers_of(&self.unknowns);
        let others: Vec<Doubt> = others
            .iter()
            .filter(|doubt| !calibrated.contains(&(&doubt.place, doubt.parameter)))
            .cloned()
            .collect();
        let causes = Causes::of(&others).map_err(super::SurveyError::from)?;
        let doubted = others.iter().map(|doubt| (&doubt.place, doubt.parameter));
        let numbers: Vec<_> = calibrated.iter().copied().chain(doubted).collect();
        let sight = Sight {
            system,
            open,
            outputs,
            without: &|_| false,
        };
        let seen = sight.see(&numbers).map_err(CalibrateError::from)?;
        let predictions = outputs.iter().zip(seen.values.iter().zip(&seen.rows));
        let tell = |(output, (&value, row)): (&Output, (&f64, &Vec<f64>))| {
            let from_calibration = self.standard_of(&seen.numbers, row);
            let own = row.iter().zip(&seen.numbers).skip(calibrated.len());
            let change: Vec<f64> = own
                .zip(&others)
                .map(|((slope, &number), doubt)| match number {
                    absent if absent.is_nan() => 0.0,
                    number => slope * doubt.standard_at(number),
                })
                .collect();
            let together = causes
                .iter()
                .map(|of| of.iter().map(|&i| change[i]).sum::<f64>());
            let variance: f64 = together.map(|change| change * change).sum();
            Prediction {
                output: output.clone(),
                value,
                standard: from_calibration.hypot(variance.sqrt()),
                from_calibration,
            }
        };
        Ok(predictions.map(tell).collect())
    }

    /// Which further reading would tell most about some outputs in an open set: candidates ranked by
    /// how much of the outputs' variance each would take away, the best first.
    ///
    /// A candidate is a reading whose value does not matter: what counts is where it would be read,
    /// and how well. [`possible_readings`](super::possible_readings) makes a list of them.
    ///
    /// # Errors
    ///
    /// As [`predict`](Self::predict); no candidates, or one that cannot be.
    pub fn next_readings(
        &self,
        candidates: &[Observation],
        open: &[Name],
        wanted: &[Output],
    ) -> Result<Vec<NextReading>, CalibrateError> {
        check(candidates)?;
        let numbers = numbers_of(&self.unknowns);
        let read = predict(&self.system, candidates, &numbers)?;
        let sight = Sight {
            system: &self.system,
            open,
            outputs: wanted,
            without: &|_| false,
        };
        let seen = sight.see(&numbers).map_err(CalibrateError::from)?;
        let wanted: Vec<Vec<f64>> = seen
            .rows
            .iter()
            .map(|row| self.gradient(&seen.numbers, row))
            .collect();
        let candidates_as_read: Vec<_> = candidates
            .iter()
            .zip(&read.rows)
            .map(|(candidate, row)| super::fit::Candidate {
                gradient: self.gradient(&read.numbers, row),
                standard: candidate.standard,
            })
            .collect();
        let ranked = self.posterior.rank_next(&candidates_as_read, &wanted)?;
        let tell = |next: super::fit::Next| {
            Some(NextReading {
                id: candidates.get(next.candidate)?.id.clone(),
                standards: next.standards,
                reduction: next.reduction,
            })
        };
        Ok(ranked.into_iter().filter_map(tell).collect())
    }

    fn standard_of(&self, now: &[f64], row: &[f64]) -> f64 {
        let gradient = self.gradient(now, row);
        self.posterior
            .variance_of(&gradient)
            .unwrap_or(f64::NAN)
            .sqrt()
    }

    fn gradient(&self, now: &[f64], row: &[f64]) -> Vec<f64> {
        let mut gradient = vec![0.0; self.unknowns.len()];
        Movers::of(&self.unknowns).gradient(&self.values, now, row, &mut gradient);
        gradient
    }
}
