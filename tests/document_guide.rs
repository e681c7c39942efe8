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

use airsplit::{Draft, NumberUnknown, Place, Study, UsualUnknown};
use serde_json::{Map, Value, json};
use std::collections::{BTreeMap, BTreeSet};

const CHAPTER: &str = include_str!("../src/guide/document.md");
const EVERY_KEY: &str = include_str!("../src/guide/every_key.toml");

type Words = BTreeSet<String>;

/// What a table of the chapter lists.
#[derive(Debug, PartialEq)]
enum Kind {
    Keys,
    Forms,
}

#[derive(Debug)]
struct Table {
    kind: Kind,
    rows: BTreeMap<String, Row>,
}

#[derive(Debug, Clone)]
struct Row {
    cell: Cell,
    default: Default,
}

/// What a value may be, as its cell tells.
#[derive(Debug, Clone, PartialEq)]
enum Cell {
    /// Headings of the tables that tell it.
    Links(Vec<String>),
    /// Keys of a small table.
    Keys(Vec<(String, Default, Cell)>),
    /// Words in quotes.
    Words(Words),
    Text(String),
}

#[derive(Debug, Clone, PartialEq)]
enum Default {
    Required,
    None,
    SeeText,
    Is(Value),
    Assumed(Value),
    /// In a table of forms.
    Form,
}

fn value_of(code: &str) -> Value {
    let toml = format!("x = {}", code.trim().trim_matches('`'));
    let table: Value = toml::from_str(&toml).unwrap_or_else(|error| panic!("{code}: {error}"));
    table["x"].clone()
}

impl Default {
    fn read(text: &str) -> Self {
        match text {
            "required" => Self::Required,
            "none" => Self::None,
            "see text" => Self::SeeText,
            _ => match text.strip_prefix("assumed ") {
                Some(code) => Self::Assumed(value_of(code)),
                None if text.starts_with('`') => Self::Is(value_of(text)),
                None => panic!("{text:?} is no default"),
            },
        }
    }
}

impl Cell {
    fn read(text: &str) -> Self {
        let mut rest = text;
        for prefix in ["list of ", "lists of ", "pairs of ", "tables, "] {
            rest = rest.strip_prefix(prefix).unwrap_or(rest);
        }
        if rest.starts_with("`\"") {
            let words = rest.split('`').filter(|word| word.starts_with('"'));
            return Self::Words(words.map(|word| word.trim_matches('"').into()).collect());
        }
        if rest.starts_with('`') {
            return Self::Keys(rest.split("; ").map(Self::key).collect());
        }
        let links: Vec<_> = rest
            .split("](#")
            .skip(1)
            .map(|link| link.split(')').next().unwrap_or_default().to_owned())
            .collect();
        if links.is_empty() {
            Self::Text(rest.to_owned())
        } else {
            Self::Links(links)
        }
    }

    /// "`key`: value", "`key` (optional): value" or "`key` (default `0.1`): value".
    fn key(text: &str) -> (String, Default, Self) {
        let (key, value) = text
            .split_once(": ")
            .unwrap_or_else(|| panic!("{text:?} tells no value"));
        let (key, note) = key.split_once(' ').unwrap_or((key, ""));
        let default = match note.trim_matches(['(', ')']) {
            "" => Default::Required,
            "optional" => Default::None,
            note => match note.strip_prefix("default ") {
                Some(code) => Default::Is(value_of(code)),
                None => panic!("{note:?} is no note of a key"),
            },
        };
        (key.trim_matches('`').to_owned(), default, Self::read(value))
    }
}

/// As rustdoc makes it of a heading.
fn anchor(heading: &str) -> String {
    heading.trim().to_lowercase().replace(' ', "-")
}

struct Chapter {
    tables: BTreeMap<String, Table>,
    /// Names of quantities by their list of units.
    quantities: BTreeMap<String, String>,
}

fn chapter(text: &str) -> Chapter {
    let mut found = Chapter {
        tables: BTreeMap::new(),
        quantities: BTreeMap::new(),
    };
    let (mut heading, mut header) = (String::new(), String::new());
    for line in text.lines() {
        if let Some(title) = line.strip_prefix('#') {
            heading = anchor(title.trim_start_matches('#'));
            header.clear();
        }
        let Some(inner) = line
            .strip_prefix("| ")
            .and_then(|line| line.strip_suffix(" |"))
        else {
            continue;
        };
        let cells: Vec<_> = inner.split(" | ").map(str::trim).collect();
        let key = cells[0].trim_matches('`').to_owned();
        match (cells[0], header.as_str(), cells.len()) {
            ("key" | "form" | "quantity", ..) => {
                header = cells[0].into();
                if header != "quantity" {
                    let kind = if header == "key" {
                        Kind::Keys
                    } else {
                        Kind::Forms
                    };
                    let rows = BTreeMap::new();
                    let twice = found
                        .tables
                        .insert(heading.clone(), Table { kind, rows })
                        .is_some();
                    assert!(!twice, "two tables under {heading}");
                }
            }
            (_, "quantity", 2) => {
                let units = cells[1].replace('`', "");
                found.quantities.insert(units, key);
            }
            (_, "key" | "form", columns) => {
                let default = match (header.as_str(), columns) {
                    ("key", 4) => Default::read(cells[2]),
                    ("form", 3) => Default::Form,
                    _ => panic!("{heading}: {line:?} has {columns} cells"),
                };
                let cell = Cell::read(cells[1]);
                let row = Row { cell, default };
                let table = found.tables.get_mut(&heading);
                let twice = table.and_then(|table| table.rows.insert(key, row));
                assert!(twice.is_none(), "{heading}: {line:?} stands twice");
            }
            _ => panic!("{heading}: {line:?} is in no table"),
        }
    }
    found
}

/// What the format says that it accepts somewhere.
#[derive(Debug, PartialEq)]
enum Accepts {
    Keys(Words),
    Forms(Words),
    Quantity(String),
    Other,
}

/// What reads a document, or a part of one that no message speaks of.
type Reader = fn(Value) -> Option<String>;

fn document(value: Value) -> Option<String> {
    message(serde_json::from_value::<Draft>(value))
}

fn message<T>(read: Result<T, serde_json::Error>) -> Option<String> {
    read.err().map(|error| error.to_string())
}

#[derive(Debug, Clone, PartialEq)]
enum Step {
    Key(String),
    Item,
}

/// A document of nothing but the way to this value: what it is read for comes before what is missing.
fn wrapped(path: &[Step], value: Value) -> Value {
    path.iter().rev().fold(value, |value, step| match step {
        Step::Key(key) => Value::Object(Map::from_iter([(key.clone(), value)])),
        Step::Item => Value::Array(vec![value]),
    })
}

fn words(text: &str) -> Words {
    let after = text.split_once("expected").map_or("", |(_, after)| after);
    after
        .split('`')
        .skip(1)
        .step_by(2)
        .map(str::to_owned)
        .collect()
}

/// The keys of a form of a place: they let others pass, but what they know is what they write.
fn keys_of_place(form: &str) -> Words {
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
fn ask(read: Reader, path: &[Step], quantities: &BTreeMap<String, String>) -> (usize, Accepts) {
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
    fn table(&self, heading: &str) -> &Table {
        self.tables
            .get(heading)
            .unwrap_or_else(|| panic!("no table under the heading {heading}"))
    }

    /// Holds what stands behind a link against the format, and everything below it.
    fn check_table(
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

    fn check_cell(
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

#[derive(Debug, Clone)]
enum At {
    Key(String),
    Item(usize),
}

/// The table in which the last key of a path stands.
fn holder<'a>(document: &'a mut Value, path: &[At]) -> &'a mut Map<String, Value> {
    let value = path.iter().fold(document, |value, step| match step {
        At::Key(key) => &mut value[key],
        At::Item(item) => &mut value[*item],
    });
    value.as_object_mut().unwrap()
}

fn study(document: &Value) -> Result<Study, String> {
    let draft: Draft =
        serde_json::from_value(document.clone()).map_err(|error| error.to_string())?;
    draft.complete().map_err(|faults| faults.to_string())
}

/// A document that is taken apart, and the rows that it has shown.
struct Taken<'a> {
    chapter: &'a Chapter,
    document: Value,
    shown: Words,
}

impl Taken<'_> {
    fn with(&self, path: &[At], key: &str, value: Option<&Value>) -> Value {
        let mut document = self.document.clone();
        let table = holder(&mut document, path);
        match value {
            Some(value) => table.insert(key.to_owned(), value.clone()),
            None => table.remove(key),
        };
        document
    }

    fn key(&mut self, path: &[At], table: &str, key: &str, default: &Default) {
        let at = format!("{table}, `{key}`, {path:?}");
        let without = self.with(path, key, None);
        match default {
            Default::Required => assert!(study(&without).is_err(), "{at} is not required"),
            Default::None => assert_eq!(document(without), None, "{at} cannot be left out"),
            Default::Is(value) => {
                let written = study(&self.with(path, key, Some(value)));
                let without = study(&without);
                assert_eq!(without, written, "{at} has another default");
                // A document that needs another value shows nothing.
                if without.is_err() {
                    return;
                }
            }
            Default::Assumed(value) if of_the_system(path) => {
                let assuming = |mut document: Value, assume: bool| {
                    document["assume"] = json!(assume);
                    study(&document)
                };
                assert!(
                    assuming(without.clone(), false).is_err(),
                    "{at} is not required"
                );
                let written = assuming(self.with(path, key, Some(value)), true).unwrap();
                let without = assuming(without, true).unwrap();
                assert_eq!(without.system, written.system, "{at} is assumed otherwise");
                let assumed = [&without, &written].map(|study| study.assumptions.len());
                assert!(assumed[0] > assumed[1], "{at} is not told as an assumption");
            }
            Default::Assumed(_) => return,
            Default::SeeText | Default::Form => {}
        }
        self.shown.insert(format!("{table}: {key}"));
    }

    fn value(&mut self, path: &[At], table: &str, value: &Value, cell: &Cell) {
        let step = |at: At| path.iter().cloned().chain([at]).collect::<Vec<_>>();
        match (value, cell) {
            (Value::Array(items), Cell::Links(_) | Cell::Keys(_)) => {
                for (i, item) in items.iter().enumerate() {
                    self.value(&step(At::Item(i)), table, item, cell);
                }
            }
            (_, Cell::Links(headings)) => {
                let usual = usize::from(value.get("usual").is_none());
                let heading = headings.get(usual).unwrap_or(&headings[0]);
                self.table(path, heading, value);
            }
            (Value::Object(values), Cell::Keys(keys)) => {
                for (key, default, cell) in keys {
                    if let Some(value) = values.get(key) {
                        self.key(path, table, key, default);
                        let below = format!("{table}: {key}");
                        self.value(&step(At::Key(key.clone())), &below, value, cell);
                    }
                }
            }
            _ => {}
        }
    }

    fn table(&mut self, path: &[At], heading: &str, value: &Value) {
        let chapter = self.chapter;
        let Value::Object(values) = value else {
            return;
        };
        for (key, row) in &chapter.table(heading).rows {
            if let Some(value) = values.get(key) {
                self.key(path, heading, key, &row.default);
                let path: Vec<_> = path.iter().cloned().chain([At::Key(key.clone())]).collect();
                self.value(&path, &format!("{heading}: {key}"), value, &row.cell);
            }
        }
    }
}

fn of_the_system(path: &[At]) -> bool {
    match path.first() {
        None => true,
        Some(At::Key(key)) => ["air", "collector", "section"].contains(&key.as_str()),
        Some(At::Item(_)) => false,
    }
}

/// Rows that some document has to show: each key of each table, and each form that takes a value.
fn to_show(chapter: &Chapter) -> Words {
    fn keys(table: &str, cell: &Cell, found: &mut Words) {
        if let Cell::Keys(inner) = cell {
            for (key, _, cell) in inner {
                let key = format!("{table}: {key}");
                keys(&key, cell, found);
                found.insert(key);
            }
        }
    }
    let mut found = Words::new();
    for (heading, table) in &chapter.tables {
        for (key, row) in &table.rows {
            let name = format!("{heading}: {key}");
            keys(&name, &row.cell, &mut found);
            let links_only = matches!(row.cell, Cell::Links(_) | Cell::Text(_) | Cell::Words(_));
            if table.kind == Kind::Keys || !links_only {
                found.insert(name);
            }
        }
    }
    found
}

/// The blocks of TOML in the chapter.
fn blocks(text: &str) -> Vec<&str> {
    let blocks = text.split("```toml\n").skip(1);
    blocks
        .filter_map(|block| block.split("```").next())
        .collect()
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
