//! What the model does not know, and cautions.

use super::{
    Shop, Why,
    markdown::{Page, Table},
    words::{Words, count, percent, place},
};
use crate::{
    decide::FlueCaution,
    loss::{HoseKind, Junction, Part},
    place::Place,
    solve::Status,
};

/// Notes that are told.
const NOTES: usize = 30;

pub(super) fn write(page: &mut Page, shop: &Shop<'_>) -> Result<(), Why> {
    let system = &shop.study.system;
    let mut said = vec![String::from(
        "Whether dust is caught at the blade: flow says what a hood draws, not what escapes it.",
    )];
    let answered = shop.answers.solved.iter();
    let junctions: Vec<Junction> = answered
        .clone()
        .flat_map(|at| {
            at.point
                .sections
                .iter()
                .filter_map(|section| section.junction)
        })
        .collect();
    if !junctions.is_empty() {
        let mut text = String::from(
            "How inlets meet: formulas, and measurements of nominally equal wyes, differ by 0.1 to 0.3 \
             velocity pressures of the outlet.",
        );
        if junctions.contains(&Junction::Momentum) {
            text.push_str(
                " The momentum balance used here is on the high side against measured wyes of equal bores, \
                 and good for a small branch in a large main.",
            );
        }
        said.push(text);
    }
    let parts = || system.sections.iter().flat_map(|section| &section.parts);
    let hose = |is: fn(&HoseKind) -> bool| {
        parts().any(|part| matches!(part, Part::Hose(hose) if is(&hose.kind)))
    };
    if hose(|kind| matches!(kind, HoseKind::Ribbed { .. })) {
        said.push(
            "Ribbed shop hose: no published figure of its friction is used. It is taken as a multiple of that of \
             smooth duct; 1.7 to 6 times is possible."
                .into(),
        );
    }
    if hose(|kind| matches!(kind, HoseKind::Wire { .. })) {
        said.push(
            "Hose of film or fabric over wire: tested as thin ventilation duct of 150 to 250 mm; for the \
             stiffer hose of a shop take its loss as an upper bound."
                .into(),
        );
    }
    said.push(
        "Dust in the air and on the cloth: losses are those of clean air, the filter as it is told. A \
         filter that fills takes air from every machine."
            .into(),
    );
    if let Some(fan) = &system.collector.fan {
        said.push(match fan.is_estimate() {
            true => "The fan: its curve is a guess from two advertised numbers; every figure here is a \
                     rough guess until it is measured."
                .into(),
            false => String::from(
                "The fan: its published curve is believed, with 5 % of pressure as a standard uncertainty.",
            ),
        });
    }
    if answered
        .clone()
        .any(|at| at.point.status != Status::Converged)
    {
        said.push("Some answers lie outside the points of the fan's curve: a hint only.".into());
    }
    page.list(said);
    notes(page, shop);
    carried(page, shop)
}

/// Laws outside the range in which they were tested, and parts that the fan's curve holds.
fn notes(page: &mut Page, shop: &Shop<'_>) {
    let system = &shop.study.system;
    let mut notes: Vec<String> = Vec::new();
    let mut held: Vec<String> = Vec::new();
    for solved in &shop.answers.solved {
        for (at, note) in &solved.point.notes {
            let text = format!("{}: {note}.", place(system, at));
            if !notes.contains(&text) {
                notes.push(text);
            }
        }
        for at in &solved.point.in_fan_curve {
            let text = format!(
                "{}: part of the fan's curve, charged nothing.",
                place(system, at)
            );
            if !held.contains(&text) {
                held.push(text);
            }
        }
    }
    if !notes.is_empty() {
        page.paragraph("Used outside the range in which it was tested:");
        page.list(notes.iter().take(NOTES));
        if notes.len() > NOTES {
            let more = notes.len() - NOTES;
            page.paragraph(&format!("And {}.", count(more, "more note")));
        }
    }
    page.list(held);
}

/// What carries most of the uncertainty of each machine.
fn carried(page: &mut Page, shop: &Shop<'_>) -> Result<(), Why> {
    let doubts = shop.network.doubts(&shop.study.assumptions);
    let mut table = Table::new(["machine", "uncertain most by", ">share", "known from"]);
    for served in shop.answers.served.iter().filter(|at| at.is_machine) {
        let Some(solved) = served.worst.and_then(|set| shop.answers.solved.get(set)) else {
            continue;
        };
        let open = shop.network.open(&solved.open)?;
        let uncertain = shop.network.uncertainty(&open, &doubts)?;
        let Ok(value) = uncertain.machine(served.name.as_str()) else {
            continue;
        };
        let Some(most) = value.contributions.first() else {
            continue;
        };
        let what = match (&most.cause, &most.place) {
            (Some(cause), _) => cause.to_string(),
            (None, Place::System) => most.parameter.to_string(),
            (None, at) => format!("{}: {}", place(&shop.study.system, at), most.parameter),
        };
        table.row([
            served.name.to_string(),
            what,
            percent(most.share),
            most.source.to_string(),
        ]);
    }
    page.table(&table);
    Ok(())
}

pub(super) fn caution(page: &mut Page, shop: &Shop<'_>) -> Result<(), Why> {
    page.list([
        "Wood dust burns and explodes. Separator, filter and duct are where fires begin: their place, \
         venting, isolation and spark detection are not looked at here.",
        "Fine wood dust harms lungs, and that of some woods can cause cancer. Enough flow proves nothing \
         about the air that people breathe: have it measured, and wear protection when bags and bins are \
         emptied.",
        "Moving dust charges ducts and hoses: metal duct and conductive hose, bonded and earthed.",
        "A fan goes on turning after it is switched off, and reaches in: lock it out before a duct or \
         guard comes off. Take readings through small holes with the guards in place.",
        "Air blown outdoors must come back in. A shop under suction can draw the smoke of stoves and \
         heaters back into the room: give make-up air an opening, and a smoke and carbon monoxide alarm \
         its place.",
        "Gates gather dust and may be moved by anyone. Chips settle where the air is slow, and settled \
         dust burns.",
        "Local codes and licensed practice decide about explosion protection, duct construction, bonding, \
         make-up air and electrical work. This report replaces neither.",
    ]);
    room(page, shop)
}

/// What the room does, where the document tells of it.
fn room(page: &mut Page, shop: &Shop<'_>) -> Result<(), Why> {
    let (Some(room), Some(hardest)) = (&shop.study.plans.room, shop.answers.hardest()) else {
        return Ok(());
    };
    let words: Words = shop.words;
    let effect = room.effect(&shop.study.system, &hardest.open)?;
    let pressure = words.pressure_with_unit(effect.room_pressure, 2);
    page.paragraph(&match effect.caution {
        FlueCaution::AirReturns => {
            "The document's room: the air returns to it, and draws nothing through a flue.".into()
        }
        FlueCaution::WeakerDraught => format!(
            "The document's room stands at {pressure} against the open air: the draught of every flue is \
             weaker by it."
        ),
        FlueCaution::MayBlowBack => format!(
            "The document's room stands at {pressure} against the open air: flues of natural draught may \
             blow back. Have them looked at before the fan runs."
        ),
    });
    Ok(())
}
