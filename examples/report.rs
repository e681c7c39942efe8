//! Everything about a shop in one text that can be read, printed and kept.
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

use airsplit::{Draft, ReportOptions, Study, UnitSystem, report};
use std::{error::Error, fs, path::PathBuf, process::ExitCode, time::Instant};

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
    let options = pictures(&study, &arguments, options)?;
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
#[cfg(feature = "plot")]
fn pictures(
    study: &Study,
    arguments: &Arguments,
    mut options: ReportOptions,
) -> Result<ReportOptions, Box<dyn Error>> {
    let plot = airsplit::PlotOptions::new().with_units(arguments.units);
    for drawn in drawing::pictures(study, arguments.file.is_none(), &plot)? {
        let Ok(svg) = drawn.picture else { continue };
        let path = arguments.folder.join(drawn.file);
        fs::write(&path, svg)
            .map_err(|error| format!("cannot write {}: {error}", path.display()))?;
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
fn pictures(
    _: &Study,
    _: &Arguments,
    options: ReportOptions,
) -> Result<ReportOptions, Box<dyn Error>> {
    println!("without pictures: they need --features plot");
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
