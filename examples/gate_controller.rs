//! Which gates does a controller open as machines start and stop, so that the main keeps its speed?
//!
//! The chair shop's morning, invented: a machine starts or stops, and before any gate moves the open
//! set is solved, starting from the balance before. Where the duct that several machines share gets
//! too slow to carry chips, the fewest further gates are opened that make it fast enough without taking
//! what the running machines need; of as many, those that leave them most. What cannot be answered is
//! data, and leaves the gates as they are. One network and one workspace serve all of it.
//!
//! ```text
//! cargo run --release --example gate_controller
//! ```

#![allow(clippy::print_stdout, reason = "an example speaks to a person")]

use airsplit::{
    Hood, Name, Network, Section, SolveError, Start, Status, Study, System, TransportLimits,
    UnknownName, Workspace,
};
use std::{collections::BTreeSet, error::Error, time::Instant};

const SHOP: &str = include_str!("chair_shop.toml");

/// Machines starting (+) and stopping (-); one message is garbled, as messages are.
const MORNING: [(&str, &str); 10] = [
    ("08:00", "+planer"),
    ("08:25", "+table saw"),
    ("08:40", "-planer"),
    ("09:05", "+lathe"),
    ("09:10", "+disc sender"),
    ("09:30", "-table saw"),
    ("09:45", "-lathe"),
    ("10:00", "+mortiser"),
    ("10:20", "-mortiser"),
    ("10:30", "+disc sander"),
];

fn main() -> Result<(), Box<dyn Error>> {
    let study: Study = toml::from_str(SHOP)?;
    // What chips need in the shared duct; common practice, no source: 20 m/s for fresh, 15 for little.
    let limits = TransportLimits::new("15 m/s".parse()?);
    let mut controller = Controller::new(&study.system, limits)?;
    println!(
        "Chair shop: a morning of the gate controller; shared duct is to keep {}\n",
        controller.limits.least_velocity
    );
    println!(
        "{:19}{:>6} {:>5}  {:31}{:>5}  {:16}further gates",
        "", "m3/h", "gates", "slowest shared duct", "share", "of its need"
    );
    let began = Instant::now();
    for (time, message) in MORNING {
        let line = match controller.hear(message) {
            Ok(decision) => decision.to_string(),
            Err(fault) => format!("  gates stay: {fault}"),
        };
        println!("{time:6}{message:13}{line}");
    }
    println!(
        "\n{} balances in {:.1} ms, each from the one before; no fault stopped the controller.",
        controller.solves,
        began.elapsed().as_secs_f64() * 1e3
    );
    println!(
        "An analysis of some open gates, not a design basis: wood dust burns, explodes and harms lungs;\n\
         a gate that must not shut, spark and explosion protection are for local codes and licensed practice."
    );
    Ok(())
}

/// What was decided on a message.
struct Decision {
    /// All hoods that are to stand open; none: the fan may stop.
    open: Vec<Name>,
    further: Vec<Name>,
    told: Option<Told>,
}

/// How a set of open hoods does.
struct Told {
    flow_m3_h: f64,
    slowest: Option<(Name, f64)>,
    /// Of the running machine that gets the least share of its need.
    worst: Option<(Name, f64)>,
    fast: bool,
    status: Status,
}

impl Told {
    /// Of its need, what the running machine gets that gets least of it.
    fn share(&self) -> f64 {
        self.worst.as_ref().map_or(f64::INFINITY, |worst| worst.1)
    }
}

/// Why a message could not be obeyed.
#[derive(Debug)]
enum Fault {
    Garbled(UnknownName),
    NoAnswer(SolveError),
}

/// What a gate controller keeps.
struct Controller<'a> {
    system: &'a System,
    network: Network,
    work: Workspace,
    limits: TransportLimits,
    running: BTreeSet<Name>,
    solves: u32,
}

impl<'a> Controller<'a> {
    fn new(system: &'a System, limits: TransportLimits) -> Result<Self, Box<dyn Error>> {
        Ok(Self {
            system,
            network: Network::new(system)?,
            work: Workspace::default(),
            limits,
            running: BTreeSet::new(),
            solves: 0,
        })
    }

    fn hear(&mut self, message: &str) -> Result<Decision, Fault> {
        let (sign, machine) = message.split_at(1);
        self.network.open([machine]).map_err(Fault::Garbled)?;
        let before = self.running.clone();
        match sign {
            "+" => self.running.insert(machine.into()),
            _ => self.running.remove(machine),
        };
        let decision = self.decide();
        if decision.is_err() {
            self.running = before;
        }
        decision
    }

    fn decide(&mut self) -> Result<Decision, Fault> {
        let runs = |hood: &Hood| {
            let machine = hood.machine.as_ref().unwrap_or(&hood.id);
            self.running.contains(machine)
        };
        let hoods = self.system.sections.iter().filter_map(hood);
        let own: Vec<Name> = hoods
            .filter(|hood| runs(hood))
            .map(|hood| hood.id.clone())
            .collect();
        if own.is_empty() {
            return Ok(Decision {
                open: own,
                further: Vec::new(),
                told: None,
            });
        }
        let shared = self.shared(&own);
        let others: Vec<Name> = self
            .network
            .hoods()
            .filter(|hood| !own.contains(hood))
            .cloned()
            .collect();
        let alone = self.told(&own, &shared)?;
        // Further gates must not take what the running machines need, or lack already.
        let least = alone.share().min(1.0);
        let mut best = (Vec::new(), alone);
        // One further gate, then two: the fewest that do.
        for number in 1..=self.limits.most_further.min(2) {
            if best.1.fast {
                break;
            }
            for further in choices(&others, number) {
                let open: Vec<Name> = own.iter().chain(&further).cloned().collect();
                let told = self.told(&open, &shared)?;
                let does = told.fast && told.share() >= least;
                if does && (!best.1.fast || told.share() > best.1.share()) {
                    best = (further, told);
                }
            }
        }
        let (further, told) = best;
        Ok(Decision {
            open: own.into_iter().chain(further.clone()).collect(),
            further,
            told: Some(told),
        })
    }

    /// Duct without a hood of its own on the way of these hoods to the fan.
    fn shared(&self, hoods: &[Name]) -> Vec<usize> {
        let sections = &self.system.sections;
        let at = |id: &Name| sections.iter().position(|section| section.id == *id);
        let starts =
            |section: &&Section| hood(section).is_some_and(|hood| hoods.contains(&hood.id));
        let mut found = BTreeSet::new();
        for section in sections.iter().filter(starts) {
            let mut next = section.into.as_ref().and_then(at);
            while let Some(i) = next {
                found.insert(i);
                next = sections
                    .get(i)
                    .and_then(|section| section.into.as_ref())
                    .and_then(at);
            }
        }
        found.into_iter().collect()
    }

    /// Solves a set of open hoods, from the balance of the one before.
    fn told(&mut self, open: &[Name], shared: &[usize]) -> Result<Told, Fault> {
        let open = self.network.open(open).map_err(Fault::Garbled)?;
        let balance = self
            .network
            .resume(&open, &mut self.work)
            .map_err(Fault::NoAnswer)?;
        self.solves += 1;
        let slowest = shared
            .iter()
            .filter_map(|&i| {
                balance
                    .section_velocities()
                    .nth(i)
                    .map(|speed| (i, speed.as_m_s()))
            })
            .min_by(|a, b| a.1.total_cmp(&b.1));
        let worst = self
            .system
            .machines
            .iter()
            .zip(balance.machine_flows())
            .filter(|(machine, _)| self.running.contains(&machine.id))
            .map(|(machine, flow)| {
                (
                    machine.id.clone(),
                    flow.as_m3_s() / machine.required.as_m3_s(),
                )
            })
            .min_by(|a, b| a.1.total_cmp(&b.1));
        Ok(Told {
            flow_m3_h: balance.flow().as_m3_h(),
            fast: slowest.is_none_or(|(_, speed)| speed >= self.limits.least_velocity.as_m_s()),
            slowest: slowest
                .and_then(|(i, speed)| Some((self.system.sections.get(i)?.id.clone(), speed))),
            worst,
            status: balance.status,
        })
    }
}

/// The hood at the start of a section, if it starts at one.
fn hood(section: &Section) -> Option<&Hood> {
    match &section.start {
        Start::Hood(hood) => Some(hood),
        _ => None,
    }
}

/// Every choice of one or two of these.
fn choices(names: &[Name], number: usize) -> Vec<Vec<Name>> {
    let one = names.iter().map(|name| vec![name.clone()]);
    if number == 1 {
        return one.collect();
    }
    let pairs = names.iter().enumerate().flat_map(|(i, first)| {
        names
            .iter()
            .skip(i + 1)
            .map(move |second| vec![first.clone(), second.clone()])
    });
    pairs.collect()
}

impl std::fmt::Display for Decision {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let Some(told) = &self.told else {
            return write!(f, "{:6} {:5}  nothing runs: the fan may stop", 0, 0);
        };
        let slow = if told.fast { "" } else { ", too slow" };
        let slowest = told.slowest.as_ref().map_or(String::new(), |(id, speed)| {
            format!("{speed:.1} m/s in {id}{slow}")
        });
        let worst = told.worst.as_ref().map_or("", |(id, _)| id.as_str());
        let further: Vec<_> = self.further.iter().map(Name::as_str).collect();
        let further = match (further.is_empty(), told.fast) {
            (true, true) => "none needed".into(),
            (true, false) => "none helps".into(),
            (false, _) => further.join(", "),
        };
        let (flow, gates, share) = (told.flow_m3_h, self.open.len(), told.share());
        write!(
            f,
            "{flow:6.0} {gates:5}  {slowest:31}{share:5.2}  {worst:16}{further}"
        )?;
        match told.status {
            Status::Converged => Ok(()),
            other => write!(f, " ({other:?})"),
        }
    }
}

impl std::fmt::Display for Fault {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Garbled(unknown) => {
                let nearest = unknown.nearest.first().map_or("", Name::as_str);
                write!(
                    f,
                    "no {} is called {:?}; is {nearest:?} meant?",
                    unknown.what, unknown.name
                )
            }
            Self::NoAnswer(error) => write!(f, "no answer: {error}"),
        }
    }
}
