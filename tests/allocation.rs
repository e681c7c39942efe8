//! `solve` allocates nothing once its workspace has grown: counted by an allocator of our own.

#![allow(
    clippy::unwrap_used,
    clippy::panic,
    reason = "a test that cannot go on must stop"
)]
#![cfg(feature = "serde")]
#![allow(unsafe_code, reason = "an allocator that counts must be one")]

use airsplit::{Adjoint, Draft, Network, Output, VolumeFlow, Workspace};
use std::{
    alloc::{GlobalAlloc, Layout, System},
    cell::Cell,
};

thread_local! {
    static ALLOCATIONS: Cell<u64> = const { Cell::new(0) };
}

struct Counting;

// SAFETY: hands everything to the system's allocator.
unsafe impl GlobalAlloc for Counting {
    unsafe fn alloc(&self, layout: Layout) -> *mut u8 {
        ALLOCATIONS.with(|count| count.set(count.get() + 1));
        unsafe { System.alloc(layout) }
    }
    unsafe fn dealloc(&self, pointer: *mut u8, layout: Layout) {
        unsafe { System.dealloc(pointer, layout) }
    }
}

#[global_allocator]
static COUNTING: Counting = Counting;

fn allocations(work: impl FnOnce()) -> u64 {
    let before = ALLOCATIONS.with(Cell::get);
    work();
    ALLOCATIONS.with(Cell::get) - before
}

#[test]
fn prop_solve_allocates_nothing() {
    let text = include_str!("../examples/chair_shop.toml");
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
    let text = include_str!("../examples/chair_shop.toml");
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
