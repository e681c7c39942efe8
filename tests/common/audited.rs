//! Answers checked against the model alone, as the tests of networks expect them.

use airsplit::{Audit, OperatingPoint, System, audit};

/// What rounding leaves of a sound answer, with room to spare: the worst seen is 5e-14.
pub(crate) const SOUND: f64 = 1e-12;

/// Asserts that an answer is sound.
pub(crate) fn assert_sound(system: &System, point: &OperatingPoint) -> Audit {
    let audit = audit(system, point).unwrap();
    assert!(audit.is_sound(SOUND), "{:?}\n{audit}", point.status);
    audit
}
