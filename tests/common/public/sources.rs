//! The modules under `src`, parsed, and what a name means in each of them.

use super::text;
use std::{collections::BTreeMap, fs, path::Path};
use syn::{Item, UseTree};

/// A module: its path from the root of the crate, its items without those of tests.
pub(crate) struct Module {
    pub(crate) items: Vec<Item>,
    /// What its `use` items bring in: name to path.
    uses: BTreeMap<String, Vec<String>>,
    globs: Vec<Vec<String>>,
}

/// All modules by their path.
pub(crate) struct Sources(pub(crate) BTreeMap<Vec<String>, Module>);

/// Where something is defined.
pub(crate) type At = (Vec<String>, String);

impl Sources {
    pub(crate) fn read() -> Self {
        let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
        let mut all = Self(BTreeMap::new());
        let text = fs::read_to_string(root.join("lib.rs")).unwrap();
        all.add(&root, Vec::new(), syn::parse_file(&text).unwrap().items);
        all
    }

    /// A module and, recursively, those inside it; `folder` holds the files of its children.
    fn add(&mut self, folder: &Path, path: Vec<String>, items: Vec<Item>) {
        let mut module = Module {
            items: Vec::new(),
            uses: BTreeMap::new(),
            globs: Vec::new(),
        };
        for item in items {
            match item {
                Item::Mod(child) if !text::is_test(&child.attrs) => {
                    let name = child.ident.to_string();
                    let mut at = path.clone();
                    at.push(name.clone());
                    let inside = folder.join(&name);
                    let items = match child.content {
                        Some((_, items)) => items,
                        None => {
                            let flat = folder.join(format!("{name}.rs"));
                            let file = if flat.exists() {
                                flat
                            } else {
                                inside.join("mod.rs")
                            };
                            let text = fs::read_to_string(&file)
                                .unwrap_or_else(|error| panic!("{}: {error}", file.display()));
                            let parsed = syn::parse_file(&text)
                                .unwrap_or_else(|error| panic!("{}: {error}", file.display()));
                            parsed.items
                        }
                    };
                    self.add(&inside, at, items);
                }
                Item::Use(one) if !text::is_test(&one.attrs) => {
                    module.import(&one.tree, &mut Vec::new());
                }
                other if !text::is_test(attributes(&other)) => module.items.push(other),
                _ => {}
            }
        }
        self.0.insert(path, module);
    }

    /// Where a path, read inside a module, leads to; `None` outside the crate.
    pub(crate) fn find(&self, module: &[String], path: &[String]) -> Option<At> {
        self.find_within(module, path, 0)
    }

    fn find_within(&self, module: &[String], path: &[String], depth: usize) -> Option<At> {
        if depth > 20 {
            return None;
        }
        let (first, rest) = path.split_first()?;
        match first.as_str() {
            "crate" => return self.find_within(&[], rest, depth + 1),
            "self" => return self.find_within(module, rest, depth + 1),
            "super" => {
                return self.find_within(&module[..module.len().checked_sub(1)?], rest, depth + 1);
            }
            _ => {}
        }
        let here = self.0.get(module)?;
        if rest.is_empty() && here.items.iter().any(|item| names(item).contains(first)) {
            return Some((module.to_vec(), first.clone()));
        }
        let mut child = module.to_vec();
        child.push(first.clone());
        if !rest.is_empty() && self.0.contains_key(&child) {
            return self.find_within(&child, rest, depth + 1);
        }
        if let Some(imported) = here.uses.get(first) {
            let mut whole = imported.clone();
            whole.extend_from_slice(rest);
            return self.find_within(module, &whole, depth + 1);
        }
        here.globs.iter().find_map(|glob| {
            let mut whole = glob.clone();
            whole.extend_from_slice(path);
            self.find_within(module, &whole, depth + 1)
        })
    }

    /// The names that `lib.rs` gives out, each with the place of its definition and its feature.
    pub(crate) fn vocabulary(&self) -> Vec<(String, At)> {
        let root = &self.0[&Vec::new()];
        let found = root.uses.iter().map(|(name, path)| {
            let at = self
                .find(&[], path)
                .unwrap_or_else(|| panic!("lib.rs gives out {name}, which was not found"));
            (name.clone(), at)
        });
        found.collect()
    }
}

impl Module {
    fn import(&mut self, tree: &UseTree, prefix: &mut Vec<String>) {
        match tree {
            UseTree::Path(path) => {
                prefix.push(path.ident.to_string());
                self.import(&path.tree, prefix);
                prefix.pop();
            }
            UseTree::Name(name) if name.ident == "self" => {
                let last = prefix.last().unwrap().clone();
                self.uses.insert(last, prefix.clone());
            }
            UseTree::Name(name) => {
                let mut path = prefix.clone();
                path.push(name.ident.to_string());
                self.uses.insert(name.ident.to_string(), path);
            }
            UseTree::Rename(name) => {
                let mut path = prefix.clone();
                path.push(name.ident.to_string());
                self.uses.insert(name.rename.to_string(), path);
            }
            UseTree::Glob(_) => self.globs.push(prefix.clone()),
            UseTree::Group(group) => {
                for tree in &group.items {
                    self.import(tree, prefix);
                }
            }
        }
    }
}

/// The names that an item defines.
pub(crate) fn names(item: &Item) -> Vec<String> {
    let ident = match item {
        Item::Struct(one) => &one.ident,
        Item::Enum(one) => &one.ident,
        Item::Fn(one) => &one.sig.ident,
        Item::Trait(one) => &one.ident,
        Item::Type(one) => &one.ident,
        Item::Const(one) => &one.ident,
        Item::Static(one) => &one.ident,
        Item::Macro(_) => return quantity(item).into_iter().map(|one| one.name).collect(),
        _ => return Vec::new(),
    };
    vec![ident.to_string()]
}

pub(crate) fn attributes(item: &Item) -> &[syn::Attribute] {
    match item {
        Item::Struct(one) => &one.attrs,
        Item::Enum(one) => &one.attrs,
        Item::Fn(one) => &one.attrs,
        Item::Trait(one) => &one.attrs,
        Item::Type(one) => &one.attrs,
        Item::Const(one) => &one.attrs,
        Item::Static(one) => &one.attrs,
        Item::Impl(one) => &one.attrs,
        Item::Use(one) => &one.attrs,
        _ => &[],
    }
}

/// A newtype made by the macro `quantity!`: its name and its constructors with their getters.
pub(crate) struct Quantity {
    pub(crate) name: String,
    pub(crate) units: Vec<(String, String, String)>,
}

pub(crate) fn quantity(item: &Item) -> Option<Quantity> {
    use proc_macro2::TokenTree::{Group, Ident, Literal};
    let Item::Macro(call) = item else { return None };
    if !call.mac.path.is_ident("quantity") {
        return None;
    }
    let tokens: Vec<_> = call.mac.tokens.clone().into_iter().collect();
    let start = tokens
        .iter()
        .position(|token| matches!(token, Ident(word) if word == "in"))?;
    let name = tokens[start - 1].to_string();
    let Some(Group(rows)) = tokens.last() else {
        panic!("{name} has no rows")
    };
    let rows: Vec<_> = rows.stream().into_iter().collect();
    let units = rows.windows(3).filter_map(|three| match three {
        [Ident(from), Ident(getter), Literal(unit)] => {
            Some((from.to_string(), getter.to_string(), unit.to_string()))
        }
        _ => None,
    });
    let units: Vec<_> = units.collect();
    Some(Quantity { name, units })
}
