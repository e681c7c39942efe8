//! Which open sets a report looks at, their answers, and where each machine is served worst.

use super::ReportError;
use crate::{
    decide::{LowLikelyHigh, LowLikelyHighError, low_likely_high},
    place::Name,
    solve::{Network, OpenSet, OperatingPoint, SolveError},
    study::Study,
};
use std::collections::BTreeMap;

/// Open sets that a report solves at most; of more, those that come first.
const MOST_SETS: usize = 500;

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
    /// gets least.
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
    /// The set in which it gets least; `None`: it is open in none.
    pub(super) worst: Option<usize>,
    /// Flow over need there; `None` where nothing is needed.
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
        for (i, open) in sets.enumerate() {
            if i == MOST_SETS {
                answers.cut = true;
                break;
            }
            let names = network.open_names(&open)?;
            match network.operating_point(&open) {
                Ok(point) => answers.solved.push(Solved { open: names, point }),
                Err(error) => answers.failed.push((names, error)),
            }
        }
        answers.serve(study);
        answers.tell_cases(study);
        Ok(answers)
    }

    fn serve(&mut self, study: &Study) {
        let system = &study.system;
        let machines = system.machines.iter().map(|at| (&at.id, true));
        let hoods = system.hoods().filter(|(_, hood)| hood.machine.is_none());
        let all = machines.chain(hoods.map(|(_, hood)| (&hood.id, false)));
        let mut hardest: Option<(f64, usize)> = None;
        for (name, is_machine) in all {
            let mut worst: Option<(f64, Option<f64>, usize)> = None;
            for (i, solved) in self.solved.iter().enumerate() {
                let Some((flow, need)) = flow_of(&solved.point, name, is_machine) else {
                    continue;
                };
                if worst.is_none_or(|(least, ..)| flow < least) {
                    let share = need.filter(|need| *need > 0.0).map(|need| flow / need);
                    worst = Some((flow, share, i));
                }
            }
            if let Some((_, Some(share), i)) = worst
                && hardest.is_none_or(|(least, _)| share < least)
            {
                hardest = Some((share, i));
            }
            self.served.push(Served {
                name: name.clone(),
                is_machine,
                worst: worst.map(|(_, _, i)| i),
                share: worst.and_then(|(_, share, _)| share),
            });
        }
        let any = (!self.solved.is_empty()).then_some(0);
        self.hardest = hardest.map(|(_, i)| i).or(any);
    }

    fn tell_cases(&mut self, study: &Study) {
        let mut wanted: Vec<usize> = self.served.iter().filter_map(|at| at.worst).collect();
        wanted.extend(self.hardest);
        for i in wanted {
            let Some(solved) = self.solved.get(i) else {
                continue;
            };
            self.cases.entry(i).or_insert_with(|| {
                let (system, assumptions) = (&study.system, &study.assumptions);
                low_likely_high(system, assumptions, &solved.open, &study.plans.check)
            });
        }
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

/// Flow and need \[m3/s\] of what is open.
fn flow_of(point: &OperatingPoint, name: &Name, is_machine: bool) -> Option<(f64, Option<f64>)> {
    if is_machine {
        let machine = point.machines.iter().find(|at| at.name == *name)?;
        let need = machine.required.as_m3_s();
        machine.open.then(|| (machine.flow.as_m3_s(), Some(need)))
    } else {
        let hood = point.hoods.iter().find(|at| at.name == *name)?;
        let need = hood.required.map(|need| need.as_m3_s());
        hood.open.then(|| (hood.flow.as_m3_s(), need))
    }
}
