//! The mutants as cargo-mutants lists them, and what became of each.

use crate::Outcome;
use serde_json::Value;
use std::{collections::HashMap, fs, path::Path};

pub struct Mutant {
    pub name: String,
    pub file: String,
    pub genre: String,
    pub replacement: String,
    /// The return type of its function.
    pub returns: String,
    /// Where the changed text begins: line and column, from 1.
    pub at: (usize, usize),
    /// Behind its last character.
    pub to: (usize, usize),
    pub state: State,
}

#[derive(Clone, PartialEq)]
pub enum State {
    Switched,
    /// It does not compile.
    Unviable(String),
    /// A switch cannot stand there.
    NotSwitched(String),
}

impl Mutant {
    pub fn is_switched(&self) -> bool {
        self.state == State::Switched
    }
}

/// Reads what `cargo mutants --list --json` printed.
pub fn read(path: &Path) -> Outcome<Vec<Mutant>> {
    let list: Vec<Value> = serde_json::from_slice(&fs::read(path)?)?;
    let mutants = list.iter().map(|one| {
        let text = |key: &str| one[key].as_str().unwrap_or_default().to_owned();
        let place = |end: &str| {
            let place = &one["span"][end];
            let of = |what: &str| place[what].as_u64().unwrap_or_default() as usize;
            (of("line"), of("column"))
        };
        let returns = one["function"]["return_type"].as_str();
        Mutant {
            name: text("name"),
            file: text("file"),
            genre: text("genre"),
            replacement: text("replacement"),
            returns: returns.unwrap_or_default().to_owned(),
            at: place("start"),
            to: place("end"),
            state: State::NotSwitched("not found in the source".into()),
        }
    });
    Ok(mutants.collect())
}

/// Writes number, state and name of each.
pub fn write_states(path: &Path, mutants: &[Mutant]) -> Outcome<()> {
    let lines = mutants.iter().enumerate().map(|(n, mutant)| {
        let state = match &mutant.state {
            State::Switched => "switched".into(),
            State::Unviable(why) => format!("unviable: {why}"),
            State::NotSwitched(why) => format!("not switched: {why}"),
        };
        format!("{n}\t{state}\t{}\n", mutant.name)
    });
    Ok(fs::write(path, lines.collect::<String>())?)
}

/// Number, state and name of each, as they were written.
pub fn read_states(path: &Path) -> Outcome<Vec<(u32, String, String)>> {
    let text = fs::read_to_string(path)?;
    let lines = text.lines().filter_map(|line| {
        let mut fields = line.splitn(3, '\t');
        let n = fields.next()?.parse().ok()?;
        Some((n, fields.next()?.to_owned(), fields.next()?.to_owned()))
    });
    Ok(lines.collect())
}

/// Takes over which mutants were taken out, by name.
pub fn take_over(path: &Path, mutants: &mut [Mutant]) -> Outcome<()> {
    let known = read_states(path)?;
    let known: HashMap<String, String> = known
        .into_iter()
        .map(|(_, state, name)| (name, state))
        .collect();
    for mutant in mutants.iter_mut().filter(|mutant| mutant.is_switched()) {
        let state = known.get(&mutant.name).map_or("switched", String::as_str);
        if let Some(why) = state.strip_prefix("unviable: ") {
            mutant.state = State::Unviable(why.into());
        } else if let Some(why) = state.strip_prefix("not switched: ") {
            mutant.state = State::NotSwitched(why.into());
        }
    }
    Ok(())
}
