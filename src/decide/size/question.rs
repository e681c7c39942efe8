//! What is to be sized, from what, and to meet what.

use super::stock::StockSize;
use crate::{
    decide::Money,
    place::Name,
    quantity::{Length, Velocity},
    solve::SolveError,
    system::{Index, ModelErrors, System, UnknownName},
};
use std::collections::HashSet;

/// Most stock sizes.
const MOST_STOCK: usize = 1000;

/// The question: which sections are to be sized, from which stock, to keep which velocities.
///
/// The flows to meet are those of the model: what each machine needs
/// ([`Machine::required`](crate::Machine)), and each hood that says so, in every open set in which
/// it is open. Sections that are not named keep their size.
///
/// ```toml
/// sections = ["main", "planer drop"]
/// least_velocity = "20 m/s"
/// stock = [
///     { diameter = "125 mm", per_metre = 11.0, elbow = 16.0, wye = 22.0, gate = 30.0 },
///     { diameter = "160 mm", per_metre = 14.5, elbow = 21.0, wye = 29.0, gate = 38.0 },
/// ]
/// ```
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
#[non_exhaustive]
pub struct Sizing {
    /// The sections to be sized.
    pub sections: Vec<Name>,
    /// The sizes that can be bought, in any order.
    pub stock: Vec<StockSize>,
    /// Velocity that keeps dust moving, 0 or more; needed of every section, sized or not, in the
    /// open sets in which an open hood lies upstream of it.
    pub least_velocity: Velocity,
    /// Sections that need another one. The last word on a section counts.
    #[cfg_attr(feature = "serde", serde(default))]
    pub velocities: Vec<SectionVelocity>,
    /// Whether a section may be wider than the one that it drains into. A narrowing toward the fan
    /// catches chips, so it is not unless told; two sections that both keep their size may.
    #[cfg_attr(feature = "serde", serde(default))]
    pub allow_narrowing: bool,
    /// Most balances that the exact search may solve, one for each open set of each choice of sizes
    /// that it has to try; as many again may go into the search that follows where it gives up.
    /// 200 000 unless told: some seconds to a minute. Whatever this says, the exact search gives up
    /// when a million choices of some sections wait at once, or three thousand million comparisons
    /// with its bounds were made.
    #[cfg_attr(feature = "serde", serde(default = "most_solves"))]
    pub most_solves: u64,
}

/// A section that needs a velocity of its own.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
pub struct SectionVelocity {
    /// The section.
    pub section: Name,
    /// The velocity that keeps dust moving in it, 0 or more.
    pub least: Velocity,
}

const fn most_solves() -> u64 {
    200_000
}

impl Sizing {
    /// These sections from this stock, with no velocity to keep.
    #[must_use]
    pub fn new<N: Into<Name>>(
        sections: impl IntoIterator<Item = N>,
        stock: impl IntoIterator<Item = StockSize>,
    ) -> Self {
        Self {
            sections: sections.into_iter().map(Into::into).collect(),
            stock: stock.into_iter().collect(),
            least_velocity: Velocity::from_m_s(0.0),
            velocities: Vec::new(),
            allow_narrowing: false,
            most_solves: most_solves(),
        }
    }

    /// With this least velocity in every section.
    #[must_use]
    pub fn with_least_velocity(mut self, least: Velocity) -> Self {
        self.least_velocity = least;
        self
    }

    /// With another least velocity in one section.
    #[must_use]
    pub fn with_velocity_in(mut self, section: impl Into<Name>, least: Velocity) -> Self {
        self.velocities.push(SectionVelocity {
            section: section.into(),
            least,
        });
        self
    }

    /// With sections that may be wider than the one that they drain into.
    #[must_use]
    pub fn allowing_narrowing(mut self) -> Self {
        self.allow_narrowing = true;
        self
    }

    /// With another bound on the balances of the exact search.
    #[must_use]
    pub fn with_most_solves(mut self, balances: u64) -> Self {
        self.most_solves = balances;
        self
    }

    /// Whether the stock can be searched.
    pub(super) fn check_stock(&self) -> Result<(), SizingError> {
        let stock = &self.stock;
        if stock.is_empty() {
            return Err(SizingError::NoStock);
        }
        at_most(MOST_STOCK, "stock sizes", stock.len())?;
        let mut seen = HashSet::new();
        for size in stock {
            let diameter = size.diameter;
            if !(0.001..=20.0).contains(&diameter.as_m()) {
                return Err(SizingError::Diameter { diameter });
            }
            if !seen.insert(diameter.as_m().to_bits()) {
                return Err(SizingError::DiameterTwice { diameter });
            }
            for (what, price) in size.prices() {
                if !(price.amount() >= 0.0 && price.amount().is_finite()) {
                    return Err(SizingError::Price {
                        diameter,
                        what,
                        price,
                    });
                }
            }
        }
        Ok(())
    }

    /// The least velocity of each section.
    pub(super) fn least_velocities(&self, system: &System) -> Result<Vec<Velocity>, SizingError> {
        let check =
            |velocity: Velocity| match velocity.as_m_s() >= 0.0 && velocity.as_m_s().is_finite() {
                true => Ok(velocity),
                false => Err(SizingError::LeastVelocity { velocity }),
            };
        let mut least = vec![check(self.least_velocity)?; system.sections.len()];
        let index = Index::new("section", system.sections.iter().map(|section| &section.id));
        for own in &self.velocities {
            let section = index.find(own.section.as_str())?;
            if let Some(least) = least.get_mut(section) {
                *least = check(own.least)?;
            }
        }
        Ok(least)
    }
}

/// Refuses more than can be searched.
pub(super) fn at_most(most: usize, what: &'static str, given: usize) -> Result<(), SizingError> {
    match given > most {
        true => Err(SizingError::TooMany { what, given, most }),
        false => Ok(()),
    }
}

/// Why there is nothing to size, or nothing to size it from.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum SizingError {
    /// The system has faults.
    #[error(transparent)]
    Model(#[from] ModelErrors),
    /// A section that the system does not have.
    #[error(transparent)]
    Section(#[from] UnknownName),
    /// No section is to be sized.
    #[error("no section is to be sized; name at least one")]
    NoSections,
    /// A section is named twice.
    #[error("section {section:?} is to be sized twice; name it once", section = section.as_str())]
    SectionTwice {
        /// The section.
        section: Name,
    },
    /// The stock is empty.
    #[error("the stock is empty; give at least one diameter with its price")]
    NoStock,
    /// A diameter that no duct has.
    #[error("stock diameter {diameter} must be 1 mm to 20 m")]
    Diameter {
        /// What was given.
        diameter: Length,
    },
    /// A diameter stands twice in the stock.
    #[error("stock diameter {diameter} stands twice; give each diameter once")]
    DiameterTwice {
        /// The diameter.
        diameter: Length,
    },
    /// A price that is negative or no number.
    #[error("price of {what} in {diameter}, {price}, must be zero or more and finite")]
    Price {
        /// The stock size.
        diameter: Length,
        /// What it is the price of.
        what: &'static str,
        /// What was given.
        price: Money,
    },
    /// More sizes, sections or sets than the search takes.
    #[error("{given} {what} are more than the {most} that can be searched")]
    TooMany {
        /// What there is too much of.
        what: &'static str,
        /// How many were given.
        given: usize,
        /// How many may be.
        most: usize,
    },
    /// A least velocity that is negative or no number.
    #[error("least velocity {velocity} must be zero or more and finite")]
    LeastVelocity {
        /// What was given.
        velocity: Velocity,
    },
    /// No open set.
    #[error("no open set was given; give those that are to work")]
    NoSets,
    /// Neither a flow nor a velocity is asked for in any open set.
    #[error(
        "nothing is required: no open machine or hood needs a flow and no section a velocity, so the cheapest stock would always do; give one"
    )]
    NothingRequired,
    /// No stock size can be put in a section.
    #[error(
        "no stock size fits section {section:?}: each lacks a fitting it needs, narrows toward the fan, or is refused by the model; give more sizes, or prices of their fittings", section = section.as_str()
    )]
    NoneFits {
        /// The section.
        section: Name,
    },
    /// An open set cannot be solved at all: it is empty, of another network, or there is no fan.
    #[error(transparent)]
    Solve(#[from] SolveError),
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::decide::by_hand::shop;

    #[test]
    fn as_many_as_allowed_and_no_more() {
        assert_eq!(at_most(5, "sets", 4), Ok(()));
        assert_eq!(at_most(5, "sets", 5), Ok(()));
        let refused = at_most(5, "sets", 6).unwrap_err();
        let expected = "6 sets are more than the 5 that can be searched";
        assert_eq!(refused.to_string(), expected);
    }

    #[test]
    fn as_many_balances_are_solved_as_the_doc_says_unless_told() {
        let plain = Sizing::new(["main"], []);
        assert_eq!(plain.most_solves, 200_000);
        assert_eq!(plain.with_most_solves(7).most_solves, 7);
    }

    #[test]
    fn prices_and_velocities_are_finite_and_not_below_nothing() {
        let priced = |price: f64| {
            let stock = StockSize::new(Length::from_mm(125.0), Money::new(price));
            Sizing::new(["main"], [stock])
        };
        assert_eq!(priced(0.0).check_stock(), Ok(()));
        for bad in [-1.0, f64::INFINITY, f64::NAN] {
            let refused = priced(bad).check_stock();
            assert!(matches!(refused, Err(SizingError::Price { .. })), "{bad}");
            let velocity = Velocity::from_m_s(bad);
            let fast = priced(1.0).with_least_velocity(velocity);
            let refused = fast.least_velocities(&shop());
            assert!(
                matches!(refused, Err(SizingError::LeastVelocity { .. })),
                "{bad}"
            );
        }
        let none = Sizing::new(["main"], []);
        assert_eq!(none.check_stock(), Err(SizingError::NoStock));
        let own = priced(1.0).with_velocity_in("main", Velocity::from_m_s(20.0));
        let told = own.least_velocities(&shop()).unwrap();
        let told: Vec<f64> = told.iter().map(|velocity| velocity.as_m_s()).collect();
        assert_eq!(told, [0.0, 0.0, 0.0, 20.0]);
    }
}
