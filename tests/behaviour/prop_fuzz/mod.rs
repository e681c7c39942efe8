//! What the fuzz targets of `tests/fuzz` assert, over their seeds, their findings and random bytes.
//!
//! A module here is one target: its `holds` takes any bytes and panics where a property does not
//! hold. The targets run the same functions for hours; see `DEVELOPERS.md`.
#![cfg(feature = "serde")]
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    reason = "a test that cannot go on must stop"
)]

mod balance;
mod bytes;
mod document;
mod fan;
mod findings;
mod network;
mod quantity;
mod readings;

use proptest::prelude::*;
use std::{fs, path::Path};

/// Runs every file of a target's seeds; there must be some.
fn over_seeds(target: &str, holds: fn(&[u8])) {
    let seeds = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/behaviour/prop_fuzz/seeds");
    let files: Vec<_> = fs::read_dir(seeds.join(target)).unwrap().collect();
    assert!(!files.is_empty());
    for file in files {
        holds(&fs::read(file.unwrap().path()).unwrap());
    }
}

#[test]
fn prop_seeds_hold() {
    over_seeds("quantity", quantity::holds);
    over_seeds("document", document::holds);
    over_seeds("network", network::holds);
    over_seeds("fan", fan::holds);
    over_seeds("readings", readings::holds);
    // The documents of the tests and the examples are seeds too.
    for text in [
        include_str!("../../data/documents/shop.toml"),
        include_str!("../../data/documents/every_word.toml"),
        include_str!("../../data/documents/little_known.toml"),
        include_str!("../../../examples/chair_shop.toml"),
    ] {
        document::holds(text.as_bytes());
    }
}

proptest! {
    #[test]
    fn prop_random_bytes_hold(bytes in prop::collection::vec(any::<u8>(), 0..400)) {
        quantity::holds(&bytes);
        document::holds(&bytes);
        network::holds(&bytes);
        fan::holds(&bytes);
        readings::holds(&bytes);
    }
}
