//! A solve that goes on from the balance before finds what a cold one finds.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on must stop")]

use crate::common::random::Recipe;
use airsplit::{
    Basis, Density, FanCurve, Fitted, Network, Pressure, Stability, VolumeFlow, Workspace,
};

fn flows(balance: &airsplit::Balance<'_>) -> Vec<f64> {
    let hoods = balance.hood_flows().map(|q| q.as_m3_s());
    std::iter::once(balance.flow().as_m3_s())
        .chain(hoods)
        .collect()
}

fn assert_same(a: &[f64], b: &[f64], why: &str) {
    let total = a[0];
    assert_eq!(a.len(), b.len(), "{why}");
    for (a, b) in a.iter().zip(b) {
        // Flows of less than a billionth of the whole are settled against that.
        assert!(
            (a - b).abs() <= 1e-12 * a.abs().max(1e-9 * total),
            "{why}: {a} {b}"
        );
    }
}

#[test]
fn prop_from_another_open_set_to_the_same_answer() {
    let mut work = Workspace::default();
    for seed in 0..200 {
        let recipe = Recipe::of(seed);
        let system = recipe.system();
        let network = Network::new(&system).unwrap();
        if system.collector.fan.as_ref().unwrap().rises() {
            continue;
        }
        let open = network.open(recipe.open(&system)).unwrap();
        let cold = flows(&network.solve(&open, &mut work).unwrap());
        network.solve(&network.open_all(), &mut work).unwrap();
        let warm = flows(&network.resume(&open, &mut work).unwrap());
        assert_same(&cold, &warm, &format!("seed {seed}"));
        // Nor does it matter what stood in the workspace, or whether anything did.
        let none = flows(&network.resume(&open, &mut Workspace::default()).unwrap());
        assert_same(&cold, &none, &format!("seed {seed}"));
    }
}

#[test]
fn prop_from_the_answer_itself_it_only_verifies() {
    let mut work = Workspace::default();
    for seed in 0..50 {
        let recipe = Recipe::of(seed);
        let system = recipe.system();
        let network = Network::new(&system).unwrap();
        let open = network.open(recipe.open(&system)).unwrap();
        let cold = network.solve(&open, &mut work).unwrap().quality().passes;
        let warm = network.resume(&open, &mut work).unwrap().quality().passes;
        assert!(warm <= cold, "seed {seed}: {warm} passes after {cold}");
    }
}

/// On a curve with a dip a cold solve tells the crossing reached from rest; resumed from the upper
/// one, the fan keeps to it.
#[test]
fn prop_it_keeps_to_the_crossing_where_the_fan_runs() {
    let mut system = crate::common::three_hoods::system();
    let points = [
        (0.0, 1000.0),
        (0.1, 600.0),
        (0.2, 150.0),
        (0.35, 1200.0),
        (0.5, 1300.0),
        (0.7, 700.0),
        (1.0, 50.0),
    ];
    let mut found = false;
    for scale in [1.0, 1.4, 2.0, 2.8, 4.0, 5.6, 8.0] {
        let points = points
            .map(|(q, p)| (VolumeFlow::from_m3_s(q), Pressure::from_pa(scale * p)))
            .to_vec();
        let fan = FanCurve::new(points, Basis::Total, Fitted::NOTHING, Density::STANDARD_AIR);
        system.collector.fan = Some(fan.unwrap());
        let network = Network::new(&system).unwrap();
        let open = network.open_all();
        let crossings = network.crossings(&open).unwrap();
        let stable: Vec<f64> = crossings
            .iter()
            .filter(|at| at.stability == Stability::Stable)
            .map(|at| at.flow.as_m3_s())
            .collect();
        let [low, high] = stable[..] else { continue };
        found = true;
        let mut work = Workspace::default();
        let flow = VolumeFlow::from_m3_s(1.01 * high);
        network.solve_at_flow(&open, flow, &mut work).unwrap();
        let kept = network.resume(&open, &mut work).unwrap().flow().as_m3_s();
        assert!((kept / high - 1.0).abs() < 1e-9, "{kept} {high}");
        let rest = network.solve(&open, &mut work).unwrap().flow().as_m3_s();
        assert!((rest / low - 1.0).abs() < 1e-9, "{rest} {low}");
    }
    assert!(found, "no curve of the list has two stable crossings");
}

/// Networks, answers and errors go between threads; two threads find the same bits.
#[test]
fn prop_threads_share_a_network() {
    fn shared<T: Send + Sync + 'static>() {}
    shared::<Network>();
    shared::<Workspace>();
    shared::<airsplit::OpenSet>();
    shared::<airsplit::OperatingPoint>();
    shared::<airsplit::SolveError>();
    for seed in 0..20 {
        let recipe = Recipe::of(seed);
        let system = recipe.system();
        let network = Network::new(&system).unwrap();
        let open = network.open(recipe.open(&system)).unwrap();
        let bits = |network: &Network| -> Vec<u64> {
            let mut work = Workspace::default();
            let balance = network.solve(&open, &mut work).unwrap();
            flows(&balance).iter().map(|q| q.to_bits()).collect()
        };
        let here = bits(&network);
        let there = std::thread::scope(|scope| {
            let thread = scope.spawn(|| bits(&Network::new(&system).unwrap()));
            thread.join().unwrap()
        });
        assert_eq!(here, there, "seed {seed}");
    }
}
