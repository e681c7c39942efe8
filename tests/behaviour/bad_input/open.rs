//! Open sets, workspaces and shut gates.

use super::*;

#[test]
fn sets() {
    let network = network(SHOP);
    let nothing: [&str; 0] = [];
    let error = network
        .operating_point(&network.open(nothing).unwrap())
        .unwrap_err();
    assert_eq!(error, SolveError::NothingOpen);
    assert_snapshot!(error, @"no open hood reaches the fan: open at least one, and let no gate on its way stand shut");

    let error = network.open(["planer port", "saw cabinte"]).unwrap_err();
    assert_eq!(error.nearest[0].as_str(), "saw cabinet");
    assert_snapshot!(error, @r#"no hood or machine is called "saw cabinte"; known, nearest first: "saw cabinet", "planer", "planer port""#);

    let mut other = shop();
    let Start::Hood(hood) = &mut other.sections[2].start else {
        panic!("{other:?}")
    };
    hood.id = "saw guard".into();
    let other = Network::new(&other).unwrap();
    let error = other.operating_point(&network.open_all()).unwrap_err();
    assert_eq!(error, SolveError::ForeignOpenSet);
    assert_snapshot!(error, @"the open set was made for a network with other hoods; make it anew with this network's `open`");

    let point = network.operating_point(&network.open_all()).unwrap();
    assert_snapshot!(point.hood("planer prot").unwrap_err(), @r#"no hood is called "planer prot"; known, nearest first: "planer port", "saw cabinet""#);
    assert_snapshot!(point.section("Main").unwrap_err(), @r#"no section is called "Main"; known, nearest first: "main", "saw drop", "planer drop""#);
}

#[test]
fn a_foreign_workspace_is_as_good_as_a_new_one() {
    let (small, large) = (network(SHOP), network(EVERY_WORD));
    let mut work = Workspace::default();
    let fresh = [&small, &large].map(|n| n.operating_point(&n.open_all()).unwrap());
    for _ in 0..2 {
        for (network, fresh) in [&large, &small].into_iter().zip([&fresh[1], &fresh[0]]) {
            let again = network
                .solve(&network.open_all(), &mut work)
                .unwrap()
                .to_point();
            assert_eq!(again, *fresh);
        }
    }
}

#[test]
fn shut_gates() {
    let shut = spoilt(
        SHOP,
        "{ gate = { opening = 1.0 } }",
        "{ gate = { opening = 0 } }",
    );
    let shut = spoilt(
        &shut,
        "{ gate = { opening = 1.0, leak_area = \"0.00005 m2\" } }",
        "{ gate = { opening = 0 } }",
    );
    let network = network(&shut);
    let error = network.operating_point(&network.open_all()).unwrap_err();
    assert_eq!(error, SolveError::NothingOpen);

    // In the middle of a main: what lies upstream gets nothing, the rest works.
    let middle = spoilt(SHOP, "into = \"main\"\nsize", "into = \"upper\"\nsize");
    let middle = format!(
        "{middle}\n[[section]]\nid = \"upper\"\ninto = \"main\"\nsize = {{ round = \"160 mm\" }}\nparts = [{{ gate = {{ opening = 0 }} }}]\n"
    );
    let network = super::network(&middle);
    let point = network.operating_point(&network.open_all()).unwrap();
    assert_eq!(point.hood("planer port").unwrap().flow.as_m3_s(), 0.0);
    assert!(!point.hood("planer port").unwrap().open);
    let saw = point.hood("saw cabinet").unwrap();
    assert!(saw.open && saw.flow.as_m3_s() > 0.05);
    assert!((saw.flow / point.flow - 1.0).abs() < 1e-12);
    let error = network
        .operating_point(&network.open(["planer"]).unwrap())
        .unwrap_err();
    assert_eq!(error, SolveError::NothingOpen);
}
