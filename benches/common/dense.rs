//! A dense Newton's method with LU on the same equations, for the speed example to race.
//!
//! It is no straw man: laws folded beforehand, friction by the same carried step of one logarithm,
//! every slope exact, nothing allocated in a pass but what LU itself takes; the fan's slope is
//! a difference, as the crate tells none. It starts about as far
//! off as the tree does (2 %) and takes as many passes; its answer is compared with the tree's.
//! Only for shops of [`shop`](super::shop::shop): ducts, coefficients, momentum junctions.

use airsplit::{Elbow, Filter, Network, OpenSet, Part, Separator, Start, System};
use nalgebra::{DMatrix, DVector};
use std::f64::consts::LN_10;

/// dp = (k2 + kf f) q^2 + k1 q, and how the leg meets its siblings.
#[derive(Debug, Clone, Default)]
struct Leg {
    k2: f64,
    k1: f64,
    kf: f64,
    re_per_q: f64,
    /// X1 per Reynolds number.
    rough: f64,
    carry: f64,
    momentum: f64,
    outlet_head: f64,
    down: Option<usize>,
    /// First of the hoods upstream of it and how many: hoods of a subtree stand side by side.
    hoods: (usize, usize),
}

pub(crate) struct Dense<'s> {
    system: &'s System,
    density: f64,
    legs: Vec<Leg>,
    start: DVector<f64>,
    // Scratch.
    flows: Vec<f64>,
    inlets: Vec<(f64, f64)>,
    left: DVector<f64>,
    slopes: DMatrix<f64>,
}

impl<'s> Dense<'s> {
    /// The equations of a shop, started off the balance.
    pub(crate) fn new(system: &'s System, network: &Network, open: &OpenSet) -> Option<Self> {
        let air = system.air.properties().ok()?;
        let (rho, mu) = (air.density.as_kg_m3(), air.viscosity.as_pa_s());
        let head = |area: f64| rho / (2.0 * area * area);
        // Upstream first, hoods of a subtree side by side.
        let index = |id: &str| system.sections.iter().position(|s| s.id.as_str() == id);
        let mut order = Vec::new();
        let mut stack: Vec<usize> = (0..system.sections.len())
            .filter(|&i| system.sections[i].into.is_none())
            .collect();
        while let Some(i) = stack.pop() {
            order.push(i);
            let id = Some(&system.sections[i].id);
            stack.extend(
                (0..system.sections.len()).filter(|&j| system.sections[j].into.as_ref() == id),
            );
        }
        order.reverse();
        let at = |section: usize| order.iter().position(|&i| i == section);
        let mut legs: Vec<Leg> = Vec::new();
        for &i in &order {
            let section = &system.sections[i];
            let (d, area) = (
                section.size.hydraulic_diameter().as_m(),
                section.size.area().as_m2(),
            );
            let mut leg = Leg {
                re_per_q: rho * d / (mu * area),
                rough: LN_10 / 18.574 * section.wall.roughness().ok()?.as_m() / d,
                carry: 7.0,
                ..Leg::default()
            };
            for part in &section.parts {
                match part {
                    Part::Duct(length) => leg.kf += length.as_m() / d * head(area),
                    Part::Elbow(Elbow::K(k)) => leg.k2 += k * head(area),
                    _ => return None,
                }
            }
            if let Start::Hood(hood) = &section.start {
                leg.k2 += hood.entry.heads(section.size).ok()?.heads.fixed * head(area);
            }
            leg.down = match &section.into {
                Some(into) => Some(at(index(into.as_str())?)?),
                None => Some(order.len()),
            };
            legs.push(leg);
        }
        legs.push(collector(system, head)?);
        // Where two meet, by momentum; a single inlet passes on what it has, as sharp steps do not
        // occur inline in this shop.
        for outlet in 0..order.len() {
            let inlets: Vec<usize> = (0..outlet)
                .filter(|&j| legs[j].down == Some(outlet))
                .collect();
            if inlets.len() < 2 {
                continue;
            }
            let outer = system.sections[order[outlet]].size.area().as_m2();
            legs[outlet].outlet_head = head(outer);
            for j in inlets {
                let section = &system.sections[order[j]];
                let own = section.size.area().as_m2();
                let angle = section
                    .join
                    .angle
                    .map_or(0.0, |angle| angle.as_deg().to_radians());
                legs[j].k2 += head(own);
                legs[j].momentum = rho * angle.cos() / (outer * own);
            }
        }
        let mut work = airsplit::Workspace::default();
        let balance = network.solve(open, &mut work).ok()?;
        let by_section: Vec<f64> = balance.section_flows().map(|q| q.as_m3_s()).collect();
        let mut hoods = Vec::new();
        for (leg, &i) in order.iter().enumerate() {
            if matches!(system.sections[i].start, Start::Hood(_)) {
                legs[leg].hoods = (hoods.len(), 1);
                hoods.push(by_section[i]);
            }
            let (first, count) = legs[leg].hoods;
            if let Some(down) = legs[leg].down {
                let below = &mut legs[down].hoods;
                *below = if below.1 == 0 {
                    (first, count)
                } else {
                    (below.0.min(first), below.1 + count)
                };
            }
        }
        let n = hoods.len();
        let sign = |i: usize| if i % 2 == 0 { 0.02 } else { -0.02 };
        Some(Self {
            system,
            density: rho,
            flows: vec![0.0; legs.len()],
            inlets: vec![(0.0, 0.0); legs.len()],
            legs,
            start: DVector::from_fn(n, |i, _| hoods[i] * (1.0 + sign(i))),
            left: DVector::zeros(n),
            slopes: DMatrix::zeros(n, n),
        })
    }

    /// So many passes from the start; the hoods' flows.
    pub(crate) fn solve(&mut self, passes: u32) -> Option<DVector<f64>> {
        let mut q = self.start.clone();
        for _ in 0..passes {
            self.equations(&q);
            let slopes = std::mem::replace(&mut self.slopes, DMatrix::zeros(0, 0));
            let lu = slopes.lu();
            if !lu.solve_mut(&mut self.left) {
                return None;
            }
            // What the factors stood in is taken back.
            self.slopes = lu.unpack().1;
            q += &self.left;
        }
        Some(q)
    }

    /// What is left over on every path, and its slopes against every hood's flow.
    fn equations(&mut self, q: &DVector<f64>) {
        let n = q.len();
        self.slopes.resize_mut(n, n, 0.0);
        self.slopes.fill(0.0);
        self.flows.fill(0.0);
        self.inlets.fill((0.0, 0.0));
        for (leg, at) in self.legs.iter().enumerate() {
            if at.hoods.1 == 1 && self.flows[leg] == 0.0 {
                self.flows[leg] = q[at.hoods.0];
            }
            if let Some(down) = at.down {
                self.flows[down] += self.flows[leg];
                self.inlets[down].0 += at.momentum * self.flows[leg] * self.flows[leg];
            }
        }
        let total = self.flows[self.legs.len() - 1];
        let (given, by_total) = self.fan(total);
        self.left.fill(given);
        self.slopes.fill(-by_total);
        for leg in 0..self.legs.len() {
            let at = &mut self.legs[leg];
            let q = self.flows[leg];
            let (dp, slope) = loss(at, q);
            let (first, count) = at.hoods;
            // Every hood upstream pays the leg's loss and the meeting at its head.
            let meeting = at.outlet_head * q * q - self.inlets[leg].0;
            let by_q = slope + 2.0 * at.outlet_head * q;
            for i in first..first + count {
                self.left[i] -= dp + meeting;
                for j in first..first + count {
                    self.slopes[(i, j)] += by_q;
                }
            }
            // The momentum that the leg brings is felt by all hoods of the outlet.
            if let (Some(down), true) = (at.down, at.momentum != 0.0) {
                let brought = 2.0 * at.momentum * q;
                let (all, of) = self.legs[down].hoods;
                for i in all..all + of {
                    for j in first..first + count {
                        self.slopes[(i, j)] -= brought;
                    }
                }
            }
        }
    }

    fn fan(&self, q: f64) -> (f64, f64) {
        let fan = self.system.collector.fan.as_ref();
        let at = |q: f64| {
            let flow = airsplit::VolumeFlow::from_m3_s(q);
            fan.map_or(0.0, |fan| {
                self.density / fan.density().as_kg_m3() * fan.pressure(flow).as_pa()
            })
        };
        let (here, h) = (at(q), 1e-7 * q);
        (here, (at(q + h) - here) / h)
    }
}

fn collector(system: &System, head: impl Fn(f64) -> f64) -> Option<Leg> {
    let [run] = system.collector.before.as_slice() else {
        return None;
    };
    let mut leg = Leg::default();
    for part in &run.parts {
        match part {
            Part::Separator(Separator::VelocityHeads(k)) => {
                leg.k2 += k * head(run.size.area().as_m2());
            }
            Part::Filter(Filter::Rated(rated)) => {
                leg.k1 += rated.drop.as_pa() / rated.at.as_m3_s();
            }
            _ => return None,
        }
    }
    Some(leg)
}

/// Loss and slope, by one fourth-order step of Colebrook's F.
fn loss(leg: &mut Leg, q: f64) -> (f64, f64) {
    let mut dp = (leg.k2 * q + leg.k1) * q;
    let mut slope = 2.0 * leg.k2 * q + leg.k1;
    if leg.kf > 0.0 {
        let re = leg.re_per_q * q;
        let x1 = leg.rough * re;
        let w = x1 + leg.carry;
        let r = (re * (LN_10 / 5.02) / w).ln() - leg.carry;
        let p = 1.0 + w;
        let t = 2.0 * p * (p + 2.0 / 3.0 * r);
        leg.carry += w * r * (t - r) / (p * (t - 2.0 * r));
        let omega = x1 + leg.carry;
        let per_q = leg.kf * (LN_10 * LN_10 / 4.0) / (leg.carry * leg.carry) * q;
        dp += per_q * q;
        slope += 2.0 * per_q * omega / (1.0 + omega);
    }
    (dp, slope)
}
