//! Losses: every law gives its loss and exact slope; no law knows the solver.

mod bend;
mod filter;
mod friction;
mod heads;
mod hose;
mod leak;
mod note;
mod separator;
mod wall;

pub use filter::{Cloth, ClothDrag, DustCake, Filter, FilterState, FilterTerms, RatedDrop};
pub use friction::{FrictionFactor, friction_factor};
pub use heads::Heads;
pub use hose::{Hose, HoseBend, HoseFriction, HoseKind};
pub use leak::{PowerLaw, Sloped, Tightness};
pub use note::{LossError, Note};
pub use separator::{Cyclone, CycloneFormula, Separator, SeparatorLoss};
pub use wall::Wall;
