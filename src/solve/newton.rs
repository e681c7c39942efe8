//! Newton's method on the tree: one sweep up and one down a pass (elimination.rs), until the steps are
//! at their end (steps.rs).
#![allow(
    clippy::indexing_slicing,
    reason = "legs are numbered by the plan, and the marks are as many"
)]

use super::{
    elimination::Down,
    plan::{FanSide, Plan},
    residual::{Worst, rounding},
    steps::{Says, Steps},
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
    /// `piece` of a fan's curve is looked at first.
    fn close(&self, piece: &mut usize, q: f64) -> Close {
        match *self {
            Self::Fan(fan) => Close::Offer(fan.at_from(piece, q)),
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
    /// Relative; where they are is asked of the tree.
    pub(super) worst: Worst<f64>,
}

/// Sweeps until all three residuals are small. Starts from the flows that stand in `work`.
pub(super) fn solve(plan: &Plan, work: &mut Workspace, drive: Drive<'_>) -> Outcome {
    let Workspace {
        tree, marks, trace, ..
    } = work;
    if tree.links.is_empty() {
        return Outcome::default();
    }
    let live = |leg: u32| marks[leg as usize];
    let at_rest = match drive {
        Drive::Fan(fan) => fan.at_rest,
        Drive::Pressure { pressure, .. } => pressure,
        Drive::Flow(_) => 0.0,
    };
    let rounding = rounding(plan.depth);
    let tolerance = TOLERANCE.max(rounding);
    let mut steps = Steps::NONE;
    // Slope of the tree against pressure in the last pass that asked.
    let mut slope = f64::NAN;
    loop {
        // Asked before the sweeps, which need not wait for it then.
        let total = tree.total();
        let close = drive.close(&mut tree.piece, total);
        let carried = tree.losses(plan);
        if steps.are_sure()
            && carried
            && plan.wyes.is_empty()
            && let (Drive::Fan(_), Close::Offer(offer)) = (drive, &close)
            && offer.slope <= 0.0
        {
            let (pressure, worst) = tree.verify(Some(offer.value));
            let worst = worst.relative(at_rest.max(pressure), total);
            if worst.is_small(tolerance) {
                trace.push(Pass {
                    step: worst.step,
                    bent: false,
                });
                return Outcome {
                    converged: true,
                    pressure,
                    slope,
                    worst,
                };
            }
        }
        let up = tree.upward(plan, live);
        slope = up.b.recip();
        let (given, next) = match close {
            Close::Offer(offer) => {
                let rest = offer.value - offer.slope * total;
                let next = (up.a + up.b * rest) / (1.0 - up.b * offer.slope);
                (Some(offer.value), next)
            }
            Close::Flow(flow) => (None, flow),
        };
        let Down { step, far } = tree.downward(next);
        trace.push(Pass { step, bent: far });
        let says = steps.add(step);
        if says != Says::Shrinks {
            let (pressure, worst) = tree.verify(given);
            let scale = at_rest.max(pressure);
            let worst = Worst {
                step,
                ..worst.relative(scale, next)
            };
            let holds = worst.holds(carried, tolerance);
            if let Some(converged) = steps.end(says, holds, || tree.is_rounded(rounding, scale)) {
                return Outcome {
                    converged,
                    pressure,
                    slope,
                    worst,
                };
            }
        }
        if far {
            tree.bend();
        }
        if let Some(share) = steps.cut(trace) {
            tree.shorten(share);
        }
        tree.advance();
    }
}
