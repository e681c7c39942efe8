//! Systems of any shape, and their balance: the property is that of
//! `tests/behaviour/prop_fuzz/network.rs`.
#![no_main]

#[path = "../../behaviour/prop_fuzz/bytes.rs"]
mod bytes;
#[path = "../../behaviour/prop_fuzz/balance.rs"]
mod balance;
#[path = "../../behaviour/prop_fuzz/network.rs"]
mod network;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| network::holds(bytes));
