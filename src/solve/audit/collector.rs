//! The runs of the collector, and its fan.

use super::{
    super::{
        point::{OperatingPoint, RunState},
        quality::Status,
    },
    book::{Book, Motion},
    pipe::Pipe,
};
use crate::{
    bore::Bore,
    fan::{Basis, FanCurve},
    loss::Part,
    place::Place,
    quantity::Pressure,
    system::{Run, System},
};

/// The fan, where it was asked.
pub(super) fn fan_at_work<'a>(system: &'a System, point: &OperatingPoint) -> Option<&'a FanCurve> {
    let fan = system.collector.fan.as_ref();
    fan.filter(|_| point.status != Status::FlowImposed)
}

/// Places of the runs, in flow order.
pub(super) fn places(system: &System) -> Vec<Place> {
    let collector = &system.collector;
    let before = (0..collector.before.len()).map(|run| Place::Before { run, part: None });
    let after = (0..collector.after.len()).map(|run| Place::After { run, part: None });
    before.chain(after).collect()
}

impl<'a> Book<'a> {
    /// Runs before and after the fan.
    pub(super) fn collector(&mut self) {
        let (system, point) = (self.system, self.point);
        let collector = &system.collector;
        let states = point.collector.split_at_checked(collector.before.len());
        let Some((before, after)) = states else {
            return;
        };
        let main = match self.resolved.topology.mains.as_slice() {
            [only] => system.sections.get(*only),
            _ => None,
        };
        let main = main.map(|main| (main.size, main.parts.as_slice()));
        self.runs(&collector.before, before, main);
        let outlet = collector.fan.as_ref().and_then(FanCurve::outlet);
        self.runs(&collector.after, after, outlet.map(|bore| (bore, &[][..])));
        // In the open the static pressure is the room's, and the velocity pressure is lost.
        if let (Some(run), Some(state)) = (collector.after.last(), after.last()) {
            let exit = self.head(point.flow.as_m3_s(), run.size.area().as_m2());
            let off = self.share_of_pressure(state.total_pressure.as_pa() - exit);
            self.audit.pressures.raise(off, || state.place.clone());
        }
    }

    fn runs(
        &mut self,
        runs: &'a [Run],
        states: &[RunState],
        mut upstream: Option<(Bore, &'a [Part])>,
    ) {
        let collector = &self.system.collector;
        let q = self.point.flow.as_m3_s();
        let mut above: Option<Pressure> = None;
        for (run, state) in runs.iter().zip(states) {
            let at = &state.place;
            self.same(&state.size, &run.size, at);
            let &RunState {
                velocity,
                velocity_pressure,
                loss,
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
            self.motion(q, run.size.area().as_m2(), told, at);
            self.numbers(&[total_pressure, loss].map(|p| p.as_pa()), at);
            let pipe = Pipe {
                bore: run.size,
                wall: &run.wall,
                parts: &run.parts,
                upstream,
                air: &self.resolved.air,
            };
            let by_parts = pipe.loss(q, false, |part| !collector.in_fan_curve(part));
            let off = self.share_of_pressure(loss.as_pa() - by_parts.unwrap_or(f64::NAN));
            self.audit.losses.raise(off, || at.clone());
            if let Some(above) = above {
                let off = self.share_of_pressure((above - loss - total_pressure).as_pa());
                self.audit.pressures.raise(off, || at.clone());
            }
            above = Some(total_pressure);
            upstream = Some((run.size, &run.parts));
        }
    }

    /// The fan between what stands before and after it.
    pub(super) fn fan(&mut self) {
        let (system, point) = (self.system, self.point);
        let (collector, state) = (&system.collector, &point.fan);
        let fan = collector.fan.as_ref();
        let told = state.curve_pressure.as_pa();
        let q = point.flow.as_m3_s();
        let before = collector.before.len();
        let inlet = match before.checked_sub(1) {
            Some(last) => point.collector.get(last).map(|run| run.total_pressure),
            None => {
                let main = self.resolved.topology.mains.first();
                main.and_then(|&i| point.sections.get(i))
                    .map(|s| s.total_pressure)
            }
        };
        let inlet = inlet.map_or(f64::NAN, Pressure::as_pa);
        let of_bore = |bore: Bore| self.head(q, bore.area().as_m2());
        let outlet_head = fan.and_then(FanCurve::outlet).map(of_bore);
        let after = point.collector.get(before);
        let outlet = match after {
            Some(run) => Some((run.total_pressure + run.loss).as_pa()),
            None => outlet_head,
        };
        // What the path needs, on every basis on which it can be told.
        let total = outlet.map(|outlet| outlet - inlet);
        let fixed = match after {
            // Nothing follows: static pressure at the outlet is the room's.
            None => Some(-inlet),
            Some(_) => total.zip(outlet_head).map(|(total, head)| total - head),
        };
        let needed = match fan.map(FanCurve::basis) {
            Some(Basis::Total) => total,
            Some(Basis::Static) => fixed,
            Some(Basis::TestPipe { bore }) => fixed.map(|fixed| fixed + of_bore(bore)),
            None => total.or(fixed),
        };
        let mut off = vec![told - needed.unwrap_or(f64::NAN)];
        for (told, path) in [
            (state.total_pressure, total),
            (state.static_pressure, fixed),
        ] {
            off.push(match (told, path) {
                (Some(told), Some(path)) => told.as_pa() - path,
                (None, None) => 0.0,
                _ => f64::NAN,
            });
        }
        // What the fan gives.
        if let Some(fan) = fan_at_work(system, point) {
            let density = self.resolved.air.density / fan.density();
            let gives = |p: Pressure| p.as_pa() * density;
            off.push(told - gives(fan.pressure(point.flow)));
            for (told, basis) in [
                (state.total_pressure, Basis::Total),
                (state.static_pressure, Basis::Static),
            ] {
                let given = fan.pressure_on(basis, point.flow);
                off.push(match (told, given) {
                    (Some(told), Ok(given)) => told.as_pa() - gives(given),
                    (None, Err(_)) => 0.0,
                    _ => f64::NAN,
                });
            }
        }
        for off in off {
            let off = self.share_of_pressure(off);
            self.audit.fan.raise(off, || Place::Fan);
        }
        self.same(
            &state.estimated,
            &fan.is_some_and(FanCurve::is_estimate),
            &Place::Fan,
        );
        self.status();
    }

    /// Where the flow lies on the curve, and what the end of the curve gives.
    fn status(&mut self) {
        let (system, point) = (self.system, self.point);
        let fine = match fan_at_work(system, point) {
            None => point.status == Status::FlowImposed,
            Some(fan) => {
                let first = fan.points().next().map(|point| point.flow);
                let is = if point.flow > fan.largest_flow() {
                    Status::BeyondCurve
                } else if first.is_some_and(|first| point.flow < first) {
                    Status::BelowCurve
                } else {
                    Status::Converged
                };
                point.status == is
            }
        };
        let end = match (point.fan.curve_end, fan_at_work(system, point)) {
            (None, _) => true,
            (Some(end), Some(fan)) if point.status == Status::BeyondCurve => {
                let density = self.resolved.air.density / fan.density();
                let gives = fan.pressure(fan.largest_flow()).as_pa() * density;
                let off = self.share_of_pressure(end.given.as_pa() - gives);
                self.audit.fan.raise(off, || Place::Fan);
                end.flow == fan.largest_flow() && end.needed.as_pa().is_finite()
            }
            _ => false,
        };
        if !(fine && end) {
            self.audit.fan.raise(1.0, || Place::Fan);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::solve::{
        CurveEnd, Network, audit,
        by_hand::{FALLING, system},
    };

    /// How wrong the audit finds the fan of an answer that was changed so.
    fn fan_off(points: &[(f64, f64)], change: impl FnOnce(&mut OperatingPoint, &FanCurve)) -> f64 {
        let system = system(points, None);
        let network = Network::new(&system).unwrap();
        let mut point = network.operating_point(&network.open_all()).unwrap();
        change(&mut point, system.collector.fan.as_ref().unwrap());
        audit(&system, &point).unwrap().fan.value
    }

    /// The fan is met in the middle of its curve.
    const LATE: &[(f64, f64)] = &[(0.3, 2000.0), (0.4, 1500.0), (0.5, 500.0)];

    /// The fan's curve ends long before the fan is met.
    const SHORT: &[(f64, f64)] = &[(0.1, 3000.0), (0.12, 2990.0), (0.14, 2970.0)];

    #[test]
    fn the_ends_of_the_curve_are_within_it() {
        // The pressures are wrong then, but less than all wrong.
        let at_end = |point: &mut OperatingPoint, flow| {
            point.status = Status::Converged;
            point.fan.curve_end = None;
            point.flow = flow;
        };
        let last = fan_off(LATE, |point, fan| at_end(point, fan.largest_flow()));
        assert!(last < 1.0, "{last}");
        let first = fan_off(LATE, |point, fan| {
            at_end(point, fan.points().next().unwrap().flow);
        });
        assert!(first < 1.0, "{first}");
        let beyond = fan_off(LATE, |point, fan| at_end(point, 1.01 * fan.largest_flow()));
        assert_eq!(beyond, 1.0);
    }

    #[test]
    fn the_end_of_the_curve_is_told_beyond_it_and_only_there() {
        assert!(fan_off(SHORT, |_, _| {}) < 1e-11);
        let end = |point: &mut OperatingPoint, fan: &FanCurve| {
            point.fan.curve_end = Some(CurveEnd {
                flow: fan.largest_flow(),
                given: fan.pressure(fan.largest_flow()),
                needed: Pressure::from_pa(100.0),
            });
        };
        assert_eq!(fan_off(FALLING, end), 1.0);
        let with = |change: fn(&mut CurveEnd)| {
            fan_off(SHORT, |point, _| {
                change(point.fan.curve_end.as_mut().unwrap())
            })
        };
        assert_eq!(with(|end| end.needed = Pressure::from_pa(f64::NAN)), 1.0);
        assert_eq!(with(|end| end.flow = 1.01 * end.flow), 1.0);
    }
}
