//! Which readings the others contradict.

use super::{
    FitError, Predict, Weighting,
    scatter::critical,
    search::{Found, Searcher},
};
use nalgebra::{DMatrix, DVector};

/// Below this share of a reading's variance left to the others, they do not check it.
const CHECKED: f64 = 1e-9;

/// How close the rounds of weighting need to come where they only give a start.
const CLOSE: f64 = 1e-2;

/// A biweight below this makes a suspect: a residual of 3.3 or more.
const SUSPECT: f64 = 0.25;

/// An exchange that lowers misfit and price by less is none: it is the rounding of the same set.
const LOWER: f64 = 1e-6;

/// Rounds of making the uncertainties larger; one or two do.
const SCATTERS: usize = 10;

/// How a reading stands to all the others.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Standing {
    /// Share of the reading's error that shows in its residual: 0 where no other reading nor prior
    /// says what it should be, 1 where the others say it exactly.
    pub(super) checked: f64,
    /// The reading less what the rest predicts, over the standard uncertainty of that difference,
    /// which is its own and the prediction's; with the sign of f - y. None where nothing checks it.
    pub(super) apart: Option<f64>,
}

/// How every reading stands to the others in a fit.
///
/// With q = g C g' / s^2 of a reading of weight w, taking it away (Sherman and Morrison's formula)
/// leaves e / (1 - w q) of its residual e and q / (1 - w q) of its prediction's variance. For w = 1 the
/// quotient is the usual e / sqrt(1 - h), h the leverage: with uncertainties that are given, not
/// estimated, internal and external standardising are one. For w = 0 it is e / sqrt(1 + q).
pub(super) fn standings(found: &Found) -> Vec<Standing> {
    let predicted = found.posterior.predicted(&found.state.jacobian);
    let residuals = found.state.residuals.iter().zip(&found.weights);
    residuals
        .zip(predicted.row_iter())
        .map(|((&e, &w), row)| {
            let q = row.norm_squared();
            let rest = 1.0 - w * q;
            let checked = rest / (rest + q);
            let apart = e / (rest * (rest + q)).sqrt();
            Standing {
                checked: checked.clamp(0.0, 1.0),
                apart: (rest > CHECKED).then_some(apart),
            }
        })
        .collect()
}

/// The fit of the readings that are not outliers.
#[derive(Debug, Clone)]
pub(super) struct Clean {
    pub(super) found: Found,
    pub(super) outlier: Vec<bool>,
}

impl<P: Predict> Searcher<'_, P> {
    /// Leaves out the readings that the others contradict.
    ///
    /// Each reading may be shifted by an error of its own at a price of c^2 in the misfit: the set of
    /// outliers is the one of least misfit and price. A reading alone is out if it is more than c
    /// standard uncertainties from what the others predict; two that hide each other (masking) go out
    /// together, for pairs are weighed too; and one that looked wrong only because of another
    /// (swamping) comes back once that one is out. The search goes step by step, once from no outlier
    /// and once from those that the biweight leaves out, and keeps the better end. At most a third of
    /// the readings may be wrong.
    ///
    /// c is [`critical`]: the uncertainties are taken at their word. Only if the readings that are left
    /// still scatter more than chance allows, c grows by as much. Where all uncertainties were given too
    /// small, honest readings may be named all the same: the few that are left can agree by chance.
    pub(super) fn clean(&mut self, all: &Found) -> Clean {
        let count = self.setup.readings.len();
        let most = count / 3;
        let mut clean = Clean {
            found: all.clone(),
            outlier: vec![false; count],
        };
        if most == 0 {
            return clean;
        }
        let mut starts = vec![clean.clone()];
        // A weighting that does not settle gives no start; the other one stands.
        if let Ok((robust, _)) = self.weighted(Weighting::Biweight, all, CLOSE) {
            let suspected = suspects(&robust, most);
            let alone = suspected.contains(&true).then(|| self.without(&suspected));
            if let Some(Ok(found)) = alone {
                starts.push(Clean {
                    found,
                    outlier: suspected,
                });
            }
        }
        let mut scatter = 1.0;
        for _ in 0..SCATTERS {
            let price = critical(count).powi(2) * scatter;
            let ends = starts.iter().map(|start| self.improve(start, price, most));
            let best = ends.min_by(|a, b| total(a, price).total_cmp(&total(b, price)));
            clean = best.unwrap_or(clean);
            match clean.found.excess() {
                Some(more) if more > scatter => scatter = more,
                _ => break,
            }
        }
        clean
    }

    /// Steps while a step lowers misfit and price.
    fn improve(&mut self, start: &Clean, price: f64, most: usize) -> Clean {
        let mut clean = start.clone();
        // Each step lowers the sum, so none comes twice; this bounds what they may cost.
        for _ in 0..2 * clean.outlier.len() {
            let next = self.step(&clean, price, most);
            let next = next.filter(|next| total(next, price) < total(&clean, price));
            match next.or_else(|| self.exchange(&clean, price, most)) {
                Some(next) => clean = next,
                None => break,
            }
        }
        clean
    }

    /// After the step that promises most.
    fn step(&mut self, clean: &Clean, price: f64, most: usize) -> Option<Clean> {
        let outlier = step(clean, price, most)?;
        let found = self.without(&outlier).ok()?;
        Some(Clean { found, outlier })
    }

    /// One outlier back and others out in its place, where that lowers misfit and price most.
    fn exchange(&mut self, clean: &Clean, price: f64, most: usize) -> Option<Clean> {
        let mut best: Option<Clean> = None;
        let mut least = total(clean, price) - LOWER;
        for (back, _) in clean.outlier.iter().enumerate().filter(|(_, out)| **out) {
            let outlier = toggled(&clean.outlier, [back, back]);
            let Ok(found) = self.without(&outlier) else {
                continue;
            };
            let next = self.step(&Clean { found, outlier }, price, most);
            if let Some(next) = next.filter(|next| total(next, price) < least) {
                least = total(&next, price);
                best = Some(next);
            }
        }
        best
    }

    /// The fit without these readings, from the start: where the wrong ones led is no good start.
    fn without(&mut self, outlier: &[bool]) -> Result<Found, FitError<P::Error>> {
        let start = DVector::zeros(self.setup.unknowns.len());
        let weights = outlier.iter().map(|&out| f64::from(u8::from(!out)));
        self.search(&start, weights.collect())
    }
}

/// The readings that a robust fit hardly counts, the farthest off first, so many at most.
fn suspects(robust: &Found, most: usize) -> Vec<bool> {
    let mut low: Vec<(usize, f64)> = (robust.state.residuals.iter().zip(&robust.weights))
        .enumerate()
        .filter(|(_, (_, weight))| **weight < SUSPECT)
        .map(|(i, (residual, _))| (i, residual.abs()))
        .collect();
    low.sort_by(|a, b| b.1.total_cmp(&a.1));
    low.truncate(most);
    let is_low = |i| low.iter().any(|at| at.0 == i);
    (0..robust.weights.len()).map(is_low).collect()
}

fn total(clean: &Clean, price: f64) -> f64 {
    let out = clean.outlier.iter().filter(|&&out| out).count();
    clean.found.misfit() + price * out as f64
}

/// The outliers after the step that promises most, if any promises anything: one reading back, or
/// one or two out, judged as if readings were straight in the unknowns.
fn step(clean: &Clean, price: f64, most: usize) -> Option<Vec<bool>> {
    let standings = standings(&clean.found);
    let predicted = clean.found.posterior.predicted(&clean.found.state.jacobian);
    let (mut best, mut gain) = (None, 0.0);
    let mut offer = |members: [usize; 2], by: f64| {
        if by > gain {
            (best, gain) = (Some(members), by);
        }
    };
    let out = clean.outlier.iter().filter(|&&out| out).count();
    let kept = |i: &usize| clean.outlier.get(*i) == Some(&false);
    for (i, standing) in standings.iter().enumerate() {
        let Some(apart) = standing.apart else {
            continue;
        };
        // In a clean fit weights are 0 or 1, so that apart^2 is the change of the misfit.
        match kept(&i) {
            false => offer([i, i], price - apart * apart),
            true if out < most => offer([i, i], apart * apart - price),
            true => {}
        }
    }
    if out + 2 <= most {
        let count = standings.len();
        for i in (0..count).filter(kept) {
            for j in (i + 1..count).filter(kept) {
                if let Some(lower) = lowered_by(clean, &predicted, i, j) {
                    offer([i, j], lower - 2.0 * price);
                }
            }
        }
    }
    Some(toggled(&clean.outlier, best?))
}

/// The same with these, or this, changed.
fn toggled(outlier: &[bool], members: [usize; 2]) -> Vec<bool> {
    let at = outlier.iter().enumerate();
    at.map(|(i, &out)| out != members.contains(&i)).collect()
}

/// How much leaving out both readings lowers the misfit: e' (I - H)^-1 e of their two residuals and
/// their block of the hat matrix (Cook and Weisberg 1982, from memory).
fn lowered_by(clean: &Clean, predicted: &DMatrix<f64>, i: usize, j: usize) -> Option<f64> {
    let residuals = &clean.found.state.residuals;
    let (one, other) = (predicted.row(i), predicted.row(j));
    let (a, b) = (1.0 - one.norm_squared(), 1.0 - other.norm_squared());
    let c = -one.dot(&other);
    let determinant = a * b - c * c;
    let (e, f) = (residuals[i], residuals[j]);
    (determinant > CHECKED).then(|| (b * e * e - 2.0 * c * e * f + a * f * f) / determinant)
}
