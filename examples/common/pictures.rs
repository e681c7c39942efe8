//! The six pictures of a study, for the examples that write them.

use airsplit::{
    Budget, Change, Chapter, MeasuredPredicted, Name, Network, Observation, OpenSet,
    OperatingPoint, PlotOptions, PlottedSet, Study, System, TransportLimits, UpgradeRanking,
    Velocity, compare_readings, fan_and_system_svg, machines_svg, measured_against_predicted_svg,
    path_pressure_svg, rank_upgrades, tree_svg, upgrades_svg,
};
use std::error::Error;

/// What the two chair makers run at once.
const DEMO_SETS: [&[&str]; 3] = [
    &["planer", "table saw"],
    &["spindle moulder", "lathe"],
    &["disc sander"],
];

/// A picture, where it goes, and where it belongs in a report.
pub(crate) struct Drawn {
    pub(crate) file: &'static str,
    #[allow(dead_code, reason = "the example of pictures alone has no chapters")]
    pub(crate) chapter: Chapter,
    #[allow(dead_code, reason = "likewise")]
    pub(crate) alt: &'static str,
    /// The SVG text, or why there is none.
    pub(crate) picture: Result<String, String>,
}

/// Of the demo the sets that its owners run; of another shop all hoods, and each of its first machines
/// alone.
pub(crate) fn pictures(
    study: &Study,
    demo: bool,
    options: &PlotOptions,
) -> Result<Vec<Drawn>, Box<dyn Error>> {
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
    let ranking = ranking(study, &network)?;
    let drawn = |file, chapter, alt, picture| Drawn {
        file,
        chapter,
        alt,
        picture,
    };
    Ok(vec![
        drawn(
            "fan_and_system.svg",
            Chapter::OperatingPoint,
            "the fan's curve, system curves and operating points",
            Ok(fan_and_system_svg(system, &plotted, &[], options)?),
        ),
        drawn(
            "tree.svg",
            Chapter::OperatingPoint,
            "the tree of duct with flows and air speeds",
            Ok(tree_svg(system, &point, limits, options)?),
        ),
        drawn(
            "machines.svg",
            Chapter::Machines,
            "what each machine gets against its need",
            Ok(machines_svg(&point, Some(&sure), options)?),
        ),
        drawn(
            "path_pressure.svg",
            Chapter::Budget,
            "total and static pressure along the path of a hood",
            Ok(path(study, &point, first, ranking.as_ref(), options)?),
        ),
        drawn(
            "upgrades.svg",
            Chapter::Upgrades,
            "cost against the worst margin",
            match &ranking {
                Some(ranking) => Ok(upgrades_svg(ranking, options)?),
                None => Err("the document has no [[upgrade]]".into()),
            },
        ),
        drawn(
            "measured_against_predicted.svg",
            Chapter::Readings,
            "readings against what the model predicts",
            measured(study, &network, options)?,
        ),
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

/// The upgrades of the document, judged over the sets of its `[use]`; or with two neighbours open at a
/// time where it does not tell.
fn ranking(study: &Study, network: &Network) -> Result<Option<UpgradeRanking>, Box<dyn Error>> {
    let plans = &study.plans;
    if plans.upgrades.is_empty() {
        return Ok(None);
    }
    let sets: Vec<Vec<Name>> = if plans.usage.at_most.is_some() {
        let sets = plans.usage.sets(network)?;
        sets.map(|open| network.open_names(&open))
            .collect::<Result<_, _>>()?
    } else {
        let machines = study.system.machines.windows(2);
        machines
            .map(|pair| pair.iter().map(|machine| machine.id.clone()).collect())
            .collect()
    };
    let ranking = rank_upgrades(&study.system, &plans.upgrades, &sets)?;
    Ok(Some(ranking))
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
