//! Readings against the model, and what they tell of it.

use super::{
    Shop, Why,
    markdown::{Page, Table},
    words::{Words, count, digits, percent, together},
};
use crate::{
    decide::{Adequacy, LikelyHood, LikelyNeed},
    place::Name,
    solve::{HALF_BAND, Network, Output, Status},
    survey::{
        Calibration, ComparedReading, Observation, Prediction, calibrate, compare_readings,
        possible_readings,
    },
};

/// Readings that are told.
const TOLD: usize = 60;

/// Readings to take next that are told.
const NEXT: usize = 3;

/// How well a next reading is taken to tell a flow and a pressure, as a share: common practice, no
/// source.
const FLOW_SHARE: f64 = 0.03;
const PRESSURE_SHARE: f64 = 0.02;

pub(super) fn write(page: &mut Page, shop: &Shop<'_>) -> Result<(), Why> {
    let (study, words) = (shop.study, shop.words);
    let system = &study.system;
    let mut readings: Vec<Observation> = Vec::new();
    let mut notes: Vec<String> = Vec::new();
    for reading in &study.plans.readings {
        let observed = reading.observe(system)?;
        let own = observed.notes.iter();
        notes.extend(own.map(|note| format!("{}: {note}.", reading.id)));
        readings.push(observed.observation);
    }
    let doubts = shop.network.doubts(&study.assumptions);
    let compared = compare_readings(system, &readings, &doubts)?;
    page.paragraph(
        "Read against the shop as the document has it. Off: read less worked out, in standard \
         uncertainties of both together; beyond 2 is doubtful, beyond 3 contradicts.",
    );
    let unknowns = study.plans.calibrate.unknowns(system);
    let fitted = unknowns.and_then(|unknowns| {
        let outliers = study.plans.calibrate.outliers;
        calibrate(system, &readings, &unknowns, outliers)
    });
    against(page, words, &readings, &compared, fitted.as_ref().ok());
    page.list(notes.iter().take(TOLD));
    let fitted = fitted?;
    found(page, &fitted);
    machines(page, shop, &fitted)?;
    next(page, shop, &readings, &fitted)
}

/// Every reading, what was worked out, and what fits.
fn against(
    page: &mut Page,
    words: Words,
    readings: &[Observation],
    compared: &[ComparedReading],
    fitted: Option<&Calibration>,
) {
    let mut table = Table::new([
        "reading",
        ">read",
        ">worked out",
        ">off",
        "that",
        ">as fitted",
    ]);
    for reading in readings.iter().take(TOLD) {
        let Some(at) = compared.iter().find(|at| at.id == reading.id) else {
            continue;
        };
        let tell = |value| words.output(&at.output, value, 3);
        let fitted = fitted.map(|fitted| &fitted.readings);
        let fitted = fitted.and_then(|all| all.iter().find(|at| at.name == reading.id.as_str()));
        table.row([
            reading.id.to_string(),
            format!("{} ± {}", tell(at.measured), spread(words, at)),
            tell(at.predicted),
            format!("{:+.1}", at.score),
            at.agreement.to_string(),
            fitted.map_or("-".into(), |fitted| {
                let wrong = if fitted.outlier { " (outlier)" } else { "" };
                format!("{}{wrong}", tell(fitted.predicted))
            }),
        ]);
    }
    page.table(&table);
    if readings.len() > TOLD {
        let more = readings.len() - TOLD;
        page.paragraph(&format!("And {}.", count(more, "more reading")));
    }
}

fn spread(words: Words, at: &ComparedReading) -> String {
    let text = words.output(&at.output, at.standard, 2);
    text.split(' ').next().unwrap_or_default().to_owned()
}

/// What was found, and what was not.
fn found(page: &mut Page, fitted: &Calibration) {
    page.heading(3, "The shop that fits the readings");
    let wrong: Vec<String> = fitted
        .outliers()
        .map(|wrong| {
            let apart = wrong.apart.unwrap_or(wrong.residual).abs();
            format!(
                "{}: {} standard uncertainties from what the others say; read it again.",
                wrong.name,
                digits(apart, 2)
            )
        })
        .collect();
    if !wrong.is_empty() {
        page.paragraph("Readings that the others contradict:");
        page.list(wrong);
    }
    let mut table = Table::new([
        "found",
        ">value",
        "low to high (95 %)",
        ">told by the readings",
    ]);
    for estimate in &fitted.estimates {
        table.row([
            estimate.name.clone(),
            digits(estimate.value, 2),
            format!(
                "{} to {}",
                digits(estimate.low, 2),
                digits(estimate.high, 2)
            ),
            match estimate.is_told() {
                true => percent(estimate.told),
                false => format!("{}: not told", percent(estimate.told)),
            },
        ]);
    }
    page.table(&table);
    page.paragraph(
        "Values are factors on what the document says, wye extra a coefficient. What is not told stands \
         where it was believed to be.",
    );
    let mut said: Vec<String> = Vec::new();
    if let (Some(chi), Some([low, high])) = (fitted.reduced_chi_square, fitted.usual_chi_square) {
        said.push(format!(
            "Scatter of the readings: {} of what was said of them; {} to {} is usual.",
            digits(chi, 2),
            digits(low, 2),
            digits(high, 2)
        ));
    }
    for pair in &fitted.correlated {
        let name = |i: usize| fitted.estimates.get(i).map_or("", |at| at.name.as_str());
        let [one, other] = pair.unknowns;
        said.push(format!(
            "Hard to tell apart: {} and {}.",
            name(one),
            name(other)
        ));
    }
    said.extend(fitted.weak.iter().map(|weak| format!("Not told: {weak}.")));
    page.list(said);
}

/// What each machine gets where it is served worst: as the document has it, and as fitted.
fn machines(page: &mut Page, shop: &Shop<'_>, fitted: &Calibration) -> Result<(), Why> {
    let words = shop.words;
    let network = Network::new(&fitted.system)?;
    let doubts = network.doubts(&shop.study.assumptions);
    let mut table = Table::new([
        String::from("machine"),
        format!(">needs, {}", words.flow_unit()),
        format!(">as the document has it, {}", words.flow_unit()),
        format!(">as fitted, {}", words.flow_unit()),
        String::from("low to high"),
        String::from("is it enough?"),
        String::from("open beside it"),
    ]);
    for served in shop.answers.served.iter().filter(|at| at.is_machine) {
        let Some(set) = served.worst else { continue };
        let Some(solved) = shop.answers.solved.get(set) else {
            continue;
        };
        let cases = shop.answers.cases(set).map_err(Why)?;
        let Ok(planned) = cases.machine(served.name.as_str()) else {
            continue;
        };
        // A hood with a need of its own may starve behind the sum.
        let hoods = cases.hoods.iter().filter(|hood| {
            hood.open && hood.machine.as_ref() == Some(&served.name) && hood.need.is_some()
        });
        let hoods: Vec<&LikelyHood> = hoods.collect();
        let outputs = hoods.iter().map(|hood| Output::Hood(hood.hood.clone()));
        let wanted: Vec<Output> = std::iter::once(Output::Machine(served.name.clone()))
            .chain(outputs)
            .collect();
        let after = fitted.predict(&fitted.system, &solved.open, &wanted, &doubts)?;
        let Some((of_machine, of_hoods)) = after.split_first() else {
            continue;
        };
        let status = network
            .operating_point(&network.open(&solved.open)?)?
            .status;
        let needs = hoods.iter().map(|hood| hood.need.as_ref());
        let judged =
            std::iter::once((planned.need.as_ref(), of_machine)).chain(needs.zip(of_hoods));
        let adequacy = judged.filter_map(|(need, after)| Some(adequacy(need?, after, status)));
        let adequacy = adequacy.min();
        let [low, likely, high] = cases_of(of_machine);
        let flow = |m3_s: f64| digits(words.of_flow(m3_s), 3);
        let others = solved.open.iter().filter(|name| **name != served.name);
        table.row([
            served.name.to_string(),
            planned
                .need
                .as_ref()
                .map_or("-".into(), |need| words.flow(need.flow, 3)),
            flow(planned.flow.likely),
            flow(likely),
            format!("{} to {}", flow(low), flow(high)),
            adequacy.map_or("needs nothing".into(), |adequacy| adequacy.to_string()),
            together(others),
        ]);
    }
    page.table(&table);
    page.paragraph(
        "Flows of whole machines; the other chapters are of the shop as the document has it.",
    );
    Ok(())
}

/// Low, likely and high, by the same ends as those of an uncertain value: a flow is not below 0.
fn cases_of(after: &Prediction) -> [f64; 3] {
    let half = HALF_BAND * after.standard;
    [
        (after.value - half).max(0.0),
        after.value,
        after.value + half,
    ]
}

fn adequacy(need: &LikelyNeed, after: &Prediction, status: Status) -> Adequacy {
    let (least, most) = (need.flow.as_m3_s(), need.most.as_m3_s());
    Adequacy::of(cases_of(after), least, most).at_most(status)
}

/// The readings that would say most about the machine that is known worst.
fn next(
    page: &mut Page,
    shop: &Shop<'_>,
    readings: &[Observation],
    fitted: &Calibration,
) -> Result<(), Why> {
    let mut worst: Option<(&Name, &[Name], f64)> = None;
    for served in shop.answers.served.iter().filter(|at| at.is_machine) {
        let Some(solved) = served.worst.and_then(|set| shop.answers.solved.get(set)) else {
            continue;
        };
        let wanted = [Output::Machine(served.name.clone())];
        for told in fitted.predict(&fitted.system, &solved.open, &wanted, &[])? {
            let share = told.from_calibration / told.value;
            if worst.as_ref().is_none_or(|(.., most)| share > *most) {
                worst = Some((&served.name, &solved.open, share));
            }
        }
    }
    let Some((machine, open, share)) = worst else {
        return Ok(());
    };
    let mut sets: Vec<Vec<Name>> = readings
        .iter()
        .map(|reading| reading.open.clone())
        .collect();
    sets.push(open.to_vec());
    let possible = possible_readings(&fitted.system, &sets, FLOW_SHARE, PRESSURE_SHARE)?;
    let wanted = [Output::Machine(machine.clone())];
    let ranked = fitted.next_readings(&possible, open, &wanted)?;
    page.paragraph(&format!(
        "Of what was fitted the {machine} is known worst, to {} %. What to read next, and how much of \
         that it would take away:",
        digits(100.0 * share, 2)
    ));
    page.numbered(
        ranked
            .iter()
            .take(NEXT)
            .map(|next| format!("{}: {}.", next.id, percent(next.reduction))),
    );
    Ok(())
}
