//! Which hoods lie upstream of which section.

use super::demands::SetDemands;
use crate::system::Resolved;

/// Where a hood is and whom it serves, by index.
#[derive(Debug, Clone, Copy)]
pub(super) struct Spot {
    pub(super) section: usize,
    pub(super) machine: Option<usize>,
}

/// The tree of a system, by index.
#[derive(Debug)]
pub(super) struct Tree {
    /// Sections, each after all those upstream of it.
    pub(super) order: Vec<usize>,
    /// Sections that drain into each section.
    pub(super) inlets: Vec<Vec<usize>>,
    /// Each hood.
    pub(super) hoods: Vec<Spot>,
    /// Hoods at or upstream of each section.
    upstream: Vec<Vec<usize>>,
}

impl Tree {
    pub(super) fn new(resolved: Resolved) -> Self {
        let Resolved {
            topology, hoods, ..
        } = resolved;
        let hoods: Vec<Spot> = hoods
            .into_iter()
            .map(|hood| Spot {
                section: hood.section,
                machine: hood.machine,
            })
            .collect();
        let mut upstream: Vec<Vec<usize>> = vec![Vec::new(); topology.inlets.len()];
        for (hood, at) in hoods.iter().enumerate() {
            if let Some(own) = upstream.get_mut(at.section) {
                own.push(hood);
            }
        }
        for &i in &topology.order {
            let inlets = topology.inlets.get(i).into_iter().flatten();
            let above = inlets.filter_map(|&inlet| upstream.get(inlet));
            let above: Vec<usize> = above.flatten().copied().collect();
            if let Some(own) = upstream.get_mut(i) {
                own.extend(above);
            }
        }
        Self {
            order: topology.order,
            inlets: topology.inlets,
            hoods,
            upstream,
        }
    }

    /// The open hoods at or upstream of a section.
    fn open_above<'t>(
        &'t self,
        section: usize,
        open_hoods: &'t [bool],
    ) -> impl Iterator<Item = &'t Spot> {
        let above = self.upstream.get(section).into_iter().flatten();
        let open = above.filter(|&&hood| open_hoods.get(hood) == Some(&true));
        open.filter_map(|&hood| self.hoods.get(hood))
    }

    /// Whether an open hood lies at or upstream of each section.
    pub(super) fn carries(&self, open_hoods: &[bool]) -> Vec<bool> {
        (0..self.upstream.len())
            .map(|section| self.open_above(section, open_hoods).next().is_some())
            .collect()
    }

    /// Flow that a set's machines need together of which at least one open hood (or, if `wholly`,
    /// every open hood) lies at or upstream of a section \[m3/s\].
    pub(super) fn needed_through(&self, section: usize, set: &SetDemands, wholly: bool) -> f64 {
        let mut above = vec![0_usize; set.machines.len()];
        for machine in self.open_above(section, &set.open_hoods) {
            if let Some(count) = machine.machine.and_then(|m| above.get_mut(m)) {
                *count += 1;
            }
        }
        let machines = above.iter().zip(&set.open_of_machine).zip(&set.machines);
        machines
            .filter(|((above, open), _)| **above > 0 && (!wholly || above == open))
            .map(|(_, needed)| needed.as_m3_s())
            .sum()
    }
}

#[cfg(test)]
mod tests {
    use crate::{
        Entry, Hood, Start,
        decide::{
            by_hand::shop,
            size::{
                by_hand::{question, sets},
                problem::Problem,
            },
        },
    };

    /// What is needed through each section of the shop, left, right, end and main, in tenths of a
    /// cubic metre a second; and the same of machines that have no other way.
    fn needed(open: &[&str]) -> [Vec<f64>; 2] {
        let mut system = shop();
        // The saw has a second hood, at the end.
        system.sections[2].start = Start::Hood(Hood::new("guard", Entry::K(0.5)).serving("saw"));
        let open = sets(&system, &[open]);
        let question = question(&["main"], &[180.0]);
        let problem = Problem::new(&question, &system, &open).unwrap();
        let set = &problem.sets[0];
        [false, true].map(|wholly| {
            (0..4)
                .map(|section| 10.0 * problem.tree.needed_through(section, set, wholly))
                .collect()
        })
    }

    #[test]
    fn val_needs_by_hand() {
        let tenths = |numbers: [f64; 4]| numbers.to_vec();
        // Both hoods of the saw may carry all of it, and neither must.
        let [may, must] = needed(&["saw", "planer"]);
        assert_eq!(may, tenths([1.0, 1.0, 1.0, 2.0]));
        assert_eq!(must, tenths([0.0, 1.0, 0.0, 2.0]));
        // With one of them shut the other must.
        let [may, must] = needed(&["guard"]);
        assert_eq!(may, tenths([0.0, 0.0, 1.0, 1.0]));
        assert_eq!(must, tenths([0.0, 0.0, 1.0, 1.0]));
    }
}
