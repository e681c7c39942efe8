//! The start: freeze every resistance, and the all-quadratic tree is solved exactly in one sweep.
//!
//! With dp = r q^2 everywhere the flow through a subtree is C sqrt(S) at suction S. In series
//! 1/C^2 adds, at a joint C adds, and a momentum junction is quadratic as well: with C the sum of
//! the inlets' C_j, the suction of its outlet is S (1 + kc C^2 - sum c_j C_j^2). So the start is
//! a few per cent off, whatever the tree; three Newton steps from there reach rounding.

use super::{
    newton::Drive,
    plan::{FanSide, Plan},
    work::{Inlets, Workspace},
};
use crate::curve1d::Knot;

/// Below this a resistance is nothing against any other, but divides.
const LEAST_RESISTANCE: f64 = 1e-12;

pub(super) fn start(plan: &Plan, work: &mut Workspace, drive: &Drive<'_>) {
    let Workspace { legs, live, .. } = work;
    let Some(&root) = live.last() else { return };
    for &i in live.iter() {
        let i = i as usize;
        let leg = &plan.legs[i];
        let at_head = legs[i].inlets;
        let r = (leg.frozen + legs[i].shut_k2).max(LEAST_RESISTANCE);
        let conductance = if at_head.b > 0.0 {
            // Positive by the theorem of loss/junction.rs as long as the inlets lose anything.
            let meeting = 1.0 + leg.outlet_head * at_head.b * at_head.b - at_head.momentum;
            (meeting.max(1e-6) / (at_head.b * at_head.b) + r)
                .sqrt()
                .recip()
        } else {
            r.sqrt().recip()
        };
        legs[i].b = conductance;
        legs[i].carry = leg.carry;
        if i as u32 != root {
            let inlets = &mut legs[leg.down as usize].inlets;
            inlets.b += conductance;
            inlets.momentum += leg.momentum * conductance * conductance;
        }
    }
    let whole = legs[root as usize].b;
    legs[root as usize].q = match drive {
        Drive::Flow(q) => *q,
        Drive::Fan(fan) => meet(fan, whole),
        Drive::Pressure { pressure, .. } => whole * pressure.max(0.0).sqrt(),
    };
    for &i in live.iter().rev() {
        let i = i as usize;
        if i as u32 != root {
            let down = &legs[plan.legs[i].down as usize];
            legs[i].q = legs[i].b * (down.q / down.inlets.b);
        }
    }
    for &i in live.iter() {
        legs[i as usize].inlets = Inlets::default();
    }
}

/// Where the fan first meets q^2 / C^2, roughly.
fn meet(fan: &FanSide, conductance: f64) -> f64 {
    let r = (conductance * conductance).recip();
    let over = |q: f64| fan.at(q).value - r * q * q;
    let mut low = 0.0;
    let mut high = f64::NAN;
    for Knot { x, .. } in fan.curve.knots() {
        if x > 0.0 {
            if over(x) <= 0.0 {
                high = x;
                break;
            }
            low = x;
        }
    }
    if high.is_nan() {
        // Beyond the curve the fan goes on straight and the resistance grows with the square.
        let end = fan.at(low);
        let slope = end.slope - 2.0 * fan.regain * low;
        let r = (r - fan.regain).max(LEAST_RESISTANCE);
        let flat = end.value - fan.regain * low * low - slope * low;
        return ((slope * slope + 4.0 * r * flat.max(0.0)).sqrt() + slope) / (2.0 * r);
    }
    // A start needs two digits: Newton, kept inside the bracket.
    let mut q = 0.5 * (low + high);
    for _ in 0..6 {
        let at = fan.at(q);
        let over = at.value - r * q * q;
        if over > 0.0 {
            low = q;
        } else {
            high = q;
        }
        let next = q - over / (at.slope - 2.0 * r * q);
        let near = (next - q).abs() < 1e-3 * q;
        q = if next > low && next < high {
            next
        } else {
            0.5 * (low + high)
        };
        if near {
            break;
        }
    }
    q
}
