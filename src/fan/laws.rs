//! The fan laws: one curve at another speed, size, air density, or told on another basis.

use super::{
    Basis, FanCurve, FanError,
    basis::checked,
    curve::{checked_density, overflow},
    estimate::Estimate,
};
use crate::{
    bore::Bore,
    curve1d::{Curve1d, Knot},
    quantity::{Density, RotationalSpeed},
};

/// Multiples of what a fan's curves tell.
#[derive(Debug, Clone, Copy)]
pub(super) struct Factors {
    pub(super) flow: f64,
    pub(super) pressure: f64,
    pub(super) power: f64,
}

impl Factors {
    /// Q ~ N, p ~ N^2, P ~ N^3.
    pub(super) fn of_speed(ratio: f64) -> Result<Self, FanError> {
        let n = checked_ratio("speed ratio", ratio)?;
        Ok(Self {
            flow: n,
            pressure: n * n,
            power: n * n * n,
        })
    }

    /// Q ~ D^3, p ~ D^2, P ~ D^5.
    pub(super) fn of_size(ratio: f64) -> Result<Self, FanError> {
        let d = checked_ratio("size ratio", ratio)?;
        Ok(Self {
            flow: d * d * d,
            pressure: d * d,
            power: d * d * d * d * d,
        })
    }

    /// p ~ rho, P ~ rho; the flow stays.
    pub(super) fn of_density(from: Density, to: Density) -> Result<Self, FanError> {
        let ratio = checked_density(to)? / from;
        Ok(Self {
            flow: 1.0,
            pressure: ratio,
            power: ratio,
        })
    }
}

fn checked_ratio(what: &'static str, value: f64) -> Result<f64, FanError> {
    if value.is_finite() && value > 0.0 {
        Ok(value)
    } else {
        let unit = "(new over old)";
        Err(FanError::NotAboveZero { what, value, unit })
    }
}

pub(super) fn checked_speed(speed: RotationalSpeed) -> Result<RotationalSpeed, FanError> {
    let (what, value, unit) = ("speed of the fan", speed.as_rpm(), "rpm");
    if value.is_finite() && value > 0.0 {
        Ok(speed)
    } else {
        Err(FanError::NotAboveZero { what, value, unit })
    }
}

/// `to` over the speed `of` a curve.
pub(super) fn speed_ratio(
    of: Option<RotationalSpeed>,
    to: RotationalSpeed,
) -> Result<f64, FanError> {
    let to = checked_speed(to)?;
    let of = of.ok_or(FanError::NoSpeed { to })?;
    Ok(to / of)
}

/// The curve with every x and y multiplied.
pub(super) fn scaled(curve: &Curve1d, x: f64, y: f64) -> Result<Curve1d, FanError> {
    let knots = curve.knots().map(|knot| Knot {
        x: x * knot.x,
        y: y * knot.y,
        slope: y / x * knot.slope,
    });
    // The shape-preserving cubic of the scaled points is the scaled cubic. Made anew it is so to
    // the last bit, and is written as points alone.
    if curve.is_pchip() {
        let (x, y): (Vec<f64>, Vec<f64>) = knots.map(|knot| (knot.x, knot.y)).unzip();
        Curve1d::pchip(&x, &y).map_err(overflow)
    } else {
        through(knots)
    }
}

/// The piecewise cubic through knots whose x rises.
pub(super) fn through(knots: impl IntoIterator<Item = Knot>) -> Result<Curve1d, FanError> {
    let knots: Vec<Knot> = knots.into_iter().collect();
    let column = |of: fn(&Knot) -> f64| knots.iter().map(of).collect::<Vec<f64>>();
    let slopes = column(|knot| knot.slope);
    Curve1d::hermite(&column(|knot| knot.x), &column(|knot| knot.y), &slopes).map_err(overflow)
}

/// The curve with k x^2 added: a cubic again, and the same one that its knots tell.
fn plus_heads(curve: &Curve1d, k: f64) -> Result<Curve1d, FanError> {
    through(curve.knots().map(|knot| Knot {
        x: knot.x,
        y: knot.y + k * knot.x * knot.x,
        slope: knot.slope + 2.0 * k * knot.x,
    }))
}

fn larger(bore: Bore, ratio: f64) -> Bore {
    match bore {
        Bore::Round(diameter) => Bore::Round(ratio * diameter),
        Bore::Rectangular { width, height } => Bore::Rectangular {
            width: ratio * width,
            height: ratio * height,
        },
    }
}

/// # The fan laws
///
/// For geometrically similar fans at the same point of their curves, with speed N, size D and air
/// density rho:
///
/// Q ~ N D^3, p ~ rho N^2 D^2, P ~ rho N^3 D^5
///
/// Source: the example of Fox, McDonald & Pritchard, "Introduction to Fluid Mechanics", Example
/// 10.11, as reproduced elsewhere, and Stoecker & Jones, ch. 6, read; the checks beside the code
/// repeat both. The laws neglect the Reynolds number and the compression of the air. What was
/// fitted when the curve was measured is scaled along, which is right as far as its loss goes with
/// the square of the flow: a cyclone's does, a filter's does not quite.
///
/// A scaled curve keeps its basis, what was fitted, its outlet and whether it is an estimate.
impl FanCurve {
    /// The curve of a fan that turns at `speed`.
    ///
    /// # Errors
    /// [`FanError::NotAboveZero`] unless the speed is finite and above zero.
    pub fn with_speed(self, speed: RotationalSpeed) -> Result<Self, FanError> {
        Ok(Self {
            speed: Some(checked_speed(speed)?),
            ..self
        })
    }

    /// The speed at which the curve holds, if it is known.
    #[must_use]
    pub fn speed(&self) -> Option<RotationalSpeed> {
        self.speed
    }

    /// The curve of the same fan at another speed.
    ///
    /// ```
    /// use airsplit::{Basis, Density, FanCurve, Fitted, Pressure, RotationalSpeed, VolumeFlow};
    /// # fn main() -> Result<(), airsplit::FanError> {
    /// let points = [(0.0, 9.0), (400.0, 8.0), (800.0, 4.0)]
    ///     .map(|(cfm, in_wg)| (VolumeFlow::from_cfm(cfm), Pressure::from_in_wg(in_wg)));
    /// let fan = FanCurve::new(points, Basis::Static, Fitted::NOTHING, Density::STANDARD_AIR)?
    ///     .with_speed(RotationalSpeed::from_rpm(3450.0))?;
    /// let on_50_hz = fan.at_speed(RotationalSpeed::from_rpm(2875.0))?; // 5/6 of it
    /// assert!((on_50_hz.largest_flow().as_cfm() - 800.0 * 5.0 / 6.0).abs() < 1e-9);
    /// assert!((on_50_hz.shut_off().as_in_wg() - 9.0 * 25.0 / 36.0).abs() < 1e-12);
    /// # Ok(())
    /// # }
    /// ```
    ///
    /// # Errors
    /// [`FanError::NoSpeed`] when the curve does not know its own speed; else as
    /// [`FanCurve::at_speed_ratio`].
    pub fn at_speed(&self, speed: RotationalSpeed) -> Result<Self, FanError> {
        let ratio = speed_ratio(self.speed, speed)?;
        // the speed asked for, not one a rounding beside it
        self.at_speed_ratio(ratio)?.with_speed(speed)
    }

    /// The curve of the same fan at `ratio` times its speed: flow times `ratio`, pressure times
    /// its square.
    ///
    /// # Errors
    /// [`FanError::NotAboveZero`] unless the ratio is finite and above zero;
    /// [`FanError::TooSteep`] or [`FanError::Extreme`] when the scaled numbers are no curve.
    pub fn at_speed_ratio(&self, ratio: f64) -> Result<Self, FanError> {
        let fan = self.scaled(Factors::of_speed(ratio)?)?;
        match self.speed {
            Some(speed) => fan.with_speed(ratio * speed),
            None => Ok(fan),
        }
    }

    /// The curve of a similar fan `ratio` times as large, at the same speed: flow times the cube,
    /// pressure times the square of `ratio`; outlet and test pipe grow along.
    ///
    /// # Errors
    /// As [`FanCurve::at_speed_ratio`]; [`FanError::Bore`] when the outlet or test pipe becomes no
    /// size.
    pub fn at_size_ratio(&self, ratio: f64) -> Result<Self, FanError> {
        let fan = self.scaled(Factors::of_size(ratio)?)?;
        let grown = |what, bore| checked(what, larger(bore, ratio));
        Ok(Self {
            outlet: fan
                .outlet
                .map(|bore| grown("fan outlet", bore))
                .transpose()?,
            basis: match fan.basis {
                Basis::TestPipe { bore } => Basis::TestPipe {
                    bore: grown("test pipe", bore)?,
                },
                basis => basis,
            },
            ..fan
        })
    }

    /// The curve of the same fan at the same speed in air of another density: pressure in
    /// proportion to it, the flow unchanged.
    ///
    /// # Errors
    /// [`FanError::Density`] unless the density is finite and above zero; [`FanError::TooSteep`]
    /// or [`FanError::Extreme`] when the scaled numbers are no curve.
    pub fn at_density(&self, density: Density) -> Result<Self, FanError> {
        let fan = self.scaled(Factors::of_density(self.density, density)?)?;
        Ok(Self { density, ..fan })
    }

    /// The curve of a fan that gives `ratio` times the pressure at every flow: one that is worn or
    /// badly mounted, or whose data sheet flatters it. No law of fans, but what a survey finds.
    ///
    /// # Errors
    /// [`FanError::NotAboveZero`] unless the ratio is finite and above zero;
    /// [`FanError::TooSteep`] or [`FanError::Extreme`] when the scaled numbers are no curve.
    pub fn at_pressure_ratio(&self, ratio: f64) -> Result<Self, FanError> {
        self.scaled(Factors {
            flow: 1.0,
            pressure: checked_ratio("pressure ratio", ratio)?,
            power: ratio,
        })
    }

    /// The whole curve told on another basis, at its own air density.
    ///
    /// From its first to its last point it is [`FanCurve::pressure_on`] but for rounding: the
    /// velocity pressure between two bases is k Q^2, and a cubic plus k Q^2 is a cubic. Beyond
    /// both ends it continues straight, as every curve does, with the slope it has there. Its
    /// pressures may be below zero: static pressure is, where total pressure ends at zero.
    ///
    /// # Errors
    /// As [`FanCurve::pressure_on`]; [`FanError::TooSteep`] when the numbers become too large.
    pub fn on_basis(&self, basis: Basis) -> Result<Self, FanError> {
        let k = self.heads_over(basis)?;
        if basis == self.basis {
            return Ok(self.clone());
        }
        let estimate = if self.is_estimate() {
            let low = self.low_case().map(|low| plus_heads(&low.curve, k));
            let low = low.transpose()?;
            Some(Estimate::Derived { low })
        } else {
            None
        };
        Ok(Self {
            curve: plus_heads(&self.curve, k)?,
            basis,
            estimate,
            smoothing: None,
            ..self.clone()
        })
    }

    fn scaled(&self, by: Factors) -> Result<Self, FanError> {
        let scale = |curve: &Curve1d| scaled(curve, by.flow, by.pressure);
        let estimate = match &self.estimate {
            None => None,
            Some(Estimate::Derived { low }) => {
                let low = low.as_ref().map(scale).transpose()?;
                Some(Estimate::Derived { low })
            }
            Some(Estimate::Extremes(shape)) => {
                let (flow, pressure) = (self.largest_flow(), self.shut_off());
                let (flow, pressure) = (by.flow * flow, by.pressure * pressure);
                let fan = Self::estimate(flow, pressure, *shape, self.fitted, self.density)?;
                return Ok(Self {
                    outlet: self.outlet,
                    speed: self.speed,
                    ..fan
                });
            }
        };
        Ok(Self {
            curve: scale(&self.curve)?,
            estimate,
            smoothing: None,
            ..self.clone()
        })
    }
}

#[cfg(test)]
mod tests {
    /// What follows from a smoothed curve no longer belongs to its raw points.
    #[test]
    fn prop_a_derived_curve_is_not_a_smoothed_one() {
        let points = (0..24).map(|i| {
            let q = 0.02 * f64::from(i);
            let noise = f64::from((i * 7) % 5) - 2.0;
            let p = 2000.0 - 8000.0 * q * q + 3.0 * noise;
            (
                VolumeFlow::from_m3_s(q),
                crate::quantity::Pressure::from_pa(p),
            )
        });
        let density = Density::from_kg_m3(1.2);
        let fitted = crate::fan::Fitted::NOTHING;
        let smooth = FanCurve::smoothed(points, Basis::Static, fitted, density)
            .unwrap()
            .curve;
        assert!(smooth.smoothing_weight().is_some());
        let faster = smooth.at_speed_ratio(1.1).unwrap();
        assert_eq!(faster.smoothing_weight(), None);
        let outlet = crate::bore::Bore::Round(Length::from_m(0.2));
        let total = smooth.clone().with_outlet(outlet).unwrap();
        let total = total.on_basis(Basis::Total).unwrap();
        assert_eq!(total.smoothing_weight(), None);
        let tip = |fan: &FanCurve| fan.points().last().map(|point| point.pressure.as_pa());
        let scaled = 1.21 * smooth.pressure(smooth.largest_flow()).as_pa();
        assert!((tip(&faster).unwrap() / scaled - 1.0).abs() < 1e-12);
    }

    /// The low case of a curve that follows from an estimate goes where the curve goes.
    #[test]
    fn prop_the_low_case_is_scaled_with_its_curve() {
        let (flow, pressure) = (VolumeFlow::from_m3_s(0.6), Pressure::from_pa(2500.0));
        let air = Density::from_kg_m3(1.2);
        let guess = FanCurve::from_extremes(flow, pressure, Fitted::NOTHING, air).unwrap();
        let outlet = crate::bore::Bore::Round(Length::from_m(0.2));
        let total = guess
            .with_outlet(outlet)
            .unwrap()
            .on_basis(Basis::Total)
            .unwrap();
        let slower = total.at_speed_ratio(0.5).unwrap().low_case().unwrap();
        let low = total.low_case().unwrap();
        assert!(low.pressure(0.5 * flow) < total.pressure(0.5 * flow));
        for share in [0.0, 0.3, 0.8] {
            let [quarter, whole] = [
                slower.pressure(0.5 * share * flow),
                low.pressure(share * flow),
            ];
            assert!((4.0 * quarter - whole).as_pa().abs() < 1e-9);
        }
    }

    use super::*;
    use crate::{
        PowerCurve,
        fan::Fitted,
        quantity::{Length, Power, Pressure, VolumeFlow},
    };
    use proptest::prelude::*;

    const AIR: Density = Density::from_kg_m3(1.2);

    fn column(key: &str) -> Vec<f64> {
        let text = include_str!("../../tests/data/fan_laws.json");
        let file: serde_json::Value = serde_json::from_str(text).unwrap();
        let row = file["similar_fans"][key].as_array().unwrap();
        row.iter().map(|number| number.as_f64().unwrap()).collect()
    }

    #[test]
    fn val_a_whole_textbook_curve_at_another_speed_size_and_density() {
        // Fox, McDonald & Pritchard, "Introduction to Fluid Mechanics", Example 10.11: the table
        // of the first fan as reproduced elsewhere, that of the second computed in Python from the
        // laws and printed to 1 cfm, 0.01 in wg and 0.1 hp: half a last digit. From memory the
        // book prints 11.0, 11.3, 10.5 ... in wg and 101 ... 211 hp.
        let density = Density::from_lb_ft3(0.075);
        let rows = column("flow_cfm").into_iter().zip(column("pressure_in_wg"));
        let rows = rows.map(|(q, p)| (VolumeFlow::from_cfm(q), Pressure::from_in_wg(p)));
        let first = FanCurve::new(rows, Basis::Total, Fitted::NOTHING, density).unwrap();
        let first = first.with_speed(RotationalSpeed::from_rpm(600.0)).unwrap();
        let second = first
            .at_speed(RotationalSpeed::from_rpm(1150.0))
            .and_then(|fan| fan.at_size_ratio(42.0 / 36.0))
            .and_then(|fan| fan.at_density(Density::from_lb_ft3(0.045)))
            .unwrap();
        assert_eq!(second.speed(), Some(RotationalSpeed::from_rpm(1150.0)));
        assert_eq!(second.points().len(), 7);
        let rows = column("flow2_cfm")
            .into_iter()
            .zip(column("pressure2_in_wg"));
        for (point, (q, p)) in second.points().zip(rows) {
            let (flow, pressure) = (point.flow.as_cfm(), point.pressure.as_in_wg());
            assert!((flow - q).abs() <= 0.5 && (pressure - p).abs() <= 0.005);
        }
        let rows = column("flow_cfm").into_iter().zip(column("power_hp"));
        let rows = rows.map(|(q, p)| (VolumeFlow::from_cfm(q), Power::from_hp(p)));
        let power = PowerCurve::new(rows, density)
            .and_then(|power| power.at_speed_ratio(1150.0 / 600.0))
            .and_then(|power| power.at_size_ratio(42.0 / 36.0))
            .and_then(|power| power.at_density(Density::from_lb_ft3(0.045)))
            .unwrap();
        let rows = column("flow2_cfm").into_iter().zip(column("power2_hp"));
        for (point, (q, p)) in power.points().zip(rows) {
            let (flow, power) = (point.flow.as_cfm(), point.power.as_hp());
            assert!((flow - q).abs() <= 0.5 && (power - p).abs() <= 0.05);
        }
        // The three factors, computed in Python, to six digits.
        let n: f64 = 1150.0 / 600.0;
        let d: f64 = 42.0 / 36.0;
        let (speed, size) = (Factors::of_speed(n).unwrap(), Factors::of_size(d).unwrap());
        for (factor, printed) in [
            (speed.flow * size.flow, 3.04360),
            (0.6 * speed.pressure * size.pressure, 3.00012),
            (0.6 * speed.power * size.power, 9.13114),
        ] {
            assert!((factor - printed).abs() <= 0.5e-5, "{factor}");
        }
    }

    #[test]
    fn val_warm_air_at_constant_speed() {
        // Stoecker & Jones, "Refrigeration and Air Conditioning", ch. 6, read: 20 r/s, 2.4 m3/s,
        // 340 Pa and 1.8 kW at 20 C; at 40 C and the same speed 1.685 kW. Printed to 1 W. The
        // pressure, 318 Pa, is computed in Python with their 293/313, printed to 1 Pa.
        let cold = Density::from_kg_m3(1.2);
        let warm = 293.0 / 313.0 * cold;
        let flow = VolumeFlow::from_m3_s(2.4);
        let flows = [1.0, 2.4, 3.0].map(VolumeFlow::from_m3_s);
        let level = flows.map(|flow| (flow, Power::from_kw(1.8)));
        let power = PowerCurve::new(level, cold).unwrap().at_density(warm);
        assert!((power.unwrap().at(flow).as_kw() - 1.685).abs() <= 0.5e-3);
        let level = flows.map(|flow| (flow, Pressure::from_pa(340.0)));
        let fan = FanCurve::new(level, Basis::Total, Fitted::NOTHING, cold).unwrap();
        let fan = fan.at_density(warm).unwrap();
        assert!((fan.pressure(flow).as_pa() - 318.0).abs() <= 0.5);
        assert_eq!(fan.density(), warm);
    }

    fn round(metres: f64) -> Bore {
        Bore::Round(Length::from_m(metres))
    }

    type Law = fn(&FanCurve, f64) -> Result<FanCurve, FanError>;

    /// Three to nine points, with or without a hump.
    fn tables() -> impl Strategy<Value = FanCurve> {
        let step = (0.02..0.3f64, 0.0..3000.0f64);
        (
            prop::collection::vec(step, 3..10),
            0.0..0.2f64,
            0.12..0.4f64,
        )
            .prop_map(|(steps, first, outlet)| {
                let mut q = first;
                let points: Vec<_> = steps
                    .into_iter()
                    .map(|(width, p)| {
                        q += width;
                        (VolumeFlow::from_m3_s(q), Pressure::from_pa(p + 1.0))
                    })
                    .collect();
                let fan = FanCurve::new(points, Basis::Static, Fitted::ALL, AIR);
                fan.and_then(|fan| fan.with_outlet(round(outlet))).unwrap()
            })
    }

    fn estimate() -> FanCurve {
        let (flow, pressure) = (VolumeFlow::from_m3_s(0.5), Pressure::from_pa(2500.0));
        FanCurve::from_extremes(flow, pressure, Fitted::ALL, AIR)
            .and_then(|fan| fan.with_outlet(round(0.2)))
            .and_then(|fan| fan.with_speed(RotationalSpeed::from_rpm(2850.0)))
            .unwrap()
    }

    /// Whether two curves are alike to `share` of the largest pressure, points and between.
    fn alike(a: &FanCurve, b: &FanCurve, share: f64) -> bool {
        let q = a.largest_flow().as_m3_s();
        let size = a.points().chain(b.points());
        let size = size.fold(0.0, |size: f64, at| size.max(at.pressure.as_pa().abs()));
        // rounding of the flow at which both are asked counts as steeply as the curve
        let steep = a
            .curve
            .knots()
            .fold(0.0, |steep: f64, at| steep.max(at.slope.abs()));
        a.points().len() == b.points().len()
            && a.basis == b.basis
            && a.fitted == b.fitted
            && a.is_estimate() == b.is_estimate()
            && (0..=300).all(|i| {
                let flow = VolumeFlow::from_m3_s(q * f64::from(i) / 300.0);
                let gap = (a.pressure(flow) - b.pressure(flow)).as_pa().abs();
                gap <= share * (size + steep * q)
            })
    }

    proptest! {
        #[test]
        fn prop_the_whole_curve_on_another_basis_is_the_pressure_told_on_it(
            fan in tables(), pipe in 0.12..0.4f64, share in 0.0..=1.0f64,
        ) {
            let bases = [Basis::Total, Basis::Static, Basis::TestPipe { bore: round(pipe) }];
            let (first, last) = (fan.curve.first().x, fan.curve.last().x);
            let flow = VolumeFlow::from_m3_s((first + share * (last - first)).min(last));
            for from in bases {
                let there = fan.on_basis(from).unwrap();
                prop_assert_eq!(there.points().len(), fan.points().len());
                for to in bases {
                    let told = there.on_basis(to).unwrap();
                    let (one, other) = (told.pressure(flow), there.pressure_on(to, flow).unwrap());
                    let size = 3001.0 + 1.2 * (last / fan.outlet.unwrap().area().as_m2().min(0.0113)).powi(2);
                    prop_assert!((one - other).as_pa().abs() <= 4e-15 * size);
                    prop_assert!(alike(&told.on_basis(from).unwrap(), &there, 1e-14));
                }
            }
        }

        #[test]
        fn prop_laws_compose_and_undo(fan in tables(), a in 0.3..3.0f64, b in 0.3..3.0f64) {
            let pipe = Basis::TestPipe { bore: round(0.2) };
            let fans = [fan.clone(), fan.on_basis(Basis::Total).unwrap(), fan.on_basis(pipe).unwrap(), estimate()];
            for fan in fans {
                let laws: [Law; 3] = [
                    |fan, ratio| fan.at_speed_ratio(ratio),
                    |fan, ratio| fan.at_size_ratio(ratio),
                    |fan, ratio| fan.at_density(ratio * fan.density()),
                ];
                for law in laws {
                    let (twice, once) = (law(&law(&fan, a).unwrap(), b).unwrap(), law(&fan, a * b).unwrap());
                    prop_assert!(alike(&without_pipe(&twice), &without_pipe(&once), 1e-13));
                    let back = law(&law(&fan, a).unwrap(), 1.0 / a).unwrap();
                    prop_assert!(alike(&without_pipe(&back), &without_pipe(&fan), 1e-13));
                }
                // the laws commute with the change of basis
                let scaled = fan.at_size_ratio(a).unwrap().at_speed_ratio(b).unwrap();
                let total = fan.on_basis(Basis::Total).unwrap();
                let total = total.at_speed_ratio(b).unwrap().at_size_ratio(a).unwrap();
                prop_assert!(alike(&scaled.on_basis(Basis::Total).unwrap(), &total, 1e-13));
            }
        }

        #[test]
        fn prop_no_ratio_panics(ratio in any::<f64>(), density in any::<f64>(), speed in any::<f64>(), bore in any::<f64>()) {
            let (density, speed) = (Density::from_kg_m3(density), RotationalSpeed::from_rpm(speed));
            let basis = Basis::TestPipe { bore: round(bore) };
            let total = estimate().on_basis(Basis::Total).unwrap();
            for fan in [estimate(), total] {
                for scaled in [
                    fan.at_speed_ratio(ratio), fan.at_size_ratio(ratio), fan.at_density(density),
                    fan.at_speed(speed), fan.on_basis(basis),
                ] {
                    match scaled {
                        Ok(scaled) => prop_assert!(scaled.is_estimate() && scaled.pressure(scaled.largest_flow()).is_finite()),
                        Err(error) => prop_assert!(!error.to_string().is_empty()),
                    }
                }
            }
        }
    }

    /// A curve without the size of its test pipe, of which two may differ by a rounding.
    fn without_pipe(fan: &FanCurve) -> FanCurve {
        let basis = match fan.basis {
            Basis::TestPipe { .. } => Basis::Static,
            basis => basis,
        };
        FanCurve {
            basis,
            ..fan.clone()
        }
    }

    #[test]
    fn prop_a_scaled_table_is_the_table_of_scaled_points() {
        let points = [(0.0, 900.0), (0.3, 950.0), (0.7, 500.0)];
        let table = |q: f64, p: f64| {
            let points =
                points.map(|at| (VolumeFlow::from_m3_s(q * at.0), Pressure::from_pa(p * at.1)));
            FanCurve::new(points, Basis::Static, Fitted::ALL, AIR).unwrap()
        };
        let fan = table(1.0, 1.0);
        assert_eq!(fan.at_speed_ratio(1.3), Ok(table(1.3, 1.3 * 1.3)));
        let denser = fan.at_density(0.8 * AIR).unwrap();
        assert_eq!(denser.curve, table(1.0, 0.8 * AIR / AIR).curve);
    }

    #[test]
    fn prop_what_a_curve_knows_of_itself_is_kept() {
        let fan = estimate();
        let faster = fan.at_speed(RotationalSpeed::from_rpm(3420.0)).unwrap();
        assert_eq!(faster.speed(), Some(RotationalSpeed::from_rpm(3420.0)));
        assert_eq!(
            (faster.outlet(), faster.fitted()),
            (fan.outlet(), Fitted::ALL)
        );
        let twice = fan.at_size_ratio(2.0).unwrap();
        assert_eq!(twice.outlet(), Some(round(0.4)));
        assert_eq!(twice.speed(), fan.speed());
        // the low case of the scaled estimate is the scaled low case, on any basis
        let low = fan.low_case().unwrap();
        let total = faster.on_basis(Basis::Total).unwrap().low_case().unwrap();
        assert!(total.is_estimate() && total.low_case().is_none());
        let other = low
            .on_basis(Basis::Total)
            .and_then(|low| low.at_speed_ratio(1.2));
        assert!(alike(&total, &other.unwrap(), 1e-14));
        let static_again = total.on_basis(Basis::Static).unwrap();
        assert!(alike(
            &static_again,
            &low.at_speed_ratio(1.2).unwrap(),
            1e-14
        ));
    }

    #[test]
    fn prop_what_cannot_be_scaled_is_refused() {
        let fan = estimate();
        let refused = FanCurve {
            speed: None,
            ..fan.clone()
        };
        let to = RotationalSpeed::from_rpm(3420.0);
        assert_eq!(refused.at_speed(to), Err(FanError::NoSpeed { to }));
        for bad in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            let not = |refused| matches!(refused, Err(FanError::NotAboveZero { .. }));
            assert!(not(fan.at_speed_ratio(bad)) && not(fan.at_size_ratio(bad)));
            assert!(not(fan.at_speed(RotationalSpeed::from_rpm(bad))));
            assert!(not(fan.clone().with_speed(RotationalSpeed::from_rpm(bad))));
            let density = fan.at_density(Density::from_kg_m3(bad));
            assert!(matches!(density, Err(FanError::Density { .. })));
        }
        assert_eq!(
            fan.at_speed_ratio(-1.0).unwrap_err().to_string(),
            "the speed ratio is -1 (new over old); it must be a finite number above zero"
        );
        let bare = FanCurve {
            outlet: None,
            ..fan
        };
        let (from, to) = (Basis::Static, Basis::Total);
        assert_eq!(bare.on_basis(to), Err(FanError::NoOutlet { from, to }));
    }
}
