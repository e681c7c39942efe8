//! What an upgrade is worth: alone, last, and on average over all orders.

use super::{
    UpgradeWorth,
    bundles::{Bundles, Mask},
    rank::Gain,
};

/// What each upgrade is worth, the most for its money alone first.
pub(super) fn worths(bundles: &Bundles<'_>) -> Vec<UpgradeWorth> {
    let of_set = of_sets(bundles);
    let of = |mask: Mask| of_set.get(mask).copied().unwrap_or_default().worst_margin;
    let count = bundles.upgrades.len();
    let all = bundles.count().saturating_sub(1);
    let mut worths: Vec<(Gain, UpgradeWorth)> = bundles
        .upgrades
        .iter()
        .enumerate()
        .map(|(i, upgrade)| {
            let bit: Mask = 1 << i;
            let adds = |with: Mask| of(with) - of(with & !bit);
            let holding = (0..bundles.count()).filter(|mask| mask & bit != 0);
            let average = holding
                .map(|with| adds(with) * share_of_orders(count, with.count_ones() - 1))
                .sum();
            let alone = of_set.get(bit).copied().unwrap_or_default();
            let none = of_set.first().copied().unwrap_or_default();
            let gain = Gain {
                worst_margin: alone.worst_margin - none.worst_margin,
                shortfall: none.shortfall - alone.shortfall,
                cost: upgrade.cost,
            };
            let worth = UpgradeWorth {
                upgrade: upgrade.name.clone(),
                cost: upgrade.cost,
                alone: gain.worst_margin,
                last: adds(all),
                average,
                first_order: bundles.first_orders.get(i).copied().flatten(),
            };
            (gain, worth)
        })
        .collect();
    // A stable sort: equals keep the order of the list.
    worths.sort_by(|(a, _), (b, _)| b.rank(a));
    worths.into_iter().map(|(_, worth)| worth).collect()
}

#[derive(Clone, Copy, Default)]
struct SetWorth {
    worst_margin: f64,
    shortfall: f64,
}

/// What every set of upgrades is worth: where it has no answer, the best bundle out of it.
fn of_sets(bundles: &Bundles<'_>) -> Vec<SetWorth> {
    // The best bundle out of each set, itself among them; smaller masks come first.
    let mut best_of: Vec<Option<Mask>> = Vec::with_capacity(bundles.count());
    let mut worths = Vec::with_capacity(bundles.count());
    for mask in 0..bundles.count() {
        let score = |mask: &Mask| bundles.get(*mask).map(|solved| solved.score);
        let itself = score(&mask).map(|_| mask);
        let within = (0..bundles.upgrades.len())
            .filter(|i| mask >> i & 1 == 1)
            .filter_map(|i| best_of.get(mask & !(1 << i)).copied().flatten());
        let best = itself.into_iter().chain(within).reduce(|best, next| {
            match (score(&best), score(&next)) {
                (Some(a), Some(b)) if b.rank(&a).is_gt() => next,
                _ => best,
            }
        });
        best_of.push(best);
        let counts = itself.or(best).as_ref().and_then(score);
        worths.push(counts.map_or(SetWorth::default(), |score| SetWorth {
            worst_margin: score.worst_margin,
            shortfall: score.shortfall,
        }));
    }
    worths
}

/// The share of all orders of `count` upgrades in which just a given set of `before` stands before
/// a given upgrade: before! (count - before - 1)! / count!.
fn share_of_orders(count: usize, before: u32) -> f64 {
    let count = count as f64;
    // 1 / (count C(count - 1, before)), the binomial as a product.
    let choose = (0..before).fold(1.0, |c, k| {
        c * (count - 1.0 - f64::from(k)) / f64::from(k + 1)
    });
    1.0 / (count * choose)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::decide::upgrade::bundles::by_hand::{bundles, upgrades};

    /// "a" adds 0.1 as the first and takes 0.1 as the second, "b" adds 0.4 and 0.2.
    #[test]
    fn val_worths_of_two_by_hand() {
        let upgrades = upgrades(&[1.0, 100.0]);
        let scores = [(-0.5, 0.5), (-0.4, 0.4), (-0.1, 0.1), (-0.2, 0.2)];
        let worths = worths(&bundles(&upgrades, &scores));
        let by_hand = [("a", [0.1, -0.1, 0.0]), ("b", [0.4, 0.2, 0.3])];
        assert_eq!(worths.len(), by_hand.len());
        for (worth, (name, figures)) in worths.iter().zip(by_hand) {
            assert_eq!(worth.upgrade.as_str(), name);
            for (found, figure) in [worth.alone, worth.last, worth.average].iter().zip(figures) {
                assert!((found - figure).abs() < 1e-12, "{name}: {found} {figure}");
            }
        }
    }

    #[test]
    fn val_share_of_orders() {
        // By hand, 3 upgrades, 6 orders: first in 2 of them; second after a given one in 1.
        for (before, share) in [(0, 2.0 / 6.0), (1, 1.0 / 6.0), (2, 2.0 / 6.0)] {
            assert!((share_of_orders(3, before) - share).abs() < 1e-15);
        }
        assert!((share_of_orders(1, 0) - 1.0).abs() < 1e-15);
    }
}
