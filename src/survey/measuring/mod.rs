//! Surveys: from what an instrument shows to a velocity, a flow or a pressure with its uncertainty.
//!
//! A reading is taken somewhere ([`Station`]), with something ([`Probe`], [`Instrument`]), in one of
//! a few ways: spot by spot across the duct ([`Traverse`], its holes by [`TraversePlan`]), once at
//! the centre ([`CentreReading`]), with a vane in the open end ([`VaneReading`]), or as the static
//! suction behind a hood ([`HoodSuction`]). Each way gives a value, its standard uncertainty, the
//! doubts that make it up, and notes on what the reading does not deserve.
//!
//! A hole in a duct under suction draws in fingers, sleeves and chips of the drill, and a fan at rest
//! may be started by another. Drill with the fan locked out, stand safely, close the holes, and
//! follow local codes.

mod centre;
mod evenness;
mod fault;
mod hood_suction;
mod instrument;
mod layout;
mod measured;
mod note;
mod positions;
mod probe;
mod profile;
mod station;
mod traverse;
mod vane;
mod velocity_pressure;

pub use centre::CentreReading;
pub use evenness::TraverseProfile;
pub use fault::MeasuringError;
pub use hood_suction::{HoodSuction, coefficient_of_entry};
pub use instrument::{Instrument, InstrumentClass, LeastShown};
pub use layout::{LineAt, TraverseLayout, TraverseLine, TraversePlan, TraversePoint};
pub use measured::{
    MeasuredFlow, MeasuredPressure, MeasuredVelocity, MeasuringCause, MeasuringDoubt,
};
pub use note::{ReadingNote, StraightSide};
pub use positions::TraverseRule;
pub use probe::Probe;
pub use profile::{ProfileRatio, mean_over_centre};
pub use station::Station;
pub use traverse::{Traverse, TraverseFlow, TraverseResult};
pub use vane::VaneReading;
pub use velocity_pressure::{PitotReading, PitotTube, velocity_of_pressure};
