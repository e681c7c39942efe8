//! How far a pass finds the tree from its balance: three residuals, and where each is worst.
#![allow(
    clippy::indexing_slicing,
    reason = "the arrays of a tree are of one length, its number of legs, and `prepare` numbers the legs"
)]

use super::tree::{TOLERANCE, Tree, small_flow};

/// The three residuals.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Worst<T> {
    pub(super) pressure: T,
    pub(super) balance: T,
    pub(super) step: T,
}

impl Worst<f64> {
    /// What is left over and what does not add up, relative to the pressure and the flow of the whole;
    /// the step is so already.
    pub(super) fn relative(self, pressure: f64, flow: f64) -> Self {
        Self {
            pressure: self.pressure / pressure,
            balance: self.balance / flow.abs(),
            step: self.step,
        }
    }

    /// Whether the balances are off by no more than this, their losses being settled.
    pub(super) fn holds(&self, settled: bool, tolerance: f64) -> bool {
        settled && self.pressure <= tolerance && self.balance <= tolerance
    }

    /// Whether there is also no step left that is worth taking.
    pub(super) fn is_small(&self, tolerance: f64) -> bool {
        self.step <= TOLERANCE && self.holds(true, tolerance)
    }
}

/// What rounding leaves over of the pressure in a tree so many legs deep, relative.
pub(super) fn rounding(depth: f64) -> f64 {
    4.0 * f64::EPSILON * depth
}

/// A residual and the leg of the plan where it is worst.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct At {
    pub(super) value: f64,
    pub(super) leg: u32,
}

impl At {
    fn raise(&mut self, value: f64, leg: u32) {
        // A NaN must win: it is what went wrong.
        if value > self.value || value.is_nan() {
            *self = Self { value, leg };
        }
    }
}

/// The largest of sizes, and NaN if any was no number: that must not pass for small.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Largest {
    size: f64,
    /// Finite as long as all sizes are.
    sum: f64,
}

impl Largest {
    #[inline]
    pub(super) fn raise(&mut self, size: f64) {
        // One instruction each, where `f64::max` with its care for NaN takes four.
        self.size = if size > self.size { size } else { self.size };
        self.sum += size;
    }

    pub(super) fn size(self) -> f64 {
        if self.sum.is_finite() {
            self.size
        } else {
            f64::NAN
        }
    }
}

impl Tree {
    /// Where the residuals of the last pass are worst, each in its own unit.
    pub(super) fn worst(&self) -> Worst<At> {
        let small = small_flow(self.total());
        let mut worst: Worst<At> = Worst::default();
        for (i, (link, node)) in self.links.iter().zip(&self.nodes).enumerate() {
            let leg = self.legs[i];
            if link.is_leaf() {
                worst.pressure.raise(node.suction.abs(), leg);
            } else {
                worst.balance.raise(self.surplus[i].abs(), leg);
            }
            let (q, next) = (self.q[i], self.next[i]);
            worst.step.raise((next - q).abs() / q.abs().max(small), leg);
        }
        worst
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::solve::{
        Workspace,
        by_hand::{FALLING, ready},
        plan::Link,
    };

    #[test]
    fn of_equal_residuals_the_first_is_told_and_nan_wins() {
        let mut at = At::default();
        at.raise(0.0, 7);
        assert_eq!(at, At::default());
        at.raise(2.0, 1);
        at.raise(1.0, 2);
        at.raise(2.0, 3);
        assert_eq!(at, At { value: 2.0, leg: 1 });
        at.raise(f64::NAN, 4);
        assert!(at.value.is_nan() && at.leg == 4);
    }

    #[test]
    fn residuals_are_judged_by_the_whole() {
        let worst = Worst {
            pressure: 30.0,
            balance: 0.5,
            step: 0.125,
        };
        let relative = Worst {
            pressure: 0.01,
            balance: 0.25,
            step: 0.125,
        };
        assert_eq!(worst.relative(3000.0, 2.0), relative);
        assert_eq!(worst.relative(3000.0, -2.0), relative);
        assert_eq!(rounding(1.0), 4.0 * f64::EPSILON);
        assert_eq!(rounding(8.0), 32.0 * f64::EPSILON);
    }

    #[test]
    fn each_residual_counts() {
        let worst = |pressure, balance, step| Worst {
            pressure,
            balance,
            step,
        };
        let holds = |pressure, balance| worst(pressure, balance, 1.0).holds(true, 0.5);
        assert!(holds(0.5, 0.5) && !holds(0.6, 0.0) && !holds(0.0, 0.6));
        assert!(!holds(f64::NAN, 0.0) && !holds(0.0, f64::NAN));
        assert!(!worst(0.0, 0.0, 0.0).holds(false, 0.5));
        let small = |pressure, balance, step| worst(pressure, balance, step).is_small(0.5);
        assert!(small(0.5, 0.5, TOLERANCE));
        assert!(!small(0.5, 0.6, TOLERANCE) && !small(0.6, 0.5, TOLERANCE));
        assert!(!small(0.5, 0.5, 1.1 * TOLERANCE) && !small(0.0, 0.0, f64::NAN));
    }

    #[test]
    fn the_largest_is_no_number_once_one_was_none() {
        let largest = |sizes: &[f64]| {
            let mut largest = Largest::default();
            sizes.iter().for_each(|&size| largest.raise(size));
            largest.size()
        };
        assert_eq!(largest(&[]), 0.0);
        assert_eq!(largest(&[1.0, 3.0, 2.0]), 3.0);
        assert!(largest(&[f64::NAN, 3.0]).is_nan());
        assert!(largest(&[3.0, f64::NAN, 1.0]).is_nan());
        assert!(largest(&[f64::INFINITY, 3.0]).is_nan());
    }

    #[test]
    fn the_worst_are_told_with_their_legs() {
        let (network, open) = ready(FALLING, None);
        let mut work = Workspace::default();
        assert!(work.prepare(network.plan(), &open));
        let tree = &mut work.tree;
        let n = tree.links.len();
        tree.q[..n].fill(2.0);
        tree.next[..n].fill(2.0);
        tree.surplus[..n].fill(0.0);
        let worst = tree.worst();
        let none = At::default();
        assert_eq!(
            (worst.pressure, worst.balance, worst.step),
            (none, none, none)
        );
        let leaf = tree.links.iter().position(Link::is_leaf).unwrap();
        let outlet = tree.links.iter().rposition(|link| !link.is_leaf()).unwrap();
        tree.nodes[leaf].suction = -30.0;
        // Of what stands at the others nothing is asked.
        tree.nodes[outlet].suction = 500.0;
        tree.surplus[outlet] = -0.5;
        tree.next[outlet] = 1.5;
        let leg = |at: usize| tree.legs[at];
        let worst = tree.worst();
        let at = |value, at| At {
            value,
            leg: leg(at),
        };
        assert_eq!(worst.pressure, at(30.0, leaf));
        assert_eq!(worst.balance, at(0.5, outlet));
        assert_eq!(worst.step, at(0.25, outlet));
        // Next to nothing is judged by the whole.
        tree.q[leaf] = 1e-12;
        tree.next[leaf] = 3e-9;
        let small = small_flow(tree.total());
        let step = tree.worst().step;
        assert_eq!(step.leg, tree.legs[leaf]);
        assert!((step.value - 3e-9 / small).abs() < 1e-3, "{step:?}");
    }
}
