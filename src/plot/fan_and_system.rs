//! The fan's curve, what open sets ask of it, and where they meet.

use super::{
    PlotError, PlotOptions,
    chart::{Chart, Scale, drawable},
    ink::{
        BLACK, BLUE, Ink, MARGIN, MOSS, Mark, ORANGE, PLAIN, PLUM, QUIET, Rect, SMALL, Sheet,
        clean, isolated,
    },
    options::figure,
};
use crate::{
    fan::{Basis, FanCurve, FanPoint},
    place::Name,
    quantity::{Pressure, UnitSystem, VolumeFlow},
    solve::{Doubt, HALF_BAND, Network, OpenSet, SolveError, Status, UncertaintyError, Workspace},
    system::System,
};

/// Most open sets in one picture.
const MOST_SETS: usize = 8;
/// Most measured points.
const MOST_POINTS: usize = 40;
/// Points of a curve that is drawn.
const FINE: u32 = 160;
/// Points of a system curve, each a balance.
const SYSTEM: u32 = 40;

/// A point of flow and pressure with its standard uncertainties.
///
/// ```
/// use airsplit::{PlottedPoint, Pressure, VolumeFlow};
/// let read = PlottedPoint::new("pitot, main", VolumeFlow::from_cfm(810.0), Pressure::from_in_wg(9.1))
///     .give_or_take(VolumeFlow::from_cfm(25.0), Pressure::from_in_wg(0.1));
/// assert_eq!(read.name.as_str(), "pitot, main");
/// ```
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct PlottedPoint {
    /// What it is called.
    pub name: Name,
    /// Flow through the fan.
    pub flow: VolumeFlow,
    /// Pressure on the basis of the fan's curve, at the density of the air in the ducts.
    pub pressure: Pressure,
    /// Standard uncertainty of the flow; 0 where none is told. Its bar reaches 1.96 of them.
    pub flow_standard: VolumeFlow,
    /// Standard uncertainty of the pressure.
    pub pressure_standard: Pressure,
}

impl PlottedPoint {
    /// A point without uncertainties.
    #[must_use]
    pub fn new(name: impl Into<Name>, flow: VolumeFlow, pressure: Pressure) -> Self {
        Self {
            name: name.into(),
            flow,
            pressure,
            flow_standard: VolumeFlow::default(),
            pressure_standard: Pressure::default(),
        }
    }

    /// With these standard uncertainties.
    #[must_use]
    pub fn give_or_take(mut self, flow: VolumeFlow, pressure: Pressure) -> Self {
        self.flow_standard = flow;
        self.pressure_standard = pressure;
        self
    }
}

/// An open set as a picture shows it: its system curve, and where the fan settles.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct PlottedSet {
    /// What it is called, such as the machines that run.
    pub name: Name,
    /// The system curve, flow rising, on the basis of the fan's curve.
    pub curve: Vec<FanPoint>,
    /// Where the fan settles; `None` where it does not.
    pub point: Option<PlottedPoint>,
    /// How the answer stands; `None` where there is none.
    pub status: Option<Status>,
    /// Why there is no operating point.
    pub trouble: Option<String>,
}

impl PlottedSet {
    /// A curve without an operating point.
    #[must_use]
    pub fn new(
        name: impl Into<Name>,
        curve: impl IntoIterator<Item = (VolumeFlow, Pressure)>,
    ) -> Self {
        let curve = curve.into_iter();
        Self {
            name: name.into(),
            curve: curve
                .map(|(flow, pressure)| FanPoint { flow, pressure })
                .collect(),
            point: None,
            status: None,
            trouble: None,
        }
    }

    /// With this operating point, which stands so.
    #[must_use]
    pub fn settling_at(mut self, point: PlottedPoint, status: Status) -> Self {
        self.point = Some(point);
        self.status = Some(status);
        self
    }

    /// Asks the network for the curve and the operating point of an open set; without doubts the
    /// point has no bars. A set whose balance is not found is no error: its
    /// [`trouble`](Self::trouble) is told in the picture.
    ///
    /// ```
    /// # fn main() -> Result<(), Box<dyn std::error::Error>> {
    /// # #[cfg(feature = "serde")] {
    /// use airsplit::{Network, PlottedSet, Study};
    /// let study: Study = toml::from_str(&std::fs::read_to_string("examples/chair_shop.toml")?)?;
    /// let network = Network::new(&study.system)?;
    /// let set = PlottedSet::solve("planer", &network, &network.open(["planer"])?, &[])?;
    /// assert!(set.point.is_some() && set.curve.len() > 10);
    /// # }
    /// # Ok(())
    /// # }
    /// ```
    ///
    /// # Errors
    ///
    /// Nothing open, an open set of another network, no fan; a doubt that cannot be.
    pub fn solve(
        name: impl Into<Name>,
        network: &Network,
        open: &OpenSet,
        doubts: &[Doubt],
    ) -> Result<Self, UncertaintyError> {
        let name = name.into();
        let fan = network.system().collector.fan.as_ref();
        let most = fan.ok_or(SolveError::NoFan)?.largest_flow().as_m3_s();
        let mut work = Workspace::default();
        let mut set = Self::new(name.clone(), Vec::new());
        let mut end = most;
        match network.solve(open, &mut work) {
            Ok(balance) => {
                let (flow, pressure) = (balance.flow(), balance.curve_pressure());
                let mut point = PlottedPoint::new(name, flow, pressure);
                if !doubts.is_empty() {
                    let sure = balance.uncertainty(doubts)?;
                    point = point.give_or_take(
                        VolumeFlow::from_m3_s(sure.flow.standard),
                        Pressure::from_pa(sure.fan_pressure.standard),
                    );
                }
                end = end.max(flow.as_m3_s());
                set = set.settling_at(point, balance.status);
            }
            Err(error) if error.is_input() => return Err(error.into()),
            Err(error) => set.trouble = Some(error.to_string()),
        }
        let mut curve = network.system_curve(open)?;
        for i in 1..=SYSTEM {
            let flow = VolumeFlow::from_m3_s(1.1 * end * f64::from(i) / f64::from(SYSTEM));
            // A flow without a balance leaves a gap and no more.
            if let Ok(pressure) = curve.pressure(flow) {
                set.curve.push(FanPoint { flow, pressure });
            }
        }
        Ok(set)
    }
}

/// What tells the sets apart: colour, dash and mark. Among the first four the mark alone is enough;
/// the dash is among all.
const LOOKS: [(Ink, &str, Mark); MOST_SETS] = [
    (BLUE, "", Mark::Circle),
    (ORANGE, "9 4", Mark::Square),
    (PLUM, "2.5 3", Mark::Diamond),
    (MOSS, "12 3 2.5 3", Mark::Triangle),
    (BLUE, "4 3", Mark::Square),
    (ORANGE, "16 4", Mark::Diamond),
    (PLUM, "9 3 2 3 2 3", Mark::Triangle),
    (MOSS, "1.5 4", Mark::Circle),
];

/// The fan's curve in the air of the system, the system curves of open sets, where they meet, and
/// what was measured.
///
/// The washed stretch with an orange dotted curve is where the fan's curve rises: there it is
/// unstable, and more than one point may be possible. The end of the published curve is marked; what
/// lies beyond is dotted and a hint only. The bars of a point hold 95 % of its uncertainty.
///
/// ```
/// # fn main() -> Result<(), Box<dyn std::error::Error>> {
/// # #[cfg(feature = "serde")] {
/// use airsplit::{Network, PlotOptions, PlottedSet, Study, fan_and_system_svg};
/// let study: Study = toml::from_str(&std::fs::read_to_string("examples/chair_shop.toml")?)?;
/// let network = Network::new(&study.system)?;
/// let doubts = network.doubts(&study.assumptions);
/// let mut sets = Vec::new();
/// for machine in ["planer", "lathe"] {
///     sets.push(PlottedSet::solve(machine, &network, &network.open([machine])?, &doubts)?);
/// }
/// let svg = fan_and_system_svg(&study.system, &sets, &[], &PlotOptions::new())?;
/// assert!(svg.starts_with("<svg") && svg.contains("lathe"));
/// # }
/// # Ok(())
/// # }
/// ```
///
/// # Errors
///
/// [`PlotError`]: a size that cannot be; no fan; air that cannot be; more than 8 sets or 40 measured
/// points.
pub fn fan_and_system_svg(
    system: &System,
    sets: &[PlottedSet],
    measured: &[PlottedPoint],
    options: &PlotOptions,
) -> Result<String, PlotError> {
    let (width, height) = options.size(480)?;
    let units = options.units;
    for (what, given, most) in [
        ("open sets", sets.len(), MOST_SETS),
        ("measured points", measured.len(), MOST_POINTS),
    ] {
        if given > most {
            return Err(PlotError::TooMany { what, given, most });
        }
    }
    let missing = "the collector has no fan";
    let fan = system.collector.fan.as_ref();
    let fan = in_air(fan.ok_or(PlotError::Nothing { missing })?, system)?;

    let barred = |point: &PlottedPoint| {
        point.flow_standard.as_m3_s() > 0.0 || point.pressure_standard.as_pa() > 0.0
    };
    let settled = sets.iter().filter_map(|set| set.point.as_ref());
    let mut below = format!("{} against flow.", basis(fan.basis()));
    if settled.chain(measured).any(barred) {
        below.push_str(" Bars: 95 % of the uncertainty.");
    }
    if !measured.is_empty() {
        below.push_str(" Crosses: measured.");
    }
    let heading = options.heading("Fan and system");
    let (mut sheet, top) = Sheet::new(width, &heading, &below);
    let curve = sampled(&fan, units);
    let operating = || sets.iter().filter_map(|set| set.point.as_ref());
    let points = || operating().chain(measured);
    let flows = points().flat_map(|point| {
        let reach = HALF_BAND * point.flow_standard;
        [point.flow, point.flow + reach].map(|flow| units.flow(flow))
    });
    let pressures = points().flat_map(|point| {
        let reach = HALF_BAND * point.pressure_standard;
        [point.pressure, point.pressure + reach].map(|p| units.pressure(p))
    });
    let y_of_curve = curve.iter().map(|&(_, y)| y.max(0.0));
    let frame = Rect::new(
        MARGIN + 52.0,
        top + 22.0,
        width - 2.0 * MARGIN - 62.0,
        (height - top - 90.0).max(200.0),
    );
    let chart = Chart {
        frame,
        x: Scale::over(
            flows
                .chain(curve.iter().map(|&(x, _)| x))
                .chain([0.0])
                .map(|x| x.max(0.0)),
            (frame.w / 95.0) as usize,
        ),
        y: Scale::over(
            pressures.chain(y_of_curve).chain([0.0]).map(|y| y.max(0.0)),
            7,
        ),
    };
    let flow_name = format!("flow, {}", units.flow_unit());
    let pressure_name = format!("{}, {}", basis(fan.basis()), units.pressure_unit());
    chart.scales(&mut sheet, &flow_name, &pressure_name)?;

    let mut rest = Vec::new();
    let drawing = Drawing {
        chart: &chart,
        units,
    };
    for (set, look) in sets.iter().zip(&LOOKS) {
        drawing.system_curve(&mut sheet, set, *look)?;
    }
    drawing.fan(&mut sheet, &fan, &curve)?;
    for point in points() {
        drawing.bars(&mut sheet, point);
    }
    for point in measured {
        let (x, y) = drawing.at(point);
        if drawing.shows(point) {
            sheet.mark(Mark::Cross, x, y, 4.5, BLACK, true);
        }
    }
    for (set, (color, _, mark)) in sets.iter().zip(&LOOKS) {
        if let Some(point) = set.point.as_ref().filter(|point| drawing.shows(point)) {
            let (x, y) = drawing.at(point);
            let full = set.status == Some(Status::Converged);
            sheet.mark(*mark, x, y, 6.0, *color, full);
        }
    }
    drawing.fan_labels(&mut sheet, &fan, &curve);
    for (set, look) in sets.iter().zip(&LOOKS) {
        if let Some(line) = drawing.name_set(&mut sheet, set, *look) {
            let full = set.status == Some(Status::Converged);
            rest.push((Some((*look, set.point.as_ref().map(|_| full))), line));
        }
    }
    for point in measured {
        if let Some(line) = drawing.name_measured(&mut sheet, point) {
            rest.push((None, line));
        }
    }
    let mut bottom = frame.bottom() + 62.0;
    let room = width - 2.0 * MARGIN - 34.0;
    for (look, line) in rest {
        match look {
            Some(((color, dash, mark), settles)) => {
                let ends = [(MARGIN, bottom - 4.0), (MARGIN + 26.0, bottom - 4.0)];
                sheet.line(&ends, color, 2.0, dash);
                if let Some(full) = settles {
                    sheet.mark(mark, MARGIN + 13.0, bottom - 4.0, 5.0, color, full);
                }
            }
            None => sheet.mark(Mark::Cross, MARGIN + 13.0, bottom - 4.0, 4.5, BLACK, true),
        }
        sheet.write(MARGIN + 34.0, bottom, &line, PLAIN, room);
        bottom += 21.0;
    }
    sheet.tell(format!(
        "The fan gives {} at no flow and ends at {}.",
        units.pressure_text(fan.shut_off()),
        units.flow_text(fan.largest_flow())
    ));
    Ok(sheet.finish("fan-and-system", bottom.max(height)))
}

/// The fan's curve at the density of the air in the ducts.
fn in_air(fan: &FanCurve, system: &System) -> Result<FanCurve, PlotError> {
    let failed = |reason: String| PlotError::Fan { reason };
    let air = system.air.properties();
    let air = air.map_err(|error| failed(error.to_string()))?;
    fan.at_density(air.density)
        .map_err(|error| failed(error.to_string()))
}

fn basis(basis: Basis) -> &'static str {
    match basis {
        Basis::Total => "Fan total pressure",
        Basis::Static => "Fan static pressure",
        Basis::TestPipe { .. } => "Suction in the fan's test pipe",
    }
}

/// The curve between its first and its last point, in the units of the picture.
fn sampled(fan: &FanCurve, units: UnitSystem) -> Vec<(f64, f64)> {
    flows(fan)
        .map(|flow| (units.flow(flow), units.pressure(fan.pressure(flow))))
        .filter(|&(x, y)| drawable(x) && drawable(y))
        .collect()
}

fn flows(fan: &FanCurve) -> impl Iterator<Item = VolumeFlow> {
    let first = fan
        .points()
        .next()
        .map_or(0.0, |point| point.flow.as_m3_s());
    let last = fan.largest_flow().as_m3_s();
    (0..=FINE).map(move |i| {
        let share = f64::from(i) / f64::from(FINE);
        VolumeFlow::from_m3_s(first + share * (last - first))
    })
}

struct Drawing<'a> {
    chart: &'a Chart,
    units: UnitSystem,
}

impl Drawing<'_> {
    fn values(&self, flow: VolumeFlow, pressure: Pressure) -> (f64, f64) {
        (self.units.flow(flow), self.units.pressure(pressure))
    }

    fn shows(&self, point: &PlottedPoint) -> bool {
        self.chart.holds(self.values(point.flow, point.pressure))
    }

    fn at(&self, point: &PlottedPoint) -> (f64, f64) {
        let (x, y) = self.values(point.flow, point.pressure);
        (self.chart.px(x), self.chart.py(y))
    }

    fn system_curve(
        &self,
        sheet: &mut Sheet,
        set: &PlottedSet,
        (color, dash, _): (Ink, &str, Mark),
    ) -> Result<(), PlotError> {
        let points = set.curve.iter();
        let points = points.map(|point| self.values(point.flow, point.pressure));
        // No flow asks for no pressure.
        let points: Vec<_> = [(0.0, 0.0)].into_iter().chain(points).collect();
        self.chart.line(sheet, &points, color, 2.0, dash)?;
        self.keep_clear(sheet, &points);
        Ok(())
    }

    /// Small boxes along a line, that labels keep clear of.
    fn keep_clear(&self, sheet: &mut Sheet, points: &[(f64, f64)]) {
        for pair in points.windows(2) {
            let &[a, b] = pair else { continue };
            if !self.chart.holds(a) && !self.chart.holds(b) {
                continue;
            }
            for i in 0..4 {
                let share = f64::from(i) / 4.0;
                let on = (a.0 + share * (b.0 - a.0), a.1 + share * (b.1 - a.1));
                if self.chart.holds(on) {
                    sheet.avoid(Rect::around(self.chart.px(on.0), self.chart.py(on.1), 2.0));
                }
            }
        }
    }

    fn fan(
        &self,
        sheet: &mut Sheet,
        fan: &FanCurve,
        curve: &[(f64, f64)],
    ) -> Result<(), PlotError> {
        let chart = self.chart;
        chart.line(sheet, curve, BLACK, 3.0, "")?;
        self.keep_clear(sheet, curve);
        // Straight on, as the solver goes: no one measured that.
        let far = VolumeFlow::from_m3_s(2.0 * fan.largest_flow().as_m3_s());
        if let Some(&end) = curve.last() {
            let beyond = [end, self.values(far, fan.pressure(far))];
            chart.line(sheet, &beyond, BLACK, 1.6, "1.5 4")?;
            let nearer: Vec<_> = (0..=30)
                .map(|i| f64::from(i) / 30.0)
                .map(|share| (end.0 * (1.0 + share), end.1 + share * (beyond[1].1 - end.1)))
                .collect();
            self.keep_clear(sheet, &nearer);
        }
        for (from, to) in rising(fan) {
            let stretch: Vec<_> = flows(fan)
                .filter(|flow| (from..=to).contains(&flow.as_m3_s()))
                .map(|flow| self.values(flow, fan.pressure(flow)))
                .collect();
            let floor: Vec<_> = stretch.iter().map(|&(x, _)| (x, chart.y.low)).collect();
            chart.band(sheet, &stretch, &floor, ORANGE, 0.14)?;
            chart.line(sheet, &stretch, ORANGE, 6.0, "2 3")?;
        }
        for point in fan.points() {
            let (x, y) = self.values(point.flow, point.pressure);
            if chart.holds((x, y)) {
                sheet.dot(chart.px(x), chart.py(y), 3.4, BLACK);
            }
        }
        if let Some(&(x, y)) = curve.last() {
            let (x, y) = (chart.px(x), chart.py(y));
            sheet.line(&[(x, y - 11.0), (x, y + 11.0)], BLACK, 2.4, "");
            sheet.avoid(Rect::around(x, y, 8.0));
        }
        Ok(())
    }

    fn fan_labels(&self, sheet: &mut Sheet, fan: &FanCurve, curve: &[(f64, f64)]) {
        let chart = self.chart;
        let bounds = chart.frame;
        let at = |&(x, y): &(f64, f64)| (chart.px(x), chart.py(y));
        if let Some(end) = curve.last() {
            let end = at(end);
            let lines = [("end of the", SMALL), ("published curve", SMALL)];
            sheet.label(end, &lines, bounds, false);
        }
        for (from, to) in rising(fan) {
            let middle = VolumeFlow::from_m3_s(0.5 * (from + to));
            let middle = self.values(middle, fan.pressure(middle));
            let mut hand = SMALL;
            hand.ink = ORANGE;
            sheet.label(
                at(&middle),
                &[("curve rises:", hand), ("unstable", hand)],
                bounds,
                false,
            );
        }
        if let Some(early) = curve.get(curve.len() / 12) {
            let text = if fan.is_estimate() {
                "fan, ESTIMATED"
            } else {
                "fan"
            };
            sheet.label(at(early), &[(text, PLAIN.bold())], bounds, false);
        }
    }

    fn bars(&self, sheet: &mut Sheet, point: &PlottedPoint) {
        if !self.shows(point) {
            return;
        }
        let chart = self.chart;
        let (x, y) = self.at(point);
        let across = HALF_BAND * point.flow_standard;
        let along = HALF_BAND * point.pressure_standard;
        let x_at = |flow| chart.px(self.units.flow(flow));
        let y_at = |pressure| chart.py(self.units.pressure(pressure));
        let (left, right) = (x_at(point.flow - across), x_at(point.flow + across));
        let (low, high) = (y_at(point.pressure - along), y_at(point.pressure + along));
        if right - left > 1.0 {
            sheet.line(&[(left, y), (right, y)], BLACK, 1.3, "");
            for x in [left, right] {
                sheet.line(&[(x, y - 4.0), (x, y + 4.0)], BLACK, 1.3, "");
            }
            sheet.avoid(Rect::new(left, y - 4.0, right - left, 8.0));
        }
        if low - high > 1.0 {
            sheet.line(&[(x, low), (x, high)], BLACK, 1.3, "");
            for y in [low, high] {
                sheet.line(&[(x - 4.0, y), (x + 4.0, y)], BLACK, 1.3, "");
            }
            sheet.avoid(Rect::new(x - 4.0, high, 8.0, low - high));
        }
    }

    /// Names a set beside its point; what finds no place there is returned as a line of text.
    fn name_set(
        &self,
        sheet: &mut Sheet,
        set: &PlottedSet,
        (color, ..): (Ink, &str, Mark),
    ) -> Option<String> {
        let name = clean(set.name.as_str());
        let Some(point) = &set.point else {
            let trouble = set.trouble.as_deref().unwrap_or("none was given");
            let line = format!(
                "{}: no operating point: {}",
                isolated(&name),
                clean(trouble)
            );
            sheet.tell(format!("{line}."));
            return Some(line);
        };
        let figures = self.figures(point, true);
        let hint = match set.status {
            Some(Status::BeyondCurve) => "beyond the published curve: a hint only",
            Some(Status::BelowCurve) => "below the published curve: a hint only",
            _ => "",
        };
        let line = [isolated(&name), figures.clone(), hint.to_owned()];
        let line: Vec<_> = line.into_iter().filter(|part| !part.is_empty()).collect();
        let line = line.join(": ");
        sheet.tell(format!("{line}."));
        let mut hand = PLAIN.bold();
        hand.ink = color;
        if !self.shows(point) || hand.width(&name) > 0.34 * self.chart.frame.w {
            return Some(line);
        }
        let lines = [
            (name.as_str(), hand),
            (figures.as_str(), SMALL),
            (hint, SMALL),
        ];
        let lines: Vec<_> = lines
            .into_iter()
            .filter(|(text, _)| !text.is_empty())
            .collect();
        let placed = sheet.label(self.at(point), &lines, self.chart.frame, true);
        (!placed).then_some(line)
    }

    fn name_measured(&self, sheet: &mut Sheet, point: &PlottedPoint) -> Option<String> {
        let name = clean(point.name.as_str());
        let line = format!("{}: {}", isolated(&name), self.figures(point, true));
        sheet.tell(format!("Measured, {line}."));
        let mut hand = SMALL;
        hand.ink = QUIET;
        if !self.shows(point) || hand.width(&name) > 0.34 * self.chart.frame.w {
            return Some(line);
        }
        let placed = sheet.label(self.at(point), &[(&name, hand)], self.chart.frame, true);
        (!placed).then_some(line)
    }

    /// `1780 ± 60 m³/h at 2350 ± 40 Pa`
    fn figures(&self, point: &PlottedPoint, bars: bool) -> String {
        let units = self.units;
        let with = |value: f64, standard: f64, decimals: usize, unit: &str| {
            let reach = HALF_BAND * standard;
            let value = figure(value, decimals);
            if bars && reach > 0.0 && reach.is_finite() {
                format!("{value} ± {} {unit}", figure(reach, decimals))
            } else {
                format!("{value} {unit}")
            }
        };
        let flow = with(
            units.flow(point.flow),
            units.flow(point.flow_standard),
            0,
            units.flow_unit(),
        );
        let pressure = with(
            units.pressure(point.pressure),
            units.pressure(point.pressure_standard),
            units.pressure_decimals(),
            units.pressure_unit(),
        );
        format!("{flow} at {pressure}")
    }
}

/// Stretches of flow \[m3/s\] in which the curve rises.
fn rising(fan: &FanCurve) -> Vec<(f64, f64)> {
    let mut stretches: Vec<(f64, f64)> = Vec::new();
    if !fan.rises() {
        return stretches;
    }
    let flows: Vec<f64> = flows(fan).map(VolumeFlow::as_m3_s).collect();
    for pair in flows.windows(2) {
        let &[from, to] = pair else { continue };
        let pressure = |m3_s| fan.pressure(VolumeFlow::from_m3_s(m3_s));
        if pressure(to) > pressure(from) {
            match stretches.last_mut() {
                Some(last) if last.1 == from => last.1 = to,
                _ => stretches.push((from, to)),
            }
        }
    }
    stretches
}
