//! Trees of which only the tree matters: which section drains where, and where the hoods are.

use airsplit::{Air, Angle, Bore, Collector, Entry, Hood, Length, Section, Start, System, Wall};
use std::collections::HashMap;

/// A system of sections, each with the one that it drains into, and those that start at a hood;
/// the hood of section "a" is "hood a".
pub(crate) fn tree(sections: &[(&str, Option<&str>)]) -> System {
    let collector = Collector {
        before: Vec::new(),
        fan: None,
        after: Vec::new(),
        junction: None,
    };
    let mut inlets: HashMap<&str, usize> = HashMap::new();
    for (_, into) in sections {
        *inlets.entry(into.unwrap_or("")).or_default() += 1;
    }
    let mut system = System::new(Air::standard(), collector);
    for (id, into) in sections {
        let size = Bore::Round(Length::from_mm(125.0));
        let mut section = Section::new(*id, size, Wall::Galvanised);
        if let Some(into) = into {
            section = section.draining_into(*into);
            if inlets[into] > 1 {
                section = section.joining_at(Angle::from_deg(30.0));
            }
        }
        if !inlets.contains_key(id) {
            section.start = Start::Hood(Hood::new(format!("hood {id}"), Entry::Flanged));
        }
        system = system.with_section(section);
    }
    system
}
