//! What one case of a comparison has over another: flow, findings, power, and what that costs.

use super::{
    check::{Finding, Verdict},
    compare::{Answer, CaseAnswers, CompareError, Comparison},
    money::Money,
};
use crate::{
    place::Name,
    quantity::{Power, VolumeFlow},
    solve::OperatingPoint,
};

/// What a case has over the one it is held against, open set by open set.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct CaseDifference {
    /// The case.
    pub name: Name,
    /// Its cost minus the other's; `None` unless both are known.
    pub cost: Option<Money>,
    /// One for each open set, in their order; `None` where either has no answer.
    pub sets: Vec<Option<SetDifference>>,
}

/// What a case has over another in one open set.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct SetDifference {
    /// The total flow.
    pub flow: FlowDifference,
    /// Every machine that is open in either and known to both, in this case's order.
    pub machines: Vec<MachineDifference>,
    /// Electric power of the motor minus the other's; `None` unless both are known.
    pub motor_input: Option<Power>,
    /// Power of the air, flow times fan total pressure, minus the other's; `None` unless both are
    /// known.
    pub air_power: Option<Power>,
    /// Limits that this case breaks and the other does not, its own findings; `None` unless both
    /// were checked.
    pub gained: Option<Vec<Finding>>,
    /// Limits that the other breaks and this case does not, the other's findings; `None` unless both
    /// were checked.
    pub lost: Option<Vec<Finding>>,
}

/// A machine in both cases.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct MachineDifference {
    /// The machine.
    pub name: Name,
    /// Its flow.
    pub flow: FlowDifference,
}

/// A flow in both cases.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct FlowDifference {
    /// In the case held against.
    pub from: VolumeFlow,
    /// In this case.
    pub to: VolumeFlow,
    /// The change in percent of `from`; `None` where that is zero.
    pub percent: Option<f64>,
    /// What each m3/h gained costs: the difference of cost over that of flow. `None` unless both
    /// costs are known and flow is gained. Below zero where more flow costs less.
    pub cost_per_m3_h: Option<Money>,
}

impl Comparison {
    /// What every case has over the one of this index into `cases`, itself among them.
    ///
    /// # Errors
    ///
    /// When there is no such case.
    pub fn against(&self, index: usize) -> Result<Vec<CaseDifference>, CompareError> {
        let base = self.cases.get(index).ok_or(CompareError::NoCase {
            index,
            cases: self.cases.len(),
        })?;
        Ok(self.cases.iter().map(|case| differ(base, case)).collect())
    }
}

fn differ(base: &CaseAnswers, case: &CaseAnswers) -> CaseDifference {
    let cost = base.cost.zip(case.cost).map(|(from, to)| to - from);
    let sets = base.answers.iter().zip(&case.answers);
    CaseDifference {
        name: case.name.clone(),
        cost,
        sets: sets.map(|(from, to)| in_set(from, to, cost)).collect(),
    }
}

fn in_set(from: &Answer, to: &Answer, cost: Option<Money>) -> Option<SetDifference> {
    let (old, new) = (from.point.as_ref().ok()?, to.point.as_ref().ok()?);
    let flow = |from, to| FlowDifference::new(from, to, cost);
    let mut machines = Vec::new();
    for machine in &new.machines {
        if let Ok(before) = old.machine(machine.name.as_str())
            && (machine.open || before.open)
        {
            machines.push(MachineDifference {
                name: machine.name.clone(),
                flow: flow(before.flow, machine.flow),
            });
        }
    }
    let motor = |answer: &Answer| Some(answer.power.as_ref()?.as_ref().ok()?.motor_input);
    let air = |point: &OperatingPoint| {
        let pressure = point.fan.total_pressure?;
        Some(Power::from_w(point.flow.as_m3_s() * pressure.as_pa()))
    };
    let less = |from: Option<Power>, to: Option<Power>| Some(to? - from?);
    Some(SetDifference {
        flow: flow(old.flow, new.flow),
        machines,
        motor_input: less(motor(from), motor(to)),
        air_power: less(air(old), air(new)),
        gained: only_in(to, from),
        lost: only_in(from, to),
    })
}

/// Broken limits of one answer that the other keeps.
fn only_in(of: &Answer, other: &Answer) -> Option<Vec<Finding>> {
    let (of, other) = (of.findings.as_ref()?, other.findings.as_ref()?);
    let broken = of.with(Verdict::Fails);
    let only = broken.filter(|one| !other.failures().any(|known| known.is_about_the_same(one)));
    Some(only.cloned().collect())
}

impl FlowDifference {
    fn new(from: VolumeFlow, to: VolumeFlow, cost: Option<Money>) -> Self {
        let gained = (to - from).as_m3_h();
        let was = from.as_m3_h();
        Self {
            from,
            to,
            percent: (was > 0.0).then_some(100.0 * gained / was),
            cost_per_m3_h: cost
                .filter(|_| gained > 0.0)
                .map(|cost| Money::new(cost.amount() / gained)),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::decide::by_hand::{m3_s, pa, shop, solved};

    #[test]
    fn machines_open_in_either_are_told_and_air_power_is_flow_times_pressure() {
        let system = shop();
        let answer = |open: &str, flow: f64, pressure: f64| {
            let mut point = solved(&system, &[open]);
            point.flow = m3_s(flow);
            point.fan.total_pressure = Some(pa(pressure));
            Answer {
                point: Ok(point),
                power: None,
                findings: None,
            }
        };
        // 300 W against 800 W.
        let (from, to) = (answer("saw", 0.3, 1000.0), answer("planer", 0.4, 2000.0));
        let set = in_set(&from, &to, None).unwrap();
        let names: Vec<_> = set.machines.iter().map(|at| at.name.as_str()).collect();
        assert_eq!(names, ["saw", "planer"]);
        let watts = set.air_power.unwrap().as_w();
        assert!((watts - 500.0).abs() < 1e-9, "{watts}");
    }
}
