//! Decisions: what the answers of the solver mean for the owner's money.

mod budget;
mod check;
mod compare;
mod difference;
mod dust;
mod filter_gauge;
mod gates;
mod growth;
mod low_likely_high;
mod money;
mod requirement;
mod room;
mod schedule;
mod size;
mod source;
mod takeoff;
mod transport;
mod upgrade;
mod use_sets;

#[cfg(test)]
mod by_hand;

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
pub use filter_gauge::{
    DustLoading, FilterGauge, FilterGaugeError, FilterGaugeOptions, GaugeFailure, GaugeMark,
    GaugeOutcome, MachineGauge, filter_gauge,
};
pub use gates::{GateError, GatePlan, GateSetting, GateVerdict, balance_gates};
pub use growth::{
    FutureHood, Growth, GrowthError, Headroom, HeadroomStep, NeedMet, NewHood, growth, headroom,
};
pub use low_likely_high::{
    Adequacy, Likely, LikelyHood, LikelyMachine, LikelyNeed, LowLikelyHigh, LowLikelyHighError,
    WeighingAssumption, low_likely_high,
};
pub use money::Money;
pub use requirement::{HoodNeed, MachineKind, Need, RequiredFlow, Requirement, RequirementError};
pub use room::{Exhaust, FlueCaution, Room, RoomEffect, RoomError};
pub use schedule::{GateRow, GateSchedule, RowFailure, gate_schedule};
pub use size::{
    Cuts, Demand, Proof, SectionSize, SectionVelocity, SetReport, Sizing, SizingAnswer,
    SizingError, SizingVerdict, StockSize, balanced_flow, flow_for_width,
};
pub use source::{Source, Transcription};
pub use takeoff::{
    ElbowShape, HoseMake, Item, Joints, JunctionInlet, Per, Price, PriceError, PriceFault,
    PriceTable, Priced, PricedLine, Quantity, ReducerShape, Stock, StockUse, Takeoff, TakeoffError,
    TakeoffLine, TakeoffOptions, takeoff,
};
pub use transport::{Companions, FurtherGates, SlowestSection, TransportLimits};
pub use upgrade::{
    Bundle, GreedyStep, MachineMargin, SkipReason, SkippedBundle, Upgrade, UpgradeError,
    UpgradeRanking, UpgradeWorth, rank_upgrades,
};
pub use use_sets::{Use, UseError, UseSets, UseWeight, WeightedSet};
