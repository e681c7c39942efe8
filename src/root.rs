//! One root inside a bracket: the only door to the `roots` crate.

use roots::{Convergency, find_root_brent};

/// Steps after which the search gives up. Brent's rule needs 8 to 20 on the curves of this crate
/// and about 110 when it can do no better than halve [0, 1] down to 1e-32.
const MAX_STEPS: usize = 500;

/// Why a bracket gave no root.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub(crate) enum RootError {
    /// The two ends do not lie on two sides of zero.
    #[error("no change of sign: f({lo}) = {f_lo} and f({hi}) = {f_hi}")]
    NoBracket {
        lo: f64,
        f_lo: f64,
        hi: f64,
        f_hi: f64,
    },
    /// The function is not a number somewhere in the bracket.
    #[error("f({x}) = {f}, not a finite number")]
    NotFinite { x: f64, f: f64 },
    /// The search ran out of steps.
    #[error("still between {lo} and {hi} after {MAX_STEPS} steps")]
    NotConverged { lo: f64, hi: f64 },
}

/// When Brent's search may stop: the stock rule of `roots` has one tolerance for x and f alike,
/// which means nothing when x is a flow and f a pressure.
struct Stop {
    x_tol: f64,
}

impl Convergency<f64> for Stop {
    fn is_root_found(&mut self, f: f64) -> bool {
        f == 0.0
    }

    fn is_converged(&mut self, x1: f64, x2: f64) -> bool {
        let rounding = 2.0 * f64::EPSILON * x1.abs().max(x2.abs());
        (x1 - x2).abs() <= self.x_tol.max(rounding)
    }

    fn is_iteration_limit_reached(&mut self, steps: usize) -> bool {
        steps >= MAX_STEPS
    }
}

/// The root of a continuous `f` between `lo` and `hi`, at whose values `f` has two signs (or is
/// zero): the end of the last bracket with the smaller |f|, the bracket being no wider than
/// `x_tol` or two units in the last place, whichever is more.
///
/// A small |f| never stops the search, so a flat function is followed to the width asked for.
///
/// # Errors
/// When the signs are alike, or `f` is not finite at a point that was tried.
pub(crate) fn bracketed_root(
    mut f: impl FnMut(f64) -> f64,
    lo: f64,
    hi: f64,
    x_tol: f64,
) -> Result<f64, RootError> {
    let (f_lo, f_hi) = (f(lo), f(hi));
    for (x, f) in [(lo, f_lo), (hi, f_hi)] {
        if !x.is_finite() || !f.is_finite() {
            return Err(RootError::NotFinite { x, f });
        }
        if f == 0.0 {
            return Ok(x);
        }
    }
    if (f_lo < 0.0) == (f_hi < 0.0) {
        return Err(RootError::NoBracket { lo, f_lo, hi, f_hi });
    }

    // Brent multiplies function values: scaled and kept off zero, no product under- or overflows.
    let scale = f_lo.abs().max(f_hi.abs());
    let scaled = |f: f64| (f / scale).abs().clamp(1e-100, 1e100).copysign(f);
    // `roots` asks again for the ends that it knows and, when stopped by width, answers with the
    // end before last; so the bracket is kept here, and answers for both.
    let (mut below, mut above) = if f_lo < 0.0 {
        ((lo, f_lo), (hi, f_hi))
    } else {
        ((hi, f_hi), (lo, f_lo))
    };
    let mut stopped = None;
    let outcome = find_root_brent(
        lo,
        hi,
        |x| {
            if stopped.is_some() {
                return 0.0;
            }
            for (end, f) in [below, above] {
                if x == end {
                    return scaled(f);
                }
            }
            let value = f(x);
            if value == 0.0 {
                stopped = Some(Ok(x));
                0.0
            } else if !value.is_finite() {
                stopped = Some(Err(RootError::NotFinite { x, f: value }));
                0.0
            } else {
                *(if value < 0.0 { &mut below } else { &mut above }) = (x, value);
                scaled(value)
            }
        },
        &mut Stop { x_tol },
    );
    match (stopped, outcome) {
        (Some(result), _) => result,
        (None, Ok(_)) if below.1.abs() < above.1.abs() => Ok(below.0),
        (None, Ok(_)) => Ok(above.0),
        (None, Err(_)) => Err(RootError::NotConverged {
            lo: below.0.min(above.0),
            hi: below.0.max(above.0),
        }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn val_roots_with_a_closed_form() {
        // cos x = x: the fixed point of the cosine, 0.739085133215160641655..., from memory.
        let fixed = bracketed_root(|x| x.cos() - x, 0.0, 1.0, 0.0).unwrap();
        assert!((fixed - 0.739_085_133_215_160_6).abs() < 3e-16);
        let root2 = bracketed_root(|x| x * x - 2.0, 2.0, 0.0, 0.0).unwrap();
        assert!((root2 - std::f64::consts::SQRT_2).abs() < 5e-16);
    }

    #[test]
    fn val_unlike_scales_of_x_and_f_do_not_stop_the_search() {
        // A small root of a steep function, and a root on a function flat to the ninth order:
        // one tolerance for both x and f would stop at once.
        let steep = bracketed_root(|q| 1e6 * (q - 1e-3), 0.0, 1.0, 0.0).unwrap();
        assert!((steep - 1e-3).abs() < 1e-18);
        let flat = bracketed_root(|q| (q - 1.0).powi(9), 0.0, 3.0, 1e-12).unwrap();
        assert!((flat - 1.0).abs() < 1e-12);
        let tiny = bracketed_root(|q| 1e-200 * (q - 0.7), 0.0, 1.0, 0.0).unwrap();
        assert!((tiny - 0.7).abs() < 1e-15);
    }

    #[test]
    fn prop_no_answer_without_a_bracket_or_on_a_nan() {
        assert_eq!(
            bracketed_root(|x| x + 1.0, 0.0, 1.0, 0.0),
            Err(RootError::NoBracket {
                lo: 0.0,
                f_lo: 1.0,
                hi: 1.0,
                f_hi: 2.0
            })
        );
        let hole = |x: f64| {
            if x == 0.0 || x == 1.0 {
                x - 0.5
            } else {
                f64::NAN
            }
        };
        assert!(matches!(
            bracketed_root(hole, 0.0, 1.0, 0.0),
            Err(RootError::NotFinite { .. })
        ));
        assert!(bracketed_root(|x| x, f64::NAN, 1.0, 0.0).is_err());
        assert!(bracketed_root(|x| x, f64::NEG_INFINITY, 1.0, 0.0).is_err());
    }

    #[test]
    fn regress_effort_on_a_fan_and_system_pair() {
        let mut calls = 0;
        let crossing = |q: f64| {
            calls += 1;
            2480.0 * (1.0 - (q / 0.5).powi(2)) - 9000.0 * q.powf(1.9)
        };
        bracketed_root(crossing, 0.0, 0.5, 0.0).unwrap();
        assert_eq!(calls, 9);
    }

    proptest! {
        #[test]
        fn prop_a_planted_root_is_found(root in -1.0..1.0f64, power in 0u32..5, exponent in -80..80i32) {
            let f = |x: f64| (x - root).powi(2 * power.cast_signed() + 1) * 10f64.powi(exponent);
            let found = bracketed_root(f, -1.5, 2.0, 1e-14).unwrap();
            prop_assert!((found - root).abs() <= 1e-14, "{found} for {root}");
        }
    }
}
