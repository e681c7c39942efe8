//! Where the pressure goes: in the whole system, and on the way of each machine.

use super::{
    Shop, Why, job,
    markdown::{Page, Table},
    words::{digits, percent, place, together},
};
use crate::decide::Budget;

/// Ways that the table tells; of more only how many.
const WAYS: usize = 60;

pub(super) fn write(page: &mut Page, shop: &Shop<'_>) -> Result<(), Why> {
    let (system, words) = (&shop.study.system, shop.words);
    let hardest = shop.answers.hardest();
    let hardest = hardest.ok_or_else(|| Why("no open set has an answer".into()))?;
    page.paragraph(&format!(
        "In the whole system when {}, each part counted by the air that passes it:",
        job::opened(&hardest.open)
    ));
    let budget = Budget::new(system, &hardest.point)?;
    let mut table = Table::new([
        String::from("what"),
        format!(">loss, {}", words.pressure_unit()),
        String::from(">share"),
    ]);
    for kind in budget.kinds() {
        table.row([
            kind.kind.to_string(),
            words.pressure(kind.loss, 2),
            percent(kind.share),
        ]);
    }
    page.table(&table);
    page.paragraph(
        "From each machine through the fan to the open air, where the machine is served worst: what takes \
         most, and which duct or hose loses most for its length.",
    );
    let mut table = Table::new([
        String::from("machine"),
        String::from("hood"),
        format!(">fan gives, {}", words.pressure_unit()),
        String::from("takes most"),
        format!(">loss, {}", words.pressure_unit()),
        String::from(">share"),
        String::from("dearest for its length"),
        format!(">{} per {}", words.pressure_unit(), words.length_unit()),
        String::from("open beside it"),
    ]);
    let mut left_out = 0;
    for served in &shop.answers.served {
        let Some(solved) = served.worst.and_then(|set| shop.answers.solved.get(set)) else {
            continue;
        };
        let budget = Budget::new(system, &solved.point)?;
        let hoods = solved.point.hoods.iter().filter(|hood| {
            let own = hood.machine.as_ref() == Some(&served.name) && served.is_machine;
            hood.open && (own || !served.is_machine && hood.name == served.name)
        });
        for hood in hoods {
            if table.len() == WAYS {
                left_out += 1;
                continue;
            }
            let path = budget.path(hood.name.as_str())?;
            let Some(largest) = job::dearest_of(&path.elements) else {
                continue;
            };
            let steepest = path.steepest.and_then(|i| path.elements.get(i));
            let others = solved.open.iter().filter(|name| **name != served.name);
            table.row([
                served.name.to_string(),
                hood.name.to_string(),
                words.pressure(path.pressure, 2),
                place(system, &largest.place),
                words.pressure(largest.loss, 2),
                percent(largest.share),
                steepest.map_or("-".into(), |at| place(system, &at.place)),
                steepest
                    .and_then(|at| at.pa_per_m)
                    .map_or("-".into(), |pa| digits(words.pressure_per_length(pa), 2)),
                together(others),
            ]);
        }
    }
    page.table(&table);
    if left_out > 0 {
        page.paragraph(&format!("And {left_out} more."));
    }
    Ok(())
}
