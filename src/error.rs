//! The union of every floor's errors, for callers who want one `?`.

use crate::{
    AirError, BeforeAfterError, BudgetError, CalibrateError, ChangeError, CheckError, CompareError,
    DigitiseError, FanError, FilterGaugeError, FitError, GateError, GrowthError, LossError,
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
    /// Whether the input was at fault, the [model](Self::is_model) or the
    /// [question](Self::is_question), rather than the search for an answer.
    #[must_use]
    pub fn is_input(&self) -> bool {
        match self {
            Self::Solve(error)
            | Self::Report(ReportError::Solve(error))
            | Self::Growth(GrowthError::Solve(error))
            | Self::Room(RoomError::Solve(error))
            | Self::Sizing(SizingError::Solve(error))
            | Self::Use(UseError::Network(error))
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

    /// Whether a search ended without a balance: a case for a report to this crate, with its model.
    #[must_use]
    pub fn is_not_converged(&self) -> bool {
        !self.is_input()
    }

    /// Whether the system itself is at fault, or a value or text that one is made of: no question
    /// helps, mend the document or the code that made it.
    ///
    /// [`model_errors`](Self::model_errors) tells the places, where the model as a whole was judged.
    #[must_use]
    pub fn is_model(&self) -> bool {
        let of_a_system = matches!(
            self,
            Self::Quantity(_)
                | Self::Air(_)
                | Self::Fan(_)
                | Self::Loss(_)
                | Self::Budget(BudgetError::Part { .. })
        );
        of_a_system || self.model_errors().is_some()
    }

    /// Whether what was asked is at fault, rather than the system that it was asked of: a name that
    /// is not there, an option out of range, a reading that cannot be.
    #[must_use]
    pub fn is_question(&self) -> bool {
        self.is_input() && !self.is_model()
    }

    /// The faults of the model with their places, wherever in this error they stand.
    ///
    /// ```
    /// use airsplit::*;
    /// let points = [(0.0, 2400.0), (0.4, 1900.0), (0.8, 300.0)];
    /// let points = points.map(|(q, p)| (VolumeFlow::from_m3_s(q), Pressure::from_pa(p)));
    /// let fan = FanCurve::new(points, Basis::Static, Fitted::ALL, Density::STANDARD_AIR)?;
    /// // A system without any duct.
    /// let system = System::new(Air::standard(), Collector::new(fan));
    /// let error = Error::from(takeoff(&system, &TakeoffOptions::default()).unwrap_err());
    /// assert!(error.is_model() && !error.is_question());
    /// for fault in error.model_errors().into_iter().flatten() {
    ///     println!("{}: {}", fault.place, fault.fault);
    /// }
    /// # Ok::<(), FanError>(())
    /// ```
    #[must_use]
    pub fn model_errors(&self) -> Option<&ModelErrors> {
        match self {
            Self::Model(errors)
            | Self::Uncertainty(UncertaintyError::Model(errors))
            | Self::Compare(CompareError::Model { errors, .. })
            | Self::Check(CheckError::Model(errors))
            | Self::Budget(BudgetError::Model(errors))
            | Self::Upgrade(UpgradeError::Model(errors))
            | Self::Gate(GateError::Model(errors))
            | Self::FilterGauge(FilterGaugeError::Model(errors))
            | Self::Takeoff(TakeoffError::Model(errors))
            | Self::Growth(GrowthError::Model(errors))
            | Self::Room(RoomError::Model(errors))
            | Self::Sizing(SizingError::Model(errors))
            | Self::Reconcile(ReconcileError::Model(errors))
            | Self::BeforeAfter(BeforeAfterError::Reading {
                error: ReconcileError::Model(errors),
                ..
            })
            | Self::Compare(CompareError::Check {
                error: CheckError::Model(errors),
                ..
            })
            | Self::Report(ReportError::Model(errors))
            | Self::LowLikelyHigh(
                LowLikelyHighError::Model(errors)
                | LowLikelyHighError::Needs(CheckError::Model(errors))
                | LowLikelyHighError::Uncertainty(UncertaintyError::Model(errors)),
            ) => Some(errors),
            Self::Change(error) => of_change(error),
            Self::Upgrade(UpgradeError::Change { error, .. }) => of_change(error),
            Self::Survey(error) => of_survey(error),
            Self::Calibrate(error) => of_calibrate(error),
            _ => None,
        }
    }
}

fn of_change(error: &ChangeError) -> Option<&ModelErrors> {
    match error {
        ChangeError::Model(errors) => Some(errors),
        _ => None,
    }
}

fn of_survey(error: &SurveyError) -> Option<&ModelErrors> {
    match error {
        SurveyError::Model { errors, .. } | SurveyError::Doubt(UncertaintyError::Model(errors)) => {
            Some(errors)
        }
        _ => None,
    }
}

fn of_calibrate(error: &CalibrateError) -> Option<&ModelErrors> {
    match error {
        CalibrateError::Model(errors) => Some(errors),
        CalibrateError::Survey(error) => of_survey(error),
        CalibrateError::Fit(error) => match &**error {
            FitError::Start { error } => of_calibrate(error),
            _ => None,
        },
        _ => None,
    }
}
