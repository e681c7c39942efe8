//! Power: of the air, the shaft and the motor, and what a year of it costs.

use super::{
    Basis, FanCurve, FanError,
    curve::{check_count, check_flow, checked_density, overflow},
    laws::{Factors, checked_speed, scaled, speed_ratio},
};
use crate::{
    curve1d::{Curve1d, Knot},
    quantity::{Density, Power, Pressure, RotationalSpeed, VolumeFlow},
};

/// A point of a power curve.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct PowerPoint {
    /// Flow through the fan.
    pub flow: VolumeFlow,
    /// Power of its shaft there.
    pub power: Power,
}

impl From<Knot> for PowerPoint {
    fn from(knot: Knot) -> Self {
        Self {
            flow: VolumeFlow::from_m3_s(knot.x),
            power: Power::from_w(knot.y),
        }
    }
}

/// Shaft power of a fan over its flow, at one speed and one air density.
///
/// Between the points runs the same shape-preserving cubic as through a [`FanCurve`], beyond both
/// ends the straight line with the slope there. Where the power is largest depends on the wheel:
/// with radial and forward-curved blades at the largest flow, so that a motor chosen for the
/// working point is overloaded when a duct comes off; with backward-curved blades within the
/// curve. Common practice, no source: ask [`PowerCurve::peak`].
///
/// As text (TOML here):
///
/// ```toml
/// density = "1.2 kg/m3"
/// speed = "3450 rpm"
/// points = [["0 cfm", "1.1 hp"], ["500 cfm", "2.1 hp"], ["1200 cfm", "3.2 hp"]]
/// ```
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(try_from = "PowerText", into = "PowerText")
)]
pub struct PowerCurve {
    /// W over m3/s.
    curve: Curve1d,
    density: Density,
    speed: Option<RotationalSpeed>,
}

impl PowerCurve {
    /// The curve through `points` of flow and shaft power, measured in air of `density`.
    ///
    /// # Errors
    /// Names the first point that is wrong, counted from 1. There must be three points or more, and
    /// at most [`FanCurve::MOST_POINTS`];
    /// flows finite, zero or more, each larger than the one before; powers finite, zero or more;
    /// density finite and above zero.
    pub fn new(
        points: impl IntoIterator<Item = (VolumeFlow, Power)>,
        density: Density,
    ) -> Result<Self, FanError> {
        let (q_m3s, p_w): (Vec<f64>, Vec<f64>) = points
            .into_iter()
            .take(FanCurve::MOST_POINTS + 1)
            .map(|(flow, power)| (flow.as_m3_s(), power.as_w()))
            .unzip();
        check_count(q_m3s.len())?;
        if q_m3s.len() < 3 {
            return Err(FanError::TooFewPowers { got: q_m3s.len() });
        }
        let mut before = None;
        for (index, (&q, &p)) in q_m3s.iter().zip(&p_w).enumerate() {
            check_point(index + 1, q, p, before)?;
            before = Some(q);
        }
        Ok(Self {
            curve: Curve1d::pchip(&q_m3s, &p_w).map_err(overflow)?,
            density: checked_density(density)?,
            speed: None,
        })
    }

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

    /// The points, flow rising.
    pub fn points(&self) -> impl ExactSizeIterator<Item = PowerPoint> {
        self.curve.knots().map(PowerPoint::from)
    }

    /// Density of the air in which the curve holds.
    #[must_use]
    pub fn density(&self) -> Density {
        self.density
    }

    /// The speed at which the curve holds, if it is known.
    #[must_use]
    pub fn speed(&self) -> Option<RotationalSpeed> {
        self.speed
    }

    /// Shaft power at `flow`; straight on beyond both ends, where it may even be negative.
    #[must_use]
    pub fn at(&self, flow: VolumeFlow) -> Power {
        Power::from_w(self.curve.at(flow.as_m3_s()).value)
    }

    /// The largest power from the first point to the last; of several alike, the first.
    #[must_use]
    pub fn peak(&self) -> PowerPoint {
        self.curve.maximum().into()
    }

    /// Shaft power of the same fan at another speed.
    ///
    /// # Errors
    /// [`FanError::NoSpeed`] when the curve does not know its own speed; else as
    /// [`PowerCurve::at_speed_ratio`].
    pub fn at_speed(&self, speed: RotationalSpeed) -> Result<Self, FanError> {
        let ratio = speed_ratio(self.speed, speed)?;
        self.at_speed_ratio(ratio)?.with_speed(speed)
    }

    /// Shaft power of the same fan at `ratio` times its speed: flow times `ratio`, power times
    /// its cube. Source of the fan laws: at [`FanCurve`].
    ///
    /// # Errors
    /// [`FanError::NotAboveZero`] unless the ratio is finite and above zero;
    /// [`FanError::TooSteep`] when the scaled numbers are no curve.
    pub fn at_speed_ratio(&self, ratio: f64) -> Result<Self, FanError> {
        let curve = self.scaled(Factors::of_speed(ratio)?)?;
        match self.speed {
            Some(speed) => curve.with_speed(ratio * speed),
            None => Ok(curve),
        }
    }

    /// Shaft power of a similar fan `ratio` times as large at the same speed: flow times the cube,
    /// power times the fifth power of `ratio`.
    ///
    /// # Errors
    /// As [`PowerCurve::at_speed_ratio`].
    pub fn at_size_ratio(&self, ratio: f64) -> Result<Self, FanError> {
        self.scaled(Factors::of_size(ratio)?)
    }

    /// Shaft power of the same fan at the same speed in air of another density, in proportion
    /// to it.
    ///
    /// # Errors
    /// [`FanError::Density`] unless the density is finite and above zero; [`FanError::TooSteep`]
    /// when the scaled numbers are no curve.
    pub fn at_density(&self, density: Density) -> Result<Self, FanError> {
        let curve = self.scaled(Factors::of_density(self.density, density)?)?;
        Ok(Self { density, ..curve })
    }

    fn scaled(&self, by: Factors) -> Result<Self, FanError> {
        Ok(Self {
            curve: scaled(&self.curve, by.flow, by.power)?,
            ..self.clone()
        })
    }
}

fn check_point(point: usize, q_m3s: f64, p_w: f64, before: Option<f64>) -> Result<(), FanError> {
    check_flow(point, q_m3s, before, ("power", p_w, "W"))?;
    if p_w < 0.0 {
        let power = Power::from_w(p_w);
        return Err(FanError::NegativePower { point, power });
    }
    Ok(())
}

/// A power curve as it is written.
#[cfg(feature = "serde")]
#[derive(serde::Serialize, serde::Deserialize)]
#[serde(deny_unknown_fields)]
struct PowerText {
    density: Density,
    #[serde(skip_serializing_if = "Option::is_none")]
    speed: Option<RotationalSpeed>,
    points: Vec<(VolumeFlow, Power)>,
}

#[cfg(feature = "serde")]
impl TryFrom<PowerText> for PowerCurve {
    type Error = FanError;

    fn try_from(text: PowerText) -> Result<Self, FanError> {
        let curve = Self::new(text.points, text.density)?;
        match text.speed {
            Some(speed) => curve.with_speed(speed),
            None => Ok(curve),
        }
    }
}

#[cfg(feature = "serde")]
impl From<PowerCurve> for PowerText {
    fn from(curve: PowerCurve) -> Self {
        Self {
            density: curve.density,
            speed: curve.speed,
            points: curve.points().map(|at| (at.flow, at.power)).collect(),
        }
    }
}

/// A motor and what lies between it and the fan's shaft. Its numbers are judged where it is used.
///
/// ```
/// use airsplit::{FanPower, Motor, Power, Pressure, VolumeFlow};
/// # fn main() -> Result<(), airsplit::FanError> {
/// let motor = Motor { rated: Power::from_kw(6.0), drive_efficiency: 0.95, motor_efficiency: 0.87 };
/// let (flow, pressure) = (VolumeFlow::from_m3_s(1.44), Pressure::from_pa(1992.0));
/// let power = FanPower::from_efficiency(flow, pressure, 0.60, motor)?;
/// assert!((power.motor_input.as_kw() - 5.78).abs() < 0.01);
/// assert!((power.load - 0.84).abs() < 0.01);
/// // 1000 hours at 0.15 for the kilowatt-hour
/// assert!((power.cost(1000.0, 0.15) - 868.0).abs() < 1.0);
/// # Ok(())
/// # }
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
pub struct Motor {
    /// Power that the motor may give at its shaft for ever, as on its name plate.
    pub rated: Power,
    /// Fan shaft power over motor shaft power: 1 on the motor's own shaft, less over a belt.
    /// Above 0, at most 1.
    pub drive_efficiency: f64,
    /// Motor shaft power over electric power. Above 0, at most 1.
    pub motor_efficiency: f64,
}

impl Motor {
    /// Share of its rating at which the motor runs when the fan's shaft takes `shaft`: above 1 it
    /// is overloaded. With [`PowerCurve::peak`], the worst of all flows.
    ///
    /// # Errors
    /// [`FanError::NotAboveZero`] for the rating, [`FanError::Efficiency`] for either efficiency
    /// out of range.
    pub fn load(&self, shaft: Power) -> Result<f64, FanError> {
        let rated = self.rated.as_w();
        if !(rated.is_finite() && rated > 0.0) {
            return Err(FanError::NotAboveZero {
                what: "rated power of the motor",
                value: rated,
                unit: "W",
            });
        }
        checked_efficiency("motor", self.motor_efficiency)?;
        let drive = checked_efficiency("drive", self.drive_efficiency)?;
        Ok(shaft / drive / self.rated)
    }
}

fn checked_efficiency(what: &'static str, value: f64) -> Result<f64, FanError> {
    if value > 0.0 && value <= 1.0 {
        Ok(value)
    } else {
        Err(FanError::Efficiency { what, value })
    }
}

/// What a fan and its motor take at one flow.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct FanPower {
    /// Flow through the fan.
    pub flow: VolumeFlow,
    /// Power of the air: flow times fan total pressure.
    pub air_power: Power,
    /// Power of the fan's shaft.
    pub shaft_power: Power,
    /// Air power over shaft power, 0 to 1: the total efficiency of the fan.
    pub efficiency: f64,
    /// Electric power of the motor.
    pub motor_input: Power,
    /// Motor shaft power over the motor's rating: above 1 it is overloaded.
    pub load: f64,
    /// Whether the flow lies beyond the points of the fan curve or of the power curve, where both
    /// are only continued.
    pub beyond_points: bool,
}

impl FanPower {
    /// At `flow` on the curve of a fan and of its shaft power; the latter is taken at the air
    /// density of the fan curve.
    ///
    /// Air power is flow times fan TOTAL pressure, whatever the basis of the curve. Over static
    /// pressure one gets the smaller "static efficiency". Source: P = Q dp / efficiency,
    /// elementary; in customary units the reading is air hp = cfm x in wg / 6356 (of the trade's
    /// texts, read), whose constant is 33000 x 12 / 62.3 with water at 70 F.
    ///
    /// # Errors
    /// [`FanError::NoOutlet`] when the curve is not of fan total pressure and does not know its
    /// outlet; [`FanError::SpeedsDiffer`] when both curves tell their speed and the two differ by
    /// more than rounding; [`FanError::MoreThanTheShaft`] when the efficiency would not lie
    /// between 0 and 1; the motor's as [`Motor::load`].
    pub fn new(
        fan: &FanCurve,
        power: &PowerCurve,
        motor: Motor,
        flow: VolumeFlow,
    ) -> Result<Self, FanError> {
        if let (Some(of_fan), Some(of_power)) = (fan.speed(), power.speed)
            && (of_fan / of_power - 1.0).abs() > 1e-9
        {
            return Err(FanError::SpeedsDiffer {
                fan: of_fan,
                power: of_power,
            });
        }
        let pressure = fan.pressure_on(Basis::Total, flow)?;
        let q_m3s = flow.as_m3_s();
        let within = |curve: &Curve1d| curve.first().x <= q_m3s && q_m3s <= curve.last().x;
        let shaft = power.at_density(fan.density())?.at(flow);
        Ok(Self {
            beyond_points: !(within(fan.curve()) && within(&power.curve)),
            ..Self::of_shaft(flow, pressure, shaft, motor)?
        })
    }

    /// At `flow` and fan total pressure, the efficiency of the fan being known (of total
    /// pressure) and not its curves.
    ///
    /// # Errors
    /// [`FanError::Efficiency`] unless it is above 0 and at most 1;
    /// [`FanError::MoreThanTheShaft`] when flow or pressure are not finite or below zero; the
    /// motor's as [`Motor::load`].
    pub fn from_efficiency(
        flow: VolumeFlow,
        fan_total_pressure: Pressure,
        efficiency: f64,
        motor: Motor,
    ) -> Result<Self, FanError> {
        let efficiency = checked_efficiency("fan", efficiency)?;
        let shaft = air_power(flow, fan_total_pressure) / efficiency;
        let power = Self::of_shaft(flow, fan_total_pressure, shaft, motor)?;
        Ok(Self {
            efficiency,
            ..power
        })
    }

    fn of_shaft(
        flow: VolumeFlow,
        fan_total_pressure: Pressure,
        shaft: Power,
        motor: Motor,
    ) -> Result<Self, FanError> {
        let load = motor.load(shaft)?;
        let air = air_power(flow, fan_total_pressure);
        let (air_w, shaft_w) = (air.as_w(), shaft.as_w());
        // also false for what is not a number; no air and no shaft power is a fan at rest
        if !(flow.as_m3_s() >= 0.0 && air_w >= 0.0 && air_w <= shaft_w && shaft_w.is_finite()) {
            return Err(FanError::MoreThanTheShaft { flow, air, shaft });
        }
        Ok(Self {
            flow,
            air_power: air,
            shaft_power: shaft,
            efficiency: if shaft_w > 0.0 { air_w / shaft_w } else { 0.0 },
            motor_input: shaft / motor.drive_efficiency / motor.motor_efficiency,
            load,
            beyond_points: false,
        })
    }

    /// Electric energy \[kWh\] that this point takes in so many `hours`.
    ///
    /// A year of a hobby shop may have 200 hours, a trade shop 2000: judgement, no source.
    #[must_use]
    pub fn energy_kwh(&self, hours: f64) -> f64 {
        self.motor_input.as_kw() * hours
    }

    /// What that energy costs in so many hours, in the money of `price_per_kwh`.
    #[must_use]
    pub fn cost(&self, hours: f64, price_per_kwh: f64) -> f64 {
        self.energy_kwh(hours) * price_per_kwh
    }
}

fn air_power(flow: VolumeFlow, fan_total_pressure: Pressure) -> Power {
    Power::from_w(flow.as_m3_s() * fan_total_pressure.as_pa())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{bore::Bore, fan::Fitted, quantity::Length};
    use proptest::prelude::*;

    const MOTOR: Motor = Motor {
        rated: Power::from_kw(6.0),
        drive_efficiency: 0.95,
        motor_efficiency: 0.87,
    };

    fn column(key: &str) -> Vec<f64> {
        let text = include_str!("../../tests/data/fan_laws.json");
        let file: serde_json::Value = serde_json::from_str(text).unwrap();
        let row = file["similar_fans"][key].as_array().unwrap();
        row.iter().map(|number| number.as_f64().unwrap()).collect()
    }

    /// The first fan of Fox, McDonald & Pritchard, Example 10.11, as reproduced elsewhere.
    fn textbook() -> (FanCurve, PowerCurve) {
        let flows = || column("flow_cfm").into_iter().map(VolumeFlow::from_cfm);
        let pressures = column("pressure_in_wg")
            .into_iter()
            .map(Pressure::from_in_wg);
        let powers = column("power_hp").into_iter().map(Power::from_hp);
        let air = Density::STANDARD_AIR;
        let fan = FanCurve::new(flows().zip(pressures), Basis::Total, Fitted::NOTHING, air);
        let power = PowerCurve::new(flows().zip(powers), air);
        (fan.unwrap(), power.unwrap())
    }

    #[test]
    fn val_efficiency_of_a_textbook_fan() {
        // Fox, McDonald & Pritchard, Example 10.11, as reproduced elsewhere. flow * pressure / 6356
        // / power, computed in Python and printed to 0.1 %, with inches of 62.3 lb/ft3: ours of 1000
        // kg/m3 are 62.428/62.3 heavier. The book's own column was read off its graph: within a
        // percent, but for 37 where the table's own numbers make 39.1.
        let (fan, power) = textbook();
        let rows = column("flow_cfm").into_iter();
        let rows = rows.zip(column("efficiency_of_powers_percent"));
        let heavier = 1000.0 / Density::from_lb_ft3(62.3).as_kg_m3();
        for ((cfm, computed), read) in rows.zip(column("efficiency_percent")) {
            let at = FanPower::new(&fan, &power, MOTOR, VolumeFlow::from_cfm(cfm)).unwrap();
            let percent = 100.0 * at.efficiency;
            // half a last digit, and 0.005 for 6356 in place of 6356.34
            assert!((percent / heavier - computed).abs() <= 0.055, "{percent}");
            let off_the_graph = if read == 37.0 { 2.3 } else { 1.0 };
            assert!((percent - read).abs() <= off_the_graph, "{percent}");
            assert!(!at.beyond_points);
        }
        // Read in the table: 23.1 hp at 40 000 and at 50 000 cfm is its most.
        assert_eq!(power.peak().power, Power::from_hp(23.1));
        assert_eq!(power.peak().flow, VolumeFlow::from_cfm(40_000.0));
    }

    #[test]
    fn val_the_constant_of_air_horsepower() {
        // cfm x in wg / 6356 is the air's horsepower with water of 62.3 lb/ft3: exactly
        // 33000 * 12 / 62.3 = 6356.34 (read as 6356). With 62.43 lb/ft3 it is 6343, and
        // 1 cfm x 1 in wg of ours is 0.11756 W; both computed in Python and printed so.
        let unit = air_power(VolumeFlow::from_cfm(1.0), Pressure::from_in_wg(1.0));
        assert!((unit.as_w() - 0.11756).abs() <= 0.5e-5);
        assert!((unit.as_hp().recip() - 6343.0).abs() <= 0.5);
        let light = Density::from_lb_ft3(62.3).as_kg_m3() / 1000.0;
        let constant = (light * unit).as_hp().recip();
        assert!((constant - 33_000.0 * 12.0 / 62.3).abs() <= 1e-9 * constant);
        assert!((constant - 6356.0).abs() <= 0.5);
    }

    #[test]
    fn val_running_cost_of_a_published_exhaust_fan() {
        // 2021 ASHRAE Handbook - Fundamentals (SI), ch. 21, Example 9, read: 1.44 m3/s, fan total
        // 1992 Pa, 6 kW motor. Air power 2868 W, and with efficiencies of 0.60, 0.95 and 0.87
        // 5.78 kW, 868 a thousand hours at 0.15: computed in Python, printed to the last digit. Of
        // 60 % alone: 4.8 kW at the shaft. Of its rating the motor runs at 2868 / 0.6 / 0.95 / 6000 = 0.839.
        let (flow, pressure) = (VolumeFlow::from_m3_s(1.44), Pressure::from_pa(1992.0));
        let at = FanPower::from_efficiency(flow, pressure, 0.60, MOTOR).unwrap();
        assert!((at.air_power.as_w() - 2868.0).abs() <= 0.5);
        assert!((at.shaft_power.as_kw() - 4.8).abs() <= 0.05);
        assert!((at.motor_input.as_kw() - 5.78).abs() <= 0.005);
        assert!((at.cost(1000.0, 0.15) - 868.0).abs() <= 0.5);
        assert!((at.load - 0.839).abs() <= 0.0005);
        // At no flow the air gets nothing of nothing: the efficiency is still the one told.
        let rest = VolumeFlow::from_m3_s(0.0);
        let rest = FanPower::from_efficiency(rest, pressure, 0.60, MOTOR).unwrap();
        assert_eq!((rest.efficiency, rest.load), (0.60, 0.0));
    }

    #[test]
    fn prop_a_power_curve_tells_what_it_was_told() {
        let (_, power) = textbook();
        assert_eq!(power.speed(), None);
        let speed = RotationalSpeed::from_rpm(600.0);
        assert_eq!(
            power.clone().with_speed(speed).unwrap().speed(),
            Some(speed)
        );
        let thin = 0.5 * power.density();
        let thinner = power.at_density(thin).unwrap();
        assert_eq!(thinner.density(), thin);
        assert_eq!(thinner.peak().power, 0.5 * power.peak().power);
        // A fan with its inlet shut may take next to nothing.
        let [shut, some, much] =
            [0.0, 1.0, 2.0].map(|x| (VolumeFlow::from_m3_s(x), Power::from_kw(x)));
        let free = PowerCurve::new([shut, some, much], Density::STANDARD_AIR).unwrap();
        assert_eq!(free.at(shut.0), Power::from_w(0.0));
    }

    #[test]
    fn prop_power_that_cannot_be_is_said() {
        let (fan, power) = textbook();
        let flow = VolumeFlow::from_cfm(20_000.0);
        // the power entered in kW where it was hp
        let points = power.points().map(|at| (at.flow, 0.5 * at.power));
        let half = PowerCurve::new(points, power.density()).unwrap();
        let error = FanPower::new(&fan, &half, MOTOR, flow).unwrap_err();
        assert!(error.to_string().starts_with(
            "at 20000 cfm the air would get 8229.0 W of a shaft power of 6935.0 W; it must get"
        ));
        // beyond the last point the fan would be driven by the air
        let far = VolumeFlow::from_cfm(70_000.0);
        let refused = FanPower::new(&fan, &power, MOTOR, far);
        assert!(matches!(refused, Err(FanError::MoreThanTheShaft { .. })));
        for bad in [0.0, -0.5, 1.01, f64::NAN] {
            let motor = Motor {
                drive_efficiency: bad,
                ..MOTOR
            };
            let refused = FanPower::new(&fan, &power, motor, flow);
            assert!(matches!(refused, Err(FanError::Efficiency { what, .. }) if what == "drive"));
            let motor = Motor {
                motor_efficiency: bad,
                ..MOTOR
            };
            let refused = FanPower::new(&fan, &power, motor, flow);
            assert!(matches!(refused, Err(FanError::Efficiency { what, .. }) if what == "motor"));
            let refused = FanPower::from_efficiency(flow, Pressure::from_pa(9.0), bad, MOTOR);
            assert!(matches!(refused, Err(FanError::Efficiency { what, .. }) if what == "fan"));
        }
        let motor = Motor {
            rated: Power::from_w(0.0),
            ..MOTOR
        };
        assert!(matches!(
            motor.load(Power::from_w(1.0)),
            Err(FanError::NotAboveZero { .. })
        ));
        let [slow, fast] = [600.0, 601.0].map(RotationalSpeed::from_rpm);
        let (fan, power) = (
            fan.with_speed(slow).unwrap(),
            power.with_speed(fast).unwrap(),
        );
        assert_eq!(
            FanPower::new(&fan, &power, MOTOR, flow),
            Err(FanError::SpeedsDiffer {
                fan: slow,
                power: fast
            })
        );
        assert!(FanPower::new(&fan.at_speed(fast).unwrap(), &power, MOTOR, flow).is_ok());
    }

    #[test]
    fn prop_every_fault_of_a_power_table_is_named() {
        let curve = |points: &[(f64, f64)]| {
            let points = points.iter();
            let points = points.map(|at| (VolumeFlow::from_cfm(at.0), Power::from_hp(at.1)));
            PowerCurve::new(points, Density::STANDARD_AIR).map_err(|error| error.to_string())
        };
        let refused = |points: &[(f64, f64)]| curve(points).unwrap_err();
        assert_eq!(
            refused(&[(0.0, 1.0), (1.0, 1.0)]),
            "a power curve needs 3 points or more, got 2"
        );
        assert_eq!(
            refused(&[(0.0, 1.0), (1.0, -2.0), (2.0, 1.0)]),
            "point 2: the power is -2 hp; it must be zero or more"
        );
        assert_eq!(
            refused(&[(0.0, 1.0), (1.0, f64::NAN), (2.0, 1.0)]),
            "point 2: the power is NaN W; it must be a finite number"
        );
        assert!(refused(&[(0.0, 1.0), (0.0, 2.0), (2.0, 1.0)]).starts_with("point 2: the flow"));
        assert!(refused(&[(-1.0, 1.0), (0.0, 2.0), (2.0, 1.0)]).starts_with("point 1: the flow"));
        let level = curve(&[(0.0, 1.0), (1.0, 1.0), (2.0, 1.0)]).unwrap();
        let refused = level.at_density(Density::from_kg_m3(-1.0));
        assert!(matches!(refused, Err(FanError::Density { .. })));
        let to = RotationalSpeed::from_rpm(3.0);
        assert_eq!(level.at_speed(to), Err(FanError::NoSpeed { to }));
    }

    #[cfg(feature = "serde")]
    #[test]
    fn prop_reading_writing_reading_gives_the_same_power() {
        let (_, power) = textbook();
        let faster = power.with_speed(RotationalSpeed::from_rpm(600.0)).unwrap();
        let text = toml::to_string(&faster.at_speed_ratio(1.1).unwrap()).unwrap();
        let again: PowerCurve = toml::from_str(&text).unwrap();
        assert_eq!(again, faster.at_speed_ratio(1.1).unwrap());
        let motor = toml::to_string(&MOTOR).unwrap();
        assert_eq!(toml::from_str::<Motor>(&motor).unwrap(), MOTOR);
    }

    proptest! {
        #[test]
        fn prop_efficiency_keeps_under_the_fan_laws_and_in_its_bounds(
            share in 0.0..=1.0f64, speed in 0.5..2.0f64, size in 0.5..2.0f64, rho in 0.5..1.5f64,
            outlet in 0.8..3.0f64,
        ) {
            let (fan, power) = textbook();
            let fan = fan.with_outlet(Bore::Round(Length::from_m(outlet))).unwrap();
            let flow = share * fan.largest_flow();
            let here = FanPower::new(&fan, &power, MOTOR, flow).unwrap();
            prop_assert!((0.0..=1.0).contains(&here.efficiency));
            let scaled = fan.at_speed_ratio(speed).and_then(|fan| fan.at_size_ratio(size)).unwrap();
            let scaled = scaled.at_density(Density::from_kg_m3(rho)).unwrap();
            // the power is taken at the fan's density by itself
            let driven = power.at_speed_ratio(speed).and_then(|power| power.at_size_ratio(size)).unwrap();
            let flow = share * scaled.largest_flow();
            let there = FanPower::new(&scaled, &driven, MOTOR, flow).unwrap();
            prop_assert!((here.efficiency - there.efficiency).abs() <= 1e-12);
            // and does not depend on the basis on which the curve is told
            let told = scaled.on_basis(Basis::Static).unwrap();
            match FanPower::new(&told, &driven, MOTOR, flow) {
                Ok(told) => prop_assert!((told.efficiency - there.efficiency).abs() <= 1e-11),
                // at no pressure rounding decides the sign
                Err(_) => prop_assert!(there.efficiency <= 1e-11),
            }
            prop_assert!(there.load >= 0.0 && there.motor_input >= there.shaft_power);
            let most = MOTOR.load(driven.peak().power).unwrap();
            prop_assert!(MOTOR.load(driven.at(flow)).unwrap() <= most * (1.0 + 1e-12));
        }

        #[test]
        fn prop_no_power_panics(
            points in prop::collection::vec((any::<f64>(), any::<f64>()), 0..6), density in any::<f64>(),
            rated in any::<f64>(), drive in any::<f64>(), at in any::<f64>(), pressure in any::<f64>(),
        ) {
            let (flow, density) = (VolumeFlow::from_m3_s(at), Density::from_kg_m3(density));
            let motor = Motor { rated: Power::from_w(rated), drive_efficiency: drive, motor_efficiency: 1.0 };
            let (fan, power) = textbook();
            let _ = FanPower::from_efficiency(flow, Pressure::from_pa(pressure), 0.5, motor);
            let _ = power.at_density(density).map(|power| FanPower::new(&fan, &power, MOTOR, flow));
            let mut points: Vec<_> = points.into_iter().map(|(q, p)| (q.abs(), p.abs())).collect();
            points.sort_by(|a, b| a.0.total_cmp(&b.0));
            let points = points.into_iter().map(|(q, p)| (VolumeFlow::from_m3_s(q), Power::from_w(p)));
            match PowerCurve::new(points, density) {
                Ok(power) => {
                    if let Ok(at) = FanPower::new(&fan, &power, MOTOR, flow) {
                        prop_assert!((0.0..=1.0).contains(&at.efficiency));
                    }
                }
                Err(error) => prop_assert!(!error.to_string().is_empty()),
            }
        }
    }
}
