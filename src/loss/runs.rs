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

/// Arrays in [`Laws`].
const LAWS: usize = 7;

/// Where each stands among them.
const SMOOTH: usize = 0;
const ROUGH: usize = 1;
const ARGUMENT: usize = 2;
const LOG: usize = 3;
const KF: usize = 4;
const K1: usize = 5;
const K2: usize = 6;

/// The law of one run in the numbers that the loop asks for.
#[derive(Debug, Clone, Copy)]
pub(crate) struct RunNumbers {
    /// What [`Laws`] has arrays of, in the same order.
    laws: [f64; LAWS],
    /// F for a first call at a usual flow.
    carry: f64,
}

/// exp(X2) at Re 4000.
const TURBULENT: f64 = TURBULENT_FROM * EXP_X2_PER_RE;

impl RunNumbers {
    /// A run without friction: so rough that it is turbulent at any flow but none, and its F stays
    /// what it is.
    fn without_friction(k1: f64, k2: f64) -> Self {
        let mut laws = [0.0; LAWS];
        (laws[SMOOTH], laws[ROUGH]) = (1e100, 1e100);
        (laws[ARGUMENT], laws[LOG]) = (1.0, 1.0);
        (laws[K1], laws[K2]) = (k1, k2);
        Self { laws, carry: 1.0 }
    }

    /// Of a run whose first calls are near flow `usual`.
    pub(crate) fn new(law: &RunLaw, usual: f64) -> Self {
        if law.kf > 0.0 {
            let carry = law.carry_at(usual);
            let re = (law.re_per_q * usual).max(TURBULENT_FROM);
            let rough_per_re = X1_PER_RE_REL * law.rel_rough;
            let argument = step_argument(re, rough_per_re * re, carry);
            let mut laws = [0.0; LAWS];
            laws[SMOOTH] = law.re_per_q * EXP_X2_PER_RE;
            laws[ROUGH] = law.re_per_q * X1_PER_RE_REL * law.rel_rough;
            (laws[ARGUMENT], laws[LOG]) = (argument, argument.ln());
            laws[KF] = law.kf * F_TIMES_BIG_F_SQUARED;
            (laws[K1], laws[K2]) = (law.k1, law.k2);
            Self { laws, carry }
        } else {
            Self::without_friction(law.k1, law.k2)
        }
    }
}

/// The laws of all runs of a plan.
#[derive(Debug)]
pub(crate) struct RunLaws {
    each: Box<[RunNumbers]>,
    /// All of them as [`Runs`] has them.
    laws: Box<[f64]>,
    carry: Box<[f64]>,
}

impl RunLaws {
    pub(crate) fn new(each: Vec<RunNumbers>) -> Self {
        let mut runs = Runs::default();
        runs.make_room(each.len());
        let mut places = runs.lay_out(each.len());
        for (run, law) in each.iter().enumerate() {
            places.put(run, law);
        }
        Self {
            each: each.into(),
            laws: runs.laws.into(),
            carry: runs.carry.into(),
        }
    }

    /// Of one run.
    pub(crate) fn of(&self, run: usize) -> Option<&RunNumbers> {
        self.each.get(run)
    }
}

/// Runs at work: laws, losses and slopes, each number an array over the runs.
#[derive(Debug, Clone, Default)]
pub(crate) struct Runs {
    /// [`Laws`], one array after the other: in one piece the compiler knows that nothing that is
    /// written overlaps them. To ask that of each at every call took small shops as long as the
    /// work itself.
    laws: Vec<f64>,
    /// F at the last flows.
    carry: Vec<f64>,
    /// Loss at the last flows \[Pa\].
    pub(crate) dp: Vec<f64>,
    /// Its slope \[Pa s/m3\].
    pub(crate) slope: Vec<f64>,
    /// By how much the carries miss Colebrook's equation.
    residual: Vec<f64>,
    /// Runs that are laid out, in pairs.
    count: usize,
}

/// Where the runs of a solve are put, for first calls.
#[derive(Debug)]
pub(crate) struct Places<'a> {
    laws: &'a mut [f64],
    carry: &'a mut [f64],
}

impl Places<'_> {
    #[inline]
    pub(crate) fn put(&mut self, run: usize, law: &RunNumbers) {
        // Not in chunks, which would be divided for.
        let mut at = run;
        for number in law.laws {
            self.laws[at] = number;
            at += self.carry.len();
        }
        self.carry[run] = law.carry;
    }
}

/// What a law is made of but for the carry, each number an array over the runs.
struct Laws<'a> {
    /// exp(X2) and X1 per unit of flow; both huge where there is no friction.
    smooth: &'a [f64],
    rough: &'a [f64],
    /// A number like the one that a step takes the logarithm of, and its logarithm.
    argument: &'a [f64],
    log: &'a [f64],
    /// What 1/F^2 is multiplied by: `kf` with the constant that makes it f.
    kf: &'a [f64],
    k1: &'a [f64],
    k2: &'a [f64],
}

impl<'a> Laws<'a> {
    #[inline(always)]
    fn of(laws: &'a [f64], runs: usize) -> Self {
        let (smooth, laws) = laws.split_at(runs);
        let (rough, laws) = laws.split_at(runs);
        let (argument, laws) = laws.split_at(runs);
        let (log, laws) = laws.split_at(runs);
        let (kf, laws) = laws.split_at(runs);
        let (k1, k2) = laws.split_at(runs);
        Self {
            smooth,
            rough,
            argument,
            log,
            kf,
            k1,
            k2: &k2[..runs],
        }
    }
}

impl Runs {
    /// Runs are taken two at a time: of an odd number the last gets a fellow that loses nothing.
    pub(crate) fn in_pairs(runs: usize) -> usize {
        runs + runs % 2
    }

    /// Makes room for so many runs. Arrays never shrink: those laid out stand at their beginning.
    pub(crate) fn make_room(&mut self, runs: usize) {
        let runs = Self::in_pairs(runs);
        for (array, room) in [
            (&mut self.laws, LAWS * runs),
            (&mut self.carry, runs),
            (&mut self.dp, runs),
            (&mut self.slope, runs),
            (&mut self.residual, runs),
        ] {
            array.resize(room.max(array.len()), 0.0);
        }
    }

    /// Makes ready for so many runs, for which there is room, and forgets those before: each is to be
    /// put in its place.
    #[inline]
    pub(crate) fn lay_out(&mut self, runs: usize) -> Places<'_> {
        let n = Self::in_pairs(runs);
        self.count = n;
        let mut places = Places {
            laws: &mut self.laws[..LAWS * n],
            carry: &mut self.carry[..n],
        };
        if runs < n {
            places.put(runs, &RunNumbers::without_friction(0.0, 0.0));
        }
        places
    }

    /// Puts all runs of a plan in their places.
    pub(crate) fn lay_out_all(&mut self, all: &RunLaws) {
        self.count = all.carry.len();
        self.laws[..all.laws.len()].copy_from_slice(&all.laws);
        self.carry[..all.carry.len()].copy_from_slice(&all.carry);
    }

    /// Adds a quadratic share to the law of a run.
    pub(crate) fn add_k2(&mut self, run: usize, k2: f64) {
        if let Some(at) = self.laws.get_mut(K2 * self.count + run) {
            *at += k2;
        }
    }

    /// Losses and slopes at flows `q >= 0`, in pairs: a last run without a fellow is given some flow
    /// above 0 for it. Returns whether the carried friction factors had settled. `law` tells the law
    /// of a run again, for those that are not turbulent.
    #[inline]
    pub(crate) fn losses<'l>(&mut self, q: &[f64], law: impl Fn(usize) -> &'l RunLaw) -> bool {
        let Self {
            laws,
            carry,
            dp,
            slope,
            residual,
            count,
        } = self;
        let n = *count;
        let q = &q[..n];
        let mut state = residuals(residual, laws, carry, q);
        if state.far {
            take_logarithms(laws, carry, q);
            state = residuals(residual, laws, carry, q);
        }
        let settled = friction(slope, dp, carry, laws, residual, q);
        if state.below {
            self.below(q, law);
        }
        settled
    }

    /// Losses and slopes of the runs that are not turbulent.
    #[cold]
    fn below<'l>(&mut self, q: &[f64], law: impl Fn(usize) -> &'l RunLaw) {
        let laws = Laws::of(&self.laws, self.count);
        for (run, &q) in q[..self.count].iter().enumerate() {
            if laws.smooth[run] * q > TURBULENT {
                continue;
            }
            let law = law(run);
            let loss = law.below_joint_with(laws.k2[run], q);
            (self.dp[run], self.slope[run]) = (loss.dp_pa, loss.slope);
            self.carry[run] = law.joint.big_f;
        }
    }
}

/// Takes the logarithm anew where it is far from the one at hand.
#[cold]
fn take_logarithms(laws: &mut [f64], carry: &[f64], q: &[f64]) {
    let n = q.len();
    for (run, &q) in q.iter().enumerate() {
        let at = |number: usize| number * n + run;
        let numerator = laws[at(SMOOTH)] * q;
        let argument = numerator / (laws[at(ROUGH)] * q + carry[run]);
        let of = laws[at(ARGUMENT)];
        let is_far = (argument - of).abs() > NEAR * (argument + of);
        if is_far && numerator > TURBULENT {
            laws[at(ARGUMENT)] = argument;
            laws[at(LOG)] = argument.ln();
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
fn residuals(residual: &mut [f64], laws: &[f64], carry: &[f64], q: &[f64]) -> State {
    let n = q.len();
    let (residual, carry) = (&mut residual[..n], &carry[..n]);
    let Laws {
        smooth,
        rough,
        argument: of,
        log: is,
        ..
    } = Laws::of(laws, n);
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
    carry: &mut [f64],
    laws: &[f64],
    residual: &[f64],
    q: &[f64],
) -> bool {
    let n = q.len();
    let (slope, dp) = (&mut slope[..n], &mut dp[..n]);
    let (carry, residual) = (&mut carry[..n], &residual[..n]);
    let Laws {
        rough, kf, k1, k2, ..
    } = Laws::of(laws, n);
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

    #[test]
    fn prop_at_re_4000_to_the_last_bit_a_loss_is_not_that_of_the_flow_before() {
        let law = RunLaw::new(&Coefficients {
            k2: 0.0,
            k1: 0.0,
            kf: 1e5,
            re_per_q: 8000.0,
            rel_rough: 1e-3,
        });
        let mut runs = Runs::default();
        runs.make_room(1);
        runs.lay_out_all(&RunLaws::new(vec![RunNumbers::new(&law, 0.1)]));
        for q in [30.0, 30.0, 30.0, 0.5] {
            runs.losses(&[q, 1.0], |_| &law);
        }
        let exact = 1e5 * friction_factor(4000.0, 1e-3).f * 0.25;
        assert!((runs.dp[0] / exact - 1.0).abs() < 1e-14);
    }

    /// However far a flow leaps, its logarithm is taken anew or near enough.
    #[test]
    fn val_leaps_of_any_length_stand_on_colebrook() {
        let law = RunLaw::new(&Coefficients {
            k2: 0.0,
            k1: 0.0,
            kf: 1e5,
            re_per_q: 5e5,
            rel_rough: 0.0,
        });
        for leap in [1.2, 1.39, 1.41, 1.7, 2.0, 2.5, 3.0, 3.7, 4.0, 10.0, 100.0] {
            for leap in [leap, 1.0 / leap] {
                let mut runs = Runs::default();
                runs.make_room(1);
                runs.lay_out_all(&RunLaws::new(vec![RunNumbers::new(&law, 2.0)]));
                let q = 2.0 * leap;
                for q in [2.0, 2.0, q, q, q] {
                    runs.losses(&[q, 1.0], |_| &law);
                }
                let exact = 1e5 * friction_factor(5e5 * q, 0.0).f * q * q;
                assert!((runs.dp[0] / exact - 1.0).abs() < 1e-13, "{leap}");
            }
        }
    }

    proptest! {
        #[test]
        fn prop_settled_runs_lose_what_their_laws_say((laws, flows, steps) in rounds()) {
            let laws: Vec<RunLaw> = laws.iter().map(RunLaw::new).collect();
            let numbers: Vec<_> = laws.iter().map(|law| RunNumbers::new(law, 0.1)).collect();
            let mut runs = Runs::default();
            runs.make_room(laws.len());
            runs.lay_out_all(&RunLaws::new(numbers));
            let mut q = flows;
            q.resize(Runs::in_pairs(laws.len()), 1.0);
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
