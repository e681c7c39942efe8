//! Fan curves of any points: the property is that of `tests/behaviour/prop_fuzz/fan.rs`.
#![no_main]

#[path = "../../behaviour/prop_fuzz/bytes.rs"]
mod bytes;
#[path = "../../behaviour/prop_fuzz/fan.rs"]
mod fan;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| fan::holds(bytes));
