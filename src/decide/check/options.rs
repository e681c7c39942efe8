//! What the checks need to know beyond the model, and which limits they hold it against.

use super::collapse::Shell;
use crate::{
    decide::{compare::FanDrive, dust::DustClass, requirement::Requirement},
    place::{Name, Place},
    quantity::Area,
    solve::{Output, UncertainPoint, UncertainValue},
};

/// What the checks need to know beyond the model; everything may be left out, and a finding says
/// what that leaves unchecked or which default was taken.
///
/// ```
/// # #[cfg(feature = "serde")] {
/// let options: airsplit::CheckOptions = toml::from_str(
///     r#"
///     dust = "light_shavings"
///     uncertain = { flow = 0.06, pressure = 0.1 }
///     filter_area = "14 m2"
///     shell = { thickness = "0.6 mm", material = "steel" }
///
///     [[shells]]
///     section = "main"
///     shell = { thickness = "0.6 mm", material = "steel", rings = "3 m" }
///
///     [[requirements]]
///     machine = "saw"
///     need = { look_up = { table_saw = { blade = "315 mm", drive = "3 kW" } } }
///     "#,
/// )?;
/// assert_eq!(options.shells.len(), 1);
/// # }
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, PartialEq, Default)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(default, deny_unknown_fields)
)]
#[non_exhaustive]
pub struct CheckOptions {
    /// What single machines need and throw; a machine appears at most once.
    #[cfg_attr(feature = "serde", serde(skip_serializing_if = "Vec::is_empty"))]
    pub requirements: Vec<Requirement>,
    /// What machines throw whose requirement does not say; `None`: dry chips, 20 m/s.
    #[cfg_attr(feature = "serde", serde(skip_serializing_if = "Option::is_none"))]
    pub dust: Option<DustClass>,
    /// How uncertain the solver's results are.
    #[cfg_attr(feature = "serde", serde(skip_serializing_if = "Option::is_none"))]
    pub uncertain: Option<Uncertain>,
    /// Power curve and motor of the fan.
    #[cfg_attr(feature = "serde", serde(skip_serializing_if = "Option::is_none"))]
    pub drive: Option<FanDrive>,
    /// Area of the cloth of filters that the model does not know by their cloth: 0.001 to
    /// 100 000 m2.
    #[cfg_attr(feature = "serde", serde(skip_serializing_if = "Option::is_none"))]
    pub filter_area: Option<Area>,
    /// Wall of every section, and of the collector's runs before the fan, that has none of its own
    /// in `shells`.
    #[cfg_attr(feature = "serde", serde(skip_serializing_if = "Option::is_none"))]
    pub shell: Option<Shell>,
    /// Walls of single sections; a section appears at most once.
    #[cfg_attr(feature = "serde", serde(skip_serializing_if = "Vec::is_empty"))]
    pub shells: Vec<SectionShell>,
    /// Collapse pressure over the suction that is let stand, 1 to 100; `None`: 4 (3 to 4 is usual:
    /// from memory, not re-read).
    #[cfg_attr(feature = "serde", serde(skip_serializing_if = "Option::is_none"))]
    pub collapse_safety: Option<f64>,
}

/// The wall of a section.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
pub struct SectionShell {
    /// The section.
    pub section: Name,
    /// Its wall.
    pub shell: Shell,
}

/// Relative standard uncertainties of the solver's results, 0 to 10: 0.05 for 5 %.
///
/// Velocities, filter loading and motor load are taken to be as uncertain as the flow.
#[derive(Debug, Clone, PartialEq, Default)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
pub struct Uncertain {
    /// Share of flows, where `at` says nothing else.
    pub flow: f64,
    /// Share of pressures, where `at` says nothing else.
    pub pressure: f64,
    /// Of single places.
    #[cfg_attr(
        feature = "serde",
        serde(default, skip_serializing_if = "Vec::is_empty")
    )]
    pub at: Vec<UncertainAt>,
}

/// Relative standard uncertainties at one place.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
pub struct UncertainAt {
    /// The machine, hood, section, run or part.
    pub place: Place,
    /// Share of its flow and velocity; `None`: as everywhere.
    #[cfg_attr(
        feature = "serde",
        serde(default, skip_serializing_if = "Option::is_none")
    )]
    pub flow: Option<f64>,
    /// Share of its pressure; `None`: as everywhere.
    #[cfg_attr(
        feature = "serde",
        serde(default, skip_serializing_if = "Option::is_none")
    )]
    pub pressure: Option<f64>,
}

impl Uncertain {
    /// Those of a balance: the total flow's and the fan pressure's everywhere, and of every machine
    /// and hood its own flow's.
    ///
    /// ```
    /// # fn main() -> Result<(), Box<dyn std::error::Error>> {
    /// # #[cfg(feature = "serde")] {
    /// use airsplit::{CheckOptions, Network, Study, Uncertain, check};
    /// let study: Study = toml::from_str(&std::fs::read_to_string("examples/chair_shop.toml")?)?;
    /// let network = Network::new(&study.system)?;
    /// let open = network.open(["planer", "lathe"])?;
    /// let doubts = network.doubts(&study.assumptions);
    /// let uncertain = Uncertain::of(&network.uncertainty(&open, &doubts)?);
    /// let options = CheckOptions::new().with_uncertain(uncertain);
    /// let findings = check(&study.system, [&network.operating_point(&open)?], &options)?;
    /// assert!(findings.all.iter().any(|finding| finding.sure == airsplit::Sureness::Surely));
    /// # }
    /// # Ok(())
    /// # }
    /// ```
    #[must_use]
    pub fn of(point: &UncertainPoint) -> Self {
        // Of nothing at all no share can be told; the check takes up to ten times.
        let share = |value: &UncertainValue| {
            let share = value.standard / value.value.abs();
            if share.is_finite() {
                share.min(10.0)
            } else {
                0.0
            }
        };
        let own = point.machines.iter().chain(&point.hoods);
        Self {
            flow: share(&point.flow),
            pressure: share(&point.fan_pressure),
            at: own
                .filter_map(|value| {
                    let place = match &value.output {
                        Output::Machine(name) => Place::Machine(name.clone()),
                        Output::Hood(name) => Place::Hood(name.clone()),
                        _ => return None,
                    };
                    Some(UncertainAt {
                        place,
                        flow: Some(share(value)),
                        pressure: None,
                    })
                })
                .collect(),
        }
    }
}

impl CheckOptions {
    /// Nothing but the model.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// With one more requirement.
    #[must_use]
    pub fn with_requirement(mut self, requirement: Requirement) -> Self {
        self.requirements.push(requirement);
        self
    }

    /// With this dust from every machine whose requirement does not say.
    #[must_use]
    pub fn with_dust(mut self, dust: DustClass) -> Self {
        self.dust = Some(dust);
        self
    }

    /// With the solver's results this uncertain.
    #[must_use]
    pub fn with_uncertain(mut self, uncertain: Uncertain) -> Self {
        self.uncertain = Some(uncertain);
        self
    }

    /// With this power curve and motor.
    #[must_use]
    pub fn with_drive(mut self, drive: FanDrive) -> Self {
        self.drive = Some(drive);
        self
    }

    /// With this area of cloth.
    #[must_use]
    pub fn with_filter_area(mut self, area: Area) -> Self {
        self.filter_area = Some(area);
        self
    }

    /// With this wall everywhere.
    #[must_use]
    pub fn with_shell(mut self, shell: Shell) -> Self {
        self.shell = Some(shell);
        self
    }

    /// With this wall for one section.
    #[must_use]
    pub fn with_section_shell(mut self, section: impl Into<Name>, shell: Shell) -> Self {
        self.shells.push(SectionShell {
            section: section.into(),
            shell,
        });
        self
    }

    /// With this safety factor against collapse.
    #[must_use]
    pub fn with_collapse_safety(mut self, factor: f64) -> Self {
        self.collapse_safety = Some(factor);
        self
    }
}

impl Uncertain {
    pub(super) fn flow(&self, place: &Place) -> f64 {
        let at = self.at.iter().find(|at| at.place == *place);
        at.and_then(|at| at.flow).unwrap_or(self.flow)
    }

    pub(super) fn pressure(&self, place: &Place) -> f64 {
        let at = self.at.iter().find(|at| at.place == *place);
        at.and_then(|at| at.pressure).unwrap_or(self.pressure)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_place_has_its_own_uncertainty_or_that_of_all() {
        let uncertain = Uncertain {
            flow: 0.1,
            pressure: 0.2,
            at: vec![UncertainAt {
                place: Place::Fan,
                flow: None,
                pressure: Some(0.05),
            }],
        };
        assert_eq!(uncertain.pressure(&Place::Fan), 0.05);
        assert_eq!(uncertain.pressure(&Place::Collector), 0.2);
        assert_eq!(uncertain.flow(&Place::Fan), 0.1);
    }
}
