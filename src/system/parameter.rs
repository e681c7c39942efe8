//! Which number of an element: the one name that assumptions, sensitivities and estimates share.

use std::fmt;

/// Which number of an element: the one name that assumptions, sensitivities and estimates share.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "snake_case")
)]
#[non_exhaustive]
pub enum Parameter {
    /// Height above sea level \[m\].
    Altitude,
    /// Absolute barometric pressure \[Pa\].
    Barometer,
    /// Temperature \[K\].
    Temperature,
    /// Relative humidity as a fraction \[-\].
    Humidity,
    /// Density of the air \[kg/m3\]; of moist air it follows from the weather.
    Density,
    /// Dynamic viscosity of the air \[Pa s\]; of moist air it follows from the weather.
    Viscosity,
    /// Speed of the fan over that of its curve \[-\]: 1 as the model stands.
    Speed,
    /// Shape of a fan curve known only by its ends: flow at half the largest pressure over the
    /// largest flow \[-\].
    Shape,
    /// What the loss of a part, or the pressure of a fan, is multiplied by \[-\]: 1 as the model
    /// stands. How far a formula may be off.
    Factor,
    /// Loss coefficient \[-\].
    K,
    /// Loss coefficient of a join on top of its junction's model \[-\].
    ExtraK,
    /// Inner diameter \[m\].
    Diameter,
    /// Inner width of a rectangular bore \[m\].
    Width,
    /// Inner height of a rectangular bore \[m\].
    Height,
    /// Length \[m\].
    Length,
    /// Roughness of a wall \[m\].
    Roughness,
    /// Angle of a join, elbow, bend, cone or taper \[deg\].
    Angle,
    /// Radius of the centre line of a bend over the diameter \[-\].
    RadiusRatio,
    /// Length from one corrugation of a hose to the next \[m\].
    Pitch,
    /// Share of its full length that a hose has lost to slack \[-\].
    Compression,
    /// Friction of a hose over that of smooth duct \[-\].
    HoseFactor,
    /// Opening of a gate as a share of full travel \[-\].
    Opening,
    /// Area through which a shut gate leaks, or of a hole \[m2\].
    LeakArea,
    /// Flow of a tested leak at 1 Pa \[m3/s\].
    LeakFlow,
    /// Exponent of a tested leak \[-\].
    Exponent,
    /// Leak of duct walls \[m3/s per m2 of wall at 1 Pa\].
    Leakage,
    /// Pressure drop at a rated flow \[Pa\].
    Drop,
    /// Share of a rated pressure drop that follows flow \[Pa\].
    LinearDrop,
    /// Share of a rated pressure drop that follows the square of flow \[Pa\].
    QuadraticDrop,
    /// Area of filter cloth, or of the slots of a hood \[m2\].
    Area,
    /// Frazier permeability of filter cloth \[cfm/ft2 at 0.5 in wg\].
    Permeability,
    /// Dust on filter cloth \[kg/m2\].
    DustLoad,
    /// Specific resistance K2 of that dust \[1/s\].
    CakeResistance,
    /// Required flow \[m3/s\]; no flow depends on it.
    Required,
}

impl Parameter {
    /// The unit of its values, with a leading space; empty for a pure number.
    #[must_use]
    pub const fn unit(self) -> &'static str {
        match self {
            Self::Altitude
            | Self::Diameter
            | Self::Width
            | Self::Height
            | Self::Length
            | Self::Roughness
            | Self::Pitch => " m",
            Self::Barometer | Self::Drop | Self::LinearDrop | Self::QuadraticDrop => " Pa",
            Self::Temperature => " K",
            Self::Density => " kg/m3",
            Self::Viscosity => " Pa s",
            Self::Angle => " deg",
            Self::LeakArea | Self::Area => " m2",
            Self::LeakFlow | Self::Required => " m3/s",
            Self::Leakage => " m3/s per m2",
            Self::Permeability => " cfm/ft2",
            Self::DustLoad => " kg/m2",
            Self::CakeResistance => " 1/s",
            Self::Humidity
            | Self::Speed
            | Self::Shape
            | Self::Factor
            | Self::K
            | Self::ExtraK
            | Self::RadiusRatio
            | Self::Compression
            | Self::HoseFactor
            | Self::Opening
            | Self::Exponent => "",
        }
    }

    /// Whether it is a side of a bore, which more than its own section feels.
    pub(crate) const fn is_of_bore(self) -> bool {
        matches!(self, Self::Diameter | Self::Width | Self::Height)
    }

    /// What its values can be at all, for draws that must not leave it; the laws judge more
    /// narrowly.
    pub(crate) const fn range(self) -> [f64; 2] {
        match self {
            Self::Altitude => [-500.0, 5000.0],
            Self::Temperature => [233.15, 333.15],
            Self::Humidity => [0.0, 1.0],
            Self::Shape => [0.2, 0.95],
            Self::Angle => [0.0, 180.0],
            Self::RadiusRatio => [0.5, 100.0],
            Self::Compression => [0.0, 0.95],
            Self::HoseFactor => [1.0, 20.0],
            // Shut it would be another system.
            Self::Opening => [0.01, 1.0],
            Self::Exponent => [0.5, 1.0],
            Self::ExtraK => [f64::NEG_INFINITY, f64::INFINITY],
            _ => [0.0, f64::INFINITY],
        }
    }

    /// A usual size of its values, in its unit: what a small change of one that is 0 is told by.
    pub(crate) const fn usual(self) -> f64 {
        match self {
            Self::Altitude => 1e3,
            Self::Barometer => 1e5,
            Self::Temperature => 300.0,
            Self::Viscosity => 1e-5,
            Self::Diameter | Self::Width | Self::Height => 0.1,
            Self::Roughness => 1e-4,
            Self::Angle => 45.0,
            Self::Pitch => 0.01,
            Self::LeakArea | Self::LeakFlow => 1e-4,
            Self::Leakage => 1e-5,
            Self::Drop | Self::LinearDrop | Self::QuadraticDrop => 100.0,
            Self::Area | Self::DustLoad => 0.1,
            Self::Permeability => 10.0,
            Self::CakeResistance => 1e4,
            Self::Humidity
            | Self::Density
            | Self::Speed
            | Self::Shape
            | Self::Factor
            | Self::K
            | Self::ExtraK
            | Self::Length
            | Self::RadiusRatio
            | Self::Compression
            | Self::HoseFactor
            | Self::Opening
            | Self::Exponent
            | Self::Required => 1.0,
        }
    }
}

impl fmt::Display for Parameter {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Self::Altitude => "altitude",
            Self::Barometer => "barometer",
            Self::Temperature => "temperature",
            Self::Humidity => "relative humidity",
            Self::Density => "density",
            Self::Viscosity => "viscosity",
            Self::Speed => "speed over that of the curve",
            Self::Shape => "shape of the curve",
            Self::Factor => "factor",
            Self::K => "loss coefficient",
            Self::ExtraK => "extra loss coefficient",
            Self::Diameter => "diameter",
            Self::Width => "width",
            Self::Height => "height",
            Self::Length => "length",
            Self::Roughness => "roughness",
            Self::Angle => "angle",
            Self::RadiusRatio => "radius over diameter",
            Self::Pitch => "pitch",
            Self::Compression => "compression",
            Self::HoseFactor => "friction over smooth",
            Self::Opening => "opening",
            Self::LeakArea => "leak area",
            Self::LeakFlow => "leak at 1 Pa",
            Self::Exponent => "exponent of the leak",
            Self::Leakage => "leakage of the walls",
            Self::Drop => "pressure drop",
            Self::LinearDrop => "linear pressure drop",
            Self::QuadraticDrop => "quadratic pressure drop",
            Self::Area => "area",
            Self::Permeability => "permeability",
            Self::DustLoad => "dust load",
            Self::CakeResistance => "resistance of the dust",
            Self::Required => "required flow",
        })
    }
}
