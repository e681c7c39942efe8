//! A vane held in the open end of a hood or port.

use super::{
    Instrument, MeasuredFlow, MeasuringCause, MeasuringError, Probe, ReadingNote, Station,
    instrument::even,
    probe::{Shown, mean},
    station::Face,
};
use crate::{
    bore::Bore,
    loss::LossError,
    quantity::{Length, Velocity},
};
use std::f64::consts::PI;

/// Share of its outline that a vane's head blocks, ring, hub and blades: between nothing and half.
/// Common practice, no source.
const BLOCKED: f64 = 0.25;

/// How much one spot in an open end may differ from the mean there, as a standard uncertainty: the air
/// turns in from all sides. Common practice, no source.
const ONE_SPOT: f64 = 0.10;

/// Head over opening from which it is in the way. Common practice, no source.
const IN_THE_WAY: f64 = 0.10;

/// Area that a spot stands for: 6 in square. Common practice, no source.
const SPOT_M2: f64 = 0.1524 * 0.1524;

/// A vane held in the open end of a hood or port, at one or several spots.
///
/// Q = V A (1 - 0.25 a / A), V the mean of the spots, A the opening, a the outline of the head: the air
/// has only what the head leaves free. How much of its outline a head blocks lies between nothing and
/// half (common practice, no source), and the doubt follows: at a tenth of the opening 1.4 % of the
/// flow, in an opening hardly larger than the head 18 %. The flow is that *with the vane in place*,
/// which in a small opening is less than without.
///
/// ```
/// use airsplit::*;
/// let at = Station::new(Bore::Round(Length::from_in(6.0)), Air::standard().properties()?);
/// let face = Bore::Rectangular { width: Length::from_in(18.0), height: Length::from_in(12.0) };
/// let spots = [2.4, 2.7, 2.6, 2.5, 2.8, 2.5].map(Velocity::from_m_s);
/// let reading = VaneReading::new(spots).with_opening(face).with_head(Length::from_mm(100.0));
/// let flow = reading.flow(&at)?;
/// assert!((flow.flow.as_cfm() - 752.0).abs() < 1.0);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
#[non_exhaustive]
pub struct VaneReading {
    /// The velocity at each spot, 0 to 100 m/s; one or more, evenly spread.
    pub velocities: Vec<Velocity>,
    /// The opening, where it is not the end of the duct.
    #[cfg_attr(
        feature = "serde",
        serde(default, skip_serializing_if = "Option::is_none")
    )]
    pub opening: Option<Bore>,
    /// Outer diameter of the head, 1 mm to 1 m. `None`: small beside the opening.
    #[cfg_attr(
        feature = "serde",
        serde(default, skip_serializing_if = "Option::is_none")
    )]
    pub head: Option<Length>,
    /// The instrument.
    #[cfg_attr(feature = "serde", serde(default = "rotating_vane"))]
    pub instrument: Instrument,
}

const fn rotating_vane() -> Instrument {
    Instrument::RotatingVane
}

impl VaneReading {
    /// Readings of a rotating vane in the open end of the duct.
    #[must_use]
    pub fn new(velocities: impl IntoIterator<Item = Velocity>) -> Self {
        Self {
            velocities: velocities.into_iter().collect(),
            opening: None,
            head: None,
            instrument: rotating_vane(),
        }
    }

    /// In this opening.
    #[must_use]
    pub fn with_opening(mut self, opening: Bore) -> Self {
        self.opening = Some(opening);
        self
    }

    /// With a head of this outer diameter.
    #[must_use]
    pub fn with_head(mut self, head: Length) -> Self {
        self.head = Some(head);
        self
    }

    /// By this instrument.
    #[must_use]
    pub fn with_instrument(mut self, instrument: Instrument) -> Self {
        self.instrument = instrument;
        self
    }

    /// The flow.
    ///
    /// Doubts: the instrument, alike at all spots; the spread of the spots, their standard deviation or
    /// 10 % (common practice, no source), whichever is more, over the root of their number; the head;
    /// the area.
    ///
    /// # Errors
    /// No reading, one outside its range, a head or opening outside its range, a head as large as the
    /// opening, an instrument that shows no velocity.
    pub fn flow(&self, at: &Station) -> Result<MeasuredFlow, MeasuringError> {
        let place = at.checked()?;
        let opening = self.opening.unwrap_or(at.bore);
        let face = Face::new(opening, at.size_share)?;
        let spots = self.spots()?;
        let shown = Shown::velocities(&Probe::new(self.instrument), &spots, place.air.kg_m3)?;
        let v = shown.mean();
        let mut notes = shown.notes();
        let n = spots.len() as f64;
        let head = self.head(opening, &face, spots.len(), &mut notes)?;
        let zeros = spots.iter().filter(|v| **v == 0.0).count();
        if zeros > 0 {
            notes.push(ReadingNote::Zeros { readings: zeros });
        }
        let spread = deviation(&spots, v).max(ONE_SPOT * v);
        let free = face.m2 * (1.0 - BLOCKED * head);
        let flow = v * free;
        Ok(shown
            .doubts()
            .and(MeasuringCause::Spread, spread / n.sqrt())
            .times(free)
            .and(MeasuringCause::Blockage, even(BLOCKED) * head * v * face.m2)
            .and(MeasuringCause::Area, face.share * flow)
            .of_flow(flow, notes))
    }

    /// Share of the duct's area that the head blocks, standing in its end; 0 in a hood's own opening,
    /// and where its size is not known.
    pub(in crate::survey) fn blocks(&self, duct: Bore) -> f64 {
        match (self.opening, self.head) {
            (None, Some(head)) => {
                let outline = PI / 4.0 * head.as_m() * head.as_m();
                (BLOCKED * outline / duct.area().as_m2()).clamp(0.0, BLOCKED)
            }
            _ => 0.0,
        }
    }

    fn spots(&self) -> Result<Vec<f64>, MeasuringError> {
        if self.velocities.is_empty() {
            return Err(MeasuringError::Readings { given: "none is" });
        }
        let spot = |(v, point): (&Velocity, usize)| {
            let v = LossError::within("velocity", v.as_m_s(), " m/s", 0.0, 100.0);
            v.map_err(|error| MeasuringError::Reading {
                line: 1,
                point,
                error,
            })
        };
        self.velocities.iter().zip(1..).map(spot).collect()
    }

    /// Outline of the head over the area of the opening.
    fn head(
        &self,
        opening: Bore,
        face: &Face,
        spots: usize,
        notes: &mut Vec<ReadingNote>,
    ) -> Result<f64, MeasuringError> {
        let Some(head) = self.head else {
            notes.push(ReadingNote::HeadUnknown);
            return Ok(0.0);
        };
        let d = LossError::within("head of the vane", head.as_m(), " m", 0.001, 1.0)?;
        let narrowest = match opening {
            Bore::Round(diameter) => diameter.as_m(),
            Bore::Rectangular { width, height } => width.as_m().min(height.as_m()),
        };
        if d >= narrowest {
            return Err(MeasuringError::Head { head, opening });
        }
        let share = PI / 4.0 * d * d / face.m2;
        if share > IN_THE_WAY {
            notes.push(ReadingNote::HeadInTheWay { share });
        }
        // At most 4306: an opening has sides of 10 m at most.
        let wanted = ((face.m2 / SPOT_M2).ceil() as usize).clamp(4, 25);
        if share <= IN_THE_WAY && spots < wanted {
            notes.push(ReadingNote::FewSpots { spots, wanted });
        }
        Ok(share)
    }
}

/// Standard deviation about the mean; 0 of one reading.
fn deviation(spots: &[f64], about: f64) -> f64 {
    let squares: Vec<f64> = spots.iter().map(|v| (v - about) * (v - about)).collect();
    let n = spots.len() as f64;
    if n < 2.0 {
        0.0
    } else {
        (mean(&squares) * n / (n - 1.0)).sqrt()
    }
}
