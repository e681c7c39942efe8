//! Gradients against solving again with each number changed a little.
//!
//! The reference of a derivative is the slope at 0 of the polynomial of fourth degree through five
//! answers, at 0 to 4 steps of a thousandth of the number, to each side. Each answer is a network
//! compiled and solved anew. A side does not count where the model refuses it, nor where the next
//! knot of a table or of the fan, or the onset of turbulence, lies within its steps: there the
//! polynomial of third degree through the first four answers disagrees; then the step is a
//! ten-thousandth. Of two sides that agree the mean is the reference. Two that do not agree have a
//! corner between them, or a knot within the first step, and the derivative must lie between them.
//!
//! With e the change of the output for 100 % of the number, both must agree to 1e-6 of e, or of a
//! thousandth of the output where e is less than that: answers are good to 1e-12, of which a
//! thousandth step leaves about 1e-8. A pressure is good to 1e-12 of the largest in the system, that
//! of the fan at rest among them, which then stands for the output. An output that is 0 must have
//! derivatives that are 0.

#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::print_stdout,
    reason = "a test that cannot go on must stop, and a long one says what it saw"
)]
#![cfg(feature = "serde")]

use crate::common::random::{Recipe, Rng, any_recipe};
use airsplit::{
    Adjoint, Air, Angle, Area, Balance, Barometer, Basis, Bore, Cloth, ClothDrag, Collector,
    Cyclone, CycloneFormula, Density, DustCake, Elbow, Entry, Face, FanCurve, Filter, FilterState,
    Fitted, Gate, Hood, Hose, HoseBend, HoseKind, Junction, Leak, Length, Network, Output,
    Parameter, Part, Place, Port, Pressure, RatedDrop, Run, Section, Separator, Setting, Start,
    System, Temperature, Tightness, Transition, VolumeFlow, Wall, Workspace,
};
use proptest::prelude::*;

const TOLERANCE: f64 = 1e-6;

/// A system, which hoods are open, and the total flow if it is imposed.
struct Case {
    system: System,
    open: Vec<String>,
    flow: Option<VolumeFlow>,
}

impl Case {
    fn new<N: ToString>(system: &System, open: &[N]) -> Self {
        Self {
            system: system.clone(),
            open: open.iter().map(ToString::to_string).collect(),
            flow: None,
        }
    }

    fn at_flow(self, m3_s: f64) -> Self {
        Self {
            flow: Some(VolumeFlow::from_m3_s(m3_s)),
            ..self
        }
    }

    fn outputs(&self) -> Vec<Output> {
        let network = Network::new(&self.system).unwrap();
        let hoods = network.hoods().cloned().map(Output::Hood);
        let machines = self.system.machines.iter();
        let machines = machines.map(|machine| Output::Machine(machine.id.clone()));
        let both = [Output::TotalFlow, Output::FanPressure];
        let taps = network.hoods().cloned().map(Output::HoodStatic);
        let sections = self.system.sections.iter().map(|section| &section.id);
        let ends = sections.clone().cloned().map(Output::SectionStatic);
        let before = (0..self.system.collector.before.len()).map(Output::BeforeStatic);
        let flows = hoods.chain(machines).chain(both);
        let flows = flows.chain(sections.cloned().map(Output::Section));
        flows.chain(taps).chain(ends).chain(before).collect()
    }

    /// Every output, solved with a number changed; `None` where the model refuses that.
    fn values(&self, outputs: &[Output], setting: &Setting) -> Option<Vec<f64>> {
        let network = Network::varied(&self.system, [setting]).ok()?;
        let open = network.open(&self.open).unwrap();
        let mut work = Workspace::default();
        let balance = match self.flow {
            None => network.solve(&open, &mut work),
            Some(flow) => network.solve_at_flow(&open, flow, &mut work),
        }
        .unwrap();
        let value = |output| balance.value(output).unwrap();
        Some(outputs.iter().map(value).collect())
    }

    /// Slopes of every output by solving again, stepping to one side.
    fn side(&self, outputs: &[Output], setting: &Setting, step: f64) -> Option<Vec<Slope>> {
        let at: Option<Vec<_>> = (0..5)
            .map(|n| {
                let mut moved = setting.clone();
                moved.value += f64::from(n) * step;
                self.values(outputs, &moved)
            })
            .collect();
        let at = at?;
        let slope = |output: usize, weights: &[f64], over: f64| {
            let terms = weights.iter().zip(&at).map(|(w, at)| w * at[output]);
            terms.sum::<f64>() / (over * step)
        };
        let both = |output| Slope {
            fourth: slope(output, &[-25.0, 48.0, -36.0, 16.0, -3.0], 12.0),
            third: slope(output, &[-11.0, 18.0, -9.0, 2.0], 6.0),
        };
        Some((0..outputs.len()).map(both).collect())
    }

    /// Checks every output against every number.
    fn check(&self) -> Checked {
        let outputs = self.outputs();
        let network = Network::new(&self.system).unwrap();
        let open = network.open(&self.open).unwrap();
        let mut work = Workspace::default();
        let balance = match self.flow {
            None => network.solve(&open, &mut work),
            Some(flow) => network.solve_at_flow(&open, flow, &mut work),
        }
        .unwrap();
        told_like_the_point(&balance);
        let gradients: Vec<_> = outputs
            .iter()
            .map(|output| balance.gradient(output).unwrap())
            .collect();
        let pressures = gradients.iter().zip(&outputs);
        let pressures = pressures.filter(|(_, output)| output.unit() == " Pa");
        let fan = self.system.collector.fan.as_ref();
        let at_rest = fan.map_or(0.0, |fan| fan.shut_off().as_pa());
        let pressure = pressures
            .map(|(gradient, _)| gradient.value.abs())
            .fold(at_rest, f64::max);
        let mut checked = Checked::default();
        for (i, setting) in network.settings().iter().enumerate() {
            let size = size(setting);
            let [up, down] = [1.0, -1.0].map(|way| {
                // A wye by formula takes a straight inlet of the outlet's bore only, within 0.1 %.
                let steps = [1e-3, 1e-4].map(|share| way * share * size);
                let sides = steps.map(|step| self.side(&outputs, setting, step));
                sides.into_iter().flatten().collect::<Vec<_>>()
            });
            for (o, gradient) in gradients.iter().enumerate() {
                let own = &gradient.sensitivities[i];
                let told = Setting::new(own.place.clone(), own.parameter, own.value);
                assert_eq!(told, *setting);
                if gradient.value == 0.0 {
                    assert_eq!(own.derivative, 0.0, "{setting}, {}", outputs[o]);
                }
                let whole = match outputs[o].unit() {
                    " Pa" => pressure,
                    _ => gradient.value.abs(),
                };
                let scale = (own.derivative.abs() * size).max(1e-3 * whole);
                let sound =
                    |slope: &f64, other: f64| (slope - other).abs() * size <= TOLERANCE * scale;
                let side = |steps: &[Vec<Slope>]| {
                    let slopes = steps.iter().map(|slopes| &slopes[o]);
                    // A reference has to be sharper than what it judges: beside a joint of laws both
                    // polynomials can be off alike.
                    let sharp = |at: &Slope| {
                        (at.fourth - at.third).abs() * size <= 0.05 * TOLERANCE * scale
                    };
                    let good = slopes.map(|at| Some(at.fourth).filter(|_| sharp(at)));
                    // Refused, or without an answer, or with one.
                    (!steps.is_empty()).then(|| good.flatten().next())
                };
                let (least, most) = match (side(&up), side(&down)) {
                    (Some(Some(one)), Some(Some(other))) if sound(&one, other) => {
                        let mean = 0.5 * (one + other);
                        (mean, mean)
                    }
                    (Some(Some(one)), Some(Some(other))) => (one.min(other), one.max(other)),
                    (Some(Some(only)), None) | (None, Some(Some(only))) => (only, only),
                    (None, None) => panic!("{setting} cannot be changed"),
                    // A knot, or a corner beside it: of a corner one side does not tell.
                    (Some(Some(only)), _) | (_, Some(Some(only)))
                        if sound(&only, own.derivative) =>
                    {
                        (only, only)
                    }
                    _ => {
                        checked.undecided += 1;
                        continue;
                    }
                };
                let outside = (least - own.derivative).max(own.derivative - most);
                let off = outside.max(0.0) * size;
                assert!(
                    off <= TOLERANCE * scale,
                    "{setting}: {} of {}, by solving again {least} to {most}; off by {:.1e}",
                    own.derivative,
                    outputs[o],
                    off / scale
                );
                checked.decided += 1;
                if scale > 0.0 {
                    checked.worst = checked.worst.max(off / scale);
                }
            }
        }
        // One number at a knot has no reference for any output.
        let few = outputs.len() + checked.decided / 20;
        assert!(checked.undecided <= few, "{checked:?}");
        checked
    }
}

/// What a balance says of a section, a hood or a run is what its point says.
fn told_like_the_point(balance: &Balance<'_>) {
    let point = balance.to_point();
    let same = |output: &Output, value: f64| {
        let told = balance.value(output).unwrap();
        let scale = value.abs().max(1e-3);
        assert!(
            (told - value).abs() <= 1e-11 * scale,
            "{output}: {told}, {value}"
        );
    };
    for hood in &point.hoods {
        same(
            &Output::HoodStatic(hood.name.clone()),
            hood.static_pressure.as_pa(),
        );
    }
    for section in &point.sections {
        same(&Output::Section(section.id.clone()), section.flow.as_m3_s());
        same(
            &Output::SectionStatic(section.id.clone()),
            section.static_pressure.as_pa(),
        );
    }
    for run in &point.collector {
        if let Place::Before { run: i, .. } = run.place {
            same(&Output::BeforeStatic(i), run.static_pressure.as_pa());
        }
    }
}

/// A slope by polynomials of fourth and of third degree.
#[derive(Debug)]
struct Slope {
    fourth: f64,
    third: f64,
}

/// How many derivatives were compared, how many had no reference, and how far off the worst was.
#[derive(Debug, Default)]
struct Checked {
    decided: usize,
    undecided: usize,
    worst: f64,
}

/// What 100 % of a number means; of one that is 0, something usual.
fn size(setting: &Setting) -> f64 {
    match setting.parameter {
        _ if setting.value != 0.0 => setting.value.abs(),
        Parameter::Altitude => 100.0,
        Parameter::Roughness => 1e-5,
        _ => 0.1,
    }
}

fn chair_shop() -> System {
    let text = include_str!("../../examples/chair_shop.toml");
    let study: airsplit::Study = toml::from_str(text).unwrap();
    study.system
}

/// Gored elbows at the knots of their tables, gates wide open, and moist air.
#[test]
fn prop_of_the_chair_shop() {
    let system = chair_shop();
    for open in [
        vec!["planer"],
        vec!["table saw", "lathe", "disc sander"],
        vec![
            "planer",
            "table saw",
            "bandsaw",
            "mortiser",
            "spindle moulder",
        ],
    ] {
        for case in [
            Case::new(&system, &open),
            Case::new(&system, &open).at_flow(0.4),
        ] {
            println!("{:?}", case.check());
        }
    }
}

/// A random system, to which walls that leak, gates and other junctions are put at random.
fn random(recipe: &Recipe) -> System {
    let mut rng = Rng(recipe.seed ^ 0x9ad1);
    let mut system = recipe.system();
    for section in &mut system.sections {
        if rng.chance(0.2) {
            let classes = [Tightness::Atc4, Tightness::Atc6, Tightness::Smacna(48.0)];
            section.tightness = rng.pick(&classes);
        }
        if matches!(section.start, Start::Hood(_)) && rng.chance(0.5) {
            let leak_area = rng
                .chance(0.7)
                .then_some(Area::from_cm2(rng.spread(0.1, 3.0)));
            let opening = if rng.chance(0.5) {
                1.0
            } else {
                rng.between(0.25, 1.0)
            };
            section.parts.push(Part::Gate(Gate { opening, leak_area }));
        }
        if section.start == Start::Capped && rng.chance(0.5) {
            section.start = Start::Leak(if rng.chance(0.5) {
                Leak::Hole(Area::from_cm2(rng.spread(0.5, 20.0)))
            } else {
                Leak::Power {
                    at_1_pa: VolumeFlow::from_m3_s(rng.spread(1e-5, 1e-3)),
                    exponent: rng.between(0.55, 0.95),
                }
            });
        }
    }
    system
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(16))]

    #[test]
    fn prop_of_random_systems(recipe in any_recipe(), hoods in 1..=6_usize, imposed in any::<bool>()) {
        let recipe = Recipe { hoods, ..recipe };
        let system = random(&recipe);
        let open = recipe.open(&system);
        let case = Case::new(&system, &open);
        let case = if imposed { case.at_flow(0.3) } else { case };
        println!("{:?}", case.check());
    }
}

fn round(mm: f64) -> Bore {
    Bore::Round(Length::from_mm(mm))
}

fn deg(angle: f64) -> Angle {
    Angle::from_deg(angle)
}

fn duct(metres: f64) -> Part {
    Part::Duct(Length::from_m(metres))
}

fn drop(pa: f64) -> RatedDrop {
    RatedDrop {
        drop: Pressure::from_pa(pa),
        at: VolumeFlow::from_m3_s(0.5),
    }
}

fn fan(basis: Basis) -> FanCurve {
    let points = [
        (0.0, 4200.0),
        (0.3, 4100.0),
        (0.7, 3300.0),
        (1.1, 1900.0),
        (1.4, 200.0),
    ];
    let points = points.map(|(q, p)| (VolumeFlow::from_m3_s(q), Pressure::from_pa(p)));
    let density = Density::from_kg_m3(1.18);
    let fan = FanCurve::new(points, basis, Fitted::NOTHING, density).unwrap();
    fan.with_outlet(round(230.0)).unwrap()
}

/// A section from a hood into another one.
fn drop_from(id: &str, into: &str, mm: f64, entry: Entry, parts: Vec<Part>) -> Section {
    let section = Section::new(id, round(mm), Wall::Galvanised).draining_into(into);
    let section = section.with_hood(Hood::new(id, entry));
    parts.into_iter().fold(section, Section::with_part)
}

fn gate(opening: f64) -> Part {
    Part::Gate(Gate {
        opening,
        leak_area: Some(Area::from_cm2(0.7)),
    })
}

/// Every element and every way to tell one, once at least.
fn everything() -> System {
    let hose = |kind, bend| {
        Part::Hose(Hose {
            length: Length::from_m(1.4),
            kind,
            bend,
        })
    };
    let bend = HoseBend {
        angle: deg(70.0),
        r_over_d: 2.2,
    };
    let cloth = Cloth {
        area: Area::from_m2(9.0),
        drag: ClothDrag::Frazier(30.0),
        cake: Some(DustCake {
            load_kg_m2: 0.2,
            k2_per_s: DustCake::WOOD_COARSER_PER_S,
        }),
        housing: Some(drop(60.0)),
    };
    let felt = Cloth {
        drag: ClothDrag::At {
            drop: Pressure::from_pa(40.0),
            face: airsplit::Velocity::from_m_s(0.03),
        },
        cake: None,
        housing: None,
        ..cloth
    };
    let cycle = Filter::Cycle {
        clean: Box::new(Filter::Rated(drop(100.0))),
        due: Box::new(Filter::Cloth(felt)),
        now: FilterState::Due,
    };
    let cyclone = Cyclone {
        inlet_height: Length::from_mm(230.0),
        inlet_width: Length::from_mm(110.0),
        outlet_diameter: Length::from_mm(190.0),
        formula: CycloneFormula::CasalMartinez,
    };
    let collector = Collector {
        before: vec![
            Run::new(round(220.0), Wall::Galvanised)
                .with_part(Part::Separator(Separator::Cyclone(cyclone)))
                .with_part(duct(1.0)),
            Run::new(round(250.0), Wall::Spiral)
                .with_part(Part::Transition(Transition::Cone { angle: deg(25.0) }))
                .with_part(Part::Filter(Filter::Cloth(cloth)))
                .with_part(Part::Separator(Separator::VelocityHeads(0.8))),
        ],
        fan: Some(fan(Basis::Static)),
        after: vec![
            Run::new(round(240.0), Wall::Galvanised)
                .with_part(Part::Silencer(0.4))
                .with_part(duct(2.0)),
            Run::new(
                Bore::Rectangular {
                    width: Length::from_mm(260.0),
                    height: Length::from_mm(210.0),
                },
                Wall::RectangularGalvanised,
            )
            .with_part(Part::Filter(cycle)),
        ],
        junction: None,
    };
    let air = Air::moist(
        Barometer::Altitude(Length::from_m(420.0)),
        Temperature::from_celsius(17.0),
        0.55,
    );
    let elbows = vec![
        Part::Elbow(Elbow::Gored {
            pieces: 5,
            r_over_d: 1.7,
            angle: deg(80.0),
        }),
        Part::Elbow(Elbow::Stamped {
            r_over_d: 1.3,
            angle: deg(60.0),
        }),
        Part::Elbow(Elbow::Smooth {
            r_over_d: 2.0,
            angle: deg(90.0),
        }),
        Part::Elbow(Elbow::Mitre { angle: deg(30.0) }),
        Part::Elbow(Elbow::K(0.3)),
        gate(0.6),
    ];
    let taper = Entry::Tapered {
        angle: deg(70.0),
        face: Face::Round,
    };
    let slots = Entry::Compound {
        slot_area: Area::from_cm2(150.0),
        angle: deg(50.0),
        face: Face::Rectangular,
    };
    let port = Part::Port(Port {
        size: round(95.0),
        k: 1.4,
    });
    let joint = |at: &str, into: &str, mm| {
        Section::new(at, round(mm), Wall::Galvanised).draining_into(into)
    };
    System::new(air, collector)
        .with_section(
            Section::new("main", round(200.0), Wall::Galvanised)
                .with_tightness(Tightness::Atc6)
                .with_part(duct(5.0)),
        )
        .with_section(
            Section::new("side", round(160.0), Wall::Roughness(Length::from_m(0.0)))
                .joining_at(deg(40.0))
                .with_part(duct(4.0)),
        )
        .with_section(drop_from("elbows", "main", 150.0, taper, elbows).joining_at(deg(45.0)))
        .with_section(
            joint("widening", "main", 170.0).with_part(Part::Transition(Transition::Sharp)),
        )
        .with_section(
            joint("narrowing", "widening", 140.0)
                .with_part(Part::Transition(Transition::Cone { angle: deg(35.0) }))
                .with_part(duct(2.0)),
        )
        .with_section(joint("narrowed", "narrowing", 155.0))
        .with_section(drop_from(
            "hoses",
            "narrowed",
            100.0,
            slots,
            vec![
                hose(HoseKind::Wire { compression: 0.0 }, Some(bend)),
                port,
                gate(1.0),
            ],
        ))
        .with_section(
            drop_from(
                "ribs",
                "narrowed",
                125.0,
                Entry::Coefficient(0.75),
                vec![
                    hose(HoseKind::Ribbed { times_smooth: 3.0 }, None),
                    hose(
                        HoseKind::Corrugated {
                            pitch: Length::from_mm(9.0),
                        },
                        None,
                    ),
                    duct(0.0),
                    gate(1.0),
                ],
            )
            .joining_at(deg(90.0)),
        )
        .with_section(
            joint("torn", "narrowed", 60.0)
                .joining_at(deg(60.0))
                .with_part(duct(1.0))
                .with_leak(Leak::Hole(Area::from_cm2(6.0))),
        )
        .with_section(
            joint("vessel end", "side", 130.0).with_part(Part::Transition(Transition::K(0.2))),
        )
        .with_section(
            drop_from(
                "vessel",
                "vessel end",
                140.0,
                Entry::Plain,
                vec![
                    Part::Separator(Separator::Rated(drop(300.0))),
                    Part::Filter(Filter::Terms {
                        linear: drop(80.0),
                        quadratic: drop(120.0),
                    }),
                    Part::K(0.0),
                    gate(1.0),
                ],
            )
            .with_tightness(Tightness::Smacna(30.0)),
        )
        .with_section(
            drop_from(
                "bell",
                "side",
                120.0,
                Entry::Bellmouth,
                vec![duct(3.0), gate(1.0)],
            )
            .joining_at(deg(0.0)),
        )
        .with_section(
            joint("pin holes", "side", 50.0)
                .joining_at(deg(120.0))
                .with_leak(Leak::Power {
                    at_1_pa: VolumeFlow::from_m3_s(1e-4),
                    exponent: 0.6,
                }),
        )
        .with_machine("hosed", VolumeFlow::from_m3_s(0.2))
}

/// `everything` with its hoods given to machines.
pub(crate) fn with_machines() -> System {
    let mut system = everything();
    for section in &mut system.sections {
        if let Start::Hood(hood) = &mut section.start
            && matches!(hood.id.as_str(), "hoses" | "ribs")
        {
            hood.machine = Some("hosed".into());
        }
    }
    system
}

#[test]
fn prop_of_every_element() {
    let system = with_machines();
    let all = ["elbows", "hosed", "vessel", "bell"];
    for case in [
        Case::new(&system, &all),
        Case::new(&system, &all).at_flow(0.5),
        // The others leak through their shut gates.
        Case::new(&system, &["ribs"]),
        Case::new(&system, &["elbows", "vessel"]).at_flow(0.3),
    ] {
        println!("{:?}", case.check());
    }
    // Every number that there is a name for, but for what some other system must have.
    let network = Network::new(&system).unwrap();
    let settings = network.settings();
    let named = |parameter: Parameter| settings.iter().any(|at| at.parameter == parameter);
    for parameter in [
        Parameter::Altitude,
        Parameter::Temperature,
        Parameter::Humidity,
        Parameter::Density,
        Parameter::Viscosity,
        Parameter::Speed,
        Parameter::Factor,
        Parameter::K,
        Parameter::ExtraK,
        Parameter::Diameter,
        Parameter::Width,
        Parameter::Height,
        Parameter::Length,
        Parameter::Roughness,
        Parameter::Angle,
        Parameter::RadiusRatio,
        Parameter::Pitch,
        Parameter::Compression,
        Parameter::HoseFactor,
        Parameter::Opening,
        Parameter::LeakArea,
        Parameter::LeakFlow,
        Parameter::Exponent,
        Parameter::Leakage,
        Parameter::Drop,
        Parameter::LinearDrop,
        Parameter::QuadraticDrop,
        Parameter::Area,
        Parameter::Permeability,
        Parameter::DustLoad,
        Parameter::CakeResistance,
    ] {
        assert!(named(parameter), "{parameter}");
    }
}

/// Wyes by formula, a dead branch among them; fixed coefficients; fans on other bases.
#[test]
fn prop_of_every_junction_and_basis() {
    let wye = |junction, area_ratio: f64, basis, air| {
        let [small, main] = [160.0 * area_ratio.sqrt(), 160.0];
        let mut system = System::new(air, Collector::new(fan(basis)))
            .with_junction(junction)
            .with_section(Section::new("main", round(main), Wall::Galvanised).with_part(duct(4.0)))
            .with_section(
                Section::new("upper", round(main), Wall::Galvanised)
                    .draining_into("main")
                    .joining_with_k(0.1)
                    .with_part(duct(3.0)),
            )
            .with_section(
                drop_from(
                    "low",
                    "main",
                    small,
                    Entry::Flanged,
                    vec![duct(2.0), gate(1.0)],
                )
                .joining_with_k(0.4),
            )
            .with_section(
                drop_from(
                    "far",
                    "upper",
                    main,
                    Entry::K(0.5),
                    vec![duct(2.0), gate(1.0)],
                )
                .joining_with_k(0.2),
            )
            .with_section(
                drop_from("high", "upper", small, Entry::K(1.0), vec![duct(1.0)])
                    .joining_with_k(0.6),
            );
        for section in &mut system.sections {
            if matches!(section.id.as_str(), "low" | "high") {
                section.join.angle = Some(deg(52.0));
            }
        }
        system
    };
    let given = Air::Given {
        density: Density::from_kg_m3(1.1),
        viscosity: airsplit::DynamicViscosity::from_pa_s(1.8e-5),
    };
    let weather = Air::moist(
        Barometer::Pressure(Pressure::from_kpa(96.0)),
        Temperature::from_celsius(24.0),
        0.0,
    );
    let pipe = Basis::TestPipe { bore: round(210.0) };
    for (system, open) in [
        (
            wye(Junction::Gardel, 0.7, Basis::Total, given),
            &["low", "far", "high"][..],
        ),
        (
            wye(Junction::Gardel, 0.7, Basis::Static, weather),
            &["low", "high"],
        ),
        (
            wye(Junction::Crane, 0.6, pipe, given),
            &["low", "far", "high"],
        ),
        (wye(Junction::Crane, 0.3, Basis::Static, weather), &["far"]),
        (
            wye(Junction::Automatic, 0.5, Basis::Static, given),
            &["low", "far"],
        ),
        (
            wye(Junction::FixedK, 0.5, Basis::Total, given),
            &["low", "far", "high"],
        ),
        (
            wye(Junction::Momentum, 0.5, Basis::Static, given),
            &["high"],
        ),
    ] {
        for case in [
            Case::new(&system, open),
            Case::new(&system, open).at_flow(0.4),
        ] {
            println!("{:?}", case.check());
        }
    }
}

/// A fan of which only the ends are known has its shape for a number.
#[test]
fn prop_of_an_estimated_fan() {
    let fan = FanCurve::from_extremes(
        VolumeFlow::from_m3_s(0.6),
        Pressure::from_pa(2400.0),
        Fitted::NOTHING,
        Density::from_kg_m3(1.2),
    );
    let mut system = chair_shop();
    system.collector.fan = Some(fan.unwrap().with_outlet(round(200.0)).unwrap());
    let case = Case::new(&system, &["planer", "lathe"]);
    println!("{:?}", case.check());
    let network = Network::new(&system).unwrap();
    let gradient = network.gradient(&network.open_all(), &Output::TotalFlow);
    let gradient = gradient.unwrap();
    let shape = gradient.of(&Place::Fan, Parameter::Shape).unwrap();
    // A fuller curve gives more air.
    assert!(shape.derivative > 0.0);
}

/// A fan of one pressure, whatever the flow, on a run of one coefficient and perhaps a collector of
/// another.
fn level_fan(k: f64, d: f64, collector_k: Option<f64>) -> System {
    let air = Air::Given {
        density: Density::from_kg_m3(1.2),
        viscosity: airsplit::DynamicViscosity::from_pa_s(1.8e-5),
    };
    let points = [0.0, 1.0, 2.0].map(|q| (VolumeFlow::from_m3_s(q), Pressure::from_pa(1500.0)));
    let density = Density::from_kg_m3(1.2);
    let fan = FanCurve::new(points, Basis::Static, Fitted::NOTHING, density).unwrap();
    let before =
        collector_k.map(|k| Run::new(round(1000.0 * d), Wall::Galvanised).with_part(Part::K(k)));
    let collector = Collector {
        before: before.into_iter().collect(),
        ..Collector::new(fan)
    };
    System::new(air, collector).with_section(
        Section::new("run", round(1000.0 * d), Wall::Galvanised)
            .with_part(Part::K(k))
            .with_hood(Hood::new("port", Entry::K(0.0))),
    )
}

/// A run of one coefficient at a fan of one pressure p: q = A sqrt(2 p / (rho K)), by hand.
#[test]
fn val_one_coefficient_at_a_level_fan() {
    let (k, d) = (5.0, 0.15);
    let system = level_fan(k, d, None);
    let network = Network::new(&system).unwrap();
    let output = Output::Hood("port".into());
    let gradient = network.gradient(&network.open_all(), &output).unwrap();
    let area = std::f64::consts::PI / 4.0 * d * d;
    let q = area * (2.0 * 1500.0 / (1.2 * k)).sqrt();
    assert!((gradient.value / q - 1.0).abs() < 1e-14);
    let part = Place::Part {
        section: "run".into(),
        part: 0,
    };
    let run = Place::Section("run".into());
    for (place, parameter, derivative) in [
        (&part, Parameter::K, -0.5 * q / k),
        (&run, Parameter::Diameter, 2.0 * q / d),
        (&Place::Fan, Parameter::Factor, 0.5 * q),
        // By the fan laws the pressure follows the square of speed.
        (&Place::Fan, Parameter::Speed, q),
        // Pressure and loss both follow density.
        (&Place::Air, Parameter::Density, 0.0),
        (&Place::Air, Parameter::Viscosity, 0.0),
        (&Place::Hood("port".into()), Parameter::K, -0.5 * q / k),
    ] {
        let own = gradient.of(place, parameter).unwrap();
        let off = (own.derivative - derivative).abs();
        assert!(off < 1e-9 * q, "{own}: {} {derivative}", own.derivative);
    }
    assert_eq!(gradient.of(&part, Parameter::Length), None);
    // Doubling the loss by a factor on the coefficient: 1 % of it costs half a per cent.
    let k = gradient.of(&part, Parameter::K).unwrap();
    assert!((k.per_percent() + 0.005 * q).abs() < 1e-11);
}

/// The same with an extra loss of d pascals anywhere: q = A sqrt(2 (p - d) / (rho K)), so that q
/// changes by -q / (2 p) for each of them, and by as much the other way for each that the fan gives.
#[test]
fn val_an_extra_pascal_at_a_level_fan() {
    let system = level_fan(3.0, 0.15, Some(2.0));
    let network = Network::new(&system).unwrap();
    let mut work = Workspace::default();
    let balance = network.solve(&network.open_all(), &mut work).unwrap();
    let q = balance.flow().as_m3_s();
    let mut adjoint = Adjoint::default();
    let influence = balance.influence(&Output::TotalFlow, &mut adjoint).unwrap();
    let per_pa = -q / (2.0 * 1500.0);
    let near = |value: f64, expected: f64| (value / expected - 1.0).abs() < 1e-12;
    let sections: Vec<f64> = influence.sections().collect();
    assert!(
        sections.len() == 1 && near(sections[0], per_pa),
        "{sections:?}"
    );
    assert!(near(influence.collector(), per_pa));
    assert!(near(influence.fan(), -per_pa));
    // Where the flow is imposed, no loss changes it.
    let balance = network
        .solve_at_flow(&network.open_all(), VolumeFlow::from_m3_s(0.1), &mut work)
        .unwrap();
    let influence = balance.influence(&Output::TotalFlow, &mut adjoint).unwrap();
    assert_eq!((influence.collector(), influence.fan()), (0.0, 0.0));
}

#[test]
fn prop_ranks_are_in_order_and_elements_come_once() {
    let system = chair_shop();
    let network = Network::new(&system).unwrap();
    let open = network.open(["planer", "lathe"]).unwrap();
    let gradient = network
        .gradient(&open, &Output::Machine("planer".into()))
        .unwrap();
    let ranked = gradient.ranked();
    assert_eq!(ranked.len(), network.settings().len());
    let size = |at: &airsplit::Sensitivity| at.per_percent().abs();
    assert!(ranked.windows(2).all(|pair| size(pair[0]) >= size(pair[1])));
    assert_eq!(
        ranked[0].to_string(),
        format!("section \"planer drop\": diameter {} m", ranked[0].value)
    );
    let elements = gradient.elements();
    assert_eq!(elements.first(), ranked.first());
    let mut places: Vec<String> = elements.iter().map(|at| at.place.to_string()).collect();
    places.sort();
    places.dedup();
    assert_eq!(places.len(), elements.len());
    // Its own drop comes first, and there the diameter.
    let drop = Place::Section("planer drop".into());
    assert_eq!(
        (&ranked[0].place, ranked[0].parameter),
        (&drop, Parameter::Diameter)
    );
    // The sander's drop is shut off.
    let shut = gradient
        .of(&Place::Section("sander drop".into()), Parameter::Diameter)
        .unwrap();
    assert_eq!(shut.derivative, 0.0);
}

#[test]
fn unknown_outputs_and_settings_are_told() {
    let system = chair_shop();
    let network = Network::new(&system).unwrap();
    let open = network.open_all();
    let told = |output| network.gradient(&open, &output).unwrap_err().to_string();
    insta::assert_snapshot!(told(Output::Hood("planer prot".into())), @r#"no hood is called "planer prot"; known, nearest first: "planer port", "bandsaw port", "lathe scoop", "mortiser port", "sander table", "saw guard" and 2 more"#);
    insta::assert_snapshot!(told(Output::Machine("planner".into())), @r#"no machine is called "planner"; known, nearest first: "planer", "lathe", "bandsaw", "mortiser", "disc sander", "table saw" and 1 more"#);
    // A machine is no hood.
    insta::assert_snapshot!(told(Output::Hood("lathe".into())), @r#"no hood is called "lathe"; known, nearest first: "lathe scoop", "saw guard", "planer port", "sander table", "saw cabinet", "bandsaw port" and 2 more"#);
    let refused = |place, parameter, value| {
        let setting = Setting::new(place, parameter, value);
        Network::varied(&system, [&setting])
            .unwrap_err()
            .to_string()
    };
    let main = || Place::Section("main east".into());
    insta::assert_snapshot!(refused(main(), Parameter::Humidity, 0.5), @r#"section "main east": it has no relative humidity that could be set; `Network::settings` lists what can"#);
    insta::assert_snapshot!(refused(Place::Section("mian".into()), Parameter::Diameter, 0.2), @r#"section "mian": no section is called "mian"; known, nearest first: "far end", "main east", "main west", "back wall", "saw branch", "bench line" and 9 more"#);
    insta::assert_snapshot!(refused(main(), Parameter::Diameter, f64::NAN), @r#"section "main east": diameter is NaN mm; allowed: 1 mm to 20000 mm"#);
    insta::assert_snapshot!(refused(Place::Fan, Parameter::Speed, 0.0), @r#"fan: speed of the fan over that of its curve is 0; allowed: 0.01 to 100"#);
    insta::assert_snapshot!(refused(Place::Fan, Parameter::Factor, 0.0), @r#"fan: factor is 0; allowed: 0.001 to 1000"#);
    let elbow = Place::Part {
        section: "main east".into(),
        part: 1,
    };
    insta::assert_snapshot!(refused(elbow, Parameter::Factor, -1.0), @r#"section "main east", part 2: factor is -1; allowed: 0 to 1000"#);
    let join = Place::Join("planer drop".into());
    insta::assert_snapshot!(refused(join, Parameter::ExtraK, -50.0), @r#"section "planer drop": its coefficients, its join's among them, add up to -48.2 velocity pressures: a run must not gain total pressure; raise its k"#);
}
