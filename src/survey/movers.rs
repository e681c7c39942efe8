//! What unknowns do to a system, and to whatever changes with its numbers.

use super::{
    calibrate_error::CalibrateError,
    unknown::{Moves, NumberAt, Unknown},
};
use crate::{
    place::Place,
    solve::Network,
    system::{Parameter, Setting, System},
};
use std::collections::HashMap;

/// Every number that unknowns move, once.
pub(super) fn numbers_of(unknowns: &[Unknown]) -> Vec<(&Place, Parameter)> {
    let mut numbers: Vec<(&Place, Parameter)> = Vec::new();
    for at in unknowns.iter().flat_map(|unknown| &unknown.numbers) {
        let number = (&at.place, at.parameter);
        if !numbers.contains(&number) {
            numbers.push(number);
        }
    }
    numbers
}

/// Unknowns and the numbers that they move.
pub(super) struct Movers<'a> {
    unknowns: &'a [Unknown],
    pub(super) numbers: Vec<(&'a Place, Parameter)>,
    /// The numbers as they stand before any is moved.
    base: HashMap<(&'a Place, Parameter), f64>,
}

impl<'a> Movers<'a> {
    pub(super) fn new(system: &System, unknowns: &'a [Unknown]) -> Result<Self, CalibrateError> {
        if unknowns.is_empty() {
            return Err(CalibrateError::NoUnknowns);
        }
        let settings = Network::new(system)?.settings();
        let stands: HashMap<_, f64> = settings
            .iter()
            .map(|at| ((&at.place, at.parameter), at.value))
            .collect();
        let mut base = HashMap::new();
        let mut set_by: HashMap<(&Place, Parameter), Moves> = HashMap::new();
        for unknown in unknowns {
            let name = || unknown.name.clone();
            if unknown.numbers.is_empty() {
                return Err(CalibrateError::NothingToMove { unknown: name() });
            }
            for at in &unknown.numbers {
                let NumberAt { place, parameter } = at;
                let number = (place, *parameter);
                let Some(&value) = stands.get(&number) else {
                    return Err(CalibrateError::NoNumber {
                        unknown: name(),
                        place: place.clone(),
                        parameter: *parameter,
                    });
                };
                if unknown.moves == Moves::Times && !at.is_moved_by_a_factor(value) {
                    return Err(CalibrateError::Zero {
                        unknown: name(),
                        place: place.clone(),
                        parameter: *parameter,
                    });
                }
                let before = set_by.insert(number, unknown.moves);
                let alone = before.is_none();
                if !alone && (before == Some(Moves::To) || unknown.moves == Moves::To) {
                    return Err(CalibrateError::SetTwice {
                        unknown: name(),
                        place: place.clone(),
                        parameter: *parameter,
                    });
                }
                base.insert(number, value);
            }
        }
        Ok(Self {
            unknowns,
            numbers: numbers_of(unknowns),
            base,
        })
    }

    /// Those of unknowns that are known to fit.
    pub(super) fn of(unknowns: &'a [Unknown]) -> Self {
        Self {
            unknowns,
            numbers: numbers_of(unknowns),
            base: HashMap::new(),
        }
    }

    /// The system with the unknowns at these values. Two factors on one number multiply.
    pub(super) fn system(&self, system: &System, theta: &[f64]) -> Result<System, CalibrateError> {
        let mut now = self.base.clone();
        for (unknown, &value) in self.unknowns.iter().zip(theta) {
            for at in &unknown.numbers {
                if let Some(number) = now.get_mut(&(&at.place, at.parameter)) {
                    *number = at.moved(unknown.moves, *number, value);
                }
            }
        }
        let settings: Vec<Setting> = self
            .numbers
            .iter()
            .filter_map(|&(place, parameter)| {
                let value = *now.get(&(place, parameter))?;
                Some(Setting::new(place.clone(), parameter, value))
            })
            .collect();
        Ok(system.with_numbers(&settings)?)
    }

    /// Turns slopes against numbers, which stand at `now`, into slopes against the unknowns.
    pub(super) fn gradient(&self, theta: &[f64], now: &[f64], row: &[f64], to: &mut [f64]) {
        let slopes: HashMap<_, (f64, f64)> = self
            .numbers
            .iter()
            .zip(now.iter().zip(row))
            .map(|(&number, (&now, &slope))| (number, (now, slope)))
            .collect();
        for ((unknown, &value), to) in self.unknowns.iter().zip(theta).zip(to) {
            let slopes = unknown.numbers.iter().filter_map(|at| {
                let &(now, slope) = slopes.get(&(&at.place, at.parameter))?;
                // A number that the reading's system does not have moves nothing.
                (!now.is_nan()).then(|| slope * at.rate(unknown.moves, now, value))
            });
            *to = slopes.sum();
        }
    }
}
