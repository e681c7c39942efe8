//! Which hoods are open.

use super::{SolveError, plan::Plan};

/// Which hoods of a network are open.
///
/// Made by [`Network::open`](super::Network::open) from names, and good for every network with
/// the same hoods in the same order: it survives a changed diameter and is refused once a hood
/// was added, taken away or renamed.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct OpenSet {
    bits: Box<[u64]>,
    hoods: u32,
    key: u64,
}

impl OpenSet {
    pub(super) fn none(plan: &Plan) -> Self {
        Self {
            bits: vec![0; plan.hoods.len().div_ceil(64)].into(),
            hoods: plan.hoods.len() as u32,
            key: plan.key,
        }
    }

    pub(super) fn insert(&mut self, hood: u32) {
        if let Some(word) = self.bits.get_mut(hood as usize / 64) {
            *word |= 1 << (hood % 64);
        }
    }

    pub(super) fn contains(&self, hood: u32) -> bool {
        self.bits
            .get(hood as usize / 64)
            .is_some_and(|word| word >> (hood % 64) & 1 == 1)
    }

    /// How many hoods are open.
    #[must_use]
    pub fn len(&self) -> usize {
        self.bits
            .iter()
            .map(|word| word.count_ones() as usize)
            .sum()
    }

    /// Whether every hood is shut.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.bits.iter().all(|&word| word == 0)
    }

    /// Refuses an empty set, and one of another network.
    pub(super) fn check(&self, plan: &Plan) -> Result<(), SolveError> {
        if self.key != plan.key || self.hoods as usize != plan.hoods.len() {
            Err(SolveError::ForeignOpenSet)
        } else if self.is_empty() {
            Err(SolveError::NothingOpen)
        } else {
            Ok(())
        }
    }
}
