//! The running count of a sweep, and what a set's answer changes in it.
#![allow(
    clippy::indexing_slicing,
    reason = "sections, hoods and machines are numbered by the plan, and every row is as long"
)]

#[cfg(feature = "rayon")]
mod merge;

use super::{
    Balance, Network, OpenSet, SolveError, Status,
    summary::{FlowRange, InSet, SectionSpeeds, SetFailure, Supply, SweepOptions, SweepSummary},
};
use crate::{
    place::Name,
    quantity::{Velocity, VolumeFlow},
    system::Index,
};

/// What every set is judged by.
#[derive(Debug)]
pub(super) struct Judge<'n> {
    network: &'n Network,
    listed: usize,
    /// For each section \[m/s\].
    least_velocity_ms: Vec<f64>,
    /// Every section after all those upstream of it, with the one that it drains into, if any.
    downstream: Vec<(usize, Option<usize>)>,
}

impl<'n> Judge<'n> {
    pub(super) fn new(network: &'n Network, options: &SweepOptions) -> Result<Self, SolveError> {
        let plan = network.plan();
        let velocity_ms = |velocity: Velocity| {
            let v = velocity.as_m_s();
            if v.is_finite() && v >= 0.0 {
                Ok(v)
            } else {
                Err(SolveError::LeastVelocity { velocity })
            }
        };
        let for_all = velocity_ms(options.least_velocity)?;
        let mut least_velocity_ms = vec![for_all; plan.sections.len()];
        if !options.sections.is_empty() {
            let index = Index::new("section", plan.sections.iter().map(|section| &section.id));
            for (name, velocity) in &options.sections {
                let section = index.find(name.as_str())?;
                least_velocity_ms[section] = velocity_ms(*velocity)?;
            }
        }
        let into = |section: u32| {
            let last = plan.sections[section as usize].last;
            let into = plan.legs[plan.links[last as usize].down as usize].section as usize;
            (into < plan.sections.len()).then_some(into)
        };
        let upstream_first = plan.from_collector.iter().rev();
        Ok(Self {
            network,
            listed: options.listed,
            least_velocity_ms,
            downstream: upstream_first.map(|&i| (i as usize, into(i))).collect(),
        })
    }

    fn names(&self, open: &OpenSet) -> Vec<Name> {
        self.network.open_names(open).unwrap_or_default()
    }
}

/// The count of a sweep, or of a stretch of one.
#[derive(Debug)]
pub(super) struct Tally {
    /// Sets before this stretch.
    first: u64,
    sets: u64,
    converged: u64,
    beyond_curve: u64,
    below_curve: u64,
    failed: u64,
    failures: Vec<(SolveError, u64, OpenSet)>,
    flow: Extremes,
    machines: Vec<Served>,
    hoods: Vec<Served>,
    sections: Vec<Speeds>,
    /// Which machines are open in the set at hand, and which sections carry their air.
    open: Vec<bool>,
    carries: Vec<bool>,
}

/// A figure and where it was found.
#[derive(Debug, Clone)]
struct Found {
    value: f64,
    status: Status,
    index: u64,
    open: OpenSet,
}

/// The set at hand.
#[derive(Debug, Clone, Copy)]
struct Here<'a> {
    status: Status,
    index: u64,
    open: &'a OpenSet,
}

impl Here<'_> {
    fn found(self, value: f64) -> Found {
        Found {
            value,
            status: self.status,
            index: self.index,
            open: self.open.clone(),
        }
    }
}

impl Found {
    fn told<T>(self, judge: &Judge<'_>, quantity: fn(f64) -> T) -> InSet<T> {
        InSet {
            value: quantity(self.value),
            status: self.status,
            index: self.index,
            open: judge.names(&self.open),
        }
    }
}

/// The first least and the first most.
#[derive(Debug, Default)]
struct Extremes {
    least: Option<Found>,
    most: Option<Found>,
}

fn is_less(value: f64, than: &Option<Found>) -> bool {
    than.as_ref().is_none_or(|found| value < found.value)
}

fn is_more(value: f64, than: &Option<Found>) -> bool {
    than.as_ref().is_none_or(|found| value > found.value)
}

impl Extremes {
    fn add(&mut self, value: f64, here: Here<'_>) {
        if is_less(value, &self.least) {
            self.least = Some(here.found(value));
        }
        if is_more(value, &self.most) {
            self.most = Some(here.found(value));
        }
    }

    fn told(self, judge: &Judge<'_>) -> Option<FlowRange> {
        Some(FlowRange {
            least: self.least?.told(judge, VolumeFlow::from_m3_s),
            most: self.most?.told(judge, VolumeFlow::from_m3_s),
        })
    }
}

/// What a machine or hood got.
#[derive(Debug, Default)]
struct Served {
    sets: u64,
    short: u64,
    flow: Extremes,
}

impl Served {
    fn add(&mut self, flow: VolumeFlow, required: Option<VolumeFlow>, here: Here<'_>) {
        self.sets += 1;
        self.short += u64::from(required.is_some_and(|required| flow < required));
        self.flow.add(flow.as_m3_s(), here);
    }

    fn told(self, judge: &Judge<'_>, name: &Name, required: Option<VolumeFlow>) -> Supply {
        Supply {
            name: name.clone(),
            required,
            sets: self.sets,
            short: self.short,
            flow: self.flow.told(judge),
        }
    }
}

/// How fast the air was in a section.
#[derive(Debug, Default)]
struct Speeds {
    sets: u64,
    slow: u64,
    slow_sets: Vec<Found>,
    slowest: Option<Found>,
}

impl Speeds {
    fn add(&mut self, v_ms: f64, least_ms: f64, listed: usize, here: Here<'_>) {
        self.sets += 1;
        if v_ms < least_ms {
            self.slow += 1;
            if self.slow_sets.len() < listed {
                self.slow_sets.push(here.found(v_ms));
            }
        }
        if is_less(v_ms, &self.slowest) {
            self.slowest = Some(here.found(v_ms));
        }
    }
}

impl Tally {
    /// Of a stretch with so many sets before it.
    pub(super) fn new(judge: &Judge<'_>, first: u64) -> Self {
        fn each<T: Default>(of: usize) -> Vec<T> {
            std::iter::repeat_with(T::default).take(of).collect()
        }
        let plan = judge.network.plan();
        Self {
            first,
            sets: 0,
            converged: 0,
            beyond_curve: 0,
            below_curve: 0,
            failed: 0,
            failures: Vec::new(),
            flow: Extremes::default(),
            machines: each(plan.machines.len()),
            hoods: each(plan.hoods.len()),
            sections: each(plan.sections.len()),
            open: each(plan.machines.len()),
            carries: each(plan.sections.len()),
        }
    }

    /// One set more.
    pub(super) fn add(
        &mut self,
        judge: &Judge<'_>,
        open: &OpenSet,
        answer: Result<Balance<'_>, SolveError>,
    ) {
        let index = self.first + self.sets;
        self.sets += 1;
        match answer {
            Ok(balance) => {
                let status = balance.status;
                *match status {
                    Status::BeyondCurve => &mut self.beyond_curve,
                    Status::BelowCurve => &mut self.below_curve,
                    Status::Converged | Status::FlowImposed => &mut self.converged,
                } += 1;
                let here = Here {
                    status,
                    index,
                    open,
                };
                self.add_answer(judge, &balance, here);
            }
            Err(error) => {
                self.failed += 1;
                if self.failures.len() < judge.listed {
                    self.failures.push((error, index, open.clone()));
                }
            }
        }
    }

    fn add_answer(&mut self, judge: &Judge<'_>, balance: &Balance<'_>, here: Here<'_>) {
        let plan = judge.network.plan();
        self.flow.add(balance.flow().as_m3_s(), here);
        self.open.fill(false);
        self.carries.fill(false);
        let flows = balance.hood_flows();
        for ((hood, served), flow) in plan.hoods.iter().zip(&mut self.hoods).zip(flows) {
            if !balance.is_open(hood.section) {
                continue;
            }
            served.add(flow, hood.required, here);
            self.carries[hood.section as usize] = true;
            if let Some(machine) = hood.machine {
                self.open[machine as usize] = true;
            }
        }
        let machines = plan.machines.iter().zip(&mut self.machines);
        let machines = machines.zip(balance.machine_flows());
        for (((machine, served), flow), open) in machines.zip(&self.open) {
            if *open {
                served.add(flow, Some(machine.required), here);
            }
        }
        for &(section, into) in &judge.downstream {
            if let Some(into) = into {
                self.carries[into] |= self.carries[section];
            }
        }
        let sections = self.sections.iter_mut().zip(&judge.least_velocity_ms);
        let sections = sections.zip(balance.section_velocities());
        for (((speeds, &least_ms), v), carries) in sections.zip(&self.carries) {
            if *carries {
                speeds.add(v.as_m_s(), least_ms, judge.listed, here);
            }
        }
    }

    /// With names.
    pub(super) fn told(self, judge: &Judge<'_>) -> SweepSummary {
        let plan = judge.network.plan();
        let machines = plan.machines.iter().zip(self.machines);
        let hoods = plan.hoods.iter().zip(self.hoods);
        let sections = plan.sections.iter().zip(self.sections);
        SweepSummary {
            sets: self.sets,
            converged: self.converged,
            beyond_curve: self.beyond_curve,
            below_curve: self.below_curve,
            failed: self.failed,
            failures: self
                .failures
                .into_iter()
                .map(|(error, index, open)| SetFailure {
                    error,
                    index,
                    open: judge.names(&open),
                })
                .collect(),
            flow: self.flow.told(judge),
            machines: machines
                .map(|(machine, served)| served.told(judge, &machine.name, Some(machine.required)))
                .collect(),
            hoods: hoods
                .map(|(hood, served)| served.told(judge, &hood.name, hood.required))
                .collect(),
            sections: sections
                .zip(&judge.least_velocity_ms)
                .map(|((section, speeds), &least_ms)| SectionSpeeds {
                    id: section.id.clone(),
                    least_velocity: Velocity::from_m_s(least_ms),
                    sets: speeds.sets,
                    slow: speeds.slow,
                    slow_sets: speeds
                        .slow_sets
                        .into_iter()
                        .map(|found| found.told(judge, Velocity::from_m_s))
                        .collect(),
                    slowest: speeds
                        .slowest
                        .map(|found| found.told(judge, Velocity::from_m_s)),
                })
                .collect(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        quantity::Velocity,
        solve::{
            Network, SweepOptions,
            by_hand::{FALLING, system},
        },
    };

    /// The first hood alone, then with the second, then with all; and these once more.
    fn sets(network: &Network) -> Vec<OpenSet> {
        let open = |names: &[&str]| network.open(names).unwrap();
        let two = open(&["long", "short"]);
        let all = network.open_all();
        vec![open(&["long"]), two.clone(), all.clone(), two, all]
    }

    /// What the first hood gets in each.
    fn flows(network: &Network) -> Vec<VolumeFlow> {
        let flow = |open: &OpenSet| {
            network
                .operating_point(open)
                .unwrap()
                .hood("long")
                .unwrap()
                .flow
        };
        sets(network).iter().map(flow).collect()
    }

    #[test]
    fn what_a_hood_gets_is_counted_by_hand() {
        let mut system = system(FALLING, None);
        let flows = flows(&Network::new(&system).unwrap());
        assert!(flows[0] > flows[1] && flows[1] > flows[2] && flows[1] == flows[3]);
        let crate::Start::Hood(hood) = &mut system.sections[1].start else {
            panic!("a hood")
        };
        // Just what it gets in two of the sets: enough there, and short in two more.
        hood.required = Some(flows[1]);
        let network = Network::new(&system).unwrap();
        let options = SweepOptions::new(Velocity::from_m_s(0.0));
        let told = network.sweep(sets(&network)).summary(&options).unwrap();
        assert_eq!((told.sets, told.converged, told.failed), (5, 5, 0));
        let long = told.hood("long").unwrap();
        assert_eq!((long.sets, long.short), (5, 2));
        let flow = long.flow.as_ref().unwrap();
        assert_eq!((flow.least.index, flow.least.value), (2, flows[2]));
        assert_eq!((flow.most.index, flow.most.value), (0, flows[0]));
        let short = told.hood("short").unwrap();
        assert_eq!((short.sets, short.short), (4, 0));
        // Of two sets alike the first is told.
        assert_eq!(short.flow.as_ref().unwrap().most.index, 1);
        let alike = vec![network.open_all(); 3];
        let told = network.sweep(alike).summary(&options).unwrap();
        let flow = told.flow.unwrap();
        assert_eq!((flow.least.index, flow.most.index), (0, 0));
    }

    #[test]
    fn slow_air_is_counted_and_listed_by_hand() {
        let network = Network::new(&system(FALLING, None)).unwrap();
        let velocity = |open: &OpenSet| {
            let point = network.operating_point(open).unwrap();
            point.section("main").unwrap().velocity
        };
        let sets = sets(&network);
        let speeds: Vec<Velocity> = sets.iter().map(velocity).collect();
        assert!(speeds[0] < speeds[1] && speeds[1] < speeds[2]);
        let told = |least, listed| {
            let options = SweepOptions::new(Velocity::from_m_s(0.0))
                .with_section("main", least)
                .listing(listed);
            let summary = network.sweep(&sets).summary(&options).unwrap();
            let main = summary.section("main").unwrap();
            let listed: Vec<u64> = main.slow_sets.iter().map(|set| set.index).collect();
            let slowest = main.slowest.as_ref().unwrap();
            (main.sets, main.slow, listed, slowest.index)
        };
        // At the velocity itself it is not slow.
        assert_eq!(told(speeds[1], 8), (5, 1, vec![0], 0));
        assert_eq!(told(speeds[2], 8), (5, 3, vec![0, 1, 3], 0));
        assert_eq!(told(speeds[2], 2), (5, 3, vec![0, 1], 0));
        assert_eq!(told(speeds[2], 0), (5, 3, vec![], 0));
    }
}
