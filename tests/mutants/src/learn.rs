//! Builds the test programs of the copy, and learns how long each test takes and what it reaches.

use crate::Outcome;
use serde_json::Value;
use std::{
    collections::{BTreeMap, BTreeSet},
    fs,
    path::Path,
    process::{Command, Stdio},
};

/// The test program that reads sources and judges no behaviour.
const READER: &str = "sources";

/// The name of the program of all unit tests.
pub const UNIT: &str = "lib";

/// A test program as it was learnt.
pub struct Program {
    pub name: String,
    /// Usual seconds of each test, by name. Tests that fail without a mutant are left out.
    pub tests: BTreeMap<String, f64>,
    /// The tests that reach each mutant.
    pub reached: BTreeMap<u32, BTreeSet<String>>,
}

/// Builds and learns the unit tests, all test programs or those named.
pub fn learn(work: &Path, which: &str) -> Outcome<()> {
    fs::create_dir_all(work.join("learnt"))?;
    let wanted: Vec<String> = match which {
        UNIT => vec!["--lib".into()],
        "all" => vec!["--tests".into()],
        names => names
            .split(',')
            .map(|name| format!("--test={name}"))
            .collect(),
    };
    let wanted: Vec<&str> = wanted.iter().map(String::as_str).collect();
    let Some(programs) = build(work, &wanted, Stdio::inherit())? else {
        return Err("the tests do not build".into());
    };
    programs.iter().try_for_each(|name| learn_one(work, name))
}

/// Builds test programs of the copy into `bin`; their names, or none if they do not compile.
pub fn build(work: &Path, wanted: &[&str], errors: Stdio) -> Outcome<Option<Vec<String>>> {
    fs::create_dir_all(work.join("bin"))?;
    let built = Command::new("cargo")
        .args(["test", "--no-run", "--features", "rayon"])
        .args(wanted)
        .args(["--message-format=json", "--quiet"])
        .current_dir(work.join("crate"))
        .stderr(errors)
        .output()?;
    if !built.status.success() {
        return Ok(None);
    }
    let mut names = Vec::new();
    for line in String::from_utf8_lossy(&built.stdout).lines() {
        let message: Value = serde_json::from_str(line)?;
        let (Some(program), Some(name), Some(kind)) = (
            message["executable"].as_str(),
            message["target"]["name"].as_str(),
            message["target"]["kind"][0].as_str(),
        ) else {
            continue;
        };
        let name = if kind == "test" { name } else { UNIT };
        if name == READER || kind == "example" || kind == "bench" {
            continue;
        }
        // A copy, so that the next build does not pull it away from under a run.
        fs::copy(program, work.join("bin").join(name))?;
        names.push(name.to_owned());
    }
    Ok(Some(names))
}

fn learn_one(work: &Path, name: &str) -> Outcome<()> {
    let timed = command(work, name)
        .args(["--test-threads=1", "-Zunstable-options", "--report-time"])
        // Times of tests are shown by the nightly only, or on this word.
        .env("RUSTC_BOOTSTRAP", "1")
        .output()?;
    let mut times = String::new();
    for line in String::from_utf8_lossy(&timed.stdout).lines() {
        let told = line
            .strip_prefix("test ")
            .and_then(|line| line.split_once(" ... "));
        let Some((test, told)) = told else {
            continue;
        };
        let test = test.trim_end_matches(" - should panic");
        match told
            .strip_prefix("ok <")
            .and_then(|time| time.strip_suffix("s>"))
        {
            Some(seconds) => times += &format!("{seconds}\t{test}\n"),
            None => println!("{name}: {test} is left out: {told}"),
        }
    }
    let learnt = work.join("learnt");
    fs::write(learnt.join(format!("{name}.times")), times)?;
    let record = learnt.join(format!("{name}.reached"));
    if record.exists() {
        fs::remove_file(&record)?;
    }
    let done = command(work, name)
        .arg("--test-threads=2")
        .env("AIRSPLIT_MUTANT", "record")
        .env("AIRSPLIT_REACHED", &record)
        .output()?;
    println!("{name}: learnt; the recording {}", done.status);
    Ok(())
}

/// A test program with the environment of all runs, its memory limited.
pub fn command(work: &Path, name: &str) -> Command {
    let copy = work.join("crate");
    let mut command = Command::new("sh");
    command
        .args(["-c", "ulimit -v 6291456 && exec \"$0\" \"$@\""])
        .arg(work.join("bin").join(name))
        .current_dir(&copy)
        .env("CARGO_MANIFEST_DIR", &copy)
        .env("AIRSPLIT_MUTANT", "none")
        .env("PROPTEST_RNG_SEED", "20261125")
        .env("PROPTEST_MAX_SHRINK_ITERS", "0")
        .env("PROPTEST_DISABLE_FAILURE_PERSISTENCE", "true")
        .env("INSTA_UPDATE", "no")
        .env("INSTA_WORKSPACE_ROOT", &copy)
        .env("RAYON_NUM_THREADS", "2")
        .stdin(Stdio::null())
        .stderr(Stdio::null())
        .stdout(Stdio::piped());
    command
}

/// What was learnt of all programs.
pub fn read(work: &Path) -> Outcome<Vec<Program>> {
    let mut programs = Vec::new();
    for entry in fs::read_dir(work.join("learnt"))? {
        let path = entry?.path();
        if path
            .extension()
            .is_none_or(|extension| extension != "times")
        {
            continue;
        }
        let name = path
            .file_stem()
            .unwrap_or_default()
            .to_string_lossy()
            .into_owned();
        let text = fs::read_to_string(&path)?;
        let tests = text.lines().filter_map(|line| {
            let (seconds, test) = line.split_once('\t')?;
            Some((test.to_owned(), seconds.parse().ok()?))
        });
        let tests: BTreeMap<String, f64> = tests.collect();
        let mut reached: BTreeMap<u32, BTreeSet<String>> = BTreeMap::new();
        let record = fs::read_to_string(path.with_extension("reached")).unwrap_or_default();
        for (n, test) in record.lines().filter_map(|line| line.split_once('\t')) {
            let by = reached.entry(n.parse()?).or_default();
            if tests.contains_key(test) {
                by.insert(test.to_owned());
            } else {
                // A thread that a test started, or one left out: any of them.
                by.extend(tests.keys().cloned());
            }
        }
        programs.push(Program {
            name,
            tests,
            reached,
        });
    }
    programs.sort_by(|a, b| a.name.cmp(&b.name));
    Ok(programs)
}
