//! The operating point: the tree compiled, swept and told.

mod crossing;
mod error;
mod meetings;
mod network;
mod newton;
mod open;
mod plan;
mod point;
mod quality;
mod start;
mod system_curve;
mod tree;
mod work;

pub use error::{SolveError, Unbalanced};
pub use meetings::{Crossing, Stability};
pub use network::Network;
pub use open::OpenSet;
pub use point::{
    Balance, CurveEnd, FanState, HoodState, MachineState, OperatingPoint, RunState, SectionState,
};
pub use quality::{Quality, Residual, Status};
pub use system_curve::SystemCurve;
pub use work::{Pass, Workspace};
