//! Why upgrades cannot be ranked, and why a bundle of them is left out.

use super::{MOST, Money};
use crate::{
    place::{Name, Place},
    solve::SolveError,
    system::{ChangeError, ModelErrors, UnknownName},
};

/// Why upgrades cannot be ranked.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum UpgradeError {
    /// More upgrades than every bundle can be solved of.
    #[error("{given} upgrades make too many bundles; give at most {MOST}")]
    TooMany {
        /// How many were given.
        given: usize,
    },
    /// Two upgrades of one name.
    #[error("more than one upgrade is called {name:?}; names must differ", name = .upgrade.as_str())]
    Duplicate {
        /// The name.
        upgrade: Name,
    },
    /// A cost below 0, or no number.
    #[error("upgrade {name:?} costs {cost}; allowed: 0 to 1e12", name = .upgrade.as_str())]
    Cost {
        /// The upgrade.
        upgrade: Name,
        /// Its cost.
        cost: Money,
    },
    /// An upgrade that cannot be made, alone or in any bundle.
    #[error("upgrade {name:?}: {error}", name = .upgrade.as_str())]
    Change {
        /// The upgrade.
        upgrade: Name,
        /// Why.
        error: Box<ChangeError>,
    },
    /// No open set.
    #[error("no open set is given; name the machines that run at once")]
    NoOpenSet,
    /// An open set names what the system does not have.
    #[error(transparent)]
    Unknown(#[from] UnknownName),
    /// Nothing to judge by.
    #[error("no open set holds a machine that requires air; name one, and give its required flow")]
    NothingRequired,
    /// The system as it is has faults.
    #[error(transparent)]
    Model(#[from] ModelErrors),
    /// The system as it is has no answer, so that nothing can be compared with it.
    #[error("the system as it is, {0}")]
    AsItIs(SkipReason),
}

/// Why a bundle is left out.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum SkipReason {
    /// Two of its upgrades change one thing.
    #[error("{first:?} and {second:?} both change one thing ({place}); a bundle holds one of them", first = .first.as_str(), second = .second.as_str())]
    Conflict {
        /// The one that stands first in the list.
        first: Name,
        /// The other.
        second: Name,
        /// Where they meet.
        place: Place,
    },
    /// The changed system cannot be.
    #[error(transparent)]
    Change(#[from] ChangeError),
    /// An open set names what the changed system no longer has.
    #[error(transparent)]
    Unknown(#[from] UnknownName),
    /// The changed system has no answer.
    #[error("with {} open: {error}", list(.open))]
    Unsolved {
        /// What is open.
        open: Vec<Name>,
        /// Why.
        error: SolveError,
    },
}

#[cfg(feature = "serde")]
impl serde::Serialize for SkipReason {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

fn list(names: &[Name]) -> String {
    let names: Vec<_> = names.iter().map(Name::as_str).collect();
    names.join(" + ")
}
