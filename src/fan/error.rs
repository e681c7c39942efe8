//! What a fan curve cannot take.

use super::{Basis, FanOfPair};
use crate::{
    bore::Bore,
    quantity::{Density, Power, Pressure, RotationalSpeed, VolumeFlow},
};

/// Why numbers make no fan curve or power curve, or why a curve cannot be scaled, told on another
/// basis, or combined with another one.
///
/// Points count from 1, as they stand in the table.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum FanError {
    /// Fewer than three points.
    #[error(
        "a fan curve needs 3 points or more, got {got}; a fan known only by its largest flow and \
         largest pressure is an estimate of its own"
    )]
    TooFewPoints {
        /// How many points were given.
        got: usize,
    },
    /// More points than any table has.
    #[error("a curve of more than {most} points; give at most so many, or smooth them")]
    TooManyPoints {
        /// How many there may be.
        most: usize,
    },
    /// A flow or pressure that is not a finite number.
    #[error("point {point}: the {what} is {value} {unit}; it must be a finite number")]
    NotFinite {
        /// Which point, from 1.
        point: usize,
        /// `flow` or `pressure`.
        what: &'static str,
        /// What was given, in `unit`.
        value: f64,
        /// SI unit of `value`.
        unit: &'static str,
    },
    /// A flow below zero.
    #[error("point {point}: the flow is {flow}; it must be zero or more")]
    NegativeFlow {
        /// Which point, from 1.
        point: usize,
        /// The flow given.
        flow: VolumeFlow,
    },
    /// A flow that is not larger than that of the point before: repeated, or out of order.
    #[error(
        "point {point}: the flow {flow} is not larger than the {before} of the point before; give \
         the points with rising flow, each flow once"
    )]
    FlowNotRising {
        /// Which point, from 1.
        point: usize,
        /// The flow given.
        flow: VolumeFlow,
        /// The flow of the point before.
        before: VolumeFlow,
    },
    /// A pressure below zero.
    #[error("point {point}: the pressure is {pressure}; it must be zero or more")]
    NegativePressure {
        /// Which point, from 1.
        point: usize,
        /// The pressure given.
        pressure: Pressure,
    },
    /// No pressure at the smallest flow.
    #[error(
        "point 1: the pressure is zero at the smallest flow, {flow}; it must be above zero there \
         (the shut-off pressure at zero flow)"
    )]
    NoShutOff {
        /// The smallest flow given.
        flow: VolumeFlow,
    },
    /// Numbers so large, or flows so close together, that the curve overflows.
    #[error(
        "point {point}: its numbers, or the slope from it to the next point, are beyond 1e300 in \
         SI units; the flows of two points must lie further apart"
    )]
    TooSteep {
        /// Which point, from 1.
        point: usize,
    },
    /// Too few points to tell noise from shape.
    #[error(
        "a smoothed fan curve needs {needed} points or more, got {got}: with fewer, noise cannot \
         be told from shape; run the curve through the points"
    )]
    TooFewToSmooth {
        /// How many points were given.
        got: usize,
        /// How many it takes.
        needed: usize,
    },
    /// Two points so close together that a smoothed curve loses its digits.
    #[error(
        "point {point}: the flow {flow} is too close to the {before} of the point before to be \
         smoothed; make one point of the two"
    )]
    TooClose {
        /// Which point, from 1.
        point: usize,
        /// The flow given.
        flow: VolumeFlow,
        /// The flow of the point before.
        before: VolumeFlow,
    },
    /// A smoothing weight out of range.
    #[error("the smoothing weight is {weight}; it must be from {least:e} to {largest:e}")]
    SmoothingWeight {
        /// The weight given.
        weight: f64,
        /// The least weight that is taken.
        least: f64,
        /// The largest weight that is taken.
        largest: f64,
    },
    /// A smoothed curve well below zero, where the points are not.
    #[error(
        "point {point}: the smoothed curve has {:.1} Pa at {flow}, below zero; use less weight, or \
         run the curve through the points",
        .pressure.as_pa()
    )]
    SmoothedBelowZero {
        /// Which point, from 1.
        point: usize,
        /// The flow there.
        flow: VolumeFlow,
        /// Pressure of the smoothed curve there.
        pressure: Pressure,
    },
    /// A largest flow or largest pressure that is not above zero.
    #[error("the {what} of the fan is {value} {unit}; it must be a finite number above zero")]
    Extreme {
        /// `largest flow` or `largest pressure`.
        what: &'static str,
        /// What was given, in `unit`.
        value: f64,
        /// SI unit of `value`.
        unit: &'static str,
    },
    /// An air density that is not above zero.
    #[error(
        "the air density of the fan curve is {} kg/m3; it must be a finite number above zero \
         (about 1.2 kg/m3 at sea level)",
        .density.as_kg_m3()
    )]
    Density {
        /// The density given.
        density: Density,
    },
    /// A size that is not above zero.
    #[error("the size of the {what} is {bore}; each side must be a finite length above zero")]
    Bore {
        /// `fan outlet` or `test pipe`.
        what: &'static str,
        /// The size given.
        bore: Bore,
    },
    /// Between fan total pressure and any other lies the outlet's velocity pressure, and the curve
    /// does not know its outlet.
    #[error(
        "{from} cannot be told as {to}: the two differ by the velocity pressure at the fan's \
         outlet; give the outlet's size"
    )]
    NoOutlet {
        /// The basis of the curve.
        from: Basis,
        /// The basis asked for.
        to: Basis,
    },
    /// A speed, ratio or rating that is not above zero.
    #[error("the {what} is {value} {unit}; it must be a finite number above zero")]
    NotAboveZero {
        /// What it is.
        what: &'static str,
        /// What was given, in `unit`.
        value: f64,
        /// Unit of `value`, or what a ratio is of.
        unit: &'static str,
    },
    /// A speed was asked of a curve that does not know its own.
    #[error(
        "the curve does not say at which speed it holds, so it cannot be told at {to}; give its \
         own speed, or scale it by the ratio of the two"
    )]
    NoSpeed {
        /// The speed asked for.
        to: RotationalSpeed,
    },
    /// The points of two fans in series have no flow in common, or those of two fans in parallel
    /// no pressure.
    #[error(
        "the two fan curves have no range of {what} in common: one ends at {ends} {unit}, where \
         the other begins at {begins} {unit}; give points of both that overlap"
    )]
    NothingInCommon {
        /// `flow` or `pressure`.
        what: &'static str,
        /// Where the one ends that ends first, in `unit`.
        ends: f64,
        /// Where the one begins that begins last, in `unit`.
        begins: f64,
        /// SI unit of both.
        unit: &'static str,
    },
    /// A fan in parallel whose curve rises up to its last point.
    #[error(
        "the curve of the {fan} fan rises up to its last point, {flow}; in parallel only the part \
         that falls can be used; give its points at larger flows"
    )]
    NeverFalls {
        /// Which of the two.
        fan: FanOfPair,
        /// Flow of its last point.
        flow: VolumeFlow,
    },
    /// Two fans in parallel measured with unlike parts: one pressure cannot count for both.
    #[error(
        "two fans in parallel must have been measured with the same parts fitted (separator, \
         filter, silencer); what stands before one fan alone belongs into its own curve"
    )]
    FittedDiffers,
    /// Two fans in parallel whose curves differ so much in steepness that their sum has no
    /// drawable shape.
    #[error(
        "the sum of the two fan curves needs more than {most} points to be right to {tolerance:e} \
         of its largest pressure; smooth them first"
    )]
    NotSmooth {
        /// Points after which the search gave up.
        most: usize,
        /// Share of the largest pressure.
        tolerance: f64,
    },
    /// Fewer than three points of shaft power.
    #[error("a power curve needs 3 points or more, got {got}")]
    TooFewPowers {
        /// How many points were given.
        got: usize,
    },
    /// A shaft power below zero.
    #[error("point {point}: the power is {power}; it must be zero or more")]
    NegativePower {
        /// Which point, from 1.
        point: usize,
        /// The power given.
        power: Power,
    },
    /// An efficiency that is not above 0 and at most 1.
    #[error("the efficiency of the {what} is {value}; it must be above 0 and at most 1")]
    Efficiency {
        /// `fan`, `drive` or `motor`.
        what: &'static str,
        /// The efficiency that was given.
        value: f64,
    },
    /// Fan and shaft power that cannot belong together: the air would get more power than the
    /// shaft brings, or would drive the fan.
    #[error(
        "at {flow} the air would get {:.1} W of a shaft power of {:.1} W; it must get between \
         nothing and all of it: are both curves of one fan, in one unit, at one speed and on the \
         right basis, and is the flow within their points?",
        .air.as_w(), .shaft.as_w()
    )]
    MoreThanTheShaft {
        /// The flow.
        flow: VolumeFlow,
        /// Power of the air.
        air: Power,
        /// Power of the shaft.
        shaft: Power,
    },
    /// A fan curve and a power curve that hold at two speeds.
    #[error("the fan curve holds at {fan}, the power curve at {power}; scale one to the other")]
    SpeedsDiffer {
        /// Speed of the fan curve.
        fan: RotationalSpeed,
        /// Speed of the power curve.
        power: RotationalSpeed,
    },
}
