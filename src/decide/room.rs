//! The room in series with the duct: what a small make-up opening costs, and what it does to flues.

use crate::{
    bore::Bore,
    loss::{LossError, Part, Port, Wall},
    place::Name,
    quantity::{Area, Density, Length, Pressure, VolumeFlow},
    solve::{Network, OperatingPoint, SolveError},
    system::{ModelErrors, Run, System, UnknownName},
};
use std::f64::consts::PI;

/// Suction in the room \[Pa\] at which a flue of natural draught is taken to fail: a typical limit,
/// from memory, no source read.
const DRAUGHT_LIMIT_PA: f64 = 5.0;

/// A room from which the air is blown out of the building, and the way in for fresh air.
///
/// The room falls below the open air by rho/2 (Q / (Cd A))^2, Q the flow of the fan, as behind any
/// orifice (the definition of Cd). Fresh air is taken to be of the density of the air in the ducts,
/// the room to be tight but for the opening, without other fans and without wind.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
#[non_exhaustive]
pub struct Room {
    /// Free area of all openings to the open air together, gaps of the building among them: 1 cm2
    /// to 100 m2.
    pub opening: Area,
    /// Discharge coefficient of the opening, 0.1 to 1; 0.62 for one with sharp edges (0.6 to 0.65;
    /// common practice, no source), less behind a louvre or a filter mat.
    #[cfg_attr(feature = "serde", serde(default = "sharp_edges"))]
    pub discharge_coefficient: f64,
    /// Where the air goes.
    #[cfg_attr(feature = "serde", serde(default))]
    pub exhaust: Exhaust,
}

/// Where the collector blows the air.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "snake_case")
)]
#[non_exhaustive]
pub enum Exhaust {
    /// Out of the building: all of it must come in again.
    #[default]
    Outdoors,
    /// Through its filter back into the room: the room stays as it is, whatever the opening.
    Room,
}

/// What the room does to a system, and the system to the room.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct RoomEffect {
    /// The answer with the room wide open.
    pub wide_open: OperatingPoint,
    /// The answer with the room as it is; its pressures are against the room, not the open air.
    pub as_it_is: OperatingPoint,
    /// Pressure in the room against the open air: 0 or less.
    pub room_pressure: Pressure,
    /// What the fan moves less for it: 0 or more.
    pub flow_lost: VolumeFlow,
    /// Opening with this discharge coefficient that surely keeps the suction to 5 Pa: that for the
    /// flow with the room wide open. `None` where the air returns to the room.
    pub opening_for_5_pa: Option<Area>,
    /// What it means for a stove, boiler or water heater with a flue in the building.
    pub caution: FlueCaution,
}

/// What a suction in the room means for flues.
///
/// Discharge outdoors depressurises the shop; combustion appliances may draw their smoke back, and
/// scant make-up air cuts the flow of hoods as well (UFC 3-410-04N, read, asks that replacement air
/// be determined; the OSHA Technical Manual, told by a second source, names both). The limit of 5 Pa
/// for natural draught is a typical figure from memory; no standard was read for it. Carbon monoxide
/// kills: the figure here clears nobody.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize),
    serde(rename_all = "snake_case")
)]
#[non_exhaustive]
pub enum FlueCaution {
    /// The air returns to the room: the collector draws nothing through a flue.
    AirReturns,
    /// The suction is less than 5 Pa: the draught of every flue is weaker by it.
    WeakerDraught,
    /// The suction is 5 Pa or more: flues of natural draught may blow back.
    MayBlowBack,
}

/// Why the effect of the room cannot be told.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum RoomError {
    /// An opening or coefficient out of its range.
    #[error("room: {0}")]
    Value(#[from] LossError),
    /// An open hood or machine that is unknown.
    #[error(transparent)]
    Unknown(#[from] UnknownName),
    /// Faults of the model.
    #[error(transparent)]
    Model(#[from] ModelErrors),
    /// No answer.
    #[error(transparent)]
    Solve(#[from] SolveError),
}

#[cfg(feature = "serde")]
fn sharp_edges() -> f64 {
    Room::SHARP_EDGES
}

impl Room {
    /// Discharge coefficient of an opening with sharp edges: 0.62. Common practice, no source.
    pub const SHARP_EDGES: f64 = 0.62;

    /// A room with this sharp-edged opening, its air blown outdoors.
    #[must_use]
    pub fn new(opening: Area) -> Self {
        Self {
            opening,
            discharge_coefficient: Self::SHARP_EDGES,
            exhaust: Exhaust::Outdoors,
        }
    }

    /// With another discharge coefficient.
    #[must_use]
    pub fn with_discharge_coefficient(mut self, coefficient: f64) -> Self {
        self.discharge_coefficient = coefficient;
        self
    }

    /// With the air going there.
    #[must_use]
    pub fn with_exhaust(mut self, exhaust: Exhaust) -> Self {
        self.exhaust = exhaust;
        self
    }

    /// Cd A \[m2\].
    fn effective_m2(&self) -> Result<f64, LossError> {
        let opening = self.opening.as_m2();
        let opening = LossError::within("make-up opening", opening, " m2", 1e-4, 100.0)?;
        let what = "discharge coefficient of the make-up opening";
        let cd = LossError::within(what, self.discharge_coefficient, "", 0.1, 1.0)?;
        Ok(cd * opening)
    }

    /// What the room does to a system with these hoods and machines open.
    ///
    /// The opening stands in series with everything that the fan moves, leaks of the duct among
    /// it, so its loss is charged once, on the whole flow.
    ///
    /// # Errors
    ///
    /// An opening or coefficient out of its range, an unknown name, faults of the model, or no
    /// answer.
    pub fn effect(&self, system: &System, open: &[Name]) -> Result<RoomEffect, RoomError> {
        let effective_m2 = self.effective_m2()?;
        let network = Network::new(system)?;
        let wide_open = network.operating_point(&network.open(open)?)?;
        if self.exhaust == Exhaust::Room {
            return Ok(RoomEffect {
                as_it_is: wide_open.clone(),
                wide_open,
                room_pressure: Pressure::from_pa(0.0),
                flow_lost: VolumeFlow::from_m3_s(0.0),
                opening_for_5_pa: None,
                caution: FlueCaution::AirReturns,
            });
        }
        let Charged { with_room, run } = in_series(system, effective_m2);
        let network = Network::new(&with_room)?;
        let mut as_it_is = network.operating_point(&network.open(open)?)?;
        let density = network.air().density;
        let suction = suction_pa(density, as_it_is.flow, effective_m2);
        run.take_back(&mut as_it_is, suction);
        let enough_m2 = wide_open.flow.as_m3_s()
            * (density.as_kg_m3() / (2.0 * DRAUGHT_LIMIT_PA)).sqrt()
            / self.discharge_coefficient;
        Ok(RoomEffect {
            flow_lost: wide_open.flow - as_it_is.flow,
            wide_open,
            as_it_is,
            room_pressure: Pressure::from_pa(-suction),
            opening_for_5_pa: Some(Area::from_m2(enough_m2)),
            caution: if suction < DRAUGHT_LIMIT_PA {
                FlueCaution::WeakerDraught
            } else {
                FlueCaution::MayBlowBack
            },
        })
    }
}

fn suction_pa(density: Density, flow: VolumeFlow, effective_m2: f64) -> f64 {
    density.as_kg_m3() / 2.0 * (flow.as_m3_s() / effective_m2).powi(2)
}

/// A system that pays for the way into the room.
struct Charged {
    with_room: System,
    run: ChargedRun,
}

/// The run of the collector that pays, always the last one.
enum ChargedRun {
    /// One of its own.
    Own,
    /// One that has a loss of its own as well.
    Shared,
}

/// Charges the opening at the end of the path, where the whole flow passes and nothing follows that
/// it could disturb: last in the last run after the fan; with a bare fan, in a run as wide as its
/// outlet, which leaves the exit velocity pressure as it is; where no outlet is known, last before
/// the fan.
fn in_series(system: &System, effective_m2: f64) -> Charged {
    let mut with_room = system.clone();
    let diameter = Length::from_m((4.0 * effective_m2 / PI).sqrt());
    // All of the velocity pressure in the free jet is lost.
    let opening = Part::Port(Port {
        size: Bore::Round(diameter),
        k: 1.0,
    });
    let main = system
        .sections
        .iter()
        .find(|section| section.into.is_none());
    let collector = &mut with_room.collector;
    let outlet = collector.fan.as_ref().and_then(|fan| fan.outlet());
    let lossless = |size| Run::new(size, Wall::Galvanised);
    let run = if let Some(last) = collector.after.last_mut() {
        last.parts.push(opening);
        ChargedRun::Shared
    } else if let Some(outlet) = outlet {
        collector.after.push(lossless(outlet).with_part(opening));
        ChargedRun::Own
    } else if let Some(last) = collector.before.last_mut() {
        last.parts.push(opening);
        ChargedRun::Shared
    } else {
        // A single main, or the model would have asked for the adapter.
        let main = main.map(|main| lossless(main.size).with_part(opening));
        collector.before.extend(main);
        ChargedRun::Own
    };
    Charged { with_room, run }
}

impl ChargedRun {
    /// Takes the opening out of the figures of the run, which has no such part.
    fn take_back(&self, point: &mut OperatingPoint, suction_pa: f64) {
        let suction = Pressure::from_pa(suction_pa);
        match self {
            Self::Own => drop(point.collector.pop()),
            Self::Shared => {
                if let Some(run) = point.collector.last_mut() {
                    run.loss = run.loss - suction;
                    run.total_pressure = run.total_pressure + suction;
                    run.static_pressure = run.static_pressure + suction;
                }
            }
        }
    }
}

/// What to tell the owner.
impl std::fmt::Display for FlueCaution {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Self::AirReturns => {
                "the air returns to the room, so the collector draws nothing through a flue"
            }
            Self::WeakerDraught => {
                "every flue in the building draws less by the suction in the room; \
                 have flued appliances tested with the collector running"
            }
            Self::MayBlowBack => {
                "stoves, boilers and water heaters with a flue may blow their smoke back into the \
                 room, and carbon monoxide kills: open more for make-up air, and have flued \
                 appliances tested with the collector running"
            }
        })
    }
}

#[cfg(test)]
mod tests {
    use super::FlueCaution;

    #[test]
    fn every_caution_says_what_it_means() {
        for (caution, said) in [
            (FlueCaution::AirReturns, "draws nothing through a flue"),
            (
                FlueCaution::WeakerDraught,
                "every flue in the building draws less",
            ),
            (FlueCaution::MayBlowBack, "carbon monoxide kills"),
        ] {
            assert!(caution.to_string().contains(said), "{caution}");
        }
    }
}
