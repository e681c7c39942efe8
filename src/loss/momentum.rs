//! The balance of axial momentum at a junction; meaning and proof in momentum.md.

use super::{
    coefficients::head_per_q2,
    junction::{Inlet, cosine},
};

/// A momentum junction in quadratic form: no flow stands below a fraction bar.
///
/// With the static suction S that the inlets share, the outlet's total suction is
/// h = S + kc Q^2 - sum c q^2, and an inlet's own total suction is S - v q^2.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Momentum {
    /// kc = rho / (2 `A_c`^2) \[Pa s2/m6\].
    pub(crate) outlet_head: f64,
    /// c = rho cos(alpha) / (`A_c` A) of each inlet \[Pa s2/m6\].
    pub(crate) momentum: Vec<f64>,
    /// v = rho / (2 A^2) of each inlet \[Pa s2/m6\].
    pub(crate) own_head: Vec<f64>,
}

impl Momentum {
    pub(super) fn new(density: f64, outlet_m2: f64, inlets: &[Inlet]) -> Self {
        let momentum =
            |inlet: &Inlet| density * cosine(inlet.angle) / (outlet_m2 * inlet.area.as_m2());
        let own_head = |inlet: &Inlet| head_per_q2(density, inlet.area.as_m2());
        Self {
            outlet_head: head_per_q2(density, outlet_m2),
            momentum: inlets.iter().map(momentum).collect(),
            own_head: inlets.iter().map(own_head).collect(),
        }
    }

    /// What all inlets bring together, of these flows: asked once for all of their losses.
    pub(super) fn brought(&self, flows: &[f64]) -> Brought {
        let momentum = self.momentum.iter().zip(flows).map(|(c, q)| c * q * q);
        Brought {
            total: flows.iter().sum(),
            momentum: momentum.sum(),
        }
    }

    /// Loss of total pressure of inlet `i` \[Pa\].
    pub(super) fn loss(&self, i: usize, flows: &[f64], all: Brought) -> f64 {
        let own = self
            .own_head
            .get(i)
            .zip(flows.get(i))
            .map_or(0.0, |(v, q)| v * q * q);
        self.outlet_head * all.total * all.total - all.momentum + own
    }

    /// Slope of the loss of inlet `i` against the flow of inlet `j` \[Pa s/m3\].
    pub(super) fn slope(&self, i: usize, j: usize, flows: &[f64], all: Brought) -> f64 {
        let times = |k: &[f64]| k.get(j).zip(flows.get(j)).map_or(0.0, |(k, q)| 2.0 * k * q);
        let own = if i == j { times(&self.own_head) } else { 0.0 };
        2.0 * self.outlet_head * all.total - times(&self.momentum) + own
    }
}

/// Sums over the inlets of a momentum junction.
#[derive(Debug, Clone, Copy)]
pub(super) struct Brought {
    /// \[m3/s\]
    total: f64,
    /// Sum of c q^2 \[Pa\].
    momentum: f64,
}
