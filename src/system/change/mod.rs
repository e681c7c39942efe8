//! Changes of a system: what an owner may do to it, as plain data, and the changed system.

mod apply;
mod error;
mod target;

pub use error::{ChangeAt, ChangeError};

use super::model::{Collector, Section, System};
use crate::{
    bore::Bore,
    loss::{Elbow, Entry, Filter, FilterState, HoseKind, Separator, Tightness, Transition, Wall},
    place::Name,
    quantity::{Angle, Length},
};

/// One thing that an owner may do to a system.
///
/// A change names a section and a kind of part, never a part by its number: numbers would shift
/// when changes meet. It changes every part of that kind in the section, and is judged against the
/// system as it was before any change, so that changes in one list do not see each other and their
/// order does not matter.
///
/// ```
/// # #[cfg(feature = "serde")]
/// # fn main() -> Result<(), Box<dyn std::error::Error>> {
/// #[derive(serde::Deserialize)]
/// struct Plan { changes: Vec<airsplit::Change> }
/// let plan: Plan = toml::from_str(r#"
///     changes = [
///         { size = { section = "main", to = { round = "8 in" } } },
///         { elbows = { section = "main", to = { gored = { pieces = 7, r_over_d = 2.5 } } } },
///     ]
/// "#)?;
/// assert_eq!(plan.changes.len(), 2);
/// # Ok(())
/// # }
/// # #[cfg(not(feature = "serde"))]
/// # fn main() {}
/// ```
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "snake_case", deny_unknown_fields)
)]
#[non_exhaustive]
pub enum Change {
    /// Another inner size of a section. What is told in multiples of the bore (elbows by r/D, loss
    /// coefficients) keeps its number.
    Size {
        /// The section.
        section: Name,
        /// The new size.
        to: Bore,
    },
    /// Another wall of a section.
    Wall {
        /// The section.
        section: Name,
        /// The new wall.
        to: Wall,
    },
    /// Another tightness of a section's duct and hose.
    Tightness {
        /// The section.
        section: Name,
        /// The new tightness.
        to: Tightness,
    },
    /// Another length of straight duct in a section, all its pieces together; each keeps its share.
    Duct {
        /// The section; it must have straight duct of some length.
        section: Name,
        /// The new length, 0 m or more.
        to: Length,
    },
    /// Another length of hose in a section, all its pieces together; each keeps its share. Bends
    /// stay.
    Hose {
        /// The section; it must have hose of some length.
        section: Name,
        /// The new length, 0 m or more.
        to: Length,
    },
    /// Another kind of hose for all hose of a section.
    HoseKind {
        /// The section; it must have hose.
        section: Name,
        /// The new kind.
        to: HoseKind,
    },
    /// Another slack of the wire hose of a section: pulled taut, cut to fit. Its length as
    /// it hangs stays.
    Slack {
        /// The section; it must have wire hose.
        section: Name,
        /// Share of its full length that the hose loses to slack: 0 (stretched) to 0.95.
        compression: f64,
    },
    /// Rigid duct of the section's wall in place of all its hose, by the same length.
    HoseToDuct {
        /// The section; it must have hose.
        section: Name,
        /// The elbow in place of each bend of the hose, by the bend's angle; needed where a hose
        /// is bent.
        #[cfg_attr(
            feature = "serde",
            serde(default, skip_serializing_if = "Option::is_none")
        )]
        elbow: Option<ElbowKind>,
    },
    /// Elbows of another kind in place of all elbows of a section; each keeps its angle.
    Elbows {
        /// The section; it must have elbows.
        section: Name,
        /// The new kind.
        to: ElbowKind,
    },
    /// Another entry into a section from the one inline upstream of it: a cone in place of a step.
    Transition {
        /// The section.
        section: Name,
        /// The new transition.
        to: Transition,
    },
    /// Another opening of the gates of a section.
    Gate {
        /// The section; it must have a gate.
        section: Name,
        /// Share of full travel: 0 (shut) to 1 (wide open).
        opening: f64,
    },
    /// Another angle at which a section joins the one downstream.
    JoinAngle {
        /// The section.
        section: Name,
        /// The angle between the axes, 0 to 180 degrees; small is swept with the flow.
        to: Angle,
    },
    /// Another loss coefficient of a section's join, for a fixed-K junction.
    JoinK {
        /// The section.
        section: Name,
        /// The coefficient on the section's own velocity pressure.
        to: f64,
    },
    /// Another entry loss of a hood: a better hood.
    Entry {
        /// The hood.
        hood: Name,
        /// The new entry.
        to: Entry,
    },
    /// Another filter in place of every filter of a section or, without one, of the collector.
    Filter {
        /// The section; `None`: the collector.
        #[cfg_attr(
            feature = "serde",
            serde(default, skip_serializing_if = "Option::is_none")
        )]
        section: Option<Name>,
        /// The new filter.
        to: Filter,
    },
    /// Another state of every filter that knows two states, in a section or, without one, in the
    /// collector: cleaned, or due for cleaning.
    FilterState {
        /// The section; `None`: the collector.
        #[cfg_attr(
            feature = "serde",
            serde(default, skip_serializing_if = "Option::is_none")
        )]
        section: Option<Name>,
        /// The state that holds then.
        to: FilterState,
    },
    /// Another separator in place of every separator of a section or, without one, of the
    /// collector.
    Separator {
        /// The section; `None`: the collector.
        #[cfg_attr(
            feature = "serde",
            serde(default, skip_serializing_if = "Option::is_none")
        )]
        section: Option<Name>,
        /// The new separator.
        to: Separator,
    },
    /// The fan at another speed, by the fan laws of [`FanCurve`](crate::FanCurve). What the motor
    /// makes of it is not asked: shaft power goes with the cube.
    FanSpeed {
        /// New speed over old, above 0.
        ratio: f64,
    },
    /// Another collector: fan and all that stands before and after it.
    Collector(Box<Collector>),
    /// One more section.
    AddSection(Box<Section>),
    /// A section in place of the one of the same name.
    ReplaceSection(Box<Section>),
    /// One section less. What drains into it must be removed or replaced as well.
    RemoveSection {
        /// The section.
        section: Name,
    },
}

/// What an elbow is made like, its angle left open: an [`Elbow`] of another kind keeps the angle
/// of the one that it replaces.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "snake_case", deny_unknown_fields)
)]
#[non_exhaustive]
pub enum ElbowKind {
    /// By the loss coefficient of each whole elbow, whatever its angle: 0 to 1e6.
    K(f64),
    /// [`Elbow::Gored`].
    Gored {
        /// How many pieces, 3 or more.
        pieces: u8,
        /// Radius of the centre line over the diameter, 0.5 to 100.
        r_over_d: f64,
    },
    /// [`Elbow::Stamped`].
    Stamped {
        /// Radius of the centre line over the diameter, 0.5 to 100.
        r_over_d: f64,
    },
    /// [`Elbow::Smooth`].
    Smooth {
        /// Radius of the centre line over the diameter, 0.5 to 100.
        r_over_d: f64,
    },
    /// [`Elbow::Mitre`].
    Mitre,
}

impl ElbowKind {
    /// The elbow of this kind that turns the air by `angle`.
    #[must_use]
    pub const fn turning(self, angle: Angle) -> Elbow {
        match self {
            Self::K(k) => Elbow::K(k),
            Self::Gored { pieces, r_over_d } => Elbow::Gored {
                pieces,
                r_over_d,
                angle,
            },
            Self::Stamped { r_over_d } => Elbow::Stamped { r_over_d, angle },
            Self::Smooth { r_over_d } => Elbow::Smooth { r_over_d, angle },
            Self::Mitre => Elbow::Mitre { angle },
        }
    }
}

impl System {
    /// The system with these changes; it stays as it is itself.
    ///
    /// The order of the changes does not matter. Without any the answer is an equal system.
    ///
    /// ```
    /// # #[cfg(feature = "serde")]
    /// # fn main() -> Result<(), Box<dyn std::error::Error>> {
    /// use airsplit::*;
    /// let study: Study = toml::from_str(&std::fs::read_to_string("examples/chair_shop.toml")?)?;
    /// let shop = study.system;
    /// let wider = Change::Size { section: "main west".into(), to: Bore::Round("180 mm".parse()?) };
    /// let changed = shop.with(&[wider])?;
    /// let flow = |system: &System| -> Result<f64, Error> {
    ///     let network = Network::new(system)?;
    ///     let open = network.open(["bandsaw", "mortiser"])?;
    ///     Ok(network.operating_point(&open)?.flow.as_m3_h())
    /// };
    /// assert!(flow(&changed)? > flow(&shop)?);
    /// # Ok(())
    /// # }
    /// # #[cfg(not(feature = "serde"))]
    /// # fn main() {}
    /// ```
    ///
    /// # Errors
    ///
    /// [`ChangeError`]: a change of what is not there, two changes of one thing, a fan that cannot
    /// turn so, or every fault of the model that the changes leave.
    pub fn with(&self, changes: &[Change]) -> Result<Self, ChangeError> {
        let changed = self.changed(changes)?;
        changed.check()?;
        Ok(changed)
    }
}
