//! What to buy first: every bundle of a list of upgrades, and what each upgrade is worth.

mod bundles;
mod error;
mod first_order;
mod rank;
mod worth;

pub use error::{SkipReason, UpgradeError};

use super::money::Money;
use crate::{
    place::Name,
    system::{Change, System},
};
use bundles::Bundles;

/// Most upgrades that are ranked together: every bundle of them is solved, 4096 at most.
const MOST: usize = 12;

/// Something that can be bought: a named list of changes and what they cost together.
///
/// ```
/// # #[cfg(feature = "serde")]
/// # fn main() -> Result<(), Box<dyn std::error::Error>> {
/// #[derive(serde::Deserialize)]
/// struct Plan { upgrade: Vec<airsplit::Upgrade> }
/// let plan: Plan = toml::from_str(r#"
///     [[upgrade]]
///     name = "wider main"
///     cost = 180
///     changes = [{ size = { section = "main", to = { round = "8 in" } } }]
/// "#)?;
/// assert_eq!(plan.upgrade[0].cost.amount(), 180.0);
/// # Ok(())
/// # }
/// # #[cfg(not(feature = "serde"))]
/// # fn main() {}
/// ```
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
pub struct Upgrade {
    /// What it is called, unlike any other of the list.
    pub name: Name,
    /// What it costs, 0 to 1e12.
    pub cost: Money,
    /// What it changes.
    pub changes: Vec<Change>,
}

/// A bundle of upgrades: what it costs, and how well the machines are served with it.
///
/// The margin of a machine is its flow over its required flow minus 1, the least over the open
/// sets that name the machine or one of its hoods. Machines that require nothing or stand in no open
/// set have none; what single hoods require is not looked at.
///
/// One bundle is better than another when its worst margin is, and among equal ones when its
/// shortfall is less. Both are told to 1e-9, so that rounding in the solver decides nothing.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct Bundle {
    /// The upgrades, in the order of the list; none for the system as it is.
    pub upgrades: Vec<Name>,
    /// What they cost together.
    pub cost: Money,
    /// The least margin of all machines, 0 where every machine gets enough: flow above the
    /// requirement earns nothing. A share of the required flow, at least -1.
    pub worst_margin: f64,
    /// What all machines together lack, each as a share of its own need: the sum of the margins
    /// below 0, told as a positive number.
    pub shortfall: f64,
    /// The margin of each machine that has one, in the order of the model.
    pub machines: Vec<MachineMargin>,
    /// Whether an answer lies outside the published points of the fan's curve: the figures are a
    /// hint only.
    pub outside_curve: bool,
}

/// How well a machine is served.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct MachineMargin {
    /// The machine.
    pub machine: Name,
    /// Flow over required flow minus 1, where that is least.
    pub margin: f64,
    /// Index of the open set in which it is least.
    pub open_set: usize,
}

/// What an upgrade adds to the worst margin. Below 0 where it harms.
///
/// A set of upgrades that conflict or have no answer together is worth what the best bundle out
/// of it is worth.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct UpgradeWorth {
    /// The upgrade.
    pub upgrade: Name,
    /// What it costs.
    pub cost: Money,
    /// Bought alone; like the others a share of the required flow.
    pub alone: f64,
    /// Bought last, after all the others; a share likewise.
    pub last: f64,
    /// On average over all orders in which the upgrades could be bought; these figures add up to
    /// what all of them are worth together. A share likewise. It is the value of L. S. Shapley, "A value for n-person
    /// games", Contributions to the Theory of Games II, 1953 (from memory).
    pub average: f64,
    /// What the gradient says of `alone`: the change of the worst served machine's share of its
    /// need (flow over required flow) to first order, where that machine is worst served as it is.
    ///
    /// The sum over all numbers that the upgrade changes of the change times the slope of that
    /// machine's flow ([`Gradient`](crate::Gradient)), over its required flow. Near to `alone` only
    /// where the changes are small and the machine stays the worst served, in the same open set,
    /// and below its need: unlike `alone` this is not cut off where the need is met. Where a slope
    /// has a corner, at a run just as wide as its neighbour inline, it is the mean of both sides.
    ///
    /// `None` unless every change is one of numbers, continuous from the old to the new: a bore of
    /// the same shape, a length of duct or hose, roughness, leakage, slack or another number of the
    /// same kind of hose, the opening of a gate that is not shut, the angle of a join or a cone, the
    /// k of a join, of a transition or of a hood that is told by it, the speed of the fan. `None`
    /// for all that is replaced or is of another kind (collector, filter, separator, elbows, hood,
    /// section, hose to duct), for a gate opened from shut or closed, for walls that become or cease to
    /// be airtight, and where the changed system has faults.
    pub first_order: Option<f64>,
}

impl UpgradeWorth {
    /// What it adds alone, for each unit of money; `None` where it costs nothing.
    #[must_use]
    pub fn alone_per_money(&self) -> Option<f64> {
        per_money(self.alone, self.cost)
    }
}

/// One step of the greedy order, and the best that its money could have bought.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct GreedyStep {
    /// The upgrade bought in this step.
    pub upgrade: Name,
    /// What it adds to the worst margin here, a share of the required flow.
    pub gain: f64,
    /// The same for each unit of money; `None` where it costs nothing.
    pub gain_per_money: Option<f64>,
    /// All that is bought by now.
    pub bundle: Bundle,
    /// The best bundle for no more money than that.
    pub best: Bundle,
    /// Whether the ways part here: the best bundle serves the machines better than the greedy one.
    pub parts: bool,
}

/// Upgrades ranked: what each is worth, in which order to buy, and what money can buy at most.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct UpgradeRanking {
    /// The system as it is.
    pub as_it_is: Bundle,
    /// What each upgrade is worth; that which adds most for its money alone comes first.
    pub worths: Vec<UpgradeWorth>,
    /// The greedy order: in each step the upgrade that adds most to the worst margin for its money,
    /// among equals that which takes most off the shortfall. It ends where no single upgrade that can
    /// still be added makes things better, though two together might, or one instead of another.
    pub greedy: Vec<GreedyStep>,
    /// The best bundle at every budget, cheapest first; each holds from its cost to that of the
    /// next. See [`UpgradeRanking::best_within`].
    pub best: Vec<Bundle>,
    /// The bundles of `best` that raise the worst margin: no bundle that costs as little serves
    /// the worst served machine as well.
    pub frontier: Vec<Bundle>,
    /// Whether every bundle of the frontier holds the one before it. If not, money saved up buys
    /// something else than money spent step by step: choose the end first.
    pub nested: bool,
    /// Bundles that cannot be, or have no answer. A bundle is not listed where a smaller one out of
    /// it is.
    pub skipped: Vec<SkippedBundle>,
    /// How many bundles could not be, those not listed among them.
    pub skipped_in_all: usize,
    /// How many bundles were compared, the system as it is among them.
    pub compared: usize,
}

/// A bundle that cannot be, or has no answer.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct SkippedBundle {
    /// The upgrades.
    pub upgrades: Vec<Name>,
    /// Why; serialised as text.
    pub reason: SkipReason,
}

impl UpgradeRanking {
    /// The best bundle for no more money than that; `None` below 0.
    ///
    /// Among bundles that serve the machines equally well it is the cheapest, and among those of
    /// equal cost that of the fewest upgrades, the earlier in the list.
    #[must_use]
    pub fn best_within(&self, budget: Money) -> Option<&Bundle> {
        self.best.iter().rev().find(|bundle| bundle.cost <= budget)
    }

    /// What that upgrade is worth.
    #[must_use]
    pub fn worth(&self, upgrade: &str) -> Option<&UpgradeWorth> {
        self.worths
            .iter()
            .find(|worth| worth.upgrade.as_str() == upgrade)
    }
}

/// Solves every bundle of the upgrades in every open set (names of hoods or machines), and ranks
/// them; see [`Bundle`] for what better means.
///
/// Deterministic, and exact: no bundle is left out but those that are told. Upgrades are judged
/// against the system as it is, so that two upgrades that change one thing exclude each other.
/// Nothing is said about whether the motor, the filter or the room bear what is bought.
///
/// # Errors
///
/// More than 12 upgrades, two of one name, a cost below 0; no open set, a name in one that is unknown,
/// no machine in any of them that needs air; an upgrade that cannot be made at all; a system that
/// has faults or no answer as it is. A bundle without an answer is no error: it is told in
/// [`skipped`](UpgradeRanking::skipped).
pub fn rank_upgrades(
    system: &System,
    upgrades: &[Upgrade],
    open_sets: &[Vec<Name>],
) -> Result<UpgradeRanking, UpgradeError> {
    check_upgrades(system, upgrades)?;
    let bundles = Bundles::solve(system, upgrades, open_sets)?;
    Ok(rank::rank(&bundles))
}

fn check_upgrades(system: &System, upgrades: &[Upgrade]) -> Result<(), UpgradeError> {
    if upgrades.len() > MOST {
        return Err(UpgradeError::TooMany {
            given: upgrades.len(),
        });
    }
    for (i, upgrade) in upgrades.iter().enumerate() {
        let name = || upgrade.name.clone();
        if upgrades.iter().take(i).any(|u| u.name == upgrade.name) {
            return Err(UpgradeError::Duplicate { upgrade: name() });
        }
        if !(0.0..=1e12).contains(&upgrade.cost.amount()) {
            return Err(UpgradeError::Cost {
                upgrade: name(),
                cost: upgrade.cost,
            });
        }
        // What fails here fails in every bundle. Faults of the changed model may not.
        if let Err(error) = system.changed(&upgrade.changes) {
            return Err(UpgradeError::Change {
                upgrade: name(),
                error: Box::new(error),
            });
        }
    }
    Ok(())
}

fn per_money(gain: f64, cost: Money) -> Option<f64> {
    (cost.amount() > 0.0).then(|| gain / cost.amount())
}
