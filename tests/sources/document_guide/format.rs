//! What the format accepts, asked of itself, against what the chapter lists.

use super::chapter::{Cell, Chapter, Kind, Table, Words};
use airsplit::{Draft, NumberUnknown, Place, UsualUnknown};
use serde_json::{Map, Value, json};
use std::collections::BTreeMap;

/// What the format says that it accepts somewhere.
#[derive(Debug, PartialEq)]
pub(crate) enum Accepts {
    Keys(Words),
    Forms(Words),
    Quantity(String),
    Other,
}

/// What reads a document, or a part of one that no message speaks of.
pub(crate) type Reader = fn(Value) -> Option<String>;

pub(crate) fn document(value: Value) -> Option<String> {
    message(serde_json::from_value::<Draft>(value))
}

pub(crate) fn message<T>(read: Result<T, serde_json::Error>) -> Option<String> {
    read.err().map(|error| error.to_string())
}

#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Step {
    Key(String),
    Item,
}

/// A document of nothing but the way to this value: what it is read for comes before what is missing.
pub(crate) fn wrapped(path: &[Step], value: Value) -> Value {
    path.iter().rev().fold(value, |value, step| match step {
        Step::Key(key) => Value::Object(Map::from_iter([(key.clone(), value)])),
        Step::Item => Value::Array(vec![value]),
    })
}

pub(crate) fn words(text: &str) -> Words {
    let after = text.split_once("expected").map_or("", |(_, after)| after);
    after
        .split('`')
        .skip(1)
        .step_by(2)
        .map(str::to_owned)
        .collect()
}

/// The keys of a form of a place: they let others pass, but what they know is what they write.
pub(crate) fn keys_of_place(form: &str) -> Words {
    let samples = [
        json!({ "run": 0, "part": 1 }),
        json!({ "section": "a", "part": 1 }),
    ];
    let places = samples.into_iter().filter_map(|sample| {
        let place = Value::Object(Map::from_iter([(form.to_owned(), sample)]));
        serde_json::from_value::<Place>(place).ok()
    });
    let written = places.map(|place| serde_json::to_value(place).unwrap());
    let keys = written.flat_map(|place| place[form].as_object().unwrap().clone());
    keys.map(|(key, _)| key).collect()
}

/// Asks with made-up words, in lists of up to two levels; returns how many levels it took.
pub(crate) fn ask(
    read: Reader,
    path: &[Step],
    quantities: &BTreeMap<String, String>,
) -> (usize, Accepts) {
    for lists in 0..3 {
        let mut path = path.to_vec();
        path.extend(std::iter::repeat_n(Step::Item, lists));
        let said = |value: Value| read(wrapped(&path, value)).unwrap_or_default();
        let made_up = said(json!({ "made_up": 0 }));
        if made_up.contains("unknown field `made_up`") {
            return (lists, Accepts::Keys(words(&made_up)));
        }
        if made_up.contains("unknown variant `made_up`") {
            return (lists, Accepts::Forms(words(&made_up)));
        }
        if made_up.starts_with("missing field")
            && let Some(Step::Key(form)) = path.last()
        {
            return (lists, Accepts::Keys(keys_of_place(form)));
        }
        let unit = said(json!("1 made_up"));
        if let Some((_, units)) = unit.split_once("accepted units: ") {
            let name = quantities
                .get(units)
                .unwrap_or_else(|| panic!("no quantity has the units {units}"));
            return (lists, Accepts::Quantity(name.clone()));
        }
    }
    (0, Accepts::Other)
}

impl Chapter {
    pub(crate) fn table(&self, heading: &str) -> &Table {
        self.tables
            .get(heading)
            .unwrap_or_else(|| panic!("no table under the heading {heading}"))
    }

    /// Holds what stands behind a link against the format, and everything below it.
    pub(crate) fn check_table(
        &self,
        read: Reader,
        path: &[Step],
        heading: &str,
        above: &[&str],
        seen: &mut Words,
    ) {
        seen.insert(heading.to_owned());
        let table = self.table(heading);
        let listed: Words = table.rows.keys().cloned().collect();
        let (_, accepts) = ask(read, path, &self.quantities);
        let expected = match table.kind {
            Kind::Keys => Accepts::Keys(listed),
            Kind::Forms => Accepts::Forms(listed),
        };
        assert_eq!(
            accepts, expected,
            "left the format, right the chapter: {heading}, {path:?}"
        );
        if above.contains(&heading) {
            return;
        }
        let above: Vec<_> = above.iter().copied().chain([heading]).collect();
        for (key, row) in &table.rows {
            if table.kind == Kind::Forms {
                let told = read(wrapped(path, json!(key))).unwrap_or_default();
                let alone = !told.contains("unit variant, expected");
                assert_eq!(
                    alone,
                    row.cell == Cell::Text("alone".into()),
                    "{heading}: {key}: {told}"
                );
            }
            let mut path = path.to_vec();
            path.push(Step::Key(key.clone()));
            self.check_cell(read, &path, &row.cell, &above, seen);
        }
    }

    pub(crate) fn check_cell(
        &self,
        read: Reader,
        path: &[Step],
        cell: &Cell,
        above: &[&str],
        seen: &mut Words,
    ) {
        let (lists, accepts) = ask(read, path, &self.quantities);
        let mut path = path.to_vec();
        path.extend(std::iter::repeat_n(Step::Item, lists));
        match cell {
            Cell::Links(headings) => match headings.as_slice() {
                [one] => self.check_table(read, &path, one, above, seen),
                // Of an untagged enum no message speaks; its types are asked by themselves.
                _ => {
                    let readers: [(&str, Reader); 2] = [
                        ("usual-unknown", |value| {
                            message(serde_json::from_value::<UsualUnknown>(value))
                        }),
                        ("number-unknown", |value| {
                            message(serde_json::from_value::<NumberUnknown>(value))
                        }),
                    ];
                    assert_eq!(headings.as_slice(), readers.map(|reader| reader.0));
                    for (heading, read) in readers {
                        self.check_table(read, &[], heading, above, seen);
                    }
                }
            },
            Cell::Keys(keys) => {
                let listed = keys.iter().map(|key| key.0.clone()).collect();
                assert_eq!(accepts, Accepts::Keys(listed), "{path:?}");
                for (key, _, cell) in keys {
                    let mut path = path.clone();
                    path.push(Step::Key(key.clone()));
                    self.check_cell(read, &path, cell, above, seen);
                }
            }
            Cell::Words(words) => assert_eq!(accepts, Accepts::Forms(words.clone()), "{path:?}"),
            Cell::Text(text) => match accepts {
                Accepts::Quantity(name) => {
                    assert!(
                        text.starts_with(&name),
                        "{path:?} is a {name}, told as {text:?}"
                    );
                }
                other => {
                    assert_eq!(other, Accepts::Other, "{path:?} is told as {text:?} only");
                    let first = text.split([' ', ',', ';']).next().unwrap_or_default();
                    let quantity = self.quantities.values().any(|name| name == first);
                    assert!(!quantity, "{path:?} is no {text:?}");
                }
            },
        }
    }
}
