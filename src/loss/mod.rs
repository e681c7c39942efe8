//! Losses: every law gives its loss and exact slope; no law knows the solver.

mod heads;
mod note;

pub use heads::Heads;
pub use note::{LossError, Note};
