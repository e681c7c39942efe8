//! No file of the tests is left out: a file that no module names is not built, and proves nothing.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on must stop")]

use std::{
    fs,
    path::{Path, PathBuf},
};

fn entries(folder: &Path) -> Vec<PathBuf> {
    let entries = fs::read_dir(folder).unwrap();
    entries.map(|entry| entry.unwrap().path()).collect()
}

/// The files and folders of modules below a root of modules that it does not name.
fn left_out(root: &Path, found: &mut Vec<PathBuf>) -> usize {
    let source = fs::read_to_string(root).unwrap();
    let mut seen = 0;
    for path in entries(root.parent().unwrap()) {
        let below = path.join("mod.rs");
        if path == *root || path.extension().is_none_or(|end| end != "rs") && !below.is_file() {
            continue;
        }
        seen += 1;
        let named = format!("mod {};", path.file_stem().unwrap().to_str().unwrap());
        if !source.lines().any(|line| line.ends_with(&named)) {
            found.push(path);
        } else if below.is_file() {
            seen += left_out(&below, found);
        }
    }
    seen
}

#[test]
fn every_file_of_the_tests_is_built() {
    let (mut seen, mut found) = (0, Vec::new());
    for folder in entries(&Path::new(env!("CARGO_MANIFEST_DIR")).join("tests")) {
        let root = folder.join("main.rs");
        if root.is_file() {
            seen += left_out(&root, &mut found);
        }
    }
    assert!(seen > 80, "the files were not found: {seen}");
    assert!(found.is_empty(), "no module names {found:?}");
}
