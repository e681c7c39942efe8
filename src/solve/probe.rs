//! How the laws of a network change with each number of its system, at the flows of a balance.
//!
//! A number reaches only its neighbourhood: the law of its own section, of the run inline below,
//! the junctions at both ends. Only these are made anew for a changed number, so that all numbers
//! together cost in proportion to the system. Air alone reaches everything.
#![allow(
    clippy::indexing_slicing,
    reason = "sections and legs are numbered by the model and its plan, which are of one system"
)]

use super::{
    differences::{Differences, Site, Term},
    plan::{LegStart, NONE, Plan},
    tap::wye_of,
    work::Workspace,
};
use crate::{
    air::{Air, AirProperties},
    loss::{Junction, Part, PowerLaw, coefficients::head_per_q2},
    place::Place,
    system::{
        Collector, Factors, Model, ModelError, Parameter, Section, Spot, Start, System,
        balance_heads, fold_collector, fold_section, join_at, meets_by, spots,
    },
};

/// One number of a system.
#[derive(Debug, Clone, Copy)]
pub(super) struct Number {
    pub(super) spot: Spot,
    pub(super) parameter: Parameter,
    pub(super) value: f64,
}

/// Every number that the answers of a plan depend on, in the order of the model.
pub(super) fn numbers(plan: &Plan) -> Vec<Number> {
    let origin = &plan.origin;
    // A visitor that changes nothing still needs something that it could change.
    let (mut system, mut factors) = (origin.system.clone(), origin.factors.clone());
    let mut numbers = Vec::new();
    for spot in spots(&origin.system) {
        if in_fan_curve(&origin.system.collector, spot) {
            continue;
        }
        let model = junction_of(plan, spot);
        let list = &mut |parameter, value| {
            numbers.push(Number {
                spot,
                parameter,
                value,
            });
            None
        };
        // Nothing is changed, so nothing is refused.
        let _ = spot.visit(&mut system, &mut factors, model, list);
    }
    numbers
}

fn junction_of(plan: &Plan, spot: Spot) -> Option<Junction> {
    match spot {
        Spot::Join(section) => meets_by(&plan.origin.system, &plan.origin.topology, section),
        _ => None,
    }
}

/// Whether a part of the collector is in the fan's curve already and charged nothing.
fn in_fan_curve(collector: &Collector, spot: Spot) -> bool {
    let (runs, run, part) = match spot {
        Spot::Before { run, part } => (&collector.before, run, part),
        Spot::After { run, part } => (&collector.after, run, part),
        _ => return false,
    };
    let part = part.and_then(|part| runs.get(run)?.parts.get(part));
    part.is_some_and(|part| collector.in_fan_curve(part))
}

/// A system to try numbers on, at the flows of a balance.
pub(super) struct Probe<'a> {
    plan: &'a Plan,
    work: &'a Workspace,
    system: System,
    factors: Factors,
    faults: Vec<ModelError>,
}

/// What was changed and must be put back.
enum Saved {
    Air(Air),
    Collector(Box<Collector>),
    Section(usize, Box<Section>),
}

impl<'a> Probe<'a> {
    pub(super) fn new(plan: &'a Plan, work: &'a Workspace) -> Self {
        let mut probe = Self {
            plan,
            work,
            system: plan.origin.system.clone(),
            factors: plan.origin.factors.clone(),
            faults: Vec::new(),
        };
        // A hood that is not open carries what its shut gates let by, whatever their opening.
        for i in 0..plan.sections.len() {
            if probe.is_shut(i) {
                for part in &mut probe.system.sections[i].parts {
                    if let Part::Gate(gate) = part {
                        gate.opening = 0.0;
                    }
                }
            }
        }
        probe
    }

    /// Tells of every number that is wanted how the laws of the legs, and the fan's pressure,
    /// change with it at these flows \[Pa per unit\].
    pub(super) fn run(
        mut self,
        wanted: impl Fn(Number, &Place) -> bool,
        mut tell: impl FnMut(Number, Place, &[Term]),
    ) {
        let mut differences = Differences::default();
        for number in numbers(self.plan) {
            let place = number.spot.place(&self.plan.origin.system);
            if !wanted(number, &place) {
                continue;
            }
            if self.is_idle(number) {
                tell(number, place, &[]);
                continue;
            }
            let saved = self.save(number.spot);
            let usual = number.parameter.usual();
            let slopes = differences.slopes(number.value, usual, |value, terms| {
                let good = self.set(number, value) && self.terms(number, terms);
                self.restore(&saved);
                good
            });
            tell(number, place, slopes);
            // Factors stand outside of what was saved.
            self.set(number, number.value);
            self.restore(&saved);
        }
    }

    fn q(&self, leg: u32) -> f64 {
        self.work.leg(leg).q
    }

    /// Whether a section carries only what a shut gate lets by.
    fn is_shut(&self, section: usize) -> bool {
        self.work.is_shut(self.plan.sections[section].body)
    }

    /// Whether no air meets the number, so that nothing depends on it.
    fn is_idle(&self, number: Number) -> bool {
        let (Spot::Section(i) | Spot::Part { section: i, .. } | Spot::Hood(i) | Spot::Join(i)) =
            number.spot
        else {
            return false;
        };
        let last = self.plan.sections[i].last;
        let shut = number.parameter == Parameter::Opening && self.is_shut(i);
        let still_at_wye = match number.spot {
            Spot::Join(_) => true,
            Spot::Section(_) => number.parameter.is_of_bore(),
            _ => false,
        } && wye_of(self.plan, self.work, last).is_some();
        !(self.work.leg(last).live || still_at_wye) || shut
    }

    fn save(&self, spot: Spot) -> Saved {
        match spot {
            Spot::Air => Saved::Air(self.system.air),
            Spot::Fan | Spot::Before { .. } | Spot::After { .. } => {
                Saved::Collector(Box::new(self.system.collector.clone()))
            }
            Spot::Section(i) | Spot::Part { section: i, .. } | Spot::Join(i) | Spot::Hood(i) => {
                Saved::Section(i, Box::new(self.system.sections[i].clone()))
            }
        }
    }

    fn restore(&mut self, saved: &Saved) {
        match saved {
            Saved::Air(air) => self.system.air = *air,
            Saved::Collector(collector) => self.system.collector = (**collector).clone(),
            Saved::Section(i, section) => self.system.sections[*i] = (**section).clone(),
        }
    }

    /// Puts a number in its place; false where it is refused.
    fn set(&mut self, number: Number, value: f64) -> bool {
        let model = junction_of(self.plan, number.spot);
        let put = &mut |parameter, _| (parameter == number.parameter).then_some(value);
        number
            .spot
            .visit(&mut self.system, &mut self.factors, model, put)
            .is_ok()
    }

    /// The laws that the number reaches, as the system stands; false where one refuses.
    fn terms(&mut self, number: Number, terms: &mut Vec<Term>) -> bool {
        let Ok(air) = (match number.spot {
            Spot::Air => self.system.air.properties(),
            _ => Ok(self.plan.origin.air),
        }) else {
            return false;
        };
        self.faults.clear();
        let topology = &self.plan.origin.topology;
        let outlet = |i: usize| topology.outlets.get(i).copied().flatten();
        match number.spot {
            Spot::Air => {
                for i in 0..self.system.sections.len() {
                    self.section(i, &air, terms);
                    self.junction(Some(i), &air, terms);
                }
                self.junction(None, &air, terms);
                self.collector(&air, terms);
                self.fan(&air, terms);
            }
            Spot::Fan => {
                self.collector(&air, terms);
                self.fan(&air, terms);
            }
            Spot::Before { .. } | Spot::After { .. } => {
                self.collector(&air, terms);
                self.junction(None, &air, terms);
            }
            Spot::Section(i) if number.parameter.is_of_bore() => {
                self.section(i, &air, terms);
                self.junction(Some(i), &air, terms);
                self.junction(outlet(i), &air, terms);
                // A run inline below feels where it is entered from.
                match outlet(i) {
                    Some(outlet) if topology.inlets[outlet].len() == 1 => {
                        self.section(outlet, &air, terms);
                    }
                    None if topology.mains.len() == 1 => self.collector(&air, terms),
                    _ => {}
                }
            }
            Spot::Section(i) | Spot::Part { section: i, .. } | Spot::Hood(i) => {
                self.section(i, &air, terms);
            }
            Spot::Join(i) => self.junction(outlet(i), &air, terms),
        }
        self.faults.is_empty()
    }

    /// What a section loses by itself, its leaks among it.
    fn section(&mut self, i: usize, air: &AirProperties, terms: &mut Vec<Term>) {
        let model = Model {
            system: &self.system,
            factors: &self.factors,
        };
        let law = fold_section(model, &self.plan.origin.topology, i, air, &mut self.faults);
        let plan = &self.plan.sections[i];
        let own = law.conduit.head;
        let whole = self.q(plan.last);
        let mut tell = |site, value| terms.push(Term { site, value });
        tell(Site::SectionHead(i as u32), own * whole * whole);
        if let Start::Hood(_) = self.system.sections[i].start {
            let q = self.q(plan.first);
            tell(Site::Hood(i as u32), (1.0 + law.entry_k) * own * q * q);
        }
        let mut push = |leg, value| tell(Site::Leg(leg), value);
        let q = self.q(plan.body);
        push(plan.body, law.conduit.loss(q));
        let leak = |leg: u32, law: Option<PowerLaw>| {
            // Dead behind a shut gate.
            let q = self.q(leg);
            law.map_or(0.0, |law| if q > 0.0 { law.pressure(q).value } else { 0.0 })
        };
        if plan.wall_leak != NONE {
            // As `Builder::section` in compile.rs joins it.
            push(plan.body, own * q * q);
            push(plan.last, own * (whole * whole - 2.0 * q * q));
            push(plan.wall_leak, leak(plan.wall_leak, law.wall_leak));
        }
        let hole = plan.first.wrapping_sub(1);
        if let Some(link) = self.plan.links.get(hole as usize)
            && matches!(link.start, LegStart::Leak(_))
            && link.down == plan.first
        {
            push(hole, leak(hole, law.leak));
        }
    }

    /// What the junction at the head of a section, or of the collector, makes of its inlets.
    fn junction(&mut self, outlet: Option<usize>, air: &AirProperties, terms: &mut Vec<Term>) {
        let topology = &self.plan.origin.topology;
        let inlets = match outlet {
            Some(i) => topology.inlets.get(i).map_or(&[][..], Vec::as_slice),
            None => &topology.mains,
        };
        if inlets.len() < 2 {
            return;
        }
        let model = Model {
            system: &self.system,
            factors: &self.factors,
        };
        let joined = join_at(model, outlet, inlets, air, &mut self.faults);
        let last = |i: usize| self.plan.sections[i].last;
        let mut total = 0.0;
        let mut momentum = 0.0;
        let mut push = |site, value| terms.push(Term { site, value });
        for (&i, foot) in inlets.iter().zip(&joined.feet) {
            let area_m2 = self.system.sections[i].size.area().as_m2();
            let head = head_per_q2(air.density.as_kg_m3(), area_m2);
            let q = self.q(last(i));
            total += q;
            momentum += foot.momentum * q * q;
            let by_formula = joined.head.wye.map_or(0.0, |wye| {
                let at = |i| self.q(last(i));
                let loss = wye.law.at(at(wye.branch), at(wye.straight));
                match i {
                    _ if i == wye.branch => loss.branch.dp_pa,
                    _ => loss.straight.dp_pa,
                }
            });
            let meeting = (foot.own_head + foot.join_k * head) * q * q;
            push(Site::Leg(last(i)), meeting + by_formula);
            push(Site::Foot(i as u32), meeting + by_formula);
        }
        let first = outlet.map_or(self.plan.entry, |i| self.plan.sections[i].first);
        let own = joined.head.outlet_head * total * total - momentum;
        push(Site::Leg(first), own);
        if outlet.is_none() {
            push(Site::CollectorJoint, own);
        }
    }

    /// What the tree asks of the fan's curve beyond the end of the mains.
    fn collector(&mut self, air: &AirProperties, terms: &mut Vec<Term>) {
        let model = Model {
            system: &self.system,
            factors: &self.factors,
        };
        let topology = &self.plan.origin.topology;
        let (before, after) = fold_collector(model, topology, air, &mut self.faults);
        let heads = balance_heads(&self.system, air, &after, &mut self.faults);
        let leg = self.plan.root();
        let q = self.q(leg);
        let losses = before.iter().chain(&after).map(|law| law.loss(q));
        let value = losses.sum::<f64>() + heads.beyond_losses * q * q;
        terms.push(Term {
            site: Site::Leg(leg),
            value,
        });
        for (run, law) in before.iter().enumerate() {
            let mut push = |site, value| terms.push(Term { site, value });
            push(Site::Run(run as u32), law.loss(q));
            push(Site::RunHead(run as u32), law.head * q * q);
        }
    }

    /// What the fan gives on the basis of its curve.
    fn fan(&mut self, air: &AirProperties, terms: &mut Vec<Term>) {
        let Some(fan) = &self.system.collector.fan else {
            return;
        };
        let factor = match self.factors.of_fan() {
            Ok(factor) => factor,
            Err(error) => return self.faults.push(ModelError::new(Place::Fan, error)),
        };
        let scale = factor * (air.density.as_kg_m3() / fan.density().as_kg_m3());
        let q = self.q(self.plan.root());
        let value = scale * fan.curve().at(q).value;
        terms.push(Term {
            site: Site::Fan,
            value,
        });
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        loss::{Gate, Junction, Tightness},
        solve::{
            Network,
            by_hand::{FALLING, system},
        },
        system::Join,
    };

    /// How a still branch joins at a wye by formula, and how wide it is, changes what the straight
    /// run loses there; at a plain joint it changes nothing.
    #[test]
    fn a_still_branch_counts_at_a_wye_by_formula() {
        let mut by_formula = system(FALLING, None);
        // The main alone, straight on from "long", and "short" beside it behind a tight gate.
        by_formula.sections.truncate(3);
        by_formula.sections[0].junction = Some(Junction::Crane);
        let wide = by_formula.sections[0].size;
        by_formula.sections[1].size = wide;
        by_formula.sections[1].join = Join::default();
        let short = &mut by_formula.sections[2];
        short.tightness = Tightness::Airtight;
        short.parts[0] = Part::Gate(Gate {
            opening: 1.0,
            leak_area: None,
        });
        let mut plain = by_formula.clone();
        plain.sections[0].junction = Some(Junction::Momentum);
        for (system, idle) in [(by_formula, false), (plain, true)] {
            let network = Network::new(&system).unwrap();
            let open = network.open(["long"]).unwrap();
            let mut work = Workspace::default();
            network.solve(&open, &mut work).unwrap();
            let probe = Probe::new(network.plan(), &work);
            let is_idle = |spot, parameter| {
                probe.is_idle(Number {
                    spot,
                    parameter,
                    value: 1.0,
                })
            };
            assert_eq!(is_idle(Spot::Join(2), Parameter::Angle), idle);
            assert_eq!(is_idle(Spot::Section(2), Parameter::Diameter), idle);
            // Its walls and its parts never do.
            assert!(is_idle(Spot::Section(2), Parameter::Roughness));
            assert!(!is_idle(Spot::Join(1), Parameter::Angle));
        }
    }
}
