//! Each mutant against the tests that reach it, until one fails.

use crate::{
    Outcome,
    learn::{self, Program, UNIT},
    list,
};
use std::{
    collections::HashMap,
    fs::{self, File},
    io::{BufRead, BufReader, Write},
    path::Path,
    process::Child,
    sync::{
        Mutex,
        atomic::{AtomicUsize, Ordering},
        mpsc::{self, RecvTimeoutError},
    },
    thread,
    time::{Duration, Instant},
};

const WORKERS: usize = 2;

/// Tests of one program that run together.
struct Batch<'p> {
    program: &'p str,
    tests: Vec<&'p str>,
    seconds: f64,
    /// Unit tests of the mutant's own module.
    own: bool,
}

enum End {
    Passed,
    Failed(String),
    TimedOut,
}

/// Runs the mutants of the sources whose paths begin so, two at a time.
pub fn run(work: &Path, stage: &str, sources: &[&str]) -> Outcome<()> {
    let is_unit = stage == UNIT;
    let mut programs = learn::read(work)?;
    programs.retain(|program| (program.name == UNIT) == is_unit);
    let path = work.join(format!("{stage}.tsv"));
    let mut known = outcomes(&path)?;
    if !is_unit {
        let caught = outcomes(&work.join("lib.tsv"))?;
        known.extend(
            caught
                .into_iter()
                .filter(|(_, outcome)| outcome != "missed"),
        );
    }
    let mut left = list::read_states(&work.join("mutants.tsv"))?;
    left.retain(|(_, state, name)| {
        let wanted = sources.iter().any(|source| name.starts_with(source));
        state == "switched" && wanted && !known.contains_key(name)
    });
    println!("{} mutants, {} test programs", left.len(), programs.len());
    let results = Mutex::new(File::options().append(true).create(true).open(path)?);
    let next = AtomicUsize::new(0);
    let worker = || -> std::io::Result<()> {
        while let Some((n, _, name)) = left.get(next.fetch_add(1, Ordering::Relaxed)) {
            let start = Instant::now();
            let (outcome, by) = judge(work, *n, name, &programs)?;
            let seconds = start.elapsed().as_secs_f64();
            let line = format!("{name}\t{outcome}\t{by}\t{seconds:.2}\n");
            let mut results = results
                .lock()
                .unwrap_or_else(|poisoned| poisoned.into_inner());
            results.write_all(line.as_bytes())?;
        }
        Ok(())
    };
    thread::scope(|scope| {
        let workers: Vec<_> = (0..WORKERS).map(|_| scope.spawn(worker)).collect();
        workers
            .into_iter()
            .try_for_each(|worker| worker.join().expect("no worker panics"))
    })?;
    Ok(())
}

/// The outcome by name, of a file of results.
pub fn outcomes(path: &Path) -> Outcome<HashMap<String, String>> {
    if !path.exists() {
        return Ok(HashMap::new());
    }
    let text = fs::read_to_string(path)?;
    let outcomes = text.lines().filter_map(|line| {
        let mut fields = line.split('\t');
        Some((fields.next()?.to_owned(), fields.next()?.to_owned()))
    });
    Ok(outcomes.collect())
}

fn judge(
    work: &Path,
    n: u32,
    name: &str,
    programs: &[Program],
) -> std::io::Result<(&'static str, String)> {
    let batches = batches(n, name, programs);
    if batches.is_empty() {
        return Ok(("missed", "not reached".into()));
    }
    for batch in batches {
        match test(work, n, &batch)? {
            End::Passed => {}
            End::Failed(test) => return Ok(("caught", format!("{} {test}", batch.program))),
            End::TimedOut => return Ok(("timeout", batch.program.to_owned())),
        }
    }
    Ok(("missed", "reached".into()))
}

/// The tests that reach a mutant: those of its own module first, then the quickest.
fn batches<'p>(n: u32, name: &str, programs: &'p [Program]) -> Vec<Batch<'p>> {
    let file = name.split(".rs:").next().unwrap_or_default();
    let module = file
        .trim_start_matches("src/")
        .trim_end_matches("/mod")
        .replace('/', "::")
        + "::";
    let mut batches: HashMap<(&str, bool, u32), Batch<'p>> = HashMap::new();
    for program in programs {
        for test in program.reached.get(&n).into_iter().flatten() {
            let seconds = program.tests.get(test).copied().unwrap_or_default();
            let own = program.name == UNIT && test.starts_with(&module);
            let pace = [0.02, 0.2, 2.0]
                .iter()
                .filter(|&&pace| seconds > pace)
                .count();
            let batch = batches
                .entry((&program.name, own, pace as u32))
                .or_insert(Batch {
                    program: &program.name,
                    tests: Vec::new(),
                    seconds: 0.0,
                    own,
                });
            batch.tests.push(test);
            batch.seconds += seconds;
        }
    }
    let mut batches: Vec<_> = batches.into_values().collect();
    let key = |batch: &Batch<'_>| batch.seconds * if batch.own { 0.1 } else { 1.0 };
    batches.sort_by(|a, b| key(a).total_cmp(&key(b)));
    batches
}

/// Runs a batch until a test fails, the program dies or its time is over.
fn test(work: &Path, n: u32, batch: &Batch<'_>) -> std::io::Result<End> {
    let mut child = learn::command(work, batch.program)
        .args(["--test-threads=1", "--exact"])
        .args(&batch.tests)
        .env("AIRSPLIT_MUTANT", n.to_string())
        .spawn()?;
    let end = watch(&mut child, batch.seconds);
    if !matches!(end, End::Passed) {
        // It may be dead already.
        let _ = child.kill();
    }
    let status = child.wait()?;
    Ok(match end {
        End::Passed if !status.success() => End::Failed("(died)".into()),
        end => end,
    })
}

fn watch(child: &mut Child, usual: f64) -> End {
    let Some(output) = child.stdout.take() else {
        return End::Passed;
    };
    let (send, lines) = mpsc::channel();
    // Ends with the program's output.
    thread::spawn(move || {
        let mut lines = BufReader::new(output).lines().map_while(Result::ok);
        lines.all(|line| send.send(line).is_ok())
    });
    let limit = Instant::now() + Duration::from_secs_f64((5.0 * usual).max(10.0));
    loop {
        let left = limit.saturating_duration_since(Instant::now());
        match lines.recv_timeout(left) {
            Ok(line) => {
                let told = line.strip_prefix("test ");
                if let Some(test) = told.and_then(|line| line.strip_suffix(" ... FAILED")) {
                    return End::Failed(test.trim_end_matches(" - should panic").to_owned());
                }
            }
            Err(RecvTimeoutError::Timeout) => return End::TimedOut,
            Err(RecvTimeoutError::Disconnected) => return End::Passed,
        }
    }
}
