//! What the docs of public items must say: the unit of every bare number, the errors of every
//! fallible function.
#![allow(clippy::panic, reason = "a test that cannot go on must stop")]

use crate::public::walk;

/// Whether a type holds a bare number, itself or inside a list, an option or a pair.
fn is_bare(of: &str) -> bool {
    of.split(|c: char| !(c.is_alphanumeric() || c == '_'))
        .any(|word| word == "f64" || word == "f32")
}

/// Endings of names that tell a unit.
const SUFFIXES: &[&str] = &[
    "_pa",
    "_m",
    "_mm",
    "_m2",
    "_m_s",
    "_m3_s",
    "_percent",
    "_px",
    "_deg",
    "_kg_m2",
    "_kg_m3",
    "_per_s",
    "_kg_per_h",
    "kg_per_h",
    "_pa_s_m3",
    "_celsius",
    "_w",
    "_share",
    "_ratio",
    "_over_d",
    "_over_mean",
];

/// Units, and words that say that a number has none; "a over b" is how the docs call a ratio.
const UNITS: &[&str] = &[
    // Units.
    "m",
    "mm",
    "m2",
    "m3/s",
    "m3/h",
    "m/s",
    "Pa",
    "kPa",
    "kg/m3",
    "kg/m2",
    "kg/h",
    "1/s",
    "degrees",
    "radians",
    "%",
    "percent",
    "kelvin",
    "rpm",
    "W",
    "pixels",
    "hours",
    // Told by another field, or by the number's own kind.
    "unit",
    "SI",
    "SI unit",
    // No unit.
    "share",
    "shares",
    "fraction",
    "ratio",
    "factor",
    "coefficient",
    "coefficients",
    "exponent",
    "efficiency",
    "relative",
    "probability",
    "correlation",
    "pure number",
    "dimensionless",
    "times",
    "velocity pressures",
    "fractions",
    "standard deviation",
    "chi-square",
    "normal deviate",
    "0 to 1",
    "over",
    "leakage class",
    "\\[-\\]",
    "Reynolds number",
    "standard uncertainties",
    "weight",
    "no unit",
    "money",
    "count",
];

/// Whether a text says a unit, or that there is none.
fn says_unit(text: &str) -> bool {
    let text = text.to_lowercase();
    UNITS.iter().any(|unit| {
        let unit = unit.to_lowercase();
        let word = |c: char| c.is_alphanumeric() || c == '/' || c == '_';
        text.match_indices(&unit).any(|(at, _)| {
            let before = text[..at].chars().next_back();
            let after = text[at + unit.len()..].chars().next();
            !before.is_some_and(word) && (!after.is_some_and(word) || unit == "%")
        })
    })
}

fn name_says_unit(name: &str) -> bool {
    SUFFIXES.iter().any(|suffix| name.ends_with(suffix))
}

#[test]
fn units_are_found_in_words() {
    assert!(says_unit("Drop there \\[Pa\\]."));
    assert!(says_unit("A share of the flow, 0 to 1."));
    assert!(!says_unit("What was given."));
    assert!(!says_unit("The pattern of the match."));
    assert!(name_says_unit("load_kg_m2") && !name_says_unit("value"));
    assert!(is_bare("Option<f64>") && is_bare("&[(Name, f64)]") && !is_bare("Option<Length>"));
}

#[test]
fn every_bare_number_says_its_unit_or_that_it_has_none() {
    let items = walk();
    let mut wrong = Vec::new();
    let mut seen = 0;
    for one in &items.types {
        let own = one
            .fields
            .iter()
            .map(|field| (one.name.clone(), &one.doc, field));
        let of_variants = one.variants.iter().flat_map(|variant| {
            let path = format!("{}::{}", one.name, variant.name);
            variant
                .fields
                .iter()
                .map(move |field| (path.clone(), &variant.doc, field))
        });
        for (path, doc, field) in own.chain(of_variants) {
            if !is_bare(&field.of) {
                continue;
            }
            seen += 1;
            // The number of a tuple has no doc but that of its variant.
            let tuple = field.name.parse::<usize>().is_ok();
            let said =
                says_unit(&field.doc) || name_says_unit(&field.name) || (tuple && says_unit(doc));
            if !said {
                wrong.push(format!(
                    "{path}.{}: {} | {}",
                    field.name, field.of, field.doc
                ));
            }
        }
    }
    for one in &items.callables {
        let bare: Vec<_> = one.inputs.iter().filter(|(_, of)| is_bare(of)).collect();
        if bare.is_empty() && !is_bare(&one.output) {
            continue;
        }
        seen += 1;
        let by_names = !is_bare(&one.output) && bare.iter().all(|(name, _)| name_says_unit(name));
        if !by_names && !says_unit(&one.doc) {
            wrong.push(format!("{} | {}", one.signature, one.doc));
        }
    }
    assert!(seen > 100, "the items were not read");
    assert!(
        wrong.is_empty(),
        "{} of {seen} say no unit:\n{}",
        wrong.len(),
        wrong.join("\n")
    );
}

#[test]
fn every_fallible_function_tells_its_errors() {
    let items = walk();
    let fallible = items
        .callables
        .iter()
        .filter(|one| one.output.starts_with("Result<") || one.output.contains("Item = Result<"));
    let fallible: Vec<_> = fallible.collect();
    assert!(fallible.len() > 50, "the functions were not read");
    let silent: Vec<_> = fallible
        .iter()
        .filter(|one| one.output.starts_with("Result<"))
        .filter(|one| !one.doc.contains("# Errors"))
        .map(|one| one.signature.as_str())
        .collect();
    assert!(
        silent.is_empty(),
        "no section `# Errors`:\n{}",
        silent.join("\n")
    );
}

#[test]
fn every_public_item_is_described() {
    let items = walk();
    let mut bare = Vec::new();
    for one in &items.types {
        if one.doc.trim().is_empty() {
            bare.push(one.name.clone());
        }
        let named = one
            .fields
            .iter()
            .filter(|field| field.name.parse::<usize>().is_err());
        let fields = named.map(|field| (&field.name, &field.doc));
        let variants = one
            .variants
            .iter()
            .map(|variant| (&variant.name, &variant.doc));
        for (name, doc) in fields.chain(variants) {
            if doc.trim().is_empty() {
                bare.push(format!("{}: {name}", one.name));
            }
        }
    }
    let callables = items
        .callables
        .iter()
        .filter(|one| one.doc.trim().is_empty());
    bare.extend(callables.map(|one| one.path.clone()));
    assert!(bare.is_empty(), "no doc:\n{}", bare.join("\n"));
}
