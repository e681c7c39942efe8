//! What things cost.

/// An amount of money in the user's own currency, which this crate never names.
///
/// Negative for a refund or a saving.
///
/// ```
/// use airsplit::Money;
/// assert_eq!((Money::new(12.5) + Money::new(7.0)).to_string(), "19.50");
/// ```
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(transparent)
)]
pub struct Money(f64);

impl Money {
    /// An amount of money; any number can be stored, and what takes one judges it.
    #[must_use]
    pub const fn new(amount: f64) -> Self {
        Self(amount)
    }

    /// The amount, in whatever money it was given.
    #[must_use]
    pub const fn amount(self) -> f64 {
        self.0
    }
}

impl std::ops::Add for Money {
    type Output = Self;

    fn add(self, other: Self) -> Self {
        Self(self.0 + other.0)
    }
}

impl std::ops::Sub for Money {
    type Output = Self;

    fn sub(self, other: Self) -> Self {
        Self(self.0 - other.0)
    }
}

impl std::ops::Mul<f64> for Money {
    type Output = Self;

    fn mul(self, times: f64) -> Self {
        Self(self.0 * times)
    }
}

impl std::iter::Sum for Money {
    fn sum<I: Iterator<Item = Self>>(amounts: I) -> Self {
        amounts.fold(Self::default(), std::ops::Add::add)
    }
}

impl std::fmt::Display for Money {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.pad(&format!("{:.2}", self.0))
    }
}
