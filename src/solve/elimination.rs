//! One sweep each way over the tree: all of Newton's step in one elimination.
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
//!
//! A good part of the time of a solve is spent here, waiting: for one leg's b before the next one's
//! can be divided for. So what inlets bring stands side by side in registers where it can, divisions are
//! made where nothing waits for them, and largest residuals are kept without branches.
#![allow(
    clippy::indexing_slicing,
    reason = "the arrays of a tree are of one length, its number of legs, and `prepare` numbers the legs"
)]

use super::{
    plan::{NONE, Plan, WyePlan},
    residual::Largest,
    tree::{FAR, Inlets, LEAST_SLOPE, Node, Tree, small_flow},
};

/// What the way from the hoods to the root has shown.
pub(super) struct Up {
    /// Total flow as a function of the pressure at the root: a + b p.
    pub(super) a: f64,
    pub(super) b: f64,
}

/// What the way from the root to the hoods has shown.
pub(super) struct Down {
    /// Largest step, relative to the flow.
    pub(super) step: f64,
    /// Whether some step is too long to be believed.
    pub(super) far: bool,
}

impl Tree {
    /// The elimination, from the hoods to the root. Only trees with wyes by formula look for them.
    pub(super) fn upward(&mut self, plan: &Plan, live: impl Fn(u32) -> u32) -> Up {
        if plan.wyes.is_empty() {
            self.eliminate::<false>(plan, live)
        } else {
            self.eliminate::<true>(plan, live)
        }
    }

    fn eliminate<const WYES: bool>(&mut self, plan: &Plan, live: impl Fn(u32) -> u32) -> Up {
        let n = self.links.len();
        let (links, nodes) = (&self.links[..n], &mut self.nodes[..n]);
        let (flows, losses, slopes) = (&self.q[..n], &self.runs.dp[..n], &self.runs.slope[..n]);
        let mut root = (0.0, 0.0);
        // Legs that meet nearly always stand side by side, and before the leg that they drain
        // into: what they bring need not go through memory, which a trunk would wait for at every
        // leg.
        let (mut to, mut bring, mut steep) = (usize::MAX, Inlets::default(), 0.0);
        for i in 0..n {
            let link = &links[i];
            let (q, dp, slope) = (flows[i], losses[i], slopes[i]);
            let (a, b) = if link.is_leaf() {
                // Written so that a NaN stays one.
                let b = if slope < LEAST_SLOPE {
                    LEAST_SLOPE
                } else {
                    slope
                }
                .recip();
                (q - dp * b, b)
            } else {
                let mut at = Inlets::default();
                if to == i {
                    at = bring;
                    to = usize::MAX;
                }
                let node = &mut nodes[i];
                node.take_up(&mut at);
                if WYES && link.wye != NONE {
                    (at.a, at.b) = couple(&plan.wyes[link.wye as usize], nodes, flows, &live);
                    (at.wa, at.wb) = (slope * at.a, slope * at.b);
                }
                let b = at.b / (1.0 + at.wb);
                let node = &mut nodes[i];
                node.inlets_a = at.a;
                node.over_inlets_b = at.b.recip();
                let e = dp - slope * q + (0.5 * at.uq - link.outlet_head * q * q);
                (at.a - b * (at.wa + e), b)
            };
            nodes[i].a = a;
            nodes[i].b = b;
            root = (a, b);
            let down = link.down as usize;
            if down != i {
                // What the outlet has to do with w is known before a and b are, which are waited for.
                let begins = down != to;
                if begins {
                    let head = links[down].outlet_head * flows[down];
                    steep = slopes[down] + (head + head);
                }
                let c_q = link.momentum * q;
                let u = c_q + c_q;
                let w = steep - u;
                let brings = Inlets {
                    a,
                    b,
                    wa: w * a,
                    wb: w * b,
                    uq: u * q,
                };
                if begins {
                    if let Some(node) = nodes.get_mut(to) {
                        node.meet(&bring);
                    }
                    (to, bring) = (down, brings);
                } else {
                    bring.add(&brings);
                }
            }
        }
        Up {
            a: root.0,
            b: root.1,
        }
    }

    /// Newton's steps, from the root, whose next flow is known, to the hoods.
    pub(super) fn downward(&mut self, total: f64) -> Down {
        let n = self.links.len();
        let (links, nodes) = (&self.links[..n], &mut self.nodes[..n]);
        let (q, next) = (&self.q[..n], &mut self.next[..n]);
        let small = small_flow(total);
        let mut step = Largest::default();
        let mut far = false;
        // What the leg before found, as in `upward`.
        let mut near = (usize::MAX, 0.0);
        for i in (0..n).rev() {
            let link = &links[i];
            let down = link.down as usize;
            let shared = if down == near.0 {
                near.1
            } else {
                nodes[down].shared
            };
            let node = &mut nodes[i];
            let to = if down == i {
                total
            } else {
                node.a + node.b * shared
            };
            next[i] = to;
            let q = q[i];
            let moved = (to - q).abs();
            if q > small {
                step.raise(moved / q);
            } else {
                step.raise(moved / small);
                far |= moved > FAR * q;
            }
            if !link.is_leaf() {
                // Its own flow comes last; the division was made on the way up.
                node.shared = (to - node.inlets_a) * node.over_inlets_b;
                near = (i, node.shared);
            }
        }
        let step = step.size();
        Down {
            step,
            far: far || step > FAR,
        }
    }
}

/// Turns the flows of both inlets of a wye by formula into functions of the outlet's suction.
///
/// An inlet's own suction is that of the outlet less its loss dP. With q = a + b (h - dP) and dP
/// homogeneous of degree two, so that J q = 2 dP, both flows solve
/// (I + diag(b) J) q = a + b dP + b h. A dead inlet has a = b = 0 and stays at rest. Returns the
/// sums of the new a and b.
#[cold]
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

#[cfg(test)]
mod tests {
    use crate::solve::{
        Workspace,
        by_hand::{FALLING, ready},
        plan::Link,
    };

    /// A leg of next to nothing takes a step as large as a hood's flow: told in shares of a
    /// thousand millionth of the whole.
    #[test]
    fn steps_of_next_to_nothing_are_judged_by_the_whole() {
        let (network, open) = ready(FALLING, None);
        let mut work = Workspace::default();
        network.solve(&open, &mut work).unwrap();
        let tree = &mut work.tree;
        let total = tree.total();
        let settled = tree.downward(total);
        assert!(settled.step < 1e-6 && !settled.far);
        let hood = tree.links.iter().position(Link::is_leaf).unwrap();
        let flow = tree.q[hood];
        tree.q[hood] = 1e-12 * total;
        let stepped = tree.downward(total);
        let by_hand = flow / (1e-9 * total);
        assert!(
            (stepped.step / by_hand - 1.0).abs() < 1e-3,
            "{} {by_hand}",
            stepped.step
        );
        assert!(stepped.far);
    }
}
