//! Total and static pressure along the path of a hood, element by element, layouts side by side.

use super::{
    PlotError, PlotOptions,
    chart::{Chart, Scale},
    ink::{
        Anchor, BLACK, BLUE, Hand, MARGIN, Mark, ORANGE, PLAIN, QUIET, Rect, SMALL, Sheet, WASH,
        clean, isolated,
    },
    options::figure,
};
use crate::{
    decide::{ElementKind, PathBudget, PathElement},
    place::Place,
    quantity::{Pressure, UnitSystem},
};

/// Most layouts in one picture.
const MOST_PATHS: usize = 6;
/// Most rows of a path: longer ones are told in groups.
const MOST_ROWS: usize = 60;
const ROW: f64 = 22.0;
/// A panel is no narrower.
const PANEL: f64 = 380.0;
const GAP: f64 = 26.0;

/// A row of a panel: an element, or several in a row, or the fan.
struct Row {
    words: String,
    loss: f64,
    /// Behind it.
    total: f64,
    /// Behind it; `None` where it is not known.
    fixed: Option<f64>,
    fan: bool,
    largest: bool,
}

impl Row {
    fn hand(&self) -> Hand {
        let hand = Hand::new(11.0, BLACK);
        if self.fan || self.largest {
            hand.bold()
        } else {
            hand
        }
    }
}

/// Total and static pressure along the path of a hood, from the room through the fan to the open:
/// of one layout, or of several side by side on one scale.
///
/// Each layout stands under its own name, element by element from top to bottom; the figure at the
/// right is what the element loses, a plus is a gain. The solid blue line with circles is total
/// pressure, the dashed orange one with squares static pressure, what a tap in the wall reads; the
/// room is zero, suction lies left of it. The element that loses most stands on a washed row.
///
/// ```
/// # fn main() -> Result<(), Box<dyn std::error::Error>> {
/// # #[cfg(feature = "serde")] {
/// use airsplit::{Budget, Change, Network, Length, Bore, PlotOptions, Study, path_pressure_svg};
/// let study: Study = toml::from_str(&std::fs::read_to_string("examples/chair_shop.toml")?)?;
/// let size = Bore::Round(Length::from_mm(200.0));
/// let wider = study.system.with(&[Change::Size { section: "main east".into(), to: size }])?;
/// let mut paths = Vec::new();
/// for system in [&study.system, &wider] {
///     let network = Network::new(system)?;
///     let point = network.operating_point(&network.open(["lathe"])?)?;
///     paths.push(Budget::new(system, &point)?.path("lathe scoop")?);
/// }
/// let layouts = [("as it is", &paths[0]), ("wider main", &paths[1])];
/// let svg = path_pressure_svg(&layouts, &PlotOptions::new())?;
/// assert!(svg.contains("wider main"));
/// # }
/// # Ok(())
/// # }
/// ```
///
/// # Errors
///
/// [`PlotError`]: a size that cannot be; no layout, or more than 6; a path without elements.
pub fn path_pressure_svg(
    layouts: &[(&str, &PathBudget)],
    options: &PlotOptions,
) -> Result<String, PlotError> {
    let (width, _) = options.size(480)?;
    let units = options.units;
    if layouts.is_empty() || layouts.iter().any(|(_, path)| path.elements.is_empty()) {
        let missing = "a layout needs a path with an element at least";
        return Err(PlotError::Nothing { missing });
    }
    if layouts.len() > MOST_PATHS {
        return Err(PlotError::TooMany {
            what: "layouts",
            given: layouts.len(),
            most: MOST_PATHS,
        });
    }
    let heading = options.heading("Where the pressure goes");
    let below = format!(
        "Pressure against the room behind each element of the path, {}; at the right what each \
         loses. Solid, circles: total pressure. Dashed, squares: static pressure, what a tap reads.",
        units.pressure_unit()
    );
    let (mut sheet, top) = Sheet::new(width, &heading, &below);
    let panels: Vec<Vec<Row>> = layouts.iter().map(|(_, path)| rows(path, units)).collect();
    let fitting = ((width - 2.0 * MARGIN + GAP) / (PANEL + GAP))
        .floor()
        .max(1.0) as usize;
    let columns = fitting.min(panels.len()).max(1);
    let panel_width = (width - 2.0 * MARGIN + GAP) / columns as f64 - GAP;
    let all = || panels.iter().flatten();
    let values = all().flat_map(|row| [Some(row.total), row.fixed]).flatten();
    let labels = all().map(|row| row.hand().width(&row.words));
    let labels = labels.fold(40.0, f64::max) + 1.0;
    let look = Look {
        label: labels.min(0.42 * panel_width),
        loss: 48.0,
        width: panel_width,
        scale: Scale::over(values.chain([0.0]), (panel_width / 75.0) as usize),
        units,
    };
    let mut y = top;
    let both = layouts.iter().zip(&panels);
    let both: Vec<_> = both.collect();
    for line in both.chunks(columns) {
        let tallest = line.iter().map(|(_, rows)| rows.len()).max().unwrap_or(0);
        for (column, ((name, path), rows)) in line.iter().enumerate() {
            let x = MARGIN + column as f64 * (panel_width + GAP);
            panel(&mut sheet, &look, (x, y), (name, path), rows)?;
        }
        y += 92.0 + tallest as f64 * ROW;
    }
    Ok(sheet.finish("path-pressure", y))
}

/// What the panels share.
struct Look {
    label: f64,
    loss: f64,
    width: f64,
    scale: Scale,
    units: UnitSystem,
}

fn panel(
    sheet: &mut Sheet,
    look: &Look,
    (x, y): (f64, f64),
    (name, path): (&str, &PathBudget),
    rows: &[Row],
) -> Result<(), PlotError> {
    let units = look.units;
    let name = clean(name);
    let hood = clean(path.hood.as_str());
    sheet.write(x, y + 8.0, &name, PLAIN.bold(), look.width);
    let takes = format!(
        "takes {} of fan {} pressure",
        units.pressure_text(path.pressure),
        if path.of_total { "total" } else { "static" }
    );
    let room = look.width - SMALL.width(&takes) - SMALL.width(", ") - 1.0;
    let line = format!("{}, {takes}", isolated(&SMALL.fit(&hood, room)));
    sheet.write(x, y + 24.0, &line, SMALL, look.width);
    sheet.tell(format!(
        "{}: {}, {takes}:",
        isolated(&name),
        isolated(&hood)
    ));

    let frame = Rect::new(
        x + look.label + 10.0,
        y + 36.0,
        look.width - look.label - look.loss - 22.0,
        rows.len() as f64 * ROW,
    );
    for (i, row) in rows.iter().enumerate() {
        if row.largest {
            let wash = Rect::new(x - 4.0, frame.y + i as f64 * ROW, look.width + 8.0, ROW);
            sheet.rect(wash, WASH);
        }
    }
    let chart = Chart {
        frame,
        x: look.scale.clone(),
        y: Scale::over([0.0, 1.0], 1),
    };
    chart.x_scale(sheet)?;
    let name = format!("pressure, {}", units.pressure_unit());
    let hand = SMALL.anchored(Anchor::Middle);
    let middle = frame.x + frame.w / 2.0;
    sheet.write(middle, frame.bottom() + 34.0, &name, hand, frame.w);
    let zero = chart.px(0.0);
    sheet.line(&[(zero, frame.y), (zero, frame.bottom())], QUIET, 1.4, "");

    let behind = |i: usize| frame.y + (i + 1) as f64 * ROW;
    let start = (zero, frame.y);
    let totals = rows
        .iter()
        .enumerate()
        .map(|(i, row)| (chart.px(row.total), behind(i)));
    let totals: Vec<_> = [start].into_iter().chain(totals).collect();
    let fixed = rows
        .iter()
        .enumerate()
        .filter_map(|(i, row)| Some((chart.px(row.fixed?), behind(i))));
    let fixed: Vec<_> = [start].into_iter().chain(fixed).collect();
    sheet.line(&fixed, ORANGE, 2.0, "6 3");
    sheet.line(&totals, BLUE, 2.4, "");
    for &(x, y) in fixed.iter().skip(1) {
        sheet.mark(Mark::Square, x, y, 3.6, ORANGE, true);
    }
    for &(x, y) in totals.iter().skip(1) {
        sheet.mark(Mark::Circle, x, y, 3.6, BLUE, true);
    }
    for (i, row) in rows.iter().enumerate() {
        let base = frame.y + i as f64 * ROW + ROW / 2.0 + 4.0;
        let hand = row.hand();
        sheet.write(x, base, &row.words, hand, look.label);
        // A loss as it is, a gain with its plus.
        let decimals = units.pressure_decimals();
        let loss = if row.loss >= 0.0 || row.fan {
            figure(row.loss.abs(), decimals)
        } else {
            format!("+{}", figure(-row.loss, decimals))
        };
        let loss = if row.fan { format!("+{loss}") } else { loss };
        let right = hand.anchored(Anchor::End);
        sheet.write(x + look.width, base, &loss, right, look.loss);
        sheet.tell(format!("{} {loss};", isolated(&row.words)));
    }
    sheet.tell(format!("all in {}.", units.pressure_unit()));
    Ok(())
}

/// The elements as rows, the fan among them where the pressure rises.
fn rows(path: &PathBudget, units: UnitSystem) -> Vec<Row> {
    let pa = |pa: f64| units.pressure(Pressure::from_pa(pa));
    let mut rows = Vec::with_capacity(path.elements.len() + 1);
    let gives = path.pressure.as_pa();
    let fan = |total: f64, fixed: Option<f64>| Row {
        words: "fan".into(),
        loss: -pa(gives),
        total: pa(total),
        fixed: fixed.map(pa),
        fan: true,
        largest: false,
    };
    let mut before = 0.0;
    let mut met = false;
    let all: Vec<(usize, &PathElement)> = path.elements.iter().enumerate().collect();
    let group = all.len().div_ceil(MOST_ROWS).max(1);
    let behind_fan = all.iter().position(|(_, element)| {
        let total = element.total_pressure.as_pa();
        let jump = total + element.loss.as_pa() - before;
        before = total;
        jump > 0.5 * gives && gives > 0.0
    });
    let split = behind_fan.unwrap_or(all.len());
    let (upstream, downstream) = all.split_at_checked(split).unwrap_or((&all, &[]));
    for side in [upstream, downstream] {
        if let Some((_, first)) = side.first().filter(|_| met) {
            let total = first.total_pressure.as_pa() + first.loss.as_pa();
            let head = first.total_pressure.as_pa() - first.static_pressure.as_pa();
            let exits = first.kind == ElementKind::Exit;
            rows.push(fan(total, (!exits).then_some(total - head)));
        }
        met = true;
        for chunk in side.chunks(group) {
            let (Some((_, first)), Some((_, last))) = (chunk.first(), chunk.last()) else {
                continue;
            };
            let loss: f64 = chunk.iter().map(|(_, element)| element.loss.as_pa()).sum();
            let words = match chunk.len() {
                1 => words(first),
                n => format!("{} … {} ({n})", words(first), last.kind),
            };
            rows.push(Row {
                words,
                loss: pa(loss),
                total: pa(last.total_pressure.as_pa()),
                fixed: Some(pa(last.static_pressure.as_pa())),
                fan: false,
                largest: chunk.iter().any(|&(i, _)| path.largest == Some(i)),
            });
        }
    }
    if downstream.is_empty() {
        let total = upstream
            .last()
            .map_or(0.0, |(_, last)| last.total_pressure.as_pa());
        rows.push(fan(total + gives, None));
    }
    rows
}

fn words(element: &PathElement) -> String {
    let kind = element.kind;
    let of = |name: &crate::place::Name| format!("{kind} · {}", isolated(&clean(name.as_str())));
    match &element.place {
        Place::Section(name) | Place::Join(name) | Place::Hood(name) => of(name),
        Place::Part { section, .. } => of(section),
        Place::Before { .. } => format!("{kind} · before the fan"),
        Place::After { .. } => format!("{kind} · after the fan"),
        _ => kind.to_string(),
    }
}
