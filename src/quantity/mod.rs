//! Provisional: replaced by the quantity floor.
#![allow(missing_docs, clippy::all, reason = "provisional")]
//! One macro, one table per quantity. Factors are exact ratios (num, den), so "6 in" -> 6*254/10000 rounds once.
use std::{fmt, str::FromStr};
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{text:?}: {what} at character {at}; accepted units: {units}")]
pub struct QuantityError {
    pub text: Box<str>,
    pub at: usize,
    pub what: &'static str,
    pub units: &'static str,
}
macro_rules! quantity { ($(#[$d:meta])* $T:ident, $units:literal, $( $from:ident $as_:ident $sym:literal [$($alias:literal)*] $num:literal / $den:literal ),+ $(,)?) => {
    $(#[$d])* #[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default)] pub struct $T(f64);
    impl $T {
        $( pub const fn $from(v: f64) -> Self { Self(v * $num / $den) }  pub const fn $as_(self) -> f64 { self.0 * $den / $num } )+
        const TABLE: &'static [(&'static str, &'static [&'static str], f64, f64)] = &[ $( ($sym, &[$($alias),*], $num, $den) ),+ ];
        pub const fn is_finite(self) -> bool { self.0.is_finite() }
    }
    impl FromStr for $T { type Err = QuantityError; fn from_str(s: &str) -> Result<Self, QuantityError> {
        let t = s.trim(); let cut = t.find(|c: char| !(c.is_ascii_digit() || matches!(c, '.' | '-' | '+'))).unwrap_or(t.len());
        let err = |at, what| QuantityError { text: s.into(), at, what, units: $units };
        let v: f64 = t[..cut].parse().map_err(|_| err(0, "no number"))?; let u = t[cut..].trim();
        if u.is_empty() { return Err(err(cut, "a number needs a unit")); }
        for (sym, alias, num, den) in Self::TABLE { if *sym == u || alias.contains(&u) { return Ok(Self(v * num / den)); } }
        Err(err(cut, "unknown unit")) } }
    /// The accepted unit whose shortest decimal reads back to the same bits ("6 in", "152 mm"); ties go to the first (SI).
    impl fmt::Display for $T { fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut best = (usize::MAX, String::new());
        for (sym, _, num, den) in Self::TABLE { let v = self.0 * den / num;
            // fewest digits whose text reads back to the same bits (the division alone may miss by an ulp)
            for digits in 0..17 { let w: f64 = format!("{v:.digits$e}").parse().unwrap_or(v); if w * num / den == self.0 { let s = format!("{w} {sym}"); if s.len() < best.0 { best = (s.len(), s) } break; } } }
        f.write_str(&best.1) } }
    #[cfg(feature = "serde")] impl serde::Serialize for $T { fn serialize<S: serde::Serializer>(&self, s: S) -> Result<S::Ok, S::Error> { s.collect_str(self) } }
    #[cfg(feature = "serde")] impl<'de> serde::Deserialize<'de> for $T { fn deserialize<D: serde::Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        let s = <std::borrow::Cow<'de, str> as serde::Deserialize>::deserialize(d)?; s.parse().map_err(serde::de::Error::custom) } }
}}
quantity!(/// Length.
    Length, "m, mm, in, ft", from_m as_m "m" [] 1.0/1.0, from_mm as_mm "mm" [] 1.0/1000.0, from_in as_in "in" ["\"" "inch"] 254.0/10000.0, from_ft as_ft "ft" ["'"] 3048.0/10000.0);
quantity!(Area, "m2, ft2", from_m2 as_m2 "m2" ["m²"] 1.0/1.0, from_ft2 as_ft2 "ft2" [] 9290304.0/100000000.0);
quantity!(Velocity, "m/s, fpm", from_m_s as_m_s "m/s" [] 1.0/1.0, from_fpm as_fpm "fpm" ["ft/min"] 508.0/100000.0);
quantity!(VolumeFlow, "m3/s, m3/h, L/s, cfm", from_m3_s as_m3_s "m3/s" ["m³/s"] 1.0/1.0, from_m3_h as_m3_h "m3/h" [] 1.0/3600.0, from_l_s as_l_s "L/s" [] 1.0/1000.0, from_cfm as_cfm "cfm" ["CFM" "ft3/min"] 28316846592.0/60000000000000.0);
quantity!(Pressure, "Pa, kPa, in wg", from_pa as_pa "Pa" [] 1.0/1.0, from_kpa as_kpa "kPa" [] 1000.0/1.0, from_in_wg as_in_wg "in wg" ["in.wg" "inH2O"] 24908891.0/100000.0);
quantity!(Density, "kg/m3, lb/ft3", from_kg_m3 as_kg_m3 "kg/m3" [] 1.0/1.0, from_lb_ft3 as_lb_ft3 "lb/ft3" [] 45359237.0/2831684.6592);
quantity!(RotationalSpeed, "rpm", from_rpm as_rpm "rpm" [] 1.0/1.0);
quantity!(DynamicViscosity, "Pa s", from_pa_s as_pa_s "Pa s" ["Pa.s"] 1.0/1.0);
quantity!(Temperature, "K", from_k as_k "K" [] 1.0/1.0);
impl Temperature { pub const fn from_celsius(v: f64) -> Self { Self(v + 273.15) } }
quantity!(Power, "W, kW", from_w as_w "W" [] 1.0/1.0, from_kw as_kw "kW" [] 1000.0/1.0);
quantity!(Angle, "deg", from_deg as_deg "deg" ["°"] 1.0/1.0);
