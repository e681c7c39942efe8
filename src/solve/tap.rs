//! What a tap in a wall reads, as an output: its value, and what it follows from.
//!
//! A static pressure is a state of the tree, the suction that the inlets of a junction share, and
//! what the laws between there and the tap make of the flows. With both the adjoint sweep
//! differentiates it like any flow.
#![allow(
    clippy::indexing_slicing,
    reason = "sections and legs are numbered by the plan"
)]

use super::{
    differences::Site,
    output::Output,
    plan::{Plan, SectionPlan, WyePlan},
    work::Workspace,
};
use crate::{
    loss::wye::TwoFlow,
    place::Name,
    system::{UnknownName, unknown},
};

/// One share of the change of a reading.
#[derive(Debug, Clone, Copy)]
pub(super) enum Share {
    /// So much for each unit of flow of a leg of the plan.
    Flow { leg: u32, by: f64 },
    /// So much for each pascal of the suction that the inlets at the head of a leg share.
    Suction { leg: u32, by: f64 },
    /// So much for each pascal that a law says more at the same flow.
    Law { site: Site, by: f64 },
}

/// Value of the tap \[Pa\], against the room, and its shares; 0 for any other output.
pub(super) fn read(
    plan: &Plan,
    work: &Workspace,
    output: &Output,
    mut tell: impl FnMut(Share),
) -> Result<f64, UnknownName> {
    match output {
        Output::HoodStatic(name) => {
            let at = plan.hood(name)?;
            let section = &plan.sections[at.section as usize];
            let law = (1.0 + at.entry_k) * section.conduit.head;
            let q = work.leg(section.first).q;
            tell(Share::Flow {
                leg: section.first,
                by: -2.0 * law * q,
            });
            tell(Share::Law {
                site: Site::Hood(at.section),
                by: -1.0,
            });
            Ok(-law * q * q)
        }
        Output::SectionStatic(name) => {
            let (i, section) = plan.section(name)?;
            Ok(section_end(plan, work, (i, section), tell))
        }
        Output::BeforeStatic(run) => {
            if *run >= plan.before.len() {
                let known: Vec<Name> = (0..plan.before.len())
                    .map(|i| (i + 1).to_string().into())
                    .collect();
                let name = run.saturating_add(1).to_string();
                return Err(unknown("run before the fan", &name, &known));
            }
            Ok(run_end(plan, work, *run, tell))
        }
        _ => Ok(0.0),
    }
}

/// At the downstream end of a section, before the junction: from the suction shared there.
fn section_end(
    plan: &Plan,
    work: &Workspace,
    (i, section): (u32, &SectionPlan),
    mut tell: impl FnMut(Share),
) -> f64 {
    let last = work.leg(section.last);
    // Behind a shut gate stands what the first junction where air goes makes of still air.
    let mut end = section.last;
    let mut below = plan.links[end as usize].down;
    while !work.leg(below).live && below != plan.root() {
        end = below;
        below = plan.links[end as usize].down;
    }
    tell(Share::Suction {
        leg: below,
        by: -1.0,
    });
    let mut value = -work.leg(below).shared;
    if let Some((wye, loss)) = wye_of(plan, work, end) {
        tell(Share::Flow {
            leg: wye.branch,
            by: loss.by_branch,
        });
        tell(Share::Flow {
            leg: wye.straight,
            by: loss.by_straight,
        });
        value += loss.dp_pa;
    }
    if !last.live {
        // Not where it ends at the leak of a live section's walls.
        let section = plan.legs[end as usize].section;
        if plan
            .sections
            .get(section as usize)
            .is_some_and(|at| at.last == end)
        {
            tell(Share::Law {
                site: Site::Foot(section),
                by: 1.0,
            });
        }
        return value;
    }
    let foot = &section.foot;
    let own = foot.own_head + (foot.join_k - 1.0) * section.conduit.head;
    let q = last.q;
    tell(Share::Flow {
        leg: section.last,
        by: 2.0 * own * q,
    });
    tell(Share::Law {
        site: Site::Foot(i),
        by: 1.0,
    });
    tell(Share::Law {
        site: Site::SectionHead(i),
        by: -1.0,
    });
    value + own * q * q
}

/// The wye by formula that a leg drains into and its loss there, of still air too.
pub(super) fn wye_of<'p>(
    plan: &'p Plan,
    work: &Workspace,
    leg: u32,
) -> Option<(&'p WyePlan, TwoFlow)> {
    let below = plan.links.get(leg as usize)?.down;
    let wye = plan.links.get(below as usize)?.wye;
    let wye = plan.wyes.get(wye as usize)?;
    let flow = |leg| work.leg(leg).q;
    let loss = wye.law.at(flow(wye.branch), flow(wye.straight));
    match leg {
        _ if leg == wye.branch => Some((wye, loss.branch)),
        _ if leg == wye.straight => Some((wye, loss.straight)),
        _ => None,
    }
}

/// At the downstream end of a run before the fan: from the suction where the mains meet.
fn run_end(plan: &Plan, work: &Workspace, run: usize, mut tell: impl FnMut(Share)) -> f64 {
    let entry = work.leg(plan.entry);
    let q = entry.q;
    tell(Share::Suction {
        leg: plan.entry,
        by: -1.0,
    });
    let outlet_head = plan.links[plan.entry as usize].outlet_head;
    let mut by = -2.0 * outlet_head * q;
    tell(Share::Law {
        site: Site::CollectorJoint,
        by: -1.0,
    });
    for (i, link) in plan.links.iter().enumerate() {
        if link.down == plan.entry && link.momentum != 0.0 {
            tell(Share::Flow {
                leg: i as u32,
                by: 2.0 * link.momentum * work.leg(i as u32).q,
            });
        }
    }
    let mut value = -entry.suction;
    for (i, run) in plan.before.iter().enumerate().take(run + 1) {
        value -= run.conduit.loss(q);
        by -= run.conduit.slope(q);
        tell(Share::Law {
            site: Site::Run(i as u32),
            by: -1.0,
        });
    }
    if let Some(at) = plan.before.get(run) {
        value -= at.conduit.head * q * q;
        by -= 2.0 * at.conduit.head * q;
        tell(Share::Law {
            site: Site::RunHead(run as u32),
            by: -1.0,
        });
    }
    tell(Share::Flow {
        leg: plan.entry,
        by,
    });
    value
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        solve::{
            Network, OpenSet,
            by_hand::{FALLING, ready},
        },
        system::System,
    };

    /// Value and shares of a tap in a solved system.
    fn tapped(network: &Network, open: &OpenSet, output: &Output) -> (Workspace, f64, Vec<Share>) {
        let mut work = Workspace::default();
        network.solve(open, &mut work).unwrap();
        let mut shares = Vec::new();
        let value = read(network.plan(), &work, output, |share| shares.push(share)).unwrap();
        (work, value, shares)
    }

    /// Where all losses go with the square of the flow a pressure does so too, so that by Euler's
    /// theorem twice the pressure is the sum of its shares times their flows, and twice their
    /// suctions.
    fn by_euler(work: &Workspace, shares: &[Share]) -> f64 {
        let flows = shares.iter().map(|share| match *share {
            Share::Flow { leg, by } => 0.5 * by * work.leg(leg).q,
            Share::Suction { leg, by } => by * work.leg(leg).shared,
            Share::Law { .. } => 0.0,
        });
        flows.sum()
    }

    fn laws(shares: &[Share]) -> Vec<(Site, f64)> {
        let laws = shares.iter().filter_map(|share| match *share {
            Share::Law { site, by } => Some((site, by)),
            _ => None,
        });
        laws.collect()
    }

    /// The small system without friction and leaks; its first branch may be a main of its own.
    fn quadratic(mains: usize) -> (Network, OpenSet) {
        let mut system: System = crate::solve::by_hand::system(FALLING, None);
        system
            .sections
            .retain(|section| section.id.as_str() != "hole");
        for section in &mut system.sections {
            section
                .parts
                .retain(|part| !matches!(part, crate::Part::Duct(_)));
            section.tightness = crate::Tightness::Airtight;
        }
        for run in &mut system.collector.before {
            run.parts
                .retain(|part| !matches!(part, crate::Part::Duct(_)));
        }
        if mains == 2 {
            system.sections[1].into = None;
        }
        let network = Network::new(&system).unwrap();
        let open = network.open_all();
        (network, open)
    }

    #[test]
    fn val_shares_by_eulers_theorem() {
        for mains in [1, 2] {
            let (network, open) = quadratic(mains);
            for output in [
                Output::HoodStatic("short".into()),
                Output::SectionStatic("short".into()),
                Output::SectionStatic("long".into()),
                Output::BeforeStatic(0),
            ] {
                let (work, value, shares) = tapped(&network, &open, &output);
                let sum = by_euler(&work, &shares);
                let close = (sum / value - 1.0).abs() < 1e-9;
                assert!(value < 0.0 && close, "{mains} {output}: {value} {sum}");
            }
        }
    }

    #[test]
    fn laws_count_against_the_pressure_or_for_it() {
        let (network, open) = quadratic(1);
        let of = |output| laws(&tapped(&network, &open, &output).2);
        let short = network.plan().section(&"short".into()).unwrap().0;
        assert_eq!(
            of(Output::HoodStatic("short".into())),
            [(Site::Hood(short), -1.0)]
        );
        assert_eq!(
            of(Output::SectionStatic("short".into())),
            [(Site::Foot(short), 1.0), (Site::SectionHead(short), -1.0)]
        );
        assert_eq!(
            of(Output::BeforeStatic(0)),
            [
                (Site::CollectorJoint, -1.0),
                (Site::Run(0), -1.0),
                (Site::RunHead(0), -1.0)
            ]
        );
    }

    #[test]
    fn runs_are_numbered_from_one() {
        let (network, open) = ready(FALLING, None);
        let mut work = Workspace::default();
        network.solve(&open, &mut work).unwrap();
        let error = read(network.plan(), &work, &Output::BeforeStatic(4), |_| {}).unwrap_err();
        insta::assert_snapshot!(
            error,
            @r#"no run before the fan is called "5"; known, nearest first: "1""#
        );
    }
}
