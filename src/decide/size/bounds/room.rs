//! What the fan can give, whatever the ducts are.

use crate::{
    decide::size::{demands::SetDemands, problem::Problem},
    fan::{Basis, FanCurve},
    quantity::VolumeFlow,
    solve::Network,
};

/// Power that the fan can give the air upstream of the collector.
#[derive(Debug)]
pub(super) struct FanRoom {
    /// The last published point \[m3/s\].
    pub(super) end_m3s: f64,
    /// Pieces of the curve, flow rising: where each ends \[m3/s\], and the most power at any flow
    /// from its start on \[W\]. Empty where nothing is proved of power.
    pieces: Vec<(f64, f64)>,
}

/// Pieces of each published interval: the bound of a piece is some 1/32 loose.
const PIECES: u32 = 32;

impl FanRoom {
    pub(super) fn new(problem: &Problem<'_>, power: bool) -> Self {
        let fan = problem.system.collector.fan.as_ref();
        let mut room = Self {
            end_m3s: fan.map_or(f64::INFINITY, |fan| fan.largest_flow().as_m3_s()),
            pieces: Vec::new(),
        };
        if power && let Some(pieces) = pieces(problem) {
            room.pieces = pieces;
        }
        room
    }

    /// The most power at any flow of at least this much \[W\].
    pub(super) fn room(&self, q_m3s: f64) -> f64 {
        if self.pieces.is_empty() {
            return f64::INFINITY;
        }
        let at = self.pieces.partition_point(|(end, _)| *end < q_m3s);
        self.pieces.get(at).map_or(0.0, |(_, power)| power.max(0.0))
    }
}

fn pieces(problem: &Problem<'_>) -> Option<Vec<(f64, f64)>> {
    let system = problem.system;
    let fan = system.collector.fan.as_ref()?;
    let fan = fan.at_density(system.air.properties().ok()?.density).ok()?;
    let network = Network::new(system).ok()?;
    let set = problem.sets.first()?;
    let end = fan.largest_flow();
    // Total over curve pressure, per squared flow; the same at any flow.
    let k = {
        let point = network.point_at_flow(&set.open, end).ok()?;
        match point.fan.total_pressure {
            Some(total) => (total - point.fan.curve_pressure).as_pa() / end.as_m3_s().powi(2),
            // A bare static curve that ends in the open: what lies beyond the fan cancels.
            None if fan.basis() == Basis::Static && system.collector.after.is_empty() => 0.0,
            None => return None,
        }
    };
    let mut pieces = Vec::new();
    let knots: Vec<VolumeFlow> = fan.points().map(|point| point.flow).collect();
    for pair in knots.windows(2) {
        let [from, to] = *pair else { continue };
        let step = (to - from) / f64::from(PIECES);
        for piece in 0..PIECES {
            let start = from + step * f64::from(piece);
            let stop = if piece + 1 == PIECES {
                to
            } else {
                from + step * f64::from(piece + 1)
            };
            let lost = collector_loss(problem, &network, set, k, start);
            let given = most_between(&fan, start, stop) + (k * square(start)).max(k * square(stop));
            pieces.push((stop.as_m3_s(), (given - lost).max(0.0) * stop.as_m3_s()));
        }
    }
    // From each piece's start on.
    let mut most = 0.0_f64;
    for (_, power) in pieces.iter_mut().rev() {
        most = most.max(*power);
        *power = most;
    }
    Some(pieces)
}

fn square(flow: VolumeFlow) -> f64 {
    flow.as_m3_s() * flow.as_m3_s()
}

/// Total pressure that the collector takes at a flow, its exit among it \[Pa\]; 0 where it cannot be
/// told. It rises with flow.
fn collector_loss(
    problem: &Problem<'_>,
    network: &Network,
    set: &SetDemands,
    k: f64,
    flow: VolumeFlow,
) -> f64 {
    let sections = problem.system.sections.iter().zip(&set.carries);
    let main = sections.map(|(section, &carries)| carries && section.into.is_none());
    let loss = || {
        let point = network.point_at_flow(&set.open, flow).ok()?;
        // The suction of total pressure where the mains meet is the same behind each that carries.
        let mut mains = point.sections.iter().zip(main);
        let (main, _) = mains.find(|(_, is_main)| *is_main)?;
        let entry = main.junction_loss - main.total_pressure;
        let total = point.fan.curve_pressure.as_pa() + k * square(flow);
        Some((total - entry.as_pa()).max(0.0))
    };
    loss().unwrap_or(0.0)
}

/// The most that a curve may have within one of its cubics \[Pa\].
///
/// A cubic lies within the hull of its Bezier points.
fn most_between(fan: &FanCurve, from: VolumeFlow, to: VolumeFlow) -> f64 {
    let third = (to - from).as_m3_s() / 3.0;
    let (start, end) = (fan.pressure(from).as_pa(), fan.pressure(to).as_pa());
    let inner = [start + third * fan.slope(from), end - third * fan.slope(to)];
    inner.into_iter().fold(start.max(end), f64::max)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        Air, Collector, Density, DynamicViscosity, Entry, Filter, Fitted, Hood, Length, Money,
        Part, RatedDrop, Run, Section, Sizing, StockSize, System, Wall,
        bore::Bore,
        decide::by_hand::{m3_s, mm, pa},
    };

    const KG_M3: f64 = 1.2;
    const END_M3S: f64 = 1.2;

    /// Pa per (m3/s)2
    fn head(bore: Bore) -> f64 {
        KG_M3 / 2.0 / bore.area().as_m2().powi(2)
    }

    /// On the straight curve that these tests have.
    fn curve_pa(q: f64) -> f64 {
        2400.0 - 1600.0 * q
    }

    fn fan(basis: Basis) -> FanCurve {
        let flows = [0.0, 0.3, 0.7, END_M3S];
        let points = flows.map(|q| (m3_s(q), pa(curve_pa(q))));
        let density = Density::from_kg_m3(KG_M3);
        FanCurve::new(points, basis, Fitted::NOTHING, density).unwrap()
    }

    fn system(fan: FanCurve, after: bool) -> System {
        let before = Run::new(mm(250.0), Wall::Galvanised).with_part(Part::K(2.0));
        let mut collector = Collector::new(fan).with_before(before);
        if after {
            let cloth = RatedDrop {
                drop: pa(200.0),
                at: m3_s(0.5),
            };
            let none = RatedDrop {
                drop: pa(0.0),
                ..cloth
            };
            let filter = Filter::Terms {
                linear: cloth,
                quadratic: none,
            };
            let run = Run::new(mm(300.0), Wall::Galvanised).with_part(Part::Filter(filter));
            collector = collector.with_after(run);
        }
        let hood = Hood {
            required: Some(m3_s(0.1)),
            ..Hood::new("hood", Entry::K(0.5))
        };
        let air = Air::Given {
            density: Density::from_kg_m3(KG_M3),
            viscosity: DynamicViscosity::from_pa_s(1.8e-5),
        };
        System::new(air, collector)
            .with_section(Section::new("main", mm(250.0), Wall::Galvanised).with_hood(hood))
    }

    fn room_of(system: &System) -> FanRoom {
        let open = Network::new(system).unwrap().open_all();
        let stock = [StockSize::new(Length::from_mm(250.0), Money::new(10.0))];
        let question = Sizing::new(["main"], stock);
        let problem = Problem::new(&question, system, &[open]).unwrap();
        FanRoom::new(&problem, true)
    }

    /// Holds the room against power by hand: never below the most from a flow on, and never above
    /// what a piece's width may add.
    fn check(system: &System, upstream_pa: impl Fn(f64) -> f64) {
        let room = room_of(system);
        assert_eq!(room.end_m3s, END_M3S);
        let steps = 12_000;
        let width = 0.5 / f64::from(PIECES);
        let mut most = 0.0_f64;
        let mut most_from = vec![0.0; steps + 1];
        for i in (0..=steps).rev() {
            let q = END_M3S * i as f64 / steps as f64;
            most = most.max(q * upstream_pa(q));
            most_from[i] = most;
        }
        for i in 0..=steps {
            let q = END_M3S * i as f64 / steps as f64;
            let room = room.room(q);
            assert!(
                room >= most_from[i] * (1.0 - 1e-9),
                "{q}: {room} {}",
                most_from[i]
            );
            // Within a piece the pressure and the flow change by no more than this.
            let before = most_from[i.saturating_sub(steps * 5 / 12 / PIECES as usize)];
            let slope = (upstream_pa(q) - upstream_pa(q + width)).abs() / width;
            let loose = width * (upstream_pa(0.0) + slope * END_M3S);
            assert!(room <= before + loose, "{q}: {room} {before} {loose}");
        }
        assert_eq!(room.room(END_M3S * 1.000_001), 0.0);
    }

    #[test]
    fn a_total_curve_gives_what_its_collector_leaves() {
        let system = system(fan(Basis::Total), true);
        check(&system, |q| {
            let after = 400.0 * q + head(mm(300.0)) * q * q;
            curve_pa(q) - 2.0 * head(mm(250.0)) * q * q - after
        });
    }

    #[test]
    fn a_static_curve_gives_its_velocity_pressure_as_well() {
        let outlet = mm(280.0);
        let fan = fan(Basis::Static).with_outlet(outlet).unwrap();
        let system = system(fan, true);
        check(&system, |q| {
            let after = 400.0 * q + head(mm(300.0)) * q * q;
            curve_pa(q) + head(outlet) * q * q - 2.0 * head(mm(250.0)) * q * q - after
        });
        // Published at 0, 0.3, 0.7 and 1.2 m3/s.
        let pieces = room_of(&system).pieces;
        let ends = [(0.0, 0.3), (0.3, 0.4), (0.7, 0.5)].map(|(from, width)| {
            (1..=PIECES).map(move |i| from + width * f64::from(i) / f64::from(PIECES))
        });
        assert_eq!(pieces.len(), 3 * PIECES as usize);
        for ((end, _), by_hand) in pieces.iter().zip(ends.into_iter().flatten()) {
            assert!((end - by_hand).abs() < 1e-12, "{end} {by_hand}");
        }
        // The one up to 0.7 m3/s: the most that the fan gives, at its start but for the velocity
        // pressure; the least that the collector takes, at its start; the largest flow. Beyond it
        // there is less.
        let (start, end) = (0.7 - 0.4 / f64::from(PIECES), 0.7);
        let after = 400.0 * start + head(mm(300.0)) * start * start;
        // Borda and Carnot's loss from the outlet into the wider run.
        let widens = 1.0 - outlet.area().as_m2() / mm(300.0).area().as_m2();
        let step = head(outlet) * widens * widens;
        let taken = (2.0 * head(mm(250.0)) + step) * start * start + after;
        let by_hand = (curve_pa(start) + head(outlet) * end * end - taken) * end;
        let power = pieces[2 * PIECES as usize - 1].1;
        assert!((power / by_hand - 1.0).abs() < 1e-9, "{power} {by_hand}");
    }

    #[test]
    fn a_static_curve_that_ends_in_the_open_needs_no_outlet() {
        let system = system(fan(Basis::Static), false);
        check(&system, |q| curve_pa(q) - 2.0 * head(mm(250.0)) * q * q);
    }

    /// What a test pipe read says nothing of the air's speed beyond the fan.
    #[test]
    fn nothing_is_proved_where_the_total_pressure_cannot_be_told() {
        let bore = mm(250.0);
        let system = system(fan(Basis::TestPipe { bore }), false);
        assert_eq!(room_of(&system).room(0.1), f64::INFINITY);
    }

    #[test]
    fn a_cubic_lies_below_its_bezier_points() {
        let points = [(0.0, 2000.0), (0.4, 1900.0), (0.8, 900.0), (1.0, 0.0)];
        let points = points.map(|(q, p)| (m3_s(q), pa(p)));
        let density = Density::from_kg_m3(KG_M3);
        let fan = FanCurve::new(points, Basis::Total, Fitted::NOTHING, density).unwrap();
        // Bernstein's points of a cubic: its ends, and a third along the slope at each.
        for (from, to) in [(0.0, 0.4), (0.1, 0.2), (0.4, 0.8), (0.8, 1.0)] {
            let [from, to] = [from, to].map(m3_s);
            let third = (to.as_m3_s() - from.as_m3_s()) / 3.0;
            let inner = fan.pressure(from).as_pa() + fan.slope(from) * third;
            let later = fan.pressure(to).as_pa() - fan.slope(to) * third;
            let hull = fan.pressure(from).as_pa().max(inner).max(later);
            let most = most_between(&fan, from, to);
            assert!((most - hull).abs() < 1e-9, "{most} {hull}");
            assert!((0..=10).all(|i| {
                let at = from + (to - from) * (f64::from(i) / 10.0);
                fan.pressure(at).as_pa() <= most + 1e-9
            }));
        }
    }

    /// A smoothed curve may have its peak within a piece: above both ends.
    #[test]
    fn a_peak_within_a_piece_is_below_its_bezier_points() {
        for peak in [0.205, 0.215] {
            let points = (0..24).map(|i| {
                let q = 0.02 * f64::from(i);
                (m3_s(q), pa(2000.0 - 8000.0 * (q - peak) * (q - peak)))
            });
            let density = Density::from_kg_m3(KG_M3);
            let smoothed = FanCurve::smoothed(points, Basis::Total, Fitted::NOTHING, density);
            let fan = smoothed.unwrap().curve;
            let (from, to) = (m3_s(0.2), m3_s(0.22));
            let ends = fan.pressure(from).as_pa().max(fan.pressure(to).as_pa());
            // A parabola's points lie on its tangents, halfway; a cubic's a third along.
            let start = fan.pressure(from).as_pa() + fan.slope(from) * 0.02 / 3.0;
            let end = fan.pressure(to).as_pa() - fan.slope(to) * 0.02 / 3.0;
            let most = most_between(&fan, from, to);
            assert!(
                most > ends + 0.05 && (most - start.max(end)).abs() < 1e-9,
                "{most}"
            );
            assert!(most >= 2000.0 - 0.01);
        }
    }
}
