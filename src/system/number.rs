//! The numbers of every element, each by its one name: read and changed in one place.
//!
//! A visitor is shown each number in its SI unit and may put another in its place. Nothing is
//! judged here: the laws do that.

use super::{
    model::{Hood, Join, Run, Section, Start},
    parameter::Parameter,
};
use crate::{
    air::{Air, Barometer},
    bore::Bore,
    fan::{FanCurve, LEAST_SHAPE, MOST_SHAPE},
    loss::{
        Cloth, ClothDrag, Elbow, Entry, Filter, FilterState, Gate, Hose, HoseKind, Junction, Leak,
        LossError, Part, RatedDrop, Separator, Tightness, Transition, Wall,
    },
    quantity::{Angle, Area, Density, DynamicViscosity, Length, Pressure, Temperature, VolumeFlow},
};

/// Speeds beyond these are no speed of the same fan.
const LEAST_SPEED: f64 = 0.01;
const MOST_SPEED: f64 = 100.0;

/// Is shown a number and returns what to put in its place, if anything.
pub(crate) type Change<'a> = dyn FnMut(Parameter, f64) -> Option<f64> + 'a;

fn number(change: &mut Change<'_>, parameter: Parameter, at: &mut f64) {
    if let Some(value) = change(parameter, *at) {
        *at = value;
    }
}

fn length(change: &mut Change<'_>, parameter: Parameter, at: &mut Length) {
    if let Some(m) = change(parameter, at.as_m()) {
        *at = Length::from_m(m);
    }
}

fn area(change: &mut Change<'_>, parameter: Parameter, at: &mut Area) {
    if let Some(m2) = change(parameter, at.as_m2()) {
        *at = Area::from_m2(m2);
    }
}

fn angle(change: &mut Change<'_>, at: &mut Angle) {
    if let Some(deg) = change(Parameter::Angle, at.as_deg()) {
        *at = Angle::from_deg(deg);
    }
}

fn pressure(change: &mut Change<'_>, parameter: Parameter, at: &mut Pressure) {
    if let Some(pa) = change(parameter, at.as_pa()) {
        *at = Pressure::from_pa(pa);
    }
}

/// Of a rated drop only the drop: the flow it was told at says the same thing again.
fn drop_of(change: &mut Change<'_>, parameter: Parameter, at: &mut RatedDrop) {
    pressure(change, parameter, &mut at.drop);
}

pub(super) fn bore(change: &mut Change<'_>, at: &mut Bore) {
    match at {
        Bore::Round(diameter) => length(change, Parameter::Diameter, diameter),
        Bore::Rectangular { width, height } => {
            length(change, Parameter::Width, width);
            length(change, Parameter::Height, height);
        }
    }
}

fn wall(change: &mut Change<'_>, at: &mut Wall) {
    let Ok(roughness) = at.roughness() else {
        return;
    };
    if let Some(m) = change(Parameter::Roughness, roughness.as_m()) {
        *at = Wall::Roughness(Length::from_m(m));
    }
}

/// Whether the friction of a part follows the wall of its run.
fn has_wall(part: &Part) -> bool {
    matches!(
        part,
        Part::Duct(_)
            | Part::Elbow(Elbow::Smooth { .. })
            | Part::Transition(Transition::Cone { .. })
    )
}

/// The air as a whole. Moist air is also shown by the density and viscosity that follow; a change
/// of these takes the place of the weather.
pub(super) fn air(change: &mut Change<'_>, at: &mut Air) {
    if let Air::Moist {
        barometer,
        temperature,
        relative_humidity,
    } = at
    {
        match barometer {
            Barometer::Altitude(altitude) => length(change, Parameter::Altitude, altitude),
            Barometer::Pressure(absolute) => pressure(change, Parameter::Barometer, absolute),
        }
        if let Some(k) = change(Parameter::Temperature, temperature.as_k()) {
            *temperature = Temperature::from_k(k);
        }
        number(change, Parameter::Humidity, relative_humidity);
    }
    let Ok(now) = at.properties() else { return };
    let density = change(Parameter::Density, now.density.as_kg_m3());
    let viscosity = change(Parameter::Viscosity, now.viscosity.as_pa_s());
    if density.is_some() || viscosity.is_some() {
        *at = Air::Given {
            density: density.map_or(now.density, Density::from_kg_m3),
            viscosity: viscosity.map_or(now.viscosity, DynamicViscosity::from_pa_s),
        };
    }
}

/// A fan of another shape, at another speed or with another outlet; judged here, because a fan is never out of range.
pub(super) fn fan(change: &mut Change<'_>, at: &mut FanCurve) -> Result<(), LossError> {
    if let Some(shape) = at.shape()
        && let Some(shape) = change(Parameter::Shape, shape)
    {
        *at = at.with_shape(shape).ok_or(LossError {
            what: "flow of the fan at half its largest pressure, over its largest flow,",
            value: shape,
            unit: "",
            min: LEAST_SHAPE,
            max: MOST_SHAPE,
        })?;
    }
    if let Some(ratio) = change(Parameter::Speed, 1.0) {
        let what = "speed of the fan over that of its curve";
        let refused = |_| LossError {
            what,
            value: ratio,
            unit: "",
            min: LEAST_SPEED,
            max: MOST_SPEED,
        };
        LossError::within(what, ratio, "", LEAST_SPEED, MOST_SPEED)?;
        *at = at.at_speed_ratio(ratio).map_err(refused)?;
    }
    if let Some(own) = at.outlet() {
        let mut outlet = own;
        bore(change, &mut outlet);
        if outlet != own {
            outlet.check()?;
            if let Ok(other) = at.clone().with_outlet(outlet) {
                *at = other;
            }
        }
    }
    Ok(())
}

/// Size and wall of a run of the collector.
pub(super) fn run(change: &mut Change<'_>, at: &mut Run) {
    bore(change, &mut at.size);
    if at.parts.iter().any(has_wall) {
        wall(change, &mut at.wall);
    }
}

/// Size, wall, tightness and leak of a section.
pub(super) fn section(change: &mut Change<'_>, at: &mut Section) {
    bore(change, &mut at.size);
    if at.parts.iter().any(has_wall) {
        wall(change, &mut at.wall);
    }
    tightness(change, &mut at.tightness);
    if let Start::Leak(hole) = &mut at.start {
        leak(change, hole);
    }
}

/// Classes have no number; a changed coefficient is told as a leakage class of any size.
fn tightness(change: &mut Change<'_>, at: &mut Tightness) {
    let (Ok(c), Ok(one)) = (at.coefficient(), Tightness::Smacna(1.0).coefficient()) else {
        return;
    };
    if c > 0.0
        && let Some(c) = change(Parameter::Leakage, c)
    {
        *at = Tightness::Smacna(c / one);
    }
}

fn leak(change: &mut Change<'_>, at: &mut Leak) {
    match at {
        Leak::Hole(hole) => area(change, Parameter::LeakArea, hole),
        Leak::Power { at_1_pa, exponent } => {
            if let Some(m3_s) = change(Parameter::LeakFlow, at_1_pa.as_m3_s()) {
                *at_1_pa = VolumeFlow::from_m3_s(m3_s);
            }
            number(change, Parameter::Exponent, exponent);
        }
    }
}

/// How a section joins others by this model. An extra coefficient stands with the factors.
pub(super) fn join(change: &mut Change<'_>, at: &mut Join, model: Junction) {
    if model == Junction::FixedK {
        if let Some(k) = &mut at.k {
            number(change, Parameter::K, k);
        }
    } else if let Some(own) = &mut at.angle {
        angle(change, own);
    }
}

/// A hood on a section of this size: its coefficient whatever tells it, and what it follows from.
pub(super) fn hood(change: &mut Change<'_>, at: &mut Hood, size: Bore) {
    match &mut at.entry {
        Entry::Tapered { angle: own, .. } => angle(change, own),
        Entry::Compound {
            slot_area,
            angle: own,
            ..
        } => {
            area(change, Parameter::Area, slot_area);
            angle(change, own);
        }
        _ => {}
    }
    let Ok(rated) = at.entry.heads(size) else {
        return;
    };
    if let Some(k) = change(Parameter::K, rated.heads.fixed) {
        at.entry = Entry::K(k);
    }
}

/// A part. One whose numbers do not scale its loss is told by a factor besides, which stands with
/// the factors.
pub(super) fn part(change: &mut Change<'_>, at: &mut Part) {
    match at {
        Part::Duct(long) => length(change, Parameter::Length, long),
        Part::Hose(own) => hose(change, own),
        Part::Elbow(own) => elbow(change, own),
        Part::Transition(Transition::Sharp) => {}
        Part::Transition(Transition::Cone { angle: own }) => angle(change, own),
        Part::Gate(own) => gate(change, own),
        Part::Filter(own) => filter(change, own),
        Part::Separator(own) => separator(change, own),
        Part::Port(port) => {
            bore(change, &mut port.size);
            number(change, Parameter::K, &mut port.k);
        }
        Part::Transition(Transition::K(k)) | Part::Silencer(k) | Part::K(k) => {
            number(change, Parameter::K, k);
        }
    }
}

/// Whether one of a part's own numbers is in proportion to its loss.
pub(super) fn scales(part: &Part) -> bool {
    match part {
        Part::Elbow(elbow) => matches!(elbow, Elbow::K(_)),
        Part::Transition(transition) => matches!(transition, Transition::K(_)),
        Part::Filter(filter) => matches!(filter, Filter::Rated(_)),
        Part::Separator(separator) => !matches!(separator, Separator::Cyclone(_)),
        Part::Port(_) | Part::Silencer(_) | Part::K(_) => true,
        Part::Duct(_) | Part::Hose(_) | Part::Gate(_) => false,
    }
}

fn hose(change: &mut Change<'_>, at: &mut Hose) {
    length(change, Parameter::Length, &mut at.length);
    match &mut at.kind {
        HoseKind::Wire { compression } => number(change, Parameter::Compression, compression),
        HoseKind::Ribbed { times_smooth } => number(change, Parameter::HoseFactor, times_smooth),
        HoseKind::Corrugated { pitch } => length(change, Parameter::Pitch, pitch),
    }
    if let Some(bend) = &mut at.bend {
        angle(change, &mut bend.angle);
        number(change, Parameter::RadiusRatio, &mut bend.r_over_d);
    }
}

fn elbow(change: &mut Change<'_>, at: &mut Elbow) {
    match at {
        Elbow::K(k) => number(change, Parameter::K, k),
        Elbow::Gored {
            r_over_d,
            angle: own,
            ..
        }
        | Elbow::Stamped {
            r_over_d,
            angle: own,
        }
        | Elbow::Smooth {
            r_over_d,
            angle: own,
        } => {
            number(change, Parameter::RadiusRatio, r_over_d);
            angle(change, own);
        }
        Elbow::Mitre { angle: own } => angle(change, own),
    }
}

fn gate(change: &mut Change<'_>, at: &mut Gate) {
    if at.is_shut() {
        return;
    }
    number(change, Parameter::Opening, &mut at.opening);
    if let Some(leak) = &mut at.leak_area {
        area(change, Parameter::LeakArea, leak);
    }
}

fn filter(change: &mut Change<'_>, mut at: &mut Filter) {
    while let Filter::Cycle { clean, due, now } = at {
        at = match now {
            FilterState::Clean => clean,
            FilterState::Due => due,
        };
    }
    match at {
        Filter::Rated(rated) => drop_of(change, Parameter::Drop, rated),
        Filter::Terms { linear, quadratic } => {
            drop_of(change, Parameter::LinearDrop, linear);
            drop_of(change, Parameter::QuadraticDrop, quadratic);
        }
        Filter::Cloth(own) => cloth(change, own),
        Filter::Cycle { .. } => {} // the loop above leaves none
    }
}

fn cloth(change: &mut Change<'_>, at: &mut Cloth) {
    area(change, Parameter::Area, &mut at.area);
    match &mut at.drag {
        ClothDrag::Frazier(permeability) => number(change, Parameter::Permeability, permeability),
        ClothDrag::At { drop, .. } => pressure(change, Parameter::LinearDrop, drop),
    }
    if let Some(cake) = &mut at.cake {
        number(change, Parameter::DustLoad, &mut cake.load_kg_m2);
        number(change, Parameter::CakeResistance, &mut cake.k2_per_s);
    }
    if let Some(housing) = &mut at.housing {
        drop_of(change, Parameter::QuadraticDrop, housing);
    }
}

fn separator(change: &mut Change<'_>, at: &mut Separator) {
    match at {
        Separator::VelocityHeads(heads) => number(change, Parameter::K, heads),
        Separator::Rated(rated) => drop_of(change, Parameter::Drop, rated),
        Separator::Cyclone(cyclone) => {
            length(change, Parameter::Height, &mut cyclone.inlet_height);
            length(change, Parameter::Width, &mut cyclone.inlet_width);
            length(change, Parameter::Diameter, &mut cyclone.outlet_diameter);
        }
    }
}
