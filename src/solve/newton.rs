//! Newton's method on the tree: one sweep up and one down a pass (tree.rs), until all is settled.
#![allow(
    clippy::indexing_slicing,
    reason = "legs are numbered by the plan, and the marks are as many"
)]

use super::{
    plan::{FanSide, Plan},
    tree::TOLERANCE,
    work::{Pass, Workspace},
};
use crate::curve1d::Sample;

/// What closes the root of the tree.
#[derive(Debug, Clone, Copy)]
pub(super) enum Drive<'p> {
    /// The fan settles where it meets the tree.
    Fan(&'p FanSide),
    /// The total flow is imposed \[m3/s\].
    Flow(f64),
    /// The pressure is imposed \[Pa\]; `regain` per squared flow comes on top of it.
    Pressure { pressure: f64, regain: f64 },
}

/// How the root is closed at some flow.
enum Close {
    /// A pressure is offered, with its slope.
    Offer(Sample),
    /// The flow is imposed.
    Flow(f64),
}

impl Drive<'_> {
    fn close(&self, q: f64) -> Close {
        match *self {
            Self::Fan(fan) => Close::Offer(fan.at(q)),
            Self::Flow(flow) => Close::Flow(flow),
            Self::Pressure { pressure, regain } => Close::Offer(Sample {
                value: pressure + regain * q * q,
                slope: 2.0 * regain * q,
            }),
        }
    }
}

/// How a solve ended.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Outcome {
    pub(super) converged: bool,
    /// Pressure that drives the tree \[Pa\].
    pub(super) pressure: f64,
    /// Slope of that pressure against total flow \[Pa s/m3\].
    pub(super) slope: f64,
    pub(super) worst: Worst,
}

/// The three residuals, each with the leg of the plan where it is worst.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Worst {
    pub(super) pressure: At,
    pub(super) balance: At,
    pub(super) step: At,
}

/// A residual and its leg.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct At {
    pub(super) value: f64,
    pub(super) leg: u32,
}

impl At {
    /// Relative to `scale`.
    fn over(self, scale: f64) -> Self {
        Self {
            value: self.value / scale,
            ..self
        }
    }

    #[inline]
    pub(super) fn raise(&mut self, value: f64, leg: u32) {
        // A NaN must win, or it would pass for converged.
        if value > self.value || value.is_nan() {
            *self = Self { value, leg };
        }
    }
}

/// Three to five passes are usual; of 100 000 random trees none has needed more than twelve.
pub(super) const MOST_PASSES: usize = 60;

/// Passes before steps that do not shrink are cut.
const PATIENCE: usize = 5;

/// The smallest share of a step.
const SHORTEST: f64 = 0.1;

/// A step of this size, relative, is rounding.
const ROUNDING: f64 = 1e-14;

/// Sweeps until all three residuals are small. Starts from the flows that stand in `work`.
pub(super) fn solve(plan: &Plan, work: &mut Workspace, drive: Drive<'_>) -> Outcome {
    let Workspace {
        tree, marks, trace, ..
    } = work;
    if tree.nodes.is_empty() {
        return Outcome::default();
    }
    let live = |leg: u32| marks[leg as usize].at;
    let at_rest = match drive {
        Drive::Fan(fan) => fan.at_rest,
        Drive::Pressure { pressure, .. } => pressure,
        Drive::Flow(_) => 0.0,
    };
    let rounding = 4.0 * f64::EPSILON * plan.depth;
    let tolerance = TOLERANCE.max(rounding);
    let mut step_before = f64::INFINITY;
    let mut shortest = f64::INFINITY;
    let mut share = 1.0_f64;
    let mut stalled = false;
    loop {
        let carried = tree.losses(plan);
        let (a, b) = tree.upward(plan, live);
        let total = tree.total();
        let (pressure, next) = match drive.close(total) {
            Close::Offer(offer) => {
                let next = (a + b * (offer.value - offer.slope * total)) / (1.0 - b * offer.slope);
                (Some(offer.value), next)
            }
            Close::Flow(flow) => (None, flow),
        };
        let down = tree.downward(pressure, next);
        let scale = at_rest.max(down.pressure);
        let worst = Worst {
            pressure: down.worst.pressure.over(scale),
            balance: down.worst.balance.over(next.abs()),
            step: down.worst.step,
        };
        trace.push(Pass {
            pressure: worst.pressure.value,
            step: worst.step.value,
            bent: down.far,
        });
        // A step that is asked for at the tolerance leaves an error of its own size; once more, and
        // nothing but rounding is left.
        let step = worst.step.value;
        let settled = step <= ROUNDING || step.max(step_before) <= TOLERANCE;
        // Where rounding will not let the steps shrink further, they have to be no larger than
        // rounding explains; and twice in a row, for a step may also fail to shrink on the way.
        let stalled_before = stalled;
        stalled = !settled && step > 0.1 * step_before && tree.is_rounded(rounding * scale);
        let outcome = Outcome {
            converged: (settled || stalled && stalled_before)
                && carried
                && worst.pressure.value <= tolerance
                && worst.balance.value <= tolerance,
            pressure: down.pressure,
            slope: b.recip(),
            worst,
        };
        // Steps that do not shrink can go back and forth for ever across the bend of friction where
        // turbulence sets in; shorter and shorter ones do not.
        let hops = trace.len() > PATIENCE && step > (1.0 - 0.5 * share) * shortest;
        shortest = shortest.min(step);
        step_before = step;
        let lost = !(worst.pressure.value.is_finite() && step.is_finite());
        if outcome.converged || lost || trace.len() >= MOST_PASSES {
            return outcome;
        }
        if down.far {
            tree.bend();
        }
        share = if hops {
            (0.5 * share).max(SHORTEST)
        } else {
            (2.0 * share).min(1.0)
        };
        if share < 1.0 {
            tree.shorten(share);
        }
        tree.advance();
    }
}
