//! One reading at the centre of a round duct.

use super::{
    MeasuredFlow, MeasuringCause, MeasuringError, Probe, ReadingNote, Station, StraightSide,
    mean_over_centre,
    probe::Shown,
    profile::{is_transitional, ratio},
    velocity_pressure::MOST_PA,
};
use crate::{
    bore::Bore,
    loss::{LossError, Wall},
    quantity::{Length, Pressure, Velocity},
    root::bracketed_root,
};

/// Straight duct wanted before a reading at the centre, in diameters: that of a traverse.
const WANTED: f64 = 7.5;

/// One reading at the centre of a straight round duct.
///
/// The flow is the velocity there times [`mean_over_centre`] times the inner area. It is worth less
/// than a traverse: the ratio stands in for all other points.
///
/// ```
/// use airsplit::*;
/// let at = Station::new(Bore::Round(Length::from_in(4.0)), Air::standard().properties()?);
/// let reading = CentreReading::of_pressure(Pressure::from_in_wg(1.0), Length::from_mm(0.09))
///     .with_upstream(Length::from_in(40.0));
/// let flow = reading.flow(&at)?;
/// assert!((flow.flow.as_cfm() - 289.0).abs() < 1.0);
/// assert!((flow.standard / flow.flow - 0.053).abs() < 0.001);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
#[non_exhaustive]
pub struct CentreReading {
    /// The velocity, 0 to 100 m/s.
    #[cfg_attr(
        feature = "serde",
        serde(default, skip_serializing_if = "Option::is_none")
    )]
    pub velocity: Option<Velocity>,
    /// Or the velocity pressure, 0 to 10 kPa.
    #[cfg_attr(
        feature = "serde",
        serde(default, skip_serializing_if = "Option::is_none")
    )]
    pub velocity_pressure: Option<Pressure>,
    /// What it was read with.
    #[cfg_attr(feature = "serde", serde(default))]
    pub probe: Probe,
    /// Roughness of the wall, 0 to 5 % of the diameter. `None`: that of galvanised duct or, of a
    /// [`Reading`](crate::Reading), that of the system's duct there.
    #[cfg_attr(
        feature = "serde",
        serde(default, skip_serializing_if = "Option::is_none")
    )]
    pub roughness: Option<Length>,
    /// Straight duct before the reading, 0 to 1000 m. `None`: taken as none.
    #[cfg_attr(
        feature = "serde",
        serde(default, skip_serializing_if = "Option::is_none")
    )]
    pub upstream: Option<Length>,
}

impl CentreReading {
    /// A velocity, in duct of this roughness.
    #[must_use]
    pub fn of_velocity(velocity: Velocity, roughness: Length) -> Self {
        Self {
            velocity: Some(velocity),
            ..Self::empty(roughness)
        }
    }

    /// A velocity pressure, in duct of this roughness.
    #[must_use]
    pub fn of_pressure(velocity_pressure: Pressure, roughness: Length) -> Self {
        Self {
            velocity_pressure: Some(velocity_pressure),
            ..Self::empty(roughness)
        }
    }

    fn empty(roughness: Length) -> Self {
        Self {
            velocity: None,
            velocity_pressure: None,
            probe: Probe::default(),
            roughness: Some(roughness),
            upstream: None,
        }
    }

    /// Read with this.
    #[must_use]
    pub fn with_probe(mut self, probe: Probe) -> Self {
        self.probe = probe;
        self
    }

    /// With so much straight duct before it.
    #[must_use]
    pub fn with_upstream(mut self, upstream: Length) -> Self {
        self.upstream = Some(upstream);
        self
    }

    /// The flow.
    ///
    /// # Errors
    /// A duct that is not round, no reading or two, a value outside its range, an instrument that does
    /// not show it.
    pub fn flow(&self, at: &Station) -> Result<MeasuredFlow, MeasuringError> {
        let Bore::Round(diameter) = at.bore else {
            return Err(MeasuringError::CentreOfRectangle { bore: at.bore });
        };
        let place = at.checked()?;
        let d = diameter.as_m();
        let what = "viscosity";
        let viscosity = LossError::within(what, at.air.viscosity.as_pa_s(), " Pa s", 1e-7, 1e-3)?;
        let what = "relative roughness";
        let roughness = match self.roughness {
            Some(roughness) => roughness,
            None => Wall::Galvanised.roughness()?,
        };
        let rel = LossError::within(what, roughness.as_m() / d, "", 0.0, 0.05)?;
        let shown = self.shown(place.air.kg_m3)?;
        let centre = shown.mean();
        let reynolds = |v: f64| place.air.kg_m3 * v * d / viscosity;
        // The ratio lies between 0.5 and 1, so its root does.
        let off = |v: f64| v - centre * ratio(reynolds(v), rel);
        let mean = if centre > 0.0 {
            bracketed_root(off, 0.5 * centre, centre, 0.0)
                .map_err(|_| MeasuringError::NoMean { centre_m_s: centre })?
        } else {
            0.0
        };
        let mut notes = shown.notes();
        let straight = match self.upstream {
            None => {
                let side = StraightSide::Upstream;
                notes.push(ReadingNote::StraightUnknown { side });
                0.0
            }
            Some(upstream) => {
                let what = "straight duct";
                let diameters = LossError::within(what, upstream.as_m(), " m", 0.0, 1000.0)? / d;
                if diameters < WANTED * (1.0 - 1e-9) {
                    notes.push(ReadingNote::ShortStraight {
                        side: StraightSide::Upstream,
                        diameters,
                        wanted: WANTED,
                        refused: false,
                    });
                }
                diameters
            }
        };
        let reynolds = reynolds(mean);
        if is_transitional(reynolds) {
            notes.push(ReadingNote::Transitional { reynolds });
        }
        let profile = mean_over_centre(reynolds, rel, straight)?;
        let flow = mean * place.area.m2;
        let density = shown.density_exponent * place.air.share * flow;
        let doubts = shown.doubts().times(profile.ratio * place.area.m2);
        Ok(doubts
            .and(
                MeasuringCause::Profile,
                profile.standard / profile.ratio * flow,
            )
            .and(MeasuringCause::Area, place.area.share * flow)
            .and(MeasuringCause::Density, density)
            .of_flow(flow, notes))
    }

    fn shown(&self, density: f64) -> Result<Shown, MeasuringError> {
        match (self.velocity, self.velocity_pressure) {
            (Some(v), None) => {
                let v = LossError::within("velocity", v.as_m_s(), " m/s", 0.0, 100.0)?;
                Shown::velocities(&self.probe, &[v], density)
            }
            (None, Some(p)) => {
                let what = "velocity pressure";
                let pa = LossError::within(what, p.as_pa(), " Pa", 0.0, MOST_PA)?;
                Shown::pressures(&self.probe, &[pa], density)
            }
            (None, None) => Err(MeasuringError::Readings { given: "none is" }),
            (Some(_), Some(_)) => Err(MeasuringError::Readings { given: "both are" }),
        }
    }
}
