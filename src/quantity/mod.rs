//! Quantities with units: small `Copy` types at the boundary of the crate, plain `f64` within.
//!
//! `table` says which units there are and why each factor is what it is, `text` how a quantity
//! is read and written; the macros here make the types out of the tables.

/// How a unit stands to the base unit of its quantity: `base = (value * num + offset) / den`.
///
/// `num` and `den` are whole numbers wherever the definition allows it, so that a short decimal
/// number is multiplied exactly and the result is rounded once, in the division.
#[derive(Debug)]
struct Scale {
    num: f64,
    offset: f64,
    den: f64,
}

impl Scale {
    const fn to_base(&self, value: f64) -> f64 {
        let scaled = value * self.num;
        // Adding a zero would turn -0 into 0.
        if self.offset == 0.0 {
            scaled / self.den
        } else {
            (scaled + self.offset) / self.den
        }
    }

    const fn of_base(&self, base: f64) -> f64 {
        (base * self.den - self.offset) / self.num
    }
}

/// One row of a table.
#[derive(Debug)]
struct Unit {
    symbol: &'static str,
    /// What is read besides the symbol.
    spellings: &'static [&'static str],
    scale: Scale,
    /// Whether `Display` may choose this unit.
    written: bool,
}

/// All units of one quantity; the first is the base unit, the one that is stored.
#[derive(Debug)]
struct Table {
    units: &'static [Unit],
    /// The symbols, for error messages.
    list: &'static str,
}

/// Makes a quantity out of its table.
///
/// A row is: constructor, getter, symbol `[further spellings]`, factor to the base unit as
/// `num / den` (and an offset, see [`Scale`]), source of the factor. `@read` before a row keeps
/// `Display` from choosing that unit.
macro_rules! quantity {
    (
        $(#[$attribute:meta])*
        $Quantity:ident in $base:literal {
            $(
                $(@$read_only:ident)? $from:ident $as:ident
                $symbol:literal [$($spelling:literal)*]
                $num:literal / $den:tt $(offset $offset:literal)?, $source:literal;
            )+
        }
    ) => {
        $(#[$attribute])*
        ///
        /// # Units
        ///
        /// The first is the one stored. One further down is stored as that number times the
        /// factor (with an offset: as (number * numerator + offset) / denominator).
        ///
        #[doc = concat!("| unit | also read | factor to ", $base, " | source |")]
        /// |---|---|---|---|
        $(
            #[doc = concat!(
                "| `", $symbol, "` | ", $("`", $spelling, "` ",)* "| ",
                stringify!($num), " / ", stringify!($den), $(", offset ", stringify!($offset),)?
                " | ", $source, $(" (", stringify!($read_only), ", never chosen by `Display`)",)? " |",
            )]
        )+
        ///
        /// # Text
        ///
        /// `FromStr`, `Display` and serde speak one format, described at [`QuantityError`].
        /// `Display` chooses the unit with the shortest text that reads back to the same bits
        /// (of equals the first in the table), honours width and alignment, and ignores a
        /// precision; for a rounded number format what a getter returns.
        #[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default)]
        pub struct $Quantity(f64);

        impl $Quantity {
            const TABLE: Table = Table {
                units: &[$(
                    Unit {
                        symbol: $symbol,
                        spellings: &[$($spelling),*],
                        scale: quantity!(@scale $num, $den $(, $offset)?),
                        written: {
                            let marks: &[&str] = &[$(stringify!($read_only))?];
                            marks.is_empty()
                        },
                    },
                )+],
                list: concat!($($symbol, ", "),+).split_at(
                    concat!($($symbol, ", "),+).len() - ", ".len()
                ).0,
            };

            $(
                #[doc = concat!(
                    "From a number of `", $symbol, "`. Takes any `f64`: range and finiteness are \
                    judged where the quantity is used."
                )]
                #[must_use]
                pub const fn $from(value: f64) -> Self {
                    const SCALE: Scale = quantity!(@scale $num, $den $(, $offset)?);
                    Self(SCALE.to_base(value))
                }

                #[doc = concat!("The number of `", $symbol, "`.")]
                #[must_use]
                pub const fn $as(self) -> f64 {
                    const SCALE: Scale = quantity!(@scale $num, $den $(, $offset)?);
                    SCALE.of_base(self.0)
                }
            )+

            /// Whether the value is neither infinite nor NaN.
            #[must_use]
            pub const fn is_finite(self) -> bool {
                self.0.is_finite()
            }
        }

        impl std::str::FromStr for $Quantity {
            type Err = QuantityError;

            fn from_str(text: &str) -> Result<Self, QuantityError> {
                text::read(text, &Self::TABLE).map(Self)
            }
        }

        impl std::fmt::Display for $Quantity {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                text::write(self.0, &Self::TABLE, f)
            }
        }

        /// Written as its text; a non-finite value is an error.
        #[cfg(feature = "serde")]
        impl serde::Serialize for $Quantity {
            fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
                text::serialize(self.0, &Self::TABLE, serializer)
            }
        }

        /// Read from its text; a bare number is an error that lists the units.
        #[cfg(feature = "serde")]
        impl<'de> serde::Deserialize<'de> for $Quantity {
            fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
                text::deserialize(&Self::TABLE, deserializer).map(Self)
            }
        }
    };
    (@scale $num:literal, $den:tt) => { quantity!(@scale $num, $den, 0.0) };
    (@scale $num:literal, $den:tt, $offset:literal) => {
        Scale { num: $num, offset: $offset, den: $den }
    };
}

/// Multiples of a quantity and the ratio of two.
macro_rules! multiples {
    ($($Quantity:ident)+) => { $(
        impl std::ops::Mul<f64> for $Quantity {
            type Output = Self;

            fn mul(self, factor: f64) -> Self {
                Self(self.0 * factor)
            }
        }

        impl std::ops::Mul<$Quantity> for f64 {
            type Output = $Quantity;

            fn mul(self, quantity: $Quantity) -> $Quantity {
                quantity * self
            }
        }

        impl std::ops::Div<f64> for $Quantity {
            type Output = Self;

            fn div(self, divisor: f64) -> Self {
                Self(self.0 / divisor)
            }
        }

        /// The ratio of the two.
        impl std::ops::Div for $Quantity {
            type Output = f64;

            fn div(self, other: Self) -> f64 {
                self.0 / other.0
            }
        }
    )+ };
}

/// Sums and differences of a quantity.
macro_rules! sums {
    ($($Quantity:ident)+) => { $(
        impl std::ops::Add for $Quantity {
            type Output = Self;

            fn add(self, other: Self) -> Self {
                Self(self.0 + other.0)
            }
        }

        impl std::ops::Sub for $Quantity {
            type Output = Self;

            fn sub(self, other: Self) -> Self {
                Self(self.0 - other.0)
            }
        }

        impl std::ops::Neg for $Quantity {
            type Output = Self;

            fn neg(self) -> Self {
                Self(-self.0)
            }
        }

        impl std::iter::Sum for $Quantity {
            fn sum<I: Iterator<Item = Self>>(terms: I) -> Self {
                terms.fold(Self(0.0), |sum, term| sum + term)
            }
        }
    )+ };
}

mod table;
mod text;
mod unit_system;

pub use table::{
    Angle, Area, Density, DynamicViscosity, Length, Power, Pressure, RotationalSpeed, Temperature,
    Velocity, VolumeFlow,
};
pub use text::QuantityError;
pub use unit_system::UnitSystem;
