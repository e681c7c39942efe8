//! Finding names, and the nearest ones when a name is not there.

use super::fault::UnknownName;
use crate::place::Name;
use std::{cell::Cell, collections::HashMap};

/// Longest share of a name that is compared or echoed; keeps hostile names cheap.
const COMPARED: usize = 64;

/// How many names an error keeps, so that ten thousand of them do not keep a hundred million.
const KEPT: usize = 32;

/// How many pairs of names one index compares: under a second, and 2000 typing errors in a shop
/// of 100 sections.
const COMPARISONS: usize = 200_000;

/// Where each name stands; on repeated names the first.
#[derive(Debug, Clone)]
pub(crate) struct Index<'a> {
    what: &'static str,
    at: HashMap<&'a str, usize>,
    names: Vec<&'a Name>,
    /// Comparisons that are left.
    budget: Cell<usize>,
}

impl<'a> Index<'a> {
    pub(crate) fn new(what: &'static str, names: impl IntoIterator<Item = &'a Name>) -> Self {
        let names: Vec<_> = names.into_iter().collect();
        let mut at = HashMap::with_capacity(names.len());
        for (i, name) in names.iter().enumerate() {
            at.entry(name.as_str()).or_insert(i);
        }
        Self {
            what,
            at,
            names,
            budget: Cell::new(COMPARISONS),
        }
    }

    /// Where the name stands, if it does; for what need not be there.
    pub(crate) fn get(&self, name: &str) -> Option<usize> {
        self.at.get(name).copied()
    }

    pub(crate) fn find(&self, name: &str) -> Result<usize, UnknownName> {
        self.get(name).ok_or_else(|| {
            let left = self.budget.get().checked_sub(self.names.len());
            self.budget.set(left.unwrap_or(0));
            match left {
                Some(_) => unknown(self.what, name, self.names.iter().copied()),
                None => UnknownName {
                    known: self.names.len(),
                    ..unknown(self.what, name, [])
                },
            }
        })
    }
}

/// The error for a name that is not among these.
pub(crate) fn unknown<'a>(
    what: &'static str,
    name: &str,
    known: impl IntoIterator<Item = &'a Name>,
) -> UnknownName {
    let mut nearest: Vec<_> = known
        .into_iter()
        .map(|known| (distance(name, known.as_str()), known))
        .collect();
    nearest.sort();
    nearest.dedup();
    UnknownName {
        what,
        name: name.chars().take(COMPARED).collect(),
        known: nearest.len(),
        nearest: nearest
            .into_iter()
            .take(KEPT)
            .map(|(_, name)| name.clone())
            .collect(),
    }
}

/// How many characters must be put in, left out or changed to turn one name into the other,
/// letter case aside (V. I. Levenshtein, Binary codes capable of correcting deletions, insertions
/// and reversals, 1966).
fn distance(a: &str, b: &str) -> usize {
    let letters = |s: &str| -> Vec<char> {
        s.chars()
            .take(COMPARED)
            .flat_map(char::to_lowercase)
            .collect()
    };
    let (a, b) = (letters(a), letters(b));
    let mut row: Vec<usize> = (0..=b.len()).collect();
    for (i, x) in a.iter().enumerate() {
        let mut diagonal = i;
        let mut left = i + 1;
        for (cell, y) in row.iter_mut().skip(1).zip(&b) {
            let best = (diagonal + usize::from(x != y))
                .min(*cell + 1)
                .min(left + 1);
            diagonal = *cell;
            *cell = best;
            left = best;
        }
        if let Some(first) = row.first_mut() {
            *first = i + 1;
        }
    }
    row.last().copied().unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn val_distance() {
        // Levenshtein's measure by hand: kitten -> sitten -> sittin -> sitting.
        assert_eq!(distance("kitten", "sitting"), 3);
        assert_eq!(distance("Saw", "saw"), 0);
        assert_eq!(distance("", "saw"), 3);
        assert_eq!(distance("saw", ""), 3);
    }

    #[test]
    fn prop_many_unknown_names_cost_bounded_time_and_memory() {
        let names: Vec<Name> = (0..10_000).map(|i| format!("drop {i}").into()).collect();
        let index = Index::new("section", &names);
        let errors: Vec<_> = (0..10_000)
            .map(|i| index.find(&format!("dorp {i}")).unwrap_err())
            .collect();
        let kept = |error: &UnknownName| error.nearest.len();
        assert_eq!(errors.iter().map(kept).max(), Some(KEPT));
        let compared = errors.iter().filter(|error| kept(error) > 0).count();
        assert_eq!(compared, COMPARISONS / names.len());
        insta::assert_snapshot!(errors[0], @r#"no section is called "dorp 0"; known, nearest first: "drop 0", "drop 1", "drop 10", "drop 2", "drop 20", "drop 3" and 9994 more"#);
        insta::assert_snapshot!(errors[9999], @r#"no section is called "dorp 9999"; 10000 others are known"#);
    }

    #[test]
    fn nearest_comes_first() {
        let names = ["planer port", "saw cabinet", "saw guard"].map(Name::from);
        let error = Index::new("hood", &names).find("saw gard").unwrap_err();
        assert_eq!(error.nearest[0].as_str(), "saw guard");
        insta::assert_snapshot!(error, @r#"no hood is called "saw gard"; known, nearest first: "saw guard", "saw cabinet", "planer port""#);
    }
}
