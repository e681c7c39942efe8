//! Surveys: what was measured in the shop, judged by itself.

mod before_after;
mod blame;
mod chances;
mod flow_at;
mod leak_test;
mod least_squares;
mod reconcile;
mod stretches;

pub use before_after::{
    BeforeAfter, BeforeAfterError, ChangeVerdict, FlowChange, FlowChanges, PredictedChange,
};
pub use blame::{Cause, Explanation, Imbalance};
pub use flow_at::{FlowAt, FlowReadings, ReconcileError, SharedError, ShutHoods};
pub use leak_test::{LeakTest, LeakVerdict, UnmeteredInflow};
pub use reconcile::{FlowEstimate, GlobalTest, ReadingCheck, Reconciled, SectionFlow};
