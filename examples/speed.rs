//! How fast is a solve, in units that hold on any machine?
//!
//! Times are the shortest of many, taken in turns with the unit they are told in: one logarithm of
//! the standard library. Every figure of the house is one line, `name value`.
//!
//! ```text
//! cargo run --release --example speed
//! ```

#![allow(clippy::print_stdout, reason = "an example speaks to a person")]
#![allow(unsafe_code, reason = "an allocator that counts must be one")]

use airsplit::{Adjoint, Network, OpenSet, Output, System, Tightness, Workspace};
use std::{
    alloc::{GlobalAlloc, Layout},
    cell::Cell,
    error::Error,
    hint::black_box,
    time::Instant,
};

#[path = "../benches/common/dense.rs"]
mod dense;
#[path = "../benches/common/shop.rs"]
mod shop;

use dense::Dense;
use shop::shop;

thread_local! {
    static ALLOCATIONS: Cell<u64> = const { Cell::new(0) };
}

struct Counting;

// SAFETY: hands everything to the system's allocator.
unsafe impl GlobalAlloc for Counting {
    unsafe fn alloc(&self, layout: Layout) -> *mut u8 {
        ALLOCATIONS.with(|count| count.set(count.get() + 1));
        unsafe { std::alloc::System.alloc(layout) }
    }
    unsafe fn dealloc(&self, pointer: *mut u8, layout: Layout) {
        unsafe { std::alloc::System.dealloc(pointer, layout) }
    }
}

#[global_allocator]
static COUNTING: Counting = Counting;

/// Shortest times of one call of each \[s\]: they take turns, so that what else the machine does
/// meets all of them.
fn shortest<const N: usize>(mut works: [&mut dyn FnMut(); N]) -> [f64; N] {
    let time = |work: &mut dyn FnMut(), calls: u32| {
        let start = Instant::now();
        (0..calls).for_each(|_| work());
        start.elapsed().as_secs_f64() / f64::from(calls)
    };
    let calls = std::array::from_fn::<u32, N, _>(|i| {
        time(works[i], 1);
        (1e-4 / time(works[i], 1)).clamp(1.0, 1e4) as u32
    });
    let mut shortest = [f64::INFINITY; N];
    let begun = Instant::now();
    for round in 0..2_000 {
        for (i, work) in works.iter_mut().enumerate() {
            shortest[i] = shortest[i].min(time(*work, calls[i]));
        }
        if round >= 10 && begun.elapsed().as_secs_f64() > 1.5 {
            break;
        }
    }
    shortest
}

/// A thousand logarithms.
fn logarithms() -> impl FnMut() {
    let numbers: Vec<f64> = (1..=1000).map(|i| f64::from(i) * 0.37).collect();
    move || {
        black_box(black_box(&numbers).iter().map(|x| x.ln()).sum::<f64>());
    }
}

/// A network, its open set, and how much work a cold solve is.
struct Race {
    system: System,
    network: Network,
    open: OpenSet,
    runs: u32,
    passes: u32,
}

impl Race {
    fn new(system: System) -> Result<Self, Box<dyn Error>> {
        let network = Network::new(&system)?;
        let open = network.open_all();
        let mut work = Workspace::default();
        let quality = network.solve(&open, &mut work)?.quality();
        Ok(Self {
            system,
            network,
            open,
            runs: quality.runs,
            passes: quality.passes,
        })
    }

    fn solve(&self) -> impl FnMut() + '_ {
        let mut work = Workspace::default();
        move || {
            let balance = self.network.solve(black_box(&self.open), &mut work);
            black_box(balance.map(|balance| balance.flow()).ok());
        }
    }

    /// Seconds of a cold solve, and logarithms for each run and pass.
    fn effort(&self) -> (f64, f64) {
        let (mut solve, mut unit) = (self.solve(), logarithms());
        let [solve, unit] = shortest([&mut solve, &mut unit]);
        let per = solve / f64::from(self.runs * self.passes);
        (solve, per / (unit / 1000.0))
    }

    /// How many times longer the dense method takes.
    fn dense(&self) -> Result<f64, Box<dyn Error>> {
        let mut dense =
            Dense::new(&self.system, &self.network, &self.open).ok_or("not a shop of this kind")?;
        let mut work = Workspace::default();
        let balance = self.network.solve(&self.open, &mut work)?;
        let mut tree: Vec<f64> = balance.hood_flows().map(|q| q.as_m3_s()).collect();
        let mut found = dense
            .solve(self.passes)
            .ok_or("singular")?
            .as_slice()
            .to_vec();
        tree.sort_by(f64::total_cmp);
        found.sort_by(f64::total_cmp);
        let off = tree.iter().zip(&found).map(|(a, b)| (a / b - 1.0).abs());
        let off = off.fold(0.0, f64::max);
        if off > 1e-9 {
            return Err(format!("the dense method is {off:e} off").into());
        }
        let passes = self.passes;
        let mut solve = self.solve();
        let mut race = || {
            black_box(dense.solve(black_box(passes)));
        };
        let [solve, dense] = shortest([&mut solve, &mut race]);
        Ok(dense / solve)
    }
}

/// A shop of so many hoods whose main leaks through its walls.
fn leaky(hoods: usize) -> System {
    let mut system = shop(hoods);
    for section in &mut system.sections {
        if section.id.as_str().starts_with("trunk") {
            section.tightness = Tightness::Atc5;
        }
    }
    system
}

/// Time of all open sets over that of as many cold solves with half of the hoods open.
fn sweep() -> Result<f64, Box<dyn Error>> {
    let race = Race::new(shop(12))?;
    let half: Vec<OpenSet> = race
        .network
        .open_sets()?
        .filter(|set| set.len() == 6)
        .collect();
    let all: usize = race.network.open_sets()?.len();
    let mut work = Workspace::default();
    let mut cold = || {
        for open in half.iter().cycle().take(all) {
            let balance = race.network.solve(black_box(open), &mut work);
            black_box(balance.map(|balance| balance.flow()).ok());
        }
    };
    let mut sweep = || {
        if let Ok(sets) = race.network.open_sets() {
            let flows = race
                .network
                .sweep(sets)
                .map(|_, balance| balance.map(|b| b.flow()).ok());
            flows.for_each(|flow| {
                black_box(flow);
            });
        }
    };
    let [cold, sweep] = shortest([&mut cold, &mut sweep]);
    Ok(sweep / cold)
}

/// Time of the adjoint of one output over that of one of Newton's sweeps.
fn gradient() -> Result<f64, Box<dyn Error>> {
    let race = Race::new(shop(30))?;
    let (mut work, mut adjoint) = (Workspace::default(), Adjoint::default());
    let balance = race.network.solve(&race.open, &mut work)?;
    let output = Output::Hood("hood 3 0".into());
    let mut gradient = || {
        let influence = balance.influence(black_box(&output), &mut adjoint);
        black_box(influence.map(|influence| influence.collector()).ok());
    };
    let mut solve = race.solve();
    let [solve, gradient] = shortest([&mut solve, &mut gradient]);
    Ok(gradient / (solve / f64::from(race.passes)))
}

/// The dearest section over the cheapest, from shops of ten to ten thousand sections.
fn growth() -> Result<f64, Box<dyn Error>> {
    // In turns, so that a machine that slows down for a while does so for all of them.
    let [tiny, small, middle, large] = [6, 50, 500, 5000].map(|hoods| Race::new(shop(hoods)));
    let races = [tiny?, small?, middle?, large?];
    let [mut tiny, mut small, mut middle, mut large] = races.each_ref().map(Race::solve);
    let times = shortest([&mut tiny, &mut small, &mut middle, &mut large]);
    let (mut least, mut most) = (f64::INFINITY, 0.0_f64);
    for (race, time) in races.iter().zip(times) {
        // Passes are another question.
        let per = time / f64::from(race.passes) / race.system.sections.len() as f64;
        println!(
            "  {:6} sections: {:.1} ns each and pass",
            race.system.sections.len(),
            per * 1e9
        );
        least = least.min(per);
        most = most.max(per);
    }
    Ok(most / least)
}

fn allocations() -> Result<u64, Box<dyn Error>> {
    let race = Race::new(shop(30))?;
    let mut solve = race.solve();
    solve();
    let before = ALLOCATIONS.with(Cell::get);
    solve();
    Ok(ALLOCATIONS.with(Cell::get) - before)
}

fn main() -> Result<(), Box<dyn Error>> {
    println!("Shops that are raced");
    let [small, middle, large] = [6, 30, 1000].map(|hoods| Race::new(shop(hoods)));
    let (small, middle, large) = (small?, middle?, large?);
    let leaking = Race::new(leaky(30))?;
    for (name, race) in [
        ("6 hoods", &small),
        ("30 hoods", &middle),
        ("30 hoods, leaks", &leaking),
        ("1000 hoods", &large),
    ] {
        println!("  {name}: {} runs, {} passes", race.runs, race.passes);
    }
    let growth = growth()?;
    let [effort_6, effort_30, effort_1000] = [&small, &middle, &large].map(Race::effort);
    println!();
    println!("ln_per_run_pass_6 {:.2}", effort_6.1);
    println!("ln_per_run_pass_30 {:.2}", effort_30.1);
    println!("ln_per_run_pass_1000 {:.2}", effort_1000.1);
    println!("ln_per_run_pass_leaks {:.2}", leaking.effort().1);
    // The last pass only verifies.
    println!("newton_steps_6 {}", small.passes - 1);
    println!("us_per_cold_solve_30 {:.2}", 1e6 * effort_30.0);
    println!("us_per_cold_solve_1000 {:.1}", 1e6 * effort_1000.0);
    println!("dense_over_tree_6 {:.2}", small.dense()?);
    println!("dense_over_tree_30 {:.2}", middle.dense()?);
    println!("section_cost_growth {growth:.2}");
    println!("sweep_over_cold {:.2}", sweep()?);
    println!("gradient_over_sweep {:.2}", gradient()?);
    println!("us_per_cold_solve_6 {:.2}", 1e6 * effort_6.0);
    println!("allocations_per_solve {}", allocations()?);
    Ok(())
}
