//! Where to read across a duct: the rules and their positions along a line.

use super::MeasuringError;
use crate::{bore::Bore, quantity::Length};
use std::fmt;

/// How the points of a traverse are spread, so that the plain mean of the velocities is that of the
/// duct.
///
/// | rule | duct | points on a line | lines | source of the positions |
/// |---|---|---|---|---|
/// | log-linear | round | 6, 8 or 10 | 1 to 3 diameters | an instrument manual (two misprints set right), as in ISO 3966 (from memory) |
/// | log-Tchebycheff | rectangular | 5, 6 or 7 | 5, 6 or 7 | an instrument manual; they fit the positions of 2021 ASHRAE Handbook - Fundamentals, ch. 38, example 2 |
/// | equal area | round | an even number, 4 to 24 | 1 to 3 diameters | exact: 40 CFR 60, appendix A-1, Method 1, table 1-2 (its figures from memory) |
/// | equal area | rectangular | 2 to 20 | 2 to 20 | middles of equal parts |
///
/// On the 1/7-power profile of a round pipe the log-linear rule reads 0.1 to 0.3 % low and the equal
/// areas 0.4 to 1.4 % high; near fittings equal areas read a steady 3 to 4 % high (2021 ASHRAE
/// Handbook - Fundamentals, ch. 38).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "snake_case")
)]
#[non_exhaustive]
pub enum TraverseRule {
    /// For round duct.
    LogLinear,
    /// For rectangular duct.
    LogTchebycheff,
    /// For both, and less exact with as many points.
    EqualArea,
}

/// Positions up to the middle as fractions of the line, from the wall.
const LOG_LINEAR: [&[f64]; 3] = [
    &[0.032, 0.135, 0.321],
    &[0.021, 0.117, 0.184, 0.345],
    &[0.019, 0.077, 0.153, 0.217, 0.361],
];
const LOG_TCHEBYCHEFF: [&[f64]; 3] = [
    &[0.074, 0.288, 0.500],
    &[0.061, 0.235, 0.437],
    &[0.053, 0.203, 0.366, 0.500],
];

/// Sides from which on six and seven lines cross them: 30 and 36 in (an instrument manual).
const SIX_FROM_IN: f64 = 30.0;
const SEVEN_ABOVE_IN: f64 = 36.0;

impl TraverseRule {
    /// The rule for a duct of this shape: log-linear for round, log-Tchebycheff for rectangular.
    #[must_use]
    pub fn usual(bore: Bore) -> Self {
        match bore {
            Bore::Round(_) => Self::LogLinear,
            Bore::Rectangular { .. } => Self::LogTchebycheff,
        }
    }

    /// Positions along one line of that many points, as fractions of it from the wall where the probe
    /// enters: symmetric, and the same on every line.
    ///
    /// ```
    /// use airsplit::{Bore, Length, TraverseRule};
    /// let pipe = Bore::Round(Length::from_in(6.0));
    /// let at = TraverseRule::LogLinear.fractions(pipe, 6)?;
    /// assert_eq!(at, [0.032, 0.135, 0.321, 0.679, 0.865, 0.968]);
    /// # Ok::<(), airsplit::MeasuringError>(())
    /// ```
    ///
    /// # Errors
    /// A rule that has no points for the shape, or none in that number.
    pub fn fractions(self, bore: Bore, points: usize) -> Result<Vec<f64>, MeasuringError> {
        let count = |allowed| MeasuringError::Count {
            rule: self,
            bore,
            what: "points on a line",
            given: points,
            allowed,
        };
        let table = |rows: [&[f64]; 3], counts: [usize; 3], allowed| {
            let row = rows.into_iter().zip(counts).find(|(_, n)| *n == points);
            let (half, _) = row.ok_or_else(|| count(allowed))?;
            let mirrored = half.iter().rev().filter(|at| **at < 0.5).map(|at| {
                // As printed: 1 - 0.321 is 0.679 in three digits, not in all of them.
                ((1.0 - at) * 1000.0).round() / 1000.0
            });
            Ok(half.iter().copied().chain(mirrored).collect())
        };
        match (self, bore) {
            (Self::LogLinear, Bore::Round(_)) => table(LOG_LINEAR, [6, 8, 10], "6, 8 or 10"),
            (Self::LogTchebycheff, Bore::Rectangular { .. }) => {
                table(LOG_TCHEBYCHEFF, [5, 6, 7], "5, 6 or 7")
            }
            (Self::EqualArea, Bore::Round(_)) => {
                if !(4..=24).contains(&points) || points % 2 == 1 {
                    return Err(count("an even number, 4 to 24"));
                }
                let n = points as f64;
                // Middle of each ring by area: (1 - sqrt((n + 1 - 2i) / n)) / 2.
                let near = |i: usize| 0.5 * (1.0 - ((n + 1.0 - 2.0 * i as f64) / n).sqrt());
                let half = points / 2;
                let first = (1..=half).map(near);
                Ok(first
                    .chain((1..=half).rev().map(|i| 1.0 - near(i)))
                    .collect())
            }
            (Self::EqualArea, Bore::Rectangular { .. }) => {
                if !(2..=20).contains(&points) {
                    return Err(count("2 to 20"));
                }
                Ok((0..points)
                    .map(|i| (i as f64 + 0.5) / points as f64)
                    .collect())
            }
            (Self::LogLinear | Self::LogTchebycheff, _) => Err(MeasuringError::Shape {
                rule: self,
                bore,
                usual: Self::usual(bore),
            }),
        }
    }

    /// Refuses a number of lines that the rule does not have.
    pub(super) fn check_lines(self, bore: Bore, lines: usize) -> Result<(), MeasuringError> {
        let (fits, allowed) = match bore {
            Bore::Round(_) => ((1..=3).contains(&lines), "1 to 3 diameters"),
            Bore::Rectangular { .. } => match self {
                Self::LogTchebycheff => ((5..=7).contains(&lines), "5, 6 or 7"),
                _ => ((2..=20).contains(&lines), "2 to 20"),
            },
        };
        if fits {
            return Ok(());
        }
        Err(MeasuringError::Count {
            rule: self,
            bore,
            what: "lines",
            given: lines,
            allowed,
        })
    }

    /// Points on a line across this length when nobody says.
    ///
    /// Log-Tchebycheff: 5 below 30 in, 6 to 36 in, 7 above (an instrument manual). Round: 6 log-linear
    /// points, 8 equal-area ones on a diameter up to 24 in, 12 above (that of EPA Method 1 for places
    /// with enough straight duct; from memory). Equal areas in a rectangle: 4, or one each 6 in
    /// (common practice, no source).
    pub(super) fn usual_points(self, bore: Bore, across: Length) -> usize {
        match (self, bore) {
            (Self::LogLinear, _) => 6,
            (Self::LogTchebycheff, _) => {
                let inches = across.as_in();
                5 + usize::from(inches >= SIX_FROM_IN) + usize::from(inches > SEVEN_ABOVE_IN)
            }
            (Self::EqualArea, Bore::Round(_)) => {
                if across.as_in() <= 24.0 {
                    8
                } else {
                    12
                }
            }
            // A float is cut off at the ends of the range, and 0 when it is none.
            (Self::EqualArea, Bore::Rectangular { .. }) => {
                ((across.as_in() / 6.0).ceil() as usize).clamp(4, 20)
            }
        }
    }
}

/// How far the plain mean at these fractions of a line is off on the 1/7-power profile, as a share.
///
/// On a diameter the points stand for rings, so that the exact mean is that of a round pipe, 49/60;
/// on one side of a rectangle it is 7/8 (integrals of the profile).
pub(super) fn bias_on_power_profile(bore: Bore, fractions: &[f64]) -> f64 {
    let exact = match bore {
        Bore::Round(_) => 49.0 / 60.0,
        Bore::Rectangular { .. } => 7.0 / 8.0,
    };
    let speeds: Vec<f64> = fractions
        .iter()
        .map(|at| (2.0 * at.min(1.0 - at)).powf(1.0 / 7.0))
        .collect();
    super::probe::mean(&speeds) / exact - 1.0
}

impl fmt::Display for TraverseRule {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Self::LogLinear => "log-linear",
            Self::LogTchebycheff => "log-Tchebycheff",
            Self::EqualArea => "equal-area",
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn round() -> Bore {
        Bore::Round(Length::from_in(6.0))
    }

    fn square() -> Bore {
        let side = Length::from_mm(610.0);
        Bore::Rectangular {
            width: side,
            height: side,
        }
    }

    #[test]
    fn val_biases_on_the_power_profile() {
        // Computed outside this crate from the printed positions, on the 1/7-power profile of pipe
        // flow (White, Fluid Mechanics, ch. 6): the sheet of facts of this project, B9.
        let percent = |rule: TraverseRule, points, digits: f64| {
            let at = rule.fractions(round(), points).unwrap();
            let printed: Vec<f64> = at.iter().map(|at| (at * digits).round() / digits).collect();
            100.0 * bias_on_power_profile(round(), &printed)
        };
        for (points, bias) in [(6, -0.27), (8, -0.09), (10, -0.11)] {
            let answer = percent(TraverseRule::LogLinear, points, 1e3);
            assert!((answer - bias).abs() <= 0.005, "{points}: {answer}");
        }
        for (points, bias) in [(6, 0.95), (10, 0.57), (12, 0.41)] {
            let answer = percent(TraverseRule::EqualArea, points, 1e3);
            assert!((answer - bias).abs() <= 0.005, "{points}: {answer}");
        }
    }

    #[test]
    fn prop_positions_are_symmetric_and_rise() {
        for rule in [
            TraverseRule::LogLinear,
            TraverseRule::LogTchebycheff,
            TraverseRule::EqualArea,
        ] {
            let mut seen = 0;
            for bore in [round(), square()] {
                for points in 0..40 {
                    let Ok(at) = rule.fractions(bore, points) else {
                        continue;
                    };
                    seen += 1;
                    assert_eq!(at.len(), points);
                    assert!(at.iter().all(|at| 0.0 < *at && *at < 1.0));
                    assert!(
                        at.windows(2).all(|pair| pair[0] < pair[1]),
                        "{rule} {points}"
                    );
                    let mirrored = at.iter().zip(at.iter().rev());
                    assert!(mirrored.clone().all(|(a, b)| (a + b - 1.0).abs() < 1e-12));
                }
            }
            assert!(seen >= 3, "{rule}");
        }
    }

    #[test]
    fn prop_what_a_rule_has_not_is_told() {
        let error = TraverseRule::LogLinear.fractions(round(), 7).unwrap_err();
        assert_eq!(
            error.to_string(),
            "7 points on a line in a duct of 6 in; the log-linear rule has 6, 8 or 10"
        );
        let error = TraverseRule::LogLinear.fractions(square(), 6).unwrap_err();
        assert_eq!(
            error.to_string(),
            "the log-linear rule has no points for a duct of 0.61 m x 0.61 m; use log-Tchebycheff"
        );
    }
}
