//! What the duct carries, and how fast the air must be to keep carrying it.

use super::source::{Source, Transcription};
use crate::quantity::Velocity;

const TABLE: Source = Source::new(
    "ACGIH, Industrial Ventilation, table of minimum duct velocities; the same in 2019 ASHRAE \
     Handbook - HVAC Applications, ch. 33, Table 2",
    Transcription::ReadElsewhere,
);

const WOOD_RULE: Source = Source::new(
    "DGUV Information 209-044 \"Holzstaub\": at least 20 m/s where the machine is connected, up to \
     28 m/s for much, fast or damp chips",
    Transcription::Read,
);

/// What a duct carries.
///
/// As text: `"wood_flour"`, `"dry_chips"`, ..., or `{ own = "18 m/s" }`.
///
/// ```
/// use airsplit::DustClass;
/// let shavings = DustClass::LightShavings.transport();
/// assert_eq!(shavings.least.as_fpm().round(), 3000.0);
/// assert_eq!(shavings.ample.unwrap().as_fpm().round(), 4000.0);
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "snake_case", deny_unknown_fields)
)]
#[non_exhaustive]
pub enum DustClass {
    /// Very fine light dust, wood flour: 2500 to 3000 fpm.
    WoodFlour,
    /// Dry dust, light shavings: 3000 to 4000 fpm.
    LightShavings,
    /// Average industrial dust, grinding dust: 3500 to 4000 fpm.
    Grinding,
    /// Heavy dust: heavy or wet sawdust, wood blocks: 4000 to 4500 fpm.
    HeavySawdust,
    /// Heavy or moist, sticky stuff: 4500 fpm and more.
    Moist,
    /// Dry chips by the German rule for wood: 20 m/s and more.
    DryChips,
    /// Much, fast or damp chips by that rule: 20 m/s at least, 28 m/s is ample.
    DampChips,
    /// One's own least velocity: above 0, at most 100 m/s.
    Own(Velocity),
}

/// How fast the air must be to carry something along.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct TransportVelocity {
    /// Slower than this it is left lying.
    pub least: Velocity,
    /// The upper end of the source's range, where it has one: from there on it is ample.
    pub ample: Option<Velocity>,
    /// Where that stands.
    pub source: Source,
}

impl DustClass {
    /// The transport velocity of this class. Any own velocity is returned as it is; where it is
    /// used it is judged.
    #[must_use]
    pub fn transport(self) -> TransportVelocity {
        let fpm = Velocity::from_fpm;
        let m_s = Velocity::from_m_s;
        let (least, ample, source) = match self {
            Self::WoodFlour => (fpm(2500.0), Some(fpm(3000.0)), TABLE),
            Self::LightShavings => (fpm(3000.0), Some(fpm(4000.0)), TABLE),
            Self::Grinding => (fpm(3500.0), Some(fpm(4000.0)), TABLE),
            Self::HeavySawdust => (fpm(4000.0), Some(fpm(4500.0)), TABLE),
            Self::Moist => (fpm(4500.0), None, TABLE),
            Self::DryChips => (m_s(20.0), None, WOOD_RULE),
            Self::DampChips => (m_s(20.0), Some(m_s(28.0)), WOOD_RULE),
            Self::Own(own) => (own, None, Source::given("own transport velocity")),
        };
        TransportVelocity {
            least,
            ample,
            source,
        }
    }
}
