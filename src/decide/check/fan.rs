//! Where the fan works on its curve, what its motor carries, and whether the air may be taken as
//! of one density.

use super::{
    Context,
    finding::{Check, Comparing, Finding, Measure, Side, Sureness, Verdict},
};
use crate::{
    decide::source::{Source, Transcription},
    fan::{FanCurve, FanPower},
    place::Place,
    quantity::{Pressure, VolumeFlow},
    solve::Status,
};

const CURVE: Source = Source::new("the fan's published curve", Transcription::Given);

const STALL: Source = Source::new(
    "left of a peak the curve rises, and the flow may hunt between several points",
    Transcription::CommonPractice,
);

const RATING: Source = Source::new("the motor's rating", Transcription::Given);

/// About 20 in wg.
const INCOMPRESSIBLE_PA: f64 = 5000.0;

const INCOMPRESSIBLE: Source = Source::new(
    "air is taken as of one density below some 20 in wg (5 kPa)",
    Transcription::ReadElsewhere,
);

/// A rise of less than this share of the peak is none.
const LEAST_RISE: f64 = 1e-9;

pub(super) fn check(context: &Context<'_>, found: &mut Vec<Finding>) {
    range(context, found);
    motor(context, found);
    density(context, found);
}

fn range(context: &Context<'_>, found: &mut Vec<Finding>) {
    let point = context.point;
    let Some(fan) = &context.system.collector.fan else {
        found.push(unknown(Check::FanCurve, CURVE, "the collector has no fan"));
        return;
    };
    if point.status == Status::FlowImposed {
        let text = "the flow was imposed and the fan not asked";
        found.push(unknown(Check::FanCurve, CURVE, text));
        return;
    }
    if point.fan.estimated {
        let text = "the fan's curve was guessed from two numbers: take every figure for a rough \
                    guess, and nothing for adequate that its low case does not pass";
        found.push(unknown(Check::FanCurve, CURVE, text));
    }
    let flow = point.flow;
    let compare = |check, limit, side, text: &dyn Fn(Measure, Measure) -> String, source| {
        let (value, limit) = (Measure::Flow(flow), Measure::Flow(limit));
        Comparing {
            check,
            place: Place::Fan,
            value,
            limit,
            side,
            broken: Verdict::Fails,
            relative: context.relative_flow(&Place::Fan),
            point: context.of_point(true),
            text: text(value, limit),
            source,
        }
        .judge()
    };
    if point.status == Status::BelowCurve {
        let first = fan
            .points()
            .next()
            .map_or(VolumeFlow::default(), |p| p.flow);
        let text = |value, limit| {
            format!("works at {value}, before the first published point at {limit}: a hint only")
        };
        found.push(compare(Check::FanCurve, first, Side::AtLeast, &text, CURVE));
    } else {
        let text = |value, limit| {
            format!(
                "works at {value}, and its curve is published up to {limit}: beyond that the \
                 answer is a hint only"
            )
        };
        let last = fan.largest_flow();
        found.push(compare(Check::FanCurve, last, Side::AtMost, &text, CURVE));
    }
    if let Some(top) = stall(fan) {
        let text = |value, limit| {
            format!("works at {value}; up to {limit} its curve rises somewhere, and it may stall")
        };
        found.push(compare(Check::Stall, top, Side::AtLeast, &text, STALL));
    }
}

/// Flow of the top of the last rise of a curve; `None` where it falls throughout.
fn stall(fan: &FanCurve) -> Option<VolumeFlow> {
    let curve = fan.curve();
    let rise = curve.last_rise(LEAST_RISE * curve.maximum().y.abs())?;
    Some(VolumeFlow::from_m3_s(rise.top_x))
}

fn motor(context: &Context<'_>, found: &mut Vec<Finding>) {
    let point = context.point;
    let (Some(fan), false) = (
        &context.system.collector.fan,
        point.status == Status::FlowImposed,
    ) else {
        return;
    };
    let Some(drive) = &context.options.drive else {
        let text = "the fan's power curve and the motor's rating are needed to tell its load";
        found.push(unknown(Check::MotorLoad, RATING, text));
        return;
    };
    let density = context.resolved.air.density;
    let compare = |check, load, broken, text: String| {
        Comparing {
            check,
            place: Place::Fan,
            value: Measure::Share(load),
            limit: Measure::Share(1.0),
            side: Side::AtMost,
            broken,
            relative: context.relative_flow(&Place::Fan),
            point: context.of_point(true),
            text,
            source: RATING,
        }
        .judge()
    };
    let here = fan
        .at_density(density)
        .and_then(|fan| FanPower::new(&fan, &drive.power, drive.motor, point.flow));
    match here {
        Ok(power) => {
            let mut text = format!(
                "the motor carries {:.0} % of its rating",
                100.0 * power.load
            );
            if power.beyond_points {
                text.push_str(" (beyond the points of a curve: a hint only)");
            }
            found.push(compare(Check::MotorLoad, power.load, Verdict::Fails, text));
        }
        Err(error) => found.push(unknown(Check::MotorLoad, RATING, error.to_string())),
    }
    let peak = drive.power.at_density(density).map(|power| power.peak());
    let worst = peak.and_then(|peak| Ok((peak.flow, drive.motor.load(peak.power)?)));
    if let Ok((flow, load)) = worst {
        let text = format!(
            "at {:.0} m3/h, where the fan takes most, the motor would carry {:.0} % of its rating: \
             a duct that comes off may lead there",
            flow.as_m3_h(),
            100.0 * load
        );
        let mut finding = compare(Check::MotorPeak, load, Verdict::Advice, text);
        finding.point = None;
        finding.sure = Sureness::NotStated;
        found.push(finding);
    }
}

/// The greatest suction anywhere.
fn density(context: &Context<'_>, found: &mut Vec<Finding>) {
    let point = context.point;
    let sections = point.sections.iter();
    let sections = sections.map(|s| (Place::Section(s.id.clone()), -s.static_pressure.as_pa()));
    let runs = point.collector.iter();
    let runs = runs.map(|run| (run.place.clone(), -run.static_pressure.as_pa()));
    let worst = sections.chain(runs).max_by(|a, b| a.1.total_cmp(&b.1));
    let Some((worst_at, suction_pa)) = worst else {
        return;
    };
    let value = Measure::Pressure(Pressure::from_pa(suction_pa));
    let limit = Measure::Pressure(Pressure::from_pa(INCOMPRESSIBLE_PA));
    let comparing = Comparing {
        check: Check::Incompressible,
        place: Place::System,
        value,
        limit,
        side: Side::AtMost,
        broken: Verdict::Fails,
        relative: context.relative_pressure(&worst_at),
        point: context.of_point(true),
        text: format!(
            "the greatest suction is {value}, at {worst_at}; up to {limit} air may be taken as of \
             one density"
        ),
        source: INCOMPRESSIBLE,
    };
    found.push(comparing.judge());
}

fn unknown(check: Check, source: Source, text: impl Into<String>) -> Finding {
    Finding {
        check,
        place: Place::Fan,
        verdict: Verdict::Unknown,
        sure: Sureness::NotStated,
        value: None,
        limit: None,
        margin: None,
        point: None,
        text: text.into(),
        source,
    }
}

#[cfg(test)]
mod tests {
    use crate::{
        Check, CheckOptions, Measure, Verdict, check,
        decide::by_hand::{fan, m3_s, pa, rising_fan, shop, solved},
    };

    #[test]
    fn the_greatest_suction_may_be_that_of_a_run() {
        let system = shop();
        let mut point = solved(&system, &["saw"]);
        for section in &mut point.sections {
            section.static_pressure = pa(-10.0);
        }
        for (suction, verdict) in [(6000.0, Verdict::Fails), (4000.0, Verdict::Passes)] {
            point.collector[0].static_pressure = pa(-suction);
            let findings = check(&system, [&point], &CheckOptions::new()).unwrap();
            let found = findings.of(Check::Incompressible).next().unwrap();
            assert_eq!(found.value, Some(Measure::Pressure(pa(suction))));
            assert_eq!(found.verdict, verdict);
        }
    }

    #[test]
    fn a_curve_may_stall_up_to_the_top_of_its_rise() {
        let top = super::stall(&rising_fan()).unwrap();
        // The dip's far edge is a point of the curve, and the curve turns there.
        assert!((top / m3_s(0.25) - 1.0).abs() < 1e-12, "{top}");
        let falling = fan(&[(0.0, 1500.0), (0.5, 900.0), (1.0, 0.0)]);
        assert_eq!(super::stall(&falling), None);
    }

    #[test]
    fn each_status_has_its_word() {
        let told = |points: &[(f64, f64)], of: Check| {
            let mut system = shop();
            system.collector.fan = Some(fan(points));
            let point = solved(&system, &["saw"]);
            let findings = check(&system, [&point], &CheckOptions::new()).unwrap();
            let mut all = findings.of(of);
            let found = all.next().map(|found| (found.verdict, found.limit));
            assert!(all.next().is_none());
            found
        };
        let flow = |q| Some(Measure::Flow(m3_s(q)));
        let within = [(0.0, 3000.0), (0.5, 1500.0), (1.0, 0.0)];
        assert_eq!(
            told(&within, Check::FanCurve),
            Some((Verdict::Passes, flow(1.0)))
        );
        let late = [(0.8, 600.0), (0.9, 300.0), (1.0, 0.0)];
        assert_eq!(
            told(&late, Check::FanCurve),
            Some((Verdict::Fails, flow(0.8)))
        );
        let short = [(0.0, 3000.0), (0.05, 2900.0), (0.1, 2700.0)];
        assert_eq!(
            told(&short, Check::FanCurve),
            Some((Verdict::Fails, flow(0.1)))
        );
        assert_eq!(
            told(&within, Check::MotorLoad),
            Some((Verdict::Unknown, None))
        );
        // With the flow imposed the fan was not asked, nor its motor.
        let system = shop();
        let network = crate::Network::new(&system).unwrap();
        let open = network.open(["saw"]).unwrap();
        let point = network.point_at_flow(&open, m3_s(0.3)).unwrap();
        let findings = check(&system, [&point], &CheckOptions::new()).unwrap();
        let imposed = findings.of(Check::FanCurve).next().unwrap();
        assert_eq!(imposed.verdict, Verdict::Unknown);
        assert_eq!(imposed.text, "the flow was imposed and the fan not asked");
        assert!(findings.of(Check::MotorLoad).next().is_none());
    }

    #[test]
    fn the_greatest_suction_may_be_that_of_a_section() {
        let system = shop();
        let mut point = solved(&system, &["saw"]);
        point.sections[0].static_pressure = pa(-6000.0);
        let findings = check(&system, [&point], &CheckOptions::new()).unwrap();
        let found = findings.of(Check::Incompressible).next().unwrap();
        assert_eq!(found.value, Some(Measure::Pressure(pa(6000.0))));
    }

    /// A rise of less than a thousand millionth of the peak is rounding.
    #[test]
    fn a_hair_of_a_rise_is_none() {
        let with = |rise: f64| {
            let points = [(0.0, 2000.0), (0.2, 2000.0 + rise), (1.0, 0.0)];
            super::stall(&fan(&points)).is_some()
        };
        assert!(!with(1e-6) && with(3e-6));
    }
}
