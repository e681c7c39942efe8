//! Every error that a user of the crate can meet, with its text: which element, what was given,
//! what is allowed, what to do.
//!
//! Each area makes its errors by asking wrongly, the way a user would, and pins the texts; the last
//! test holds the variants that were met against the public items of the sources.
#![cfg(feature = "serde")]
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    reason = "a test that cannot go on must stop"
)]

mod basics;
mod change;
mod choose;
mod counts;
mod decide;
mod fan;
mod model;
mod readings;
mod reconcile;
mod shown;
mod solve;
mod survey;
mod told;

use airsplit::*;
use std::collections::BTreeSet;
use told::Told;

const SHOP: &str = include_str!("../../data/documents/shop.toml");

fn shop() -> System {
    toml::from_str::<Study>(SHOP).unwrap().system
}

/// The shop with a main that has no size: a fault of the model.
fn spoilt_shop() -> System {
    let mut system = shop();
    system.sections[0].size = round_mm(0.0);
    system
}

/// The shop's document with one piece of text, which stands there once, put in place of another.
fn faults_of(from: &str, to: &str) -> ModelErrors {
    assert_eq!(SHOP.matches(from).count(), 1, "{from}");
    let draft: Draft = toml::from_str(&SHOP.replace(from, to)).unwrap();
    draft.complete().unwrap_err()
}

/// The faults of the shop after a change in code.
fn refused(spoil: impl FnOnce(&mut System)) -> ModelErrors {
    let mut system = shop();
    spoil(&mut system);
    system.check().unwrap_err()
}

fn names<const N: usize>(names: [&str; N]) -> Vec<Name> {
    names.map(Name::from).to_vec()
}

fn mm(mm: f64) -> Length {
    Length::from_mm(mm)
}

fn round_mm(diameter: f64) -> Bore {
    Bore::Round(mm(diameter))
}

fn m3_h(flow: f64) -> VolumeFlow {
    VolumeFlow::from_m3_h(flow)
}

fn pa(pressure: f64) -> Pressure {
    Pressure::from_pa(pressure)
}

fn all() -> [Told; 12] {
    [
        basics::errors(),
        change::errors(),
        choose::errors(),
        counts::errors(),
        decide::errors(),
        fan::errors(),
        model::errors(),
        readings::errors(),
        reconcile::errors(),
        shown::errors(),
        solve::errors(),
        survey::errors(),
    ]
}

/// Variants that no question on today's public items brings about, each with the reason; their
/// texts are pinned from values made by hand.
const BY_HAND: &[(&str, &str)] = &[
    ("AirError::Missing", "documents bring it about, as text"),
    ("AirError::Conflict", "documents bring it about, as text"),
    (
        "BudgetError::Part",
        "the judge of the model refuses such a part before",
    ),
    (
        "GateError::Gate",
        "the judge of the model refuses such a gate before",
    ),
    (
        "UseError::Network",
        "the open sets are those of the network itself",
    ),
    (
        "UseError::Sets",
        "the sets of a use are made one after another and not counted",
    ),
    (
        "FanError::NotSmooth",
        "a sum of two curves that no cubic with thousands of points follows is not known",
    ),
    (
        "FitError::Blocked",
        "needs predictions that fail on the way only; src/survey/fit/laws.rs has one of its own",
    ),
    ("FitError::NotConverged", "likewise"),
    ("FitError::NoUnknowns", "calibration looks first"),
    ("FitError::NoReadings", "calibration looks first"),
    (
        "NextError::Gradient",
        "calibration gives gradients that fit",
    ),
    (
        "NextError::NothingWanted",
        "calibration without a wanted output looks first",
    ),
    (
        "NextError::Standard",
        "calibration has judged the reading before",
    ),
    (
        "FilterGaugeError::NoMark",
        "the bracketed search has not failed on any system so far",
    ),
    (
        "GateError::NotBalanced",
        "the search for openings has not failed on any system so far",
    ),
    (
        "MeasuringError::NoMean",
        "rounding alone could bring it about",
    ),
    (
        "ReportError::Solve",
        "the open sets are those of the network itself",
    ),
    (
        "ReportError::Sets",
        "sets of one machine, or those of a use, are never too many to count",
    ),
    #[cfg(feature = "plot")]
    (
        "PlotError::Fan",
        "the judge of the model refuses such air before",
    ),
    #[cfg(feature = "plot")]
    ("PlotError::Drawing", "the drawing goes into memory"),
    (
        "UncertaintyError::Model",
        "a network was made from the same system before",
    ),
];

/// 100 000 random trees and the hard ones all balanced (examples/robustness.rs), and the fields of
/// this one cannot be made outside the crate: its text is pinned in src/solve/error.rs.
const UNMADE: &str = "SolveError::NotConverged";

#[test]
fn every_variant_of_every_public_error_is_met() {
    let mut met = BTreeSet::new();
    let mut made = BTreeSet::new();
    for told in all() {
        met.extend(told.met);
        made.extend(told.made);
    }
    let by_hand: BTreeSet<&str> = BY_HAND.iter().map(|(name, _)| *name).collect();
    let items = crate::public::walk();
    let errors = items
        .types
        .iter()
        .filter(|one| one.kind == "enum" && one.derives.iter().any(|derived| derived == "Error"));
    let all: BTreeSet<String> = errors
        .flat_map(|one| {
            let variants = one.variants.iter();
            variants.map(|variant| format!("{}::{}", one.name, variant.name))
        })
        .collect();
    assert!(all.len() > 200, "the errors were not read");
    let missing: Vec<_> = all
        .iter()
        .filter(|name| !met.contains(*name) && name.as_str() != UNMADE)
        // Made only with the feature, with which the gate runs this as well.
        .filter(|name| cfg!(feature = "plot") || !name.contains("Plot"))
        .collect();
    assert!(
        missing.is_empty(),
        "no entry in the catalogue: {missing:#?}"
    );
    let made: BTreeSet<&str> = made.iter().map(String::as_str).collect();
    assert_eq!(made, by_hand, "made by hand, and so listed");
}

/// Words of what would be right, or of what to do.
const HELP: &[&str] = &[
    "allowed:",
    "accepted",
    "must",
    "needs",
    "at most",
    "at least",
    "has an even number",
    "has 6, 8 or 10",
    "known, nearest first",
    "there are none",
    "more than the",
    "lists what",
    "give ",
    "say ",
    "name ",
    "leave ",
    "keep ",
    "put ",
    "use ",
    "choose ",
    "open ",
    "cap ",
    "raise ",
    "merge ",
    "check ",
    "ask for",
    "tell ",
    "add ",
    "read it",
    "read at",
    "make ",
    "traverse ",
    "scale ",
    "rename ",
    "mend ",
    "find another",
    "one of them",
    "let no gate",
    "run the curve",
    "at the wrong place",
    "wrong value",
];

#[test]
fn every_text_says_what_would_be_right() {
    let silent: Vec<String> = all()
        .into_iter()
        .flat_map(|told| told.lines)
        .filter(|(name, _)| !told::NUMERICS.contains(&name.as_str()))
        .filter(|(_, text)| !HELP.iter().any(|word| text.to_lowercase().contains(word)))
        .map(|(name, text)| format!("{name}: {text}"))
        .collect();
    assert!(silent.is_empty(), "{}", silent.join("\n"));
}

/// Of the three classes each error is in one.
#[test]
fn errors_are_classed() {
    let mut seen = BTreeSet::new();
    for told in all() {
        for (name, error) in told.top {
            let classes = [
                error.is_model(),
                error.is_question(),
                error.is_not_converged(),
            ];
            let yes = classes.iter().filter(|yes| **yes).count();
            assert_eq!(yes, 1, "{name}: {classes:?}");
            assert_eq!(error.is_input(), !error.is_not_converged(), "{name}");
            if error.model_errors().is_some() {
                assert!(error.is_model(), "{name}");
            }
            let numerics = told::NUMERICS.contains(&name.as_str());
            assert_eq!(error.is_not_converged(), numerics, "{name}");
            seen.insert(classes);
        }
    }
    assert_eq!(seen.len(), 3);
}
