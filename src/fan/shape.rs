//! The shape of a fan curve that is known by its two ends only.

use super::{
    FanCurve,
    estimate::{Estimate, Shape},
};
use crate::curve1d::{Curve1d, Knot};
use std::f64::consts::{FRAC_1_SQRT_2, SQRT_2};

/// Shapes that a fan may have: hollow to full. Fuller ones would need more pieces: a cubic rises where
/// an end slope is more than three times its chord (Fritsch and Carlson, 1980).
pub(crate) const LEAST_SHAPE: f64 = 0.2;
pub(crate) const MOST_SHAPE: f64 = 0.95;

/// Pieces of a shape: each a cubic with the slopes of the family, which it meets to about 1e-6.
const PIECES: u32 = 32;

impl FanCurve {
    /// Share of the largest flow at which an estimate has half of its largest pressure; `None` for
    /// a published curve, a low case and a curve derived from others.
    pub(crate) fn shape(&self) -> Option<f64> {
        matches!(self.estimate, Some(Estimate::Extremes(Shape::Parabola))).then_some(FRAC_1_SQRT_2)
    }

    /// The estimate with half of its largest pressure at this share of its largest flow.
    ///
    /// A family of ours that falls throughout and contains the likely case: with u the share of
    /// the largest flow, p = pmax (1 - g^2), g = u / (u + t (1 - u)), t = x (sqrt 2 - 1) / (1 - x).
    /// Returns `None` for a curve that [`shape`](Self::shape) does not tell, and outside of
    /// [`LEAST_SHAPE`] to [`MOST_SHAPE`].
    pub(crate) fn with_shape(&self, x: f64) -> Option<Self> {
        self.shape()?;
        if !(LEAST_SHAPE..=MOST_SHAPE).contains(&x) {
            return None;
        }
        let t = x * (SQRT_2 - 1.0) / (1.0 - x);
        let (flow, pressure) = (self.largest_flow().as_m3_s(), self.shut_off().as_pa());
        // Evenly spread over g, so that they stand close where it is steep.
        let knot = |i: u32| {
            let g = f64::from(i) / f64::from(PIECES);
            let below = 1.0 - g + t * g;
            let u = t * g / below;
            // du/dg = t / below^2
            let slope = -2.0 * g * below * below / t;
            Knot {
                x: u * flow,
                y: pressure * (1.0 - g * g),
                slope: slope * pressure / flow,
            }
        };
        let knots: Vec<Knot> = (0..=PIECES).map(knot).collect();
        let column = |of: fn(&Knot) -> f64| knots.iter().map(of).collect::<Vec<f64>>();
        let curve = Curve1d::hermite(
            &column(|knot| knot.x),
            &column(|knot| knot.y),
            &column(|knot| knot.slope),
        );
        Some(Self {
            curve: curve.ok()?,
            estimate: Some(Estimate::Derived {
                low: self.low_case().map(|low| low.curve),
            }),
            ..self.clone()
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        fan::Fitted,
        quantity::{Density, Pressure, VolumeFlow},
    };
    use proptest::prelude::*;

    fn estimate() -> FanCurve {
        let flow = VolumeFlow::from_m3_s(0.8);
        let pressure = Pressure::from_pa(2400.0);
        FanCurve::from_extremes(flow, pressure, Fitted::NOTHING, Density::STANDARD_AIR).unwrap()
    }

    #[test]
    fn prop_the_likely_shape_is_the_estimate_itself() {
        let fan = estimate();
        let same = fan.with_shape(FRAC_1_SQRT_2).unwrap();
        for i in 0..=100 {
            let flow = VolumeFlow::from_m3_s(0.01 * f64::from(i));
            let off = (same.pressure(flow) - fan.pressure(flow)).as_pa();
            assert!(off.abs() < 1e-9, "{flow}: {off}");
        }
        assert!(same.is_estimate() && same.shape().is_none());
        assert_eq!(
            same.low_case().map(|low| low.curve),
            fan.low_case().map(|low| low.curve)
        );
        assert!(fan.with_shape(0.1).is_none() && fan.with_shape(f64::NAN).is_none());
    }

    proptest! {
        #[test]
        fn prop_shapes_fall_through_their_half(x in LEAST_SHAPE..MOST_SHAPE) {
            let fan = estimate().with_shape(x).unwrap();
            prop_assert!(!fan.rises());
            let half = fan.pressure(VolumeFlow::from_m3_s(0.8 * x)).as_pa();
            prop_assert!((half / 1200.0 - 1.0).abs() < 2e-5, "{half}");
            prop_assert!((fan.shut_off().as_pa() - 2400.0).abs() < 1e-9);
            prop_assert!(fan.pressure(VolumeFlow::from_m3_s(0.8)).as_pa().abs() < 1e-9);
        }
    }
}
