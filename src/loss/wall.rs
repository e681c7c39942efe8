//! How rough the inner wall of a duct is.

use super::LossError;
use crate::quantity::Length;

/// The inner wall of a duct: a named surface, or a roughness of one's own.
///
/// Values: 2021 ASHRAE Handbook - Fundamentals, ch. 21 "Duct Design", Table 1, read in a converted
/// text of the handbook. The table gives a range for each surface; the value taken is the one the
/// handbook uses itself where it names one, the rough end of the range otherwise, so that loss is
/// not told too low.
///
/// ```
/// use airsplit::{Length, Wall};
/// assert_eq!(Wall::Galvanised.roughness()?, Length::from_mm(0.09));
/// assert!(Wall::Roughness(Length::from_mm(-1.0)).roughness().is_err());
/// # Ok::<(), airsplit::LossError>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "snake_case", deny_unknown_fields)
)]
#[non_exhaustive]
pub enum Wall {
    /// Drawn tubing: 0.00046 mm, the handbook's class "smooth".
    DrawnTube,
    /// Plastic pipe (PVC): 0.046 mm; range 0.009 to 0.046 mm.
    SmoothPlastic,
    /// Uncoated carbon steel: 0.046 mm.
    Steel,
    /// Round aluminium duct with a longitudinal seam: 0.061 mm; range 0.037 to 0.061 mm.
    Aluminium,
    /// Round galvanised duct with a longitudinal seam: 0.09 mm, the value of the handbook's
    /// friction chart; range 0.049 to 0.098 mm.
    Galvanised,
    /// Round galvanised spiral duct: 0.12 mm; range 0.061 to 0.12 mm.
    Spiral,
    /// Spiral duct with ribs: 0.116 mm; range 0.088 to 0.116 mm.
    RibbedSpiral,
    /// Rectangular galvanised duct: 0.15 mm; range 0.082 to 0.15 mm.
    RectangularGalvanised,
    /// Corrugated spiral duct: 0.91 mm; range 0.54 to 0.91 mm.
    CorrugatedSpiral,
    /// Concrete: 3.0 mm; range 0.3 to 3.0 mm.
    Concrete,
    /// A roughness of one's own: 0 (smooth) to 10 mm.
    Roughness(Length),
}

impl Wall {
    /// The roughness that friction is computed with.
    ///
    /// # Errors
    /// A roughness of one's own outside 0 to 10 mm.
    pub fn roughness(&self) -> Result<Length, LossError> {
        let [mm, _, _] = self.table_mm();
        if let Self::Roughness(own) = self {
            LossError::within("roughness of the wall", mm, " mm", 0.0, 10.0)?;
            return Ok(*own);
        }
        Ok(Length::from_mm(mm))
    }

    /// Lowest and highest roughness that the source gives for a named surface: the band of an
    /// assumption. `None` for a roughness of one's own.
    #[must_use]
    pub fn band(&self) -> Option<[Length; 2]> {
        match self {
            Self::Roughness(_) => None,
            _ => {
                let [_, low_mm, high_mm] = self.table_mm();
                Some([Length::from_mm(low_mm), Length::from_mm(high_mm)])
            }
        }
    }

    /// Value, lowest and highest, in mm.
    const fn table_mm(&self) -> [f64; 3] {
        match self {
            Self::DrawnTube => [0.000_46, 0.000_46, 0.000_46],
            Self::SmoothPlastic => [0.046, 0.009, 0.046],
            Self::Steel => [0.046, 0.046, 0.046],
            Self::Aluminium => [0.061, 0.037, 0.061],
            Self::Galvanised => [0.09, 0.049, 0.098],
            Self::Spiral => [0.12, 0.061, 0.12],
            Self::RibbedSpiral => [0.116, 0.088, 0.116],
            Self::RectangularGalvanised => [0.15, 0.082, 0.15],
            Self::CorrugatedSpiral => [0.91, 0.54, 0.91],
            Self::Concrete => [3.0, 0.3, 3.0],
            Self::Roughness(own) => [own.as_mm(), own.as_mm(), own.as_mm()],
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn val_named_walls_lie_in_the_ranges_of_the_handbook() {
        // 2021 ASHRAE Handbook - Fundamentals, ch. 21, Table 1 (converted text); mm.
        for (wall, value, low, high) in [
            (Wall::DrawnTube, 0.00046, 0.00046, 0.00046),
            (Wall::SmoothPlastic, 0.046, 0.009, 0.046),
            (Wall::Steel, 0.046, 0.046, 0.046),
            (Wall::Aluminium, 0.061, 0.037, 0.061),
            (Wall::Galvanised, 0.09, 0.049, 0.098),
            (Wall::Spiral, 0.12, 0.061, 0.12),
            (Wall::RibbedSpiral, 0.116, 0.088, 0.116),
            (Wall::RectangularGalvanised, 0.15, 0.082, 0.15),
            (Wall::CorrugatedSpiral, 0.91, 0.54, 0.91),
            (Wall::Concrete, 3.0, 0.3, 3.0),
        ] {
            assert_eq!(wall.roughness().unwrap(), Length::from_mm(value));
            assert_eq!(
                wall.band().unwrap(),
                [Length::from_mm(low), Length::from_mm(high)]
            );
        }
    }

    #[test]
    fn prop_a_roughness_of_ones_own_has_no_band() {
        assert_eq!(Wall::Roughness(Length::from_mm(0.3)).band(), None);
    }

    #[cfg(feature = "serde")]
    #[test]
    fn prop_both_ways_of_writing_a_wall() {
        let read = |text| serde_json::from_str::<Wall>(text);
        assert_eq!(read(r#""galvanised""#).unwrap(), Wall::Galvanised);
        let own = Wall::Roughness(Length::from_mm(0.3));
        assert_eq!(read(r#"{ "roughness": "0.3 mm" }"#).unwrap(), own);
        assert!(read(r#""velvet""#).is_err());
    }

    proptest! {
        #[test]
        fn prop_own_roughness_is_kept_or_refused(mm in any::<f64>()) {
            let own = Length::from_mm(mm);
            match Wall::Roughness(own).roughness() {
                Ok(kept) => prop_assert!(kept == own && own.as_mm() >= 0.0),
                Err(e) => prop_assert!(e.max == 10.0),
            }
        }
    }
}
