//! Every bundle solved once.

use super::{
    Bundle, MachineMargin, Money, SkipReason, SkippedBundle, Upgrade, UpgradeError,
    first_order::FirstOrder,
};
use crate::{
    place::Name,
    solve::{Network, OpenSet, Status, Workspace},
    system::{Change, ChangeError, System},
};
use std::cmp::Ordering;

/// Margins are told in steps of this, so that the solver's rounding decides nothing.
const STEP: f64 = 1e-9;

/// A bundle as a set of bits: bit i for upgrade i of the list.
pub(super) type Mask = usize;

/// Every bundle of a list of upgrades.
pub(super) struct Bundles<'a> {
    pub(super) upgrades: &'a [Upgrade],
    judged: Vec<Judged>,
    pub(super) as_it_is: Answer,
    /// What the gradient says of each upgrade, in the order of the list.
    pub(super) first_orders: Vec<Option<f64>>,
    /// By mask; `None` where it cannot be or has no answer.
    solved: Vec<Option<Answer>>,
    pub(super) skipped: Vec<SkippedBundle>,
}

/// What a changed system does.
#[derive(Clone)]
pub(super) struct Answer {
    pub(super) score: Score,
    /// One for each judged machine: its least margin and the open set of that.
    margins: Vec<(f64, usize)>,
    outside_curve: bool,
}

/// How well a bundle serves the machines.
#[derive(Debug, Clone, Copy)]
pub(super) struct Score {
    pub(super) worst_margin: f64,
    pub(super) shortfall: f64,
}

impl Score {
    /// Greater is better.
    pub(super) fn rank(&self, other: &Self) -> Ordering {
        let by_worst = self.worst_margin.total_cmp(&other.worst_margin);
        by_worst.then(other.shortfall.total_cmp(&self.shortfall))
    }
}

/// A machine that has a margin.
struct Judged {
    name: Name,
    /// Its place in the model.
    machine: usize,
    required_m3s: f64,
    /// The open sets that name it or one of its hoods, whatever stands shut on its way.
    in_sets: Vec<usize>,
}

impl<'a> Bundles<'a> {
    pub(super) fn solve(
        system: &System,
        upgrades: &'a [Upgrade],
        open_sets: &[Vec<Name>],
    ) -> Result<Self, UpgradeError> {
        if open_sets.is_empty() {
            return Err(UpgradeError::NoOpenSet);
        }
        // Faults of the system come before those of the question.
        let network = Network::new(system)?;
        let judged = judged(system, &network, open_sets)?;
        let mut work = Workspace::default();
        let as_it_is =
            solve(&network, &judged, open_sets, &mut work).map_err(UpgradeError::AsItIs)?;
        let first_orders =
            first_orders((system, &network), upgrades, open_sets, &judged, &as_it_is)
                .map_err(UpgradeError::AsItIs)?;
        let mut it = Self {
            upgrades,
            judged,
            as_it_is,
            first_orders,
            solved: Vec::with_capacity(1 << upgrades.len()),
            skipped: Vec::new(),
        };
        // Upgrades that exclude each other: a bundle that holds both needs no trial.
        let mut exclusive: Vec<Mask> = Vec::new();
        let mut listed: Vec<Mask> = Vec::new();
        let holds = |mask: Mask, all: &[Mask]| all.iter().any(|part| mask & part == *part);
        // No upgrade at all is the system as it is.
        it.solved.push(Some(it.as_it_is.clone()));
        for mask in 1..1 << upgrades.len() {
            if holds(mask, &exclusive) {
                it.solved.push(None);
                continue;
            }
            let solved = it.change(system, mask).and_then(|changed| {
                let network = Network::new(&changed).map_err(ChangeError::Model)?;
                solve(&network, &it.judged, open_sets, &mut work)
            });
            match solved {
                Ok(solved) => it.solved.push(Some(solved)),
                Err(reason) => {
                    if matches!(reason, SkipReason::Conflict { .. }) {
                        exclusive.push(mask);
                    }
                    if !holds(mask, &listed) {
                        listed.push(mask);
                        let upgrades = it.names(mask);
                        it.skipped.push(SkippedBundle { upgrades, reason });
                    }
                    it.solved.push(None);
                }
            }
        }
        Ok(it)
    }

    fn change(&self, system: &System, mask: Mask) -> Result<System, SkipReason> {
        let mut changes: Vec<Change> = Vec::new();
        let mut owners: Vec<&Name> = Vec::new();
        for upgrade in self.of(mask) {
            changes.extend(upgrade.changes.iter().cloned());
            owners.resize(changes.len(), &upgrade.name);
        }
        system.changed(&changes).map_err(|error| {
            let owner = |index: usize| owners.get(index).copied().cloned();
            if let ChangeError::Conflict { first, second } = &error
                && let (Some(one), Some(other)) = (owner(first.index), owner(second.index))
            {
                return SkipReason::Conflict {
                    first: one,
                    second: other,
                    place: second.place.clone(),
                };
            }
            SkipReason::Change(error)
        })
    }

    /// The upgrades of a bundle, in the order of the list.
    fn of(&self, mask: Mask) -> impl Iterator<Item = &'a Upgrade> {
        let upgrades = self.upgrades.iter().enumerate();
        upgrades.filter_map(move |(i, upgrade)| (mask >> i & 1 == 1).then_some(upgrade))
    }

    fn names(&self, mask: Mask) -> Vec<Name> {
        self.of(mask).map(|upgrade| upgrade.name.clone()).collect()
    }

    pub(super) fn get(&self, mask: Mask) -> Option<&Answer> {
        self.solved.get(mask)?.as_ref()
    }

    /// Every bundle with an answer, in the order of the masks.
    pub(super) fn solved(&self) -> impl Iterator<Item = (Mask, &Answer)> {
        let solved = self.solved.iter().enumerate();
        solved.filter_map(|(mask, solved)| Some((mask, solved.as_ref()?)))
    }

    /// How many bundles there are, with an answer or without.
    pub(super) fn count(&self) -> usize {
        self.solved.len()
    }

    /// What the upgrades of a bundle cost together.
    pub(super) fn cost(&self, mask: Mask) -> Money {
        self.of(mask).map(|upgrade| upgrade.cost).sum()
    }

    /// A bundle with names, as the owner sees it.
    pub(super) fn bundle(&self, mask: Mask, answer: &Answer) -> Bundle {
        let machines = self.judged.iter().zip(&answer.margins);
        Bundle {
            upgrades: self.names(mask),
            cost: self.cost(mask),
            worst_margin: answer.score.worst_margin,
            shortfall: answer.score.shortfall,
            machines: machines
                .map(|(judged, &(margin, open_set))| MachineMargin {
                    machine: judged.name.clone(),
                    margin,
                    open_set,
                })
                .collect(),
            outside_curve: answer.outside_curve,
        }
    }
}

/// The answer of one system in every open set.
fn solve(
    network: &Network,
    judged: &[Judged],
    open_sets: &[Vec<Name>],
    work: &mut Workspace,
) -> Result<Answer, SkipReason> {
    let mut margins = vec![(f64::INFINITY, 0); judged.len()];
    let mut flows_m3s = Vec::new();
    let mut outside_curve = false;
    for (i, names) in open_sets.iter().enumerate() {
        let open = network.open(names)?;
        let balance = network.solve(&open, work).map_err(|error| {
            let open = names.clone();
            SkipReason::Unsolved { open, error }
        })?;
        outside_curve |= matches!(balance.status, Status::BeyondCurve | Status::BelowCurve);
        flows_m3s.clear();
        flows_m3s.extend(balance.machine_flows().map(|flow| flow.as_m3_s()));
        for (judged, margin) in judged.iter().zip(&mut margins) {
            let flow = flows_m3s.get(judged.machine).copied().unwrap_or(0.0);
            let here = flow / judged.required_m3s - 1.0;
            if here < margin.0 && judged.in_sets.contains(&i) {
                *margin = (here, i);
            }
        }
    }
    let capped = margins.iter().map(|(margin, _)| margin.min(0.0));
    Ok(Answer {
        score: Score {
            worst_margin: stepped(capped.clone().fold(0.0, f64::min)),
            shortfall: stepped(-capped.sum::<f64>()),
        },
        margins,
        outside_curve,
    })
}

/// What the gradient of the worst served machine's flow, as it is, says of each upgrade.
fn first_orders(
    (system, network): (&System, &Network),
    upgrades: &[Upgrade],
    open_sets: &[Vec<Name>],
    judged: &[Judged],
    as_it_is: &Answer,
) -> Result<Vec<Option<f64>>, SkipReason> {
    let machines = judged.iter().zip(&as_it_is.margins);
    // Of two alike the first in the model.
    let worst = machines.min_by(|(_, (a, _)), (_, (b, _))| a.total_cmp(b));
    let Some((machine, &(_, set))) = worst else {
        return Ok(vec![None; upgrades.len()]);
    };
    let open = open_sets.get(set).map_or(&[][..], Vec::as_slice);
    let needs = machine.required_m3s;
    let first_order = FirstOrder::of(system, network, &machine.name, needs, open)?;
    let changes = upgrades.iter().map(|upgrade| first_order.change(upgrade));
    Ok(changes.collect())
}

/// The machines that have a margin. Which they are is told by the system as it is: no change can
/// make a machine's lack go away by shutting it off.
fn judged(
    system: &System,
    network: &Network,
    open_sets: &[Vec<Name>],
) -> Result<Vec<Judged>, UpgradeError> {
    let sets: Vec<OpenSet> = open_sets
        .iter()
        .map(|names| network.open(names))
        .collect::<Result<_, _>>()?;
    let is_in = |set: &OpenSet, machine: &Name| {
        let mut hoods = system.hoods_of(machine);
        hoods.any(|(hood, _)| set.contains(hood as u32))
    };
    let judged: Vec<Judged> = system
        .machines
        .iter()
        .enumerate()
        .filter(|(_, machine)| machine.required.as_m3_s() > 0.0)
        .map(|(i, machine)| Judged {
            name: machine.id.clone(),
            machine: i,
            required_m3s: machine.required.as_m3_s(),
            in_sets: (0..)
                .zip(&sets)
                .filter(|(_, set)| is_in(set, &machine.id))
                .map(|(i, _)| i)
                .collect(),
        })
        .filter(|judged| !judged.in_sets.is_empty())
        .collect();
    if judged.is_empty() {
        return Err(UpgradeError::NothingRequired);
    }
    Ok(judged)
}

fn stepped(value: f64) -> f64 {
    // Adding 0 turns -0 into 0.
    (value / STEP).round() * STEP + 0.0
}

/// Bundles for the tests of these modules, of which scores alone are told.
#[cfg(test)]
pub(super) mod by_hand {
    use super::{Answer, Bundles, Money, Score, Upgrade};

    /// Upgrades at these prices that change nothing, called "a", "b" and so on.
    pub(in crate::decide::upgrade) fn upgrades(costs: &[f64]) -> Vec<Upgrade> {
        let named = ["a", "b", "c"].into_iter().zip(costs);
        named
            .map(|(name, &cost)| Upgrade {
                name: name.into(),
                cost: Money::new(cost),
                changes: Vec::new(),
            })
            .collect()
    }

    /// Worst margin and shortfall of every bundle: none, a, b, a and b, and so on.
    pub(in crate::decide::upgrade) fn bundles<'a>(
        upgrades: &'a [Upgrade],
        scores: &[(f64, f64)],
    ) -> Bundles<'a> {
        assert_eq!(scores.len(), 1 << upgrades.len());
        let answer = |&(worst_margin, shortfall): &(f64, f64)| Answer {
            score: Score {
                worst_margin,
                shortfall,
            },
            margins: Vec::new(),
            outside_curve: false,
        };
        Bundles {
            upgrades,
            judged: Vec::new(),
            as_it_is: answer(&scores[0]),
            first_orders: Vec::new(),
            solved: scores.iter().map(answer).map(Some).collect(),
            skipped: Vec::new(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        decide::by_hand::{fan, shop},
        loss::{Gate, Part},
    };

    fn answer(system: &System, open_sets: &[&[&str]]) -> Answer {
        let named =
            |names: &&[&str]| -> Vec<Name> { names.iter().copied().map(Name::from).collect() };
        let open_sets: Vec<Vec<Name>> = open_sets.iter().map(named).collect();
        let network = Network::new(system).unwrap();
        let judged = judged(system, &network, &open_sets).unwrap();
        solve(&network, &judged, &open_sets, &mut Workspace::default()).unwrap()
    }

    #[test]
    fn figures_from_beyond_the_curve_are_a_hint() {
        let mut system = shop();
        let outside = |system: &System| answer(system, &[&["saw"], &["planer"]]).outside_curve;
        assert!(!outside(&system));
        // Either machine alone draws more than the last flow of this curve.
        let short = fan(&[(0.0, 3000.0), (0.05, 2900.0), (0.1, 2700.0)]);
        system.collector.fan = Some(short);
        assert!(outside(&system));
    }

    /// The planer's gate is shut and tight: it gets no air at all in either set.
    #[test]
    fn of_two_sets_alike_the_first_is_told() {
        let mut system = shop();
        system.sections[1].parts[0] = Part::Gate(Gate {
            opening: 0.0,
            leak_area: None,
        });
        let answer = answer(&system, &[&["saw", "planer"], &["planer", "saw"]]);
        assert_eq!(answer.margins[1], (-1.0, 0));
    }

    #[test]
    fn rounding_decides_nothing_not_even_a_sign() {
        let bits = [-0.0, -4e-10, 4e-10].map(|value| stepped(value).to_bits());
        assert_eq!(bits, [0.0_f64.to_bits(); 3]);
        assert_eq!([-6e-10, 6e-10].map(stepped), [-STEP, STEP]);
    }
}
