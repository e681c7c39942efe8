//! A document's system, with leaves left out, and how it is completed.
#![allow(
    clippy::indexing_slicing,
    reason = "sections are numbered by the model that the draft has just made of them"
)]

use super::{
    assumption::{Assumption, JUDGEMENT},
    fault::{ModelError, ModelErrors, ModelFault},
    model::{Collector, Hood, Join, Machine, Run, Section, Start, System},
    parameter::Parameter,
};
use crate::{
    air::{Air, AirText},
    bore::Bore,
    fan::FanCurve,
    loss::{
        Elbow, Entry, Filter, Gate, Hose, HoseBend, HoseKind, Junction, Leak, LossError, Part,
        Port, RatedDrop, Separator, Tightness, Transition, Wall,
    },
    place::{Name, Place},
    quantity::{Angle, Area, Length, Pressure, Temperature, VolumeFlow},
};
use serde::{
    Deserialize, Serialize,
    de::{self, IntoDeserializer, MapAccess, Visitor, value::MapAccessDeserializer},
};
use std::{collections::HashMap, fmt};

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct SystemText {
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(crate) air: Option<AirText>,
    #[serde(default)]
    pub(crate) junction: Junction,
    /// Wall of everything that does not say its own.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(crate) wall: Option<Wall>,
    pub(crate) collector: CollectorText,
    #[serde(default, rename = "section")]
    pub(crate) sections: Vec<SectionText>,
    #[serde(default, rename = "machine", skip_serializing_if = "Vec::is_empty")]
    pub(crate) machines: Vec<MachineText>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct CollectorText {
    #[serde(default, skip_serializing_if = "Option::is_none")]
    junction: Option<Junction>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    before: Vec<RunText>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    fan: Option<FanCurve>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    after: Vec<RunText>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct RunText {
    size: Bore,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    wall: Option<Wall>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    parts: Vec<PartText>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct SectionText {
    id: Name,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    into: Option<Name>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    join: Option<JoinText>,
    size: Bore,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    wall: Option<Wall>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    parts: Vec<PartText>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    tightness: Option<Tightness>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    hood: Option<HoodText>,
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    capped: bool,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    leak: Option<Leak>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    junction: Option<Junction>,
}

#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct JoinText {
    #[serde(default, skip_serializing_if = "Option::is_none")]
    angle: Option<Angle>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    k: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    extra_k: Option<f64>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct HoodText {
    id: Name,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    entry: Option<Entry>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    machine: Option<Name>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    required: Option<VolumeFlow>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct MachineText {
    id: Name,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    required: Option<VolumeFlow>,
}

/// [`Part`], and the parts of which only their presence is known.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", deny_unknown_fields, remote = "Self")]
enum PartText {
    Duct(Length),
    Hose(HoseText),
    Elbow(Elbow),
    Transition(Transition),
    Gate(Gate),
    Filter(Filter),
    Separator(Separator),
    Port(Port),
    Silencer(f64),
    K(f64),
    UnknownElbow,
    UnknownFilter { cloth: Area },
    UnknownSeparator { at: VolumeFlow },
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct HoseText {
    length: Length,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    kind: Option<HoseKind>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    bend: Option<HoseBend>,
}

impl Serialize for PartText {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        Self::serialize(self, serializer)
    }
}

/// Takes the table apart by hand, because the readers of formats say of a part with two keys only
/// that one element was wanted.
impl<'de> Deserialize<'de> for PartText {
    fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct OnePart;

        impl<'de> Visitor<'de> for OnePart {
            type Value = PartText;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a part, e.g. { duct = \"3 m\" }")
            }

            fn visit_str<E: de::Error>(self, text: &str) -> Result<PartText, E> {
                PartText::deserialize(text.into_deserializer())
            }

            fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<PartText, A::Error> {
                let part = PartText::deserialize(MapAccessDeserializer::new(&mut map))?;
                match map.next_key::<String>()? {
                    None => Ok(part),
                    Some(key) => Err(de::Error::custom(format_args!(
                        "`{key}` begins another part: put each in braces of its own, \
                         e.g. {{ duct = \"3 m\" }}, {{ k = 0.3 }}"
                    ))),
                }
            }
        }

        deserializer.deserialize_any(OnePart)
    }
}

/// Collects what had to be assumed, and, where that is not allowed, what is missing.
struct Completion {
    assume: bool,
    wall: Option<Wall>,
    assumptions: Vec<Assumption>,
    missing: Vec<ModelError>,
}

impl SystemText {
    /// Completes the system. Without `assume` everything left out is a fault; every fault is told
    /// at once, those of the completed model among them.
    pub(crate) fn complete(self, assume: bool) -> Result<(System, Vec<Assumption>), ModelErrors> {
        let mut at = Completion {
            assume,
            wall: self.wall,
            assumptions: Vec::new(),
            missing: Vec::new(),
        };
        let air = at.air(self.air);
        let collector = at.collector(self.collector);
        let mut sections: Vec<Section> = self
            .sections
            .into_iter()
            .map(|text| at.section(text))
            .collect();
        at.angles(&mut sections, self.junction, collector.junction);
        let ports = ports(&sections);
        let machines = self
            .machines
            .into_iter()
            .map(|text| at.machine(text, &ports))
            .collect();
        let system = System {
            air,
            junction: self.junction,
            collector,
            sections,
            machines,
        };
        let mut faults = at.missing;
        if let Err(errors) = system.check() {
            faults.extend(errors.iter().cloned());
        }
        ModelErrors::none_of(faults)?;
        Ok((system, at.assumptions))
    }
}

impl Completion {
    /// Completes one piece by itself, without assuming anything.
    fn by_itself<T>(complete: impl FnOnce(&mut Self) -> T) -> Result<T, ModelErrors> {
        let mut at = Self {
            assume: false,
            wall: None,
            assumptions: Vec::new(),
            missing: Vec::new(),
        };
        let piece = complete(&mut at);
        ModelErrors::none_of(at.missing)?;
        Ok(piece)
    }

    /// Notes one assumption, or its absence.
    fn take(&mut self, what: &'static str, shown: impl Into<String>, assumption: Assumption) {
        if self.assume {
            self.assumptions.push(assumption);
        } else {
            self.missing.push(ModelError::new(
                assumption.place,
                ModelFault::Missing {
                    what,
                    assumed: shown.into().into(),
                },
            ));
        }
    }

    /// 20 C, 50 %, sea level; the properties themselves are given whole or not at all.
    fn air(&mut self, text: Option<AirText>) -> Air {
        let mut text = text.unwrap_or_default();
        if text.density.is_none() && text.viscosity.is_none() {
            let mut take = |what, shown: &str, parameter, value, low, high| {
                self.take(
                    what,
                    shown,
                    Assumption {
                        place: Place::Air,
                        parameter,
                        value,
                        low,
                        high,
                        source: JUDGEMENT,
                    },
                );
            };
            if text.altitude.is_none() && text.barometer.is_none() {
                text.altitude = Some(Length::from_m(0.0));
                take("altitude", "0 m", Parameter::Altitude, 0.0, 0.0, 500.0);
            }
            if text.temperature.is_none() {
                text.temperature = Some(Temperature::from_celsius(20.0));
                take(
                    "temperature",
                    "20 C",
                    Parameter::Temperature,
                    293.15,
                    278.15,
                    308.15,
                );
            }
            if text.relative_humidity.is_none() {
                text.relative_humidity = Some(0.5);
                take(
                    "relative_humidity",
                    "0.5",
                    Parameter::Humidity,
                    0.5,
                    0.2,
                    0.9,
                );
            }
        }
        text.complete().unwrap_or_else(|error| {
            self.missing.push(ModelError::new(Place::Air, error));
            Air::standard()
        })
    }

    fn wall(&mut self, own: Option<Wall>, place: Place) -> Wall {
        if let Some(wall) = own.or(self.wall) {
            return wall;
        }
        self.take("wall", "a roughness of 0.09 mm", Assumption {
            place,
            parameter: Parameter::Roughness,
            value: 0.09e-3,
            low: 0.05e-3,
            high: 0.15e-3,
            source: "galvanised duct: 2021 ASHRAE Handbook - Fundamentals, ch. 21, table 1; band: judgement",
        });
        Wall::Roughness(Length::from_mm(0.09))
    }

    fn collector(&mut self, text: CollectorText) -> Collector {
        let mut runs = |texts: Vec<RunText>, place: fn(usize, Option<usize>) -> Place| {
            texts
                .into_iter()
                .enumerate()
                .map(|(i, text)| {
                    // A wall matters only to duct of its own.
                    let bare = text.wall.is_none() && !text.parts.iter().any(PartText::has_wall);
                    Run {
                        size: text.size,
                        wall: if bare {
                            self.wall.unwrap_or(Wall::Galvanised)
                        } else {
                            self.wall(text.wall, place(i, None))
                        },
                        parts: self.parts(text.parts, |part| place(i, Some(part))),
                    }
                })
                .collect()
        };
        let before = runs(text.before, |run, part| Place::Before { run, part });
        let after = runs(text.after, |run, part| Place::After { run, part });
        if text.fan.as_ref().is_some_and(FanCurve::is_estimate) {
            // Written out in the document as an estimate: no default, but no knowledge either.
            self.assumptions.push(Assumption::shape_of_fan());
        }
        Collector {
            before,
            fan: text.fan,
            after,
            junction: text.junction,
        }
    }

    fn section(&mut self, text: SectionText) -> Section {
        let place = Place::Section(text.id.clone());
        let starts = [text.hood.is_some(), text.capped, text.leak.is_some()];
        if starts.into_iter().filter(|start| *start).count() > 1 {
            self.missing
                .push(ModelError::new(place.clone(), ModelFault::TwoStarts));
        }
        let start = match (text.hood, text.leak) {
            (Some(hood), _) => Start::Hood(self.hood(hood)),
            (None, Some(leak)) => Start::Leak(leak),
            (None, None) if text.capped => Start::Capped,
            (None, None) => Start::Joins,
        };
        let id = text.id;
        Section {
            wall: self.wall(text.wall, place),
            parts: self.parts(text.parts, |part| Place::Part {
                section: id.clone(),
                part,
            }),
            id,
            into: text.into,
            join: text.join.map_or(Join::default(), |join| Join {
                angle: join.angle,
                k: join.k,
                extra_k: join.extra_k.unwrap_or(0.0),
            }),
            size: text.size,
            tightness: text.tightness.unwrap_or(Tightness::Airtight),
            start,
            junction: text.junction,
        }
    }

    fn hood(&mut self, text: HoodText) -> Hood {
        let entry = text.entry.unwrap_or_else(|| {
            self.take(
                "entry",
                "k = 1.5",
                Assumption {
                    place: Place::Hood(text.id.clone()),
                    parameter: Parameter::K,
                    value: 1.5,
                    low: 0.5,
                    high: 2.5,
                    source: JUDGEMENT,
                },
            );
            Entry::K(1.5)
        });
        Hood {
            id: text.id,
            entry,
            machine: text.machine,
            required: text.required,
        }
    }

    fn parts(&mut self, texts: Vec<PartText>, place: impl Fn(usize) -> Place) -> Vec<Part> {
        texts
            .into_iter()
            .enumerate()
            .map(|(i, text)| self.part(text, place(i)))
            .collect()
    }

    fn part(&mut self, text: PartText, place: Place) -> Part {
        let assumed = |parameter, value, low, high| Assumption {
            place: place.clone(),
            parameter,
            value,
            low,
            high,
            source: JUDGEMENT,
        };
        match text {
            PartText::Duct(length) => Part::Duct(length),
            PartText::Hose(hose) => Part::Hose(Hose {
                length: hose.length,
                kind: hose.kind.unwrap_or_else(|| {
                    self.take(
                        "kind of hose",
                        "ribbed, 3 times the friction of smooth duct",
                        assumed(Parameter::HoseFactor, 3.0, 1.7, 6.0),
                    );
                    HoseKind::RIBBED
                }),
                bend: hose.bend,
            }),
            PartText::Elbow(elbow) => Part::Elbow(elbow),
            PartText::Transition(transition) => Part::Transition(transition),
            PartText::Gate(gate) => Part::Gate(gate),
            PartText::Filter(filter) => Part::Filter(filter),
            PartText::Separator(separator) => Part::Separator(separator),
            PartText::Port(port) => Part::Port(port),
            PartText::Silencer(k) => Part::Silencer(k),
            PartText::K(k) => Part::K(k),
            PartText::UnknownElbow => {
                self.take(
                    "loss of an elbow",
                    "k = 0.35",
                    assumed(Parameter::K, 0.35, 0.24, 0.45),
                );
                Part::Elbow(Elbow::K(0.35))
            }
            PartText::UnknownFilter { cloth } => {
                // Judged here, in the words of the document: the rated drop that stands in for it
                // would be refused for its flow.
                let (what, m2) = ("cloth area of the filter", cloth.as_m2());
                if let Err(error) = LossError::within(what, m2, " m2", 0.001, 1e5) {
                    self.missing.push(ModelError::new(place, error));
                    return Part::K(0.0);
                }
                self.take(
                    "pressure drop of the filter",
                    "250 Pa, clean, at 120 m3/h for each m2 of cloth",
                    assumed(Parameter::Drop, 250.0, 125.0, 500.0),
                );
                // 80 % of the 150 m3/(m2 h) that EN 12779 allows recirculating wood collectors,
                // as read in DGUV Information 209-044, section 5.4.
                Part::Filter(Filter::Rated(RatedDrop {
                    drop: Pressure::from_pa(250.0),
                    at: VolumeFlow::from_m3_h(120.0 * cloth.as_m2()),
                }))
            }
            PartText::UnknownSeparator { at } => {
                self.take(
                    "pressure drop of the separator",
                    format!("500 Pa at {at}"),
                    assumed(Parameter::Drop, 500.0, 250.0, 1000.0),
                );
                Part::Separator(Separator::Rated(RatedDrop {
                    drop: Pressure::from_pa(500.0),
                    at,
                }))
            }
        }
    }

    /// Where several inlets of one junction say no angle, the widest goes straight and the others
    /// join at 45 degrees.
    fn angles(
        &mut self,
        sections: &mut [Section],
        junction: Junction,
        collector: Option<Junction>,
    ) {
        let outlets: Vec<Option<Name>> = sections.iter().map(|s| s.into.clone()).collect();
        let mut inlets: HashMap<Option<&Name>, Vec<usize>> = HashMap::new();
        for (i, outlet) in outlets.iter().enumerate() {
            inlets.entry(outlet.as_ref()).or_default().push(i);
        }
        let models: HashMap<Name, Option<Junction>> = sections
            .iter()
            .map(|s| (s.id.clone(), s.junction))
            .collect();
        let mut assumed = Vec::new();
        for (i, outlet) in outlets.iter().enumerate() {
            // In the order of the sections, each junction when its first inlet comes up.
            let Some(inlets) = inlets.remove(&outlet.as_ref()) else {
                continue;
            };
            debug_assert_eq!(
                inlets.first(),
                Some(&i),
                "inlets stand in the order of sections"
            );
            let own = match outlet {
                Some(outlet) => models.get(outlet).copied().flatten(),
                None => collector,
            };
            if own.unwrap_or(junction) == Junction::FixedK || inlets.len() < 2 {
                continue;
            }
            let area = |&&i: &&usize| sections[i].size.area().as_m2();
            let straight: Vec<usize> = inlets
                .into_iter()
                .filter(|&i| sections[i].join.angle.is_none())
                .collect();
            // The first of the widest stays straight.
            let widest = straight
                .iter()
                .rev()
                .max_by(|a, b| area(a).total_cmp(&area(b)))
                .copied();
            assumed.extend(straight.into_iter().filter(|&i| Some(i) != widest));
        }
        for i in assumed {
            self.take(
                "angle of the join",
                "45 deg",
                Assumption {
                    place: Place::Join(sections[i].id.clone()),
                    parameter: Parameter::Angle,
                    value: 45.0,
                    low: 30.0,
                    high: 60.0,
                    source: JUDGEMENT,
                },
            );
            sections[i].join.angle = Some(Angle::from_deg(45.0));
        }
    }

    /// 20 m/s in every port: the whole of the rule table in TRGS 553 Annex 2 is that formula.
    fn machine(&mut self, text: MachineText, ports: &HashMap<Name, f64>) -> Machine {
        let required = text.required.unwrap_or_else(|| {
            let area_m2 = ports.get(&text.id).copied().unwrap_or(0.0);
            let flow = VolumeFlow::from_m3_s(20.0 * area_m2);
            self.take(
                "required flow",
                "20 m/s in its ports",
                Assumption {
                    place: Place::Machine(text.id.clone()),
                    parameter: Parameter::Required,
                    value: flow.as_m3_s(),
                    low: flow.as_m3_s(),
                    high: 1.4 * flow.as_m3_s(),
                    source: "20 m/s, damp or heavy chips 28 m/s: DGUV Information 209-044",
                },
            );
            flow
        });
        Machine {
            id: text.id,
            required,
        }
    }
}

/// Area of all the ports of each machine \[m2\].
fn ports(sections: &[Section]) -> HashMap<Name, f64> {
    let mut ports = HashMap::new();
    for section in sections {
        if let Start::Hood(Hood {
            machine: Some(machine),
            ..
        }) = &section.start
        {
            *ports.entry(machine.clone()).or_default() += section.size.area().as_m2();
        }
    }
    ports
}

impl PartText {
    /// Whether its friction follows the wall of its run.
    fn has_wall(&self) -> bool {
        matches!(self, Self::Duct(_) | Self::Elbow(_) | Self::Transition(_))
    }
}

impl From<System> for SystemText {
    fn from(system: System) -> Self {
        Self {
            air: Some(system.air.into()),
            junction: system.junction,
            wall: None,
            collector: system.collector.into(),
            sections: system.sections.into_iter().map(SectionText::from).collect(),
            machines: system
                .machines
                .into_iter()
                .map(|machine| MachineText {
                    id: machine.id,
                    required: Some(machine.required),
                })
                .collect(),
        }
    }
}

impl From<Collector> for CollectorText {
    fn from(collector: Collector) -> Self {
        let run = |run: Run| RunText {
            size: run.size,
            wall: Some(run.wall),
            parts: run.parts.into_iter().map(PartText::from).collect(),
        };
        Self {
            junction: collector.junction,
            before: collector.before.into_iter().map(run).collect(),
            fan: collector.fan,
            after: collector.after.into_iter().map(run).collect(),
        }
    }
}

impl From<Section> for SectionText {
    fn from(section: Section) -> Self {
        let (mut hood, mut capped, mut leak) = (None, false, None);
        match section.start {
            Start::Hood(it) => hood = Some(HoodText::from(it)),
            Start::Capped => capped = true,
            Start::Leak(it) => leak = Some(it),
            Start::Joins => {}
        }
        Self {
            id: section.id,
            into: section.into,
            join: (section.join != Join::default()).then_some(JoinText {
                angle: section.join.angle,
                k: section.join.k,
                extra_k: (section.join.extra_k != 0.0).then_some(section.join.extra_k),
            }),
            size: section.size,
            wall: Some(section.wall),
            parts: section.parts.into_iter().map(PartText::from).collect(),
            tightness: (section.tightness != Tightness::Airtight).then_some(section.tightness),
            hood,
            capped,
            leak,
            junction: section.junction,
        }
    }
}

impl From<Hood> for HoodText {
    fn from(hood: Hood) -> Self {
        Self {
            id: hood.id,
            entry: Some(hood.entry),
            machine: hood.machine,
            required: hood.required,
        }
    }
}

impl From<Part> for PartText {
    fn from(part: Part) -> Self {
        match part {
            Part::Duct(length) => Self::Duct(length),
            Part::Hose(hose) => Self::Hose(HoseText {
                length: hose.length,
                kind: Some(hose.kind),
                bend: hose.bend,
            }),
            Part::Elbow(elbow) => Self::Elbow(elbow),
            Part::Transition(transition) => Self::Transition(transition),
            Part::Gate(gate) => Self::Gate(gate),
            Part::Filter(filter) => Self::Filter(filter),
            Part::Separator(separator) => Self::Separator(separator),
            Part::Port(port) => Self::Port(port),
            Part::Silencer(k) => Self::Silencer(k),
            Part::K(k) => Self::K(k),
        }
    }
}

impl Serialize for System {
    /// Only what can be read again is written: some formats would turn a number that is none
    /// into nothing, and nothing into a default.
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        self.check().map_err(serde::ser::Error::custom)?;
        SystemText::from(self.clone()).serialize(serializer)
    }
}

impl TryFrom<SystemText> for System {
    type Error = ModelErrors;

    /// Nothing is assumed.
    fn try_from(text: SystemText) -> Result<Self, ModelErrors> {
        text.complete(false).map(|(system, _)| system)
    }
}

/// Of a collector by itself, as a change names it, nothing is assumed.
impl TryFrom<CollectorText> for Collector {
    type Error = ModelErrors;

    fn try_from(text: CollectorText) -> Result<Self, ModelErrors> {
        Completion::by_itself(|at| at.collector(text))
    }
}

/// Of a section by itself, as a change names it, nothing is assumed.
impl TryFrom<SectionText> for Section {
    type Error = ModelErrors;

    fn try_from(text: SectionText) -> Result<Self, ModelErrors> {
        Completion::by_itself(|at| at.section(text))
    }
}

impl Serialize for Collector {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        CollectorText::from(self.clone()).serialize(serializer)
    }
}

impl Serialize for Section {
    /// A coefficient that is no number is refused: some formats would turn it into nothing, and
    /// nothing into a default.
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let join = self.join;
        if !(join.k.is_none_or(f64::is_finite) && join.extra_k.is_finite()) {
            let place = Place::Join(self.id.clone());
            let told = format_args!("{place}: a coefficient of the join is no number");
            return Err(serde::ser::Error::custom(told));
        }
        SectionText::from(self.clone()).serialize(serializer)
    }
}
