//! What each machine gets against its need, in low, likely and high case.

use super::{
    Shop, Why,
    answers::Served,
    markdown::{Page, Table},
    words::{Words, deserved, digits, percent, place, together},
};
use crate::{
    decide::{Adequacy, Likely, LikelyHood, LikelyNeed, WeighingAssumption},
    place::Name,
    solve::Grade,
};

/// Hoods with a need of their own that are told.
const HOODS: usize = 60;

/// Assumptions that are told as those that matter most.
const NAMED: usize = 3;

pub(super) fn write(page: &mut Page, shop: &Shop<'_>) -> Result<(), Why> {
    let words = shop.words;
    page.paragraph(
        "Each machine where it is served worst. Low to high is meant to hold the truth 19 times in 20, as \
         far as the doubts about the numbers are right. Adequate is only what is enough in the low case.",
    );
    let mut table = Table::new([
        String::from("machine"),
        format!(">needs, {}", words.flow_unit()),
        format!(">gets, {}", words.flow_unit()),
        String::from("low to high"),
        String::from(">of its need"),
        String::from("is it enough?"),
        String::from("open beside it"),
    ]);
    let mut notes: Vec<String> = Vec::new();
    let mut hoods: Vec<(&LikelyHood, &[Name])> = Vec::new();
    let mut weighing: Vec<&WeighingAssumption> = Vec::new();
    let mut grades: Vec<(Grade, &Name)> = Vec::new();
    for served in &shop.answers.served {
        let Some((set, solved)) = served
            .worst
            .and_then(|set| Some((set, shop.answers.solved.get(set)?)))
        else {
            let name = served.name.to_string();
            table.row([
                name.as_str(),
                "",
                "",
                "",
                "",
                "",
                "not open in any set with an answer",
            ]);
            continue;
        };
        let cases = match shop.answers.cases(set) {
            Ok(cases) => cases,
            Err(why) => {
                let beside = beside(served, &solved.open);
                let name = served.name.to_string();
                table.row([
                    name,
                    String::new(),
                    String::new(),
                    String::new(),
                    String::new(),
                    why,
                    beside,
                ]);
                continue;
            }
        };
        let mut starved = None;
        let (flow, need, adequacy) = if served.is_machine {
            let Ok(machine) = cases.machine(served.name.as_str()) else {
                continue;
            };
            starved = machine.starved.as_ref();
            let own = cases.hoods.iter().filter(|hood| {
                hood.machine.as_ref() == Some(&served.name) && hood.open && hood.need.is_some()
            });
            hoods.extend(own.map(|hood| (hood, solved.open.as_slice())));
            (&machine.flow, machine.need.as_ref(), machine.adequacy)
        } else {
            let mut among = cases.hoods.iter();
            let Some(hood) = among.find(|hood| hood.hood == served.name) else {
                continue;
            };
            (&hood.flow, hood.need.as_ref(), hood.adequacy)
        };
        if need.is_some_and(|need| need.assumed) {
            notes.push(format!(
                "{}: its need was assumed, and adequate means enough for the most that it may be.",
                served.name
            ));
        }
        grades.push((flow.grade, &served.name));
        weighing.extend(&flow.assumptions);
        table.row([
            served.name.to_string(),
            needed(words, need),
            digits(words.of_flow(flow.likely), deserved(flow.grade)),
            band(words, flow),
            share(flow, need),
            match starved {
                Some(hood) => format!("{} (its hood {hood})", said(adequacy)),
                None => said(adequacy),
            },
            beside(served, &solved.open),
        ]);
    }
    page.table(&table);
    of_hoods(page, words, &hoods);
    page.list(notes);
    graded(page, !shop.study.assumptions.is_empty(), &grades);
    matters(page, shop, weighing);
    Ok(())
}

/// Hoods with a need of their own: a machine's sum can hide a starved one.
fn of_hoods(page: &mut Page, words: Words, hoods: &[(&LikelyHood, &[Name])]) {
    let mut table = Table::new([
        String::from("hood with a need of its own"),
        format!(">needs, {}", words.flow_unit()),
        format!(">gets, {}", words.flow_unit()),
        String::from("low to high"),
        String::from(">of its need"),
        String::from("is it enough?"),
        String::from("open"),
    ]);
    for (hood, open) in hoods.iter().take(HOODS) {
        let need = hood.need.as_ref();
        table.row([
            hood.hood.to_string(),
            needed(words, need),
            digits(words.of_flow(hood.flow.likely), deserved(hood.flow.grade)),
            band(words, &hood.flow),
            share(&hood.flow, need),
            said(hood.adequacy),
            together(*open),
        ]);
    }
    page.table(&table);
}

fn graded(page: &mut Page, assumed: bool, grades: &[(Grade, &Name)]) {
    let of = |grade: Grade| {
        let names = grades.iter().filter(|(at, _)| *at == grade);
        let names: Vec<&str> = names.map(|(_, name)| name.as_str()).collect();
        names.join(", ")
    };
    let worse = [Grade::Estimate, Grade::RoughGuess].map(|grade| (grade, of(grade)));
    if worse.iter().all(|(_, names)| names.is_empty()) {
        page.paragraph(match assumed {
            false => "Nothing was assumed, so every figure is graded calculated.",
            true => "Every figure is graded calculated: assumptions carry no more than a quarter of what \
                     is uncertain in it.",
        });
        return;
    }
    let all = [(Grade::Calculated, of(Grade::Calculated))]
        .into_iter()
        .chain(worse);
    let told = all.filter(|(_, names)| !names.is_empty());
    page.list(told.map(|(grade, names)| format!("Graded {grade}: {names}.")));
    page.paragraph(
        "By the share of what is uncertain that assumptions carry: up to a quarter calculated, up to \
         three quarters an estimate, else a rough guess.",
    );
}

/// The assumptions that matter most, each with the reading that would replace it.
fn matters(page: &mut Page, shop: &Shop<'_>, all: Vec<&WeighingAssumption>) {
    let mut found: Vec<&WeighingAssumption> = Vec::new();
    for one in all {
        let mut known = found.iter_mut();
        let same = known.find(|at| at.assumption == one.assumption);
        match same {
            Some(known) if known.share < one.share => *known = one,
            Some(_) => {}
            None => found.push(one),
        }
    }
    found.sort_by(|a, b| b.share.total_cmp(&a.share));
    if found.is_empty() {
        return;
    }
    page.paragraph("The assumptions that matter most, and what would replace each:");
    page.numbered(found.iter().take(NAMED).map(|one| {
        let assumed = &one.assumption;
        let alike = match one.others {
            0 => String::new(),
            more => format!(" (and {more} like it)"),
        };
        format!(
            "{}: {} {}{alike}, up to {} of what is uncertain. Instead: {}.",
            place(&shop.study.system, &assumed.place),
            assumed.parameter,
            shop.words.parameter(assumed.parameter, assumed.value),
            percent(one.share),
            assumed.replaced_by(),
        )
    }));
}

/// `850 to 1000`.
pub(super) fn band(words: Words, value: &Likely) -> String {
    let count = deserved(value.grade);
    let [low, high] = [value.low, value.high].map(|at| digits(words.of_flow(at), count));
    format!("{low} to {high}")
}

fn needed(words: Words, need: Option<&LikelyNeed>) -> String {
    need.map_or("-".into(), |need| words.flow(need.flow, 3))
}

fn share(flow: &Likely, need: Option<&LikelyNeed>) -> String {
    need.map_or("-".into(), |need| {
        percent(flow.likely / need.flow.as_m3_s())
    })
}

fn said(adequacy: Option<Adequacy>) -> String {
    adequacy.map_or("needs nothing".into(), |adequacy| adequacy.to_string())
}

fn beside(served: &Served, open: &[Name]) -> String {
    let others: Vec<&Name> = open.iter().filter(|name| **name != served.name).collect();
    match others.is_empty() {
        true => "nothing".into(),
        false => together(others),
    }
}
