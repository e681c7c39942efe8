//! The fan curve through noisy points: a smoothing spline, and what it did to them.
#![allow(
    clippy::indexing_slicing,
    reason = "points are counted by the checked table, and every array of them is as long"
)]

use super::{
    Basis, FanCurve, FanError, Fitted,
    curve::{checked_density, checked_points, overflow},
    spline::{Points, Spline},
};
use crate::{
    curve1d::Curve1d,
    quantity::{Density, Pressure, VolumeFlow},
};

/// With fewer, cross-validation takes noise for shape, or shape for noise, too often.
const FEWEST_POINTS: usize = 20;

/// Weights that are taken and searched. Below the least, even a point at every index unit is
/// followed to 1e-4 of its noise; the largest leaves a thousand points some two degrees of freedom.
const LIGHTEST: f64 = 1e-6;
const HEAVIEST: f64 = 1e12;

/// Shortest step between two points, in shares of the mean one. With two such steps side by side
/// a fit keeps 1e-12 of the largest pressure at usual weights and 1e-8 at any (measured against 50
/// digits); with steps a hundred times shorter, 1e-6 and 1e-3.
const SHORTEST_STEP: f64 = 1e-3;

/// How deep a turn of the points must be, in scatters, to be told from noise.
const TURN_DEPTH: f64 = 3.0;

/// Share of the largest pressure by which a smoothed curve may lie below zero, where the points
/// lie at or above it. Judgement.
const BELOW_ZERO: f64 = 0.02;

/// Degrees of freedom per point above which the curve is held to follow the noise. Judgement.
const FREEDOM: f64 = 0.6;

/// How a smoothed curve remembers what was measured.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Smoothing {
    pub(super) weight: f64,
    /// Published pressures, one for each knot of the curve.
    pub(super) p_pa: Box<[f64]>,
}

/// A smoothed fan curve, and what the smoothing did.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
#[must_use]
pub struct Smoothed {
    /// The curve; its [points](FanCurve::points) are still the published ones.
    pub curve: FanCurve,
    /// What it did to the points.
    pub report: SmoothingReport,
}

/// What a smoothed curve did to its points. Ask [`SmoothingReport::lost_turns`] and
/// [`SmoothingReport::follows_noise`] before use.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct SmoothingReport {
    /// The smoothing weight, for an abscissa that runs from 0 at the first point to n - 1 at the
    /// last: it does not depend on units. Small: near the points; large: near a straight line.
    pub weight: f64,
    /// Effective degrees of freedom of the curve (trace S, when the smoothed pressures are S times
    /// the measured ones): 2 for a straight line; near the number of points, the curve follows
    /// the noise and has smoothed nothing.
    pub degrees_of_freedom: f64,
    /// Standard deviation of the points about the curve,
    /// sqrt(residual square / (n - `degrees_of_freedom`)).
    pub scatter: Pressure,
    /// The score of generalised cross-validation \[Pa2\], least at the weight that it chose.
    pub gcv: f64,
    /// Standard error of the curve at each point, scatter sqrt(S's diagonal).
    ///
    /// The curve lies within twice this of the true one at about 95 % of all points (fewer at the
    /// ends), bias included, if the noise is alike everywhere: G. Wahba, "Bayesian 'confidence
    /// intervals' for the cross-validated smoothing spline", J. R. Stat. Soc. B 45 (1983) 133-150,
    /// from memory; confirmed by simulation in the tests, but not where the curve
    /// [follows the noise](Self::follows_noise).
    pub standard_error: Vec<Pressure>,
    /// The dips and humps of the points that stand out of their noise, flow rising.
    pub turns: Vec<CurveTurn>,
}

impl SmoothingReport {
    /// The dips and humps of which the curve has kept less than half the depth.
    pub fn lost_turns(&self) -> impl Iterator<Item = &CurveTurn> {
        self.turns.iter().filter(|turn| !turn.is_kept())
    }

    /// Whether there are more than 0.6 degrees of freedom to a point: either the points are exact,
    /// or cross-validation failed and the curve follows their noise; `scatter` and
    /// `standard_error` are then too small. More points help, or a weight of the caller's.
    #[must_use]
    pub fn follows_noise(&self) -> bool {
        self.degrees_of_freedom > FREEDOM * self.standard_error.len() as f64
    }
}

/// A dip or hump of the measured points, deeper on both sides than three times their noise.
///
/// The noise is judged from each point and its two neighbours, not from the curve, in which a dip
/// just lost would count as noise.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct CurveTurn {
    /// A dip or a hump.
    pub kind: TurnKind,
    /// Flow of its lowest or highest point; of several alike, the first.
    pub flow: VolumeFlow,
    /// How far the lower of its two sides stands from that point.
    pub depth: Pressure,
    /// The same of the smoothed curve; zero where the curve has no such turn.
    pub depth_kept: Pressure,
}

impl CurveTurn {
    /// Whether the curve has half the depth or more.
    #[must_use]
    pub fn is_kept(&self) -> bool {
        self.depth_kept.as_pa() >= 0.5 * self.depth.as_pa()
    }
}

/// Which way a curve turns.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize),
    serde(rename_all = "snake_case")
)]
#[non_exhaustive]
pub enum TurnKind {
    /// From falling to rising.
    Dip,
    /// From rising to falling.
    Hump,
}

impl FanCurve {
    /// The curve near many noisy `points`, as from a scanned picture: a natural cubic smoothing
    /// spline whose weight is chosen by generalised cross-validation.
    ///
    /// At least 20 points. Between them the second derivative is continuous; beyond the first and
    /// the last the curve is straight. Unlike [`FanCurve::new`] it keeps no shape: it may have a
    /// slight rise that the points have not ([`FanCurve::rises`]), and it may flatten a dip, which
    /// the report then names. Few, exact points belong to [`FanCurve::new`]. Cross-validation
    /// fails at times, mostly with few points, and [follows the noise](SmoothingReport::follows_noise):
    /// in simulations of a falling curve with 24 % of the sets of 20 points, 10 % of 30, 5 % of 40.
    ///
    /// The cost is nearly in proportion to the number of points: about 0.15 ms for 25, 3 ms for 1000.
    ///
    /// ```
    /// use airsplit::{Basis, Density, FanCurve, Fitted, Pressure, VolumeFlow};
    /// # fn main() -> Result<(), airsplit::FanError> {
    /// // 24 points of 10 (1 - q^2) inches of water, read to the nearest tenth
    /// let points = (0..24).map(|i| {
    ///     let share = f64::from(i) / 24.0;
    ///     let in_wg = (100.0 * (1.0 - share * share)).round() / 10.0;
    ///     (VolumeFlow::from_cfm(1200.0 * share), Pressure::from_in_wg(in_wg))
    /// });
    /// let fan = FanCurve::smoothed(points, Basis::Static, Fitted::ALL, Density::STANDARD_AIR)?;
    /// assert!(fan.report.lost_turns().next().is_none());
    /// assert!(fan.report.scatter.as_in_wg() < 0.05);
    /// let half = fan.curve.pressure(VolumeFlow::from_cfm(600.0));
    /// assert!((half.as_in_wg() - 7.5).abs() < 0.03);
    /// # Ok(())
    /// # }
    /// ```
    ///
    /// # Errors
    /// Those of [`FanCurve::new`]; [`FanError::TooFewToSmooth`]; [`FanError::TooClose`] for a step
    /// of flow below 1/1000 of the mean step; [`FanError::SmoothedBelowZero`] where the curve is
    /// below zero by more than 2 % of its largest pressure, or not above zero at the first point.
    pub fn smoothed(
        points: impl IntoIterator<Item = (VolumeFlow, Pressure)>,
        basis: Basis,
        fitted: Fitted,
        density: Density,
    ) -> Result<Smoothed, FanError> {
        Self::smooth(points, None, basis, fitted, density)
    }

    /// The curve of [`FanCurve::smoothed`] with a `weight` of the caller's: that of an earlier
    /// report, or a smaller one where a dip was lost.
    ///
    /// # Errors
    /// Those of [`FanCurve::smoothed`]; [`FanError::SmoothingWeight`] unless the weight is from
    /// 1e-6 to 1e12.
    pub fn smoothed_with_weight(
        points: impl IntoIterator<Item = (VolumeFlow, Pressure)>,
        weight: f64,
        basis: Basis,
        fitted: Fitted,
        density: Density,
    ) -> Result<Smoothed, FanError> {
        Self::smooth(points, Some(weight), basis, fitted, density)
    }

    /// Weight of a smoothed curve ([`SmoothingReport::weight`]); `None` for any other.
    #[must_use]
    pub fn smoothing_weight(&self) -> Option<f64> {
        self.smoothing.as_ref().map(|smoothing| smoothing.weight)
    }

    fn smooth(
        points: impl IntoIterator<Item = (VolumeFlow, Pressure)>,
        weight: Option<f64>,
        basis: Basis,
        fitted: Fitted,
        density: Density,
    ) -> Result<Smoothed, FanError> {
        let (q_m3s, p_pa) = checked_points(points, basis)?;
        let density = checked_density(density)?;
        if q_m3s.len() < FEWEST_POINTS {
            return Err(FanError::TooFewToSmooth {
                got: q_m3s.len(),
                needed: FEWEST_POINTS,
            });
        }
        if let Some(weight) = weight
            && !(LIGHTEST..=HEAVIEST).contains(&weight)
        {
            return Err(FanError::SmoothingWeight {
                weight,
                least: LIGHTEST,
                largest: HEAVIEST,
            });
        }
        // Refuses, with the point's number, what would overflow below.
        Curve1d::pchip(&q_m3s, &p_pa).map_err(overflow)?;

        // The largest pressure is the unit: no square of a pressure can overflow.
        let unit_pa = p_pa.iter().copied().fold(0.0, f64::max);
        let y: Vec<f64> = p_pa.iter().map(|p| p / unit_pa).collect();
        let points = Points::new(&q_m3s, &y);
        let (close, step) = points.shortest_step();
        if step < SHORTEST_STEP {
            return Err(FanError::TooClose {
                point: close + 1,
                flow: VolumeFlow::from_m3_s(q_m3s[close]),
                before: VolumeFlow::from_m3_s(q_m3s[close - 1]),
            });
        }
        let weight = weight.unwrap_or_else(|| points.cross_validated(LIGHTEST..=HEAVIEST));
        let spline = points.fit(weight);
        let report = report(&q_m3s, &y, weight, &spline, unit_pa);
        let fit_pa: Vec<f64> = spline.values.iter().map(|value| value * unit_pa).collect();
        check_sign(&q_m3s, &fit_pa, unit_pa)?;

        let last_index = (q_m3s.len() - 1) as f64;
        let per_flow = last_index / (q_m3s[q_m3s.len() - 1] - q_m3s[0]) * unit_pa;
        let slopes: Vec<f64> = spline.slopes.iter().map(|slope| slope * per_flow).collect();
        let curve = Self {
            curve: Curve1d::hermite(&q_m3s, &fit_pa, &slopes).map_err(overflow)?,
            basis,
            fitted,
            density,
            outlet: None,
            speed: None,
            estimate: None,
            smoothing: Some(Smoothing {
                weight,
                p_pa: p_pa.into(),
            }),
        };
        Ok(Smoothed { curve, report })
    }
}

/// A table ends at or above zero; its smoothed curve may miss that by a little.
fn check_sign(q_m3s: &[f64], fit_pa: &[f64], largest_pa: f64) -> Result<(), FanError> {
    for (index, (&q, &p)) in q_m3s.iter().zip(fit_pa).enumerate() {
        if p < -BELOW_ZERO * largest_pa || (index == 0 && p <= 0.0) {
            return Err(FanError::SmoothedBelowZero {
                point: index + 1,
                flow: VolumeFlow::from_m3_s(q),
                pressure: Pressure::from_pa(p),
            });
        }
    }
    Ok(())
}

/// `y` and `spline` in shares of `unit_pa`.
fn report(q_m3s: &[f64], y: &[f64], weight: f64, spline: &Spline, unit_pa: f64) -> SmoothingReport {
    let pressure = |share: f64| Pressure::from_pa(share * unit_pa);
    let scatter = (spline.residual_square / spline.spare).sqrt();
    let error = |leverage: &f64| pressure(scatter * leverage.max(0.0).sqrt());
    let turn = |span: &[usize]| {
        let (from, at, to) = (span[0], span[1], span[2]);
        let kind = if y[at] < y[from] {
            TurnKind::Dip
        } else {
            TurnKind::Hump
        };
        CurveTurn {
            kind,
            flow: VolumeFlow::from_m3_s(q_m3s[at]),
            depth: pressure(depth(kind, &y[from..=to])),
            depth_kept: pressure(depth(kind, &spline.values[from..=to])),
        }
    };
    SmoothingReport {
        weight,
        degrees_of_freedom: y.len() as f64 - spline.spare,
        scatter: pressure(scatter),
        gcv: spline.gcv() * unit_pa * unit_pa,
        standard_error: spline.leverages.iter().map(error).collect(),
        turns: turning_points(y, TURN_DEPTH * noise(q_m3s, y))
            .windows(3)
            .map(turn)
            .collect(),
    }
}

/// Standard deviation of the noise in `y`, from what each point lies off the straight line
/// between its neighbours: T. Gasser, L. Sroka & C. Jennen-Steinmetz, "Residual variance and
/// residual pattern in nonlinear regression", Biometrika 73 (1986) 625-633, from memory. The
/// median in place of their mean, so that the flanks of a dip do not count as noise.
fn noise(x: &[f64], y: &[f64]) -> f64 {
    let mut off: Vec<f64> = x
        .windows(3)
        .zip(y.windows(3))
        .map(|(x, y)| {
            let left = (x[2] - x[1]) / (x[2] - x[0]);
            let right = 1.0 - left;
            let off = left * y[0] + right * y[2] - y[1];
            off.abs() / (left * left + right * right + 1.0).sqrt()
        })
        .collect();
    off.sort_by(f64::total_cmp);
    // the median of |N(0, 1)| is 0.6745
    off.get(off.len() / 2).map_or(0.0, |median| median / 0.6745)
}

/// Where `y` turns by `threshold` or more: the indices, rising, of its highest and lowest points
/// by turns, from where the first such way begins to where the last one ends. Of several alike,
/// the first.
fn turning_points(y: &[f64], threshold: f64) -> Vec<usize> {
    let mut turns = Vec::new();
    let (mut high, mut low) = (0, 0);
    let mut falling = None;
    for (i, here) in y.iter().enumerate() {
        if *here > y[high] {
            high = i;
        }
        if *here < y[low] {
            low = i;
        }
        let fell = y[high] - here >= threshold && *here < y[high];
        let rose = here - y[low] >= threshold && *here > y[low];
        if fell && falling != Some(true) {
            turns.push(high);
            (falling, low) = (Some(true), i);
        } else if rose && falling != Some(false) {
            turns.push(low);
            (falling, high) = (Some(false), i);
        }
    }
    turns.extend(falling.map(|falling| if falling { low } else { high }));
    turns
}

/// How far the lower side of a dip stands above its bottom, or the higher side of a hump below
/// its top.
fn depth(kind: TurnKind, y: &[f64]) -> f64 {
    let sign = if kind == TurnKind::Dip { 1.0 } else { -1.0 };
    let up: Vec<f64> = y.iter().map(|y| sign * y).collect();
    let highest = |side: &[f64]| side.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let bottom = (0..up.len()).min_by(|&a, &b| up[a].total_cmp(&up[b]));
    bottom.map_or(0.0, |at| {
        highest(&up[..=at]).min(highest(&up[at..])) - up[at]
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const AIR: Density = Density::from_kg_m3(1.2);

    fn smoothed(q_m3s: &[f64], p_pa: &[f64], weight: Option<f64>) -> Result<Smoothed, FanError> {
        let points = q_m3s.iter().zip(p_pa);
        let points = points.map(|(q, p)| (VolumeFlow::from_m3_s(*q), Pressure::from_pa(*p)));
        FanCurve::smooth(points, weight, Basis::Static, Fitted::ALL, AIR)
    }

    fn numbers(row: &serde_json::Value, key: &str) -> Vec<f64> {
        let list = row[key].as_array().unwrap();
        list.iter().map(|number| number.as_f64().unwrap()).collect()
    }

    /// The row's values and slopes within `share` of the usual size of each.
    fn assert_curve(fan: &FanCurve, row: &serde_json::Value, x_eval: Vec<f64>, share: f64) {
        let (values, slopes) = (numbers(row, "y"), numbers(row, "dy_dx"));
        assert_eq!(values.len(), x_eval.len());
        for (q, (value, slope)) in x_eval.into_iter().zip(values.into_iter().zip(slopes)) {
            let flow = VolumeFlow::from_m3_s(q);
            let off = fan.pressure(flow).as_pa() - value;
            assert!(off.abs() < share * 2500.0, "{off} Pa at {q}");
            let off = fan.slope(flow) - slope;
            assert!(off.abs() < share * 1e4, "{off} Pa s/m3 at {q}");
        }
    }

    #[test]
    fn val_cross_validation_in_forty_digits() {
        // SciPy 1.17.1 and mpmath 1.3.0 in 40 digits: tests/data/README.md. The row says: weight
        // to 1e-6, values to 1e-8.
        let text = include_str!("../../tests/data/smoothing.json");
        let rows: Vec<serde_json::Value> = serde_json::from_str(text).unwrap();
        let row = rows
            .iter()
            .find(|row| row["id"] == "spline.C_noisy25.gcv")
            .unwrap();
        let (q, p, expected) = (numbers(row, "x"), numbers(row, "y"), &row["expected"]);
        let Smoothed { curve, report } = smoothed(&q, &p, None).unwrap();
        let number = |key: &str| expected[key].as_f64().unwrap();
        assert!(
            (report.weight / number("lam") - 1.0).abs() < 1e-6,
            "{}",
            report.weight
        );
        assert!((report.degrees_of_freedom / number("trace_S") - 1.0).abs() < 1e-6);
        assert!(
            (report.gcv / number("GCV") - 1.0).abs() < 1e-10,
            "{}",
            report.gcv
        );
        assert_curve(&curve, expected, numbers(row, "x_eval"), 1e-8);
        for (q, fitted) in q.iter().zip(numbers(expected, "fitted_at_knots")) {
            let ours = curve.pressure(VolumeFlow::from_m3_s(*q)).as_pa();
            assert!((ours - fitted).abs() < 1e-8 * 2500.0);
        }
        assert!(report.turns.is_empty() && curve.smoothing_weight() == Some(report.weight));
    }

    #[test]
    fn val_noisy_tables_against_scipy() {
        // SciPy 1.17.1, tests/data/make_smoothing.py: eight tables of 20 to 40 points.
        let text = include_str!("../../tests/data/smoothing_scipy.json");
        let file: serde_json::Value = serde_json::from_str(text).unwrap();
        let cases = file["cases"].as_array().unwrap();
        assert_eq!(cases.len(), 8);
        for case in cases {
            let (q, p, best) = (
                numbers(case, "q"),
                numbers(case, "p"),
                &case["cross_validated"],
            );
            let fit = smoothed(&q, &p, None).unwrap();
            let (ours, theirs) = (fit.report.weight, best["weight"].as_f64().unwrap());
            assert!(
                (ours / theirs - 1.0).abs() < 1e-6,
                "{}: {ours} {theirs}",
                case["id"]
            );
            // what 1e-6 of the weight may move
            assert_curve(&fit.curve, best, numbers(best, "x_eval"), 1e-7);
            let fixed = case["fixed"].as_array().unwrap();
            assert_eq!(fixed.len(), 2);
            for row in fixed.iter().chain([best]) {
                let fit = smoothed(&q, &p, row["weight"].as_f64()).unwrap();
                let report = fit.report;
                let off = |ours: f64, key: &str| (ours / row[key].as_f64().unwrap() - 1.0).abs();
                assert!(off(report.degrees_of_freedom, "degrees_of_freedom") < 1e-9);
                assert!(
                    off(report.gcv, "gcv") < 1e-8,
                    "{}: {}",
                    case["id"],
                    report.gcv
                );
                assert!(off(report.scatter.as_pa(), "scatter") < 1e-8);
                let errors = report
                    .standard_error
                    .iter()
                    .zip(numbers(row, "standard_error"));
                for (ours, theirs) in errors {
                    assert!((ours.as_pa() - theirs).abs() < 1e-8);
                }
                assert_curve(&fit.curve, row, numbers(row, "x_eval"), 1e-10);
            }
        }
    }

    #[test]
    fn val_noise_and_depth_by_hand() {
        // A point off the chord of its neighbours by 1 has a noise of 1/sqrt(1/4 + 1/4 + 1), and by 1
        // at a quarter of the way 1/sqrt(9/16 + 1/16 + 1), over 0.6745: elementary.
        let even = noise(&[0.0, 1.0, 2.0], &[0.0, 1.0, 0.0]) * 0.6745;
        assert!((even - 1.5f64.sqrt().recip()).abs() < 1e-12, "{even}");
        let uneven = noise(&[0.0, 1.0, 4.0], &[4.0, 4.0, 0.0]) * 0.6745;
        assert!((uneven - 1.625f64.sqrt().recip()).abs() < 1e-12, "{uneven}");
        assert_eq!(depth(TurnKind::Dip, &[3.0, 0.0, 1.0]), 1.0);
        assert_eq!(depth(TurnKind::Hump, &[0.0, 3.0, 1.0]), 2.0);
    }

    #[test]
    fn prop_a_turn_is_at_the_first_of_several_points_alike_and_exact_points_turn_where_they_do() {
        let turns = |y: &[f64], threshold| turning_points(y, threshold);
        assert_eq!(turns(&[1.0, 1.0, 3.0, 3.0, 0.0, 0.0], 1.0), [0, 2, 4]);
        assert_eq!(turns(&[3.0, 3.0, 0.0, 0.0, 2.0, 2.0], 1.0), [0, 2, 4]);
        // without noise any way up or down counts, and no way at all does not
        assert_eq!(turns(&[0.0, 1.0, 2.0], 0.0), [0, 2]);
        assert_eq!(turns(&[2.0, 1.0, 0.0], 0.0), [0, 2]);
        assert_eq!(turns(&[3.0, 2.0, 2.0, 1.0], 0.0), [0, 3]);
        assert!(turns(&[1.0, 1.0, 1.0], 0.0).is_empty());
    }

    #[test]
    fn prop_a_step_of_a_thousandth_of_the_mean_is_not_too_close() {
        // powers of two, so that nothing is rounded: the mean of 32 steps up to 32768 is 1024
        let with_step = |first: f64| {
            let mut q: Vec<f64> = (0..33).map(|i| 1024.0 * f64::from(i)).collect();
            q[1] = first;
            let p: Vec<f64> = q.iter().map(|q| 2000.0 - 0.05 * q).collect();
            smoothed(&q, &p, Some(1.0))
        };
        assert!(with_step(1.024).is_ok());
        assert!(matches!(
            with_step(1.023),
            Err(FanError::TooClose { point: 2, .. })
        ));
    }

    #[test]
    fn prop_what_a_report_says_is_judged_at_its_limits() {
        let turn = |depth: f64, kept: f64| CurveTurn {
            kind: TurnKind::Dip,
            flow: VolumeFlow::from_m3_s(0.3),
            depth: Pressure::from_pa(depth),
            depth_kept: Pressure::from_pa(kept),
        };
        assert!(turn(100.0, 50.0).is_kept() && turn(0.5, 0.3).is_kept());
        assert!(!turn(100.0, 49.9).is_kept() && !turn(0.5, 0.2).is_kept());
        let report = |degrees_of_freedom: f64| SmoothingReport {
            weight: 1.0,
            degrees_of_freedom,
            scatter: Pressure::from_pa(1.0),
            gcv: 1.0,
            standard_error: vec![Pressure::from_pa(1.0); 10],
            turns: vec![turn(100.0, 60.0), turn(100.0, 40.0)],
        };
        assert!(!report(6.0).follows_noise() && report(6.1).follows_noise());
        assert!(report(2.0).lost_turns().eq(&[turn(100.0, 40.0)]));
    }

    /// Where the points begin is nothing to the curve.
    #[test]
    fn prop_points_that_begin_elsewhere_give_the_same_curve() {
        let (q, p) = fan(24, 300.0, 0.1);
        let further: Vec<f64> = q.iter().map(|q| q + 0.2).collect();
        let (here, there) = (
            smoothed(&q, &p, Some(1.0)),
            smoothed(&further, &p, Some(1.0)),
        );
        let (here, there) = (here.unwrap().curve, there.unwrap().curve);
        for x in [0.0, 0.11, 0.2, 0.333, 0.47] {
            let [a, b] = [x, x + 0.2].map(VolumeFlow::from_m3_s);
            let off = (here.pressure(a) - there.pressure(b)).as_pa();
            assert!(off.abs() < 1e-8, "{off} at {x}");
            assert!((here.slope(a) - there.slope(b)).abs() < 1e-6);
        }
    }

    /// Normal deviates: the polar way (Box & Muller 1958) on splitmix64.
    fn deviates(seed: u64) -> impl FnMut() -> f64 {
        let mut state = seed;
        let mut uniform = move || {
            state = state.wrapping_add(0x9E37_79B9_7F4A_7C15);
            let mut z = state;
            z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
            z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
            ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 53) as f64
        };
        move || (-2.0 * (1.0 - uniform()).ln()).sqrt() * (std::f64::consts::TAU * uniform()).cos()
    }

    /// A fan of 2500 Pa and 0.5 m3/s with a stall dip `depth_pa` deep and `width` wide at 0.3.
    fn fan(n: u32, depth_pa: f64, width: f64) -> (Vec<f64>, Vec<f64>) {
        let point = |i| {
            let share = f64::from(i) / f64::from(n - 1) * 0.95;
            let dip = depth_pa * (-((share - 0.3) / width).powi(2)).exp();
            (0.5 * share, 2500.0 * (1.0 - share.powf(2.2)) - dip)
        };
        (0..n).map(point).unzip()
    }

    #[test]
    fn prop_the_standard_error_covers_the_truth() {
        // The true curve lies within two standard errors at about 95 % of the points (Wahba
        // 1983), and the scatter is nearly that of the noise, 10 Pa, unless the curve says that
        // it follows the noise. The shares are those of a NumPy program with eigenvectors in
        // place of bands and noise of its own, 600 sets each.
        let mut normal = deviates(1);
        for (n, noisy, covered) in [
            (20, 0.245f64, 0.939f64),
            (30, 0.095, 0.948),
            (40, 0.048, 0.949),
        ] {
            let (q, truth) = fan(n, 0.0, 0.1);
            let (mut inside, mut points) = (0, 0);
            let (mut scatter, mut sound) = (0.0, 0);
            for _ in 0..1000 {
                let p: Vec<f64> = truth.iter().map(|p| p + 10.0 * normal()).collect();
                let Smoothed { curve, report } = smoothed(&q, &p, None).unwrap();
                if report.follows_noise() {
                    continue;
                }
                sound += 1;
                scatter += report.scatter.as_pa();
                for ((q, truth), error) in q.iter().zip(&truth).zip(&report.standard_error) {
                    let off = curve.pressure(VolumeFlow::from_m3_s(*q)).as_pa() - truth;
                    inside += i32::from(off.abs() < 2.0 * error.as_pa());
                    points += 1;
                }
            }
            let follow = 1.0 - f64::from(sound) / 1000.0;
            assert!((follow - noisy).abs() < 0.05, "{n}: {follow} follow");
            let share = f64::from(inside) / f64::from(points);
            assert!((share - covered).abs() < 0.015, "{n}: {share} covered");
            let mean = scatter / f64::from(sound);
            assert!((9.0..10.0).contains(&mean), "{n}: scatter {mean}");
        }
    }

    #[test]
    fn prop_smoothing_brings_a_noisy_table_nearer_to_the_truth() {
        let (q, truth) = fan(30, 0.0, 0.1);
        let mut normal = deviates(2);
        let (mut before, mut after) = (0.0, 0.0);
        for _ in 0..100 {
            let p: Vec<f64> = truth.iter().map(|p| p + 10.0 * normal()).collect();
            let curve = smoothed(&q, &p, None).unwrap().curve;
            for ((q, p), truth) in q.iter().zip(&p).zip(&truth) {
                before += (p - truth).powi(2);
                after += (curve.pressure(VolumeFlow::from_m3_s(*q)).as_pa() - truth).powi(2);
            }
        }
        assert!(after < 0.4 * before, "{after} of {before}");
    }

    #[test]
    fn prop_a_broad_dip_is_kept_and_a_lost_one_is_named() {
        let mut normal = deviates(3);
        let noisy = |(q, p): (Vec<f64>, Vec<f64>), normal: &mut dyn FnMut() -> f64| {
            let p: Vec<f64> = p.iter().map(|p| p + 5.0 * normal()).collect();
            (q, p)
        };
        for _ in 0..50 {
            let (q, p) = noisy(fan(40, 350.0, 0.12), &mut normal);
            let Smoothed { curve, report } = smoothed(&q, &p, None).unwrap();
            // a wiggle of the noise near shut-off may come before them
            let kinds: Vec<_> = report.turns.iter().map(|turn| turn.kind).collect();
            assert!(
                kinds.ends_with(&[TurnKind::Dip, TurnKind::Hump]),
                "{kinds:?}"
            );
            let dip = report.turns[kinds.len() - 2];
            assert!(dip.is_kept() && curve.rises());
            // the same points under a weight that flattens them
            let flat = smoothed(&q, &p, Some(1e4)).unwrap();
            assert!(!flat.curve.rises());
            let lost = flat.report.lost_turns().find(|turn| turn.flow == dip.flow);
            let lost = lost.unwrap();
            assert_eq!((lost.kind, lost.depth), (dip.kind, dip.depth));
            assert_eq!(lost.depth_kept, Pressure::from_pa(0.0));
            // on a falling curve the lowest point of the dip lies beyond its middle, 0.15 m3/s
            assert!((lost.flow.as_m3_s() - 0.163).abs() < 0.025);
        }
        // One point out of 25 lies 120 Pa low: whatever cross-validation makes of it is told.
        let mut lost = 0;
        for _ in 0..50 {
            let (q, mut p) = noisy(fan(25, 0.0, 0.1), &mut normal);
            p[8] -= 120.0;
            let Smoothed { curve, report } = smoothed(&q, &p, None).unwrap();
            let at = VolumeFlow::from_m3_s(q[8]);
            let turn = report.turns.iter().find(|turn| turn.flow == at).unwrap();
            let low = curve.pressure(at);
            let before = q[..8]
                .iter()
                .map(|q| curve.pressure(VolumeFlow::from_m3_s(*q)));
            let after = q[9..]
                .iter()
                .map(|q| curve.pressure(VolumeFlow::from_m3_s(*q)));
            let dips = before
                .min_by(|a, b| a.as_pa().total_cmp(&b.as_pa()))
                .unwrap()
                > low
                && after
                    .max_by(|a, b| a.as_pa().total_cmp(&b.as_pa()))
                    .unwrap()
                    > low;
            assert!(dips || !turn.is_kept());
            lost += i32::from(!turn.is_kept());
        }
        assert!(lost > 10, "{lost}");
    }

    #[test]
    fn prop_noise_is_seldom_taken_for_a_dip() {
        let mut normal = deviates(4);
        let mut alarms = 0;
        for (n, depth_pa) in [(20, 0.0), (30, 0.0), (40, 0.0)] {
            let (q, truth) = fan(n, depth_pa, 0.1);
            for _ in 0..200 {
                let p: Vec<f64> = truth.iter().map(|p| p + 10.0 * normal()).collect();
                let report = smoothed(&q, &p, None).unwrap().report;
                alarms += i32::from(!report.turns.is_empty());
            }
        }
        assert!(alarms < 30, "{alarms} of 600");
    }

    #[test]
    fn prop_points_are_kept_and_faults_are_named() {
        let (q, p) = fan(20, 0.0, 0.1);
        let curve = smoothed(&q, &p, Some(50.0)).unwrap().curve;
        assert!(
            curve
                .points()
                .map(|point| point.pressure.as_pa())
                .eq(p.iter().copied())
        );
        assert_ne!(curve.pressure(VolumeFlow::from_m3_s(q[7])).as_pa(), p[7]);
        assert_eq!(curve.low_case(), None);

        let text = |q: &[f64], p: &[f64], weight| smoothed(q, p, weight).unwrap_err().to_string();
        assert_eq!(
            text(&q[..19], &p[..19], None),
            "a smoothed fan curve needs 20 points or more, got 19: with fewer, noise cannot be \
             told from shape; run the curve through the points"
        );
        for weight in [0.0, -1.0, 1e13, f64::NAN, f64::INFINITY] {
            assert!(text(&q, &p, Some(weight)).starts_with("the smoothing weight is "));
        }
        let mut close = q.clone();
        close[9] = close[8] + 1e-5;
        assert_eq!(
            text(&close, &p, None),
            format!(
                "point 10: the flow {} is too close to the {} of the point before to be \
                 smoothed; make one point of the two",
                VolumeFlow::from_m3_s(close[9]),
                VolumeFlow::from_m3_s(close[8])
            )
        );
        // a corner and then no pressure at all: a straight line ends far below zero
        let corner: Vec<f64> = q.iter().map(|q| f64::max(2000.0 - 2e4 * q, 0.0)).collect();
        let refused = smoothed(&q, &corner, Some(1e4));
        assert!(
            matches!(refused, Err(FanError::SmoothedBelowZero { .. })),
            "{refused:?}"
        );
        let mut falling = q.clone();
        falling.swap(3, 4);
        assert!(matches!(
            smoothed(&falling, &p, None),
            Err(FanError::FlowNotRising { .. })
        ));
    }

    proptest! {
        #[test]
        fn prop_the_size_of_pressure_and_flow_does_not_matter(
            seed in any::<u64>(), flows in -100..100i32, pressures in -100..100i32,
        ) {
            // powers of two: no rounding differs
            let mut normal = deviates(seed);
            let (q, p) = fan(25, 200.0, 0.1);
            let p: Vec<f64> = p.iter().map(|p| p + 10.0 * normal()).collect();
            let here = smoothed(&q, &p, None).unwrap();
            let scaled = |list: &[f64], power| -> Vec<f64> {
                list.iter().map(|x| x * 2f64.powi(power)).collect()
            };
            let there = smoothed(&scaled(&q, flows), &scaled(&p, pressures), None).unwrap();
            prop_assert_eq!(here.report.weight, there.report.weight);
            let scatter = here.report.scatter.as_pa() * 2f64.powi(pressures);
            prop_assert_eq!(there.report.scatter, Pressure::from_pa(scatter));
        }

        #[test]
        fn prop_no_table_panics(
            points in prop::collection::vec((any::<f64>(), any::<f64>()), 20..30),
            weight in prop::option::of(any::<f64>()), tame in any::<bool>(),
        ) {
            let mut points = points;
            if tame {
                for point in &mut points {
                    *point = (point.0.abs().ln().abs(), point.1.abs().ln().abs());
                }
                points.sort_by(|a, b| a.0.total_cmp(&b.0));
            }
            let (q, p): (Vec<f64>, Vec<f64>) = points.into_iter().unzip();
            match smoothed(&q, &p, weight.map(|weight| if tame { weight.abs().ln().abs() } else { weight })) {
                Ok(Smoothed { curve, report }) => {
                    prop_assert!(report.scatter.as_pa().is_finite() && report.gcv.is_finite());
                    prop_assert!(report.degrees_of_freedom > 1.9 && report.degrees_of_freedom <= 30.0);
                    prop_assert!(curve.shut_off().as_pa().is_finite());
                }
                Err(error) => prop_assert!(!error.to_string().is_empty()),
            }
        }
    }
}
