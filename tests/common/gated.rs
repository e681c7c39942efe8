//! Small random shops of two to four hoods, each with a gate, a collector with a filter, and one
//! machine a hood (or the first two hoods on one).

use airsplit::{
    Air, Angle, Area, Basis, Bore, Collector, Density, Entry, FanCurve, Filter, Fitted, Gate, Hood,
    Junction, Length, Name, Part, Pressure, RatedDrop, Run, Section, Start, System, VolumeFlow,
    Wall,
};

/// Numbers by SplitMix64 (G. L. Steele, D. Lea and C. H. Flood, 2014), from memory.
pub(crate) struct Rng(pub(crate) u64);

impl Rng {
    pub(crate) fn unit(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
    }

    pub(crate) fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    pub(crate) fn below(&mut self, count: usize) -> usize {
        (self.unit() * count as f64) as usize
    }

    pub(crate) fn chance(&mut self, share: f64) -> bool {
        self.unit() < share
    }
}

pub(crate) fn flow(m3s: f64) -> VolumeFlow {
    VolumeFlow::from_m3_s(m3s)
}

/// A fan whose pressure falls by the square of flow.
pub(crate) fn fan(most_pa: f64, most_m3s: f64) -> FanCurve {
    let points = (0..=10).map(|i| {
        let x = f64::from(i) / 10.0;
        (
            flow(x * most_m3s),
            Pressure::from_pa(most_pa * (1.0 - x * x)),
        )
    });
    FanCurve::new(
        points,
        Basis::Static,
        Fitted::NOTHING,
        Density::STANDARD_AIR,
    )
    .unwrap()
}

pub(crate) fn wide_open() -> Part {
    Part::Gate(Gate {
        opening: 1.0,
        leak_area: None,
    })
}

pub(crate) fn shop(seed: u64, junction: Junction) -> System {
    let mut rng = Rng(seed);
    let rng = &mut rng;
    let hoods = 2 + rng.below(3);
    let is_comb = rng.chance(0.6);
    let wall = Wall::Galvanised;
    let round = |mm: f64| Bore::Round(Length::from_mm(mm));
    let filter = Filter::Rated(RatedDrop {
        drop: Pressure::from_pa(rng.between(50.0, 600.0)),
        at: flow(0.4),
    });
    let main_mm = rng.between(140.0, 220.0);
    let fan = fan(rng.between(1500.0, 3200.0), rng.between(0.4, 1.2));
    let run = Run::new(round(main_mm), wall).with_part(Part::Filter(filter));
    let collector = Collector::new(fan).with_before(run);
    let mut system = System::new(Air::standard(), collector).with_junction(junction);
    let trunks = if is_comb { hoods - 1 } else { 1 };
    for i in 0..trunks {
        let mm = main_mm * 0.9_f64.powi(i as i32);
        let mut trunk = Section::new(format!("main {i}"), round(mm), wall)
            .with_part(Part::Duct(Length::from_m(rng.between(1.0, 12.0))));
        if i > 0 {
            trunk = trunk
                .draining_into(format!("main {}", i - 1))
                .joining_with_k(rng.between(0.0, 0.4));
        }
        system.sections.push(trunk);
    }
    let two_on_one = rng.chance(0.3);
    for i in 0..hoods {
        let mm = rng.between(80.0, 150.0);
        let bore = round(mm);
        let machine = if two_on_one && i == 1 { 0 } else { i };
        let hood = Hood::new(format!("hood {i}"), Entry::K(rng.between(0.3, 3.0)))
            .serving(format!("machine {machine}"));
        let leak = rng
            .chance(0.4)
            .then(|| Area::from_m2(rng.between(1e-5, 1e-4)));
        let gate = Gate {
            opening: 1.0,
            leak_area: leak,
        };
        system.sections.push(
            Section::new(format!("drop {i}"), bore, wall)
                .draining_into(format!("main {}", i.min(trunks - 1)))
                .joining_at(Angle::from_deg(45.0))
                .joining_with_k(rng.between(0.0, 0.6))
                .with_part(Part::Gate(gate))
                .with_part(Part::Duct(Length::from_m(rng.between(1.0, 8.0))))
                .with_hood(hood),
        );
        let need = flow(rng.between(10.0, 25.0) * bore.area().as_m2());
        if machine == i {
            system = system.with_machine(format!("machine {i}"), need);
        } else if rng.chance(0.5) {
            // Less than the machine needs, so that something is left for its other hood.
            let all = system
                .machines
                .first()
                .map_or(0.0, |m| m.required.as_m3_s());
            set_required(&mut system, "hood 1", flow(0.4 * all));
        }
    }
    system
}

fn set_required(system: &mut System, name: &str, need: VolumeFlow) {
    for section in &mut system.sections {
        if let Start::Hood(hood) = &mut section.start
            && hood.id == Name::from(name)
        {
            hood.required = Some(need);
        }
    }
}

/// The hoods with their sections, in the order of the model.
pub(crate) fn hoods(system: &System) -> Vec<(&Section, &Hood)> {
    let hood = |section| match section {
        &Section {
            start: Start::Hood(ref hood),
            ..
        } => Some((section, hood)),
        _ => None,
    };
    system.sections.iter().filter_map(hood).collect()
}
