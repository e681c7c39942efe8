//! What can be asked of a balance as one number.
#![allow(clippy::indexing_slicing, reason = "sections are numbered by the plan")]

use super::{
    adjoint::Weight,
    plan::{HoodPlan, Plan, SectionPlan},
};
use crate::{
    place::Name,
    system::{UnknownName, unknown},
};
use std::fmt;

/// One number of a balance, to be differentiated or given an uncertainty.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "snake_case")
)]
#[non_exhaustive]
pub enum Output {
    /// Flow that a hood takes in \[m3/s\].
    Hood(Name),
    /// Flow that the hoods of a machine take in together \[m3/s\].
    Machine(Name),
    /// Flow at the downstream end of a section \[m3/s\].
    Section(Name),
    /// Total flow, at the fan \[m3/s\].
    TotalFlow,
    /// Pressure on the basis of the fan's curve, at the density of the air in the ducts \[Pa\]:
    /// [`FanState::curve_pressure`](super::FanState::curve_pressure).
    FanPressure,
    /// Static pressure against the room just behind a hood, in its section \[Pa\]; a suction is
    /// negative.
    HoodStatic(Name),
    /// Static pressure against the room at the downstream end of a section, before the junction
    /// \[Pa\].
    SectionStatic(Name),
    /// Static pressure against the room at the downstream end of a run before the fan, by its index
    /// in the collector \[Pa\]; that of the last one is the suction at the fan's inlet.
    BeforeStatic(usize),
}

impl Output {
    /// The unit of its value, with a leading space.
    #[must_use]
    pub const fn unit(&self) -> &'static str {
        match self {
            Self::Hood(_) | Self::Machine(_) | Self::Section(_) | Self::TotalFlow => " m3/s",
            _ => " Pa",
        }
    }

    /// Tells what it is the sum of; a machine's hoods one by one. Nothing of a pressure in a wall:
    /// that is told by tap.rs.
    pub(super) fn weigh(
        &self,
        plan: &Plan,
        mut tell: impl FnMut(Weight),
    ) -> Result<(), UnknownName> {
        let mut hood = |hood: u32| {
            let hood = plan.hoods.get(hood as usize);
            if let Some(section) = hood.and_then(|hood| plan.sections.get(hood.section as usize)) {
                tell(Weight::Flow(section.first));
            }
        };
        match self {
            Self::Hood(name) => {
                let section = plan.hood(name)?.section;
                tell(Weight::Flow(plan.sections[section as usize].first));
            }
            Self::Section(name) => tell(Weight::Flow(plan.section(name)?.1.last)),
            Self::Machine(name) => {
                let machines = || plan.machines.iter().map(|machine| &machine.name);
                let found = plan.machines.iter().find(|machine| machine.name == *name);
                let found = found.ok_or_else(|| unknown("machine", name.as_str(), machines()))?;
                found.hoods.iter().for_each(|&at| hood(at));
            }
            Self::TotalFlow => tell(Weight::Total),
            Self::FanPressure => tell(Weight::FanPressure),
            Self::HoodStatic(_) | Self::SectionStatic(_) | Self::BeforeStatic(_) => {}
        }
        Ok(())
    }
}

impl Plan {
    pub(super) fn hood(&self, name: &Name) -> Result<&HoodPlan, UnknownName> {
        // A machine that shares the name has that hood alone (system/resolve.rs).
        let only = match self.names.get(name).map(Vec::as_slice) {
            Some(&[only]) => self.hoods.get(only as usize),
            _ => None,
        };
        only.filter(|hood| hood.name == *name).ok_or_else(|| {
            unknown(
                "hood",
                name.as_str(),
                self.hoods.iter().map(|hood| &hood.name),
            )
        })
    }

    pub(super) fn section(&self, name: &Name) -> Result<(u32, &SectionPlan), UnknownName> {
        let mut sections = (0..).zip(self.sections.iter());
        let found = sections.find(|(_, section)| section.id == *name);
        found.ok_or_else(|| {
            let known = self.sections.iter().map(|section| &section.id);
            unknown("section", name.as_str(), known)
        })
    }
}

/// `flow of machine "planer"`
impl fmt::Display for Output {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Hood(name) => write!(f, "flow of hood {:?}", name.as_str()),
            Self::Machine(name) => write!(f, "flow of machine {:?}", name.as_str()),
            Self::TotalFlow => f.write_str("total flow"),
            Self::FanPressure => f.write_str("fan pressure"),
            Self::Section(name) => write!(f, "flow of section {:?}", name.as_str()),
            Self::HoodStatic(name) => {
                write!(f, "static pressure behind hood {:?}", name.as_str())
            }
            Self::SectionStatic(name) => write!(
                f,
                "static pressure at the end of section {:?}",
                name.as_str()
            ),
            Self::BeforeStatic(run) => write!(
                f,
                "static pressure at the end of run {} before the fan",
                run.saturating_add(1)
            ),
        }
    }
}
