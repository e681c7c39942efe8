//! The open sets of a use against filtering every subset.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on must stop")]

use airsplit::{
    Air, Basis, Bore, Collector, Density, Entry, FanCurve, Fitted, Hood, Length, Name, Network,
    OpenSet, Pressure, Section, System, Use, UseError, VolumeFlow, Wall,
};
use proptest::prelude::*;
use std::collections::HashSet;

/// A comb of machines "m0", "m1", ..., each of one hood but the first, which has two; and a lone
/// hood "sweep" that serves none.
fn network(machines: usize) -> Network {
    let points = [(0.0, 2000.0), (1.0, 1500.0), (2.0, 100.0)]
        .map(|(q, p)| (VolumeFlow::from_m3_s(q), Pressure::from_pa(p)));
    let fan = FanCurve::new(points, Basis::Static, Fitted::ALL, Density::STANDARD_AIR).unwrap();
    let size = Bore::Round(Length::from_mm(150.0));
    let section = |id: String| Section::new(id, size, Wall::Galvanised);
    let mut system =
        System::new(Air::standard(), Collector::new(fan)).with_section(section("main".into()));
    let mut drops: Vec<(String, Option<String>)> = vec![("m0 low".into(), Some("m0".into()))];
    drops.push(("m0 high".into(), Some("m0".into())));
    drops.extend((1..machines).map(|i| (format!("hood {i}"), Some(format!("m{i}")))));
    drops.push(("sweep".into(), None));
    for (i, (hood, machine)) in drops.into_iter().enumerate() {
        let mut hood = Hood::new(hood, Entry::Plain);
        if let Some(machine) = machine {
            hood = hood.serving(machine);
        }
        let angle = airsplit::Angle::from_deg(45.0);
        let drop = section(format!("drop {i}"))
            .draining_into("main")
            .joining_at(angle);
        system = system.with_section(drop.with_hood(hood));
    }
    for i in 0..machines {
        system = system.with_machine(format!("m{i}"), VolumeFlow::from_m3_s(0.1));
    }
    Network::new(&system).unwrap()
}

fn unit(i: usize, machines: usize) -> Name {
    match i < machines {
        true => format!("m{i}").into(),
        false => "sweep".into(),
    }
}

/// Every subset that the use allows, as sets of units.
fn allowed(units: usize, at_most: usize, groups: &[Vec<usize>]) -> Vec<Vec<usize>> {
    let subsets =
        (1_usize..1 << units).map(|bits| (0..units).filter(|i| bits >> i & 1 == 1).collect());
    subsets
        .filter(|set: &Vec<usize>| {
            set.len() <= at_most
                && groups
                    .iter()
                    .all(|g| g.iter().filter(|i| set.contains(i)).count() <= 1)
        })
        .collect()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn prop_sets_are_those_that_are_allowed(
        machines in 1..6_usize,
        at_most in proptest::option::of(1..8_usize),
        picks in proptest::collection::vec(proptest::collection::hash_set(0..6_usize, 2..4), 0..3),
        weights in proptest::collection::vec(0.01..10.0_f64, 7),
    ) {
        let network = network(machines);
        let units = machines + 1;
        let groups: Vec<Vec<usize>> = picks
            .iter()
            .map(|group| group.iter().copied().filter(|i| *i < units).collect::<Vec<_>>())
            .filter(|group| group.len() > 1)
            .collect();
        let mut shop_use = Use::any();
        shop_use.at_most = at_most;
        for group in &groups {
            shop_use = shop_use.exclusive(group.iter().map(|&i| unit(i, machines)));
        }
        for (i, &weight) in weights.iter().enumerate().take(units) {
            shop_use = shop_use.weighing(unit(i, machines), weight);
        }
        let at_most = at_most.unwrap_or(units);
        let expected = allowed(units, at_most, &groups);
        let open = |set: &Vec<usize>| network.open(set.iter().map(|&i| unit(i, machines))).unwrap();
        let found: Vec<OpenSet> = shop_use.sets(&network).unwrap().collect();
        let distinct: HashSet<OpenSet> = found.iter().cloned().collect();
        prop_assert_eq!(distinct.len(), found.len());
        prop_assert_eq!(&distinct, &expected.iter().map(open).collect::<HashSet<_>>());

        let is_maximal = |set: &&Vec<usize>| {
            !expected.iter().any(|other| other.len() > set.len() && set.iter().all(|i| other.contains(i)))
        };
        let maximal: HashSet<OpenSet> = expected.iter().filter(is_maximal).map(open).collect();
        let found: Vec<OpenSet> = shop_use.maximal_sets(&network).unwrap().collect();
        prop_assert_eq!(found.len(), maximal.len());
        prop_assert_eq!(found.into_iter().collect::<HashSet<_>>(), maximal);

        for weighted in shop_use.sets(&network).unwrap().weighted() {
            let set = expected.iter().find(|set| open(set) == weighted.open).unwrap();
            let product: f64 = set.iter().map(|&i| weights[i]).product();
            prop_assert!((weighted.weight / product - 1.0).abs() < 1e-12);
        }
    }
}

/// With the odds of each machine as weights the shares of the sets are those of machines that run
/// by themselves: p of those that run times 1 - p of those that do not.
#[test]
fn val_odds_are_shares_of_time() {
    let network = network(2);
    let hours = [0.5, 0.2, 0.1];
    let mut shop_use = Use::any();
    for (i, p) in hours.into_iter().enumerate() {
        shop_use = shop_use.weighing(unit(i, 2), p / (1.0 - p));
    }
    let none: f64 = hours.iter().map(|p| 1.0 - p).product();
    let mut sum = none;
    for weighted in shop_use.sets(&network).unwrap().weighted() {
        sum += none * weighted.weight;
    }
    assert!((sum - 1.0).abs() < 1e-12);
}

#[test]
fn prop_a_use_that_does_not_fit_is_told() {
    let network = network(3);
    let error = |shop_use: Use| shop_use.sets(&network).map(drop).unwrap_err();
    assert_eq!(error(Use::any().at_most(0)), UseError::NoneAtOnce);
    let small = error(Use::any().exclusive(["m1", "m2"]).exclusive(["m1"]));
    assert_eq!(small, UseError::SmallGroup { group: 2 });
    // Two hoods of one machine: it could never open.
    let twice = error(Use::any().exclusive(["m0 low", "m0 high"]));
    let machine = Name::from("m0");
    assert_eq!(twice, UseError::TwiceInGroup { group: 1, machine });
    let unknown = error(Use::any().exclusive(["m1", "m9"]));
    assert!(unknown.to_string().contains("m9"), "{unknown}");
    for weight in [0.0, -1.0, f64::NAN, f64::INFINITY] {
        let error = error(Use::any().weighing("m1", weight));
        assert!(matches!(error, UseError::Weight { .. }), "{error}");
    }
    let of = Name::from("m0 low");
    let hood = error(Use::any().weighing("m0 low", 2.0));
    assert_eq!(hood, UseError::WeightOfHood { of });
    // A hood of a machine keeps the whole machine out.
    let shop_use = Use::any().exclusive(["m0 low", "sweep"]);
    assert_eq!(shop_use.sets(&network).unwrap().count(), 15 - 4);
}

#[cfg(feature = "serde")]
#[test]
fn prop_a_use_is_a_document() {
    let text = r#"
        at_most = 2
        exclusive = [["lathe", "disc sander"]]
        weights = [{ of = "planer", weight = 0.25 }]
    "#;
    let read: Use = toml::from_str(text).unwrap();
    let built = Use::any()
        .at_most(2)
        .exclusive(["lathe", "disc sander"])
        .weighing("planer", 0.25);
    assert_eq!(read, built);
    let again: Use = toml::from_str(&toml::to_string(&read).unwrap()).unwrap();
    assert_eq!(again, read);
    assert!(toml::from_str::<Use>("at_mots = 2").is_err());
    assert_eq!(toml::from_str::<Use>("").unwrap(), Use::any());
}

/// By name they are the same sets.
#[test]
fn prop_names_open_the_maximal_sets() {
    let network = network(5);
    let usage = Use::any().at_most(2).exclusive(["m1", "m2"]);
    let names = usage.maximal_names(&network).unwrap();
    let opened: Vec<OpenSet> = names
        .iter()
        .map(|names| network.open(names).unwrap())
        .collect();
    let sets: Vec<OpenSet> = usage.maximal_sets(&network).unwrap().collect();
    assert_eq!(opened, sets);
    assert!(names.iter().any(|names| names.len() == 2));
}
