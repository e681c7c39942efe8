//! Instruments: how far what they show can be trusted.

use super::{MeasuredPressure, MeasuringCause, MeasuringError, ReadingNote, measured::Doubts};
use crate::{
    loss::LossError,
    quantity::{Pressure, Velocity},
};
use std::fmt;

/// Half the width of a normal distribution's band that holds 95 %, in standard deviations.
const HALF_BAND: f64 = 1.959_963_984_540_054;

/// Half the width of an even distribution in its standard deviations: the root of 3.
const HALF_EVEN: f64 = 1.732_050_807_568_877_2;

/// The standard uncertainty of what surely lies within `half_width` either way, evenly likely
/// everywhere: `half_width` / sqrt 3 (JCGM 100:2008, 4.3.7; from memory).
pub(super) const fn even(half_width: f64) -> f64 {
    half_width / HALF_EVEN
}

/// An instrument, by its kind.
///
/// The class of a kind is the *worse* end of the accuracy that the 2021 ASHRAE Handbook -
/// Fundamentals, ch. 38, table 4, gives it: that of an instrument nobody has calibrated lately. A
/// printed accuracy is a limit without a probability, so its standard uncertainty is the limit over
/// sqrt 3 (JCGM 100:2008, *Guide to the expression of uncertainty in measurement*, 4.3.7); that of a
/// certificate, which tells 95 %, is over 1.96 (4.3.4; both from memory).
///
/// | kind | shows | accuracy | range |
/// |---|---|---|---|
/// | rotating vane | velocity | 5 % | 0.5 to 15 m/s |
/// | deflecting vane | velocity | 5 % | not known |
/// | thermal | velocity | 10 % | 0.05 to 50 m/s |
/// | pitot tube with manometer | velocity pressure or velocity | 5 % of velocity, and 2.5 Pa | 0.9 to 50 m/s |
/// | static tap with manometer | static pressure | 5 %, and 2.5 Pa | none |
///
/// The row of the tap and the 2.5 Pa (0.01 in wg: a division of a common dial or inclined tube, and
/// its zero) are common practice, no source. At 4 m/s these 2.5 Pa are 13 % of the velocity: the range
/// of the pitot tube is that with a micromanometer.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "snake_case", deny_unknown_fields)
)]
#[non_exhaustive]
pub enum Instrument {
    /// A propeller in a ring that counts its turns.
    RotatingVane,
    /// A vane that the air deflects against a spring.
    DeflectingVane,
    /// A heated wire or bead.
    Thermal,
    /// A pitot-static tube on a manometer, straight into the air: 15 to 20 degrees of yaw are still
    /// tolerable (2021 ASHRAE Handbook - Fundamentals, ch. 38).
    #[default]
    Pitot,
    /// A hole flush in the wall on a manometer.
    StaticTap,
    /// An instrument with a certificate that shows velocity.
    Own {
        /// What 95 % of its errors stay within, as a share of the velocity: 0 to 1.
        share: f64,
        /// What 95 % of them stay within near zero: 0 to 100 m/s. The two add as squares.
        least: Velocity,
    },
    /// A manometer with a certificate; the tube or tap comes on top.
    OwnManometer {
        /// What 95 % of its errors stay within, as a share of the pressure: 0 to 1.
        share: f64,
        /// What 95 % of them stay within near zero: 0 to 100 kPa. The two add as squares.
        least: Pressure,
    },
}

/// How far an instrument can be trusted.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct InstrumentClass {
    /// Standard uncertainty of a velocity as a share of it; that of a pressure is twice as much.
    pub velocity_share: f64,
    /// Standard uncertainty of a reading near zero.
    pub least: LeastShown,
    /// The velocities at which the class holds, where they are known.
    pub range: Option<[Velocity; 2]>,
    /// Where that comes from.
    pub source: &'static str,
}

/// Standard uncertainty near zero, in what the instrument senses.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize),
    serde(rename_all = "snake_case")
)]
#[non_exhaustive]
pub enum LeastShown {
    /// It senses velocity.
    Velocity(Velocity),
    /// It senses pressure.
    Pressure(Pressure),
}

const ASHRAE: &str = "2021 ASHRAE Handbook - Fundamentals, ch. 38, table 4, as limits";
const PRACTICE: &str = "common practice, no source";
const CERTIFICATE: &str = "certificate of the instrument";

/// Division and zero of an ordinary manometer.
const MANOMETER: LeastShown = LeastShown::Pressure(Pressure::from_pa(even(2.5)));
const NO_LEAST: LeastShown = LeastShown::Velocity(Velocity::from_m_s(0.0));

impl Instrument {
    /// How far it can be trusted.
    ///
    /// # Errors
    /// An own instrument whose share or least is outside its range, or which has neither.
    pub fn class(self) -> Result<InstrumentClass, MeasuringError> {
        let kind = |half_width, least, range: Option<[f64; 2]>, source| InstrumentClass {
            velocity_share: even(half_width),
            least,
            range: range.map(|ends| ends.map(Velocity::from_m_s)),
            source,
        };
        Ok(match self {
            Self::RotatingVane => kind(0.05, NO_LEAST, Some([0.5, 15.0]), ASHRAE),
            Self::DeflectingVane => kind(0.05, NO_LEAST, None, ASHRAE),
            Self::Thermal => kind(0.10, NO_LEAST, Some([0.05, 50.0]), ASHRAE),
            Self::Pitot => kind(0.05, MANOMETER, Some([0.9, 50.0]), ASHRAE),
            Self::StaticTap => kind(0.025, MANOMETER, None, PRACTICE),
            Self::Own { share, least } => {
                let share = own_share(share)?;
                let what = "least of the own instrument";
                let least = LossError::within(what, least.as_m_s(), " m/s", 0.0, 100.0)?;
                own(share, least)?;
                InstrumentClass {
                    velocity_share: share / HALF_BAND,
                    least: LeastShown::Velocity(Velocity::from_m_s(least / HALF_BAND)),
                    range: None,
                    source: CERTIFICATE,
                }
            }
            Self::OwnManometer { share, least } => {
                let share = own_share(share)?;
                let what = "least of the own manometer";
                let least = LossError::within(what, least.as_pa(), " Pa", 0.0, 1e5)?;
                own(share, least)?;
                InstrumentClass {
                    velocity_share: share / 2.0 / HALF_BAND,
                    least: LeastShown::Pressure(Pressure::from_pa(least / HALF_BAND)),
                    range: None,
                    source: CERTIFICATE,
                }
            }
        })
    }

    /// A static pressure that it shows, with its uncertainty: positive or negative, up to 100 kPa.
    ///
    /// ```
    /// use airsplit::{Instrument, Pressure};
    /// let suction = Instrument::StaticTap.pressure(Pressure::from_pa(-500.0))?;
    /// assert!((suction.standard.as_pa() - 14.5).abs() < 0.1);
    /// # Ok::<(), airsplit::MeasuringError>(())
    /// ```
    ///
    /// # Errors
    /// A pressure outside that range, an instrument that shows none, or an own one that cannot be.
    pub fn pressure(self, shown: Pressure) -> Result<MeasuredPressure, MeasuringError> {
        let class = self.class()?;
        let LeastShown::Pressure(least) = class.least else {
            return Err(self.shows_no("pressure"));
        };
        let pa = LossError::within("pressure", shown.as_pa(), " Pa", -1e5, 1e5)?;
        let standard = (2.0 * class.velocity_share * pa).hypot(least.as_pa());
        let note = (pa.abs() <= 2.0 * least.as_pa()).then_some(ReadingNote::Faint {
            pressure: shown,
            least,
        });
        let doubts = Doubts::default().and(MeasuringCause::Instrument, standard);
        Ok(doubts.of_pressure(pa, note.into_iter().collect()))
    }

    pub(super) fn shows_no(self, what: &'static str) -> MeasuringError {
        MeasuringError::Instrument {
            instrument: self,
            what,
        }
    }
}

impl InstrumentClass {
    /// A note where the farthest of some velocities leaves the range.
    pub(super) fn range_note(
        &self,
        instrument: Instrument,
        m_s: impl IntoIterator<Item = f64>,
    ) -> Option<ReadingNote> {
        let [low, high] = self.range?;
        let past = |v: f64| (low.as_m_s() / v).max(v / high.as_m_s());
        let farthest = m_s
            .into_iter()
            .max_by(|a, b| past(*a).total_cmp(&past(*b)))?;
        (past(farthest) > 1.0).then_some(ReadingNote::OutsideRange {
            instrument,
            velocity: Velocity::from_m_s(farthest),
            low,
            high,
        })
    }
}

fn own_share(share: f64) -> Result<f64, LossError> {
    LossError::within("share of the own instrument", share, "", 0.0, 1.0)
}

fn own(share: f64, least: f64) -> Result<(), MeasuringError> {
    if share > 0.0 || least > 0.0 {
        Ok(())
    } else {
        Err(MeasuringError::Exact)
    }
}

impl fmt::Display for Instrument {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Self::RotatingVane => "rotating vane",
            Self::DeflectingVane => "deflecting vane",
            Self::Thermal => "thermal instrument",
            Self::Pitot => "pitot tube with manometer",
            Self::StaticTap => "static tap with manometer",
            Self::Own { .. } => "calibrated instrument",
            Self::OwnManometer { .. } => "calibrated manometer",
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn val_the_classes_are_those_of_the_handbook() {
        // 2021 ASHRAE Handbook - Fundamentals, ch. 38, table 4: limits, the worse end of each.
        let limit = |kind: Instrument| kind.class().unwrap().velocity_share * 3_f64.sqrt();
        for (kind, percent) in [
            (Instrument::RotatingVane, 5.0),
            (Instrument::DeflectingVane, 5.0),
            (Instrument::Thermal, 10.0),
            (Instrument::Pitot, 5.0),
        ] {
            assert!((100.0 * limit(kind) - percent).abs() < 1e-12, "{kind}");
        }
    }

    #[test]
    fn prop_a_velocity_outside_the_range_is_noted() {
        let vane = Instrument::RotatingVane.class().unwrap();
        let note = |speeds: &[f64]| {
            vane.range_note(Instrument::RotatingVane, speeds.iter().copied())
                .map(|note| note.to_string())
        };
        assert_eq!(note(&[0.5, 3.0, 15.0]), None);
        assert_eq!(
            note(&[3.0, 0.1, 16.0]).as_deref(),
            Some("0.100 m/s is outside the range of a rotating vane, 0.5 m/s to 15 m/s")
        );
        assert!(note(&[0.0, 3.0]).is_some());
    }

    #[test]
    fn prop_an_own_instrument_is_judged() {
        let own = |share, least| Instrument::Own {
            share,
            least: Velocity::from_m_s(least),
        };
        assert_eq!(own(0.0, 0.0).class(), Err(MeasuringError::Exact));
        for bad in [f64::NAN, f64::INFINITY, -0.1, 1e9] {
            assert!(own(bad, 0.1).class().is_err() && own(0.1, bad).class().is_err());
        }
        let class = own(0.0196, 0.0).class().unwrap();
        assert!((class.velocity_share - 0.01).abs() < 1e-5);
    }

    #[test]
    fn prop_pressures_are_told_by_manometers_only() {
        let at = |kind: Instrument, pa| kind.pressure(Pressure::from_pa(pa));
        assert_eq!(
            at(Instrument::Thermal, 10.0).unwrap_err().to_string(),
            "a thermal instrument shows no pressure; read it with another instrument"
        );
        assert!(at(Instrument::StaticTap, f64::NAN).is_err());
        assert_eq!(at(Instrument::StaticTap, -1.0).unwrap().notes.len(), 1);
        assert_eq!(at(Instrument::StaticTap, -300.0).unwrap().notes.len(), 0);
    }

    #[cfg(feature = "serde")]
    #[test]
    fn prop_text_of_an_instrument() {
        let read = |text: &str| serde_json::from_str::<Instrument>(text);
        assert_eq!(read(r#""pitot""#).unwrap(), Instrument::Pitot);
        let own = read(r#"{ "own_manometer": { "share": 0.01, "least": "1 Pa" } }"#).unwrap();
        assert!(matches!(own, Instrument::OwnManometer { .. }));
        assert!(read(r#"{ "own": { "share": 0.01 } }"#).is_err());
    }
}
