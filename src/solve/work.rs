//! Scratch memory of a solve: owned by the caller, reused, never shrunk.

use super::{
    open::OpenSet,
    plan::{LegStart, Plan},
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
    pub(super) legs: Vec<LegState>,
    /// Legs that carry air, each after all those upstream of it.
    pub(super) live: Vec<u32>,
    /// One entry for each pass of the last solve.
    pub(super) trace: Vec<Pass>,
}

/// What a solve knows of one leg.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct LegState {
    /// Flow \[m3/s\].
    pub(super) q: f64,
    /// Flow that Newton's method wants next, and its difference from `q`.
    pub(super) next: f64,
    pub(super) newton: f64,
    /// The step that was taken last, at full length.
    pub(super) step: f64,
    /// Carried Colebrook F.
    pub(super) carry: f64,
    /// Whether it carries only what a shut gate lets by.
    pub(super) shut: bool,
    /// What that gate adds to its law; 0 at an open hood \[Pa s2/m6\].
    pub(super) shut_k2: f64,
    /// Loss at `q`, with its own velocity pressure where it meets others by momentum \[Pa\].
    pub(super) dp: f64,
    /// Slope of that loss \[Pa s/m3\].
    pub(super) slope: f64,
    /// Flow as a function of the suction at its downstream end: a + b S.
    pub(super) a: f64,
    pub(super) b: f64,
    /// Sums over the inlets of its head.
    pub(super) inlets: Inlets,
    /// Loss in the wye by formula that it drains into; 0 at any other junction \[Pa\].
    pub(super) wye_dp: f64,
    /// Suction of total pressure at its head \[Pa\].
    pub(super) suction: f64,
    /// Suction shared by the inlets at its head: static where they meet by momentum \[Pa\].
    pub(super) shared: f64,
    /// The same on the linearised tree.
    pub(super) next_shared: f64,
    pub(super) live: bool,
}

/// Sums over the inlets that meet at the head of a leg.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Inlets {
    /// Sum of flows.
    pub(super) q: f64,
    /// Sum of momentum terms c q^2 \[Pa\].
    pub(super) momentum: f64,
    /// Sums of a, b, g (a - q/2) and g b; g is the slope of the junction against the inlet's flow.
    pub(super) a: f64,
    pub(super) b: f64,
    pub(super) ga: f64,
    pub(super) gb: f64,
}

/// How one pass over the tree found things.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct Pass {
    /// Largest imbalance of pressure on any open path, relative to the fan's pressure at rest (to
    /// the system's pressure where the flow is imposed) \[-\].
    pub pressure: f64,
    /// Largest step that Newton's method would still take, relative to the flow \[-\].
    pub step: f64,
    /// Share of that step that was taken \[-\].
    pub taken: f64,
}

impl Workspace {
    /// Makes room for a plan and marks the legs that carry air: those of open hoods, and those of
    /// shut ones whose gates leak. Returns whether any hood is open.
    pub(super) fn prepare(&mut self, plan: &Plan, open: &OpenSet) -> bool {
        self.trace.clear();
        self.trace.reserve(super::newton::MOST_PASSES);
        self.legs.clear();
        self.legs.resize(plan.legs.len(), LegState::default());
        self.live.clear();
        self.live.reserve(plan.legs.len());
        let mut any = false;
        for (i, leg) in plan.legs.iter().enumerate() {
            match leg.start {
                LegStart::Legs => {}
                LegStart::Leak(leak) => {
                    self.legs[i].live = !plan.leaks[leak as usize].cut_off;
                }
                LegStart::Hood(hood) => {
                    let at = &plan.hoods[hood as usize];
                    if at.cut_off {
                        continue;
                    }
                    if open.contains(hood) {
                        any = true;
                        self.legs[i].live = true;
                    } else if let Some((gate, k2)) = at.leak {
                        let gate = &mut self.legs[gate as usize];
                        (gate.shut, gate.shut_k2) = (true, k2);
                        self.legs[i].live = true;
                    }
                }
            }
            if self.legs[i].live {
                self.live.push(i as u32);
                self.legs[leg.down as usize].live = true;
            }
        }
        any
    }

    /// Total flow that stands in the workspace; 0 before a start.
    pub(super) fn total(&self) -> f64 {
        self.live
            .last()
            .map_or(0.0, |&root| self.legs[root as usize].q)
    }

    /// Scales every flow.
    pub(super) fn scale_flows(&mut self, by: f64) {
        for &i in &self.live {
            self.legs[i as usize].q *= by;
        }
    }
}
