//! The network of tests/data/network_3hood.json: 2 wyes of 45 degrees, 4 in into 6 in.

use airsplit::{
    Air, Angle, Basis, Bore, Collector, Density, DynamicViscosity, Entry, FanCurve, Filter, Fitted,
    Hood, Length, Part, Pressure, RatedDrop, Run, Section, Separator, System, VolumeFlow, Wall,
};

pub(crate) fn system() -> System {
    let [four, six] = [0.1016, 0.1524].map(|m| Bore::Round(Length::from_m(m)));
    let wall = Wall::Roughness(Length::from_mm(0.09));
    let duct = |metres| Part::Duct(Length::from_m(metres));
    let drop = |pascal| RatedDrop {
        drop: Pressure::from_pa(pascal),
        at: VolumeFlow::from_m3_s(1.0),
    };
    let p = [
        2480.0, 2465.0, 2410.0, 2300.0, 2120.0, 1850.0, 1480.0, 1000.0, 390.0,
    ];
    // The same doubles as written out in decimals.
    let points = p.into_iter().enumerate().map(|(i, p)| {
        let q = (6 * i) as f64 / 100.0;
        (VolumeFlow::from_m3_s(q), Pressure::from_pa(p))
    });
    let density = Density::from_kg_m3(1.204);
    let fan = FanCurve::new(points, Basis::Total, Fitted::NOTHING, density).unwrap();
    let air = Air::Given {
        density,
        viscosity: DynamicViscosity::from_pa_s(1.825e-5),
    };
    let vessels = Run::new(six, wall)
        .with_part(Part::Separator(Separator::VelocityHeads(2.0)))
        .with_part(Part::Filter(Filter::Terms {
            linear: drop(900.0),
            quadratic: drop(800.0),
        }));
    let collector = Collector::new(fan)
        .with_before(vessels)
        .with_after(Run::new(six, wall));
    let at_45 = Angle::from_deg(45.0);
    let leaf = |id: &str, into: &str, bore, length_m, hood: &str, k| {
        Section::new(id, bore, wall)
            .draining_into(into)
            .with_part(duct(length_m))
            .with_hood(Hood::new(hood, Entry::K(k)))
    };
    System::new(air, collector)
        .with_section(leaf("leaf1", "main1", four, 3.0, "hood1", 0.83).joining_at(at_45))
        .with_section(leaf("leaf2", "main1", six, 5.0, "hood2", 1.20))
        .with_section(leaf("leaf3", "main2", four, 2.5, "hood3", 0.59).joining_at(at_45))
        .with_section(
            Section::new("main1", six, wall)
                .draining_into("main2")
                .with_part(duct(6.0))
                .with_part(Part::K(0.5)),
        )
        .with_section(Section::new("main2", six, wall).with_part(duct(4.0)))
}
