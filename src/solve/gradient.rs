//! Which number of the system moves an output, and how much: named, and ranked.
#![allow(
    clippy::indexing_slicing,
    reason = "the list has an entry for each number asked for, and indices are counted along it"
)]

use super::{
    Adjoint, Balance, Influence, Network, OpenSet, Output, SolveError, UncertaintyError, Workspace,
    differences::Term,
    probe::{self, Number, Probe},
};
use crate::{
    place::Place,
    system::{Parameter, Setting, UnknownName},
};
use std::{collections::HashMap, fmt};

/// How one output of a balance changes with every number that it depends on, by
/// [`Balance::gradient`] or [`Network::gradient`].
///
/// An adjoint sweep gives what an extra pascal in any leg does to the output; differences of the
/// elements' own laws at the flows of the balance give how many pascals a number makes. So nothing
/// is solved again, and the accuracy is that of differences of smooth formulas: about 1e-9 of what
/// the element as a whole does to the output.
///
/// - At the end of its range (an opening of 1, an extra coefficient of a fully closed gap) a number
///   is differentiated from the inside alone.
/// - At a corner there is no derivative, and the mean of both sides is told: where a run is exactly
///   as wide as its neighbour inline, narrowing costs and widening does not.
/// - A table's knots, which many usual sizes are, are no corner: slopes are continuous there.
/// - NaN stands for a number that cannot be changed either way.
/// - Beyond both ends of a fan's curve, where it was continued straight, the same continuation is
///   differentiated; see the point's [`Status`](super::Status).
/// - Of a curve with several crossings it is the crossing that the balance stands at that moves.
///
/// Numbers that no air meets, as all of a branch that is shut off, have a derivative of 0.
///
/// ```
/// # fn main() -> Result<(), Box<dyn std::error::Error>> {
/// # #[cfg(feature = "serde")] {
/// use airsplit::{Network, Output, Study};
/// let study: Study = toml::from_str(&std::fs::read_to_string("examples/chair_shop.toml")?)?;
/// let network = Network::new(&study.system)?;
/// let open = network.open(["planer"])?;
/// let gradient = network.gradient(&open, &Output::Machine("planer".into()))?;
/// for sensitivity in gradient.elements().into_iter().take(3) {
///     println!("{sensitivity}: {:+.1} cfm for 1 %", sensitivity.per_percent() * 2118.88);
/// }
/// # }
/// # Ok(())
/// # }
/// ```
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct Gradient {
    /// What was differentiated.
    pub output: Output,
    /// Its value, in [its unit](Output::unit).
    pub value: f64,
    /// Every number, in the order of the model.
    pub sensitivities: Vec<Sensitivity>,
}

/// How an output changes with one number of the system.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct Sensitivity {
    /// The element.
    pub place: Place,
    /// Which of its numbers.
    pub parameter: Parameter,
    /// The number, in the unit of the parameter.
    pub value: f64,
    /// Change of the output for each unit of the number.
    pub derivative: f64,
}

impl Sensitivity {
    /// Change of the output when the number grows by 1 %, in the unit of the output.
    #[must_use]
    pub fn per_percent(&self) -> f64 {
        0.01 * self.value * self.derivative
    }
}

/// `section "main": diameter 0.15 m`
impl fmt::Display for Sensitivity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        Setting::new(self.place.clone(), self.parameter, self.value).fmt(f)
    }
}

impl Gradient {
    /// All of them, those first that move the output most when they change by 1 %; of two alike
    /// the first in the model.
    ///
    /// One per cent says nothing of a number that is 0, nor of one whose zero is arbitrary: the
    /// temperature stands here by its kelvins.
    #[must_use]
    pub fn ranked(&self) -> Vec<&Sensitivity> {
        let mut ranked: Vec<_> = self.sensitivities.iter().collect();
        // A stable sort; NaN counts as nothing.
        let size = |at: &Sensitivity| Some(at.per_percent().abs()).filter(|size| !size.is_nan());
        ranked.sort_by(|a, b| {
            let (a, b) = (size(a).unwrap_or(0.0), size(b).unwrap_or(0.0));
            b.total_cmp(&a)
        });
        ranked
    }

    /// Of each element the number that moves the output most, ranked: which element, changed by
    /// 1 %, moves it most?
    #[must_use]
    pub fn elements(&self) -> Vec<&Sensitivity> {
        let mut seen = std::collections::HashSet::new();
        let mut ranked = self.ranked();
        ranked.retain(|at| seen.insert(&at.place));
        ranked
    }

    /// That of one number; `None` where the network has no such number.
    #[must_use]
    pub fn of(&self, place: &Place, parameter: Parameter) -> Option<&Sensitivity> {
        self.sensitivities
            .iter()
            .find(|at| at.parameter == parameter && at.place == *place)
    }
}

impl Network {
    /// Every number that this network's answers depend on, in the order of the model: what
    /// [`varied`](Self::varied) takes and a [`Gradient`] tells.
    ///
    /// Sizes of elements, and factors: how far the formula of a part, or the pressure of the fan,
    /// may be off. Not among them are the points of a fan curve, the size of a fan's test pipe, the
    /// flow at which a drop was rated, counts, and parts that the fan's curve contains already. A
    /// hood is listed by its coefficient even where that follows from its shape, moist air by its
    /// density and viscosity besides the weather.
    #[must_use]
    pub fn settings(&self) -> Vec<Setting> {
        let system = &self.plan().origin.system;
        probe::numbers(self.plan())
            .into_iter()
            .map(|at| Setting::new(at.spot.place(system), at.parameter, at.value))
            .collect()
    }

    /// How an output changes with every number of the system, at the operating point.
    ///
    /// The network keeps a copy of its system for this, so that a gradient can never be asked of
    /// another one.
    ///
    /// # Errors
    ///
    /// As [`solve`](Self::solve); an output that names no hood or machine.
    pub fn gradient(&self, open: &OpenSet, output: &Output) -> Result<Gradient, SolveError> {
        let mut work = Workspace::default();
        Ok(self.solve(open, &mut work)?.gradient(output)?)
    }
}

impl Balance<'_> {
    /// How an output changes with every number of the system.
    ///
    /// # Errors
    ///
    /// An output that names no hood or machine, with the names that exist, nearest first.
    pub fn gradient(&self, output: &Output) -> Result<Gradient, UnknownName> {
        let mut adjoint = Adjoint::default();
        let influence = self.influence(output, &mut adjoint)?;
        let mut sensitivities = Vec::new();
        let tell = |number: Number, place, terms: &[Term]| {
            sensitivities.push(Sensitivity {
                place,
                parameter: number.parameter,
                value: number.value,
                derivative: influence.of(terms),
            });
        };
        Probe::new(self.plan, self.work).run(|_, _| true, tell);
        Ok(Gradient {
            output: output.clone(),
            value: self.value(output)?,
            sensitivities,
        })
    }

    /// How outputs change with some numbers at the operating point.
    ///
    /// # Errors
    ///
    /// A number that no answer depends on; an output that is not there.
    pub(crate) fn jacobian(
        &self,
        outputs: &[Output],
        numbers: &[(&Place, Parameter)],
    ) -> Result<Jacobian, UncertaintyError> {
        let mut at: HashMap<_, Vec<usize>> = HashMap::new();
        for (i, &number) in numbers.iter().enumerate() {
            at.entry(number).or_default().push(i);
        }
        let mut tangents: Vec<Option<(f64, Vec<Term>)>> = vec![None; numbers.len()];
        Probe::new(self.plan, self.work).run(
            |number, place| at.contains_key(&(place, number.parameter)),
            |number, place, terms| {
                for &i in at.get(&(&place, number.parameter)).into_iter().flatten() {
                    tangents[i] = Some((number.value, terms.to_vec()));
                }
            },
        );
        let tangents: Vec<(f64, Vec<Term>)> = tangents
            .into_iter()
            .zip(numbers)
            .map(|(tangent, &(place, parameter))| {
                tangent.ok_or_else(|| UncertaintyError::NoNumber {
                    place: place.clone(),
                    parameter,
                })
            })
            .collect::<Result<_, _>>()?;
        let mut adjoint = Adjoint::default();
        let mut jacobian = Jacobian {
            numbers: tangents.iter().map(|&(value, _)| value).collect(),
            ..Jacobian::default()
        };
        for output in outputs {
            let influence = self
                .influence(output, &mut adjoint)
                .map_err(SolveError::from)?;
            let row = tangents.iter().map(|(_, terms)| influence.of(terms));
            jacobian.rows.push(row.collect());
            jacobian
                .values
                .push(self.value(output).map_err(SolveError::from)?);
        }
        Ok(jacobian)
    }
}

/// Outputs of a balance, and how they change with some numbers of its system.
#[derive(Debug, Clone, Default)]
pub(crate) struct Jacobian {
    /// The numbers as the system stands.
    pub(crate) numbers: Vec<f64>,
    /// Value of each output.
    pub(crate) values: Vec<f64>,
    /// Of each output its change for each unit of each number.
    pub(crate) rows: Vec<Vec<f64>>,
}

impl Influence<'_> {
    /// What a number does to the output, by how the laws change with it.
    fn of(&self, terms: &[Term]) -> f64 {
        terms
            .iter()
            .map(|term| self.at(term.site) * term.value)
            .sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::solve::{
        Output,
        by_hand::{FALLING, ready},
    };

    fn one(place: Place, parameter: Parameter, value: f64, derivative: f64) -> Sensitivity {
        Sensitivity {
            place,
            parameter,
            value,
            derivative,
        }
    }

    #[test]
    fn each_element_is_told_by_what_moves_the_output_most() {
        let (network, open) = ready(FALLING, None);
        let gradient = network.gradient(&open, &Output::TotalFlow).unwrap();
        let main = || Place::Section("main".into());
        let gradient = Gradient {
            sensitivities: vec![
                one(Place::Fan, Parameter::Shape, 1.0, 0.5),
                one(main(), Parameter::Roughness, 1e-4, -100.0),
                one(main(), Parameter::Diameter, 0.15, 40.0),
            ],
            ..gradient
        };
        let told: Vec<String> = gradient
            .elements()
            .iter()
            .map(|at| at.to_string())
            .collect();
        assert_eq!(
            told,
            [
                "section \"main\": diameter 0.15 m",
                "fan: shape of the curve 1"
            ]
        );
    }
}
