//! What can be wrong with a model, each fault with its place.

use super::parameter::Parameter;
use crate::{
    air::AirError,
    fan::FanError,
    loss::LossError,
    place::{Name, Place},
    quantity::VolumeFlow,
};
use std::fmt;

/// Every fault of a model at once; never empty.
#[derive(Debug, Clone, PartialEq)]
pub struct ModelErrors(Vec<ModelError>);

impl ModelErrors {
    /// Passes when there is no fault.
    pub(crate) fn none_of(faults: Vec<ModelError>) -> Result<(), Self> {
        if faults.is_empty() {
            Ok(())
        } else {
            Err(Self(faults))
        }
    }

    /// The faults, in the order of the model.
    pub fn iter(&self) -> std::slice::Iter<'_, ModelError> {
        self.0.iter()
    }
}

impl<'a> IntoIterator for &'a ModelErrors {
    type Item = &'a ModelError;
    type IntoIter = std::slice::Iter<'a, ModelError>;
    fn into_iter(self) -> Self::IntoIter {
        self.iter()
    }
}

/// One fault a line.
impl fmt::Display for ModelErrors {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.0.as_slice() {
            [only] => only.fmt(f),
            faults => {
                write!(f, "{} faults in the model", faults.len())?;
                faults.iter().try_for_each(|fault| write!(f, "\n  {fault}"))
            }
        }
    }
}

impl std::error::Error for ModelErrors {}

/// A fault of the model and where it is.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{place}: {fault}")]
#[non_exhaustive]
pub struct ModelError {
    /// Where.
    pub place: Place,
    /// What.
    pub fault: ModelFault,
}

impl ModelError {
    pub(crate) fn new(place: Place, fault: impl Into<ModelFault>) -> Self {
        Self {
            place,
            fault: fault.into(),
        }
    }
}

/// What is wrong at a place of the model.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum ModelFault {
    /// More of something than a model may have; nothing else was judged.
    #[error("{given} {what}; at most {most} are worked out together")]
    TooMany {
        /// `sections`, `machines`, `runs` of the collector, or `parts` of a section or run.
        what: &'static str,
        /// How many there are.
        given: usize,
        /// How many there may be.
        most: usize,
    },
    /// No section has a hood, so there is nothing that could take air in.
    #[error("no section has a hood; give at least one section a hood")]
    NoHoods,
    /// An empty name, or one of blanks only.
    #[error("a {what} needs a name that is not blank")]
    BlankName {
        /// What carries the name.
        what: &'static str,
    },
    /// Two elements of one kind share a name.
    #[error("more than one {what} is called {name:?}; names must differ", name = name.as_str())]
    Duplicate {
        /// The kind of element.
        what: &'static str,
        /// The name.
        name: Name,
    },
    /// Something names a section or a machine that the model does not have.
    #[error(transparent)]
    Unknown(#[from] UnknownName),
    /// Sections that drain into each other and never reach the collector.
    #[error(
        "drains in a ring that never reaches the collector: {}; give one of them another `into`, or none to end at the collector",
        ring(sections)
    )]
    Ring {
        /// The sections of the ring, in flow order.
        sections: Vec<Name>,
    },
    /// Sections drain into the upstream end of one that starts at a hood, a cap or a leak.
    #[error(
        "starts at a {start}, where nothing can enter, yet these drain into it: {}; put the {start} on a section of its own",
        list(inlets)
    )]
    Occupied {
        /// `hood`, `cap` or `leak`.
        start: &'static str,
        /// The sections that drain into it.
        inlets: Vec<Name>,
    },
    /// Nothing enters a section.
    #[error("nothing enters it: give it a hood, cap it, or let other sections drain into it")]
    NothingEnters,
    /// A section that starts in more ways than one.
    #[error("it starts in more ways than one; keep one of hood, capped and leak")]
    TwoStarts,
    /// A machine that no hood serves.
    #[error("no hood serves it; name it as the machine of a hood, or leave it out")]
    NoHood,
    /// A hood and a machine share a name and do not mean the same.
    #[error(
        "a machine has the same name but other hoods; an open set could not tell them apart; rename one of the two"
    )]
    AmbiguousName,
    /// More than one inlet of a junction says no angle.
    #[error("{} all join straight; give the angle of all but one", list(inlets))]
    TwoStraight {
        /// Those without an angle.
        inlets: Vec<Name>,
    },
    /// An inlet of a fixed-K junction without its coefficient.
    #[error(
        "the junction has fixed coefficients; give the k of this inlet, on its own velocity pressure"
    )]
    NoK,
    /// A shape that the junction's model is not made for.
    #[error(
        "the junction of {} is not one that its model is made for: {error}; choose momentum or automatic",
        list(inlets)
    )]
    Shape {
        /// The inlets.
        inlets: Vec<Name>,
        /// What does not fit.
        error: LossError,
    },
    /// An angle or coefficient of joining where nothing else joins.
    #[error(
        "no other section joins here; leave out the join, or describe an elbow or transition as a part"
    )]
    NoJunction,
    /// Several mains and no size of the inlet adapter.
    #[error(
        "{} enter the collector; give the size of its inlet adapter as the first run before the fan",
        list(mains)
    )]
    AdapterSize {
        /// The mains.
        mains: Vec<Name>,
    },
    /// The size of the fan's outlet is needed and not known.
    #[error("{why}; give the size of the fan's `outlet`")]
    OutletSize {
        /// Why it is needed.
        why: &'static str,
    },
    /// A transition elsewhere than at the start of a run that another run enters inline.
    #[error(
        "a transition stands only first in a run that one other run enters inline; leave it out: a hood tells its own entry, a junction its own change of size"
    )]
    TransitionPlace,
    /// An inlet that loses nothing beside others at a fixed-K junction: the split is undetermined.
    #[error("hood {hood:?} reaches this fixed-K junction without any loss, so that nothing determines how much the other inlets get; give the hood an entry loss", hood = hood.as_str())]
    Lossless {
        /// The hood at the end of the lossless leg.
        hood: Name,
    },
    /// A run that would give pressure instead of taking it.
    #[error("its coefficients, its join's among them, add up to {} velocity pressures: a run must not gain total pressure; raise its k", three_digits(*.k))]
    NegativeLoss {
        /// The net coefficient on the run's velocity pressure.
        k: f64,
    },
    /// A required flow that is not between 0 and 1000 m3/s.
    #[error("the required flow is {flow}; allowed: 0 m3/s to 1000 m3/s")]
    RequiredFlow {
        /// What was given.
        flow: VolumeFlow,
    },
    /// A value out of range.
    #[error(transparent)]
    Loss(#[from] LossError),
    /// Air that cannot be.
    #[error(transparent)]
    Air(#[from] AirError),
    /// A fan curve that cannot be changed so.
    #[error(transparent)]
    Fan(#[from] FanError),
    /// A number that the element does not have.
    #[error("it has no {parameter} that could be set; `Network::settings` lists what can")]
    NoNumber {
        /// Which number was to be set.
        parameter: Parameter,
    },
    /// An input that the document leaves out.
    #[error("{what} is missing; give it, or say `assume = true` to have it taken as {assumed}")]
    Missing {
        /// What is missing.
        what: &'static str,
        /// What it would be taken as.
        assumed: Box<str>,
    },
}

/// A name that the model does not have.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("no {what} is called {name:?}; {}", others(.nearest, *.known))]
#[non_exhaustive]
pub struct UnknownName {
    /// What was looked for: section, hood, machine.
    pub what: &'static str,
    /// The name that was asked for, cut to 64 characters.
    pub name: Box<str>,
    /// How many names there are.
    pub known: usize,
    /// The most alike of them, 32 at most, the nearest first. Empty where a model has so many
    /// unknown names that comparing them all would take minutes.
    pub nearest: Vec<Name>,
}

/// How many names a message lists before it only counts.
const LISTED: usize = 6;

fn list(names: &[Name]) -> String {
    list_of(names, names.len())
}

/// The first few of `all` names.
fn list_of(names: &[Name], all: usize) -> String {
    let listed: Vec<_> = names.iter().take(LISTED).map(quoted).collect();
    match all - listed.len().min(all) {
        0 => listed.join(", "),
        more => format!("{} and {more} more", listed.join(", ")),
    }
}

fn quoted(name: &Name) -> String {
    format!("{:?}", name.as_str())
}

/// `"a" -> "b" -> "a"`.
fn ring(sections: &[Name]) -> String {
    let listed: Vec<_> = sections.iter().take(LISTED).map(quoted).collect();
    let more = match sections.len() - listed.len() {
        0 => String::new(),
        more => format!("{more} more -> "),
    };
    let first = listed.first().cloned().unwrap_or_default();
    format!("{} -> {more}{first}", listed.join(" -> "))
}

fn others(nearest: &[Name], known: usize) -> String {
    match (known, nearest) {
        (0, _) => "there are none".into(),
        (_, []) => format!("{known} others are known"),
        _ => format!("known, nearest first: {}", list_of(nearest, known)),
    }
}

/// A sum of coefficients with the digits that it deserves.
fn three_digits(value: f64) -> f64 {
    format!("{value:.2e}").parse().unwrap_or(value)
}
