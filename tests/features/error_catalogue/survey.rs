//! Readings held against a system, and a system fitted to them.

use super::*;

fn flow(id: &str) -> Observation {
    Observation::new(id, Output::TotalFlow, 0.4, 0.01).with_open(["planer"])
}

fn shown(id: &str, at: Place, shows: Shows) -> Reading {
    Reading::new(id, at, ["planer"], shows)
}

fn survey_errors(told: &mut Told) {
    let compare = |readings: &[Observation]| compare_readings(&shop(), readings, &[]);
    told.refused(compare(&[]));
    told.refused(compare(&[flow("r1"), flow("r1")]));
    let mut odd = flow("r1");
    odd.standard = -0.01;
    told.refused(compare(&[odd]));
    let hood = |name: &str| {
        Observation::new("r1", Output::Hood(name.into()), 0.2, 0.01).with_open(["planer"])
    };
    told.refused(compare(&[hood("planer prot")]));
    told.refused(compare(&[
        flow("r1").in_setup(Setup::default().blocked(0.5))
    ]));
    let at = Place::Machine("planer".into());
    let suction = Shows::Static {
        pressure: pa(-500.0),
        instrument: Instrument::StaticTap,
    };
    told.refused(shown("r1", at, suction).observe(&shop()));
    let vane = Shows::Vane(VaneReading::new([]));
    told.refused(shown("r1", Place::Hood("planer port".into()), vane).observe(&shop()));
    let height = Barometer::Altitude(Length::from_m(9000.0));
    let thin = Air::moist(height, Temperature::from_celsius(20.0), 0.5);
    let centre = Shows::Centre(CentreReading::of_pressure(pa(240.0), mm(0.09)));
    let main = || Place::Section("main".into());
    told.refused(shown("r1", main(), centre).in_air(thin).observe(&shop()));
    told.refused(compare_readings(&spoilt_shop(), &[flow("r1")], &[]));
    let mut fanless = shop();
    fanless.collector.fan = None;
    told.refused(compare_readings(&fanless, &[flow("r1")], &[]));
    let part = Place::Part {
        section: "main".into(),
        part: 0,
    };
    let doubt = Doubt::new(part, Parameter::Length, -0.1, "a guess");
    told.refused(compare_readings(&shop(), &[flow("r1")], &[doubt]));
}

fn number(parameter: Parameter, part: usize) -> NumberAt {
    NumberAt {
        place: Place::Part {
            section: "saw drop".into(),
            part,
        },
        parameter,
    }
}

fn calibrate_errors(told: &mut Told) {
    let readings = [flow("r1"), flow("r2")];
    let fit = |readings: &[Observation], unknowns: &[Unknown]| {
        calibrate(&shop(), readings, unknowns, OutlierTreatment::All)
    };
    let usual = || Unknown::all_usual(&shop()).unwrap();
    told.refused(Unknown::usual(
        &shop(),
        UnknownKind::HoseSlack,
        Some(&"main".into()),
    ));
    let length = |name: &str| Unknown::factor(name, [number(Parameter::Length, 0)], 0.1);
    let none = Unknown::factor("odd", [number(Parameter::Opening, 0)], 0.1);
    told.refused(fit(&readings, &[none]));
    let join = NumberAt {
        place: Place::Join("saw drop".into()),
        parameter: Parameter::ExtraK,
    };
    told.refused(fit(&readings, &[Unknown::factor("wye", [join], 0.1)]));
    let set = Unknown::number("set", number(Parameter::Length, 0), 5.0, 0.5);
    told.refused(fit(&readings, &[length("factor"), set]));
    told.refused(fit(&[], &usual()));
    told.refused(calibrate(
        &spoilt_shop(),
        &readings,
        &usual(),
        OutlierTreatment::All,
    ));
    // The fit's own.
    for unknowns in [
        vec![],
        vec![length("one"), length("one")],
        vec![length("one").known_to(-0.1)],
    ] {
        fitted(told, fit(&readings, &unknowns));
    }
    let mut far = flow("far");
    far.value = 1e200;
    far.standard = 1e-200;
    fitted(told, fit(&[far], &[length("one")]));
    let mut fanless = shop();
    fanless.collector.fan = None;
    fitted(
        told,
        calibrate(&fanless, &readings, &[length("one")], OutlierTreatment::All),
    );
    let found = fit(&readings, &[length("one")]).unwrap();
    told.refused(found.next_readings(&[flow("next")], &names(["planner"]), &[Output::TotalFlow]));
    by_hand(told);
}

/// An error of the calibration, and that of the fit inside it.
fn fitted(told: &mut Told, result: Result<Calibration, CalibrateError>) {
    let error = result.unwrap_err();
    told.add(&error);
    if let CalibrateError::Fit(inner) = &error {
        told.inner(&**inner);
    }
}

fn by_hand(told: &mut Told) {
    let no_balance: Vec<FitError<CalibrateError>> = vec![
        FitError::NoUnknowns,
        FitError::NoReadings,
        FitError::Blocked {
            failed: 12,
            error: None,
        },
        FitError::NotConverged {
            ended: FitEnd::Patience,
            evaluations: 400,
            offset: 0.3,
        },
    ];
    for error in no_balance {
        told.inner(&error);
        told.made.insert(told.lines[told.lines.len() - 1].0.clone());
        let numerics = !matches!(error, FitError::NoReadings | FitError::NoUnknowns);
        let name = if numerics {
            "CalibrateError::Fit of numerics"
        } else {
            "CalibrateError::Fit"
        };
        told.class(name.into(), CalibrateError::from(error).into());
    }
    for error in [
        NextError::NothingWanted,
        NextError::Gradient {
            what: "candidate",
            index: 0,
            unknowns: 3,
        },
        NextError::Standard {
            index: 0,
            value: -0.1,
        },
    ] {
        told.inner(&error);
        told.made.insert(told.lines[told.lines.len() - 1].0.clone());
        told.add(&CalibrateError::from(error));
    }
}

pub(crate) fn errors() -> Told {
    let mut told = Told::default();
    survey_errors(&mut told);
    calibrate_errors(&mut told);
    told
}

#[test]
fn texts() {
    insta::assert_snapshot!(errors().table(), @r##"
    SurveyError::NoReadings: there are no readings; give at least one
    SurveyError::Twice: two readings are called "r1"; give each its own name
    SurveyError::Number: reading "r1": its standard uncertainty is -0.01 m3/s; it must be above 0, and finite
    SurveyError::Place: reading "r1": no hood is called "planer prot"; known, nearest first: "planer port", "saw cabinet"
    SurveyError::NoPipe: reading "r1": only the pipe of one hood can be unplugged or blocked; read at that hood, or at its section
    SurveyError::Elsewhere: reading "r1": a static pressure is not read at machine "planer"; read it at a hood, a section, a run before the fan, or the fan
    SurveyError::Measuring: reading "r1": give velocities or velocity pressures, one of the two; none is given
    SurveyError::Air: reading "r1": altitude is 9000 m; allowed: -500 m to 5000 m
    SurveyError::Model: reading "r1": section "main": diameter is 0 mm; allowed: 1 mm to 20000 mm
    SurveyError::Solve: reading "r1": the collector has no fan; give it one, or impose a flow
    SurveyError::Doubt: section "main", part 1: the standard uncertainty of its length is -0.1 m; it must be 0 or more, and finite
    CalibrateError::NothingToMove: unknown "hose slack of main": there is nothing of its kind above 0 to be moved; leave it out, or give the system such a part
    CalibrateError::NoNumber: unknown "odd": section "saw drop", part 1 has no opening that an answer depends on; `Network::settings` lists what they do
    CalibrateError::Zero: unknown "wye": the extra loss coefficient of join of section "saw drop" is 0, which no factor moves; give it a start above 0
    CalibrateError::SetTwice: unknown "set": the length of section "saw drop", part 1 is moved by another unknown already; only factors go together; leave one out
    CalibrateError::Survey: there are no readings; give at least one
    CalibrateError::Model: section "main": diameter is 0 mm; allowed: 1 mm to 20000 mm
    CalibrateError::NoUnknowns: there is nothing to calibrate; name at least one unknown
    CalibrateError::Fit: two unknowns are called "one"; each needs a name of its own
    FitError::Twice: two unknowns are called "one"; each needs a name of its own
    CalibrateError::Fit: unknown "one": its standard uncertainty is -0.1 in its own unit; it must be above 0, and finite
    FitError::Number: unknown "one": its standard uncertainty is -0.1 in its own unit; it must be above 0, and finite
    CalibrateError::Fit: reading "far": with every unknown at its start its prediction or the gradient is no number, or over 1e100 standard uncertainties off; mend the reading, or the start
    FitError::StartNotFinite: reading "far": with every unknown at its start its prediction or the gradient is no number, or over 1e100 standard uncertainties off; mend the reading, or the start
    CalibrateError::Fit: nothing is predicted with every unknown at its start: reading "r1": the collector has no fan; give it one, or impose a flow
    FitError::Start: nothing is predicted with every unknown at its start: reading "r1": the collector has no fan; give it one, or impose a flow
    CalibrateError::Survey: no hood or machine is called "planner"; known, nearest first: "planer", "planer port", "saw cabinet"
    FitError::NoUnknowns: nothing to fit: there is no unknown; name at least one
    FitError::NoReadings: nothing to fit to: there is no reading; give at least one
    FitError::Blocked: no convergence, and 12 predictions failed on the way; the last was no finite number
    FitError::NotConverged: no convergence: the limit of evaluations was reached after 400 evaluations, about 3.0e-1 standard uncertainties from the least misfit
    NextError::NothingWanted: nothing to rank for: give the gradient of a wanted number at least
    CalibrateError::Next: nothing to rank for: give the gradient of a wanted number at least
    NextError::Gradient: candidate 1: its gradient must be 3 finite numbers, one for each unknown
    CalibrateError::Next: candidate 1: its gradient must be 3 finite numbers, one for each unknown
    NextError::Standard: candidate 1: its standard uncertainty is -0.1 in its own unit; it must be above 0, and finite
    CalibrateError::Next: candidate 1: its standard uncertainty is -0.1 in its own unit; it must be above 0, and finite
    "##);
}
