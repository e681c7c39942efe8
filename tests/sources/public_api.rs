//! The public surface: a list in which every change shows, whose types stand in it, and what can
//! grow without breaking anyone.
#![allow(
    clippy::panic,
    clippy::unwrap_used,
    reason = "a test that cannot go on must stop"
)]

use crate::public::{Public, walk};
use std::{collections::BTreeSet, fs};

const LIST: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/data/public_api.txt");
const RENEW: &str = "RENEW_PUBLIC_API=1 cargo test --test sources public_api::regress_";

/// What is in one and not in the other, each line marked.
fn difference(old: &str, new: &str) -> String {
    let (was, is): (BTreeSet<_>, BTreeSet<_>) = (old.lines().collect(), new.lines().collect());
    let gone = was.difference(&is).map(|line| format!("- {line}"));
    let come = is.difference(&was).map(|line| format!("+ {line}"));
    gone.chain(come).collect::<Vec<_>>().join("\n")
}

#[test]
fn regress_the_list_of_public_items_is_the_committed_one() {
    let now = walk().list();
    if std::env::var_os("RENEW_PUBLIC_API").is_some() {
        fs::write(LIST, &now).unwrap();
    }
    let committed = fs::read_to_string(LIST).unwrap_or_default();
    let changed = difference(&committed, &now);
    assert!(
        changed.is_empty() && committed == now,
        "the public items changed:\n{changed}\nIf that is meant, renew the list and commit it: {RENEW}"
    );
}

#[test]
fn a_change_of_the_list_shows() {
    assert_eq!(difference("a\nb\n", "a\nc\n"), "- b\n+ c");
    assert_eq!(difference("a\n", "a\n"), "");
}

#[test]
fn the_walk_finds_what_is_known_to_be_there() {
    let list = walk().list();
    for line in [
        "struct Length: made by `quantity!`",
        "const fn VolumeFlow::as_cfm(self) -> f64; in \"cfm\"",
        "variant Bore::Rectangular { width: Length, height: Length }",
        "field System.sections: Vec<Section>",
        "fn Network::new(system: &System) -> Result<Self, ModelErrors>",
        "fn audit(system: &System, point: &OperatingPoint) -> Result<Audit, ModelErrors>",
        "impl IntoIterator for &'a ModelErrors; Item = &'a ModelError; IntoIter = std::slice::Iter<'a, ModelError>",
    ] {
        assert!(list.lines().any(|one| one == line), "not found: {line}");
    }
    assert!(list.lines().count() > 2000);
}

/// Types and traits of the standard library and of serde that a public signature may name.
const FOREIGN: &[&str] = &[
    "Add",
    "AsRef",
    "BTreeMap",
    "Borrow",
    "Box",
    "Clone",
    "Copy",
    "Cow",
    "Debug",
    "Default",
    "Display",
    "Eq",
    "Error",
    "ExactSizeIterator",
    "Fn",
    "FnMut",
    "From",
    "FusedIterator",
    "Hash",
    "Into",
    "IntoIter",
    "IntoIterator",
    "Item",
    "Iter",
    "Iterator",
    "Mul",
    "Option",
    "Ord",
    "Output",
    "PartialEq",
    "PartialOrd",
    "Result",
    "Self",
    "Send",
    "String",
    "Sub",
    "Sum",
    "Sync",
    "TryFrom",
    "Vec",
    // serde
    "Deserialize",
    "Serialize",
];

/// Capitalised words of a line that are neither public items, nor known foreign ones, nor the
/// single letters of generic parameters.
fn strangers(line: &str, public: &BTreeSet<&str>) -> Vec<String> {
    line.split(|c: char| !(c.is_alphanumeric() || c == '_'))
        .filter(|word| word.len() > 1 && word.starts_with(char::is_uppercase))
        .filter(|word| !public.contains(word) && !FOREIGN.contains(word))
        .map(str::to_string)
        .collect()
}

/// What a public item says in types, without its own name.
fn types_of(items: &Public) -> Vec<String> {
    let mut lines = Vec::new();
    for one in &items.types {
        let variants = one.variants.iter().flat_map(|variant| &variant.fields);
        for field in one.fields.iter().chain(variants) {
            lines.push(format!("{}.{}: {}", one.name, field.name, field.of));
        }
    }
    for one in &items.callables {
        let inputs = one.inputs.iter().map(|(name, of)| format!("{name}: {of}"));
        let inputs = inputs.collect::<Vec<_>>().join(", ");
        let (path, output, bounds) = (&one.path, &one.output, &one.bounds);
        lines.push(format!("{path}({inputs}) -> {output} {bounds}"));
    }
    let traits = items.lines.iter().filter(|line| line.starts_with("impl "));
    lines.extend(traits.cloned());
    lines
}

/// So nothing of nalgebra, roots, levenberg-marquardt, rayon or thiserror, whose versions could
/// then not be changed without breaking users; and no type of this crate that has no public name.
#[test]
fn public_signatures_name_public_types_only() {
    let items = walk();
    let mut public: BTreeSet<&str> = items.types.iter().map(|one| one.name.as_str()).collect();
    let made = items.lines.iter().filter_map(|line| {
        let line = line.strip_prefix("struct ")?;
        line.strip_suffix(": made by `quantity!`")
    });
    public.extend(made);
    let lines = types_of(&items);
    assert!(lines.len() > 1000, "the items were not read");
    let wrong: Vec<_> = lines
        .iter()
        .filter(|line| !strangers(line, &public).is_empty())
        .map(|line| format!("{:?} in {line}", strangers(line, &public)))
        .collect();
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    // The test itself sees a stranger.
    let leak = "impl From<TerminationReason> for FitEnd";
    assert_eq!(strangers(leak, &public), ["TerminationReason"]);
    for word in [
        "nalgebra",
        "levenberg_marquardt",
        "roots::",
        "rayon",
        "plotters",
        "thiserror",
    ] {
        let named: Vec<_> = lines.iter().filter(|line| line.contains(word)).collect();
        assert!(named.is_empty(), "{word}: {named:?}");
    }
}

/// Structs that anyone may write as a literal, because all of their fields belong to what they
/// mean: a new field would be a new type, and a literal that lacks one should not compile.
const LITERALS: &[(&str, &[&str])] = &[
    (
        "the model as plain data: the user writes it, and a system is what its fields say",
        &[
            "Collector",
            "Hood",
            "Join",
            "Machine",
            "Run",
            "Section",
            "System",
        ],
    ),
    (
        "the data of an element: the numbers of its law, all of them needed",
        &[
            "Cloth",
            "Cyclone",
            "DustCake",
            "Gate",
            "Heads",
            "Hose",
            "HoseBend",
            "Inlet",
            "Port",
            "RatedDrop",
        ],
    ),
    (
        "the fan's data: which parts were fitted, its motor, a point picked from a picture",
        &["FanDrive", "Fitted", "Motor", "PickedPoint"],
    ),
    (
        "a line of a question's list: a name or place and its value",
        &[
            "DustLoading",
            "FutureHood",
            "HoodNeed",
            "NewHood",
            "NumberAt",
            "PredictedChange",
            "SectionShell",
            "SectionVelocity",
            "SharedError",
            "UncertainAt",
            "Uncertain",
            "Upgrade",
            "UseWeight",
        ],
    ),
    (
        "a line of the list of material or of prices, as the document has it",
        &["JunctionInlet", "Price", "PriceTable", "Stock"],
    ),
    (
        "what a reading was taken with and where",
        &["PitotTube", "Station"],
    ),
];

/// Enums that cannot grow.
const CLOSED: &[(&str, &str)] = &[
    ("FanOfPair", "a pair has two"),
    ("StraightSide", "air has one way in and one way out"),
];

#[test]
fn what_can_grow_is_non_exhaustive() {
    let items = walk();
    let literals: BTreeSet<_> = LITERALS.iter().flat_map(|(_, names)| *names).collect();
    let closed: BTreeSet<_> = CLOSED.iter().map(|(name, _)| name).collect();
    let mut wrong = Vec::new();
    let mut seen = BTreeSet::new();
    for one in &items.types {
        let name = one.name.as_str();
        let excused = literals.contains(&name) || closed.contains(&name);
        let open = one.non_exhaustive || (one.kind == "struct" && one.private_fields);
        match (open, excused) {
            (false, false) => wrong.push(format!(
                "{} {name} can neither grow nor stands among the exceptions",
                one.kind
            )),
            (true, true) => wrong.push(format!("{name} is no exception any more; take it out")),
            _ => {}
        }
        seen.insert(name);
    }
    for name in literals.into_iter().chain(closed) {
        if !seen.contains(name) {
            wrong.push(format!(
                "{name} stands among the exceptions and is no public type"
            ));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// Errors are shown, compared and sent between threads by those who embed the crate.
#[test]
fn every_public_type_has_debug_and_clone_and_errors_compare() {
    let items = walk();
    // A look at the work memory of a solve, which the next solve writes over.
    let once = ["Balance"];
    let mut wrong = Vec::new();
    for one in &items.types {
        let has = |name: &str| {
            let manual = format!("impl {name} for {}", one.name);
            one.derives.iter().any(|derived| derived == name)
                || items.lines.iter().any(|line| line.starts_with(&manual))
        };
        if !has("Debug") {
            wrong.push(format!("{} has no Debug", one.name));
        }
        if !has("Clone") && !once.contains(&one.name.as_str()) {
            wrong.push(format!("{} has no Clone", one.name));
        }
        if has("Error") && !has("PartialEq") {
            wrong.push(format!("{} is an error and cannot be compared", one.name));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
