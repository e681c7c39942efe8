//! The operating point: the tree compiled, swept and told.

mod crossing;
mod error;
mod meetings;
mod network;
mod newton;
mod open;
mod open_sets;
#[cfg(feature = "rayon")]
mod par_sweep;
mod plan;
mod point;
mod quality;
mod start;
mod summary;
mod sweep;
mod system_curve;
mod tally;
mod tree;
mod work;

pub use error::{SolveError, Unbalanced};
pub use meetings::{Crossing, Stability};
pub use network::Network;
pub use open::OpenSet;
pub use open_sets::{OpenSets, TooManySets};
pub use point::{
    Balance, CurveEnd, FanState, HoodState, MachineState, OperatingPoint, RunState, SectionState,
};
pub use quality::{Quality, Residual, Status};
pub use summary::{
    FlowRange, InSet, SectionSpeeds, SetFailure, Supply, SweepOptions, SweepSummary,
};
pub use sweep::Sweep;
pub use system_curve::SystemCurve;
pub use work::{Pass, Workspace};
