//! Documents taken apart key by key, for what the chapter says of each key left out.

use super::{
    chapter::{Cell, Chapter, Default, Kind, Words},
    format::document,
};
use airsplit::{Draft, Study};
use serde_json::{Map, Value, json};

#[derive(Debug, Clone)]
pub(crate) enum At {
    Key(String),
    Item(usize),
}

/// The table in which the last key of a path stands.
pub(crate) fn holder<'a>(document: &'a mut Value, path: &[At]) -> &'a mut Map<String, Value> {
    let value = path.iter().fold(document, |value, step| match step {
        At::Key(key) => &mut value[key],
        At::Item(item) => &mut value[*item],
    });
    value.as_object_mut().unwrap()
}

pub(crate) fn study(document: &Value) -> Result<Study, String> {
    let draft: Draft =
        serde_json::from_value(document.clone()).map_err(|error| error.to_string())?;
    draft.complete().map_err(|faults| faults.to_string())
}

/// A document that is taken apart, and the rows that it has shown.
pub(crate) struct Taken<'a> {
    pub(crate) chapter: &'a Chapter,
    pub(crate) document: Value,
    pub(crate) shown: Words,
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

    pub(crate) fn table(&mut self, path: &[At], heading: &str, value: &Value) {
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

pub(crate) fn of_the_system(path: &[At]) -> bool {
    match path.first() {
        None => true,
        Some(At::Key(key)) => ["air", "collector", "section"].contains(&key.as_str()),
        Some(At::Item(_)) => false,
    }
}

/// Rows that some document has to show: each key of each table, and each form that takes a value.
pub(crate) fn to_show(chapter: &Chapter) -> Words {
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
pub(crate) fn blocks(text: &str) -> Vec<&str> {
    let blocks = text.split("```toml\n").skip(1);
    blocks
        .filter_map(|block| block.split("```").next())
        .collect()
}
