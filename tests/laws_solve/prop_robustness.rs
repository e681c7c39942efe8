//! Every tree finds its balance, in few steps: the first two thousand of the `robustness` example.

use crate::common::audited;
#[allow(dead_code, reason = "its main prints what this test asserts")]
#[path = "../../examples/robustness.rs"]
mod robustness;

use airsplit::{Network, Workspace};

/// The whole campaign: `cargo run --release --example robustness -- 100000`.
#[test]
fn prop_two_thousand_trees_find_their_balance() {
    let mut work = Workspace::default();
    let mut above_twelve = 0;
    for seed in 1..=2_000 {
        let case = robustness::Case::of(seed);
        let network = Network::new(&case.system).unwrap();
        let open = case.open(&network).unwrap();
        let balance = network.solve(&open, &mut work);
        let balance = balance.unwrap_or_else(|why| panic!("seed {seed}: {why}"));
        // The last pass only verifies.
        let steps = balance.quality().passes - 1;
        assert!(steps <= 20, "seed {seed}: {steps} steps");
        above_twelve += u32::from(steps > 12);
        if seed % 10 == 0 {
            audited::assert_sound(&case.system, &balance.to_point());
        }
    }
    assert!(above_twelve <= 2, "{above_twelve} of 2000 above 12 steps");
}
