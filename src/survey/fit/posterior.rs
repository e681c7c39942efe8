//! What is known of the unknowns after the readings.

use super::{
    search::{State, with_priors},
    setup::Setup,
};
use nalgebra::{DMatrix, DVector};

/// How well the unknowns are known, and go together, after the readings.
///
/// To first order about the estimates. It is kept as a root B of the covariance in whitened
/// coordinates, B B' = (J'W J + I)^-1, from a QR factorisation of J over I, so that variances are sums
/// of squares and no digits are lost to J'J (G. H. Golub, C. F. Van Loan, *Matrix Computations*,
/// ch. 5, from memory).
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Posterior {
    root: DMatrix<f64>,
    /// d theta / d z.
    slopes: Vec<f64>,
}

impl Posterior {
    pub(super) fn new(setup: &Setup<'_>, state: &State, weights: &[f64]) -> Self {
        let roots: Vec<f64> = weights.iter().map(|w| w.sqrt()).collect();
        let unknowns = setup.unknowns.iter().zip(&state.theta);
        Self {
            root: root_of(with_priors(&state.jacobian, &roots)),
            slopes: unknowns.map(|(at, &theta)| at.slope(theta)).collect(),
        }
    }

    /// How many unknowns there are.
    #[must_use]
    pub(crate) fn len(&self) -> usize {
        self.slopes.len()
    }

    /// Variance of a number whose derivatives with regard to the unknowns are these: g C g'.
    ///
    /// None if there are not as many of them as unknowns, or one is not finite.
    #[must_use]
    pub(crate) fn variance_of(&self, gradient: &[f64]) -> Option<f64> {
        Some(self.spread_of(gradient)?.norm_squared())
    }

    /// Covariance of two such numbers.
    #[must_use]
    #[cfg(test)]
    pub(crate) fn covariance_of(&self, one: &[f64], other: &[f64]) -> Option<f64> {
        Some(self.spread_of(one)?.dot(&self.spread_of(other)?))
    }

    /// Covariance of two unknowns, in the product of their units.
    #[must_use]
    pub(crate) fn covariance(&self, one: usize, other: usize) -> Option<f64> {
        let slopes = self.slopes.get(one)? * self.slopes.get(other)?;
        Some(slopes * self.whitened(one, other))
    }

    /// Correlation of two unknowns, -1 to 1.
    #[must_use]
    pub(crate) fn correlation(&self, one: usize, other: usize) -> Option<f64> {
        if one >= self.len() || other >= self.len() {
            return None;
        }
        let own = |k| self.whitened(k, k).sqrt();
        let correlation = self.whitened(one, other) / (own(one) * own(other));
        Some(if one == other {
            1.0
        } else {
            correlation.clamp(-1.0, 1.0)
        })
    }

    /// As it will be with one more reading, of which these are the derivatives and the standard
    /// uncertainty, whatever it will read.
    ///
    /// None if the gradient does not fit, or the uncertainty is not above 0.
    #[must_use]
    #[cfg(test)]
    pub(crate) fn with(&self, gradient: &[f64], standard: f64) -> Option<Self> {
        if !super::setup::above_zero(standard) {
            return None;
        }
        // In the coordinates of the root, where the covariance is the identity.
        let row = self.spread_of(gradient)? / standard;
        let more = root_of(with_priors(
            &DMatrix::from_row_slice(1, row.len(), row.as_slice()),
            &[1.0],
        ));
        Some(Self {
            root: &self.root * more,
            slopes: self.slopes.clone(),
        })
    }

    /// B' g in whitened coordinates: its square is the variance.
    pub(super) fn spread_of(&self, gradient: &[f64]) -> Option<DVector<f64>> {
        if gradient.len() != self.len() || !gradient.iter().all(|g| g.is_finite()) {
            return None;
        }
        let whitened = gradient
            .iter()
            .zip(&self.slopes)
            .map(|(g, slope)| g * slope);
        Some(
            self.root
                .tr_mul(&DVector::from_iterator(self.len(), whitened)),
        )
    }

    /// Covariance in whitened coordinates.
    pub(super) fn whitened(&self, one: usize, other: usize) -> f64 {
        self.root.row(one).dot(&self.root.row(other))
    }

    /// J B: its rows' products are the covariances of the readings' predictions, over s.
    pub(super) fn predicted(&self, jacobian: &DMatrix<f64>) -> DMatrix<f64> {
        jacobian * &self.root
    }

    /// How far the least misfit is from here if the readings are straight in the unknowns, in
    /// standard uncertainties of the estimates.
    pub(super) fn offset(&self, state: &State, weights: &[f64]) -> f64 {
        self.downhill(state, weights).norm()
    }

    /// The step to it, Gauss and Newton's.
    pub(super) fn step(&self, state: &State, weights: &[f64]) -> DVector<f64> {
        &self.root * self.downhill(state, weights)
    }

    /// That step in units of the root.
    fn downhill(&self, state: &State, weights: &[f64]) -> DVector<f64> {
        let residuals = state.residuals.iter().zip(weights).map(|(r, w)| w * r);
        let residuals = DVector::from_iterator(weights.len(), residuals);
        // (J B)' first: no longer than 1, whatever J is.
        -self.predicted(&state.jacobian).tr_mul(&residuals) - self.root.tr_mul(&state.z)
    }
}

/// R^-1 of a matrix of full rank, which one is that ends in the identity.
fn root_of(matrix: DMatrix<f64>) -> DMatrix<f64> {
    let n = matrix.ncols();
    let r = matrix.qr().r();
    let identity = DMatrix::identity(n, n);
    // No diagonal of R is 0 over the identity; were one, no number must come of it.
    r.solve_upper_triangular(&identity)
        .unwrap_or_else(|| DMatrix::from_element(n, n, f64::NAN))
}
