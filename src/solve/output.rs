//! What can be asked of a balance as one number.

use super::{adjoint::Weight, plan::Plan};
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
    /// Total flow, at the fan \[m3/s\].
    TotalFlow,
    /// Pressure on the basis of the fan's curve, at the density of the air in the ducts \[Pa\]:
    /// [`FanState::curve_pressure`](super::FanState::curve_pressure).
    FanPressure,
}

impl Output {
    /// The unit of its value, with a leading space.
    #[must_use]
    pub const fn unit(&self) -> &'static str {
        match self {
            Self::Hood(_) | Self::Machine(_) | Self::TotalFlow => " m3/s",
            Self::FanPressure => " Pa",
        }
    }

    /// Tells what it is the sum of; a machine's hoods one by one.
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
                let hoods = || plan.hoods.iter().map(|hood| &hood.name);
                // A machine that shares the name has that hood alone (system/resolve.rs).
                match plan.names.get(name).map(Vec::as_slice) {
                    Some([only])
                        if plan
                            .hoods
                            .get(*only as usize)
                            .is_some_and(|at| at.name == *name) =>
                    {
                        hood(*only);
                    }
                    _ => return Err(unknown("hood", name.as_str(), hoods())),
                }
            }
            Self::Machine(name) => {
                let machines = || plan.machines.iter().map(|machine| &machine.name);
                let found = plan.machines.iter().find(|machine| machine.name == *name);
                let found = found.ok_or_else(|| unknown("machine", name.as_str(), machines()))?;
                found.hoods.iter().for_each(|&at| hood(at));
            }
            Self::TotalFlow => tell(Weight::Total),
            Self::FanPressure => tell(Weight::FanPressure),
        }
        Ok(())
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
        }
    }
}
