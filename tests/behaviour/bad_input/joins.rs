//! How sections meet.

use super::*;

const SAW_JOIN: &str = "join = { angle = \"45 deg\" }";

#[test]
fn two_straight_inlets() {
    let error = fault(&spoilt(SHOP, SAW_JOIN, ""), &join("saw drop"));
    assert!(matches!(&error.fault, ModelFault::Missing { .. }));
    assert_snapshot!(error, @r#"join of section "saw drop": angle of the join is missing; give it, or say `assume = true` to have it taken as 45 deg"#);
    let mut system = shop();
    system.sections[2].join.angle = None;
    let errors = refused(&system);
    assert_eq!(only(&errors).place, join("planer drop"));
    assert!(
        matches!(&only(&errors).fault, ModelFault::TwoStraight { inlets } if inlets.len() == 2)
    );
    assert_snapshot!(errors, @r#"join of section "planer drop": "planer drop", "saw drop" all join straight; give the angle of all but one"#);
}

#[test]
fn fixed_k_without_k() {
    let text = spoilt(SHOP, "format = 1", "format = 1\njunction = \"fixed_k\"");
    let errors = faults(&text);
    assert!(errors.iter().all(|e| e.fault == ModelFault::NoK));
    assert_snapshot!(errors, @r#"
    2 faults in the model
      join of section "planer drop": the junction has fixed coefficients; give the k of this inlet, on its own velocity pressure
      join of section "saw drop": the junction has fixed coefficients; give the k of this inlet, on its own velocity pressure
    "#);
}

#[test]
fn a_join_where_nothing_joins() {
    let text = spoilt(
        SHOP,
        "id = \"main\"",
        "id = \"main\"\njoin = { angle = \"30 deg\" }",
    );
    let error = fault(&text, &join("main"));
    assert_eq!(error.fault, ModelFault::NoJunction);
    assert_snapshot!(error, @r#"join of section "main": no other section joins here; leave out the join, or describe an elbow or transition as a part"#);
}

#[test]
fn several_mains_without_adapter() {
    let mains = spoilt(SHOP, "into = \"main\"\njoin", "join");
    assert!(Network::new(&toml::from_str::<Study>(&mains).unwrap().system).is_ok());
    let start = mains.find("before").unwrap();
    let end = mains.find("[collector.fan]").unwrap();
    let text = format!("{}{}", &mains[..start], &mains[end..]);
    let error = fault(&text, &Place::Collector);
    assert!(matches!(&error.fault, ModelFault::AdapterSize { mains } if mains.len() == 2));
    assert_snapshot!(error, @r#"collector: "main", "saw drop" enter the collector; give the size of its inlet adapter as the first run before the fan"#);
}

#[test]
fn values() {
    let told = |to: &str| {
        fault(
            &spoilt(SHOP, SAW_JOIN, &format!("join = {to}")),
            &join("saw drop"),
        )
    };
    assert_snapshot!(told("{ angle = \"190 deg\" }"), @r#"join of section "saw drop": angle is 190 deg; allowed: 0 deg to 180 deg"#);
    assert_snapshot!(told("{ angle = \"-4 rad\" }"), @r#"join of section "saw drop": angle is -229.183 deg; allowed: 0 deg to 180 deg"#);
    assert_snapshot!(told("{ angle = \"45 deg\", extra_k = -0.1 }"), @r#"join of section "saw drop": extra k is -0.1; allowed: 0 to 1000000"#);
    assert_snapshot!(told("{ angle = \"45 deg\", extra_k = nan }"), @r#"join of section "saw drop": extra k is NaN; allowed: 0 to 1000000"#);
    // Not used by this junction, but no number all the same.
    assert_snapshot!(told("{ angle = \"45 deg\", k = inf }"), @r#"join of section "saw drop": k is inf; allowed: -1000000 to 1000000"#);
}

#[test]
fn a_shape_that_the_model_is_not_made_for() {
    let text = spoilt(SHOP, "format = 1", "format = 1\njunction = \"gardel\"");
    let error = fault(&text, &section("main"));
    assert!(matches!(&error.fault, ModelFault::Shape { inlets, .. } if inlets.len() == 2));
    assert_snapshot!(error, @r#"section "main": the junction of "planer drop", "saw drop" is not one that its model is made for: area of the straight inlet over that of the outlet, for a wye formula is 0.765625; allowed: 0.999 to 1.001; choose momentum or automatic"#);
}

/// Two inlets at a junction of fixed coefficients, one of them the hood of `drop`.
fn fixed_k(drop: Section) -> System {
    let mut system = shop().with_junction(Junction::FixedK);
    system.sections.truncate(2);
    system.sections[1] = system.sections[1].clone().joining_with_k(0.2);
    system.with_section(drop.draining_into("main"))
}

fn lossless() -> Section {
    Section::new("drop", Bore::Round(Length::from_mm(100.0)), Wall::Steel)
        .with_hood(Hood::new("port", Entry::K(0.0)))
        .joining_with_k(0.0)
}

#[test]
fn lossless_inlet() {
    let errors = refused(&fixed_k(lossless()));
    assert_eq!(only(&errors).place, join("drop"));
    assert!(
        matches!(&only(&errors).fault, ModelFault::Lossless { hood } if hood.as_str() == "port")
    );
    assert_snapshot!(errors, @r#"join of section "drop": hood "port" reaches this fixed-K junction without any loss, so that nothing determines how much the other inlets get; give the hood an entry loss"#);
    // With a momentum junction the inlet's velocity pressure determines the split.
    let momentum =
        fixed_k(lossless().joining_at(Angle::from_deg(45.0))).with_junction(Junction::Momentum);
    assert!(momentum.check().is_ok());
}

#[test]
fn negative_loss() {
    let drop = lossless().joining_with_k(-0.3).with_part(Part::K(0.1));
    let errors = refused(&fixed_k(drop.clone()));
    assert_eq!(only(&errors).place, section("drop"));
    let ModelFault::NegativeLoss { k } = only(&errors).fault else {
        panic!("{errors}")
    };
    assert!((k + 0.2).abs() < 1e-12);
    assert_snapshot!(errors, @r#"section "drop": its coefficients, its join's among them, add up to -0.2 velocity pressures: a run must not gain total pressure; raise its k"#);
    // The handbook's negative coefficient is welcome as long as the run loses in all.
    assert!(fixed_k(drop.with_part(Part::K(0.3))).check().is_ok());
}
