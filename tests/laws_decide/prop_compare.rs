//! Systems compared and ranked.

#![cfg(feature = "serde")]
#![allow(clippy::unwrap_used, reason = "a test that cannot go on must stop")]

use airsplit::{
    Case, CompareError, Density, FanCurve, FanDrive, Motor, Name, Network, Objective, Power,
    PowerCurve, SolveError, Study, System, VolumeFlow, compare,
};

fn shop() -> System {
    let study: Study = toml::from_str(include_str!("../../examples/chair_shop.toml")).unwrap();
    study.system
}

fn with_fan(name: &str, change: impl FnOnce(&FanCurve) -> Option<FanCurve>) -> Case {
    let system = shop();
    let mut collector = system.collector.clone();
    collector.fan = change(collector.fan.as_ref().unwrap());
    Case::with_collector(name, &system, collector)
}

fn faster(name: &str, ratio: f64) -> Case {
    with_fan(name, |fan| Some(fan.at_speed_ratio(ratio).unwrap()))
}

fn sets() -> Vec<Vec<Name>> {
    let set = |names: &[&str]| names.iter().map(|&name| Name::from(name)).collect();
    vec![set(&["planer", "table saw"]), set(&["lathe", "bandsaw"])]
}

fn order(comparison: &airsplit::Comparison) -> Vec<&str> {
    let name = |&i: &usize| comparison.cases[i].name.as_str();
    comparison.ranking.iter().map(name).collect()
}

#[test]
fn prop_a_faster_fan_ranks_first_by_flow_and_last_by_power() {
    let cases = [
        faster("slow", 0.9),
        faster("fast", 1.2),
        faster("as it is", 1.0),
    ];
    for (objective, expected) in [
        (Objective::TotalFlow, ["fast", "as it is", "slow"]),
        (
            Objective::Machine("lathe".into()),
            ["fast", "as it is", "slow"],
        ),
        (Objective::WorstShare, ["fast", "as it is", "slow"]),
        (Objective::AirPower, ["slow", "as it is", "fast"]),
    ] {
        let comparison = compare(&cases, &sets(), &objective).unwrap();
        assert_eq!(order(&comparison), expected, "{objective:?}");
        assert_eq!(comparison, compare(&cases, &sets(), &objective).unwrap());
    }
}

/// Scores by hand: the most power that the air asks for, the least that a machine gets.
#[test]
fn prop_scores_are_those_of_the_points() {
    let cases = [faster("slow", 0.9), faster("fast", 1.2)];
    let power = compare(&cases, &sets(), &Objective::AirPower).unwrap();
    let lathe = compare(&cases, &sets(), &Objective::Machine("lathe".into())).unwrap();
    for (power, lathe) in power.cases.iter().zip(&lathe.cases) {
        let points = power
            .answers
            .iter()
            .map(|answer| answer.point.as_ref().unwrap());
        let watts = points.map(|at| at.fan.total_pressure.unwrap().as_pa() * at.flow.as_m3_s());
        assert_eq!(power.score, watts.reduce(f64::max));
        // The lathe is open in the second set only.
        let point = lathe.answers[1].point.as_ref().unwrap();
        assert_eq!(
            lathe.score,
            Some(point.machine("lathe").unwrap().flow.as_m3_s())
        );
    }
}

/// The figures are those of the answers, and the answers those of the solver.
#[test]
fn prop_the_score_is_told_by_the_answers() {
    let comparison = compare(&[faster("it", 1.0)], &sets(), &Objective::TotalFlow).unwrap();
    let case = &comparison.cases[0];
    let network = Network::new(&shop()).unwrap();
    let mut least = f64::INFINITY;
    for (set, answer) in sets().iter().zip(&case.answers) {
        let point = network
            .operating_point(&network.open(set).unwrap())
            .unwrap();
        assert_eq!(answer.point.as_ref().unwrap(), &point);
        least = least.min(point.flow.as_m3_s());
        assert!(answer.power.is_none());
    }
    assert_eq!(case.score, Some(least));
}

#[test]
fn prop_flow_above_the_need_earns_nothing() {
    // One small machine has more than enough either way: equals keep their order.
    let sets = [vec![Name::from("mortiser")]];
    let cases = [faster("first", 1.0), faster("second", 1.3)];
    let comparison = compare(&cases, &sets, &Objective::WorstShare).unwrap();
    assert_eq!(order(&comparison), ["first", "second"]);
    assert_eq!(comparison.cases[1].score, Some(1.0));
}

#[test]
fn prop_no_answer_ranks_last_and_a_hint_before_it() {
    // Cut at 1000 m3/h the curve ends before the crossing.
    let short = with_fan("short curve", |fan| {
        let points = fan.points().filter(|point| point.flow.as_m3_h() < 1000.0);
        let points: Vec<_> = points.map(|point| (point.flow, point.pressure)).collect();
        let cut = FanCurve::new(points, fan.basis(), fan.fitted(), fan.density()).unwrap();
        Some(cut.with_outlet(fan.outlet().unwrap()).unwrap())
    });
    let none = with_fan("no fan", |_| None);
    let cases = [none, short, faster("slow but sure", 0.7)];
    let comparison = compare(&cases, &sets(), &Objective::TotalFlow).unwrap();
    assert_eq!(
        order(&comparison),
        ["slow but sure", "short curve", "no fan"]
    );
    assert!(comparison.cases[1].beyond_curve());
    let answer = &comparison.cases[0].answers[0];
    assert_eq!(answer.point, Err(SolveError::NoFan));
    assert_eq!(comparison.cases[0].score, None);
}

#[test]
fn prop_power_is_that_of_the_air_of_the_shop() {
    let points = [(0.0, 1.0), (1500.0, 1.7), (3200.0, 2.4)];
    let points = points.map(|(q, kw)| (VolumeFlow::from_m3_h(q), Power::from_kw(kw)));
    let motor = Motor {
        rated: Power::from_kw(2.2),
        drive_efficiency: 1.0,
        motor_efficiency: 0.8,
    };
    let drive = FanDrive {
        power: PowerCurve::new(points, Density::from_kg_m3(1.2)).unwrap(),
        motor,
    };
    let case = faster("driven", 1.0).with_drive(drive.clone());
    let comparison = compare(&[case], &sets(), &Objective::TotalFlow).unwrap();
    let answer = &comparison.cases[0].answers[0];
    let point = answer.point.as_ref().unwrap();
    let power = answer.power.as_ref().unwrap().as_ref().unwrap();
    let air = point.flow.as_m3_s() * point.fan.total_pressure.unwrap().as_pa();
    assert!((power.air_power.as_w() / air - 1.0).abs() < 1e-12);
    // Shaft power follows density (fan laws).
    let density = shop().air.properties().unwrap().density;
    let shaft = drive.power.at(point.flow).as_w() * density.as_kg_m3() / 1.2;
    assert!((power.shaft_power.as_w() / shaft - 1.0).abs() < 1e-12);
    assert!((power.load * 2200.0 / shaft - 1.0).abs() < 1e-12);
}

#[test]
fn what_is_not_there_is_told() {
    let refuse = |cases: &[Case], sets: &[Vec<Name>], objective: &Objective| {
        compare(cases, sets, objective).unwrap_err()
    };
    let it = || [faster("it", 1.0)];
    assert_eq!(
        refuse(&[], &sets(), &Objective::TotalFlow),
        CompareError::Nothing
    );
    assert_eq!(
        refuse(&it(), &[], &Objective::TotalFlow),
        CompareError::Nothing
    );
    let unknown = refuse(&it(), &[vec!["plainer".into()]], &Objective::TotalFlow);
    assert!(unknown.to_string().starts_with(
        "case \"it\": no hood or machine is called \"plainer\"; known, nearest first: \"planer\""
    ));
    let unknown = refuse(&it(), &sets(), &Objective::Machine("lath".into()));
    assert!(
        unknown
            .to_string()
            .contains("no machine is called \"lath\""),
        "{unknown}"
    );
    let mut broken = faster("broken", 1.0);
    broken.system.sections[0].into = Some("nowhere".into());
    let broken = refuse(&[broken], &sets(), &Objective::TotalFlow);
    assert!(matches!(broken, CompareError::Model { .. }), "{broken}");
}
