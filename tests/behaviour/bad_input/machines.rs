//! Hoods and the machines that they serve.

use super::*;

#[test]
fn nobody_serves_or_is_served() {
    let text = spoilt(SHOP, ", machine = \"planer\"", "");
    let error = fault(&text, &machine("planer"));
    assert_eq!(error.fault, ModelFault::NoHood);
    assert_snapshot!(error, @r#"machine "planer": no hood serves it; name it as the machine of a hood, or leave it out"#);
    let text = spoilt(SHOP, ", machine = \"planer\"", ", machine = \"palner\"");
    let errors = faults(&text);
    assert_snapshot!(errors, @r#"
    2 faults in the model
      hood "planer port": no machine is called "palner"; known, nearest first: "planer"
      machine "planer": no hood serves it; name it as the machine of a hood, or leave it out
    "#);
    let error = errors
        .iter()
        .find(|e| e.place == hood("planer port"))
        .unwrap();
    assert!(matches!(&error.fault, ModelFault::Unknown(unknown) if unknown.what == "machine"));
    let end = SHOP.find("[[machine]]").unwrap();
    assert_snapshot!(fault(&SHOP[..end], &hood("planer port")), @r#"hood "planer port": no machine is called "planer"; there are none"#);
}

#[test]
fn one_name_two_meanings() {
    let error = fault(
        &spoilt(SHOP, "id = \"saw cabinet\"", "id = \"planer\""),
        &hood("planer"),
    );
    assert_eq!(error.fault, ModelFault::AmbiguousName);
    assert_snapshot!(error, @r#"hood "planer": a machine has the same name but other hoods; an open set could not tell them apart; rename one of the two"#);
    // The only hood of a machine may share its name: both mean the same.
    let same = spoilt(SHOP, "id = \"planer port\"", "id = \"planer\"");
    assert!(toml::from_str::<Study>(&same).is_ok());
}
