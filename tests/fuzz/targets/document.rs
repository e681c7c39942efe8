//! Documents of any bytes: the property is that of `tests/behaviour/prop_fuzz/document.rs`.
#![no_main]

#[path = "../../behaviour/prop_fuzz/balance.rs"]
mod balance;
#[path = "../../behaviour/prop_fuzz/document.rs"]
mod document;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| document::holds(bytes));
