//! Degenerate systems: one hood, ten thousand sections, nothing but a filter, gates a hair open.
//!
//! Where the answer has a closed form it is worked out beside the check. Reading, judging and
//! refusing such documents is in `tests/behaviour/bad_input`.

#![allow(
    clippy::unwrap_used,
    clippy::panic,
    reason = "a test that cannot go on must stop"
)]

use airsplit::{
    Air, Angle, Area, Basis, Bore, Collector, Density, DynamicViscosity, Entry, FanCurve, Filter,
    Fitted, Gate, Hood, Join, Junction, Length, ModelError, ModelFault, Network, OperatingPoint,
    Part, Place, Pressure, RatedDrop, Run, Section, Status, SweepOptions, System, Tightness,
    Velocity, VolumeFlow, Wall,
};

const DENSITY_KG_M3: f64 = 1.2;

/// The fan's total pressure is 2000 Pa less 1500 Pa for each m3/s.
const AT_REST_PA: f64 = 2000.0;
const FALL_PA_S_M3: f64 = 1500.0;

const MANY: usize = 10_000;

fn round(mm: f64) -> Bore {
    Bore::Round(Length::from_mm(mm))
}

/// Pressure per squared flow of one velocity pressure \[Pa s2/m6\].
fn head(bore: Bore) -> f64 {
    0.5 * DENSITY_KG_M3 / bore.area().as_m2().powi(2)
}

fn outlet() -> Bore {
    round(200.0)
}

/// A fan of a straight curve with nothing before or after it; the exit takes the velocity pressure
/// of its outlet.
fn bare() -> System {
    let density = Density::from_kg_m3(DENSITY_KG_M3);
    let points = [0.0, 0.4, 0.8, 1.2].map(|q| {
        let p = AT_REST_PA - FALL_PA_S_M3 * q;
        (VolumeFlow::from_m3_s(q), Pressure::from_pa(p))
    });
    let fan = FanCurve::new(points, Basis::Total, Fitted::NOTHING, density)
        .unwrap()
        .with_outlet(outlet())
        .unwrap();
    let viscosity = DynamicViscosity::from_pa_s(1.8e-5);
    System::new(Air::Given { density, viscosity }, Collector::new(fan))
}

/// Where the fan gives k q^2 + a q.
fn settled(k: f64, a: f64) -> f64 {
    let b = a + FALL_PA_S_M3;
    // The root of k q^2 + b q = p that does not cancel.
    2.0 * AT_REST_PA / (b + (b * b + 4.0 * k * AT_REST_PA).sqrt())
}

fn hood(name: &str, k: f64) -> Hood {
    Hood::new(name, Entry::K(k))
}

fn piece(id: impl Into<airsplit::Name>, mm: f64) -> Section {
    Section::new(id, round(mm), Wall::Galvanised)
}

fn point(system: &System) -> OperatingPoint {
    let network = Network::new(system).unwrap();
    network.operating_point(&network.open_all()).unwrap()
}

#[track_caller]
fn assert_near(a: f64, b: f64, tolerance: f64) {
    assert!((a / b - 1.0).abs() <= tolerance, "{a:e} and {b:e}");
}

#[test]
fn prop_one_hood_and_nothing_else() {
    let system = bare().with_section(piece("only", 125.0).with_hood(hood("port", 0.8)));
    let k = 0.8 * head(round(125.0)) + head(outlet());
    let told = point(&system);
    assert_near(told.flow.as_m3_s(), settled(k, 0.0), 1e-12);
    assert_eq!(told.status, Status::Converged);
}

#[test]
fn prop_a_filter_only() {
    // Through a hood and a section without any loss into nothing but a filter.
    for (linear, quadratic) in [(3000.0, 0.0), (1200.0, 2500.0), (0.0, 4000.0), (0.001, 0.0)] {
        let drop = |pa| RatedDrop {
            drop: Pressure::from_pa(pa),
            at: VolumeFlow::from_m3_s(1.0),
        };
        let filter = Filter::Terms {
            linear: drop(linear),
            quadratic: drop(quadratic),
        };
        let mut system = bare().with_section(piece("only", 200.0).with_hood(hood("port", 0.0)));
        let run = Run::new(outlet(), Wall::Steel).with_part(Part::Filter(filter));
        system.collector.before.push(run.clone());
        let by_hand = settled(head(outlet()) + quadratic, linear);
        assert_near(point(&system).flow.as_m3_s(), by_hand, 1e-12);
        // After the fan it takes as much, and the exit stays where it was.
        system.collector.before.clear();
        system.collector.after.push(run);
        assert_near(point(&system).flow.as_m3_s(), by_hand, 1e-12);
    }
}

#[test]
fn prop_a_section_without_length_changes_nothing() {
    let drop = || piece("drop", 125.0).with_hood(hood("port", 0.8));
    let duct = |metres| Part::Duct(Length::from_m(metres));
    let plain = point(&bare().with_section(drop().with_part(duct(4.0))));
    let mut system = bare().with_section(
        drop()
            .draining_into("none 1")
            .with_part(duct(0.0))
            .with_part(duct(4.0)),
    );
    for i in 1..=20 {
        // Of another wall, with nothing in them or with no length of duct.
        let mut none = piece(format!("none {i}"), 125.0);
        none.wall = Wall::Concrete;
        if i % 2 == 0 {
            none = none.with_part(duct(0.0));
        }
        if i < 20 {
            none = none.draining_into(format!("none {}", i + 1));
        }
        system = system.with_section(none);
    }
    let told = point(&system);
    assert_near(told.flow.as_m3_s(), plain.flow.as_m3_s(), 1e-13);
    for i in 1..=20 {
        assert_eq!(told.sections[i].loss.as_pa(), 0.0);
    }
    // Neither does one that leaks: it has no wall to leak through.
    for section in &mut system.sections {
        section.tightness = if section.id.as_str() == "drop" {
            Tightness::Airtight
        } else {
            Tightness::Atc6
        };
    }
    let leaking = point(&system);
    assert_near(leaking.flow.as_m3_s(), plain.flow.as_m3_s(), 1e-12);
}

#[test]
fn prop_a_chain_of_ten_thousand_is_one_long_duct() {
    let whole = bare().with_section(
        piece("whole", 160.0)
            .with_part(Part::Duct(Length::from_m(100.0)))
            .with_hood(hood("end", 0.5)),
    );
    let mut chain = bare();
    for i in 0..MANY {
        let mut link = piece(format!("link {i}"), 160.0);
        link = link.with_part(Part::Duct(Length::from_m(100.0 / MANY as f64)));
        if i > 0 {
            link = link.draining_into(format!("link {}", i - 1));
        }
        if i + 1 == MANY {
            link = link.with_hood(hood("end", 0.5));
        }
        chain = chain.with_section(link);
    }
    let (whole, chain) = (point(&whole), point(&chain));
    // Rounding of the pressures along ten thousand legs is told: 4 epsilon for each.
    assert_near(chain.flow.as_m3_s(), whole.flow.as_m3_s(), 1e-11);
    assert!(chain.quality.rounding < 1e-11);
    let last = chain.section(&format!("link {}", MANY - 1)).unwrap();
    assert_near(last.flow.as_m3_s(), chain.flow.as_m3_s(), 1e-12);
}

/// A main without any loss and hoods of one kind along it, at junctions of fixed coefficients.
fn comb(hoods: usize) -> System {
    let mut system = bare().with_junction(Junction::FixedK);
    for i in 0..hoods {
        let mut main = piece(format!("main {i}"), 200.0).joining_with_k(0.0);
        if i > 0 {
            main = main.draining_into(format!("main {}", i - 1));
        } else {
            main.join = Join::default();
        }
        let drop = piece(format!("drop {i}"), 50.0)
            .draining_into(format!("main {i}"))
            .joining_with_k(0.3)
            .with_hood(hood(&format!("hood {i}"), 0.9));
        if i + 1 < hoods {
            system = system.with_section(main);
        }
        system = system.with_section(drop);
    }
    // The last two hoods share the last piece of the main.
    let last = system.sections.len() - 1;
    system.sections[last].into = Some(format!("main {}", hoods - 2).into());
    system
}

#[test]
fn prop_ten_thousand_equal_hoods_share_equally() {
    let system = comb(MANY);
    let network = Network::new(&system).unwrap();
    let open = network.open_all();
    assert_eq!(open.len(), MANY);
    let told = network.operating_point(&open).unwrap();
    let each = 1.2 * head(round(50.0));
    let with_open = |hoods: f64| settled(each / (hoods * hoods) + head(outlet()), 0.0);
    // Pressures add up over ten thousand legs.
    assert_near(told.flow.as_m3_s(), with_open(MANY as f64), 1e-11);
    let mean = told.flow.as_m3_s() / MANY as f64;
    for hood in &told.hoods {
        assert_near(hood.flow.as_m3_s(), mean, 1e-10);
    }
    // One open alone, wherever it is, and a sweep that goes through such sets.
    let sets = network.open_sets_up_to(1).unwrap();
    assert_eq!(sets.len(), MANY);
    let some = || sets.clone().step_by(2499);
    let flows = network
        .sweep(some())
        .map(|_, answer| answer.unwrap().flow());
    for flow in flows {
        assert_near(flow.as_m3_s(), with_open(1.0), 1e-11);
    }
    let options = SweepOptions::new(Velocity::from_m_s(20.0));
    let summary = network.sweep(some()).summary(&options).unwrap();
    assert_eq!((summary.sets, summary.converged), (5, 5));
    assert_eq!(summary.section("main 0").unwrap().sets, 5);
    assert_eq!(summary.section("drop 0").unwrap().sets, 1);
    let error = network.open_sets_up_to(3).unwrap_err();
    assert_eq!((error.units, error.most), (MANY, 2));
}

/// Two drops into a main, the second through a gate.
fn gated(opening: f64, leak_area: Option<Area>) -> System {
    let duct = Part::Duct(Length::from_m(3.0));
    bare()
        .with_section(piece("main", 160.0).with_part(duct.clone()))
        .with_section(
            piece("drop", 125.0)
                .draining_into("main")
                .with_part(duct.clone())
                .with_hood(hood("free", 0.5)),
        )
        .with_section(
            piece("gated drop", 125.0)
                .draining_into("main")
                .joining_at(Angle::from_deg(45.0))
                .with_part(duct)
                .with_part(Part::Gate(Gate { opening, leak_area }))
                .with_hood(hood("gated", 0.5)),
        )
}

#[test]
fn prop_nearly_shut_gates() {
    let shut = point(&gated(0.0, None));
    assert_eq!(shut.hood("gated").unwrap().flow.as_m3_s(), 0.0);
    let mut before = f64::INFINITY;
    for decade in 0..=5 {
        for share in [1.0, 0.7, 0.4, 0.2] {
            let opening = share * 10_f64.powi(-decade);
            let told = point(&gated(opening, None));
            let flow = told.hood("gated").unwrap().flow.as_m3_s();
            // Always more than nothing, always less than before, and the rest as if it were shut.
            assert!(0.0 < flow && flow < before, "{opening}: {flow:e} m3/s");
            let rest = told.hood("free").unwrap().flow.as_m3_s();
            let off = (rest / shut.flow.as_m3_s() - 1.0).abs();
            assert!(off <= 3.0 * flow / rest + 1e-12, "{opening}: {off:e}");
            before = flow;
        }
    }
    assert!(before < 1e-5 * shut.flow.as_m3_s());

    // The only hood there is, behind a gate a hair open: the fan all but stands still.
    let mut before = f64::INFINITY;
    for opening in [1e-1, 1e-2, 1e-3, 1e-4, 1e-5] {
        let gate = Part::Gate(Gate {
            opening,
            leak_area: None,
        });
        let only = piece("only", 125.0)
            .with_part(gate)
            .with_hood(hood("port", 0.5));
        let told = point(&bare().with_section(only));
        let flow = told.flow.as_m3_s();
        assert!(
            0.0 < flow && flow < 0.2 * before,
            "{opening}: {flow:e} m3/s"
        );
        before = flow;
    }
    // Every hood behind such a gate, and a leak of 1 mm2 as the only opening there is.
    let mut all = comb(50);
    for section in &mut all.sections {
        if section.size == round(50.0) {
            section.parts.push(Part::Gate(Gate {
                opening: 1e-4,
                leak_area: Some(Area::from_m2(1e-6)),
            }));
        }
    }
    let told = point(&all);
    let mean = told.flow.as_m3_s() / 50.0;
    for hood in &told.hoods {
        assert_near(hood.flow.as_m3_s(), mean, 1e-11);
    }
}

#[test]
fn prop_two_lossless_inlets_are_refused_by_name() {
    let main = || piece("main", 200.0);
    let drop = |name: &str, k| {
        piece(format!("drop {name}"), 100.0)
            .draining_into("main")
            .joining_with_k(0.0)
            .with_hood(hood(name, k))
    };
    let system = |a, b| {
        bare()
            .with_junction(Junction::FixedK)
            .with_section(main())
            .with_section(drop("left", a))
            .with_section(drop("right", b))
    };
    let errors = system(0.0, 0.0).check().unwrap_err();
    let told: Vec<&ModelError> = errors.iter().collect();
    assert_eq!(told.len(), 2, "{errors}");
    for (error, name) in told.into_iter().zip(["left", "right"]) {
        let place = Place::Join(format!("drop {name}").into());
        assert_eq!(error.place, place);
        let is_it = matches!(&error.fault, ModelFault::Lossless { hood } if hood.as_str() == name);
        assert!(is_it, "{error}");
    }
    // With any loss at each there is a split, an equal one.
    for k in [1.0, 1e-3, 1e-6] {
        let told = point(&system(k, k));
        let [left, right] = [0, 1].map(|i| told.hoods[i].flow.as_m3_s());
        assert_near(left, right, 1e-9);
    }
}

#[test]
fn prop_a_run_that_could_gain_is_refused() {
    let system = |k: f64, metres| {
        bare()
            .with_junction(Junction::FixedK)
            .with_section(piece("main", 200.0))
            .with_section(
                piece("drop a", 100.0)
                    .draining_into("main")
                    .joining_with_k(0.2)
                    .with_hood(hood("a", 0.5)),
            )
            .with_section(
                piece("drop b", 100.0)
                    .draining_into("main")
                    .joining_with_k(k)
                    .with_part(Part::Duct(Length::from_m(metres)))
                    .with_hood(hood("b", 0.5)),
            )
    };
    // The entry's 0.5 against the join's gain.
    assert!(system(-0.5 + 1e-9, 0.0).check().is_ok());
    let gains = system(-0.5 - 1e-9, 0.0).check().unwrap_err();
    let fault = &gains.iter().next().unwrap().fault;
    assert!(matches!(fault, ModelFault::NegativeLoss { k } if *k < 0.0));
    // Friction counts with the least that it can be: 1 m of 100 mm duct has 0.1 or more.
    assert!(system(-0.6, 1.0).check().is_ok() && system(-0.8, 1.0).check().is_err());
    let told = point(&system(-0.5 + 1e-6, 0.0));
    assert!(told.hoods.iter().all(|hood| hood.flow.as_m3_s() > 0.0));
}
