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
    let starts = [problem.by_velocity(), problem.widest()];
    let mut best: Option<Found> = None;
    for start in starts {
        let mut here = Found {
            grade: climb.grade(&start),
            choice: start,
        };
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
