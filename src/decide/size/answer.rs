//! The sizes that were found, and how far they are proved.

use crate::{
    decide::Money,
    place::Name,
    quantity::{Length, Velocity, VolumeFlow},
    solve::Status,
};

/// The sizes that were found, what each open set makes of them, and the proof.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct SizingAnswer {
    /// What the sizes are; read it first.
    pub verdict: SizingVerdict,
    /// One for each section to be sized, in the order of the question.
    pub sizes: Vec<SectionSize>,
    /// What they cost together.
    pub cost: Money,
    /// One for each open set, in their order.
    pub sets: Vec<SetReport>,
    /// How far the verdict is proved.
    pub proof: Proof,
}

/// What an answer's sizes are.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize),
    serde(rename_all = "snake_case")
)]
#[non_exhaustive]
pub enum SizingVerdict {
    /// They meet every demand, and no cheaper choice does: proved.
    Cheapest,
    /// They meet every demand; a cheaper choice may exist, but none that saves more than the gap.
    Found,
    /// No choice of this stock meets every demand: proved. The sizes are those found that come
    /// nearest.
    Impossible,
    /// None that meets every demand was found, and none was proved not to exist. The sizes are those
    /// found that come nearest.
    NotFound,
}

/// The size of a section.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct SectionSize {
    /// The section.
    pub section: Name,
    /// Its inner diameter.
    pub diameter: Length,
    /// What it costs in that size; see [`StockSize::cost_of`](super::StockSize::cost_of).
    pub cost: Money,
}

/// What an open set makes of the sizes.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct SetReport {
    /// The machines and hoods that are open.
    pub open: Vec<Name>,
    /// How the answer stands; `None` without one.
    pub status: Option<Status>,
    /// The demand with the least to spare, or that is missed by most; `None` where the set asks for
    /// nothing.
    pub tightest: Option<Demand>,
    /// Every demand that is missed, by the largest share first.
    pub missed: Vec<Demand>,
    /// Told only where demands are missed: whether some sizes would meet this set if it were the
    /// only one. `None` where that was not settled.
    pub alone: Option<bool>,
}

/// Something that is asked of an open set, and what was found.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize),
    serde(rename_all = "snake_case")
)]
#[non_exhaustive]
pub enum Demand {
    /// Flow of a machine.
    Machine {
        /// The machine.
        machine: Name,
        /// What it needs.
        needed: VolumeFlow,
        /// What it gets.
        found: VolumeFlow,
    },
    /// Flow of a hood by itself.
    Hood {
        /// The hood.
        hood: Name,
        /// What it needs.
        needed: VolumeFlow,
        /// What it gets.
        found: VolumeFlow,
    },
    /// Velocity in a section that an open hood lies upstream of.
    Velocity {
        /// The section.
        section: Name,
        /// What it needs.
        needed: Velocity,
        /// What it has.
        found: Velocity,
    },
    /// Total flow within the published points of the fan's curve: an answer outside them is a hint
    /// only, and nothing is called met by it.
    FanCurve {
        /// The nearest published point.
        end: VolumeFlow,
        /// Where the fan settles.
        found: VolumeFlow,
    },
    /// An answer at all.
    Answer {
        /// Why there is none.
        why: String,
    },
}

impl Demand {
    /// What was found over what is needed \[-\]: 1 is just met, less is missed.
    ///
    /// Outside the fan's curve the ratio of its end and the flow, whichever way it is below 1; 0
    /// where there is no answer.
    #[must_use]
    pub fn share(&self) -> f64 {
        match self {
            Self::Machine { needed, found, .. } | Self::Hood { needed, found, .. } => {
                *found / *needed
            }
            Self::Velocity { needed, found, .. } => *found / *needed,
            Self::FanCurve { end, found } => (*end / *found).min(*found / *end),
            Self::Answer { .. } => 0.0,
        }
    }
}

/// How far a verdict is proved, and by what work.
///
/// Choices are taken in the order of their cost; one is passed over without a balance only by what
/// is counted in [`cuts`](Self::cuts), each proved where it is described. So a choice of sizes that
/// meets every demand and is the first to do so is the cheapest.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct Proof {
    /// Whether the verdict is proved: [`SizingVerdict::Cheapest`] or [`SizingVerdict::Impossible`].
    pub exact: bool,
    /// Count of choices of sizes there are, each section's possible ones multiplied.
    pub choices: f64,
    /// How many whole choices had to be put to the solver by the exact search.
    pub tried: u64,
    /// How many balances the exact search solved.
    pub solves: u64,
    /// How many balances went into finding sizes without proof, or the nearest ones.
    pub search_solves: u64,
    /// What passed over choices without a balance.
    pub cuts: Cuts,
    /// Choices that were given up because the solver found no balance in a set: 0, or the verdict is
    /// not proved.
    pub unanswered: u64,
    /// No choice that meets every demand costs less; `None` where none exists.
    pub lower_bound: Option<Money>,
    /// What at most could be saved against the cost found: the cost less the lower bound. `None`
    /// where the demands are not met.
    pub gap: Option<Money>,
}

/// How often each rule passed over choices: one count for every choice of some sections that it
/// refused, whatever the rest would be.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct Cuts {
    /// It would narrow toward the fan: not a bound but a demand.
    pub narrowing: u64,
    /// The model refuses it, as [`Network::new`](crate::Network::new) says.
    pub model: u64,
    /// A section would need a flow beyond the last published point of the fan's curve.
    ///
    /// Holds for every junction model: flows only add toward the fan, so none is more than its.
    pub curve_end: u64,
    /// The sections alone would take more power than the fan gives the air at any flow.
    ///
    /// Used only where every junction is of momentum or of fixed K; the proof stands in the page of
    /// [`Sizing::cheapest`](super::Sizing::cheapest).
    pub air_power: u64,
}
