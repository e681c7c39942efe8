//! Readings against what the system says of them.
#![allow(
    clippy::indexing_slicing,
    reason = "a row has one entry for each doubt, and the standards are those of the doubts"
)]

use super::{
    error::SurveyError,
    observation::Observation,
    predict::{check, predict},
};
use crate::{
    place::Name,
    solve::{Causes, Doubt, Output},
    system::System,
};
use std::fmt;

/// A reading against its prediction, by [`compare_readings`].
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct ComparedReading {
    /// The reading.
    pub id: Name,
    /// Which number of the balance was read; its unit is that of the values here.
    pub output: Output,
    /// What was read, in the SI unit of its output.
    pub measured: f64,
    /// Standard uncertainty of the reading, in that unit.
    pub standard: f64,
    /// What the system says, as it was while reading, in that unit.
    pub predicted: f64,
    /// Standard uncertainty of the prediction, by the doubts about the system, in that unit.
    pub predicted_standard: f64,
    /// Read less predicted, over the standard uncertainties of both together.
    pub score: f64,
    /// What that means.
    pub agreement: Agreement,
}

/// What a difference means.
///
/// Limits of 2 and 3 standard uncertainties: of sound readings and doubts 1 in 22 lies beyond the
/// first and 1 in 370 beyond the second (normal distribution).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "snake_case")
)]
#[non_exhaustive]
pub enum Agreement {
    /// More than 3 standard uncertainties apart: the reading or the model is wrong.
    Contradicts,
    /// 2 to 3 apart: read again.
    Doubtful,
    /// No more than 2 apart, but both together are known to no better than a quarter: that they
    /// agree says little.
    SaysLittle,
    /// No more than 2 apart.
    Agrees,
}

impl fmt::Display for Agreement {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Self::Contradicts => "contradicts",
            Self::Doubtful => "doubtful",
            Self::SaysLittle => "says little",
            Self::Agrees => "agrees",
        })
    }
}

impl ComparedReading {
    /// Standard uncertainty of the difference, in the unit of the output.
    #[must_use]
    pub fn combined(&self) -> f64 {
        self.standard.hypot(self.predicted_standard)
    }

    fn of(reading: &Observation, predicted: f64, predicted_standard: f64) -> Self {
        let combined = reading.standard.hypot(predicted_standard);
        let score = (reading.value - predicted) / combined;
        Self {
            id: reading.id.clone(),
            output: reading.output.clone(),
            measured: reading.value,
            standard: reading.standard,
            predicted,
            predicted_standard,
            score,
            agreement: match score.abs() {
                z if z <= 2.0 && combined > 0.25 * predicted.abs() => Agreement::SaysLittle,
                z if z <= 2.0 => Agreement::Agrees,
                z if z <= 3.0 => Agreement::Doubtful,
                _ => Agreement::Contradicts,
            },
        }
    }
}

/// Compares readings with what the system says of each, as it was while reading; the worst first.
///
/// The uncertainty of a prediction is that of the doubts, to first order, those of one cause
/// together ([`Network::doubts`](crate::Network::doubts) tells the usual ones). Doubts about numbers
/// that a reading has nothing to do with add nothing.
///
/// ```
/// # fn main() -> Result<(), Box<dyn std::error::Error>> {
/// # #[cfg(feature = "serde")] {
/// use airsplit::{Network, Observation, Output, Study, compare_readings};
/// let study: Study = toml::from_str(&std::fs::read_to_string("examples/chair_shop.toml")?)?;
/// let doubts = Network::new(&study.system)?.doubts(&study.assumptions);
/// let planer = Output::Hood("planer port".into());
/// let reading = Observation::new("planer port", planer, 0.46, 0.015).with_open(["planer"]);
/// let found = compare_readings(&study.system, &[reading], &doubts)?;
/// println!("{}: {:+.1} standard uncertainties, {}", found[0].id, found[0].score, found[0].agreement);
/// # }
/// # Ok(())
/// # }
/// ```
///
/// # Errors
///
/// [`SurveyError`]: no readings, two of one name, a number or place that cannot be, no balance.
pub fn compare_readings(
    system: &System,
    readings: &[Observation],
    doubts: &[Doubt],
) -> Result<Vec<ComparedReading>, SurveyError> {
    check(readings)?;
    let causes = Causes::of(doubts)?;
    let numbers: Vec<_> = doubts
        .iter()
        .map(|doubt| (&doubt.place, doubt.parameter))
        .collect();
    let predicted = predict(system, readings, &numbers)?;
    let standards: Vec<f64> = doubts
        .iter()
        .zip(&predicted.numbers)
        .map(|(doubt, &number)| match number {
            absent if absent.is_nan() => 0.0,
            number => doubt.standard_at(number),
        })
        .collect();
    let mut compared: Vec<ComparedReading> = readings
        .iter()
        .zip(predicted.values)
        .zip(&predicted.rows)
        .map(|((reading, value), row)| {
            let change = |&i: &usize| row[i] * standards[i];
            let together = causes
                .iter()
                .map(|cause| cause.iter().map(change).sum::<f64>());
            let variance: f64 = together.map(|change| change * change).sum();
            ComparedReading::of(reading, value, variance.sqrt())
        })
        .collect();
    // Stable: of two alike the first.
    compared.sort_by(|a, b| b.score.abs().total_cmp(&a.score.abs()));
    Ok(compared)
}
