//! Losses: every law gives its loss and exact slope; no law knows the solver.

mod bend;
pub(crate) mod coefficients;
mod elbow;
mod filter;
mod friction;
mod gate;
pub(crate) mod heads;
mod hood;
mod hose;
pub(crate) mod junction;
pub(crate) mod law;
mod leak;
pub(crate) mod momentum;
mod note;
pub(crate) mod part;
pub(crate) mod runs;
mod separator;
mod sheet_elbow;
mod table;
mod transition;
mod wall;
pub(crate) mod wye;

pub use elbow::Elbow;
pub use filter::{Cloth, ClothDrag, DustCake, Filter, FilterState, FilterTerms, RatedDrop};
pub use friction::{FrictionFactor, friction_factor};
pub use gate::{Gate, GateLoss};
pub use heads::{Heads, Rated};
pub use hood::{Entry, Face, throat_static_suction};
pub use hose::{Hose, HoseBend, HoseFriction, HoseKind};
pub use junction::{Inlet, InletLoss, Junction, JunctionLosses};
pub use leak::{Leak, PowerLaw, Sloped, Tightness};
pub use note::{LossError, Note};
pub use part::{Part, Port};
pub use separator::{Cyclone, CycloneFormula, Separator, SeparatorLoss};
pub use transition::Transition;
pub use wall::Wall;
