//! Numbers of a system by place and name, and factors beside them.

use super::{
    fault::{ModelError, ModelErrors, ModelFault},
    model::{Start, System},
    names::unknown,
    number::{self, Change},
    parameter::Parameter,
    topology::Topology,
};
use crate::{
    loss::{Junction, LossError, Part},
    place::{Name, Place},
};
use std::{
    collections::{BTreeMap, HashMap},
    fmt,
};

/// One number of a system: where, which, how much.
///
/// ```
/// use airsplit::{Parameter, Place, Setting};
/// let rough = Setting::new(Place::Section("main".into()), Parameter::Roughness, 0.15e-3);
/// assert_eq!(rough.to_string(), "section \"main\": roughness 0.00015 m");
/// ```
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[non_exhaustive]
pub struct Setting {
    /// The element.
    pub place: Place,
    /// Which of its numbers.
    pub parameter: Parameter,
    /// How much, in the unit of the parameter.
    pub value: f64,
}

impl Setting {
    /// A number of that element, in the [unit](Parameter::unit) of the parameter.
    #[must_use]
    pub const fn new(place: Place, parameter: Parameter, value: f64) -> Self {
        Self {
            place,
            parameter,
            value,
        }
    }
}

impl fmt::Display for Setting {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let unit = self.parameter.unit();
        write!(f, "{}: {} {}{unit}", self.place, self.parameter, self.value)
    }
}

/// Where a number stands, by index.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Spot {
    Air,
    Fan,
    Before { run: usize, part: Option<usize> },
    After { run: usize, part: Option<usize> },
    Section(usize),
    Part { section: usize, part: usize },
    Join(usize),
    Hood(usize),
}

/// What stands beside the numbers of a system: factors on parts and on the fan's pressure, and
/// extra coefficients of joins, which may here be below zero.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Factors(BTreeMap<Spot, f64>);

/// Largest factor; beyond it another part is meant.
const MOST_FACTOR: f64 = 1e3;

impl Factors {
    pub(crate) const NONE: Self = Self(BTreeMap::new());

    /// What the loss at a spot is multiplied by.
    pub(crate) fn factor(&self, spot: Spot) -> Result<f64, LossError> {
        match self.0.get(&spot) {
            None => Ok(1.0),
            Some(&factor) => LossError::within("factor", factor, "", 0.0, MOST_FACTOR),
        }
    }

    /// What the fan's pressure is multiplied by.
    pub(crate) fn of_fan(&self) -> Result<f64, LossError> {
        let factor = self.factor(Spot::Fan)?;
        LossError::within("factor", factor, "", 1e-3, MOST_FACTOR)
    }

    /// The extra coefficient of a join, if it was set.
    pub(crate) fn extra_k(&self, section: usize) -> Option<f64> {
        self.0.get(&Spot::Join(section)).copied()
    }
}

/// A system and what stands beside its numbers.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Model<'a> {
    pub(crate) system: &'a System,
    pub(crate) factors: &'a Factors,
}

impl<'a> Model<'a> {
    /// A system as it stands.
    pub(crate) fn plain(system: &'a System) -> Self {
        const NONE: &Factors = &Factors::NONE;
        Self {
            system,
            factors: NONE,
        }
    }
}

impl Spot {
    /// The one way to point at it.
    pub(crate) fn place(self, system: &System) -> Place {
        let id = |section: usize| {
            system
                .sections
                .get(section)
                .map(|section| section.id.clone())
        };
        let name = match self {
            Self::Air => return Place::Air,
            Self::Fan => return Place::Fan,
            Self::Before { run, part } => return Place::Before { run, part },
            Self::After { run, part } => return Place::After { run, part },
            Self::Section(section) => id(section).map(Place::Section),
            Self::Part { section, part } => {
                id(section).map(|section| Place::Part { section, part })
            }
            Self::Join(section) => id(section).map(Place::Join),
            Self::Hood(section) => match system.sections.get(section).map(|s| &s.start) {
                Some(Start::Hood(hood)) => Some(Place::Hood(hood.id.clone())),
                _ => None,
            },
        };
        name.unwrap_or(Place::System)
    }
}

/// Where sections and hoods stand, by name.
struct Places<'a> {
    sections: HashMap<&'a Name, usize>,
    hoods: HashMap<&'a Name, usize>,
}

impl<'a> Places<'a> {
    fn of(system: &'a System) -> Self {
        let mut places = Self {
            sections: HashMap::new(),
            hoods: HashMap::new(),
        };
        for (i, section) in system.sections.iter().enumerate() {
            places.sections.entry(&section.id).or_insert(i);
            if let Start::Hood(hood) = &section.start {
                places.hoods.entry(&hood.id).or_insert(i);
            }
        }
        places
    }

    fn spot(&self, setting: &Setting) -> Result<Spot, ModelFault> {
        let find = |what, among: &HashMap<&Name, usize>, name: &Name| {
            let found = among.get(name).copied();
            found.ok_or_else(|| unknown(what, name.as_str(), among.keys().copied()).into())
        };
        let section =
            |id: &Name| -> Result<usize, ModelFault> { find("section", &self.sections, id) };
        Ok(match &setting.place {
            Place::Air => Spot::Air,
            Place::Fan => Spot::Fan,
            &Place::Before { run, part } => Spot::Before { run, part },
            &Place::After { run, part } => Spot::After { run, part },
            Place::Section(id) => Spot::Section(section(id)?),
            Place::Part { section: id, part } => Spot::Part {
                section: section(id)?,
                part: *part,
            },
            Place::Join(id) => Spot::Join(section(id)?),
            Place::Hood(id) => Spot::Hood(find("hood", &self.hoods, id)?),
            Place::System | Place::Collector | Place::Machine(_) => {
                return Err(ModelFault::NoNumber {
                    parameter: setting.parameter,
                });
            }
        })
    }
}

impl Spot {
    /// Shows the visitor every number that stands here, and takes what it gives.
    ///
    /// Joins need to know who meets where, and by which model.
    pub(crate) fn visit(
        self,
        system: &mut System,
        factors: &mut Factors,
        model: Option<Junction>,
        change: &mut Change<'_>,
    ) -> Result<(), LossError> {
        let mut part = |at: Option<&mut Part>| {
            let Some(at) = at else { return };
            number::part(change, at);
            if !number::scales(at) {
                factors.show(self, Parameter::Factor, 1.0, change);
            }
        };
        match self {
            Self::Air => number::air(change, &mut system.air),
            Self::Fan => {
                if let Some(fan) = &mut system.collector.fan {
                    number::fan(change, fan)?;
                    factors.show(self, Parameter::Factor, 1.0, change);
                }
            }
            Self::Before { run, part: at } | Self::After { run, part: at } => {
                let runs = match self {
                    Self::Before { .. } => &mut system.collector.before,
                    _ => &mut system.collector.after,
                };
                match (runs.get_mut(run), at) {
                    (Some(run), None) => number::run(change, run),
                    (Some(run), Some(at)) => part(run.parts.get_mut(at)),
                    _ => {}
                }
            }
            Self::Section(section) => {
                if let Some(section) = system.sections.get_mut(section) {
                    number::section(change, section);
                }
            }
            Self::Part { section, part: at } => {
                if let Some(section) = system.sections.get_mut(section) {
                    part(section.parts.get_mut(at));
                }
            }
            Self::Join(i) => {
                if let (Some(section), Some(model)) = (system.sections.get_mut(i), model) {
                    number::join(change, &mut section.join, model);
                    let own = section.join.extra_k;
                    factors.show(self, Parameter::ExtraK, own, change);
                }
            }
            Self::Hood(section) => {
                if let Some(section) = system.sections.get_mut(section)
                    && let Start::Hood(hood) = &mut section.start
                {
                    number::hood(change, hood, section.size);
                }
            }
        }
        Ok(())
    }
}

impl Factors {
    fn show(&mut self, spot: Spot, parameter: Parameter, own: f64, change: &mut Change<'_>) {
        let now = self.0.get(&spot).copied().unwrap_or(own);
        if let Some(value) = change(parameter, now) {
            self.0.insert(spot, value);
        }
    }
}

/// Every spot of a system, in its order: air, fan, collector, then each section with its parts,
/// its join and its hood.
pub(crate) fn spots(system: &System) -> impl Iterator<Item = Spot> {
    let runs = |runs: &[super::model::Run], spot: fn(usize, Option<usize>) -> Spot| {
        let mut spots = Vec::new();
        for (i, run) in runs.iter().enumerate() {
            spots.push(spot(i, None));
            spots.extend((0..run.parts.len()).map(|part| spot(i, Some(part))));
        }
        spots
    };
    let before = runs(&system.collector.before, |run, part| Spot::Before {
        run,
        part,
    });
    let after = runs(&system.collector.after, |run, part| Spot::After {
        run,
        part,
    });
    let sections = system.sections.iter().enumerate().flat_map(|(i, section)| {
        let parts = (0..section.parts.len()).map(move |part| Spot::Part { section: i, part });
        std::iter::once(Spot::Section(i))
            .chain(parts)
            .chain([Spot::Join(i), Spot::Hood(i)])
    });
    [Spot::Air, Spot::Fan]
        .into_iter()
        .chain(before)
        .chain(after)
        .chain(sections)
}

/// The model by which a section meets others at its downstream end; `None` where it meets nobody.
pub(crate) fn meets_by(system: &System, topology: &Topology, section: usize) -> Option<Junction> {
    let own = match *topology.outlets.get(section)? {
        Some(outlet) if topology.inlets.get(outlet)?.len() > 1 => {
            system.sections.get(outlet)?.junction
        }
        None if topology.mains.len() > 1 => system.collector.junction,
        _ => return None,
    };
    Some(own.unwrap_or(system.junction))
}

impl System {
    /// The system with these numbers in place of its own: those of
    /// [`Network::settings`](crate::Network::settings) that a system can hold. It stays as it is
    /// itself.
    ///
    /// As [`Network::varied`](crate::Network::varied), but the answer is again a system that can be
    /// changed and written. Of the factors that stand beside a system's numbers only that of the
    /// fan has a place in it: it is taken into the curve.
    ///
    /// # Errors
    ///
    /// A setting that names no number of the system, or the factor of a part; every fault of the
    /// system so changed.
    pub fn with_numbers<'a>(
        &self,
        settings: impl IntoIterator<Item = &'a Setting>,
    ) -> Result<Self, ModelErrors> {
        let (mut system, factors) = self.vary(Factors::default(), settings)?;
        let mut faults = Vec::new();
        for (&spot, &value) in &factors.0 {
            match spot {
                Spot::Fan => {
                    let fan = system.collector.fan.as_ref();
                    match fan.map(|fan| fan.at_pressure_ratio(value)) {
                        Some(Ok(fan)) => system.collector.fan = Some(fan),
                        Some(Err(error)) => faults.push(ModelError::new(Place::Fan, error)),
                        None => {}
                    }
                }
                Spot::Join(i) => {
                    if let Some(section) = system.sections.get_mut(i) {
                        section.join.extra_k = value;
                    }
                }
                _ => faults.push(ModelError::new(
                    spot.place(self),
                    ModelFault::NoNumber {
                        parameter: Parameter::Factor,
                    },
                )),
            }
        }
        ModelErrors::none_of(faults)?;
        system.check()?;
        Ok(system)
    }

    /// A copy with these numbers in place of its own, and what stands beside them; `factors`
    /// stood there before.
    pub(crate) fn vary<'a>(
        &self,
        mut factors: Factors,
        settings: impl IntoIterator<Item = &'a Setting>,
    ) -> Result<(Self, Factors), ModelErrors> {
        let mut faults = Vec::new();
        let topology = Topology::of(self, &mut faults);
        let mut system = self.clone();
        let places = Places::of(self);
        for setting in settings {
            let mut taken = false;
            let put = |spot: Spot| {
                let model = match spot {
                    Spot::Join(section) => meets_by(self, &topology, section),
                    _ => None,
                };
                let put = &mut |parameter, _| {
                    let here = parameter == setting.parameter;
                    taken |= here;
                    here.then_some(setting.value)
                };
                spot.visit(&mut system, &mut factors, model, put)?;
                let parameter = setting.parameter;
                taken
                    .then_some(())
                    .ok_or(ModelFault::NoNumber { parameter })
            };
            if let Err(fault) = places.spot(setting).and_then(put) {
                faults.push(ModelError::new(setting.place.clone(), fault));
            }
        }
        ModelErrors::none_of(faults)?;
        Ok((system, factors))
    }
}
