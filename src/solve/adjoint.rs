//! The adjoint sweep: what an extra pascal of loss anywhere does to one output, all at once.
//!
//! Around a balance every leg l obeys, with a small extra loss d in it,
//!
//! ```text
//! leg:       S_down = [h at its head] + s q + d      s its slope; no head at a hood
//! junction:  h = S + sum g_j q_j,  q = sum q_j       g_j its slope against inlet j (tree.rs)
//! root:      S_down = p' q, or q = 0 where the flow is imposed
//! ```
//!
//! in small changes of q and S. Let lambda be the multiplier of the leg's line and mu that of its
//! node balance. For an output sum w q + sum v S to equal sum lambda d for every d, each must be
//! stationary
//! (the adjoint state; M. B. Giles and N. A. Pierce, An introduction to the adjoint approach to
//! design, Flow, Turbulence and Combustion 65 (2000) 393-415, section 2):
//!
//! ```text
//! by S of a node:  lambda = sum lambda_j - v
//! by q of a leg:   s lambda = mu - x,  x = mu_down + g lambda_down + w      no mu at a hood
//! root:            s lambda = mu - w + p' lambda, or lambda = 0
//! ```
//!
//! So lambda is balanced at every node as flows are, mu stands where suction stood, and one sweep up
//! and one down solve it: lambda = a - b x' with x' = mu_down + g lambda_down,
//!
//! ```text
//! hood:      a = -w/s                     b = 1/s
//! node:      lambda (1 + sum g b) = sum a - v - mu sum b
//! leg:       a = (A - B w)/(1 + B s)      b = B/(1 + B s)
//!            A = (sum a - v)/(1 + sum g b), B as tree.rs
//! ```
//!
//! An extra loss in the junction at a leg's head, in the wye that a leg drains into, or in the leg
//! itself is one and the same. No friction factor is asked for, so the sweep costs less than one
//! of Newton's.
#![allow(
    clippy::indexing_slicing,
    reason = "the arrays of a tree are of one length, its number of legs, and `prepare` numbers the legs"
)]

use super::{
    differences::Site,
    output::Output,
    plan::{Closing, NONE, Plan, WyePlan},
    tap::{self, Share},
    tree::{LEAST_SLOPE, Tree},
    work::Workspace,
};
use crate::system::UnknownName;

/// Scratch memory of adjoint sweeps, reused between outputs, solves and networks.
///
/// ```
/// let mut adjoint = airsplit::Adjoint::default();
/// # let _ = &mut adjoint;
/// ```
#[derive(Debug, Clone, Default)]
pub struct Adjoint {
    /// One for each leg of the tree that stands in the workspace.
    legs: Vec<LegAdjoint>,
    /// Change of the output for an extra pascal that the fan gives.
    on_fan: f64,
    /// Laws between the tree and a tap: change of the output for an extra pascal of theirs.
    direct: Vec<(Site, f64)>,
}

/// What the adjoint sweep knows of one leg.
#[derive(Debug, Clone, Copy, Default)]
struct LegAdjoint {
    /// Weight of its flow in the output.
    weight: f64,
    /// Weight of the suction that the inlets at its head share.
    pull: f64,
    /// lambda = a - b (mu + g lambda) of what is downstream.
    a: f64,
    b: f64,
    /// Sums over the inlets of its head: a, b and g b.
    sum_a: f64,
    sum_b: f64,
    sum_gb: f64,
    /// Change of the output for an extra loss in this leg.
    lambda: f64,
    /// Multiplier of the node balance at its head.
    mu: f64,
}

/// What an extra pascal of loss does to one output, by [`Balance::influence`].
///
/// [`Balance::influence`]: super::Balance::influence
#[derive(Debug, Clone, Copy)]
pub struct Influence<'a> {
    plan: &'a Plan,
    work: &'a Workspace,
    adjoint: &'a Adjoint,
}

impl Influence<'_> {
    /// Change of the output for each pascal of extra loss of total pressure in a section, in the
    /// order of the model: m3/s per Pa of a flow, a pure number of the fan's pressure. 0 in a
    /// section without air.
    #[must_use]
    pub fn sections(&self) -> impl ExactSizeIterator<Item = f64> + '_ {
        self.plan
            .sections
            .iter()
            .map(|section| self.leg(section.body))
    }

    /// The same for an extra loss of 1 Pa in the collector.
    #[must_use]
    pub fn collector(&self) -> f64 {
        self.leg(self.plan.root())
    }

    /// Change of the output, in its SI unit, for each pascal that the fan gives more, at any flow; 0 where the flow
    /// is imposed.
    #[must_use]
    pub fn fan(&self) -> f64 {
        self.adjoint.on_fan
    }

    /// Change of the output for each pascal that a law says more.
    pub(super) fn at(&self, site: Site) -> f64 {
        match site {
            Site::Leg(leg) => self.leg(leg),
            Site::Fan => self.fan(),
            _ => {
                let direct = self.adjoint.direct.iter();
                direct.filter(|at| at.0 == site).map(|at| at.1).sum()
            }
        }
    }

    /// The same for an extra loss in a leg of the plan.
    fn leg(&self, leg: u32) -> f64 {
        let at = self.adjoint.legs.get(self.work.at(leg));
        at.map_or(0.0, |leg| leg.lambda)
    }
}

/// Differentiates one output of the balance that stands in `work`.
pub(super) fn sweep<'a>(
    plan: &'a Plan,
    work: &'a Workspace,
    closing: Closing,
    output: &Output,
    adjoint: &'a mut Adjoint,
) -> Result<Influence<'a>, UnknownName> {
    let tree = &work.tree;
    let legs = &mut adjoint.legs;
    legs.clear();
    legs.resize(tree.links.len(), LegAdjoint::default());
    let root = legs.len().saturating_sub(1);
    let mut pull = 0.0;
    output.weigh(plan, |weight| match weight {
        Weight::Flow(leg) => {
            if let Some(at) = legs.get_mut(work.at(leg)) {
                at.weight = 1.0;
            }
        }
        Weight::Total => legs[root].weight = 1.0,
        Weight::FanPressure => match closing {
            Closing::Fan { curve_slope, .. } => legs[root].weight = curve_slope,
            Closing::Flow => pull = 1.0,
        },
    })?;
    let direct = &mut adjoint.direct;
    direct.clear();
    tap::read(plan, work, output, |share| match share {
        Share::Flow { leg, by } => {
            if let Some(at) = legs.get_mut(work.at(leg)) {
                at.weight += by;
            }
        }
        Share::Suction { leg, by } => {
            if let Some(at) = legs.get_mut(work.at(leg)) {
                at.pull += by;
            }
        }
        Share::Law { site, by } => direct.push((site, by)),
    })?;
    upward(plan, work, legs);
    legs[root].lambda = match closing {
        Closing::Fan { slope, .. } => legs[root].a / (1.0 - legs[root].b * slope),
        Closing::Flow => pull,
    };
    downward(tree, legs);
    // An extra pascal of the fan is one of loss less, and the fan's own pressure is an output.
    let direct = f64::from(*output == Output::FanPressure);
    adjoint.on_fan = match closing {
        Closing::Fan { .. } => direct - legs[root].lambda,
        Closing::Flow => 0.0,
    };
    Ok(Influence {
        plan,
        work,
        adjoint,
    })
}

/// What an output is made of.
#[derive(Debug, Clone, Copy)]
pub(super) enum Weight {
    /// The flow of a leg.
    Flow(u32),
    /// The total flow.
    Total,
    /// The pressure on the basis of the fan's curve.
    FanPressure,
}

/// Slope of the junction that a leg drains into against its own flow \[Pa s/m3\].
fn junction_slope(tree: &Tree, leg: usize, down: usize) -> f64 {
    2.0 * (tree.links[down].outlet_head * tree.q[down] - tree.links[leg].momentum * tree.q[leg])
}

fn upward(plan: &Plan, work: &Workspace, legs: &mut [LegAdjoint]) {
    let tree = &work.tree;
    for (i, (link, &slope)) in tree.links.iter().zip(&tree.runs.slope).enumerate() {
        if link.wye != NONE {
            couple(&plan.wyes[link.wye as usize], work, legs, i);
        }
        let at = &mut legs[i];
        at.sum_a -= at.pull;
        let (a, b) = if link.is_leaf() {
            let b = slope.max(LEAST_SLOPE).recip();
            (-at.weight * b, b)
        } else {
            let scale = (1.0 + at.sum_gb).recip();
            let (a, b) = (at.sum_a * scale, at.sum_b * scale);
            let shrink = (1.0 + b * slope).recip();
            ((a - b * at.weight) * shrink, b * shrink)
        };
        at.a = a;
        at.b = b;
        let down = link.down as usize;
        if down != i {
            let g = junction_slope(tree, i, down);
            let node = &mut legs[down];
            node.sum_a += a;
            node.sum_b += b;
            node.sum_gb += g * b;
        }
    }
}

/// At a wye by formula each inlet also feels the other: with J its losses' slopes, both lambda
/// solve (I + diag(b) J') lambda = a - b mu. A dead inlet has a = b = 0.
fn couple(wye: &WyePlan, work: &Workspace, legs: &mut [LegAdjoint], outlet: usize) {
    let (branch, straight) = (work.at(wye.branch), work.at(wye.straight));
    let flow = |leg: usize| work.tree.q.get(leg).copied().unwrap_or(0.0);
    let loss = wye.law.at(flow(branch), flow(straight));
    let of = |leg: usize| legs.get(leg).copied().unwrap_or_default();
    let (b, s) = (of(branch), of(straight));
    let bb = 1.0 + b.b * loss.branch.by_branch;
    let bs = b.b * loss.straight.by_branch;
    let sb = s.b * loss.branch.by_straight;
    let ss = 1.0 + s.b * loss.straight.by_straight;
    let scale = (bb * ss - bs * sb).recip();
    let at_branch = |by_b: f64, by_s: f64| (ss * by_b - bs * by_s) * scale;
    let at_straight = |by_b: f64, by_s: f64| (bb * by_s - sb * by_b) * scale;
    let (mut sum_a, mut sum_b) = (0.0, 0.0);
    for (leg, a, b) in [
        (branch, at_branch(b.a, s.a), at_branch(b.b, s.b)),
        (straight, at_straight(b.a, s.a), at_straight(b.b, s.b)),
    ] {
        if let Some(at) = legs.get_mut(leg) {
            at.a = a;
            at.b = b;
            sum_a += a;
            sum_b += b;
        }
    }
    let node = &mut legs[outlet];
    node.sum_a = sum_a;
    node.sum_b = sum_b;
    node.sum_gb = 0.0;
}

/// From the root, whose lambda is known, to the hoods; mu by balance, as flows are (tree.rs).
fn downward(tree: &Tree, legs: &mut [LegAdjoint]) {
    for (i, link) in tree.links.iter().enumerate().rev() {
        let down = link.down as usize;
        if down != i {
            let g = junction_slope(tree, i, down);
            let node = legs[down];
            let at = &mut legs[i];
            at.lambda = at.a - at.b * (node.mu + g * node.lambda);
        }
        let at = &mut legs[i];
        if !link.is_leaf() {
            at.mu = (at.sum_a - (1.0 + at.sum_gb) * at.lambda) / at.sum_b;
        }
    }
}
