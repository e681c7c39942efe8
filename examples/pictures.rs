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

use airsplit::{
    Budget, Change, MeasuredPredicted, Name, Network, Observation, OpenSet, OperatingPoint,
    PlotOptions, PlotUnits, PlottedSet, Study, System, TransportLimits, UpgradeRanking, Velocity,
    compare_readings, fan_and_system_svg, machines_svg, measured_against_predicted_svg,
    path_pressure_svg, rank_upgrades, tree_svg, upgrades_svg,
};
use std::{error::Error, fs, path::Path, process::ExitCode};

const DEMO: [&str; 3] = [
    include_str!("chair_shop.toml"),
    include_str!("chair_shop_readings.toml"),
    include_str!("chair_shop_upgrades.toml"),
];

/// What the two chair makers run at once.
const DEMO_SETS: [&[&str]; 3] = [
    &["planer", "table saw"],
    &["spindle moulder", "lathe"],
    &["disc sander"],
];

/// What runs at once now and then, as the example `upgrade_order` has it: upgrades are judged so.
const DEMO_TOGETHER: [&str; 4] = [
    "planer, table saw",
    "table saw, spindle moulder, lathe",
    "planer, bandsaw",
    "spindle moulder, disc sander",
];

struct Asked {
    folder: String,
    file: Option<String>,
    units: PlotUnits,
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
    let (mut folder, mut file, mut units) = (None, None, PlotUnits::Metric);
    while let Some(arg) = args.next() {
        match arg.as_str() {
            "--us" => units = PlotUnits::Us,
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
    for (name, picture) in pictures(&study, asked.file.is_none(), &options)? {
        match picture {
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

/// Each file with its picture, or why there is none.
type Pictures = Vec<(&'static str, Result<String, String>)>;

fn pictures(study: &Study, demo: bool, options: &PlotOptions) -> Result<Pictures, Box<dyn Error>> {
    let system = &study.system;
    let network = Network::new(system)?;
    let doubts = network.doubts(&study.assumptions);
    let sets = sets(&network, system, demo)?;
    let Some((_, first)) = sets.first() else {
        return Err("the shop has no hood to open".into());
    };
    let point = network.operating_point(first)?;
    let mut plotted = Vec::new();
    for (name, open) in &sets {
        plotted.push(PlottedSet::solve(name.as_str(), &network, open, &doubts)?);
    }
    let sure = network.uncertainty(first, &doubts)?;
    let usual = TransportLimits::new(Velocity::from_m_s(20.0));
    let limits = study.plans.transport.as_ref().unwrap_or(&usual);
    let ranking = ranking(study, demo)?;
    Ok(vec![
        (
            "fan_and_system.svg",
            Ok(fan_and_system_svg(system, &plotted, &[], options)?),
        ),
        (
            "path_pressure.svg",
            Ok(path(study, &point, first, ranking.as_ref(), options)?),
        ),
        (
            "machines.svg",
            Ok(machines_svg(&point, Some(&sure), options)?),
        ),
        ("tree.svg", Ok(tree_svg(system, &point, limits, options)?)),
        (
            "upgrades.svg",
            match &ranking {
                Some(ranking) => Ok(upgrades_svg(ranking, options)?),
                None => Err("the document has no [[upgrade]]".into()),
            },
        ),
        ("measured.svg", measured(study, &network, options)?),
    ])
}

/// Open sets with what they are called.
fn sets(
    network: &Network,
    system: &System,
    demo: bool,
) -> Result<Vec<(String, OpenSet)>, Box<dyn Error>> {
    let mut sets = Vec::new();
    if demo {
        for names in DEMO_SETS {
            sets.push((names.join(" + "), network.open(names)?));
        }
        return Ok(sets);
    }
    sets.push(("all open".to_owned(), network.open_all()));
    for machine in system.machines.iter().take(3) {
        sets.push((machine.id.to_string(), network.open([&machine.id])?));
    }
    Ok(sets)
}

/// The upgrades of the document; of another shop with two neighbours open at a time.
fn ranking(study: &Study, demo: bool) -> Result<Option<UpgradeRanking>, Box<dyn Error>> {
    if study.plans.upgrades.is_empty() {
        return Ok(None);
    }
    let machines: Vec<Name> = study
        .system
        .machines
        .iter()
        .map(|machine| machine.id.clone())
        .collect();
    let sets: Vec<Vec<Name>> = if demo {
        let sets = DEMO_TOGETHER.iter();
        sets.map(|set| set.split(", ").map(Name::from).collect())
            .collect()
    } else {
        machines.chunks(2).map(<[Name]>::to_vec).collect()
    };
    let upgrades = &study.plans.upgrades;
    Ok(Some(rank_upgrades(&study.system, upgrades, &sets)?))
}

/// The path of the hood whose machine lacks most, as it is and with what is worth buying.
fn path(
    study: &Study,
    point: &OperatingPoint,
    open: &OpenSet,
    ranking: Option<&UpgradeRanking>,
    options: &PlotOptions,
) -> Result<String, Box<dyn Error>> {
    let worst = point.machines.iter().filter(|machine| machine.open);
    let worst = worst.min_by(|a, b| a.share().total_cmp(&b.share()));
    let hoods = point.hoods.iter().filter(|hood| hood.open);
    let mut hoods =
        hoods.filter(|hood| worst.is_none_or(|worst| hood.machine.as_ref() == Some(&worst.name)));
    let hood = hoods.next().ok_or("no hood is open")?.name.as_str();
    let now = Budget::new(&study.system, point)?.path(hood)?;
    let bought = ranking.and_then(|ranking| ranking.greedy.last());
    let Some(bought) = bought else {
        return Ok(path_pressure_svg(&[("as it is", &now)], options)?);
    };
    let upgrades = study.plans.upgrades.iter();
    let upgrades = upgrades.filter(|upgrade| bought.bundle.upgrades.contains(&upgrade.name));
    let changes: Vec<Change> = upgrades
        .flat_map(|upgrade| upgrade.changes.clone())
        .collect();
    let better = study.system.with(&changes)?;
    let after = Network::new(&better)?.operating_point(open)?;
    let after = Budget::new(&better, &after)?.path(hood)?;
    let name = format!("with {}", list(&bought.bundle.upgrades));
    let layouts = [("as it is", &now), (name.as_str(), &after)];
    Ok(path_pressure_svg(&layouts, options)?)
}

fn list(names: &[Name]) -> String {
    let names: Vec<&str> = names.iter().map(Name::as_str).collect();
    names.join(", ")
}

fn measured(
    study: &Study,
    network: &Network,
    options: &PlotOptions,
) -> Result<Result<String, String>, Box<dyn Error>> {
    if study.plans.readings.is_empty() {
        return Ok(Err("the document has no [[reading]]".into()));
    }
    let readings = study.plans.readings.iter();
    let readings: Vec<Observation> = readings
        .map(|reading| Ok(reading.observe(&study.system)?.observation))
        .collect::<Result<_, airsplit::Error>>()?;
    let doubts = network.doubts(&study.assumptions);
    let compared = compare_readings(&study.system, &readings, &doubts)?;
    let pairs: Vec<MeasuredPredicted> = compared.iter().map(MeasuredPredicted::from).collect();
    Ok(Ok(measured_against_predicted_svg(&pairs, options)?))
}
