//! Where each section stands: a row for each end of a branch, a step for each join.

use crate::{place::Name, system::System};
use std::collections::HashMap;

/// Where a section stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Spot {
    /// Its index in the model.
    pub(super) section: usize,
    pub(super) row: usize,
    /// Sections between it and the collector.
    pub(super) depth: usize,
    /// Row of the section that it drains into, where that is not its own.
    pub(super) leaves: Option<usize>,
    /// How many take-offs leave the same join before it, in the order of their rows.
    pub(super) before: usize,
    /// Take-offs at its own upstream end.
    pub(super) take_offs: usize,
    /// Take-offs at the join that it drains into, itself among them where it is one.
    pub(super) beside: usize,
    /// Whether nothing drains into it.
    pub(super) leaf: bool,
}

/// A tree that is laid out.
#[derive(Debug)]
pub(super) struct Tree {
    /// Those that reach the collector, each after the one that it drains into.
    pub(super) spots: Vec<Spot>,
    pub(super) rows: usize,
    /// Most sections in a row from a hood to the collector.
    pub(super) depth: usize,
}

impl Tree {
    /// The straight inlet goes on in the row of its outlet, the others take rows below all that is
    /// upstream of it: so no take-off ever crosses a duct.
    pub(super) fn of(system: &System) -> Self {
        let mut inlets: HashMap<Option<&Name>, Vec<usize>> = HashMap::new();
        for (i, section) in system.sections.iter().enumerate() {
            inlets.entry(section.into.as_ref()).or_default().push(i);
        }
        for inlets in inlets.values_mut() {
            // The straight one first; the rest in the order of the model.
            inlets.sort_by_key(|&i| {
                let section = system.sections.get(i);
                section.is_some_and(|section| section.join.angle.is_some())
            });
        }
        let of = |name| upstream(&inlets, name);
        let mut tree = Self {
            spots: Vec::new(),
            rows: 0,
            depth: 0,
        };
        // The last of the list is taken first.
        let mains = of(None).iter().rev();
        let mut open: Vec<Next> = mains.map(|&section| Next::main(section)).collect();
        while let Some(next) = open.pop() {
            let Next {
                section,
                depth,
                outlet,
                nth,
                beside,
            } = next;
            let row = match outlet {
                Some(row) if nth == 0 => row,
                _ => {
                    tree.rows += 1;
                    tree.rows - 1
                }
            };
            let id = system.sections.get(section).map(|section| &section.id);
            let upstream = id.map_or(Default::default(), |id| of(Some(id)));
            tree.spots.push(Spot {
                section,
                row,
                depth,
                leaves: outlet.filter(|_| nth > 0),
                before: nth.saturating_sub(1),
                take_offs: upstream.len().saturating_sub(1),
                beside,
                leaf: upstream.is_empty(),
            });
            tree.depth = tree.depth.max(depth + 1);
            let inlets = upstream.iter().enumerate().rev();
            open.extend(inlets.map(|(nth, &section)| Next {
                section,
                depth: depth + 1,
                outlet: Some(row),
                nth,
                beside: upstream.len().saturating_sub(1),
            }));
            // Two sections of one name would be visited twice, and so on for ever.
            if tree.spots.len() > system.sections.len() {
                break;
            }
        }
        tree
    }
}

/// A section that waits for its row.
struct Next {
    section: usize,
    depth: usize,
    /// Row of the outlet.
    outlet: Option<usize>,
    /// Which of its inlets: the first goes on in its row.
    nth: usize,
    /// Take-offs of the outlet.
    beside: usize,
}

impl Next {
    const fn main(section: usize) -> Self {
        Self {
            section,
            depth: 0,
            outlet: None,
            nth: 0,
            beside: 0,
        }
    }
}

/// What drains into the section of that name, or into the collector.
fn upstream<'m, 'n>(
    inlets: &'m HashMap<Option<&'n Name>, Vec<usize>>,
    name: Option<&'n Name>,
) -> &'m [usize] {
    inlets.get(&name).map_or(&[], Vec::as_slice)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        air::Air,
        bore::Bore,
        loss::Wall,
        quantity::{Angle, Length},
        system::{Collector, Section},
    };

    fn section(id: &str, into: Option<&str>, side: bool) -> Section {
        let mut section = Section::new(id, Bore::Round(Length::from_mm(100.0)), Wall::Galvanised);
        section.into = into.map(Name::from);
        section.join.angle = side.then(|| Angle::from_deg(45.0));
        section
    }

    fn system(sections: Vec<Section>) -> System {
        let collector = Collector {
            before: Vec::new(),
            fan: None,
            after: Vec::new(),
            junction: None,
        };
        let mut system = System::new(Air::standard(), collector);
        system.sections = sections;
        system
    }

    #[test]
    fn prop_the_straight_inlet_keeps_the_row() {
        let system = system(vec![
            section("side", Some("main"), true),
            section("main", None, false),
            section("far side", Some("on"), true),
            section("on", Some("main"), false),
            section("end", Some("on"), false),
        ]);
        let tree = Tree::of(&system);
        let rows: Vec<_> = tree
            .spots
            .iter()
            .map(|s| (s.section, s.row, s.depth))
            .collect();
        // By hand: main, on and end in the first row, the far take-off next, the near one last.
        assert_eq!(
            rows,
            [(1, 0, 0), (3, 0, 1), (4, 0, 2), (2, 1, 2), (0, 2, 1)]
        );
        assert_eq!((tree.rows, tree.depth), (3, 3));
    }

    #[test]
    fn prop_no_model_hangs_it() {
        // Two of one name that drain into themselves, and a ring that never reaches the collector.
        let twice = system(vec![
            section("a", None, false),
            section("a", Some("a"), false),
            section("ring", Some("ring"), false),
        ]);
        assert!(Tree::of(&twice).spots.len() <= 4);
        assert_eq!(Tree::of(&system(Vec::new())).rows, 0);
    }
}
