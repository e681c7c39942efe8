//! What is there to say of this shop, in one text that can be read, printed and kept?
//!
//! ```text
//! cargo run --release --features plot --example report -- FOLDER               the chair shop, with readings and plans
//! cargo run --release --features plot --example report -- FOLDER --us          in cfm, in wg, fpm
//! cargo run --release --features plot --example report -- FOLDER --file FILE   another document
//! ```

#![allow(clippy::print_stdout, reason = "an example speaks to a person")]

#[cfg(feature = "plot")]
#[path = "common/pictures.rs"]
mod drawing;
#[path = "common/folder.rs"]
mod folder;

use airsplit::{ReportOptions, Study, report};
use folder::Asked;
use std::{error::Error, process::ExitCode, time::Instant};

/// The shop, what was read in it, what its owners ask, and what material costs.
const DEMO: [&str; 5] = [
    include_str!("chair_shop.toml"),
    include_str!("chair_shop_readings.toml"),
    include_str!("chair_shop_plans.toml"),
    include_str!("chair_shop_upgrades.toml"),
    include_str!("takeoff_prices.toml"),
];

/// Steps that take longer say so.
const PATIENCE_S: f64 = 1.0;

fn main() -> ExitCode {
    match run() {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("error: {error}");
            ExitCode::from(2)
        }
    }
}

fn run() -> Result<(), Box<dyn Error>> {
    let asked = Asked::of(std::env::args().skip(1))?;
    let study = asked.study(&DEMO)?;
    let options = ReportOptions::new().with_units(asked.units).with_gates();
    let options = pictures(&study, &asked, options)?;
    let started = Instant::now();
    println!("working it out: every open set, the readings, the upgrades ...");
    let text = report(&study, &options)?.markdown();
    let took = started.elapsed().as_secs_f64();
    if took > PATIENCE_S {
        println!("done in {took:.0} s");
    }
    let path = asked.write("report.md", &text)?;
    println!("the report is {}", path.display());
    Ok(())
}

/// Writes the pictures beside the report, and has the report link them.
#[cfg(feature = "plot")]
fn pictures(
    study: &Study,
    asked: &Asked,
    mut options: ReportOptions,
) -> Result<ReportOptions, Box<dyn Error>> {
    let plot = airsplit::PlotOptions::new().with_units(asked.units);
    for drawn in drawing::pictures(study, asked.file.is_none(), &plot)? {
        let Ok(svg) = drawn.picture else { continue };
        let path = asked.write(drawn.file, &svg)?;
        println!("wrote {}", path.display());
        options = options.with_picture(drawn.chapter, drawn.file, drawn.alt);
    }
    Ok(options)
}

/// Without the feature there are none.
#[cfg(not(feature = "plot"))]
#[allow(
    clippy::unnecessary_wraps,
    reason = "as with the feature, where it can fail"
)]
fn pictures(_: &Study, _: &Asked, options: ReportOptions) -> Result<ReportOptions, Box<dyn Error>> {
    println!("without pictures: they need --features plot");
    Ok(options)
}
