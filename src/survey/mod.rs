//! What was measured: readings, what they say of the system, and the system that fits them.

mod calibrate;
mod calibrate_error;
mod compared;
mod error;
mod fit;
mod flows;
mod measuring;
mod movers;
mod observation;
mod plan;
mod possible;
mod predict;
mod reading;
mod unknown;

pub use calibrate::{Calibration, NextReading, Prediction, calibrate};
pub use calibrate_error::CalibrateError;
pub use compared::{Agreement, ComparedReading, compare_readings};
pub use error::SurveyError;
pub use fit::{
    CorrelatedUnknowns, DirectionPart, Estimate, FitEnd, FitError, FittedReading, NextError,
    OutlierTreatment, WeakDirection, Weighting,
};
pub use flows::{
    BeforeAfter, BeforeAfterError, Cause, ChangeVerdict, Explanation, FlowAt, FlowChange,
    FlowChanges, FlowEstimate, FlowReadings, GlobalTest, Imbalance, LeakTest, LeakVerdict,
    PredictedChange, ReadingCheck, ReconcileError, Reconciled, SectionFlow, SharedError, ShutHoods,
    UnmeteredInflow,
};
pub use measuring::{
    CentreReading, HoodSuction, Instrument, InstrumentClass, LeastShown, LineAt, MeasuredFlow,
    MeasuredPressure, MeasuredVelocity, MeasuringCause, MeasuringDoubt, MeasuringError,
    PitotReading, PitotTube, Probe, ProfileRatio, ReadingNote, Station, StraightSide, Traverse,
    TraverseFlow, TraverseLayout, TraverseLine, TraversePlan, TraversePoint, TraverseProfile,
    TraverseResult, TraverseRule, VaneReading, coefficient_of_entry, mean_over_centre,
    velocity_of_pressure,
};
pub use observation::{Observation, Setup};
pub use plan::{CalibratePlan, NumberUnknown, UsualUnknown, WantedUnknown};
pub use possible::possible_readings;
pub use reading::{Observed, Reading, Shows};
pub use unknown::{Moves, NumberAt, Unknown, UnknownKind};

#[cfg(feature = "serde")]
fn is_default<T: Default + PartialEq>(value: &T) -> bool {
    *value == T::default()
}

#[cfg(feature = "serde")]
#[allow(
    clippy::trivially_copy_pass_by_ref,
    reason = "serde asks with a reference"
)]
fn is_zero(value: &f64) -> bool {
    *value == 0.0
}
