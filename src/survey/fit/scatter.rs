//! How far readings may scatter by chance.

/// Chance that any of the readings is named an outlier though all are right.
const FALSE_ALARM: f64 = 0.01;

/// The residual, in standard uncertainties, beyond which one of `readings` is taken as wrong.
///
/// The normal quantile at 1 - 0.01 / (2 n): Bonferroni's bound on the chance that the largest of n
/// residuals is beyond it though no reading is wrong, as used for outliers by R. D. Cook, S. Weisberg,
/// *Residuals and Influence in Regression*, 1982 (cited so in the manual of the R package car,
/// function `outlierTest`). 3.2 for 7 readings, 3.5 for 21.
pub(super) fn critical(readings: usize) -> f64 {
    normal_quantile_above(0.5 * FALSE_ALARM / readings.max(1) as f64)
}

/// The standard normal number that is exceeded with probability p, 0 < p <= 0.5, to 4.5e-4.
///
/// M. Abramowitz, I. A. Stegun, *Handbook of Mathematical Functions*, 1964, 26.2.23 (from memory;
/// checked below).
fn normal_quantile_above(p: f64) -> f64 {
    let t = (-2.0 * p.ln()).sqrt();
    let above = 2.515_517 + t * (0.802_853 + t * 0.010_328);
    t - above / (1.0 + t * (1.432_788 + t * (0.189_269 + t * 0.001_308)))
}

/// Lower and upper end of the band that holds 95 % of chi-square over its degrees of freedom.
///
/// E. B. Wilson, M. M. Hilferty, *The distribution of chi-square*, PNAS 17, 1931 (from memory): its
/// cube root is about normal. From two degrees of freedom on the upper end is right to 1 %, the lower
/// to 0.02.
pub(super) fn band_of_reduced(degrees: f64) -> (f64, f64) {
    let variance = 2.0 / (9.0 * degrees);
    let at = |z: f64| (1.0 - variance + z * variance.sqrt()).max(0.0).powi(3);
    let half = crate::solve::HALF_BAND;
    (at(-half), at(half))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn val_critical_residuals_are_normal_quantiles() {
        // scipy.stats.norm.isf(0.005 / n), SciPy 1.17.1.
        for (n, expected) in [
            (1, 2.575829),
            (2, 2.807034),
            (7, 3.188815),
            (10, 3.290527),
            (21, 3.493804),
            (100, 3.890592),
        ] {
            assert!((critical(n) - expected).abs() < 4.5e-4, "{n}");
        }
    }

    #[test]
    fn val_bands_of_reduced_chi_square() {
        // scipy.stats.chi2.ppf((0.025, 0.975), nu) / nu, SciPy 1.17.1.
        for (degrees, low, high) in [
            (2.0, 0.02532, 3.68888),
            (3.5, 0.09682, 2.93203),
            (6.0, 0.20622, 2.40823),
            (10.0, 0.32470, 2.04832),
            (20.0, 0.47954, 1.70848),
            (50.0, 0.64715, 1.42840),
        ] {
            let band = band_of_reduced(degrees);
            assert!((band.0 - low).abs() < 0.02, "{degrees}: {band:?}");
            assert!((band.1 / high - 1.0).abs() < 0.01, "{degrees}: {band:?}");
        }
    }
}
