//! What was measured in the shop, against what was calculated.

// Calibration, which calls it, comes after it.
#[cfg_attr(
    not(test),
    expect(dead_code, unused_imports, reason = "calibration will call it")
)]
mod fit;
