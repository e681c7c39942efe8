//! Sizes that would narrow toward the fan whatever the others are.

use super::problem::{Problem, SizedSection};
use crate::{
    quantity::Area,
    system::{Collector, Index},
};
use std::collections::HashMap;

/// Rounding of a diameter in other units must not make a narrowing.
pub(super) const SAME_AREA: f64 = 1.0 + 1e-9;

impl Problem<'_> {
    /// Takes away every option that narrows toward the fan whatever the other sections are.
    pub(super) fn keep_from_narrowing(&mut self, index: &Index<'_>) {
        let system = self.system;
        let fixed: HashMap<usize, Area> = (0..)
            .zip(&system.sections)
            .filter(|(i, _)| self.sized.iter().all(|sized| sized.section != *i))
            .map(|(i, section)| (i, section.size.area()))
            .collect();
        let before: usize = self.sized.iter().map(|sized| sized.options.len()).sum();
        // Against sections that keep their size, and the first run of the collector.
        for sized in &mut self.sized {
            let Some(this) = system.sections.get(sized.section) else {
                continue;
            };
            let below = match &this.into {
                Some(into) => {
                    let below = index.get(into.as_str());
                    below.and_then(|below| fixed.get(&below)).copied()
                }
                None => inlet_of(&system.collector),
            };
            let above = fixed.iter().filter(|(i, _)| {
                let section = system.sections.get(**i);
                section.is_some_and(|section| section.into.as_ref() == Some(&this.id))
            });
            let widest = above.map(|(_, &area)| area.as_m2()).fold(0.0, f64::max);
            sized.options.retain(|option| {
                below.is_none_or(|below| !narrows(option.area, below))
                    && !narrows(Area::from_m2(widest), option.area)
            });
        }
        // Against one another: upstream no wider than the widest below, ...
        for i in 0..self.sized.len() {
            let Some(widest) = self
                .below(i)
                .and_then(|below| areas(below).reduce(f64::max))
            else {
                continue;
            };
            if let Some(sized) = self.sized.get_mut(i) {
                let widest = Area::from_m2(widest);
                sized.options.retain(|option| !narrows(option.area, widest));
            }
        }
        // ... and downstream no narrower than the narrowest above.
        for i in (0..self.sized.len()).rev() {
            let sized = self.sized.get(i);
            let Some(narrowest) = sized.and_then(|sized| areas(sized).reduce(f64::min)) else {
                continue;
            };
            let into = sized.and_then(|sized| sized.into);
            if let Some(below) = into.and_then(|into| self.sized.get_mut(into)) {
                let narrowest = Area::from_m2(narrowest);
                below
                    .options
                    .retain(|option| !narrows(narrowest, option.area));
            }
        }
        let after: usize = self.sized.iter().map(|sized| sized.options.len()).sum();
        self.cuts.narrowing += (before - after) as u64;
    }

    fn below(&self, i: usize) -> Option<&SizedSection> {
        self.sized.get(self.sized.get(i)?.into?)
    }
}

/// Whether air would pass from an area into a smaller one.
pub(super) fn narrows(from: Area, into: Area) -> bool {
    from.as_m2() > into.as_m2() * SAME_AREA
}

fn areas(sized: &SizedSection) -> impl Iterator<Item = f64> + '_ {
    sized.options.iter().map(|option| option.area.as_m2())
}

/// Area of the first run that the mains meet.
fn inlet_of(collector: &Collector) -> Option<Area> {
    collector.before.first().map(|run| run.size.area())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        Money, Sizing, System,
        decide::{
            by_hand::{mm, shop},
            size::by_hand::{options, question, sets},
        },
    };

    const STOCK: [f64; 5] = [100.0, 125.0, 160.0, 180.0, 200.0];

    /// What may stand where, and how many were cut.
    fn kept(system: &System, question: &Sizing) -> (Vec<Vec<i64>>, u64) {
        let sets = sets(system, &[&["saw"]]);
        let problem = Problem::new(question, system, &sets).unwrap();
        (options(&problem), problem.cuts.narrowing)
    }

    #[test]
    fn rounding_is_no_narrowing() {
        let at = |share: f64| narrows(Area::from_m2(0.02 * share), Area::from_m2(0.02));
        assert!(!at(0.5));
        assert!(!at(1.0 + 5e-10));
        assert!(at(1.0 + 2e-9));
    }

    #[test]
    fn a_main_stands_between_its_branches_and_the_collector() {
        let system = shop();
        let main = question(&["main"], &STOCK);
        assert_eq!(kept(&system, &main), (vec![vec![125, 160, 180]], 2));
        // With nothing behind it but the fan it may be as wide as it likes.
        let mut bare = system.clone();
        bare.collector.before.clear();
        assert_eq!(kept(&bare, &main), (vec![vec![125, 160, 180, 200]], 1));
        // The first run is what it meets, whatever follows.
        let mut wider = system.clone();
        let mut run = wider.collector.before[0].clone();
        run.size = mm(300.0);
        wider.collector.before.push(run);
        assert_eq!(kept(&wider, &main).0, [[125, 160, 180]]);
        let main = main.allowing_narrowing();
        assert_eq!(kept(&system, &main).0, [[100, 125, 160, 180, 200]]);
        assert_eq!(kept(&system, &main).1, 0);
    }

    #[test]
    fn a_branch_is_no_wider_than_its_main() {
        let (options, cut) = kept(&shop(), &question(&["left"], &STOCK));
        assert_eq!((options, cut), (vec![vec![100, 125, 160, 180]], 1));
    }

    #[test]
    fn sections_to_be_sized_hold_one_another() {
        let mut question = question(&["left", "main"], &STOCK);
        // The branch no wider than the main may get.
        let expected = vec![vec![125, 160, 180], vec![100, 125, 160, 180]];
        assert_eq!(kept(&shop(), &question), (expected, 3));
        // Gates for the branch are sold from 160 mm on: no main is narrower.
        for size in &mut question.stock[..2] {
            size.gate = None;
        }
        let expected = vec![vec![160, 180], vec![160, 180]];
        assert_eq!(kept(&shop(), &question), (expected, 4));
        // Nor where one of many options is all that is too narrow.
        question.stock[2].gate = None;
        question.stock[3].gate = Some(Money::new(1.0));
        assert_eq!(kept(&shop(), &question).0, [[180], [180]]);
    }
}
