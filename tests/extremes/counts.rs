//! Nothing at all, and ten thousand of it.

use super::*;

const MANY: usize = 10_000;

#[test]
fn prop_nothing_at_all_is_refused_in_words() {
    let empty = System::new(Air::standard(), Collector::new(fan()));
    told(&empty.check().unwrap_err());
    assert!(Network::new(&empty).is_err());
    for text in ["", " ", "\u{feff}", "{}", "[]", "null", "\u{0}"] {
        assert!(toml::from_str::<Draft>(text).is_err(), "{text:?}");
        assert!(serde_json::from_str::<Draft>(text).is_err(), "{text:?}");
    }
    assert!(empty.with(&[]).is_err());
    assert!(
        Use::any()
            .sets(&Network::new(&shop()).unwrap())
            .unwrap()
            .count()
            > 100
    );
}

#[test]
fn prop_ten_thousand_hoods_are_listed_named_and_dropped() {
    let mut system = System::new(Air::standard(), Collector::new(fan()));
    for i in 0..MANY {
        // Five hundred on each piece of the main.
        let (main, on) = (i / 500, i % 500);
        if on == 0 {
            let mut piece = Section::new(format!("m{main}"), round(800.0), Wall::Galvanised);
            if main > 0 {
                piece = piece.draining_into(format!("m{}", main - 1));
            }
            system = system.with_section(piece);
        }
        let drop = Section::new(format!("d{i}"), round(50.0), Wall::Galvanised)
            .draining_into(format!("m{main}"))
            .joining_at(Angle::from_deg(45.0))
            .with_hood(Hood::new(format!("h{i}"), Entry::Plain));
        system = system.with_section(drop);
    }
    let network = Network::new(&system).unwrap();
    let point = network.operating_point(&network.open_all()).unwrap();
    assert!(audit(&system, &point).unwrap().is_sound(1e-9));
    // All of them together are the only set that no other may join.
    let usage = Use::any();
    let mut fullest = usage.maximal_sets(&network).unwrap();
    assert_eq!(fullest.next().unwrap().len(), MANY);
    let alone = Use::any().at_most(1).weighing("h77", 3.0);
    assert_eq!(alone.sets(&network).unwrap().count(), MANY);
    assert!(network.open_sets().is_err());
    told(&network.open(["h10000"]).unwrap_err());
    let copy = system.clone();
    assert!(copy == system);
}

#[test]
fn prop_ten_thousand_readings_points_and_prices_are_bounded() {
    let flow = VolumeFlow::from_m3_s(0.3);
    let lines = vec![vec![Velocity::from_m_s(20.0); MANY]; MANY / 100];
    let air = Air::standard().properties().unwrap();
    let traverse = Traverse::of_velocities(TraverseRule::EqualArea, lines);
    told(&traverse.flow(&Station::new(round(150.0), air)).unwrap_err());
    let vane = VaneReading::new(vec![Velocity::from_m_s(20.0); MANY]);
    let measured = value(vane.flow(&Station::new(round(150.0), air)));
    assert!(measured.is_none_or(|measured| measured.flow.is_finite()));
    let references = (0..MANY).map(|i| {
        let at = PickedPoint {
            x: i as f64,
            y: (i * i % 1013) as f64,
        };
        let pressure = Pressure::from_pa(3000.0 - at.y);
        Reference::new(at, VolumeFlow::from_m3_s(at.x), pressure)
    });
    assert!(Axes::fit(references, AxisScale::Linear, AxisScale::Linear).is_ok());
    let mut prices = PriceTable::new();
    for _ in 0..MANY {
        prices = prices.with(Item::Screw, Money::new(0.05), Per::Piece);
    }
    let all = takeoff(&shop(), &TakeoffOptions::default()).unwrap();
    told(&all.priced(&prices).unwrap_err());
    let changes: Vec<Change> = (0..MANY)
        .map(|i| Change::Duct {
            section: "main east".into(),
            to: Length::from_mm(i as f64 + 1.0),
        })
        .collect();
    told(&shop().with(&changes).unwrap_err());
    assert!(shop().with(&changes[..1]).is_ok());
    let mut reading = FlowReadings::new([FlowAt::new("main east", flow, flow / 30.0)], ["planer"]);
    for i in 0..MANY {
        reading = reading.with_shared(format!("meter {i}"), 0.01);
    }
    assert!(reading.reconcile(&shop()).is_ok());
}
