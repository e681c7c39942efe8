//! Why a reading cannot be told.

use super::{Instrument, ReadingNote, TraverseRule};
use crate::{bore::Bore, loss::LossError, quantity::Length};

/// Why a reading cannot be told.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum MeasuringError {
    /// A value outside its range.
    #[error(transparent)]
    Value(#[from] LossError),
    /// A reading outside its range.
    #[error("line {line}, point {point}: {error}")]
    Reading {
        /// Which line, from 1.
        line: usize,
        /// Which point of it, from 1.
        point: usize,
        /// What is wrong.
        error: LossError,
    },
    /// No readings, or of two kinds.
    #[error("give velocities or velocity pressures, one of the two; {given} given")]
    Readings {
        /// What was given: `both are` or `none is`.
        given: &'static str,
    },
    /// A rule that is not for ducts of this shape.
    #[error("the {rule} rule has no points for a duct of {bore}; use {usual}")]
    Shape {
        /// The rule.
        rule: TraverseRule,
        /// The duct.
        bore: Bore,
        /// A rule that has.
        usual: TraverseRule,
    },
    /// A number of points or lines that the rule does not have.
    #[error("{given} {what} in a duct of {bore}; the {rule} rule has {allowed}")]
    Count {
        /// The rule.
        rule: TraverseRule,
        /// The duct.
        bore: Bore,
        /// Points on a line, or lines.
        what: &'static str,
        /// What was given.
        given: usize,
        /// What would be right.
        allowed: &'static str,
    },
    /// Lines of different numbers of readings.
    #[error("line {line} has {given} readings and line 1 has {first}; give every line as many")]
    Ragged {
        /// Which line, from 1.
        line: usize,
        /// Its readings.
        given: usize,
        /// Those of line 1.
        first: usize,
    },
    /// An instrument that does not show this.
    #[error("a {instrument} shows no {what}; read it with another instrument")]
    Instrument {
        /// The instrument.
        instrument: Instrument,
        /// What it would have to show.
        what: &'static str,
    },
    /// An instrument said to be exact.
    #[error("an own instrument without uncertainty; give its share or its least, above 0")]
    Exact,
    /// A centre-line reading in a duct that is not round.
    #[error(
        "a reading at the centre tells the flow of round duct only, not of {bore}; traverse it"
    )]
    CentreOfRectangle {
        /// The duct.
        bore: Bore,
    },
    /// No mean velocity fits the profile, which rounding alone could bring about.
    #[error(
        "no mean velocity fits {centre_m_s} m/s at the centre; read it again, or traverse the duct"
    )]
    NoMean {
        /// The velocity there \[m/s\].
        centre_m_s: f64,
    },
    /// A vane that is larger than the opening it is held in.
    #[error("a vane head of {head} is as large as the opening of {opening}; use a smaller one")]
    Head {
        /// Its outer diameter.
        head: Length,
        /// The opening.
        opening: Bore,
    },
    /// The traverse is void: no flow follows from it.
    #[error("the traverse is void: {}", reasons(.notes))]
    Void {
        /// All notes on it; those that [void](ReadingNote::voids) it say why.
        notes: Vec<ReadingNote>,
    },
}

fn reasons(notes: &[ReadingNote]) -> String {
    let reasons = notes.iter().filter(|note| note.voids());
    let reasons: Vec<_> = reasons.map(ToString::to_string).collect();
    reasons.join("; ")
}
