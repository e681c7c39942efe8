//! Why there is no calibration.

use super::error::SurveyError;
use crate::{place::Name, system::ModelErrors};

/// Why a system cannot be fitted to readings.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum CalibrateError {
    /// Nothing may be moved.
    #[error("there is nothing to calibrate; name at least one unknown")]
    NoUnknowns,
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
            _ => true,
        }
    }
}
