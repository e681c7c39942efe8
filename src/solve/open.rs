//! Which hoods are open.

use super::{SolveError, plan::Plan};
use std::iter;

/// Which hoods of a network are open.
///
/// Made by [`Network::open`](super::Network::open) from names, and good for every network with
/// the same hoods in the same order: it survives a changed diameter and is refused once a hood
/// was added, taken away or renamed.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct OpenSet {
    /// Hoods 0 to 63; the others follow in `rest`. Up to 64 hoods a set allocates nothing.
    first: u64,
    rest: Box<[u64]>,
    hoods: u32,
    key: u64,
}

impl OpenSet {
    pub(super) fn none(plan: &Plan) -> Self {
        let words = plan.hoods.len().div_ceil(64);
        Self {
            first: 0,
            rest: vec![0; words.saturating_sub(1)].into(),
            hoods: plan.hoods.len() as u32,
            key: plan.key,
        }
    }

    pub(super) fn insert(&mut self, hood: u32) {
        let word = match (hood as usize / 64).checked_sub(1) {
            None => Some(&mut self.first),
            Some(i) => self.rest.get_mut(i),
        };
        if let Some(word) = word {
            *word |= 1 << (hood % 64);
        }
    }

    pub(crate) fn contains(&self, hood: u32) -> bool {
        let word = match (hood as usize / 64).checked_sub(1) {
            None => Some(&self.first),
            Some(i) => self.rest.get(i),
        };
        word.is_some_and(|word| word >> (hood % 64) & 1 == 1)
    }

    /// How many hoods are open.
    #[must_use]
    pub fn len(&self) -> usize {
        self.words().map(|word| word.count_ones() as usize).sum()
    }

    /// Whether every hood is shut.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.words().all(|word| word == 0)
    }

    /// The open hoods by their index, rising; takes no longer than there are hoods over 64, and open
    /// ones.
    pub(crate) fn hoods(&self) -> impl Iterator<Item = usize> + '_ {
        self.words().enumerate().flat_map(|(word, mut bits)| {
            iter::from_fn(move || {
                let bit = (bits != 0).then(|| bits.trailing_zeros())?;
                bits &= bits - 1;
                Some(64 * word + bit as usize)
            })
        })
    }

    fn words(&self) -> impl Iterator<Item = u64> + '_ {
        iter::once(self.first).chain(self.rest.iter().copied())
    }

    /// Whether it was made for the hoods of this plan.
    pub(super) fn fits(&self, plan: &Plan) -> bool {
        self.key == plan.key && self.hoods as usize == plan.hoods.len()
    }

    /// Refuses an empty set, and one of another network.
    pub(super) fn check(&self, plan: &Plan) -> Result<(), SolveError> {
        if !self.fits(plan) {
            Err(SolveError::ForeignOpenSet)
        } else if self.is_empty() {
            Err(SolveError::NothingOpen)
        } else {
            Ok(())
        }
    }
}
