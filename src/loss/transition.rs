//! Changes of size along a run: sharp steps and cones, either way.

use super::{Heads, LossError, Rated};
use crate::{
    bore::Bore,
    quantity::{Angle, Area},
};
use std::f64::consts::PI;

/// Darcy friction factor of ordinary metal duct, at which a cone is compared with a sharp step.
const ORDINARY_FRICTION: f64 = 0.02;

/// A change from one bore to another; whether it narrows or widens is found from the areas.
///
/// The loss of [`Sharp`](Self::Sharp) and [`Cone`](Self::Cone) is referred to the velocity
/// pressure, and its friction share to the friction factor, of the smaller bore, whichever way
/// the air goes; see [`Transition::reference`]. Only the ratio of the areas enters: a
/// rectangular bore counts as the round one of equal area, which its source did not test. Equal
/// areas lose nothing.
///
/// With b^2 = smaller area / larger area, all from D. C. Rennels & H. M. Hudson, *Pipe Flow*,
/// Wiley 2012, chapters on contractions and expansions; seen in the documentation of a
/// general-purpose library (fluids 1.3.1), which tells no range of test:
///
/// * narrowing: K = 0.0696 (1 - b^5) l^2 + (l - 1)^2, with
///   l = 1 + 0.622 (1 - 0.215 b^2 - 0.785 b^5);
/// * widening: K = (1 - b^2)^2 (Borda-Carnot).
///
/// ```
/// use airsplit::{Bore, Length, Transition};
/// let [six, eight] = [6.0, 8.0].map(|inches| Bore::Round(Length::from_in(inches)));
/// let k = Transition::Sharp.heads(six, eight)?.heads.fixed;
/// assert!((k - (1.0 - 0.75f64.powi(2)).powi(2)).abs() < 1e-12);
/// assert_eq!(Transition::Sharp.reference(six, eight), six.area());
/// # Ok::<(), airsplit::LossError>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "snake_case", deny_unknown_fields)
)]
#[non_exhaustive]
pub enum Transition {
    /// A step.
    Sharp,
    /// A cone, its own wall friction included: do not count its length as duct.
    ///
    /// With a the total angle and `w` = f (1 - b^4) / (8 sin(a/2)) the wall's share:
    ///
    /// * narrowing: the sharp formula with its first term times sin(a/2) and the 0.622 in l
    ///   times (a/pi)^0.8, plus `w`;
    /// * widening, to 20 deg: 8.30 tan(a/2)^1.75 (1 - b^2)^2 + `w`; from there to 60 deg
    ///   {1.366 sqrt(sin(2 (a - 15 deg))) - 0.170 - e} (1 - b^2)^2 + `w`, where e is
    ///   3.28 (0.0625 - b^4) sqrt((a - 20 deg) / 40 deg) for b below 0.5 and 0 above.
    ///
    /// Ours: never more than the sharp step, compared at f = 0.02 (Rennels' widening cones of
    /// about 38 deg and more exceed it, and from 60 deg on his formula always does); the
    /// widening formulas are 0.001 (1 - b^2)^2 apart at 20 deg, which fades out to 30 deg; from
    /// 60 to 90 deg K runs straight to the sharp step. So K is continuous in angle and areas.
    Cone {
        /// Total angle between opposite walls, 1 to 180 deg (180 deg is the sharp step).
        angle: Angle,
    },
    /// By a loss coefficient, 0 to 1e6, referred to the velocity pressure of the bore that the
    /// air enters.
    K(f64),
}

impl Transition {
    /// The loss where the air goes from the bore `from` into the bore `to`, each of 1e-6 to
    /// 1e4 m2.
    ///
    /// # Errors
    ///
    /// [`LossError`] when an area, the angle or K lies outside its range.
    pub fn heads(&self, from: Bore, to: Bore) -> Result<Rated, LossError> {
        let area =
            |what, bore: Bore| LossError::within(what, bore.area().as_m2(), " m2", 1e-6, 1e4);
        let from_m2 = area("area before the transition", from)?;
        let to_m2 = area("area after the transition", to)?;
        let narrows = to_m2 < from_m2;
        let b = (from_m2.min(to_m2) / from_m2.max(to_m2)).sqrt();
        let sharp = if narrows {
            contraction(1.0, 1.0, b)
        } else {
            (1.0 - b * b).powi(2)
        };
        let heads = match *self {
            Self::K(k) => return Rated::given(k),
            Self::Sharp => Heads::fixed(sharp),
            Self::Cone { angle } => {
                let deg =
                    LossError::within("angle of the cone", angle.as_deg(), " deg", 1.0, 180.0)?;
                if narrows {
                    cone_contraction(deg, b).at_most(sharp)
                } else if deg <= 60.0 {
                    cone_expansion(deg, b).at_most(sharp)
                } else {
                    let at_60 = cone_expansion(60.0, b).at_most(sharp);
                    let share = ((deg - 60.0) / 30.0).min(1.0);
                    Heads {
                        fixed: at_60.fixed + share * (sharp - at_60.fixed),
                        friction: (1.0 - share) * at_60.friction,
                    }
                }
            }
        };
        Ok(Rated::new(heads, []))
    }

    /// The area whose velocity pressure the loss is referred to: the smaller of the two, of
    /// [`K`](Self::K) that of `to`.
    ///
    /// To refer the loss to another area, multiply it by (that area / this area)^2.
    #[must_use]
    pub fn reference(&self, from: Bore, to: Bore) -> Area {
        let (from, to) = (from.area(), to.area());
        match self {
            Self::K(_) => to,
            Self::Sharp | Self::Cone { .. } if from < to => from,
            Self::Sharp | Self::Cone { .. } => to,
        }
    }
}

impl Heads {
    /// Not more than `k` at ordinary friction; the shape's share is kept before the wall's.
    fn at_most(self, k: f64) -> Self {
        let fixed = self.fixed.min(k);
        Self {
            fixed,
            friction: self.friction.min((k - fixed) / ORDINARY_FRICTION),
        }
    }
}

/// The shape's share of a contraction: `rounding` 1 and `turning` 1 for a sharp one.
fn contraction(rounding: f64, turning: f64, b: f64) -> f64 {
    let b5 = b.powi(5);
    let jet = 0.622 * turning * (1.0 - 0.215 * b * b - 0.785 * b5);
    0.0696 * rounding * (1.0 - b5) * (1.0 + jet).powi(2) + jet * jet
}

fn cone_contraction(deg: f64, b: f64) -> Heads {
    let angle = deg.to_radians();
    Heads {
        fixed: contraction((angle / 2.0).sin(), (angle / PI).powf(0.8), b),
        friction: wall(deg, b),
    }
}

/// For angles up to 60 deg.
fn cone_expansion(deg: f64, b: f64) -> Heads {
    let narrow = |deg: f64| 8.30 * (deg / 2.0).to_radians().tan().powf(1.75);
    let wide = |deg: f64| 1.366 * (2.0 * (deg - 15.0)).to_radians().sin().sqrt() - 0.170;
    let shape = if deg <= 20.0 {
        narrow(deg)
    } else {
        let past_20 = deg - 20.0;
        let gap = (narrow(20.0) - wide(20.0)) * (1.0 - past_20 / 10.0).max(0.0);
        let slender = 3.28 * (0.0625 - b.powi(4)).max(0.0) * (past_20 / 40.0).sqrt();
        wide(deg) + gap - slender
    };
    Heads {
        fixed: shape * (1.0 - b * b).powi(2),
        friction: wall(deg, b),
    }
}

/// Friction on the wall of a cone, as a multiple of the friction factor of the smaller bore.
fn wall(deg: f64, b: f64) -> f64 {
    (1.0 - b.powi(4)) / (8.0 * (deg / 2.0).to_radians().sin())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::loss::table::check_rows;
    use crate::quantity::Length;
    use approx::assert_relative_eq;
    use proptest::{num::f64::ANY, prelude::*};

    /// A row of the file: a change of size and its K, referred to the smaller bore.
    struct Row {
        from_m: f64,
        to_m: f64,
        /// `None` for a sharp one.
        deg: Option<f64>,
        f: f64,
        k: f64,
    }

    fn rows(prefix: &str) -> Vec<Row> {
        let rows = check_rows(include_str!("../../tests/data/transition.json"), prefix);
        let rows: Vec<_> = rows
            .iter()
            .map(|row| Row {
                from_m: row["inputs"]["D1"].as_f64().expect("a number"),
                to_m: row["inputs"]["D2"].as_f64().expect("a number"),
                deg: row["inputs"]["angle_total_deg"].as_f64(),
                f: row["inputs"]["f_darcy"].as_f64().unwrap_or(0.0),
                k: row["expected"]["K"].as_f64().expect("a number"),
            })
            .collect();
        assert!(!rows.is_empty(), "{prefix}");
        rows
    }

    fn round(m: f64) -> Bore {
        Bore::Round(Length::from_m(m))
    }

    fn cone(deg: f64) -> Transition {
        let angle = Angle::from_deg(deg);
        Transition::Cone { angle }
    }

    fn heads(transition: Transition, from_m: f64, to_m: f64) -> Heads {
        let rated = transition.heads(round(from_m), round(to_m));
        rated.expect("within its range").heads
    }

    #[test]
    fn val_sharp_changes_agree_with_fluids() {
        // fluids 1.3.1: contraction_sharp (Rennels), diffuser_sharp (Borda-Carnot).
        for row in rows("contr.sharp").iter().chain(&rows("diff.sharp")) {
            let ours = heads(Transition::Sharp, row.from_m, row.to_m);
            assert_relative_eq!(ours.fixed, row.k, max_relative = 1e-12);
            assert_eq!(ours.friction, 0.0);
        }
    }

    #[test]
    fn val_cones_before_the_cap_agree_with_fluids() {
        // fluids 1.3.1: contraction_conical, diffuser_conical, method Rennels, f 0.02.
        for row in rows("contr.cone") {
            let ours = cone_contraction(row.deg.expect("a cone"), row.to_m / row.from_m);
            assert_relative_eq!(ours.at(row.f), row.k, max_relative = 1e-12);
        }
        for row in rows("diff.cone") {
            let deg = row.deg.expect("a cone");
            if deg <= 60.0 {
                let ours = cone_expansion(deg, row.from_m / row.to_m);
                assert_relative_eq!(ours.at(row.f), row.k, max_relative = 1e-12);
            }
        }
    }

    #[test]
    fn val_cones_lose_what_fluids_says_but_never_more_than_the_step() {
        // The same rows, all angles, through the public law.
        let mut capped = 0;
        for row in rows("contr.cone").iter().chain(&rows("diff.cone")) {
            let ours = heads(cone(row.deg.expect("a cone")), row.from_m, row.to_m);
            let step = heads(Transition::Sharp, row.from_m, row.to_m).fixed;
            assert_relative_eq!(ours.at(row.f), row.k.min(step), max_relative = 1e-12);
            capped += usize::from(step < row.k);
        }
        // from 45 deg on at every b from 0.5 (20 rows), and 9 rows of the slender pairs
        assert_eq!(capped, 29);
    }

    #[test]
    fn val_cones_between_150_and_200_mm() {
        // Computed with fluids 1.3.1, method Rennels, f 0.01799 (a smooth pipe at Re 1e5), three
        // digits: widening at 10, 20, 30, 60 deg (the last above the step, which Borda and
        // Rennels put at 0.1914), narrowing at 20, 30, 60 deg, and the two steps.
        let near = |ours: f64, theirs: f64| (ours - theirs).abs() <= 0.0005;
        for (deg, theirs) in [(10.0, 0.040), (20.0, 0.085), (30.0, 0.158), (60.0, 0.232)] {
            assert!(near(cone_expansion(deg, 0.75).at(0.01799), theirs), "{deg}");
        }
        for (deg, theirs) in [(20.0, 0.025), (30.0, 0.033), (60.0, 0.072)] {
            assert!(
                near(heads(cone(deg), 0.2, 0.15).at(0.01799), theirs),
                "{deg}"
            );
        }
        assert!((heads(Transition::Sharp, 0.15, 0.2).fixed - 0.1914).abs() <= 0.000_05);
        assert!(near(heads(Transition::Sharp, 0.2, 0.15).fixed, 0.294));
        assert!((heads(cone(60.0), 0.15, 0.2).at(0.02) - 0.1914).abs() <= 0.000_05);
    }

    #[test]
    fn prop_above_60_deg_the_formula_of_the_source_is_never_below_the_step() {
        // Rennels & Hudson 2012, 60 to 180 deg, over (1 - b^2)^2, as told in the documentation of fluids
        // 1.3.1: what the doc says we may leave out.
        for (b, share) in (0..=100).flat_map(|i| (0..=20).map(move |j| (i, j))) {
            let (b, root) = (f64::from(b) / 100.0, (f64::from(share) / 20.0).sqrt());
            let over_step = if b < 0.5 {
                1.205 - 3.28 * (0.0625 - b.powi(4)) - 12.8 * b.powi(6) * root
            } else {
                1.205 - 0.20 * root
            };
            assert!(over_step >= 1.0, "b {b}");
        }
    }

    #[test]
    fn prop_equal_areas_lose_nothing_and_a_half_turned_cone_is_a_step() {
        for transition in [Transition::Sharp, cone(30.0), cone(180.0)] {
            assert_eq!(heads(transition, 0.1, 0.1), Heads::default());
        }
        for (from, to) in [(0.1, 0.15), (0.15, 0.1)] {
            assert_eq!(
                heads(cone(180.0), from, to),
                heads(Transition::Sharp, from, to)
            );
        }
    }

    #[test]
    fn val_from_60_to_90_deg_the_loss_runs_straight_to_the_step_by_hand() {
        // b = 0.2, of which b^4 = 0.0016: the step is 0.96^2 (Borda and Carnot). At 60 deg
        // (Rennels) the shape is (1.366 - 0.170 - 3.28 (0.0625 - 0.0016)) 0.96^2 = 0.91814, and
        // the wall, (1 - 0.0016)/(8 sin 30 deg) = 0.2496 of f, is cut to what the step leaves at
        // f 0.02. At 70 deg a third of the way is gone, at 75 half, from 90 on all.
        let step = 0.96 * 0.96;
        let shape = (1.196 - 3.28 * 0.0609) * step;
        let wall = (step - shape) / 0.02;
        assert!(shape < step && wall < 0.2496);
        for (deg, gone) in [
            (60.0, 0.0),
            (70.0, 1.0 / 3.0),
            (75.0, 0.5),
            (90.0, 1.0),
            (120.0, 1.0),
        ] {
            let ours = heads(cone(deg), 0.1, 0.5);
            assert_relative_eq!(
                ours.fixed,
                shape + gone * (step - shape),
                max_relative = 1e-12
            );
            assert_relative_eq!(ours.friction, (1.0 - gone) * wall, epsilon = 1e-12);
        }
    }

    #[test]
    fn prop_the_reference_is_the_smaller_area_and_of_k_the_one_entered() {
        let (small, large) = (round(0.1), round(0.15));
        for transition in [Transition::Sharp, cone(30.0)] {
            assert_eq!(transition.reference(small, large), small.area());
            assert_eq!(transition.reference(large, small), small.area());
        }
        assert_eq!(Transition::K(0.2).reference(small, large), large.area());
        assert_eq!(heads(Transition::K(0.2), 0.1, 0.1).fixed, 0.2);
    }

    #[test]
    fn prop_bad_input_is_refused_with_its_range() {
        let text = |transition: Transition, from, to| {
            let error = transition
                .heads(round(from), round(to))
                .expect_err("must be refused");
            error.to_string()
        };
        assert_eq!(
            text(cone(0.0), 0.1, 0.2),
            "angle of the cone is 0 deg; allowed: 1 deg to 180 deg"
        );
        assert!(
            text(Transition::Sharp, 0.0, 0.2).starts_with("area before the transition is 0 m2")
        );
        assert!(text(Transition::Sharp, 0.1, f64::NAN).starts_with("area after the transition"));
        assert!(
            text(Transition::K(f64::INFINITY), 0.1, 0.2).starts_with("loss coefficient is inf")
        );
    }

    proptest! {
        #[test]
        fn prop_any_numbers_give_a_loss_that_is_not_negative_or_an_error(
            (from, to) in (prop_oneof![ANY, 0.01..1.0], prop_oneof![ANY, 0.01..1.0]),
            deg in prop_oneof![ANY, 1.0..180.0],
            k in ANY,
        ) {
            for transition in [Transition::Sharp, cone(deg), Transition::K(k)] {
                let _ = transition.reference(round(from), round(to));
                if let Ok(Rated { heads, .. }) = transition.heads(round(from), round(to)) {
                    prop_assert!(heads.fixed >= 0.0 && heads.fixed.is_finite());
                    prop_assert!(heads.friction >= 0.0 && heads.friction.is_finite());
                }
            }
        }

        #[test]
        fn prop_no_cone_loses_more_than_the_step(
            (from, to) in (0.01..1.0, 0.01..1.0), deg in 1.0..180.0, f in 0.0..0.02,
        ) {
            let step = heads(Transition::Sharp, from, to).fixed;
            prop_assert!(heads(cone(deg), from, to).at(f) <= step * (1.0 + 1e-12));
        }

        #[test]
        fn prop_a_step_to_a_size_farther_off_never_loses_less(
            (a, b, c) in (0.01..1.0, 0.01..1.0, 0.01..1.0),
        ) {
            let mut sizes: [f64; 3] = [a, b, c];
            sizes.sort_by(f64::total_cmp);
            let [small, middle, large] = sizes;
            let step = |from, to| heads(Transition::Sharp, from, to).fixed;
            prop_assert!(step(small, large) >= step(small, middle));
            prop_assert!(step(large, small) >= step(middle, small));
        }

        #[test]
        fn prop_cones_are_continuous(
            (large, b) in (0.1..1.0, prop_oneof![0.1..1.0, Just(0.5), Just(1.0)]),
            deg in prop_oneof![1.0..179.0, Just(20.0), Just(30.0), Just(60.0), Just(90.0)],
        ) {
            let h = 1e-9;
            let of = |b: f64, deg| [
                heads(cone(deg), b * large, large).at(0.02),
                heads(cone(deg), large, b * large).at(0.02),
            ];
            let here = of(b, deg);
            // the published sqrt(a - 20 deg) is steep at its start: 0.2 sqrt(1e-9 / 40) = 1e-6
            for there in [of(b + h, deg), of(b, deg + h)] {
                for (here, there) in here.iter().zip(there) {
                    prop_assert!((there - here).abs() < 2e-6, "{here} {there}");
                }
            }
        }
    }

    #[test]
    fn val_a_slender_wide_cone_by_hand() {
        // (1.366 sqrt(sin 50) - 0.170 - 3.28 (0.0625 - 0.3^4) sqrt(1/2)) (1 - 0.3^2)^2 at 40 deg:
        // the equation of Rennels & Hudson for 20 to 60 deg, worked out with a calculator.
        assert_relative_eq!(
            cone_expansion(40.0, 0.3).fixed,
            0.744_80,
            max_relative = 1e-4
        );
    }

    /// Rennels & Hudson's equations for up to and from 20 deg miss each other there by 0.001: that
    /// fades out over the next ten.
    #[test]
    fn a_cone_has_no_step_where_its_equations_meet() {
        // tan(10 deg) = 0.176327, sin(10, 20 and 30 deg) = 0.173648, 0.342020 and 0.5; no slender
        // cones from b = 0.5 on.
        let to_20 = 8.30 * 0.176_327_f64.powf(1.75);
        let from_20 = |sine: f64| 1.366 * sine.sqrt() - 0.170;
        let gap = to_20 - from_20(0.173_648);
        assert!((5e-4..2e-3).contains(&gap.abs()), "{gap}");
        let shape = |deg| cone_expansion(deg, 0.6).fixed / (1.0 - 0.36_f64).powi(2);
        for (deg, by_hand) in [
            (20.0, to_20),
            (25.0, from_20(0.342_020) + 0.5 * gap),
            (30.0, from_20(0.5)),
        ] {
            assert!((shape(deg) - by_hand).abs() < 1e-5, "{deg}");
        }
    }
}
