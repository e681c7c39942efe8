//! Hoods and machines: what they take in, and whether they can.

use super::book::Book;
use crate::{
    loss::{Gate, Part},
    place::Place,
    system::{Section, Start},
};

/// Whether air gets by the gates of a section when they are shut; never where it has none.
fn leaks_when_shut(section: &Section) -> bool {
    let mut gates = section.parts.iter().filter_map(|part| match part {
        Part::Gate(gate) => Some(Gate {
            opening: 0.0,
            ..*gate
        }),
        _ => None,
    });
    let first = gates.next();
    first.is_some_and(|gate| !gate.is_shut()) && gates.all(|gate| !gate.is_shut())
}

/// Whether a gate of a section lets no air by, open hood or not.
fn stands_shut(section: &Section) -> bool {
    let mut parts = section.parts.iter();
    parts.any(|part| matches!(part, Part::Gate(gate) if gate.is_shut()))
}

impl Book<'_> {
    /// Whether each section is cut off from the fan: a gate takes its own section out, leaking walls
    /// and all, and what lies upstream.
    pub(super) fn cut_off(&self) -> Vec<bool> {
        let topology = &self.resolved.topology;
        let mut cut: Vec<bool> = self.system.sections.iter().map(stands_shut).collect();
        for &i in topology.order.iter().rev() {
            let below = topology.outlets.get(i).copied().flatten();
            let below = below.is_some_and(|below| cut.get(below) == Some(&true));
            if let Some(at) = cut.get_mut(i) {
                *at |= below;
            }
        }
        cut
    }

    /// Hoods and machines.
    pub(super) fn openings(&mut self) {
        let (system, point) = (self.system, self.point);
        let cut_off = self.cut_off();
        let starts = system.sections.iter().zip(&point.sections).zip(cut_off);
        let hooded = starts.filter_map(|((section, end), cut)| match &section.start {
            Start::Hood(hood) => Some((section, end, cut, hood)),
            _ => None,
        });
        for ((section, end, cut_off, hood), state) in hooded.zip(&point.hoods) {
            let at = Place::Hood(hood.id.clone());
            self.same(&state.section, &section.id, &at);
            self.same(&state.machine, &hood.machine, &at);
            self.same(&state.required, &hood.required, &at);
            self.forward(state.flow, &at);
            self.numbers(&[state.static_pressure.as_pa()], &at);
            let q = state.flow.as_m3_s();
            if cut_off || !(state.open || leaks_when_shut(section)) {
                self.same(&state.open, &false, &at);
                let off = self.share_of_flow(q);
                self.audit.leaks.raise(off, || at.clone());
            } else {
                // The room stands at 0.
                let head = end.total_pressure.as_pa() + end.loss.as_pa();
                let off = self.share_of_pressure(head);
                self.audit.pressures.raise(off, || at.clone());
            }
            // Behind it the air has been accelerated and has lost what the entry takes.
            let area_m2 = section.size.area().as_m2();
            let entry = self.pipe(section, None).entry_loss(&hood.entry, q);
            let suction = entry.map_or(f64::NAN, |entry| entry + self.head(q, area_m2));
            let off = self.share_of_pressure(state.static_pressure.as_pa() + suction);
            self.audit.statics.raise(off, || at.clone());
        }
        for (machine, state) in system.machines.iter().zip(&point.machines) {
            let at = Place::Machine(machine.id.clone());
            let own = || system.hoods_of(&machine.id);
            let own = || own().filter_map(|(i, _)| point.hoods.get(i));
            self.same(&state.required, &machine.required, &at);
            self.same(&state.open, &own().any(|hood| hood.open), &at);
            self.forward(state.flow, &at);
            let sum: f64 = own().map(|hood| hood.flow.as_m3_s()).sum();
            let off = self.share_of_flow(state.flow.as_m3_s() - sum);
            self.audit.flows.raise(off, || at);
        }
        self.forward(point.flow, &Place::System);
        let mains = self.resolved.topology.mains.iter();
        let mains = mains.filter_map(|&i| point.sections.get(i));
        let sum: f64 = mains.map(|main| main.flow.as_m3_s()).sum();
        let off = self.share_of_flow(point.flow.as_m3_s() - sum);
        self.audit.flows.raise(off, || Place::System);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        bore::Bore,
        loss::Wall,
        quantity::{Area, Length},
    };

    #[test]
    fn every_gate_has_to_leak_for_a_shut_section_to() {
        let gate = |leak_area: Option<f64>| {
            Part::Gate(Gate {
                opening: 1.0,
                leak_area: leak_area.map(Area::from_m2),
            })
        };
        let section = |parts: Vec<Part>| {
            let size = Bore::Round(Length::from_mm(125.0));
            let mut section = Section::new("drop", size, Wall::Galvanised);
            section.parts = parts;
            section
        };
        let leaks = |parts| leaks_when_shut(&section(parts));
        assert!(!leaks(vec![Part::K(1.0)]));
        assert!(leaks(vec![gate(Some(1e-4))]));
        assert!(!leaks(vec![gate(None)]));
        assert!(leaks(vec![
            gate(Some(1e-4)),
            Part::K(1.0),
            gate(Some(2e-4))
        ]));
        assert!(!leaks(vec![gate(Some(1e-4)), gate(None)]));
        assert!(!leaks(vec![gate(None), gate(Some(1e-4))]));
    }
}
