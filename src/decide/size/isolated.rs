//! A section taken out of its system.

use crate::{
    bore::Bore,
    loss::{Entry, Part},
    quantity::Length,
    system::{Hood, Join, Model, Resolved, Start, System},
};

/// A section's law by itself in another diameter: its parts and its hood, no joint and no join.
///
/// What a joint or join adds to it is never negative, or told by the caller. `None` where the model
/// refuses it, which it then does in every choice.
pub(super) fn isolated(system: &System, section: usize, diameter: Length) -> Option<Resolved> {
    let mut alone = system.sections.get(section)?.clone();
    alone.into = None;
    alone.join = Join::default();
    alone.junction = None;
    alone.size = Bore::Round(diameter);
    if matches!(alone.parts.first(), Some(Part::Transition(_))) {
        alone.parts.remove(0);
    }
    match &mut alone.start {
        Start::Hood(hood) => hood.machine = None,
        start => {
            let open = Hood::new("open end", Entry::K(0.0));
            *start = Start::Hood(open);
        }
    }
    let alone = System {
        air: system.air,
        junction: system.junction,
        collector: system.collector.clone(),
        sections: vec![alone],
        machines: Vec::new(),
    };
    Resolved::of(Model::plain(&alone)).ok()
}
