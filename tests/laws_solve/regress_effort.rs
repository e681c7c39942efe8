//! How many passes the reference networks take: a change here is a change of the solver's effort,
//! to be made on purpose.

#![cfg(feature = "serde")]
#![allow(clippy::unwrap_used, reason = "a test that cannot go on must stop")]

use airsplit::{Junction, Network, Study, VolumeFlow, Workspace};
use std::fmt::Write as _;

#[test]
fn regress_passes_of_the_reference_networks() {
    let mut told = String::new();
    let mut work = Workspace::default();
    for (name, text) in [
        ("chair shop", include_str!("../../examples/chair_shop.toml")),
        ("exhaust tree", include_str!("../data/exhaust_tree.toml")),
        ("hood and fan", include_str!("../data/hood_and_fan.toml")),
    ] {
        for junction in [Junction::Momentum, Junction::FixedK] {
            let mut study: Study = toml::from_str(text).unwrap();
            study.system.junction = junction;
            let Ok(network) = Network::new(&study.system) else {
                // The chair shop's document has no fixed coefficients.
                continue;
            };
            let open = network.open_all();
            let fan = network.solve(&open, &mut work).unwrap().quality().passes;
            let flow = VolumeFlow::from_m3_s(0.3);
            let imposed = network.solve_at_flow(&open, flow, &mut work).unwrap();
            let imposed = imposed.quality().passes;
            writeln!(
                told,
                "{name}, {junction:?}: {fan} with its fan, {imposed} at 0.3 m3/s"
            )
            .unwrap();
        }
    }
    insta::assert_snapshot!(told, @r"
    chair shop, Momentum: 4 with its fan, 5 at 0.3 m3/s
    exhaust tree, Momentum: 5 with its fan, 4 at 0.3 m3/s
    exhaust tree, FixedK: 5 with its fan, 4 at 0.3 m3/s
    hood and fan, Momentum: 2 with its fan, 2 at 0.3 m3/s
    hood and fan, FixedK: 2 with its fan, 2 at 0.3 m3/s
    ");
}
