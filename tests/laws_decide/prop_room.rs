//! The room in series: closed forms of one hood, and the balance of the whole shop.

#![cfg(feature = "serde")]
#![allow(clippy::unwrap_used, reason = "a test that cannot go on must stop")]

use airsplit::{
    Air, Area, Basis, Bore, Collector, Density, DynamicViscosity, Entry, Exhaust, FanCurve, Fitted,
    FlueCaution, Hood, Length, Name, Network, Part, Pressure, Room, RoomError, Run, Section, Study,
    System, Tightness, VolumeFlow, Wall,
};
use proptest::prelude::*;

const RHO: f64 = 1.2;

fn shop() -> System {
    let study: Study = toml::from_str(include_str!("../../examples/chair_shop.toml")).unwrap();
    study.system
}

fn names<const N: usize>(names: [&str; N]) -> Vec<Name> {
    names.map(Name::from).into()
}

fn round(mm: f64) -> Bore {
    Bore::Round(Length::from_mm(mm))
}

/// Where the path ends, so that every way of charging the opening is tried.
#[derive(Debug, Clone, Copy, PartialEq)]
enum End {
    BareFan,
    BareFanOfKnownOutlet,
    RunBefore,
    RunAfter,
    TotalBasis,
}

const ENDS: [End; 5] = [
    End::BareFan,
    End::BareFanOfKnownOutlet,
    End::RunBefore,
    End::RunAfter,
    End::TotalBasis,
];

/// One hood of this K in a 150 mm section, a fan that falls straight from `p0` to nothing at
/// `q_max`, and no friction anywhere; and the resistance of the path without the room.
fn one_hood(end: End, k: f64, p0: f64, q_max: f64) -> (System, f64) {
    let head = |mm: f64| RHO / 2.0 / round(mm).area().as_m2().powi(2);
    let point = |m3_s, pa| (VolumeFlow::from_m3_s(m3_s), Pressure::from_pa(pa));
    let basis = match end {
        End::TotalBasis => Basis::Total,
        _ => Basis::Static,
    };
    let density = Density::from_kg_m3(RHO);
    let points = [
        point(0.0, p0),
        point(q_max / 2.0, p0 / 2.0),
        point(q_max, 0.0),
    ];
    let fan = FanCurve::new(points, basis, Fitted::NOTHING, density).unwrap();
    let run = |mm| Run::new(round(mm), Wall::Galvanised).with_part(Part::K(0.7));
    let with_outlet = |fan: FanCurve| fan.with_outlet(round(180.0)).unwrap();
    let mut path = k * head(150.0);
    let collector = match end {
        End::BareFan => Collector::new(fan),
        End::BareFanOfKnownOutlet => Collector::new(with_outlet(fan)),
        End::RunBefore => {
            path += 0.7 * head(150.0);
            Collector::new(fan).with_before(run(150.0))
        }
        End::RunAfter => {
            path += 0.7 * head(180.0);
            Collector::new(with_outlet(fan)).with_after(run(180.0))
        }
        End::TotalBasis => {
            path += head(180.0);
            Collector::new(with_outlet(fan))
        }
    };
    let air = Air::Given {
        density,
        viscosity: DynamicViscosity::from_pa_s(1.8e-5),
    };
    let drop = Section::new("drop", round(150.0), Wall::Galvanised)
        .with_hood(Hood::new("hood", Entry::K(k)));
    (System::new(air, collector).with_section(drop), path)
}

/// p0 (1 - Q/Qmax) = R Q^2, the root that is not negative.
fn settles(p0: f64, q_max: f64, r: f64) -> f64 {
    let slope = p0 / q_max;
    2.0 * p0 / (slope + (slope * slope + 4.0 * r * p0).sqrt())
}

proptest! {
    #[test]
    fn prop_one_hood_and_its_room_in_closed_form(
        end in prop::sample::select(&ENDS[..]),
        k in 0.5..5.0_f64,
        p0 in 500.0..3000.0_f64,
        q_max in 0.2..2.0_f64,
        cm2 in 50.0..5000.0_f64,
        cd in 0.1..1.0_f64,
    ) {
        let (system, path) = one_hood(end, k, p0, q_max);
        let room = Room::new(Area::from_cm2(cm2)).with_discharge_coefficient(cd);
        let told = room.effect(&system, &names(["hood"])).unwrap();
        let opening = RHO / 2.0 / (cd * cm2 * 1e-4).powi(2);
        let [without, with] = [0.0, opening].map(|more| settles(p0, q_max, path + more));
        let close = |a: f64, b: f64| (a - b).abs() <= 1e-10 * b.abs().max(1e-6);
        prop_assert!(close(told.wide_open.flow.as_m3_s(), without));
        prop_assert!(close(told.as_it_is.flow.as_m3_s(), with), "{end:?}");
        let suction = opening * with * with;
        prop_assert!(close(-told.room_pressure.as_pa(), suction));
        prop_assert!((told.flow_lost.as_m3_s() - (without - with)).abs() < 1e-10);
        // All that the fan gives is spent, and the hood's suction is against the room.
        let hood = &told.as_it_is.hoods[0];
        let head = RHO / 2.0 * (with / round(150.0).area().as_m2()).powi(2);
        prop_assert!(close(-hood.static_pressure.as_pa(), (1.0 + k) * head));
        let caution = if suction < 5.0 { FlueCaution::WeakerDraught } else { FlueCaution::MayBlowBack };
        prop_assert_eq!(told.caution, caution);
        // With the opening that is said to be enough the room stays above -5 Pa.
        let enough = told.opening_for_5_pa.unwrap();
        prop_assert!(close(cd * enough.as_m2(), without * (RHO / 10.0).sqrt()));
        if enough.as_m2() < 100.0 {
            let room = { let mut wider = room; wider.opening = enough; wider };
            let told = room.effect(&system, &names(["hood"])).unwrap();
            prop_assert!(told.room_pressure.as_pa() > -5.0 - 1e-9);
            prop_assert_eq!(told.caution, FlueCaution::WeakerDraught);
        }
    }

    /// The whole shop: at the flow that is told, what the system asks of the fan without the room
    /// and the suction of the room are together what the fan gives.
    #[test]
    fn prop_fan_system_and_room_balance(
        cm2 in 30.0..20000.0_f64,
        outlet in any::<bool>(),
        after in any::<bool>(),
        leaky in any::<bool>(),
        which in 0..3_usize,
    ) {
        let mut system = shop();
        if leaky {
            for section in &mut system.sections {
                section.tightness = Tightness::Atc5;
            }
        }
        if !after {
            system.collector.after.clear();
            if !outlet {
                let fan = system.collector.fan.as_ref().unwrap();
                let points = fan.points().map(|point| (point.flow, point.pressure));
                let bare = FanCurve::new(points, fan.basis(), fan.fitted(), fan.density());
                system.collector.fan = Some(bare.unwrap());
            }
        }
        let open = [&["planer"][..], &["table saw", "lathe"], &["mortiser", "bandsaw", "planer"]][which];
        let open: Vec<Name> = open.iter().map(|&name| name.into()).collect();
        let told = Room::new(Area::from_cm2(cm2)).effect(&system, &open).unwrap();
        let network = Network::new(&system).unwrap();
        let set = network.open(&open).unwrap();
        let flow = told.as_it_is.flow;
        let without = network.point_at_flow(&set, flow).unwrap();
        let fan = system.collector.fan.as_ref().unwrap();
        let density = system.air.properties().unwrap().density;
        let gives = fan.pressure(flow).as_pa() * (density / fan.density());
        let suction = -told.room_pressure.as_pa();
        let asks = without.fan.curve_pressure.as_pa() + suction;
        prop_assert!((gives - asks).abs() < 1e-9 * fan.shut_off().as_pa(), "{gives} {asks}");
        let orifice = density.as_kg_m3() / 2.0 * (flow.as_m3_s() / (0.62 * cm2 * 1e-4)).powi(2);
        prop_assert!((suction - orifice).abs() <= 1e-12 * orifice);
        // The split is that of the flow, the pressures are those against the room.
        let near = |a: Pressure, b: f64| (a.as_pa() - b).abs() < 1e-6;
        for (is, was) in told.as_it_is.hoods.iter().zip(&without.hoods) {
            prop_assert!((is.flow.as_m3_s() - was.flow.as_m3_s()).abs() < 1e-10);
            prop_assert!(near(is.static_pressure, was.static_pressure.as_pa()));
        }
        for (is, was) in told.as_it_is.sections.iter().zip(&without.sections) {
            prop_assert!(near(is.static_pressure, was.static_pressure.as_pa()));
        }
        prop_assert_eq!(told.as_it_is.collector.len(), without.collector.len());
        for (i, (is, was)) in told.as_it_is.collector.iter().zip(&without.collector).enumerate() {
            prop_assert_eq!(&is.place, &was.place);
            prop_assert!(near(is.loss, was.loss.as_pa()));
            // Behind the fan the air goes on to the open air, which stands above the room.
            let above = if i < system.collector.before.len() { 0.0 } else { suction };
            prop_assert!(near(is.total_pressure, was.total_pressure.as_pa() + above));
            prop_assert!(near(is.static_pressure, was.static_pressure.as_pa() + above));
        }
        prop_assert!(told.flow_lost.as_m3_s() > 0.0);
    }
}

#[test]
fn prop_a_smaller_opening_costs_more_and_a_huge_one_nothing() {
    let open = names(["planer", "table saw"]);
    let of = |m2| Room::new(Area::from_m2(m2)).effect(&shop(), &open).unwrap();
    let mut lost = 0.0;
    for m2 in [100.0, 10.0, 1.0, 0.1, 0.03, 0.01, 0.001] {
        let told = of(m2);
        assert!(told.flow_lost.as_m3_s() > lost, "{m2}");
        lost = told.flow_lost.as_m3_s();
    }
    let huge = of(100.0);
    assert!(huge.flow_lost.as_m3_s() < 1e-6 * huge.wide_open.flow.as_m3_s());
}

#[test]
fn prop_air_that_returns_leaves_the_room_alone() {
    let open = names(["planer"]);
    let room = Room::new(Area::from_cm2(1.0)).with_exhaust(Exhaust::Room);
    let told = room.effect(&shop(), &open).unwrap();
    assert_eq!(told.as_it_is, told.wide_open);
    assert_eq!(told.room_pressure, Pressure::from_pa(0.0));
    assert_eq!(told.flow_lost, VolumeFlow::from_m3_s(0.0));
    assert_eq!(told.caution, FlueCaution::AirReturns);
    assert_eq!(told.opening_for_5_pa, None);
}

#[test]
fn bad_input_is_told() {
    let open = names(["planer"]);
    let told = |room: Room| room.effect(&shop(), &open).unwrap_err();
    let square = |m2| Room::new(Area::from_m2(m2));
    insta::assert_snapshot!([
        told(square(0.0)),
        told(square(-1.0)),
        told(square(f64::NAN)),
        told(square(f64::INFINITY)),
        told(square(1.0).with_discharge_coefficient(0.0)),
        told(square(1.0).with_discharge_coefficient(6.2)),
        // Also where it makes no difference.
        told(square(0.0).with_exhaust(Exhaust::Room)),
        square(1.0).effect(&shop(), &names(["plner"])).unwrap_err(),
        square(1.0).effect(&shop(), &[]).unwrap_err(),
    ].map(|error| error.to_string()).join("\n"), @r#"
    room: make-up opening is 0 m2; allowed: 0.0001 m2 to 100 m2
    room: make-up opening is -1 m2; allowed: 0.0001 m2 to 100 m2
    room: make-up opening is NaN m2; allowed: 0.0001 m2 to 100 m2
    room: make-up opening is inf m2; allowed: 0.0001 m2 to 100 m2
    room: discharge coefficient of the make-up opening is 0; allowed: 0.1 to 1
    room: discharge coefficient of the make-up opening is 6.2; allowed: 0.1 to 1
    room: make-up opening is 0 m2; allowed: 0.0001 m2 to 100 m2
    no hood or machine is called "plner"; known, nearest first: "planer", "lathe", "bandsaw", "mortiser", "planer port", "disc sander" and 9 more
    no open hood reaches the fan: open at least one, and let no gate on its way stand shut
    "#);
    assert!(airsplit::Error::from(told(square(0.0))).is_input());
    let mut none = shop();
    none.sections.clear();
    assert!(matches!(
        square(1.0).effect(&none, &open),
        Err(RoomError::Model(_))
    ));
    let mut no_fan = shop();
    no_fan.collector.fan = None;
    assert!(matches!(
        square(1.0).effect(&no_fan, &open),
        Err(RoomError::Solve(_))
    ));
}

#[test]
fn a_room_is_read_from_a_document() {
    let room: Room = toml::from_str("opening = \"400 cm2\"").unwrap();
    assert_eq!(room, Room::new(Area::from_cm2(400.0)));
    let text = "opening = \"4 sq ft\"\ndischarge_coefficient = 0.5\nexhaust = \"room\"";
    let room: Room = toml::from_str(text).unwrap();
    assert_eq!(room.exhaust, Exhaust::Room);
    assert_eq!(
        toml::from_str::<Room>(&toml::to_string(&room).unwrap()).unwrap(),
        room
    );
    assert!(toml::from_str::<Room>("opening = 400").is_err());
    assert!(toml::from_str::<Room>("opening = \"1 m2\"\nexhaust = \"attic\"").is_err());
}
