//! Which section drains where: names resolved, the tree ordered, rings found.
#![allow(
    clippy::indexing_slicing,
    reason = "sections are numbered by the model, and every list of them is as long"
)]

use super::{
    fault::{ModelError, ModelFault},
    model::{Start, System},
    names::Index,
};
use crate::place::{Name, Place};
use std::cmp::Reverse;

/// The tree by index into [`System::sections`].
#[derive(Debug)]
pub(crate) struct Topology {
    /// Sections that drain into each section.
    pub(crate) inlets: Vec<Vec<usize>>,
    /// Sections that drain into the collector.
    pub(crate) mains: Vec<usize>,
    /// The section that each section drains into; `None`: the collector.
    pub(crate) outlets: Vec<Option<usize>>,
    /// Every section after all those upstream of it; of the inlets of a section the one with most
    /// sections upstream comes first.
    pub(crate) order: Vec<usize>,
}

impl Topology {
    /// Resolves the tree, or adds what keeps it from being one to `faults`.
    pub(crate) fn of(system: &System, faults: &mut Vec<ModelError>) -> Self {
        let sections = &system.sections;
        let index = Index::new("section", sections.iter().map(|s| &s.id));
        let mut inlets = vec![Vec::new(); sections.len()];
        let mut mains = Vec::new();
        let mut down = vec![None; sections.len()];
        for (i, section) in sections.iter().enumerate() {
            match &section.into {
                None => mains.push(i),
                Some(into) => match index.find(into.as_str()) {
                    Ok(into) => {
                        inlets[into].push(i);
                        down[i] = Some(into);
                    }
                    Err(unknown) => {
                        faults.push(ModelError::new(Place::Section(section.id.clone()), unknown))
                    }
                },
            }
        }
        let order = upstream_first(&inlets, &down);
        if order.len() < sections.len() {
            rings(system, &down, &order, faults);
        }
        let topology = Self {
            inlets,
            mains,
            outlets: down,
            order,
        };
        topology.check_starts(system, &index, faults);
        topology
    }

    fn check_starts(&self, system: &System, index: &Index<'_>, faults: &mut Vec<ModelError>) {
        for (i, (section, inlets)) in system.sections.iter().zip(&self.inlets).enumerate() {
            let start = match &section.start {
                Start::Joins => {
                    // What drains into a name that two share was given to the first of them.
                    let is_first = index.find(section.id.as_str()) == Ok(i);
                    if inlets.is_empty() && is_first {
                        faults.push(ModelError::new(
                            Place::Section(section.id.clone()),
                            ModelFault::NothingEnters,
                        ));
                    }
                    continue;
                }
                Start::Hood(_) => "hood",
                Start::Capped => "cap",
                Start::Leak(_) => "leak",
            };
            if !inlets.is_empty() {
                let inlets = inlets
                    .iter()
                    .map(|&i| system.sections[i].id.clone())
                    .collect();
                faults.push(ModelError::new(
                    Place::Section(section.id.clone()),
                    ModelFault::Occupied { start, inlets },
                ));
            }
        }
    }
}

/// Post-order without recursion: a chain of a hundred thousand sections must not end the stack.
/// Sections on a ring, and what drains into them, are left out.
///
/// The largest subtree comes first: so the branches of a trunk stand between its sections, next to
/// where they join. A sweep that goes from one trunk section to the next has to wait for each, and
/// has the branch to work on meanwhile.
fn upstream_first(inlets: &[Vec<usize>], down: &[Option<usize>]) -> Vec<usize> {
    let any = upstream_by(inlets, down, |_| 0);
    let mut sizes = vec![1_usize; inlets.len()];
    for section in any {
        if let Some(down) = down[section] {
            sizes[down] += sizes[section];
        }
    }
    upstream_by(inlets, down, |section| sizes[section])
}

/// The same with the inlets of larger `size` first.
fn upstream_by(
    inlets: &[Vec<usize>],
    down: &[Option<usize>],
    size: impl Fn(usize) -> usize,
) -> Vec<usize> {
    let mut order = Vec::with_capacity(inlets.len());
    let mut stack: Vec<usize> = (0..inlets.len()).filter(|&i| down[i].is_none()).collect();
    stack.sort_by_key(|&main| Reverse(size(main)));
    while let Some(section) = stack.pop() {
        order.push(section);
        let first = stack.len();
        stack.extend(&inlets[section]);
        stack[first..].sort_by_key(|&inlet| Reverse(size(inlet)));
    }
    order.reverse();
    order
}

/// Names every ring once.
fn rings(system: &System, down: &[Option<usize>], order: &[usize], faults: &mut Vec<ModelError>) {
    let mut seen = vec![0_usize; down.len()];
    for &i in order {
        seen[i] = usize::MAX;
    }
    for first in 0..down.len() {
        let mut at = Some(first);
        let mut path = Vec::new();
        while let Some(i) = at.filter(|&i| seen[i] == 0) {
            seen[i] = first + 1;
            path.push(i);
            at = down[i];
        }
        // Only a walk that ran into its own path has found a ring that is new.
        if let Some(start) = at.and_then(|i| path.iter().position(|&p| p == i)) {
            let sections: Vec<Name> = path[start..]
                .iter()
                .map(|&i| system.sections[i].id.clone())
                .collect();
            faults.push(ModelError::new(
                Place::Section(sections[0].clone()),
                ModelFault::Ring { sections },
            ));
        }
    }
}
