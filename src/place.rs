//! Names of elements, and the one way anything points at an element of the model.

use std::{borrow::Borrow, fmt, sync::Arc};

/// The name of a section, hood or machine: cheap to clone, shared by the model, the network and
/// every result.
///
/// ```
/// use airsplit::Name;
/// let main = Name::from("main");
/// assert_eq!(main.as_str(), "main");
/// assert_eq!(format!("{main:>6}"), "  main");
/// ```
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Name(Arc<str>);

impl Name {
    /// The text of the name.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl From<&str> for Name {
    fn from(text: &str) -> Self {
        Self(text.into())
    }
}

impl From<String> for Name {
    fn from(text: String) -> Self {
        Self(text.into())
    }
}

impl AsRef<str> for Name {
    fn as_ref(&self) -> &str {
        &self.0
    }
}

impl Borrow<str> for Name {
    fn borrow(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for Name {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&self.0)
    }
}

#[cfg(feature = "serde")]
impl serde::Serialize for Name {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(&self.0)
    }
}

#[cfg(feature = "serde")]
impl<'de> serde::Deserialize<'de> for Name {
    fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        String::deserialize(deserializer).map(Self::from)
    }
}

/// Where in the system: the one way that errors, notes, residuals and results point at the model.
///
/// Part indices count from 0 in flow order, as the parts stand in the model; `Display` counts
/// from 1, as people do.
///
/// ```
/// use airsplit::Place;
/// let place = Place::Part { section: "main".into(), part: 2 };
/// assert_eq!(place.to_string(), "section \"main\", part 3");
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "snake_case")
)]
#[non_exhaustive]
pub enum Place {
    /// The system as a whole.
    System,
    /// The air that the whole system moves.
    Air,
    /// The fan of the collector.
    Fan,
    /// The collector as a whole, its inlet adapter among it.
    Collector,
    /// A run of the collector before the fan.
    Before {
        /// Index of the run in `Collector::before`.
        run: usize,
        /// Index of a part of that run; `None` for the run itself.
        part: Option<usize>,
    },
    /// A run of the collector after the fan.
    After {
        /// Index of the run in `Collector::after`.
        run: usize,
        /// Index of a part of that run; `None` for the run itself.
        part: Option<usize>,
    },
    /// A section of duct.
    Section(Name),
    /// A part of a section.
    Part {
        /// The section.
        section: Name,
        /// Index of the part in the section.
        part: usize,
    },
    /// The join of a section into the section (or collector) downstream of it.
    Join(Name),
    /// A hood.
    Hood(Name),
    /// A machine.
    Machine(Name),
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let run = |f: &mut fmt::Formatter<'_>, side, run: usize, part: Option<usize>| {
            write!(f, "collector, run {} {side} the fan", run + 1)?;
            part.map_or(Ok(()), |part| write!(f, ", part {}", part + 1))
        };
        match self {
            Self::System => f.write_str("the system"),
            Self::Air => f.write_str("air"),
            Self::Fan => f.write_str("fan"),
            Self::Collector => f.write_str("collector"),
            Self::Before { run: r, part } => run(f, "before", *r, *part),
            Self::After { run: r, part } => run(f, "after", *r, *part),
            Self::Section(name) => write!(f, "section {:?}", name.as_str()),
            Self::Part { section, part } => {
                write!(f, "section {:?}, part {}", section.as_str(), part + 1)
            }
            Self::Join(name) => write!(f, "join of section {:?}", name.as_str()),
            Self::Hood(name) => write!(f, "hood {:?}", name.as_str()),
            Self::Machine(name) => write!(f, "machine {:?}", name.as_str()),
        }
    }
}
