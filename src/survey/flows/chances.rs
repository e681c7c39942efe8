//! Tails of the normal and the chi-square distribution.

use std::f64::consts::{PI, SQRT_2};

/// What happens by chance less often than this counts as shown: one in twenty.
pub(super) const LEVEL: f64 = 0.05;

/// Deviate that a normal one exceeds with the probability [`LEVEL`].
pub(super) const ONE_SIDED: f64 = 1.644_853_626_951_472_7;

/// Deviate that a normal one exceeds with this probability on either side together.
pub(super) const TWO_SIDED: f64 = 1.959_963_984_540_054;

/// Complementary error function; relative error below 1e-12.
///
/// M. Abramowitz & I. A. Stegun, Handbook of mathematical functions, 1964, 7.1.6 (a series of
/// positive terms) and 7.1.14 (a continued fraction); numbers of the equations from memory.
fn erfc(x: f64) -> f64 {
    if x < 0.0 {
        return 2.0 - erfc(-x);
    }
    if x < 2.0 {
        let (mut term, mut sum) = (x, x);
        for n in 1..60 {
            term *= x * x / (f64::from(n) + 0.5);
            sum += term;
        }
        return 1.0 - 2.0 / PI.sqrt() * (-x * x).exp() * sum;
    }
    let fraction = (1..=100).rev().fold(x, |t, k| x + f64::from(k) / 2.0 / t);
    (-x * x).exp() / PI.sqrt() / fraction
}

/// Probability that a normal deviate is above this.
pub(super) fn normal_above(deviate: f64) -> f64 {
    erfc(deviate / SQRT_2) / 2.0
}

/// Probability that a chi-square of so many degrees of freedom is this or more; 1 of none.
///
/// The finite sums of Abramowitz & Stegun, 26.4.4 (odd) and 26.4.5 (even; numbers from memory), whose
/// terms are all positive; each is taken by its logarithm, so that none underflows before it counts.
pub(super) fn chi_square_above(chi_square: f64, degrees: usize) -> f64 {
    if degrees == 0 || chi_square <= 0.0 {
        return 1.0;
    }
    let half = chi_square / 2.0;
    let odd = degrees % 2 == 1;
    // Terms half^s e^-half / Gamma(s + 1), with s whole or half and below degrees / 2.
    let (first, mut ln_term) = if odd {
        (0.5, (2.0 * (half / PI).sqrt()).ln() - half)
    } else {
        (0.0, -half)
    };
    let terms = degrees / 2;
    let mut sum = if odd { erfc(half.sqrt()) } else { 0.0 };
    for k in 0..terms {
        sum += ln_term.exp();
        ln_term += (half / (first + k as f64 + 1.0)).ln();
    }
    sum.min(1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn close(ours: f64, theirs: f64, relative: f64) {
        assert!(
            (ours / theirs - 1.0).abs() < relative,
            "{ours:e}, not {theirs:e}"
        );
    }

    #[test]
    fn val_by_hand() {
        // Of 2 degrees the tail is e^(-x/2); of 4 it is (1 + x/2) e^(-x/2). No source needed.
        close(chi_square_above(3.0, 2), (-1.5_f64).exp(), 1e-15);
        close(chi_square_above(3.0, 4), 2.5 * (-1.5_f64).exp(), 1e-15);
        // Of 1 degree it is the two-sided tail of the normal deviate.
        close(chi_square_above(4.0, 1), 2.0 * normal_above(2.0), 1e-14);
        close(normal_above(ONE_SIDED), LEVEL, 1e-14);
        close(2.0 * normal_above(TWO_SIDED), LEVEL, 1e-14);
        assert_eq!(chi_square_above(0.0, 3), 1.0);
        assert_eq!(chi_square_above(7.0, 0), 1.0);
    }

    /// `tests/data/reconcile_numpy.json`: SciPy 1.17.1, `chi2.sf` and `norm.sf`.
    #[cfg(feature = "serde")]
    #[test]
    fn val_tails_against_scipy() {
        let data: serde_json::Value =
            serde_json::from_str(include_str!("../../../tests/data/reconcile_numpy.json")).unwrap();
        let rows =
            |key: &str| -> Vec<Vec<f64>> { serde_json::from_value(data[key].clone()).unwrap() };
        for row in rows("chi_square_above") {
            close(chi_square_above(row[0], row[1] as usize), row[2], 2e-12);
        }
        for row in rows("normal_above") {
            close(normal_above(row[0]), row[1], 2e-12);
        }
        assert!(rows("chi_square_above").len() > 70);
    }

    #[test]
    fn prop_far_tails_are_numbers_between_0_and_1() {
        for degrees in [1, 2, 3, 10, 499, 500] {
            let mut last = 1.0;
            for x in [1e-300, 1e-9, 0.5, 2.0, 50.0, 499.0, 1500.0, 1e5, 1e300] {
                let tail = chi_square_above(x, degrees);
                // Falling, but for rounding.
                assert!(
                    (0.0..=1.0).contains(&tail) && tail <= last + 1e-12,
                    "{x} {degrees} {tail}"
                );
                last = tail;
            }
        }
        assert_eq!(normal_above(f64::INFINITY), 0.0);
        assert_eq!(normal_above(f64::NEG_INFINITY), 1.0);
    }
}
