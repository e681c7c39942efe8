//! What fuzzing has found, each at its smallest and named by what must hold.

use super::balance;
use airsplit::*;

fn round(mm: f64) -> Bore {
    Bore::Round(Length::from_mm(mm))
}

fn fan(points: [(f64, f64); 3]) -> FanCurve {
    let points = points.map(|(q, p)| (VolumeFlow::from_m3_s(q), Pressure::from_pa(p)));
    let density = Density::from_kg_m3(1.2);
    FanCurve::new(points, Basis::Static, Fitted::NOTHING, density).unwrap()
}

fn plain_fan() -> FanCurve {
    fan([(0.0, 2400.0), (0.4, 1900.0), (0.8, 300.0)])
}

fn drop(name: &str) -> Section {
    Section::new(format!("{name} drop"), round(100.0), Wall::Galvanised)
        .with_part(Part::Duct(Length::from_m(3.0)))
        .with_hood(Hood::new(name, Entry::Plain))
}

/// Each coefficient was within its range and their sum was not, so that the junction's own law
/// refused what the network had solved.
#[test]
fn prop_coefficients_of_a_join_are_judged_together() {
    let system = |extra_k| {
        let mut system = System::new(Air::standard(), Collector::new(plain_fan()))
            .with_junction(Junction::FixedK)
            .with_section(Section::new("main", round(160.0), Wall::Galvanised));
        for name in ["a", "b"] {
            let mut drop = drop(name).draining_into("main").joining_with_k(999_999.0);
            drop.join.extra_k = extra_k;
            system = system.with_section(drop);
        }
        system
    };
    let errors = system(10.0).check().unwrap_err();
    let places: Vec<&Place> = errors.iter().map(|error| &error.place).collect();
    assert_eq!(places.len(), 2);
    assert_eq!(*places[0], Place::Join("a drop".into()));
    assert!(errors.to_string().contains("k and extra k together"));
    let system = system(1.0);
    let network = Network::new(&system).unwrap();
    balance::holds(&system, &network, &network.open_all());
}

/// The gate was left out, and the air went through it.
#[test]
fn prop_a_shut_gate_in_the_collector_cuts_everything_off() {
    let with_gate = |leak_area, after: bool| {
        let gate = Part::Gate(Gate {
            opening: 0.0,
            leak_area,
        });
        let run = Run::new(round(160.0), Wall::Galvanised).with_part(gate);
        let fan = plain_fan().with_outlet(round(160.0)).unwrap();
        let collector = match after {
            true => Collector::new(fan).with_after(run),
            false => Collector::new(fan).with_before(run),
        };
        System::new(Air::standard(), collector).with_section(drop("a"))
    };
    for after in [false, true] {
        let network = Network::new(&with_gate(None, after)).unwrap();
        let open = network.open_all();
        assert_eq!(
            network.operating_point(&open).unwrap_err(),
            SolveError::NothingOpen
        );
        let flow = VolumeFlow::from_m3_s(0.1);
        assert_eq!(
            network.point_at_flow(&open, flow).unwrap_err(),
            SolveError::NothingOpen
        );
        // Through one that leaks a little air gets.
        let leaky = with_gate(Some(Area::from_cm2(1.0)), after);
        let network = Network::new(&leaky).unwrap();
        let point = network.operating_point(&network.open_all()).unwrap();
        assert!(point.flow.as_m3_s() > 0.0 && point.flow.as_m3_s() < 0.02);
        balance::sound(&leaky, &point);
    }
}

/// The solver followed Colebrook's equation where the friction factor stops at a roughness as large
/// as the duct.
#[test]
fn prop_walls_rougher_than_the_duct_is_wide_have_one_friction() {
    let slit = Bore::Rectangular {
        width: Length::from_mm(1.0),
        height: Length::from_mm(290.0),
    };
    let rough = Wall::Roughness(Length::from_mm(4.7));
    let run = Run::new(slit, rough).with_part(Part::Duct(Length::from_mm(30.0)));
    let fan = plain_fan().with_outlet(round(155.0)).unwrap();
    let system =
        System::new(Air::standard(), Collector::new(fan).with_after(run)).with_section(drop("a"));
    let network = Network::new(&system).unwrap();
    let open = network.open_all();
    balance::holds(&system, &network, &open);
    for litres in [1.0, 4.0, 20.0] {
        let flow = VolumeFlow::from_l_s(litres);
        balance::sound(&system, &network.point_at_flow(&open, flow).unwrap());
    }
}

/// Rounding was told in shares of a pressure at rest that was next to nothing.
#[test]
fn prop_a_fan_without_pressure_at_rest_is_audited_by_what_it_gives_at_work() {
    let rising = fan([(0.0, 0.005), (0.2, 5900.0), (0.8, 300.0)]);
    let system = System::new(Air::standard(), Collector::new(rising)).with_section(drop("a"));
    let network = Network::new(&system).unwrap();
    balance::holds(&system, &network, &network.open_all());
}

/// Every subset of the hoods was tried for the one set of all of them.
#[test]
fn prop_the_fullest_sets_of_many_hoods_are_told_at_once() {
    let mut system = System::new(Air::standard(), Collector::new(plain_fan()))
        .with_section(Section::new("main", round(400.0), Wall::Galvanised));
    let names: Vec<Name> = (0..60).map(|i| format!("hood {i}").into()).collect();
    for (i, name) in names.iter().enumerate() {
        system = system.with_section(
            Section::new(format!("drop {i}"), round(100.0), Wall::Galvanised)
                .draining_into("main")
                .joining_at(Angle::from_deg(if i == 0 { 0.0 } else { 45.0 }))
                .with_hood(Hood::new(name.clone(), Entry::Plain)),
        );
    }
    let network = Network::new(&system).unwrap();
    let all = std::slice::from_ref(&names);
    assert_eq!(Use::any().maximal_names(&network).unwrap(), all);
    // Two apart: with the one, or with the other.
    let apart = Use::any().exclusive([names[3].clone(), names[50].clone()]);
    let sets = apart.maximal_names(&network).unwrap();
    assert_eq!(sets.len(), 2);
    assert!(sets.iter().all(|set| set.len() == 59));
    // All but one at once.
    let sets = Use::any().at_most(59).maximal_names(&network).unwrap();
    assert_eq!(sets.len(), 60);
    // Too many to list are refused, and not listed until memory ends.
    let half = Use::any().at_most(30).maximal_names(&network);
    assert_eq!(half.unwrap_err(), UseError::TooManyNamed);
}

/// The search for the fullest sets against every set looked at one by one.
#[test]
fn prop_the_fullest_sets_are_those_that_no_machine_may_join() {
    let mut system = System::new(Air::standard(), Collector::new(plain_fan()))
        .with_section(Section::new("main", round(200.0), Wall::Galvanised));
    for i in 0..7 {
        system = system.with_section(
            Section::new(format!("drop {i}"), round(100.0), Wall::Galvanised)
                .draining_into("main")
                .joining_at(Angle::from_deg(if i == 0 { 0.0 } else { 45.0 }))
                .with_hood(Hood::new(format!("{i}"), Entry::Plain)),
        );
    }
    let network = Network::new(&system).unwrap();
    let groups: [&[&[&str]]; 5] = [
        &[],
        &[&["0", "6"]],
        &[&["0", "1", "2"], &["2", "3"]],
        &[&["5", "6"], &["0", "1"], &["1", "5"]],
        &[&["0", "1", "2", "3", "4", "5", "6"]],
    ];
    for groups in groups {
        for at_most in 1..=8 {
            let usage = groups
                .iter()
                .fold(Use::any().at_most(at_most), |usage, group| {
                    usage.exclusive(group.iter().copied())
                });
            let names = |sets: UseSets| -> Vec<Vec<Name>> {
                sets.map(|open| network.open_names(&open).unwrap())
                    .collect()
            };
            let all = names(usage.sets(&network).unwrap());
            let fullest = |set: &&Vec<Name>| {
                let holds = |other: &&Vec<Name>| {
                    other.len() > set.len() && set.iter().all(|name| other.contains(name))
                };
                !all.iter().any(|other| holds(&other))
            };
            let expected: Vec<Vec<Name>> = all.iter().filter(fullest).cloned().collect();
            let told = names(usage.maximal_sets(&network).unwrap());
            assert_eq!(told, expected, "{groups:?}, {at_most} at most");
        }
    }
}

/// The audit asked a junction for its losses as a caller would, who is refused above 1000 m3/s, and
/// found every answer beyond that wrong.
#[test]
fn prop_an_answer_of_any_flow_is_audited() {
    let fan = fan([(0.0, 2400.0), (400.0, 2300.0), (800.0, 2200.0)]);
    let mut system = System::new(Air::standard(), Collector::new(fan)).with_section(Section::new(
        "main",
        round(20_000.0),
        Wall::Galvanised,
    ));
    for (name, degrees) in [("a", 0.0), ("b", 45.0)] {
        let drop = Section::new(name, round(15_000.0), Wall::Galvanised)
            .with_hood(Hood::new(name, Entry::Plain))
            .draining_into("main")
            .joining_at(Angle::from_deg(degrees));
        system = system.with_section(drop);
    }
    let network = Network::new(&system).unwrap();
    let point = network.operating_point(&network.open_all()).unwrap();
    assert!(point.flow.as_m3_s() > 1000.0, "{}", point.flow);
    balance::holds(&system, &network, &network.open_all());
}

/// Wide ducts and a narrow run before a fan of as narrow an outlet: all but nothing is lost, and
/// the system asks nearly nothing on the basis of fan static pressure. Rounding of the velocity
/// pressure was told in shares of that.
#[test]
fn prop_an_imposed_flow_is_audited_against_the_largest_pressure_anywhere() {
    let fan = fan([(0.0, 2400.0), (0.05, 1900.0), (0.1, 300.0)]);
    let fan = fan.with_outlet(round(40.4)).unwrap();
    let before = Run::new(round(40.0), Wall::Galvanised);
    let mut system = System::new(Air::standard(), Collector::new(fan).with_before(before))
        .with_junction(Junction::FixedK);
    for name in ["a", "b"] {
        let main = Section::new(name, round(20_000.0), Wall::Galvanised)
            .with_hood(Hood::new(name, Entry::K(20.0)))
            .joining_with_k(0.0);
        system = system.with_section(main);
    }
    let network = Network::new(&system).unwrap();
    for i in 1..200 {
        let flow = VolumeFlow::from_m3_s(1.7e-5 * f64::from(i));
        let point = network.point_at_flow(&network.open_all(), flow).unwrap();
        let asked = point.fan.curve_pressure.as_pa().abs();
        assert!(asked < 1e-3 * point.collector[0].velocity_pressure.as_pa());
        balance::sound(&system, &point);
    }
}
