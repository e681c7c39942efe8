//! How far to open the gates so that every machine in use gets its share.

mod even_out;
mod legs;

use self::{
    even_out::{Shop, even_out},
    legs::{Leg, least_share, legs, measure},
};
use super::{
    Companions, SlowestSection, TransportLimits,
    transport::{HINT, Ways, hood_flows, list},
};
use crate::{
    loss::{Gate, LossError, Note},
    place::{Name, Place},
    quantity::{Velocity, VolumeFlow},
    solve::{Network, OperatingPoint, SolveError, Status},
    system::{ModelErrors, System, UnknownName},
};
use std::fmt;

/// A share of this much below 1 still counts as 1.
const ENOUGH: f64 = 1.0 - 1e-9;

/// Openings that give every hood in use the same share of its need, and the largest there is.
///
/// `Display` writes it, one gate a line, with what to beware of.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct GatePlan {
    /// Whether the openings give every hood enough, and what binds where they do not.
    pub verdict: GateVerdict,
    /// The least share, flow over need, of any hood in use: of all alike unless every gate is wide open.
    pub share: f64,
    /// One for each hood in use, in the order of their sections.
    pub gates: Vec<GateSetting>,
    /// The slowest section on the way of the hoods in use.
    pub slowest: SlowestSection,
    /// Which further gates must stay open, with these openings, so that the air is fast enough
    /// there.
    pub companions: Companions,
    /// The answer of the solver with these openings.
    pub point: OperatingPoint,
}

/// Whether a gate plan gives enough.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize),
    serde(rename_all = "snake_case")
)]
#[non_exhaustive]
pub enum GateVerdict {
    /// With every gate wide open every hood has enough.
    AllOpen,
    /// Throttled so that all hoods have one share, every one has enough.
    Throttled,
    /// It cannot be: with the air shared out evenly every hood gets too little.
    Short {
        /// The hoods whose gates are wide open already: theirs is the path that binds. A larger
        /// duct or hose there, or more fan, raises the share; no gate does.
        binding: Vec<Name>,
        /// The machines that they serve.
        machines: Vec<Name>,
    },
}

/// The gate of one hood.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct GateSetting {
    /// The hood.
    pub hood: Name,
    /// The machine that it serves.
    pub machine: Option<Name>,
    /// Where the gate is.
    pub place: Place,
    /// Share of full travel, 0 to 1.
    pub opening: f64,
    /// Its loss coefficient there.
    pub k: f64,
    /// What the hood needs: see [`balance_gates`].
    pub target: VolumeFlow,
    /// What it gets.
    pub flow: VolumeFlow,
    /// Mean velocity in its section.
    pub velocity: Velocity,
    /// Where the gate's law was used outside its data.
    pub notes: Vec<Note>,
}

/// Why there is no gate schedule or gate plan.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum GateError {
    /// Faults of the model.
    #[error(transparent)]
    Model(#[from] ModelErrors),
    /// A hood, machine or section that the model does not have.
    #[error(transparent)]
    Unknown(#[from] UnknownName),
    /// A value that the law of a gate cannot take.
    #[error(transparent)]
    Gate(#[from] LossError),
    /// A velocity that is negative or no number.
    #[error("cannot keep {} at {velocity}; a limit must be zero or more", of_section(.section.as_ref()))]
    Limit {
        /// The section that it was given for; `None`: for all.
        section: Option<Name>,
        /// What was given.
        velocity: Velocity,
    },
    /// More sets of further gates than can be solved.
    #[error(
        "{gates} gates make more than 2^20 sets of up to {asked} further ones; ask for sets of up to {most}"
    )]
    TooManySets {
        /// How many gates there are beside those in use.
        gates: usize,
        /// How many were to be opened at most.
        asked: usize,
        /// How many may be.
        most: usize,
    },
    /// A hood that is to be open cannot be: something on its way stands shut.
    #[error("hood {hood:?} gets no air: a gate on its way to the fan stands shut; open it", hood = .hood.as_str())]
    CutOff {
        /// The hood.
        hood: Name,
    },
    /// Nobody said what a hood needs, so that no share can be told.
    #[error(
        "hood {hood:?} has no required flow: give it one, or have it serve a machine whose requirement its other hoods do not use up",
        hood = .hood.as_str()
    )]
    NoRequirement {
        /// The hood.
        hood: Name,
    },
    /// A hood's section has no gate that could be set.
    #[error(
        "no gate to set: section {section:?} of hood {hood:?} has none among its parts; give it one",
        section = .section.as_str(), hood = .hood.as_str()
    )]
    NoGate {
        /// The hood.
        hood: Name,
        /// Its section.
        section: Name,
    },
    /// The solver has no answer for a set of openings.
    #[error("with {} open: {error}", list(.open))]
    Solve {
        /// What was to be open.
        open: Vec<Name>,
        /// Why.
        error: SolveError,
    },
    /// A hood draws more than its share however far its gate is shut.
    #[error(
        "hood {hood:?} gets more than its share even with its gate all but shut; leave it out, or give its branch a smaller duct",
        hood = .hood.as_str()
    )]
    AllButShut {
        /// The hood.
        hood: Name,
    },
    /// The search for openings ended with uneven shares.
    #[error(
        "no openings found that share the air out evenly: the shares still differ by {spread:.1e} of themselves"
    )]
    NotBalanced {
        /// Largest difference of two shares, relative to them.
        spread: f64,
    },
}

fn of_section(section: Option<&Name>) -> String {
    section.map_or_else(
        || "every section".into(),
        |name| format!("section {:?}", name.as_str()),
    )
}

impl GateError {
    /// Whether the question was at fault, rather than the search for its answer.
    #[must_use]
    pub fn is_input(&self) -> bool {
        match self {
            Self::Solve { error, .. } => error.is_input(),
            Self::NotBalanced { .. } => false,
            _ => true,
        }
    }
}

/// Openings for the gates of the hoods in use (names of hoods or machines), all others shut.
///
/// With every gate wide open and enough for all, they stay wide open. Otherwise they are throttled
/// until every hood gets one and the same share of its need, the largest that there is: the hood
/// whose path binds keeps its gate wide open, and nobody's gate can be opened further without
/// taking air from another (proportional balancing; common practice, no source). A share below 1
/// tells that the set cannot be served, and by how much. Where the fan's curve rises there may be
/// several even shares; the one that is told need not then be the largest.
///
/// A hood needs its own requirement. What its machine needs beyond the requirements of its hoods in
/// use falls on those that state none, in proportion to their flows with all gates wide open; where
/// each states its own, on all of them, likewise.
///
/// The first gate in flow order of each hood's section is set; any opening that the model gives it
/// is overridden. Beware: chips can hang on a half-shut leaf and plug the branch. The handbooks
/// want gates for balancing only, locked once set, and systems for explosive dust balanced without
/// any, because gates collect material (*2021 ASHRAE Handbook - Fundamentals*, ch. 21, section 6.4;
/// UFC 3-410-04N, ch. 7). Keep the velocity.
///
/// The openings are found by Newton's method on the logarithms of the legs' conductances, its
/// derivatives by differences: some 5 (n + 1) solves for n hoods in use. They stand on the answer
/// of the solver with the openings set, which the plan carries.
///
/// ```
/// # use airsplit::*;
/// # fn main() -> Result<(), Box<dyn std::error::Error>> {
/// # #[cfg(feature = "serde")] {
/// let study: Study = toml::from_str(&std::fs::read_to_string("examples/chair_shop.toml")?)?;
/// let limits = TransportLimits::new("20 m/s".parse()?);
/// let plan = balance_gates(&study.system, ["planer", "lathe"], &limits)?;
/// let open = plan.gates.iter().filter(|gate| gate.opening == 1.0).count();
/// assert!(open >= 1);
/// # }
/// # Ok(())
/// # }
/// ```
///
/// # Errors
///
/// [`GateError`]: a fault of the model, an unknown name, a hood without a gate or without a
/// requirement, a set without an answer; or openings that could not be found, as may be where the
/// fan's curve rises.
pub fn balance_gates<I>(
    system: &System,
    in_use: I,
    limits: &TransportLimits,
) -> Result<GatePlan, GateError>
where
    I: IntoIterator,
    I::Item: AsRef<str>,
{
    let names: Vec<Name> = in_use.into_iter().map(|n| n.as_ref().into()).collect();
    let network = Network::new(system)?;
    // Which hoods are meant, whether or not they get air; the limits are judged as well.
    let meant = network.open(&names)?;
    let ways = Ways::new(system, limits)?;
    if meant.is_empty() {
        return Err(GateError::Solve {
            open: names,
            error: SolveError::NothingOpen,
        });
    }
    let mut legs = legs(system, &meant)?;
    let mut shop = Shop::new(system, names);
    shop.set_openings(&legs, &vec![1.0; legs.len()]);
    let wide = shop.point()?.1;
    for leg in &legs {
        if let Some(hood) = wide.hoods.get(leg.hood).filter(|hood| !hood.open) {
            let hood = hood.name.clone();
            return Err(GateError::CutOff { hood });
        }
    }
    measure(system, &wide, &mut legs)?;
    let all_open = least_share(&legs, &hood_flows(&wide)) >= ENOUGH;
    let openings = if all_open {
        vec![1.0; legs.len()]
    } else {
        let throttle = even_out(&mut shop, &legs)?;
        let openings = legs
            .iter()
            .zip(&throttle)
            .map(|(leg, z)| leg.opening(system, *z));
        openings.collect::<Result<_, _>>()?
    };
    shop.set_openings(&legs, &openings);
    let (network, point) = shop.point()?;
    plan(&ways, &network, point, &legs, &openings, all_open)
}

fn plan(
    ways: &Ways<'_>,
    network: &Network,
    point: OperatingPoint,
    legs: &[Leg],
    openings: &[f64],
    all_open: bool,
) -> Result<GatePlan, GateError> {
    let share = least_share(legs, &hood_flows(&point));
    let mut gates = Vec::with_capacity(legs.len());
    for (leg, &opening) in legs.iter().zip(openings) {
        let (Some(hood), Some(section)) =
            (point.hoods.get(leg.hood), point.sections.get(leg.section))
        else {
            continue;
        };
        let loss = Gate {
            opening,
            ..leg.gate
        }
        .loss(section.size)?;
        gates.push(GateSetting {
            hood: hood.name.clone(),
            machine: hood.machine.clone(),
            place: Place::Part {
                section: section.id.clone(),
                part: leg.part,
            },
            opening,
            k: loss.heads.fixed,
            target: VolumeFlow::from_m3_s(leg.target_m3s),
            flow: hood.flow,
            velocity: section.velocity,
            notes: loss.notes,
        });
    }
    let verdict = if all_open {
        GateVerdict::AllOpen
    } else if share >= ENOUGH {
        GateVerdict::Throttled
    } else {
        let open = gates.iter().filter(|gate| gate.opening == 1.0);
        let binding = open.clone().map(|gate| gate.hood.clone()).collect();
        let mut machines: Vec<Name> = open.filter_map(|gate| gate.machine.clone()).collect();
        machines.dedup();
        GateVerdict::Short { binding, machines }
    };
    let (slowest, companions) = ways.judge(network, &point)?;
    Ok(GatePlan {
        verdict,
        share,
        gates,
        slowest,
        companions,
        point,
    })
}

impl fmt::Display for GatePlan {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let percent = 100.0 * self.share;
        match &self.verdict {
            GateVerdict::AllOpen => {
                writeln!(
                    f,
                    "all wide open; the least gets {percent:.0} % of its need"
                )?;
            }
            GateVerdict::Throttled => writeln!(f, "every hood gets {percent:.0} % of its need")?,
            GateVerdict::Short { binding, .. } => writeln!(
                f,
                "not enough: every hood gets {percent:.0} % of its need, with {} wide open already",
                list(binding)
            )?,
        }
        let width = self
            .gates
            .iter()
            .map(|gate| gate.hood.as_str().chars().count());
        let width = width.max().unwrap_or(0);
        for gate in &self.gates {
            write!(
                f,
                "{:width$}  {:3.0} % open: {:.0} of {:.0} m3/h at {:.1} m/s",
                gate.hood,
                100.0 * gate.opening,
                gate.flow.as_m3_s() * 3600.0,
                gate.target.as_m3_s() * 3600.0,
                gate.velocity.as_m_s(),
            )?;
            gate.notes
                .iter()
                .try_for_each(|note| write!(f, "; {note}"))?;
            writeln!(f)?;
        }
        writeln!(
            f,
            "slowest on the way: {:.1} m/s in {}, needs {:.1}; {}",
            self.slowest.velocity.as_m_s(),
            self.slowest.section,
            self.slowest.limit.as_m_s(),
            self.companions,
        )?;
        if self.point.status != Status::Converged {
            writeln!(f, "{HINT}")?;
        }
        if self.gates.iter().any(|gate| gate.opening < 1.0) {
            writeln!(
                f,
                "A half-shut gate collects chips and can plug the branch: keep the velocity, lock the gate once set, look behind it."
            )?;
        }
        f.write_str("An analysis of some open gates, not a design basis.")
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::decide::by_hand::{m3_s, shop, solved};

    /// Rounding does not throttle: where each gets what it needs to the last bits, all stay open.
    #[test]
    fn enough_to_the_last_bits_is_enough() {
        let limits = TransportLimits::new(Velocity::from_m_s(0.0));
        let verdict = |more: f64| {
            let mut system = shop();
            let flows = hood_flows(&solved(&system, &["saw", "planer"]));
            for (machine, flow) in system.machines.iter_mut().zip(&flows) {
                machine.required = m3_s(flow * more);
            }
            balance_gates(&system, ["saw", "planer"], &limits)
                .unwrap()
                .verdict
        };
        for more in [0.5, 1.0, 1.0 + 0.9e-9] {
            assert_eq!(verdict(more), GateVerdict::AllOpen, "{more}");
        }
        assert_ne!(verdict(1.0 + 1.1e-9), GateVerdict::AllOpen);
    }

    #[test]
    fn the_share_is_told_in_percent() {
        let limits = TransportLimits::new(Velocity::from_m_s(0.0));
        let mut plan = balance_gates(&shop(), ["saw", "planer"], &limits).unwrap();
        plan.share = 1.25;
        let mut first = |verdict| {
            plan.verdict = verdict;
            let text = plan.to_string();
            text.lines().next().unwrap_or_default().to_owned()
        };
        assert_eq!(
            first(GateVerdict::AllOpen),
            "all wide open; the least gets 125 % of its need"
        );
        assert_eq!(
            first(GateVerdict::Throttled),
            "every hood gets 125 % of its need"
        );
        let short = GateVerdict::Short {
            binding: vec!["table".into()],
            machines: vec!["saw".into()],
        };
        assert_eq!(
            first(short),
            "not enough: every hood gets 125 % of its need, with table wide open already"
        );
    }
}
