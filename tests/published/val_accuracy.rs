//! Duct trees against balances in 75 digits: every flow and the fan's pressure to 1e-12.
//!
//! The cases are those of `examples/accuracy.rs`, compared as it compares them.
#![cfg(feature = "serde")]
#![allow(
    clippy::unwrap_used,
    reason = "clippy knows tests by their attribute, not their helpers"
)]

#[allow(dead_code, reason = "what the example prints is not asked for here")]
#[path = "../../examples/accuracy.rs"]
mod accuracy;
use crate::common::audited;

use accuracy::{Answer, Case, Of, Solved};
use airsplit::{Junction, Status};
use serde_json::Value;
use std::collections::BTreeMap;

const FLOOR: f64 = 1e-12;

fn cases() -> Vec<(Case, Solved)> {
    let file = accuracy::read().unwrap();
    let solve = |case: Case| {
        let solved = case.solve().unwrap();
        (case, solved)
    };
    file.cases.into_iter().map(solve).collect()
}

#[test]
fn val_flows_and_fan_pressures_to_twelve_digits() {
    for (case, solved) in cases() {
        for off in &solved.off {
            // The suction at the end of a section is what the fan's pressure and the losses on the
            // way leave of each other: it is as good as they are, and they are as large as the fan's
            // pressure.
            let share = match off.of {
                Of::Section => {
                    let suction: f64 = case.answer.suction[&off.name].parse().unwrap();
                    let curve: f64 = case.answer.curve.parse().unwrap();
                    off.share * suction / curve
                }
                _ => off.share,
            };
            let (id, name) = (&case.id, &off.name);
            assert!(share <= FLOOR, "{id}: {name} is off by {share:e}");
        }
    }
}

/// And all that an answer tells besides, against the model alone.
#[test]
fn prop_every_answer_is_sound() {
    for (case, solved) in cases() {
        audited::assert_sound(&case.study.system, &solved.point);
    }
}

/// What the answer tells of its own last step bounds the error of every flow, but for rounding.
#[test]
fn val_no_flow_is_further_off_than_told() {
    for (case, solved) in cases() {
        let told = solved.point.quality.step.value;
        for off in solved.off.iter().filter(|off| !off.of.is_pressure()) {
            let (id, name, share) = (&case.id, &off.name, off.share);
            assert!(
                share <= 1.001 * told + 5e-15,
                "{id}: {name} is off by {share:e}, told {told:e}"
            );
        }
    }
}

#[test]
fn val_no_air_but_where_the_answer_has_it() {
    for (case, solved) in cases() {
        let fan = case.study.system.collector.fan.as_ref().unwrap();
        let total: f64 = case.answer.total.parse().unwrap();
        let status = match total > fan.largest_flow().as_m3_s() {
            true => Status::BeyondCurve,
            false => Status::Converged,
        };
        assert_eq!(solved.point.status, status, "{}", case.id);
        let Answer {
            hoods,
            walls,
            suction,
            ..
        } = &case.answer;
        for hood in &solved.point.hoods {
            let name = hood.name.as_str();
            assert_eq!(
                hood.flow.as_m3_s() > 0.0,
                hoods.contains_key(name),
                "{}: {name}",
                case.id
            );
        }
        for section in &solved.point.sections {
            let id = section.id.as_str();
            assert_eq!(
                section.flow.as_m3_s() > 0.0,
                suction.contains_key(id),
                "{}: {id}",
                case.id
            );
            assert_eq!(
                section.leak.as_m3_s() > 0.0,
                walls.contains_key(id),
                "{}: {id}",
                case.id
            );
        }
    }
}

#[test]
fn val_the_cases_are_what_they_are_meant_to_be() {
    let file = accuracy::read().unwrap();
    let left: f64 = file.worst_residual_over_pressure_at_rest.parse().unwrap();
    assert!(left < 1e-45, "{left:e}");
    let cases = cases();
    let random = cases.iter().filter(|(case, _)| case.id.starts_with('r'));
    assert_eq!((random.count(), cases.len()), (210, 216));
    let hoods = || cases.iter().map(|(_, solved)| solved.point.hoods.len());
    assert_eq!((hoods().min(), hoods().max()), (Some(2), Some(40)));
    let mut models: BTreeMap<String, usize> = BTreeMap::new();
    let mut flows: BTreeMap<Of, usize> = BTreeMap::new();
    for (_, solved) in &cases {
        for model in solved
            .point
            .sections
            .iter()
            .filter_map(|section| section.junction)
        {
            *models.entry(format!("{model:?}")).or_default() += 1;
        }
        for off in &solved.off {
            *flows.entry(off.of).or_default() += 1;
        }
    }
    for model in [
        Junction::Momentum,
        Junction::Gardel,
        Junction::Crane,
        Junction::FixedK,
    ] {
        assert!(models[&format!("{model:?}")] > 200, "{models:?}");
    }
    assert!(flows[&Of::OpenHood] > 1000, "{flows:?}");
    assert!(
        flows[&Of::ShutHood] > 200 && flows[&Of::Leak] > 1000,
        "{flows:?}"
    );
    let beyond = cases
        .iter()
        .filter(|(_, s)| s.point.status == Status::BeyondCurve);
    assert!(beyond.count() > 15);
    assert!(cases.iter().filter(|(case, _)| case.dips).count() > 8);
}

/// The three-hood network was solved in 40 digits before, by another program: its rows are doubles.
#[test]
fn val_the_exact_answers_agree_with_earlier_ones() {
    let all: Value = serde_json::from_str(include_str!("../data/network_3hood.json")).unwrap();
    let mut compared = 0;
    for case in accuracy::read().unwrap().cases {
        let Some(name) = case.id.strip_prefix("three hoods, ") else {
            continue;
        };
        let id = format!("network.3hood.{}", name.replace(", ", "."));
        let rows = all["rows"].as_array().unwrap();
        let row = rows.iter().find(|row| row["id"] == id.as_str()).unwrap();
        let row = &row["expected"];
        let Answer {
            total,
            curve,
            hoods,
            holes,
            ..
        } = &case.answer;
        let third = hoods.get("h3").or(holes.get("leaf3"));
        for (exact, key) in [
            (Some(&hoods["h1"]), "Q1"),
            (Some(&hoods["h2"]), "Q2"),
            (third, "Q3"),
            (Some(total), "Q_total"),
            (Some(curve), "fan_pressure"),
        ] {
            let earlier = row[key].as_f64();
            assert_eq!(exact.is_some(), earlier.is_some(), "{id} {key}");
            if let (Some(exact), Some(earlier)) = (exact, earlier) {
                let exact: f64 = exact.parse().unwrap();
                assert!((exact / earlier - 1.0).abs() < 1e-15, "{id} {key}");
                compared += 1;
            }
        }
    }
    assert_eq!(compared, 4 * 5 + 2 * 4);
}
