//! Uncertainties: the law of propagation by hand, and against drawing the numbers themselves.

#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::print_stdout,
    reason = "a test that cannot go on must stop, and a long one says what it saw"
)]
#![cfg(feature = "serde")]

use crate::common::random::{Junctions, Recipe};
use airsplit::{
    Air, Basis, Bore, Collector, Density, Doubt, DynamicViscosity, Entry, FanCurve, Fitted, Grade,
    Hood, Junction, Length, MonteCarlo, Network, Output, Parameter, Part, Place, Pressure, Section,
    Spread, Study, System, UncertaintyError, VolumeFlow, Wall,
};

const PRESSURE_PA: f64 = 1500.0;
const DENSITY: f64 = 1.2;
const K: f64 = 5.0;
const DIAMETER_M: f64 = 0.15;

/// A run of one coefficient and a hood of another at a fan of one pressure.
fn run(hood_k: f64) -> Network {
    let air = Air::Given {
        density: Density::from_kg_m3(DENSITY),
        viscosity: DynamicViscosity::from_pa_s(1.8e-5),
    };
    let level = |q| (VolumeFlow::from_m3_s(q), Pressure::from_pa(PRESSURE_PA));
    let density = Density::from_kg_m3(DENSITY);
    let fan = FanCurve::new(
        [0.0, 1.0, 2.0].map(level),
        Basis::Static,
        Fitted::NOTHING,
        density,
    );
    let bore = Bore::Round(Length::from_m(DIAMETER_M));
    let section = Section::new("run", bore, Wall::Galvanised)
        .with_part(Part::K(K))
        .with_hood(Hood::new("port", Entry::K(hood_k)));
    Network::new(&System::new(air, Collector::new(fan.unwrap())).with_section(section)).unwrap()
}

/// q = A sqrt(2 p / (rho K)), by hand.
fn flow_of(k: f64) -> f64 {
    let area = std::f64::consts::PI / 4.0 * DIAMETER_M * DIAMETER_M;
    area * (2.0 * PRESSURE_PA / (DENSITY * k)).sqrt()
}

fn part() -> Place {
    Place::Part {
        section: "run".into(),
        part: 0,
    }
}

fn hood() -> Place {
    Place::Hood("port".into())
}

/// JCGM 100:2008, 5.1.2, eq. (10): q ~ sqrt(p / K), so (u_q/q)^2 = (u_p/2p)^2 + (u_K/2K)^2.
#[test]
fn val_law_of_propagation() {
    let network = run(0.0);
    let doubts = [
        Doubt::new(part(), Parameter::K, 0.4, "by hand"),
        Doubt::new(Place::Fan, Parameter::Factor, 0.06, "by hand"),
    ];
    let point = network.uncertainty(&network.open_all(), &doubts).unwrap();
    let (of_k, of_fan) = (0.4 / (2.0 * K), 0.06 / 2.0);
    let relative = f64::hypot(of_k, of_fan);
    let q = flow_of(K);
    for value in [&point.flow, point.hood("port").unwrap()] {
        assert!((value.value / q - 1.0).abs() < 1e-14);
        assert!((value.standard / (q * relative) - 1.0).abs() < 1e-8);
        let [first, second] = value.contributions.as_slice() else {
            panic!("two causes");
        };
        assert_eq!(first.parameter, Parameter::K);
        assert!((first.change / (-q * of_k) - 1.0).abs() < 1e-8);
        assert!((first.share - (of_k / relative).powi(2)).abs() < 1e-8);
        assert!((first.share + second.share - 1.0).abs() < 1e-14);
        // 1.96: the normal distribution's two-sided 95 %.
        assert!((value.high() / (q * (1.0 + 1.959_963_985 * relative)) - 1.0).abs() < 1e-8);
        assert!((value.low() / (q * (1.0 - 1.959_963_985 * relative)) - 1.0).abs() < 1e-8);
    }
    // The fan gives its one pressure whatever the coefficient.
    let pressure = &point.fan_pressure;
    assert!((pressure.standard / (0.06 * PRESSURE_PA) - 1.0).abs() < 1e-8);
}

/// JCGM 100:2008, 5.2.2, note 1: of inputs that are off together the terms add before the square.
/// q ~ 1/sqrt(K1 + K2), so u_q/q = (u_1 + u_2) / (2 (K1 + K2)); independent, hypot(u_1, u_2).
#[test]
fn val_one_cause_adds_before_the_square() {
    let network = run(2.0);
    let doubts = [
        Doubt::new(part(), Parameter::K, 0.3, "by hand"),
        Doubt::new(hood(), Parameter::K, 0.2, "by hand"),
    ];
    let both = doubts.clone().map(|doubt| doubt.caused_by("one table"));
    let opposed = [
        both[0].clone(),
        Doubt::new(hood(), Parameter::K, 0.0, "by hand"),
    ];
    let q = flow_of(7.0);
    for (doubts, u_k) in [
        (&doubts, f64::hypot(0.3, 0.2)),
        (&both, 0.5),
        (&opposed, 0.3),
    ] {
        let point = network.uncertainty(&network.open_all(), doubts).unwrap();
        let expected = q * u_k / (2.0 * 7.0);
        assert!((point.flow.standard / expected - 1.0).abs() < 1e-8);
    }
    let told = network.uncertainty(&network.open_all(), &both).unwrap();
    let [only] = told.flow.contributions.as_slice() else {
        panic!("one cause");
    };
    assert_eq!(
        (&only.place, only.others, only.cause.as_deref()),
        (&part(), 1, Some("one table"))
    );
}

/// ln K normal with standard deviation s: ln q is normal with s/2 about ln of the flow at K, so
/// that median, mean, standard deviation and percentiles are those of the log-normal distribution.
#[test]
fn val_drawn_coefficients_give_the_log_normal_flow() {
    let network = run(0.0);
    let doubt = Doubt::new(part(), Parameter::K, 0.4, "by hand").spread(Spread::Scaled);
    let how = MonteCarlo::default().draws(4000).seed(3);
    let sampled = network
        .monte_carlo(&network.open_all(), &[doubt], &how)
        .unwrap();
    assert_eq!((sampled.draws, sampled.failed), (4000, 0));
    let (q, s, n) = (flow_of(K), 0.2_f64, 4000.0_f64);
    let mean = q * (s * s / 2.0).exp();
    let deviation = mean * (s * s).exp_m1().sqrt();
    // Five standard errors each. Of a standard deviation: sqrt((kurtosis - 1)/(4 n)), kurtosis of
    // this distribution about 3 + 16 s^2; of a percentile: sqrt(p (1-p)/n) over the density there.
    let of_deviation = deviation * ((2.0 + 16.0 * s * s) / (4.0 * n)).sqrt();
    let of_median = q * s * (std::f64::consts::PI / 2.0 / n).sqrt();
    let of_end = |q: f64| q * s * (0.025 * 0.975 / n).sqrt() / 0.058_45;
    let z = 1.959_964;
    let [low, high] = [q * (-z * s).exp(), q * (z * s).exp()];
    let flow = &sampled.flow;
    for (what, got, exact, error) in [
        ("mean", flow.mean, mean, deviation / n.sqrt()),
        ("standard deviation", flow.standard, deviation, of_deviation),
        ("median", flow.median, q, of_median),
        ("low", flow.low, low, of_end(low)),
        ("high", flow.high, high, of_end(high)),
    ] {
        assert!(
            (got - exact).abs() < 5.0 * error,
            "{what}: {got}, {exact} +- {error}"
        );
    }
}

/// Doubts so small that every answer is straight in them: both ways must agree within what so many
/// draws tell, five standard errors: 5/sqrt(2 (n-1)) of the standard deviation, 5 s/sqrt(n) of the
/// mean. Second order adds a share of the doubts squared to the mean, below 1e-3 of s here.
fn both_ways_agree(network: &Network, open: &[&str], doubts: &[Doubt], draws: u32) {
    let open = network.open(open).unwrap();
    let point = network.uncertainty(&open, doubts).unwrap();
    let how = MonteCarlo::default().draws(draws);
    let sampled = network.monte_carlo(&open, doubts, &how).unwrap();
    assert_eq!(sampled.failed, 0);
    let n = f64::from(draws);
    let (mut worst, mut count) = (0.0_f64, 0);
    for (value, sample) in point.values().zip(sampled.values()) {
        assert_eq!(value.output, sample.output);
        if value.standard == 0.0 {
            // Rounding of the answers.
            assert!(sample.standard <= 1e-12 * value.value, "{}", value.output);
            continue;
        }
        let off = sample.standard / value.standard - 1.0;
        assert!(
            off.abs() < 5.0 / (2.0 * (n - 1.0)).sqrt(),
            "{}: {off}",
            value.output
        );
        let off_mean = (sample.mean - value.value) / value.standard;
        assert!(
            off_mean.abs() < 5.0 / n.sqrt() + 1e-3,
            "{}: {off_mean}",
            value.output
        );
        worst = worst.max(off.abs());
        count += 1;
    }
    println!(
        "{count} outputs of {draws} draws: off by at most {:.1} %",
        100.0 * worst
    );
}

/// The doubts of a network without assumptions, a hundredth of them, but for gates that stand wide
/// open, where there is a corner.
fn small_doubts(network: &Network) -> Vec<Doubt> {
    let mut doubts = network.doubts(&[]);
    doubts.retain(|doubt| doubt.parameter != Parameter::Opening);
    for doubt in &mut doubts {
        doubt.standard *= 0.01;
    }
    doubts
}

fn chair_shop() -> Network {
    let text = include_str!("../../examples/chair_shop.toml");
    let study: Study = toml::from_str(text).unwrap();
    Network::new(&study.system).unwrap()
}

#[test]
fn prop_drawing_agrees_with_first_order_in_the_chair_shop() {
    let network = chair_shop();
    let doubts = small_doubts(&network);
    assert!(doubts.len() > 60);
    both_ways_agree(&network, &["planer", "table saw", "lathe"], &doubts, 1000);
    // Each doubt by itself, so that the small ones are seen as well.
    for doubt in doubts.iter().step_by(4) {
        both_ways_agree(
            &network,
            &["planer", "lathe"],
            std::slice::from_ref(doubt),
            100,
        );
    }
}

#[test]
fn prop_drawing_agrees_with_first_order_on_random_systems() {
    for seed in 0..6 {
        let recipe = Recipe {
            hoods: 5,
            seed,
            junctions: Junctions::Mixed,
        };
        let system = recipe.system();
        let network = Network::new(&system).unwrap();
        let open = recipe.open(&system);
        let open: Vec<&str> = open.iter().map(airsplit::Name::as_str).collect();
        both_ways_agree(&network, &open, &small_doubts(&network), 400);
    }
}

/// A straight run of one bore with a wye by formula.
fn by_formula() -> System {
    let bore = |mm| Bore::Round(Length::from_mm(mm));
    let duct = |m| Part::Duct(Length::from_m(m));
    let text = include_str!("../../examples/chair_shop.toml");
    let study: Study = toml::from_str(text).unwrap();
    let hood = |name: &str| Hood::new(name, Entry::Flanged);
    System::new(study.system.air, study.system.collector)
        .with_junction(Junction::Gardel)
        .with_section(Section::new("main", bore(160.0), Wall::Spiral).with_part(duct(4.0)))
        .with_section(
            Section::new("straight", bore(160.0), Wall::Spiral)
                .draining_into("main")
                .with_part(duct(3.0))
                .with_hood(hood("planer")),
        )
        .with_section(
            Section::new("branch", bore(125.0), Wall::Spiral)
                .draining_into("main")
                .joining_at(airsplit::Angle::from_deg(45.0))
                .with_part(duct(2.0))
                .with_hood(hood("saw")),
        )
}

/// The doubts of their full size make systems that can be solved, whatever the junction, and their
/// standard deviations are those of first order to a fifth.
#[test]
fn prop_usual_doubts_rarely_fail() {
    let text = include_str!("../../examples/chair_shop.toml");
    let study: Study = toml::from_str(text).unwrap();
    for system in [study.system, by_formula()] {
        let network = Network::new(&system).unwrap();
        let open = network.open_all();
        let doubts = network.doubts(&[]);
        let how = MonteCarlo::default().draws(300);
        let sampled = network.monte_carlo(&open, &doubts, &how).unwrap();
        assert!(sampled.failed <= 3, "{} failed", sampled.failed);
        let point = network.uncertainty(&open, &doubts).unwrap();
        for (value, sample) in point.values().zip(sampled.values()) {
            let (first, drawn) = (value.standard, sample.standard);
            println!("{}: {first:.4} {drawn:.4}", value.output);
            assert!(
                (drawn / first - 1.0).abs() < 0.2,
                "{}: {first} {drawn}",
                value.output
            );
            assert!(value.low() < sample.median && sample.median < value.high());
        }
    }
}

#[test]
fn prop_a_seed_gives_one_answer() {
    let network = run(1.0);
    let doubts = network.doubts(&[]);
    let draw = |seed| {
        let how = MonteCarlo::default().draws(20).seed(seed);
        network
            .monte_carlo(&network.open_all(), &doubts, &how)
            .unwrap()
    };
    assert_eq!(draw(5), draw(5));
    assert_ne!(draw(5), draw(6));
}

const ASSUMED: &str = r#"
format = 1
assume = true
[collector.fan]
largest_flow = "1900 m3/h"
largest_pressure = "2300 Pa"
density = "1.2 kg/m3"
fitted = { separator = false, filter = false, silencer = false }
[[collector.before]]
size = { round = "150 mm" }
parts = [{ unknown_separator = { at = "1200 m3/h" } }, { unknown_filter = { cloth = "9 m2" } }]
[[section]]
id = "main"
size = { round = "150 mm" }
parts = [{ duct = "7 m" }, "unknown_elbow"]
[[section]]
id = "saw drop"
into = "main"
size = { round = "120 mm" }
parts = [{ hose = { length = "1.5 m" } }]
hood = { id = "saw port", machine = "saw" }
[[section]]
id = "planer drop"
into = "main"
size = { round = "125 mm" }
parts = [{ duct = "2 m" }]
hood = { id = "planer port", machine = "planer", entry = { k = 0.5 } }
[[machine]]
id = "saw"
[[machine]]
id = "planer"
"#;

#[test]
fn prop_assumptions_make_the_grade() {
    let study: Study = toml::from_str(ASSUMED).unwrap();
    let network = Network::new(&study.system).unwrap();
    let open = network.open(["saw"]).unwrap();
    let doubts = network.doubts(&study.assumptions);
    let assumed = doubts.iter().filter(|doubt| doubt.assumed).count();
    // No flow depends on what the machines need, and the wall of the hose's drop has no duct.
    let without = study.assumptions.iter().filter(|at| {
        at.parameter == Parameter::Required
            || (at.place == Place::Section("saw drop".into())
                && at.parameter == Parameter::Roughness)
            || (matches!(at.place, Place::Before { .. }) && at.parameter == Parameter::Roughness)
    });
    assert_eq!(assumed, study.assumptions.len() - without.count());
    let point = network.uncertainty(&open, &doubts).unwrap();
    let saw = point.machine("saw").unwrap();
    assert_eq!(saw.grade(), Grade::RoughGuess);
    assert_eq!(saw.assumptions.len(), 3);
    let told: Vec<String> = saw.assumptions.iter().map(ToString::to_string).collect();
    insta::assert_snapshot!(told.join("\n"), @r#"
    fan: shape of the curve, 61 % of the variance
    hood "saw port": loss coefficient, 21 % of the variance
    collector, run 1 before the fan, part 1: pressure drop, 7 % of the variance
    "#);
    // The same shop, had all of it been given.
    let given = network.doubts(&[]);
    let point = network.uncertainty(&open, &given).unwrap();
    let saw = point.machine("saw").unwrap();
    assert_eq!((saw.grade(), saw.assumed_share), (Grade::Calculated, 0.0));
    assert!(saw.assumptions.is_empty());
    // Rarely a whole share: only the largest are kept.
    let shares: f64 = saw.contributions.iter().map(|at| at.share).sum();
    assert!(shares > 0.9 && shares <= 1.0 + 1e-12, "{shares}");
    // A hood that is not open has nothing to be uncertain about.
    let planer = point.hood("planer port").unwrap();
    assert_eq!((planer.value, planer.standard), (0.0, 0.0));
}

#[test]
fn prop_of_an_assumption_the_band_is_kept() {
    let study: Study = toml::from_str(ASSUMED).unwrap();
    let z = 1.959_963_984_540_054;
    for assumption in &study.assumptions {
        let doubt = Doubt::of_assumption(assumption);
        let width = match doubt.spread {
            Spread::Scaled => (assumption.high / assumption.low).ln(),
            _ => assumption.high - assumption.low,
        };
        assert!(
            (2.0 * z * doubt.standard - width).abs() < 1e-12 * width,
            "{assumption}"
        );
        assert!(doubt.assumed);
    }
}

#[test]
fn doubts_are_judged() {
    let network = run(1.0);
    let open = network.open_all();
    let told = |doubts: &[Doubt]| {
        let error = network.uncertainty(&open, doubts).unwrap_err();
        assert!(error.is_input());
        let drawn = network.monte_carlo(&open, doubts, &MonteCarlo::default().draws(2));
        assert_eq!(drawn.unwrap_err().to_string(), error.to_string());
        error.to_string()
    };
    let doubt = |place, parameter, standard| Doubt::new(place, parameter, standard, "test");
    let k = doubt(part(), Parameter::K, 0.1);
    insta::assert_snapshot!(told(&[doubt(part(), Parameter::K, -0.1)]), @r#"section "run", part 1: the standard uncertainty of its loss coefficient is -0.1; it must be 0 or more, and finite"#);
    insta::assert_snapshot!(told(&[doubt(part(), Parameter::K, f64::NAN)]), @r#"section "run", part 1: the standard uncertainty of its loss coefficient is NaN; it must be 0 or more, and finite"#);
    insta::assert_snapshot!(told(&[doubt(part(), Parameter::Length, 0.1)]), @r#"section "run", part 1: no answer depends on its length; `Network::settings` lists what they do"#);
    insta::assert_snapshot!(told(&[k.clone(), k.clone()]), @r#"section "run", part 1: two uncertainties of its loss coefficient; give one"#);
    let how = MonteCarlo::default().draws(1);
    let error = network.monte_carlo(&open, &[k], &how).unwrap_err();
    insta::assert_snapshot!(error, @r#"1 of 1 draws gave an answer, two at least are needed"#);
    assert!(matches!(
        error,
        UncertaintyError::Draws { draws: 1, good: 1 }
    ));
    let point = network.uncertainty(&open, &[]).unwrap();
    assert_eq!(point.flow.standard, 0.0);
    assert_eq!(point.flow.output, Output::TotalFlow);
    assert!(point.machine("port").is_err());
}
