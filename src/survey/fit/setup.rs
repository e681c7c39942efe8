//! Unknowns and readings, checked, and the coordinates in which every prior is standard normal.

use super::FitError;
use crate::solve::Spread;
use std::collections::HashSet;

/// A number to be found.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Unknown {
    /// Its name, unlike any other's.
    pub name: String,
    /// Where the search starts: what was believed before any reading. Above 0 if it is scaled.
    pub start: f64,
    /// How well that was known, above 0: in the unit of the unknown or, of a scaled one, of its
    /// logarithm.
    pub standard: f64,
    /// How the truth may lie about the start. A scaled unknown stays above 0.
    pub spread: Spread,
}

/// A number that was read.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Reading {
    /// Its name, unlike any other's.
    pub name: String,
    /// What was read.
    pub value: f64,
    /// Its standard uncertainty, above 0, in its unit.
    pub standard: f64,
}

const ABOVE_ZERO: &str = "above 0, and finite";

/// Checked unknowns and readings.
#[derive(Debug)]
pub(super) struct Setup<'a> {
    pub(super) unknowns: &'a [Unknown],
    pub(super) readings: &'a [Reading],
}

impl<'a> Setup<'a> {
    pub(super) fn new<E>(
        unknowns: &'a [Unknown],
        readings: &'a [Reading],
    ) -> Result<Self, FitError<E>> {
        if unknowns.is_empty() {
            return Err(FitError::NoUnknowns);
        }
        if readings.is_empty() {
            return Err(FitError::NoReadings);
        }
        once("unknown", unknowns.iter().map(|unknown| &unknown.name))?;
        once("reading", readings.iter().map(|reading| &reading.name))?;
        for unknown in unknowns {
            let (start, must) = match unknown.spread {
                Spread::Even => (unknown.start.is_finite(), "finite"),
                Spread::Scaled => (above_zero(unknown.start), ABOVE_ZERO),
            };
            let fault = number("unknown", &unknown.name);
            check(start, || fault("start", unknown.start, must))?;
            check(above_zero(unknown.standard), || {
                fault("standard uncertainty", unknown.standard, ABOVE_ZERO)
            })?;
        }
        for reading in readings {
            let fault = number("reading", &reading.name);
            check(reading.value.is_finite(), || {
                fault("value", reading.value, "finite")
            })?;
            check(above_zero(reading.standard), || {
                fault("standard uncertainty", reading.standard, ABOVE_ZERO)
            })?;
        }
        Ok(Self { unknowns, readings })
    }

    /// The unknowns at these whitened coordinates, if they are numbers that can be.
    pub(super) fn theta(&self, z: &[f64]) -> Option<Vec<f64>> {
        let at = |(unknown, z): (&Unknown, &f64)| {
            let theta = match unknown.spread {
                Spread::Even => unknown.start + z * unknown.standard,
                Spread::Scaled => unknown.start * (z * unknown.standard).exp(),
            };
            let can_be = match unknown.spread {
                Spread::Even => theta.is_finite(),
                Spread::Scaled => above_zero(theta),
            };
            can_be.then_some(theta)
        };
        self.unknowns.iter().zip(z).map(at).collect()
    }
}

impl Unknown {
    /// Derivative of the unknown with regard to its whitened coordinate, where it is `theta`.
    pub(super) fn slope(&self, theta: f64) -> f64 {
        match self.spread {
            Spread::Even => self.standard,
            Spread::Scaled => self.standard * theta,
        }
    }
}

pub(super) fn above_zero(value: f64) -> bool {
    value.is_finite() && value > 0.0
}

fn check<E>(fine: bool, fault: impl FnOnce() -> FitError<E>) -> Result<(), FitError<E>> {
    if fine { Ok(()) } else { Err(fault()) }
}

fn number<E>(
    what: &'static str,
    name: &str,
) -> impl Fn(&'static str, f64, &'static str) -> FitError<E> {
    move |number, value, must| FitError::Number {
        what,
        name: name.into(),
        number,
        value,
        must,
    }
}

fn once<'n, E>(
    what: &'static str,
    names: impl Iterator<Item = &'n String>,
) -> Result<(), FitError<E>> {
    let mut seen = HashSet::new();
    for name in names {
        check(seen.insert(name), || FitError::Twice {
            what,
            name: name.clone(),
        })?;
    }
    Ok(())
}
