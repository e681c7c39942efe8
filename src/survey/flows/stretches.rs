//! The tree as its readings see it: stretches of duct between sections that were read.

use super::{
    flow_at::{FlowReadings, ReconcileError, ShutHoods},
    least_squares::Terms,
};
use crate::{
    loss::{Gate, Part},
    place::{Name, Place},
    system::{Section, Start, System, Topology, unknown},
};
use std::collections::{HashMap, HashSet};

/// Readings and their sections.
#[derive(Debug)]
pub(super) struct Stretches<'a> {
    pub(super) system: &'a System,
    /// Each section that was read with all that lies upstream as far as the next such sections, each
    /// one after those upstream of it.
    pub(super) ends: Vec<Stretch>,
    /// The end that each section is, or drains to without passing another.
    below: Vec<Option<usize>>,
    /// How the flow of each section follows from those of the ends.
    sums: Vec<Sum>,
    /// Ends right upstream: the entries of `sums` point here.
    lists: Vec<Vec<usize>>,
    outlets: Vec<Option<usize>>,
}

/// All that lies between a section that was read and the next ones upstream.
#[derive(Debug)]
pub(super) struct Stretch {
    /// The section, by index.
    pub(super) section: usize,
    /// Its readings, the most certain first.
    pub(super) readings: Vec<usize>,
    /// The ends right upstream.
    pub(super) upstream: Vec<usize>,
    /// Where air enters that no reading counts.
    pub(super) sources: Vec<Place>,
}

/// Flow of a section: that of the ends right upstream, and of unread places where air enters.
#[derive(Debug, Clone, Copy, Default)]
struct Sum {
    list: usize,
    sources: usize,
}

/// How a flow follows from those of ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
enum Flow {
    /// It is that of this end.
    Of(usize),
    /// The sum of this list of ends.
    Sum(usize),
    /// That of this end, less what joins downstream of those of this list.
    Rest(usize, usize),
}

/// Where air enters, or why it does not.
enum Entry {
    None,
    Shut,
    Air(Place),
}

impl<'a> Stretches<'a> {
    pub(super) fn of(system: &'a System, given: &FlowReadings) -> Result<Self, ReconcileError> {
        system.check()?;
        let topology = Topology::of(system, &mut Vec::new());
        let count = system.sections.len();
        let open = open_hoods(system, &given.open)?;
        let cut_by = cuts(system, &topology, given.shut);
        let entries: Vec<Entry> = system
            .sections
            .iter()
            .zip(&cut_by)
            .map(|(section, cut)| match cut {
                Some(_) => Entry::None,
                None => entry(section, &open, given.shut),
            })
            .collect();

        let readings_of = readings_of(system, given, &cut_by, &entries)?;
        let mut stretches = Self {
            system,
            ends: Vec::new(),
            below: vec![None; count],
            sums: vec![Sum::default(); count],
            lists: vec![Vec::new()],
            outlets: topology.outlets.clone(),
        };
        stretches.fill(&topology, readings_of, entries);
        Ok(stretches)
    }

    fn fill(&mut self, topology: &Topology, mut readings_of: Vec<Vec<usize>>, entries: Vec<Entry>) {
        let mut ends = vec![None; readings_of.len()];
        // What leaves each section, as the one downstream sees it.
        let mut leaving = self.sums.clone();
        for &i in &topology.order {
            let inlets = topology.inlets.get(i).map_or(&[][..], Vec::as_slice);
            let mut sum = self.meet(inlets.iter().filter_map(|&inlet| leaving.get(inlet)));
            sum.sources += usize::from(matches!(entries.get(i), Some(Entry::Air(_))));
            let readings = readings_of
                .get_mut(i)
                .map(std::mem::take)
                .unwrap_or_default();
            let mut out = sum;
            if !readings.is_empty() {
                let end = self.ends.len();
                self.ends.push(Stretch {
                    section: i,
                    readings,
                    upstream: self.lists.get(sum.list).cloned().unwrap_or_default(),
                    sources: Vec::new(),
                });
                out = Sum {
                    list: self.lists.len(),
                    sources: 0,
                };
                self.lists.push(vec![end]);
                if let Some(at) = ends.get_mut(i) {
                    *at = Some(end);
                }
            }
            for (to, value) in [(&mut self.sums, sum), (&mut leaving, out)] {
                if let Some(to) = to.get_mut(i) {
                    *to = value;
                }
            }
        }
        for &i in topology.order.iter().rev() {
            let own = ends.get(i).copied().flatten();
            let outlet = topology.outlets.get(i).copied().flatten();
            let end = own.or_else(|| self.below.get(outlet?).copied().flatten());
            if let Some(to) = self.below.get_mut(i) {
                *to = end;
            }
        }
        for (entry, end) in entries.into_iter().zip(&self.below) {
            let stretch = end.and_then(|end| self.ends.get_mut(end));
            if let (Entry::Air(place), Some(stretch)) = (entry, stretch) {
                stretch.sources.push(place);
            }
        }
    }

    /// The sum of what these let through. Lists are only copied where two meet.
    fn meet<'s>(&mut self, inlets: impl Iterator<Item = &'s Sum>) -> Sum {
        let mut met = Sum::default();
        let mut lists = Vec::new();
        for inlet in inlets {
            met.sources += inlet.sources;
            if inlet.list != 0 {
                lists.push(inlet.list);
            }
        }
        match lists.as_slice() {
            [] => {}
            &[only] => met.list = only,
            several => {
                let all = several.iter().filter_map(|&list| self.lists.get(list));
                let all = all.flatten().copied().collect();
                met.list = self.lists.len();
                self.lists.push(all);
            }
        }
        met
    }

    pub(super) fn name(&self, end: usize) -> Name {
        let section = self
            .ends
            .get(end)
            .and_then(|end| self.system.sections.get(end.section));
        section.map_or_else(|| Name::from(""), |section| section.id.clone())
    }

    pub(super) fn names(&self, ends: &[usize]) -> Vec<Name> {
        ends.iter().map(|&end| self.name(end)).collect()
    }

    /// The most certain reading of an end.
    pub(super) fn reference(&self, end: usize) -> usize {
        let readings = self.ends.get(end).and_then(|end| end.readings.first());
        readings.copied().unwrap_or_default()
    }

    /// The flow of an end less that of others, as a sum of readings.
    pub(super) fn balance(&self, end: usize, upstream: &[usize]) -> Terms {
        let mut terms = vec![(self.reference(end), 1.0)];
        terms.extend(upstream.iter().map(|&up| (self.reference(up), -1.0)));
        terms
    }

    /// The flow of each section as a sum of readings, in the order of the model; `None` where the
    /// readings do not determine it. Sections of one flow share a number.
    pub(super) fn flows(&self) -> (Vec<Option<usize>>, Vec<Terms>) {
        let mut known = HashMap::new();
        let mut terms = Vec::new();
        let of = self
            .sums
            .iter()
            .zip(&self.below)
            .enumerate()
            .map(|(i, (sum, below))| {
                let flow = self.flow(i, *sum, *below)?;
                Some(*known.entry(flow).or_insert_with(|| {
                    terms.push(self.terms(flow));
                    terms.len() - 1
                }))
            });
        (of.collect(), terms)
    }

    fn flow(&self, section: usize, sum: Sum, below: Option<usize>) -> Option<Flow> {
        let end = below.and_then(|below| Some((below, self.ends.get(below)?)));
        match end {
            Some((below, stretch)) if stretch.section == section => Some(Flow::Of(below)),
            _ if sum.sources == 0 => Some(Flow::Sum(sum.list)),
            Some((below, stretch)) if stretch.sources.len() == sum.sources => {
                Some(Flow::Rest(below, sum.list))
            }
            _ => None,
        }
    }

    fn terms(&self, flow: Flow) -> Terms {
        let list = |list: usize| self.lists.get(list).map_or(&[][..], Vec::as_slice);
        match flow {
            Flow::Of(end) => vec![(self.reference(end), 1.0)],
            Flow::Sum(sum) => list(sum)
                .iter()
                .map(|&up| (self.reference(up), 1.0))
                .collect(),
            Flow::Rest(end, passing) => {
                let passing: HashSet<usize> = list(passing).iter().copied().collect();
                let upstream = self.ends.get(end).map_or(&[][..], |end| &end.upstream);
                let others = upstream.iter().copied().filter(|up| !passing.contains(up));
                self.balance(end, &others.collect::<Vec<_>>())
            }
        }
    }

    /// The end in the section of this name.
    pub(super) fn end(&self, section: &Name) -> Result<usize, ReconcileError> {
        let sections = &self.system.sections;
        let Some(i) = sections.iter().position(|at| at.id == *section) else {
            let known = sections.iter().map(|at| &at.id);
            let error = unknown("section", section.as_str(), known);
            return Err(ReconcileError::Between(error));
        };
        let end = self.below.get(i).copied().flatten();
        end.filter(|&end| self.ends.get(end).is_some_and(|end| end.section == i))
            .ok_or_else(|| ReconcileError::NotRead {
                section: section.clone(),
            })
    }

    /// The next end downstream.
    pub(super) fn next(&self, end: usize) -> Option<usize> {
        let section = self.ends.get(end)?.section;
        let outlet = self.outlets.get(section).copied().flatten()?;
        self.below.get(outlet).copied().flatten()
    }
}

/// The readings of each section, the most certain first; refuses those where no air passes.
fn readings_of(
    system: &System,
    given: &FlowReadings,
    cut_by: &[Option<usize>],
    entries: &[Entry],
) -> Result<Vec<Vec<usize>>, ReconcileError> {
    let sections = &system.sections;
    let index: HashMap<&Name, usize> = sections.iter().map(|at| &at.id).zip(0..).collect();
    let shut_by = |i: usize| match (cut_by.get(i)?, entries.get(i)?, &sections.get(i)?.start) {
        (&Some(by), ..) => Some(Place::Section(sections.get(by)?.id.clone())),
        (None, Entry::Shut, Start::Hood(hood)) => Some(Place::Hood(hood.id.clone())),
        _ => None,
    };
    let mut of: Vec<Vec<usize>> = vec![Vec::new(); sections.len()];
    for (i, at) in given.readings.iter().enumerate() {
        let (reading, section) = (i + 1, at.section.clone());
        let found = index.get(&section).copied();
        if let Some(by) = found.and_then(shut_by) {
            return Err(ReconcileError::BehindShut {
                reading,
                section,
                by,
            });
        }
        match found.and_then(|found| of.get_mut(found)) {
            Some(readings) => readings.push(i),
            None => {
                let known = sections.iter().map(|at| &at.id);
                let error = unknown("section", section.as_str(), known);
                return Err(ReconcileError::Section { reading, error });
            }
        }
    }
    let standard = |i: &usize| {
        let reading = given.readings.get(*i);
        reading.map_or(0.0, |at| at.standard.as_m3_s())
    };
    for readings in &mut of {
        readings.sort_by(|a, b| standard(a).total_cmp(&standard(b)));
    }
    Ok(of)
}

fn open_hoods<'s>(system: &'s System, open: &[Name]) -> Result<HashSet<&'s Name>, ReconcileError> {
    let mut by_name: HashMap<&Name, Vec<&Name>> = HashMap::new();
    for (_, hood) in system.hoods() {
        by_name.entry(&hood.id).or_default().push(&hood.id);
        if let Some(machine) = &hood.machine {
            by_name.entry(machine).or_default().push(&hood.id);
        }
    }
    let mut hoods = HashSet::new();
    for name in open {
        let Some(of) = by_name.get(name) else {
            let known = system.hoods().map(|(_, hood)| &hood.id);
            let known = known.chain(system.machines.iter().map(|machine| &machine.id));
            let error = unknown("hood or machine", name.as_str(), known);
            return Err(ReconcileError::Open(error));
        };
        hoods.extend(of);
    }
    Ok(hoods)
}

fn entry(section: &Section, open: &HashSet<&Name>, shut: ShutHoods) -> Entry {
    match &section.start {
        Start::Joins | Start::Capped => Entry::None,
        Start::Hood(hood) if open.contains(&hood.id) || shut == ShutHoods::Leaky => {
            Entry::Air(Place::Hood(hood.id.clone()))
        }
        Start::Leak(_) if shut == ShutHoods::Leaky => {
            Entry::Air(Place::Section(section.id.clone()))
        }
        Start::Hood(_) | Start::Leak(_) => Entry::Shut,
    }
}

/// The shut gate, if any, at or downstream of each section, by the index of its section.
fn cuts(system: &System, topology: &Topology, shut: ShutHoods) -> Vec<Option<usize>> {
    let is_shut = |part: &Part| match (part, shut) {
        (Part::Gate(gate), ShutHoods::Leaky) => gate.is_shut(),
        (Part::Gate(gate), ShutHoods::Tight) => Gate {
            leak_area: None,
            ..*gate
        }
        .is_shut(),
        _ => false,
    };
    let mut by = vec![None; system.sections.len()];
    for &i in topology.order.iter().rev() {
        let here = system
            .sections
            .get(i)
            .is_some_and(|s| s.parts.iter().any(is_shut));
        let outlet = topology.outlets.get(i).copied().flatten();
        let cut = if here {
            Some(i)
        } else {
            outlet.and_then(|outlet| by.get(outlet).copied().flatten())
        };
        if let Some(to) = by.get_mut(i) {
            *to = cut;
        }
    }
    by
}
