//! Extremes: every number that a float can be, names of every script, nothing at all and ten
//! thousand of it. What comes back is finite or a typed error, and work grows with the input and not
//! faster. Fuzzing (`tests/behaviour/prop_fuzz`) draws at random; here the worst is written down.
#![cfg(feature = "serde")]
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    reason = "a test that cannot go on must stop"
)]
#![allow(unsafe_code, reason = "an allocator that counts must be one")]

mod allocation;
mod counting;
mod counts;
mod decide;
mod fans;
mod growing;
mod laws;
mod limits;
mod names;
mod solve;
mod survey;

use airsplit::*;

/// Numbers that formulas forget.
const ODD: [f64; 16] = [
    f64::NAN,
    f64::INFINITY,
    f64::NEG_INFINITY,
    0.0,
    -0.0,
    5e-324,
    -5e-324,
    f64::MIN_POSITIVE,
    f64::EPSILON,
    -1.0,
    1.0,
    1e-30,
    1e30,
    1e154,
    1e308,
    -1e308,
];

const SHOP: &str = include_str!("../../examples/chair_shop.toml");

fn shop() -> System {
    toml::from_str::<Study>(SHOP).unwrap().system
}

fn round(mm: f64) -> Bore {
    Bore::Round(Length::from_mm(mm))
}

fn fan() -> FanCurve {
    let points = [(0.0, 2400.0), (0.4, 1900.0), (0.8, 300.0)];
    let points = points.map(|(q, p)| (VolumeFlow::from_m3_s(q), Pressure::from_pa(p)));
    let density = Density::from_kg_m3(1.2);
    FanCurve::new(points, Basis::Static, Fitted::NOTHING, density).unwrap()
}

/// A number that a function told: finite.
#[track_caller]
fn finite(number: f64) {
    assert!(number.is_finite(), "{number}");
}

/// An error says something, and not too much.
#[track_caller]
fn told<E: std::error::Error>(error: &E) {
    let text = error.to_string();
    assert!(!text.is_empty() && text.len() < 100_000, "{}", text.len());
}

/// The value, or nothing where there is an error that says why.
#[track_caller]
fn value<T, E: std::error::Error>(result: Result<T, E>) -> Option<T> {
    match result {
        Ok(value) => Some(value),
        Err(error) => {
            told(&error);
            None
        }
    }
}
