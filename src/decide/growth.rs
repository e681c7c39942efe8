//! Room to grow: does the layout still serve when capped branches open?

use crate::{
    bore::Bore,
    loss::{Entry, Part},
    place::{Name, Place},
    quantity::VolumeFlow,
    solve::{Network, OperatingPoint, SolveError, Status, Workspace},
    system::{Hood, Machine, ModelErrors, Section, Start, System, UnknownName, unknown},
};
use std::collections::HashSet;

/// Most capped ends of which every choice is tried: 4096 choices.
const MOST_ENDS: usize = 12;

/// A hood that may come one day, with the duct that leads to it.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
pub struct NewHood {
    /// Its entry loss, machine internals among it, on the velocity pressure of its duct.
    pub entry: Entry,
    /// Flow that it needs: 0 to 1000 m3/s.
    pub required: VolumeFlow,
    /// Size of its duct; `None`: as the capped branch. Where it is another, the two meet in a step.
    #[cfg_attr(
        feature = "serde",
        serde(default, skip_serializing_if = "Option::is_none")
    )]
    pub size: Option<Bore>,
    /// What the air passes from the hood to the capped end, in flow order.
    #[cfg_attr(
        feature = "serde",
        serde(default, skip_serializing_if = "Vec::is_empty")
    )]
    pub parts: Vec<Part>,
}

/// A hood that takes the place of a cap.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
pub struct FutureHood {
    /// Name of the hood and of the machine that it serves alone.
    pub id: Name,
    /// The capped section.
    pub branch: Name,
    /// The hood.
    pub hood: NewHood,
}

/// The layout before and after hoods have taken the place of caps.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct Growth {
    /// The answer as it is.
    pub before: OperatingPoint,
    /// The answer with the new hoods open as well.
    pub after: OperatingPoint,
    /// Every open machine that needs something, and every open hood that does by itself, in the
    /// order of the model; the new ones last.
    pub needs: Vec<NeedMet>,
}

/// What a machine or hood needs and gets.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct NeedMet {
    /// The machine or hood.
    pub place: Place,
    /// What it needs.
    pub required: VolumeFlow,
    /// What it got before; `None` for what is new.
    pub before: Option<VolumeFlow>,
    /// What it gets after.
    pub after: VolumeFlow,
}

/// How many more hoods the layout bears.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct Headroom {
    /// With none of the new hoods, one, two, up to one at each capped end, in the order of the ends.
    pub steps: Vec<HeadroomStep>,
    /// How many may open in that order before the first need is missed; `None` where one is missed
    /// with none of them.
    pub in_order: Option<usize>,
    /// How many may open at whichever ends; `None` as above, or with more than twelve ends.
    pub anywhere: Option<usize>,
    /// How many may open at the best ends for so many; `None` as `anywhere`.
    pub at_best: Option<usize>,
}

/// The layout with so many new hoods open.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct HeadroomStep {
    /// The capped ends that are open.
    pub opened: Vec<Name>,
    /// How the answer stands.
    pub status: Status,
    /// The least share of its need that an open machine or hood gets, less 1: 0.1 is a tenth to
    /// spare, below 0 is missed. Infinite where nothing is needed.
    pub margin: f64,
    /// Whose share it is.
    pub tightest: Option<Place>,
}

/// Why growth cannot be told.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum GrowthError {
    /// No capped branch, hood or machine of that name.
    #[error(transparent)]
    Unknown(#[from] UnknownName),
    /// No capped branch at all, or no new hood to put on one.
    #[error(
        "nothing to open: the system needs at least one section that is capped, and a hood for it"
    )]
    NothingToOpen,
    /// Two hoods for one cap.
    #[error("capped branch {branch:?} is to get more than one hood; cap as many as are to come", branch = branch.as_str())]
    Twice {
        /// The section.
        branch: Name,
    },
    /// Faults of the model, those of the new hoods among them.
    #[error(transparent)]
    Model(#[from] ModelErrors),
    /// No answer.
    #[error(transparent)]
    Solve(#[from] SolveError),
}

impl NeedMet {
    /// Flow over need after the hoods came; 1 is just enough. Infinite where nothing is needed.
    #[must_use]
    pub fn share(&self) -> f64 {
        share(self.after, self.required)
    }
}

impl Growth {
    /// What gets less than it needs once the new hoods are open.
    pub fn missed(&self) -> impl Iterator<Item = &NeedMet> {
        self.needs.iter().filter(|need| need.share() < 1.0)
    }

    /// Whether every need is met, by an answer within the fan's curve.
    #[must_use]
    pub fn serves(&self) -> bool {
        self.after.status == Status::Converged && self.missed().next().is_none()
    }
}

impl HeadroomStep {
    /// Whether every need is met, by an answer within the fan's curve: beyond it an answer is a
    /// hint only.
    #[must_use]
    pub fn serves(&self) -> bool {
        self.status == Status::Converged && self.margin >= 0.0
    }
}

/// Puts these hoods in the place of caps and opens them beside the hoods and machines of `open`.
///
/// The wye of a capped branch is there already: what changes is that air comes through it.
///
/// # Errors
///
/// No hood given, a branch that is not capped, two hoods for one, a name of `open` that is unknown,
/// faults of the model, or no answer.
pub fn growth(system: &System, open: &[Name], hoods: &[FutureHood]) -> Result<Growth, GrowthError> {
    if hoods.is_empty() {
        return Err(GrowthError::NothingToOpen);
    }
    let now = Network::new(system)?;
    let before = now.operating_point(&now.open(open)?)?;
    let grown = grown(system, hoods)?;
    let network = Network::new(&grown)?;
    let names = open.iter().chain(hoods.iter().map(|future| &future.id));
    let after = network.operating_point(&network.open(names)?)?;
    let needs = needs(&after).map(|(place, required, after)| NeedMet {
        before: match &place {
            Place::Machine(name) => before.machine(name.as_str()).ok().map(|m| m.flow),
            Place::Hood(name) => before.hood(name.as_str()).ok().map(|h| h.flow),
            _ => None,
        },
        place,
        required,
        after,
    });
    let needs = needs.collect();
    Ok(Growth {
        before,
        after,
        needs,
    })
}

/// How many hoods like this one can open at capped ends, beside the hoods and machines of `open`,
/// before the first need is missed; `ends` are the capped sections in the order in which they would
/// be opened, none meaning all of them in the order of the model.
///
/// Each end takes one hood. Up to twelve ends every choice of them is tried as well.
///
/// # Errors
///
/// No capped section, one of `ends` that is not capped or stands twice, a name of `open` that is
/// unknown, faults of the model, or no answer.
pub fn headroom(
    system: &System,
    open: &[Name],
    hood: &NewHood,
    ends: &[Name],
) -> Result<Headroom, GrowthError> {
    let ends: Vec<Name> = match ends {
        [] => capped(system).cloned().collect(),
        ends => ends.to_vec(),
    };
    if ends.is_empty() {
        return Err(GrowthError::NothingToOpen);
    }
    let taken = system.machines.iter().map(|machine| &machine.id);
    let taken: HashSet<&str> = taken
        .chain(system.hoods().map(|(_, hood)| &hood.id))
        .map(Name::as_str)
        .collect();
    let named: Vec<Name> = ends
        .iter()
        .map(|end| fresh(format!("new hood at {end}"), &taken))
        .collect();
    let hoods: Vec<FutureHood> = (ends.iter().zip(&named))
        .map(|(end, id)| FutureHood {
            id: id.clone(),
            branch: end.clone(),
            hood: hood.clone(),
        })
        .collect();
    // One network: a hood that is not open is as tight as a cap.
    let network = Network::new(&grown(system, &hoods)?)?;
    let mut work = Workspace::default();
    let mut step = |chosen: &[usize]| -> Result<HeadroomStep, GrowthError> {
        let chosen_names = chosen.iter().filter_map(|&i| named.get(i));
        let set = network.open(open.iter().chain(chosen_names))?;
        let point = network.solve(&set, &mut work)?.to_point();
        let mut margin = f64::INFINITY;
        let mut tightest = None;
        for (place, required, flow) in needs(&point) {
            let spare = share(flow, required) - 1.0;
            if spare < margin {
                margin = spare;
                tightest = Some(place);
            }
        }
        // By the name of the end, not by the one that was made up here.
        let tightest = tightest.map(|place| match &place {
            Place::Machine(name) => match named.iter().position(|made| made == name) {
                Some(i) => ends.get(i).cloned().map_or(place, Place::Section),
                None => place,
            },
            _ => place,
        });
        Ok(HeadroomStep {
            opened: chosen
                .iter()
                .filter_map(|&i| ends.get(i))
                .cloned()
                .collect(),
            status: point.status,
            margin,
            tightest,
        })
    };
    let steps = (0..=ends.len())
        .map(|n| step(&(0..n).collect::<Vec<_>>()))
        .collect::<Result<Vec<_>, _>>()?;
    let (mut anywhere, mut at_best) = (None, None);
    if ends.len() <= MOST_ENDS {
        // Whether every choice of so many ends serves, and whether any does.
        let mut every = vec![true; ends.len() + 1];
        let mut any = vec![false; ends.len() + 1];
        for choice in 0..1_u32 << ends.len() {
            let chosen: Vec<usize> = (0..ends.len()).filter(|i| choice >> i & 1 == 1).collect();
            let serves = step(&chosen)?.serves();
            if let (Some(every), Some(any)) =
                (every.get_mut(chosen.len()), any.get_mut(chosen.len()))
            {
                *every &= serves;
                *any |= serves;
            }
        }
        anywhere = every.iter().take_while(|&&all| all).count().checked_sub(1);
        at_best = any.iter().rposition(|&some| some);
        // In a shop that starts short no number of new hoods is one that it bears.
        at_best = at_best.filter(|_| anywhere.is_some());
    }
    Ok(Headroom {
        in_order: steps
            .iter()
            .take_while(|step| step.serves())
            .count()
            .checked_sub(1),
        steps,
        anywhere,
        at_best,
    })
}

fn share(flow: VolumeFlow, required: VolumeFlow) -> f64 {
    flow.as_m3_s() / required.as_m3_s()
}

/// Open machines and hoods that need something, with what they need and get.
fn needs(point: &OperatingPoint) -> impl Iterator<Item = (Place, VolumeFlow, VolumeFlow)> + '_ {
    let machines = point.machines.iter().filter(|machine| machine.open);
    let machines = machines.map(|machine| {
        let place = Place::Machine(machine.name.clone());
        (place, machine.required, machine.flow)
    });
    let hoods = point.hoods.iter().filter(|hood| hood.open);
    let hoods = hoods.filter_map(|hood| {
        let place = Place::Hood(hood.name.clone());
        Some((place, hood.required?, hood.flow))
    });
    let all = machines.chain(hoods);
    all.filter(|(_, required, _)| required.as_m3_s() > 0.0)
}

fn capped(system: &System) -> impl Iterator<Item = &Name> {
    let capped = system.sections.iter();
    let capped = capped.filter(|section| matches!(section.start, Start::Capped));
    capped.map(|section| &section.id)
}

/// The system with these hoods in the place of caps.
fn grown(system: &System, hoods: &[FutureHood]) -> Result<System, GrowthError> {
    let mut grown = system.clone();
    for future in hoods {
        let branch = &future.branch;
        let at = system.sections.iter().position(|section| {
            let is_capped = matches!(section.start, Start::Capped);
            section.id == *branch && is_capped
        });
        let Some(section) = at.and_then(|at| grown.sections.get_mut(at)) else {
            return Err(unknown("capped branch", branch.as_str(), capped(system)).into());
        };
        if section.start != Start::Capped {
            return Err(GrowthError::Twice {
                branch: branch.clone(),
            });
        }
        let hood = Hood::new(future.id.clone(), future.hood.entry).serving(future.id.clone());
        let size = future.hood.size.unwrap_or(section.size);
        if size == section.size {
            section.start = Start::Hood(hood);
            section
                .parts
                .splice(0..0, future.hood.parts.iter().cloned());
        } else {
            section.start = Start::Joins;
            let mut stub = Section::new(branch.clone(), size, section.wall)
                .draining_into(branch.clone())
                .with_tightness(section.tightness)
                .with_hood(hood);
            stub.parts.clone_from(&future.hood.parts);
            let taken = grown.sections.iter().map(|section| section.id.as_str());
            stub.id = fresh(format!("{branch}, new duct"), &taken.collect());
            grown.sections.push(stub);
        }
        grown.machines.push(Machine {
            id: future.id.clone(),
            required: future.hood.required,
        });
    }
    Ok(grown)
}

/// A name that is not taken, as like to this one as can be.
fn fresh(name: String, taken: &HashSet<&str>) -> Name {
    let mut fresh = name.clone();
    for n in 2.. {
        if !taken.contains(fresh.as_str()) {
            break;
        }
        fresh = format!("{name} {n}");
    }
    Name::from(fresh)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::decide::by_hand::{m3_s, shop, with_need_at_table};

    fn new_hood() -> NewHood {
        NewHood {
            entry: Entry::K(0.5),
            required: m3_s(0.05),
            size: None,
            parts: Vec::new(),
        }
    }

    fn grown(system: &System) -> Growth {
        let sander = FutureHood {
            id: "sander".into(),
            branch: "end".into(),
            hood: new_hood(),
        };
        growth(system, &["saw".into()], &[sander]).unwrap()
    }

    #[test]
    fn just_enough_is_not_missed() {
        let mut growth = grown(&shop());
        growth.needs.truncate(1);
        growth.needs[0].required = m3_s(0.1);
        growth.needs[0].after = m3_s(0.1);
        assert!(growth.serves() && growth.missed().next().is_none());
        growth.needs[0].after = m3_s(0.099);
        assert!(!growth.serves() && growth.missed().count() == 1);
    }

    #[test]
    fn what_needs_something_is_told_with_what_it_got_before() {
        let mut system = with_need_at_table(shop(), 0.08);
        let flows = |growth: &Growth| {
            let needs = growth.needs.iter();
            let flows = needs.map(|need| (need.place.to_string(), need.before));
            flows.collect::<Vec<_>>()
        };
        let growth = grown(&system);
        let got = growth.before.hoods[0].flow;
        assert!(got > m3_s(0.0));
        let told = flows(&growth);
        let [saw, sander, table] = &told[..] else {
            panic!("{told:?}")
        };
        assert_eq!(*saw, ("machine \"saw\"".into(), Some(got)));
        assert_eq!(*sander, ("machine \"sander\"".into(), None));
        assert_eq!(*table, ("hood \"table\"".into(), Some(got)));
        // A machine that needs nothing is not among them.
        system.machines[0].required = m3_s(0.0);
        let told = flows(&grown(&system));
        assert!(
            !told.iter().any(|(place, _)| place.contains("saw")),
            "{told:?}"
        );
        assert_eq!(told.len(), 2);
    }

    /// A hood that needs as much as its machine, which has no other, has the same share.
    #[test]
    fn of_equals_the_first_is_the_tightest() {
        let system = with_need_at_table(shop(), 0.1);
        let room = headroom(&system, &["saw".into()], &new_hood(), &[]).unwrap();
        let saw = Place::Machine("saw".into());
        assert_eq!(room.steps[0].tightest, Some(saw));
    }
}
