//! Everything about a shop in one text that can be read, printed and kept.
//!
//! ```text
//! cargo run --release --example report -- FOLDER               the chair shop, with readings and plans
//! cargo run --release --example report -- FOLDER --us          in cfm, in wg, fpm
//! cargo run --release --example report -- FOLDER --file FILE   another document
//! ```

#![allow(clippy::print_stdout, reason = "an example speaks to a person")]

use airsplit::{Draft, ReportOptions, Study, UnitSystem, report};
use std::{
    error::Error,
    fs,
    path::{Path, PathBuf},
    process::ExitCode,
    time::Instant,
};

/// The shop, what was read in it, what its owners ask, and what material costs.
const DEMO: [&str; 4] = [
    include_str!("chair_shop.toml"),
    include_str!("chair_shop_readings.toml"),
    include_str!("chair_shop_plans.toml"),
    include_str!("takeoff_prices.toml"),
];

/// Steps that take longer say so.
const PATIENCE_S: f64 = 1.0;

struct Arguments {
    folder: PathBuf,
    file: Option<String>,
    units: UnitSystem,
}

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
    let arguments = arguments(std::env::args().skip(1))?;
    let study = read(arguments.file.as_deref())?;
    let folder = &arguments.folder;
    fs::create_dir_all(folder)
        .map_err(|error| format!("cannot make {}: {error}", folder.display()))?;
    let options = ReportOptions::new()
        .with_units(arguments.units)
        .with_gates();
    let options = pictures(&study, folder, options)?;
    let started = Instant::now();
    println!("working it out: every open set, the readings, the upgrades ...");
    let text = report(&study, &options)?.markdown();
    let took = started.elapsed().as_secs_f64();
    if took > PATIENCE_S {
        println!("done in {took:.0} s");
    }
    let path = folder.join("report.md");
    fs::write(&path, text).map_err(|error| format!("cannot write {}: {error}", path.display()))?;
    println!("the report is {}", path.display());
    Ok(())
}

/// Writes the pictures beside the report, and has the report link them.
#[allow(
    clippy::unnecessary_wraps,
    unused_variables,
    reason = "without the feature there are none"
)]
fn pictures(
    study: &Study,
    folder: &Path,
    options: ReportOptions,
) -> Result<ReportOptions, Box<dyn Error>> {
    // PICTURES: the one place where they are written and linked, each by
    // `options.with_picture(Chapter::OperatingPoint, "curves.svg", "what it shows")`.
    Ok(options)
}

fn arguments(mut args: impl Iterator<Item = String>) -> Result<Arguments, String> {
    let (mut folder, mut file, mut units) = (None, None, UnitSystem::Metric);
    while let Some(arg) = args.next() {
        match arg.as_str() {
            "--us" => units = UnitSystem::Us,
            "--file" => file = Some(args.next().ok_or("--file needs a document")?),
            other if other.starts_with("--") => {
                return Err(format!("unknown option {other}; known: --file FILE, --us"));
            }
            _ if folder.is_some() => return Err("one folder at a time".into()),
            _ => folder = Some(PathBuf::from(arg)),
        }
    }
    Ok(Arguments {
        folder: folder.ok_or("say in which folder to write the report")?,
        file,
        units,
    })
}

fn read(file: Option<&str>) -> Result<Study, Box<dyn Error>> {
    let Some(file) = file else {
        return Ok(toml::from_str::<Draft>(&DEMO.join("\n"))?.complete()?);
    };
    let text = fs::read_to_string(file).map_err(|error| format!("cannot read {file}: {error}"))?;
    let draft: Draft = toml::from_str(&text).map_err(|error| format!("{file}: {error}"))?;
    Ok(draft
        .complete()
        .map_err(|faults| format!("{file}: {faults}"))?)
}
