//! Every flow at which the fan and the system meet, and what that means for the fan.

use super::{
    Network, OpenSet, SolveError, Workspace,
    crossing::{self, Go, Meeting, Through},
    plan::FanSide,
};
use crate::quantity::{Pressure, VolumeFlow};

/// A flow at which the fan gives what the system asks for.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct Crossing {
    /// Total flow.
    pub flow: VolumeFlow,
    /// Pressure there, on the basis of the fan's curve, at the density of the air in the ducts.
    pub pressure: Pressure,
    /// Whether the fan would stay here.
    pub stability: Stability,
    /// Whether this is where the fan settles coming from rest: the lowest stable crossing.
    pub from_rest: bool,
    /// Whether it lies within the published points; outside, the curve was continued straight.
    pub within_curve: bool,
    /// Flow over that of the stall peak, minus one: how far to the right of it the fan works.
    /// Below zero is stall. `None` for a curve that is highest at rest.
    pub over_stall: Option<f64>,
    /// A share: one minus flow over that of the last published point: how far from free delivery, as far as
    /// the curve tells. Below zero beyond the curve.
    pub below_curve_end: f64,
}

/// Whether a fan stays at a crossing.
///
/// A fan is pushed back to a crossing where its curve is flatter or falls more steeply than the
/// system's rises, that is where fan slope < system slope.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize),
    serde(rename_all = "snake_case")
)]
#[non_exhaustive]
pub enum Stability {
    /// It comes back after a small disturbance.
    Stable,
    /// It leaves for the stable crossing above or below.
    Unstable,
    /// The curves touch without crossing, to 1e-9 of the fan's pressure at rest: a hair more or
    /// less of resistance makes this two crossings or none.
    Touch,
}

impl Network {
    /// Every crossing of the fan and the system, rising in flow.
    ///
    /// A curve that falls throughout has one. Where it rises somewhere, as many fans' do below
    /// their stall peak, there can be several; a fan started from rest settles at the first stable
    /// one, and can be thrown to another by opening and shutting gates.
    ///
    /// # Errors
    ///
    /// As [`solve`](Self::solve).
    pub fn crossings(&self, open: &OpenSet) -> Result<Vec<Crossing>, SolveError> {
        let plan = self.plan();
        let mut work = Workspace::default();
        open.check(plan)?;
        let fan = plan.fan.as_ref().ok_or(SolveError::NoFan)?;
        let mut meetings = Vec::new();
        if fan.rises {
            if !work.prepare(plan, open) {
                return Err(SolveError::NothingOpen);
            }
            let searched = crossing::search(plan, &mut work, fan, |meeting| {
                meetings.push(meeting);
                Go::On
            });
            searched.map_err(|why| why.into_error(plan, &work, fan))?;
        } else {
            let balance = self.solve(open, &mut work)?;
            meetings.push(Meeting {
                q: balance.flow().as_m3_s(),
                through: Through::Stable,
            });
        }
        let first_stable = meetings
            .iter()
            .position(|meeting| meeting.through == Through::Stable);
        Ok(meetings
            .iter()
            .enumerate()
            .map(|(i, meeting)| tell(fan, meeting, Some(i) == first_stable))
            .collect())
    }
}

fn tell(fan: &FanSide, meeting: &Meeting, from_rest: bool) -> Crossing {
    let q = meeting.q;
    let (first, last) = (fan.curve.first().x, fan.curve.last().x);
    let peak = fan.curve.maximum().x;
    Crossing {
        flow: VolumeFlow::from_m3_s(q),
        pressure: Pressure::from_pa(fan.at(q).value - fan.regain * q * q),
        stability: match meeting.through {
            Through::Stable => Stability::Stable,
            Through::Unstable => Stability::Unstable,
            Through::Touch => Stability::Touch,
        },
        from_rest,
        within_curve: (first..=last).contains(&q),
        over_stall: (peak > first.max(0.0)).then_some(q / peak - 1.0),
        below_curve_end: 1.0 - q / last,
    }
}

#[cfg(test)]
mod tests {
    use crate::solve::by_hand::{RISING, ready};

    /// The pressure is the curve's, though a stack gives back more on top of it.
    #[test]
    fn a_crossing_lies_on_the_curve_of_the_fan() {
        for after in [None, Some(250.0)] {
            let (network, open) = ready(RISING, after);
            let fan = network.plan().fan.as_ref().unwrap();
            assert_eq!(fan.regain > 0.0, after.is_some());
            for crossing in network.crossings(&open).unwrap() {
                let on_curve = fan.scale * fan.curve.at(crossing.flow.as_m3_s()).value;
                assert!((crossing.pressure.as_pa() / on_curve - 1.0).abs() < 1e-12);
            }
        }
    }
}
