//! The fan known by two numbers only.

use super::{
    Basis, FanCurve, FanError, Fitted,
    curve::{checked_density, overflow},
};
use crate::{
    curve1d::Curve1d,
    quantity::{Density, Pressure, VolumeFlow},
};

/// How an estimate runs from the largest pressure to the largest flow.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "snake_case")
)]
pub(super) enum Shape {
    /// The likely case.
    #[default]
    Parabola,
    /// The low case.
    Straight,
}

/// What an estimate was made of.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Estimate {
    /// Of its largest flow and its largest pressure, as fan static pressure.
    Extremes(Shape),
    /// Of other curves, at least one of them an estimate: told on another basis, or of two fans.
    Derived {
        /// Its low case, all else being that of the curve itself; none when it is a low case.
        low: Option<Curve1d>,
    },
}

/// Share of the largest flow that the low case counts on.
const LOW_FLOW: f64 = 0.7;

impl FanCurve {
    /// An estimate for a fan known only by its `largest_flow` (at no pressure) and its
    /// `largest_pressure` (at no flow): p = `largest_pressure` (1 - (Q / `largest_flow`)^2),
    /// taken as fan static pressure in air of `density`.
    ///
    /// The curve is labelled an estimate ([`FanCurve::is_estimate`]); nothing should be called
    /// adequate on it unless its [low case](FanCurve::low_case) is. The shape is a judgement of
    /// ours after common practice; it has no source. Advertised largest flows are often taken
    /// without filter or duct and may not be reached.
    ///
    /// ```
    /// use airsplit::{Density, FanCurve, Fitted, Pressure, VolumeFlow};
    /// # fn main() -> Result<(), airsplit::FanError> {
    /// let flow = VolumeFlow::from_cfm(1200.0);
    /// let pressure = Pressure::from_in_wg(10.0);
    /// let density = Density::from_kg_m3(1.2);
    /// let fan = FanCurve::from_extremes(flow, pressure, Fitted::NOTHING, density)?;
    /// let half = fan.pressure(VolumeFlow::from_cfm(600.0));
    /// assert!((half.as_in_wg() - 7.5).abs() < 1e-12);
    /// # Ok(())
    /// # }
    /// ```
    ///
    /// # Errors
    /// [`FanError::Extreme`] unless both are finite and above zero, [`FanError::Density`]
    /// likewise.
    pub fn from_extremes(
        largest_flow: VolumeFlow,
        largest_pressure: Pressure,
        fitted: Fitted,
        density: Density,
    ) -> Result<Self, FanError> {
        let shape = Shape::Parabola;
        Self::estimate(largest_flow, largest_pressure, shape, fitted, density)
    }

    /// The low case of an estimate: a straight line from its largest pressure to 0.7 of its
    /// largest flow; of a curve derived from estimates, the same derived from their low cases.
    /// `None` for a published curve, and for a low case.
    ///
    /// Judgement after common practice, no source.
    #[must_use]
    pub fn low_case(&self) -> Option<Self> {
        match &self.estimate {
            Some(Estimate::Extremes(Shape::Parabola)) => {}
            Some(Estimate::Derived { low: Some(low) }) => {
                return Some(Self {
                    curve: low.clone(),
                    estimate: Some(Estimate::Derived { low: None }),
                    ..self.clone()
                });
            }
            _ => return None,
        }
        let largest_flow = VolumeFlow::from_m3_s(LOW_FLOW * self.curve().last().x);
        let low = Self::estimate(
            largest_flow,
            Pressure::from_pa(self.curve().first().y),
            Shape::Straight,
            self.fitted,
            self.density,
        );
        // fails only where 0.7 of the flow is too small a number to count with
        low.ok().map(|low| Self {
            outlet: self.outlet,
            speed: self.speed,
            ..low
        })
    }

    pub(super) fn estimate(
        largest_flow: VolumeFlow,
        largest_pressure: Pressure,
        shape: Shape,
        fitted: Fitted,
        density: Density,
    ) -> Result<Self, FanError> {
        let (q_m3s, p_pa) = (largest_flow.as_m3_s(), largest_pressure.as_pa());
        for (what, value, unit) in [
            ("largest flow", q_m3s, "m3/s"),
            ("largest pressure", p_pa, "Pa"),
        ] {
            if !(value.is_finite() && value > 0.0) {
                return Err(FanError::Extreme { what, value, unit });
            }
        }
        // Either shape is one cubic piece with its own end slopes, hence exact.
        let chord = -p_pa / q_m3s;
        let slopes = match shape {
            Shape::Parabola => [0.0, 2.0 * chord],
            Shape::Straight => [chord, chord],
        };
        Ok(Self {
            curve: Curve1d::hermite(&[0.0, q_m3s], &[p_pa, 0.0], &slopes).map_err(overflow)?,
            basis: Basis::Static,
            fitted,
            density: checked_density(density)?,
            outlet: None,
            speed: None,
            estimate: Some(Estimate::Extremes(shape)),
            smoothing: None,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        bore::Bore,
        quantity::{Length, RotationalSpeed},
    };
    use proptest::prelude::*;

    fn estimate(q_m3s: f64, p_pa: f64) -> Result<FanCurve, FanError> {
        FanCurve::from_extremes(
            VolumeFlow::from_m3_s(q_m3s),
            Pressure::from_pa(p_pa),
            Fitted::ALL,
            Density::from_kg_m3(1.2),
        )
    }

    proptest! {
        #[test]
        fn prop_both_cases_are_their_formulas(
            largest_q in 0.05..2.0f64, largest_p in 100.0..6000.0f64, share in 0.0..1.0f64,
        ) {
            let fan = estimate(largest_q, largest_p).unwrap();
            let low = fan.low_case().unwrap();
            let q = share * largest_q;
            let flow = VolumeFlow::from_m3_s(q);
            let rounding = 1e-14 * largest_p;
            let parabola = largest_p * (1.0 - share * share);
            prop_assert!((fan.pressure(flow).as_pa() - parabola).abs() <= rounding);
            let slope = -2.0 * largest_p * share / largest_q;
            prop_assert!((fan.slope(flow) - slope).abs() <= rounding / largest_q);
            let line = largest_p * (1.0 - share / 0.7);
            prop_assert!((low.pressure(flow).as_pa() - line).abs() <= rounding);
            prop_assert!(low.pressure(flow).as_pa() <= fan.pressure(flow).as_pa() + rounding);
            prop_assert!(!fan.rises() && !low.rises());
        }
    }

    #[test]
    fn prop_an_estimate_says_so() {
        let outlet = Bore::Round(Length::from_in(8.0));
        let fan = estimate(0.5, 2500.0).unwrap().with_outlet(outlet).unwrap();
        let low = fan.low_case().unwrap();
        assert!(fan.is_estimate() && low.is_estimate());
        assert_eq!((fan.basis(), low.basis()), (Basis::Static, Basis::Static));
        assert_eq!(low.outlet(), Some(outlet));
        assert_eq!(low.fitted(), Fitted::ALL);
        assert_eq!(low.low_case(), None);
        let published = FanCurve::new(
            [(0.0, 9.0), (1.0, 8.0), (2.0, 1.0)]
                .map(|(q, p)| (VolumeFlow::from_m3_s(q), Pressure::from_pa(p))),
            Basis::Static,
            Fitted::ALL,
            Density::from_kg_m3(1.2),
        );
        assert_eq!(published.unwrap().low_case(), None);
    }

    #[test]
    fn prop_numbers_that_make_no_fan_are_refused() {
        for bad in [0.0, -1.0, f64::INFINITY, f64::NAN] {
            let flow = estimate(bad, 2500.0);
            assert!(matches!(flow, Err(FanError::Extreme { what, .. }) if what == "largest flow"));
            let pressure = estimate(0.5, bad);
            assert!(
                matches!(pressure, Err(FanError::Extreme { what, .. }) if what == "largest pressure")
            );
        }
        assert_eq!(
            estimate(1e-310, 2500.0),
            Err(FanError::TooSteep { point: 1 })
        );
        assert_eq!(
            estimate(-0.5, 2500.0).unwrap_err().to_string(),
            "the largest flow of the fan is -0.5 m3/s; it must be a finite number above zero"
        );
    }

    #[test]
    fn the_low_case_runs_at_the_speed_of_its_estimate() {
        let speed = RotationalSpeed::from_rpm(2850.0);
        let fan = estimate(0.5, 2500.0).unwrap().with_speed(speed).unwrap();
        assert_eq!(fan.low_case().unwrap().speed(), Some(speed));
    }
}
