//! A reading as it is written down, and the number that it comes down to.

use super::{
    CentreReading, HoodSuction, Instrument, MeasuredFlow, ReadingNote, Station, Traverse,
    VaneReading,
    error::SurveyError,
    observation::{Observation, Setup},
};
use crate::{
    air::Air,
    bore::Bore,
    loss::{Entry, Wall},
    place::{Name, Place},
    quantity::{Pressure, VolumeFlow},
    solve::Output,
    system::{Hood, Start, System},
};

/// A reading: where, what was open, what was shown.
///
/// ```
/// # #[cfg(feature = "serde")]
/// # fn main() -> Result<(), Box<dyn std::error::Error>> {
/// #[derive(serde::Deserialize)]
/// struct Sheet { reading: Vec<airsplit::Reading> }
/// let sheet: Sheet = toml::from_str(r#"
///     [[reading]]
///     id = "planer, centre of the drop"
///     at = { section = "planer drop" }
///     open = ["planer"]
///     shows = { centre = { velocity_pressure = "1.1 in wg", upstream = "5 ft" } }
///     [[reading]]
///     id = "lathe, vane in the open pipe"
///     at = { hood = "lathe scoop" }
///     open = ["lathe"]
///     setup = { unplugged = "plain" }
///     shows = { vane = { velocities = ["3600 fpm"], head = "70 mm" } }
///     [[reading]]
///     id = "main, tap"
///     at = { section = "main east" }
///     open = ["planer", "lathe"]
///     shows = { static = { pressure = "-6.2 in wg" } }
/// "#)?;
/// assert_eq!(sheet.reading.len(), 3);
/// # Ok(())
/// # }
/// # #[cfg(not(feature = "serde"))]
/// # fn main() {}
/// ```
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
#[non_exhaustive]
pub struct Reading {
    /// What it is called, unlike any other.
    pub id: Name,
    /// Where: a hood, a section, a machine (its hoods together), the fan (all air, or the suction at
    /// its inlet) or a run before the fan.
    pub at: Place,
    /// Names of the hoods and machines that were open.
    pub open: Vec<Name>,
    /// What was shown.
    pub shows: Shows,
    /// How the system was changed by reading it.
    #[cfg_attr(
        feature = "serde",
        serde(default, skip_serializing_if = "super::is_default")
    )]
    pub setup: Setup,
    /// The air at the time; `None`: that of the system.
    #[cfg_attr(
        feature = "serde",
        serde(default, skip_serializing_if = "Option::is_none")
    )]
    pub air: Option<Air>,
}

/// What an instrument showed.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "snake_case", deny_unknown_fields)
)]
#[non_exhaustive]
pub enum Shows {
    /// A flow, found by other means.
    Flow {
        /// The flow.
        flow: VolumeFlow,
        /// Its standard uncertainty, above 0.
        standard: VolumeFlow,
    },
    /// Velocities or velocity pressures at the points of a traverse; in a section, or a run before
    /// the fan.
    Traverse(Traverse),
    /// Velocity or velocity pressure at the centre of the duct; likewise.
    Centre(CentreReading),
    /// A vane in the open end of a hood.
    Vane(VaneReading),
    /// The static suction behind a hood, and what follows for its flow from its coefficient.
    HoodSuction(HoodSuction),
    /// The static pressure at a tap: behind a hood, at the downstream end of a section or run, at the
    /// fan's inlet.
    Static {
        /// Against the room: a suction is negative.
        pressure: Pressure,
        /// What it was read with.
        #[cfg_attr(feature = "serde", serde(default = "static_tap"))]
        instrument: Instrument,
    },
}

#[cfg(feature = "serde")]
const fn static_tap() -> Instrument {
    Instrument::StaticTap
}

/// What a reading comes down to, by [`Reading::observe`].
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct Observed {
    /// The number, to be compared and fitted.
    pub observation: Observation,
    /// What the reading does not deserve.
    pub notes: Vec<ReadingNote>,
}

impl Reading {
    /// A reading with nothing changed for it, in the air of the system.
    #[must_use]
    pub fn new<N: Into<Name>>(
        id: impl Into<Name>,
        at: Place,
        open: impl IntoIterator<Item = N>,
        shows: Shows,
    ) -> Self {
        Self {
            id: id.into(),
            at,
            open: open.into_iter().map(Into::into).collect(),
            shows,
            setup: Setup::default(),
            air: None,
        }
    }

    /// In a system that was changed so for reading.
    #[must_use]
    pub fn in_setup(mut self, setup: Setup) -> Self {
        self.setup = setup;
        self
    }

    /// In this air.
    #[must_use]
    pub fn in_air(mut self, air: Air) -> Self {
        self.air = Some(air);
        self
    }

    /// The number that it comes down to, with its uncertainty.
    ///
    /// Flow is mean velocity times inside area; two openings of one machine are summed (common
    /// practice, no source). The inside of the duct, its wall and the hood's entry are those of the
    /// system, the density that of the air at the time.
    ///
    /// # Errors
    ///
    /// [`SurveyError`]: a place that is not there or where this cannot be read, a value that cannot
    /// be.
    pub fn observe(&self, system: &System) -> Result<Observed, SurveyError> {
        let flow = |output: Output, measured: MeasuredFlow, setup: &Setup| Observed {
            observation: Observation {
                id: self.id.clone(),
                output,
                open: self.open.clone(),
                setup: setup.clone(),
                air: self.air,
                value: measured.flow.as_m3_s(),
                standard: measured.standard.as_m3_s(),
            },
            notes: measured.notes,
        };
        let measuring = |error| SurveyError::Measuring {
            id: self.id.clone(),
            error: Box::new(error),
        };
        Ok(match &self.shows {
            Shows::Flow { flow, standard } => Observed {
                observation: Observation {
                    setup: self.setup.clone(),
                    air: self.air,
                    ..Observation::new(
                        self.id.clone(),
                        self.flow_at()?,
                        flow.as_m3_s(),
                        standard.as_m3_s(),
                    )
                    .with_open(self.open.iter().cloned())
                },
                notes: Vec::new(),
            },
            Shows::Traverse(traverse) => {
                let spot = self.spot(system)?;
                let measured = traverse.flow(&spot.station).map_err(measuring)?;
                flow(self.flow_at()?, measured, &self.setup)
            }
            Shows::Centre(centre) => {
                let spot = self.spot(system)?;
                let measured = spot
                    .centre(centre)
                    .and_then(|centre| centre.flow(&spot.station));
                flow(self.flow_at()?, measured.map_err(measuring)?, &self.setup)
            }
            Shows::Vane(vane) => {
                let spot = self.spot(system)?;
                if spot.hood.is_none() {
                    return Err(self.cannot("a vane in the open end", "a hood"));
                }
                let measured = vane.flow(&spot.station).map_err(measuring)?;
                let mut setup = self.setup.clone();
                if setup.blocked == 0.0 {
                    setup.blocked = vane.blocks(spot.station.bore);
                }
                flow(self.flow_at()?, measured, &setup)
            }
            Shows::HoodSuction(suction) => {
                let spot = self.spot(system)?;
                let Some(hood) = spot.hood else {
                    return Err(self.cannot("the suction behind a hood", "a hood"));
                };
                let entry: &Entry = self.setup.unplugged.as_ref().unwrap_or(&hood.entry);
                let measured = suction.flow(&spot.station, entry).map_err(measuring)?;
                flow(self.flow_at()?, measured, &self.setup)
            }
            Shows::Static {
                pressure,
                instrument,
            } => {
                let measured = instrument.pressure(*pressure).map_err(measuring)?;
                Observed {
                    observation: Observation {
                        id: self.id.clone(),
                        output: self.static_at(system)?,
                        open: self.open.clone(),
                        setup: self.setup.clone(),
                        air: self.air,
                        value: measured.pressure.as_pa(),
                        standard: measured.standard.as_pa(),
                    },
                    notes: measured.notes,
                }
            }
        })
    }

    fn cannot(&self, what: &'static str, wanted: &'static str) -> SurveyError {
        SurveyError::Elsewhere {
            id: self.id.clone(),
            what,
            at: self.at.clone(),
            wanted,
        }
    }

    fn flow_at(&self) -> Result<Output, SurveyError> {
        match &self.at {
            Place::Hood(name) => Ok(Output::Hood(name.clone())),
            Place::Section(name) => Ok(Output::Section(name.clone())),
            Place::Machine(name) => Ok(Output::Machine(name.clone())),
            Place::Fan | Place::Collector | Place::Before { part: None, .. } => {
                Ok(Output::TotalFlow)
            }
            _ => Err(self.cannot(
                "a flow",
                "a hood, a section, a machine, a run before the fan, or the fan",
            )),
        }
    }

    fn static_at(&self, system: &System) -> Result<Output, SurveyError> {
        match &self.at {
            Place::Hood(name) => Ok(Output::HoodStatic(name.clone())),
            Place::Section(name) => Ok(Output::SectionStatic(name.clone())),
            Place::Before { run, part: None } => Ok(Output::BeforeStatic(*run)),
            Place::Fan => match system.collector.before.len().checked_sub(1) {
                Some(last) => Ok(Output::BeforeStatic(last)),
                // One main, or the model would ask for the adapter.
                None => {
                    let mut mains = system.sections.iter().filter(|at| at.into.is_none());
                    let main = mains.next().map(|main| main.id.clone());
                    main.map(Output::SectionStatic)
                        .ok_or_else(|| self.cannot("a suction", "a system with duct"))
                }
            },
            _ => Err(self.cannot(
                "a static pressure",
                "a hood, a section, a run before the fan, or the fan",
            )),
        }
    }

    /// The duct where the reading was taken, and the air in it.
    fn spot<'s>(&self, system: &'s System) -> Result<Spot<'s>, SurveyError> {
        let air = self.air.unwrap_or(system.air).properties();
        let air = air.map_err(|error| SurveyError::Air {
            id: self.id.clone(),
            error,
        })?;
        let spot = |bore: Bore, wall: &'s Wall, hood| Spot {
            station: Station::new(bore, air),
            wall,
            hood,
        };
        let run = |run: usize| {
            let at = system.collector.before.get(run);
            at.map(|at| spot(at.size, &at.wall, None))
        };
        let section = |is_here: &dyn Fn(&Name, Option<&Hood>) -> bool| {
            let mut sections = system.sections.iter();
            sections.find_map(|section| {
                let hood = match &section.start {
                    Start::Hood(hood) => Some(hood),
                    _ => None,
                };
                is_here(&section.id, hood).then(|| spot(section.size, &section.wall, hood))
            })
        };
        let found = match &self.at {
            Place::Hood(name) => section(&|_, hood| hood.is_some_and(|hood| hood.id == *name)),
            Place::Section(name) => section(&|id, _| id == name),
            Place::Before {
                run: at,
                part: None,
            } => run(*at),
            Place::Fan => run(system.collector.before.len().wrapping_sub(1)),
            _ => None,
        };
        found.ok_or_else(|| {
            self.cannot(
                "a reading in a duct",
                "a hood, section or run before the fan of the system",
            )
        })
    }
}

/// The duct where a reading was taken.
struct Spot<'s> {
    station: Station,
    wall: &'s Wall,
    hood: Option<&'s Hood>,
}

impl Spot<'_> {
    /// A reading at the centre, the roughness that of the wall where the reading does not say.
    fn centre(&self, reading: &CentreReading) -> Result<CentreReading, super::MeasuringError> {
        Ok(match reading.roughness {
            Some(_) => reading.clone(),
            None => CentreReading {
                roughness: Some(self.wall.roughness()?),
                ..reading.clone()
            },
        })
    }
}
