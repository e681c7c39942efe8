//! The fan: its published curve, what the curve means, the estimate that stands in for one, and the
//! curves that follow from it by the fan laws, in pairs, and with its motor.

mod basis;
mod combine;
mod curve;
mod digitise;
mod error;
mod estimate;
mod laws;
mod motor;
mod shape;
mod smooth;
mod spline;
#[cfg(feature = "serde")]
mod text;

pub use basis::{Basis, Fitted};
pub use combine::{Combination, CombinationNote, FanOfPair};
pub use curve::{FanCurve, FanPoint};
pub use digitise::{Axes, AxisScale, DigitiseError, PickedPoint, Reference, ReferenceMiss};
pub use error::FanError;
pub use motor::{FanPower, Motor, PowerCurve, PowerPoint};
pub(crate) use shape::{LEAST_SHAPE, MOST_SHAPE};
pub use smooth::{CurveTurn, Smoothed, SmoothingReport, TurnKind};
