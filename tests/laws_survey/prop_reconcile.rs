//! Readings of flow reconciled: laws, simulated errors, hostile input.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on must stop")]

use crate::common::bare_tree::tree;
use airsplit::{
    Area, FlowAt, FlowReadings, Gate, Imbalance, LeakVerdict, Name, Part, Reconciled, ShutHoods,
    System, VolumeFlow,
};
use proptest::prelude::*;

fn read(section: &str, flow: f64, standard: f64) -> FlowAt {
    let m3_s = VolumeFlow::from_m3_s;
    FlowAt::new(section, m3_s(flow), m3_s(standard))
}

/// Section i drains into `into[i - 1]` modulo i; section 0 into the collector.
fn random_tree(into: &[usize]) -> (System, Vec<String>, Vec<Option<usize>>) {
    let names: Vec<String> = (0..=into.len()).map(|i| format!("s{i}")).collect();
    let outlets: Vec<Option<usize>> = (0..=into.len())
        .map(|i| i.checked_sub(1).map(|before| into[before] % i))
        .collect();
    let sections: Vec<(&str, Option<&str>)> = names
        .iter()
        .zip(&outlets)
        .map(|(name, into)| (&**name, into.map(|into| &*names[into])))
        .collect();
    (tree(&sections), names, outlets)
}

fn hoods(outlets: &[Option<usize>]) -> Vec<usize> {
    let ends = 0..outlets.len();
    ends.filter(|i| !outlets.contains(&Some(*i))).collect()
}

fn all_open(outlets: &[Option<usize>]) -> Vec<Name> {
    let hoods = hoods(outlets).into_iter();
    hoods.map(|i| format!("hood s{i}").into()).collect()
}

/// Flow through each section when this enters at the hoods, one after another.
fn flows(outlets: &[Option<usize>], entering: &[f64]) -> Vec<f64> {
    let mut flow = vec![0.0; outlets.len()];
    for (hood, q) in hoods(outlets).into_iter().zip(entering.iter().cycle()) {
        flow[hood] = *q;
    }
    for i in (1..outlets.len()).rev() {
        flow[outlets[i].unwrap()] += flow[i];
    }
    flow
}

#[derive(Debug, Clone)]
struct Case {
    into: Vec<usize>,
    /// Section, flow, standard uncertainty, instrument of each reading.
    read: Vec<(usize, f64, f64, usize)>,
    shared: f64,
}

fn case() -> impl Strategy<Value = Case> {
    let reading = (0..100_usize, 0.0..2.0, 0.001..0.1, 0..3_usize);
    let readings = proptest::collection::vec(reading, 1..25);
    let into = proptest::collection::vec(0..100_usize, 1..20);
    (into, readings, 0.0..0.1).prop_map(|(into, read, shared)| Case { into, read, shared })
}

impl Case {
    fn readings(&self, names: &[String], open: Vec<Name>) -> FlowReadings {
        let all = self.read.iter().map(|(at, flow, standard, by)| {
            let reading = read(&names[at % names.len()], *flow, *standard);
            match by {
                0 => reading,
                by => reading.by(format!("instrument {by}")),
            }
        });
        FlowReadings::new(all, open)
            .with_shared("instrument 1", self.shared)
            .with_shared("instrument 2", 0.0)
    }
}

proptest! {
    #[test]
    fn prop_flows_balance_at_every_wye(case in case()) {
        let (system, names, outlets) = random_tree(&case.into);
        let result = case.readings(&names, all_open(&outlets)).reconcile(&system).unwrap();
        prop_assert_eq!(result.sections.len() + result.undetermined.len(), names.len());
        let flow = |i: usize| result.section(&names[i]).ok().map(|at| at.flow.as_m3_s());
        for i in 0..names.len() {
            let inlets: Vec<_> = (0..names.len()).filter(|j| outlets[*j] == Some(i)).collect();
            let entering: Option<Vec<f64>> = inlets.iter().map(|j| flow(*j)).collect();
            if let (Some(entering), false) = (entering, inlets.is_empty()) {
                // What is determined upstream is so downstream.
                let leaving = flow(i).unwrap();
                prop_assert!((leaving - entering.iter().sum::<f64>()).abs() < 1e-12);
            }
        }
        // Every reading stands in a section whose flow is determined, and is adjusted to it.
        for check in &result.readings {
            let section = result.section(check.section.as_str()).unwrap();
            prop_assert!((section.flow - check.adjusted.flow).as_m3_s().abs() < 1e-12);
        }
        // All but the first of each group check: no balance, no group.
        let grouped = result.groups.iter().map(Vec::len).sum::<usize>();
        prop_assert!(grouped >= result.global.degrees_of_freedom);
        prop_assert_eq!(grouped == 0, result.imbalance == Imbalance::Unchecked);
    }

    #[test]
    fn prop_twice_the_flow_is_twice_the_answer(case in case()) {
        let (system, names, outlets) = random_tree(&case.into);
        let open = all_open(&outlets);
        let one = case.readings(&names, open.clone()).reconcile(&system).unwrap();
        let mut twice = case.clone();
        for (_, flow, standard, _) in &mut twice.read {
            *flow *= 2.0;
            *standard *= 2.0;
        }
        let two = twice.readings(&names, open).reconcile(&system).unwrap();
        for (one, two) in one.sections.iter().zip(&two.sections) {
            prop_assert_eq!(one.flow * 2.0, two.flow);
            prop_assert_eq!(one.standard * 2.0, two.standard);
        }
        prop_assert_eq!(one.global, two.global);
        prop_assert_eq!(one.suspects, two.suspects);
    }

    #[test]
    fn prop_order_does_not_matter(case in case(), shift in 0..25_usize) {
        let (system, names, outlets) = random_tree(&case.into);
        let open = all_open(&outlets);
        let one = case.readings(&names, open.clone()).reconcile(&system).unwrap();
        let n = case.read.len();
        let mut moved = case.clone();
        moved.read.rotate_left(shift % n);
        let two = moved.readings(&names, open).reconcile(&system).unwrap();
        let near = |a: f64, b: f64| (a - b).abs() <= 1e-9 * (1.0 + a.abs());
        for (one, two) in one.sections.iter().zip(&two.sections) {
            prop_assert_eq!(&one.section, &two.section);
            prop_assert!(near(one.flow.as_m3_s(), two.flow.as_m3_s()));
            prop_assert!(near(one.standard.as_m3_s(), two.standard.as_m3_s()));
        }
        prop_assert!(near(one.global.chi_square, two.global.chi_square));
        for (i, check) in one.readings.iter().enumerate() {
            let other = &two.readings[(i + n - shift % n) % n];
            prop_assert_eq!(check.normalised.is_some(), other.normalised.is_some());
            let off = |at: Option<f64>| at.unwrap_or(0.0);
            prop_assert!((off(check.normalised) - off(other.normalised)).abs() < 1e-6);
        }
    }

    #[test]
    fn prop_a_consistent_reading_raises_no_uncertainty(
        case in case(), at in 0..100_usize, standard in 0.001..0.1,
    ) {
        let (system, names, outlets) = random_tree(&case.into);
        let mut readings = case.readings(&names, all_open(&outlets));
        // Without shared errors: with them the fitted flows, on which they act, come first.
        readings.shared.iter_mut().for_each(|shared| shared.relative = 0.0);
        let before = readings.reconcile(&system).unwrap();
        let known = &before.sections[at % before.sections.len()];
        prop_assume!(known.flow.as_m3_s() >= 0.0);
        readings.readings.push(read(known.section.as_str(), known.flow.as_m3_s(), standard));
        let after = readings.reconcile(&system).unwrap();
        for at in &before.sections {
            let now = after.section(at.section.as_str()).unwrap();
            prop_assert!((now.flow - at.flow).as_m3_s().abs() < 1e-9);
            prop_assert!(now.standard.as_m3_s() <= at.standard.as_m3_s() * (1.0 + 1e-9));
        }
        prop_assert!((after.global.chi_square - before.global.chi_square).abs()
            < 1e-7 * (1.0 + before.global.chi_square));
    }

    /// The square of the normalised residual is what the chi-square loses without the reading (C. M.
    /// Crowe, The maximum-power test for gross errors in the original constraints in data
    /// reconciliation, Canadian J. of Chemical Engineering 70, 1992: the same for a constraint;
    /// abstract read).
    #[test]
    fn prop_a_normalised_residual_is_what_leaving_out_saves(case in case(), leave in 0..25_usize) {
        let (system, names, outlets) = random_tree(&case.into);
        let mut readings = case.readings(&names, all_open(&outlets));
        readings.shared.iter_mut().for_each(|shared| shared.relative = 0.0);
        prop_assume!(readings.readings.len() > 1);
        let all = readings.reconcile(&system).unwrap();
        let leave = leave % readings.readings.len();
        let check = &all.readings[leave];
        prop_assume!(check.normalised.is_some());
        let left_out = readings.readings.remove(leave);
        let rest = readings.reconcile(&system).unwrap();
        let saved = all.global.chi_square - rest.global.chi_square;
        prop_assert!((check.normalised.unwrap().powi(2) - saved).abs()
            < 1e-7 * (1.0 + all.global.chi_square));
        // And how far it is off is against what the rest says.
        let by_rest = rest.section(left_out.section.as_str()).unwrap();
        let off = (left_out.flow - by_rest.flow).as_m3_s();
        prop_assert!((check.off_by.unwrap().flow.as_m3_s() - off).abs() < 1e-9);
    }

    #[test]
    fn prop_any_input_is_answered(
        into in proptest::collection::vec(any::<usize>(), 1..8),
        read in proptest::collection::vec((0..9_usize, number(), number(), 0..3_usize), 0..8),
        shared in number(),
        open in 0..9_usize,
        leaky in any::<bool>(),
    ) {
        let (system, names, outlets) = random_tree(&into);
        let mut open_hoods = all_open(&outlets);
        open_hoods.truncate(open);
        let case = Case { into, read, shared };
        let shut = if leaky { ShutHoods::Leaky } else { ShutHoods::Tight };
        let readings = case.readings(&names, open_hoods).with_shut(shut);
        match readings.reconcile(&system) {
            Ok(result) => {
                for at in &result.sections {
                    prop_assert!(at.flow.is_finite() && at.standard.as_m3_s() >= 0.0);
                }
                prop_assert!((0.0..=1.0).contains(&result.global.chance));
                prop_assert!(result.leaks.iter().all(|at| at.standard.as_m3_s() > 0.0));
            }
            Err(error) => prop_assert!(!error.to_string().is_empty()),
        }
    }
}

/// Any number at all, or one of the size that shops have.
fn number() -> impl Strategy<Value = f64> {
    prop_oneof![
        any::<f64>(),
        0.0..2.0_f64,
        Just(0.0),
        Just(1e-9),
        Just(1000.0),
        Just(1e-3)
    ]
}

/// Normal deviates: splitmix64 (S. Vigna 2015) through the polar way (Box & Muller 1958).
struct Normal(u64);

impl Normal {
    fn unit(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        ((z ^ (z >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
    }

    fn next(&mut self) -> f64 {
        let radius = (-2.0 * (1.0 - self.unit()).ln()).sqrt();
        radius * (2.0 * std::f64::consts::PI * self.unit()).cos()
    }
}

/// A main with three wyes, most of it read, two instruments.
const SHOP: [usize; 9] = [0, 0, 1, 1, 3, 3, 4, 4, 2];
const READ: [usize; 9] = [0, 1, 2, 3, 3, 5, 6, 7, 8];

/// Readings of the shop with errors as large as they are said to be, and a leak just above section 1.
fn simulated(normal: &mut Normal, leak: f64) -> (System, Reconciled) {
    let (system, names, outlets) = random_tree(&SHOP);
    let mut flow = flows(&outlets, &[0.3, 0.2, 0.5, 0.15, 0.25]);
    flow[1] += leak;
    flow[0] += leak;
    let factors = [1.0 + 0.03 * normal.next(), 1.0 + 0.02 * normal.next()];
    let all = READ.iter().enumerate().map(|(j, &i)| {
        let own = 0.01 * normal.next();
        let by = j % 2;
        read(&names[i], flow[i] * factors[by] + own, 0.01).by(format!("vane {by}"))
    });
    let readings = FlowReadings::new(all, all_open(&outlets))
        .with_shared("vane 0", 0.03)
        .with_shared("vane 1", 0.02);
    let result = readings.reconcile(&system).unwrap();
    (system, result)
}

#[test]
fn prop_residuals_of_honest_readings_are_standard_normal() {
    let mut normal = Normal(7);
    const DRAWS: usize = 4000;
    let (mut sums, mut squares) = ([0.0; READ.len()], [0.0; READ.len()]);
    let (mut unbalanced, mut suspected, mut errors) = (0, 0, Vec::new());
    for _ in 0..DRAWS {
        let (_, result) = simulated(&mut normal, 0.0);
        for (j, check) in result.readings.iter().enumerate() {
            let z = check.normalised.unwrap();
            sums[j] += z;
            squares[j] += z * z;
        }
        unbalanced += usize::from(result.global.chance <= 0.05);
        suspected += usize::from(!result.suspects.is_empty());
        let main = result.section("s0").unwrap();
        errors.push((main.flow.as_m3_s() - 1.4) / main.standard.as_m3_s());
    }
    // The mean of 4000 has the standard error 0.016, their variance sqrt(2 / 4000) = 0.022; a share
    // of 5 % has 0.0034. Four of them, and 2 % for what is not quite straight in the shared errors.
    let n = DRAWS as f64;
    for (sum, square) in sums.iter().zip(&squares) {
        assert!(
            (sum / n).abs() < 0.064 && (square / n - 1.0).abs() < 0.11,
            "{sum} {square}"
        );
    }
    let share = |count: usize| count as f64 / n;
    assert!((share(unbalanced) - 0.05).abs() < 0.0155, "{unbalanced}");
    // The level is for independent residuals; these hang together, so that fewer are suspected.
    assert!((0.02..0.06).contains(&share(suspected)), "{suspected}");
    // The uncertainty of the answer is what its errors show.
    let square: f64 = errors.iter().map(|z| z * z).sum();
    assert!((square / n - 1.0).abs() < 0.11, "{square}");
}

#[test]
fn prop_a_leak_at_the_limit_is_shown_as_often_as_said() {
    let mut normal = Normal(11);
    let at_one = |result: &Reconciled| {
        let found = result
            .leaks
            .iter()
            .find(|at| at.downstream.as_str() == "s1");
        found.unwrap().clone()
    };
    let detectable = at_one(&simulated(&mut normal, 0.0).1).detectable.as_m3_s();
    const DRAWS: usize = 4000;
    let mut shown = [0, 0];
    for _ in 0..DRAWS {
        for (leak, shown) in [0.0, detectable].into_iter().zip(&mut shown) {
            let (_, result) = simulated(&mut normal, leak);
            *shown += usize::from(at_one(&result).verdict == LeakVerdict::Shown);
        }
    }
    // 5 % and 95 %, four standard errors of 0.0034.
    let share = shown.map(|count| count as f64 / DRAWS as f64);
    assert!(
        (share[0] - 0.05).abs() < 0.014 && (share[1] - 0.95).abs() < 0.014,
        "{share:?}"
    );
}

/// A leak of eight standard uncertainties is blamed on the right stretch, or among rivals.
#[test]
fn prop_a_large_leak_is_found_where_it_is() {
    let mut normal = Normal(13);
    let mut first = 0;
    for _ in 0..200 {
        let (_, result) = simulated(&mut normal, 0.4);
        let told = result.imbalance.to_string();
        first += usize::from(
            told.contains("a leak between \"s3\", \"s4\"") || told.contains("and \"s1\" of"),
        );
    }
    assert!(first > 180, "{first}");
}

#[test]
fn prop_large_trees_are_worked_out() {
    // 20 000 sections, in rows of ten and wyes; as many readings as are taken.
    let into: Vec<usize> = (1..20_000_usize)
        .map(|i| if i % 10 == 0 { i / 2 } else { i - 1 })
        .collect();
    let (system, names, outlets) = random_tree(&into);
    let flow = flows(&outlets, &[0.001]);
    let all = (0..FlowReadings::MOST).map(|i| read(&names[i * 39], flow[i * 39], 0.01));
    let readings = FlowReadings::new(all, all_open(&outlets));
    let result = readings.reconcile(&system).unwrap();
    assert_eq!(result.readings.len(), 500);
    assert!(result.global.chi_square < 1e-12);
    assert!(result.sections.len() > 4000, "{}", result.sections.len());
    // As many balances as there can be: one row, every section read, by one instrument.
    let (system, names, outlets) = random_tree(&(0..FlowReadings::MOST - 1).collect::<Vec<_>>());
    let all = names.iter().map(|name| read(name, 0.5, 0.01).by("vane"));
    let readings = FlowReadings::new(all, all_open(&outlets)).with_shared("vane", 0.03);
    let result = readings.reconcile(&system).unwrap();
    assert_eq!(result.global.degrees_of_freedom, 499);
    let one = result.section("s7").unwrap().standard.as_m3_s();
    // 0.01 / sqrt(500) and 3 % of 0.5.
    assert!((one - (0.01_f64.powi(2) / 500.0 + 0.015_f64.powi(2)).sqrt()).abs() < 1e-12);
}

#[test]
fn prop_a_shut_duct_is_tested_by_what_it_still_draws() {
    let (system, ..) = random_tree(&[0, 0]);
    let readings = FlowReadings::new([read("s0", 0.02, 0.004)], Vec::<Name>::new());
    let result = readings.reconcile(&system).unwrap();
    assert_eq!(result.leaks[0].verdict, LeakVerdict::Shown);
    assert_eq!(result.leaks[0].leak, VolumeFlow::from_m3_s(0.02));
    assert!(
        result
            .imbalance
            .to_string()
            .contains("a leak upstream of \"s0\"")
    );
    assert_eq!(
        result.section("s1").unwrap().flow,
        VolumeFlow::from_m3_s(0.0)
    );
    // Where shut hoods may leak it says nothing of the duct.
    let result = readings
        .with_shut(ShutHoods::Leaky)
        .reconcile(&system)
        .unwrap();
    assert!(result.leaks.is_empty() && result.undetermined.len() == 2);
}

/// Where shut gates leak nothing is known of what enters there, and only duct without them is tested.
#[test]
fn prop_shut_hoods_may_leak() {
    // s0 <- s1 <- (s2, s3): the gate of s3 is shut and leaks.
    let (mut system, ..) = random_tree(&[0, 1, 1]);
    let gate = |leak_area| {
        Part::Gate(Gate {
            opening: 0.0,
            leak_area,
        })
    };
    system.sections[3]
        .parts
        .push(gate(Some(Area::from_mm2(50.0))));
    let all = [("s0", 0.50), ("s1", 0.44), ("s2", 0.40)].map(|(at, q)| read(at, q, 0.01));
    let readings = FlowReadings::new(all, ["hood s2", "hood s3"]);
    let at = |result: &Reconciled, section: &str| result.section(section).unwrap().flow;
    let tight = readings.reconcile(&system).unwrap();
    assert_eq!(tight.global.degrees_of_freedom, 2);
    assert_eq!(at(&tight, "s3"), VolumeFlow::from_m3_s(0.0));
    let leaky = readings.clone().with_shut(ShutHoods::Leaky);
    let leaky_result = leaky.reconcile(&system).unwrap();
    assert_eq!(leaky_result.global.degrees_of_freedom, 1);
    assert_eq!(leaky_result.leaks.len(), 1);
    // Mean of 0.50 and 0.44, less 0.40.
    assert!((at(&leaky_result, "s3").as_m3_s() - 0.07).abs() < 1e-12);
    // A gate that does not leak cuts off what is upstream in both.
    system.sections[3].parts[0] = gate(None);
    assert_eq!(
        leaky.reconcile(&system).unwrap(),
        readings.reconcile(&system).unwrap()
    );
}

#[cfg(feature = "serde")]
#[test]
fn prop_a_machine_opens_its_hoods() {
    let study: airsplit::Study =
        toml::from_str(include_str!("../../examples/chair_shop.toml")).unwrap();
    let text = r#"{
        "readings": [
            { "section": "saw branch", "flow": "900 m3/h", "standard": "30 m3/h", "instrument": "vane" },
            { "section": "saw cabinet drop", "flow": "600 m3/h", "standard": "20 m3/h" },
            { "section": "saw guard drop", "flow": "280 m3/h", "standard": "20 m3/h" }
        ],
        "open": ["table saw"],
        "shared": [{ "instrument": "vane", "relative": 0.03 }]
    }"#;
    let readings: FlowReadings = serde_json::from_str(text).unwrap();
    let again = serde_json::to_string(&readings).unwrap();
    assert_eq!(
        serde_json::from_str::<FlowReadings>(&again).unwrap(),
        readings
    );
    assert!(serde_json::from_str::<FlowReadings>(&text.replace("open", "opened")).is_err());
    let result = readings.reconcile(&study.system).unwrap();
    assert_eq!(result.groups, [[0, 1, 2]]);
    assert_eq!(result.undetermined, []);
    let cabinet = result.section("saw cabinet drop").unwrap();
    assert_eq!(cabinet.hood, Some("saw cabinet".into()));
    assert!(result.section("lathe drop").unwrap().flow == VolumeFlow::from_m3_s(0.0));
    serde_json::to_string(&result).unwrap();
}

#[test]
fn prop_errors_name_the_reading() {
    let (mut system, ..) = random_tree(&[0, 0, 1]);
    let gate = Gate {
        opening: 0.0,
        leak_area: None,
    };
    system.sections[1].parts.push(Part::Gate(gate));
    let good = || read("s0", 0.5, 0.01);
    let told = |readings: Vec<FlowAt>| {
        let readings = FlowReadings::new(readings, ["hood s2"]).with_shared("vane", 0.03);
        readings.reconcile(&system).unwrap_err().to_string()
    };
    insta::assert_snapshot!(told(vec![]), @"there is no reading; give one at least");
    insta::assert_snapshot!(told(vec![good(), read("s9", 0.5, 0.01)]), @r#"reading 2: no section is called "s9"; known, nearest first: "s0", "s1", "s2", "s3""#);
    insta::assert_snapshot!(told(vec![good(), read("s0", -0.5, 0.01)]), @r#"reading 2, section "s0": the flow is -500 L/s; allowed: 0 m3/s to 1000 m3/s"#);
    insta::assert_snapshot!(told(vec![good(), read("s0", 0.5, 0.0)]), @r#"reading 2, section "s0": the standard uncertainty is 0 L/s; it must be above zero: 1e-9 m3/s to 1000 m3/s"#);
    insta::assert_snapshot!(told(vec![good(), read("s0", f64::NAN, 0.1)]), @r#"reading 2, section "s0": the flow is NaN L/s; allowed: 0 m3/s to 1000 m3/s"#);
    insta::assert_snapshot!(told(vec![good().by("vain")]), @r#"reading 1: no instrument is called "vain"; known, nearest first: "vane"; list it as shared, with 0 if its readings share no error"#);
    insta::assert_snapshot!(told(vec![good(), read("s3", 0.5, 0.01)]), @r#"reading 2, section "s3": no air passes there, a gate in section "s1" is shut; leave the reading out, or open it"#);
    insta::assert_snapshot!(told(vec![good(), read("s0", 0.5, 1e-8)]), @"reading 1 is more than 100000 times less certain than reading 2; leave it out, it says nothing beside that");
    insta::assert_snapshot!(told(vec![good(); 501]), @"501 readings; at most 500 are worked out together: merge those of one section");
    let (system, ..) = random_tree(&[0, 0, 1, 1]);
    let all = ["s0", "s1", "s3"].map(|section| read(section, 0.5, 0.01));
    let readings = FlowReadings::new(all, ["hood s2", "hood s3", "hood s4"]);
    let told = |upstream: &[&str], downstream: &str| {
        let upstream: Vec<Name> = upstream.iter().map(|name| Name::from(*name)).collect();
        let test = readings.leak_between(&system, &upstream, &downstream.into());
        test.unwrap_err().to_string()
    };
    insta::assert_snapshot!(told(&["s1"], "s0"), @r#"air enters between them at hood "hood s2", which no named section counts; name its section among those upstream, after reading it"#);
    insta::assert_snapshot!(told(&["s0"], "s1"), @r#"section "s0" does not drain through section "s1"; name sections upstream of it"#);
    insta::assert_snapshot!(told(&["s1", "s3"], "s0"), @r#"section "s3" drains through section "s1", which is named as well, or it is named twice; its flow would count twice; name one of them"#);
    insta::assert_snapshot!(told(&["s1"], "s2"), @r#"no reading stands in section "s2"; a leak is told between sections that were read; read it as well"#);
    insta::assert_snapshot!(told(&["s1"], "s7"), @r#"no section is called "s7"; known, nearest first: "s0", "s1", "s2", "s3", "s4""#);
    let shut = FlowReadings::new([read("s2", 0.5, 0.01)], ["hood s3"]);
    insta::assert_snapshot!(shut.reconcile(&system).unwrap_err(), @r#"reading 1, section "s2": no air passes there, hood "hood s2" is shut; leave the reading out, or open it"#);
    let unknown = FlowReadings::new([good()], ["saw"]);
    insta::assert_snapshot!(unknown.reconcile(&system).unwrap_err(), @r#"no hood or machine is called "saw"; known, nearest first: "hood s2", "hood s3", "hood s4""#);
}
