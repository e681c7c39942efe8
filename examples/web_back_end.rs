//! How does a web back end ask: JSON in, JSON out, with every fault as data that a page can show?
//!
//! A request is a document of the shop, as JSON, and a question: which hoods are open, and how fast
//! the air must be in duct. There is no server here: a request is read from a file or from standard
//! input, and the answer is written. Without either, requests that stand below are answered.
//!
//! ```text
//! cargo run --release --example web_back_end                     a good request and three bad ones
//! cargo run --release --example web_back_end -- REQUEST.json     or `-` for standard input
//! ```

#![allow(clippy::print_stdout, reason = "an example speaks to a person")]

use airsplit::{Draft, Network, OperatingPoint, SolveError, UnknownName, Velocity};
use serde_json::{Value, json};
use std::{error::Error, fs, io::Read};

const SHOP: &str = include_str!("chair_shop.toml");

/// What a page sends.
#[derive(serde::Deserialize)]
#[serde(deny_unknown_fields)]
struct Request {
    /// The document; its tables are those of `airsplit::guide::document`.
    shop: Draft,
    /// Names of hoods and machines; all hoods where none is named.
    #[serde(default)]
    open: Vec<String>,
    /// Duct slower than this is told.
    least_velocity: Option<Velocity>,
}

fn main() -> Result<(), Box<dyn Error>> {
    let argument = std::env::args().nth(1);
    let requests = match argument.as_deref() {
        None => built_in()?,
        Some("-") => {
            let mut text = String::new();
            std::io::stdin().read_to_string(&mut text)?;
            vec![text]
        }
        Some(file) => {
            vec![fs::read_to_string(file).map_err(|error| format!("cannot read {file}: {error}"))?]
        }
    };
    for request in requests {
        println!("{}", shown(&answer(&request)));
    }
    Ok(())
}

/// The answer to a request; a fault is an answer too.
fn answer(request: &str) -> Value {
    match answered(request) {
        Ok(answer) => answer,
        Err(faults) => json!({ "ok": false, "faults": faults }),
    }
}

/// The answer, or its faults: each with its kind, its place and what would be right.
fn answered(request: &str) -> Result<Value, Vec<Value>> {
    // Syntax comes alone, with its line; faults of the model come all at once.
    let request: Request = serde_json::from_str(request).map_err(|error| {
        let fault = json!({ "kind": "syntax", "line": error.line(), "column": error.column(), "text": error.to_string() });
        vec![fault]
    })?;
    let study = request.shop.complete().map_err(|faults| {
        let told = faults.iter().map(|fault| {
            json!({ "kind": "model", "place": fault.place, "where": fault.place.to_string(), "text": fault.fault.to_string() })
        });
        told.collect::<Vec<_>>()
    })?;
    let network = Network::new(&study.system)
        .map_err(|faults| vec![json!({ "kind": "model", "text": faults.to_string() })])?;
    let open = match request.open.as_slice() {
        [] => network.open_all(),
        names => network
            .open(names)
            .map_err(|unknown| vec![of_name(&unknown)])?,
    };
    let point = network
        .operating_point(&open)
        .map_err(|error| vec![of_solve(&error)])?;
    let mut answer = told(&point, request.least_velocity);
    answer["assumptions"] = json!(
        study
            .assumptions
            .iter()
            .map(ToString::to_string)
            .collect::<Vec<_>>()
    );
    Ok(answer)
}

fn of_name(unknown: &UnknownName) -> Value {
    json!({ "kind": "name", "what": unknown.what, "name": unknown.name, "did_you_mean": unknown.nearest.iter().take(3).collect::<Vec<_>>() })
}

/// Whether to correct the question, or to tell who looks after the program.
fn of_solve(error: &SolveError) -> Value {
    json!({ "kind": if error.is_input() { "question" } else { "search" }, "text": error.to_string() })
}

/// Numbers carry their unit in their key.
fn told(point: &OperatingPoint, least: Option<Velocity>) -> Value {
    let whole = |number: f64| (number * 10.0).round() / 10.0;
    let slow = point.sections.iter().filter(|section| {
        section.flow.as_m3_s() > 0.0 && least.is_some_and(|least| section.velocity < least)
    });
    json!({
        "ok": true,
        "status": point.status,
        "flow_m3_per_h": whole(point.flow.as_m3_h()),
        "fan_static_pressure_pa": point.fan.static_pressure.map(|pressure| whole(pressure.as_pa())),
        "machines": point.machines.iter().map(|machine| json!({
            "name": machine.name,
            "open": machine.open,
            "flow_m3_per_h": whole(machine.flow.as_m3_h()),
            "needs_m3_per_h": whole(machine.required.as_m3_h()),
        })).collect::<Vec<_>>(),
        "slow": slow.map(|section| json!({
            "section": section.id,
            "velocity_m_per_s": whole(section.velocity.as_m_s()),
        })).collect::<Vec<_>>(),
        "notes": point.notes.len(),
        "caution": "Some open gates: an analysis, not a design basis. Wood dust burns, explodes and harms lungs; local codes and licensed practice decide.",
    })
}

/// JSON with one line for each key, and for each item of a list.
fn shown(answer: &Value) -> String {
    let Value::Object(answer) = answer else {
        return answer.to_string();
    };
    let lines: Vec<String> = answer
        .iter()
        .map(|(key, value)| match value {
            Value::Array(items) if !items.is_empty() => {
                let items: Vec<_> = items.iter().map(|item| format!("    {item}")).collect();
                format!("  {key:?}: [\n{}\n  ]", items.join(",\n"))
            }
            value => format!("  {key:?}: {value}"),
        })
        .collect();
    format!("{{\n{}\n}}", lines.join(",\n"))
}

/// What pages have sent: all well; two faults of the model; a name that is not there; a slip of unit.
fn built_in() -> Result<Vec<String>, Box<dyn Error>> {
    let shop: Value = toml::from_str(SHOP)?;
    let request = |shop: &Value, open: &[&str]| {
        json!({ "shop": shop, "open": open, "least_velocity": "20 m/s" }).to_string()
    };
    let mut faulty = shop.clone();
    faulty["air"]["relative_humidity"] = json!(60.0);
    faulty["section"][1]["into"] = json!("main est");
    let mut bare = shop.clone();
    bare["machine"][0]["required"] = json!(1110);
    Ok(vec![
        request(&shop, &["planer", "table saw"]),
        request(&faulty, &[]),
        request(&shop, &["planar"]),
        request(&bare, &[]),
    ])
}
