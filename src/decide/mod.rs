//! Decisions: what the answers of the solver mean for the owner's money.

mod budget;
mod check;
mod compare;
mod difference;
mod dust;
mod money;
mod requirement;
mod source;
mod upgrade;

pub use budget::{Budget, BudgetError, ElementKind, KindLoss, PathBudget, PathElement};
pub use check::{
    Check, CheckError, CheckOptions, Finding, Findings, Material, Measure, SectionShell, Shell,
    Sureness, Uncertain, UncertainAt, Verdict, check,
};
pub use compare::{
    Answer, Case, CaseAnswers, CompareError, Comparison, FanDrive, Objective, compare,
};
pub use difference::{CaseDifference, FlowDifference, MachineDifference, SetDifference};
pub use dust::{DustClass, TransportVelocity};
pub use money::Money;
pub use requirement::{HoodNeed, MachineKind, Need, RequiredFlow, Requirement, RequirementError};
pub use source::{Source, Transcription};
pub use upgrade::{
    Bundle, GreedyStep, MachineMargin, SkipReason, SkippedBundle, Upgrade, UpgradeError,
    UpgradeRanking, UpgradeWorth, rank_upgrades,
};
