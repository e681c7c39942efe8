//! Values out of range, each with its unit and what is allowed.

use super::*;

#[test]
fn sizes() {
    let told = |size: &str| {
        fault(
            &spoilt(SHOP, "{ round = \"4 in\" }", size),
            &section("saw drop"),
        )
    };
    assert_snapshot!(told("{ round = \"0 in\" }"), @r#"section "saw drop": diameter is 0 mm; allowed: 1 mm to 20000 mm"#);
    assert_snapshot!(told("{ round = \"-4 in\" }"), @r#"section "saw drop": diameter is -101.6 mm; allowed: 1 mm to 20000 mm"#);
    assert_snapshot!(told("{ round = \"4000 ft\" }"), @r#"section "saw drop": diameter is 1219200 mm; allowed: 1 mm to 20000 mm"#);
    assert_snapshot!(told("{ rectangular = { width = \"100 mm\", height = \"0.1 mm\" } }"), @r#"section "saw drop": height is 0.1 mm; allowed: 1 mm to 20000 mm"#);
    for side in [f64::NAN, f64::INFINITY, 0.0, -0.1, 1e300, 5e-324] {
        let mut system = shop();
        system.sections[0].size = Bore::Round(Length::from_m(side));
        let errors = refused(&system);
        let error = errors.iter().find(|e| e.place == section("main")).unwrap();
        assert_eq!(refused_value(&error.fault).0, "diameter");
        assert!(refused_value(&error.fault).1.to_bits() == (side * 1000.0).to_bits());
    }
}

#[test]
fn parts() {
    let told =
        |from: &str, to: &str, section: &str, i| fault(&spoilt(SHOP, from, to), &part(section, i));
    assert_snapshot!(told("{ duct = \"5 m\" }", "{ duct = \"-5 m\" }", "saw drop", 0), @r#"section "saw drop", part 1: length is -5 m; allowed: 0 m to 10000 m"#);
    assert_snapshot!(told("{ duct = \"5 m\" }", "{ k = -1 }", "saw drop", 0), @r#"section "saw drop", part 1: k is -1; allowed: 0 to 1000000"#);
    assert_snapshot!(told("{ duct = \"5 m\" }", "{ silencer = inf }", "saw drop", 0), @r#"section "saw drop", part 1: k is inf; allowed: 0 to 1000000"#);
    assert_snapshot!(told("{ gate = { opening = 1.0 } }", "{ gate = { opening = 50 } }", "planer drop", 1), @r#"section "planer drop", part 2: opening of the gate is 50; allowed: 0 to 1"#);
    assert_snapshot!(told("0.00005 m2", "0.5 m2", "saw drop", 1), @r#"section "saw drop", part 2: leak area of the gate is 0.5 m2; allowed: 0 m2 to 0.008107319665559963 m2"#);
    assert_snapshot!(told("r_over_d = 1.5", "r_over_d = 0", "main", 1), @r#"section "main", part 2: r/D of the elbow is 0; allowed: 0.5 to 100"#);
    assert_snapshot!(told("compression = 0.1", "compression = 10", "planer drop", 0), @r#"section "planer drop", part 1: compression of the hose is 10; allowed: 0 to 0.95"#);
    assert_snapshot!(told("{ duct = \"5 m\" }", "{ unknown_filter = { cloth = \"0 m2\" } }", "saw drop", 0), @r#"section "saw drop", part 1: cloth area of the filter is 0 m2; allowed: 0.001 m2 to 100000 m2"#);
}

#[test]
fn hoods_machines_walls_collector() {
    let told = |from: &str, to: &str, place| fault(&spoilt(SHOP, from, to), &place);
    assert_snapshot!(told("{ k = 0.5 }", "{ k = -0.5 }", hood("planer port")), @r#"hood "planer port": loss coefficient is -0.5; allowed: 0 to 1000000"#);
    assert_snapshot!(told("\"plain\"", "{ coefficient = 1.5 }", hood("saw cabinet")), @r#"hood "saw cabinet": coefficient of entry is 1.5; allowed: 0.001 to 1"#);
    let required = told("\"400 cfm\"", "\"-400 cfm\"", hood("saw cabinet"));
    let flow = VolumeFlow::from_cfm(-400.0);
    assert_eq!(required.fault, ModelFault::RequiredFlow { flow });
    assert_snapshot!(required, @r#"hood "saw cabinet": the required flow is -400 cfm; allowed: 0 m3/s to 1000 m3/s"#);
    assert_snapshot!(told("\"700 m3/h\"", "\"1e9 m3/h\"", machine("planer")), @r#"machine "planer": the required flow is 1e9 m3/h; allowed: 0 m3/s to 1000 m3/s"#);
    let wall = "size = { round = \"160 mm\" }\nwall = { roughness = \"40 mm\" }\n";
    assert_snapshot!(told("size = { round = \"160 mm\" }\n", wall, section("main")), @r#"section "main": roughness of the wall is 40 mm; allowed: 0 mm to 10 mm"#);
    let before = |run, part| Place::Before { run, part };
    assert_snapshot!(told("at = \"1200 m3/h\"", "at = \"0 m3/h\"", before(0, Some(1))), @"collector, run 1 before the fan, part 2: flow of the rated pressure drop is 0 m3/s; allowed: 0.000001 m3/s to 1000 m3/s");
    assert_snapshot!(told("before = [\n    { size = { round = \"160 mm\" }", "before = [\n    { size = { round = \"16 m\" }", before(0, Some(0))), @"collector, run 1 before the fan, part 1: area of the bore is 201.062 m2; allowed: 0.000001 m2 to 100 m2");
}

#[test]
fn leaks() {
    let told = |start: &str| fault(&spoilt(SHOP, SAW_HOOD, start), &section("saw drop"));
    assert_snapshot!(told("leak = { hole = \"-1 cm2\" }"), @r#"section "saw drop": area of the leak is -0.0001 m2; allowed: 0 m2 to 100 m2"#);
    assert_snapshot!(told("leak = { power = { at_1_pa = \"1 L/s\", exponent = 2 } }"), @r#"section "saw drop": exponent of the leak is 2; allowed: 0.5 to 1"#);
    let loose = format!("tightness = {{ smacna = -48 }}\n{SAW_HOOD}");
    assert_snapshot!(told(&loose), @r#"section "saw drop": leakage class is -48; allowed: 0 to 1000"#);
}

#[test]
fn air() {
    let told = |to: &str| {
        let from = "{ altitude = \"250 m\", temperature = \"20 C\", relative_humidity = 0.5 }";
        let error = fault(&spoilt(SHOP, from, to), &Place::Air);
        assert!(matches!(error.fault, ModelFault::Air(_)));
        error
    };
    assert_snapshot!(told("{ altitude = \"9000 m\", temperature = \"20 C\", relative_humidity = 0.5 }"), @"air: altitude is 9000 m; allowed: -500 m to 5000 m");
    assert_snapshot!(told("{ altitude = \"250 m\", temperature = \"200 F\", relative_humidity = 0.5 }"), @"air: temperature is 93.333333333 C; allowed: -40 C to 60 C");
    assert_snapshot!(told("{ altitude = \"250 m\", temperature = \"20 C\", relative_humidity = 50 }"), @"air: relative humidity (a fraction) is 50; allowed: 0 to 1");
    assert_snapshot!(told("{ density = \"0 kg/m3\", viscosity = \"1.8e-5 Pa s\" }"), @"air: density is 0 kg/m3; allowed: 0.01 kg/m3 to 100 kg/m3");
    assert_snapshot!(told("{ density = \"1.2 kg/m3\" }"), @"air: missing: viscosity; give altitude (or barometer), temperature and relative_humidity, or density and viscosity");
    assert_snapshot!(told("{ density = \"1.2 kg/m3\", viscosity = \"1.8e-5 Pa s\", altitude = \"0 m\" }"), @"air: altitude and density exclude each other; give altitude (or barometer), temperature and relative_humidity, or density and viscosity");
}

#[test]
fn fans_of_absurd_scale() {
    let told = |from: &str, to: &str| fault(&spoilt(SHOP, from, to), &Place::Fan);
    assert_snapshot!(told("\"2400 Pa\"", "\"24000000 Pa\""), @"fan: largest pressure of the fan is 24000000 Pa; allowed: 1 Pa to 100000 Pa");
    assert_snapshot!(told("[\"3000 m3/h\"", "[\"3000000000 m3/h\""), @"fan: largest flow of the fan is 833333 m3/s; allowed: 0.000001 m3/s to 1000 m3/s");
    assert_snapshot!(told("density = \"1.2 kg/m3\"", "density = \"1200 kg/m3\""), @"fan: density of the fan curve is 1200 kg/m3; allowed: 0.01 kg/m3 to 100 kg/m3");
    let outlet = |size: &str| format!("outlet = {size}\nbasis = \"static\"");
    assert_snapshot!(told("basis = \"static\"", &outlet("{ round = \"30 mm\" }")), @"fan: air speed in the fan outlet at the largest flow is 1178.93 m/s; allowed: 0 m/s to 200 m/s");
    assert_snapshot!(told("basis = \"static\"", &outlet("{ round = \"0.1 mm\" }")), @"fan: diameter of the fan outlet is 0.1 mm; allowed: 1 mm to 20000 mm");
    let pipe = "basis = { test_pipe = { bore = { rectangular = { width = \"4 in\", height = \"4000 in\" } } } }";
    assert_snapshot!(told("basis = \"static\"", pipe), @"fan: height of the test pipe is 101600 mm; allowed: 1 mm to 20000 mm");
}

#[test]
fn transitions_out_of_place() {
    let told = |from: &str, to: &str, place| {
        let error = fault(&spoilt(SHOP, from, to), &place);
        assert_eq!(error.fault, ModelFault::TransitionPlace);
        error
    };
    // At a hood, at a junction, and behind another part.
    told(
        "{ duct = \"5 m\" }",
        "{ transition = \"sharp\" }",
        part("saw drop", 0),
    );
    told(
        "{ duct = \"6 m\" }",
        "{ transition = \"sharp\" }",
        part("main", 0),
    );
    let place = Place::Before {
        run: 0,
        part: Some(1),
    };
    let error = told(
        "{ filter =",
        "{ transition = \"sharp\" }, { filter =",
        place,
    );
    assert_snapshot!(error, @"collector, run 1 before the fan, part 2: a transition stands only first in a run that one other run enters inline; leave it out: a hood tells its own entry, a junction its own change of size");
}
