//! Changes made, in the order of their targets.

use super::{
    super::model::{Collector, Section, Start, System},
    Change, ChangeAt, ChangeError, ElbowKind,
    target::Target,
};
use crate::{
    loss::{Elbow, Filter, Gate, Hose, HoseKind, Part},
    place::Name,
    quantity::Length,
};
use std::collections::HashSet;

impl System {
    /// The changed system, not yet judged.
    pub(crate) fn changed(&self, changes: &[Change]) -> Result<Self, ChangeError> {
        let mut targets = Vec::with_capacity(changes.len());
        for (index, change) in changes.iter().enumerate() {
            let target = change
                .target(self)
                .map_err(|error| ChangeError::Unknown { index, error })?;
            targets.push((target, index, change));
        }
        // By section, so that only changes of one section stand beside each other.
        // Additions by name, so that the order of the list leaves no trace.
        let added = |change: &Change| match change {
            Change::AddSection(section) => Some(section.id.clone()),
            _ => None,
        };
        targets.sort_by_key(|&(target, index, change)| (target, added(change), index));
        refuse_conflicts(&targets)?;
        let mut system = self.clone();
        let mut removed: HashSet<&Name> = HashSet::new();
        for &(target, index, change) in &targets {
            let at = || change.at(index);
            match change {
                Change::AddSection(section) => system.sections.push(Section::clone(section)),
                Change::RemoveSection { section } => {
                    removed.insert(section);
                }
                _ => match target.section {
                    // The indices hold: sections are only added behind, and removed below.
                    Some(i) => system
                        .sections
                        .get_mut(i)
                        .map_or(Ok(()), |section| change_section(section, change, at))?,
                    None => change_collector(&mut system.collector, change, at)?,
                },
            }
        }
        if !removed.is_empty() {
            // Only sections that stood there: one added under the same name stays.
            let mut index = 0;
            system.sections.retain(|section| {
                index += 1;
                index > self.sections.len() || !removed.contains(&section.id)
            });
        }
        Ok(system)
    }
}

fn refuse_conflicts(targets: &[(Target, usize, &Change)]) -> Result<(), ChangeError> {
    for (n, &(target, index, change)) in targets.iter().enumerate() {
        let same_section = targets
            .iter()
            .skip(n + 1)
            .take_while(|(other, ..)| other.section == target.section);
        for &(other, other_index, other_change) in same_section {
            if Change::meet(target, other) {
                let one = Box::new(change.at(index));
                let other = Box::new(other_change.at(other_index));
                let (first, second) = if index < other_index {
                    (one, other)
                } else {
                    (other, one)
                };
                return Err(ChangeError::Conflict { first, second });
            }
        }
    }
    Ok(())
}

fn change_section(
    section: &mut Section,
    change: &Change,
    at: impl Fn() -> ChangeAt,
) -> Result<(), ChangeError> {
    let parts = &mut section.parts;
    match change {
        Change::Size { to, .. } => section.size = *to,
        Change::Wall { to, .. } => section.wall = *to,
        Change::Tightness { to, .. } => section.tightness = *to,
        Change::Duct { to, .. } => {
            let lengths = parts.iter_mut().filter_map(|part| match part {
                Part::Duct(length) => Some(length),
                _ => None,
            });
            share_out(lengths.collect(), *to).ok_or_else(|| nothing(&at, "straight duct"))?;
        }
        Change::Hose { to, .. } => {
            let lengths = hoses(parts).map(|hose| &mut hose.length).collect();
            share_out(lengths, *to).ok_or_else(|| nothing(&at, "hose"))?;
        }
        Change::HoseKind { to, .. } => {
            for_each(hoses(parts), |hose| hose.kind = *to).ok_or_else(|| nothing(&at, "hose"))?;
        }
        Change::Slack { compression, .. } => {
            let wires = hoses(parts).filter_map(|hose| match &mut hose.kind {
                HoseKind::Wire { compression } => Some(compression),
                _ => None,
            });
            for_each(wires, |slack| *slack = *compression)
                .ok_or_else(|| nothing(&at, "wire hose (no other kind has a slack)"))?;
        }
        Change::HoseToDuct { elbow, .. } => *parts = rigid(parts, *elbow, &at)?,
        Change::Elbows { to, .. } => replace_elbows(parts, *to, &at)?,
        Change::Transition { to, .. } => match parts.first_mut() {
            Some(Part::Transition(transition)) => *transition = *to,
            _ => parts.insert(0, Part::Transition(*to)),
        },
        Change::Gate { opening, .. } => {
            let gates = parts.iter_mut().filter_map(|part| match part {
                Part::Gate(gate) => Some(gate),
                _ => None,
            });
            for_each(gates, |gate: &mut Gate| gate.opening = *opening)
                .ok_or_else(|| nothing(&at, "gate"))?;
        }
        Change::JoinAngle { to, .. } => section.join.angle = Some(*to),
        Change::JoinK { to, .. } => section.join.k = Some(*to),
        Change::Entry { to, .. } => {
            if let Start::Hood(hood) = &mut section.start {
                hood.entry = *to;
            }
        }
        Change::ReplaceSection(with) => *section = Section::clone(with),
        _ => change_vessel(parts, change, at)?,
    }
    Ok(())
}

fn change_collector(
    collector: &mut Collector,
    change: &Change,
    at: impl Fn() -> ChangeAt,
) -> Result<(), ChangeError> {
    match change {
        Change::Collector(with) => *collector = Collector::clone(with),
        Change::FanSpeed { ratio } => {
            let fan = collector.fan.as_mut().ok_or_else(|| nothing(&at, "fan"))?;
            let turned = fan.at_speed_ratio(*ratio);
            *fan = turned.map_err(|error| ChangeError::Fan { at: at(), error })?;
        }
        _ => {
            let runs = collector.before.iter_mut().chain(&mut collector.after);
            change_vessel(runs.flat_map(|run| &mut run.parts), change, at)?;
        }
    }
    Ok(())
}

/// Filters and separators, which stand in sections and in the collector.
fn change_vessel<'a>(
    parts: impl IntoIterator<Item = &'a mut Part>,
    change: &Change,
    at: impl Fn() -> ChangeAt,
) -> Result<(), ChangeError> {
    let mut changed = false;
    for part in parts {
        match (change, part) {
            (Change::Filter { to, .. }, Part::Filter(filter)) => *filter = to.clone(),
            (Change::FilterState { to, .. }, Part::Filter(Filter::Cycle { now, .. })) => *now = *to,
            (Change::Separator { to, .. }, Part::Separator(separator)) => *separator = *to,
            _ => continue,
        }
        changed = true;
    }
    let missing = match change {
        Change::Separator { .. } => "separator",
        Change::FilterState { .. } => "filter that knows two states",
        _ => "filter",
    };
    changed.then_some(()).ok_or_else(|| nothing(&at, missing))
}

fn nothing(at: impl Fn() -> ChangeAt, missing: &'static str) -> ChangeError {
    ChangeError::Nothing { at: at(), missing }
}

fn hoses(parts: &mut [Part]) -> impl Iterator<Item = &mut Hose> {
    parts.iter_mut().filter_map(|part| match part {
        Part::Hose(hose) => Some(hose),
        _ => None,
    })
}

/// Does it to every one; `None` where there is none.
fn for_each<T>(all: impl Iterator<Item = T>, change: impl FnMut(T)) -> Option<()> {
    let mut all = all.peekable();
    all.peek()?;
    all.for_each(change);
    Some(())
}

/// Gives pieces a new length together; `None` where there is nothing to share by.
fn share_out(mut lengths: Vec<&mut Length>, to: Length) -> Option<()> {
    // A single piece gets the length itself and not one a rounding beside it.
    if let [only] = lengths.as_mut_slice() {
        **only = to;
        return Some(());
    }
    let whole: f64 = lengths.iter().map(|length| length.as_m()).sum();
    // Also where the whole is no number.
    if whole.partial_cmp(&0.0) != Some(std::cmp::Ordering::Greater) {
        return None;
    }
    for length in lengths {
        *length = Length::from_m(to.as_m() * (length.as_m() / whole));
    }
    Some(())
}

/// The parts with rigid duct in place of hose.
fn rigid(
    parts: &[Part],
    elbow: Option<ElbowKind>,
    at: impl Fn() -> ChangeAt,
) -> Result<Vec<Part>, ChangeError> {
    let mut rigid = Vec::with_capacity(parts.len() + 1);
    let mut any = false;
    for part in parts {
        let Part::Hose(hose) = part else {
            rigid.push(part.clone());
            continue;
        };
        any = true;
        rigid.push(Part::Duct(hose.length));
        if let Some(bend) = hose.bend {
            let elbow = elbow.ok_or_else(|| ChangeError::NoElbow { at: at() })?;
            rigid.push(Part::Elbow(elbow.turning(bend.angle)));
        }
    }
    any.then_some(rigid).ok_or_else(|| nothing(&at, "hose"))
}

fn replace_elbows(
    parts: &mut [Part],
    to: ElbowKind,
    at: impl Fn() -> ChangeAt,
) -> Result<(), ChangeError> {
    let mut any = false;
    for part in parts {
        let Part::Elbow(elbow) = part else { continue };
        any = true;
        *elbow = match (*elbow, to) {
            (_, ElbowKind::K(k)) => Elbow::K(k),
            (Elbow::K(_), _) => return Err(ChangeError::NoAngle { at: at() }),
            (
                Elbow::Gored { angle, .. }
                | Elbow::Stamped { angle, .. }
                | Elbow::Smooth { angle, .. }
                | Elbow::Mitre { angle },
                kind,
            ) => kind.turning(angle),
        };
    }
    any.then_some(()).ok_or_else(|| nothing(&at, "elbow"))
}
