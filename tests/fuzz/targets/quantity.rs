//! Text of quantities: the property is that of `tests/behaviour/prop_fuzz/quantity.rs`.
#![no_main]

#[path = "../../behaviour/prop_fuzz/quantity.rs"]
mod quantity;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| quantity::holds(bytes));
