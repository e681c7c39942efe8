//! Time of the loss laws: friction with its slope, a momentum junction, a whole section.
//!
//! `cargo bench --bench loss`

#![allow(
    clippy::expect_used,
    missing_docs,
    reason = "a bench that cannot go on must stop"
)]

use airsplit::{
    Air, Angle, Bore, Collector, Density, Elbow, Entry, Hood, Hose, HoseKind, Inlet, Junction,
    Length, Network, Part, Section, System, VolumeFlow, Wall, Workspace, friction_factor,
};
use criterion::{Criterion, criterion_group, criterion_main};
use std::{f64::consts::LN_10, hint::black_box};

/// The yardstick: Colebrook's f alone, as losses of duct are usually evaluated: two fourth-order
/// steps on F + ln(X1 + F) = X2 (Clamond's form), no slope, no laminar or transitional flow.
fn plain_colebrook(re: f64, rel: f64) -> f64 {
    let x1 = rel * re * LN_10 / 18.574;
    let x2 = (re * LN_10 / 5.02).ln();
    let mut f = x2 - 0.2;
    for _ in 0..2 {
        let w = x1 + f;
        let r = x2 - f - w.ln();
        let p = 1.0 + w;
        let t = 2.0 * p * (p + 2.0 * r / 3.0);
        f += w * (r / p) * ((t - r) / (t - 2.0 * r));
    }
    LN_10 * LN_10 / 4.0 / (f * f)
}

fn friction(c: &mut Criterion) {
    // A thousand ducts, so that what is timed is throughput, as in a network.
    let ducts: Vec<(f64, f64)> = (0..1000)
        .map(|i| (2e4 + 4e2 * f64::from(i), 2e-4 + 1e-6 * f64::from(i)))
        .collect();
    let mut group = c.benchmark_group("1000 ducts");
    group.bench_function("plain Colebrook, f alone", |b| {
        b.iter(|| {
            let f = |&(re, rel): &(f64, f64)| plain_colebrook(re, rel);
            black_box(&ducts).iter().map(f).sum::<f64>()
        });
    });
    group.bench_function("friction factor with slope", |b| {
        b.iter(|| {
            let f = |&(re, rel): &(f64, f64)| {
                let friction = friction_factor(re, rel);
                friction.f + friction.log_slope
            };
            black_box(&ducts).iter().map(f).sum::<f64>()
        });
    });
    group.finish();
}

fn junction(c: &mut Criterion) {
    let area = |inches| Bore::Round(Length::from_in(inches)).area();
    let inlet = |inches, degrees, q| {
        let shape = Inlet {
            area: area(inches),
            angle: Angle::from_deg(degrees),
            k: 0.0,
        };
        (shape, VolumeFlow::from_m3_s(q))
    };
    let inlets = [
        inlet(6.0, 0.0, 0.17),
        inlet(4.0, 45.0, 0.08),
        inlet(4.0, 45.0, 0.07),
    ];
    let density = Density::STANDARD_AIR;
    for count in [2, 3] {
        c.bench_function(
            &format!("momentum junction, {count} inlets, losses and slopes"),
            |b| {
                b.iter(|| {
                    let inlets = black_box(&inlets[..count]);
                    Junction::Momentum.losses(density, area(7.0), inlets)
                });
            },
        );
    }
}

fn section(c: &mut Criterion) {
    let collector = Collector {
        before: Vec::new(),
        fan: None,
        after: Vec::new(),
        junction: None,
    };
    let drop = Section::new("drop", Bore::Round(Length::from_in(5.0)), Wall::Galvanised)
        .with_part(Part::Hose(Hose {
            length: Length::from_m(1.5),
            kind: HoseKind::RIBBED,
            bend: None,
        }))
        .with_part(Part::Duct(Length::from_m(3.0)))
        .with_part(Part::Elbow(Elbow::K(0.3)))
        .with_hood(Hood::new("port", Entry::Flanged));
    let system = System::new(Air::standard(), collector).with_section(drop);
    let network = Network::new(&system).expect("a sound model");
    let open = network.open_all();
    let mut work = Workspace::default();
    let flow = VolumeFlow::from_cfm(600.0);
    c.bench_function("a whole section with hose, flow imposed, verified", |b| {
        b.iter(|| {
            let balance = network.solve_at_flow(black_box(&open), flow, &mut work);
            balance.map(|balance| balance.quality().passes).ok()
        });
    });
}

criterion_group!(benches, friction, junction, section);
criterion_main!(benches);
