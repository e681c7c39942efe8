//! Open sets by the thousand: every one there is, or every one of a few hoods or machines.

use super::{Network, OpenSet, Sizes, SolveError, next_choice};
use crate::place::Name;
use std::{iter::FusedIterator, sync::Arc};

/// Most open sets that one iterator goes through: 2^30, hours of solving.
const MOST_SETS: u64 = 1 << 30;

/// Open sets of a network, one after another, made as they are asked for.
///
/// Made by [`Network::open_sets`] and its siblings; owns what it needs, and knows how many sets
/// are left. A set of up to 64 hoods allocates nothing.
#[derive(Debug, Clone)]
pub struct OpenSets {
    units: Arc<[Unit]>,
    none: OpenSet,
    order: Order,
    left: usize,
}

/// Hoods that are opened as one: a single one, or all of a machine.
type Unit = Box<[u32]>;

#[derive(Debug, Clone)]
enum Order {
    /// The bits of a number that counts up say which units are open. Holds the last.
    Counter(u64),
    /// By size, and within a size in lexicographic order. Holds the units of the last.
    BySize(Vec<usize>),
}

/// More open sets were asked for than anyone can sweep.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error(
    "{units} {what} make more than 2^30 open sets of up to {asked}; ask for sets of up to {most}"
)]
#[non_exhaustive]
pub struct TooManySets {
    /// `hoods` or `machines`.
    pub what: &'static str,
    /// How many of them there are. Hoods that serve no machine count as machines.
    pub units: usize,
    /// How many were to be open at most.
    pub asked: usize,
    /// How many may be.
    pub most: usize,
}

impl Network {
    /// Every open set of at least one hood: 2^n - 1 sets of n hoods.
    ///
    /// In the order of a binary counter whose lowest bit is the first of
    /// [`hoods`](Self::hoods): the first; the second; both; the third; ...
    ///
    /// # Errors
    ///
    /// When they are more than 2^30, that is above 30 hoods.
    pub fn open_sets(&self) -> Result<OpenSets, TooManySets> {
        OpenSets::all("hoods", self, self.hood_units())
    }

    /// Every open set of one to `most` hoods.
    ///
    /// By size, the smallest first, and within a size in lexicographic order of
    /// [`hoods`](Self::hoods): the first alone comes first, then the second alone. With `most`
    /// zero there is none; with all hoods or more these are the sets of
    /// [`open_sets`](Self::open_sets) in another order.
    ///
    /// # Errors
    ///
    /// When they are more than 2^30.
    pub fn open_sets_up_to(&self, most: usize) -> Result<OpenSets, TooManySets> {
        OpenSets::up_to("hoods", self, self.hood_units(), most)
    }

    /// Every open set of whole machines, at least one.
    ///
    /// A machine opens all of its hoods; a hood that serves none counts as a machine. The machines
    /// stand in the order of the model, such hoods after them. The order of the sets is that of
    /// [`open_sets`](Self::open_sets).
    ///
    /// ```
    /// # use airsplit::*;
    /// # fn main() -> Result<(), Box<dyn std::error::Error>> {
    /// # #[cfg(feature = "serde")] {
    /// let study: Study = toml::from_str(&std::fs::read_to_string("examples/chair_shop.toml")?)?;
    /// let network = Network::new(&study.system)?;
    /// let sets = network.machine_sets()?;
    /// assert_eq!(sets.len(), 127); // seven machines, eight hoods
    /// let third: Vec<_> = sets.skip(2).take(1).collect();
    /// let names = network.open_names(&third[0])?;
    /// assert_eq!(names, ["planer".into(), "table saw".into()]);
    /// # }
    /// # Ok(())
    /// # }
    /// ```
    ///
    /// # Errors
    ///
    /// When they are more than 2^30, that is above 30 machines.
    pub fn machine_sets(&self) -> Result<OpenSets, TooManySets> {
        OpenSets::all("machines", self, self.machine_units())
    }

    /// Every open set of one to `most` whole machines.
    ///
    /// The machines are those of [`machine_sets`](Self::machine_sets), the order of the sets is
    /// that of [`open_sets_up_to`](Self::open_sets_up_to).
    ///
    /// # Errors
    ///
    /// When they are more than 2^30.
    pub fn machine_sets_up_to(&self, most: usize) -> Result<OpenSets, TooManySets> {
        OpenSets::up_to("machines", self, self.machine_units(), most)
    }

    /// The names that make an open set, the fewest there are: a machine's where all of its hoods
    /// are open, else the hoods' own. [`open`](Self::open) makes the same set of them.
    ///
    /// # Errors
    ///
    /// [`SolveError::ForeignOpenSet`] for the set of another network.
    pub fn open_names(&self, open: &OpenSet) -> Result<Vec<Name>, SolveError> {
        let plan = self.plan();
        if !open.fits(plan) {
            return Err(SolveError::ForeignOpenSet);
        }
        let is_open = |&hood: &u32| open.contains(hood);
        let machines = plan.machines.iter();
        let whole: Vec<bool> = machines.map(|m| m.hoods.iter().all(is_open)).collect();
        let mut names = Vec::new();
        for (i, hood) in (0..).zip(&plan.hoods) {
            if !open.contains(i) {
                continue;
            }
            let machine = hood.machine.map(|m| m as usize);
            let machine = machine.filter(|&m| whole.get(m) == Some(&true));
            match machine.and_then(|m| plan.machines.get(m)) {
                // Told once, at its first hood.
                Some(machine) if machine.hoods.first() == Some(&i) => {
                    names.push(machine.name.clone());
                }
                Some(_) => {}
                None => names.push(hood.name.clone()),
            }
        }
        Ok(names)
    }

    /// The names of the machines, and of the hoods that serve none, in the order of
    /// [`machine_sets`](Self::machine_sets).
    pub(crate) fn machine_unit_names(&self) -> impl Iterator<Item = &Name> {
        let plan = self.plan();
        let machines = plan.machines.iter().filter(|m| !m.hoods.is_empty());
        let alone = plan.hoods.iter().filter(|hood| hood.machine.is_none());
        machines
            .map(|m| &m.name)
            .chain(alone.map(|hood| &hood.name))
    }

    fn hood_units(&self) -> Arc<[Unit]> {
        let hoods = 0..self.plan().hoods.len() as u32;
        hoods.map(|hood| Unit::from([hood])).collect()
    }

    fn machine_units(&self) -> Arc<[Unit]> {
        let plan = self.plan();
        let machines = plan.machines.iter();
        let machines = machines.map(|machine| machine.hoods.as_slice().into());
        let hoods = (0..).zip(&plan.hoods);
        let alone = hoods.filter(|(_, hood)| hood.machine.is_none());
        machines
            .chain(alone.map(|(i, _)| Unit::from([i])))
            .collect()
    }
}

impl OpenSets {
    fn all(what: &'static str, network: &Network, units: Arc<[Unit]>) -> Result<Self, TooManySets> {
        let most = units.len();
        let order = Order::Counter(0);
        Self::new(what, network, units, most, order)
    }

    fn up_to(
        what: &'static str,
        network: &Network,
        units: Arc<[Unit]>,
        most: usize,
    ) -> Result<Self, TooManySets> {
        let most = most.min(units.len());
        let order = Order::BySize(Vec::with_capacity(most));
        Self::new(what, network, units, most, order)
    }

    fn new(
        what: &'static str,
        network: &Network,
        units: Arc<[Unit]>,
        asked: usize,
        order: Order,
    ) -> Result<Self, TooManySets> {
        let sizes = Sizes::of(units.len() as u64, asked, MOST_SETS);
        if sizes.most < asked {
            return Err(TooManySets {
                what,
                units: units.len(),
                asked,
                most: sizes.most,
            });
        }
        Ok(Self {
            units,
            none: OpenSet::none(network.plan()),
            order,
            left: sizes.sets as usize,
        })
    }
}

impl Iterator for OpenSets {
    type Item = OpenSet;

    fn next(&mut self) -> Option<OpenSet> {
        self.left = self.left.checked_sub(1)?;
        let mut open = self.none.clone();
        let mut insert = |unit: usize| {
            let hoods = self.units.get(unit);
            hoods
                .into_iter()
                .flatten()
                .for_each(|&hood| open.insert(hood));
        };
        match &mut self.order {
            Order::Counter(last) => {
                *last += 1;
                let mut bits = *last;
                while bits != 0 {
                    insert(bits.trailing_zeros() as usize);
                    bits &= bits - 1;
                }
            }
            Order::BySize(chosen) => {
                step(chosen, self.units.len());
                chosen.iter().for_each(|&unit| insert(unit));
            }
        }
        Some(open)
    }

    fn size_hint(&self) -> (usize, Option<usize>) {
        (self.left, Some(self.left))
    }
}

impl ExactSizeIterator for OpenSets {}
impl FusedIterator for OpenSets {}

/// The next choice of the same size from `n` units in lexicographic order, or the first of the
/// next size.
fn step(chosen: &mut Vec<usize>, n: usize) {
    if !next_choice(chosen, n) {
        chosen.push(0);
        for (unit, chosen) in chosen.iter_mut().enumerate() {
            *chosen = unit;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::solve::by_hand::{FALLING, ready};

    #[test]
    fn prop_choices_come_in_lexicographic_order() {
        let mut chosen = Vec::new();
        let mut told = Vec::new();
        for _ in 0..15 {
            step(&mut chosen, 4);
            told.push(chosen.clone());
        }
        // Written down by hand.
        let by_hand: [&[usize]; 15] = [
            &[0],
            &[1],
            &[2],
            &[3],
            &[0, 1],
            &[0, 2],
            &[0, 3],
            &[1, 2],
            &[1, 3],
            &[2, 3],
            &[0, 1, 2],
            &[0, 1, 3],
            &[0, 2, 3],
            &[1, 2, 3],
            &[0, 1, 2, 3],
        ];
        assert_eq!(told, by_hand);
    }

    #[test]
    fn prop_counts_never_overflow() {
        for n in [0, 1, 29, 30, 31, 40, 64, 10_000, u64::from(u32::MAX)] {
            let sizes = Sizes::of(n, n as usize, MOST_SETS);
            assert!(sizes.sets <= MOST_SETS);
            assert_eq!(sizes.most as u64 == n, n <= 30, "{n}");
        }
        assert_eq!(Sizes::of(30, 30, MOST_SETS).sets, (1 << 30) - 1);
        // Sums of 40 choose k by Python's math.comb; up to 10 would be 1 221 246 131.
        assert_eq!(Sizes::of(40, 9, MOST_SETS).sets, 373_585_603);
        assert_eq!(Sizes::of(40, 10, MOST_SETS).most, 9);
        assert_eq!(Sizes::of(40, 0, MOST_SETS).sets, 0);
    }

    /// Counting in binary: the first, the second, both, the third ...
    #[test]
    fn few_hoods_are_counted_through() {
        let (network, _) = ready(FALLING, None);
        let told: Vec<String> = network
            .open_sets()
            .unwrap()
            .map(|open| {
                let names = network.open_names(&open).unwrap();
                let initials = names.iter().map(|name| &name.as_str()[..2]);
                initials.collect::<Vec<_>>().join(" ")
            })
            .collect();
        let by_hand = ["lo", "sh", "lo sh", "sh", "lo sh", "sh sh", "lo sh sh"];
        assert_eq!(told, by_hand);
    }
}
