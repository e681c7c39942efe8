//! The units that pictures and reports speak in.

use super::{Pressure, Velocity, VolumeFlow};

/// The units that a picture or a report speaks in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "snake_case")
)]
#[non_exhaustive]
pub enum UnitSystem {
    /// m3/h, Pa, m/s, m, mm, C.
    #[default]
    Metric,
    /// cfm, in wg, fpm, ft, in, F.
    Us,
}

impl UnitSystem {
    /// As a number in m3/h or cfm.
    pub(crate) fn flow(self, flow: VolumeFlow) -> f64 {
        match self {
            Self::Metric => flow.as_m3_h(),
            Self::Us => flow.as_cfm(),
        }
    }

    /// As a number in Pa or in wg.
    pub(crate) fn pressure(self, pressure: Pressure) -> f64 {
        match self {
            Self::Metric => pressure.as_pa(),
            Self::Us => pressure.as_in_wg(),
        }
    }

    /// As a number in m/s or fpm.
    pub(crate) fn velocity(self, velocity: Velocity) -> f64 {
        match self {
            Self::Metric => velocity.as_m_s(),
            Self::Us => velocity.as_fpm(),
        }
    }

    pub(crate) const fn pressure_unit(self) -> &'static str {
        match self {
            Self::Metric => "Pa",
            Self::Us => "in wg",
        }
    }
}
