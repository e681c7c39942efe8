//! All 4095 open sets of a shop of twelve hoods, on one core, against as many single solves with
//! six of the twelve open.
//!
//! `cargo bench --bench sweep`, and with `--features rayon` on every core.

#![allow(
    clippy::expect_used,
    clippy::print_stdout,
    missing_docs,
    reason = "a bench that cannot go on must stop, and says what it measured"
)]

use airsplit::{
    Air, Angle, Basis, Bore, Collector, Density, Elbow, Entry, FanCurve, Filter, Fitted, Hood,
    Length, Machine, Network, OpenSet, Part, Pressure, RatedDrop, Run, Section, Separator,
    SweepOptions, System, Velocity, VolumeFlow, Wall, Workspace,
};
use criterion::{Criterion, criterion_group, criterion_main};
use std::{hint::black_box, time::Instant};

/// A main of six pieces with a machine of two hoods at each.
fn shop() -> System {
    let round = |mm| Bore::Round(Length::from_mm(mm));
    let duct = |metres| Part::Duct(Length::from_m(metres));
    let section = |id: String, mm, metres| {
        let elbow = Part::Elbow(Elbow::K(0.3));
        Section::new(id, round(mm), Wall::Galvanised)
            .with_part(duct(metres))
            .with_part(elbow)
    };
    let points = [
        (0.0, 2500.0),
        (0.2, 2450.0),
        (0.4, 2200.0),
        (0.6, 1700.0),
        (0.9, 500.0),
    ];
    let fan = FanCurve::new(
        points.map(|(q, p)| (VolumeFlow::from_m3_s(q), Pressure::from_pa(p))),
        Basis::Static,
        Fitted::NOTHING,
        Density::STANDARD_AIR,
    )
    .expect("a falling curve");
    let vessels = Run::new(round(200.0), Wall::Galvanised)
        .with_part(Part::Separator(Separator::VelocityHeads(3.0)))
        .with_part(Part::Filter(Filter::Rated(RatedDrop {
            drop: Pressure::from_pa(250.0),
            at: VolumeFlow::from_m3_s(0.6),
        })));
    let collector = Collector::new(fan).with_before(vessels);
    let mut system = System::new(Air::standard(), collector);
    for i in 0..6 {
        let (main, side) = (format!("main {i}"), format!("side {i}"));
        let mut piece = section(main.clone(), 200.0 - 10.0 * i as f64, 3.0);
        if i > 0 {
            piece = piece.draining_into(format!("main {}", i - 1));
        }
        let mut branch = section(side.clone(), 140.0, 1.0 + i as f64).draining_into(main);
        if i < 5 {
            branch = branch.joining_at(Angle::from_deg(45.0));
        }
        system = system.with_section(piece).with_section(branch);
        for (hood, k) in [("table", 0.6), ("guard", 1.5)] {
            let id = format!("{hood} {i}");
            let port = Hood::new(id.clone(), Entry::K(k)).serving(format!("machine {i}"));
            let mut drop = section(id, 100.0, 2.0)
                .draining_into(side.clone())
                .with_hood(port);
            if hood == "guard" {
                drop = drop.joining_at(Angle::from_deg(45.0));
            }
            system = system.with_section(drop);
        }
        system.machines.push(Machine {
            id: format!("machine {i}").into(),
            required: VolumeFlow::from_m3_h(900.0),
        });
    }
    system
}

fn micros(sets: usize, work: &mut dyn FnMut()) -> f64 {
    let start = Instant::now();
    work();
    start.elapsed().as_secs_f64() * 1e6 / sets as f64
}

fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values[values.len() / 2]
}

fn sweep(c: &mut Criterion) {
    let network = Network::new(&shop()).expect("a sound model");
    let options = SweepOptions::new(Velocity::from_m_s(20.0));
    let sets = || network.open_sets().expect("few enough");
    let half: Vec<OpenSet> = sets().filter(|open| open.len() == 6).collect();
    let mut work = Workspace::default();
    let mut singles = || {
        for open in half.iter().cycle().take(sets().len()) {
            let balance = network.solve(black_box(open), &mut work);
            black_box(balance.map(|balance| balance.flow()).ok());
        }
    };
    let flows = || {
        let flows = network
            .sweep(sets())
            .map(|_, answer| Some(answer.ok()?.flow()));
        flows.for_each(|flow| {
            black_box(flow);
        });
    };
    let summary = || {
        let summary = network.sweep(sets()).summary(&options);
        black_box(summary.expect("sound options"));
    };

    let told = network
        .sweep(sets())
        .summary(&options)
        .expect("sound options");
    println!(
        "{} sets, {} beyond the curve, {} without an answer",
        told.sets, told.beyond_curve, told.failed
    );
    // Turn and turn about, and the median of the ratios: it must not depend on who else computes.
    let rounds: Vec<[f64; 3]> = (0..101)
        .map(|_| {
            let works: [&mut dyn FnMut(); 3] = [&mut singles, &mut || flows(), &mut || summary()];
            works.map(|work| micros(sets().len(), work))
        })
        .collect();
    let of = |each: fn(&[f64; 3]) -> f64| median(rounds.iter().map(each).collect());
    println!(
        "a set: {:.2} us alone; in a sweep {:.3} times that, in a summary {:.3}",
        of(|round| round[0]),
        of(|round| round[1] / round[0]),
        of(|round| round[2] / round[0]),
    );

    let mut group = c.benchmark_group("4095 sets of 12 hoods");
    group.bench_function("single solves, half open", |b| b.iter(&mut singles));
    group.bench_function("sweep, flow of each", |b| b.iter(flows));
    group.bench_function("sweep, summary", |b| b.iter(summary));
    #[cfg(feature = "rayon")]
    group.bench_function("sweep, summary on every core", |b| {
        b.iter(|| network.sweep(sets()).par_summary(&options));
    });
    group.finish();
}

criterion_group!(benches, sweep);
criterion_main!(benches);
