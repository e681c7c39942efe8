//! From points picked in a picture of a fan curve to flows and pressures.
#![allow(
    clippy::indexing_slicing,
    reason = "matrices of fixed or just given size, and indices within it"
)]

use super::FanPoint;
use crate::quantity::{Pressure, VolumeFlow};
use nalgebra::{DVector, MatrixXx2, Vector2};

/// References for an axis must spread this much across the line on which they lie best, in
/// shares of their spread along it: with less, the picking error rules the axis. Judgement.
const LEAST_SPREAD: f64 = 0.02;

/// Least sine of the angle between the two axes of the picture. Judgement.
const LEAST_ANGLE: f64 = 0.02;

/// Coordinates and values beyond this are refused, so that no product can overflow.
const LARGEST: f64 = 1e100;

/// How an axis of the picture runs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "snake_case")
)]
#[non_exhaustive]
pub enum AxisScale {
    /// Equal steps for equal differences.
    Linear,
    /// Equal steps for equal ratios.
    Logarithmic,
}

/// A point of the picture, in pixels or any other unit of length, from any corner.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
pub struct PickedPoint {
    /// Across the picture, in the picture's unit of length.
    pub x: f64,
    /// Up or down the picture, in the same unit.
    pub y: f64,
}

/// A point of the picture at which the flow, the pressure or both are known: a tick of an axis, a
/// crossing of grid lines.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
#[non_exhaustive]
pub struct Reference {
    /// Where it was picked.
    pub at: PickedPoint,
    /// Flow there, if it is known.
    pub flow: Option<VolumeFlow>,
    /// Pressure there, if it is known.
    pub pressure: Option<Pressure>,
}

impl Reference {
    /// A point at which both are known.
    #[must_use]
    pub fn new(at: PickedPoint, flow: VolumeFlow, pressure: Pressure) -> Self {
        Self {
            at,
            flow: Some(flow),
            pressure: Some(pressure),
        }
    }

    /// A point at which only the flow is known.
    #[must_use]
    pub fn of_flow(at: PickedPoint, flow: VolumeFlow) -> Self {
        Self {
            at,
            flow: Some(flow),
            pressure: None,
        }
    }

    /// A point at which only the pressure is known.
    #[must_use]
    pub fn of_pressure(at: PickedPoint, pressure: Pressure) -> Self {
        Self {
            at,
            flow: None,
            pressure: Some(pressure),
        }
    }
}

/// The axes of a picture: what tells flow and pressure from the place of a point.
///
/// Flow and pressure, or their logarithms, are each a + b x + c y, fitted to the references by
/// least squares: the picture may be turned, skewed, mirrored and stretched, but a photograph
/// taken from the side is not read right. Three references are always met exactly, so a slip in
/// one of them does not show: give four or more, such as the four corners of the plot.
///
/// ```
/// use airsplit::*;
/// # fn main() -> Result<(), DigitiseError> {
/// let reference = |x, y, cfm, in_wg| {
///     let (flow, pressure) = (VolumeFlow::from_cfm(cfm), Pressure::from_in_wg(in_wg));
///     Reference::new(PickedPoint { x, y }, flow, pressure)
/// };
/// // the corners of a scan that lies a little askew; y counts downwards
/// let corners = [
///     reference(102.0, 905.0, 0.0, 0.0),
///     reference(1301.0, 892.0, 1200.0, 0.0),
///     reference(92.0, 105.0, 0.0, 12.0),
///     reference(1292.0, 93.0, 1200.0, 12.0),
/// ];
/// let axes = Axes::fit(corners, AxisScale::Linear, AxisScale::Linear)?;
/// assert!(axes.flow_scatter_px.is_some_and(|px| px < 1.0));
/// let middle = axes.read(PickedPoint { x: 697.0, y: 499.0 });
/// assert!((middle.flow.as_cfm() - 600.0).abs() < 1.0);
/// assert!((middle.pressure.as_in_wg() - 6.0).abs() < 0.01);
/// # Ok(())
/// # }
/// ```
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Axes {
    /// How far each reference lies off the fitted axes, in the order given.
    pub misses: Vec<ReferenceMiss>,
    /// Scatter of the references across the lines of equal flow, in the picture's unit of length:
    /// sqrt(sum of squares / (references - 3)), an estimate of the picking error. `None` with
    /// three references, which tell nothing of it.
    pub flow_scatter_px: Option<f64>,
    /// The same across the lines of equal pressure.
    pub pressure_scatter_px: Option<f64>,
    flow: Axis,
    pressure: Axis,
}

/// How far a reference lies off the fitted axes: read minus given. `None` where nothing was given.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct ReferenceMiss {
    /// Flow read there minus the flow given.
    pub flow: Option<VolumeFlow>,
    /// The same as a distance across the lines of equal flow, in the picture's unit of length.
    pub flow_px: Option<f64>,
    /// Pressure read there minus the pressure given.
    pub pressure: Option<Pressure>,
    /// The same as a distance across the lines of equal pressure, in the picture's unit of length.
    pub pressure_px: Option<f64>,
}

/// Why references make no axes. References count from 1, in the order given.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum DigitiseError {
    /// Too few references tell an axis.
    #[error(
        "{got} of the references tell a {axis}; the {axis} axis needs 3 or more, not on one line"
    )]
    TooFewReferences {
        /// `flow` or `pressure`.
        axis: &'static str,
        /// How many references tell it.
        got: usize,
    },
    /// A coordinate or value that cannot be counted with.
    #[error(
        "reference {reference}: the {what} is {value} {unit}; it must be a finite number, at most {LARGEST:e} in size"
    )]
    Number {
        /// Which reference, from 1.
        reference: usize,
        /// `x`, `y`, `flow` or `pressure`.
        what: &'static str,
        /// What was given, in `unit`.
        value: f64,
        /// SI unit of `value`; `px` for a coordinate.
        unit: &'static str,
    },
    /// A value on a logarithmic axis that is not above zero.
    #[error(
        "reference {reference}: the {what} is {value} {unit}; on a logarithmic axis it must be above zero"
    )]
    NotPositive {
        /// Which reference, from 1.
        reference: usize,
        /// `flow` or `pressure`.
        what: &'static str,
        /// What was given, in `unit`.
        value: f64,
        /// SI unit of `value`.
        unit: &'static str,
    },
    /// The references of an axis lie on one line of the picture, or nearly so.
    #[error(
        "the references that tell a {axis} lie on one line of the picture, or so nearly that the \
         way it is turned cannot be told; add one well off that line"
    )]
    OnOneLine {
        /// `flow` or `pressure`.
        axis: &'static str,
    },
    /// All references of an axis tell the same value.
    #[error("the references tell one {axis} only; the {axis} axis needs two different ones")]
    OneValue {
        /// `flow` or `pressure`.
        axis: &'static str,
    },
    /// Both axes run the same way.
    #[error(
        "flow and pressure change in the same direction of the picture; one of the references is \
         at the wrong place, or tells a wrong value"
    )]
    Parallel,
}

impl Axes {
    /// The axes that fit the `references` best.
    ///
    /// Flow and pressure are fitted apart: each needs three references or more that tell it, not
    /// on one line, and a reference need not tell both.
    ///
    /// # Errors
    /// [`DigitiseError`] names the reference or the axis that is at fault.
    pub fn fit(
        references: impl IntoIterator<Item = Reference>,
        flow_scale: AxisScale,
        pressure_scale: AxisScale,
    ) -> Result<Self, DigitiseError> {
        let references: Vec<Reference> = references.into_iter().collect();
        for (index, reference) in references.iter().enumerate() {
            for (what, value) in [("x", reference.at.x), ("y", reference.at.y)] {
                check(index, what, value, "px")?;
            }
        }
        let told = |value: fn(&Reference) -> Option<f64>| -> Vec<Tick> {
            let references = references.iter().enumerate();
            let ticks = references.filter_map(|(index, reference)| {
                Some(Tick {
                    index,
                    at: reference.at,
                    value: value(reference)?,
                })
            });
            ticks.collect()
        };
        let flows = told(|reference| Some(reference.flow?.as_m3_s()));
        let pressures = told(|reference| Some(reference.pressure?.as_pa()));
        let flow = Axis::fit("flow", "m3/s", &flows, flow_scale)?;
        let pressure = Axis::fit("pressure", "Pa", &pressures, pressure_scale)?;
        let [along, up] = [&flow, &pressure].map(|axis| axis.gradient / length(axis.gradient));
        if along.perp(&up).abs() < LEAST_ANGLE {
            return Err(DigitiseError::Parallel);
        }

        let misses = references
            .iter()
            .map(
                |Reference {
                     at,
                     flow: q,
                     pressure: p,
                 }| ReferenceMiss {
                    flow: q.map(|q| VolumeFlow::from_m3_s(flow.read(*at) - q.as_m3_s())),
                    flow_px: q.map(|q| flow.miss_px(*at, q.as_m3_s())),
                    pressure: p.map(|p| Pressure::from_pa(pressure.read(*at) - p.as_pa())),
                    pressure_px: p.map(|p| pressure.miss_px(*at, p.as_pa())),
                },
            )
            .collect();
        Ok(Self {
            misses,
            flow_scatter_px: flow.scatter_px(&flows),
            pressure_scatter_px: pressure.scatter_px(&pressures),
            flow,
            pressure,
        })
    }

    /// Flow and pressure at a point of the picture, beyond the references as well.
    ///
    /// A point left of or below a linear axis reads below zero; [`FanCurve`](crate::FanCurve)
    /// refuses it. Not finite for a point that is not.
    #[must_use]
    pub fn read(&self, point: PickedPoint) -> FanPoint {
        FanPoint {
            flow: VolumeFlow::from_m3_s(self.flow.read(point)),
            pressure: Pressure::from_pa(self.pressure.read(point)),
        }
    }

    /// [`Axes::read`] of every point, in the order given, as [`FanCurve`](crate::FanCurve) takes
    /// them if they were picked from left to right.
    pub fn read_all(
        &self,
        points: impl IntoIterator<Item = PickedPoint>,
    ) -> impl Iterator<Item = (VolumeFlow, Pressure)> {
        points.into_iter().map(|point| self.read(point).into())
    }
}

fn check(
    index: usize,
    what: &'static str,
    value: f64,
    unit: &'static str,
) -> Result<(), DigitiseError> {
    if value.abs() <= LARGEST {
        return Ok(());
    }
    Err(DigitiseError::Number {
        reference: index + 1,
        what,
        value,
        unit,
    })
}

/// A reference of one axis; its value in SI.
struct Tick {
    index: usize,
    at: PickedPoint,
    value: f64,
}

/// u = `level` + `gradient` . ((x, y) - `centre`), where u is the value or its logarithm.
#[derive(Debug, Clone, PartialEq)]
struct Axis {
    scale: AxisScale,
    centre: Vector2<f64>,
    level: f64,
    gradient: Vector2<f64>,
}

impl Axis {
    fn fit(
        axis: &'static str,
        unit: &'static str,
        ticks: &[Tick],
        scale: AxisScale,
    ) -> Result<Self, DigitiseError> {
        if ticks.len() < 3 {
            let got = ticks.len();
            return Err(DigitiseError::TooFewReferences { axis, got });
        }
        for tick in ticks {
            check(tick.index, axis, tick.value, unit)?;
            if scale == AxisScale::Logarithmic && tick.value <= 0.0 {
                return Err(DigitiseError::NotPositive {
                    reference: tick.index + 1,
                    what: axis,
                    value: tick.value,
                    unit,
                });
            }
        }
        // Counted from the middle, the constant falls out; over the largest, sizes do too.
        let share = 1.0 / ticks.len() as f64;
        let centre = share
            * ticks
                .iter()
                .map(|tick| vector(tick.at))
                .sum::<Vector2<f64>>();
        let values = DVector::from_iterator(ticks.len(), ticks.iter().map(|t| scale.of(t.value)));
        let level = values.mean();
        let places: Vec<_> = ticks.iter().map(|tick| vector(tick.at) - centre).collect();
        let places = MatrixXx2::from_fn(ticks.len(), |row, column| places[row][column]);
        let values = values.add_scalar(-level);
        let (size, rise) = (places.amax(), values.amax());
        if size == 0.0 {
            return Err(DigitiseError::OnOneLine { axis });
        }
        if rise <= 4.0 * f64::EPSILON * level.abs() {
            return Err(DigitiseError::OneValue { axis });
        }
        // QR and not SVD: with singular vectors of nalgebra a property test found a picture of
        // 2500 px whose exact references missed by more than 1e-9 px.
        let qr = (places / size).qr();
        let r = qr.r();
        let (a, b, d) = (r[(0, 0)], r[(0, 1)], r[(1, 1)]);
        // Both singular values of the triangle, from their squares' sum and their product.
        let (squares, product) = (a * a + b * b + d * d, (a * d).abs());
        let largest = squares
            .midpoint(
                ((squares - 2.0 * product) * (squares + 2.0 * product))
                    .max(0.0)
                    .sqrt(),
            )
            .sqrt();
        let enough = product / largest >= LEAST_SPREAD * largest;
        let mut turned = values / rise;
        qr.q_tr_mul(&mut turned);
        if !enough {
            return Err(DigitiseError::OnOneLine { axis });
        }
        let down = turned[1] / d;
        let gradient = Vector2::new((turned[0] - b * down) / a, down) * (rise / size);
        if !length(gradient).is_normal() {
            return Err(DigitiseError::OneValue { axis });
        }
        Ok(Self {
            scale,
            centre,
            level,
            gradient,
        })
    }

    fn read(&self, at: PickedPoint) -> f64 {
        let u = self.level + self.gradient.dot(&(vector(at) - self.centre));
        match self.scale {
            AxisScale::Linear => u,
            AxisScale::Logarithmic => u.exp(),
        }
    }

    /// Distance from the line of equal `value` to `at`, positive to the side of larger values.
    fn miss_px(&self, at: PickedPoint, value: f64) -> f64 {
        let u = self.level + self.gradient.dot(&(vector(at) - self.centre));
        (u - self.scale.of(value)) / length(self.gradient)
    }

    fn scatter_px(&self, ticks: &[Tick]) -> Option<f64> {
        let misses = ticks.iter().map(|tick| self.miss_px(tick.at, tick.value));
        let square: f64 = misses.map(|miss| miss * miss).sum();
        (ticks.len() > 3).then(|| (square / (ticks.len() - 3) as f64).sqrt())
    }
}

impl AxisScale {
    /// What runs evenly along the axis.
    fn of(self, value: f64) -> f64 {
        match self {
            Self::Linear => value,
            Self::Logarithmic => value.ln(),
        }
    }
}

/// No square under- or overflows.
fn length(vector: Vector2<f64>) -> f64 {
    vector.x.hypot(vector.y)
}

fn vector(at: PickedPoint) -> Vector2<f64> {
    Vector2::new(at.x, at.y)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const BOTH_LINEAR: [AxisScale; 2] = [AxisScale::Linear; 2];

    fn at(x: f64, y: f64) -> PickedPoint {
        PickedPoint { x, y }
    }

    fn full(x: f64, y: f64, q_m3s: f64, p_pa: f64) -> Reference {
        let (flow, pressure) = (VolumeFlow::from_m3_s(q_m3s), Pressure::from_pa(p_pa));
        Reference::new(at(x, y), flow, pressure)
    }

    fn fit(
        references: &[Reference],
        [flow, pressure]: [AxisScale; 2],
    ) -> Result<Axes, DigitiseError> {
        Axes::fit(references.iter().copied(), flow, pressure)
    }

    #[test]
    fn val_a_logarithmic_sheet_read_by_hand() {
        // Two decades over 1000 px across, one over 500 px up; 10^0.5 = 3.16227766 by any table.
        let corners = [
            full(0.0, 500.0, 0.1, 100.0),
            full(1000.0, 500.0, 10.0, 100.0),
            full(0.0, 0.0, 0.1, 1000.0),
        ];
        let axes = fit(&corners, [AxisScale::Logarithmic; 2]).unwrap();
        let middle = axes.read(at(500.0, 250.0));
        assert!((middle.flow.as_m3_s() - 1.0).abs() < 1e-14);
        assert!((middle.pressure.as_pa() - 316.227_766).abs() < 1e-6);
        let quarter = axes.read(at(750.0, 0.0));
        assert!((quarter.flow.as_m3_s() - 3.162_277_66).abs() < 1e-8);
        assert_eq!(
            (axes.flow_scatter_px, axes.pressure_scatter_px),
            (None, None)
        );
    }

    #[test]
    fn val_least_squares_by_hand() {
        // The corners of a square of 100 px whose flows are 0, 10, 0 and 14 (in L/s): the plane of
        // least squares misses a square's corners by +-1, a quarter of 0 - 10 - 0 + 14. It rises
        // by 12 across and by 2 up, so that 1 L/s is 100 / sqrt(12^2 + 2^2) px. Likewise pressures
        // of 8, 0, 1000 and 1000 Pa: missed by +-2, a quarter of 8 - 0 - 1000 + 1000.
        let corner = |x, y, litres: f64| {
            let pa = if x + y > 0.0 { 10.0 * y } else { 8.0 };
            full(x, y, 1e-3 * litres, pa)
        };
        let corners = [
            corner(0.0, 0.0, 0.0),
            corner(100.0, 0.0, 10.0),
            corner(0.0, 100.0, 0.0),
            corner(100.0, 100.0, 14.0),
        ];
        let axes = fit(&corners, BOTH_LINEAR).unwrap();
        let px = 100.0 / 148f64.sqrt();
        for (miss, sign) in axes.misses.iter().zip([-1.0, 1.0, 1.0, -1.0]) {
            assert!((miss.flow.unwrap().as_m3_s() - 1e-3 * sign).abs() < 1e-15);
            assert!((miss.flow_px.unwrap() - px * sign).abs() < 1e-12);
            assert!((miss.pressure.unwrap().as_pa() - 2.0 * sign).abs() < 1e-11);
            // it rises by 996 up and falls by 4 across
            let px = 200.0 / (996f64.powi(2) + 16.0).sqrt();
            assert!((miss.pressure_px.unwrap() - px * sign).abs() < 1e-12);
        }
        // four squares over one spare reference
        assert!((axes.flow_scatter_px.unwrap() - 2.0 * px).abs() < 1e-12);
        let px = 200.0 / (996f64.powi(2) + 16.0).sqrt();
        assert!((axes.pressure_scatter_px.unwrap() - 2.0 * px).abs() < 1e-12);
    }

    #[test]
    fn prop_each_axis_may_have_references_of_its_own() {
        let flow = |x, y| Reference::of_flow(at(x, y), VolumeFlow::from_m3_s(0.01 * x));
        let pressure = |x, y| Reference::of_pressure(at(x, y), Pressure::from_pa(800.0 - y));
        let references = [
            flow(0.0, 0.0),
            flow(50.0, 0.0),
            flow(50.0, 80.0),
            pressure(0.0, 800.0),
            pressure(0.0, 200.0),
            pressure(90.0, 200.0),
        ];
        let axes = fit(&references, BOTH_LINEAR).unwrap();
        let read = axes.read(at(30.0, 100.0));
        assert!((read.flow.as_m3_s() - 0.3).abs() < 1e-15);
        assert!((read.pressure.as_pa() - 700.0).abs() < 1e-12);
        assert_eq!(axes.misses[0].pressure, None);
        assert_eq!(axes.misses[5].flow_px, None);
    }

    #[test]
    fn prop_references_must_spread_by_a_share_whatever_their_direction() {
        // The corners of a thin rectangle, of which the singular values are its two sides.
        let thin = |degrees: f64, share: f64| {
            let (sin, cos) = degrees.to_radians().sin_cos();
            let corners = [(-1.0, -1.0), (-1.0, 1.0), (1.0, -1.0), (1.0, 1.0)];
            let corners = corners.map(|(along, across): (f64, f64)| {
                let (s, t) = (400.0 * along, 400.0 * share * across);
                let (x, y) = (500.0 + cos * s - sin * t, 500.0 + sin * s + cos * t);
                full(x, y, 2.0 + along, 1000.0 + 100.0 * across)
            });
            fit(&corners, BOTH_LINEAR)
        };
        for degrees in (0..180).step_by(7).map(f64::from) {
            let axes = thin(degrees, 1.001 * LEAST_SPREAD).unwrap();
            let picked = [at(500.0, 500.0), at(510.0, 490.0)];
            let read: Vec<_> = axes.read_all(picked).collect();
            assert_eq!(read, picked.map(|point| axes.read(point).into()));
            assert!((read[0].0.as_m3_s() - 2.0).abs() < 1e-12);
            let refused = thin(degrees, 0.999 * LEAST_SPREAD).unwrap_err();
            assert_eq!(refused, DigitiseError::OnOneLine { axis: "flow" });
        }
    }

    #[test]
    fn prop_every_fault_is_named() {
        let good = [
            full(0.0, 0.0, 1.0, 1.0),
            full(100.0, 0.0, 2.0, 1.0),
            full(0.0, 100.0, 1.0, 2.0),
            full(100.0, 100.0, 2.0, 2.0),
        ];
        assert!(fit(&good, BOTH_LINEAR).is_ok());
        let text =
            |references: &[Reference], scales| fit(references, scales).unwrap_err().to_string();
        assert_eq!(
            text(&good[..2], BOTH_LINEAR),
            "2 of the references tell a flow; the flow axis needs 3 or more, not on one line"
        );
        let with = |index: usize, reference| {
            let mut changed = good;
            changed[index] = reference;
            changed
        };
        assert_eq!(
            text(
                &with(2, full(0.0, 100.0, 1.0, 0.0)),
                [AxisScale::Logarithmic; 2]
            ),
            "reference 3: the pressure is 0 Pa; on a logarithmic axis it must be above zero"
        );
        assert_eq!(
            text(&with(1, full(f64::NAN, 0.0, 2.0, 1.0)), BOTH_LINEAR),
            "reference 2: the x is NaN px; it must be a finite number, at most 1e100 in size"
        );
        assert!(text(&with(1, full(1.0, 0.0, 2e100, 1.0)), BOTH_LINEAR).contains("2: the flow"));
        let one_line = [0.0, 40.0, 100.0].map(|x| full(x, 0.01 * x * x / 100.0, x, x));
        assert_eq!(
            fit(&one_line, BOTH_LINEAR),
            Err(DigitiseError::OnOneLine { axis: "flow" })
        );
        let one_place = [full(3.0, 4.0, 1.0, 1.0); 3];
        assert_eq!(
            fit(&one_place, BOTH_LINEAR),
            Err(DigitiseError::OnOneLine { axis: "flow" })
        );
        let one_value = good.map(|r| Reference {
            pressure: Some(Pressure::from_pa(0.3)),
            ..r
        });
        assert_eq!(
            fit(&one_value, BOTH_LINEAR),
            Err(DigitiseError::OneValue { axis: "pressure" })
        );
        let parallel = good.map(|r| full(r.at.x, r.at.y, r.at.x, 3.0 * r.at.x));
        assert_eq!(fit(&parallel, BOTH_LINEAR), Err(DigitiseError::Parallel));
    }

    /// The place in a turned, stretched, skewed, perhaps mirrored picture of a share of each axis.
    #[derive(Debug, Clone, Copy)]
    struct Picture {
        corner: PickedPoint,
        across: [f64; 2],
        up: [f64; 2],
        /// Least and largest value of each axis.
        flow: [f64; 2],
        pressure: [f64; 2],
        scales: [AxisScale; 2],
    }

    impl Picture {
        fn place(&self, across: f64, up: f64) -> PickedPoint {
            at(
                self.corner.x + across * self.across[0] + up * self.up[0],
                self.corner.y + across * self.across[1] + up * self.up[1],
            )
        }

        fn value(scale: AxisScale, [least, largest]: [f64; 2], share: f64) -> f64 {
            match scale {
                AxisScale::Linear => least + share * (largest - least),
                AxisScale::Logarithmic => least * (largest / least).powf(share),
            }
        }

        fn reference(&self, across: f64, up: f64, noise_px: [f64; 2]) -> Reference {
            let PickedPoint { x, y } = self.place(across, up);
            let q_m3s = Self::value(self.scales[0], self.flow, across);
            let p_pa = Self::value(self.scales[1], self.pressure, up);
            full(x + noise_px[0], y + noise_px[1], q_m3s, p_pa)
        }
    }

    fn picture() -> impl Strategy<Value = Picture> {
        let scale = prop_oneof![Just(AxisScale::Linear), Just(AxisScale::Logarithmic)];
        let length = 200.0..3000.0f64;
        let span = |low: f64| (low..2.0 * low, 3.0 * low..100.0 * low).prop_map(|(a, b)| [a, b]);
        (
            (-500.0..500.0f64, -500.0..500.0f64),
            (length.clone(), -3.2..3.2f64),
            (length, 0.5..2.6f64, any::<bool>()),
            (span(0.01), span(10.0)),
            (scale.clone(), scale),
        )
            .prop_map(
                |(corner, (wide, turn), (high, angle, mirrored), spans, scales)| {
                    let up = if mirrored { turn - angle } else { turn + angle };
                    Picture {
                        corner: at(corner.0, corner.1),
                        across: [wide * turn.cos(), wide * turn.sin()],
                        up: [high * up.cos(), high * up.sin()],
                        flow: spans.0,
                        pressure: spans.1,
                        scales: [scales.0, scales.1],
                    }
                },
            )
    }

    proptest! {
        #[test]
        fn prop_any_affine_picture_is_read_back(
            picture in picture(), points in prop::collection::vec((0.0..1.0f64, 0.0..1.0f64), 1..20),
        ) {
            let corners = [(0.0, 0.0), (1.0, 0.0), (0.0, 1.0), (1.0, 1.0)];
            let references = corners.map(|(across, up)| picture.reference(across, up, [0.0; 2]));
            let axes = fit(&references, picture.scales).unwrap();
            prop_assert!(axes.flow_scatter_px.unwrap() < 1e-9);
            prop_assert!(axes.pressure_scatter_px.unwrap() < 1e-9);
            let places = points.iter().map(|(across, up)| picture.place(*across, *up));
            for ((across, up), (flow, pressure)) in points.iter().zip(axes.read_all(places)) {
                let q_m3s = Picture::value(picture.scales[0], picture.flow, *across);
                let p_pa = Picture::value(picture.scales[1], picture.pressure, *up);
                prop_assert!((flow.as_m3_s() - q_m3s).abs() < 1e-11 * picture.flow[1]);
                prop_assert!((pressure.as_pa() - p_pa).abs() < 1e-11 * picture.pressure[1]);
            }
        }

        #[test]
        fn prop_picking_errors_show_in_the_scatter(
            picture in picture(),
            noise in prop::collection::vec(prop::array::uniform2(-1.0..1.0f64), 49),
        ) {
            // 49 references on a square grid, each off by up to a pixel either way.
            let references: Vec<_> = (0..49u8)
                .zip(&noise)
                .map(|(i, noise)| {
                    let share = |i: u8| f64::from(i) / 6.0;
                    picture.reference(share(i % 7), share(i / 7), *noise)
                })
                .collect();
            let axes = fit(&references, picture.scales).unwrap();
            for (scatter, along) in [
                (axes.flow_scatter_px, picture.up),
                (axes.pressure_scatter_px, picture.across),
            ] {
                // What no plane over the grid can follow of the errors square to the other axis,
                // by hand: the grid's columns are orthogonal, their squares sum to 7 * 28. The
                // fit sees the grid through the same errors, which is of the second order.
                let size = along[0].hypot(along[1]);
                let off = |i: usize| (noise[i][0] * along[1] - noise[i][1] * along[0]) / size;
                let column = |i: usize| (i % 7) as f64 - 3.0;
                let row = |i: usize| (i / 7) as f64 - 3.0;
                let sum = |f: &dyn Fn(usize) -> f64| (0..49).map(f).sum::<f64>();
                let squares = sum(&|i| off(i).powi(2))
                    - sum(&off).powi(2) / 49.0
                    - sum(&|i| off(i) * column(i)).powi(2) / 196.0
                    - sum(&|i| off(i) * row(i)).powi(2) / 196.0;
                let expected = (squares.max(0.0) / 46.0).sqrt();
                prop_assert!((scatter.unwrap() - expected).abs() < 0.05, "{scatter:?} {expected}");
            }
            // every miss is the distance by which the picked point was moved, within the fit's own
            for (reference, miss) in references.iter().zip(&axes.misses) {
                prop_assert!(miss.flow_px.unwrap().abs() < 2.0);
                let read = axes.read(reference.at).flow.as_m3_s();
                let off = read - reference.flow.unwrap().as_m3_s();
                prop_assert!((miss.flow.unwrap().as_m3_s() - off).abs() < 1e-12);
                prop_assert!(off * miss.flow_px.unwrap() >= 0.0);
                let read = axes.read(reference.at).pressure.as_pa();
                let off = read - reference.pressure.unwrap().as_pa();
                prop_assert!((miss.pressure.unwrap().as_pa() - off).abs() < 1e-9);
            }
        }

        #[test]
        fn prop_no_references_panic(
            numbers in prop::collection::vec(prop::array::uniform4(any::<f64>()), 0..6),
            power in -4..4i32, x in any::<f64>(),
        ) {
            // any floats at all, and the same brought near each other
            let any: Vec<_> = numbers.iter().map(|[x, y, q, p]| full(*x, *y, *q, *p)).collect();
            let near = |n: f64| n.abs().ln().abs() * 10f64.powi(25 * power);
            let tame: Vec<_> = numbers
                .iter()
                .map(|[x, y, q, p]| full(near(*x), near(*y), near(*q), near(*p)))
                .collect();
            for references in [any, tame] {
                for scales in [BOTH_LINEAR, [AxisScale::Logarithmic; 2]] {
                    match fit(&references, scales) {
                        Ok(axes) => {
                            let _ = axes.read(at(x, -x));
                            let read = axes.read(references[0].at);
                            prop_assert!(read.flow.as_m3_s().is_finite());
                        }
                        Err(error) => prop_assert!(!error.to_string().is_empty()),
                    }
                }
            }
        }
    }

    /// Two pressures a last bit apart are one.
    #[test]
    fn values_that_only_rounding_tells_apart_are_one() {
        let high = f64::from_bits(1e9f64.to_bits() + 1);
        let ticks = [
            full(0.0, 0.0, 0.0, 1e9),
            full(100.0, 0.0, 1.0, 1e9),
            full(0.0, 100.0, 0.0, high),
        ];
        let error = fit(&ticks, BOTH_LINEAR).unwrap_err();
        assert!(matches!(error, DigitiseError::OneValue { .. }), "{error}");
    }
}
