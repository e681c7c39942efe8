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
    tree::{LEAST_FLOW, Tree},
};
use crate::curve1d::Knot;

pub(super) fn start(tree: &mut Tree, drive: &Drive<'_>) {
    let n = tree.links.len();
    if n == 0 {
        return;
    }
    let (links, q, nodes) = (&tree.links[..n], &mut tree.q[..n], &mut tree.nodes[..n]);
    // As in tree.rs, what the leg before brings need not go through memory.
    // What inlets draw per square root of suction, and the momentum of that.
    let (mut to, mut draw, mut momentum) = (usize::MAX, 0.0, 0.0);
    for i in 0..n {
        let link = &links[i];
        let conductance = if link.is_leaf() {
            link.conductance
        } else {
            let (mut sum, mut pull) = (0.0, 0.0);
            if to == i {
                (sum, pull, to) = (draw, momentum, usize::MAX);
            }
            let node = &mut nodes[i];
            node.take_up_sums(&mut sum, &mut pull);
            node.over_inlets_b = sum.recip();
            // Positive by the theorem of loss/junction.rs as long as the inlets lose anything.
            let square = sum * sum;
            let meeting = (1.0 - pull) + link.outlet_head * square;
            let meeting = if meeting > 1e-6 { meeting } else { 1e-6 };
            sum / (meeting + link.frozen * square).sqrt()
        };
        let node = &mut nodes[i];
        node.b = conductance;
        // Written only where a wye by formula stands.
        node.wye_dp = 0.0;
        let down = link.down as usize;
        if down != i {
            let pull = link.momentum * conductance * conductance;
            if down == to {
                draw += conductance;
                momentum += pull;
            } else {
                if let Some(node) = nodes.get_mut(to) {
                    node.put_sums(draw, momentum);
                }
                (to, draw, momentum) = (down, conductance, pull);
            }
        }
    }
    let whole = nodes[n - 1].b;
    q[n - 1] = match drive {
        Drive::Flow(q) => *q,
        Drive::Fan(fan) => meet(fan, &mut tree.piece, whole),
        Drive::Pressure { pressure, .. } => whole * pressure.max(0.0).sqrt(),
    };
    // Flow of the inlets for each unit of their conductance.
    let mut near = (usize::MAX, 0.0);
    for i in (0..n).rev() {
        let (link, node) = (&links[i], &nodes[i]);
        let down = link.down as usize;
        if down != i {
            let per_unit = if down == near.0 {
                near.1
            } else {
                nodes[down].shared
            };
            let flow = node.b * per_unit;
            q[i] = if flow > LEAST_FLOW { flow } else { LEAST_FLOW };
        }
        if !link.is_leaf() {
            near = (i, q[i] * node.over_inlets_b);
            nodes[i].shared = near.1;
        }
    }
}

/// Where the fan first meets q^2 / C^2, to a few digits.
fn meet(fan: &FanSide, piece: &mut usize, conductance: f64) -> f64 {
    let r = (conductance * conductance).recip();
    let mut low = Knot {
        x: 0.0,
        y: fan.at_rest,
        slope: 0.0,
    };
    for (right, Knot { x, y, slope }) in fan.curve.knots().enumerate() {
        let y = fan.scale * y + fan.regain * x * x;
        if x > 0.0 && y <= r * x * x {
            // On the chord, then one step of Newton's method on the curve.
            let q = chord(low, (y - low.y) / (x - low.x), r);
            *piece = right.saturating_sub(1);
            let at = fan.at_from(piece, q);
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
