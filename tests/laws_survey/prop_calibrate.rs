//! Calibration: known truths are found again, as sure as it says, and wrong readings are named.

#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::print_stdout,
    reason = "a test that cannot go on must stop, and a long one says what it saw"
)]
#![cfg(feature = "serde")]

use crate::common::random::{Junctions, Recipe, Rng};
use airsplit::{
    CalibrateError, Calibration, Change, Doubt, Name, Network, NumberAt, Observation,
    OutlierTreatment, Output, Parameter, Place, Study, System, Unknown, UnknownKind, Weighting,
    Workspace, calibrate, possible_readings,
};

fn shop() -> System {
    let text = include_str!("../../examples/chair_shop.toml");
    toml::from_str::<Study>(text).unwrap().system
}

/// A standard normal number (G. E. P. Box and M. E. Muller, 1958).
fn normal(rng: &mut Rng) -> f64 {
    let radius = (-2.0 * rng.between(1e-300, 1.0).ln()).sqrt();
    radius * rng.between(0.0, std::f64::consts::TAU).cos()
}

/// The system with its unknowns at these values; `None` where it cannot be.
fn with_truth(system: &System, unknowns: &[Unknown], truth: &[f64]) -> Option<System> {
    let mut both = unknowns.iter().zip(truth);
    both.try_fold(system.clone(), |system, (unknown, &value)| {
        unknown.moved(&system, value).ok()
    })
}

/// Some of all possible readings in some open sets, read in the true system with noise.
fn read(truth: &System, open_sets: &[Vec<Name>], count: usize, rng: &mut Rng) -> Vec<Observation> {
    let mut possible = possible_readings(truth, open_sets, 0.03, 0.02).unwrap();
    rng.shuffle(&mut possible);
    possible.truncate(count);
    for reading in &mut possible {
        reading.value += normal(rng) * reading.standard;
    }
    possible
}

/// A shop as it is believed to be, what is unknown of it, the truth, and readings in it.
struct Simulated {
    system: System,
    unknowns: Vec<Unknown>,
    truth: Vec<f64>,
    readings: Vec<Observation>,
}

/// One from a seed; `None` where the truth cannot be.
fn simulated(seed: u64) -> Option<Simulated> {
    let mut rng = Rng(seed);
    let recipe = Recipe {
        hoods: 2 + rng.below(8),
        seed,
        junctions: rng.pick(&[Junctions::Momentum, Junctions::FixedK]),
    };
    let system = recipe.system();
    let unknowns = Unknown::all_usual(&system).unwrap();
    let truth: Vec<f64> = unknowns
        .iter()
        .map(|unknown| unknown.start * (normal(&mut rng) * unknown.standard).exp())
        .collect();
    let true_system = with_truth(&system, &unknowns, &truth)?;
    let hoods = crate::common::random::hoods(&system);
    let mut sets = vec![hoods.clone()];
    for _ in 0..2 {
        let some: Vec<Name> = hoods.iter().filter(|_| rng.chance(0.5)).cloned().collect();
        if !some.is_empty() {
            sets.push(some);
        }
    }
    let readings = read(&true_system, &sets, 15, &mut rng);
    Some(Simulated {
        system,
        unknowns,
        truth,
        readings,
    })
}

/// How often intervals of 95 % held the truth, over shops with readings from these seeds.
#[derive(Debug, Default)]
struct Coverage {
    shops: u32,
    unknowns: [u32; 2],
    flows: [u32; 2],
    failed: u32,
}

fn coverage(shops: u32) -> Coverage {
    let mut seen = Coverage::default();
    for seed in 1.. {
        if seen.shops == shops {
            break;
        }
        let Some(shop) = simulated(seed) else {
            continue;
        };
        let Simulated {
            system,
            unknowns,
            truth,
            readings,
        } = shop;
        seen.shops += 1;
        let fitted = match calibrate(&system, &readings, &unknowns, OutlierTreatment::All) {
            Ok(fitted) => fitted,
            Err(error) => {
                println!("seed {seed}: {error}");
                seen.failed += 1;
                continue;
            }
        };
        for (estimate, truth) in fitted.estimates.iter().zip(&truth) {
            seen.unknowns[1] += 1;
            seen.unknowns[0] += u32::from((estimate.low..=estimate.high).contains(truth));
        }
        // Every hood's flow in a set that was not read.
        let hoods = crate::common::random::hoods(&system);
        let open = &hoods[..1];
        let true_system = with_truth(&system, &unknowns, &truth).unwrap();
        let network = Network::new(&true_system).unwrap();
        let point = network
            .operating_point(&network.open(open).unwrap())
            .unwrap();
        let outputs = [Output::Hood(open[0].clone()), Output::FanPressure];
        let told = fitted.predict(&fitted.system, open, &outputs, &[]).unwrap();
        let flow = point.hood(open[0].as_str()).unwrap().flow.as_m3_s();
        for (told, truth) in told.iter().zip([flow, point.fan.curve_pressure.as_pa()]) {
            seen.flows[1] += 1;
            seen.flows[0] += u32::from((told.value - truth).abs() <= 1.96 * told.standard);
        }
    }
    seen
}

fn share([inside, all]: [u32; 2]) -> f64 {
    f64::from(inside) / f64::from(all)
}

/// Of 50 shops whose truth is drawn from what was believed, and whose readings are drawn from that
/// truth, 95 % intervals hold it in 95 % of cases, but for the luck of so few: 3 standard deviations
/// of a binomial share, as if the cases were independent.
#[test]
fn prop_intervals_hold_the_truth() {
    let seen = coverage(50);
    println!("{seen:?}");
    assert_eq!(seen.failed, 0);
    for counts in [seen.unknowns, seen.flows] {
        let luck = 3.0 * (0.95 * 0.05 / f64::from(counts[1])).sqrt();
        assert!((share(counts) - 0.95).abs() < luck, "{seen:?}");
    }
}

/// The same for as many shops as `SHOPS` says, 500 if it does not.
#[test]
#[ignore = "a campaign; see DEVELOPERS.md"]
fn prop_intervals_hold_the_truth_in_many_shops() {
    let shops = std::env::var("SHOPS").map_or(500, |text| text.parse().unwrap());
    let seen = coverage(shops);
    println!(
        "{} shops, {} without a fit: 95 % intervals hold the truth of unknowns in {:.1} %, of unread \
         flows and pressures in {:.1} %",
        seen.shops,
        seen.failed,
        100.0 * share(seen.unknowns),
        100.0 * share(seen.flows)
    );
    assert_eq!(seen.failed, 0);
    for counts in [seen.unknowns, seen.flows] {
        assert!((0.93..=0.97).contains(&share(counts)), "{seen:?}");
    }
}

/// Readings of a known truth without noise bring it back, however narrow they are.
#[test]
fn prop_exact_readings_bring_the_truth_back() {
    let system = shop();
    let unknowns = Unknown::all_usual(&system).unwrap();
    let truth = [1.5, 1.4, 0.9, 0.08, 1.2, 0.97];
    let true_system = with_truth(&system, &unknowns, &truth).unwrap();
    let sets: [Vec<Name>; 4] = [
        vec!["planer".into()],
        vec!["lathe".into(), "table saw".into()],
        vec!["bandsaw".into(), "mortiser".into(), "disc sander".into()],
        vec!["spindle moulder".into(), "planer".into()],
    ];
    let readings = possible_readings(&true_system, &sets, 1e-5, 1e-5).unwrap();
    let readings: Vec<Observation> = readings
        .into_iter()
        .map(|mut reading| {
            reading.standard = 1e-5 * reading.value.abs();
            reading
        })
        .collect();
    let fitted = calibrate(&system, &readings, &unknowns, OutlierTreatment::All).unwrap();
    for (estimate, truth) in fitted.estimates.iter().zip(truth) {
        assert!(
            (estimate.value / truth - 1.0).abs() < 1e-3,
            "{estimate:?} {truth}"
        );
        assert!(estimate.told > 0.99);
    }
    // The calibrated system answers as the true one.
    for set in &sets {
        let flow = |system: &System| {
            let network = Network::new(system).unwrap();
            network
                .operating_point(&network.open(set).unwrap())
                .unwrap()
                .flow
                .as_m3_s()
        };
        assert!((flow(&fitted.system) / flow(&true_system) - 1.0).abs() < 1e-5);
    }
}

/// A fit of the demo shop to eight readings, one of which may be wrong.
fn fitted(wrong: f64, treatment: OutlierTreatment) -> (Calibration, Vec<Observation>) {
    let system = shop();
    let unknowns = [
        UnknownKind::HoseSlack,
        UnknownKind::FilterResistance,
        UnknownKind::FanScale,
    ]
    .map(|kind| Unknown::usual(&system, kind, None).unwrap());
    let true_system = with_truth(&system, &unknowns, &[1.4, 1.5, 0.96]).unwrap();
    let sets: [Vec<Name>; 3] = [
        vec!["planer".into()],
        vec!["lathe".into(), "table saw".into()],
        vec!["bandsaw".into(), "disc sander".into()],
    ];
    let mut readings = read(&true_system, &sets, 10, &mut Rng(7));
    readings[3].value += wrong * readings[3].standard;
    let fitted = calibrate(&system, &readings, &unknowns, treatment).unwrap();
    (fitted, readings)
}

/// One reading that is wrong by 12 standard uncertainties is named, and it alone; weighting or
/// leaving it out brings the estimates back to where they are without it.
#[test]
fn prop_one_wrong_reading_is_named() {
    for treatment in [
        OutlierTreatment::All,
        OutlierTreatment::Weighted(Weighting::Huber),
        OutlierTreatment::WithoutOutliers,
    ] {
        let (right, readings) = fitted(0.0, treatment);
        assert_eq!(right.outliers().count(), 0, "{:?}", right.readings);
        let (wrong, _) = fitted(12.0, treatment);
        let named: Vec<_> = wrong.outliers().map(|at| at.name.as_str()).collect();
        assert_eq!(named, [readings[3].id.as_str()], "{treatment:?}");
        let off = |fitted: &Calibration| {
            let apart = fitted.estimates.iter().zip(&right.estimates);
            let apart = apart.map(|(a, b)| (a.value - b.value).abs() / b.standard);
            apart.fold(0.0, f64::max)
        };
        if treatment == OutlierTreatment::WithoutOutliers {
            assert!(off(&wrong) < 1.0);
        }
    }
}

/// What readings cannot tell apart is said, and the reading that would settle it.
#[test]
fn prop_what_cannot_be_told_apart_is_said() {
    let system = shop();
    let unknowns = [UnknownKind::FilterResistance, UnknownKind::SeparatorLoss]
        .map(|kind| Unknown::usual(&system, kind, None).unwrap());
    let wide = unknowns.map(|unknown| unknown.known_to(1.0));
    let at = |output: Output, share: f64| {
        let network = Network::new(&system).unwrap();
        let mut work = Workspace::default();
        let open = network.open(["planer", "table saw"]).unwrap();
        let value = network
            .solve(&open, &mut work)
            .unwrap()
            .value(&output)
            .unwrap();
        let id = output.to_string();
        Observation::new(id, output, value, share * value.abs()).with_open(["planer", "table saw"])
    };
    // Both are passed by all the air: total flow tells only their sum.
    let readings = [
        at(Output::TotalFlow, 0.005),
        at(Output::Machine("planer".into()), 0.01),
    ];
    let fitted = calibrate(&system, &readings, &wide, OutlierTreatment::All).unwrap();
    assert_eq!(fitted.correlated.len(), 1);
    assert!(fitted.correlated[0].correlation < -0.9);
    insta::assert_snapshot!(fitted.weak[0], @r#"raising "filter resistance" while lowering "separator loss" moves no reading noticeably"#);
    let candidates = [
        at(Output::Hood("planer port".into()), 0.02),
        at(Output::BeforeStatic(0), 0.01),
    ];
    let open: Vec<Name> = vec!["lathe".into()];
    let ranked = fitted.next_readings(&candidates, &open, &[Output::Machine("lathe".into())]);
    let ranked = ranked.unwrap();
    // The suction behind the separator, before the fan, tells one from the other.
    let suction = [at(Output::BeforeStatic(0), 0.01)];
    let both = [readings.to_vec(), suction.to_vec()].concat();
    let settled = calibrate(&system, &both, &wide, OutlierTreatment::All).unwrap();
    let share = |fitted: &Calibration| fitted.estimates[1].standard;
    assert!(share(&settled) < 0.5 * share(&fitted));
    for next in &ranked {
        let sure = next.standards[0];
        let before = fitted
            .predict(
                &fitted.system,
                &open,
                &[Output::Machine("lathe".into())],
                &[],
            )
            .unwrap()[0]
            .standard;
        let share = (sure / before).powi(2);
        assert!((1.0 - share - next.reduction).abs() < 1e-9);
    }
}

/// What is left of the uncertainty follows the system through changes, and other doubts add to it.
#[test]
fn prop_predictions_of_a_changed_system_stay_unsure() {
    let (fitted, _) = fitted(0.0, OutlierTreatment::All);
    let open: Vec<Name> = vec!["planer".into()];
    let planer = [Output::Machine("planer".into())];
    let before = fitted.predict(&fitted.system, &open, &planer, &[]).unwrap();
    let shorter = Change::Hose {
        section: "planer drop".into(),
        to: "0.5 m".parse().unwrap(),
    };
    let changed = fitted.system.with(&[shorter]).unwrap();
    let after = fitted.predict(&changed, &open, &planer, &[]).unwrap();
    assert!(after[0].value > before[0].value);
    // Less hose, less doubt about its slack.
    assert!(after[0].standard < before[0].standard && after[0].standard > 0.0);
    let doubts = [
        Doubt::new(
            Place::Hood("planer port".into()),
            Parameter::K,
            0.2,
            "a guess",
        ),
        // Calibrated: what is left of it is told already.
        Doubt::new(Place::Fan, Parameter::Factor, 0.5, "a guess"),
    ];
    let with = fitted
        .predict(&fitted.system, &open, &planer, &doubts)
        .unwrap();
    assert_eq!(with[0].from_calibration, before[0].standard);
    let own = fitted
        .predict(&fitted.system, &open, &planer, &doubts[..1])
        .unwrap();
    assert_eq!(with[0].standard, own[0].standard);
    assert!(with[0].standard > before[0].standard);
}

#[test]
fn bad_calibrations_are_told() {
    let system = shop();
    let reading = Observation::new("planer", Output::Hood("planer port".into()), 0.3, 0.01);
    let reading = reading.with_open(["planer"]);
    let told = |readings: &[Observation], unknowns: &[Unknown]| {
        let error = calibrate(&system, readings, unknowns, OutlierTreatment::All).unwrap_err();
        assert!(error.is_input());
        error.to_string()
    };
    let fan = || Unknown::usual(&system, UnknownKind::FanScale, None).unwrap();
    let number = |place: Place, parameter| NumberAt { place, parameter };
    let readings = std::slice::from_ref(&reading);
    insta::assert_snapshot!(told(readings, &[]), @"there is nothing to calibrate; name at least one unknown");
    insta::assert_snapshot!(told(&[], &[fan()]), @"there are no readings; give at least one");
    insta::assert_snapshot!(told(readings, &[fan(), fan()]), @r#"two unknowns are called "fan scale"; each needs a name of its own"#);
    insta::assert_snapshot!(told(readings, &[fan().known_to(0.0)]), @r#"unknown "fan scale": its standard uncertainty is 0 in its own unit; it must be above 0, and finite"#);
    let port = number(Place::Hood("planer prot".into()), Parameter::K);
    insta::assert_snapshot!(told(readings, &[Unknown::factor("port", [port], 0.2)]), @r#"unknown "port": hood "planer prot" has no loss coefficient that an answer depends on; `Network::settings` lists what they do"#);
    let join = number(Place::Join("planer drop".into()), Parameter::ExtraK);
    insta::assert_snapshot!(told(readings, &[Unknown::factor("join", [join.clone()], 0.2)]), @r#"unknown "join": the extra loss coefficient of join of section "planer drop" is 0, which no factor moves; give it a start above 0"#);
    let twice = [
        Unknown::number("join", join.clone(), 0.1, 0.1),
        Unknown::number("again", join, 0.1, 0.1),
    ];
    insta::assert_snapshot!(told(readings, &twice), @r#"unknown "again": the extra loss coefficient of join of section "planer drop" is moved by another unknown already; only factors go together; leave one out"#);
    let duct = number(
        Place::Part {
            section: "main east".into(),
            part: 0,
        },
        Parameter::Factor,
    );
    insta::assert_snapshot!(told(readings, &[Unknown::factor("duct", [duct], 0.1)]), @r#"nothing is predicted with every unknown at its start: section "main east", part 1: it has no factor that could be set; `Network::settings` lists what can"#);
    insta::assert_snapshot!(told(readings, &[Unknown::factor("nothing", [], 0.1)]), @r#"unknown "nothing": there is nothing of its kind above 0 to be moved; leave it out, or give the system such a part"#);
    let mut hopeless = reading.clone();
    hopeless.value = f64::NAN;
    assert!(matches!(
        calibrate(&system, &[hopeless], &[fan()], OutlierTreatment::All),
        Err(CalibrateError::Survey(_))
    ));
}
