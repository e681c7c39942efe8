//! What should the chair makers buy first?
//!
//! Five upgrades of the chair shop with invented costs: each alone, in the order that gains most for
//! the money step by step, and the best that any budget can buy.
//!
//! ```text
//! cargo run --release --example upgrade_order
//! ```

#![allow(clippy::print_stdout, reason = "an example speaks to a person")]

use airsplit::{Bundle, Name, Study, Upgrade, UpgradeRanking, rank_upgrades};
use std::{
    error::Error,
    fmt::{self, Write},
};

/// As it stands in a document. Costs are invented, in any currency.
const UPGRADES: &str = include_str!("chair_shop_upgrades.toml");

/// Machines that run at once.
const OPEN_SETS: [&[&str]; 4] = [
    &["planer", "table saw"],
    &["table saw", "spindle moulder", "lathe"],
    &["planer", "bandsaw"],
    &["spindle moulder", "disc sander"],
];

/// A document's table of upgrades.
#[derive(serde::Deserialize)]
#[serde(deny_unknown_fields)]
struct Plan {
    upgrade: Vec<Upgrade>,
}

fn main() -> Result<(), Box<dyn Error>> {
    let study: Study = toml::from_str(include_str!("chair_shop.toml"))?;
    let plan: Plan = toml::from_str(UPGRADES)?;
    let open_sets: Vec<Vec<Name>> = OPEN_SETS
        .iter()
        .map(|set| set.iter().map(|&name| Name::from(name)).collect())
        .collect();
    let ranking = rank_upgrades(&study.system, &plan.upgrade, &open_sets)?;
    let mut text = String::new();
    write_text(&mut text, &ranking)?;
    print!("{text}");
    Ok(())
}

fn write_text(out: &mut String, ranking: &UpgradeRanking) -> fmt::Result {
    let now = &ranking.as_it_is;
    writeln!(
        out,
        "Chair shop: what to buy first? Each machine is judged where it gets least, with these open:"
    )?;
    let sets: Vec<_> = OPEN_SETS.iter().map(|set| set.join(" + ")).collect();
    writeln!(out, "  {}", sets.join("\n  "))?;
    writeln!(
        out,
        "As it is, the worst served machine is the {}. Of its need it lacks {}.",
        worst(now),
        percent(-now.worst_margin)
    )?;

    writeln!(
        out,
        "\nWhat each takes off that lack, in points of percent (flow above the need earns nothing):\n\
         {:18}{:>6}{:>8}{:>14}{:>16}{:>14}{:>21}",
        "", "cost", "alone", "by gradient", "alone per 100", "bought last", "mean of all orders"
    )?;
    for worth in &ranking.worths {
        let rate = worth
            .alone_per_money()
            .map_or("free".into(), |rate| points(100.0 * rate));
        // Only where all that changes is a number.
        let by_gradient = worth.first_order.map_or("-".into(), points);
        writeln!(
            out,
            "{:18}{:>6.0}{:>8}{by_gradient:>14}{rate:>16}{:>14}{:>21}",
            worth.upgrade,
            worth.cost.amount(),
            points(worth.alone),
            points(worth.last),
            points(worth.average),
        )?;
    }

    writeln!(
        out,
        "By gradient: the slopes of today carried straight on; only where all that changes is a number."
    )?;

    writeln!(
        out,
        "\nStep by step, always what gains most for its money:\n\
         {:18}{:>6}{:>13}  the best for the same money",
        "", "spent", "still lacks"
    )?;
    for step in &ranking.greedy {
        let best = if step.parts {
            format!(
                "PARTS: {} lacks {}",
                names(&step.best),
                percent(-step.best.worst_margin)
            )
        } else {
            "the same".into()
        };
        writeln!(
            out,
            "{:18}{:>6.0}{:>13}  {best}",
            step.upgrade,
            step.bundle.cost.amount(),
            percent(-step.bundle.worst_margin),
        )?;
    }

    let (end, most) = (ranking.greedy.last(), ranking.frontier.last());
    if let (Some(end), Some(most)) = (end, most)
        && end.bundle.worst_margin < most.worst_margin
    {
        writeln!(
            out,
            "There it ends: nothing that can still be added helps. But for {:.0} only {} would be lacking.",
            most.cost.amount(),
            percent(-most.worst_margin)
        )?;
    }

    writeln!(
        out,
        "\nThe best for every budget (all {} bundles tried{}):\n{:>6}{:>13}  {:18}buy",
        ranking.compared,
        match ranking.skipped_in_all {
            0 => String::new(),
            more => format!(", {more} cannot be"),
        },
        "from",
        "still lacks",
        "worst served"
    )?;
    for bundle in &ranking.frontier {
        writeln!(
            out,
            "{:>6.0}{:>13}  {:18}{}{}",
            bundle.cost.amount(),
            percent(-bundle.worst_margin),
            worst(bundle),
            names(bundle),
            if bundle.outside_curve {
                " (HINT: outside the fan's curve)"
            } else {
                ""
            }
        )?;
    }
    for skipped in &ranking.skipped {
        let upgrades: Vec<_> = skipped.upgrades.iter().map(Name::as_str).collect();
        writeln!(
            out,
            "left out: {}:\n  {}",
            upgrades.join(" + "),
            skipped.reason
        )?;
    }
    if !ranking.nested {
        writeln!(
            out,
            "These do not build on each other: what is best for little money is not part of what is best\n\
             for more. Choose the end first."
        )?;
    }
    writeln!(
        out,
        "\nCosts, curves and the shop are invented. An analysis of some open gates, not a design basis: a\n\
         stronger fan needs a motor, a filter and make-up air to match, and in a wider main the air is\n\
         slower, so that dust may settle and burn: check its speed. Wood dust burns, explodes and harms\n\
         lungs: duct, bonding and placing are for local codes and licensed practice."
    )
}

/// The machine that is served worst.
fn worst(bundle: &Bundle) -> String {
    let machines = bundle.machines.iter();
    let worst = machines.min_by(|a, b| a.margin.total_cmp(&b.margin));
    worst.map_or("-".into(), |worst| match worst.margin < 0.0 {
        true => worst.machine.to_string(),
        false => "none".into(),
    })
}

fn names(bundle: &Bundle) -> String {
    match bundle.upgrades.as_slice() {
        [] => "nothing".into(),
        names => {
            let names: Vec<_> = names.iter().map(Name::as_str).collect();
            names.join(" + ")
        }
    }
}

fn percent(share: f64) -> String {
    // Adding 0 turns -0 into 0.
    format!("{:.1} %", 100.0 * share + 0.0)
}

/// Points of percent with their sign.
fn points(share: f64) -> String {
    let points = format!("{:+.1}", 100.0 * share);
    match points.as_str() {
        "-0.0" => "+0.0".into(),
        _ => points,
    }
}
