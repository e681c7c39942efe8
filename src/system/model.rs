//! What the user writes: a collector, a tree of sections, hoods and machines, as plain data.
//!
//! Nothing here is judged when it is put together; [`System::check`] is the only judge.

use crate::{
    air::Air,
    bore::Bore,
    fan::FanCurve,
    loss::{Entry, Junction, Leak, Part, Tightness, Wall},
    place::Name,
    quantity::{Angle, VolumeFlow},
};

/// A whole system: collector, sections and machines, and the air that they move.
///
/// Plain data: put it together with struct literals or with the chaining methods, or read it from
/// a document as part of a [`Study`](crate::Study).
/// [`Network::new`](crate::Network::new) checks it as a whole.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Deserialize),
    serde(try_from = "super::draft::SystemText")
)]
pub struct System {
    /// The air in the ducts.
    pub air: Air,
    /// How the inlets of every junction meet, unless the junction says its own.
    pub junction: Junction,
    /// Everything from the end of the mains to the open air.
    pub collector: Collector,
    /// The duct, each section by its name; order does not matter.
    pub sections: Vec<Section>,
    /// The machines and what they need.
    pub machines: Vec<Machine>,
}

/// Everything from the end of the mains to the open air, in flow order.
///
/// The path ends in the open, where the exit velocity pressure is charged exactly once: at the
/// last run after the fan, or at the fan's own outlet where nothing follows it.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Deserialize),
    serde(try_from = "super::draft::CollectorText")
)]
pub struct Collector {
    /// The runs from the mains to the fan. Where several mains enter, the first of these runs is
    /// the common outlet of the inlet adapter, a junction like any other.
    pub before: Vec<Run>,
    /// The fan; `None` when only the pressure that a fan must give is asked for.
    pub fan: Option<FanCurve>,
    /// The runs from the fan to the open air: duct, stack, a filter after the fan.
    pub after: Vec<Run>,
    /// How several mains meet in the inlet adapter; `None`: as the system says.
    pub junction: Option<Junction>,
}

/// A run of the collector: parts in flow order in one size.
#[derive(Debug, Clone, PartialEq)]
pub struct Run {
    /// Inner size.
    pub size: Bore,
    /// Wall of its straight duct.
    pub wall: Wall,
    /// What the air passes, in flow order.
    pub parts: Vec<Part>,
}

/// A section of duct: one size between two joins.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Deserialize),
    serde(try_from = "super::draft::SectionText")
)]
pub struct Section {
    /// Its name, unique among the sections.
    pub id: Name,
    /// The section it drains into; `None`: the collector.
    pub into: Option<Name>,
    /// How it meets that section where others meet it too.
    pub join: Join,
    /// Inner size.
    pub size: Bore,
    /// Wall of its straight duct.
    pub wall: Wall,
    /// What the air passes, in flow order.
    pub parts: Vec<Part>,
    /// How tight its duct and hose are; they leak at the static pressure of its downstream end, where
    /// the whole leak is put. [`Tightness::Airtight`] leaves leaks out.
    pub tightness: Tightness,
    /// What its upstream end is.
    pub start: Start,
    /// How the inlets at its upstream end meet; `None`: as the system says.
    pub junction: Option<Junction>,
}

/// How a section joins the one downstream of it.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Join {
    /// Angle between its axis and that of the outlet, 0 to 180 degrees; small is swept with the
    /// flow. `None`: it is the straight inlet (at most one a junction).
    pub angle: Option<Angle>,
    /// Loss coefficient on its own velocity pressure, needed by [`Junction::FixedK`]. The other
    /// models leave it alone, so that a model can be switched without losing it.
    pub k: Option<f64>,
    /// Loss coefficient on its own velocity pressure on top of the junction's model, 0 or more.
    pub extra_k: f64,
}

/// What the upstream end of a section is.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum Start {
    /// Other sections drain into it.
    Joins,
    /// It takes air in from the room.
    Hood(Hood),
    /// It is closed for good: a branch kept for later.
    Capped,
    /// It is closed, but not tight.
    Leak(Leak),
}

/// An opening that takes air in.
#[derive(Debug, Clone, PartialEq)]
pub struct Hood {
    /// Its name, unique among the hoods.
    pub id: Name,
    /// Its entry loss, machine internals among it, on the velocity pressure of its section.
    pub entry: Entry,
    /// The machine it serves.
    pub machine: Option<Name>,
    /// Flow that this hood needs by itself; a machine's sum can hide a starved hood.
    pub required: Option<VolumeFlow>,
}

/// A machine: one hood or several, and the flow that they need together.
#[derive(Debug, Clone, PartialEq)]
pub struct Machine {
    /// Its name, unique among the machines.
    pub id: Name,
    /// Flow that its hoods need together.
    pub required: VolumeFlow,
}

impl System {
    /// A system of this air and collector with momentum junctions and no duct yet.
    #[must_use]
    pub fn new(air: Air, collector: Collector) -> Self {
        Self {
            air,
            junction: Junction::default(),
            collector,
            sections: Vec::new(),
            machines: Vec::new(),
        }
    }

    /// With one more section.
    #[must_use]
    pub fn with_section(mut self, section: Section) -> Self {
        self.sections.push(section);
        self
    }

    /// With one more machine.
    #[must_use]
    pub fn with_machine(mut self, id: impl Into<Name>, required: VolumeFlow) -> Self {
        self.machines.push(Machine {
            id: id.into(),
            required,
        });
        self
    }

    /// With this model for every junction that does not say its own.
    #[must_use]
    pub fn with_junction(mut self, junction: Junction) -> Self {
        self.junction = junction;
        self
    }

    /// The hoods with their sections, in the order of the sections.
    pub(crate) fn hoods(&self) -> impl Iterator<Item = (&Section, &Hood)> {
        self.sections
            .iter()
            .filter_map(|section| match &section.start {
                Start::Hood(hood) => Some((section, hood)),
                _ => None,
            })
    }

    /// The hoods of a machine, each with its index among all hoods.
    pub(crate) fn hoods_of(&self, machine: &Name) -> impl Iterator<Item = (usize, &Hood)> {
        let hoods = self.hoods().map(|(_, hood)| hood).enumerate();
        hoods.filter(move |(_, hood)| hood.machine.as_ref() == Some(machine))
    }
}

impl Collector {
    /// A bare fan at the end of the main.
    #[must_use]
    pub fn new(fan: FanCurve) -> Self {
        Self {
            before: Vec::new(),
            fan: Some(fan),
            after: Vec::new(),
            junction: None,
        }
    }

    /// With one more run before the fan.
    #[must_use]
    pub fn with_before(mut self, run: Run) -> Self {
        self.before.push(run);
        self
    }

    /// With one more run after the fan.
    #[must_use]
    pub fn with_after(mut self, run: Run) -> Self {
        self.after.push(run);
        self
    }
}

impl Run {
    /// A run of this size and wall with nothing in it yet.
    #[must_use]
    pub fn new(size: Bore, wall: Wall) -> Self {
        Self {
            size,
            wall,
            parts: Vec::new(),
        }
    }

    /// With one more part at its downstream end.
    #[must_use]
    pub fn with_part(mut self, part: Part) -> Self {
        self.parts.push(part);
        self
    }
}

impl Section {
    /// A section that others drain into and that drains into the collector.
    #[must_use]
    pub fn new(id: impl Into<Name>, size: Bore, wall: Wall) -> Self {
        Self {
            id: id.into(),
            into: None,
            join: Join::default(),
            size,
            wall,
            parts: Vec::new(),
            tightness: Tightness::Airtight,
            start: Start::Joins,
            junction: None,
        }
    }

    /// Draining into that section.
    #[must_use]
    pub fn draining_into(mut self, section: impl Into<Name>) -> Self {
        self.into = Some(section.into());
        self
    }

    /// Joining at this angle.
    #[must_use]
    pub fn joining_at(mut self, angle: Angle) -> Self {
        self.join.angle = Some(angle);
        self
    }

    /// Joining with this loss coefficient on its own velocity pressure, for a fixed-K junction.
    #[must_use]
    pub fn joining_with_k(mut self, k: f64) -> Self {
        self.join.k = Some(k);
        self
    }

    /// With one more part at its downstream end.
    #[must_use]
    pub fn with_part(mut self, part: Part) -> Self {
        self.parts.push(part);
        self
    }

    /// Starting at this hood.
    #[must_use]
    pub fn with_hood(mut self, hood: Hood) -> Self {
        self.start = Start::Hood(hood);
        self
    }

    /// As tight as this.
    #[must_use]
    pub fn with_tightness(mut self, tightness: Tightness) -> Self {
        self.tightness = tightness;
        self
    }

    /// Closed at its upstream end, but for this leak.
    #[must_use]
    pub fn with_leak(mut self, leak: Leak) -> Self {
        self.start = Start::Leak(leak);
        self
    }

    /// Closed at its upstream end.
    #[must_use]
    pub fn capped(mut self) -> Self {
        self.start = Start::Capped;
        self
    }
}

impl Hood {
    /// A hood of this entry loss that serves no machine and states no need.
    #[must_use]
    pub fn new(id: impl Into<Name>, entry: Entry) -> Self {
        Self {
            id: id.into(),
            entry,
            machine: None,
            required: None,
        }
    }

    /// Serving this machine.
    #[must_use]
    pub fn serving(mut self, machine: impl Into<Name>) -> Self {
        self.machine = Some(machine.into());
        self
    }
}
