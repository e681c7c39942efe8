//! The rules of thumb of a list of material, all open to change.

use crate::{
    bore::Bore,
    loss::{LossError, Wall},
    quantity::Length,
};

/// In what lengths duct is bought, and what a joint takes.
///
/// The defaults are common practice, no source: stock of 3 m; three screws or rivets a joint, more
/// where they would be further apart than 150 mm; seal once round the joint and a tenth more; one
/// clamp where a hose ends, and neither screw nor seal there.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields, default)
)]
#[non_exhaustive]
pub struct TakeoffOptions {
    /// Stock length of duct for which `stocks` says nothing: 0.1 to 100 m.
    pub stock: Length,
    /// Stock lengths of certain walls or sizes; the first that fits holds.
    pub stocks: Vec<Stock>,
    /// Fewest screws or rivets in a joint: 0 to 100.
    pub screws: u32,
    /// Largest distance of screws along the joint: 10 mm to 10 m.
    pub screw_spacing: Length,
    /// Length of seal over the perimeter of the joint: 0 to 10.
    pub seal: f64,
    /// Clamps in a joint with a hose: 0 to 10.
    pub clamps: u32,
}

/// The stock length of a certain duct.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
pub struct Stock {
    /// Duct of this wall only.
    #[cfg_attr(
        feature = "serde",
        serde(default, skip_serializing_if = "Option::is_none")
    )]
    pub wall: Option<Wall>,
    /// Duct of this size only.
    #[cfg_attr(
        feature = "serde",
        serde(default, skip_serializing_if = "Option::is_none")
    )]
    pub size: Option<Bore>,
    /// How long one is: 0.1 to 100 m.
    pub length: Length,
}

impl Default for TakeoffOptions {
    fn default() -> Self {
        Self {
            stock: Length::from_m(3.0),
            stocks: Vec::new(),
            screws: 3,
            screw_spacing: Length::from_mm(150.0),
            seal: 1.1,
            clamps: 1,
        }
    }
}

impl TakeoffOptions {
    /// With this stock length for duct that has none of its own.
    #[must_use]
    pub fn with_stock(mut self, length: Length) -> Self {
        self.stock = length;
        self
    }

    /// With this stock length for certain duct.
    #[must_use]
    pub fn with_stock_of(mut self, stock: Stock) -> Self {
        self.stocks.push(stock);
        self
    }

    /// With so many screws in a joint, and more where they would be further apart than that.
    #[must_use]
    pub fn with_screws(mut self, at_least: u32, spacing: Length) -> Self {
        self.screws = at_least;
        self.screw_spacing = spacing;
        self
    }

    /// With so many times the perimeter of seal a joint.
    #[must_use]
    pub fn with_seal(mut self, turns: f64) -> Self {
        self.seal = turns;
        self
    }

    /// With so many clamps where a hose ends.
    #[must_use]
    pub fn with_clamps(mut self, clamps: u32) -> Self {
        self.clamps = clamps;
        self
    }

    pub(super) fn check(&self) -> Result<(), LossError> {
        let stocks = self.stocks.iter().map(|stock| stock.length);
        for length in stocks.chain([self.stock]) {
            LossError::within("stock length", length.as_m(), " m", 0.1, 100.0)?;
        }
        let spacing = self.screw_spacing.as_mm();
        LossError::within("distance of screws", spacing, " mm", 10.0, 10_000.0)?;
        let screws = f64::from(self.screws);
        LossError::within("screws in a joint", screws, "", 0.0, 100.0)?;
        LossError::within("turns of seal", self.seal, "", 0.0, 10.0)?;
        let clamps = f64::from(self.clamps);
        LossError::within("clamps in a joint", clamps, "", 0.0, 10.0)?;
        Ok(())
    }

    /// The stock length of duct of this size and wall \[m\].
    pub(super) fn stock_m(&self, size: Bore, wall: &Wall) -> f64 {
        let same = |stock: &&Stock| {
            let as_told = super::Item::Duct {
                size: stock.size.unwrap_or(size),
                wall: stock.wall.unwrap_or(*wall),
            };
            as_told == super::Item::Duct { size, wall: *wall }
        };
        let own = self.stocks.iter().find(same).map(|stock| stock.length);
        own.unwrap_or(self.stock).as_m()
    }

    /// Screws in one joint of this size.
    pub(super) fn screws_at(&self, size: Bore) -> i64 {
        let spaces = size.perimeter().as_m() / self.screw_spacing.as_m();
        // A perimeter of just so many spaces must not have one more for its last bit.
        i64::from(self.screws).max((spaces - 1e-9).ceil() as i64)
    }
}
