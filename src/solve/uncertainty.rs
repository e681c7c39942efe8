//! What the doubts about the numbers of a system amount to in each answer, to first order.

use super::{
    Balance, Doubt, MonteCarlo, Network, OpenSet, Output, SolveError, Workspace, doubt::HALF_BAND,
};
use crate::{
    place::{Name, Place},
    system::{ModelErrors, Parameter, UnknownName, unknown},
};
use std::{borrow::Cow, collections::BTreeMap, fmt};

/// Contributions that an uncertain value keeps: more nobody reads.
const KEPT: usize = 12;

/// Share of the variance that assumptions may carry in a calculated answer, and in an estimate.
const CALCULATED: f64 = 0.25;
const ESTIMATE: f64 = 0.75;

/// A balance with its uncertainties, by [`Balance::uncertainty`] or [`Network::uncertainty`].
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct UncertainPoint {
    /// Total flow, at the fan.
    pub flow: UncertainValue,
    /// Pressure on the basis of the fan's curve.
    pub fan_pressure: UncertainValue,
    /// Flow of every hood, in the order of their sections.
    pub hoods: Vec<UncertainValue>,
    /// Flow of every machine, in the order of the model.
    pub machines: Vec<UncertainValue>,
}

/// A value and its standard uncertainty.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct UncertainValue {
    /// What it is.
    pub output: Output,
    /// Its value, in [its unit](Output::unit).
    pub value: f64,
    /// Its standard uncertainty, in the same unit: it lies within 1.96 of them 19 times in 20, as far
    /// as the doubts are right and the answer is straight in them.
    pub standard: f64,
    /// Where that comes from: the 12 largest shares of the variance, the largest first.
    pub contributions: Vec<Contribution>,
    /// The three assumptions that carry most of the variance, the largest first.
    pub assumptions: Vec<Contribution>,
    /// Share of the variance that all assumptions together carry, 0 to 1.
    pub assumed_share: f64,
}

/// What one cause does to an uncertain value.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct Contribution {
    /// The element; of several that one cause puts off, the one that does most.
    pub place: Place,
    /// Which of its numbers.
    pub parameter: Parameter,
    /// How many numbers of other elements the same cause puts off.
    pub others: usize,
    /// The cause, if it was named.
    pub cause: Option<Cow<'static, str>>,
    /// Change of the value for one standard uncertainty of the cause, in the unit of the output.
    pub change: f64,
    /// Share of the variance, 0 to 1.
    pub share: f64,
    /// Whether the number was assumed.
    pub assumed: bool,
    /// Where its uncertainty comes from.
    pub source: Cow<'static, str>,
}

/// How much an answer deserves to be called calculated.
///
/// By the share of its variance that assumptions carry; up to a quarter is calculated, up to three
/// quarters an estimate. The limits are judgement.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "snake_case")
)]
#[non_exhaustive]
pub enum Grade {
    /// Assumptions matter little.
    Calculated,
    /// Assumptions matter as much as the rest.
    Estimate,
    /// It says what the assumptions say.
    RoughGuess,
}

impl fmt::Display for Grade {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Self::Calculated => "calculated",
            Self::Estimate => "estimate",
            Self::RoughGuess => "rough guess",
        })
    }
}

/// `section "main": roughness (and 11 more), 34 % of the variance`
impl fmt::Display for Contribution {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}", self.place, self.parameter)?;
        if self.others > 0 {
            write!(f, " (and {} more)", self.others)?;
        }
        write!(f, ", {:.0} % of the variance", 100.0 * self.share)
    }
}

impl UncertainValue {
    /// Lower end of the band that holds 95 %: the value less 1.96 standard uncertainties, of a
    /// flow not below 0. Where the band is wide,
    /// [`Network::monte_carlo`](super::Network::monte_carlo) tells its ends better.
    #[must_use]
    pub fn low(&self) -> f64 {
        let low = self.value - HALF_BAND * self.standard;
        match self.output {
            Output::Hood(_) | Output::Machine(_) | Output::Section(_) | Output::TotalFlow => {
                low.max(0.0)
            }
            _ => low,
        }
    }

    /// Upper end of the band that holds 95 %.
    #[must_use]
    pub fn high(&self) -> f64 {
        self.value + HALF_BAND * self.standard
    }

    /// How much the value deserves to be called calculated.
    #[must_use]
    pub fn grade(&self) -> Grade {
        match self.assumed_share {
            share if share <= CALCULATED => Grade::Calculated,
            share if share <= ESTIMATE => Grade::Estimate,
            _ => Grade::RoughGuess,
        }
    }
}

impl UncertainPoint {
    /// Every value: total flow, fan pressure, hoods, machines.
    pub fn values(&self) -> impl Iterator<Item = &UncertainValue> {
        [&self.flow, &self.fan_pressure]
            .into_iter()
            .chain(&self.hoods)
            .chain(&self.machines)
    }

    /// Flow of the hood of that name.
    ///
    /// # Errors
    ///
    /// When there is none, with the names that exist, nearest first.
    pub fn hood(&self, name: &str) -> Result<&UncertainValue, UnknownName> {
        find("hood", name, &self.hoods)
    }

    /// Flow of the machine of that name.
    ///
    /// # Errors
    ///
    /// When there is none, with the names that exist, nearest first.
    pub fn machine(&self, name: &str) -> Result<&UncertainValue, UnknownName> {
        find("machine", name, &self.machines)
    }
}

fn find<'a>(
    what: &'static str,
    name: &str,
    among: &'a [UncertainValue],
) -> Result<&'a UncertainValue, UnknownName> {
    let names = || among.iter().filter_map(|at| at.output.name());
    let found = among
        .iter()
        .find(|at| at.output.name().is_some_and(|own| own.as_str() == name));
    found.ok_or_else(|| unknown(what, name, names()))
}

/// Why there is no uncertainty to tell.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum UncertaintyError {
    /// A doubt about a number that the answers of the network do not depend on.
    #[error(
        "{place}: no answer depends on its {parameter}; `Network::settings` lists what they do"
    )]
    NoNumber {
        /// The element.
        place: Place,
        /// Which number.
        parameter: Parameter,
    },
    /// A standard uncertainty that is not a number of 0 or more.
    #[error(
        "{place}: the standard uncertainty of its {parameter} is {value}{unit}; it must be 0 or more, and finite",
        unit = .parameter.unit()
    )]
    Standard {
        /// The element.
        place: Place,
        /// Which number.
        parameter: Parameter,
        /// What was given, in the SI unit of the number.
        value: f64,
    },
    /// Two doubts about one number.
    #[error("{place}: two uncertainties of its {parameter}; give one")]
    Twice {
        /// The element.
        place: Place,
        /// Which number.
        parameter: Parameter,
    },
    /// Fewer than two draws, or fewer than two that gave an answer.
    #[error("{good} of {draws} draws gave an answer, two at least are needed")]
    Draws {
        /// How many were asked for.
        draws: u32,
        /// How many gave an answer.
        good: u32,
    },
    /// More draws than anyone waits for.
    #[error("{draws} draws; at most {most} are made", most = MonteCarlo::MOST_DRAWS)]
    TooManyDraws {
        /// How many were asked for.
        draws: u32,
    },
    /// There is no balance to begin with.
    #[error(transparent)]
    Solve(#[from] SolveError),
    /// A system that cannot be put together; not reached by one that a network was made from.
    #[error(transparent)]
    Model(#[from] ModelErrors),
}

impl UncertaintyError {
    /// Whether the question itself was at fault.
    #[must_use]
    pub fn is_input(&self) -> bool {
        match self {
            Self::Solve(error) => error.is_input(),
            _ => true,
        }
    }
}

impl Network {
    /// The operating point with its uncertainties.
    ///
    /// ```
    /// # fn main() -> Result<(), Box<dyn std::error::Error>> {
    /// # #[cfg(feature = "serde")] {
    /// use airsplit::{Network, Study};
    /// let study: Study = toml::from_str(&std::fs::read_to_string("examples/chair_shop.toml")?)?;
    /// let network = Network::new(&study.system)?;
    /// let open = network.open(["planer"])?;
    /// let doubts = network.doubts(&study.assumptions);
    /// let point = network.uncertainty(&open, &doubts)?;
    /// let planer = point.machine("planer")?;
    /// println!("{:.2} m3/s, {:.2} to {:.2}", planer.value, planer.low(), planer.high());
    /// println!("mostly by {}", planer.contributions[0]);
    /// # }
    /// # Ok(())
    /// # }
    /// ```
    ///
    /// # Errors
    ///
    /// As [`solve`](Self::solve) and [`Balance::uncertainty`].
    pub fn uncertainty(
        &self,
        open: &OpenSet,
        doubts: &[Doubt],
    ) -> Result<UncertainPoint, UncertaintyError> {
        let mut work = Workspace::default();
        self.solve(open, &mut work)?.uncertainty(doubts)
    }
}

impl Balance<'_> {
    /// The uncertainty of every flow and of the fan's pressure, to first order.
    ///
    /// The law of propagation: `u^2 = sum (dy/dx u(x))^2` over independent causes, the terms of one
    /// cause being added before they are squared. JCGM 100:2008, *Guide to the expression of
    /// uncertainty in measurement*, 5.1.2 eq. (10), and 5.2.2 note 1 for inputs that are put off
    /// together (clause and number of the equation seen in the issuer's web edition, the note from
    /// memory). The derivatives are those of
    /// [`Gradient`](super::Gradient), by one adjoint sweep for each output.
    ///
    /// It takes an answer to be straight in every number as far as the doubts reach. A number at a
    /// corner, such as a gate that is wide open, has less effect than is told.
    ///
    /// # Errors
    ///
    /// [`UncertaintyError`]: a doubt about a number that is not there, two about one number, or a
    /// standard uncertainty that is not one.
    pub fn uncertainty(&self, doubts: &[Doubt]) -> Result<UncertainPoint, UncertaintyError> {
        let plan = self.plan;
        let hoods = plan
            .hoods
            .iter()
            .map(|hood| Output::Hood(hood.name.clone()));
        let machines = plan.machines.iter();
        let machines = machines.map(|machine| Output::Machine(machine.name.clone()));
        let both = [Output::TotalFlow, Output::FanPressure];
        let outputs: Vec<Output> = both.into_iter().chain(hoods).chain(machines).collect();
        let mut values = self.uncertainties(&outputs, doubts)?;
        let machines = values.split_off(2 + plan.hoods.len());
        let hoods = values.split_off(2);
        match <[UncertainValue; 2]>::try_from(values) {
            Ok([flow, fan_pressure]) => Ok(UncertainPoint {
                flow,
                fan_pressure,
                hoods,
                machines,
            }),
            // Two were asked for.
            Err(_) => Err(SolveError::NothingOpen.into()),
        }
    }

    /// The uncertainty of any outputs, in their order; as [`uncertainty`](Self::uncertainty).
    ///
    /// # Errors
    ///
    /// As [`uncertainty`](Self::uncertainty); an output that is not there.
    pub fn uncertainties(
        &self,
        outputs: &[Output],
        doubts: &[Doubt],
    ) -> Result<Vec<UncertainValue>, UncertaintyError> {
        let causes = Causes::of(doubts)?;
        let numbers: Vec<_> = doubts
            .iter()
            .map(|doubt| (&doubt.place, doubt.parameter))
            .collect();
        let jacobian = self.jacobian(outputs, &numbers)?;
        let standards: Vec<f64> = doubts
            .iter()
            .zip(&jacobian.numbers)
            .map(|(doubt, &number)| doubt.standard_at(number))
            .collect();
        let rows = jacobian.rows.iter().zip(jacobian.values);
        let values = outputs.iter().zip(rows).map(|(output, (row, value))| {
            let changes: Vec<f64> = row.iter().zip(&standards).map(|(d, u)| d * u).collect();
            causes.sum(output.clone(), value, doubts, &changes)
        });
        Ok(values.collect())
    }
}

/// The doubts by what causes them, each with its own numbers; by index, in their order.
pub(crate) struct Causes(Vec<Vec<usize>>);

impl Causes {
    /// Judges the doubts.
    pub(crate) fn of(doubts: &[Doubt]) -> Result<Self, UncertaintyError> {
        let mut seen = std::collections::HashSet::new();
        let mut named: BTreeMap<&str, usize> = BTreeMap::new();
        let mut causes: Vec<Vec<usize>> = Vec::new();
        for (i, doubt) in doubts.iter().enumerate() {
            let (place, parameter) = (|| doubt.place.clone(), doubt.parameter);
            let value = doubt.standard;
            if !(value.is_finite() && value >= 0.0) {
                return Err(UncertaintyError::Standard {
                    place: place(),
                    parameter,
                    value,
                });
            }
            if !seen.insert((&doubt.place, parameter)) {
                return Err(UncertaintyError::Twice {
                    place: place(),
                    parameter,
                });
            }
            let own = causes.len();
            let at = match &doubt.cause {
                Some(cause) => *named.entry(cause).or_insert(own),
                None => own,
            };
            match causes.get_mut(at) {
                Some(cause) => cause.push(i),
                None => causes.push(vec![i]),
            }
        }
        Ok(Self(causes))
    }

    /// The causes with the indices of their doubts.
    pub(crate) fn iter(&self) -> impl Iterator<Item = &[usize]> {
        self.0.iter().map(Vec::as_slice)
    }

    /// An output of this value that each doubt changes by so much.
    fn sum(&self, output: Output, value: f64, doubts: &[Doubt], changes: &[f64]) -> UncertainValue {
        let change = |&i: &usize| changes.get(i).copied().unwrap_or(0.0);
        let together: Vec<f64> = self.iter().map(|at| at.iter().map(change).sum()).collect();
        let variance: f64 = together.iter().map(|change| change * change).sum();
        let share = |change: f64| {
            if variance > 0.0 {
                change * change / variance
            } else {
                0.0
            }
        };
        let mut ranked: Vec<(&[usize], f64)> = self.iter().zip(together).collect();
        ranked.retain(|(_, change)| *change != 0.0);
        // Stable: of two alike the first.
        ranked.sort_by(|(_, a), (_, b)| b.abs().total_cmp(&a.abs()));
        let tell = |&(members, whole): &(&[usize], f64)| {
            // The first of the largest.
            let largest = members
                .iter()
                .rev()
                .max_by(|a, b| change(a).abs().total_cmp(&change(b).abs()));
            let doubt = doubts.get(*largest?)?;
            Some(Contribution {
                place: doubt.place.clone(),
                parameter: doubt.parameter,
                others: members.len() - 1,
                cause: doubt.cause.clone(),
                change: whole,
                share: share(whole),
                assumed: doubt.assumed,
                source: doubt.source.clone(),
            })
        };
        let assumed = |members: &[usize]| {
            let mut members = members.iter().filter_map(|&i| doubts.get(i));
            members.any(|doubt| doubt.assumed)
        };
        let assumptions = || ranked.iter().filter(|(members, _)| assumed(members));
        UncertainValue {
            output,
            value,
            standard: variance.sqrt(),
            contributions: ranked.iter().take(KEPT).filter_map(tell).collect(),
            assumptions: assumptions().take(3).filter_map(tell).collect(),
            assumed_share: assumptions().map(|(_, change)| share(*change)).sum(),
        }
    }
}

impl Output {
    /// The name of the hood or machine.
    fn name(&self) -> Option<&Name> {
        match self {
            Self::Hood(name) | Self::Machine(name) => Some(name),
            _ => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        place::Place,
        solve::{
            Spread,
            by_hand::{FALLING, ready},
        },
        system::Parameter,
    };

    #[test]
    fn a_contribution_counts_the_others_if_there_are_any() {
        let told = |others| {
            let one = Contribution {
                place: Place::Fan,
                parameter: Parameter::Shape,
                others,
                cause: None,
                change: 1.0,
                share: 0.344,
                assumed: true,
                source: "".into(),
            };
            one.to_string()
        };
        assert_eq!(told(0), "fan: shape of the curve, 34 % of the variance");
        assert_eq!(
            told(1),
            "fan: shape of the curve (and 1 more), 34 % of the variance"
        );
        assert_eq!(
            told(11),
            "fan: shape of the curve (and 11 more), 34 % of the variance"
        );
    }

    #[test]
    fn the_grade_goes_by_the_share_of_assumptions() {
        let mut value = UncertainValue {
            output: Output::TotalFlow,
            value: 1.0,
            standard: 1.0,
            assumed_share: 0.0,
            contributions: Vec::new(),
            assumptions: Vec::new(),
        };
        for (share, grade) in [
            (0.0, Grade::Calculated),
            (0.25, Grade::Calculated),
            (0.26, Grade::Estimate),
            (0.75, Grade::Estimate),
            (0.76, Grade::RoughGuess),
        ] {
            value.assumed_share = share;
            assert_eq!(value.grade(), grade, "{share}");
        }
        // No flow is below 0, but a pressure is.
        assert_eq!(value.low(), 0.0);
        value.output = Output::FanPressure;
        assert!(value.low() < -0.9 && value.high() > 2.9);
    }

    #[test]
    fn nothing_that_matters_leaves_no_share_of_assumptions() {
        let causes = Causes(vec![vec![0]]);
        let doubt = Doubt {
            place: Place::Fan,
            parameter: Parameter::Shape,
            standard: 0.1,
            spread: Spread::Even,
            cause: None,
            assumed: true,
            source: "the owner".into(),
        };
        let at = |change: f64| {
            causes.sum(
                Output::TotalFlow,
                1.0,
                std::slice::from_ref(&doubt),
                &[change],
            )
        };
        assert_eq!(at(0.0).assumed_share, 0.0);
        assert!(at(0.0).contributions.is_empty());
        assert_eq!(
            (at(0.3).standard, at(0.3).contributions[0].share),
            (0.3, 1.0)
        );
    }

    #[test]
    fn every_value_is_told_in_order() {
        let (network, open) = ready(FALLING, None);
        let doubts = network.doubts(&[]);
        let point = network.uncertainty(&open, &doubts).unwrap();
        let told: Vec<String> = point.values().map(|at| at.output.to_string()).collect();
        let hoods = ["long", "short", "shut"].map(|hood| Output::Hood(hood.into()).to_string());
        let both = [Output::TotalFlow, Output::FanPressure].map(|output| output.to_string());
        assert_eq!(told, [&both[..], &hoods].concat());
    }
}
