//! Mutation testing of whole floors with one build.
//!
//! cargo-mutants changes the source in one place, builds, runs the tests, and so on for thousands of
//! places: days of building. Here all of its mutants stand in one build of a copy of the crate, each
//! behind a switch that the environment sets, and which test reaches which mutant is recorded first,
//! so that each mutant meets only the tests that can see it.
//!
//! ```text
//! cargo install cargo-mutants --locked
//! cargo mutants --list --json -f 'src/loss/**' -f 'src/fan/**' -f 'src/solve/**' \
//!     -f 'src/decide/**' > /tmp/list.json           # from the root of the crate
//! cd tests/mutants && cargo build --release
//! M=target/release/airsplit-mutants
//! $M make /tmp/list.json ../.. /tmp/mutants         # the copy, until it builds
//! $M learn /tmp/mutants lib                         # or `all`, or names of test programs
//! $M run /tmp/mutants lib src/loss,src/fan          # unit tests; goes on where it was stopped
//! $M run /tmp/mutants all src/loss,src/fan          # the other tests, on what the first left
//! $M apart /tmp/list.json ../.. /tmp/mutants        # those without a switch: half a minute each
//! $M tell /tmp/mutants                              # counts; survivors nobody explains: missed.txt
//! ```
//!
//! `make` writes `mutants.tsv` into the work folder: number, state, name. A mutant is `switched`;
//! or `unviable`, as it does not compile for anyone; or `not switched`, as a switch cannot stand
//! there (constants, opaque types): `apart` builds each by itself, best with `CARGO_INCREMENTAL=1`,
//! and asks the unit tests. `run` and `apart` append to `lib.tsv`, `all.tsv` and `apart.tsv`: name,
//! outcome, by which test, seconds; with `AIRSPLIT_PATIENCE=4` `run` leaves those open whose tests
//! take more seconds than that, for most are caught within few. Delete lines of them (timeouts of a
//! busy machine, survivors that new tests may catch) and these mutants are run again. By hand, in
//! the copy: `AIRSPLIT_MUTANT=17 cargo test --features rayon`.
//!
//! `survivors.tsv` beside this crate explains those that no test can catch; `tell` counts them apart.
//!
//! Operators are exchanged in the tree of the expression, not in its text: `a + b + c` with the first
//! `+` exchanged is `(a * b) + c` and with the second `(a + b) * c`.

mod apart;
mod find;
mod learn;
mod list;
mod make;
mod run;
mod switch;
mod tell;

use std::{env, path::Path, process::ExitCode};

type Outcome<T> = Result<T, Box<dyn std::error::Error>>;

const USAGE: &str = "make LIST.json CRATE WORK | learn WORK lib|all|NAME,NAME \
    | run WORK lib|all SRC,SRC | apart LIST.json CRATE WORK | tell WORK";

fn main() -> ExitCode {
    let arguments: Vec<String> = env::args().skip(1).collect();
    let arguments: Vec<&str> = arguments.iter().map(String::as_str).collect();
    let done = match arguments[..] {
        ["make", list, of, work] => make::make(list.as_ref(), of.as_ref(), work.as_ref()),
        ["apart", list, of, work] => apart::apart(list.as_ref(), of.as_ref(), work.as_ref()),
        ["learn", work, which] => learn::learn(work.as_ref(), which),
        ["run", work, stage @ ("lib" | "all"), sources] => run::run(
            work.as_ref(),
            stage,
            &sources.split(',').collect::<Vec<_>>(),
        ),
        ["tell", work] => tell::tell(Path::new(work)),
        _ => Err(USAGE.into()),
    };
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("{error}");
            ExitCode::FAILURE
        }
    }
}
