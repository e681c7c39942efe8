//! What each open set asks for, and whether an answer gives it.

use super::{answer::Demand, question::SizingError, tree::Tree};
use crate::{
    place::Name,
    quantity::{Velocity, VolumeFlow},
    solve::{Balance, Network, OpenSet, Status, Workspace},
    system::{Hood, System},
};
use std::collections::HashSet;

/// What an open set asks for, in the order of the model; 0 where it asks for nothing.
#[derive(Debug)]
pub(super) struct SetDemands {
    pub(super) open: OpenSet,
    pub(super) names: Vec<Name>,
    pub(super) open_hoods: Vec<bool>,
    /// How many hoods of each machine are open.
    pub(super) open_of_machine: Vec<usize>,
    /// Whether an open hood lies upstream of each section.
    pub(super) carries: Vec<bool>,
    pub(super) machines: Vec<VolumeFlow>,
    pub(super) hoods: Vec<VolumeFlow>,
    pub(super) sections: Vec<Velocity>,
}

/// What became of an open set.
#[derive(Debug)]
pub(super) struct Judged {
    pub(super) status: Option<Status>,
    /// Every demand, the one with the smallest share first.
    pub(super) demands: Vec<Demand>,
}

impl SetDemands {
    pub(super) fn new(
        system: &System,
        tree: &Tree,
        network: &Network,
        open: &OpenSet,
        least: &[Velocity],
    ) -> Result<Self, SizingError> {
        let names = network.open_names(open)?;
        let opened: HashSet<&Name> = names.iter().collect();
        let is_open = |hood: &Hood| {
            opened.contains(&hood.id) || hood.machine.as_ref().is_some_and(|m| opened.contains(m))
        };
        let open_hoods: Vec<bool> = system.hoods().map(|(_, hood)| is_open(hood)).collect();
        let mut open_of_machine = vec![0_usize; system.machines.len()];
        for (at, _) in tree
            .hoods
            .iter()
            .zip(&open_hoods)
            .filter(|(_, open)| **open)
        {
            if let Some(count) = at
                .machine
                .and_then(|machine| open_of_machine.get_mut(machine))
            {
                *count += 1;
            }
        }
        let hoods = system.hoods().zip(&open_hoods);
        let hoods = hoods.map(|((_, hood), &open)| hood.required.filter(|_| open));
        let machines = system.machines.iter().zip(&open_of_machine);
        let machines = machines.map(|(machine, &open)| Some(machine.required).filter(|_| open > 0));
        let carries = tree.carries(&open_hoods);
        let sections = least.iter().zip(&carries);
        Ok(Self {
            open: open.clone(),
            machines: machines.map(Option::unwrap_or_default).collect(),
            hoods: hoods.map(Option::unwrap_or_default).collect(),
            sections: sections
                .map(|(&least, &carries)| Some(least).filter(|_| carries).unwrap_or_default())
                .collect(),
            open_of_machine,
            open_hoods,
            carries,
            names,
        })
    }

    pub(super) fn is_nothing(&self) -> bool {
        let flows = self.machines.iter().chain(&self.hoods);
        flows.into_iter().all(|flow| flow.as_m3_s() == 0.0)
            && self.sections.iter().all(|v| v.as_m_s() == 0.0)
    }

    /// Area in which the flow that is needed through a section just keeps its least velocity \[m2\];
    /// 0 where either is not asked for.
    pub(super) fn widest_for(&self, tree: &Tree, section: usize) -> f64 {
        match self.sections.get(section).map_or(0.0, |v| v.as_m_s()) {
            velocity if velocity > 0.0 => tree.needed_through(section, self, false) / velocity,
            _ => 0.0,
        }
    }

    /// Whether an answer within the fan's curve meets every demand.
    pub(super) fn is_met(&self, balance: &Balance<'_>) -> bool {
        balance.status == Status::Converged
            && balance
                .machine_flows()
                .zip(&self.machines)
                .all(|(found, needed)| found >= *needed)
            && balance
                .hood_flows()
                .zip(&self.hoods)
                .all(|(found, needed)| found >= *needed)
            && balance
                .section_velocities()
                .zip(&self.sections)
                .all(|(found, needed)| found >= *needed)
    }

    /// Every demand and what was found.
    pub(super) fn judge(&self, system: &System, network: &Network, work: &mut Workspace) -> Judged {
        let balance = match network.solve(&self.open, work) {
            Ok(balance) => balance,
            Err(error) => {
                let why = error.to_string();
                return Judged {
                    status: None,
                    demands: vec![Demand::Answer { why }],
                };
            }
        };
        let mut demands = Vec::new();
        if balance.status != Status::Converged
            && let Some(fan) = &system.collector.fan
        {
            let first = fan.points().next().map(|point| point.flow);
            let end = match balance.status {
                Status::BelowCurve => first.unwrap_or_default(),
                _ => fan.largest_flow(),
            };
            let found = balance.flow();
            demands.push(Demand::FanCurve { end, found });
        }
        let machines = system.machines.iter().zip(balance.machine_flows());
        for ((machine, found), &needed) in machines.zip(&self.machines) {
            let machine = machine.id.clone();
            demands.push(Demand::Machine {
                machine,
                needed,
                found,
            });
        }
        let hoods = system.hoods().zip(balance.hood_flows());
        for (((_, hood), found), &needed) in hoods.zip(&self.hoods) {
            let hood = hood.id.clone();
            demands.push(Demand::Hood {
                hood,
                needed,
                found,
            });
        }
        let sections = system.sections.iter().zip(balance.section_velocities());
        for ((section, found), &needed) in sections.zip(&self.sections) {
            let section = section.id.clone();
            demands.push(Demand::Velocity {
                section,
                needed,
                found,
            });
        }
        demands.retain(Demand::asks);
        demands.sort_by(|a, b| a.share().total_cmp(&b.share()));
        Judged {
            status: Some(balance.status),
            demands,
        }
    }
}

impl Demand {
    /// Whether anything is asked for.
    fn asks(&self) -> bool {
        match self {
            Self::Machine { needed, .. } | Self::Hood { needed, .. } => needed.as_m3_s() > 0.0,
            Self::Velocity { needed, .. } => needed.as_m_s() > 0.0,
            Self::FanCurve { .. } | Self::Answer { .. } => true,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        Part, Sizing,
        decide::{
            by_hand::{fan, m3_s, shop, with_need_at_table},
            size::{
                by_hand::{question, sets},
                problem::Problem,
            },
        },
    };

    /// What the saw asks for, alone.
    fn demands(question: &Sizing, system: &System) -> SetDemands {
        let open = sets(system, &[&["saw"]]);
        let mut problem = Problem::new(question, system, &open).unwrap();
        problem.sets.remove(0)
    }

    fn with_resistance(mut system: System, k: f64) -> System {
        system.sections[3].parts = vec![Part::K(k)];
        system
    }

    #[test]
    fn an_answer_has_to_meet_every_demand() {
        let system = with_need_at_table(shop(), 0.1);
        let question = question(&["main"], &[180.0]).with_least_velocity(Velocity::from_m_s(5.0));
        let network = Network::new(&system).unwrap();
        let set = || demands(&question, &system);
        let mut work = Workspace::default();
        let open = set().open;
        let balance = network.solve(&open, &mut work).unwrap();
        let machine = balance.machine_flows().next().unwrap();
        let hood = balance.hood_flows().next().unwrap();
        let velocity = balance.section_velocities().next().unwrap();
        assert!(set().is_met(&balance));
        for (share, met) in [(1.0, true), (1.0 + 1e-12, false)] {
            let mut more = set();
            more.machines[0] = machine * share;
            assert_eq!(more.is_met(&balance), met, "machine {share}");
            let mut more = set();
            more.hoods[0] = hood * share;
            assert_eq!(more.is_met(&balance), met, "hood {share}");
            let mut more = set();
            more.sections[0] = velocity * share;
            assert_eq!(more.is_met(&balance), met, "velocity {share}");
        }
        // Nothing is asked of what is shut.
        assert_eq!(set().machines[1], m3_s(0.0));
        assert_eq!(set().sections[1], Velocity::from_m_s(0.0));
    }

    #[test]
    fn nothing_outside_the_curve_meets_anything() {
        let question = question(&["main"], &[180.0]);
        let mut inner = shop();
        inner.collector.fan = Some(fan(&[(0.1, 2500.0), (0.15, 2300.0), (0.2, 2000.0)]));
        for (k, status, end) in [
            (1.0, Status::BeyondCurve, 0.2),
            (1000.0, Status::BelowCurve, 0.1),
        ] {
            let mut system = with_resistance(inner.clone(), k);
            system.machines[0].required = m3_s(0.01);
            let set = demands(&question, &system);
            let network = Network::new(&system).unwrap();
            let mut work = Workspace::default();
            let balance = network.solve(&set.open, &mut work).unwrap();
            assert_eq!(balance.status, status);
            assert!(!set.is_met(&balance));
            let found = balance.flow();
            let judged = set.judge(&system, &network, &mut work);
            assert_eq!(judged.status, Some(status));
            let [
                Demand::FanCurve {
                    end: told,
                    found: flow,
                },
                Demand::Machine { .. },
            ] = &judged.demands[..]
            else {
                panic!("{:?}", judged.demands)
            };
            assert_eq!((*told, *flow), (m3_s(end), found));
        }
        // Within it the curve asks for nothing.
        let system = with_resistance(inner, 80.0);
        let set = demands(&question, &system);
        let network = Network::new(&system).unwrap();
        let judged = set.judge(&system, &network, &mut Workspace::default());
        assert_eq!(judged.status, Some(Status::Converged));
        assert!(matches!(judged.demands[..], [Demand::Machine { .. }]));
    }

    /// 0.1 m3/s at 20 m/s fill 0.005 m2.
    #[test]
    fn val_the_widest_for_a_velocity() {
        let system = shop();
        let question = question(&["main"], &[180.0]);
        let open = sets(&system, &[&["saw"]]);
        let widest = |question: &Sizing, section| {
            let problem = Problem::new(question, &system, &open).unwrap();
            problem.sets[0].widest_for(&problem.tree, section)
        };
        let fast = question
            .clone()
            .with_least_velocity(Velocity::from_m_s(20.0));
        for (section, expected) in [(0, 0.005), (1, 0.0), (3, 0.005)] {
            assert!((widest(&fast, section) - expected).abs() < 1e-15);
            assert_eq!(widest(&question, section), 0.0);
        }
    }

    #[test]
    fn only_what_asks_for_something_is_a_demand() {
        let flow = |needed| Demand::Machine {
            machine: "saw".into(),
            needed: m3_s(needed),
            found: m3_s(0.0),
        };
        let velocity = |needed| Demand::Velocity {
            section: "main".into(),
            needed: Velocity::from_m_s(needed),
            found: Velocity::from_m_s(0.0),
        };
        assert!(flow(0.1).asks() && velocity(0.1).asks());
        assert!(!flow(0.0).asks() && !velocity(0.0).asks());
        let why = String::new();
        assert!(Demand::Answer { why }.asks());
        let main = question(&["main"], &[180.0]);
        let nothing = |question: &Sizing, required| {
            let mut set = demands(question, &shop());
            set.machines[0] = m3_s(required);
            set.is_nothing()
        };
        assert!(nothing(&main, 0.0));
        assert!(!nothing(&main, 0.1));
        let fast = main.with_least_velocity(Velocity::from_m_s(20.0));
        assert!(!nothing(&fast, 0.0));
    }
}
