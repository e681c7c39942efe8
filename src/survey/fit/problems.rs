//! Models for the tests, in closed form; their derivatives by dual numbers.

use super::Predict;
use std::ops::{Add, Div, Mul, Sub};

/// A number with its derivatives.
#[derive(Debug, Clone)]
pub(super) struct Dual {
    value: f64,
    slopes: Vec<f64>,
}

impl Dual {
    fn map(&self, value: f64, slope: f64) -> Self {
        Self {
            value,
            slopes: self.slopes.iter().map(|x| slope * x).collect(),
        }
    }

    fn join(&self, other: &Self, value: f64, own: f64, others: f64) -> Self {
        let slopes = self.slopes.iter().zip(&other.slopes);
        Self {
            value,
            slopes: slopes.map(|(a, b)| own * a + others * b).collect(),
        }
    }

    fn exp(&self) -> Self {
        let value = self.value.exp();
        self.map(value, value)
    }

    fn power(&self, n: f64) -> Self {
        self.map(self.value.powf(n), n * self.value.powf(n - 1.0))
    }

    fn constant(&self, value: f64) -> Self {
        self.map(value, 0.0)
    }
}

macro_rules! operator {
    ($trait:ident, $name:ident, |$a:ident, $b:ident| $value:expr, $own:expr, $others:expr) => {
        impl $trait for Dual {
            type Output = Self;
            fn $name(self, other: Self) -> Self {
                let ($a, $b) = (self.value, other.value);
                self.join(&other, $value, $own, $others)
            }
        }
        impl $trait<f64> for Dual {
            type Output = Self;
            fn $name(self, other: f64) -> Self {
                let other = self.constant(other);
                $trait::$name(self, other)
            }
        }
    };
}

operator!(Add, add, |a, b| a + b, 1.0, 1.0);
operator!(Sub, sub, |a, b| a - b, 1.0, -1.0);
operator!(Mul, mul, |a, b| a * b, b, a);
operator!(Div, div, |a, b| a / b, 1.0 / b, -a / (b * b));

/// A model of some kind at the places of its readings.
#[derive(Debug)]
pub(super) struct Model<'a> {
    pub(super) kind: &'a str,
    pub(super) x: &'a [Vec<f64>],
}

impl Predict for Model<'_> {
    type Error = String;

    fn predict(
        &mut self,
        theta: &[f64],
        values: &mut [f64],
        jacobian: &mut [f64],
    ) -> Result<(), String> {
        let n = theta.len();
        let unit = |k: usize| (0..n).map(|i| f64::from(u8::from(i == k))).collect();
        let theta: Vec<Dual> = (theta.iter().enumerate())
            .map(|(k, &value)| Dual {
                value,
                slopes: unit(k),
            })
            .collect();
        for (i, x) in self.x.iter().enumerate() {
            let at = evaluate(self.kind, &theta, x);
            values[i] = at.value;
            jacobian[i * n..(i + 1) * n].copy_from_slice(&at.slopes);
        }
        Ok(())
    }
}

fn evaluate(kind: &str, theta: &[Dual], row: &[f64]) -> Dual {
    let t = |k: usize| theta[k].clone();
    let x = row[0];
    let one = || theta[0].constant(1.0);
    match kind {
        "decay" => t(0) * (t(1) * -x).exp() + t(2),
        "two_decays" => t(0) * (t(1) * -x).exp() + t(2) * (t(3) * -x).exp(),
        "power" => t(0) * (t(1) * x.ln()).exp() + t(2),
        "saturation" => t(0) * (one() - (t(1) * -x).exp()),
        "logistic" => t(0) / ((t(1) - t(2) * x).exp() + 1.0),
        "linear" => (theta.iter().zip(row))
            .map(|(t, &x)| t.clone() * x)
            .fold(one() * 0.0, Add::add),
        "product" => t(0) * t(1) * x + t(2),
        "duct" => duct(theta, row),
        "DanWood" => t(0) * (t(1) * x.ln()).exp(),
        "Misra1a" | "BoxBOD" => evaluate("saturation", theta, row),
        "MGH09" => t(0) * (t(1) * x + x * x) / (t(2) * x + t(3) + x * x),
        "MGH10" => t(0) * (t(1) / (t(2) + x)).exp(),
        "Eckerle4" => {
            let off = (one() * x - t(2)) / t(1);
            t(0) / t(1) * (off.power(2.0) * -0.5).exp()
        }
        "Thurber" => {
            let (x2, x3) = (x * x, x * x * x);
            (t(0) + t(1) * x + t(2) * x2 + t(3) * x3) / (t(4) * x + t(5) * x2 + t(6) * x3 + 1.0)
        }
        other => panic!("no model {other}"),
    }
}

/// A fan of falling parabola, a main and branches in parallel; the kind `duct` of
/// `tests/data/make_fits_scipy.py`.
fn duct(theta: &[Dual], row: &[f64]) -> Dual {
    let (rest, slowest) = (1500.0, 0.8 * 0.8);
    let (what, open) = row.split_last().unwrap();
    let conductance = (open.iter().zip(&theta[2..]))
        .map(|(bit, branch)| branch.power(-0.5) * *bit)
        .fold(theta[0].constant(0.0), Add::add);
    let fan = theta[0].clone() * rest;
    let all = theta[1].clone() + conductance.power(-2.0) + fan.clone() * (1.0 / slowest);
    let flow = (fan / all).power(0.5);
    match *what as i64 {
        -1 => flow,
        -2 => (flow / conductance).power(2.0),
        branch => flow * theta[2 + branch as usize].power(-0.5) / conductance,
    }
}
