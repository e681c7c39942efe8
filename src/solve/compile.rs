//! From the judged model to the compiled tree: legs in downstream order, and what tells them apart.
#![allow(
    clippy::indexing_slicing,
    reason = "sections are numbered by the model, legs as they are pushed, each before anything points at it"
)]

use super::plan::{
    FanSide, HoodPlan, LeakPlan, Leg, LegStart, Link, MachinePlan, NONE, Origin, Plan, RunPlan,
    SectionPlan, WyePlan,
};
use crate::{
    loss::{
        PowerLaw,
        coefficients::Coefficients,
        law::RunLaw,
        runs::{RunLaws, RunNumbers},
    },
    place::{Name, Place},
    system::{ConduitLaw, Factors, Head, Model, ModelErrors, Resolved, Start, System},
};
use std::collections::HashMap;

/// Air speed at which resistances are frozen for the start \[m/s\]: the usual one in chip duct.
const USUAL_SPEED: f64 = 20.0;

/// Below this a resistance is nothing against any other, but divides \[Pa s2/m6\].
const LEAST_RESISTANCE: f64 = 1e-12;

/// Suction at which leaks are frozen for the start \[Pa\].
const USUAL_SUCTION: f64 = 1000.0;

impl Plan {
    pub(super) fn new(system: System, factors: Factors) -> Result<Self, ModelErrors> {
        let resolved = Resolved::of(Model {
            system: &system,
            factors: &factors,
        })?;
        let sections = system.sections.len();
        let mut build = Builder {
            legs: Vec::with_capacity(2 * sections + 2),
            links: Vec::with_capacity(2 * sections + 2),
            laws: Vec::with_capacity(2 * sections + 2),
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
    links: Vec<Link>,
    laws: Vec<RunNumbers>,
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
        let mut link = Link {
            down: self.next() + 1,
            wye: NONE,
            ..Link::default()
        };
        link.freeze(frozen.max(LEAST_RESISTANCE));
        self.links.push(link);
        self.laws.push(RunNumbers::new(&law, usual));
        self.legs.push(Leg { law, section });
    }

    /// A leak, draining into the next leg.
    fn leak(&mut self, law: PowerLaw, section: u32) {
        let leak = self.leaks.len() as u32;
        self.leg(&Coefficients::default(), 1.0, section);
        if let Some(link) = self.links.last_mut() {
            link.start = LegStart::Leak(leak);
            let usual = law.coefficient() * USUAL_SUCTION.powf(law.exponent());
            link.freeze(USUAL_SUCTION / (usual * usual));
        }
        self.leaks.push(LeakPlan {
            law,
            leg: self.next() - 1,
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
            self.links[span.body as usize].momentum = 2.0 * own;
            span.wall_leak = self.next();
            self.leak(leak, section);
            span.last = self.next();
            let tail = Coefficients {
                k2: at_foot,
                ..Coefficients::default()
            };
            self.leg(&tail, USUAL_SPEED * conduit.area_m2, section);
            self.links[span.body as usize].down = span.last;
            self.links[span.last as usize].outlet_head = own;
        } else {
            span.first = self.conduit(conduit, at_foot, section);
            span.last = self.next() - 1;
            span.body = span.last;
        }
        self.links[span.last as usize].momentum = foot.momentum;
        self.spans[i] = span;
        self.meet(span.first, &resolved.topology.inlets[i], &law.head);
    }

    /// The junction at the head of a leg.
    fn meet(&mut self, leg: u32, inlets: &[usize], head: &Head) {
        for &inlet in inlets {
            let last = self.spans[inlet].last;
            self.links[last as usize].down = leg;
        }
        self.links[leg as usize].outlet_head = head.outlet_head;
        if let Some(wye) = head.wye {
            self.links[leg as usize].wye = self.wyes.len() as u32;
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
        self.links[root as usize].down = root;
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
        let mut collector = resolved.before.iter().chain(&resolved.after);
        let all_cut_off = collector.any(|run| run.cut_off);
        let mut cut_off: Vec<bool> = resolved
            .sections
            .iter()
            .map(|s| all_cut_off || s.conduit.cut_off)
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
            self.links[self.spans[at.section].first as usize].start = LegStart::Hood(i as u32);
            if let Some(machine) = at.machine {
                machines[machine].hoods.push(i as u32);
            }
            hoods.push(HoodPlan {
                name: hood.id.clone(),
                leg: self.spans[at.section].first,
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
        let adapter = resolved.adapter;
        shapes.extend(
            adapter
                .notes
                .into_iter()
                .map(|note| (Place::Collector, note)),
        );
        notes.append(&mut shapes);
        let has_odd_gates = hoods.iter().any(|hood| hood.cut_off || hood.leak.is_some());
        let all_alive = !has_odd_gates
            && self.leaks.iter().all(|leak| !leak.cut_off)
            && has_inlets(&self.links);
        Plan {
            depth: depth(&self.links),
            legs: self.legs.into(),
            laws: RunLaws::new(self.laws),
            links: self.links.into(),
            fan,
            leaks: self.leaks.into(),
            wyes: self.wyes.into(),
            has_odd_gates,
            all_alive,
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

/// Whether air enters every leg, at its head or from others.
fn has_inlets(links: &[Link]) -> bool {
    let mut fed: Vec<bool> = links.iter().map(Link::is_leaf).collect();
    for (leg, link) in links.iter().enumerate() {
        // Those upstream of it have been asked: nothing flows where none does.
        if !fed[leg] {
            return false;
        }
        fed[link.down as usize] = true;
    }
    true
}

/// Most legs on any path from a leaf to the fan.
fn depth(links: &[Link]) -> f64 {
    let mut below = vec![1_u32; links.len()];
    for i in (0..links.len()).rev() {
        let down = links[i].down as usize;
        if down != i {
            below[i] = below[down] + 1;
        }
    }
    f64::from(below.into_iter().max().unwrap_or(1))
}

/// Of the names and their order.
fn fingerprint<'a>(names: impl Iterator<Item = &'a Name>) -> u64 {
    // 0xff never stands in UTF-8: "ab","c" and "a","bc" differ.
    fnv_1a(names.flat_map(|name| name.as_str().bytes().chain([0xff])))
}

/// FNV-1a in 64 bits (G. Fowler, L. C. Noll, K.-P. Vo; public domain).
fn fnv_1a(bytes: impl Iterator<Item = u8>) -> u64 {
    bytes.fold(0xcbf2_9ce4_8422_2325, |hash, byte| {
        (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Legs that drain into these, the last of which is the root; air enters at those marked.
    fn links(legs: &[(u32, bool)]) -> Vec<Link> {
        let link = |&(down, is_leaf): &(u32, bool)| Link {
            down,
            start: match is_leaf {
                true => LegStart::Hood(0),
                false => LegStart::Legs,
            },
            ..Link::default()
        };
        legs.iter().map(link).collect()
    }

    #[test]
    fn air_enters_every_leg_or_not() {
        assert!(has_inlets(&links(&[(2, true), (2, true), (2, false)])));
        assert!(has_inlets(&links(&[(1, true), (2, false), (2, false)])));
        assert!(!has_inlets(&links(&[(2, true), (2, false), (2, false)])));
        assert!(!has_inlets(&links(&[(1, false), (1, false)])));
    }

    #[test]
    fn the_longest_path_counts() {
        assert_eq!(depth(&links(&[(0, true)])), 1.0);
        assert_eq!(depth(&links(&[(2, true), (2, true), (2, false)])), 2.0);
        assert_eq!(
            depth(&links(&[(1, true), (3, false), (3, true), (3, false)])),
            3.0
        );
        assert_eq!(depth(&[]), 1.0);
    }

    #[test]
    fn val_fnv_1a_of_the_published_test_vectors() {
        // From memory, of the authors' list of test vectors.
        for (text, hash) in [
            ("", 0xcbf2_9ce4_8422_2325),
            ("a", 0xaf63_dc4c_8601_ec8c),
            ("foobar", 0x8594_4171_f739_67e8),
        ] {
            assert_eq!(fnv_1a(text.bytes()), hash, "{text}");
        }
    }

    #[test]
    fn names_are_told_apart_by_their_order_and_their_ends() {
        let of = |names: &[&str]| {
            let names: Vec<Name> = names.iter().map(|&name| name.into()).collect();
            fingerprint(names.iter())
        };
        let all = [
            of(&["ab", "c"]),
            of(&["a", "bc"]),
            of(&["c", "ab"]),
            of(&["ab"]),
        ];
        for (i, a) in all.iter().enumerate() {
            assert!(!all[..i].contains(a));
        }
    }
}
