//! Air that enters where no hood is: walls, holes, shut gates.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on must stop")]

use crate::common::audited;

use airsplit::{
    Air, Angle, Area, Bore, Collector, Density, DynamicViscosity, Entry, Gate, Hood, Leak, Length,
    Network, OperatingPoint, Part, Section, System, Tightness, VolumeFlow, Wall,
};

const RHO: f64 = 1.204;

fn round(d_m: f64) -> Bore {
    Bore::Round(Length::from_m(d_m))
}

fn section(id: &str, d_m: f64, length_m: f64) -> Section {
    Section::new(id, round(d_m), Wall::Galvanised).with_part(Part::Duct(Length::from_m(length_m)))
}

fn solve(sections: impl IntoIterator<Item = Section>, open: &[&str], q: f64) -> OperatingPoint {
    let air = Air::Given {
        density: Density::from_kg_m3(RHO),
        viscosity: DynamicViscosity::from_pa_s(1.825e-5),
    };
    let collector = Collector {
        before: Vec::new(),
        fan: None,
        after: Vec::new(),
        junction: None,
    };
    let system = System::new(air, collector);
    let system = sections.into_iter().fold(system, System::with_section);
    let network = Network::new(&system).unwrap();
    let open = network.open(open).unwrap();
    let flow = VolumeFlow::from_m3_s(q);
    let point = network.point_at_flow(&open, flow).unwrap();
    audited::assert_sound(&system, &point);
    point
}

/// losses.md section 8: the leak is lumped at the downstream end, driven by the static suction
/// that it shares with the section there, and costs the section k (Q^2 - Qs^2), k = rho/(2 A^2).
#[test]
fn prop_a_leaking_wall_draws_by_its_law() {
    let drop = |tight| {
        section("drop", 0.12, 9.0)
            .with_tightness(tight)
            .with_hood(Hood::new("port", Entry::Plain))
    };
    for tight in [Tightness::Atc3, Tightness::Atc6, Tightness::Smacna(48.0)] {
        let point = solve([drop(tight)], &["port"], 0.25);
        let (at, hood) = (point.section("drop").unwrap(), point.hood("port").unwrap());
        let (q, qs) = (at.flow.as_m3_s(), hood.flow.as_m3_s());
        assert!((q - qs - at.leak.as_m3_s()).abs() < 1e-15);
        let area = round(0.12).area().as_m2();
        let k = RHO / (2.0 * area * area);
        // The outlet's total suction is S + k Q^2 - 2 k Qs^2.
        let shared = -at.total_pressure.as_pa() - k * q * q + 2.0 * k * qs * qs;
        let wall = Area::from_m2(std::f64::consts::PI * 0.12 * 9.0);
        let law = tight.law(wall).unwrap().unwrap();
        let leak = law.coefficient() * shared.powf(law.exponent());
        assert!((at.leak.as_m3_s() / leak - 1.0).abs() < 1e-9, "{tight:?}");
        // Its own loss is that of a tight section at the flow of its hood, and the leak's joining.
        let alone = solve([drop(Tightness::Airtight)], &["port"], qs);
        let own = alone.section("drop").unwrap().loss.as_pa() + k * (q * q - qs * qs);
        assert!((at.loss.as_pa() / own - 1.0).abs() < 1e-10);
    }
    // Tighter classes leak less.
    let leak = |tight| {
        solve([drop(tight)], &["port"], 0.25)
            .section("drop")
            .unwrap()
            .leak
    };
    assert!(leak(Tightness::Atc6) > leak(Tightness::Atc5));
    assert!(leak(Tightness::Atc5) > leak(Tightness::Atc2));
    assert_eq!(leak(Tightness::Airtight).as_m3_s(), 0.0);
}

fn shop(gate: Gate) -> Vec<Section> {
    vec![
        section("main", 0.16, 5.0),
        section("a", 0.14, 3.0)
            .draining_into("main")
            .with_hood(Hood::new("a", Entry::Flanged)),
        section("b", 0.1, 2.0)
            .draining_into("main")
            .joining_at(Angle::from_deg(45.0))
            .with_part(Part::Gate(gate))
            .with_hood(Hood::new("b", Entry::Flanged)),
    ]
}

/// A hood that is not open leaks as its gate does when it stands shut.
#[test]
fn prop_a_closed_hood_leaks_through_its_gate() {
    let leak_area = Some(Area::from_cm2(0.5));
    let gate = |opening| Gate { opening, leak_area };
    let closed = solve(shop(gate(1.0)), &["a"], 0.3);
    let shut = solve(shop(gate(0.0)), &["a", "b"], 0.3);
    let b = closed.hood("b").unwrap();
    assert!(!b.open && shut.hood("b").unwrap().open);
    assert!(b.flow.as_m3_s() > 0.0);
    let off = b.flow.as_m3_s() / shut.hood("b").unwrap().flow.as_m3_s() - 1.0;
    assert!(off.abs() < 1e-11, "{off:e}");
    // An orifice of half a square centimetre, with nearly all of the suction on it.
    let suction = -closed.section("b").unwrap().total_pressure.as_pa();
    let orifice = 0.62 * 0.5e-4 * (2.0 * suction / RHO).sqrt();
    assert!((b.flow.as_m3_s() / orifice - 1.0).abs() < 1e-3);
}

/// A gate that stands shut anyway does not make its hood an open one.
#[test]
fn prop_a_closed_hood_is_told_closed_at_any_opening() {
    let leak_area = Some(Area::from_cm2(0.5));
    for opening in [0.0, 0.5, 1.0] {
        let gate = Gate { opening, leak_area };
        assert!(!solve(shop(gate), &["a"], 0.3).hood("b").unwrap().open);
        assert!(solve(shop(gate), &["a", "b"], 0.3).hood("b").unwrap().open);
    }
}

#[test]
fn prop_a_closed_hood_without_a_leak_takes_nothing() {
    let leak_area = None;
    let closed = solve(
        shop(Gate {
            opening: 1.0,
            leak_area,
        }),
        &["a"],
        0.3,
    );
    assert_eq!(closed.hood("b").unwrap().flow.as_m3_s(), 0.0);
    // Nor does one whose gate stands shut, opened or not.
    let shut = solve(
        shop(Gate {
            opening: 0.0,
            leak_area,
        }),
        &["a", "b"],
        0.3,
    );
    assert_eq!(shut.hood("b").unwrap().flow.as_m3_s(), 0.0);
    assert!((shut.hood("a").unwrap().flow.as_m3_s() - 0.3).abs() < 1e-16);
}

#[test]
fn prop_a_part_open_gate_takes_less() {
    let leak_area = None;
    let flow = |opening| {
        let point = solve(shop(Gate { opening, leak_area }), &["a", "b"], 0.3);
        point.hood("b").unwrap().flow.as_m3_s()
    };
    let flows: Vec<f64> = (1..=10).map(|i| flow(0.1 * f64::from(i))).collect();
    assert!(flows.windows(2).all(|pair| pair[0] < pair[1]), "{flows:?}");
}

/// A hole of the same law as a hood: both take the same.
#[test]
fn prop_a_hole_is_a_leak() {
    let hole = Leak::Hole(Area::from_cm2(20.0));
    let sections = vec![
        section("main", 0.16, 5.0),
        section("a", 0.14, 3.0)
            .draining_into("main")
            .with_hood(Hood::new("a", Entry::Flanged)),
        section("torn", 0.1, 0.0)
            .draining_into("main")
            .joining_at(Angle::from_deg(90.0))
            .with_leak(hole),
    ];
    let point = solve(sections, &["a"], 0.3);
    let torn = point.section("torn").unwrap();
    let suction = -torn.total_pressure.as_pa();
    let orifice = 0.62 * 20e-4 * (2.0 * suction / RHO).sqrt();
    assert!((torn.flow.as_m3_s() / orifice - 1.0).abs() < 1e-10);
    let sum = torn.flow.as_m3_s() + point.hood("a").unwrap().flow.as_m3_s();
    assert!((sum / 0.3 - 1.0).abs() < 1e-15);
}

/// With every hood open and nothing else shut, the gate is all that keeps its air out.
#[test]
fn prop_a_hole_behind_a_shut_gate_draws_nothing() {
    let gate = |opening| {
        Part::Gate(Gate {
            opening,
            leak_area: None,
        })
    };
    let with = |opening| {
        let sections = vec![
            section("main", 0.16, 5.0),
            section("a", 0.14, 3.0)
                .draining_into("main")
                .with_hood(Hood::new("a", Entry::Flanged)),
            section("torn", 0.1, 1.0)
                .draining_into("main")
                .joining_at(Angle::from_deg(90.0))
                .with_part(gate(opening))
                .with_leak(Leak::Hole(Area::from_cm2(20.0))),
        ];
        solve(sections, &["a"], 0.3)
    };
    let flow = |point: &OperatingPoint, id: &str| point.section(id).unwrap().flow.as_m3_s();
    let shut = with(0.0);
    assert_eq!(flow(&shut, "torn"), 0.0);
    assert!((flow(&shut, "a") / 0.3 - 1.0).abs() < 1e-14);
    assert!(flow(&with(1.0), "torn") > 1e-3);
}
