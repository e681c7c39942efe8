//! What was measured: readings, what they say of the system, and the system that fits them.

mod calibrate_error;
mod compared;
mod error;
#[cfg_attr(
    not(test),
    expect(dead_code, unused_imports, reason = "calibration will call it")
)]
mod fit;
mod measuring;
mod observation;
mod predict;
mod unknown;

pub use calibrate_error::CalibrateError;
pub use compared::{Agreement, ComparedReading, compare_readings};
pub use error::SurveyError;
pub use measuring::{
    CentreReading, HoodSuction, Instrument, InstrumentClass, LeastShown, LineAt, MeasuredFlow,
    MeasuredPressure, MeasuredVelocity, MeasuringCause, MeasuringDoubt, MeasuringError,
    PitotReading, PitotTube, Probe, ProfileRatio, ReadingNote, Station, StraightSide, Traverse,
    TraverseFlow, TraverseLayout, TraverseLine, TraversePlan, TraversePoint, TraverseProfile,
    TraverseResult, TraverseRule, VaneReading, coefficient_of_entry, mean_over_centre,
    velocity_of_pressure,
};
pub use observation::{Observation, Setup};
pub use unknown::{Moves, NumberAt, Unknown, UnknownKind};

#[cfg(feature = "serde")]
#[allow(
    clippy::trivially_copy_pass_by_ref,
    reason = "serde asks with a reference"
)]
fn is_zero(value: &f64) -> bool {
    *value == 0.0
}
