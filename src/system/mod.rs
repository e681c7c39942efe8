//! The model: what the user writes, and its one judge.

mod assumption;
mod change;
mod collector;
mod conduit;
#[cfg(feature = "serde")]
mod draft;
mod fault;
mod join;
mod model;
mod names;
mod resolve;
mod topology;

pub use assumption::{Assumption, Parameter};
pub use change::{Change, ChangeAt, ChangeError, ElbowKind};
pub(crate) use collector::HeadBalance;
pub(crate) use conduit::ConduitLaw;
#[cfg(feature = "serde")]
pub(crate) use draft::{CollectorText, MachineText, SectionText, SystemText};
pub use fault::{ModelError, ModelErrors, ModelFault, UnknownName};
pub(crate) use join::{Foot, Head};
pub use model::{Collector, Hood, Join, Machine, Run, Section, Start, System};
pub(crate) use names::unknown;
pub(crate) use resolve::Resolved;
