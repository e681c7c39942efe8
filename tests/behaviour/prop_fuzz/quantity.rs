//! Text of quantities: read, written and read again it is the same value, and nothing panics.

use airsplit::*;
use serde::{Serialize, de::DeserializeOwned};
use std::{fmt::Display, str::FromStr};

/// The first byte says which quantity; the rest is its text, and its first eight bytes a number.
pub(crate) fn holds(bytes: &[u8]) {
    let Some((&which, rest)) = bytes.split_first() else {
        return;
    };
    match which % 11 {
        0 => of(rest, Length::from_m, Length::as_m),
        1 => of(rest, Area::from_m2, Area::as_m2),
        2 => of(rest, Velocity::from_m_s, Velocity::as_m_s),
        3 => of(rest, VolumeFlow::from_m3_s, VolumeFlow::as_m3_s),
        4 => of(rest, Pressure::from_pa, Pressure::as_pa),
        5 => of(rest, Density::from_kg_m3, Density::as_kg_m3),
        6 => of(rest, DynamicViscosity::from_pa_s, DynamicViscosity::as_pa_s),
        7 => of(rest, Temperature::from_k, Temperature::as_k),
        8 => of(rest, Power::from_w, Power::as_w),
        9 => of(rest, Angle::from_deg, Angle::as_deg),
        _ => of(rest, RotationalSpeed::from_rpm, RotationalSpeed::as_rpm),
    }
}

fn of<Q>(bytes: &[u8], from: fn(f64) -> Q, base: fn(Q) -> f64)
where
    Q: Copy + FromStr<Err = QuantityError> + Display + Serialize + DeserializeOwned,
{
    let text = String::from_utf8_lossy(bytes);
    match text.parse::<Q>() {
        Ok(value) => written_and_read_again(value, base),
        Err(error) => {
            assert!(error.at <= text.chars().count() + 1, "{error}");
            assert!(error.text.chars().count() <= 41 && !error.to_string().is_empty());
        }
    }
    if let Some(number) = bytes.first_chunk() {
        let number = f64::from_le_bytes(*number);
        if number.is_finite() {
            written_and_read_again(from(number), base);
        } else {
            let odd = from(number).to_string();
            assert!(odd.parse::<Q>().is_err(), "{odd}");
        }
    }
}

fn written_and_read_again<Q>(value: Q, base: fn(Q) -> f64)
where
    Q: Copy + FromStr<Err = QuantityError> + Display + Serialize + DeserializeOwned,
{
    assert!(base(value).is_finite());
    let text = value.to_string();
    let same = |again: Q| {
        assert_eq!(base(again).to_bits(), base(value).to_bits(), "{text}");
        assert_eq!(again.to_string(), text);
    };
    match text.parse() {
        Ok(again) => same(again),
        Err(error) => panic!("{error}"),
    }
    match serde_json::to_string(&value).and_then(|json| serde_json::from_str(&json)) {
        Ok(again) => same(again),
        Err(error) => panic!("{text}: {error}"),
    }
}
