//! Readings of any numbers: calibration, reconciliation and what follows from them give an answer of
//! finite numbers or a typed error, in bounded time.

use super::bytes::Bytes;
use airsplit::*;

pub(crate) fn holds(bytes: &[u8]) {
    let mut bytes = Bytes(bytes);
    let system = shop();
    match bytes.below(4) {
        0 => reconciled(&mut bytes, &system),
        1 => instruments(&mut bytes),
        _ => calibrated(&mut bytes, &system),
    }
}

/// A main and three drops: wire hose, ribbed hose, a gate that leaks.
fn shop() -> System {
    let round = |mm| Bore::Round(Length::from_mm(mm));
    let metres = |m| Part::Duct(Length::from_m(m));
    let points = [(0.0, 2400.0), (0.4, 1900.0), (0.8, 300.0)]
        .map(|(q, p)| (VolumeFlow::from_m3_s(q), Pressure::from_pa(p)));
    let density = Density::from_kg_m3(1.2);
    let fan = FanCurve::new(points, Basis::Static, Fitted::NOTHING, density).unwrap();
    let hose = |kind| {
        Part::Hose(Hose {
            length: Length::from_m(1.0),
            kind,
            bend: None,
        })
    };
    let drop = |name: &str, mm| {
        Section::new(format!("{name} drop"), round(mm), Wall::Galvanised)
            .draining_into("main")
            .with_part(metres(3.0))
            .with_hood(Hood::new(name, Entry::Flanged).serving(format!("{name} machine")))
    };
    let mut system = System::new(Air::standard(), Collector::new(fan))
        .with_section(Section::new("main", round(160.0), Wall::Galvanised).with_part(metres(6.0)))
        .with_section(drop("planer", 125.0).with_part(hose(HoseKind::Wire { compression: 0.2 })))
        .with_section(
            drop("saw", 100.0)
                .joining_at(Angle::from_deg(45.0))
                .with_part(hose(HoseKind::Ribbed { times_smooth: 3.0 })),
        )
        .with_section(
            drop("lathe", 100.0)
                .joining_at(Angle::from_deg(30.0))
                .with_part(Part::Gate(Gate {
                    opening: 0.8,
                    leak_area: Some(Area::from_mm2(50.0)),
                })),
        );
    for name in ["planer", "saw", "lathe"] {
        system = system.with_machine(format!("{name} machine"), VolumeFlow::from_m3_h(500.0));
    }
    system
}

const HOODS: [&str; 3] = ["planer", "saw", "lathe"];

fn output(bytes: &mut Bytes<'_>) -> Output {
    let hood = bytes.pick(&HOODS);
    match bytes.below(6) {
        0 => Output::TotalFlow,
        1 => Output::FanPressure,
        2 => Output::Section("main".into()),
        3 => Output::Machine(format!("{hood} machine").into()),
        4 => Output::Hood("no such hood".into()),
        _ => Output::Hood(hood.into()),
    }
}

fn open(bytes: &mut Bytes<'_>) -> Vec<Name> {
    let some = HOODS.iter().filter(|_| !bytes.once_in(3));
    some.map(|&name| name.into()).collect()
}

fn observation(bytes: &mut Bytes<'_>, i: usize) -> Observation {
    let output = output(bytes);
    let usual = if output.unit() == " Pa" { 1000.0 } else { 0.2 };
    let value = bytes.wild(0.1 * usual, 3.0 * usual);
    let standard = bytes.wild(0.001 * usual, usual);
    let observation = Observation::new(format!("r{i}"), output, value, standard);
    observation.with_open(open(bytes))
}

fn unknown(bytes: &mut Bytes<'_>, system: &System, i: usize) -> Option<Unknown> {
    let standard = bytes.wild(0.01, 2.0);
    if bytes.once_in(4) {
        let network = Network::new(system).unwrap();
        let settings = network.settings();
        let setting = bytes.pick(&settings);
        let number = NumberAt {
            place: setting.place.clone(),
            parameter: setting.parameter,
        };
        let start = setting.value * bytes.wild(0.5, 2.0);
        return Some(Unknown::number(format!("u{i}"), number, start, standard));
    }
    let kind = bytes.pick(&UnknownKind::ALL);
    let usual = Unknown::usual(system, kind, None).ok()?;
    Some(match bytes.once_in(2) {
        true => usual.known_to(standard),
        false => usual,
    })
}

fn calibrated(bytes: &mut Bytes<'_>, system: &System) {
    let readings = 1 + bytes.below(5);
    let unknowns = 1 + bytes.below(4);
    let readings: Vec<_> = (0..readings).map(|i| observation(bytes, i)).collect();
    let unknowns: Vec<_> = (0..unknowns)
        .filter_map(|i| unknown(bytes, system, i))
        .collect();
    let outliers = match bytes.below(3) {
        0 => OutlierTreatment::All,
        1 => OutlierTreatment::WithoutOutliers,
        _ => OutlierTreatment::Weighted(Weighting::Biweight),
    };
    match compare_readings(system, &readings, &[]) {
        Ok(compared) => assert_eq!(compared.len(), readings.len()),
        Err(error) => assert!(!error.to_string().is_empty()),
    }
    match calibrate(system, &readings, &unknowns, outliers) {
        Ok(fitted) => {
            assert!(fitted.system.check().is_ok());
            for at in &fitted.estimates {
                assert!(at.value.is_finite() && at.low <= at.high, "{at:?}");
            }
            let wanted = [Output::TotalFlow];
            let open: Vec<Name> = HOODS.iter().map(|&name| name.into()).collect();
            match fitted.predict(&fitted.system, &open, &wanted, &[]) {
                Ok(told) => assert!(told.iter().all(|at| at.value.is_finite())),
                Err(error) => assert!(!error.to_string().is_empty()),
            }
        }
        Err(error) => assert!(!error.to_string().is_empty()),
    }
}

fn reconciled(bytes: &mut Bytes<'_>, system: &System) {
    let count = bytes.below(8);
    let at = (0..count).map(|_| {
        let section = bytes.pick(&["main", "planer drop", "saw drop", "lathe drop", "none"]);
        let flow = VolumeFlow::from_m3_s(bytes.wild(0.01, 1.0));
        let standard = VolumeFlow::from_m3_s(bytes.wild(1e-4, 0.1));
        let at = FlowAt::new(section, flow, standard);
        match bytes.once_in(3) {
            true => at.by("vane"),
            false => at,
        }
    });
    let at: Vec<FlowAt> = at.collect();
    let mut readings = FlowReadings::new(at, open(bytes));
    if bytes.once_in(2) {
        readings = readings.with_shared("vane", bytes.wild(0.0, 0.2));
    }
    if bytes.once_in(3) {
        readings = readings.with_shut(ShutHoods::Leaky);
    }
    match readings.reconcile(system) {
        Ok(told) => {
            assert!((0.0..=1.0).contains(&told.global.chance), "{told:?}");
            for at in &told.sections {
                assert!(at.flow.is_finite(), "{at:?}");
            }
        }
        Err(error) => assert!(!error.to_string().is_empty()),
    }
}

fn instruments(bytes: &mut Bytes<'_>) {
    let air = Air::standard().properties().unwrap();
    let bore = match bytes.once_in(2) {
        true => Bore::Round(Length::from_m(bytes.wild(0.05, 1.0))),
        false => Bore::Rectangular {
            width: Length::from_m(bytes.wild(0.05, 1.0)),
            height: Length::from_m(bytes.wild(0.05, 1.0)),
        },
    };
    let station = Station::new(bore, air)
        .with_size_share(bytes.wild(0.001, 0.1))
        .with_density_share(bytes.wild(0.001, 0.1));
    let instrument = bytes.pick(&[
        Instrument::RotatingVane,
        Instrument::DeflectingVane,
        Instrument::Thermal,
        Instrument::Pitot,
        Instrument::StaticTap,
    ]);
    let probe = Probe::new(instrument);
    let rule = bytes.pick(&[
        TraverseRule::EqualArea,
        TraverseRule::LogLinear,
        TraverseRule::LogTchebycheff,
    ]);
    let lines = bytes.below(4);
    let points = bytes.below(12);
    let velocities: Vec<Vec<Velocity>> = (0..lines)
        .map(|_| {
            let points = (0..points).map(|_| Velocity::from_m_s(bytes.wild(1.0, 30.0)));
            points.collect()
        })
        .collect();
    let traverse = Traverse::of_velocities(rule, velocities).with_probe(probe);
    let roughness = Length::from_mm(bytes.wild(0.01, 1.0));
    let pressure = Pressure::from_pa(bytes.wild(1.0, 500.0));
    let velocity = Velocity::from_m_s(bytes.wild(1.0, 30.0));
    let upstream = Length::from_m(bytes.wild(0.1, 3.0));
    let told = [
        traverse.flow(&station),
        CentreReading::of_velocity(velocity, roughness)
            .with_upstream(upstream)
            .with_probe(probe)
            .flow(&station),
        CentreReading::of_pressure(pressure, roughness).flow(&station),
        VaneReading::new([velocity])
            .with_head(upstream)
            .flow(&station),
        HoodSuction::new(pressure).flow(&station, &Entry::K(bytes.wild(0.0, 3.0))),
    ];
    for measured in told {
        match measured {
            Ok(measured) => assert!(measured.flow.is_finite(), "{measured:?}"),
            Err(error) => assert!(!error.to_string().is_empty()),
        }
    }
}
