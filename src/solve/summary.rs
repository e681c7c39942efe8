//! What a sweep found: the best and the worst of many open sets.

use super::{SolveError, Status, point::find};
use crate::{
    place::Name,
    quantity::{Velocity, VolumeFlow},
    system::UnknownName,
};

/// What a sweep is to look for.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct SweepOptions {
    /// Velocity that every section needs to keep its dust moving, 0 or more; with 0 none is ever
    /// too slow.
    pub least_velocity: Velocity,
    /// Sections that need another one. The last word on a section counts.
    pub sections: Vec<(Name, Velocity)>,
    /// How many sets each list of the summary holds at most; 8 unless told. The counts beside the
    /// lists always tell all.
    pub listed: usize,
}

impl SweepOptions {
    /// With this least velocity in every section.
    #[must_use]
    pub fn new(least_velocity: Velocity) -> Self {
        Self {
            least_velocity,
            sections: Vec::new(),
            listed: 8,
        }
    }

    /// With another least velocity in one section.
    #[must_use]
    pub fn with_section(mut self, section: impl Into<Name>, least_velocity: Velocity) -> Self {
        self.sections.push((section.into(), least_velocity));
        self
    }

    /// With lists of at most so many sets.
    #[must_use]
    pub fn listing(mut self, sets: usize) -> Self {
        self.listed = sets;
        self
    }
}

/// The best and the worst of many open sets.
///
/// Where two sets give the very same figure, the first of them is told. Answers outside the fan's
/// published curve count as the others do, and say so in their [`InSet::status`].
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct SweepSummary {
    /// How many sets were asked for: the sum of the four counts that follow.
    pub sets: u64,
    /// How many answers lie within the published curve.
    pub converged: u64,
    /// How many lie beyond its last point.
    pub beyond_curve: u64,
    /// How many lie before its first point.
    pub below_curve: u64,
    /// How many sets have no answer.
    pub failed: u64,
    /// The first sets without an answer.
    pub failures: Vec<SetFailure>,
    /// Total flow at the fan; `None` where no set has an answer.
    pub flow: Option<FlowRange>,
    /// What each machine gets, in the order of the model.
    pub machines: Vec<Supply>,
    /// What each hood gets, in the order of [`Network::hoods`](super::Network::hoods). A hood can
    /// starve behind its machine's sum.
    pub hoods: Vec<Supply>,
    /// How fast the air is in each section, in the order of the model.
    pub sections: Vec<SectionSpeeds>,
}

/// A figure and the open set that it was found in.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct InSet<T> {
    /// The figure.
    pub value: T,
    /// How the answer stands.
    pub status: Status,
    /// How many sets came before this one.
    pub index: u64,
    /// The machines and hoods that are open; [`Network::open`](super::Network::open) makes the set
    /// of them.
    pub open: Vec<Name>,
}

/// An open set without an answer.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct SetFailure {
    /// Why; serialised as text.
    #[cfg_attr(feature = "serde", serde(serialize_with = "super::as_text"))]
    pub error: SolveError,
    /// How many sets came before this one.
    pub index: u64,
    /// The machines and hoods that are open; empty for the set of another network.
    pub open: Vec<Name>,
}

/// The least and the most of a flow, each with its open set.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct FlowRange {
    /// The least.
    pub least: InSet<VolumeFlow>,
    /// The most.
    pub most: InSet<VolumeFlow>,
}

/// What a machine or a hood gets in the sets in which it is open.
///
/// As in [`MachineState`](super::MachineState), a machine is open when any of its hoods is, and
/// its flow is that of all of them together. Sets of
/// [`Network::machine_sets`](super::Network::machine_sets) open machines whole.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct Supply {
    /// Its name.
    pub name: Name,
    /// What it needs, where that was said.
    pub required: Option<VolumeFlow>,
    /// In how many sets with an answer it is open.
    pub sets: u64,
    /// In how many of them it gets less than it needs.
    pub short: u64,
    /// What it gets; `None` where it never is open.
    pub flow: Option<FlowRange>,
}

/// How fast the air is in a section, in the sets in which it carries the air of an open hood.
///
/// What shut gates and leaks let by does not count as carrying. The velocity is that of
/// [`SectionState`](super::SectionState), the mean at the downstream end.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct SectionSpeeds {
    /// Its name.
    pub id: Name,
    /// The velocity that it needs.
    pub least_velocity: Velocity,
    /// In how many sets with an answer it carries the air of an open hood.
    pub sets: u64,
    /// In how many of them the air is slower than it needs to be.
    pub slow: u64,
    /// The first of these.
    pub slow_sets: Vec<InSet<Velocity>>,
    /// The slowest of all, be it too slow or not; `None` where it never carries.
    pub slowest: Option<InSet<Velocity>>,
}

impl SweepSummary {
    /// The machine of that name.
    ///
    /// # Errors
    ///
    /// When there is none, with the names that exist, nearest first.
    pub fn machine(&self, name: &str) -> Result<&Supply, UnknownName> {
        find("machine", name, &self.machines, |machine| &machine.name)
    }

    /// The hood of that name.
    ///
    /// # Errors
    ///
    /// When there is none, with the names that exist, nearest first.
    pub fn hood(&self, name: &str) -> Result<&Supply, UnknownName> {
        find("hood", name, &self.hoods, |hood| &hood.name)
    }

    /// The section of that name.
    ///
    /// # Errors
    ///
    /// When there is none, with the names that exist, nearest first.
    pub fn section(&self, name: &str) -> Result<&SectionSpeeds, UnknownName> {
        find("section", name, &self.sections, |section| &section.id)
    }
}
