//! Is the flow enough, machine by machine and hood by hood?

use super::{
    Context,
    finding::{Check, Comparing, Finding, Measure, Side, Verdict},
    needs::NeededFlow,
};
use crate::{place::Place, quantity::VolumeFlow};

pub(super) fn check(context: &Context<'_>, found: &mut Vec<Finding>) {
    let machines = context.point.machines.iter().zip(&context.needs.machines);
    for (machine, need) in machines.filter(|(machine, _)| machine.open) {
        if let Some(need) = need {
            let place = Place::Machine(machine.name.clone());
            found.push(enough(
                context,
                Check::MachineFlow,
                place,
                machine.flow,
                need,
            ));
        }
    }
    let hoods = context.point.hoods.iter().zip(&context.needs.hoods);
    for (hood, need) in hoods.filter(|(hood, _)| hood.open) {
        if let Some(need) = need {
            let place = Place::Hood(hood.name.clone());
            found.push(enough(context, Check::HoodFlow, place, hood.flow, need));
        }
    }
}

fn enough(
    context: &Context<'_>,
    check: Check,
    place: Place,
    flow: VolumeFlow,
    need: &NeededFlow,
) -> Finding {
    let (value, limit) = (Measure::Flow(flow), Measure::Flow(need.flow));
    Comparing {
        check,
        value,
        limit,
        side: Side::AtLeast,
        broken: Verdict::Fails,
        relative: context.relative_flow(&place),
        point: context.of_point(true),
        text: format!("gets {value} of the {limit} it needs ({})", need.row),
        source: need.source.clone(),
        place,
    }
    .judge()
}
