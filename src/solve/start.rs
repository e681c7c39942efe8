//! The start: freeze every resistance, and the all-quadratic tree is solved exactly in one sweep.
//!
//! With dp = r q^2 everywhere the flow through a subtree is C sqrt(S) at suction S. In series
//! 1/C^2 adds, at a joint C adds, and a momentum junction is quadratic as well: with C the sum of
//! the inlets' C_j, the suction of its outlet is S (1 + kc C^2 - sum c_j C_j^2). So the start is
//! a few per cent off, whatever the tree; three Newton steps from there reach rounding.
#![allow(
    clippy::indexing_slicing,
    reason = "the arrays of a tree are of one length, its number of legs, and `prepare` numbers the legs"
)]

use super::{
    newton::Drive,
    plan::FanSide,
    tree::{Inlets, LEAST_FLOW, Tree},
};
use crate::curve1d::Knot;

pub(super) fn start(tree: &mut Tree, drive: &Drive<'_>) {
    let n = tree.nodes.len();
    if n == 0 {
        return;
    }
    let (links, q, nodes) = (&tree.links[..n], &mut tree.q[..n], &mut tree.nodes[..n]);
    // As in tree.rs, what the leg before brings need not go through memory.
    let mut near = (usize::MAX, 0.0, 0.0);
    for i in 0..n {
        let link = &links[i];
        let mut at_head = nodes[i].inlets;
        if near.0 == i {
            at_head.b += near.1;
            at_head.momentum += near.2;
            nodes[i].inlets.b = at_head.b;
        }
        let r = link.frozen;
        let conductance = if at_head.b > 0.0 {
            // Positive by the theorem of loss/junction.rs as long as the inlets lose anything.
            let square = at_head.b * at_head.b;
            let meeting = (1.0 + link.outlet_head * square - at_head.momentum).max(1e-6);
            at_head.b / (meeting + r * square).sqrt()
        } else {
            link.conductance
        };
        nodes[i].b = conductance;
        let down = link.down as usize;
        let momentum = link.momentum * conductance * conductance;
        if down == i + 1 {
            near = (down, conductance, momentum);
        } else if down != i {
            let inlets = &mut nodes[down].inlets;
            inlets.b += conductance;
            inlets.momentum += momentum;
        }
    }
    let whole = nodes[n - 1].b;
    q[n - 1] = match drive {
        Drive::Flow(q) => *q,
        Drive::Fan(fan) => meet(fan, whole),
        Drive::Pressure { pressure, .. } => whole * pressure.max(0.0).sqrt(),
    };
    // Flow of the inlets for each unit of their conductance.
    let mut near = (usize::MAX, 0.0);
    for i in (0..n).rev() {
        let down = links[i].down as usize;
        if down == near.0 {
            q[i] = (nodes[i].b * near.1).max(LEAST_FLOW);
        } else if down != i {
            q[i] = (nodes[i].b * nodes[down].shared).max(LEAST_FLOW);
        }
        let node = &mut nodes[i];
        if node.inlets.b > 0.0 {
            node.shared = q[i] / node.inlets.b;
            near = (i, node.shared);
            node.inlets = Inlets::default();
        }
    }
}

/// Where the fan first meets q^2 / C^2, to a few digits.
fn meet(fan: &FanSide, conductance: f64) -> f64 {
    let r = (conductance * conductance).recip();
    let mut low = Knot {
        x: 0.0,
        y: fan.at_rest,
        slope: 0.0,
    };
    for Knot { x, y, slope } in fan.curve.knots() {
        let y = fan.scale * y + fan.regain * x * x;
        if x > 0.0 && y <= r * x * x {
            // On the chord, then one step of Newton's method on the curve.
            let q = chord(low, (y - low.y) / (x - low.x), r);
            let at = fan.at(q);
            let next = q - (at.value - r * q * q) / (at.slope - 2.0 * r * q);
            return if next > low.x && next < x { next } else { q };
        }
        low = Knot { x, y, slope };
    }
    // Beyond the curve the fan goes on straight and the resistance grows with the square.
    let slope = fan.at(low.x).slope - 2.0 * fan.regain * low.x;
    let end = Knot {
        y: low.y - fan.regain * low.x * low.x,
        ..low
    };
    chord(end, slope, (r - fan.regain).max(f64::MIN_POSITIVE))
}

/// Where the line of this slope through `from` meets r q^2, at q > 0.
fn chord(from: Knot, slope: f64, r: f64) -> f64 {
    let at_rest = (from.y - slope * from.x).max(0.0);
    ((slope * slope + 4.0 * r * at_rest).sqrt() + slope) / (2.0 * r)
}
