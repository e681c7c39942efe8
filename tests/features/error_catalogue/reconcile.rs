//! Flows read in several sections, and surveys before and after a change.

use super::*;

fn at(section: &str, flow: f64) -> FlowAt {
    FlowAt::new(section, m3_h(flow), m3_h(30.0))
}

fn readings(list: Vec<FlowAt>) -> FlowReadings {
    FlowReadings::new(list, ["planer", "saw cabinet"])
}

fn usual() -> Vec<FlowAt> {
    vec![
        at("main", 1500.0),
        at("planer drop", 850.0),
        at("saw drop", 640.0),
    ]
}

fn reconcile_errors(told: &mut Told) {
    let reconcile = |list| readings(list).reconcile(&shop());
    told.refused(readings(usual()).reconcile(&spoilt_shop()));
    told.refused(FlowReadings::new(usual(), ["planner"]).reconcile(&shop()));
    told.refused(reconcile(Vec::new()));
    told.refused(reconcile(vec![at("main", 1500.0); FlowReadings::MOST + 1]));
    told.refused(reconcile(vec![at("mian", 1500.0)]));
    told.refused(reconcile(vec![at("main", 1500.0).by("vane")]));
    told.refused(reconcile(vec![at("main", -1500.0)]));
    told.refused(reconcile(vec![FlowAt::new(
        "main",
        m3_h(1500.0),
        m3_h(0.0),
    )]));
    let planer_only = FlowReadings::new(vec![at("saw drop", 640.0)], ["planer"]);
    told.refused(planer_only.with_shut(ShutHoods::Tight).reconcile(&shop()));
    told.refused(
        readings(usual())
            .with_shared("vane", 0.9)
            .reconcile(&shop()),
    );
    let shared = readings(usual())
        .with_shared("vane", 0.05)
        .with_shared("vane", 0.02);
    told.refused(shared.reconcile(&shop()));
    let coarse = FlowAt::new("main", m3_h(1500.0), VolumeFlow::from_m3_s(100.0));
    let fine = FlowAt::new("saw drop", m3_h(640.0), VolumeFlow::from_m3_s(1e-6));
    told.refused(reconcile(vec![coarse, fine]));
    let leak = |list, upstream: &[Name], downstream: &str| {
        readings(list).leak_between(&shop(), upstream, &downstream.into())
    };
    let drops = names(["planer drop", "saw drop"]);
    told.refused(leak(usual(), &drops, "mian"));
    told.refused(leak(vec![at("main", 1500.0)], &drops, "main"));
    told.refused(leak(usual(), &names(["main"]), "saw drop"));
    let twice = names(["saw drop", "saw drop", "planer drop"]);
    told.refused(leak(usual(), &twice, "main"));
    told.refused(leak(usual(), &names(["saw drop"]), "main"));
}

fn before_after_errors(told: &mut Told) {
    let surveys = || BeforeAfter::new(usual(), usual());
    told.refused(BeforeAfter::new(vec![at("main", -1.0)], usual()).compare());
    told.refused(BeforeAfter::new(vec![at("main", 0.0)], vec![at("main", 9.0)]).compare());
    told.refused(surveys().with_predicted("mian", 10.0, 2.0).compare());
    let twice = surveys()
        .with_predicted("main", 10.0, 2.0)
        .with_predicted("main", 12.0, 2.0);
    told.refused(twice.compare());
    told.refused(surveys().with_predicted("main", -200.0, 2.0).compare());
    told.refused(surveys().with_tolerance_percent(0.0).compare());
}

pub(crate) fn errors() -> Told {
    let mut told = Told::default();
    reconcile_errors(&mut told);
    before_after_errors(&mut told);
    told
}

#[test]
fn texts() {
    insta::assert_snapshot!(errors().table(), @r##"
    ReconcileError::Model: section "main": diameter is 0 mm; allowed: 1 mm to 20000 mm
    ReconcileError::Open: no hood or machine is called "planner"; known, nearest first: "planer", "planer port", "saw cabinet"
    ReconcileError::NoReadings: there is no reading; give one at least
    ReconcileError::TooMany: 501 readings; at most 500 are worked out together: merge those of one section
    ReconcileError::Section: reading 1: no section is called "mian"; known, nearest first: "main", "saw drop", "planer drop"
    ReconcileError::Instrument: reading 1: no instrument is called "vane"; there are none; list it as shared, with 0 if its readings share no error
    ReconcileError::Flow: reading 1, section "main": the flow is -1500 m3/h; allowed: 0 m3/s to 1000 m3/s
    ReconcileError::Standard: reading 1, section "main": the standard uncertainty is 0 L/s; it must be above zero: 1e-9 m3/s to 1000 m3/s
    ReconcileError::BehindShut: reading 1, section "saw drop": no air passes there, hood "saw cabinet" is shut; leave the reading out, or open it
    ReconcileError::Shared: instrument "vane": the shared relative uncertainty is 0.9; allowed: 0 to 0.5
    ReconcileError::SharedTwice: instrument "vane" has two shared uncertainties; give one
    ReconcileError::Uneven: reading 1 is more than 100000 times less certain than reading 2; leave it out, it says nothing beside that
    ReconcileError::Between: no section is called "mian"; known, nearest first: "main", "saw drop", "planer drop"
    ReconcileError::NotRead: no reading stands in section "planer drop"; a leak is told between sections that were read; read it as well
    ReconcileError::NotUpstream: section "main" does not drain through section "saw drop"; name sections upstream of it
    ReconcileError::Twice: section "saw drop" drains through section "saw drop", which is named as well, or it is named twice; its flow would count twice; name one of them
    ReconcileError::Unread: air enters between them at hood "planer port", which no named section counts; name its section among those upstream, after reading it
    BeforeAfterError::Reading: before: reading 1, section "main": the flow is -1 m3/h; allowed: 0 m3/s to 1000 m3/s
    BeforeAfterError::NoFlow: section "main": the flow before is 0 L/s; a change is told in percent of a flow of 1e-9 m3/s or more; leave the section out
    BeforeAfterError::Unread: no section read before and after is called "mian"; known, nearest first: "main", "saw drop", "planer drop"
    BeforeAfterError::Twice: section "main" has two predicted changes; give one
    BeforeAfterError::Predicted: section "main": the predicted change is -200 %; allowed: -100 to 100000 %
    BeforeAfterError::Tolerance: the tolerance is 0 %; allowed: above 0 to 100 %
    "##);
}
