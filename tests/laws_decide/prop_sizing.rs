//! Sizing against plain exhaustion, and the laws that any cheapest choice obeys.

#![allow(
    clippy::unwrap_used,
    clippy::panic,
    reason = "a test that cannot go on must stop"
)]

use airsplit::{
    Air, Angle, Basis, Bore, Collector, Cuts, Density, Elbow, Entry, FanCurve, Filter, Fitted,
    Hood, Junction, Length, Money, Name, Network, OpenSet, Part, Pressure, RatedDrop, Run, Section,
    Sizing, SizingAnswer, SizingError, SizingVerdict, Status, StockSize, System, Tightness,
    Velocity, VolumeFlow, Wall,
};

/// `SplitMix64`, enough to pick cases.
struct Rng(u64);

impl Rng {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * (self.next() >> 11) as f64 / (1_u64 << 53) as f64
    }

    fn below(&mut self, n: usize) -> usize {
        (self.next() % n as u64) as usize
    }

    fn chance(&mut self, p: f64) -> bool {
        self.between(0.0, 1.0) < p
    }
}

/// A case: a tree of two or three hoods, and what is asked of it.
#[derive(Debug, Clone)]
struct Case {
    system: System,
    question: Sizing,
    /// Names of the machines open in each set.
    sets: Vec<Vec<Name>>,
}

impl Case {
    fn random(seed: u64) -> Self {
        let rng = &mut Rng(seed);
        let junction = match rng.below(5) {
            0 | 1 => Junction::Momentum,
            2 | 3 => Junction::FixedK,
            _ => Junction::Gardel,
        };
        let leaky = rng.chance(0.2);
        let mut system = System::new(Air::standard(), collector(rng)).with_junction(junction);
        // main <- a, rest; rest <- b (and c), or main <- a and b alone.
        let deep = rng.chance(0.6);
        let section = |rng: &mut Rng, id: &str, mm: f64| {
            // Gardel's wye goes straight on in one size.
            let mm = if junction == Junction::Gardel {
                140.0
            } else {
                mm
            };
            let mut section = Section::new(id, round(mm), Wall::Galvanised)
                .with_part(Part::Duct(Length::from_m(rng.between(1.0, 12.0))));
            if rng.chance(0.5) {
                section = section.with_part(Part::Elbow(Elbow::K(rng.between(0.1, 0.5))));
            }
            if leaky {
                section = section.with_tightness(Tightness::Atc5);
            }
            section
        };
        let join = |rng: &mut Rng, section: Section, into: &str, side: bool| {
            let k = rng.between(if leaky { 0.0 } else { -0.1 }, 0.5);
            let section = section.draining_into(into).joining_with_k(k);
            match side {
                true => section.joining_at(Angle::from_deg(45.0)),
                false => section,
            }
        };
        let hood = |rng: &mut Rng, n: &str| {
            Hood::new(format!("hood {n}"), Entry::K(rng.between(0.2, 2.0)))
                .serving(format!("machine {n}"))
        };
        system = system.with_section(section(rng, "main", 180.0));
        let mut drops = vec![("a", "main", true)];
        if deep {
            let rest = section(rng, "rest", 150.0);
            let rest = join(rng, rest, "main", false);
            system = system.with_section(rest);
            drops.extend([("b", "rest", true), ("c", "rest", false)]);
        } else {
            drops.push(("b", "main", false));
        }
        for (n, into, side) in &drops {
            let drop = section(rng, n, 110.0);
            let drop = join(rng, drop, into, *side).with_hood(hood(rng, n));
            system = system.with_section(drop);
            let flow = VolumeFlow::from_m3_h(rng.between(150.0, 900.0));
            system = system.with_machine(format!("machine {n}"), flow);
        }

        let mut sizes = [80.0, 100.0, 120.0, 140.0, 160.0, 200.0].to_vec();
        let count = 3 + rng.below(2);
        while sizes.len() > count {
            sizes.remove(rng.below(sizes.len()));
        }
        // The price mostly rises with size, but not always.
        let odd = rng.chance(0.2);
        let stock = sizes.into_iter().map(|mm| {
            let price = if odd {
                rng.between(5.0, 25.0)
            } else {
                0.1 * mm * rng.between(0.9, 1.1)
            };
            StockSize::new(Length::from_mm(mm), Money::new(price))
                .with_elbow(Money::new(1.5 * price))
                .with_wye(Money::new(2.0 * price))
        });
        let stock: Vec<_> = stock.collect();
        let mut sections: Vec<Name> = system.sections.iter().map(|s| s.id.clone()).collect();
        while sections.len() > 4 {
            sections.remove(rng.below(sections.len()));
        }
        let mut question = Sizing::new(sections, stock);
        if rng.chance(0.7) {
            question.least_velocity = Velocity::from_m_s(rng.between(5.0, 16.0));
        }
        if rng.chance(0.3) {
            question = question.with_velocity_in("a", Velocity::from_m_s(rng.between(0.0, 22.0)));
        }
        question.allow_narrowing = rng.chance(0.3);
        let machines: Vec<Name> = system.machines.iter().map(|m| m.id.clone()).collect();
        let mut sets = vec![machines.clone()];
        for _ in 0..rng.below(3) {
            let some = machines.iter().filter(|_| rng.chance(0.5));
            let some: Vec<Name> = some.cloned().collect();
            if !some.is_empty() {
                sets.push(some);
            }
        }
        Self {
            system,
            question,
            sets,
        }
    }

    fn open(&self) -> Vec<OpenSet> {
        let network = Network::new(&self.system).unwrap();
        let sets = self.sets.iter();
        sets.map(|names| network.open(names).unwrap()).collect()
    }
}

fn round(mm: f64) -> Bore {
    Bore::Round(Length::from_mm(mm))
}

fn collector(rng: &mut Rng) -> Collector {
    let (most_pa, most_m3h) = (rng.between(900.0, 3500.0), rng.between(1800.0, 4500.0));
    let hump = rng.between(0.95, 1.1);
    let shares = [
        (0.0, 1.0),
        (0.3, hump),
        (0.6, 0.75),
        (0.85, 0.35),
        (1.0, 0.05),
    ];
    let points = shares.map(|(q, p)| {
        (
            VolumeFlow::from_m3_h(q * most_m3h),
            Pressure::from_pa(p * most_pa),
        )
    });
    let basis = if rng.chance(0.5) {
        Basis::Static
    } else {
        Basis::Total
    };
    let fan = FanCurve::new(points, basis, Fitted::NOTHING, Density::STANDARD_AIR).unwrap();
    let fan = fan.with_outlet(round(180.0)).unwrap();
    let mut collector = Collector::new(fan);
    if rng.chance(0.7) {
        let filter = Filter::Rated(RatedDrop {
            drop: Pressure::from_pa(rng.between(100.0, 500.0)),
            at: VolumeFlow::from_m3_h(1500.0),
        });
        let run = Run::new(round(200.0), Wall::Galvanised).with_part(Part::Filter(filter));
        collector = match rng.chance(0.5) {
            true => collector.with_before(run),
            false => collector.with_after(run),
        };
    }
    collector
}

/// What the sizes cost, told from the question alone.
fn price(case: &Case, sizes: &[usize]) -> f64 {
    let mut sum = 0.0;
    for (id, &size) in case.question.sections.iter().zip(sizes) {
        let section = case.system.sections.iter().find(|s| s.id == *id).unwrap();
        let stock = &case.question.stock[size];
        for part in &section.parts {
            sum += match part {
                Part::Duct(length) => length.as_m() * stock.per_metre.amount(),
                Part::Elbow(_) => stock.elbow.unwrap().amount(),
                _ => 0.0,
            };
        }
        if section.join.angle.is_some() {
            sum += stock.wye.unwrap().amount();
        }
    }
    sum
}

/// Whether these sizes do everything that is asked, told from owned operating points.
fn does(case: &Case, sizes: &[usize]) -> bool {
    let mut system = case.system.clone();
    for (id, &size) in case.question.sections.iter().zip(sizes) {
        let section = system.sections.iter_mut().find(|s| s.id == *id).unwrap();
        section.size = Bore::Round(case.question.stock[size].diameter);
    }
    let area = |section: &Section| section.size.area().as_m2();
    let sized = |name: &Name| case.question.sections.contains(name);
    for section in &system.sections {
        let below = match &section.into {
            Some(into) => {
                let below = system.sections.iter().find(|s| s.id == *into).unwrap();
                (sized(&section.id) || sized(into)).then(|| area(below))
            }
            None => {
                let first = system.collector.before.first();
                first
                    .filter(|_| sized(&section.id))
                    .map(|run| run.size.area().as_m2())
            }
        };
        let narrows = below.is_some_and(|below| area(section) > below * (1.0 + 1e-6));
        if narrows && !case.question.allow_narrowing {
            return false;
        }
    }
    let Ok(network) = Network::new(&system) else {
        return false;
    };
    case.sets.iter().all(|names| {
        let open = network.open(names).unwrap();
        let Ok(point) = network.operating_point(&open) else {
            return false;
        };
        let flows = names.iter().all(|name| {
            let machine = point.machine(name.as_str()).unwrap();
            machine.flow >= machine.required
        });
        let mut velocities = point.sections.iter().filter(|section| {
            // An open hood lies upstream where any open drop's way leads through.
            point.hoods.iter().any(|hood| {
                let mut way = Some(hood.section.clone());
                let mut through = false;
                while let Some(here) = way {
                    through |= here == section.id;
                    let here = system.sections.iter().find(|s| s.id == here).unwrap();
                    way = here.into.clone();
                }
                through && names.iter().any(|name| hood.machine.as_ref() == Some(name))
            })
        });
        let fast = velocities.all(|section| {
            let own = case.question.velocities.iter().rev();
            let mut own = own.filter(|own| own.section == section.id);
            let least = own
                .next()
                .map_or(case.question.least_velocity, |own| own.least);
            section.velocity >= least
        });
        point.status == Status::Converged && flows && fast
    })
}

/// The least cost of all choices, one by one; `None` where no choice does.
fn by_exhaustion(case: &Case) -> Option<f64> {
    let (n, m) = (case.question.sections.len(), case.question.stock.len());
    let mut best: Option<f64> = None;
    for mut number in 0..m.pow(n as u32) {
        let mut sizes = vec![0; n];
        for size in &mut sizes {
            *size = number % m;
            number /= m;
        }
        let price = price(case, &sizes);
        if best.is_none_or(|best| price < best) && does(case, &sizes) {
            best = Some(price);
        }
    }
    best
}

/// Sizes of an answer as places in the stock.
fn places(case: &Case, answer: &SizingAnswer) -> Vec<usize> {
    let stock = &case.question.stock;
    let sizes = answer.sizes.iter();
    sizes
        .map(|size| {
            stock
                .iter()
                .position(|s| s.diameter == size.diameter)
                .unwrap()
        })
        .collect()
}

/// The cheapest of 500 random cases, or that there is none, against trying every choice.
#[test]
fn prop_equal_to_exhaustion() {
    let (mut possible, mut impossible, mut cuts) = (0, 0, Cuts::default());
    let (mut tried, mut all, mut none_fits) = (0, 0.0, 0);
    for seed in 0..500 {
        let case = Case::random(seed);
        let expected = by_exhaustion(&case);
        let answer = match case.question.cheapest(&case.system, case.open()) {
            Ok(answer) => answer,
            Err(SizingError::NoneFits { .. }) => {
                assert_eq!(expected, None, "seed {seed} {case:?}");
                none_fits += 1;
                continue;
            }
            Err(error) => panic!("seed {seed}: {error}"),
        };
        let sizes = places(&case, &answer);
        assert!(
            (answer.cost.amount() - price(&case, &sizes)).abs() < 1e-9,
            "seed {seed}"
        );
        assert!(
            answer.proof.exact && answer.proof.unanswered == 0,
            "seed {seed}"
        );
        match expected {
            Some(least) => {
                assert_eq!(
                    answer.verdict,
                    SizingVerdict::Cheapest,
                    "seed {seed}: {least}"
                );
                let off = answer.cost.amount() - least;
                assert!(off.abs() < 1e-9 * least, "seed {seed}: {off} over {least}");
                assert!(does(&case, &sizes), "seed {seed}");
                assert!(
                    answer.sets.iter().all(|set| set.missed.is_empty()),
                    "seed {seed}"
                );
                assert_eq!(answer.proof.gap, Some(Money::new(0.0)), "seed {seed}");
                possible += 1;
            }
            None => {
                assert_eq!(answer.verdict, SizingVerdict::Impossible, "seed {seed}");
                assert!(
                    answer.sets.iter().any(|set| !set.missed.is_empty()),
                    "seed {seed}"
                );
                impossible += 1;
            }
        }
        cuts.narrowing += answer.proof.cuts.narrowing;
        cuts.curve_end += answer.proof.cuts.curve_end;
        cuts.air_power += answer.proof.cuts.air_power;
        tried += answer.proof.tried;
        all += answer.proof.choices;
    }
    println!(
        "{possible} possible, {impossible} not, {none_fits} without a fitting size; {cuts:?}; tried {tried} of {all}"
    );
    // Either outcome, and every rule, is met often enough to mean something.
    assert!(
        possible > 100 && impossible > 50,
        "{possible} and {impossible}"
    );
    assert!(cuts.narrowing > 500 && cuts.air_power > 500, "{cuts:?}");
}

/// A search that stops at once still tells how much at most could be saved.
#[test]
fn prop_the_gap_holds_what_could_be_saved() {
    let (mut found, mut best) = (0, 0);
    for seed in 1000..1200 {
        let mut case = Case::random(seed);
        case.question.most_solves = 2;
        let Ok(hasty) = case.question.cheapest(&case.system, case.open()) else {
            continue;
        };
        case.question.most_solves = 30;
        let climbed = case.question.cheapest(&case.system, case.open()).unwrap();
        let least = by_exhaustion(&case);
        for answer in [hasty, climbed] {
            let (proof, cost) = (&answer.proof, answer.cost.amount());
            assert_eq!(
                proof.exact,
                matches!(
                    answer.verdict,
                    SizingVerdict::Cheapest | SizingVerdict::Impossible
                )
            );
            if let (Some(lower), Some(least)) = (proof.lower_bound, least) {
                assert!(lower.amount() <= least * (1.0 + 1e-12), "seed {seed}");
            }
            match (answer.verdict, least) {
                (SizingVerdict::Cheapest, Some(least)) => {
                    assert!((cost - least).abs() < 1e-9 * least)
                }
                (SizingVerdict::Found, Some(least)) => {
                    let gap = proof.gap.unwrap().amount();
                    assert!(cost >= least * (1.0 - 1e-12) && cost - gap <= least * (1.0 + 1e-12));
                    assert!(does(&case, &places(&case, &answer)), "seed {seed}");
                    found += 1;
                    best += usize::from(cost <= least * (1.0 + 1e-12));
                }
                (SizingVerdict::Impossible, least) => assert_eq!(least, None, "seed {seed}"),
                (SizingVerdict::NotFound, _) => assert_eq!(proof.gap, None),
                (verdict, least) => panic!("seed {seed}: {verdict:?} against {least:?}"),
            }
        }
    }
    println!("{found} found without proof, {best} of them the cheapest all the same");
    assert!(found > 30, "{found}");
}

/// Asking for less and offering more never makes the cheapest dearer.
#[test]
fn prop_less_asked_or_more_offered_is_no_dearer() {
    let mut cheaper = [0; 4];
    for seed in 2000..2150 {
        let mut case = Case::random(seed);
        case.question.allow_narrowing = false;
        let before = cost(&case);
        let mut relaxed = [case.clone(), case.clone(), case.clone(), case.clone()];
        let [more_stock, less_flow, slower, any_order] = &mut relaxed;
        let extra = StockSize::new(Length::from_mm(130.0), Money::new(9.0))
            .with_elbow(Money::new(13.0))
            .with_wye(Money::new(20.0));
        more_stock.question.stock.insert(0, extra);
        for machine in &mut less_flow.system.machines {
            machine.required = machine.required * 0.8;
        }
        slower.question.least_velocity = slower.question.least_velocity * 0.8;
        any_order.question.allow_narrowing = true;
        for (relaxed, cheaper) in relaxed.iter().zip(&mut cheaper) {
            let after = cost(relaxed);
            if let Some(before) = before {
                assert!(
                    after.is_some_and(|after| after <= before),
                    "seed {seed}: {before} {after:?}"
                );
            }
            *cheaper += usize::from(after.is_some() && after != before);
        }
    }
    // Each of the four does help somewhere.
    assert!(cheaper.iter().all(|&cheaper| cheaper > 5), "{cheaper:?}");
}

/// Cost of the cheapest that does; `None` where none does.
fn cost(case: &Case) -> Option<f64> {
    let answer = match case.question.cheapest(&case.system, case.open()) {
        Ok(answer) => answer,
        Err(SizingError::NoneFits { .. }) => return None,
        Err(error) => panic!("{error}"),
    };
    match answer.verdict {
        SizingVerdict::Cheapest => Some(answer.cost.amount()),
        SizingVerdict::Impossible => None,
        other => panic!("small cases are always proved, not {other:?}"),
    }
}

/// The same question gives the same answer, and the order of stock and sections does not matter.
#[test]
fn prop_order_does_not_matter() {
    for seed in 3000..3040 {
        let case = Case::random(seed);
        let first = cost(&case);
        let mut turned = case.clone();
        turned.question.stock.reverse();
        turned.question.sections.reverse();
        turned.sets.reverse();
        let again = cost(&turned);
        match (first, again) {
            (Some(a), Some(b)) => assert!((a - b).abs() < 1e-9 * a, "seed {seed}"),
            (a, b) => assert_eq!(a, b, "seed {seed}"),
        }
    }
}

/// What is missed is told for each set, and whether the set could be met alone.
#[test]
fn prop_what_is_missed_is_told_for_each_set() {
    let mut told = 0;
    for seed in 0..200 {
        let case = Case::random(seed);
        let Ok(answer) = case.question.cheapest(&case.system, case.open()) else {
            continue;
        };
        assert_eq!(answer.sets.len(), case.sets.len());
        for (report, names) in answer.sets.iter().zip(&case.sets) {
            assert_eq!(&report.open, names);
            let tightest = report.tightest.as_ref().unwrap();
            assert_eq!(!report.missed.is_empty(), tightest.share() < 1.0);
            let shares: Vec<f64> = report.missed.iter().map(airsplit::Demand::share).collect();
            assert!(shares.is_sorted() && shares.iter().all(|&share| share < 1.0));
            if report.missed.is_empty() {
                continue;
            }
            let alone = Case {
                sets: vec![names.clone()],
                ..case.clone()
            };
            assert_eq!(
                report.alone,
                Some(by_exhaustion(&alone).is_some()),
                "seed {seed}"
            );
            told += 1;
        }
    }
    assert!(told > 30, "{told}");
}

mod bad_questions {
    use super::*;
    use airsplit::{SectionVelocity, SolveError};

    fn case() -> Case {
        let mut case = Case::random(7);
        case.question.sections = vec!["main".into(), "a".into()];
        case
    }

    fn refused(change: impl FnOnce(&mut Case)) -> SizingError {
        let mut case = case();
        change(&mut case);
        let open = case.open();
        case.question.cheapest(&case.system, open).unwrap_err()
    }

    #[test]
    fn prop_a_bad_stock_is_told() {
        assert_eq!(
            refused(|case| case.question.stock.clear()),
            SizingError::NoStock
        );
        for price in [-0.01, f64::NAN, f64::INFINITY] {
            let error = refused(|case| case.question.stock[1].elbow = Some(Money::new(price)));
            assert!(
                matches!(error, SizingError::Price { what: "elbow", .. }),
                "{error}"
            );
            assert!(error.to_string().contains("zero or more"), "{error}");
        }
        let error = refused(|case| {
            let again = case.question.stock[0].clone();
            case.question.stock.push(again);
        });
        assert!(
            matches!(error, SizingError::DiameterTwice { .. }),
            "{error}"
        );
        for m in [0.0, -0.1, f64::NAN, 21.0] {
            let error = refused(|case| case.question.stock[0].diameter = Length::from_m(m));
            assert!(matches!(error, SizingError::Diameter { .. }), "{error}");
        }
        // Not sold with a wye, which "a" needs.
        let error = refused(|case| {
            case.question
                .stock
                .iter_mut()
                .for_each(|size| size.wye = None)
        });
        assert_eq!(
            error,
            SizingError::NoneFits {
                section: "a".into()
            }
        );
    }

    #[test]
    fn prop_bad_sections_are_told() {
        let error = refused(|case| case.question.sections.push("mian".into()));
        assert!(error.to_string().contains("main"), "{error}");
        let error = refused(|case| case.question.sections.push("main".into()));
        assert_eq!(
            error,
            SizingError::SectionTwice {
                section: "main".into()
            }
        );
        assert_eq!(
            refused(|case| case.question.sections.clear()),
            SizingError::NoSections
        );
        let error = refused(|case| {
            let least = Velocity::from_m_s(1.0);
            case.question.velocities.push(SectionVelocity {
                section: "x".into(),
                least,
            });
        });
        assert!(matches!(error, SizingError::Section(_)), "{error}");
        for speed in [-1.0, f64::NAN, f64::INFINITY] {
            let error = refused(|case| case.question.least_velocity = Velocity::from_m_s(speed));
            assert!(
                matches!(error, SizingError::LeastVelocity { .. }),
                "{error}"
            );
        }
    }

    #[test]
    fn prop_a_question_without_demands_or_sets_is_told() {
        let error = refused(|case| {
            case.question.least_velocity = Velocity::from_m_s(0.0);
            case.question.velocities.clear();
            for machine in &mut case.system.machines {
                machine.required = VolumeFlow::from_m3_s(0.0);
            }
        });
        assert_eq!(error, SizingError::NothingRequired);
        assert_eq!(refused(|case| case.sets.clear()), SizingError::NoSets);
        let error = refused(|case| case.sets = vec![Vec::new()]);
        assert_eq!(error, SizingError::Solve(SolveError::NothingOpen));
        let error = refused(|case| case.system.collector.fan = None);
        assert_eq!(error, SizingError::Solve(SolveError::NoFan));
        let foreign = Case::random(8);
        let mut other = case();
        other.system = other.system.with_machine("new", VolumeFlow::from_m3_s(0.0));
        assert!(matches!(
            other.question.cheapest(&other.system, case().open()),
            Err(SizingError::Model(_))
        ));
        let mut renamed = foreign.clone();
        for section in &mut renamed.system.sections {
            if let airsplit::Start::Hood(hood) = &mut section.start {
                hood.id = format!("other {}", hood.id).into();
            }
        }
        let error = renamed.question.cheapest(&renamed.system, foreign.open());
        assert_eq!(error, Err(SizingError::Solve(SolveError::ForeignOpenSet)));
    }

    /// No bound on the work is too small for an answer.
    #[test]
    fn prop_no_work_allowed_still_answers() {
        for seed in 0..40 {
            let mut case = Case::random(seed);
            case.question.most_solves = 0;
            let Ok(answer) = case.question.cheapest(&case.system, case.open()) else {
                continue;
            };
            assert!(matches!(
                answer.verdict,
                SizingVerdict::Found | SizingVerdict::NotFound
            ));
            assert_eq!(answer.sizes.len(), case.question.sections.len());
        }
    }
}

/// The question reads from a document and is written as it was read.
#[cfg(feature = "serde")]
#[test]
fn prop_the_question_is_a_document() {
    let text = r#"
        sections = ["main", "planer drop"]
        least_velocity = "20 m/s"
        velocities = [{ section = "main", least = "15 m/s" }]
        allow_narrowing = true
        [[stock]]
        diameter = "125 mm"
        per_metre = 11.0
        elbow = 16.0
        [[stock]]
        diameter = "6 in"
        per_metre = 14
        hose_per_metre = 20.5
        gate = 38.0
        wye = 29.0
    "#;
    let read: Sizing = toml::from_str(text).unwrap();
    let mm = Length::from_mm;
    let money = Money::new;
    let stock = [
        StockSize::new(mm(125.0), money(11.0)).with_elbow(money(16.0)),
        StockSize::new(Length::from_in(6.0), money(14.0))
            .with_hose(money(20.5))
            .with_gate(money(38.0))
            .with_wye(money(29.0)),
    ];
    let built = Sizing::new(["main", "planer drop"], stock)
        .with_least_velocity(Velocity::from_m_s(20.0))
        .with_velocity_in("main", Velocity::from_m_s(15.0))
        .allowing_narrowing();
    assert_eq!(read, built);
    let again: Sizing = toml::from_str(&toml::to_string(&read).unwrap()).unwrap();
    assert_eq!(again, read);
    assert!(toml::from_str::<Sizing>(&text.replace("allow_narrowing", "narrow")).is_err());
    // The answer is data too, without numbers that are none.
    let case = Case::random(3);
    let answer = case.question.cheapest(&case.system, case.open()).unwrap();
    let json = serde_json::to_string(&answer).unwrap();
    let json: serde_json::Value = serde_json::from_str(&json).unwrap();
    assert!(json["verdict"].is_string() && json["cost"].is_number());
}
