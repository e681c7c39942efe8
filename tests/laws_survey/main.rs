//! Laws of the readings of instruments: what they show, what is found from them, what contradicts.

#[path = "../common/mod.rs"]
mod common;

mod prop_calibrate;
mod prop_filter_gauge;
mod prop_observation;
mod prop_reconcile;
mod prop_survey;
