//! Laws of what the answers mean for the owner: budgets, changes, purchases, sizes, gates, checks.

#[path = "../common/mod.rs"]
mod common;

mod prop_budget;
mod prop_change;
mod prop_checks;
mod prop_compare;
mod prop_gates;
mod prop_growth;
mod prop_low_likely_high;
mod prop_room;
mod prop_schedule;
mod prop_sizing;
mod prop_takeoff;
mod prop_upgrade;
mod prop_use;
