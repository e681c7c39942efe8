//! Operating point and balanced flow split of a dust-collection duct tree.
//!
//! A fan, its separator and filter, a tree of duct and a set of open hoods: where does the fan
//! settle, how does the air split, is that enough, and where does the pressure go?
//!
//! ```
//! use airsplit::*;
//! # fn main() -> Result<(), Error> {
//! let points = [("0 cfm", "12 in wg"), ("600 cfm", "11 in wg"), ("1500 cfm", "2 in wg")];
//! let points = points
//!     .into_iter()
//!     .map(|(flow, pressure)| Ok((flow.parse()?, pressure.parse()?)))
//!     .collect::<Result<Vec<_>, QuantityError>>()?;
//! let fan = FanCurve::new(points, Basis::Static, Fitted::ALL, Density::STANDARD_AIR)?;
//! let round = |text: &str| text.parse().map(Bore::Round);
//! let system = System::new(Air::standard(), Collector::new(fan))
//!     .with_section(Section::new("main", round("6 in")?, Wall::Galvanised).with_part(Part::Duct("14 ft".parse()?)))
//!     .with_section(
//!         Section::new("planer drop", round("5 in")?, Wall::Galvanised)
//!             .draining_into("main")
//!             .with_part(Part::Duct("10 ft".parse()?))
//!             .with_hood(Hood::new("planer port", Entry::Flanged)),
//!     )
//!     .with_section(
//!         Section::new("saw drop", round("4 in")?, Wall::Galvanised)
//!             .draining_into("main")
//!             .joining_at("45 deg".parse()?)
//!             .with_part(Part::Duct("16 ft".parse()?))
//!             .with_hood(Hood::new("saw cabinet", Entry::Plain)),
//!     );
//! let network = Network::new(&system)?;
//! let point = network.operating_point(&network.open_all())?;
//! assert_eq!(point.status, Status::Converged);
//! println!("{:.0} cfm at the planer", point.hood("planer port")?.flow.as_cfm());
//! # Ok(())
//! # }
//! ```
//!
//! # From question to answer
//!
//! | step | type |
//! |---|---|
//! | write the shop down | [`System`] in code, or a document read as [`Study`] |
//! | check and compile it | [`Network::new`] |
//! | say which hoods are open | [`Network::open`] |
//! | find where the fan settles | [`Network::operating_point`]; [`Network::solve`] without allocating |
//! | ask many open sets at once | [`Network::sweep`] |
//! | or impose the flow | [`Network::point_at_flow`] |
//! | read the answer | [`OperatingPoint`]: [`Status`] first, then machines, hoods, sections |
//!
//! # Conventions
//!
//! - Flow is positive toward the fan. Pressures are gauge, the room at 0: a suction is negative.
//! - All losses are of total pressure. Static pressure, what a tap in the wall reads, is total
//!   pressure minus the velocity pressure of the mean velocity.
//! - Air has one density throughout: [`Air`], at the shop's altitude, temperature and humidity.
//!   That is accepted below about 5 kPa (20 in wg) of suction.
//! - The path ends in the open air and charges the exit velocity pressure exactly once.
//! - Inside, everything is `f64` in SI units; quantities are newtypes at the boundary only.
//!
//! # What it does not do
//!
//! Compressible flow; supply systems, which divide flow; transients; the paths of particles. A fan
//! or booster inside a branch. Whether a system is safe or lawful: wood dust burns, explodes and
//! harms lungs, and a result for some open gates is an analysis, not a design basis. Duct
//! construction, bonding, explosion protection and make-up air are for local codes and licensed
//! practice.
//!
//! # Features
//!
//! - `serde` (default): documents and results as serde data.
//! - `rayon`: sweeps over open sets on every core, [`Sweep`]'s `par_` methods.
#![forbid(unsafe_code)]

mod air;
mod bore;
mod curve1d;
mod decide;
mod error;
mod fan;
mod loss;
mod place;
mod quantity;
mod root;
mod solve;
mod study;
mod system;

pub use air::{Air, AirError, AirProperties, Barometer};
pub use bore::Bore;
pub use decide::{
    Answer, Case, CaseAnswers, CompareError, Comparison, FanDrive, Objective, compare,
};
pub use decide::{
    Cuts, Demand, Proof, SectionSize, SectionVelocity, SetReport, Sizing, SizingAnswer,
    SizingError, StockSize, Verdict, balanced_flow, flow_for_width,
};
pub use decide::{Money, Use, UseError, UseSets, UseWeight, WeightedSet};
pub use error::Error;
pub use fan::{
    Axes, AxisScale, Basis, Combination, CombinationNote, CurveTurn, DigitiseError, FanCurve,
    FanError, FanOfPair, FanPoint, FanPower, Fitted, Motor, PickedPoint, PowerCurve, PowerPoint,
    Reference, ReferenceMiss, Smoothed, SmoothingReport, TurnKind,
};
pub use loss::{
    Cloth, ClothDrag, Cyclone, CycloneFormula, DustCake, Elbow, Entry, Face, Filter, FilterState,
    FilterTerms, FrictionFactor, Gate, GateLoss, Heads, Hose, HoseBend, HoseFriction, HoseKind,
    Inlet, InletLoss, Junction, JunctionLosses, Leak, LossError, Note, Part, Port, PowerLaw, Rated,
    RatedDrop, Separator, SeparatorLoss, Sloped, Tightness, Transition, Wall, friction_factor,
    throat_static_suction,
};
pub use place::{Name, Place};
pub use quantity::{
    Angle, Area, Density, DynamicViscosity, Length, Power, Pressure, QuantityError,
    RotationalSpeed, Temperature, Velocity, VolumeFlow,
};
pub use solve::{
    Balance, Crossing, CurveEnd, FanState, FlowRange, HoodState, InSet, MachineState, Network,
    OpenSet, OpenSets, OperatingPoint, Pass, Quality, Residual, RunState, SectionSpeeds,
    SectionState, SetFailure, SolveError, Stability, Status, Supply, Sweep, SweepOptions,
    SweepSummary, SystemCurve, TooManySets, Unbalanced, Workspace,
};
#[cfg(feature = "serde")]
pub use study::Draft;
pub use study::Study;
pub use system::{
    Assumption, Collector, Hood, Join, Machine, ModelError, ModelErrors, ModelFault, Parameter,
    Run, Section, Start, System, UnknownName,
};

/// The example of the README compiles and runs as a test.
#[cfg(all(doctest, feature = "serde"))]
#[doc = include_str!("../README.md")]
struct Readme;
