//! Decisions: what the answers of the solver mean for the owner's money.

mod compare;
mod money;
mod upgrade;

pub use compare::{
    Answer, Case, CaseAnswers, CompareError, Comparison, FanDrive, Objective, compare,
};
pub use money::Money;
pub use upgrade::{
    Bundle, GreedyStep, MachineMargin, SkipReason, SkippedBundle, Upgrade, UpgradeError,
    UpgradeRanking, UpgradeWorth, rank_upgrades,
};
