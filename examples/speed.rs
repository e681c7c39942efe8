//! How fast is a solve, in units that hold on any machine?

#![allow(clippy::print_stdout, reason = "an example speaks to a person")]

use airsplit::{Network, Workspace};
use std::{error::Error, hint::black_box, time::Instant};

#[path = "../benches/common/shop.rs"]
mod shop;
use shop::shop;

/// Best time of one call \[s\], over some tenths of a second.
fn best(mut work: impl FnMut()) -> f64 {
    let start = Instant::now();
    work();
    let once = start.elapsed().as_secs_f64().max(1e-9);
    let calls = (2e-4 / once).ceil().max(1.0) as u32;
    let mut best = f64::INFINITY;
    for _ in 0..300 {
        let start = Instant::now();
        for _ in 0..calls {
            work();
        }
        best = best.min(start.elapsed().as_secs_f64() / f64::from(calls));
    }
    best
}

fn main() -> Result<(), Box<dyn Error>> {
    let numbers: Vec<f64> = (1..=1000).map(|i| f64::from(i) * 0.37).collect();
    for hoods in [6, 30, 1000] {
        let network = Network::new(&shop(hoods))?;
        let open = network.open_all();
        let mut work = Workspace::default();
        let quality = network.solve(&open, &mut work)?.quality();
        let solve = best(|| {
            let balance = network.solve(black_box(&open), &mut work);
            black_box(balance.map(|balance| balance.flow()).ok());
        });
        let ln = best(|| {
            black_box(black_box(&numbers).iter().map(|x| x.ln()).sum::<f64>());
        }) / 1000.0;
        let per = solve / f64::from(quality.runs * quality.passes);
        println!(
            "{hoods} {:.3} us, {} runs {} passes, {:.1} ns, ln {:.2} ns, ln_per_run_pass {:.2}",
            solve * 1e6,
            quality.runs,
            quality.passes,
            per * 1e9,
            ln * 1e9,
            per / ln
        );
    }
    Ok(())
}
