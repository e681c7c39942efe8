//! Does every tree find its balance, and in how many Newton steps?
//!
//! Random trees of 2 to 2000 hoods: diameters of 50 to 500 mm in any order, loss coefficients from 0
//! to 1e6, every run with some length or loss, three junction models within their range, shut gates
//! that leak down to a square millimetre. Prints the worst and the slowest of them with its seed,
//! and what an audit of every hundredth finds.
//!
//! ```text
//! cargo run --release --example robustness -- [TREES] [FIRST SEED]
//! ```

#![allow(clippy::print_stdout, reason = "an example speaks to a person")]

use airsplit::{
    Air, Angle, Area, Basis, Bore, Collector, Density, Entry, FanCurve, Fitted, Gate, Hood,
    Junction, Length, Network, OpenSet, Part, Pressure, Run, Section, SolveError, Start, System,
    UnknownName, Violation, VolumeFlow, Wall, Workspace, audit,
};
use std::{
    error::Error,
    time::{Duration, Instant},
};

/// Every so many trees are audited.
const AUDITED: u64 = 100;

/// G. Marsaglia, Xorshift RNGs, 2003.
struct Random(u64);

impl Random {
    fn new(seed: u64) -> Self {
        let mut random = Self(seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) | 1);
        for _ in 0..8 {
            random.unit();
        }
        random
    }

    fn unit(&mut self) -> f64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 >> 11) as f64 / (1_u64 << 53) as f64
    }

    fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    /// Evenly spread in the logarithm.
    fn decades(&mut self, low: f64, high: f64) -> f64 {
        low * (high / low).powf(self.unit())
    }

    fn chance(&mut self, share: f64) -> bool {
        self.unit() < share
    }

    fn below(&mut self, count: usize) -> usize {
        ((self.unit() * count as f64) as usize).min(count - 1)
    }
}

fn main() -> Result<(), Box<dyn Error>> {
    let mut args = std::env::args().skip(1);
    let trees: u64 = args.next().map_or(Ok(2_000), |text| text.parse())?;
    let first: u64 = args.next().map_or(Ok(1), |text| text.parse())?;
    let mut steps = [0_u64; 64];
    let mut worst = (0, 0, 0);
    let mut slowest = (Duration::ZERO, 0, 0);
    let mut audited: Option<(Violation, u64)> = None;
    let mut failed = 0;
    let mut work = Workspace::default();
    for seed in first..first + trees {
        let case = Case::of(seed);
        let network =
            Network::new(&case.system).map_err(|faults| format!("seed {seed}: {faults}"))?;
        let open = case.open(&network)?;
        let hoods = network.hoods().len();
        let start = Instant::now();
        let solved = network.solve(&open, &mut work);
        slowest = slowest.max((start.elapsed(), hoods, seed));
        match solved {
            Ok(balance) => {
                // The last pass only verifies.
                let taken = balance.quality().passes - 1;
                steps[taken as usize] += 1;
                if taken > worst.0 {
                    worst = (taken, hoods, seed);
                }
                if seed % AUDITED == 0 {
                    let found = audit(&case.system, &balance.to_point())?.worst().clone();
                    if audited
                        .as_ref()
                        .is_none_or(|(worst, _)| found.value > worst.value)
                    {
                        audited = Some((found, seed));
                    }
                }
            }
            Err(SolveError::NotConverged(evidence)) => {
                failed += 1;
                let quality = &evidence.quality;
                println!(
                    "seed {seed}: {hoods} hoods, no balance: pressure {:.1e} at {}, step {:.1e} at {}",
                    quality.pressure.value,
                    quality.pressure.at,
                    quality.step.value,
                    quality.step.at,
                );
            }
            Err(other) => return Err(other.into()),
        }
    }
    println!("Newton steps, trees");
    for (taken, count) in steps.iter().enumerate().filter(|(_, count)| **count > 0) {
        println!("{taken:12}  {count}");
    }
    let many: u64 = steps.iter().skip(13).sum();
    println!("above 12 steps: {many} of {trees}");
    println!("no balance: {failed} of {trees}");
    println!(
        "worst: {} steps, {} hoods, seed {}",
        worst.0, worst.1, worst.2
    );
    println!(
        "slowest: {:.2} ms, {} hoods, seed {}",
        slowest.0.as_secs_f64() * 1e3,
        slowest.1,
        slowest.2
    );
    if let Some((found, seed)) = audited {
        println!("audit: worst violation {found}, seed {seed}");
    }
    Ok(())
}

/// A random tree and the share of its hoods that is open.
pub(crate) struct Case {
    pub(crate) system: System,
    open_share: f64,
    seed: u64,
}

impl Case {
    pub(crate) fn of(seed: u64) -> Self {
        let (system, open_share) = tree(seed);
        Self {
            system,
            open_share,
            seed,
        }
    }

    /// The open hoods; one at least.
    pub(crate) fn open(&self, network: &Network) -> Result<OpenSet, UnknownName> {
        let mut random = Random::new(self.seed ^ 0xffff);
        let chosen = network.hoods().filter(|_| random.chance(self.open_share));
        let mut open: Vec<&str> = chosen.map(|name| name.as_str()).collect();
        if open.is_empty() {
            open.extend(network.hoods().next().map(|name| name.as_str()));
        }
        network.open(open)
    }
}

fn tree(seed: u64) -> (System, f64) {
    let mut random = Random::new(seed);
    let hoods = random.decades(2.0, 2000.0) as usize;
    let junction = [Junction::Momentum, Junction::FixedK, Junction::Gardel][random.below(3)];
    let adapter = bore(&mut random);
    let points = [
        (0.0, 1.0),
        (0.3, 0.97),
        (0.6, 0.8),
        (0.85, 0.4),
        (1.0, 0.05),
    ];
    let flow = random.decades(0.05, 20.0);
    let pressure = random.decades(300.0, 6000.0);
    let points = points.map(|(q, p)| {
        (
            VolumeFlow::from_m3_s(q * flow),
            Pressure::from_pa(p * pressure),
        )
    });
    let fan = FanCurve::new(
        points,
        Basis::Static,
        Fitted::NOTHING,
        Density::STANDARD_AIR,
    );
    let fan = fan.unwrap_or_else(|error| unreachable!("a falling curve: {error}"));
    let collector = Collector::new(fan).with_before(Run::new(adapter, Wall::Galvanised));
    let mut system = System::new(Air::standard(), collector).with_junction(junction);
    // Sections yet to be made: where they drain into, hoods above them, and whether they go straight.
    let mut wanting = vec![(None, hoods, true)];
    while let Some((into, above, straight)) = wanting.pop() {
        let here = system.sections.len();
        let mut section = section(&mut random, &system, here, into, straight);
        if above == 1 {
            hood(&mut random, &mut section);
            system = system.with_section(section);
            continue;
        }
        system = system.with_section(section);
        let inlets = match junction {
            Junction::Gardel => 2,
            _ => 2 + random.below(3).min(above - 2),
        };
        let mut left = above;
        for inlet in (0..inlets).rev() {
            let share = if inlet == 0 {
                left
            } else if random.chance(0.5) {
                1
            } else {
                1 + random.below(left - inlet)
            };
            left -= share;
            wanting.push((Some(here), share, inlet == 0));
        }
    }
    (system, random.between(0.2, 1.0))
}

fn bore(random: &mut Random) -> Bore {
    Bore::Round(Length::from_mm(random.between(50.0, 500.0)))
}

/// A section with some length or loss, joining within the range of the junction's model.
fn section(
    random: &mut Random,
    system: &System,
    here: usize,
    into: Option<usize>,
    straight: bool,
) -> Section {
    let outlet = into.map(|into| &system.sections[into]);
    let gardel = system.junction == Junction::Gardel;
    let size = match outlet {
        Some(outlet) if gardel && straight => outlet.size,
        Some(outlet) if gardel => {
            let diameter = outlet.size.hydraulic_diameter().as_m();
            let least = (0.05 / diameter).max(0.6);
            Bore::Round(Length::from_m(diameter * random.between(least, 1.0)))
        }
        _ => bore(random),
    };
    let mut section = Section::new(format!("section {here}"), size, Wall::Galvanised);
    if let Some(outlet) = outlet {
        section = section.draining_into(outlet.id.clone());
        if !straight {
            let degrees = match system.junction {
                Junction::Gardel => random.between(45.0, 90.0),
                _ => random.between(0.0, 135.0),
            };
            section = section.joining_at(Angle::from_deg(degrees));
        }
        if system.junction == Junction::FixedK {
            section = section.joining_with_k(random.between(0.0, 1.5));
        }
    }
    // Length, loss, or both.
    let kind = random.below(3);
    if kind != 0 {
        section = section.with_part(Part::Duct(Length::from_m(random.decades(0.01, 30.0))));
    }
    if kind != 1 {
        section = section.with_part(Part::K(random.decades(1e-3, 1e6)));
    }
    if gardel {
        // Its monotonicity asks for 0.06 of the inlet's own velocity pressure.
        section = section.with_part(Part::K(0.06));
    }
    section
}

fn hood(random: &mut Random, section: &mut Section) {
    let entry = if random.chance(0.1) {
        Entry::K(0.0)
    } else {
        Entry::K(random.decades(1e-2, 10.0))
    };
    if random.chance(0.3) {
        let leak_area = Some(Area::from_mm2(random.decades(1.0, 1000.0)));
        section.parts.push(Part::Gate(Gate {
            opening: random.between(0.05, 1.0),
            leak_area,
        }));
    }
    let name = format!("hood of {}", section.id);
    section.start = Start::Hood(Hood::new(name, entry));
}
