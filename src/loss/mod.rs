//! Losses: every law gives its loss and exact slope; no law knows the solver.

mod friction;
mod heads;
mod note;

pub use friction::{FrictionFactor, friction_factor};
pub use heads::Heads;
pub use note::{LossError, Note};
