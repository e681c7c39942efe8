//! What a reading does not deserve: one list of notes for every way of measuring.

use super::Instrument;
use crate::quantity::{Length, Pressure, Velocity};
use std::fmt;

/// Which side of a reading a straight duct lies on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize),
    serde(rename_all = "snake_case")
)]
pub enum StraightSide {
    /// Before the reading, in the direction of the air.
    Upstream,
    /// After it.
    Downstream,
}

/// A remark on a reading.
///
/// Those that [void](Self::voids) a traverse leave no flow; with the others the answer stands, with
/// what the remark says.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize),
    serde(rename_all = "snake_case")
)]
#[non_exhaustive]
pub enum ReadingNote {
    /// A velocity at which the class of the instrument does not hold.
    OutsideRange {
        /// The instrument.
        instrument: Instrument,
        /// The velocity; of several the farthest out.
        velocity: Velocity,
        /// The least at which the class holds.
        low: Velocity,
        /// The most.
        high: Velocity,
    },
    /// A pressure no larger than twice the least that the manometer tells.
    Faint {
        /// The pressure; of several the faintest.
        pressure: Pressure,
        /// The standard uncertainty of the manometer near zero.
        least: Pressure,
    },
    /// A duct smaller than 12 in, to which EPA Method 1 (40 CFR 60, appendix A-1, 1.2) does not
    /// apply. Methods 1A and 2C, for stacks of 4 to 12 in and a standard tube, are the nearest
    /// (from memory). Common practice, no source: six log-linear points on each of two diameters and
    /// the thinnest tube.
    SmallBore {
        /// The diameter, or the hydraulic one.
        size: Length,
    },
    /// A point nearer to the wall than half the width of the probe: it can only be read touching the
    /// wall.
    InTheWall {
        /// Which point of the line, from 1.
        point: usize,
        /// Where it belongs.
        from_wall: Length,
        /// Where the probe ends.
        half_width: Length,
    },
    /// A probe wider than 1/30 of the duct, the limit of AMCA Standard 210 for pitot tubes (from
    /// memory): it blocks the air that it measures, and reads high.
    WideProbe {
        /// Its width.
        probe: Length,
        /// The most.
        most: Length,
    },
    /// One diameter only: a profile that leans to one side shows on two or three.
    OneDiameter,
    /// Fewer points in a rectangular duct than the nine of EPA Method 1 (from memory).
    FewPoints {
        /// How many.
        points: usize,
    },
    /// A straight duct too short for the reading.
    ShortStraight {
        /// Before or after.
        side: StraightSide,
        /// Ratio of its length to the (hydraulic) diameter.
        diameters: f64,
        /// The ratio that it should have: 7.5 before, 3 after (2021 ASHRAE Handbook - Fundamentals, ch. 38;
        /// others say 8 and 2).
        wanted: f64,
        /// Whether it is shorter even than EPA Method 1 (40 CFR 60, appendix A-1, 1.2) allows: 2
        /// before, 0.5 after.
        refused: bool,
    },
    /// The straight duct on that side was not told.
    StraightUnknown {
        /// Before or after.
        side: StraightSide,
    },
    /// Voids: readings below zero, where air flows back (2021 ASHRAE Handbook - Fundamentals,
    /// ch. 38).
    Backward {
        /// How many.
        readings: usize,
    },
    /// Voids: no more than three quarters of the velocity pressures are above a tenth of the largest.
    /// A plane is fit where more are: read in a manual of air balancing; AMCA Publication 203 from
    /// memory.
    Uneven {
        /// How many are above.
        above: usize,
        /// Of how many.
        readings: usize,
    },
    /// Voids: every reading is zero.
    Still,
    /// Some readings are zero: they count as such, though the air may only be too slow to show.
    Zeros {
        /// How many.
        readings: usize,
    },
    /// Flow that is neither laminar nor turbulent: its profile is not known well.
    Transitional {
        /// Its Reynolds number.
        reynolds: f64,
    },
    /// The head of the vane takes up more than a tenth of the opening: it changes what it measures.
    /// The limit is common practice, no source.
    HeadInTheWay {
        /// Area of the head over that of the opening.
        share: f64,
    },
    /// The size of the head was not told, and a small opening may be blocked by it.
    HeadUnknown,
    /// Too few spots for so large a face: one for each 6 in square, 4 to 25 (common practice, no
    /// source).
    FewSpots {
        /// How many.
        spots: usize,
        /// How many there should be.
        wanted: usize,
    },
}

impl ReadingNote {
    /// Whether it voids a traverse.
    #[must_use]
    pub fn voids(&self) -> bool {
        matches!(
            self,
            Self::Backward { .. } | Self::Uneven { .. } | Self::Still
        )
    }
}

/// What to tell the owner.
impl fmt::Display for ReadingNote {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::OutsideRange {
                instrument,
                velocity,
                low,
                high,
            } => write!(
                f,
                "{:.3} m/s is outside the range of a {instrument}, {low} to {high}",
                velocity.as_m_s()
            ),
            Self::Faint { pressure, least } => write!(
                f,
                "{:.3} Pa hardly shows on a manometer that tells {:.3} Pa at best",
                pressure.as_pa(),
                least.as_pa()
            ),
            Self::SmallBore { size } => write!(
                f,
                "a duct of {:.1} mm is smaller than 12 in: take 6 log-linear points on two diameters \
                 with a thin tube, placed with care",
                size.as_mm()
            ),
            Self::InTheWall {
                point,
                from_wall,
                half_width,
            } => write!(
                f,
                "point {point} lies {:.1} mm from the wall, nearer than half of the probe, {:.1} mm: \
                 read it touching the wall",
                from_wall.as_mm(),
                half_width.as_mm()
            ),
            Self::WideProbe { probe, most } => write!(
                f,
                "a probe {:.1} mm wide blocks the duct; at most {:.1} mm",
                probe.as_mm(),
                most.as_mm()
            ),
            Self::OneDiameter => {
                f.write_str("one diameter only; drill a second one at 90 deg to it")
            }
            Self::FewPoints { points } => {
                write!(f, "{points} points in a rectangular duct; take 9 or more")
            }
            Self::ShortStraight {
                side,
                diameters,
                wanted,
                refused,
            } => {
                let [before, than] = match side {
                    StraightSide::Upstream => ["before", "2"],
                    StraightSide::Downstream => ["after", "0.5"],
                };
                write!(
                    f,
                    "{diameters:.1} diameters of straight duct {before} the reading; {wanted} are wanted"
                )?;
                if *refused {
                    write!(
                        f,
                        ", and with fewer than {than} EPA Method 1 refuses the place"
                    )?;
                }
                Ok(())
            }
            Self::StraightUnknown { side } => f.write_str(match side {
                StraightSide::Upstream => {
                    "straight duct before the reading not told; taken as none"
                }
                StraightSide::Downstream => "straight duct after the reading not told",
            }),
            Self::Backward { readings } => write!(
                f,
                "readings below zero: {readings}; air flows back there, find another place"
            ),
            Self::Uneven { above, readings } => write!(
                f,
                "only {above} of {readings} velocity pressures are above a tenth of the largest; \
                 find another place"
            ),
            Self::Still => f.write_str("every reading is zero"),
            Self::Zeros { readings } => write!(f, "readings of zero: {readings}"),
            Self::Transitional { reynolds } => write!(
                f,
                "Reynolds number {reynolds:.0}: neither laminar nor turbulent, the profile is uncertain"
            ),
            Self::HeadInTheWay { share } => write!(
                f,
                "the head of the vane takes up {:.0} % of the opening; use a smaller one, or a traverse",
                100.0 * share
            ),
            Self::HeadUnknown => {
                f.write_str("size of the vane's head not told; taken as small beside the opening")
            }
            Self::FewSpots { spots, wanted } => {
                write!(
                    f,
                    "spots on so large a face: {spots}; take {wanted}, evenly spread"
                )
            }
        }
    }
}
