//! The pressure budget: its parts sum to what the fan gives, on every path and in the whole.

#![allow(
    clippy::unwrap_used,
    clippy::panic,
    reason = "a test that cannot go on must stop"
)]

use crate::common::{
    random::{self, Junctions, Recipe, Rng},
    three_hoods,
};
use airsplit::{
    Area, Bore, Budget, BudgetError, ElementKind, Gate, Junction, Leak, Length, Name, Network,
    OperatingPoint, Part, PathBudget, Place, SolveError, Start, System, Tightness, VolumeFlow,
};
use proptest::prelude::*;

/// How far a sum may be off, of the sum of all sizes: the solver's own residual is 1e-12 and less.
const TOLERANCE: f64 = 1e-9;

fn assert_sums(path: &PathBudget) {
    let pa = |path: &PathBudget| path.elements.iter().map(|e| e.loss.as_pa()).sum::<f64>();
    let sizes: f64 = path.elements.iter().map(|e| e.loss.as_pa().abs()).sum();
    let pressure = path.pressure.as_pa();
    assert!(
        (pa(path) - pressure).abs() <= TOLERANCE * sizes,
        "{:?}: {} Pa of losses, {pressure} Pa of the fan",
        path.hood,
        pa(path)
    );
    let shares: f64 = path.elements.iter().map(|e| e.share).sum();
    assert!((shares - 1.0).abs() <= TOLERANCE * sizes / pressure.abs());
    // It begins and ends in the open: total pressure 0.
    let end = path.elements.last().unwrap().total_pressure.as_pa();
    if path.of_total {
        assert!(end.abs() <= TOLERANCE * sizes);
    }
}

/// Every path that carries air, and the whole.
fn assert_budget(system: &System, point: &OperatingPoint) -> usize {
    let budget = Budget::new(system, point).unwrap();
    let mut gains = 0;
    for hood in &point.hoods {
        match budget.path(hood.name.as_str()) {
            Ok(path) => {
                assert!(hood.flow.as_m3_s() > 0.0);
                assert_sums(&path);
                assert_along(&path, point);
                gains += path
                    .elements
                    .iter()
                    .filter(|e| e.loss.as_pa() < 0.0)
                    .count();
            }
            Err(BudgetError::NoAir { .. }) => assert_eq!(hood.flow.as_m3_s(), 0.0),
            Err(error) => panic!("{error}"),
        }
    }
    let kinds = budget.kinds();
    let shares: f64 = kinds.iter().map(|kind| kind.share).sum();
    let sizes: f64 = kinds.iter().map(|kind| kind.share.abs()).sum();
    assert!((shares - 1.0).abs() <= TOLERANCE * sizes, "{kinds:#?}");
    gains
}

/// Total and static pressure behind each section are those of the solver.
fn assert_along(path: &PathBudget, point: &OperatingPoint) {
    let largest = path.elements.iter().map(|e| e.total_pressure.as_pa().abs());
    let scale = largest.fold(1e-300, f64::max);
    let section_of = |place: &Place| match place {
        Place::Section(name) => Some(name.clone()),
        Place::Part { section, .. } => Some(section.clone()),
        _ => None,
    };
    let mut seen: Option<(Name, usize)> = None;
    for (i, element) in path.elements.iter().enumerate() {
        let here = section_of(&element.place);
        if let Some((name, last)) = seen.take().filter(|(name, _)| here.as_ref() != Some(name)) {
            let state = point.section(name.as_str()).unwrap();
            let told = &path.elements[last];
            let off = told.total_pressure.as_pa() - state.total_pressure.as_pa();
            assert!(off.abs() <= TOLERANCE * scale, "{name}: {off} Pa");
            let off = told.static_pressure.as_pa() - state.static_pressure.as_pa();
            let scale = scale + state.velocity_pressure.as_pa();
            assert!(off.abs() <= TOLERANCE * scale, "{name}: {off} Pa static");
        }
        seen = here.map(|name| (name, i));
    }
}

/// Gates, leaks and holes at random, on top of a random system.
fn loosen(system: &mut System, rng: &mut Rng) {
    for section in &mut system.sections {
        if rng.chance(0.4) {
            section.tightness = rng.pick(&[Tightness::Atc5, Tightness::Smacna(48.0)]);
        }
        if matches!(section.start, Start::Capped) && rng.chance(0.5) {
            section.start = Start::Leak(Leak::Hole(Area::from_cm2(rng.spread(0.1, 10.0))));
        }
        if rng.chance(0.5) {
            section.parts.push(Part::Gate(Gate {
                opening: rng.pick(&[1.0, 0.7, 0.3]),
                leak_area: Some(Area::from_cm2(rng.pick(&[0.0, 0.5, 2.0]))),
            }));
        }
    }
}

fn solved(system: &System, open: &[Name]) -> OperatingPoint {
    let network = Network::new(system).unwrap();
    let open = network.open(open).unwrap();
    network.operating_point(&open).unwrap()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn prop_losses_sum_to_what_the_fan_gives(recipe in random::any_recipe()) {
        let system = recipe.system();
        assert_budget(&system, &solved(&system, &recipe.open(&system)));
    }

    #[test]
    fn prop_losses_sum_with_gates_and_leaks(recipe in random::any_recipe()) {
        let mut system = recipe.system();
        loosen(&mut system, &mut Rng(recipe.seed));
        let network = Network::new(&system);
        prop_assume!(network.is_ok());
        let network = network.unwrap();
        let open = network.open(recipe.open(&system)).unwrap();
        match network.operating_point(&open) {
            Ok(point) => { assert_budget(&system, &point); }
            Err(error) => prop_assert_eq!(error, SolveError::NothingOpen),
        }
    }

    #[test]
    fn prop_losses_sum_without_a_fan(recipe in random::recipes(Junctions::Mixed), q in 0.01..2.0f64) {
        let mut system = recipe.system();
        system.collector.fan = None;
        let network = Network::new(&system).unwrap();
        let point = network.point_at_flow(&network.open_all(), VolumeFlow::from_m3_s(q)).unwrap();
        assert_budget(&system, &point);
    }
}

#[test]
fn prop_every_junction_model_and_its_gains_are_told() {
    let mut gains = 0;
    for junction in [
        Junction::Momentum,
        Junction::Gardel,
        Junction::Crane,
        Junction::FixedK,
        Junction::Automatic,
    ] {
        let mut system = three_hoods::system().with_junction(junction);
        for section in &mut system.sections {
            section.join.k = section.into.is_some().then_some(0.2);
        }
        let network = Network::new(&system).unwrap();
        for names in [
            vec!["hood1", "hood2", "hood3"],
            vec!["hood1", "hood3"],
            vec!["hood2", "hood3"],
            vec!["hood1"],
        ] {
            let open = network.open(&names).unwrap();
            let point = network.operating_point(&open).unwrap();
            gains += assert_budget(&system, &point);
        }
    }
    assert!(gains > 0, "no stream was pulled along: nothing was tested");
}

/// The marks are those of a plain search.
#[test]
fn prop_steepest_and_largest_are_marked() {
    let mut system = three_hoods::system();
    system.sections[0].size = Bore::Round(Length::from_mm(60.0));
    let names: Vec<Name> = random::hoods(&system);
    let point = solved(&system, &names);
    let budget = Budget::new(&system, &point).unwrap();
    for name in &names {
        let path = budget.path(name.as_str()).unwrap();
        let steepest = &path.elements[path.steepest.unwrap()];
        let largest = &path.elements[path.largest.unwrap()];
        for element in &path.elements {
            assert!(element.loss <= largest.loss);
            assert!(element.pa_per_m <= steepest.pa_per_m);
            if let (Some(length), Some(pa_per_m)) = (element.length, element.pa_per_m) {
                let loss = length.as_m() * pa_per_m;
                assert!((loss / element.loss.as_pa() - 1.0).abs() < 1e-12);
            }
        }
        assert!(matches!(
            steepest.kind,
            ElementKind::Duct | ElementKind::Hose
        ));
    }
    // The costliest kind comes first.
    let kinds = budget.kinds();
    assert!(kinds.windows(2).all(|pair| pair[0].power >= pair[1].power));
}

#[test]
fn what_is_not_there_is_told() {
    let system = three_hoods::system();
    let point = solved(&system, &["hood1".into()]);
    let budget = Budget::new(&system, &point).unwrap();
    let unknown = budget.path("hood4").unwrap_err();
    assert!(unknown.to_string().contains("hood1"), "{unknown}");
    assert_eq!(
        budget.path("hood2").unwrap_err(),
        BudgetError::NoAir {
            hood: "hood2".into()
        }
    );
    let mut other = system.clone();
    other.sections[0].size = Bore::Round(Length::from_mm(90.0));
    assert_eq!(
        Budget::new(&other, &point).unwrap_err(),
        BudgetError::ForeignPoint { what: "sections" }
    );
    let mut broken = system;
    broken.sections[0].into = Some("nowhere".into());
    assert!(matches!(
        Budget::new(&broken, &point),
        Err(BudgetError::Model(_))
    ));
}

/// Three hundred hoods: a budget is made and a path walked without trouble.
#[test]
fn prop_a_large_system_is_no_trouble() {
    let recipe = Recipe {
        hoods: 300,
        seed: 11,
        junctions: Junctions::Momentum,
    };
    let system = recipe.system();
    let names = random::hoods(&system);
    let point = solved(&system, &names);
    let budget = Budget::new(&system, &point).unwrap();
    assert_sums(&budget.path(names[123].as_str()).unwrap());
}
