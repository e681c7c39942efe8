//! Sections and the junctions between them.

use super::{
    super::point::SectionState,
    book::{Book, Motion},
    pipe::Pipe,
};
use crate::{
    bore::Bore,
    loss::{Inlet, Junction, JunctionLosses, LossError, Part, PowerLaw},
    place::Place,
    quantity::{Angle, Area, VolumeFlow},
    system::{Section, Start},
};

impl<'a> Book<'a> {
    pub(super) fn pipe(
        &self,
        section: &'a Section,
        upstream: Option<(Bore, &'a [Part])>,
    ) -> Pipe<'a> {
        Pipe {
            bore: section.size,
            wall: &section.wall,
            parts: &section.parts,
            upstream,
            air: &self.resolved.air,
        }
    }

    /// Every section, and every junction.
    pub(super) fn sections(&mut self) {
        let (system, point, resolved) = (self.system, self.point, self.resolved);
        let cut_off = self.cut_off();
        let mut hoods = point.hoods.iter();
        let states = system.sections.iter().zip(&point.sections);
        let inlets = resolved.topology.inlets.iter();
        for (((section, state), inlets), cut_off) in states.zip(inlets).zip(cut_off) {
            let at = Place::Section(section.id.clone());
            let end = state.flow.as_m3_s();
            // What passes its parts: the leak of its walls comes at its downstream end.
            let (body, shut) = match &section.start {
                Start::Joins => {
                    let inlets = inlets.iter().filter_map(|&i| point.sections.get(i));
                    let flows = inlets.map(|inlet| inlet.flow.as_m3_s());
                    (flows.sum(), false)
                }
                Start::Hood(_) => match hoods.next() {
                    Some(hood) => (hood.flow.as_m3_s(), !hood.open),
                    None => (f64::NAN, false),
                },
                Start::Capped => (0.0, false),
                Start::Leak(_) => (end - state.leak.as_m3_s(), false),
            };
            self.facts(section, state, &at);
            let off = self.share_of_flow(end - (body + state.leak.as_m3_s()));
            // Of a hood's section it may be either: what else is wrong tells which.
            self.audit.flows.raise(off, || match &section.start {
                Start::Hood(hood) => Place::Hood(hood.id.clone()),
                _ => at.clone(),
            });
            let upstream = match inlets.as_slice() {
                [only] => system.sections.get(*only),
                _ => None,
            };
            let upstream = upstream.map(|s| (s.size, s.parts.as_slice()));
            let pipe = self.pipe(section, upstream);
            let joining = self.wall_joining(section, body, state.leak);
            let loss = || -> Result<f64, LossError> {
                let entry = match &section.start {
                    Start::Hood(hood) => pipe.entry_loss(&hood.entry, body)?,
                    _ => 0.0,
                };
                Ok(entry + pipe.loss(body, shut, |_| true)? + joining)
            };
            let off = state.loss.as_pa() - loss().unwrap_or(f64::NAN);
            let off = self.share_of_pressure(off);
            self.audit.losses.raise(off, || at.clone());
            self.leaks(section, state, (body, joining), cut_off);
            let junction = self.meet(Some((section, state)), inlets);
            self.same(&state.junction, &junction, &at);
        }
        self.meet(None, &resolved.topology.mains);
    }

    /// Size, velocity and the pressures at its end.
    fn facts(&mut self, section: &Section, state: &SectionState, at: &Place) {
        self.same(&state.size, &section.size, at);
        self.forward(state.flow, at);
        self.forward(state.leak, at);
        let &SectionState {
            velocity,
            velocity_pressure,
            total_pressure,
            static_pressure,
            ..
        } = state;
        let told = Motion {
            velocity,
            velocity_pressure,
            total_pressure,
            static_pressure,
        };
        self.motion(state.flow.as_m3_s(), section.size.area().as_m2(), told, at);
        let numbers = [state.loss, state.junction_loss, total_pressure].map(|p| p.as_pa());
        self.numbers(&numbers, at);
    }

    /// What the stream loses where the leak of its walls enters it square: the momentum balance,
    /// the section going straight on in its own bore.
    fn wall_joining(&self, section: &Section, body: f64, leak: VolumeFlow) -> f64 {
        if leak.as_m3_s() == 0.0 {
            return 0.0;
        }
        let area = section.size.area();
        let inlet = |degrees, q: f64| {
            let inlet = Inlet {
                area,
                angle: Angle::from_deg(degrees),
                k: 0.0,
            };
            (inlet, VolumeFlow::from_m3_s(q.max(0.0)))
        };
        let inlets = [inlet(0.0, body), inlet(90.0, leak.as_m3_s())];
        let losses = Junction::Momentum.losses(self.resolved.air.density, area, &inlets);
        let of_body = losses
            .ok()
            .and_then(|losses| losses.inlets.into_iter().next());
        of_body.map_or(f64::NAN, |inlet| inlet.loss.as_pa())
    }

    /// The leak of its walls, at the static suction just above it, and that of an end that is not
    /// tight, at the suction there.
    fn leaks(
        &mut self,
        section: &Section,
        state: &SectionState,
        (body, joining): (f64, f64),
        cut_off: bool,
    ) {
        let at = Place::Section(section.id.clone());
        let total = state.total_pressure.as_pa();
        let wall = section.tightness.law(wall_area(section));
        let above = total + joining - self.head(body, section.size.area().as_m2());
        self.leak(wall, cut_off, state.leak.as_m3_s(), -above, &at);
        if let Start::Leak(leak) = &section.start {
            let law = leak.law(self.resolved.air.density);
            self.leak(law, cut_off, body, -(total + state.loss.as_pa()), &at);
        }
    }

    fn leak(
        &mut self,
        law: Result<Option<PowerLaw>, LossError>,
        cut_off: bool,
        q: f64,
        suction: f64,
        at: &Place,
    ) {
        let off = match law {
            Ok(Some(law)) if !cut_off => {
                let by_law = law.coefficient() * suction.max(0.0).powf(law.exponent());
                let flow = self.share_of_flow(q - by_law).abs();
                // The law is steep where there is hardly any suction: there flow tells nothing.
                let suction = self.share_of_pressure(suction - law.pressure(q).value);
                flow.min(suction.abs())
            }
            Ok(_) => self.share_of_flow(q),
            Err(_) => f64::NAN,
        };
        self.audit.leaks.raise(off, || at.clone());
    }

    /// The junction at the head of a section or of the collector: its model, what it takes of each
    /// inlet, and how the pressures go on. Returns the model; none where fewer than two meet.
    fn meet(
        &mut self,
        outlet: Option<(&Section, &SectionState)>,
        inlets: &[usize],
    ) -> Option<Junction> {
        let (system, point) = (self.system, self.point);
        let met: Vec<(&Section, &SectionState)> = inlets
            .iter()
            .filter_map(|&i| system.sections.get(i).zip(point.sections.get(i)))
            .collect();
        // Where the mains go straight into the fan nothing stands downstream of them.
        let head = match outlet {
            Some((_, state)) => Some(state.total_pressure + state.loss),
            None if system.collector.before.is_empty() => None,
            None => point
                .collector
                .first()
                .map(|run| run.total_pressure + run.loss),
        };
        let own = outlet.map_or(system.collector.junction, |(section, _)| section.junction);
        let model = own.unwrap_or(system.junction);
        let size = match outlet {
            Some((section, _)) => Some(section.size),
            None => system.collector.before.first().map(|run| run.size),
        };
        let losses = size.filter(|_| met.len() > 1).map(|size| {
            let inlets: Vec<_> = met.iter().map(|met| inlet(model, *met)).collect();
            model.losses_at_any_flow(self.resolved.air.density, size.area(), &inlets)
        });
        for (i, (section, state)) in met.iter().enumerate() {
            let at = || Place::Join(section.id.clone());
            let told = state.junction_loss.as_pa();
            let by_model = match &losses {
                None => 0.0,
                Some(losses) => of_inlet(losses, i),
            };
            let off = self.share_of_pressure(told - by_model);
            self.audit.junctions.raise(off, at);
            if let Some(head) = head {
                let off = state.total_pressure.as_pa() - told - head.as_pa();
                let off = self.share_of_pressure(off);
                let at = || Place::Section(section.id.clone());
                self.audit.pressures.raise(off, at);
            }
        }
        losses?.ok().map(|losses| losses.model)
    }
}

fn of_inlet(losses: &Result<JunctionLosses, LossError>, i: usize) -> f64 {
    let inlet = losses.as_ref().ok().and_then(|losses| losses.inlets.get(i));
    inlet.map_or(f64::NAN, |inlet| inlet.loss.as_pa())
}

/// How a section enters a junction of this model, and with what.
fn inlet(model: Junction, (section, state): (&Section, &SectionState)) -> (Inlet, VolumeFlow) {
    let join = section.join;
    let fixed = match model {
        Junction::FixedK => join.k.unwrap_or(f64::NAN),
        _ => 0.0,
    };
    let inlet = Inlet {
        area: section.size.area(),
        angle: join.angle.unwrap_or(Angle::from_deg(0.0)),
        k: fixed + join.extra_k,
    };
    // A flow against the stream, or none, is told as such.
    (inlet, VolumeFlow::from_m3_s(state.flow.as_m3_s().max(0.0)))
}

/// Wall of the duct and hose of a section.
fn wall_area(section: &Section) -> Area {
    let lengths = section.parts.iter().filter_map(|part| match part {
        Part::Duct(length) => Some(length.as_m()),
        Part::Hose(hose) => Some(hose.length.as_m()),
        _ => None,
    });
    Area::from_m2(lengths.sum::<f64>() * section.size.perimeter().as_m())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        loss::Leak,
        solve::{
            Network, audit,
            by_hand::{FALLING, system},
        },
        system::{Model, Resolved},
    };

    /// Share by which a leak is off that has so much flow at so much suction.
    fn off(leak: &Leak, q: f64, suction: f64) -> f64 {
        let system = system(FALLING, None);
        let network = Network::new(&system).unwrap();
        let point = network.operating_point(&network.open_all()).unwrap();
        let resolved = Resolved::of(Model::plain(&system)).unwrap();
        let mut book = Book::new(&system, &point, &resolved);
        let law = leak.law(resolved.air.density);
        book.leak(law, false, q, suction, &Place::System);
        book.audit.leaks.value
    }

    fn power(at_1_pa: f64, exponent: f64) -> Leak {
        Leak::Power {
            at_1_pa: VolumeFlow::from_m3_s(at_1_pa),
            exponent,
        }
    }

    /// Of a leak of next to nothing the flow tells that it is right, of a wide one with hardly any
    /// suction the suction.
    #[test]
    fn a_leak_is_right_by_its_flow_or_by_its_suction() {
        let hair = power(1e-13, 0.65);
        let q = 1e-13 * 1000.0_f64.powf(0.65);
        assert!(off(&hair, q, 1000.0) < 1e-12);
        assert!(off(&hair, 1.001 * q, 1000.0) < 1e-12);
        let hole = power(10.0, 0.5);
        let q = 10.0 * 1e-3_f64.sqrt();
        assert!(off(&hole, q * (1.0 + 1e-9), 1e-3) < 1e-12);
        // Neither.
        assert!(off(&hole, q * 1.1, 1e-3) > 1e-8);
    }

    /// The collector starts where the mains end.
    #[test]
    fn pressures_go_on_into_the_first_run() {
        let system = system(FALLING, None);
        let network = Network::new(&system).unwrap();
        let mut point = network.operating_point(&network.open_all()).unwrap();
        point.collector[0].loss = point.collector[0].loss * 1.1;
        let audit = audit(&system, &point).unwrap();
        assert!(audit.pressures.value > 1e-3, "{audit}");
    }
}
