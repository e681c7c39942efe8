//! The whole document, as people write it.

use crate::system::{Assumption, System};
#[cfg(feature = "serde")]
use crate::{
    air::AirText,
    loss::{Junction, Wall},
    system::{CollectorText, MachineText, ModelErrors, SectionText, SystemText},
};

/// A whole document: the system, and what had to be assumed to complete it.
///
/// Reads from and writes to any self-describing serde format (feature `serde`); the examples use
/// TOML:
///
/// ```
/// # #[cfg(feature = "serde")]
/// # fn main() -> Result<(), Box<dyn std::error::Error>> {
/// let study: airsplit::Study = toml::from_str(r#"
///     format = 1
///     wall = "galvanised"
///     air = { altitude = "250 m", temperature = "20 C", relative_humidity = 0.5 }
///     [collector.fan]
///     basis = "static"
///     density = "1.2 kg/m3"
///     fitted = { separator = false, filter = false, silencer = false }
///     points = [["0 m3/h", "2400 Pa"], ["1500 m3/h", "1900 Pa"], ["3000 m3/h", "300 Pa"]]
///     [[section]]
///     id = "main"
///     size = { round = "160 mm" }
///     parts = [{ duct = "6 m" }, { k = 0.3 }]
///     hood = { id = "planer port", entry = { k = 0.5 }, machine = "planer" }
///     [[machine]]
///     id = "planer"
///     required = "1450 m3/h"
/// "#)?;
/// assert!(study.assumptions.is_empty());
/// # Ok(())
/// # }
/// # #[cfg(not(feature = "serde"))]
/// # fn main() {}
/// ```
///
/// Every quantity carries its unit. Unknown keys are errors. What the document leaves out is an
/// error that names it, unless it says `assume = true`: then defaults stand in, and each of them is
/// told in [`assumptions`](Self::assumptions). A syntax fault comes alone, with its line and key;
/// faults of the model come all at once, each with its place. A study whose system has faults
/// cannot be written: what was written can be read.
///
/// Two studies are equal when title, system and assumptions are, however they were written.
#[derive(Debug, Clone)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Deserialize),
    serde(try_from = "Draft")
)]
#[non_exhaustive]
pub struct Study {
    /// What the document calls itself.
    pub title: Option<String>,
    /// The system, complete.
    pub system: System,
    /// What was assumed to complete it.
    pub assumptions: Vec<Assumption>,
    /// As it was read, so that what was left out stays left out when it is written again.
    #[cfg(feature = "serde")]
    draft: Option<Box<Draft>>,
}

impl Study {
    /// A study of a system that is known completely.
    #[must_use]
    pub fn new(system: System) -> Self {
        Self {
            title: None,
            system,
            assumptions: Vec::new(),
            #[cfg(feature = "serde")]
            draft: None,
        }
    }
}

impl PartialEq for Study {
    fn eq(&self, other: &Self) -> bool {
        self.title == other.title
            && self.system == other.system
            && self.assumptions == other.assumptions
    }
}

#[cfg(feature = "serde")]
impl serde::Serialize for Study {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        self.system.check().map_err(serde::ser::Error::custom)?;
        Draft::from(self.clone()).serialize(serializer)
    }
}

/// A document as it was read: syntax is known to be right, the model is not yet judged.
///
/// Deserialising a [`Study`] directly turns faults of the model into text; deserialising a `Draft`
/// and completing it keeps them as data.
///
/// ```
/// # #[cfg(feature = "serde")]
/// # fn main() -> Result<(), Box<dyn std::error::Error>> {
/// let draft: airsplit::Draft = toml::from_str("format = 1\n[collector]\n")?;
/// let faults = draft.complete().unwrap_err();
/// assert!(faults.iter().any(|f| f.place == airsplit::Place::System));
/// # Ok(())
/// # }
/// # #[cfg(not(feature = "serde"))]
/// # fn main() {}
/// ```
#[cfg(feature = "serde")]
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Draft {
    format: Format,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    title: Option<String>,
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    assume: bool,
    // The keys of a system stand here again: serde cannot combine `flatten` with
    // `deny_unknown_fields`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    air: Option<AirText>,
    #[serde(default)]
    junction: Junction,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    wall: Option<Wall>,
    collector: CollectorText,
    #[serde(default)]
    section: Vec<SectionText>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    machine: Vec<MachineText>,
}

/// The version of the document format: 1.
#[cfg(feature = "serde")]
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize, serde::Deserialize)]
#[serde(try_from = "u32", into = "u32")]
struct Format;

#[cfg(feature = "serde")]
impl TryFrom<u32> for Format {
    type Error = String;
    fn try_from(number: u32) -> Result<Self, String> {
        if number == 1 {
            Ok(Self)
        } else {
            Err(format!(
                "format {number} is not known; this version reads format 1"
            ))
        }
    }
}

#[cfg(feature = "serde")]
impl From<Format> for u32 {
    fn from(_: Format) -> Self {
        1
    }
}

#[cfg(feature = "serde")]
impl Draft {
    /// Completes and judges the model.
    ///
    /// # Errors
    ///
    /// Every fault at once, each with its [`Place`](crate::Place): what is missing without
    /// `assume = true`, and what is wrong with the rest.
    pub fn complete(self) -> Result<Study, ModelErrors> {
        let title = self.title.clone();
        let (system, assumptions) = self.system().complete(self.assume)?;
        Ok(Study {
            title,
            system,
            assumptions,
            draft: Some(Box::new(self)),
        })
    }

    fn system(&self) -> SystemText {
        SystemText {
            air: self.air.clone(),
            junction: self.junction,
            wall: self.wall,
            collector: self.collector.clone(),
            sections: self.section.clone(),
            machines: self.machine.clone(),
        }
    }

    fn of(title: Option<String>, assume: bool, system: SystemText) -> Self {
        Self {
            format: Format,
            title,
            assume,
            air: system.air,
            junction: system.junction,
            wall: system.wall,
            collector: system.collector,
            section: system.sections,
            machine: system.machines,
        }
    }
}

#[cfg(feature = "serde")]
impl TryFrom<Draft> for Study {
    type Error = ModelErrors;
    fn try_from(draft: Draft) -> Result<Self, ModelErrors> {
        draft.complete()
    }
}

/// What was left out stays left out as long as the system is the one that was read; once it was
/// changed everything is written, and what was assumed is given from then on.
#[cfg(feature = "serde")]
impl From<Study> for Draft {
    fn from(study: Study) -> Self {
        if let Some(draft) = study.draft {
            let read = draft.system().complete(draft.assume);
            if read.is_ok_and(|(system, _)| system == study.system) {
                return Self {
                    title: study.title,
                    ..*draft
                };
            }
        }
        Self::of(study.title, false, study.system.into())
    }
}
