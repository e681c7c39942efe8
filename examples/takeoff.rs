//! What is this shop built from, what does it cost, and what does a change of plan add?
//!
//! ```text
//! cargo run --release --example takeoff                                the chair shop
//! cargo run --release --example takeoff -- FILE --prices FILE --stock "10 ft"
//! cargo run --release --example takeoff -- FILE --instead-of FILE      what the first takes more
//! ```

#![allow(clippy::print_stdout, reason = "an example speaks to a person")]

use airsplit::{
    Bore, Draft, Item, Length, Part, PriceTable, Priced, Quantity, Study, System, Takeoff,
    TakeoffLine, TakeoffOptions, takeoff,
};
use std::{collections::HashMap, error::Error, fmt, fmt::Write as _, fs, process::ExitCode};

const DEMO: &str = include_str!("chair_shop.toml");
const DEMO_PRICES: &str = include_str!("takeoff_prices.toml");

/// What the two chair makers think of changing.
const DEMO_CHANGE: &str = "main west 180 mm wide, lathe hose 1 m shorter";

/// Lines of a difference that are told, those that cost most.
const MOST_TOLD: usize = 4;

#[derive(serde::Deserialize)]
#[serde(deny_unknown_fields)]
struct Prices {
    price: PriceTable,
}

#[derive(Default)]
struct Arguments {
    file: Option<String>,
    prices: Option<String>,
    instead_of: Option<String>,
    rules: TakeoffOptions,
}

/// A plan to compare with: its list, and what the difference is called.
struct Difference {
    what: String,
    list: Takeoff,
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

fn run() -> Result<String, Box<dyn Error>> {
    let arguments = arguments(std::env::args().skip(1))?;
    let study = read(arguments.file.as_deref())?;
    let list = takeoff(&study.system, &arguments.rules)?;
    let difference = match (&arguments.file, &arguments.instead_of) {
        (_, Some(file)) => {
            let other = takeoff(&read(Some(file))?.system, &arguments.rules)?;
            Some(Difference {
                what: format!("instead of {file}"),
                list: list.minus(&other),
            })
        }
        (None, None) => Some(Difference {
            what: format!("with a change: {DEMO_CHANGE}"),
            list: takeoff(&changed(&study.system), &arguments.rules)?.minus(&list),
        }),
        _ => None,
    };
    let prices: Prices = match (&arguments.prices, &arguments.file) {
        (Some(file), _) => toml::from_str(&text_of(file)?).map_err(|e| format!("{file}: {e}"))?,
        (None, None) => toml::from_str(DEMO_PRICES)?,
        (None, Some(_)) => Prices {
            price: PriceTable::new(),
        },
    };
    let mut text = String::new();
    writeln!(text, "{}\n", study.title.as_deref().unwrap_or("Takeoff"))?;
    write_list(&mut text, &list, &list.priced(&prices.price)?)?;
    if let Some(Difference { what, list }) = &difference {
        write_difference(&mut text, what, list, &list.priced(&prices.price)?)?;
    }
    writeln!(
        text,
        "\nScrews, clamps and seal by a rule of thumb. Not on the list: fan, machines' ports, hangers. Wood dust\n\
         burns and explodes: bonding, gauge and supports are for local codes and licensed practice."
    )?;
    Ok(text)
}

fn arguments(mut args: impl Iterator<Item = String>) -> Result<Arguments, Box<dyn Error>> {
    let mut arguments = Arguments::default();
    while let Some(arg) = args.next() {
        let mut value = |what| args.next().ok_or(format!("{arg} needs {what}"));
        match arg.as_str() {
            "--prices" => arguments.prices = Some(value("a file")?),
            "--instead-of" => arguments.instead_of = Some(value("a file")?),
            "--stock" => {
                let length: Length = value("a length, as \"10 ft\"")?.parse()?;
                arguments.rules = arguments.rules.with_stock(length);
            }
            other if other.starts_with("--") => {
                return Err(format!(
                    "unknown option {other}; known: --prices FILE, --instead-of FILE, --stock LENGTH"
                )
                .into());
            }
            _ if arguments.file.is_some() => return Err("one document at a time".into()),
            _ => arguments.file = Some(arg),
        }
    }
    Ok(arguments)
}

fn text_of(file: &str) -> Result<String, String> {
    fs::read_to_string(file).map_err(|error| format!("cannot read {file}: {error}"))
}

fn read(file: Option<&str>) -> Result<Study, Box<dyn Error>> {
    let Some(file) = file else {
        return Ok(toml::from_str::<Draft>(DEMO)?.complete()?);
    };
    let draft: Draft =
        toml::from_str(&text_of(file)?).map_err(|error| format!("{file}: {error}"))?;
    Ok(draft
        .complete()
        .map_err(|faults| format!("{file}: {faults}"))?)
}

/// The demo after [`DEMO_CHANGE`].
fn changed(system: &System) -> System {
    let mut system = system.clone();
    for section in &mut system.sections {
        match section.id.as_str() {
            "main west" => section.size = Bore::Round(Length::from_mm(180.0)),
            "lathe drop" => {
                for part in &mut section.parts {
                    if let Part::Hose(hose) = part {
                        hose.length = hose.length - Length::from_m(1.0);
                    }
                }
            }
            _ => {}
        }
    }
    system
}

fn write_list(out: &mut String, list: &Takeoff, priced: &Priced) -> fmt::Result {
    writeln!(
        out,
        "{:62}{:>8}{:>10}{:>7}{:>9}",
        "item", "needed", "bought", "waste", "cost"
    )?;
    let costs: HashMap<&Item, _> = (priced.lines.iter())
        .map(|line| (&line.line.item, line.amount))
        .collect();
    for line in &list.lines {
        let cost = costs.get(&line.item);
        writeln!(
            out,
            "{:62}{:>8}{:>10}{:>7}{:>9}",
            line.item,
            line.quantity,
            bought(line),
            waste(line),
            cost.map_or("no price".into(), ToString::to_string),
        )?;
    }
    writeln!(out, "{:87}{:>9}", "sum of what has a price", priced.total)?;
    let joints = |of: fn(&airsplit::Joints) -> i64| list.joints.iter().map(of).sum::<i64>();
    writeln!(
        out,
        "\n{} rigid joints, {} with a hose.",
        joints(|at| at.rigid),
        joints(|at| at.hose),
    )?;
    write_missing(out, priced)?;
    if !priced.unused.is_empty() {
        writeln!(
            out,
            "Priced, but not in the shop: {}.",
            some_of(&priced.unused)
        )?;
    }
    Ok(())
}

/// Names of a list that fit on a line; of the others how many.
fn some_of(items: &[Item]) -> String {
    let mut told: Vec<_> = items.iter().take(1).map(ToString::to_string).collect();
    if let Some(more @ 1..) = items.len().checked_sub(told.len()) {
        told.push(format!("{more} more"));
    }
    told.join("; ")
}

fn write_difference(out: &mut String, what: &str, list: &Takeoff, priced: &Priced) -> fmt::Result {
    writeln!(out, "\n{what}")?;
    let costs: HashMap<&Item, _> = (priced.lines.iter())
        .map(|line| (&line.line.item, line.amount))
        .collect();
    let cost_of = |line: &&TakeoffLine| {
        let cost = costs.get(&line.item);
        cost.map_or(0.0, |cost| cost.amount().abs())
    };
    let mut lines: Vec<&TakeoffLine> = list.lines.iter().collect();
    lines.sort_by(|a, b| cost_of(b).total_cmp(&cost_of(a)));
    for line in lines.iter().take(MOST_TOLD) {
        let cost = costs.get(&line.item);
        writeln!(
            out,
            "  {:60}{:>8}{:>10}{:>7}{:>9}",
            line.item,
            signed(line.quantity),
            bought(line),
            "",
            cost.map_or("no price".into(), |cost| format!("{:+.2}", cost.amount())),
        )?;
    }
    let more = lines.len().saturating_sub(MOST_TOLD);
    writeln!(
        out,
        "{:87}{:>9}",
        format!("more, or less, for what has a price, {more} further lines among it"),
        format!("{:+.2}", priced.total.amount())
    )?;
    write_missing(out, priced)
}

/// What the sum leaves out.
fn write_missing(out: &mut String, priced: &Priced) -> fmt::Result {
    if priced.missing.is_empty() {
        return Ok(());
    }
    let missing = some_of(&priced.missing);
    writeln!(out, "No price, so not in the sum: {missing}.")
}

/// `2 x 3 m`.
fn bought(line: &TakeoffLine) -> String {
    line.stock.map_or(String::new(), |stock| {
        format!("{} x {}", stock.bought, stock.length)
    })
}

fn waste(line: &TakeoffLine) -> String {
    line.stock.map_or(String::new(), |stock| {
        format!("{:.1} m", stock.waste.as_m())
    })
}

fn signed(quantity: Quantity) -> String {
    match quantity {
        Quantity::Length(length) => format!("{:+.1} m", length.as_m()),
        Quantity::Pieces(pieces) => format!("{pieces:+}"),
        other => other.to_string(),
    }
}
