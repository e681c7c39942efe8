//! What can be refused without a balance, whatever the sections not yet chosen are.
//!
//! The proof stands in bounds.md; here are its figures.

mod loads;
mod room;

use super::problem::{Choice, Problem};
use loads::{Laws, SetLoads, dissipates};
use room::FanRoom;

/// Why a choice of some sections cannot be completed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Refused {
    CurveEnd,
    AirPower,
}

#[derive(Debug)]
pub(super) struct Bounds {
    sets: Vec<SetLoads>,
    fan: FanRoom,
}

/// Rounding may make a load larger than it is, and the solver's answer a little off.
const SLACK: f64 = 1.0 - 1e-9;

impl Bounds {
    pub(super) fn new(problem: &Problem<'_>) -> Self {
        let laws = Laws::new(problem);
        let power = dissipates(problem.system);
        let fan = FanRoom::new(problem, power);
        let sets = problem.sets.iter();
        Self {
            sets: sets.map(|set| laws.loads(problem, set)).collect(),
            fan,
        }
    }

    /// Why no completion of this choice can meet the demands of these sets, as far as that is proved.
    pub(super) fn refuse(&self, choice: &Choice, sets: &[usize]) -> Option<Refused> {
        let mut sets = sets.iter().filter_map(|&set| self.sets.get(set));
        sets.find_map(|set| {
            let mut power_w = set.rest_w.get(choice.len()).copied().unwrap_or(0.0);
            let mut q_m3s = set.least_q_m3s;
            for (options, &option) in set.options.iter().zip(choice) {
                if let Some(load) = options.get(usize::from(option)) {
                    power_w += load.power_w;
                    q_m3s = q_m3s.max(load.q_m3s);
                }
            }
            if q_m3s * SLACK > self.fan.end_m3s {
                return Some(Refused::CurveEnd);
            }
            let room_w = self.fan.room(q_m3s * SLACK);
            (power_w * SLACK > room_w).then_some(Refused::AirPower)
        })
    }
}
