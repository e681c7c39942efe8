//! A frame with two scales, and the lines and bands in it, drawn by plotters.
//!
//! Plotters counts in whole pixels: it is given ten to each of ours, and its drawing is scaled down.
//! It never sees what lies outside the frame, is not finite, or is text.

use super::{
    ink::{Anchor, GRID, Ink, PLAIN, QUIET, Rect, SMALL, Sheet, at},
    options::{PlotError, figure},
};
use plotters::backend::SVGBackend;
use plotters::{
    coord::{cartesian::Cartesian2d, types::RangedCoordf64},
    drawing::IntoDrawingArea,
    element::{PathElement, Polygon},
    style::{Color, RGBColor, ShapeStyle},
};

/// Numbers beyond this cannot be drawn, in any unit.
const LARGEST: f64 = 1e12;

/// Pixels of plotters to one of ours.
const FINE: f64 = 10.0;

/// A scale: from where to where, and the figures at it.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Scale {
    pub(super) low: f64,
    pub(super) high: f64,
    pub(super) ticks: Vec<f64>,
    decimals: usize,
}

/// Whether a number can be drawn.
pub(super) fn drawable(value: f64) -> bool {
    value.is_finite() && value.abs() <= LARGEST
}

impl Scale {
    /// Over these numbers, those that cannot be drawn left out, with room at both ends and about so
    /// many ticks; a range that begins or ends at zero keeps it as its end.
    pub(super) fn over(values: impl IntoIterator<Item = f64>, ticks: usize) -> Self {
        let values = values.into_iter().filter(|&value| drawable(value));
        let (low, high) = values.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), v| {
            (low.min(v), high.max(v))
        });
        let (low, high) = if low <= high { (low, high) } else { (0.0, 1.0) };
        let least = (1e-6 * low.abs().max(high.abs())).max(1e-6);
        let wide = (high - low).max(least);
        let pad = 0.06 * wide;
        let (mut low, mut high) = match (low == 0.0, high == 0.0) {
            (true, true) => (0.0, 1.0),
            (true, false) => (0.0, high + pad),
            (false, true) => (low - pad, 0.0),
            (false, false) => (low - pad, high + pad),
        };
        if high - low < least {
            (low, high) = (low - least, high + least);
        }
        let step = nice_step((high - low) / ticks.max(1) as f64);
        // The figures at the scale must differ from each other: as many decimals as the step has.
        let decimals = (-step.log10().floor()).clamp(0.0, 9.0) as usize;
        let first = (low / step - 1e-6).ceil();
        let ticks = (0..=4 * ticks.max(1))
            .map(|i| (first + i as f64) * step)
            .take_while(|&tick| tick <= high + 1e-6 * step)
            .collect();
        Self {
            low,
            high,
            ticks,
            decimals,
        }
    }

    pub(super) fn text(&self, tick: f64) -> String {
        figure(tick, self.decimals)
    }

    /// 0 at its lower end, 1 at its upper; what lies outside is drawn at the nearer end.
    pub(super) fn share(&self, value: f64) -> f64 {
        let share = (value - self.low) / (self.high - self.low);
        if share.is_nan() {
            0.0
        } else {
            share.clamp(0.0, 1.0)
        }
    }
}

/// The nearest 1, 2 or 5 times a power of ten that is not less.
fn nice_step(least: f64) -> f64 {
    let power = 10_f64.powf(least.log10().floor());
    let step = [1.0, 2.0, 5.0]
        .into_iter()
        .map(|m| m * power)
        .find(|&step| step >= 0.999 * least);
    step.unwrap_or(10.0 * power)
}

/// A frame with its two scales.
#[derive(Debug, Clone)]
pub(super) struct Chart {
    pub(super) frame: Rect,
    pub(super) x: Scale,
    pub(super) y: Scale,
}

impl Chart {
    pub(super) fn px(&self, x: f64) -> f64 {
        self.frame.x + self.x.share(x) * self.frame.w
    }

    pub(super) fn py(&self, y: f64) -> f64 {
        self.frame.bottom() - self.y.share(y) * self.frame.h
    }

    pub(super) fn holds(&self, (x, y): (f64, f64)) -> bool {
        (self.x.low..=self.x.high).contains(&x) && (self.y.low..=self.y.high).contains(&y)
    }

    /// The frame with grid, figures and the names of its scales: that of y above it, that of x below.
    pub(super) fn scales(
        &self,
        sheet: &mut Sheet,
        x_name: &str,
        y_name: &str,
    ) -> Result<(), PlotError> {
        let frame = self.frame;
        for &tick in &self.y.ticks {
            self.line(
                sheet,
                &[(self.x.low, tick), (self.x.high, tick)],
                GRID,
                1.0,
                "",
            )?;
            let hand = SMALL.anchored(Anchor::End);
            let text = self.y.text(tick);
            sheet.write(
                frame.x - 7.0,
                self.py(tick) + 4.0,
                &text,
                hand,
                frame.x - 9.0,
            );
        }
        self.x_scale(sheet)?;
        let below = frame.bottom() + 35.0;
        let hand = PLAIN.anchored(Anchor::End);
        sheet.write(frame.right(), below, x_name, hand, frame.w);
        sheet.write(frame.x, frame.y - 9.0, y_name, PLAIN, frame.w);
        sheet.line(
            &[
                (frame.x, frame.y),
                (frame.x, frame.bottom()),
                (frame.right(), frame.bottom()),
            ],
            QUIET,
            1.2,
            "",
        );
        Ok(())
    }

    /// Grid and figures of the lower scale alone.
    pub(super) fn x_scale(&self, sheet: &mut Sheet) -> Result<(), PlotError> {
        let mut free_from = f64::NEG_INFINITY;
        for &tick in &self.x.ticks {
            let ends = [(tick, self.y.low), (tick, self.y.high)];
            self.line(sheet, &ends, GRID, 1.0, "")?;
            let hand = SMALL.anchored(Anchor::Middle);
            let text = self.x.text(tick);
            let half = hand.width(&text) / 2.0;
            let x = self.px(tick).clamp(half + 2.0, sheet.width - half - 2.0);
            // Long figures crowd a short scale: then some stay away.
            if x - half > free_from {
                sheet.write(x, self.frame.bottom() + 18.0, &text, hand, 2.0 * half + 1.0);
                free_from = x + half + 5.0;
            }
        }
        Ok(())
    }

    /// A line through points of the scales, cut at the frame; `dash` in pixels, as SVG writes it.
    pub(super) fn line(
        &self,
        sheet: &mut Sheet,
        points: &[(f64, f64)],
        color: Ink,
        width: f64,
        dash: &str,
    ) -> Result<(), PlotError> {
        let style = ShapeStyle {
            color: rgb(color).to_rgba(),
            filled: false,
            stroke_width: (FINE * width).round().clamp(1.0, 1000.0) as u32,
        };
        for piece in self.cut(points) {
            let element = PathElement::new(piece, style);
            let drawn = self.draw(|area| area.draw(&element).map_err(failed))?;
            let dash = dash
                .split_whitespace()
                .filter_map(|length| length.parse::<f64>().ok());
            let dash: Vec<String> = dash.map(|length| at(FINE * length)).collect();
            self.place(sheet, &drawn, &dash.join(" "));
        }
        Ok(())
    }

    /// The band between two lines with the same x, as faint as told.
    pub(super) fn band(
        &self,
        sheet: &mut Sheet,
        upper: &[(f64, f64)],
        lower: &[(f64, f64)],
        color: Ink,
        opacity: f64,
    ) -> Result<(), PlotError> {
        let inside = |&(x, y): &(f64, f64)| {
            (drawable(x) && drawable(y)).then(|| {
                (
                    x.clamp(self.x.low, self.x.high),
                    y.clamp(self.y.low, self.y.high),
                )
            })
        };
        let points = upper.iter().chain(lower.iter().rev());
        let points: Vec<(f64, f64)> = points.filter_map(inside).collect();
        if points.len() < 3 {
            return Ok(());
        }
        let element = Polygon::new(points, rgb(color).mix(opacity).filled());
        let drawn = self.draw(|area| area.draw(&element).map_err(failed))?;
        self.place(sheet, &drawn, "");
        Ok(())
    }

    fn place(&self, sheet: &mut Sheet, drawn: &str, dash: &str) {
        let dash = if dash.is_empty() {
            String::new()
        } else {
            format!(" stroke-dasharray=\"{dash}\"")
        };
        sheet.put(format_args!(
            "<g transform=\"translate({} {}) scale({})\" stroke-linejoin=\"round\"{dash}>{}</g>\n",
            at(self.frame.x),
            at(self.frame.y),
            at(1.0 / FINE),
            drawn.trim()
        ));
    }

    /// What plotters draws, without the document that it puts around it.
    fn draw(
        &self,
        draw: impl FnOnce(&Area<'_>) -> Result<(), PlotError>,
    ) -> Result<String, PlotError> {
        let pixels = |length: f64| (FINE * length).round().clamp(1.0, 1e6) as i32;
        let (w, h) = (pixels(self.frame.w), pixels(self.frame.h));
        let mut text = String::new();
        {
            let backend = SVGBackend::with_string(&mut text, (w.unsigned_abs(), h.unsigned_abs()));
            let spec = Cartesian2d::new(
                self.x.low..self.x.high,
                self.y.low..self.y.high,
                (0..w, h..0),
            );
            let area = backend.into_drawing_area().apply_coord_spec(spec);
            draw(&area)?;
            area.present().map_err(failed)?;
        }
        let inner = text.split_once('>').map_or("", |(_, inner)| inner);
        let inner = inner.trim_end();
        Ok(inner.strip_suffix("</svg>").unwrap_or(inner).to_owned())
    }

    /// The pieces of a line that lie in the frame (M. Cyrus and J. Beck, "Generalized two- and
    /// three-dimensional clipping", Computers & Graphics 3 (1978); from memory).
    fn cut(&self, points: &[(f64, f64)]) -> Vec<Vec<(f64, f64)>> {
        let mut pieces: Vec<Vec<(f64, f64)>> = Vec::new();
        let mut joined = false;
        for pair in points.windows(2) {
            let &[a, b] = pair else { continue };
            let fine = [a.0, a.1, b.0, b.1].into_iter().all(drawable);
            let Some((from, to)) = self.inside(a, b).filter(|_| fine) else {
                joined = false;
                continue;
            };
            match pieces.last_mut() {
                Some(piece) if joined && piece.last() == Some(&from) => piece.push(to),
                _ => pieces.push(vec![from, to]),
            }
            joined = to == b;
        }
        pieces
    }

    fn inside(&self, a: (f64, f64), b: (f64, f64)) -> Option<((f64, f64), (f64, f64))> {
        let (dx, dy) = (b.0 - a.0, b.1 - a.1);
        let (mut enter, mut leave) = (0.0_f64, 1.0_f64);
        let edges = [
            (-dx, a.0 - self.x.low),
            (dx, self.x.high - a.0),
            (-dy, a.1 - self.y.low),
            (dy, self.y.high - a.1),
        ];
        for (toward, room) in edges {
            if toward == 0.0 {
                if room < 0.0 {
                    return None;
                }
            } else if toward < 0.0 {
                enter = enter.max(room / toward);
            } else {
                leave = leave.min(room / toward);
            }
        }
        if enter > leave {
            return None;
        }
        let on = |t: f64| {
            (
                (a.0 + t * dx).clamp(self.x.low, self.x.high),
                (a.1 + t * dy).clamp(self.y.low, self.y.high),
            )
        };
        let from = if enter > 0.0 { on(enter) } else { a };
        let to = if leave < 1.0 { on(leave) } else { b };
        Some((from, to))
    }
}

type Area<'a> =
    plotters::drawing::DrawingArea<SVGBackend<'a>, Cartesian2d<RangedCoordf64, RangedCoordf64>>;

fn rgb(color: Ink) -> RGBColor {
    let [r, g, b] = color.light;
    RGBColor(r, g, b)
}

fn failed(error: impl std::fmt::Display) -> PlotError {
    PlotError::Drawing {
        reason: error.to_string(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn chart() -> Chart {
        Chart {
            frame: Rect::new(50.0, 20.0, 100.0, 100.0),
            x: Scale::over([0.0, 10.0], 5),
            y: Scale::over([0.0, 10.0], 5),
        }
    }

    #[test]
    fn prop_scales_hold_what_they_are_over() {
        for values in [
            vec![],
            vec![0.0],
            vec![7.0],
            vec![-3.0, 0.0],
            vec![1e12, -1e12],
            vec![f64::NAN, 1e300],
            vec![1e12, 1e12 + 1.0],
            vec![1e-9],
        ] {
            let scale = Scale::over(values.iter().copied(), 5);
            assert!(scale.low < scale.high, "{values:?}: {scale:?}");
            assert!(
                (1..=21).contains(&scale.ticks.len()),
                "{values:?}: {scale:?}"
            );
            for value in values.into_iter().filter(|&value| drawable(value)) {
                assert!(scale.low <= value && value <= scale.high, "{scale:?}");
            }
        }
        let texts: Vec<_> = chart().x.ticks.iter().map(|&t| chart().x.text(t)).collect();
        assert_eq!(texts, ["0", "5", "10"]);
    }

    #[test]
    fn prop_lines_end_at_the_frame() {
        let chart = chart();
        let top = chart.y.high;
        let pieces = chart.cut(&[
            (1.0, 1.0),
            (1.0, 1e6),
            (5.0, 1e6),
            (5.0, 2.0),
            (6.0, f64::NAN),
        ]);
        let expected = [[(1.0, 1.0), (1.0, top)], [(5.0, top), (5.0, 2.0)]];
        assert_eq!(pieces.len(), expected.len());
        for (got, wanted) in pieces.iter().flatten().zip(expected.iter().flatten()) {
            let off = (got.0 - wanted.0).hypot(got.1 - wanted.1);
            assert!(off < 1e-9, "{got:?} and not {wanted:?}");
        }
        assert!(chart.cut(&[(-5.0, -5.0), (-1.0, 1e9)]).is_empty());
    }
}
