//! Scratch memory of a solve: owned by the caller, reused, never shrunk.
#![allow(
    clippy::indexing_slicing,
    reason = "legs, hoods and gates are numbered by the plan, and the marks are as many as its legs"
)]

use super::{
    open::OpenSet,
    plan::{NONE, Plan},
    tree::Tree,
};

/// Scratch memory for solving, reused between solves and between networks.
///
/// A plain owned value, so that a program can keep a network and its workspace in one struct.
/// Once it has grown to the size of a network, solving that network allocates nothing.
///
/// ```
/// let mut work = airsplit::Workspace::default();
/// # let _ = &mut work;
/// ```
#[derive(Debug, Clone, Default)]
pub struct Workspace {
    pub(super) tree: Tree,
    /// Where each leg of the plan stands in the tree, or [`NONE`] if it carries no air.
    pub(super) marks: Vec<u32>,
    /// Whether it carries only what a shut gate lets by; empty where no shut gate lets any by.
    shut: Vec<bool>,
    /// One entry for each pass of the last solve.
    pub(super) trace: Vec<Pass>,
    /// Flows by leg of the plan, kept from the balance before.
    before: Vec<f64>,
}

/// Marks a leg that carries air, until it has a place; no bit of it is set.
const LIVE: u32 = 0;

/// What a solve has found for one leg; all zero where no air goes.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct LegState {
    pub(super) live: bool,
    /// Flow \[m3/s\].
    pub(super) q: f64,
    /// Loss, with its own velocity pressure where it meets others by momentum \[Pa\].
    pub(super) dp: f64,
    /// Loss in the wye by formula that it drains into; 0 at any other junction \[Pa\].
    pub(super) wye_dp: f64,
    /// Suction of total pressure at its head \[Pa\].
    pub(super) suction: f64,
    /// Suction shared by the inlets at its head: static where they meet by momentum \[Pa\].
    pub(super) shared: f64,
}

/// How one pass over the tree found things.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct Pass {
    /// Largest step that Newton's method would still take, relative to the flow; in a last pass that
    /// only verifies, a bound of it \[-\].
    pub step: f64,
    /// Whether that step was too long to be taken as it is: each subtree then went on along its own
    /// power law.
    pub bent: bool,
}

/// Marks the legs that carry air, and the gates that are shut. Whether any hood is open, and how many
/// legs there are.
fn mark(plan: &Plan, open: &OpenSet, marks: &mut [u32], shut: &mut Vec<bool>) -> (bool, usize) {
    let mut any = false;
    for hood in open.hoods() {
        let hood = &plan.hoods[hood];
        if !hood.cut_off {
            any = true;
            marks[hood.leg as usize] = LIVE;
        }
    }
    if plan.has_odd_gates {
        shut.resize(plan.legs.len(), false);
        for (i, hood) in plan.hoods.iter().enumerate() {
            if let Some((gate, _)) = hood.leak
                && !hood.cut_off
                && !open.contains(i as u32)
            {
                marks[hood.leg as usize] = LIVE;
                shut[gate as usize] = true;
            }
        }
    }
    for leak in plan.leaks.iter().filter(|leak| !leak.cut_off) {
        marks[leak.leg as usize] = LIVE;
    }
    // What is live makes live what it drains into.
    let mut live = 0;
    for (leg, link) in plan.links.iter().enumerate() {
        live += usize::from(marks[leg] == LIVE);
        marks[link.down as usize] &= marks[leg];
    }
    (any, live)
}

impl Workspace {
    /// Lays out the legs that carry air: those of open hoods, and those of shut ones whose gates
    /// leak. Returns whether any hood is open.
    pub(super) fn prepare(&mut self, plan: &Plan, open: &OpenSet) -> bool {
        let Self {
            tree,
            marks,
            shut,
            trace,
            ..
        } = self;
        trace.clear();
        trace.reserve(super::steps::MOST_PASSES);
        shut.clear();
        let legs = plan.legs.len();
        let all = plan.all_alive && open.len() == plan.hoods.len();
        let (any, live) = if all {
            // Each is given its place as it is laid out.
            marks.resize(legs, LIVE);
            (!plan.hoods.is_empty(), legs)
        } else {
            marks.clear();
            marks.resize(legs, NONE);
            mark(plan, open, marks, shut)
        };
        tree.make_room(plan.links.len());
        tree.lay_out(plan, marks, live);
        if !any {
            // There will be no solve, and the next one might keep what stands.
            tree.q.fill(0.0);
        }
        if plan.has_odd_gates {
            for hood in plan.hoods.iter() {
                if let Some((gate, k2)) = hood.leak
                    && shut[gate as usize]
                {
                    tree.shut(marks[gate as usize], k2);
                }
            }
        }
        any
    }

    /// Keeps the flows that stand; whether there are any of a plan of this size.
    pub(super) fn keep(&mut self, plan: &Plan) -> bool {
        if self.marks.len() != plan.links.len() || self.tree.links.is_empty() {
            return false;
        }
        self.before.clear();
        self.before.resize(self.marks.len(), 0.0);
        for (&leg, &q) in self.tree.legs.iter().zip(&self.tree.q) {
            if let Some(before) = self.before.get_mut(leg as usize) {
                *before = q;
            }
        }
        true
    }

    /// Puts kept flows in the place of those of a start: at the leaves that had any, and sums below.
    pub(super) fn take_up(&mut self) {
        let Self { tree, before, .. } = self;
        for (i, link) in tree.links.iter().enumerate() {
            if !link.is_leaf() {
                continue;
            }
            let leg = tree.legs[i] as usize;
            if let Some(&q) = before.get(leg)
                && q > 0.0
                && q.is_finite()
            {
                tree.q[i] = q;
            }
        }
        tree.add_up();
    }

    /// Where a leg of the plan stands in the tree; beyond its end if it carries no air.
    pub(super) fn at(&self, leg: u32) -> usize {
        self.marks.get(leg as usize).map_or(NONE, |&at| at) as usize
    }

    /// What stands at a leg of the plan.
    pub(super) fn leg(&self, leg: u32) -> LegState {
        let at = self.at(leg);
        let tree = &self.tree;
        let (Some(node), Some(&q), Some(&dp)) =
            (tree.nodes.get(at), tree.q.get(at), tree.runs.dp.get(at))
        else {
            return LegState::default();
        };
        LegState {
            live: true,
            q,
            dp,
            wye_dp: node.wye_dp,
            suction: node.suction,
            shared: node.shared,
        }
    }

    /// Whether a leg of the plan carries only what a shut gate lets by.
    pub(super) fn is_shut(&self, leg: u32) -> bool {
        self.shut.get(leg as usize).is_some_and(|&shut| shut)
    }

    /// Total flow that stands in the workspace; 0 before a start.
    pub(super) fn total(&self) -> f64 {
        self.tree.total()
    }

    /// Scales every flow.
    pub(super) fn scale_flows(&mut self, by: f64) {
        let legs = self.tree.links.len();
        self.tree.q.iter_mut().take(legs).for_each(|q| *q *= by);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        loss::{Gate, Part},
        solve::{
            Network,
            by_hand::{FALLING, ready, system},
        },
    };

    #[test]
    fn flows_are_kept_for_plans_of_the_same_size() {
        let (network, open) = ready(FALLING, None);
        let mut work = Workspace::default();
        assert!(!work.keep(network.plan()));
        network.solve(&open, &mut work).unwrap();
        assert!(work.keep(network.plan()));
        let mut smaller = system(FALLING, None);
        smaller.sections.pop();
        let smaller = Network::new(&smaller).unwrap();
        assert!(!work.keep(smaller.plan()));
    }

    /// A hood that is opened starts where a start puts it: nothing was kept of it.
    #[test]
    fn only_flows_that_there_were_are_taken_up() {
        let mut system = system(FALLING, None);
        let last = system.sections.last_mut().unwrap();
        last.parts[0] = Part::Gate(Gate {
            opening: 1.0,
            leak_area: None,
        });
        let network = Network::new(&system).unwrap();
        let one = network.open(["long", "short"]).unwrap();
        let mut work = Workspace::default();
        network.solve(&one, &mut work).unwrap();
        let before = work.tree.clone();
        assert!(work.keep(network.plan()));
        let all = network.open_all();
        assert!(work.prepare(network.plan(), &all));
        let drive = super::super::newton::Drive::Flow(0.3);
        super::super::start::start(&mut work.tree, &drive);
        let started = work.tree.clone();
        work.take_up();
        let (mut kept, mut new) = (0, 0);
        for (i, &leg) in work.tree.legs.iter().enumerate() {
            if !work.tree.links[i].is_leaf() {
                continue;
            }
            let expected = match before.legs.iter().position(|&other| other == leg) {
                Some(at) => before.q[at],
                None => {
                    new += 1;
                    started.q[i]
                }
            };
            kept += usize::from(expected != started.q[i]);
            assert_eq!(work.tree.q[i], expected);
        }
        assert!(kept > 1 && new == 1, "{kept} {new}");
    }

    #[test]
    fn every_flow_is_scaled() {
        let (network, open) = ready(FALLING, None);
        let mut work = Workspace::default();
        network.solve(&open, &mut work).unwrap();
        let n = work.tree.links.len();
        let before = work.tree.q[..n].to_vec();
        work.scale_flows(3.0);
        for (q, before) in work.tree.q.iter().zip(&before) {
            assert_eq!(*q, 3.0 * before);
        }
    }
}
