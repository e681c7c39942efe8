//! Makes the copy of the crate with its switches, and takes out those that do not compile.

use crate::{
    Outcome,
    find::{self, Bytes, Site},
    list::{self, Mutant, State},
    switch::{self, Owner, Switched},
};
use serde_json::Value;
use std::{
    collections::BTreeSet,
    fs,
    path::Path,
    process::{Command, Stdio},
};

/// A source that mutants stand in.
struct Source {
    file: String,
    text: String,
    sites: Vec<Site>,
    switched: Switched,
}

pub fn make(list: &Path, of: &Path, work: &Path) -> Outcome<()> {
    let mut mutants = list::read(list)?;
    let copy = work.join("crate");
    copy_crate(of, &copy)?;
    let files: BTreeSet<String> = mutants.iter().map(|mutant| mutant.file.clone()).collect();
    let mut sources = Vec::new();
    for file in files {
        let text = fs::read_to_string(of.join(&file))?;
        let sites = find::sites(&text, &file, &mut mutants)?;
        let switched = switch::switch(&text, &sites, &mutants);
        sources.push(Source {
            file,
            text,
            sites,
            switched,
        });
    }
    // What a run before found not to compile need not be tried again.
    let states = work.join("mutants.tsv");
    if states.exists() {
        list::take_over(&states, &mut mutants)?;
    }
    let library = fs::read_to_string(of.join("src/lib.rs"))?;
    let library = library.replacen("#![forbid(", "#![allow(warnings)]\n#![forbid(", 1);
    fs::write(copy.join("src/lib.rs"), library + "\nmod mutant;\n")?;
    fs::write(copy.join("src/mutant.rs"), include_str!("mutant.txt"))?;
    for round in 1.. {
        for source in &mut sources {
            source.switched = switch::switch(&source.text, &source.sites, &mutants);
            fs::write(copy.join(&source.file), &source.switched.text)?;
        }
        let errors = check(&copy)?;
        list::write_states(&states, &mutants)?;
        let count = mutants.iter().filter(|mutant| mutant.is_switched()).count();
        println!("round {round}: {count} switched, {} errors", errors.len());
        if errors.is_empty() {
            break;
        }
        let dropped = errors
            .iter()
            .filter(|error| take_out(error, &sources, &mut mutants))
            .count();
        if dropped == 0 {
            for error in errors {
                eprintln!("{:?}: {}", error.places, error.text);
            }
            return Err("none of these errors belongs to a mutant".into());
        }
    }
    Ok(())
}

/// What is under version control, so that no build and no leftover comes along.
pub fn copy_crate(of: &Path, to: &Path) -> Outcome<()> {
    let listed = Command::new("git")
        .arg("-C")
        .arg(of)
        .args(["ls-files", "-z"])
        .output()?;
    for file in String::from_utf8(listed.stdout)?.split_terminator('\0') {
        let target = to.join(file);
        fs::create_dir_all(target.parent().unwrap_or(to))?;
        fs::copy(of.join(file), target)?;
    }
    Ok(())
}

struct Fault {
    /// Files and bytes that it points at, the likeliest first.
    places: Vec<(String, Bytes)>,
    text: String,
}

/// The errors of the library and its unit tests.
fn check(copy: &Path) -> Outcome<Vec<Fault>> {
    let build = ["check", "--lib", "--profile", "test", "--features", "rayon"];
    let output = Command::new("cargo")
        .args(build)
        .args(["--message-format=json", "--quiet"])
        .current_dir(copy)
        .stderr(Stdio::inherit())
        .output()?;
    let mut faults = Vec::new();
    for line in String::from_utf8_lossy(&output.stdout).lines() {
        let message: Value = serde_json::from_str(line)?;
        let message = &message["message"];
        if message["level"] != "error" {
            continue;
        }
        let mut spans: Vec<&Value> = message["spans"].as_array().into_iter().flatten().collect();
        spans.sort_by_key(|span| span["is_primary"] != true);
        let places = spans.into_iter().map(|span| {
            let at = |key: &str| span[key].as_u64().unwrap_or_default() as usize;
            let file = span["file_name"].as_str().unwrap_or_default();
            (file.to_owned(), at("byte_start")..at("byte_end"))
        });
        let places: Vec<_> = places.collect();
        if !places.is_empty() {
            let text = format!("{} {}", message["code"]["code"], message["message"]);
            let text = text.replace(['\n', '\t', '"'], " ");
            faults.push(Fault { places, text });
        }
    }
    if faults.is_empty() && !output.status.success() {
        return Err("cargo check failed and told no place".into());
    }
    Ok(faults)
}

/// Takes out what an error belongs to; false where nothing is left to be taken out.
fn take_out(error: &Fault, sources: &[Source], mutants: &mut [Mutant]) -> bool {
    let text = error.text.clone();
    let owners = error.places.iter().filter_map(|(file, bytes)| {
        let source = sources.iter().find(|source| source.file == *file)?;
        Some((source, source.switched.owner(bytes)?))
    });
    let owners: Vec<_> = owners.collect();
    // One mutant rather than a whole site.
    let one = owners
        .iter()
        .find(|(_, owner)| matches!(owner, Owner::Mutant(_)));
    let owned = one.or(owners.first()).copied();
    let Some((source, owner)) = owned else {
        return false;
    };
    match owner {
        Owner::Mutant(n) => {
            let mutant = &mut mutants[n];
            // Written otherwise than cargo-mutants would.
            let ours = match mutant.genre.as_str() {
                "FnValue" => mutant.returns.contains("impl ") && !text.contains(": Default"),
                genre => genre == "StructField",
            };
            mutant.state = match ours {
                true => State::NotSwitched(text),
                false => State::Unviable(text),
            };
        }
        Owner::Site(i) => {
            for &n in &source.sites[i].mutants {
                if mutants[n].is_switched() {
                    mutants[n].state = State::NotSwitched(text.clone());
                }
            }
        }
    }
    true
}
