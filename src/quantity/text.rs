//! The text of a quantity: read, written, and handed to serde.

use super::Table;
use std::fmt;

/// Text that is no quantity: what was read, where and why it fails, and which units would do.
///
/// A quantity is a number and a unit, with or without blanks before, between and behind them.
/// The number is decimal (`6`, `0.19`, `.5`, `1.2e-5`, with a sign if need be) or a common
/// fraction (`1/2`, `6 1/2`, `9/16`). The unit is one of those listed for the type, in that
/// spelling (one that begins with a digit, `1/s`, needs a blank before it); a number alone is an error. So is a value that is not finite, or would not be in
/// the unit that is stored.
///
/// ```
/// use airsplit::Length;
/// let error = "6".parse::<Length>().unwrap_err();
/// assert_eq!(
///     error.to_string(),
///     "\"6\": a number needs a unit at character 2; accepted units: m, mm, in, ft, cm",
/// );
/// ```
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{text:?}: {what} at character {at}; accepted units: {units}")]
#[non_exhaustive]
pub struct QuantityError {
    /// What was read; of a long text the beginning.
    pub text: Box<str>,
    /// The character of the text, counted from 1, where it fails.
    pub at: usize,
    /// What is wrong there.
    pub what: &'static str,
    /// The symbols of the accepted units.
    pub units: &'static str,
}

/// How many characters of the text an error repeats.
const ECHO: usize = 40;

impl QuantityError {
    /// `rest` is the part of `text` from the fault to its end.
    fn new(text: &str, rest: &str, what: &'static str, table: &Table) -> Self {
        let before = text.get(..text.len() - rest.len()).unwrap_or(text);
        let text = match text.char_indices().nth(ECHO) {
            Some((end, _)) => format!("{}…", text.get(..end).unwrap_or_default()).into(),
            None => text.into(),
        };
        Self {
            text,
            at: before.chars().count() + 1,
            what,
            units: table.list,
        }
    }
}

const NEEDS_A_UNIT: &str = "a number needs a unit";

/// The value in the base unit.
pub(super) fn read(text: &str, table: &Table) -> Result<f64, QuantityError> {
    let fault = |rest, what| Err(QuantityError::new(text, rest, what, table));
    let start = text.trim_start();
    let Some((number, rest)) = number(start) else {
        return fault(start, "no number");
    };
    let symbol = rest.trim_start();
    if symbol.is_empty() {
        return fault(rest, NEEDS_A_UNIT);
    }
    if rest.starts_with(',') {
        return fault(rest, "a comma in a number (write 2.5 or 1200)");
    }
    let written = words(symbol);
    let Some(unit) = table.units.iter().find(|unit| {
        words(unit.symbol) == written || unit.spellings.iter().any(|s| words(s) == written)
    }) else {
        return fault(symbol, "unknown unit");
    };
    let base = unit.scale.to_base(number);
    if base.is_finite() {
        Ok(base)
    } else {
        fault(start, "no finite value")
    }
}

/// The words of a unit, however many blanks there are between them. No unit has more than two;
/// the third tells it from rubbish.
fn words(text: &str) -> [Option<&str>; 3] {
    let mut words = text.split_whitespace();
    std::array::from_fn(|_| words.next())
}

/// The number at the start of a text, and the rest.
fn number(text: &str) -> Option<(f64, &str)> {
    let magnitude = text.strip_prefix(['+', '-']).unwrap_or(text);
    let (value, rest) = fraction(magnitude).or_else(|| decimal(magnitude))?;
    Some((if text.starts_with('-') { -value } else { value }, rest))
}

/// `1/2`, or `6 1/2`.
fn fraction(text: &str) -> Option<(f64, &str)> {
    let (first, rest) = digits(text)?;
    if let Some((den, rest)) = rest.strip_prefix('/').and_then(digits) {
        return Some((first / den, rest));
    }
    let (num, rest) = digits(rest.trim_start())?;
    let (den, rest) = digits(rest.strip_prefix('/')?)?;
    Some(((first * den + num) / den, rest))
}

fn digits(text: &str) -> Option<(f64, &str)> {
    let rest = skip_digits(text);
    let value = text.strip_suffix(rest)?.parse().ok()?;
    Some((value, rest))
}

fn decimal(text: &str) -> Option<(f64, &str)> {
    let mut rest = skip_digits(text);
    rest = skip_digits(rest.strip_prefix('.').unwrap_or(rest));
    if let Some(exponent) = rest.strip_prefix(['e', 'E']) {
        let exponent = exponent.strip_prefix(['+', '-']).unwrap_or(exponent);
        // Without digits the letter belongs to the unit.
        if exponent.starts_with(|c: char| c.is_ascii_digit()) {
            rest = skip_digits(exponent);
        }
    }
    let value = text.strip_suffix(rest)?.parse().ok()?;
    Some((value, rest))
}

fn skip_digits(text: &str) -> &str {
    text.trim_start_matches(|c: char| c.is_ascii_digit())
}

/// Writes what [`shortest`] finds.
pub(super) fn write(base: f64, table: &Table, f: &mut fmt::Formatter<'_>) -> fmt::Result {
    let text = shortest(base, table);
    if f.precision().is_some() {
        // `pad` would cut the text at the precision, unit and all.
        f.write_str(&text)
    } else {
        f.pad(&text)
    }
}

/// The shortest text that reads back to the same bits; of equals the one whose unit is first.
///
/// In each unit it has the fewest digits to which the value can be rounded. Dividing by the
/// factor alone would not do: its rounding makes 5.999999999999999 out of 6 inches.
pub(super) fn shortest(base: f64, table: &Table) -> String {
    let [stored, others @ ..] = table.units else {
        return base.to_string();
    };
    let mut best = format!("{} {}", plain(base), stored.symbol);
    for unit in others.iter().filter(|unit| unit.written) {
        let value = unit.scale.of_base(base);
        for digits in 1..best.len().saturating_sub(" ".len() + unit.symbol.len()) {
            let rounded = format!("{value:.*e}", digits - 1).parse().unwrap_or(value);
            if unit.scale.to_base(rounded).to_bits() == base.to_bits() {
                let text = format!("{} {}", plain(rounded), unit.symbol);
                if text.len() < best.len() {
                    best = text;
                }
                break;
            }
        }
    }
    best
}

/// Without exponent in the range of daily use, and beyond it unless the exponent is shorter.
fn plain(value: f64) -> String {
    let plain = value.to_string();
    if value == 0.0 || (1e-4..1e7).contains(&value.abs()) {
        return plain;
    }
    let scientific = format!("{value:e}");
    if scientific.len() < plain.len() {
        scientific
    } else {
        plain
    }
}

#[cfg(feature = "serde")]
pub(super) fn serialize<S: serde::Serializer>(
    base: f64,
    table: &Table,
    serializer: S,
) -> Result<S::Ok, S::Error> {
    let text = shortest(base, table);
    if base.is_finite() {
        serializer.serialize_str(&text)
    } else {
        Err(serde::ser::Error::custom(format_args!(
            "{text} is not finite and cannot be written"
        )))
    }
}

#[cfg(feature = "serde")]
pub(super) fn deserialize<'de, D: serde::Deserializer<'de>>(
    table: &'static Table,
    deserializer: D,
) -> Result<f64, D::Error> {
    // A format that knows its types must not be told to expect text: it would refuse a bare
    // number in its own words, before we can list the units.
    if deserializer.is_human_readable() {
        deserializer.deserialize_any(TextVisitor(table))
    } else {
        deserializer.deserialize_str(TextVisitor(table))
    }
}

#[cfg(feature = "serde")]
struct TextVisitor(&'static Table);

#[cfg(feature = "serde")]
impl TextVisitor {
    fn bare<E: serde::de::Error>(&self) -> E {
        E::custom(format_args!("{NEEDS_A_UNIT}; accepted: {}", self.0.list))
    }
}

#[cfg(feature = "serde")]
impl serde::de::Visitor<'_> for TextVisitor {
    type Value = f64;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "text of a number and a unit ({})", self.0.list)
    }

    fn visit_str<E: serde::de::Error>(self, text: &str) -> Result<f64, E> {
        read(text, self.0).map_err(E::custom)
    }

    fn visit_i64<E: serde::de::Error>(self, _: i64) -> Result<f64, E> {
        Err(self.bare())
    }

    fn visit_u64<E: serde::de::Error>(self, _: u64) -> Result<f64, E> {
        Err(self.bare())
    }

    fn visit_i128<E: serde::de::Error>(self, _: i128) -> Result<f64, E> {
        Err(self.bare())
    }

    fn visit_u128<E: serde::de::Error>(self, _: u128) -> Result<f64, E> {
        Err(self.bare())
    }

    fn visit_f64<E: serde::de::Error>(self, _: f64) -> Result<f64, E> {
        Err(self.bare())
    }
}

#[cfg(test)]
mod tests {
    use crate::{
        Angle, DynamicViscosity, Length, Power, Pressure, RotationalSpeed, Temperature, VolumeFlow,
    };

    #[test]
    fn val_numbers_as_people_write_them() {
        // Arithmetic: 1/2, 1/8 and 1/16 are exact in binary.
        for (text, inches) in [
            ("6 in", 6.0),
            ("6in", 6.0),
            ("6\"", 6.0),
            ("6″", 6.0),
            ("  6\t in ", 6.0),
            ("+6 inches", 6.0),
            ("6. in", 6.0),
            (".5 in", 0.5),
            ("1/2 in", 0.5),
            ("6 1/2 in", 6.5),
            ("6 1/2\"", 6.5),
            ("-6 1/2 in", -6.5),
            ("9/16in", 0.5625),
            ("11/8 in", 1.375),
            ("6e0 in", 6.0),
            ("6E+1in", 60.0),
            ("60e-1 in", 6.0),
            ("6 ft", 72.0),
            ("6'", 72.0),
        ] {
            assert_eq!(text.parse(), Ok(Length::from_in(inches)), "{text}");
        }
        assert_eq!("57.5 1/s".parse(), Ok(RotationalSpeed::from_rpm(3450.0)));
        assert_eq!("0.19 m³/s".parse(), Ok(VolumeFlow::from_m3_s(0.19)));
        assert_eq!("20\u{a0}°C".parse(), Ok(Temperature::from_celsius(20.0)));
    }

    #[test]
    fn regress_text_is_what_people_write() {
        let texts = [
            Length::from_in(6.0).to_string(),
            Length::from_mm(152.0).to_string(),
            VolumeFlow::from_cfm(400.0).to_string(),
            VolumeFlow::from_m3_s(0.195).to_string(),
            Pressure::from_in_wg(2.5).to_string(),
            Pressure::from_pa(620.0).to_string(),
            Pressure::from_pa(600.0).to_string(),
            Temperature::from_fahrenheit(68.0).to_string(),
            Temperature::from_celsius(20.0).to_string(),
            DynamicViscosity::from_pa_s(1.2e-5).to_string(),
            Power::from_hp(5.0).to_string(),
            Angle::from_deg(90.0).to_string(),
            RotationalSpeed::from_per_s(60.0).to_string(),
        ];
        insta::assert_snapshot!(
            texts.join("; "),
            @"6 in; 152 mm; 400 cfm; 195 L/s; 2.5 in wg; 620 Pa; 600 Pa; 20 C; 20 C; 1.2e-5 Pa s; 5 hp; 90 deg; 3600 rpm"
        );
    }

    #[test]
    fn prop_width_pads_and_precision_never_cuts_the_unit() {
        let port = Length::from_in(6.0);
        assert_eq!(
            format!("{port:>6}|{port:<6}|{port:*^6}"),
            "  6 in|6 in  |*6 in*"
        );
        assert_eq!(format!("{port:.1}"), "6 in");
    }

    #[test]
    fn prop_what_is_not_finite_is_shown_and_not_read() {
        for value in [f64::INFINITY, f64::NEG_INFINITY, f64::NAN, -f64::NAN] {
            let odd = Length::from_in(value);
            assert!(!odd.is_finite());
            assert_eq!(odd.to_string(), format!("{value} m"));
            assert_eq!(
                odd.to_string().parse::<Length>().unwrap_err().what,
                "no number"
            );
        }
    }

    #[test]
    fn regress_error_texts() {
        let faults = [
            "",
            " ",
            "in",
            "nan m",
            "-inf m",
            "- 6 in",
            ".",
            "6",
            " 6.5 ",
            "1/2",
            "6 1/2",
            "6 mi",
            "6 in x",
            "6 in 3",
            "6 IN",
            "6 i n",
            "6.5 1/2 in",
            "5' 6\"",
            "1,200 mm",
            "2,5 m",
            "1e400 m",
            "1e308 ft",
            "1/0 in",
            "0/0 in",
            "6 e m",
            "0x10 m",
            "½ in",
            "6\u{0}in",
            "m 6",
        ];
        let errors = faults.map(|text| text.parse::<Length>().unwrap_err());
        assert!(
            errors
                .iter()
                .all(|error| error.units == "m, mm, in, ft, cm")
        );
        let lines = errors.map(|e| format!("{:?}: {} at {}", e.text, e.what, e.at));
        insta::assert_snapshot!(lines.join("\n"), @r#"
        "": no number at 1
        " ": no number at 2
        "in": no number at 1
        "nan m": no number at 1
        "-inf m": no number at 1
        "- 6 in": no number at 1
        ".": no number at 1
        "6": a number needs a unit at 2
        " 6.5 ": a number needs a unit at 5
        "1/2": a number needs a unit at 4
        "6 1/2": a number needs a unit at 6
        "6 mi": unknown unit at 3
        "6 in x": unknown unit at 3
        "6 in 3": unknown unit at 3
        "6 IN": unknown unit at 3
        "6 i n": unknown unit at 3
        "6.5 1/2 in": unknown unit at 5
        "5' 6\"": unknown unit at 2
        "1,200 mm": a comma in a number (write 2.5 or 1200) at 2
        "2,5 m": a comma in a number (write 2.5 or 1200) at 2
        "1e400 m": no finite value at 1
        "1e308 ft": no finite value at 1
        "1/0 in": no finite value at 1
        "0/0 in": no finite value at 1
        "6 e m": unknown unit at 3
        "0x10 m": unknown unit at 2
        "½ in": no number at 1
        "6\0in": unknown unit at 2
        "m 6": no number at 1
        "#);
        let error = "400".parse::<VolumeFlow>().unwrap_err();
        insta::assert_snapshot!(error, @r#""400": a number needs a unit at character 4; accepted units: m3/s, m3/h, L/s, cfm"#);
    }

    #[test]
    fn prop_long_hostile_text_is_an_error_that_repeats_little_of_it() {
        let n = 1_000_000;
        for text in [
            "9".repeat(n),
            " ".repeat(n),
            "é".repeat(n),
            "1/".repeat(n),
            "1 ".repeat(n),
            format!("6{}", " ".repeat(n)),
            format!("6 in{}x", " ".repeat(n)),
            format!("6 {}", "\u{10ffff}".repeat(n)),
            format!("{} m", "9".repeat(n)),
            format!("1e{} m", "9".repeat(n)),
        ] {
            let error = text.parse::<Length>().unwrap_err();
            assert!(error.text.chars().count() <= super::ECHO + 1);
            assert!(error.to_string().len() < 600);
        }
        let zeros = format!("0.{}6 m", "0".repeat(300));
        assert_eq!(zeros.parse(), Ok(Length::from_m(6e-301)));
    }
}
