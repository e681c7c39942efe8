//! A small shop for the tests of these modules, all by coefficients.

use crate::{
    air::Air,
    bore::Bore,
    fan::{Basis, FanCurve, Fitted},
    loss::{Entry, Filter, Gate, Junction, Part, RatedDrop, Wall},
    place::{Name, Place},
    quantity::{Length, Pressure, VolumeFlow},
    solve::{Network, OperatingPoint, Quality, Residual, SolveError, Unbalanced},
    system::{Collector, Hood, Run, Section, Start, System},
};

pub(super) fn mm(mm: f64) -> Bore {
    Bore::Round(Length::from_mm(mm))
}

pub(super) fn m3_s(flow: f64) -> VolumeFlow {
    VolumeFlow::from_m3_s(flow)
}

pub(super) fn pa(pressure: f64) -> Pressure {
    Pressure::from_pa(pressure)
}

/// A fan in the air of the shop.
pub(super) fn fan(points: &[(f64, f64)]) -> FanCurve {
    let density = Air::standard().properties().unwrap().density;
    let points = points.iter().map(|&(q, p)| (m3_s(q), pa(p)));
    FanCurve::new(points, Basis::Static, Fitted::NOTHING, density).unwrap()
}

/// One whose curve rises.
pub(super) fn rising_fan() -> FanCurve {
    fan(&[(0.0, 1500.0), (0.1, 500.0), (0.25, 1900.0), (1.0, 0.0)])
}

/// The filter of the shop.
pub(super) fn filter() -> Filter {
    Filter::Rated(RatedDrop {
        drop: pa(300.0),
        at: m3_s(0.4),
    })
}

fn branch(id: &str, k: f64) -> Section {
    let gate = Gate {
        opening: 1.0,
        leak_area: None,
    };
    Section::new(id, mm(125.0), Wall::Galvanised)
        .draining_into("main")
        .joining_with_k(0.0)
        .with_part(Part::Gate(gate))
        .with_part(Part::K(k))
}

/// A saw and a planer, each at one hood, with far more air than the 0.1 m3/s that each needs, even
/// both at once; and an end for a machine to come.
///
/// ```text
/// left  (table, of the saw) ----+
/// right (chute, of the planer) -+-- main -- filter -- fan
/// end (capped) -----------------+
/// ```
pub(super) fn shop() -> System {
    let hood = |id: &str, machine: &str| Hood::new(id, Entry::K(0.5)).serving(machine);
    let before = Run::new(mm(180.0), Wall::Galvanised).with_part(Part::Filter(filter()));
    let fan = fan(&[(0.0, 3000.0), (0.5, 1500.0), (1.0, 0.0)]);
    System::new(Air::standard(), Collector::new(fan).with_before(before))
        .with_junction(Junction::FixedK)
        .with_section(branch("left", 1.0).with_hood(hood("table", "saw")))
        .with_section(branch("right", 2.0).with_hood(hood("chute", "planer")))
        .with_section(branch("end", 1.0).capped())
        .with_section(Section::new("main", mm(180.0), Wall::Galvanised).with_part(Part::K(1.0)))
        .with_machine("saw", m3_s(0.1))
        .with_machine("planer", m3_s(0.1))
}

/// Gives the first hood, the table of the saw, a need of its own.
pub(super) fn with_need_at_table(mut system: System, need: f64) -> System {
    for section in &mut system.sections {
        if let Start::Hood(hood) = &mut section.start
            && hood.id == Name::from("table")
        {
            hood.required = Some(m3_s(need));
        }
    }
    system
}

/// The answer with these hoods and machines open.
pub(super) fn solved(system: &System, open: &[&str]) -> OperatingPoint {
    let network = Network::new(system).unwrap();
    let open = network.open(open).unwrap();
    network.operating_point(&open).unwrap()
}

/// A balance that was not found.
pub(super) fn not_converged() -> SolveError {
    let at = || Residual {
        value: 1.0,
        at: Place::Collector,
    };
    SolveError::NotConverged(Box::new(Unbalanced {
        quality: Quality {
            passes: 60,
            runs: 1,
            pressure: at(),
            flow: at(),
            step: at(),
            rounding: 0.0,
        },
        hoods: Vec::new(),
        trace: Vec::new(),
    }))
}
