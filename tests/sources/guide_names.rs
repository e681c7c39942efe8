//! Every exported name stands in the chapter of the guide that leads from question to answer.

use std::collections::BTreeSet;

const FRONT: &str = include_str!("../../src/lib.rs");
const CHAPTER: &str = include_str!("../../src/guide/answers.md");

/// The names in the `pub use` lines of the crate.
fn exported(source: &str) -> BTreeSet<&str> {
    let lists = source.split("\npub use ").skip(1);
    let lists = lists.filter_map(|after| after.split(';').next());
    let names =
        lists.flat_map(|list| list.split(|c: char| !(c.is_alphanumeric() || c == '_' || c == ':')));
    names
        .filter_map(|name| name.rsplit("::").next())
        .filter(|name| !name.is_empty())
        .collect()
}

/// The names in code letters; of a method its type too.
fn told(chapter: &str) -> BTreeSet<&str> {
    let code = chapter.split('`').skip(1).step_by(2);
    code.flat_map(|code| code.split("::")).collect()
}

fn missing(source: &'static str) -> Vec<&'static str> {
    let told = told(CHAPTER);
    exported(source)
        .into_iter()
        .filter(|name| !told.contains(name))
        .collect()
}

#[test]
fn every_exported_name_stands_in_the_guide() {
    assert!(
        exported(FRONT).len() > 200,
        "the exported names were not read"
    );
    assert_eq!(missing(FRONT), [""; 0]);
}

#[test]
fn a_new_name_is_seen() {
    let source = "\npub use decide::{\n    Answer, Budget, NewName,\n};\npub use air::Unheard;\n";
    assert_eq!(missing(source), ["NewName", "Unheard"]);
}
