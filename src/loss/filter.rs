//! Filters: what cloth, dust cake and housing cost.

use super::{LossError, Note};
use crate::quantity::{Area, Pressure, Velocity, VolumeFlow};

/// A pressure drop known at one flow, as on a data sheet.
///
/// It is taken as it stands, for the air of the shop: for thinner air, scale it before giving it.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
pub struct RatedDrop {
    /// Loss of total pressure: 0 to 100 kPa.
    pub drop: Pressure,
    /// The flow at which it was told: 1e-6 to 1000 m3/s.
    pub at: VolumeFlow,
}

impl RatedDrop {
    fn check(self) -> Result<[f64; 2], LossError> {
        let at = self.at.as_m3_s();
        Ok([
            LossError::within("rated pressure drop", self.drop.as_pa(), " Pa", 0.0, 1e5)?,
            LossError::within("flow of the rated pressure drop", at, " m3/s", 1e-6, 1e3)?,
        ])
    }

    /// Pa per m3/s of a drop that grows in step with flow.
    pub(crate) fn linear(self) -> Result<f64, LossError> {
        self.check().map(|[dp_pa, q_m3s]| dp_pa / q_m3s)
    }

    /// Pa per (m3/s)^2 of a drop that grows with the square of flow.
    pub(crate) fn quadratic(self) -> Result<f64, LossError> {
        self.check().map(|[dp_pa, q_m3s]| dp_pa / (q_m3s * q_m3s))
    }
}

/// A filter.
///
/// Cloth and cake lose pressure in step with flow (the air creeps through them), a housing with
/// its square. The loss is one of total pressure, strictly rising with flow.
///
/// ```
/// use airsplit::{Filter, Pressure, RatedDrop, VolumeFlow};
/// let filter = Filter::Rated(RatedDrop {
///     drop: Pressure::from_pa(250.0),
///     at: VolumeFlow::from_m3_s(0.5),
/// });
/// assert_eq!(filter.terms()?.drop_pa(0.4), 200.0);
/// # Ok::<(), airsplit::LossError>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "snake_case", deny_unknown_fields)
)]
#[non_exhaustive]
pub enum Filter {
    /// One rated point, taken as linear in flow, as cloth is.
    Rated(RatedDrop),
    /// A share that follows flow and a share that follows its square.
    Terms {
        /// Cloth and cake.
        linear: RatedDrop,
        /// Inlet, outlet and housing.
        quadratic: RatedDrop,
    },
    /// Built up from its cloth, dust and housing.
    Cloth(Cloth),
    /// Both states between which a filter lives, and which of them it is in now.
    Cycle {
        /// Just cleaned.
        clean: Box<Filter>,
        /// Due for cleaning.
        due: Box<Filter>,
        /// Which of the two holds now.
        now: FilterState,
    },
}

/// Where a filter stands between two cleanings.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "snake_case")
)]
#[non_exhaustive]
pub enum FilterState {
    /// Just cleaned.
    Clean,
    /// Due for cleaning.
    Due,
}

/// The loss of a filter: dp = `linear` q + `quadratic` q |q|.
///
/// In other air the linear share scales with viscosity and the quadratic one with density.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct FilterTerms {
    /// Pa per m3/s.
    pub linear_pa_s_m3: f64,
    /// Pa per (m3/s)^2.
    pub quadratic_pa_s2_m6: f64,
}

impl FilterTerms {
    /// The loss at a flow, Pa.
    #[must_use]
    pub fn drop_pa(self, q_m3s: f64) -> f64 {
        (self.linear_pa_s_m3 + self.quadratic_pa_s2_m6 * q_m3s.abs()) * q_m3s
    }

    /// Its slope, Pa per m3/s.
    #[must_use]
    pub fn slope_pa_s_m3(self, q_m3s: f64) -> f64 {
        self.linear_pa_s_m3 + 2.0 * self.quadratic_pa_s2_m6 * q_m3s.abs()
    }
}

impl Filter {
    /// The two terms of the loss, in the state that the filter is in now.
    ///
    /// # Errors
    /// A drop, flow, area, permeability or load outside the range that its field states.
    pub fn terms(&self) -> Result<FilterTerms, LossError> {
        let mut filter = self;
        // A loop and no recursion: however deep the states are nested, the stack holds.
        while let Self::Cycle { clean, due, now } = filter {
            filter = match now {
                FilterState::Clean => clean,
                FilterState::Due => due,
            };
        }
        match filter {
            Self::Rated(rated) => Ok(FilterTerms {
                linear_pa_s_m3: rated.linear()?,
                quadratic_pa_s2_m6: 0.0,
            }),
            Self::Terms { linear, quadratic } => Ok(FilterTerms {
                linear_pa_s_m3: linear.linear()?,
                quadratic_pa_s2_m6: quadratic.quadratic()?,
            }),
            Self::Cloth(cloth) => cloth.terms(),
            Self::Cycle { .. } => Ok(FilterTerms::default()), // the loop above leaves none
        }
    }

    /// The filter in a state: one of the two of a cycle, itself otherwise.
    #[must_use]
    pub fn in_state(&self, state: FilterState) -> &Self {
        match self {
            Self::Cycle { clean, due, .. } => match state {
                FilterState::Clean => clean,
                FilterState::Due => due,
            },
            _ => self,
        }
    }

    /// The cloth that the air passes now, where it is known.
    #[must_use]
    pub fn cloth(&self) -> Option<&Cloth> {
        let mut filter = self;
        while let Self::Cycle { now, .. } = filter {
            filter = filter.in_state(*now);
        }
        match filter {
            Self::Cloth(cloth) => Some(cloth),
            _ => None,
        }
    }
}

/// Filter cloth, the dust on it and the housing around it.
///
/// dp = (S + K2 W) Q/A + housing, with S the drag of the clean cloth, W the dust per area. Source:
/// the drag model of the *EPA Air Pollution Control Cost Manual*, EPA/452/B-02-001, section 6,
/// ch. 1 (form transcribed from memory, not re-read).
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
pub struct Cloth {
    /// Area of the cloth: 0.001 to 100 000 m2.
    pub area: Area,
    /// How hard the clean cloth resists.
    pub drag: ClothDrag,
    /// The dust on it, if any.
    #[cfg_attr(
        feature = "serde",
        serde(default, skip_serializing_if = "Option::is_none")
    )]
    pub cake: Option<DustCake>,
    /// Loss of inlet, outlet and housing, which follows the square of flow.
    #[cfg_attr(
        feature = "serde",
        serde(default, skip_serializing_if = "Option::is_none")
    )]
    pub housing: Option<RatedDrop>,
}

/// How hard clean cloth resists the air.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "snake_case", deny_unknown_fields)
)]
#[non_exhaustive]
pub enum ClothDrag {
    /// Frazier permeability: cfm through 1 ft2 at 0.5 in wg, 0.01 to 100 000.
    ///
    /// The drag is 24 517 / Frazier Pa per m/s, straight from that definition.
    Frazier(f64),
    /// The drop at a face velocity.
    At {
        /// Pressure drop: 0 to 100 kPa.
        drop: Pressure,
        /// Flow over cloth area: 1e-6 to 100 m/s.
        face: Velocity,
    },
}

/// A layer of dust on the cloth.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
pub struct DustCake {
    /// Dust on a square metre of cloth \[kg/m2\]: 0 to 100.
    pub load_kg_m2: f64,
    /// Specific resistance K2, Pa for each m/s and kg/m2 \[1/s\]: 0 to 1e9.
    pub k2_per_s: f64,
}

impl DustCake {
    /// K2 of the coarser of two wood dusts \[1/s\]: 6.30 in wg per (lb/ft2)(ft/min).
    ///
    /// Source: L. K. Wang, N. C. Pereira and Y.-T. Hung (eds), *Air Pollution Control Engineering*,
    /// 2004, p. 62, Table 1, read in a scan that had lost the headings of its columns: which size
    /// of dust the value belongs to is not certain.
    pub const WOOD_COARSER_PER_S: f64 = 6.30 * Self::K2_US;

    /// K2 of the finer wood dust \[1/s\]: 25.2 in wg per (lb/ft2)(ft/min); same source, same doubt.
    pub const WOOD_FINER_PER_S: f64 = 25.2 * Self::K2_US;

    /// 1 in wg per (lb/ft2)(ft/min), in 1/s.
    const K2_US: f64 = 249.088_91 / (0.453_592_37 / (0.3048 * 0.3048) * 0.005_08);
}

impl Cloth {
    /// Highest filter loading for woodworking collectors that return the air, m3/(m2 h).
    ///
    /// Source: EN 12779, as read in DGUV Information 209-044 "Holzstaub", section 5.4.
    pub const WOOD_LOADING_M3_M2H: f64 = 150.0;

    /// Flow over cloth area. An area that is not above zero gives what division gives.
    #[must_use]
    pub fn face_velocity(&self, flow: VolumeFlow) -> Velocity {
        Velocity::from_m_s(flow.as_m3_s() / self.area.as_m2())
    }

    /// A note where the flow loads the cloth above [`Self::WOOD_LOADING_M3_M2H`].
    #[must_use]
    pub fn overload(&self, flow: VolumeFlow) -> Option<Note> {
        Note::outside(
            "filter loading",
            self.face_velocity(flow).as_m_s() * 3600.0,
            " m3/(m2 h)",
            0.0,
            Self::WOOD_LOADING_M3_M2H,
        )
    }

    fn terms(&self) -> Result<FilterTerms, LossError> {
        let area_m2 = LossError::within("filter area", self.area.as_m2(), " m2", 1e-3, 1e5)?;
        let mut drag_pa_s_m = match self.drag {
            ClothDrag::Frazier(cfm_ft2) => {
                let what = "Frazier permeability";
                let cfm_ft2 = LossError::within(what, cfm_ft2, " cfm/ft2", 0.01, 1e5)?;
                0.5 * 249.088_91 / (cfm_ft2 * 0.005_08)
            }
            ClothDrag::At { drop, face } => {
                let dp_pa =
                    LossError::within("pressure drop of the cloth", drop.as_pa(), " Pa", 0.0, 1e5)?;
                let v = LossError::within("face velocity", face.as_m_s(), " m/s", 1e-6, 100.0)?;
                dp_pa / v
            }
        };
        if let Some(cake) = self.cake {
            let load = LossError::within("dust load", cake.load_kg_m2, " kg/m2", 0.0, 100.0)?;
            let k2 = LossError::within("K2 of the dust", cake.k2_per_s, " 1/s", 0.0, 1e9)?;
            drag_pa_s_m += k2 * load;
        }
        Ok(FilterTerms {
            linear_pa_s_m3: drag_pa_s_m / area_m2,
            quadratic_pa_s2_m6: self.housing.map_or(Ok(0.0), RatedDrop::quadratic)?,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn rated(drop_pa: f64, at_m3s: f64) -> RatedDrop {
        RatedDrop {
            drop: Pressure::from_pa(drop_pa),
            at: VolumeFlow::from_m3_s(at_m3s),
        }
    }

    fn cloth(area_m2: f64, drag_pa_s_m: f64) -> Cloth {
        Cloth {
            area: Area::from_m2(area_m2),
            drag: ClothDrag::At {
                drop: Pressure::from_pa(drag_pa_s_m),
                face: Velocity::from_m_s(1.0),
            },
            cake: None,
            housing: None,
        }
    }

    #[test]
    fn val_check_rows() {
        let rows: Vec<serde_json::Value> =
            serde_json::from_str(include_str!("../../tests/data/filter.json")).unwrap();
        for row in &rows {
            let id = row["id"].as_str().unwrap();
            let input = |name: &str| row["inputs"][name].as_f64().unwrap();
            let (q, area) = (input("Q"), input("area"));
            let filter = if id == "filter.dust_cake" {
                Filter::Cloth(Cloth {
                    cake: Some(DustCake {
                        load_kg_m2: input("W"),
                        k2_per_s: input("K2"),
                    }),
                    ..cloth(area, input("S_E"))
                })
            } else {
                // a v + b v^2, told at v = 1 m/s
                Filter::Terms {
                    linear: rated(input("a"), area),
                    quadratic: rated(input("b"), area),
                }
            };
            let terms = filter.terms().unwrap();
            let tol = row["rel_tol"].as_f64().unwrap();
            let close = |answer: f64, name: &str| {
                let expected = row["expected"][name].as_f64().unwrap();
                assert!((answer / expected - 1.0).abs() <= tol, "{id} {name}");
            };
            close(terms.drop_pa(q), "dp");
            close(terms.slope_pa_s_m3(q), "ddp_dQ");
        }
        assert_eq!(rows.len(), 2);
    }

    #[test]
    fn val_drag_from_frazier_permeability() {
        // Printed as 24590 / Frazier Pa s/m (air pollution control text, its Eq. 2.4.1-2.4.2); the
        // definition with exact units gives 24517, 0.3 % less.
        let filter = Filter::Cloth(Cloth {
            drag: ClothDrag::Frazier(30.0),
            ..cloth(1.0, 0.0)
        });
        let drag = filter.terms().unwrap().linear_pa_s_m3;
        assert!((drag / (24590.0 / 30.0) - 1.0).abs() < 4e-3);
    }

    #[test]
    fn prop_it_drops_what_was_told_at_that_face_velocity() {
        let told = Filter::Cloth(Cloth {
            drag: ClothDrag::At {
                drop: Pressure::from_pa(120.0),
                face: Velocity::from_m_s(0.04),
            },
            ..cloth(20.0, 0.0)
        });
        let drop_pa = told.terms().unwrap().drop_pa(20.0 * 0.04);
        assert!((drop_pa - 120.0).abs() < 1e-9, "{drop_pa}");
    }

    #[test]
    fn val_bag_area_of_a_lecture() {
        // Lecture notes "Design of fabric filter": 5 m3/s at 2.0 m/min need 150 m2.
        let v = cloth(150.0, 0.0).face_velocity(VolumeFlow::from_m3_s(5.0));
        assert!((v.as_m_s() * 60.0 - 2.0).abs() < 1e-12);
    }

    #[test]
    fn val_loading_limit_for_wood() {
        // DGUV Information 209-044, 5.4 (EN 12779): 150 m3/(m2 h), 2.5 m/min.
        let cloth = cloth(10.0, 0.0);
        assert_eq!(cloth.overload(VolumeFlow::from_m3_h(1400.0)), None);
        let note = cloth.overload(VolumeFlow::from_m3_h(1600.0)).unwrap();
        assert!((note.value - 160.0).abs() < 1e-9);
    }

    #[test]
    fn val_fabric_collector_clean_and_due() {
        // 2021 ASHRAE Handbook - Fundamentals, ch. 21, Example 9 and note to Table 19: 400 Pa
        // clean, 750 Pa where cleaning starts, at 1440 L/s.
        let mut filter = Filter::Cycle {
            clean: Box::new(Filter::Rated(rated(400.0, 1.44))),
            due: Box::new(Filter::Rated(rated(750.0, 1.44))),
            now: FilterState::Due,
        };
        let drop = |filter: &Filter| filter.terms().unwrap().drop_pa(1.44);
        assert!((drop(&filter) - 750.0).abs() < 1e-9);
        assert!((drop(filter.in_state(FilterState::Clean)) - 400.0).abs() < 1e-9);
        if let Filter::Cycle { now, .. } = &mut filter {
            *now = FilterState::Clean;
        }
        assert!((drop(&filter) - 400.0).abs() < 1e-9);
    }

    #[test]
    fn val_wood_cake_resistance_in_our_unit() {
        // By hand: 1 in wg/(lb/ft2)/(ft/min) = 249.08891 Pa / (4.882428 kg/m2 x 0.00508 m/s).
        let one = 249.088_91 / (4.882_428 * 0.005_08);
        assert!((DustCake::WOOD_COARSER_PER_S / (6.30 * one) - 1.0).abs() < 1e-6);
        assert!((DustCake::WOOD_FINER_PER_S / (25.2 * one) - 1.0).abs() < 1e-6);
    }

    #[test]
    fn prop_what_cannot_be_is_refused_with_its_range() {
        let refused = Filter::Cloth(cloth(0.0, 1.0)).terms().unwrap_err();
        assert_eq!(
            refused.to_string(),
            "filter area is 0 m2; allowed: 0.001 m2 to 100000 m2"
        );
        assert!(Filter::Rated(rated(-1.0, 1.0)).terms().is_err());
        assert!(Filter::Rated(rated(1.0, 0.0)).terms().is_err());
        assert!(Filter::Rated(rated(f64::NAN, 1.0)).terms().is_err());
    }

    #[cfg(feature = "serde")]
    #[test]
    fn prop_text_of_both_states() {
        let text = r#"{ "cycle": { "now": "due",
            "clean": { "rated": { "drop": "250 Pa", "at": "0.5 m3/s" } },
            "due": { "cloth": { "area": "9 m2", "drag": { "frazier": 30.0 } } } } }"#;
        let filter: Filter = serde_json::from_str(text).unwrap();
        assert_eq!(filter.cloth().unwrap().area, Area::from_m2(9.0));
        let again: Filter = serde_json::from_str(&serde_json::to_string(&filter).unwrap()).unwrap();
        assert_eq!(again, filter);
        assert!(serde_json::from_str::<Filter>(&text.replace("area", "aera")).is_err());
    }

    /// Any number at all, or one of the size that shops have.
    fn number() -> impl Strategy<Value = f64> {
        prop_oneof![any::<f64>(), 0.0..2.0_f64]
    }

    proptest! {
        #[test]
        fn prop_any_input_is_answered(x in proptest::array::uniform8(number())) {
            let cloth = Cloth {
                cake: Some(DustCake { load_kg_m2: x[2], k2_per_s: x[3] }),
                housing: Some(rated(x[4], x[5])),
                ..cloth(x[0], x[1])
            };
            for filter in [
                Filter::Cloth(cloth),
                Filter::Rated(rated(x[6], x[7])),
                Filter::Terms { linear: rated(x[0], x[1]), quadratic: rated(x[2], x[3]) },
            ] {
                if let Ok(terms) = filter.terms() {
                    prop_assert!(terms.drop_pa(1.0).is_finite() && terms.drop_pa(1.0) >= 0.0);
                }
            }
        }

        #[test]
        fn prop_loss_rises_and_its_slope_is_right(
            a in 1.0..2000.0, b in 0.0..2000.0, q in -2.0..2.0, dq in 1e-6..0.1,
        ) {
            let filter = Filter::Terms { linear: rated(a, 1.0), quadratic: rated(b, 1.0) };
            let terms = filter.terms().unwrap();
            prop_assert!(terms.drop_pa(q + dq) > terms.drop_pa(q));
            prop_assert_eq!(terms.drop_pa(-q), -terms.drop_pa(q));
            let h = 1e-6;
            let difference = (terms.drop_pa(q + h) - terms.drop_pa(q - h)) / (2.0 * h);
            prop_assert!((terms.slope_pa_s_m3(q) - difference).abs() < 1e-2);
        }
    }
}
