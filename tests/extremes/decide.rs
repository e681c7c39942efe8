//! Every question of the owner's money with odd numbers, with nothing, and with what is not there.

use super::*;

fn names(names: &[&str]) -> Vec<Name> {
    names.iter().map(|&name| name.into()).collect()
}

#[test]
fn prop_checks_take_odd_options() {
    let system = shop();
    let network = Network::new(&system).unwrap();
    let point = network.operating_point(&network.open_all()).unwrap();
    for odd in ODD {
        let flow = VolumeFlow::from_m3_s(odd);
        let shell = Shell::new(Length::from_m(odd), Material::Aluminium);
        let mut uncertain = Uncertain::of(&network.uncertainty(&network.open_all(), &[]).unwrap());
        uncertain.flow = odd;
        uncertain.pressure = odd;
        for options in [
            CheckOptions::new()
                .with_requirement(Requirement::new("planer").with_hood("planer port", flow)),
            CheckOptions::new().with_requirement(Requirement::new("none")),
            CheckOptions::new().with_filter_area(Area::from_m2(odd)),
            CheckOptions::new().with_shell(shell),
            CheckOptions::new().with_section_shell("none", shell),
            CheckOptions::new().with_collapse_safety(odd),
            CheckOptions::new().with_uncertain(uncertain),
        ] {
            if let Some(findings) = value(check(&system, [&point], &options)) {
                assert!(!findings.all.is_empty());
                assert!(
                    findings
                        .all
                        .iter()
                        .all(|finding| !finding.text.contains("NaN"))
                );
            }
        }
        for kind in [
            MachineKind::Planer {
                cutter_width: Length::from_m(odd),
            },
            MachineKind::Port {
                size: Bore::Round(Length::from_m(odd)),
            },
            MachineKind::Belt {
                width: Length::from_m(odd),
            },
            MachineKind::TableSaw {
                blade: Length::from_m(odd),
                drive: Power::from_w(odd),
            },
            MachineKind::GrindingWheel {
                diameter: Length::from_m(odd),
                width: Length::from_m(odd),
            },
        ] {
            value(kind.required())
                .into_iter()
                .for_each(|told| finite(told.flow.as_m3_s()));
        }
    }
    told(&check(&system, [], &CheckOptions::new()).unwrap_err());
}

#[test]
fn prop_changes_and_upgrades_take_odd_numbers() {
    let system = shop();
    let sets = vec![names(&["planer"])];
    for odd in ODD {
        for change in [
            Change::Size {
                section: "main east".into(),
                to: Bore::Round(Length::from_m(odd)),
            },
            Change::Duct {
                section: "main east".into(),
                to: Length::from_m(odd),
            },
            Change::Slack {
                section: "planer drop".into(),
                compression: odd,
            },
        ] {
            let changed = system.with(std::slice::from_ref(&change));
            value(changed)
                .into_iter()
                .for_each(|system| assert!(system.check().is_ok()));
            let upgrade = Upgrade {
                name: "odd".into(),
                cost: Money::new(odd),
                changes: vec![change],
            };
            if let Some(ranking) = value(rank_upgrades(&system, &[upgrade], &sets)) {
                finite(ranking.as_it_is.worst_margin);
                let _ = ranking.best_within(Money::new(odd));
            }
        }
        let case = Case::new("odd", system.clone()).costing(Money::new(odd));
        let compared = compare(&[case], &sets, &Objective::TotalFlow);
        value(compared)
            .into_iter()
            .for_each(|told| assert_eq!(told.ranking, [0]));
        let item = Item::Screw;
        let prices = PriceTable::new().with(item, Money::new(odd), Per::Piece);
        let all = takeoff(&system, &TakeoffOptions::default()).unwrap();
        value(all.priced(&prices))
            .into_iter()
            .for_each(|told| finite(told.total.amount()));
        for options in [
            TakeoffOptions::default().with_stock(Length::from_m(odd)),
            TakeoffOptions::default().with_screws(u32::MAX, Length::from_m(odd)),
            TakeoffOptions::default().with_screws(3, Length::from_m(odd)),
            TakeoffOptions::default().with_seal(odd),
            TakeoffOptions::default().with_clamps(u32::MAX),
        ] {
            let _ = value(takeoff(&system, &options));
        }
        let stock = [
            StockSize::new(Length::from_m(odd), Money::new(odd)),
            StockSize::new(Length::from_mm(150.0), Money::new(9.0)),
        ];
        let sizing = Sizing::new(["main east"], stock).with_least_velocity(Velocity::from_m_s(odd));
        let network = Network::new(&system).unwrap();
        let open = network.open(["planer"]).unwrap();
        let _ = value(sizing.cheapest(&system, [open]));
    }
    assert!(rank_upgrades(&system, &[], &[]).is_err());
    assert!(compare(&[], &sets, &Objective::TotalFlow).is_err());
}

#[test]
fn prop_gates_rooms_and_growth_take_odd_numbers() {
    let system = shop();
    let network = Network::new(&system).unwrap();
    let open = names(&["planer"]);
    for odd in ODD {
        let limits = TransportLimits::new(Velocity::from_m_s(odd)).opening_up_to(usize::MAX);
        let own = TransportLimits::new(Velocity::from_m_s(20.0))
            .with_section("main east", Velocity::from_m_s(odd));
        for limits in [limits, own] {
            let _ = value(gate_schedule(&system, &limits));
            let _ = value(balance_gates(&system, ["planer", "lathe"], &limits));
        }
        for room in [
            Room::new(Area::from_m2(odd)),
            Room::new(Area::from_cm2(400.0)).with_discharge_coefficient(odd),
        ] {
            for exhaust in [Exhaust::Outdoors, Exhaust::Room] {
                let room = room.with_exhaust(exhaust);
                value(room.effect(&system, &open))
                    .into_iter()
                    .for_each(|told| finite(told.room_pressure.as_pa()));
            }
        }
        let new = NewHood {
            entry: Entry::K(odd),
            required: VolumeFlow::from_m3_s(odd),
            size: Some(Bore::Round(Length::from_m(odd))),
            parts: vec![Part::K(odd)],
        };
        let future = FutureHood {
            id: "new".into(),
            branch: "none".into(),
            hood: new.clone(),
        };
        let _ = value(growth(&system, &open, &[future]));
        let _ = value(headroom(&system, &open, &new, &[]));
        let loading = DustLoading {
            kg_per_h: odd,
            area: Some(Area::from_m2(odd)),
            k2_per_s: Some(odd),
        };
        let options = FilterGaugeOptions::default().with_loading(loading);
        let _ = value(filter_gauge(&system, &options));
        let usage = Use::any().weighing("planer", odd);
        let _ = value(usage.sets(&network));
        let (flow, pressure) = (VolumeFlow::from_m3_s(odd), Pressure::from_pa(odd));
        if let Some(balanced) = balanced_flow(flow, pressure, Pressure::from_pa(500.0)) {
            finite(balanced.as_m3_s());
        }
        if let Some(wider) = flow_for_width(flow, Length::from_m(odd), Length::from_m(0.5)) {
            finite(wider.as_m3_s());
        }
    }
    assert!(Use::any().at_most(0).sets(&network).is_err());
    let none: [&str; 0] = [];
    let limits = TransportLimits::new(Velocity::from_m_s(20.0));
    assert!(balance_gates(&system, none, &limits).is_err());
}
