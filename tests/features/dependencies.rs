//! What stands behind the library: how many crates, under which licences, one linear algebra.
//!
//! Asks cargo for the tree that this test was built with; no network is needed.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on must stop")]

use std::{collections::BTreeSet, process::Command};

/// Licences that let anyone use the library as its own one (MIT) does.
const ALLOWED: &[&str] = &[
    "MIT",
    "Apache-2.0",
    "BSD-2-Clause",
    "BSD-3-Clause",
    "Zlib",
    "Unicode-3.0",
    "Unlicense",
];

/// The lines of `cargo tree` of what the library needs.
fn told(features: &[&str], format: &str, prefix: &str) -> Vec<String> {
    let output = Command::new(env!("CARGO"))
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .args(["tree", "--offline", "--edges", "normal", "--prefix", prefix])
        .args(["--format", format])
        .args(features)
        .output()
        .unwrap();
    let told = String::from_utf8(output.stdout).unwrap();
    let why = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "cargo tree: {why}");
    let lines = told.lines();
    lines
        .map(|line| line.trim_end_matches(" (*)").to_string())
        .collect()
}

/// Each crate once, without this one.
fn tree(features: &[&str], format: &str) -> BTreeSet<String> {
    let lines = told(features, format, "none").into_iter();
    lines
        .filter(|line| !line.starts_with("airsplit "))
        .collect()
}

/// How many crates stand one on another below this one.
#[cfg(feature = "serde")]
fn depth(features: &[&str]) -> usize {
    let lines = told(features, "", "depth").into_iter();
    lines
        .map(|line| line.trim().parse().unwrap())
        .max()
        .unwrap()
}

/// The feature set with the most dependencies that this build has fetched for sure.
fn largest() -> &'static [&'static str] {
    if cfg!(feature = "rayon") {
        &["--all-features"]
    } else if cfg!(feature = "serde") {
        &[]
    } else {
        &["--no-default-features"]
    }
}

/// Whether a licence expression can be met by allowed licences alone.
fn is_allowed(expression: &str) -> bool {
    let plain = expression.replace(['(', ')'], " ").replace('/', " OR ");
    plain
        .split(" AND ")
        .all(|all| all.split(" OR ").any(|one| ALLOWED.contains(&one.trim())))
}

#[test]
fn licences_are_judged() {
    assert!(is_allowed("MIT"));
    assert!(is_allowed("Zlib OR Apache-2.0 OR MIT"));
    assert!(is_allowed("(MIT OR Apache-2.0) AND Unicode-3.0"));
    assert!(is_allowed("Unlicense/MIT"));
    assert!(!is_allowed("GPL-3.0-only"));
    assert!(!is_allowed("(MIT OR Apache-2.0) AND GPL-3.0-only"));
    assert!(!is_allowed(""));
}

#[test]
fn every_licence_is_allowed() {
    let crates = tree(largest(), "{p} | {l}");
    assert!(crates.len() > 15, "the tree was not read: {crates:?}");
    let wrong: Vec<_> = crates
        .iter()
        .filter(|line| !is_allowed(line.split(" | ").nth(1).unwrap_or_default()))
        .collect();
    assert!(wrong.is_empty(), "not an allowed licence: {wrong:#?}");
}

/// Two versions of nalgebra would be two of everything under it.
#[test]
fn every_crate_stands_in_one_version() {
    let crates = tree(largest(), "{p}");
    let names: Vec<_> = crates
        .iter()
        .map(|line| line.split(' ').next().unwrap())
        .collect();
    assert!(names.contains(&"nalgebra"));
    let different: BTreeSet<_> = names.iter().collect();
    assert_eq!(names.len(), different.len(), "{crates:#?}");
}

/// The figures of the README; `tree` counts each crate once and this one not.
#[test]
#[cfg(feature = "serde")]
fn the_readme_tells_how_many_there_are_and_how_deep() {
    let without = tree(&["--no-default-features"], "{p}").len();
    let default = tree(&[], "{p}").len();
    let depth = depth(&[]);
    let sentence = format!(
        "{without} crates stand behind it without features, {default} with the default ones, \
         at most {depth} deep"
    );
    let readme = include_str!("../../README.md").replace('\n', " ");
    assert!(
        readme.contains(&sentence),
        "the README should say: {sentence}"
    );
}
