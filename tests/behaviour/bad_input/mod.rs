//! Bad input: every fault is typed, says where it is, what was given, what is allowed and what to
//! do; nothing panics, hangs, or is half done.
#![cfg(feature = "serde")]
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::print_stdout,
    reason = "a test that cannot go on must stop, and a long one says what it saw"
)]

mod fan;
mod incomplete;
mod joins;
mod large;
mod machines;
mod numbers;
mod open;
mod syntax;
mod text;
mod tree;
mod values;

use airsplit::*;
use insta::assert_snapshot;
use proptest::prelude::*;
use std::time::{Duration, Instant};

const SHOP: &str = include_str!("../../data/documents/shop.toml");
const EVERY_WORD: &str = include_str!("../../data/documents/every_word.toml");
const SAW_HOOD: &str = "hood = { id = \"saw cabinet\", entry = \"plain\", required = \"400 cfm\" }";
const LITTLE_KNOWN: &str = include_str!("../../data/documents/little_known.toml");

/// A document with one piece of text, which must stand there once, put in place of another.
fn spoilt(text: &str, from: &str, to: &str) -> String {
    assert_eq!(text.matches(from).count(), 1, "{from}");
    text.replace(from, to)
}

/// What the reader of the format says.
fn syntax(text: &str) -> String {
    let draft = toml::from_str::<Draft>(text).unwrap_err().to_string();
    // A study that is read in one go says the same.
    assert_eq!(
        toml::from_str::<Study>(text).unwrap_err().to_string(),
        draft
    );
    draft
}

/// What the model's judge says.
fn faults(text: &str) -> ModelErrors {
    let draft: Draft = toml::from_str(text).unwrap();
    let errors = draft.complete().unwrap_err();
    let read_at_once = toml::from_str::<Study>(text).unwrap_err().to_string();
    assert!(read_at_once.contains(&errors.to_string()), "{read_at_once}");
    errors
}

/// The only fault there is.
fn only(errors: &ModelErrors) -> &ModelError {
    let all: Vec<_> = errors.iter().collect();
    assert_eq!(all.len(), 1, "{errors}");
    all[0]
}

/// The only fault of a document, which must be at this place.
fn fault(text: &str, place: &Place) -> ModelError {
    let errors = faults(text);
    let error = only(&errors).clone();
    assert_eq!(error.place, *place);
    assert_eq!(errors.to_string(), error.to_string());
    error
}

/// The faults of a system in code, which stays as it was.
fn refused(system: &System) -> ModelErrors {
    let before = format!("{system:?}");
    let errors = system.check().unwrap_err();
    assert_eq!(format!("{system:?}"), before);
    // Compared as text: NaN is not equal to itself.
    let network = Network::new(system).unwrap_err();
    assert_eq!(format!("{network:?}"), format!("{errors:?}"));
    errors
}

fn shop() -> System {
    toml::from_str::<Study>(SHOP).unwrap().system
}

fn network(text: &str) -> Network {
    Network::new(&toml::from_str::<Study>(text).unwrap().system).unwrap()
}

fn section(name: &str) -> Place {
    Place::Section(name.into())
}

fn part(section: &str, part: usize) -> Place {
    let section = section.into();
    Place::Part { section, part }
}

fn hood(name: &str) -> Place {
    Place::Hood(name.into())
}

fn join(name: &str) -> Place {
    Place::Join(name.into())
}

fn machine(name: &str) -> Place {
    Place::Machine(name.into())
}

/// The value that a law refused.
fn refused_value(fault: &ModelFault) -> (&'static str, f64) {
    match fault {
        ModelFault::Loss(error) => (error.what, error.value),
        other => panic!("{other:?}"),
    }
}
