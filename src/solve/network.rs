//! The compiled system, and the questions it answers.

use super::{
    SolveError, Unbalanced, Workspace,
    balance::Balance,
    crossing::{self, NoCrossing},
    newton::{self, Drive, Outcome},
    open::OpenSet,
    plan::{FanSide, LegStart, NONE, Plan},
    point::{CurveEnd, OperatingPoint},
    quality::{Quality, Residual, Status},
    residual::At,
    start,
};
use crate::{
    air::AirProperties,
    place::{Name, Place},
    quantity::{Pressure, VolumeFlow},
    system::{Factors, ModelErrors, Setting, System, UnknownName, unknown},
};
use std::sync::Arc;

/// A system compiled for solving.
///
/// Owns its plan and a copy of the system, which gradients go back to: cheap to clone, `Send`,
/// `Sync` and free of borrows, so a program can keep it beside its [`Workspace`]. The system it
/// came from may be changed or dropped.
#[derive(Debug, Clone)]
pub struct Network {
    plan: Arc<Plan>,
}

impl Network {
    /// Checks a system and compiles it.
    ///
    /// # Errors
    ///
    /// Every fault of the model at once, each with its [`Place`].
    pub fn new(system: &System) -> Result<Self, ModelErrors> {
        Self::compile(system.clone(), Factors::default())
    }

    /// Checks and compiles a system with these numbers in place of its own: the ones that
    /// [`settings`](Self::settings) lists.
    ///
    /// They are put in their places in this order, so that of two for one number the last holds;
    /// but a speed, which is told over that of the curve, multiplies the one before.
    ///
    /// ```
    /// # fn main() -> Result<(), Box<dyn std::error::Error>> {
    /// # #[cfg(feature = "serde")] {
    /// use airsplit::{Network, Parameter, Place, Setting, Study};
    /// let study: Study = toml::from_str(&std::fs::read_to_string("examples/chair_shop.toml")?)?;
    /// let main = Place::Section("main east".into());
    /// let wider = Setting::new(main, Parameter::Diameter, 0.2);
    /// let wider = Network::varied(&study.system, &[wider])?;
    /// let as_it_is = Network::new(&study.system)?;
    /// let flow = |network: &Network| network.operating_point(&network.open_all()).map(|p| p.flow);
    /// assert!(flow(&wider)? > flow(&as_it_is)?);
    /// # }
    /// # Ok(())
    /// # }
    /// ```
    ///
    /// # Errors
    ///
    /// A setting that names no number of the system; every fault of the system so changed.
    pub fn varied<'a>(
        system: &System,
        settings: impl IntoIterator<Item = &'a Setting>,
    ) -> Result<Self, ModelErrors> {
        let (system, factors) = system.vary(Factors::default(), settings)?;
        Self::compile(system, factors)
    }

    /// This network with other numbers.
    pub(super) fn redrawn(&self, settings: &[Setting]) -> Result<Self, ModelErrors> {
        let origin = &self.plan.origin;
        let (system, factors) = origin.system.vary(origin.factors.clone(), settings)?;
        Self::compile(system, factors)
    }

    fn compile(system: System, factors: Factors) -> Result<Self, ModelErrors> {
        Ok(Self {
            plan: Arc::new(Plan::new(system, factors)?),
        })
    }

    /// The air in the ducts.
    pub(crate) fn air(&self) -> AirProperties {
        self.plan.origin.air
    }

    /// The system that it was made from.
    #[cfg(feature = "plot")]
    pub(crate) fn system(&self) -> &System {
        &self.plan.origin.system
    }

    /// The names of the hoods, in the order of their sections.
    #[must_use]
    pub fn hoods(&self) -> impl ExactSizeIterator<Item = &Name> {
        self.plan.hoods.iter().map(|hood| &hood.name)
    }

    /// The open set of these hoods; the name of a machine opens all of its hoods.
    ///
    /// # Errors
    ///
    /// The first name that is neither a hood nor a machine, with the names that exist, nearest
    /// first.
    pub fn open<I>(&self, names: I) -> Result<OpenSet, UnknownName>
    where
        I: IntoIterator,
        I::Item: AsRef<str>,
    {
        let plan = &*self.plan;
        let mut open = OpenSet::none(plan);
        for name in names {
            let name = name.as_ref();
            if let Some(hoods) = plan.names.get(name) {
                hoods.iter().for_each(|&hood| open.insert(hood));
            } else {
                let known = plan.hoods.iter().map(|h| &h.name);
                let known = known.chain(plan.machines.iter().map(|m| &m.name));
                return Err(unknown("hood or machine", name, known));
            }
        }
        Ok(open)
    }

    /// The open set of every hood.
    #[must_use]
    pub fn open_all(&self) -> OpenSet {
        let mut open = OpenSet::none(&self.plan);
        (0..self.plan.hoods.len() as u32).for_each(|hood| open.insert(hood));
        open
    }

    /// Where the fan settles and how the air splits, in place: nothing is allocated once the
    /// workspace has grown to this network.
    ///
    /// Where the fan's curve rises somewhere there may be more than one crossing; this is the one
    /// reached from rest, the lowest stable one.
    ///
    /// # Errors
    ///
    /// [`SolveError`]: nothing open, a foreign open set, no fan, a fan without pressure at rest,
    /// or no balance within the bounded number of passes.
    pub fn solve<'w>(
        &'w self,
        open: &OpenSet,
        work: &'w mut Workspace,
    ) -> Result<Balance<'w>, SolveError> {
        let plan = &*self.plan;
        let fan = self.prepare(open, work)?;
        let drive = Drive::Fan(fan);
        if fan.rises {
            let found = crossing::from_rest(plan, work, fan);
            found.map_err(|why| why.into_error(plan, work, fan))?;
            work.trace.clear();
        } else {
            start::start(&mut work.tree, &drive);
        }
        let outcome = newton::solve(plan, work, drive);
        let status = met(fan, work);
        finish(plan, work, status, outcome)
    }

    /// As [`solve`](Self::solve), but from the balance that stands in the workspace: the flows of
    /// its hoods, whatever was changed since.
    ///
    /// For what changes a little at a time: a fan's speed, a filter that loads, one gate of many. A
    /// cold start is good enough that little is gained in passes; but where the fan's curve rises
    /// this keeps to the crossing where the fan runs, as long as there is a stable one to be found
    /// from there, while [`solve`](Self::solve) tells the one reached from rest. A workspace without
    /// a balance of as many legs starts as `solve` does.
    ///
    /// ```
    /// # fn main() -> Result<(), Box<dyn std::error::Error>> {
    /// # #[cfg(feature = "serde")] {
    /// use airsplit::{Network, Study, Workspace};
    /// let study: Study = toml::from_str(&std::fs::read_to_string("examples/chair_shop.toml")?)?;
    /// let network = Network::new(&study.system)?;
    /// let mut work = Workspace::default();
    /// let two = network.open(["planer", "lathe"])?;
    /// let before = network.solve(&two, &mut work)?.flow();
    /// let three = network.open(["planer", "lathe", "bandsaw"])?;
    /// assert!(network.resume(&three, &mut work)?.flow() > before);
    /// # }
    /// # Ok(())
    /// # }
    /// ```
    ///
    /// # Errors
    ///
    /// As [`solve`](Self::solve).
    pub fn resume<'w>(
        &'w self,
        open: &OpenSet,
        work: &'w mut Workspace,
    ) -> Result<Balance<'w>, SolveError> {
        let plan = &*self.plan;
        open.check(plan)?;
        if !work.keep(plan) {
            return self.solve(open, work);
        }
        let fan = self.prepare(open, work)?;
        let drive = Drive::Fan(fan);
        start::start(&mut work.tree, &drive);
        work.take_up();
        let outcome = newton::solve(plan, work, drive);
        let stable = !fan.rises || fan.at(work.total()).slope < outcome.slope;
        if !(outcome.converged && stable) {
            return self.solve(open, work);
        }
        let status = met(fan, work);
        finish(plan, work, status, outcome)
    }

    /// Lays out the tree and hands out the fan.
    fn prepare(&self, open: &OpenSet, work: &mut Workspace) -> Result<&FanSide, SolveError> {
        let plan = &*self.plan;
        open.check(plan)?;
        let fan = plan.fan.as_ref().ok_or(SolveError::NoFan)?;
        if work.prepare(plan, open) {
            Ok(fan)
        } else {
            Err(SolveError::NothingOpen)
        }
    }

    /// How an imposed total flow splits, and the pressure that a fan must give for it, in place.
    ///
    /// # Errors
    ///
    /// As [`solve`](Self::solve), but no fan is needed, and the flow must be above zero.
    pub fn solve_at_flow<'w>(
        &'w self,
        open: &OpenSet,
        flow: VolumeFlow,
        work: &'w mut Workspace,
    ) -> Result<Balance<'w>, SolveError> {
        let plan = &*self.plan;
        open.check(plan)?;
        let q = flow.as_m3_s();
        if !(q.is_finite() && q > 0.0) {
            return Err(SolveError::ImposedFlow { flow });
        }
        if !work.prepare(plan, open) {
            return Err(SolveError::NothingOpen);
        }
        let drive = Drive::Flow(q);
        start::start(&mut work.tree, &drive);
        let outcome = newton::solve(plan, work, drive);
        finish(plan, work, Status::FlowImposed, outcome)
    }

    /// How the air splits when a pressure is imposed, on the basis of the fan's curve at the
    /// density of the air in the ducts, in place: what [`SystemCurve`](super::SystemCurve) asks.
    pub(super) fn solve_at_pressure<'w>(
        &'w self,
        open: &OpenSet,
        pressure: Pressure,
        work: &'w mut Workspace,
    ) -> Result<Balance<'w>, SolveError> {
        let plan = &*self.plan;
        open.check(plan)?;
        let pa = pressure.as_pa();
        if !(pa.is_finite() && pa > 0.0) {
            return Err(SolveError::ImposedPressure { pressure });
        }
        if !work.prepare(plan, open) {
            return Err(SolveError::NothingOpen);
        }
        let drive = Drive::Pressure {
            pressure: pa,
            regain: plan.regain,
        };
        start::start(&mut work.tree, &drive);
        let outcome = newton::solve(plan, work, drive);
        finish(plan, work, Status::FlowImposed, outcome)
    }

    pub(super) fn plan(&self) -> &Plan {
        &self.plan
    }

    /// Where the fan settles and how the air splits, as owned data with names.
    ///
    /// # Errors
    ///
    /// As [`solve`](Self::solve).
    pub fn operating_point(&self, open: &OpenSet) -> Result<OperatingPoint, SolveError> {
        let mut work = Workspace::default();
        let mut point = self.solve(open, &mut work)?.to_point();
        if point.status == Status::BeyondCurve {
            point.fan.curve_end = self.curve_end(open, &mut work).ok();
        }
        Ok(point)
    }

    /// What the fan gives at the end of its curve, and what the system would need there.
    fn curve_end(&self, open: &OpenSet, work: &mut Workspace) -> Result<CurveEnd, SolveError> {
        let fan = self.plan.fan.as_ref().ok_or(SolveError::NoFan)?;
        let end = fan.curve.last();
        let flow = VolumeFlow::from_m3_s(end.x);
        let needed = self.solve_at_flow(open, flow, work)?.curve_pressure();
        Ok(CurveEnd {
            flow,
            given: Pressure::from_pa(fan.scale * end.y),
            needed,
        })
    }

    /// How an imposed total flow splits, as owned data with names.
    ///
    /// # Errors
    ///
    /// As [`solve_at_flow`](Self::solve_at_flow).
    pub fn point_at_flow(
        &self,
        open: &OpenSet,
        flow: VolumeFlow,
    ) -> Result<OperatingPoint, SolveError> {
        self.solve_at_flow(open, flow, &mut Workspace::default())
            .map(|balance| balance.to_point())
    }
}

/// How the point stands at which the fan has met the tree.
fn met(fan: &FanSide, work: &Workspace) -> Status {
    match work.total() {
        q if q > fan.curve.last().x => Status::BeyondCurve,
        q if q < fan.curve.first().x => Status::BelowCurve,
        _ => Status::Converged,
    }
}

fn finish<'w>(
    plan: &'w Plan,
    work: &'w Workspace,
    status: Status,
    outcome: Outcome,
) -> Result<Balance<'w>, SolveError> {
    if !outcome.converged {
        return Err(unbalanced(plan, work, &outcome));
    }
    Ok(Balance::new(plan, work, status, outcome))
}

impl NoCrossing {
    pub(super) fn into_error(self, plan: &Plan, work: &Workspace, fan: &FanSide) -> SolveError {
        match self {
            Self::NoPressure => SolveError::CannotStart {
                at_rest: Pressure::from_pa(fan.at_rest),
            },
            Self::NeverMet(q) => SolveError::NeverMet {
                flow: VolumeFlow::from_m3_s(q),
            },
            Self::Lost(outcome) => unbalanced(plan, work, &outcome),
        }
    }
}

fn unbalanced(plan: &Plan, work: &Workspace, outcome: &Outcome) -> SolveError {
    let tree = &work.tree;
    let hoods = tree
        .links
        .iter()
        .zip(&tree.q)
        .filter_map(|(link, &q)| {
            let LegStart::Hood(hood) = link.start else {
                return None;
            };
            let hood = plan.hoods.get(hood as usize)?;
            Some((hood.name.clone(), VolumeFlow::from_m3_s(q)))
        })
        .collect();
    SolveError::NotConverged(Box::new(Unbalanced {
        quality: quality(plan, work, outcome),
        hoods,
        trace: work.trace.clone(),
    }))
}

pub(super) fn quality(plan: &Plan, work: &Workspace, outcome: &Outcome) -> Quality {
    let at = work.tree.worst();
    let residual = |value: f64, at: At| Residual {
        value,
        at: plan.place(at.leg),
    };
    Quality {
        passes: work.trace.len() as u32,
        runs: work.tree.links.len() as u32,
        pressure: residual(outcome.worst.pressure, at.pressure),
        flow: residual(outcome.worst.balance, at.balance),
        step: residual(outcome.worst.step, at.step),
        rounding: 4.0 * f64::EPSILON * plan.depth,
    }
}

impl Plan {
    /// The element that a leg belongs to.
    pub(super) fn place(&self, leg: u32) -> Place {
        let link = self.links.get(leg as usize);
        if let Some(LegStart::Hood(hood)) = link.map(|link| link.start)
            && let Some(hood) = self.hoods.get(hood as usize)
        {
            return Place::Hood(hood.name.clone());
        }
        let leg = self.legs.get(leg as usize);
        let section = leg.map_or(NONE, |leg| leg.section);
        self.sections
            .get(section as usize)
            .map_or(Place::Collector, |section| {
                Place::Section(section.id.clone())
            })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::solve::by_hand::{FALLING, RISING, ready};

    /// Who stands at the unstable crossing is sent to where the fan settles.
    #[test]
    fn nothing_is_resumed_that_will_not_stay() {
        let mut points = RISING.to_vec();
        points[1].1 = 20.0;
        let (network, open) = ready(&points, None);
        let crossings = network.crossings(&open).unwrap();
        let [low, unstable, high] = &crossings[..] else {
            panic!("{crossings:?}")
        };
        let mut work = Workspace::default();
        for (from, to) in [(low, low), (unstable, low), (high, high)] {
            network.solve_at_flow(&open, from.flow, &mut work).unwrap();
            let settled = network.resume(&open, &mut work).unwrap().flow();
            assert!(
                (settled / to.flow - 1.0).abs() < 1e-9,
                "{settled} {}",
                to.flow
            );
        }
    }

    /// The published points belong to the curve.
    #[test]
    fn the_ends_of_the_curve_are_within_it() {
        let points = [(0.3, 2000.0), (0.4, 1500.0), (0.5, 500.0)];
        let (network, open) = ready(&points, None);
        let plan = network.plan();
        let fan = plan.fan.as_ref().unwrap();
        let mut work = Workspace::default();
        assert!(work.prepare(plan, &open));
        let mut status = |q: f64| {
            let root = work.tree.links.len() - 1;
            work.tree.q[root] = q;
            met(fan, &work)
        };
        assert_eq!(status(0.3), Status::Converged);
        assert_eq!(status(0.299), Status::BelowCurve);
        assert_eq!(status(0.5), Status::Converged);
        assert_eq!(status(0.501), Status::BeyondCurve);
    }

    /// Four roundings for each leg on the longest path.
    #[test]
    fn rounding_adds_up_along_the_path() {
        let (network, open) = ready(FALLING, None);
        let point = network.operating_point(&open).unwrap();
        let expected = 4.0 * f64::EPSILON * network.plan().depth;
        assert_eq!(point.quality.rounding, expected);
        assert!(network.plan().depth >= 4.0);
    }
}
