//! Where the pressure goes: element by element along a path, and kind by kind in the whole system.

mod elements;

use super::check::differs;
use crate::{
    loss::LossError,
    place::{Name, Place},
    quantity::{Length, Power, Pressure, VolumeFlow},
    solve::{HoodState, OperatingPoint},
    system::{Model, ModelErrors, Resolved, Start, System, UnknownName, unknown},
};
use elements::Shop;

/// What takes pressure.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "snake_case")
)]
#[non_exhaustive]
pub enum ElementKind {
    /// The entry of a hood, what the model puts inside a machine among it.
    Hood,
    /// Straight duct.
    Duct,
    /// Flexible hose.
    Hose,
    /// Elbows.
    Elbow,
    /// A change of size, the sharp one where nobody said how among them.
    Transition,
    /// A gate.
    Gate,
    /// Where sections meet. Below zero where a faster stream pulls the slower along.
    Junction,
    /// A port adapter or the inside of a machine.
    Port,
    /// A separator.
    Separator,
    /// A filter.
    Filter,
    /// A silencer.
    Silencer,
    /// Anything else, told by its coefficient.
    Other,
    /// Where the leak of a section's walls enters: in a path what mixing it in takes, in the whole
    /// also what the leaked air lost on its way in.
    WallLeak,
    /// A hole at the end of a section.
    Leak,
    /// The velocity pressure lost where the path ends in the open.
    Exit,
}

/// One element of a path.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct PathElement {
    /// What it is.
    pub kind: ElementKind,
    /// Where it stands.
    pub place: Place,
    /// Flow through it.
    pub flow: VolumeFlow,
    /// Loss of total pressure in it; below zero where the air gains.
    pub loss: Pressure,
    /// That loss over the whole path's.
    pub share: f64,
    /// Its length, of duct and hose.
    pub length: Option<Length>,
    /// Loss per length \[Pa/m\], of duct and hose that have a length.
    pub pa_per_m: Option<f64>,
    /// Total pressure behind it; the room is 0.
    pub total_pressure: Pressure,
    /// Static pressure behind it: what a tap in the wall would read. At a join, in what follows it.
    pub static_pressure: Pressure,
}

/// What the path of one hood takes, from the room through the fan to the open.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct PathBudget {
    /// The hood.
    pub hood: Name,
    /// What the fan gives for it: its total pressure, or its static pressure where the size of its
    /// outlet is not known; see `of_total`.
    pub pressure: Pressure,
    /// Whether that is fan total pressure. Fan static pressure has the exit in it already, and then
    /// no exit stands among the elements.
    pub of_total: bool,
    /// The elements in flow order. Their shares sum to 1.
    pub elements: Vec<PathElement>,
    /// The duct or hose that loses most per metre: its index.
    pub steepest: Option<usize>,
    /// The element that loses most: its index.
    pub largest: Option<usize>,
}

/// What all elements of one kind take in the whole system.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct KindLoss {
    /// The kind.
    pub kind: ElementKind,
    /// How many of them carry air.
    pub elements: usize,
    /// Air power lost in them: flow times loss.
    pub power: Power,
    /// That power over the total flow: the loss that a mean cubic metre of air meets in them. Below
    /// zero where it gains. Over all kinds these sum to the fan's pressure.
    pub loss: Pressure,
    /// Share of the whole; over all kinds these sum to 1.
    pub share: f64,
}

/// Why there is no budget.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum BudgetError {
    /// The operating point was made from another system.
    #[error(
        "the operating point is of another system: its {what} are not those of this one; give a point of this one"
    )]
    ForeignPoint {
        /// What differs: hoods, machines, sections or runs of the collector.
        what: &'static str,
    },
    /// The model is at fault.
    #[error(transparent)]
    Model(#[from] ModelErrors),
    /// A part whose law refuses its numbers.
    #[error("{place}: {error}")]
    Part {
        /// The part.
        place: Place,
        /// What is wrong.
        error: LossError,
    },
    /// A hood that is not there.
    #[error(transparent)]
    Unknown(#[from] UnknownName),
    /// No air passes the hood, and so no pressure is lost behind it.
    #[error("no air passes hood {hood:?}: it is shut and tight; open it, or ask for the path of another", hood = .hood.as_str())]
    NoAir {
        /// The hood.
        hood: Name,
    },
}

/// Where the pressure of an answer goes.
///
/// Worked out anew from the model's parts at the answer's flows, each with its exact friction
/// factor; only what the junctions take is the solver's own figure, and what the leak of a wall
/// takes, which is what the section loses beyond its parts.
///
/// ```
/// # #[cfg(feature = "serde")]
/// # fn main() -> Result<(), Box<dyn std::error::Error>> {
/// use airsplit::{Budget, Network, Study};
/// let study: Study = toml::from_str(&std::fs::read_to_string("examples/chair_shop.toml")?)?;
/// let network = Network::new(&study.system)?;
/// let point = network.operating_point(&network.open(["planer"])?)?;
/// let budget = Budget::new(&study.system, &point)?;
/// let path = budget.path("planer port")?;
/// for element in &path.elements {
///     println!("{:12} {:5.0} Pa {:4.0} %", element.kind, element.loss.as_pa(), 100.0 * element.share);
/// }
/// let shares: f64 = budget.kinds().iter().map(|kind| kind.share).sum();
/// assert!((shares - 1.0).abs() < 1e-9);
/// # Ok(())
/// # }
/// # #[cfg(not(feature = "serde"))]
/// # fn main() {}
/// ```
#[derive(Debug, Clone)]
pub struct Budget {
    hoods: Vec<(Name, usize)>,
    /// By the model's order.
    sections: Vec<Piece>,
    into: Vec<Option<usize>>,
    before: Vec<Piece>,
    after: Vec<Piece>,
    exit: Option<Element>,
    flow_m3s: f64,
    pressure_pa: f64,
    of_total: bool,
    /// Loss of the holes at the end of sections.
    leaks: Vec<Element>,
}

/// An element without its place in a path.
#[derive(Debug, Clone)]
struct Element {
    kind: ElementKind,
    place: Place,
    q_m3s: f64,
    loss_pa: f64,
    length_m: Option<f64>,
}

/// A section or run: its elements in flow order.
#[derive(Debug, Clone)]
struct Piece {
    elements: Vec<Element>,
    /// Velocity pressure along its parts.
    head_pa: f64,
    /// The same behind the leak of its walls.
    end_head_pa: f64,
    /// Air that its walls let in, and what that air lost on the way.
    leak: Option<Element>,
    join: Option<Element>,
}

impl Budget {
    /// The budget of an answer of this system.
    ///
    /// # Errors
    ///
    /// An answer of another system, or a model at fault.
    pub fn new(system: &System, point: &OperatingPoint) -> Result<Self, BudgetError> {
        let resolved = Resolved::of(Model::plain(system))?;
        if let Some(what) = differs(system, point) {
            return Err(BudgetError::ForeignPoint { what });
        }
        let topology = &resolved.topology;
        let mut into = vec![None; system.sections.len()];
        for (outlet, inlets) in topology.inlets.iter().enumerate() {
            for &inlet in inlets {
                if let Some(into) = into.get_mut(inlet) {
                    *into = Some(outlet);
                }
            }
        }
        let shop = Shop {
            system,
            resolved: &resolved,
            point,
        };
        let mut sections = Vec::with_capacity(system.sections.len());
        let mut leaks = Vec::new();
        let mut hoods: Vec<Option<&HoodState>> = vec![None; system.sections.len()];
        for (at, hood) in resolved.hoods.iter().zip(&point.hoods) {
            if let Some(here) = hoods.get_mut(at.section) {
                *here = Some(hood);
            }
        }
        let states = system.sections.iter().zip(&point.sections).zip(hoods);
        for (i, ((section, state), hood)) in states.enumerate() {
            sections.push(shop.section(i, section, state, hood)?);
            if let Start::Leak(_) = section.start {
                let start_pa = state.total_pressure.as_pa() + state.loss.as_pa();
                leaks.push(Element {
                    kind: ElementKind::Leak,
                    place: Place::Section(section.id.clone()),
                    q_m3s: (state.flow - state.leak).as_m3_s(),
                    loss_pa: -start_pa,
                    length_m: None,
                });
            }
        }
        let (before, after) = shop.collector()?;
        let total = point.fan.total_pressure;
        // With neither known nothing would have been solved.
        let pressure = total.or(point.fan.static_pressure).unwrap_or_default();
        let hoods = system.hoods().map(|(_, hood)| hood.id.clone());
        let places = resolved.hoods.iter().map(|at| at.section);
        Ok(Self {
            hoods: hoods.zip(places).collect(),
            sections,
            into,
            before,
            after,
            exit: total.and_then(|_| shop.exit()),
            flow_m3s: point.flow.as_m3_s(),
            pressure_pa: pressure.as_pa(),
            of_total: total.is_some(),
            leaks,
        })
    }

    /// The path from a hood through the fan to the open.
    ///
    /// # Errors
    ///
    /// No hood of that name, or one that no air passes.
    pub fn path(&self, hood: &str) -> Result<PathBudget, BudgetError> {
        let found = self.hoods.iter().find(|(name, _)| name.as_str() == hood);
        let Some((hood, start)) = found else {
            let names = self.hoods.iter().map(|(name, _)| name);
            return Err(unknown("hood", hood, names).into());
        };
        let mut walk = Walk {
            pressure_pa: self.pressure_pa,
            total_pa: 0.0,
            elements: Vec::new(),
        };
        let mut at = Some(*start);
        while let Some(piece) = at.and_then(|i| self.sections.get(i)) {
            walk.along(piece);
            at = at.and_then(|i| self.into.get(i).copied().flatten());
            if let Some(join) = &piece.join {
                let next = at.and_then(|i| self.sections.get(i));
                let next = next.or(self.before.first());
                walk.step(join, next.map_or(piece.end_head_pa, |next| next.head_pa));
            }
        }
        if !walk
            .elements
            .first()
            .is_some_and(|first| first.flow.as_m3_s() > 0.0)
        {
            let hood = hood.clone();
            return Err(BudgetError::NoAir { hood });
        }
        self.before.iter().for_each(|piece| walk.along(piece));
        walk.total_pa += self.pressure_pa;
        self.after.iter().for_each(|piece| walk.along(piece));
        if let Some(exit) = &self.exit {
            walk.step(exit, 0.0);
        }
        let elements = walk.elements;
        let most = |figure: &dyn Fn(&PathElement) -> Option<f64>| {
            let figures = elements.iter().enumerate();
            let figures = figures.filter_map(|(i, element)| Some((i, figure(element)?)));
            figures
                .max_by(|a, b| a.1.total_cmp(&b.1).then(b.0.cmp(&a.0)))
                .map(|(i, _)| i)
        };
        Ok(PathBudget {
            hood: hood.clone(),
            pressure: Pressure::from_pa(self.pressure_pa),
            of_total: self.of_total,
            steepest: most(&|element| element.pa_per_m),
            largest: most(&|element| Some(element.loss.as_pa())),
            elements,
        })
    }

    /// The whole system, kind by kind, the costliest first; kinds that carry no air are left out.
    ///
    /// Each element counts by the air that passes it: flow times loss over the total flow, so that
    /// the sum over all kinds is the fan's pressure.
    #[must_use]
    pub fn kinds(&self) -> Vec<KindLoss> {
        let pieces = self.sections.iter().chain(&self.before).chain(&self.after);
        let elements = pieces.flat_map(|piece| {
            let own = piece.elements.iter();
            own.chain(&piece.leak).chain(&piece.join)
        });
        let elements = elements.chain(&self.leaks).chain(&self.exit);
        let mut kinds: Vec<KindLoss> = Vec::new();
        for element in elements.filter(|element| element.q_m3s > 0.0) {
            let power = Power::from_w(element.q_m3s * element.loss_pa);
            match kinds.iter_mut().find(|kind| kind.kind == element.kind) {
                Some(kind) => {
                    kind.power = kind.power + power;
                    kind.elements += 1;
                }
                None => kinds.push(KindLoss {
                    kind: element.kind,
                    elements: 1,
                    power,
                    loss: Pressure::default(),
                    share: 0.0,
                }),
            }
        }
        for kind in &mut kinds {
            let loss_pa = kind.power.as_w() / self.flow_m3s;
            kind.loss = Pressure::from_pa(loss_pa);
            kind.share = loss_pa / self.pressure_pa;
        }
        kinds.sort_by(|a, b| b.power.as_w().total_cmp(&a.power.as_w()));
        kinds
    }
}

/// A path as it is walked.
struct Walk {
    pressure_pa: f64,
    total_pa: f64,
    elements: Vec<PathElement>,
}

impl Walk {
    fn along(&mut self, piece: &Piece) {
        for element in &piece.elements {
            let leaked = element.kind == ElementKind::WallLeak;
            let head = if leaked {
                piece.end_head_pa
            } else {
                piece.head_pa
            };
            self.step(element, head);
        }
    }

    /// Past one element, into air of this velocity pressure.
    fn step(&mut self, element: &Element, head_pa: f64) {
        self.total_pa -= element.loss_pa;
        let length = element.length_m;
        self.elements.push(PathElement {
            kind: element.kind,
            place: element.place.clone(),
            flow: VolumeFlow::from_m3_s(element.q_m3s),
            loss: Pressure::from_pa(element.loss_pa),
            share: element.loss_pa / self.pressure_pa,
            length: length.map(Length::from_m),
            pa_per_m: length.filter(|&m| m > 0.0).map(|m| element.loss_pa / m),
            total_pressure: Pressure::from_pa(self.total_pa),
            static_pressure: Pressure::from_pa(self.total_pa - head_pa),
        });
    }
}

impl std::fmt::Display for ElementKind {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.pad(match self {
            Self::Hood => "hood entry",
            Self::Duct => "duct",
            Self::Hose => "hose",
            Self::Elbow => "elbow",
            Self::Transition => "change of size",
            Self::Gate => "gate",
            Self::Junction => "junction",
            Self::Port => "port",
            Self::Separator => "separator",
            Self::Filter => "filter",
            Self::Silencer => "silencer",
            Self::Other => "other",
            Self::WallLeak => "wall leak",
            Self::Leak => "leak",
            Self::Exit => "exit",
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::decide::by_hand::{shop, solved};

    #[test]
    fn kinds_count_what_carries_air_and_airtight_walls_leak_nothing() {
        let system = shop();
        let point = solved(&system, &["saw"]);
        let budget = Budget::new(&system, &point).unwrap();
        let kinds = budget.kinds();
        let count = |kind| {
            kinds
                .iter()
                .find(|at| at.kind == kind)
                .map(|at| at.elements)
        };
        // The saw's way only: the planer's hood, gate and coefficient carry nothing.
        assert_eq!(count(ElementKind::Hood), Some(1));
        assert_eq!(count(ElementKind::Gate), Some(1));
        // Coefficients of the branch and of the main.
        assert_eq!(count(ElementKind::Other), Some(2));
        assert_eq!(count(ElementKind::Filter), Some(1));
        let path = budget.path("table").unwrap();
        let mut walls = path.elements.iter();
        assert!(!walls.any(|at| at.kind == ElementKind::WallLeak));
    }

    #[test]
    fn kinds_are_named_in_columns() {
        let told = format!("{:>7}|{}", ElementKind::Duct, ElementKind::Transition);
        assert_eq!(told, "   duct|change of size");
    }

    #[test]
    fn what_has_no_length_loses_nothing_per_metre() {
        let mut walk = Walk {
            pressure_pa: 100.0,
            total_pa: 0.0,
            elements: Vec::new(),
        };
        for (length_m, loss_pa) in [(Some(2.0), 50.0), (Some(0.0), 0.0), (None, 50.0)] {
            let element = Element {
                kind: ElementKind::Duct,
                place: Place::Collector,
                q_m3s: 0.1,
                loss_pa,
                length_m,
            };
            walk.step(&element, 0.0);
        }
        let slopes: Vec<_> = walk.elements.iter().map(|at| at.pa_per_m).collect();
        assert_eq!(slopes, [Some(25.0), None, None]);
    }
}
