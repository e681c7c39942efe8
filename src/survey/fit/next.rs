//! Which further reading would tell most.

use super::{Posterior, setup::above_zero};

/// A reading that could be taken.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Candidate {
    /// Derivatives of what it would read with regard to the unknowns, at their estimates.
    pub gradient: Vec<f64>,
    /// Its standard uncertainty, above 0.
    pub standard: f64,
}

/// What a reading would do to the numbers that are wanted.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub(crate) struct Next {
    /// Its place among the candidates.
    pub candidate: usize,
    /// Standard uncertainty that each wanted number would have after it, in their order.
    pub standards: Vec<f64>,
    /// Share of the variance that it would take away, 0 to 1: the mean over the wanted numbers.
    pub reduction: f64,
}

/// Why candidates cannot be ranked.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum NextError {
    /// A gradient that does not fit the unknowns.
    #[error(
        "{what} {}: its gradient must be {unknowns} finite numbers, one for each unknown", .index + 1
    )]
    Gradient {
        /// "candidate" or "wanted number".
        what: &'static str,
        /// Its place.
        index: usize,
        /// How many unknowns there are.
        unknowns: usize,
    },
    /// A standard uncertainty that cannot be.
    #[error("candidate {}: its standard uncertainty is {value} in its own unit; it must be above 0, and finite", .index + 1)]
    Standard {
        /// Its place.
        index: usize,
        /// What was given, in the unit of the candidate.
        value: f64,
    },
    /// Nothing is wanted.
    #[error("nothing to rank for: give the gradient of a wanted number at least")]
    NothingWanted,
}

impl Posterior {
    /// What each candidate would do to the variance of the wanted numbers, given by their gradients;
    /// the best first, of equals in the order given.
    ///
    /// A reading of gradient g and standard uncertainty s lowers the variance of a number of gradient
    /// h by (h C g')^2 / (s^2 + g C g'), whatever it reads (Sherman and Morrison's formula). It is the
    /// step of a sequential design for the variance of given numbers, c- or L-optimum, locally at
    /// the estimates: A. C. Atkinson, A. N. Donev, R. D. Tobias, *Optimum Experimental Designs, with
    /// SAS*, 2007 (from memory). For several readings ask again of
    /// [`with`](Self::with) the best.
    ///
    /// # Errors
    ///
    /// When a gradient does not fit, an uncertainty is not above 0, or nothing is wanted.
    pub(crate) fn rank_next(
        &self,
        candidates: &[Candidate],
        wanted: &[Vec<f64>],
    ) -> Result<Vec<Next>, NextError> {
        if wanted.is_empty() {
            return Err(NextError::NothingWanted);
        }
        let spread = |what, index, gradient: &[f64]| {
            let unknowns = self.len();
            self.spread_of(gradient).ok_or(NextError::Gradient {
                what,
                index,
                unknowns,
            })
        };
        let wanted = wanted.iter().enumerate();
        let wanted: Vec<_> = wanted
            .map(|(index, gradient)| spread("wanted number", index, gradient))
            .collect::<Result<_, _>>()?;
        let mut ranked = Vec::with_capacity(candidates.len());
        for (index, candidate) in candidates.iter().enumerate() {
            let value = candidate.standard;
            if !above_zero(value) {
                return Err(NextError::Standard { index, value });
            }
            let read = spread("candidate", index, &candidate.gradient)?;
            // Share of what the reading tells that its own error does not blur.
            let size = read.norm();
            let clear = size.hypot(value);
            let (mut standards, mut reduction) = (Vec::new(), 0.0);
            for number in &wanted {
                // The number's part along the reading shrinks, the rest stays: no difference of
                // two near numbers.
                let before = number.norm_squared();
                let along = if size > 0.0 {
                    number.dot(&read) / size
                } else {
                    0.0
                };
                let rest = (before - along * along).max(0.0);
                let after = rest + (along * value / clear).powi(2);
                standards.push(after.sqrt());
                if before > 0.0 {
                    reduction += (along * size / clear).powi(2) / before;
                }
            }
            ranked.push(Next {
                candidate: index,
                standards,
                reduction: (reduction / wanted.len() as f64).clamp(0.0, 1.0),
            });
        }
        ranked.sort_by(|a, b| b.reduction.total_cmp(&a.reduction));
        Ok(ranked)
    }
}
