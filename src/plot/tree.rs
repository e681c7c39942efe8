//! The duct drawn as a tree: how wide, how fast, how much air.

mod layout;

use super::{
    PlotError, PlotOptions,
    ink::{
        Anchor, BLACK, BLUE, DEEP, Hand, Ink, MARGIN, ORANGE, PAPER, PLAIN, QUIET, Rect, SAND,
        SMALL, Sheet, at, clean, isolated,
    },
};
use crate::{
    decide::TransportLimits,
    place::Name,
    quantity::{UnitSystem, Velocity},
    solve::{OperatingPoint, SectionState, Status},
    system::{Section, Start, System},
};
use layout::{Spot, Tree};
use std::collections::HashMap;

/// Most sections in one picture.
const MOST: usize = 400;
const ROW: f64 = 46.0;
/// Room for the collector.
const COLLECTOR: f64 = 84.0;
/// A section of the main is drawn no shorter.
const LEAST_STEP: f64 = 54.0;
/// Widest and thinnest duct as drawn.
const THICK: f64 = 15.0;
const THIN: f64 = 3.5;

/// Air speed against what carries the dust; steps of lightness, and of dress.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Speed {
    Still,
    FarTooSlow,
    TooSlow,
    Enough,
    Fast,
}

/// Shares of the transport velocity at which the steps part.
const FAR_BELOW: f64 = 0.8;
const WELL_ABOVE: f64 = 1.4;

impl Speed {
    const ALL: [Self; 5] = [
        Self::Fast,
        Self::Enough,
        Self::TooSlow,
        Self::FarTooSlow,
        Self::Still,
    ];

    fn of(velocity: Velocity, limit: Velocity, flows: bool) -> Self {
        let share = velocity.as_m_s() / limit.as_m_s();
        match share {
            _ if !flows => Self::Still,
            share if share < FAR_BELOW => Self::FarTooSlow,
            share if share < 1.0 => Self::TooSlow,
            share if share > WELL_ABOVE => Self::Fast,
            _ => Self::Enough,
        }
    }

    fn ink(self) -> Ink {
        match self {
            Self::Still => QUIET,
            Self::FarTooSlow => SAND,
            Self::TooSlow => ORANGE,
            Self::Enough => BLUE,
            Self::Fast => DEEP,
        }
    }

    fn words(self) -> &'static str {
        match self {
            Self::Still => "no air",
            Self::FarTooSlow => "less than 80 % of it: chips lie",
            Self::TooSlow => "80 to 100 % of it: too slow",
            Self::Enough => "fast enough",
            Self::Fast => "more than 140 %: loses and wears more",
        }
    }
}

/// The duct of an answer as a tree, from the collector at the left to the hoods at the right.
///
/// Duct is drawn as wide as it is; its shade tells its air speed against the transport velocity of
/// `transport` (of each section its own, where that is told): dark is fast, light is slow. What is too
/// slow has a light dashed line in it besides, what carries no air is hollow. The flow stands on each
/// section, size and speed beside each hood.
///
/// An answer for some open gates is an analysis and no design basis: wood dust that lies in a duct
/// burns and explodes, and what keeps it moving is for local codes and licensed practice.
///
/// ```
/// # fn main() -> Result<(), Box<dyn std::error::Error>> {
/// # #[cfg(feature = "serde")] {
/// use airsplit::{Network, PlotOptions, Study, TransportLimits, Velocity, tree_svg};
/// let study: Study = toml::from_str(&std::fs::read_to_string("examples/chair_shop.toml")?)?;
/// let network = Network::new(&study.system)?;
/// let point = network.operating_point(&network.open(["planer", "lathe"])?)?;
/// let limits = TransportLimits::new(Velocity::from_m_s(20.0));
/// let svg = tree_svg(&study.system, &point, &limits, &PlotOptions::new())?;
/// assert!(svg.contains("planer port"));
/// # }
/// # Ok(())
/// # }
/// ```
///
/// # Errors
///
/// [`PlotError`]: a size that cannot be; no section, or more than 400 of them; a point of another
/// system. Of a system that is no tree only what drains into the collector is drawn.
pub fn tree_svg(
    system: &System,
    point: &OperatingPoint,
    transport: &TransportLimits,
    options: &PlotOptions,
) -> Result<String, PlotError> {
    let (width, _) = options.size(640)?;
    let units = options.units;
    if system.sections.len() > MOST {
        return Err(PlotError::TooMany {
            what: "sections",
            given: system.sections.len(),
            most: MOST,
        });
    }
    let tree = Tree::of(system);
    if tree.rows == 0 {
        let missing = "no section drains into the collector";
        return Err(PlotError::Nothing { missing });
    }
    let states = states(system, point)?;
    let names = tree.spots.iter().filter_map(|spot| {
        let section = system.sections.get(spot.section)?;
        let state = states.get(spot.section)?;
        let [name, figures] = leaf_words(section, state, spot.leaf, units)?;
        Some(NAME.width(&name).max(SMALL.width(&figures)))
    });
    let longest = names.fold(80.0, f64::max).min(230.0);
    // Each section must be long enough for its flow, and room for the take-offs besides.
    let figures = states.iter().filter(|state| flows(state));
    let figures = figures.map(|state| FLOW.width(&units.flow_figure(state.flow)) + 24.0);
    let least_step = figures.fold(LEAST_STEP, f64::max);
    let needed = 2.0 * MARGIN + COLLECTOR + longest + 14.0 + least_step * tree.depth as f64;
    let width = width.max(needed);
    let heading = options.heading("Flow in the duct");
    let below = below(point, transport, units);
    let (mut sheet, top) = Sheet::new(width, &heading, &below);

    let left = MARGIN + COLLECTOR;
    let right = width - MARGIN - longest - 14.0;
    let step = (right - left) / tree.depth.max(1) as f64;
    let widest = states
        .iter()
        .map(|state| breadth(state))
        .fold(0.0, f64::max);
    let drawing = Drawing {
        left,
        right,
        step,
        top: top + 14.0,
        widest,
        longest,
        units,
    };
    let limit_of = |section: &Section| {
        let own = transport.sections.get(&section.id);
        *own.unwrap_or(&transport.least_velocity)
    };
    let both = |spot: &Spot| {
        let section = system.sections.get(spot.section)?;
        Some((section, *states.get(spot.section)?))
    };
    let thick: HashMap<&Name, f64> = states
        .iter()
        .map(|state| (&state.id, drawing.thickness(state)))
        .collect();
    let mut ducts = Vec::with_capacity(tree.spots.len());
    for spot in &tree.spots {
        if let Some((section, state)) = both(spot) {
            let outlet = section.into.as_ref().and_then(|into| thick.get(into));
            let own = drawing.thickness(state);
            ducts.push(Duct {
                way: drawing.way(spot, own, outlet.copied().unwrap_or(0.0)),
                thick: own,
                speed: speed_of(state, limit_of(section)),
            });
        }
    }
    // All outsides before all insides: so joins are open.
    ducts.iter().for_each(|duct| duct.outside(&mut sheet));
    ducts.iter().for_each(|duct| duct.inside(&mut sheet));
    let bottom = drawing.top + tree.rows as f64 * ROW;
    drawing.collector(&mut sheet, &tree, point);
    for spot in &tree.spots {
        if let Some((section, state)) = both(spot) {
            drawing.words(&mut sheet, spot, section, state);
        }
    }
    let occurs = |speed| ducts.iter().any(|duct| duct.speed == speed);
    let end = key(&mut sheet, bottom + 34.0, transport, units, occurs);
    Ok(sheet.finish("tree", end))
}

const NAME: Hand = Hand::new(12.0, BLACK).bold();
const FLOW: Hand = Hand::new(11.0, BLACK);

/// The state of each section, in the order of the model.
fn states<'p>(
    system: &System,
    point: &'p OperatingPoint,
) -> Result<Vec<&'p SectionState>, PlotError> {
    let mut states = Vec::with_capacity(system.sections.len());
    for (i, section) in system.sections.iter().enumerate() {
        let state = point.sections.get(i).filter(|state| state.id == section.id);
        states.push(state.ok_or_else(|| PlotError::ForeignPoint {
            section: section.id.clone(),
        })?);
    }
    Ok(states)
}

fn below(point: &OperatingPoint, transport: &TransportLimits, units: UnitSystem) -> String {
    let own = if transport.sections.is_empty() {
        ""
    } else {
        ", some sections their own"
    };
    let hint = match point.status {
        Status::BeyondCurve => " BEYOND the fan's published curve: a hint only.",
        Status::BelowCurve => " BELOW the fan's published curve: a hint only.",
        Status::FlowImposed => " The flow was imposed.",
        Status::Converged => "",
    };
    format!(
        "Figures on the duct: flow, {}. Width: size of the duct. Shade: air speed against the \
         {}{own} that carry the dust.{hint}",
        units.flow_unit(),
        units.velocity_text(transport.least_velocity)
    )
}

/// Diameter of a round duct of the same area.
fn breadth(state: &SectionState) -> f64 {
    let d = (4.0 / std::f64::consts::PI * state.size.area().as_m2()).sqrt();
    if d.is_finite() { d } else { 0.0 }
}

fn flows(state: &SectionState) -> bool {
    state.flow.as_m3_s() > 1e-9
}

fn speed_of(state: &SectionState, limit: Velocity) -> Speed {
    Speed::of(state.velocity, limit, flows(state))
}

/// Name and figures at the end of a branch.
fn leaf_words(
    section: &Section,
    state: &SectionState,
    leaf: bool,
    units: UnitSystem,
) -> Option<[String; 2]> {
    if !leaf {
        return None;
    }
    let size = units.size_text(state.size);
    let figures = if flows(state) {
        format!("{size}, {}", units.velocity_text(state.velocity))
    } else {
        size
    };
    Some(match &section.start {
        Start::Hood(hood) => [clean(hood.id.as_str()), figures],
        Start::Capped => [clean(section.id.as_str()), format!("capped, {figures}")],
        Start::Leak(_) => [clean(section.id.as_str()), format!("leaks, {figures}")],
        Start::Joins => [clean(section.id.as_str()), format!("no inlet, {figures}")],
    })
}

struct Drawing {
    left: f64,
    right: f64,
    step: f64,
    top: f64,
    widest: f64,
    longest: f64,
    units: UnitSystem,
}

impl Drawing {
    fn y(&self, row: usize) -> f64 {
        self.top + (row as f64 + 0.62) * ROW
    }

    fn x(&self, depth: usize) -> f64 {
        self.left + depth as f64 * self.step
    }

    /// Downstream and upstream end of the level stretch.
    fn ends(&self, spot: &Spot) -> (f64, f64) {
        let end = if spot.leaf {
            self.right
        } else {
            self.x(spot.depth + 1)
        };
        (self.x(spot.depth), end)
    }

    fn thickness(&self, state: &SectionState) -> f64 {
        let share = if self.widest > 0.0 {
            breadth(state) / self.widest
        } else {
            0.0
        };
        (share * THICK).clamp(THIN, THICK)
    }

    /// How far apart take-offs of one join leave it.
    fn spacing(&self, take_offs: usize) -> f64 {
        let fitting = 0.55 * self.step / take_offs.max(1) as f64;
        fitting.min(THICK + 5.0)
    }

    /// The way of the duct, from its downstream end; `outlet` is the thickness of what it leaves.
    fn way(&self, spot: &Spot, thick: f64, outlet: f64) -> Vec<(f64, f64)> {
        let (x, end) = self.ends(spot);
        let y = self.y(spot.row);
        let Some(from) = spot.leaves else {
            return vec![(x, y), (end, y)];
        };
        // A swept take-off from the lower side of the duct above; of several that leave one join
        // the lowest stands farthest downstream, so that none crosses another.
        let x = x - thick / 2.0 - spot.before as f64 * self.spacing(spot.beside);
        let bend = 13.0_f64.min(0.3 * (end - x));
        let top = self.y(from) + outlet / 2.0;
        vec![(x, top), (x, y - bend), (x + bend, y), (end, y)]
    }

    fn collector(&self, sheet: &mut Sheet, tree: &Tree, point: &OperatingPoint) {
        let rows: Vec<f64> = tree
            .spots
            .iter()
            .filter(|spot| spot.depth == 0)
            .map(|spot| self.y(spot.row))
            .collect();
        let first = rows.first().copied().unwrap_or(self.top);
        let last = rows.last().copied().unwrap_or(first);
        let body = Rect::new(MARGIN, first - 26.0, COLLECTOR - 1.0, last - first + 52.0);
        sheet.outline(body, BLACK, 2.0);
        let middle = body.x + body.w / 2.0;
        let hand = |hand: Hand| hand.anchored(Anchor::Middle);
        let room = body.w - 8.0;
        sheet.write(middle, first - 9.0, "collector", hand(NAME), room);
        let flow = self.units.flow_figure(point.flow);
        sheet.write(middle, first + 7.0, &flow, hand(NAME), room);
        sheet.write(
            middle,
            first + 21.0,
            self.units.flow_unit(),
            hand(SMALL),
            room,
        );
        sheet.tell(format!(
            "The collector moves {flow} {}.",
            self.units.flow_unit()
        ));
    }

    fn words(&self, sheet: &mut Sheet, spot: &Spot, section: &Section, state: &SectionState) {
        let (x, end) = self.ends(spot);
        let y = self.y(spot.row);
        let units = self.units;
        let half = self.thickness(state) / 2.0;
        let flow = flows(state).then(|| units.flow_figure(state.flow));
        // On a main of many joins nothing stands where a take-off leaves.
        let room = end - x - 16.0;
        if let Some(flow) = &flow {
            let hand = FLOW.anchored(Anchor::Middle);
            let middle = if spot.leaf {
                x + (end - x).min(self.step) / 2.0 + 6.0
            } else {
                (x + end) / 2.0 + 4.0
            };
            sheet.write(middle, y - half - 4.5, flow, hand, room);
        }
        // What it is called, where there is room between the take-offs.
        let name = clean(section.id.as_str());
        let free = end - x - 14.0 - spot.take_offs as f64 * (self.spacing(spot.take_offs) + 4.0);
        if !spot.leaf && SMALL.width(&name) <= free {
            sheet.write(x + 8.0, y + half + 13.0, &name, SMALL, free);
        }
        let name = isolated(&name);
        let size = units.size_text(state.size);
        sheet.tell(match &flow {
            Some(flow) => format!(
                "{name}: {flow} {}, {}, {size}.",
                units.flow_unit(),
                units.velocity_text(state.velocity)
            ),
            None => format!("{name}: no air, {size}."),
        });
        if let Some([name, figures]) = leaf_words(section, state, spot.leaf, units) {
            let x = self.right + 14.0;
            let mut hand = NAME;
            if flow.is_none() {
                hand.ink = QUIET;
            }
            match &section.start {
                // Open to the room: a mouth.
                Start::Hood(_) => {
                    let r = half + 4.5;
                    let mouth = [
                        (end + 5.0, y - r),
                        (end, y - half),
                        (end, y + half),
                        (end + 5.0, y + r),
                    ];
                    sheet.line(&mouth, hand.ink, 2.0, "");
                }
                _ => {
                    let r = half + 2.5;
                    sheet.line(&[(end, y - r), (end, y + r)], QUIET, 3.0, "");
                }
            }
            sheet.write(x, y - 1.5, &name, hand, self.longest);
            sheet.write(x, y + 13.0, &figures, SMALL, self.longest);
        }
    }
}

/// A duct as it is drawn, dressed by its speed.
struct Duct {
    way: Vec<(f64, f64)>,
    thick: f64,
    speed: Speed,
}

impl Duct {
    fn outside(&self, sheet: &mut Sheet) {
        sheet.line(&self.way, self.speed.ink(), self.thick, "");
    }

    fn inside(&self, sheet: &mut Sheet) {
        let (thick, dash) = match self.speed {
            Speed::Still => ((self.thick - 2.4).max(1.2), ""),
            Speed::FarTooSlow => ((self.thick / 3.0).max(1.1), "4 4"),
            Speed::TooSlow => ((self.thick / 4.0).max(1.0), "9 5"),
            Speed::Enough | Speed::Fast => return,
        };
        sheet.line(&self.way, PAPER, thick, dash);
    }
}

/// What the shades mean, those that occur.
fn key(
    sheet: &mut Sheet,
    top: f64,
    transport: &TransportLimits,
    units: UnitSystem,
    occurs: impl Fn(Speed) -> bool,
) -> f64 {
    let (mut x, mut y) = (MARGIN, top);
    let least = format!(
        "{} asked for:",
        units.velocity_text(transport.least_velocity)
    );
    let least = sheet.write(x, y, &least, PLAIN, 220.0);
    x = least.right() + 16.0;
    for speed in Speed::ALL.into_iter().filter(|&speed| occurs(speed)) {
        let w = 42.0 + SMALL.width(speed.words()) + 18.0;
        if x + w > sheet.width - MARGIN {
            x = MARGIN;
            y += 22.0;
        }
        let sample = Duct {
            way: vec![(x, y - 4.0), (x + 34.0, y - 4.0)],
            thick: 9.0,
            speed,
        };
        sample.outside(sheet);
        sample.inside(sheet);
        let room = sheet.width - MARGIN - x - 42.0;
        sheet.write(x + 42.0, y, speed.words(), SMALL, room);
        x += w;
    }
    // Nothing stands upright in it: a rule parts it from the drawing.
    let rule = format!("{} {}", at(MARGIN), at(top - 20.0));
    sheet.put(format_args!(
        "<path d=\"M{rule} H{}\" fill=\"none\" stroke=\"{}\"/>\n",
        at(sheet.width - MARGIN),
        super::ink::GRID.hex()
    ));
    y + 24.0
}
