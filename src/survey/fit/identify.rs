//! What the readings cannot tell apart.
#![allow(
    clippy::indexing_slicing,
    reason = "matrices with a row and a column for each unknown"
)]

use super::{Posterior, search::Found};
use nalgebra::{DMatrix, SymmetricEigen};
use std::fmt;

/// Correlation from which two unknowns are told of as a pair: judgement.
const CLOSE: f64 = 0.9;

/// Share of the prior variance that remains where the readings say nearly nothing: judgement.
const WEAK: f64 = 0.8;

/// What an unknown must answer for, if the others were known: half of its variance would go.
const ALONE: f64 = 1.0;

/// A part of a direction smaller than this share of its largest is not told.
const SMALL: f64 = 0.1;

/// Two unknowns that the readings tell much better together than alone.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct CorrelatedUnknowns {
    /// Their places among the unknowns, in their order.
    pub unknowns: [usize; 2],
    /// Their correlation, beyond 0.9 either way. Below 0 their sum is known better than either.
    pub correlation: f64,
}

/// A change of several unknowns together that moves no reading noticeably, though each of them alone
/// would.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct WeakDirection {
    /// The unknowns that change, two at least, the largest change first.
    pub changes: Vec<DirectionPart>,
    /// Share of the prior variance along it that remains, nearly 1.
    pub left: f64,
}

/// A part of a [`WeakDirection`].
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct DirectionPart {
    /// Its place among the unknowns.
    pub unknown: usize,
    /// Its name.
    pub name: String,
    /// In prior standard uncertainties, those of all parts making 1 as the root of the sum of their
    /// squares.
    pub by: f64,
}

/// `raising "fan" and "leak" while lowering "main" moves no reading noticeably`
impl fmt::Display for WeakDirection {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let names = |up: bool| {
            let changes = self.changes.iter().filter(|change| (change.by > 0.0) == up);
            let names: Vec<String> = changes.map(|at| format!("\"{}\"", at.name)).collect();
            names.join(" and ")
        };
        match (names(true), names(false)) {
            (up, down) if down.is_empty() => write!(f, "raising {up}")?,
            (up, down) if up.is_empty() => write!(f, "lowering {down}")?,
            (up, down) => write!(f, "raising {up} while lowering {down}")?,
        }
        f.write_str(" moves no reading noticeably")
    }
}

/// Every pair of unknowns of a correlation beyond 0.9, the closest first.
pub(super) fn pairs(posterior: &Posterior) -> Vec<CorrelatedUnknowns> {
    let mut pairs = Vec::new();
    for one in 0..posterior.len() {
        for other in one + 1..posterior.len() {
            if let Some(correlation) = posterior.correlation(one, other)
                && correlation.abs() > CLOSE
            {
                let unknowns = [one, other];
                pairs.push(CorrelatedUnknowns {
                    unknowns,
                    correlation,
                });
            }
        }
    }
    pairs.sort_by(|a, b| b.correlation.abs().total_cmp(&a.correlation.abs()));
    pairs
}

/// The directions of which the readings say nearly nothing, among the unknowns of which each would be
/// told if the others were known.
///
/// They span the eigenvectors of the whitened covariance whose variance is nearly that of the prior, 1.
/// Of a space of several any vectors will do, so the ones with fewest parts are taken, by Gauss and
/// Jordan's elimination. An unknown that no reading answers to is none of them: its `told` says so.
pub(super) fn directions(found: &Found, names: &[&str]) -> Vec<WeakDirection> {
    let jacobian = &found.state.jacobian;
    let answers = |k: &usize| {
        let column = jacobian.column(*k);
        let squares = column.iter().zip(&found.weights).map(|(g, w)| w * g * g);
        squares.sum::<f64>() > ALONE
    };
    let tellable: Vec<usize> = (0..names.len()).filter(answers).collect();
    let count = tellable.len();
    // Of one unknown nothing is to be told apart; and no eigenvector of an empty matrix.
    if count < 2 {
        return Vec::new();
    }
    let covariance = DMatrix::from_fn(count, count, |i, j| {
        found.posterior.whitened(tellable[i], tellable[j])
    });
    let Some(eigen) = SymmetricEigen::try_new(covariance.clone(), f64::EPSILON, 10_000) else {
        return Vec::new();
    };
    let values = eigen.eigenvalues.iter().enumerate();
    let weak: Vec<usize> = values.filter(|(_, v)| **v > WEAK).map(|(k, _)| k).collect();
    let mut basis = DMatrix::from_fn(weak.len(), count, |i, k| eigen.eigenvectors[(k, weak[i])]);
    reduce(&mut basis);
    let mut directions: Vec<WeakDirection> = basis
        .row_iter()
        .filter_map(|row| {
            let row = row.clone_owned() / row.norm();
            let left = (&row * &covariance * row.transpose())[(0, 0)];
            let mut changes: Vec<DirectionPart> = tellable
                .iter()
                .zip(row.iter())
                .map(|(&unknown, &by)| DirectionPart {
                    unknown,
                    name: names.get(unknown).copied().unwrap_or_default().into(),
                    by,
                })
                .collect();
            changes.sort_by(|a, b| b.by.abs().total_cmp(&a.by.abs()));
            let first = changes.first()?.by;
            // One unknown may hide behind a small change of another, which must be told as well.
            let small = |(k, change): (usize, &DirectionPart)| {
                k >= 2 && change.by.abs() < SMALL * first.abs()
            };
            let kept = changes.iter().enumerate().position(small);
            changes.truncate(kept.unwrap_or(changes.len()));
            if first < 0.0 {
                changes.iter_mut().for_each(|change| change.by = -change.by);
            }
            Some(WeakDirection { changes, left })
        })
        .collect();
    directions.sort_by(|a, b| b.left.total_cmp(&a.left));
    directions
}

/// Gauss and Jordan's elimination with full pivoting: each row has a column where all others are 0.
fn reduce(rows: &mut DMatrix<f64>) {
    for done in 0..rows.nrows() {
        let (mut pivot, mut size) = ((done, 0), 0.0);
        for i in done..rows.nrows() {
            for k in 0..rows.ncols() {
                // Of equals the first, to rounding, so that the answer does not hang on it.
                if rows[(i, k)].abs() > size * (1.0 + 1e-9) {
                    (pivot, size) = ((i, k), rows[(i, k)].abs());
                }
            }
        }
        // Rows of an orthonormal basis stay independent.
        if size == 0.0 {
            return;
        }
        rows.swap_rows(done, pivot.0);
        let own = rows.row(done) / rows[(done, pivot.1)];
        rows.row_mut(done).copy_from(&own);
        for i in (0..rows.nrows()).filter(|&i| i != done) {
            let times = rows[(i, pivot.1)];
            let mut row = rows.row_mut(i);
            row -= &own * times;
        }
    }
}
