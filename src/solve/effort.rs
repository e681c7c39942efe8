//! What small systems cost to solve, step by step: a change here is a change of the start or of the
//! steps, which no answer shows, to be made on purpose.

use super::{
    OpenSet, Workspace,
    by_hand::{FALLING, RISING, ready},
    crossing::{Go, Meeting, Search, Through},
    newton::{self, Drive},
    plan::Plan,
    start,
};

/// The steps of a solve from a start, as long as they are more than rounding; `b` where one was bent;
/// and whether the last pass only verifies, so that the step before still stands beside the flows.
fn steps(plan: &Plan, open: &OpenSet, drive: Drive<'_>) -> String {
    let mut work = Workspace::default();
    assert!(work.prepare(plan, open));
    start::start(&mut work.tree, &drive);
    let outcome = newton::solve(plan, &mut work, drive);
    assert!(outcome.converged, "{outcome:?}");
    assert_eq!(outcome.worst.step, work.trace.last().unwrap().step);
    let steps = work.trace.iter().filter(|pass| pass.step > 1e-9);
    let told: Vec<String> = steps
        .map(|pass| format!("{:.1e}{}", pass.step, if pass.bent { "b" } else { "" }))
        .collect();
    let verifies = work.tree.worst().step.value > 1e-12;
    let last = if verifies { ", the last verifies" } else { "" };
    format!("{} in {}{last}", told.join(" "), work.trace.len())
}

#[test]
fn regress_the_steps_from_a_start() {
    let mut told = String::new();
    for (name, points, after) in [
        ("falling", FALLING, None),
        ("ends early", &FALLING[..3], None),
        (
            "ends at once",
            &[(0.0, 3000.0), (0.02, 2990.0), (0.04, 2970.0)],
            None,
        ),
        (
            "begins late",
            &[(0.3, 2000.0), (0.4, 1500.0), (0.5, 500.0)],
            None,
        ),
        ("wide stack", FALLING, Some(250.0)),
        ("wide stack, ends early", &FALLING[..3], Some(250.0)),
    ] {
        let (network, open) = ready(points, after);
        let plan = network.plan();
        let fan = plan.fan.as_ref().unwrap();
        told += &format!("{name}: {}\n", steps(plan, &open, Drive::Fan(fan)));
    }
    let (network, open) = ready(FALLING, None);
    let plan = network.plan();
    told += &format!("flow: {}\n", steps(plan, &open, Drive::Flow(0.25)));
    for regain in [0.0, 2000.0] {
        let drive = Drive::Pressure {
            pressure: 1500.0,
            regain,
        };
        told += &format!(
            "pressure, {regain} regained: {}\n",
            steps(plan, &open, drive)
        );
    }
    insta::assert_snapshot!(told, @r"
    falling: 4.5e-2 6.1e-4 9.9e-8 in 4, the last verifies
    ends early: 4.6e-2 6.1e-4 1.0e-7 in 4
    ends at once: 7.3e-2 1.3e-3 4.2e-7 in 5
    begins late: 4.2e-2 5.6e-4 9.1e-8 in 4, the last verifies
    wide stack: 2.8e-2 2.2e-4 1.3e-8 in 4, the last verifies
    wide stack, ends early: 1.1e-2 3.0e-5 in 4, the last verifies
    flow: 1.9e-1 1.4e-2 5.1e-5 in 5
    pressure, 0 regained: 1.7e-2 7.2e-5 1.4e-9 in 4
    pressure, 2000 regained: 5.8e-1b 6.0e-4 1.0e-7 in 4
    ");
}

/// As [`RISING`], with another pressure in the dip.
fn dip(pressure: f64) -> Vec<(f64, f64)> {
    let mut points = RISING.to_vec();
    points[1].1 = pressure;
    points
}

#[test]
fn regress_balances_of_a_search() {
    let mut told = String::new();
    for (name, points, after) in [
        ("dip", RISING, None),
        ("dip, wide stack", RISING, Some(250.0)),
        ("deep dip", &dip(20.0), None),
        ("shallow crossing", &dip(45.0), None),
        ("dip above the tree, wide stack", &dip(25.0), Some(250.0)),
        ("falling, wide stack", FALLING, Some(250.0)),
        ("ends before it is met", &RISING[..3], None),
    ] {
        let (network, open) = ready(points, after);
        let plan = network.plan();
        let fan = plan.fan.as_ref().unwrap();
        assert!(fan.rises);
        let mut work = Workspace::default();
        for enough in [Go::On, Go::Enough] {
            assert!(work.prepare(plan, &open));
            let mut search = Search::new(plan, &mut work, fan);
            let mut met = Vec::new();
            let searched = search.run(&mut |meeting: Meeting| {
                met.push(format!("{:.4} {:?}", meeting.q, meeting.through));
                enough
            });
            searched.unwrap();
            told += &format!("{name}: {met:?} after {}\n", search.balances());
        }
    }
    insta::assert_snapshot!(told, @r#"
    dip: ["0.4394 Stable"] after 8
    dip: ["0.4394 Stable"] after 8
    dip, wide stack: ["0.4809 Stable"] after 8
    dip, wide stack: ["0.4809 Stable"] after 8
    deep dip: ["0.0902 Stable", "0.1082 Unstable", "0.4394 Stable"] after 22
    deep dip: ["0.0902 Stable"] after 7
    shallow crossing: ["0.0978 Stable", "0.1034 Unstable", "0.4394 Stable"] after 22
    shallow crossing: ["0.0978 Stable"] after 5
    dip above the tree, wide stack: ["0.4809 Stable"] after 14
    dip above the tree, wide stack: ["0.4809 Stable"] after 14
    falling, wide stack: ["0.5037 Stable"] after 6
    falling, wide stack: ["0.5037 Stable"] after 6
    ends before it is met: ["3.3122 Stable"] after 14
    ends before it is met: ["3.3122 Stable"] after 14
    "#);
}

/// What a search meets with such a pressure in the dip, and what it costs.
fn met(pressure: f64) -> (Vec<Meeting>, u32) {
    let (network, open) = ready(&dip(pressure), None);
    let plan = network.plan();
    let mut work = Workspace::default();
    assert!(work.prepare(plan, &open));
    let mut met = Vec::new();
    let mut search = Search::new(plan, &mut work, plan.fan.as_ref().unwrap());
    let searched = search.run(&mut |meeting| {
        met.push(meeting);
        Go::On
    });
    searched.unwrap();
    (met, search.balances())
}

/// Between a dip that is met twice and one that is not met lies one that touches: told once, and
/// between the two.
#[test]
fn a_touch_is_met_once() {
    let (mut twice, mut never) = (20.0, 500.0);
    assert_eq!((met(twice).0.len(), met(never).0.len()), (3, 1));
    let mut touch = None;
    for _ in 0..60 {
        let between = 0.5 * (twice + never);
        let (met, balances) = met(between);
        match met[..] {
            [
                Meeting {
                    through: Through::Touch,
                    q,
                },
                _,
            ] => {
                touch = Some((met.len(), q, balances));
                break;
            }
            [_] => never = between,
            [_, _, _] => twice = between,
            _ => panic!("{met:?}"),
        }
    }
    let (meetings, q, balances) = touch.expect("a touch");
    assert_eq!(meetings, 2);
    // Where the dip is, whose lowest point lies a little beyond 0.1 m3/s.
    assert!((0.1..0.11).contains(&q), "{q}");
    assert!(balances < 200, "{balances}");
}
