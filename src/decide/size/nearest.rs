//! The search without proof: sizes that meet the demands, or come nearest.

use super::{
    answer::Demand,
    problem::{Choice, Problem},
};
use crate::solve::Workspace;
use std::collections::HashMap;

/// The best choice that was found.
#[derive(Debug, Clone)]
pub(super) struct Found {
    pub(super) choice: Box<[u16]>,
    pub(super) grade: Grade,
}

/// How good a choice is: first how little is missed, then how little it costs.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub(super) struct Grade {
    /// The largest missed share of each set, summed over the sets; 0 when every demand is met.
    pub(super) missed: f64,
    pub(super) cost: f64,
}

impl Grade {
    const WORST: Self = Self {
        missed: f64::INFINITY,
        cost: f64::INFINITY,
    };
}

struct Climb<'p, 'a> {
    problem: &'p Problem<'a>,
    work: Workspace,
    seen: HashMap<Box<[u16]>, Grade>,
    solves: u64,
    most_solves: u64,
}

/// The best choice that a bounded climb finds, and how many balances it took.
///
/// From two starts, the sizes of the usual rule (the widest in which the needed flows still keep the
/// least velocity) and the widest of all: one section after another is put to whichever of its sizes
/// is best, then pairs of sections, until no such step helps or the balances are used up. It may end
/// at sizes that no single or double change betters and that are not the best.
pub(super) fn nearest(problem: &Problem<'_>, most_solves: u64) -> (Found, u64) {
    let mut climb = Climb {
        problem,
        work: Workspace::default(),
        seen: HashMap::new(),
        solves: 0,
        most_solves,
    };
    let starts = [problem.by_velocity(), problem.widest()].map(|choice| Found {
        grade: climb.grade(&choice),
        choice,
    });
    let mut best: Option<Found> = None;
    for mut here in starts {
        while climb.step(&mut here) {}
        if best.as_ref().is_none_or(|best| here.grade < best.grade) {
            best = Some(here);
        }
    }
    let best = best.unwrap_or(Found {
        choice: problem.widest(),
        grade: Grade::WORST,
    });
    (best, climb.solves)
}

impl Climb<'_, '_> {
    /// Takes the best single change, or else the best change of two sections that saves money.
    fn step(&mut self, here: &mut Found) -> bool {
        let mut best = here.clone();
        for section in 0..here.choice.len() {
            for changed in self.changes(&here.choice, section) {
                self.consider(&changed, &mut best);
            }
        }
        if best.grade < here.grade {
            *here = best;
            return true;
        }
        for first in 0..here.choice.len() {
            for changed in self.changes(&here.choice, first) {
                for second in first + 1..here.choice.len() {
                    for both in self.changes(&changed, second) {
                        self.consider(&both, &mut best);
                    }
                }
            }
            if best.grade < here.grade {
                *here = best;
                return true;
            }
        }
        false
    }

    fn consider(&mut self, choice: &Choice, best: &mut Found) {
        let narrows = |position| self.problem.narrows_at(choice, position);
        let cost = self.problem.cost(choice);
        // Once the demands are met only a cheaper choice can be better.
        if best.grade.missed == 0.0 && cost >= best.grade.cost
            || !self.problem.allow_narrowing && (0..choice.len()).any(narrows)
        {
            return;
        }
        let grade = self.grade(choice);
        if grade < best.grade {
            *best = Found {
                choice: choice.into(),
                grade,
            };
        }
    }

    /// The choice with each other option of a section.
    fn changes(&self, choice: &Choice, section: usize) -> Vec<Box<[u16]>> {
        let options = self.problem.sized.get(section);
        let options = options.map_or(0, |sized| sized.options.len());
        let others = (0..)
            .take(options)
            .filter(|option| choice.get(section) != Some(option));
        others
            .filter_map(|option| {
                let mut changed: Box<[u16]> = choice.into();
                *changed.get_mut(section)? = option;
                Some(changed)
            })
            .collect()
    }

    fn grade(&mut self, choice: &Choice) -> Grade {
        if let Some(grade) = self.seen.get(choice) {
            return *grade;
        }
        // The two starts are always judged, so that there is something to tell.
        if self.solves >= self.most_solves && self.seen.len() >= 2 {
            return Grade::WORST;
        }
        let grade = match self.problem.network(choice) {
            None => Grade::WORST,
            Some(network) => {
                let mut missed = 0.0;
                for set in &self.problem.sets {
                    self.solves += 1;
                    let judged = set.judge(self.problem.system, &network, &mut self.work);
                    let tightest = judged.demands.first().map_or(1.0, Demand::share);
                    missed += (1.0 - tightest).max(0.0);
                }
                Grade {
                    missed,
                    cost: self.problem.cost(choice),
                }
            }
        };
        self.seen.insert(choice.into(), grade);
        grade
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        OpenSet, Sizing, System,
        decide::{
            by_hand::{m3_s, shop},
            size::by_hand::{question, sets, widths},
        },
    };

    /// The shop, its saw in need of so much.
    fn needing(flow: f64) -> System {
        let mut system = shop();
        system.machines[0].required = m3_s(flow);
        system
    }

    fn saw(system: &System) -> Vec<OpenSet> {
        sets(system, &[&["saw"]])
    }

    fn climb<'p, 'a>(problem: &'p Problem<'a>, most_solves: u64) -> Climb<'p, 'a> {
        Climb {
            problem,
            work: Workspace::default(),
            seen: HashMap::new(),
            solves: 0,
            most_solves,
        }
    }

    /// Flow of the saw alone in a choice.
    fn flow(problem: &Problem<'_>, open: &OpenSet, choice: &Choice) -> f64 {
        let network = problem.network(choice).unwrap();
        let mut work = Workspace::default();
        let balance = network.solve(open, &mut work).unwrap();
        balance.machine_flows().next().unwrap().as_m3_s()
    }

    fn found(choice: &Choice, missed: f64, cost: f64) -> Found {
        Found {
            choice: choice.into(),
            grade: Grade { missed, cost },
        }
    }

    #[test]
    fn a_grade_sums_the_largest_missed_share_of_each_set() {
        let mut system = needing(0.99);
        system.machines[1].required = m3_s(0.98);
        let open = sets(&system, &[&["saw"], &["planer"], &["saw", "planer"]]);
        let question = question(&["left"], &[100.0, 125.0]);
        let problem = Problem::new(&question, &system, &open).unwrap();
        let network = problem.network(&[1]).unwrap();
        let mut work = Workspace::default();
        let mut missed = 0.0;
        for set in &open {
            let balance = network.solve(set, &mut work).unwrap();
            let flows: Vec<f64> = balance.machine_flows().map(|q| q.as_m3_s()).collect();
            missed += match (flows[0] > 0.0, flows[1] > 0.0) {
                (true, false) => 1.0 - flows[0] / 0.99,
                (false, true) => 1.0 - flows[1] / 0.98,
                _ => 1.0 - (flows[0] / 0.99).min(flows[1] / 0.98),
            };
        }
        let mut climb = climb(&problem, 100);
        let grade = climb.grade(&[1]);
        assert!((grade.missed - missed).abs() < 1e-12, "{grade:?} {missed}");
        assert_eq!((grade.cost, climb.solves), (12.5, 3));
        // It is known from now on.
        assert_eq!((climb.grade(&[1]), climb.solves), (grade, 3));
    }

    #[test]
    fn two_are_judged_whatever_it_takes() {
        let system = needing(0.9);
        let question = question(&["left"], &[100.0, 112.0, 125.0]);
        let open = saw(&system);
        let problem = Problem::new(&question, &system, &open).unwrap();
        for (most, third) in [(0, false), (2, false), (3, true)] {
            let mut climb = climb(&problem, most);
            assert!(climb.grade(&[0]) < Grade::WORST);
            assert!(climb.grade(&[1]) < Grade::WORST);
            assert_eq!(climb.grade(&[2]) < Grade::WORST, third, "{most}");
        }
    }

    #[test]
    fn each_other_option_is_a_change() {
        let system = needing(0.1);
        let open = saw(&system);
        let question = question(&["left", "right"], &[100.0, 112.0, 125.0]);
        let problem = Problem::new(&question, &system, &open).unwrap();
        let changes = climb(&problem, 9).changes(&[1, 2], 0);
        assert_eq!(changes, [Box::from([0, 2]), Box::from([2, 2])]);
    }

    #[test]
    fn only_what_can_be_better_is_judged() {
        let system = needing(0.1);
        let open = saw(&system);
        let question = question(&["main", "left"], &[125.0, 160.0]);
        let problem = Problem::new(&question, &system, &open).unwrap();
        // The main has no gate and costs nothing; all choices meet the saw's need.
        let considered = |choice: &Choice, mut best: Found| {
            let mut climb = climb(&problem, 9);
            climb.consider(choice, &mut best);
            (best, climb.solves)
        };
        let taken = |(best, solves): (Found, u64)| (best.choice.to_vec(), best.grade.cost, solves);
        let dear = || found(&[1, 1], 0.0, 16.0);
        assert_eq!(taken(considered(&[1, 0], dear())), (vec![1, 0], 12.5, 1));
        // As dear or dearer.
        let cheap = || found(&[1, 0], 0.0, 12.5);
        assert_eq!(taken(considered(&[0, 0], cheap())), (vec![1, 0], 12.5, 0));
        assert_eq!(taken(considered(&[1, 1], cheap())), (vec![1, 0], 12.5, 0));
        // Dearer, but it misses nothing.
        let short = || found(&[1, 0], 0.1, 12.5);
        assert_eq!(taken(considered(&[1, 1], short())), (vec![1, 1], 16.0, 1));
        // It would narrow.
        assert_eq!(taken(considered(&[0, 1], short())), (vec![1, 0], 12.5, 0));
        let narrowing = question.allowing_narrowing();
        let problem = Problem::new(&narrowing, &system, &open).unwrap();
        let mut best = short();
        climb(&problem, 9).consider(&[0, 1], &mut best);
        assert_eq!(*best.choice, [0, 1]);
    }

    #[test]
    fn of_two_as_good_the_first_stays() {
        // The saw does not mind what stands at the planer, and nothing costs anything.
        let system = needing(0.9);
        let open = saw(&system);
        let mut question: Sizing = question(&["right"], &[100.0, 125.0]);
        for size in &mut question.stock {
            size.gate = Some(crate::Money::new(0.0));
        }
        let problem = Problem::new(&question, &system, &open).unwrap();
        let mut climb = climb(&problem, 9);
        let grade = climb.grade(&[0]);
        assert!(grade.missed > 0.0);
        let mut best = found(&[0], grade.missed, 0.0);
        climb.consider(&[1], &mut best);
        assert_eq!(*best.choice, [0]);
        // Nor of the two starts, the narrowest and the widest.
        let (best, solves) = nearest(&problem, 9);
        assert_eq!((widths(&problem, &best.choice), solves), (vec![100], 2));
    }

    #[test]
    fn a_step_takes_the_best_single_change_or_else_a_pair() {
        let mut system = needing(0.9);
        let open = saw(&system);
        let question = question(&["main", "left"], &[125.0, 140.0, 160.0]);
        let problem = Problem::new(&question, &system, &open).unwrap();
        let mut here = found(&[0, 0], 9.0, 12.5);
        let mut up = climb(&problem, 99);
        here.grade = up.grade(&[0, 0]);
        // The branch may not be wider than the main, which gives most at its widest.
        assert!(up.step(&mut here));
        assert_eq!(*here.choice, [2, 0]);
        assert!(up.step(&mut here));
        assert_eq!(*here.choice, [2, 2]);
        assert!(!up.step(&mut here));
        // Enough with a wide branch at a narrow main as well as the other way round, which is cheaper:
        // neither change alone will do.
        let enough = flow(&problem, &open[0], &[1, 1]).min(flow(&problem, &open[0], &[2, 0]));
        assert!(enough > flow(&problem, &open[0], &[1, 0]));
        system.machines[0].required = m3_s(enough);
        let problem = Problem::new(&question, &system, &open).unwrap();
        let mut down = climb(&problem, 99);
        let mut here = found(&[1, 1], 0.0, 14.0);
        assert!(down.step(&mut here));
        assert_eq!((&*here.choice, here.grade.missed), (&[2, 0][..], 0.0));
        assert!(!down.step(&mut here));
    }

    #[test]
    fn the_better_of_two_starts_is_told() {
        // No velocity is asked for: the rule starts with the narrowest, which is enough here, and the
        // widest is dearer until it has come down.
        let question = question(&["left"], &[100.0, 112.0, 125.0]);
        let system = needing(0.1);
        let open = saw(&system);
        let problem = Problem::new(&question, &system, &open).unwrap();
        let (best, _) = nearest(&problem, 2);
        assert_eq!(*best.choice, [0]);
        // And here the widest comes nearest, as no balances are left for a step from the first.
        let system = needing(0.9);
        let problem = Problem::new(&question, &system, &open).unwrap();
        let (best, solves) = nearest(&problem, 2);
        assert_eq!((&*best.choice, solves), (&[2][..], 2));
    }
}
