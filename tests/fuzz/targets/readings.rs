//! Readings and calibration: the property is that of `tests/behaviour/prop_fuzz/readings.rs`.
#![no_main]

#[path = "../../behaviour/prop_fuzz/bytes.rs"]
mod bytes;
#[path = "../../behaviour/prop_fuzz/readings.rs"]
mod readings;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| readings::holds(bytes));
