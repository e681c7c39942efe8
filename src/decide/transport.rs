//! The way of the air to the fan: whether it is fast enough there, and which further gates help.
#![allow(
    clippy::indexing_slicing,
    reason = "sections are numbered by the network, and every list of them is as long"
)]

use super::GateError;
use crate::{
    place::{Name, Place},
    quantity::{Velocity, VolumeFlow},
    solve::{Network, OperatingPoint, Sizes, SolveError, Status, Workspace, next_choice},
    system::{Index, System},
};
use std::{collections::BTreeMap, fmt};

/// Most open sets that one search for further gates solves: some seconds in an ordinary shop.
const MOST_SETS: u64 = 1 << 20;

/// The velocities that keep dust moving, and how many further gates may be opened for them.
///
/// A limit that is asked of chip duct in woodworking is 20 m/s (DGUV Information 209-044
/// "Holzstaub", Germany, which speaks of the connection of the machine; that the duct behind it
/// needs as much is common practice, no source).
///
/// ```
/// use airsplit::{TransportLimits, Velocity};
/// let limits = TransportLimits::new(Velocity::from_m_s(20.0))
///     .with_section("main", Velocity::from_m_s(18.0));
/// assert_eq!(limits.most_further, 3);
/// ```
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
#[non_exhaustive]
pub struct TransportLimits {
    /// Least velocity in every section on the way, 0 or more.
    pub least_velocity: Velocity,
    /// Sections with a limit of their own, 0 or more.
    #[cfg_attr(feature = "serde", serde(default))]
    pub sections: BTreeMap<Name, Velocity>,
    /// How many further gates are opened at most; 3 unless told.
    #[cfg_attr(feature = "serde", serde(default = "most_further"))]
    pub most_further: usize,
}

const fn most_further() -> usize {
    3
}

impl TransportLimits {
    /// With this limit in every section, and up to three further gates.
    #[must_use]
    pub fn new(least_velocity: Velocity) -> Self {
        Self {
            least_velocity,
            sections: BTreeMap::new(),
            most_further: most_further(),
        }
    }

    /// With another limit in one section.
    #[must_use]
    pub fn with_section(mut self, section: impl Into<Name>, least_velocity: Velocity) -> Self {
        self.sections.insert(section.into(), least_velocity);
        self
    }

    /// With up to so many further gates.
    #[must_use]
    pub fn opening_up_to(mut self, gates: usize) -> Self {
        self.most_further = gates;
        self
    }

    /// The limit of each section of the model \[m/s\].
    fn of_sections(&self, system: &System) -> Result<Vec<f64>, GateError> {
        let judged = |section: Option<&Name>, velocity: Velocity| {
            let v = velocity.as_m_s();
            if v.is_finite() && v >= 0.0 {
                Ok(v)
            } else {
                Err(GateError::Limit {
                    section: section.cloned(),
                    velocity,
                })
            }
        };
        let for_all = judged(None, self.least_velocity)?;
        let index = Index::new("section", system.sections.iter().map(|section| &section.id));
        let mut limits = vec![for_all; system.sections.len()];
        for (name, &velocity) in &self.sections {
            let own = judged(Some(name), velocity)?;
            limits[index.find(name.as_str())?] = own;
        }
        Ok(limits)
    }
}

/// The slowest section on the way of some hoods: the lowest velocity in proportion to its limit,
/// so the lowest of all where every section has one limit.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct SlowestSection {
    /// The section.
    pub section: Name,
    /// Mean velocity at its downstream end.
    pub velocity: Velocity,
    /// The velocity that it needs.
    pub limit: Velocity,
}

impl SlowestSection {
    /// Whether it, and so every section on the way, is as fast as it needs to be.
    #[must_use]
    pub fn is_fast_enough(&self) -> bool {
        self.velocity >= self.limit
    }
}

/// Further gates that are opened beside those in use, and what comes of it.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct FurtherGates {
    /// The hoods whose gates are opened.
    pub gates: Vec<Name>,
    /// What the hoods in use then take in together.
    pub flow: VolumeFlow,
    /// Whether the machines in use still get what they need.
    pub keeps_requirement: bool,
    /// The slowest section on the way of the hoods in use.
    pub slowest: SlowestSection,
    /// How the answer stands.
    pub status: Status,
}

/// Which further gates bring every section on the way of the hoods in use to its limit.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize),
    serde(rename_all = "snake_case")
)]
#[non_exhaustive]
pub enum Companions {
    /// None is needed: the air is fast enough without.
    NotNeeded,
    /// These do.
    Open(FurtherGates),
    /// No set of up to so many does.
    NoneDoes {
        /// How many further gates were opened at most.
        up_to: usize,
        /// The set that comes nearest, be it no better than none at all; `None` where there is no
        /// other gate.
        nearest: Option<FurtherGates>,
    },
}

/// ` + planer` where it helps; what is wrong where nothing does; nothing where all is well.
impl fmt::Display for Companions {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NotNeeded => f.write_str("fast enough"),
            Self::Open(further) if further.keeps_requirement => {
                write!(f, "open too: {}", list(&further.gates))
            }
            Self::Open(further) => write!(
                f,
                "open too: {}, though the machine then gets too little",
                list(&further.gates)
            ),
            Self::NoneDoes {
                up_to,
                nearest: Some(further),
            } => write!(
                f,
                "no set of up to {up_to} further gates makes it fast enough; nearest: {} with {:.1} of {:.1} m/s in {}",
                list(&further.gates),
                further.slowest.velocity.as_m_s(),
                further.slowest.limit.as_m_s(),
                further.slowest.section,
            ),
            Self::NoneDoes { nearest: None, .. } => {
                f.write_str("too slow, and there is no further gate to open")
            }
        }
    }
}

/// What is said of an answer outside the points of the fan's curve.
pub(super) const HINT: &str = "outside the fan's published curve: a hint only";

/// Flow of each hood of an answer \[m3/s\].
pub(super) fn hood_flows(point: &OperatingPoint) -> Vec<f64> {
    point.hoods.iter().map(|hood| hood.flow.as_m3_s()).collect()
}

/// Names with commas between.
pub(super) fn list(names: &[Name]) -> String {
    let names: Vec<_> = names.iter().map(Name::as_str).collect();
    names.join(", ")
}

/// What hoods and machines in use need: each a sum of hoods and its requirement above zero.
#[derive(Debug)]
pub(super) struct Needs(Vec<Need>);

#[derive(Debug)]
struct Need {
    place: Place,
    /// Indices into [`Network::hoods`].
    hoods: Vec<usize>,
    required_m3s: f64,
}

impl Needs {
    /// Of the machines of these hoods, and of the hoods that need something by themselves.
    pub(super) fn of(system: &System, in_use: &[bool]) -> Self {
        let in_use = |i: usize| in_use.get(i) == Some(&true);
        let mut needs = Vec::new();
        for machine in &system.machines {
            let hoods: Vec<usize> = system.hoods_of(&machine.id).map(|(i, _)| i).collect();
            if hoods.iter().any(|&i| in_use(i)) {
                needs.push(Need {
                    place: Place::Machine(machine.id.clone()),
                    hoods,
                    required_m3s: machine.required.as_m3_s(),
                });
            }
        }
        for (i, (_, hood)) in system.hoods().enumerate() {
            if let Some(required) = hood.required
                && in_use(i)
            {
                needs.push(Need {
                    place: Place::Hood(hood.id.clone()),
                    hoods: vec![i],
                    required_m3s: required.as_m3_s(),
                });
            }
        }
        needs.retain(|need| need.required_m3s > 0.0);
        Self(needs)
    }

    /// The least flow over requirement, and whose it is; `None` where nothing is needed.
    pub(super) fn least_share(&self, flows_m3s: &[f64]) -> Option<(f64, &Place)> {
        let share = |need: &Need| {
            let flows = need.hoods.iter().filter_map(|&i| flows_m3s.get(i));
            flows.sum::<f64>() / need.required_m3s
        };
        let shares = self.0.iter().map(|need| (share(need), &need.place));
        shares.min_by(|a, b| a.0.total_cmp(&b.0))
    }

    /// Whether all of them are met.
    pub(super) fn are_met(&self, flows_m3s: &[f64]) -> bool {
        self.least_share(flows_m3s)
            .is_none_or(|(share, _)| share >= 1.0)
    }
}

/// A system's ways: which section drains where, and how fast the air must be there.
#[derive(Debug)]
pub(super) struct Ways<'s> {
    system: &'s System,
    /// The section that each drains into.
    down: Vec<Option<usize>>,
    /// Names of the hoods and their sections, in the order of [`Network::hoods`].
    hoods: Vec<(&'s Name, usize)>,
    limit_ms: Vec<f64>,
    most_further: usize,
}

/// One open set as a search sees it.
struct Trial {
    chosen: Vec<usize>,
    flow_m3s: f64,
    keeps: bool,
    slowest: usize,
    velocity_ms: f64,
    /// Velocity over limit there.
    ratio: f64,
    status: Status,
}

impl<'s> Ways<'s> {
    /// Of a system that a network was made of.
    pub(super) fn new(system: &'s System, limits: &TransportLimits) -> Result<Self, GateError> {
        let index = Index::new("section", system.sections.iter().map(|section| &section.id));
        let at = |id: &Name| index.get(id.as_str());
        let downs = system.sections.iter().map(|s| s.into.as_ref().and_then(at));
        let hoods = system.hoods();
        Ok(Self {
            system,
            down: downs.collect(),
            hoods: hoods
                .filter_map(|(section, hood)| Some((&hood.id, at(&section.id)?)))
                .collect(),
            limit_ms: limits.of_sections(system)?,
            most_further: limits.most_further,
        })
    }

    /// The sections with one of these hoods upstream.
    fn way(&self, in_use: &[bool]) -> Vec<usize> {
        let mut on_way = vec![false; self.down.len()];
        for ((_, section), _) in self.hoods.iter().zip(in_use).filter(|(_, used)| **used) {
            let mut at = Some(*section);
            while let Some(mark) = at.and_then(|i| on_way.get_mut(i)).filter(|mark| !**mark) {
                *mark = true;
                at = at.and_then(|i| self.down.get(i).copied().flatten());
            }
        }
        (0..on_way.len()).filter(|&i| on_way[i]).collect()
    }

    /// The slowest section on a way, its velocity over its limit \[m/s; -\].
    fn slowest(&self, way: &[usize], velocity_ms: &[f64]) -> Option<(usize, f64, f64)> {
        let speeds = way.iter().filter_map(|&i| {
            let (v, limit) = (*velocity_ms.get(i)?, *self.limit_ms.get(i)?);
            let ratio = if limit > 0.0 {
                v / limit
            } else {
                f64::INFINITY
            };
            Some((i, v, ratio))
        });
        speeds.min_by(|a, b| a.2.total_cmp(&b.2).then(a.1.total_cmp(&b.1)))
    }

    fn told(&self, section: usize, velocity_ms: f64) -> Option<SlowestSection> {
        Some(SlowestSection {
            section: self.system.sections.get(section)?.id.clone(),
            velocity: Velocity::from_m_s(velocity_ms),
            limit: Velocity::from_m_s(*self.limit_ms.get(section)?),
        })
    }

    /// The slowest section on the way of the hoods that are open, and which further gates help.
    ///
    /// `network` may have other gate openings than the system, but nothing else.
    pub(super) fn judge(
        &self,
        network: &Network,
        point: &OperatingPoint,
    ) -> Result<(SlowestSection, Companions), GateError> {
        let in_use: Vec<bool> = point.hoods.iter().map(|hood| hood.open).collect();
        let way = self.way(&in_use);
        let speeds = point.sections.iter().map(|s| s.velocity.as_m_s());
        let speeds: Vec<f64> = speeds.collect();
        let slowest = self.slowest(&way, &speeds);
        let slowest = slowest.and_then(|(section, v, _)| self.told(section, v));
        // A solved set has an open hood, and so a way.
        let slowest = slowest.ok_or_else(|| GateError::Solve {
            open: Vec::new(),
            error: SolveError::NothingOpen,
        })?;
        let companions = if slowest.is_fast_enough() {
            Companions::NotNeeded
        } else {
            self.search(network, &in_use, &way)?
        };
        Ok((slowest, companions))
    }

    /// Every set of further gates, by size and within a size by name, until a size has one that
    /// does and that keeps the requirement.
    fn search(
        &self,
        network: &Network,
        in_use: &[bool],
        way: &[usize],
    ) -> Result<Companions, GateError> {
        let name = |i: usize| self.hoods.get(i).map(|(name, _)| *name);
        let is_used = |i: &usize| in_use.get(*i) == Some(&true);
        let mut others: Vec<usize> = (0..self.hoods.len()).filter(|i| !is_used(i)).collect();
        others.sort_by_key(|&i| name(i));
        let up_to = self.most_further.min(others.len());
        check_count(others.len(), up_to)?;
        let needs = Needs::of(self.system, in_use);
        let mut work = Workspace::default();
        let (mut keeping, mut robbing, mut nearest) = (None::<Trial>, None::<Trial>, None::<Trial>);
        for size in 1..=up_to {
            let mut picked: Vec<usize> = (0..size).collect();
            loop {
                let chosen: Vec<usize> = picked
                    .iter()
                    .filter_map(|&p| others.get(p))
                    .copied()
                    .collect();
                let trial = self.try_set(network, in_use, way, &needs, chosen, &mut work);
                if let Some(trial) = trial {
                    let more = |best: &Option<Trial>| {
                        best.as_ref()
                            .is_none_or(|best| trial.flow_m3s > best.flow_m3s)
                    };
                    let is_nearer = nearest.as_ref().is_none_or(|best: &Trial| {
                        (trial.ratio, trial.flow_m3s) > (best.ratio, best.flow_m3s)
                            && (trial.ratio > best.ratio || trial.chosen.len() == best.chosen.len())
                    });
                    if trial.ratio < 1.0 {
                        if is_nearer {
                            nearest = Some(trial);
                        }
                    } else if trial.keeps {
                        if more(&keeping) {
                            keeping = Some(trial);
                        }
                    } else if more(&robbing)
                        && robbing
                            .as_ref()
                            .is_none_or(|best| best.chosen.len() == size)
                    {
                        robbing = Some(trial);
                    }
                }
                if !next_choice(&mut picked, others.len()) {
                    break;
                }
            }
            if keeping.is_some() {
                break;
            }
        }
        let told = |trial: Trial| {
            Some(FurtherGates {
                gates: trial
                    .chosen
                    .iter()
                    .filter_map(|&i| name(i))
                    .cloned()
                    .collect(),
                flow: VolumeFlow::from_m3_s(trial.flow_m3s),
                keeps_requirement: trial.keeps,
                slowest: self.told(trial.slowest, trial.velocity_ms)?,
                status: trial.status,
            })
        };
        Ok(match keeping.or(robbing).and_then(told) {
            Some(further) => Companions::Open(further),
            None => Companions::NoneDoes {
                up_to,
                nearest: nearest.and_then(told),
            },
        })
    }

    /// A set without an answer cannot be recommended.
    fn try_set(
        &self,
        network: &Network,
        in_use: &[bool],
        way: &[usize],
        needs: &Needs,
        chosen: Vec<usize>,
        work: &mut Workspace,
    ) -> Option<Trial> {
        let used = (0..).zip(in_use).filter(|(_, used)| **used).map(|(i, _)| i);
        let open = used.chain(chosen.iter().copied());
        let open = open
            .filter_map(|i: usize| self.hoods.get(i))
            .map(|(name, _)| name);
        let open = network.open(open).ok()?;
        let balance = network.solve(&open, work).ok()?;
        let flows: Vec<f64> = balance.hood_flows().map(VolumeFlow::as_m3_s).collect();
        let speeds = balance.section_velocities();
        let speeds: Vec<f64> = speeds.map(Velocity::as_m_s).collect();
        let (slowest, velocity_ms, ratio) = self.slowest(way, &speeds)?;
        let of_used = flows.iter().zip(in_use).filter(|(_, used)| **used);
        Some(Trial {
            chosen,
            flow_m3s: of_used.map(|(q, _)| q).sum(),
            keeps: needs.are_met(&flows),
            slowest,
            velocity_ms,
            ratio,
            status: balance.status,
        })
    }
}

/// Refuses a search that nobody would wait for.
fn check_count(gates: usize, asked: usize) -> Result<(), GateError> {
    let most = Sizes::of(gates as u64, asked, MOST_SETS).most;
    if most < asked {
        return Err(GateError::TooManySets { gates, asked, most });
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::decide::by_hand::{shop, solved};

    #[test]
    fn prop_companions_say_what_they_do() {
        let further = |keeps_requirement| FurtherGates {
            gates: vec!["planer".into(), "lathe".into()],
            flow: VolumeFlow::from_m3_s(0.3),
            keeps_requirement,
            slowest: SlowestSection {
                section: "main".into(),
                velocity: Velocity::from_m_s(18.25),
                limit: Velocity::from_m_s(20.0),
            },
            status: Status::Converged,
        };
        let told = |companions: Companions| companions.to_string();
        let gates = list(&further(true).gates);
        assert_eq!(told(Companions::NotNeeded), "fast enough");
        assert_eq!(
            told(Companions::Open(further(true))),
            format!("open too: {gates}")
        );
        assert_eq!(
            told(Companions::Open(further(false))),
            format!("open too: {gates}, though the machine then gets too little")
        );
        let none = |nearest| told(Companions::NoneDoes { up_to: 3, nearest });
        assert_eq!(
            none(Some(further(true))),
            format!(
                "no set of up to 3 further gates makes it fast enough; nearest: {gates} with 18.2 of 20.0 m/s in main"
            )
        );
        assert_eq!(none(None), "too slow, and there is no further gate to open");
        let slow = further(true).slowest;
        assert!(!slow.is_fast_enough());
        let fast = SlowestSection {
            velocity: slow.limit,
            ..slow
        };
        assert!(fast.is_fast_enough());
    }

    fn ways<'s>(system: &'s System, limits: &TransportLimits) -> Ways<'s> {
        Ways::new(system, limits).unwrap()
    }

    #[test]
    fn a_section_without_a_limit_is_never_too_slow() {
        let system = shop();
        let limits = TransportLimits::new(Velocity::from_m_s(0.0))
            .with_section("main", Velocity::from_m_s(20.0));
        let ways = ways(&system, &limits);
        let main = system.sections.len() - 1;
        for still in [0.0, 1.0] {
            let mut speeds = vec![still; main];
            speeds.push(30.0);
            assert_eq!(ways.slowest(&[0, main], &speeds), Some((main, 30.0, 1.5)));
            assert_eq!(ways.slowest(&[0], &speeds), Some((0, still, f64::INFINITY)));
        }
    }

    #[test]
    fn three_further_gates_are_opened_unless_told() {
        let limits = TransportLimits::new(Velocity::from_m_s(20.0));
        assert_eq!(limits.most_further, 3);
    }

    /// The limit is what the main has to the last bit with the other gate open.
    #[test]
    fn just_fast_enough_is_enough() {
        let system = shop();
        let network = Network::new(&system).unwrap();
        let both = network.open(["table", "chute"]).unwrap();
        let mut work = Workspace::default();
        let balance = network.solve(&both, &mut work).unwrap();
        let limit = balance.section_velocities().last().unwrap();
        let point = solved(&system, &["saw"]);
        assert!(point.sections.last().unwrap().velocity < limit);
        let limits = TransportLimits::new(Velocity::from_m_s(0.0)).with_section("main", limit);
        let (slowest, companions) = ways(&system, &limits).judge(&network, &point).unwrap();
        assert!(!slowest.is_fast_enough() && slowest.limit == limit);
        let Companions::Open(further) = companions else {
            panic!("{companions}")
        };
        assert_eq!(further.gates, [Name::from("chute")]);
        assert!(further.slowest.is_fast_enough() && further.keeps_requirement);
    }

    /// Two branches that are one another's image in one wye.
    #[test]
    fn of_equals_the_first_by_name_is_the_nearest() {
        let mut system = shop();
        let mut twin = system.sections[1].clone();
        twin.id = "twin".into();
        if let crate::Start::Hood(hood) = &mut twin.start {
            hood.id = "apron".into();
            hood.machine = None;
        }
        system.sections.insert(2, twin);
        let network = Network::new(&system).unwrap();
        let limits = TransportLimits::new(Velocity::from_m_s(90.0)).opening_up_to(1);
        let point = solved(&system, &["saw"]);
        let (_, companions) = ways(&system, &limits).judge(&network, &point).unwrap();
        let Companions::NoneDoes { nearest, .. } = companions else {
            panic!("{companions}")
        };
        assert_eq!(nearest.unwrap().gates, [Name::from("apron")]);
    }
}
