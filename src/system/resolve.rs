//! The only judge of a model: resolves names and laws, and finds every fault at once.
#![allow(
    clippy::indexing_slicing,
    reason = "machines are numbered by the index of their names, and counted in a list as long"
)]

use super::{
    collector::{HeadBalance, balance_heads, check_fan, fold_collector},
    conduit::{Assembly, ConduitLaw, check_transitions},
    fault::{ModelError, ModelErrors, ModelFault},
    join::{Foot, Head, check_losses, join_all},
    model::{Section, Start, System},
    names::Index,
    setting::{Model, Spot},
    topology::Topology,
};
use crate::{
    air::AirProperties,
    loss::{LossError, Part, PowerLaw, coefficients::Coefficients},
    place::{Name, Place},
    quantity::{Area, Density, DynamicViscosity, VolumeFlow},
};
use std::collections::HashSet;

/// A checked model with its laws, by index.
#[derive(Debug)]
pub(crate) struct Resolved {
    pub(crate) air: AirProperties,
    pub(crate) topology: Topology,
    /// One law for each section; a hood's entry and a join's own coefficient are part of it.
    pub(crate) sections: Vec<SectionLaw>,
    /// One for each hood, in the order of the sections.
    pub(crate) hoods: Vec<HoodAt>,
    pub(crate) before: Vec<ConduitLaw>,
    pub(crate) after: Vec<ConduitLaw>,
    /// What the curve of the fan does not tell by itself; see [`HeadBalance`].
    pub(crate) heads: HeadBalance,
    /// How the mains meet.
    pub(crate) adapter: Head,
}

/// The law of a section.
#[derive(Debug, Clone, Default)]
pub(crate) struct SectionLaw {
    /// Its parts and its hood's entry; its join is not in it.
    pub(crate) conduit: ConduitLaw,
    /// Loss coefficient of the hood's entry on the section's velocity pressure; 0 without a hood.
    pub(crate) entry_k: f64,
    /// Leak at its upstream end.
    pub(crate) leak: Option<PowerLaw>,
    /// Leak of its walls, put at its downstream end.
    pub(crate) wall_leak: Option<PowerLaw>,
    /// The junction at its upstream end.
    pub(crate) head: Head,
    /// What the junction at its downstream end makes of it.
    pub(crate) foot: Foot,
}

/// Where a hood is and whom it serves.
#[derive(Debug, Clone, Copy)]
pub(crate) struct HoodAt {
    pub(crate) section: usize,
    pub(crate) machine: Option<usize>,
}

impl System {
    /// Checks the whole model.
    ///
    /// # Errors
    ///
    /// Every fault of the model at once, each with its [`Place`].
    pub fn check(&self) -> Result<(), ModelErrors> {
        Resolved::of(Model::plain(self)).map(drop)
    }
}

impl Resolved {
    pub(crate) fn of(model: Model<'_>) -> Result<Self, ModelErrors> {
        let system = model.system;
        system.check_counts()?;
        let mut faults = Vec::new();
        check_names(system, &mut faults);
        let topology = Topology::of(system, &mut faults);
        let hoods = resolve_hoods(system, &mut faults);
        let air = system.air.properties().unwrap_or_else(|error| {
            faults.push(ModelError::new(Place::Air, error));
            // Only so that the rest of the model can be judged as well.
            AirProperties {
                density: Density::STANDARD_AIR,
                viscosity: DynamicViscosity::from_pa_s(1.8e-5),
            }
        });
        let mut sections = fold_sections(model, &topology, &air, &mut faults);
        let adapter = join_all(model, &topology, &air, &mut sections, &mut faults);
        let (before, after) = fold_collector(model, &topology, &air, &mut faults);
        check_fan(model, &mut faults);
        let heads = balance_heads(system, &air, &after, &mut faults);
        check_losses(system, &topology, &sections, &adapter, &mut faults);
        ModelErrors::none_of(faults)?;
        Ok(Self {
            air,
            topology,
            sections,
            hoods,
            before,
            after,
            heads,
            adapter,
        })
    }
}

fn check_names(system: &System, faults: &mut Vec<ModelError>) {
    let mut check = |what, place: fn(Name) -> Place, names: &mut dyn Iterator<Item = &Name>| {
        let mut seen = HashSet::new();
        let mut told = HashSet::new();
        for name in names {
            if name.as_str().trim().is_empty() {
                faults.push(ModelError::new(
                    place(name.clone()),
                    ModelFault::BlankName { what },
                ));
            }
            if !seen.insert(name) && told.insert(name) {
                let name = name.clone();
                faults.push(ModelError::new(
                    place(name.clone()),
                    ModelFault::Duplicate { what, name },
                ));
            }
        }
    };
    check(
        "section",
        Place::Section,
        &mut system.sections.iter().map(|s| &s.id),
    );
    check("hood", Place::Hood, &mut system.hoods().map(|(_, h)| &h.id));
    check(
        "machine",
        Place::Machine,
        &mut system.machines.iter().map(|m| &m.id),
    );
}

fn resolve_hoods(system: &System, faults: &mut Vec<ModelError>) -> Vec<HoodAt> {
    let index = Index::new("machine", system.machines.iter().map(|m| &m.id));
    let mut served = vec![0_usize; system.machines.len()];
    let mut hoods = Vec::new();
    for (section, part) in system.sections.iter().enumerate() {
        let Start::Hood(hood) = &part.start else {
            continue;
        };
        let machine = hood.machine.as_ref().and_then(|machine| {
            index
                .find(machine.as_str())
                .map_err(|unknown| {
                    faults.push(ModelError::new(Place::Hood(hood.id.clone()), unknown));
                })
                .ok()
        });
        if let Some(machine) = machine {
            served[machine] += 1;
        }
        if let Some(required) = hood.required {
            check_flow(Place::Hood(hood.id.clone()), required, faults);
        }
        hoods.push(HoodAt { section, machine });
    }
    if hoods.is_empty() {
        faults.push(ModelError::new(Place::System, ModelFault::NoHoods));
    }
    for (machine, served) in system.machines.iter().zip(&served) {
        let place = Place::Machine(machine.id.clone());
        check_flow(place.clone(), machine.required, faults);
        if *served == 0 {
            faults.push(ModelError::new(place, ModelFault::NoHood));
        }
    }
    for (_, hood) in system.hoods() {
        // An open set names hoods and machines alike: one name must not mean two things.
        if let Some(machine) = index.get(hood.id.as_str()) {
            let own = hood.machine.as_ref() == Some(&hood.id);
            if !(own && served[machine] == 1) {
                faults.push(ModelError::new(
                    Place::Hood(hood.id.clone()),
                    ModelFault::AmbiguousName,
                ));
            }
        }
    }
    hoods
}

fn check_flow(place: Place, flow: VolumeFlow, faults: &mut Vec<ModelError>) {
    if !(0.0..=1000.0).contains(&flow.as_m3_s()) {
        faults.push(ModelError::new(place, ModelFault::RequiredFlow { flow }));
    }
}

fn fold_sections(
    model: Model<'_>,
    topology: &Topology,
    air: &AirProperties,
    faults: &mut Vec<ModelError>,
) -> Vec<SectionLaw> {
    (0..model.system.sections.len())
        .map(|i| fold_section(model, topology, i, air, faults))
        .collect()
}

/// The law of one section, for which only what lies just upstream is looked at.
pub(crate) fn fold_section(
    model: Model<'_>,
    topology: &Topology,
    i: usize,
    air: &AirProperties,
    faults: &mut Vec<ModelError>,
) -> SectionLaw {
    let (Some(section), Some(inlets)) = (model.system.sections.get(i), topology.inlets.get(i))
    else {
        return SectionLaw::default();
    };
    let upstream = match inlets.as_slice() {
        [only] => model
            .system
            .sections
            .get(*only)
            .map(|s| (s.size, s.parts.as_slice())),
        _ => None,
    };
    check_transitions(&section.parts, upstream.is_some(), faults, |part| {
        Place::Part {
            section: section.id.clone(),
            part,
        }
    });
    let before = faults.len();
    let mut conduit = Assembly {
        bore: section.size,
        wall: &section.wall,
        parts: &section.parts,
        upstream,
        place: |part| match part {
            Some(part) => Place::Part {
                section: section.id.clone(),
                part,
            },
            None => Place::Section(section.id.clone()),
        },
        fitted: &|_| false,
        factor: &|part| model.factors.factor(Spot::Part { section: i, part }),
    }
    .fold(air, faults);
    // Of a size or length that was refused the area of the wall would be refused once more.
    let wall = match faults.len() == before {
        true => wall_area(section),
        false => Area::default(),
    };
    let mut entry_k = 0.0;
    if let Start::Hood(hood) = &section.start {
        match hood.entry.heads(section.size) {
            Ok(rated) => {
                entry_k = rated.heads.fixed;
                let place = Place::Hood(hood.id.clone());
                let notes = rated.notes.into_iter();
                conduit
                    .notes
                    .extend(notes.map(|note| (place.clone(), note)));
                let k2 = entry_k * conduit.head;
                conduit.add(&Coefficients {
                    k2,
                    ..Coefficients::default()
                });
            }
            Err(error) => faults.push(ModelError::new(Place::Hood(hood.id.clone()), error)),
        }
    }
    let mut leak = |law: Result<Option<PowerLaw>, LossError>| {
        law.unwrap_or_else(|error| {
            faults.push(ModelError::new(Place::Section(section.id.clone()), error));
            None
        })
    };
    SectionLaw {
        leak: match &section.start {
            Start::Leak(hole) => leak(hole.law(air.density)),
            _ => None,
        },
        wall_leak: leak(section.tightness.law(wall)),
        conduit,
        entry_k,
        ..SectionLaw::default()
    }
}

/// Wall of the duct and hose of a section.
fn wall_area(section: &Section) -> Area {
    let length: f64 = section
        .parts
        .iter()
        .map(|part| match part {
            Part::Duct(length) => length.as_m(),
            Part::Hose(hose) => hose.length.as_m(),
            _ => 0.0,
        })
        .sum();
    Area::from_m2(section.size.perimeter().as_m() * length)
}
