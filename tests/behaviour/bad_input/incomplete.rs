//! What is left out, and many faults at once.

use super::*;

#[test]
fn without_assume_everything_missing_is_told_with_every_other_fault() {
    let text = spoilt(LITTLE_KNOWN, "assume = true", "");
    let text = spoilt(&text, "{ duct = \"4 m\" }", "{ duct = \"-4 m\" }");
    let errors = faults(&text);
    let missing = errors
        .iter()
        .filter(|e| matches!(e.fault, ModelFault::Missing { .. }));
    assert_eq!((errors.iter().count(), missing.count()), (16, 15));
    assert_snapshot!(errors, @r#"
    16 faults in the model
      air: altitude is missing; give it, or say `assume = true` to have it taken as 0 m
      air: temperature is missing; give it, or say `assume = true` to have it taken as 20 C
      air: relative_humidity is missing; give it, or say `assume = true` to have it taken as 0.5
      collector, run 1 before the fan: wall is missing; give it, or say `assume = true` to have it taken as a roughness of 0.09 mm
      collector, run 1 before the fan, part 1: pressure drop of the separator is missing; give it, or say `assume = true` to have it taken as 500 Pa at 1000 cfm
      collector, run 1 before the fan, part 3: pressure drop of the filter is missing; give it, or say `assume = true` to have it taken as 250 Pa, clean, at 120 m3/h for each m2 of cloth
      section "main": wall is missing; give it, or say `assume = true` to have it taken as a roughness of 0.09 mm
      section "main", part 2: loss of an elbow is missing; give it, or say `assume = true` to have it taken as k = 0.35
      hood "planer port": entry is missing; give it, or say `assume = true` to have it taken as k = 1.5
      section "planer drop": wall is missing; give it, or say `assume = true` to have it taken as a roughness of 0.09 mm
      section "planer drop", part 1: kind of hose is missing; give it, or say `assume = true` to have it taken as ribbed, 3 times the friction of smooth duct
      hood "saw cabinet": entry is missing; give it, or say `assume = true` to have it taken as k = 1.5
      section "saw drop": wall is missing; give it, or say `assume = true` to have it taken as a roughness of 0.09 mm
      join of section "saw drop": angle of the join is missing; give it, or say `assume = true` to have it taken as 45 deg
      machine "planer": required flow is missing; give it, or say `assume = true` to have it taken as 20 m/s in its ports
      section "saw drop", part 1: length is -4 m; allowed: 0 m to 10000 m
    "#);
}

#[test]
fn with_assume_every_assumption_is_told() {
    let study: Study = toml::from_str(LITTLE_KNOWN).unwrap();
    let lines: Vec<_> = study
        .assumptions
        .iter()
        .map(|a| {
            format!(
                "{}: {:?} {} ({} to {}); {}",
                a.place, a.parameter, a.value, a.low, a.high, a.source
            )
        })
        .collect();
    assert_snapshot!(lines.join("\n"), @r#"
    air: Altitude 0 (0 to 500); judgement; common practice, no source
    air: Temperature 293.15 (278.15 to 308.15); judgement; common practice, no source
    air: Humidity 0.5 (0.2 to 0.9); judgement; common practice, no source
    collector, run 1 before the fan: Roughness 0.00009 (0.00005 to 0.00015); galvanised duct: 2021 ASHRAE Handbook - Fundamentals, ch. 21, table 1; band: judgement
    collector, run 1 before the fan, part 1: Drop 500 (250 to 1000); judgement; common practice, no source
    collector, run 1 before the fan, part 3: Drop 250 (125 to 500); judgement; common practice, no source
    fan: Shape 0.7071067811865476 (0.35 to 0.85); judgement; common practice, no source
    section "main": Roughness 0.00009 (0.00005 to 0.00015); galvanised duct: 2021 ASHRAE Handbook - Fundamentals, ch. 21, table 1; band: judgement
    section "main", part 2: K 0.35 (0.24 to 0.45); judgement; common practice, no source
    hood "planer port": K 1.5 (0.5 to 2.5); judgement; common practice, no source
    section "planer drop": Roughness 0.00009 (0.00005 to 0.00015); galvanised duct: 2021 ASHRAE Handbook - Fundamentals, ch. 21, table 1; band: judgement
    section "planer drop", part 1: HoseFactor 3 (1.7 to 6); judgement; common practice, no source
    hood "saw cabinet": K 1.5 (0.5 to 2.5); judgement; common practice, no source
    section "saw drop": Roughness 0.00009 (0.00005 to 0.00015); galvanised duct: 2021 ASHRAE Handbook - Fundamentals, ch. 21, table 1; band: judgement
    join of section "saw drop": Angle 45 (30 to 60); judgement; common practice, no source
    machine "planer": Required 0.2454369260617026 (0.2454369260617026 to 0.3436116964863836); 20 m/s, damp or heavy chips 28 m/s: DGUV Information 209-044
    "#);
    assert!(
        study
            .assumptions
            .iter()
            .all(|a| a.low <= a.value && a.value <= a.high)
    );
    let network = Network::new(&study.system).unwrap();
    assert!(network.operating_point(&network.open_all()).is_ok());
}

#[test]
fn what_is_wrong_is_wrong_also_with_assume() {
    let text = spoilt(LITTLE_KNOWN, "{ duct = \"4 m\" }", "{ duct = \"-4 m\" }");
    let error = fault(&text, &part("saw drop", 0));
    assert_snapshot!(error, @r#"section "saw drop", part 1: length is -4 m; allowed: 0 m to 10000 m"#);
    // Properties of air are given whole or not at all.
    let text = spoilt(
        LITTLE_KNOWN,
        "assume = true",
        "assume = true\nair = { density = \"1.2 kg/m3\" }",
    );
    assert_snapshot!(fault(&text, &Place::Air), @"air: missing: viscosity; give altitude (or barometer), temperature and relative_humidity, or density and viscosity");
}

#[test]
fn several_faults_come_at_once() {
    let mut text = spoilt(SHOP, "altitude = \"250 m\"", "altitude = \"9000 m\"");
    for (from, to) in [
        (
            "\"planer drop\"\ninto = \"main\"",
            "\"planer drop\"\ninto = \"mian\"",
        ),
        ("{ round = \"4 in\" }", "{ round = \"0 in\" }"),
        ("{ duct = \"6 m\" }", "{ k = -1 }"),
        ("{ k = 0.5 }", "{ k = -0.5 }"),
        ("machine = \"planer\"", "machine = \"palner\""),
        ("\"700 m3/h\"", "\"-700 m3/h\""),
    ] {
        text = spoilt(&text, from, to);
    }
    let errors = faults(&text);
    assert_snapshot!(errors, @r#"
    9 faults in the model
      section "planer drop": no section is called "mian"; known, nearest first: "main", "saw drop", "planer drop"
      hood "planer port": no machine is called "palner"; known, nearest first: "planer"
      machine "planer": the required flow is -700 m3/h; allowed: 0 m3/s to 1000 m3/s
      machine "planer": no hood serves it; name it as the machine of a hood, or leave it out
      air: altitude is 9000 m; allowed: -500 m to 5000 m
      section "main", part 1: k is -1; allowed: 0 to 1000000
      hood "planer port": loss coefficient is -0.5; allowed: 0 to 1000000
      section "saw drop": diameter is 0 mm; allowed: 1 mm to 20000 mm
      join of section "saw drop": no other section joins here; leave out the join, or describe an elbow or transition as a part
    "#);
    let mut places: Vec<_> = errors.iter().map(|e| e.place.to_string()).collect();
    places.dedup();
    assert_eq!(errors.iter().count(), 9);
    assert_eq!((&errors).into_iter().count(), 9);
    let error = Error::from(errors);
    assert!(error.is_input() && !error.is_not_converged());
}
