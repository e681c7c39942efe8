//! The options resolved against the model, and judged.

use super::{CheckError, CheckOptions, collapse::Shell};
use crate::{
    bore::Bore,
    decide::{
        dust::{DustClass, TransportVelocity},
        requirement::Requirement,
        source::Source,
    },
    loss::LossError,
    place::{Name, Place},
    quantity::VolumeFlow,
    system::{Index, System, unknown},
};
use std::{borrow::Cow, collections::HashMap};

/// What the checks hold the model against, by the model's own order.
pub(in crate::decide) struct Needs {
    /// Of each machine; `None` where nothing is needed.
    pub(in crate::decide) machines: Vec<Option<NeededFlow>>,
    /// Of each hood by itself.
    pub(in crate::decide) hoods: Vec<Option<NeededFlow>>,
    /// What each hood throws into its duct, and whether that is the default that nobody chose.
    pub(super) dust: Vec<(TransportVelocity, bool)>,
    /// Wall of each section.
    pub(super) shells: Vec<Option<Shell>>,
}

/// A flow that is needed.
pub(in crate::decide) struct NeededFlow {
    pub(in crate::decide) flow: VolumeFlow,
    pub(super) row: Cow<'static, str>,
    pub(in crate::decide) source: Source,
}

impl NeededFlow {
    pub(in crate::decide) fn of_model(flow: VolumeFlow) -> Option<Self> {
        (flow.as_m3_s() > 0.0).then(|| Self {
            flow,
            row: Cow::Borrowed("as the model says"),
            source: Source::given("the model's own figure"),
        })
    }
}

impl Needs {
    /// Resolves and judges the options.
    pub(in crate::decide) fn of(
        system: &System,
        options: &CheckOptions,
    ) -> Result<Self, CheckError> {
        check_values(options)?;
        let by_machine = requirements(system, options)?;
        let mut machines = Vec::with_capacity(system.machines.len());
        for machine in &system.machines {
            let requirement = by_machine.get(&machine.id);
            let need = requirement.and_then(|requirement| requirement.need.as_ref());
            machines.push(match need {
                None => NeededFlow::of_model(machine.required),
                Some(need) => {
                    let required = need.required().map_err(|error| CheckError::Requirement {
                        machine: machine.id.clone(),
                        error,
                    })?;
                    Some(NeededFlow {
                        flow: required.flow,
                        row: required.row,
                        source: required.source,
                    })
                }
            });
        }
        let own = hood_needs(system, options)?;
        let mut hoods = Vec::new();
        let mut dust = Vec::new();
        for (_, hood) in system.hoods() {
            hoods.push(match own.get(&hood.id) {
                Some(&flow) => NeededFlow::of_model(flow).map(|need| NeededFlow {
                    row: Cow::Borrowed("as its requirement says"),
                    source: Source::given("own figure"),
                    ..need
                }),
                None => hood.required.and_then(NeededFlow::of_model),
            });
            let machine = hood.machine.as_ref();
            let requirement = machine.and_then(|machine| by_machine.get(machine));
            let class = requirement.and_then(|requirement| requirement.dust);
            let class = class.or(options.dust);
            let transport = class.unwrap_or(DustClass::DryChips).transport();
            dust.push((transport, class.is_none()));
        }
        Ok(Self {
            machines,
            hoods,
            dust,
            shells: shells(system, options)?,
        })
    }
}

fn value<T>(place: Place, result: Result<T, LossError>) -> Result<T, CheckError> {
    result.map_err(|error| CheckError::Value { place, error })
}

/// The requirement of each machine.
fn requirements<'o>(
    system: &System,
    options: &'o CheckOptions,
) -> Result<HashMap<&'o Name, &'o Requirement>, CheckError> {
    let index = Index::new("machine", system.machines.iter().map(|machine| &machine.id));
    let mut found = HashMap::new();
    for requirement in &options.requirements {
        let name = &requirement.machine;
        index.find(name.as_str())?;
        if found.insert(name, requirement).is_some() {
            let what = "the requirement of machine";
            let name = name.clone();
            return Err(CheckError::Twice { what, name });
        }
        if let Some(DustClass::Own(own)) = requirement.dust {
            check_own_dust(Place::Machine(name.clone()), own.as_m_s())?;
        }
    }
    Ok(found)
}

/// What single hoods need by the options.
fn hood_needs<'o>(
    system: &System,
    options: &'o CheckOptions,
) -> Result<HashMap<&'o Name, VolumeFlow>, CheckError> {
    let mut found = HashMap::new();
    for requirement in &options.requirements {
        for need in &requirement.hoods {
            let mut hoods = system.hoods().map(|(_, hood)| hood);
            let Some(hood) = hoods.find(|hood| hood.id == need.hood) else {
                let names = system.hoods().map(|(_, hood)| &hood.id);
                return Err(unknown("hood", need.hood.as_str(), names).into());
            };
            if hood.machine.as_ref() != Some(&requirement.machine) {
                return Err(CheckError::OtherMachine {
                    hood: need.hood.clone(),
                    machine: requirement.machine.clone(),
                });
            }
            let flow = need.check().map_err(|error| CheckError::Requirement {
                machine: requirement.machine.clone(),
                error,
            })?;
            if found.insert(&need.hood, flow).is_some() {
                let what = "the need of hood";
                let name = need.hood.clone();
                return Err(CheckError::Twice { what, name });
            }
        }
    }
    Ok(found)
}

/// The wall of each section.
fn shells(system: &System, options: &CheckOptions) -> Result<Vec<Option<Shell>>, CheckError> {
    let mut own: HashMap<&Name, Shell> = HashMap::new();
    let index = Index::new("section", system.sections.iter().map(|section| &section.id));
    for told in &options.shells {
        index.find(told.section.as_str())?;
        if own.insert(&told.section, told.shell).is_some() {
            let what = "the wall of section";
            let name = told.section.clone();
            return Err(CheckError::Twice { what, name });
        }
    }
    let mut shells = Vec::with_capacity(system.sections.len());
    for section in &system.sections {
        let shell = own.get(&section.id).copied().or(options.shell);
        if let (Some(shell), Bore::Round(diameter)) = (shell, section.size) {
            let place = Place::Section(section.id.clone());
            value(place, shell.collapse_suction(diameter))?;
        }
        shells.push(shell);
    }
    for (run, at) in system.collector.before.iter().enumerate() {
        if let (Some(shell), Bore::Round(diameter)) = (options.shell, at.size) {
            let place = Place::Before { run, part: None };
            value(place, shell.collapse_suction(diameter))?;
        }
    }
    Ok(shells)
}

fn check_own_dust(place: Place, m_s: f64) -> Result<(), CheckError> {
    let what = "own transport velocity";
    let within = LossError::within(what, m_s, " m/s", f64::MIN_POSITIVE, 100.0);
    value(place, within).map(drop)
}

/// Judges every plain number.
fn check_values(options: &CheckOptions) -> Result<(), CheckError> {
    if let Some(DustClass::Own(own)) = options.dust {
        check_own_dust(Place::System, own.as_m_s())?;
    }
    if let Some(factor) = options.collapse_safety {
        let what = "safety factor against collapse";
        value(
            Place::System,
            LossError::within(what, factor, "", 1.0, 100.0),
        )?;
    }
    if let Some(area) = options.filter_area {
        let area = LossError::within("area of the cloth", area.as_m2(), " m2", 0.001, 1e5);
        value(Place::Collector, area)?;
    }
    if let Some(uncertain) = &options.uncertain {
        let relative = |place: &Place, of_flow, relative| {
            let what = match of_flow {
                true => "relative uncertainty of flow",
                false => "relative uncertainty of pressure",
            };
            let within = LossError::within(what, relative, "", 0.0, 10.0);
            value(place.clone(), within).map(drop)
        };
        relative(&Place::System, true, uncertain.flow)?;
        relative(&Place::System, false, uncertain.pressure)?;
        for at in &uncertain.at {
            relative(&at.place, true, at.flow.unwrap_or(0.0))?;
            relative(&at.place, false, at.pressure.unwrap_or(0.0))?;
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::decide::by_hand::{m3_s, shop, with_need_at_table};

    #[test]
    fn a_model_that_asks_for_nothing_needs_nothing() {
        let of = |flow| NeededFlow::of_model(VolumeFlow::from_m3_s(flow)).is_some();
        assert_eq!([of(0.0), of(1e-9), of(0.1)], [false, true, true]);
    }

    /// A hood's own figure stands for what the model says, and says so.
    #[test]
    fn a_need_says_where_it_comes_from() {
        let system = with_need_at_table(shop(), 0.05);
        let needs = |options: &CheckOptions| {
            let told = |need: NeededFlow| format!("{}: {} {}", need.flow, need.row, need.source);
            let needs = Needs::of(&system, options).unwrap();
            let hoods = needs.hoods.into_iter();
            hoods.map(|need| need.map(told)).collect::<Vec<_>>()
        };
        let told = |flow: f64, row: &str, source: &'static str| {
            Some(format!("{}: {row} {}", m3_s(flow), Source::given(source)))
        };
        let model = told(0.05, "as the model says", "the model's own figure");
        assert_eq!(needs(&CheckOptions::new()), [model, None]);
        let own = crate::decide::Requirement::new("saw").with_hood("table", m3_s(0.07));
        let own = needs(&CheckOptions::new().with_requirement(own));
        assert_eq!(
            own,
            [told(0.07, "as its requirement says", "own figure"), None]
        );
    }
}
