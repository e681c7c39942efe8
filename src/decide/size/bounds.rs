//! What can be refused without a balance, whatever the sections not yet chosen are.
//!
//! The proof stands in bounds.md; here are its figures.

use super::problem::{Choice, Problem, SetDemands, isolated};
use crate::{
    bore::Bore,
    fan::{Basis, FanCurve},
    loss::{Junction, Tightness},
    quantity::VolumeFlow,
    solve::Network,
    system::{Join, Resolved, Section, System},
};

/// Least flow that a section must carry, and power that it then takes by itself.
#[derive(Debug, Clone, Copy, Default)]
struct Load {
    /// At its downstream end \[m3/s\].
    q_m3s: f64,
    /// \[W\]
    power_w: f64,
}

/// The loads of an open set.
#[derive(Debug)]
struct SetLoads {
    /// Of each option of each section to be sized.
    options: Vec<Vec<Load>>,
    /// The least power of the sections to be sized from each position on, and of all that keep their
    /// size. \[W\]
    rest_w: Vec<f64>,
    /// The least flow whatever is chosen \[m3/s\].
    least_q_m3s: f64,
}

/// Why a choice of some sections cannot be completed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Refused {
    CurveEnd,
    AirPower,
}

#[derive(Debug)]
pub(super) struct Bounds {
    sets: Vec<SetLoads>,
    fan: FanRoom,
}

/// Rounding may make a load larger than it is, and the solver's answer a little off.
const SLACK: f64 = 1.0 - 1e-9;

impl Bounds {
    pub(super) fn new(problem: &Problem<'_>) -> Self {
        let laws = Laws::new(problem);
        let power = dissipates(problem.system);
        let fan = FanRoom::new(problem, power);
        let sets = problem.sets.iter();
        Self {
            sets: sets.map(|set| laws.loads(problem, set)).collect(),
            fan,
        }
    }

    /// Why no completion of this choice can meet the demands of these sets, as far as that is proved.
    pub(super) fn refuse(&self, choice: &Choice, sets: &[usize]) -> Option<Refused> {
        let mut sets = sets.iter().filter_map(|&set| self.sets.get(set));
        sets.find_map(|set| {
            let mut power_w = set.rest_w.get(choice.len()).copied().unwrap_or(0.0);
            let mut q_m3s = set.least_q_m3s;
            for (options, &option) in set.options.iter().zip(choice) {
                if let Some(load) = options.get(usize::from(option)) {
                    power_w += load.power_w;
                    q_m3s = q_m3s.max(load.q_m3s);
                }
            }
            if q_m3s * SLACK > self.fan.end_m3s {
                return Some(Refused::CurveEnd);
            }
            let room_w = self.fan.room(q_m3s * SLACK);
            (power_w * SLACK > room_w).then_some(Refused::AirPower)
        })
    }
}

/// Every section's law, in each size that it may have.
struct Laws {
    /// For each section of the system.
    sections: Vec<SectionLaws>,
}

struct SectionLaws {
    /// Of each option, or of the one size it keeps.
    laws: Vec<Option<Resolved>>,
    areas_m2: Vec<f64>,
    /// Position among the sections to be sized.
    position: Option<usize>,
    airtight: bool,
    /// Whether its loss only rises; a join that gives pressure back may spoil that.
    rises: bool,
}

impl Laws {
    fn new(problem: &Problem<'_>) -> Self {
        let system = problem.system;
        let sections = (0..).zip(&system.sections).map(|(i, section)| {
            let position = problem.sized.iter().position(|sized| sized.section == i);
            let sized = position.and_then(|position| problem.sized.get(position));
            let areas_m2 = match sized {
                Some(sized) => sized.options.iter().map(|o| o.area.as_m2()).collect(),
                None => vec![section.size.area().as_m2()],
            };
            let laws = match (sized, section.size) {
                (Some(sized), _) => {
                    let options = sized.options.iter();
                    options.map(|o| isolated(system, i, o.diameter)).collect()
                }
                (None, Bore::Round(diameter)) => vec![isolated(system, i, diameter)],
                // Counted as if it lost nothing.
                _ => vec![None],
            };
            SectionLaws {
                laws,
                areas_m2,
                position,
                airtight: section.tightness == Tightness::Airtight,
                rises: own_k(section, system) >= 0.0,
            }
        });
        Self {
            sections: sections.collect(),
        }
    }

    fn loads(&self, problem: &Problem<'_>, set: &SetDemands) -> SetLoads {
        let count = problem.sized.len();
        let mut options = vec![Vec::new(); count];
        let mut kept_w = 0.0;
        let tree = &problem.tree;
        // What a hood needs by itself, at its section.
        let mut of_hood = vec![0.0_f64; self.sections.len()];
        for (at, needed) in tree.hoods.iter().zip(&set.hoods) {
            if let Some(slot) = of_hood.get_mut(at.section) {
                *slot = slot.max(needed.as_m3_s());
            }
        }
        // Least flow at each section's downstream end, whatever is chosen.
        let mut least = vec![0.0_f64; self.sections.len()];
        let mut least_q_m3s = 0.0_f64;
        for &i in &tree.order {
            let (Some(section), Some(&velocity)) = (self.sections.get(i), set.sections.get(i))
            else {
                continue;
            };
            if set.carries.get(i) != Some(&true) {
                if let Some(position) = section.position
                    && let Some(loads) = options.get_mut(position)
                {
                    *loads = vec![Load::default(); section.laws.len()];
                }
                continue;
            }
            let inlets = tree.inlets.get(i).map_or(&[][..], Vec::as_slice);
            let from_above = inlets
                .iter()
                .filter_map(|&inlet| least.get(inlet))
                .sum::<f64>();
            let needed = tree.needed_through(i, set, true);
            let needed = needed.max(of_hood.get(i).copied().unwrap_or(0.0));
            let body = from_above.max(needed);
            let loads: Vec<Load> = section
                .laws
                .iter()
                .zip(&section.areas_m2)
                .map(|(law, area_m2)| {
                    let q_m3s = body.max(velocity.as_m_s() * area_m2);
                    // What leaks in counts for the velocity at its end, not for its own loss.
                    let within = if section.airtight { q_m3s } else { body };
                    let law = law.as_ref().and_then(|law| law.sections.first());
                    let loss_pa = law
                        .filter(|_| section.rises)
                        .map(|law| law.conduit.loss(within));
                    Load {
                        q_m3s,
                        power_w: loss_pa.unwrap_or(0.0) * within,
                    }
                })
                .collect();
            let lowest = loads
                .iter()
                .map(|load| load.q_m3s)
                .fold(f64::INFINITY, f64::min);
            if let Some(least) = least.get_mut(i) {
                *least = lowest;
            }
            least_q_m3s = least_q_m3s.max(lowest);
            match section.position {
                Some(position) => {
                    if let Some(slot) = options.get_mut(position) {
                        *slot = loads;
                    }
                }
                None => kept_w += loads.iter().map(|load| load.power_w).sum::<f64>(),
            }
        }
        let mut rest_w = vec![kept_w; count + 1];
        for position in (0..count).rev() {
            let own = options.get(position).into_iter().flatten();
            let own = own
                .map(|load: &Load| load.power_w)
                .fold(f64::INFINITY, f64::min);
            let after = rest_w.get(position + 1).copied().unwrap_or(0.0);
            if let Some(rest) = rest_w.get_mut(position) {
                *rest = after + own;
            }
        }
        // `rest_w[n]` is what is left once n sections are chosen.
        SetLoads {
            options,
            rest_w,
            least_q_m3s,
        }
    }
}

/// The coefficient that a section's join adds on its own velocity pressure, if it adds one.
fn own_k(section: &Section, system: &System) -> f64 {
    let Join { k, extra_k, .. } = section.join;
    let below = section.into.as_ref();
    let below = below.and_then(|into| system.sections.iter().find(|s| s.id == *into));
    let model = match below {
        Some(below) => below.junction,
        None => system.collector.junction,
    };
    match model.unwrap_or(system.junction) {
        Junction::FixedK => extra_k + k.unwrap_or(0.0),
        _ => extra_k,
    }
}

/// Whether no junction of the system can give the air more power than it takes; see bounds.md.
fn dissipates(system: &System) -> bool {
    let sections = system.sections.iter();
    let mut models = sections
        .map(|section| section.junction)
        .chain([system.collector.junction])
        .map(|junction| junction.unwrap_or(system.junction));
    let sound = models.all(|model| matches!(model, Junction::Momentum | Junction::FixedK));
    // A join that gives pressure back is paid for by its section at the same flow, which is another
    // one where the walls leak.
    let leaks = |section: &Section| section.tightness != Tightness::Airtight;
    let mut sections = system.sections.iter();
    sound && !sections.any(|section| leaks(section) && own_k(section, system) < 0.0)
}

/// Power that the fan can give the air upstream of the collector.
#[derive(Debug)]
struct FanRoom {
    /// The last published point \[m3/s\].
    end_m3s: f64,
    /// Pieces of the curve, flow rising: where each ends \[m3/s\], and the most power at any flow
    /// from its start on \[W\]. Empty where nothing is proved of power.
    pieces: Vec<(f64, f64)>,
}

/// Pieces of each published interval: the bound of a piece is some 1/32 loose.
const PIECES: u32 = 32;

impl FanRoom {
    fn new(problem: &Problem<'_>, power: bool) -> Self {
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
    fn room(&self, q_m3s: f64) -> f64 {
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
