//! A branch into a straight run of one bore, by published formulas in two flows.

use super::{
    LossError, Note,
    coefficients::head_per_q2,
    junction::{Inlet, cosine},
};

/// The shape of a wye that the formulas are made for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Shape {
    pub(super) branch: usize,
    pub(super) straight: usize,
    outlet_m2: f64,
    /// a = `A_b`/`A_c`.
    area_ratio: f64,
    degrees: f64,
    cos: f64,
}

/// Straight inlet and outlet within this count as of one bore.
const ONE_BORE: f64 = 1e-3;

impl Shape {
    /// Two inlets, one of them straight and of the outlet's bore.
    pub(super) fn of(outlet_m2: f64, inlets: &[Inlet]) -> Result<Self, LossError> {
        let [first, second] = inlets else {
            let what = "number of inlets of a wye formula";
            return Err(LossError {
                what,
                value: inlets.len() as f64,
                unit: "",
                min: 2.0,
                max: 2.0,
            });
        };
        let (branch, straight) = if first.angle.as_deg() == 0.0 {
            (1, 0)
        } else {
            (0, 1)
        };
        let (b, s) = if branch == 0 {
            (first, second)
        } else {
            (second, first)
        };
        let what = "angle of the straight inlet of a wye formula";
        LossError::within(what, s.angle.as_deg(), " deg", 0.0, 0.0)?;
        let what = "area of the straight inlet over that of the outlet, for a wye formula";
        let ratio = s.area.as_m2() / outlet_m2;
        LossError::within(what, ratio, "", 1.0 - ONE_BORE, 1.0 + ONE_BORE)?;
        Ok(Self {
            branch,
            straight,
            outlet_m2,
            area_ratio: b.area.as_m2() / outlet_m2,
            degrees: b.angle.as_deg(),
            cos: cosine(b.angle),
        })
    }

    /// Where it lies outside 45 to 90 degrees or area ratios of 0.35 to 1.
    pub(super) fn notes(&self) -> Vec<Note> {
        let angle = Note::outside("angle of the wye", self.degrees, " deg", 45.0, 90.0);
        let area = Note::outside(
            "area ratio of the wye",
            self.area_ratio,
            "",
            0.35,
            1.0 + ONE_BORE,
        );
        angle.into_iter().chain(area).collect()
    }
}

/// The losses of branch and straight inlet as functions of both flows, homogeneous of degree two.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct WyeLaw {
    /// Quadratic forms of branch and straight inlet, times `crane`'s factor on the branch.
    branch: Quadratic,
    straight: Quadratic,
    /// Whether the branch's form is multiplied by Crane's factor of the split.
    factor: bool,
}

/// ss `Q_s`^2 + sb `Q_s` `Q_b` + bb `Q_b`^2 \[Pa\].
#[derive(Debug, Clone, Copy, PartialEq)]
struct Quadratic {
    ss: f64,
    sb: f64,
    bb: f64,
}

/// A loss and its slopes against both flows.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(crate) struct TwoFlow {
    pub(crate) dp_pa: f64,
    pub(crate) by_branch: f64,
    pub(crate) by_straight: f64,
}

/// Losses of both inlets.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(crate) struct WyeLoss {
    pub(crate) branch: TwoFlow,
    pub(crate) straight: TwoFlow,
}

impl Quadratic {
    fn times(self, k: f64) -> Self {
        Self {
            ss: k * self.ss,
            sb: k * self.sb,
            bb: k * self.bb,
        }
    }

    fn at(self, b: f64, s: f64) -> TwoFlow {
        TwoFlow {
            dp_pa: (self.ss * s + self.sb * b) * s + self.bb * b * b,
            by_branch: self.sb * s + 2.0 * self.bb * b,
            by_straight: 2.0 * self.ss * s + self.sb * b,
        }
    }
}

impl WyeLaw {
    /// See [`Junction::Gardel`](super::Junction::Gardel).
    pub(super) fn gardel(shape: &Shape, density: f64) -> Self {
        let (a, cos) = (shape.area_ratio, shape.cos);
        let k = head_per_q2(density, shape.outlet_m2);
        let cross = 2.0 - a;
        // The brackets of the formulas, for q = 1.
        let branch = Quadratic {
            ss: -0.92,
            sb: cross,
            bb: 0.4 + 0.8 / (a * a) - 0.2 * cos / a - cos,
        };
        let straight = Quadratic {
            ss: 0.03,
            sb: cross,
            bb: 1.0 - 0.38 * a - 1.62 * cos / a,
        };
        Self {
            branch: branch.times(k),
            straight: straight.times(k),
            factor: false,
        }
    }

    /// See [`Junction::Crane`](super::Junction::Crane).
    pub(super) fn crane(shape: &Shape, density: f64) -> Self {
        let a = shape.area_ratio;
        let k = head_per_q2(density, shape.outlet_m2);
        let turn = turning(shape.degrees) / a;
        // 1 = (q + (1-q))^2 makes the forms homogeneous.
        let branch = Quadratic {
            ss: -1.0,
            sb: 2.0,
            bb: 1.0 + 1.0 / (a * a) - turn,
        };
        let straight = if shape.degrees < 75.0 {
            Quadratic {
                ss: 0.0,
                sb: 2.0,
                bb: 1.0 - turn,
            }
        } else {
            Quadratic {
                ss: 0.0,
                sb: 1.55,
                bb: 0.55,
            }
        };
        Self {
            branch: branch.times(k),
            straight: straight.times(k),
            factor: a > 0.35,
        }
    }

    /// Losses at flows of 0 or more \[m3/s\].
    #[inline]
    pub(crate) fn at(&self, b: f64, s: f64) -> WyeLoss {
        let mut branch = self.branch.at(b, s);
        let total = b + s;
        if self.factor && total > 0.0 {
            let (c, by_q) = factor(b / total);
            // q = b/(b+s): dq/db = s/total^2, dq/ds = -b/total^2.
            let slope = by_q * branch.dp_pa / (total * total);
            branch = TwoFlow {
                dp_pa: c * branch.dp_pa,
                by_branch: c * branch.by_branch + slope * s,
                by_straight: c * branch.by_straight - slope * b,
            };
        }
        WyeLoss {
            branch,
            straight: self.straight.at(b, s),
        }
    }
}

/// Crane's F: 1.74, 1.41, 1, 0 at 30, 45, 60, 90 degrees, linear between and beyond.
fn turning(degrees: f64) -> f64 {
    if degrees <= 45.0 {
        1.74 + (degrees - 30.0) / 15.0 * (1.41 - 1.74)
    } else if degrees <= 60.0 {
        1.41 + (degrees - 45.0) / 15.0 * (1.0 - 1.41)
    } else {
        1.0 - (degrees - 60.0) / 30.0
    }
}

/// Crane's C for area ratios above 0.35 and its slope over q, the jump at q = 0.4 replaced by the
/// cubic from (0.35, 0.585, slope -0.9) to (0.45, 0.55, slope 0), which falls all the way.
fn factor(q: f64) -> (f64, f64) {
    const FROM: f64 = 0.35;
    const TO: f64 = 0.45;
    if q <= FROM {
        return (0.9 * (1.0 - q), -0.9);
    }
    if q >= TO {
        return (0.55, 0.0);
    }
    let t = (q - FROM) / (TO - FROM);
    let (y0, m0, y1) = (0.9 * (1.0 - FROM), -0.9 * (TO - FROM), 0.55);
    let c2 = 3.0 * (y1 - y0) - 2.0 * m0;
    let c3 = 2.0 * (y0 - y1) + m0;
    (
        y0 + t * (m0 + t * (c2 + t * c3)),
        (m0 + t * (2.0 * c2 + 3.0 * t * c3)) / (TO - FROM),
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn val_smoothed_factor() {
        // check rows jun.craneC1: mpmath 1.3.0 in 40 digits.
        let text = include_str!("../../tests/data/junction.json");
        let all: serde_json::Value = serde_json::from_str(text).unwrap();
        let mut seen = 0;
        for row in all["rows"].as_array().unwrap() {
            if !row["id"].as_str().unwrap().starts_with("jun.craneC1") {
                continue;
            }
            let (c, slope) = factor(row["inputs"]["q"].as_f64().unwrap());
            let expected = |key: &str| row["expected"][key].as_f64().unwrap();
            assert_relative_eq!(c, expected("C"), max_relative = 1e-12);
            assert_relative_eq!(
                slope,
                expected("dC_dq"),
                max_relative = 1e-12,
                epsilon = 1e-12
            );
            seen += 1;
        }
        assert_eq!(seen, 8);
    }

    /// The limits of the formula, as [`Junction::Crane`](crate::Junction::Crane) states them.
    #[test]
    fn the_formula_changes_above_its_limits() {
        let law = |degrees, area_ratio| {
            let shape = Shape {
                branch: 0,
                straight: 1,
                outlet_m2: 0.02,
                area_ratio,
                degrees,
                cos: 0.5,
            };
            WyeLaw::crane(&shape, 1.2)
        };
        assert!(!law(45.0, 0.35).factor && law(45.0, 0.36).factor);
        // K_s = 1.55 q - q^2 = 0.55 q^2 + 1.55 q (1 - q), from 75 degrees on.
        let k = head_per_q2(1.2, 0.02);
        let bb = |degrees| law(degrees, 0.5).straight.bb / k;
        assert_relative_eq!(bb(75.0), 0.55, max_relative = 1e-12);
        assert!((bb(74.9) - 0.55).abs() > 0.01);
    }
}
