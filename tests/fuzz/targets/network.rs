//! Systems of any shape, and their balance: the property is that of `tests/prop_fuzz/network.rs`.
#![no_main]

#[path = "../../prop_fuzz/bytes.rs"]
mod bytes;
#[path = "../../prop_fuzz/balance.rs"]
mod balance;
#[path = "../../prop_fuzz/network.rs"]
mod network;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| network::holds(bytes));
