//! The tables of the chapter, read.

use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};

pub(crate) type Words = BTreeSet<String>;

/// What a table of the chapter lists.
#[derive(Debug, PartialEq)]
pub(crate) enum Kind {
    Keys,
    Forms,
}

#[derive(Debug)]
pub(crate) struct Table {
    pub(crate) kind: Kind,
    pub(crate) rows: BTreeMap<String, Row>,
}

#[derive(Debug, Clone)]
pub(crate) struct Row {
    pub(crate) cell: Cell,
    pub(crate) default: Default,
}

/// What a value may be, as its cell tells.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Cell {
    /// Headings of the tables that tell it.
    Links(Vec<String>),
    /// Keys of a small table.
    Keys(Vec<(String, Default, Cell)>),
    /// Words in quotes.
    Words(Words),
    Text(String),
}

#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Default {
    Required,
    None,
    SeeText,
    Is(Value),
    Assumed(Value),
    /// In a table of forms.
    Form,
}

pub(crate) fn value_of(code: &str) -> Value {
    let toml = format!("x = {}", code.trim().trim_matches('`'));
    let table: Value = toml::from_str(&toml).unwrap_or_else(|error| panic!("{code}: {error}"));
    table["x"].clone()
}

impl Default {
    pub(crate) fn read(text: &str) -> Self {
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
    pub(crate) fn read(text: &str) -> Self {
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
    pub(crate) fn key(text: &str) -> (String, Default, Self) {
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
pub(crate) fn anchor(heading: &str) -> String {
    heading.trim().to_lowercase().replace(' ', "-")
}

pub(crate) struct Chapter {
    pub(crate) tables: BTreeMap<String, Table>,
    /// Names of quantities by their list of units.
    pub(crate) quantities: BTreeMap<String, String>,
}

pub(crate) fn chapter(text: &str) -> Chapter {
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
