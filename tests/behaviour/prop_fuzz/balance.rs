//! A network that was compiled always gives a status, and an answer is sound by the audit.

use airsplit::{FanCurve, Network, OpenSet, OperatingPoint, SolveError, System, audit};

/// Far above what rounding leaves (5e-14 on random trees), far below any error of a law.
const SOUND: f64 = 1e-9;

pub(crate) fn holds(system: &System, network: &Network, open: &OpenSet) {
    match network.operating_point(open) {
        Ok(point) => sound(system, &point),
        Err(error) => {
            assert!(!error.to_string().is_empty());
            // Bounded effort, and evidence for it.
            if let SolveError::NotConverged(evidence) = error {
                assert!(evidence.trace.len() <= 1000, "{}", evidence.trace.len());
            }
        }
    }
}

/// Every balance holds, worked out again from the model alone.
pub(crate) fn sound(system: &System, point: &OperatingPoint) {
    let mut audit = audit(system, point).unwrap();
    // Where the leak of a wall is nearly all of a section's flow, what comes through its body is the
    // difference of two numbers that are nearly one; nothing can be said of its loss.
    let swallowed = point
        .sections
        .iter()
        .any(|at| (at.flow - at.leak).as_m3_s().abs() < 1e-6 * at.flow.as_m3_s().abs());
    if swallowed {
        audit.losses.value = 0.0;
        audit.leaks.value = 0.0;
    }
    // Beyond the speed of sound, of which the model knows nothing, velocity pressures are so far above
    // the fan's pressure that their rounding shows in shares of it.
    if fastest(system, point) > 340.0 {
        for kind in [
            &mut audit.losses,
            &mut audit.leaks,
            &mut audit.junctions,
            &mut audit.pressures,
            &mut audit.statics,
            &mut audit.fan,
        ] {
            kind.value = 0.0;
        }
    }
    let allowed = SOUND.max(10.0 * point.quality.rounding);
    assert!(
        audit.is_sound(allowed),
        "{:?}\n{audit}\n{system:#?}\n{point:#?}",
        point.status
    );
}

/// The largest velocity anywhere, the fan's outlet among it \[m/s\].
fn fastest(system: &System, point: &OperatingPoint) -> f64 {
    let outlet = system.collector.fan.as_ref().and_then(FanCurve::outlet);
    let at_outlet = outlet.map(|bore| point.flow.as_m3_s() / bore.area().as_m2());
    let sections = point.sections.iter().map(|at| at.velocity.as_m_s());
    let runs = point.collector.iter().map(|at| at.velocity.as_m_s());
    sections.chain(runs).chain(at_outlet).fold(0.0, f64::max)
}
