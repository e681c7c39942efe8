//! Systems compared numerically over the same open sets, and ranked by a stated objective.
#![allow(clippy::indexing_slicing, reason = "an order of the cases themselves")]

use super::{
    check::{CheckError, CheckOptions, Findings, check},
    money::Money,
};
use crate::{
    fan::{FanError, FanPower, Motor, PowerCurve},
    place::Name,
    solve::{Network, OperatingPoint, SolveError, Status},
    system::{Collector, Index, ModelErrors, System, UnknownName},
};

/// A system under a name, to be compared with others.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Case {
    /// What it is called in the comparison.
    pub name: Name,
    /// The system.
    pub system: System,
    /// What drives its fan, where that is known.
    pub drive: Option<FanDrive>,
    /// What it costs, where that is known; any finite amount.
    pub cost: Option<Money>,
    /// How its answers are to be checked; `None`: not at all. Its drive is used where the options
    /// name none.
    pub checks: Option<CheckOptions>,
}

/// What drives a fan: its shaft power and its motor.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
pub struct FanDrive {
    /// Shaft power over flow.
    pub power: PowerCurve,
    /// The motor.
    pub motor: Motor,
}

impl Case {
    /// A system under a name.
    #[must_use]
    pub fn new(name: impl Into<Name>, system: System) -> Self {
        Self {
            name: name.into(),
            system,
            drive: None,
            cost: None,
            checks: None,
        }
    }

    /// The same duct and machines with another collector.
    #[must_use]
    pub fn with_collector(name: impl Into<Name>, system: &System, collector: Collector) -> Self {
        Self::new(
            name,
            System {
                collector,
                ..system.clone()
            },
        )
    }

    /// With what drives its fan.
    #[must_use]
    pub fn with_drive(mut self, drive: FanDrive) -> Self {
        self.drive = Some(drive);
        self
    }

    /// With what it costs.
    #[must_use]
    pub fn costing(mut self, cost: Money) -> Self {
        self.cost = Some(cost);
        self
    }

    /// With its answers checked.
    #[must_use]
    pub fn checked(mut self, checks: CheckOptions) -> Self {
        self.checks = Some(checks);
        self
    }
}

/// What makes one case better than another.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "snake_case")
)]
#[non_exhaustive]
pub enum Objective {
    /// The larger share of its need that the worst served machine gets, over all open sets.
    ///
    /// Flow above the need earns nothing: shares above 1 count as 1.
    WorstShare,
    /// The larger flow of a machine, the least over the open sets in which it is open.
    Machine(Name),
    /// The larger total flow, the least over all open sets.
    TotalFlow,
    /// The smaller air power (flow times fan total pressure), the most over all open sets.
    AirPower,
}

/// Cases, their answers in every open set, and their order.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Comparison {
    /// One for each case, in their order.
    pub cases: Vec<CaseAnswers>,
    /// Indices into `cases`, the best first.
    pub ranking: Vec<usize>,
}

/// The answers of one case.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct CaseAnswers {
    /// The case's name.
    pub name: Name,
    /// What it costs, as told.
    pub cost: Option<Money>,
    /// One for each open set, in their order.
    pub answers: Vec<Answer>,
    /// The objective's figure \[share; m3/s; W\]; `None` where a set has no answer, or none of the
    /// sets has anything to do with the objective.
    pub score: Option<f64>,
}

/// What a case does in one open set.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Answer {
    /// The operating point, or why there is none.
    pub point: Result<OperatingPoint, SolveError>,
    /// Power and motor load there, or why they cannot be told; `None` without a drive.
    pub power: Option<Result<FanPower, FanError>>,
    /// What the checks found; `None` without checks or without a point.
    pub findings: Option<Findings>,
}

/// Why a comparison could not begin.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum CompareError {
    /// No case, or no open set.
    #[error("nothing to compare: give at least one case and one open set")]
    Nothing,
    /// A case's model is at fault.
    #[error("case {case:?}: {errors}", case = case.as_str())]
    Model {
        /// The case.
        case: Name,
        /// Its faults.
        errors: ModelErrors,
    },
    /// A case lacks a hood or machine that an open set or the objective names.
    #[error("case {case:?}: {error}", case = case.as_str())]
    Unknown {
        /// The case.
        case: Name,
        /// The name, and those that exist.
        error: UnknownName,
    },
    /// A case's checks cannot be made.
    #[error("case {case:?}: {error}", case = case.as_str())]
    Check {
        /// The case.
        case: Name,
        /// Why not.
        error: CheckError,
    },
    /// A case's cost is no finite number.
    #[error("case {case:?}: its cost is {cost}; it must be a finite number", case = case.as_str())]
    Cost {
        /// The case.
        case: Name,
        /// What was given.
        cost: Money,
    },
    /// There is no case of that index to compare with.
    #[error(
        "there is no case {index} to compare with: there are {cases}, counted from 0; give the index of one of them"
    )]
    NoCase {
        /// The index asked for.
        index: usize,
        /// How many cases there are.
        cases: usize,
    },
}

/// Solves every case in every open set (names of hoods or machines) and ranks the cases.
///
/// The order is deterministic. A case wholly within its fan's curve comes before one with an
/// answer beyond it, which is a hint only; a case with a set that has no answer comes last. Among
/// equals the order is that of the cases.
///
/// # Errors
///
/// When there is nothing to compare, when a case's model, cost or checks are at fault, or when a name
/// of an open set or of the objective is unknown to a case. A set without an answer is no error: it stands in that
/// case's answers.
pub fn compare(
    cases: &[Case],
    open_sets: &[Vec<Name>],
    objective: &Objective,
) -> Result<Comparison, CompareError> {
    if cases.is_empty() || open_sets.is_empty() {
        return Err(CompareError::Nothing);
    }
    let cases: Vec<CaseAnswers> = cases
        .iter()
        .map(|case| answer(case, open_sets, objective))
        .collect::<Result<_, _>>()?;
    let mut ranking: Vec<usize> = (0..cases.len()).collect();
    // A stable sort: equals keep the order of the cases.
    ranking.sort_by(|&a, &b| {
        let (a, b) = (&cases[a], &cases[b]);
        let standing = |case: &CaseAnswers| match case.score {
            None => 2,
            Some(_) if case.beyond_curve() => 1,
            Some(_) => 0,
        };
        let figure = |case: &CaseAnswers| case.score.unwrap_or(0.0);
        let by_figure = match objective {
            Objective::AirPower => figure(a).total_cmp(&figure(b)),
            _ => figure(b).total_cmp(&figure(a)),
        };
        standing(a).cmp(&standing(b)).then(by_figure)
    });
    Ok(Comparison { cases, ranking })
}

impl CaseAnswers {
    /// Whether an answer lies outside the published points of the fan's curve.
    #[must_use]
    pub fn beyond_curve(&self) -> bool {
        let points = self
            .answers
            .iter()
            .filter_map(|answer| answer.point.as_ref().ok());
        points
            .map(|point| point.status)
            .any(|status| matches!(status, Status::BeyondCurve | Status::BelowCurve))
    }
}

fn answer(
    case: &Case,
    open_sets: &[Vec<Name>],
    objective: &Objective,
) -> Result<CaseAnswers, CompareError> {
    let network = Network::new(&case.system).map_err(|errors| CompareError::Model {
        case: case.name.clone(),
        errors,
    })?;
    if let Some(cost) = case.cost.filter(|cost| !cost.amount().is_finite()) {
        let case = case.name.clone();
        return Err(CompareError::Cost { case, cost });
    }
    let checks = case.checks.clone().map(|checks| CheckOptions {
        drive: checks.drive.or_else(|| case.drive.clone()),
        ..checks
    });
    let unknown_here = |error| CompareError::Unknown {
        case: case.name.clone(),
        error,
    };
    if let Objective::Machine(name) = objective {
        let machines = case.system.machines.iter().map(|machine| &machine.id);
        let index = Index::new("machine", machines);
        index.find(name.as_str()).map_err(unknown_here)?;
    }
    let mut answers = Vec::with_capacity(open_sets.len());
    for names in open_sets {
        let open = network.open(names).map_err(unknown_here)?;
        let point = network.operating_point(&open);
        let power = match (&point, &case.drive) {
            (Ok(point), Some(drive)) => power(case, drive, point),
            _ => None,
        };
        let findings = match (&point, &checks) {
            (Ok(point), Some(checks)) => {
                let found = check(&case.system, [point], checks);
                Some(found.map_err(|error| CompareError::Check {
                    case: case.name.clone(),
                    error,
                })?)
            }
            _ => None,
        };
        answers.push(Answer {
            point,
            power,
            findings,
        });
    }
    Ok(CaseAnswers {
        name: case.name.clone(),
        cost: case.cost,
        score: score(&answers, objective),
        answers,
    })
}

/// Power of the fan in the air of the shop, not in that of its data sheet.
fn power(
    case: &Case,
    drive: &FanDrive,
    point: &OperatingPoint,
) -> Option<Result<FanPower, FanError>> {
    let fan = case.system.collector.fan.as_ref()?;
    let air = case.system.air.properties().ok()?;
    let here = fan.at_density(air.density);
    Some(here.and_then(|fan| FanPower::new(&fan, &drive.power, drive.motor, point.flow)))
}

fn score(answers: &[Answer], objective: &Objective) -> Option<f64> {
    let mut points = Vec::with_capacity(answers.len());
    for answer in answers {
        points.push(answer.point.as_ref().ok()?);
    }
    let least = |figures: &mut dyn Iterator<Item = f64>| figures.reduce(f64::min);
    match objective {
        Objective::WorstShare => least(
            &mut points
                .iter()
                .flat_map(|point| &point.machines)
                .filter(|machine| machine.open)
                .map(|machine| machine.share().min(1.0)),
        ),
        Objective::Machine(name) => least(
            &mut points
                .iter()
                .flat_map(|point| &point.machines)
                .filter(|machine| machine.open && machine.name == *name)
                .map(|machine| machine.flow.as_m3_s()),
        ),
        Objective::TotalFlow => least(&mut points.iter().map(|point| point.flow.as_m3_s())),
        Objective::AirPower => {
            let mut most: Option<f64> = None;
            for point in points {
                let pressure = point.fan.total_pressure?.as_pa();
                let power = pressure * point.flow.as_m3_s();
                most = Some(most.map_or(power, |most| most.max(power)));
            }
            most
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        decide::{
            by_hand::{fan, m3_s, mm, shop},
            check::{Check, Measure},
        },
        quantity::Power,
    };

    /// A shaft that takes 2 kW at any flow, on a motor of this rating.
    fn drive(rated_kw: f64) -> FanDrive {
        let points = [0.0, 0.5, 1.0].map(|q| (m3_s(q), Power::from_kw(2.0)));
        let density = crate::Air::standard().properties().unwrap().density;
        FanDrive {
            power: PowerCurve::new(points, density).unwrap(),
            motor: Motor {
                rated: Power::from_kw(rated_kw),
                drive_efficiency: 1.0,
                motor_efficiency: 0.9,
            },
        }
    }

    #[test]
    fn a_case_is_checked_with_its_own_drive_unless_the_checks_name_one() {
        let mut system = shop();
        let fan = fan(&[(0.0, 3000.0), (0.5, 1500.0), (1.0, 0.0)]);
        system.collector.fan = Some(fan.with_outlet(mm(180.0)).unwrap());
        let load = |checks: CheckOptions| {
            let case = Case::new("as it is", system.clone());
            let case = case.with_drive(drive(4.0)).checked(checks);
            let open_sets = [vec![Name::from("saw")]];
            let compared = compare(&[case], &open_sets, &Objective::WorstShare).unwrap();
            let findings = compared.cases[0].answers[0].findings.as_ref().unwrap();
            let found = findings.of(Check::MotorLoad).next().unwrap();
            match found.value {
                Some(Measure::Share(load)) => load,
                _ => f64::NAN,
            }
        };
        let own = CheckOptions::new();
        assert!((load(own.clone()) - 2.0 / 4.0).abs() < 1e-9);
        let named = own.with_drive(drive(8.0));
        assert!((load(named) - 2.0 / 8.0).abs() < 1e-9);
    }
}
