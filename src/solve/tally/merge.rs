//! How the counts of two stretches of a sweep become one.
//!
//! Counts add up, the first set of the least or most figure stays the first, lists are filled from
//! the front: it makes no difference where a sweep was cut, as long as the stretches are put
//! together in order.

use super::{Extremes, Judge, Served, Speeds, Tally, is_less, is_more};

impl Tally {
    /// With the stretch that follows this one.
    pub(in crate::solve) fn then(&mut self, judge: &Judge<'_>, later: Self) {
        let listed = judge.listed;
        self.sets += later.sets;
        self.converged += later.converged;
        self.beyond_curve += later.beyond_curve;
        self.below_curve += later.below_curve;
        self.failed += later.failed;
        fill(&mut self.failures, later.failures, listed);
        self.flow.then(later.flow);
        let machines = self.machines.iter_mut().zip(later.machines);
        machines.for_each(|(served, later)| served.then(later));
        let hoods = self.hoods.iter_mut().zip(later.hoods);
        hoods.for_each(|(served, later)| served.then(later));
        let sections = self.sections.iter_mut().zip(later.sections);
        sections.for_each(|(speeds, later)| speeds.then(later, listed));
    }
}

impl Extremes {
    fn then(&mut self, later: Self) {
        let least = later.least.filter(|at| is_less(at.value, &self.least));
        self.least = least.or(self.least.take());
        let most = later.most.filter(|at| is_more(at.value, &self.most));
        self.most = most.or(self.most.take());
    }
}

impl Served {
    fn then(&mut self, later: Self) {
        self.sets += later.sets;
        self.short += later.short;
        self.flow.then(later.flow);
    }
}

impl Speeds {
    fn then(&mut self, later: Self, listed: usize) {
        self.sets += later.sets;
        self.slow += later.slow;
        fill(&mut self.slow_sets, later.slow_sets, listed);
        let slowest = later.slowest.filter(|at| is_less(at.value, &self.slowest));
        self.slowest = slowest.or(self.slowest.take());
    }
}

fn fill<T>(list: &mut Vec<T>, later: Vec<T>, listed: usize) {
    let room = listed.saturating_sub(list.len());
    list.extend(later.into_iter().take(room));
}
