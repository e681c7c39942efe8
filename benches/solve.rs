//! Time of one cold solve, verified by its own residuals, for 6, 30 and 1000 hoods.
//!
//! `cargo bench --bench solve`

#![allow(
    clippy::expect_used,
    clippy::print_stdout,
    missing_docs,
    reason = "a bench that cannot go on must stop, and says what it measured"
)]

use airsplit::{Network, Workspace};
use common::shop;
use criterion::{Criterion, criterion_group, criterion_main};
use std::hint::black_box;

#[path = "common/shop.rs"]
mod common;

fn solve(c: &mut Criterion) {
    let mut group = c.benchmark_group("solve");
    for hoods in [6, 30, 1000] {
        let network = Network::new(&shop(hoods)).expect("a sound model");
        let open = network.open_all();
        let mut work = Workspace::default();
        let balance = network.solve(&open, &mut work).expect("a balance");
        println!(
            "{hoods} hoods: {:.3} m3/s, {} passes, worst path off by {:.1e}",
            balance.flow().as_m3_s(),
            balance.quality().passes,
            balance.quality().pressure.value,
        );
        group.bench_function(format!("{hoods} hoods"), |b| {
            b.iter(|| {
                let balance = network.solve(black_box(&open), &mut work);
                black_box(balance.map(|balance| balance.flow()).ok())
            });
        });
    }
    group.finish();

    // The unit of account: one logarithm, throughput.
    let numbers: Vec<f64> = (1..=1000).map(|i| f64::from(i) * 0.37).collect();
    c.bench_function("1000 std ln", |b| {
        b.iter(|| black_box(&numbers).iter().map(|x| x.ln()).sum::<f64>());
    });
}

criterion_group!(benches, solve);
criterion_main!(benches);
