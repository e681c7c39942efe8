//! Readings and instruments with odd numbers, and none at all.

use super::*;

#[test]
fn prop_instruments_take_odd_numbers() {
    let air = Air::standard().properties().unwrap();
    for odd in ODD {
        for bore in [round(150.0), Bore::Round(Length::from_m(odd))] {
            for station in [
                Station::new(bore, air),
                Station::new(bore, air)
                    .with_size_share(odd)
                    .with_density_share(odd),
            ] {
                let velocity = Velocity::from_m_s(odd);
                let pressure = Pressure::from_pa(odd);
                let length = Length::from_m(odd);
                let lines = |points: usize| vec![vec![velocity; points]; 2];
                let own = Instrument::Own {
                    share: odd,
                    least: velocity,
                };
                let measured = [
                    Traverse::of_velocities(TraverseRule::LogLinear, lines(6)).flow(&station),
                    Traverse::of_velocities(TraverseRule::EqualArea, lines(10_000)).flow(&station),
                    Traverse::of_velocities(TraverseRule::EqualArea, vec![]).flow(&station),
                    Traverse::of_velocities(TraverseRule::EqualArea, vec![vec![]; 2])
                        .flow(&station),
                    Traverse::of_pressures(TraverseRule::LogLinear, vec![vec![pressure; 6]; 2])
                        .with_straight(length, length)
                        .flow(&station),
                    CentreReading::of_velocity(velocity, length).flow(&station),
                    CentreReading::of_velocity(Velocity::from_m_s(20.0), Length::from_mm(0.1))
                        .with_upstream(length)
                        .with_probe(Probe::new(own).with_width(length))
                        .flow(&station),
                    VaneReading::new([velocity; 2])
                        .with_head(length)
                        .flow(&station),
                    VaneReading::new([]).flow(&station),
                    HoodSuction::new(pressure)
                        .with_k_share(odd)
                        .flow(&station, &Entry::K(odd)),
                ];
                for told in measured.into_iter().filter_map(value) {
                    finite(told.flow.as_m3_s());
                }
            }
        }
        let plan = TraversePlan::default()
            .with_points(usize::MAX)
            .with_lines(usize::MAX);
        assert!(plan.layout(round(150.0)).is_err());
        let plan = TraversePlan::default().with_probe(Length::from_m(odd));
        let _ = value(plan.layout(round(150.0)));
    }
}

#[test]
fn prop_readings_take_odd_numbers() {
    let system = shop();
    let fan = Unknown::usual(&system, UnknownKind::FanScale, None).unwrap();
    let hose = Unknown::usual(&system, UnknownKind::HoseSlack, None).unwrap();
    let reading = |id: &str, value, standard| {
        Observation::new(id, Output::Hood("planer port".into()), value, standard)
            .with_open(["planer"])
    };
    for odd in ODD {
        for readings in [
            vec![reading("a", odd, 0.01)],
            vec![reading("a", 0.27, odd)],
            vec![reading("a", 0.27, 0.01), reading("b", odd, 1e-3)],
            vec![reading("a", 0.27, 0.01).in_setup(Setup::default().blocked(odd))],
        ] {
            for unknowns in [
                vec![fan.clone()],
                vec![fan.clone(), hose.clone()],
                vec![fan.clone().known_to(odd)],
            ] {
                let fitted = calibrate(&system, &readings, &unknowns, OutlierTreatment::All);
                for at in value(fitted)
                    .into_iter()
                    .flat_map(|fitted| fitted.estimates)
                {
                    finite(at.value);
                }
            }
            let _ = value(compare_readings(&system, &readings, &[]));
        }
        let flow = VolumeFlow::from_m3_s;
        for at in [
            FlowAt::new("main east", flow(odd), flow(0.01)),
            FlowAt::new("main east", flow(0.3), flow(odd)),
            FlowAt::new("none", flow(0.3), flow(0.01)),
        ] {
            let drop = FlowAt::new("planer drop", flow(0.3), flow(0.01));
            let readings = FlowReadings::new([at, drop], ["planer"]).with_shared("vane", odd);
            if let Some(told) = value(readings.reconcile(&system)) {
                assert!((0.0..=1.0).contains(&told.global.chance));
            }
        }
        assert!(
            possible_readings(&system, &[vec!["planer".into()]], odd, 0.02).is_ok()
                == (odd.is_finite() && odd > 0.0)
                || odd > 1.0
        );
    }
    assert!(
        calibrate(
            &system,
            &[],
            std::slice::from_ref(&fan),
            OutlierTreatment::All
        )
        .is_err()
    );
    assert!(
        calibrate(
            &system,
            &[reading("a", 0.27, 0.01)],
            &[],
            OutlierTreatment::All
        )
        .is_err()
    );
    let none: [&str; 0] = [];
    assert!(FlowReadings::new([], none).reconcile(&system).is_err());
}
