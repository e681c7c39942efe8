//! Open sets and sweeps over them, against combinatorics and against one solve at a time.

#![allow(
    clippy::unwrap_used,
    clippy::panic,
    reason = "a test that cannot go on must stop"
)]

use crate::common::{
    random::{self, Recipe, Rng},
    three_hoods,
};
use airsplit::{
    Balance, FlowRange, Hood, Join, Machine, Name, Network, OpenSet, OperatingPoint, Section,
    SolveError, Start, Status, Supply, SweepOptions, SweepSummary, System, TooManySets, Velocity,
    VolumeFlow,
};
use proptest::prelude::*;
use std::collections::{BTreeMap, HashSet};

/// n choose k by Pascal's triangle.
fn choose(n: usize, k: usize) -> usize {
    let mut row = vec![1];
    for _ in 0..n {
        let inner = row.windows(2).map(|two| two[0] + two[1]);
        row = [1].into_iter().chain(inner).chain([1]).collect();
    }
    row.get(k).copied().unwrap_or(0)
}

/// So many hoods on one main, each on a piece of duct of its own.
fn comb(hoods: usize) -> System {
    let mut system = three_hoods::system();
    let drop = system.sections[0].clone();
    let main = Section::new("main", system.sections[4].size, system.sections[4].wall);
    system.sections = vec![main];
    for i in 0..hoods {
        let mut drop = drop.clone();
        drop.id = format!("drop {i}").into();
        drop.into = Some("main".into());
        if i == 0 {
            drop.join = Join::default();
        }
        let Start::Hood(hood) = &drop.start else {
            panic!("{drop:?}")
        };
        drop.start = Start::Hood(Hood::new(format!("hood {i}"), hood.entry));
        system.sections.push(drop);
    }
    system
}

fn network(hoods: usize) -> Network {
    Network::new(&comb(hoods)).unwrap()
}

/// Indices of the open hoods, by their names.
fn members(network: &Network, open: &OpenSet) -> Vec<usize> {
    let hoods: Vec<&Name> = network.hoods().collect();
    let names = network.open_names(open).unwrap();
    let index = |name: &Name| hoods.iter().position(|hood| *hood == name).unwrap();
    names.iter().map(index).collect()
}

#[test]
fn prop_every_set_in_the_order_of_a_counter() {
    for n in 1..=9 {
        let network = network(n);
        let mut sets = network.open_sets().unwrap();
        for number in 1..1_usize << n {
            assert_eq!(sets.len(), (1 << n) - number);
            let set = sets.next().unwrap();
            let bits: Vec<usize> = (0..n).filter(|i| number >> i & 1 == 1).collect();
            assert_eq!(members(&network, &set), bits);
        }
        assert_eq!((sets.len(), sets.next(), sets.next()), (0, None, None));
    }
}

#[test]
fn prop_sets_of_few_by_size_and_then_lexicographic() {
    for n in 1..=9 {
        let network = network(n);
        let all: HashSet<OpenSet> = network.open_sets().unwrap().collect();
        for k in 0..=n + 2 {
            let sets = network.open_sets_up_to(k).unwrap();
            let count: usize = (1..=k).map(|k| choose(n, k)).sum();
            assert_eq!(sets.len(), count);
            let told: Vec<_> = sets.clone().map(|set| members(&network, &set)).collect();
            assert_eq!(told.len(), count);
            let ordered = told.is_sorted_by(|a, b| (a.len(), a) < (b.len(), b));
            assert!(ordered, "{told:?}");
            // In order and so many of them: each once, and none too large.
            assert!(told.last().is_none_or(|last| last.len() == k.min(n)));
            assert!(sets.clone().all(|set| all.contains(&set)));
        }
        assert_eq!(all.len(), (1 << n) - 1);
    }
}

#[test]
fn prop_one_hood_has_one_set() {
    let network = network(1);
    for sets in [
        network.open_sets().unwrap(),
        network.open_sets_up_to(1).unwrap(),
        network.open_sets_up_to(7).unwrap(),
        network.machine_sets().unwrap(),
        network.machine_sets_up_to(1).unwrap(),
    ] {
        assert_eq!(sets.collect::<Vec<_>>(), [network.open_all()]);
    }
    assert_eq!(network.open_sets_up_to(0).unwrap().count(), 0);
    let options = SweepOptions::new(Velocity::from_m_s(20.0));
    let sweep = network.sweep(network.open_sets().unwrap());
    let summary = sweep.summary(&options).unwrap();
    let alone = network.operating_point(&network.open_all()).unwrap();
    let flow = summary.flow.unwrap();
    assert_eq!(flow.least, flow.most);
    assert_eq!(flow.least.value, alone.flow);
}

#[test]
fn prop_too_many_sets_are_refused() {
    // 2^30 - 1 sets are allowed and made one at a time.
    let thirty = network(30);
    assert_eq!(thirty.open_sets().unwrap().len(), (1 << 30) - 1);
    assert_eq!(thirty.machine_sets_up_to(30).unwrap().len(), (1 << 30) - 1);

    let forty = network(40);
    let error: TooManySets = forty.open_sets().unwrap_err();
    insta::assert_snapshot!(error, @"40 hoods make more than 2^30 open sets of up to 40; ask for sets of up to 9");
    assert_eq!((error.units, error.asked, error.most), (40, 40, 9));
    assert_eq!(forty.open_sets_up_to(10).unwrap_err().most, 9);
    let error = forty.machine_sets().unwrap_err();
    insta::assert_snapshot!(error, @"40 machines make more than 2^30 open sets of up to 40; ask for sets of up to 9");
    let up_to_nine = forty.open_sets_up_to(9).unwrap();
    assert_eq!(
        up_to_nine.len(),
        (1..=9).map(|k| choose(40, k)).sum::<usize>()
    );
    assert!(airsplit::Error::from(error).is_input());
    // No count overflows on the way to the refusal.
    let many = network(1000);
    assert_eq!(many.open_sets().unwrap_err().most, 3);
    assert_eq!(many.open_sets_up_to(usize::MAX).unwrap_err().asked, 1000);
    assert_eq!(
        many.open_sets_up_to(2).unwrap().len(),
        1000 + 1000 * 999 / 2
    );
}

#[test]
fn prop_sets_of_more_than_64_hoods() {
    let network = network(150);
    let sets = network.open_sets_up_to(2).unwrap();
    assert_eq!(sets.len(), 150 + 150 * 149 / 2);
    for (i, set) in sets.clone().take(150).enumerate() {
        assert_eq!(members(&network, &set), [i]);
        assert_eq!(set, network.open([format!("hood {i}")]).unwrap());
    }
    let last = sets.last().unwrap();
    assert_eq!(members(&network, &last), [148, 149]);
    assert_eq!((last.len(), last.is_empty()), (2, false));
    assert_eq!(network.open_all().len(), 150);
}

/// Five hoods: a machine of two, one of one, two that serve none.
fn with_machines() -> Network {
    let mut system = comb(5);
    for (section, machine) in [(1, "saw"), (3, "planer"), (5, "saw")] {
        let Start::Hood(hood) = &mut system.sections[section].start else {
            panic!("not a hood")
        };
        hood.machine = Some(machine.into());
    }
    let required = VolumeFlow::from_m3_h(500.0);
    for id in ["planer", "saw"] {
        let id = id.into();
        system.machines.push(Machine { id, required });
    }
    Network::new(&system).unwrap()
}

#[test]
fn prop_machines_open_whole_and_lone_hoods_by_themselves() {
    let network = with_machines();
    let told = |sets: airsplit::OpenSets| -> Vec<String> {
        sets.map(|set| {
            let names = network.open_names(&set).unwrap();
            // The names make the set again.
            assert_eq!(network.open(&names).unwrap(), set);
            names
                .iter()
                .map(Name::as_str)
                .collect::<Vec<_>>()
                .join(" + ")
        })
        .collect()
    };
    let sets = network.machine_sets().unwrap();
    assert_eq!(sets.len(), 15);
    insta::assert_snapshot!(told(sets).join("\n"), @r"
    planer
    saw
    saw + planer
    hood 1
    hood 1 + planer
    saw + hood 1
    saw + hood 1 + planer
    hood 3
    planer + hood 3
    saw + hood 3
    saw + planer + hood 3
    hood 1 + hood 3
    hood 1 + planer + hood 3
    saw + hood 1 + hood 3
    saw + hood 1 + planer + hood 3
    ");
    let few = told(network.machine_sets_up_to(2).unwrap());
    assert_eq!(few.len(), 4 + 6);
    assert_eq!(few[4], "saw + planer");
    // A machine in part is told by its hoods.
    let part = network.open(["hood 0", "planer"]).unwrap();
    assert_eq!(
        network.open_names(&part).unwrap(),
        ["hood 0".into(), "planer".into()]
    );
    assert_eq!(told(network.open_sets().unwrap()).len(), 31);
}

/// Everything that a view tells, as bits.
fn told(answer: Result<Balance<'_>, SolveError>) -> Result<Vec<u64>, SolveError> {
    let balance = answer?;
    let flows = balance
        .hood_flows()
        .chain(balance.section_flows())
        .chain(balance.machine_flows())
        .chain([balance.flow()]);
    let mut bits: Vec<u64> = flows.map(|flow| flow.as_m3_s().to_bits()).collect();
    bits.extend(balance.section_velocities().map(|v| v.as_m_s().to_bits()));
    bits.push(balance.curve_pressure().as_pa().to_bits());
    bits.push(u64::from(balance.quality().passes));
    bits.push(balance.status as u64);
    Ok(bits)
}

/// The same of a single answer that knows nothing of sweeps.
fn told_alone(network: &Network, open: &OpenSet) -> Result<Vec<u64>, SolveError> {
    let point = network.operating_point(open)?;
    let flows = point
        .hoods
        .iter()
        .map(|hood| hood.flow)
        .chain(point.sections.iter().map(|section| section.flow))
        .chain(point.machines.iter().map(|machine| machine.flow))
        .chain([point.flow]);
    let mut bits: Vec<u64> = flows.map(|flow| flow.as_m3_s().to_bits()).collect();
    bits.extend(
        point
            .sections
            .iter()
            .map(|section| section.velocity.as_m_s().to_bits()),
    );
    bits.push(point.fan.curve_pressure.as_pa().to_bits());
    bits.push(u64::from(point.quality.passes));
    bits.push(point.status as u64);
    Ok(bits)
}

/// A random system whose hoods serve some machines.
fn shop(recipe: &Recipe) -> System {
    let mut system = recipe.system();
    let mut rng = Rng(recipe.seed ^ 0x5157);
    let machines = rng.below(4);
    let mut served = vec![false; machines];
    for section in &mut system.sections {
        let Start::Hood(hood) = &mut section.start else {
            continue;
        };
        let flow = VolumeFlow::from_m3_s(rng.spread(0.003, 3.0));
        hood.required = rng.chance(0.5).then_some(flow);
        if machines > 0 && rng.chance(0.7) {
            let machine = rng.below(machines);
            served[machine] = true;
            hood.machine = Some(format!("machine {machine}").into());
        }
    }
    for (i, _) in served.iter().enumerate().filter(|(_, served)| **served) {
        system.machines.push(Machine {
            id: format!("machine {i}").into(),
            required: VolumeFlow::from_m3_s(rng.spread(0.01, 10.0)),
        });
    }
    system
}

/// What one set adds to a summary by hand.
struct Seen {
    index: u64,
    open: Vec<Name>,
    point: OperatingPoint,
    carries: HashSet<Name>,
}

/// Sections between an open hood and the collector.
fn carrying(system: &System, point: &OperatingPoint) -> HashSet<Name> {
    let into: BTreeMap<&Name, Option<&Name>> = system
        .sections
        .iter()
        .map(|section| (&section.id, section.into.as_ref()))
        .collect();
    let mut carries = HashSet::new();
    for hood in point.hoods.iter().filter(|hood| hood.open) {
        let mut at = Some(&hood.section);
        while let Some(section) = at {
            carries.insert(section.clone());
            at = into[section];
        }
    }
    carries
}

/// The first least of what `value` gives, with the set.
fn first_least(
    seen: &[Seen],
    value: impl Fn(&Seen) -> Option<f64>,
) -> Option<(f64, u64, Status, Vec<Name>)> {
    let mut best: Option<(f64, &Seen)> = None;
    for one in seen {
        if let Some(value) = value(one)
            && best.is_none_or(|(least, _)| value < least)
        {
            best = Some((value, one));
        }
    }
    best.map(|(value, one)| (value, one.index, one.point.status, one.open.clone()))
}

fn assert_range(
    seen: &[Seen],
    range: Option<&FlowRange>,
    flow: impl Fn(&Seen) -> Option<VolumeFlow>,
) {
    let least = first_least(seen, |one| flow(one).map(|q| q.as_m3_s()));
    let most = first_least(seen, |one| flow(one).map(|q| -q.as_m3_s()));
    let told = |sign: f64, at: &airsplit::InSet<VolumeFlow>| {
        let value = sign * at.value.as_m3_s();
        (value, at.index, at.status, at.open.clone())
    };
    assert_eq!(range.map(|range| told(1.0, &range.least)), least);
    assert_eq!(range.map(|range| told(-1.0, &range.most)), most);
}

fn assert_supply(
    seen: &[Seen],
    supply: &Supply,
    required: Option<VolumeFlow>,
    flow: impl Fn(&Seen) -> Option<VolumeFlow>,
) {
    assert_eq!(supply.required, required);
    let flows: Vec<VolumeFlow> = seen.iter().filter_map(&flow).collect();
    let short = flows.iter().filter(|q| required.is_some_and(|r| **q < r));
    assert_eq!(supply.short, short.count() as u64);
    assert_eq!(supply.sets, flows.len() as u64);
    assert_range(seen, supply.flow.as_ref(), flow);
}

/// Every figure of a summary by hand, from one operating point after another.
fn assert_by_hand(
    system: &System,
    sets: &[OpenSet],
    options: &SweepOptions,
    summary: &SweepSummary,
) {
    let network = Network::new(system).unwrap();
    let mut seen = Vec::new();
    let mut failed = Vec::new();
    for (index, set) in (0..).zip(sets) {
        let open = network.open_names(set).unwrap();
        match network.operating_point(set) {
            Ok(point) => seen.push(Seen {
                index,
                open,
                carries: carrying(system, &point),
                point,
            }),
            Err(error) => failed.push((error, index, open)),
        }
    }
    let with = |status| {
        let points = seen.iter().map(|one| one.point.status);
        points.filter(|&s| s == status).count() as u64
    };
    assert_eq!(summary.sets, sets.len() as u64);
    assert_eq!(summary.converged, with(Status::Converged));
    assert_eq!(summary.beyond_curve, with(Status::BeyondCurve));
    assert_eq!(summary.below_curve, with(Status::BelowCurve));
    assert_eq!(summary.failed, failed.len() as u64);
    failed.truncate(options.listed);
    let failures = summary.failures.iter().cloned();
    let failures: Vec<_> = failures.map(|f| (f.error, f.index, f.open)).collect();
    assert_eq!(failures, failed);
    assert_range(&seen, summary.flow.as_ref(), |one| Some(one.point.flow));

    assert_eq!(summary.machines.len(), system.machines.len());
    for machine in &system.machines {
        let name = machine.id.as_str();
        let supply = summary.machine(name).unwrap();
        assert_supply(&seen, supply, Some(machine.required), |one| {
            let machine = one.point.machine(name).unwrap();
            machine.open.then_some(machine.flow)
        });
    }
    assert_eq!(summary.hoods.len(), network.hoods().count());
    for section in &system.sections {
        let Start::Hood(hood) = &section.start else {
            continue;
        };
        let name = hood.id.as_str();
        let supply = summary.hood(name).unwrap();
        assert_supply(&seen, supply, hood.required, |one| {
            let hood = one.point.hood(name).unwrap();
            hood.open.then_some(hood.flow)
        });
    }
    assert_eq!(summary.sections.len(), system.sections.len());
    for section in &system.sections {
        let told = summary.section(section.id.as_str()).unwrap();
        let named = options.sections.iter().rfind(|(id, _)| *id == section.id);
        let least = named.map_or(options.least_velocity, |(_, least)| *least);
        assert_eq!(told.least_velocity, least);
        let velocity = |one: &Seen| {
            let state = one.point.section(section.id.as_str()).unwrap();
            one.carries
                .contains(&section.id)
                .then_some(state.velocity.as_m_s())
        };
        let speeds: Vec<(f64, u64, Vec<Name>)> = seen
            .iter()
            .filter_map(|one| Some((velocity(one)?, one.index, one.open.clone())))
            .collect();
        assert_eq!(told.sets, speeds.len() as u64);
        let slow = speeds.into_iter().filter(|(v, ..)| *v < least.as_m_s());
        let mut slow: Vec<_> = slow.collect();
        assert_eq!(told.slow, slow.len() as u64);
        slow.truncate(options.listed);
        let listed = told.slow_sets.iter();
        let listed: Vec<_> = listed
            .map(|at| (at.value.as_m_s(), at.index, at.open.clone()))
            .collect();
        assert_eq!(listed, slow);
        let slowest = told
            .slowest
            .as_ref()
            .map(|at| (at.value.as_m_s(), at.index, at.status, at.open.clone()));
        assert_eq!(slowest, first_least(&seen, velocity));
    }
}

fn options(rng: &mut Rng, system: &System) -> SweepOptions {
    let mut options = SweepOptions::new(Velocity::from_m_s(rng.between(0.0, 30.0)));
    options.listed = rng.pick(&[0, 1, 3, 8, 1000]);
    for _ in 0..rng.below(4) {
        let section = rng.pick(&system.sections).id;
        options = options.with_section(section, Velocity::from_m_s(rng.between(0.0, 30.0)));
    }
    options
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(256))]

    #[test]
    fn prop_an_entry_is_the_single_solve(recipe in random::any_recipe(), hoods in 1..=7_usize) {
        let system = shop(&Recipe { hoods, ..recipe });
        let network = Network::new(&system).unwrap();
        let sets = network.open_sets().unwrap();
        let swept = network.sweep(sets.clone()).map(|open, answer| (open.clone(), told(answer)));
        let mut count = 0;
        for (set, (open, answer)) in sets.zip(swept) {
            prop_assert_eq!(&set, &open);
            prop_assert_eq!(answer, told_alone(&network, &open));
            count += 1;
        }
        prop_assert_eq!(count, (1 << hoods) - 1);
    }

    #[test]
    fn prop_a_summary_is_the_sum_of_single_answers(
        recipe in random::any_recipe(),
        hoods in 1..=6_usize,
        by_machine: bool,
    ) {
        let system = shop(&Recipe { hoods, ..recipe });
        let network = Network::new(&system).unwrap();
        let mut rng = Rng(recipe.seed ^ 0x0971);
        let sets = if by_machine { network.machine_sets() } else { network.open_sets_up_to(4) };
        let mut sets: Vec<OpenSet> = sets.unwrap().collect();
        // In any order, some of them more than once: the first of equals has to be told.
        sets.extend_from_within(..sets.len() / 2);
        rng.shuffle(&mut sets);
        let options = options(&mut rng, &system);
        let summary = network.sweep(&sets).summary(&options).unwrap();
        assert_by_hand(&system, &sets, &options, &summary);
    }
}

#[test]
fn prop_a_set_without_an_answer_does_not_end_the_sweep() {
    let system = comb(4);
    let network = Network::new(&system).unwrap();
    let foreign = self::network(3).open_all();
    let nothing: [&str; 0] = [];
    let sets = [
        network.open(["hood 1"]).unwrap(),
        foreign.clone(),
        network.open(nothing).unwrap(),
        network.open_all(),
    ];
    let answers: Vec<_> = network
        .sweep(&sets)
        .map(|_, answer| answer.map(|balance| balance.flow()))
        .collect();
    assert_eq!(answers[1], Err(SolveError::ForeignOpenSet));
    assert_eq!(answers[2], Err(SolveError::NothingOpen));
    assert!(answers[0].is_ok() && answers[3].is_ok());
    let options = SweepOptions::new(Velocity::from_m_s(20.0));
    let summary = network.sweep(&sets).summary(&options).unwrap();
    let counts = (summary.sets, summary.converged, summary.failed);
    assert_eq!(counts, (4, 2, 2));
    assert_eq!(summary.failures[0].error, SolveError::ForeignOpenSet);
    assert_eq!(summary.failures[0].index, 1);
    assert!(summary.failures[0].open.is_empty());
    assert_eq!(summary.failures[1].error, SolveError::NothingOpen);
    assert_eq!(
        summary.flow.unwrap().least.value,
        answers[0].clone().unwrap()
    );
    // Its names are refused as well.
    let error = network.open_names(&foreign).unwrap_err();
    assert_eq!(error, SolveError::ForeignOpenSet);
    // Lists are bounded, counts are not.
    let summary = network.sweep(&sets).summary(&options.listing(1)).unwrap();
    assert_eq!((summary.failed, summary.failures.len()), (2, 1));
}

#[test]
fn prop_a_sweep_without_sets_or_without_a_fan() {
    let mut system = comb(3);
    system.collector.fan = None;
    let network = Network::new(&system).unwrap();
    let options = SweepOptions::new(Velocity::from_m_s(20.0));
    let sets = || network.open_sets().unwrap();
    let summary = network.sweep(sets()).summary(&options).unwrap();
    assert_eq!((summary.failed, summary.flow), (7, None));
    assert!(
        summary
            .failures
            .iter()
            .all(|f| f.error == SolveError::NoFan)
    );
    assert!(summary.sections.iter().all(|s| s.slowest.is_none()));
    let summary = network.sweep(sets().take(0)).summary(&options).unwrap();
    assert_eq!((summary.sets, summary.failed), (0, 0));
}

#[test]
fn prop_a_velocity_that_cannot_be_is_refused() {
    let network = network(3);
    let refused = |options: &SweepOptions| {
        let sweep = network.sweep(network.open_sets().unwrap());
        sweep.summary(options).unwrap_err()
    };
    let v = Velocity::from_m_s;
    for wrong in [f64::NAN, f64::INFINITY, -1.0] {
        let error = refused(&SweepOptions::new(v(wrong)));
        assert!(matches!(error, SolveError::LeastVelocity { .. }));
        let error = refused(&SweepOptions::new(v(20.0)).with_section("main", v(wrong)));
        assert!(matches!(error, SolveError::LeastVelocity { .. }));
    }
    let error = refused(&SweepOptions::new(v(-1.0)));
    insta::assert_snapshot!(error, @"cannot look for sections slower than -1 m/s; it must be zero or more");
    let error = refused(&SweepOptions::new(v(20.0)).with_section("mian", v(23.0)));
    insta::assert_snapshot!(error, @r#"no section is called "mian"; known, nearest first: "main", "drop 0", "drop 1", "drop 2""#);
    // With zero nothing is ever too slow.
    let options = SweepOptions::new(v(0.0));
    let sweep = network.sweep(network.open_sets().unwrap());
    let summary = sweep.summary(&options).unwrap();
    assert!(summary.sections.iter().all(|s| s.slow == 0 && s.sets > 0));
}

#[cfg(feature = "serde")]
#[test]
fn prop_a_summary_is_data() {
    let network = network(2);
    let options = SweepOptions::new(Velocity::from_m_s(20.0));
    let nothing: [&str; 0] = [];
    let sets = [network.open_all(), network.open(nothing).unwrap()];
    let summary = network.sweep(sets).summary(&options).unwrap();
    let json = serde_json::to_value(&summary).unwrap();
    let error = json["failures"][0]["error"].as_str().unwrap();
    assert_eq!(error, SolveError::NothingOpen.to_string());
    assert_eq!(json["flow"]["least"]["open"][1], "hood 1");
}

#[cfg(feature = "rayon")]
mod parallel {
    use super::*;

    fn in_pool<T: Send>(threads: usize, work: impl FnOnce() -> T + Send) -> T {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads);
        pool.build().unwrap().install(work)
    }

    /// 8191 sets: two batches of many chunks.
    #[test]
    fn prop_parallel_is_serial_to_the_bit() {
        let network = network(13);
        let options = SweepOptions::new(Velocity::from_m_s(20.0)).listing(200);
        let sweep = || network.sweep(network.open_sets().unwrap());
        let serial = sweep().summary(&options).unwrap();
        // Some are slow, some are not, and more than are listed.
        let main = &serial.sections[0];
        assert!(main.slow > 200 && main.slow < serial.sets, "{}", main.slow);
        let answers: Vec<_> = sweep().map(|_, answer| told(answer)).collect();
        for threads in [1, 2, 3, 7] {
            let parallel = in_pool(threads, || sweep().par_summary(&options).unwrap());
            assert_eq!(parallel, serial);
            // Its debug text is as good as its bits: it tells -0 from 0.
            assert_eq!(format!("{parallel:?}"), format!("{serial:?}"));
            let parallel: Vec<_> = in_pool(threads, || {
                sweep().par_map(|_, answer| told(answer)).collect()
            });
            assert!(parallel == answers);
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(128))]

        #[test]
        fn prop_parallel_is_serial_on_random_shops(
            recipe in random::any_recipe(),
            hoods in 1..=9_usize,
        ) {
            let system = shop(&Recipe { hoods, ..recipe });
            let network = Network::new(&system).unwrap();
            let mut rng = Rng(recipe.seed ^ 0x9a7a);
            let mut sets: Vec<OpenSet> = network.open_sets().unwrap().collect();
            sets.extend_from_within(..);
            sets.insert(0, network.open([""; 0]).unwrap());
            rng.shuffle(&mut sets);
            let options = options(&mut rng, &system);
            let serial = network.sweep(&sets).summary(&options).unwrap();
            let parallel = network.sweep(&sets).par_summary(&options).unwrap();
            prop_assert_eq!(format!("{parallel:?}"), format!("{serial:?}"));
            prop_assert_eq!(parallel, serial);
        }
    }
}
