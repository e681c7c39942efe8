//! Readings against predictions: each is asked of the system as it was while reading.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on must stop")]
#![cfg(feature = "serde")]

use airsplit::{
    Agreement, Doubt, Entry, Network, NumberAt, Observation, Output, Parameter, Part, Place,
    Setting, Setup, Start, Study, SurveyError, System, Unknown, UnknownKind, Workspace,
    compare_readings,
};

fn shop() -> System {
    let text = include_str!("../../examples/chair_shop.toml");
    toml::from_str::<Study>(text).unwrap().system
}

fn value(system: &System, open: &[&str], output: &Output) -> f64 {
    let network = Network::new(system).unwrap();
    let open = network.open(open).unwrap();
    let mut work = Workspace::default();
    let balance = network.solve(&open, &mut work).unwrap();
    balance.value(output).unwrap()
}

fn planer() -> Output {
    Output::Hood("planer port".into())
}

/// Every output of the shop, read exactly in two open sets, is found where the system says.
#[test]
fn prop_exact_readings_agree() {
    let system = shop();
    let mut readings = Vec::new();
    for open in [&["planer"][..], &["lathe", "table saw"]] {
        for (i, output) in [
            planer(),
            Output::Machine("table saw".into()),
            Output::TotalFlow,
            Output::Section("main west".into()),
            Output::SectionStatic("bench line".into()),
            Output::HoodStatic("lathe scoop".into()),
            Output::BeforeStatic(0),
        ]
        .into_iter()
        .enumerate()
        {
            let at = value(&system, open, &output);
            let id = format!("{open:?} {i}");
            readings.push(
                Observation::new(id, output, at, 0.1 * at.abs() + 1e-3).with_open(open.to_vec()),
            );
        }
    }
    let compared = compare_readings(&system, &readings, &[]).unwrap();
    assert_eq!(compared.len(), readings.len());
    for one in &compared {
        assert!(one.score.abs() < 1e-9, "{one:?}");
        assert_eq!(one.predicted_standard, 0.0);
    }
}

/// A port that is unplugged is a port with another entry: the system of the reading, not of the
/// machine.
#[test]
fn prop_an_unplugged_port_is_predicted_unplugged() {
    let mut system = shop();
    let at = system
        .sections
        .iter()
        .position(|s| s.id.as_str() == "planer drop")
        .unwrap();
    let inside = Part::Port(airsplit::Port {
        size: airsplit::Bore::Round("100 mm".parse().unwrap()),
        k: 0.8,
    });
    system.sections[at].parts.insert(0, inside);
    let open = system.clone();
    let mut by_hand = system.clone();
    let Start::Hood(hood) = &mut by_hand.sections[at].start else {
        unreachable!()
    };
    hood.entry = Entry::Plain;
    by_hand.sections[at].parts.remove(0);
    let there = value(&by_hand, &["planer"], &planer());
    let attached = value(&open, &["planer"], &planer());
    assert!(there > 1.02 * attached);
    let reading = Observation::new("open pipe", planer(), there, 0.01 * there)
        .with_open(["planer"])
        .in_setup(Setup::unplugged(Entry::Plain));
    let doubts = [
        Doubt::new(
            Place::Hood("planer port".into()),
            Parameter::K,
            0.3,
            "a guess",
        ),
        Doubt::new(Place::Fan, Parameter::Factor, 0.05, "a guess"),
    ];
    let found = compare_readings(&open, std::slice::from_ref(&reading), &doubts).unwrap();
    assert!(found[0].score.abs() < 1e-9);
    // The machine's own coefficient is not in the way of the air any more.
    let fan_alone = compare_readings(&open, &[reading], &doubts[1..]).unwrap();
    assert_eq!(found[0].predicted_standard, fan_alone[0].predicted_standard);
    assert!(fan_alone[0].predicted_standard > 0.0);
}

/// An instrument in the pipe takes air from it, the more the more it blocks.
#[test]
fn prop_a_blocked_pipe_gets_less() {
    let system = shop();
    let plain = value(&system, &["planer"], &planer());
    let mut last = plain;
    for blocked in [0.1, 0.3, 0.5, 0.9] {
        let reading = Observation::new("vane", planer(), plain, 0.01)
            .with_open(["planer"])
            .in_setup(Setup::default().blocked(blocked));
        let found = compare_readings(&system, &[reading], &[]).unwrap();
        assert!(found[0].predicted < last);
        last = found[0].predicted;
    }
    // (s / (1 - s))^2 of Borda and Carnot at s = 0.5 is one velocity pressure of the pipe.
    let mut by_hand = system.clone();
    for section in &mut by_hand.sections {
        if let Start::Hood(hood) = &mut section.start
            && hood.id.as_str() == "planer port"
        {
            hood.entry = Entry::K(2.0);
        }
    }
    let reading = Observation::new("vane", planer(), plain, 0.01)
        .with_open(["planer"])
        .in_setup(Setup::default().blocked(0.5));
    let found = compare_readings(&system, &[reading], &[]).unwrap();
    assert_eq!(found[0].predicted, value(&by_hand, &["planer"], &planer()));
}

/// Worst first, and what a score means.
#[test]
fn prop_the_worst_comes_first() {
    let system = shop();
    let at = value(&system, &["planer"], &planer());
    let reading = |id: &str, sigmas: f64, share: f64| {
        let standard = share * at;
        Observation::new(id, planer(), at + sigmas * standard, standard).with_open(["planer"])
    };
    let readings = [
        reading("fine", 1.0, 0.02),
        reading("wrong", -4.0, 0.02),
        reading("vague", 0.1, 0.4),
        reading("odd", 2.5, 0.02),
    ];
    let found = compare_readings(&system, &readings, &[]).unwrap();
    let order: Vec<_> = found
        .iter()
        .map(|one| (one.id.as_str(), one.agreement))
        .collect();
    assert_eq!(
        order,
        [
            ("wrong", Agreement::Contradicts),
            ("odd", Agreement::Doubtful),
            ("fine", Agreement::Agrees),
            ("vague", Agreement::SaysLittle),
        ]
    );
}

#[test]
fn bad_readings_are_told() {
    let system = shop();
    let told = |readings: &[Observation]| {
        compare_readings(&system, readings, &[])
            .unwrap_err()
            .to_string()
    };
    let good = || Observation::new("a", planer(), 0.3, 0.01).with_open(["planer"]);
    insta::assert_snapshot!(told(&[]), @"there are no readings; give at least one");
    insta::assert_snapshot!(told(&[good(), good()]), @r#"two readings are called "a"; give each its own name"#);
    for bad in [0.0, -1.0, f64::NAN, f64::INFINITY] {
        let mut reading = good();
        reading.standard = bad;
        let error = compare_readings(&system, &[reading], &[]).unwrap_err();
        assert!(matches!(error, SurveyError::Number { .. }) && error.is_input());
    }
    let mut reading = good();
    reading.standard = 0.0;
    insta::assert_snapshot!(told(&[reading]), @r#"reading "a": its standard uncertainty is 0 m3/s; it must be above 0, and finite"#);
    let lost = Observation::new("b", Output::Section("main wset".into()), 0.3, 0.01);
    insta::assert_snapshot!(told(&[lost.with_open(["planer"])]), @r#"reading "b": no section is called "main wset"; known, nearest first: "main west", "main east", "back wall", "far end", "lathe drop", "bench line" and 9 more"#);
    insta::assert_snapshot!(told(&[good().with_open(["plaener"])]), @r#"reading "a": no hood or machine is called "plaener"; known, nearest first: "planer", "lathe", "mortiser", "planer port", "bandsaw", "disc sander" and 9 more"#);
    insta::assert_snapshot!(told(&[good().with_open(Vec::<airsplit::Name>::new())]), @r#"reading "a": no open hood reaches the fan: open at least one, and let no gate on its way stand shut"#);
    let total = Observation::new("c", Output::TotalFlow, 0.3, 0.01).with_open(["planer"]);
    insta::assert_snapshot!(told(&[total.in_setup(Setup::unplugged(Entry::Plain))]), @r#"reading "c": only the pipe of one hood can be unplugged or blocked; read at that hood, or at its section"#);
    insta::assert_snapshot!(told(&[good().in_setup(Setup::default().blocked(0.95))]), @r#"reading "a": its blocked share is 0.95; it must be 0 to 0.9"#);
}

/// Numbers put into a system answer as `Network::varied` does; those that no system can hold are
/// refused.
#[test]
fn prop_numbers_of_a_system_are_those_of_a_varied_network() {
    let system = shop();
    let part = |section: &str, part| Place::Part {
        section: section.into(),
        part,
    };
    for setting in [
        Setting::new(Place::Fan, Parameter::Factor, 0.93),
        Setting::new(
            Place::Section("main east".into()),
            Parameter::Roughness,
            4e-4,
        ),
        Setting::new(part("planer drop", 0), Parameter::HoseFactor, 5.0),
        Setting::new(part("lathe drop", 0), Parameter::Compression, 0.2),
        Setting::new(Place::Join("bandsaw drop".into()), Parameter::ExtraK, 0.3),
    ] {
        let network = Network::varied(&system, [&setting]).unwrap();
        let point = network.operating_point(&network.open_all()).unwrap();
        let changed = system.with_numbers([&setting]).unwrap();
        assert_ne!(changed, system);
        let network = Network::new(&changed).unwrap();
        let own = network.operating_point(&network.open_all()).unwrap();
        let off = own.flow.as_m3_s() / point.flow.as_m3_s() - 1.0;
        assert!(off.abs() < 1e-11, "{setting}: {off}");
    }
    let factor = Setting::new(part("main east", 0), Parameter::Factor, 1.1);
    let error = system.with_numbers([&factor]).unwrap_err();
    insta::assert_snapshot!(error, @r#"section "main east", part 1: it has no factor that could be set; `Network::settings` lists what can"#);
    let negative = Setting::new(Place::Fan, Parameter::Factor, -1.0);
    insta::assert_snapshot!(system.with_numbers([&negative]).unwrap_err(), @"fan: the pressure ratio is -1 (new over old); it must be a finite number above zero");
}

/// The usual unknowns of the demo shop, and what each moves.
#[test]
fn prop_usual_unknowns_move_what_their_names_say() {
    let system = shop();
    let all = Unknown::all_usual(&system).unwrap();
    let names: Vec<_> = all.iter().map(|unknown| unknown.name.as_str()).collect();
    assert_eq!(
        names,
        [
            "hose slack",
            "filter resistance",
            "wall roughness",
            "wye extra",
            "separator loss",
            "fan scale"
        ]
    );
    let filter = NumberAt {
        place: Place::After {
            run: 0,
            part: Some(1),
        },
        parameter: Parameter::Drop,
    };
    assert_eq!(all[1].numbers, [filter]);
    // Two ribbed hoses and one of wire.
    assert_eq!(all[0].numbers.len(), 3);
    let section = "planer drop".into();
    let one = Unknown::usual(&system, UnknownKind::HoseSlack, Some(&section)).unwrap();
    assert_eq!(one.numbers.len(), 1);
    let none = Unknown::usual(&system, UnknownKind::HoseSlack, Some(&"main east".into()));
    insta::assert_snapshot!(none.unwrap_err(), @r#"unknown "hose slack of main east": there is nothing of its kind above 0 to be moved; leave it out, or give the system such a part"#);
    let none = Unknown::usual(&system, UnknownKind::LeakArea, None);
    insta::assert_snapshot!(none.unwrap_err(), @r#"unknown "leak area": there is nothing of its kind above 0 to be moved; leave it out, or give the system such a part"#);
}
