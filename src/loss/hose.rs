//! Flexible hose: the costliest metre of most shops, and the least certain.

use super::{LossError, Note, bend::smooth_bend};
use crate::{
    bore::Bore,
    quantity::{Angle, Length},
};

/// A piece of flexible hose.
///
/// How slack it hangs has no default: on 100 mm bore 15 % of slack costs, by the formula, as much as
/// five more hoses of the same length.
///
/// ```
/// use airsplit::{Bore, Hose, HoseKind, Length};
/// let hose = Hose {
///     length: Length::from_m(1.8),
///     kind: HoseKind::Wire { compression: 0.15 },
///     bend: None,
/// };
/// let friction = hose.friction(Bore::Round(Length::from_mm(250.0)))?;
/// assert!((friction.friction_length_over_d / (1.8 / 0.25) - 3.52).abs() < 0.01); // times stretched
/// # Ok::<(), airsplit::LossError>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
pub struct Hose {
    /// Length as it hangs, along its middle, bends included: 0 to 1000 m.
    pub length: Length,
    /// What hose it is.
    pub kind: HoseKind,
    /// All its bends as one, if it is not straight.
    #[cfg_attr(
        feature = "serde",
        serde(default, skip_serializing_if = "Option::is_none")
    )]
    pub bend: Option<HoseBend>,
}

/// What a hose is made like, which decides its friction.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "snake_case", deny_unknown_fields)
)]
#[non_exhaustive]
pub enum HoseKind {
    /// Thin film or fabric over a wire helix, which wrinkles when slack.
    ///
    /// Friction is that of a wall of roughness 0.9 mm times 1 + 0.58 Kc exp(-0.00496 D/mm), Kc the
    /// compression in percent; the length is the installed one. Source: 2021 ASHRAE Handbook -
    /// Fundamentals, ch. 21, Eq. (22) and (23), read in a converted text; it rests on B. Abushakra,
    /// I. S. Walker and M. H. Sherman, "Compression effects on pressure loss in flexible HVAC
    /// ducts", 2004, and on C. Culp, 2011.
    ///
    /// Tested on 150 to 250 mm (nominal: 6, 8 and 10 in) and printed for up to 30 % compression.
    /// The hose tested is thin-walled ventilation duct: for the stiffer hose of a shop take the
    /// answer as an upper bound. Below 150 mm the formula alone speaks, and a note says so.
    Wire {
        /// Share of its full length that the hose has lost to slack: 0 (stretched) to 0.95.
        compression: f64,
    },
    /// Ribbed shop hose, by a stated multiple of the friction of a perfectly smooth duct.
    ///
    /// Where nothing is known take [`HoseKind::RIBBED`] with its band. Judgement, no source.
    Ribbed {
        /// Friction over that of a smooth duct of the same bore: 1 to 20.
        times_smooth: f64,
    },
    /// Deep, regular rings or a regular helix of known pitch, as in metal or semi-rigid hose.
    ///
    /// Each corrugation is an orifice with a sudden expansion behind it, whatever its depth and
    /// whatever the flow: f = (D/S) \[1 - (D / (D + 0.438 S))^2\]^2. Source: R. C. Hawthorne and
    /// H. C. von Helms, "Fluid expansion theory computes flow in corrugated hose", Product
    /// Engineering, 10 June 1963, p. 98, as restated in a second text. The range of its tests is
    /// not known to us, so no note is given. It must not be used for slack:
    /// it has loss fall as the pitch shrinks, where slack raises it.
    Corrugated {
        /// Length from one corrugation to the next, 0.1 mm to one bore.
        pitch: Length,
    },
}

impl HoseKind {
    /// Ribbed shop hose of which nothing is known: 3 times the friction of smooth duct.
    ///
    /// Judgement, no source; its band is [`Self::RIBBED_BAND`].
    pub const RIBBED: Self = Self::Ribbed { times_smooth: 3.0 };

    /// Low and high multiple of smooth friction for ribbed shop hose.
    ///
    /// Judgement, no source.
    pub const RIBBED_BAND: [f64; 2] = [1.7, 6.0];
}

/// A bend in a hose.
///
/// Outside any data: bends were tested in pipe, and the answer is that of a smooth pipe bend
/// (Rennels and Hudson, *Pipe Flow*, 2012) worked out with the friction of the hose. A note always
/// says so.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
pub struct HoseBend {
    /// Total angle: 0 to 180 deg.
    pub angle: Angle,
    /// Radius of the middle line over the bore: 0.5 to 100.
    pub r_over_d: f64,
}

/// The loss of a hose in velocity pressures of its bore: `fixed` + `friction_length_over_d` x
/// f(Re, `roughness` / D), with f the Darcy friction factor.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct HoseFriction {
    /// Roughness that f is worked out with; 0 for smooth.
    pub roughness: Length,
    /// What multiplies f \[-\].
    pub friction_length_over_d: f64,
    /// The share that does not depend on the Reynolds number \[-\].
    pub fixed: f64,
    /// Where the law left its data.
    pub notes: Vec<Note>,
}

impl Hose {
    /// The loss of the hose in a bore; its velocity pressure is that of the mean velocity there.
    ///
    /// The laws are for round bores; any other is taken by its hydraulic diameter, 10 mm to 2 m.
    ///
    /// # Errors
    /// A length, diameter, compression, multiple, pitch or bend outside the range that its field
    /// states; a hose shorter than its own bend.
    pub fn friction(&self, bore: Bore) -> Result<HoseFriction, LossError> {
        let d_mm = LossError::within(
            "bore of the hose",
            bore.hydraulic_diameter().as_mm(),
            " mm",
            10.0,
            2000.0,
        )?;
        let length_m =
            LossError::within("length of the hose", self.length.as_m(), " m", 0.0, 1000.0)?;
        let d_m = d_mm / 1000.0;
        let mut notes = Vec::new();
        let law = self.kind.law(d_mm, &mut notes)?;
        // The bend follows the friction of the hose, and the hose already pays for the arc.
        let mut l_over_d = length_m / d_m;
        let mut bend_fixed = 0.0;
        if let Some(bend) = self.bend {
            let turn = bend.beyond_its_arc(d_m, length_m, &mut notes)?;
            l_over_d += turn.friction;
            bend_fixed = turn.fixed;
        }
        Ok(HoseFriction {
            roughness: Length::from_mm(law.roughness_mm),
            friction_length_over_d: law.times * l_over_d,
            fixed: law.constant_f * l_over_d + bend_fixed,
            notes,
        })
    }
}

/// Friction factor of a hose: `constant_f` + `times` x f(Re, roughness).
struct FrictionLaw {
    roughness_mm: f64,
    times: f64,
    constant_f: f64,
}

impl HoseKind {
    fn law(&self, d_mm: f64, notes: &mut Vec<Note>) -> Result<FrictionLaw, LossError> {
        match *self {
            Self::Wire { compression } => {
                let kc = 100.0
                    * LossError::within("compression of the hose", compression, "", 0.0, 0.95)?;
                // 10 in is 254 mm: the tests were on nominal sizes.
                notes.extend(Note::outside(
                    "bore of wire hose",
                    d_mm,
                    " mm",
                    150.0,
                    254.0,
                ));
                notes.extend(Note::outside(
                    "compression of the hose",
                    compression,
                    "",
                    0.0,
                    0.3,
                ));
                Ok(FrictionLaw {
                    roughness_mm: 0.9,
                    times: 1.0 + 0.58 * kc * (-0.004_96 * d_mm).exp(),
                    constant_f: 0.0,
                })
            }
            Self::Ribbed { times_smooth } => {
                let what = "friction of ribbed hose over smooth";
                let times = LossError::within(what, times_smooth, "", 1.0, 20.0)?;
                let [low, high] = Self::RIBBED_BAND;
                notes.extend(Note::outside(what, times, "", low, high));
                Ok(FrictionLaw {
                    roughness_mm: 0.0,
                    times,
                    constant_f: 0.0,
                })
            }
            Self::Corrugated { pitch } => {
                let pitch_mm =
                    LossError::within("pitch of the corrugation", pitch.as_mm(), " mm", 0.1, d_mm)?;
                let s = pitch_mm / d_mm;
                let e = 0.438 * s;
                // 1 - 1/(1+e)^2 without its cancellation
                let widening = e * (2.0 + e) / ((1.0 + e) * (1.0 + e));
                Ok(FrictionLaw {
                    roughness_mm: 0.0,
                    times: 0.0,
                    constant_f: widening * widening / s,
                })
            }
        }
    }
}

impl HoseBend {
    /// The loss of the bend beyond the friction of its own arc.
    fn beyond_its_arc(
        &self,
        d_m: f64,
        length_m: f64,
        notes: &mut Vec<Note>,
    ) -> Result<super::Heads, LossError> {
        let angle_deg = LossError::within(
            "angle of the hose bend",
            self.angle.as_deg(),
            " deg",
            0.0,
            180.0,
        )?;
        let r_over_d = LossError::within("r/D of the hose bend", self.r_over_d, "", 0.5, 100.0)?;
        let arc_over_d = angle_deg.to_radians() * r_over_d;
        LossError::within(
            "length of the hose, which holds its bend,",
            length_m,
            " m",
            arc_over_d * d_m,
            f64::INFINITY,
        )?;
        notes.extend(Note::outside(
            "hose bend (never tested; a pipe bend with the friction of the hose)",
            angle_deg,
            " deg",
            0.0,
            0.0,
        ));
        let mut turn = smooth_bend(r_over_d, angle_deg.to_radians());
        turn.friction -= arc_over_d;
        Ok(turn)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::loss::friction_factor;
    use proptest::prelude::*;

    fn straight(length_m: f64, kind: HoseKind) -> Hose {
        Hose {
            length: Length::from_m(length_m),
            kind,
            bend: None,
        }
    }

    fn round(d_m: f64) -> Bore {
        Bore::Round(Length::from_m(d_m))
    }

    #[test]
    fn val_check_rows() {
        let rows: Vec<serde_json::Value> =
            serde_json::from_str(include_str!("../../tests/data/hose.json")).unwrap();
        let mut checked = 0;
        for row in &rows {
            let id = row["id"].as_str().unwrap();
            let tol = row["rel_tol"].as_f64().unwrap();
            let input = |name: &str| row["inputs"][name].as_f64().unwrap();
            let d_m = input("D");
            let (answer, expected) = if id.starts_with("flex.pdcf") {
                let compression = input("compression_percent") / 100.0;
                let hose = straight(d_m, HoseKind::Wire { compression });
                let answer = hose.friction(round(d_m)).unwrap();
                assert_eq!(answer.roughness, Length::from_mm(0.9));
                (answer.friction_length_over_d, &row["expected"]["PDCF"])
            } else {
                let pitch = Length::from_m(input("pitch"));
                let hose = straight(d_m, HoseKind::Corrugated { pitch });
                let answer = hose.friction(round(d_m)).unwrap();
                assert_eq!(answer.friction_length_over_d, 0.0);
                (answer.fixed, &row["expected"]["f_darcy"])
            };
            let expected = expected.as_f64().unwrap();
            assert!((answer / expected - 1.0).abs() <= tol, "{id}: {answer}");
            checked += 1;
        }
        assert_eq!(checked, 20);
    }

    #[test]
    fn val_wire_hose_of_the_handbook() {
        // 2021 ASHRAE Handbook - Fundamentals, ch. 21, Example 6 and Table 2 (converted text):
        // 250 mm, 1.8 m installed, 470 L/s, 1.204 kg/m3, Re = 66.4 D V with D in mm. The table
        // rounds its factors by about 3 %, hence 4 % as the reference asks.
        let (d_m, q_m3s) = (0.25, 0.47);
        let bore = round(d_m);
        let v = q_m3s / bore.area().as_m2();
        for (compression, dp_pa) in [(0.0, 11.4), (0.04, 19.5), (0.15, 40.0), (0.30, 68.9)] {
            let hose = straight(1.8, HoseKind::Wire { compression });
            let answer = hose.friction(bore).unwrap();
            let f = friction_factor(66.4 * 250.0 * v, answer.roughness.as_m() / d_m).f;
            let dp = answer.friction_length_over_d * f * 1.204 / 2.0 * v * v;
            assert!((dp / dp_pa - 1.0).abs() < 0.04, "{compression}: {dp}");
            assert!(answer.notes.is_empty());
        }
    }

    #[test]
    fn prop_a_note_outside_the_data_and_none_inside() {
        let notes = |d_mm: f64, compression| {
            let hose = straight(2.0, HoseKind::Wire { compression });
            hose.friction(round(d_mm / 1000.0)).unwrap().notes.len()
        };
        assert_eq!(notes(152.4, 0.15), 0);
        assert_eq!(notes(101.6, 0.15), 1);
        assert_eq!(notes(101.6, 0.45), 2);
    }

    #[test]
    fn prop_what_cannot_be_is_refused_with_its_range() {
        let refused = |kind| straight(1.0, kind).friction(round(0.1)).unwrap_err();
        let slack = refused(HoseKind::Wire { compression: 1.0 });
        assert_eq!(
            slack.to_string(),
            "compression of the hose is 1; allowed: 0 to 0.95"
        );
        assert_eq!(refused(HoseKind::Ribbed { times_smooth: 0.5 }).min, 1.0);
        let pitch = Length::from_mm(0.0);
        assert_eq!(refused(HoseKind::Corrugated { pitch }).unit, " mm");
        // A right angle of r/D 1.5 in 100 mm bore is 236 mm long.
        let mut hose = straight(0.2, HoseKind::RIBBED);
        hose.bend = Some(HoseBend {
            angle: Angle::from_deg(90.0),
            r_over_d: 1.5,
        });
        assert!(hose.friction(round(0.1)).unwrap_err().min > 0.235);
    }

    #[test]
    fn prop_a_bend_costs_what_the_same_pipe_bend_costs() {
        // Straight share plus arc share must be the duct friction of the rest plus the pipe bend.
        let (d_m, f) = (0.1, 0.02);
        let kind = HoseKind::Ribbed { times_smooth: 2.0 };
        let mut hose = straight(1.0, kind);
        hose.bend = Some(HoseBend {
            angle: Angle::from_deg(90.0),
            r_over_d: 1.5,
        });
        let answer = hose.friction(round(d_m)).unwrap();
        let quarter = std::f64::consts::FRAC_PI_2;
        let rest = (1.0 - quarter * 1.5 * d_m) / d_m * 2.0 * f;
        let expected = rest + smooth_bend(1.5, quarter).at(2.0 * f);
        let k = answer.fixed + answer.friction_length_over_d * f;
        assert!((k / expected - 1.0).abs() < 1e-13);
        assert_eq!(answer.notes.len(), 1);
    }

    #[cfg(feature = "serde")]
    #[test]
    fn prop_text_without_compression_is_refused() {
        let read = |text| serde_json::from_str::<Hose>(text);
        let hose = read(r#"{ "length": "1.2 m", "kind": { "wire": { "compression": 0.1 } } }"#);
        assert_eq!(
            hose.unwrap(),
            straight(1.2, HoseKind::Wire { compression: 0.1 })
        );
        assert!(read(r#"{ "length": "1.2 m", "kind": { "wire": {} } }"#).is_err());
    }

    /// Any number at all, or one of the size that shops have.
    fn number() -> impl Strategy<Value = f64> {
        prop_oneof![any::<f64>(), 0.0..2.0_f64]
    }

    fn any_kind() -> impl Strategy<Value = HoseKind> {
        prop_oneof![
            number().prop_map(|compression| HoseKind::Wire { compression }),
            number().prop_map(|times_smooth| HoseKind::Ribbed { times_smooth }),
            number().prop_map(|m| HoseKind::Corrugated {
                pitch: Length::from_m(m)
            }),
        ]
    }

    proptest! {
        #[test]
        fn prop_any_input_gives_finite_loss_or_an_error(
            kind in any_kind(), length in number(), d in number(),
            bend in proptest::option::of((number(), number())),
        ) {
            let hose = Hose {
                bend: bend.map(|(deg, r_over_d)| HoseBend { angle: Angle::from_deg(deg), r_over_d }),
                ..straight(length, kind)
            };
            if let Ok(answer) = hose.friction(round(d)) {
                prop_assert!(answer.friction_length_over_d.is_finite() && answer.fixed.is_finite());
            }
        }

        #[test]
        fn prop_slack_and_length_only_add_loss(
            d in 0.05..0.4, c in 0.0..0.9, dc in 1e-6..0.05, l in 0.1..10.0, dl in 1e-6..1.0,
        ) {
            let at = |compression, length| straight(length, HoseKind::Wire { compression })
                .friction(round(d)).unwrap().friction_length_over_d;
            prop_assert!(at(c + dc, l) > at(c, l));
            prop_assert!(at(c, l + dl) > at(c, l));
        }
    }
}
