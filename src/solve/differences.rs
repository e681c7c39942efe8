//! Derivatives of a few numbers at once by differences of fourth order.
//!
//! Laws are smooth nearly everywhere, but not quite: tables have knots, where only the slope is
//! continuous, sizes have corners, where a run begins to narrow instead of to widen, and ranges
//! have ends. Where central differences of two widths do not agree, or one side is refused, each
//! side is differentiated by itself, and of two good sides the mean is taken.
#![allow(
    clippy::indexing_slicing,
    reason = "a table of fixed size, and offsets within its reach on either side"
)]

/// What a law at the flows of a balance says \[Pa\].
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Term {
    pub(super) site: Site,
    pub(super) value: f64,
}

/// Which law that is. Those of legs and of the fan are what a balance is made of; the others are
/// shares of them again, one by one, for those who read a pressure between (tap.rs).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Site {
    /// The loss of a leg of the plan, or of the junctions at its ends.
    Leg(u32),
    /// What the fan gives.
    Fan,
    /// What the hood of a section takes: (1 + K) velocity pressures.
    Hood(u32),
    /// What a section loses by meeting others, with the velocity pressure that a momentum junction
    /// counts to it.
    Foot(u32),
    /// The velocity pressure in a section, at its downstream end.
    SectionHead(u32),
    /// What the junction of the mains takes beyond the suction that they share.
    CollectorJoint,
    /// The loss of a run before the fan.
    Run(u32),
    /// The velocity pressure in a run before the fan.
    RunHead(u32),
}

/// Step relative to the number: truncation is below 1e-11 for laws as steep as its tenth power,
/// rounding about as much of the whole term.
const STEP: f64 = 5e-5;

/// A number smaller than this share of its usual size is stepped as if it had that.
const LEAST_SHARE: f64 = 0.1;

/// Two estimates that differ by more, relative, have a knot or a corner between them.
const SMOOTH: f64 = 1e-7;

/// Steps to each side.
const REACH: usize = 4;

/// Scratch memory, reused from one number to the next.
#[derive(Debug, Default)]
pub(super) struct Differences {
    /// The terms at -4 to 4 steps; empty where not asked for or refused.
    at: [Vec<Term>; 2 * REACH + 1],
    slopes: Vec<Term>,
}

/// An estimate and whether a second one, of lower order, agrees.
#[derive(Debug, Clone, Copy)]
struct Estimate {
    slope: f64,
    sound: bool,
}

impl Differences {
    /// Derivatives of the terms that `terms` adds at a number near `x`, whose usual size is
    /// `usual`; it returns false where the model refuses the number. Every call gives the same
    /// terms in the same order. NaN where neither side can be stepped to.
    pub(super) fn slopes(
        &mut self,
        x: f64,
        usual: f64,
        mut terms: impl FnMut(f64, &mut Vec<Term>) -> bool,
    ) -> &[Term] {
        let wide = STEP * x.abs().max(LEAST_SHARE * usual);
        // The step that is really taken.
        let step = (x + wide) - x;
        self.at.iter_mut().for_each(Vec::clear);
        self.slopes.clear();
        let mut ask = |at: &mut [Vec<Term>], offset: isize| {
            let to = &mut at[offset.wrapping_add_unsigned(REACH) as usize];
            if to.is_empty() && !terms(x + offset as f64 * step, to) {
                to.clear();
            }
            !to.is_empty()
        };
        let central = [1, -1, 2, -2].map(|offset| ask(&mut self.at, offset));
        let central = central.iter().all(|&there| there);
        let count = |at: &[Vec<Term>]| at.iter().map(Vec::len).max().unwrap_or(0);
        let smooth = central
            && (0..count(&self.at)).all(|term| {
                let estimate = self.central(term, step);
                estimate.sound
            });
        if smooth {
            for term in 0..count(&self.at) {
                let value = self.central(term, step).slope;
                self.slopes.push(Term {
                    site: self.site(term),
                    value,
                });
            }
            return &self.slopes;
        }
        let here = ask(&mut self.at, 0);
        let [right, left] =
            [1, -1].map(|side| here && (1..=REACH as isize).all(|n| ask(&mut self.at, side * n)));
        for term in 0..count(&self.at) {
            let right = right.then(|| self.side(term, step, 1));
            let left = left.then(|| self.side(term, step, -1));
            let value = match (left, right) {
                (Some(one), Some(other)) if one.sound == other.sound => {
                    0.5 * (one.slope + other.slope)
                }
                (Some(left), Some(right)) => {
                    if left.sound {
                        left.slope
                    } else {
                        right.slope
                    }
                }
                (Some(only), None) | (None, Some(only)) => only.slope,
                (None, None) => f64::NAN,
            };
            self.slopes.push(Term {
                site: self.site(term),
                value,
            });
        }
        &self.slopes
    }

    fn site(&self, term: usize) -> Site {
        let found = self.at.iter().find_map(|terms| terms.get(term));
        found.map_or(Site::Fan, |term| term.site)
    }

    fn value(&self, term: usize, offset: isize) -> f64 {
        self.at
            .get(offset.wrapping_add_unsigned(REACH) as usize)
            .and_then(|terms| terms.get(term))
            .map_or(f64::NAN, |term| term.value)
    }

    /// What rounding of a term leaves of its slope.
    fn noise(&self, term: usize, step: f64) -> f64 {
        let near = self.value(term, 1).abs().max(self.value(term, -1).abs());
        16.0 * f64::EPSILON * near / step
    }

    /// Central differences of two widths, extrapolated (L. F. Richardson, 1911).
    fn central(&self, term: usize, step: f64) -> Estimate {
        let across = |n| (self.value(term, n) - self.value(term, -n)) / (2.0 * n as f64 * step);
        let (narrow, wide): (f64, f64) = (across(1), across(2));
        Estimate {
            slope: narrow + (narrow - wide) / 3.0,
            sound: (narrow - wide).abs() <= SMOOTH * narrow.abs() + self.noise(term, step),
        }
    }

    /// One side alone, by the polynomials through five points and through four.
    fn side(&self, term: usize, step: f64, side: isize) -> Estimate {
        let weighted = |weights: &[f64]| -> f64 {
            let at = |n| self.value(term, side * n as isize);
            weights.iter().enumerate().map(|(n, w)| w * at(n)).sum()
        };
        let step = side as f64 * step;
        let slope = weighted(&[-25.0, 48.0, -36.0, 16.0, -3.0]) / (12.0 * step);
        let second = weighted(&[-11.0, 18.0, -9.0, 2.0]) / (6.0 * step);
        let near = self.value(term, 0).abs().max(self.value(term, side).abs());
        let noise = 64.0 * f64::EPSILON * near / step.abs();
        Estimate {
            slope,
            sound: (slope - second).abs() <= SMOOTH * slope.abs() + noise,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn slope(x: f64, usual: f64, f: impl Fn(f64) -> Option<f64>) -> f64 {
        let mut differences = Differences::default();
        let slopes = differences.slopes(x, usual, |x, terms| {
            terms.extend(f(x).map(|value| Term {
                site: Site::Fan,
                value,
            }));
            !terms.is_empty()
        });
        slopes.first().map_or(f64::NAN, |term| term.value)
    }

    #[test]
    fn val_smooth_functions() {
        // By calculus.
        for power in [-10, -5, -2, 1, 2, 5, 10] {
            for x in [1e-6, 0.15, 3.0, 293.15] {
                let got = slope(x, 1e-9, |x| Some(x.powi(power)));
                let exact = f64::from(power) * x.powi(power - 1);
                assert!((got / exact - 1.0).abs() < 1e-10, "{power} {x}: {got}");
            }
        }
        assert!((slope(0.0, 1.0, |x| Some(x.exp())) - 1.0).abs() < 1e-9);
    }

    #[test]
    fn val_knots_corners_and_ends() {
        // Slope 2 from both sides, curvature 0 and 6.
        let knot = |x: f64| Some(2.0 * x + 3.0 * (x - 1.0).max(0.0).powi(2));
        assert!((slope(1.0, 1.0, knot) - 2.0).abs() < 1e-10);
        // Just beside the knot, so that it lies within the steps: 2 + 6 * 5e-5.
        let beside = slope(1.0 + 5e-5, 1.0, knot);
        assert!((beside - 2.0 - 6.0 * 5e-5).abs() < 1e-9, "{beside}");
        // In whatever unit.
        let micro = slope(1.0 + 5e-5, 1.0, |x| knot(x).map(|y| 1e-6 * y));
        assert!((1e6 * micro - 2.0 - 6.0 * 5e-5).abs() < 1e-9, "{micro}");
        // Slopes 0 and 2.
        assert!((slope(1.0, 1.0, |x| Some(2.0 * (x - 1.0).max(0.0))) - 1.0).abs() < 1e-10);
        let only = |range: std::ops::RangeInclusive<f64>| {
            move |x: f64| range.contains(&x).then(|| x.exp())
        };
        assert!((slope(0.0, 1.0, only(0.0..=1.0)) - 1.0).abs() < 1e-9);
        assert!((slope(1.0, 1.0, only(0.0..=1.0)) / 1.0_f64.exp() - 1.0).abs() < 1e-9);
        assert!(slope(1.0, 1.0, only(1.0..=1.0)).is_nan());
    }
}
