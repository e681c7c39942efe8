//! Which open sets a report looks at, their answers, and where each machine is served worst.

use super::ReportError;
use crate::{
    decide::{LowLikelyHigh, LowLikelyHighError, low_likely_high},
    place::Name,
    solve::{HoodState, Network, OpenSet, OperatingPoint, SolveError},
    study::Study,
};
use std::collections::{BTreeMap, HashMap, HashSet};

/// Open sets that a report solves at most; of more, those that come first and each machine alone. Two
/// of forty machines make 820.
const MOST_SETS: usize = 1000;

/// What a report knows of the open sets.
#[derive(Debug)]
pub(super) struct Answers {
    /// How the sets were chosen.
    pub(super) chosen: Chosen,
    /// Whether there are more than were solved.
    pub(super) cut: bool,
    pub(super) solved: Vec<Solved>,
    pub(super) failed: Vec<(Vec<Name>, SolveError)>,
    /// Machines, and hoods that serve none, in the order of the model, each with the set in which it
    /// is served worst.
    pub(super) served: Vec<Served>,
    /// The set in which some machine is served worst of all; index into `solved`.
    pub(super) hardest: Option<usize>,
    cases: BTreeMap<usize, Result<LowLikelyHigh, LowLikelyHighError>>,
}

/// How the open sets were chosen.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Chosen {
    /// By who asked for the report.
    Asked,
    /// By the use that the document tells.
    Use,
    /// Each machine alone, because nobody told how the shop is used.
    Alone,
}

/// A set with its answer.
#[derive(Debug)]
pub(super) struct Solved {
    pub(super) open: Vec<Name>,
    pub(super) point: OperatingPoint,
}

/// A machine, or a hood that serves none.
#[derive(Debug)]
pub(super) struct Served {
    pub(super) name: Name,
    pub(super) is_machine: bool,
    /// The set in which it is served worst; `None`: it is open in none.
    pub(super) worst: Option<usize>,
    /// The least flow over need there, of the machine or of a hood of it; `None` where nothing is
    /// needed.
    pub(super) share: Option<f64>,
}

impl Answers {
    pub(super) fn of(
        study: &Study,
        network: &Network,
        asked: Option<&[Name]>,
    ) -> Result<Self, ReportError> {
        let usage = &study.plans.usage;
        let told = usage.at_most.is_some() || !usage.exclusive.is_empty();
        let (chosen, sets): (_, Box<dyn Iterator<Item = OpenSet>>) = match asked {
            Some(names) => {
                let open = network.open(names)?;
                (Chosen::Asked, Box::new(std::iter::once(open)))
            }
            None if told => (Chosen::Use, Box::new(usage.sets(network)?)),
            None => {
                let alone = network.machine_sets_up_to(1)?;
                (Chosen::Alone, Box::new(alone))
            }
        };
        let mut answers = Self {
            chosen,
            cut: false,
            solved: Vec::new(),
            failed: Vec::new(),
            served: Vec::new(),
            hardest: None,
            cases: BTreeMap::new(),
        };
        let mut sets = sets.fuse();
        let mut looked_at: Vec<OpenSet> = sets.by_ref().take(MOST_SETS).collect();
        if sets.next().is_some() {
            answers.cut = true;
            // The first sets hold the first machines: none is to go without an answer.
            let known: HashSet<OpenSet> = looked_at.iter().cloned().collect();
            let alone = network.machine_sets_up_to(1)?;
            looked_at.extend(alone.filter(|open| !known.contains(open)));
        }
        for open in looked_at {
            let names = network.open_names(&open)?;
            match network.operating_point(&open) {
                Ok(point) => answers.solved.push(Solved { open: names, point }),
                Err(error) => answers.failed.push((names, error)),
            }
        }
        answers.serve(study);
        Ok(answers)
    }

    /// Finds the set in which each machine is served worst, and that which is hardest of all.
    fn serve(&mut self, study: &Study) {
        let system = &study.system;
        self.tell_cases(study, 0);
        // Needs are the same in every set, be they open there or not.
        let needs = match self.cases.get(&0) {
            Some(Ok(cases)) => Needs::of(cases),
            _ => Needs::default(),
        };
        let machines = system.machines.iter().map(|at| (&at.id, true));
        let hoods = system.hoods().filter(|(_, hood)| hood.machine.is_none());
        let all = machines.chain(hoods.map(|(_, hood)| (&hood.id, false)));
        let mut served: Vec<Served> = Vec::new();
        for (name, is_machine) in all {
            let mut worst: Option<(Standing, usize)> = None;
            for (i, solved) in self.solved.iter().enumerate() {
                let Some(here) = needs.standing(&solved.point, name, is_machine) else {
                    continue;
                };
                if worst.is_none_or(|(least, _)| here.is_worse_than(least)) {
                    worst = Some((here, i));
                }
            }
            served.push(Served {
                name: name.clone(),
                is_machine,
                worst: worst.map(|(_, i)| i),
                share: worst.and_then(|(here, _)| here.share),
            });
        }
        let known = served.iter().filter_map(|at| Some((at.share?, at.worst?)));
        let hardest = known.min_by(|a, b| a.0.total_cmp(&b.0));
        let any = (!self.solved.is_empty()).then_some(0);
        self.hardest = hardest.map(|(_, set)| set).or(any);
        let mut telling: Vec<usize> = served.iter().filter_map(|at| at.worst).collect();
        telling.extend(self.hardest);
        telling.sort_unstable();
        telling.dedup();
        self.served = served;
        self.cases.retain(|set, _| telling.contains(set));
        for set in telling {
            self.tell_cases(study, set);
        }
    }

    fn tell_cases(&mut self, study: &Study, set: usize) {
        let Some(solved) = self.solved.get(set) else {
            return;
        };
        self.cases.entry(set).or_insert_with(|| {
            let (system, assumptions) = (&study.system, &study.assumptions);
            low_likely_high(system, assumptions, &solved.open, &study.plans.check)
        });
    }

    /// The sets in which something is served worst, in the order of the sets.
    pub(super) fn telling(&self) -> impl Iterator<Item = (usize, &Solved)> {
        let solved = self.cases.keys();
        solved.filter_map(|&i| Some((i, self.solved.get(i)?)))
    }

    /// Low, likely and high case of a set.
    pub(super) fn cases(&self, set: usize) -> Result<&LowLikelyHigh, String> {
        match self.cases.get(&set) {
            Some(Ok(cases)) => Ok(cases),
            Some(Err(error)) => Err(error.to_string()),
            None => Err("no cases of this set".into()),
        }
    }

    /// The set in which some machine is served worst.
    pub(super) fn hardest(&self) -> Option<&Solved> {
        self.solved.get(self.hardest?)
    }
}

/// What machines and hoods need \[m3/s\], where they need something.
#[derive(Debug, Default)]
struct Needs {
    machines: HashMap<Name, f64>,
    hoods: HashMap<Name, f64>,
}

/// How a machine, or a hood that serves none, is served in a set.
#[derive(Debug, Clone, Copy)]
struct Standing {
    flow_m3s: f64,
    /// The least flow over need, of the machine or of an open hood of it; `None`: nothing is needed.
    share: Option<f64>,
}

impl Standing {
    fn is_worse_than(self, other: Self) -> bool {
        match (self.share, other.share) {
            (Some(own), Some(other)) => own < other,
            (Some(_), None) => true,
            (None, Some(_)) => false,
            (None, None) => self.flow_m3s < other.flow_m3s,
        }
    }
}

impl Needs {
    fn of(cases: &LowLikelyHigh) -> Self {
        let machines = cases.machines.iter();
        let hoods = cases.hoods.iter();
        Self {
            machines: machines
                .filter_map(|at| Some((at.machine.clone(), at.need.as_ref()?.flow.as_m3_s())))
                .collect(),
            hoods: hoods
                .filter_map(|at| Some((at.hood.clone(), at.need.as_ref()?.flow.as_m3_s())))
                .collect(),
        }
    }

    /// `None` where it is shut.
    fn standing(&self, point: &OperatingPoint, name: &Name, is_machine: bool) -> Option<Standing> {
        let of_hood = |hood: &HoodState| {
            let need = self.hoods.get(&hood.name)?;
            Some(hood.flow.as_m3_s() / need)
        };
        let mut hoods = point.hoods.iter().filter(|hood| hood.open);
        if !is_machine {
            let hood = hoods.find(|hood| hood.name == *name)?;
            return Some(Standing {
                flow_m3s: hood.flow.as_m3_s(),
                share: of_hood(hood),
            });
        }
        let mut machines = point.machines.iter();
        let machine = machines.find(|at| at.name == *name && at.open)?;
        let flow_m3s = machine.flow.as_m3_s();
        let own = self.machines.get(name).map(|need| flow_m3s / need);
        let hoods = hoods.filter(|hood| hood.machine.as_ref() == Some(name));
        let shares = hoods.filter_map(of_hood).chain(own);
        Some(Standing {
            flow_m3s,
            share: shares.min_by(f64::total_cmp),
        })
    }
}
