//! The part of the plan that carries air, laid out in one piece for a solve, and one sweep each way.
//!
//! Only live legs are here, each after all those upstream of it. What every leg does by itself
//! (its friction) stands in arrays; what legs do to each other stands in [`Node`]s.
//!
//! Going downstream, every subtree's flow is linearised as a function of the suction S at its
//! downstream end, q = a + b S. A hood whose loss is dp, with slope s, has b = 1/s and
//! a = q - b dp. Where inlets j meet at the head of a leg,
//!
//! ```text
//! b = B / (1 + sum w b),   a = A - b (sum w a + e),   B = sum b,   A = sum a,
//! w = s + g,   g = 2 (kc Q - c q),   e = dp - s Q - (kc Q^2 - sum c q^2)
//! ```
//!
//! At a momentum junction the inlets share one static suction S, and the outlet's total suction is
//! h = S + kc Q^2 - sum c q^2, whose slope against inlet j is g; that form is homogeneous of
//! degree two, so sum g q = 2 (h - S). A plain joint has c = kc = 0. The fan closes the root, and
//! the flows follow going upstream. Flows come from node balances, S = (Q - A) / B, never from
//! subtracting two large suctions, which would lose digits where the main eats nearly all of it.
//!
//! 1 + sum g b >= (1 - sum A_j / A_c)^2 >= 0 by Cauchy's inequality, and the operator is monotone
//! (loss/junction.rs), so the sweep never divides by zero on a tree whose legs lose something.
//! From one b to the next there is one division: along a trunk nothing else keeps the processor
//! waiting.
#![allow(
    clippy::indexing_slicing,
    reason = "the arrays of a tree are of one length, its number of legs, and `prepare` numbers the legs"
)]

use super::{
    newton::{At, Worst},
    plan::{LegStart, Link, NONE, Plan, WyePlan},
};
use crate::loss::runs::Runs;
use std::ops::Range;

/// Asked of steps, relative.
pub(super) const TOLERANCE: f64 = 1e-12;

/// Below this share of the total flow a leg's step is judged against the total.
const SMALL_FLOW: f64 = 1e-9;

/// Smallest slope that is divided by: an inlet without loss is stiff, not impossible.
pub(super) const LEAST_SLOPE: f64 = 1e-30;

/// A step of more than this share of a flow is not believed as it is; see [`Tree::bend`].
const FAR: f64 = 0.3;

/// A step of less than this share is.
const NEAR: f64 = 0.1;

/// What a subtree keeps of its flow where the linear model would turn it back.
const KEPT: f64 = 0.1;

/// Smallest flow of a leg \[m3/s\]: far below anything that is asked for, and its square is still a
/// number. In deep trees of narrow duct the last hoods get 1e-180 of the whole, and less.
pub(super) const LEAST_FLOW: f64 = 1e-150;

/// The live legs.
#[derive(Debug, Clone, Default)]
pub(super) struct Tree {
    pub(super) runs: Runs,
    /// Flows \[m3/s\], and those that Newton's method wants next.
    pub(super) q: Vec<f64>,
    pub(super) next: Vec<f64>,
    /// How they hang together; `down` counts here, and the root's is itself.
    pub(super) links: Vec<Link>,
    pub(super) nodes: Vec<Node>,
    /// Where each stands in the plan.
    pub(super) legs: Vec<u32>,
    /// Leaks among them: leg here, leak of the plan.
    leaks: Vec<(u32, u32)>,
}

/// What a solve knows of a leg besides its flow and loss.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Node {
    /// Flow as a function of the suction at its downstream end: a + b S.
    pub(super) a: f64,
    pub(super) b: f64,
    pub(super) inlets: Inlets,
    /// Loss in the wye by formula that it drains into; 0 at any other junction \[Pa\].
    pub(super) wye_dp: f64,
    /// Suction of total pressure at its head \[Pa\].
    pub(super) suction: f64,
    /// Suction shared by the inlets at its head: static where they meet by momentum \[Pa\].
    pub(super) shared: f64,
    /// The same on the linearised tree.
    next_shared: f64,
}

/// Sums over the inlets that meet at the head of a leg.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Inlets {
    /// Sum of flows.
    pub(super) q: f64,
    /// Sum of momentum terms c q^2 \[Pa\].
    pub(super) momentum: f64,
    /// Sums of a, b, w a and w b.
    pub(super) a: f64,
    pub(super) b: f64,
    pub(super) wa: f64,
    pub(super) wb: f64,
}

impl Inlets {
    #[inline]
    fn add(&mut self, other: &Self) {
        self.q += other.q;
        self.momentum += other.momentum;
        self.a += other.a;
        self.b += other.b;
        self.wa += other.wa;
        self.wb += other.wb;
    }
}

/// What the way from the root to the hoods has shown.
pub(super) struct Down {
    /// Pressure that drives the tree \[Pa\].
    pub(super) pressure: f64,
    /// Whether some step is too long to be believed.
    pub(super) far: bool,
    pub(super) worst: Worst,
}

impl Tree {
    /// Forgets every leg; makes room for those of a whole plan, so that a set with more hoods open
    /// finds room too.
    pub(super) fn clear(&mut self, room: usize) {
        fn empty<T>(list: &mut Vec<T>, room: usize) {
            list.clear();
            list.reserve(room);
        }
        self.runs.clear(room);
        empty(&mut self.links, room);
        empty(&mut self.legs, room);
        empty(&mut self.leaks, room);
        empty(&mut self.nodes, room);
        empty(&mut self.q, room);
        empty(&mut self.next, room);
    }

    /// Adds legs that stand side by side in the plan; those upstream of them were added before.
    pub(super) fn extend(&mut self, plan: &Plan, range: Range<usize>) {
        self.runs.extend(&plan.laws, range.clone());
        if let Some(links) = plan.links.get(range.clone()) {
            self.links.extend_from_slice(links);
        }
        self.legs.extend(range.map(|leg| leg as u32));
    }

    /// Ends adding: `live` tells where a leg of the plan stands here.
    pub(super) fn finish(&mut self, live: impl Fn(u32) -> u32) {
        for (i, link) in self.links.iter_mut().enumerate() {
            link.down = live(link.down);
            if let LegStart::Leak(leak) = link.start {
                self.leaks.push((i as u32, leak));
            }
        }
        self.runs.finish();
        let legs = self.links.len();
        self.nodes.resize(legs, Node::default());
        self.q.resize(legs, 0.0);
        self.next.resize(legs, 0.0);
    }

    /// Shuts the gates of a leg: what that adds to its law.
    pub(super) fn shut(&mut self, at: u32, k2: f64) {
        self.runs.add_k2(at as usize, k2);
        if let Some(link) = self.links.get_mut(at as usize) {
            link.freeze(link.frozen + k2);
        }
    }

    /// Total flow.
    pub(super) fn total(&self) -> f64 {
        self.q.last().copied().unwrap_or(0.0)
    }

    /// Losses and slopes at the present flows; whether the carried friction has settled.
    pub(super) fn losses(&mut self, plan: &Plan) -> bool {
        let legs = &self.legs;
        let law = |run: usize| &plan.legs[legs[run] as usize].law;
        let settled = self.runs.losses(&self.q, law);
        for &(run, leak) in &self.leaks {
            let run = run as usize;
            let sloped = plan.leaks[leak as usize].law.pressure(self.q[run]);
            self.runs.dp[run] = sloped.value;
            self.runs.slope[run] = sloped.slope;
        }
        settled
    }

    /// The elimination, from the hoods to the root; returns a and b there.
    pub(super) fn upward(&mut self, plan: &Plan, live: impl Fn(u32) -> u32) -> (f64, f64) {
        let n = self.nodes.len();
        let (links, nodes) = (&self.links[..n], &mut self.nodes[..n]);
        let (flows, losses, slopes) = (&self.q[..n], &self.runs.dp[..n], &self.runs.slope[..n]);
        let mut root = (0.0, 0.0);
        // The leg before a leg is nearly always its last inlet: what that one brings need not go
        // through memory, which a trunk would wait for at every leg.
        let mut near = (usize::MAX, Inlets::default());
        for i in 0..n {
            let link = &links[i];
            let (q, dp, slope) = (flows[i], losses[i], slopes[i]);
            let (a, b) = if link.is_leaf() {
                let b = slope.max(LEAST_SLOPE).recip();
                (q - dp * b, b)
            } else {
                let mut at = nodes[i].inlets;
                if near.0 == i {
                    at.add(&near.1);
                }
                if link.wye != NONE {
                    let (a, b) = couple(&plan.wyes[link.wye as usize], nodes, flows, &live);
                    (at.a, at.b, at.wa, at.wb) = (a, b, slope * a, slope * b);
                }
                nodes[i].inlets = at;
                let b = at.b / (1.0 + at.wb);
                let e = dp - slope * q - (link.outlet_head * q * q - at.momentum);
                (at.a - b * (at.wa + e), b)
            };
            nodes[i].a = a;
            nodes[i].b = b;
            root = (a, b);
            let down = link.down as usize;
            if down != i {
                let g = 2.0 * (links[down].outlet_head * flows[down] - link.momentum * q);
                let w = slopes[down] + g;
                let brings = Inlets {
                    q,
                    momentum: link.momentum * q * q,
                    a,
                    b,
                    wa: w * a,
                    wb: w * b,
                };
                if down == i + 1 {
                    near = (down, brings);
                } else {
                    nodes[down].inlets.add(&brings);
                }
            }
        }
        root
    }

    /// From the root, where the pressure pulls and the next total flow is known, to the hoods,
    /// where no suction should be left over: suctions, and Newton's steps.
    ///
    /// Without a given pressure it is what the paths lose, averaged with the flows as weights:
    /// power over flow.
    pub(super) fn downward(&mut self, given: Option<f64>, total: f64) -> Down {
        let n = self.nodes.len();
        let (links, nodes, legs) = (&self.links[..n], &mut self.nodes[..n], &self.legs[..n]);
        let (q, dp, next) = (&self.q[..n], &self.runs.dp[..n], &mut self.next[..n]);
        let small = SMALL_FLOW * total.abs();
        let pressure = given.unwrap_or(0.0);
        let mut down = Down {
            pressure,
            far: false,
            worst: Worst::default(),
        };
        let worst = &mut down.worst;
        // What the leg before found, as in `upward`.
        let mut near = (usize::MAX, 0.0, 0.0);
        for i in (0..n).rev() {
            let link = &links[i];
            let below = link.down as usize;
            let (shared, next_shared) = if below == near.0 {
                (near.1, near.2)
            } else {
                (nodes[below].shared, nodes[below].next_shared)
            };
            let node = &mut nodes[i];
            let (shared, to) = if below == i {
                (pressure, total)
            } else {
                (shared, node.a + node.b * next_shared)
            };
            let q = q[i];
            let suction = shared - node.wye_dp - dp[i];
            node.suction = suction;
            if link.is_leaf() {
                worst.pressure.raise(suction.abs(), legs[i]);
            } else {
                let at = &mut node.inlets;
                node.shared = suction - link.outlet_head * q * q + at.momentum;
                // Its own flow comes last; the division need not wait for it.
                node.next_shared = (to - at.a) * at.b.recip();
                worst.balance.raise((at.q - q).abs(), legs[i]);
                near = (i, node.shared, node.next_shared);
                *at = Inlets::default();
            }
            next[i] = to;
            let step = (to - q).abs();
            let flow = q.abs().max(small);
            // A division only where it can tell; a NaN fails the comparison and is told.
            let within = step <= worst.step.value * flow;
            if !within {
                worst.step.raise(step / flow, legs[i]);
            }
            down.far |= step > FAR * q;
        }
        if given.is_none() {
            self.level(&mut down);
        }
        down
    }

    /// Whether the steps are no more than what rounding can bring about: `noise` in the pressures
    /// moves a flow by its slope against suction.
    pub(super) fn is_rounded(&self, noise: f64) -> bool {
        let small = SMALL_FLOW * self.total().abs();
        let flows = self.q.iter().zip(&self.next);
        flows.zip(&self.nodes).all(|((q, next), node)| {
            (next - q).abs() <= TOLERANCE * q.abs().max(small) + noise * node.b
        })
    }

    /// Lifts all suctions so that what is left over at the leaves averages to nothing, with the
    /// flows as weights.
    fn level(&mut self, down: &mut Down) {
        let (mut power, mut flow) = (0.0, 0.0);
        for ((link, node), q) in self.links.iter().zip(&self.nodes).zip(&self.q) {
            if link.is_leaf() {
                power -= q * node.suction;
                flow += q;
            }
        }
        down.pressure = power / flow;
        down.worst.pressure = At::default();
        for ((link, node), &leg) in self.links.iter().zip(&mut self.nodes).zip(&self.legs) {
            node.suction += down.pressure;
            node.shared += down.pressure;
            if link.is_leaf() {
                down.worst.pressure.raise(node.suction.abs(), leg);
            }
        }
    }

    /// Makes every flow the sum of those of its leaves.
    pub(super) fn add_up(&mut self) {
        let (links, q, sums) = (&self.links, &mut self.q, &mut self.next);
        sums.fill(0.0);
        for (i, link) in links.iter().enumerate() {
            if !link.is_leaf() {
                q[i] = sums[i];
            }
            let down = link.down as usize;
            if down != i {
                sums[down] += q[i];
            }
        }
    }

    /// Goes a share of the way only.
    pub(super) fn shorten(&mut self, share: f64) {
        for (next, q) in self.next.iter_mut().zip(&self.q) {
            *next = q + share * (*next - q);
        }
    }

    /// Moves the flows to where Newton's method wants them, to the last bit.
    pub(super) fn advance(&mut self) {
        std::mem::swap(&mut self.q, &mut self.next);
    }

    /// Bends steps that are too long to be believed, before they are taken.
    ///
    /// A subtree's loss goes with a power n of its flow, from 1 (laminar) to 2. At the present
    /// flow q the linear model says what n is: its suction there is (q - a)/b and grows by 1/b,
    /// so that 1/n = (q - a)/q. Hence the flow goes to q (S_next/S)^(1/n), in first order the
    /// same step; where the model turns the flow back it keeps a tenth. Then every junction
    /// hands its outlet's flow to its inlets in the ratio of what they would take: the balance
    /// stays, and no flow turns.
    pub(super) fn bend(&mut self) {
        let n = self.nodes.len();
        let (q, next) = (&self.q[..n], &mut self.next[..n]);
        for i in (0..n).rev() {
            let node = &self.nodes[i];
            let from = q[i] - node.a;
            let to = next[i] - node.a;
            let q = q[i];
            let near = (next[i] - q).abs() < NEAR * q;
            if !near {
                next[i] = if from > 0.0 && to > 0.0 {
                    q * (to / from).powf((from / q).clamp(0.5, 1.0))
                } else {
                    next[i].max(KEPT * q)
                };
            }
            next[i] = next[i].max(LEAST_FLOW);
            let down = self.links[i].down as usize;
            if down != i {
                self.nodes[down].inlets.q += next[i];
            }
        }
        for i in (0..n).rev() {
            let down = self.links[i].down as usize;
            if down != i {
                let handed = next[i] * (next[down] / self.nodes[down].inlets.q);
                next[i] = handed.max(LEAST_FLOW);
            }
        }
        for node in &mut self.nodes {
            node.inlets.q = 0.0;
        }
    }
}

/// Turns the flows of both inlets of a wye by formula into functions of the outlet's suction.
///
/// An inlet's own suction is that of the outlet less its loss dP. With q = a + b (h - dP) and dP
/// homogeneous of degree two, so that J q = 2 dP, both flows solve
/// (I + diag(b) J) q = a + b dP + b h. A dead inlet has a = b = 0 and stays at rest. Returns the
/// sums of the new a and b.
fn couple(wye: &WyePlan, nodes: &mut [Node], q: &[f64], live: &impl Fn(u32) -> u32) -> (f64, f64) {
    let at = |leg: u32| live(leg) as usize;
    let of = |leg: u32| {
        let node = nodes.get(at(leg));
        node.map_or((0.0, 0.0, 0.0), |node| (q[at(leg)], node.a, node.b))
    };
    let (branch_q, branch_a, branch_b) = of(wye.branch);
    let (straight_q, straight_a, straight_b) = of(wye.straight);
    let loss = wye.law.at(branch_q, straight_q);
    let (b, s) = (loss.branch, loss.straight);
    let bb = 1.0 + branch_b * b.by_branch;
    let bs = branch_b * b.by_straight;
    let sb = straight_b * s.by_branch;
    let ss = 1.0 + straight_b * s.by_straight;
    let scale = (bb * ss - bs * sb).recip();
    let solve = |at_branch: f64, at_straight: f64| {
        (
            (ss * at_branch - bs * at_straight) * scale,
            (bb * at_straight - sb * at_branch) * scale,
        )
    };
    let a = solve(
        branch_a + branch_b * b.dp_pa,
        straight_a + straight_b * s.dp_pa,
    );
    let slope = solve(branch_b, straight_b);
    for (leg, a, b, dp) in [
        (wye.branch, a.0, slope.0, b.dp_pa),
        (wye.straight, a.1, slope.1, s.dp_pa),
    ] {
        if let Some(node) = nodes.get_mut(at(leg)) {
            node.a = a;
            node.b = b;
            node.wye_dp = dp;
        }
    }
    (a.0 + a.1, slope.0 + slope.1)
}
