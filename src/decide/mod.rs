//! Decisions: what the answers of the solver mean for the owner's money.

mod compare;
mod filter_gauge;
mod gates;
mod schedule;
mod transport;

pub use compare::{
    Answer, Case, CaseAnswers, CompareError, Comparison, FanDrive, Objective, compare,
};
pub use filter_gauge::{
    DustLoading, FilterGauge, FilterGaugeError, FilterGaugeOptions, GaugeFailure, GaugeMark,
    GaugeOutcome, MachineGauge, filter_gauge,
};
pub use gates::{GateError, GatePlan, GateSetting, GateVerdict, balance_gates};
pub use schedule::{GateRow, GateSchedule, RowFailure, gate_schedule};
pub use transport::{Companions, FurtherGates, SlowestSection, TransportLimits};

/// Serialises an error as its text.
#[cfg(feature = "serde")]
fn as_text<E: std::fmt::Display, S: serde::Serializer>(
    error: &E,
    serializer: S,
) -> Result<S::Ok, S::Error> {
    serializer.collect_str(error)
}
