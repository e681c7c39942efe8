//! A sweep on every core, to the same bits as on one.
//!
//! Sets are taken from their iterator by the batch, the batch is solved in parallel, and what
//! comes out is put together in the order of the sets. A set's answer does not depend on what its
//! workspace did before, and a summary counts and compares but adds no flows up, so neither the
//! number of threads nor who solved what can be told from the result.

use super::{
    Balance, OpenSet, SolveError, Sweep, SweepOptions, SweepSummary, Workspace,
    tally::{Judge, Tally},
};
use rayon::prelude::*;
use std::borrow::Borrow;

/// Sets taken from their iterator at a time: some hundredths of a second of a shop.
const BATCH: usize = 4096;

/// Sets that one thread takes at a time: enough that handing them over costs nothing.
const CHUNK: usize = 64;

impl<'n, I> Sweep<'n, I>
where
    I: Iterator,
    I::Item: Borrow<OpenSet> + Send + Sync,
{
    /// What `each` makes of every set and its answer, in order: [`map`](Self::map) on every core.
    ///
    /// Solves some thousands of sets at a time, ahead of what was asked for. Uses the rayon thread
    /// pool that it is called in. Needs the feature `rayon`.
    pub fn par_map<T, F>(self, each: F) -> impl Iterator<Item = T>
    where
        T: Send,
        F: Fn(&OpenSet, Result<Balance<'_>, SolveError>) -> T + Sync,
    {
        let network = self.network;
        batches(self.sets).flat_map(move |batch| {
            let solved = batch.par_iter().with_min_len(CHUNK);
            let solved = solved.map_init(Workspace::default, |work, open| {
                let open = open.borrow();
                each(open, network.solve(open, work))
            });
            solved.collect::<Vec<T>>()
        })
    }

    /// The best and the worst of all sets: [`summary`](Self::summary) on every core.
    ///
    /// Uses the rayon thread pool that it is called in. Needs the feature `rayon`.
    ///
    /// # Errors
    ///
    /// As [`summary`](Self::summary).
    pub fn par_summary(self, options: &SweepOptions) -> Result<SweepSummary, SolveError> {
        let network = self.network;
        let judge = Judge::new(network, options)?;
        let mut all = Tally::new(&judge, 0);
        let mut first = 0;
        for batch in batches(self.sets) {
            let chunks = batch.par_chunks(CHUNK).enumerate();
            let tallies = chunks.map_init(Workspace::default, |work, (i, chunk)| {
                let mut tally = Tally::new(&judge, first + (i * CHUNK) as u64);
                for open in chunk {
                    let open = open.borrow();
                    tally.add(&judge, open, network.solve(open, work));
                }
                tally
            });
            let tallies: Vec<Tally> = tallies.collect();
            for later in tallies {
                all.then(&judge, later);
            }
            first += batch.len() as u64;
        }
        Ok(all.told(&judge))
    }
}

/// The sets by the batch, in order.
fn batches<I: Iterator>(mut sets: I) -> impl Iterator<Item = Vec<I::Item>> {
    std::iter::from_fn(move || {
        let batch: Vec<I::Item> = sets.by_ref().take(BATCH).collect();
        (!batch.is_empty()).then_some(batch)
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        quantity::Velocity,
        solve::by_hand::{FALLING, ready},
    };

    /// One set unlike the others, far behind: found there, whoever solves it.
    #[test]
    fn all_cores_tell_what_one_does() {
        let (network, one) = ready(FALLING, None);
        let all = network.open_all();
        let odd = BATCH + 3 * CHUNK + 5;
        let sets = || (0..BATCH + 4 * CHUNK).map(|i| if i == odd { &all } else { &one });
        let options = SweepOptions::new(Velocity::from_m_s(15.0));
        let summary = network.sweep(sets()).par_summary(&options).unwrap();
        assert_eq!(summary, network.sweep(sets()).summary(&options).unwrap());
        assert_eq!(summary.flow.unwrap().most.index, odd as u64);
        let flow = |_: &OpenSet, balance: Result<Balance<'_>, SolveError>| balance.unwrap().flow();
        let by_one: Vec<_> = network.sweep(sets()).map(flow).collect();
        let by_all: Vec<_> = network.sweep(sets()).par_map(flow).collect();
        assert_eq!(by_all, by_one);
        assert_eq!(by_all.len(), BATCH + 4 * CHUNK);
    }

    /// What lies outside the curve, or has no answer, is counted over all stretches.
    #[test]
    fn counts_of_all_stretches_add_up() {
        let ends_early = [(0.0, 3000.0), (0.02, 2990.0), (0.04, 2970.0)];
        let begins_late = [(0.7, 2000.0), (0.8, 1500.0), (0.9, 500.0)];
        for points in [FALLING, &ends_early, &begins_late] {
            let (network, one) = ready(points, None);
            let none = network.open::<[&str; 0]>([]).unwrap();
            let sets: Vec<_> = (0..4 * CHUNK)
                .map(|i| if i % 3 == 0 { &none } else { &one })
                .collect();
            let options = SweepOptions::new(Velocity::from_m_s(15.0));
            let summary = network.sweep(sets.clone()).par_summary(&options).unwrap();
            assert_eq!(summary, network.sweep(sets).summary(&options).unwrap());
            let answered = summary.converged + summary.beyond_curve + summary.below_curve;
            let all = 4 * CHUNK as u64;
            assert_eq!((summary.sets, summary.failed), (all, all.div_ceil(3)));
            assert_eq!(answered, all - all.div_ceil(3));
        }
    }
}
