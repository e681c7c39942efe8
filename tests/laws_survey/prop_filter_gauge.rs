//! The filter gauge: at the mark the flow is the requirement, and other means find the same mark.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on must stop")]

use crate::common::gated::{flow, hoods, shop};
use airsplit::{
    Air, Area, Basis, Bore, Cloth, ClothDrag, Collector, Density, DustCake, DustLoading, Entry,
    FanCurve, Filter, FilterGaugeError, FilterGaugeOptions, FilterState, Fitted, GaugeMark,
    GaugeOutcome, Hood, Junction, Length, MachineGauge, Name, Network, Part, Place, Pressure,
    RatedDrop, Run, Section, Start, System, VolumeFlow, Wall, filter_gauge,
};

const JUNCTIONS: [Junction; 2] = [Junction::FixedK, Junction::Momentum];

fn plain() -> FilterGaugeOptions {
    FilterGaugeOptions::default()
}

fn set_filter(system: &mut System, filter: Filter) {
    system.collector.before[0].parts[0] = Part::Filter(filter);
}

fn filter(system: &System) -> &Filter {
    match &system.collector.before[0].parts[0] {
        Part::Filter(filter) => filter,
        _ => unreachable!(),
    }
}

fn rated(drop: Pressure, at: VolumeFlow) -> Filter {
    Filter::Rated(RatedDrop { drop, at })
}

/// Least flow over requirement of a machine and of its hoods.
fn share(point: &airsplit::OperatingPoint, machine: &Name) -> f64 {
    let hoods = point
        .hoods
        .iter()
        .filter(|h| h.machine.as_ref() == Some(machine));
    let hoods = hoods.filter_map(|h| Some(h.flow.as_m3_s() / h.required?.as_m3_s()));
    hoods.fold(point.machine(machine.as_str()).unwrap().share(), f64::min)
}

fn mark(gauge: &MachineGauge) -> Option<&GaugeMark> {
    match &gauge.outcome {
        GaugeOutcome::FallsShort(mark) => Some(mark),
        GaugeOutcome::AlreadyShort { enough_below } => enough_below.as_ref(),
        _ => None,
    }
}

#[test]
fn prop_at_the_mark_the_flow_is_the_requirement() {
    let (mut marks, mut short) = (0, 0);
    for seed in 0..150 {
        for junction in JUNCTIONS {
            let system = shop(seed, junction);
            let gauge = filter_gauge(&system, &plain()).unwrap();
            assert_told(&gauge);
            assert!(gauge.failures.is_empty());
            for machine in &gauge.machines {
                let Some(mark) = mark(machine) else {
                    assert!(machine.share_now.unwrap() < 1.0);
                    short += 1;
                    continue;
                };
                marks += 1;
                assert!(!mark.leaps && machine.share_now.unwrap() >= 1.0);
                assert!(mark.pressure >= Pressure::from_pa(0.0));
                // Any filter that shows this pressure at this flow does the same.
                for filter in [
                    rated(mark.pressure, mark.flow),
                    Filter::Terms {
                        linear: RatedDrop {
                            drop: Pressure::from_pa(0.3 * mark.pressure.as_pa()),
                            at: mark.flow,
                        },
                        quadratic: RatedDrop {
                            drop: Pressure::from_pa(0.7 * mark.pressure.as_pa()),
                            at: mark.flow,
                        },
                    },
                ] {
                    let mut dusty = system.clone();
                    set_filter(&mut dusty, filter);
                    let network = Network::new(&dusty).unwrap();
                    let open = network.open(&machine.open).unwrap();
                    let point = network.operating_point(&open).unwrap();
                    let share = share(&point, &machine.machine);
                    assert!((share - 1.0).abs() < 1e-9, "{seed} {junction:?}: {share}");
                    assert!((point.flow.as_m3_s() / mark.flow.as_m3_s() - 1.0).abs() < 1e-9);
                }
                let clean = filter(&system)
                    .terms()
                    .unwrap()
                    .drop_pa(mark.flow.as_m3_s());
                let times = mark.pressure.as_pa() / clean;
                assert!((mark.times_clean.unwrap() / times - 1.0).abs() < 1e-12);
            }
        }
    }
    assert!(marks > 150 && short > 30, "{marks} {short}");
}

/// By other means: impose total flows until the machine has just enough, and ask the fan's curve
/// what it has left for the filter there.
#[test]
fn prop_the_mark_is_what_the_fan_has_left() {
    let mut tried = 0;
    for seed in 0..60 {
        for junction in JUNCTIONS {
            let system = shop(seed, junction);
            let mut bare = system.clone();
            bare.collector.before[0].parts.clear();
            let network = Network::new(&bare).unwrap();
            let fan = system.collector.fan.as_ref().unwrap();
            let scale =
                system.air.properties().unwrap().density.as_kg_m3() / fan.density().as_kg_m3();
            for machine in &filter_gauge(&system, &plain()).unwrap().machines {
                let Some(mark) = mark(machine) else { continue };
                let open = network.open(&machine.open).unwrap();
                let (mut low, mut high) = (1e-6, 3.0);
                for _ in 0..60 {
                    let q = 0.5 * (low + high);
                    let point = network.point_at_flow(&open, flow(q)).unwrap();
                    *(if share(&point, &machine.machine) < 1.0 {
                        &mut low
                    } else {
                        &mut high
                    }) = q;
                }
                let point = network.point_at_flow(&open, flow(low)).unwrap();
                let left =
                    scale * fan.pressure(flow(low)).as_pa() - point.fan.curve_pressure.as_pa();
                assert!((mark.pressure.as_pa() - left).abs() < 1e-6 * fan.shut_off().as_pa());
                tried += 1;
            }
        }
    }
    assert!(tried > 60, "{tried}");
}

/// One hood on a straight fan without anything else: p (1 - q/Q) = K pv(q) + filter.
fn one_hood(fan: FanCurve, need: f64) -> System {
    let bore = Bore::Round(Length::from_mm(120.0));
    let wall = Wall::Galvanised;
    let some = rated(Pressure::from_pa(100.0), flow(0.3));
    let run = Run::new(bore, wall).with_part(Part::Filter(some));
    System::new(Air::standard(), Collector::new(fan).with_before(run))
        .with_machine("saw", flow(need))
        .with_section(
            Section::new("drop", bore, wall)
                .with_hood(Hood::new("cabinet", Entry::K(1.5)).serving("saw")),
        )
}

fn curve(points: &[(f64, f64)]) -> FanCurve {
    let density = Air::standard().properties().unwrap().density;
    let points = points.iter().map(|&(q, p)| (flow(q), Pressure::from_pa(p)));
    FanCurve::new(points, Basis::Static, Fitted::NOTHING, density).unwrap()
}

fn head(q_m3s: f64) -> f64 {
    let density = Air::standard().properties().unwrap().density.as_kg_m3();
    let area = std::f64::consts::PI / 4.0 * 0.12 * 0.12;
    density / 2.0 * (q_m3s / area).powi(2)
}

#[test]
fn prop_one_hood_has_a_closed_form() {
    let (p, q_max) = (1500.0, 0.6);
    let line: Vec<_> = [0.0, 0.5, 1.0].map(|x| (x * q_max, p * (1.0 - x))).into();
    // Fan static pressure with a bare outlet: what the air carries off cancels.
    let left = |q: f64| p * (1.0 - q / q_max) - 1.5 * head(q);
    for need in [0.05, 0.1, 0.15] {
        let system = one_hood(curve(&line), need);
        let gauge = filter_gauge(&system, &plain()).unwrap();
        let GaugeOutcome::FallsShort(mark) = &gauge.machines[0].outcome else {
            unreachable!("{gauge}")
        };
        let (pressure, expected) = (mark.pressure.as_pa(), left(need));
        assert!(
            (pressure / expected - 1.0).abs() < 1e-9,
            "{pressure} {expected}"
        );
        assert_eq!(mark.falls_short, Place::Machine("saw".into()));
    }
    let gauge = filter_gauge(&one_hood(curve(&line), 0.5), &plain()).unwrap();
    let none = GaugeOutcome::AlreadyShort { enough_below: None };
    assert_eq!(gauge.machines[0].outcome, none);
    assert_told(&gauge);
    let gauge = filter_gauge(&one_hood(curve(&line), 0.0), &plain()).unwrap();
    assert_eq!(gauge.machines[0].outcome, GaugeOutcome::NeverShort);
    assert_eq!(gauge.machines[0].share_now, None);
    assert_told(&gauge);
}

/// One line a machine, with its outcome; then where the gauge is.
fn assert_told(gauge: &airsplit::FilterGauge) {
    let text = gauge.to_string();
    let mut lines = text.lines();
    for machine in &gauge.machines {
        let line = lines.next().unwrap();
        let now = format!("  {:.0} Pa now; ", machine.pressure_now.as_pa());
        let (name, rest) = line.split_once(&now).unwrap();
        assert_eq!(name.trim_end(), machine.machine.as_str());
        let pressure = mark(machine).map(|mark| format!(" {:.0} Pa", mark.pressure.as_pa()));
        let outcome = match (&machine.outcome, pressure) {
            (GaugeOutcome::FallsShort(_), Some(at)) => format!("falls short at{at}"),
            (_, Some(at)) => format!("short already, enough below{at}"),
            (GaugeOutcome::NeverShort, None) => "never falls short".into(),
            _ => "short even with the filter clean".into(),
        };
        let rest = rest.strip_prefix(&outcome).unwrap();
        let hours = mark(machine).and_then(|mark| mark.hours);
        assert_eq!(rest.contains(" h"), hours.is_some(), "{line}");
        let status = [Some(machine.status), mark(machine).map(|mark| mark.status)];
        let hint = status
            .iter()
            .flatten()
            .any(|&status| status != airsplit::Status::Converged);
        assert_eq!(rest.contains("a hint only"), hint, "{line}");
    }
    assert_eq!(
        text.lines().count(),
        gauge.machines.len() + gauge.failures.len() + 1
    );
    assert_eq!(
        text.lines().last(),
        Some(&*format!("Gauge across {}.", gauge.filter))
    );
}

#[test]
fn prop_hours_are_load_times_area_over_rate() {
    let line = [(0.0, 1500.0), (0.3, 750.0), (0.6, 0.0)];
    let mut system = one_hood(curve(&line), 0.15);
    let area = 6.0;
    let k2 = DustCake::WOOD_COARSER_PER_S;
    let cloth = |load| Cloth {
        area: Area::from_m2(area),
        drag: ClothDrag::Frazier(30.0),
        cake: Some(DustCake {
            load_kg_m2: load,
            k2_per_s: k2,
        }),
        housing: Some(RatedDrop {
            drop: Pressure::from_pa(80.0),
            at: flow(0.4),
        }),
    };
    let loading = DustLoading {
        kg_per_h: 0.25,
        area: None,
        k2_per_s: None,
    };
    let told = |system: &System, options: &FilterGaugeOptions| {
        let gauge = filter_gauge(system, options).unwrap();
        assert_told(&gauge);
        gauge.machines[0].outcome.clone()
    };
    let now = 0.05;
    set_filter(&mut system, Filter::Cloth(cloth(now)));
    let options = plain().with_loading(loading);
    let GaugeOutcome::FallsShort(mark) = told(&system, &options) else {
        unreachable!()
    };
    let load = mark.load_kg_m2.unwrap();
    let hours = (load - now) * area / 0.25;
    assert!((mark.hours.unwrap() / hours - 1.0).abs() < 1e-9, "{mark:?}");
    // The law of the filter itself says that this load shows this pressure.
    let dusty = Filter::Cloth(cloth(load)).terms().unwrap();
    let shown = dusty.drop_pa(mark.flow.as_m3_s());
    assert!((shown / mark.pressure.as_pa() - 1.0).abs() < 1e-12);
    set_filter(&mut system, Filter::Cloth(cloth(load)));
    let network = Network::new(&system).unwrap();
    let point = network.operating_point(&network.open_all()).unwrap();
    assert!((share(&point, &"saw".into()) - 1.0).abs() < 1e-9);

    // More dust than that: short already, and the same mark to clean down to.
    set_filter(&mut system, Filter::Cloth(cloth(1.2 * load)));
    let GaugeOutcome::AlreadyShort {
        enough_below: Some(below),
    } = told(&system, &options)
    else {
        unreachable!()
    };
    assert!((below.pressure.as_pa() / mark.pressure.as_pa() - 1.0).abs() < 1e-12);
    assert_eq!(below.hours, None);

    // A cycle that is due begins its marks at the clean state, its hours at the due one.
    let cycle = Filter::Cycle {
        clean: Box::new(Filter::Cloth(cloth(0.0))),
        due: Box::new(Filter::Cloth(cloth(now))),
        now: FilterState::Due,
    };
    set_filter(&mut system, cycle);
    let GaugeOutcome::FallsShort(of_cycle) = told(&system, &options) else {
        unreachable!()
    };
    assert!((of_cycle.hours.unwrap() / hours - 1.0).abs() < 1e-9);

    // A rated filter knows neither area nor K2.
    set_filter(&mut system, rated(Pressure::from_pa(100.0), flow(0.3)));
    let GaugeOutcome::FallsShort(of_rated) = told(&system, &plain()) else {
        unreachable!()
    };
    assert!((of_rated.pressure.as_pa() / mark.pressure.as_pa() - 1.0).abs() < 1e-9);
    assert_eq!((of_rated.load_kg_m2, of_rated.hours), (None, None));
    let given = DustLoading {
        area: Some(Area::from_m2(area)),
        k2_per_s: Some(k2),
        ..loading
    };
    let GaugeOutcome::FallsShort(of_rated) = told(&system, &plain().with_loading(given)) else {
        unreachable!()
    };
    let added = of_rated.pressure.as_pa() - 100.0 * of_rated.flow.as_m3_s() / 0.3;
    let load = added / of_rated.flow.as_m3_s() * area / k2;
    assert!((of_rated.hours.unwrap() / (load * area / 0.25) - 1.0).abs() < 1e-9);

    let error = |loading| filter_gauge(&system, &plain().with_loading(loading)).unwrap_err();
    for lacking in [
        loading,
        DustLoading {
            k2_per_s: None,
            ..given
        },
        DustLoading {
            area: None,
            ..given
        },
    ] {
        assert!(matches!(
            error(lacking),
            FilterGaugeError::LoadingUnknown { .. }
        ));
    }
    for bad in [0.0, -1.0, f64::NAN, f64::INFINITY] {
        for faulty in [
            DustLoading {
                area: Some(Area::from_m2(bad)),
                ..given
            },
            DustLoading {
                k2_per_s: Some(bad),
                ..given
            },
            DustLoading {
                kg_per_h: bad,
                ..given
            },
        ] {
            assert!(
                matches!(error(faulty), FilterGaugeError::Value(_)),
                "{faulty:?}"
            );
        }
    }
    let text = error(DustLoading {
        area: Some(Area::from_m2(0.0)),
        ..given
    })
    .to_string();
    assert_eq!(text, "filter area is 0 m2; allowed: 0.001 m2 to 100000 m2");
}

/// A hood that starves behind its machine's sum is told.
#[test]
fn prop_a_hoods_own_need_counts() {
    let mut seen = 0;
    for seed in 0..120 {
        let mut system = shop(seed, Junction::Momentum);
        for machine in &mut system.machines {
            machine.required = flow(0.3 * machine.required.as_m3_s());
        }
        for gauge in &filter_gauge(&system, &plain()).unwrap().machines {
            if let Some(Place::Hood(name)) = mark(gauge).map(|mark| &mark.falls_short) {
                assert_eq!(name.as_str(), "hood 1");
                assert!(
                    hoods(&system)
                        .iter()
                        .any(|(_, h)| h.id == *name && h.required.is_some())
                );
                seen += 1;
            }
        }
    }
    assert!(seen > 2, "{seen}");
}

#[test]
fn prop_companions_make_a_machine_fall_short_sooner() {
    let mut tried = 0;
    for seed in 0..60 {
        let system = shop(seed, Junction::FixedK);
        let alone = filter_gauge(&system, &plain()).unwrap();
        let options = plain().with_companions("machine 0", ["hood 1"]);
        let with = filter_gauge(&system, &options).unwrap();
        if system.machines.iter().all(|m| m.id.as_str() != "machine 1") {
            continue;
        }
        assert_eq!(with.machines[0].open, ["hood 0".into(), "hood 1".into()]);
        assert_eq!(with.machines[1..], alone.machines[1..]);
        if let (Some(alone), Some(with)) = (mark(&alone.machines[0]), mark(&with.machines[0])) {
            assert!(with.pressure < alone.pressure);
            tried += 1;
        }
    }
    assert!(tried > 5, "{tried}");
}

/// With a curve that rises the balance can leap past the requirement; the mark says so.
#[test]
fn prop_a_leap_is_told() {
    let dipped = curve(&[(0.0, 1500.0), (0.1, 500.0), (0.25, 1900.0), (0.6, 0.0)]);
    let gauge = filter_gauge(&one_hood(dipped.clone(), 0.15), &plain()).unwrap();
    let told = mark(&gauge.machines[0]).map(|mark| (mark.leaps, mark.pressure.as_pa()));
    let network = |pressure: f64, at: f64| {
        let mut system = one_hood(dipped.clone(), 0.15);
        set_filter(&mut system, rated(Pressure::from_pa(pressure), flow(at)));
        let network = Network::new(&system).unwrap();
        let point = network.operating_point(&network.open_all()).unwrap();
        point.flow.as_m3_s()
    };
    match told {
        Some((true, pressure)) => {
            let at = mark(&gauge.machines[0]).unwrap().flow.as_m3_s();
            assert!(at > 0.15);
            assert!(network(pressure * 0.9999, at) >= 0.15);
            assert!(network(pressure * 1.0001, at) < 0.15);
        }
        other => unreachable!("{other:?}: {gauge}"),
    }
}

#[test]
fn prop_bad_input_is_told() {
    let line = [(0.0, 1500.0), (0.3, 750.0), (0.6, 0.0)];
    let system = one_hood(curve(&line), 0.15);
    let error = |system: &System, options: FilterGaugeOptions| {
        let error = filter_gauge(system, &options).unwrap_err();
        assert!(error.is_input());
        error
    };
    let mut none = system.clone();
    none.collector.before.clear();
    assert_eq!(error(&none, plain()), FilterGaugeError::NoFilter);

    let place = |part| Place::Before {
        run: 0,
        part: Some(part),
    };
    let mut two = system.clone();
    let second = two.collector.before[0].parts[0].clone();
    two.collector.before[0].parts.push(second);
    assert_eq!(
        error(&two, plain()),
        FilterGaugeError::SeveralFilters {
            places: vec![place(0), place(1)]
        }
    );
    assert!(filter_gauge(&two, &plain().with_filter(place(1))).is_ok());
    let nowhere = plain().with_filter(place(7));
    assert_eq!(
        error(&two, nowhere),
        FilterGaugeError::NotAFilter { place: place(7) }
    );

    let unknown = plain().with_companions("sow", ["cabinet"]);
    assert!(matches!(
        error(&system, unknown),
        FilterGaugeError::Unknown(_)
    ));
    let unknown = plain().with_companions("saw", ["closet"]);
    assert!(matches!(
        error(&system, unknown),
        FilterGaugeError::Unknown(_)
    ));

    let points = line.map(|(q, p)| (flow(q), Pressure::from_pa(p)));
    let mut contained = system.clone();
    let fan = FanCurve::new(points, Basis::Static, Fitted::ALL, Density::STANDARD_AIR);
    contained.collector.fan = Some(fan.unwrap());
    assert_eq!(
        error(&contained, plain()),
        FilterGaugeError::InFanCurve { place: place(0) }
    );

    let mut fanless = system.clone();
    fanless.collector.fan = None;
    assert_eq!(filter_gauge(&fanless, &plain()).unwrap().failures.len(), 1);

    let mut idle = system;
    idle.machines.push(airsplit::Machine {
        id: "lathe".into(),
        required: flow(0.1),
    });
    // A machine without a hood: a fault of the model, or a failure of its own.
    match filter_gauge(&idle, &plain()) {
        Ok(gauge) => assert_eq!(gauge.failures.len(), 1),
        Err(error) => assert!(matches!(error, FilterGaugeError::Model(_))),
    }
}

/// A filter in a branch bears on what goes through it only.
#[test]
fn prop_a_filter_in_a_branch() {
    let mut seen = (0, 0);
    for seed in 0..40 {
        let mut system = shop(seed, Junction::FixedK);
        system.collector.before[0].parts.clear();
        let section = system
            .sections
            .iter()
            .position(|s| s.id.as_str() == "drop 0");
        let section = &mut system.sections[section.unwrap()];
        section
            .parts
            .push(Part::Filter(rated(Pressure::from_pa(50.0), flow(0.2))));
        let Start::Hood(_) = &section.start else {
            unreachable!()
        };
        let gauge = filter_gauge(&system, &plain()).unwrap();
        for machine in &gauge.machines {
            match (&machine.outcome, machine.machine.as_str()) {
                (GaugeOutcome::FallsShort(mark), "machine 0") => {
                    if machine.open.len() == 1 {
                        let need = system.machines[0].required.as_m3_s();
                        assert!((mark.flow.as_m3_s() / need - 1.0).abs() < 1e-9);
                        seen.0 += 1;
                    }
                }
                (GaugeOutcome::NeverShort, other) if other != "machine 0" => seen.1 += 1,
                (GaugeOutcome::AlreadyShort { .. }, _) => {}
                (GaugeOutcome::NeverShort, _) => {
                    // Two hoods: the other one alone has enough for both.
                    assert!(machine.open.len() == 2);
                }
                other => unreachable!("{other:?}"),
            }
        }
    }
    assert!(seen.0 > 5 && seen.1 > 5, "{seen:?}");
}

#[cfg(feature = "serde")]
#[test]
fn prop_the_options_read_from_toml() {
    let options: FilterGaugeOptions = toml::from_str(
        "companions = { lathe = [\"bandsaw\"] }\n[loading]\nkg_per_h = 0.3\narea = \"8 m2\"\nk2_per_s = 60000.0\n",
    )
    .unwrap();
    assert_eq!(options.companions["lathe"], ["bandsaw".into()]);
    assert!(toml::from_str::<FilterGaugeOptions>("rate = 1").is_err());
    let text = include_str!("../../examples/chair_shop.toml");
    let study: airsplit::Study = toml::from_str(text).unwrap();
    let gauge = filter_gauge(&study.system, &options).unwrap();
    println!("{gauge}");
    let told = serde_json::to_value(&gauge).unwrap();
    assert_eq!(told["machines"].as_array().unwrap().len(), 7);
}
