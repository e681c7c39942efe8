//! Any points: a typed error, or a curve that is finite, runs through its points, keeps their shape,
//! obeys the fan laws and is written and read again as itself.

use super::bytes::Bytes;
use airsplit::*;

pub(crate) fn holds(bytes: &[u8]) {
    let mut bytes = Bytes(bytes);
    match bytes.below(8) {
        0 => picture(&mut bytes),
        1 => power(&mut bytes),
        2 => smoothed(&mut bytes),
        3 => extremes(&mut bytes),
        _ => table(&mut bytes),
    }
}

fn told<T>(result: Result<T, FanError>) -> Option<T> {
    match result {
        Ok(value) => Some(value),
        Err(error) => {
            assert!(!error.to_string().is_empty());
            None
        }
    }
}

/// Whole points: of a usual size, or of any.
fn points(bytes: &mut Bytes<'_>) -> Vec<(VolumeFlow, Pressure)> {
    let count = bytes.below(12);
    let usual = !bytes.once_in(4);
    let mut flow = 0.0;
    let mut all = Vec::new();
    for _ in 0..count {
        let (q, p) = if usual {
            let at = (flow, bytes.between(0.0, 5000.0));
            flow += bytes.spread(1e-6, 1.0);
            at
        } else {
            (bytes.wild(1e-6, 1.0), bytes.wild(1e-3, 1e4))
        };
        all.push((VolumeFlow::from_m3_s(q), Pressure::from_pa(p)));
    }
    if bytes.once_in(2) {
        all.sort_by(|a, b| a.0.as_m3_s().total_cmp(&b.0.as_m3_s()));
    }
    all
}

fn bore(bytes: &mut Bytes<'_>) -> Bore {
    Bore::Round(Length::from_m(bytes.wild(0.05, 1.0)))
}

fn basis(bytes: &mut Bytes<'_>) -> Basis {
    match bytes.below(3) {
        0 => Basis::Total,
        1 => Basis::Static,
        _ => Basis::TestPipe { bore: bore(bytes) },
    }
}

fn fan(bytes: &mut Bytes<'_>) -> Option<FanCurve> {
    let points = points(bytes);
    let density = Density::from_kg_m3(bytes.wild(0.8, 1.3));
    let fan = told(FanCurve::new(
        points.clone(),
        basis(bytes),
        Fitted::NOTHING,
        density,
    ))?;
    shape(&points, &fan);
    let fan = match bytes.once_in(2) {
        true => told(fan.with_outlet(bore(bytes)))?,
        false => fan,
    };
    Some(match bytes.once_in(4) {
        true => told(fan.with_speed(RotationalSpeed::from_rpm(bytes.wild(100.0, 5000.0))))?,
        false => fan,
    })
}

fn table(bytes: &mut Bytes<'_>) {
    let Some(fan) = fan(bytes) else { return };
    sound(&fan);
    let ratio = bytes.wild(0.1, 10.0);
    let laws = [
        fan.at_speed_ratio(ratio),
        fan.at_size_ratio(ratio),
        fan.at_density(ratio * fan.density()),
        fan.at_pressure_ratio(ratio),
        fan.at_speed(RotationalSpeed::from_rpm(bytes.wild(100.0, 5000.0))),
    ];
    // A density that ran out of digits has another ratio than was asked for.
    let denser = ratio * fan.density() / fan.density();
    let factors = [
        (ratio, ratio * ratio),
        (ratio.powi(3), ratio * ratio),
        (1.0, denser),
        (1.0, ratio),
    ];
    for (i, scaled) in laws.into_iter().enumerate() {
        let Some(scaled) = told(scaled) else { continue };
        sound(&scaled);
        let Some((of_flow, of_pressure)) = factors.get(i) else {
            continue;
        };
        for (before, after) in fan.points().zip(scaled.points()) {
            near(after.flow.as_m3_s(), before.flow.as_m3_s(), *of_flow);
            near(
                after.pressure.as_pa(),
                before.pressure.as_pa(),
                *of_pressure,
            );
        }
    }
    let other_basis = basis(bytes);
    if let Some(told_on) = told(fan.on_basis(other_basis)) {
        sound(&told_on);
    }
    if let Some(other) = self::fan(bytes) {
        for pair in [fan.in_series(&other), fan.in_parallel(&other)] {
            if let Some(pair) = told(pair) {
                sound(&pair.curve);
            }
        }
    }
}

/// A number that must be another one times a factor, unless one of them ran out of digits.
fn near(scaled: f64, number: f64, factor: f64) {
    let digits = |x: f64| (1e-290..1e290).contains(&x.abs());
    let wanted = number * factor;
    if [scaled, number, factor, wanted].into_iter().all(digits) {
        assert!(
            (scaled / wanted - 1.0).abs() < 1e-9,
            "{scaled:e}, {wanted:e}"
        );
    }
}

fn largest(fan: &FanCurve) -> f64 {
    let pressures = fan.points().map(|point| point.pressure.as_pa().abs());
    pressures.fold(0.0, f64::max)
}

/// Through its points, and between two of them nowhere above or below both.
fn shape(points: &[(VolumeFlow, Pressure)], fan: &FanCurve) {
    let slack = 1e-12 * largest(fan) + f64::MIN_POSITIVE;
    let falls = points.windows(2).all(|pair| pair[1].1 <= pair[0].1);
    assert!(!(falls && fan.rises()));
    for pair in points.windows(2) {
        let (from, to) = (pair[0].0.as_m3_s(), pair[1].0.as_m3_s());
        let ends = [pair[0].1.as_pa(), pair[1].1.as_pa()];
        let (low, high) = (ends[0].min(ends[1]), ends[0].max(ends[1]));
        assert_eq!(fan.pressure(pair[0].0), pair[0].1);
        for i in 0..=8 {
            let q = (from + (to - from) * f64::from(i) / 8.0).min(to);
            let p = fan.pressure(VolumeFlow::from_m3_s(q)).as_pa();
            assert!(low - slack <= p && p <= high + slack, "{p} at {q}");
        }
    }
}

/// Finite everywhere that a search goes, its own highest point, and the same after writing.
fn sound(fan: &FanCurve) {
    let first = fan
        .points()
        .next()
        .map_or(0.0, |point| point.flow.as_m3_s());
    let last = fan.largest_flow().as_m3_s();
    let peak = fan.peak();
    // Subnormal pressures have digits of a fixed size.
    let slack = 1e-9 * largest(fan).max(peak.pressure.as_pa().abs()) + f64::MIN_POSITIVE;
    assert!(peak.flow.is_finite() && peak.pressure.is_finite());
    assert!(fan.shut_off().is_finite());
    for i in 0..=24 {
        // To half as much again.
        let q = last * f64::from(i) / 16.0;
        let flow = VolumeFlow::from_m3_s(q);
        assert!(fan.pressure(flow).is_finite() && fan.slope(flow).is_finite());
        if (first..=last).contains(&q) {
            let here = fan.pressure(flow).as_pa();
            assert!(
                here <= peak.pressure.as_pa() + slack,
                "{here} at {q} in {fan:?}"
            );
        }
    }
    for share in [0.0, 0.3, 0.7, 1.0, 1.1] {
        let flows = fan.flows_at(share * peak.pressure);
        assert!(flows.windows(2).all(|pair| pair[0] < pair[1]));
        assert!(
            flows
                .iter()
                .all(|flow| (first..=last).contains(&flow.as_m3_s()))
        );
        assert!(share != 1.0 || !flows.is_empty());
    }
    if let Some(low) = fan.low_case() {
        assert!(low.pressure(low.largest_flow()).is_finite());
    }
    let text = toml::to_string(fan).unwrap_or_else(|error| panic!("{error}"));
    let again: FanCurve = toml::from_str(&text).unwrap_or_else(|e| panic!("{e}\n{text}"));
    assert_eq!(again, *fan, "{text}");
}

fn smoothed(bytes: &mut Bytes<'_>) {
    let count = bytes.below(40);
    let usual = !bytes.once_in(4);
    let (mut flow, mut pressure) = (0.0, 3000.0);
    let points: Vec<_> = (0..count)
        .map(|_| {
            let at = match usual {
                true => (flow, pressure),
                false => (bytes.wild(1e-3, 1.0), bytes.wild(1.0, 5e3)),
            };
            flow += bytes.spread(0.01, 0.1);
            pressure = (pressure - bytes.between(-50.0, 200.0)).max(0.0);
            (VolumeFlow::from_m3_s(at.0), Pressure::from_pa(at.1))
        })
        .collect();
    let density = Density::from_kg_m3(1.2);
    let fan = match bytes.once_in(2) {
        true => FanCurve::smoothed(points, Basis::Static, Fitted::ALL, density),
        false => {
            let weight = bytes.wild(1e-6, 1e12);
            FanCurve::smoothed_with_weight(points, weight, Basis::Static, Fitted::ALL, density)
        }
    };
    if let Some(fan) = told(fan) {
        assert!(fan.report.scatter.is_finite() && fan.report.weight.is_finite());
        sound(&fan.curve);
    }
}

fn extremes(bytes: &mut Bytes<'_>) {
    let flow = VolumeFlow::from_m3_s(bytes.wild(0.01, 10.0));
    let pressure = Pressure::from_pa(bytes.wild(10.0, 1e4));
    let density = Density::from_kg_m3(bytes.wild(0.5, 2.0));
    let fan = FanCurve::from_extremes(flow, pressure, Fitted::ALL, density);
    if let Some(fan) = told(fan) {
        sound(&fan);
        if let Some(total) =
            told(fan.with_outlet(bore(bytes))).and_then(|fan| told(fan.on_basis(Basis::Total)))
        {
            sound(&total);
        }
    }
}

fn power(bytes: &mut Bytes<'_>) {
    let points: Vec<_> = points(bytes)
        .into_iter()
        .map(|(flow, pressure)| (flow, Power::from_w(pressure.as_pa())))
        .collect();
    let density = Density::from_kg_m3(bytes.wild(0.8, 1.3));
    let Some(curve) = told(PowerCurve::new(points, density)) else {
        return;
    };
    assert!(curve.peak().power.is_finite());
    let ratio = bytes.wild(0.1, 10.0);
    for scaled in [
        curve.at_speed_ratio(ratio),
        curve.at_size_ratio(ratio),
        curve.at_density(Density::from_kg_m3(ratio)),
    ] {
        if let Some(scaled) = told(scaled) {
            assert!(scaled.peak().power.is_finite());
        }
    }
    let motor = Motor {
        rated: Power::from_w(bytes.wild(100.0, 1e4)),
        drive_efficiency: bytes.wild(0.5, 1.0),
        motor_efficiency: bytes.wild(0.5, 1.0),
    };
    let flow = VolumeFlow::from_m3_s(bytes.wild(1e-6, 1.0));
    let pressure = Pressure::from_pa(bytes.wild(1.0, 5e3));
    let known = FanPower::from_efficiency(flow, pressure, bytes.wild(0.1, 1.0), motor);
    let of_curve = fan(bytes).map(|fan| FanPower::new(&fan, &curve, motor, flow));
    for power in [Some(known), of_curve].into_iter().flatten() {
        if let Some(power) = told(power) {
            assert!((0.0..=1.0).contains(&power.efficiency), "{power:?}");
            assert!(power.shaft_power.is_finite() && power.air_power.is_finite());
        }
    }
}

fn picture(bytes: &mut Bytes<'_>) {
    let count = bytes.below(8);
    let usual = !bytes.once_in(4);
    let number = |bytes: &mut Bytes<'_>| match usual {
        true => bytes.between(0.0, 1000.0),
        false => bytes.wild(1e-3, 1e4),
    };
    let references: Vec<Reference> = (0..count)
        .map(|_| {
            let at = PickedPoint {
                x: number(bytes),
                y: number(bytes),
            };
            let flow = (!bytes.once_in(3)).then(|| VolumeFlow::from_m3_s(number(bytes)));
            let pressure = (!bytes.once_in(3)).then(|| Pressure::from_pa(number(bytes)));
            match (flow, pressure) {
                (Some(flow), Some(pressure)) => Reference::new(at, flow, pressure),
                (Some(flow), None) => Reference::of_flow(at, flow),
                (None, Some(pressure)) => Reference::of_pressure(at, pressure),
                // It tells nothing, which no axis may mind.
                (None, None) => {
                    let mut none = Reference::of_flow(at, VolumeFlow::default());
                    none.flow = None;
                    none
                }
            }
        })
        .collect();
    let mut scale = || bytes.pick(&[AxisScale::Linear, AxisScale::Logarithmic]);
    let (of_flow, of_pressure) = (scale(), scale());
    match Axes::fit(references, of_flow, of_pressure) {
        Ok(axes) => {
            let point = axes.read(PickedPoint { x: 500.0, y: 500.0 });
            let linear = of_flow == AxisScale::Linear && of_pressure == AxisScale::Linear;
            assert!(!linear || point.flow.is_finite() && point.pressure.is_finite());
        }
        Err(error) => assert!(!error.to_string().is_empty()),
    }
}
