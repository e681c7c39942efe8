//! Decisions: what the answers of the solver mean for the owner's money.

mod compare;

pub use compare::{
    Answer, Case, CaseAnswers, CompareError, Comparison, FanDrive, Objective, compare,
};
