//! What a model takes for granted because the owner did not know it.

use super::parameter::Parameter;
use crate::place::Place;
use std::fmt;

/// Mark of a judgement in [`Assumption::source`].
pub(super) const JUDGEMENT: &str = "judgement; common practice, no source";

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
    /// The least it may be, in the unit of `value`.
    pub low: f64,
    /// The most it may be, in that unit.
    pub high: f64,
    /// Where value and band come from.
    pub source: &'static str,
}

impl Assumption {
    /// The shape of a fan curve that is known by two numbers.
    pub(crate) fn shape_of_fan() -> Self {
        Self {
            place: Place::Fan,
            parameter: Parameter::Shape,
            value: std::f64::consts::FRAC_1_SQRT_2,
            low: 0.35,
            high: 0.85,
            source: JUDGEMENT,
        }
    }

    /// The reading, or the look, that would replace it.
    #[must_use]
    pub const fn replaced_by(&self) -> &'static str {
        match (self.parameter, &self.place) {
            (Parameter::Shape, _) => {
                "the maker's curve of the fan; or flow and suction at the fan's inlet, read with few, \
                 some and many gates open"
            }
            (Parameter::Speed, _) => "the fan's speed, with a tachometer",
            (Parameter::HoseFactor, _) => {
                "static taps before and behind the hose, and the flow in the duct that it joins"
            }
            (Parameter::K, Place::Hood(_)) => {
                "a static tap just behind the hood, and the flow in its duct"
            }
            (Parameter::K, Place::Part { .. } | Place::Before { .. } | Place::After { .. }) => {
                "a look at the elbow: stamped or of pieces, how many, radius over diameter"
            }
            (Parameter::Drop | Parameter::LinearDrop | Parameter::QuadraticDrop, _) => {
                "a manometer across it, and the total flow at the time; or its data sheet"
            }
            (Parameter::Roughness, _) => "a look at the duct: what it is made of",
            (Parameter::Angle, Place::Join(_)) => "a protractor on the wye",
            (Parameter::Altitude | Parameter::Barometer, _) => "the altitude, from a map",
            (Parameter::Temperature, _) => "a thermometer in the shop",
            (Parameter::Humidity, _) => "a hygrometer in the shop",
            (Parameter::LeakArea | Parameter::LeakFlow | Parameter::Leakage, _) => {
                "a leak test of the duct"
            }
            (Parameter::Required, _) => {
                "the machine's data sheet, or the figure that local rules ask for"
            }
            _ => "a reading of it",
        }
    }
}

/// `hood "saw guard": loss coefficient 1.5 (0.5 to 2.5; judgement)`
impl fmt::Display for Assumption {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        // Four digits: no assumption deserves more.
        let short = |value: f64| -> f64 { format!("{value:.3e}").parse().unwrap_or(value) };
        let unit = self.parameter.unit();
        write!(
            f,
            "{}: {} {}{unit} ({}{unit} to {}{unit}; {})",
            self.place,
            self.parameter,
            short(self.value),
            short(self.low),
            short(self.high),
            self.source
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_assumption_reads_as_a_sentence_with_units() {
        let required = Assumption {
            place: Place::Machine("planer".into()),
            parameter: Parameter::Required,
            value: 0.307_876_080_051_799_8,
            low: 0.307_876_080_051_799_8,
            high: 0.431,
            source: "20 m/s in its ports",
        };
        insta::assert_snapshot!(required, @r#"machine "planer": required flow 0.3079 m3/s (0.3079 m3/s to 0.431 m3/s; 20 m/s in its ports)"#);
    }
}
