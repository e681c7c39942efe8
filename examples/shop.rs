//! What does each machine get, and where does the pressure go?
//!
//! ```text
//! cargo run --release --example shop                                 the chair shop
//! cargo run --release --example shop -- FILE --open "hood a,hood b"  another document
//! cargo run --release --example shop -- --json                       everything as JSON
//! ```

#![allow(clippy::print_stdout, reason = "an example speaks to a person")]

use airsplit::{
    Audit, Draft, LowLikelyHigh, Network, OpenSet, OperatingPoint, Place, Pressure, Status, Study,
    audit, low_likely_high,
};
use serde_json::{Value, json};
use std::{error::Error, fmt::Write as _, fs, process::ExitCode};

const DEMO: &str = include_str!("chair_shop.toml");

/// What the two chair makers run at once.
const DEMO_OPEN: &str = "planer,table saw";

struct Options {
    file: Option<String>,
    open: Option<String>,
    json: bool,
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
    let options = options(std::env::args().skip(1))?;
    let study = read(options.file.as_deref())?;
    let network = Network::new(&study.system)?;
    let open = match (&options.open, &options.file) {
        (Some(names), _) => named(&network, names)?,
        (None, None) => named(&network, DEMO_OPEN)?,
        (None, Some(_)) => network.open_all(),
    };
    let point = network.operating_point(&open)?;
    let audit = audit(&study.system, &point)?;
    let cases = if study.assumptions.is_empty() {
        None
    } else {
        let open = network.open_names(&open)?;
        let check = &study.plans.check;
        Some(low_likely_high(
            &study.system,
            &study.assumptions,
            &open,
            check,
        )?)
    };
    Ok(if options.json {
        let all = as_json(&study, &point, &audit, cases.as_ref());
        let mut text = serde_json::to_string_pretty(&all)?;
        text.push('\n');
        text
    } else {
        as_text(&study, &point, &audit, cases.as_ref())
    })
}

fn options(mut args: impl Iterator<Item = String>) -> Result<Options, String> {
    let mut options = Options {
        file: None,
        open: None,
        json: false,
    };
    while let Some(arg) = args.next() {
        match arg.as_str() {
            "--json" => options.json = true,
            "--open" => {
                let names = args.next().ok_or("--open needs names, parted by commas")?;
                options.open = Some(names);
            }
            other if other.starts_with("--") => {
                return Err(format!(
                    "unknown option {other}; known: --open NAMES, --json"
                ));
            }
            _ if options.file.is_some() => return Err("one document at a time".into()),
            _ => options.file = Some(arg),
        }
    }
    Ok(options)
}

fn read(file: Option<&str>) -> Result<Study, Box<dyn Error>> {
    let Some(file) = file else {
        return Ok(toml::from_str::<Draft>(DEMO)?.complete()?);
    };
    let text = fs::read_to_string(file).map_err(|error| format!("cannot read {file}: {error}"))?;
    let draft: Draft = toml::from_str(&text).map_err(|error| format!("{file}: {error}"))?;
    Ok(draft
        .complete()
        .map_err(|faults| format!("{file}: {faults}"))?)
}

fn named(network: &Network, names: &str) -> Result<OpenSet, Box<dyn Error>> {
    let names = names.split(',').map(str::trim);
    Ok(network.open(names.filter(|name| !name.is_empty()))?)
}

fn as_text(
    study: &Study,
    point: &OperatingPoint,
    audit: &Audit,
    cases: Option<&LowLikelyHigh>,
) -> String {
    let mut text = String::new();
    // Writing to a String cannot fail.
    let _ = write_text(&mut text, study, point, audit, cases);
    text
}

fn write_text(
    out: &mut String,
    study: &Study,
    point: &OperatingPoint,
    audit: &Audit,
    cases: Option<&LowLikelyHigh>,
) -> Result<(), std::fmt::Error> {
    let title = study.title.as_deref().unwrap_or("Operating point");
    writeln!(out, "{title}\n")?;
    let pa = |pressure: Option<Pressure>| {
        pressure.map_or("unknown".into(), |p| format!("{:.0} Pa", p.as_pa()))
    };
    writeln!(
        out,
        "fan        {:.0} m3/h ({:.0} cfm) at {} total, {} static\nstatus     {}",
        point.flow.as_m3_h(),
        point.flow.as_cfm(),
        pa(point.fan.total_pressure),
        pa(point.fan.static_pressure),
        status(point.status),
    )?;
    if point.fan.estimated {
        writeln!(
            out,
            "curve      ESTIMATED from two numbers: every figure here is a rough guess"
        )?;
    }
    let open: Vec<_> = point
        .hoods
        .iter()
        .filter(|h| h.open)
        .map(|h| h.name.as_str())
        .collect();
    writeln!(out, "open       {}", open.join(", "))?;
    writeln!(out, "audit      worst violation {}\n", audit.worst())?;

    writeln!(
        out,
        "{:18}{:>10}{:>10}{:>8}",
        "machine", "gets m3/h", "needs", "share"
    )?;
    for machine in point.machines.iter().filter(|m| m.open) {
        writeln!(
            out,
            "{:18}{:>10.0}{:>10.0}{:>7.0} %",
            machine.name,
            machine.flow.as_m3_h(),
            machine.required.as_m3_h(),
            100.0 * machine.share(),
        )?;
        for hood in point
            .hoods
            .iter()
            .filter(|h| h.machine.as_ref() == Some(&machine.name))
        {
            let Some(required) = hood.required else {
                continue;
            };
            writeln!(
                out,
                "  {:16}{:>10.0}{:>10.0}{:>7.0} %",
                hood.name,
                hood.flow.as_m3_h(),
                required.as_m3_h(),
                100.0 * (hood.flow / required),
            )?;
        }
    }

    if let Some(cases) = cases {
        write_cases(out, cases)?;
    }

    writeln!(
        out,
        "\n{:20}{:>8}{:>8}{:>7}{:>9}{:>9}{:>9}{:>11}",
        "section", "size", "m3/h", "m/s", "vel. Pa", "loss Pa", "wye Pa", "static Pa"
    )?;
    for section in &point.sections {
        writeln!(
            out,
            "{:20}{:>8}{:>8.0}{:>7.1}{:>9.0}{:>9.0}{:>9.0}{:>11.0}",
            section.id,
            size(section.size),
            section.flow.as_m3_h(),
            section.velocity.as_m_s(),
            section.velocity_pressure.as_pa(),
            section.loss.as_pa(),
            section.junction_loss.as_pa(),
            section.static_pressure.as_pa(),
        )?;
    }
    for run in &point.collector {
        let name = match run.place {
            Place::After { run, .. } => format!("after fan {}", run + 1),
            Place::Before { run, .. } => format!("before fan {}", run + 1),
            _ => run.place.to_string(),
        };
        writeln!(
            out,
            "{name:20}{:>8}{:>8.0}{:>7.1}{:>9.0}{:>9.0}{:>9}{:>11.0}",
            size(run.size),
            point.flow.as_m3_h(),
            run.velocity.as_m_s(),
            run.velocity_pressure.as_pa(),
            run.loss.as_pa(),
            "",
            run.static_pressure.as_pa(),
        )?;
    }
    writeln!(
        out,
        "\nPressures against the room; static at the downstream end; wye: in the junction it\n\
         drains into, below zero where a faster stream pulls it along."
    )?;

    if !study.assumptions.is_empty() {
        writeln!(out, "\nassumed, because the document does not say:")?;
        for assumed in &study.assumptions {
            writeln!(out, "  {assumed}")?;
        }
    }
    if !point.notes.is_empty() {
        writeln!(out, "\noutside what was tested:")?;
        for (place, note) in &point.notes {
            writeln!(out, "  {place}: {note}")?;
        }
    }
    for place in &point.in_fan_curve {
        writeln!(
            out,
            "\n{place} is part of the fan's curve and charged nothing."
        )?;
    }
    writeln!(
        out,
        "\nAn analysis of some open gates, not a design basis. Wood dust burns, explodes and harms\n\
         lungs: duct, bonding, make-up air and placing are for local codes and licensed practice."
    )
}

/// What the assumptions leave of the answer, and which to replace first.
fn write_cases(out: &mut String, cases: &LowLikelyHigh) -> Result<(), std::fmt::Error> {
    writeln!(
        out,
        "\n{:18}{:>8}{:>8}{:>8}  with what was assumed, m3/h: {}",
        "",
        "low",
        "likely",
        "high",
        cases.grade()
    )?;
    for machine in cases.machines.iter().filter(|machine| machine.open) {
        let [low, likely, high] = machine.flow.rounded(3600.0);
        let enough = machine
            .adequacy
            .map_or(String::new(), |enough| enough.to_string());
        writeln!(
            out,
            "{:18}{low:>8.0}{likely:>8.0}{high:>8.0}  {enough}",
            machine.machine
        )?;
    }
    for (i, one) in (1..).zip(cases.assumptions()) {
        writeln!(
            out,
            "{i}. {} {}: up to {:.0} % of what is uncertain\n   instead: {}",
            one.assumption.place,
            one.assumption.parameter,
            100.0 * one.share,
            one.assumption.replaced_by()
        )?;
    }
    Ok(())
}

fn status(status: Status) -> &'static str {
    match status {
        Status::Converged => "converged",
        Status::BeyondCurve => "BEYOND the last point of the fan's curve: a hint only",
        Status::BelowCurve => "BELOW the first point of the fan's curve: a hint only",
        Status::FlowImposed => "flow imposed",
        _ => "unknown",
    }
}

fn size(bore: airsplit::Bore) -> String {
    match bore {
        airsplit::Bore::Round(diameter) => format!("{:.0} mm", diameter.as_mm()),
        other => other.to_string(),
    }
}

fn as_json(
    study: &Study,
    point: &OperatingPoint,
    audit: &Audit,
    cases: Option<&LowLikelyHigh>,
) -> Value {
    let pa = |pressure: Option<Pressure>| pressure.map(Pressure::as_pa);
    json!({
        "title": study.title,
        "status": point.status,
        "fan": {
            "flow_m3_per_s": point.flow.as_m3_s(),
            "total_pressure_pa": pa(point.fan.total_pressure),
            "static_pressure_pa": pa(point.fan.static_pressure),
            "curve_pressure_pa": point.fan.curve_pressure.as_pa(),
            "curve_estimated": point.fan.estimated,
            "curve_end": point.fan.curve_end,
        },
        "machines": point.machines.iter().map(|machine| json!({
            "name": machine.name,
            "open": machine.open,
            "flow_m3_per_s": machine.flow.as_m3_s(),
            "required_m3_per_s": machine.required.as_m3_s(),
        })).collect::<Vec<_>>(),
        "hoods": point.hoods.iter().map(|hood| json!({
            "name": hood.name,
            "machine": hood.machine,
            "section": hood.section,
            "open": hood.open,
            "flow_m3_per_s": hood.flow.as_m3_s(),
            "required_m3_per_s": hood.required.map(|required| required.as_m3_s()),
            "static_pressure_pa": hood.static_pressure.as_pa(),
        })).collect::<Vec<_>>(),
        "sections": point.sections.iter().map(|section| json!({
            "id": section.id,
            "area_m2": section.size.area().as_m2(),
            "hydraulic_diameter_m": section.size.hydraulic_diameter().as_m(),
            "flow_m3_per_s": section.flow.as_m3_s(),
            "velocity_m_per_s": section.velocity.as_m_s(),
            "velocity_pressure_pa": section.velocity_pressure.as_pa(),
            "loss_pa": section.loss.as_pa(),
            "junction_loss_pa": section.junction_loss.as_pa(),
            "total_pressure_pa": section.total_pressure.as_pa(),
            "static_pressure_pa": section.static_pressure.as_pa(),
        })).collect::<Vec<_>>(),
        "collector": point.collector.iter().map(|run| json!({
            "place": run.place,
            "velocity_m_per_s": run.velocity.as_m_s(),
            "velocity_pressure_pa": run.velocity_pressure.as_pa(),
            "loss_pa": run.loss.as_pa(),
            "total_pressure_pa": run.total_pressure.as_pa(),
            "static_pressure_pa": run.static_pressure.as_pa(),
        })).collect::<Vec<_>>(),
        "assumptions": study.assumptions,
        "cases": cases.map(|cases| json!({
            "grade": cases.grade(),
            "flow": cases.flow,
            "fan_pressure": cases.fan_pressure,
            "machines": cases.machines,
        })),
        "notes": point.notes,
        "in_fan_curve": point.in_fan_curve,
        "quality": point.quality,
        "audit": audit,
    })
}
