//! Decisions: what the answers of the solver mean for the owner's money.

mod compare;
mod money;
mod size;
mod use_sets;

pub use compare::{
    Answer, Case, CaseAnswers, CompareError, Comparison, FanDrive, Objective, compare,
};
pub use money::Money;
pub use size::{
    Cuts, Demand, Proof, SectionSize, SectionVelocity, SetReport, Sizing, SizingAnswer,
    SizingError, StockSize, Verdict, balanced_flow, flow_for_width,
};
pub use use_sets::{Use, UseError, UseSets, UseWeight, WeightedSet};
