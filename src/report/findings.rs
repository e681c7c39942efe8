//! What the checks found, how sure that is, and where each limit stands.

use super::{
    Shop, Why,
    markdown::{Page, Table},
    words::{Words, count, percent, place, together},
};
use crate::{
    decide::{Check, Finding, Likely, Measure, Sureness, Uncertain, UncertainAt, Verdict, check},
    place::Place,
    solve::{OperatingPoint, Output},
};

/// Findings of one check and verdict that are told, the worst first.
const OF_ONE: usize = 8;

/// Checks without an outcome that are told.
const UNKNOWN: usize = 20;

pub(super) fn write(page: &mut Page, shop: &Shop<'_>) -> Result<(), Why> {
    let points: Vec<&OperatingPoint> = shop.answers.solved.iter().map(|at| &at.point).collect();
    let mut options = shop.study.plans.check.clone();
    if options.uncertain.is_none() {
        options.uncertain = uncertain(shop);
    }
    let findings = check(&shop.study.system, points, &options)?;
    let of = |verdict: Verdict| {
        let mut found: Vec<&Finding> = findings.with(verdict).collect();
        // Check by check in their order, and in each the worst first.
        let margin = |at: &Finding| at.margin.unwrap_or(0.0);
        found.sort_by(|a, b| {
            let by_check = (a.check as usize).cmp(&(b.check as usize));
            by_check.then(margin(a).total_cmp(&margin(b)))
        });
        found
    };
    let [fails, advice, passes, unknown] = [
        Verdict::Fails,
        Verdict::Advice,
        Verdict::Passes,
        Verdict::Unknown,
    ]
    .map(of);
    page.paragraph(&format!(
        "Each place where it is worst over {}: {}, {} better avoided, {} passed, {} not checked. How sure: by \
         the distance from the limit in standard uncertainties, more than two surely, more than one \
         probably.",
        count(shop.answers.solved.len(), "open set"),
        count(fails.len(), "failure"),
        advice.len(),
        passes.len(),
        unknown.len(),
    ));
    let mut sources: Vec<String> = Vec::new();
    // What passes within its uncertainty is not called enough.
    let (kept, unsure): (Vec<&Finding>, Vec<&Finding>) = passes
        .iter()
        .partition(|at| matches!(at.sure, Sureness::Surely | Sureness::NotStated));
    let told = [
        ("Fails", &fails),
        ("Better avoided", &advice),
        ("Passes, but not surely", &unsure),
    ];
    for (title, found) in told {
        if found.is_empty() {
            continue;
        }
        page.heading(3, title);
        let (told, more): (Vec<_>, Vec<_>) = (found.iter().enumerate()).partition(|(i, at)| {
            let before = found.iter().take(*i);
            before.filter(|one| one.check == at.check).count() < OF_ONE
        });
        let [told, more] = [told, more].map(|part: Vec<(usize, &&Finding)>| {
            part.into_iter().map(|(_, at)| *at).collect::<Vec<_>>()
        });
        page.table(&table(shop, &told, &mut sources));
        if !more.is_empty() {
            page.paragraph(&format!(
                "And more, each nearer to its limit: {}.",
                by_check(&more)
            ));
        }
    }
    if !kept.is_empty() {
        page.paragraph(&format!("Passed surely: {}.", by_check(&kept)));
    }
    let transport = findings.of(Check::Transport).next().is_some();
    if transport && options.dust.is_none() {
        page.paragraph("Nobody said in [check] what the machines throw: dry chips were taken, where a requirement does not tell.");
    }
    if !unknown.is_empty() {
        page.heading(3, "Not checked");
        let mut texts: Vec<String> = Vec::new();
        for finding in &unknown {
            let text = format!("{}: {}.", name(finding.check), finding.text);
            if !texts.contains(&text) {
                texts.push(text);
            }
        }
        page.list(texts.iter().take(UNKNOWN));
    }
    page.heading(3, "Said always, or wherever there is cause");
    page.list(findings.with(Verdict::Caution).map(|caution| {
        let at = match &caution.place {
            Place::System => String::new(),
            other => format!(" ({})", place(&shop.study.system, other)),
        };
        let source = source(&mut sources, &caution.source.to_string());
        format!("{}{at}: {}. {source}", name(caution.check), caution.text)
    }));
    page.paragraph("Where limits and cautions stand, and how the figure came from there:");
    page.numbered(&sources);
    Ok(())
}

fn table(shop: &Shop<'_>, found: &[&Finding], sources: &mut Vec<String>) -> Table {
    let mut table = Table::new([
        "what",
        "where",
        ">found",
        ">limit",
        "how sure",
        "source",
        "with open",
    ]);
    for finding in found {
        let point = finding.point.and_then(|i| shop.answers.solved.get(i));
        let of = |measure: Option<Measure>| {
            measure.map_or("-".into(), |at| measured(shop.words, finding.check, at))
        };
        table.row([
            name(finding.check).to_owned(),
            place(&shop.study.system, &finding.place),
            of(finding.value),
            // A limit is as it was published: 20, not 20.0.
            of(finding.limit).replace(".0 ", " "),
            sure(finding.sure).to_owned(),
            source(sources, &finding.source.to_string()),
            point.map_or(String::new(), |at| together(&at.open)),
        ]);
    }
    table
}

/// `flow of a machine (5), air speed (12)`.
fn by_check(found: &[&Finding]) -> String {
    let mut counts: Vec<(Check, usize)> = Vec::new();
    for finding in found {
        match counts.iter_mut().find(|(check, _)| *check == finding.check) {
            Some((_, count)) => *count += 1,
            None => counts.push((finding.check, 1)),
        }
    }
    let told = counts
        .iter()
        .map(|(check, count)| format!("{} ({count})", name(*check).to_lowercase()));
    told.collect::<Vec<_>>().join(", ")
}

/// The number of a source in the list, from 1.
fn source(sources: &mut Vec<String>, text: &str) -> String {
    let at = sources.iter().position(|known| known == text);
    let at = at.unwrap_or_else(|| {
        sources.push(text.to_owned());
        sources.len() - 1
    });
    format!("({})", at + 1)
}

fn measured(words: Words, check: Check, measure: Measure) -> String {
    match measure {
        Measure::Velocity(velocity) if check == Check::FilterLoading => {
            format!("{:.0} m3/h per m2", 3600.0 * velocity.as_m_s())
        }
        Measure::Flow(flow) => words.flow_with_unit(flow, 3),
        Measure::Velocity(velocity) => words.velocity_with_unit(velocity),
        Measure::Pressure(pressure) => words.pressure_with_unit(pressure, 3),
        Measure::Share(share) => percent(share),
    }
}

/// How uncertain the answers are: each machine and hood as where it is served worst, all else as in the
/// hardest set.
fn uncertain(shop: &Shop<'_>) -> Option<Uncertain> {
    let answers = shop.answers;
    let share = |value: &Likely| {
        let share = value.standard / value.likely.abs();
        if share.is_finite() {
            share.min(10.0)
        } else {
            0.0
        }
    };
    let hardest = answers.cases(answers.hardest?).ok()?;
    let mut uncertain = Uncertain {
        flow: share(&hardest.flow),
        pressure: share(&hardest.fan_pressure),
        at: Vec::new(),
    };
    let mut add = |value: &Likely| {
        let place = match &value.output {
            Output::Machine(name) => Place::Machine(name.clone()),
            Output::Hood(name) => Place::Hood(name.clone()),
            _ => return,
        };
        if uncertain.at.iter().all(|at| at.place != place) {
            uncertain.at.push(UncertainAt {
                place,
                flow: Some(share(value)),
                pressure: None,
            });
        }
    };
    for served in &answers.served {
        let Some(Ok(cases)) = served.worst.map(|set| answers.cases(set)) else {
            continue;
        };
        for machine in &cases.machines {
            if machine.machine == served.name && served.is_machine {
                add(&machine.flow);
            }
        }
        for hood in &cases.hoods {
            let of_it = hood.machine.as_ref() == Some(&served.name);
            if of_it && served.is_machine || hood.hood == served.name && !served.is_machine {
                add(&hood.flow);
            }
        }
    }
    Some(uncertain)
}

fn sure(sure: Sureness) -> &'static str {
    match sure {
        Sureness::Surely => "surely",
        Sureness::Probably => "probably",
        Sureness::CannotSay => "cannot say: within its uncertainty",
        Sureness::NotStated => "not stated",
    }
}

fn name(check: Check) -> &'static str {
    match check {
        Check::MachineFlow => "Flow of a machine",
        Check::HoodFlow => "Flow of a hood",
        Check::Transport => "Air speed that carries dust",
        Check::TopVelocity => "Air speed that is still sensible",
        Check::HoodSuction => "Suction behind a hood",
        Check::FilterLoading => "Load of the filter",
        Check::Stall => "Stall of the fan",
        Check::FanCurve => "Range of the fan's curve",
        Check::MotorLoad => "Load of the motor",
        Check::MotorPeak => "Load of the motor at worst",
        Check::Collapse => "Collapse of the duct",
        Check::CollapseShutOff => "Collapse of the duct, all gates shut",
        Check::Incompressible => "Air of one density",
        Check::Gates => "Gates",
        Check::PartOpenGate => "Part open gate",
        Check::OpenSet => "Some open gates",
        Check::CombustibleDust => "Dust that burns",
        Check::Bonding => "Static electricity",
        Check::MakeUpAir => "Make-up air",
        Check::LocalCodes => "Who decides",
    }
}
