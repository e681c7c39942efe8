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
//! | have it checked against the model alone | [`audit()`] |
//! | ask which element moves it most | [`Network::gradient`] |
//! | ask how sure it is | [`Network::doubts`], [`Network::uncertainty`], [`Network::monte_carlo`] |
//! | ask whether it is enough, and sound | [`check()`] with [`Requirement`]s |
//! | ask where the pressure goes | [`Budget`] |
//! | try a change, or compare systems | [`System::with`], [`compare()`] |
//! | find what to buy first | [`rank_upgrades`] |
//! | find the cheapest duct | [`Sizing::cheapest`], over the sets of a [`Use`] |
//! | say which gates to open, and how far | [`gate_schedule`], [`balance_gates`] |
//! | read the filter's gauge | [`filter_gauge`] |
//! | look at growth and at the room | [`growth()`], [`headroom`], [`Room`] |
//! | measure the shop: a traverse, a vane, a static tap | [`Traverse`], [`CentreReading`], [`VaneReading`], [`HoodSuction`] |
//! | make the most of flow readings, test duct for leaks | [`FlowReadings`] |
//! | hold a change against its prediction | [`BeforeAfter`] |
//! | list the material | [`takeoff()`], priced by a [`PriceTable`] |
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
// An index that input can break is a panic. A module that indexes says why its indices hold.
#![cfg_attr(
    not(test),
    deny(
        clippy::dbg_macro,
        clippy::exit,
        clippy::indexing_slicing,
        clippy::string_slice,
        clippy::todo,
        clippy::unimplemented,
        clippy::unreachable
    )
)]

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
mod survey;
mod system;

pub use air::{Air, AirError, AirProperties, Barometer};
pub use bore::Bore;
pub use decide::{
    Answer, Budget, BudgetError, Bundle, Case, CaseAnswers, CaseDifference, Check, CheckError,
    CheckOptions, Companions, CompareError, Comparison, Cuts, Demand, DustClass, DustLoading,
    ElbowShape, ElementKind, Exhaust, FanDrive, FilterGauge, FilterGaugeError, FilterGaugeOptions,
    Finding, Findings, FlowDifference, FlueCaution, FurtherGates, FutureHood, GateError, GatePlan,
    GateRow, GateSchedule, GateSetting, GateVerdict, GaugeFailure, GaugeMark, GaugeOutcome,
    GreedyStep, Growth, GrowthError, Headroom, HeadroomStep, HoodNeed, HoseMake, Item, Joints,
    JunctionInlet, KindLoss, MachineDifference, MachineGauge, MachineKind, MachineMargin, Material,
    Measure, Money, Need, NeedMet, NewHood, Objective, PathBudget, PathElement, Per, Price,
    PriceError, PriceFault, PriceTable, Priced, PricedLine, Proof, Quantity, ReducerShape,
    RequiredFlow, Requirement, RequirementError, Room, RoomEffect, RoomError, RowFailure,
    SectionShell, SectionSize, SectionVelocity, SetDifference, SetReport, Shell, Sizing,
    SizingAnswer, SizingError, SizingVerdict, SkipReason, SkippedBundle, SlowestSection, Source,
    Stock, StockSize, StockUse, Sureness, Takeoff, TakeoffError, TakeoffLine, TakeoffOptions,
    Transcription, TransportLimits, TransportVelocity, Uncertain, UncertainAt, Upgrade,
    UpgradeError, UpgradeRanking, UpgradeWorth, Use, UseError, UseSets, UseWeight, Verdict,
    WeightedSet, balance_gates, balanced_flow, check, compare, filter_gauge, flow_for_width,
    gate_schedule, growth, headroom, rank_upgrades, takeoff,
};
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
    Adjoint, Audit, Balance, Contribution, Crossing, CurveEnd, Doubt, FanState, FlowRange, Grade,
    Gradient, HoodState, InSet, Influence, MachineState, MonteCarlo, Network, OpenSet, OpenSets,
    OperatingPoint, Output, Pass, Quality, Residual, RunState, Sampled, SampledValue,
    SectionSpeeds, SectionState, Sensitivity, SetFailure, SolveError, Spread, Stability, Status,
    Supply, Sweep, SweepOptions, SweepSummary, SystemCurve, TooManySets, Unbalanced,
    UncertainPoint, UncertainValue, UncertaintyError, Violation, Workspace, audit,
};
#[cfg(feature = "serde")]
pub use study::Draft;
pub use study::{Plans, Study};
pub use survey::{
    Agreement, BeforeAfter, BeforeAfterError, CalibrateError, CalibratePlan, Calibration, Cause,
    CentreReading, ChangeVerdict, ComparedReading, CorrelatedUnknowns, DirectionPart, Estimate,
    Explanation, FitEnd, FitError, FittedReading, FlowAt, FlowChange, FlowChanges, FlowEstimate,
    FlowReadings, GlobalTest, HoodSuction, Imbalance, Instrument, InstrumentClass, LeakTest,
    LeakVerdict, LeastShown, LineAt, MeasuredFlow, MeasuredPressure, MeasuredVelocity,
    MeasuringCause, MeasuringDoubt, MeasuringError, Moves, NextError, NextReading, NumberAt,
    NumberUnknown, Observation, Observed, OutlierTreatment, PitotReading, PitotTube,
    PredictedChange, Prediction, Probe, ProfileRatio, Reading, ReadingCheck, ReadingNote,
    ReconcileError, Reconciled, SectionFlow, Setup, SharedError, Shows, ShutHoods, Station,
    StraightSide, SurveyError, Traverse, TraverseFlow, TraverseLayout, TraverseLine, TraversePlan,
    TraversePoint, TraverseProfile, TraverseResult, TraverseRule, Unknown, UnknownKind,
    UnmeteredInflow, UsualUnknown, VaneReading, WantedUnknown, WeakDirection, Weighting, calibrate,
    coefficient_of_entry, compare_readings, mean_over_centre, possible_readings,
    velocity_of_pressure,
};
pub use system::{
    Assumption, Change, ChangeAt, ChangeError, Collector, ElbowKind, Hood, Join, Machine,
    ModelError, ModelErrors, ModelFault, Parameter, Run, Section, Setting, Start, System,
    UnknownName,
};

/// The example of the README compiles and runs as a test.
#[cfg(all(doctest, feature = "serde"))]
#[doc = include_str!("../README.md")]
struct Readme;
