//! Many runs of duct at once: the solver's hottest loop.
//!
//! The law of [`RunLaw::loss`](super::law::RunLaw::loss), but array by array: no run waits for the
//! divisions of another, the compiler takes two at a time, and a logarithm is taken only where
//! none of a number of about the same size is at hand. The plan brings one for each run at a usual
//! flow, so that ordinary shops are solved without any.
#![allow(
    clippy::indexing_slicing,
    reason = "every array is cut to the number of runs before a loop over the runs begins"
)]

use super::{
    friction::{
        EXP_X2_PER_RE, F_TIMES_BIG_F_SQUARED, TURBULENT_FROM, X1_PER_RE_REL, carried_step,
        step_argument,
    },
    law::RunLaw,
};
use std::ops::Range;

/// A fourth-order step from this far, relative, lands on Colebrook's equation to rounding.
const CARRIED: f64 = 1e-3;

/// How far z = (x - r)/(x + r) may be from 0: x between 0.71 r and 1.4 r.
const NEAR: f64 = 1.0 / 6.0;

/// (2 artanh z)/z = 2 + sum `c_k` z^(2k+2), for |z| up to [`NEAR`]: Taylor's series 2/3, 2/5, 2/7,
/// ... economised by interpolation at Chebyshev's points in exact fractions. Off by 1.4e-16 at most
/// in the logarithm, which is 4 or more wherever it counts.
const ARTANH: [f64; 6] = [
    0.6666666666666344,
    0.4000000000834705,
    0.28571425071845274,
    0.22222757799662962,
    0.18144892225222234,
    0.16548772786385385,
];

/// Laws of runs, each number an array of one length.
#[derive(Debug, Clone, Default)]
pub(crate) struct Laws {
    k2: Vec<f64>,
    k1: Vec<f64>,
    /// What 1/F^2 is multiplied by: `kf` with the constant that makes it f.
    kf: Vec<f64>,
    /// exp(X2) and X1 per unit of flow; both huge where there is no friction.
    smooth: Vec<f64>,
    rough: Vec<f64>,
    /// F for a first call at a usual flow; at work, that of the last flows.
    carry: Vec<f64>,
    /// A number like the one that a step takes the logarithm of, and its logarithm.
    argument: Vec<f64>,
    log: Vec<f64>,
}

/// Runs at work: laws, losses and slopes.
#[derive(Debug, Clone, Default)]
pub(crate) struct Runs {
    laws: Laws,
    /// Loss at the last flows \[Pa\].
    pub(crate) dp: Vec<f64>,
    /// Its slope \[Pa s/m3\].
    pub(crate) slope: Vec<f64>,
    /// By how much the carries miss Colebrook's equation.
    residual: Vec<f64>,
}

/// exp(X2) at Re 4000.
const TURBULENT: f64 = TURBULENT_FROM * EXP_X2_PER_RE;

impl Laws {
    fn arrays(&mut self) -> [&mut Vec<f64>; 8] {
        let Self {
            k2,
            k1,
            kf,
            smooth,
            rough,
            carry,
            argument,
            log,
        } = self;
        [k2, k1, kf, smooth, rough, carry, argument, log]
    }

    /// Adds a run, for first calls near flow `usual`.
    pub(crate) fn push(&mut self, law: &RunLaw, usual: f64) {
        self.k2.push(law.k2);
        self.k1.push(law.k1);
        self.kf.push(law.kf * F_TIMES_BIG_F_SQUARED);
        let carry = law.carry_at(usual);
        self.carry.push(carry);
        let (smooth, rough, argument) = if law.kf > 0.0 {
            let re = (law.re_per_q * usual).max(TURBULENT_FROM);
            (
                law.re_per_q * EXP_X2_PER_RE,
                law.re_per_q * X1_PER_RE_REL * law.rel_rough,
                step_argument(re, X1_PER_RE_REL * law.rel_rough * re, carry),
            )
        } else {
            // So rough that it is turbulent at any flow and its F stays what it is.
            (1e100, 1e100, 1.0)
        };
        self.smooth.push(smooth);
        self.rough.push(rough);
        self.argument.push(argument);
        self.log
            .push(if law.kf > 0.0 { argument.ln() } else { carry });
    }
}

impl Runs {
    /// Forgets every run; makes room for so many.
    pub(crate) fn clear(&mut self, room: usize) {
        for array in self.laws.arrays() {
            array.clear();
            array.reserve(room);
        }
        for array in [&mut self.dp, &mut self.slope, &mut self.residual] {
            array.reserve(room.saturating_sub(array.len()));
        }
    }

    /// Adds runs that stand side by side.
    pub(crate) fn extend(&mut self, from: &Laws, range: Range<usize>) {
        let Laws {
            k2,
            k1,
            kf,
            smooth,
            rough,
            carry,
            argument,
            log,
        } = from;
        let from = [k2, k1, kf, smooth, rough, carry, argument, log];
        for (array, from) in self.laws.arrays().into_iter().zip(from) {
            if let Some(from) = from.get(range.clone()) {
                array.extend_from_slice(from);
            }
        }
    }

    /// Ends adding.
    pub(crate) fn finish(&mut self) {
        let runs = self.laws.k2.len();
        // Written before they are read: what stands in them does not matter.
        for array in [&mut self.dp, &mut self.slope, &mut self.residual] {
            array.resize(runs, 0.0);
        }
    }

    /// Adds a quadratic share to the law of a run.
    pub(crate) fn add_k2(&mut self, run: usize, k2: f64) {
        if let Some(at) = self.laws.k2.get_mut(run) {
            *at += k2;
        }
    }

    /// Losses and slopes at flows `q >= 0`. Returns whether the carried friction factors had
    /// settled. `law` tells the law of a run again, for those that are not turbulent.
    pub(crate) fn losses<'l>(&mut self, q: &[f64], law: impl Fn(usize) -> &'l RunLaw) -> bool {
        let Self {
            laws,
            dp,
            slope,
            residual,
        } = self;
        let mut state = residuals(residual, laws, q);
        if state.far {
            laws.take_logarithms(q);
            state = residuals(residual, laws, q);
        }
        let settled = friction(slope, dp, laws, (residual, q));
        if state.below {
            for run in 0..q.len() {
                if laws.smooth[run] * q[run] > TURBULENT {
                    continue;
                }
                let law = law(run);
                let loss = law.below_joint_with(laws.k2[run], q[run]);
                (dp[run], slope[run]) = (loss.dp_pa, loss.slope);
                laws.carry[run] = law.joint.big_f;
            }
        }
        settled
    }
}

impl Laws {
    /// Takes the logarithm anew where it is far from the one at hand.
    #[cold]
    fn take_logarithms(&mut self, q: &[f64]) {
        for (run, &q) in q.iter().enumerate() {
            let numerator = self.smooth[run] * q;
            let argument = numerator / (self.rough[run] * q + self.carry[run]);
            let of = self.argument[run];
            let is_far = (argument - of).abs() > NEAR * (argument + of);
            if is_far && numerator > TURBULENT {
                self.argument[run] = argument;
                self.log[run] = argument.ln();
            }
        }
    }
}

/// What a round over all logarithms has found.
#[derive(Debug, Clone, Copy)]
struct State {
    /// Some logarithm was too far from the one at hand: nothing of this round counts.
    far: bool,
    /// Some run is not turbulent.
    below: bool,
}

/// By how much the carries miss Colebrook's equation: the logarithms that it asks for less F.
///
/// Of a number r of about the same size, at hand, ln x = ln r + 2 artanh((x - r)/(x + r)). A run
/// that is not turbulent misses nothing and stays where it is.
///
/// A function of its own, like [`friction`], because the compiler knows that arguments do not
/// overlap: that is what lets it take several runs at a time. So do factors of 0 and 1 in the place
/// of branches. One loop for both took a quarter longer, and the three divisions made one a fifth.
#[inline(never)]
fn residuals(residual: &mut [f64], laws: &Laws, q: &[f64]) -> State {
    let n = residual.len();
    let (q, carry) = (&q[..n], &laws.carry[..n]);
    let (smooth, rough) = (&laws.smooth[..n], &laws.rough[..n]);
    let (of, is) = (&laws.argument[..n], &laws.log[..n]);
    let (mut far, mut above) = (0_u64, u64::MAX);
    let [c0, c1, c2, c3, c4, c5] = ARTANH;
    for i in 0..n {
        // The argument of the logarithm is numerator / w.
        let numerator = smooth[i] * q[i];
        let at = of[i] * (rough[i] * q[i] + carry[i]);
        let turbulent = if numerator > TURBULENT { 1.0 } else { 0.0 };
        let z = (numerator - at) / (numerator + at);
        let z2 = z * z;
        // In pairs and from both ends: the processor waits less than for one nested sum.
        let z4 = z2 * z2;
        let series = (c0 + z2 * c1) + z4 * ((c2 + z2 * c3) + z4 * (c4 + z2 * c5));
        let near = 2.0 * z + (is[i] - carry[i]);
        residual[i] = turbulent * (near + z * z2 * series);
        // All bits or none: what the comparison gives anyway.
        far |= if turbulent * z2 > NEAR * NEAR {
            u64::MAX
        } else {
            0
        };
        above &= if numerator > TURBULENT { u64::MAX } else { 0 };
    }
    State {
        far: far != 0,
        below: above == 0,
    }
}

/// One step of each carry, and losses and slopes there, as if all were turbulent; whether all
/// carries had settled.
#[inline(never)]
fn friction(
    slope: &mut [f64],
    dp: &mut [f64],
    laws: &mut Laws,
    (residual, q): (&[f64], &[f64]),
) -> bool {
    let n = slope.len();
    let (dp, carry) = (&mut dp[..n], &mut laws.carry[..n]);
    let (q, residual) = (&q[..n], &residual[..n]);
    let (rough, kf, k2, k1) = (
        &laws.rough[..n],
        &laws.kf[..n],
        &laws.k2[..n],
        &laws.k1[..n],
    );
    let mut unsettled = 0_u64;
    for i in 0..n {
        let q = q[i];
        let before = carry[i];
        let here = carried_step(rough[i] * q, before, residual[i]);
        // All but the last product of each is at hand before the last division is done.
        let (kf_q, k2_q) = (kf[i] * q, k2[i] * q);
        let rest = k2_q + k1[i];
        dp[i] = rest * q + kf_q * q * (1.0 + here.omega) * here.inverse;
        slope[i] = (rest + k2_q) + (kf_q + kf_q) * here.omega * here.inverse;
        carry[i] = here.big_f;
        let moved = (here.big_f - before).abs();
        unsettled |= if moved > CARRIED * before {
            u64::MAX
        } else {
            0
        };
    }
    unsettled == 0
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::loss::{coefficients::Coefficients, friction_factor};
    use proptest::prelude::*;

    fn coefficients() -> impl Strategy<Value = Coefficients> {
        let rough = prop_oneof![Just(0.0), (-6.0..-1.3f64).prop_map(|x| 10.0f64.powf(x))];
        (0.0..1e4f64, 0.0..300.0f64, prop::bool::weighted(0.8), rough).prop_map(
            |(k2, k1, rubs, rel_rough)| Coefficients {
                k2,
                k1,
                kf: if rubs { 1e5 } else { 0.0 },
                re_per_q: if rubs { 5e5 } else { 0.0 },
                rel_rough,
            },
        )
    }

    /// Any flows, then two rounds of ever smaller steps, as Newton's method takes them.
    fn rounds() -> impl Strategy<Value = (Vec<Coefficients>, Vec<f64>, Vec<f64>)> {
        (1..9usize).prop_flat_map(|n| {
            let flow = (-7.0..1.0f64).prop_map(|x| 10.0f64.powf(x));
            (
                prop::collection::vec(coefficients(), n),
                prop::collection::vec(flow, n),
                prop::collection::vec(-0.3..0.3f64, n),
            )
        })
    }

    proptest! {
        #[test]
        fn prop_settled_runs_lose_what_their_laws_say((laws, flows, steps) in rounds()) {
            let laws: Vec<RunLaw> = laws.iter().map(RunLaw::new).collect();
            let mut plan = Laws::default();
            for law in &laws {
                plan.push(law, 0.1);
            }
            let mut runs = Runs::default();
            runs.clear(laws.len());
            runs.extend(&plan, 0..laws.len());
            runs.finish();
            let mut q = flows;
            for share in [1.0, 0.1, 1e-3, 1e-7, 0.0, 0.0] {
                for (q, step) in q.iter_mut().zip(&steps) {
                    *q *= 1.0 + share * step;
                }
                runs.losses(&q, |run| &laws[run]);
            }
            prop_assert!(runs.losses(&q, |run| &laws[run]));
            for (run, law) in laws.iter().enumerate() {
                let q = q[run];
                let factor = match law.re_per_q * q {
                    re if re > 0.0 => friction_factor(re, law.rel_rough),
                    _ => friction_factor(1.0, 0.0),
                };
                let per_q = (law.k2 + law.kf * factor.f) * q;
                let exact = (per_q + law.k1) * q;
                prop_assert!((runs.dp[run] / exact - 1.0).abs() < 1e-14, "{law:?} {q}");
                let slope = law.kf * factor.f * q * (2.0 + factor.log_slope)
                    + 2.0 * law.k2 * q
                    + law.k1;
                prop_assert!((runs.slope[run] / slope - 1.0).abs() < 1e-13, "{law:?} {q}");
            }
        }
    }
}
