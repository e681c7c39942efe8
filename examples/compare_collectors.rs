//! Which collector serves this shop best?
//!
//! Three invented collectors on the duct of the chair shop, over what the two chair makers run at
//! once, ranked by the share of its need that the worst served machine gets.
//!
//! ```text
//! cargo run --release --example compare_collectors
//! ```

#![allow(clippy::print_stdout, reason = "an example speaks to a person")]

use airsplit::{
    Case, Density, FanCurve, FanDrive, Motor, Name, Objective, Power, PowerCurve, Study, Violation,
    VolumeFlow, audit, compare,
};
use std::error::Error;

/// Machines that run at once.
const OPEN_SETS: [&[&str]; 4] = [
    &["planer"],
    &["planer", "table saw"],
    &["table saw", "bandsaw"],
    &["spindle moulder", "disc sander", "lathe"],
];

fn main() -> Result<(), Box<dyn Error>> {
    let study: Study = toml::from_str(include_str!("chair_shop.toml"))?;
    let cases = cases(&study)?;
    let sets: Vec<Vec<Name>> = OPEN_SETS
        .iter()
        .map(|set| set.iter().map(|&name| Name::from(name)).collect())
        .collect();
    let comparison = compare(&cases, &sets, &Objective::WorstShare)?;

    let mut audited: Option<Violation> = None;
    for &i in &comparison.ranking {
        let case = &comparison.cases[i];
        let score = case
            .score
            .map_or("no answer".into(), |s| format!("{:.0} %", 100.0 * s));
        println!(
            "{}: the worst served machine gets {score} of its need",
            case.name
        );
        println!(
            "  {:38}{:>7}{:>8}{:>9}{:>7}{:>16}",
            "open", "m3/h", "fan Pa", "motor kW", "load", "worst machine"
        );
        for (set, answer) in OPEN_SETS.iter().zip(&case.answers) {
            let set = set.join(" + ");
            let point = match &answer.point {
                Ok(point) => point,
                Err(error) => {
                    println!("  {set:38}{error}");
                    continue;
                }
            };
            let found = audit(&cases[i].system, point)?.worst().clone();
            if audited
                .as_ref()
                .is_none_or(|worst| found.value > worst.value)
            {
                audited = Some(found);
            }
            let worst = point
                .machines
                .iter()
                .filter(|machine| machine.open)
                .map(|machine| machine.share())
                .fold(f64::INFINITY, f64::min);
            let (input, load) = match &answer.power {
                Some(Ok(power)) => (
                    format!("{:.2}", power.motor_input.as_kw()),
                    format!("{:.0} %", 100.0 * power.load),
                ),
                _ => ("-".into(), "-".into()),
            };
            println!(
                "  {set:38}{:>7.0}{:>8.0}{input:>9}{load:>7}{:>14.0} %",
                point.flow.as_m3_h(),
                point.fan.curve_pressure.as_pa(),
                100.0 * worst,
            );
        }
        println!();
    }
    if let Some(found) = audited {
        println!("audit: worst violation {found}\n");
    }
    println!(
        "An analysis of some open gates, not a design basis: a bigger fan draws more air out of the\n\
         room and more power from the wall. Wood dust, rotating fans and depressurised rooms are for\n\
         local codes and licensed practice."
    );
    Ok(())
}

/// The shop's own fan, the same fan 12 % faster, and one a tenth larger.
fn cases(study: &Study) -> Result<Vec<Case>, Box<dyn Error>> {
    let own = &study.system.collector;
    let fan = own.fan.as_ref().ok_or("the shop has no fan")?;
    // Shaft power of the shop's fan, invented like its curve.
    let shaft = [
        (0.0, 0.75),
        (600.0, 1.05),
        (1200.0, 1.45),
        (1800.0, 1.85),
        (2400.0, 2.1),
        (3000.0, 2.2),
        (3200.0, 2.2),
    ]
    .map(|(flow, kw)| (VolumeFlow::from_m3_h(flow), Power::from_kw(kw)));
    let shaft = PowerCurve::new(shaft, Density::from_kg_m3(1.2))?;
    let motor = |kw| Motor {
        rated: Power::from_kw(kw),
        drive_efficiency: 1.0,
        motor_efficiency: 0.84,
    };
    let case = |name: &str, fan: FanCurve, power: PowerCurve, kw: f64| {
        let mut collector = own.clone();
        collector.fan = Some(fan);
        let drive = FanDrive {
            power,
            motor: motor(kw),
        };
        Case::with_collector(name, &study.system, collector).with_drive(drive)
    };
    Ok(vec![
        case("as it is, 2.2 kW", fan.clone(), shaft.clone(), 2.2),
        case(
            "12 % faster, 3 kW",
            fan.at_speed_ratio(1.12)?,
            shaft.at_speed_ratio(1.12)?,
            3.0,
        ),
        case(
            "a tenth larger, 4 kW",
            fan.at_size_ratio(1.1)?,
            shaft.at_size_ratio(1.1)?,
            4.0,
        ),
    ])
}
