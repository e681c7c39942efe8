//! Public items: types with their fields and variants, functions and methods with their signatures.

use super::{
    sources::{At, Sources, attributes, quantity},
    text,
};
use std::collections::BTreeMap;
use syn::{Fields, FnArg, GenericParam, ImplItem, Item, ItemImpl, ReturnType, Visibility};

/// Everything that a user of the crate can name.
#[derive(Debug, Default)]
pub(crate) struct Public {
    pub(crate) types: Vec<Type>,
    pub(crate) callables: Vec<Callable>,
    /// Further lines of the list: constants, implemented traits.
    pub(crate) lines: Vec<String>,
}

/// A struct or an enum.
#[derive(Debug)]
pub(crate) struct Type {
    pub(crate) name: String,
    pub(crate) generics: String,
    pub(crate) kind: &'static str,
    pub(crate) features: String,
    pub(crate) non_exhaustive: bool,
    pub(crate) private_fields: bool,
    pub(crate) derives: Vec<String>,
    pub(crate) doc: String,
    /// Public fields of a struct.
    pub(crate) fields: Vec<Field>,
    pub(crate) variants: Vec<Variant>,
}

#[derive(Debug)]
pub(crate) struct Variant {
    pub(crate) name: String,
    pub(crate) non_exhaustive: bool,
    pub(crate) doc: String,
    pub(crate) fields: Vec<Field>,
}

#[derive(Debug)]
pub(crate) struct Field {
    /// Its name, or its number in a tuple.
    pub(crate) name: String,
    pub(crate) of: String,
    pub(crate) doc: String,
}

/// A function or a method.
#[derive(Debug)]
pub(crate) struct Callable {
    /// `Type::method`, or the name of a function.
    pub(crate) path: String,
    pub(crate) features: String,
    pub(crate) signature: String,
    /// Name and type, without the receiver.
    pub(crate) inputs: Vec<(String, String)>,
    pub(crate) output: String,
    pub(crate) bounds: String,
    pub(crate) doc: String,
}

/// Reads every public item.
pub(crate) fn walk() -> Public {
    let sources = Sources::read();
    let vocabulary: BTreeMap<At, String> = sources
        .vocabulary()
        .into_iter()
        .map(|(name, at)| (at, name))
        .collect();
    let mut found = Public::default();
    for ((module, defined), name) in &vocabulary {
        for item in &sources.0[module].items {
            found.item(item, defined, name);
        }
    }
    for (module, inside) in &sources.0 {
        for item in &inside.items {
            let Item::Impl(one) = item else { continue };
            let of = match &*one.self_ty {
                syn::Type::Reference(to) => &*to.elem,
                of => of,
            };
            let syn::Type::Path(of) = of else { continue };
            let Some(name) = sources
                .find(module, &words(&of.path))
                .and_then(|at| vocabulary.get(&at))
            else {
                continue;
            };
            let names_private = one.trait_.iter().flat_map(|(path, _)| arguments(path));
            let names_private = names_private
                .filter_map(|path| sources.find(module, &words(path)))
                .any(|at| !vocabulary.contains_key(&at));
            if !names_private {
                found.block(one, name);
            }
        }
    }
    found
}

impl Public {
    fn item(&mut self, item: &Item, defined: &str, name: &str) {
        if let Some(made) = quantity(item).filter(|made| made.name == defined) {
            self.lines
                .push(format!("struct {name}: made by `quantity!`"));
            for (from, getter, unit) in made.units {
                self.lines.push(format!(
                    "const fn {name}::{from}(value: f64) -> Self; in {unit}"
                ));
                self.lines
                    .push(format!("const fn {name}::{getter}(self) -> f64; in {unit}"));
            }
            return;
        }
        let features = text::features(attributes(item));
        let of_type = |kind, attrs: &[syn::Attribute], generics: &syn::Generics| Type {
            name: name.to_string(),
            generics: generics_of(generics),
            kind,
            features: features.clone(),
            non_exhaustive: text::has(attrs, "non_exhaustive"),
            private_fields: false,
            derives: text::derives(attrs),
            doc: text::doc(attrs),
            fields: Vec::new(),
            variants: Vec::new(),
        };
        match item {
            Item::Struct(one) if one.ident == defined => {
                let mut made = of_type("struct", &one.attrs, &one.generics);
                made.private_fields = one.fields.iter().any(|field| !is_public(&field.vis));
                made.fields = fields(&one.fields, is_public);
                self.types.push(made);
            }
            Item::Enum(one) if one.ident == defined => {
                let mut made = of_type("enum", &one.attrs, &one.generics);
                let variants = one.variants.iter().map(|variant| Variant {
                    name: variant.ident.to_string(),
                    non_exhaustive: text::has(&variant.attrs, "non_exhaustive"),
                    doc: text::doc(&variant.attrs),
                    fields: fields(&variant.fields, |_| true),
                });
                made.variants = variants.collect();
                self.types.push(made);
            }
            Item::Fn(one) if one.sig.ident == defined => {
                self.callables
                    .push(callable(name.to_string(), &one.sig, &one.attrs, ""));
            }
            Item::Trait(_) | Item::Type(_) | Item::Const(_) | Item::Static(_)
                if super::sources::names(item) == [defined] =>
            {
                panic!("{name}: the walk knows no public trait, alias, const or static; teach it")
            }
            _ => {}
        }
    }

    fn block(&mut self, block: &ItemImpl, name: &str) {
        let outer = text::features(&block.attrs);
        if let Some((path, _)) = &block.trait_ {
            let last = path.segments.last().unwrap();
            let types = block.items.iter().filter_map(|item| match item {
                ImplItem::Type(one) => Some(format!("; {} = {}", one.ident, text::line(&one.ty))),
                _ => None,
            });
            let types: String = types.collect();
            self.lines.push(format!(
                "impl {} for {}{types}{outer}",
                text::line(last),
                text::line(&block.self_ty)
            ));
            return;
        }
        for item in &block.items {
            match item {
                ImplItem::Fn(one) if is_public(&one.vis) => {
                    let path = format!("{name}::{}", one.sig.ident);
                    self.callables
                        .push(callable(path, &one.sig, &one.attrs, &outer));
                }
                ImplItem::Const(one) if is_public(&one.vis) => self.lines.push(format!(
                    "const {name}::{}: {}{outer}",
                    one.ident,
                    text::line(&one.ty)
                )),
                _ => {}
            }
        }
    }

    /// The whole surface, one line an item, sorted.
    pub(crate) fn list(&self) -> String {
        let mut lines = self.lines.clone();
        for one in &self.types {
            let open = if one.non_exhaustive {
                ", non_exhaustive"
            } else if one.private_fields {
                ", private fields"
            } else {
                ""
            };
            let Type {
                name,
                generics,
                kind,
                features,
                ..
            } = one;
            let derives = one.derives.join(" ");
            lines.push(format!(
                "{kind} {name}{generics}{open}; derives {derives}{features}"
            ));
            for field in &one.fields {
                lines.push(format!("field {name}.{}: {}", field.name, field.of));
            }
            for variant in &one.variants {
                let fields = variant.fields.iter();
                let fields: Vec<_> = fields
                    .map(|field| format!("{}: {}", field.name, field.of))
                    .collect();
                let fields = match fields.join(", ") {
                    none if none.is_empty() => none,
                    some => format!(" {{ {some} }}"),
                };
                lines.push(format!("variant {name}::{}{fields}", variant.name));
            }
        }
        for one in &self.callables {
            lines.push(format!("{}{}", one.signature, one.features));
        }
        lines.sort();
        lines.join("\n") + "\n"
    }
}

fn words(path: &syn::Path) -> Vec<String> {
    path.segments
        .iter()
        .map(|segment| segment.ident.to_string())
        .collect()
}

/// The types that a trait is given: `From<Private>` is no part of the surface.
fn arguments(path: &syn::Path) -> Vec<&syn::Path> {
    let syn::PathArguments::AngleBracketed(list) = &path.segments.last().unwrap().arguments else {
        return Vec::new();
    };
    let types = list.args.iter().filter_map(|one| match one {
        syn::GenericArgument::Type(syn::Type::Path(path)) => Some(&path.path),
        _ => None,
    });
    types.collect()
}

fn is_public(visibility: &Visibility) -> bool {
    matches!(visibility, Visibility::Public(_))
}

fn fields(all: &Fields, shown: impl Fn(&Visibility) -> bool) -> Vec<Field> {
    let all = all.iter().enumerate().filter(|(_, one)| shown(&one.vis));
    let made = all.map(|(number, one)| Field {
        name: match &one.ident {
            Some(ident) => ident.to_string(),
            None => number.to_string(),
        },
        of: text::line(&one.ty),
        doc: text::doc(&one.attrs),
    });
    made.collect()
}

fn generics_of(generics: &syn::Generics) -> String {
    if generics.params.is_empty() {
        String::new()
    } else {
        text::line(generics)
    }
}

fn callable(path: String, sig: &syn::Signature, attrs: &[syn::Attribute], outer: &str) -> Callable {
    let inputs = sig.inputs.iter().filter_map(|input| match input {
        FnArg::Typed(one) => Some((text::line(&one.pat), text::line(&one.ty))),
        FnArg::Receiver(_) => None,
    });
    let inputs: Vec<_> = inputs.collect();
    let output = match &sig.output {
        ReturnType::Default => String::new(),
        ReturnType::Type(_, of) => text::line(of),
    };
    let bounds = sig.generics.params.iter().filter_map(|one| match one {
        GenericParam::Type(one) => Some(text::line(one)),
        _ => None,
    });
    let bounds: Vec<_> = bounds.collect();
    let filter = sig.generics.where_clause.as_ref();
    let filter = filter.map(text::line).unwrap_or_default();
    let bounds = format!("{} {filter}", bounds.join(", "));
    let name = sig.ident.to_string();
    let signature = text::line(sig).replacen(&format!("fn {name}"), &format!("fn {path}"), 1);
    Callable {
        path,
        features: format!("{outer}{}", text::features(attrs)),
        signature,
        inputs,
        output,
        bounds,
        doc: text::doc(attrs),
    }
}
