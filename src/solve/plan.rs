//! The compiled tree: flat legs in downstream order, ready to be swept.

use crate::{
    air::AirProperties,
    bore::Bore,
    curve1d::{Curve1d, MonotoneRun, Sample},
    fan::FanCurve,
    loss::{Junction, Note, PowerLaw, law::RunLaw, runs::RunLaws, wye::WyeLaw},
    place::{Name, Place},
    quantity::VolumeFlow,
    system::{ConduitLaw, Factors, Foot, HeadBalance, System, Topology},
};

use std::collections::HashMap;

/// Everything that a solve needs and nothing that a solve changes.
#[derive(Debug)]
pub(super) struct Plan {
    /// Every leg after all those upstream of it; the last is the root, which meets the fan.
    pub(super) legs: Box<[Leg]>,
    /// Their laws and links as the solver copies them for the legs that carry air.
    pub(super) laws: RunLaws,
    pub(super) links: Box<[Link]>,
    /// Most legs on any path: how far rounding can add up.
    pub(super) depth: f64,
    pub(super) fan: Option<FanSide>,
    pub(super) leaks: Box<[LeakPlan]>,
    pub(super) wyes: Box<[WyePlan]>,
    pub(super) hoods: Box<[HoodPlan]>,
    /// Whether any of them is cut off, or lets air by when it is shut: seldom, and otherwise a
    /// solve need not look at every hood.
    pub(super) has_odd_gates: bool,
    /// Whether every leg carries air when every hood is open.
    pub(super) all_alive: bool,
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
    /// The section it belongs to, or [`NONE`].
    pub(super) section: u32,
}

/// How a leg hangs together with its neighbours, and where its flow starts.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Link {
    /// The leg downstream of it; the root's is itself.
    pub(super) down: u32,
    /// The wye by formula at its head, or [`NONE`].
    pub(super) wye: u32,
    /// What is at its head.
    pub(super) start: LegStart,
    /// rho cos(alpha) / (`A_c` A) at the junction it drains into; 0: a plain joint.
    pub(super) momentum: f64,
    /// rho / (2 `A_c`^2) of the junction at its head; 0: a plain joint.
    pub(super) outlet_head: f64,
    /// Resistance frozen at a usual speed, for the start \[Pa s2/m6\].
    pub(super) frozen: f64,
    /// Its flow per square root of suction, with that resistance.
    pub(super) conductance: f64,
}

impl Link {
    /// Whether air enters at its head.
    pub(super) fn is_leaf(&self) -> bool {
        self.start != LegStart::Legs
    }

    /// Freezes its resistance.
    pub(super) fn freeze(&mut self, resistance: f64) {
        self.frozen = resistance;
        self.conductance = resistance.sqrt().recip();
    }
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
    pub(super) leg: u32,
    pub(super) section: u32,
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
    pub(super) fn new(fan: &FanCurve, density: f64, factor: f64, regain: f64) -> Self {
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
    pub(super) fn at(&self, q: f64) -> Sample {
        self.at_from(&mut 0, q)
    }

    /// The same; `piece` of its curve is looked at first.
    #[inline]
    pub(super) fn at_from(&self, piece: &mut usize, q: f64) -> Sample {
        let published = self.curve.at_from(piece, q);
        Sample {
            value: self.scale * published.value + self.regain * q * q,
            slope: self.scale * published.slope + 2.0 * self.regain * q,
        }
    }
}

#[derive(Debug)]
pub(super) struct HoodPlan {
    pub(super) name: Name,
    /// The leg that its air enters.
    pub(super) leg: u32,
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
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::solve::by_hand::{FALLING, system};

    /// A straight curve, -1000 Pa s/m3 from 500 Pa, in denser air behind a fan with a factor.
    #[test]
    fn val_a_straight_fan_that_regains() {
        let points: Vec<(f64, f64)> = [0.0, 0.1, 0.3, 0.4]
            .iter()
            .map(|&q| (q, 500.0 - 1000.0 * q))
            .collect();
        let fan = system(&points, None).collector.fan.unwrap();
        let denser = fan.density().as_kg_m3() * 1.25;
        let side = FanSide::new(&fan, denser, 0.8, 30.0);
        assert!((side.scale - 1.0).abs() < 1e-15);
        let side = FanSide::new(&fan, denser, 1.6, 30.0);
        let close = |a: f64, b: f64| (a - b).abs() <= 1e-9 * b.abs();
        // 2 (500 - 1000 q) + 30 q^2
        let at = side.at(0.2);
        assert!(
            close(at.value, 600.0 + 1.2) && close(at.slope, -2000.0 + 12.0),
            "{at:?}"
        );
        assert!(close(side.at_rest, 1000.0));
        let [least, most] = side.slopes_between(0.1, 0.3);
        assert!(close(least, -2000.0 + 6.0) && close(most, -2000.0 + 18.0));
        // Whoever regains may rise; a stretch is only called falling where nothing is.
        assert!(side.rises && side.runs.iter().all(|run| !run.falls));
        let plain = FanSide::new(&fan, denser, 1.6, 0.0);
        assert!(!plain.rises && plain.runs.iter().all(|run| run.falls));
        let curved = system(FALLING, None).collector.fan.unwrap();
        let curved = FanSide::new(&curved, denser, 1.6, 30.0);
        let [least, most] = curved.slopes_between(0.1, 0.3);
        for i in 0..=20 {
            let slope = curved.at(0.1 + 0.01 * f64::from(i)).slope;
            assert!((least..=most).contains(&slope), "{least} {slope} {most}");
        }
    }
}
