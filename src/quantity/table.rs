//! The units: one table per quantity.
//!
//! Every customary factor follows from five exact definitions: the international foot, 0.3048 m,
//! and its twelfth, the inch; the pound, 0.45359237 kg; standard gravity, 9.80665 m/s2; water of
//! 1000 kg/m3 for the conventional column; 60 seconds to the minute. The definitions are told
//! from memory; `tests/behaviour/quantity.rs` holds each factor against them, against the seven
//! digits of NIST Special Publication 811, appendix B.8, and against an independent crate.

use super::{QuantityError, Scale, Table, Unit, text};
use std::f64::consts::PI;

quantity! {
    /// A length: diameters, runs of duct, wall roughness.
    ///
    /// ```
    /// use airsplit::Length;
    /// let port: Length = "6 1/2 in".parse()?;
    /// assert_eq!(port, Length::from_in(6.5));
    /// assert_eq!(port.to_string(), "6.5 in");
    /// assert_eq!(format!("{:.1} mm", port.as_mm()), "165.1 mm");
    /// # Ok::<(), airsplit::QuantityError>(())
    /// ```
    Length in "m" {
        from_m  as_m  "m"  []                         1.0 / 1.0,        "base unit";
        from_mm as_mm "mm" []                         1.0 / 1_000.0,    "SI prefix";
        from_in as_in "in" ["\"" "″" "inch" "inches"] 254.0 / 10_000.0, "inch, 25.4 mm";
        from_ft as_ft "ft" ["'" "′" "foot" "feet"]    3_048.0 / 10_000.0, "foot, 0.3048 m";
        @read from_cm as_cm "cm" []                   1.0 / 100.0,      "SI prefix";
    }
}

quantity! {
    /// An area: cross-sections, leaks, filter cloth.
    Area in "m2" {
        from_m2  as_m2  "m2"  ["m²" "m^2"]   1.0 / 1.0,         "base unit";
        from_cm2 as_cm2 "cm2" ["cm²" "cm^2"] 1.0 / 10_000.0,    "SI prefix";
        from_mm2 as_mm2 "mm2" ["mm²" "mm^2"] 1.0 / 1_000_000.0, "SI prefix";
        from_ft2 as_ft2 "ft2" ["ft²" "ft^2" "sq ft"] 9_290_304.0 / 100_000_000.0, "(0.3048 m)²";
        from_in2 as_in2 "in2" ["in²" "in^2" "sq in"] 64_516.0 / 100_000_000.0,    "(0.0254 m)²";
    }
}

quantity! {
    /// A speed of air.
    Velocity in "m/s" {
        from_m_s as_m_s "m/s" []               1.0 / 1.0,           "base unit";
        from_fpm as_fpm "fpm" ["FPM" "ft/min"] 3_048.0 / 600_000.0, "0.3048 m / 60 s";
    }
}

quantity! {
    /// A flow of air, as the volume it has on the spot.
    ///
    /// ```
    /// use airsplit::VolumeFlow;
    /// let planer: VolumeFlow = "785 cfm".parse()?;
    /// let saw = VolumeFlow::from_m3_h(600.0);
    /// assert_eq!(format!("{:.0} cfm", (planer + saw).as_cfm()), "1138 cfm");
    /// # Ok::<(), airsplit::QuantityError>(())
    /// ```
    VolumeFlow in "m3/s" {
        from_m3_s as_m3_s "m3/s" ["m³/s" "m^3/s"] 1.0 / 1.0,     "base unit";
        from_m3_h as_m3_h "m3/h" ["m³/h" "m^3/h"] 1.0 / 3_600.0, "3600 s to the hour";
        from_l_s  as_l_s  "L/s"  ["l/s"]          1.0 / 1_000.0, "litre, 0.001 m3";
        from_cfm  as_cfm  "cfm"  ["CFM" "ft3/min" "ft³/min" "ft^3/min"]
            28_316_846_592.0 / 60_000_000_000_000.0, "(0.3048 m)³ / 60 s";
    }
}

quantity! {
    /// A pressure or a difference of pressures; what it is measured from stands in the name of
    /// the field that holds it.
    ///
    /// `in wg` is the conventional inch of water: 1000 kg/m3 under standard gravity,
    /// 249.08891 Pa. Inches of water said to be at 60 F or 68 F are about 0.1 to 0.2 % less.
    Pressure in "Pa" {
        from_pa    as_pa    "Pa"    []      1.0 / 1.0,     "base unit";
        from_kpa   as_kpa   "kPa"   []      1_000.0 / 1.0, "SI prefix";
        from_in_wg as_in_wg "in wg" ["in.wg" "inwg" "in. wg" "in w.g." "in.w.g." "in. w.g." "in wc" "inH2O" "in H2O" "inH₂O" "in H₂O"]
            24_908_891.0 / 100_000.0, "1000 kg/m3 * 9.80665 m/s2 * 0.0254 m";
        from_mm_wg as_mm_wg "mm wg" ["mm.wg" "mmwg" "mm w.g." "mm.w.g." "mm wc" "mmH2O" "mm H2O" "mmH₂O" "mm H₂O"]
            980_665.0 / 100_000.0,    "1000 kg/m3 * 9.80665 m/s2 * 0.001 m";
        // For barometers. Chosen by `Display`, it would turn "600 Pa" into "6 hPa".
        @read from_hpa as_hpa "hPa" ["mbar"] 100.0 / 1.0, "SI prefix";
    }
}

quantity! {
    /// A density of air.
    Density in "kg/m3" {
        from_kg_m3  as_kg_m3  "kg/m3"  ["kg/m³" "kg/m^3"]   1.0 / 1.0, "base unit";
        from_lb_ft3 as_lb_ft3 "lb/ft3" ["lb/ft³" "lb/ft^3" "lbm/ft3"]
            453_592_370_000.0 / 28_316_846_592.0, "0.45359237 kg / (0.3048 m)³";
    }
}

impl Density {
    /// The standard air of American fan tables, 0.075 lb/ft3 (about 1.2014 kg/m3): dry air at
    /// 70 F and 14.7 psi. Common practice, no source.
    pub const STANDARD_AIR: Self = Self::from_lb_ft3(0.075);
}

quantity! {
    /// A dynamic viscosity; that of room air is about 1.8e-5 Pa s.
    DynamicViscosity in "Pa s" {
        from_pa_s as_pa_s "Pa s" ["Pa.s" "Pa·s" "Pa*s"] 1.0 / 1.0, "base unit";
    }
}

quantity! {
    /// A temperature on its scale, not a difference of two: it has no sums and no multiples.
    ///
    /// ```
    /// use airsplit::Temperature;
    /// let room: Temperature = "68 °F".parse()?;
    /// assert_eq!(room, Temperature::from_celsius(20.0));
    /// assert_eq!(room.to_string(), "20 C");
    /// # Ok::<(), airsplit::QuantityError>(())
    /// ```
    Temperature in "K" {
        from_k          as_k          "K" []     1.0 / 1.0, "base unit";
        from_celsius    as_celsius    "C" ["°C"] 1.0 / 1.0 offset 273.15, "0 C is 273.15 K";
        from_fahrenheit as_fahrenheit "F" ["°F"] 500.0 / 900.0 offset 229_835.0,
            "0 F is 459.67 * 5/9 K, a degree 5/9 K";
    }
}

quantity! {
    /// A power: of the air, of the shaft, of the motor.
    ///
    /// The factor of the horsepower has 56 bits; it alone is rounded to fit an `f64`
    /// (by 3e-17 of itself, less than any result is rounded).
    Power in "W" {
        from_w  as_w  "W"  []          1.0 / 1.0,     "base unit";
        from_kw as_kw "kW" ["KW"]      1_000.0 / 1.0, "SI prefix";
        from_hp as_hp "hp" ["HP" "Hp"] 37_284_993_579_113_512.0 / 50_000_000_000_000.0,
            "550 * 0.3048 m * 0.45359237 kg * 9.80665 m/s2 / s";
    }
}

quantity! {
    /// An angle: of an elbow, of a branch to the main.
    ///
    /// Kept in degrees, as it is tabulated and typed: in radians 30 degrees would come back as
    /// 29.999999999999996.
    Angle in "deg" {
        from_deg as_deg "deg" ["°" "degree" "degrees"] 1.0 / 1.0,  "base unit";
        from_rad as_rad "rad" []                       180.0 / PI, "half a turn is pi";
    }
}

quantity! {
    /// A speed of rotation.
    ///
    /// Kept in revolutions per minute, as name plates give it: in 1/s 62 rpm would come back
    /// inexact.
    RotationalSpeed in "rpm" {
        from_rpm as_rpm "rpm" ["RPM" "1/min" "r/min" "rev/min"] 1.0 / 1.0, "base unit";
        @read from_per_s as_per_s "1/s" ["r/s" "rev/s"]         60.0 / 1.0, "60 s to the minute";
    }
}

multiples! {
    Length Area Velocity VolumeFlow Pressure Density DynamicViscosity Power Angle RotationalSpeed
}
// Neither densities nor viscosities of two airs add up to anything, nor do speeds of two fans.
sums! { Length Area Velocity VolumeFlow Pressure Power Angle }

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const TABLES: [&Table; 11] = [
        &Length::TABLE,
        &Area::TABLE,
        &Velocity::TABLE,
        &VolumeFlow::TABLE,
        &Pressure::TABLE,
        &Density::TABLE,
        &DynamicViscosity::TABLE,
        &Temperature::TABLE,
        &Power::TABLE,
        &Angle::TABLE,
        &RotationalSpeed::TABLE,
    ];

    #[test]
    fn prop_every_spelling_is_read_as_its_own_unit() {
        for table in TABLES {
            for unit in table.units {
                for spelling in unit.spellings.iter().chain([&unit.symbol]) {
                    let expected = Ok(unit.scale.to_base(3.5));
                    let apart = format!(" 3.5  {spelling} ");
                    assert_eq!(text::read(&apart, table), expected, "{apart}");
                    // "3.51/s" would be another number.
                    if !spelling.starts_with(|c: char| c.is_ascii_digit()) {
                        let joined = format!("3.5{spelling}");
                        assert_eq!(text::read(&joined, table), expected, "{joined}");
                    }
                }
            }
        }
    }

    #[test]
    fn prop_the_base_unit_is_the_first_and_lengths_of_symbols_are_their_bytes() {
        for table in TABLES {
            let Scale { num, offset, den } = table.units[0].scale;
            assert_eq!((num, offset, den), (1.0, 0.0, 1.0));
            assert!(table.units[0].written);
            assert!(table.units.iter().all(|unit| unit.symbol.is_ascii()));
            let spellings = table.units.iter().flat_map(|unit| unit.spellings);
            assert!({ spellings }.all(|spelling| spelling.split(' ').count() <= 2));
            let symbols: Vec<_> = table.units.iter().map(|unit| unit.symbol).collect();
            assert_eq!(table.list, symbols.join(", "));
        }
    }

    /// Any finite bits, subnormal numbers, and numbers of daily size.
    fn finite() -> impl Strategy<Value = f64> {
        let subnormal = (any::<bool>(), 0..1_u64 << 52)
            .prop_map(|(negative, bits)| f64::from_bits(u64::from(negative) << 63 | bits));
        prop_oneof![any::<u64>().prop_map(f64::from_bits), subnormal, -1e6..1e6]
            .prop_filter("finite", |value| value.is_finite())
    }

    proptest! {
        #[test]
        fn prop_text_reads_back_to_the_same_bits(value in finite()) {
            for table in TABLES {
                for unit in table.units {
                    // What a constructor makes of it, and in the base unit any bits at all.
                    let base = unit.scale.to_base(value);
                    if base.is_finite() {
                        let text = text::shortest(base, table);
                        let read = text::read(&text, table).map(f64::to_bits);
                        prop_assert_eq!(read, Ok(base.to_bits()), "{}", text);
                    }
                }
            }
        }

        #[test]
        fn prop_a_typed_number_never_comes_back_longer(
            digits in -999_999..=999_999_i32,
            decimals in 0..=4_i32,
        ) {
            let number = f64::from(digits) / 10_f64.powi(decimals);
            for table in TABLES {
                for unit in table.units.iter().filter(|unit| unit.written) {
                    let typed = format!("{number} {}", unit.symbol);
                    let back = text::shortest(text::read(&typed, table).unwrap(), table);
                    prop_assert!(back.len() <= typed.len(), "{typed} -> {back}");
                }
            }
        }
    }

    #[test]
    fn prop_eighths_never_come_back_longer() {
        for table in TABLES {
            for unit in table.units.iter().filter(|unit| unit.written) {
                for eighths in 1..4_000 {
                    let typed = format!("{} {}", f64::from(eighths) / 8.0, unit.symbol);
                    let back = text::shortest(text::read(&typed, table).unwrap(), table);
                    assert!(back.len() <= typed.len(), "{typed} -> {back}");
                }
            }
        }
    }

    #[test]
    fn prop_whole_degrees_and_revolutions_come_back_exact() {
        for n in -273..=400 {
            let n = f64::from(n);
            assert_eq!(Angle::from_deg(n).as_deg(), n);
            assert_eq!(RotationalSpeed::from_rpm(n).as_rpm(), n);
        }
        // Below -17 C the kelvins leave their power of two and the last bit goes.
        for n in -17..=238 {
            let n = f64::from(n);
            assert_eq!(Temperature::from_celsius(n).as_celsius(), n);
        }
    }

    #[test]
    fn prop_arithmetic_is_that_of_the_numbers() {
        let [a, b] = [Length::from_m(3.0), Length::from_m(0.5)];
        assert_eq!((a + b).as_m(), 3.5);
        assert_eq!((a - b).as_m(), 2.5);
        assert_eq!((-a).as_m(), -3.0);
        assert_eq!((a * 2.0).as_m(), 6.0);
        assert_eq!(2.0 * a, a * 2.0);
        assert_eq!((a / 2.0).as_m(), 1.5);
        assert_eq!(a / b, 6.0);
        assert_eq!([a, b, b].into_iter().sum::<Length>().as_m(), 4.0);
        assert!(a > b && Length::default() == Length::from_m(0.0));
    }
}
