//! Gates, the filter's gauge, sizing, upgrades.

use super::*;

fn limits() -> TransportLimits {
    TransportLimits::new(Velocity::from_m_s(0.0))
}

fn gate_errors(told: &mut Told) {
    let planer = ["planer"];
    told.refused(balance_gates(&spoilt_shop(), planer, &limits()));
    told.refused(balance_gates(&shop(), ["planner"], &limits()));
    let slow = TransportLimits::new(Velocity::from_m_s(-1.0));
    told.refused(balance_gates(&shop(), planer, &slow));
    let section = limits().with_section("main", Velocity::from_m_s(f64::NAN));
    told.refused(balance_gates(&shop(), planer, &section));
    // A second gate on the way stands shut.
    let mut shut = shop();
    shut.sections[1].parts.push(Part::Gate(Gate {
        opening: 0.0,
        leak_area: None,
    }));
    let both = ["planer", "saw cabinet"];
    told.refused(balance_gates(&shut, both, &limits()));
    let mut needless = shop();
    needless.machines[0].required = m3_h(0.0);
    told.refused(balance_gates(&needless, planer, &limits()));
    let mut gateless = shop();
    gateless.sections[1].parts.remove(1);
    told.refused(balance_gates(&gateless, planer, &limits()));
    let mut fanless = shop();
    fanless.collector.fan = None;
    told.refused(balance_gates(&fanless, planer, &limits()));
    // A wide drop beside the fan against one at the end of a thin pipe: no gate evens that out.
    let mut uneven = shop();
    uneven.sections[1]
        .parts
        .retain(|part| matches!(part, Part::Gate(_)));
    uneven.sections[1].size = round_mm(160.0);
    uneven.sections[2].size = round_mm(40.0);
    uneven.sections[2].parts[0] = Part::Duct(Length::from_m(80.0));
    uneven.machines[0].required = m3_h(0.1);
    told.refused(balance_gates(&uneven, both, &limits()));
    told.by_hand(&GateError::NotBalanced { spread: 0.01 });
    told.by_hand(&GateError::Gate(value_error()));
    let mut many = shop();
    for i in 0..40 {
        let mut one = many.sections[2].clone();
        one.id = format!("drop {i}").into();
        one.start = Start::Hood(Hood::new(format!("hood {i}"), Entry::Plain));
        many.sections.push(one);
    }
    let fast = TransportLimits::new(Velocity::from_m_s(60.0)).opening_up_to(12);
    told.refused(gate_schedule(&many, &fast));
}

fn value_error() -> LossError {
    let errors = refused(|system| system.sections[0].size = round_mm(-1.0));
    match &errors.iter().next().unwrap().fault {
        ModelFault::Loss(error) => error.clone(),
        other => panic!("{other:?}"),
    }
}

fn gauge_errors(told: &mut Told) {
    let options = FilterGaugeOptions::default();
    told.refused(filter_gauge(&spoilt_shop(), &options));
    let with = options
        .clone()
        .with_companions("planner", names(["saw cabinet"]));
    told.refused(filter_gauge(&shop(), &with));
    let loading = |kg_per_h| DustLoading {
        kg_per_h,
        area: Some(Area::from_m2(10.0)),
        k2_per_s: Some(1e4),
    };
    told.refused(filter_gauge(
        &shop(),
        &options.clone().with_loading(loading(-1.0)),
    ));
    let mut without = shop();
    without.collector.before[0].parts.pop();
    told.refused(filter_gauge(&without, &options));
    let mut two = shop();
    let filter = two.collector.before[0].parts[1].clone();
    two.collector.before[0].parts.push(filter);
    told.refused(filter_gauge(&two, &options));
    let place = Place::Before {
        run: 0,
        part: Some(0),
    };
    told.refused(filter_gauge(&shop(), &options.clone().with_filter(place)));
    let mut fitted = shop();
    let fan = fitted.collector.fan.take().unwrap();
    let points = fan.points().map(|point| (point.flow, point.pressure));
    let fan = FanCurve::new(
        points.collect::<Vec<_>>(),
        Basis::Static,
        Fitted::ALL,
        fan.density(),
    );
    fitted.collector.fan = Some(fan.unwrap());
    told.refused(filter_gauge(&fitted, &options));
    let half = DustLoading {
        area: None,
        ..loading(2.0)
    };
    told.refused(filter_gauge(&shop(), &options.clone().with_loading(half)));
    let mut fanless = shop();
    fanless.collector.fan = None;
    let gauge = filter_gauge(&fanless, &options).unwrap();
    told.add(&gauge.failures[0].error);
    told.by_hand(&FilterGaugeError::NoMark { most_pa_s_m3: 1e9 });
}

fn sizing_errors(told: &mut Told) {
    let stock = |diameter| StockSize::new(mm(diameter), Money::new(10.0));
    let sold = |one: StockSize| one.with_wye(Money::new(9.0)).with_gate(Money::new(9.0));
    let usual = || vec![sold(stock(100.0)), sold(stock(160.0))];
    let network = Network::new(&shop()).unwrap();
    let all = network.open_all();
    let size = |sections: &[&str], stock: Vec<StockSize>| {
        Sizing::new(sections.to_vec(), stock).cheapest(&shop(), [&all])
    };
    let question = || Sizing::new(["saw drop"], usual());
    told.refused(question().cheapest(&spoilt_shop(), [&all]));
    told.refused(size(&["saw drip"], usual()));
    told.refused(size(&[], usual()));
    told.refused(size(&["saw drop", "saw drop"], usual()));
    told.refused(size(&["saw drop"], vec![]));
    told.refused(size(&["saw drop"], vec![stock(0.0)]));
    told.refused(size(&["saw drop"], vec![stock(100.0), stock(100.0)]));
    told.refused(size(
        &["saw drop"],
        vec![StockSize::new(mm(100.0), Money::new(-1.0))],
    ));
    let many: Vec<_> = (0..1001).map(|i| stock(100.0 + f64::from(i))).collect();
    told.refused(size(&["saw drop"], many));
    told.refused(
        question()
            .with_least_velocity(Velocity::from_m_s(-1.0))
            .cheapest(&shop(), [&all]),
    );
    told.refused(question().cheapest(&shop(), [] as [&OpenSet; 0]));
    let mut needless = shop();
    needless.machines[0].required = m3_h(0.0);
    if let Start::Hood(hood) = &mut needless.sections[2].start {
        hood.required = None;
    }
    told.refused(question().cheapest(&needless, [&all]));
    // Not sold with a wye, which the drop needs.
    told.refused(size(&["saw drop"], vec![stock(100.0), stock(160.0)]));
    let none = network.open::<[&str; 0]>([]).unwrap();
    told.refused(question().cheapest(&shop(), [&none]));
}

fn upgrade_errors(told: &mut Told) {
    let upgrade = |name: &str, cost, changes| Upgrade {
        name: name.into(),
        cost: Money::new(cost),
        changes,
    };
    let size = |mm| Change::Size {
        section: "main".into(),
        to: round_mm(mm),
    };
    let wider = |name: &str, cost| upgrade(name, cost, vec![size(180.0)]);
    let open = [names(["planer"])];
    let one = [wider("wider main", 100.0)];
    let rank = |list: &[Upgrade]| rank_upgrades(&shop(), list, &open);
    let many: Vec<_> = (0..40)
        .map(|i| wider(&format!("wider {i}"), 100.0))
        .collect();
    told.refused(rank(&many));
    told.refused(rank(&[wider("wider main", 1.0), wider("wider main", 2.0)]));
    told.refused(rank(&[wider("wider main", -1.0)]));
    told.refused(rank(&[upgrade("odd", 1.0, vec![size(180.0), size(200.0)])]));
    told.refused(rank_upgrades(&shop(), &one, &[]));
    told.refused(rank_upgrades(&shop(), &one, &[names(["planner"])]));
    let mut needless = shop();
    needless.machines[0].required = m3_h(0.0);
    told.refused(rank_upgrades(&needless, &one, &open));
    told.refused(rank_upgrades(&spoilt_shop(), &one, &open));
    let mut fanless = shop();
    fanless.collector.fan = None;
    told.refused(rank_upgrades(&fanless, &one, &open));
    skipped(
        told,
        &upgrade,
        wider("wider main", 1.0),
        wider("wide main", 2.0),
    );
}

/// Bundles that are left out say why.
fn skipped(
    told: &mut Told,
    upgrade: &dyn Fn(&str, f64, Vec<Change>) -> Upgrade,
    wider: Upgrade,
    wide: Upgrade,
) {
    let saw = || Name::from("saw drop");
    let gone = upgrade(
        "no saw",
        1.0,
        vec![Change::RemoveSection { section: saw() }],
    );
    let shut = Change::Gate {
        section: "planer drop".into(),
        opening: 0.0,
    };
    let shut = upgrade("shut", 1.0, vec![shut]);
    // Swept it may meet the saw; without the saw it meets nothing.
    let swept = Change::JoinAngle {
        section: "planer drop".into(),
        to: Angle::from_deg(30.0),
    };
    let swept = upgrade("swept", 1.0, vec![swept]);
    for open in [names(["planer"]), names(["planer", "saw cabinet"])] {
        let list = [
            wider.clone(),
            wide.clone(),
            gone.clone(),
            shut.clone(),
            swept.clone(),
        ];
        let ranking = rank_upgrades(&shop(), &list, &[open]).unwrap();
        let mut seen = std::collections::BTreeSet::new();
        for skipped in &ranking.skipped {
            if seen.insert(skipped.reason.to_string()) {
                told.inner(&skipped.reason);
            }
        }
    }
}

pub(crate) fn errors() -> Told {
    let mut told = Told::default();
    gate_errors(&mut told);
    gauge_errors(&mut told);
    sizing_errors(&mut told);
    upgrade_errors(&mut told);
    told
}

#[test]
fn texts() {
    insta::assert_snapshot!(errors().table(), @r##"
    GateError::Model: section "main": diameter is 0 mm; allowed: 1 mm to 20000 mm
    GateError::Unknown: no hood or machine is called "planner"; known, nearest first: "planer", "planer port", "saw cabinet"
    GateError::Limit: cannot keep every section at -1 m/s; a limit must be zero or more
    GateError::Limit: cannot keep section "main" at NaN m/s; a limit must be zero or more
    GateError::CutOff: hood "planer port" gets no air: a gate on its way to the fan stands shut; open it
    GateError::NoRequirement: hood "planer port" has no required flow: give it one, or have it serve a machine whose requirement its other hoods do not use up
    GateError::NoGate: no gate to set: section "planer drop" of hood "planer port" has none among its parts; give it one
    GateError::Solve: with planer open: the collector has no fan; give it one, or impose a flow
    GateError::AllButShut: hood "planer port" gets more than its share even with its gate all but shut; leave it out, or give its branch a smaller duct
    GateError::NotBalanced: no openings found that share the air out evenly: the shares still differ by 1.0e-2 of themselves
    GateError::Gate: diameter is -1 mm; allowed: 1 mm to 20000 mm
    GateError::TooManySets: 41 gates make more than 2^20 sets of up to 12 further ones; ask for sets of up to 5
    FilterGaugeError::Model: section "main": diameter is 0 mm; allowed: 1 mm to 20000 mm
    FilterGaugeError::Unknown: no machine is called "planner"; known, nearest first: "planer"
    FilterGaugeError::Value: rate at which dust gathers is -1 kg/h; allowed: 0.000000001 kg/h to 1000000 kg/h
    FilterGaugeError::NoFilter: the model has no filter; give the collector one among its parts
    FilterGaugeError::SeveralFilters: the model has 2 filters; say which: collector, run 1 before the fan, part 2; collector, run 1 before the fan, part 3
    FilterGaugeError::NotAFilter: there is no filter at collector, run 1 before the fan, part 1; name the part that is one
    FilterGaugeError::InFanCurve: collector, run 1 before the fan, part 2: the fan's curve contains this filter, so its loss cannot change; give a curve of the bare fan
    FilterGaugeError::LoadingUnknown: hours need the area of the cloth: give it with the loading, or tell the filter as cloth with a cake
    FilterGaugeError::Solve: the collector has no fan; give it one, or impose a flow
    FilterGaugeError::NoMark: no mark found up to 1000000000 Pa per m3/s of dust
    SizingError::Model: section "main": diameter is 0 mm; allowed: 1 mm to 20000 mm
    SizingError::Section: no section is called "saw drip"; known, nearest first: "saw drop", "main", "planer drop"
    SizingError::NoSections: no section is to be sized; name at least one
    SizingError::SectionTwice: section "saw drop" is to be sized twice; name it once
    SizingError::NoStock: the stock is empty; give at least one diameter with its price
    SizingError::Diameter: stock diameter 0 m must be 1 mm to 20 m
    SizingError::DiameterTwice: stock diameter 0.1 m stands twice; give each diameter once
    SizingError::Price: price of duct per metre in 0.1 m, -1.00, must be zero or more and finite
    SizingError::TooMany: 1001 stock sizes are more than the 1000 that can be searched
    SizingError::LeastVelocity: least velocity -1 m/s must be zero or more and finite
    SizingError::NoSets: no open set was given; give those that are to work
    SizingError::NothingRequired: nothing is required: no open machine or hood needs a flow and no section a velocity, so the cheapest stock would always do; give one
    SizingError::NoneFits: no stock size fits section "saw drop": each lacks a fitting it needs, narrows toward the fan, or is refused by the model; give more sizes, or prices of their fittings
    SizingError::Solve: no open hood reaches the fan: open at least one, and let no gate on its way stand shut
    UpgradeError::TooMany: 40 upgrades make too many bundles; give at most 12
    UpgradeError::Duplicate: more than one upgrade is called "wider main"; names must differ
    UpgradeError::Cost: upgrade "wider main" costs -1.00; allowed: 0 to 1e12
    UpgradeError::Change: upgrade "odd": change 1 (size of section "main") and change 2 (size of section "main") meet: which of them holds? Leave one out
    UpgradeError::NoOpenSet: no open set is given; name the machines that run at once
    UpgradeError::Unknown: no hood or machine is called "planner"; known, nearest first: "planer", "planer port", "saw cabinet"
    UpgradeError::NothingRequired: no open set holds a machine that requires air; name one, and give its required flow
    UpgradeError::Model: section "main": diameter is 0 mm; allowed: 1 mm to 20000 mm
    UpgradeError::AsItIs: the system as it is, with planer open: the collector has no fan; give it one, or impose a flow
    SkipReason::Conflict: "wider main" and "wide main" both change one thing (section "main"); a bundle holds one of them
    SkipReason::Unsolved: with planer open: no open hood reaches the fan: open at least one, and let no gate on its way stand shut
    SkipReason::Change: the changed system: join of section "planer drop": no other section joins here; leave out the join, or describe an elbow or transition as a part
    SkipReason::Conflict: "wider main" and "wide main" both change one thing (section "main"); a bundle holds one of them
    SkipReason::Unknown: no hood or machine is called "saw cabinet"; known, nearest first: "planer", "planer port"
    "##);
}
