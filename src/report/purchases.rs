//! What to buy first, and the list of material.

use super::{
    Shop, Why,
    markdown::{Page, Table},
    words::{count, percent, together},
};
use crate::{
    decide::{Bundle, Quantity, TakeoffLine, rank_upgrades, takeoff as list_of},
    place::Name,
};

/// Skipped bundles that are told.
const SKIPPED: usize = 5;

pub(super) fn upgrades(page: &mut Page, shop: &Shop<'_>) -> Result<(), Why> {
    let sets: Vec<Vec<Name>> = shop
        .answers
        .telling()
        .map(|(_, at)| at.open.clone())
        .collect();
    let upgrades = &shop.study.plans.upgrades;
    let ranking = rank_upgrades(&shop.study.system, upgrades, &sets)?;
    page.paragraph(&format!(
        "Judged by the worst served machine over the open sets of the fan's table; as it is, that one \
         lacks {} of its need. Points are percent of a need; flow above the need earns nothing. Costs \
         are the document's own.",
        lack(&ranking.as_it_is)
    ));
    let mut table = Table::new([
        "upgrade",
        ">cost",
        ">bought alone, points",
        ">bought last, points",
        ">mean over all orders, points",
    ]);
    for worth in &ranking.worths {
        table.row([
            worth.upgrade.to_string(),
            format!("{:.0}", worth.cost.amount()),
            points(worth.alone),
            points(worth.last),
            points(worth.average),
        ]);
    }
    page.table(&table);
    page.paragraph("The best that money can buy:");
    let mut table = Table::new([">from", "buy", ">then lacking", "worst served"]);
    for bundle in &ranking.frontier {
        let bought = match bundle.upgrades.is_empty() {
            true => "nothing".to_owned(),
            false => together(&bundle.upgrades),
        };
        let hint = match bundle.outside_curve {
            true => " (outside the fan's curve: a hint only)",
            false => "",
        };
        table.row([
            format!("{:.0}", bundle.cost.amount()),
            format!("{bought}{hint}"),
            lack(bundle),
            worst(bundle),
        ]);
    }
    page.table(&table);
    if !ranking.nested {
        page.paragraph(
            "These do not build on each other: what is best for little money is not part of what is \
             best for more. Choose the end first.",
        );
    }
    let skipped = ranking.skipped.iter().take(SKIPPED);
    page.list(skipped.map(|skipped| {
        format!(
            "Left out: {}: {}.",
            together(&skipped.upgrades),
            skipped.reason
        )
    }));
    page.paragraph(
        "A stronger fan needs a motor, a filter and make-up air to match, and in a wider main the air is \
         slower, so that dust may settle: check the speed again after the change.",
    );
    Ok(())
}

fn lack(bundle: &Bundle) -> String {
    match bundle.worst_margin < 0.0 {
        true => percent(-bundle.worst_margin),
        false => "nothing".into(),
    }
}

fn worst(bundle: &Bundle) -> String {
    let machines = bundle.machines.iter();
    let worst = machines.min_by(|a, b| a.margin.total_cmp(&b.margin));
    match worst {
        Some(worst) if worst.margin < 0.0 => worst.machine.to_string(),
        _ => "-".into(),
    }
}

/// Points of percent with their sign.
fn points(share: f64) -> String {
    match format!("{:+.1}", 100.0 * share) {
        zero if zero == "-0.0" || zero == "+0.0" => "0".into(),
        points => points,
    }
}

pub(super) fn takeoff(page: &mut Page, shop: &Shop<'_>) -> Result<(), Why> {
    let plans = &shop.study.plans;
    let list = list_of(&shop.study.system, &plans.takeoff)?;
    let with_prices = !plans.prices.prices.is_empty();
    let priced = match with_prices {
        true => Some(list.priced(&plans.prices)?),
        false => None,
    };
    let mut columns = vec!["item", ">needed", ">bought"];
    if with_prices {
        columns.push(">cost");
    }
    let mut table = Table::new(columns);
    for line in &list.lines {
        let mut row = vec![
            line.item.to_string(),
            needed(shop, line),
            bought(shop, line),
        ];
        if let Some(priced) = &priced {
            let found = priced.lines.iter().find(|at| at.line.item == line.item);
            row.push(found.map_or("no price".into(), |at| at.amount.to_string()));
        }
        table.row(row);
    }
    page.table(&table);
    if let Some(priced) = &priced {
        page.paragraph(&format!("Sum of what has a price: {}.", priced.total));
        if !priced.missing.is_empty() {
            page.paragraph(&format!(
                "Not in the sum, because the document has no price: {}.",
                count(priced.missing.len(), "item")
            ));
        }
    }
    let joints = list.joints.iter();
    let [rigid, hose] = joints.fold([0, 0], |sum, at| [sum[0] + at.rigid, sum[1] + at.hose]);
    page.paragraph(&format!(
        "{rigid} rigid joints, {hose} with a hose. Duct is bought in whole lengths, cut pieces shared out \
         between them; screws, clamps and seal by a rule of thumb. Not on the list: the fan, machines' \
         own ports, hangers."
    ));
    Ok(())
}

fn needed(shop: &Shop<'_>, line: &TakeoffLine) -> String {
    match line.quantity {
        Quantity::Length(length) => shop.words.length(length),
        Quantity::Pieces(pieces) => pieces.to_string(),
    }
}

fn bought(shop: &Shop<'_>, line: &TakeoffLine) -> String {
    line.stock.map_or(String::new(), |stock| {
        format!("{} x {}", stock.bought, shop.words.length(stock.length))
    })
}
