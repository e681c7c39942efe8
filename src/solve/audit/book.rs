//! What is audited, what was found so far, and the checks that sections and runs share.

use super::{super::point::OperatingPoint, Audit, collector};
use crate::{
    loss::Note,
    place::{Name, Place},
    quantity::{Pressure, Velocity, VolumeFlow},
    system::{Resolved, System},
};

/// What is audited, and what was found so far.
pub(super) struct Book<'a> {
    pub(super) system: &'a System,
    pub(super) point: &'a OperatingPoint,
    pub(super) resolved: &'a Resolved,
    pub(super) audit: Audit,
    /// What flows are told in shares of \[m3/s\].
    whole_flow: f64,
    /// What pressures are told in shares of \[Pa\].
    whole_pressure: f64,
}

impl<'a> Book<'a> {
    pub(super) fn new(
        system: &'a System,
        point: &'a OperatingPoint,
        resolved: &'a Resolved,
    ) -> Self {
        let positive = |x: &f64| x.is_finite() && *x > 0.0;
        let whole_flow = Some(point.flow.as_m3_s()).filter(positive);
        let sections = point.sections.iter();
        let of_sections = sections.flat_map(|at| [at.total_pressure, at.static_pressure]);
        let runs = point.collector.iter();
        let of_runs = runs.flat_map(|at| [at.total_pressure, at.static_pressure]);
        let pressures = of_sections.chain(of_runs).chain([point.fan.curve_pressure]);
        let largest = pressures.fold(0.0, |most: f64, next| most.max(next.as_pa().abs()));
        // A curve that rises may give next to nothing at rest.
        let of_fan = collector::fan_at_work(system, point).map(|fan| {
            let density = resolved.air.density / fan.density();
            let at_work = fan.pressure(point.flow).as_pa();
            fan.shut_off().as_pa().max(at_work) * density
        });
        let whole_pressure = of_fan.filter(positive).unwrap_or(largest);
        let mut book = Self {
            system,
            point,
            resolved,
            audit: Audit::NONE,
            // Without any, violations are told as they are.
            whole_flow: whole_flow.unwrap_or(1.0),
            whole_pressure: Some(whole_pressure).filter(positive).unwrap_or(1.0),
        };
        if whole_flow.is_none() {
            book.audit.numbers.raise(1.0, || Place::System);
        }
        book
    }

    pub(super) fn share_of_flow(&self, m3_s: f64) -> f64 {
        m3_s / self.whole_flow
    }

    pub(super) fn share_of_pressure(&self, pa: f64) -> f64 {
        pa / self.whole_pressure
    }

    /// A fact of the model that the answer must tell alike.
    pub(super) fn same<T: PartialEq + ?Sized>(&mut self, told: &T, has: &T, at: &Place) {
        if told != has {
            self.audit.model.raise(1.0, || at.clone());
        }
    }

    pub(super) fn numbers(&mut self, numbers: &[f64], at: &Place) {
        if !numbers.iter().all(|number| number.is_finite()) {
            self.audit.numbers.raise(1.0, || at.clone());
        }
    }

    /// A flow that must not be against the stream.
    pub(super) fn forward(&mut self, flow: VolumeFlow, at: &Place) {
        let back = self.share_of_flow((-flow.as_m3_s()).max(0.0));
        self.audit.numbers.raise(back, || at.clone());
        self.numbers(&[flow.as_m3_s()], at);
    }

    /// What air of this flow in a bore of this area has for velocity and velocity pressure, and
    /// between them for static pressure.
    pub(super) fn motion(&mut self, q: f64, area_m2: f64, told: Motion, at: &Place) {
        let Motion {
            velocity,
            velocity_pressure,
            total_pressure,
            static_pressure,
        } = told;
        let flow = self.share_of_flow(velocity.as_m_s() * area_m2 - q);
        self.audit.velocities.raise(flow, || at.clone());
        let head = self.head(q, area_m2);
        for off in [
            velocity_pressure.as_pa() - head,
            static_pressure.as_pa() - (total_pressure.as_pa() - head),
        ] {
            let off = self.share_of_pressure(off);
            self.audit.statics.raise(off, || at.clone());
        }
    }

    /// Velocity pressure \[Pa\].
    pub(super) fn head(&self, q: f64, area_m2: f64) -> f64 {
        let velocity = q / area_m2;
        0.5 * self.resolved.air.density.as_kg_m3() * velocity * velocity
    }

    /// Whether every name stands where the model has it.
    pub(super) fn names(&mut self) -> bool {
        let (system, point) = (self.system, self.point);
        let hoods = || system.hoods().map(|(_, hood)| &hood.id);
        let mut found = Vec::new();
        let mut compare = |told: Vec<_>, has: Vec<_>, at: fn(_) -> Place| {
            let differ = has.iter().zip(&told).find(|(has, told)| has != told);
            if let Some((&has, _)) = differ {
                found.push(at(Name::clone(has)));
            } else if has.len() != told.len() {
                found.push(Place::System);
            }
        };
        compare(
            point.sections.iter().map(|state| &state.id).collect(),
            system.sections.iter().map(|section| &section.id).collect(),
            Place::Section,
        );
        compare(
            point.hoods.iter().map(|state| &state.name).collect(),
            hoods().collect(),
            Place::Hood,
        );
        compare(
            point.machines.iter().map(|state| &state.name).collect(),
            system.machines.iter().map(|machine| &machine.id).collect(),
            Place::Machine,
        );
        let runs = collector::places(system);
        if !point.collector.iter().map(|run| &run.place).eq(&runs) {
            found.push(Place::Collector);
        }
        let fine = found.is_empty();
        for at in found {
            self.audit.model.raise(1.0, || at);
        }
        fine
    }

    /// Notes, and what is charged nothing.
    pub(super) fn told_of_the_model(&mut self) {
        let (resolved, point) = (self.resolved, self.point);
        let sections = || resolved.sections.iter().map(|law| &law.conduit);
        let conduits = || sections().chain(&resolved.before).chain(&resolved.after);
        let of_parts = conduits().flat_map(|conduit| conduit.notes.iter().cloned());
        let mut notes: Vec<(Place, Note)> = of_parts.collect();
        for (section, law) in self.system.sections.iter().zip(&resolved.sections) {
            let place = || Place::Section(section.id.clone());
            notes.extend(law.head.notes.iter().map(|note| (place(), note.clone())));
        }
        let adapter = resolved.adapter.notes.iter();
        notes.extend(adapter.map(|note| (Place::Collector, note.clone())));
        self.same(&point.notes, &notes, &Place::System);
        let spared: Vec<Place> = conduits().flat_map(|c| c.in_fan_curve.clone()).collect();
        self.same(&point.in_fan_curve, &spared, &Place::Collector);
    }
}

/// What an answer tells of the air at a place.
pub(super) struct Motion {
    pub(super) velocity: Velocity,
    pub(super) velocity_pressure: Pressure,
    pub(super) total_pressure: Pressure,
    pub(super) static_pressure: Pressure,
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::solve::{
        Network, audit,
        by_hand::{FALLING, system},
    };

    /// What the audit says of an answer that was changed so.
    fn audited(change: impl FnOnce(&mut OperatingPoint)) -> Audit {
        let system = system(FALLING, None);
        let network = Network::new(&system).unwrap();
        let mut point = network.operating_point(&network.open_all()).unwrap();
        change(&mut point);
        audit(&system, &point).unwrap()
    }

    #[test]
    fn what_is_no_number_or_flows_back_is_told() {
        assert!(audited(|_| {}).is_sound(1e-11));
        let nan = audited(|point| point.sections[1].leak = VolumeFlow::from_m3_s(f64::NAN));
        assert_eq!(nan.numbers.value, 1.0);
        let nan = audited(|point| point.hoods[0].flow = VolumeFlow::from_m3_s(f64::NAN));
        assert_eq!(nan.numbers.value, 1.0);
        let mut whole = 0.0;
        let back = audited(|point| {
            whole = point.flow.as_m3_s();
            point.hoods[0].flow = VolumeFlow::from_m3_s(-0.01);
        });
        assert!((back.numbers.value - 0.01 / whole).abs() < 1e-12);
    }
}
