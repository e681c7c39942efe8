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

impl Searched {
    /// Counts a choice of this cost that has no answer. None after it costs less.
    fn give_up(&mut self, cost: f64) {
        self.unanswered += 1;
        self.first_unanswered.get_or_insert(cost);
    }
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
                    searched.give_up(partial.cost);
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        Angle, Join, Junction, Sizing, System, Tightness,
        decide::{
            by_hand::{m3_s, mm, shop},
            size::{
                answer::Cuts,
                by_hand::{question, sets},
            },
        },
    };

    /// The shop, of which the bounds can tell nothing: a join gives back what its section's leak has
    /// not paid for.
    fn blind() -> System {
        let mut system = shop();
        system.sections[0].join.k = Some(-1e-6);
        system.sections[0].tightness = Tightness::Atc5;
        system
    }

    /// Flow of the saw alone in each width of its branch.
    fn of_saw(system: &System, question: &Sizing) -> Vec<f64> {
        let open = sets(system, &[&["saw"]]);
        let problem = Problem::new(question, system, &open).unwrap();
        let options = 0..problem.sized[0].options.len() as u16;
        options
            .map(|option| {
                let network = problem.network(&[option]).unwrap();
                let mut work = Workspace::default();
                let balance = network.solve(&open[0], &mut work).unwrap();
                balance.machine_flows().next().unwrap().as_m3_s()
            })
            .collect()
    }

    fn searched(
        system: &System,
        question: &Sizing,
        open: &[&[&str]],
        most_solves: u64,
    ) -> (Searched, Cuts) {
        let open = sets(system, open);
        let mut problem = Problem::new(question, system, &open).unwrap();
        let bounds = Bounds::new(&problem);
        let all: Vec<usize> = (0..open.len()).collect();
        let searched = cheapest(&mut problem, &bounds, &all, most_solves);
        (searched, problem.cuts)
    }

    #[test]
    fn choices_come_in_the_order_of_their_cost() {
        let mut system = blind();
        let branch = question(&["left"], &[63.0, 80.0, 100.0, 125.0]);
        let flows = of_saw(&system, &branch);
        assert!(flows.is_sorted(), "{flows:?}");
        system.machines[0].required = m3_s(flows[1] * (1.0 + 1e-9));
        for (open, solves) in [
            (&[&["saw"][..]][..], 3),
            // The saw's set refuses two; the third meets both.
            (&[&["saw"], &["planer"]], 4),
            // The planer's is asked first once, and last from then on.
            (&[&["planer"], &["saw"]], 5),
        ] {
            let (searched, cuts) = searched(&system, &branch, open, 100);
            assert!(matches!(&searched.ended, Ended::Cheapest(choice) if **choice == [2]));
            assert_eq!((searched.tried, searched.solves), (3, solves), "{open:?}");
            assert_eq!((searched.lower, searched.unanswered), (10.0, 0));
            assert_eq!(cuts, Cuts::default());
        }
        // Just as much as it needs is enough.
        system.machines[0].required = m3_s(flows[1]);
        let (found, _) = searched(&system, &branch, &[&["saw"]], 100);
        assert!(matches!(&found.ended, Ended::Cheapest(choice) if **choice == [1]));
        // More than the widest gives.
        system.machines[0].required = m3_s(flows[3] * 1.01);
        let (none, _) = searched(&system, &branch, &[&["saw"]], 100);
        assert!(matches!(none.ended, Ended::Impossible));
        assert_eq!((none.tried, none.solves), (4, 4));
        // As many balances as it may, and no more.
        for (most, tried) in [(4, 4), (2, 2), (0, 0)] {
            let (stopped, _) = searched(&system, &branch, &[&["saw"]], most);
            assert_eq!(matches!(stopped.ended, Ended::Stopped), most < 4, "{most}");
            assert_eq!(stopped.tried, tried);
            if most == 2 {
                assert_eq!(stopped.lower, 10.0);
            }
        }
    }

    #[test]
    fn what_is_not_tried_is_counted() {
        let branch = question(&["left"], &[63.0, 80.0, 100.0, 125.0]);
        let mut system = shop();
        // The curve ends at 1 m3/s.
        for (needed, expected) in [(1.1, (4, 0)), (0.9, (0, 4))] {
            system.machines[0].required = m3_s(needed);
            let (none, cuts) = searched(&system, &branch, &[&["saw"]], 100);
            assert!(matches!(none.ended, Ended::Impossible));
            assert_eq!((cuts.curve_end, cuts.air_power), expected, "{needed}");
            assert_eq!((none.tried, none.solves), (0, 0));
        }
        // A branch of 160 mm above a main of 125 mm is passed over.
        let mut system = blind();
        system.machines[0].required = m3_s(0.99);
        let both = question(&["left", "main"], &[125.0, 160.0]);
        let (none, cuts) = searched(&system, &both, &[&["saw"]], 100);
        assert_eq!((none.tried, cuts.narrowing), (3, 1));
        let (none, cuts) = searched(&system, &both.allowing_narrowing(), &[&["saw"]], 100);
        assert_eq!((none.tried, cuts.narrowing), (4, 0));
    }

    /// A formula for a straight run of one bore refuses a main of another only in its place.
    #[test]
    fn what_the_model_refuses_is_counted() {
        let mut system = blind();
        system.sections.remove(2);
        system.sections[2].junction = Some(Junction::Crane);
        system.sections[2].size = mm(125.0);
        for section in &mut system.sections[..2] {
            section.join = Join::default();
        }
        system.sections[1].join.angle = Some(Angle::from_deg(45.0));
        system.machines[0].required = m3_s(0.99);
        let main = question(&["main"], &[125.0, 140.0, 160.0]);
        let (none, cuts) = searched(&system, &main, &[&["saw"]], 100);
        assert!(matches!(none.ended, Ended::Impossible));
        assert_eq!((none.tried, none.solves, cuts.model), (3, 1, 2));
    }

    #[test]
    fn what_has_no_answer_is_counted_from_the_cheapest_on() {
        let system = blind();
        let (mut searched, _) = searched(&system, &question(&["left"], &[125.0]), &[&["saw"]], 9);
        assert_eq!((searched.unanswered, searched.first_unanswered), (0, None));
        searched.give_up(5.0);
        searched.give_up(7.0);
        assert_eq!(
            (searched.unanswered, searched.first_unanswered),
            (2, Some(5.0))
        );
    }

    #[test]
    fn the_cheapest_is_next_then_the_furthest_then_the_first() {
        let partial = |cost, choice: &[u16]| Partial {
            cost,
            choice: choice.into(),
        };
        let order = [
            partial(2.0, &[0]),
            partial(1.0, &[0]),
            partial(1.0, &[1, 1]),
            partial(1.0, &[1, 0]),
        ];
        for (i, a) in order.iter().enumerate() {
            for (j, b) in order.iter().enumerate() {
                assert_eq!(a == b, i == j);
                assert_eq!(a.partial_cmp(b), Some(i.cmp(&j)));
            }
        }
    }
}
