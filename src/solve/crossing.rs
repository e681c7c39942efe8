//! Where the fan and the tree meet, when the pressure that the fan offers rises somewhere.
//!
//! The pressure that a tree asks for is a strictly increasing function of the total flow
//! (loss/junction.rs), so all multiplicity lives in one scalar equation, fan(Q) = tree(Q), and
//! only where the fan's pressure rises. Where it falls, the surplus fan - tree only shrinks, and
//! its signs at the ends of the stretch tell all. Where it rises, a stretch is settled when bounds
//! tell that the surplus keeps its sign (the fan's least against the tree's most; or the surplus at
//! an end and its least and greatest slope), or that it goes one way; otherwise it is halved, lower
//! half first. The fan's slope is bounded exactly; the tree's lies between its values at the ends
//! where its pressure is convex, and is given as much again as they differ for where friction turns
//! turbulent.
#![allow(
    clippy::indexing_slicing,
    reason = "the stack of intervals has an array that its counter is held against before each step"
)]

mod stretch;

use stretch::{End, Stretch};

use super::{
    newton::{self, Drive, Outcome},
    plan::{FanSide, Plan},
    start,
    work::Workspace,
};

/// Halves are followed down to this share of the curve's width.
const FINEST: f64 = 1e-7;

/// A surplus of this share of the pressure at rest, where it turns, counts as a touch.
pub(super) const TOUCH: f64 = 1e-9;

/// How many balances the search may cost.
const MOST_BALANCES: u32 = 4_000;

/// Doublings of the flow beyond the curve before the fan is said never to meet the tree.
const MOST_DOUBLINGS: u32 = 20;

/// How the fan's pressure goes through the tree's.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Through {
    /// From above: the fan settles here.
    Stable,
    /// From below: the fan leaves this point either way.
    Unstable,
    /// Not through: it touches and turns back.
    Touch,
}

/// A flow at which fan and tree meet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Meeting {
    pub(super) q: f64,
    pub(super) through: Through,
}

/// Why the search ended without an answer.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum NoCrossing {
    /// The fan gives no pressure at rest.
    NoPressure,
    /// The fan gives more than the tree asks for up to this flow.
    NeverMet(f64),
    /// The balance at an imposed flow failed, or the search ran out of balances.
    Lost(Outcome),
}

/// Whether to look on for further crossings.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Go {
    On,
    Enough,
}

/// A search under way.
pub(super) struct Search<'s> {
    plan: &'s Plan,
    work: &'s mut Workspace,
    fan: &'s FanSide,
    balances: u32,
    at_rest: f64,
    width: f64,
}

/// Every meeting from rest upward, told to `found` in that order, until it has enough. After each
/// the workspace stands at that meeting.
pub(super) fn search(
    plan: &Plan,
    work: &mut Workspace,
    fan: &FanSide,
    mut found: impl FnMut(Meeting) -> Go,
) -> Result<(), NoCrossing> {
    Search::new(plan, work, fan).run(&mut found)
}

/// Brings the workspace to the lowest stable crossing, to be polished by a joint Newton.
pub(super) fn from_rest(
    plan: &Plan,
    work: &mut Workspace,
    fan: &FanSide,
) -> Result<(), NoCrossing> {
    search(plan, work, fan, |meeting| match meeting.through {
        Through::Stable => Go::Enough,
        // The fan drifts through a touch.
        Through::Unstable | Through::Touch => Go::On,
    })
}

impl<'s> Search<'s> {
    pub(super) fn new(plan: &'s Plan, work: &'s mut Workspace, fan: &'s FanSide) -> Self {
        Self {
            plan,
            work,
            fan,
            balances: 0,
            at_rest: fan.at_rest,
            width: fan.curve.last().x,
        }
    }

    /// As [`search`].
    pub(super) fn run(&mut self, found: &mut impl FnMut(Meeting) -> Go) -> Result<(), NoCrossing> {
        if self.at_rest <= 0.0 {
            return Err(NoCrossing::NoPressure);
        }
        let fan = self.fan;
        let mut low = End {
            q: 0.0,
            fan: self.at_rest,
            tree: 0.0,
            tree_slope: 0.0,
        };
        for run in &fan.runs {
            let high = self.end(run.end)?;
            if self.stretch(low, high, run.falls, found)? == Go::Enough {
                return Ok(());
            }
            low = high;
        }
        // Beyond the curve both go on, the fan straight and the tree with the square of the flow, so
        // that once the tree is above it stays there.
        for _ in 0..MOST_DOUBLINGS {
            if low.surplus() <= 0.0 {
                return Ok(());
            }
            let high = self.end(2.0 * low.q)?;
            if self.stretch(low, high, false, found)? == Go::Enough {
                return Ok(());
            }
            low = high;
        }
        Err(NoCrossing::NeverMet(low.q))
    }

    /// How many balances it has cost so far.
    #[cfg(test)]
    pub(super) fn balances(&self) -> u32 {
        self.balances
    }

    /// Balances the tree at an imposed flow, from the balance before it.
    fn balance(&mut self, q: f64) -> Result<Outcome, NoCrossing> {
        let drive = Drive::Flow(q);
        let here = self.work.total();
        if here > 0.0 {
            self.work.scale_flows(q / here);
        } else {
            start::start(&mut self.work.tree, &drive);
        }
        self.work.trace.clear();
        let outcome = newton::solve(self.plan, self.work, drive);
        self.balances += 1;
        if outcome.converged && self.balances < MOST_BALANCES {
            Ok(outcome)
        } else {
            Err(NoCrossing::Lost(outcome))
        }
    }

    fn end(&mut self, q: f64) -> Result<End, NoCrossing> {
        let outcome = self.balance(q)?;
        Ok(End {
            q,
            fan: self.fan.at(q).value,
            tree: outcome.pressure,
            tree_slope: outcome.slope,
        })
    }

    /// Finds the meetings between two ends.
    fn stretch(
        &mut self,
        low: End,
        high: End,
        falls: bool,
        found: &mut impl FnMut(Meeting) -> Go,
    ) -> Result<Go, NoCrossing> {
        // Depth first, lower half first: pending upper ends, nearest last. Sixty-four halvings
        // exhaust the digits of any stretch.
        let mut pending = [high; 64];
        let mut count = 1;
        let mut low = low;
        let mut touched = f64::NEG_INFINITY;
        while count > 0 {
            let high = pending[count - 1];
            let short = high.q - low.q <= FINEST * self.width || count == pending.len();
            let between = Stretch {
                low,
                high,
                fan_slopes: self.fan.slopes_between(low.q, high.q),
            };
            let one_way = falls || between.goes_one_way();
            if !(one_way || short || between.keeps_its_sign()) {
                pending[count] = self.end(0.5 * (low.q + high.q))?;
                count += 1;
                continue;
            }
            count -= 1;
            let meeting = if (low.surplus() > 0.0) != (high.surplus() > 0.0) {
                let through = if low.surplus() > 0.0 {
                    Through::Stable
                } else {
                    Through::Unstable
                };
                let q = self.close_in(low, high)?;
                Some(Meeting { q, through })
            } else {
                let near = low.surplus().abs().min(high.surplus().abs()) <= TOUCH * self.at_rest;
                // Neighbouring short stretches see the same touch.
                let again = low.q - touched <= 4.0 * FINEST * self.width;
                if short && !one_way && near {
                    touched = high.q;
                }
                (short && !one_way && near && !again).then_some(Meeting {
                    q: 0.5 * (low.q + high.q),
                    through: Through::Touch,
                })
            };
            if let Some(meeting) = meeting
                && found(meeting) == Go::Enough
            {
                return Ok(Go::Enough);
            }
            low = high;
        }
        Ok(Go::On)
    }

    /// Newton's method on the surplus, kept inside a bracket of different signs.
    fn close_in(&mut self, mut low: End, mut high: End) -> Result<f64, NoCrossing> {
        // The chord hits near enough for a start.
        let chord = low.surplus() / (low.surplus() - high.surplus());
        let mut q = low.q + chord.clamp(0.02, 0.98) * (high.q - low.q);
        loop {
            let here = self.end(q)?;
            let slope = self.fan.at(q).slope - here.tree_slope;
            if (here.surplus() > 0.0) == (low.surplus() > 0.0) {
                low = here;
            } else {
                high = here;
            }
            let step = -here.surplus() / slope;
            let next = q + step;
            let inside = next > low.q && next < high.q;
            if (inside && step.abs() <= 1e-9 * q) || high.q - low.q <= 1e-12 * high.q {
                return Ok(if inside { next } else { q });
            }
            q = if inside { next } else { 0.5 * (low.q + high.q) };
        }
    }
}
