//! What the flows leave over: every path is walked with its own losses.
//!
//! Newton's method squares its errors: after a step of 1e-7 the flows are a few 1e-15 off, and all
//! that is left to do is to see whether that is so. So the last pass of most solves only verifies.
//! An elimination would take as long again to tell how far the next step, which nobody takes, would
//! go; its bound is here as well: suctions R at most are left over at the leaves. To a falling fan
//! and a tree of monotone losses that is as if the rooms at the leaves were R off, which moves no
//! shared suction by more than R and no leaf by more than 2 R over the slope of its loss. A flow
//! that is a sum moves by no larger share than those it is the sum of. Where inlets meet by momentum
//! that is a rule and not a law; what is asked for is a hundred times what rounding leaves.
#![allow(
    clippy::indexing_slicing,
    reason = "the arrays of a tree are of one length, its number of legs, and `prepare` numbers the legs"
)]

use super::{
    residual::{Largest, Worst},
    tree::Tree,
};

impl Tree {
    /// What the present flows leave over, their losses being known: suction at a leaf \[Pa\], balance
    /// of a node \[m3/s\], and a bound of the relative step that Newton's method would still take.
    /// And the pressure that drives the tree \[Pa\].
    ///
    /// Losses in wyes by formula are those of the last elimination. Without a given pressure it is
    /// what the paths lose, averaged with the flows as weights: power over flow.
    pub(super) fn verify(&mut self, given: Option<f64>) -> (f64, Worst<f64>) {
        let balance = self.meet_inlets();
        let n = self.links.len();
        let (links, nodes, q) = (&self.links[..n], &mut self.nodes[..n], &self.q[..n]);
        let (dp, slope) = (&self.runs.dp[..n], &self.runs.slope[..n]);
        let mut pressure = given.unwrap_or(0.0);
        let mut left_over = Largest::default();
        // Smallest product of flow and slope of a leaf: the loss that a flow twice as large adds.
        let mut grip = f64::INFINITY;
        let mut near = (usize::MAX, 0.0);
        for i in (0..n).rev() {
            let link = &links[i];
            let down = link.down as usize;
            let shared = if down == i {
                pressure
            } else if down == near.0 {
                near.1
            } else {
                nodes[down].shared
            };
            let node = &mut nodes[i];
            let suction = shared - node.wye_dp - dp[i];
            let meets = node.suction;
            node.suction = suction;
            if link.is_leaf() {
                left_over.raise(suction.abs());
                let own = q[i] * slope[i];
                grip = if own < grip { own } else { grip };
            } else {
                node.shared = suction + meets;
                near = (i, node.shared);
            }
        }
        let mut left_over = left_over.size();
        if given.is_none() {
            (pressure, left_over) = self.level();
        }
        let worst = Worst {
            pressure: left_over,
            balance,
            step: 2.0 * left_over / grip,
        };
        (pressure, worst)
    }

    /// Lifts all suctions so that what is left over at the leaves averages to nothing, with the
    /// flows as weights: by how much, and what is left over then.
    #[cold]
    fn level(&mut self) -> (f64, f64) {
        let (mut power, mut flow) = (0.0, 0.0);
        for ((link, node), q) in self.links.iter().zip(&self.nodes).zip(&self.q) {
            if link.is_leaf() {
                power -= q * node.suction;
                flow += q;
            }
        }
        let pressure = power / flow;
        let mut left_over = Largest::default();
        for (link, node) in self.links.iter().zip(&mut self.nodes) {
            node.suction += pressure;
            node.shared += pressure;
            if link.is_leaf() {
                left_over.raise(node.suction.abs());
            }
        }
        (pressure, left_over.size())
    }

    /// How much suction is gained where inlets meet; by how much the flows there fail to add up.
    fn meet_inlets(&mut self) -> f64 {
        let n = self.links.len();
        let (links, nodes, q) = (&self.links[..n], &mut self.nodes[..n], &self.q[..n]);
        let surplus = &mut self.surplus[..n];
        let mut worst = Largest::default();
        // As in `upward`, what comes from the leg before need not go through memory.
        let (mut to, mut flow, mut momentum) = (usize::MAX, 0.0, 0.0);
        for i in 0..n {
            let (link, q) = (&links[i], q[i]);
            if !link.is_leaf() {
                let (mut sum, mut pull) = (0.0, 0.0);
                if to == i {
                    (sum, pull, to) = (flow, momentum, usize::MAX);
                }
                let node = &mut nodes[i];
                node.take_up_sums(&mut sum, &mut pull);
                node.suction = pull - link.outlet_head * q * q;
                surplus[i] = sum - q;
                worst.raise(surplus[i].abs());
            }
            let down = link.down as usize;
            if down != i {
                let pull = link.momentum * q * q;
                if down == to {
                    flow += q;
                    momentum += pull;
                } else {
                    if let Some(node) = nodes.get_mut(to) {
                        node.put_sums(flow, momentum);
                    }
                    (to, flow, momentum) = (down, q, pull);
                }
            }
        }
        worst.size()
    }
}

#[cfg(test)]
mod tests {
    use crate::{
        Air, Angle, Basis, Bore, Collector, Density, Entry, FanCurve, Fitted, Hood, Length,
        Network, Part, Pressure, Run, Section, System, VolumeFlow, Wall, Workspace,
    };
    use proptest::prelude::*;

    /// A trunk that takes up a drop of these bores and lengths \[m\] at every joint, by momentum.
    fn comb(drops: &[(f64, f64)]) -> System {
        let points = [(0.0, 2500.0), (0.4, 2000.0), (0.8, 200.0)]
            .map(|(q, p)| (VolumeFlow::from_m3_s(q), Pressure::from_pa(p)));
        let fan = FanCurve::new(points, Basis::Total, Fitted::NOTHING, Density::STANDARD_AIR);
        let after = Run::new(Bore::Round(Length::from_m(0.2)), Wall::Galvanised);
        let collector = Collector::new(fan.unwrap()).with_after(after);
        let mut system = System::new(Air::standard(), collector);
        let section = |id: String, d_m: f64, length_m: f64| {
            Section::new(id, Bore::Round(Length::from_m(d_m)), Wall::Galvanised)
                .with_part(Part::Duct(Length::from_m(length_m)))
        };
        let last = drops.len() - 1;
        for (i, &(d_m, length_m)) in drops.iter().enumerate() {
            let trunk = section(format!("trunk {i}"), 0.2, 3.0);
            let drop = section(format!("drop {i}"), d_m, length_m)
                .draining_into(format!("trunk {i}"))
                .with_hood(Hood::new(format!("hood {i}"), Entry::K(0.5)));
            system = system.with_section(match i {
                0 => trunk,
                _ => trunk.draining_into(format!("trunk {}", i - 1)),
            });
            system = system.with_section(match i {
                _ if i == last => drop,
                _ => drop.joining_at(Angle::from_deg(45.0)),
            });
        }
        system
    }

    proptest! {
        /// How far flows are off is no more than `verify` says, and it tells the size of it.
        #[test]
        fn prop_what_is_left_over_bounds_what_is_off(
            drops in prop::collection::vec((0.08..0.15f64, 1.0..8.0f64), 1..9),
            off in prop::collection::vec(-1.0..1.0f64, 9),
            size in -9.0..-4.0f64,
        ) {
            let network = Network::new(&comb(&drops)).unwrap();
            let mut work = Workspace::default();
            network.solve(&network.open_all(), &mut work).unwrap();
            let plan = network.plan();
            let fan = plan.fan.as_ref().unwrap();
            let right = work.tree.q.clone();
            let scale = 10.0f64.powf(size);
            let leaves: Vec<usize> = (0..work.tree.links.len())
                .filter(|&i| work.tree.links[i].is_leaf())
                .collect();
            for (&leaf, off) in leaves.iter().zip(&off) {
                work.tree.q[leaf] *= 1.0 + scale * off;
            }
            work.tree.add_up();
            for _ in 0..3 {
                work.tree.losses(plan);
            }
            let pressure = fan.at(work.tree.total()).value;
            let (_, worst) = work.tree.verify(Some(pressure));
            let is_off = leaves.iter().map(|&leaf| (work.tree.q[leaf] / right[leaf] - 1.0).abs());
            let is_off = is_off.fold(0.0, f64::max);
            prop_assert!(is_off <= worst.step * (1.0 + 10.0 * scale), "{is_off:e} {worst:?}");
            prop_assert!(worst.step <= 1e3 * is_off.max(1e-13), "{is_off:e} {worst:?}");
            prop_assert!(worst.balance <= 4.0 * f64::EPSILON * work.total());
        }
    }
}
