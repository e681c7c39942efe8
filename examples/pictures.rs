//! Six pictures of a shop, as SVG files.
//!
//! ```text
//! cargo run --release --features plot --example pictures -- FOLDER              the chair shop
//! cargo run --release --features plot --example pictures -- FOLDER --us         in cfm, in wg, in
//! cargo run --release --features plot --example pictures -- FOLDER --file FILE  another document
//! ```
//!
//! Of another document: the open sets are all of its hoods, and each of its first machines alone.
//! What it has no upgrades or readings for is not drawn.

#![allow(clippy::print_stdout, reason = "an example speaks to a person")]

#[path = "common/pictures.rs"]
mod drawing;

use airsplit::{PlotOptions, Study, UnitSystem};
use drawing::pictures;
use std::{error::Error, fs, path::Path, process::ExitCode};

const DEMO: [&str; 4] = [
    include_str!("chair_shop.toml"),
    include_str!("chair_shop_readings.toml"),
    include_str!("chair_shop_plans.toml"),
    include_str!("chair_shop_upgrades.toml"),
];

struct Asked {
    folder: String,
    file: Option<String>,
    units: UnitSystem,
}

fn main() -> ExitCode {
    match run() {
        Ok(text) => {
            print!("{text}");
            ExitCode::SUCCESS
        }
        Err(error) => {
            eprintln!("error: {error}");
            ExitCode::from(2)
        }
    }
}

fn asked(mut args: impl Iterator<Item = String>) -> Result<Asked, String> {
    let (mut folder, mut file, mut units) = (None, None, UnitSystem::Metric);
    while let Some(arg) = args.next() {
        match arg.as_str() {
            "--us" => units = UnitSystem::Us,
            "--file" => file = Some(args.next().ok_or("--file needs a document")?),
            other if other.starts_with("--") => {
                return Err(format!("unknown option {other}; known: --us, --file FILE"));
            }
            _ if folder.is_some() => return Err("one folder at a time".into()),
            _ => folder = Some(arg),
        }
    }
    Ok(Asked {
        folder: folder.ok_or("say into which folder the pictures go")?,
        file,
        units,
    })
}

fn run() -> Result<String, Box<dyn Error>> {
    let asked = asked(std::env::args().skip(1))?;
    let text = match &asked.file {
        None => DEMO.join("\n"),
        Some(file) => {
            fs::read_to_string(file).map_err(|error| format!("cannot read {file}: {error}"))?
        }
    };
    let study: Study = toml::from_str(&text)?;
    let options = PlotOptions::new().with_units(asked.units);
    let folder = Path::new(&asked.folder);
    fs::create_dir_all(folder)?;
    let mut said = String::new();
    for drawn in pictures(&study, asked.file.is_none(), &options)? {
        let name = drawn.file;
        match drawn.picture {
            Ok(svg) => {
                let path = folder.join(name);
                fs::write(&path, &svg)?;
                said += &format!(
                    "wrote {} ({} kB)\n",
                    path.display(),
                    svg.len().div_ceil(1000)
                );
            }
            Err(why) => said += &format!("no {name}: {why}\n"),
        }
    }
    Ok(said)
}
