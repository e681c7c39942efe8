//! Darcy friction factor of straight duct, with its exact slope, at any Reynolds number.
//!
//! The solver's hot loop has its own one-step version; constants and step are shared from here.

use std::f64::consts::LN_10;

/// Laminar flow up to this Reynolds number.
pub(crate) const LAMINAR_TO: f64 = 2000.0;
/// Fully turbulent flow (Colebrook) from this Reynolds number.
pub(crate) const TURBULENT_FROM: f64 = 4000.0;
/// f Re of laminar flow in a round duct (Hagen-Poiseuille).
pub(crate) const LAMINAR_F_RE: f64 = 64.0;
/// exp(X2) per Reynolds number: ln 10 / (2 * 2.51).
pub(crate) const EXP_X2_PER_RE: f64 = LN_10 / 5.02;
/// X1 per Reynolds number and relative roughness: ln 10 / (2 * 2.51 * 3.7).
pub(crate) const X1_PER_RE_REL: f64 = LN_10 / 18.574;
/// f F^2: (ln 10 / 2)^2.
pub(crate) const F_TIMES_BIG_F_SQUARED: f64 = LN_10 * LN_10 / 4.0;

/// Beyond this nothing changes but the exponent; it keeps p^2 of the step finite.
const REYNOLDS_MAX: f64 = 1e100;
/// Roughness as large as the duct; Colebrook itself breaks down at 3.7.
pub(crate) const RELATIVE_ROUGHNESS_MAX: f64 = 1.0;

/// Darcy friction factor and its slope.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub struct FrictionFactor {
    /// Darcy friction factor f \[-\]: dp = f L/D rho V^2/2.
    pub f: f64,
    /// d ln f / d ln Re \[-\]. With flow, the pressure loss of a duct changes as
    /// d ln dp / d ln Q = 2 + `log_slope`: 1 in laminar flow, 1.7 to 2 in turbulent flow, and between
    /// them up to 3.1 in ordinary duct (4.3 at a relative roughness of 0.05).
    pub log_slope: f64,
}

/// Darcy friction factor at a Reynolds number and a relative roughness (roughness over hydraulic
/// diameter).
///
/// - Re up to 2000: 64 / Re.
/// - Re from 4000: the equation of Colebrook,
///   1/sqrt f = -2 log10(rel / 3.7 + 2.51 / (Re sqrt f)), solved to rounding.
/// - Between: the cubic in Re that continues both in value and slope. Flow is intermittent there and
///   no law holds; this one is smooth.
///
/// Hence f has no jump in value or slope, and the pressure loss rises strictly with flow, which is
/// what the solver's convergence rests on. Smooth one-line formulas buy that with up to 3 %
/// (Churchill 1977) against Colebrook; the usual cubic of Dunlop 1991 ends on another formula's
/// value, and would leave a step of 1.6 to 3.4 % at Re 4000.
///
/// # Range
/// Colebrook's data reach a relative roughness of about 0.05 (common practice, no source); beyond it
/// the equation still answers, up to 1. Outside that, a rule: the direction of flow does not matter
/// (Re counts by its size); Re 0 gives f infinite and slope -1 (the loss itself is then zero); a
/// negative roughness counts as 0, one above 1 as 1; Re above 1e100 counts as 1e100; NaN gives NaN.
///
/// # Sources
/// C. F. Colebrook, J. Inst. Civil Eng. 11 (1939) 133: the equation, also given in the 2021 ASHRAE
/// Handbook - Fundamentals, ch. 21. D. Clamond, Ind. Eng. Chem. Res. 48 (2009) 3665: the form
/// F + ln(X1 + F) = X2 that it is solved in. Step, slope and transition were derived here and agree
/// with solutions in 40 digits: f to 7e-16 relative, the slope to 3e-14.
///
/// ```
/// use airsplit::friction_factor;
/// // 20 m/s in 6 in galvanised pipe.
/// let pipe = friction_factor(2.0e5, 0.09 / 152.4);
/// assert!((pipe.f - 0.0193).abs() < 0.0001);
/// ```
#[must_use]
pub fn friction_factor(reynolds: f64, relative_roughness: f64) -> FrictionFactor {
    // min and max would swallow a NaN; clamp keeps it.
    let re = reynolds.abs().clamp(0.0, REYNOLDS_MAX);
    let rel = relative_roughness.clamp(0.0, RELATIVE_ROUGHNESS_MAX);
    if re.is_nan() || rel.is_nan() {
        FrictionFactor {
            f: f64::NAN,
            log_slope: f64::NAN,
        }
    } else if re <= LAMINAR_TO {
        FrictionFactor {
            f: LAMINAR_F_RE / re,
            log_slope: -1.0,
        }
    } else if re < TURBULENT_FROM {
        transition(re, colebrook(TURBULENT_FROM, rel))
    } else {
        colebrook(re, rel).friction_factor()
    }
}

/// The friction factor between laminar and turbulent flow, from the solution at Re 4000.
///
/// Cubic Hermite of f over t = (Re - 2000) / 2000, with the values and slopes of both sides.
pub(crate) fn transition(re: f64, at_turbulent: Colebrook) -> FrictionFactor {
    const SPAN: f64 = TURBULENT_FROM - LAMINAR_TO;
    let turbulent = at_turbulent.friction_factor();
    let t = (re - LAMINAR_TO) / SPAN;
    let f0 = LAMINAR_F_RE / LAMINAR_TO;
    let d0 = -f0 * (SPAN / LAMINAR_TO);
    let f1 = turbulent.f;
    let d1 = f1 * turbulent.log_slope * (SPAN / TURBULENT_FROM);
    let c2 = 3.0 * (f1 - f0) - 2.0 * d0 - d1;
    let c3 = 2.0 * (f0 - f1) + d0 + d1;
    let f = f0 + t * (d0 + t * (c2 + t * c3));
    let df_dt = d0 + t * (2.0 * c2 + t * (3.0 * c3));
    FrictionFactor {
        f,
        log_slope: re / SPAN * df_dt / f,
    }
}

/// A solution of Colebrook's equation as F + ln(X1 + F) = X2, where F = (ln 10 / 2) / sqrt f,
/// X1 = rel Re ln 10 / 18.574 and X2 = ln(Re ln 10 / 5.02).
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Colebrook {
    /// F: the root, and what to carry to the next solution nearby.
    pub(crate) big_f: f64,
    /// X1 + F, the Wright omega function of X1 + X2: all that the slope needs.
    pub(crate) omega: f64,
}

impl Colebrook {
    /// f and d ln f / d ln Re = -2 / (1 + omega), exact.
    #[inline]
    pub(crate) fn friction_factor(self) -> FrictionFactor {
        FrictionFactor {
            f: F_TIMES_BIG_F_SQUARED / (self.big_f * self.big_f),
            log_slope: -2.0 / (1.0 + self.omega),
        }
    }
}

/// Colebrook's equation to rounding, for `re` from 4000 to 1e100 and `rel` from 0 to 1.
pub(crate) fn colebrook(re: f64, rel: f64) -> Colebrook {
    // For a smooth duct F + ln F = X2, so F is below X2; two steps from here reach rounding in the
    // whole range (the first one is off by 1e-5 at most for rel up to 0.05).
    let start = (re * EXP_X2_PER_RE).ln() - 0.2;
    colebrook_step(re, rel, colebrook_step(re, rel, start).big_f)
}

/// One fourth-order step toward the root from `big_f`, which must be above -X1; one logarithm.
///
/// From the root of a Reynolds number 10 % away it lands within 1e-10 of the new one.
#[inline]
pub(crate) fn colebrook_step(re: f64, rel: f64, big_f: f64) -> Colebrook {
    let x1 = X1_PER_RE_REL * rel * re;
    let log = step_argument(re, x1, big_f).ln();
    // F is moved, not w: forming w - X1 would lose five digits in rough ducts.
    let big_f = big_f + step(x1, big_f, log - big_f);
    Colebrook {
        big_f,
        omega: x1 + big_f,
    }
}

/// What a step takes the logarithm of: X2 - ln w in one logarithm, of a ratio that stays small
/// where both grow.
#[inline]
pub(crate) fn step_argument(re: f64, x1: f64, big_f: f64) -> f64 {
    re * EXP_X2_PER_RE / (x1 + big_f)
}

/// How far the step goes, with `r` by how much that logarithm is above F.
#[inline]
fn step(x1: f64, big_f: f64, r: f64) -> f64 {
    let w = x1 + big_f;
    let p = 1.0 + w;
    let half_t = p * (p + 2.0 / 3.0 * r);
    // One division for both fractions of the step.
    w * r * (half_t - 0.5 * r) / (p * (half_t - r))
}

/// What the solver takes of a step.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Carried {
    pub(crate) big_f: f64,
    /// X1 + F.
    pub(crate) omega: f64,
    /// 1 / (F^2 (1 + omega)). Times 1 + omega it is the friction factor but for its constant; and
    /// since half of d ln dp / d ln Q of friction alone is omega / (1 + omega) (losses.md section
    /// 4), times omega it is half of the slope.
    pub(crate) inverse: f64,
}

/// A step and what follows from it, with `residual` at hand, the logarithm less F, and two
/// divisions in all.
#[inline]
pub(crate) fn carried_step(x1: f64, big_f: f64, residual: f64) -> Carried {
    let big_f = big_f + step(x1, big_f, residual);
    let omega = x1 + big_f;
    Carried {
        big_f,
        omega,
        inverse: (big_f * big_f * (1.0 + omega)).recip(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;
    use proptest::prelude::*;

    fn rows<const N: usize>(table: &str) -> Vec<[f64; N]> {
        let text = include_str!("../../tests/data/friction.json");
        let all: serde_json::Value = serde_json::from_str(text).unwrap();
        let rows = all[table].as_array().unwrap().iter().map(|row| {
            let row = row.as_array().unwrap();
            assert_eq!(row.len(), N);
            std::array::from_fn(|i| row[i].as_f64().unwrap())
        });
        rows.collect()
    }

    #[test]
    fn val_composite_in_40_digits() {
        let rows = rows::<4>("composite");
        assert_eq!(rows.len(), 240);
        for [re, rel, f, log_slope] in rows {
            let ours = friction_factor(re, rel);
            assert_relative_eq!(ours.f, f, max_relative = 1e-12);
            assert_relative_eq!(ours.log_slope, log_slope, max_relative = 1e-12);
        }
    }

    #[test]
    fn val_colebrook_in_40_digits() {
        let rows = rows::<5>("colebrook");
        assert_eq!(rows.len(), 20);
        for [re, rel, f, log_slope, omega] in rows {
            let ours = colebrook(re, rel);
            assert_relative_eq!(ours.omega, omega, max_relative = 1e-12);
            let ours = ours.friction_factor();
            assert_relative_eq!(ours.f, f, max_relative = 1e-12);
            assert_relative_eq!(ours.log_slope, log_slope, max_relative = 1e-12);
        }
    }

    #[test]
    fn val_thirteen_ducts_at_altitude() {
        // 2021 ASHRAE Handbook - Fundamentals, ch. 21, example 8, tables 14 and 15 (read): every
        // printed loss, to its last digit (1 Pa). Viscosity 1.813e-5 Pa s is not printed there.
        let rows = rows::<4>("ashrae_example_8");
        assert_eq!(rows.len(), 13);
        for [q_l_s, d_mm, l_m, dp_pa] in rows {
            let d_m = d_mm / 1e3;
            let w_m_s = q_l_s / 1e3 / (std::f64::consts::PI / 4.0 * d_m * d_m);
            let f = friction_factor(0.978 * w_m_s * d_m / 1.813e-5, 0.12 / d_mm).f;
            let ours_pa = f * l_m / d_m * 0.978 * w_m_s * w_m_s / 2.0;
            assert!((ours_pa - dp_pa).abs() <= 0.5, "{d_mm} mm: {ours_pa} Pa");
        }
    }

    #[test]
    fn val_textbook_duct() {
        // Stoecker and Jones, Refrigeration and Air Conditioning, 2nd ed., problem 6-1 (read): air
        // at 30 C, 8 m/s, 300 mm, 15 m, roughness 0.15 mm.
        let re: f64 = 1.1644 * 8.0 * 0.3 / 1.8648e-5;
        assert!((re - 149_860.0).abs() <= 5.0);
        let f = friction_factor(re, 0.15 / 300.0).f;
        // The book prints 0.01935, which is not the root: Colebrook at its Re is 0.01937.
        assert!((f - 0.01935).abs() <= 2.5e-5);
        let dp_pa = f * 15.0 / 0.3 * 1.1644 * 64.0 / 2.0;
        assert!((dp_pa - 36.0).abs() <= 0.5);
    }

    #[test]
    fn val_course_notes_duct() {
        // Course notes on applied fluids (read): 6000 cfm in 28 in duct, roughness 0.0036 in, printed
        // Re 337 000 and 1400 fpm. f 0.01545 to its last digit; 0.064 in wg in 80 ft; a chart gives
        // 0.08 in wg per 100 ft.
        let f = friction_factor(337_000.0, 0.0036 / 28.0).f;
        assert!((f - 0.01545).abs() <= 1e-5);
        // 4005 fpm is one inch of velocity pressure in standard air.
        let velocity_pressure_in_wg = (1400.0_f64 / 4005.0).powi(2);
        let loss_in_wg = |l_ft: f64| f * l_ft * 12.0 / 28.0 * velocity_pressure_in_wg;
        assert!((loss_in_wg(80.0) - 0.064).abs() <= 0.001);
        assert!((loss_in_wg(100.0) - 0.08).abs() <= 0.005);
    }

    #[test]
    fn prop_joins_are_smooth_in_value_and_slope() {
        for rel in [0.0, 1e-4, 1e-3, 0.01, 0.05, 1.0] {
            for join in [LAMINAR_TO, TURBULENT_FROM] {
                let below = friction_factor(join.next_down(), rel);
                let at = friction_factor(join, rel);
                let above = friction_factor(join.next_up(), rel);
                for side in [below, above] {
                    assert_relative_eq!(side.f, at.f, max_relative = 2e-15);
                    assert_relative_eq!(side.log_slope, at.log_slope, max_relative = 1e-12);
                }
            }
        }
    }

    #[test]
    fn prop_outside_its_range_it_answers_by_rule() {
        let same = |a: (f64, f64), b: (f64, f64)| {
            assert_eq!(friction_factor(a.0, a.1), friction_factor(b.0, b.1));
        };
        same((-1e5, 1e-3), (1e5, 1e-3));
        same((1e5, -1e-3), (1e5, 0.0));
        same((1e5, f64::INFINITY), (1e5, 1.0));
        same((f64::INFINITY, 1e-3), (1e100, 1e-3));
        let still = friction_factor(-0.0, 1e-3);
        assert_eq!((still.f, still.log_slope), (f64::INFINITY, -1.0));
        for (re, rel) in [(f64::NAN, 1e-3), (1e5, f64::NAN), (1.0, f64::NAN)] {
            let f = friction_factor(re, rel);
            assert!(f.f.is_nan() && f.log_slope.is_nan());
        }
    }

    /// Smooth, ordinary and very rough ducts.
    fn roughness() -> impl Strategy<Value = f64> {
        prop_oneof![Just(0.0), (-7.0..-1.302_f64).prop_map(|x| 10.0_f64.powf(x))]
    }

    fn reynolds() -> impl Strategy<Value = f64> {
        prop_oneof![
            1000.0..6000.0,
            (-3.0..9.0_f64).prop_map(|x| 10.0_f64.powf(x))
        ]
    }

    proptest! {
        #[test]
        fn prop_slope_is_the_derivative(re in reynolds(), rel in roughness()) {
            let h = 1e-5_f64;
            // The curvature jumps at the joins; the difference must not straddle them.
            prop_assume!([LAMINAR_TO, TURBULENT_FROM].iter().all(|join| (re / join).ln().abs() > h));
            let ln_f = |ln_ratio: f64| friction_factor(re * ln_ratio.exp(), rel).f.ln();
            let difference = (ln_f(h) - ln_f(-h)) / (2.0 * h);
            prop_assert!((friction_factor(re, rel).log_slope - difference).abs() < 1e-8);
        }

        #[test]
        fn prop_loss_rises_strictly_with_flow(re in reynolds(), rel in roughness()) {
            let loss = |q: f64| friction_factor(q, rel).f * q * q;
            prop_assert!(loss(re * (1.0 + 1e-12)) > loss(re));
            let exponent = 2.0 + friction_factor(re, rel).log_slope;
            // 3.03 in smooth duct, 4.28 at 0.05: f itself climbs from 0.032 to 0.040 or 0.077.
            prop_assert!((1.0..4.28).contains(&exponent), "{}", exponent);
            if rel < 1.5e-3 || re >= TURBULENT_FROM {
                prop_assert!(exponent < 3.1, "{}", exponent);
            }
        }

        #[test]
        fn prop_solves_the_equation_as_colebrook_wrote_it(
            log_re in 3.602_06..30.0, rel in prop_oneof![roughness(), 0.0..=1.0],
        ) {
            let re = 10.0_f64.powf(log_re);
            let x = 1.0 / friction_factor(re, rel).f.sqrt();
            let right = -2.0 * (rel / 3.7 + 2.51 * x / re).log10();
            prop_assert!((x - right).abs() < 1e-14 * x.max(1.0), "{} {}", x, right);
        }

        #[test]
        fn prop_one_carried_step_suffices(
            log_re in 3.602_06..8.0, rel in roughness(), change in 0.91..1.1,
        ) {
            let re = 10.0_f64.powf(log_re);
            let here = colebrook(re, rel);
            let f = here.friction_factor().f;
            let carried = colebrook_step(re, rel, colebrook(re * change, rel).big_f);
            prop_assert!((carried.friction_factor().f / f - 1.0).abs() < 1e-10);
            let again = colebrook_step(re, rel, here.big_f);
            prop_assert!((again.big_f / here.big_f - 1.0).abs() < 1e-15);
        }

        #[test]
        fn prop_any_number_gets_an_answer(re in any::<f64>(), rel in any::<f64>()) {
            let it = friction_factor(re, rel);
            if re.is_nan() || rel.is_nan() {
                prop_assert!(it.f.is_nan() && it.log_slope.is_nan());
            } else {
                prop_assert!(it.f > 0.0);
                prop_assert!((-1.0..9.0).contains(&it.log_slope));
            }
        }
    }
}
