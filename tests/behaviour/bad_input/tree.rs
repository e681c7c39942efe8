//! Names, and which section drains where.

use super::*;

fn into(section: &str, into: &str) -> String {
    let id = format!("id = \"{section}\"\n");
    spoilt(SHOP, &id, &format!("{id}into = \"{into}\"\n"))
}

#[test]
fn rings() {
    let two = spoilt(
        SHOP,
        "into = \"main\"\nsize = { round = \"140 mm\" }",
        "into = \"saw drop\"\nsize = { round = \"140 mm\" }",
    );
    let two = spoilt(
        &two,
        "into = \"main\"\njoin = { angle = \"45 deg\" }",
        "into = \"planer drop\"",
    );
    let errors = faults(&two);
    let error = errors.iter().next().unwrap();
    assert_eq!(error.place, section("planer drop"));
    let ring = ["planer drop", "saw drop"].map(Name::from).to_vec();
    assert_eq!(error.fault, ModelFault::Ring { sections: ring });
    assert_snapshot!(errors, @r#"
    4 faults in the model
      section "planer drop": drains in a ring that never reaches the collector: "planer drop" -> "saw drop" -> "planer drop"; give one of them another `into`, or none to end at the collector
      section "main": nothing enters it: give it a hood, cap it, or let other sections drain into it
      section "planer drop": starts at a hood, where nothing can enter, yet these drain into it: "saw drop"; put the hood on a section of its own
      section "saw drop": starts at a hood, where nothing can enter, yet these drain into it: "planer drop"; put the hood on a section of its own
    "#);

    // Two drops drain into this one, and are no part of the ring; that it meets one of them
    // straight is told as well.
    let errors = faults(&into("main", "main"));
    let sections = vec![Name::from("main")];
    assert!(errors.iter().any(|e| e.fault
        == ModelFault::Ring {
            sections: sections.clone()
        }));
    assert_snapshot!(errors, @r#"
    2 faults in the model
      join of section "planer drop": angle of the join is missing; give it, or say `assume = true` to have it taken as 45 deg
      section "main": drains in a ring that never reaches the collector: "main" -> "main"; give one of them another `into`, or none to end at the collector
    "#);
}

#[test]
fn every_ring_is_told_once() {
    let ring = |first: usize| {
        (0..8).map(move |i| {
            let name = |i: usize| format!("s{}", first + i % 8);
            Section::new(name(i), Bore::Round(Length::from_mm(100.0)), Wall::Steel)
                .draining_into(name(i + 1))
        })
    };
    let mut system = shop();
    system.sections.extend(ring(0).chain(ring(8)));
    let errors = refused(&system);
    assert!(
        errors
            .iter()
            .all(|e| matches!(e.fault, ModelFault::Ring { .. }))
    );
    assert_snapshot!(errors, @r#"
    2 faults in the model
      section "s0": drains in a ring that never reaches the collector: "s0" -> "s1" -> "s2" -> "s3" -> "s4" -> "s5" -> 2 more -> "s0"; give one of them another `into`, or none to end at the collector
      section "s8": drains in a ring that never reaches the collector: "s8" -> "s9" -> "s10" -> "s11" -> "s12" -> "s13" -> 2 more -> "s8"; give one of them another `into`, or none to end at the collector
    "#);
}

#[test]
fn same_names() {
    let sections = fault(
        &spoilt(SHOP, "id = \"saw drop\"", "id = \"planer drop\""),
        &section("planer drop"),
    );
    assert!(
        matches!(&sections.fault, ModelFault::Duplicate { what: "section", name } if name.as_str() == "planer drop")
    );
    assert_snapshot!(sections, @r#"section "planer drop": more than one section is called "planer drop"; names must differ"#);
    let hoods = fault(
        &spoilt(SHOP, "id = \"saw cabinet\"", "id = \"planer port\""),
        &hood("planer port"),
    );
    assert!(matches!(
        &hoods.fault,
        ModelFault::Duplicate { what: "hood", .. }
    ));
    assert_snapshot!(hoods, @r#"hood "planer port": more than one hood is called "planer port"; names must differ"#);
    let twice = format!("{SHOP}\n[[machine]]\nid = \"planer\"\nrequired = \"1 m3/h\"\n");
    let errors = faults(&twice);
    assert!(errors.iter().any(|e| matches!(
        &e.fault,
        ModelFault::Duplicate {
            what: "machine",
            ..
        }
    )));
    assert_snapshot!(errors, @r#"
    2 faults in the model
      machine "planer": more than one machine is called "planer"; names must differ
      machine "planer": no hood serves it; name it as the machine of a hood, or leave it out
    "#);
    // A main that is there twice has its inlets once: that is no second fault.
    let main = format!("{SHOP}\n[[section]]\nid = \"main\"\nsize = {{ round = \"160 mm\" }}\n");
    let errors = faults(&main);
    assert_snapshot!(errors, @r#"
    2 faults in the model
      join of section "main": angle of the join is missing; give it, or say `assume = true` to have it taken as 45 deg
      section "main": more than one section is called "main"; names must differ
    "#);
}

#[test]
fn drains_into_what_is_not_there() {
    let error = fault(&into("main", "saw drip"), &section("main"));
    let ModelFault::Unknown(unknown) = &error.fault else {
        panic!("{error:?}")
    };
    assert_eq!(
        (unknown.what, &*unknown.name, unknown.known),
        ("section", "saw drip", 3)
    );
    assert_eq!(unknown.nearest[0].as_str(), "saw drop");
    assert_snapshot!(error, @r#"section "main": no section is called "saw drip"; known, nearest first: "saw drop", "main", "planer drop""#);
    // Letter case is not forgiven, but near.
    let error = fault(&into("main", "Planer Drop"), &section("main"));
    assert_snapshot!(error, @r#"section "main": no section is called "Planer Drop"; known, nearest first: "planer drop", "saw drop", "main""#);
}

#[test]
fn starts() {
    let with_hood = spoilt(
        SHOP,
        "id = \"main\"",
        "id = \"main\"\nhood = { id = \"end\", entry = \"plain\" }",
    );
    let error = fault(&with_hood, &section("main"));
    assert!(
        matches!(&error.fault, ModelFault::Occupied { start: "hood", inlets } if inlets.len() == 2)
    );
    assert_snapshot!(error, @r#"section "main": starts at a hood, where nothing can enter, yet these drain into it: "planer drop", "saw drop"; put the hood on a section of its own"#);
    let capped = spoilt(SHOP, "id = \"main\"", "id = \"main\"\ncapped = true");
    let error = fault(&capped, &section("main"));
    assert!(matches!(
        &error.fault,
        ModelFault::Occupied { start: "cap", .. }
    ));
    assert_snapshot!(error, @r#"section "main": starts at a cap, where nothing can enter, yet these drain into it: "planer drop", "saw drop"; put the cap on a section of its own"#);
    let both = spoilt(
        SHOP,
        "id = \"saw drop\"",
        "id = \"saw drop\"\ncapped = true",
    );
    let error = fault(&both, &section("saw drop"));
    assert_eq!(error.fault, ModelFault::TwoStarts);
    assert_snapshot!(error, @r#"section "saw drop": it starts in more ways than one; keep one of hood, capped and leak"#);
    let leak = format!("{SAW_HOOD}\nleak = {{ hole = \"1 cm2\" }}");
    let error = fault(&spoilt(SHOP, SAW_HOOD, &leak), &section("saw drop"));
    assert_eq!(error.fault, ModelFault::TwoStarts);
    let error = fault(
        &spoilt(
            SHOP,
            "id = \"main\"",
            "id = \"main\"\nleak = { hole = \"1 cm2\" }",
        ),
        &section("main"),
    );
    assert!(matches!(
        &error.fault,
        ModelFault::Occupied { start: "leak", .. }
    ));
    let nothing = spoilt(
        SHOP,
        "hood = { id = \"saw cabinet\", entry = \"plain\", required = \"400 cfm\" }",
        "",
    );
    let error = fault(&nothing, &section("saw drop"));
    assert_eq!(error.fault, ModelFault::NothingEnters);
    assert_snapshot!(error, @r#"section "saw drop": nothing enters it: give it a hood, cap it, or let other sections drain into it"#);
}

#[test]
fn no_sections_no_hoods() {
    let mut system = shop();
    system.sections.clear();
    system.machines.clear();
    let errors = refused(&system);
    assert_eq!(*only(&errors), only(&refused(&system)).clone());
    assert_eq!(
        (&only(&errors).place, &only(&errors).fault),
        (&Place::System, &ModelFault::NoHoods)
    );
    assert_snapshot!(errors, @"the system: no section has a hood; give at least one section a hood");
    let capped = shop().sections.remove(2).capped();
    let mut capped = System {
        sections: vec![capped],
        ..system
    };
    capped.sections[0].into = None;
    capped.sections[0].join = Join::default();
    assert_eq!(only(&refused(&capped)).fault, ModelFault::NoHoods);
}

#[test]
fn one_section_alone_is_a_system() {
    // dp = (k + 1) rho/2 (Q/A)^2 with a lossless collector: k and the exit, at a fan of level
    // 1000 Pa of total pressure. By hand: w = sqrt(2 1000 / (1.2 (0.5 + 1))) m/s.
    let density = Density::from_kg_m3(1.2);
    let points = [0.0, 0.5, 1.0].map(|q| (VolumeFlow::from_m3_s(q), Pressure::from_pa(1000.0)));
    let size = Bore::Round(Length::from_mm(100.0));
    let fan = FanCurve::new(points, Basis::Total, Fitted::NOTHING, density)
        .unwrap()
        .with_outlet(size)
        .unwrap();
    let air = Air::Given {
        density,
        viscosity: DynamicViscosity::from_pa_s(1.8e-5),
    };
    let system = System::new(air, Collector::new(fan)).with_section(
        Section::new("only", size, Wall::Steel).with_hood(Hood::new("port", Entry::K(0.5))),
    );
    let network = Network::new(&system).unwrap();
    let point = network
        .operating_point(&network.open(["port"]).unwrap())
        .unwrap();
    let by_hand = (2.0 * 1000.0 / (1.2 * 1.5_f64)).sqrt() * size.area().as_m2();
    assert!(
        (point.flow.as_m3_s() / by_hand - 1.0).abs() < 1e-12,
        "{:?}",
        point.flow
    );
    assert_eq!(point.status, Status::Converged);
}

#[test]
fn blank_names() {
    for blank in ["", " ", "\\t\\u3000"] {
        let text = spoilt(SHOP, "id = \"saw drop\"", &format!("id = \"{blank}\""));
        let error = only(&faults(&text)).clone();
        assert!(matches!(
            error.fault,
            ModelFault::BlankName { what: "section" }
        ));
    }
    let error = fault(
        &spoilt(SHOP, "id = \"saw cabinet\"", "id = \" \""),
        &hood(" "),
    );
    assert_snapshot!(error, @r#"hood " ": a hood needs a name that is not blank"#);
    let machines = SHOP.replace("\"planer\"", "\"\"");
    assert!(matches!(
        fault(&machines, &machine("")).fault,
        ModelFault::BlankName { what: "machine" }
    ));
}
