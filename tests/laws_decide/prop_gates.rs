//! Gate openings: shares alike, none to be had that serves the worst hood better, closed forms.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on must stop")]

use crate::common::gated::{Rng, flow, hoods, shop, wide_open};
use airsplit::{
    Air, Basis, Bore, Collector, Entry, FanCurve, Fitted, Gate, GateError, GatePlan, GateVerdict,
    Hood, Junction, Length, Network, Part, Place, Pressure, Run, Section, Start, System,
    TransportLimits, Velocity, Wall, balance_gates,
};

fn any_speed() -> TransportLimits {
    TransportLimits::new(Velocity::from_m_s(0.0))
}

fn all(system: &System) -> Vec<airsplit::Name> {
    let hoods = hoods(system).into_iter();
    hoods.map(|(_, hood)| hood.id.clone()).collect()
}

/// Flows of all hoods with these openings, by a network of their own.
fn flows(system: &System, openings: &[f64]) -> Vec<f64> {
    let mut system = system.clone();
    let mut openings = openings.iter();
    for section in &mut system.sections {
        for part in &mut section.parts {
            if let Part::Gate(gate) = part {
                gate.opening = *openings.next().unwrap();
            }
        }
    }
    let network = Network::new(&system).unwrap();
    let point = network.operating_point(&network.open_all()).unwrap();
    point.hoods.iter().map(|hood| hood.flow.as_m3_s()).collect()
}

fn least_share(plan: &GatePlan, flows: &[f64]) -> f64 {
    let shares = plan.gates.iter().zip(flows);
    let shares = shares.map(|(gate, q)| q / gate.target.as_m3_s());
    shares.fold(f64::INFINITY, f64::min)
}

fn openings(plan: &GatePlan) -> Vec<f64> {
    plan.gates.iter().map(|gate| gate.opening).collect()
}

const JUNCTIONS: [Junction; 2] = [Junction::FixedK, Junction::Momentum];

#[test]
fn prop_every_hood_gets_one_share_and_no_openings_serve_the_worst_better() {
    let mut seen = [0; 3];
    for seed in 0..120 {
        for junction in JUNCTIONS {
            let system = shop(seed, junction);
            let plan = balance_gates(&system, all(&system), &any_speed()).unwrap();
            let set = openings(&plan);
            let flows_set = flows(&system, &set);
            assert!(set.contains(&1.0), "{seed}: {set:?}");
            let share = least_share(&plan, &flows_set);
            assert!((share / plan.share - 1.0).abs() < 1e-12);
            let text = plan.to_string();
            let throttled = plan.gates.iter().any(|gate| gate.opening < 1.0);
            assert_eq!(text.contains("half-shut gate"), throttled, "{text}");
            let hint = plan.point.status != airsplit::Status::Converged;
            assert_eq!(text.contains("a hint only"), hint, "{text}");
            for gate in &plan.gates {
                let open = format!("{:.0} % open: ", 100.0 * gate.opening);
                let mut lines = text
                    .lines()
                    .filter(|line| line.starts_with(gate.hood.as_str()));
                assert!(lines.any(|line| line.contains(&open)), "{text}");
            }
            match &plan.verdict {
                GateVerdict::AllOpen => {
                    seen[0] += 1;
                    assert!(set.iter().all(|&opening| opening == 1.0) && share >= 1.0 - 1e-9);
                    continue;
                }
                GateVerdict::Throttled => {
                    seen[1] += 1;
                    assert!(share >= 1.0 - 1e-9);
                }
                GateVerdict::Short { binding, .. } => {
                    seen[2] += 1;
                    assert!(share < 1.0 && !binding.is_empty());
                }
                _ => unreachable!(),
            }
            for (gate, q) in plan.gates.iter().zip(&flows_set) {
                let own = q / gate.target.as_m3_s();
                assert!(
                    (own / share - 1.0).abs() < 1e-6,
                    "{seed} {junction:?}: {own} {share}"
                );
            }
            // By trial: openings all over the place, and near those of the plan.
            let mut rng = Rng(!seed);
            for trial in 0..60 {
                let reach = [1.0, 0.1, 0.01, 0.001][trial % 4];
                let other: Vec<f64> = set
                    .iter()
                    .map(|opening| (opening + reach * rng.between(-1.0, 1.0)).clamp(0.05, 1.0))
                    .collect();
                let worst = least_share(&plan, &flows(&system, &other));
                assert!(
                    worst <= share * (1.0 + 1e-8),
                    "{seed} {junction:?}: {worst} {share}"
                );
            }
        }
    }
    assert!(seen.iter().all(|&times| times >= 15), "{seen:?}");
}

#[test]
fn prop_no_gate_can_be_opened_further_without_taking_from_another() {
    let mut tried = 0;
    for seed in 0..80 {
        let system = shop(seed, Junction::FixedK);
        let plan = balance_gates(&system, all(&system), &any_speed()).unwrap();
        if plan.verdict == GateVerdict::AllOpen {
            continue;
        }
        let before = flows(&system, &openings(&plan));
        for i in (0..plan.gates.len()).filter(|&i| plan.gates[i].opening < 0.99) {
            let mut further = openings(&plan);
            further[i] += 0.01;
            let after = flows(&system, &further);
            let others = (0..after.len()).filter(|&j| j != i);
            assert!(after[i] > before[i]);
            for j in others {
                assert!(after[j] < before[j], "{seed}");
            }
            tried += 1;
        }
    }
    assert!(tried > 60, "{tried}");
}

/// Asking for a times as much gives the same openings and the a-th part of the share.
#[test]
fn prop_the_share_scales_with_the_need() {
    let mut tried = 0;
    for seed in 0..60 {
        let system = shop(seed, Junction::Momentum);
        let plan = balance_gates(&system, all(&system), &any_speed()).unwrap();
        if plan.verdict == GateVerdict::AllOpen {
            continue;
        }
        let mut less = system.clone();
        let factor = plan.share * 0.999_999;
        let scaled = |need: airsplit::VolumeFlow| flow(need.as_m3_s() * factor);
        for machine in &mut less.machines {
            machine.required = scaled(machine.required);
        }
        for section in &mut less.sections {
            if let Start::Hood(hood) = &mut section.start {
                hood.required = hood.required.map(scaled);
            }
        }
        let again = balance_gates(&less, all(&less), &any_speed()).unwrap();
        if again.verdict == GateVerdict::AllOpen {
            continue;
        }
        assert_eq!(again.verdict, GateVerdict::Throttled);
        assert!((again.share * 0.999_999 - 1.0).abs() < 1e-8);
        for (a, b) in openings(&plan).iter().zip(openings(&again)) {
            assert!((a - b).abs() < 1e-6, "{seed}: {a} {b}");
        }
        tried += 1;
    }
    assert!(tried > 30, "{tried}");
}

/// A straight fan curve from 2p at rest to nothing at twice the flow, so that it gives p there.
fn straight_fan(p_pa: f64, q_m3s: f64) -> FanCurve {
    let points = [0.0, 0.5, 1.0, 1.5, 2.0];
    let points = points.map(|x| (flow(x * q_m3s), Pressure::from_pa((2.0 - x) * p_pa)));
    // Of the air in the ducts, so that nothing is scaled.
    let density = Air::standard().properties().unwrap().density;
    FanCurve::new(points, Basis::Static, Fitted::NOTHING, density).unwrap()
}

/// Hoods side by side on a collector that loses nothing, each a loss coefficient and a gate.
fn side_by_side(fan: FanCurve, drops: &[(f64, f64, f64)]) -> System {
    let bore = |mm| Bore::Round(Length::from_mm(mm));
    let wall = Wall::Galvanised;
    let run = Run::new(bore(400.0), wall);
    let mut system = System::new(Air::standard(), Collector::new(fan).with_before(run))
        .with_junction(Junction::FixedK);
    for (i, &(mm, k, need)) in drops.iter().enumerate() {
        let id = ["a", "b", "c"][i];
        system = system.with_machine(id, flow(need)).with_section(
            Section::new(id, bore(mm), wall)
                .with_part(wide_open())
                .with_hood(Hood::new(format!("hood {id}"), Entry::K(k)).serving(id)),
        );
        if drops.len() > 1 {
            system.sections[i].join.k = Some(0.0);
        }
    }
    system
}

fn head(mm: f64, q_m3s: f64) -> f64 {
    let area = std::f64::consts::PI / 4.0 * (mm / 1000.0) * (mm / 1000.0);
    let density = Air::standard().properties().unwrap().density.as_kg_m3();
    density / 2.0 * (q_m3s / area).powi(2)
}

fn open_k(mm: f64) -> f64 {
    let gate = Gate {
        opening: 1.0,
        leak_area: None,
    };
    let bore = Bore::Round(Length::from_mm(mm));
    gate.loss(bore).unwrap().heads.fixed
}

#[test]
fn val_the_gate_takes_the_published_imbalance() {
    // 2021 ASHRAE Handbook - Fundamentals (SI), ch. 21, Example 9, first pass with 200 mm in
    // branch 1: 762 Pa at 850 L/s there and 850 Pa at 580 L/s in branches 2 to 4, an imbalance of
    // -88 Pa. Left alone, branch 1 draws 850 sqrt(850/762) = 897.7 (printed: 900) L/s.
    let (p, q1, q4) = (850.0, 0.850, 0.580);
    let k = |pa: f64, mm: f64, q| pa / head(mm, q) - open_k(mm);
    let (k1, k4) = (k(762.0, 200.0, q1), k(850.0, 180.0, q4));
    let drops = [(200.0, k1, q1), (180.0, k4, q4)];

    let system = side_by_side(straight_fan(p, q1 + q4), &drops);
    let plan = balance_gates(&system, ["a", "b"], &any_speed()).unwrap();
    assert!((plan.share - 1.0).abs() < 1e-9, "{}", plan.share);
    assert_eq!(plan.gates[1].opening, 1.0);
    let taken = (plan.gates[0].k - open_k(200.0)) * head(200.0, q1);
    assert!((taken - 88.0).abs() < 1e-5, "{taken}");

    let alone = (850.0_f64 / 762.0).sqrt() * q1;
    let system = side_by_side(straight_fan(p, alone + q4), &drops);
    let plan = balance_gates(&system, ["a", "b"], &any_speed()).unwrap();
    assert_eq!(plan.verdict, GateVerdict::AllOpen);
    let litres = plan.gates[0].flow.as_m3_s() * 1000.0;
    assert!((litres - 897.7).abs() < 0.05, "{litres}");
}

#[test]
fn prop_side_by_side_has_a_closed_form() {
    // t^2 max(R_i T_i^2) = p (2 - t sum(T_i) / Q): the straight fan at the binding hood.
    let mut rng = Rng(7);
    for _ in 0..40 {
        let drops: Vec<_> = (0..2 + rng.below(2))
            .map(|_| {
                let mm = rng.between(80.0, 180.0);
                let speed = rng.between(10.0, 30.0);
                let need = speed * std::f64::consts::PI / 4.0 * (mm / 1000.0_f64).powi(2);
                (mm, rng.between(0.5, 4.0), need)
            })
            .collect();
        let (p, q) = (rng.between(300.0, 1500.0), rng.between(0.2, 1.0));
        let system = side_by_side(straight_fan(p, q), &drops);
        let plan = balance_gates(&system, all(&system), &any_speed()).unwrap();
        if plan.verdict == GateVerdict::AllOpen {
            continue;
        }
        let losses = drops
            .iter()
            .map(|&(mm, k, need)| (k + open_k(mm)) * head(mm, need));
        let most = losses.clone().fold(0.0, f64::max);
        let sum: f64 = drops.iter().map(|drop| drop.2).sum();
        let half = p * sum / q / 2.0;
        let t = ((half * half + 2.0 * p * most).sqrt() - half) / most;
        assert!((plan.share / t - 1.0).abs() < 1e-9, "{} {t}", plan.share);
        for ((gate, &(mm, _, need)), loss) in plan.gates.iter().zip(&drops).zip(losses) {
            let k = open_k(mm) + (most - loss) / head(mm, need);
            assert!((gate.k / k - 1.0).abs() < 1e-6, "{} {k}", gate.k);
            assert_eq!(gate.opening == 1.0, loss == most);
        }
    }
}

#[test]
fn prop_one_hood_is_never_throttled() {
    for need in [0.05, 5.0] {
        let system = side_by_side(straight_fan(800.0, 0.3), &[(120.0, 1.0, need)]);
        let plan = balance_gates(&system, ["a"], &any_speed()).unwrap();
        assert_eq!(plan.gates[0].opening, 1.0);
        assert_eq!(plan.share < 1.0, need > 1.0);
        if let GateVerdict::Short { binding, machines } = &plan.verdict {
            assert_eq!((binding[0].as_str(), machines[0].as_str()), ("hood a", "a"));
        }
    }
}

#[test]
fn prop_a_machines_need_falls_on_its_hoods() {
    // Hoods a and b of one machine that needs 0.2 m3/s.
    let two = |own: [Option<f64>; 2]| {
        let drops = [(100.0, 1.0, 0.1), (140.0, 1.5, 0.1)];
        let mut system = side_by_side(straight_fan(800.0, 0.3), &drops);
        system.machines.truncate(1);
        system.machines[0].required = flow(0.2);
        for (section, own) in system.sections.iter_mut().zip(own) {
            if let Start::Hood(hood) = &mut section.start {
                hood.machine = Some("a".into());
                hood.required = own.map(flow);
            }
        }
        let plan = balance_gates(&system, ["a"], &any_speed());
        let wide = flows(&system, &[1.0, 1.0]);
        let targets = plan.map(|plan| {
            let targets = plan.gates.iter().map(|gate| gate.target.as_m3_s());
            targets.collect::<Vec<_>>()
        });
        (targets, wide)
    };
    let near = |a: f64, b: f64| assert!((a / b - 1.0).abs() < 1e-12, "{a} {b}");
    let (targets, wide) = two([None, None]);
    let targets = targets.unwrap();
    near(targets[0] + targets[1], 0.2);
    near(targets[0] / targets[1], wide[0] / wide[1]);
    let targets = two([Some(0.03), None]).0.unwrap();
    near(targets[0], 0.03);
    near(targets[1], 0.17);
    let (targets, wide) = two([Some(0.03), Some(0.07)]);
    let targets = targets.unwrap();
    near((targets[0] - 0.03) / (targets[1] - 0.07), wide[0] / wide[1]);
    near(targets[0] + targets[1], 0.2);
    let targets = two([Some(0.15), Some(0.07)]).0.unwrap();
    near(targets[0], 0.15);
    near(targets[1], 0.07);
    assert_eq!(
        two([Some(0.25), None]).0,
        Err(GateError::NoRequirement {
            hood: "hood b".into()
        })
    );
}

#[test]
fn prop_bad_input_is_told() {
    let system = side_by_side(
        straight_fan(800.0, 0.3),
        &[(120.0, 1.0, 0.1), (90.0, 1.0, 0.0)],
    );
    let plan = |system: &System, names: &[&str]| balance_gates(system, names, &any_speed());
    let error = plan(&system, &["lathe"]).unwrap_err();
    assert!(matches!(error, GateError::Unknown(_)) && error.is_input());
    assert_eq!(
        plan(&system, &["a", "b"]).unwrap_err(),
        GateError::NoRequirement {
            hood: "hood b".into()
        }
    );
    assert!(matches!(plan(&system, &[]), Err(GateError::Solve { .. })));

    let mut bare = system.clone();
    bare.sections[0].parts.clear();
    assert_eq!(
        plan(&bare, &["a"]).unwrap_err().to_string(),
        "no gate to set: section \"a\" of hood \"hood a\" has none among its parts; give it one"
    );

    let mut shut = system.clone();
    let Part::Gate(gate) = wide_open() else {
        unreachable!()
    };
    // A second gate on the way stands shut; the first one is set, whatever the model says of it.
    shut.sections[0].parts.push(Part::Gate(Gate {
        opening: 0.0,
        ..gate
    }));
    shut.machines[1].required = flow(0.05);
    assert_eq!(
        plan(&shut, &["a", "b"]).unwrap_err(),
        GateError::CutOff {
            hood: "hood a".into()
        }
    );
    shut.sections[0].parts.swap(0, 1);
    shut.sections[0].parts.truncate(1);
    assert!(plan(&shut, &["a", "b"]).is_ok());

    for limit in [-1.0, f64::NAN, f64::INFINITY] {
        let limits = TransportLimits::new(Velocity::from_m_s(limit));
        let error = balance_gates(&system, ["a"], &limits).unwrap_err();
        assert!(matches!(error, GateError::Limit { section: None, .. }));
        let limits = any_speed().with_section("a", Velocity::from_m_s(limit));
        assert!(balance_gates(&system, ["a"], &limits).is_err());
    }
    let limits = any_speed().with_section("atrium", Velocity::from_m_s(20.0));
    assert!(matches!(
        balance_gates(&system, ["a"], &limits),
        Err(GateError::Unknown(_))
    ));
    let mut fanless = system.clone();
    fanless.collector.fan = None;
    assert!(matches!(
        plan(&fanless, &["a"]),
        Err(GateError::Solve { .. })
    ));
}

#[test]
fn prop_the_text_says_what_to_beware_of() {
    let drops = [(120.0, 1.0, 0.05), (120.0, 1.0, 0.4)];
    let system = side_by_side(straight_fan(800.0, 0.3), &drops);
    let plan = balance_gates(&system, ["a", "b"], &any_speed()).unwrap();
    let text = plan.to_string();
    assert!(text.contains("can plug the branch"), "{text}");
    assert!(text.starts_with("not enough"), "{text}");
    // Below the tested openings of the gate it says so.
    assert!(plan.gates[0].opening < 0.2 && plan.gates[0].notes.len() == 1);
    assert!(text.contains("opening of the gate is"), "{text}");
    let place = Place::Part {
        section: "a".into(),
        part: 0,
    };
    assert_eq!(plan.gates[0].place, place);
}

#[cfg(feature = "serde")]
#[test]
fn prop_every_set_of_machines_of_the_chair_shop() {
    let text = include_str!("../../examples/chair_shop.toml");
    let study: airsplit::Study = toml::from_str(text).unwrap();
    let network = Network::new(&study.system).unwrap();
    let limits = TransportLimits::new(Velocity::from_m_s(15.0)).opening_up_to(1);
    let (mut throttled, mut short) = (0, 0);
    for open in network.machine_sets().unwrap() {
        let names = network.open_names(&open).unwrap();
        let plan = balance_gates(&study.system, &names, &limits).unwrap();
        assert!(plan.gates.iter().any(|gate| gate.opening == 1.0));
        match &plan.verdict {
            GateVerdict::AllOpen => continue,
            GateVerdict::Throttled => throttled += 1,
            _ => short += 1,
        }
        for gate in &plan.gates {
            let share = gate.flow.as_m3_s() / gate.target.as_m3_s();
            assert!((share / plan.share - 1.0).abs() < 1e-6, "{plan}");
        }
        // The worst served hood gets no less than with all gates wide open.
        let wide = network.operating_point(&open).unwrap();
        let wide = plan.gates.iter().map(|gate| {
            let hood = wide.hood(gate.hood.as_str()).unwrap();
            hood.flow.as_m3_s()
        });
        let least = least_share(&plan, &wide.collect::<Vec<_>>());
        assert!(plan.share >= least * (1.0 - 1e-9), "{plan}");
    }
    assert!(throttled > 5 && short > 20, "{throttled} {short}");
    let told = balance_gates(&study.system, ["planer", "table saw"], &limits).unwrap();
    println!("{told}");
    assert!(serde_json::to_value(&told).unwrap()["verdict"].is_string());
}

/// A hood beside the fan against one at the end of a thin hose: no gate can even that out.
#[test]
fn prop_a_gate_that_would_have_to_be_all_but_shut_is_told() {
    let drops = [(300.0, 0.5, 1e-5), (40.0, 50.0, 0.05)];
    let system = side_by_side(straight_fan(800.0, 0.3), &drops);
    let error = balance_gates(&system, ["a", "b"], &any_speed()).unwrap_err();
    assert_eq!(
        error,
        GateError::AllButShut {
            hood: "hood a".into()
        }
    );
}
