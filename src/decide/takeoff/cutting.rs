//! Pieces cut from stock lengths.

/// Shorter than this \[m\] is no piece, and this much more still fits: a tenth of a millimetre.
pub(super) const HAIR_M: f64 = 1e-4;

/// A length of duct as it is put together: whole stock lengths, and a piece cut from one more.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Pieces {
    pub(super) whole: i64,
    /// 0 where the whole lengths suffice.
    pub(super) cut_m: f64,
}

impl Pieces {
    pub(super) fn of(length_m: f64, stock_m: f64) -> Self {
        let whole = ((length_m + HAIR_M) / stock_m).floor();
        let cut_m = length_m - whole * stock_m;
        Self {
            whole: whole as i64,
            cut_m: if cut_m > HAIR_M { cut_m } else { 0.0 },
        }
    }

    pub(super) fn count(self) -> i64 {
        self.whole + i64::from(self.cut_m > 0.0)
    }
}

/// How many stock lengths the cut pieces take, the longest cut first and each from the first
/// length begun that still has enough (first fit decreasing).
///
/// Never more than 11/9 of the fewest possible and 6/9 (G. Dosa, "The tight bound of first fit
/// decreasing bin-packing algorithm", 2007; from memory).
pub(super) fn stock_lengths(mut cuts_m: Vec<f64>, stock_m: f64) -> i64 {
    cuts_m.sort_by(|a, b| b.total_cmp(a));
    let mut left = Leftovers::new(cuts_m.len(), stock_m);
    for cut_m in cuts_m {
        left.cut(cut_m);
    }
    left.begun as i64
}

/// The least number of stock lengths that hold so much.
pub(super) fn least(length_m: f64, stock_m: f64) -> i64 {
    ((length_m - HAIR_M) / stock_m).ceil().max(0.0) as i64
}

/// What is left of each stock length, as a tree of largest remainders: the first that suffices is
/// found without looking at all of them.
struct Leftovers {
    /// Node i has the children 2 i and 2 i + 1; the leaves are the lengths, from `leaves` on.
    most_m: Vec<f64>,
    leaves: usize,
    begun: usize,
}

impl Leftovers {
    fn new(lengths: usize, stock_m: f64) -> Self {
        let leaves = lengths.next_power_of_two();
        Self {
            most_m: vec![stock_m; 2 * leaves],
            leaves,
            begun: 0,
        }
    }

    fn at(&self, node: usize) -> f64 {
        self.most_m.get(node).copied().unwrap_or(0.0)
    }

    fn cut(&mut self, cut_m: f64) {
        let mut node = 1;
        while node < self.leaves {
            node *= 2;
            if self.at(node) + HAIR_M < cut_m {
                node += 1;
            }
        }
        self.begun = self.begun.max(node - self.leaves + 1);
        let rest = (self.at(node) - cut_m).max(0.0);
        if let Some(leaf) = self.most_m.get_mut(node) {
            *leaf = rest;
        }
        while node > 1 {
            node /= 2;
            let most = self.at(2 * node).max(self.at(2 * node + 1));
            if let Some(here) = self.most_m.get_mut(node) {
                *here = most;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Fewest lengths by trying every way, for a few pieces.
    fn fewest(cuts: &[f64], left: &mut Vec<f64>, stock_m: f64) -> usize {
        let Some((&cut, rest)) = cuts.split_first() else {
            return left.len();
        };
        let mut best = usize::MAX;
        for i in 0..left.len() {
            if left[i] + HAIR_M >= cut {
                left[i] -= cut;
                best = best.min(fewest(rest, left, stock_m));
                left[i] += cut;
            }
        }
        left.push(stock_m - cut);
        best = best.min(fewest(rest, left, stock_m));
        left.pop();
        best
    }

    /// First fit decreasing as it is said, looking at every length.
    fn naive(cuts: &[f64], stock_m: f64) -> usize {
        let mut cuts = cuts.to_vec();
        cuts.sort_by(|a, b| b.total_cmp(a));
        let mut left: Vec<f64> = Vec::new();
        for cut in cuts {
            match left.iter_mut().find(|left| **left + HAIR_M >= cut) {
                Some(left) => *left = (*left - cut).max(0.0),
                None => left.push(stock_m - cut),
            }
        }
        left.len()
    }

    proptest! {
        #[test]
        fn prop_first_fit_decreasing_is_that_and_lies_between_its_bounds(
            cuts in prop::collection::vec(1..=300_u32, 0..8),
        ) {
            let stock_m = 3.0;
            let cuts: Vec<f64> = cuts.into_iter().map(|cm| f64::from(cm) / 100.0).collect();
            let found = stock_lengths(cuts.clone(), stock_m);
            prop_assert_eq!(found, naive(&cuts, stock_m) as i64);
            let best = fewest(&cuts, &mut Vec::new(), stock_m) as i64;
            prop_assert!(best <= found && 9 * found <= 11 * best + 6);
            prop_assert!(least(cuts.iter().sum(), stock_m) <= best);
        }

        #[test]
        fn prop_pieces_add_up_to_the_length(mm in 0..2_000_000_u32, stock_mm in 100..6000_u32) {
            let (length_m, stock_m) = (f64::from(mm) / 1000.0, f64::from(stock_mm) / 1000.0);
            let pieces = Pieces::of(length_m, stock_m);
            prop_assert_eq!(pieces.whole, i64::from(mm / stock_mm));
            prop_assert!((pieces.whole as f64 * stock_m + pieces.cut_m - length_m).abs() < 1e-9);
            prop_assert_eq!(pieces.count(), i64::from(mm.div_ceil(stock_mm)));
        }
    }

    #[test]
    fn prop_a_hundred_thousand_pieces_of_the_worst_kind_take_no_time() {
        // Each longer than half a length: every one begins its own.
        let cuts: Vec<f64> = (0..100_000).map(|i| 1.6 + f64::from(i) * 1e-6).collect();
        assert_eq!(stock_lengths(cuts, 3.0), 100_000);
    }

    #[test]
    fn whole_lengths_leave_nothing_to_cut() {
        let of = |length_m| {
            let pieces = Pieces::of(length_m, 3.0);
            (pieces.whole, pieces.cut_m > 0.0, pieces.count())
        };
        assert_eq!(of(0.0), (0, false, 0));
        assert_eq!(of(3.0), (1, false, 1));
        // A hair more or less is rounding.
        assert_eq!(of(3.00005), (1, false, 1));
        assert_eq!(of(2.99995), (1, false, 1));
        assert_eq!(of(3.001), (1, true, 2));
        assert_eq!(of(2.999), (0, true, 1));
        let least = |length_m| least(length_m, 3.0);
        assert_eq!(
            [least(0.0), least(0.5), least(3.0), least(3.001), least(9.0)],
            [0, 1, 1, 2, 3]
        );
    }
}
