//! Counts what is known, and lists the survivors.

use crate::{Outcome, list, run};
use std::{collections::BTreeMap, fs, path::Path};

/// Survivors that no test can catch: file, mutation, how many such, and why.
const EXPLAINED: &str = include_str!("../survivors.tsv");

/// Prints the counts of each floor; writes `missed.txt`, the survivors that nothing explains.
pub fn tell(work: &Path) -> Outcome<()> {
    let by_unit = run::outcomes(&work.join("lib.tsv"))?;
    let by_others = run::outcomes(&work.join("all.tsv"))?;
    let apart = run::outcomes(&work.join("apart.tsv"))?;
    let mut counts: BTreeMap<(String, &str), usize> = BTreeMap::new();
    let mut explained = explained()?;
    let mut missed = String::new();
    for (_, state, name) in list::read_states(&work.join("mutants.tsv"))? {
        let floor = name.split('/').nth(1).unwrap_or_default().to_owned();
        let unit = by_unit.get(&name).map(String::as_str);
        let others = by_others.get(&name).map(String::as_str);
        let mut outcome = match (state.as_str(), unit, others) {
            ("switched", None, None) => "not run",
            ("switched", Some("caught" | "timeout"), _) => "caught by unit tests",
            ("switched", _, Some("caught" | "timeout")) => "caught by other tests",
            ("switched", _, Some(_)) => "missed by all",
            ("switched", Some(_), None) => "missed by unit tests, others not run",
            (state, ..) if state.starts_with("unviable") => "unviable",
            _ => match apart.get(&name).map(String::as_str) {
                Some("caught" | "timeout") => "caught apart",
                Some("unviable") => "unviable",
                Some(_) => "missed apart",
                None => "not switched",
            },
        };
        if outcome.starts_with("missed") {
            match explained.get_mut(&placeless(&name)) {
                Some(left) if *left > 0 => {
                    *left -= 1;
                    outcome = "missed, explained";
                }
                _ => missed += &format!("{name}\n"),
            }
        }
        *counts.entry((floor, outcome)).or_default() += 1;
    }
    for ((floor, outcome), count) in counts {
        println!("{floor}\t{outcome}\t{count}");
    }
    for (name, left) in explained.iter().filter(|(_, left)| **left > 0) {
        println!("explained, but caught or gone: {name}, {left} times");
    }
    fs::write(work.join("missed.txt"), missed)?;
    Ok(())
}

/// How many survivors of each name are explained.
fn explained() -> Outcome<BTreeMap<String, usize>> {
    let lines = EXPLAINED.lines().filter(|line| !line.starts_with('#'));
    lines
        .map(|line| match line.split('\t').collect::<Vec<_>>()[..] {
            [file, mutation, count, _why] => Ok((format!("{file}: {mutation}"), count.parse()?)),
            _ => Err(format!("survivors.tsv: four columns, not {line:?}").into()),
        })
        .collect()
}

/// A mutant's name without its line and column, which move.
fn placeless(name: &str) -> String {
    let (file, rest) = name.split_once(':').unwrap_or((name, ""));
    let mutation = rest.split_once(": ").map_or(rest, |(_, mutation)| mutation);
    format!("{file}: {mutation}")
}
