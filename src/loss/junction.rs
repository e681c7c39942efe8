//! How inlets meet in one outlet: converging wyes, tees and adapters.

use super::{
    LossError, Note,
    coefficients::head_per_q2,
    heads::MAX_K,
    momentum::Momentum,
    wye::{self, WyeLaw},
};
use crate::quantity::{Angle, Area, Density, Pressure, VolumeFlow};

/// Most inlets of one junction: the slopes of their losses are as many as their square.
const MOST_INLETS: f64 = 1000.0;

/// The model by which the inlets of a junction meet.
///
/// Every model gives, for each inlet, the loss of total pressure from there to the outlet. Losses
/// may be below zero: the faster stream pulls the slower one along. Models differ by 0.1 to 0.3
/// velocity pressures of the outlet for one and the same wye, and so do measurements of nominally
/// equal ones.
///
/// Root mean square difference from measurements of wyes of equal bores, in velocity pressures of
/// the outlet (Munich hydraulic institute, 1926 to 1931, as tabulated in German handbooks; quoted
/// from memory, three of the 90 degree rows seen in a second table), as `cargo test
/// wye_against_measurements` checks:
///
/// | model | 45 deg, branch | 45 deg, straight | 90 deg, branch | 90 deg, straight |
/// |---|---|---|---|---|
/// | Gardel | 0.02 | 0.02 | 0.18 | 0.04 |
/// | Crane | 0.09 | 0.18 | 0.20 | 0.11 |
/// | momentum | 0.22 | 0.18 | 0.63 | 0.34 |
///
/// Branch of a 45 degree wye of equal bores by its share q of the flow, beside another measurement
/// (Bassett, Winterbone and Pearson, Proc. IMechE C 215 (2001) 861, Fig. 10a, digitised, as
/// reproduced elsewhere), as `cargo test models_beside_measurements` checks:
///
/// | q | 0 | 0.2 | 0.4 | 0.5 | 0.6 | 0.8 | 1 |
/// |---|---|---|---|---|---|---|---|
/// | measured | -1.00 | -0.47 | -0.02 | 0.10 | 0.22 | 0.31 | 0.30 |
/// | Gardel | -0.92 | -0.41 | -0.03 | 0.11 | 0.22 | 0.35 | 0.35 |
/// | Crane | -0.90 | -0.21 | 0.12 | 0.22 | 0.29 | 0.36 | 0.32 |
/// | momentum | -1.00 | -0.30 | 0.21 | 0.40 | 0.53 | 0.66 | 0.59 |
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "snake_case")
)]
#[non_exhaustive]
pub enum Junction {
    /// Balance of axial momentum: up to 1000 inlets, any angle, any sizes.
    ///
    /// dP_i = rho/2 \[`w_c`^2 + `w_i`^2 - (2/`A_c`) sum `Q_j` `w_j` cos(`alpha_j`)\], w = Q / A: I. E.
    /// Idelchik, Handbook of Hydraulic Resistance, ch. 7, eq. 7-1 and 7-2 (after Levin and Taliev)
    /// with the factor A = 1 and no free terms; seen in two public transcriptions. A closed inlet
    /// feels the static suction of the others.
    ///
    /// It dissipates for every split and is monotone, so that a network of such junctions has one
    /// balance; derivation below. High against measured wyes of equal bores, good for a small
    /// branch in a large main.
    ///
    #[doc = include_str!("momentum.md")]
    #[default]
    Momentum,
    /// Gardel's formula for a branch into a straight run of one bore.
    ///
    /// With q = `Q_b`/`Q_c`, a = `A_b`/`A_c`, on the velocity pressure of the outlet, sharp edges:
    ///
    /// ```text
    /// K_b = -0.92 (1-q)^2 - q^2 [1.2 (cos/a - 1) + 0.8 (1 - 1/a^2) - (1-a) cos/a] + (2-a) q (1-q)
    /// K_s =  0.03 (1-q)^2 - q^2 [1 + 1.62 (cos/a - 1) - 0.38 (1-a)]              + (2-a) q (1-q)
    /// ```
    ///
    /// A. Gardel, Bulletin technique de la Suisse romande 83 (1957), nos 9 and 10; the form without
    /// fillet was read in a public flow solver that carries it. Tested from 45 to 135 degrees and
    /// for a from 0.4 to 1 (from memory); outside 45 to 90 degrees or 0.35 to 1 the answer carries
    /// a note. Monotone as soon as each inlet's leg loses 0.06 of its own velocity pressure, as any
    /// real one does. Two inlets, one of them straight and of the outlet's bore, or it is refused.
    Gardel,
    /// The formula of Crane TP-410 (2009 and later), its jump smoothed; for comparison.
    ///
    /// ```text
    /// K_b = C [1 + (q/a)^2 - 2 (1-q)^2 - F q^2/a]
    /// K_s = 1 - (1-q)^2 - F q^2/a  below 75 degrees,  1.55 q - q^2  above
    /// ```
    ///
    /// F = 1.74, 1.41, 1, 0 at 30, 45, 60, 90 degrees and linear between; C = 1 up to a = 0.35,
    /// above it 0.9 (1-q) to q = 0.35, 0.55 from q = 0.45 and a cubic between, where the original
    /// jumps at q = 0.4. Seen in the source of a general-purpose fluids library (fluids 1.3.1).
    /// Above a = 0.35 it can lose less than a sudden expansion would. Two inlets, one of them
    /// straight and of the outlet's bore, or it is refused.
    Crane,
    /// A constant coefficient on each inlet's own velocity pressure: the handbook way.
    FixedK,
    /// Gardel's formula within the range it was tested in, the momentum balance elsewhere; the
    /// result says which.
    Automatic,
}

/// One inlet of a junction.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Inlet {
    /// Inner area.
    pub area: Area,
    /// Angle between its axis and that of the outlet: 0 is straight, 90 degrees a tee.
    pub angle: Angle,
    /// Loss coefficient on its own velocity pressure: all there is for [`Junction::FixedK`], on
    /// top of the model for the others.
    pub k: f64,
}

/// What the inlets of a junction lose, by [`Junction::losses`].
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct JunctionLosses {
    /// The model: the one asked for, or the one that [`Junction::Automatic`] chose.
    pub model: Junction,
    /// One for each inlet, in their order.
    pub inlets: Vec<InletLoss>,
    /// Where the model was used outside the range it was tested in.
    pub notes: Vec<Note>,
}

/// What one inlet of a junction loses.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct InletLoss {
    /// Loss of total pressure from the inlet to the outlet; below zero where it gains.
    pub loss: Pressure,
    /// Slope of that loss against the flow of each inlet, the others kept \[Pa s/m3\].
    pub slopes: Vec<f64>,
}

/// A junction as its network sees it.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct JunctionLaw {
    pub(crate) model: Junction,
    pub(crate) kind: JunctionKind,
    pub(crate) notes: Vec<Note>,
}

/// What the inlets of a junction share.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum JunctionKind {
    /// The total suction of the outlet.
    Plain,
    /// A static suction.
    Momentum(Momentum),
    /// Nothing: a branch and a straight inlet whose losses depend on both flows.
    Wye {
        branch: usize,
        straight: usize,
        law: WyeLaw,
    },
}

impl Junction {
    /// What each inlet loses at these flows into the junction, 0 or more each.
    ///
    /// # Errors
    ///
    /// No inlets; an area, angle (0 to 180 degrees), coefficient (-1e6 to 1e6), density or flow out
    /// of range; a shape that the model is not made for.
    ///
    /// ```
    /// use airsplit::{Angle, Bore, Density, Inlet, Junction, Length, VolumeFlow};
    /// let inlet = |inches, degrees| Inlet {
    ///     area: Bore::Round(Length::from_in(inches)).area(),
    ///     angle: Angle::from_deg(degrees),
    ///     k: 0.0,
    /// };
    /// let flow = VolumeFlow::from_m3_s;
    /// let wye = [(inlet(4.0, 45.0), flow(0.08)), (inlet(6.0, 0.0), flow(0.17))];
    /// let outlet = Bore::Round(Length::from_in(6.0)).area();
    /// let losses = Junction::Momentum.losses(Density::from_kg_m3(1.204), outlet, &wye)?;
    /// assert!((losses.inlets[0].loss.as_pa() - 30.28).abs() < 0.01);
    /// # Ok::<(), airsplit::LossError>(())
    /// ```
    pub fn losses(
        self,
        density: Density,
        outlet: Area,
        inlets: &[(Inlet, VolumeFlow)],
    ) -> Result<JunctionLosses, LossError> {
        for (_, flow) in inlets {
            let what = "flow into the junction";
            LossError::within(what, flow.as_m3_s(), " m3/s", 0.0, 1e3)?;
        }
        self.losses_at_any_flow(density, outlet, inlets)
    }

    /// The same at flows of any size: an answer may lie far beyond its fan's curve.
    pub(crate) fn losses_at_any_flow(
        self,
        density: Density,
        outlet: Area,
        inlets: &[(Inlet, VolumeFlow)],
    ) -> Result<JunctionLosses, LossError> {
        let shapes: Vec<Inlet> = inlets.iter().map(|(inlet, _)| *inlet).collect();
        let flows: Vec<f64> = inlets.iter().map(|(_, flow)| flow.as_m3_s()).collect();
        let law = self.law(density, outlet, &shapes)?;
        let mut losses = law.losses(&flows);
        for ((loss, inlet), &q) in losses.iter_mut().zip(&shapes).zip(&flows) {
            LossError::within("k", inlet.k, "", -MAX_K, MAX_K)?;
            let own = inlet.k * head_per_q2(density.as_kg_m3(), inlet.area.as_m2());
            loss.dp_pa += own * q * q;
            if let Some(slope) = loss.slopes.get_mut(loss.inlet) {
                *slope += 2.0 * own * q;
            }
        }
        Ok(JunctionLosses {
            model: law.model,
            inlets: losses
                .into_iter()
                .map(|loss| InletLoss {
                    loss: Pressure::from_pa(loss.dp_pa),
                    slopes: loss.slopes,
                })
                .collect(),
            notes: law.notes,
        })
    }

    /// The law of a junction of this shape; the inlets' own coefficients are left to their runs.
    pub(crate) fn law(
        self,
        density: Density,
        outlet: Area,
        inlets: &[Inlet],
    ) -> Result<JunctionLaw, LossError> {
        let count = inlets.len() as f64;
        LossError::within("number of inlets", count, "", 1.0, MOST_INLETS)?;
        let rho = LossError::within("density", density.as_kg_m3(), " kg/m3", 0.01, 100.0)?;
        let area = |what, area: Area| LossError::within(what, area.as_m2(), " m2", 1e-7, 1e4);
        let outlet_m2 = area("area of the outlet", outlet)?;
        for inlet in inlets {
            area("area of an inlet", inlet.area)?;
            LossError::within("angle", inlet.angle.as_deg(), " deg", 0.0, 180.0)?;
        }
        let momentum = || JunctionKind::Momentum(Momentum::new(rho, outlet_m2, inlets));
        let (model, kind, notes) = match self {
            Self::FixedK => (self, JunctionKind::Plain, Vec::new()),
            Self::Momentum => (self, momentum(), Vec::new()),
            Self::Gardel | Self::Crane => {
                let shape = wye::Shape::of(outlet_m2, inlets)?;
                let law = match self {
                    Self::Gardel => WyeLaw::gardel(&shape, rho),
                    _ => WyeLaw::crane(&shape, rho),
                };
                let kind = JunctionKind::Wye {
                    branch: shape.branch,
                    straight: shape.straight,
                    law,
                };
                (self, kind, shape.notes())
            }
            Self::Automatic => match wye::Shape::of(outlet_m2, inlets) {
                Ok(shape) if shape.notes().is_empty() => {
                    return Self::Gardel.law(density, outlet, inlets);
                }
                _ => (Self::Momentum, momentum(), Vec::new()),
            },
        };
        Ok(JunctionLaw { model, kind, notes })
    }
}

/// A loss and its slopes, before they become quantities.
struct RawLoss {
    inlet: usize,
    dp_pa: f64,
    slopes: Vec<f64>,
}

impl JunctionLaw {
    fn losses(&self, flows: &[f64]) -> Vec<RawLoss> {
        let none = || {
            (0..flows.len()).map(|inlet| RawLoss {
                inlet,
                dp_pa: 0.0,
                slopes: vec![0.0; flows.len()],
            })
        };
        match &self.kind {
            JunctionKind::Plain => none().collect(),
            JunctionKind::Momentum(momentum) => {
                let all = momentum.brought(flows);
                none()
                    .map(|mut loss| {
                        loss.dp_pa = momentum.loss(loss.inlet, flows, all);
                        for (j, slope) in loss.slopes.iter_mut().enumerate() {
                            *slope = momentum.slope(loss.inlet, j, flows, all);
                        }
                        loss
                    })
                    .collect()
            }
            &JunctionKind::Wye {
                branch,
                straight,
                law,
            } => {
                let flow = |i: usize| flows.get(i).copied().unwrap_or(0.0);
                let at = law.at(flow(branch), flow(straight));
                none()
                    .map(|mut loss| {
                        let own = if loss.inlet == branch {
                            at.branch
                        } else {
                            at.straight
                        };
                        loss.dp_pa = own.dp_pa;
                        for (j, slope) in loss.slopes.iter_mut().enumerate() {
                            *slope = if j == branch {
                                own.by_branch
                            } else {
                                own.by_straight
                            };
                        }
                        loss
                    })
                    .collect()
            }
        }
    }
}

/// Cosine of an angle, exactly 0 at 90 degrees and symmetric about it.
pub(super) fn cosine(angle: Angle) -> f64 {
    let degrees = angle.as_deg();
    if degrees > 45.0 {
        (90.0 - degrees).to_radians().sin()
    } else {
        degrees.to_radians().cos()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{bore::Bore, quantity::Length};
    use approx::assert_relative_eq;
    use proptest::prelude::*;
    use serde_json::Value;

    fn rows() -> Vec<Value> {
        let text = include_str!("../../tests/data/junction.json");
        let all: Value = serde_json::from_str(text).unwrap();
        all["rows"].as_array().unwrap().clone()
    }

    fn number(row: &Value, key: &str) -> f64 {
        row[key]
            .as_f64()
            .unwrap_or_else(|| panic!("{key} in {row}"))
    }

    fn round(d_m: f64) -> Area {
        Bore::Round(Length::from_m(d_m)).area()
    }

    fn inlet(d_m: f64, degrees: f64) -> Inlet {
        Inlet {
            area: round(d_m),
            angle: Angle::from_deg(degrees),
            k: 0.0,
        }
    }

    fn model(id: &str) -> Option<Junction> {
        [
            ("momentum", Junction::Momentum),
            ("gardel", Junction::Gardel),
            ("crane.", Junction::Crane),
        ]
        .into_iter()
        .find(|(word, _)| id.contains(word))
        .map(|(_, model)| model)
    }

    /// The reference derivatives are at rounding of a difference of order-one terms.
    fn close(what: &str, ours: f64, row: &Value, key: &str, scale: f64) {
        let expected = number(row, key);
        let off = (ours - expected).abs();
        assert!(
            off <= 1e-12 * expected.abs().max(scale),
            "{what} {key}: {ours} against {expected}"
        );
    }

    #[test]
    fn val_coefficients_by_split() {
        // losses.md 1.8: mpmath 1.3.0 in 40 digits (momentum, Gardel), fluids 1.3.1 (Crane).
        let mut seen = 0;
        for row in rows() {
            let (id, input) = (row["id"].as_str().unwrap(), &row["inputs"]);
            let (Some(model), false) =
                (model(id), id.contains("momentumN") || id.contains("jun.dp"))
            else {
                continue;
            };
            let q = input["q"]
                .as_f64()
                .unwrap_or_else(|| number(input, "Q_branch"));
            if model == Junction::Crane && q > 0.35 && q < 0.45 {
                // Where the original jumps and ours is smooth; see val_smoothed_factor.
                continue;
            }
            let common = number(input, "D_common");
            let wye = [
                inlet(number(input, "D_branch"), number(input, "angle_deg")),
                inlet(common, 0.0),
            ];
            let flow = VolumeFlow::from_m3_s;
            let flows = [(wye[0], flow(q)), (wye[1], flow(1.0 - q))];
            let density = Density::from_kg_m3(1.204);
            let losses = model.losses(density, round(common), &flows).unwrap();
            let head = head_per_q2(1.204, round(common).as_m2());
            let expected = &row["expected"];
            for (i, name) in ["branch", "straight"].into_iter().enumerate() {
                let own = &losses.inlets[i];
                let k = own.loss.as_pa() / head;
                close(id, k, expected, &format!("K_{name}"), 1.0);
                if model != Junction::Crane {
                    // With Q_c kept, dK/dq is the difference of the slopes.
                    let by_q = (own.slopes[0] - own.slopes[1]) / head;
                    close(id, by_q, expected, &format!("dK_{name}_dq"), 1.0);
                }
            }
            seen += 1;
        }
        assert_eq!(seen, 180 + 180 + 160);
    }

    #[test]
    fn val_losses_and_slopes_of_two_inlets() {
        // mpmath 1.3.0 in 40 digits, quadratic forms of losses.md 1.1 and 1.2.
        let mut seen = 0;
        for row in rows() {
            let (id, input) = (row["id"].as_str().unwrap(), &row["inputs"]);
            let (Some(model), true) = (model(id), id.contains("jun.dp")) else {
                continue;
            };
            let common = number(input, "D_common");
            let flow = |key| VolumeFlow::from_m3_s(number(input, key));
            let wye = [
                (
                    inlet(number(input, "D_branch"), number(input, "angle_deg")),
                    flow("Q_branch"),
                ),
                (inlet(common, 0.0), flow("Q_straight")),
            ];
            let density = Density::from_kg_m3(number(input, "rho"));
            let losses = model.losses(density, round(common), &wye).unwrap();
            for (i, name) in ["branch", "straight"].into_iter().enumerate() {
                let (own, expected) = (&losses.inlets[i], &row["expected"]);
                close(id, own.loss.as_pa(), expected, &format!("dp_{name}"), 1.0);
                close(
                    id,
                    own.slopes[0],
                    expected,
                    &format!("d_dp_{name}_dQb"),
                    100.0,
                );
                close(
                    id,
                    own.slopes[1],
                    expected,
                    &format!("d_dp_{name}_dQs"),
                    100.0,
                );
            }
            seen += 1;
        }
        assert_eq!(seen, 12);
    }

    #[test]
    fn val_many_inlets() {
        // mpmath 1.3.0 in 40 digits: control volume, equal static pressure at the inlets.
        let mut seen = 0;
        for row in rows() {
            let (id, input) = (row["id"].as_str().unwrap(), &row["inputs"]);
            if !id.contains("momentumN") {
                continue;
            }
            let list = |key: &str| -> Vec<f64> {
                let values = input[key].as_array().unwrap();
                values.iter().map(|x| x.as_f64().unwrap()).collect()
            };
            let (q, d, angle) = (list("Q"), list("D"), list("angles_deg"));
            let inlets: Vec<_> = (0..q.len())
                .map(|i| (inlet(d[i], angle[i]), VolumeFlow::from_m3_s(q[i])))
                .collect();
            let density = Density::from_kg_m3(number(input, "rho"));
            let outlet = round(number(input, "D_common"));
            let losses = Junction::Momentum.losses(density, outlet, &inlets).unwrap();
            let mut power = 0.0;
            for (i, own) in losses.inlets.iter().enumerate() {
                let expected = row["expected"]["dp_total"][i].as_f64().unwrap();
                assert_relative_eq!(
                    own.loss.as_pa(),
                    expected,
                    max_relative = 1e-12,
                    epsilon = 1e-11
                );
                for (j, slope) in own.slopes.iter().enumerate() {
                    let expected = row["expected"]["jacobian_dp_dQ"][i][j].as_f64().unwrap();
                    assert_relative_eq!(*slope, expected, max_relative = 1e-12, epsilon = 1e-9);
                }
                power += own.loss.as_pa() * q[i];
            }
            let expected = number(&row["expected"], "power_dissipated");
            assert_relative_eq!(power, expected, max_relative = 1e-12, epsilon = 1e-12);
            seen += 1;
        }
        assert_eq!(seen, 6);
    }

    /// Measured wyes of equal bores against each model: the table in the docs of [`Junction`].
    #[test]
    fn val_wye_against_measurements() {
        let q = [0.0, 0.2, 0.4, 0.6, 0.8, 1.0];
        // Munich hydraulic institute (Vogel 1926/28, Petermann 1929, Kinne 1931), equal diameters,
        // sharp edges; quoted from memory, the 90 degree branch at q = 0.6 to 1 seen elsewhere.
        let measured = [
            (
                45.0,
                [-0.92, -0.38, 0.0, 0.22, 0.37, 0.37],
                [0.04, 0.17, 0.19, 0.09, -0.17, -0.54],
            ),
            (
                90.0,
                [-1.2, -0.4, 0.08, 0.47, 0.72, 0.91],
                [0.04, 0.17, 0.30, 0.41, 0.51, 0.60],
            ),
        ];
        let table = [
            (Junction::Gardel, [0.02, 0.02, 0.18, 0.04]),
            (Junction::Crane, [0.09, 0.18, 0.20, 0.11]),
            (Junction::Momentum, [0.22, 0.18, 0.63, 0.34]),
        ];
        for (model, documented) in table {
            let mut rms = Vec::new();
            for (degrees, branch, straight) in measured {
                let wye = [inlet(0.15, degrees), inlet(0.15, 0.0)];
                let head = head_per_q2(1.2, round(0.15).as_m2());
                let mut squares = [0.0; 2];
                for (i, &q) in q.iter().enumerate() {
                    let flow = VolumeFlow::from_m3_s;
                    let flows = [(wye[0], flow(q)), (wye[1], flow(1.0 - q))];
                    let losses = model
                        .losses(Density::from_kg_m3(1.2), round(0.15), &flows)
                        .unwrap();
                    for (square, (own, k)) in squares
                        .iter_mut()
                        .zip(losses.inlets.iter().zip([branch[i], straight[i]]))
                    {
                        *square += (own.loss.as_pa() / head - k).powi(2) / 6.0;
                    }
                }
                rms.extend(squares.map(f64::sqrt));
            }
            for (rms, documented) in rms.iter().zip(documented) {
                assert!(
                    (rms - documented).abs() < 0.0055,
                    "{model:?}: {rms:.3} {documented}"
                );
            }
        }
    }

    #[test]
    fn automatic_says_what_it_chose() {
        let choose = |branch, straight, degrees| {
            let inlets = [inlet(branch, degrees), inlet(straight, 0.0)];
            let law = Junction::Automatic.law(Density::from_kg_m3(1.2), round(0.15), &inlets);
            law.unwrap().model
        };
        assert_eq!(choose(0.1, 0.15, 45.0), Junction::Gardel);
        assert_eq!(choose(0.1, 0.15, 30.0), Junction::Momentum);
        assert_eq!(choose(0.08, 0.15, 45.0), Junction::Momentum); // a = 0.28
        assert_eq!(choose(0.1, 0.12, 45.0), Junction::Momentum);
    }

    #[test]
    fn a_wye_model_refuses_other_shapes() {
        let density = Density::from_kg_m3(1.2);
        let refuse = |inlets: &[Inlet]| {
            Junction::Gardel
                .law(density, round(0.15), inlets)
                .unwrap_err()
                .to_string()
        };
        insta::assert_snapshot!(refuse(&[inlet(0.1, 45.0)]), @"number of inlets of a wye formula is 1; allowed: 2 only");
        insta::assert_snapshot!(refuse(&[inlet(0.1, 45.0), inlet(0.1, 45.0)]), @"angle of the straight inlet of a wye formula is 45 deg; allowed: 0 deg only");
        insta::assert_snapshot!(refuse(&[inlet(0.1, 45.0), inlet(0.12, 0.0)]), @"area of the straight inlet over that of the outlet, for a wye formula is 0.64; allowed: 0.999 to 1.001");
        insta::assert_snapshot!(refuse(&[inlet(0.1, -5.0), inlet(0.15, 0.0)]), @"angle is -5 deg; allowed: 0 deg to 180 deg");
    }

    /// A junction of two to five inlets of any size and angle, with flows.
    fn junctions() -> impl Strategy<Value = (Area, Vec<(Inlet, VolumeFlow)>)> {
        let inlet = (0.05..0.5f64, 0.0..180.0f64, 0.0..2.0f64)
            .prop_map(|(d, degrees, q)| (inlet(d, degrees), VolumeFlow::from_m3_s(q)));
        (0.05..0.5f64, prop::collection::vec(inlet, 2..6))
            .prop_map(|(d, inlets)| (round(d), inlets))
    }

    /// The size of the terms that cancel, for tolerances of rounding.
    fn size(outlet: Area, inlets: &[(Inlet, VolumeFlow)]) -> f64 {
        let total: f64 = inlets.iter().map(|(_, q)| q.as_m3_s()).sum();
        let own = inlets
            .iter()
            .map(|(i, q)| head_per_q2(1.2, i.area.as_m2()) * q.as_m3_s().powi(2));
        let outlet = outlet.as_m2();
        let crossed = inlets
            .iter()
            .map(|(i, q)| 1.2 / (outlet * i.area.as_m2()) * q.as_m3_s().powi(2));
        own.sum::<f64>() + crossed.sum::<f64>() + head_per_q2(1.2, outlet) * total * total
    }

    proptest! {
        /// losses.md 1.1, derived there and in momentum.md.
        #[test]
        fn prop_momentum_dissipates((outlet, inlets) in junctions()) {
            let losses = Junction::Momentum.losses(Density::from_kg_m3(1.2), outlet, &inlets).unwrap();
            let power: f64 = losses.inlets.iter().zip(&inlets)
                .map(|(own, (_, q))| own.loss.as_pa() * q.as_m3_s()).sum();
            let total: f64 = inlets.iter().map(|(_, q)| q.as_m3_s()).sum();
            prop_assert!(power >= -1e-14 * total * size(outlet, &inlets), "{power}");
        }

        /// x' J x >= 0 for every x: losses.md 1.1.
        #[test]
        fn prop_momentum_is_monotone(
            (outlet, inlets) in junctions(), x in prop::collection::vec(-1.0..1.0f64, 5),
        ) {
            let losses = Junction::Momentum.losses(Density::from_kg_m3(1.2), outlet, &inlets).unwrap();
            let mut form = 0.0;
            let mut scale = 0.0;
            for (own, xi) in losses.inlets.iter().zip(&x) {
                for (slope, xj) in own.slopes.iter().zip(&x) {
                    form += xi * slope * xj;
                    scale += (xi * slope * xj).abs();
                }
            }
            prop_assert!(form >= -1e-13 * scale, "{form} of {scale}");
        }

        #[test]
        fn prop_slopes_are_derivatives(
            (outlet, mut inlets) in junctions(), which in 0..6usize, model in 0..3usize, q in 0.02..0.98f64,
            a in 0.36..1.0f64, degrees in 45.0..90.0f64,
        ) {
            let (model, outlet) = match model {
                0 => (Junction::Momentum, outlet),
                wye => {
                    let straight = inlets[0].0.area;
                    let branch = Inlet { area: a * straight, angle: Angle::from_deg(degrees), k: 0.3 };
                    let straight_inlet = Inlet { area: straight, angle: Angle::from_deg(0.0), k: 0.1 };
                    inlets = vec![
                        (branch, VolumeFlow::from_m3_s(q)),
                        (straight_inlet, VolumeFlow::from_m3_s(1.0 - q)),
                    ];
                    (if wye == 1 { Junction::Gardel } else { Junction::Crane }, straight)
                }
            };
            let j = which % inlets.len();
            let h = 1e-5;
            // So that the lower flow is not below zero.
            inlets[j].1 = VolumeFlow::from_m3_s(inlets[j].1.as_m3_s() + h);
            let at = |d: f64| {
                let mut moved = inlets.clone();
                moved[j].1 = VolumeFlow::from_m3_s(moved[j].1.as_m3_s() + d);
                model.losses(Density::from_kg_m3(1.2), outlet, &moved).unwrap()
            };
            let here = at(0.0);
            let (up, down) = (at(h), at(-h));
            for (i, own) in here.inlets.iter().enumerate() {
                let difference = (up.inlets[i].loss.as_pa() - down.inlets[i].loss.as_pa()) / (2.0 * h);
                let scale = size(outlet, &inlets) + own.slopes[j].abs();
                prop_assert!((own.slopes[j] - difference).abs() < 1e-6 * scale, "{} {}", own.slopes[j], difference);
            }
        }

        /// q K_b + (1-q) K_s >= 0: no wye makes power (Salonen and Holopainen 2010).
        #[test]
        fn prop_wyes_dissipate(q in 0.0..1.0f64, a in 0.35..1.0f64, degrees in 45.0..90.0f64) {
            for model in [Junction::Gardel, Junction::Crane] {
                let outlet = round(0.15);
                let branch = Inlet { area: a * outlet, angle: Angle::from_deg(degrees), k: 0.0 };
                let flow = VolumeFlow::from_m3_s;
                let wye = [(branch, flow(q)), (inlet(0.15, 0.0), flow(1.0 - q))];
                let losses = model.losses(Density::from_kg_m3(1.2), outlet, &wye).unwrap();
                let power = q * losses.inlets[0].loss.as_pa() + (1.0 - q) * losses.inlets[1].loss.as_pa();
                prop_assert!(power >= -1e-9, "{model:?}: {power}");
            }
        }
    }
}
