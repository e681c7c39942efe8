//! Laws of the checks: what they compare, how sure they are, what they refuse; and of comparisons.

#![cfg(feature = "serde")]
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    reason = "a test that cannot go on must stop"
)]

use airsplit::*;
use proptest::prelude::*;

fn shop() -> System {
    let study: Study = toml::from_str(include_str!("../../examples/chair_shop.toml")).unwrap();
    study.system
}

fn solved(system: &System, open: &[&str]) -> OperatingPoint {
    let network = Network::new(system).unwrap();
    let open = network.open(open).unwrap();
    network.operating_point(&open).unwrap()
}

fn options(text: &str) -> CheckOptions {
    toml::from_str(text).unwrap()
}

fn drive(rated_kw: f64) -> FanDrive {
    let points = [(0.0, 1.0), (1500.0, 1.7), (3200.0, 2.4)];
    let points = points.map(|(q, kw)| (VolumeFlow::from_m3_h(q), Power::from_kw(kw)));
    FanDrive {
        power: PowerCurve::new(points, Density::from_kg_m3(1.2)).unwrap(),
        motor: Motor {
            rated: Power::from_kw(rated_kw),
            drive_efficiency: 1.0,
            motor_efficiency: 0.8,
        },
    }
}

fn only<'f>(findings: &'f Findings, check: Check, place: &Place) -> &'f Finding {
    let mut found = findings.of(check).filter(|finding| finding.place == *place);
    let one = found
        .next()
        .unwrap_or_else(|| panic!("no {check:?} at {place}"));
    assert!(found.next().is_none(), "two of {check:?} at {place}");
    one
}

/// The worst of some points stands for all of them.
#[test]
fn prop_the_worst_point_is_told() {
    let system = shop();
    let points = [
        solved(&system, &["planer"]),
        solved(&system, &["planer", "table saw", "lathe"]),
        solved(&system, &["planer", "lathe"]),
    ];
    let options = CheckOptions::new();
    let all = check(&system, &points, &options).unwrap();
    let mut singles = Vec::new();
    for point in &points {
        singles.extend(check(&system, [point], &options).unwrap().all);
    }
    for finding in &all.all {
        let alike = singles.iter().filter(|one| one.is_about_the_same(finding));
        let least = alike.filter_map(|one| one.margin).reduce(f64::min);
        assert_eq!(finding.margin, least, "{finding}");
    }
    let planer = only(&all, Check::MachineFlow, &Place::Machine("planer".into()));
    assert_eq!(planer.point, Some(1));
    let flow = points[1].machine("planer").unwrap().flow;
    assert_eq!(planer.value, Some(Measure::Flow(flow)));
    // The figure needed is that of the document.
    let needed = VolumeFlow::from_m3_h(1110.0);
    assert_eq!(planer.limit, Some(Measure::Flow(needed)));
    assert_eq!(planer.margin, Some(flow / needed - 1.0));
    // A machine that is shut in every point is not looked at.
    assert!(
        all.of(Check::MachineFlow)
            .all(|f| f.place != Place::Machine("mortiser".into()))
    );
}

/// Each caution once, whatever the number of points; and those of gates only with cause.
#[test]
fn prop_cautions_are_said_once() {
    let system = shop();
    let one = solved(&system, &["planer"]);
    let findings = check(&system, [&one, &one, &one], &CheckOptions::new()).unwrap();
    for caution in [
        Check::OpenSet,
        Check::Gates,
        Check::CombustibleDust,
        Check::Bonding,
        Check::MakeUpAir,
        Check::LocalCodes,
    ] {
        let told = only(&findings, caution, &Place::System);
        assert_eq!(told.verdict, Verdict::Caution);
    }
    assert_eq!(findings.of(Check::PartOpenGate).count(), 0);
    let names: Vec<_> = system.machines.iter().map(|m| m.id.as_str()).collect();
    let all = solved(&system, &names);
    let findings = check(&system, [&all], &CheckOptions::new()).unwrap();
    assert_eq!(findings.of(Check::Gates).count(), 0);

    let mut throttled = shop();
    let drop = throttled
        .sections
        .iter_mut()
        .find(|s| s.id.as_str() == "planer drop");
    for part in &mut drop.unwrap().parts {
        if let Part::Gate(gate) = part {
            gate.opening = 0.6;
        }
    }
    let all = solved(&throttled, &names);
    let findings = check(&throttled, [&all], &CheckOptions::new()).unwrap();
    let place = Place::Part {
        section: "planer drop".into(),
        part: 1,
    };
    let gate = only(&findings, Check::PartOpenGate, &place);
    assert_eq!(gate.value, Some(Measure::Share(0.6)));
    assert_eq!(findings.of(Check::Gates).count(), 1);
}

/// What is missing is named.
#[test]
fn prop_what_is_missing_is_said() {
    let system = shop();
    let point = solved(&system, &["planer"]);
    let findings = check(&system, [&point], &CheckOptions::new()).unwrap();
    let unknown: Vec<_> = findings.with(Verdict::Unknown).collect();
    let told = |check, words: &str| {
        let told = unknown
            .iter()
            .any(|f| f.check == check && f.text.contains(words));
        assert!(told, "{check:?} {words}: {unknown:#?}");
    };
    told(Check::FilterLoading, "area of the filter's cloth");
    told(Check::MotorLoad, "power curve");
    told(Check::Collapse, "thickness and material");
    told(Check::Collapse, "hose");
    assert!(
        unknown
            .iter()
            .all(|f| f.sure == Sureness::NotStated && f.margin.is_none())
    );

    let told = options(
        r#"
        filter_area = "12 m2"
        shell = { thickness = "0.6 mm", material = "steel" }
        "#,
    )
    .with_drive(drive(2.2));
    let findings = check(&system, [&point], &told).unwrap();
    let left: Vec<_> = findings.with(Verdict::Unknown).collect();
    assert_eq!(left.len(), 1, "{left:#?}");
    assert!(left[0].text.contains("hose"));
    // Motor: as `FanPower` has it.
    let load = only(&findings, Check::MotorLoad, &Place::Fan);
    let density = system.air.properties().unwrap().density;
    let fan = system
        .collector
        .fan
        .as_ref()
        .unwrap()
        .at_density(density)
        .unwrap();
    let drive = drive(2.2);
    let power = FanPower::new(&fan, &drive.power, drive.motor, point.flow).unwrap();
    assert_eq!(load.value, Some(Measure::Share(power.load)));
    assert_eq!(load.verdict, Verdict::Passes);
    let findings = check(&system, [&point], &told.with_drive(self::drive(1.0))).unwrap();
    assert_eq!(
        only(&findings, Check::MotorLoad, &Place::Fan).verdict,
        Verdict::Fails
    );
}

/// A thin wide main caves in and rings hold it; with every gate shut the fan's whole pressure counts.
#[test]
fn prop_collapse_is_held_against_both_suctions() {
    let system = shop();
    let point = solved(&system, &["planer", "table saw"]);
    let shell = |t| Shell::new(Length::from_mm(t), Material::Steel);
    let place = Place::Section("main east".into());
    let of = |options: &CheckOptions| {
        let findings = check(&system, [&point], options).unwrap();
        let runs = only(&findings, Check::Collapse, &place).clone();
        (
            runs,
            only(&findings, Check::CollapseShutOff, &place).clone(),
        )
    };
    let (runs, shut) = of(&CheckOptions::new().with_shell(shell(0.5)));
    let suction = -point.section("main east").unwrap().static_pressure;
    assert_eq!(runs.value, Some(Measure::Pressure(suction)));
    let (Some(Measure::Pressure(at_rest)), Some(Measure::Pressure(limit))) =
        (shut.value, shut.limit)
    else {
        panic!("{shut:?}")
    };
    let density = system.air.properties().unwrap().density;
    let told = 3050.0 * (density.as_kg_m3() / 1.2);
    assert!((at_rest.as_pa() / told - 1.0).abs() < 1e-12);
    let bare = shell(0.5).collapse_suction(Length::from_mm(180.0)).unwrap();
    assert!((limit.as_pa() / (bare.as_pa() / 4.0) - 1.0).abs() < 1e-12);
    // Thin enough it holds as it runs and fails with the gates shut, thinner it fails in both.
    let verdicts = |options: &CheckOptions| {
        let (runs, shut) = of(options);
        (runs.verdict, shut.verdict)
    };
    use Verdict::{Fails, Passes};
    let own = |t| CheckOptions::new().with_section_shell("main east", shell(t));
    assert_eq!(verdicts(&own(0.9)), (Passes, Passes));
    assert_eq!(verdicts(&own(0.2)), (Fails, Fails));
    let t = 180.0 * (4.0 * 0.5 * (suction.as_pa() + told) * 0.91 / 4e11_f64).cbrt();
    assert_eq!(verdicts(&own(t)), (Passes, Fails));
    let ringed = shell(t).ringed(Length::from_mm(500.0));
    let ringed = CheckOptions::new().with_section_shell("main east", ringed);
    assert_eq!(verdicts(&ringed), (Passes, Passes));
}

/// Dust is carried as far as the fan: the heaviest of what enters upstream counts.
#[test]
fn prop_the_heaviest_dust_upstream_counts() {
    let system = shop();
    let point = solved(&system, &["disc sander", "spindle moulder", "planer"]);
    let options = options(
        r#"
        dust = "wood_flour"
        [[requirements]]
        machine = "spindle moulder"
        dust = "moist"
        [[requirements]]
        machine = "lathe"
        dust = { own = "40 m/s" }
        "#,
    );
    let findings = check(&system, [&point], &options).unwrap();
    let limit = |section: &str| {
        let place = Place::Section(section.into());
        only(&findings, Check::Transport, &place).limit
    };
    let fpm = |fpm| Some(Measure::Velocity(Velocity::from_fpm(fpm)));
    for section in [
        "moulder drop",
        "bench line",
        "back wall",
        "main west",
        "main east",
    ] {
        assert_eq!(limit(section), fpm(4500.0), "{section}");
    }
    for section in ["sander drop", "far end", "planer drop"] {
        assert_eq!(limit(section), fpm(2500.0), "{section}");
    }
    // Shut hoods throw nothing, and what no air passes is not looked at.
    let looked_at = findings.of(Check::Transport);
    assert!(
        looked_at
            .clone_places()
            .all(|p| !p.contains("lathe") && !p.contains("saw"))
    );
}

trait Places {
    fn clone_places(self) -> impl Iterator<Item = String>;
}

impl<'f, I: Iterator<Item = &'f Finding>> Places for I {
    fn clone_places(self) -> impl Iterator<Item = String> {
        self.map(|finding| finding.place.to_string())
    }
}

/// A fan whose curve rises to a peak, worked left of it and right of it.
#[test]
fn prop_stall_and_the_ends_of_the_curve() {
    let at = |drop_pa: f64, first: f64| {
        let points = [(first, 800.0), (600.0, 1000.0), (1500.0, 300.0)];
        let points = points.map(|(q, p)| (VolumeFlow::from_m3_h(q), Pressure::from_pa(p)));
        let density = Density::from_kg_m3(1.2);
        let fan = FanCurve::new(points, Basis::Static, Fitted::NOTHING, density).unwrap();
        let bore = Bore::Round(Length::from_mm(150.0));
        // One resistance: `drop_pa` at 1000 m3/h.
        let speed = 1000.0 / 3600.0 / bore.area().as_m2();
        let k = drop_pa / (0.5 * 1.2 * speed * speed);
        let air = Air::Given {
            density,
            viscosity: DynamicViscosity::from_pa_s(1.8e-5),
        };
        let system = System::new(air, Collector::new(fan)).with_section(
            Section::new("main", bore, Wall::Galvanised).with_hood(Hood::new("port", Entry::K(k))),
        );
        let point = solved(&system, &["port"]);
        let findings = check(&system, [&point], &CheckOptions::new()).unwrap();
        (
            only(&findings, Check::Stall, &Place::Fan).clone(),
            only(&findings, Check::FanCurve, &Place::Fan).clone(),
        )
    };
    let (stall, curve) = at(700.0, 0.0);
    assert_eq!(
        (stall.verdict, curve.verdict),
        (Verdict::Passes, Verdict::Passes)
    );
    assert_eq!(
        stall.limit,
        Some(Measure::Flow(VolumeFlow::from_m3_h(600.0)))
    );
    assert_eq!(
        curve.limit,
        Some(Measure::Flow(VolumeFlow::from_m3_h(1500.0)))
    );
    let (stall, _) = at(5000.0, 0.0);
    assert_eq!(stall.verdict, Verdict::Fails);
    let (_, curve) = at(50.0, 0.0);
    assert_eq!(curve.verdict, Verdict::Fails);
    let (_, curve) = at(20_000.0, 300.0);
    assert_eq!(curve.verdict, Verdict::Fails);
    assert_eq!(
        curve.limit,
        Some(Measure::Flow(VolumeFlow::from_m3_h(300.0)))
    );
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(40))]

    /// Beyond two standard uncertainties surely, within one nobody can say; a place of its own
    /// counts before the rest.
    #[test]
    fn prop_sureness_by_distance(needed in 500.0..2000.0f64, flow in 0.0..0.5f64, own in prop::option::of(0.0..0.5f64)) {
        let system = shop();
        let point = solved(&system, &["planer"]);
        let place = Place::Machine("planer".into());
        let need = Need::Own { flow: VolumeFlow::from_m3_h(needed), source: Some("a letter".into()) };
        let uncertain = Uncertain {
            flow,
            pressure: 0.1,
            at: vec![UncertainAt { place: place.clone(), flow: own, pressure: None }],
        };
        let options = CheckOptions::new()
            .with_requirement(Requirement::new("planer").needing(need))
            .with_uncertain(uncertain);
        let findings = check(&system, [&point], &options).unwrap();
        let finding = only(&findings, Check::MachineFlow, &place);
        let gets = point.machine("planer").unwrap().flow.as_m3_h();
        let away = (gets - needed).abs() / gets / own.unwrap_or(flow).max(1e-300);
        let expected = if away > 2.0 {
            Sureness::Surely
        } else if away > 1.0 {
            Sureness::Probably
        } else {
            Sureness::CannotSay
        };
        prop_assert_eq!(finding.sure, expected);
        prop_assert_eq!(finding.verdict == Verdict::Passes, gets >= needed);
        prop_assert_eq!(finding.source.to_string(), "a letter (as given)");
        // Without an uncertainty it says so.
        let findings = check(&system, [&point], &CheckOptions::new()).unwrap();
        prop_assert!(findings.all.iter().all(|f| f.sure == Sureness::NotStated));
    }

    /// Thicker, narrower and ringed more closely holds more; any numbers are taken or refused.
    #[test]
    fn prop_collapse_is_monotone(t in 0.1..5.0f64, d in 80.0..800.0f64, rings in 0.1..20.0f64) {
        let hold = |t, d, rings: Option<f64>| {
            let shell = Shell::new(Length::from_mm(t), Material::Steel);
            let shell = rings.map_or(shell, |m| shell.ringed(Length::from_m(m)));
            shell.collapse_suction(Length::from_mm(d)).unwrap().as_pa()
        };
        for rings in [None, Some(rings)] {
            prop_assert!(hold(1.01 * t, d, rings) > hold(t, d, rings));
            prop_assert!(hold(t, 1.01 * d, rings) < hold(t, d, rings));
        }
        prop_assert!(hold(t, d, Some(rings)) >= hold(t, d, Some(1.5 * rings)));
        prop_assert!(hold(t, d, Some(rings)) >= hold(t, d, None));
    }

    #[test]
    fn prop_any_size_is_looked_up_or_refused(a in any::<f64>(), b in any::<f64>(), yes in any::<bool>()) {
        let [long, wide] = [a, b].map(Length::from_in);
        let drive = Power::from_kw(b);
        for kind in [
            MachineKind::Planer { cutter_width: long },
            MachineKind::SpindleMoulder { below_table: yes, drive },
            MachineKind::TableSaw { blade: long, drive },
            MachineKind::Port { size: Bore::Rectangular { width: long, height: wide } },
            MachineKind::GrindingWheel { diameter: long, width: wide },
            MachineKind::BuffingWheel { diameter: long, width: wide },
            MachineKind::HorizontalDisc { diameter: long },
            MachineKind::HorizontalDoubleDisc { diameter: long },
            MachineKind::VerticalDisc { diameter: long, covered: yes },
            MachineKind::Belt { width: long },
        ] {
            match kind.required() {
                Ok(needed) => prop_assert!(needed.flow.is_finite() && needed.flow.as_m3_s() > 0.0),
                Err(error) => prop_assert!(!error.to_string().is_empty()),
            }
        }
        let shell = Shell::new(wide, Material::Pvc).ringed(wide);
        match shell.collapse_suction(long) {
            Ok(pressure) => prop_assert!(pressure.is_finite() && pressure.as_pa() > 0.0),
            Err(error) => prop_assert!(!error.to_string().is_empty()),
        }
    }
}

/// A larger machine of a kind never needs less.
#[test]
fn prop_larger_needs_more() {
    let mut before = [0.0; 6];
    for i in 5..=360 {
        let size = Length::from_in(f64::from(i) / 10.0);
        let width = Length::from_in(1.0);
        let kinds = [
            MachineKind::GrindingWheel {
                diameter: size,
                width,
            },
            MachineKind::BuffingWheel {
                diameter: size,
                width,
            },
            MachineKind::HorizontalDisc { diameter: size },
            MachineKind::HorizontalDoubleDisc { diameter: size },
            MachineKind::VerticalDisc {
                diameter: size,
                covered: false,
            },
            MachineKind::Planer { cutter_width: size },
        ];
        for (before, kind) in before.iter_mut().zip(kinds) {
            let m3_h = kind.required().unwrap().flow.as_m3_h();
            assert!(m3_h >= *before, "{kind:?}");
            *before = m3_h;
        }
    }
}

/// Options and requirements stand in documents, and come back as they went.
#[test]
fn prop_options_round_trip() {
    let text = r#"
        dust = "light_shavings"
        filter_area = "14 m2"
        collapse_safety = 3.0

        [uncertain]
        flow = 0.06
        pressure = 0.1
        at = [{ place = { section = "main east" }, pressure = 0.2 }]

        [drive.motor]
        rated = "2.2 kW"
        drive_efficiency = 1.0
        motor_efficiency = 0.8
        [drive.power]
        density = "1.2 kg/m3"
        points = [["0 m3/h", "1 kW"], ["1500 m3/h", "1.7 kW"], ["3200 m3/h", "2.4 kW"]]

        [shell]
        thickness = "0.6 mm"
        material = { elastic = { modulus = "1000000 kPa", poisson = 0.4 } }

        [[shells]]
        section = "main east"
        shell = { thickness = "0.6 mm", material = "steel", rings = "3 m" }

        [[requirements]]
        machine = "planer"
        need = { look_up = { planer = { cutter_width = "410 mm" } } }
        hoods = [{ hood = "planer port", flow = "600 m3/h" }]
        dust = "damp_chips"

        [[requirements]]
        machine = "lathe"
        need = { own = { flow = "565 m3/h", source = "its manual" } }
    "#;
    let read = options(text);
    let again: CheckOptions = toml::from_str(&toml::to_string(&read).unwrap()).unwrap();
    assert_eq!(read, again);
    let system = shop();
    let point = solved(&system, &["planer", "lathe"]);
    let findings = check(&system, [&point], &read).unwrap();
    let planer = only(
        &findings,
        Check::MachineFlow,
        &Place::Machine("planer".into()),
    );
    assert!(planer.source.text.contains("TRGS 553"), "{planer}");
    let hood = only(
        &findings,
        Check::HoodFlow,
        &Place::Hood("planer port".into()),
    );
    assert_eq!(
        hood.limit,
        Some(Measure::Flow(VolumeFlow::from_m3_h(600.0)))
    );
    assert!(
        serde_json::to_string(&findings)
            .unwrap()
            .contains("\"transport\"")
    );
    for bad in [
        "dast = \"moist\"",
        "dust = \"mud\"",
        "[uncertain]\nflow = 0.1",
    ] {
        assert!(toml::from_str::<CheckOptions>(bad).is_err(), "{bad}");
    }
}

#[test]
fn bad_options_are_refused() {
    let system = shop();
    let point = solved(&system, &["planer"]);
    let refuse = |text: &str, words: &str| {
        let error = check(&system, [&point], &options(text)).unwrap_err();
        assert!(error.to_string().contains(words), "{text}: {error}");
    };
    refuse("[[requirements]]\nmachine = \"plainer\"", "\"planer\"");
    refuse(
        "[[requirements]]\nmachine = \"planer\"\n[[requirements]]\nmachine = \"planer\"",
        "told twice",
    );
    refuse(
        "[[requirements]]\nmachine = \"planer\"\nhoods = [{ hood = \"saw guard\", flow = \"1 m3/h\" }]",
        "does not serve",
    );
    refuse(
        "[[requirements]]\nmachine = \"planer\"\nhoods = [{ hood = \"planer prt\", flow = \"1 m3/h\" }]",
        "\"planer port\"",
    );
    refuse(
        "[[requirements]]\nmachine = \"planer\"\nneed = { own = { flow = \"0 m3/h\" } }",
        "required flow",
    );
    refuse(
        "[[requirements]]\nmachine = \"planer\"\nneed = { look_up = { belt = { width = \"10 in\" } } }",
        "belt width is 10 in; allowed: 0.1 in to 9 in",
    );
    refuse("dust = { own = \"-1 m/s\" }", "transport velocity");
    refuse("collapse_safety = 0.5", "safety factor");
    refuse("filter_area = \"0 m2\"", "area of the cloth");
    refuse(
        "uncertain = { flow = -0.1, pressure = 0.1 }",
        "uncertainty of flow",
    );
    refuse(
        "shell = { thickness = \"30 mm\", material = \"pvc\" }",
        "wall thickness",
    );
    refuse(
        "shells = [{ section = \"main\", shell = { thickness = \"1 mm\", material = \"pvc\" } }]",
        "no section is called",
    );
    assert_eq!(
        check(&system, [], &CheckOptions::new()).unwrap_err(),
        CheckError::NoPoint
    );
    let mut other = system.clone();
    other.sections[0].size = Bore::Round(Length::from_mm(190.0));
    let error = check(&other, [&point], &CheckOptions::new()).unwrap_err();
    assert_eq!(
        error,
        CheckError::ForeignPoint {
            point: 0,
            what: "sections"
        }
    );
}

/// Findings gained and lost, flows, power and money between two fans.
#[test]
fn prop_differences_of_cases() {
    let sets: Vec<Vec<Name>> = [&["planer", "table saw"][..], &["lathe"]]
        .iter()
        .map(|names| names.iter().map(|&name| name.into()).collect())
        .collect();
    let case = |name: &str, ratio, cost| {
        let mut system = shop();
        let fan = system.collector.fan.take().unwrap();
        system.collector.fan = Some(fan.at_speed_ratio(ratio).unwrap());
        let drive = FanDrive {
            power: drive(2.2).power.at_speed_ratio(ratio).unwrap(),
            ..drive(2.2)
        };
        Case::new(name, system)
            .with_drive(drive)
            .checked(CheckOptions::new())
            .costing(Money::new(cost))
    };
    let cases = [case("as it is", 0.8, 100.0), case("faster", 1.2, 350.0)];
    let comparison = compare(&cases, &sets, &Objective::TotalFlow).unwrap();
    let differences = comparison.against(0).unwrap();
    // Against itself nothing changes.
    for set in differences[0].sets.iter().flatten() {
        assert_eq!(set.flow.percent, Some(0.0));
        assert_eq!(set.flow.cost_per_m3_h, None);
        assert_eq!(
            (set.gained.as_deref(), set.lost.as_deref()),
            (Some(&[][..]), Some(&[][..]))
        );
        assert_eq!(set.motor_input, Some(Power::from_w(0.0)));
    }
    assert_eq!(differences[1].cost, Some(Money::new(250.0)));
    let back = comparison.against(1).unwrap();
    for (i, set) in differences[1].sets.iter().enumerate() {
        let set = set.as_ref().unwrap();
        let answer = |case: usize| &comparison.cases[case].answers[i];
        let flow = |case: usize| answer(case).point.as_ref().unwrap().flow;
        assert_eq!((set.flow.from, set.flow.to), (flow(0), flow(1)));
        let percent = 100.0 * (flow(1) / flow(0) - 1.0);
        assert!((set.flow.percent.unwrap() - percent).abs() < 1e-9);
        let per = 250.0 / (flow(1) - flow(0)).as_m3_h();
        assert!((set.flow.cost_per_m3_h.unwrap().amount() / per - 1.0).abs() < 1e-12);
        assert_eq!(set.machines.len(), sets[i].len());
        assert!(set.air_power.unwrap().as_w() > 0.0 && set.motor_input.unwrap().as_w() > 0.0);
        // What one way round is gained is lost the other.
        let other = back[0].sets[i].as_ref().unwrap();
        assert_eq!((&set.gained, &set.lost), (&other.lost, &other.gained));
        let failures = |case: usize| answer(case).findings.as_ref().unwrap().failures().count();
        let (gained, lost) = (set.gained.as_ref().unwrap(), set.lost.as_ref().unwrap());
        assert_eq!(failures(0) + gained.len(), failures(1) + lost.len());
    }
    let lost = differences[1]
        .sets
        .iter()
        .flatten()
        .map(|set| set.lost.as_ref().unwrap().len());
    assert!(
        lost.sum::<usize>() > 0,
        "a fan half as fast again mends nothing: nothing was tested"
    );

    assert_eq!(
        comparison.against(2).unwrap_err(),
        CompareError::NoCase { index: 2, cases: 2 }
    );
    let cases = [case("free", 1.0, f64::NAN)];
    assert!(matches!(
        compare(&cases, &sets, &Objective::TotalFlow),
        Err(CompareError::Cost { .. })
    ));
}

/// What options take of an uncertain balance: of each flow the share that is uncertain.
#[test]
fn prop_uncertain_takes_the_share_of_every_flow() {
    let study: Study = toml::from_str(include_str!("../../examples/chair_shop.toml")).unwrap();
    let network = Network::new(&study.system).unwrap();
    let open = network.open(["planer", "lathe"]).unwrap();
    let point = network
        .uncertainty(&open, &network.doubts(&study.assumptions))
        .unwrap();
    let uncertain = Uncertain::of(&point);
    let share = |value: &UncertainValue| value.standard / value.value;
    assert_eq!(uncertain.flow, share(&point.flow));
    assert_eq!(uncertain.pressure, share(&point.fan_pressure));
    assert_eq!(uncertain.at.len(), point.machines.len() + point.hoods.len());
    for value in point.machines.iter().chain(&point.hoods) {
        let place = match &value.output {
            Output::Machine(name) => Place::Machine(name.clone()),
            Output::Hood(name) => Place::Hood(name.clone()),
            other => panic!("{other:?}"),
        };
        let at = uncertain.at.iter().find(|at| at.place == place).unwrap();
        // Of a hood that is shut there is no share to tell.
        let of = if value.value == 0.0 {
            0.0
        } else {
            share(value).min(10.0)
        };
        assert_eq!(at.flow, Some(of));
    }
    let options = CheckOptions::new()
        .with_dust(DustClass::WoodFlour)
        .with_filter_area(Area::from_m2(7.0));
    assert_eq!(options.dust, Some(DustClass::WoodFlour));
    assert_eq!(options.filter_area, Some(Area::from_m2(7.0)));
}

/// The greatest suction of all runs is what air's compression is judged by.
#[test]
fn prop_the_greatest_suction_is_judged() {
    let system = shop();
    let point = solved(&system, &["planer"]);
    let findings = check(&system, [&point], &CheckOptions::new()).unwrap();
    let sections = point.sections.iter().map(|at| -at.static_pressure.as_pa());
    let runs = point.collector.iter().map(|at| -at.static_pressure.as_pa());
    let greatest = sections.chain(runs).fold(f64::NEG_INFINITY, f64::max);
    let mut judged = findings.of(Check::Incompressible);
    let value = judged.next().unwrap().value;
    assert_eq!(value, Some(Measure::Pressure(Pressure::from_pa(greatest))));
}

/// Below the least velocity it fails, up to the ample one it is better avoided: heavy sawdust, 4000
/// to 4500 fpm.
#[test]
fn prop_between_least_and_ample_is_advice() {
    let mut seen = std::collections::BTreeSet::new();
    for ratio in [0.6, 0.8, 0.9, 1.0, 1.1, 1.2, 1.4, 1.6] {
        let mut system = shop();
        let fan = system.collector.fan.take().unwrap();
        system.collector.fan = Some(fan.at_speed_ratio(ratio).unwrap());
        let point = solved(&system, &["planer", "table saw"]);
        let options = CheckOptions::new().with_dust(DustClass::HeavySawdust);
        let findings = check(&system, [&point], &options).unwrap();
        let heavy = |finding: &&Finding| {
            let limit = finding.limit.unwrap().number();
            (limit - Velocity::from_fpm(4000.0).as_m_s()).abs() < 1e-9
        };
        for finding in findings.of(Check::Transport).filter(heavy) {
            let fpm = finding.value.unwrap().number() / Velocity::from_fpm(1.0).as_m_s();
            let expected = match fpm {
                fpm if fpm < 4000.0 => Verdict::Fails,
                fpm if fpm < 4500.0 => Verdict::Advice,
                _ => Verdict::Passes,
            };
            assert_eq!(finding.verdict, expected, "{finding}");
            seen.insert(format!("{expected}"));
        }
    }
    assert_eq!(seen.len(), 3, "{seen:?}");
}

#[test]
fn prop_sizes_of_machines_are_judged_and_told() {
    let planer = |mm| {
        MachineKind::Planer {
            cutter_width: Length::from_mm(mm),
        }
        .required()
    };
    for mm in [10.0, 5000.0] {
        assert!(planer(mm).is_ok());
    }
    for mm in [9.9, 5000.1, f64::NAN] {
        assert!(planer(mm).unwrap_err().to_string().contains("cutter width"));
    }
    let wheel = |width| {
        let (diameter, width) = (Length::from_in(20.0), Length::from_in(width));
        MachineKind::GrindingWheel { diameter, width }
            .required()
            .unwrap()
            .row
    };
    assert!(wheel(4.0).contains("up to 4 in wide"), "{}", wheel(4.0));
    assert!(wheel(4.5).contains("more in proportion"), "{}", wheel(4.5));
}
