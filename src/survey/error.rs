//! What can be wrong with a survey.

use super::{MeasuringError, observation::Observation};
use crate::{
    air::AirError,
    place::{Name, Place},
    solve::{SolveError, UncertaintyError},
    system::{ModelErrors, UnknownName},
};

/// Why readings cannot be compared with a system.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum SurveyError {
    /// Nothing was read.
    #[error("there are no readings; give at least one")]
    NoReadings,
    /// More readings than are worked out together.
    #[error("{given} readings; at most {most} are worked out together", most = Observation::MOST)]
    TooMany {
        /// How many were given.
        given: usize,
    },
    /// Two readings of one name.
    #[error("two readings are called {id:?}; give each its own name", id = .id.as_str())]
    Twice {
        /// The name.
        id: Name,
    },
    /// A value, an uncertainty or a share that cannot be.
    #[error(
        "reading {id:?}: its {what} is {value}{unit}; it must be {must}",
        id = .id.as_str()
    )]
    Number {
        /// The reading.
        id: Name,
        /// Which of its numbers.
        what: &'static str,
        /// What it was, in SI units; a share has no unit.
        value: f64,
        /// That unit, with a leading space; empty for a share.
        unit: &'static str,
        /// What would be right.
        must: &'static str,
    },
    /// A hood, section or machine that is not there.
    #[error("reading {id:?}: {unknown}", id = .id.as_str())]
    Place {
        /// The reading.
        id: Name,
        /// The name that is not there.
        unknown: UnknownName,
    },
    /// A pipe was unplugged or blocked where there is no hood.
    #[error(
        "reading {id:?}: only the pipe of one hood can be unplugged or blocked; read at that hood, or \
         at its section",
        id = .id.as_str()
    )]
    NoPipe {
        /// The reading.
        id: Name,
    },
    /// A reading that cannot be taken there.
    #[error("reading {id:?}: {what} is not read at {at}; read it at {wanted}", id = .id.as_str())]
    Elsewhere {
        /// The reading.
        id: Name,
        /// What was to be read.
        what: &'static str,
        /// Where.
        at: Place,
        /// Where it could be.
        wanted: &'static str,
    },
    /// An instrument's reading that cannot be.
    #[error("reading {id:?}: {error}", id = .id.as_str())]
    Measuring {
        /// The reading.
        id: Name,
        /// What is wrong with it.
        error: Box<MeasuringError>,
    },
    /// Air at the time that cannot be.
    #[error("reading {id:?}: {error}", id = .id.as_str())]
    Air {
        /// The reading.
        id: Name,
        /// What is wrong with it.
        error: AirError,
    },
    /// Faults of the model, or of the system as it was while reading.
    #[error("reading {id:?}: {errors}", id = .id.as_str())]
    Model {
        /// The reading.
        id: Name,
        /// All of them.
        errors: ModelErrors,
    },
    /// No balance in the open set of a reading.
    #[error("reading {id:?}: {error}", id = .id.as_str())]
    Solve {
        /// The reading.
        id: Name,
        /// Why not.
        error: SolveError,
    },
    /// A doubt that the system does not know.
    #[error(transparent)]
    Doubt(#[from] UncertaintyError),
}

impl SurveyError {
    /// Whether the input was at fault.
    #[must_use]
    pub fn is_input(&self) -> bool {
        match self {
            Self::Solve { error, .. } => error.is_input(),
            Self::Doubt(error) => error.is_input(),
            _ => true,
        }
    }
}
