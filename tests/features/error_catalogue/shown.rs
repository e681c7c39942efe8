//! Cases, reports and pictures.

use super::*;

fn nothing() -> SolveError {
    let network = Network::new(&shop()).unwrap();
    let none = network.open::<[&str; 0]>([]).unwrap();
    network.operating_point(&none).unwrap_err()
}

fn cases(told: &mut Told) {
    let options = CheckOptions::new();
    let ask = |system: &System, open: &[Name], options: &CheckOptions| {
        low_likely_high(system, &[], open, options)
    };
    told.refused(ask(&spoilt_shop(), &names(["planer"]), &options));
    told.refused(ask(&shop(), &names(["planner"]), &options));
    let odd = options
        .clone()
        .with_requirement(Requirement::new("planner"));
    told.refused(ask(&shop(), &names(["planer"]), &odd));
    told.refused(ask(&shop(), &[], &options));
}

fn reports(told: &mut Told) {
    let study = Study::new(shop());
    let plain = ReportOptions::new();
    told.refused(report(&Study::new(spoilt_shop()), &plain));
    told.refused(report(&study, &plain.clone().with_open(["planner"])));
    told.refused(report(&study, &plain.clone().with_open::<&str>([])));
    let mut used = study;
    used.plans.usage = Use::any().at_most(0);
    told.refused(report(&used, &plain));
    told.by_hand(&ReportError::Solve(nothing()));
    let mut many = shop();
    for i in 0..70 {
        let mut one = many.sections[2].clone();
        one.id = format!("drop {i}").into();
        one.start = Start::Hood(Hood::new(format!("hood {i}"), Entry::Plain));
        many.sections.push(one);
    }
    let sets = Network::new(&many).unwrap().open_sets().map(|_| ());
    told.by_hand(&ReportError::Sets(sets.unwrap_err()));
}

#[cfg(feature = "plot")]
fn pictures(told: &mut Told) {
    let options = PlotOptions::new();
    let (system, network) = (shop(), Network::new(&shop()).unwrap());
    let point = network.operating_point(&network.open_all()).unwrap();
    told.refused(machines_svg(
        &point,
        None,
        &options.clone().with_size(10, 560),
    ));
    told.refused(
        fan_and_system_svg(&system, &[], &[], &PlotOptions::new()).and_then(|_| {
            let mut fanless = system.clone();
            fanless.collector.fan = None;
            fan_and_system_svg(&fanless, &[], &[], &options)
        }),
    );
    let set = PlottedSet::solve("all", &network, &network.open_all(), &[]).unwrap();
    told.refused(fan_and_system_svg(&system, &vec![set; 40], &[], &options));
    let limits = TransportLimits::new(Velocity::from_m_s(20.0));
    let mut other = system.clone();
    other.sections[1].id = "renamed".into();
    told.refused(tree_svg(&other, &point, &limits, &options));
    told.by_hand(&PlotError::Fan {
        reason: "density 0 kg/m3".into(),
    });
    told.by_hand(&PlotError::Drawing {
        reason: "no room".into(),
    });
}

pub(crate) fn errors() -> Told {
    let mut told = Told::default();
    cases(&mut told);
    reports(&mut told);
    #[cfg(feature = "plot")]
    pictures(&mut told);
    told
}

#[test]
fn cases_and_reports_that_cannot_be_are_told() {
    let mut told = Told::default();
    cases(&mut told);
    reports(&mut told);
    insta::assert_snapshot!(told.table(), @r#"
    LowLikelyHighError::Model: section "main": diameter is 0 mm; allowed: 1 mm to 20000 mm
    LowLikelyHighError::Unknown: no hood or machine is called "planner"; known, nearest first: "planer", "planer port", "saw cabinet"
    LowLikelyHighError::Needs: no machine is called "planner"; known, nearest first: "planer"
    LowLikelyHighError::Uncertainty: no open hood reaches the fan: open at least one, and let no gate on its way stand shut
    ReportError::Model: section "main": diameter is 0 mm; allowed: 1 mm to 20000 mm
    ReportError::Unknown: no hood or machine is called "planner"; known, nearest first: "planer", "planer port", "saw cabinet"
    ReportError::NothingOpen: no hood or machine is to be open; name one, or leave the open set to the report
    ReportError::Use: [use]: at most 0 machines open at once leaves nothing to answer; say 1 or more
    ReportError::Solve: no open hood reaches the fan: open at least one, and let no gate on its way stand shut
    ReportError::Sets: 72 hoods make more than 2^30 open sets of up to 72; ask for sets of up to 6
    "#);
}

#[cfg(feature = "plot")]
#[test]
fn pictures_that_cannot_be_are_told() {
    let mut told = Told::default();
    pictures(&mut told);
    insta::assert_snapshot!(told.table(), @r#"
    PlotError::Size: the width of a picture is 10 pixels; it must be 320 to 4000
    PlotError::Nothing: nothing to show: the collector has no fan; give what is missing
    PlotError::TooMany: 40 open sets are too many for one picture; give at most 8
    PlotError::ForeignPoint: the operating point is of another system: it has no section "renamed"; give the one that a network of this system found
    PlotError::Fan: the fan's curve cannot be told in the air of the system: density 0 kg/m3; check the air
    PlotError::Drawing: cannot draw: no room; tell the keepers of this crate, with the data
    "#);
}
