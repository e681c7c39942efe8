//! What a measurement amounts to: a value, its standard uncertainty, and where that comes from.

use super::ReadingNote;
use crate::quantity::{Pressure, Velocity, VolumeFlow};
use std::fmt;

/// A measured flow.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct MeasuredFlow {
    /// The flow, as volume at the place and time of the reading.
    pub flow: VolumeFlow,
    /// Its standard uncertainty: the root of the sum of the squares of the doubts (JCGM 100:2008,
    /// *Guide to the expression of uncertainty in measurement*, 5.1.2; from memory).
    pub standard: VolumeFlow,
    /// What makes it up, in m3/s.
    pub doubts: Vec<MeasuringDoubt>,
    /// What the reading does not deserve.
    pub notes: Vec<ReadingNote>,
}

/// A measured velocity.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct MeasuredVelocity {
    /// The velocity.
    pub velocity: Velocity,
    /// Its standard uncertainty.
    pub standard: Velocity,
    /// What makes it up, in m/s.
    pub doubts: Vec<MeasuringDoubt>,
    /// What the reading does not deserve.
    pub notes: Vec<ReadingNote>,
}

/// A measured pressure.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct MeasuredPressure {
    /// The pressure.
    pub pressure: Pressure,
    /// Its standard uncertainty.
    pub standard: Pressure,
    /// What makes it up, in Pa.
    pub doubts: Vec<MeasuringDoubt>,
    /// What the reading does not deserve.
    pub notes: Vec<ReadingNote>,
}

/// One part of a standard uncertainty.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct MeasuringDoubt {
    /// Where it comes from.
    pub cause: MeasuringCause,
    /// How much of the value it puts in doubt: a standard uncertainty, 0 or more, in the SI unit of
    /// the value.
    pub standard: f64,
}

/// Where the uncertainty of a measurement comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize),
    serde(rename_all = "snake_case")
)]
#[non_exhaustive]
pub enum MeasuringCause {
    /// The accuracy of the instrument: the same in every reading taken with it.
    Instrument,
    /// The coefficient of the tube or of the hood.
    Coefficient,
    /// How much readings differ that ought to be alike.
    Spread,
    /// How well the probe was put where it belongs.
    Placement,
    /// The rule of the traverse on a profile of pipe flow.
    Rule,
    /// Straight duct that is too short.
    Siting,
    /// Mean over centre-line velocity.
    Profile,
    /// What the head of a vane blocks.
    Blockage,
    /// The size of the duct or opening.
    Area,
    /// The density of the air.
    Density,
}

impl fmt::Display for MeasuringCause {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Self::Instrument => "instrument",
            Self::Coefficient => "coefficient",
            Self::Spread => "spread of the readings",
            Self::Placement => "placement of the probe",
            Self::Rule => "rule of the traverse",
            Self::Siting => "siting",
            Self::Profile => "velocity profile",
            Self::Blockage => "blockage by the head",
            Self::Area => "area",
            Self::Density => "density",
        })
    }
}

/// Doubts being gathered.
#[derive(Debug, Clone, Default)]
pub(super) struct Doubts(Vec<MeasuringDoubt>);

impl Doubts {
    /// With one more, unless it is none.
    pub(super) fn and(mut self, cause: MeasuringCause, standard: f64) -> Self {
        if standard != 0.0 {
            let standard = standard.abs();
            self.0.push(MeasuringDoubt { cause, standard });
        }
        self
    }

    /// The same doubts of a value `factor` times as large.
    pub(super) fn times(mut self, factor: f64) -> Self {
        for doubt in &mut self.0 {
            doubt.standard *= factor.abs();
        }
        self
    }

    fn standard(&self) -> f64 {
        let squares = self.0.iter().map(|doubt| doubt.standard * doubt.standard);
        squares.sum::<f64>().sqrt()
    }

    pub(super) fn of_flow(self, m3_s: f64, notes: Vec<ReadingNote>) -> MeasuredFlow {
        MeasuredFlow {
            flow: VolumeFlow::from_m3_s(m3_s),
            standard: VolumeFlow::from_m3_s(self.standard()),
            doubts: self.0,
            notes,
        }
    }

    pub(super) fn of_velocity(self, m_s: f64, notes: Vec<ReadingNote>) -> MeasuredVelocity {
        MeasuredVelocity {
            velocity: Velocity::from_m_s(m_s),
            standard: Velocity::from_m_s(self.standard()),
            doubts: self.0,
            notes,
        }
    }

    pub(super) fn of_pressure(self, pa: f64, notes: Vec<ReadingNote>) -> MeasuredPressure {
        MeasuredPressure {
            pressure: Pressure::from_pa(pa),
            standard: Pressure::from_pa(self.standard()),
            doubts: self.0,
            notes,
        }
    }
}
