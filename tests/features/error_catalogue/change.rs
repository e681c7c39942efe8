//! Changes of a system.

use super::*;

pub(crate) fn errors() -> Told {
    let mut told = Told::default();
    let change = |changes: &[Change]| shop().with(changes);
    let section = |name: &str| Name::from(name);
    let size = |name, mm| Change::Size {
        section: section(name),
        to: round_mm(mm),
    };
    told.refused(change(&[size("mian", 180.0)]));
    told.refused(change(&[Change::Hose {
        section: section("main"),
        to: mm(500.0),
    }]));
    let mut by_k = shop();
    by_k.sections[0].parts.push(Part::Elbow(Elbow::K(0.3)));
    told.refused(by_k.with(&[Change::Elbows {
        section: section("main"),
        to: ElbowKind::Smooth { r_over_d: 1.5 },
    }]));
    let mut bent = shop();
    bent.sections[2].parts.push(Part::Hose(Hose {
        length: mm(1000.0),
        kind: HoseKind::Wire { compression: 0.1 },
        bend: Some(HoseBend {
            angle: Angle::from_deg(90.0),
            r_over_d: 2.0,
        }),
    }));
    told.refused(bent.with(&[Change::HoseToDuct {
        section: section("saw drop"),
        elbow: None,
    }]));
    told.refused(change(&[Change::FanSpeed { ratio: -1.0 }]));
    told.refused(change(&[size("main", 180.0), size("main", 200.0)]));
    told.refused(change(&[size("main", 0.0)]));
    told
}

#[test]
fn texts() {
    insta::assert_snapshot!(errors().table(), @r##"
    ChangeError::Unknown: change 1: no section is called "mian"; known, nearest first: "main", "saw drop", "planer drop"
    ChangeError::Nothing: change 1 (length of hose of section "main"): there is no hose there; leave the change out, or name another place
    ChangeError::NoAngle: change 1 (elbows of section "main"): an elbow there is told by its k alone and says no angle; give the new ones by k as well
    ChangeError::NoElbow: change 1 (hose to duct of section "saw drop"): a hose there is bent; say with `elbow` what its bend becomes
    ChangeError::Fan: change 1 (speed of fan): the speed ratio is -1 (new over old); it must be a finite number above zero
    ChangeError::Conflict: change 1 (size of section "main") and change 2 (size of section "main") meet: which of them holds? Leave one out
    ChangeError::Model: the changed system: section "main": diameter is 0 mm; allowed: 1 mm to 20000 mm
    "##);
}
