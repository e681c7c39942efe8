//! Questions for the tests of these modules, mostly on the shop of decide/by_hand.rs.

use super::{
    problem::{Choice, Problem},
    question::Sizing,
    stock::StockSize,
};
use crate::{
    decide::Money,
    quantity::Length,
    solve::{Network, OpenSet},
    system::System,
};

/// Sections to be sized, from widths \[mm\] whose gates cost a tenth of that and whose duct costs
/// nothing.
pub(super) fn question(sections: &[&str], widths: &[f64]) -> Sizing {
    let stock = widths.iter().map(|&wide| {
        let gate = Money::new(0.1 * wide);
        StockSize::new(Length::from_mm(wide), Money::new(0.0)).with_gate(gate)
    });
    Sizing::new(sections.iter().copied(), stock)
}

pub(super) fn sets(system: &System, sets: &[&[&str]]) -> Vec<OpenSet> {
    let network = Network::new(system).unwrap();
    let open = |names: &&[&str]| network.open(names.iter().copied()).unwrap();
    sets.iter().map(open).collect()
}

/// Widths that may stand in each section that is to be sized, the cheapest first.
pub(super) fn options(problem: &Problem<'_>) -> Vec<Vec<i64>> {
    let sized = problem.sized.iter();
    sized
        .map(|sized| {
            let options = sized.options.iter();
            options.map(|option| whole_mm(option.diameter)).collect()
        })
        .collect()
}

/// Widths of a choice.
pub(super) fn widths(problem: &Problem<'_>, choice: &Choice) -> Vec<i64> {
    (0..choice.len())
        .map(|position| whole_mm(problem.option(choice, position).unwrap().diameter))
        .collect()
}

fn whole_mm(length: Length) -> i64 {
    length.as_mm().round() as i64
}
