//! The smooth round bend as a function of friction: shared by hoses and smooth elbows.

use super::Heads;

/// Loss of a smooth round bend on its own velocity pressure, the friction of its arc included:
/// K = f a r/D + (0.10 + 2.4 f) s + 6.6 f (sqrt(s) + s) / (r/D)^(4 a / pi), s = sin(a/2).
///
/// Source: D. C. Rennels and H. M. Hudson, *Pipe Flow: A Practical and Comprehensive Guide*, 2012,
/// chapter on bends; the formula was seen again in the source of fluids 1.3.1. Made for pipe with
/// r/D of 1 and more; takes any positive ratio and any angle of 0 to pi.
pub(crate) fn smooth_bend(r_over_d: f64, angle_rad: f64) -> Heads {
    use std::f64::consts::PI;
    let s = (angle_rad / 2.0).sin();
    Heads {
        fixed: 0.10 * s,
        friction: angle_rad * r_over_d
            + 2.4 * s
            + 6.6 * (s.sqrt() + s) / r_over_d.powf(4.0 * angle_rad / PI),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::FRAC_PI_2;

    #[test]
    fn val_right_angles_agree_with_a_general_library() {
        // fluids 1.3.1, bend_rounded, method Rennels, 90 deg, Darcy friction factor 0.02.
        for (r_over_d, k) in [
            (1.0, 0.340_404_152_081_621_56),
            (1.5, 0.242_591_880_943_951_34),
            (2.0, 0.218_567_762_169_933_54),
            (2.5, 0.215_885_447_464_172_2),
        ] {
            assert!((smooth_bend(r_over_d, FRAC_PI_2).at(0.02) / k - 1.0).abs() < 1e-13);
        }
    }

    #[test]
    fn prop_no_bend_no_loss() {
        assert_eq!(smooth_bend(1.5, 0.0).at(0.02), 0.0);
    }
}
