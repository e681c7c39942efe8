//! Operating point and balanced flow split of a dust-collection duct tree.
#![forbid(unsafe_code)]

mod air;
mod bore;
mod curve1d;
mod fan;
mod loss;
mod place;
mod quantity;
mod root;

pub use air::{Air, AirError, AirProperties, Barometer};
pub use bore::Bore;
pub use fan::{
    Axes, AxisScale, Basis, Combination, CombinationNote, CurveTurn, DigitiseError, FanCurve,
    FanError, FanOfPair, FanPoint, FanPower, Fitted, Motor, PickedPoint, PowerCurve, PowerPoint,
    Reference, ReferenceMiss, Smoothed, SmoothingReport, TurnKind,
};
pub use loss::{
    Cloth, ClothDrag, Cyclone, CycloneFormula, DustCake, Elbow, Entry, Face, Filter, FilterState,
    FilterTerms, FrictionFactor, Gate, GateLoss, Heads, Hose, HoseBend, HoseFriction, HoseKind,
    Leak, LossError, Note, PowerLaw, Rated, RatedDrop, Separator, SeparatorLoss, Sloped, Tightness,
    Transition, Wall, friction_factor, throat_static_suction,
};
pub use place::{Name, Place};
pub use quantity::{
    Angle, Area, Density, DynamicViscosity, Length, Power, Pressure, QuantityError,
    RotationalSpeed, Temperature, Velocity, VolumeFlow,
};
