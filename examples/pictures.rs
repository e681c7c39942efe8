//! What does this shop look like? Six pictures, as SVG files.
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
#[path = "common/folder.rs"]
mod folder;

use airsplit::PlotOptions;
use drawing::pictures;
use folder::Asked;
use std::{error::Error, process::ExitCode};

const DEMO: [&str; 4] = [
    include_str!("chair_shop.toml"),
    include_str!("chair_shop_readings.toml"),
    include_str!("chair_shop_plans.toml"),
    include_str!("chair_shop_upgrades.toml"),
];

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

fn run() -> Result<String, Box<dyn Error>> {
    let asked = Asked::of(std::env::args().skip(1))?;
    let study = asked.study(&DEMO)?;
    let options = PlotOptions::new().with_units(asked.units);
    let mut said = String::new();
    for drawn in pictures(&study, asked.file.is_none(), &options)? {
        let name = drawn.file;
        match drawn.picture {
            Ok(svg) => {
                let path = asked.write(name, &svg)?;
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
