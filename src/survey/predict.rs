//! What a system says of readings, and how that changes with its numbers.
#![allow(
    clippy::indexing_slicing,
    reason = "readings and numbers are counted by the lists that were given, and the answers are as long"
)]

use super::{error::SurveyError, observation::Observation};
use crate::{
    place::{Name, Place},
    solve::{Network, Output, SolveError, UncertaintyError, Workspace},
    system::{Parameter, System},
};
use std::collections::{HashMap, HashSet};

/// Predictions of readings, and how they change with some numbers of the system.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Predicted {
    /// Of each reading, in its unit.
    pub(super) values: Vec<f64>,
    /// Of each reading its change for each unit of each number.
    pub(super) rows: Vec<Vec<f64>>,
    /// The numbers as they stand in the system; NaN where no reading's system has them.
    pub(super) numbers: Vec<f64>,
}

/// Judges readings for themselves.
pub(super) fn check(readings: &[Observation]) -> Result<(), SurveyError> {
    if readings.is_empty() {
        return Err(SurveyError::NoReadings);
    }
    if readings.len() > Observation::MOST {
        let given = readings.len();
        return Err(SurveyError::TooMany { given });
    }
    let mut seen = HashSet::new();
    for reading in readings {
        reading.check()?;
        if !seen.insert(&reading.id) {
            let id = reading.id.clone();
            return Err(SurveyError::Twice { id });
        }
    }
    Ok(())
}

/// What the system says of every reading. Each is asked of the system as it was then, those of one
/// system together. A number that a reading's system does not have moves it by nothing.
pub(super) fn predict(
    system: &System,
    readings: &[Observation],
    numbers: &[(&Place, Parameter)],
) -> Result<Predicted, SurveyError> {
    let mut predicted = Predicted {
        values: vec![0.0; readings.len()],
        rows: vec![vec![0.0; numbers.len()]; readings.len()],
        numbers: vec![f64::NAN; numbers.len()],
    };
    let mut left: Vec<usize> = (0..readings.len()).collect();
    while let Some(&first) = left.first() {
        let of = &readings[first];
        let (beside, others): (Vec<usize>, Vec<usize>) = left
            .into_iter()
            .partition(|&i| i == first || readings[i].is_beside(of));
        left = others;
        let outputs: Vec<Output> = beside.iter().map(|&i| readings[i].output.clone()).collect();
        let as_it_was = of.system(system)?;
        let sight = Sight {
            system: &as_it_was,
            open: &of.open,
            outputs: &outputs,
            without: &|place| of.lost(system, place),
        };
        let seen = sight.see(numbers).map_err(|why| why.of(&of.id))?;
        for (row, &i) in seen.rows.iter().zip(&beside) {
            predicted.rows[i].clone_from(row);
        }
        for (&value, &i) in seen.values.iter().zip(&beside) {
            predicted.values[i] = value;
        }
        for (to, from) in predicted.numbers.iter_mut().zip(seen.numbers) {
            if to.is_nan() {
                *to = from;
            }
        }
    }
    Ok(predicted)
}

/// Some outputs of a system in one open set.
pub(super) struct Sight<'a> {
    pub(super) system: &'a System,
    pub(super) open: &'a [Name],
    pub(super) outputs: &'a [Output],
    /// Elements whose numbers do not count.
    pub(super) without: &'a dyn Fn(&Place) -> bool,
}

/// Why outputs cannot be seen.
pub(super) enum Blind {
    Model(crate::system::ModelErrors),
    Solve(SolveError),
    Doubt(UncertaintyError),
}

impl Blind {
    pub(super) fn of(self, id: &Name) -> SurveyError {
        let id = id.clone();
        match self {
            Self::Model(errors) => SurveyError::Model { id, errors },
            Self::Solve(SolveError::UnknownName(unknown)) => SurveyError::Place { id, unknown },
            Self::Solve(error) => SurveyError::Solve { id, error },
            Self::Doubt(error) => SurveyError::Doubt(error),
        }
    }
}

impl From<SolveError> for Blind {
    fn from(error: SolveError) -> Self {
        Self::Solve(error)
    }
}

impl Sight<'_> {
    /// The outputs, and how they change with those numbers that the system has.
    pub(super) fn see(&self, numbers: &[(&Place, Parameter)]) -> Result<Predicted, Blind> {
        let network = Network::new(self.system).map_err(Blind::Model)?;
        let open = network.open(self.open).map_err(SolveError::from)?;
        let mut work = Workspace::default();
        let balance = network.solve(&open, &mut work)?;
        let settings = if numbers.is_empty() {
            Vec::new()
        } else {
            network.settings()
        };
        let there: HashMap<(&Place, Parameter), f64> = settings
            .iter()
            .map(|at| ((&at.place, at.parameter), at.value))
            .collect();
        let asked: Vec<usize> = (0..numbers.len())
            .filter(|&i| there.contains_key(&numbers[i]) && !(self.without)(numbers[i].0))
            .collect();
        let present: Vec<_> = asked.iter().map(|&i| numbers[i]).collect();
        let jacobian = balance
            .jacobian(self.outputs, &present)
            .map_err(|error| match error {
                UncertaintyError::Solve(error) => Blind::Solve(error),
                error => Blind::Doubt(error),
            })?;
        let spread = |row: &[f64], empty: f64| {
            let mut whole = vec![empty; numbers.len()];
            for (&i, &value) in asked.iter().zip(row) {
                whole[i] = value;
            }
            whole
        };
        Ok(Predicted {
            rows: jacobian.rows.iter().map(|row| spread(row, 0.0)).collect(),
            numbers: spread(&jacobian.numbers, f64::NAN),
            values: jacobian.values,
        })
    }
}
