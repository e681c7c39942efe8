//! How well the numbers of a system are known.

use super::{
    Network,
    plan::Plan,
    probe::{self, Number},
};
use crate::{
    air::Air,
    loss::{Gate, Hose, HoseKind, Junction, Part, Separator, Wall},
    place::Place,
    system::{Assumption, Parameter, Spot, System, meets_by},
};
use std::borrow::Cow;

/// Half the width of a normal distribution's band that holds 95 %, in standard deviations.
pub(crate) const HALF_BAND: f64 = 1.959_963_984_540_054;

/// A number of the system, and how well it is known.
///
/// ```
/// use airsplit::{Doubt, Parameter, Place, Spread};
/// // A tap drilled into the hood gave its coefficient to about 5 %.
/// let measured = Doubt::new(Place::Hood("planer port".into()), Parameter::K, 0.05, "measured")
///     .spread(Spread::Scaled);
/// assert!(!measured.assumed);
/// ```
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct Doubt {
    /// The element.
    pub place: Place,
    /// Which of its numbers.
    pub parameter: Parameter,
    /// Standard uncertainty, 0 or more: in the unit of the parameter, or, of a
    /// [scaled](Spread::Scaled) number, that of its logarithm.
    pub standard: f64,
    /// How the true number may lie about the one that stands in the system.
    pub spread: Spread,
    /// Numbers that one and the same cause may put off, all the same way, share its name. Those
    /// without are independent of all others.
    pub cause: Option<Cow<'static, str>>,
    /// Whether the number itself was assumed because the owner did not know it.
    pub assumed: bool,
    /// Where the uncertainty comes from.
    pub source: Cow<'static, str>,
}

/// How the true number may lie about the one that stands in the system.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "snake_case")
)]
#[non_exhaustive]
pub enum Spread {
    /// Normally, as much above as below.
    #[default]
    Even,
    /// Its logarithm normally: as likely twice as much as half. For numbers above zero that are off
    /// by a factor; the standard uncertainty is that of the logarithm, which is nearly the relative
    /// one where it is small.
    Scaled,
}

impl Doubt {
    /// A number that is given and evenly spread, independent of all others; its standard uncertainty
    /// in the SI unit of the number.
    #[must_use]
    pub fn new(
        place: Place,
        parameter: Parameter,
        standard: f64,
        source: impl Into<Cow<'static, str>>,
    ) -> Self {
        Self {
            place,
            parameter,
            standard,
            spread: Spread::Even,
            cause: None,
            assumed: false,
            source: source.into(),
        }
    }

    /// Spread like this.
    #[must_use]
    pub fn spread(mut self, spread: Spread) -> Self {
        self.spread = spread;
        self
    }

    /// Put off, together with others, by this cause.
    #[must_use]
    pub fn caused_by(mut self, cause: impl Into<Cow<'static, str>>) -> Self {
        self.cause = Some(cause.into());
        self
    }

    /// What an assumption's band of 95 % amounts to: its width over 2 x 1.96, of a number that may
    /// be off by a factor on a logarithmic scale.
    ///
    /// A band that lies to one side of the assumed value is taken as one of its width about it.
    /// Walls, hoses and elbows that were assumed alike are off alike.
    #[must_use]
    pub fn of_assumption(assumption: &Assumption) -> Self {
        let Assumption {
            parameter,
            value,
            low,
            high,
            ..
        } = *assumption;
        let scaled = off_by_factor(parameter) && 0.0 < low && low <= value && value <= high;
        let width = if scaled {
            (high / low).ln()
        } else {
            high - low
        };
        let alike = match (parameter, &assumption.place) {
            (Parameter::Roughness, _) => Some("roughness of assumed walls"),
            (Parameter::HoseFactor, _) => Some("friction of assumed hoses"),
            (Parameter::K, Place::Part { .. }) => Some("coefficient of assumed elbows"),
            _ => None,
        };
        Self {
            spread: if scaled { Spread::Scaled } else { Spread::Even },
            cause: alike.map(Cow::Borrowed),
            assumed: true,
            ..Self::new(
                assumption.place.clone(),
                parameter,
                0.5 * width.abs() / HALF_BAND,
                assumption.source,
            )
        }
    }

    /// The standard uncertainty in the unit of the parameter, where the number is `value`.
    pub(crate) fn standard_at(&self, value: f64) -> f64 {
        match self.spread {
            Spread::Even => self.standard,
            Spread::Scaled => self.standard * value.abs(),
        }
    }

    /// The number that lies `z` standard uncertainties from `value`.
    pub(super) fn at(&self, value: f64, z: f64) -> f64 {
        match self.spread {
            Spread::Even => value + z * self.standard,
            Spread::Scaled => value * (z * self.standard).exp(),
        }
    }
}

fn off_by_factor(parameter: Parameter) -> bool {
    matches!(
        parameter,
        Parameter::Factor
            | Parameter::K
            | Parameter::Roughness
            | Parameter::HoseFactor
            | Parameter::LeakArea
            | Parameter::LeakFlow
            | Parameter::Leakage
            | Parameter::Drop
            | Parameter::LinearDrop
            | Parameter::QuadraticDrop
            | Parameter::Permeability
            | Parameter::DustLoad
            | Parameter::CakeResistance
    )
}

impl Network {
    /// How well each number is known that this network's answers depend on, where nothing better
    /// is said: a start to be corrected by who knows the shop.
    ///
    /// A number that was assumed has the band of its assumption. Assumptions that no answer depends
    /// on, a required flow or the wall of a section without duct, are left out.
    ///
    /// The standard uncertainties are these, and each carries its source; nearly all are judgement
    /// (common practice, no source):
    ///
    /// | number | standard uncertainty |
    /// |---|---|
    /// | sizes | 0.5 %; length 2 %; angle 2 degrees; r/D 5 %; gate opening 0.02 |
    /// | roughness of a named wall | its range in the 2021 ASHRAE Handbook - Fundamentals, ch. 21, table 1, as a 95 % band; else x 1.5 |
    /// | Colebrook's friction factor | 5 %, one cause for all duct |
    /// | hoses | slack 0.025; formula for slack hose 25 %; ribbed hose x 1.7 to 6 of 3 (95 %) |
    /// | elbows, transitions and gates by formula | 15 %, one cause for each kind |
    /// | coefficients that are given | 20 % |
    /// | how inlets meet | 0.1 velocity pressures, one cause for all junctions; the table at [`Junction`] is of that order |
    /// | fan | 5 % of pressure, 1 % of speed |
    /// | vessels | separator 15 % (dust lowers a cyclone's loss by 10 to 30 %), filter 20 %, dust 50 % |
    /// | leaks | x 2 either way (95 %) |
    /// | air | 85 m (the weather moves the barometer by 1 kPa), 3 K, humidity 0.1; given density 1 %, viscosity 2 % |
    ///
    /// The bores of a straight run at a wye by formula are taken as exact: the formula refuses any
    /// but equal ones.
    #[must_use]
    pub fn doubts(&self, assumptions: &[Assumption]) -> Vec<Doubt> {
        let plan = self.plan();
        let system = &plan.origin.system;
        probe::numbers(plan)
            .iter()
            .filter_map(|number| {
                let place = number.spot.place(system);
                let assumed = assumptions
                    .iter()
                    .find(|at| at.parameter == number.parameter && at.place == place);
                if let Some(assumption) = assumed {
                    return Some(Doubt::of_assumption(assumption));
                }
                let usual = usual(plan, number)?;
                let (standard, spread) = match usual.size {
                    By(standard) => (standard, Spread::Even),
                    Of(_) if number.value <= 0.0 => return None,
                    Of(share) => (share, Spread::Scaled),
                };
                let doubt = Doubt::new(place, number.parameter, standard, usual.source);
                Some(Doubt {
                    spread,
                    cause: usual.cause.map(Cow::Borrowed),
                    ..doubt
                })
            })
            .collect()
    }
}

/// A usual uncertainty.
struct Usual {
    size: Size,
    cause: Option<&'static str>,
    source: &'static str,
}

enum Size {
    /// In the unit of the parameter.
    By(f64),
    /// As a share.
    Of(f64),
}

use Size::{By, Of};

const PRACTICE: &str = "common practice, no source";

/// Standard deviation of the logarithm where 95 % lie within a factor of this either way.
fn within_factor(factor: f64) -> Size {
    Of(factor.ln() / HALF_BAND)
}

impl Usual {
    const fn new(size: Size) -> Option<Self> {
        Some(Self {
            size,
            cause: None,
            source: PRACTICE,
        })
    }

    const fn together(size: Size, cause: &'static str) -> Option<Self> {
        Some(Self {
            size,
            cause: Some(cause),
            source: PRACTICE,
        })
    }
}

fn usual(plan: &Plan, number: &Number) -> Option<Usual> {
    let system = &plan.origin.system;
    match (number.spot, number.parameter) {
        (Spot::Air, Parameter::Altitude) => Some(Usual {
            source: "the weather moves the barometer by about 1 kPa; common practice, no source",
            ..Usual::new(By(85.0))?
        }),
        (Spot::Air, Parameter::Barometer) => Usual::new(By(300.0)),
        (Spot::Air, Parameter::Temperature) => Usual::new(By(3.0)),
        (Spot::Air, Parameter::Humidity) => Usual::new(By(0.1)),
        // Of moist air they follow from the weather.
        (Spot::Air, _) if matches!(system.air, Air::Moist { .. }) => None,
        (Spot::Air, Parameter::Density) => Usual::new(Of(0.01)),
        (Spot::Air, Parameter::Viscosity) => Usual::new(Of(0.02)),
        (Spot::Fan, Parameter::Factor) => Usual::new(Of(0.05)),
        (Spot::Fan, Parameter::Speed) => Usual::new(Of(0.01)),
        // A curve of two numbers has no shape that anybody gave; its band, 0.35 to 0.85, is wide.
        (Spot::Fan, Parameter::Shape) => Usual::new(By(0.25 / HALF_BAND)),
        (spot, parameter) if parameter.is_of_bore() => {
            if is_straight_at_formula(plan, spot) {
                None
            } else {
                Usual::new(Of(0.005))
            }
        }
        (_, Parameter::Roughness) => roughness(wall(system, number.spot)?),
        (Spot::Section(_), Parameter::Leakage | Parameter::LeakArea) => {
            Usual::new(within_factor(2.0))
        }
        (Spot::Section(_), Parameter::LeakFlow) => Usual::new(Of(0.1)),
        (Spot::Section(_), Parameter::Exponent) => Usual::new(By(0.03)),
        (Spot::Join(_), Parameter::ExtraK) => Usual::together(By(0.1), "how inlets meet"),
        (Spot::Join(_), Parameter::K) => Usual::new(By(0.1)),
        (Spot::Hood(_), Parameter::K) => Usual::new(Of(0.2)),
        // Of a hood the coefficient alone: shape and coefficient are one.
        (Spot::Hood(_), _) => None,
        (_, Parameter::Angle) => Usual::new(By(2.0)),
        _ => of_part(part(system, number.spot)?, number.parameter),
    }
}

fn of_part(part: &Part, parameter: Parameter) -> Option<Usual> {
    match (part, parameter) {
        (Part::Duct(_), Parameter::Factor) => {
            Usual::together(Of(0.05), "friction factor of Colebrook")
        }
        (_, Parameter::Length | Parameter::Area) => Usual::new(Of(0.02)),
        (_, Parameter::RadiusRatio | Parameter::Pitch) => Usual::new(Of(0.05)),
        (_, Parameter::Compression) => Usual::new(By(0.025)),
        (_, Parameter::HoseFactor) => {
            let [low, high] = HoseKind::RIBBED_BAND;
            Usual::together(
                Of(0.5 * (high / low).ln() / HALF_BAND),
                "friction of ribbed hose",
            )
        }
        (Part::Hose(Hose { kind, .. }), Parameter::Factor) => match kind {
            // Its multiple says it already.
            HoseKind::Ribbed { .. } => None,
            _ => Usual::together(Of(0.25), "formula of hose friction"),
        },
        (Part::Elbow(_), Parameter::Factor) => Usual::together(Of(0.15), "formulas of elbows"),
        (Part::Transition(_), Parameter::Factor) => {
            Usual::together(Of(0.15), "formulas of transitions")
        }
        (Part::Gate(Gate { .. }), Parameter::Factor) => {
            Usual::together(Of(0.15), "formula of gates")
        }
        (_, Parameter::Opening) => Usual::new(By(0.02)),
        (_, Parameter::LeakArea) => Usual::new(within_factor(2.0)),
        (Part::Separator(Separator::Cyclone(_)), Parameter::Factor) => Usual::new(Of(0.15)),
        (Part::Separator(_), Parameter::K | Parameter::Drop) => Some(Usual {
            source: "dust lowers the loss of a cyclone by 10 to 30 %; common practice, no source",
            ..Usual::new(Of(0.15))?
        }),
        (_, Parameter::DustLoad | Parameter::CakeResistance) => Usual::new(Of(0.5)),
        (
            _,
            Parameter::K
            | Parameter::Drop
            | Parameter::LinearDrop
            | Parameter::QuadraticDrop
            | Parameter::Permeability,
        ) => Usual::new(Of(0.2)),
        // As the factor of what has other numbers that say it already: a filter by cloth or terms.
        _ => None,
    }
}

fn roughness(wall: &Wall) -> Option<Usual> {
    match wall.band() {
        Some([low, high]) if low < high => Some(Usual {
            size: Of(0.5 * (high / low).ln() / HALF_BAND),
            cause: Some("roughness of the wall"),
            source: "2021 ASHRAE Handbook - Fundamentals, ch. 21, table 1: its range, as a 95 % band",
        }),
        _ => Usual::together(within_factor(1.5), "roughness of the wall"),
    }
}

fn wall(system: &System, spot: Spot) -> Option<&Wall> {
    let collector = &system.collector;
    match spot {
        Spot::Section(section) => system.sections.get(section).map(|at| &at.wall),
        Spot::Before { run, .. } => collector.before.get(run).map(|at| &at.wall),
        Spot::After { run, .. } => collector.after.get(run).map(|at| &at.wall),
        _ => None,
    }
}

fn part(system: &System, spot: Spot) -> Option<&Part> {
    let collector = &system.collector;
    match spot {
        Spot::Part { section, part } => system.sections.get(section)?.parts.get(part),
        Spot::Before { run, part } => collector.before.get(run)?.parts.get(part?),
        Spot::After { run, part } => collector.after.get(run)?.parts.get(part?),
        _ => None,
    }
}

/// Whether a bore is that of the outlet or of the straight inlet of a wye by formula.
fn is_straight_at_formula(plan: &Plan, spot: Spot) -> bool {
    let origin = &plan.origin;
    let by_formula = |outlet: Option<usize>| match outlet {
        Some(outlet) => {
            let model = plan.sections.get(outlet).and_then(|at| at.junction);
            matches!(model, Some(Junction::Gardel | Junction::Crane))
        }
        None => {
            let main = origin.topology.mains.first();
            let model = main.and_then(|&main| meets_by(&origin.system, &origin.topology, main));
            matches!(
                model,
                Some(Junction::Gardel | Junction::Crane | Junction::Automatic)
            )
        }
    };
    match spot {
        Spot::Section(section) => {
            let own = origin.system.sections.get(section);
            let angle = own.and_then(|section| section.join.angle);
            let straight = angle.is_none_or(|angle| angle.as_deg() == 0.0);
            let outlet = origin.topology.outlets.get(section).copied().flatten();
            by_formula(Some(section)) || straight && by_formula(outlet)
        }
        Spot::Before { run: 0, part: None } => by_formula(None),
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        quantity::Length,
        solve::{by_hand, probe::Number},
    };

    fn section() -> Place {
        Place::Section("main".into())
    }

    fn part() -> Place {
        Place::Part {
            section: "main".into(),
            part: 0,
        }
    }

    /// A band of 95 % about an assumed number, on the scale of its kind.
    #[test]
    fn val_a_band_is_twice_1_96_standard_uncertainties_wide() {
        let doubt = |place: Place, parameter, [value, low, high]: [f64; 3]| {
            Doubt::of_assumption(&Assumption {
                place,
                parameter,
                value,
                low,
                high,
                source: "the owner",
            })
        };
        let by_factor = |band| doubt(part(), Parameter::K, band);
        for band in [[0.4, 0.2, 0.8], [0.2, 0.2, 0.8], [0.8, 0.2, 0.8]] {
            let told = by_factor(band);
            assert_eq!(told.spread, Spread::Scaled, "{band:?}");
            assert!((told.standard / (2.0_f64.ln() / 1.96) - 1.0).abs() < 1e-4);
            assert_eq!(told.cause.as_deref(), Some("coefficient of assumed elbows"));
            assert!(told.assumed);
        }
        // Where the value lies outside, or the band begins at 0, there is no factor.
        for band in [[0.1, 0.2, 0.8], [0.9, 0.2, 0.8], [0.4, 0.0, 0.6]] {
            let told = by_factor(band);
            assert_eq!(told.spread, Spread::Even, "{band:?}");
            assert!((told.standard / (0.3 / 1.96) - 1.0).abs() < 1e-4);
        }
        let cause = |place, parameter| doubt(place, parameter, [2.0, 1.0, 3.0]).cause;
        let wall = cause(section(), Parameter::Roughness);
        assert_eq!(wall.as_deref(), Some("roughness of assumed walls"));
        let hose = cause(part(), Parameter::HoseFactor);
        assert_eq!(hose.as_deref(), Some("friction of assumed hoses"));
        assert_eq!(cause(Place::Hood("saw".into()), Parameter::K), None);
        assert_eq!(cause(section(), Parameter::Length), None);
    }

    #[test]
    fn val_numbers_so_many_standard_uncertainties_away() {
        let at = |spread, z| {
            let doubt = Doubt {
                spread,
                ..Doubt::new(section(), Parameter::Length, 0.5, "a test")
            };
            doubt.at(-4.0, z)
        };
        assert_eq!(at(Spread::Even, 3.0), -2.5);
        assert_eq!(at(Spread::Even, -1.0), -4.5);
        assert_eq!(at(Spread::Scaled, 2.0), -4.0 * 1.0_f64.exp());
        assert_eq!(at(Spread::Scaled, 0.0), -4.0);
    }

    /// The usual doubt of a number of the small system.
    fn usual_of(system: &System, place: &Place, parameter: Parameter) -> Option<Doubt> {
        let mut doubts = Network::new(system).unwrap().doubts(&[]).into_iter();
        doubts.find(|doubt| doubt.place == *place && doubt.parameter == parameter)
    }

    #[test]
    fn a_wall_is_as_rough_as_its_kind_may_be() {
        let mut system = by_hand::system(by_hand::FALLING, Some(250.0));
        let [low, high] = Wall::Galvanised.band().unwrap();
        system.sections[0].wall = Wall::Roughness(Length::from_mm(0.4));
        let duct = || Part::Duct(Length::from_m(1.0));
        system.collector.after[0].parts.push(duct());
        let main = Place::Section("main".into());
        let long = Place::Section("long".into());
        let before = Place::Before { run: 0, part: None };
        let after = Place::After { run: 0, part: None };
        let known = 0.5 * (high / low).ln() / HALF_BAND;
        for (place, standard) in [
            (&main, 1.5_f64.ln() / HALF_BAND),
            (&long, known),
            (&before, known),
            (&after, known),
        ] {
            let told = usual_of(&system, place, Parameter::Roughness).unwrap();
            assert!((told.standard / standard - 1.0).abs() < 1e-12, "{told:?}");
            assert_eq!(told.cause.as_deref(), Some("roughness of the wall"));
            assert_eq!(told.spread, Spread::Scaled);
            assert_eq!(told.source == PRACTICE, place == &main);
        }
        // Nothing is a share of nothing.
        system.sections[0].wall = Wall::Roughness(Length::from_mm(0.0));
        assert_eq!(usual_of(&system, &main, Parameter::Roughness), None);
        // A wall with no band, or one of no width, is known to a factor.
        let smooth = roughness(&Wall::Roughness(Length::from_mm(0.1))).unwrap();
        assert!(matches!(smooth.size, Of(share) if share == 1.5_f64.ln() / HALF_BAND));
    }

    #[test]
    fn parts_of_every_run_are_in_doubt() {
        let mut system = by_hand::system(by_hand::FALLING, Some(250.0));
        let duct = || Part::Duct(Length::from_m(1.0));
        system.collector.after[0].parts.push(duct());
        for place in [
            Place::Before {
                run: 0,
                part: Some(0),
            },
            Place::After {
                run: 0,
                part: Some(0),
            },
            Place::Part {
                section: "long".into(),
                part: 1,
            },
        ] {
            let told = usual_of(&system, &place, Parameter::Length).unwrap();
            assert_eq!(
                (told.standard, told.spread),
                (0.02, Spread::Scaled),
                "{place}"
            );
        }
        let gate = Place::Part {
            section: "long".into(),
            part: 0,
        };
        let told = usual_of(&system, &gate, Parameter::LeakArea).unwrap();
        assert_eq!(told.standard, 2.0_f64.ln() / HALF_BAND);
    }

    /// Most are judged by practice; where more is to be said, it is.
    #[test]
    fn a_usual_doubt_says_where_it_comes_from() {
        let system = by_hand::system(by_hand::FALLING, None);
        let part = |part| Place::Before {
            run: 0,
            part: Some(part),
        };
        let source = |place: &Place, parameter| usual_of(&system, place, parameter).unwrap().source;
        assert_eq!(source(&part(0), Parameter::Length), PRACTICE);
        let separator = source(&part(1), Parameter::Drop);
        assert!(
            separator.contains("dust lowers the loss of a cyclone"),
            "{separator}"
        );
        let network = Network::new(&system).unwrap();
        let altitude = Number {
            spot: Spot::Air,
            parameter: Parameter::Altitude,
            value: 100.0,
        };
        let weather = usual(network.plan(), &altitude).unwrap().source;
        assert!(
            weather.contains("the weather moves the barometer"),
            "{weather}"
        );
    }

    /// Of a hood with a taper its coefficient alone.
    #[test]
    fn the_shape_of_a_hood_is_its_coefficient() {
        let system = by_hand::system(by_hand::FALLING, None);
        let network = Network::new(&system).unwrap();
        let doubt = |parameter| {
            let number = Number {
                spot: Spot::Hood(1),
                parameter,
                value: 30.0,
            };
            usual(network.plan(), &number).is_some()
        };
        assert!(doubt(Parameter::K) && !doubt(Parameter::Angle));
    }

    #[test]
    fn the_straight_run_of_a_wye_by_formula_is_exact() {
        let mut system = by_hand::system(by_hand::FALLING, None);
        // One main straight into the collector, and one beside it.
        let mut side = system.sections.remove(1);
        side.into = None;
        system.sections.truncate(2);
        system.sections[1].into = Some("main".into());
        system.sections[1].join = crate::Join::default();
        system.sections.push(side);
        system.collector.junction = Some(Junction::Crane);
        let main = Place::Section("main".into());
        let side = Place::Section("long".into());
        let run = Place::Before { run: 0, part: None };
        let known = |system: &System, place| usual_of(system, place, Parameter::Diameter).is_none();
        assert!(known(&system, &main) && known(&system, &run) && !known(&system, &side));
        system.collector.junction = Some(Junction::Momentum);
        assert!(!known(&system, &main) && !known(&system, &run));
    }
}
