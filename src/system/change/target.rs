//! What a change is aimed at, and which changes meet.

use super::{Change, ChangeAt};
use crate::{
    place::{Name, Place},
    system::{Start, System, UnknownName, unknown},
};

/// What a change is aimed at. Changes are made in the order of their targets, whatever the order
/// of the list.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Target {
    /// Index of the section; `None`: the collector, or a section that is yet to come.
    pub(super) section: Option<usize>,
    pub(super) aspect: Aspect,
}

/// What of a section or of the collector is changed.
///
/// Elbows come before hose: those that take the place of a bend are not among the elbows that
/// stood there. Straight duct does for the same reason.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Aspect {
    Size,
    Wall,
    Tightness,
    Duct,
    Elbows,
    HoseLength,
    HoseKind,
    HoseToDuct,
    Transition,
    Gate,
    JoinAngle,
    JoinK,
    Entry,
    Filter,
    Separator,
    FanSpeed,
    Whole,
    Added,
}

impl Change {
    /// What it is aimed at, or the name that is not there.
    pub(super) fn target(&self, system: &System) -> Result<Target, UnknownName> {
        let section = match self {
            Self::Filter { section, .. }
            | Self::FilterState { section, .. }
            | Self::Separator { section, .. } => section
                .as_ref()
                .map(|name| find_section(system, name))
                .transpose()?,
            Self::FanSpeed { .. } | Self::Collector(_) | Self::AddSection(_) => None,
            Self::Entry { hood, .. } => Some(find_hood(system, hood)?),
            Self::ReplaceSection(section) => Some(find_section(system, &section.id)?),
            Self::Size { section, .. }
            | Self::Wall { section, .. }
            | Self::Tightness { section, .. }
            | Self::Duct { section, .. }
            | Self::Hose { section, .. }
            | Self::HoseKind { section, .. }
            | Self::Slack { section, .. }
            | Self::HoseToDuct { section, .. }
            | Self::Elbows { section, .. }
            | Self::Transition { section, .. }
            | Self::Gate { section, .. }
            | Self::JoinAngle { section, .. }
            | Self::JoinK { section, .. }
            | Self::RemoveSection { section } => Some(find_section(system, section)?),
        };
        let (aspect, _) = self.aspect();
        Ok(Target { section, aspect })
    }

    /// The change as messages tell it.
    pub(super) fn at(&self, index: usize) -> ChangeAt {
        let place = match self {
            Self::FanSpeed { .. } => Place::Fan,
            Self::Collector(_) => Place::Collector,
            Self::Entry { hood, .. } => Place::Hood(hood.clone()),
            Self::JoinAngle { section, .. } | Self::JoinK { section, .. } => {
                Place::Join(section.clone())
            }
            Self::Filter { section, .. }
            | Self::FilterState { section, .. }
            | Self::Separator { section, .. } => section
                .as_ref()
                .map_or(Place::Collector, |name| Place::Section(name.clone())),
            Self::AddSection(section) | Self::ReplaceSection(section) => {
                Place::Section(section.id.clone())
            }
            Self::Size { section, .. }
            | Self::Wall { section, .. }
            | Self::Tightness { section, .. }
            | Self::Duct { section, .. }
            | Self::Hose { section, .. }
            | Self::HoseKind { section, .. }
            | Self::Slack { section, .. }
            | Self::HoseToDuct { section, .. }
            | Self::Elbows { section, .. }
            | Self::Transition { section, .. }
            | Self::Gate { section, .. }
            | Self::RemoveSection { section } => Place::Section(section.clone()),
        };
        let (_, what) = self.aspect();
        ChangeAt { index, what, place }
    }

    fn aspect(&self) -> (Aspect, &'static str) {
        match self {
            Self::Size { .. } => (Aspect::Size, "size"),
            Self::Wall { .. } => (Aspect::Wall, "wall"),
            Self::Tightness { .. } => (Aspect::Tightness, "tightness"),
            Self::Duct { .. } => (Aspect::Duct, "length of duct"),
            Self::Hose { .. } => (Aspect::HoseLength, "length of hose"),
            Self::HoseKind { .. } => (Aspect::HoseKind, "kind of hose"),
            Self::Slack { .. } => (Aspect::HoseKind, "slack of hose"),
            Self::HoseToDuct { .. } => (Aspect::HoseToDuct, "hose to duct"),
            Self::Elbows { .. } => (Aspect::Elbows, "elbows"),
            Self::Transition { .. } => (Aspect::Transition, "transition"),
            Self::Gate { .. } => (Aspect::Gate, "gate"),
            Self::JoinAngle { .. } => (Aspect::JoinAngle, "angle"),
            Self::JoinK { .. } => (Aspect::JoinK, "k"),
            Self::Entry { .. } => (Aspect::Entry, "entry"),
            Self::Filter { .. } => (Aspect::Filter, "filter"),
            Self::FilterState { .. } => (Aspect::Filter, "state of filter"),
            Self::Separator { .. } => (Aspect::Separator, "separator"),
            Self::FanSpeed { .. } => (Aspect::FanSpeed, "speed"),
            Self::Collector(_) => (Aspect::Whole, "whole"),
            Self::ReplaceSection(_) => (Aspect::Whole, "whole"),
            Self::RemoveSection { .. } => (Aspect::Whole, "removal"),
            Self::AddSection(_) => (Aspect::Added, "addition"),
        }
    }

    /// Whether two changes with these targets would change one thing. Two added sections of one
    /// name are left to the judge of the model.
    pub(super) fn meet(one: Target, other: Target) -> bool {
        let hose = |aspect| matches!(aspect, Aspect::HoseLength | Aspect::HoseKind);
        if one.section != other.section {
            return false;
        }
        match (one.aspect, other.aspect) {
            (Aspect::Added, _) | (_, Aspect::Added) => false,
            (Aspect::Whole, _) | (_, Aspect::Whole) => true,
            (Aspect::HoseToDuct, it) | (it, Aspect::HoseToDuct) => {
                it == Aspect::HoseToDuct || hose(it)
            }
            (one, other) => one == other,
        }
    }
}

fn find_section(system: &System, name: &Name) -> Result<usize, UnknownName> {
    let names = || system.sections.iter().map(|section| &section.id);
    names()
        .position(|known| known == name)
        .ok_or_else(|| unknown("section", name.as_str(), names()))
}

/// The section of a hood.
fn find_hood(system: &System, name: &Name) -> Result<usize, UnknownName> {
    system
        .sections
        .iter()
        .position(|section| matches!(&section.start, Start::Hood(hood) if hood.id == *name))
        .ok_or_else(|| {
            let known = system.hoods().map(|(_, hood)| &hood.id);
            unknown("hood", name.as_str(), known)
        })
}
