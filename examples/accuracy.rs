//! How far are the answers from the exact ones?
//!
//! Solves duct trees whose balances are known to 25 digits (`tests/data/make_random_networks.py`
//! computes them with mpmath from the published formulas; nothing of this crate is run there), and
//! prints how far every flow and pressure is off.
//!
//! ```text
//! cargo run --release --example accuracy
//! ```
//!
//! Every flow counts: of open hoods, of shut ones whose gates leak, of leaking walls and holes, and
//! the total. The pressures are the fan's and the suction at the end of every section. Each number
//! is judged against itself, however small: a suction of a few pascal is the difference of two near
//! the fan's pressure, and loses digits as such.

#![allow(clippy::print_stdout, reason = "an example speaks to a person")]

use airsplit::{Network, OperatingPoint, Status, Study};
use serde::Deserialize;
use std::{collections::BTreeMap, error::Error};

const CASES: &str = include_str!("../tests/data/random_networks_mpmath.json");

#[derive(Deserialize)]
pub(crate) struct File {
    pub(crate) made_by: String,
    pub(crate) worst_residual_over_pressure_at_rest: String,
    pub(crate) cases: Vec<Case>,
}

/// A document, the hoods that are open, and the exact answer.
#[derive(Deserialize)]
pub(crate) struct Case {
    pub(crate) id: String,
    pub(crate) study: Study,
    pub(crate) open: Vec<String>,
    pub(crate) answer: Answer,
    /// Whether the fan's curve rises somewhere.
    #[serde(default)]
    pub(crate) dips: bool,
}

/// Flows in m3/s and pressures in Pa, as decimals of 17 to 25 digits.
#[derive(Deserialize)]
pub(crate) struct Answer {
    pub(crate) total: String,
    /// Pressure of the fan, as its curve tells it.
    pub(crate) curve: String,
    /// Fan total pressure, where the curve tells another and the outlet's size is known.
    pub(crate) fan_total: Option<String>,
    pub(crate) hoods: BTreeMap<String, String>,
    /// Leaks of walls, by section.
    #[serde(default)]
    pub(crate) walls: BTreeMap<String, String>,
    /// Flow at the end of sections that begin in a hole.
    #[serde(default)]
    pub(crate) holes: BTreeMap<String, String>,
    /// Suction of total pressure at the end of each section that carries air.
    pub(crate) suction: BTreeMap<String, String>,
}

/// What a number is of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Of {
    Total,
    OpenHood,
    ShutHood,
    Leak,
    Fan,
    Section,
}

/// A number of the answer: what it is of, whose, and how far off, relative.
#[derive(Debug, Clone)]
pub(crate) struct Off {
    pub(crate) of: Of,
    pub(crate) name: String,
    pub(crate) share: f64,
}

/// A case, solved and compared.
pub(crate) struct Solved {
    pub(crate) point: OperatingPoint,
    pub(crate) off: Vec<Off>,
}

pub(crate) fn read() -> Result<File, serde_json::Error> {
    serde_json::from_str(CASES)
}

impl Of {
    pub(crate) fn is_pressure(self) -> bool {
        matches!(self, Self::Fan | Self::Section)
    }
}

impl Case {
    pub(crate) fn solve(&self) -> Result<Solved, Box<dyn Error>> {
        let network = Network::new(&self.study.system)?;
        let point = network.operating_point(&network.open(&self.open)?)?;
        let off = self.compare(&point)?;
        Ok(Solved { point, off })
    }

    fn compare(&self, point: &OperatingPoint) -> Result<Vec<Off>, Box<dyn Error>> {
        let mut off = Vec::new();
        let mut compare = |of, name: &str, ours: f64, exact: &str| {
            let exact: f64 = exact.parse()?;
            off.push(Off {
                of,
                name: name.to_owned(),
                share: (ours - exact).abs() / exact.abs(),
            });
            Ok::<(), Box<dyn Error>>(())
        };
        let answer = &self.answer;
        compare(Of::Total, "total", point.flow.as_m3_s(), &answer.total)?;
        for (name, exact) in &answer.hoods {
            let hood = point.hood(name)?;
            let of = if hood.open {
                Of::OpenHood
            } else {
                Of::ShutHood
            };
            compare(of, name, hood.flow.as_m3_s(), exact)?;
        }
        for (name, exact) in &answer.walls {
            compare(Of::Leak, name, point.section(name)?.leak.as_m3_s(), exact)?;
        }
        for (name, exact) in &answer.holes {
            compare(Of::Leak, name, point.section(name)?.flow.as_m3_s(), exact)?;
        }
        let fan = &point.fan;
        compare(Of::Fan, "fan", fan.curve_pressure.as_pa(), &answer.curve)?;
        if let Some(exact) = &answer.fan_total {
            let total = fan.total_pressure.ok_or("no fan total pressure")?;
            compare(Of::Fan, "fan total", total.as_pa(), exact)?;
        }
        for (name, exact) in &answer.suction {
            let suction = -point.section(name)?.total_pressure.as_pa();
            compare(Of::Section, name, suction, exact)?;
        }
        Ok(off)
    }
}

/// The middle one, and the worst.
fn spread(mut numbers: Vec<f64>) -> (f64, f64) {
    // A number that is none comes last and is the worst.
    numbers.sort_by(f64::total_cmp);
    let at = |i: usize| numbers.get(i).copied().unwrap_or(0.0);
    (at(numbers.len() / 2), at(numbers.len().saturating_sub(1)))
}

fn row(name: &str, cases: &[&(Case, Solved)]) {
    let shares = |pressure| {
        let off = cases.iter().flat_map(|(_, solved)| &solved.off);
        let those = off.filter(|off| off.of.is_pressure() == pressure);
        spread(those.map(|off| off.share).collect())
    };
    let ((flow, worst_flow), (pressure, worst_pressure)) = (shares(false), shares(true));
    let quality = || cases.iter().map(|(_, solved)| &solved.point.quality);
    let (_, residual) = spread(
        quality()
            .map(|q| q.pressure.value.max(q.flow.value))
            .collect(),
    );
    let (passes, most) = spread(quality().map(|q| f64::from(q.passes)).collect());
    println!(
        "{name:<30} {:>5}  {worst_flow:>7.1e} {flow:>7.1e}  {worst_pressure:>7.1e} \
         {pressure:>7.1e}  {residual:>8.1e}  {passes:>2} {most:>3}",
        cases.len()
    );
}

fn main() -> Result<(), Box<dyn Error>> {
    let file = read()?;
    let mut solved = Vec::new();
    for case in file.cases {
        let answer = case
            .solve()
            .map_err(|error| format!("{}: {error}", case.id))?;
        solved.push((case, answer));
    }
    println!("Exact answers: {}", file.made_by);
    println!(
        "  what they leave over: {} of the fan's pressure at rest\n",
        file.worst_residual_over_pressure_at_rest
    );
    println!(
        "{:30} {:>5}  {:^15}  {:^15}  {:>8}  {:>6}",
        "relative errors", "cases", "flow", "pressure", "residual", "passes"
    );
    println!(
        "{:36}  {:>7} {:>7}  {:>7} {:>7}  {:>8}  {:>6}",
        "", "worst", "median", "worst", "median", "worst", "med max"
    );
    let table = |name: &str, want: &dyn Fn(&Case, &Solved) -> bool| {
        let those: Vec<_> = solved.iter().filter(|(c, s)| want(c, s)).collect();
        row(name, &those);
    };
    let hoods = |solved: &Solved| solved.point.hoods.len();
    let known = |case: &Case| case.id.starts_with("three hoods");
    table("three hoods, two wye models", &|c, _| known(c));
    for (low, high) in [(2, 5), (6, 12), (13, 25), (26, 40)] {
        let name = format!("random trees, {low} to {high} hoods");
        table(&name, &|c, s| !known(c) && (low..=high).contains(&hoods(s)));
    }
    println!("among them");
    let any = |solved: &Solved, of| solved.off.iter().any(|off| off.of == of);
    table("  hoods shut, gates leak", &|_, s| any(s, Of::ShutHood));
    table("  walls or holes leak", &|_, s| any(s, Of::Leak));
    table("  the fan's curve dips", &|c, _| c.dips);
    table("  beyond the fan's curve", &|_, s| {
        s.point.status == Status::BeyondCurve
    });
    table("all", &|_, _| true);

    println!("\nworst flow by what takes the air in");
    for (of, name) in [
        (Of::Total, "total"),
        (Of::OpenHood, "open hoods"),
        (Of::ShutHood, "shut hoods whose gates leak"),
        (Of::Leak, "walls and holes"),
    ] {
        let those = solved.iter().flat_map(|(case, solved)| {
            let those = solved.off.iter().filter(move |off| off.of == of);
            those.map(move |off| (case, off))
        });
        let count = those.clone().count();
        if let Some((case, off)) = those.max_by(|a, b| a.1.share.total_cmp(&b.1.share)) {
            let share = off.share;
            println!(
                "  {name:<28} {count:>5}  {share:.1e}  {} in {}",
                off.name, case.id
            );
        }
    }
    let all = solved.iter().flat_map(|(_, solved)| &solved.off);
    let flows = all.filter(|off| !off.of.is_pressure());
    let (_, worst) = spread(flows.map(|off| off.share).collect());
    println!(
        "\nworst relative flow error: {worst:.2e} over {} cases",
        solved.len()
    );
    Ok(())
}
