//! Readings that could be taken, for [`Calibration::next_readings`](super::Calibration::next_readings).

use super::{error::SurveyError, observation::Observation};
use crate::{
    place::Name,
    solve::{Network, Output, SolveError, Workspace},
    system::System,
};
use std::collections::HashSet;

/// Standard uncertainty of a manometer near zero \[Pa\]: 2.5 Pa either way. Common practice, no source.
const LEAST_PA: f64 = 1.5;

/// Every reading that one could take in these open sets: the flow of each open hood, the static
/// pressure behind it and at the end of each section with air, and at the end of each run before
/// the fan.
///
/// A flow is taken to be known to `flow_share` of it, as a standard uncertainty, a pressure to
/// `pressure_share` of it and 1.5 Pa (common practice, no source).
///
/// # Errors
///
/// A share that is not above 0, a model with faults, a name that is not there, no balance.
pub fn possible_readings(
    system: &System,
    open_sets: &[Vec<Name>],
    flow_share: f64,
    pressure_share: f64,
) -> Result<Vec<Observation>, SurveyError> {
    let all = || Name::from("every possible reading");
    for (what, value) in [
        ("share of a flow", flow_share),
        ("share of a pressure", pressure_share),
    ] {
        if !(value.is_finite() && value > 0.0) {
            return Err(SurveyError::Number {
                id: all(),
                what,
                value,
                unit: "",
                must: "above 0, and finite",
            });
        }
    }
    let network =
        Network::new(system).map_err(|errors| SurveyError::Model { id: all(), errors })?;
    let mut work = Workspace::default();
    let mut possible: Vec<Observation> = Vec::new();
    let mut seen = HashSet::new();
    for names in open_sets {
        let set: Vec<&str> = names.iter().map(Name::as_str).collect();
        let set = set.join(", ");
        let failed = |error: SolveError| SurveyError::Solve {
            id: format!("with {set} open").into(),
            error,
        };
        let open = network.open(names).map_err(|error| failed(error.into()))?;
        let point = network.solve(&open, &mut work).map_err(failed)?.to_point();
        let flows = point
            .hoods
            .iter()
            .filter(|hood| hood.open)
            .flat_map(|hood| {
                let flow = hood.flow.as_m3_s();
                let behind = hood.static_pressure.as_pa();
                [
                    (Output::Hood(hood.name.clone()), flow),
                    (Output::HoodStatic(hood.name.clone()), behind),
                ]
            });
        let sections = point.sections.iter().filter(|at| at.flow.as_m3_s() > 0.0);
        let ends = sections.map(|at| {
            let pressure = at.static_pressure.as_pa();
            (Output::SectionStatic(at.id.clone()), pressure)
        });
        let before = 0..system.collector.before.len();
        let before = before.zip(&point.collector);
        let runs = before.map(|(run, at)| (Output::BeforeStatic(run), at.static_pressure.as_pa()));
        for (output, value) in flows.chain(ends).chain(runs) {
            let standard = match output {
                Output::Hood(_) => flow_share * value,
                _ => (pressure_share * value).hypot(LEAST_PA),
            };
            if standard > 0.0 {
                let id = format!("{output}, with {set} open");
                // Of two sets alike the first.
                if seen.insert(id.clone()) {
                    let reading = Observation::new(id, output, value, standard);
                    possible.push(reading.with_open(names.iter().cloned()));
                }
            }
        }
    }
    Ok(possible)
}
