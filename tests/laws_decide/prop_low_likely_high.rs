//! A balance in three cases: their order, the assumptions that are named, and what is called adequate.

#![allow(
    clippy::unwrap_used,
    clippy::panic,
    reason = "a test that cannot go on must stop"
)]
#![cfg(feature = "serde")]

use crate::common::random::Recipe;
use airsplit::{
    Adequacy, CheckOptions, FanCurve, Grade, LowLikelyHigh, Name, Network, Parameter, Place,
    Pressure, Status, Study, VolumeFlow, low_likely_high,
};

const LITTLE_KNOWN: &str = include_str!("../data/documents/little_known.toml");
const CHAIR_SHOP: &str = include_str!("../../examples/chair_shop.toml");

fn cases(text: &str, open: &[&str]) -> LowLikelyHigh {
    let study: Study = toml::from_str(text).unwrap();
    let open: Vec<Name> = open.iter().map(|&name| name.into()).collect();
    low_likely_high(&study.system, &study.assumptions, &open, &study.plans.check).unwrap()
}

fn is_named(cases: &LowLikelyHigh, place: &Place, parameter: Parameter) -> bool {
    let planer = cases.machine("planer").unwrap();
    let mut named = planer.flow.assumptions.iter();
    named.any(|at| at.assumption.place == *place && at.assumption.parameter == parameter)
}

#[test]
fn prop_low_likely_and_high_are_in_order_and_rounding_keeps_it() {
    for seed in 0..40 {
        let recipe = Recipe::of(seed);
        let system = recipe.system();
        let open = recipe.open(&system);
        let found = low_likely_high(&system, &[], &open, &CheckOptions::new()).unwrap();
        let values = found.machines.iter().map(|at| &at.flow);
        let values = values.chain(found.hoods.iter().map(|at| &at.flow));
        for value in values.chain([&found.flow, &found.fan_pressure]) {
            assert!(
                value.low <= value.likely && value.likely <= value.high,
                "{value}"
            );
            let [low, likely, high] = value.rounded(3600.0);
            assert!(low <= likely && likely <= high, "{value}");
            // Nothing was assumed, so nothing is named.
            assert!(value.assumptions.is_empty());
            assert_eq!(value.grade, Grade::Calculated);
        }
    }
}

#[test]
fn prop_three_assumptions_at_most_the_largest_first_each_with_its_reading() {
    let found = cases(LITTLE_KNOWN, &["planer", "saw cabinet"]);
    let planer = found.machine("planer").unwrap();
    assert_eq!(planer.flow.assumptions.len(), 3);
    let values = [&found.flow, &found.fan_pressure, &planer.flow];
    for value in values {
        let shares: Vec<f64> = value.assumptions.iter().map(|at| at.share).collect();
        assert!(
            shares.len() <= 3 && shares.is_sorted_by(|a, b| a >= b),
            "{shares:?}"
        );
        assert!(shares.iter().all(|&share| 0.0 < share && share <= 1.0));
        for one in &value.assumptions {
            assert!(!one.assumption.replaced_by().is_empty());
        }
    }
    let all = found.assumptions();
    assert!(all.len() == 3 && all.is_sorted_by(|a, b| a.share >= b.share));
    assert_eq!(found.grade(), Grade::RoughGuess);
}

/// Of each assumption its largest share of any open value; the three largest of those.
#[test]
fn prop_the_assumptions_of_all_are_the_largest_of_each() {
    for open in [
        &["planer"][..],
        &["saw cabinet"],
        &["planer", "saw cabinet"],
    ] {
        let found = cases(LITTLE_KNOWN, open);
        let machines = found
            .machines
            .iter()
            .filter(|at| at.open)
            .map(|at| &at.flow);
        let hoods = found.hoods.iter().filter(|at| at.open).map(|at| &at.flow);
        let mut largest: Vec<(Place, Parameter, f64)> = Vec::new();
        for one in machines
            .chain(hoods)
            .chain([&found.flow])
            .flat_map(|at| &at.assumptions)
        {
            let (place, parameter) = (one.assumption.place.clone(), one.assumption.parameter);
            match largest
                .iter_mut()
                .find(|at| at.0 == place && at.1 == parameter)
            {
                Some(known) => known.2 = known.2.max(one.share),
                None => largest.push((place, parameter, one.share)),
            }
        }
        largest.sort_by(|a, b| b.2.total_cmp(&a.2));
        largest.truncate(3);
        let all = found.assumptions();
        let all = all.iter().map(|at| {
            (
                at.assumption.place.clone(),
                at.assumption.parameter,
                at.share,
            )
        });
        assert_eq!(all.collect::<Vec<_>>(), largest);
    }
}

/// A need that was assumed says so, with the most that it may be; one that is not the assumed one does not.
#[test]
fn prop_an_assumed_need_is_told_as_one() {
    let study: Study = toml::from_str(LITTLE_KNOWN).unwrap();
    let required = |at: &&airsplit::Assumption| at.parameter == Parameter::Required;
    let assumed = study.assumptions.iter().find(required).unwrap();
    assert_eq!(assumed.place, Place::Machine("planer".into()));
    let found = cases(LITTLE_KNOWN, &["planer"]);
    let need = found.machine("planer").unwrap().need.clone().unwrap();
    assert!(need.assumed && need.flow.as_m3_s() == assumed.value);
    assert!(need.most.as_m3_s() == assumed.high && need.most > need.flow);
    let own = VolumeFlow::from_m3_s(1.1 * assumed.value);
    let mut system = study.system.clone();
    system.machines[0].required = own;
    let found = low_likely_high(
        &system,
        &study.assumptions,
        &["planer".into()],
        &CheckOptions::new(),
    );
    let need = found
        .unwrap()
        .machine("planer")
        .unwrap()
        .need
        .clone()
        .unwrap();
    assert!(!need.assumed && need.flow == own && need.most == own);
}

#[test]
fn prop_what_is_measured_is_assumed_no_more() {
    let hose = Place::Part {
        section: "planer drop".into(),
        part: 0,
    };
    // A document that knows its fan, so that the hose matters.
    let known_fan = LITTLE_KNOWN
        .replace("largest_flow = \"1200 cfm\"", "basis = \"static\"")
        .replace(
            "largest_pressure = \"10 in wg\"",
            "points = [[\"0 cfm\", \"10 in wg\"], [\"600 cfm\", \"8 in wg\"], [\"1200 cfm\", \"0.5 in wg\"]]",
        )
        .replace("length = \"1.5 m\"", "length = \"4 m\"");
    let before = cases(&known_fan, &["planer"]);
    assert!(is_named(&before, &hose, Parameter::HoseFactor));
    let measured = known_fan.replace(
        "length = \"4 m\"",
        "length = \"4 m\", kind = { ribbed = { times_smooth = 3.0 } }",
    );
    let after = cases(&measured, &["planer"]);
    assert!(!is_named(&after, &hose, Parameter::HoseFactor));
    let planer = |at: &LowLikelyHigh| at.machine("planer").unwrap().flow.likely;
    assert!((planer(&after) / planer(&before) - 1.0).abs() < 1e-12);
}

#[test]
fn prop_a_fan_of_two_numbers_is_judged_by_its_low_case() {
    let study: Study = toml::from_str(LITTLE_KNOWN).unwrap();
    let open = [Name::from("planer")];
    let mut low = study.system.clone();
    low.collector.fan = low.collector.fan.and_then(|fan| fan.low_case());
    let network = Network::new(&low).unwrap();
    let point = network
        .operating_point(&network.open(&open).unwrap())
        .unwrap();
    let found = cases(LITTLE_KNOWN, &["planer"]);
    let planer = found.machine("planer").unwrap();
    assert!(planer.flow.low <= point.machine("planer").unwrap().flow.as_m3_s());
    // An estimate counts as an assumption though nobody lists it.
    let bare = low_likely_high(&study.system, &[], &open, &CheckOptions::new()).unwrap();
    let named = &bare.machine("planer").unwrap().flow.assumptions;
    assert!(named.iter().any(|at| at.assumption.place == Place::Fan));
}

#[test]
fn prop_nothing_is_adequate_unless_its_low_case_is() {
    let found = cases(CHAIR_SHOP, &["planer"]);
    let flow = found.machine("planer").unwrap().flow.clone();
    let need = |m3_s: f64| {
        let text = CHAIR_SHOP.replace("1110 m3/h", &format!("{m3_s} m3/s"));
        cases(&text, &["planer"])
            .machine("planer")
            .unwrap()
            .adequacy
            .unwrap()
    };
    assert_eq!(need(flow.low * 0.999), Adequacy::Adequate);
    assert_eq!(need(flow.low * 1.001), Adequacy::NotSurely);
    assert_eq!(need(flow.likely * 1.001), Adequacy::ProbablyShort);
    assert_eq!(need(flow.high * 1.001), Adequacy::Short);
    // Shut machines are not judged.
    assert!(found.machine("lathe").unwrap().adequacy.is_none());
}

#[test]
fn prop_nothing_beyond_the_curve_of_the_fan_is_surely_enough() {
    let mut study: Study = toml::from_str(CHAIR_SHOP).unwrap();
    let points = [(0.0, 3050.0), (300.0, 3040.0), (600.0, 3000.0)];
    let points = points.map(|(q, p)| (VolumeFlow::from_m3_h(q), Pressure::from_pa(p)));
    let fan = study.system.collector.fan.unwrap();
    let short = FanCurve::new(points, fan.basis(), fan.fitted(), fan.density()).unwrap();
    study.system.collector.fan = Some(short.with_outlet(fan.outlet().unwrap()).unwrap());
    for machine in &mut study.system.machines {
        machine.required = VolumeFlow::from_m3_h(1.0);
    }
    let open = [Name::from("planer")];
    let found = low_likely_high(&study.system, &[], &open, &CheckOptions::new()).unwrap();
    assert_eq!(found.status, Status::BeyondCurve);
    let planer = found.machine("planer").unwrap();
    assert_eq!(planer.adequacy, Some(Adequacy::NotSurely));
}

#[test]
fn prop_a_starved_hood_shows_behind_the_sum_of_its_machine() {
    let text = CHAIR_SHOP.replace("required = \"250 m3/h\"", "required = \"700 m3/h\"");
    let found = cases(&text, &["table saw"]);
    let saw = found.machine("table saw").unwrap();
    assert_eq!(saw.starved, Some("saw guard".into()));
    assert_eq!(saw.adequacy, Some(Adequacy::Short));
    let fed = cases(CHAIR_SHOP, &["table saw"]);
    assert!(fed.machine("table saw").unwrap().adequacy > saw.adequacy);
}
