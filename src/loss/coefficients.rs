//! The five numbers into which every through-flow law folds.

use super::friction_factor;
use crate::{air::AirProperties, bore::Bore};
use std::f64::consts::PI;

/// dp(q) = (k2 + kf f(Re, eps/D)) q|q| + k1 q, with Re = `re_per_q` q.
///
/// Losses in series with the same friction factor simply add, and so do their derivatives by any
/// parameter: the unit of cost in the solver is the run with one friction factor, not the part.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(crate) struct Coefficients {
    /// Quadratic share \[Pa s2/m6\].
    pub(crate) k2: f64,
    /// What multiplies the Darcy friction factor \[Pa s2/m6\].
    pub(crate) kf: f64,
    /// Linear share: cloth in laminar flow \[Pa s/m3\].
    pub(crate) k1: f64,
    /// Reynolds number per unit of flow \[s/m3\].
    pub(crate) re_per_q: f64,
    /// Roughness over diameter \[-\].
    pub(crate) rel_rough: f64,
}

impl Coefficients {
    /// The quadratic share that friction has at flow `q >= 0`, with the exact friction factor
    /// \[Pa s2/m6\].
    pub(crate) fn friction(&self, q: f64) -> f64 {
        match self.re_per_q * q {
            re if self.kf != 0.0 && re > 0.0 => self.kf * friction_factor(re, self.rel_rough).f,
            _ => 0.0,
        }
    }

    /// Slope of the pressure that friction takes at flow `q >= 0`, away from rest \[Pa s/m3\].
    pub(crate) fn friction_slope(&self, q: f64) -> f64 {
        match self.re_per_q * q {
            re if self.kf != 0.0 && re > 0.0 => {
                let factor = friction_factor(re, self.rel_rough);
                self.kf * factor.f * (2.0 + factor.log_slope) * q
            }
            _ => 0.0,
        }
    }

    /// Loss of total pressure at flow `q >= 0` \[Pa\].
    pub(crate) fn loss(&self, q: f64) -> f64 {
        ((self.k2 + self.friction(q)) * q + self.k1) * q
    }

    /// The law that loses `factor` times as much.
    pub(crate) fn times(self, factor: f64) -> Self {
        Self {
            k2: factor * self.k2,
            kf: factor * self.kf,
            k1: factor * self.k1,
            ..self
        }
    }
}

/// Velocity pressure per squared flow in a duct of area `area_m2`: rho / (2 A^2) \[Pa s2/m6\].
pub(crate) fn head_per_q2(density_kg_m3: f64, area_m2: f64) -> f64 {
    density_kg_m3 / (2.0 * area_m2 * area_m2)
}

/// Reynolds number per unit of flow in a bore: rho D_h / (mu A); 4 rho / (pi D mu) when round.
pub(crate) fn re_per_q(air: &AirProperties, bore: Bore) -> f64 {
    let rho_over_mu = air.density.as_kg_m3() / air.viscosity.as_pa_s();
    match bore {
        Bore::Round(d) => 4.0 * rho_over_mu / (PI * d.as_m()),
        other => rho_over_mu * other.hydraulic_diameter().as_m() / other.area().as_m2(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn at_rest_and_without_a_wall_nothing_rubs() {
        let rubs = Coefficients {
            k2: 10.0,
            kf: 1e3,
            k1: 5.0,
            re_per_q: 5e5,
            rel_rough: 1e-3,
        };
        assert_eq!((rubs.friction(0.0), rubs.friction_slope(0.0)), (0.0, 0.0));
        let bare = Coefficients {
            k2: 10.0,
            k1: 5.0,
            ..Coefficients::default()
        };
        assert_eq!((bare.friction(0.2), bare.friction_slope(0.2)), (0.0, 0.0));
        assert_eq!(bare.loss(0.2), (10.0 * 0.2 + 5.0) * 0.2);
    }
}
