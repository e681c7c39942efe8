//! More than is worked out: told before any work is done.

use super::*;

pub(crate) fn errors() -> Told {
    let mut told = Told::default();
    let reading = |i: usize| {
        let id = format!("reading {i}");
        Observation::new(id, Output::TotalFlow, 0.4, 0.01).with_open(["planer"])
    };
    let readings: Vec<_> = (0..=Observation::MOST).map(reading).collect();
    told.refused(compare_readings(&shop(), &readings, &[]));
    let unknown = |i: usize| {
        let number = NumberAt {
            place: Place::Part {
                section: "main".into(),
                part: 0,
            },
            parameter: Parameter::Length,
        };
        Unknown::factor(format!("unknown {i}"), [number], 0.1)
    };
    let unknowns: Vec<_> = (0..=Unknown::MOST).map(unknown).collect();
    told.refused(calibrate(
        &shop(),
        &readings[..1],
        &unknowns,
        OutlierTreatment::All,
    ));
    let points = (0..=FanCurve::MOST_POINTS).map(|i| (m3_h(i as f64), pa(20_000.0 - i as f64)));
    let density = Density::STANDARD_AIR;
    told.refused(FanCurve::new(
        points,
        Basis::Static,
        Fitted::NOTHING,
        density,
    ));
    let many_runs = refused(|system| {
        let run = Run::new(round_mm(160.0), Wall::Steel);
        system.collector.before = vec![run; System::MOST_RUNS + 1];
    });
    told.model(&many_runs);
    let network = Network::new(&shop()).unwrap();
    let all = network.open_all();
    let draws = MonteCarlo::default().draws(MonteCarlo::MOST_DRAWS + 1);
    told.refused(network.monte_carlo(&all, &[], &draws));
    let group = (0..1001).map(|i| format!("machine {i}"));
    told.refused(Use::any().exclusive(group).sets(&network).map(|_| ()));
    let mut wide = shop();
    for i in 0..20 {
        let mut one = wide.sections[2].clone();
        one.id = format!("drop {i}").into();
        one.start = Start::Hood(Hood::new(format!("hood {i}"), Entry::Plain));
        wide.sections.push(one);
    }
    let wide = Network::new(&wide).unwrap();
    told.refused(Use::any().at_most(10).maximal_names(&wide));
    told
}

#[test]
fn what_is_too_many_is_told() {
    insta::assert_snapshot!(errors().table(), @r#"
    SurveyError::TooMany: 1001 readings; at most 1000 are worked out together
    CalibrateError::TooManyUnknowns: 201 unknowns; at most 200 are worked out together
    FanError::TooManyPoints: a curve of more than 10000 points; give at most so many, or smooth them
    ModelFault::TooMany: collector: 1001 runs; at most 1000 are worked out together
    UncertaintyError::TooManyDraws: 1000001 draws; at most 1000000 are made
    UseError::TooManyPairs: the exclusive groups make 1002001 pairs of machines; at most 1000000 are worked out: give smaller groups
    UseError::TooManyNamed: more than 100000 sets; let fewer machines be open at once, or ask for the sets one by one
    "#);
}
