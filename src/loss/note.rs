//! What a law says about its own range: a refusal, or a note beside the answer.

use std::fmt;

/// A value that a loss law cannot take.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{what} is {}{unit}; allowed: {}", shown(*.value, *.min, *.max), allowed(*.min, *.max, .unit))]
#[non_exhaustive]
pub struct LossError {
    /// Which value.
    pub what: &'static str,
    /// What was given, in `unit`.
    pub value: f64,
    /// Unit of the numbers, with a leading space (empty for a pure number).
    pub unit: &'static str,
    /// Smallest allowed value, in `unit`.
    pub min: f64,
    /// Largest allowed value, in `unit` (may be infinite: no upper limit).
    pub max: f64,
}

/// The value in six digits, or in all of them where six would put it inside its range.
fn shown(value: f64, min: f64, max: f64) -> f64 {
    let short = format!("{value:.5e}").parse().unwrap_or(value);
    if (min..=max).contains(&short) {
        value
    } else {
        short
    }
}

fn allowed(min: f64, max: f64, unit: &str) -> String {
    if min == max {
        format!("{min}{unit} only")
    } else if max == f64::INFINITY {
        format!("{min}{unit} or more")
    } else {
        format!("{min}{unit} to {max}{unit}")
    }
}

impl LossError {
    /// Refuses `value` unless it is a number within `min..=max`.
    pub(crate) fn within(
        what: &'static str,
        value: f64,
        unit: &'static str,
        min: f64,
        max: f64,
    ) -> Result<f64, Self> {
        if value.is_finite() && (min..=max).contains(&value) {
            Ok(value)
        } else {
            Err(Self {
                what,
                value,
                unit,
                min,
                max,
            })
        }
    }
}

/// A law was used outside the range in which its source tested it; it still answers smoothly.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct Note {
    /// Which value left its range.
    pub what: &'static str,
    /// The value, in `unit`.
    pub value: f64,
    /// Unit of the numbers, with a leading space (empty for a pure number).
    pub unit: &'static str,
    /// Smallest tested value, in `unit`.
    pub min: f64,
    /// Largest tested value, in `unit`.
    pub max: f64,
}

/// `diameter is 100 mm; tested: 150 mm to 250 mm`
impl fmt::Display for Note {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self {
            what,
            value,
            unit,
            min,
            max,
        } = self;
        let value = shown(*value, *min, *max);
        write!(
            f,
            "{what} is {value}{unit}; tested: {min}{unit} to {max}{unit}"
        )
    }
}

impl Note {
    /// A note when `value` lies outside `min..=max`, nothing otherwise.
    pub(crate) fn outside(
        what: &'static str,
        value: f64,
        unit: &'static str,
        min: f64,
        max: f64,
    ) -> Option<Self> {
        (!(min..=max).contains(&value)).then_some(Self {
            what,
            value,
            unit,
            min,
            max,
        })
    }
}
