//! What the gradient says of an upgrade whose changes are changes of numbers alone.

use super::{SkipReason, Upgrade};
use crate::{
    loss::Entry,
    place::{Name, Place},
    solve::{Gradient, Network, Output},
    system::{Change, Parameter, Start, System},
};

/// The gradient of one machine's flow in one open set of the system as it is.
pub(super) struct FirstOrder<'a> {
    system: &'a System,
    gradient: Gradient,
    required_m3s: f64,
}

impl<'a> FirstOrder<'a> {
    pub(super) fn of(
        system: &'a System,
        network: &Network,
        machine: &Name,
        required_m3s: f64,
        open: &[Name],
    ) -> Result<Self, SkipReason> {
        let output = Output::Machine(machine.clone());
        let gradient = network
            .gradient(&network.open(open)?, &output)
            .map_err(|error| {
                let open = open.to_vec();
                SkipReason::Unsolved { open, error }
            })?;
        Ok(Self {
            system,
            gradient,
            required_m3s,
        })
    }

    /// What the upgrade changes of the machine's share of its need; `None` where a change is not
    /// one of numbers, or where a number cannot be changed either way.
    pub(super) fn change(&self, upgrade: &Upgrade) -> Option<f64> {
        let changes = &upgrade.changes;
        if !changes.iter().all(|change| self.is_of_numbers(change)) {
            return None;
        }
        let changed = self.system.changed(changes).ok()?;
        let settings = Network::new(&changed).ok()?.settings();
        let slopes = &self.gradient.sensitivities;
        if settings.len() != slopes.len() {
            return None;
        }
        let mut flow_m3s = 0.0;
        for (slope, setting) in slopes.iter().zip(&settings) {
            // Another form of a thing has other numbers: a round bore made rectangular.
            if (&slope.place, slope.parameter) != (&setting.place, setting.parameter) {
                return None;
            }
            let step = match slope.parameter {
                // A fan that was sped up stands at speed 1 again.
                Parameter::Speed => speed_step(changes),
                // Follows from the bore there, whose slope holds it.
                _ if follows(&slope.place, changes) => 0.0,
                _ => setting.value - slope.value,
            };
            if step != 0.0 {
                flow_m3s += slope.derivative * step;
            }
        }
        Some(flow_m3s / self.required_m3s).filter(|share| share.is_finite())
    }

    /// Whether a change can be one of numbers alone. Where it is one only between things of one
    /// form, the numbers themselves tell: those of another form do not match.
    fn is_of_numbers(&self, change: &Change) -> bool {
        match change {
            Change::Size { .. }
            | Change::Wall { .. }
            | Change::Tightness { .. }
            | Change::Duct { .. }
            | Change::Hose { .. }
            | Change::HoseKind { .. }
            | Change::Slack { .. }
            | Change::Transition { .. }
            | Change::Gate { .. }
            | Change::JoinAngle { .. }
            | Change::JoinK { .. }
            | Change::FanSpeed { .. } => true,
            // Hoods of another shape may differ in what is no number.
            Change::Entry { hood, to } => {
                matches!(to, Entry::K(_))
                    && self.system.sections.iter().any(|section| {
                        matches!(&section.start, Start::Hood(own)
                            if own.id == *hood && matches!(own.entry, Entry::K(_)))
                    })
            }
            Change::HoseToDuct { .. }
            | Change::Elbows { .. }
            | Change::Filter { .. }
            | Change::FilterState { .. }
            | Change::Separator { .. }
            | Change::Collector(_)
            | Change::AddSection(_)
            | Change::ReplaceSection(_)
            | Change::RemoveSection { .. } => false,
        }
    }
}

/// By how much the speed of the fan changes, over that of its curve.
fn speed_step(changes: &[Change]) -> f64 {
    let ratio = changes.iter().find_map(|change| match change {
        Change::FanSpeed { ratio } => Some(*ratio),
        _ => None,
    });
    ratio.map_or(0.0, |ratio| ratio - 1.0)
}

/// Whether it is a hood that no change is aimed at: its coefficient changes with the bore that it
/// stands on, or not at all.
fn follows(place: &Place, changes: &[Change]) -> bool {
    let Place::Hood(hood) = place else {
        return false;
    };
    let aimed_at = |change: &Change| matches!(change, Change::Entry { hood: at, .. } if at == hood);
    !changes.iter().any(aimed_at)
}
