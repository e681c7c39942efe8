//! What was measured in the shop, against what was calculated.

#[cfg_attr(not(test), expect(dead_code, reason = "calibration will call it"))]
#[expect(unused_imports, reason = "calibration will name them")]
mod fit;
