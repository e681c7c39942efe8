//! Many runs of duct at once: the solver's hottest loop.
//!
//! The law of [`RunLaw::loss`](super::law::RunLaw::loss), but array by array: no run waits for the
//! divisions of another, the compiler takes two at a time, and a logarithm is taken only where
//! none of nearly the same number is at hand.
#![allow(
    clippy::indexing_slicing,
    reason = "every array is cut to the number of runs before a loop over the runs begins"
)]

use super::{
    friction::{EXP_X2_PER_RE, F_TIMES_BIG_F_SQUARED, TURBULENT_FROM, X1_PER_RE_REL, carried_step},
    law::RunLaw,
};
use std::ops::Range;

/// A fourth-order step from this far, relative, lands on Colebrook's equation to rounding.
const CARRIED: f64 = 1e-3;

/// Four terms of the series of 2 artanh z leave 2 z^9 / 9: below rounding for z up to here, since
/// z itself stands beside a logarithm of order one.
const NEAR: f64 = 0.02;

/// Laws of runs, each number an array of one length.
#[derive(Debug, Clone, Default)]
pub(crate) struct Laws {
    k2: Vec<f64>,
    k1: Vec<f64>,
    /// What 1/F^2 is multiplied by: `kf` with the constant that makes it f.
    kf: Vec<f64>,
    /// exp(X2) and X1 per unit of flow.
    smooth: Vec<f64>,
    rough: Vec<f64>,
    /// Colebrook's F at Re 4000.
    joint: Vec<f64>,
    /// F for a first call at a usual flow; at work, that of the last flows.
    carry: Vec<f64>,
}

/// Runs at work: laws, losses and slopes.
#[derive(Debug, Clone, Default)]
pub(crate) struct Runs {
    laws: Laws,
    reference: Reference,
    /// 1 where Re is above 4000, else 0.
    turbulent: Vec<f64>,
    /// Loss at the last flows \[Pa\].
    pub(crate) dp: Vec<f64>,
    /// Its slope \[Pa s/m3\].
    pub(crate) slope: Vec<f64>,
    /// Logarithms that the steps ask for.
    log: Vec<f64>,
}

/// Logarithms that were taken, and of what.
#[derive(Debug, Clone, Default)]
struct Reference {
    argument: Vec<f64>,
    log: Vec<f64>,
}

/// exp(X2) at Re 4000.
const TURBULENT: f64 = TURBULENT_FROM * EXP_X2_PER_RE;

impl Laws {
    fn arrays(&mut self) -> [&mut Vec<f64>; 7] {
        let Self {
            k2,
            k1,
            kf,
            smooth,
            rough,
            joint,
            carry,
        } = self;
        [k2, k1, kf, smooth, rough, joint, carry]
    }

    /// Adds a run, with the carry for its first flow.
    pub(crate) fn push(&mut self, law: &RunLaw, carry: f64) {
        self.k2.push(law.k2);
        self.k1.push(law.k1);
        self.kf.push(law.kf * F_TIMES_BIG_F_SQUARED);
        // A run without friction is never turbulent.
        let re_per_q = if law.kf > 0.0 { law.re_per_q } else { 0.0 };
        self.smooth.push(re_per_q * EXP_X2_PER_RE);
        self.rough.push(re_per_q * X1_PER_RE_REL * law.rel_rough);
        self.joint.push(law.joint.big_f);
        self.carry.push(carry);
    }
}

impl Runs {
    fn work(&mut self) -> [&mut Vec<f64>; 6] {
        let Self {
            laws: _,
            reference,
            turbulent,
            dp,
            slope,
            log,
        } = self;
        let Reference { argument, log: of } = reference;
        [argument, of, turbulent, dp, slope, log]
    }

    /// Forgets every run; makes room for so many.
    pub(crate) fn clear(&mut self, room: usize) {
        for array in self.laws.arrays() {
            array.clear();
            array.reserve(room);
        }
        for array in self.work() {
            array.clear();
            array.reserve(room);
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
            joint,
            carry,
        } = from;
        let from = [k2, k1, kf, smooth, rough, joint, carry];
        for (array, from) in self.laws.arrays().into_iter().zip(from) {
            if let Some(from) = from.get(range.clone()) {
                array.extend_from_slice(from);
            }
        }
    }

    /// Ends adding.
    pub(crate) fn finish(&mut self) {
        let runs = self.laws.k2.len();
        for array in self.work() {
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
            reference,
            turbulent,
            dp,
            slope,
            log,
        } = self;
        // The first call has no logarithm at hand.
        if reference.argument.first() == Some(&0.0) {
            reference.take(laws, q);
        }
        let mut state = logarithms(log, turbulent, laws, reference, q);
        if state.far {
            reference.take(laws, q);
            state = logarithms(log, turbulent, laws, reference, q);
        }
        let settled = friction(slope, dp, laws, (log, turbulent, q));
        if state.below {
            for run in (0..q.len()).filter(|&run| turbulent[run] == 0.0) {
                let loss = law(run).below_joint_with(laws.k2[run], q[run]);
                (dp[run], slope[run]) = (loss.dp_pa, loss.slope);
                laws.carry[run] = laws.joint[run];
            }
        }
        settled
    }
}

impl Reference {
    /// Takes the logarithm anew where it is far from the one at hand.
    fn take(&mut self, laws: &Laws, q: &[f64]) {
        for (run, &q) in q.iter().enumerate() {
            let numerator = laws.smooth[run] * q;
            let argument = numerator / (laws.rough[run] * q + laws.carry[run]);
            let of = self.argument[run];
            let is_far = (argument - of).abs() > NEAR * (argument + of);
            if is_far && numerator > TURBULENT {
                self.argument[run] = argument;
                self.log[run] = argument.ln();
            } else if of == 0.0 {
                // Any will do where no step is taken; none is 0.
                self.argument[run] = f64::MIN_POSITIVE;
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

/// The logarithms that the steps ask for.
///
/// Of one nearly the same, at hand from an earlier call, ln x = ln r + 2 artanh((x - r)/(x + r)).
/// Newton's steps soon are so small that the series needs four terms, and calls after the first
/// seldom take a logarithm.
///
/// A function of its own, like [`friction`], because the compiler knows that arguments do not
/// overlap: that is what lets it take several runs at a time. Where no step is taken, numbers only
/// have to be finite.
#[inline(never)]
fn logarithms(
    log: &mut [f64],
    turbulent: &mut [f64],
    laws: &Laws,
    reference: &Reference,
    q: &[f64],
) -> State {
    let n = log.len();
    let (turbulent, q, carry) = (&mut turbulent[..n], &q[..n], &laws.carry[..n]);
    let (smooth, rough) = (&laws.smooth[..n], &laws.rough[..n]);
    let (of, is) = (&reference.argument[..n], &reference.log[..n]);
    let (mut far, mut below) = (0_u64, 0_u64);
    for i in 0..n {
        // The argument of the logarithm is numerator / w.
        let numerator = smooth[i] * q[i];
        let is_turbulent = if numerator > TURBULENT { 1.0 } else { 0.0 };
        let at = of[i] * (rough[i] * q[i] + carry[i]);
        let z = is_turbulent * (numerator - at) / (numerator + at);
        let z2 = z * z;
        let series = 2.0 + z2 * (2.0 / 3.0 + z2 * (2.0 / 5.0 + z2 * (2.0 / 7.0)));
        log[i] = is[i] + z * series;
        turbulent[i] = is_turbulent;
        far |= u64::from(z.abs() > NEAR);
        below |= u64::from(is_turbulent == 0.0);
    }
    State {
        far: far != 0,
        below: below != 0,
    }
}

/// One step of each carry, and losses and slopes there, as if all were turbulent; whether all
/// carries had settled.
#[inline(never)]
fn friction(
    slope: &mut [f64],
    dp: &mut [f64],
    laws: &mut Laws,
    (log, turbulent, q): (&[f64], &[f64], &[f64]),
) -> bool {
    let n = slope.len();
    let (dp, carry) = (&mut dp[..n], &mut laws.carry[..n]);
    let (q, log, turbulent) = (&q[..n], &log[..n], &turbulent[..n]);
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
        let here = carried_step(rough[i] * q, before, log[i], turbulent[i]);
        let per_q2 = kf[i] * here.over_square;
        dp[i] = ((k2[i] + per_q2) * q + k1[i]) * q;
        slope[i] = 2.0 * q * (k2[i] + per_q2 * here.share) + k1[i];
        carry[i] = here.big_f;
        unsettled |= u64::from((here.big_f - before).abs() > CARRIED * before);
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
                plan.push(law, law.carry_at(0.1));
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
