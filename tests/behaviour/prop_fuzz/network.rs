//! Systems of any shape and any valid numbers: always a status, and a sound balance by the audit.
//!
//! The bytes draw a tree of sections, their parts, a collector and its fan, mostly within the ranges
//! that the model's judge allows; what it refuses is refused with a reason.

use super::{balance, bytes::Bytes};
use airsplit::*;

pub(crate) fn holds(bytes: &[u8]) {
    let mut bytes = Bytes(bytes);
    let system = system(&mut bytes);
    let network = match Network::new(&system) {
        Ok(network) => network,
        Err(errors) => {
            assert!(!errors.to_string().is_empty());
            return;
        }
    };
    balance::holds(&system, &network, &network.open_all());
    let names: Vec<Name> = network.hoods().cloned().collect();
    let some = names.iter().filter(|_| bytes.once_in(2));
    let open = network.open(some).unwrap();
    balance::holds(&system, &network, &open);
    let flow = VolumeFlow::from_m3_s(bytes.wild(1e-6, 100.0));
    match network.point_at_flow(&open, flow) {
        // Beyond that the laws of junctions end, and with them the audit.
        Ok(point) if flow <= VolumeFlow::from_m3_s(1000.0) => balance::sound(&system, &point),
        Ok(_) => {}
        Err(error) => assert!(!error.to_string().is_empty()),
    }
}

const JUNCTIONS: [Junction; 5] = [
    Junction::Momentum,
    Junction::FixedK,
    Junction::Gardel,
    Junction::Crane,
    Junction::Automatic,
];

const WALLS: [Wall; 10] = [
    Wall::Galvanised,
    Wall::DrawnTube,
    Wall::SmoothPlastic,
    Wall::Steel,
    Wall::Aluminium,
    Wall::Spiral,
    Wall::RibbedSpiral,
    Wall::RectangularGalvanised,
    Wall::CorrugatedSpiral,
    Wall::Concrete,
];

pub(crate) fn system(bytes: &mut Bytes<'_>) -> System {
    let air = air(bytes);
    let junction = bytes.pick(&JUNCTIONS);
    let collector = collector(bytes);
    let mut system = System::new(air, collector).with_junction(junction);
    let count = 1 + bytes.below(24);
    // Most trees have few sizes: wyes by formula want a straight inlet of the outlet's bore.
    let sizes = [bore(bytes), bore(bytes), bore(bytes)];
    let mut inlets = vec![0_usize; count];
    for i in 0..count {
        let size = match bytes.below(4) {
            3 => bore(bytes),
            known => sizes[known],
        };
        let mut section = Section::new(format!("s{i}"), size, wall(bytes));
        if i > 0 && !bytes.once_in(16) {
            let into = bytes.below(i);
            inlets[into] += 1;
            section = section.draining_into(format!("s{into}"));
        }
        section.parts = parts(bytes, 4);
        section.tightness = match bytes.below(12) {
            0 => Tightness::Atc1,
            1 => Tightness::Atc3,
            2 => Tightness::Atc6,
            3 => Tightness::Smacna(bytes.within(0.0, 1000.0)),
            _ => Tightness::Airtight,
        };
        if bytes.once_in(4) {
            section.junction = Some(bytes.pick(&JUNCTIONS));
        }
        system.sections.push(section);
    }
    let mut straight = vec![false; count];
    for i in 0..count {
        if inlets[i] == 0 {
            system.sections[i].start = start(bytes, i);
        }
        let into: Option<usize> = system.sections[i]
            .into
            .as_ref()
            .and_then(|name| name.as_str().strip_prefix('s')?.parse().ok());
        if into.is_some_and(|into| inlets[into] < 2) {
            continue;
        }
        let goes_straight = into.is_some_and(|into| !std::mem::replace(&mut straight[into], true));
        system.sections[i].join = Join {
            angle: (!goes_straight).then(|| Angle::from_deg(bytes.within(0.0, 180.0))),
            k: Some(match bytes.below(4) {
                0 => bytes.within(-0.05, 2.0),
                1 => bytes.within(1e-6, 1e6),
                _ => bytes.between(0.0, 1.0),
            }),
            extra_k: if bytes.once_in(4) {
                bytes.within(0.0, 10.0)
            } else {
                0.0
            },
        };
    }
    system
}

fn air(bytes: &mut Bytes<'_>) -> Air {
    match bytes.below(3) {
        0 => Air::standard(),
        1 => Air::moist(
            Barometer::Altitude(Length::from_m(bytes.within(-400.0, 5000.0))),
            Temperature::from_celsius(bytes.within(-40.0, 60.0)),
            bytes.within(0.0, 1.0),
        ),
        _ => Air::Given {
            density: Density::from_kg_m3(bytes.within(0.01, 100.0)),
            viscosity: DynamicViscosity::from_pa_s(bytes.within(1e-7, 1e-3)),
        },
    }
}

fn bore(bytes: &mut Bytes<'_>) -> Bore {
    let side = |bytes: &mut Bytes<'_>| {
        Length::from_m(if bytes.once_in(8) {
            bytes.within(1e-3, 20.0)
        } else {
            bytes.spread(0.04, 0.6)
        })
    };
    if bytes.once_in(8) {
        Bore::Rectangular {
            width: side(bytes),
            height: side(bytes),
        }
    } else {
        Bore::Round(side(bytes))
    }
}

fn wall(bytes: &mut Bytes<'_>) -> Wall {
    if bytes.once_in(4) {
        Wall::Roughness(Length::from_mm(bytes.within(0.0, 5.0)))
    } else {
        bytes.pick(&WALLS)
    }
}

fn k(bytes: &mut Bytes<'_>) -> f64 {
    match bytes.below(8) {
        0 => 0.0,
        1 => bytes.within(1e-9, 1e6),
        _ => bytes.spread(0.01, 20.0),
    }
}

fn start(bytes: &mut Bytes<'_>, i: usize) -> Start {
    match bytes.below(12) {
        0 => Start::Capped,
        1 => Start::Leak(leak(bytes)),
        _ => {
            let angle = |bytes: &mut Bytes<'_>| Angle::from_deg(bytes.within(1.0, 180.0));
            let entry = match bytes.below(8) {
                0 => Entry::Plain,
                1 => Entry::Flanged,
                2 => Entry::Bellmouth,
                3 => Entry::Coefficient(bytes.within(0.001, 1.0)),
                4 => Entry::Tapered {
                    angle: angle(bytes),
                    face: Face::Round,
                },
                5 => Entry::Compound {
                    slot_area: Area::from_m2(bytes.within(1e-6, 1.0)),
                    angle: angle(bytes),
                    face: Face::Rectangular,
                },
                _ => Entry::K(k(bytes)),
            };
            Start::Hood(Hood::new(format!("h{i}"), entry))
        }
    }
}

fn leak(bytes: &mut Bytes<'_>) -> Leak {
    if bytes.once_in(2) {
        Leak::Hole(Area::from_m2(match bytes.below(4) {
            0 => bytes.within(0.0, 100.0),
            _ => bytes.spread(1e-8, 1e-2),
        }))
    } else {
        Leak::Power {
            at_1_pa: VolumeFlow::from_m3_s(bytes.within(1e-9, 10.0)),
            exponent: bytes.within(0.5, 1.0),
        }
    }
}

fn parts(bytes: &mut Bytes<'_>, most: usize) -> Vec<Part> {
    (0..bytes.below(most + 1)).map(|_| part(bytes)).collect()
}

fn part(bytes: &mut Bytes<'_>) -> Part {
    let length = |bytes: &mut Bytes<'_>| {
        Length::from_m(match bytes.below(8) {
            0 => bytes.within(0.0, 1e4),
            _ => bytes.spread(0.01, 50.0),
        })
    };
    match bytes.below(12) {
        0 | 1 => Part::Duct(length(bytes)),
        2 => Part::K(k(bytes)),
        3 => {
            let kind = match bytes.below(3) {
                0 => HoseKind::Wire {
                    compression: bytes.within(0.0, 0.95),
                },
                1 => HoseKind::Ribbed {
                    times_smooth: bytes.within(1.0, 20.0),
                },
                _ => HoseKind::Corrugated {
                    pitch: Length::from_mm(bytes.within(1.0, 100.0)),
                },
            };
            Part::Hose(Hose {
                length: length(bytes),
                kind,
                bend: bytes.once_in(2).then(|| HoseBend {
                    angle: Angle::from_deg(bytes.within(0.0, 360.0)),
                    r_over_d: bytes.within(0.5, 20.0),
                }),
            })
        }
        4 => {
            let angle = Angle::from_deg(bytes.within(1.0, 180.0));
            let r_over_d = bytes.within(0.5, 10.0);
            Part::Elbow(match bytes.below(5) {
                0 => Elbow::Gored {
                    pieces: bytes.byte(),
                    r_over_d,
                    angle,
                },
                1 => Elbow::Stamped { r_over_d, angle },
                2 => Elbow::Smooth { r_over_d, angle },
                3 => Elbow::Mitre { angle },
                _ => Elbow::K(k(bytes)),
            })
        }
        5 => Part::Transition(match bytes.below(3) {
            0 => Transition::Sharp,
            1 => Transition::Cone {
                angle: Angle::from_deg(bytes.within(1.0, 180.0)),
            },
            _ => Transition::K(k(bytes)),
        }),
        6 | 7 => Part::Gate(Gate {
            opening: bytes.within(0.0, 1.0),
            leak_area: bytes
                .once_in(2)
                .then(|| Area::from_m2(bytes.within(1e-8, 1e-2))),
        }),
        8 => Part::Filter(match bytes.below(3) {
            0 => Filter::Rated(drop(bytes)),
            1 => Filter::Terms {
                linear: drop(bytes),
                quadratic: drop(bytes),
            },
            _ => Filter::Cloth(Cloth {
                area: Area::from_m2(bytes.within(0.01, 1000.0)),
                drag: ClothDrag::Frazier(bytes.within(0.1, 500.0)),
                cake: bytes.once_in(2).then(|| DustCake {
                    load_kg_m2: bytes.within(0.0, 10.0),
                    k2_per_s: bytes.within(1.0, 1e6),
                }),
                housing: bytes.once_in(2).then(|| drop(bytes)),
            }),
        }),
        9 => Part::Separator(match bytes.below(3) {
            0 => Separator::VelocityHeads(bytes.within(0.0, 100.0)),
            1 => Separator::Rated(drop(bytes)),
            _ => Separator::Cyclone(Cyclone {
                inlet_height: Length::from_m(bytes.within(0.01, 1.0)),
                inlet_width: Length::from_m(bytes.within(0.01, 1.0)),
                outlet_diameter: Length::from_m(bytes.within(0.01, 1.0)),
                formula: bytes.pick(&[
                    CycloneFormula::ShepherdLapple,
                    CycloneFormula::ShepherdLappleInletVane,
                    CycloneFormula::CasalMartinez,
                ]),
            }),
        }),
        10 => Part::Port(Port {
            size: bore(bytes),
            k: k(bytes),
        }),
        _ => Part::Silencer(k(bytes)),
    }
}

fn drop(bytes: &mut Bytes<'_>) -> RatedDrop {
    RatedDrop {
        drop: Pressure::from_pa(bytes.within(0.0, 1e4)),
        at: VolumeFlow::from_m3_s(bytes.within(1e-4, 100.0)),
    }
}

fn run(bytes: &mut Bytes<'_>) -> Run {
    let mut run = Run::new(bore(bytes), wall(bytes));
    run.parts = parts(bytes, 3);
    run
}

fn collector(bytes: &mut Bytes<'_>) -> Collector {
    let fan = fan(bytes);
    let [before, after] = [bytes.below(3), bytes.below(3)];
    Collector {
        before: (0..before).map(|_| run(bytes)).collect(),
        fan,
        after: (0..after).map(|_| run(bytes)).collect(),
        junction: bytes.once_in(4).then(|| bytes.pick(&JUNCTIONS)),
    }
}

/// Points that rise and fall as they like.
fn fan(bytes: &mut Bytes<'_>) -> Option<FanCurve> {
    let widest = bytes.within(1e-3, 100.0);
    let highest = bytes.within(1.0, 20_000.0);
    let count = 3 + bytes.below(6);
    let mut flow = if bytes.once_in(4) {
        bytes.between(0.0, 0.5)
    } else {
        0.0
    };
    let mut points = Vec::new();
    let mut height = 1.0;
    for _ in 0..count {
        let point = (
            VolumeFlow::from_m3_s(flow * widest),
            Pressure::from_pa(height * highest),
        );
        points.push(point);
        flow += bytes.spread(0.001, 1.0);
        height = if bytes.once_in(8) {
            bytes.unit()
        } else {
            height * bytes.unit()
        };
    }
    let basis = match bytes.below(3) {
        0 => Basis::Total,
        1 => Basis::Static,
        _ => Basis::TestPipe { bore: bore(bytes) },
    };
    let fitted = bytes.pick(&[Fitted::NOTHING, Fitted::ALL]);
    let density = Density::from_kg_m3(bytes.within(0.5, 2.0));
    let fan = FanCurve::new(points, basis, fitted, density).ok()?;
    if bytes.once_in(4) {
        return Some(fan);
    }
    fan.with_outlet(bore(bytes)).ok()
}
