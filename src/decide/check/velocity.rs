//! Is the air fast enough to carry what it should, and not faster than is sensible?

use super::{
    Context,
    finding::{Check, Comparing, Finding, Measure, Side, Verdict},
};
use crate::{
    decide::{
        dust::TransportVelocity,
        source::{Source, Transcription},
    },
    loss::Part,
    place::Place,
    quantity::{Pressure, Velocity},
};

/// DGUV Information 209-044: more is not sensible. Read.
const TOP_M_S: f64 = 28.0;

const TOP: Source = Source::new(
    "DGUV Information 209-044 \"Holzstaub\": more than 28 m/s is not sensible",
    Transcription::Read,
);

/// DGUV Information 209-044: what standard plant may be asked for. Read.
const INTERFACE_PA: f64 = 1500.0;

const INTERFACE: Source = Source::new(
    "DGUV Information 209-044 \"Holzstaub\": static suction asked for where machine and extraction \
     meet at most 1500 Pa for standard plant",
    Transcription::Read,
);

/// What a duct carries: the transport velocity, and whether nobody chose it.
type Carried<'a> = &'a (TransportVelocity, bool);

pub(super) fn check(context: &Context<'_>, found: &mut Vec<Finding>) {
    let point = context.point;
    let mut carried: Vec<Option<Carried<'_>>> = vec![None; point.sections.len()];
    let hoods = point.hoods.iter().zip(&context.resolved.hoods);
    for ((hood, at), dust) in hoods.zip(&context.needs.dust) {
        if let (true, Some(carried)) = (hood.open, carried.get_mut(at.section)) {
            *carried = Some(dust);
        }
    }
    let topology = &context.resolved.topology;
    for &section in &topology.order {
        let inlets = topology.inlets.get(section).map_or(&[][..], Vec::as_slice);
        for &inlet in inlets {
            let upstream = carried.get(inlet).copied().flatten();
            if let Some(here) = carried.get_mut(section) {
                *here = heavier(*here, upstream);
            }
        }
    }
    let mut main = None;
    for &inlet in &topology.mains {
        main = heavier(main, carried.get(inlet).copied().flatten());
    }
    for (state, carried) in point.sections.iter().zip(&carried) {
        if let Some(carried) = carried {
            let place = Place::Section(state.id.clone());
            // The walls leak at the downstream end: upstream of it the air is slower.
            let slowest = (state.flow - state.leak).as_m3_s() / state.size.area().as_m2();
            let slowest = Velocity::from_m_s(slowest);
            carry(context, &place, slowest, carried, found);
            top(context, &place, state.velocity, found);
        }
    }
    let before = context.system.collector.before.iter();
    for (run, state) in before.zip(&point.collector) {
        let Some(carried) = main else { break };
        let pipe = |part: &Part| matches!(part, Part::Duct(_) | Part::Hose(_) | Part::Elbow(_));
        let to_vessel = run.parts.iter().position(Part::is_vessel);
        let carries = run.parts.iter().take(to_vessel.unwrap_or(run.parts.len()));
        if carries.into_iter().any(pipe) {
            carry(context, &state.place, state.velocity, carried, found);
            top(context, &state.place, state.velocity, found);
        }
        if to_vessel.is_some() {
            break;
        }
    }
    for hood in point.hoods.iter().filter(|hood| hood.open) {
        let place = Place::Hood(hood.name.clone());
        let value = Measure::Pressure(-hood.static_pressure);
        let limit = Measure::Pressure(Pressure::from_pa(INTERFACE_PA));
        let comparing = Comparing {
            check: Check::HoodSuction,
            value,
            limit,
            side: Side::AtMost,
            broken: Verdict::Advice,
            relative: context.relative_pressure(&place),
            point: context.of_point(true),
            text: format!("{value} of static suction behind it; standard plant gives {limit}"),
            source: INTERFACE,
            place,
        };
        found.push(comparing.judge());
    }
}

/// Of two, what needs the faster air.
fn heavier<'a>(a: Option<Carried<'a>>, b: Option<Carried<'a>>) -> Option<Carried<'a>> {
    let rank = |carried: Carried<'_>| {
        let (transport, _) = carried;
        let ample = transport.ample.unwrap_or(transport.least);
        (transport.least.as_m_s(), ample.as_m_s())
    };
    match (a, b) {
        (Some(a), Some(b)) if rank(b) > rank(a) => Some(b),
        (None, b) => b,
        (a, _) => a,
    }
}

fn carry(
    context: &Context<'_>,
    place: &Place,
    velocity: Velocity,
    (transport, unchosen): Carried<'_>,
    found: &mut Vec<Finding>,
) {
    let value = Measure::Velocity(velocity);
    let least = Measure::Velocity(transport.least);
    let mut text = format!("{value}; it takes {least} to carry what it carries");
    if let Some(ample) = transport.ample {
        text = format!("{text}, {} to be ample", Measure::Velocity(ample));
    }
    if *unchosen {
        text.push_str(" (nobody said what that is: dry chips taken)");
    }
    let comparing = Comparing {
        check: Check::Transport,
        place: place.clone(),
        value,
        limit: least,
        side: Side::AtLeast,
        broken: Verdict::Fails,
        relative: context.relative_flow(place),
        point: context.of_point(true),
        text,
        source: transport.source.clone(),
    };
    let mut finding = comparing.judge();
    let between = transport.ample.is_some_and(|ample| velocity < ample);
    if finding.verdict == Verdict::Passes && between {
        finding.verdict = Verdict::Advice;
    }
    found.push(finding);
}

fn top(context: &Context<'_>, place: &Place, velocity: Velocity, found: &mut Vec<Finding>) {
    let value = Measure::Velocity(velocity);
    let limit = Measure::Velocity(Velocity::from_m_s(TOP_M_S));
    let comparing = Comparing {
        check: Check::TopVelocity,
        place: place.clone(),
        value,
        limit,
        side: Side::AtMost,
        broken: Verdict::Advice,
        relative: context.relative_flow(place),
        point: context.of_point(true),
        text: format!("{value}; beyond {limit} the duct only loses more and wears faster"),
        source: TOP,
    };
    found.push(comparing.judge());
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        Area, Bore, Check, CheckOptions, DustClass, Length, Place, Verdict, check,
        decide::by_hand::{shop, solved},
    };

    /// Damp chips: 20 m/s at least, 28 m/s is ample.
    #[test]
    fn from_the_ample_velocity_on_there_is_nothing_to_advise() {
        let mut system = shop();
        // One square metre, that the velocity is the flow.
        let square = Bore::Rectangular {
            width: Length::from_m(1.0),
            height: Length::from_m(1.0),
        };
        assert_eq!(square.area(), Area::from_m2(1.0));
        let main = system.sections.last_mut().unwrap();
        main.size = square;
        system.collector.before[0].size = square;
        let mut point = solved(&system, &["saw"]);
        let options = CheckOptions::new().with_dust(DustClass::DampChips);
        for (flow, verdict) in [
            (19.9, Verdict::Fails),
            (20.0, Verdict::Advice),
            (27.9, Verdict::Advice),
            (28.0, Verdict::Passes),
            (28.1, Verdict::Passes),
        ] {
            point.sections.last_mut().unwrap().flow = crate::VolumeFlow::from_m3_s(flow);
            let findings = check(&system, [&point], &options).unwrap();
            let mut of = findings.of(Check::Transport);
            let found = of.find(|finding| finding.place == Place::Section("main".into()));
            assert_eq!(found.unwrap().verdict, verdict, "{flow}");
        }
    }

    fn found(point: &crate::OperatingPoint, of: Check, place: &Place) -> Option<Measure> {
        let findings = check(&shop(), [point], &CheckOptions::new()).unwrap();
        let mut all = findings.of(of);
        all.find(|finding| finding.place == *place)?.value
    }

    #[test]
    fn air_is_slowest_before_the_walls_leak_and_fastest_behind() {
        let mut point = solved(&shop(), &["saw"]);
        let place = Place::Section("left".into());
        let state = &mut point.sections[0];
        let area = state.size.area().as_m2();
        state.flow = crate::VolumeFlow::from_m3_s(20.0 * area);
        state.leak = crate::VolumeFlow::from_m3_s(1.0 * area);
        state.velocity = crate::Velocity::from_m_s(30.0);
        let slowest = found(&point, Check::Transport, &place).unwrap().number();
        assert!((slowest - 19.0).abs() < 1e-12, "{slowest}");
        let fastest = found(&point, Check::TopVelocity, &place).unwrap().number();
        assert_eq!(fastest, 30.0);
        let hood = &mut point.hoods[0];
        hood.static_pressure = crate::Pressure::from_pa(-700.0);
        let at_hood = found(&point, Check::HoodSuction, &Place::Hood("table".into()));
        assert_eq!(at_hood.unwrap().number(), 700.0);
    }

    #[test]
    fn the_heavier_of_two_needs_the_faster_air() {
        let at = |least: f64, ample: Option<f64>| {
            let transport = TransportVelocity {
                least: Velocity::from_m_s(least),
                ample: ample.map(Velocity::from_m_s),
                source: Source::given("a test"),
            };
            (transport, false)
        };
        let (light, heavy, ample) = (at(15.0, None), at(20.0, None), at(20.0, Some(25.0)));
        let same = at(20.0, None);
        let picks = |a: Option<Carried<'_>>, b: Option<Carried<'_>>, it: Carried<'_>| {
            std::ptr::eq(heavier(a, b).unwrap(), it)
        };
        assert!(picks(Some(&light), Some(&heavy), &heavy));
        assert!(picks(Some(&heavy), Some(&light), &heavy));
        assert!(picks(Some(&heavy), Some(&ample), &ample));
        // Of two alike the first.
        assert!(picks(Some(&heavy), Some(&same), &heavy));
        assert!(picks(None, Some(&light), &light) && picks(Some(&light), None, &light));
        assert!(heavier(None, None).is_none());
    }
}
