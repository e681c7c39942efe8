//! What the ends of a stretch of flows tell of the surplus within.

/// Fan and tree at one flow.
#[derive(Debug, Clone, Copy)]
pub(super) struct End {
    pub(super) q: f64,
    pub(super) fan: f64,
    pub(super) tree: f64,
    pub(super) tree_slope: f64,
}

impl End {
    /// What the fan offers beyond what the tree asks for \[Pa\].
    pub(super) fn surplus(&self) -> f64 {
        self.fan - self.tree
    }

    fn mirrored(self) -> Self {
        Self {
            q: self.q,
            fan: -self.fan,
            tree: -self.tree,
            tree_slope: -self.tree_slope,
        }
    }
}

/// The flows between two ends.
#[derive(Debug, Clone, Copy)]
pub(super) struct Stretch {
    pub(super) low: End,
    pub(super) high: End,
    /// Least and greatest slope of the fan's pressure between them.
    pub(super) fan_slopes: [f64; 2],
}

impl Stretch {
    /// Whether the surplus only grows or only shrinks.
    pub(super) fn goes_one_way(&self) -> bool {
        self.least_slope() > 0.0 || self.mirrored().least_slope() > 0.0
    }

    /// Whether the surplus is sure to stay above nothing, or below.
    pub(super) fn keeps_its_sign(&self) -> bool {
        self.stays_above() || self.mirrored().stays_above()
    }

    /// Fan and tree with their signs changed, so that the greatest becomes the least.
    fn mirrored(&self) -> Self {
        let [least, greatest] = self.fan_slopes;
        Self {
            low: self.low.mirrored(),
            high: self.high.mirrored(),
            fan_slopes: [-greatest, -least],
        }
    }

    /// No slope of the surplus is less. The tree's lies between those at the ends where its pressure
    /// is convex, and is given as much again as they differ for where friction turns turbulent.
    fn least_slope(&self) -> f64 {
        let (a, b) = (self.low.tree_slope, self.high.tree_slope);
        self.fan_slopes[0] - (a.max(b) + (b - a).abs())
    }

    fn stays_above(&self) -> bool {
        let (low, high) = (&self.low, &self.high);
        let width = high.q - low.q;
        // As far as it can fall from the lower end, or on the way up to the upper one.
        let [least, greatest] = self.fan_slopes;
        let fan_least =
            (low.fan + least.min(0.0) * width).max(high.fan - greatest.max(0.0) * width);
        // The tree's pressure only rises; upside down, it only falls.
        let tree_most = low.tree.max(high.tree);
        let (a, b) = (low.surplus(), high.surplus());
        a > 0.0
            && b > 0.0
            && (fan_least > tree_most
                || a + self.least_slope() * width > 0.0
                || b + self.mirrored().least_slope() * width > 0.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// From 2 to 4 m3/s, each end as fan, tree and slope of the tree.
    fn stretch(low: [f64; 3], high: [f64; 3], fan_slopes: [f64; 2]) -> Stretch {
        let end = |q, [fan, tree, tree_slope]: [f64; 3]| End {
            q,
            fan,
            tree,
            tree_slope,
        };
        Stretch {
            low: end(2.0, low),
            high: end(4.0, high),
            fan_slopes,
        }
    }

    /// The same of a fan and a tree that are each other's.
    fn keeps(low: [f64; 3], high: [f64; 3], fan_slopes: [f64; 2]) -> bool {
        let stretch = stretch(low, high, fan_slopes);
        let keeps = stretch.keeps_its_sign();
        assert_eq!(stretch.mirrored().keeps_its_sign(), keeps);
        keeps
    }

    #[test]
    fn val_one_way_by_hand() {
        let one_way = |slopes, tree: [f64; 2]| {
            let [low, high] = tree.map(|slope| [0.0, 0.0, slope]);
            stretch(low, high, slopes).goes_one_way()
        };
        // The tree's slope is 1 to 3 and given 2 on each side: -1 to 5.
        assert!(one_way([5.5, 9.0], [1.0, 3.0]));
        assert!(one_way([5.5, 9.0], [3.0, 1.0]));
        assert!(!one_way([4.5, 9.0], [1.0, 3.0]));
        assert!(!one_way([5.0, 9.0], [1.0, 3.0]));
        assert!(one_way([-9.0, -1.5], [1.0, 3.0]));
        assert!(one_way([-9.0, -1.5], [3.0, 1.0]));
        assert!(!one_way([-9.0, -0.5], [1.0, 3.0]));
        assert!(!one_way([-9.0, -1.0], [1.0, 3.0]));
        assert!(!one_way([-9.0, 9.0], [2.0, 2.0]));
    }

    #[test]
    fn val_a_fan_above_all_that_the_tree_asks() {
        // The slopes of the tree tell nothing here.
        const STEEP: f64 = 1000.0;
        // It falls by 3 for each m3/s at most: from 20 to no less than 14, at the end to no less
        // than that.
        let asks = |tree: f64| keeps([20.0, 1.0, 0.0], [17.0, tree, STEEP], [-3.0, 9.0]);
        assert!(asks(13.9));
        assert!(!asks(14.1));
        // It rises by 0.5 at most: it has not been below 16.
        let asks = |tree: f64| keeps([20.0, 1.0, 0.0], [17.0, tree, STEEP], [-9.0, 0.5]);
        assert!(asks(15.9));
        assert!(!asks(16.1));
        // It rises throughout: nowhere less than at its lower end, where the tree asks for as much
        // as at the upper one before long.
        let asks = |tree: f64| keeps([20.0, 1.0, 0.0], [60.0, tree, STEEP], [10.0, 30.0]);
        assert!(asks(19.9));
        assert!(!asks(20.1));
        // It falls throughout: nowhere less than at its upper end.
        let asks = |tree: f64| keeps([60.0, 1.0, 0.0], [20.0, tree, STEEP], [-30.0, -10.0]);
        assert!(asks(19.9));
        assert!(!asks(20.1));
        // Between two ends of one pressure it may dip.
        assert!(!keeps([20.0, 1.0, 0.0], [20.0, 19.0, STEEP], [-30.0, 30.0]));
    }

    #[test]
    fn val_a_surplus_that_cannot_go_so_fast() {
        // The tree rises by 10 for each m3/s, the fan by 5 at least and by 14 at most: the surplus by
        // -5 to 4.
        let from = |a: f64, b: f64| keeps([a, 0.0, 10.0], [20.0 + b, 20.0, 10.0], [5.0, 14.0]);
        // From the lower end it falls by 10 at most.
        assert!(from(10.1, 1.0));
        assert!(!from(9.9, 1.0));
        // To the upper end it rises by 8 at most.
        assert!(from(1.0, 8.1));
        assert!(!from(1.0, 7.9));
    }

    #[test]
    fn val_ends_at_nothing_or_on_two_sides_tell_nothing() {
        let flat = |a: f64, b: f64| keeps([5.0 + a, 5.0, 0.0], [5.0 + b, 5.0, 0.0], [0.0, 0.0]);
        assert!(flat(1.0, 1.0));
        assert!(flat(-1.0, -1.0));
        for (a, b) in [(0.0, 0.0), (0.0, 1.0), (1.0, 0.0), (1.0, -1.0), (-1.0, 1.0)] {
            assert!(!flat(a, b), "{a} {b}");
        }
        // So far on one side that bounds would tell, were the other end not on the other.
        assert!(!keeps([100.0, 0.0, 1.0], [-1.0, 2.0, 1.0], [0.0, 0.1]));
        assert!(!keeps([-1.0, 0.0, 1.0], [100.0, 2.0, 1.0], [0.0, 0.1]));
    }
}
