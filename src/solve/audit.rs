//! Whether an answer is one: every balance worked out again from the model alone.
//!
//! Nothing of the solver is used here. What a part or a leak does is asked of its law at the flow
//! that the answer tells, one by one; what a junction does, of [`Junction::losses`]. So what the
//! solver folds, joins and sweeps is checked by what it was folded from.
//!
//! [`Junction::losses`]: crate::Junction::losses

mod collector;
mod openings;
mod pipe;
mod sections;

use super::point::OperatingPoint;
use crate::{
    loss::Note,
    place::Place,
    quantity::{Pressure, Velocity, VolumeFlow},
    system::{Model, ModelErrors, Resolved, System},
};
use std::fmt;

/// By how much a law is broken, and where.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct Violation {
    /// Its size \[-\]: of a flow in shares of the total flow, of a pressure in shares of the
    /// pressure that [`audit`] tells. 1 where no size can be told: a number that is none, a name or
    /// a status that is another one.
    pub value: f64,
    /// Where.
    pub at: Place,
}

/// What an [`audit`] has found: of each kind of law the worst violation.
///
/// Every field is finite and 0 or more.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct Audit {
    /// What is no result: names and their order, sizes, junction models, requirements, notes. Where
    /// names differ nothing else is checked: the answer is another system's.
    pub model: Violation,
    /// Numbers that are none, and flows against the stream.
    pub numbers: Violation,
    /// Flows that do not add up: at the downstream end of a section, in its hood, a machine, the
    /// total.
    pub flows: Violation,
    /// Air where none can enter, and leaks that are not what their law says: walls and holes at the
    /// suction where they stand.
    pub leaks: Violation,
    /// Losses of sections and of the runs of the collector, against those of their parts.
    pub losses: Violation,
    /// Losses in junctions, against those of their models.
    pub junctions: Violation,
    /// Total pressures that do not fall by the losses between them, from the room at a hood to the
    /// fan and from there to the open air.
    pub pressures: Violation,
    /// Velocity pressures, and static pressures, against flow and total pressure.
    pub statics: Violation,
    /// Velocities, against flow and size.
    pub velocities: Violation,
    /// The fan: what it gives, what the path needs, and what the answer calls that.
    pub fan: Violation,
}

/// Checks an answer against its system: every flow, pressure and loss that it tells.
///
/// | what | must be |
/// |---|---|
/// | flow at the end of a section | those of its inlets, or its hood's, and the leak of its walls |
/// | a hood that is not open | what its shut gates let by; 0 where they do not leak |
/// | leaks | what their laws say at the suction where they stand |
/// | loss of a section or run | those of its parts, one by one, at its flow |
/// | loss in a junction | that of its model at the flows of its inlets |
/// | total pressure | 0 at every hood that takes air; falls by these losses on the way to the fan |
/// | after the fan | ends in the open with the velocity pressure of the exit, and 0 static |
/// | fan | its curve at this flow and density, told on its basis; what the path needs |
///
/// Which hoods are open is taken from the answer. Flows are told in shares of the total flow;
/// pressures in shares of the fan's pressure at rest, or of the largest pressure anywhere where the
/// flow was imposed. A sound answer has violations near 1e-13, from
/// rounding; 1e-9 is a fair tolerance for [`Audit::is_sound`].
///
/// Not checked are [`OperatingPoint::quality`], the solver's own word, and what the system would need
/// at the end of the fan's curve, which is another answer. Factors that stand beside a system's
/// numbers ([`Network::varied`](crate::Network::varied)) are not in the system: take
/// [`System::with_numbers`].
///
/// ```
/// # fn main() -> Result<(), Box<dyn std::error::Error>> {
/// # #[cfg(feature = "serde")] {
/// use airsplit::{Network, Study, audit};
/// let study: Study = toml::from_str(include_str!("../../examples/chair_shop.toml"))?;
/// let network = Network::new(&study.system)?;
/// let mut point = network.operating_point(&network.open(["planer", "table saw"])?)?;
/// assert!(audit(&study.system, &point)?.is_sound(1e-11));
///
/// point.hoods[0].flow = point.hoods[0].flow * 1.01;
/// assert!(!audit(&study.system, &point)?.is_sound(1e-11));
/// # }
/// # Ok(())
/// # }
/// ```
///
/// # Errors
///
/// Every fault of the system, as [`System::check`] tells them.
pub fn audit(system: &System, point: &OperatingPoint) -> Result<Audit, ModelErrors> {
    let resolved = Resolved::of(Model::plain(system))?;
    let mut book = Book::new(system, point, &resolved);
    if book.names() {
        book.told_of_the_model();
        book.sections();
        book.openings();
        book.collector();
        book.fan();
    }
    Ok(book.audit)
}

impl Violation {
    const NONE: Self = Self {
        value: 0.0,
        at: Place::System,
    };

    /// Keeps the larger one.
    fn raise(&mut self, share: f64, at: impl FnOnce() -> Place) {
        let value = if share.is_finite() { share.abs() } else { 1.0 };
        if value > self.value {
            *self = Self { value, at: at() };
        }
    }
}

/// As `3.1e-16 at section "main"`.
impl fmt::Display for Violation {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.value == 0.0 {
            return f.write_str("none");
        }
        write!(f, "{:.1e} at {}", self.value, self.at)
    }
}

impl Audit {
    /// Every kind of law by its name, and its worst violation.
    pub fn kinds(&self) -> impl Iterator<Item = (&'static str, &Violation)> {
        [
            ("model", &self.model),
            ("numbers", &self.numbers),
            ("flows", &self.flows),
            ("leaks", &self.leaks),
            ("losses", &self.losses),
            ("junctions", &self.junctions),
            ("pressures", &self.pressures),
            ("statics", &self.statics),
            ("velocities", &self.velocities),
            ("fan", &self.fan),
        ]
        .into_iter()
    }

    /// The worst violation of any kind.
    #[must_use]
    pub fn worst(&self) -> &Violation {
        let all = self.kinds().map(|(_, violation)| violation);
        all.reduce(|worst, next| {
            if next.value > worst.value {
                next
            } else {
                worst
            }
        })
        .unwrap_or(&self.model)
    }

    /// Whether no violation is larger than that.
    #[must_use]
    pub fn is_sound(&self, tolerance: f64) -> bool {
        self.worst().value <= tolerance
    }
}

/// A line for each kind.
impl fmt::Display for Audit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (i, (kind, violation)) in self.kinds().enumerate() {
            let end = if i > 0 { "\n" } else { "" };
            write!(f, "{end}{kind:11}{violation}")?;
        }
        Ok(())
    }
}

/// What is audited, and what was found so far.
struct Book<'a> {
    system: &'a System,
    point: &'a OperatingPoint,
    resolved: &'a Resolved,
    audit: Audit,
    /// What flows are told in shares of \[m3/s\].
    whole_flow: f64,
    /// What pressures are told in shares of \[Pa\].
    whole_pressure: f64,
}

impl<'a> Book<'a> {
    fn new(system: &'a System, point: &'a OperatingPoint, resolved: &'a Resolved) -> Self {
        let none = || Violation::NONE;
        let positive = |x: &f64| x.is_finite() && *x > 0.0;
        let whole_flow = Some(point.flow.as_m3_s()).filter(positive);
        let of_sections = point.sections.iter().map(|at| at.total_pressure);
        let of_runs = point.collector.iter().map(|at| at.total_pressure);
        let pressures = of_sections.chain(of_runs).chain([point.fan.curve_pressure]);
        let largest = pressures.fold(0.0, |most: f64, next| most.max(next.as_pa().abs()));
        let at_rest = collector::fan_at_work(system, point).map(|fan| {
            let density = resolved.air.density / fan.density();
            fan.shut_off().as_pa() * density
        });
        let whole_pressure = at_rest.filter(positive).unwrap_or(largest);
        let mut book = Self {
            system,
            point,
            resolved,
            audit: Audit {
                model: none(),
                numbers: none(),
                flows: none(),
                leaks: none(),
                losses: none(),
                junctions: none(),
                pressures: none(),
                statics: none(),
                velocities: none(),
                fan: none(),
            },
            // Without any, violations are told as they are.
            whole_flow: whole_flow.unwrap_or(1.0),
            whole_pressure: Some(whole_pressure).filter(positive).unwrap_or(1.0),
        };
        if whole_flow.is_none() {
            book.audit.numbers.raise(1.0, || Place::System);
        }
        book
    }

    fn share_of_flow(&self, m3_s: f64) -> f64 {
        m3_s / self.whole_flow
    }

    fn share_of_pressure(&self, pa: f64) -> f64 {
        pa / self.whole_pressure
    }

    /// A fact of the model that the answer must tell alike.
    fn same<T: PartialEq + ?Sized>(&mut self, told: &T, has: &T, at: &Place) {
        if told != has {
            self.audit.model.raise(1.0, || at.clone());
        }
    }

    fn numbers(&mut self, numbers: &[f64], at: &Place) {
        if !numbers.iter().all(|number| number.is_finite()) {
            self.audit.numbers.raise(1.0, || at.clone());
        }
    }

    /// A flow that must not be against the stream.
    fn forward(&mut self, flow: VolumeFlow, at: &Place) {
        let back = self.share_of_flow((-flow.as_m3_s()).max(0.0));
        self.audit.numbers.raise(back, || at.clone());
        self.numbers(&[flow.as_m3_s()], at);
    }

    /// What air of this flow in a bore of this area has for velocity and velocity pressure, and
    /// between them for static pressure.
    fn motion(&mut self, q: f64, area_m2: f64, told: Motion, at: &Place) {
        let Motion {
            velocity,
            velocity_pressure,
            total_pressure,
            static_pressure,
        } = told;
        let flow = self.share_of_flow(velocity.as_m_s() * area_m2 - q);
        self.audit.velocities.raise(flow, || at.clone());
        let head = self.head(q, area_m2);
        for off in [
            velocity_pressure.as_pa() - head,
            static_pressure.as_pa() - (total_pressure.as_pa() - head),
        ] {
            let off = self.share_of_pressure(off);
            self.audit.statics.raise(off, || at.clone());
        }
    }

    /// Velocity pressure \[Pa\].
    fn head(&self, q: f64, area_m2: f64) -> f64 {
        let velocity = q / area_m2;
        0.5 * self.resolved.air.density.as_kg_m3() * velocity * velocity
    }

    /// Whether every name stands where the model has it.
    fn names(&mut self) -> bool {
        let (system, point) = (self.system, self.point);
        let hoods = || system.hoods().map(|(_, hood)| &hood.id);
        let mut found = Vec::new();
        let mut compare = |told: Vec<_>, has: Vec<_>, at: fn(_) -> Place| {
            let differ = has.iter().zip(&told).find(|(has, told)| has != told);
            if let Some((&has, _)) = differ {
                found.push(at(crate::place::Name::clone(has)));
            } else if has.len() != told.len() {
                found.push(Place::System);
            }
        };
        compare(
            point.sections.iter().map(|state| &state.id).collect(),
            system.sections.iter().map(|section| &section.id).collect(),
            Place::Section,
        );
        compare(
            point.hoods.iter().map(|state| &state.name).collect(),
            hoods().collect(),
            Place::Hood,
        );
        compare(
            point.machines.iter().map(|state| &state.name).collect(),
            system.machines.iter().map(|machine| &machine.id).collect(),
            Place::Machine,
        );
        let runs = collector::places(system);
        if !point.collector.iter().map(|run| &run.place).eq(&runs) {
            found.push(Place::Collector);
        }
        let fine = found.is_empty();
        for at in found {
            self.audit.model.raise(1.0, || at);
        }
        fine
    }

    /// Notes, and what is charged nothing.
    fn told_of_the_model(&mut self) {
        let (resolved, point) = (self.resolved, self.point);
        let sections = || resolved.sections.iter().map(|law| &law.conduit);
        let conduits = || sections().chain(&resolved.before).chain(&resolved.after);
        let of_parts = conduits().flat_map(|conduit| conduit.notes.iter().cloned());
        let mut notes: Vec<(Place, Note)> = of_parts.collect();
        for (section, law) in self.system.sections.iter().zip(&resolved.sections) {
            let place = || Place::Section(section.id.clone());
            notes.extend(law.head.notes.iter().map(|note| (place(), note.clone())));
        }
        let adapter = resolved.adapter.notes.iter();
        notes.extend(adapter.map(|note| (Place::Collector, note.clone())));
        self.same(&point.notes, &notes, &Place::System);
        let spared: Vec<Place> = conduits().flat_map(|c| c.in_fan_curve.clone()).collect();
        self.same(&point.in_fan_curve, &spared, &Place::Collector);
    }
}

/// What an answer tells of the air at a place.
struct Motion {
    velocity: Velocity,
    velocity_pressure: Pressure,
    total_pressure: Pressure,
    static_pressure: Pressure,
}
