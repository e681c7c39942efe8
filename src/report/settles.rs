//! Where the fan settles, for the open sets that matter.

use super::{
    Shop, Why, job,
    markdown::{Page, Table},
    words::{count, deserved, together},
};
use crate::{
    quantity::Pressure,
    solve::{Status, audit},
};

/// Sets without an answer that are told.
const FAILED: usize = 6;

/// Sets with an answer that are told: those in which some machine is served worst.
const SETS: usize = 30;

pub(super) fn write(page: &mut Page, shop: &Shop<'_>) -> Result<(), Why> {
    let (answers, words) = (shop.answers, shop.words);
    let flows = answers.solved.iter().map(|at| at.point.flow);
    let least = flows.clone().reduce(|a, b| if b < a { b } else { a });
    let most = flows.reduce(|a, b| if b > a { b } else { a });
    page.paragraph(&job::looked_at(shop));
    if let (Some(least), Some(most)) = (least, most)
        && answers.solved.len() > 1
    {
        page.paragraph(&format!(
            "Over all of them the fan moves {} to {}. The table holds those in which some machine is \
             served worst.",
            words.flow(least, shop.deserved()),
            words.flow_with_unit(most, shop.deserved()),
        ));
    }
    let mut table = Table::new([
        String::from("open"),
        format!(">flow, {}", words.flow_unit()),
        String::from("low to high"),
        format!(">fan total, {}", words.pressure_unit()),
        format!(">fan static, {}", words.pressure_unit()),
        format!(">suction at its inlet, {}", words.pressure_unit()),
        String::from("how it stands"),
    ]);
    let before = shop.study.system.collector.before.len();
    let mut left_out = 0;
    for (set, solved) in answers.telling() {
        if table.len() == SETS {
            left_out += 1;
            continue;
        }
        let cases = answers.cases(set).map_err(Why)?;
        let count = deserved(cases.flow.grade);
        let of_fan = deserved(cases.fan_pressure.grade);
        let point = &solved.point;
        let pressure = |pressure: Option<Pressure>| {
            pressure.map_or("not known".into(), |at| words.pressure(at, of_fan))
        };
        // The fan's inlet: the end of the last run before it, or of the one main.
        let mut mains = shop.study.system.sections.iter().zip(&point.sections);
        let main = mains.find(|(section, _)| section.into.is_none());
        let inlet = match before.checked_sub(1) {
            Some(last) => point.collector.get(last).map(|run| run.static_pressure),
            None => main.map(|(_, state)| state.static_pressure),
        };
        table.row([
            together(&solved.open),
            words.flow(point.flow, count),
            super::machines::band(words, &cases.flow),
            pressure(point.fan.total_pressure),
            pressure(point.fan.static_pressure),
            pressure(inlet.map(|at| -at)),
            stands(point.status).into(),
        ]);
    }
    page.table(&table);
    if left_out > 0 {
        page.paragraph(&format!("And {} more.", count(left_out, "set")));
    }
    if let Some(hardest) = answers.hardest() {
        let audit = audit(&shop.study.system, &hardest.point)?;
        page.paragraph(&format!(
            "Checked against the laws alone, without the solver, with {}: worst violation {}.",
            together(&hardest.open),
            audit.worst(),
        ));
    }
    let failed = answers.failed.iter().take(FAILED);
    page.list(failed.map(|(open, error)| format!("No answer with {}: {error}.", together(open))));
    if answers.failed.len() > FAILED {
        let more = answers.failed.len() - FAILED;
        page.paragraph(&format!("And {more} more without an answer."));
    }
    if answers.solved.is_empty() {
        return Err(Why("no open set has an answer".into()));
    }
    Ok(())
}

fn stands(status: Status) -> &'static str {
    match status {
        Status::Converged => "within the fan's curve",
        Status::BeyondCurve => "beyond the last point of the fan's curve: a hint only",
        Status::BelowCurve => "before the first point of the fan's curve: a hint only",
        Status::FlowImposed => "flow imposed",
    }
}
