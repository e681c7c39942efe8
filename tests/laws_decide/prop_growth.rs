//! Capped branches that open: against the same shop written with hoods from the start.

#![cfg(feature = "serde")]
#![allow(clippy::unwrap_used, reason = "a test that cannot go on must stop")]

use airsplit::{
    Bore, Entry, FutureHood, GrowthError, Headroom, Hood, Length, Machine, Name, Network, NewHood,
    Part, Place, Section, SolveError, Start, Status, Study, System, VolumeFlow, growth, headroom,
};
use proptest::prelude::*;

/// The chair shop with a fan that has something to spare and more capped ends.
fn shop(ends: usize) -> System {
    let study: Study = toml::from_str(include_str!("../../examples/chair_shop.toml")).unwrap();
    let mut system = study.system;
    let fan = system.collector.fan.as_ref().unwrap();
    system.collector.fan = Some(fan.at_speed_ratio(1.3).unwrap());
    let into = ["main west", "back wall", "bench line", "main east"];
    for i in 1..ends {
        let model = system
            .sections
            .iter()
            .find(|s| s.id.as_str() == "future drop");
        let mut end = model.unwrap().clone();
        end.id = format!("end {i}").into();
        end.into = Some(into[i % into.len()].into());
        system.sections.push(end);
    }
    system
}

fn names<const N: usize>(names: [&str; N]) -> Vec<Name> {
    names.map(Name::from).into()
}

fn m3_h(flow: f64) -> VolumeFlow {
    VolumeFlow::from_m3_h(flow)
}

fn sander(required: f64) -> NewHood {
    NewHood {
        entry: Entry::K(1.2),
        required: m3_h(required),
        size: None,
        parts: vec![Part::Duct(Length::from_m(2.0))],
    }
}

fn at(branch: &str, hood: NewHood) -> FutureHood {
    FutureHood {
        id: format!("new at {branch}").into(),
        branch: branch.into(),
        hood,
    }
}

#[test]
fn prop_a_branch_that_opens_is_the_branch_written_open() {
    let system = shop(1);
    let open = names(["planer", "bandsaw"]);
    let told = growth(&system, &open, &[at("future drop", sander(300.0))]).unwrap();
    let mut written = system.clone();
    let branch = written
        .sections
        .iter_mut()
        .find(|s| s.start == Start::Capped);
    let branch = branch.unwrap();
    branch.parts = vec![Part::Duct(Length::from_m(2.0))];
    branch.start =
        Start::Hood(Hood::new("new at future drop", Entry::K(1.2)).serving("new at future drop"));
    written.machines.push(Machine {
        id: "new at future drop".into(),
        required: m3_h(300.0),
    });
    let network = Network::new(&written).unwrap();
    let set = network
        .open(["planer", "bandsaw", "new at future drop"])
        .unwrap();
    assert_eq!(told.after, network.operating_point(&set).unwrap());
    let now = Network::new(&system).unwrap();
    let before = now.operating_point(&now.open(&open).unwrap()).unwrap();
    assert_eq!(told.before, before);
    // Needs: two machines that were there, and the new one.
    let places: Vec<_> = told.needs.iter().map(|need| need.place.clone()).collect();
    let machine = |name: &str| Place::Machine(name.into());
    assert_eq!(
        places,
        ["planer", "bandsaw", "new at future drop"].map(machine)
    );
    assert_eq!(
        told.needs[0].before,
        Some(before.machine("planer").unwrap().flow)
    );
    assert_eq!(told.needs[2].before, None);
    for need in &told.needs {
        let after = told
            .after
            .machines
            .iter()
            .find(|m| Place::Machine(m.name.clone()) == need.place);
        assert_eq!(need.after, after.unwrap().flow);
    }
}

/// Of another size the new duct stands before the stub and meets it in a step.
#[test]
fn prop_another_size_is_a_section_of_its_own() {
    let system = shop(1);
    let open = names(["planer"]);
    let mut hood = sander(200.0);
    hood.size = Some(Bore::Round(Length::from_mm(80.0)));
    let told = growth(&system, &open, &[at("future drop", hood)]).unwrap();
    let mut written = system.clone();
    let branch = written
        .sections
        .iter_mut()
        .find(|s| s.start == Start::Capped);
    branch.unwrap().start = Start::Joins;
    let wall = written.sections[0].wall;
    let written = written
        .with_section(
            Section::new("new", Bore::Round(Length::from_mm(80.0)), wall)
                .draining_into("future drop")
                .with_part(Part::Duct(Length::from_m(2.0)))
                .with_hood(Hood::new("new at future drop", Entry::K(1.2)).serving("m")),
        )
        .with_machine("m", m3_h(200.0));
    let network = Network::new(&written).unwrap();
    let set = network.open(["planer", "new at future drop"]).unwrap();
    let point = network.operating_point(&set).unwrap();
    assert_eq!(told.after.flow, point.flow);
    assert_eq!(
        told.after.hood("new at future drop").unwrap().flow,
        point.hood("new at future drop").unwrap().flow
    );
}

/// The definition, one solve of its own at a time.
fn by_definition(system: &System, open: &[Name], hood: &NewHood, ends: &[Name]) -> Headroom {
    let told = headroom(system, open, hood, ends).unwrap();
    let serves = |chosen: Vec<&Name>| {
        let hoods: Vec<_> = chosen
            .iter()
            .map(|end| at(end.as_str(), hood.clone()))
            .collect();
        if hoods.is_empty() {
            let network = Network::new(system).unwrap();
            let point = network
                .operating_point(&network.open(open).unwrap())
                .unwrap();
            let machines = point.machines.iter().filter(|m| m.open);
            let hoods = point.hoods.iter().filter(|h| h.open);
            return point.status == Status::Converged
                && { machines }.all(|m| m.flow >= m.required)
                && { hoods }.all(|h| h.required.is_none_or(|need| h.flow >= need));
        }
        growth(system, open, &hoods).unwrap().serves()
    };
    let mut in_order = None;
    for n in 0..=ends.len() {
        if !serves(ends.iter().take(n).collect()) {
            break;
        }
        in_order = Some(n);
    }
    assert_eq!(told.in_order, in_order);
    let choices = |n: usize| (0..1_u32 << ends.len()).filter(move |c| c.count_ones() as usize == n);
    let chosen = |c: u32| {
        (0..ends.len())
            .filter(|i| c >> i & 1 == 1)
            .map(|i| &ends[i])
            .collect()
    };
    let anywhere = (0..=ends.len())
        .take_while(|&n| choices(n).all(|c| serves(chosen(c))))
        .last();
    assert_eq!(told.anywhere, anywhere);
    let at_best = (0..=ends.len()).rfind(|&n| choices(n).any(|c| serves(chosen(c))));
    assert_eq!(told.at_best, anywhere.and(at_best));
    told
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(12))]

    #[test]
    fn prop_headroom_is_what_single_answers_say(
        required in 150.0..700.0_f64,
        which in 0..3_usize,
    ) {
        let system = shop(4);
        let ends = names(["future drop", "end 1", "end 2", "end 3"]);
        let open = [&["mortiser"][..], &["lathe", "bandsaw"], &["planer", "table saw"]][which];
        let open: Vec<Name> = open.iter().map(|&name| name.into()).collect();
        let told = by_definition(&system, &open, &sander(required), &ends);
        prop_assert_eq!(told.steps.len(), 5);
        prop_assert!(told.anywhere <= told.in_order && told.in_order <= told.at_best);
    }
}

#[test]
fn prop_small_needs_leave_more_headroom_and_ends_are_the_models_own() {
    let system = shop(4);
    let open = names(["mortiser"]);
    let ends = names(["future drop", "end 1", "end 2", "end 3"]);
    let of = |required| headroom(&system, &open, &sander(required), &ends).unwrap();
    let mut last = Some(usize::MAX);
    for required in [50.0, 200.0, 400.0, 600.0, 800.0, 2000.0] {
        let told = of(required);
        assert!(told.in_order <= last, "{required}");
        last = told.in_order;
    }
    // Something fits and something does not, or nothing was tested.
    assert!(of(50.0).in_order > Some(1));
    assert_eq!(of(2000.0).in_order, Some(0));
    assert_eq!(
        headroom(&system, &open, &sander(300.0), &[]).unwrap(),
        headroom(&system, &open, &sander(300.0), &ends).unwrap()
    );
    // The tightest of the new hoods is told by the end it stands on.
    let told = of(2000.0);
    assert_eq!(
        told.steps[1].tightest,
        Some(Place::Section("future drop".into()))
    );
    assert!(!told.steps[1].serves() && told.steps[0].serves());
    assert_eq!(told.steps[2].opened, names(["future drop", "end 1"]));
    // Without new hoods it is the shop as it is.
    let network = Network::new(&system).unwrap();
    let point = network
        .operating_point(&network.open(&open).unwrap())
        .unwrap();
    let share = point.machine("mortiser").unwrap().share();
    assert!((told.steps[0].margin - (share - 1.0)).abs() < 1e-11);
}

#[test]
fn prop_a_shop_that_starts_short_has_no_headroom() {
    let system = shop(3);
    let everything: Vec<Name> = system.machines.iter().map(|m| m.id.clone()).collect();
    let told = headroom(&system, &everything, &sander(1.0), &[]).unwrap();
    assert!(told.steps[0].margin < 0.0);
    assert_eq!([told.in_order, told.anywhere, told.at_best], [None; 3]);
    // More than twelve ends: every order is too many, the given one is told.
    let told = headroom(&shop(14), &names(["mortiser"]), &sander(50.0), &[]).unwrap();
    assert_eq!(told.steps.len(), 15);
    assert!(told.in_order.is_some());
    assert_eq!([told.anywhere, told.at_best], [None; 2]);
}

#[test]
fn bad_input_is_told() {
    let system = shop(2);
    let open = names(["planer"]);
    let told = |open: &[Name], hoods: &[FutureHood]| growth(&system, open, hoods).unwrap_err();
    let good = || at("future drop", sander(300.0));
    let named = |id: &str| FutureHood {
        id: id.into(),
        ..good()
    };
    insta::assert_snapshot!([
        told(&open, &[]),
        told(&open, &[at("futur drop", sander(300.0))]),
        told(&open, &[at("main east", sander(300.0))]),
        told(&open, &[good(), good()]),
        told(&names(["plner"]), &[good()]),
        told(&[], &[good()]),
        told(&open, &[named("planer")]),
        told(&open, &[named("  ")]),
        told(&open, &[at("end 1", NewHood { entry: Entry::K(-1.0), ..sander(300.0) })]),
        told(&open, &[at("end 1", NewHood { size: Some(Bore::Round(Length::from_m(0.0))), ..sander(300.0) })]),
        told(&open, &[at("end 1", sander(f64::NAN))]),
    ].map(|error| error.to_string()).join("\n"), @r#"
    nothing to open: the system needs at least one section that is capped, and a hood for it
    no capped branch is called "futur drop"; known, nearest first: "future drop", "end 1"
    no capped branch is called "main east"; known, nearest first: "end 1", "future drop"
    capped branch "future drop" is to get more than one hood; cap as many as are to come
    no hood or machine is called "plner"; known, nearest first: "planer", "lathe", "bandsaw", "mortiser", "planer port", "disc sander" and 9 more
    no open hood reaches the fan: open at least one, and let no gate on its way stand shut
    3 faults in the model
      machine "planer": more than one machine is called "planer"; names must differ
      machine "planer": no hood serves it; name it as the machine of a hood, or leave it out
      hood "planer": a machine has the same name but other hoods; an open set could not tell them apart; rename one of the two
    2 faults in the model
      hood "  ": a hood needs a name that is not blank
      machine "  ": a machine needs a name that is not blank
    hood "new at end 1": loss coefficient is -1; allowed: 0 to 1000000
    section "end 1, new duct": diameter is 0 mm; allowed: 1 mm to 20000 mm
    machine "new at end 1": the required flow is NaN L/s; allowed: 0 m3/s to 1000 m3/s
    "#);
    let none = headroom(
        &{
            let mut system = system.clone();
            system
                .sections
                .retain(|section| section.start != Start::Capped);
            system
        },
        &open,
        &sander(300.0),
        &[],
    );
    assert_eq!(none, Err(GrowthError::NothingToOpen));
    let twice = headroom(&system, &open, &sander(300.0), &names(["end 1", "end 1"]));
    assert!(matches!(twice, Err(GrowthError::Twice { .. })), "{twice:?}");
    assert!(matches!(
        told(&[], &[good()]),
        GrowthError::Solve(SolveError::NothingOpen)
    ));
}

#[test]
fn new_hoods_are_read_from_a_document() {
    #[derive(Debug, PartialEq, serde::Serialize, serde::Deserialize)]
    struct Document {
        future: Vec<FutureHood>,
    }
    let text = r#"
        [[future]]
        id = "drum sander"
        branch = "future drop"
        hood = { entry = "flanged", required = "500 m3/h", size = { round = "120 mm" }, parts = [{ duct = "2 m" }, { gate = { opening = 1.0 } }] }
    "#;
    let document: Document = toml::from_str(text).unwrap();
    let told = growth(&shop(1), &names(["mortiser"]), &document.future).unwrap();
    assert!(told.after.machine("drum sander").unwrap().open);
    let again: Document = toml::from_str(&toml::to_string(&document).unwrap()).unwrap();
    assert_eq!(again, document);
    assert!(serde_json::to_string(&told).is_ok());
    assert!(toml::from_str::<Document>(&text.replace("branch", "brunch")).is_err());
}
