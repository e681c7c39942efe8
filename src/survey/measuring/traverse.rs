//! Traverses: many readings across a duct, and the flow that follows.

use super::{
    MeasuredFlow, MeasuredVelocity, MeasuringCause, MeasuringError, Probe, ReadingNote, Station,
    StraightSide, TraverseLine, TraversePlan, TraverseProfile, TraverseRule,
    evenness::{lean, validity},
    instrument::even,
    measured::Doubts,
    positions::bias_on_power_profile,
    probe::{Shown, velocity_within},
    station::Checked,
    velocity_pressure::MOST_PA,
};
use crate::{
    bore::Bore,
    loss::LossError,
    quantity::{Density, Length, Pressure, Velocity},
};

/// Straight duct wanted before and after a traverse, in diameters: 2021 ASHRAE Handbook -
/// Fundamentals, ch. 38.
const WANTED: [f64; 2] = [7.5, 3.0];
/// The least that EPA Method 1 takes: 40 CFR 60, appendix A-1, 1.2.
const REFUSED: [f64; 2] = [2.0, 0.5];

/// How far the probe is put from where it belongs \[m\], as a standard uncertainty: common practice,
/// no source.
const PLACEMENT_M: f64 = 0.001;

/// Readings across a duct.
///
/// As text (TOML here), a list of readings for each line, from the hole to the far wall:
///
/// ```toml
/// rule = "log_linear"
/// upstream = "4 ft"
/// velocity_pressures = [
///     ["0.52 in wg", "0.71 in wg", "0.80 in wg", "0.79 in wg", "0.70 in wg", "0.55 in wg"],
///     ["0.50 in wg", "0.70 in wg", "0.81 in wg", "0.80 in wg", "0.72 in wg", "0.53 in wg"],
/// ]
/// ```
///
/// ```
/// use airsplit::*;
/// let lines = [[17.8, 20.8, 22.1, 21.9, 20.6, 18.3], [17.4, 20.6, 22.2, 22.1, 20.9, 17.9]];
/// let lines = lines.map(|line| line.map(Velocity::from_m_s).to_vec());
/// let traverse = Traverse::of_velocities(TraverseRule::LogLinear, lines.to_vec())
///     .with_straight(Length::from_ft(4.0), Length::from_ft(2.0));
/// let at = Station::new(Bore::Round(Length::from_in(6.0)), Air::standard().properties()?);
/// let flow = traverse.flow(&at)?;
/// assert!((flow.flow.as_cfm() - 781.0).abs() < 1.0);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
#[non_exhaustive]
pub struct Traverse {
    /// The rule by which the points were chosen.
    pub rule: TraverseRule,
    /// The velocities of each line, -100 to 100 m/s; empty where velocity pressures are told.
    #[cfg_attr(
        feature = "serde",
        serde(default, skip_serializing_if = "Vec::is_empty")
    )]
    pub velocities: Vec<Vec<Velocity>>,
    /// The velocity pressures of each line, -10 to 10 kPa; empty where velocities are told.
    #[cfg_attr(
        feature = "serde",
        serde(default, skip_serializing_if = "Vec::is_empty")
    )]
    pub velocity_pressures: Vec<Vec<Pressure>>,
    /// What they were read with.
    #[cfg_attr(feature = "serde", serde(default))]
    pub probe: Probe,
    /// Straight duct before the traverse, from the last elbow, junction, transition or gate: 0 to
    /// 1000 m. `None`: taken as none.
    #[cfg_attr(
        feature = "serde",
        serde(default, skip_serializing_if = "Option::is_none")
    )]
    pub upstream: Option<Length>,
    /// Straight duct after it, likewise.
    #[cfg_attr(
        feature = "serde",
        serde(default, skip_serializing_if = "Option::is_none")
    )]
    pub downstream: Option<Length>,
}

/// What a traverse says.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct TraverseResult {
    /// The flow; `None` where the traverse is void, and the notes that [void](ReadingNote::voids) it
    /// say why.
    pub measured: Option<TraverseFlow>,
    /// All that is to be said about it.
    pub notes: Vec<ReadingNote>,
}

/// The flow of a traverse.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct TraverseFlow {
    /// Mean velocity: the mean of the velocities, not the velocity of the mean pressure, which is
    /// higher. (Notes stand in the result.)
    pub velocity: MeasuredVelocity,
    /// Mean velocity times inner area (common practice, no source).
    pub flow: MeasuredFlow,
    /// The same mass as a volume of standard air, 0.075 lb/ft3.
    pub standard_flow: MeasuredFlow,
    /// How even it was.
    pub profile: TraverseProfile,
}

impl Traverse {
    /// A traverse of velocities, line by line.
    #[must_use]
    pub fn of_velocities(rule: TraverseRule, lines: Vec<Vec<Velocity>>) -> Self {
        Self {
            velocities: lines,
            ..Self::empty(rule)
        }
    }

    /// A traverse of velocity pressures, line by line.
    #[must_use]
    pub fn of_pressures(rule: TraverseRule, lines: Vec<Vec<Pressure>>) -> Self {
        Self {
            velocity_pressures: lines,
            ..Self::empty(rule)
        }
    }

    fn empty(rule: TraverseRule) -> Self {
        Self {
            rule,
            velocities: Vec::new(),
            velocity_pressures: Vec::new(),
            probe: Probe::default(),
            upstream: None,
            downstream: None,
        }
    }

    /// Read with this.
    #[must_use]
    pub fn with_probe(mut self, probe: Probe) -> Self {
        self.probe = probe;
        self
    }

    /// With straight duct before and after it.
    #[must_use]
    pub fn with_straight(mut self, upstream: Length, downstream: Length) -> Self {
        self.upstream = Some(upstream);
        self.downstream = Some(downstream);
        self
    }

    /// The flow.
    ///
    /// # Errors
    /// As [`Self::measure`]; a void traverse is an error here.
    pub fn flow(&self, at: &Station) -> Result<MeasuredFlow, MeasuringError> {
        let TraverseResult { measured, notes } = self.measure(at)?;
        match measured {
            Some(measured) => Ok(MeasuredFlow {
                notes,
                ..measured.flow
            }),
            None => Err(MeasuringError::Void { notes }),
        }
    }

    /// All that the traverse says at this place.
    ///
    /// The standard uncertainty of the mean velocity is made up of:
    ///
    /// | cause | how much |
    /// |---|---|
    /// | instrument, coefficient | their class, alike in all readings |
    /// | spread | standard deviation of readings that would be alike in a symmetric profile, over the root of their number (JCGM 100:2008, 4.2.3; from memory) |
    /// | placement | 1 mm at each point, with the slope of the 1/7-power profile there |
    /// | rule | its bias on the 1/7-power profile |
    /// | siting | 4 % (equal areas; the handbook's bias near fittings) or 2 % (other rules, judgement) as a limit, less as straight duct before the traverse nears 7.5 diameters |
    /// | density | half its share where pressures are told |
    ///
    /// and that of the flow of the area besides.
    ///
    /// # Errors
    /// Readings that are none, of two kinds, outside their range or in numbers that the rule does not
    /// have; a rule that is not for this shape; an instrument that does not show them; a value of
    /// probe or place outside its range. A void traverse is no error here.
    pub fn measure(&self, at: &Station) -> Result<TraverseResult, MeasuringError> {
        let place = at.checked()?;
        let lines = self.lines()?;
        let points = lines.first().map_or(0, Vec::len);
        let layout = TraversePlan {
            rule: Some(self.rule),
            lines: Some(lines.len()),
            points: Some(points),
            probe: self.probe.width,
        }
        .layout(at.bore)?;
        let flat: Vec<f64> = lines.iter().flatten().copied().collect();
        let density = place.air.kg_m3;
        let shown = if self.velocities.is_empty() {
            Shown::pressures(&self.probe, &flat, density)?
        } else {
            Shown::velocities(&self.probe, &flat, density)?
        };
        let mut notes = layout.notes;
        notes.extend(self.siting_notes(&place)?);
        notes.extend(shown.notes());
        let faults = validity(&shown.m_s);
        let is_void = faults.iter().any(ReadingNote::voids);
        notes.extend(faults);
        if is_void {
            return Ok(TraverseResult {
                measured: None,
                notes,
            });
        }
        let readings = shown.m_s.len() as f64;
        let mean = shown.mean();
        let lean = lean(&shown.m_s, points, matches!(at.bore, Bore::Round(_)));
        let bias = self.bias(at.bore, lines.len(), points)?;
        let placement = placement(&layout.lines, &shown.m_s);
        let doubts = shown
            .doubts()
            .and(MeasuringCause::Spread, lean / readings.sqrt())
            .and(MeasuringCause::Placement, placement)
            .and(MeasuringCause::Rule, bias * mean)
            .and(MeasuringCause::Siting, self.siting(&place) * mean);
        Ok(TraverseResult {
            measured: Some(flows(
                &doubts,
                mean,
                shown.density_exponent,
                &place,
                TraverseProfile::new(&shown.m_s, mean, lean),
            )),
            notes,
        })
    }

    /// The readings in SI units, every one within its range, all lines alike.
    fn lines(&self) -> Result<Vec<Vec<f64>>, MeasuringError> {
        let velocity = |v: &Velocity| velocity_within(v.as_m_s());
        let pressure = |p: &Pressure| {
            LossError::within("velocity pressure", p.as_pa(), " Pa", -MOST_PA, MOST_PA)
        };
        let lines = match (
            self.velocities.is_empty(),
            self.velocity_pressures.is_empty(),
        ) {
            (false, true) => within(&self.velocities, velocity)?,
            (true, false) => within(&self.velocity_pressures, pressure)?,
            (true, true) => return Err(MeasuringError::Readings { given: "none is" }),
            (false, false) => return Err(MeasuringError::Readings { given: "both are" }),
        };
        let first = lines.first().map_or(0, Vec::len);
        let uneven = lines.iter().zip(1..).find(|(line, _)| line.len() != first);
        match uneven {
            None => Ok(lines),
            Some((readings, line)) => Err(MeasuringError::Ragged {
                line,
                given: readings.len(),
                first,
            }),
        }
    }

    fn siting_notes(&self, place: &Checked) -> Result<Vec<ReadingNote>, MeasuringError> {
        let sides = [
            (StraightSide::Upstream, self.upstream),
            (StraightSide::Downstream, self.downstream),
        ];
        let mut notes = Vec::new();
        for (((side, length), wanted), refused) in sides.into_iter().zip(WANTED).zip(REFUSED) {
            let Some(length) = length else {
                notes.push(ReadingNote::StraightUnknown { side });
                continue;
            };
            let m = LossError::within("straight duct", length.as_m(), " m", 0.0, 1000.0)?;
            let diameters = m / place.area.diameter_m;
            // So that 30 in of a 4 in duct are 7.5 diameters.
            if diameters < wanted * (1.0 - 1e-9) {
                notes.push(ReadingNote::ShortStraight {
                    side,
                    diameters,
                    wanted,
                    refused: diameters < refused * (1.0 - 1e-9),
                });
            }
        }
        Ok(notes)
    }

    /// Bias of the rule on the 1/7-power profile, as a share: of a rectangle along both sides.
    fn bias(&self, bore: Bore, lines: usize, points: usize) -> Result<f64, MeasuringError> {
        let along = |n| {
            let fractions = self.rule.fractions(bore, n)?;
            Ok::<_, MeasuringError>(bias_on_power_profile(bore, &fractions))
        };
        match bore {
            Bore::Round(_) => along(points),
            Bore::Rectangular { .. } => Ok(along(points)? + along(lines)?),
        }
    }

    /// Standard uncertainty for short straight duct before the traverse, as a share.
    fn siting(&self, place: &Checked) -> f64 {
        let limit = match self.rule {
            TraverseRule::EqualArea => 0.04,
            TraverseRule::LogLinear | TraverseRule::LogTchebycheff => 0.02,
        };
        let [wanted, _] = WANTED;
        let diameters = self.upstream.map_or(0.0, Length::as_m) / place.area.diameter_m;
        even(limit) * (1.0 - diameters / wanted).clamp(0.0, 1.0)
    }
}

/// Standard uncertainty of the mean because every point is a little off its place.
fn placement(lines: &[TraverseLine], m_s: &[f64]) -> f64 {
    let points = lines.iter().flat_map(|line| &line.points);
    let squares = points.zip(m_s).map(|(point, v)| {
        let from_wall = point.from_wall.as_m();
        let to_wall = from_wall * (1.0 / point.fraction - 1.0);
        // Of the 1/7-power profile dV/dy = V / (7 y), and no more than V.
        let off = v * (PLACEMENT_M / (7.0 * from_wall.min(to_wall))).min(1.0);
        off * off
    });
    squares.sum::<f64>().sqrt() / m_s.len().max(1) as f64
}

fn within<Q>(
    lines: &[Vec<Q>],
    read: impl Fn(&Q) -> Result<f64, LossError>,
) -> Result<Vec<Vec<f64>>, MeasuringError> {
    let of_line = |(readings, line): (&Vec<Q>, usize)| {
        let numbered = readings.iter().zip(1..);
        let readings = numbered.map(|(reading, point)| {
            read(reading).map_err(|error| MeasuringError::Reading { line, point, error })
        });
        readings.collect()
    };
    lines.iter().zip(1..).map(of_line).collect()
}

/// Velocity, flow and standard flow, from the doubts of the velocity without that of the density.
fn flows(
    doubts: &Doubts,
    mean: f64,
    exponent: f64,
    place: &Checked,
    profile: TraverseProfile,
) -> TraverseFlow {
    let Checked { area, air } = place;
    let density = |exponent: f64, value: f64| exponent * air.share * value;
    let flow = mean * area.m2;
    let to_standard = air.kg_m3 / Density::STANDARD_AIR.as_kg_m3();
    let of_flow = || {
        let doubts = doubts.clone().times(area.m2);
        doubts.and(MeasuringCause::Area, area.share * flow)
    };
    let with_density = |doubts: Doubts, exponent, value| {
        doubts.and(MeasuringCause::Density, density(exponent, value))
    };
    let standard = flow * to_standard;
    let of_standard = of_flow().times(to_standard);
    TraverseFlow {
        velocity: with_density(doubts.clone(), exponent, mean).of_velocity(mean, Vec::new()),
        flow: with_density(of_flow(), exponent, flow).of_flow(flow, Vec::new()),
        standard_flow: with_density(of_standard, exponent + 1.0, standard)
            .of_flow(standard, Vec::new()),
        profile,
    }
}
