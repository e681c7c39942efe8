//! The answer as owned data with names.

use super::quality::{Quality, Status};
use crate::{
    bore::Bore,
    loss::{Junction, Note},
    place::{Name, Place},
    quantity::{Pressure, Velocity, VolumeFlow},
    system::{UnknownName, unknown},
};

/// Where the fan settles, how the air splits and where the pressure goes: owned data with names.
///
/// Gauge pressures, the room at 0: a suction is negative.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct OperatingPoint {
    /// How the answer stands; read it before the figures.
    pub status: Status,
    /// Total flow, at the fan.
    pub flow: VolumeFlow,
    /// The fan.
    pub fan: FanState,
    /// Every hood, in the order of their sections.
    pub hoods: Vec<HoodState>,
    /// Every machine, in the order of the model.
    pub machines: Vec<MachineState>,
    /// Every section, in the order of the model.
    pub sections: Vec<SectionState>,
    /// Every run of the collector, in flow order.
    pub collector: Vec<RunState>,
    /// Where a loss law was used outside the range it was tested in.
    pub notes: Vec<(Place, Note)>,
    /// Parts of the collector that the fan's curve contains already, charged nothing.
    pub in_fan_curve: Vec<Place>,
    /// How good the answer is.
    pub quality: Quality,
}

/// The fan at the operating point.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct FanState {
    /// Pressure on the curve's own basis, at the density of the air in the ducts.
    pub curve_pressure: Pressure,
    /// Fan total pressure: outlet total minus inlet total. `None` when the size of the fan's
    /// outlet is needed for it and not known.
    pub total_pressure: Option<Pressure>,
    /// Fan static pressure: fan total pressure minus the velocity pressure at the outlet. `None`
    /// when the size of the fan's outlet is needed for it and not known.
    pub static_pressure: Option<Pressure>,
    /// Whether the curve was guessed from two numbers: then every figure is a rough guess, and
    /// [`FanCurve::low_case`](crate::FanCurve::low_case) tells how little it may be.
    pub estimated: bool,
    /// Where the answer lies beyond the curve: what the curve's last point gives and what the
    /// system would need there.
    pub curve_end: Option<CurveEnd>,
}

/// The end of a fan's curve, where the system asks for less than the fan still gives.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct CurveEnd {
    /// Flow of the last published point.
    pub flow: VolumeFlow,
    /// What the fan gives there, on the curve's basis, at the density of the air in the ducts.
    pub given: Pressure,
    /// What the system needs there, on the same basis.
    pub needed: Pressure,
}

/// A hood at the operating point.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct HoodState {
    /// Its name.
    pub name: Name,
    /// The section it stands on.
    pub section: Name,
    /// The machine it serves.
    pub machine: Option<Name>,
    /// Whether it is open.
    pub open: bool,
    /// What it takes in.
    pub flow: VolumeFlow,
    /// What it needs by itself, where that was said.
    pub required: Option<VolumeFlow>,
    /// Static pressure just behind it, in its section: (1 + K) velocity pressures of suction.
    pub static_pressure: Pressure,
}

/// A machine at the operating point.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct MachineState {
    /// Its name.
    pub name: Name,
    /// Whether any of its hoods is open.
    pub open: bool,
    /// What its hoods take in together.
    pub flow: VolumeFlow,
    /// What they need together.
    pub required: VolumeFlow,
}

impl MachineState {
    /// Flow over required flow; 1 is just enough. Infinite where nothing is required.
    #[must_use]
    pub fn share(&self) -> f64 {
        self.flow.as_m3_s() / self.required.as_m3_s()
    }
}

/// A section at the operating point.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct SectionState {
    /// Its name.
    pub id: Name,
    /// Its size.
    pub size: Bore,
    /// Flow at its downstream end.
    pub flow: VolumeFlow,
    /// Share of that flow that leaks in through its walls.
    pub leak: VolumeFlow,
    /// Mean velocity.
    pub velocity: Velocity,
    /// Velocity pressure of the mean velocity.
    pub velocity_pressure: Pressure,
    /// Loss of total pressure from its upstream end to its downstream end, the hood's entry in it
    /// and the junction not.
    pub loss: Pressure,
    /// Loss of total pressure in the junction that it drains into. Below zero where the faster
    /// stream of another inlet pulls it along.
    pub junction_loss: Pressure,
    /// Model of the junction at its upstream end, as resolved; `None` where fewer than two sections
    /// meet there.
    pub junction: Option<Junction>,
    /// Total pressure at its downstream end, before the junction.
    pub total_pressure: Pressure,
    /// Static pressure at its downstream end, before the junction: what a tap in its wall reads.
    pub static_pressure: Pressure,
}

/// A run of the collector at the operating point.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct RunState {
    /// Which run.
    pub place: Place,
    /// Its size.
    pub size: Bore,
    /// Mean velocity.
    pub velocity: Velocity,
    /// Velocity pressure of the mean velocity.
    pub velocity_pressure: Pressure,
    /// Loss of total pressure along it.
    pub loss: Pressure,
    /// Total pressure at its downstream end.
    pub total_pressure: Pressure,
    /// Static pressure at its downstream end.
    pub static_pressure: Pressure,
}

impl OperatingPoint {
    /// The machine of that name.
    ///
    /// # Errors
    ///
    /// When there is none, with the names that exist, nearest first.
    pub fn machine(&self, name: &str) -> Result<&MachineState, UnknownName> {
        find("machine", name, &self.machines, |machine| &machine.name)
    }

    /// The hood of that name.
    ///
    /// # Errors
    ///
    /// When there is none, with the names that exist, nearest first.
    pub fn hood(&self, name: &str) -> Result<&HoodState, UnknownName> {
        find("hood", name, &self.hoods, |hood| &hood.name)
    }

    /// The section of that name.
    ///
    /// # Errors
    ///
    /// When there is none, with the names that exist, nearest first.
    pub fn section(&self, name: &str) -> Result<&SectionState, UnknownName> {
        find("section", name, &self.sections, |section| &section.id)
    }
}

/// The one of that name.
pub(super) fn find<'a, T>(
    what: &'static str,
    name: &str,
    among: &'a [T],
    name_of: impl Fn(&T) -> &Name,
) -> Result<&'a T, UnknownName> {
    among
        .iter()
        .find(|one| name_of(one).as_str() == name)
        .ok_or_else(|| unknown(what, name, among.iter().map(name_of)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_machine_has_a_share_of_what_it_needs() {
        let machine = |flow, required| MachineState {
            name: "saw".into(),
            open: true,
            flow: VolumeFlow::from_m3_s(flow),
            required: VolumeFlow::from_m3_s(required),
        };
        assert_eq!(machine(0.375, 0.25).share(), 1.5);
        assert_eq!(machine(0.125, 0.25).share(), 0.5);
    }
}
