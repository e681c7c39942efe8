//! What a list of material costs by a table of prices.

use super::{Item, Quantity, Takeoff, TakeoffLine};
use crate::{decide::Money, quantity::Length};
use std::{
    collections::{BTreeMap, BTreeSet},
    fmt,
};

/// Prices, each for one item; in a document a list of tables.
///
/// ```
/// # #[cfg(feature = "serde")]
/// # fn main() -> Result<(), Box<dyn std::error::Error>> {
/// #[derive(serde::Deserialize)]
/// struct Document {
///     price: airsplit::PriceTable,
/// }
/// let document: Document = toml::from_str(r#"
///     [[price]]
///     item = { duct = { size = { round = "160 mm" }, wall = "spiral" } }
///     price = 9.8
///     per = "metre"
///     [[price]]
///     item = "screw"
///     price = 0.05
///     per = "piece"
/// "#)?;
/// assert_eq!(document.price.prices.len(), 2);
/// # Ok(())
/// # }
/// # #[cfg(not(feature = "serde"))]
/// # fn main() {}
/// ```
#[derive(Debug, Clone, PartialEq, Default)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(transparent)
)]
pub struct PriceTable {
    /// The prices; order does not matter.
    pub prices: Vec<Price>,
}

/// The price of an item.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
pub struct Price {
    /// Of what.
    pub item: Item,
    /// How much: 0 to 1e12.
    pub price: Money,
    /// For how much of it.
    pub per: Per,
}

/// What a price is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "snake_case")
)]
#[non_exhaustive]
pub enum Per {
    /// A metre of what is bought by length.
    Metre,
    /// A foot of what is bought by length.
    Foot,
    /// A stock length of duct, whatever the takeoff says that its length is.
    StockLength,
    /// A piece.
    Piece,
}

/// A list of material with what it costs.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct Priced {
    /// The lines that have a price, in the order of the list.
    pub lines: Vec<PricedLine>,
    /// The sum of these lines; what is in `missing` is not in it.
    pub total: Money,
    /// Items on the list that have no price.
    pub missing: Vec<Item>,
    /// Items that have a price and are not on the list: nothing wrong, unless it was meant to be.
    pub unused: Vec<Item>,
}

/// A line with its price.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct PricedLine {
    /// What, and how much.
    pub line: TakeoffLine,
    /// Its price.
    pub price: Money,
    /// What the price is for.
    pub per: Per,
    /// What the line costs; below zero for what a difference saves.
    pub amount: Money,
}

/// The largest price, so that no sum of them is infinite.
const MOST: f64 = 1e12;

/// A price that cannot be.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("price of {item}: {fault}")]
#[non_exhaustive]
pub struct PriceError {
    /// Whose price.
    pub item: Item,
    /// What is wrong with it.
    pub fault: PriceFault,
}

/// What is wrong with a price.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum PriceFault {
    /// Negative, no number, or more than anything costs.
    #[error("it is {amount}; allowed: 0 to {MOST:e}")]
    Amount {
        /// What was given, in money.
        amount: f64,
    },
    /// For something that the item is not bought by.
    #[error("it is per {per}; give it per {wanted}, as the item is bought")]
    Per {
        /// What was given.
        per: Per,
        /// What would be right.
        wanted: &'static str,
    },
    /// More than one price for one item.
    #[error("it has more than one; keep one of them")]
    Twice,
}

fn wanted(item: &Item) -> &'static str {
    match item {
        Item::Duct { .. } => "metre, foot or stock length",
        item if item.is_by_length() => "metre or foot",
        _ => "piece",
    }
}

impl PriceTable {
    /// A table without any price.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// With one more price.
    #[must_use]
    pub fn with(mut self, item: Item, price: Money, per: Per) -> Self {
        self.prices.push(Price { item, price, per });
        self
    }
}

impl Price {
    fn check(&self) -> Result<(), PriceFault> {
        let amount = self.price.amount();
        if !(0.0..=MOST).contains(&amount) {
            return Err(PriceFault::Amount { amount });
        }
        let fits = match self.per {
            Per::Metre | Per::Foot => self.item.is_by_length(),
            Per::StockLength => matches!(self.item, Item::Duct { .. }),
            Per::Piece => !self.item.is_by_length(),
        };
        match fits {
            true => Ok(()),
            false => Err(PriceFault::Per {
                per: self.per,
                wanted: wanted(&self.item),
            }),
        }
    }

    /// What a line of this item costs.
    fn of(&self, line: &TakeoffLine) -> Money {
        let number = match (self.per, line.stock, line.quantity) {
            (Per::StockLength, Some(stock), _) => stock.bought as f64,
            (_, _, Quantity::Pieces(pieces)) => pieces as f64,
            (per, stock, Quantity::Length(length)) => {
                let bought = stock.map(|stock| stock.length * stock.bought as f64);
                let bought: Length = bought.unwrap_or(length);
                match per {
                    Per::Foot => bought.as_ft(),
                    _ => bought.as_m(),
                }
            }
        };
        self.price * number
    }
}

pub(super) fn price(takeoff: &Takeoff, table: &PriceTable) -> Result<Priced, PriceError> {
    let mut prices = BTreeMap::new();
    for price in &table.prices {
        let fault = |fault| PriceError {
            item: price.item.clone(),
            fault,
        };
        price.check().map_err(fault)?;
        if prices.insert(&price.item, price).is_some() {
            return Err(fault(PriceFault::Twice));
        }
    }
    let mut lines = Vec::new();
    let mut missing = BTreeSet::new();
    for line in &takeoff.lines {
        match prices.get(&line.item) {
            Some(price) => lines.push(PricedLine {
                line: line.clone(),
                price: price.price,
                per: price.per,
                amount: price.of(line),
            }),
            None => {
                missing.insert(line.item.clone());
            }
        }
    }
    let listed: BTreeSet<&Item> = takeoff.lines.iter().map(|line| &line.item).collect();
    Ok(Priced {
        total: lines.iter().map(|line| line.amount).sum(),
        lines,
        missing: missing.into_iter().collect(),
        unused: prices
            .into_keys()
            .filter(|item| !listed.contains(item))
            .cloned()
            .collect(),
    })
}

/// `stock length`.
impl fmt::Display for Per {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Self::Metre => "metre",
            Self::Foot => "foot",
            Self::StockLength => "stock length",
            Self::Piece => "piece",
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::decide::takeoff::StockUse;

    #[test]
    fn val_a_length_by_the_foot_and_by_what_is_bought() {
        let line = |stock| TakeoffLine {
            item: Item::Seal,
            quantity: Quantity::Length(Length::from_m(10.0)),
            stock,
        };
        let bought = StockUse {
            length: Length::from_m(3.0),
            bought: 4,
            least: 4,
            waste: Length::from_m(2.0),
        };
        let cost = |per, stock| {
            let price = Price {
                item: Item::Seal,
                price: Money::new(2.0),
                per,
            };
            price.of(&line(stock)).amount()
        };
        // A foot is 0.3048 m.
        assert!((cost(Per::Foot, None) - 2.0 * 10.0 / 0.3048).abs() < 1e-9);
        assert!((cost(Per::Metre, None) - 20.0).abs() < 1e-12);
        assert!((cost(Per::Metre, Some(bought)) - 24.0).abs() < 1e-12);
        assert!((cost(Per::Foot, Some(bought)) - 24.0 / 0.3048).abs() < 1e-9);
        assert_eq!(cost(Per::StockLength, Some(bought)), 8.0);
    }
}
