//! Time of the adjoint sweep of one output beside that of one pass of the solver, and of the whole
//! named gradient, for 6, 30 and 1000 hoods.
//!
//! `cargo bench --bench gradient`

#![allow(
    clippy::expect_used,
    clippy::print_stdout,
    missing_docs,
    reason = "a bench that cannot go on must stop, and says what it measured"
)]

use airsplit::{
    Adjoint, Air, Angle, Basis, Bore, Collector, Density, Entry, FanCurve, Fitted, Hood, Length,
    Network, Output, Part, Pressure, Section, System, VolumeFlow, Wall, Workspace,
};
use criterion::{Criterion, criterion_group, criterion_main};
use std::{
    f64::consts::FRAC_PI_4,
    hint::black_box,
    time::{Duration, Instant},
};

/// A main with one drop at each of its sections, narrowing upstream.
fn comb(hoods: usize) -> System {
    let bore = |hoods: usize| {
        let area_m2 = hoods as f64 * 0.2 / 20.0;
        Bore::Round(Length::from_m((area_m2 / FRAC_PI_4).sqrt()))
    };
    let duct = |metres| Part::Duct(Length::from_m(metres));
    let whole_m3s = hoods as f64 * 0.2;
    let points = [(0.0, 1.2), (0.5, 1.1), (1.0, 0.6), (1.3, 0.1)].map(|(q, p)| {
        (
            VolumeFlow::from_m3_s(q * whole_m3s),
            Pressure::from_pa(p * (2500.0 + 6.0 * hoods as f64)),
        )
    });
    let density = Density::STANDARD_AIR;
    let fan = FanCurve::new(points, Basis::Static, Fitted::NOTHING, density);
    let mut system = System::new(
        Air::standard(),
        Collector::new(fan.expect("a falling curve")),
    );
    for i in 0..hoods {
        let main = Section::new(format!("main {i}"), bore(hoods - i), Wall::Galvanised);
        let main = main.with_part(duct(2.0 + (i % 3) as f64));
        let drop = Section::new(format!("drop {i}"), bore(1), Wall::Galvanised)
            .draining_into(format!("main {i}"))
            .with_part(duct(1.5 + (i % 4) as f64))
            .with_hood(Hood::new(
                format!("hood {i}"),
                Entry::K(0.5 + 0.2 * (i % 5) as f64),
            ));
        system = system
            .with_section(match i {
                0 => main,
                _ => main.draining_into(format!("main {}", i - 1)),
            })
            .with_section(match i + 1 < hoods {
                true => drop.joining_at(Angle::from_deg(45.0)),
                false => drop,
            });
    }
    system
}

/// The shortest of many times, so that what else the machine does is left out.
fn shortest(mut work: impl FnMut()) -> Duration {
    let time = |_| {
        let start = Instant::now();
        for _ in 0..20 {
            work();
        }
        start.elapsed() / 20
    };
    (0..200).map(time).min().unwrap_or_default()
}

fn gradient(c: &mut Criterion) {
    let mut group = c.benchmark_group("gradient");
    for hoods in [6, 30, 1000] {
        let network = Network::new(&comb(hoods)).expect("a sound model");
        let open = network.open_all();
        let (mut work, mut adjoint) = (Workspace::default(), Adjoint::default());
        let output = Output::Hood("hood 1".into());

        let solve = shortest(|| {
            black_box(network.solve(black_box(&open), &mut work).is_ok());
        });
        let balance = network.solve(&open, &mut work).expect("a balance");
        let pass = solve / balance.quality().passes;
        let sweep = shortest(|| {
            let influence = balance.influence(black_box(&output), &mut adjoint);
            black_box(influence.map(|influence| influence.collector()).ok());
        });
        println!(
            "{hoods} hoods: adjoint {sweep:?}, one of {} passes {pass:?}: {:.2} passes",
            balance.quality().passes,
            sweep.as_secs_f64() / pass.as_secs_f64()
        );

        group.bench_function(format!("adjoint, {hoods} hoods"), |b| {
            b.iter(|| {
                let influence = balance.influence(black_box(&output), &mut adjoint);
                black_box(influence.map(|influence| influence.collector()).ok())
            });
        });
        group.bench_function(format!("named, {hoods} hoods"), |b| {
            b.iter(|| black_box(balance.gradient(black_box(&output)).ok()));
        });
    }
    group.finish();
}

criterion_group!(benches, gradient);
criterion_main!(benches);
