//! The question made ready: what may stand where, at what cost, and what each open set asks for.

use super::{
    answer::{Cuts, SectionSize},
    demands::SetDemands,
    isolated::isolated,
    narrowing::{SAME_AREA, narrows},
    question::{Sizing, SizingError, at_most},
    tree::Tree,
};
use crate::{
    bore::Bore,
    decide::Money,
    place::Name,
    quantity::{Area, Length},
    solve::{Network, OpenSet, SolveError},
    system::{Index, Model, Resolved, System},
};
use std::collections::{HashMap, HashSet};

/// Most sections to be sized, and open sets.
const MOST_SECTIONS: usize = 1000;
const MOST_SETS: usize = 100_000;

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

/// One option of each section to be sized, or of the first of them.
pub(super) type Choice = [u16];

impl<'a> Problem<'a> {
    pub(super) fn new(
        question: &Sizing,
        system: &'a System,
        sets: &[OpenSet],
    ) -> Result<Self, SizingError> {
        question.check_stock()?;
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
        at_most(MOST_SECTIONS, "sections to be sized", asked.len())?;
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

    fn put_demands(
        &mut self,
        question: &Sizing,
        network: &Network,
        sets: &[OpenSet],
    ) -> Result<(), SizingError> {
        let least = question.least_velocities(self.system)?;
        if sets.is_empty() {
            return Err(SizingError::NoSets);
        }
        at_most(MOST_SETS, "open sets", sets.len())?;
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        Angle, Entry, Gate, Hood, Junction, Part, Section, Velocity, Wall,
        decide::{
            by_hand::{mm, shop},
            size::by_hand::{options, question, sets, widths},
        },
    };

    fn m_s(velocity: f64) -> Velocity {
        Velocity::from_m_s(velocity)
    }

    /// The sizes of the velocity rule for these open sets.
    fn by_rule(question: &Sizing, open: &[&[&str]]) -> Vec<i64> {
        let system = shop();
        let sets = sets(&system, open);
        let problem = Problem::new(question, &system, &sets).unwrap();
        widths(&problem, &problem.by_velocity())
    }

    /// 0.1 m3/s at 20 m/s fill 79.8 mm, 0.2 m3/s 112.8 mm; at 10 m/s 112.8 and 159.6 mm.
    #[test]
    fn the_velocity_rule_takes_the_widest_that_keeps_dust_moving() {
        let stock = [63.0, 71.0, 80.0, 90.0, 100.0, 112.0, 125.0, 160.0];
        let branch = question(&["left"], &stock);
        let one = |v: f64| by_rule(&branch.clone().with_least_velocity(m_s(v)), &[&["saw"]]);
        assert_eq!(one(20.0), [71]);
        assert_eq!(one(10.0), [112]);
        // At the edge: just what is needed in 100 mm.
        let edge = 0.1 / mm(100.0).area().as_m2();
        assert_eq!(one(edge), [100]);
        assert_eq!(one(edge * (1.0 + 1e-6)), [90]);
        // So fast that all are too wide: the narrowest.
        assert_eq!(one(40.0), [63]);
        // Where no velocity is asked for, or nothing carries air, as well: nothing needs width.
        assert_eq!(by_rule(&branch, &[&["saw"]]), [63]);
        let fast = branch.with_least_velocity(m_s(10.0));
        assert_eq!(by_rule(&fast, &[&["planer"]]), [63]);
        // The set with the most air tells how wide it may be.
        let main = question(&["main"], &stock).allowing_narrowing();
        let main = main.with_least_velocity(m_s(20.0));
        assert_eq!(by_rule(&main, &[&["saw"]]), [71]);
        let both: &[&[&str]] = &[&["saw"], &["saw", "planer"]];
        assert_eq!(by_rule(&main, both), [112]);
    }

    #[test]
    fn the_velocity_rule_widens_where_air_comes_from_a_wider_duct() {
        let stock = [100.0, 112.0, 125.0, 140.0, 160.0];
        // The branch may be 159.6 mm wide at 5 m/s, the main 112.8 mm at 10 m/s.
        let both = question(&["left", "main"], &stock)
            .with_velocity_in("left", m_s(5.0))
            .with_velocity_in("main", m_s(10.0));
        // The main first. It is no narrower than the branches that keep their size, 125 mm, nor than
        // the branch has become.
        assert_eq!(by_rule(&both, &[&["saw"]]), [140, 140]);
        let narrowing = both.allowing_narrowing();
        assert_eq!(by_rule(&narrowing, &[&["saw"]]), [112, 140]);
    }

    #[test]
    fn a_choice_costs_what_its_options_do() {
        let system = shop();
        let question = question(&["right", "left"], &[100.0, 125.0, 160.0]);
        let sets = sets(&system, &[&["saw"]]);
        let problem = Problem::new(&question, &system, &sets).unwrap();
        assert_eq!(problem.choices(), 9.0);
        assert_eq!(options(&problem), [[100, 125, 160], [100, 125, 160]]);
        assert_eq!(widths(&problem, &problem.widest()), [160, 160]);
        // What is not yet chosen costs as little as it can.
        assert_eq!(problem.cost(&[]), 20.0);
        assert_eq!(problem.cost(&[1]), 22.5);
        assert_eq!(problem.cost(&[1, 2]), 28.5);
        // Named in the order of the question, whatever the tree's.
        let sizes = problem.sizes(&question, &[1, 2]);
        let named: Vec<_> = sizes
            .iter()
            .map(|size| (size.section.as_str(), size.cost.amount()))
            .collect();
        let first = system.sections[problem.sized[0].section].id.as_str();
        let expected = match first {
            "left" => [("right", 16.0), ("left", 12.5)],
            _ => [("right", 12.5), ("left", 16.0)],
        };
        assert_eq!(named, expected);
    }

    #[test]
    fn a_choice_narrows_where_a_section_is_wider_than_the_one_below() {
        let system = shop();
        let question = question(&["main", "left"], &[125.0, 160.0]);
        let sets = sets(&system, &[&["saw"]]);
        let problem = Problem::new(&question, &system, &sets).unwrap();
        for (choice, narrows) in [
            ([0, 0], false),
            ([0, 1], true),
            ([1, 0], false),
            ([1, 1], false),
        ] {
            assert_eq!(problem.narrows_at(&choice, 1), narrows, "{choice:?}");
            // The main meets a run that is not to be sized.
            assert!(!problem.narrows_at(&choice, 0));
        }
    }

    #[test]
    fn what_the_model_refuses_is_cut_and_counted() {
        let mut system = shop();
        // A hole of 0.01 m2 is larger than 112 mm of duct.
        system.sections[0].parts[0] = Part::Gate(Gate {
            opening: 1.0,
            leak_area: Some(Area::from_m2(0.01)),
        });
        let open = sets(&system, &[&["saw"]]);
        let question = question(&["left"], &[90.0, 100.0, 112.0, 125.0]);
        let problem = Problem::new(&question, &system, &open).unwrap();
        assert_eq!(options(&problem), [[125]]);
        assert_eq!(problem.cuts.model, 3);
    }

    /// A formula for two inlets is not asked for one of them alone.
    #[test]
    fn a_main_is_tried_without_the_junction_of_the_mains() {
        let mut system = shop().with_section(
            Section::new("side", mm(125.0), Wall::Galvanised)
                .joining_at(Angle::from_deg(45.0))
                .with_hood(Hood::new("sweep", Entry::K(0.5))),
        );
        system.collector.junction = Some(Junction::Crane);
        let open = sets(&system, &[&["saw"]]);
        let mut question = question(&["side"], &[100.0, 125.0]);
        for size in &mut question.stock {
            size.wye = Some(Money::new(1.0));
        }
        let problem = Problem::new(&question, &system, &open).unwrap();
        assert_eq!(options(&problem), [[100, 125]]);
    }
}
