//! Hoods: what it costs the air to enter.

use super::{Heads, LossError, Note, Rated, table::Table};
use crate::{
    bore::Bore,
    quantity::{Angle, Area, Pressure},
};

/// Loss of a sharp-edged slot, on the velocity pressure of the slot. ACGIH, Industrial
/// Ventilation; seen in a reprint of its figure of hood entry losses.
const SLOT_LOSS: f64 = 1.78;

/// The entry of a hood; its loss is referred to the velocity pressure of the duct behind it.
///
/// The values of the plain, flanged and bellmouth end are those of ACGIH, *Industrial
/// Ventilation* (hood entry losses), seen in a reprint of its figure; 0.93 and 0.04 were also
/// read in an examination text of industrial hygiene.
///
/// ```
/// use airsplit::{Bore, Entry, Length, Pressure, throat_static_suction};
/// let k = Entry::Flanged.heads(Bore::Round(Length::from_in(5.0)))?.heads.fixed;
/// let suction = throat_static_suction(k, Pressure::from_pa(240.0));
/// assert!((suction.as_pa() - 1.49 * 240.0).abs() < 1e-9);
/// # Ok::<(), airsplit::LossError>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "snake_case", deny_unknown_fields)
)]
#[non_exhaustive]
pub enum Entry {
    /// By its loss coefficient, 0 to 1e6.
    K(f64),
    /// By its coefficient of entry Ce, 0.001 to 1: K = 1 / Ce^2 - 1.
    ///
    /// Ce is the flow that enters over the flow that would enter without loss at the same static
    /// suction in the throat (the definition, e.g. ACGIH).
    Coefficient(f64),
    /// A plain end of duct: K 0.93.
    Plain,
    /// A duct end with a flange: K 0.49 (0.5 in older texts).
    Flanged,
    /// A rounded bell mouth: K 0.04.
    Bellmouth,
    /// A tapered hood whose face is at least twice the area of the duct.
    ///
    /// Between the rows of ACGIH, *Industrial Ventilation* (hood entry losses; transcribed from
    /// memory, not re-read; the rectangular one at 45 deg, 0.15, was read in a textbook) the
    /// shape-preserving cubic. Tested: 15 to 180 deg; below 15 deg K stays, with a note.
    Tapered {
        /// Total (included) angle of the taper, 1 to 180 deg.
        angle: Angle,
        /// Shape of the face.
        face: Face,
    },
    /// A slot into a plenum, and a taper from the plenum to the duct.
    ///
    /// K = 1.78 (duct area / slot area)^2 + K of the taper. ACGIH, *Industrial Ventilation*,
    /// compound hoods. Made for a slot that is not faster than the duct: a faster one also loses
    /// what its jet carries beyond the duct's velocity pressure (from memory), and a note says so.
    Compound {
        /// Open area of all slots together, 1e-6 to 1e4 m2.
        slot_area: Area,
        /// Total (included) angle of the taper, 1 to 180 deg.
        angle: Angle,
        /// Shape of the face of the taper.
        face: Face,
    },
}

/// Shape of the face of a tapered hood.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "snake_case")
)]
#[non_exhaustive]
pub enum Face {
    /// Round.
    Round,
    /// Square or rectangular.
    Rectangular,
}

impl Entry {
    /// The loss at a duct of this `bore`; only [`Compound`](Self::Compound) asks its area, 1e-6
    /// to 1e4 m2.
    ///
    /// # Errors
    ///
    /// [`LossError`] when a value lies outside the range that its field tells.
    pub fn heads(&self, bore: Bore) -> Result<Rated, LossError> {
        match *self {
            Self::K(k) => Rated::given(k),
            Self::Coefficient(ce) => {
                let ce = LossError::within("coefficient of entry", ce, "", 0.001, 1.0)?;
                // (1 - Ce)(1 + Ce): no digits lost near 1, and exactly 0 there
                Rated::given((1.0 - ce) * (1.0 + ce) / (ce * ce))
            }
            Self::Plain => Rated::given(0.93),
            Self::Flanged => Rated::given(0.49),
            Self::Bellmouth => Rated::given(0.04),
            Self::Tapered { angle, face } => {
                let (k, note) = taper(angle, face)?;
                Ok(Rated::new(Heads::fixed(k), [note]))
            }
            Self::Compound {
                slot_area,
                angle,
                face,
            } => {
                let area =
                    |what, area: Area| LossError::within(what, area.as_m2(), " m2", 1e-6, 1e4);
                let (taper, note) = taper(angle, face)?;
                let speed = area("area of the duct", bore.area())? / area("slot area", slot_area)?;
                Ok(Rated::new(
                    Heads::fixed(SLOT_LOSS * speed * speed + taper),
                    [
                        note,
                        Note::outside("slot velocity over duct velocity", speed, "", 0.0, 1.0),
                    ],
                ))
            }
        }
    }
}

/// The static suction in the throat of a hood: (1 + `k`) times the velocity pressure of the duct.
///
/// It is what a tap two to four diameters behind the hood reads (common practice, no source):
/// the loss, and the pressure that set the air moving. Any numbers are taken.
#[must_use]
pub fn throat_static_suction(k: f64, velocity_pressure: Pressure) -> Pressure {
    Pressure::from_pa((1.0 + k) * velocity_pressure.as_pa())
}

fn taper(angle: Angle, face: Face) -> Result<(f64, Option<Note>), LossError> {
    const WHAT: &str = "taper angle";
    let deg = LossError::within(WHAT, angle.as_deg(), " deg", 1.0, 180.0)?;
    let row = match face {
        Face::Round => ROUND_TAPER,
        Face::Rectangular => RECTANGULAR_TAPER,
    };
    Ok((row.at(deg), row.note(WHAT, deg, " deg")))
}

// ACGIH, Industrial Ventilation, tapered hoods, K by total angle; from memory.
const ROUND_TAPER: Table<8> = Table([
    (15.0, 0.15),
    (30.0, 0.08),
    (45.0, 0.06),
    (60.0, 0.08),
    (90.0, 0.15),
    (120.0, 0.26),
    (150.0, 0.40),
    (180.0, 0.50),
]);
const RECTANGULAR_TAPER: Table<8> = Table([
    (15.0, 0.25),
    (30.0, 0.16),
    (45.0, 0.15),
    (60.0, 0.17),
    (90.0, 0.25),
    (120.0, 0.35),
    (150.0, 0.48),
    (180.0, 0.50),
]);

#[cfg(test)]
mod tests {
    use super::*;
    use crate::loss::table::check_rows;
    use crate::quantity::Length;
    use approx::assert_relative_eq;
    use proptest::{num::f64::ANY, prelude::*};
    use serde_json::Value;

    fn rows(prefix: &str) -> Vec<Value> {
        check_rows(include_str!("../../tests/data/hood.json"), prefix)
    }

    fn numbers(list: &Value) -> Vec<f64> {
        serde_json::from_value(list.clone()).expect("a list of numbers")
    }

    fn rated(entry: Entry) -> Rated {
        let five_inch = Bore::Round(Length::from_in(5.0));
        entry.heads(five_inch).expect("within its range")
    }

    fn k(entry: Entry) -> f64 {
        rated(entry).heads.fixed
    }

    fn tapered(deg: f64, face: Face) -> Entry {
        let angle = Angle::from_deg(deg);
        Entry::Tapered { angle, face }
    }

    #[test]
    fn val_entries_are_those_of_the_table() {
        // ACGIH, Industrial Ventilation: plain, flanged, bellmouth and slot seen in a reprint,
        // tapers from memory. Exactly.
        let row = &rows("hood.table.acgih")[0];
        let expected = &row["expected"];
        assert_eq!(Some(k(Entry::Plain)), expected["plain_end"].as_f64());
        assert_eq!(Some(k(Entry::Flanged)), expected["flanged_end"].as_f64());
        assert_eq!(Some(k(Entry::Bellmouth)), expected["bellmouth"].as_f64());
        assert_eq!(Some(SLOT_LOSS), expected["sharp_orifice"].as_f64());
        let angles = numbers(&row["inputs"]["angle_deg"]);
        for (face, name) in [(Face::Round, "K_round"), (Face::Rectangular, "K_rect")] {
            let ours: Vec<_> = angles.iter().map(|&deg| k(tapered(deg, face))).collect();
            assert_eq!(ours, numbers(&expected[name]));
        }
    }

    #[test]
    fn val_between_rows_tapers_agree_with_scipy() {
        // SciPy 1.17.1, PchipInterpolator.
        for (id, face) in [
            ("hood.pchip.round", Face::Round),
            ("hood.pchip.rect", Face::Rectangular),
        ] {
            let row = &rows(id)[0];
            let theirs = numbers(&row["expected"]["K"]);
            for (deg, theirs) in numbers(&row["inputs"]["x_eval"]).into_iter().zip(theirs) {
                assert_relative_eq!(k(tapered(deg, face)), theirs, max_relative = 1e-12);
            }
        }
    }

    #[test]
    fn val_coefficient_of_entry_and_throat_suction() {
        // mpmath 1.3.0, 40 digits.
        for row in rows("hood.Ce") {
            let input = |name: &str| row["inputs"][name].as_f64().expect("a number");
            let expected = |name: &str| row["expected"][name].as_f64().expect("a number");
            let ours = k(Entry::Coefficient(expected("Ce")));
            // K of a Ce rounded to 16 digits: to 1e-12 of 1 + K, which is what Ce fixes
            assert_relative_eq!(1.0 + ours, 1.0 + input("K"), max_relative = 1e-12);
            let h = Pressure::from_pa(input("rho") * input("V").powi(2) / 2.0);
            let suction = throat_static_suction(input("K"), h).as_pa();
            assert_relative_eq!(
                suction,
                expected("hood_static_suction"),
                max_relative = 1e-12
            );
            let loss = k(Entry::K(input("K"))) * h.as_pa();
            assert_relative_eq!(loss, expected("total_loss"), max_relative = 1e-12);
        }
    }

    #[test]
    fn val_examination_questions_of_industrial_hygiene() {
        // A question bank on the equation sheet of the American Board of Industrial Hygiene,
        // items 1, 3, 4 and 5; in wg, to the digits printed.
        let in_wg = Pressure::from_in_wg;
        let loss = k(Entry::Plain) * 0.5;
        assert!((loss - 0.47).abs() <= 0.005 + 1e-12, "{loss}");
        let suction = throat_static_suction(k(Entry::K(0.6)), in_wg(2.0)).as_in_wg();
        assert_relative_eq!(suction, 3.2, max_relative = 1e-12);
        // suction 0.8 at velocity pressure 0.4: Ce 0.707
        let suction = throat_static_suction(k(Entry::Coefficient(0.707)), in_wg(0.4)).as_in_wg();
        assert!((suction - 0.8).abs() < 0.001, "{suction}");
        // Ce 0.98, suction 4, 0.196 ft2: 1539 cfm, with V = 4005 sqrt(h)
        let h = 4.0 / (1.0 + k(Entry::Coefficient(0.98)));
        let flow_cfm = 4005.0 * f64::sqrt(h) * 0.196;
        assert!((flow_cfm - 1539.0).abs() <= 0.5, "{flow_cfm}");
    }

    #[test]
    fn val_tapered_hood_of_a_textbook() {
        // Heinsohn & Cimbala, Indoor Air Quality Engineering: tapered hood of 45 deg, 0.15.
        assert_eq!(k(tapered(45.0, Face::Rectangular)), 0.15);
    }

    #[test]
    fn prop_a_compound_hood_adds_slot_and_taper() {
        let compound = |slot_area| Entry::Compound {
            slot_area,
            angle: Angle::from_deg(90.0),
            face: Face::Rectangular,
        };
        let duct = Bore::Round(Length::from_in(5.0)).area().as_m2();
        let slow = rated(compound(Area::from_m2(2.0 * duct)));
        assert_relative_eq!(slow.heads.fixed, 1.78 / 4.0 + 0.25, max_relative = 1e-12);
        assert!(slow.notes.is_empty());
        let fast = rated(compound(Area::from_m2(0.5 * duct)));
        assert_relative_eq!(fast.heads.fixed, 1.78 * 4.0 + 0.25, max_relative = 1e-12);
        assert_eq!(fast.notes[0].what, "slot velocity over duct velocity");
    }

    #[test]
    fn prop_out_of_the_table_a_taper_keeps_the_end_and_says_so() {
        let steep = rated(tapered(5.0, Face::Round));
        assert_eq!(steep.heads.fixed, 0.15);
        assert_eq!(steep.notes[0].min, 15.0);
        assert!(rated(tapered(15.0, Face::Round)).notes.is_empty());
    }

    #[test]
    fn prop_bad_input_is_refused_with_its_range() {
        let text = |entry: Entry| {
            let error = entry.heads(Bore::Round(Length::from_m(0.1)));
            error.expect_err("must be refused").to_string()
        };
        assert_eq!(
            text(Entry::Coefficient(1.1)),
            "coefficient of entry is 1.1; allowed: 0.001 to 1"
        );
        assert_eq!(
            text(tapered(200.0, Face::Round)),
            "taper angle is 200 deg; allowed: 1 deg to 180 deg"
        );
        assert!(text(Entry::K(-0.5)).starts_with("loss coefficient is -0.5"));
        assert_eq!(k(Entry::Coefficient(1.0)), 0.0);
        assert!(k(Entry::Coefficient(0.001)) > 9e5);
    }

    proptest! {
        #[test]
        fn prop_any_numbers_give_a_loss_that_is_not_negative_or_an_error(
            kind in 0..4_u8,
            x in prop_oneof![ANY, 0.0..2.0],
            deg in prop_oneof![ANY, 0.0..180.0],
            d in prop_oneof![ANY, 0.05..1.0],
        ) {
            let angle = Angle::from_deg(deg);
            let face = Face::Round;
            let entry = match kind {
                0 => Entry::K(x),
                1 => Entry::Coefficient(x),
                2 => Entry::Tapered { angle, face },
                _ => Entry::Compound { slot_area: Area::from_m2(x), angle, face },
            };
            if let Ok(Rated { heads, .. }) = entry.heads(Bore::Round(Length::from_m(d))) {
                prop_assert!(heads.fixed >= 0.0 && heads.fixed.is_finite());
                prop_assert_eq!(heads.friction, 0.0);
            }
            let _ = throat_static_suction(x, Pressure::from_pa(d));
        }

        #[test]
        fn prop_tapers_are_continuous_and_a_rectangular_face_never_loses_less(
            deg in prop_oneof![1.0..179.0, Just(15.0), Just(45.0), Just(90.0)],
        ) {
            let h = 1e-7;
            for face in [Face::Round, Face::Rectangular] {
                let step = k(tapered(deg + h, face)) - k(tapered(deg, face));
                prop_assert!(step.abs() < h, "{step}");
            }
            prop_assert!(k(tapered(deg, Face::Rectangular)) >= k(tapered(deg, Face::Round)));
        }

        #[test]
        fn prop_a_better_coefficient_of_entry_loses_less(a in 0.001..1.0, b in 0.001..1.0) {
            let (worse, better) = (f64::min(a, b), f64::max(a, b));
            prop_assert!(k(Entry::Coefficient(better)) <= k(Entry::Coefficient(worse)));
        }
    }
}
