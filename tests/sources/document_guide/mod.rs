//! The chapter of the guide that tells the document format cannot drift from the code.
//!
//! The format is asked itself: a made-up key in a table, a made-up form, a made-up unit, and what it
//! then says that it accepts is held against the tables of the chapter, down every link of them. The
//! documents in the chapter are taken apart key by key for what the chapter says of defaults.
#![cfg(feature = "serde")]
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    reason = "a test that cannot go on must stop"
)]

mod chapter;
mod format;
mod shown;

use chapter::{Words, chapter};
use format::document;
use serde_json::Value;
use shown::{Taken, blocks, study, to_show};

const CHAPTER: &str = include_str!("../../../src/guide/document.md");
const EVERY_KEY: &str = include_str!("../../../src/guide/every_key.toml");

#[test]
fn the_chapter_lists_what_the_format_accepts() {
    let chapter = chapter(CHAPTER);
    let mut seen = Words::new();
    chapter.check_table(document, &[], "document", &[], &mut seen);
    let headings: Words = chapter.tables.keys().cloned().collect();
    assert_eq!(
        seen, headings,
        "left: reached from the document, right: tables of the chapter"
    );
    assert_eq!(chapter.quantities.len(), 11);
}

#[test]
fn documents_of_the_chapter_show_its_keys_and_defaults() {
    let chapter = chapter(CHAPTER);
    let mut shown = Words::new();
    for text in blocks(CHAPTER).into_iter().chain([EVERY_KEY]) {
        let document: Value = toml::from_str(text).unwrap();
        study(&document).unwrap();
        let mut taken = Taken {
            chapter: &chapter,
            document: document.clone(),
            shown: Words::new(),
        };
        taken.table(&[], "document", &document);
        shown.extend(taken.shown);
    }
    let missing: Vec<_> = to_show(&chapter).difference(&shown).cloned().collect();
    assert!(missing.is_empty(), "shown in no document: {missing:#?}");
}

/// What has to see that a chapter is wrong.
type Seer<'a> = &'a dyn Fn(&str);

/// The test can fail: a row too much, one too few, a wrong default, unit or link is seen.
#[test]
fn a_wrong_chapter_is_seen() {
    let listed = |text: &str| {
        let chapter = chapter(text);
        chapter.check_table(document, &[], "document", &[], &mut Words::new());
    };
    let shown = |text: &str| {
        let chapter = chapter(text);
        let document: Value = toml::from_str(EVERY_KEY).unwrap();
        let mut taken = Taken {
            chapter: &chapter,
            document: document.clone(),
            shown: Words::new(),
        };
        taken.table(&[], "document", &document);
    };
    let wrong: [(&str, &str, Seer<'_>); 11] = [
        (
            "| `clamps` | whole number | `1` |",
            "| `clips` | whole number | `1` |",
            &listed,
        ),
        (
            "| `suction` | pressure |",
            "| `suction` | velocity |",
            &listed,
        ),
        ("| `concrete` | alone | 3.0 mm. |\n", "", &listed),
        (
            "| `bellmouth` | alone |",
            "| `bellmouth` | number |",
            &listed,
        ),
        ("`cutter_width`: length", "`width`: length", &listed),
        (
            "`\"outdoors\"` or `\"room\"` |",
            "`\"outdoors\"` |",
            &listed,
        ),
        (
            "| `entry` | [entry](#entry) | required |",
            "| `entry` | [elbow](#elbow) | required |",
            &listed,
        ),
        (
            "| `seal` | number | `1.1` |",
            "| `seal` | number | `1.2` |",
            &shown,
        ),
        (
            "| `discharge_coefficient` | number | `0.62` |",
            "| `discharge_coefficient` | number | required |",
            &shown,
        ),
        ("assumed `{ k = 1.5 }`", "assumed `{ k = 1.4 }`", &shown),
        (
            "| `per_metre` | number | required |",
            "| `per_metre` | number | none |",
            &shown,
        ),
    ];
    for (right, spoilt, seen_by) in wrong {
        assert!(CHAPTER.contains(right), "no row {right}");
        let text = CHAPTER.replacen(right, spoilt, 1);
        let seen = std::panic::catch_unwind(std::panic::AssertUnwindSafe(|| seen_by(&text)));
        assert!(seen.is_err(), "{spoilt} was not seen");
    }
}
