//! How far a pass finds the tree from its balance: three residuals, and where each is worst.
#![allow(
    clippy::indexing_slicing,
    reason = "the arrays of a tree are of one length, its number of legs, and `prepare` numbers the legs"
)]

use super::tree::{Tree, small_flow};

/// The three residuals.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Worst<T> {
    pub(super) pressure: T,
    pub(super) balance: T,
    pub(super) step: T,
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
