//! When a solve ends, and how much of a step is taken: what the sizes of its steps say.

use super::{tree::TOLERANCE, work::Pass};
use std::mem;

/// Three to five passes are usual; of 100 000 random trees none has needed more than twelve.
pub(super) const MOST_PASSES: usize = 60;

/// Passes before steps that do not shrink are cut.
const PATIENCE: usize = 5;

/// The smallest share of a step.
const SHORTEST: f64 = 0.1;

/// To no more than this share of the one before: so Newton's method makes its steps shrink.
const SHRUNK: f64 = 0.1;

/// After a step of this size, relative, none but rounding is expected: it is enough to verify that
/// (verify.rs).
const SURE: f64 = 1e-7;

/// A step of this size, relative, is rounding.
const ROUNDING: f64 = 1e-14;

/// What a step says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Says {
    /// The next one will be smaller still.
    Shrinks,
    /// Nothing is left but rounding.
    Settled,
    /// It is no smaller than the one before, or was the last.
    Stands,
}

/// The steps of a solve so far; all sizes are relative.
#[derive(Debug)]
pub(super) struct Steps {
    /// Size of the last.
    last: f64,
    taken: usize,
    /// Whether it stood, and rounding explains its size.
    rounded: bool,
    /// How much was taken of it.
    share: f64,
}

impl Steps {
    pub(super) const NONE: Self = Self {
        last: f64::MAX,
        taken: 0,
        rounded: false,
        share: 1.0,
    };

    /// Whether none but rounding is expected.
    pub(super) fn are_sure(&self) -> bool {
        self.last <= SURE
    }

    /// What one more of this size says.
    ///
    /// A step that is asked for at the tolerance leaves an error of its own size; once more, and
    /// nothing but rounding is left.
    pub(super) fn add(&mut self, step: f64) -> Says {
        self.taken += 1;
        let before = mem::replace(&mut self.last, step);
        if step <= ROUNDING || (step <= TOLERANCE && before <= TOLERANCE) {
            Says::Settled
        } else if step <= SHRUNK * before && self.taken < MOST_PASSES {
            self.rounded = false;
            Says::Shrinks
        } else {
            Says::Stands
        }
    }

    /// Whether the solve ends with the last step, which did not shrink, and has converged then. Of
    /// the balances before that step was asked whether they hold.
    ///
    /// Where rounding will not let the steps shrink further, they have to be no larger than it
    /// explains; and twice in a row, for a step may also fail to shrink on the way.
    pub(super) fn end(
        &mut self,
        says: Says,
        holds: bool,
        is_rounded: impl FnOnce() -> bool,
    ) -> Option<bool> {
        let rounded = says == Says::Stands && is_rounded();
        let rounded_before = mem::replace(&mut self.rounded, rounded);
        let ends = says == Says::Settled || (rounded && rounded_before);
        let converged = holds && ends;
        let lost = !self.last.is_finite() || self.taken >= MOST_PASSES;
        (converged || lost).then_some(converged)
    }

    /// How much of the last step is taken, if not all of it.
    ///
    /// Steps that do not shrink can go back and forth for ever across the bend of friction where
    /// turbulence sets in; shorter and shorter ones do not.
    pub(super) fn cut(&mut self, trace: &[Pass]) -> Option<f64> {
        if self.taken <= PATIENCE {
            return None;
        }
        self.share = share_of(trace, self.share);
        (self.share < 1.0).then_some(self.share)
    }
}

/// How much of the last step of so many is taken, after such a share of the one before.
#[cold]
fn share_of(trace: &[Pass], share: f64) -> f64 {
    let [before @ .., last] = trace else {
        return share;
    };
    let shortest = before
        .iter()
        .map(|pass| pass.step)
        .fold(f64::INFINITY, f64::min);
    if last.step > (1.0 - 0.5 * share) * shortest {
        (0.5 * share).max(SHORTEST)
    } else {
        (2.0 * share).min(1.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn trace(steps: &[f64]) -> Vec<Pass> {
        let pass = |&step: &f64| Pass { step, bent: false };
        steps.iter().map(pass).collect()
    }

    /// What the last of these steps says.
    fn says(steps: &[f64]) -> Says {
        let mut all = Steps::NONE;
        let said: Vec<Says> = steps.iter().map(|&step| all.add(step)).collect();
        *said.last().unwrap()
    }

    #[test]
    fn steps_settle_at_rounding_or_twice_at_the_tolerance() {
        assert_eq!(says(&[0.3]), Says::Shrinks);
        assert_eq!(says(&[ROUNDING]), Says::Settled);
        assert_eq!(says(&[1.0, 0.9 * ROUNDING]), Says::Settled);
        assert_eq!(says(&[1.0, 1.1 * ROUNDING]), Says::Shrinks);
        assert_eq!(says(&[1.0, TOLERANCE]), Says::Shrinks);
        assert_eq!(says(&[1.0, TOLERANCE, TOLERANCE]), Says::Settled);
        assert_eq!(says(&[1.0, TOLERANCE, 0.01 * TOLERANCE]), Says::Settled);
        assert_eq!(says(&[1.0, 1.1 * TOLERANCE, TOLERANCE]), Says::Stands);
        assert_eq!(says(&[1.0, TOLERANCE, 1.1 * TOLERANCE]), Says::Stands);
        assert_eq!(says(&[0.0]), Says::Settled);
    }

    #[test]
    fn steps_shrink_to_a_tenth_or_stand() {
        assert_eq!(says(&[1.0, 0.1]), Says::Shrinks);
        assert_eq!(says(&[1.0, 0.11]), Says::Stands);
        assert_eq!(says(&[1.0, 2.0]), Says::Stands);
        // The one before counts, not the smallest.
        assert_eq!(says(&[1e-3, 1.0, 0.1]), Says::Shrinks);
        assert_eq!(says(&[1.0, f64::NAN]), Says::Stands);
        assert_eq!(says(&[f64::NAN, 0.1]), Says::Stands);
        assert_eq!(says(&[1e-13, f64::NAN]), Says::Stands);
        assert_eq!(says(&[f64::INFINITY]), Says::Stands);
    }

    #[test]
    fn after_a_small_step_none_but_rounding_is_expected() {
        let mut steps = Steps::NONE;
        assert!(!steps.are_sure());
        steps.add(1.1 * SURE);
        assert!(!steps.are_sure());
        steps.add(SURE);
        assert!(steps.are_sure());
        steps.add(f64::NAN);
        assert!(!steps.are_sure());
    }

    /// What a step and then an end say, with balances that hold and steps that rounding explains
    /// if so.
    fn end(steps: &mut Steps, step: f64, holds: bool, rounded: bool) -> Option<bool> {
        let says = steps.add(step);
        assert_ne!(says, Says::Shrinks);
        steps.end(says, holds, || rounded)
    }

    #[test]
    fn a_settled_step_ends_the_solve_if_the_balances_hold() {
        let mut steps = Steps::NONE;
        assert_eq!(end(&mut steps, ROUNDING, false, true), None);
        assert_eq!(end(&mut steps, ROUNDING, true, false), Some(true));
        // Whether rounding explains it is not asked.
        let says = steps.add(0.0);
        let asked = || unreachable!("rounding was asked for");
        assert_eq!(steps.end(says, true, asked), Some(true));
    }

    #[test]
    fn steps_that_stand_end_it_where_rounding_explains_two_in_a_row() {
        let after = |steps: &[(bool, bool)]| {
            let mut all = Steps::NONE;
            all.add(1e-10);
            let said = steps
                .iter()
                .map(|&(holds, rounded)| end(&mut all, 1e-10, holds, rounded));
            said.collect::<Vec<_>>()
        };
        assert_eq!(after(&[(true, true), (true, true)]), [None, Some(true)]);
        assert_eq!(after(&[(true, true), (false, true)]), [None, None]);
        assert_eq!(after(&[(false, true), (true, true)]), [None, Some(true)]);
        assert_eq!(after(&[(true, false), (true, true)]), [None, None]);
        assert_eq!(after(&[(true, true), (true, false)]), [None, None]);
        // Not in a row: one of them has shrunk, or settled without a balance.
        let mut all = Steps::NONE;
        all.add(1e-10);
        assert_eq!(end(&mut all, 1e-10, true, true), None);
        assert_eq!(all.add(0.9e-11), Says::Shrinks);
        assert_eq!(end(&mut all, 0.9e-11, true, true), None);
        assert_eq!(end(&mut all, ROUNDING, false, true), None);
        assert_eq!(end(&mut all, 1e-11, true, true), None);
        assert_eq!(end(&mut all, 1e-11, true, true), Some(true));
    }

    #[test]
    fn a_solve_is_lost_with_a_step_that_is_no_number_or_after_the_most() {
        for step in [f64::NAN, f64::INFINITY] {
            let mut steps = Steps::NONE;
            steps.add(0.5);
            assert_eq!(end(&mut steps, step, true, false), Some(false));
        }
        for (step, converged) in [(0.5, false), (0.0, true)] {
            let mut steps = Steps::NONE;
            steps.add(1.0);
            for pass in 2..MOST_PASSES {
                assert_eq!(end(&mut steps, 1.0, true, false), None, "{pass}");
            }
            assert_eq!(end(&mut steps, step, true, false), Some(converged));
        }
        // A last one stands even if it shrinks.
        let mut steps = Steps::NONE;
        for _ in 1..MOST_PASSES {
            steps.add(1.0);
        }
        assert_eq!(steps.add(0.01), Says::Stands);
    }

    #[test]
    fn steps_are_cut_once_patience_is_at_its_end() {
        let mut steps = Steps::NONE;
        let all = [1.0; PATIENCE + 1];
        for taken in 1..=PATIENCE {
            steps.add(1.0);
            assert_eq!(steps.cut(&trace(&all[..taken])), None);
        }
        steps.add(1.0);
        assert_eq!(steps.cut(&trace(&all)), Some(0.5));
        steps.add(1.0);
        assert_eq!(steps.cut(&trace(&all)), Some(0.25));
        steps.add(0.1);
        assert_eq!(steps.cut(&trace(&[1.0, 0.1])), Some(0.5));
        steps.add(0.01);
        assert_eq!(steps.cut(&trace(&[0.1, 0.01])), None);
        steps.add(0.01);
        assert_eq!(steps.cut(&trace(&[0.01, 0.01])), Some(0.5));
    }

    #[test]
    fn steps_that_do_not_shrink_are_halved_and_lengthened_again() {
        let of = |steps: &[f64], share| share_of(&trace(steps), share);
        // Of whole steps the last has to be half of the shortest before it.
        assert_eq!(of(&[1.0, 0.5], 1.0), 1.0);
        assert_eq!(of(&[1.0, 0.51], 1.0), 0.5);
        assert_eq!(of(&[0.5, 2.0, 0.4], 1.0), 0.5);
        assert_eq!(of(&[0.5, 2.0, 0.2], 1.0), 1.0);
        // Of half ones three quarters.
        assert_eq!(of(&[1.0, 0.75], 0.5), 1.0);
        assert_eq!(of(&[1.0, 0.76], 0.5), 0.25);
        // No longer than whole, no shorter than a tenth.
        assert_eq!(of(&[1.0, 0.1], 0.2), 0.4);
        assert_eq!(of(&[1.0, 1.0], 0.15), SHORTEST);
        assert_eq!(of(&[], 0.3), 0.3);
    }
}
