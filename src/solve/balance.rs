//! The answer in place, as a view into the workspace.
#![allow(
    clippy::indexing_slicing,
    reason = "sections, hoods, machines and legs are numbered by the plan that the answer belongs to"
)]

use super::{
    adjoint::{self, Adjoint, Influence, Weight},
    network::quality,
    newton::Outcome,
    output::Output,
    plan::{Closing, HoodPlan, MachinePlan, NONE, Plan, SectionPlan},
    point::{FanState, HoodState, MachineState, OperatingPoint, RunState, SectionState},
    quality::{Quality, Status},
    tap,
    work::{LegState, Workspace},
};
use crate::{
    loss::throat_static_suction,
    quantity::{Pressure, Velocity, VolumeFlow},
    system::UnknownName,
};

/// The answer in place: a view into the workspace, made without allocating.
#[derive(Debug)]
pub struct Balance<'w> {
    pub(super) plan: &'w Plan,
    pub(super) work: &'w Workspace,
    outcome: Outcome,
    /// How the answer stands.
    pub status: Status,
}

fn velocity(section: &SectionPlan, q_m3s: f64) -> Velocity {
    Velocity::from_m_s(q_m3s / section.conduit.area_m2)
}

/// Flow and suctions of a section.
#[derive(Debug, Clone, Copy, Default)]
struct Along {
    q: f64,
    /// Suction of total pressure at its head.
    head: f64,
    /// Suction shared by the inlets at its head.
    shared: f64,
    loss: f64,
    leak: f64,
    junction_loss: f64,
    /// Suction of total pressure at its downstream end.
    end: f64,
}

impl<'w> Balance<'w> {
    pub(super) fn new(
        plan: &'w Plan,
        work: &'w Workspace,
        status: Status,
        outcome: Outcome,
    ) -> Self {
        Self {
            plan,
            work,
            outcome,
            status,
        }
    }

    /// How good the answer is.
    #[must_use]
    pub fn quality(&self) -> Quality {
        quality(self.plan, self.work, &self.outcome)
    }

    /// Total flow, at the fan.
    #[must_use]
    pub fn flow(&self) -> VolumeFlow {
        VolumeFlow::from_m3_s(self.work.total())
    }

    /// Flow of each hood, in the order of [`Network::hoods`](super::Network::hoods).
    #[must_use]
    pub fn hood_flows(&self) -> impl ExactSizeIterator<Item = VolumeFlow> + '_ {
        self.plan
            .hoods
            .iter()
            .map(|hood| VolumeFlow::from_m3_s(self.hood_flow(hood)))
    }

    /// Flow of each section, in the order of the model.
    #[must_use]
    pub fn section_flows(&self) -> impl ExactSizeIterator<Item = VolumeFlow> + '_ {
        (0..self.plan.sections.len() as u32).map(|i| VolumeFlow::from_m3_s(self.flow_in(i)))
    }

    /// Flow of each machine, all its hoods together, in the order of the model.
    #[must_use]
    pub fn machine_flows(&self) -> impl ExactSizeIterator<Item = VolumeFlow> + '_ {
        let machines = self.plan.machines.iter();
        machines.map(|machine| self.machine_flow(machine))
    }

    /// Mean velocity in each section, at its downstream end, in the order of the model.
    #[must_use]
    pub fn section_velocities(&self) -> impl ExactSizeIterator<Item = Velocity> + '_ {
        let sections = self.plan.sections.iter();
        sections.map(|section| velocity(section, self.leg(section.last).q))
    }

    /// Pressure on the basis of the fan's curve, at the density of the air in the ducts.
    #[must_use]
    pub fn curve_pressure(&self) -> Pressure {
        let q = self.work.total();
        Pressure::from_pa(self.outcome.pressure - self.plan.regain * q * q)
    }

    /// Slope of the pressure that the system asks of the fan's curve \[Pa s/m3\].
    pub(super) fn curve_slope(&self) -> f64 {
        self.outcome.slope - 2.0 * self.plan.regain * self.work.total()
    }

    /// The value of an output, in its unit.
    ///
    /// # Errors
    ///
    /// An output that names no hood or machine, with the names that exist, nearest first.
    pub fn value(&self, output: &Output) -> Result<f64, UnknownName> {
        let mut value = tap::read(self.plan, self.work, output, |_| {})?;
        output.weigh(self.plan, |weight| {
            value += match weight {
                Weight::Flow(leg) => self.leg(leg).q,
                Weight::Total => self.work.total(),
                Weight::FanPressure => self.curve_pressure().as_pa(),
            };
        })?;
        Ok(value)
    }

    /// What an extra pascal of loss anywhere does to an output: the raw adjoint sweep, which
    /// allocates nothing once `adjoint` has grown to this network.
    ///
    /// ```
    /// # fn main() -> Result<(), Box<dyn std::error::Error>> {
    /// # #[cfg(feature = "serde")] {
    /// use airsplit::{Adjoint, Network, Output, Study, Workspace};
    /// let study: Study = toml::from_str(&std::fs::read_to_string("examples/chair_shop.toml")?)?;
    /// let network = Network::new(&study.system)?;
    /// let (mut work, mut adjoint) = (Workspace::default(), Adjoint::default());
    /// let balance = network.solve(&network.open_all(), &mut work)?;
    /// let planer = Output::Machine("planer".into());
    /// let influence = balance.influence(&planer, &mut adjoint)?;
    /// // Loss in its own drop costs the planer air, loss in another drop gives it some.
    /// assert!(influence.collector() < 0.0);
    /// assert_eq!(influence.sections().len(), study.system.sections.len());
    /// # }
    /// # Ok(())
    /// # }
    /// ```
    ///
    /// # Errors
    ///
    /// An output that names no hood or machine, with the names that exist, nearest first.
    pub fn influence<'a>(
        &self,
        output: &Output,
        adjoint: &'a mut Adjoint,
    ) -> Result<Influence<'a>, UnknownName>
    where
        'w: 'a,
    {
        adjoint::sweep(self.plan, self.work, self.closing(), output, adjoint)
    }

    /// What closed the root of the tree.
    fn closing(&self) -> Closing {
        let q = self.work.total();
        match &self.plan.fan {
            Some(fan) if self.status != Status::FlowImposed => {
                let slope = fan.at(q).slope;
                Closing::Fan {
                    slope,
                    curve_slope: slope - 2.0 * fan.regain * q,
                }
            }
            _ => Closing::Flow,
        }
    }

    /// Names, pressures and velocities, as owned data.
    #[must_use]
    pub fn to_point(&self) -> OperatingPoint {
        let plan = self.plan;
        let along = self.along();
        OperatingPoint {
            status: self.status,
            flow: self.flow(),
            fan: self.fan(),
            hoods: self.hoods(),
            machines: self.machines(),
            sections: self.sections(&along),
            collector: self.collector(),
            notes: plan.notes.to_vec(),
            in_fan_curve: plan.in_fan_curve.to_vec(),
            quality: self.quality(),
        }
    }

    fn flow_in(&self, section: u32) -> f64 {
        self.leg(self.plan.sections[section as usize].last).q
    }

    fn hood_flow(&self, hood: &HoodPlan) -> f64 {
        self.leg(self.plan.sections[hood.section as usize].first).q
    }

    fn machine_flow(&self, machine: &MachinePlan) -> VolumeFlow {
        let hoods = machine.hoods.iter();
        let flows = hoods.map(|&hood| self.hood_flow(&self.plan.hoods[hood as usize]));
        VolumeFlow::from_m3_s(flows.sum())
    }

    fn leg(&self, leg: u32) -> LegState {
        self.work.leg(leg)
    }

    /// Whether the hood of a section is open: it carries air, and not only its gate's leak.
    pub(super) fn is_open(&self, section: u32) -> bool {
        let leg = self.plan.sections[section as usize].body;
        self.leg(leg).live && !self.work.is_shut(leg)
    }

    fn fan(&self) -> FanState {
        let q2 = self.work.total().powi(2);
        let heads = &self.plan.heads;
        // The tree asked for its losses and for what lies between the basis and the open air;
        // what it regains beyond that stood on the fan's side.
        let curve = self.curve_pressure().as_pa();
        FanState {
            estimated: self.plan.fan.as_ref().is_some_and(|fan| fan.estimated),
            curve_end: None,
            curve_pressure: Pressure::from_pa(curve),
            total_pressure: heads
                .total_over_curve
                .map(|k| Pressure::from_pa(curve + k * q2)),
            static_pressure: heads
                .static_over_curve
                .map(|k| Pressure::from_pa(curve + k * q2)),
        }
    }

    /// Flows and suctions of every section, from the collector upstream; sections without air
    /// stand at whatever pressure their junction gives them.
    fn along(&self) -> Vec<Along> {
        let plan = self.plan;
        let mut along = vec![Along::default(); plan.sections.len()];
        for &i in &plan.from_collector {
            let section = &plan.sections[i as usize];
            let last = self.leg(section.last);
            let down = plan.links[section.last as usize].down;
            let below = match along.get(plan.legs[down as usize].section as usize) {
                Some(below) => *below,
                None => {
                    let entry = self.leg(plan.entry);
                    Along {
                        head: entry.suction,
                        shared: entry.shared,
                        ..Along::default()
                    }
                }
            };
            let q2 = last.q * last.q;
            let mut here = Along {
                q: last.q,
                ..Along::default()
            };
            let foot = &section.foot;
            let meeting = (foot.own_head + foot.join_k * section.conduit.head) * q2;
            // Still air feels its wye as well, and no sweep has asked for that.
            let wye_dp = if last.live {
                last.wye_dp
            } else {
                tap::wye_of(plan, self.work, section.last).map_or(0.0, |(_, loss)| loss.dp_pa)
            };
            here.junction_loss = below.head - below.shared + wye_dp + meeting;
            here.end = below.head - here.junction_loss;
            let (first, body) = (self.leg(section.first), self.leg(section.body));
            if body.live {
                here.head = first.suction;
                here.shared = first.shared;
            } else {
                // Still air stands at one pressure: that of the leak's joint, or of the end.
                let still = if last.live { last.shared } else { here.end };
                here.head = still;
                here.shared = still;
            }
            if section.wall_leak != NONE {
                here.leak = self.leg(section.wall_leak).q;
                here.loss = here.end - here.head;
            } else if body.live {
                let legs = section.first..=section.body;
                let dp: f64 = legs.map(|leg| self.leg(leg).dp).sum();
                here.loss = dp - meeting;
            }
            along[i as usize] = here;
        }
        along
    }

    fn hoods(&self) -> Vec<HoodState> {
        let plan = self.plan;
        plan.hoods
            .iter()
            .map(|hood| {
                let section = &plan.sections[hood.section as usize];
                let q = self.leg(section.first).q;
                HoodState {
                    name: hood.name.clone(),
                    section: section.id.clone(),
                    machine: hood.machine.map(|m| plan.machines[m as usize].name.clone()),
                    open: self.is_open(hood.section),
                    flow: VolumeFlow::from_m3_s(q),
                    required: hood.required,
                    static_pressure: Pressure::from_pa(0.0)
                        - throat_static_suction(
                            hood.entry_k,
                            Pressure::from_pa(section.conduit.head * q * q),
                        ),
                }
            })
            .collect()
    }

    fn machines(&self) -> Vec<MachineState> {
        let plan = self.plan;
        plan.machines
            .iter()
            .map(|machine| {
                let is_open = |&hood: &u32| self.is_open(plan.hoods[hood as usize].section);
                MachineState {
                    name: machine.name.clone(),
                    open: machine.hoods.iter().any(is_open),
                    flow: self.machine_flow(machine),
                    required: machine.required,
                }
            })
            .collect()
    }

    fn sections(&self, along: &[Along]) -> Vec<SectionState> {
        self.plan
            .sections
            .iter()
            .zip(along)
            .map(|(section, along)| {
                let head = section.conduit.head * along.q * along.q;
                SectionState {
                    id: section.id.clone(),
                    size: section.size,
                    flow: VolumeFlow::from_m3_s(along.q),
                    leak: VolumeFlow::from_m3_s(along.leak),
                    velocity: velocity(section, along.q),
                    velocity_pressure: Pressure::from_pa(head),
                    loss: Pressure::from_pa(along.loss),
                    junction_loss: Pressure::from_pa(along.junction_loss),
                    junction: section.junction,
                    total_pressure: Pressure::from_pa(-along.end),
                    static_pressure: Pressure::from_pa(-along.end - head),
                }
            })
            .collect()
    }

    fn collector(&self) -> Vec<RunState> {
        let plan = self.plan;
        let q = self.work.total();
        let state = |run: &super::plan::RunPlan, loss: f64, total: f64| {
            let head = run.conduit.head * q * q;
            RunState {
                place: run.place.clone(),
                size: run.size,
                velocity: Velocity::from_m_s(q / run.conduit.area_m2),
                velocity_pressure: Pressure::from_pa(head),
                loss: Pressure::from_pa(loss),
                total_pressure: Pressure::from_pa(total),
                static_pressure: Pressure::from_pa(total - head),
            }
        };
        let mut runs = Vec::with_capacity(plan.before.len() + plan.after.len());
        let mut total = -self.leg(plan.entry).suction;
        for run in &plan.before {
            let loss = run.conduit.loss(q);
            total -= loss;
            runs.push(state(run, loss, total));
        }
        // After the fan: from the open air back, where only the exit velocity pressure is left.
        let mut total = plan.heads.exit.unwrap_or(0.0) * q * q;
        let mut after: Vec<_> = plan
            .after
            .iter()
            .rev()
            .map(|run| {
                let loss = run.conduit.loss(q);
                let state = state(run, loss, total);
                total += loss;
                state
            })
            .collect();
        after.reverse();
        runs.append(&mut after);
        runs
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        quantity::VolumeFlow,
        solve::{
            Adjoint, Network, OpenSet, Workspace,
            by_hand::{FALLING, ready},
        },
    };

    fn slope(at: impl Fn(f64) -> f64, q: f64) -> f64 {
        let step = 1e-4;
        (at(q + step) - at(q - step)) / (2.0 * step)
    }

    fn imposed(network: &Network, open: &OpenSet, q: f64) -> f64 {
        let mut work = Workspace::default();
        let flow = VolumeFlow::from_m3_s(q);
        let balance = network.solve_at_flow(open, flow, &mut work).unwrap();
        balance.curve_pressure().as_pa()
    }

    /// Behind a stack that regains pressure the tree is not driven by what the fan's curve gives.
    #[test]
    fn slopes_of_what_is_asked_of_the_curve_and_of_what_it_gives() {
        let (network, open) = ready(FALLING, Some(250.0));
        let fan = network.plan().fan.as_ref().unwrap();
        assert!(fan.regain > 100.0, "{}", fan.regain);
        let mut work = Workspace::default();
        let balance = network.solve(&open, &mut work).unwrap();
        let q = balance.flow().as_m3_s();
        let asked = slope(|q| imposed(&network, &open, q), q);
        let told = balance.curve_slope();
        assert!((told / asked - 1.0).abs() < 1e-4, "{told} {asked}");
        let given = slope(|q| fan.scale * fan.curve.at(q).value, q);
        let driving = slope(|q| fan.at(q).value, q);
        let Closing::Fan { slope, curve_slope } = balance.closing() else {
            panic!("a fan")
        };
        assert!(
            (curve_slope / given - 1.0).abs() < 1e-4,
            "{curve_slope} {given}"
        );
        assert!((slope / driving - 1.0).abs() < 1e-4, "{slope} {driving}");
    }

    #[test]
    fn no_loss_changes_a_flow_that_is_imposed() {
        let (network, open) = ready(FALLING, None);
        let (mut work, mut adjoint) = (Workspace::default(), Adjoint::default());
        let flow = VolumeFlow::from_m3_s(0.2);
        let balance = network.solve_at_flow(&open, flow, &mut work).unwrap();
        assert!(matches!(balance.closing(), Closing::Flow));
        let influence = balance.influence(&Output::TotalFlow, &mut adjoint).unwrap();
        assert_eq!(influence.collector(), 0.0);
        assert!(influence.sections().all(|by| by == 0.0));
    }

    #[test]
    fn what_goes_through_the_main_is_told() {
        let (network, open) = ready(FALLING, None);
        let point = network.operating_point(&open).unwrap();
        let main = point.section("main").unwrap().flow;
        assert!((main / point.flow - 1.0).abs() < 1e-12);
        assert!(point.section("long").unwrap().flow < main);
    }
}
