//! Which pressure a fan curve tells, and the way from one to another.

use super::{FanCurve, FanError};
use crate::{
    bore::Bore,
    quantity::{Density, Pressure, VolumeFlow},
};
use std::fmt;

/// Which pressure a fan curve tells.
///
/// With TP the total pressure (room air at rest: 0) and pv = rho/2 (Q/A)^2 the velocity pressure
/// in an opening of area A:
///
/// | basis | pressure |
/// |---|---|
/// | total | TP at the outlet - TP at the inlet |
/// | static | fan total - pv at the outlet = SP at the outlet - TP at the inlet |
/// | test pipe | suction s at a wall tap of a pipe at the inlet, outlet free: fan static = s - pv in the pipe |
///
/// Fan static pressure is not the difference of the two static pressures. Sources: 2021 ASHRAE
/// Handbook - Fundamentals (SI), ch. 21, eq. 17 and its text; the equation sheet of the American
/// Board of Industrial Hygiene (`FSP = SPout - SPin - VPin`); both read. The test pipe is the
/// second with `SPout` = 0 and `SPin` = -s.
///
/// As text: `"total"`, `"static"`, `{ test_pipe = { bore = { round = "6 in" } } }`.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "snake_case", deny_unknown_fields)
)]
#[non_exhaustive]
pub enum Basis {
    /// Fan total pressure.
    Total,
    /// Fan static pressure.
    Static,
    /// Static suction read at a wall tap of a test pipe at the fan's inlet, the outlet being free.
    TestPipe {
        /// Inner size of the test pipe at the tap.
        bore: Bore,
    },
}

/// As a phrase: `fan total pressure`.
impl fmt::Display for Basis {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Total => f.pad("fan total pressure"),
            Self::Static => f.pad("fan static pressure"),
            Self::TestPipe { bore } => f.pad(&format!("suction in a test pipe of {bore}")),
        }
    }
}

/// What was fitted to the collector when its fan curve was measured.
///
/// What was fitted then has its loss in the curve already; charging it again is the commonest
/// error of all. There is no default: a curve that does not say so is not understood.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
pub struct Fitted {
    /// The separator (cyclone, drop box) stood in the air stream.
    pub separator: bool,
    /// The filter was in place.
    pub filter: bool,
    /// The silencer was in place.
    pub silencer: bool,
}

impl Fitted {
    /// The bare fan.
    pub const NOTHING: Self = Self {
        separator: false,
        filter: false,
        silencer: false,
    };

    /// The whole collector as it is sold.
    pub const ALL: Self = Self {
        separator: true,
        filter: true,
        silencer: true,
    };
}

impl FanCurve {
    /// The curve's pressure at `flow`, told on another basis, at the curve's own air density.
    ///
    /// Beyond the published points it continues as [`FanCurve::pressure`] does. The velocity
    /// pressure counts alike for both directions of flow.
    ///
    /// ```
    /// use airsplit::{Basis, Bore, Density, FanCurve, Fitted, Length, Pressure, VolumeFlow};
    /// # fn main() -> Result<(), airsplit::FanError> {
    /// let points = [(0.0, 9.0), (400.0, 8.0), (800.0, 4.0)]
    ///     .map(|(cfm, in_wg)| (VolumeFlow::from_cfm(cfm), Pressure::from_in_wg(in_wg)));
    /// let density = Density::from_kg_m3(1.2);
    /// let fan = FanCurve::new(points, Basis::Static, Fitted::NOTHING, density)?
    ///     .with_outlet(Bore::Round(Length::from_in(6.0)))?;
    /// let total = fan.pressure_on(Basis::Total, VolumeFlow::from_cfm(800.0))?;
    /// // 800 cfm in 6 in: 20.7 m/s, 257 Pa
    /// assert!((total.as_in_wg() - 5.03).abs() < 0.005);
    /// # Ok(())
    /// # }
    /// ```
    ///
    /// # Errors
    /// [`FanError::NoOutlet`] when one basis is total, the other is not, and the curve does not
    /// know its outlet ([`FanCurve::with_outlet`]); [`FanError::Bore`] for a test pipe of no size.
    pub fn pressure_on(&self, basis: Basis, flow: VolumeFlow) -> Result<Pressure, FanError> {
        let k = self.heads_over(basis)?;
        let q_m3s = flow.as_m3_s();
        let own_pa = self.curve().at(q_m3s).value;
        Ok(Pressure::from_pa(own_pa + k * q_m3s * q_m3s))
    }

    /// The k \[Pa s2/m6\] in p on `basis` = p on the curve's own basis + k Q^2, at the curve's density.
    pub(crate) fn heads_over(&self, basis: Basis) -> Result<f64, FanError> {
        if let Basis::TestPipe { bore } = basis {
            checked("test pipe", bore)?;
        }
        if basis == self.basis() {
            return Ok(0.0);
        }
        let over_static = |told: Basis| match told {
            Basis::Static => Ok(0.0),
            Basis::TestPipe { bore } => Ok(heads(self.density(), bore)),
            Basis::Total => match self.outlet() {
                Some(outlet) => Ok(heads(self.density(), outlet)),
                None => Err(FanError::NoOutlet {
                    from: self.basis(),
                    to: basis,
                }),
            },
        };
        Ok(over_static(basis)? - over_static(self.basis())?)
    }
}

/// Velocity pressure over Q^2: rho / (2 A^2) \[Pa s2/m6\].
fn heads(density: Density, bore: Bore) -> f64 {
    let area_m2 = bore.area().as_m2();
    0.5 * density.as_kg_m3() / (area_m2 * area_m2)
}

/// Refuses a size in which there is no velocity.
pub(super) fn checked(what: &'static str, bore: Bore) -> Result<Bore, FanError> {
    // Two negative sides have an area as well; one makes it negative, and nothing none at all.
    let (Bore::Round(side) | Bore::Rectangular { width: side, .. }) = bore;
    let per_area = bore.area().as_m2().recip();
    if side.as_m().is_sign_positive() && per_area > 0.0 && (per_area * per_area).is_finite() {
        Ok(bore)
    } else {
        Err(FanError::Bore { what, bore })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::Length;
    use proptest::prelude::*;

    fn flat(pressure: Pressure, basis: Basis, density: f64) -> FanCurve {
        let points = [0.5, 1.44, 2.0].map(|q| (VolumeFlow::from_m3_s(q), pressure));
        let density = Density::from_kg_m3(density);
        FanCurve::new(points, basis, Fitted::NOTHING, density).unwrap()
    }

    #[test]
    fn val_total_and_static_of_a_published_fan() {
        // 2021 ASHRAE Handbook - Fundamentals (SI), ch. 21, Example 9: 1440 L/s, fan total
        // 1992 Pa, outlet 260 x 310 mm, 192 Pa of velocity pressure there, fan static 1800 Pa;
        // air 1.204 kg/m3. Read. Printed to 1 Pa.
        let outlet = Bore::Rectangular {
            width: Length::from_mm(260.0),
            height: Length::from_mm(310.0),
        };
        let flow = VolumeFlow::from_m3_s(1.44);
        let total = flat(Pressure::from_pa(1992.0), Basis::Total, 1.204);
        let total = total.with_outlet(outlet).unwrap();
        let told = total.pressure_on(Basis::Static, flow).unwrap();
        assert!((told.as_pa() - 1800.0).abs() < 1.0, "{}", told.as_pa());
        let fan = flat(Pressure::from_pa(1800.0), Basis::Static, 1.204);
        let told = fan
            .with_outlet(outlet)
            .unwrap()
            .pressure_on(Basis::Total, flow);
        assert!((told.unwrap().as_pa() - 1992.0).abs() < 1.0);
    }

    #[test]
    fn val_a_test_pipe_reads_its_own_velocity_pressure_on_top() {
        // Industrial-hygiene question bank on the equation sheet of the American Board of
        // Industrial Hygiene, read: FSP = SPout - SPin - VPin; air at 4005 fpm has 1 in wg.
        // Standard air 0.075 lb/ft3 = 1.2014 kg/m3; 4005 fpm = 20.345 m/s. Their inch of water
        // (62.3 lb/ft3) is 0.21 % lighter than the conventional one: hence 0.0025 in wg.
        let bore = Bore::Round(Length::from_in(6.0));
        let flow = VolumeFlow::from_m3_s(4005.0 * 0.00508 * bore.area().as_m2());
        let read = flat(Pressure::from_in_wg(6.0), Basis::TestPipe { bore }, 1.2014);
        let told = read.pressure_on(Basis::Static, flow).unwrap();
        assert!(
            (told.as_in_wg() - 5.0).abs() < 2.5e-3,
            "{}",
            told.as_in_wg()
        );
    }

    #[test]
    fn prop_the_outlet_is_asked_only_when_it_matters() {
        let flow = VolumeFlow::from_m3_s(1.0);
        let pipe = Basis::TestPipe {
            bore: Bore::Round(Length::from_mm(200.0)),
        };
        for basis in [Basis::Static, pipe] {
            let fan = flat(Pressure::from_pa(900.0), basis, 1.2);
            assert!(fan.pressure_on(Basis::Static, flow).is_ok());
            assert!(fan.pressure_on(pipe, flow).is_ok());
            let refused = FanError::NoOutlet {
                from: basis,
                to: Basis::Total,
            };
            assert_eq!(fan.pressure_on(Basis::Total, flow), Err(refused));
        }
        let total = flat(Pressure::from_pa(900.0), Basis::Total, 1.2);
        assert_eq!(
            total.pressure_on(Basis::Total, flow),
            Ok(Pressure::from_pa(900.0))
        );
        assert_eq!(
            total
                .pressure_on(Basis::Static, flow)
                .unwrap_err()
                .to_string(),
            "fan total pressure cannot be told as fan static pressure: the two differ by the \
             velocity pressure at the fan's outlet; give the outlet's size"
        );
    }

    #[test]
    fn prop_sizes_that_hold_no_air_are_refused() {
        let fan = flat(Pressure::from_pa(900.0), Basis::Static, 1.2);
        for metres in [0.0, -0.2, 1e-100, 1e300, f64::INFINITY, f64::NAN] {
            let bore = Bore::Round(Length::from_m(metres));
            let refused = fan.clone().with_outlet(bore);
            assert!(matches!(refused, Err(FanError::Bore { what, .. }) if what == "fan outlet"));
            let basis = Basis::TestPipe { bore };
            let refused = fan.pressure_on(basis, VolumeFlow::from_m3_s(1.0));
            assert!(matches!(refused, Err(FanError::Bore { what, .. }) if what == "test pipe"));
        }
        let inside_out = Bore::Rectangular {
            width: Length::from_m(-0.2),
            height: Length::from_m(-0.2),
        };
        assert!(fan.with_outlet(inside_out).is_err());
    }

    proptest! {
        #[test]
        fn prop_there_and_back_on_every_pair_of_bases(
            p_pa in 10.0..5000.0f64, flow in 0.0..3.0f64, rho in 0.8..1.3f64,
            outlet in 0.1..0.5f64, pipe in 0.1..0.5f64,
        ) {
            let round = |m| Bore::Round(Length::from_m(m));
            let bases = [Basis::Total, Basis::Static, Basis::TestPipe { bore: round(pipe) }];
            let flow = VolumeFlow::from_m3_s(flow);
            for from in bases {
                let there = flat(Pressure::from_pa(p_pa), from, rho).with_outlet(round(outlet)).unwrap();
                for to in bases {
                    let told = there.pressure_on(to, flow).unwrap();
                    // a level curve on the other basis, through that very pressure
                    let Ok(back) = FanCurve::new(
                        [0.0, 1.0, 4.0].map(|q| (VolumeFlow::from_m3_s(q), told)),
                        to, Fitted::NOTHING, Density::from_kg_m3(rho),
                    ) else { prop_assert!(told.as_pa() <= 0.0); continue };
                    let back = back.with_outlet(round(outlet)).unwrap().pressure_on(from, flow).unwrap();
                    let size = p_pa + (told.as_pa() - p_pa).abs();
                    prop_assert!((back.as_pa() - p_pa).abs() <= 1e-15 * size * 4.0);
                }
            }
        }
    }
}
