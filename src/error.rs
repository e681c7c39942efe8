//! The union of every floor's errors, for callers who want one `?`.

use crate::{
    AirError, BeforeAfterError, BudgetError, CalibrateError, ChangeError, CheckError, CompareError,
    DigitiseError, FanError, FilterGaugeError, GateError, GrowthError, LossError,
    LowLikelyHighError, MeasuringError, ModelErrors, PriceError, QuantityError, ReconcileError,
    ReportError, RequirementError, RoomError, SizingError, SkipReason, SolveError, SurveyError,
    TakeoffError, TooManySets, UncertaintyError, UnknownName, UpgradeError, UseError,
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
    /// No uncertainty to tell.
    Uncertainty(#[from] UncertaintyError),
    /// No low, likely and high case to tell.
    LowLikelyHigh(#[from] LowLikelyHighError),
    /// Nothing to compare.
    Compare(#[from] CompareError),
    /// A machine's need that cannot be told.
    Requirement(#[from] RequirementError),
    /// Nothing was checked.
    Check(#[from] CheckError),
    /// No budget.
    Budget(#[from] BudgetError),
    /// A change that cannot be made.
    Change(#[from] ChangeError),
    /// Upgrades that cannot be ranked.
    Upgrade(#[from] UpgradeError),
    /// No gate schedule or gate plan.
    Gate(#[from] GateError),
    /// No filter gauge.
    FilterGauge(#[from] FilterGaugeError),
    /// No list of material.
    Takeoff(#[from] TakeoffError),
    /// A price that cannot be.
    Price(#[from] PriceError),
    /// Nothing to tell of growth.
    Growth(#[from] GrowthError),
    /// Nothing to tell of the room.
    Room(#[from] RoomError),
    /// A use that does not fit its network.
    Use(#[from] UseError),
    /// A reading that cannot be told.
    Measuring(#[from] MeasuringError),
    /// Nothing to size, or nothing to size it from.
    Sizing(#[from] SizingError),
    /// Readings that cannot be compared with a system.
    Survey(#[from] SurveyError),
    /// No calibration.
    Calibrate(#[from] CalibrateError),
    /// Readings that cannot be reconciled.
    Reconcile(#[from] ReconcileError),
    /// No report.
    Report(#[from] ReportError),
    /// Surveys that cannot be compared.
    BeforeAfter(#[from] BeforeAfterError),
    /// No picture.
    #[cfg(feature = "plot")]
    Plot(#[from] crate::PlotError),
}

impl Error {
    /// Whether the input was at fault.
    #[must_use]
    pub fn is_input(&self) -> bool {
        match self {
            Self::Solve(error)
            | Self::Report(ReportError::Solve(error))
            | Self::Growth(GrowthError::Solve(error))
            | Self::Room(RoomError::Solve(error))
            | Self::Upgrade(UpgradeError::AsItIs(SkipReason::Unsolved { error, .. })) => {
                error.is_input()
            }
            Self::Uncertainty(error) => error.is_input(),
            Self::LowLikelyHigh(error) => error.is_input(),
            Self::Survey(error) => error.is_input(),
            Self::Calibrate(error) => error.is_input(),
            Self::Gate(error) => error.is_input(),
            Self::FilterGauge(error) => error.is_input(),
            _ => true,
        }
    }

    /// Whether a search ended without a balance.
    #[must_use]
    pub fn is_not_converged(&self) -> bool {
        !self.is_input()
    }
}
