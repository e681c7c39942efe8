//! How a shop is used: which hoods are ever open together.

use crate::{
    place::Name,
    solve::{Network, OpenSet, SolveError, TooManySets},
    system::{UnknownName, unknown},
};
use std::{
    collections::{HashMap, HashSet},
    iter::FusedIterator,
};

/// How a shop is used: which machines are ever open together, and how often.
///
/// Machines open whole; a hood that serves none counts as a machine. Without any limit every
/// choice of machines may be open together.
///
/// In a document:
///
/// ```toml
/// at_most = 2
/// exclusive = [["lathe", "disc sander"]]     # one hose, moved between them
/// weights = [{ of = "planer", weight = 0.25 }]
/// ```
///
/// ```
/// # use airsplit::*;
/// # fn main() -> Result<(), Box<dyn std::error::Error>> {
/// # #[cfg(feature = "serde")] {
/// let study: Study = toml::from_str(&std::fs::read_to_string("examples/chair_shop.toml")?)?;
/// let network = Network::new(&study.system)?;
/// let shop_use = Use::any().at_most(2).exclusive(["lathe", "disc sander"]);
/// // Of seven machines 7 alone and 21 pairs, but for the one pair with the moved hose.
/// assert_eq!(shop_use.sets(&network)?.count(), 27);
/// # }
/// # Ok(())
/// # }
/// ```
#[derive(Debug, Clone, PartialEq, Default)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(default, deny_unknown_fields)
)]
#[non_exhaustive]
pub struct Use {
    /// Most machines that are open at once, 1 or more; `None`: any number.
    pub at_most: Option<usize>,
    /// Groups of machines or hoods of which at most one is open: one hose moved between machines,
    /// one worker. A hood of a machine keeps the whole machine out.
    pub exclusive: Vec<Vec<Name>>,
    /// How often machines are open; those not named weigh 1. The last word on a machine counts.
    pub weights: Vec<UseWeight>,
}

/// How much a machine's being open weighs.
///
/// The weight of an open set is the product of those of its machines, and tells only how it stands
/// to other sets. With the odds of each machine as weights (hours on over hours off) it is
/// proportional to the share of the day that the set stands open, as long as machines run without
/// regard to one another but for the limits of the [`Use`].
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
pub struct UseWeight {
    /// The machine, or a hood that serves none.
    pub of: Name,
    /// Its weight \[-\], above zero.
    pub weight: f64,
}

/// An open set and how much it weighs.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct WeightedSet {
    /// The set.
    pub open: OpenSet,
    /// Its weight against those of the other sets \[-\].
    pub weight: f64,
}

/// Why a use does not fit a network.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum UseError {
    /// A name that the network does not have.
    #[error(transparent)]
    Name(#[from] UnknownName),
    /// No machine may ever be open.
    #[error("at most 0 machines open at once leaves nothing to answer; say 1 or more")]
    NoneAtOnce,
    /// An exclusive group that excludes nothing.
    #[error(
        "exclusive group {group} holds fewer than two machines; name two or more, or leave it out"
    )]
    SmallGroup {
        /// Which group, counted from 1.
        group: usize,
    },
    /// A machine stands twice in a group, by its name or by two of its hoods, and could not be open.
    #[error("exclusive group {group} holds {machine:?} twice; name each machine once", machine = machine.as_str())]
    TwiceInGroup {
        /// Which group, counted from 1.
        group: usize,
        /// The machine.
        machine: Name,
    },
    /// A weight that is zero, negative or no number.
    #[error("weight {weight} of {of:?} must be above zero and finite; leave out what never runs", of = of.as_str())]
    Weight {
        /// The machine.
        of: Name,
        /// The weight that was given.
        weight: f64,
    },
    /// A hood cannot weigh by itself when its machine opens whole.
    #[error("{of:?} is a hood of a machine, which opens whole; give the weight of the machine", of = of.as_str())]
    WeightOfHood {
        /// The hood.
        of: Name,
    },
    /// The machines of the network cannot be told apart.
    #[error(transparent)]
    Network(#[from] SolveError),
    /// Exclusive groups of more machines than are worked out.
    #[error(
        "the exclusive groups make {pairs} pairs of machines; at most {most} are worked out: give \
         smaller groups",
        most = Use::MOST_PAIRS
    )]
    TooManyPairs {
        /// The sum of the squares of their lengths.
        pairs: usize,
    },
    /// More sets than a list of names should hold.
    #[error(
        "more than {most} sets; let fewer machines be open at once, or ask for the sets one by one",
        most = Use::MOST_NAMED
    )]
    TooManyNamed,
    /// The network cannot be listed.
    #[error(transparent)]
    Sets(#[from] TooManySets),
}

/// The open sets of a use, one after another, made as they are asked for.
///
/// In lexicographic order of the machines as they stand in the model: the first alone, the first
/// and the second, all three, ..., the second alone. Owns what it needs. Time and memory for one
/// set do not grow with the number of sets; how many there are nobody knows beforehand, so bound
/// them by [`take`](Iterator::take) where a shop has dozens of machines.
#[derive(Debug, Clone)]
pub struct UseSets {
    network: Network,
    units: Vec<Unit>,
    at_most: usize,
    /// Only sets that no further machine may join.
    maximal: bool,
    /// The units of the last set, rising.
    chosen: Vec<usize>,
    /// How many of the chosen stand against each unit.
    against: Vec<usize>,
    done: bool,
}

/// A machine, or a hood that serves none.
#[derive(Debug, Clone)]
struct Unit {
    name: Name,
    weight: f64,
    /// Units that are never open beside it.
    apart: Vec<usize>,
}

impl Use {
    /// Most pairs that the exclusive groups may make: the sum of the squares of their lengths.
    pub const MOST_PAIRS: usize = 1_000_000;
    /// Most sets that [`maximal_names`](Self::maximal_names) lists.
    pub const MOST_NAMED: usize = 100_000;

    /// Every choice of machines.
    #[must_use]
    pub fn any() -> Self {
        Self::default()
    }

    /// With at most so many machines open at once.
    #[must_use]
    pub fn at_most(mut self, machines: usize) -> Self {
        self.at_most = Some(machines);
        self
    }

    /// With one more group of which at most one is open.
    #[must_use]
    pub fn exclusive<N: Into<Name>>(mut self, group: impl IntoIterator<Item = N>) -> Self {
        self.exclusive
            .push(group.into_iter().map(Into::into).collect());
        self
    }

    /// With this weight of a machine; see [`UseWeight`].
    #[must_use]
    pub fn weighing(mut self, of: impl Into<Name>, weight: f64) -> Self {
        self.weights.push(UseWeight {
            of: of.into(),
            weight,
        });
        self
    }

    /// Every open set of one machine or more that this use allows.
    ///
    /// # Errors
    ///
    /// [`UseError`]: a name that is not there, a group or weight that means nothing.
    pub fn sets(&self, network: &Network) -> Result<UseSets, UseError> {
        self.sets_of(network, false)
    }

    /// Only the open sets that no further machine may join.
    ///
    /// Fewer, and mostly where machines are served worst; but not always: a momentum junction can
    /// raise the flow of one hood when another opens, and the air in a main is slowest when *few*
    /// are open. Where either matters ask all [`sets`](Self::sets).
    ///
    /// # Errors
    ///
    /// As [`sets`](Self::sets).
    pub fn maximal_sets(&self, network: &Network) -> Result<UseSets, UseError> {
        self.sets_of(network, true)
    }

    /// The [`maximal_sets`](Self::maximal_sets) by name, as [`rank_upgrades`](crate::rank_upgrades)
    /// and [`compare`](crate::compare()) take them.
    ///
    /// # Errors
    ///
    /// As [`sets`](Self::sets); more than [`MOST_NAMED`](Self::MOST_NAMED) sets.
    pub fn maximal_names(&self, network: &Network) -> Result<Vec<Vec<Name>>, UseError> {
        let mut named = Vec::new();
        for open in self.maximal_sets(network)? {
            if named.len() == Self::MOST_NAMED {
                return Err(UseError::TooManyNamed);
            }
            named.push(network.open_names(&open)?);
        }
        Ok(named)
    }

    fn sets_of(&self, network: &Network, maximal: bool) -> Result<UseSets, UseError> {
        if self.at_most == Some(0) {
            return Err(UseError::NoneAtOnce);
        }
        let pairs = self.exclusive.iter().map(|group| group.len().pow(2)).sum();
        if pairs > Self::MOST_PAIRS {
            return Err(UseError::TooManyPairs { pairs });
        }
        let names = network.machine_unit_names().cloned();
        let mut units: Vec<Unit> = names
            .map(|name| Unit {
                name,
                weight: 1.0,
                apart: Vec::new(),
            })
            .collect();
        let index = Units::of(network, &units)?;
        for (group, names) in (1..).zip(&self.exclusive) {
            let members = index.group(group, names, &units)?;
            for &one in &members {
                let others = members.iter().filter(|&&other| other != one);
                if let Some(unit) = units.get_mut(one) {
                    unit.apart.extend(others);
                    unit.apart.sort_unstable();
                    unit.apart.dedup();
                }
            }
        }
        for UseWeight { of, weight } in &self.weights {
            let unit = units.get_mut(index.find(of)?);
            let Some(unit) = unit.filter(|unit| unit.name == *of) else {
                return Err(UseError::WeightOfHood { of: of.clone() });
            };
            if !(weight.is_finite() && *weight > 0.0) {
                return Err(UseError::Weight {
                    of: of.clone(),
                    weight: *weight,
                });
            }
            unit.weight = *weight;
        }
        Ok(UseSets {
            network: network.clone(),
            at_most: self
                .at_most
                .map_or(units.len(), |most| most.min(units.len())),
            maximal,
            chosen: Vec::new(),
            against: vec![0; units.len()],
            done: units.is_empty(),
            units,
        })
    }
}

/// Where the names of a network stand among the units.
struct Units {
    at: HashMap<Name, usize>,
    known: Vec<Name>,
}

impl Units {
    fn of(network: &Network, units: &[Unit]) -> Result<Self, UseError> {
        let mut at = HashMap::new();
        let mut known = Vec::new();
        for (i, unit) in units.iter().enumerate() {
            at.insert(unit.name.clone(), i);
            known.push(unit.name.clone());
        }
        // The unit that opens each hood.
        let mut of_hood = vec![None; network.hoods().len()];
        for (i, unit) in units.iter().enumerate() {
            for hood in network.open([&unit.name])?.hoods() {
                if let Some(of) = of_hood.get_mut(hood) {
                    *of = Some(i);
                }
            }
        }
        for (hood, unit) in network.hoods().zip(of_hood) {
            let Some(unit) = unit else { continue };
            if !at.contains_key(hood.as_str()) {
                at.insert(hood.clone(), unit);
                known.push(hood.clone());
            }
        }
        Ok(Self { at, known })
    }

    fn find(&self, name: &Name) -> Result<usize, UnknownName> {
        let found = self.at.get(name.as_str()).copied();
        found.ok_or_else(|| unknown("hood or machine", name.as_str(), &self.known))
    }

    fn group(&self, group: usize, names: &[Name], units: &[Unit]) -> Result<Vec<usize>, UseError> {
        let mut members = Vec::with_capacity(names.len());
        let mut seen = HashSet::new();
        for name in names {
            let unit = self.find(name)?;
            if !seen.insert(unit) {
                let machine = units.get(unit).map_or(name, |unit| &unit.name).clone();
                return Err(UseError::TwiceInGroup { group, machine });
            }
            members.push(unit);
        }
        if members.len() < 2 {
            return Err(UseError::SmallGroup { group });
        }
        Ok(members)
    }
}

impl UseSets {
    /// The same sets, each with its weight.
    pub fn weighted(mut self) -> impl Iterator<Item = WeightedSet> {
        std::iter::from_fn(move || {
            let open = self.next()?;
            let weights = self.chosen.iter().filter_map(|&i| self.units.get(i));
            Some(WeightedSet {
                open,
                weight: weights.map(|unit| unit.weight).product(),
            })
        })
    }

    /// Opens (by 1) or shuts (by -1) a unit.
    fn stand(&mut self, unit: usize, by: isize) {
        let Some(unit) = self.units.get(unit) else {
            return;
        };
        for &other in &unit.apart {
            if let Some(count) = self.against.get_mut(other) {
                *count = count.saturating_add_signed(by);
            }
        }
    }

    fn is_free(&self, unit: usize) -> bool {
        self.against.get(unit) == Some(&0)
    }

    /// Goes to the next allowed choice of units.
    fn step(&mut self) -> bool {
        let mut from = self.chosen.last().map_or(0, |last| last + 1);
        loop {
            let room = self.chosen.len() < self.at_most && !(self.maximal && self.is_lost(from));
            let mut rest = from..if room { self.units.len() } else { from };
            let free = rest.find(|&unit| self.is_free(unit));
            if let Some(unit) = free {
                self.stand(unit, 1);
                self.chosen.push(unit);
                return true;
            }
            let Some(last) = self.chosen.pop() else {
                return false;
            };
            self.stand(last, -1);
            from = last + 1;
        }
    }

    /// Whether no choice that goes on with units from here can be maximal: a unit that was passed
    /// over would still be free to join, and there are too few left to reach the most at once.
    ///
    /// Without this the search would go through all subsets for the one set of everything.
    fn is_lost(&self, from: usize) -> bool {
        if self.chosen.len() == from {
            return false;
        }
        let left = (from..self.units.len()).filter(|&unit| self.is_free(unit));
        if self.chosen.len() + left.count() >= self.at_most {
            return false;
        }
        let may_be_shut_out = |unit: &Unit| {
            let mut against = unit.apart.iter();
            against.any(|&other| other >= from && self.is_free(other))
        };
        let passed_over = self.units.iter().enumerate().take(from);
        passed_over
            .filter(|&(i, _)| self.is_free(i) && self.chosen.binary_search(&i).is_err())
            .any(|(_, unit)| !may_be_shut_out(unit))
    }

    fn is_maximal(&self) -> bool {
        self.chosen.len() == self.at_most
            // Those yet to come are the likeliest to be free.
            || (0..self.units.len())
                .rev()
                .all(|unit| !self.is_free(unit) || self.chosen.binary_search(&unit).is_ok())
    }
}

impl Iterator for UseSets {
    type Item = OpenSet;

    fn next(&mut self) -> Option<OpenSet> {
        while !self.done {
            if !self.step() {
                self.done = true;
                break;
            }
            if !self.maximal || self.is_maximal() {
                let names = self.chosen.iter().filter_map(|&i| self.units.get(i));
                // The names are the network's own.
                return self.network.open(names.map(|unit| &unit.name)).ok();
            }
        }
        None
    }
}

impl FusedIterator for UseSets {}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::decide::by_hand::shop;

    fn named(of: Result<UseSets, UseError>, network: &Network) -> Vec<String> {
        let names = |open: OpenSet| {
            let names = network.open_names(&open).unwrap();
            let names: Vec<&str> = names.iter().map(|name| name.as_str()).collect();
            names.join(" ")
        };
        of.unwrap().map(names).collect()
    }

    #[test]
    fn few_machines_are_counted_through() {
        let network = Network::new(&shop()).unwrap();
        let any = Use::any();
        let sets = named(any.sets(&network), &network);
        assert_eq!(sets, ["saw", "saw planer", "planer"]);
        assert_eq!(named(any.maximal_sets(&network), &network), ["saw planer"]);
        let one = Use::any().at_most(1);
        assert_eq!(named(one.sets(&network), &network), ["saw", "planer"]);
        assert_eq!(
            named(one.maximal_sets(&network), &network),
            ["saw", "planer"]
        );
    }

    /// A thousand machines in a group make a million pairs.
    #[test]
    fn a_million_pairs_are_worked_out_and_not_one_more() {
        let network = Network::new(&shop()).unwrap();
        let group = Use::any().exclusive((0..1000).map(|i| format!("machine {i}")));
        // The shop has none of them, which is told once the pairs are not too many.
        let few = group.sets(&network).err();
        assert!(matches!(few, Some(UseError::Name(_))), "{few:?}");
        let many = group.exclusive(["saw"]).sets(&network).err();
        assert_eq!(many, Some(UseError::TooManyPairs { pairs: 1_000_001 }));
    }
}
