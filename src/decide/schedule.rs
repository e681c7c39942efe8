//! Which gates to open for each machine: the list on the wall.

use super::{
    Companions, GateError, SlowestSection, TransportLimits,
    transport::{HINT, Needs, Ways, hood_flows, list},
};
use crate::{
    place::Name,
    quantity::VolumeFlow,
    solve::{Network, SolveError, Status},
    system::System,
};
use std::fmt;

/// For every machine the gates to open, and what comes of it: the list on the wall.
///
/// `Display` writes it, one machine a line.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct GateSchedule {
    /// One for each machine with an answer, in the order of the model.
    pub rows: Vec<GateRow>,
    /// The machines without one.
    pub failures: Vec<RowFailure>,
}

/// What one machine needs when it runs alone.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct GateRow {
    /// The machine.
    pub machine: Name,
    /// Its own hoods, whose gates to open.
    pub gates: Vec<Name>,
    /// What they take in together with these open and all others shut.
    pub flow: VolumeFlow,
    /// What they need together.
    pub required: VolumeFlow,
    /// Whether that is enough, for the machine and for each hood that needs something by itself.
    pub enough: bool,
    /// The slowest section on its way to the fan.
    pub slowest: SlowestSection,
    /// Which further gates make the air fast enough there.
    pub companions: Companions,
    /// How the answer stands, without further gates.
    pub status: Status,
}

/// A machine whose own gates give no answer.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct RowFailure {
    /// The machine.
    pub machine: Name,
    /// Why; serialised as text.
    #[cfg_attr(feature = "serde", serde(serialize_with = "crate::solve::as_text"))]
    pub error: SolveError,
}

/// The gates to open for each machine when it runs alone.
///
/// Where a section on the machine's way (one with an open hood of it upstream) is slower than its
/// limit, further gates are looked for: the fewest that bring every section of the way to its
/// limit while the machine and its hoods keep what they need; if no set of up to
/// [`TransportLimits::most_further`] can keep that, the fewest that do without. Among as many gates
/// the set that leaves the machine most air is told, and among equals the first by name. The way of
/// the further gates themselves is not judged: no dust enters there.
///
/// Every set is solved, so with `n` further gates to choose from this costs up to the sum of
/// n-choose-k solves for each machine that needs it.
///
/// ```
/// # use airsplit::*;
/// # fn main() -> Result<(), Box<dyn std::error::Error>> {
/// # #[cfg(feature = "serde")] {
/// let study: Study = toml::from_str(&std::fs::read_to_string("examples/chair_shop.toml")?)?;
/// let limits = TransportLimits::new("15 m/s".parse()?);
/// let schedule = gate_schedule(&study.system, &limits)?;
/// let mortiser = schedule.row("mortiser").unwrap();
/// assert!(mortiser.enough && !mortiser.slowest.is_fast_enough());
/// # }
/// # Ok(())
/// # }
/// ```
///
/// # Errors
///
/// A fault of the model, a limit that is no velocity or of an unknown section, or more sets of
/// further gates than can be solved. A machine without an answer is no error: it stands in
/// [`GateSchedule::failures`].
pub fn gate_schedule(system: &System, limits: &TransportLimits) -> Result<GateSchedule, GateError> {
    let network = Network::new(system)?;
    let ways = Ways::new(system, limits)?;
    let mut schedule = GateSchedule {
        rows: Vec::new(),
        failures: Vec::new(),
    };
    for machine in &system.machines {
        let own = system.hoods_of(&machine.id);
        let gates: Vec<Name> = own.map(|(_, hood)| hood.id.clone()).collect();
        let point = network
            .open(&gates)
            .map_err(SolveError::from)
            .and_then(|open| network.operating_point(&open));
        let point = match point {
            Ok(point) => point,
            Err(error) => {
                schedule.failures.push(RowFailure {
                    machine: machine.id.clone(),
                    error,
                });
                continue;
            }
        };
        let in_use: Vec<bool> = point.hoods.iter().map(|hood| hood.open).collect();
        let (slowest, companions) = ways.judge(&network, &point)?;
        schedule.rows.push(GateRow {
            machine: machine.id.clone(),
            gates,
            flow: point.machine(machine.id.as_str())?.flow,
            required: machine.required,
            enough: Needs::of(system, &in_use).are_met(&hood_flows(&point)),
            slowest,
            companions,
            status: point.status,
        });
    }
    Ok(schedule)
}

impl GateSchedule {
    /// The row of a machine, if it has one.
    #[must_use]
    pub fn row(&self, machine: &str) -> Option<&GateRow> {
        self.rows.iter().find(|row| row.machine.as_str() == machine)
    }
}

impl fmt::Display for GateSchedule {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let machines = self.rows.iter().map(|row| &row.machine);
        let machines = machines.chain(self.failures.iter().map(|failure| &failure.machine));
        let width = machines.map(|name| name.as_str().chars().count()).max();
        let width = width.unwrap_or(0);
        for row in &self.rows {
            let hint = match row.status {
                Status::Converged => String::new(),
                _ => format!(" ({HINT})"),
            };
            writeln!(
                f,
                "{:width$}  open {}: {:.0} of {:.0} m3/h{}; slowest {:.1} m/s in {}; {}{hint}",
                row.machine,
                list(&row.gates),
                row.flow.as_m3_s() * 3600.0,
                row.required.as_m3_s() * 3600.0,
                if row.enough { "" } else { ", too little" },
                row.slowest.velocity.as_m_s(),
                row.slowest.section,
                row.companions,
            )?;
        }
        for failure in &self.failures {
            writeln!(f, "{:width$}  {}", failure.machine, failure.error)?;
        }
        f.write_str("All other gates shut. An analysis of some open gates, not a design basis.")
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Velocity, decide::by_hand::shop};

    #[test]
    fn only_an_answer_outside_the_curve_is_called_a_hint() {
        let limits = TransportLimits::new(Velocity::from_m_s(0.0));
        let mut schedule = gate_schedule(&shop(), &limits).unwrap();
        assert!(schedule.rows.len() == 2 && schedule.failures.is_empty());
        schedule.rows[0].status = Status::Converged;
        schedule.rows[1].status = Status::BeyondCurve;
        let text = schedule.to_string();
        let hints: Vec<bool> = text.lines().map(|line| line.contains(HINT)).collect();
        assert_eq!(hints, [false, true, false], "{text}");
    }
}
