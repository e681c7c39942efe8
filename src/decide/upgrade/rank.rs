//! Orders, budgets and the frontier, all read off the solved bundles.

use super::{
    GreedyStep, Money, UpgradeRanking,
    bundles::{Answer, Bundles, Mask},
    per_money,
    worth::worths,
};
use std::cmp::Ordering;

pub(super) fn rank(bundles: &Bundles<'_>) -> UpgradeRanking {
    let stairs = stairs(bundles);
    let rising = rising(&stairs);
    let bundle = |&(mask, answer): &(Mask, &Answer)| bundles.bundle(mask, answer);
    let compared = bundles.solved().count();
    UpgradeRanking {
        as_it_is: bundles.bundle(0, &bundles.as_it_is),
        worths: worths(bundles),
        greedy: greedy(bundles, &stairs),
        best: stairs.iter().map(bundle).collect(),
        nested: rising.windows(2).all(|pair| match pair {
            [(less, _), (more, _)] => less & more == *less,
            _ => true,
        }),
        frontier: rising.iter().map(bundle).collect(),
        skipped: bundles.skipped.clone(),
        skipped_in_all: bundles.count() - compared,
        compared,
    }
}

/// The best bundle at every budget, cheapest first: each is better than all that cost as little.
fn stairs<'b>(bundles: &'b Bundles<'_>) -> Vec<(Mask, &'b Answer)> {
    let mut all: Vec<_> = bundles.solved().collect();
    all.sort_by(|(a_mask, a), (b_mask, b)| {
        let [a_cost, b_cost] = [*a_mask, *b_mask].map(|mask| bundles.cost(mask).amount());
        let by_cost = a_cost.total_cmp(&b_cost);
        let by_score = b.score.rank(&a.score);
        // Of equals the fewer upgrades, and of as many the earlier in the list.
        let by_list = (a_mask.count_ones(), a_mask).cmp(&(b_mask.count_ones(), b_mask));
        by_cost.then(by_score).then(by_list)
    });
    let mut stairs: Vec<(Mask, &Answer)> = Vec::new();
    for one in all {
        let better = |(_, last): &(Mask, &Answer)| one.1.score.rank(&last.score).is_gt();
        if stairs.last().is_none_or(better) {
            stairs.push(one);
        }
    }
    stairs
}

/// Those among them that raise the worst margin.
fn rising<'b>(stairs: &[(Mask, &'b Answer)]) -> Vec<(Mask, &'b Answer)> {
    let mut rising: Vec<(Mask, &Answer)> = Vec::new();
    for &(mask, answer) in stairs {
        let raises =
            |(_, last): &(Mask, &Answer)| answer.score.worst_margin > last.score.worst_margin;
        if rising.last().is_none_or(raises) {
            rising.push((mask, answer));
        }
    }
    rising
}

/// What a step adds, and for how much money.
pub(super) struct Gain {
    pub(super) worst_margin: f64,
    pub(super) shortfall: f64,
    pub(super) cost: Money,
}

impl Gain {
    /// Greater is better: by the worst margin for each unit of money, then by the shortfall.
    pub(super) fn rank(&self, other: &Self) -> Ordering {
        let rate = |gain: f64, cost| match per_money(gain, cost) {
            Some(rate) => rate,
            // What costs nothing is worth any money, or none.
            None if gain == 0.0 => 0.0,
            None => f64::INFINITY.copysign(gain),
        };
        let by = |a: f64, b: f64| {
            let rates = rate(a, self.cost).total_cmp(&rate(b, other.cost));
            rates.then(a.total_cmp(&b))
        };
        by(self.worst_margin, other.worst_margin).then(by(self.shortfall, other.shortfall))
    }
}

fn greedy(bundles: &Bundles<'_>, stairs: &[(Mask, &Answer)]) -> Vec<GreedyStep> {
    let mut steps = Vec::new();
    let mut at: Mask = 0;
    while let Some(here) = bundles.get(at) {
        let candidates = bundles
            .upgrades
            .iter()
            .enumerate()
            .filter_map(|(i, upgrade)| {
                let with = at | 1 << i;
                let there = bundles.get(with).filter(|_| with != at)?;
                let better = there.score.rank(&here.score).is_gt();
                let gain = Gain {
                    worst_margin: there.score.worst_margin - here.score.worst_margin,
                    shortfall: here.score.shortfall - there.score.shortfall,
                    cost: upgrade.cost,
                };
                better.then_some((gain, with, there, upgrade))
            });
        // Among equals the first of the list.
        let best = candidates.reduce(|best, next| match next.0.rank(&best.0) {
            Ordering::Greater => next,
            _ => best,
        });
        let Some((gain, with, there, upgrade)) = best else {
            break;
        };
        at = with;
        let spent = bundles.cost(with);
        let mut dearest_first = stairs.iter().rev();
        let &(best, answer) = dearest_first
            .find(|(mask, _)| bundles.cost(*mask) <= spent)
            .unwrap_or(&(with, there));
        steps.push(GreedyStep {
            upgrade: upgrade.name.clone(),
            gain: gain.worst_margin,
            gain_per_money: per_money(gain.worst_margin, upgrade.cost),
            bundle: bundles.bundle(with, there),
            best: bundles.bundle(best, answer),
            parts: answer.score.rank(&there.score).is_gt(),
        });
    }
    steps
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::decide::upgrade::bundles::by_hand::{bundles, upgrades};

    /// What costs nothing and does nothing is worth no more than what costs something and does nothing.
    #[test]
    fn free_gains_are_worth_any_money_and_free_nothing_none() {
        let gain = |worst_margin, cost| Gain {
            worst_margin,
            shortfall: 0.0,
            cost: Money::new(cost),
        };
        let free = |worst_margin| gain(worst_margin, 0.0);
        assert_eq!(free(0.0).rank(&gain(0.0, 5.0)), Ordering::Equal);
        assert_eq!(free(0.0).rank(&gain(0.1, 5.0)), Ordering::Less);
        assert_eq!(free(0.001).rank(&gain(0.9, 5.0)), Ordering::Greater);
        assert_eq!(free(0.2).rank(&free(0.1)), Ordering::Greater);
        assert_eq!(free(-0.1).rank(&gain(-0.9, 5.0)), Ordering::Less);
        // By what each unit of money buys.
        assert_eq!(gain(0.3, 10.0).rank(&gain(0.2, 5.0)), Ordering::Less);
    }

    #[test]
    fn less_shortfall_is_better_but_no_rise_of_the_worst_margin() {
        let upgrades = upgrades(&[1.0]);
        let ranking = rank(&bundles(&upgrades, &[(-0.5, 1.0), (-0.5, 0.9)]));
        let costs = |bundles: &[crate::Bundle]| -> Vec<f64> {
            bundles.iter().map(|bundle| bundle.cost.amount()).collect()
        };
        assert_eq!(costs(&ranking.best), [0.0, 1.0]);
        assert_eq!(costs(&ranking.frontier), [0.0]);
    }

    /// Alone "a" takes 0.1 off the shortfall for 1, "b" 0.5 for 2: 0.1 and 0.25 for each unit.
    #[test]
    fn where_the_worst_margin_stays_the_shortfall_ranks() {
        let upgrades = upgrades(&[1.0, 2.0]);
        let scores = [(-0.5, 1.0), (-0.5, 0.9), (-0.5, 0.5), (-0.5, 0.4)];
        let ranking = rank(&bundles(&upgrades, &scores));
        let bought = ranking.greedy.iter().map(|step| step.upgrade.as_str());
        assert_eq!(bought.collect::<Vec<_>>(), ["b", "a"]);
        let worths = ranking.worths.iter().map(|worth| worth.upgrade.as_str());
        assert_eq!(worths.collect::<Vec<_>>(), ["b", "a"]);
    }

    /// With "b" there, "a" only harms; but it was bought first, being cheap.
    #[test]
    fn what_was_bought_is_not_given_back() {
        let upgrades = upgrades(&[1.0, 100.0]);
        let scores = [(-0.5, 0.5), (-0.4, 0.4), (-0.1, 0.1), (-0.2, 0.2)];
        let ranking = rank(&bundles(&upgrades, &scores));
        let steps = ranking.greedy.iter();
        let steps = steps.map(|step| (step.bundle.upgrades.len(), step.best.cost, step.parts));
        let [one, hundred] = [1.0, 100.0].map(Money::new);
        assert_eq!(
            steps.collect::<Vec<_>>(),
            [(1, one, false), (2, hundred, true)]
        );
    }
}
