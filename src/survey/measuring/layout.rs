//! The drilling list of a traverse.

use super::{MeasuringError, ReadingNote, TraverseRule, station::Face};
use crate::{
    bore::Bore,
    loss::LossError,
    quantity::{Angle, Length},
};

/// Ducts smaller than this are not for EPA Method 1: 12 in (40 CFR 60, appendix A-1, 1.2).
const SMALL_IN: f64 = 12.0;

/// Most width of a pitot tube as a share of the duct: AMCA Standard 210, from memory.
const WIDEST: f64 = 1.0 / 30.0;

/// Where to drill and how far to push the probe in.
///
/// What is not said is the usual: log-linear on two diameters of a round duct, log-Tchebycheff in a
/// rectangular one.
///
/// ```
/// use airsplit::{Bore, Length, TraversePlan};
/// let layout = TraversePlan::default().layout(Bore::Round(Length::from_in(6.0)))?;
/// assert_eq!(layout.lines.len(), 2);
/// for point in &layout.lines[0].points {
///     println!("{:.2} in from the inner wall", point.from_wall.as_in());
/// }
/// # Ok::<(), airsplit::MeasuringError>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Default)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields, default)
)]
#[non_exhaustive]
pub struct TraversePlan {
    /// The rule.
    pub rule: Option<TraverseRule>,
    /// How many lines.
    pub lines: Option<usize>,
    /// How many points on each.
    pub points: Option<usize>,
    /// Width of the probe, 0.1 to 100 mm.
    pub probe: Option<Length>,
}

/// A drilling list.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct TraverseLayout {
    /// The rule.
    pub rule: TraverseRule,
    /// The inner size of the duct.
    pub bore: Bore,
    /// A hole and the points behind it, for each line.
    pub lines: Vec<TraverseLine>,
    /// What is not as it should be.
    pub notes: Vec<ReadingNote>,
}

/// One line of a traverse.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct TraverseLine {
    /// Where the hole is.
    pub at: LineAt,
    /// The points, from the hole to the far wall.
    pub points: Vec<TraversePoint>,
}

/// Where a line starts.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize),
    serde(rename_all = "snake_case")
)]
#[non_exhaustive]
pub enum LineAt {
    /// On a diameter, this angle around the duct from the first.
    Diameter(Angle),
    /// In the wall of the `height`, this far from its lower inner corner; the line runs along the
    /// `width`.
    Height(Length),
}

/// One point of a traverse.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct TraversePoint {
    /// Fraction of the line.
    pub fraction: f64,
    /// Distance of the middle of the probe from the *inner* wall at the hole: add the thickness of
    /// the wall, and of a collar, to mark the probe.
    pub from_wall: Length,
}

impl TraversePlan {
    /// By this rule.
    #[must_use]
    pub fn with_rule(mut self, rule: TraverseRule) -> Self {
        self.rule = Some(rule);
        self
    }

    /// On so many lines.
    #[must_use]
    pub fn with_lines(mut self, lines: usize) -> Self {
        self.lines = Some(lines);
        self
    }

    /// With so many points on each.
    #[must_use]
    pub fn with_points(mut self, points: usize) -> Self {
        self.points = Some(points);
        self
    }

    /// With a probe so wide.
    #[must_use]
    pub fn with_probe(mut self, width: Length) -> Self {
        self.probe = Some(width);
        self
    }

    /// The drilling list for a duct of this inner size.
    ///
    /// # Errors
    /// A size outside 10 mm to 10 m, a rule that is not for this shape, a number of points or lines
    /// that it does not have, a probe outside its range.
    pub fn layout(&self, bore: Bore) -> Result<TraverseLayout, MeasuringError> {
        let face = Face::new(bore, 0.0)?;
        let rule = self.rule.unwrap_or_else(|| TraverseRule::usual(bore));
        let [along, across] = match bore {
            Bore::Round(diameter) => [diameter, diameter],
            Bore::Rectangular { width, height } => [width, height],
        };
        let points = self
            .points
            .unwrap_or_else(|| rule.usual_points(bore, along));
        let lines = self.lines.unwrap_or_else(|| match bore {
            Bore::Round(_) => 2,
            Bore::Rectangular { .. } => rule.usual_points(bore, across),
        });
        let fractions = rule.fractions(bore, points)?;
        rule.check_lines(bore, lines)?;
        let starts: Vec<LineAt> = match bore {
            // Two at 90 degrees, three at 60.
            Bore::Round(_) => (0..lines)
                .map(|i| LineAt::Diameter(Angle::from_deg(180.0 / lines as f64 * i as f64)))
                .collect(),
            Bore::Rectangular { height, .. } => rule
                .fractions(bore, lines)?
                .into_iter()
                .map(|at| LineAt::Height(height * at))
                .collect(),
        };
        let on_line: Vec<TraversePoint> = fractions
            .into_iter()
            .map(|fraction| TraversePoint {
                fraction,
                from_wall: along * fraction,
            })
            .collect();
        let notes = self.notes(&face, &on_line, matches!(bore, Bore::Round(_)), lines)?;
        let line = |at| TraverseLine {
            at,
            points: on_line.clone(),
        };
        Ok(TraverseLayout {
            rule,
            bore,
            lines: starts.into_iter().map(line).collect(),
            notes,
        })
    }

    fn notes(
        &self,
        face: &Face,
        points: &[TraversePoint],
        is_round: bool,
        lines: usize,
    ) -> Result<Vec<ReadingNote>, MeasuringError> {
        let mut notes = Vec::new();
        let size = Length::from_m(face.diameter_m);
        // So that 12 in typed in any unit is 12 in.
        if size.as_in() < SMALL_IN * (1.0 - 1e-9) {
            notes.push(ReadingNote::SmallBore { size });
        }
        if let Some(probe) = self.probe {
            let what = "width of the probe";
            LossError::within(what, probe.as_mm(), " mm", 0.1, 100.0)?;
            let most = size * WIDEST;
            if probe > most {
                notes.push(ReadingNote::WideProbe { probe, most });
            }
            let half_width = probe / 2.0;
            let near_half = points.iter().zip(1..);
            notes.extend(near_half.filter_map(|(at, point)| {
                let from_wall = at.from_wall;
                (at.fraction < 0.5 && from_wall < half_width).then_some(ReadingNote::InTheWall {
                    point,
                    from_wall,
                    half_width,
                })
            }));
        }
        if is_round && lines == 1 {
            notes.push(ReadingNote::OneDiameter);
        }
        let all = lines.saturating_mul(points.len());
        if !is_round && all < 9 {
            notes.push(ReadingNote::FewPoints { points: all });
        }
        Ok(notes)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn round(inches: f64) -> Bore {
        Bore::Round(Length::from_in(inches))
    }

    #[test]
    fn prop_what_a_small_duct_is_told() {
        let plan = TraversePlan::default().with_probe(Length::from_mm(8.0));
        let notes = plan.layout(round(4.0)).unwrap().notes;
        let texts: Vec<_> = notes.iter().map(ToString::to_string).collect();
        insta::assert_snapshot!(texts.join("\n"), @r"
        a duct of 101.6 mm is smaller than 12 in: take 6 log-linear points on two diameters with a thin tube, placed with care
        a probe 8.0 mm wide blocks the duct; at most 3.4 mm
        point 1 lies 3.3 mm from the wall, nearer than half of the probe, 4.0 mm: read it touching the wall
        ");
        let notes = plan.layout(Bore::Round("304.8 mm".parse().unwrap()));
        assert!(notes.unwrap().notes.is_empty());
    }

    #[test]
    fn prop_diameters_share_the_half_turn() {
        let angles = |lines| -> Vec<f64> {
            let plan = TraversePlan::default().with_lines(lines);
            let layout = plan.layout(round(14.0)).unwrap();
            layout
                .lines
                .iter()
                .map(|line| match line.at {
                    LineAt::Diameter(angle) => angle.as_deg(),
                    LineAt::Height(_) => f64::NAN,
                })
                .collect()
        };
        assert_eq!(angles(2), [0.0, 90.0]);
        assert_eq!(angles(3), [0.0, 60.0, 120.0]);
    }

    #[test]
    fn val_lines_by_the_length_of_the_side() {
        // An instrument manual: 5 lines under 30 in, 6 for 30 to 36 in, 7 above.
        let count = |width: f64, height: f64| {
            let bore = Bore::Rectangular {
                width: Length::from_in(width),
                height: Length::from_in(height),
            };
            let layout = TraversePlan::default().layout(bore).unwrap();
            (layout.lines.len(), layout.lines[0].points.len())
        };
        assert_eq!(count(29.9, 30.0), (6, 5));
        assert_eq!(count(36.0, 36.1), (7, 6));
    }

    proptest! {
        #[test]
        fn prop_every_point_is_inside(
            width in any::<f64>(), mm in 10.0..2000.0_f64, height in 10.0..2000.0_f64,
            lines in proptest::option::of(0..30_usize), points in proptest::option::of(0..30_usize),
            probe in proptest::option::of(any::<f64>()),
        ) {
            for rule in [None, Some(TraverseRule::LogLinear), Some(TraverseRule::EqualArea)] {
                let plan = TraversePlan { rule, lines, points, probe: probe.map(Length::from_mm) };
                for width in [width, mm] {
                    let width = Length::from_mm(width);
                    let height = Length::from_mm(height);
                    for bore in [Bore::Round(width), Bore::Rectangular { width, height }] {
                        let Ok(layout) = plan.layout(bore) else { continue };
                        for line in &layout.lines {
                            for point in &line.points {
                                prop_assert!(point.from_wall.as_m() > 0.0 && point.from_wall < width);
                            }
                        }
                    }
                }
            }
        }
    }
}
