//! The model: what the user writes, and its one judge.

mod assumption;
mod change;
mod collector;
mod conduit;
#[cfg(feature = "serde")]
mod draft;
mod fault;
mod join;
mod limits;
mod model;
mod names;
mod number;
mod parameter;
mod resolve;
mod setting;
mod topology;

pub use assumption::Assumption;
pub use change::{Change, ChangeAt, ChangeError, ElbowKind};
pub(crate) use collector::{HeadBalance, balance_heads, fold_collector};
pub(crate) use conduit::{ConduitLaw, joint};
#[cfg(feature = "serde")]
pub(crate) use draft::{CollectorText, MachineText, SectionText, SystemText};
pub use fault::{ModelError, ModelErrors, ModelFault, UnknownName};
pub(crate) use join::{Foot, Head, join_at};
pub use model::{Collector, Hood, Join, Machine, Run, Section, Start, System};
pub(crate) use names::{Index, unknown};
pub use parameter::Parameter;
pub(crate) use resolve::{Resolved, fold_section};
pub use setting::Setting;
pub(crate) use setting::{Factors, Model, Spot, meets_by, spots};
pub(crate) use topology::Topology;
