//! Hoods in use with their gates: what each wants, and how its gate throttles it.

use super::GateError;
use crate::{
    loss::{Gate, Part},
    quantity::VolumeFlow,
    root::bracketed_root,
    solve::{OpenSet, OperatingPoint},
    system::{Section, Start, System},
};

/// Largest loss coefficient of a gate while it is sought: far below 1 % of travel.
const MOST_K: f64 = 9e5;

/// A hood in use and its gate.
#[derive(Debug)]
pub(super) struct Leg {
    /// Index among the hoods of the network.
    pub(super) hood: usize,
    pub(super) section: usize,
    pub(super) part: usize,
    pub(super) gate: Gate,
    pub(super) target_m3s: f64,
    /// Loss coefficient of the gate wide open, and the largest that is tried.
    open_k: f64,
    most_k: f64,
    /// Loss coefficient of the whole leg with its gate wide open.
    leg_k: f64,
}

/// Hoods in use with their gates.
pub(super) fn legs(system: &System, meant: &OpenSet) -> Result<Vec<Leg>, GateError> {
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

/// Gives each leg its target and what it loses, from the answer with all gates wide open.
pub(super) fn measure(
    system: &System,
    wide: &OperatingPoint,
    legs: &mut [Leg],
) -> Result<(), GateError> {
    for leg in legs.iter_mut() {
        if let Some(section) = wide.sections.get(leg.section) {
            let k = section.loss.as_pa() / section.velocity_pressure.as_pa();
            leg.leg_k = k.max(leg.open_k);
        }
    }
    set_targets(system, wide, legs)
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

pub(super) fn least_share(legs: &[Leg], flows_m3s: &[f64]) -> f64 {
    let flow = |leg: &Leg| flows_m3s.get(leg.hood).copied().unwrap_or(0.0);
    let shares = legs.iter().map(|leg| flow(leg) / leg.target_m3s);
    shares.fold(f64::INFINITY, f64::min)
}

impl Leg {
    /// The gate's loss coefficient when the leg's conductance is exp(z) of that wide open.
    pub(super) fn k(&self, z: f64) -> f64 {
        let k = self.open_k + self.leg_k * (-2.0 * z).exp_m1();
        k.clamp(self.open_k, self.most_k)
    }

    /// The least z that is tried: a trace short of the largest loss coefficient, so that the
    /// derivative there is not zero.
    pub(super) fn least(&self) -> f64 {
        -0.499 * ((self.most_k - self.open_k) / self.leg_k).ln_1p()
    }

    /// The opening with that loss coefficient.
    pub(super) fn opening(&self, system: &System, z: f64) -> Result<f64, GateError> {
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        decide::by_hand::{shop, solved},
        solve::Network,
    };

    /// The first of the shop, with these coefficients.
    fn leg(system: &System, open_k: f64, most_k: f64, leg_k: f64) -> Leg {
        let (part, gate) = gate_of(&system.sections[0]).unwrap();
        Leg {
            hood: 0,
            section: 0,
            part,
            gate,
            target_m3s: 0.1,
            open_k,
            most_k,
            leg_k,
        }
    }

    #[test]
    fn an_opening_has_the_coefficient_that_was_asked_for_and_rounding_leaves_it_wide_open() {
        let system = shop();
        let section = &system.sections[0];
        let (_, gate) = gate_of(section).unwrap();
        let k = |opening| {
            let loss = Gate { opening, ..gate }.loss(section.size).unwrap();
            loss.heads.fixed
        };
        let leg = leg(&system, k(1.0), MOST_K, 2.0);
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

    /// The least throttling is a trace short of the largest coefficient.
    #[test]
    fn the_least_that_is_tried_is_short_of_the_most_that_is_allowed() {
        let system = shop();
        for (open_k, most_k, leg_k) in [(5.0, 10.0, 6.0), (0.1, MOST_K, 3.0), (0.0, 1.0, 0.5)] {
            let leg = leg(&system, open_k, most_k, leg_k);
            let k = leg.k(leg.least());
            assert!(k < most_k && k > 0.96 * most_k, "{k} of {most_k}");
            assert_eq!(leg.k(2.0 * leg.least()), most_k);
            assert_eq!(leg.k(0.0), open_k);
        }
    }

    /// The branches of the shop differ by a coefficient of 1 and in nothing else.
    #[test]
    fn a_leg_is_measured_in_its_own_velocity_pressures() {
        let system = shop();
        let open = Network::new(&system)
            .unwrap()
            .open(["saw", "planer"])
            .unwrap();
        let mut legs = legs(&system, &open).unwrap();
        measure(&system, &solved(&system, &["saw", "planer"]), &mut legs).unwrap();
        let [table, chute] = &legs[..] else {
            panic!("{legs:?}")
        };
        assert!((chute.leg_k - table.leg_k - 1.0).abs() < 1e-9, "{legs:?}");
        // An entry of 0.5, a part of 1 and a gate.
        let gate = table.leg_k - 1.5;
        assert!((gate - table.open_k).abs() < 1e-9, "{legs:?}");
        assert_eq!((table.target_m3s, chute.target_m3s), (0.1, 0.1));
    }
}
