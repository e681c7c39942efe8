//! Tokens as one line of text, and what attributes say.

use quote::ToTokens;
use syn::{Attribute, Expr, ExprLit, Lit, Meta};

/// The tokens with the spaces that a person would set.
pub(crate) fn line(tokens: &impl ToTokens) -> String {
    let mut text = tokens.to_token_stream().to_string().replace('\n', " ");
    for (from, to) in [
        (" :: ", "::"),
        (":: ", "::"),
        (" < ", "<"),
        ("< ", "<"),
        (" >", ">"),
        ("& ", "&"),
        (" ,", ","),
        (" :", ":"),
        ("= (", "=("),
        ("( ", "("),
        (" )", ")"),
        ("[ ", "["),
        (" ]", "]"),
        (" ;", ";"),
        ("? ", "?"),
        (" (", "("),
        (",)", ")"),
    ] {
        text = text.replace(from, to);
    }
    // The arrow and the comma keep a space behind them.
    text.replace("->(", "-> (")
        .replace(",(", ", (")
        .replace("=(", "= (")
}

/// The doc of an item, one line of source a line; `concat!` within it is left out.
pub(crate) fn doc(attributes: &[Attribute]) -> String {
    let lines = attributes.iter().filter_map(|attribute| {
        let Meta::NameValue(pair) = &attribute.meta else {
            return None;
        };
        if !pair.path.is_ident("doc") {
            return None;
        }
        match &pair.value {
            Expr::Lit(ExprLit {
                lit: Lit::Str(text),
                ..
            }) => Some(text.value()),
            _ => None,
        }
    });
    let lines: Vec<_> = lines.map(|line| line.trim().to_string()).collect();
    lines.join("\n")
}

pub(crate) fn has(attributes: &[Attribute], name: &str) -> bool {
    attributes.iter().any(|one| one.path().is_ident(name))
}

/// Features named by `#[cfg(...)]`, as ` [serde]`.
pub(crate) fn features(attributes: &[Attribute]) -> String {
    let mut found = String::new();
    for attribute in attributes.iter().filter(|one| one.path().is_ident("cfg")) {
        let text = line(&attribute.meta);
        for feature in text.split("feature = \"").skip(1) {
            let name = feature.split('"').next().unwrap();
            found.push_str(&format!(" [{name}]"));
        }
    }
    found
}

pub(crate) fn is_test(attributes: &[Attribute]) -> bool {
    attributes
        .iter()
        .filter(|one| one.path().is_ident("cfg"))
        .any(|one| {
            line(&one.meta)
                .split(|c: char| !c.is_alphanumeric())
                .any(|word| word == "test" || word == "doctest")
        })
}

/// Derived traits, sorted; those behind a feature as `[serde] Serialize`.
pub(crate) fn derives(attributes: &[Attribute]) -> Vec<String> {
    let mut found = Vec::new();
    for attribute in attributes {
        let text = line(&attribute.meta);
        let feature = match text.strip_prefix("cfg_attr") {
            Some(rest) => {
                let name = rest.split("feature = \"").nth(1).unwrap_or_default();
                format!("[{}] ", name.split('"').next().unwrap_or_default())
            }
            None if attribute.path().is_ident("derive") => String::new(),
            None => continue,
        };
        for list in text.split("derive(").skip(1) {
            for path in list.split(')').next().unwrap().split(',') {
                let name = path.trim().rsplit("::").next().unwrap();
                if !name.is_empty() {
                    found.push(format!("{feature}{name}"));
                }
            }
        }
    }
    found.sort();
    found
}
