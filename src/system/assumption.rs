//! What a model takes for granted because the owner did not know it.

use crate::place::Place;

/// Which number of an element: the one name that assumptions, sensitivities and estimates share.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "snake_case")
)]
#[non_exhaustive]
pub enum Parameter {
    /// Height above sea level \[m\].
    Altitude,
    /// Temperature \[K\].
    Temperature,
    /// Relative humidity as a fraction \[-\].
    Humidity,
    /// Shape of a fan curve known only by its ends: flow at half the largest pressure over the
    /// largest flow \[-\].
    Shape,
    /// Loss coefficient \[-\].
    K,
    /// Angle of a join \[deg\].
    Angle,
    /// Roughness of a wall \[m\].
    Roughness,
    /// Friction of a hose over that of smooth duct \[-\].
    HoseFactor,
    /// Pressure drop at a rated flow \[Pa\].
    Drop,
    /// Required flow \[m3/s\].
    Required,
}

/// An input that the document leaves out, and what stands in for it.
///
/// The values are judgement (common practice, no source) unless `source` says otherwise; the band
/// is meant to hold the truth nineteen times in twenty.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct Assumption {
    /// The element.
    pub place: Place,
    /// Which of its numbers.
    pub parameter: Parameter,
    /// What is assumed, in the unit of the parameter.
    pub value: f64,
    /// The least it may be.
    pub low: f64,
    /// The most it may be.
    pub high: f64,
    /// Where value and band come from.
    pub source: &'static str,
}
