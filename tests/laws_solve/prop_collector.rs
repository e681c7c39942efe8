//! The collector: what its fan's curve contains is not charged again, and the basis of the curve
//! does not change the answer.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on must stop")]

use crate::common::audited;

use airsplit::{
    Air, Basis, Bore, Collector, Density, Entry, FanCurve, Filter, Fitted, Hood, Length, Network,
    OperatingPoint, Part, Place, Pressure, RatedDrop, Run, Section, Separator, System, Transition,
    VolumeFlow, Wall,
};

const RHO: f64 = 1.2;

fn round(d_m: f64) -> Bore {
    Bore::Round(Length::from_m(d_m))
}

fn curve(basis: Basis, pressure: impl Fn(f64) -> f64) -> FanCurve {
    let points = (0..=30).map(|i| {
        let q = 0.02 * f64::from(i);
        (VolumeFlow::from_m3_s(q), Pressure::from_pa(pressure(q)))
    });
    FanCurve::new(points, basis, Fitted::NOTHING, Density::from_kg_m3(RHO)).unwrap()
}

fn fan_static(q: f64) -> f64 {
    2500.0 - 6500.0 * q * q
}

fn head(d_m: f64, q: f64) -> f64 {
    let velocity = q / round(d_m).area().as_m2();
    RHO * velocity * velocity / 2.0
}

fn solve(collector: Collector) -> OperatingPoint {
    let main = Section::new("main", round(0.16), Wall::Galvanised)
        .with_part(Part::Duct(Length::from_m(8.0)))
        .with_hood(Hood::new("port", Entry::Flanged));
    let system = System::new(Air::standard(), collector).with_section(main);
    let network = Network::new(&system).unwrap();
    let point = network.operating_point(&network.open_all()).unwrap();
    audited::assert_sound(&system, &point);
    point
}

fn vessels() -> Run {
    let drop = |pa| RatedDrop {
        drop: Pressure::from_pa(pa),
        at: VolumeFlow::from_m3_s(0.4),
    };
    Run::new(round(0.16), Wall::Galvanised)
        .with_part(Part::Separator(Separator::Rated(drop(400.0))))
        .with_part(Part::Filter(Filter::Rated(drop(250.0))))
        .with_part(Part::Silencer(0.8))
        .with_part(Part::K(0.3))
}

/// What was fitted, which parts that spares, and the index of the first of them.
type Case<'a> = (Fitted, &'a dyn Fn(&Part) -> bool, usize);

/// What was fitted when the curve was measured stands in the document and costs nothing.
#[test]
fn prop_nothing_fitted_is_charged_twice() {
    let bare = curve(Basis::Static, fan_static);
    let refit = |fitted| {
        let points = bare.points().map(|point| (point.flow, point.pressure));
        FanCurve::new(
            points.collect::<Vec<_>>(),
            Basis::Static,
            fitted,
            bare.density(),
        )
        .unwrap()
    };
    let without = |gone: &dyn Fn(&Part) -> bool| {
        let mut run = vessels();
        run.parts.retain(|part| !gone(part));
        solve(Collector::new(bare.clone()).with_before(run))
    };
    let cases: [Case<'_>; 4] = [
        (
            Fitted {
                separator: true,
                ..Fitted::NOTHING
            },
            &|p| matches!(p, Part::Separator(_)),
            0,
        ),
        (
            Fitted {
                filter: true,
                ..Fitted::NOTHING
            },
            &|p| matches!(p, Part::Filter(_)),
            1,
        ),
        (
            Fitted {
                silencer: true,
                ..Fitted::NOTHING
            },
            &|p| matches!(p, Part::Silencer(_)),
            2,
        ),
        (Fitted::NOTHING, &|_| false, usize::MAX),
    ];
    for (fitted, gone, part) in cases {
        let kept = solve(Collector::new(refit(fitted)).with_before(vessels()));
        assert_eq!(kept.flow, without(gone).flow, "{fitted:?}");
        let told: Vec<_> = (part < 9)
            .then_some(Place::Before {
                run: 0,
                part: Some(part),
            })
            .into_iter()
            .collect();
        assert_eq!(kept.in_fan_curve, told);
    }
    // Charged, each of them costs flow.
    let charged = solve(Collector::new(bare.clone()).with_before(vessels()));
    let spared = solve(Collector::new(refit(Fitted::ALL)).with_before(vessels()));
    assert!(spared.flow.as_m3_s() > 1.05 * charged.flow.as_m3_s());
    assert_eq!(spared.in_fan_curve.len(), 3);
}

/// One fan told on three bases, its outlet 180 mm, tested in a pipe of 200 mm: where the fan's
/// definition holds exactly (facts of ASHRAE eq. 17), the answers agree to what a cubic through
/// 31 points of a parabola leaves.
#[test]
fn prop_the_basis_does_not_change_the_answer() {
    let outlet = 0.18;
    let total = curve(Basis::Total, |q| fan_static(q) + head(outlet, q));
    let fixed = curve(Basis::Static, fan_static);
    let pipe = round(0.2);
    let tested = curve(Basis::TestPipe { bore: pipe }, |q| {
        fan_static(q) + head(0.2, q)
    });
    let with_outlet = |fan: FanCurve| fan.with_outlet(round(outlet)).unwrap();
    let stack =
        || Run::new(round(0.25), Wall::Galvanised).with_part(Part::Transition(Transition::K(0.2)));

    let bare: Vec<f64> = [with_outlet(total.clone()), fixed.clone(), tested.clone()]
        .map(|fan| {
            solve(Collector::new(fan).with_before(vessels()))
                .flow
                .as_m3_s()
        })
        .to_vec();
    let stacked: Vec<f64> = [with_outlet(total), with_outlet(fixed), with_outlet(tested)]
        .map(|fan| {
            let point = solve(
                Collector::new(fan)
                    .with_before(vessels())
                    .with_after(stack()),
            );
            // FTP - FSP is the velocity pressure at the outlet.
            let fan = point.fan;
            let over = fan.total_pressure.unwrap().as_pa() - fan.static_pressure.unwrap().as_pa();
            let q = point.flow.as_m3_s();
            // The air of the duct is a trifle denser than the curve's: scaled alike.
            let scale = Air::standard().properties().unwrap().density.as_kg_m3() / RHO;
            assert!((over / (scale * head(outlet, q)) - 1.0).abs() < 1e-12);
            q
        })
        .to_vec();
    for flows in [&bare, &stacked] {
        for flow in flows {
            assert!((flow / flows[0] - 1.0).abs() < 1e-5, "{flows:?}");
        }
    }
    // A wider stack gives back part of the outlet's velocity pressure.
    assert!(stacked[0] > bare[0]);
}

/// The path ends in the open: its velocity pressure is paid once, at its end.
#[test]
fn prop_the_exit_is_paid_once() {
    let total = curve(Basis::Total, fan_static);
    let after = |d| Run::new(round(d), Wall::Galvanised);
    let one = solve(Collector::new(total.clone()).with_after(after(0.2)));
    let two = solve(
        Collector::new(total.clone())
            .with_after(after(0.2))
            .with_after(after(0.2)),
    );
    let outlet = solve(Collector::new(total.with_outlet(round(0.2)).unwrap()));
    assert_eq!(one.flow, two.flow);
    assert_eq!(one.flow, outlet.flow);
    let end = &two.collector[1];
    assert_eq!(end.static_pressure.as_pa(), 0.0);
    assert_eq!(end.total_pressure, end.velocity_pressure);
}

/// A filter first in a wide run after the fan does not give back the outlet's velocity pressure:
/// what a step would lose is lost there too (Borda and Carnot).
#[test]
fn prop_a_vessel_after_the_fan_gives_nothing_back() {
    let fan = || {
        curve(Basis::Static, fan_static)
            .with_outlet(round(0.13))
            .unwrap()
    };
    let filter = || {
        Part::Filter(Filter::Rated(RatedDrop {
            drop: Pressure::from_pa(100.0),
            at: VolumeFlow::from_m3_s(0.5),
        }))
    };
    let wide = || Run::new(round(0.4), Wall::Galvanised);
    let first = solve(Collector::new(fan()).with_after(wide().with_part(filter())));
    let told = wide()
        .with_part(Part::Transition(Transition::Sharp))
        .with_part(filter());
    let told = solve(Collector::new(fan()).with_after(told));
    assert_eq!(first.flow, told.flow);
    // Borda and Carnot: (1 - a)^2 of the outlet's velocity pressure, a the ratio of the areas, and
    // the filter's own drop.
    let run = &first.collector[0];
    let a = round(0.13).area() / round(0.4).area();
    let outlet = run.velocity_pressure.as_pa() / (a * a);
    let lost = (1.0 - a).powi(2) * outlet + 100.0 * first.flow.as_m3_s() / 0.5;
    assert!((run.loss.as_pa() / lost - 1.0).abs() < 1e-12);
}
