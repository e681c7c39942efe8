//! How large a model may be: judged before anything is worked out of it.

use super::{
    fault::{ModelError, ModelErrors, ModelFault},
    model::System,
};
use crate::place::Place;

impl System {
    /// Most sections, and most machines. A large plant has a few hundred.
    ///
    /// Work and memory grow with their number and not faster; the limit is there so that a wrong
    /// program is told in words.
    pub const MOST_SECTIONS: usize = 100_000;
    /// Most runs of the collector, before and after the fan together.
    pub const MOST_RUNS: usize = 1_000;
    /// Most parts of one section or run.
    pub const MOST_PARTS: usize = 10_000;

    /// Counts everything that can be many.
    pub(super) fn check_counts(&self) -> Result<(), ModelErrors> {
        let mut faults = Vec::new();
        let mut judge = |what, given: usize, most: usize, place: &dyn Fn() -> Place| {
            if given > most {
                faults.push(ModelError::new(
                    place(),
                    ModelFault::TooMany { what, given, most },
                ));
            }
        };
        let system = || Place::System;
        judge(
            "sections",
            self.sections.len(),
            Self::MOST_SECTIONS,
            &system,
        );
        judge(
            "machines",
            self.machines.len(),
            Self::MOST_SECTIONS,
            &system,
        );
        let (before, after) = (&self.collector.before, &self.collector.after);
        let runs = before.len() + after.len();
        judge("runs", runs, Self::MOST_RUNS, &|| Place::Collector);
        let most = Self::MOST_PARTS;
        for section in &self.sections {
            let place = || Place::Section(section.id.clone());
            judge("parts", section.parts.len(), most, &place);
        }
        for (run, at) in before.iter().enumerate() {
            let place = || Place::Before { run, part: None };
            judge("parts", at.parts.len(), most, &place);
        }
        for (run, at) in after.iter().enumerate() {
            let place = || Place::After { run, part: None };
            judge("parts", at.parts.len(), most, &place);
        }
        ModelErrors::none_of(faults)
    }
}
