//! The job: title, the shop in words, and the answer in short.

use super::{
    Shop,
    answers::{Chosen, Served},
    markdown::Page,
    words::{count, percent, place, together},
};
use crate::{
    decide::{Adequacy, Budget, PathElement},
    loss::Part,
    place::Name,
    quantity::Length,
    solve::{Grade, OperatingPoint},
    system::Start,
};

pub(super) fn write(page: &mut Page, shop: &Shop<'_>) {
    let title = shop.study.title.as_deref().map(str::trim);
    let title = title.filter(|title| !title.is_empty());
    page.heading(1, title.unwrap_or("Dust collection: a report"));
    page.warning(
        "An analysis of some open gates, not a design basis. Wood dust burns, explodes and harms lungs: \
         read the last chapter before you build or change anything.",
    );
    page.paragraph(&in_words(shop));
    page.heading(2, "In short");
    page.list(in_short(shop));
}

fn in_words(shop: &Shop<'_>) -> String {
    let system = &shop.study.system;
    let mut lengths = [Length::default(); 2];
    for part in system.sections.iter().flat_map(|section| &section.parts) {
        match part {
            Part::Duct(length) => lengths[0] = lengths[0] + *length,
            Part::Hose(hose) => lengths[1] = lengths[1] + hose.length,
            _ => {}
        }
    }
    let [duct, hose] = lengths.map(|length| shop.words.length(length));
    let mut text = format!(
        "One collector draws from {} at {} through {} of duct: {duct} rigid, {hose} of hose.",
        count(system.hoods().count(), "hood"),
        count(system.machines.len(), "machine"),
        count(system.sections.len(), "section"),
    );
    let capped = system.sections.iter();
    let capped = capped
        .filter(|at| matches!(at.start, Start::Capped))
        .count();
    match capped {
        0 => {}
        1 => text.push_str(" 1 branch is capped for later."),
        more => text.push_str(&format!(" {more} branches are capped for later.")),
    }
    text
}

fn in_short(shop: &Shop<'_>) -> Vec<String> {
    let answers = shop.answers;
    let mut told = vec![looked_at(shop)];
    let mut by_adequacy: Vec<(Adequacy, Vec<&Served>)> = [
        Adequacy::Adequate,
        Adequacy::NotSurely,
        Adequacy::ProbablyShort,
        Adequacy::Short,
    ]
    .map(|adequacy| (adequacy, Vec::new()))
    .into();
    let mut grade = Grade::Calculated;
    for served in &answers.served {
        let Some(adequacy) = adequacy(shop, served) else {
            continue;
        };
        for (at, among) in &mut by_adequacy {
            if *at == adequacy {
                among.push(served);
            }
        }
    }
    for (set, _) in answers.telling() {
        if let Ok(cases) = answers.cases(set) {
            grade = grade.max(cases.grade());
        }
    }
    for (adequacy, served) in &by_adequacy {
        if !served.is_empty() {
            let names: Vec<String> = served.iter().map(|at| named(shop, at)).collect();
            told.push(format!(
                "{}: {}.",
                capital(&adequacy.to_string()),
                names.join(", ")
            ));
        }
    }
    if by_adequacy.iter().all(|(_, served)| served.is_empty()) {
        told.push("Nothing is needed anywhere, so nothing can be called adequate.".into());
    }
    let worst = answers.served.iter().filter(|at| at.share.is_some());
    let worst = worst.min_by(|a, b| a.share.unwrap_or(0.0).total_cmp(&b.share.unwrap_or(0.0)));
    if let Some(worst) = worst
        && let (Some(share), Some(set)) = (worst.share, worst.worst)
        && let Some(solved) = answers.solved.get(set)
    {
        let title = if share < 1.0 {
            "Served worst"
        } else {
            "Nearest to its need"
        };
        told.push(format!(
            "{title}: {}, with {} of its need, when {}.",
            named(shop, worst),
            percent(share),
            opened(&solved.open)
        ));
        if let Some(text) = dearest(shop, worst, &solved.point) {
            told.push(text);
        }
    }
    if !shop.study.plans.readings.is_empty() {
        told.push(
            "The document holds readings, and what they say of the shop may change all this: see their \
             chapter."
                .into(),
        );
    }
    match grade {
        Grade::Calculated => {}
        grade => told.push(format!(
            "Graded {grade}: much of what stands here rests on assumptions. The chapter on what each \
             machine gets names the readings that would replace them."
        )),
    }
    if !answers.failed.is_empty() {
        told.push(format!(
            "{} without an answer; see where the fan settles.",
            count(answers.failed.len(), "open set")
        ));
    }
    told
}

/// `table saw (its hood saw guard)` where a hood is served worse than the whole.
fn named(shop: &Shop<'_>, served: &Served) -> String {
    let starved = served.worst.and_then(|set| {
        let cases = shop.answers.cases(set).ok()?;
        let mut machines = cases.machines.iter();
        let own = machines.find(|at| served.is_machine && at.machine == served.name)?;
        own.starved.as_ref()
    });
    match starved {
        Some(hood) => format!("{} (its hood {hood})", served.name),
        None => served.name.to_string(),
    }
}

/// Whether a machine, or a hood that serves none, gets enough where it is served worst.
pub(super) fn adequacy(shop: &Shop<'_>, served: &Served) -> Option<Adequacy> {
    let cases = shop.answers.cases(served.worst?).ok()?;
    if served.is_machine {
        let mut machines = cases.machines.iter();
        machines.find(|at| at.machine == served.name)?.adequacy
    } else {
        let mut hoods = cases.hoods.iter();
        hoods.find(|at| at.hood == served.name)?.adequacy
    }
}

/// Which open sets this report looks at.
pub(super) fn looked_at(shop: &Shop<'_>) -> String {
    let answers = shop.answers;
    let sets = count(answers.solved.len() + answers.failed.len(), "open set");
    let mut text = match answers.chosen {
        Chosen::Asked => {
            let open = answers.solved.iter().map(|at| &at.open);
            let mut open = open.chain(answers.failed.iter().map(|(open, _)| open));
            let open = open.next().map_or(String::new(), |open| opened(open));
            format!("One open set was asked for: {open}.")
        }
        Chosen::Use => format!("Looked at: {sets}, all that the document's [use] allows."),
        Chosen::Alone => {
            "Looked at: each machine alone, because the document does not tell in [use] \
                          which of them run together. With more gates open each gets less."
                .into()
        }
    };
    if answers.cut {
        text = format!(
            "Looked at: {sets} of those that the document's [use] allows, each machine alone among them. \
             There are more than can be looked at: tell in [use] how many run at once."
        );
    }
    text
}

/// `planer + table saw are open`.
pub(super) fn opened(open: &[Name]) -> String {
    match open {
        [one] => format!("{one} alone is open"),
        many => format!("{} are open", together(many)),
    }
}

/// What takes most of the pressure on the way of the worst served.
fn dearest(shop: &Shop<'_>, served: &Served, point: &OperatingPoint) -> Option<String> {
    let system = &shop.study.system;
    let hoods = point.hoods.iter().filter(|hood| hood.open);
    let mut own = hoods.filter(|hood| {
        hood.machine.as_ref() == Some(&served.name)
            || !served.is_machine && hood.name == served.name
    });
    let hood = &own.next()?.name;
    let path = Budget::new(system, point).ok()?.path(hood.as_str()).ok()?;
    let largest = dearest_of(&path.elements)?;
    Some(format!(
        "From the {hood} to the open air the {} takes most: {}, {} of what the fan gives.",
        place(system, &largest.place),
        shop.words.pressure_with_unit(largest.loss, 2),
        percent(largest.share),
    ))
}

/// What loses most; of equals the first.
pub(super) fn dearest_of(elements: &[PathElement]) -> Option<&PathElement> {
    elements.iter().reduce(|most, next| {
        if next.loss.as_pa() > most.loss.as_pa() {
            next
        } else {
            most
        }
    })
}

fn capital(text: &str) -> String {
    let mut chars = text.chars();
    match chars.next() {
        Some(first) => first.to_uppercase().chain(chars).collect(),
        None => String::new(),
    }
}
