//! A published table, read between its rows by the shape-preserving cubic.

use super::Note;
use crate::curve1d::Curve1d;

/// Rows (argument, loss coefficient), the argument rising; two or more.
#[derive(Debug, Clone, Copy)]
pub(super) struct Table<const N: usize>(pub(super) [(f64, f64); N]);

impl<const N: usize> Table<N> {
    /// The value at `x`; beyond an end, the value of that end.
    pub(super) fn at(&self, x: f64) -> f64 {
        let curve = Curve1d::pchip(&self.0.map(|row| row.0), &self.0.map(|row| row.1));
        // NaN stands for a table that is none: every table of the crate is tested to be one.
        curve.map_or(f64::NAN, |curve| {
            curve.at(x.max(curve.first().x).min(curve.last().x)).value
        })
    }

    /// A note when `x` lies beyond an end of the table.
    pub(super) fn note(&self, what: &'static str, x: f64, unit: &'static str) -> Option<Note> {
        let [first, last] = [self.0.first(), self.0.last()].map(|row| row.map_or(x, |row| row.0));
        Note::outside(what, x, unit, first, last)
    }
}

/// The rows of a file of check values whose id begins with `prefix`; there must be some.
#[cfg(test)]
pub(super) fn check_rows(file: &str, prefix: &str) -> Vec<serde_json::Value> {
    let all: Vec<serde_json::Value> = serde_json::from_str(file).unwrap();
    let rows: Vec<_> = all
        .into_iter()
        .filter(|row| row["id"].as_str().is_some_and(|id| id.starts_with(prefix)))
        .collect();
    assert!(!rows.is_empty(), "{prefix}");
    rows
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn prop_beyond_an_end_the_end_stands_and_a_note_says_so() {
        let table = Table([(1.0, 0.3), (2.0, 0.2), (4.0, 0.1)]);
        assert_eq!(table.at(0.0), 0.3);
        assert_eq!(table.at(4.0), 0.1);
        assert_eq!(table.at(1e300), 0.1);
        assert_eq!(table.note("x", 1.0, ""), None);
        assert_eq!(table.note("x", 4.0, ""), None);
        let note = table.note("x", 5.0, " mm").expect("beyond the table");
        assert_eq!((note.min, note.max, note.unit), (1.0, 4.0, " mm"));
    }
}
