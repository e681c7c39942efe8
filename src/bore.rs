//! The inner shape of a duct: what friction and velocity need to know of it.

use crate::quantity::{Area, Length};
use std::{f64::consts::PI, fmt};

/// The inner cross-section of a duct.
///
/// ```
/// use airsplit::{Bore, Length};
/// let main = Bore::Round(Length::from_in(6.0));
/// assert!((main.area().as_m2() - 0.018_241_5).abs() < 1e-7);
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "snake_case", deny_unknown_fields)
)]
#[non_exhaustive]
pub enum Bore {
    /// Round, by its inner diameter.
    Round(Length),
    /// Rectangular, by its inner sides.
    Rectangular {
        /// One side.
        width: Length,
        /// The other side.
        height: Length,
    },
}

impl Bore {
    /// Area of the cross-section.
    #[must_use]
    pub fn area(self) -> Area {
        Area::from_m2(match self {
            Self::Round(d) => PI / 4.0 * d.as_m() * d.as_m(),
            Self::Rectangular { width, height } => width.as_m() * height.as_m(),
        })
    }

    /// Perimeter of the cross-section.
    #[must_use]
    pub fn perimeter(self) -> Length {
        Length::from_m(match self {
            Self::Round(d) => PI * d.as_m(),
            Self::Rectangular { width, height } => 2.0 * (width.as_m() + height.as_m()),
        })
    }

    /// Hydraulic diameter, four times area over perimeter: the diameter that friction sees.
    ///
    /// Equal to the diameter of a round duct. Source: the usual definition, e.g. 2021 ASHRAE
    /// Handbook - Fundamentals, ch. 21.
    #[must_use]
    pub fn hydraulic_diameter(self) -> Length {
        Length::from_m(match self {
            Self::Round(d) => d.as_m(),
            Self::Rectangular { width, height } => {
                2.0 * width.as_m() * height.as_m() / (width.as_m() + height.as_m())
            }
        })
    }
}

/// `6 in` for a round bore, `260 mm x 310 mm` for a rectangular one.
impl fmt::Display for Bore {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Round(d) => d.fmt(f),
            Self::Rectangular { width, height } => f.pad(&format!("{width} x {height}")),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn val_area_grows_with_the_square_of_the_diameter() {
        // Common practice, no source: from 4 in to 6 in pipe the area grows 2.25 times.
        let area = |inches| Bore::Round(Length::from_in(inches)).area().as_m2();
        assert!((area(6.0) / area(4.0) - 2.25).abs() < 1e-12);
    }

    #[test]
    fn val_hydraulic_diameter_of_a_square_is_its_side() {
        let side = Length::from_mm(200.0);
        let square = Bore::Rectangular {
            width: side,
            height: side,
        };
        assert!((square.hydraulic_diameter().as_m() - 0.2).abs() < 1e-15);
    }
}
