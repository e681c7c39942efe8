//! Questions to a network: points, uncertainties, open sets.

use super::*;

fn network() -> Network {
    Network::new(&shop()).unwrap()
}

fn with_fan(points: &[(f64, f64)]) -> System {
    let points = points.iter().map(|(q, p)| (m3_h(*q), pa(*p)));
    let fan = FanCurve::new(
        points,
        Basis::Static,
        Fitted::NOTHING,
        Density::STANDARD_AIR,
    );
    let mut system = shop();
    system.collector.fan = Some(fan.unwrap());
    system
}

fn point(system: &System) -> Result<OperatingPoint, SolveError> {
    let network = Network::new(system).unwrap();
    network.operating_point(&network.open_all())
}

/// A stack that gives back more than the whole system loses.
fn regaining() -> System {
    let mut system = with_fan(&[(0.0, 1200.0), (720.0, 1000.0), (1440.0, 200.0)]);
    let fan = system.collector.fan.take().unwrap();
    system.collector.fan = Some(fan.with_outlet(round_mm(100.0)).unwrap());
    let stack = Run::new(round_mm(300.0), Wall::Steel);
    system.collector.after = vec![stack.with_part(Part::Transition(Transition::K(0.0)))];
    system.collector.before.clear();
    system.sections.truncate(1);
    system.machines.clear();
    system.sections[0].start = Start::Hood(Hood::new("port", Entry::K(0.1)));
    system.sections[0].parts.clear();
    system.sections[0].size = round_mm(300.0);
    system
}

fn solve_errors(told: &mut Told) {
    let network = network();
    told.refused(network.operating_point(&network.open::<[&str; 0]>([]).unwrap()));
    let mut other = shop();
    other.sections.pop();
    let other = Network::new(&other).unwrap();
    told.refused(network.operating_point(&other.open_all()));
    told.refused(network.open(["planner"]));
    let all = network.open_all();
    told.refused(network.gradient(&all, &Output::Hood("planner".into())));
    let mut without = shop();
    without.collector.fan = None;
    told.refused(point(&without));
    told.refused(network.point_at_flow(&all, m3_h(-5.0)));
    told.refused(network.system_curve(&all).unwrap().flow(pa(-5.0)));
    let slow = SweepOptions::new(Velocity::from_m_s(-1.0));
    told.refused(network.sweep([&all]).summary(&slow));
    told.refused(point(&with_fan(&[
        (720.0, 100.0),
        (1080.0, 1500.0),
        (1800.0, 300.0),
    ])));
    told.refused(point(&regaining()));
}

fn uncertainty_errors(told: &mut Told) {
    let network = network();
    let all = network.open_all();
    let place = || Place::Part {
        section: "main".into(),
        part: 0,
    };
    let doubt = |parameter, standard| Doubt::new(place(), parameter, standard, "a guess");
    let length = doubt(Parameter::Length, 0.1);
    told.refused(network.uncertainty(&all, &[doubt(Parameter::Opening, 0.1)]));
    told.refused(network.uncertainty(&all, &[doubt(Parameter::Length, -0.1)]));
    told.refused(network.uncertainty(&all, &[length.clone(), length.clone()]));
    let one = MonteCarlo::default().draws(1);
    told.refused(network.monte_carlo(&all, &[length], &one));
    let none = network.open::<[&str; 0]>([]).unwrap();
    told.refused(network.uncertainty(&none, &[]));
    told.by_hand(&UncertaintyError::Model(
        Network::new(&spoilt_shop()).unwrap_err(),
    ));
}

fn use_errors(told: &mut Told) {
    let network = network();
    told.refused(
        Use::any()
            .exclusive(["planner", "saw cabinet"])
            .sets(&network),
    );
    told.refused(Use::any().at_most(0).sets(&network));
    told.refused(Use::any().exclusive(["planer"]).sets(&network));
    told.refused(
        Use::any()
            .exclusive(["planer", "planer port"])
            .sets(&network),
    );
    told.refused(Use::any().weighing("planer", -1.0).sets(&network));
    told.refused(Use::any().weighing("planer port", 1.0).sets(&network));
    told.by_hand(&UseError::from(SolveError::NothingOpen));
    let mut wide = shop();
    let drop = wide.sections[2].clone();
    for i in 0..40 {
        let mut one = drop.clone();
        one.id = format!("drop {i}").into();
        one.start = Start::Hood(Hood::new(format!("hood {i}"), Entry::Plain));
        wide.sections.push(one);
    }
    let wide = Network::new(&wide).unwrap();
    told.refused(wide.open_sets());
    told.by_hand(&UseError::from(wide.open_sets().unwrap_err()));
}

pub(crate) fn errors() -> Told {
    let mut told = Told::default();
    solve_errors(&mut told);
    uncertainty_errors(&mut told);
    use_errors(&mut told);
    told
}

#[test]
fn texts() {
    insta::assert_snapshot!(errors().table(), @r##"
    SolveError::NothingOpen: no open hood reaches the fan: open at least one, and let no gate on its way stand shut
    SolveError::ForeignOpenSet: the open set was made for a network with other hoods; make it anew with this network's `open`
    UnknownName: no hood or machine is called "planner"; known, nearest first: "planer", "planer port", "saw cabinet"
    SolveError::UnknownName: no hood is called "planner"; known, nearest first: "planer port", "saw cabinet"
    SolveError::NoFan: the collector has no fan; give it one, or impose a flow
    SolveError::ImposedFlow: cannot impose a flow of -5 m3/h; it must be above zero
    SolveError::ImposedPressure: cannot impose a pressure of -5 Pa; it must be above zero
    SolveError::LeastVelocity: cannot look for sections slower than -1 m/s; it must be zero or more
    SolveError::CannotStart: the fan cannot move air through this system: its curve gives -3906.6 Pa at rest; give its points from zero flow on
    SolveError::NeverMet: up to 419430.4 m3/s the fan gives more than the system asks for; check the sizes of the fan's outlet and of the discharge, and the end of the fan's curve
    UncertaintyError::NoNumber: section "main", part 1: no answer depends on its opening; `Network::settings` lists what they do
    UncertaintyError::Standard: section "main", part 1: the standard uncertainty of its length is -0.1 m; it must be 0 or more, and finite
    UncertaintyError::Twice: section "main", part 1: two uncertainties of its length; give one
    UncertaintyError::Draws: 1 of 1 draws gave an answer, two at least are needed
    UncertaintyError::Solve: no open hood reaches the fan: open at least one, and let no gate on its way stand shut
    UncertaintyError::Model: section "main": diameter is 0 mm; allowed: 1 mm to 20000 mm
    UseError::Name: no hood or machine is called "planner"; known, nearest first: "planer", "planer port", "saw cabinet"
    UseError::NoneAtOnce: at most 0 machines open at once leaves nothing to answer; say 1 or more
    UseError::SmallGroup: exclusive group 1 holds fewer than two machines; name two or more, or leave it out
    UseError::TwiceInGroup: exclusive group 1 holds "planer" twice; name each machine once
    UseError::Weight: weight -1 of "planer" must be above zero and finite; leave out what never runs
    UseError::WeightOfHood: "planer port" is a hood of a machine, which opens whole; give the weight of the machine
    UseError::Network: no open hood reaches the fan: open at least one, and let no gate on its way stand shut
    TooManySets: 42 hoods make more than 2^30 open sets of up to 42; ask for sets of up to 9
    UseError::Sets: 42 hoods make more than 2^30 open sets of up to 42; ask for sets of up to 9
    "##);
}
