//! What a model takes for granted because the owner did not know it.

use super::parameter::Parameter;
use crate::place::Place;
use std::fmt;

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
