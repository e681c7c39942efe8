//! Whole networks against solutions in 40 digits.

#![allow(
    clippy::unwrap_used,
    reason = "clippy knows tests by their attribute, not their helpers"
)]

use airsplit::*;

/// The network of `tests/data/network_3hood.json`: 2 wyes of 45 degrees, 4 in into 6 in.
fn three_hoods() -> System {
    let four = Bore::Round(Length::from_m(0.1016));
    let six = Bore::Round(Length::from_m(0.1524));
    let wall = || Wall::Roughness(Length::from_mm(0.09));
    let duct = |metres| Part::Duct(Length::from_m(metres));
    let drop = |pascal| RatedDrop {
        drop: Pressure::from_pa(pascal),
        at: VolumeFlow::from_m3_s(1.0),
    };
    let q = [0.0, 0.06, 0.12, 0.18, 0.24, 0.3, 0.36, 0.42, 0.48];
    let p = [
        2480.0, 2465.0, 2410.0, 2300.0, 2120.0, 1850.0, 1480.0, 1000.0, 390.0,
    ];
    let points = q
        .into_iter()
        .zip(p)
        .map(|(q, p)| (VolumeFlow::from_m3_s(q), Pressure::from_pa(p)));
    let density = Density::from_kg_m3(1.204);
    let fan = FanCurve::new(points, Basis::Total, Fitted::NOTHING, density).unwrap();
    let air = Air::Given {
        density,
        viscosity: DynamicViscosity::from_pa_s(1.825e-5),
    };
    let separator = Part::Separator(Separator::VelocityHeads(2.0));
    let filter = Part::Filter(Filter::Terms {
        linear: drop(900.0),
        quadratic: drop(800.0),
    });
    let collector = Collector::new(fan)
        .with_before(Run::new(six, wall()).with_part(separator))
        .with_before(Run::new(six, wall()).with_part(filter))
        .with_after(Run::new(six, wall()));
    let at_45 = Angle::from_deg(45.0);
    System::new(air, collector)
        .with_section(
            Section::new("leaf1", four, wall())
                .draining_into("main1")
                .joining_at(at_45)
                .with_part(duct(3.0))
                .with_hood(Hood::new("hood1", Entry::K(0.83))),
        )
        .with_section(
            Section::new("leaf2", six, wall())
                .draining_into("main1")
                .with_part(duct(5.0))
                .with_hood(Hood::new("hood2", Entry::K(1.20))),
        )
        .with_section(
            Section::new("main1", six, wall())
                .draining_into("main2")
                .with_part(duct(6.0))
                .with_part(Part::K(0.5)),
        )
        .with_section(
            Section::new("leaf3", four, wall())
                .draining_into("main2")
                .joining_at(at_45)
                .with_part(duct(2.5))
                .with_hood(Hood::new("hood3", Entry::K(0.59))),
        )
        .with_section(Section::new("main2", six, wall()).with_part(duct(4.0)))
}

fn rows(text: &str) -> Vec<serde_json::Value> {
    let all: serde_json::Value = serde_json::from_str(text).unwrap();
    all["rows"].as_array().unwrap().clone()
}

fn expected(case: &str) -> serde_json::Value {
    let id = format!("network.3hood.{case}");
    let rows = rows(include_str!("../data/network_3hood.json"));
    let row = rows.iter().find(|row| row["id"] == id.as_str()).unwrap();
    row["expected"].clone()
}

#[track_caller]
fn agree(what: &str, ours: f64, expected: &serde_json::Value, share: f64) {
    let expected = expected.as_f64().unwrap();
    let off = (ours / expected - 1.0).abs();
    assert!(
        off <= share,
        "{what}: {ours} against {expected}, off by {off:e}"
    );
}

/// Every flow of the row, and the fan's pressure, to 1e-12.
fn agree_in_flow(point: &OperatingPoint, row: &serde_json::Value) {
    for (hood, q) in [("hood1", "Q1"), ("hood2", "Q2"), ("hood3", "Q3")] {
        // A capped section has no hood, and a closed hood no row.
        if let (Ok(hood), Some(expected)) = (point.hood(hood), row.get(q)) {
            agree(q, hood.flow.as_m3_s(), expected, 1e-12);
        }
    }
    agree("Q", point.flow.as_m3_s(), &row["Q_total"], 1e-12);
    let fan = point.fan.total_pressure.unwrap().as_pa();
    agree("fan", fan, &row["fan_pressure"], 1e-12);
    assert_eq!(point.status, Status::Converged);
}

/// Solves and compares every flow, the fan's pressure and each loss of a wye that the row gives.
fn compare(case: &str, junction: Junction, change: impl FnOnce(&mut Section)) {
    let mut system = three_hoods().with_junction(junction);
    let leaf3 = |section: &&mut Section| section.id.as_str() == "leaf3";
    change(system.sections.iter_mut().find(leaf3).unwrap());
    let network = Network::new(&system).unwrap();
    let point = network.operating_point(&network.open_all()).unwrap();
    let row = expected(case);
    agree_in_flow(&point, &row);
    let section = |id: &str| point.section(id).unwrap();
    // Not only hoods: what the leak takes in as well.
    if let Some(q3) = row.get("Q3") {
        agree("Q3", section("leaf3").flow.as_m3_s(), q3, 1e-12);
    }
    for (key, id) in [
        ("dp_j1_branch", "leaf1"),
        ("dp_j1_straight", "leaf2"),
        ("dp_j2_branch", "leaf3"),
        ("dp_j2_straight", "main1"),
    ] {
        if let Some(expected) = row[key].as_f64() {
            let ours = section(id).junction_loss.as_pa();
            // Differences of suctions near 1000 Pa.
            assert!(
                (ours - expected).abs() < 1e-10,
                "{case} {key}: {ours} against {expected}"
            );
        }
    }
    assert_eq!(section("main1").junction, Some(junction));
}

fn leaking(leaf3: &mut Section) {
    leaf3.parts.clear();
    leaf3.start = Start::Leak(Leak::Power {
        at_1_pa: VolumeFlow::from_m3_s(1.5e-4),
        exponent: 0.6,
    });
}

fn capped(leaf3: &mut Section) {
    leaf3.start = Start::Capped;
}

#[test]
fn val_three_hoods_by_two_wye_models() {
    for (name, junction) in [
        ("momentum", Junction::Momentum),
        ("gardel", Junction::Gardel),
    ] {
        compare(&format!("open.{name}"), junction, |_| ());
        compare(
            &format!("leaf3_gate_shut_leaking.{name}"),
            junction,
            leaking,
        );
        compare(&format!("leaf3_capped.{name}"), junction, capped);
    }
}

#[test]
fn val_three_hoods_open() {
    let network = Network::new(&three_hoods()).unwrap();
    let point = network.operating_point(&network.open_all()).unwrap();
    let row = expected("open.momentum");
    agree_in_flow(&point, &row);
    let section = |id| point.section(id).unwrap();
    for (id, own, junction) in [
        ("leaf1", "dp_leaf1", Some("dp_j1_branch")),
        ("leaf2", "dp_leaf2", Some("dp_j1_straight")),
        ("leaf3", "dp_leaf3", Some("dp_j2_branch")),
        ("main1", "dp_main1", Some("dp_j2_straight")),
        ("main2", "dp_main2", None),
    ] {
        agree(own, section(id).loss.as_pa(), &row[own], 1e-11);
        let loss = section(id).junction_loss.as_pa();
        match junction {
            Some(junction) => agree(junction, loss, &row[junction], 1e-11),
            None => assert_eq!(loss, 0.0),
        }
    }
    let [separator, filter, outlet] = point.collector.as_slice() else {
        panic!("three runs in the collector");
    };
    agree("dp_sep", separator.loss.as_pa(), &row["dp_sep"], 1e-11);
    agree("dp_filter", filter.loss.as_pa(), &row["dp_filter"], 1e-11);
    // An outlet without length: its loss is the velocity pressure that leaves.
    assert_eq!(outlet.loss.as_pa(), 0.0);
    agree(
        "dp_outlet",
        outlet.velocity_pressure.as_pa(),
        &row["dp_outlet"],
        1e-11,
    );
}

#[test]
fn val_three_hoods_one_of_them_closed() {
    let row = expected("leaf3_capped.momentum");
    let network = Network::new(&three_hoods()).unwrap();
    let closed = network.open(["hood1", "hood2"]).unwrap();
    let closed = network.operating_point(&closed).unwrap();

    let mut capped = three_hoods();
    let leaf3 = capped
        .sections
        .iter_mut()
        .find(|s| s.id.as_str() == "leaf3")
        .unwrap();
    leaf3.start = Start::Capped;
    let network = Network::new(&capped).unwrap();
    let capped = network.operating_point(&network.open_all()).unwrap();

    assert!(!closed.hood("hood3").unwrap().open);
    assert_eq!(closed.hood("hood3").unwrap().flow.as_m3_s(), 0.0);
    assert!(capped.hood("hood3").is_err());
    for point in [closed, capped] {
        agree_in_flow(&point, &row);
        assert_eq!(point.section("leaf3").unwrap().flow.as_m3_s(), 0.0);
        // Equal sizes and nothing from the side: the wye costs the run nothing. What is left is
        // the rounding of a difference of suctions near 1000 Pa.
        assert_eq!(row["dp_j2_straight"], 0.0);
        let straight = point.section("main1").unwrap().junction_loss.as_pa();
        assert!(straight.abs() <= 1e-11, "{straight}");
    }
}

/// A row of `tests/data/duct.json`.
struct Duct(serde_json::Value);

impl Duct {
    fn all() -> impl Iterator<Item = Self> {
        let rows = rows(include_str!("../data/duct.json"));
        assert_eq!(rows.len(), 6);
        rows.into_iter().map(Self)
    }

    fn input(&self, name: &str) -> f64 {
        self.0["inputs"][name].as_f64().unwrap()
    }

    fn size(&self) -> Bore {
        Bore::Round(Length::from_m(self.input("D")))
    }

    #[track_caller]
    fn agree(&self, name: &str, ours: f64) {
        let share = self.0["rel_tol"].as_f64().unwrap();
        let what = format!("{name} of {}", self.0["id"]);
        agree(&what, ours, &self.0["expected"][name], share);
    }
}

#[test]
fn val_ducts_by_the_friction_law() {
    for duct in Duct::all() {
        let velocity = duct.input("Q") / duct.size().area().as_m2();
        let re = duct.input("rho") * velocity * duct.input("D") / duct.input("mu");
        duct.agree("Re", re);
        let friction = friction_factor(re, duct.input("roughness") / duct.input("D"));
        duct.agree("f", friction.f);
        let head = 0.5 * duct.input("rho") * velocity * velocity;
        let dp = friction.f * duct.input("L") / duct.input("D") * head;
        duct.agree("dp", dp);
        duct.agree("ddp_dQ", dp / duct.input("Q") * (2.0 + friction.log_slope));
    }
}

#[test]
fn val_ducts_as_systems() {
    for duct in Duct::all() {
        let air = Air::Given {
            density: Density::from_kg_m3(duct.input("rho")),
            viscosity: DynamicViscosity::from_pa_s(duct.input("mu")),
        };
        let no_fan = Collector {
            before: Vec::new(),
            fan: None,
            after: Vec::new(),
            junction: None,
        };
        let wall = Wall::Roughness(Length::from_m(duct.input("roughness")));
        let section = Section::new("duct", duct.size(), wall)
            .with_part(Part::Duct(Length::from_m(duct.input("L"))))
            .with_hood(Hood::new("hood", Entry::K(0.0)));
        let network = Network::new(&System::new(air, no_fan).with_section(section)).unwrap();
        let flow = VolumeFlow::from_m3_s(duct.input("Q"));
        let point = network.point_at_flow(&network.open_all(), flow).unwrap();
        duct.agree("dp", point.sections[0].loss.as_pa());
    }
}
