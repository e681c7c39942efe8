//! Whether an answer is one: every balance worked out again from the model alone.
//!
//! Nothing of the solver is used here. What a part or a leak does is asked of its law at the flow
//! that the answer tells, one by one; what a junction does, of [`Junction::losses`]. So what the
//! solver folds, joins and sweeps is checked by what it was folded from.
//!
//! [`Junction::losses`]: crate::Junction::losses

mod book;
mod collector;
mod openings;
mod pipe;
mod sections;

use super::point::OperatingPoint;
use crate::{
    place::Place,
    system::{Model, ModelErrors, Resolved, System},
};
use book::Book;
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
/// pressures in shares of the fan's pressure, the larger one of those at rest and at the flow that is
/// told, or of the largest pressure anywhere, total or static, where the flow was imposed. A sound
/// answer has violations near 1e-13, from rounding; 1e-9 is a fair tolerance for
/// [`Audit::is_sound`].
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
/// let study: Study = toml::from_str(&std::fs::read_to_string("examples/chair_shop.toml")?)?;
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
    const NONE: Self = Self {
        model: Violation::NONE,
        numbers: Violation::NONE,
        flows: Violation::NONE,
        leaks: Violation::NONE,
        losses: Violation::NONE,
        junctions: Violation::NONE,
        pressures: Violation::NONE,
        statics: Violation::NONE,
        velocities: Violation::NONE,
        fan: Violation::NONE,
    };

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

    /// Whether no violation is larger than that, a share as [`Violation`] tells it.
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn of_equal_violations_the_first_is_told() {
        let mut worst = Violation::NONE;
        assert_eq!(worst.to_string(), "none");
        worst.raise(0.0, || Place::Fan);
        assert_eq!(worst.at, Place::System);
        worst.raise(-3e-7, || Place::Collector);
        worst.raise(3e-7, || Place::Fan);
        assert_eq!(worst.to_string(), "3.0e-7 at collector");
        // What is no number is all wrong.
        worst.raise(f64::NAN, || Place::Air);
        assert_eq!((worst.value, worst.at), (1.0, Place::Air));
    }

    #[test]
    fn of_equal_kinds_the_first_is_the_worst() {
        let mut audit = Audit::NONE;
        assert_eq!(audit.worst(), &audit.model);
        audit.leaks.raise(0.5, || Place::Fan);
        audit.flows.raise(0.5, || Place::Air);
        assert_eq!(audit.worst().at, Place::Air);
        assert!(audit.is_sound(0.5) && !audit.is_sound(0.49));
    }
}
