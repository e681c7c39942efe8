//! Two fans as one: in series and in parallel.
#![allow(
    clippy::indexing_slicing,
    reason = "two ends of an interval, in arrays of two"
)]

use super::{Basis, FanCurve, FanError, FanPoint, Fitted, estimate::Estimate, laws::through};
use crate::{
    curve1d::{Curve1d, Knot, Rise},
    quantity::{Pressure, VolumeFlow},
    root::bracketed_root,
};
use std::{cmp::Ordering, fmt};

/// Two fans as one, and what their curve does not tell.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct Combination {
    /// The curve of both together.
    pub curve: FanCurve,
    /// Where that curve ends before it should, and where it is not the whole truth.
    pub notes: Vec<CombinationNote>,
}

/// What the curve of two fans does not tell.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize),
    serde(rename_all = "snake_case")
)]
#[non_exhaustive]
pub enum CombinationNote {
    /// In parallel: the curve of at least one fan rises somewhere, so that at these pressures it
    /// has more than one flow and the two fans may share the air in more than one way. The curve
    /// tells the way on which both run on their falling branch, with the most air. Started one
    /// after the other the fans may settle on another, or hunt.
    SeveralSplits {
        /// The lowest such pressure on the curve.
        from: Pressure,
        /// The highest: the top of the curve.
        to: Pressure,
    },
    /// In parallel: the curve begins at this pressure, the top of this fan's falling branch.
    /// Against more the fan is blown backwards by the other one unless a damper shuts, or runs
    /// left of its top if its curve is higher there: the curve of the pair is silent on both.
    BeginsLate {
        /// The weaker fan.
        fan: FanOfPair,
        /// Where the curve begins.
        at: FanPoint,
    },
    /// The points of this fan end here while those of the other one go on, and the curve with
    /// them. In series a fan beyond its largest flow is a resistance.
    EndsEarly {
        /// The fan whose points end.
        fan: FanOfPair,
        /// Where the curve ends.
        at: FanPoint,
    },
}

/// One of the two fans of a [`Combination`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize),
    serde(rename_all = "snake_case")
)]
pub enum FanOfPair {
    /// The one whose method was called.
    First,
    /// The one given to it.
    Second,
}

/// `first` or `second`.
impl fmt::Display for FanOfPair {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Self::First => "first",
            Self::Second => "second",
        })
    }
}

/// How far the curve of two fans in parallel may be off between its points, of its largest
/// pressure.
const TOLERANCE: f64 = 1e-6;

/// Points after which the search gives up; two ordinary curves need a few tens.
const MOST_KNOTS: usize = 4096;

/// # Two fans as one
///
/// The second fan is taken at the air density of the first. A combination knows its speed only
/// when both fans have the same one, and is an estimate when one of them is: then its low case is
/// the combination of theirs. To see what each fan does in a combination: in series both have the
/// same flow; in parallel ask [`FanCurve::flows_at`] for the pressure of the combination.
///
/// That the pressures of fans in series add up at equal flow, and the flows of fans in parallel at
/// equal pressure, is elementary. Both neglect what one fan does to the air that the other one
/// gets: swirl, an uneven stream, the loss of the fittings between them.
impl FanCurve {
    /// This fan and `next` behind it, in one stream of air: fan total pressures add at equal flow.
    ///
    /// The curve tells fan total pressure; fan static pressure when `next` does and its outlet is
    /// not known. Its outlet is that of `next`: the velocity pressure at the outlet of this fan
    /// goes on into `next` and is not lost. It runs over the flows that both fans have points
    /// for, and is exact: the sum of two piecewise cubics is one.
    ///
    /// What was fitted to either fan counts as fitted.
    ///
    /// ```
    /// use airsplit::{Basis, Density, FanCurve, Fitted, Pressure, VolumeFlow};
    /// # fn main() -> Result<(), airsplit::FanError> {
    /// // measured by the owner, filter and separator in place
    /// let points = [(0.0, 9.0), (400.0, 8.0), (800.0, 4.0)]
    ///     .map(|(cfm, in_wg)| (VolumeFlow::from_cfm(cfm), Pressure::from_in_wg(in_wg)));
    /// let fan = FanCurve::new(points, Basis::Total, Fitted::ALL, Density::from_kg_m3(1.2))?;
    /// let both = fan.in_series(&fan)?;
    /// let flow = VolumeFlow::from_cfm(600.0);
    /// assert_eq!(both.curve.pressure(flow), 2.0 * fan.pressure(flow));
    /// assert!(both.notes.is_empty());
    /// # Ok(())
    /// # }
    /// ```
    ///
    /// # Errors
    /// [`FanError::NoOutlet`] when this fan tells no fan total pressure and does not know its
    /// outlet; [`FanError::NothingInCommon`] when no flow lies within the points of both;
    /// [`FanError::TooSteep`] when numbers become too large.
    pub fn in_series(&self, next: &Self) -> Result<Combination, FanError> {
        let first = self.on_basis(Basis::Total)?;
        let basis = if next.basis == Basis::Total || next.outlet.is_some() {
            Basis::Total
        } else {
            Basis::Static
        };
        let second = next.at_density(self.density)?.on_basis(basis)?;
        let (curve, notes) = with_low_case(&first, &second, series)?;
        let either = |fitted: fn(&Fitted) -> bool| fitted(&self.fitted) || fitted(&next.fitted);
        let curve = Self {
            fitted: Fitted {
                separator: either(|fitted| fitted.separator),
                filter: either(|fitted| fitted.filter),
                silencer: either(|fitted| fitted.silencer),
            },
            basis,
            outlet: next.outlet,
            ..curve
        };
        Ok(Combination { curve, notes })
    }

    /// This fan and `other` side by side between the same two rooms or ducts: flows add at equal
    /// pressure.
    ///
    /// Equal is the pressure on the basis of this fan's curve, on which the other one is told as
    /// well; where that is the suction in a test pipe, fan static pressure. Fan static pressure is
    /// right for fans that blow into a room or a wide plenum, where their outlet velocities are
    /// lost; fan total pressure for fans that blow into one duct without a loss. The curve has no
    /// outlet: give it one ([`FanCurve::with_outlet`]) that is as large as both together.
    ///
    /// Only the falling branches are used: of each fan the part behind its last rise. From there
    /// the curve falls, from the lower of the two tops down to the higher of the two ends. A hump
    /// or stall dip left of the branch gives a fan more flows at one pressure, and the pair more
    /// than one way to share the air; the notes tell the range.
    ///
    /// The curve passes both fans' own points and as many between that it is right to 1e-6 of its
    /// largest pressure; that of two equal fans is exact.
    ///
    /// # Errors
    /// [`FanError::FittedDiffers`]; [`FanError::NoOutlet`] when the other fan cannot be told on
    /// the basis of this one; [`FanError::NeverFalls`] when one rises up to its last point;
    /// [`FanError::NothingInCommon`] when the falling branches have no pressure in common;
    /// [`FanError::NotSmooth`] when the sum would take thousands of points;
    /// [`FanError::TooSteep`] when numbers become too large.
    pub fn in_parallel(&self, other: &Self) -> Result<Combination, FanError> {
        if self.fitted != other.fitted {
            return Err(FanError::FittedDiffers);
        }
        let basis = match self.basis {
            Basis::TestPipe { .. } => Basis::Static,
            basis => basis,
        };
        let first = self.on_basis(basis)?;
        let second = other.at_density(self.density)?.on_basis(basis)?;
        let (curve, notes) = with_low_case(&first, &second, parallel)?;
        Ok(Combination { curve, notes })
    }
}

type Joined = Result<(Curve1d, Vec<CombinationNote>), FanError>;

/// Both curves joined, and their low cases as well if there are any. All else as of the first, but
/// for its outlet.
fn with_low_case(
    first: &FanCurve,
    second: &FanCurve,
    join: fn(&Curve1d, &Curve1d) -> Joined,
) -> Result<(FanCurve, Vec<CombinationNote>), FanError> {
    let (curve, notes) = join(&first.curve, &second.curve)?;
    let estimate = if first.is_estimate() || second.is_estimate() {
        let lows = (first.low_case(), second.low_case());
        let low = if lows == (None, None) {
            None
        } else {
            let first = lows.0.unwrap_or_else(|| first.clone());
            let second = lows.1.unwrap_or_else(|| second.clone());
            Some(join(&first.curve, &second.curve)?.0)
        };
        Some(Estimate::Derived { low })
    } else {
        None
    };
    let curve = FanCurve {
        curve,
        outlet: None,
        speed: first.speed.filter(|_| first.speed == second.speed),
        estimate,
        ..first.clone()
    };
    Ok((curve, notes))
}

/// Pressures added at equal flow.
fn series(first: &Curve1d, second: &Curve1d) -> Joined {
    let begins = first.first().x.max(second.first().x);
    let ends = first.last().x.min(second.last().x);
    if begins >= ends {
        let (what, unit) = ("flow", "m3/s");
        return Err(FanError::NothingInCommon {
            what,
            ends,
            begins,
            unit,
        });
    }
    let mut flows: Vec<f64> = [first, second]
        .into_iter()
        .flat_map(|curve| curve.knots().map(|knot| knot.x))
        .filter(|q| (begins..=ends).contains(q))
        .collect();
    flows.sort_by(f64::total_cmp);
    flows.dedup();
    let curve = through(flows.into_iter().map(|x| {
        let (one, other) = (first.knot_at(x), second.knot_at(x));
        Knot {
            x,
            y: one.y + other.y,
            slope: one.slope + other.slope,
        }
    }))?;
    let at = curve.last().into();
    let notes = ends_early(first.last().x, second.last().x, at);
    Ok((curve, notes.into_iter().collect()))
}

/// The fan with the smaller of two numbers; none where they are one.
fn of_smaller(first: f64, second: f64) -> Option<FanOfPair> {
    match first.total_cmp(&second) {
        Ordering::Less => Some(FanOfPair::First),
        Ordering::Equal => None,
        Ordering::Greater => Some(FanOfPair::Second),
    }
}

/// Of the fan that ends at the smaller of the two.
fn ends_early(first: f64, second: f64, at: FanPoint) -> Option<CombinationNote> {
    of_smaller(first, second).map(|fan| CombinationNote::EndsEarly { fan, at })
}

/// Flows added at equal pressure.
fn parallel(first: &Curve1d, second: &Curve1d) -> Joined {
    let branches = Branches {
        first: Branch::of(first, FanOfPair::First)?,
        second: Branch::of(second, FanOfPair::Second)?,
    };
    let Branches { first, second } = &branches;
    let top = first.top_y.min(second.top_y);
    let bottom = first.curve.last().y.max(second.curve.last().y);
    if bottom >= top {
        let (what, unit) = ("pressure", "Pa");
        return Err(FanError::NothingInCommon {
            what,
            ends: bottom,
            begins: top,
            unit,
        });
    }
    let curve = branches.sum(top, bottom)?;
    let mut notes = Vec::new();
    let late = of_smaller(first.top_y, second.top_y);
    let at = curve.first().into();
    notes.extend(late.map(|fan| CombinationNote::BeginsLate { fan, at }));
    let foot = [first, second].into_iter().filter_map(|branch| branch.foot);
    let foot = foot.reduce(f64::min).filter(|&foot| foot < top);
    if let Some(foot) = foot {
        let from = Pressure::from_pa(foot.max(bottom));
        let to = Pressure::from_pa(top);
        notes.push(CombinationNote::SeveralSplits { from, to });
    }
    // the fan with the higher end has the points that end early
    let (one, other) = (-first.curve.last().y, -second.curve.last().y);
    notes.extend(ends_early(one, other, curve.last().into()));
    Ok((curve, notes))
}

/// The part of a fan curve that falls up to its last point.
struct Branch<'a> {
    curve: &'a Curve1d,
    /// Flow and pressure where it begins.
    top_x: f64,
    top_y: f64,
    /// The lowest pressure left of the top, if the curve rises to it.
    foot: Option<f64>,
}

impl<'a> Branch<'a> {
    fn of(curve: &'a Curve1d, fan: FanOfPair) -> Result<Self, FanError> {
        let last = curve.last();
        // A level stretch told on another basis and back may rise by a rounding.
        let rounding = 1e-13
            * curve
                .knots()
                .fold(0.0, |size: f64, at| size.max(at.y.abs()));
        let Some(Rise { low, top_x, top_y }) = curve.last_rise(rounding) else {
            let Knot { x, y, .. } = curve.first();
            return Ok(Self {
                curve,
                top_x: x,
                top_y: y,
                foot: None,
            });
        };
        if top_x >= last.x {
            let flow = VolumeFlow::from_m3_s(last.x);
            return Err(FanError::NeverFalls { fan, flow });
        }
        Ok(Self {
            curve,
            top_x,
            top_y,
            foot: Some(low),
        })
    }

    /// Pressures at the points of the branch, its top among them.
    fn levels(&self) -> impl Iterator<Item = f64> {
        let points = self.curve.knots().filter(|knot| knot.x > self.top_x);
        std::iter::once(self.top_y).chain(points.map(|knot| knot.y))
    }

    /// The smallest and the largest flow with this pressure: one but where the branch is level.
    fn flows(&self, p_pa: f64) -> [f64; 2] {
        let flows = self.curve.solutions(p_pa);
        let mut on = flows.into_iter().filter(|&q| q >= self.top_x);
        // never none: the branch has every pressure from its top down to its last point
        let least = on.next().unwrap_or(self.top_x);
        [least, on.next_back().unwrap_or(least)]
    }
}

struct Branches<'a> {
    first: Branch<'a>,
    second: Branch<'a>,
}

/// One way to share a flow at one pressure.
#[derive(Debug, Clone, Copy)]
struct Split {
    first: f64,
    second: f64,
    /// The flow of both, the pressure, and its slope over the flow of both.
    knot: Knot,
}

impl Branches<'_> {
    fn at(&self, first: f64, second: f64) -> Split {
        let one = self.first.curve.knot_at(first);
        let other = self.second.curve.knot_at(second);
        let (a, b) = (one.slope.min(0.0), other.slope.min(0.0));
        // the flatter curve knows the pressure better
        let (flat, steep, y) = if a > b {
            (a, b, one.y)
        } else {
            (b, a, other.y)
        };
        // 1/slope = 1/flat + 1/steep; exactly half of two alike, 0 when one is level
        let slope = if steep == 0.0 {
            0.0
        } else {
            flat / (1.0 + flat / steep)
        };
        let x = first + second;
        Split {
            first,
            second,
            knot: Knot { x, y, slope },
        }
    }

    /// The split of a `total` flow between two others.
    fn between(&self, left: &Split, right: &Split, total: f64) -> Split {
        let least = left.first.max(total - right.second);
        let most = right.first.min(total - left.second);
        let gap = |first: f64| {
            self.first.curve.at(first).value - self.second.curve.at(total - first).value
        };
        let first = if gap(least) <= 0.0 {
            least
        } else if gap(most) >= 0.0 {
            most
        } else {
            // a bracket by now, of finite values
            bracketed_root(gap, least, most, 0.0).unwrap_or(least)
        };
        self.at(first, total - first)
    }

    /// The curve of both, from pressure `top` down to `bottom`.
    fn sum(&self, top: f64, bottom: f64) -> Result<Curve1d, FanError> {
        let Self { first, second } = self;
        let levels = first.levels().chain(second.levels());
        let mut splits: Vec<Split> = levels
            .filter(|level| (bottom..=top).contains(level))
            .flat_map(|level| {
                let (one, other) = (first.flows(level), second.flows(level));
                [0, 1].map(|end| self.at(one[end], other[end]))
            })
            .collect();
        splits.sort_by(|a, b| a.knot.x.total_cmp(&b.knot.x));
        splits.dedup_by(|a, b| a.knot.x == b.knot.x);
        let allowed = TOLERANCE * top.abs().max(bottom.abs());
        // depth first from the left, so that the knots come in their order
        let mut ahead: Vec<Split> = splits.into_iter().rev().collect();
        let mut done: Vec<Split> = ahead.pop().into_iter().collect();
        while let (Some(&left), Some(&right)) = (done.last(), ahead.last()) {
            let middle = self.halved(&left, &right, allowed)?;
            if let Some(middle) = middle {
                ahead.push(middle);
            } else {
                done.push(right);
                ahead.pop();
            }
            if done.len() + ahead.len() > MOST_KNOTS {
                let (most, tolerance) = (MOST_KNOTS, TOLERANCE);
                return Err(FanError::NotSmooth { most, tolerance });
            }
        }
        through(done.into_iter().map(|split| split.knot))
    }

    /// The split in the middle, unless one cubic does for the whole.
    fn halved(&self, left: &Split, right: &Split, allowed: f64) -> Result<Option<Split>, FanError> {
        let (from, to) = (left.knot.x, right.knot.x);
        let piece = through([left.knot, right.knot])?;
        let at = |share: f64| self.between(left, right, from + share * (to - from));
        // the error of a cubic is largest near the middle; the quarters catch the uneven
        let off = |split: &Split| (piece.at(split.knot.x).value - split.knot.y).abs();
        let middle = at(0.5);
        let fits = [off(&middle), off(&at(0.25)), off(&at(0.75))];
        let narrow = middle.knot.x <= from || middle.knot.x >= to;
        // some room below what is promised, for what lies between the three
        let fits = fits.into_iter().all(|off| off <= 0.5 * allowed);
        Ok((!fits && !narrow).then_some(middle))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        bore::Bore,
        quantity::{Density, Length, RotationalSpeed},
    };
    use proptest::prelude::*;

    const AIR: Density = Density::from_kg_m3(1.2);

    fn table(points: &[(f64, f64)], basis: Basis) -> FanCurve {
        let point = |at: &(f64, f64)| (VolumeFlow::from_cfm(at.0), Pressure::from_in_wg(at.1));
        FanCurve::new(points.iter().map(point), basis, Fitted::NOTHING, AIR).unwrap()
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
    fn val_a_textbook_fan_with_a_hump_doubled() {
        // The table above, each row doubled in pressure (series) or in flow (parallel): elementary.
        let fan = table(&HUMPED, Basis::Total);
        let series = fan.in_series(&fan).unwrap();
        assert!(series.notes.is_empty());
        for (point, (cfm, in_wg)) in series.curve.points().zip(HUMPED) {
            assert_eq!(point.flow, VolumeFlow::from_cfm(cfm));
            assert_eq!(point.pressure, 2.0 * Pressure::from_in_wg(in_wg));
        }
        let parallel = fan.in_parallel(&fan).unwrap();
        assert_eq!(parallel.curve.points().len(), 5);
        for (point, (cfm, in_wg)) in parallel.curve.points().zip(&HUMPED[1..]) {
            assert_eq!(point.flow, 2.0 * VolumeFlow::from_cfm(*cfm));
            assert_eq!(point.pressure, Pressure::from_in_wg(*in_wg));
        }
        // Between 0.90, the shut-off pressure, and 0.95, the hump, a fan has two flows.
        let splits = CombinationNote::SeveralSplits {
            from: Pressure::from_in_wg(0.90),
            to: Pressure::from_in_wg(0.95),
        };
        assert_eq!(parallel.notes, [splits]);
        let inside = Pressure::from_in_wg(0.92);
        assert_eq!(fan.flows_at(inside).len(), 2);
        assert_eq!(parallel.curve.flows_at(inside).len(), 1);
    }

    #[test]
    fn prop_where_the_curve_ends_before_it_should_is_noted() {
        let strong = table(&[(0.0, 12.0), (500.0, 11.0), (1500.0, 0.0)], Basis::Static);
        let weak = table(&[(0.0, 8.0), (400.0, 6.0), (800.0, 2.0)], Basis::Static);
        for (one, other, which) in [
            (&strong, &weak, FanOfPair::Second),
            (&weak, &strong, FanOfPair::First),
        ] {
            let pair = one.in_parallel(other).unwrap();
            let [first, last] = [pair.curve.points().next(), pair.curve.points().last()];
            let (begins, ends) = (first.unwrap(), last.unwrap());
            assert_eq!(begins.pressure, Pressure::from_in_wg(8.0));
            assert_eq!(begins.flow, strong.flows_at(begins.pressure)[0]);
            assert_eq!(ends.pressure, Pressure::from_in_wg(2.0));
            assert_eq!(
                pair.notes,
                [
                    CombinationNote::BeginsLate {
                        fan: which,
                        at: begins
                    },
                    CombinationNote::EndsEarly {
                        fan: which,
                        at: ends
                    },
                ]
            );
            assert_eq!(pair.curve.outlet(), None);
        }
        let small = Bore::Round(Length::from_in(6.0));
        let strong = strong.with_outlet(small).unwrap();
        // in series behind a fan with an outlet; the basis follows from what is known
        let pair = strong.in_series(&weak).unwrap();
        assert_eq!(
            (pair.curve.basis(), pair.curve.outlet()),
            (Basis::Static, None)
        );
        let flow = VolumeFlow::from_cfm(400.0);
        let total = strong.pressure_on(Basis::Total, flow).unwrap();
        let both = total + Pressure::from_in_wg(6.0);
        assert!((pair.curve.pressure(flow) - both).as_pa().abs() <= 1e-11);
        assert!(
            matches!(pair.notes[..], [CombinationNote::EndsEarly { fan: FanOfPair::Second, at }]
            if at.flow == VolumeFlow::from_cfm(800.0))
        );
        let (from, to) = (Basis::Static, Basis::Total);
        assert_eq!(
            weak.in_series(&strong),
            Err(FanError::NoOutlet { from, to })
        );
        let pair = strong.in_series(&strong).unwrap().curve;
        assert_eq!((pair.basis(), pair.outlet()), (Basis::Total, Some(small)));
    }

    #[test]
    fn prop_pairs_that_are_none_are_refused() {
        let fan = table(&HUMPED, Basis::Static);
        let rising = table(&[(0.0, 1.0), (100.0, 2.0), (200.0, 3.0)], Basis::Static);
        let refused = fan.in_parallel(&rising).unwrap_err();
        assert_eq!(
            refused.to_string(),
            "the curve of the second fan rises up to its last point, 200 cfm; in parallel only \
             the part that falls can be used; give its points at larger flows"
        );
        let high = table(&[(0.0, 9.0), (100.0, 8.0), (200.0, 3.0)], Basis::Static);
        assert_eq!(
            fan.in_parallel(&high).unwrap_err().to_string(),
            format!(
                "the two fan curves have no range of pressure in common: one ends at {} Pa, where \
                 the other begins at {} Pa; give points of both that overlap",
                Pressure::from_in_wg(3.0).as_pa(),
                Pressure::from_in_wg(0.95).as_pa(),
            )
        );
        let far = table(&[(1300.0, 9.0), (1400.0, 8.0), (1500.0, 3.0)], Basis::Total);
        let total = table(&HUMPED, Basis::Total);
        let refused = total.in_series(&far);
        assert!(matches!(refused, Err(FanError::NothingInCommon { what, .. }) if what == "flow"));
        let points = HUMPED.map(|(q, p)| (VolumeFlow::from_cfm(q), Pressure::from_in_wg(p)));
        let whole = FanCurve::new(points, Basis::Total, Fitted::ALL, AIR).unwrap();
        assert_eq!(total.in_parallel(&whole), Err(FanError::FittedDiffers));
        assert_eq!(total.in_series(&whole).unwrap().curve.fitted(), Fitted::ALL);
    }

    #[test]
    fn prop_a_pair_with_an_estimate_is_one() {
        let (flow, pressure) = (VolumeFlow::from_cfm(1200.0), Pressure::from_in_wg(10.0));
        let guess = FanCurve::from_extremes(flow, pressure, Fitted::NOTHING, AIR).unwrap();
        let known = table(&[(0.0, 12.0), (500.0, 11.0), (1500.0, 0.0)], Basis::Static);
        let pair = guess.in_parallel(&known).unwrap().curve;
        let low = pair.low_case().unwrap();
        assert!(pair.is_estimate() && low.is_estimate() && low.low_case().is_none());
        let by_hand = guess.low_case().unwrap().in_parallel(&known).unwrap().curve;
        assert_eq!(low, by_hand);
        let both = guess.in_parallel(&guess).unwrap().curve;
        let half = VolumeFlow::from_cfm(1200.0);
        assert!((both.pressure(half).as_in_wg() - 7.5).abs() < 1e-12);
        let air = known.at_density(0.9 * AIR).unwrap();
        assert_eq!(air.in_parallel(&guess).unwrap().curve.density(), 0.9 * AIR);
        let speed = RotationalSpeed::from_rpm(3450.0);
        let one = known.clone().with_speed(speed).unwrap();
        assert_eq!(one.in_parallel(&one).unwrap().curve.speed(), Some(speed));
        assert_eq!(one.in_parallel(&known).unwrap().curve.speed(), None);
    }

    #[test]
    fn prop_level_stretches_of_both_fans_add_up() {
        // both level at 5 in wg, over 200 and over 300 cfm: the pair over 500
        let one = [(0.0, 9.0), (100.0, 5.0), (300.0, 5.0), (600.0, 0.0)];
        let other = [(0.0, 8.0), (200.0, 5.0), (500.0, 5.0), (700.0, 0.0)];
        let pair = table(&one, Basis::Total).in_parallel(&table(&other, Basis::Total));
        let pair = pair.unwrap().curve;
        let level = Pressure::from_in_wg(5.0);
        for cfm in [300.0, 430.0, 560.0, 799.0, 800.0] {
            assert_eq!(pair.pressure(VolumeFlow::from_cfm(cfm)), level);
        }
        assert!(pair.pressure(VolumeFlow::from_cfm(801.0)) < level);
        assert!(pair.pressure(VolumeFlow::from_cfm(299.0)) > level);
    }

    #[test]
    fn prop_a_rise_counts_by_its_share_of_the_curve_and_not_by_its_pascals() {
        let tiny = HUMPED.map(|(q, p)| (q, p * 2f64.powi(-40)));
        let pair = table(&tiny, Basis::Total).in_parallel(&table(&tiny, Basis::Total));
        let splits = CombinationNote::SeveralSplits {
            from: 2f64.powi(-40) * Pressure::from_in_wg(0.90),
            to: 2f64.powi(-40) * Pressure::from_in_wg(0.95),
        };
        assert_eq!(pair.unwrap().notes, [splits]);
        // A level stretch is none, though rounding raises the end of some that are told on total
        // pressure and back: above 1024 Pa numbers lie twice as far apart as at 4 in wg.
        let mut risen = 0;
        for i in 0..100 {
            let cfm = 350.0 + f64::from(i);
            let fan = table(
                &[(0.0, 9.0), (150.0, 4.0), (cfm, 4.0), (700.0, 1.0)],
                Basis::Static,
            );
            let fan = fan.with_outlet(Bore::Round(Length::from_in(6.0))).unwrap();
            let total = fan.on_basis(Basis::Total).unwrap();
            let told = total.on_basis(Basis::Static).unwrap();
            risen += i32::from(told.rises());
            assert_eq!(told.in_parallel(&told).unwrap().notes, [], "{cfm}");
        }
        assert!(risen > 10, "{risen}");
    }

    #[test]
    fn prop_a_pair_has_4096_points_and_no_more() {
        // Straight lines need no points but their own: so many steps of two fans whose numbers of
        // steps have no factor in common meet at both ends and nowhere else.
        let line = |steps: u32| {
            let point = |i| (f64::from(i), 10.0 * (1.0 - f64::from(i) / f64::from(steps)));
            table(&(0..=steps).map(point).collect::<Vec<_>>(), Basis::Total)
        };
        let pair = line(2047).in_parallel(&line(2049)).unwrap().curve;
        assert_eq!(pair.points().len(), 4096);
        let refused = line(2048).in_parallel(&line(2049)).unwrap_err();
        assert!(matches!(refused, FanError::NotSmooth { most: 4096, .. }));
    }

    #[test]
    fn prop_a_drop_between_two_neighbouring_flows_is_no_endless_search() {
        // each drops by half from one number to the next; of their sum no number lies between
        let cliff = |edge: f64| {
            let points = [(0.0, 9.0), (edge, 8.0), (edge.next_up(), 4.0), (1.0, 0.0)];
            let points = points.map(|(q, p)| (VolumeFlow::from_m3_s(q), Pressure::from_pa(p)));
            FanCurve::new(points, Basis::Total, Fitted::NOTHING, AIR).unwrap()
        };
        let (one, other) = (cliff(0.1), cliff(0.2));
        let pair = one.in_parallel(&other).unwrap().curve;
        for pa in [8.9, 8.5, 8.1, 3.9, 2.0, 0.1].map(Pressure::from_pa) {
            let flow = one.flows_at(pa)[0] + other.flows_at(pa)[0];
            let off = (pair.pressure(flow) - pa).as_pa();
            assert!(off.abs() <= 1e-6 * 9.0, "{off} of {pa:?}");
        }
    }

    #[test]
    fn regress_points_of_a_pair() {
        let strong = table(&[(0.0, 12.0), (500.0, 11.0), (1500.0, 0.0)], Basis::Static);
        let weak = table(&HUMPED, Basis::Static);
        let pair = strong.in_parallel(&weak).unwrap();
        assert_eq!(pair.curve.points().len(), 21);
    }

    /// A fan with or without a hump, dip and level stretch, down to no pressure.
    fn fans() -> impl Strategy<Value = FanCurve> {
        let step = (
            0.02..0.2f64,
            prop_oneof![6 => 0.0..900.0f64, 1 => Just(0.0), 2 => -300.0..0.0f64],
        );
        prop::collection::vec(step, 3..9).prop_map(|steps| {
            let (mut q, mut p) = (0.0, 0.0);
            let mut points = Vec::new();
            for (width, fall) in steps {
                points.push((VolumeFlow::from_m3_s(q), p));
                (q, p) = (q + width, p - fall);
            }
            points.push((VolumeFlow::from_m3_s(q), p));
            // lifted above zero, then down to it
            let least = points.iter().fold(f64::MAX, |least, at| least.min(at.1));
            let end = (VolumeFlow::from_m3_s(q + 0.1), Pressure::from_pa(0.0));
            let points = points
                .into_iter()
                .map(|(q, p)| (q, Pressure::from_pa(p - least + 50.0)));
            let points = points.chain([end]);
            FanCurve::new(points, Basis::Total, Fitted::NOTHING, AIR).unwrap()
        })
    }

    proptest! {
        #[test]
        fn prop_equal_fans_are_exact(fan in fans()) {
            let series = fan.in_series(&fan).unwrap();
            prop_assert!(series.notes.is_empty());
            let parallel = fan.in_parallel(&fan).unwrap();
            let top = parallel.curve.points().next().unwrap();
            let branch = fan.points().filter(|at| 2.0 * at.flow > top.flow).count();
            // fewer where several points lie on one level
            prop_assert!(parallel.curve.points().len() <= branch + 1);
            for i in 0..=200 {
                let flow = f64::from(i) / 200.0 * fan.largest_flow();
                prop_assert_eq!(series.curve.pressure(flow), 2.0 * fan.pressure(flow));
                if 2.0 * flow >= top.flow {
                    prop_assert_eq!(parallel.curve.pressure(2.0 * flow), fan.pressure(flow));
                }
            }
            // three: the pair and one more
            let three = parallel.curve.in_parallel(&fan).unwrap().curve;
            for i in 0..=200 {
                let flow = f64::from(i) / 200.0 * fan.largest_flow();
                if 2.0 * flow >= top.flow {
                    let gap = three.pressure(3.0 * flow) - fan.pressure(flow);
                    prop_assert!(gap.as_pa().abs() <= 1e-12 * top.pressure.as_pa());
                }
            }
            let splits = parallel.notes.iter().any(|note| matches!(note, CombinationNote::SeveralSplits { .. }));
            prop_assert_eq!(splits, fan.rises());
        }

        #[test]
        fn prop_unlike_fans_in_parallel_are_right_to_the_promise(a in fans(), b in fans(), share in 0.0..=1.0f64) {
            let pair = a.in_parallel(&b).unwrap();
            prop_assert!(!pair.curve.rises());
            let (first, last) = (pair.curve.points().next().unwrap(), pair.curve.points().last().unwrap());
            let pressure = last.pressure + share * (first.pressure - last.pressure);
            let most = |fan: &FanCurve| *fan.flows_at(pressure).last().unwrap();
            let flow = most(&a) + most(&b);
            let told = pair.curve.pressure(flow);
            prop_assert!((told - pressure).as_pa().abs() <= 1e-6 * first.pressure.as_pa());
            // and the slope follows
            let (one, other) = (a.slope(most(&a)), b.slope(most(&b)));
            if one < -1.0 && other < -1.0 {
                let slope = 1.0 / (1.0 / one + 1.0 / other);
                prop_assert!((pair.curve.slope(flow) / slope - 1.0).abs() <= 2e-2);
            }
            // the order of the two does not matter
            let other = b.in_parallel(&a).unwrap().curve;
            prop_assert!((other.pressure(flow) - told).as_pa().abs() <= 2e-6 * first.pressure.as_pa());
        }

        #[test]
        fn prop_several_splits_are_where_a_fan_has_several_flows(a in fans(), b in fans(), share in 0.01..0.99f64) {
            let pair = a.in_parallel(&b).unwrap();
            let (top, bottom) = (pair.curve.points().next().unwrap().pressure, pair.curve.points().last().unwrap().pressure);
            let pressure = bottom + share * (top - bottom);
            let several = [&a, &b].iter().any(|fan| {
                let flows = fan.flows_at(pressure);
                // the two ends of a level stretch are not two splits of different kind
                flows.len() > 2 || (flows.len() == 2 && fan.slope(flows[0]) != 0.0)
            });
            let noted = pair.notes.iter().any(|note| {
                matches!(note, CombinationNote::SeveralSplits { from, to } if *from <= pressure && pressure <= *to)
            });
            prop_assert_eq!(several, noted);
        }

        #[test]
        fn prop_series_is_the_sum(a in fans(), b in fans(), share in 0.0..=1.0f64) {
            let pair = a.in_series(&b).unwrap().curve;
            let flow = share * pair.largest_flow();
            let sum = a.pressure(flow) + b.pressure(flow);
            prop_assert!((pair.pressure(flow) - sum).as_pa().abs() <= 1e-12 * (a.peak().pressure + b.peak().pressure).as_pa());
            prop_assert!((pair.slope(flow) - a.slope(flow) - b.slope(flow)).abs() <= 1e-8);
        }

        #[test]
        fn prop_no_pair_panics(
            a in prop::collection::vec((any::<f64>(), any::<f64>()), 3..6),
            b in prop::collection::vec((any::<f64>(), any::<f64>()), 3..6),
        ) {
            let fan = |points: Vec<(f64, f64)>| {
                let mut points: Vec<_> = points.into_iter().map(|(q, p)| (q.abs(), p.abs())).collect();
                points.sort_by(|a, b| a.0.total_cmp(&b.0));
                let points = points.into_iter().map(|(q, p)| (VolumeFlow::from_m3_s(q), Pressure::from_pa(p)));
                FanCurve::new(points, Basis::Total, Fitted::NOTHING, AIR)
            };
            if let (Ok(a), Ok(b)) = (fan(a), fan(b)) {
                for pair in [a.in_series(&b), a.in_parallel(&b)] {
                    match pair {
                        Ok(pair) => prop_assert!(pair.curve.pressure(pair.curve.largest_flow()).is_finite()),
                        Err(error) => prop_assert!(!error.to_string().is_empty()),
                    }
                }
            }
        }
    }

    #[test]
    fn two_fans_have_no_outlet_of_their_own() {
        let outlet = |inches| Bore::Round(Length::from_in(inches));
        let fan = table(&HUMPED, Basis::Total)
            .with_outlet(outlet(6.0))
            .unwrap();
        let other = table(&HUMPED, Basis::Total)
            .with_outlet(outlet(8.0))
            .unwrap();
        assert_eq!(fan.in_parallel(&other).unwrap().curve.outlet(), None);
    }
}
