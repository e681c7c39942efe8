//! What depends on the features: what each brings along, and that none changes a bit of an answer.
//!
//! The gate runs this program with the default features, with all and with none.

#[path = "../common/mod.rs"]
mod common;
#[path = "../common/public/mod.rs"]
mod public;

mod dependencies;
mod determinism;
mod error_catalogue;
#[cfg(feature = "plot")]
mod prop_plot;
mod prop_sweep;
