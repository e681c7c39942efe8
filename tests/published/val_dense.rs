//! Random whole networks against an independent referee: dense Newton with LU, from the formulas.
//!
//! What is compared: the flow of every hood, the total flow and the pressure of the fan's curve.
//! What limits the referee is told by its own last step: 1e-14 of the flow at most on the seeds
//! here, and it agrees with solutions in 40 digits to 1e-13.

#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::print_stdout,
    reason = "a test that cannot go on must stop, and a long one says what it saw"
)]

use crate::common::{
    dense::{self, Solution, TRICKLE},
    random::{self, Recipe},
    three_hoods,
};
use airsplit::{Network, OperatingPoint, SolveError};
use std::collections::BTreeMap;

/// mpmath 1.3.0 in 40 digits: tests/data/network_3hood.json.
#[test]
fn val_the_referee_agrees_with_40_digits() {
    let text = include_str!("../data/network_3hood.json");
    let all: serde_json::Value = serde_json::from_str(text).unwrap();
    let system = three_hoods::system();
    let hoods = random::hoods(&system);
    for (case, open) in [("open.momentum", 3), ("leaf3_capped.momentum", 2)] {
        let id = format!("network.3hood.{case}");
        let rows = all["rows"].as_array().unwrap();
        let row = rows.iter().find(|row| row["id"] == id.as_str()).unwrap();
        let expected = |name: &str| row["expected"][name].as_f64().unwrap();
        let referee = dense::solve(&system, &hoods[..open]).unwrap();
        let mut pairs = vec![
            (referee.total, expected("Q_total")),
            (referee.curve_pa, expected("fan_pressure")),
        ];
        for (hood, name) in referee.hoods.iter().zip(["Q1", "Q2", "Q3"]).take(open) {
            pairs.push((*hood, expected(name)));
        }
        for (ours, expected) in pairs {
            let off = (ours / expected - 1.0).abs();
            assert!(
                off <= 1e-13,
                "{case}: {ours} against {expected}, off by {off:e}"
            );
        }
    }
}

/// How far the crate is off.
struct Off {
    /// At the worst of hoods, total and pressure, relative; a flow below [`TRICKLE`] of the total is
    /// left out.
    worst: f64,
    /// Of the flows below [`TRICKLE`], relative to the total.
    trickle: f64,
    /// Of all flows, relative to the flow or to [`TRICKLE`] of the total, as the crate tells its
    /// last step.
    told: f64,
}

fn compare(point: &OperatingPoint, referee: &Solution) -> Off {
    let total = point.flow.as_m3_s();
    let flow = (total / referee.total - 1.0).abs();
    let pressure = point.fan.curve_pressure.as_pa();
    // Beyond its end a curve may pass through zero.
    let floor = 0.01 * referee.at_rest_pa;
    let pressure = (pressure - referee.curve_pa).abs() / referee.curve_pa.abs().max(floor);
    let mut off = Off {
        worst: flow.max(pressure),
        trickle: 0.0,
        told: flow,
    };
    for (hood, &theirs) in point.hoods.iter().zip(&referee.hoods) {
        let ours = hood.flow.as_m3_s();
        if theirs == 0.0 {
            assert_eq!(ours, 0.0, "{} is shut", hood.name);
            continue;
        }
        let small = TRICKLE * referee.total;
        let difference = (ours - theirs).abs();
        if theirs > small {
            off.worst = off.worst.max(difference / theirs);
        } else {
            off.trickle = off.trickle.max(difference / referee.total);
        }
        off.told = off.told.max(difference / theirs.max(small));
    }
    off
}

/// Solves the recipe of a seed both ways.
fn both(recipe: Recipe) -> (OperatingPoint, Solution) {
    let system = recipe.system();
    let network = Network::new(&system).unwrap();
    let open = recipe.open(&system);
    let point = network.operating_point(&network.open(&open).unwrap());
    let referee = dense::solve(&system, &open);
    (
        point.unwrap_or_else(|error| panic!("{recipe:?}: {error}")),
        referee.unwrap_or_else(|error| panic!("{recipe:?}: the referee: {error}")),
    )
}

const SEEDS: std::ops::Range<u64> = 0..400;

/// The last step that is told bounds the error.
#[test]
fn val_dense_answers_are_as_good_as_they_say() {
    for seed in SEEDS {
        let recipe = Recipe::of(seed);
        let (point, referee) = both(recipe);
        let off = compare(&point, &referee);
        let told = point.quality.step.value;
        let allowed = 1e-11 + 1.01 * told;
        assert!(
            off.told <= allowed,
            "{recipe:?}: off {:e}, told {told:e}",
            off.told
        );
        assert!(
            referee.noise <= 1e-14,
            "{recipe:?}: the referee: {:e}",
            referee.noise
        );
    }
}

/// Every flow above 1e-9 of the total, the total and the pressure to 1e-11 of themselves; the flows
/// below to 1e-11 of the total.
#[test]
fn val_dense_agree_to_eleven_digits() {
    let mut worst = Off {
        worst: 0.0,
        trickle: 0.0,
        told: 0.0,
    };
    for seed in SEEDS {
        let recipe = Recipe::of(seed);
        let (point, referee) = both(recipe);
        let off = compare(&point, &referee);
        assert!(off.worst <= 1e-11, "{recipe:?}: off by {:e}", off.worst);
        assert!(
            off.trickle <= 1e-11,
            "{recipe:?}: off by {:e} of all",
            off.trickle
        );
        worst.worst = worst.worst.max(off.worst);
        worst.trickle = worst.trickle.max(off.trickle);
    }
    println!(
        "worst: {:e} of a flow, {:e} of the total",
        worst.worst, worst.trickle
    );
}

/// Thousands of seeds, for a person to read:
/// `SEEDS=20000 cargo test --release --test published val_dense:: -- --ignored --nocapture`
#[test]
#[ignore = "a campaign: run by hand in release mode"]
fn val_dense_campaign() {
    let number = |name: &str, or: u64| std::env::var(name).map_or(or, |n| n.parse().unwrap());
    let from = number("FROM", 0);
    let mut worst = (0.0, 0);
    let mut passes = BTreeMap::new();
    let mut statuses = BTreeMap::new();
    let (mut failed, mut undecided) = (0, 0);
    let (mut over_twelve, mut off_by) = (Vec::new(), 0);
    for seed in from..from + number("SEEDS", 20_000) {
        let recipe = Recipe::of(seed);
        let system = recipe.system();
        let network = Network::new(&system).unwrap();
        let open = recipe.open(&system);
        let point = match network.operating_point(&network.open(&open).unwrap()) {
            Ok(point) => point,
            Err(SolveError::NotConverged(why)) => {
                println!("{recipe:?}: no balance: {:?}", why.quality);
                failed += 1;
                continue;
            }
            Err(error) => panic!("{recipe:?}: {error}"),
        };
        *statuses.entry(format!("{:?}", point.status)).or_insert(0) += 1;
        *passes.entry(point.quality.passes).or_insert(0) += 1;
        if point.quality.passes > 12 {
            over_twelve.push(seed);
        }
        let referee = match dense::solve(&system, &open) {
            Ok(referee) => referee,
            Err(why) => {
                println!("{recipe:?}: the referee: {why}");
                undecided += 1;
                continue;
            }
        };
        let off = compare(&point, &referee);
        if off.worst > worst.0 {
            worst = (off.worst, seed);
        }
        if off.worst > 1e-11 || off.trickle > 1e-11 {
            off_by += 1;
        }
    }
    println!("{statuses:?}, {failed} without a balance, {undecided} undecided");
    println!("passes: {passes:?}; more than 12 at {over_twelve:?}");
    println!(
        "worst: {:e} at seed {}; {off_by} beyond 1e-11",
        worst.0, worst.1
    );
}
