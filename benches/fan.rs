//! Time of a fan curve and of the search for crossings.
//!
//! `cargo bench --bench fan`

#![allow(
    clippy::expect_used,
    missing_docs,
    reason = "a bench that cannot go on must stop"
)]

use airsplit::{
    Air, Angle, Basis, Bore, Collector, Density, Entry, FanCurve, Fitted, Hood, Length, Network,
    Part, Pressure, Section, System, VolumeFlow, Wall, Workspace,
};
use criterion::{Criterion, criterion_group, criterion_main};
use std::hint::black_box;

fn fan(points: [(f64, f64); 12]) -> FanCurve {
    let points = points.map(|(q, p)| (VolumeFlow::from_m3_h(q), Pressure::from_pa(p)));
    FanCurve::new(points, Basis::Static, Fitted::ALL, Density::STANDARD_AIR).expect("a curve")
}

fn falling() -> FanCurve {
    fan([
        (0.0, 3050.0),
        (300.0, 3040.0),
        (600.0, 3000.0),
        (900.0, 2920.0),
        (1200.0, 2790.0),
        (1500.0, 2600.0),
        (1800.0, 2350.0),
        (2100.0, 2040.0),
        (2400.0, 1660.0),
        (2700.0, 1210.0),
        (3000.0, 680.0),
        (3200.0, 300.0),
    ])
}

fn dipped() -> FanCurve {
    fan([
        (0.0, 2850.0),
        (300.0, 2700.0),
        (600.0, 2560.0),
        (900.0, 2500.0),
        (1200.0, 2610.0),
        (1500.0, 2640.0),
        (1800.0, 2350.0),
        (2100.0, 2040.0),
        (2400.0, 1660.0),
        (2700.0, 1210.0),
        (3000.0, 680.0),
        (3200.0, 300.0),
    ])
}

/// Six hoods on a main.
fn network(fan: FanCurve) -> Network {
    let round = |mm| Bore::Round(Length::from_mm(mm));
    let main = Section::new("main", round(200.0), Wall::Galvanised)
        .with_part(Part::Duct(Length::from_m(6.0)));
    let mut system = System::new(Air::standard(), Collector::new(fan)).with_section(main);
    for i in 0..6 {
        let drop = Section::new(format!("drop {i}"), round(100.0), Wall::Galvanised)
            .draining_into("main")
            .joining_at(Angle::from_deg(45.0))
            .with_part(Part::Duct(Length::from_m(1.0 + f64::from(i))))
            .with_hood(Hood::new(format!("hood {i}"), Entry::Flanged));
        system = system.with_section(drop);
    }
    Network::new(&system).expect("a sound model")
}

fn curve(c: &mut Criterion) {
    let fan = falling();
    let flows: Vec<_> = (0..1000)
        .map(|i| VolumeFlow::from_m3_h(3.1 * f64::from((i * 617) % 1000)))
        .collect();
    c.bench_function("1000 values and slopes of a 12-point curve", |b| {
        b.iter(|| {
            let both = |&flow: &VolumeFlow| fan.pressure(flow).as_pa() + fan.slope(flow);
            black_box(&flows).iter().map(both).sum::<f64>()
        });
    });
}

fn crossings(c: &mut Criterion) {
    let mut group = c.benchmark_group("crossings");
    for (name, fan) in [("falling", falling()), ("dipped", dipped())] {
        let network = network(fan);
        let open = network.open_all();
        let mut work = Workspace::default();
        group.bench_function(format!("{name}: one operating point, in place"), |b| {
            b.iter(|| {
                let balance = network.solve(black_box(&open), &mut work);
                balance.map(|balance| balance.flow()).ok()
            });
        });
        group.bench_function(format!("{name}: one operating point, owned"), |b| {
            b.iter(|| {
                network
                    .operating_point(black_box(&open))
                    .map(|point| point.flow)
                    .ok()
            });
        });
        group.bench_function(format!("{name}: all crossings"), |b| {
            b.iter(|| {
                network
                    .crossings(black_box(&open))
                    .map(|all| all.len())
                    .ok()
            });
        });
    }
    group.finish();
}

criterion_group!(benches, curve, crossings);
criterion_main!(benches);
