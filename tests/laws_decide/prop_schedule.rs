//! The gate schedule against a search of every set by other means.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on must stop")]

use crate::common::gated::{Rng, flow, hoods, shop};
use airsplit::{
    Companions, FurtherGates, GateError, GateRow, Junction, Name, Network, OperatingPoint, Part,
    SolveError, System, TransportLimits, Velocity, balance_gates, gate_schedule,
};
use std::collections::BTreeMap;

const JUNCTIONS: [Junction; 2] = [Junction::FixedK, Junction::Momentum];

fn point(system: &System, open: &[Name]) -> OperatingPoint {
    let network = Network::new(system).unwrap();
    let open = network.open(open).unwrap();
    network.operating_point(&open).unwrap()
}

/// The sections from these hoods to the fan, by walking down from each.
fn way(system: &System, of: &[Name]) -> Vec<Name> {
    let mut way = Vec::new();
    for (section, _) in hoods(system).iter().filter(|(_, h)| of.contains(&h.id)) {
        let mut at = Some(section.id.clone());
        while let Some(id) = at.take() {
            let section = system.sections.iter().find(|s| s.id == id).unwrap();
            at.clone_from(&section.into);
            way.push(id);
        }
    }
    way
}

/// What the referee knows of one set of further gates.
#[derive(Debug, Clone)]
struct Known {
    gates: Vec<Name>,
    flow: f64,
    keeps: bool,
    /// Least velocity over limit.
    ratio: f64,
}

fn judge(
    system: &System,
    limits: &TransportLimits,
    machines: &[Name],
    used: &[Name],
    gates: Vec<Name>,
) -> Known {
    let open: Vec<Name> = used.iter().chain(&gates).cloned().collect();
    let point = point(system, &open);
    let ratio = way(system, used).into_iter().map(|id| {
        let limit = limits.sections.get(&id).unwrap_or(&limits.least_velocity);
        let velocity = point.section(id.as_str()).unwrap().velocity;
        velocity.as_m_s() / limit.as_m_s()
    });
    let machines = machines
        .iter()
        .map(|name| point.machine(name.as_str()).unwrap());
    let of_hoods = point.hoods.iter().filter(|hood| used.contains(&hood.name));
    let needs = of_hoods
        .clone()
        .filter_map(|hood| Some((hood.flow, hood.required?)));
    let mut needs = needs.chain(machines.map(|m| (m.flow, m.required)));
    Known {
        gates,
        flow: of_hoods.map(|hood| hood.flow.as_m3_s()).sum(),
        keeps: needs.all(|(flow, required)| flow >= required),
        ratio: ratio.fold(f64::INFINITY, f64::min),
    }
}

/// Every set of further gates by the bits of a number; sorted by what the schedule promises.
fn all_sets(
    system: &System,
    limits: &TransportLimits,
    machines: &[Name],
    used: &[Name],
) -> Vec<Known> {
    let names = hoods(system).into_iter().map(|(_, hood)| hood.id.clone());
    let mut others: Vec<Name> = names.filter(|name| !used.contains(name)).collect();
    others.sort();
    let mut sets: Vec<Known> = (1_u32..1 << others.len())
        .map(|bits| {
            let chosen = (0..others.len()).filter(|i| bits >> i & 1 == 1);
            let gates: Vec<Name> = chosen.map(|i| others[i].clone()).collect();
            judge(system, limits, machines, used, gates)
        })
        .filter(|known| known.gates.len() <= limits.most_further)
        .collect();
    sets.sort_by(|a, b| {
        let fast = |known: &Known| known.ratio >= 1.0;
        let best = (fast(b), b.keeps).cmp(&(fast(a), a.keeps));
        best.then(a.gates.len().cmp(&b.gates.len()))
            .then(b.flow.total_cmp(&a.flow))
            .then(a.gates.cmp(&b.gates))
    });
    sets
}

fn is_it(told: &FurtherGates, known: &Known) -> bool {
    told.gates == known.gates
        && told.keeps_requirement == known.keeps
        && (told.flow.as_m3_s() / known.flow - 1.0).abs() < 1e-11
        && {
            let ratio = told.slowest.velocity.as_m_s() / told.slowest.limit.as_m_s();
            (ratio / known.ratio - 1.0).abs() < 1e-11
        }
}

/// Judges what was told; counts the kinds of answers.
fn check(told: &Companions, sets: &[Known], seen: &mut BTreeMap<&'static str, u32>) {
    let kind = match told {
        Companions::NotNeeded => "not needed",
        Companions::Open(further) => {
            assert!(is_it(further, &sets[0]), "{further:?} {sets:#?}");
            match (further.keeps_requirement, further.gates.len()) {
                (true, 1) => "one keeps",
                (true, _) => "more keep",
                (false, _) => "robs",
            }
        }
        Companions::NoneDoes { nearest, .. } => {
            assert!(sets.iter().all(|known| known.ratio < 1.0));
            let most = sets.iter().map(|known| known.ratio).fold(0.0, f64::max);
            if let Some(nearest) = nearest {
                let known = sets.iter().find(|known| known.gates == nearest.gates);
                let known = known.unwrap();
                assert!(is_it(nearest, known) && known.ratio >= most * (1.0 - 1e-12));
            } else {
                assert!(sets.is_empty());
            }
            "none"
        }
        _ => unreachable!(),
    };
    *seen.entry(kind).or_default() += 1;
}

fn limits(rng: &mut Rng) -> TransportLimits {
    let limits = TransportLimits::new(Velocity::from_m_s(rng.between(6.0, 20.0)));
    if rng.chance(0.3) {
        limits.with_section("main 0", Velocity::from_m_s(rng.between(4.0, 25.0)))
    } else {
        limits
    }
}

#[test]
fn prop_the_schedule_is_that_of_an_exhaustive_search() {
    let mut seen = BTreeMap::new();
    for seed in 0..150 {
        for junction in JUNCTIONS {
            let mut rng = Rng(seed ^ 0xabcd);
            let mut system = shop(seed, junction);
            // Enough at some machines, too little at others.
            let ease = rng.between(0.3, 1.0);
            for machine in &mut system.machines {
                machine.required = flow(machine.required.as_m3_s() * ease);
            }
            let limits = limits(&mut rng);
            let schedule = gate_schedule(&system, &limits).unwrap();
            assert!(schedule.failures.is_empty());
            assert_eq!(schedule.rows.len(), system.machines.len());
            for row in &schedule.rows {
                let GateRow { machine, gates, .. } = row;
                let served = hoods(&system).into_iter();
                let served = served.filter(|(_, hood)| hood.machine.as_ref() == Some(machine));
                let own: Vec<Name> = served.map(|(_, hood)| hood.id.clone()).collect();
                assert_eq!(*gates, own);
                let machines = [machine.clone()];
                let alone = judge(&system, &limits, &machines, &own, Vec::new());
                assert!((row.flow.as_m3_s() / alone.flow - 1.0).abs() < 1e-12);
                assert_eq!(row.enough, alone.keeps);
                let ratio = row.slowest.velocity.as_m_s() / row.slowest.limit.as_m_s();
                assert!((ratio / alone.ratio - 1.0).abs() < 1e-12);
                assert_eq!(row.companions == Companions::NotNeeded, alone.ratio >= 1.0);
                let sets = all_sets(&system, &limits, &machines, &own);
                check(&row.companions, &sets, &mut seen);
            }
        }
    }
    let times = |kind| seen.get(kind).copied().unwrap_or(0);
    for kind in ["not needed", "one keeps", "more keep", "robs", "none"] {
        assert!(times(kind) >= 8, "{kind}: {seen:?}");
    }
}

/// The same search beside a gate plan, at the openings of the plan.
#[test]
fn prop_gates_that_must_stay_open_beside_a_plan() {
    let mut seen = BTreeMap::new();
    for seed in 0..150 {
        let mut rng = Rng(seed ^ 0x1234);
        let mut system = shop(seed, JUNCTIONS[seed as usize % 2]);
        let limits = limits(&mut rng);
        for machine in &mut system.machines {
            machine.required = flow(machine.required.as_m3_s() * 0.5);
        }
        let used = ["hood 0", "hood 1"].map(Name::from);
        let plan = balance_gates(&system, &used, &limits).unwrap();
        let in_use = plan.point.machines.iter().filter(|machine| machine.open);
        let machines: Vec<Name> = in_use.map(|machine| machine.name.clone()).collect();
        for gate in &plan.gates {
            let mut sections = system.sections.iter_mut();
            let section = sections
                .find(|s| *s.id.as_str() == *drop_of(&gate.hood))
                .unwrap();
            let Some(Part::Gate(part)) = section.parts.first_mut() else {
                unreachable!()
            };
            part.opening = gate.opening;
        }
        let alone = judge(&system, &limits, &machines, &used, Vec::new());
        let ratio = plan.slowest.velocity.as_m_s() / plan.slowest.limit.as_m_s();
        assert!((ratio / alone.ratio - 1.0).abs() < 1e-11);
        assert_eq!(plan.companions == Companions::NotNeeded, alone.ratio >= 1.0);
        let sets = all_sets(&system, &limits, &machines, &used);
        check(&plan.companions, &sets, &mut seen);
    }
    assert!(seen.len() >= 4, "{seen:?}");
}

fn drop_of(hood: &Name) -> String {
    hood.as_str().replace("hood", "drop")
}

#[test]
fn prop_equals_are_told_by_name() {
    // Two companions alike in all but their names: the first by name, whatever the order.
    let mut system = shop(3, Junction::FixedK);
    let drop = system
        .sections
        .iter()
        .position(|s| s.id.as_str() == "drop 0");
    let drop = system.sections[drop.unwrap()].clone();
    system.sections.retain(|s| s.id.as_str() == "main 0");
    system.machines.truncate(1);
    for name in ["hood 0", "hood b", "hood a"] {
        let mut twin = drop.clone();
        twin.id = drop_of(&name.into()).into();
        if let airsplit::Start::Hood(hood) = &mut twin.start {
            hood.id = name.into();
            hood.machine = (name == "hood 0").then(|| "machine 0".into());
        }
        twin.into = Some("main 0".into());
        system.sections.push(twin);
    }
    system.machines[0].required = flow(1e-6);
    let alone = point(&system, &["hood 0".into()]);
    let speed = alone.section("main 0").unwrap().velocity.as_m_s();
    let limits = TransportLimits::new(Velocity::from_m_s(0.0))
        .with_section("main 0", Velocity::from_m_s(1.05 * speed));
    let schedule = gate_schedule(&system, &limits).unwrap();
    let Companions::Open(further) = &schedule.rows[0].companions else {
        unreachable!("{schedule}")
    };
    assert_eq!(further.gates, ["hood a".into()]);
    // Not allowed to open any.
    let schedule = gate_schedule(&system, &limits.clone().opening_up_to(0)).unwrap();
    assert_eq!(
        schedule.rows[0].companions,
        Companions::NoneDoes {
            up_to: 0,
            nearest: None
        }
    );
}

#[test]
fn prop_bad_input_is_told() {
    let system = shop(1, Junction::Momentum);
    for limit in [-1.0, f64::NAN, f64::INFINITY] {
        let limits = TransportLimits::new(Velocity::from_m_s(limit));
        let error = gate_schedule(&system, &limits).unwrap_err();
        assert!(matches!(error, GateError::Limit { section: None, .. }) && error.is_input());
        let limits = TransportLimits::new(Velocity::from_m_s(20.0))
            .with_section("main 0", Velocity::from_m_s(limit));
        assert!(matches!(
            gate_schedule(&system, &limits).unwrap_err(),
            GateError::Limit {
                section: Some(_),
                ..
            }
        ));
    }
    let limits = TransportLimits::new(Velocity::from_m_s(20.0));
    let unknown = limits
        .clone()
        .with_section("maim 0", Velocity::from_m_s(1.0));
    assert!(matches!(
        gate_schedule(&system, &unknown),
        Err(GateError::Unknown(_))
    ));
    let mut faulty = system.clone();
    faulty.sections.clear();
    assert!(matches!(
        gate_schedule(&faulty, &limits),
        Err(GateError::Model(_))
    ));
    // A machine whose own gate stands shut, and a shop without a fan: told in its row.
    let mut fanless = system.clone();
    fanless.collector.fan = None;
    let schedule = gate_schedule(&fanless, &limits).unwrap();
    assert!(schedule.rows.is_empty());
    let mut failures = schedule.failures.iter();
    assert!(failures.all(|failure| failure.error == SolveError::NoFan));
    assert!(schedule.to_string().contains("the collector has no fan"));
}

#[test]
fn prop_a_search_that_nobody_would_wait_for_is_refused() {
    let mut system = shop(3, Junction::FixedK);
    let drop = system.sections.iter().find(|s| s.id.as_str() == "drop 0");
    let mut drop = drop.unwrap().clone();
    drop.into = Some("main 0".into());
    for i in 0..300 {
        drop.id = format!("far drop {i}").into();
        if let airsplit::Start::Hood(hood) = &mut drop.start {
            hood.id = format!("far hood {i}").into();
            hood.machine = None;
        }
        system.sections.push(drop.clone());
    }
    let limits = TransportLimits::new(Velocity::from_m_s(1000.0));
    let error = gate_schedule(&system, &limits).unwrap_err();
    let GateError::TooManySets { asked, most, gates } = error else {
        unreachable!("{error}")
    };
    assert!((asked, most) == (3, 2) && gates > 300);
    assert!(gate_schedule(&system, &limits.opening_up_to(1)).is_ok());
}

#[cfg(feature = "serde")]
#[test]
fn prop_the_chair_shop_and_its_limits_read_from_toml() {
    let text = include_str!("../../examples/chair_shop.toml");
    let study: airsplit::Study = toml::from_str(text).unwrap();
    let limits: TransportLimits = toml::from_str(
        "least_velocity = \"15 m/s\"\nmost_further = 2\n[sections]\n\"main east\" = \"14 m/s\"\n",
    )
    .unwrap();
    assert_eq!(limits.most_further, 2);
    assert_eq!(limits.sections["main east"], Velocity::from_m_s(14.0));
    assert!(toml::from_str::<TransportLimits>("least = \"15 m/s\"").is_err());
    let schedule = gate_schedule(&study.system, &limits).unwrap();
    for row in &schedule.rows {
        let hoods = hoods(&study.system);
        let served = hoods
            .iter()
            .filter(|(_, h)| h.machine.as_ref() == Some(&row.machine));
        let own: Vec<Name> = served.map(|(_, hood)| hood.id.clone()).collect();
        if row.companions == Companions::NotNeeded {
            continue;
        }
        let machines = [row.machine.clone()];
        let sets = all_sets(&study.system, &limits, &machines, &own);
        check(&row.companions, &sets, &mut BTreeMap::new());
    }
    println!("{schedule}");
    let told = serde_json::to_value(&schedule).unwrap();
    assert_eq!(told["rows"].as_array().unwrap().len(), 7);
}
