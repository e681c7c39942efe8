//! What was given and what was assumed, each with where it is from.

use super::{
    Shop, Why,
    markdown::{Page, Table},
    words::{count, digits, place},
};
use crate::{
    air::{Air, Barometer},
    decide::{LikelyNeed, Transcription},
    loss::Part,
    place::Place,
    system::{Assumption, Run, Section, Start},
};

/// Sections that the table tells; of more only how many.
const SECTIONS: usize = 60;

/// Places of one assumption that are told.
const PLACES: usize = 4;

pub(super) fn write(page: &mut Page, shop: &Shop<'_>) -> Result<(), Why> {
    let assumptions = &shop.study.assumptions;
    page.paragraph(if assumptions.is_empty() {
        "Everything here is as the document gives it; nothing was assumed. How well given numbers are \
         usually known goes into the bands of what each machine gets."
    } else {
        "What the document does not say was assumed, and stands in the first table with its source and \
         with the reading that would replace it. All else is as the document gives it."
    });
    let mut table = Table::new([
        "assumed",
        "value",
        "band",
        "source",
        "what would replace it",
    ]);
    for (assumed, places) in alike(assumptions) {
        let value = |value| shop.words.parameter(assumed.parameter, value);
        let told = places.iter().take(PLACES);
        let told = told.map(|at| place(&shop.study.system, at));
        let mut told = told.collect::<Vec<_>>().join(", ");
        if places.len() > PLACES {
            told.push_str(&format!(" and {} more", places.len() - PLACES));
        }
        table.row([
            format!("{}: {told}", assumed.parameter),
            value(assumed.value),
            format!("{} to {}", value(assumed.low), value(assumed.high)),
            assumed.source.to_owned(),
            assumed.replaced_by().to_owned(),
        ]);
    }
    page.table(&table);
    page.list([air(shop), fan(shop)].into_iter().chain(runs(shop)));
    sections(page, shop);
    needs(page, shop);
    Ok(())
}

/// Assumptions of one number, value and source together, with their places.
fn alike(assumptions: &[Assumption]) -> Vec<(&Assumption, Vec<&Place>)> {
    let mut found: Vec<(&Assumption, Vec<&Place>)> = Vec::new();
    for one in assumptions {
        let band = |at: &Assumption| [at.value, at.low, at.high].map(f64::to_bits);
        let same = found.iter_mut().find(|(known, _)| {
            known.parameter == one.parameter
                && band(known) == band(one)
                && known.source == one.source
                // A hood's coefficient is read otherwise than an elbow's.
                && known.replaced_by() == one.replaced_by()
        });
        match same {
            Some((_, places)) => places.push(&one.place),
            None => found.push((one, vec![&one.place])),
        }
    }
    found
}

fn air(shop: &Shop<'_>) -> String {
    let words = shop.words;
    let told = match &shop.study.system.air {
        Air::Moist {
            barometer,
            temperature,
            relative_humidity,
        } => {
            let barometer = match barometer {
                Barometer::Altitude(altitude) => {
                    format!("{} above the sea", words.length(*altitude))
                }
                Barometer::Pressure(pressure) => {
                    format!("barometer {} kPa", digits(pressure.as_kpa(), 4))
                }
            };
            format!(
                "{barometer}, {}, {:.0} % humidity, ",
                words.temperature(temperature.as_k()),
                100.0 * relative_humidity
            )
        }
        Air::Given { .. } => String::new(),
    };
    let density = shop.network.air().density;
    format!(
        "Air: {told}density {} kg/m3.",
        digits(density.as_kg_m3(), 3)
    )
}

fn fan(shop: &Shop<'_>) -> String {
    let words = shop.words;
    let Some(fan) = &shop.study.system.collector.fan else {
        return "Fan: none.".into();
    };
    let points = match fan.is_estimate() {
        true => "a curve estimated from two numbers".to_owned(),
        false => format!("a curve of {}", count(fan.points().len(), "point")),
    };
    let peak = fan.peak();
    let fitted = fan.fitted();
    let fitted: Vec<&str> = [
        (fitted.separator, "separator"),
        (fitted.filter, "filter"),
        (fitted.silencer, "silencer"),
    ]
    .into_iter()
    .filter_map(|(is, what)| is.then_some(what))
    .collect();
    format!(
        "Fan: {points}, {}, up to {} and {}, in air of {} kg/m3, measured with {}.",
        fan.basis(),
        words.flow_with_unit(fan.largest_flow(), 3),
        words.pressure_with_unit(peak.pressure, 3),
        digits(fan.density().as_kg_m3(), 3),
        match fitted.as_slice() {
            [] => "nothing fitted".to_owned(),
            fitted => format!("{} fitted, which is charged no more", fitted.join(", ")),
        }
    )
}

fn runs(shop: &Shop<'_>) -> Vec<String> {
    let collector = &shop.study.system.collector;
    let told = |side: &str, run: &Run| {
        let parts = parts(shop, &run.parts);
        format!("{side} the fan: {}, {parts}.", shop.words.size(run.size))
    };
    let before = collector.before.iter().map(|run| told("Before", run));
    let after = collector.after.iter().map(|run| told("After", run));
    before.chain(after).collect()
}

fn parts(shop: &Shop<'_>, parts: &[Part]) -> String {
    let parts: Vec<String> = parts.iter().map(|part| shop.words.part(part)).collect();
    match parts.as_slice() {
        [] => "nothing in it".into(),
        parts => parts.join(", "),
    }
}

fn sections(page: &mut Page, shop: &Shop<'_>) {
    let sections = &shop.study.system.sections;
    let mut table = Table::new([
        "section",
        ">size",
        "drains into",
        "begins at",
        "parts, with the air",
    ]);
    for section in sections.iter().take(SECTIONS) {
        table.row([
            section.id.to_string(),
            shop.words.size(section.size),
            into(section),
            start(section),
            match section.parts.as_slice() {
                [] => String::new(),
                own => parts(shop, own),
            },
        ]);
    }
    page.table(&table);
    if sections.len() > SECTIONS {
        let more = sections.len() - SECTIONS;
        page.paragraph(&format!("And {}.", count(more, "more section")));
    }
}

fn of_need(need: &LikelyNeed) -> String {
    match need.source.transcription {
        Transcription::Given => need.source.text.to_string(),
        _ => need.source.to_string(),
    }
}

fn into(section: &Section) -> String {
    let into = section.into.as_ref();
    let into = into.map_or_else(|| "the collector".into(), ToString::to_string);
    match section.join.angle {
        Some(angle) if angle.as_deg() != 0.0 => {
            format!("{into} at {} deg", digits(angle.as_deg(), 2))
        }
        _ => into,
    }
}

fn start(section: &Section) -> String {
    match &section.start {
        Start::Joins => "other sections".into(),
        Start::Hood(hood) => match &hood.machine {
            Some(machine) => format!("{} ({machine})", hood.id),
            None => hood.id.to_string(),
        },
        Start::Capped => "a cap".into(),
        Start::Leak(_) => "a leak".into(),
    }
}

fn needs(page: &mut Page, shop: &Shop<'_>) {
    let Some((set, _)) = shop.answers.telling().next() else {
        return;
    };
    let Ok(cases) = shop.answers.cases(set) else {
        return;
    };
    let mut table = Table::new([
        String::from("need of"),
        format!(">{}", shop.words.flow_unit()),
        String::from("source"),
    ]);
    let mut row = |name: String, need: Option<&LikelyNeed>| {
        if let Some(need) = need {
            let flow = shop.words.flow(need.flow, 3);
            let most = shop.words.flow(need.most, 3);
            let flow = match need.most > need.flow {
                true => format!("{flow} (to {most})"),
                false => flow,
            };
            table.row([name, flow, of_need(need)]);
        }
    };
    for machine in &cases.machines {
        row(machine.machine.to_string(), machine.need.as_ref());
    }
    for hood in &cases.hoods {
        row(format!("hood {}", hood.hood), hood.need.as_ref());
    }
    page.table(&table);
}
