//! What is put into the air: the instrument, its tube, and what it was set to.

use super::{
    Instrument, InstrumentClass, LeastShown, MeasuringCause, MeasuringError, PitotTube,
    ReadingNote,
    measured::Doubts,
    station::density_within,
    velocity_pressure::{ideal, least_velocity},
};
use crate::{
    loss::LossError,
    quantity::{Density, Length, Pressure},
};

/// What is put into the air.
///
/// ```toml
/// probe = { instrument = "pitot", width = "1/8 in" }
/// probe = { instrument = { own_manometer = { share = 0.01, least = "1 Pa" } }, tube = { coefficient = 0.84, share = 0.02 } }
/// probe = { instrument = "thermal", shown_for = "1.2 kg/m3" }
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Default)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields, default)
)]
#[non_exhaustive]
pub struct Probe {
    /// The instrument.
    pub instrument: Instrument,
    /// The pitot tube; asked only where velocity pressures are told.
    pub tube: PitotTube,
    /// Density for which the velocities are right that it shows, 0.01 to 100 kg/m3: of a pitot meter
    /// or thermal instrument set to standard air. `None`: they are right for the air at hand. A pitot
    /// meter is off by the root of the ratio, a thermal one, which feels mass, by the ratio itself.
    #[cfg_attr(feature = "serde", serde(skip_serializing_if = "Option::is_none"))]
    pub shown_for: Option<Density>,
    /// Its width across the air: 0.1 to 100 mm. `None`: not judged.
    #[cfg_attr(feature = "serde", serde(skip_serializing_if = "Option::is_none"))]
    pub width: Option<Length>,
}

impl Probe {
    /// A probe with this instrument.
    #[must_use]
    pub fn new(instrument: Instrument) -> Self {
        Self {
            instrument,
            ..Self::default()
        }
    }

    /// With this tube.
    #[must_use]
    pub fn with_tube(mut self, tube: PitotTube) -> Self {
        self.tube = tube;
        self
    }

    /// Showing velocities of air of this density.
    #[must_use]
    pub fn with_shown_for(mut self, density: Density) -> Self {
        self.shown_for = Some(density);
        self
    }

    /// So wide.
    #[must_use]
    pub fn with_width(mut self, width: Length) -> Self {
        self.width = Some(width);
        self
    }
}

/// Most velocity \[m/s\] either way: Mach 0.3, above which air gives way.
const MOST_M_S: f64 = 100.0;

/// Readings of one probe as velocities.
#[derive(Debug, Clone)]
pub(super) struct Shown {
    instrument: Instrument,
    class: InstrumentClass,
    /// What every velocity was multiplied with besides the root of 2 p / rho.
    coefficient: f64,
    coefficient_share: f64,
    density: f64,
    /// Velocities go with this power of the density.
    pub(super) density_exponent: f64,
    pub(super) m_s: Vec<f64>,
}

impl Shown {
    /// Velocity pressures in Pa, below zero or not; their range is judged by the caller.
    pub(super) fn pressures(
        probe: &Probe,
        pa: &[f64],
        density: f64,
    ) -> Result<Self, MeasuringError> {
        let class = probe.instrument.class()?;
        let is_manometer = matches!(class.least, LeastShown::Pressure(_));
        if !is_manometer || probe.instrument == Instrument::StaticTap {
            return Err(probe.instrument.shows_no("velocity pressure"));
        }
        let tube = probe.tube.checked()?;
        if probe.shown_for.is_some() {
            return Err(probe.instrument.shows_no("velocity pressure for a density"));
        }
        Ok(Self {
            instrument: probe.instrument,
            class,
            coefficient: tube.coefficient,
            coefficient_share: tube.share,
            density,
            density_exponent: -0.5,
            m_s: pa
                .iter()
                .map(|pa| tube.coefficient * ideal(*pa, density))
                .collect(),
        })
    }

    /// Velocities in m/s, below zero or not; their range is judged by the caller.
    pub(super) fn velocities(
        probe: &Probe,
        m_s: &[f64],
        density: f64,
    ) -> Result<Self, MeasuringError> {
        let class = probe.instrument.class()?;
        if probe.instrument == Instrument::StaticTap {
            return Err(probe.instrument.shows_no("velocity"));
        }
        let (density_exponent, factor) = match probe.shown_for {
            None => (0.0, 1.0),
            Some(set_to) => {
                let exponent = match probe.instrument {
                    Instrument::Pitot | Instrument::OwnManometer { .. } => -0.5,
                    Instrument::Thermal => -1.0,
                    _ => return Err(probe.instrument.shows_no("velocity for a density")),
                };
                (exponent, (density / density_within(set_to)?).powf(exponent))
            }
        };
        Ok(Self {
            instrument: probe.instrument,
            class,
            coefficient: 1.0,
            coefficient_share: 0.0,
            density,
            density_exponent,
            m_s: m_s.iter().map(|v| v * factor).collect(),
        })
    }

    /// Roots before means: the mean of the velocities, never the velocity of a mean pressure.
    pub(super) fn mean(&self) -> f64 {
        mean(&self.m_s)
    }

    /// Doubts of the mean: the instrument is off alike in all of them.
    pub(super) fn doubts(&self) -> Doubts {
        let least = self.m_s.iter();
        let least =
            least.map(|v| least_velocity(self.class.least, *v, self.coefficient, self.density));
        let least = least.sum::<f64>() / self.m_s.len().max(1) as f64;
        let share = self.class.velocity_share * self.mean();
        Doubts::default()
            .and(MeasuringCause::Instrument, share.hypot(least))
            .and(
                MeasuringCause::Coefficient,
                self.coefficient_share * self.mean(),
            )
    }

    /// Whether a reading leaves the range of the instrument, or hardly shows.
    pub(super) fn notes(&self) -> Vec<ReadingNote> {
        // Zeros are told of by who counts them.
        let moving = || self.m_s.iter().copied().filter(|v| *v != 0.0).map(f64::abs);
        let range = self.class.range_note(self.instrument, moving());
        let slowest = moving().min_by(f64::total_cmp);
        let faint = match (self.class.least, slowest) {
            (LeastShown::Pressure(least), Some(v)) => {
                let pa = self.density / 2.0 * (v / self.coefficient).powi(2);
                let pressure = Pressure::from_pa(pa);
                let faint = pa <= 2.0 * least.as_pa();
                faint.then_some(ReadingNote::Faint { pressure, least })
            }
            _ => None,
        };
        range.into_iter().chain(faint).collect()
    }
}

/// A shown velocity within its range, -100 to 100 m/s.
pub(super) fn velocity_within(m_s: f64) -> Result<f64, LossError> {
    LossError::within("velocity", m_s, " m/s", -MOST_M_S, MOST_M_S)
}

pub(super) fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len().max(1) as f64
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn prop_meters_set_to_other_air_are_put_right() {
        // In air of 81 % of the density, a pitot meter shows 10 % too little, a thermal one 19 %.
        let at = |instrument| {
            let probe = Probe::new(instrument).with_shown_for(Density::from_kg_m3(1.2));
            Shown::velocities(&probe, &[9.0], 0.81 * 1.2).map(|shown| shown.mean())
        };
        assert!((at(Instrument::Pitot).unwrap() - 10.0).abs() < 1e-12);
        assert!((at(Instrument::Thermal).unwrap() - 9.0 / 0.81).abs() < 1e-12);
        assert_eq!(
            at(Instrument::RotatingVane).unwrap_err().to_string(),
            "a rotating vane shows no velocity for a density; read it with another instrument"
        );
    }

    #[test]
    fn prop_each_instrument_shows_its_own() {
        let vane = Probe::new(Instrument::RotatingVane);
        assert!(Shown::pressures(&vane, &[10.0], 1.2).is_err());
        let tap = Probe::new(Instrument::StaticTap);
        assert!(Shown::velocities(&tap, &[10.0], 1.2).is_err());
        assert!(Shown::pressures(&tap, &[10.0], 1.2).is_err());
    }
}
