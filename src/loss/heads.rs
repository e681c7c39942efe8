//! A loss told in velocity pressures of the duct it is referred to.

/// A loss in velocity pressures: K = `fixed` + `friction` * f.
///
/// f is the Darcy friction factor of the duct that the loss is referred to. Most fittings have
/// `friction` 0; smooth bends and conical transitions carry a share that follows f.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Heads {
    /// The share that does not depend on the Reynolds number \[-\].
    pub fixed: f64,
    /// What multiplies the Darcy friction factor \[-\].
    pub friction: f64,
}

impl Heads {
    /// A plain loss coefficient.
    #[must_use]
    pub const fn fixed(k: f64) -> Self {
        Self {
            fixed: k,
            friction: 0.0,
        }
    }

    /// The loss coefficient at the Darcy friction factor `f`.
    #[must_use]
    pub fn at(self, f: f64) -> f64 {
        self.fixed + self.friction * f
    }
}
