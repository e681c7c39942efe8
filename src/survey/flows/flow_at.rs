//! Flows as they were read, and what can be wrong with them.

use crate::{
    place::{Name, Place},
    quantity::VolumeFlow,
    system::{ModelErrors, UnknownName},
};

/// A flow that was read in a section: by a traverse, at a calibrated hood, with a flow meter.
///
/// ```
/// use airsplit::{FlowAt, VolumeFlow};
/// let main = FlowAt::new("main", VolumeFlow::from_m3_h(1500.0), VolumeFlow::from_m3_h(45.0))
///     .by("pitot tube");
/// assert_eq!(main.section.as_str(), "main");
/// ```
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
#[non_exhaustive]
pub struct FlowAt {
    /// The section; that of a hood for the flow of the hood.
    pub section: Name,
    /// What was read: 0 to 1000 m3/s.
    pub flow: VolumeFlow,
    /// Standard uncertainty of this reading alone, 1e-9 to 1000 m3/s: what other readings by the same
    /// instrument do not share.
    pub standard: VolumeFlow,
    /// The instrument, one of [`FlowReadings::shared`], where readings share its error.
    #[cfg_attr(
        feature = "serde",
        serde(default, skip_serializing_if = "Option::is_none")
    )]
    pub instrument: Option<Name>,
}

/// The error that an instrument carries into each of its readings.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
pub struct SharedError {
    /// The instrument.
    pub instrument: Name,
    /// Standard uncertainty of its factor: 0.03 if all of its readings may be 3 % high or low
    /// together. 0 to 0.5.
    pub relative: f64,
}

/// Flows that were read while the same hoods stood open.
#[derive(Debug, Clone, PartialEq, Default)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
#[non_exhaustive]
pub struct FlowReadings {
    /// The readings, up to 500; several of one section are allowed.
    pub readings: Vec<FlowAt>,
    /// The open hoods; the name of a machine opens all of its hoods. None for a test of the shut
    /// duct.
    pub open: Vec<Name>,
    /// The instruments whose readings share an error.
    #[cfg_attr(
        feature = "serde",
        serde(default, skip_serializing_if = "Vec::is_empty")
    )]
    pub shared: Vec<SharedError>,
    /// What enters at hoods that are not open.
    #[cfg_attr(feature = "serde", serde(default))]
    pub shut: ShutHoods,
}

/// What enters where the duct is shut.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "snake_case")
)]
#[non_exhaustive]
pub enum ShutHoods {
    /// Nothing: what enters at shut hoods, at shut gates and at leaking ends is told as a leak of the
    /// duct.
    #[default]
    Tight,
    /// An unknown flow at every shut hood, shut gate with a leak and leaking end: only duct without
    /// them can be told to leak.
    Leaky,
}

impl FlowAt {
    /// A reading that shares no error with others.
    #[must_use]
    pub fn new(section: impl Into<Name>, flow: VolumeFlow, standard: VolumeFlow) -> Self {
        Self {
            section: section.into(),
            flow,
            standard,
            instrument: None,
        }
    }

    /// Read by this instrument.
    #[must_use]
    pub fn by(mut self, instrument: impl Into<Name>) -> Self {
        self.instrument = Some(instrument.into());
        self
    }
}

impl FlowReadings {
    /// Most readings: the work grows with their cube, and these take about a second.
    pub const MOST: usize = 500;

    /// Readings with these hoods open, shut hoods tight.
    #[must_use]
    pub fn new<N: Into<Name>>(
        readings: impl IntoIterator<Item = FlowAt>,
        open: impl IntoIterator<Item = N>,
    ) -> Self {
        Self {
            readings: readings.into_iter().collect(),
            open: open.into_iter().map(Into::into).collect(),
            ..Self::default()
        }
    }

    /// With an instrument whose readings share an error of this relative standard uncertainty.
    #[must_use]
    pub fn with_shared(mut self, instrument: impl Into<Name>, relative: f64) -> Self {
        self.shared.push(SharedError {
            instrument: instrument.into(),
            relative,
        });
        self
    }

    /// With this taken to enter at shut hoods.
    #[must_use]
    pub fn with_shut(mut self, shut: ShutHoods) -> Self {
        self.shut = shut;
        self
    }
}

/// Why readings cannot be reconciled. Readings are counted from 1, as people do.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum ReconcileError {
    /// Faults of the model.
    #[error(transparent)]
    Model(#[from] ModelErrors),
    /// An open hood or machine that is unknown.
    #[error(transparent)]
    Open(UnknownName),
    /// No reading at all.
    #[error("there is no reading; give one at least")]
    NoReadings,
    /// More readings than are worked out together.
    #[error("{given} readings; at most {most} are worked out together: merge those of one section", most = FlowReadings::MOST)]
    TooMany {
        /// How many were given.
        given: usize,
    },
    /// A reading in a section that is unknown.
    #[error("reading {reading}: {error}")]
    Section {
        /// Which.
        reading: usize,
        /// The section.
        error: UnknownName,
    },
    /// A reading by an instrument that is unknown.
    #[error("reading {reading}: {error}; list it as shared, with 0 if its readings share no error")]
    Instrument {
        /// Which.
        reading: usize,
        /// The instrument.
        error: UnknownName,
    },
    /// A flow that cannot be.
    #[error("reading {reading}, section {section:?}: the flow is {flow}; allowed: 0 m3/s to 1000 m3/s", section = section.as_str())]
    Flow {
        /// Which.
        reading: usize,
        /// Its section.
        section: Name,
        /// What was given.
        flow: VolumeFlow,
    },
    /// A standard uncertainty that cannot be.
    #[error("reading {reading}, section {section:?}: the standard uncertainty is {standard}; it must be above zero: 1e-9 m3/s to 1000 m3/s", section = section.as_str())]
    Standard {
        /// Which.
        reading: usize,
        /// Its section.
        section: Name,
        /// What was given.
        standard: VolumeFlow,
    },
    /// A reading where no air can pass.
    #[error("reading {reading}, section {section:?}: no air passes there, {} is shut; leave the reading out, or open it", shut_place(.by), section = section.as_str())]
    BehindShut {
        /// Which.
        reading: usize,
        /// Its section.
        section: Name,
        /// The shut hood, or the section of the shut gate.
        by: Place,
    },
    /// A shared error that cannot be.
    #[error("instrument {instrument:?}: the shared relative uncertainty is {relative}; allowed: 0 to 0.5", instrument = instrument.as_str())]
    Shared {
        /// The instrument.
        instrument: Name,
        /// The share that was given.
        relative: f64,
    },
    /// Two shared errors of one instrument.
    #[error("instrument {instrument:?} has two shared uncertainties; give one", instrument = instrument.as_str())]
    SharedTwice {
        /// The instrument.
        instrument: Name,
    },
    /// Uncertainties so different that the coarse readings drown the fine ones.
    #[error(
        "reading {coarse} is more than 100000 times less certain than reading {fine}; leave it out, it says nothing beside that"
    )]
    Uneven {
        /// The least certain.
        coarse: usize,
        /// The most certain.
        fine: usize,
    },
    /// A leak test at a section that is unknown.
    #[error(transparent)]
    Between(UnknownName),
    /// A leak test at a section without a reading.
    #[error("no reading stands in section {section:?}; a leak is told between sections that were read; read it as well", section = section.as_str())]
    NotRead {
        /// The section.
        section: Name,
    },
    /// A leak test from a section that does not drain into the other.
    #[error("section {upstream:?} does not drain through section {downstream:?}; name sections upstream of it", upstream = upstream.as_str(), downstream = downstream.as_str())]
    NotUpstream {
        /// The section that should lie upstream.
        upstream: Name,
        /// The section that it should drain through.
        downstream: Name,
    },
    /// A leak test that would count one flow twice.
    #[error("section {upstream:?} drains through section {below:?}, which is named as well, or it is named twice; its flow would count twice; name one of them", upstream = upstream.as_str(), below = below.as_str())]
    Twice {
        /// The section further upstream.
        upstream: Name,
        /// The one it drains through.
        below: Name,
    },
    /// A leak test past open hoods that nobody read.
    #[error("air enters between them at {}, which no named section counts; name its section among those upstream, after reading it", places(.sources))]
    Unread {
        /// Where air may enter, up to 32 of them.
        sources: Vec<Place>,
    },
}

fn shut_place(by: &Place) -> String {
    match by {
        Place::Section(_) => format!("a gate in {by}"),
        _ => by.to_string(),
    }
}

/// The first few places.
fn places(sources: &[Place]) -> String {
    let listed: Vec<_> = sources.iter().take(4).map(Place::to_string).collect();
    match sources.len().saturating_sub(listed.len()) {
        0 => listed.join(", "),
        more => format!("{} and {more} more", listed.join(", ")),
    }
}
