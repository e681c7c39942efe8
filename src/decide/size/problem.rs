//! The question made ready: what may stand where, at what cost, and what each open set asks for.
#![allow(
    clippy::indexing_slicing,
    reason = "sections are numbered by the index of their names, and the list is as long"
)]

use super::{
    answer::{Cuts, Demand, SectionSize},
    question::{Sizing, SizingError},
    tree::Tree,
};
use crate::{
    bore::Bore,
    decide::Money,
    loss::{Entry, Part},
    place::Name,
    quantity::{Area, Length, Velocity, VolumeFlow},
    solve::{Balance, Network, OpenSet, SolveError, Status, Workspace},
    system::{Collector, Hood, Index, Join, Model, Resolved, Start, System},
};
use std::collections::{HashMap, HashSet};

/// Most stock sizes, sections to be sized, and open sets.
const MOST_STOCK: usize = 1000;
const MOST_SECTIONS: usize = 1000;
const MOST_SETS: usize = 100_000;

/// Rounding of a diameter in other units must not make a narrowing.
const SAME_AREA: f64 = 1.0 + 1e-9;

/// The question made ready.
#[derive(Debug)]
pub(super) struct Problem<'a> {
    pub(super) system: &'a System,
    pub(super) tree: Tree,
    /// Each section to be sized after the one that it drains into.
    pub(super) sized: Vec<SizedSection>,
    pub(super) sets: Vec<SetDemands>,
    pub(super) allow_narrowing: bool,
    pub(super) cuts: Cuts,
}

/// A section to be sized.
#[derive(Debug)]
pub(super) struct SizedSection {
    /// Index in the system.
    pub(super) section: usize,
    /// Position in [`Problem::sized`] of the section that it drains into, where that is sized too.
    pub(super) into: Option<usize>,
    /// What may stand there, the cheapest first.
    pub(super) options: Vec<SizeOption>,
}

/// A stock size in a section.
#[derive(Debug, Clone, Copy)]
pub(super) struct SizeOption {
    pub(super) diameter: Length,
    pub(super) area: Area,
    pub(super) cost: Money,
}

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

/// One option of each section to be sized, or of the first of them.
pub(super) type Choice = [u16];

impl<'a> Problem<'a> {
    pub(super) fn new(
        question: &Sizing,
        system: &'a System,
        sets: &[OpenSet],
    ) -> Result<Self, SizingError> {
        check_stock(question)?;
        let network = Network::new(system)?;
        let mut problem = Self {
            system,
            tree: Tree::new(Resolved::of(Model::plain(system))?),
            sized: Vec::new(),
            sets: Vec::new(),
            allow_narrowing: question.allow_narrowing,
            cuts: Cuts::default(),
        };
        problem.place_stock(question)?;
        problem.put_demands(question, &network, sets)?;
        Ok(problem)
    }

    fn place_stock(&mut self, question: &Sizing) -> Result<(), SizingError> {
        let sections = &self.system.sections;
        let index = Index::new("section", sections.iter().map(|section| &section.id));
        let mut asked = HashSet::new();
        for name in &question.sections {
            let section = index.find(name.as_str())?;
            if !asked.insert(section) {
                return Err(SizingError::SectionTwice {
                    section: name.clone(),
                });
            }
        }
        let too_many = |what, given, most| match given > most {
            true => Err(SizingError::TooMany { what, given, most }),
            false => Ok(()),
        };
        too_many("sections to be sized", asked.len(), MOST_SECTIONS)?;
        if asked.is_empty() {
            return Err(SizingError::NoSections);
        }
        // From the collector upstream, so that the section below is there already.
        let mut position: HashMap<usize, usize> = HashMap::new();
        for &section in self
            .tree
            .order
            .iter()
            .rev()
            .filter(|section| asked.contains(section))
        {
            let Some(this) = sections.get(section) else {
                continue;
            };
            let below = this.into.as_ref();
            let below = below.and_then(|name| index.get(name.as_str()));
            let mut options: Vec<SizeOption> = question
                .stock
                .iter()
                .filter_map(|stock| {
                    Some(SizeOption {
                        diameter: stock.diameter,
                        area: Bore::Round(stock.diameter).area(),
                        cost: stock.cost_of(this)?,
                    })
                })
                .collect();
            let sold = options.len();
            options.retain(|option| isolated(self.system, section, option.diameter).is_some());
            self.cuts.model += (sold - options.len()) as u64;
            options.sort_by(|a, b| {
                let by_cost = a.cost.amount().total_cmp(&b.cost.amount());
                by_cost.then(a.area.as_m2().total_cmp(&b.area.as_m2()))
            });
            position.insert(section, self.sized.len());
            self.sized.push(SizedSection {
                section,
                into: below.and_then(|below| position.get(&below).copied()),
                options,
            });
        }
        if !question.allow_narrowing {
            self.keep_from_narrowing(&index);
        }
        match self.sized.iter().find(|sized| sized.options.is_empty()) {
            Some(none) => Err(SizingError::NoneFits {
                section: self.name(none),
            }),
            None => Ok(()),
        }
    }

    /// Takes away every option that narrows toward the fan whatever the other sections are.
    fn keep_from_narrowing(&mut self, index: &Index<'_>) {
        let system = self.system;
        let fixed: HashMap<usize, Area> = (0..)
            .zip(&system.sections)
            .filter(|(i, _)| self.sized.iter().all(|sized| sized.section != *i))
            .map(|(i, section)| (i, section.size.area()))
            .collect();
        let before: usize = self.sized.iter().map(|sized| sized.options.len()).sum();
        // Against sections that keep their size, and the first run of the collector.
        for sized in &mut self.sized {
            let Some(this) = system.sections.get(sized.section) else {
                continue;
            };
            let below = match &this.into {
                Some(into) => {
                    let below = index.get(into.as_str());
                    below.and_then(|below| fixed.get(&below)).copied()
                }
                None => inlet_of(&system.collector),
            };
            let above = fixed.iter().filter(|(i, _)| {
                let section = system.sections.get(**i);
                section.is_some_and(|section| section.into.as_ref() == Some(&this.id))
            });
            let widest = above.map(|(_, &area)| area.as_m2()).fold(0.0, f64::max);
            sized.options.retain(|option| {
                below.is_none_or(|below| !narrows(option.area, below))
                    && !narrows(Area::from_m2(widest), option.area)
            });
        }
        // Against one another: upstream no wider than the widest below, ...
        for i in 0..self.sized.len() {
            let Some(widest) = self
                .below(i)
                .and_then(|below| areas(below).reduce(f64::max))
            else {
                continue;
            };
            if let Some(sized) = self.sized.get_mut(i) {
                let widest = Area::from_m2(widest);
                sized.options.retain(|option| !narrows(option.area, widest));
            }
        }
        // ... and downstream no narrower than the narrowest above.
        for i in (0..self.sized.len()).rev() {
            let sized = self.sized.get(i);
            let Some(narrowest) = sized.and_then(|sized| areas(sized).reduce(f64::min)) else {
                continue;
            };
            let into = sized.and_then(|sized| sized.into);
            if let Some(below) = into.and_then(|into| self.sized.get_mut(into)) {
                let narrowest = Area::from_m2(narrowest);
                below
                    .options
                    .retain(|option| !narrows(narrowest, option.area));
            }
        }
        let after: usize = self.sized.iter().map(|sized| sized.options.len()).sum();
        self.cuts.narrowing += (before - after) as u64;
    }

    fn below(&self, i: usize) -> Option<&SizedSection> {
        self.sized.get(self.sized.get(i)?.into?)
    }

    fn put_demands(
        &mut self,
        question: &Sizing,
        network: &Network,
        sets: &[OpenSet],
    ) -> Result<(), SizingError> {
        let least = least_velocities(question, self.system)?;
        if sets.is_empty() {
            return Err(SizingError::NoSets);
        }
        if sets.len() > MOST_SETS {
            return Err(SizingError::TooMany {
                what: "open sets",
                given: sets.len(),
                most: MOST_SETS,
            });
        }
        if self.system.collector.fan.is_none() {
            return Err(SolveError::NoFan.into());
        }
        for open in sets {
            // Refuses an empty set as well.
            network.system_curve(open)?;
            self.sets.push(SetDemands::new(
                self.system,
                &self.tree,
                network,
                open,
                &least,
            )?);
        }
        match self.sets.iter().all(SetDemands::is_nothing) {
            true => Err(SizingError::NothingRequired),
            false => Ok(()),
        }
    }

    fn name(&self, sized: &SizedSection) -> Name {
        let section = self.system.sections.get(sized.section);
        section.map_or_else(|| Name::from(""), |section| section.id.clone())
    }

    /// The option that a choice puts at a position.
    pub(super) fn option(&self, choice: &Choice, position: usize) -> Option<&SizeOption> {
        let option = *choice.get(position)?;
        self.sized.get(position)?.options.get(usize::from(option))
    }

    /// Whether a section would be wider than the sized one that it drains into.
    pub(super) fn narrows_at(&self, choice: &Choice, position: usize) -> bool {
        let into = self.sized.get(position).and_then(|sized| sized.into);
        let below = into.and_then(|into| self.option(choice, into));
        let pair = self.option(choice, position).zip(below);
        pair.is_some_and(|(this, below)| narrows(this.area, below.area))
    }

    /// Cost of a choice, of the cheapest options where it says nothing; summed in one order, so that
    /// rounding never makes a dearer choice of the same sections cheaper.
    pub(super) fn cost(&self, choice: &Choice) -> f64 {
        let options = self.sized.iter().enumerate();
        let costs = options.map(|(i, sized)| self.option(choice, i).or(sized.options.first()));
        costs.flatten().map(|option| option.cost.amount()).sum()
    }

    /// How many choices there are.
    pub(super) fn choices(&self) -> f64 {
        let options = self.sized.iter().map(|sized| sized.options.len() as f64);
        options.product()
    }

    /// The widest option of every section.
    pub(super) fn widest(&self) -> Box<[u16]> {
        let widest = |sized: &SizedSection| sized.pick(|area| area);
        self.sized.iter().map(widest).collect()
    }

    /// The widest options in which the needed flows still keep the least velocities, widened where
    /// they would narrow toward the fan.
    pub(super) fn by_velocity(&self) -> Box<[u16]> {
        let mut choice = self.widest();
        for position in (0..self.sized.len()).rev() {
            let Some(sized) = self.sized.get(position) else {
                continue;
            };
            let most = self
                .sets
                .iter()
                .map(|set| set.widest_for(&self.tree, sized.section));
            let most = most.fold(0.0, f64::max);
            // Sections upstream, which come later in the list, stand already.
            let above = (position..self.sized.len()).filter(|&i| {
                let into = self.sized.get(i).and_then(|sized| sized.into);
                into == Some(position)
            });
            let above = above.filter_map(|i| self.option(&choice, i));
            let least = above.map(|option| option.area.as_m2()).fold(0.0, f64::max);
            let least = if self.allow_narrowing {
                0.0
            } else {
                least / SAME_AREA
            };
            let pick = sized.pick(|area| match area {
                // Too narrow for what comes from upstream; the nearest is best.
                _ if area < least => area - 2e3,
                // Too wide for the velocity.
                _ if area > most * SAME_AREA => -area,
                _ => area,
            });
            if let Some(slot) = choice.get_mut(position) {
                *slot = pick;
            }
        }
        choice
    }

    /// The sections' sizes, in the order of the question.
    pub(super) fn sizes(&self, question: &Sizing, choice: &Choice) -> Vec<SectionSize> {
        let mut sizes = HashMap::new();
        for (i, sized) in self.sized.iter().enumerate() {
            if let Some(option) = self.option(choice, i) {
                sizes.insert(self.name(sized), *option);
            }
        }
        let size = |name: &Name| {
            let option = sizes.get(name)?;
            Some(SectionSize {
                section: name.clone(),
                diameter: option.diameter,
                cost: option.cost,
            })
        };
        question.sections.iter().filter_map(size).collect()
    }

    /// The network of a choice, unless the model refuses it.
    pub(super) fn network(&self, choice: &Choice) -> Option<Network> {
        let mut system = self.system.clone();
        for (i, sized) in self.sized.iter().enumerate() {
            let section = system.sections.get_mut(sized.section)?;
            section.size = Bore::Round(self.option(choice, i)?.diameter);
        }
        Network::new(&system).ok()
    }
}

impl SizedSection {
    /// The option whose area is graded best.
    fn pick(&self, grade: impl Fn(f64) -> f64) -> u16 {
        let options = (0..).zip(&self.options);
        let graded = options.map(|(i, option)| (i, grade(option.area.as_m2())));
        let best = graded.max_by(|(_, a), (_, b)| a.total_cmp(b));
        best.map_or(0, |(i, _)| i)
    }
}

/// What became of an open set.
#[derive(Debug)]
pub(super) struct Judged {
    pub(super) status: Option<Status>,
    /// Every demand, the one with the smallest share first.
    pub(super) demands: Vec<Demand>,
}

impl SetDemands {
    fn new(
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

    fn is_nothing(&self) -> bool {
        let flows = self.machines.iter().chain(&self.hoods);
        flows.into_iter().all(|flow| flow.as_m3_s() == 0.0)
            && self.sections.iter().all(|v| v.as_m_s() == 0.0)
    }

    /// Area in which the flow that is needed through a section just keeps its least velocity \[m2\];
    /// 0 where either is not asked for.
    fn widest_for(&self, tree: &Tree, section: usize) -> f64 {
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

/// Whether air would pass from an area into a smaller one.
fn narrows(from: Area, into: Area) -> bool {
    from.as_m2() > into.as_m2() * SAME_AREA
}

fn areas(sized: &SizedSection) -> impl Iterator<Item = f64> + '_ {
    sized.options.iter().map(|option| option.area.as_m2())
}

/// Area of the first run that the mains meet.
fn inlet_of(collector: &Collector) -> Option<Area> {
    collector.before.first().map(|run| run.size.area())
}

/// A section's law by itself in another diameter: its parts and its hood, no joint and no join.
///
/// What a joint or join adds to it is never negative, or told by the caller. `None` where the model
/// refuses it, which it then does in every choice.
pub(super) fn isolated(system: &System, section: usize, diameter: Length) -> Option<Resolved> {
    let mut alone = system.sections.get(section)?.clone();
    alone.into = None;
    alone.join = Join::default();
    alone.junction = None;
    alone.size = Bore::Round(diameter);
    if matches!(alone.parts.first(), Some(Part::Transition(_))) {
        alone.parts.remove(0);
    }
    match &mut alone.start {
        Start::Hood(hood) => hood.machine = None,
        start => {
            let open = Hood::new("open end", Entry::K(0.0));
            *start = Start::Hood(open);
        }
    }
    let alone = System {
        air: system.air,
        junction: system.junction,
        collector: Collector {
            junction: None,
            ..system.collector.clone()
        },
        sections: vec![alone],
        machines: Vec::new(),
    };
    Resolved::of(Model::plain(&alone)).ok()
}

fn check_stock(question: &Sizing) -> Result<(), SizingError> {
    let stock = &question.stock;
    if stock.is_empty() {
        return Err(SizingError::NoStock);
    }
    if stock.len() > MOST_STOCK {
        return Err(SizingError::TooMany {
            what: "stock sizes",
            given: stock.len(),
            most: MOST_STOCK,
        });
    }
    let mut seen = HashSet::new();
    for size in stock {
        let diameter = size.diameter;
        if !(0.001..=20.0).contains(&diameter.as_m()) {
            return Err(SizingError::Diameter { diameter });
        }
        if !seen.insert(diameter.as_m().to_bits()) {
            return Err(SizingError::DiameterTwice { diameter });
        }
        for (what, price) in size.prices() {
            if !(price.amount() >= 0.0 && price.amount().is_finite()) {
                return Err(SizingError::Price {
                    diameter,
                    what,
                    price,
                });
            }
        }
    }
    Ok(())
}

/// The least velocity of each section.
fn least_velocities(question: &Sizing, system: &System) -> Result<Vec<Velocity>, SizingError> {
    let check = |velocity: Velocity| match velocity.as_m_s() >= 0.0 && velocity.as_m_s().is_finite()
    {
        true => Ok(velocity),
        false => Err(SizingError::LeastVelocity { velocity }),
    };
    let mut least = vec![check(question.least_velocity)?; system.sections.len()];
    let index = Index::new("section", system.sections.iter().map(|section| &section.id));
    for own in &question.velocities {
        let section = index.find(own.section.as_str())?;
        least[section] = check(own.least)?;
    }
    Ok(least)
}
