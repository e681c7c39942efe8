//! What was measured against what the model says.

use super::{
    PlotError, PlotOptions,
    chart::{Chart, Scale, drawable},
    ink::{
        Anchor, BLACK, BLUE, Hand, Ink, MARGIN, Mark, ORANGE, PLAIN, PLUM, QUIET, Rect, SMALL,
        Sheet, clean, isolated,
    },
    options::figure,
};
use crate::{
    place::Name,
    quantity::{Pressure, UnitSystem, VolumeFlow},
    solve::HALF_BAND,
    survey::ComparedReading,
};

/// Most readings in one picture.
const MOST: usize = 60;

/// What a reading is of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "snake_case")
)]
#[non_exhaustive]
pub enum PlottedQuantity {
    /// A flow \[m3/s\].
    Flow,
    /// A pressure \[Pa\]; a suction is negative.
    Pressure,
}

/// A reading beside what the model says of it.
///
/// ```
/// use airsplit::{MeasuredPredicted, PlottedQuantity};
/// let pair = MeasuredPredicted::new("tap at the fan", PlottedQuantity::Pressure, -2115.0, -2080.0)
///     .give_or_take(15.0, 40.0);
/// assert!((pair.score().unwrap() + 0.82).abs() < 0.01);
/// ```
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct MeasuredPredicted {
    /// What the reading is called.
    pub name: Name,
    /// What it is of, which tells the unit of the figures.
    pub quantity: PlottedQuantity,
    /// What was read, in m3/s or Pa (SI unit).
    pub measured: f64,
    /// Its standard uncertainty, in the same unit; 0 where none is told.
    pub measured_standard: f64,
    /// What the model says, in the same unit.
    pub predicted: f64,
    /// Its standard uncertainty, in the same unit; 0 where none is told.
    pub predicted_standard: f64,
}

impl MeasuredPredicted {
    /// A pair without uncertainties, in the SI unit of the quantity.
    #[must_use]
    pub fn new(
        name: impl Into<Name>,
        quantity: PlottedQuantity,
        measured: f64,
        predicted: f64,
    ) -> Self {
        Self {
            name: name.into(),
            quantity,
            measured,
            measured_standard: 0.0,
            predicted,
            predicted_standard: 0.0,
        }
    }

    /// With these standard uncertainties, of the reading and of the prediction.
    #[must_use]
    pub fn give_or_take(mut self, measured: f64, predicted: f64) -> Self {
        self.measured_standard = measured;
        self.predicted_standard = predicted;
        self
    }

    /// Measured less predicted, over the standard uncertainty of both together; `None` where that is
    /// not above zero or not known.
    #[must_use]
    pub fn score(&self) -> Option<f64> {
        let both = self.measured_standard.hypot(self.predicted_standard);
        let score = (self.measured - self.predicted) / both;
        (both > 0.0 && score.is_finite()).then_some(score)
    }

    fn standing(&self) -> Standing {
        match self.score().map(f64::abs) {
            None => Standing::Unknown,
            Some(score) if score <= 2.0 => Standing::Agrees,
            Some(score) if score <= 3.0 => Standing::Doubtful,
            Some(_) => Standing::Contradicts,
        }
    }
}

impl From<&ComparedReading> for MeasuredPredicted {
    fn from(reading: &ComparedReading) -> Self {
        let quantity = match reading.output.unit() {
            " Pa" => PlottedQuantity::Pressure,
            _ => PlottedQuantity::Flow,
        };
        Self::new(
            reading.id.clone(),
            quantity,
            reading.measured,
            reading.predicted,
        )
        .give_or_take(reading.standard, reading.predicted_standard)
    }
}

/// As [`Agreement`](crate::Agreement), told apart by the mark.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Standing {
    Unknown,
    Agrees,
    Doubtful,
    Contradicts,
}

impl Standing {
    fn mark(self) -> (Mark, Ink, bool) {
        match self {
            Self::Unknown => (Mark::Circle, QUIET, false),
            Self::Agrees => (Mark::Circle, BLUE, true),
            Self::Doubtful => (Mark::Triangle, PLUM, false),
            Self::Contradicts => (Mark::Cross, ORANGE, true),
        }
    }

    fn words(self) -> &'static str {
        match self {
            Self::Unknown => "no uncertainty told",
            Self::Agrees => "agrees",
            Self::Doubtful => "doubtful",
            Self::Contradicts => "contradicts",
        }
    }
}

impl PlottedQuantity {
    fn words(self) -> &'static str {
        match self {
            Self::Flow => "flow",
            Self::Pressure => "pressure",
        }
    }

    fn convert(self, si: f64, units: UnitSystem) -> f64 {
        match self {
            Self::Flow => units.flow(VolumeFlow::from_m3_s(si)),
            Self::Pressure => units.pressure(Pressure::from_pa(si)),
        }
    }

    fn unit(self, units: UnitSystem) -> &'static str {
        match self {
            Self::Flow => units.flow_unit(),
            Self::Pressure => units.pressure_unit(),
        }
    }

    fn decimals(self, units: UnitSystem) -> usize {
        match self {
            Self::Flow => 0,
            Self::Pressure => units.pressure_decimals(),
        }
    }
}

/// What was measured against what the model says: flows and pressures each in their own frame.
///
/// A reading on the slanted line is just as predicted; the bars hold 95 % of both uncertainties. The
/// mark tells how far apart they are in standard uncertainties of the difference: a circle is no
/// more than 2 (agrees), an open triangle 2 to 3 (doubtful), a cross more than 3 (contradicts), an
/// open circle has no uncertainty to be judged by. The numbers are those of the list below.
///
/// ```
/// # fn main() -> Result<(), Box<dyn std::error::Error>> {
/// # #[cfg(feature = "serde")] {
/// use airsplit::*;
/// let study: Study = toml::from_str(&std::fs::read_to_string("examples/chair_shop.toml")?)?;
/// let doubts = Network::new(&study.system)?.doubts(&study.assumptions);
/// let planer = Output::Hood("planer port".into());
/// let reading = Observation::new("planer port", planer, 0.34, 0.01).with_open(["planer"]);
/// let compared = compare_readings(&study.system, &[reading], &doubts)?;
/// let pairs: Vec<MeasuredPredicted> = compared.iter().map(Into::into).collect();
/// let svg = measured_against_predicted_svg(&pairs, &PlotOptions::new())?;
/// assert!(svg.contains("planer port"));
/// # }
/// # Ok(())
/// # }
/// ```
///
/// # Errors
///
/// [`PlotError`]: a size that cannot be; no pairs, or more than 60.
pub fn measured_against_predicted_svg(
    pairs: &[MeasuredPredicted],
    options: &PlotOptions,
) -> Result<String, PlotError> {
    let (width, height) = options.size(480)?;
    let units = options.units;
    if pairs.is_empty() {
        let missing = "no reading was given";
        return Err(PlotError::Nothing { missing });
    }
    if pairs.len() > MOST {
        return Err(PlotError::TooMany {
            what: "readings",
            given: pairs.len(),
            most: MOST,
        });
    }
    let heading = options.heading("Measured against predicted");
    let below = "On the slanted line a reading is just as predicted. Bars: 95 % of the uncertainty. In \
                 the list: how far apart, in standard uncertainties.";
    let (mut sheet, top) = Sheet::new(width, &heading, below);
    let numbered: Vec<(usize, &MeasuredPredicted)> = (1..).zip(pairs).collect();
    let panels: Vec<(PlottedQuantity, Vec<(usize, &MeasuredPredicted)>)> =
        [PlottedQuantity::Flow, PlottedQuantity::Pressure]
            .into_iter()
            .map(|quantity| {
                let own = numbered.iter().copied();
                (
                    quantity,
                    own.filter(|(_, pair)| pair.quantity == quantity).collect(),
                )
            })
            .filter(|(_, own): &(_, Vec<_>)| !own.is_empty())
            .collect();
    // Side by side where both are wide enough, one below the other where not.
    let columns = if width < 700.0 { 1 } else { panels.len() };
    let cell = (width - 2.0 * MARGIN) / columns as f64;
    let side = (cell - 72.0).min((height - top - 84.0).max(260.0));
    for (i, (quantity, own)) in panels.iter().enumerate() {
        let (column, line) = (i % columns, i / columns);
        let frame = Rect::new(
            MARGIN + column as f64 * cell + 56.0,
            top + 24.0 + line as f64 * (side + 78.0),
            (cell - 72.0).min(1.25 * side),
            side,
        );
        panel(&mut sheet, frame, *quantity, own, units)?;
    }
    let lines = panels.len().div_ceil(columns);
    let bottom = top + 24.0 + lines as f64 * (side + 78.0) - 4.0;
    let bottom = list(&mut sheet, &numbered, bottom, units);
    Ok(sheet.finish("measured", bottom))
}

fn panel(
    sheet: &mut Sheet,
    frame: Rect,
    quantity: PlottedQuantity,
    own: &[(usize, &MeasuredPredicted)],
    units: UnitSystem,
) -> Result<(), PlotError> {
    let of = |si: f64| quantity.convert(si, units);
    let reach = |standard: f64| of(HALF_BAND * standard.abs());
    let values = own.iter().flat_map(|(_, pair)| {
        let (m, p) = (of(pair.measured), of(pair.predicted));
        let (dm, dp) = (
            reach(pair.measured_standard),
            reach(pair.predicted_standard),
        );
        [m - dm, m + dm, p - dp, p + dp, m, p]
    });
    // One scale for both, or the line of equals would lie.
    let scale = Scale::over(values, (frame.w / 60.0) as usize);
    let chart = Chart {
        frame,
        x: scale.clone(),
        y: scale,
    };
    let unit = quantity.unit(units);
    let words = quantity.words();
    chart.scales(
        sheet,
        &format!("predicted {words}, {unit}"),
        &format!("measured {words}, {unit}"),
    )?;
    let ends = [(chart.x.low, chart.y.low), (chart.x.high, chart.y.high)];
    chart.line(sheet, &ends, QUIET, 1.6, "")?;
    for i in 0..=60 {
        let share = f64::from(i) / 60.0;
        let (x, y) = (frame.x + share * frame.w, frame.bottom() - share * frame.h);
        sheet.avoid(Rect::around(x, y, 2.0));
    }
    let shown = |pair: &MeasuredPredicted| {
        let point = (of(pair.predicted), of(pair.measured));
        (drawable(point.0) && drawable(point.1)).then(|| (chart.px(point.0), chart.py(point.1)))
    };
    for (_, pair) in own {
        let Some((x, y)) = shown(pair) else { continue };
        let (p, m) = (of(pair.predicted), of(pair.measured));
        let (dp, dm) = (
            reach(pair.predicted_standard),
            reach(pair.measured_standard),
        );
        let level = [(chart.px(p - dp), y), (chart.px(p + dp), y)];
        let upright = [(x, chart.py(m - dm)), (x, chart.py(m + dm))];
        for bar in [level, upright] {
            sheet.line(&bar, BLACK, 1.2, "");
            let [(x0, y0), (x1, y1)] = bar;
            let (x, w) = (x0.min(x1), (x0 - x1).abs());
            let (y, h) = (y0.min(y1), (y0 - y1).abs());
            sheet.avoid(Rect::new(x - 1.0, y - 1.0, w + 2.0, h + 2.0));
        }
    }
    for (_, pair) in own {
        if let Some((x, y)) = shown(pair) {
            let (mark, color, full) = pair.standing().mark();
            sheet.mark(mark, x, y, 5.0, color, full);
        }
    }
    let share = 0.7;
    sheet.label(
        (frame.x + share * frame.w, frame.bottom() - share * frame.h),
        &[("measured = predicted", SMALL)],
        frame,
        true,
    );
    for (number, pair) in own {
        if let Some(point) = shown(pair) {
            let hand = Hand::new(12.0, BLACK).bold();
            sheet.label(point, &[(&number.to_string(), hand)], frame, false);
        }
    }
    Ok(())
}

/// Number, mark, name and figures of each reading; tells where it ends.
fn list(
    sheet: &mut Sheet,
    numbered: &[(usize, &MeasuredPredicted)],
    top: f64,
    units: UnitSystem,
) -> f64 {
    let right = sheet.width - MARGIN;
    let mut y = top;
    for (number, pair) in numbered {
        let quantity = pair.quantity;
        let with = |value: f64, standard: f64| {
            let value = figure(quantity.convert(value, units), quantity.decimals(units));
            let reach = quantity.convert(HALF_BAND * standard, units);
            if reach > 0.0 && reach.is_finite() {
                format!("{value} ± {}", figure(reach, quantity.decimals(units)))
            } else {
                value
            }
        };
        let standing = pair.standing();
        let apart = pair.score().map_or(String::new(), |score| {
            let sign = if score > 0.0 { "+" } else { "" };
            format!(", {sign}{}", figure(score, 1))
        });
        let figures = format!(
            "{} measured, {} predicted {}: {}{apart}",
            with(pair.measured, pair.measured_standard),
            with(pair.predicted, pair.predicted_standard),
            quantity.unit(units),
            standing.words()
        );
        let name = clean(pair.name.as_str());
        sheet.tell(format!("{number}. {}: {figures}.", isolated(&name)));
        let (mark, color, full) = standing.mark();
        let hand = PLAIN.bold().anchored(Anchor::End);
        sheet.write(MARGIN + 20.0, y, &number.to_string(), hand, 20.0);
        sheet.mark(mark, MARGIN + 36.0, y - 4.0, 5.0, color, full);
        let x = MARGIN + 50.0;
        let hand = Hand::new(11.0, BLACK);
        let wide = hand.width(&figures);
        // Side by side, or in two lines where they do not fit.
        if PLAIN.width(&name) + 16.0 + wide <= right - x {
            sheet.write(x, y, &name, PLAIN, right - x);
            sheet.write(right, y, &figures, hand.anchored(Anchor::End), wide + 1.0);
            y += 21.0;
        } else {
            sheet.write(x, y, &name, PLAIN, right - x);
            sheet.write(x, y + 16.0, &figures, hand, right - x);
            y += 38.0;
        }
    }
    y
}
