//! The list of material: nothing lost, nothing twice, and differences that are differences.

#![cfg(feature = "serde")]
#![allow(clippy::unwrap_used, reason = "a test that cannot go on must stop")]

use crate::common::random::{any_recipe, hoods};
use airsplit::{
    Angle, Area, Basis, Bore, Collector, Density, Elbow, ElbowShape, Entry, FanCurve, Filter,
    Fitted, Gate, Hood, Hose, HoseKind, HoseMake, Item, JunctionInlet, Leak, Length, Money, Part,
    Per, Port, Pressure, PriceFault, PriceTable, Quantity, RatedDrop, ReducerShape, Run, Section,
    Separator, Start, Stock, Study, System, Takeoff, TakeoffOptions, Transition, VolumeFlow, Wall,
    takeoff,
};
use proptest::prelude::*;

fn shop() -> System {
    let study: Study = toml::from_str(include_str!("../../examples/chair_shop.toml")).unwrap();
    study.system
}

fn of(system: &System) -> Takeoff {
    takeoff(system, &TakeoffOptions::default()).unwrap()
}

fn round(mm: f64) -> Bore {
    Bore::Round(Length::from_mm(mm))
}

fn m(length: f64) -> Length {
    Length::from_m(length)
}

fn fan() -> FanCurve {
    let point = |m3_s, pa| (VolumeFlow::from_m3_s(m3_s), Pressure::from_pa(pa));
    let points = [point(0.0, 2000.0), point(0.5, 1000.0), point(1.0, 0.0)];
    let density = Density::from_kg_m3(1.2);
    FanCurve::new(points, Basis::Static, Fitted::NOTHING, density).unwrap()
}

/// Every part of a system, with the size and wall of its run.
fn parts(system: &System) -> Vec<(Bore, Wall, &Part)> {
    let collector = &system.collector;
    let runs = collector.before.iter().chain(&collector.after);
    let runs = runs.map(|run| (run.size, run.wall, &run.parts));
    let sections = system.sections.iter();
    let sections = sections.map(|section| (section.size, section.wall, &section.parts));
    runs.chain(sections)
        .flat_map(|(size, wall, parts)| parts.iter().map(move |part| (size, wall, part)))
        .collect()
}

fn pieces(list: &Takeoff, of: impl Fn(&Item) -> bool) -> i64 {
    let lines = list.lines.iter().filter(|line| of(&line.item));
    lines
        .map(|line| match line.quantity {
            Quantity::Pieces(pieces) => pieces,
            _ => 0,
        })
        .sum()
}

fn metres(list: &Takeoff, of: impl Fn(&Item) -> bool) -> f64 {
    let lines = list.lines.iter().filter(|line| of(&line.item));
    lines
        .map(|line| match line.quantity {
            Quantity::Length(length) => length.as_m(),
            _ => 0.0,
        })
        .sum()
}

/// How many pieces a length of duct is cut into at 3 m a length.
fn cut(length: Length) -> i64 {
    ((length.as_m() - 1e-4) / 3.0).ceil().max(0.0) as i64
}

fn close(a: f64, b: f64) -> bool {
    (a - b).abs() <= 1e-9 * a.abs().max(b.abs()).max(1.0)
}

/// Counted once more, another way: every thing but the fan is joined once on its way to the fan.
fn recount(system: &System, list: &Takeoff) {
    let count = |of: fn(&Part) -> bool| {
        let parts = parts(system);
        parts.iter().filter(|(_, _, part)| of(part)).count() as i64
    };
    let is = [
        (
            pieces(list, |item| matches!(item, Item::Elbow { .. })),
            count(|part| matches!(part, Part::Elbow(_))),
        ),
        (
            pieces(list, |item| matches!(item, Item::Gate { .. })),
            count(|part| matches!(part, Part::Gate(_))),
        ),
        (
            pieces(list, |item| matches!(item, Item::Filter { .. })),
            count(|part| matches!(part, Part::Filter(_))),
        ),
        (
            pieces(list, |item| matches!(item, Item::Separator { .. })),
            count(|part| matches!(part, Part::Separator(_))),
        ),
        (
            pieces(list, |item| matches!(item, Item::Silencer { .. })),
            count(|part| matches!(part, Part::Silencer(_))),
        ),
        (
            pieces(list, |item| matches!(item, Item::Port { .. })),
            count(|part| matches!(part, Part::Port(_))),
        ),
        (
            pieces(list, |item| matches!(item, Item::Other { .. })),
            count(|part| matches!(part, Part::K(_))),
        ),
    ];
    for (listed, counted) in is {
        assert_eq!(listed, counted);
    }
    let stated = count(|part| matches!(part, Part::Transition(_)));
    let reducers = pieces(list, |item| matches!(item, Item::Reducer { .. }));
    assert!(reducers >= stated);

    // Nothing lost: the duct of each size and wall, as long as the model has it.
    for line in &list.lines {
        let Item::Duct { .. } = &line.item else {
            continue;
        };
        let of_it = parts(system).into_iter().filter_map(|(size, wall, part)| {
            let Part::Duct(length) = part else {
                return None;
            };
            (Item::Duct { size, wall } == line.item).then_some(length.as_m())
        });
        let in_model: f64 = of_it.sum();
        let Quantity::Length(length) = line.quantity else {
            unreachable!()
        };
        assert!(close(length.as_m(), in_model), "{}", line.item);
        let stock = line.stock.unwrap();
        assert!(stock.least <= stock.bought);
        // First fit decreasing leaves at most one length less than half used, and each whole
        // length is wholly used.
        assert!(stock.bought as f64 * 3.0 < 2.0 * in_model + 3.0 + 1e-3);
        let bought = stock.length.as_m() * stock.bought as f64;
        assert!((bought - in_model - stock.waste.as_m()).abs() < 1e-2);
        assert!(stock.waste.as_m() >= 0.0);
    }
    let mut duct_m = 0.0;
    let mut hose_m = 0.0;
    let mut of_parts = 0;
    for (_, _, part) in parts(system) {
        match part {
            Part::Duct(length) => {
                duct_m += length.as_m();
                of_parts += cut(*length);
            }
            Part::Hose(hose) => {
                hose_m += match hose.kind {
                    HoseKind::Wire { compression } => hose.length.as_m() / (1.0 - compression),
                    _ => hose.length.as_m(),
                };
                of_parts += 1;
            }
            Part::Transition(_) => {}
            _ => of_parts += 1,
        }
    }
    assert!(close(
        metres(list, |item| matches!(item, Item::Duct { .. })),
        duct_m
    ));
    assert!(close(
        metres(list, |item| matches!(item, Item::Hose { .. })),
        hose_m
    ));

    let into = |id| {
        let drains = |section: &&Section| section.into.as_ref() == id;
        system.sections.iter().filter(drains).count()
    };
    let mut junctions = i64::from(into(None) > 1);
    junctions += (system.sections.iter())
        .filter(|section| into(Some(&section.id)) > 1)
        .count() as i64;
    assert_eq!(
        pieces(list, |item| matches!(item, Item::Junction { .. })),
        junctions
    );
    let ends = |of: fn(&Start) -> bool| {
        let sections = system.sections.iter();
        sections.filter(|section| of(&section.start)).count() as i64
    };
    let caps = ends(|start| matches!(start, Start::Capped | Start::Leak(_)));
    assert_eq!(pieces(list, |item| matches!(item, Item::Cap { .. })), caps);

    let things = of_parts + reducers + junctions + caps + hoods(system).len() as i64;
    let joints: i64 = list.joints.iter().map(|at| at.rigid + at.hose).sum();
    assert_eq!(joints, things);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn prop_nothing_is_lost_and_nothing_counted_twice(recipe in any_recipe()) {
        let system = recipe.system();
        recount(&system, &of(&system));
    }

    #[test]
    fn prop_the_takeoff_difference_is_antisymmetric(
        recipes in prop::array::uniform3(any_recipe()),
    ) {
        let [a, b, c] = recipes.map(|recipe| of(&recipe.system()));
        let negated = |mut list: Takeoff| {
            for line in &mut list.lines {
                line.quantity = match line.quantity {
                    Quantity::Length(length) => Quantity::Length(-length),
                    Quantity::Pieces(pieces) => Quantity::Pieces(-pieces),
                    other => other,
                };
                if let Some(stock) = &mut line.stock {
                    stock.bought *= -1;
                    stock.least *= -1;
                    stock.waste = -stock.waste;
                }
            }
            for at in &mut list.joints {
                at.rigid *= -1;
                at.hose *= -1;
            }
            list
        };
        prop_assert_eq!(a.minus(&b), negated(b.minus(&a)));
        // Nothing differs from itself.
        let nothing = a.minus(&a);
        prop_assert!(nothing.lines.is_empty() && nothing.joints.is_empty());
        // From a to b and on to c is from a to c: nothing is left of it.
        let around = a.minus(&b).minus(&negated(b.minus(&c))).minus(&a.minus(&c));
        prop_assert!(around.lines.is_empty() && around.joints.is_empty(), "{around:?}");
    }

    #[test]
    fn prop_prices_add_up_and_a_difference_costs_the_difference(
        recipes in prop::array::uniform2(any_recipe()),
        priced_of_ten in 0..=10_usize,
    ) {
        let [before, after] = recipes.map(|recipe| of(&recipe.system()));
        // Invented prices, for some of the items on either list.
        let mut table = PriceTable::new();
        let mut items: Vec<&Item> = before.lines.iter().chain(&after.lines).map(|l| &l.item).collect();
        items.sort();
        items.dedup();
        for (i, item) in items.iter().enumerate().filter(|(i, _)| i % 10 < priced_of_ten) {
            let pers = match item {
                Item::Duct { .. } => [Per::Metre, Per::Foot, Per::StockLength],
                item if item.is_by_length() => [Per::Metre, Per::Foot, Per::Metre],
                _ => [Per::Piece; 3],
            };
            table = table.with((*item).clone(), Money::new(i as f64 + 0.25), pers[i % 3]);
        }
        let [was, is] = [&before, &after].map(|list| list.priced(&table).unwrap());
        for (list, priced) in [(&before, &was), (&after, &is)] {
            let mut all: Vec<_> = priced.lines.iter().map(|line| &line.line.item).collect();
            let named = all.len();
            all.extend(&priced.missing);
            all.sort();
            let listed: Vec<_> = list.lines.iter().map(|line| &line.item).collect();
            prop_assert_eq!(all, listed);
            prop_assert_eq!(named + priced.unused.len(), table.prices.len());
            prop_assert!(priced.lines.iter().all(|line| line.amount.amount() >= 0.0));
        }
        let more = after.minus(&before).priced(&table).unwrap();
        let difference = (is.total - was.total).amount();
        // Lines that differ by rounding only are not in the difference.
        prop_assert!((more.total.amount() - difference).abs() < 1e-2 + 1e-9 * is.total.amount());
    }
}

#[test]
fn prop_the_chair_shop_is_counted_whole() {
    let system = shop();
    recount(&system, &of(&system));
}

/// One line for each kind of part, and that line alone but for screws, clamps and seal.
#[test]
fn prop_every_kind_of_part_is_in_exactly_one_line() {
    let rated = RatedDrop {
        drop: Pressure::from_pa(200.0),
        at: VolumeFlow::from_m3_s(0.5),
    };
    let angle = Angle::from_deg(90.0);
    let hose = |kind| {
        Part::Hose(Hose {
            length: m(2.0),
            kind,
            bend: None,
        })
    };
    let gored = Elbow::Gored {
        pieces: 5,
        r_over_d: 1.5,
        angle,
    };
    let stamped = Elbow::Stamped {
        r_over_d: 1.5,
        angle,
    };
    let smooth = Elbow::Smooth {
        r_over_d: 1.5,
        angle,
    };
    let cone = Transition::Cone { angle };
    let all = [
        Part::Duct(m(2.0)),
        hose(HoseKind::RIBBED),
        hose(HoseKind::Wire { compression: 0.2 }),
        hose(HoseKind::Corrugated {
            pitch: Length::from_mm(6.0),
        }),
        Part::Elbow(Elbow::K(0.3)),
        Part::Elbow(gored),
        Part::Elbow(stamped),
        Part::Elbow(smooth),
        Part::Elbow(Elbow::Mitre { angle }),
        Part::Transition(Transition::Sharp),
        Part::Transition(cone),
        Part::Transition(Transition::K(0.1)),
        Part::Gate(Gate {
            opening: 1.0,
            leak_area: None,
        }),
        Part::Filter(Filter::Rated(rated)),
        Part::Separator(Separator::Rated(rated)),
        Part::Port(Port {
            size: round(63.0),
            k: 1.0,
        }),
        Part::Silencer(0.5),
        Part::K(0.5),
    ];
    let bare = Section::new("drop", round(100.0), Wall::Spiral)
        .with_part(Part::Duct(m(1.0)))
        .with_hood(Hood::new("hood", Entry::Plain));
    // Of the size of the duct before it, so that a part brings no change of size with it.
    let system = |run: Run| {
        System::new(shop().air, Collector::new(fan()).with_before(run)).with_section(bare.clone())
    };
    let run = || Run::new(round(100.0), Wall::Galvanised);
    let without = of(&system(run()));
    let mut seen = Vec::new();
    for part in all {
        let more = of(&system(run().with_part(part.clone()))).minus(&without);
        let mut own = more
            .lines
            .iter()
            .filter(|line| !matches!(line.item, Item::Screw | Item::Seal | Item::Clamp { .. }));
        let line = own.next().unwrap();
        assert_eq!(own.next(), None, "{part:?}");
        match line.quantity {
            Quantity::Length(length) => {
                let slack = matches!(
                    part,
                    Part::Hose(Hose {
                        kind: HoseKind::Wire { .. },
                        ..
                    })
                );
                assert!(
                    close(length.as_m(), if slack { 2.5 } else { 2.0 }),
                    "{part:?}"
                );
            }
            Quantity::Pieces(pieces) => assert_eq!(pieces, 1, "{part:?}"),
            _ => unreachable!(),
        }
        seen.push(line.item.clone());
        // A rigid thing has one joint more; the hose turns the one to the fan into one of its own.
        let hose = matches!(part, Part::Hose(_));
        let joints = more.joints[0];
        assert_eq!(
            [joints.rigid, joints.hose],
            if hose { [-1, 2] } else { [1, 0] }
        );
    }
    // Kinds are kept apart.
    let kinds = seen.len();
    seen.sort();
    seen.dedup();
    assert_eq!(seen.len(), kinds);
}

/// Copies of a drop multiply its lines; stock lengths at most, because copies share off-cuts.
#[test]
fn prop_copies_of_a_section_multiply_its_lines() {
    let copies = |n: usize| {
        let drop = |i: usize| {
            Section::new(format!("drop {i}"), round(120.0), Wall::Spiral)
                .draining_into("main")
                .joining_at(Angle::from_deg(45.0))
                .with_part(Part::Hose(Hose {
                    length: m(1.5),
                    kind: HoseKind::RIBBED,
                    bend: None,
                }))
                .with_part(Part::Gate(Gate {
                    opening: 1.0,
                    leak_area: None,
                }))
                .with_part(Part::Duct(m(4.1)))
                .with_part(Part::Elbow(Elbow::K(0.4)))
                .with_hood(Hood::new(format!("hood {i}"), Entry::Plain))
        };
        let straight = Section::new("straight", round(160.0), Wall::Spiral)
            .draining_into("main")
            .with_hood(Hood::new("end", Entry::Plain));
        let system = System::new(shop().air, Collector::new(fan()))
            .with_section(
                Section::new("main", round(160.0), Wall::Spiral).with_part(Part::Duct(m(2.0))),
            )
            .with_section(straight);
        (0..n).fold(system, |system, i| system.with_section(drop(i)))
    };
    // The first copy makes the junction, the others only change it.
    let one = of(&copies(2)).minus(&of(&copies(1)));
    for n in 1..=12 {
        let more = of(&copies(1 + n)).minus(&of(&copies(1)));
        for line in &more.lines {
            let times = n as f64;
            let single = one.line(&line.item);
            match (&line.item, line.quantity, single.map(|line| line.quantity)) {
                (Item::Junction { .. }, ..) => {}
                (item, Quantity::Length(of_n), Some(Quantity::Length(of_one))) => {
                    assert!(close(of_n.as_m(), times * of_one.as_m()), "{item}");
                }
                (item, Quantity::Pieces(of_n), Some(Quantity::Pieces(of_one))) => {
                    assert_eq!(of_n, n as i64 * of_one, "{item}");
                }
                other => unreachable!("{other:?}"),
            }
        }
        // Of each 4.1 m one length is whole, and of a second one the rest is cut: 1.1 m, which
        // a length of 3 m gives twice.
        let duct = Item::Duct {
            size: round(120.0),
            wall: Wall::Spiral,
        };
        let list = of(&copies(n));
        let stock = list.line(&duct).unwrap().stock.unwrap();
        assert_eq!(stock.bought as usize, n + n.div_ceil(2));
    }
}

/// A small shop counted by hand, with the rules as they are told.
#[test]
fn prop_a_small_shop_counted_by_hand() {
    let system = System::new(shop().air, {
        let mut collector = Collector::new(fan().with_outlet(round(150.0)).unwrap());
        // 150 mm outlet, 180 mm stack of 3.5 m: reducer, two pieces.
        collector = collector
            .with_after(Run::new(round(180.0), Wall::Galvanised).with_part(Part::Duct(m(3.5))));
        collector
    })
    .with_section(Section::new("main", round(160.0), Wall::Spiral).with_part(Part::Duct(m(7.0))))
    .with_section(
        Section::new("straight", round(140.0), Wall::Spiral)
            .draining_into("main")
            .with_part(Part::Duct(m(1.0)))
            .with_part(Part::Duct(m(6.0)))
            .with_hood(Hood::new("planer", Entry::Plain)),
    )
    .with_section(
        Section::new("branch", round(100.0), Wall::Spiral)
            .draining_into("main")
            .joining_at(Angle::from_deg(45.0))
            .with_leak(Leak::Hole(Area::from_cm2(1.0))),
    );
    let list = of(&system);
    let inlet = |mm, deg| JunctionInlet {
        size: round(mm),
        angle: Angle::from_deg(deg),
    };
    let wye = Item::Junction {
        outlet: round(160.0),
        inlets: vec![inlet(100.0, 45.0), inlet(140.0, 0.0)],
    };
    assert_eq!(list.line(&wye).unwrap().quantity, Quantity::Pieces(1));
    let reducer = Item::Reducer {
        from: round(180.0),
        to: round(150.0),
        shape: ReducerShape::Sharp,
    };
    assert_eq!(list.line(&reducer).unwrap().quantity, Quantity::Pieces(1));
    let stock = |mm, wall| {
        let size = round(mm);
        list.line(&Item::Duct { size, wall })
            .unwrap()
            .stock
            .unwrap()
    };
    // 7 m: 3 + 3 + 1; 1 + 3 + 3 m; 3 + 0.5 m.
    assert_eq!(stock(160.0, Wall::Spiral).bought, 3);
    assert_eq!(stock(140.0, Wall::Spiral).bought, 3);
    assert_eq!(stock(180.0, Wall::Galvanised).bought, 2);
    assert!(close(stock(180.0, Wall::Galvanised).waste.as_m(), 2.5));
    // 180: stack to reducer, piece to piece. 160: wye, 3 pieces, fan. 150: fan to reducer. 140:
    // planer, 3 pieces, wye. 100: cap to wye.
    let joints: Vec<_> = list
        .joints
        .iter()
        .map(|at| (at.size, at.rigid, at.hose))
        .collect();
    let expected = [
        (180.0, 2, 0),
        (160.0, 4, 0),
        (150.0, 1, 0),
        (140.0, 4, 0),
        (100.0, 1, 0),
    ];
    assert_eq!(
        joints,
        expected.map(|(mm, rigid, hose)| (round(mm), rigid, hose))
    );
    // At most 150 mm apart: 565 mm of perimeter take 4, 503 mm 4, 471 mm 4, 440 mm 3, 314 mm 3.
    let screws = 2 * 4 + 4 * 4 + 4 + 4 * 3 + 3;
    assert_eq!(
        list.line(&Item::Screw).unwrap().quantity,
        Quantity::Pieces(screws)
    );
    let around = 2.0 * 180.0 + 4.0 * 160.0 + 150.0 + 4.0 * 140.0 + 100.0;
    let seal = 1.1 * std::f64::consts::PI * around / 1000.0;
    assert!(close(metres(&list, |item| *item == Item::Seal), seal));
}

#[test]
fn prop_other_stock_lengths_are_other_lines_of_a_difference() {
    let system = shop();
    let spiral_160 = Item::Duct {
        size: round(160.0),
        wall: Wall::Spiral,
    };
    let long = Stock {
        wall: Some(Wall::Spiral),
        size: Some(round(160.0)),
        length: m(6.0),
    };
    let options = TakeoffOptions::default().with_stock_of(long);
    let list = takeoff(&system, &options).unwrap();
    assert_eq!(list.line(&spiral_160).unwrap().stock.unwrap().bought, 1);
    let difference = list.minus(&of(&system));
    let lines: Vec<_> = difference
        .lines
        .iter()
        .filter_map(|line| {
            let stock = line.stock?;
            Some((line.item.clone(), stock.length.as_m(), stock.bought))
        })
        .collect();
    assert_eq!(lines, [(spiral_160.clone(), 3.0, -2), (spiral_160, 6.0, 1)]);
}

#[test]
fn bad_input_is_told() {
    let system = shop();
    let told = |options: TakeoffOptions| takeoff(&system, &options).unwrap_err().to_string();
    let options = TakeoffOptions::default;
    let of_all = |length| Stock {
        wall: None,
        size: None,
        length,
    };
    insta::assert_snapshot!([
        told(options().with_stock(m(0.0))),
        told(options().with_stock(m(f64::NAN))),
        told(options().with_stock_of(of_all(m(-3.0)))),
        told(options().with_screws(1000, m(0.15))),
        told(options().with_screws(3, m(0.0))),
        told(options().with_seal(f64::INFINITY)),
        told(options().with_clamps(99)),
        takeoff(&System::new(shop().air, Collector::new(fan())), &options()).unwrap_err().to_string(),
    ].join("\n"), @r"
    takeoff: stock length is 0 m; allowed: 0.1 m to 100 m
    takeoff: stock length is NaN m; allowed: 0.1 m to 100 m
    takeoff: stock length is -3 m; allowed: 0.1 m to 100 m
    takeoff: screws in a joint is 1000; allowed: 0 to 100
    takeoff: distance of screws is 0 mm; allowed: 10 mm to 10000 mm
    takeoff: turns of seal is inf; allowed: 0 to 10
    takeoff: clamps in a joint is 99; allowed: 0 to 10
    the system: no section has a hood; give at least one section a hood
    ");
    let list = of(&system);
    let gate = Item::Gate { size: round(100.0) };
    let told = |price: f64, per| {
        let table = PriceTable::new().with(gate.clone(), Money::new(price), per);
        list.priced(&table).unwrap_err()
    };
    let twice = PriceTable::new()
        .with(gate.clone(), Money::new(1.0), Per::Piece)
        .with(gate.clone(), Money::new(2.0), Per::Piece);
    let twice = list.priced(&twice).unwrap_err();
    assert_eq!(twice.fault, PriceFault::Twice);
    let stock = PriceTable::new().with(Item::Seal, Money::new(1.0), Per::StockLength);
    insta::assert_snapshot!([
        told(-1.0, Per::Piece).to_string(),
        told(f64::NAN, Per::Piece).to_string(),
        told(f64::INFINITY, Per::Piece).to_string(),
        told(1.0, Per::Foot).to_string(),
        list.priced(&stock).unwrap_err().to_string(),
        twice.to_string(),
    ].join("\n"), @r"
    price of gate 100 mm: it is -1; allowed: 0 to 1e12
    price of gate 100 mm: it is NaN; allowed: 0 to 1e12
    price of gate 100 mm: it is inf; allowed: 0 to 1e12
    price of gate 100 mm: it is per foot; give it per piece, as the item is bought
    price of tape or sealant: it is per stock length; give it per metre or foot, as the item is bought
    price of gate 100 mm: it has more than one; keep one of them
    ");
    // Nothing to pay is a price.
    let free = PriceTable::new().with(gate, Money::new(0.0), Per::Piece);
    assert_eq!(list.priced(&free).unwrap().lines.len(), 1);
}

#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
#[serde(deny_unknown_fields)]
struct Document {
    takeoff: TakeoffOptions,
    price: PriceTable,
}

#[test]
fn prices_and_rules_are_read_from_a_document() {
    let text = r#"
        [takeoff]
        stock = "10 ft"
        stocks = [{ size = { round = "160 mm" }, length = "6 m" }, { wall = "galvanised", length = "5 ft" }]

        [[price]]
        item = { duct = { size = { round = "160 mm" }, wall = "spiral" } }
        price = 9.8
        per = "metre"

        [[price]]
        item = { elbow = { size = { round = "120 mm" }, shape = { stamped = { r_over_d = 1.5, angle = "90 deg" } } } }
        price = 8
        per = "piece"

        [[price]]
        item = { junction = { outlet = { round = "160 mm" }, inlets = [
            { size = { round = "140 mm" }, angle = "45 deg" },
            { size = { round = "140 mm" }, angle = "0 deg" },
        ] } }
        price = 31.5
        per = "piece"

        [[price]]
        item = "screw"
        price = 0.04
        per = "piece"
    "#;
    let document: Document = toml::from_str(text).unwrap();
    assert_eq!(document.takeoff.screws, 3);
    assert_eq!(document.takeoff.stocks.len(), 2);
    let list = takeoff(&shop(), &document.takeoff).unwrap();
    let priced = list.priced(&document.price).unwrap();
    assert_eq!(priced.lines.len(), 4);
    assert!(priced.unused.is_empty() && !priced.missing.is_empty());
    // 5 m of the 160 mm main come as one length of 6 m.
    assert!(close(priced.lines[0].amount.amount(), 6.0 * 9.8));
    let again: Document = toml::from_str(&toml::to_string(&document).unwrap()).unwrap();
    assert_eq!(again, document);
    // What was counted and priced is data as well.
    assert!(serde_json::to_string(&priced).unwrap().contains("bought"));
    assert!(serde_json::to_string(&list).unwrap().contains("joints"));
}

#[test]
fn wrong_prices_in_a_document_are_told() {
    let told = |text: &str| {
        let text = format!("takeoff = {{}}\n[[price]]\n{text}");
        toml::from_str::<Document>(&text)
            .unwrap_err()
            .message()
            .to_string()
    };
    insta::assert_snapshot!([
        told("item = \"screws\"\nprice = 1\nper = \"piece\""),
        told("item = \"screw\"\nprice = \"1 $\"\nper = \"piece\""),
        told("item = \"screw\"\nprice = 1\nper = \"dozen\""),
        told("item = \"screw\"\nprice = 1"),
        told("item = { gate = { size = { round = 100 } } }\nprice = 1\nper = \"piece\""),
        told("item = { gate = { size = { round = \"100 mm\" }, colour = 1 } }\nprice = 1\nper = \"piece\""),
    ].join("\n"), @r#"
    unknown variant `screws`, expected one of `duct`, `hose`, `elbow`, `junction`, `reducer`, `gate`, `cap`, `separator`, `filter`, `silencer`, `port`, `other`, `clamp`, `screw`, `seal`
    invalid type: string "1 $", expected f64
    unknown variant `dozen`, expected one of `metre`, `foot`, `stock_length`, `piece`
    missing field `per`
    a number needs a unit; accepted: m, mm, in, ft, cm
    unexpected keys in table: colour, available keys: size
    "#);
    // TOML knows numbers that are none; they are refused once the price is used.
    let text = "takeoff = {}\n[[price]]\nitem = \"screw\"\nprice = nan\nper = \"piece\"";
    let document: Document = toml::from_str(text).unwrap();
    assert!(of(&shop()).priced(&document.price).is_err());
}

#[test]
fn an_elbow_and_a_hose_are_named_by_what_is_bought() {
    let list = of(&shop());
    let stamped = Item::Elbow {
        size: round(120.0),
        shape: ElbowShape::Stamped {
            r_over_d: 1.5,
            angle: Angle::from_deg(90.0),
        },
    };
    assert_eq!(list.line(&stamped).unwrap().quantity, Quantity::Pieces(3));
    let ribbed = Item::Hose {
        size: round(140.0),
        make: HoseMake::Ribbed,
    };
    assert!(list.line(&ribbed).is_some());
}
