//! Newton's method on the tree, in one sweep up and one down: no matrix, no fill-in.
//!
//! Going downstream, every subtree's flow is linearised as a function of the suction S at its
//! downstream end, q = a + b S. With dp ~ e + s q on a leg (s its slope):
//!
//! ```text
//! hood:      a = -e/s                   b = 1/s
//! junction:  q = A + B h                B = sum b / (1 + sum g b),  A = sum a - B sum g (a - q/2)
//! leg:       a = (A - B e)/(1 + B s)    b = B/(1 + B s)
//! ```
//!
//! At a momentum junction the inlets share one static suction S, and the outlet's total suction is
//! h = S + kc Q^2 - sum c q^2, whose slope against inlet j is g = 2 (kc Q - c q); that form is
//! homogeneous of degree two, so sum g q = 2 (h - S) and no constant is left over. A plain joint
//! has c = kc = 0. The fan closes the root, and the flows follow going upstream. Flows come from
//! node balances, S = (q - sum a) / sum b, never from subtracting two large suctions, which would
//! lose digits where the main eats nearly all of it.
//!
//! 1 + sum g b >= (1 - sum A_j / A_c)^2 >= 0 by Cauchy's inequality, and the operator is monotone
//! (loss/junction.rs), so the sweep never divides by zero on a tree whose legs lose something.

use super::{
    plan::{FanSide, NONE, Plan, WyePlan},
    work::{Inlets, LegState, Pass, Workspace},
};
use crate::curve1d::Sample;

/// What closes the root of the tree.
#[derive(Debug, Clone, Copy)]
pub(super) enum Drive<'p> {
    /// The fan settles where it meets the tree.
    Fan(&'p FanSide),
    /// The total flow is imposed \[m3/s\].
    Flow(f64),
    /// The pressure is imposed \[Pa\]; `regain` per squared flow comes on top of it.
    Pressure { pressure: f64, regain: f64 },
}

/// How the root is closed at some flow.
enum Close {
    /// A pressure is offered, with its slope.
    Offer(Sample),
    /// The flow is imposed.
    Flow(f64),
}

impl Drive<'_> {
    fn close(&self, q: f64) -> Close {
        match *self {
            Self::Fan(fan) => Close::Offer(fan.at(q)),
            Self::Flow(flow) => Close::Flow(flow),
            Self::Pressure { pressure, regain } => Close::Offer(Sample {
                value: pressure + regain * q * q,
                slope: 2.0 * regain * q,
            }),
        }
    }
}

/// How a solve ended.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Outcome {
    pub(super) converged: bool,
    /// Pressure that drives the tree \[Pa\].
    pub(super) pressure: f64,
    /// Slope of that pressure against total flow \[Pa s/m3\].
    pub(super) slope: f64,
    pub(super) worst: Worst,
}

/// The three residuals, each with the leg where it is worst.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Worst {
    pub(super) pressure: At,
    pub(super) balance: At,
    pub(super) step: At,
}

/// A residual and its leg.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct At {
    pub(super) value: f64,
    pub(super) leg: u32,
}

impl At {
    /// Relative to `scale`.
    fn over(self, scale: f64) -> Self {
        Self {
            value: self.value / scale,
            ..self
        }
    }

    fn raise(&mut self, value: f64, leg: u32) {
        // A NaN must win, or it would pass for converged.
        if value > self.value || value.is_nan() {
            *self = Self { value, leg };
        }
    }
}

/// Three to five passes are usual; a tree at the edge of what is allowed has needed about forty.
pub(super) const MOST_PASSES: usize = 80;

/// Passes before a step that makes things worse is halved.
const PATIENCE: usize = 45;

/// Asked of pressures and flows, relative.
pub(super) const TOLERANCE: f64 = 1e-12;

/// Below this share of the total flow a leg's step is judged against the total.
const SMALL_FLOW: f64 = 1e-9;

/// A fourth-order step from this far, relative, lands on Colebrook's equation to rounding.
const CARRIED: f64 = 1e-3;

/// Share of the way to zero flow that one step may take a hood.
const TO_BOUNDARY: f64 = 0.9;

/// Smallest slope that is divided by: an inlet without loss is stiff, not impossible.
const LEAST_SLOPE: f64 = 1e-9;

/// Sweeps until all three residuals are small. Starts from the flows that stand in `work`.
pub(super) fn solve(plan: &Plan, work: &mut Workspace, drive: Drive<'_>) -> Outcome {
    let Workspace { legs, live, trace } = work;
    let Some(&root) = live.last() else {
        return Outcome::default();
    };
    let root = root as usize;
    let at_rest = match drive.close(0.0) {
        Close::Offer(offer) => offer.value,
        Close::Flow(_) => 0.0,
    };
    let rounding = 4.0 * f64::EPSILON * plan.depth;
    let tolerance = TOLERANCE.max(rounding);
    let noise = 1e-20 * live.len() as f64;
    let mut advance = Advance::Stay;
    let mut taken = 1.0;
    let mut best = f64::INFINITY;
    let mut step_before = f64::INFINITY;
    let mut stalled = false;
    loop {
        let carried = losses(plan, legs, live, advance);
        upward(plan, legs, live);
        let total = legs[root].q;
        let (pressure, next) = match drive.close(total) {
            Close::Offer(offer) => {
                let LegState { a, b, .. } = legs[root];
                let next = (a + b * (offer.value - offer.slope * total)) / (1.0 - b * offer.slope);
                (Some(offer.value), next)
            }
            Close::Flow(flow) => (None, flow),
        };
        let down = downward(plan, legs, live, pressure);
        let pressure = down.pressure;
        let scale = at_rest.max(pressure);
        let mut worst = Worst {
            pressure: down.left_over.over(scale),
            balance: down.missing.over(next.abs()),
            step: At::default(),
        };
        let newton = steps(plan, legs, live, next, rounding * scale, &mut worst.step);
        if let Some(last) = trace.last_mut() {
            last.taken = taken;
        }
        trace.push(Pass {
            pressure: worst.pressure.value,
            step: worst.step.value,
            taken: 0.0,
        });
        // Twice in a row: a step may also fail to shrink once on the way.
        let stalled_before = stalled;
        stalled = newton.rounded && worst.step.value > 0.1 * step_before;
        let outcome = Outcome {
            // Where rounding will not let the steps shrink further, they have to be no larger than
            // rounding explains.
            converged: (newton.settled || stalled && stalled_before)
                && carried
                && worst.pressure.value <= tolerance
                && worst.balance.value <= tolerance,
            pressure,
            slope: legs[root].b.recip(),
            worst,
        };
        step_before = worst.step.value;
        let lost = !(worst.pressure.value.is_finite() && worst.step.value.is_finite());
        if outcome.converged || lost || trace.len() >= MOST_PASSES {
            return outcome;
        }
        // Full steps, each hood held back by itself, have found every balance tried. Should a tree
        // be slow all the same, a step that makes things worse is halved (L. Armijo, Minimization
        // of functions having Lipschitz continuous first partial derivatives, 1966): Newton's
        // direction lowers the sum of squares as long as the operator is monotone. Not sooner: on
        // stiff trees the sum rises for a step or two on the shortest way down.
        let merit = down.squares / (scale * scale);
        let patient = trace.len() <= PATIENCE;
        if !patient && merit > best * (1.0 - 1e-4 * taken) + noise && taken > 1e-3 {
            taken *= 0.5;
            advance = Advance::Back(taken);
        } else {
            best = merit;
            taken = 1.0;
            advance = if newton.held {
                Advance::Held
            } else {
                Advance::Full
            };
        }
    }
}

/// How the flows go on before the next pass.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Advance {
    /// As they are.
    Stay,
    /// To where Newton's method wants them, to the last bit.
    Full,
    /// There as well, but some hoods are held back; the flows of the legs below are sums.
    Held,
    /// Back by a share of the last step; the flows of the legs below the hoods are sums.
    Back(f64),
}

impl LegState {
    /// Moves the flow of a leg on; one that is not a leaf has the sum of its inlets at hand.
    fn advance(&mut self, how: Advance, is_leaf: bool) {
        match how {
            Advance::Stay => {}
            Advance::Full => {
                self.step = self.newton;
                self.q = self.next;
            }
            Advance::Held if is_leaf => {
                let before = self.q;
                self.q = self.next.max((1.0 - TO_BOUNDARY) * before);
                self.step = self.q - before;
            }
            Advance::Back(share) if is_leaf => self.q -= share * self.step,
            Advance::Held | Advance::Back(_) => self.q = self.inlets.q,
        }
    }
}

/// Moves the flows on, and finds losses and slopes there. No leg waits for another here, which is
/// what the processor likes. Returns whether the carried friction factors had settled: with the
/// flows right from the start, as in a single path with its flow imposed, they are the last to
/// arrive.
fn losses(plan: &Plan, legs: &mut [LegState], live: &[u32], advance: Advance) -> bool {
    let mut settled = true;
    for &i in live {
        let leg = &plan.legs[i as usize];
        let state = &mut legs[i as usize];
        state.advance(advance, leg.is_leaf());
        let carry = state.carry;
        let loss = leg.loss(&plan.leaks, state.q, &mut state.carry, state.shut_k2);
        settled &= (state.carry - carry).abs() <= CARRIED * carry;
        state.dp = loss.dp_pa;
        state.slope = loss.slope;
        let q = state.q;
        if leg.down != i {
            legs[leg.down as usize].inlets.q += q;
        }
    }
    settled
}

/// The elimination, from the hoods to the root.
fn upward(plan: &Plan, legs: &mut [LegState], live: &[u32]) {
    for &i in live {
        let leg = &plan.legs[i as usize];
        if leg.wye != NONE {
            couple(&plan.wyes[leg.wye as usize], legs, i as usize);
        }
        let state = &mut legs[i as usize];
        let LegState { q, dp, slope, .. } = *state;
        let (a, b) = if leg.is_leaf() {
            let b = slope.max(LEAST_SLOPE).recip();
            (q - dp * b, b)
        } else {
            let at = &state.inlets;
            let b = at.b / (1.0 + at.gb);
            let a = at.a - b * at.ga;
            let shrink = (1.0 + b * slope).recip();
            ((a - b * (dp - slope * q)) * shrink, b * shrink)
        };
        state.a = a;
        state.b = b;
        let down = leg.down as usize;
        if down != i as usize {
            let outlet_head = plan.legs[down].outlet_head;
            let node = &mut legs[down];
            let g = 2.0 * (outlet_head * node.q - leg.momentum * q);
            let at = &mut node.inlets;
            at.momentum += leg.momentum * q * q;
            at.a += a;
            at.b += b;
            at.ga += g * (a - 0.5 * q);
            at.gb += g * b;
        }
    }
}

/// Turns the flows of both inlets of a wye by formula into functions of the outlet's suction.
///
/// An inlet's own suction is that of the outlet less its loss dP. With q = a + b (h - dP) and dP
/// homogeneous of degree two, so that J q = 2 dP, both flows solve
/// (I + diag(b) J) q = a + b dP + b h. A dead inlet has a = b = 0 and stays at rest.
fn couple(wye: &WyePlan, legs: &mut [LegState], outlet: usize) {
    let (branch, straight) = (legs[wye.branch as usize], legs[wye.straight as usize]);
    let loss = wye.law.at(branch.q, straight.q);
    let (b, s) = (loss.branch, loss.straight);
    let bb = 1.0 + branch.b * b.by_branch;
    let bs = branch.b * b.by_straight;
    let sb = straight.b * s.by_branch;
    let ss = 1.0 + straight.b * s.by_straight;
    let scale = (bb * ss - bs * sb).recip();
    let solve = |at_branch: f64, at_straight: f64| {
        (
            (ss * at_branch - bs * at_straight) * scale,
            (bb * at_straight - sb * at_branch) * scale,
        )
    };
    let a = solve(
        branch.a + branch.b * b.dp_pa,
        straight.a + straight.b * s.dp_pa,
    );
    let slope = solve(branch.b, straight.b);
    for (leg, a, b, dp) in [
        (wye.branch, a.0, slope.0, b.dp_pa),
        (wye.straight, a.1, slope.1, s.dp_pa),
    ] {
        let state = &mut legs[leg as usize];
        state.a = a;
        state.b = b;
        state.wye_dp = dp;
    }
    let at = &mut legs[outlet].inlets;
    at.a = a.0 + a.1;
    at.b = slope.0 + slope.1;
    at.ga = 0.0;
    at.gb = 0.0;
}

/// What the way from the root to the hoods has shown.
struct Down {
    /// Pressure that drives the tree \[Pa\].
    pressure: f64,
    /// Largest suction left over at a hood \[Pa\], where all of it should be used up.
    left_over: At,
    /// Sum of the squares of what is left over \[Pa2\].
    squares: f64,
    /// Largest flow that a node's inlets and outlet differ by \[m3/s\].
    missing: At,
}

/// Suctions from the root, where the pressure pulls, to the hoods, where nothing should be left
/// over. Without a given pressure it is what the paths lose, averaged with the flows as weights:
/// power over flow.
fn downward(plan: &Plan, legs: &mut [LegState], live: &[u32], given: Option<f64>) -> Down {
    let mut down = Down {
        pressure: given.unwrap_or(0.0),
        left_over: At::default(),
        squares: 0.0,
        missing: At::default(),
    };
    let (mut power, mut flow) = (0.0, 0.0);
    for &i in live.iter().rev() {
        let leg = &plan.legs[i as usize];
        let shared = if leg.down == i {
            down.pressure
        } else {
            legs[leg.down as usize].shared
        };
        let state = &mut legs[i as usize];
        state.suction = shared - state.wye_dp - state.dp;
        if leg.is_leaf() {
            power -= state.q * state.suction;
            flow += state.q;
            down.squares += state.suction * state.suction;
            down.left_over.raise(state.suction.abs(), i);
        } else {
            state.shared =
                state.suction - leg.outlet_head * state.q * state.q + state.inlets.momentum;
            down.missing.raise((state.inlets.q - state.q).abs(), i);
        }
    }
    if given.is_none() {
        down.pressure = power / flow;
        down.squares = 0.0;
        down.left_over = At::default();
        for &i in live {
            let state = &mut legs[i as usize];
            state.suction += down.pressure;
            state.shared += down.pressure;
            if plan.legs[i as usize].is_leaf() {
                down.squares += state.suction * state.suction;
                down.left_over.raise(state.suction.abs(), i);
            }
        }
    }
    down
}

/// What Newton's method would do next.
struct Newton {
    /// Whether that is nothing worth doing.
    settled: bool,
    /// Whether it is no more than what rounding of the pressures can bring about.
    rounded: bool,
    /// Whether it would take some hood too near to still air, or beyond.
    held: bool,
}

/// Newton's steps from the root to the hoods, given the next total flow; clears the sums for the
/// next pass.
fn steps(
    plan: &Plan,
    legs: &mut [LegState],
    live: &[u32],
    total: f64,
    noise: f64,
    worst: &mut At,
) -> Newton {
    let mut newton = Newton {
        settled: true,
        rounded: true,
        held: false,
    };
    let small = SMALL_FLOW * total.abs();
    for &i in live.iter().rev() {
        let leg = &plan.legs[i as usize];
        let next = if leg.down == i {
            total
        } else {
            legs[i as usize].a + legs[i as usize].b * legs[leg.down as usize].next_shared
        };
        let state = &mut legs[i as usize];
        if !leg.is_leaf() {
            state.next_shared = (next - state.inlets.a) / state.inlets.b;
            state.inlets = Inlets::default();
        }
        state.next = next;
        state.newton = next - state.q;
        // Each hood by itself: one with next to no flow must not hold up all the others.
        newton.held |= leg.is_leaf() && next < (1.0 - TO_BOUNDARY) * state.q;
        let flow = state.q.abs().max(small);
        // A division only where it can tell; a NaN fails the comparison and is told.
        let within = state.newton.abs() <= worst.value * flow;
        if !within {
            worst.raise(state.newton.abs() / flow, i);
        }
        newton.settled &= state.newton.abs() <= TOLERANCE * flow;
        // Rounding of the path's pressures moves the flow by its slope against suction.
        newton.rounded &= state.newton.abs() <= TOLERANCE * flow + noise * state.b;
    }
    newton
}
