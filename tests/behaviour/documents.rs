//! Documents: reading, writing and reading again gives the same study.
#![cfg(feature = "serde")]
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    reason = "a test that cannot go on must stop"
)]

use airsplit::*;
use insta::assert_snapshot;
use proptest::prelude::*;

const SHOP: &str = include_str!("../data/documents/shop.toml");
const EVERY_WORD: &str = include_str!("../data/documents/every_word.toml");
const LITTLE_KNOWN: &str = include_str!("../data/documents/little_known.toml");

fn spoilt(text: &str, from: &str, to: &str) -> String {
    assert_eq!(text.matches(from).count(), 1, "{from}");
    text.replace(from, to)
}

fn read(text: &str) -> Study {
    toml::from_str(text).unwrap_or_else(|error| panic!("{error}\n{text}"))
}

/// Reads, writes and reads again in both formats; hands back what was written as TOML.
fn round_trip(text: &str) -> String {
    let study = read(text);
    let written = toml::to_string(&study).unwrap();
    let again = read(&written);
    assert_eq!(again, study, "{written}");
    assert_eq!(toml::to_string(&again).unwrap(), written);
    let json = serde_json::to_string_pretty(&study).unwrap();
    let again: Study = serde_json::from_str(&json).unwrap();
    assert_eq!(again, study, "{json}");
    assert_eq!(toml::to_string(&again).unwrap(), written);
    // A draft is the document as it was read.
    let draft: Draft = toml::from_str(text).unwrap();
    assert_eq!(toml::from_str::<Draft>(&written).unwrap(), draft);
    assert_eq!(serde_json::from_str::<Draft>(&json).unwrap(), draft);
    assert_eq!(draft.complete().unwrap(), study);
    written
}

#[test]
fn what_was_read_is_written() {
    for text in [SHOP, EVERY_WORD, LITTLE_KNOWN] {
        round_trip(text);
    }
}

/// Every word that excludes another of the same place, one after the other.
#[test]
fn every_alternative() {
    let replace = |text: &str, from: &str, words: &[&str]| {
        for word in words {
            round_trip(&spoilt(text, from, word));
        }
    };
    replace(
        EVERY_WORD,
        "wall = { roughness = \"0.1 mm\" }",
        &[
            "wall = \"drawn_tube\"",
            "wall = \"smooth_plastic\"",
            "wall = \"steel\"",
            "wall = \"aluminium\"",
            "wall = \"galvanised\"",
            "wall = \"spiral\"",
            "wall = \"ribbed_spiral\"",
            "wall = \"rectangular_galvanised\"",
            "wall = \"corrugated_spiral\"",
            "wall = \"concrete\"",
            "wall = { roughness = \"0.004 in\" }",
        ],
    );
    let air = "{ barometer = \"98.3 kPa\", temperature = \"68 F\", relative_humidity = 0.35 }";
    replace(
        EVERY_WORD,
        air,
        &[
            "{ altitude = \"5280 ft\", temperature = \"-10 C\", relative_humidity = 0 }",
            "{ altitude = \"-20 m\", temperature = \"300 K\", relative_humidity = 1 }",
            "{ density = \"0.075 lb/ft3\", viscosity = \"1.82e-5 Pa s\" }",
        ],
    );
    let basis = "{ test_pipe = { bore = { round = \"8 in\" } } }";
    replace(EVERY_WORD, basis, &["\"total\"", "\"static\""]);
    replace(
        EVERY_WORD,
        "entry = \"flanged\"",
        &[
            "entry = \"plain\"",
            "entry = \"bellmouth\"",
            "entry = { k = 0 }",
            "entry = { tapered = { angle = \"90 deg\", face = \"round\" } }",
        ],
    );
    let models = ["momentum", "gardel", "crane", "automatic"];
    for model in models {
        // One wye, of the main's own bore in its straight inlet.
        let wye = spoilt(SHOP, "{ round = \"140 mm\" }", "{ round = \"160 mm\" }");
        let model = format!("format = 1\njunction = \"{model}\"");
        round_trip(&spoilt(&wye, "format = 1", &model));
    }
    let classes = ["airtight", "atc1", "atc2", "atc3", "atc4", "atc6"];
    for class in classes {
        let class = format!("tightness = \"{class}\"");
        let read_again = round_trip(&spoilt(EVERY_WORD, "tightness = \"atc5\"", &class));
        assert!(read_again.contains(&class));
    }
    replace(
        EVERY_WORD,
        "{ hole = \"1 cm2\" }",
        &["{ power = { at_1_pa = \"0.02 L/s\", exponent = 0.65 } }"],
    );
    replace(EVERY_WORD, "now = \"due\"", &["now = \"clean\""]);
    replace(
        EVERY_WORD,
        "{ transition = \"sharp\" }",
        &[
            "{ transition = { cone = { angle = \"15 deg\" } } }",
            "{ transition = { k = 0.1 } }",
        ],
    );
    replace(EVERY_WORD, "\"shepherd_lapple\"", &["\"casal_martinez\""]);
    replace(
        LITTLE_KNOWN,
        "largest_flow = ",
        &["shape = \"straight\"\nlargest_flow = "],
    );
    replace(
        LITTLE_KNOWN,
        "largest_flow = ",
        &["outlet = { round = \"6 in\" }\nlargest_flow = "],
    );
    replace(SHOP, "format = 1", &["format = 1\nassume = true"]);
    replace(
        SHOP,
        "title = \"small shop\"",
        &["", "title = \"\"", "title = \"\\u0000 \\\" 木\""],
    );
    // Without a fan there is nothing of it to write.
    let (start, end) = (
        SHOP.find("[collector.fan]").unwrap(),
        SHOP.find("[[section]]").unwrap(),
    );
    round_trip(&format!("{}{}", &SHOP[..start], &SHOP[end..]));
}

/// The same system in American and in SI units.
#[test]
fn units() {
    let metric = [
        ("\"20 ft\"", "\"6.096 m\""),
        ("\"4 ft\"", "\"121.92 cm\""),
        ("\"500 cfm\"", "\"0.2359737216 m3/s\""),
        ("\"68 F\"", "\"20 C\""),
        ("\"98.3 kPa\"", "\"98300 Pa\""),
        ("\"0.5 cm2\"", "\"0.00005 m2\""),
    ];
    let mut text = EVERY_WORD.to_owned();
    for (us, si) in metric {
        text = spoilt(&text, us, si);
    }
    // 1 ft = 0.3048 m exactly, and so on: the factors are exact ratios, so nothing is lost.
    assert_eq!(read(&text), read(EVERY_WORD));
    round_trip(&text);
    // The shortest text that reads back to the same bits: inches stay inches, 160 mm is 0.16 m.
    let written = round_trip(SHOP);
    for text in ["4 in", "400 cfm", "700 m3/h", "0.16 m"] {
        assert!(written.contains(&format!("\"{text}\"")), "{text}");
    }
}

#[test]
fn what_was_left_out_stays_left_out() {
    let written = round_trip(LITTLE_KNOWN);
    for word in ["air", "wall", "kind", "entry", "join", "required", "shape"] {
        assert!(!written.contains(&format!("{word} =")), "{word}");
        assert!(!written.contains(&format!("[{word}]")), "{word}");
    }
    for word in [
        "assume = true",
        "unknown_elbow",
        "unknown_filter",
        "unknown_separator",
    ] {
        assert!(written.contains(word), "{word}");
    }
    // A new title is no change of the system.
    let mut study = read(LITTLE_KNOWN);
    study.title = Some("first evening".into());
    let written = toml::to_string(&study).unwrap();
    assert!(written.contains("unknown_filter"));
    assert_eq!(read(&written), study);
}

#[test]
fn once_changed_everything_is_written() {
    let mut study = read(LITTLE_KNOWN);
    study.system.sections[0].size = Bore::Round(Length::from_in(6.0));
    let written = toml::to_string(&study).unwrap();
    for word in [
        "assume",
        "unknown_elbow",
        "unknown_filter",
        "unknown_separator",
    ] {
        assert!(!written.contains(word), "{word}");
    }
    let again = read(&written);
    assert_eq!(again.system, study.system);
    // All is given now; only the shape of the fan's curve is still known to be a guess.
    let told: Vec<_> = again
        .assumptions
        .iter()
        .map(|a| (a.place.clone(), a.parameter))
        .collect();
    assert_eq!(told, [(Place::Fan, Parameter::Shape)]);
    round_trip(&written);
    // Changed back it is the document that was read.
    study.system.sections[0].size = Bore::Round(Length::from_mm(150.0));
    assert!(toml::to_string(&study).unwrap().contains("unknown_elbow"));

    let mut shop = read(SHOP);
    shop.system.sections[2].parts[0] = Part::Duct(Length::from_ft(20.0));
    assert_snapshot!(toml::to_string(&shop).unwrap(), @r#"
    format = 1
    title = "small shop"
    junction = "momentum"

    [air]
    altitude = "250 m"
    temperature = "20 C"
    relative_humidity = 0.5

    [[collector.before]]
    wall = "galvanised"

    [collector.before.size]
    round = "0.16 m"

    [[collector.before.parts]]

    [collector.before.parts.separator]
    velocity_heads = 6.5

    [[collector.before.parts]]

    [collector.before.parts.filter.rated]
    drop = "250 Pa"
    at = "1200 m3/h"

    [collector.fan]
    basis = "static"
    density = "1.2 kg/m3"
    points = [["0 L/s", "2400 Pa"], ["1500 m3/h", "1900 Pa"], ["3000 m3/h", "300 Pa"]]

    [collector.fan.fitted]
    separator = false
    filter = false
    silencer = false

    [[section]]
    id = "main"
    wall = "galvanised"

    [section.size]
    round = "0.16 m"

    [[section.parts]]
    duct = "6 m"

    [[section.parts]]

    [section.parts.elbow.smooth]
    r_over_d = 1.5
    angle = "90 deg"

    [[section]]
    id = "planer drop"
    into = "main"
    wall = "galvanised"

    [section.size]
    round = "0.14 m"

    [[section.parts]]

    [section.parts.hose]
    length = "1.2 m"

    [section.parts.hose.kind.wire]
    compression = 0.1

    [[section.parts]]

    [section.parts.gate]
    opening = 1.0

    [[section.parts]]
    duct = "3 m"

    [section.hood]
    id = "planer port"
    machine = "planer"

    [section.hood.entry]
    k = 0.5

    [[section]]
    id = "saw drop"
    into = "main"
    wall = "galvanised"

    [section.join]
    angle = "45 deg"

    [section.size]
    round = "4 in"

    [[section.parts]]
    duct = "20 ft"

    [[section.parts]]

    [section.parts.gate]
    opening = 1.0
    leak_area = "50 mm2"

    [section.hood]
    id = "saw cabinet"
    entry = "plain"
    required = "400 cfm"

    [[machine]]
    id = "planer"
    required = "700 m3/h"
    "#);
}

#[test]
fn a_study_made_in_code_is_read_back_equal() {
    let study = Study::new(read(EVERY_WORD).system);
    let written = toml::to_string(&study).unwrap();
    assert_eq!(read(&written), study);
    let json = serde_json::to_string(&study).unwrap();
    assert_eq!(serde_json::from_str::<Study>(&json).unwrap(), study);
}

/// A system alone has neither version nor title, and nothing is assumed.
#[test]
fn a_system_alone() {
    for text in [SHOP, EVERY_WORD, LITTLE_KNOWN] {
        let system = read(text).system;
        let written = toml::to_string(&system).unwrap();
        assert!(!written.contains("format") && !written.contains("title"));
        assert_eq!(toml::from_str::<System>(&written).unwrap(), system);
        let json = serde_json::to_string(&system).unwrap();
        assert_eq!(serde_json::from_str::<System>(&json).unwrap(), system);
        // With the version in front it is a document.
        assert_eq!(read(&format!("format = 1\n{written}")).system, system);
    }
    let bare = spoilt(
        &spoilt(SHOP, "format = 1", ""),
        "title = \"small shop\"",
        "",
    );
    assert_eq!(toml::from_str::<System>(&bare).unwrap(), read(SHOP).system);
    assert_snapshot!(toml::from_str::<System>(&spoilt(&bare, "wall = \"galvanised\"", "")).unwrap_err(), @r#"
    3 faults in the model
      section "main": wall is missing; give it, or say `assume = true` to have it taken as a roughness of 0.09 mm
      section "planer drop": wall is missing; give it, or say `assume = true` to have it taken as a roughness of 0.09 mm
      section "saw drop": wall is missing; give it, or say `assume = true` to have it taken as a roughness of 0.09 mm
    "#);
    assert_snapshot!(toml::from_str::<System>(SHOP).unwrap_err(), @r#"
    TOML parse error at line 2, column 1
      |
    2 | format = 1
      | ^^^^^^
    unknown field `format`, expected one of `air`, `junction`, `wall`, `collector`, `section`, `machine`
    "#);
}

/// What cannot be read is not written: JSON would make null of NaN, and null of `extra_k` is 0.
#[test]
fn a_system_with_faults_is_not_written() {
    let mut study = read(SHOP);
    study.system.sections[2].join.extra_k = f64::NAN;
    study.system.sections[1].parts[1] = Part::K(f64::INFINITY);
    assert_snapshot!(serde_json::to_string(&study).unwrap_err(), @r#"
    2 faults in the model
      section "planer drop", part 2: k is inf; allowed: 0 to 1000000
      join of section "saw drop": extra k is NaN; allowed: 0 to 1000000
    "#);
    assert!(serde_json::to_string(&study.system).is_err());
    assert!(toml::to_string(&study).is_err());
    // The study itself is as it was.
    assert_eq!(study.system.sections[1].parts[1], Part::K(f64::INFINITY));
}

/// Every quantity and every bare number of a document, to the last bit.
fn shop_with(values: &[f64]) -> System {
    let mut system = read(SHOP).system;
    let mut values = values.iter().copied().cycle();
    let mut next = || values.next().unwrap_or(0.5);
    for section in &mut system.sections {
        section.size = Bore::Round(Length::from_m(0.1 + 0.1 * next()));
        section.wall = Wall::Roughness(Length::from_m(1e-3 * next()));
        section.parts = vec![
            Part::Duct(Length::from_ft(10.0 * next())),
            Part::K(next()),
            Part::Elbow(Elbow::Smooth {
                r_over_d: 1.0 + next(),
                angle: Angle::from_rad(next()),
            }),
            Part::Gate(Gate {
                opening: 0.5 + 0.5 * next(),
                leak_area: Some(Area::from_m2(1e-4 * next())),
            }),
            Part::Filter(Filter::Rated(RatedDrop {
                drop: Pressure::from_in_wg(next()),
                at: VolumeFlow::from_cfm(100.0 + next()),
            })),
        ];
        if section.join.angle.is_some() {
            section.join = Join {
                angle: Some(Angle::from_deg(90.0 * next())),
                k: Some(next()),
                extra_k: next(),
            };
        }
    }
    system.machines[0].required = VolumeFlow::from_m3_h(1000.0 * next());
    system
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(100))]

    #[test]
    fn prop_numbers_come_back_to_the_last_bit(values in prop::collection::vec(0.0..1.0_f64, 30)) {
        let study = Study::new(shop_with(&values));
        let written = toml::to_string(&study).unwrap();
        prop_assert_eq!(&toml::from_str::<Study>(&written).unwrap(), &study);
        // The quantities of JSON are texts as well; a bare number is read by its own reader, which
        // may miss the last bit unless built to be exact.
        let json = serde_json::to_string(&study).unwrap();
        let again: Study = serde_json::from_str(&json).unwrap();
        prop_assert_eq!(again.system.sections[0].size, study.system.sections[0].size);
        prop_assert_eq!(again.system.machines, study.system.machines);
    }
}

/// What the owner asks stands in the same document, is written with it, and comes back.
#[test]
fn prop_plans_come_back() {
    let mut text = std::fs::read_to_string("examples/chair_shop.toml").unwrap();
    let bare: Study = toml::from_str(&text).unwrap();
    assert_eq!(bare.plans, airsplit::Plans::default());
    assert!(!toml::to_string(&bare).unwrap().contains("[check]"));
    text += r#"
        [use]
        at_most = 3
        [check]
        dust = "dry_chips"
        [[check.requirements]]
        machine = "planer"
        need = { look_up = { planer = { cutter_width = "410 mm" } } }
        [[upgrade]]
        name = "wider main"
        cost = 420
        changes = [{ size = { section = "main east", to = { round = "200 mm" } } }]
        [sizing]
        sections = ["main east"]
        least_velocity = "20 m/s"
        stock = [{ diameter = "200 mm", per_metre = 12 }]
        [[price]]
        item = "screw"
        price = 0.05
        per = "piece"
        [takeoff]
        stock = "2 m"
        [transport]
        least_velocity = "20 m/s"
        [filter_gauge]
        loading = { kg_per_h = 2, area = "14 m2", k2_per_s = 20000 }
        [room]
        opening = "0.25 m2"
        [[future]]
        id = "bench saw"
        branch = "future drop"
        hood = { entry = { k = 0.5 }, required = "400 m3/h" }
    "#;
    let study: Study = toml::from_str(&text).unwrap();
    assert_eq!(study.plans.upgrades.len(), 1);
    assert_eq!(study.plans.check.requirements.len(), 1);
    assert_eq!(study.plans.prices.prices.len(), 1);
    assert!(study.plans.sizing.is_some());
    assert!(study.plans.transport.is_some() && study.plans.room.is_some());
    assert_eq!(study.plans.future.len(), 1);
    assert_ne!(study.plans.takeoff, airsplit::TakeoffOptions::default());
    assert_ne!(
        study.plans.filter_gauge,
        airsplit::FilterGaugeOptions::default()
    );
    let again: Study = toml::from_str(&toml::to_string(&study).unwrap()).unwrap();
    assert_eq!(again, study);
    // A changed system is written whole; the plans go with it.
    let mut changed = study.clone();
    changed.system = study.system.with(&study.plans.upgrades[0].changes).unwrap();
    let again: Study = toml::from_str(&toml::to_string(&changed).unwrap()).unwrap();
    assert_eq!(again, changed);
    let json: Study = serde_json::from_str(&serde_json::to_string(&study).unwrap()).unwrap();
    assert_eq!(json, study);
    let unknown = text.replace("at_most", "at_mots");
    assert!(
        toml::from_str::<Study>(&unknown)
            .unwrap_err()
            .to_string()
            .contains("at_mots")
    );
}
