//! What each machine gets against what it needs.

use super::{
    PlotError, PlotOptions,
    chart::{Chart, Scale},
    ink::{
        Anchor, BLACK, BLUE, Hand, Ink, MARGIN, Mark, ORANGE, PLAIN, QUIET, Rect, SMALL, Sheet,
        clean, isolated,
    },
    options::figure,
};
use crate::{
    place::Name,
    quantity::{UnitSystem, VolumeFlow},
    solve::{HALF_BAND, OperatingPoint, Status, UncertainPoint, UncertainValue},
};

/// Most rows in one picture.
const MOST: usize = 400;
/// From one machine to the next, and from one hood to the next.
const ROW: f64 = 32.0;
const SUB_ROW: f64 = 24.0;

/// A row: a machine, or a hood of it that has a need of its own.
struct Row {
    name: String,
    of_machine: bool,
    open: bool,
    flow: f64,
    /// Above zero.
    need: Option<f64>,
    /// Half the width of the band that holds 95 %.
    reach: Option<f64>,
}

/// How a row stands, which its mark tells.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Standing {
    Enough,
    CannotSay,
    Short,
    NoNeed,
    Shut,
}

impl Row {
    fn new(
        name: &Name,
        open: bool,
        flow: VolumeFlow,
        need: Option<VolumeFlow>,
        sure: Option<&UncertainValue>,
        units: UnitSystem,
    ) -> Self {
        let reach = sure.map(|sure| units.flow(VolumeFlow::from_m3_s(HALF_BAND * sure.standard)));
        let need = need.map(|need| units.flow(need));
        Self {
            name: clean(name.as_str()),
            of_machine: true,
            open,
            flow: units.flow(flow),
            need: need.filter(|&need| need.is_finite() && need > 0.0),
            reach: reach.filter(|&reach| reach.is_finite() && reach > 0.0),
        }
    }

    fn height(&self) -> f64 {
        if self.of_machine { ROW } else { SUB_ROW }
    }

    fn standing(&self) -> Standing {
        let Some(need) = self.need else {
            return if self.open {
                Standing::NoNeed
            } else {
                Standing::Shut
            };
        };
        let reach = self.reach.unwrap_or(0.0);
        match self.flow {
            _ if !self.open => Standing::Shut,
            flow if flow - reach >= need => Standing::Enough,
            flow if flow + reach < need => Standing::Short,
            _ => Standing::CannotSay,
        }
    }

    /// `970 of 1110 m³/h, 87 %`
    fn figures(&self, units: UnitSystem) -> String {
        let unit = units.flow_unit();
        let flow = figure(self.flow, 0);
        match (self.open, self.need) {
            (false, _) if self.flow.abs() < 0.5 || !self.flow.is_finite() => "shut".into(),
            (false, _) => format!("shut, leaks {flow} {unit}"),
            (true, None) => format!("{flow} {unit}, no need told"),
            (true, Some(need)) => {
                let share = figure(100.0 * self.flow / need, 0);
                format!("{flow} of {} {unit}, {share} %", figure(need, 0))
            }
        }
    }
}

impl Standing {
    fn mark(self) -> Option<(Mark, Ink, bool)> {
        match self {
            Self::Enough => Some((Mark::Circle, BLUE, true)),
            Self::CannotSay => Some((Mark::Diamond, ORANGE, false)),
            Self::Short => Some((Mark::Triangle, ORANGE, true)),
            Self::NoNeed | Self::Shut => None,
        }
    }

    fn words(self) -> &'static str {
        match self {
            Self::Enough => "enough",
            Self::CannotSay => "within its uncertainty of the need",
            Self::Short => "too little",
            Self::NoNeed => "no need told",
            Self::Shut => "shut",
        }
    }
}

/// What each machine gets in one answer, with its uncertainty, against what it needs.
///
/// A bar for the flow, a whisker for 95 % of its uncertainty where `uncertain` tells it, a black
/// bracket for the need. The bar and the mark beside the figures say how it stands: full blue with a
/// circle is enough, striped orange with a triangle too little, and an open bar with an open diamond
/// means that the need lies within the uncertainty. Hoods
/// with a need of their own stand below their machine: a sum can hide a starved hood.
///
/// Enough air at a hood does not say that it catches the dust that harms lungs: that is for
/// measurement, local codes and licensed practice.
///
/// ```
/// # fn main() -> Result<(), Box<dyn std::error::Error>> {
/// # #[cfg(feature = "serde")] {
/// use airsplit::{Network, PlotOptions, Study, machines_svg};
/// let study: Study = toml::from_str(&std::fs::read_to_string("examples/chair_shop.toml")?)?;
/// let network = Network::new(&study.system)?;
/// let open = network.open(["planer", "table saw"])?;
/// let point = network.operating_point(&open)?;
/// let sure = network.uncertainty(&open, &network.doubts(&study.assumptions))?;
/// let svg = machines_svg(&point, Some(&sure), &PlotOptions::new())?;
/// assert!(svg.contains("planer"));
/// # }
/// # Ok(())
/// # }
/// ```
///
/// # Errors
///
/// [`PlotError`]: a size that cannot be; neither a machine nor a hood; more than 400 rows.
pub fn machines_svg(
    point: &OperatingPoint,
    uncertain: Option<&UncertainPoint>,
    options: &PlotOptions,
) -> Result<String, PlotError> {
    let (width, _) = options.size(520)?;
    let units = options.units;
    let rows = rows(point, uncertain, units);
    if rows.is_empty() {
        let missing = "the system has neither machines nor hoods";
        return Err(PlotError::Nothing { missing });
    }
    if rows.len() > MOST {
        return Err(PlotError::TooMany {
            what: "machines and hoods",
            given: rows.len(),
            most: MOST,
        });
    }
    let heading = options.heading("What each machine gets");
    let (mut sheet, top) = Sheet::new(width, &heading, &below(point, uncertain, units));
    let frame_of = frame(&rows, units, width, top);
    let values = rows.iter().flat_map(|row| {
        let reach = row.reach.unwrap_or(0.0);
        [row.flow.max(0.0), row.flow + reach, row.need.unwrap_or(0.0)]
    });
    let chart = Chart {
        frame: frame_of,
        x: Scale::over(
            values.chain([0.0]).map(|v| v.max(0.0)),
            (frame_of.w / 85.0) as usize,
        ),
        y: Scale::over([0.0, 1.0], 1),
    };
    chart.x_scale(&mut sheet)?;
    let mut y = frame_of.y + 6.0;
    for row in &rows {
        draw(&mut sheet, &chart, row, y + row.height() / 2.0, units);
        y += row.height();
        sheet.tell(format!(
            "{}: {}; {}.",
            isolated(&row.name),
            row.figures(units),
            row.standing().words()
        ));
    }
    let axis = [(frame_of.x, frame_of.y), (frame_of.x, frame_of.bottom())];
    sheet.line(&axis, QUIET, 1.2, "");
    let below = frame_of.bottom() + 35.0;
    let name = format!("flow, {}", units.flow_unit());
    let hand = PLAIN.anchored(Anchor::End);
    sheet.write(frame_of.right(), below, &name, hand, frame_of.w);
    let bottom = key(&mut sheet, &rows, below + 28.0);
    Ok(sheet.finish("machines", bottom))
}

fn rows(point: &OperatingPoint, uncertain: Option<&UncertainPoint>, units: UnitSystem) -> Vec<Row> {
    let mut rows = Vec::new();
    for (i, machine) in point.machines.iter().enumerate() {
        let sure = uncertain.and_then(|sure| sure.machines.get(i));
        rows.push(Row::new(
            &machine.name,
            machine.open,
            machine.flow,
            Some(machine.required),
            sure,
            units,
        ));
        for (j, hood) in point.hoods.iter().enumerate() {
            if hood.machine.as_ref() == Some(&machine.name) && hood.required.is_some() {
                let sure = uncertain.and_then(|sure| sure.hoods.get(j));
                let row = Row::new(&hood.name, hood.open, hood.flow, hood.required, sure, units);
                rows.push(Row {
                    of_machine: false,
                    ..row
                });
            }
        }
    }
    // Hoods that serve no machine stand by themselves.
    for (j, hood) in point.hoods.iter().enumerate() {
        let known = |name: &Name| point.machines.iter().any(|machine| machine.name == *name);
        if !hood.machine.as_ref().is_some_and(known) {
            let sure = uncertain.and_then(|sure| sure.hoods.get(j));
            rows.push(Row::new(
                &hood.name,
                hood.open,
                hood.flow,
                hood.required,
                sure,
                units,
            ));
        }
    }
    rows
}

fn below(point: &OperatingPoint, uncertain: Option<&UncertainPoint>, units: UnitSystem) -> String {
    let mut text = format!("All together {}", units.flow_text(point.flow));
    text.push_str(match point.status {
        Status::Converged => ".",
        Status::BeyondCurve => ", BEYOND the fan's published curve: a hint only.",
        Status::BelowCurve => ", BELOW the fan's published curve: a hint only.",
        Status::FlowImposed => ", imposed: no fan was asked.",
    });
    if point.fan.estimated {
        text.push_str(" The fan's curve is an ESTIMATE: rough guesses all.");
    }
    if uncertain.is_none() {
        text.push_str(" Without stated uncertainty.");
    }
    text
}

const NAME: Hand = PLAIN.bold();

/// Names to the left of it, marks and figures to the right.
fn frame(rows: &[Row], units: UnitSystem, width: f64, top: f64) -> Rect {
    let names = rows
        .iter()
        .map(|row| hand_of(row).width(&row.name) + indent(row));
    let names = names.fold(60.0, f64::max).min(0.30 * width);
    let figures = rows
        .iter()
        .map(|row| SMALL_FIGURES.width(&row.figures(units)));
    let figures = figures.fold(60.0, f64::max).min(0.36 * width);
    let height: f64 = rows.iter().map(Row::height).sum();
    let left = MARGIN + names + 10.0;
    let right = width - MARGIN - figures - 26.0;
    Rect::new(left, top, right - left, height + 12.0)
}

const SMALL_FIGURES: Hand = Hand::new(11.5, BLACK);

fn hand_of(row: &Row) -> Hand {
    if row.of_machine { NAME } else { SMALL }
}

fn indent(row: &Row) -> f64 {
    if row.of_machine { 0.0 } else { 12.0 }
}

fn draw(sheet: &mut Sheet, chart: &Chart, row: &Row, y: f64, units: UnitSystem) {
    let frame = chart.frame;
    let thick = if row.of_machine { 13.0 } else { 9.0 };
    let standing = row.standing();
    let zero = chart.px(0.0);
    let end = chart.px(row.flow);
    let bar = Rect::new(zero, y - thick / 2.0, end - zero, thick);
    match standing {
        Standing::Enough => sheet.rect(bar, BLUE),
        Standing::CannotSay => sheet.outline(bar, ORANGE, 2.2),
        Standing::Short => {
            sheet.rect(bar, ORANGE);
            // Told from blue without colour: a light line along it.
            let middle = [(zero + 2.0, y), (end - 2.0, y)];
            if end - zero > 8.0 {
                sheet.line(&middle, super::ink::PAPER, thick / 4.0, "7 4");
            }
        }
        Standing::NoNeed | Standing::Shut => {
            if end - zero > 0.5 {
                sheet.outline(bar, QUIET, 1.2);
            }
        }
    }
    if let (Some(reach), true) = (row.reach, row.open) {
        let (low, high) = (
            chart.px((row.flow - reach).max(0.0)),
            chart.px(row.flow + reach),
        );
        sheet.line(&[(low, y), (high, y)], super::ink::PAPER, 3.6, "");
        sheet.line(&[(low, y), (high, y)], BLACK, 1.8, "");
        for x in [low, high] {
            sheet.line(&[(x, y - 4.0), (x, y + 4.0)], BLACK, 1.6, "");
        }
    }
    if let Some(need) = row.need {
        bracket(sheet, chart.px(need), y, thick, row.open);
    }
    let hand = hand_of(row);
    let room = frame.x - MARGIN - 8.0 - indent(row);
    sheet.write(MARGIN + indent(row), y + 4.3, &row.name, hand, room);
    let x = frame.right() + 12.0;
    if let Some((mark, color, full)) = standing.mark() {
        sheet.mark(
            mark,
            x,
            y,
            if row.of_machine { 5.0 } else { 4.0 },
            color,
            full,
        );
    }
    let mut hand = SMALL_FIGURES;
    if !row.open {
        hand.ink = QUIET;
    }
    let room = sheet.width - MARGIN - x - 12.0;
    sheet.write(x + 12.0, y + 4.2, &row.figures(units), hand, room);
}

/// The need: an upright stroke with feet that look at what is less.
fn bracket(sheet: &mut Sheet, x: f64, y: f64, thick: f64, open: bool) {
    let half = thick / 2.0 + 4.0;
    let color = if open { BLACK } else { QUIET };
    let points = [
        (x - 4.0, y - half),
        (x, y - half),
        (x, y + half),
        (x - 4.0, y + half),
    ];
    sheet.line(&points, color, 2.2, "");
}

/// What the signs mean, those that occur.
fn key(sheet: &mut Sheet, rows: &[Row], top: f64) -> f64 {
    let mut x = MARGIN;
    let mut y = top;
    let mut entry = |sheet: &mut Sheet, words: &str, sign: &dyn Fn(&mut Sheet, f64, f64)| {
        let w = 26.0 + SMALL.width(words) + 20.0;
        if x > MARGIN && x + w > sheet.width - MARGIN {
            x = MARGIN;
            y += 22.0;
        }
        sign(sheet, x + 10.0, y - 4.0);
        let room = sheet.width - MARGIN - x - 26.0;
        sheet.write(x + 26.0, y, words, SMALL, room);
        x += w;
    };
    if rows.iter().any(|row| row.need.is_some()) {
        entry(sheet, "need", &|sheet, x, y| {
            bracket(sheet, x, y, 8.0, true)
        });
    }
    if rows.iter().any(|row| row.open && row.reach.is_some()) {
        entry(sheet, "95 % of the uncertainty", &|sheet, x, y| {
            sheet.line(&[(x - 9.0, y), (x + 9.0, y)], BLACK, 1.6, "");
            for x in [x - 9.0, x + 9.0] {
                sheet.line(&[(x, y - 4.0), (x, y + 4.0)], BLACK, 1.6, "");
            }
        });
    }
    for standing in [Standing::Enough, Standing::CannotSay, Standing::Short] {
        let occurs = rows.iter().any(|row| row.standing() == standing);
        if let (true, Some((mark, color, full))) = (occurs, standing.mark()) {
            entry(sheet, standing.words(), &|sheet, x, y| {
                sheet.mark(mark, x, y, 5.0, color, full);
            });
        }
    }
    y + 22.0
}
