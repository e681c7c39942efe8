//! A small system for the tests of these modules.

use super::{Network, OpenSet};
use crate::{
    air::Air,
    bore::Bore,
    fan::{Basis, FanCurve, Fitted},
    loss::{Entry, Gate, Leak, Part, RatedDrop, Separator, Tightness, Wall},
    quantity::{Angle, Area, Density, DynamicViscosity, Length, Pressure, VolumeFlow},
    system::{Collector, Hood, Run, Section, System},
};

const DENSITY: f64 = 1.2;

/// Falls throughout.
pub(super) const FALLING: &[(f64, f64)] =
    &[(0.0, 3000.0), (0.2, 2600.0), (0.4, 1500.0), (0.5, 500.0)];

/// Rises to a peak and has a dip before it.
pub(super) const RISING: &[(f64, f64)] = &[
    (0.0, 2000.0),
    (0.1, 1200.0),
    (0.2, 1900.0),
    (0.35, 1500.0),
    (0.5, 200.0),
];

pub(super) fn mm(mm: f64) -> Bore {
    Bore::Round(Length::from_mm(mm))
}

/// Two hoods, one of them behind a leaky duct, a third whose gate leaks when it is shut, and a hole.
/// The fan blows into a run of this width.
pub(super) fn system(points: &[(f64, f64)], after: Option<f64>) -> System {
    let air = Air::Given {
        density: Density::from_kg_m3(DENSITY),
        viscosity: DynamicViscosity::from_pa_s(1.8e-5),
    };
    let separator = Separator::Rated(RatedDrop {
        drop: Pressure::from_pa(100.0),
        at: VolumeFlow::from_m3_s(0.3),
    });
    let points = points
        .iter()
        .map(|&(q, p)| (VolumeFlow::from_m3_s(q), Pressure::from_pa(p)));
    let density = Density::from_kg_m3(DENSITY);
    let fan = FanCurve::new(points, Basis::Static, Fitted::NOTHING, density)
        .and_then(|fan| fan.with_outlet(mm(100.0)))
        .unwrap();
    let before = Run::new(mm(180.0), Wall::Galvanised)
        .with_part(Part::Duct(Length::from_m(1.0)))
        .with_part(Part::Separator(separator));
    let mut collector = Collector::new(fan).with_before(before);
    if let Some(wide) = after {
        collector = collector.with_after(Run::new(mm(wide), Wall::Galvanised));
    }
    let branch = |id: &str, wide: f64, metres: f64| {
        let gate = Gate {
            opening: 1.0,
            leak_area: Some(Area::from_m2(1e-4)),
        };
        Section::new(id, mm(wide), Wall::Galvanised)
            .draining_into("main")
            .joining_at(Angle::from_deg(45.0))
            .with_hood(Hood::new(id, Entry::Flanged))
            .with_part(Part::Gate(gate))
            .with_part(Part::Duct(Length::from_m(metres)))
    };
    let mut short = branch("short", 100.0, 2.0);
    short.tightness = Tightness::Atc5;
    let hole = Section::new("hole", mm(80.0), Wall::Galvanised)
        .draining_into("main")
        .joining_at(Angle::from_deg(90.0))
        .with_leak(Leak::Hole(Area::from_m2(2e-4)));
    let duct = Part::Duct(Length::from_m(6.0));
    System::new(air, collector)
        .with_section(Section::new("main", mm(180.0), Wall::Galvanised).with_part(duct))
        .with_section(branch("long", 125.0, 7.0))
        .with_section(short)
        .with_section(hole)
        .with_section(branch("shut", 125.0, 4.0))
}

/// The network, its fan and the set of two hoods.
pub(super) fn ready(points: &[(f64, f64)], after: Option<f64>) -> (Network, OpenSet) {
    let network = Network::new(&system(points, after)).unwrap();
    let open = network.open(["long", "short"]).unwrap();
    (network, open)
}
