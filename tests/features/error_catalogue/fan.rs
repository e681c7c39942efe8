//! Fan curves, their power, and pairs of fans.

use super::*;

fn table(points: &[(f64, f64)]) -> Vec<(VolumeFlow, Pressure)> {
    points.iter().map(|(q, p)| (m3_h(*q), pa(*p))).collect()
}

fn curve(points: &[(f64, f64)]) -> Result<FanCurve, FanError> {
    FanCurve::new(
        table(points),
        Basis::Static,
        Fitted::NOTHING,
        Density::STANDARD_AIR,
    )
}

const GOOD: [(f64, f64); 3] = [(0.0, 2400.0), (1500.0, 1900.0), (3000.0, 300.0)];

fn smoothed(points: &[(f64, f64)], weight: f64) -> Result<Smoothed, FanError> {
    let (basis, density) = (Basis::Static, Density::STANDARD_AIR);
    FanCurve::smoothed_with_weight(table(points), weight, basis, Fitted::NOTHING, density)
}

fn many() -> Vec<(f64, f64)> {
    let flows = (0..30).map(|i| f64::from(i) * 100.0);
    flows.map(|q| (q, 2400.0 - 0.2 * q)).collect()
}

pub(crate) fn errors() -> Told {
    let mut told = Told::default();
    told.refused(curve(&GOOD[..2]));
    told.refused(curve(&[(0.0, 2400.0), (f64::NAN, 1900.0), (3000.0, 300.0)]));
    told.refused(curve(&[(-1.0, 2400.0), (1500.0, 1900.0), (3000.0, 300.0)]));
    told.refused(curve(&[(0.0, 2400.0), (1500.0, 1900.0), (1500.0, 300.0)]));
    told.refused(curve(&[(0.0, 2400.0), (1500.0, 1900.0), (3000.0, -300.0)]));
    told.refused(curve(&[(0.0, 0.0), (1500.0, 1900.0), (3000.0, 300.0)]));
    told.refused(curve(&[(0.0, 9.0), (1e-318, 8.0), (3000.0, 7.0)]));
    told.refused(FanCurve::smoothed(
        table(&GOOD),
        Basis::Static,
        Fitted::NOTHING,
        Density::STANDARD_AIR,
    ));
    let mut close = many();
    close[9].0 = close[8].0 + 1e-5;
    told.refused(smoothed(&close, 1.0));
    told.refused(smoothed(&many(), -1.0));
    let corner: Vec<_> = many()
        .into_iter()
        .map(|(q, _)| (q, f64::max(2000.0 - 4.0 * q, 0.0)))
        .collect();
    told.refused(smoothed(&corner, 1e4));
    let extremes = |flow, pressure| {
        FanCurve::from_extremes(m3_h(flow), pa(pressure), Fitted::ALL, Density::STANDARD_AIR)
    };
    told.refused(extremes(0.0, 2000.0));
    told.refused(FanCurve::new(
        table(&GOOD),
        Basis::Static,
        Fitted::NOTHING,
        Density::from_kg_m3(0.0),
    ));
    let good = curve(&GOOD).unwrap();
    told.refused(good.clone().with_outlet(round_mm(0.0)));
    told.refused(good.on_basis(Basis::Total));
    told.refused(good.at_speed_ratio(-1.0));
    told.refused(good.at_speed(RotationalSpeed::from_rpm(3000.0)));
    // One ends before the other begins.
    let late = curve(&[(4000.0, 900.0), (5000.0, 600.0), (6000.0, 100.0)]).unwrap();
    told.refused(good.in_series(&late));
    let high = curve(&[(0.0, 9000.0), (1500.0, 8000.0), (3000.0, 7000.0)]).unwrap();
    told.refused(good.in_parallel(&high));
    let rising = curve(&[(0.0, 500.0), (1000.0, 700.0), (2000.0, 900.0)]).unwrap();
    told.refused(good.in_parallel(&rising));
    let all = FanCurve::new(
        table(&GOOD),
        Basis::Static,
        Fitted::ALL,
        Density::STANDARD_AIR,
    );
    told.refused(good.in_parallel(&all.unwrap()));
    told.by_hand(&FanError::NotSmooth {
        most: 4000,
        tolerance: 1e-9,
    });
    let power = |points: &[(f64, f64)]| {
        let points: Vec<_> = points
            .iter()
            .map(|(q, w)| (m3_h(*q), Power::from_w(*w)))
            .collect();
        PowerCurve::new(points, Density::STANDARD_AIR)
    };
    told.refused(power(&[(0.0, 500.0), (1500.0, 900.0)]));
    told.refused(power(&[(0.0, -500.0), (1500.0, 900.0), (3000.0, 1200.0)]));
    let motor = Motor {
        rated: Power::from_w(1500.0),
        drive_efficiency: 1.0,
        motor_efficiency: 0.85,
    };
    told.refused(FanPower::from_efficiency(
        m3_h(1500.0),
        pa(1900.0),
        60.0,
        motor,
    ));
    let outlet = good.clone().with_outlet(round_mm(160.0)).unwrap();
    let weak = power(&[(0.0, 5.0), (1500.0, 9.0), (3000.0, 12.0)]).unwrap();
    told.refused(FanPower::new(&outlet, &weak, motor, m3_h(1500.0)));
    let fast = outlet
        .with_speed(RotationalSpeed::from_rpm(2900.0))
        .unwrap();
    let slow = weak.with_speed(RotationalSpeed::from_rpm(1450.0)).unwrap();
    told.refused(FanPower::new(&fast, &slow, motor, m3_h(1500.0)));
    told
}

#[test]
fn texts() {
    insta::assert_snapshot!(errors().table(), @r##"
    FanError::TooFewPoints: a fan curve needs 3 points or more, got 2; a fan known only by its largest flow and largest pressure is an estimate of its own
    FanError::NotFinite: point 2: the flow is NaN m3/s; it must be a finite number
    FanError::NegativeFlow: point 1: the flow is -1 m3/h; it must be zero or more
    FanError::FlowNotRising: point 3: the flow 1500 m3/h is not larger than the 1500 m3/h of the point before; give the points with rising flow, each flow once
    FanError::NegativePressure: point 3: the pressure is -300 Pa; it must be zero or more
    FanError::NoShutOff: point 1: the pressure is zero at the smallest flow, 0 L/s; it must be above zero there (the shut-off pressure at zero flow)
    FanError::TooSteep: point 1: its numbers, or the slope from it to the next point, are beyond 1e300 in SI units; the flows of two points must lie further apart
    FanError::TooFewToSmooth: a smoothed fan curve needs 20 points or more, got 3: with fewer, noise cannot be told from shape; run the curve through the points
    FanError::TooClose: point 10: the flow 800.00001 m3/h is too close to the 800 m3/h of the point before to be smoothed; make one point of the two
    FanError::SmoothingWeight: the smoothing weight is -1; it must be from 1e-6 to 1e12
    FanError::SmoothedBelowZero: point 22: the smoothed curve has -40.9 Pa at 2100 m3/h, below zero; use less weight, or run the curve through the points
    FanError::Extreme: the largest flow of the fan is 0 m3/s; it must be a finite number above zero
    FanError::Density: the air density of the fan curve is 0 kg/m3; it must be a finite number above zero (about 1.2 kg/m3 at sea level)
    FanError::Bore: the size of the fan outlet is 0 m; each side must be a finite length above zero
    FanError::NoOutlet: fan static pressure cannot be told as fan total pressure: the two differ by the velocity pressure at the fan's outlet; give the outlet's size
    FanError::NotAboveZero: the speed ratio is -1 (new over old); it must be a finite number above zero
    FanError::NoSpeed: the curve does not say at which speed it holds, so it cannot be told at 3000 rpm; give its own speed, or scale it by the ratio of the two
    FanError::NoOutlet: fan static pressure cannot be told as fan total pressure: the two differ by the velocity pressure at the fan's outlet; give the outlet's size
    FanError::NothingInCommon: the two fan curves have no range of pressure in common: one ends at 7000 Pa, where the other begins at 2400 Pa; give points of both that overlap
    FanError::NeverFalls: the curve of the second fan rises up to its last point, 2000 m3/h; in parallel only the part that falls can be used; give its points at larger flows
    FanError::FittedDiffers: two fans in parallel must have been measured with the same parts fitted (separator, filter, silencer); what stands before one fan alone belongs into its own curve
    FanError::NotSmooth: the sum of the two fan curves needs more than 4000 points to be right to 1e-9 of its largest pressure; smooth them first
    FanError::TooFewPowers: a power curve needs 3 points or more, got 2
    FanError::NegativePower: point 1: the power is -500 W; it must be zero or more
    FanError::Efficiency: the efficiency of the fan is 60; it must be above 0 and at most 1
    FanError::MoreThanTheShaft: at 1500 m3/h the air would get 899.2 W of a shaft power of 9.0 W; it must get between nothing and all of it: are both curves of one fan, in one unit, at one speed and on the right basis, and is the flow within their points?
    FanError::SpeedsDiffer: the fan curve holds at 2900 rpm, the power curve at 1450 rpm; scale one to the other
    "##);
}
