//! Values from outside: published examples, tables, and other programs of known precision.

#[path = "../common/mod.rs"]
mod common;

mod val_accuracy;
mod val_checks;
mod val_dense;
mod val_networks;
mod val_published;
mod val_reconcile;
mod val_sizing;
mod val_survey;
mod val_wyes;
