//! Random valid systems, each from a seed: any tree, any sizes in any order.

use airsplit::{
    Air, Angle, Basis, Bore, Collector, Density, DynamicViscosity, Elbow, Entry, FanCurve, Filter,
    Fitted, Hood, Hose, HoseKind, Join, Junction, Length, Name, Part, Pressure, RatedDrop, Run,
    Section, Separator, Start, System, VolumeFlow, Wall,
};
use proptest::prelude::*;

/// What a random system is made from; small to print, and all that is needed to make it again.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Recipe {
    /// Hoods, 1 or more.
    pub(crate) hoods: usize,
    /// Everything else.
    pub(crate) seed: u64,
    /// How its inlets meet.
    pub(crate) junctions: Junctions,
}

/// How the inlets of a random system meet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Junctions {
    Momentum,
    FixedK,
    /// Some junctions the one way, some the other.
    Mixed,
}

/// Recipes of 1 to 40 hoods with these junctions.
pub(crate) fn recipes(junctions: Junctions) -> impl Strategy<Value = Recipe> {
    (1..=40_usize, any::<u64>()).prop_map(move |(hoods, seed)| Recipe {
        hoods,
        seed,
        junctions,
    })
}

/// Recipes of 1 to 40 hoods with any junctions.
pub(crate) fn any_recipe() -> impl Strategy<Value = Recipe> {
    let junctions = prop_oneof![
        Just(Junctions::Momentum),
        Just(Junctions::FixedK),
        Just(Junctions::Mixed),
    ];
    (recipes(Junctions::Mixed), junctions).prop_map(|(recipe, junctions)| Recipe {
        junctions,
        ..recipe
    })
}

impl Recipe {
    /// The recipe of a seed alone: a campaign counts through the seeds.
    pub(crate) fn of(seed: u64) -> Self {
        let mut rng = Rng(seed);
        Self {
            hoods: 1 + rng.below(40),
            seed,
            junctions: rng.pick(&[Junctions::Momentum, Junctions::FixedK, Junctions::Mixed]),
        }
    }

    /// The system.
    pub(crate) fn system(&self) -> System {
        let mut rng = Rng(self.seed);
        let junction = match self.junctions {
            Junctions::Momentum => Junction::Momentum,
            Junctions::FixedK => Junction::FixedK,
            Junctions::Mixed => rng.pick(&[Junction::Momentum, Junction::FixedK]),
        };
        let shape = rng.pick(&[Shape::Comb, Shape::Bushy, Shape::Any]);
        let mut grower = Grower {
            rng,
            shape,
            mixed: self.junctions == Junctions::Mixed,
            sections: Vec::new(),
            hoods: 0,
        };
        let mains = 1 + usize::min(grower.rng.below(4), self.hoods - 1);
        // A single main is the most usual.
        let mains = if grower.rng.chance(0.5) { 1 } else { mains };
        let mains: Vec<usize> = grower
            .split(self.hoods, mains)
            .into_iter()
            .map(|hoods| grower.grow(hoods))
            .collect();
        if mains.len() > 1 {
            grower.join(&mains);
        }
        let collector = grower.collector(mains.len());
        let air = Air::Given {
            density: Density::from_kg_m3(grower.rng.between(0.8, 1.3)),
            viscosity: DynamicViscosity::from_pa_s(grower.rng.between(1.6e-5, 2.1e-5)),
        };
        let mut system = System::new(air, collector).with_junction(junction);
        system.sections = grower.sections;
        grower.rng.shuffle(&mut system.sections);
        system
    }

    /// Names of a random set of open hoods, one at least.
    pub(crate) fn open(&self, system: &System) -> Vec<Name> {
        let mut rng = Rng(self.seed ^ 0x0be7);
        let hoods = hoods(system);
        let share = rng.pick(&[0.2, 0.5, 0.9, 1.0]);
        let mut open: Vec<Name> = hoods
            .iter()
            .filter(|_| rng.chance(share))
            .cloned()
            .collect();
        if open.is_empty() {
            open.push(rng.pick(&hoods));
        }
        open
    }
}

/// Names of all hoods, in the order of the sections.
pub(crate) fn hoods(system: &System) -> Vec<Name> {
    let hood = |section: &Section| match &section.start {
        Start::Hood(hood) => Some(hood.id.clone()),
        _ => None,
    };
    system.sections.iter().filter_map(hood).collect()
}

/// How the hoods of a subtree are shared out between its inlets.
#[derive(Debug, Clone, Copy)]
enum Shape {
    /// One hood to a side, the rest straight on.
    Comb,
    /// In equal parts.
    Bushy,
    Any,
}

struct Grower {
    rng: Rng,
    shape: Shape,
    mixed: bool,
    sections: Vec<Section>,
    hoods: usize,
}

impl Grower {
    /// A subtree of so many hoods; returns its section farthest downstream.
    fn grow(&mut self, hoods: usize) -> usize {
        let mut at = if hoods == 1 && !self.rng.chance(0.1) {
            self.hoods += 1;
            let name = format!("hood {}", self.hoods);
            let entry = Entry::K(self.rng.spread(0.1, 100.0));
            let start = Start::Hood(Hood::new(name, entry));
            self.section(start)
        } else {
            let arity = usize::min(2 + self.rng.below(3), hoods.max(2));
            let mut inlets: Vec<usize> = if hoods == 1 {
                vec![self.grow(1)]
            } else {
                self.split(hoods, arity)
                    .into_iter()
                    .map(|hoods| self.grow(hoods))
                    .collect()
            };
            if inlets.len() < 2 || self.rng.chance(0.15) {
                inlets.push(self.section(Start::Capped));
            }
            self.join(&inlets);
            let outlet = self.section(Start::Joins);
            self.drain(&inlets, outlet);
            outlet
        };
        while self.rng.chance(0.2) {
            let outlet = self.section(Start::Joins);
            self.drain(&[at], outlet);
            at = outlet;
        }
        at
    }

    /// Shares hoods out between so many inlets, one to each at least.
    fn split(&mut self, hoods: usize, inlets: usize) -> Vec<usize> {
        let mut shares = vec![1; inlets];
        for spare in 0..hoods - inlets {
            let to = match self.shape {
                Shape::Comb => 0,
                Shape::Bushy => spare % inlets,
                Shape::Any => self.rng.below(inlets),
            };
            shares[to] += 1;
        }
        shares
    }

    fn drain(&mut self, inlets: &[usize], outlet: usize) {
        for &i in inlets {
            self.sections[i].into = Some(self.sections[outlet].id.clone());
        }
    }

    /// Says how inlets meet, by either model.
    fn join(&mut self, inlets: &[usize]) {
        let straight = self.rng.below(inlets.len() + 1);
        for (n, &i) in inlets.iter().enumerate() {
            let angle = if self.rng.chance(0.5) {
                self.rng.pick(&[0.0, 30.0, 45.0, 60.0, 90.0, 135.0])
            } else {
                self.rng.between(0.0, 135.0)
            };
            // Only a run that loses more than that may gain a little at its end.
            let least = if matches!(self.sections[i].start, Start::Hood(_)) {
                -0.05
            } else {
                0.0
            };
            self.sections[i].join = Join {
                angle: (n != straight).then_some(Angle::from_deg(angle)),
                k: Some(self.rng.between(least, 2.0)),
                extra_k: if self.rng.chance(0.2) {
                    self.rng.between(0.0, 1.0)
                } else {
                    0.0
                },
            };
        }
    }

    fn section(&mut self, start: Start) -> usize {
        let id = format!("section {}", self.sections.len() + 1);
        let mut section = Section::new(id, self.bore(), self.wall());
        section.parts = self.parts();
        section.start = start;
        section.junction = self.junction();
        self.sections.push(section);
        self.sections.len() - 1
    }

    fn junction(&mut self) -> Option<Junction> {
        if self.mixed && self.rng.chance(0.5) {
            Some(self.rng.pick(&[Junction::Momentum, Junction::FixedK]))
        } else {
            None
        }
    }

    fn bore(&mut self) -> Bore {
        let mut side = || Length::from_mm(self.rng.spread(50.0, 500.0));
        let (a, b) = (side(), side());
        if self.rng.chance(0.9) {
            Bore::Round(a)
        } else {
            Bore::Rectangular {
                width: a,
                height: b,
            }
        }
    }

    fn wall(&mut self) -> Wall {
        if self.rng.chance(0.5) {
            Wall::Galvanised
        } else {
            let mm = self.rng.pick(&[0.0, 0.0015, 0.05, 0.15, 1.0]);
            Wall::Roughness(Length::from_mm(mm))
        }
    }

    fn parts(&mut self) -> Vec<Part> {
        (0..self.rng.below(5)).map(|_| self.part()).collect()
    }

    fn part(&mut self) -> Part {
        let length = Length::from_m(self.rng.spread(0.1, 20.0));
        let k = self.rng.spread(0.1, 100.0);
        let hose = |kind| {
            Part::Hose(Hose {
                length,
                kind,
                bend: None,
            })
        };
        match self.rng.below(10) {
            0..=3 => Part::Duct(length),
            4 => hose(HoseKind::Ribbed {
                times_smooth: self.rng.between(1.7, 6.0),
            }),
            5 => hose(HoseKind::Wire {
                compression: self.rng.between(0.0, 0.3),
            }),
            6 | 7 => Part::Elbow(Elbow::K(self.rng.between(0.1, 0.6))),
            _ => Part::K(k),
        }
    }

    fn drop(&mut self) -> RatedDrop {
        RatedDrop {
            drop: Pressure::from_pa(self.rng.spread(50.0, 1000.0)),
            at: VolumeFlow::from_m3_s(self.rng.spread(0.1, 1.0)),
        }
    }

    fn vessel(&mut self) -> Part {
        match self.rng.below(4) {
            0 => Part::Separator(Separator::VelocityHeads(self.rng.between(0.5, 10.0))),
            1 => Part::Separator(Separator::Rated(self.drop())),
            _ => Part::Filter(Filter::Terms {
                linear: self.drop(),
                quadratic: self.drop(),
            }),
        }
    }

    fn run(&mut self) -> Run {
        let mut run = Run::new(self.bore(), self.wall());
        run.parts = self.parts();
        if self.rng.chance(0.5) {
            let at = self.rng.below(run.parts.len() + 1);
            let vessel = self.vessel();
            run.parts.insert(at, vessel);
        }
        run
    }

    fn collector(&mut self, mains: usize) -> Collector {
        let mut before = self.rng.below(4);
        if mains > 1 {
            before = before.max(1);
        }
        let after = self.rng.below(3);
        let before = (0..before).map(|_| self.run()).collect();
        let after: Vec<Run> = (0..after).map(|_| self.run()).collect();
        Collector {
            before,
            fan: Some(self.fan(after.last().map(|run| run.size))),
            after,
            junction: self.junction(),
        }
    }

    /// A fan whose duct, if there is one, ends in this bore.
    fn fan(&mut self, end: Option<Bore>) -> FanCurve {
        let ducted = end.is_some();
        let points = self.falling();
        // Wide enough for the largest flow at 150 m/s: the model's judge refuses more than 200.
        let most = points.last().map_or(0.0, |(flow, _)| flow.as_m3_s());
        let least = (4.0 * most / (150.0 * std::f64::consts::PI)).sqrt();
        let least = Bore::Round(Length::from_m(least));
        let wide = |bore: Bore| {
            if bore.area() > least.area() {
                bore
            } else {
                least
            }
        };
        let (basis, outlet) = match self.rng.below(4) {
            0 | 1 => (Basis::Total, !ducted || self.rng.chance(0.5)),
            2 => (Basis::Static, ducted || self.rng.chance(0.5)),
            _ => (
                Basis::TestPipe {
                    bore: wide(self.bore()),
                },
                ducted || self.rng.chance(0.5),
            ),
        };
        let fitted = if self.rng.chance(0.8) {
            Fitted::NOTHING
        } else {
            Fitted::ALL
        };
        let density = Density::from_kg_m3(self.rng.between(1.0, 1.25));
        let fan = FanCurve::new(points, basis, fitted, density).unwrap();
        if !outlet {
            return fan;
        }
        // A duct that ends wider than the outlet gives back velocity pressure, more of it the more
        // air there is: the fan's curve might rise in effect, and settle at more than one flow.
        let outlet = wide(self.bore());
        let wider = end.filter(|end| end.area() > outlet.area());
        fan.with_outlet(wider.unwrap_or(outlet)).unwrap()
    }

    /// Points that never rise; some stretches are level.
    fn falling(&mut self) -> Vec<(VolumeFlow, Pressure)> {
        let count = 3 + self.rng.below(8);
        let widest = self.rng.spread(0.05, 3.0);
        let highest = self.rng.spread(300.0, 8000.0);
        let mut rise = |count: usize, level: f64| {
            let mut sums = vec![0.0];
            for _ in 1..count {
                let more = if self.rng.chance(level) {
                    0.0
                } else {
                    self.rng.between(0.05, 1.0)
                };
                sums.push(sums[sums.len() - 1] + more);
            }
            sums
        };
        let (q, fall) = (rise(count, 0.0), rise(count, 0.15));
        let first = if self.rng.chance(0.8) {
            0.0
        } else {
            self.rng.between(0.0, 0.2) * widest
        };
        let deepest = self.rng.between(0.3, 1.0);
        let of_all = |sums: &[f64], i: usize| sums[i] / sums[count - 1].max(f64::MIN_POSITIVE);
        (0..count)
            .map(|i| {
                let pa = highest * (1.0 - deepest * of_all(&fall, i));
                let m3_s = first + widest * of_all(&q, i);
                (VolumeFlow::from_m3_s(m3_s), Pressure::from_pa(pa.max(0.0)))
            })
            .collect()
    }
}

/// `SplitMix64` (G. L. Steele, D. Lea and C. H. Flood, "Fast splittable pseudorandom number
/// generators", OOPSLA 2014): the same systems on every machine.
#[derive(Debug)]
pub(crate) struct Rng(pub(crate) u64);

impl Rng {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// From 0 to below 1.
    pub(crate) fn unit(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1_u64 << 53) as f64
    }

    pub(crate) fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    /// Even on a logarithmic scale.
    pub(crate) fn spread(&mut self, low: f64, high: f64) -> f64 {
        low * (high / low).powf(self.unit())
    }

    pub(crate) fn below(&mut self, count: usize) -> usize {
        (self.unit() * count as f64) as usize
    }

    pub(crate) fn chance(&mut self, share: f64) -> bool {
        self.unit() < share
    }

    pub(crate) fn pick<T: Clone>(&mut self, among: &[T]) -> T {
        among[self.below(among.len())].clone()
    }

    pub(crate) fn shuffle<T>(&mut self, items: &mut [T]) {
        for i in (1..items.len()).rev() {
            let with = self.below(i + 1);
            items.swap(i, with);
        }
    }
}
