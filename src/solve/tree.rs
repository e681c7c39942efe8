//! The part of the plan that carries air, laid out in one piece for a solve.
//!
//! Only live legs are here, each after all those upstream of it. What every leg does by itself
//! (its friction) stands in arrays; what legs do to each other stands in [`Node`]s. The sweeps over
//! them are in elimination.rs.
#![allow(
    clippy::indexing_slicing,
    reason = "the arrays of a tree are of one length, its number of legs, and `prepare` numbers the legs"
)]

use super::plan::{LegStart, Link, NONE, Plan};
use crate::loss::runs::Runs;

/// Asked of steps, relative.
pub(super) const TOLERANCE: f64 = 1e-12;

/// Below this share of the total flow a leg's step is judged against the total.
const SMALL_FLOW: f64 = 1e-9;

/// What a step is judged against at least.
pub(super) fn small_flow(total: f64) -> f64 {
    SMALL_FLOW * total.abs()
}

/// Smallest slope that is divided by: an inlet without loss is stiff, not impossible.
pub(super) const LEAST_SLOPE: f64 = 1e-30;

/// A step of more than this share of a flow is not believed as it is; see [`Tree::bend`].
pub(super) const FAR: f64 = 0.3;

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
    /// By how much the flows of the inlets are above their outlet's, once that was asked.
    pub(super) surplus: Vec<f64>,
    /// How they hang together; `down` counts here, and the root's is itself.
    pub(super) links: Vec<Link>,
    pub(super) nodes: Vec<Node>,
    /// Where each stands in the plan.
    pub(super) legs: Vec<u32>,
    /// Piece of the fan's curve where it was met last: looked at first.
    pub(super) piece: usize,
    /// Leaks among them: leg here, leak of the plan.
    leaks: Vec<(u32, u32)>,
}

/// What a solve knows of a leg besides its flow and loss: one line of the processor's cache, since in
/// a large tree a sweep takes as long as these take to come.
///
/// Sums over inlets that do not stand right before their outlet are put aside where its own results
/// will stand later in the same sweep. Of two neighbours that a sweep hands down the compiler would make
/// one number, and the next leg would have to wait for the later of them: so none are neighbours but the
/// last two, of which the one is long known when the other comes.
#[derive(Debug, Clone, Copy, Default)]
#[repr(C, align(64))]
pub(super) struct Node {
    /// Flow as a function of the suction at its downstream end: a + b S.
    pub(super) a: f64,
    /// Loss in the wye by formula that it drains into; 0 at any other junction \[Pa\].
    pub(super) wye_dp: f64,
    pub(super) b: f64,
    /// Suction of total pressure at its head \[Pa\]; before its path is walked, what that gains where
    /// the inlets meet: sum c q^2 - kc Q^2.
    pub(super) suction: f64,
    /// One over the sum of the inlets' b, and the sum of their a.
    pub(super) over_inlets_b: f64,
    /// Whether sums were put aside; false between sweeps.
    met: bool,
    pub(super) inlets_a: f64,
    /// Suction shared by the inlets at its head: static where they meet by momentum \[Pa\]; before its
    /// path is walked, that of the linearised tree.
    pub(super) shared: f64,
}

impl Node {
    /// Puts aside what inlets bring, on top of what was.
    #[inline]
    pub(super) fn meet(&mut self, bring: &Inlets) {
        let mut sum = *bring;
        self.take_up(&mut sum);
        (self.b, self.over_inlets_b) = (sum.b, sum.wb);
        (self.a, self.inlets_a) = (sum.a, sum.wa);
        self.shared = sum.uq;
        self.met = true;
    }

    /// Adds what was put aside.
    #[inline]
    pub(super) fn take_up(&mut self, at: &mut Inlets) {
        if self.met {
            self.met = false;
            at.b += self.b;
            at.wb += self.over_inlets_b;
            at.a += self.a;
            at.wa += self.inlets_a;
            at.uq += self.shared;
        }
    }

    /// Puts two sums aside, on top of what they were; the linear function of the leg stays.
    #[inline]
    pub(super) fn put_sums(&mut self, mut draw: f64, mut momentum: f64) {
        self.take_up_sums(&mut draw, &mut momentum);
        (self.suction, self.shared, self.met) = (draw, momentum, true);
    }

    /// Adds two sums that were put aside.
    #[inline]
    pub(super) fn take_up_sums(&mut self, draw: &mut f64, momentum: &mut f64) {
        if self.met {
            self.met = false;
            *draw += self.suction;
            *momentum += self.shared;
        }
    }
}

/// Sums over the inlets that meet at the head of a leg.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Inlets {
    /// Sums of a, b, w a and w b.
    pub(super) a: f64,
    pub(super) b: f64,
    pub(super) wa: f64,
    pub(super) wb: f64,
    /// Sum of momentum terms twice, 2 c q^2 \[Pa\].
    pub(super) uq: f64,
}

impl Inlets {
    #[inline]
    pub(super) fn add(&mut self, other: &Self) {
        self.a += other.a;
        self.b += other.b;
        self.wa += other.wa;
        self.wb += other.wb;
        self.uq += other.uq;
    }
}

impl Tree {
    /// Makes room for all legs of a plan, so that a set with more hoods open finds room too.
    ///
    /// Arrays never shrink: what a solve does not write before it reads, it never reads.
    pub(super) fn make_room(&mut self, legs: usize) {
        if legs <= self.nodes.len() {
            return;
        }
        self.runs.make_room(legs);
        self.links.reserve(legs - self.links.len());
        self.legs.reserve(legs - self.legs.len());
        self.leaks.reserve(legs - self.leaks.len());
        self.nodes.resize(legs, Node::default());
        for flows in [&mut self.q, &mut self.next, &mut self.surplus] {
            flows.resize(Runs::in_pairs(legs), 0.0);
        }
    }

    /// Lays out the marked legs of the plan, of which there are so many, each after all those
    /// upstream of it, and marks them with where they stand here. No flow stands before a start.
    pub(super) fn lay_out(&mut self, plan: &Plan, marks: &mut [u32], n: usize) {
        self.legs.resize(n, 0);
        self.links.resize(n, Link::default());
        if n == marks.len() {
            // A tree that is all alive, as most that are asked for, is copied as it is.
            self.links.copy_from_slice(&plan.links);
            self.runs.lay_out_all(&plan.laws);
            for (at, (leg, mark)) in self.legs.iter_mut().zip(marks).enumerate() {
                (*leg, *mark) = (at as u32, at as u32);
            }
        } else {
            self.lay_out_some(plan, marks);
        }
        // A total of 0 says that no flow stands yet (crossing.rs asks).
        if let Some(root) = self.q[..n].last_mut() {
            *root = 0.0;
        }
        // What the runs ask for.
        for flows in [&mut self.q, &mut self.next] {
            if let Some(fellow) = flows.get_mut(n) {
                *fellow = 1.0;
            }
        }
        self.leaks.clear();
        if !plan.leaks.is_empty() {
            for (i, link) in self.links.iter().enumerate() {
                if let LegStart::Leak(leak) = link.start {
                    self.leaks.push((i as u32, leak));
                }
            }
        }
    }

    /// From the root on, so that where a leg drains to is known when its turn comes.
    fn lay_out_some(&mut self, plan: &Plan, marks: &mut [u32]) {
        let mut runs = self.runs.lay_out(self.legs.len());
        let places = self.legs.iter_mut().zip(&mut self.links).enumerate();
        let mut places = places.rev();
        for leg in (0..marks.len()).rev() {
            if marks[leg] == NONE {
                continue;
            }
            let (Some((at, (live, link))), Some(law)) = (places.next(), plan.laws.of(leg)) else {
                break;
            };
            marks[leg] = at as u32;
            *live = leg as u32;
            *link = plan.links[leg];
            link.down = marks[link.down as usize];
            runs.put(at, law);
        }
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
        let root = self.links.len().checked_sub(1);
        root.and_then(|root| self.q.get(root))
            .copied()
            .unwrap_or(0.0)
    }

    /// Losses and slopes at the present flows; whether the carried friction has settled.
    #[inline]
    pub(super) fn losses(&mut self, plan: &Plan) -> bool {
        let legs = &self.legs;
        let law = |run: usize| &plan.legs[legs[run] as usize].law;
        let settled = self.runs.losses(&self.q, law);
        if !self.leaks.is_empty() {
            self.leak(plan);
        }
        settled
    }

    /// Losses and slopes of the leaks.
    #[inline(never)]
    fn leak(&mut self, plan: &Plan) {
        for &(run, leak) in &self.leaks {
            let run = run as usize;
            let sloped = plan.leaks[leak as usize].law.pressure(self.q[run]);
            self.runs.dp[run] = sloped.value;
            self.runs.slope[run] = sloped.slope;
        }
    }

    /// Whether the steps are no more than what rounding can bring about: such a share of the pressure
    /// that drives the tree, in the suctions, moves a flow by its slope against suction.
    pub(super) fn is_rounded(&self, share: f64, pressure: f64) -> bool {
        let noise = share * pressure;
        let small = small_flow(self.total());
        let n = self.links.len();
        let flows = self.q[..n].iter().zip(&self.next);
        flows.zip(&self.nodes).all(|((q, next), node)| {
            (next - q).abs() <= TOLERANCE * q.abs().max(small) + noise * node.b
        })
    }

    /// Makes every flow the sum of those of its leaves.
    pub(super) fn add_up(&mut self) {
        let (links, q, sums) = (&self.links, &mut self.q, &mut self.next);
        sums[..links.len()].fill(0.0);
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
        let n = self.links.len();
        let (q, next) = (&self.q[..n], &mut self.next[..n]);
        // What the inlets would take in all. Their surplus will stand there, but is not yet asked for.
        let asked = &mut self.surplus[..n];
        asked.fill(0.0);
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
                asked[down] += next[i];
            }
        }
        for i in (0..n).rev() {
            let down = self.links[i].down as usize;
            if down != i {
                let handed = next[i] * (next[down] / asked[down]);
                next[i] = handed.max(LEAST_FLOW);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::solve::{
        Workspace,
        by_hand::{FALLING, ready},
    };

    #[test]
    fn a_small_flow_is_a_share_of_the_whole() {
        assert_eq!(small_flow(2.0), 2.0 * SMALL_FLOW);
        assert_eq!(small_flow(-2.0), 2.0 * SMALL_FLOW);
    }

    /// A step is rounding if it is no more than the tolerance of its flow and what the noise moves
    /// it by.
    #[test]
    fn steps_that_rounding_explains() {
        let (network, open) = ready(FALLING, None);
        let mut work = Workspace::default();
        assert!(work.prepare(network.plan(), &open));
        let tree = &mut work.tree;
        let n = tree.links.len();
        for at in [0, n - 1] {
            for (q, stepped, slope, noise, rounded) in [
                (2.0, 1.9e-12, 0.0, 1.0, true),
                (2.0, 2.1e-12, 0.0, 1.0, false),
                (2.0, -1.9e-12, 0.0, 1.0, true),
                (2.0, -2.1e-12, 0.0, 1.0, false),
                (2.0, 7.9e-9, 4.0, 2e-9, true),
                (2.0, 8.1e-9, 4.0, 2e-9, false),
                // Next to nothing: by the whole, 1e-9 of it.
                (1e-15, 1.9e-21, 0.0, 1.0, true),
                (1e-15, 2.1e-21, 0.0, 1.0, false),
                (2.0, f64::NAN, 4.0, 1.0, false),
            ] {
                if q < 1.0 && at == n - 1 {
                    continue;
                }
                tree.q[..n].fill(2.0);
                tree.next[..n].fill(2.0);
                (tree.q[at], tree.next[at]) = (q, q + stepped);
                tree.nodes[at].b = slope;
                let next = tree.next[at] - q;
                let told = tree.is_rounded(0.25 * noise, 4.0);
                assert_eq!(told, rounded, "{at} {q} {next:e}");
            }
        }
    }
}
