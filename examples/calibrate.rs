//! What do the readings say of this shop: which of them is wrong, and what does each machine get?
//!
//! The chair shop as it was planned, readings in three open sets, and the shop that fits them.
//!
//! ```text
//! cargo run --release --example calibrate
//! cargo run --release --example calibrate -- SHOP.toml READINGS.toml
//! ```

#![allow(clippy::print_stdout, reason = "an example speaks to a person")]

use airsplit::{
    Calibration, ComparedReading, Name, Network, Observation, Observed, Output, Study, calibrate,
    compare_readings, possible_readings,
};
use std::{
    error::Error,
    fmt::{self, Write},
    fs,
    process::ExitCode,
};

const SHOP: &str = include_str!("chair_shop.toml");
const READINGS: &str = include_str!("chair_shop_readings.toml");

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
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let study: Study = match arguments.as_slice() {
        [] => toml::from_str(&format!("{SHOP}\n{READINGS}"))?,
        [shop] => toml::from_str(&fs::read_to_string(shop)?)?,
        [shop, readings] => {
            let both = [fs::read_to_string(shop)?, fs::read_to_string(readings)?];
            toml::from_str(&both.join("\n"))?
        }
        _ => return Err("give a shop with readings, or a shop and its readings".into()),
    };
    let read = study.plans.readings.iter();
    let read: Vec<Observed> = read
        .map(|reading| reading.observe(&study.system))
        .collect::<Result<_, _>>()?;
    let readings: Vec<Observation> = read.iter().map(|at| at.observation.clone()).collect();
    let doubts = Network::new(&study.system)?.doubts(&study.assumptions);
    let before = compare_readings(&study.system, &readings, &doubts)?;
    let unknowns = study.plans.calibrate.unknowns(&study.system)?;
    let fitted = calibrate(
        &study.system,
        &readings,
        &unknowns,
        study.plans.calibrate.outliers,
    )?;
    let mut text = String::new();
    told(&mut text, &readings, &before, &fitted)?;
    found(&mut text, &fitted)?;
    machines(&mut text, &study, &fitted)?;
    next(&mut text, &study, &fitted, &readings)?;
    Ok(text)
}

/// Every reading: what it shows, and what the model said before and says after.
fn told(
    text: &mut String,
    readings: &[Observation],
    before: &[ComparedReading],
    fitted: &Calibration,
) -> fmt::Result {
    writeln!(
        text,
        "Readings against the shop as planned, and as fitted; off by standard uncertainties"
    )?;
    writeln!(
        text,
        "\n{:42} {:>14} {:>9} {:>5}  {:13} {:>9} {:>5}",
        "reading", "shown", "planned", "off", "", "fitted", "off"
    )?;
    for (reading, after) in readings.iter().zip(&fitted.readings) {
        let Some(plan) = before.iter().find(|at| at.id == reading.id) else {
            continue;
        };
        writeln!(
            text,
            "{:42} {:>14} {:>9} {:>+5.1}  {:13} {:>9} {:>5}",
            reading.id,
            format!(
                "{} ±{}",
                number(&reading.output, reading.value),
                number(&reading.output, reading.standard)
            ),
            number(&reading.output, plan.predicted),
            plan.score,
            plan.agreement.to_string(),
            number(&reading.output, after.predicted),
            after
                .apart
                .map_or("-".into(), |off| format!("{:+.1}", -off)),
        )?;
    }
    writeln!(text, "Flows in m3/h, pressures in Pa.\n")?;
    for wrong in fitted.outliers() {
        writeln!(
            text,
            "outlier: {}: {:.1} standard uncertainties from what the others say; read it again",
            wrong.name,
            wrong.apart.unwrap_or(wrong.residual).abs()
        )?;
    }
    Ok(())
}

/// What was found, and what was not.
fn found(text: &mut String, fitted: &Calibration) -> fmt::Result {
    writeln!(
        text,
        "\n{:22} {:>8} {:>16}  told by the readings",
        "found", "value", "95 %"
    )?;
    for estimate in &fitted.estimates {
        writeln!(
            text,
            "{:22} {:>8.2} {:>16}  {:.0} %",
            estimate.name,
            estimate.value,
            format!("{:.2} to {:.2}", estimate.low, estimate.high),
            100.0 * estimate.told
        )?;
    }
    if let (Some(chi), Some([low, high])) = (fitted.reduced_chi_square, fitted.usual_chi_square) {
        writeln!(
            text,
            "Scatter of the readings: {chi:.1} of what was said; {low:.1} to {high:.1} is usual."
        )?;
    }
    for pair in &fitted.correlated {
        let name = |i: usize| fitted.estimates.get(i).map_or("", |at| at.name.as_str());
        let [one, other] = pair.unknowns;
        writeln!(
            text,
            "Hard to tell apart: {} and {} (correlation {:+.2}).",
            name(one),
            name(other),
            pair.correlation
        )?;
    }
    for weak in &fitted.weak {
        writeln!(text, "Not told: {weak}.")?;
    }
    Ok(())
}

/// What each machine gets alone: as planned, and as fitted.
fn machines(text: &mut String, study: &Study, fitted: &Calibration) -> Result<(), Box<dyn Error>> {
    writeln!(
        text,
        "\n{:22} {:>9} {:>9} {:>15}  needs",
        "machine alone, m3/h", "planned", "fitted", "95 %"
    )?;
    let network = Network::new(&study.system)?;
    for machine in &study.system.machines {
        let open = [machine.id.clone()];
        let planned = network.operating_point(&network.open(&open)?)?;
        let wanted = [Output::Machine(machine.id.clone())];
        let doubts = Network::new(&fitted.system)?.doubts(&study.assumptions);
        let after = fitted.predict(&fitted.system, &open, &wanted, &doubts)?;
        let [after] = after.as_slice() else { continue };
        let m3_h = |m3_s: f64| 3600.0 * m3_s;
        writeln!(
            text,
            "{:22} {:>9.0} {:>9.0} {:>15}  {:.0}",
            machine.id,
            planned.machine(machine.id.as_str())?.flow.as_m3_h(),
            m3_h(after.value),
            format!(
                "{:.0} to {:.0}",
                m3_h(after.value - 1.96 * after.standard),
                m3_h(after.value + 1.96 * after.standard)
            ),
            machine.required.as_m3_h(),
        )?;
    }
    Ok(())
}

/// The reading that would say most about the machine that is known worst.
fn next(
    text: &mut String,
    study: &Study,
    fitted: &Calibration,
    readings: &[Observation],
) -> Result<(), Box<dyn Error>> {
    let mut worst: Option<(Name, f64)> = None;
    for machine in &study.system.machines {
        let wanted = [Output::Machine(machine.id.clone())];
        let told = fitted.predict(
            &fitted.system,
            std::slice::from_ref(&machine.id),
            &wanted,
            &[],
        )?;
        for told in told {
            let share = told.from_calibration / told.value;
            if worst.as_ref().is_none_or(|(_, most)| share > *most) {
                worst = Some((machine.id.clone(), share));
            }
        }
    }
    let Some((machine, share)) = worst else {
        return Ok(());
    };
    let mut sets: Vec<Vec<Name>> = readings
        .iter()
        .map(|reading| reading.open.clone())
        .collect();
    sets.push(vec![machine.clone()]);
    let possible = possible_readings(&fitted.system, &sets, 0.03, 0.02)?;
    let wanted = [Output::Machine(machine.clone())];
    let ranked = fitted.next_readings(&possible, std::slice::from_ref(&machine), &wanted)?;
    writeln!(
        text,
        "\nOf what was fitted the {machine} is known worst, to {:.1} %. Readings that would say most of it:",
        100.0 * share
    )?;
    for next in ranked.iter().take(3) {
        writeln!(
            text,
            "  {} (takes {:.0} % of its variance)",
            next.id,
            100.0 * next.reduction
        )?;
    }
    Ok(())
}

/// A flow in m3/h, a pressure in Pa.
fn number(output: &Output, value: f64) -> String {
    match output.unit() {
        " Pa" => format!("{value:.0}"),
        _ => format!("{:.0}", 3600.0 * value),
    }
}
