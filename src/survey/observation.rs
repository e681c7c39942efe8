//! A reading brought down to one number of the system, and the system as it was while reading.

use super::{error::SurveyError, fit};
use crate::{
    air::Air,
    loss::{Entry, Part},
    place::{Name, Place},
    solve::Output,
    system::{Hood, Start, System, UnknownName, unknown},
};

/// A reading as a number that a balance has too, with its standard uncertainty.
///
/// What every [`Reading`](crate::Reading) comes down to, and what programs make themselves that
/// read instruments of their own.
///
/// ```
/// use airsplit::{Observation, Output};
/// let planer = Observation::new("planer, hot wire", Output::Hood("planer port".into()), 0.31, 0.012)
///     .with_open(["planer"]);
/// assert!(planer.setup.unplugged.is_none());
/// ```
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct Observation {
    /// What the reading is called.
    pub id: Name,
    /// Which number of the balance was read.
    pub output: Output,
    /// Names of the hoods and machines that were open.
    pub open: Vec<Name>,
    /// How the system was changed by reading it.
    pub setup: Setup,
    /// The air at the time; `None`: that of the system.
    pub air: Option<Air>,
    /// What was read, in [the output's unit](Output::unit).
    pub value: f64,
    /// Its standard uncertainty in the same unit, above 0.
    pub standard: f64,
}

/// How a system was changed by reading it: a reading is compared with the system as it was then.
#[derive(Debug, Clone, PartialEq, Default)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
#[non_exhaustive]
pub struct Setup {
    /// The machine was taken off, and this was the open end of its pipe. With the machine go its
    /// hood's entry loss and every [`Part::Port`] that stands before other parts of the section.
    #[cfg_attr(
        feature = "serde",
        serde(default, skip_serializing_if = "Option::is_none")
    )]
    pub unplugged: Option<Entry>,
    /// Share of the pipe's area that the instrument blocked, 0 to 0.9: a vane head of 70 mm in a
    /// pipe of 100 mm blocks what its ring, hub and handle cover.
    ///
    /// It costs (s / (1 - s))^2 velocity pressures of the pipe: what the air loses when it spreads
    /// again behind the instrument, by Borda and Carnot, without any loss before it. A rough
    /// figure.
    #[cfg_attr(
        feature = "serde",
        serde(default, skip_serializing_if = "crate::survey::is_zero")
    )]
    pub blocked: f64,
}

impl Setup {
    /// The machine taken off, its pipe open like this.
    #[must_use]
    pub fn unplugged(entry: Entry) -> Self {
        Self {
            unplugged: Some(entry),
            ..Self::default()
        }
    }

    /// With an instrument that blocks this share of the pipe.
    #[must_use]
    pub fn blocked(mut self, share: f64) -> Self {
        self.blocked = share;
        self
    }

    fn is_plain(&self) -> bool {
        self.unplugged.is_none() && self.blocked == 0.0
    }
}

impl Observation {
    /// Most readings that are compared or fitted together. A thorough survey has some tens.
    pub const MOST: usize = 1_000;

    /// A number that was read, and its standard uncertainty, in [the unit](Output::unit) of the
    /// output, with everything shut; say what was open with
    /// [`with_open`](Self::with_open).
    #[must_use]
    pub fn new(id: impl Into<Name>, output: Output, value: f64, standard: f64) -> Self {
        Self {
            id: id.into(),
            output,
            open: Vec::new(),
            setup: Setup::default(),
            air: None,
            value,
            standard,
        }
    }

    /// With these hoods and machines open.
    #[must_use]
    pub fn with_open<N: Into<Name>>(mut self, open: impl IntoIterator<Item = N>) -> Self {
        self.open = open.into_iter().map(Into::into).collect();
        self
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

    pub(super) fn check(&self) -> Result<(), SurveyError> {
        let Self {
            value, standard, ..
        } = *self;
        let blocked = self.setup.blocked;
        let unit = self.output.unit();
        let positive = standard.is_finite() && standard > 0.0;
        let share = (0.0..=0.9).contains(&blocked);
        for (what, value, unit, fine, must) in [
            ("value", value, unit, value.is_finite(), "finite"),
            (
                "standard uncertainty",
                standard,
                unit,
                positive,
                "above 0, and finite",
            ),
            ("blocked share", blocked, "", share, "0 to 0.9"),
        ] {
            if !fine {
                return Err(SurveyError::Number {
                    id: self.id.clone(),
                    what,
                    value,
                    unit,
                    must,
                });
            }
        }
        Ok(())
    }

    pub(super) fn for_fit(&self) -> fit::Reading {
        fit::Reading {
            name: self.id.as_str().to_owned(),
            value: self.value,
            standard: self.standard,
        }
    }

    /// Whether both were read in the same system.
    pub(super) fn is_beside(&self, other: &Self) -> bool {
        let plain = self.setup.is_plain() && other.setup.is_plain();
        let alike = plain || self.setup == other.setup && self.output == other.output;
        alike && self.air == other.air && self.open == other.open
    }

    /// The system as it was while reading.
    pub(super) fn system(&self, system: &System) -> Result<System, SurveyError> {
        let mut system = system.clone();
        if let Some(air) = self.air {
            system.air = air;
        }
        if self.setup.is_plain() {
            return Ok(system);
        }
        let at = self.section(&system)?;
        let id = || self.id.clone();
        let section = system.sections.get_mut(at);
        let section = section.ok_or_else(|| SurveyError::NoPipe { id: id() })?;
        let Start::Hood(hood) = &mut section.start else {
            return Err(SurveyError::NoPipe { id: id() });
        };
        if let Some(entry) = &self.setup.unplugged {
            hood.entry = *entry;
            let ports = section.parts.iter_mut();
            let ports = ports.map_while(|part| match part {
                Part::Port(port) => Some(port),
                _ => None,
            });
            ports.for_each(|port| port.k = 0.0);
        }
        let blocked = self.setup.blocked;
        if blocked > 0.0 {
            // A fault of the entry is told when the system is compiled.
            if let Ok(rated) = hood.entry.heads(section.size) {
                let behind = (blocked / (1.0 - blocked)).powi(2);
                hood.entry = Entry::K(rated.heads.fixed + behind);
            }
        }
        Ok(system)
    }

    /// Whether a number of the system has nothing to do with this reading because the element was
    /// taken away, or stands in as another one.
    pub(super) fn lost(&self, system: &System, place: &Place) -> bool {
        if self.setup.unplugged.is_none() {
            return false;
        }
        let section = self.section(system).ok();
        let Some(section) = section.and_then(|i| system.sections.get(i)) else {
            return false;
        };
        match place {
            Place::Hood(hood) => matches!(&section.start, Start::Hood(own) if own.id == *hood),
            Place::Part { section: id, part } => {
                let before = section.parts.iter().take(part.saturating_add(1));
                *id == section.id && before.into_iter().all(|at| matches!(at, Part::Port(_)))
            }
            _ => false,
        }
    }

    /// The section where the reading was taken.
    fn section(&self, system: &System) -> Result<usize, SurveyError> {
        let hood = |start: &Start, name: &Name| matches!(start, Start::Hood(Hood { id, .. }) if id == name);
        let (what, name) = match &self.output {
            Output::Hood(name) | Output::HoodStatic(name) => ("hood", name),
            Output::Section(name) | Output::SectionStatic(name) => ("section", name),
            _ => {
                return Err(SurveyError::NoPipe {
                    id: self.id.clone(),
                });
            }
        };
        let mut sections = system.sections.iter();
        let found = sections.position(|section| match what {
            "hood" => hood(&section.start, name),
            _ => section.id == *name,
        });
        let known = || -> Vec<&Name> {
            let sections = system.sections.iter();
            sections
                .filter_map(|section| match (&section.start, what) {
                    (Start::Hood(hood), "hood") => Some(&hood.id),
                    (_, "hood") => None,
                    _ => Some(&section.id),
                })
                .collect()
        };
        found.ok_or_else(|| {
            let unknown: UnknownName = unknown(what, name.as_str(), known());
            SurveyError::Place {
                id: self.id.clone(),
                unknown,
            }
        })
    }
}
