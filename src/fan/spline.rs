//! The natural smoothing spline: a curve that runs near many noisy points.
#![allow(
    clippy::indexing_slicing,
    reason = "points are counted by the checked table, and every array of them is as long"
)]

use std::ops::RangeInclusive;

/// Points with the abscissa in index units: 0 at the first, n - 1 at the last, so that a weight
/// means the same whatever the unit of the abscissa.
///
/// The spline f minimises sum (y - f)^2 + weight * integral f''^2. With Q the second differences
/// (n rows) and R the products of the hat functions, its second derivatives c at the inner points
/// solve (R + weight Q'Q) c = Q'y, and f = y - weight Q c. C. H. Reinsch, "Smoothing by spline
/// functions", Numer. Math. 10 (1967) 177-183; P. J. Green & B. W. Silverman, "Nonparametric
/// Regression and Generalized Linear Models" (1994), sec. 2.3; both from memory, checked against
/// SciPy.
///
/// Everything is banded: a fit costs time and memory in proportion to n.
pub(super) struct Points<'a> {
    y: &'a [f64],
    /// Steps of the abscissa, n - 1 of them, in index units.
    steps: Vec<f64>,
    rows: Vec<Row>,
}

/// What belongs to an inner point j, of which there are n - 2.
struct Row {
    /// Column j of Q, in its rows j, j + 1, j + 2.
    q: [f64; 3],
    /// Row j of R from the diagonal on.
    r: [f64; 3],
    /// Row j of Q'Q from the diagonal on.
    qq: [f64; 3],
    /// Row j of Q'y.
    bend: f64,
}

/// A row of L D L' = R + weight Q'Q.
#[derive(Clone, Copy, Default)]
struct Pivot {
    d: f64,
    /// Column j of L below the diagonal.
    under: [f64; 2],
    /// Row j of the solution of L z = Q'y.
    z: f64,
}

/// A smoothing spline at its points, in the units of y and of the index.
pub(super) struct Spline {
    pub(super) values: Vec<f64>,
    pub(super) slopes: Vec<f64>,
    /// Diagonal of the matrix S in f = S y.
    pub(super) leverages: Vec<f64>,
    /// Sum of (y - f)^2.
    pub(super) residual_square: f64,
    /// n - trace S: the degrees of freedom left to the residuals.
    pub(super) spare: f64,
}

impl Spline {
    /// Generalised cross-validation, n RSS / (n - trace S)^2: what the mean square error of the
    /// next measurement would be. P. Craven & G. Wahba, "Smoothing noisy data with spline
    /// functions", Numer. Math. 31 (1979) 377-403; from memory, checked against a 40-digit row.
    pub(super) fn gcv(&self) -> f64 {
        self.values.len() as f64 * self.residual_square / (self.spare * self.spare)
    }
}

impl<'a> Points<'a> {
    /// `x` rises, and has three numbers or more, as many as `y`.
    pub(super) fn new(x: &[f64], y: &'a [f64]) -> Self {
        let ends = x.first().zip(x.last());
        let span = ends.map_or(0.0, |(first, last)| last - first);
        let last_index = x.len() as f64 - 1.0;
        let steps: Vec<f64> = x
            .windows(2)
            .map(|pair| (pair[1] - pair[0]) / span * last_index)
            .collect();
        let columns: Vec<[f64; 3]> = steps
            .windows(2)
            .map(|h| [h[0].recip(), -(h[0].recip() + h[1].recip()), h[1].recip()])
            .collect();
        let rows = columns
            .iter()
            .enumerate()
            .zip(steps.windows(2).zip(y.windows(3)))
            .map(|((j, q), (h, y))| {
                let [next, after_next] =
                    [1, 2].map(|k| columns.get(j + k).copied().unwrap_or([0.0; 3]));
                let has_next = j + 1 < columns.len();
                Row {
                    q: *q,
                    r: [
                        (h[0] + h[1]) / 3.0,
                        if has_next { h[1] / 6.0 } else { 0.0 },
                        0.0,
                    ],
                    qq: [
                        q[0] * q[0] + q[1] * q[1] + q[2] * q[2],
                        q[1] * next[0] + q[2] * next[1],
                        q[2] * after_next[0],
                    ],
                    bend: (y[2] - y[1]) / h[1] - (y[1] - y[0]) / h[0],
                }
            })
            .collect();
        Self { y, steps, rows }
    }

    /// The shortest step of the abscissa in index units, with the point that it leads to, from 0.
    pub(super) fn shortest_step(&self) -> (usize, f64) {
        let steps = self.steps.iter().copied().enumerate();
        let shortest = steps.min_by(|a, b| a.1.total_cmp(&b.1));
        shortest.map_or((0, 0.0), |(index, step)| (index + 1, step))
    }

    /// The spline of this `weight`, above zero.
    pub(super) fn fit(&self, weight: f64) -> Spline {
        let mut pivots = Vec::with_capacity(self.rows.len());
        let (mut one, mut two) = (Pivot::default(), Pivot::default());
        for row in &self.rows {
            let [b0, b1, b2] = [0, 1, 2].map(|k| row.r[k] + weight * row.qq[k]);
            let (l1, l2) = (one.under[0], two.under[1]);
            let d = b0 - l1 * l1 * one.d - l2 * l2 * two.d;
            let pivot = Pivot {
                d,
                under: [(b1 - l1 * one.under[1] * one.d) / d, b2 / d],
                z: row.bend - l1 * one.z - l2 * two.z,
            };
            (one, two) = (pivot, one);
            pivots.push(pivot);
        }

        // Back-substitution, from the last row up, and with it the diagonal and the two
        // diagonals beside it of the inverse: M. F. Hutchinson & F. R. de Hoog, "Smoothing noisy
        // data with spline functions", Numer. Math. 47 (1985) 99-106, from memory. From both the
        // residuals y - f = weight Q c, and the diagonal of
        // I - S = weight Q (R + weight Q'Q)^-1 Q'.
        let n = self.y.len();
        let mut curvatures = vec![0.0; n];
        let (mut residuals, mut spares) = (vec![0.0; n], vec![0.0; n]);
        let (mut inverse1, mut inverse2) = ([0.0; 3], [0.0; 3]);
        let (mut q1, mut q2) = ([0.0; 3], [0.0; 3]);
        for (j, (row, pivot)) in self.rows.iter().zip(&pivots).enumerate().rev() {
            let [l1, l2] = pivot.under;
            let c = pivot.z / pivot.d
                - l1 * curvatures[j + 2]
                - l2 * curvatures.get(j + 3).unwrap_or(&0.0);
            curvatures[j + 1] = c;
            let beside = -l1 * inverse1[0] - l2 * inverse1[1];
            let beyond = -l1 * inverse1[1] - l2 * inverse2[0];
            let own = pivot.d.recip() - l1 * beside - l2 * beyond;
            let q = row.q;
            spares[j] += weight * q[0] * q[0] * own;
            spares[j + 1] += weight * q[1] * (q[1] * own + 2.0 * q1[0] * beside);
            spares[j + 2] += weight * q[2] * (q[2] * own + 2.0 * (q1[1] * beside + q2[0] * beyond));
            for (k, q) in q.iter().enumerate() {
                residuals[j + k] += weight * q * c;
            }
            (inverse1, inverse2) = ([own, beside, beyond], inverse1);
            (q1, q2) = (q, q1);
        }

        let values: Vec<f64> = self.y.iter().zip(&residuals).map(|(y, r)| y - r).collect();
        Spline {
            slopes: self.slopes(&values, &curvatures),
            values,
            leverages: spares.iter().map(|spare| 1.0 - spare).collect(),
            residual_square: residuals.iter().map(|r| r * r).sum(),
            spare: spares.iter().sum(),
        }
    }

    /// Slopes at the points, from the values and second derivatives there.
    fn slopes(&self, values: &[f64], curvatures: &[f64]) -> Vec<f64> {
        let pieces = values
            .windows(2)
            .zip(curvatures.windows(2))
            .zip(&self.steps);
        let slope = |((f, c), h): ((&[f64], &[f64]), &f64), left: f64, right: f64| {
            (f[1] - f[0]) / h + h / 6.0 * (left * c[0] + right * c[1])
        };
        let starts = pieces.clone().map(|piece| slope(piece, -2.0, -1.0));
        let end = pieces
            .clone()
            .next_back()
            .map(|piece| slope(piece, 1.0, 2.0));
        starts.chain(end).collect()
    }

    /// The weight of least [`Spline::gcv`] in `range`, to eight digits: the minimum is flat, and
    /// further ones mean nothing.
    ///
    /// A scan of ln weight at every 0.5 and a golden section in every valley that it shows: of two
    /// nearly as deep the scan alone may pick the wrong one.
    /// The score is made of terms 1 / (1 + weight d), each of which takes several units of ln
    /// weight to change, so no valley hides between two steps of the scan.
    pub(super) fn cross_validated(&self, range: RangeInclusive<f64>) -> f64 {
        let score = |ln_weight: f64| {
            let gcv = self.fit(ln_weight.exp()).gcv();
            if gcv.is_nan() { f64::INFINITY } else { gcv }
        };
        let (low, high) = (range.start().ln(), range.end().ln());
        // from heavy to light, so that of several alike the smoothest is taken
        let scan = (0..).map(|step| high - SCAN_STEP * f64::from(step));
        let scan = scan.take_while(|at| *at > low).chain([low]);
        let scan: Vec<(f64, f64)> = scan.map(|at| (at, score(at))).collect();
        let at = |i: usize| scan.get(i).map_or(f64::INFINITY, |point| point.1);
        let valleys = (0..scan.len()).filter(|&i| {
            at(i) <= at(i + 1) && i.checked_sub(1).is_none_or(|before| at(i) <= at(before))
        });
        let exact = valleys
            .map(|i| {
                let best = scan[i].0;
                let neighbours = [best - SCAN_STEP, best + SCAN_STEP];
                let at = golden_section(score, neighbours.map(|at| at.clamp(low, high)));
                (at, score(at))
            })
            .min_by(|a, b| a.1.total_cmp(&b.1))
            .map_or(high, |best| best.0)
            .exp();
        let rounded = format!("{exact:.7e}").parse().unwrap_or(exact);
        rounded.clamp(*range.start(), *range.end())
    }
}

/// Step of the scan in ln weight.
const SCAN_STEP: f64 = 0.5;

/// Where `f` is least between the two numbers, to 1e-8, if it has one valley there.
fn golden_section(f: impl Fn(f64) -> f64, [mut low, mut high]: [f64; 2]) -> f64 {
    let share = 0.5 * (5f64.sqrt() - 1.0);
    let (mut left, mut right) = (high - share * (high - low), low + share * (high - low));
    let (mut f_left, mut f_right) = (f(left), f(right));
    while high - low > 1e-8 {
        if f_left <= f_right {
            (high, right, f_right) = (right, left, f_left);
            left = high - share * (high - low);
            f_left = f(left);
        } else {
            (low, left, f_left) = (left, right, f_right);
            right = low + share * (high - low);
            f_right = f(right);
        }
    }
    0.5 * (low + high)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::curve1d::Curve1d;
    use nalgebra::{DMatrix, DVector};
    use proptest::prelude::*;

    fn numbers(row: &serde_json::Value, key: &str) -> Vec<f64> {
        let list = row[key].as_array().unwrap();
        list.iter().map(|number| number.as_f64().unwrap()).collect()
    }

    #[test]
    fn val_fixed_weights_against_scipy_and_mpmath() {
        // SciPy 1.17.1 make_smoothing_spline for the curve, mpmath 1.3.0 in 40 digits for the
        // points, the trace and the score; the rows: tests/data/README.md.
        let text = include_str!("../../tests/data/smoothing.json");
        let rows: Vec<serde_json::Value> = serde_json::from_str(text).unwrap();
        let fixed: Vec<_> = rows.iter().filter(|row| row["lam"].is_f64()).collect();
        assert_eq!(fixed.len(), 6);
        for row in fixed {
            let (x, y) = (numbers(row, "x_scaled"), numbers(row, "y"));
            let spline = Points::new(&x, &y).fit(row["lam"].as_f64().unwrap());
            let (id, expected) = (&row["id"], &row["expected"]);
            let size = 2500.0;
            for (ours, theirs) in spline
                .values
                .iter()
                .zip(numbers(expected, "fitted_at_knots"))
            {
                assert!(
                    (ours - theirs).abs() < 1e-14 * size,
                    "{id}: {ours} {theirs}"
                );
            }
            let dof = 9.0 - spline.spare;
            let theirs = expected["trace_S"].as_f64().unwrap();
            assert!((dof - theirs).abs() < 1e-13, "{id}: {dof} {theirs}");
            let theirs = expected["GCV"].as_f64().unwrap();
            assert!(
                (spline.gcv() / theirs - 1.0).abs() < 1e-11,
                "{id}: {}",
                spline.gcv()
            );
            // the cubics from the knots' slopes are the spline
            let curve = Curve1d::hermite(&x, &spline.values, &spline.slopes).unwrap();
            let (values, slopes) = (numbers(expected, "y"), numbers(expected, "dy_dxscaled"));
            for (at, (value, slope)) in numbers(row, "x_eval_scaled")
                .into_iter()
                .zip(values.into_iter().zip(slopes))
            {
                let ours = curve.at(at);
                assert!(
                    (ours.value - value).abs() < 1e-13 * size,
                    "{id} at {at}: {}",
                    ours.value - value
                );
                assert!(
                    (ours.slope - slope).abs() < 1e-13 * size,
                    "{id} at {at}: {}",
                    ours.slope - slope
                );
            }
        }
    }

    /// The spline by dense matrices, as its definition has them: values, and diagonal of S.
    fn dense(x: &[f64], y: &[f64], weight: f64) -> (DVector<f64>, DVector<f64>) {
        let n = x.len();
        let scale = (n as f64 - 1.0) / (x[n - 1] - x[0]);
        let h = |i: usize| (x[i + 1] - x[i]) * scale;
        let mut q = DMatrix::zeros(n, n - 2);
        let mut r = DMatrix::zeros(n - 2, n - 2);
        for j in 0..n - 2 {
            q[(j, j)] = 1.0 / h(j);
            q[(j + 1, j)] = -1.0 / h(j) - 1.0 / h(j + 1);
            q[(j + 2, j)] = 1.0 / h(j + 1);
            r[(j, j)] = (h(j) + h(j + 1)) / 3.0;
            if j + 1 < n - 2 {
                r[(j, j + 1)] = h(j + 1) / 6.0;
                r[(j + 1, j)] = h(j + 1) / 6.0;
            }
        }
        let roughness = &q * r.cholesky().unwrap().solve(&q.transpose());
        let s = (DMatrix::identity(n, n) + weight * roughness)
            .cholesky()
            .unwrap()
            .inverse();
        (&s * DVector::from_row_slice(y), s.diagonal())
    }

    fn points() -> impl Strategy<Value = (Vec<f64>, Vec<f64>)> {
        let step = (0.05..1.0f64, -1.0..1.0f64);
        prop::collection::vec(step, 3..40).prop_map(|steps| {
            let mut x = 0.0;
            let point = |(step, y): (f64, f64)| {
                x += step;
                (x, y)
            };
            steps.into_iter().map(point).unzip()
        })
    }

    proptest! {
        #[test]
        fn prop_the_bands_are_the_dense_matrices((x, y) in points(), power in -4.0..5.0f64) {
            let weight = 10f64.powf(power);
            let spline = Points::new(&x, &y).fit(weight);
            let (values, leverages) = dense(&x, &y, weight);
            for i in 0..x.len() {
                prop_assert!((spline.values[i] - values[i]).abs() < 1e-8);
                prop_assert!((spline.leverages[i] - leverages[i]).abs() < 1e-8);
            }
            prop_assert!((spline.spare + leverages.sum() - x.len() as f64).abs() < 1e-7);
        }

        #[test]
        fn prop_a_straight_line_stays_and_any_unit_of_x_will_do(
            (x, y) in points(), power in -4.0..5.0f64, start in -3.0..3.0f64, unit in 1e-5..1e5f64,
        ) {
            let weight = 10f64.powf(power);
            let line: Vec<f64> = x.iter().map(|x| 2.0 - 0.3 * x).collect();
            let straight = Points::new(&x, &line).fit(weight);
            for (ours, line) in straight.values.iter().zip(&line) {
                prop_assert!((ours - line).abs() < 1e-9);
            }
            let moved: Vec<f64> = x.iter().map(|x| unit * (start + x)).collect();
            let (here, there) = (Points::new(&x, &y).fit(weight), Points::new(&moved, &y).fit(weight));
            for (here, there) in here.values.iter().zip(&there.values) {
                prop_assert!((here - there).abs() < 1e-8);
            }
        }

        #[test]
        fn prop_the_weight_goes_from_the_points_to_the_line((x, y) in points()) {
            let points = Points::new(&x, &y);
            let spares = (-8..10).map(|power| points.fit(10f64.powi(power)).spare);
            prop_assert!(spares.is_sorted());
            // and the slopes keep the second derivative continuous, zero at both ends
            let spline = points.fit(0.3);
            let h = &points.steps;
            let bend = |i: usize, left: f64, right: f64| {
                let chord = (spline.values[i + 1] - spline.values[i]) / h[i];
                (6.0 * chord - left * spline.slopes[i] - right * spline.slopes[i + 1]) / h[i]
            };
            let last = x.len() - 2;
            prop_assert!(bend(0, 4.0, 2.0).abs() < 1e-8 && bend(last, 2.0, 4.0).abs() < 1e-8);
            for i in 0..last {
                let (left, right) = (-bend(i, 2.0, 4.0), bend(i + 1, 4.0, 2.0));
                prop_assert!((left - right).abs() < 1e-7, "{} {}", left, right);
            }
        }

        #[test]
        fn prop_the_weight_is_the_best_of_a_fine_scan((x, y) in points()) {
            let points = Points::new(&x, &y);
            let chosen = points.fit(points.cross_validated(1e-4..=1e8)).gcv();
            for step in 0..=600 {
                let weight = 10f64.powf(-4.0 + 0.02 * f64::from(step));
                prop_assert!(chosen <= points.fit(weight).gcv() * (1.0 + 1e-9) + 1e-25);
            }
        }
    }
}
