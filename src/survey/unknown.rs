//! What calibration may move: named numbers of a system, each with what was believed before.

use super::{calibrate_error::CalibrateError, fit, movers::Movers};
use crate::{
    loss::{Hose, HoseKind, Part},
    place::{Name, Place},
    solve::{Network, Spread},
    system::{Parameter, Setting, System},
};

/// Something about a system that readings are to tell: one number, or several that move together.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct Unknown {
    /// What it is called.
    pub name: Name,
    /// The numbers that it moves; never empty.
    pub numbers: Vec<NumberAt>,
    /// How it moves them.
    pub moves: Moves,
    /// What was believed before any reading: 1 of a factor, the number itself else.
    pub start: f64,
    /// Standard uncertainty of that, in its unit, above 0: of a [scaled](Spread::Scaled) unknown that of its
    /// logarithm.
    pub standard: f64,
    /// How it may lie about its start. A scaled one stays above 0.
    pub spread: Spread,
}

/// One number of a system by its place.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
pub struct NumberAt {
    /// The element.
    pub place: Place,
    /// Which of its numbers.
    pub parameter: Parameter,
}

/// How an unknown moves its numbers.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "snake_case")
)]
#[non_exhaustive]
pub enum Moves {
    /// Each is multiplied by it, in the form in which it may be anything above 0: of a permeability,
    /// to which loss is inverse, 1 / it; of the friction of ribbed hose what exceeds that of smooth
    /// duct, h - 1; of the slack c of a hose c / (1 - c).
    Times,
    /// Each is set to it.
    To,
}

/// The usual unknowns of a shop.
///
/// What was believed before is judgement (common practice, no source): the standard uncertainty of
/// the logarithm that stands with each.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "snake_case")
)]
#[non_exhaustive]
pub enum UnknownKind {
    /// A factor on the slack of wire hose and on the friction of ribbed hose; 0.5.
    HoseSlack,
    /// A factor on the loss of filters; 0.4.
    FilterResistance,
    /// A factor on the roughness of walls; 0.3.
    WallRoughness,
    /// One coefficient that all joins take beyond their formula, about 0.05; 1.
    WyeExtra,
    /// A factor on the loss of separators; 0.3.
    SeparatorLoss,
    /// A factor on the pressure of the fan; 0.05.
    FanScale,
    /// A factor on the leaks of shut gates, open ends and walls; 0.7.
    LeakArea,
}

impl UnknownKind {
    /// All of them.
    pub const ALL: [Self; 7] = [
        Self::HoseSlack,
        Self::FilterResistance,
        Self::WallRoughness,
        Self::WyeExtra,
        Self::SeparatorLoss,
        Self::FanScale,
        Self::LeakArea,
    ];

    const fn name(self) -> &'static str {
        match self {
            Self::HoseSlack => "hose slack",
            Self::FilterResistance => "filter resistance",
            Self::WallRoughness => "wall roughness",
            Self::WyeExtra => "wye extra",
            Self::SeparatorLoss => "separator loss",
            Self::FanScale => "fan scale",
            Self::LeakArea => "leak area",
        }
    }

    const fn standard(self) -> f64 {
        match self {
            Self::HoseSlack => 0.5,
            Self::FilterResistance => 0.4,
            Self::WallRoughness | Self::SeparatorLoss => 0.3,
            Self::WyeExtra => 1.0,
            Self::FanScale => 0.05,
            Self::LeakArea => 0.7,
        }
    }

    /// Whether a number of the system, which stands in this part if in any, is one of its.
    fn moves(self, setting: &Setting, part: Option<&Part>) -> bool {
        let parameter = setting.parameter;
        let drops = matches!(
            parameter,
            Parameter::Drop
                | Parameter::LinearDrop
                | Parameter::QuadraticDrop
                | Parameter::Permeability
                | Parameter::K
        );
        match self {
            Self::HoseSlack => match part {
                Some(Part::Hose(Hose { kind, .. })) => match kind {
                    HoseKind::Wire { .. } => parameter == Parameter::Compression,
                    HoseKind::Ribbed { .. } => parameter == Parameter::HoseFactor,
                    HoseKind::Corrugated { .. } => false,
                },
                _ => false,
            },
            Self::FilterResistance => matches!(part, Some(Part::Filter(_))) && drops,
            Self::SeparatorLoss => matches!(part, Some(Part::Separator(_))) && drops,
            Self::WallRoughness => parameter == Parameter::Roughness,
            Self::WyeExtra => {
                matches!(setting.place, Place::Join(_)) && parameter == Parameter::ExtraK
            }
            Self::FanScale => setting.place == Place::Fan && parameter == Parameter::Factor,
            Self::LeakArea => matches!(
                parameter,
                Parameter::LeakArea | Parameter::LeakFlow | Parameter::Leakage
            ),
        }
    }
}

impl Unknown {
    /// Most unknowns of one calibration: the work grows with the cube of their number.
    pub const MOST: usize = 200;

    /// A usual unknown of a system: all numbers of its kind together, or those of one section.
    ///
    /// # Errors
    ///
    /// [`CalibrateError::NothingToMove`] where the system, or the section, has none above 0.
    pub fn usual(
        system: &System,
        kind: UnknownKind,
        section: Option<&Name>,
    ) -> Result<Self, CalibrateError> {
        let network = Network::new(system)?;
        let numbers = network.settings().into_iter().filter(|setting| {
            let here = match (&setting.place, section) {
                (_, None) => true,
                (
                    Place::Section(id) | Place::Part { section: id, .. } | Place::Join(id),
                    Some(own),
                ) => id == own,
                _ => false,
            };
            let movable =
                || kind == UnknownKind::WyeExtra || free(setting.parameter, setting.value) > 0.0;
            here && kind.moves(setting, part(system, &setting.place)) && movable()
        });
        let numbers: Vec<NumberAt> = numbers
            .map(|setting| NumberAt {
                place: setting.place,
                parameter: setting.parameter,
            })
            .collect();
        let name = match section {
            Some(section) => format!("{} of {section}", kind.name()),
            None => kind.name().to_owned(),
        };
        let name = Name::from(name);
        if numbers.is_empty() {
            return Err(CalibrateError::NothingToMove { unknown: name });
        }
        let (moves, start) = match kind {
            UnknownKind::WyeExtra => (Moves::To, 0.05),
            _ => (Moves::Times, 1.0),
        };
        Ok(Self {
            name,
            numbers,
            moves,
            start,
            standard: kind.standard(),
            spread: Spread::Scaled,
        })
    }

    /// Every usual unknown that a system has.
    ///
    /// # Errors
    ///
    /// Faults of the model.
    pub fn all_usual(system: &System) -> Result<Vec<Self>, CalibrateError> {
        let kinds = UnknownKind::ALL.into_iter();
        kinds
            .map(|kind| match Self::usual(system, kind, None) {
                Err(CalibrateError::NothingToMove { .. }) => Ok(None),
                other => other.map(Some),
            })
            .filter_map(Result::transpose)
            .collect()
    }

    /// A factor on some numbers, 1 before any reading, its logarithm known to `standard`.
    #[must_use]
    pub fn factor(
        name: impl Into<Name>,
        numbers: impl IntoIterator<Item = NumberAt>,
        standard: f64,
    ) -> Self {
        Self {
            name: name.into(),
            numbers: numbers.into_iter().collect(),
            moves: Moves::Times,
            start: 1.0,
            standard,
            spread: Spread::Scaled,
        }
    }

    /// One number, believed to be `start`, known to `standard` in its own unit.
    #[must_use]
    pub fn number(name: impl Into<Name>, number: NumberAt, start: f64, standard: f64) -> Self {
        Self {
            name: name.into(),
            numbers: vec![number],
            moves: Moves::To,
            start,
            standard,
            spread: Spread::Even,
        }
    }

    /// Believed before to within another standard uncertainty, in the unit of
    /// [`standard`](Self::standard).
    #[must_use]
    pub fn known_to(mut self, standard: f64) -> Self {
        self.standard = standard;
        self
    }

    /// A system with the unknown at this value, in the unit of [`start`](Self::start), moved from where its numbers stand.
    ///
    /// # Errors
    ///
    /// An unknown that does not fit the system; every fault of the system so moved.
    pub fn moved(&self, system: &System, value: f64) -> Result<System, CalibrateError> {
        Movers::new(system, std::slice::from_ref(self))?.system(system, &[value])
    }

    pub(super) fn for_fit(&self) -> fit::Unknown {
        fit::Unknown {
            name: self.name.as_str().to_owned(),
            start: self.start,
            standard: self.standard,
            spread: self.spread,
        }
    }
}

/// A number that a factor moves, in the form in which it may be anything above 0: the permeability to
/// which loss is inverse, the friction of a ribbed hose beyond that of smooth duct, the slack of a hose
/// over its length as it hangs.
fn free(parameter: Parameter, number: f64) -> f64 {
    match parameter {
        Parameter::Permeability => 1.0 / number,
        Parameter::HoseFactor => number - 1.0,
        Parameter::Compression => number / (1.0 - number),
        _ => number,
    }
}

/// The number of that form.
fn bound(parameter: Parameter, free: f64) -> f64 {
    match parameter {
        Parameter::Permeability => 1.0 / free,
        Parameter::HoseFactor => 1.0 + free,
        Parameter::Compression => free / (1.0 + free),
        _ => free,
    }
}

impl NumberAt {
    /// Whether a factor moves the number, which stands at `number`.
    pub(super) fn is_moved_by_a_factor(&self, number: f64) -> bool {
        free(self.parameter, number) != 0.0
    }

    /// The number, which stands at `number`, moved by an unknown of this value.
    pub(super) fn moved(&self, moves: Moves, number: f64, unknown: f64) -> f64 {
        match moves {
            Moves::Times => bound(self.parameter, free(self.parameter, number) * unknown),
            Moves::To => unknown,
        }
    }

    /// How the number changes with the unknown that moves it, where they stand at these values.
    pub(super) fn rate(&self, moves: Moves, number: f64, unknown: f64) -> f64 {
        let of_factor = match self.parameter {
            Parameter::Permeability => -number,
            Parameter::HoseFactor => number - 1.0,
            Parameter::Compression => number * (1.0 - number),
            _ => number,
        };
        match moves {
            Moves::Times => of_factor / unknown,
            Moves::To => 1.0,
        }
    }
}

/// The part at a place.
fn part<'a>(system: &'a System, place: &Place) -> Option<&'a Part> {
    match place {
        Place::Part { section, part } => {
            let mut sections = system.sections.iter();
            sections.find(|at| at.id == *section)?.parts.get(*part)
        }
        Place::Before {
            run,
            part: Some(part),
        } => system.collector.before.get(*run)?.parts.get(*part),
        Place::After {
            run,
            part: Some(part),
        } => system.collector.after.get(*run)?.parts.get(*part),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand, from the forms that the doc of [`Moves`] gives.
    #[test]
    fn factors_keep_numbers_in_their_ranges() {
        let at = |parameter| NumberAt {
            place: Place::Fan,
            parameter,
        };
        let moved = |parameter, number, by| at(parameter).moved(Moves::Times, number, by);
        assert_eq!(moved(Parameter::Drop, 240.0, 1.5), 360.0);
        assert_eq!(moved(Parameter::Permeability, 30.0, 1.5), 20.0);
        assert_eq!(moved(Parameter::HoseFactor, 3.0, 0.25), 1.5);
        // 0.2 / 0.8 = 1/4 of the length as it hangs; four times that is 1, half of the full length.
        assert_eq!(moved(Parameter::Compression, 0.2, 4.0), 0.5);
        assert_eq!(at(Parameter::ExtraK).moved(Moves::To, 0.0, 0.3), 0.3);
        for parameter in [
            Parameter::Drop,
            Parameter::Permeability,
            Parameter::HoseFactor,
            Parameter::Compression,
        ] {
            let number = if parameter == Parameter::Compression {
                0.3
            } else {
                4.0
            };
            let (at, h) = (at(parameter), 1e-6);
            let of = |unknown| at.moved(Moves::Times, number, unknown);
            let slope = (of(1.3 + h) - of(1.3 - h)) / (2.0 * h);
            let rate = at.rate(Moves::Times, of(1.3), 1.3);
            assert!(
                (slope / rate - 1.0).abs() < 1e-8,
                "{parameter}: {slope} {rate}"
            );
        }
    }
}
