//! Checks, budgets, comparisons, room, growth, requirements, takeoff.

use super::*;

fn point_of(system: &System) -> OperatingPoint {
    let network = Network::new(system).unwrap();
    network.operating_point(&network.open_all()).unwrap()
}

/// The shop with one section less.
fn smaller() -> System {
    let mut system = shop();
    system.sections.pop();
    system
}

fn requirement(machine: &str) -> Requirement {
    Requirement::new(machine)
}

fn lookup(kind: MachineKind) -> Need {
    Need::LookUp(kind)
}

fn check_errors(told: &mut Told) {
    let (system, options) = (shop(), CheckOptions::new());
    let point = point_of(&system);
    told.refused(check(&system, [], &options));
    told.refused(check(&system, [&point_of(&smaller())], &options));
    told.refused(check(&spoilt_shop(), [&point], &options));
    let with = |requirement| CheckOptions::new().with_requirement(requirement);
    told.refused(check(&system, [&point], &with(requirement("planner"))));
    let twice = with(requirement("planer")).with_requirement(requirement("planer"));
    told.refused(check(&system, [&point], &twice));
    let other = requirement("planer").with_hood("saw cabinet", m3_h(100.0));
    told.refused(check(&system, [&point], &with(other)));
    let belt = lookup(MachineKind::Belt { width: mm(-100.0) });
    told.refused(check(
        &system,
        [&point],
        &with(requirement("planer").needing(belt)),
    ));
    let unsafe_factor = CheckOptions::new().with_collapse_safety(0.5);
    told.refused(check(&system, [&point], &unsafe_factor));
    told.refused(MachineKind::Belt { width: mm(-100.0) }.required());
    told.refused(
        MachineKind::SpindleMoulder {
            below_table: false,
            drive: Power::from_kw(4.0),
        }
        .required(),
    );
}

fn budget_errors(told: &mut Told) {
    let system = shop();
    let point = point_of(&system);
    told.refused(Budget::new(&smaller(), &point));
    told.refused(Budget::new(&spoilt_shop(), &point));
    told.refused(Budget::new(&system, &point).unwrap().path("planner port"));
    let network = Network::new(&system).unwrap();
    let half = network.open(["saw cabinet"]).unwrap();
    let half = network.operating_point(&half).unwrap();
    told.refused(Budget::new(&system, &half).unwrap().path("planer port"));
    told.by_hand(&BudgetError::Part {
        place: Place::Part {
            section: "main".into(),
            part: 0,
        },
        error: loss_error(),
    });
}

fn loss_error() -> LossError {
    let errors = refused(|system| system.sections[0].parts[0] = Part::Duct(mm(-1.0)));
    match &errors.iter().next().unwrap().fault {
        ModelFault::Loss(error) => error.clone(),
        other => panic!("{other:?}"),
    }
}

fn compare_errors(told: &mut Told) {
    let all = [names(["planer", "saw cabinet"])];
    let flow = Objective::TotalFlow;
    let case = || Case::new("as it is", shop());
    told.refused(compare(&[], &all, &flow));
    told.refused(compare(&[Case::new("new", spoilt_shop())], &all, &flow));
    told.refused(compare(&[case()], &[names(["planner"])], &flow));
    let odd = CheckOptions::new().with_requirement(requirement("planner"));
    told.refused(compare(&[case().checked(odd)], &all, &flow));
    told.refused(compare(
        &[case().costing(Money::new(f64::NAN))],
        &all,
        &flow,
    ));
    told.refused(compare(&[case()], &all, &flow).unwrap().against(3));
}

fn room_errors(told: &mut Told) {
    let room = Room::new(Area::from_m2(0.1));
    let open = names(["planer"]);
    told.refused(Room::new(Area::from_m2(-0.1)).effect(&shop(), &open));
    told.refused(room.effect(&shop(), &names(["planner"])));
    told.refused(room.effect(&spoilt_shop(), &open));
    told.refused(room.effect(&shop(), &[]));
}

fn growth_errors(told: &mut Told) {
    let mut capped = shop();
    capped.sections.push(
        Section::new("lathe drop", round_mm(125.0), Wall::Galvanised)
            .draining_into("main")
            .joining_at(Angle::from_deg(45.0))
            .with_part(Part::Duct(mm(2000.0)))
            .capped(),
    );
    let hood = |branch: &str| FutureHood {
        branch: branch.into(),
        id: "lathe port".into(),
        hood: NewHood {
            entry: Entry::Plain,
            parts: Vec::new(),
            required: m3_h(500.0),
            size: None,
        },
    };
    let open = names(["planer"]);
    told.refused(growth(&capped, &open, &[hood("lathe drip")]));
    told.refused(growth(&shop(), &open, &[]));
    told.refused(growth(
        &capped,
        &open,
        &[hood("lathe drop"), hood("lathe drop")],
    ));
    let mut spoilt = capped.clone();
    spoilt.sections[0].size = round_mm(0.0);
    told.refused(growth(&spoilt, &open, &[hood("lathe drop")]));
    let mut without = capped;
    without.collector.fan = None;
    told.refused(growth(&without, &open, &[hood("lathe drop")]));
}

fn takeoff_errors(told: &mut Told) {
    let options = TakeoffOptions::default();
    told.refused(takeoff(&spoilt_shop(), &options));
    told.refused(takeoff(&shop(), &options.clone().with_seal(100.0)));
    let list = takeoff(&shop(), &options).unwrap();
    let duct = || Item::Duct {
        size: round_mm(160.0),
        wall: Wall::Galvanised,
    };
    let table = PriceTable::new().with(duct(), Money::new(9.8), Per::Metre);
    for (price, per) in [(-1.0, Per::Metre), (1.0, Per::Piece), (9.8, Per::Metre)] {
        let table = if price == 9.8 {
            table.clone()
        } else {
            PriceTable::new()
        };
        let table = table.with(duct(), Money::new(price), per);
        let error = list.priced(&table).unwrap_err();
        told.add(&error);
        told.inner(&error.fault);
    }
}

pub(crate) fn errors() -> Told {
    let mut told = Told::default();
    check_errors(&mut told);
    budget_errors(&mut told);
    compare_errors(&mut told);
    room_errors(&mut told);
    growth_errors(&mut told);
    takeoff_errors(&mut told);
    told
}

#[test]
fn texts() {
    insta::assert_snapshot!(errors().table(), @r##"
    CheckError::NoPoint: nothing to check: give at least one operating point
    CheckError::ForeignPoint: operating point 1 is of another system: its sections are not those of this one; give a point of this one
    CheckError::Model: section "main": diameter is 0 mm; allowed: 1 mm to 20000 mm
    CheckError::Unknown: no machine is called "planner"; known, nearest first: "planer"
    CheckError::Twice: the requirement of machine "planer" is told twice: keep one of them
    CheckError::OtherMachine: hood "saw cabinet" does not serve machine "planer"; tell its need under its own machine
    CheckError::Requirement: machine "planer": belt width is -3.93701 in; allowed: 0.1 in to 9 in
    CheckError::Value: the system: safety factor against collapse is 0.5; allowed: 1 to 100
    RequirementError::Size: belt width is -3.93701 in; allowed: 0.1 in to 9 in
    RequirementError::NoRow: no row for a spindle moulder: with a hood above only, its drive must be below 2.5 kW
    BudgetError::ForeignPoint: the operating point is of another system: its sections are not those of this one; give a point of this one
    BudgetError::Model: section "main": diameter is 0 mm; allowed: 1 mm to 20000 mm
    BudgetError::Unknown: no hood is called "planner port"; known, nearest first: "planer port", "saw cabinet"
    BudgetError::NoAir: no air passes hood "planer port": it is shut and tight; open it, or ask for the path of another
    BudgetError::Part: section "main", part 1: length is -0.001 m; allowed: 0 m to 10000 m
    CompareError::Nothing: nothing to compare: give at least one case and one open set
    CompareError::Model: case "new": section "main": diameter is 0 mm; allowed: 1 mm to 20000 mm
    CompareError::Unknown: case "as it is": no hood or machine is called "planner"; known, nearest first: "planer", "planer port", "saw cabinet"
    CompareError::Check: case "as it is": no machine is called "planner"; known, nearest first: "planer"
    CompareError::Cost: case "as it is": its cost is NaN; it must be a finite number
    CompareError::NoCase: there is no case 3 to compare with: there are 1, counted from 0; give the index of one of them
    RoomError::Value: room: make-up opening is -0.1 m2; allowed: 0.0001 m2 to 100 m2
    RoomError::Unknown: no hood or machine is called "planner"; known, nearest first: "planer", "planer port", "saw cabinet"
    RoomError::Model: section "main": diameter is 0 mm; allowed: 1 mm to 20000 mm
    RoomError::Solve: no open hood reaches the fan: open at least one, and let no gate on its way stand shut
    GrowthError::Unknown: no capped branch is called "lathe drip"; known, nearest first: "lathe drop"
    GrowthError::NothingToOpen: nothing to open: the system needs at least one section that is capped, and a hood for it
    GrowthError::Twice: capped branch "lathe drop" is to get more than one hood; cap as many as are to come
    GrowthError::Model: section "main": diameter is 0 mm; allowed: 1 mm to 20000 mm
    GrowthError::Solve: the collector has no fan; give it one, or impose a flow
    TakeoffError::Model: section "main": diameter is 0 mm; allowed: 1 mm to 20000 mm
    TakeoffError::Option: takeoff: turns of seal is 100; allowed: 0 to 10
    PriceError: price of duct 160 mm galvanised: it is -1; allowed: 0 to 1e12
    PriceFault::Amount: it is -1; allowed: 0 to 1e12
    PriceError: price of duct 160 mm galvanised: it is per piece; give it per metre, foot or stock length, as the item is bought
    PriceFault::Per: it is per piece; give it per metre, foot or stock length, as the item is bought
    PriceError: price of duct 160 mm galvanised: it has more than one; keep one of them
    PriceFault::Twice: it has more than one; keep one of them
    "##);
}
