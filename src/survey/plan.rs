//! What a document says of its calibration.

use super::{
    OutlierTreatment, Unknown, UnknownKind, calibrate_error::CalibrateError, unknown::NumberAt,
};
use crate::{place::Name, system::System};

/// `[calibrate]`: what readings are to tell of a system, and how wrong readings are treated.
///
/// ```
/// # #[cfg(feature = "serde")]
/// # fn main() -> Result<(), Box<dyn std::error::Error>> {
/// let plan: airsplit::CalibratePlan = toml::from_str(r#"
///     outliers = "without_outliers"
///     unknown = [
///         { usual = "hose_slack" },
///         { usual = "hose_slack", section = "planer drop", standard = 0.3 },
///         { usual = "fan_scale" },
///         { name = "planer port", number = { place = { hood = "planer port" }, parameter = "k" }, start = 1.0, standard = 0.3 },
///     ]
/// "#)?;
/// assert_eq!(plan.unknown.len(), 4);
/// # Ok(())
/// # }
/// # #[cfg(not(feature = "serde"))]
/// # fn main() {}
/// ```
#[derive(Debug, Clone, PartialEq, Default)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields, default)
)]
#[non_exhaustive]
pub struct CalibratePlan {
    /// What is to be found; empty: every usual unknown that the system has.
    #[cfg_attr(feature = "serde", serde(skip_serializing_if = "Vec::is_empty"))]
    pub unknown: Vec<WantedUnknown>,
    /// What readings that the others contradict may do.
    #[cfg_attr(feature = "serde", serde(skip_serializing_if = "super::is_default"))]
    pub outliers: OutlierTreatment,
}

/// An unknown as a document names it.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(untagged)
)]
#[non_exhaustive]
pub enum WantedUnknown {
    /// A usual one, of the whole system or of one section.
    Usual(UsualUnknown),
    /// One number of the system.
    Number(NumberUnknown),
}

/// A usual unknown as a document names it.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
#[non_exhaustive]
pub struct UsualUnknown {
    /// Which.
    pub usual: UnknownKind,
    /// The section whose numbers it moves; `None`: those of the whole system.
    #[cfg_attr(
        feature = "serde",
        serde(default, skip_serializing_if = "Option::is_none")
    )]
    pub section: Option<Name>,
    /// Standard uncertainty of its logarithm before any reading, above 0, no unit; `None`: the usual one.
    #[cfg_attr(
        feature = "serde",
        serde(default, skip_serializing_if = "Option::is_none")
    )]
    pub standard: Option<f64>,
}

/// One number of the system that is to be found, as a document names it.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
#[non_exhaustive]
pub struct NumberUnknown {
    /// What it is called.
    pub name: Name,
    /// The number.
    pub number: NumberAt,
    /// What was believed before any reading, in the parameter's unit.
    pub start: f64,
    /// Standard uncertainty of that, above 0, in the same unit.
    pub standard: f64,
}

impl CalibratePlan {
    /// The unknowns of a system that the plan names.
    ///
    /// # Errors
    ///
    /// Faults of the model; a usual unknown that the system does not have.
    pub fn unknowns(&self, system: &System) -> Result<Vec<Unknown>, CalibrateError> {
        if self.unknown.is_empty() {
            return Unknown::all_usual(system);
        }
        let wanted = self.unknown.iter().map(|wanted| match wanted {
            WantedUnknown::Usual(UsualUnknown {
                usual,
                section,
                standard,
            }) => {
                let unknown = Unknown::usual(system, *usual, section.as_ref())?;
                Ok(match *standard {
                    Some(standard) => unknown.known_to(standard),
                    None => unknown,
                })
            }
            WantedUnknown::Number(NumberUnknown {
                name,
                number,
                start,
                standard,
            }) => Ok(Unknown::number(
                name.clone(),
                number.clone(),
                *start,
                *standard,
            )),
        });
        wanted.collect()
    }
}
