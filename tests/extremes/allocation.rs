//! `solve` allocates nothing once its workspace has grown: counted by our own allocator.

use super::counting::allocations;
use airsplit::{Adjoint, Draft, Network, Output, VolumeFlow, Workspace};

#[test]
fn prop_solve_allocates_nothing() {
    let text = include_str!("../../examples/chair_shop.toml");
    let falling: Draft = toml::from_str(text).unwrap();
    // A curve that rises at first is searched for its lowest crossing; that costs no memory either.
    let rising = text.replace("\"3050 Pa\"", "\"2700 Pa\"");
    assert_ne!(rising, text);
    let rising: Draft = toml::from_str(&rising).unwrap();
    for draft in [falling, rising] {
        let network = Network::new(&draft.complete().unwrap().system).unwrap();
        let mut work = Workspace::default();
        let all = network.open_all();
        let some = network.open(["planer", "lathe"]).unwrap();
        network.solve(&all, &mut work).unwrap();
        let count = allocations(|| {
            network.solve(&some, &mut work).unwrap();
            network.solve(&all, &mut work).unwrap();
            let flow = VolumeFlow::from_m3_h(1500.0);
            network.solve_at_flow(&some, flow, &mut work).unwrap();
        });
        assert_eq!(count, 0);
        network.resume(&all, &mut work).unwrap();
        let count = allocations(|| {
            network.resume(&some, &mut work).unwrap();
            network.resume(&all, &mut work).unwrap();
        });
        assert_eq!(count, 0);
        let balance = network.solve(&some, &mut work).unwrap();
        let mut adjoint = Adjoint::default();
        balance.influence(&Output::TotalFlow, &mut adjoint).unwrap();
        let planer = Output::Machine("planer".into());
        let count = allocations(|| {
            balance.influence(&planer, &mut adjoint).unwrap();
        });
        assert_eq!(count, 0);
    }
    // The counter does count.
    assert_ne!(allocations(|| drop(vec![1_u8])), 0);
}

#[test]
fn prop_a_sweep_allocates_nothing_for_a_set() {
    let text = include_str!("../../examples/chair_shop.toml");
    let draft: Draft = toml::from_str(text).unwrap();
    let network = Network::new(&draft.complete().unwrap().system).unwrap();
    let sets = network.open_sets().unwrap();
    let sweep = |count| {
        let sets = sets.clone().take(count);
        let flows = network
            .sweep(sets)
            .map(|_, answer| answer.unwrap().flow().as_m3_s());
        assert!(flows.sum::<f64>() > 0.1);
    };
    // The workspace grows at the first.
    let first = allocations(|| sweep(1));
    assert_ne!(first, 0);
    assert_eq!(allocations(|| sweep(255)), first);
}
