//! The sizes that can be bought, and what a section costs in each.

use crate::{decide::Money, loss::Part, quantity::Length, system::Section};

/// A round duct size that can be bought, with its prices.
///
/// A price that is left out means that the part is not sold in that size: a section that needs it
/// cannot be built of it.
///
/// ```toml
/// diameter = "160 mm"
/// per_metre = 14.5
/// elbow = 21.0
/// gate = 38.0
/// wye = 29.0
/// ```
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
#[non_exhaustive]
pub struct StockSize {
    /// Inner diameter, 1 mm to 20 m.
    pub diameter: Length,
    /// Price of a metre of rigid duct.
    pub per_metre: Money,
    /// Price of a metre of hose.
    #[cfg_attr(feature = "serde", serde(default))]
    pub hose_per_metre: Option<Money>,
    /// Price of an elbow, whatever its angle.
    #[cfg_attr(feature = "serde", serde(default))]
    pub elbow: Option<Money>,
    /// Price of a blast gate.
    #[cfg_attr(feature = "serde", serde(default))]
    pub gate: Option<Money>,
    /// Price of the wye by which a section joins another at an angle, by the size of the side inlet.
    #[cfg_attr(feature = "serde", serde(default))]
    pub wye: Option<Money>,
}

impl StockSize {
    /// Duct of this diameter at this price a metre, and no fittings.
    #[must_use]
    pub fn new(diameter: Length, per_metre: Money) -> Self {
        Self {
            diameter,
            per_metre,
            hose_per_metre: None,
            elbow: None,
            gate: None,
            wye: None,
        }
    }

    /// With hose at this price a metre.
    #[must_use]
    pub fn with_hose(mut self, per_metre: Money) -> Self {
        self.hose_per_metre = Some(per_metre);
        self
    }

    /// With elbows at this price.
    #[must_use]
    pub fn with_elbow(mut self, price: Money) -> Self {
        self.elbow = Some(price);
        self
    }

    /// With blast gates at this price.
    #[must_use]
    pub fn with_gate(mut self, price: Money) -> Self {
        self.gate = Some(price);
        self
    }

    /// With wyes whose side inlet has this size at this price.
    #[must_use]
    pub fn with_wye(mut self, price: Money) -> Self {
        self.wye = Some(price);
        self
    }

    /// What a section costs in this size: its duct and hose by the metre, its elbows and gates, and
    /// the wye by which it joins at an angle. `None` where something it needs is not sold.
    ///
    /// Nothing else is priced: transitions where sizes meet, hoods, filters, hangers, work.
    #[must_use]
    pub fn cost_of(&self, section: &Section) -> Option<Money> {
        let mut cost = Money::default();
        for part in &section.parts {
            cost = cost
                + match part {
                    Part::Duct(length) => self.per_metre * length.as_m(),
                    Part::Hose(hose) => self.hose_per_metre? * hose.length.as_m(),
                    Part::Elbow(_) => self.elbow?,
                    Part::Gate(_) => self.gate?,
                    _ => continue,
                };
        }
        if section.join.angle.is_some() {
            cost = cost + self.wye?;
        }
        Some(cost)
    }

    /// Every price with what it is for.
    pub(super) fn prices(&self) -> impl Iterator<Item = (&'static str, Money)> {
        let fittings = [
            ("hose per metre", self.hose_per_metre),
            ("elbow", self.elbow),
            ("gate", self.gate),
            ("wye", self.wye),
        ];
        let fittings = fittings.into_iter();
        std::iter::once(("duct per metre", self.per_metre))
            .chain(fittings.filter_map(|(what, price)| Some((what, price?))))
    }
}
