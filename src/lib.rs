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
//! # Five types
//!
//! - [`System`] is the shop as it stands: air, collector, sections of duct with their parts, hoods,
//!   machines. It is plain data and may hold anything; [`Study`] is a system read from a document,
//!   with what had to be assumed and what the owner asks.
//! - [`Network`] is a system that was checked and compiled. Making one tells every fault at once, each
//!   with its [`Place`].
//! - [`OpenSet`] says which hoods are open; the name of a machine opens all of its hoods.
//! - [`OperatingPoint`] is the answer, owned and by name: its [`Status`] first, then the fan, machines,
//!   hoods, sections, notes and residuals.
//! - [`Workspace`] is what a loop keeps, so that [`Network::solve`] allocates nothing.
//!
//! # From question to answer
//!
//! | step | begin with |
//! |---|---|
//! | write the shop down | [`System`] in code, or a document read as [`Study`] |
//! | check and compile it | [`Network::new`] |
//! | say which hoods are open | [`Network::open`] |
//! | find where the fan settles | [`Network::operating_point`]; [`Network::solve`] without allocating |
//! | follow gates that move | [`Network::resume`] |
//! | ask many open sets at once | [`Network::sweep`] |
//! | impose the flow; see every crossing | [`Network::point_at_flow`]; [`Network::crossings`] |
//! | have an answer checked against the model alone | [`audit()`] |
//! | ask which element moves it most | [`Network::gradient`] |
//! | ask how sure it is | [`Network::doubts`], [`Network::uncertainty`], [`Network::monte_carlo`] |
//! | ask it in low, likely and high case, with what was assumed | [`low_likely_high`] |
//! | ask whether it is enough, and sound | [`check()`] with [`Requirement`]s |
//! | ask where the pressure goes | [`Budget`] |
//! | try a change, or compare systems | [`System::with`], [`compare()`] |
//! | find what to buy first | [`rank_upgrades`] |
//! | find the cheapest duct | [`Sizing::cheapest`], over the sets of a [`Use`] |
//! | say which gates to open, and how far | [`gate_schedule`], [`balance_gates`] |
//! | mark the filter's gauge | [`filter_gauge`] |
//! | look at growth and at the room | [`growth()`], [`headroom`], [`Room`] |
//! | list the material, and price it | [`takeoff()`], [`Takeoff::priced`] |
//! | measure: a traverse, a vane, a static tap | [`TraversePlan`], [`Traverse`], [`CentreReading`], [`VaneReading`], [`HoodSuction`] |
//! | make a number of a reading | [`Reading::observe`] |
//! | hold readings against the model | [`compare_readings`] |
//! | find the shop that fits the readings | [`calibrate()`], [`Calibration::predict`] |
//! | find what to read next | [`possible_readings`], [`Calibration::next_readings`] |
//! | let flow readings check each other, test duct for leaks | [`FlowReadings`] |
//! | hold a change against its prediction | [`BeforeAfter`] |
//! | have it all as a text | [`report()`] |
//!
//! The guide goes on from here: [`guide::cookbook`] has a complete short program for each of these
//! questions, [`guide::document`] the document key by key, [`guide::physics`] the equations and their
//! sources, [`guide::answers`] every exported name by its question, [`guide::changes`] what each
//! version changed.
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
//! # Errors
//!
//! Nothing panics on any input. Each function returns the narrowest error, as data: [`ModelErrors`]
//! (all faults at once), [`UnknownName`] (with the nearest known names), [`SolveError`]; [`Error`] is the
//! union for programs that want one `?`, and [`Error::is_input`] parts a wrong question from a search
//! that failed. An answer out of a law's tested range carries a [`Note`]; one beyond the published
//! fan curve says so in its [`Status`].
//!
//! # Accuracy
//!
//! How near the answers come to the exact solution of the model, and how fast, measured on two shared
//! cores of an AMD EPYC server:
//!
//! | what | figure | command |
//! |---|---|---|
//! | worst flow of 216 trees against answers in 75 digits | 8.6e-15 relative | `cargo run --release --example accuracy` |
//! | 100 000 random trees of 2 to 2000 hoods, coefficients to 1e6 | all balanced; 2 above 12 Newton steps, worst 16 | `cargo run --release --example robustness -- 100000` |
//! | cold solve, verified on its own flows: 6, 30, 1000 hoods | 1.1, 3.8, 141 us | `cargo run --release --example speed` |
//! | memory allocated by a solve | none | the same |
//!
//! How well the model describes a real shop is another question. Wye formulas scatter by 0.1 to 0.3
//! velocity pressures of the outlet, and so do measurements of equal wyes ([`Junction`]); hose below
//! 150 mm is outside published tests ([`HoseKind`]). [`Network::uncertainty`] says what that makes of
//! an answer, and readings narrow it.
//!
//! # What it does not do
//!
//! Compressible flow; supply systems, which divide flow; transients; the paths of particles. A fan
//! or booster inside a branch. No picture of a shop is read, and no duct is laid out.
//!
//! # Caution
//!
//! Whether a system is safe or lawful is not told here. Wood dust burns, explodes and harms lungs; fans
//! rotate; an exhausted room draws on its chimneys. A result for some open gates is an analysis, not a
//! design basis that any code accepts. Duct construction, bonding and earthing, spark and explosion
//! protection, make-up air and the place of the collector are for local codes and licensed practice.
//!
//! # Features
//!
//! - `serde` (default): documents and results as serde data; `Study` reads from any self-describing
//!   format.
//! - `rayon`: sweeps over open sets on every core, [`Sweep`]'s `par_` methods, to the same bits as
//!   on one.
//! - `plot`: pictures of results as SVG text, such as `fan_and_system_svg` and `tree_svg`.
//!
//! # Versions
//!
//! Rust 1.89 or later. A newer least version comes in a minor version only, and the changelog
//! (`guide::changes`) says so; so do changes of the document format that no longer read what was read.
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
#[cfg(any(doc, doctest))]
pub mod guide;
mod loss;
mod place;
#[cfg(feature = "plot")]
mod plot;
mod quantity;
mod report;
mod root;
mod solve;
mod study;
mod survey;
mod system;

pub use air::{Air, AirError, AirProperties, Barometer};
pub use bore::Bore;
pub use decide::{
    Adequacy, Answer, Budget, BudgetError, Bundle, Case, CaseAnswers, CaseDifference, Check,
    CheckError, CheckOptions, Companions, CompareError, Comparison, Cuts, Demand, DustClass,
    DustLoading, ElbowShape, ElementKind, Exhaust, FanDrive, FilterGauge, FilterGaugeError,
    FilterGaugeOptions, Finding, Findings, FlowDifference, FlueCaution, FurtherGates, FutureHood,
    GateError, GatePlan, GateRow, GateSchedule, GateSetting, GateVerdict, GaugeFailure, GaugeMark,
    GaugeOutcome, GreedyStep, Growth, GrowthError, Headroom, HeadroomStep, HoodNeed, HoseMake,
    Item, Joints, JunctionInlet, KindLoss, Likely, LikelyHood, LikelyMachine, LikelyNeed,
    LowLikelyHigh, LowLikelyHighError, MachineDifference, MachineGauge, MachineKind, MachineMargin,
    Material, Measure, Money, Need, NeedMet, NewHood, Objective, PathBudget, PathElement, Per,
    Price, PriceError, PriceFault, PriceTable, Priced, PricedLine, Proof, Quantity, ReducerShape,
    RequiredFlow, Requirement, RequirementError, Room, RoomEffect, RoomError, RowFailure,
    SectionShell, SectionSize, SectionVelocity, SetDifference, SetReport, Shell, Sizing,
    SizingAnswer, SizingError, SizingVerdict, SkipReason, SkippedBundle, SlowestSection, Source,
    Stock, StockSize, StockUse, Sureness, Takeoff, TakeoffError, TakeoffLine, TakeoffOptions,
    Transcription, TransportLimits, TransportVelocity, Uncertain, UncertainAt, Upgrade,
    UpgradeError, UpgradeRanking, UpgradeWorth, Use, UseError, UseSets, UseWeight, Verdict,
    WeighingAssumption, WeightedSet, balance_gates, balanced_flow, check, compare, filter_gauge,
    flow_for_width, gate_schedule, growth, headroom, low_likely_high, rank_upgrades, takeoff,
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
#[cfg(feature = "plot")]
pub use plot::{
    MeasuredPredicted, PlotError, PlotOptions, PlottedPoint, PlottedQuantity, PlottedSet,
    fan_and_system_svg, machines_svg, measured_against_predicted_svg, path_pressure_svg, tree_svg,
    upgrades_svg,
};
pub use quantity::{
    Angle, Area, Density, DynamicViscosity, Length, Power, Pressure, QuantityError,
    RotationalSpeed, Temperature, UnitSystem, Velocity, VolumeFlow,
};
pub use report::{Chapter, Picture, Report, ReportChapter, ReportError, ReportOptions, report};
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
