//! Whether the readings of a traverse make a traverse, and how even they are.

use super::ReadingNote;

/// How even the readings of a traverse were.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct TraverseProfile {
    /// How many readings.
    pub readings: usize,
    /// Largest velocity over the mean.
    pub largest_over_mean: f64,
    /// Least velocity over the mean.
    pub least_over_mean: f64,
    /// Standard deviation over the mean, of readings that would be alike in a symmetric profile: those
    /// as far from the middle.
    pub lean: f64,
}

impl TraverseProfile {
    pub(super) fn new(m_s: &[f64], mean: f64, lean: f64) -> Self {
        let largest = m_s.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let least = m_s.iter().copied().fold(f64::INFINITY, f64::min);
        Self {
            readings: m_s.len(),
            largest_over_mean: largest / mean,
            least_over_mean: least / mean,
            lean: lean / mean,
        }
    }
}

/// Whether these velocities make a traverse.
pub(super) fn validity(m_s: &[f64]) -> Vec<ReadingNote> {
    let readings = m_s.len();
    let largest = m_s.iter().copied().fold(0.0, f64::max);
    let count = |of: &dyn Fn(f64) -> bool| m_s.iter().filter(|v| of(**v)).count();
    let [backward, zeros] = [count(&|v| v < 0.0), count(&|v| v == 0.0)];
    // Pressures go with the square.
    let above = count(&|v| v > 0.0 && v * v > largest * largest / 10.0);
    let mut notes = Vec::new();
    if backward > 0 {
        notes.push(ReadingNote::Backward { readings: backward });
    }
    if zeros == readings {
        notes.push(ReadingNote::Still);
    } else {
        if zeros > 0 {
            notes.push(ReadingNote::Zeros { readings: zeros });
        }
        if 4 * above <= 3 * readings {
            notes.push(ReadingNote::Uneven { above, readings });
        }
    }
    notes
}

/// Standard deviation of readings that would be alike in a symmetric profile, pooled: those of one
/// ring of a round duct, those that mirror each other in a rectangular one.
pub(super) fn lean(m_s: &[f64], points: usize, is_round: bool) -> f64 {
    let lines = m_s.len() / points.max(1);
    let fold = |i: usize, of: usize| i.min(of.saturating_sub(i + 1));
    let rings = points.div_ceil(2);
    let mut groups = vec![[0.0; 3]; rings * if is_round { 1 } else { lines.div_ceil(2) }];
    for (line, readings) in m_s.chunks(points.max(1)).enumerate() {
        let row = if is_round { 0 } else { fold(line, lines) };
        for (i, v) in readings.iter().enumerate() {
            if let Some([n, mean, squares]) = groups.get_mut(row * rings + fold(i, points)) {
                // Welford's recurrence: no digits lost where the readings are nearly alike.
                *n += 1.0;
                let before = v - *mean;
                *mean += before / *n;
                *squares += before * (v - *mean);
            }
        }
    }
    let free: f64 = groups.iter().map(|[n, ..]| (n - 1.0).max(0.0)).sum();
    let squares: f64 = groups.iter().map(|[.., squares]| squares).sum();
    if free > 0.0 {
        (squares / free).sqrt()
    } else {
        0.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn prop_only_what_ought_to_be_alike_counts_as_lean() {
        // A profile that is symmetric, however steep, has none.
        let line = [5.0, 9.0, 12.0, 12.0, 9.0, 5.0];
        let round: Vec<f64> = line.iter().chain(&line).copied().collect();
        assert_eq!(lean(&round, 6, true), 0.0);
        let rectangle: Vec<f64> = [0.7, 1.0, 0.7]
            .iter()
            .flat_map(|row| line.map(|v| row * v))
            .collect();
        assert_eq!(lean(&rectangle, 6, false), 0.0);
        assert!(lean(&rectangle, 6, true) > 0.0);
        // By hand: two rings of one diameter, 9 and 11, 20 and 20: sqrt((1 + 1) / (1 + 1)).
        assert!((lean(&[9.0, 20.0, 20.0, 11.0], 4, true) - 1.0).abs() < 1e-12);
    }
}
