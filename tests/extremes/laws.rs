//! Air, quantities and laws of loss.

use super::*;

fn bores() -> Vec<Bore> {
    let mut bores = vec![round(150.0)];
    for odd in ODD {
        bores.push(Bore::Round(Length::from_m(odd)));
        bores.push(Bore::Rectangular {
            width: Length::from_m(odd),
            height: Length::from_m(0.1),
        });
    }
    bores
}

#[test]
fn prop_air_is_air_or_refused() {
    let mut some = 0;
    for a in ODD.into_iter().chain([300.0]) {
        for b in ODD.into_iter().chain([20.0]) {
            for humidity in ODD.into_iter().chain([0.5]) {
                for barometer in [
                    Barometer::Altitude(Length::from_m(a)),
                    Barometer::Pressure(Pressure::from_pa(a)),
                ] {
                    let air = Air::moist(barometer, Temperature::from_celsius(b), humidity);
                    if let Some(air) = value(air.properties()) {
                        some += 1;
                        assert!((0.3..2.0).contains(&air.density.as_kg_m3()));
                        assert!((1e-5..3e-5).contains(&air.viscosity.as_pa_s()));
                    }
                }
            }
            let given = Air::Given {
                density: Density::from_kg_m3(a),
                viscosity: DynamicViscosity::from_pa_s(b),
            };
            assert!(value(given.properties()).is_none_or(|air| air.density.is_finite()));
        }
    }
    assert!(some > 10);
}

#[test]
fn prop_friction_is_finite_or_none() {
    for re in ODD {
        for rough in ODD {
            let told = friction_factor(re, rough);
            let known = !re.is_nan() && !rough.is_nan();
            // Still air has no friction factor; what it loses is nothing all the same.
            assert_eq!(
                told.f.is_finite(),
                known && re.abs() > 1e-300,
                "{re} {rough}"
            );
            assert!(!known || told.log_slope.is_finite());
        }
    }
}

#[test]
fn prop_parts_are_told_or_refused() {
    for bore in bores() {
        finite_or_odd(bore);
        for odd in ODD {
            let angle = Angle::from_deg(odd);
            let length = Length::from_m(odd);
            let diameter = bore.hydraulic_diameter();
            for elbow in [
                Elbow::K(odd),
                Elbow::Mitre { angle },
                Elbow::Smooth {
                    r_over_d: odd,
                    angle: Angle::from_deg(90.0),
                },
                Elbow::Smooth {
                    r_over_d: 1.5,
                    angle,
                },
                Elbow::Stamped {
                    r_over_d: odd,
                    angle: Angle::from_deg(90.0),
                },
                Elbow::Stamped {
                    r_over_d: 1.5,
                    angle,
                },
                Elbow::Gored {
                    pieces: 255,
                    r_over_d: odd,
                    angle: Angle::from_deg(90.0),
                },
                Elbow::Gored {
                    pieces: 0,
                    r_over_d: 1.5,
                    angle,
                },
            ] {
                if let Some(rated) = value(elbow.heads(diameter)) {
                    finite(rated.heads.fixed);
                    finite(rated.heads.friction);
                }
            }
            for entry in [
                Entry::K(odd),
                Entry::Coefficient(odd),
                Entry::Plain,
                Entry::Tapered {
                    angle,
                    face: Face::Round,
                },
                Entry::Compound {
                    slot_area: Area::from_m2(odd),
                    angle: Angle::from_deg(90.0),
                    face: Face::Rectangular,
                },
            ] {
                if let Some(rated) = value(entry.heads(bore)) {
                    finite(rated.heads.fixed);
                }
            }
            for kind in [
                HoseKind::Wire { compression: odd },
                HoseKind::Ribbed { times_smooth: odd },
                HoseKind::Corrugated { pitch: length },
                HoseKind::Ribbed { times_smooth: 3.0 },
            ] {
                for length in [length, Length::from_m(1.0)] {
                    let bend = Some(HoseBend {
                        angle,
                        r_over_d: odd,
                    });
                    for bend in [None, bend] {
                        let hose = Hose { length, kind, bend };
                        if let Some(friction) = value(hose.friction(bore)) {
                            finite(friction.fixed);
                            finite(friction.friction_length_over_d);
                            finite(friction.roughness.as_m());
                        }
                    }
                }
            }
            for transition in [
                Transition::Sharp,
                Transition::K(odd),
                Transition::Cone { angle },
            ] {
                for to in [round(100.0), bore] {
                    if let Some(rated) = value(transition.heads(bore, to)) {
                        finite(rated.heads.fixed);
                    }
                }
            }
            for leak_area in [None, Some(Area::from_m2(odd))] {
                for opening in [odd, 0.0, 0.5] {
                    let gate = Gate { opening, leak_area };
                    if let Some(loss) = value(gate.loss(bore)) {
                        // Shut and tight lets nothing by: no coefficient is large enough.
                        assert!(gate.is_shut() || loss.heads.fixed.is_finite(), "{gate:?}");
                        assert!(!loss.heads.fixed.is_nan());
                    }
                }
            }
        }
    }
}

fn finite_or_odd(bore: Bore) {
    // Takes any number, without a word: judged where it is used.
    let _ = (bore.area(), bore.perimeter(), bore.hydraulic_diameter());
}

#[test]
fn prop_filters_separators_and_leaks_are_told_or_refused() {
    for a in ODD {
        for b in ODD {
            let rated = RatedDrop {
                drop: Pressure::from_pa(a),
                at: VolumeFlow::from_m3_s(b),
            };
            let cloth = Cloth {
                area: Area::from_m2(a),
                drag: ClothDrag::Frazier(b),
                cake: Some(DustCake {
                    load_kg_m2: a,
                    k2_per_s: b,
                }),
                housing: Some(rated),
            };
            for filter in [
                Filter::Rated(rated),
                Filter::Terms {
                    linear: rated,
                    quadratic: rated,
                },
                Filter::Cloth(cloth),
            ] {
                if let Some(terms) = value(filter.terms()) {
                    finite(terms.drop_pa(1.0));
                    finite(terms.slope_pa_s_m3(1.0));
                    let _ = terms.drop_pa(a);
                }
            }
            let separators = [
                Separator::VelocityHeads(a),
                Separator::Rated(rated),
                Separator::Cyclone(Cyclone {
                    inlet_height: Length::from_m(a),
                    inlet_width: Length::from_m(b),
                    outlet_diameter: Length::from_m(0.2),
                    formula: CycloneFormula::CasalMartinez,
                }),
            ];
            for separator in separators {
                for density in [b, 1.2] {
                    let density = Density::from_kg_m3(density);
                    if let Some(loss) = value(separator.quadratic(round(150.0), density)) {
                        finite(loss.pa_s2_m6);
                    }
                }
            }
            let power = Leak::Power {
                at_1_pa: VolumeFlow::from_m3_s(a),
                exponent: b,
            };
            for leak in [power, Leak::Hole(Area::from_m2(a))] {
                for density in [b, 1.2] {
                    if let Some(Some(law)) = value(leak.law(Density::from_kg_m3(density))) {
                        finite(law.flow(100.0).value);
                        finite(law.pressure(0.01).value);
                        finite(law.flow(0.0).slope);
                    }
                }
            }
            for tightness in [Tightness::Smacna(a), Tightness::Atc3] {
                if let Some(Some(law)) = value(tightness.law(Area::from_m2(b))) {
                    finite(law.flow(100.0).value);
                }
            }
            let inlet = |k| Inlet {
                area: Area::from_m2(a),
                angle: Angle::from_deg(b),
                k,
            };
            let straight = Inlet {
                area: Area::from_m2(0.02),
                angle: Angle::from_deg(0.0),
                k: 0.0,
            };
            for model in [
                Junction::Momentum,
                Junction::FixedK,
                Junction::Gardel,
                Junction::Crane,
                Junction::Automatic,
            ] {
                for flow in [a, 0.1] {
                    let flow = VolumeFlow::from_m3_s(flow);
                    let inlets = [(straight, flow), (inlet(b), flow)];
                    let air = Density::from_kg_m3(1.2);
                    let losses = model.losses(air, Area::from_m2(0.02), &inlets);
                    for inlet in value(losses).into_iter().flat_map(|told| told.inlets) {
                        finite(inlet.loss.as_pa());
                    }
                    told_of_none(model);
                }
            }
            let shell = Shell::new(Length::from_m(a), Material::Steel).ringed(Length::from_m(b));
            if let Some(suction) = value(shell.collapse_suction(Length::from_m(0.2))) {
                assert!(!suction.as_pa().is_nan());
            }
        }
    }
}

fn told_of_none(model: Junction) {
    let air = Density::from_kg_m3(1.2);
    let _ = value(model.losses(air, Area::from_m2(0.02), &[]));
}
