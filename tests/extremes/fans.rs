//! Fan curves, their laws, smoothing, pictures and power.

use super::*;

fn curves() -> Vec<FanCurve> {
    let outlet = fan().with_outlet(round(150.0)).unwrap();
    let outlet = outlet
        .with_speed(RotationalSpeed::from_rpm(2900.0))
        .unwrap();
    let estimate = FanCurve::from_extremes(
        VolumeFlow::from_cfm(1200.0),
        Pressure::from_in_wg(10.0),
        Fitted::ALL,
        Density::from_kg_m3(1.2),
    );
    vec![fan(), outlet, estimate.unwrap()]
}

/// Whatever a curve was made of, it tells finite numbers.
fn sound(fan: &FanCurve) {
    for q in [0.0, 0.5, 1.0, 1.5] {
        let flow = q * fan.largest_flow();
        finite(fan.pressure(flow).as_pa());
        finite(fan.slope(flow));
    }
    finite(fan.peak().pressure.as_pa());
    for odd in ODD {
        assert!(
            fan.flows_at(Pressure::from_pa(odd))
                .iter()
                .all(|q| q.is_finite())
        );
        let _ = fan.pressure(VolumeFlow::from_m3_s(odd));
    }
}

#[test]
fn prop_tables_are_curves_or_refused() {
    let density = Density::from_kg_m3(1.2);
    for a in ODD {
        for b in ODD {
            for at in 0..3 {
                let mut points = [(0.0, 2000.0), (0.5, 1500.0), (1.0, 100.0)];
                points[at] = (if a == -1.0 { points[at].0 } else { a }, b);
                let points = points.map(|(q, p)| (VolumeFlow::from_m3_s(q), Pressure::from_pa(p)));
                let fan = FanCurve::new(points, Basis::Total, Fitted::ALL, density);
                value(fan).iter().for_each(sound);
                let power = points.map(|(q, p)| (q, Power::from_w(p.as_pa())));
                if let Some(power) = value(PowerCurve::new(power, density)) {
                    finite(power.peak().power.as_w());
                }
            }
            let estimate = FanCurve::from_extremes(
                VolumeFlow::from_m3_s(a),
                Pressure::from_pa(b),
                Fitted::ALL,
                density,
            );
            value(estimate).iter().for_each(sound);
        }
        let points = [(0.0, 2000.0), (0.5, 1500.0), (1.0, 100.0)];
        let points = points.map(|(q, p)| (VolumeFlow::from_m3_s(q), Pressure::from_pa(p)));
        let bore = Bore::Round(Length::from_m(a));
        let pipe = Basis::TestPipe { bore };
        let odd = Density::from_kg_m3(a);
        value(FanCurve::new(points, pipe, Fitted::ALL, density));
        value(FanCurve::new(points, Basis::Total, Fitted::ALL, odd))
            .iter()
            .for_each(sound);
        value(fan().with_outlet(bore));
        value(fan().with_speed(RotationalSpeed::from_rpm(a)));
    }
}

#[test]
fn prop_laws_make_curves_or_refuse() {
    for fan in curves() {
        for odd in ODD {
            let bore = Bore::Round(Length::from_m(odd));
            let made = [
                fan.at_speed(RotationalSpeed::from_rpm(odd)),
                fan.at_speed_ratio(odd),
                fan.at_size_ratio(odd),
                fan.at_density(Density::from_kg_m3(odd)),
                fan.at_pressure_ratio(odd),
                fan.on_basis(Basis::TestPipe { bore }),
            ];
            for made in made {
                let Some(made) = value(made) else { continue };
                sound(&made);
                for pair in [fan.in_series(&made), made.in_parallel(&fan)] {
                    value(pair).iter().for_each(|pair| sound(&pair.curve));
                }
            }
            let _ = value(fan.pressure_on(Basis::Total, VolumeFlow::from_m3_s(odd)));
        }
    }
}

#[test]
fn prop_smoothing_and_pictures_are_told_or_refused() {
    let density = Density::from_kg_m3(1.2);
    let table = |count: i32, odd_at: i32, odd: f64| {
        (0..count).map(move |i| {
            let q = f64::from(i) / f64::from(count);
            let p = if i == odd_at {
                odd
            } else {
                2000.0 * (1.0 - q * q)
            };
            (VolumeFlow::from_m3_s(q), Pressure::from_pa(p))
        })
    };
    for odd in ODD {
        for count in [0, 1, 3, 4, 30] {
            let smooth =
                FanCurve::smoothed(table(count, 2, odd), Basis::Total, Fitted::ALL, density);
            value(smooth).iter().for_each(|smooth| sound(&smooth.curve));
        }
        let points = table(30, -1, 0.0);
        let smooth =
            FanCurve::smoothed_with_weight(points, odd, Basis::Total, Fitted::ALL, density);
        value(smooth).iter().for_each(|smooth| sound(&smooth.curve));
        for scale in [AxisScale::Linear, AxisScale::Logarithmic] {
            for at in 0..4 {
                let mut numbers = [(10.0, 500.0), (800.0, 510.0), (20.0, 20.0), (790.0, 30.0)];
                if at % 2 == 0 {
                    numbers[at].0 = odd;
                } else {
                    numbers[at].1 = odd;
                }
                let references = numbers.map(|(x, y)| {
                    let at = PickedPoint { x, y };
                    let flow = VolumeFlow::from_m3_s(x.abs() / 1000.0 + 0.1);
                    Reference::new(at, flow, Pressure::from_pa(4000.0 - y))
                });
                if let Some(axes) = value(Axes::fit(references, scale, scale)) {
                    let middle = axes.read(PickedPoint { x: 400.0, y: 250.0 });
                    assert!(scale == AxisScale::Logarithmic || middle.pressure.is_finite());
                }
            }
        }
    }
    assert!(Axes::fit([], AxisScale::Linear, AxisScale::Linear).is_err());
}

#[test]
fn prop_power_is_told_or_refused() {
    let flow = VolumeFlow::from_m3_s(0.4);
    let points = [0.0, 0.4, 0.8].map(|q| (VolumeFlow::from_m3_s(q), Power::from_kw(2.0)));
    let curve = PowerCurve::new(points, Density::from_kg_m3(1.2)).unwrap();
    for a in ODD {
        for at in 0..3 {
            let mut numbers = [3000.0, 0.9, 0.9];
            numbers[at] = a;
            let motor = Motor {
                rated: Power::from_w(numbers[0]),
                drive_efficiency: numbers[1],
                motor_efficiency: numbers[2],
            };
            let _ = value(motor.load(Power::from_w(a)));
            for flow in [flow, VolumeFlow::from_m3_s(a)] {
                for fan in curves() {
                    if let Some(power) = value(FanPower::new(&fan, &curve, motor, flow)) {
                        assert!((0.0..=1.0).contains(&power.efficiency));
                        let _ = (power.energy_kwh(a), power.cost(a, a));
                    }
                }
                let pressure = Pressure::from_pa(a);
                if let Some(power) = value(FanPower::from_efficiency(flow, pressure, 0.6, motor)) {
                    finite(power.shaft_power.as_w());
                }
            }
        }
        for scaled in [
            curve.at_speed_ratio(a),
            curve.at_size_ratio(a),
            curve.at_density(Density::from_kg_m3(a)),
        ] {
            value(scaled)
                .iter()
                .for_each(|scaled| finite(scaled.peak().power.as_w()));
        }
    }
}
