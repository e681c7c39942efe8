//! Limits on counts: stated as constants, enforced before anything is worked out.

use super::*;

fn too_many(errors: &ModelErrors) -> (&Place, &'static str, usize) {
    let all: Vec<_> = errors.iter().collect();
    assert_eq!(all.len(), 1, "{errors}");
    match &all[0].fault {
        ModelFault::TooMany { what, given, most } => {
            assert!(given > most);
            (&all[0].place, *what, *given)
        }
        other => panic!("{other:?}"),
    }
}

#[test]
fn prop_a_model_of_too_many_is_refused_and_nothing_else_is_judged() {
    let mut system = shop();
    let section = system.sections[0].clone();
    system.sections = vec![section; System::MOST_SECTIONS + 1];
    let errors = system.check().unwrap_err();
    // Their equal names are not told a hundred thousand times.
    let told = too_many(&errors);
    assert_eq!(
        told,
        (&Place::System, "sections", System::MOST_SECTIONS + 1)
    );

    let mut system = shop();
    let name = system.sections[1].id.clone();
    system.sections[1].parts = vec![Part::K(-1.0); System::MOST_PARTS + 1];
    let errors = system.check().unwrap_err();
    assert_eq!(*too_many(&errors).0, Place::Section(name));

    let mut system = shop();
    let run = Run::new(round(150.0), Wall::Galvanised);
    system.collector.before = vec![run; System::MOST_RUNS + 1];
    assert_eq!(too_many(&system.check().unwrap_err()).1, "runs");
    assert!(Network::new(&system).is_err());

    let mut system = shop();
    let machine = Machine {
        id: "m".into(),
        required: VolumeFlow::from_cfm(1.0),
    };
    system.machines = vec![machine; System::MOST_SECTIONS + 1];
    assert_eq!(too_many(&system.check().unwrap_err()).1, "machines");
}

#[test]
fn prop_a_table_without_an_end_is_refused() {
    let flows = || (0..).map(|i| VolumeFlow::from_l_s(f64::from(i)));
    let density = Density::from_kg_m3(1.2);
    let points = || flows().map(|flow| (flow, Pressure::from_pa(1000.0)));
    let most = FanCurve::MOST_POINTS;
    let error = FanError::TooManyPoints { most };
    let curve = FanCurve::new(points(), Basis::Total, Fitted::ALL, density);
    assert_eq!(curve.unwrap_err(), error);
    let curve = FanCurve::smoothed(points(), Basis::Total, Fitted::ALL, density);
    assert_eq!(curve.unwrap_err(), error);
    let powers = flows().map(|flow| (flow, Power::from_kw(1.0)));
    assert_eq!(PowerCurve::new(powers, density).unwrap_err(), error);
    // As many as are allowed.
    let curve = FanCurve::new(points().take(most), Basis::Total, Fitted::ALL, density);
    assert_eq!(curve.unwrap().points().len(), most);
}

#[test]
fn prop_questions_beyond_patience_are_refused() {
    let network = Network::new(&shop()).unwrap();
    let draws = MonteCarlo::MOST_DRAWS + 1;
    let how = MonteCarlo::default().draws(draws);
    let error = network.monte_carlo(&network.open_all(), &[], &how);
    assert_eq!(error.unwrap_err(), UncertaintyError::TooManyDraws { draws });

    let usage = Use::any().exclusive(vec!["planer"; 1001]);
    let error = usage.sets(&network).unwrap_err();
    assert_eq!(error, UseError::TooManyPairs { pairs: 1001 * 1001 });

    let reading = |i| Observation::new(format!("{i}"), Output::TotalFlow, 0.1, 0.01);
    let given = Observation::MOST + 1;
    let readings: Vec<_> = (0..given).map(reading).collect();
    let error = compare_readings(&shop(), &readings, &[]).unwrap_err();
    assert_eq!(error, SurveyError::TooMany { given });

    let unknowns = Unknown::usual(&shop(), UnknownKind::FanScale, None).unwrap();
    let given = Unknown::MOST + 1;
    let unknowns = vec![unknowns; given];
    let readings = [reading(0).with_open(["planer"])];
    let error = calibrate(&shop(), &readings, &unknowns, OutlierTreatment::All).unwrap_err();
    assert_eq!(error, CalibrateError::TooManyUnknowns { given });

    let flows = vec![
        FlowAt::new(
            "main east",
            VolumeFlow::from_cfm(1.0),
            VolumeFlow::from_cfm(1.0)
        );
        501
    ];
    let error = FlowReadings::new(flows, ["planer"])
        .reconcile(&shop())
        .unwrap_err();
    assert_eq!(error, ReconcileError::TooMany { given: 501 });
}

#[test]
fn prop_a_junction_of_too_many_inlets_is_refused() {
    let inlet = Inlet {
        area: Area::from_cm2(20.0),
        angle: Angle::from_deg(45.0),
        k: 0.0,
    };
    let inlets = |count| vec![(inlet, VolumeFlow::from_l_s(1.0)); count];
    let losses = |count| {
        let air = Density::from_kg_m3(1.2);
        Junction::Momentum.losses(air, Area::from_m2(0.5), &inlets(count))
    };
    assert_eq!(losses(1000).unwrap().inlets.len(), 1000);
    let error = losses(1001).unwrap_err();
    assert_eq!((error.what, error.value), ("number of inlets", 1001.0));
}
