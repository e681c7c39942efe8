//! Which gates to open for each machine, and how far for the hardest set.

use super::{
    Shop, Why,
    markdown::{Page, Table},
    words::{count, percent, together},
};
use crate::{
    decide::{Companions, GateVerdict, TransportLimits, balance_gates, gate_schedule},
    quantity::Velocity,
};

/// Usual least air speed where the document tells none: DGUV Information 209-044, which speaks of the
/// connection of a machine.
const USUAL_M_S: f64 = 20.0;

pub(super) fn write(page: &mut Page, shop: &Shop<'_>) -> Result<(), Why> {
    let words = shop.words;
    let own = shop.study.plans.transport.clone();
    let told = own.is_some();
    let limits = own.unwrap_or_else(|| TransportLimits::new(Velocity::from_m_s(USUAL_M_S)));
    page.paragraph(&format!(
        "For each machine running alone; all other gates shut. Air speed asked of the duct: {}{}.",
        words.velocity_with_unit(limits.least_velocity),
        match told {
            true => "",
            false => ", the usual one (DGUV Information 209-044, which asks it of a machine's connection)",
        }
    ));
    let system = &shop.study.system;
    let schedule = gate_schedule(system, &limits)?;
    let mut table = Table::new([
        String::from("machine"),
        String::from("open"),
        format!(">gets, {}", words.flow_unit()),
        format!(">needs, {}", words.flow_unit()),
        format!(">slowest air, {}", words.velocity_unit()),
        String::from("in"),
        String::from("open too, for speed"),
    ]);
    for row in &schedule.rows {
        table.row([
            row.machine.to_string(),
            together(&row.gates),
            words.flow(row.flow, shop.deserved()),
            words.flow(row.required, 3),
            words.velocity(row.slowest.velocity),
            row.slowest.section.to_string(),
            companions(&row.companions),
        ]);
    }
    page.table(&table);
    let failures = schedule.failures.iter();
    page.list(failures.map(|at| format!("{}: {}.", at.machine, at.error)));
    let Some(hardest) = shop.answers.hardest() else {
        return Ok(());
    };
    let plan = balance_gates(system, &hardest.open, &limits)?;
    page.paragraph(&match &plan.verdict {
        GateVerdict::AllOpen => format!(
            "With {} open every hood has enough with its gate wide open.",
            together(&hardest.open)
        ),
        GateVerdict::Throttled => format!(
            "With {} open, these openings give every hood {} of its need:",
            together(&hardest.open),
            percent(plan.share)
        ),
        GateVerdict::Short { binding, .. } => format!(
            "With {} open no setting gives every hood enough. Shared out evenly each gets {} of its \
             need; the way of {} binds: a larger duct or hose there, or more fan, raises it.",
            together(&hardest.open),
            percent(plan.share),
            together(binding)
        ),
    });
    let mut table = Table::new([
        String::from("hood"),
        String::from(">gate open"),
        format!(">gets, {}", words.flow_unit()),
        format!(">needs, {}", words.flow_unit()),
        format!(">air speed, {}", words.velocity_unit()),
    ]);
    for gate in &plan.gates {
        table.row([
            gate.hood.to_string(),
            percent(gate.opening),
            words.flow(gate.flow, shop.deserved()),
            words.flow(gate.target, 3),
            words.velocity(gate.velocity),
        ]);
    }
    page.table(&table);
    page.paragraph(
        "A half shut gate collects chips and can plug the branch: keep the air speed, lock the gate once \
         it is set, look behind it.",
    );
    Ok(())
}

fn companions(companions: &Companions) -> String {
    match companions {
        Companions::NotNeeded => "none needed".into(),
        Companions::Open(further) if further.keeps_requirement => together(&further.gates),
        Companions::Open(further) => format!(
            "{}; the machine then gets too little",
            together(&further.gates)
        ),
        Companions::NoneDoes { up_to, nearest } => match nearest {
            Some(_) => format!(
                "no choice of up to {} is enough",
                count(*up_to, "further gate")
            ),
            None => "there is no further gate".into(),
        },
    }
}
