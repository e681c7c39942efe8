//! Names of every script, of blanks, quotes and what stands in no file name.

use super::*;

const NAMES: [&str; 12] = [
    "saw 2",
    "\"quoted\" 'twice' `thrice`",
    "back\\slash/and/slash",
    "new\nline and\ttab",
    "\u{0}nul",
    "[[section]]",
    "a = { b = 1 } # no comment",
    "鉋盤 🪚🪵",
    "منشار الطاولة",
    "\u{202e}desrever",
    "e\u{301}galisseuse",
    "-",
];

/// The shop with this name in place of three: of a section, a hood and a machine.
fn named(name: &str) -> System {
    let drop = |id: &str, hood: &str| {
        Section::new(id, round(100.0), Wall::Galvanised)
            .draining_into(name)
            .joining_at(Angle::from_deg(45.0))
            .with_hood(Hood::new(hood, Entry::Plain).serving(name))
    };
    let main = Section::new(name, round(160.0), Wall::Galvanised)
        .with_part(Part::Duct(Length::from_m(6.0)));
    let mut system = System::new(Air::standard(), Collector::new(fan()))
        .with_section(main)
        .with_section(drop("one", name))
        .with_section(drop("two", "second"))
        .with_machine(name, VolumeFlow::from_cfm(400.0));
    system.sections[1].join = Join::default();
    // A machine that shares a hood's name has that hood alone.
    system.sections[2].start = Start::Hood(Hood::new("second", Entry::Plain));
    system
}

#[test]
fn prop_any_name_is_found_written_and_read() {
    let long = "x".repeat(50_000);
    for name in NAMES.into_iter().chain([long.as_str()]) {
        let system = named(name);
        let study = Study::new(system.clone());
        let written = toml::to_string(&study).unwrap();
        assert_eq!(
            toml::from_str::<Study>(&written).unwrap(),
            study,
            "{name:?}"
        );
        let written = serde_json::to_string(&study).unwrap();
        assert_eq!(serde_json::from_str::<Study>(&written).unwrap(), study);
        let network = Network::new(&system).unwrap();
        let open = network.open([name]).unwrap();
        let point = network.operating_point(&open).unwrap();
        assert!(point.hood(name).unwrap().flow.as_m3_s() > 0.1);
        assert!(point.section(name).is_ok() && point.machine(name).is_ok());
        // What is not there is told with the names that are.
        let error = network.open([format!("{name}!")]).unwrap_err();
        told(&error);
        told(&point.hood("no such hood").unwrap_err());
        told(
            &system
                .with(&[Change::Size {
                    section: "none".into(),
                    to: round(1.0),
                }])
                .unwrap_err(),
        );
        assert!(check(&system, [&point], &CheckOptions::new()).is_ok());
        let limits = TransportLimits::new(Velocity::from_m_s(20.0));
        let schedule = gate_schedule(&system, &limits).unwrap();
        assert!(schedule.row(name).is_some() && schedule.to_string().contains("slowest"));
        assert!(takeoff(&system, &TakeoffOptions::default()).is_ok());
    }
}

#[test]
fn prop_blank_and_equal_names_are_refused() {
    for name in ["", " ", "\u{a0}\u{2003}", "\n\t"] {
        assert!(
            named(name)
                .check()
                .unwrap_err()
                .to_string()
                .contains("not blank")
        );
    }
    let mut system = named("a");
    system.sections[2].id = "one".into();
    assert!(
        system
            .check()
            .unwrap_err()
            .to_string()
            .contains("more than one section")
    );
    // Names that only look alike are two.
    let mut system = named("\u{e9}");
    system.sections[2].id = "e\u{301}".into();
    assert!(system.check().is_ok());
}
