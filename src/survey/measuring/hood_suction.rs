//! The flow of a hood from the static suction behind it.

use super::{Instrument, MeasuredFlow, MeasuringCause, MeasuringError, Station};
use crate::{
    loss::{Entry, LossError},
    quantity::Pressure,
};

/// Most static suction \[Pa\]: above it air gives way.
const MOST_PA: f64 = 2e4;

/// The static suction in the duct behind a hood, and what it says of the flow.
///
/// Q = Ce A sqrt(2 SPh / rho), where Ce = 1 / sqrt(1 + K) and A is the duct's area: in inches of water,
/// feet and standard air Q = 4005 Ce A sqrt SPh (ACGIH, *Industrial Ventilation*; read in a question
/// bank on the ABIH equation sheet; water at 68 F). The tap belongs two to four diameters behind the hood, four to six
/// behind a plain or flanged end, in straight duct before the first elbow (common practice, no source).
///
/// Of all ways this needs the least, one small hole. It stands on the coefficient, which a traverse once
/// tells better than a table: see [`coefficient_of_entry`].
///
/// ```
/// use airsplit::*;
/// let at = Station::new(Bore::Round(Length::from_in(6.0)), Air::standard().properties()?);
/// let reading = HoodSuction::new(Pressure::from_in_wg(1.5));
/// let flow = reading.flow(&at, &Entry::Flanged)?;
/// assert!((flow.flow.as_cfm() - 788.0).abs() < 1.0);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
#[non_exhaustive]
pub struct HoodSuction {
    /// The static suction, as a positive number: 0 to 20 kPa.
    pub suction: Pressure,
    /// What it was read with.
    #[cfg_attr(feature = "serde", serde(default = "static_tap"))]
    pub instrument: Instrument,
    /// Standard uncertainty of the loss coefficient K of the hood, as a share of it: 0 to 1. Usually
    /// 0.2 (common practice, no source); of a measured one about 0.05.
    #[cfg_attr(feature = "serde", serde(default = "k_share"))]
    pub k_share: f64,
}

const fn static_tap() -> Instrument {
    Instrument::StaticTap
}

const fn k_share() -> f64 {
    0.2
}

impl HoodSuction {
    /// Read with an ordinary manometer, the hood's coefficient taken from a table.
    #[must_use]
    pub fn new(suction: Pressure) -> Self {
        Self {
            suction,
            instrument: static_tap(),
            k_share: k_share(),
        }
    }

    /// Read with this.
    #[must_use]
    pub fn with_instrument(mut self, instrument: Instrument) -> Self {
        self.instrument = instrument;
        self
    }

    /// With a loss coefficient known that well.
    #[must_use]
    pub fn with_k_share(mut self, share: f64) -> Self {
        self.k_share = share;
        self
    }

    /// The flow into a hood with this entry, the tap in the duct of the station.
    ///
    /// Relative doubts: half that of the suction, K / (2 (1 + K)) times that of K, half that of the
    /// density, that of the area.
    ///
    /// # Errors
    /// A value outside its range, a hood that cannot be, an instrument that shows no pressure.
    pub fn flow(&self, at: &Station, entry: &Entry) -> Result<MeasuredFlow, MeasuringError> {
        let place = at.checked()?;
        let what = "static suction behind the hood";
        let pa = LossError::within(what, self.suction.as_pa(), " Pa", 0.0, MOST_PA)?;
        let what = "standard uncertainty of the hood's coefficient, as a share";
        let k_share = LossError::within(what, self.k_share, "", 0.0, 1.0)?;
        let k = entry.heads(at.bore)?.heads.fixed;
        let shown = self.instrument.pressure(self.suction)?;
        let q = |pa: f64| place.area.m2 * (2.0 * pa / (place.air.kg_m3 * (1.0 + k))).sqrt();
        let flow = q(pa);
        // Not the slope, which has no end near zero.
        let of_pressure = q(pa + shown.standard.as_pa()) - flow;
        let of_k = k / (2.0 * (1.0 + k)) * k_share * flow;
        Ok(super::measured::Doubts::default()
            .and(MeasuringCause::Instrument, of_pressure)
            .and(MeasuringCause::Coefficient, of_k)
            .and(MeasuringCause::Area, place.area.share * flow)
            .and(MeasuringCause::Density, place.air.share / 2.0 * flow)
            .of_flow(flow, shown.notes))
    }
}

/// The coefficient of entry of a hood, Ce = sqrt(pv / SPh), from the velocity pressure of the mean
/// velocity (by a traverse) and the static suction behind the hood (positive). As
/// [`Entry::Coefficient`] it serves from then on.
///
/// # Errors
/// A velocity pressure that is not above 0, or a suction below it or above 20 kPa: no hood gives back
/// more than it takes.
pub fn coefficient_of_entry(
    velocity_pressure: Pressure,
    suction: Pressure,
) -> Result<f64, MeasuringError> {
    let what = "velocity pressure";
    let pv = velocity_pressure.as_pa();
    let pv = LossError::within(what, pv, " Pa", f64::MIN_POSITIVE, MOST_PA)?;
    let what = "static suction behind the hood";
    let suction = LossError::within(what, suction.as_pa(), " Pa", pv, MOST_PA)?;
    Ok((pv / suction).sqrt())
}
