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
    // As in elimination.rs, what the leg before brings need not go through memory: what inlets draw
    // per square root of suction, and the momentum of that.
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
            let loses = (1.0 - pull) + (link.outlet_head + link.frozen) * (sum * sum);
            sum * about_over_root(if loses > 1e-6 { loses } else { 1e-6 })
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

/// 1/sqrt(x) to a part in ten thousand, which the start can do with, for x from 1e-6 on.
///
/// Each leg waits for the one before it, and would for a root and a division as well. Halving the
/// exponent is a shift of the bits; the constant spreads what is left over evenly (Robertson, "A Brief
/// History of InvSqrt", 2012). It is 3.4 % off, and a step of third order, from the series of
/// (1 + d)^(-1/2) in d = x y^2 - 1, leaves 5/2 of its cube. One of Newton's leaves 3/2 of its square,
/// mostly on one side: along a trunk of a thousand legs that adds up.
#[inline]
fn about_over_root(x: f64) -> f64 {
    let x = x.min(1e300);
    let y = f64::from_bits(0x5fe6_eb50_c7b5_37a9 - (x.to_bits() >> 1));
    let square = x * y * y;
    y * (1.875 - square * (1.25 - 0.375 * square))
}

/// Where the fan first meets q^2 / C^2, each of its pieces taken for straight: a few per cent off, as
/// the rest of the start is. Leaves the piece where that is.
fn meet(fan: &FanSide, piece: &mut usize, conductance: f64) -> f64 {
    let square = conductance * conductance;
    let mut low = Knot {
        x: 0.0,
        y: fan.at_rest,
        slope: 0.0,
    };
    for (right, Knot { x, y, slope }) in fan.curve.knots().enumerate() {
        let y = fan.scale * y + fan.regain * x * x;
        if x > 0.0 && square * y <= x * x {
            *piece = right.saturating_sub(1);
            return chord(low, (y - low.y) / (x - low.x), square);
        }
        low = Knot { x, y, slope };
    }
    // Beyond the curve the fan goes on straight and the resistance grows with the square.
    let slope = fan.at(low.x).slope - 2.0 * fan.regain * low.x;
    let end = Knot {
        y: low.y - fan.regain * low.x * low.x,
        ..low
    };
    let resistance = square.recip() - fan.regain;
    chord(end, slope, resistance.max(f64::MIN_POSITIVE).recip())
}

/// Where the line of this slope through `from` meets q^2 / `square`, at q > 0.
fn chord(from: Knot, slope: f64, square: f64) -> f64 {
    let at_rest = (from.y - slope * from.x).max(0.0);
    let half = 0.5 * square * slope;
    (half * half + square * at_rest).sqrt() + half
}

#[cfg(test)]
mod tests {
    use super::about_over_root;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn prop_one_over_the_root_is_right_to_one_in_ten_thousand(exponent in -6.0..300.0f64) {
            let x = 10.0f64.powf(exponent);
            let share = about_over_root(x) * x.sqrt();
            prop_assert!((share - 1.0).abs() < 1.1e-4, "{share}");
        }
    }
}
