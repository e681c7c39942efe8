//! Readings and calibration: the property is that of `tests/prop_fuzz/readings.rs`.
#![no_main]

#[path = "../../prop_fuzz/bytes.rs"]
mod bytes;
#[path = "../../prop_fuzz/readings.rs"]
mod readings;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| readings::holds(bytes));
