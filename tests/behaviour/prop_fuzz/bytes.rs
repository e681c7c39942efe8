//! Numbers and choices out of any bytes, so that a fuzzer that changes a byte changes one of them.

/// Reads from the front; where the bytes end all that follows is zero.
#[derive(Debug)]
pub(crate) struct Bytes<'a>(pub(crate) &'a [u8]);

#[allow(dead_code, reason = "every fuzz target uses its own share")]
impl Bytes<'_> {
    pub(crate) fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    pub(crate) fn byte(&mut self) -> u8 {
        let Some((&first, rest)) = self.0.split_first() else {
            return 0;
        };
        self.0 = rest;
        first
    }

    pub(crate) fn below(&mut self, count: usize) -> usize {
        let byte = usize::from(self.byte());
        if count <= 256 {
            return byte % count.max(1);
        }
        (byte << 8 | usize::from(self.byte())) % count
    }

    pub(crate) fn pick<T: Clone>(&mut self, among: &[T]) -> T {
        among[self.below(among.len())].clone()
    }

    /// True once in so many.
    pub(crate) fn once_in(&mut self, count: usize) -> bool {
        self.below(count) == count - 1
    }

    /// 0 to 1, both included.
    pub(crate) fn unit(&mut self) -> f64 {
        let steps = u16::from_le_bytes([self.byte(), self.byte()]);
        f64::from(steps) / f64::from(u16::MAX)
    }

    pub(crate) fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    /// Even on a logarithmic scale.
    pub(crate) fn spread(&mut self, low: f64, high: f64) -> f64 {
        low * (high / low).powf(self.unit())
    }

    /// Any bits at all.
    pub(crate) fn any(&mut self) -> f64 {
        f64::from_le_bytes(std::array::from_fn(|_| self.byte()))
    }

    /// Mostly within a range, else at its ends, an odd number, or any.
    pub(crate) fn wild(&mut self, low: f64, high: f64) -> f64 {
        match self.below(16) {
            0..=10 if low > 0.0 => self.spread(low, high),
            0..=10 => self.between(low, high),
            11 => low,
            12 => high,
            13 => 0.0,
            14 => self.pick(&[
                -1.0,
                -0.0,
                f64::NAN,
                f64::INFINITY,
                f64::NEG_INFINITY,
                f64::MIN_POSITIVE,
                5e-324,
                1e308,
                -1e308,
                f64::EPSILON,
            ]),
            _ => self.any(),
        }
    }

    /// Within a range, its ends more often than a draw would give them.
    pub(crate) fn within(&mut self, low: f64, high: f64) -> f64 {
        match self.below(16) {
            0 => low,
            1 => high,
            _ if low > 0.0 => self.spread(low, high),
            _ => self.between(low, high),
        }
    }
}
