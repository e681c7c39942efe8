//! What money buys: cost against the worst margin, and the order to buy in.

use super::{
    PlotError, PlotOptions,
    chart::{Chart, Scale},
    ink::{
        Anchor, BLACK, BLUE, GRID, Hand, MARGIN, Mark, ORANGE, PLAIN, QUIET, Rect, SMALL, Sheet,
        clean, isolated,
    },
    options::figure,
};
use crate::{
    decide::{Bundle, GreedyStep, UpgradeRanking},
    place::Name,
};

/// Cost of bundles of upgrades against the worst margin of all machines, with the order to buy.
///
/// The margin is what the worst served machine gets over what it needs, less one: 0 % is enough. The
/// solid blue stairs are the best that any budget buys. The numbered orange points on dashed stairs
/// are the order to buy step by step, each the most for its money; the list below names them, and
/// where the stairs stand above a step it names what the same money would buy better. Open diamonds
/// are upgrades bought alone. Costs are in the user's own currency; there are no other units in it.
///
/// ```
/// # fn main() -> Result<(), Box<dyn std::error::Error>> {
/// # #[cfg(feature = "serde")] {
/// use airsplit::*;
/// let study: Study = toml::from_str(&std::fs::read_to_string("examples/chair_shop.toml")?)?;
/// let hose = Change::Hose { section: "planer drop".into(), to: Length::from_m(0.6) };
/// let wider = Change::Size {
///     section: "main east".into(),
///     to: Bore::Round(Length::from_mm(200.0)),
/// };
/// let upgrades = [("shorter hose", 45.0, hose), ("wider main", 180.0, wider)];
/// let upgrades = upgrades.map(|(name, cost, change)| Upgrade {
///     name: name.into(),
///     cost: Money::new(cost),
///     changes: vec![change],
/// });
/// let ranking = rank_upgrades(&study.system, &upgrades, &[vec!["planer".into()]])?;
/// let svg = upgrades_svg(&ranking, &PlotOptions::new())?;
/// assert!(svg.contains("shorter hose"));
/// # }
/// # Ok(())
/// # }
/// ```
///
/// # Errors
///
/// [`PlotError::Size`]: a size that cannot be.
pub fn upgrades_svg(ranking: &UpgradeRanking, options: &PlotOptions) -> Result<String, PlotError> {
    let (width, height) = options.size(560)?;
    let heading = options.heading("What to buy first");
    let mut below = String::from(
        "Margin of the worst served machine (0 %: it gets what it needs) against cost, in your own \
         currency. Stairs: the best that any budget buys. Numbers: step by step, the most for the \
         money. Open diamonds: bought alone.",
    );
    if !ranking.nested {
        below.push_str(
            " The best at one budget is not always part of the best at the next: choose the end first.",
        );
    }
    let (mut sheet, top) = Sheet::new(width, &heading, &below);
    let frame = Rect::new(
        MARGIN + 46.0,
        top + 22.0,
        width - 2.0 * MARGIN - 60.0,
        (height - top - 130.0).clamp(180.0, 420.0),
    );
    // What is bought first is bought alone: it has its number.
    let first = ranking.greedy.first().map(|step| &step.upgrade);
    let alone: Vec<(String, f64, f64)> = ranking
        .worths
        .iter()
        .filter(|worth| first != Some(&worth.upgrade))
        .map(|worth| {
            let margin = ranking.as_it_is.worst_margin + worth.alone;
            (
                clean(worth.upgrade.as_str()),
                worth.cost.amount(),
                100.0 * margin.min(0.0),
            )
        })
        .collect();
    let bundles = || {
        let steps = ranking.greedy.iter().map(|step| &step.bundle);
        [&ranking.as_it_is]
            .into_iter()
            .chain(&ranking.frontier)
            .chain(steps)
    };
    let costs = bundles()
        .map(cost)
        .chain(alone.iter().map(|&(_, cost, _)| cost));
    let margins = bundles()
        .map(margin)
        .chain(alone.iter().map(|&(.., margin)| margin));
    let margins: Vec<f64> = margins.chain([0.0]).collect();
    // Where nothing is lacking there is still a scale.
    let least = margins.iter().all(|&margin| margin >= 0.0).then_some(-5.0);
    let chart = Chart {
        frame,
        x: Scale::over(costs.chain([0.0]), (frame.w / 95.0) as usize),
        y: Scale::over(margins.into_iter().chain(least), 6),
    };
    chart.scales(&mut sheet, "cost", "worst margin, %")?;
    let zero = [(chart.x.low, 0.0), (chart.x.high, 0.0)];
    chart.line(&mut sheet, &zero, BLACK, 1.4, "")?;

    let stairs = stairs(&ranking.frontier, Some(chart.x.high));
    chart.line(&mut sheet, &stairs, BLUE, 2.6, "")?;
    let bought = || {
        let steps = ranking.greedy.iter().map(|step| &step.bundle);
        [&ranking.as_it_is].into_iter().chain(steps)
    };
    let steps: Vec<_> = bought()
        .map(|bundle| (cost(bundle), margin(bundle)))
        .collect();
    let climb = self::stairs(bought(), None);
    chart.line(&mut sheet, &climb, ORANGE, 1.8, "6 4")?;
    let at = |(x, y): (f64, f64)| (chart.px(x), chart.py(y));
    for line in [&stairs, &climb] {
        avoid_line(&mut sheet, &chart, line);
    }
    for &(_, cost, margin) in &alone {
        let (x, y) = at((cost, margin));
        sheet.mark(Mark::Diamond, x, y, 3.6, QUIET, false);
    }
    for bundle in &ranking.frontier {
        let (x, y) = at((cost(bundle), margin(bundle)));
        sheet.mark(Mark::Square, x, y, 4.0, BLUE, true);
    }
    let (x, y) = at((cost(&ranking.as_it_is), margin(&ranking.as_it_is)));
    sheet.mark(Mark::Circle, x, y, 5.0, BLACK, true);
    for &step in steps.iter().skip(1) {
        let (x, y) = at(step);
        sheet.mark(Mark::Circle, x, y, 5.0, ORANGE, true);
    }
    // The numbers first: the list hangs on them.
    let mut number = PLAIN.bold();
    number.ink = ORANGE;
    for (n, &step) in steps.iter().enumerate().skip(1) {
        sheet.label(at(step), &[(&n.to_string(), number)], frame, false);
    }
    sheet.label((x, y), &[("as it is", PLAIN)], frame, false);
    for (name, cost, margin) in &alone {
        let name = SMALL.fit(name, 150.0);
        sheet.label(at((*cost, *margin)), &[(&name, SMALL)], frame, false);
    }
    tell(&mut sheet, ranking);
    let bottom = list(&mut sheet, ranking, frame.bottom() + 64.0);
    Ok(sheet.finish("upgrades", bottom.max(height)))
}

fn cost(bundle: &Bundle) -> f64 {
    bundle.cost.amount()
}

fn margin(bundle: &Bundle) -> f64 {
    100.0 * bundle.worst_margin
}

/// What is had at every budget, from bundle to bundle and on to the end.
fn stairs<'b>(bundles: impl IntoIterator<Item = &'b Bundle>, end: Option<f64>) -> Vec<(f64, f64)> {
    let mut points: Vec<(f64, f64)> = Vec::new();
    for bundle in bundles {
        if let Some(&(_, before)) = points.last() {
            points.push((cost(bundle), before));
        }
        points.push((cost(bundle), margin(bundle)));
    }
    if let (Some(&(_, last)), Some(end)) = (points.last(), end) {
        points.push((end, last));
    }
    points
}

fn avoid_line(sheet: &mut Sheet, chart: &Chart, points: &[(f64, f64)]) {
    for pair in points.windows(2) {
        let &[a, b] = pair else { continue };
        for i in 0..=24 {
            let share = f64::from(i) / 24.0;
            let x = chart.px(a.0) + share * (chart.px(b.0) - chart.px(a.0));
            let y = chart.py(a.1) + share * (chart.py(b.1) - chart.py(a.1));
            sheet.avoid(Rect::around(x, y, 2.0));
        }
    }
}

fn names(upgrades: &[Name]) -> String {
    if upgrades.is_empty() {
        return "nothing".into();
    }
    let names = upgrades.iter().map(|name| isolated(&clean(name.as_str())));
    names.collect::<Vec<_>>().join(" + ")
}

fn money(amount: f64) -> String {
    let whole = (amount - amount.round()).abs() < 0.005;
    figure(amount, if whole { 0 } else { 2 })
}

fn percent(margin: f64) -> String {
    format!("{} %", figure(100.0 * margin, 1))
}

fn tell(sheet: &mut Sheet, ranking: &UpgradeRanking) {
    sheet.tell(format!(
        "As it is the worst margin is {}.",
        percent(ranking.as_it_is.worst_margin)
    ));
    for (n, step) in ranking.greedy.iter().enumerate() {
        sheet.tell(format!(
            "Step {}: {}, spent {}, worst margin {}.",
            n + 1,
            isolated(&clean(step.upgrade.as_str())),
            money(cost(&step.bundle)),
            percent(step.bundle.worst_margin)
        ));
    }
    for bundle in &ranking.frontier {
        sheet.tell(format!(
            "Best for {}: {}, worst margin {}.",
            money(cost(bundle)),
            names(&bundle.upgrades),
            percent(bundle.worst_margin)
        ));
    }
}

/// The order to buy as a table; tells where it ends.
fn list(sheet: &mut Sheet, ranking: &UpgradeRanking, top: f64) -> f64 {
    let right = sheet.width - MARGIN;
    let columns = [right - 210.0, right - 110.0, right];
    let mut y = top;
    sheet.write(MARGIN, y, "Order to buy", PLAIN.bold(), 160.0);
    y += 20.0;
    if ranking.greedy.is_empty() {
        let words = if ranking.as_it_is.worst_margin < 0.0 {
            "No single upgrade makes the worst served machine better off."
        } else {
            "Nothing: every machine gets what it needs."
        };
        sheet.write(MARGIN, y, words, PLAIN, right - MARGIN);
        return y + 24.0;
    }
    for (x, head) in columns.into_iter().zip(["cost", "spent", "worst margin"]) {
        sheet.write(x, y - 20.0, head, SMALL.anchored(Anchor::End), 90.0);
    }
    let mut spent = cost(&ranking.as_it_is);
    for (n, step) in ranking.greedy.iter().enumerate() {
        let rule = [(MARGIN, y - 14.0), (right, y - 14.0)];
        sheet.line(&rule, GRID, 1.0, "");
        y = row(sheet, (n + 1, step), spent, columns, y);
        spent = cost(&step.bundle);
    }
    let left = ranking.worths.iter().filter(|worth| {
        let bought = |step: &GreedyStep| step.upgrade == worth.upgrade;
        !ranking.greedy.iter().any(bought)
    });
    let left: Vec<Name> = left.map(|worth| worth.upgrade.clone()).collect();
    if !left.is_empty() {
        let words = format!("Not in this order: {}", names(&left));
        sheet.write(MARGIN, y, &words, SMALL, right - MARGIN);
        y += 18.0;
    }
    let reached = ranking.greedy.last().map(|step| step.bundle.worst_margin);
    if let (Some(most), Some(reached)) = (ranking.frontier.last(), reached)
        && most.worst_margin > reached
    {
        let words = format!(
            "The most that money buys, for {}: {}: {}",
            money(cost(most)),
            names(&most.upgrades),
            percent(most.worst_margin)
        );
        sheet.write(MARGIN, y, &words, SMALL, right - MARGIN);
        y += 18.0;
    }
    y + 8.0
}

fn row(
    sheet: &mut Sheet,
    (n, step): (usize, &GreedyStep),
    before: f64,
    columns: [f64; 3],
    y: f64,
) -> f64 {
    let mut number = PLAIN.bold();
    number.ink = ORANGE;
    sheet.write(
        MARGIN + 14.0,
        y,
        &n.to_string(),
        number.anchored(Anchor::End),
        20.0,
    );
    let [first, ..] = columns;
    let room = first - 70.0 - MARGIN - 26.0;
    sheet.write(MARGIN + 26.0, y, &clean(step.upgrade.as_str()), PLAIN, room);
    let spent = cost(&step.bundle);
    let figures = [
        money(spent - before),
        money(spent),
        percent(step.bundle.worst_margin),
    ];
    let hand = Hand::new(12.5, BLACK).anchored(Anchor::End);
    for (x, text) in columns.into_iter().zip(figures) {
        sheet.write(x, y, &text, hand, 86.0);
    }
    if !step.parts {
        return y + 22.0;
    }
    let better = format!(
        "for {} rather {}: {}",
        money(cost(&step.best)),
        names(&step.best.upgrades),
        percent(step.best.worst_margin)
    );
    let room = sheet.width - 2.0 * MARGIN - 26.0;
    sheet.write(MARGIN + 26.0, y + 16.0, &better, SMALL, room);
    y + 38.0
}
