//! Each mutant against the tests that reach it, until one fails.

use crate::{
    Outcome,
    learn::{self, Program, UNIT},
    list,
};
use std::{
    collections::HashMap,
    env,
    fs::{self, File},
    io::{BufRead, BufReader, Write},
    path::Path,
    process::Child,
    sync::{
        Mutex, MutexGuard,
        atomic::{AtomicUsize, Ordering},
        mpsc::{self, RecvTimeoutError},
    },
    thread,
    time::{Duration, Instant},
};

const WORKERS: usize = 2;

/// So long may those tests of a program take that have caught most.
const FIRST_SECONDS: f64 = 1.5;

/// How many mutants each test has caught.
type Killers = HashMap<String, usize>;

/// Tests of one program that run together.
struct Batch<'p> {
    program: &'p str,
    tests: Vec<&'p str>,
    seconds: f64,
    /// 0 for those that have caught most, 1 for unit tests of the mutant's own module, then by pace.
    class: u32,
}

pub enum End {
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
    let patience = env::var("AIRSPLIT_PATIENCE").ok();
    let patience = patience.map_or(Ok(f64::INFINITY), |seconds| seconds.parse())?;
    let killers = Mutex::new(killers(&path)?);
    let results = Mutex::new(File::options().append(true).create(true).open(path)?);
    let next = AtomicUsize::new(0);
    let worker = || -> std::io::Result<()> {
        while let Some((n, _, name)) = left.get(next.fetch_add(1, Ordering::Relaxed)) {
            let start = Instant::now();
            let first = locked(&killers).clone();
            let Some((outcome, by)) = judge(work, *n, name, &programs, &first, patience)? else {
                continue;
            };
            if outcome == "caught" {
                *locked(&killers).entry(by.clone()).or_default() += 1;
            }
            let seconds = start.elapsed().as_secs_f64();
            let line = format!("{name}\t{outcome}\t{by}\t{seconds:.2}\n");
            locked(&results).write_all(line.as_bytes())?;
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

fn locked<T>(of: &Mutex<T>) -> MutexGuard<'_, T> {
    of.lock().unwrap_or_else(|poisoned| poisoned.into_inner())
}

/// How many mutants each test has caught so far, by program and name.
fn killers(path: &Path) -> Outcome<Killers> {
    let mut killers = Killers::new();
    if path.exists() {
        for line in fs::read_to_string(path)?.lines() {
            if let [_, "caught", by, ..] = line.split('\t').collect::<Vec<_>>()[..] {
                *killers.entry(by.to_owned()).or_default() += 1;
            }
        }
    }
    Ok(killers)
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

/// None where it would take more than that many seconds, by the usual times of the tests.
fn judge(
    work: &Path,
    n: u32,
    name: &str,
    programs: &[Program],
    killers: &Killers,
    patience: f64,
) -> std::io::Result<Option<(&'static str, String)>> {
    let batches = batches(n, name, programs, killers);
    if batches.is_empty() {
        return Ok(Some(("missed", "not reached".into())));
    }
    let mut spent = 0.0;
    for batch in batches {
        spent += batch.seconds;
        if spent > patience {
            return Ok(None);
        }
        let end = match test(work, n, &batch)? {
            End::Passed => continue,
            End::Failed(test) => ("caught", format!("{} {test}", batch.program)),
            End::TimedOut => ("timeout", batch.program.to_owned()),
        };
        return Ok(Some(end));
    }
    Ok(Some(("missed", "reached".into())))
}

/// The tests that reach a mutant: of each program those first that have caught most in their time,
/// then those of its own module, then the quickest.
fn batches<'p>(n: u32, name: &str, programs: &'p [Program], killers: &Killers) -> Vec<Batch<'p>> {
    let file = name.split(".rs:").next().unwrap_or_default();
    let module = file
        .trim_start_matches("src/")
        .trim_end_matches("/mod")
        .replace('/', "::")
        + "::";
    let mut batches: HashMap<(&str, u32), Batch<'p>> = HashMap::new();
    for program in programs {
        let mut tests: Vec<(f64, f64, &str)> = Vec::new();
        for test in program.reached.get(&n).into_iter().flatten() {
            let seconds = program.tests.get(test).copied().unwrap_or_default();
            let caught = killers.get(&format!("{} {test}", program.name));
            let caught = caught.copied().unwrap_or_default() as f64;
            tests.push((caught / (0.02 + seconds), seconds, test));
        }
        tests.sort_by(|a, b| b.0.total_cmp(&a.0));
        let mut sharp = FIRST_SECONDS;
        for (rate, seconds, test) in tests {
            sharp -= seconds;
            let class = if rate > 0.0 && sharp > 0.0 {
                0
            } else if program.name == UNIT && test.starts_with(&module) {
                1
            } else {
                let paces = [0.02, 0.2, 2.0];
                2 + paces.iter().filter(|&&pace| seconds > pace).count() as u32
            };
            let batch = batches.entry((&program.name, class)).or_insert(Batch {
                program: &program.name,
                tests: Vec::new(),
                seconds: 0.0,
                class,
            });
            batch.tests.push(test);
            batch.seconds += seconds;
        }
    }
    let mut batches: Vec<_> = batches.into_values().collect();
    let late = |batch: &Batch<'_>| (batch.class.min(2), batch.seconds);
    batches.sort_by(|a, b| late(a).partial_cmp(&late(b)).expect("no time is NaN"));
    batches
}

/// Runs a batch until a test fails, the program dies or its time is over.
fn test(work: &Path, n: u32, batch: &Batch<'_>) -> std::io::Result<End> {
    let mut child = learn::command(work, batch.program)
        .args(["--test-threads=1", "--exact"])
        .args(&batch.tests)
        .env("AIRSPLIT_MUTANT", n.to_string())
        .spawn()?;
    finish(&mut child, batch.seconds)
}

/// Waits for a failure of a program, its end or five times its usual seconds; ends it.
pub fn finish(child: &mut Child, usual: f64) -> std::io::Result<End> {
    let end = watch(child, usual);
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
