//! Nonlinear least squares with priors: unknowns of a model made to agree with readings.
//!
//! It knows no ducts. Each unknown has a start, which is also what was believed before any reading,
//! with a standard uncertainty; each reading has a value and a standard uncertainty; the caller
//! predicts readings from unknowns. Wanted is the most probable set of unknowns, the least of
//!
//! sum ((f_i(theta) - y_i) / s_i)^2 + sum ((u_k - u0_k) / sigma_k)^2,
//!
//! u being the unknown itself, or its logarithm where it is [scaled](crate::Spread::Scaled). All
//! inside runs in z = (u - u0) / sigma, whose prior is standard normal: so every matrix to invert is
//! the identity plus something positive, however many unknowns there are and however few readings.
//!
//! A. Tarantola, *Inverse Problem Theory and Methods for Model Parameter Estimation*, SIAM 2005,
//! ch. 3 (from memory): the estimate, its covariance (J'J + I)^-1 with J = df/dz over s, and
//! I - (J'J + I)^-1, whose diagonal tells how much of each unknown the readings told.

mod error;
mod identify;
#[cfg(test)]
mod laws;
mod next;
mod outlier;
mod posterior;
#[cfg(test)]
mod problems;
#[cfg(test)]
mod referee;
mod result;
mod robust;
mod scatter;
mod search;
mod setup;
#[cfg(test)]
mod simulated;

pub use error::FitError;
pub use identify::{CorrelatedUnknowns, DirectionPart, WeakDirection};
pub use next::NextError;
pub(crate) use next::{Candidate, Next};
pub(crate) use posterior::Posterior;
#[cfg(test)]
pub(crate) use result::Fit;
pub use result::{Estimate, FittedReading, OutlierTreatment};
pub(crate) use result::{Fitting, fit};
pub use robust::Weighting;
pub use search::FitEnd;
pub(crate) use search::Predict;
pub(crate) use setup::{Reading, Unknown};
