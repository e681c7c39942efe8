//! How far to open the gates so that every machine in use gets its share.
#![allow(
    clippy::indexing_slicing,
    reason = "vectors with an entry for each gate in use"
)]

use super::{
    Companions, SlowestSection, TransportLimits,
    transport::{HINT, Ways, hood_flows, list},
};
use crate::{
    loss::{Gate, LossError, Note, Part},
    place::{Name, Place},
    quantity::{Velocity, VolumeFlow},
    root::bracketed_root,
    solve::{Network, OpenSet, OperatingPoint, SolveError, Status, Workspace},
    system::{ModelErrors, Section, Start, System, UnknownName},
};
use nalgebra::{DMatrix, DVector};
use std::fmt;

/// A share of this much below 1 still counts as 1.
const ENOUGH: f64 = 1.0 - 1e-9;

/// Shares of all hoods agree when they differ by no more than this, relatively.
const EVEN: f64 = 1e-11;

/// As [`EVEN`], where rounding allows no better.
const NEARLY_EVEN: f64 = 1e-8;

/// Newton steps after which the search gives up; 3 to 6 are usual.
const MOST_STEPS: usize = 30;

/// Step of the difference quotients, in the logarithm of a leg's conductance.
const DIFFERENCE: f64 = 1e-6;

/// Largest loss coefficient of a gate while it is sought: far below 1 % of travel.
const MOST_K: f64 = 9e5;

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

/// A hood in use and its gate.
struct Leg {
    /// Index among the hoods of the network.
    hood: usize,
    section: usize,
    part: usize,
    gate: Gate,
    target_m3s: f64,
    /// Loss coefficient of the gate wide open, and the largest that is tried.
    open_k: f64,
    most_k: f64,
    /// Loss coefficient of the whole leg with its gate wide open.
    leg_k: f64,
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
    let mut shop = Shop {
        system: system.clone(),
        open: names,
        work: Workspace::default(),
    };
    shop.set_openings(&legs, &vec![1.0; legs.len()]);
    let wide = shop.point()?.1;
    for leg in &legs {
        if let Some(hood) = wide.hoods.get(leg.hood).filter(|hood| !hood.open) {
            let hood = hood.name.clone();
            return Err(GateError::CutOff { hood });
        }
    }
    set_targets(system, &wide, &mut legs)?;
    for leg in &mut legs {
        if let Some(section) = wide.sections.get(leg.section) {
            let k = section.loss.as_pa() / section.velocity_pressure.as_pa();
            leg.leg_k = k.max(leg.open_k);
        }
    }
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

/// Hoods in use with their gates.
fn legs(system: &System, meant: &OpenSet) -> Result<Vec<Leg>, GateError> {
    let mut legs = Vec::new();
    let mut hoods = 0_u32..;
    for (at, section) in system.sections.iter().enumerate() {
        let Start::Hood(here) = &section.start else {
            continue;
        };
        let Some(hood) = hoods.next().filter(|&hood| meant.contains(hood)) else {
            continue;
        };
        let Some((part, gate)) = gate_of(section) else {
            return Err(GateError::NoGate {
                hood: here.id.clone(),
                section: section.id.clone(),
            });
        };
        let k = |opening| {
            let loss = Gate { opening, ..gate }.loss(section.size);
            loss.map(|loss| loss.heads.fixed)
        };
        let open_k = k(1.0)?;
        legs.push(Leg {
            hood: hood as usize,
            section: at,
            part,
            gate,
            target_m3s: 0.0,
            open_k,
            most_k: k(least_opening(&gate))?.min(MOST_K),
            leg_k: open_k,
        });
    }
    Ok(legs)
}

fn gate_of(section: &Section) -> Option<(usize, Gate)> {
    let parts = section.parts.iter().enumerate();
    parts
        .filter_map(|(i, part)| match part {
            Part::Gate(gate) => Some((i, *gate)),
            _ => None,
        })
        .next()
}

/// The least opening at which the gate still lets air by.
fn least_opening(gate: &Gate) -> f64 {
    let shut = Gate {
        opening: 0.0,
        ..*gate
    };
    if shut.is_shut() { 1e-6 } else { 0.0 }
}

/// Gives each leg its target.
fn set_targets(system: &System, wide: &OperatingPoint, legs: &mut [Leg]) -> Result<(), GateError> {
    let own = |leg: &Leg| {
        let required = wide.hoods.get(leg.hood).and_then(|hood| hood.required);
        required.map_or(0.0, VolumeFlow::as_m3_s)
    };
    let flow = |leg: &Leg| {
        wide.hoods
            .get(leg.hood)
            .map_or(0.0, |hood| hood.flow.as_m3_s())
    };
    for leg in legs.iter_mut() {
        leg.target_m3s = own(leg);
    }
    for machine in &system.machines {
        let serves = |leg: &&mut Leg| {
            let hood = wide.hoods.get(leg.hood);
            hood.and_then(|hood| hood.machine.as_ref()) == Some(&machine.id)
        };
        let mut mine: Vec<&mut Leg> = legs.iter_mut().filter(serves).collect();
        let told: f64 = mine.iter().map(|leg| leg.target_m3s).sum();
        let lacking = machine.required.as_m3_s() - told;
        if lacking <= 0.0 {
            continue;
        }
        if mine.iter().any(|leg| leg.target_m3s == 0.0) {
            mine.retain(|leg| leg.target_m3s == 0.0);
        }
        let all: f64 = mine.iter().map(|leg| flow(leg)).sum();
        for leg in mine {
            leg.target_m3s += lacking * flow(leg) / all;
        }
    }
    let none = legs.iter().find(|leg| leg.target_m3s <= 0.0);
    match none.and_then(|leg| wide.hoods.get(leg.hood)) {
        Some(hood) => Err(GateError::NoRequirement {
            hood: hood.name.clone(),
        }),
        None => Ok(()),
    }
}

fn least_share(legs: &[Leg], flows_m3s: &[f64]) -> f64 {
    let flow = |leg: &Leg| flows_m3s.get(leg.hood).copied().unwrap_or(0.0);
    let shares = legs.iter().map(|leg| flow(leg) / leg.target_m3s);
    shares.fold(f64::INFINITY, f64::min)
}

/// The system with its gates as they are tried.
struct Shop {
    system: System,
    open: Vec<Name>,
    work: Workspace,
}

impl Shop {
    fn set(&mut self, leg: &Leg, part: Part) {
        let section = self.system.sections.get_mut(leg.section);
        if let Some(place) = section.and_then(|section| section.parts.get_mut(leg.part)) {
            *place = part;
        }
    }

    fn set_openings(&mut self, legs: &[Leg], openings: &[f64]) {
        for (leg, &opening) in legs.iter().zip(openings) {
            self.set(
                leg,
                Part::Gate(Gate {
                    opening,
                    ..leg.gate
                }),
            );
        }
    }

    fn solve_error(&self, error: SolveError) -> GateError {
        GateError::Solve {
            open: self.open.clone(),
            error,
        }
    }

    fn point(&self) -> Result<(Network, OperatingPoint), GateError> {
        let network = Network::new(&self.system)?;
        let open = network.open(&self.open)?;
        match network.operating_point(&open) {
            Ok(point) => Ok((network, point)),
            Err(error) => Err(self.solve_error(error)),
        }
    }

    /// Logarithms of the shares with the legs throttled so far.
    fn shares(&mut self, legs: &[Leg], throttle: &[f64]) -> Result<DVector<f64>, GateError> {
        for (leg, &z) in legs.iter().zip(throttle) {
            self.set(leg, Part::K(leg.k(z)));
        }
        let network = Network::new(&self.system)?;
        let open = network.open(&self.open)?;
        let balance = match network.solve(&open, &mut self.work) {
            Ok(balance) => balance,
            Err(error) => return Err(self.solve_error(error)),
        };
        let flows: Vec<f64> = balance.hood_flows().map(VolumeFlow::as_m3_s).collect();
        let shares = legs.iter().map(|leg| {
            let flow = flows.get(leg.hood).copied().unwrap_or(f64::NAN);
            (flow / leg.target_m3s).ln()
        });
        Ok(DVector::from_iterator(legs.len(), shares))
    }
}

/// How far apart shares are, from their logarithms; no number where a hood has no flow.
fn spread(shares: &DVector<f64>) -> f64 {
    if shares.iter().all(|s| s.is_finite()) {
        shares.max() - shares.min()
    } else {
        f64::NAN
    }
}

impl Leg {
    /// The gate's loss coefficient when the leg's conductance is exp(z) of that wide open.
    fn k(&self, z: f64) -> f64 {
        let k = self.open_k + self.leg_k * (-2.0 * z).exp_m1();
        k.clamp(self.open_k, self.most_k)
    }

    /// The least z that is tried: a trace short of the largest loss coefficient, so that the
    /// derivative there is not zero.
    fn least(&self) -> f64 {
        -0.499 * ((self.most_k - self.open_k) / self.leg_k).ln_1p()
    }

    /// The opening with that loss coefficient.
    fn opening(&self, system: &System, z: f64) -> Result<f64, GateError> {
        let k = self.k(z);
        let section = system.sections.get(self.section);
        // Less is rounding: the hoods that bind are told by their gates being wide open.
        let Some(section) = section.filter(|_| z < -1e-10 && k > self.open_k) else {
            return Ok(1.0);
        };
        let off = |opening| {
            let loss = Gate {
                opening,
                ..self.gate
            }
            .loss(section.size);
            loss.map_or(f64::NAN, |loss| (loss.heads.fixed / k).ln())
        };
        // K falls strictly from its value at the least opening, which is at least `most_k`, to
        // `open_k`.
        bracketed_root(off, least_opening(&self.gate), 1.0, 0.0).map_err(|_| {
            GateError::NotBalanced {
                spread: f64::INFINITY,
            }
        })
    }
}

/// The throttling z <= 0 of each leg, one at least at 0, with which all shares are alike.
///
/// Newton: with s the logarithms of the shares and J their derivatives over z, the step d that
/// makes them all sigma solves J d = sigma 1 - s; sigma is the largest with which no z passes 0.
fn even_out(shop: &mut Shop, legs: &[Leg]) -> Result<Vec<f64>, GateError> {
    let n = legs.len();
    let mut z = DVector::zeros(n);
    let mut shares = shop.shares(legs, z.as_slice())?;
    if n == 1 {
        return Ok(vec![0.0]);
    }
    // Right at once where the legs lie side by side and lose by the square of flow.
    let least = shares.min();
    let mut best = (spread(&shares), z.clone());
    if best.0.is_finite() {
        z = shares.map(|s| least - s);
    }
    for _ in 0..MOST_STEPS {
        for (z, leg) in z.iter_mut().zip(legs) {
            *z = z.clamp(leg.least(), 0.0);
        }
        shares = shop.shares(legs, z.as_slice())?;
        let uneven = spread(&shares);
        let is_open = z.max() == 0.0;
        if is_open && (uneven < best.0 || best.0.is_nan()) {
            best = (uneven, z.clone());
        } else if best.0 <= NEARLY_EVEN {
            // As good as rounding allows.
            break;
        }
        if is_open && uneven <= EVEN {
            break;
        }
        if !uneven.is_finite() {
            // Too far: halfway back to what was best.
            z = (&z + &best.1) / 2.0;
            continue;
        }
        let mut jacobian = DMatrix::zeros(n, n);
        for j in 0..n {
            let mut aside = z.clone();
            aside[j] -= DIFFERENCE;
            let column = (&shares - shop.shares(legs, aside.as_slice())?) / DIFFERENCE;
            jacobian.set_column(j, &column);
        }
        let lu = jacobian.lu();
        let (Some(per_sigma), Some(back)) = (lu.solve(&DVector::repeat(n, 1.0)), lu.solve(&shares))
        else {
            break;
        };
        let room = (0..n).filter(|&i| per_sigma[i] > 0.0);
        let room = room.map(|i| ((back[i] - z[i]) / per_sigma[i], i));
        let Some((sigma, binding)) = room.min_by(|a, b| a.0.total_cmp(&b.0)) else {
            break;
        };
        let step = per_sigma * sigma - back;
        // Legs e^2 times narrower or wider at most: the shares bend.
        let longest = step.amax();
        let length = if longest > 2.0 { 2.0 / longest } else { 1.0 };
        z += step * length;
        if length == 1.0 {
            z[binding] = 0.0;
        }
    }
    let (uneven, best) = best;
    if uneven <= NEARLY_EVEN {
        return Ok(best.iter().copied().collect());
    }
    let stuck = legs.iter().zip(&z).find(|(leg, z)| **z <= leg.least());
    let hood = stuck.and_then(|(leg, _)| shop.system.hoods().nth(leg.hood));
    Err(match hood {
        Some((_, hood)) => GateError::AllButShut {
            hood: hood.id.clone(),
        },
        None => GateError::NotBalanced { spread: uneven },
    })
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
    use crate::{
        decide::by_hand::{fan, m3_s, pa, shop},
        loss::{Filter, RatedDrop},
    };

    #[test]
    fn an_opening_has_the_coefficient_that_was_asked_for_and_rounding_leaves_it_wide_open() {
        let system = shop();
        let section = &system.sections[0];
        let (part, gate) = gate_of(section).unwrap();
        let k = |opening| {
            let loss = Gate { opening, ..gate }.loss(section.size).unwrap();
            loss.heads.fixed
        };
        let leg = Leg {
            hood: 0,
            section: 0,
            part,
            gate,
            target_m3s: 0.1,
            open_k: k(1.0),
            most_k: MOST_K,
            leg_k: 2.0,
        };
        let opening = |z| leg.opening(&system, z).unwrap();
        for z in [0.0, -1e-12, -0.9e-10, 1e-11, 0.5] {
            assert_eq!(opening(z), 1.0, "{z}");
        }
        for z in [-1e-9_f64, -1e-3, -0.5, -2.0] {
            let opening = opening(z);
            assert!(opening < 1.0, "{z}");
            // A conductance of exp(z): all of the leg's coefficient exp(-2 z) times as large.
            let asked = leg.open_k + leg.leg_k * ((-2.0 * z).exp() - 1.0);
            assert!((k(opening) / asked - 1.0).abs() < 1e-7, "{z} {opening}");
        }
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

    /// On the cliff of a fan, behind a main that takes nearly all of its pressure, Newton wanders
    /// before it ends: the share is even all the same, and one gate wide open.
    #[test]
    fn shares_are_even_where_the_way_there_is_long() {
        let mut system = shop();
        let cliff = [(0.0, 3000.0), (0.5, 2990.0), (0.6, 100.0), (1.0, 0.0)];
        system.collector.fan = Some(fan(&cliff));
        let cloth = Filter::Rated(RatedDrop {
            drop: pa(20_000.0),
            at: m3_s(0.1),
        });
        system.sections[0].parts.push(Part::Filter(cloth));
        system.sections[3].parts.push(Part::K(1000.0));
        for machine in &mut system.machines {
            machine.required = m3_s(1.0);
        }
        let limits = TransportLimits::new(Velocity::from_m_s(0.0));
        let plan = balance_gates(&system, ["saw", "planer"], &limits).unwrap();
        let [table, chute] = &plan.gates[..] else {
            panic!("{plan}")
        };
        assert!((table.flow / chute.flow - 1.0).abs() < 1e-8, "{plan}");
        assert!(table.opening == 1.0 && chute.opening < 1.0, "{plan}");
        let short = matches!(&plan.verdict, GateVerdict::Short { binding, .. } if *binding == ["table".into()]);
        assert!(short && plan.share < 0.6, "{plan}");
    }
}
