//! The exact search: choices in the order of their cost.

use super::{
    bounds::{Bounds, Refused},
    problem::Problem,
};
use crate::solve::Workspace;
use std::{cmp::Ordering, collections::BinaryHeap};

/// Most choices of some sections that wait to be looked at: some 100 MB.
const MOST_WAITING: usize = 1_000_000;

/// Most loads of a section in a set that are looked up: some ten seconds.
const MOST_LOOKS: u64 = 3_000_000_000;

/// How the exact search ended.
#[derive(Debug)]
pub(super) enum Ended {
    /// This choice meets every demand and no cheaper one does.
    Cheapest(Box<[u16]>),
    /// None meets every demand.
    Impossible,
    /// The search had to stop.
    Stopped,
}

/// What the exact search did.
#[derive(Debug)]
pub(super) struct Searched {
    pub(super) ended: Ended,
    pub(super) tried: u64,
    pub(super) solves: u64,
    pub(super) unanswered: u64,
    /// No choice that meets every demand costs less than this, those without an answer aside.
    pub(super) lower: f64,
    /// Cost of the cheapest choice that was given up without an answer.
    pub(super) first_unanswered: Option<f64>,
}

/// Options of the first sections, and what the whole costs at least.
#[derive(Debug)]
struct Partial {
    cost: f64,
    choice: Box<[u16]>,
}

/// The cheapest choice that meets the demands of these sets (positions in the problem).
///
/// Best first over partial choices, from the collector upstream: each waits at its own cost plus the
/// cheapest options of the rest, so whole choices come in the order of their cost, and the first that
/// meets every demand is the cheapest.
pub(super) fn cheapest(
    problem: &mut Problem<'_>,
    bounds: &Bounds,
    sets: &[usize],
    most_solves: u64,
) -> Searched {
    let mut searched = Searched {
        ended: Ended::Impossible,
        tried: 0,
        solves: 0,
        unanswered: 0,
        lower: problem.cost(&[]),
        first_unanswered: None,
    };
    let mut waiting = BinaryHeap::from([Partial {
        cost: problem.cost(&[]),
        choice: Box::from([]),
    }]);
    let mut work = Workspace::default();
    // The set that refused the last choice most likely refuses the next.
    let mut sets = sets.to_vec();
    let mut looks = 0_u64;
    while let Some(partial) = waiting.pop() {
        searched.lower = partial.cost;
        if searched.solves >= most_solves || waiting.len() >= MOST_WAITING || looks >= MOST_LOOKS {
            searched.ended = Ended::Stopped;
            return searched;
        }
        let Some(next) = problem.sized.get(partial.choice.len()) else {
            if try_choice(problem, &partial, &mut sets, &mut work, &mut searched) {
                searched.ended = Ended::Cheapest(partial.choice);
                return searched;
            }
            continue;
        };
        for option in (0..).take(next.options.len()) {
            let mut choice = Vec::with_capacity(partial.choice.len() + 1);
            choice.extend_from_slice(&partial.choice);
            choice.push(option);
            if !problem.allow_narrowing && problem.narrows_at(&choice, partial.choice.len()) {
                problem.cuts.narrowing += 1;
                continue;
            }
            looks += (sets.len() * choice.len()) as u64;
            match bounds.refuse(&choice, &sets) {
                Some(Refused::CurveEnd) => problem.cuts.curve_end += 1,
                Some(Refused::AirPower) => problem.cuts.air_power += 1,
                None => waiting.push(Partial {
                    cost: problem.cost(&choice),
                    choice: choice.into(),
                }),
            }
        }
    }
    searched
}

/// Whether a whole choice meets every demand.
fn try_choice(
    problem: &mut Problem<'_>,
    partial: &Partial,
    sets: &mut [usize],
    work: &mut Workspace,
    searched: &mut Searched,
) -> bool {
    searched.tried += 1;
    let Some(network) = problem.network(&partial.choice) else {
        problem.cuts.model += 1;
        return false;
    };
    for i in 0..sets.len() {
        let Some(set) = sets.get(i).and_then(|&set| problem.sets.get(set)) else {
            continue;
        };
        searched.solves += 1;
        let met = match network.solve(&set.open, work) {
            Ok(balance) => set.is_met(&balance),
            Err(error) => {
                if error.is_not_converged() {
                    searched.unanswered += 1;
                    searched.first_unanswered.get_or_insert(partial.cost);
                }
                false
            }
        };
        if !met {
            if let Some(to_front) = sets.get_mut(..=i) {
                to_front.rotate_right(1);
            }
            return false;
        }
    }
    true
}

impl PartialEq for Partial {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}

impl Eq for Partial {}

impl PartialOrd for Partial {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

/// The greatest is the next: the cheapest; of these the one furthest on; of these the first.
impl Ord for Partial {
    fn cmp(&self, other: &Self) -> Ordering {
        let by_cost = other.cost.total_cmp(&self.cost);
        by_cost
            .then(self.choice.len().cmp(&other.choice.len()))
            .then_with(|| other.choice.cmp(&self.choice))
    }
}
