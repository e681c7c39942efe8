//! Mean over centre-line velocity of a round duct.

use super::{MeasuringError, instrument::even};
use crate::loss::{LossError, friction_factor};

/// The defect of the mean against the centre in friction velocities: (Vc - V) / v* = 4.07, Nikuradse's
/// pipes (H. Schlichting, *Boundary-Layer Theory*, ch. 20; from memory).
const DEFECT: f64 = 4.07;

/// Between laminar and turbulent flow: the limits of the friction factor.
const LAMINAR_TO: f64 = 2000.0;
const TURBULENT_FROM: f64 = 4000.0;
const LAMINAR: f64 = 0.5;

/// How well the ratio of developed pipe flow is known: the formulas differ by that much.
const DEVELOPED: f64 = 0.02;

/// How much more it may be off right behind a fitting, and over how many diameters that falls to a
/// third. Common practice, no source.
const AT_A_FITTING: f64 = 0.10;
const FADING_DIAMETERS: f64 = 10.0;

/// Mean over centre-line velocity.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct ProfileRatio {
    /// The ratio: 0.5 in laminar flow, 0.79 to 0.87 in the ducts of a shop.
    pub ratio: f64,
    /// Its standard uncertainty, a pure number like it.
    pub standard: f64,
}

/// Mean over centre-line velocity of a straight round duct, `straight` diameters behind the last
/// fitting.
///
/// - Turbulent, Re from 4000: 1 / (1 + 4.07 sqrt(f / 8)), f the [friction factor](friction_factor) of
///   Darcy. The defect of the mean, (Vc - V) / v* with v* = V sqrt(f / 8), is the same for every
///   roughness: 1.5 / kappa by the logarithmic law alone, 3.66 with kappa 0.41, which is the
///   1 / (1 + 1.3 sqrt f) of F. M. White, *Fluid Mechanics*, ch. 6; 4.07 by Nikuradse's readings, the
///   value taken; 4.28 by M. V. Zagarola and A. J. Smits, J. Fluid Mech. 373 (1998) 33. (The three
///   figures are from memory; that kappa is 0.40 +- 0.02 was read in S. C. C. Bailey and others,
///   J. Fluid Mech. 749 (2014) 79.) At f 0.018 they give 0.852, 0.838 and 0.831.
/// - Laminar, Re up to 2000: 0.5 (Hagen-Poiseuille). Between, a straight line over Re.
///
/// The 1/7-power law gives 0.817, and the OSHA Technical Manual (from memory) takes 0.9 for any duct.
/// The standard uncertainty is 2 % in developed flow, and 10 % more (added as squares) right behind a
/// fitting, where the profile may be flat or lean to one side, fading as exp(-`straight` / 10): 5.1 % at
/// 7.5 diameters, 2.4 % at 20. Judgement. Between laminar and turbulent the whole range from 0.5 is added
/// as limits.
///
/// ```
/// let at = airsplit::mean_over_centre(2.0e5, 0.0006, 7.5)?;
/// assert!((at.ratio - 0.833).abs() < 0.001 && (at.standard / at.ratio - 0.0513).abs() < 0.001);
/// # Ok::<(), airsplit::MeasuringError>(())
/// ```
///
/// # Errors
/// A Reynolds number (of the mean velocity) below 0 or above 1e9, a relative roughness outside 0 to
/// 0.05, a number of diameters below 0 or above 1e6.
pub fn mean_over_centre(
    reynolds: f64,
    relative_roughness: f64,
    straight: f64,
) -> Result<ProfileRatio, MeasuringError> {
    let re = LossError::within("Reynolds number", reynolds, "", 0.0, 1e9)?;
    let rel = LossError::within("relative roughness", relative_roughness, "", 0.0, 0.05)?;
    let what = "straight duct";
    let straight = LossError::within(what, straight, " diameters", 0.0, 1e6)?;
    let ratio = ratio(re, rel);
    let fitting = AT_A_FITTING * (-straight / FADING_DIAMETERS).exp();
    let transition = if is_transitional(re) {
        even((turbulent(TURBULENT_FROM, rel) - LAMINAR) / 2.0)
    } else {
        0.0
    };
    Ok(ProfileRatio {
        ratio,
        standard: (ratio * DEVELOPED.hypot(fitting)).hypot(transition),
    })
}

pub(super) fn is_transitional(re: f64) -> bool {
    LAMINAR_TO < re && re < TURBULENT_FROM
}

pub(super) fn ratio(re: f64, rel: f64) -> f64 {
    if re <= LAMINAR_TO {
        LAMINAR
    } else if is_transitional(re) {
        let part = (re - LAMINAR_TO) / (TURBULENT_FROM - LAMINAR_TO);
        LAMINAR + part * (turbulent(TURBULENT_FROM, rel) - LAMINAR)
    } else {
        turbulent(re, rel)
    }
}

fn turbulent(re: f64, rel: f64) -> f64 {
    1.0 / (1.0 + DEFECT * (friction_factor(re, rel).f / 8.0).sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn val_between_the_published_forms() {
        // 1 / (1 + 1.3 sqrt f): F. M. White, Fluid Mechanics, ch. 6; 4.28: Zagarola and Smits 1998.
        // Both from memory.
        for re in [2e4, 1e5, 3e5] {
            let f = friction_factor(re, 0.0).f;
            let white = 1.0 / (1.0 + 1.3 * f.sqrt());
            let zagarola = 1.0 / (1.0 + 4.28 * (f / 8.0).sqrt());
            let at = mean_over_centre(re, 0.0, 100.0).unwrap();
            assert!(zagarola < at.ratio && at.ratio < white, "{re}");
            assert!(white - at.ratio < at.standard, "{re}");
        }
    }

    #[test]
    fn val_the_power_laws_lie_within_the_doubt() {
        // Mean over centre of the 1/n-power law 2 n^2 / ((n + 1)(2 n + 1)): .791 (n = 6), .817 (7),
        // .853 (9); n = 6 near Re 4e3, 7 near 1.1e5 in smooth pipe: R. B. Bird and others, Transport
        // Phenomena, problem on tube flow, as reproduced elsewhere.
        let at = mean_over_centre(1.1e5, 0.0, 100.0).unwrap();
        assert!((at.ratio - 0.817).abs() < 2.0 * at.standard);
        let at = mean_over_centre(4e3, 0.0, 100.0).unwrap();
        assert!((at.ratio - 0.791).abs() < 2.0 * at.standard);
        // OSHA Technical Manual, from memory: 0.9, for ducts as they are.
        let at = mean_over_centre(1e5, 0.0, 5.0).unwrap();
        assert!((at.ratio - 0.9).abs() < 2.0 * at.standard);
        // Hagen-Poiseuille.
        assert_eq!(mean_over_centre(1500.0, 0.0, 100.0).unwrap().ratio, 0.5);
    }

    #[test]
    fn val_the_defect_of_the_logarithmic_law() {
        // u = Vc + (v* / kappa) ln(y / R), integrated over the pipe: the defect is 1.5 / kappa.
        let steps = 200_000;
        let of_ring = |i: usize| {
            let r = (i as f64 + 0.5) / steps as f64;
            -2.0 * r * (1.0 - r).ln() / steps as f64
        };
        let defect: f64 = (0..steps).map(of_ring).sum();
        assert!((defect - 1.5).abs() < 1e-4);
        // Taken: that, and what the wake adds.
        assert!(DEFECT > defect / 0.41 && DEFECT < 1.2 * defect / 0.41);
    }

    #[test]
    fn prop_the_doubt_falls_with_straight_duct() {
        let doubt = |straight| mean_over_centre(1e5, 0.0, straight).unwrap().standard;
        assert!(doubt(0.0) > doubt(7.5) && doubt(7.5) > doubt(30.0));
    }

    proptest! {
        #[test]
        fn prop_any_input_is_answered(
            re in prop_oneof![any::<f64>(), 0.0..1e5_f64], rel in any::<f64>(), straight in any::<f64>(),
        ) {
            for rel in [rel, 0.05, 0.0] {
                for straight in [straight, 0.0] {
                    if let Ok(at) = mean_over_centre(re, rel, straight) {
                        prop_assert!((0.5..1.0).contains(&at.ratio));
                        prop_assert!(at.standard > 0.0 && at.standard < 0.2);
                    }
                }
            }
        }
    }
}
