//! Laws of the solver and of its answers: the balance, its derivatives and their uncertainty, its
//! effort, whatever the tree.

#[path = "../common/mod.rs"]
mod common;

mod prop_audit;
mod prop_collector;
mod prop_crossings;
mod prop_degenerate;
mod prop_doubts;
mod prop_gradient;
mod prop_leaks;
mod prop_networks;
mod prop_resume;
mod prop_robustness;
mod prop_system_curve;
mod prop_uncertainty;
mod regress_effort;
