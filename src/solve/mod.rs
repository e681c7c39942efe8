//! The operating point: the tree compiled, swept and told.

mod adjoint;
mod audit;
mod balance;
#[cfg(test)]
mod by_hand;
mod choices;
mod compile;
mod crossing;
mod differences;
mod doubt;
#[cfg(test)]
mod effort;
mod elimination;
mod error;
mod gradient;
mod meetings;
mod monte_carlo;
mod network;
mod newton;
mod open;
mod open_sets;
mod output;
#[cfg(feature = "rayon")]
mod par_sweep;
mod plan;
mod point;
mod probe;
mod quality;
mod residual;
mod start;
mod steps;
mod summary;
mod sweep;
mod system_curve;
mod tally;
mod tap;
mod tree;
mod uncertainty;
mod verify;
mod work;

pub use adjoint::{Adjoint, Influence};
pub use audit::{Audit, Violation, audit};
pub use balance::Balance;
pub(crate) use choices::{Sizes, next_choice};
pub(crate) use doubt::HALF_BAND;
pub use doubt::{Doubt, Spread};
pub use error::{SolveError, Unbalanced};
pub use gradient::{Gradient, Sensitivity};
pub use meetings::{Crossing, Stability};
#[cfg(test)]
pub(crate) use monte_carlo::Normal;
pub use monte_carlo::{MonteCarlo, Sampled, SampledValue};
pub use network::Network;
pub use open::OpenSet;
pub use open_sets::{OpenSets, TooManySets};
pub use output::Output;
pub use point::{
    CurveEnd, FanState, HoodState, MachineState, OperatingPoint, RunState, SectionState,
};
pub use quality::{Quality, Residual, Status};
pub use summary::{
    FlowRange, InSet, SectionSpeeds, SetFailure, Supply, SweepOptions, SweepSummary,
};
pub use sweep::Sweep;
pub use system_curve::SystemCurve;
pub(crate) use uncertainty::Causes;
pub use uncertainty::{Contribution, Grade, UncertainPoint, UncertainValue, UncertaintyError};
pub use work::{Pass, Workspace};

/// Serialises an error as its text.
#[cfg(feature = "serde")]
pub(crate) fn as_text<E: std::fmt::Display, S: serde::Serializer>(
    error: &E,
    serializer: S,
) -> Result<S::Ok, S::Error> {
    serializer.collect_str(error)
}
