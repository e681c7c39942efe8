//! From a velocity pressure to a velocity.

use super::{
    Instrument, LeastShown, MeasuredVelocity, MeasuringCause, MeasuringError, Probe,
    probe::Shown,
    station::{DensityAt, density_within},
};
use crate::{
    loss::LossError,
    quantity::{Density, Pressure, Velocity},
};

/// The coefficient of a pitot tube: what multiplies the velocity that an ideal tube would tell.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
pub struct PitotTube {
    /// The coefficient, 0.5 to 1.2.
    pub coefficient: f64,
    /// Its standard uncertainty, as a share of it: 0 to 0.5. Usually 0.01, the bias of 2021 ASHRAE Handbook -
    /// Fundamentals, ch. 38, example 1.
    #[cfg_attr(feature = "serde", serde(default = "tube_share"))]
    pub share: f64,
}

const fn tube_share() -> f64 {
    0.01
}

impl PitotTube {
    /// A pitot-static tube with a round or rounded nose: 1, known to 1 %. (EPA Method 2 takes 0.99,
    /// from memory.)
    pub const STANDARD: Self = Self {
        coefficient: 1.0,
        share: tube_share(),
    };
    /// A type S tube, two tubes back to back, of the shape of EPA Method 2 (40 CFR 60, appendix A-1):
    /// 0.84; that it is known to 2 % is common practice, no source.
    pub const TYPE_S: Self = Self {
        coefficient: 0.84,
        share: 0.02,
    };

    pub(super) fn checked(self) -> Result<Self, LossError> {
        let what = "coefficient of the pitot tube";
        LossError::within(what, self.coefficient, "", 0.5, 1.2)?;
        let what = "standard uncertainty of the pitot tube, as a share";
        LossError::within(what, self.share, "", 0.0, 0.5)?;
        Ok(self)
    }
}

/// [`STANDARD`](PitotTube::STANDARD).
impl Default for PitotTube {
    fn default() -> Self {
        Self::STANDARD
    }
}

/// The velocity of air at this velocity pressure: V = sqrt(2 pv / rho), up to 10 kPa.
///
/// Bernoulli's equation for air that does not give way: about 1 % high at Mach 0.3, 100 m/s. In standard
/// air 1 in wg is 4009 fpm; the 4005 of the trade is for inches of water at 68 F.
///
/// ```
/// use airsplit::{Density, Pressure, velocity_of_pressure};
/// let v = velocity_of_pressure(Pressure::from_pa(100.0), Density::from_kg_m3(1.2))?;
/// assert!((v.as_m_s() - 12.91).abs() < 0.01);
/// # Ok::<(), airsplit::MeasuringError>(())
/// ```
///
/// # Errors
/// A pressure below 0 or above 10 kPa, a density outside 0.01 to 100 kg/m3.
pub fn velocity_of_pressure(
    velocity_pressure: Pressure,
    density: Density,
) -> Result<Velocity, MeasuringError> {
    let what = "velocity pressure";
    let pa = LossError::within(what, velocity_pressure.as_pa(), " Pa", 0.0, MOST_PA)?;
    Ok(Velocity::from_m_s(ideal(pa, density_within(density)?)))
}

/// Most velocity pressure \[Pa\] either way: that of 129 m/s in standard air.
pub(super) const MOST_PA: f64 = 1e4;

/// V = sqrt(2 p / rho), with the sign of p.
pub(super) fn ideal(pa: f64, density_kg_m3: f64) -> f64 {
    (2.0 * pa.abs() / density_kg_m3).sqrt() * if pa < 0.0 { -1.0 } else { 1.0 }
}

/// One velocity pressure, and what it says of the velocity at that spot.
///
/// V = C sqrt(2 pv / rho), with relative doubts u(C)/C, u(pv) / (2 pv) and u(rho) / (2 rho): JCGM
/// 100:2008, 5.1.2, and 2021 ASHRAE Handbook - Fundamentals, ch. 38, example 1.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
#[non_exhaustive]
pub struct PitotReading {
    /// What the manometer shows, 0 to 10 kPa.
    pub velocity_pressure: Pressure,
    /// The instrument.
    #[cfg_attr(feature = "serde", serde(default))]
    pub instrument: Instrument,
    /// The tube.
    #[cfg_attr(feature = "serde", serde(default))]
    pub tube: PitotTube,
}

impl PitotReading {
    /// With a pitot-static tube on an ordinary manometer.
    #[must_use]
    pub fn new(velocity_pressure: Pressure) -> Self {
        Self {
            velocity_pressure,
            instrument: Instrument::Pitot,
            tube: PitotTube::STANDARD,
        }
    }

    /// By this instrument.
    #[must_use]
    pub fn with_instrument(mut self, instrument: Instrument) -> Self {
        self.instrument = instrument;
        self
    }

    /// By this tube.
    #[must_use]
    pub fn with_tube(mut self, tube: PitotTube) -> Self {
        self.tube = tube;
        self
    }

    /// The velocity there, in air of a density that is known to that share of it (0 to 0.5).
    ///
    /// # Errors
    /// [`MeasuringError`]: a value outside its range, or an instrument that shows no pressure.
    pub fn velocity(
        &self,
        density: Density,
        density_share: f64,
    ) -> Result<MeasuredVelocity, MeasuringError> {
        let air = DensityAt::new(density, density_share)?;
        let what = "velocity pressure";
        let pa = LossError::within(what, self.velocity_pressure.as_pa(), " Pa", 0.0, MOST_PA)?;
        let probe = Probe {
            instrument: self.instrument,
            tube: self.tube,
            ..Probe::default()
        };
        let shown = Shown::pressures(&probe, &[pa], air.kg_m3)?;
        let v = shown.mean();
        let doubts = shown.doubts().and(
            MeasuringCause::Density,
            shown.density_exponent * air.share * v,
        );
        Ok(doubts.of_velocity(v, shown.notes()))
    }
}

/// What a manometer may be off by near zero makes of a velocity: sqrt(V^2 + 2 u / rho) - V, which
/// nears u / (rho V) for fast air and stays finite for still air.
pub(super) fn least_velocity(least: LeastShown, v: f64, coefficient: f64, density: f64) -> f64 {
    match least {
        LeastShown::Velocity(least) => least.as_m_s(),
        LeastShown::Pressure(least) => {
            let floor = coefficient * ideal(least.as_pa(), density);
            floor * floor / (v.hypot(floor) + v.abs()).max(f64::MIN_POSITIVE)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn prop_near_zero_a_manometer_is_off_by_its_floor() {
        let least = LeastShown::Pressure(Pressure::from_pa(1.0));
        let off = |v| least_velocity(least, v, 1.0, 1.2);
        assert!((off(0.0) - (2.0_f64 / 1.2).sqrt()).abs() < 1e-12);
        assert!((off(20.0) / (1.0 / (1.2 * 20.0)) - 1.0).abs() < 0.002);
    }

    proptest! {
        #[test]
        fn prop_any_input_is_answered(
            pa in any::<f64>(), rho in any::<f64>(), share in any::<f64>(), c in any::<f64>(),
        ) {
            let tube = PitotTube { coefficient: c, share };
            let all = [pa, 50.0, 0.0];
            for pa in all {
                let reading = PitotReading::new(Pressure::from_pa(pa));
                for reading in [reading, reading.with_tube(tube)] {
                    for rho in [rho, 1.2] {
                        for share in [share, 0.0] {
                            let density = Density::from_kg_m3(rho);
                            if let Ok(at) = reading.velocity(density, share) {
                                prop_assert!(at.velocity.as_m_s() >= 0.0);
                                prop_assert!(at.standard.as_m_s() > 0.0 && at.standard.is_finite());
                            }
                        }
                    }
                }
            }
        }
    }
}
