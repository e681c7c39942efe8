//! What no figure tells, and every report must say.

use super::finding::{Check, Finding, Measure, Sureness, Verdict};
use crate::{
    decide::source::{Source, Transcription},
    loss::Part,
    place::Place,
    solve::OperatingPoint,
    system::System,
};

/// What was seen in any of the points.
#[derive(Debug, Default)]
pub(super) struct Seen {
    shut: bool,
}

impl Seen {
    pub(super) fn look(&mut self, point: &OperatingPoint) {
        self.shut |= point.hoods.iter().any(|hood| !hood.open);
    }

    /// The cautions; those about gates where there is cause, once each.
    pub(super) fn tell(&self, system: &System, found: &mut Vec<Finding>) {
        let throttled = throttled(system);
        if self.shut || !throttled.is_empty() {
            found.push(caution(
                Check::Gates,
                "this leans on gates: what they keep from the shut hoods is what the open ones \
                 get. Gates gather dust and may be moved by anyone; plant for dust that explodes \
                 must be balanced without them",
                Source::new(
                    "UFC 3-410-04N (2004), ch. 7: gates for balancing only, locked after it; 2021 \
                     ASHRAE Handbook - Fundamentals, ch. 21, section 6.4",
                    Transcription::Read,
                ),
            ));
        }
        for (place, opening) in throttled {
            found.push(Finding {
                place,
                value: Some(Measure::Share(opening)),
                ..caution(
                    Check::PartOpenGate,
                    "a gate that stands part open in a duct that carries chips may plug",
                    Source::new("chips catch on the leaf", Transcription::CommonPractice),
                )
            });
        }
        found.extend(ALWAYS.map(|(check, text, source)| caution(check, text, source)));
    }
}

/// What is said of every system.
const ALWAYS: [(Check, &str, Source); 5] = [
    (
        Check::OpenSet,
        "what holds for some open gates is an analysis, not a compliant design basis: that counts \
         all openings open",
        Source::new(
            "UFC 3-410-04N (2004), ch. 7: never gates to shrink the design flow",
            Transcription::Read,
        ),
    ),
    (
        Check::CombustibleDust,
        "wood dust burns and explodes, and the extraction is where fires commonly begin: separator, \
         filter, their place and their protection are not looked at here",
        Source::new("HSE Woodworking Sheet 23", Transcription::Read),
    ),
    (
        Check::Bonding,
        "ducts must be of metal and hoses conductive, bonded and earthed: that is not looked at \
         here",
        Source::new(
            "UFC 3-410-04N (2004), ch. 7, after NFPA 664",
            Transcription::Read,
        ),
    ),
    (
        Check::MakeUpAir,
        "air blown outdoors must come back in: without openings for it the hoods get less than told \
         here, and stoves and heaters may draw their smoke back into the room (some 5 Pa can do \
         that: from memory)",
        Source::new(
            "UFC 3-410-04N (2004), ch. 7: replacement air to be determined",
            Transcription::Read,
        ),
    ),
    (
        Check::LocalCodes,
        "local codes and licensed practice decide; enough flow proves nothing about the dust that \
         people breathe",
        Source::new(
            "NFPA 660 and 664, NFPA 91, ATEX and DSEAR, rules on exposure to wood dust",
            Transcription::Memory,
        ),
    ),
];

/// Gates that stand neither wide open nor shut.
fn throttled(system: &System) -> Vec<(Place, f64)> {
    let mut found = Vec::new();
    for section in &system.sections {
        for (part, gate) in section.parts.iter().enumerate() {
            let Part::Gate(gate) = gate else { continue };
            if gate.opening > 0.0 && gate.opening < 1.0 && !gate.is_shut() {
                let section = section.id.clone();
                found.push((Place::Part { section, part }, gate.opening));
            }
        }
    }
    found
}

fn caution(check: Check, text: &str, source: Source) -> Finding {
    Finding {
        check,
        place: Place::System,
        verdict: Verdict::Caution,
        sure: Sureness::NotStated,
        value: None,
        limit: None,
        margin: None,
        point: None,
        text: text.into(),
        source,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{decide::by_hand::shop, loss::Gate, quantity::Area};

    #[test]
    fn gates_between_open_and_shut_are_throttled() {
        let mut system = shop();
        let mut openings = |opening, leak_cm2: f64| {
            let leak_area = Some(Area::from_m2(1e-4 * leak_cm2));
            system.sections[0].parts[0] = Part::Gate(Gate { opening, leak_area });
            throttled(&system)
                .into_iter()
                .map(|(_, opening)| opening)
                .collect::<Vec<_>>()
        };
        assert_eq!(openings(0.5, 1.0), [0.5]);
        assert_eq!(openings(0.5, 0.0), [0.5]);
        assert!(openings(1.0, 1.0).is_empty());
        // Shut, with a leak and without.
        assert!(openings(0.0, 1.0).is_empty());
        assert!(openings(0.0, 0.0).is_empty());
    }
}
