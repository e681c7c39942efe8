//! Newton's method on the tree: one sweep up and one down a pass (tree.rs), until all is settled.
#![allow(
    clippy::indexing_slicing,
    reason = "legs are numbered by the plan, and the marks are as many"
)]

use super::{
    elimination::Down,
    plan::{FanSide, Plan},
    residual::Worst,
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

/// Three to five passes are usual; of 100 000 random trees none has needed more than twelve.
pub(super) const MOST_PASSES: usize = 60;

/// Passes before steps that do not shrink are cut.
const PATIENCE: usize = 5;

/// The smallest share of a step.
const SHORTEST: f64 = 0.1;

/// After a step of this size, relative, none but rounding is expected: it is enough to verify that
/// (verify.rs).
const SURE: f64 = 1e-7;

/// A step of this size, relative, is rounding.
const ROUNDING: f64 = 1e-14;

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
    let rounding = 4.0 * f64::EPSILON * plan.depth;
    let tolerance = TOLERANCE.max(rounding);
    let mut step_before = f64::MAX;
    let mut share = 1.0_f64;
    let mut stalled = false;
    // Slope of the tree against pressure in the last pass that asked.
    let mut slope = f64::NAN;
    loop {
        // Asked before the sweeps, which need not wait for it then.
        let total = tree.total();
        let close = drive.close(&mut tree.piece, total);
        let carried = tree.losses(plan);
        if step_before <= SURE
            && carried
            && plan.wyes.is_empty()
            && let (Drive::Fan(_), Close::Offer(offer)) = (drive, &close)
            && offer.slope <= 0.0
        {
            let (pressure, mut worst) = tree.verify(Some(offer.value));
            worst.pressure /= at_rest.max(pressure);
            worst.balance /= total;
            if worst.step <= TOLERANCE && worst.pressure.max(worst.balance) <= tolerance {
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
        // A step that is asked for at the tolerance leaves an error of its own size; once more, and
        // nothing but rounding is left.
        let settled = step <= ROUNDING || step <= TOLERANCE && step_before <= TOLERANCE;
        // Nothing else ends a solve whose steps shrink as Newton's do.
        let shrinks = step <= 0.1 * step_before && trace.len() < MOST_PASSES;
        let stalled_before = stalled;
        stalled = false;
        if settled || !shrinks {
            let (pressure, mut worst) = tree.verify(given);
            let scale = at_rest.max(pressure);
            worst.pressure /= scale;
            // Where rounding will not let the steps shrink further, they have to be no larger than
            // rounding explains; and twice in a row, for a step may also fail to shrink on the way.
            stalled = !settled && step > 0.1 * step_before && tree.is_rounded(rounding * scale);
            let ends =
                (settled || stalled && stalled_before) && carried && worst.pressure <= tolerance;
            let lost =
                !(worst.pressure.is_finite() && step.is_finite()) || trace.len() >= MOST_PASSES;
            worst.step = step;
            worst.balance /= next.abs();
            // Flows are sums from the first step on: it is enough to verify that at the end.
            let converged = ends && worst.balance <= tolerance;
            if converged || lost {
                return Outcome {
                    converged,
                    pressure,
                    slope,
                    worst,
                };
            }
        }
        step_before = step;
        if far {
            tree.bend();
        }
        if trace.len() > PATIENCE {
            share = share_of(trace, share);
            if share < 1.0 {
                tree.shorten(share);
            }
        }
        tree.advance();
    }
}

/// How much of the last step of so many is taken, after such a share of the one before.
///
/// Steps that do not shrink can go back and forth for ever across the bend of friction where
/// turbulence sets in; shorter and shorter ones do not.
#[cold]
fn share_of(trace: &[Pass], share: f64) -> f64 {
    let [before @ .., last] = trace else {
        return share;
    };
    let shortest = before
        .iter()
        .map(|pass| pass.step)
        .fold(f64::INFINITY, f64::min);
    if last.step > (1.0 - 0.5 * share) * shortest {
        (0.5 * share).max(SHORTEST)
    } else {
        (2.0 * share).min(1.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_that_do_not_shrink_are_halved_and_lengthened_again() {
        let of = |steps: &[f64], share| {
            let trace: Vec<Pass> = steps
                .iter()
                .map(|&step| Pass { step, bent: false })
                .collect();
            share_of(&trace, share)
        };
        // Of whole steps the last has to be half of the shortest before it.
        assert_eq!(of(&[1.0, 0.5], 1.0), 1.0);
        assert_eq!(of(&[1.0, 0.51], 1.0), 0.5);
        assert_eq!(of(&[0.5, 2.0, 0.4], 1.0), 0.5);
        assert_eq!(of(&[0.5, 2.0, 0.2], 1.0), 1.0);
        // Of half ones three quarters.
        assert_eq!(of(&[1.0, 0.75], 0.5), 1.0);
        assert_eq!(of(&[1.0, 0.76], 0.5), 0.25);
        // No longer than whole, no shorter than a tenth.
        assert_eq!(of(&[1.0, 0.1], 0.2), 0.4);
        assert_eq!(of(&[1.0, 1.0], 0.15), SHORTEST);
        assert_eq!(of(&[], 0.3), 0.3);
    }
}
