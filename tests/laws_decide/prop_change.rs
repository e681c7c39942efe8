//! Changes: each does what it says, their order does not matter, and what cannot be is told.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    reason = "a test that cannot go on must stop"
)]

use crate::common::random::{Junctions, Recipe, Rng};
use airsplit::*;

fn round(mm: f64) -> Bore {
    Bore::Round(Length::from_mm(mm))
}

fn metres(m: f64) -> Length {
    Length::from_m(m)
}

fn rated(pa: f64) -> RatedDrop {
    RatedDrop {
        drop: Pressure::from_pa(pa),
        at: VolumeFlow::from_m3_h(1500.0),
    }
}

fn fan(ratio: f64) -> FanCurve {
    let points = [
        (0.0, 2500.0),
        (800.0, 2300.0),
        (1500.0, 1700.0),
        (2300.0, 300.0),
    ];
    let points = points.map(|(q, p)| (VolumeFlow::from_m3_h(q), Pressure::from_pa(p)));
    let fan = FanCurve::new(
        points,
        Basis::Static,
        Fitted::NOTHING,
        Density::STANDARD_AIR,
    );
    fan.unwrap().at_speed_ratio(ratio).unwrap()
}

fn hose(length: f64, kind: HoseKind) -> Part {
    Part::Hose(Hose {
        length: metres(length),
        kind,
        bend: None,
    })
}

fn mitre() -> Part {
    Part::Elbow(Elbow::Mitre {
        angle: Angle::from_deg(90.0),
    })
}

/// Three drops on a main; a short wider piece of duct between the main and the collector. Every
/// junction has fixed coefficients: less loss anywhere then means more air there and in all, and
/// no more anywhere else.
fn shop(rng: &mut Rng) -> System {
    let filter = Filter::Cycle {
        clean: Box::new(Filter::Rated(rated(100.0))),
        due: Box::new(Filter::Rated(rated(500.0))),
        now: FilterState::Due,
    };
    let run = Run::new(round(200.0), Wall::Galvanised)
        .with_part(Part::Separator(Separator::VelocityHeads(6.0)))
        .with_part(Part::Filter(filter));
    let galvanised = |name: &str, mm| Section::new(name, round(mm), Wall::Galvanised);
    let mut system = System::new(Air::standard(), Collector::new(fan(1.0)).with_before(run))
        .with_junction(Junction::FixedK)
        .with_section(galvanised("neck", 200.0).with_part(Part::Duct(metres(1.0))))
        .with_section(
            galvanised("main", rng.between(120.0, 150.0))
                .draining_into("neck")
                .with_part(Part::Duct(metres(rng.between(1.0, 5.0))))
                .with_part(mitre())
                .with_part(Part::Duct(metres(rng.between(1.0, 5.0)))),
        );
    for i in 0..3 {
        let kind = match i {
            0 => HoseKind::RIBBED,
            _ => HoseKind::Wire { compression: 0.1 },
        };
        let drop = galvanised(&format!("drop {i}"), rng.between(80.0, 120.0))
            .draining_into("main")
            .joining_with_k(rng.between(0.2, 1.0))
            .with_part(hose(rng.between(0.5, 3.0), kind))
            .with_part(Part::Gate(Gate {
                opening: 0.9,
                leak_area: None,
            }))
            .with_part(mitre())
            .with_part(Part::Duct(metres(rng.between(1.0, 5.0))))
            .with_hood(Hood::new(
                format!("hood {i}"),
                Entry::K(rng.between(0.5, 2.0)),
            ));
        system = system.with_section(drop);
    }
    system
}

/// Total flow, and that of each hood in m3/s.
fn flows(system: &System) -> (f64, Vec<(Name, f64)>) {
    let network = Network::new(system).unwrap();
    let point = network.operating_point(&network.open_all()).unwrap();
    let hoods = point.hoods.iter();
    let hoods = hoods.map(|hood| (hood.name.clone(), hood.flow.as_m3_s()));
    (point.flow.as_m3_s(), hoods.collect())
}

/// Where a change lessens the loss.
#[derive(Clone, Copy, PartialEq)]
enum Eases {
    /// On the way of all air.
    All,
    /// On the way of hood 1 only.
    Hood1,
}

/// Changes that ease the way of the air, and the change back or to something worse.
fn easing(rng: &mut Rng) -> Vec<(Eases, Change, Change)> {
    let drop = || Name::from("drop 1");
    let main = || Name::from("main");
    let pair = |make: &dyn Fn(f64) -> Change, better, worse| (make(better), make(worse));
    let r = rng.between(0.1, 0.9);
    let all: Vec<(Eases, (Change, Change))> = vec![
        (
            Eases::Hood1,
            pair(
                &|mm| Change::Size {
                    section: drop(),
                    to: round(mm),
                },
                125.0 + 10.0 * r,
                75.0 - 10.0 * r,
            ),
        ),
        (
            Eases::All,
            pair(
                &|mm| Change::Size {
                    section: main(),
                    to: round(mm),
                },
                151.0 + 49.0 * r,
                119.0 - 20.0 * r,
            ),
        ),
        (
            Eases::All,
            pair(
                &|mm| Change::Wall {
                    section: main(),
                    to: Wall::Roughness(Length::from_mm(mm)),
                },
                0.08 * r,
                1.0,
            ),
        ),
        (
            Eases::Hood1,
            pair(
                &|m| Change::Duct {
                    section: drop(),
                    to: metres(m),
                },
                r,
                5.0 + r,
            ),
        ),
        (
            Eases::All,
            pair(
                &|m| Change::Duct {
                    section: main(),
                    to: metres(m),
                },
                2.0 * r,
                10.0 + r,
            ),
        ),
        (
            Eases::Hood1,
            pair(
                &|m| Change::Hose {
                    section: drop(),
                    to: metres(m),
                },
                0.5 * r,
                3.0 + r,
            ),
        ),
        (
            Eases::Hood1,
            pair(
                &|compression| Change::Slack {
                    section: drop(),
                    compression,
                },
                0.1 * r,
                0.1 + 0.2 * r,
            ),
        ),
        (
            Eases::Hood1,
            (
                Change::HoseToDuct {
                    section: drop(),
                    elbow: None,
                },
                Change::HoseKind {
                    section: drop(),
                    to: HoseKind::Wire {
                        compression: 0.1 + 0.3 * r,
                    },
                },
            ),
        ),
        (
            Eases::Hood1,
            (
                Change::Elbows {
                    section: drop(),
                    to: ElbowKind::Gored {
                        pieces: 5,
                        r_over_d: 1.0 + r,
                    },
                },
                Change::Elbows {
                    section: drop(),
                    to: ElbowKind::K(1.5 + r),
                },
            ),
        ),
        (
            Eases::Hood1,
            pair(
                &|opening| Change::Gate {
                    section: drop(),
                    opening,
                },
                1.0,
                0.8 * r + 0.05,
            ),
        ),
        (
            Eases::Hood1,
            pair(
                &|k| Change::JoinK {
                    section: drop(),
                    to: k,
                },
                0.2 * r,
                1.0 + r,
            ),
        ),
        (
            Eases::Hood1,
            pair(
                &|k| Change::Entry {
                    hood: "hood 1".into(),
                    to: Entry::K(k),
                },
                0.5 * r,
                2.0 + r,
            ),
        ),
        (
            Eases::All,
            (
                Change::FilterState {
                    section: None,
                    to: FilterState::Clean,
                },
                Change::Filter {
                    section: None,
                    to: Filter::Rated(rated(501.0 + r)),
                },
            ),
        ),
        (
            Eases::All,
            pair(
                &|heads| Change::Separator {
                    section: None,
                    to: Separator::VelocityHeads(heads),
                },
                6.0 * r,
                6.0 + r,
            ),
        ),
        (
            Eases::All,
            pair(&|ratio| Change::FanSpeed { ratio }, 1.0 + r, 1.0 - 0.5 * r),
        ),
        (
            Eases::All,
            (
                Change::Transition {
                    section: "neck".into(),
                    to: Transition::Cone {
                        angle: Angle::from_deg(6.0 + 10.0 * r),
                    },
                },
                Change::Transition {
                    section: "neck".into(),
                    to: Transition::K(50.0),
                },
            ),
        ),
    ];
    all.into_iter()
        .map(|(eases, (better, worse))| (eases, better, worse))
        .collect()
}

#[test]
fn prop_each_change_moves_the_air_the_right_way() {
    for seed in 0..40 {
        let mut rng = Rng(seed);
        let system = shop(&mut rng);
        let before = flows(&system);
        let untouched = system.clone();
        for (eases, better, worse) in easing(&mut rng) {
            for (change, sign) in [(better, 1.0), (worse, -1.0)] {
                let after = flows(&system.with(std::slice::from_ref(&change)).unwrap());
                // More than the solver's rounding.
                let more = |after: f64, before: f64| sign * (after - before) > 1e-9 * before;
                assert!(more(after.0, before.0), "seed {seed}, total: {change:?}");
                for (hood, (name, flow)) in after.1.iter().enumerate() {
                    let (_, was) = before.1[hood];
                    if eases == Eases::All || hood == 1 {
                        assert!(more(*flow, was), "seed {seed}, {name}: {change:?}");
                    } else {
                        assert!(!more(*flow, was), "seed {seed}, {name}: {change:?}");
                    }
                }
            }
        }
        assert_eq!(system, untouched);
    }
}

#[test]
fn prop_sections_come_and_go() {
    let system = shop(&mut Rng(1));
    let (total, _) = flows(&system);
    let remove = Change::RemoveSection {
        section: "drop 2".into(),
    };
    let without = system.with(&[remove]).unwrap();
    assert_eq!(without.sections.len(), system.sections.len() - 1);
    assert!(flows(&without).0 < total);
    let last = system.sections.last().unwrap().clone();
    let add = Change::AddSection(Box::new(last.clone()));
    assert_eq!(without.with(&[add]).unwrap(), system);
    // In place of itself.
    let same = Change::ReplaceSection(Box::new(last));
    assert_eq!(system.with(&[same]).unwrap(), system);
    let same = Change::Collector(Box::new(system.collector.clone()));
    assert_eq!(system.with(&[same]).unwrap(), system);
    let mut collector = system.collector.clone();
    collector.fan = Some(fan(1.2));
    let faster = system.with(&[Change::Collector(Box::new(collector))]);
    let turned = system.with(&[Change::FanSpeed { ratio: 1.2 }]);
    assert_eq!(faster.unwrap(), turned.unwrap());
}

/// Tighter duct: the hoods get more, and the fan less.
#[test]
fn prop_a_leaky_main_starves_the_hoods() {
    let system = shop(&mut Rng(2));
    let leaky = Change::Tightness {
        section: "main".into(),
        to: Tightness::Atc5,
    };
    let (before, after) = (flows(&system), flows(&system.with(&[leaky]).unwrap()));
    assert!(after.0 > before.0);
    for ((_, after), (_, before)) in after.1.iter().zip(&before.1) {
        assert!(after < before);
    }
}

#[test]
fn prop_pieces_keep_their_share_and_elbows_their_angle() {
    let mut system = shop(&mut Rng(3));
    let main = &mut system.sections[1].parts;
    *main = vec![
        Part::Duct(metres(1.0)),
        Part::Elbow(Elbow::Mitre {
            angle: Angle::from_deg(30.0),
        }),
        Part::Elbow(Elbow::Stamped {
            r_over_d: 1.0,
            angle: Angle::from_deg(60.0),
        }),
        Part::Duct(metres(3.0)),
    ];
    let section = || Name::from("main");
    let changes = [
        Change::Duct {
            section: section(),
            to: metres(8.0),
        },
        Change::Elbows {
            section: section(),
            to: ElbowKind::Smooth { r_over_d: 2.0 },
        },
        Change::JoinAngle {
            section: "drop 0".into(),
            to: Angle::from_deg(30.0),
        },
    ];
    let changed = system.with(&changes).unwrap();
    let smooth = |deg| {
        Part::Elbow(Elbow::Smooth {
            r_over_d: 2.0,
            angle: Angle::from_deg(deg),
        })
    };
    assert_eq!(
        changed.sections[1].parts,
        [
            Part::Duct(metres(2.0)),
            smooth(30.0),
            smooth(60.0),
            Part::Duct(metres(6.0))
        ]
    );
    let join = Join {
        angle: Some(Angle::from_deg(30.0)),
        ..system.sections[2].join
    };
    assert_eq!(changed.sections[2].join, join);

    // A bent hose becomes duct and an elbow, and is not taken for an elbow that stood there.
    let bend = HoseBend {
        angle: Angle::from_deg(90.0),
        r_over_d: 1.5,
    };
    system.sections[2].parts = vec![
        Part::Hose(Hose {
            length: metres(2.0),
            kind: HoseKind::RIBBED,
            bend: Some(bend),
        }),
        mitre(),
    ];
    let section = || Name::from("drop 0");
    let changes = [
        Change::HoseToDuct {
            section: section(),
            elbow: Some(ElbowKind::Mitre),
        },
        Change::Elbows {
            section: section(),
            to: ElbowKind::K(0.2),
        },
    ];
    let changed = system.with(&changes).unwrap();
    assert_eq!(
        changed.sections[2].parts,
        [Part::Duct(metres(2.0)), mitre(), Part::Elbow(Elbow::K(0.2))]
    );
}

#[test]
fn prop_the_order_of_changes_does_not_matter() {
    for seed in 0..40 {
        let mut rng = Rng(seed);
        let system = shop(&mut rng);
        assert_eq!(system.with(&[]).unwrap(), system);
        let mut changes: Vec<Change> = easing(&mut rng)
            .into_iter()
            .map(|(_, better, _)| better)
            // Rigid duct has neither length nor slack of hose.
            .filter(|change| !matches!(change, Change::HoseToDuct { .. }))
            .collect();
        for name in ["zz", "aa"] {
            let mut more = system.sections[4].clone();
            more.id = name.into();
            more.start = Start::Capped;
            changes.push(Change::AddSection(Box::new(more)));
        }
        let expected = system.with(&changes).unwrap();
        for _ in 0..5 {
            rng.shuffle(&mut changes);
            assert_eq!(system.with(&changes).unwrap(), expected, "seed {seed}");
        }
        // One after another it is the same, since none of them sees another.
        let one_by_one = changes.iter().fold(system.clone(), |system, change| {
            system.with(std::slice::from_ref(change)).unwrap()
        });
        let mut sections = [one_by_one, expected].map(|system| system.sections);
        for sections in &mut sections {
            sections.sort_by(|a, b| a.id.cmp(&b.id));
        }
        assert_eq!(sections[0], sections[1], "seed {seed}");
    }
}

#[test]
fn prop_no_change_is_identity_on_any_system() {
    for seed in 0..200 {
        let recipe = Recipe {
            hoods: 1 + seed as usize % 20,
            seed,
            junctions: Junctions::Mixed,
        };
        let system = recipe.system();
        assert_eq!(system.with(&[]).unwrap(), system);
    }
}

/// What a list of changes is told, and that the system stays as it was.
fn refused(system: &System, changes: &[Change]) -> String {
    let before = format!("{system:?}");
    let error = system.with(changes).unwrap_err();
    assert_eq!(format!("{system:?}"), before);
    error.to_string()
}

#[test]
fn what_is_not_there_is_told() {
    let system = shop(&mut Rng(4));
    let one = |change: Change| refused(&system, &[change]);
    let section = |name: &str| Name::from(name);
    let to = round(200.0);
    assert_eq!(
        one(Change::Size {
            section: section("mian"),
            to
        }),
        "change 1: no section is called \"mian\"; known, nearest first: \"main\", \"neck\", \"drop 0\", \"drop 1\", \"drop 2\""
    );
    assert_eq!(
        one(Change::Entry {
            hood: section("hod 1"),
            to: Entry::Plain
        }),
        "change 1: no hood is called \"hod 1\"; known, nearest first: \"hood 1\", \"hood 0\", \"hood 2\""
    );
    let nothing: Vec<(Change, &str)> = vec![
        (
            Change::Hose {
                section: section("main"),
                to: metres(1.0),
            },
            "change 1 (length of hose of section \"main\"): there is no hose there; leave the change out, or name another place",
        ),
        (
            Change::Slack {
                section: section("drop 0"),
                compression: 0.1,
            },
            "change 1 (slack of hose of section \"drop 0\"): there is no wire hose (no other kind has a slack) there; leave the change out, or name another place",
        ),
        (
            Change::HoseToDuct {
                section: section("main"),
                elbow: None,
            },
            "change 1 (hose to duct of section \"main\"): there is no hose there; leave the change out, or name another place",
        ),
        (
            Change::Elbows {
                section: section("neck"),
                to: ElbowKind::Mitre,
            },
            "change 1 (elbows of section \"neck\"): there is no elbow there; leave the change out, or name another place",
        ),
        (
            Change::Gate {
                section: section("main"),
                opening: 1.0,
            },
            "change 1 (gate of section \"main\"): there is no gate there; leave the change out, or name another place",
        ),
        (
            Change::FilterState {
                section: Some(section("main")),
                to: FilterState::Clean,
            },
            "change 1 (state of filter of section \"main\"): there is no filter that knows two states there; leave the change out, or name another place",
        ),
        (
            Change::Separator {
                section: Some(section("main")),
                to: Separator::VelocityHeads(1.0),
            },
            "change 1 (separator of section \"main\"): there is no separator there; leave the change out, or name another place",
        ),
    ];
    for (change, told) in nothing {
        assert_eq!(one(change), told);
    }
    let mut system = system.clone();
    system.collector.fan = None;
    system.sections[1].parts = vec![Part::Elbow(Elbow::K(0.4))];
    let bend = HoseBend {
        angle: Angle::from_deg(45.0),
        r_over_d: 1.0,
    };
    system.sections[2].parts = vec![Part::Hose(Hose {
        length: metres(1.0),
        kind: HoseKind::RIBBED,
        bend: Some(bend),
    })];
    let one = |change: Change| refused(&system, &[change]);
    assert_eq!(
        one(Change::FanSpeed { ratio: 1.1 }),
        "change 1 (speed of fan): there is no fan there; leave the change out, or name another place"
    );
    assert_eq!(
        one(Change::Duct {
            section: section("main"),
            to: metres(1.0)
        }),
        "change 1 (length of duct of section \"main\"): there is no straight duct there; leave the change out, or name another place"
    );
    assert_eq!(
        one(Change::Elbows {
            section: section("main"),
            to: ElbowKind::Mitre
        }),
        "change 1 (elbows of section \"main\"): an elbow there is told by its k alone and says no angle; give the new ones by k as well"
    );
    assert_eq!(
        one(Change::HoseToDuct {
            section: section("drop 0"),
            elbow: None
        }),
        "change 1 (hose to duct of section \"drop 0\"): a hose there is bent; say with `elbow` what its bend becomes"
    );
}

#[test]
fn what_conflicts_is_told() {
    let system = shop(&mut Rng(5));
    let size = |section: &str, mm| Change::Size {
        section: section.into(),
        to: round(mm),
    };
    assert_eq!(
        refused(
            &system,
            &[
                size("main", 150.0),
                size("neck", 150.0),
                size("main", 150.0)
            ]
        ),
        "change 1 (size of section \"main\") and change 3 (size of section \"main\") meet: which of them holds? Leave one out"
    );
    let drop = || Name::from("drop 1");
    let whole = Change::ReplaceSection(Box::new(system.sections[3].clone()));
    let rigid = Change::HoseToDuct {
        section: drop(),
        elbow: None,
    };
    let length = Change::Hose {
        section: drop(),
        to: metres(1.0),
    };
    let slack = Change::Slack {
        section: drop(),
        compression: 0.0,
    };
    let kind = Change::HoseKind {
        section: drop(),
        to: HoseKind::RIBBED,
    };
    let entry = Change::Entry {
        hood: "hood 1".into(),
        to: Entry::Plain,
    };
    let remove = Change::RemoveSection { section: drop() };
    let clean = Change::FilterState {
        section: None,
        to: FilterState::Clean,
    };
    let filter = Change::Filter {
        section: None,
        to: Filter::Rated(rated(1.0)),
    };
    let fan = Change::FanSpeed { ratio: 1.1 };
    let collector = Change::Collector(Box::new(system.collector.clone()));
    for (one, other) in [
        (&rigid, &length),
        (&rigid, &kind),
        (&slack, &kind),
        (&whole, &length),
        (&whole, &entry),
        (&whole, &remove),
        (&entry, &remove),
        (&clean, &filter),
        (&fan, &collector),
        (&clean, &collector),
    ] {
        for pair in [[one.clone(), other.clone()], [other.clone(), one.clone()]] {
            match system.with(&pair).unwrap_err() {
                ChangeError::Conflict { first, second } => {
                    assert_eq!((first.index, second.index), (0, 1));
                }
                other => panic!("{other}"),
            }
        }
    }
    system.with(&[length, slack, entry, clean, fan]).unwrap();
}

#[test]
fn what_leaves_a_faulty_model_is_told() {
    let system = shop(&mut Rng(6));
    let one = |change: Change| refused(&system, &[change]);
    let main = || Name::from("main");
    for bad in [f64::NAN, f64::INFINITY, -1.0] {
        for change in [
            Change::Size {
                section: main(),
                to: round(bad),
            },
            Change::Duct {
                section: main(),
                to: metres(bad),
            },
            Change::Gate {
                section: "drop 1".into(),
                opening: bad,
            },
            Change::Slack {
                section: "drop 1".into(),
                compression: bad,
            },
            Change::JoinK {
                section: "drop 1".into(),
                to: 1e3 * bad,
            },
            Change::Elbows {
                section: main(),
                to: ElbowKind::K(bad),
            },
        ] {
            let told = one(change.clone());
            assert!(
                told.starts_with("the changed system: "),
                "{change:?}: {told}"
            );
        }
        let told = one(Change::FanSpeed { ratio: bad });
        assert!(told.starts_with("change 1 (speed of fan): "), "{told}");
    }
    let told = one(Change::RemoveSection { section: main() });
    // All at once: the drops have nowhere to go, and nothing enters the neck.
    assert!(
        told.starts_with("the changed system: 4 faults in the model\n"),
        "{told}"
    );
    assert!(told.contains("no section is called \"main\""), "{told}");
    let twice = Change::AddSection(Box::new(system.sections[2].clone()));
    assert!(one(twice).contains("more than one section is called \"drop 0\""));
    let mut faulty = system.clone();
    faulty.sections[0].size = round(-1.0);
    let error = faulty.with(&[]).unwrap_err();
    assert!(matches!(error, ChangeError::Model(_)), "{error}");
    assert!(Error::from(error).is_input());
}

#[cfg(feature = "serde")]
mod documents {
    use super::*;

    #[derive(Debug, PartialEq, serde::Serialize, serde::Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Plan {
        changes: Vec<Change>,
    }

    fn every_kind() -> Vec<Change> {
        let system = shop(&mut Rng(7));
        let pairs = easing(&mut Rng(7)).into_iter();
        let mut all: Vec<Change> = pairs.flat_map(|(_, a, b)| [a, b]).collect();
        all.extend([
            Change::Tightness {
                section: "main".into(),
                to: Tightness::Atc5,
            },
            Change::JoinAngle {
                section: "main".into(),
                to: Angle::from_deg(30.0),
            },
            Change::Filter {
                section: Some("main".into()),
                to: Filter::Rated(rated(1.0)),
            },
            Change::HoseToDuct {
                section: "drop 0".into(),
                elbow: Some(ElbowKind::Mitre),
            },
            Change::Collector(Box::new(system.collector.clone())),
            Change::AddSection(Box::new(system.sections[3].clone())),
            Change::ReplaceSection(Box::new(system.sections[1].clone())),
            Change::RemoveSection {
                section: "main".into(),
            },
        ]);
        all
    }

    #[test]
    fn prop_what_is_written_is_read() {
        let plan = Plan {
            changes: every_kind(),
        };
        let toml = toml::to_string(&plan).unwrap();
        assert_eq!(toml::from_str::<Plan>(&toml).unwrap(), plan);
        let json = serde_json::to_value(&plan).unwrap();
        assert_eq!(serde_json::from_value::<Plan>(json).unwrap(), plan);
        // A misspelt key is no silent default.
        for change in every_kind() {
            let mut json = serde_json::to_value(&change).unwrap();
            let kind = json.as_object_mut().unwrap().values_mut().next().unwrap();
            let fields = kind.as_object_mut().unwrap();
            fields.insert("no such key".into(), 1.into());
            assert!(
                serde_json::from_value::<Change>(json).is_err(),
                "{change:?}"
            );
        }
    }

    #[test]
    fn bad_documents_are_told() {
        let told = |text: &str| toml::from_str::<Plan>(text).unwrap_err().to_string();
        let unknown = told(r#"changes = [{ sise = { section = "main" } }]"#);
        assert!(
            unknown.contains("unknown variant `sise`, expected one of `size`"),
            "{unknown}"
        );
        let unit = told(r#"changes = [{ duct = { section = "main", to = "3" } }]"#);
        assert!(unit.contains("a number needs a unit"), "{unit}");
        let missing = told(r#"changes = [{ gate = { section = "main" } }]"#);
        assert!(missing.contains("missing field `opening`"), "{missing}");
        // A section by itself knows no wall of the document.
        let wall = told(
            r#"changes = [{ add_section = { id = "new", size = { round = "4 in" }, capped = true } }]"#,
        );
        assert!(wall.contains("section \"new\": wall is missing"), "{wall}");
        let mut section = Section::new("new", round(100.0), Wall::Galvanised);
        section.join.extra_k = f64::NAN;
        let written = serde_json::to_string(&Change::AddSection(Box::new(section)));
        assert_eq!(
            written.unwrap_err().to_string(),
            "join of section \"new\": a coefficient of the join is no number"
        );
    }
}
