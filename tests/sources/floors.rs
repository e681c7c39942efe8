//! The floors of the house: no import points up.

#![allow(
    clippy::unwrap_used,
    clippy::panic,
    reason = "a test that cannot go on must stop"
)]

use std::{fs, path::Path};

/// Every module of the crate with the modules that it may import.
const MAY_IMPORT: [(&str, &[&str]); 18] = [
    ("quantity", &[]),
    ("root", &[]),
    ("curve1d", &["root"]),
    ("bore", &["quantity"]),
    ("place", &[]),
    ("air", &["quantity"]),
    ("loss", &["air", "bore", "curve1d", "quantity"]),
    ("fan", &["bore", "curve1d", "quantity", "root"]),
    (
        "system",
        &["air", "bore", "fan", "loss", "place", "quantity"],
    ),
    (
        "solve",
        &[
            "air", "bore", "curve1d", "fan", "loss", "place", "quantity", "system",
        ],
    ),
    (
        "decide",
        &[
            "air", "bore", "fan", "loss", "place", "quantity", "root", "solve", "system",
        ],
    ),
    (
        "survey",
        &[
            "air", "bore", "curve1d", "fan", "loss", "place", "quantity", "root", "solve", "system",
        ],
    ),
    (
        "plot",
        &[
            "air", "bore", "decide", "fan", "loss", "place", "quantity", "solve", "survey",
            "system",
        ],
    ),
    ("study", &["air", "decide", "loss", "survey", "system"]),
    (
        "report",
        &[
            "air", "bore", "decide", "loss", "place", "quantity", "solve", "study", "survey",
            "system",
        ],
    ),
    ("error", &["*"]),
    ("guide", &["*"]),
    ("lib", &["*"]),
];

fn sources(folder: &Path, found: &mut Vec<(String, String)>) {
    let mut entries: Vec<_> = fs::read_dir(folder)
        .unwrap()
        .map(|e| e.unwrap().path())
        .collect();
    entries.sort();
    for path in entries {
        if path.is_dir() {
            sources(&path, found);
        } else if path.extension().is_some_and(|end| end == "rs") {
            let below = path.strip_prefix("src").unwrap();
            let first = below.iter().next().unwrap().to_str().unwrap();
            let module = first.trim_end_matches(".rs").to_string();
            found.push((module, fs::read_to_string(&path).unwrap()));
        }
    }
}

/// The modules named right behind `crate::`, whole `use` trees among them; tests may look anywhere.
fn imports(source: &str) -> Vec<String> {
    let code = source.split("#[cfg(test)]").next().unwrap();
    let code: String = code
        .lines()
        .filter(|line| !line.trim_start().starts_with("//"))
        .collect::<Vec<_>>()
        .join("\n");
    let mut found = Vec::new();
    for after in code.split("crate::").skip(1) {
        let name = |text: &str| {
            let text = text.trim_start();
            let end = text.find(|c: char| !(c.is_alphanumeric() || c == '_'));
            text[..end.unwrap_or(text.len())].to_string()
        };
        let Some(tree) = after.strip_prefix('{') else {
            found.push(name(after));
            continue;
        };
        let (mut depth, mut at_start) = (0, true);
        for (i, c) in tree.char_indices() {
            match c {
                '{' => depth += 1,
                '}' if depth == 0 => break,
                '}' => depth -= 1,
                ',' if depth == 0 => at_start = true,
                c if depth == 0 && at_start && !c.is_whitespace() => {
                    found.push(name(&tree[i..]));
                    at_start = false;
                }
                _ => {}
            }
        }
    }
    found
}

#[test]
fn no_import_points_up() {
    let mut files = Vec::new();
    sources(Path::new("src"), &mut files);
    assert!(files.len() > 30, "the sources were not found");
    let mut seen = 0;
    for (module, source) in &files {
        let (_, allowed) = MAY_IMPORT
            .iter()
            .find(|(name, _)| name == module)
            .unwrap_or_else(|| panic!("module {module} has no floor; give it one here"));
        for import in imports(source) {
            seen += 1;
            let fine =
                import == *module || allowed.contains(&"*") || allowed.contains(&import.as_str());
            assert!(fine, "{module} imports {import}, which its floor may not");
        }
    }
    assert!(seen > 50, "the imports were not read");
}

#[test]
fn imports_are_read_from_trees() {
    let source = "use crate::{air::{Air, B}, loss::x};\nuse crate::fan::Fan;\n// crate::solve\n";
    assert_eq!(imports(source), ["air", "loss", "fan"]);
}
