//! Mutants that cannot stand behind a switch: each changes the source as cargo-mutants would, in a
//! build of its own.

use crate::{
    Outcome,
    learn::{self, UNIT},
    list::{self, Mutant},
    make,
    run::{self, End},
};
use std::{
    fs::{self, File},
    io::Write,
    path::Path,
    process::Stdio,
    time::Instant,
};

/// What all unit tests take, on a busy machine.
const SECONDS: f64 = 24.0;

/// Runs them against the unit tests, as far as `apart.tsv` does not know them yet.
pub fn apart(list: &Path, of: &Path, work: &Path) -> Outcome<()> {
    let mutants = list::read(list)?;
    let path = work.join("apart.tsv");
    let known = run::outcomes(&path)?;
    let mut left = list::read_states(&work.join("mutants.tsv"))?;
    left.retain(|(_, state, name)| state.starts_with("not switched") && !known.contains_key(name));
    println!("{} mutants", left.len());
    let apart = work.join("apart");
    let copy = apart.join("crate");
    make::copy_crate(of, &copy)?;
    let mut results = File::options().append(true).create(true).open(path)?;
    for (_, _, name) in left {
        let Some(mutant) = mutants.iter().find(|mutant| mutant.name == name) else {
            return Err(format!("{name} is not in the list").into());
        };
        let source = copy.join(&mutant.file);
        let text = fs::read_to_string(&source)?;
        let start = Instant::now();
        fs::write(&source, changed(&text, mutant)?)?;
        let judged = judge(&apart);
        fs::write(&source, text)?;
        let (outcome, by) = judged?;
        let seconds = start.elapsed().as_secs_f64();
        writeln!(results, "{name}\t{outcome}\t{by}\t{seconds:.2}")?;
    }
    Ok(())
}

/// The source with the mutant's text in place of its own.
fn changed(text: &str, mutant: &Mutant) -> Outcome<String> {
    let place = |(line, column): (usize, usize)| {
        let before: usize = text
            .split_inclusive('\n')
            .take(line - 1)
            .map(str::len)
            .sum();
        let (at, _) = text[before..].char_indices().nth(column - 1)?;
        Some(before + at)
    };
    let (Some(from), Some(to)) = (place(mutant.at), place(mutant.to)) else {
        return Err(format!("{}: no such place in the source", mutant.name).into());
    };
    Ok([&text[..from], &mutant.replacement, &text[to..]].concat())
}

fn judge(work: &Path) -> Outcome<(&'static str, String)> {
    if learn::build(work, &["--lib"], Stdio::null())?.is_none() {
        return Ok(("unviable", String::new()));
    }
    let mut child = learn::command(work, UNIT).spawn()?;
    Ok(match run::finish(&mut child, SECONDS)? {
        End::Passed => ("missed", String::new()),
        End::Failed(test) => ("caught", test),
        End::TimedOut => ("timeout", String::new()),
    })
}
