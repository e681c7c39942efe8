//! Where a reading is taken.

use super::MeasuringError;
use crate::{air::AirProperties, bore::Bore, loss::LossError, quantity::Density};

/// A place where readings are taken: the inside of the duct there, and the air at the time.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
pub struct Station {
    /// The inner size, 10 mm to 10 m.
    pub bore: Bore,
    /// Standard uncertainty of each size, as a share of it: 0 to 0.5. Usually 0.005 (common practice,
    /// no source): half a millimetre in 100 mm.
    #[cfg_attr(feature = "serde", serde(default = "size_share"))]
    pub size_share: f64,
    /// The air that passes, 0.01 to 100 kg/m3.
    pub air: AirProperties,
    /// Standard uncertainty of its density, as a share of it: 0 to 0.5. Usually 0.01 (common practice,
    /// no source): 3 K and 5 hPa.
    #[cfg_attr(feature = "serde", serde(default = "density_share"))]
    pub density_share: f64,
}

const fn size_share() -> f64 {
    0.005
}

const fn density_share() -> f64 {
    0.01
}

impl Station {
    /// A place with the usual uncertainties.
    #[must_use]
    pub fn new(bore: Bore, air: AirProperties) -> Self {
        Self {
            bore,
            size_share: size_share(),
            air,
            density_share: density_share(),
        }
    }

    /// With sizes known to within this share of themselves.
    #[must_use]
    pub fn with_size_share(mut self, share: f64) -> Self {
        self.size_share = share;
        self
    }

    /// With the density known to within this share of itself.
    #[must_use]
    pub fn with_density_share(mut self, share: f64) -> Self {
        self.density_share = share;
        self
    }

    pub(super) fn checked(&self) -> Result<Checked, MeasuringError> {
        let size_share = LossError::within(
            "standard uncertainty of the size, as a share",
            self.size_share,
            "",
            0.0,
            0.5,
        )?;
        Ok(Checked {
            area: Face::new(self.bore, size_share)?,
            air: DensityAt::new(self.air.density, self.density_share)?,
        })
    }
}

/// What was found to be within its range.
#[derive(Debug, Clone, Copy)]
pub(super) struct Checked {
    pub(super) area: Face,
    pub(super) air: DensityAt,
}

/// An area that air passes.
#[derive(Debug, Clone, Copy)]
pub(super) struct Face {
    pub(super) m2: f64,
    /// Standard uncertainty as a share.
    pub(super) share: f64,
    /// (Hydraulic) diameter.
    pub(super) diameter_m: f64,
}

impl Face {
    pub(super) fn new(bore: Bore, size_share: f64) -> Result<Self, MeasuringError> {
        let size = |what, m: f64| LossError::within(what, m, " m", 0.01, 10.0);
        let share = match bore {
            Bore::Round(diameter) => {
                size("diameter", diameter.as_m())?;
                2.0 * size_share
            }
            Bore::Rectangular { width, height } => {
                size("width", width.as_m())?;
                size("height", height.as_m())?;
                // Two sizes, measured each for itself.
                std::f64::consts::SQRT_2 * size_share
            }
        };
        Ok(Self {
            m2: bore.area().as_m2(),
            share,
            diameter_m: bore.hydraulic_diameter().as_m(),
        })
    }
}

/// A density and how well it is known.
#[derive(Debug, Clone, Copy)]
pub(super) struct DensityAt {
    pub(super) kg_m3: f64,
    pub(super) share: f64,
}

impl DensityAt {
    pub(super) fn new(density: Density, share: f64) -> Result<Self, MeasuringError> {
        let what = "standard uncertainty of the density, as a share";
        Ok(Self {
            kg_m3: density_within(density)?,
            share: LossError::within(what, share, "", 0.0, 0.5)?,
        })
    }
}

pub(super) fn density_within(density: Density) -> Result<f64, LossError> {
    LossError::within("density", density.as_kg_m3(), " kg/m3", 0.01, 100.0)
}
