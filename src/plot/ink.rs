//! What every picture shares: colours, marks, text that is measured before it is written.
//!
//! Light colours stand in the elements themselves, so that a reader without style sheets sees them;
//! one rule for each colour turns it into its dark partner where the page is dark. The paper is
//! drawn too: a picture never depends on the page behind it.

use super::width::{fall, fit, rise, width};
use std::fmt::Write as _;

/// A colour on light paper and its partner on dark paper.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Ink {
    pub(super) light: [u8; 3],
    pub(super) dark: [u8; 3],
}

const fn ink(light: [u8; 3], dark: [u8; 3]) -> Ink {
    Ink { light, dark }
}

pub(super) const PAPER: Ink = ink([0xfb, 0xfa, 0xf6], [0x17, 0x19, 0x1d]);
/// Text, axes and the fan.
pub(super) const BLACK: Ink = ink([0x1f, 0x23, 0x28], [0xe9, 0xe7, 0xe2]);
/// Text of the second rank.
pub(super) const QUIET: Ink = ink([0x58, 0x5d, 0x65], [0xad, 0xb1, 0xb8]);
pub(super) const GRID: Ink = ink([0xdd, 0xda, 0xd2], [0x36, 0x3a, 0x41]);
/// Behind a row that matters most.
pub(super) const WASH: Ink = ink([0xef, 0xec, 0xe2], [0x25, 0x29, 0x30]);
/// What is well, and the first of several.
pub(super) const BLUE: Ink = ink([0x1c, 0x54, 0x96], [0x9c, 0xc6, 0xf7]);
/// What is wrong or not sure, and the second.
pub(super) const ORANGE: Ink = ink([0xb0, 0x52, 0x00], [0xe5, 0x8f, 0x40]);
pub(super) const PLUM: Ink = ink([0x6d, 0x2c, 0x6b], [0xe2, 0xb2, 0xe1]);
pub(super) const MOSS: Ink = ink([0x4f, 0x6b, 0x1d], [0xb3, 0xcf, 0x7a]);
/// More than enough: further from the paper than blue.
pub(super) const DEEP: Ink = ink([0x0b, 0x24, 0x4d], [0xe2, 0xef, 0xff]);
/// Far too little: nearer to the paper than orange.
pub(super) const SAND: Ink = ink([0xc4, 0x81, 0x2f], [0x9c, 0x65, 0x2c]);

pub(super) const ALL: [Ink; 11] = [
    PAPER, BLACK, QUIET, GRID, WASH, BLUE, ORANGE, PLUM, MOSS, DEEP, SAND,
];

fn hex([r, g, b]: [u8; 3]) -> String {
    format!("#{r:02X}{g:02X}{b:02X}")
}

impl Ink {
    pub(super) fn hex(self) -> String {
        hex(self.light)
    }
}

/// A shape that stands for one thing; told apart without colour.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Mark {
    Circle,
    Square,
    Diamond,
    Triangle,
    Cross,
}

/// A box of the picture, in pixels from its upper left corner.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Rect {
    pub(super) x: f64,
    pub(super) y: f64,
    pub(super) w: f64,
    pub(super) h: f64,
}

impl Rect {
    pub(super) const fn new(x: f64, y: f64, w: f64, h: f64) -> Self {
        Self { x, y, w, h }
    }

    /// Around a point, so far to every side.
    pub(super) fn around(x: f64, y: f64, r: f64) -> Self {
        Self::new(x - r, y - r, 2.0 * r, 2.0 * r)
    }

    pub(super) fn right(&self) -> f64 {
        self.x + self.w
    }

    pub(super) fn bottom(&self) -> f64 {
        self.y + self.h
    }

    pub(super) fn hits(&self, other: &Self) -> bool {
        self.x < other.right()
            && other.x < self.right()
            && self.y < other.bottom()
            && other.y < self.bottom()
    }

    pub(super) fn holds(&self, other: &Self) -> bool {
        self.x <= other.x
            && self.y <= other.y
            && other.right() <= self.right()
            && other.bottom() <= self.bottom()
    }
}

/// Where a text begins, seen from its point.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Anchor {
    Start,
    Middle,
    End,
}

/// How a text is written.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Hand {
    pub(super) size: f64,
    pub(super) ink: Ink,
    pub(super) bold: bool,
    pub(super) anchor: Anchor,
}

impl Hand {
    pub(super) const fn new(size: f64, ink: Ink) -> Self {
        Self {
            size,
            ink,
            bold: false,
            anchor: Anchor::Start,
        }
    }

    pub(super) const fn bold(mut self) -> Self {
        self.bold = true;
        self
    }

    pub(super) const fn anchored(mut self, anchor: Anchor) -> Self {
        self.anchor = anchor;
        self
    }

    pub(super) fn width(&self, text: &str) -> f64 {
        width(text, self.size, self.bold)
    }

    pub(super) fn fit(&self, text: &str, room: f64) -> String {
        fit(text, self.size, self.bold, room)
    }

    /// From one line of text to the next.
    pub(super) fn pitch(&self) -> f64 {
        1.3 * self.size
    }
}

/// Body text, and text of the second rank.
pub(super) const PLAIN: Hand = Hand::new(12.5, BLACK);
pub(super) const SMALL: Hand = Hand::new(11.0, QUIET);

/// A name or other text from outside, made fit to be shown: on one line, nothing that XML forbids
/// or that turns the direction of what stands beside it, and not empty.
pub(super) fn clean(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' | '\u{200e}' | '\u{200f}' => {}
            '\u{fffe}' | '\u{ffff}' | '\u{feff}' => {}
            c if c.is_control() || c.is_whitespace() => {
                if !out.is_empty() && !out.ends_with(' ') {
                    out.push(' ');
                }
            }
            c => out.push(c),
        }
    }
    let out = out.trim_end();
    if out.is_empty() {
        "(no name)".into()
    } else {
        out.to_owned()
    }
}

/// A cleaned name between figures: written from the right or from the left, it stays in its place.
pub(super) fn isolated(name: &str) -> String {
    if name.is_ascii() {
        name.to_owned()
    } else {
        format!("\u{2068}{name}\u{2069}")
    }
}

fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            c => out.push(c),
        }
    }
    out
}

/// A coordinate: finite whatever comes in.
pub(super) fn at(value: f64) -> String {
    let value = if value.is_finite() { value } else { 0.0 };
    let text = format!("{value:.2}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" {
        "0".into()
    } else {
        text.into()
    }
}

/// The point of a box that is nearest to another point.
fn nearest(place: &Rect, (x, y): (f64, f64)) -> (f64, f64) {
    (
        x.max(place.x).min(place.right()),
        y.max(place.y).min(place.bottom()),
    )
}

/// A picture as it is drawn.
#[derive(Debug)]
pub(super) struct Sheet {
    pub(super) width: f64,
    body: String,
    title: String,
    /// Told to those who do not see the picture.
    told: Vec<String>,
    texts: Vec<Rect>,
    /// Marks and lines that labels keep clear of.
    marks: Vec<Rect>,
}

/// Room left free at every edge.
pub(super) const MARGIN: f64 = 22.0;

impl Sheet {
    /// A sheet of that width with its heading and a line or two below it; and where the rest may
    /// begin.
    pub(super) fn new(width: f64, heading: &str, below: &str) -> (Self, f64) {
        let heading = clean(heading);
        let mut sheet = Self {
            width,
            body: String::new(),
            title: heading.clone(),
            told: vec![below.to_owned()],
            texts: Vec::new(),
            marks: Vec::new(),
        };
        let room = width - 2.0 * MARGIN;
        let hand = Hand::new(17.0, BLACK).bold();
        sheet.write(MARGIN, 34.0, &heading, hand, room);
        let bottom = sheet.paragraph(MARGIN, 55.0, below, SMALL, room);
        (sheet, bottom + 8.0)
    }

    /// Adds a sentence for those who do not see the picture.
    pub(super) fn tell(&mut self, sentence: impl Into<String>) {
        self.told.push(sentence.into());
    }

    /// Text on a base line at `y`, cut in its middle where it is wider than `room`.
    pub(super) fn write(&mut self, x: f64, y: f64, text: &str, hand: Hand, room: f64) -> Rect {
        let shown = hand.fit(text, room);
        let w = hand.width(&shown);
        let (anchor, left) = match hand.anchor {
            Anchor::Start => ("", x),
            Anchor::Middle => (" text-anchor=\"middle\"", x - w / 2.0),
            Anchor::End => (" text-anchor=\"end\"", x - w),
        };
        let rect = Rect::new(
            left,
            y - rise(hand.size),
            w,
            rise(hand.size) + fall(hand.size),
        );
        if shown.is_empty() {
            return rect;
        }
        let whole = if shown == text {
            String::new()
        } else {
            format!("<title>{}</title>", escaped(text))
        };
        let weight = if hand.bold {
            " font-weight=\"bold\""
        } else {
            ""
        };
        self.put(format_args!(
            "<text x=\"{}\" y=\"{}\" font-size=\"{}\"{weight}{anchor} fill=\"{}\">{whole}{}</text>\n",
            at(x),
            at(y),
            at(hand.size),
            hand.ink.hex(),
            escaped(&shown)
        ));
        self.texts.push(rect);
        rect
    }

    /// Words in as many lines as they need; tells the base line that would come next.
    pub(super) fn paragraph(&mut self, x: f64, y: f64, text: &str, hand: Hand, room: f64) -> f64 {
        let mut y = y;
        let mut line = String::new();
        for word in text.split(' ') {
            let longer = if line.is_empty() {
                word.to_owned()
            } else {
                format!("{line} {word}")
            };
            if line.is_empty() || hand.width(&longer) <= room {
                line = longer;
            } else {
                self.write(x, y, &line, hand, room);
                y += hand.pitch();
                line = word.to_owned();
            }
        }
        if !line.is_empty() {
            self.write(x, y, &line, hand, room);
            y += hand.pitch();
        }
        y
    }

    pub(super) fn put(&mut self, element: std::fmt::Arguments<'_>) {
        // Writing to a String cannot fail.
        let _ = self.body.write_fmt(element);
    }

    pub(super) fn rect(&mut self, rect: Rect, fill: Ink) {
        self.put(format_args!(
            "<rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" fill=\"{}\"/>\n",
            at(rect.x),
            at(rect.y),
            at(rect.w.max(0.0)),
            at(rect.h.max(0.0)),
            fill.hex()
        ));
    }

    /// A box of which only the edge is drawn.
    pub(super) fn outline(&mut self, rect: Rect, stroke: Ink, width: f64) {
        self.put(format_args!(
            "<rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" fill=\"{}\" stroke=\"{}\" stroke-width=\"{}\"/>\n",
            at(rect.x),
            at(rect.y),
            at(rect.w.max(0.0)),
            at(rect.h.max(0.0)),
            PAPER.hex(),
            stroke.hex(),
            at(width)
        ));
    }

    /// A polyline; `dash` as SVG writes it, empty for none.
    pub(super) fn line(&mut self, points: &[(f64, f64)], stroke: Ink, width: f64, dash: &str) {
        let mut path = String::new();
        for (x, y) in points {
            let _ = write!(path, "{},{} ", at(*x), at(*y));
        }
        let dash = if dash.is_empty() {
            String::new()
        } else {
            format!(" stroke-dasharray=\"{dash}\"")
        };
        self.put(format_args!(
            "<polyline points=\"{}\" fill=\"none\" stroke=\"{}\" stroke-width=\"{}\" stroke-linejoin=\"round\"{dash}/>\n",
            path.trim_end(),
            stroke.hex(),
            at(width)
        ));
    }

    /// A mark with a rim of paper, so that it stands out from the lines below it.
    pub(super) fn mark(&mut self, mark: Mark, x: f64, y: f64, r: f64, color: Ink, full: bool) {
        let (fill, stroke, width) = if full {
            (color, PAPER, 1.2)
        } else {
            (PAPER, color, 2.0)
        };
        let dress = format!(
            "fill=\"{}\" stroke=\"{}\" stroke-width=\"{}\"",
            fill.hex(),
            stroke.hex(),
            at(width)
        );
        let corners: &[(f64, f64)] = match mark {
            Mark::Circle => {
                self.put(format_args!(
                    "<circle cx=\"{}\" cy=\"{}\" r=\"{}\" {dress}/>\n",
                    at(x),
                    at(y),
                    at(r)
                ));
                &[]
            }
            Mark::Square => &[(-0.9, -0.9), (0.9, -0.9), (0.9, 0.9), (-0.9, 0.9)],
            Mark::Diamond => &[(0.0, -1.25), (1.25, 0.0), (0.0, 1.25), (-1.25, 0.0)],
            Mark::Triangle => &[(0.0, -1.2), (1.15, 0.85), (-1.15, 0.85)],
            Mark::Cross => {
                for (dx, dy) in [(r, r), (r, -r)] {
                    let ends = [(x - dx, y - dy), (x + dx, y + dy)];
                    self.line(&ends, PAPER, 5.0, "");
                }
                for (dx, dy) in [(r, r), (r, -r)] {
                    self.line(&[(x - dx, y - dy), (x + dx, y + dy)], color, 2.4, "");
                }
                &[]
            }
        };
        if !corners.is_empty() {
            let mut points = String::new();
            for (dx, dy) in corners {
                let _ = write!(points, "{},{} ", at(x + r * dx), at(y + r * dy));
            }
            self.put(format_args!(
                "<polygon points=\"{}\" {dress}/>\n",
                points.trim_end()
            ));
        }
        self.marks.push(Rect::around(x, y, 1.2 * r));
    }

    /// A point of a line, as small as that; labels take no heed of it.
    pub(super) fn dot(&mut self, x: f64, y: f64, r: f64, fill: Ink) {
        self.put(format_args!(
            "<circle cx=\"{}\" cy=\"{}\" r=\"{}\" fill=\"{}\"/>\n",
            at(x),
            at(y),
            at(r),
            fill.hex()
        ));
    }

    /// What labels keep clear of where they can.
    pub(super) fn avoid(&mut self, rect: Rect) {
        self.marks.push(rect);
    }

    /// A label beside a point: the nearest free place within `bounds`, never on other text, and clear
    /// of marks and lines, if there is such a place or `clear` asks for it; with a thin line to its
    /// point where it stands far off. `false` where there is no place, and then nothing is written.
    pub(super) fn label(
        &mut self,
        (x, y): (f64, f64),
        lines: &[(&str, Hand)],
        bounds: Rect,
        clear: bool,
    ) -> bool {
        let w = lines
            .iter()
            .map(|(text, hand)| hand.width(text))
            .fold(0.0, f64::max);
        let pitches: f64 = lines.iter().map(|(_, hand)| hand.pitch()).sum();
        let (Some((_, first)), Some((_, last))) = (lines.first(), lines.last()) else {
            return true;
        };
        let h = rise(first.size) + pitches - last.pitch() + fall(last.size);
        let Some((place, far)) = self.free_place((x, y), (w, h), bounds, clear) else {
            return false;
        };
        if far {
            self.line(&[(x, y), nearest(&place, (x, y))], QUIET, 0.9, "");
        }
        let mut base = place.y + rise(first.size);
        for (text, hand) in lines {
            let hand = hand.anchored(Anchor::Start);
            self.write(place.x, base, text, hand, f64::INFINITY);
            base += hand.pitch();
        }
        true
    }

    fn free_place(
        &self,
        (x, y): (f64, f64),
        (w, h): (f64, f64),
        bounds: Rect,
        clear: bool,
    ) -> Option<(Rect, bool)> {
        const TURNS: [(f64, f64); 12] = [
            (1.0, -0.6),
            (1.0, 0.6),
            (-1.0, -0.6),
            (-1.0, 0.6),
            (1.0, 0.0),
            (-1.0, 0.0),
            (0.0, -1.0),
            (0.0, 1.0),
            (0.5, -1.0),
            (0.5, 1.0),
            (-0.5, -1.0),
            (-0.5, 1.0),
        ];
        for clear in [true, clear] {
            for r in [9.0, 14.0, 20.0, 28.0, 38.0, 52.0, 70.0, 95.0, 130.0] {
                for (dx, dy) in TURNS {
                    // The corner or side that looks at the point is r away.
                    let left = x + dx * r - w * (1.0 - dx) / 2.0;
                    let top = y + dy * r - h * (1.0 - dy) / 2.0;
                    let place = Rect::new(left, top, w, h);
                    let roomy = Rect::new(left - 3.0, top - 1.0, w + 6.0, h + 2.0);
                    let far = r > 25.0;
                    if !bounds.holds(&place) || self.texts.iter().any(|text| text.hits(&roomy)) {
                        continue;
                    }
                    if far && self.crosses_text((x, y), nearest(&place, (x, y))) {
                        continue;
                    }
                    if clear && self.marks.iter().any(|mark| mark.hits(&place)) {
                        continue;
                    }
                    return Some((place, far));
                }
            }
        }
        None
    }

    fn crosses_text(&self, from: (f64, f64), to: (f64, f64)) -> bool {
        (0..=24).any(|i| {
            let share = f64::from(i) / 24.0;
            let x = from.0 + share * (to.0 - from.0);
            let y = from.1 + share * (to.1 - from.1);
            let here = Rect::around(x, y, 1.0);
            self.texts.iter().any(|text| text.hits(&here))
        })
    }

    /// The whole document.
    pub(super) fn finish(self, kind: &str, height: f64) -> String {
        let told = self.told.join(" ");
        let mut style = String::from("@media screen and (prefers-color-scheme:dark){");
        for ink in ALL {
            for side in ["fill", "stroke"] {
                let _ = write!(
                    style,
                    ".airsplit [{side}=\"{}\"]{{{side}:{}}}",
                    ink.hex(),
                    hex(ink.dark)
                );
            }
        }
        style.push('}');
        // Several pictures may stand in one page: their ids are told apart by what they show.
        let content = [self.title.as_str(), &told, &self.body];
        let id = content
            .iter()
            .flat_map(|text| text.bytes())
            .fold(0xcbf2_9ce4_8422_2325_u64, |hash, byte| {
                (hash ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3)
            });
        let id = format!("{kind}-{id:016x}");
        let (w, h) = (at(self.width), at(height));
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" class=\"airsplit\" role=\"img\" \
             aria-labelledby=\"{id}-title {id}-desc\" width=\"{w}\" height=\"{h}\" \
             viewBox=\"0 0 {w} {h}\" direction=\"ltr\" \
             font-family=\"Verdana, 'DejaVu Sans', Arial, sans-serif\">\n\
             <title id=\"{id}-title\">{}</title>\n<desc id=\"{id}-desc\">{}</desc>\n\
             <style>{style}</style>\n\
             <rect x=\"0\" y=\"0\" width=\"{w}\" height=\"{h}\" fill=\"{}\"/>\n{}</svg>\n",
            escaped(&self.title),
            escaped(&told),
            PAPER.hex(),
            self.body
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Contrast ratio of two colours: W3C, Web Content Accessibility Guidelines 2.1, definitions of
    /// "relative luminance" and "contrast ratio" (from memory).
    fn contrast(a: [u8; 3], b: [u8; 3]) -> f64 {
        let luminance = |color: [u8; 3]| {
            let [r, g, b] = color.map(|part| {
                let part = f64::from(part) / 255.0;
                if part <= 0.03928 {
                    part / 12.92
                } else {
                    ((part + 0.055) / 1.055).powf(2.4)
                }
            });
            0.2126 * r + 0.7152 * g + 0.0722 * b
        };
        let (a, b) = (luminance(a) + 0.05, luminance(b) + 0.05);
        (a / b).max(b / a)
    }

    #[test]
    fn prop_every_ink_stands_out_from_both_papers() {
        // 4.5 for text and 3 for graphics: criteria 1.4.3 and 1.4.11 there (from memory).
        for ink in [BLACK, QUIET, BLUE, ORANGE, PLUM, MOSS, DEEP] {
            assert!(contrast(ink.light, PAPER.light) > 4.5, "{ink:?}");
            assert!(contrast(ink.dark, PAPER.dark) > 4.5, "{ink:?}");
        }
        for (ink, least) in [(BLACK, 4.5), (QUIET, 4.5), (BLUE, 3.0), (ORANGE, 3.0)] {
            // Rows that are washed bear text and lines.
            assert!(contrast(ink.light, WASH.light) > least, "{ink:?}");
            assert!(contrast(ink.dark, WASH.dark) > least, "{ink:?}");
        }
        assert!(contrast(SAND.light, PAPER.light) > 3.0 && contrast(SAND.dark, PAPER.dark) > 3.0);
    }

    #[test]
    fn prop_steps_of_speed_are_told_by_lightness_alone() {
        for paper_to_ink in [SAND, ORANGE, BLUE, DEEP].windows(2) {
            let [near, far] = paper_to_ink else { continue };
            assert!(contrast(far.light, PAPER.light) > 1.2 * contrast(near.light, PAPER.light));
            assert!(contrast(far.dark, PAPER.dark) > 1.2 * contrast(near.dark, PAPER.dark));
        }
    }

    #[test]
    fn prop_text_from_outside_is_made_harmless() {
        assert_eq!(clean(" a\u{0}b\n\n c \u{202e}d\u{ffff} "), "a b c d");
        assert_eq!(clean("\u{200f}\t"), "(no name)");
        assert_eq!(
            escaped("<a & \"b\">'"),
            "&lt;a &amp; &quot;b&quot;&gt;&#39;"
        );
        assert_eq!(at(f64::NAN), "0");
        assert_eq!(at(-0.001), "0");
        assert_eq!(at(12.5), "12.5");
    }
}
