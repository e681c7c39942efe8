//! Quantities against the outside: the definitions of their units, a table of factors, another
//! crate's factors, and the document formats that carry them.

use airsplit::{
    Angle, Area, Density, DynamicViscosity, Length, Power, Pressure, RotationalSpeed, Temperature,
    Velocity, VolumeFlow,
};
use approx::assert_relative_eq;

/// Every customary factor in its base unit, and the same as the product of the definitions: the
/// international foot 0.3048 m, the pound 0.45359237 kg, standard gravity 9.80665 m/s2 (exact by
/// international agreement; from memory), water of 1000 kg/m3. The products were formed exactly
/// (Python 3 `fractions`) and written out to 30 digits where they do not end.
const FACTORS: [(&str, f64, f64); 13] = [
    ("in", Length::from_in(1.0).as_m(), 0.0254),
    ("ft", Length::from_ft(1.0).as_m(), 0.3048),
    ("ft2", Area::from_ft2(1.0).as_m2(), 0.092_903_04),
    ("in2", Area::from_in2(1.0).as_m2(), 0.000_645_16),
    ("fpm", Velocity::from_fpm(1.0).as_m_s(), 0.005_08),
    (
        "cfm",
        VolumeFlow::from_cfm(1.0).as_m3_s(),
        0.000_471_947_443_2,
    ),
    ("in wg", Pressure::from_in_wg(1.0).as_pa(), 249.088_91),
    ("mm wg", Pressure::from_mm_wg(1.0).as_pa(), 9.806_65),
    #[expect(
        clippy::excessive_precision,
        reason = "the definition, not its rounding"
    )]
    (
        "lb/ft3",
        Density::from_lb_ft3(1.0).as_kg_m3(),
        16.018_463_373_960_139_579_655_070_654_6,
    ),
    #[expect(
        clippy::excessive_precision,
        reason = "the definition, not its rounding"
    )]
    ("hp", Power::from_hp(1.0).as_w(), 745.699_871_582_270_22),
    ("0 C", Temperature::from_celsius(0.0).as_k(), 273.15),
    ("32 F", Temperature::from_fahrenheit(32.0).as_k(), 273.15),
    ("212 F", Temperature::from_fahrenheit(212.0).as_k(), 373.15),
];

#[test]
fn val_factors_are_the_products_of_the_definitions_to_the_last_bit() {
    for (unit, ours, definition) in FACTORS {
        assert_eq!(ours, definition, "{unit}");
    }
}

/// Source: NIST Special Publication 811, appendix B.8 (factors to seven digits), as transcribed
/// in the unit library of `SysML` v2, `USCustomaryUnits` (generated from that appendix); read
/// there, not at NIST.
#[test]
fn val_factors_of_nist_sp_811() {
    let foot = Length::from_ft(1.0).as_m();
    let pound = Density::from_lb_ft3(1.0).as_kg_m3() * foot.powi(3);
    // The last column is half of the last digit printed; nothing where the factor is exact.
    for (unit, ours, nist, half_digit) in [
        ("foot", foot, 3.048e-1, 0.0),
        ("inch", Length::from_in(1.0).as_m(), 2.54e-2, 0.0),
        (
            "inch of water, conventional",
            Pressure::from_in_wg(1.0).as_pa(),
            2.490_889e2,
            5e-5,
        ),
        (
            "horsepower (550 ft lbf/s)",
            Power::from_hp(1.0).as_w(),
            7.456_999e2,
            5e-5,
        ),
        ("pound", pound, 4.535_924e-1, 5e-8),
        (
            "0 F",
            Temperature::from_fahrenheit(0.0).as_k(),
            229_835.0 / 900.0,
            0.0,
        ),
    ] {
        assert!(
            (ours - nist).abs() <= half_digit,
            "{unit}: {ours} for {nist}"
        );
    }
}

/// Source: the crate `uom` 0.38. Its customary factors are rounded, worst the cubic foot (2.831685e-2
/// m3, 1.2e-7 off the exact product), so no closer agreement than 2e-7 can be asked.
#[test]
fn val_factors_of_uom() {
    use uom::si::{
        angle, angular_velocity, area, dynamic_viscosity, f64 as si, length, mass_density, power,
        pressure, thermodynamic_temperature, velocity, volume_rate,
    };
    macro_rules! agree {
        ($ours:ident $from:ident $as:ident, $theirs:ident $module:ident $unit:ident $base:ident) => {
            for value in [-3.5, 0.075, 1.0, 273.0, 4_000.0] {
                let theirs = si::$theirs::new::<$module::$unit>(value);
                assert_relative_eq!(
                    $ours::$from(value).$as(),
                    theirs.get::<$module::$base>(),
                    max_relative = 2e-7,
                );
            }
        };
    }
    agree!(Length from_mm as_m, Length length millimeter meter);
    agree!(Length from_cm as_m, Length length centimeter meter);
    agree!(Length from_in as_m, Length length inch meter);
    agree!(Length from_ft as_in, Length length foot inch);
    agree!(Area from_cm2 as_m2, Area area square_centimeter square_meter);
    agree!(Area from_mm2 as_m2, Area area square_millimeter square_meter);
    agree!(Area from_ft2 as_m2, Area area square_foot square_meter);
    agree!(Area from_in2 as_ft2, Area area square_inch square_foot);
    agree!(Velocity from_fpm as_m_s, Velocity velocity foot_per_minute meter_per_second);
    agree!(VolumeFlow from_m3_h as_m3_s, VolumeRate volume_rate cubic_meter_per_hour cubic_meter_per_second);
    agree!(VolumeFlow from_l_s as_m3_s, VolumeRate volume_rate liter_per_second cubic_meter_per_second);
    agree!(VolumeFlow from_cfm as_m3_h, VolumeRate volume_rate cubic_foot_per_minute cubic_meter_per_hour);
    agree!(Pressure from_kpa as_pa, Pressure pressure kilopascal pascal);
    agree!(Pressure from_hpa as_pa, Pressure pressure hectopascal pascal);
    agree!(Pressure from_in_wg as_pa, Pressure pressure inch_of_water pascal);
    agree!(Pressure from_mm_wg as_in_wg, Pressure pressure millimeter_of_water inch_of_water);
    agree!(Density from_lb_ft3 as_kg_m3, MassDensity mass_density pound_per_cubic_foot kilogram_per_cubic_meter);
    agree!(DynamicViscosity from_pa_s as_pa_s, DynamicViscosity dynamic_viscosity pascal_second pascal_second);
    agree!(Temperature from_celsius as_k, ThermodynamicTemperature thermodynamic_temperature degree_celsius kelvin);
    agree!(Temperature from_fahrenheit as_celsius, ThermodynamicTemperature thermodynamic_temperature degree_fahrenheit degree_celsius);
    agree!(Power from_kw as_w, Power power kilowatt watt);
    agree!(Power from_hp as_w, Power power horsepower watt);
    agree!(Angle from_deg as_rad, Angle angle degree radian);
    agree!(RotationalSpeed from_rpm as_per_s, AngularVelocity angular_velocity revolution_per_minute revolution_per_second);
}

#[test]
fn val_standard_air() {
    // 0.075 lb/ft3, also told as 1.2014 kg/m3: common practice, no source.
    assert!((Density::STANDARD_AIR.as_kg_m3() - 1.2014).abs() < 5e-5);
    assert_eq!("0.075 lb/ft3".parse(), Ok(Density::STANDARD_AIR));
}

#[cfg(feature = "serde")]
mod documents {
    use super::*;
    use serde::{Deserialize, Serialize};

    #[derive(Debug, PartialEq, Serialize, Deserialize)]
    struct Fan {
        port: Length,
        flow: VolumeFlow,
        pressure: Pressure,
        speed: RotationalSpeed,
        air: Temperature,
        cut: Option<Angle>,
    }

    #[test]
    fn prop_toml_and_json_read_back_what_was_written() {
        let text = r#"port = "6 in"
flow = "400 cfm"
pressure = "2.5 in wg"
speed = "3450 rpm"
air = "20 C"
cut = "22.5 deg"
"#;
        let fan: Fan = toml::from_str(text).unwrap();
        assert_eq!(fan.port, Length::from_in(6.0));
        assert_eq!(toml::to_string(&fan).unwrap(), text);
        let json = serde_json::to_string(&fan).unwrap();
        assert_eq!(serde_json::from_str::<Fan>(&json).unwrap(), fan);
        // Not borrowed from the input: a reader and an escaped text.
        assert_eq!(
            serde_json::from_reader::<_, Fan>(json.as_bytes()).unwrap(),
            fan
        );
        assert_eq!(
            serde_json::from_str::<Length>(r#""6\"""#).unwrap(),
            fan.port
        );
    }

    #[test]
    fn regress_what_a_document_may_not_hold() {
        let refused = |json: &str| {
            serde_json::from_str::<Pressure>(json)
                .unwrap_err()
                .to_string()
        };
        insta::assert_snapshot!(refused("620"), @"a number needs a unit; accepted: Pa, kPa, in wg, mm wg, hPa at line 1 column 3");
        assert!(refused("-620").starts_with("a number needs a unit; accepted: Pa"));
        assert!(refused("2.5").starts_with("a number needs a unit; accepted: Pa"));
        insta::assert_snapshot!(refused(r#""2.5 psi""#), @r#""2.5 psi": unknown unit at character 5; accepted units: Pa, kPa, in wg, mm wg, hPa at line 1 column 9"#);
        insta::assert_snapshot!(refused("true"), @"invalid type: boolean `true`, expected text of a number and a unit (Pa, kPa, in wg, mm wg, hPa) at line 1 column 4");
        let bare = toml::from_str::<Fan>("port = 6\n").unwrap_err();
        insta::assert_snapshot!(bare.message(), @"a number needs a unit; accepted: m, mm, in, ft, cm");
        assert!(bare.to_string().contains("line 1, column 8"));
        for value in [f64::NAN, f64::INFINITY] {
            assert!(
                toml::to_string(&Fan {
                    port: Length::from_in(value),
                    flow: VolumeFlow::default(),
                    pressure: Pressure::default(),
                    speed: RotationalSpeed::default(),
                    air: Temperature::default(),
                    cut: None,
                })
                .is_err()
            );
        }
        let written = serde_json::to_string(&Power::from_hp(f64::NAN)).unwrap_err();
        insta::assert_snapshot!(written, @"NaN W is not finite and cannot be written");
    }
}
