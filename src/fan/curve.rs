//! The published fan curve.

use super::{Basis, FanError, Fitted, basis, estimate::Estimate, smooth::Smoothing};
use crate::{
    bore::Bore,
    curve1d::{Curve1d, CurveError, Knot},
    quantity::{Density, Pressure, RotationalSpeed, VolumeFlow},
};

/// A point of a fan curve.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct FanPoint {
    /// Flow through the fan.
    pub flow: VolumeFlow,
    /// Pressure of the fan there, on the basis of its curve.
    pub pressure: Pressure,
}

/// As the constructors of [`FanCurve`] take it.
impl From<FanPoint> for (VolumeFlow, Pressure) {
    fn from(point: FanPoint) -> Self {
        (point.flow, point.pressure)
    }
}

impl From<Knot> for FanPoint {
    fn from(knot: Knot) -> Self {
        Self {
            flow: VolumeFlow::from_m3_s(knot.x),
            pressure: Pressure::from_pa(knot.y),
        }
    }
}

/// What a fan gives: pressure over flow, at one speed and one air density.
///
/// Between the points runs the shape-preserving cubic of Fritsch & Butland (SIAM J. Sci. Stat.
/// Comput. 5 (1984) 300-304): its slope is continuous, it falls where the points fall and turns
/// only at points, so that it invents no stall dip and hides none. Beyond the first and the last
/// point it continues straight with the slope there, so that a search may wander; an answer out
/// there rests on no measurement.
///
/// ```
/// use airsplit::{Basis, Density, FanCurve, Fitted, Pressure, VolumeFlow};
/// # fn main() -> Result<(), airsplit::FanError> {
/// let points = [(0.0, 12.0), (500.0, 11.4), (1200.0, 5.0)]
///     .map(|(cfm, in_wg)| (VolumeFlow::from_cfm(cfm), Pressure::from_in_wg(in_wg)));
/// let fan = FanCurve::new(points, Basis::Static, Fitted::NOTHING, Density::from_kg_m3(1.2))?;
/// let here = fan.pressure(VolumeFlow::from_cfm(900.0));
/// assert!(here < Pressure::from_in_wg(11.4) && here > Pressure::from_in_wg(5.0));
/// assert!((fan.flows_at(here)[0].as_cfm() - 900.0).abs() < 1e-9);
/// # Ok(())
/// # }
/// ```
///
/// As text (TOML here), quantities with their units, nothing left out but the outlet and the speed:
///
/// ```toml
/// basis = "static"
/// fitted = { separator = false, filter = true, silencer = true }
/// density = "1.2 kg/m3"
/// outlet = { round = "8 in" }
/// speed = "3450 rpm"
/// points = [["0 cfm", "12 in wg"], ["500 cfm", "11.4 in wg"], ["1200 cfm", "5 in wg"]]
/// ```
///
/// A fan known by two numbers has `largest_flow` and `largest_pressure` in place of `basis` and
/// `points`: see [`FanCurve::from_extremes`]. A smoothed fan has its `smoothing_weight` besides: see
/// [`FanCurve::smoothed_with_weight`]. A curve derived from another one, on another basis or of two
/// fans, is written with the `slopes` at its points, and its low case if it is an estimate.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(try_from = "super::text::FanText", into = "super::text::FanText")
)]
pub struct FanCurve {
    /// Pa over m3/s.
    pub(super) curve: Curve1d,
    pub(super) basis: Basis,
    pub(super) fitted: Fitted,
    pub(super) density: Density,
    pub(super) outlet: Option<Bore>,
    pub(super) speed: Option<RotationalSpeed>,
    /// `None` unless the curve rests on an estimate.
    pub(super) estimate: Option<Estimate>,
    /// Of a curve that runs near its points and not through them.
    pub(super) smoothing: Option<Smoothing>,
}

impl FanCurve {
    /// Most points of a table, also of a smoothed one and of a [`PowerCurve`](super::PowerCurve).
    pub const MOST_POINTS: usize = 10_000;

    /// The curve through published `points`, told on `basis`, measured in air of `density` with
    /// the parts of `fitted` in place.
    ///
    /// # Errors
    /// Names the first point that is wrong, counted from 1. There must be three points or more, and
    /// at most [`MOST_POINTS`](Self::MOST_POINTS);
    /// flows finite, zero or more, each larger than the one before; pressures finite, zero or
    /// more, the first above zero; density finite and above zero; a test pipe's size above zero.
    pub fn new(
        points: impl IntoIterator<Item = (VolumeFlow, Pressure)>,
        basis: Basis,
        fitted: Fitted,
        density: Density,
    ) -> Result<Self, FanError> {
        let (q_m3s, p_pa) = checked_points(points, basis)?;
        let curve = Curve1d::pchip(&q_m3s, &p_pa).map_err(overflow)?;
        Self::derived(curve, basis, fitted, density)
    }

    /// A curve that follows from others; unlike a table it may go below zero.
    pub(super) fn derived(
        curve: Curve1d,
        basis: Basis,
        fitted: Fitted,
        density: Density,
    ) -> Result<Self, FanError> {
        if let Basis::TestPipe { bore } = basis {
            basis::checked("test pipe", bore)?;
        }
        Ok(Self {
            curve,
            basis,
            fitted,
            density: checked_density(density)?,
            outlet: None,
            speed: None,
            estimate: None,
            smoothing: None,
        })
    }

    /// The curve of a fan whose outlet has this inner size: what tells fan total from fan static
    /// pressure.
    ///
    /// # Errors
    /// [`FanError::Bore`] unless every side is finite and above zero.
    pub fn with_outlet(self, outlet: Bore) -> Result<Self, FanError> {
        Ok(Self {
            outlet: Some(basis::checked("fan outlet", outlet)?),
            ..self
        })
    }

    /// The points, flow rising: three or more as published, the two ends of an estimate, or the
    /// knots of a curve derived from others.
    ///
    /// Of a smoothed curve too, which does not run through them.
    #[must_use]
    pub fn points(&self) -> impl ExactSizeIterator<Item = FanPoint> {
        let published = |index| self.smoothing.as_ref()?.p_pa.get(index).copied();
        self.curve().knots().enumerate().map(move |(index, knot)| {
            FanPoint::from(Knot {
                y: published(index).unwrap_or(knot.y),
                ..knot
            })
        })
    }

    /// Which pressure the curve tells.
    #[must_use]
    pub fn basis(&self) -> Basis {
        self.basis
    }

    /// What was fitted when the curve was measured, so that its loss is in the curve.
    #[must_use]
    pub fn fitted(&self) -> Fitted {
        self.fitted
    }

    /// Density of the air in which the curve holds; pressure is proportional to it.
    #[must_use]
    pub fn density(&self) -> Density {
        self.density
    }

    /// Inner size of the fan's outlet, if it is known.
    #[must_use]
    pub fn outlet(&self) -> Option<Bore> {
        self.outlet
    }

    /// Whether the curve was guessed from two numbers ([`FanCurve::from_extremes`]), or derived
    /// from one that was.
    #[must_use]
    pub fn is_estimate(&self) -> bool {
        self.estimate.is_some()
    }

    /// Pressure at `flow`, on the curve's own basis and at its own density.
    ///
    /// Straight on, with the end slope, below the first and above the last point: it may be
    /// negative there.
    #[must_use]
    pub fn pressure(&self, flow: VolumeFlow) -> Pressure {
        Pressure::from_pa(self.curve().at(flow.as_m3_s()).value)
    }

    /// Slope of the curve at `flow`, dp/dQ \[Pa s/m3\]: below zero where the curve falls.
    ///
    /// The exact derivative of [`FanCurve::pressure`], constant beyond both ends.
    #[must_use]
    pub fn slope(&self, flow: VolumeFlow) -> f64 {
        self.curve().at(flow.as_m3_s()).slope
    }

    /// Every flow, rising, at which the curve has this pressure, from its first to its last point.
    ///
    /// A curve that rises and falls may have several; a pressure it never reaches has none. Where
    /// the curve is level at this pressure over a whole piece, the two points of the piece.
    #[must_use]
    pub fn flows_at(&self, pressure: Pressure) -> Vec<VolumeFlow> {
        let solutions = self.curve().solutions(pressure.as_pa());
        solutions.into_iter().map(VolumeFlow::from_m3_s).collect()
    }

    /// Pressure at zero flow; straight on from the first point when that is at a larger flow.
    #[must_use]
    pub fn shut_off(&self) -> Pressure {
        self.pressure(VolumeFlow::from_m3_s(0.0))
    }

    /// Flow of the last point. The pressure there is not always zero: a table may end early.
    #[must_use]
    pub fn largest_flow(&self) -> VolumeFlow {
        VolumeFlow::from_m3_s(self.curve().last().x)
    }

    /// The highest point between the first and the last point; of several alike, the first.
    #[must_use]
    pub fn peak(&self) -> FanPoint {
        self.curve().maximum().into()
    }

    /// Whether the curve rises anywhere: there a system may settle at more than one flow.
    #[must_use]
    pub fn rises(&self) -> bool {
        self.curve().rises()
    }

    /// Pa over m3/s, as the solver takes it.
    pub(crate) fn curve(&self) -> &Curve1d {
        &self.curve
    }
}

/// Flows \[m3/s\] and pressures \[Pa\] of three or more sound points told on a sound basis.
pub(super) fn checked_points(
    points: impl IntoIterator<Item = (VolumeFlow, Pressure)>,
    basis: Basis,
) -> Result<(Vec<f64>, Vec<f64>), FanError> {
    if let Basis::TestPipe { bore } = basis {
        basis::checked("test pipe", bore)?;
    }
    let (q_m3s, p_pa): (Vec<f64>, Vec<f64>) = points
        .into_iter()
        // One more tells that there are too many, of an iterator without an end as well.
        .take(FanCurve::MOST_POINTS + 1)
        .map(|(flow, pressure)| (flow.as_m3_s(), pressure.as_pa()))
        .unzip();
    check_count(q_m3s.len())?;
    if q_m3s.len() < 3 {
        return Err(FanError::TooFewPoints { got: q_m3s.len() });
    }
    let mut before = None;
    for (index, (&q, &p)) in q_m3s.iter().zip(&p_pa).enumerate() {
        check_point(index + 1, q, p, before)?;
        before = Some(q);
    }
    Ok((q_m3s, p_pa))
}

pub(super) fn check_count(points: usize) -> Result<(), FanError> {
    let most = FanCurve::MOST_POINTS;
    if points > most {
        return Err(FanError::TooManyPoints { most });
    }
    Ok(())
}

fn check_point(point: usize, q_m3s: f64, p_pa: f64, before: Option<f64>) -> Result<(), FanError> {
    check_flow(point, q_m3s, before, ("pressure", p_pa, "Pa"))?;
    if p_pa < 0.0 {
        let pressure = Pressure::from_pa(p_pa);
        return Err(FanError::NegativePressure { point, pressure });
    }
    if before.is_none() && p_pa == 0.0 {
        let flow = VolumeFlow::from_m3_s(q_m3s);
        return Err(FanError::NoShutOff { flow });
    }
    Ok(())
}

/// The flow of a point of any curve over flow: finite, as the `other` value with it, zero or more,
/// and above that of the point before.
pub(super) fn check_flow(
    point: usize,
    q_m3s: f64,
    before: Option<f64>,
    other: (&'static str, f64, &'static str),
) -> Result<(), FanError> {
    for (what, value, unit) in [("flow", q_m3s, "m3/s"), other] {
        if !value.is_finite() {
            return Err(FanError::NotFinite {
                point,
                what,
                value,
                unit,
            });
        }
    }
    let flow = VolumeFlow::from_m3_s(q_m3s);
    if q_m3s < 0.0 {
        return Err(FanError::NegativeFlow { point, flow });
    }
    match before.map(VolumeFlow::from_m3_s) {
        Some(before) if flow <= before => Err(FanError::FlowNotRising {
            point,
            flow,
            before,
        }),
        _ => Ok(()),
    }
}

pub(super) fn checked_density(density: Density) -> Result<Density, FanError> {
    let rho = density.as_kg_m3();
    if rho.is_finite() && rho > 0.0 {
        Ok(density)
    } else {
        Err(FanError::Density { density })
    }
}

/// Of points already checked, only their size can still be wrong.
pub(super) fn overflow(error: CurveError) -> FanError {
    let point = match error {
        CurveError::Lengths => 1,
        CurveError::NotFinite { knot }
        | CurveError::NotRising { knot }
        | CurveError::TooLarge { knot } => knot + 1,
    };
    FanError::TooSteep { point }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::Length;
    use proptest::prelude::*;

    const AIR: Density = Density::from_kg_m3(1.2);

    fn table(points: &[(f64, f64)]) -> Vec<(VolumeFlow, Pressure)> {
        let point = |&(cfm, in_wg)| (VolumeFlow::from_cfm(cfm), Pressure::from_in_wg(in_wg));
        points.iter().map(point).collect()
    }

    fn fan(points: &[(f64, f64)]) -> Result<FanCurve, FanError> {
        FanCurve::new(table(points), Basis::Static, Fitted::NOTHING, AIR)
    }

    /// Y. A. Cengel and J. M. Cimbala, "Fluid Mechanics: Fundamentals and Applications",
    /// Table 14-1 (cfm, in wg), as reproduced elsewhere.
    const HUMPED: [(f64, f64); 6] = [
        (0.0, 0.90),
        (250.0, 0.95),
        (500.0, 0.90),
        (750.0, 0.75),
        (1000.0, 0.40),
        (1200.0, 0.0),
    ];

    #[test]
    fn val_a_textbook_fan_with_a_hump() {
        let fan = fan(&HUMPED).unwrap();
        assert_eq!(fan.peak().flow, VolumeFlow::from_cfm(250.0));
        assert_eq!(fan.peak().pressure, Pressure::from_in_wg(0.95));
        assert!(fan.rises());
        assert_eq!(fan.shut_off(), Pressure::from_in_wg(0.90));
        assert_eq!(fan.largest_flow(), VolumeFlow::from_cfm(1200.0));
        for (flow, pressure) in table(&HUMPED) {
            assert_eq!(fan.pressure(flow), pressure);
        }
        // the table has 0.90 in wg at 0 and at 500 cfm
        let flows = fan.flows_at(Pressure::from_in_wg(0.90));
        assert_eq!(flows, [0.0, 500.0].map(VolumeFlow::from_cfm));
        // Example 14-1 there: the fan meets its duct at 650 cfm, 0.83 in wg, as reproduced
        // elsewhere; read off a graph, hence the half of the last digit. A chord misses it (0.81).
        let there = fan.pressure(VolumeFlow::from_cfm(650.0)).as_in_wg();
        assert!((there - 0.83).abs() < 0.005, "{there}");
    }

    #[test]
    fn prop_a_falling_table_does_not_rise() {
        let falling = fan(&HUMPED[1..]).unwrap();
        assert!(!falling.rises() && !falling.is_estimate());
        assert_eq!(falling.peak(), falling.points().next().unwrap());
        // one-sided slope at 250 cfm is limited at zero, and carried on straight to no flow
        assert_eq!(falling.shut_off(), Pressure::from_in_wg(0.95));
    }

    #[test]
    fn prop_every_fault_of_a_table_is_named() {
        let text = |points: &[(f64, f64)]| fan(points).unwrap_err().to_string();
        assert_eq!(fan(&HUMPED[..2]), Err(FanError::TooFewPoints { got: 2 }));
        assert_eq!(
            text(&[(0.0, 9.0), (500.0, 8.0), (500.0, 7.0)]),
            "point 3: the flow 500 cfm is not larger than the 500 cfm of the point before; give \
             the points with rising flow, each flow once"
        );
        assert_eq!(
            text(&[(0.0, 9.0), (500.0, f64::NAN), (600.0, 7.0)]),
            "point 2: the pressure is NaN Pa; it must be a finite number"
        );
        assert_eq!(
            text(&[(0.0, 9.0), (500.0, 8.0), (600.0, -7.0)]),
            "point 3: the pressure is -7 in wg; it must be zero or more"
        );
        assert_eq!(
            fan(&[(-1.0, 9.0), (5.0, 8.0), (6.0, 7.0)]),
            Err(FanError::NegativeFlow {
                point: 1,
                flow: VolumeFlow::from_cfm(-1.0)
            })
        );
        assert!(
            text(&[(100.0, 0.0), (500.0, 8.0), (600.0, 7.0)])
                .starts_with("point 1: the pressure is zero at the smallest flow, 100 cfm;")
        );
        assert_eq!(
            fan(&[(0.0, 9.0), (1e-320, 8.0), (6.0, 7.0)]),
            Err(FanError::TooSteep { point: 1 })
        );
        for density in [0.0, -1.2, f64::INFINITY, f64::NAN] {
            let density = Density::from_kg_m3(density);
            let refused = FanCurve::new(table(&HUMPED), Basis::Total, Fitted::ALL, density);
            assert!(matches!(refused, Err(FanError::Density { .. })));
        }
        let basis = Basis::TestPipe {
            bore: Bore::Round(Length::from_in(0.0)),
        };
        let refused = FanCurve::new(table(&HUMPED), basis, Fitted::ALL, AIR);
        assert!(matches!(refused, Err(FanError::Bore { what, .. }) if what == "test pipe"));
    }

    proptest! {
        #[test]
        fn prop_flows_at_undoes_pressure(
            falls in prop::collection::vec((0.01..0.3f64, 0.0..900.0f64), 3..12),
            share in 0.0..=1.0f64,
        ) {
            // a falling curve, perhaps level in places, that ends at no pressure
            let rest: f64 = falls.iter().map(|fall| fall.1).sum();
            prop_assume!(rest > 1.0);
            let (mut q, mut p) = (0.0, rest);
            let mut points = vec![(q, p)];
            for (width, fall) in falls {
                (q, p) = (q + width, f64::max(p - fall, 0.0));
                points.push((q, p));
            }
            let points = points.into_iter().map(|(q, p)| (VolumeFlow::from_m3_s(q), Pressure::from_pa(p)));
            let fan = FanCurve::new(points, Basis::Static, Fitted::NOTHING, AIR).unwrap();
            prop_assert!(!fan.rises());
            let flow = VolumeFlow::from_m3_s(share * fan.largest_flow().as_m3_s());
            let found = fan.flows_at(fan.pressure(flow));
            prop_assert!(!found.is_empty());
            if fan.slope(flow) < -1.0 {
                prop_assert_eq!(found.len(), 1);
                prop_assert!((found[0].as_m3_s() - flow.as_m3_s()).abs() <= 1e-9);
            }
        }

        #[test]
        fn prop_no_table_panics(
            points in prop::collection::vec((any::<f64>(), any::<f64>()), 0..8),
            density in any::<f64>(), at in any::<f64>(),
        ) {
            let points = points.into_iter().map(|(q, p)| (VolumeFlow::from_m3_s(q), Pressure::from_pa(p)));
            // arbitrary floats hardly ever rise; sorted and made positive they often do
            let mut risen: Vec<_> = points.clone().map(|(q, p)| (q.as_m3_s().abs(), p.as_pa().abs())).collect();
            risen.sort_by(|a, b| a.0.total_cmp(&b.0));
            let risen = risen.into_iter().map(|(q, p)| (VolumeFlow::from_m3_s(q), Pressure::from_pa(p)));
            for fan in [
                FanCurve::new(points, Basis::Total, Fitted::ALL, Density::from_kg_m3(density)),
                FanCurve::new(risen, Basis::Static, Fitted::NOTHING, AIR),
            ] {
                match fan {
                    Ok(fan) => {
                        let at = VolumeFlow::from_m3_s(at);
                        let _ = (fan.pressure(at), fan.slope(at), fan.shut_off(), fan.rises());
                        prop_assert!(!fan.flows_at(fan.peak().pressure).is_empty());
                    }
                    Err(error) => prop_assert!(!error.to_string().is_empty()),
                }
            }
        }
    }
}
