//! How good an answer is, each figure with the element where it is worst.

use crate::place::Place;

/// How an answer stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "snake_case")
)]
#[non_exhaustive]
pub enum Status {
    /// The fan and the system meet within the published curve.
    Converged,
    /// They meet beyond the last published point, where the curve was continued straight: take
    /// the figures for a hint only.
    BeyondCurve,
    /// They meet before the first published point, where the curve was continued straight.
    BelowCurve,
    /// The total flow was imposed; no fan was asked.
    FlowImposed,
}

/// Residuals of an answer, verified on its own flows in the last pass.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct Quality {
    /// Passes over the tree: Newton steps and the verifying pass.
    pub passes: u32,
    /// Runs of duct that carry air, each with a friction factor: what one pass evaluates.
    pub runs: u32,
    /// Difference between the loss of an open path and the pressure that drives it, relative to
    /// the fan's pressure at rest (to that pressure itself where the flow is imposed).
    pub pressure: Residual,
    /// Difference between what enters and what leaves a node, relative to the total flow.
    pub flow: Residual,
    /// Step that Newton's method would still take, relative to the leg's flow (or to 1e-9 of the
    /// total flow where that is more); a bound of it where the last pass only verified, with the leg
    /// whose last step was largest.
    pub step: Residual,
    /// What rounding alone may leave of `pressure`, a share like it: 4 epsilon for each leg of the longest path.
    pub rounding: f64,
}

/// A residual and where it is worst.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct Residual {
    /// Its size \[-\].
    pub value: f64,
    /// Where it is worst.
    pub at: Place,
}
