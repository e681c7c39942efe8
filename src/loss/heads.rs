//! A loss told in velocity pressures of the duct it is referred to.

use super::{LossError, Note};

/// The largest loss coefficient: above it a unit was mistaken; a closed duct is said to be closed.
pub(crate) const MAX_K: f64 = 1e6;

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

/// The loss of a fitting, and what its law says about its own range.
#[derive(Debug, Clone, PartialEq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct Rated {
    /// The loss. Both shares are finite and not negative.
    pub heads: Heads,
    /// One note for each value outside the range in which the source of the law tested it.
    pub notes: Vec<Note>,
}

impl Rated {
    pub(super) fn new(heads: Heads, notes: impl IntoIterator<Item = Option<Note>>) -> Self {
        let notes = notes.into_iter().flatten().collect();
        Self { heads, notes }
    }

    /// A loss coefficient that the user brings, 0 to 1e6: a fitting that could give energy to
    /// the air does not exist.
    pub(super) fn given(k: f64) -> Result<Self, LossError> {
        let k = LossError::within("loss coefficient", k, "", 0.0, MAX_K)?;
        Ok(Self::new(Heads::fixed(k), []))
    }
}
