//! A C1 curve through points: the shape-preserving cubic that fan curves and loss tables share.
#![allow(
    clippy::indexing_slicing,
    reason = "a curve has two knots or more, and pieces are looked for between the first and the last"
)]

use crate::root::bracketed_root;

/// Numbers beyond this are refused, so that no sum or product along a curve can overflow.
const LARGEST: f64 = 1e300;

/// A point of the curve, with the slope there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Knot {
    pub(crate) x: f64,
    pub(crate) y: f64,
    pub(crate) slope: f64,
}

/// The curve at one x.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Sample {
    pub(crate) value: f64,
    pub(crate) slope: f64,
}

/// Where a curve rises.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Rise {
    /// The lowest value from the first knot to the top.
    pub(crate) low: f64,
    /// Where the rise ends.
    pub(crate) top_x: f64,
    /// The value there.
    pub(crate) top_y: f64,
}

/// Why points make no curve; knots count from 0.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub(crate) enum CurveError {
    #[error("a curve needs two knots or more, and as many y (and slopes) as x")]
    Lengths,
    #[error("knot {knot}: not a finite number")]
    NotFinite { knot: usize },
    #[error("knot {knot}: x does not rise")]
    NotRising { knot: usize },
    #[error("knot {knot}: a number or a slope beyond {LARGEST:e}")]
    TooLarge { knot: usize },
}

/// A piecewise cubic with a continuous slope, given by its knots and the slopes there (Hermite's
/// form); straight, with the end slope, beyond both ends.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Curve1d {
    /// Two or more; x rises strictly; all finite.
    knots: Box<[Knot]>,
    /// From each knot to the next.
    pieces: Box<[Piece]>,
}

impl Curve1d {
    /// The shape-preserving cubic: monotone where the points are, no extremum that is not a point.
    ///
    /// Slopes: F. N. Fritsch & J. Butland, "A method for constructing local monotone piecewise
    /// cubic interpolants", SIAM J. Sci. Stat. Comput. 5 (1984) 300-304; the weighted harmonic
    /// mean inside and the limited one-sided three-point slope at the ends, from memory and the
    /// same as SciPy's `PchipInterpolator`, against which they are checked. Two points make a
    /// straight line.
    pub(crate) fn pchip(x: &[f64], y: &[f64]) -> Result<Self, CurveError> {
        check(x, y)?;
        let steps: Vec<Step> = x
            .windows(2)
            .zip(y.windows(2))
            .map(|(x, y)| {
                let width = x[1] - x[0];
                let slope = (y[1] - y[0]) / width;
                Step { width, slope }
            })
            .collect();
        let slopes = match *steps {
            [only] => vec![only.slope; 2],
            [first, second, ..] => {
                let (last, before) = (steps[steps.len() - 1], steps[steps.len() - 2]);
                let inner = steps.windows(2).map(|pair| inner_slope(pair[0], pair[1]));
                std::iter::once(end_slope(first, second))
                    .chain(inner)
                    .chain([end_slope(last, before)])
                    .collect()
            }
            [] => return Err(CurveError::Lengths),
        };
        Self::hermite(x, y, &slopes)
    }

    /// The curve through the points (`x`, `y`) with the given `slopes` there.
    pub(crate) fn hermite(x: &[f64], y: &[f64], slopes: &[f64]) -> Result<Self, CurveError> {
        check(x, y)?;
        if slopes.len() != x.len() {
            return Err(CurveError::Lengths);
        }
        let knots: Box<[Knot]> = x
            .iter()
            .zip(y)
            .zip(slopes)
            .map(|((&x, &y), &slope)| Knot { x, y, slope })
            .collect();
        let pieces: Box<[Piece]> = knots
            .windows(2)
            .map(|pair| Piece::between(pair[0], pair[1]))
            .collect();
        for (knot, piece) in pieces.iter().enumerate() {
            let numbers = [
                piece.left.slope,
                piece.right.slope,
                piece.start,
                piece.bend,
                piece.twist,
            ];
            // `not <=` so that a NaN, from an overflow above, is refused as well
            if !numbers.iter().all(|number| number.abs() <= LARGEST) {
                return Err(CurveError::TooLarge { knot });
            }
        }
        Ok(Self { knots, pieces })
    }

    /// Whether the points alone make the curve, through [`Curve1d::pchip`].
    pub(crate) fn is_pchip(&self) -> bool {
        let x: Vec<f64> = self.knots().map(|knot| knot.x).collect();
        let y: Vec<f64> = self.knots().map(|knot| knot.y).collect();
        Self::pchip(&x, &y).as_ref() == Ok(self)
    }

    /// Value and slope at `x`: two divisions, a binary search and no allocation.
    ///
    /// Exact at the knots. Straight on with the end slope beyond the ends; NaN for NaN.
    pub(crate) fn at(&self, x: f64) -> Sample {
        self.at_from(&mut 0, x)
    }

    /// The same, without the search where `x` is on the piece that was asked before: `piece` says
    /// which one, and is kept.
    #[inline]
    pub(crate) fn at_from(&self, piece: &mut usize, x: f64) -> Sample {
        if let Some(piece) = self.pieces.get(*piece)
            && piece.left.x <= x
            && x < piece.right.x
        {
            return piece.at_x(x);
        }
        self.search(piece, x)
    }

    fn search(&self, piece: &mut usize, x: f64) -> Sample {
        let right = self.knots.partition_point(|knot| knot.x <= x);
        *piece = right.saturating_sub(1);
        let found = right.checked_sub(1).and_then(|left| self.pieces.get(left));
        if let Some(piece) = found {
            piece.at_x(x)
        } else {
            let end = if right == 0 {
                self.first()
            } else {
                self.last()
            };
            Sample {
                value: end.y + end.slope * (x - end.x),
                slope: end.slope,
            }
        }
    }

    /// The curve's own knot at `x`, or what a knot there would be. [`Curve1d::at`] gives the slope
    /// of a knot but for a rounding.
    pub(crate) fn knot_at(&self, x: f64) -> Knot {
        let Sample { value: y, slope } = self.at(x);
        let found = self.knots.binary_search_by(|knot| knot.x.total_cmp(&x));
        let own = found.ok().and_then(|found| self.knots.get(found));
        own.copied().unwrap_or(Knot { x, y, slope })
    }

    /// The knot with the smallest x.
    pub(crate) fn first(&self) -> Knot {
        self.knots[0]
    }

    /// The knot with the largest x.
    pub(crate) fn last(&self) -> Knot {
        self.knots[self.knots.len() - 1]
    }

    /// The knots, x rising.
    pub(crate) fn knots(&self) -> impl ExactSizeIterator<Item = Knot> {
        self.knots.iter().copied()
    }

    /// Every x from the first knot to the last where the curve has the value `y`, rising.
    ///
    /// Each is as good as rounding allows: where the curve is steep a few units in the last
    /// place, near a level spot what the rounding of y leaves. A knot that has the value is
    /// given once, exactly. Of a level piece at that value the two knots are given. A value that
    /// only rounding keeps from touching an extremum between knots is not found.
    pub(crate) fn solutions(&self, y: f64) -> Vec<f64> {
        let mut found = Vec::new();
        if self.first().y == y {
            found.push(self.first().x);
        }
        for Stretch { piece, from, to } in self.stretches() {
            let (start, end) = (piece.value(from) - y, piece.value(to) - y);
            let s = if end == 0.0 {
                to
            } else if start * end.signum() < 0.0 {
                // The signs differ and every value is finite, so the bracket holds a root. 1e-32
                // of the piece: below what rounding of y can tell, even at a level end.
                match bracketed_root(|s| piece.value(s) - y, from, to, 1e-32) {
                    Ok(s) => s,
                    Err(_) => continue,
                }
            } else {
                continue;
            };
            let x = piece.x(s);
            if found.last() != Some(&x) {
                found.push(x);
            }
        }
        found
    }

    /// The highest point from the first knot to the last; of several alike, the first.
    pub(crate) fn maximum(&self) -> Knot {
        let mut highest = self.first();
        for Stretch { piece, to, .. } in self.stretches() {
            let y = piece.value(to);
            if y > highest.y {
                let slope = piece.at(to).slope;
                highest = Knot {
                    x: piece.x(to),
                    y,
                    slope,
                };
            }
        }
        highest
    }

    /// Whether the curve rises anywhere, ends included.
    pub(crate) fn rises(&self) -> bool {
        self.first().slope > 0.0
            || self.last().slope > 0.0
            || self
                .stretches()
                .any(|Stretch { piece, from, to }| piece.value(to) > piece.value(from))
    }

    /// The curve cut where it turns, from the first to the last knot.
    pub(crate) fn monotone_runs(&self) -> Vec<MonotoneRun> {
        let mut runs: Vec<MonotoneRun> = Vec::new();
        for Stretch { piece, from, to } in self.stretches() {
            let falls = piece.value(to) <= piece.value(from);
            let end = piece.x(to);
            match runs.last_mut() {
                Some(run) if run.falls == falls => run.end = end,
                _ => runs.push(MonotoneRun { end, falls }),
            }
        }
        runs
    }

    /// Least and greatest slope from `a` to `b`.
    pub(crate) fn slopes_between(&self, a: f64, b: f64) -> [f64; 2] {
        let mut range = [f64::INFINITY, f64::NEG_INFINITY];
        let mut take = |slope: f64| {
            range = [range[0].min(slope), range[1].max(slope)];
        };
        take(self.at(a).slope);
        take(self.at(b).slope);
        let from = self
            .knots
            .partition_point(|knot| knot.x <= a)
            .saturating_sub(1);
        for pair in self.knots.get(from..).unwrap_or_default().windows(2) {
            if pair[0].x >= b {
                break;
            }
            let piece = Piece::between(pair[0], pair[1]);
            // The slope of a cubic is a parabola: its ends, and its vertex if that lies between.
            for knot in pair {
                if a < knot.x && knot.x < b {
                    take(knot.slope);
                }
            }
            let vertex = -piece.bend / (3.0 * piece.twist);
            let x = piece.left.x + vertex * piece.width;
            if (0.0..1.0).contains(&vertex) && a < x && x < b {
                take(piece.at(vertex).slope);
            }
        }
        range
    }

    /// The last rise from the first knot to the last that is more than `least`, or none.
    pub(crate) fn last_rise(&self, least: f64) -> Option<Rise> {
        let mut rise = None;
        let mut low = self.first().y;
        // A rise over several stretches counts as one, from where it began.
        let mut foot = low;
        for Stretch { piece, from, to } in self.stretches() {
            let (start, end) = (piece.value(from), piece.value(to));
            low = low.min(end);
            if end <= start {
                foot = end;
            } else if end - foot > least {
                rise = Some(Rise {
                    low,
                    top_x: piece.x(to),
                    top_y: end,
                });
            }
        }
        rise
    }

    /// The curve cut at its knots and extrema: on each stretch it is monotone.
    fn stretches(&self) -> impl Iterator<Item = Stretch> {
        self.pieces.iter().flat_map(|&piece| {
            let [turn1, turn2] = piece.turns();
            [(0.0, turn1), (turn1, turn2), (turn2, 1.0)]
                .into_iter()
                .filter(|(from, to)| from < to)
                .map(move |(from, to)| Stretch { piece, from, to })
        })
    }
}

fn check(x: &[f64], y: &[f64]) -> Result<(), CurveError> {
    if x.len() < 2 || x.len() != y.len() {
        return Err(CurveError::Lengths);
    }
    for (knot, (x, y)) in x.iter().zip(y).enumerate() {
        if !(x.is_finite() && y.is_finite()) {
            return Err(CurveError::NotFinite { knot });
        }
        if x.abs().max(y.abs()) > LARGEST {
            return Err(CurveError::TooLarge { knot });
        }
    }
    match x.windows(2).position(|pair| pair[0] >= pair[1]) {
        Some(before) => Err(CurveError::NotRising { knot: before + 1 }),
        None => Ok(()),
    }
}

/// From one point to the next.
#[derive(Clone, Copy)]
struct Step {
    width: f64,
    slope: f64,
}

fn one_way(a: f64, b: f64) -> bool {
    (a > 0.0 && b > 0.0) || (a < 0.0 && b < 0.0)
}

/// Fritsch & Butland: zero at an extremum, else the weighted harmonic mean of both chords.
fn inner_slope(left: Step, right: Step) -> f64 {
    if !one_way(left.slope, right.slope) {
        return 0.0;
    }
    let w1 = 2.0 * right.width + left.width;
    let w2 = right.width + 2.0 * left.width;
    (w1 + w2) / (w1 / left.slope + w2 / right.slope)
}

/// The slope of the parabola through the three end points, limited so that the end piece keeps
/// its shape.
fn end_slope(end: Step, next: Step) -> f64 {
    let slope = ((2.0 * end.width + next.width) * end.slope - end.width * next.slope)
        / (end.width + next.width);
    if !one_way(slope, end.slope) {
        0.0
    } else if !one_way(end.slope, next.slope) && slope.abs() > 3.0 * end.slope.abs() {
        3.0 * end.slope
    } else {
        slope
    }
}

/// A stretch of the curve that falls (or is level) or rises throughout, up to `end`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct MonotoneRun {
    pub(crate) end: f64,
    pub(crate) falls: bool,
}

/// A monotone part of a piece, in shares of the piece's width.
struct Stretch {
    piece: Piece,
    from: f64,
    to: f64,
}

/// The cubic between two knots, in s = (x - left) / width from 0 to 1:
/// y = left + start s + bend s^2 + twist s^3.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Piece {
    left: Knot,
    right: Knot,
    width: f64,
    start: f64,
    bend: f64,
    twist: f64,
}

impl Piece {
    fn between(left: Knot, right: Knot) -> Self {
        let width = right.x - left.x;
        let rise = right.y - left.y;
        let (start, end) = (width * left.slope, width * right.slope);
        Self {
            left,
            right,
            width,
            start,
            bend: 3.0 * rise - 2.0 * start - end,
            twist: start + end - 2.0 * rise,
        }
    }

    fn at(&self, s: f64) -> Sample {
        let (bend, twist) = (self.bend, self.twist);
        Sample {
            value: self.value(s),
            slope: (self.start + s * (2.0 * bend + s * (3.0 * twist))) / self.width,
        }
    }

    fn at_x(&self, x: f64) -> Sample {
        self.at((x - self.left.x) / self.width)
    }

    /// The value at `s`, exact at both knots.
    fn value(&self, s: f64) -> f64 {
        if s == 1.0 {
            self.right.y
        } else {
            self.left.y + s * (self.start + s * (self.bend + s * self.twist))
        }
    }

    fn x(&self, s: f64) -> f64 {
        if s == 1.0 {
            self.right.x
        } else {
            (self.left.x + s * self.width).min(self.right.x)
        }
    }

    /// Where the slope changes sign inside the piece, rising; 1 stands for none.
    fn turns(&self) -> [f64; 2] {
        let rise = self.right.y - self.left.y;
        let end = self.width * self.right.slope;
        // Slopes of the chord's sign and at most three times as steep: monotone (the square of
        // F. N. Fritsch & R. E. Carlson, SIAM J. Numer. Anal. 17 (1980) 238-246, from memory).
        // Every pchip piece is of this kind; asking the quadratic could only add rounding.
        let tame = |slope: f64| {
            slope == 0.0
                || (one_way(slope, rise)
                    && slope.abs() <= 3.0 * rise.abs() * (1.0 + 8.0 * f64::EPSILON))
        };
        if tame(self.start) && tame(end) {
            return [1.0; 2];
        }
        // 0 = start + 2 bend s + 3 twist s^2, scaled against overflow, both roots without
        // cancellation
        let scale = self.start.abs().max(end.abs()).max(rise.abs());
        let (start, bend, twist) = (self.start / scale, self.bend / scale, self.twist / scale);
        let discriminant = bend * bend - 3.0 * twist * start;
        if discriminant.is_nan() || discriminant <= 0.0 {
            return [1.0; 2];
        }
        let sum = -(bend + discriminant.sqrt().copysign(bend));
        let mut turns =
            [sum / (3.0 * twist), start / sum].map(|s| if 0.0 < s && s < 1.0 { s } else { 1.0 });
        turns.sort_by(f64::total_cmp);
        turns
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn numbers(row: &serde_json::Value, key: &str) -> Vec<f64> {
        let list = row[key].as_array().unwrap();
        list.iter().map(|number| number.as_f64().unwrap()).collect()
    }

    #[test]
    fn val_pchip_against_scipy() {
        // SciPy 1.17.1, PchipInterpolator, values and first derivatives; the rows and how they
        // were made: tests/data/README.md.
        let text = include_str!("../tests/data/spline.json");
        let rows: Vec<serde_json::Value> = serde_json::from_str(text).unwrap();
        assert_eq!(rows.len(), 2);
        for row in &rows {
            let curve = Curve1d::pchip(&numbers(row, "x"), &numbers(row, "y")).unwrap();
            let evaluated = numbers(row, "x_eval");
            let (values, slopes) = (numbers(row, "value"), numbers(row, "slope"));
            assert_eq!((values.len(), slopes.len()), (20, 20));
            for ((x, value), slope) in evaluated.into_iter().zip(values).zip(slopes) {
                let sample = curve.at(x);
                assert!(
                    (sample.value - value).abs() <= 1e-12 * value,
                    "{} at {x}",
                    row["id"]
                );
                // where the slope is 0 in the row, 1 Pa s/m3 is the scale: 1e-4 of the usual slope
                let scale = f64::max(slope.abs(), 1.0);
                assert!(
                    (sample.slope - slope).abs() <= 1e-12 * scale,
                    "{} at {x}",
                    row["id"]
                );
            }
        }
    }

    #[test]
    fn val_hermite_repeats_a_cubic_and_its_extrema() {
        // y = x^3 - x has the slope 3x^2 - 1, the roots -1, 0, 1 and the extrema
        // 2/(3 sqrt 3) at -1/sqrt 3, and its negative at 1/sqrt 3.
        let x = [-2.0, 2.0];
        let curve = Curve1d::hermite(&x, &[-6.0, 6.0], &[11.0, 11.0]).unwrap();
        for x in [-1.7, -0.3, 0.0, 0.9, 1.99] {
            let sample = curve.at(x);
            assert!((sample.value - (x * x * x - x)).abs() < 1e-14);
            assert!((sample.slope - (3.0 * x * x - 1.0)).abs() < 1e-14);
        }
        let roots = curve.solutions(0.0);
        assert_eq!(roots.len(), 3);
        for (root, exact) in roots.iter().zip([-1.0, 0.0, 1.0]) {
            assert!((root - exact).abs() < 1e-15);
        }
        let inner = Curve1d::hermite(&[-2.0, 1.0], &[-6.0, 0.0], &[11.0, 2.0]).unwrap();
        let top = inner.maximum();
        assert!((top.x + 1.0 / 3f64.sqrt()).abs() < 1e-15);
        assert!((top.y - 2.0 / (3.0 * 3f64.sqrt())).abs() < 1e-15);
        assert!(top.slope.abs() < 1e-14);
        assert_eq!(inner.solutions(top.y).len(), 1, "the extremum itself, once");
        // from -6 to that top, down, and up again to the end
        let rise = |top_x, top_y| {
            Some(Rise {
                low: -6.0,
                top_x,
                top_y,
            })
        };
        assert_eq!(inner.last_rise(0.0), rise(1.0, 0.0));
        assert_eq!(inner.last_rise(1.0), rise(top.x, top.y));
        assert_eq!(inner.last_rise(7.0), None);
        assert!(inner.rises());
    }

    #[test]
    fn val_straight_lines() {
        // Two points, or points on a line: the line, everywhere and beyond.
        for x in [&[1.0, 3.0][..], &[1.0, 1.5, 3.0][..]] {
            let y: Vec<f64> = x.iter().map(|x| 7.0 - 2.0 * x).collect();
            let line = Curve1d::pchip(x, &y).unwrap();
            for x in [-5.0, 1.0, 1.2, 2.9, 3.0, 40.0] {
                let sample = line.at(x);
                assert!((sample.value - (7.0 - 2.0 * x)).abs() < 1e-13);
                assert!((sample.slope + 2.0).abs() < 1e-14);
            }
        }
    }

    #[test]
    fn prop_a_level_piece_gives_its_two_knots_once() {
        let curve = Curve1d::pchip(&[0.0, 1.0, 2.0, 3.0], &[5.0, 4.0, 4.0, 1.0]).unwrap();
        assert_eq!(curve.solutions(4.0), [1.0, 2.0]);
        assert_eq!(curve.solutions(5.0), [0.0]);
        assert_eq!(curve.solutions(1.0), [3.0]);
        assert_eq!(curve.solutions(0.999), [0.0; 0]);
        assert_eq!(curve.solutions(f64::NAN), [0.0; 0]);
        assert_eq!(curve.maximum(), curve.first());
        assert!(!curve.rises());
        assert!(curve.at(f64::NAN).value.is_nan());
    }

    #[test]
    fn prop_bad_points_are_refused() {
        let error = |x: &[f64], y: &[f64]| Curve1d::pchip(x, y).unwrap_err();
        assert_eq!(error(&[1.0], &[1.0]), CurveError::Lengths);
        assert_eq!(error(&[1.0, 2.0], &[1.0]), CurveError::Lengths);
        assert_eq!(
            error(&[0.0, 1.0, 1.0], &[1.0; 3]),
            CurveError::NotRising { knot: 2 }
        );
        assert_eq!(
            error(&[0.0, f64::NAN], &[1.0; 2]),
            CurveError::NotFinite { knot: 1 }
        );
        assert_eq!(
            error(&[0.0, 1.0], &[1.0, 1e301]),
            CurveError::TooLarge { knot: 1 }
        );
        assert_eq!(
            error(&[0.0, 5e-324, 1.0], &[1e9, 1.0, 0.0]),
            CurveError::TooLarge { knot: 0 }
        );
    }

    /// Two to twelve points; some steps of y are level, some x steps are a thousandth of others.
    fn points() -> impl Strategy<Value = (Vec<f64>, Vec<f64>)> {
        let step = (
            prop_oneof![1e-4..1e-3f64, 0.01..1.0f64],
            prop_oneof![4 => -500.0..500.0f64, 1 => Just(0.0)],
        );
        (
            -1.0..1.0f64,
            -1e3..1e3f64,
            prop::collection::vec(step, 1..12),
        )
            .prop_map(|(x, y, steps)| {
                let mut points = (vec![x], vec![y]);
                let (mut x, mut y) = (x, y);
                for (width, rise) in steps {
                    (x, y) = (x + width, y + rise);
                    points.0.push(x);
                    points.1.push(y);
                }
                points
            })
    }

    #[test]
    fn prop_monotone_runs_of_a_dip() {
        let x = [0.0, 1.0, 2.0, 3.0, 4.0];
        let curve = Curve1d::pchip(&x, &[5.0, 4.0, 4.5, 4.6, 1.0]).unwrap();
        let run = |end, falls| MonotoneRun { end, falls };
        assert_eq!(
            curve.monotone_runs(),
            [run(1.0, true), run(3.0, false), run(4.0, true)]
        );
    }

    proptest! {
        #[test]
        fn prop_slopes_between_bound_every_slope(
            steps in prop::collection::vec((0.1..2.0f64, -5.0..5.0f64), 3..8),
            ends in (-1.0..12.0f64, -1.0..12.0f64), at in 0.0..1.0f64,
        ) {
            let mut x = 0.0;
            let (xs, ys): (Vec<f64>, Vec<f64>) =
                steps.iter().map(|(step, y)| { x += step; (x, *y) }).unzip();
            let curve = Curve1d::pchip(&xs, &ys).unwrap();
            let (a, b) = (ends.0.min(ends.1), ends.0.max(ends.1));
            let [least, most] = curve.slopes_between(a, b);
            let slope = curve.at(a + at * (b - a)).slope;
            prop_assert!(least - 1e-9 <= slope && slope <= most + 1e-9, "{least} {slope} {most}");
        }

        #[test]
        fn prop_passes_its_points_and_keeps_their_shape((x, y) in points(), share in 0.0..=1.0f64) {
            let curve = Curve1d::pchip(&x, &y).unwrap();
            for (pair, y) in x.windows(2).zip(y.windows(2)) {
                prop_assert_eq!(curve.at(pair[0]).value, y[0]);
                prop_assert_eq!(curve.at(pair[1]).value, y[1]);
                let sample = curve.at(pair[0] + share * (pair[1] - pair[0]));
                let rounding = 1e-15 * (y[0].abs() + y[1].abs());
                prop_assert!(sample.value >= y[0].min(y[1]) - rounding);
                prop_assert!(sample.value <= y[0].max(y[1]) + rounding);
                let chord = (y[1] - y[0]) / (pair[1] - pair[0]);
                prop_assert!(sample.slope * chord >= -1e-14 * chord * chord, "against its points");
            }
            let top = y.iter().copied().fold(f64::MIN, f64::max);
            prop_assert_eq!(curve.maximum().y, top);
            prop_assert_eq!(curve.rises(), y.windows(2).any(|pair| pair[1] > pair[0]));
        }

        #[test]
        fn prop_slope_is_the_derivative((x, y) in points(), at in -2.0..8.0f64) {
            let curve = Curve1d::pchip(&x, &y).unwrap();
            let h = 1e-6;
            let (before, here, after) = (curve.at(at - h), curve.at(at), curve.at(at + h));
            // the central difference lies between the slopes nearby, but for the bend over 2h
            let bend = (after.slope - here.slope).abs() + (here.slope - before.slope).abs();
            let difference = (after.value - before.value) / (2.0 * h);
            // of the values, and of x at the ends of the step
            let values = before.value.abs() + after.value.abs() + 1e3;
            let slopes = before.slope.abs() + here.slope.abs() + after.slope.abs();
            let rounding = 1e-15 / h * (values + slopes);
            prop_assert!((difference - here.slope).abs() <= bend + rounding);
        }

        #[test]
        fn prop_value_and_slope_are_continuous_at_knots((x, y) in points()) {
            let curve = Curve1d::pchip(&x, &y).unwrap();
            // a step of 2e-15 on a slope of three chords, and on a bend of six chords over 1e-4
            let chord = |(x, y): (&[f64], &[f64])| ((y[1] - y[0]) / (x[1] - x[0])).abs();
            let steepest = x.windows(2).zip(y.windows(2)).map(chord).fold(1e3, f64::max);
            for knot in curve.knots() {
                for x in [knot.x.next_down(), knot.x.next_up()] {
                    let sample = curve.at(x);
                    prop_assert!((sample.value - knot.y).abs() <= 1e-14 * steepest);
                    prop_assert!((sample.slope - knot.slope).abs() <= 1e-9 * steepest);
                }
            }
        }

        #[test]
        fn prop_solutions_hold_every_x_of_a_value((x, y) in points(), share in 0.0..=1.0f64) {
            let curve = Curve1d::pchip(&x, &y).unwrap();
            let (first, last) = (curve.first().x, curve.last().x);
            let at = (first + share * (last - first)).min(last);
            let here = curve.at(at);
            let found = curve.solutions(here.value);
            prop_assert!(found.is_sorted_by(|a, b| a < b));
            let near = |x: &f64| (curve.at(*x).value - here.value).abs();
            let size = y.iter().fold(1.0, |size: f64, y| size.max(y.abs()));
            for x in &found {
                let rounding = 1e-15 * (size + curve.at(*x).slope.abs());
                prop_assert!(near(x) <= 8.0 * rounding, "{} off at {x}", near(x));
            }
            // one for each monotone stretch that has the value, as a scan of the points tells
            let crossed = y.windows(2).filter(|pair| {
                let (low, high) = (pair[0].min(pair[1]), pair[0].max(pair[1]));
                low + 1e-9 < here.value && here.value < high - 1e-9
            });
            prop_assert!(found.len() >= crossed.count());
            // and the x we came from, where the curve is steep enough to tell it from others
            if here.slope.abs() > 1.0 {
                let nearest = found.iter().map(|x| (x - at).abs()).fold(f64::MAX, f64::min);
                prop_assert!(nearest <= 1e-9, "{nearest} from {at}");
            }
        }

        #[test]
        fn prop_any_hermite_piece_is_solved_completely(
            ends in prop::array::uniform4(-3.0..3.0f64), y in -2.0..2.0f64,
        ) {
            let [y0, y1, d0, d1] = ends;
            let curve = Curve1d::hermite(&[0.0, 1.0], &[y0, y1], &[6.0 * d0, 6.0 * d1]).unwrap();
            let found = curve.solutions(y);
            // a fine scan counts the changes of sign
            let side = |i: u32| curve.at(f64::from(i) / 4096.0).value > y;
            let changes = (0..4096).filter(|&i| side(i) != side(i + 1)).count();
            prop_assert!(found.len() >= changes && found.len() <= 3);
            prop_assert_eq!(found.len() % 2, changes % 2);
            for x in found {
                prop_assert!((curve.at(x).value - y).abs() < 1e-13);
            }
            let scanned = (0..=4096).map(|i| curve.at(f64::from(i) / 4096.0).value);
            let top = scanned.fold(f64::MIN, f64::max);
            prop_assert!(curve.maximum().y >= top - 1e-14 && curve.maximum().y <= top + 1e-5);
        }

        #[test]
        fn prop_never_panics(
            x in prop::collection::vec(any::<f64>(), 0..6), y in prop::collection::vec(any::<f64>(), 0..6),
            at in any::<f64>(),
        ) {
            let mut x = x;
            x.sort_by(f64::total_cmp);
            if let Ok(curve) = Curve1d::pchip(&x, &y) {
                let _ = (curve.at(at), curve.maximum(), curve.rises());
                let inside = curve.at(0.5 * curve.first().x + 0.5 * curve.last().x);
                prop_assert!(inside.value.is_finite() && inside.slope.is_finite());
                prop_assert!(!curve.solutions(inside.value).is_empty());
            }
        }
    }
}
