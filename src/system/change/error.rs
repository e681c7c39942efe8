//! Why a change cannot be made.

use crate::{
    fan::FanError,
    place::Place,
    system::{ModelErrors, UnknownName},
};
use std::fmt;

/// Why changes cannot be made.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum ChangeError {
    /// A change names a section or a hood that the system does not have.
    #[error("change {}: {error}", .index + 1)]
    Unknown {
        /// The change, counted from 0.
        index: usize,
        /// The name, and those that exist.
        error: UnknownName,
    },
    /// The place has nothing of the kind that a change is for.
    #[error("{at}: there is no {missing} there; leave the change out, or name another place")]
    Nothing {
        /// The change.
        at: ChangeAt,
        /// What it would need.
        missing: &'static str,
    },
    /// Elbows told by their coefficient alone do not say by which angle the new ones must turn.
    #[error(
        "{at}: an elbow there is told by its k alone and says no angle; give the new ones by k as well"
    )]
    NoAngle {
        /// The change.
        at: ChangeAt,
    },
    /// A bent hose is to become rigid, and nothing says what elbow its bend becomes.
    #[error("{at}: a hose there is bent; say with `elbow` what its bend becomes")]
    NoElbow {
        /// The change.
        at: ChangeAt,
    },
    /// The fan cannot turn so.
    #[error("{at}: {error}")]
    Fan {
        /// The change.
        at: ChangeAt,
        /// Why.
        error: FanError,
    },
    /// Two changes of one thing.
    #[error("{first} and {second} meet: which of them holds? Leave one out")]
    Conflict {
        /// The one that stands first.
        first: Box<ChangeAt>,
        /// The other.
        second: Box<ChangeAt>,
    },
    /// The changed system has faults.
    #[error("the changed system: {0}")]
    Model(#[from] ModelErrors),
}

/// A change of a list, and what it changes.
#[derive(Debug, Clone, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct ChangeAt {
    /// Its place in the list, counted from 0; `Display` counts from 1, as people do.
    pub index: usize,
    /// What it changes: `size`, `length of hose`, ...
    pub what: &'static str,
    /// Where.
    pub place: Place,
}

impl fmt::Display for ChangeAt {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "change {} ({} of {})",
            self.index + 1,
            self.what,
            self.place
        )
    }
}
