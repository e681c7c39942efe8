//! Faults of a model: by documents, and by systems in code where a document cannot say it.

use super::*;

const SAW_JOIN: &str = "join = { angle = \"45 deg\" }\n";
const SAW_HOOD: &str = "hood = { id = \"saw cabinet\", entry = \"plain\", required = \"400 cfm\" }";

pub(crate) fn errors() -> Told {
    let mut told = Told::default();
    told.model(&refused(|system| system.sections.truncate(0)));
    told.model(&faults_of("id = \"saw drop\"", "id = \" \""));
    told.model(&faults_of("id = \"saw drop\"", "id = \"planer drop\""));
    told.model(&faults_of(
        "id = \"main\"\n",
        "id = \"main\"\ninto = \"mian\"\n",
    ));
    told.model(&refused(|system| {
        system.sections[1].into = Some("saw drop".into());
        system.sections[2].into = Some("planer drop".into());
    }));
    told.model(&faults_of(
        "id = \"main\"\n",
        "id = \"main\"\ncapped = true\n",
    ));
    told.model(&faults_of(SAW_HOOD, ""));
    told.model(&faults_of(
        "id = \"saw drop\"\n",
        "id = \"saw drop\"\ncapped = true\n",
    ));
    told.model(&faults_of("machine = \"planer\" }", "}"));
    told.model(&faults_of("id = \"saw cabinet\"", "id = \"planer\""));
    told.model(&refused(|system| system.sections[2].join.angle = None));
    told.model(&faults_of(
        "format = 1",
        "format = 1\njunction = \"fixed_k\"",
    ));
    told.model(&faults_of(
        "format = 1",
        "format = 1\njunction = \"gardel\"",
    ));
    told.model(&faults_of(
        "id = \"main\"\n",
        "id = \"main\"\njoin = { angle = \"30 deg\" }\n",
    ));
    told.model(&refused(|system| {
        system.sections[2].into = None;
        system.collector.before.clear();
    }));
    told.model(&faults_of("basis = \"static\"", "basis = \"total\""));
    told.model(&refused(|system| {
        let sharp = Part::Transition(Transition::Sharp);
        system.sections[2].parts.push(sharp);
    }));
    // Without any loss, and with a gain.
    for k in [0.0, -0.3] {
        told.model(&refused(|system| {
            system.junction = Junction::FixedK;
            system.sections[1].join.k = Some(0.2);
            system.sections[2] = Section::new("drop", round_mm(100.0), Wall::Steel)
                .draining_into("main")
                .with_hood(Hood::new("port", Entry::K(0.0)))
                .joining_with_k(k);
        }));
    }
    told.model(&faults_of("\"400 cfm\"", "\"-400 cfm\""));
    told.model(&faults_of(
        "opening = 1.0, leak_area",
        "opening = 1.5, leak_area",
    ));
    told.model(&refused(|system| {
        let height = Barometer::Altitude(Length::from_m(20_000.0));
        system.air = Air::moist(height, Temperature::from_celsius(20.0), 0.5);
    }));
    let factor = Setting::new(Place::Fan, Parameter::Factor, -1.0);
    told.model(&shop().with_numbers([&factor]).unwrap_err());
    let no_number = Setting::new(Place::Section("main".into()), Parameter::Angle, 1.0);
    told.model(&shop().with_numbers([&no_number]).unwrap_err());
    told.model(&faults_of(SAW_JOIN, ""));
    told
}

#[test]
fn texts() {
    insta::assert_snapshot!(errors().table(), @r##"
    ModelFault::NoHoods: the system: no section has a hood; give at least one section a hood
    ModelFault::NoHood: machine "planer": no hood serves it; name it as the machine of a hood, or leave it out
    ModelFault::BlankName: section " ": a section needs a name that is not blank
    ModelFault::Duplicate: section "planer drop": more than one section is called "planer drop"; names must differ
    ModelFault::Unknown: section "main": no section is called "mian"; known, nearest first: "main", "saw drop", "planer drop"
    ModelFault::Ring: section "planer drop": drains in a ring that never reaches the collector: "planer drop" -> "saw drop" -> "planer drop"; give one of them another `into`, or none to end at the collector
    ModelFault::NothingEnters: section "main": nothing enters it: give it a hood, cap it, or let other sections drain into it
    ModelFault::Occupied: section "planer drop": starts at a hood, where nothing can enter, yet these drain into it: "saw drop"; put the hood on a section of its own
    ModelFault::Occupied: section "saw drop": starts at a hood, where nothing can enter, yet these drain into it: "planer drop"; put the hood on a section of its own
    ModelFault::NoJunction: join of section "saw drop": no other section joins here; leave out the join, or describe an elbow or transition as a part
    ModelFault::Occupied: section "main": starts at a cap, where nothing can enter, yet these drain into it: "planer drop", "saw drop"; put the cap on a section of its own
    ModelFault::NothingEnters: section "saw drop": nothing enters it: give it a hood, cap it, or let other sections drain into it
    ModelFault::TwoStarts: section "saw drop": it starts in more ways than one; keep one of hood, capped and leak
    ModelFault::NoHood: machine "planer": no hood serves it; name it as the machine of a hood, or leave it out
    ModelFault::AmbiguousName: hood "planer": a machine has the same name but other hoods; an open set could not tell them apart; rename one of the two
    ModelFault::TwoStraight: join of section "planer drop": "planer drop", "saw drop" all join straight; give the angle of all but one
    ModelFault::NoK: join of section "planer drop": the junction has fixed coefficients; give the k of this inlet, on its own velocity pressure
    ModelFault::NoK: join of section "saw drop": the junction has fixed coefficients; give the k of this inlet, on its own velocity pressure
    ModelFault::Shape: section "main": the junction of "planer drop", "saw drop" is not one that its model is made for: area of the straight inlet over that of the outlet, for a wye formula is 0.765625; allowed: 0.999 to 1.001; choose momentum or automatic
    ModelFault::NoJunction: join of section "main": no other section joins here; leave out the join, or describe an elbow or transition as a part
    ModelFault::AdapterSize: collector: "main", "saw drop" enter the collector; give the size of its inlet adapter as the first run before the fan
    ModelFault::OutletSize: fan: the curve is of fan total pressure and nothing follows the fan; give the size of the fan's `outlet`
    ModelFault::TransitionPlace: section "saw drop", part 3: a transition stands only first in a run that one other run enters inline; leave it out: a hood tells its own entry, a junction its own change of size
    ModelFault::Lossless: join of section "drop": hood "port" reaches this fixed-K junction without any loss, so that nothing determines how much the other inlets get; give the hood an entry loss
    ModelFault::NegativeLoss: section "drop": its coefficients, its join's among them, add up to -0.3 velocity pressures: a run must not gain total pressure; raise its k
    ModelFault::RequiredFlow: hood "saw cabinet": the required flow is -400 cfm; allowed: 0 m3/s to 1000 m3/s
    ModelFault::Loss: section "saw drop", part 2: opening of the gate is 1.5; allowed: 0 to 1
    ModelFault::Air: air: altitude is 20000 m; allowed: -500 m to 5000 m
    ModelFault::Fan: fan: the pressure ratio is -1 (new over old); it must be a finite number above zero
    ModelFault::NoNumber: section "main": it has no angle that could be set; `Network::settings` lists what can
    ModelFault::Missing: join of section "saw drop": angle of the join is missing; give it, or say `assume = true` to have it taken as 45 deg
    "##);
}

/// Whoever mends a document wants to hear of all its faults before trying again.
#[test]
fn all_faults_of_a_model_come_in_one_go() {
    let errors = refused(|system| {
        system.air = Air::moist(
            Barometer::Altitude(Length::from_m(250.0)),
            Temperature::from_celsius(20.0),
            50.0,
        );
        system.sections[0].size = round_mm(-160.0);
        system.sections[1].parts.push(Part::K(f64::NAN));
        system.sections[2].into = Some("mian".into());
        system.sections[2].parts.push(Part::Duct(mm(-1.0)));
        system.machines[0].required = m3_h(-1.0);
        system.collector.before[0].parts.push(Part::Silencer(-1.0));
    });
    insta::assert_snapshot!(errors, @r##"
    7 faults in the model
      section "saw drop": no section is called "mian"; known, nearest first: "main", "saw drop", "planer drop"
      machine "planer": the required flow is -1 m3/h; allowed: 0 m3/s to 1000 m3/s
      air: relative humidity (a fraction) is 50; allowed: 0 to 1
      section "main": diameter is -160 mm; allowed: 1 mm to 20000 mm
      section "planer drop", part 4: k is NaN; allowed: 0 to 1000000
      section "saw drop", part 3: length is -0.001 m; allowed: 0 m to 10000 m
      collector, run 1 before the fan, part 3: k is -1; allowed: 0 to 1000000
    "##);
}
