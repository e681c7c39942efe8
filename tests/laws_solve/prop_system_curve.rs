//! The system curve: pressure asked for a flow, and the flow that a pressure draws.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on must stop")]

use airsplit::{
    Air, Basis, Bore, Collector, Density, DynamicViscosity, Entry, FanCurve, Fitted, Hood, Length,
    Network, Part, Pressure, Run, Section, System, VolumeFlow, Wall,
};

/// A hood of K 0.5 on 160 mm with 2.0, and beyond a fan of a static curve 1.5 on what its outlet is.
fn system(outlet_mm: f64) -> System {
    let density = Density::from_kg_m3(1.2);
    let air = Air::Given {
        density,
        viscosity: DynamicViscosity::from_pa_s(1.8e-5),
    };
    let round = |mm| Bore::Round(Length::from_mm(mm));
    let points = [(0.0, 2500.0), (0.4, 1800.0), (0.9, 100.0)];
    let points = points.map(|(q, p)| (VolumeFlow::from_m3_s(q), Pressure::from_pa(p)));
    let fan = FanCurve::new(points, Basis::Static, Fitted::NOTHING, density)
        .and_then(|fan| fan.with_outlet(round(outlet_mm)))
        .unwrap();
    let after = Run::new(round(outlet_mm), Wall::Galvanised).with_part(Part::K(1.5));
    let main = Section::new("main", round(160.0), Wall::Galvanised)
        .with_part(Part::K(2.0))
        .with_hood(Hood::new("hood", Entry::K(0.5)));
    System::new(air, Collector::new(fan).with_after(after)).with_section(main)
}

/// Fan static pressure is total pressure less the velocity pressure of the fan's outlet, whatever
/// becomes of it beyond: k = 0.6 (2.5 / A160^2 + (1.5 + 1 - 1) / A_outlet^2).
#[test]
fn val_what_is_asked_of_a_static_curve_by_hand() {
    for outlet_mm in [140.0, 200.0, 250.0] {
        let network = Network::new(&system(outlet_mm)).unwrap();
        let mut curve = network.system_curve(&network.open_all()).unwrap();
        let per_area2 = |mm: f64| 0.6 / Bore::Round(Length::from_mm(mm)).area().as_m2().powi(2);
        let k = 2.5 * per_area2(160.0) + 1.5 * per_area2(outlet_mm);
        for q in [0.1, 0.35, 0.8] {
            let flow = VolumeFlow::from_m3_s(q);
            let asked = curve.pressure(flow).unwrap();
            assert!((asked.as_pa() / (k * q * q) - 1.0).abs() < 1e-9, "{asked}");
            let slope = curve.slope(flow).unwrap();
            assert!((slope / (2.0 * k * q) - 1.0).abs() < 1e-9, "{slope}");
            let drawn = curve.flow(asked).unwrap();
            assert!((drawn / flow - 1.0).abs() < 1e-9, "{drawn} {flow}");
        }
    }
}
