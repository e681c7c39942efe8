//! One question to many open sets.
//!
//! Set after set, and not several side by side in the lanes of a number. A prototype that was not
//! kept took four neighbours at a time of all 4095 open sets of the shop of twelve hoods in
//! benches/common, on the tree of all their legs with dead ones masked. Flows were the same to the
//! bit, in 1.06 us a set instead of 1.53: 1.45 times faster. But an answer is a view into a
//! workspace, and with that laid out for each set 1.2 were left: too little for a second solver.

use super::{
    Balance, Network, OpenSet, SolveError, Workspace,
    summary::{SweepOptions, SweepSummary},
    tally::{Judge, Tally},
};
use std::borrow::Borrow;

/// A network and the open sets that it is to be solved for, in order.
///
/// Made by [`Network::sweep`]. Every set is solved from a fresh start in one reused workspace, so
/// that its answer is that of [`Network::solve`], bit for bit, whatever came before it. A set
/// without an answer does not end the sweep. Nothing is kept of a set but what was asked for.
///
/// With the feature `rayon` the methods that begin with `par_` do the same on every core, to the
/// same bits.
#[derive(Debug, Clone)]
#[must_use = "solves nothing until it is mapped or summed up"]
pub struct Sweep<'n, I> {
    pub(super) network: &'n Network,
    pub(super) sets: I,
}

impl Network {
    /// These open sets, to be solved one after another: those of
    /// [`open_sets`](Self::open_sets) and its siblings, a list, or any other iterator.
    ///
    /// ```
    /// # use airsplit::*;
    /// # fn main() -> Result<(), Box<dyn std::error::Error>> {
    /// # #[cfg(feature = "serde")] {
    /// let study: Study = toml::from_str(&std::fs::read_to_string("examples/chair_shop.toml")?)?;
    /// let network = Network::new(&study.system)?;
    ///
    /// // A figure of each set, with nothing in between kept:
    /// let flows = network.sweep(network.open_sets()?).map(|_, answer| Some(answer.ok()?.flow()));
    /// assert_eq!(flows.flatten().count(), 255);
    ///
    /// // What each machine gets at worst when up to two others run:
    /// let options = SweepOptions::new("20 m/s".parse()?);
    /// let summary = network.sweep(network.machine_sets_up_to(3)?).summary(&options)?;
    /// let worst = &summary.machine("planer")?.flow.as_ref().ok_or("never open")?.least;
    /// println!("{:.0} m3/h with {:?} open", worst.value.as_m3_h(), worst.open);
    /// # }
    /// # Ok(())
    /// # }
    /// ```
    pub fn sweep<I>(&self, sets: I) -> Sweep<'_, I::IntoIter>
    where
        I: IntoIterator,
        I::Item: Borrow<OpenSet>,
    {
        Sweep {
            network: self,
            sets: sets.into_iter(),
        }
    }
}

impl<'n, I> Sweep<'n, I>
where
    I: Iterator,
    I::Item: Borrow<OpenSet>,
{
    /// What `each` makes of every set and its answer, in order; solved as it is asked for.
    ///
    /// The answer is a view into the sweep's workspace: take out of it what is wanted. Nothing is
    /// allocated for a set, as long as `each` does not.
    pub fn map<T, F>(self, mut each: F) -> impl Iterator<Item = T>
    where
        F: FnMut(&OpenSet, Result<Balance<'_>, SolveError>) -> T,
    {
        let mut work = Workspace::default();
        self.sets.map(move |open| {
            let open = open.borrow();
            each(open, self.network.solve(open, &mut work))
        })
    }

    /// The best and the worst of all sets.
    ///
    /// Its memory does not grow with the number of sets.
    ///
    /// # Errors
    ///
    /// [`SolveError::LeastVelocity`] for a least velocity that is negative or no number, and
    /// [`SolveError::UnknownName`] for one of a section that is not there. Sets without an answer
    /// are counted and named in the summary.
    pub fn summary(self, options: &SweepOptions) -> Result<SweepSummary, SolveError> {
        let network = self.network;
        let judge = Judge::new(network, options)?;
        let mut tally = Tally::new(&judge, 0);
        self.map(|open, answer| tally.add(&judge, open, answer))
            .for_each(drop);
        Ok(tally.told(&judge))
    }
}
