//! Choices of so many things out of many: one after the other, and how many there are.
#![allow(
    clippy::indexing_slicing,
    reason = "the choice has `size` entries, and every index is below that"
)]

/// The next choice of the same size from `n` things in lexicographic order, if there is one.
pub(crate) fn next_choice(chosen: &mut [usize], n: usize) -> bool {
    let size = chosen.len();
    // The last one that has room to move up; those behind it follow close.
    let Some(i) = (0..size).rev().find(|&i| chosen[i] + size < n + i) else {
        return false;
    };
    let first = chosen[i] + 1;
    for (chosen, next) in chosen[i..].iter_mut().zip(first..) {
        *chosen = next;
    }
    true
}

/// How far choices may grow.
pub(crate) struct Sizes {
    /// The largest size up to which there are few enough of them.
    pub(crate) most: usize,
    /// How many there are up to that size.
    pub(crate) sets: u64,
}

impl Sizes {
    /// For choices of up to `asked` of `n` things, and at most `limit` (up to 2^30) in all.
    pub(crate) fn of(n: u64, asked: usize, limit: u64) -> Self {
        let mut sizes = Self { most: 0, sets: 0 };
        // Choices of one size. At most 2^30 of one size and 2^32 things: the product fits.
        let mut of_size = 1_u64;
        for size in 1..=asked as u64 {
            of_size = of_size * (n + 1).saturating_sub(size) / size;
            if of_size > limit - sizes.sets {
                break;
            }
            sizes.sets += of_size;
            sizes.most += 1;
        }
        sizes
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Of four things 4 single ones, 6 pairs, 4 threes and all.
    #[test]
    fn choices_may_be_as_many_as_the_limit_and_no_more() {
        for (asked, limit, most, sets) in [
            (2, 10, 2, 10),
            (2, 9, 1, 4),
            (4, 15, 4, 15),
            (4, 14, 3, 14),
            // No choice is larger than all four; empty ones are still counted as sizes.
            (9, 100, 9, 15),
            (2, 3, 0, 0),
        ] {
            let sizes = Sizes::of(4, asked, limit);
            assert_eq!((sizes.most, sizes.sets), (most, sets), "{asked} {limit}");
        }
    }
}
