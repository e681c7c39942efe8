//! Why there is no calibration.

use super::{
    error::SurveyError,
    fit::{FitError, NextError},
    predict::Blind,
    unknown::Unknown,
};
use crate::{
    place::{Name, Place},
    solve::UncertaintyError,
    system::{ModelErrors, Parameter},
};

/// Why a system cannot be fitted to readings.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum CalibrateError {
    /// Nothing may be moved.
    #[error("there is nothing to calibrate; name at least one unknown")]
    NoUnknowns,
    /// More unknowns than are worked out together.
    #[error("{given} unknowns; at most {most} are worked out together", most = Unknown::MOST)]
    TooManyUnknowns {
        /// How many were given.
        given: usize,
    },
    /// An unknown whose numbers the system, or the section, does not have above 0.
    #[error(
        "unknown {unknown:?}: there is nothing of its kind above 0 to be moved; leave it out, or give \
         the system such a part",
        unknown = .unknown.as_str()
    )]
    NothingToMove {
        /// The unknown.
        unknown: Name,
    },
    /// An unknown that moves a number which no answer depends on.
    #[error(
        "unknown {unknown:?}: {place} has no {parameter} that an answer depends on; \
         `Network::settings` lists what they do",
        unknown = .unknown.as_str()
    )]
    NoNumber {
        /// The unknown.
        unknown: Name,
        /// The element.
        place: Place,
        /// Which of its numbers.
        parameter: Parameter,
    },
    /// A factor on a number that is 0.
    #[error(
        "unknown {unknown:?}: the {parameter} of {place} is 0, which no factor moves; give it a start \
         above 0",
        unknown = .unknown.as_str()
    )]
    Zero {
        /// The unknown.
        unknown: Name,
        /// The element.
        place: Place,
        /// Which of its numbers.
        parameter: Parameter,
    },
    /// A number that one unknown sets and another moves as well.
    #[error(
        "unknown {unknown:?}: the {parameter} of {place} is moved by another unknown already; only \
         factors go together; leave one out",
        unknown = .unknown.as_str()
    )]
    SetTwice {
        /// The unknown.
        unknown: Name,
        /// The element.
        place: Place,
        /// Which of its numbers.
        parameter: Parameter,
    },
    /// No fit.
    #[error(transparent)]
    Fit(Box<FitError<CalibrateError>>),
    /// Candidates that cannot be ranked.
    #[error(transparent)]
    Next(#[from] NextError),
    /// Readings that cannot be compared with the system.
    #[error(transparent)]
    Survey(#[from] SurveyError),
    /// Faults of the model.
    #[error(transparent)]
    Model(#[from] ModelErrors),
}

impl CalibrateError {
    /// Whether the input was at fault.
    #[must_use]
    pub fn is_input(&self) -> bool {
        match self {
            Self::Survey(error) => error.is_input(),
            Self::Fit(error) => error.is_input(),
            _ => true,
        }
    }
}

impl From<FitError<Self>> for CalibrateError {
    fn from(error: FitError<Self>) -> Self {
        Self::Fit(Box::new(error))
    }
}

impl From<Blind> for CalibrateError {
    fn from(blind: Blind) -> Self {
        match blind {
            Blind::Model(errors) => Self::Model(errors),
            Blind::Solve(error) => UncertaintyError::from(error).into(),
            Blind::Doubt(error) => error.into(),
        }
    }
}

impl From<UncertaintyError> for CalibrateError {
    fn from(error: UncertaintyError) -> Self {
        SurveyError::Doubt(error).into()
    }
}
