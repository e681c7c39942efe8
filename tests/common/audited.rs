//! Answers checked against the model alone, as the tests of networks expect them.
#![allow(dead_code, reason = "every test file uses its own share")]
#![allow(clippy::unwrap_used, reason = "a test that cannot go on must stop")]

use airsplit::{Audit, Junction, OperatingPoint, System, audit};

/// What rounding leaves of a sound answer, with room to spare: the worst seen is 5e-14.
pub(crate) const SOUND: f64 = 1e-12;

/// Asserts that an answer is sound.
pub(crate) fn assert_sound(system: &System, point: &OperatingPoint) -> Audit {
    let audit = audit(system, point).unwrap();
    assert!(audit.is_sound(SOUND), "{:?}\n{audit}", point.status);
    audit
}

/// The same, but for the losses in junctions where an inlet of a wye by formula carries no air: the
/// answer tells none there, see `prop_a_dead_branch_feels_its_wye`.
pub(crate) fn assert_sound_but_at_dead_wyes(system: &System, point: &OperatingPoint) -> bool {
    let dead = system
        .sections
        .iter()
        .zip(&point.sections)
        .any(|(at, state)| {
            let model = match &at.into {
                Some(into) => point.section(into.as_str()).unwrap().junction,
                None => system.collector.junction.or(Some(system.junction)),
            };
            let by_formula = matches!(model, Some(Junction::Gardel | Junction::Crane));
            by_formula && state.flow.as_m3_s() == 0.0
        });
    let audit = audit(system, point).unwrap();
    for (kind, found) in audit.kinds() {
        let known = dead && kind == "junctions";
        assert!(known || found.value <= SOUND, "{:?}\n{audit}", point.status);
    }
    dead
}
