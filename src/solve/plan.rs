//! The compiled tree: flat legs in downstream order, ready to be swept.

use crate::{
    air::AirProperties,
    bore::Bore,
    curve1d::{Curve1d, MonotoneRun, Sample},
    fan::FanCurve,
    loss::{
        Junction, Note, PowerLaw, coefficients::Coefficients, law::RunLaw, runs::Laws, wye::WyeLaw,
    },
    place::{Name, Place},
    quantity::VolumeFlow,
    system::{
        ConduitLaw, Factors, Foot, Head, HeadBalance, Model, ModelErrors, Resolved, Start, System,
        Topology,
    },
};

use std::collections::HashMap;

/// Air speed at which resistances are frozen for the start \[m/s\]: the usual one in chip duct.
const USUAL_SPEED: f64 = 20.0;

/// Below this a resistance is nothing against any other, but divides \[Pa s2/m6\].
const LEAST_RESISTANCE: f64 = 1e-12;

/// Suction at which leaks are frozen for the start \[Pa\].
const USUAL_SUCTION: f64 = 1000.0;

/// Everything that a solve needs and nothing that a solve changes.
#[derive(Debug)]
pub(super) struct Plan {
    /// Every leg after all those upstream of it; the last is the root, which meets the fan.
    pub(super) legs: Box<[Leg]>,
    /// The same as the solver copies them for the legs that carry air.
    pub(super) laws: Laws,
    pub(super) links: Box<[Link]>,
    /// Most legs on any path: how far rounding can add up.
    pub(super) depth: f64,
    pub(super) fan: Option<FanSide>,
    pub(super) leaks: Box<[LeakPlan]>,
    pub(super) wyes: Box<[WyePlan]>,
    pub(super) hoods: Box<[HoodPlan]>,
    pub(super) machines: Box<[MachinePlan]>,
    /// Hoods by the names that an open set may use: their own, and those of machines.
    pub(super) names: HashMap<Name, Vec<u32>>,
    pub(super) sections: Box<[SectionPlan]>,
    /// Sections from the collector upstream, each after the one it drains into.
    pub(super) from_collector: Box<[u32]>,
    pub(super) before: Box<[RunPlan]>,
    pub(super) after: Box<[RunPlan]>,
    /// First leg of the collector: where the mains end.
    pub(super) entry: u32,
    pub(super) heads: HeadBalance,
    /// What the collector gives back beyond its losses, per squared flow; 0 nearly always.
    pub(super) regain: f64,
    pub(super) notes: Box<[(Place, Note)]>,
    pub(super) in_fan_curve: Box<[Place]>,
    /// Fingerprint of the hood names in order.
    pub(super) key: u64,
    pub(super) origin: Origin,
}

/// What a plan was made from: its answers are differentiated by asking this for other laws.
#[derive(Debug)]
pub(super) struct Origin {
    pub(super) system: System,
    pub(super) factors: Factors,
    pub(super) topology: Topology,
    pub(super) air: AirProperties,
}

/// A run with one friction factor, and how it meets its siblings.
#[derive(Debug, Clone)]
pub(super) struct Leg {
    /// Its law. For a leg into a momentum junction this contains its own velocity pressure, so
    /// that it tells the static suction that all inlets share: S = h + R(q) + v q|q|.
    pub(super) law: RunLaw,
    /// What is at its head.
    pub(super) start: LegStart,
    /// The leg downstream of it; the root's is itself.
    pub(super) down: u32,
    /// The section it belongs to, or [`NONE`].
    pub(super) section: u32,
    /// The wye by formula at its head, or [`NONE`].
    pub(super) wye: u32,
    /// rho cos(alpha) / (`A_c` A) at the junction it drains into; 0: a plain joint.
    pub(super) momentum: f64,
    /// rho / (2 `A_c`^2) of the junction at its head; 0: a plain joint.
    pub(super) outlet_head: f64,
    /// Resistance frozen at a usual speed, for the start \[Pa s2/m6\].
    pub(super) frozen: f64,
    /// Colebrook's F at that speed.
    pub(super) carry: f64,
}

/// A leg among its neighbours, without its law.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Link {
    /// As in [`Leg`].
    pub(super) down: u32,
    pub(super) wye: u32,
    pub(super) start: LegStart,
    pub(super) momentum: f64,
    pub(super) outlet_head: f64,
    pub(super) frozen: f64,
    /// Its flow per square root of suction, frozen.
    pub(super) conductance: f64,
}

/// What is at the head of a leg.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) enum LegStart {
    /// Other legs, or nothing.
    #[default]
    Legs,
    /// The room, through a hood.
    Hood(u32),
    /// The room, through a leak whose law is the whole leg.
    Leak(u32),
}

/// Stands where an index would.
pub(super) const NONE: u32 = u32::MAX;

impl Leg {
    fn link(&self) -> Link {
        Link {
            down: self.down,
            wye: self.wye,
            start: self.start,
            momentum: self.momentum,
            outlet_head: self.outlet_head,
            frozen: self.frozen,
            conductance: self.frozen.sqrt().recip(),
        }
    }
}

/// What closes the root of the tree at a balance.
#[derive(Debug, Clone, Copy)]
pub(super) enum Closing {
    /// The fan: slopes against total flow of the pressure offered to the tree, and of the curve
    /// alone \[Pa s/m3\].
    Fan { slope: f64, curve_slope: f64 },
    /// The imposed flow.
    Flow,
}

/// A leak that always draws.
#[derive(Debug, Clone)]
pub(super) struct LeakPlan {
    pub(super) law: PowerLaw,
    section: u32,
    /// Whether a gate that stands shut cuts it off from the fan.
    pub(super) cut_off: bool,
}

/// A wye by formula: the legs of its inlets.
#[derive(Debug, Clone)]
pub(super) struct WyePlan {
    pub(super) branch: u32,
    pub(super) straight: u32,
    pub(super) law: WyeLaw,
}

/// The fan as the tree meets it.
#[derive(Debug, Clone)]
pub(super) struct FanSide {
    /// As published, on its own basis and density.
    pub(super) curve: Curve1d,
    /// Density of the air over that of the curve, times the fan's factor.
    pub(super) scale: f64,
    /// Velocity pressure regained after the fan beyond all losses there, per squared flow.
    pub(super) regain: f64,
    /// Pressure offered at rest \[Pa\].
    pub(super) at_rest: f64,
    /// Whether the pressure offered to the tree rises with flow anywhere.
    pub(super) rises: bool,
    /// Whether the curve is a guess from two numbers.
    pub(super) estimated: bool,
    /// Stretches from rest to the last point, each falling or not.
    pub(super) runs: Box<[MonotoneRun]>,
}

impl FanSide {
    fn new(fan: &FanCurve, density: f64, factor: f64, regain: f64) -> Self {
        let curve = fan.curve();
        let first = curve.first();
        let before = (first.x > 0.0).then_some(MonotoneRun {
            end: first.x,
            falls: first.slope <= 0.0,
        });
        let runs = before.into_iter().chain(curve.monotone_runs());
        let scale = factor * (density / fan.density().as_kg_m3());
        Self {
            scale,
            regain,
            at_rest: scale * curve.at(0.0).value,
            estimated: fan.is_estimate(),
            rises: curve.rises() || regain > 0.0,
            runs: runs
                .map(|run| MonotoneRun {
                    falls: run.falls && regain == 0.0,
                    ..run
                })
                .collect(),
            curve: curve.clone(),
        }
    }

    /// Least and greatest slope of the pressure offered between two flows.
    pub(super) fn slopes_between(&self, a: f64, b: f64) -> [f64; 2] {
        let [least, most] = self.curve.slopes_between(a, b);
        [
            self.scale * least + 2.0 * self.regain * a,
            self.scale * most + 2.0 * self.regain * b,
        ]
    }

    /// Pressure offered to the tree \[Pa\] and its slope at flow `q` \[m3/s\].
    #[inline]
    pub(super) fn at(&self, q: f64) -> Sample {
        let published = self.curve.at(q);
        Sample {
            value: self.scale * published.value + self.regain * q * q,
            slope: self.scale * published.slope + 2.0 * self.regain * q,
        }
    }
}

#[derive(Debug)]
pub(super) struct HoodPlan {
    pub(super) name: Name,
    pub(super) section: u32,
    pub(super) machine: Option<u32>,
    pub(super) required: Option<VolumeFlow>,
    pub(super) entry_k: f64,
    /// Whether a gate that stands shut cuts it off from the fan.
    pub(super) cut_off: bool,
    /// The leg that carries what its shut gate adds, and how much that is; none where the shut
    /// gate lets no air by.
    pub(super) leak: Option<(u32, f64)>,
}

#[derive(Debug)]
pub(super) struct MachinePlan {
    pub(super) name: Name,
    pub(super) required: VolumeFlow,
    pub(super) hoods: Vec<u32>,
}

/// What a report says of a section.
#[derive(Debug)]
pub(super) struct SectionPlan {
    pub(super) id: Name,
    pub(super) size: Bore,
    pub(super) conduit: ConduitLaw,
    pub(super) foot: Foot,
    /// Model of the junction at its head.
    pub(super) junction: Option<Junction>,
    /// Legs of its conduit.
    pub(super) first: u32,
    pub(super) body: u32,
    /// The leg at its downstream end: `body`, or one behind the leak of its walls.
    pub(super) last: u32,
    /// The leg of the leak of its walls, or [`NONE`].
    pub(super) wall_leak: u32,
}

/// What a report says of a run of the collector.
#[derive(Debug)]
pub(super) struct RunPlan {
    pub(super) place: Place,
    pub(super) size: Bore,
    pub(super) conduit: ConduitLaw,
}

impl Plan {
    /// The leg that meets the fan.
    pub(super) fn root(&self) -> u32 {
        (self.legs.len() as u32).saturating_sub(1)
    }

    pub(super) fn new(system: System, factors: Factors) -> Result<Self, ModelErrors> {
        let resolved = Resolved::of(Model {
            system: &system,
            factors: &factors,
        })?;
        let sections = system.sections.len();
        let mut build = Builder {
            legs: Vec::with_capacity(2 * sections + 2),
            leaks: Vec::new(),
            wyes: Vec::new(),
            spans: vec![Span::default(); sections],
        };
        for &section in &resolved.topology.order {
            build.section(&resolved, section);
        }
        let entry = build.legs.len() as u32;
        let regain = build.collector(&resolved);
        let density = resolved.air.density.as_kg_m3();
        let fan = system.collector.fan.as_ref();
        // Judged with the model.
        let factor = factors.of_fan().unwrap_or(1.0);
        let fan = fan.map(|fan| FanSide::new(fan, density, factor, regain));
        Ok(build.finish(system, factors, resolved, entry, regain, fan))
    }
}

/// Legs of a section.
#[derive(Debug, Clone, Copy)]
struct Span {
    first: u32,
    body: u32,
    last: u32,
    wall_leak: u32,
}

impl Default for Span {
    fn default() -> Self {
        Self {
            first: 0,
            body: 0,
            last: 0,
            wall_leak: NONE,
        }
    }
}

struct Builder {
    legs: Vec<Leg>,
    leaks: Vec<LeakPlan>,
    wyes: Vec<WyePlan>,
    spans: Vec<Span>,
}

impl Builder {
    fn next(&self) -> u32 {
        self.legs.len() as u32
    }

    /// One leg, draining into the next one.
    fn leg(&mut self, law: &Coefficients, usual: f64, section: u32) {
        let law = RunLaw::new(law);
        let mut carry = law.carry_at(usual);
        let frozen = law.loss(usual, &mut carry).dp_pa / (usual * usual);
        self.legs.push(Leg {
            law,
            start: LegStart::Legs,
            down: self.next() + 1,
            section,
            wye: NONE,
            momentum: 0.0,
            outlet_head: 0.0,
            frozen: frozen.max(LEAST_RESISTANCE),
            carry,
        });
    }

    /// A leak, draining into the next leg.
    fn leak(&mut self, law: PowerLaw, section: u32) {
        let leak = self.leaks.len() as u32;
        self.leg(&Coefficients::default(), 1.0, section);
        if let Some(leg) = self.legs.last_mut() {
            leg.start = LegStart::Leak(leak);
            let usual = law.coefficient() * USUAL_SUCTION.powf(law.exponent());
            leg.frozen = USUAL_SUCTION / (usual * usual);
        }
        self.leaks.push(LeakPlan {
            law,
            section,
            cut_off: false,
        });
    }

    /// One leg for each friction factor; everything else goes to the last. Returns the first.
    fn conduit(&mut self, law: &ConduitLaw, extra_k2: f64, section: u32) -> u32 {
        let first = self.next();
        let mut runs: Vec<Coefficients> = law.frictions.clone();
        if runs.is_empty() {
            runs.push(Coefficients::default());
        }
        if let Some(last) = runs.last_mut() {
            last.k2 = law.k2 + extra_k2;
            last.k1 = law.k1;
        }
        for run in &runs {
            self.leg(run, USUAL_SPEED * law.area_m2, section);
        }
        first
    }

    fn section(&mut self, resolved: &Resolved, i: usize) {
        let law = &resolved.sections[i];
        let (foot, conduit, section) = (&law.foot, &law.conduit, i as u32);
        let own = conduit.head;
        let at_foot = foot.own_head + foot.join_k * own;
        if let Some(leak) = law.leak {
            self.leak(leak, section);
        }
        let mut span = Span::default();
        if let Some(leak) = law.wall_leak {
            // The leak enters square to the flow at the downstream end, by momentum (losses.md
            // section 8): body and leak share a static suction, of which the leak takes no
            // velocity pressure.
            span.first = self.conduit(conduit, own, section);
            span.body = self.next() - 1;
            self.legs[span.body as usize].momentum = 2.0 * own;
            span.wall_leak = self.next();
            self.leak(leak, section);
            span.last = self.next();
            let tail = Coefficients {
                k2: at_foot,
                ..Coefficients::default()
            };
            self.leg(&tail, USUAL_SPEED * conduit.area_m2, section);
            self.legs[span.body as usize].down = span.last;
            self.legs[span.last as usize].outlet_head = own;
        } else {
            span.first = self.conduit(conduit, at_foot, section);
            span.last = self.next() - 1;
            span.body = span.last;
        }
        self.legs[span.last as usize].momentum = foot.momentum;
        self.spans[i] = span;
        self.meet(span.first, &resolved.topology.inlets[i], &law.head);
    }

    /// The junction at the head of a leg.
    fn meet(&mut self, leg: u32, inlets: &[usize], head: &Head) {
        for &inlet in inlets {
            let last = self.spans[inlet].last;
            self.legs[last as usize].down = leg;
        }
        self.legs[leg as usize].outlet_head = head.outlet_head;
        if let Some(wye) = head.wye {
            self.legs[leg as usize].wye = self.wyes.len() as u32;
            self.wyes.push(WyePlan {
                branch: self.spans[wye.branch].last,
                straight: self.spans[wye.straight].last,
                law: wye.law,
            });
        }
    }

    /// The whole collector as one chain; returns what it gives back beyond its losses.
    fn collector(&mut self, resolved: &Resolved) -> f64 {
        let mut whole = ConduitLaw::default();
        let runs = || resolved.before.iter().chain(&resolved.after);
        for run in runs() {
            whole.k2 += run.k2;
            whole.k1 += run.k1;
            for friction in &run.frictions {
                whole.add(friction);
            }
        }
        whole.k2 += resolved.heads.beyond_losses;
        // A stack wider than the fan's outlet can give back more than it loses. A leg must not
        // gain, so what is left over stands on the fan's side.
        let regain = (-whole.k2).max(0.0);
        whole.k2 += regain;
        let mains = &resolved.topology.mains;
        whole.area_m2 = runs()
            .map(|run| run.area_m2)
            .reduce(f64::max)
            .unwrap_or_else(|| {
                mains
                    .iter()
                    .map(|&i| resolved.sections[i].conduit.area_m2)
                    .sum()
            });
        let first = self.conduit(&whole, 0.0, NONE);
        self.meet(first, mains, &resolved.adapter);
        let root = self.next() - 1;
        self.legs[root as usize].down = root;
        regain
    }

    fn finish(
        mut self,
        system: System,
        factors: Factors,
        resolved: Resolved,
        entry: u32,
        regain: f64,
        fan: Option<FanSide>,
    ) -> Plan {
        let mut machines: Vec<MachinePlan> = system
            .machines
            .iter()
            .map(|machine| MachinePlan {
                name: machine.id.clone(),
                required: machine.required,
                hoods: Vec::new(),
            })
            .collect();
        // From the collector upstream: what lies above a shut gate is cut off with it.
        let mut cut_off: Vec<bool> = resolved
            .sections
            .iter()
            .map(|s| s.conduit.cut_off)
            .collect();
        for &i in resolved.topology.order.iter().rev() {
            if cut_off[i] {
                for &inlet in &resolved.topology.inlets[i] {
                    cut_off[inlet] = true;
                }
            }
        }
        for leak in &mut self.leaks {
            leak.cut_off = cut_off[leak.section as usize];
        }
        let mut hoods = Vec::with_capacity(resolved.hoods.len());
        for (i, at) in resolved.hoods.iter().enumerate() {
            let Start::Hood(hood) = &system.sections[at.section].start else {
                continue;
            };
            self.legs[self.spans[at.section].first as usize].start = LegStart::Hood(i as u32);
            if let Some(machine) = at.machine {
                machines[machine].hoods.push(i as u32);
            }
            hoods.push(HoodPlan {
                name: hood.id.clone(),
                section: at.section as u32,
                machine: at.machine.map(|machine| machine as u32),
                required: hood.required,
                entry_k: resolved.sections[at.section].entry_k,
                cut_off: cut_off[at.section],
                leak: resolved.sections[at.section]
                    .conduit
                    .shut_k2
                    .map(|k2| (self.spans[at.section].body, k2)),
            });
        }
        let mut names: HashMap<Name, Vec<u32>> = HashMap::new();
        for (i, hood) in hoods.iter().enumerate() {
            names.insert(hood.name.clone(), vec![i as u32]);
        }
        // A machine that shares a hood's name has that hood alone (system/resolve.rs).
        for machine in &machines {
            names.insert(machine.name.clone(), machine.hoods.clone());
        }
        let key = fingerprint(hoods.iter().map(|hood| &hood.name));
        let from_collector = resolved
            .topology
            .order
            .iter()
            .rev()
            .map(|&i| i as u32)
            .collect();
        let mut notes = Vec::new();
        let mut in_fan_curve = Vec::new();
        let mut tell = |law: &mut ConduitLaw| {
            notes.append(&mut law.notes);
            in_fan_curve.append(&mut law.in_fan_curve);
        };
        let mut shapes = Vec::new();
        let mut sections = Vec::with_capacity(system.sections.len());
        let spans = self.spans.iter();
        for ((section, mut law), span) in system.sections.iter().zip(resolved.sections).zip(spans) {
            tell(&mut law.conduit);
            let place = Place::Section(section.id.clone());
            shapes.extend(law.head.notes.into_iter().map(|note| (place.clone(), note)));
            sections.push(SectionPlan {
                id: section.id.clone(),
                size: section.size,
                foot: law.foot,
                junction: law.head.model,
                first: span.first,
                body: span.body,
                last: span.last,
                wall_leak: span.wall_leak,
                conduit: law.conduit,
            });
        }
        let mut runs =
            |laws: Vec<ConduitLaw>, runs: &[crate::system::Run], place: fn(usize) -> Place| {
                laws.into_iter()
                    .zip(runs)
                    .enumerate()
                    .map(|(i, (mut conduit, run))| {
                        tell(&mut conduit);
                        RunPlan {
                            place: place(i),
                            size: run.size,
                            conduit,
                        }
                    })
                    .collect::<Box<[_]>>()
            };
        let before = runs(resolved.before, &system.collector.before, |run| {
            Place::Before { run, part: None }
        });
        let after = runs(resolved.after, &system.collector.after, |run| {
            Place::After { run, part: None }
        });
        let mut run_laws = Laws::default();
        for leg in &self.legs {
            run_laws.push(&leg.law, leg.carry);
        }
        let adapter = resolved.adapter;
        shapes.extend(
            adapter
                .notes
                .into_iter()
                .map(|note| (Place::Collector, note)),
        );
        notes.append(&mut shapes);
        Plan {
            depth: depth(&self.legs),
            laws: run_laws,
            links: self.legs.iter().map(Leg::link).collect(),
            legs: self.legs.into(),
            fan,
            leaks: self.leaks.into(),
            wyes: self.wyes.into(),
            hoods: hoods.into(),
            machines: machines.into(),
            names,
            sections: sections.into(),
            from_collector,
            before,
            after,
            entry,
            heads: resolved.heads,
            regain,
            notes: notes.into(),
            in_fan_curve: in_fan_curve.into(),
            key,
            origin: Origin {
                system,
                factors,
                topology: resolved.topology,
                air: resolved.air,
            },
        }
    }
}

/// Most legs on any path from a leaf to the fan.
fn depth(legs: &[Leg]) -> f64 {
    let mut below = vec![1_u32; legs.len()];
    for i in (0..legs.len()).rev() {
        let down = legs[i].down as usize;
        if down != i {
            below[i] = below[down] + 1;
        }
    }
    f64::from(below.into_iter().max().unwrap_or(1))
}

/// FNV-1a over the names and their order (G. Fowler, L. C. Noll, K.-P. Vo; public domain).
fn fingerprint<'a>(names: impl Iterator<Item = &'a Name>) -> u64 {
    let mut hash = 0xcbf2_9ce4_8422_2325_u64;
    let mut eat = |byte: u8| hash = (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3);
    for name in names {
        name.as_str().bytes().for_each(&mut eat);
        // 0xff never stands in UTF-8: "ab","c" and "a","bc" differ.
        eat(0xff);
    }
    hash
}
