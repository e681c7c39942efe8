//! Is it enough, and does it hold: findings of an answer against published limits.

mod caution;
mod collapse;
mod fan;
mod filter;
mod finding;
mod flow;
mod needs;
mod options;
mod velocity;

pub use collapse::{Material, Shell};
pub use finding::{Check, Finding, Findings, Measure, Sureness, Verdict};
pub(super) use needs::{NeededFlow, Needs};
pub use options::{CheckOptions, SectionShell, Uncertain, UncertainAt};

use super::requirement::RequirementError;
use crate::{
    loss::LossError,
    place::{Name, Place},
    quantity::Pressure,
    solve::OperatingPoint,
    system::{Model, ModelErrors, Resolved, System, UnknownName},
};
use std::collections::HashMap;

/// Why nothing was checked.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum CheckError {
    /// No operating point was given.
    #[error("nothing to check: give at least one operating point")]
    NoPoint,
    /// An operating point was made from another system.
    #[error(
        "operating point {} is of another system: its {what} are not those of this one; give a point of this one", .point + 1
    )]
    ForeignPoint {
        /// Its index.
        point: usize,
        /// What differs: hoods, machines, sections or runs of the collector.
        what: &'static str,
    },
    /// The model is at fault.
    #[error(transparent)]
    Model(#[from] ModelErrors),
    /// An option names what is not there.
    #[error(transparent)]
    Unknown(#[from] UnknownName),
    /// An option says two things of one name.
    #[error("{what} {name:?} is told twice: keep one of them", name = .name.as_str())]
    Twice {
        /// The option.
        what: &'static str,
        /// The name.
        name: Name,
    },
    /// A hood's need stands under a machine that it does not serve.
    #[error(
        "hood {hood:?} does not serve machine {machine:?}; tell its need under its own machine",
        hood = .hood.as_str(), machine = .machine.as_str()
    )]
    OtherMachine {
        /// The hood.
        hood: Name,
        /// The machine that its need was told under.
        machine: Name,
    },
    /// A requirement is out of range or has no row in its table.
    #[error("machine {machine:?}: {error}", machine = .machine.as_str())]
    Requirement {
        /// The machine.
        machine: Name,
        /// What is wrong.
        error: RequirementError,
    },
    /// An option is out of range.
    #[error("{place}: {error}")]
    Value {
        /// What it is told of.
        place: Place,
        /// What is wrong.
        error: LossError,
    },
}

/// Checks answers of a system: is it enough, and does it hold?
///
/// Every check of every point is returned, passed ones among them, then the cautions; of several
/// points the worst stands for all, check by check and place by place. Only what is open in a
/// point is held against its need there, and only sections with an open hood upstream against the
/// velocity that carries their dust.
///
/// An answer for some open gates is an analysis and no compliant design basis. Dust that burns,
/// bonding, make-up air and back-draught stand among the cautions; local codes and licensed
/// practice decide.
///
/// ```
/// # #[cfg(feature = "serde")]
/// # fn main() -> Result<(), Box<dyn std::error::Error>> {
/// use airsplit::{CheckOptions, Network, Study, check};
/// let study: Study = toml::from_str(&std::fs::read_to_string("examples/chair_shop.toml")?)?;
/// let network = Network::new(&study.system)?;
/// let point = network.operating_point(&network.open(["planer", "table saw"])?)?;
/// for finding in check(&study.system, [&point], &CheckOptions::new())?.failures() {
///     println!("{finding}");
/// }
/// # Ok(())
/// # }
/// # #[cfg(not(feature = "serde"))]
/// # fn main() {}
/// ```
///
/// # Errors
///
/// No point, one of another system, a model at fault; an option that names what is not there,
/// says two things of one name, or is out of range.
pub fn check<'p>(
    system: &System,
    points: impl IntoIterator<Item = &'p OperatingPoint>,
    options: &CheckOptions,
) -> Result<Findings, CheckError> {
    let resolved = Resolved::of(Model::plain(system))?;
    let needs = Needs::of(system, options)?;
    let shut_off = shut_off(system, &resolved);
    let mut findings = Findings::default();
    let mut known: HashMap<(Check, Place, Option<String>), usize> = HashMap::new();
    let mut cautions = caution::Seen::default();
    let mut count = 0;
    for (index, point) in points.into_iter().enumerate() {
        is_of(system, index, point)?;
        let context = Context {
            system,
            resolved: &resolved,
            options,
            needs: &needs,
            point,
            index,
            shut_off,
        };
        let mut found = Vec::new();
        flow::check(&context, &mut found);
        velocity::check(&context, &mut found);
        filter::check(&context, &mut found);
        fan::check(&context, &mut found);
        collapse::check(&context, &mut found);
        for finding in found {
            // What was not compared is told by its text alone.
            let told = finding.margin.is_none().then(|| finding.text.clone());
            let key = (finding.check, finding.place.clone(), told);
            let at = *known.entry(key).or_insert(findings.all.len());
            match findings.all.get_mut(at) {
                Some(known) if finding.is_worse_than(known) => *known = finding,
                Some(_) => {}
                None => findings.all.push(finding),
            }
        }
        cautions.look(point);
        count = index + 1;
    }
    if count == 0 {
        return Err(CheckError::NoPoint);
    }
    cautions.tell(system, &mut findings.all);
    Ok(findings)
}

/// What every check sees.
struct Context<'a> {
    system: &'a System,
    resolved: &'a Resolved,
    options: &'a CheckOptions,
    needs: &'a Needs,
    point: &'a OperatingPoint,
    index: usize,
    /// The most that the fan can draw.
    shut_off: Option<Pressure>,
}

impl Context<'_> {
    fn relative_flow(&self, place: &Place) -> Option<f64> {
        let uncertain = self.options.uncertain.as_ref();
        uncertain.map(|uncertain| uncertain.flow(place))
    }

    fn relative_pressure(&self, place: &Place) -> Option<f64> {
        let uncertain = self.options.uncertain.as_ref();
        uncertain.map(|uncertain| uncertain.pressure(place))
    }

    fn of_point(&self, hangs_on_it: bool) -> Option<usize> {
        hangs_on_it.then_some(self.index)
    }
}

/// The highest pressure of the fan's curve in the air of the shop: no suction can be more.
fn shut_off(system: &System, resolved: &Resolved) -> Option<Pressure> {
    let fan = system.collector.fan.as_ref()?;
    let denser = resolved.air.density / fan.density();
    let highest = fan.peak().pressure.as_pa().max(fan.shut_off().as_pa());
    Some(Pressure::from_pa(denser * highest))
}

/// Refuses a point of another system.
fn is_of(system: &System, index: usize, point: &OperatingPoint) -> Result<(), CheckError> {
    match differs(system, point) {
        None => Ok(()),
        Some(what) => Err(CheckError::ForeignPoint { point: index, what }),
    }
}

/// What of a point is not that of this system.
pub(super) fn differs(system: &System, point: &OperatingPoint) -> Option<&'static str> {
    let collector = &system.collector;
    let sections = point.sections.iter().map(|state| (&state.id, state.size));
    let hoods = system.hoods().map(|(_, hood)| &hood.id);
    let machines = system.machines.iter().map(|machine| &machine.id);
    let runs = collector.before.iter().chain(&collector.after);
    let runs = runs.map(|run| run.size);
    if !sections.eq(system.sections.iter().map(|s| (&s.id, s.size))) {
        Some("sections")
    } else if !point.hoods.iter().map(|hood| &hood.name).eq(hoods) {
        Some("hoods")
    } else if !point.machines.iter().map(|m| &m.name).eq(machines) {
        Some("machines")
    } else if !point.collector.iter().map(|run| run.size).eq(runs) {
        Some("runs of the collector")
    } else {
        None
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::decide::by_hand::{shop, solved};

    /// What hangs on an answer is told with its place among them, and how sure it is.
    #[test]
    fn findings_name_their_answer_and_its_uncertainty() {
        let system = shop();
        let point = solved(&system, &["saw"]);
        let mut options = CheckOptions::new();
        let found = |options: &CheckOptions| {
            let findings = check(&system, [&point], options).unwrap();
            let of = findings.of(Check::HoodSuction);
            of.map(|at| (at.point, at.sure)).collect::<Vec<_>>()
        };
        assert_eq!(found(&options), [(Some(0), Sureness::NotStated)]);
        // Some hundred pascals, of which nothing is known.
        options.uncertain = Some(Uncertain {
            flow: 0.0,
            pressure: 9.0,
            at: Vec::new(),
        });
        assert_eq!(found(&options), [(Some(0), Sureness::CannotSay)]);
    }
}
