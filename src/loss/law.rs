//! The hot side: loss and slope of one run of duct, at one logarithm a call.

use super::{
    coefficients::Coefficients,
    friction::{
        Colebrook, F_TIMES_BIG_F_SQUARED, LAMINAR_F_RE, LAMINAR_TO, TURBULENT_FROM, X1_PER_RE_REL,
        carried_step, colebrook, step_argument, transition,
    },
};

/// Loss of total pressure and its slope against flow: all that a solver may see of a law.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Loss {
    /// \[Pa\]
    pub(crate) dp_pa: f64,
    /// \[Pa s/m3\]
    pub(crate) slope: f64,
}

/// A run as the solver evaluates it: [`Coefficients`] with all that does not change with flow
/// worked out beforehand.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct RunLaw {
    pub(crate) k2: f64,
    pub(crate) kf: f64,
    pub(crate) k1: f64,
    pub(super) re_per_q: f64,
    pub(super) rel_rough: f64,
    /// Colebrook at the end of the transition: joint of the cubic, and reset of the carry.
    pub(super) joint: Colebrook,
}

impl RunLaw {
    pub(crate) fn new(c: &Coefficients) -> Self {
        Self {
            k2: c.k2,
            kf: c.kf,
            k1: c.k1,
            re_per_q: c.re_per_q,
            rel_rough: c.rel_rough,
            joint: colebrook(TURBULENT_FROM, c.rel_rough),
        }
    }

    /// The carry for a first call near flow `q`.
    pub(crate) fn carry_at(&self, q: f64) -> f64 {
        let re = self.re_per_q * q;
        if self.kf > 0.0 && re > TURBULENT_FROM {
            colebrook(re, self.rel_rough).big_f
        } else {
            self.joint.big_f
        }
    }

    /// Loss and slope at flow `q >= 0`; `carry` is Colebrook's F of the previous call.
    ///
    /// One fourth-order step a call: as the flow settles, so does F, and the last calls of a
    /// Newton iteration stand on Colebrook's equation to rounding. Below Re 4000 the carry is put
    /// back to its value AT 4000: any other reset lets an iterate that hops over the joint see
    /// two values there and cycle for ever.
    #[inline]
    pub(crate) fn loss(&self, q: f64, carry: &mut f64) -> Loss {
        let mut dp_pa = (self.k2 * q + self.k1) * q;
        let mut slope = 2.0 * self.k2 * q + self.k1;
        if self.kf > 0.0 {
            let re = self.re_per_q * q;
            if re > TURBULENT_FROM {
                let x1 = X1_PER_RE_REL * self.rel_rough * re;
                let log = step_argument(re, x1, *carry).ln();
                let here = carried_step(x1, *carry, log - *carry);
                *carry = here.big_f;
                let scale = self.kf * F_TIMES_BIG_F_SQUARED * here.inverse * q;
                dp_pa += scale * (1.0 + here.omega) * q;
                // losses.md section 4: d(dp)/dq = (2 dp/q) omega / (1 + omega), exactly.
                slope += 2.0 * scale * here.omega;
            } else {
                *carry = self.joint.big_f;
                let friction = self.below_joint(re, q);
                dp_pa += friction.dp_pa;
                slope += friction.slope;
            }
        }
        Loss { dp_pa, slope }
    }

    /// The whole law below Re 4000, or without friction, with this quadratic share.
    pub(super) fn below_joint_with(&self, k2: f64, q: f64) -> Loss {
        let mut loss = Loss {
            dp_pa: (k2 * q + self.k1) * q,
            slope: 2.0 * k2 * q + self.k1,
        };
        if self.kf > 0.0 {
            let friction = self.below_joint(self.re_per_q * q, q);
            loss.dp_pa += friction.dp_pa;
            loss.slope += friction.slope;
        }
        loss
    }

    /// Friction below Re 4000: laminar, then the C1 cubic up to the joint.
    #[cold]
    fn below_joint(&self, re: f64, q: f64) -> Loss {
        if re <= LAMINAR_TO {
            // 64/Re: the loss is linear in flow, with a finite slope at rest.
            let slope = self.kf * LAMINAR_F_RE / self.re_per_q;
            return Loss {
                dp_pa: slope * q,
                slope,
            };
        }
        let here = transition(re, self.joint);
        let pressure_per_q = self.kf * here.f * q;
        Loss {
            dp_pa: pressure_per_q * q,
            slope: pressure_per_q * (2.0 + here.log_slope),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::loss::friction_factor;
    use proptest::prelude::*;

    /// Six inches of galvanised pipe, 10 m, with fittings and some cloth.
    fn pipe(rel_rough: f64) -> RunLaw {
        RunLaw::new(&Coefficients {
            k2: 900.0,
            kf: 1.2e5,
            k1: 150.0,
            re_per_q: 5.5e5,
            rel_rough,
        })
    }

    fn settled(law: &RunLaw, q: f64) -> Loss {
        let mut carry = law.carry_at(q);
        law.loss(q, &mut carry);
        law.loss(q, &mut carry)
    }

    fn flows() -> impl Strategy<Value = f64> {
        prop_oneof![(-7.0..1.0f64).prop_map(|x| 10.0f64.powf(x)), 0.0..0.02f64]
    }

    proptest! {
        #[test]
        fn prop_carried_loss_is_the_exact_loss(q in flows(), rel in 0.0..0.05f64) {
            let law = pipe(rel);
            let f = friction_factor(law.re_per_q * q, rel).f;
            let exact = (law.k2 + law.kf * f) * q * q + law.k1 * q;
            prop_assume!(q > 0.0);
            prop_assert!((settled(&law, q).dp_pa / exact - 1.0).abs() < 1e-14);
        }

        #[test]
        fn prop_slope_is_the_derivative(q in flows(), rel in 0.0..0.05f64) {
            let law = pipe(rel);
            let h = 1e-6 * q;
            let re = law.re_per_q * q;
            prop_assume!(q > 1e-7 && [2000.0, 4000.0].iter().all(|joint: &f64| (re / joint - 1.0).abs() > 1e-5));
            let difference = (settled(&law, q + h).dp_pa - settled(&law, q - h).dp_pa) / (2.0 * h);
            prop_assert!((settled(&law, q).slope / difference - 1.0).abs() < 1e-7);
        }

        #[test]
        fn prop_loss_rises_strictly(q in flows(), rel in 0.0..0.05f64) {
            let law = pipe(rel);
            prop_assert!(settled(&law, q * (1.0 + 1e-9) + 1e-15).dp_pa > settled(&law, q).dp_pa);
            prop_assert!(settled(&law, q).slope > 0.0);
        }
    }

    /// Both joints, the carried state included: a call just above and one just below agree.
    #[test]
    fn prop_joints_are_smooth() {
        for rel in [0.0, 6e-4, 0.05] {
            let law = pipe(rel);
            for re in [LAMINAR_TO, TURBULENT_FROM] {
                let q = re / law.re_per_q;
                let mut carry = law.carry_at(2.0 * q);
                // The first call only settles the carry.
                law.loss(q * (1.0 + 1e-13), &mut carry);
                let above = law.loss(q * (1.0 + 1e-13), &mut carry);
                let below = law.loss(q * (1.0 - 1e-13), &mut carry);
                let again = law.loss(q * (1.0 + 1e-13), &mut carry);
                for (a, b) in [(above, below), (below, again)] {
                    assert!((a.dp_pa / b.dp_pa - 1.0).abs() < 1e-11, "{a:?} {b:?}");
                    assert!((a.slope / b.slope - 1.0).abs() < 1e-10, "{a:?} {b:?}");
                }
            }
        }
    }

    #[test]
    fn val_at_rest_the_slope_is_laminar() {
        // Hagen and Poiseuille: d(dp)/dq = 128 mu L / (pi D^4), here for 3 m of 4 in.
        let (mu, rho, d, l): (f64, f64, f64, f64) = (1.825e-5, 1.204, 0.1016, 3.0);
        let area = std::f64::consts::PI / 4.0 * d * d;
        let law = RunLaw::new(&Coefficients {
            kf: l / d * rho / (2.0 * area * area),
            re_per_q: 4.0 * rho / (std::f64::consts::PI * d * mu),
            rel_rough: 1e-3,
            ..Coefficients::default()
        });
        let expected = 128.0 * mu * l / (std::f64::consts::PI * d.powi(4));
        let slope = law.loss(0.0, &mut law.carry_at(0.0)).slope;
        assert!((slope / expected - 1.0).abs() < 1e-13);
    }
}
