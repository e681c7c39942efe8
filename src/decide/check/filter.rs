//! How hard the filter is loaded.

use super::{
    Context,
    finding::{Check, Comparing, Finding, Measure, Side, Sureness, Verdict},
};
use crate::{
    decide::source::{Source, Transcription},
    loss::{Filter, Part},
    place::Place,
    quantity::{Area, Velocity, VolumeFlow},
    system::Run,
};

/// 150 m3 in an hour through a square metre \[m/s\].
const LOADING_M_S: f64 = 150.0 / 3600.0;

const LOADING: Source = Source::new(
    "DGUV Information 209-044 \"Holzstaub\", section 5.4: at most 150 m3 in an hour through a square \
     metre where the air comes back into the shop",
    Transcription::Read,
);

pub(super) fn check(context: &Context<'_>, found: &mut Vec<Finding>) {
    let point = context.point;
    let mut any = false;
    let sections = context.system.sections.iter().zip(&point.sections);
    for (section, state) in sections {
        for (part, filter) in filters(&section.parts) {
            any = true;
            let place = Place::Part {
                section: section.id.clone(),
                part,
            };
            loaded(context, place, state.flow - state.leak, area(filter), found);
        }
    }
    let collector = &context.system.collector;
    let mut runs = |runs: &[Run], place: fn(usize, usize) -> Place| {
        for (i, run) in runs.iter().enumerate() {
            for (part, filter) in filters(&run.parts) {
                any = true;
                let area = area(filter).or(context.options.filter_area);
                loaded(context, place(i, part), point.flow, area, found);
            }
        }
    };
    runs(&collector.before, |run, part| Place::Before {
        run,
        part: Some(part),
    });
    runs(&collector.after, |run, part| Place::After {
        run,
        part: Some(part),
    });
    // A filter within the fan's curve need not stand in the model.
    if !any {
        let area = context.options.filter_area;
        loaded(context, Place::Collector, point.flow, area, found);
    }
}

fn filters(parts: &[Part]) -> impl Iterator<Item = (usize, &Filter)> {
    let numbered = parts.iter().enumerate();
    numbered.filter_map(|(i, part)| match part {
        Part::Filter(filter) => Some((i, filter)),
        _ => None,
    })
}

fn area(filter: &Filter) -> Option<Area> {
    filter.cloth().map(|cloth| cloth.area)
}

fn loaded(
    context: &Context<'_>,
    place: Place,
    flow: VolumeFlow,
    area: Option<Area>,
    found: &mut Vec<Finding>,
) {
    let limit = Velocity::from_m_s(LOADING_M_S);
    let Some(area) = area else {
        found.push(Finding {
            check: Check::FilterLoading,
            place,
            verdict: Verdict::Unknown,
            sure: Sureness::NotStated,
            value: None,
            limit: Some(Measure::Velocity(limit)),
            margin: None,
            point: context.of_point(false),
            text: "the area of the filter's cloth is needed to tell how hard it is loaded".into(),
            source: LOADING,
        });
        return;
    };
    let loading = Velocity::from_m_s(flow.as_m3_s() / area.as_m2());
    let comparing = Comparing {
        check: Check::FilterLoading,
        value: Measure::Velocity(loading),
        limit: Measure::Velocity(limit),
        side: Side::AtMost,
        broken: Verdict::Fails,
        relative: context.relative_flow(&place),
        point: context.of_point(true),
        text: format!(
            "{:.0} m3 in an hour through a square metre of cloth; the limit is 150 where the air \
             comes back into the shop",
            3600.0 * loading.as_m_s()
        ),
        source: LOADING,
        place,
    };
    found.push(comparing.judge());
}

#[cfg(test)]
mod tests {
    use crate::{
        Area, Check, CheckOptions, Cloth, ClothDrag, Filter, Part, Place, Verdict, check,
        decide::by_hand::{m3_s, shop, solved},
    };

    /// What leaks in behind the filter does not pass its cloth.
    #[test]
    fn cloth_in_a_leaky_section_is_loaded_by_what_passes_it() {
        let mut system = shop();
        let cloth = Cloth {
            area: Area::from_m2(10.0),
            drag: ClothDrag::Frazier(30.0),
            cake: None,
            housing: None,
        };
        system.sections[0]
            .parts
            .push(Part::Filter(Filter::Cloth(cloth)));
        let mut point = solved(&system, &["saw"]);
        point.sections[0].flow = m3_s(0.5);
        for (leak, verdict) in [(0.1, Verdict::Passes), (0.05, Verdict::Fails)] {
            point.sections[0].leak = m3_s(leak);
            let findings = check(&system, [&point], &CheckOptions::new()).unwrap();
            let found = findings.of(Check::FilterLoading).next().unwrap();
            // 144 and 162 m3 in an hour through a square metre, of 150.
            let loading = found.value.unwrap().number();
            assert!((loading - (0.5 - leak) / 10.0).abs() < 1e-15, "{loading}");
            assert_eq!(found.verdict, verdict);
        }
    }

    /// A filter that the fan's curve hides is loaded by all air; one of the model stands for itself.
    #[test]
    fn a_filter_in_the_model_leaves_none_to_the_collector() {
        let mut system = shop();
        let options = CheckOptions::new().with_filter_area(Area::from_m2(10.0));
        let places = |system: &crate::System| {
            let point = solved(system, &["saw"]);
            let findings = check(system, [&point], &options).unwrap();
            let of = findings.of(Check::FilterLoading);
            of.map(|finding| finding.place.clone()).collect::<Vec<_>>()
        };
        let part = Some(0);
        assert_eq!(places(&system), [Place::Before { run: 0, part }]);
        system.collector.before[0].parts.clear();
        assert_eq!(places(&system), [Place::Collector]);
    }
}
