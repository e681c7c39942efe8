//! The union of every floor's errors, for callers who want one `?`.

use crate::{
    AirError, CompareError, DigitiseError, FanError, LossError, ModelErrors, QuantityError,
    SizingError, SolveError, TooManySets, UnknownName, UseError,
};

/// Any error of this crate.
///
/// Each floor has its own error, and a function returns the narrowest one; this union is for
/// programs that want one type.
///
/// ```
/// fn area(text: &str) -> Result<f64, airsplit::Error> {
///     let diameter: airsplit::Length = text.parse()?;
///     Ok(airsplit::Bore::Round(diameter).area().as_m2())
/// }
/// assert!(area("6").unwrap_err().is_input());
/// ```
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error(transparent)]
#[non_exhaustive]
pub enum Error {
    /// A text that is no quantity.
    Quantity(#[from] QuantityError),
    /// Air that cannot be.
    Air(#[from] AirError),
    /// A fan curve that cannot be.
    Fan(#[from] FanError),
    /// A value that a loss law cannot take.
    Loss(#[from] LossError),
    /// Faults of a model.
    Model(#[from] ModelErrors),
    /// A name that is not there.
    Name(#[from] UnknownName),
    /// A scanned picture whose axes cannot be read.
    Digitise(#[from] DigitiseError),
    /// No answer.
    Solve(#[from] SolveError),
    /// More open sets than can be swept.
    Sets(#[from] TooManySets),
    /// Nothing to compare.
    Compare(#[from] CompareError),
    /// A use that does not fit its network.
    Use(#[from] UseError),
    /// Nothing to size, or nothing to size it from.
    Sizing(#[from] SizingError),
}

impl Error {
    /// Whether the input was at fault.
    #[must_use]
    pub fn is_input(&self) -> bool {
        match self {
            Self::Solve(error) => error.is_input(),
            _ => true,
        }
    }

    /// Whether a search ended without a balance.
    #[must_use]
    pub fn is_not_converged(&self) -> bool {
        !self.is_input()
    }
}
