//! Why a fit gave no answer.

use super::FitEnd;

/// Why a fit gave no answer; `E` is the error of the caller's predictions.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum FitError<E> {
    /// Nothing to find.
    #[error("nothing to fit: there is no unknown; name at least one")]
    NoUnknowns,
    /// Nothing to fit to.
    #[error("nothing to fit to: there is no reading; give at least one")]
    NoReadings,
    /// Two unknowns, or two readings, of one name.
    #[error("two {what}s are called \"{name}\"; each needs a name of its own")]
    Twice {
        /// "unknown" or "reading".
        what: &'static str,
        /// The name.
        name: String,
    },
    /// A number that cannot be.
    #[error("{what} \"{name}\": its {number} is {value} in its own unit; it must be {must}")]
    Number {
        /// "unknown" or "reading".
        what: &'static str,
        /// The name.
        name: String,
        /// Which of its numbers.
        number: &'static str,
        /// What was given, in the unit of the reading or unknown.
        value: f64,
        /// What would be right.
        must: &'static str,
    },
    /// There is no prediction at the start.
    #[error("nothing is predicted with every unknown at its start: {error}")]
    Start {
        /// Why not.
        error: E,
    },
    /// The prediction at the start is no number, or far too large, or its gradient is.
    #[error(
        "reading \"{reading}\": with every unknown at its start its prediction or the gradient is no number, or over 1e100 standard uncertainties off; mend the reading, or the start"
    )]
    StartNotFinite {
        /// The reading.
        reading: String,
    },
    /// No convergence, and predictions failed on the way: the least misfit may lie where nothing can be
    /// predicted.
    #[error("no convergence, and {failed} predictions failed on the way{}", last(.error))]
    Blocked {
        /// How many predictions failed.
        failed: usize,
        /// Why the last one did; none where it was no finite number.
        error: Option<E>,
    },
    /// The search ended away from the least misfit.
    #[error(
        "no convergence: {ended} after {evaluations} evaluations, about {offset:.1e} standard uncertainties from the least misfit"
    )]
    NotConverged {
        /// Why it ended.
        ended: FitEnd,
        /// Predictions asked for.
        evaluations: usize,
        /// How far the least misfit is about, in standard uncertainties of the estimates.
        offset: f64,
    },
}

fn last<E: std::fmt::Display>(error: &Option<E>) -> String {
    match error {
        Some(error) => format!("; the last: {error}"),
        None => "; the last was no finite number".into(),
    }
}

impl<E> FitError<E> {
    /// Whether the input was at fault, rather than the search for the answer.
    #[must_use]
    pub(crate) fn is_input(&self) -> bool {
        !matches!(self, Self::Blocked { .. } | Self::NotConverged { .. })
    }
}
