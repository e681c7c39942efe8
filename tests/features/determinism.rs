//! Same question, same bits: in one process and in another, in one thread and in many, with any
//! features.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::print_stdout,
    reason = "a test that cannot go on must stop; a child process tells its parent"
)]

use crate::common::{
    random::{Recipe, Rng},
    three_hoods,
};
use airsplit::{
    Change, Length, Money, Name, Network, OperatingPoint, OutlierTreatment, Output, SweepOptions,
    Unknown, Upgrade, Velocity, calibrate, possible_readings, rank_upgrades,
};
use std::{process::Command, thread};

const NUMBER: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/data/answers.fnv");
const RENEW: &str = "RENEW_ANSWERS=1 cargo test --test features determinism::regress_";

/// FNV-1a over the bits of numbers (constants from memory; any good mixing would do).
struct Bits(u64);

impl Bits {
    fn new() -> Self {
        Self(0xcbf2_9ce4_8422_2325)
    }

    fn add(&mut self, number: f64) {
        for byte in number.to_bits().to_le_bytes() {
            self.0 = (self.0 ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3);
        }
    }

    fn add_all(&mut self, numbers: impl IntoIterator<Item = f64>) {
        for number in numbers {
            self.add(number);
        }
    }

    fn add_point(&mut self, point: &OperatingPoint) {
        self.add(point.flow.as_m3_s());
        for hood in &point.hoods {
            self.add(hood.flow.as_m3_s());
            self.add(hood.static_pressure.as_pa());
        }
        self.add_all(point.sections.iter().map(|one| one.velocity.as_m_s()));
    }
}

/// Random trees with some of their hoods open: points and gradients.
fn trees(bits: &mut Bits) {
    for seed in 0..60 {
        let recipe = Recipe::of(seed);
        let system = recipe.system();
        let network = Network::new(&system).unwrap();
        let open = network.open(recipe.open(&system)).unwrap();
        let Ok(point) = network.operating_point(&open) else {
            bits.add(f64::NAN);
            continue;
        };
        bits.add_point(&point);
        let gradient = network.gradient(&open, &Output::TotalFlow).unwrap();
        let slopes = gradient.sensitivities.iter();
        bits.add_all(slopes.map(|one| one.derivative));
    }
}

/// Every open set of small trees, on every core where the feature is there.
fn sweeps(bits: &mut Bits) {
    for seed in 100..110 {
        let recipe = Recipe {
            hoods: 7,
            ..Recipe::of(seed)
        };
        let network = Network::new(&recipe.system()).unwrap();
        let sweep = network.sweep(network.open_sets().unwrap());
        let options = SweepOptions::new(Velocity::from_m_s(15.0));
        #[cfg(feature = "rayon")]
        let summary = sweep.par_summary(&options).unwrap();
        #[cfg(not(feature = "rayon"))]
        let summary = sweep.summary(&options).unwrap();
        for range in summary.hoods.iter().filter_map(|one| one.flow.as_ref()) {
            bits.add(range.least.value.as_m3_s());
            bits.add(range.most.value.as_m3_s());
        }
    }
}

/// A calibration from noisy readings.
fn calibration(bits: &mut Bits) {
    let system = three_hoods::system();
    let sets = [
        vec!["hood1", "hood2", "hood3"],
        vec!["hood1"],
        vec!["hood3"],
    ];
    let sets = sets.map(|set| set.into_iter().map(Name::from).collect::<Vec<_>>());
    let mut readings = possible_readings(&system, &sets, 0.03, 0.02).unwrap();
    let mut rng = Rng(1);
    for reading in &mut readings {
        reading.value += rng.between(-1.5, 1.5) * reading.standard;
    }
    let unknowns = Unknown::all_usual(&system).unwrap();
    let fitted = calibrate(&system, &readings, &unknowns, OutlierTreatment::All).unwrap();
    for estimate in &fitted.estimates {
        bits.add_all([
            estimate.value,
            estimate.standard,
            estimate.low,
            estimate.high,
        ]);
    }
}

fn upgrades(bits: &mut Bits) {
    let system = three_hoods::system().with_machine("saw", airsplit::VolumeFlow::from_m3_s(0.2));
    let system = {
        let mut served = system;
        for section in &mut served.sections {
            if let airsplit::Start::Hood(hood) = &mut section.start {
                hood.required = Some(airsplit::VolumeFlow::from_m3_s(0.15));
                if hood.id.as_str() == "hood1" {
                    hood.machine = Some("saw".into());
                    hood.required = None;
                }
            }
        }
        served
    };
    let upgrade = |name: &str, cost, change| Upgrade {
        name: name.into(),
        cost: Money::new(cost),
        changes: vec![change],
    };
    let size = |section: &str, mm| Change::Size {
        section: section.into(),
        to: airsplit::Bore::Round(Length::from_mm(mm)),
    };
    let list = [
        upgrade("faster fan", 300.0, Change::FanSpeed { ratio: 1.05 }),
        upgrade("wider drop", 80.0, size("leaf1", 125.0)),
        upgrade("wider main", 200.0, size("main2", 180.0)),
    ];
    let all = [vec!["hood1".into(), "hood2".into(), "hood3".into()]];
    let ranking = rank_upgrades(&system, &list, &all).unwrap();
    for worth in &ranking.worths {
        bits.add_all([worth.alone, worth.last, worth.average]);
    }
    bits.add_all(ranking.best.iter().map(|one| one.worst_margin));
}

/// The number that stands for all of these answers.
fn number() -> u64 {
    let mut bits = Bits::new();
    trees(&mut bits);
    sweeps(&mut bits);
    calibration(&mut bits);
    upgrades(&mut bits);
    bits.0
}

#[test]
fn one_bit_changes_the_number() {
    let of = |number: f64| {
        let mut bits = Bits::new();
        bits.add_all([0.5, number]);
        bits.0
    };
    assert_ne!(of(1.0), of(f64::from_bits(1.0_f64.to_bits() + 1)));
    assert_ne!(of(0.0), of(-0.0));
}

#[test]
fn prop_threads_and_repetitions_agree() {
    let first = number();
    let others: Vec<u64> = thread::scope(|scope| {
        let running: Vec<_> = (0..4).map(|_| scope.spawn(number)).collect();
        let ended = running.into_iter().map(|one| one.join());
        ended.map(Result::unwrap).collect()
    });
    assert_eq!(others, [first; 4]);
}

/// What the other process runs; its parent reads the line.
#[test]
fn tell_the_number() {
    println!("number: {:016x}", number());
}

#[test]
fn prop_processes_agree() {
    let child = Command::new(std::env::current_exe().unwrap())
        .args(["--exact", "determinism::tell_the_number", "--nocapture"])
        .output()
        .unwrap();
    let told = String::from_utf8_lossy(&child.stdout);
    let told = told.split("number: ").nth(1).unwrap();
    assert_eq!(&told[..16], format!("{:016x}", number()));
}

/// Pins the bits on one platform, so that a change of the numerics shows, and that all feature
/// sets give the same: `ln`, `exp` and `powf` come from the platform's mathematical library, and
/// others may round differently.
#[cfg(all(target_arch = "x86_64", target_os = "linux"))]
#[test]
fn regress_the_bits_are_the_committed_ones() {
    let now = format!("{:016x}\n", number());
    if std::env::var_os("RENEW_ANSWERS").is_some() {
        std::fs::write(NUMBER, &now).unwrap();
    }
    let committed = std::fs::read_to_string(NUMBER).unwrap_or_default();
    assert_eq!(
        committed, now,
        "the bits of the answers changed; if that is meant, renew the number and commit it: {RENEW}"
    );
}
