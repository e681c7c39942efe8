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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Angle, Bore, Elbow, Gate, Hose, HoseKind, Wall};

    /// 2 m of duct, 3 m of hose, two elbows, a gate and a wye.
    fn section() -> Section {
        let mm = Length::from_mm;
        let hose = Hose {
            length: Length::from_m(3.0),
            kind: HoseKind::Wire { compression: 0.1 },
            bend: None,
        };
        Section::new("drop", Bore::Round(mm(125.0)), Wall::Galvanised)
            .with_part(Part::Duct(Length::from_m(2.0)))
            .with_part(Part::Hose(hose))
            .with_part(Part::Elbow(Elbow::K(0.3)))
            .with_part(Part::Elbow(Elbow::K(0.2)))
            .with_part(Part::Gate(Gate {
                opening: 1.0,
                leak_area: None,
            }))
            .with_part(Part::K(5.0))
            .draining_into("main")
            .joining_at(Angle::from_deg(45.0))
    }

    #[test]
    fn val_a_section_by_hand() {
        let whole = StockSize::new(Length::from_mm(125.0), Money::new(1000.0))
            .with_hose(Money::new(100.0))
            .with_elbow(Money::new(10.0))
            .with_gate(Money::new(1.0))
            .with_wye(Money::new(0.5));
        let cost = |size: &StockSize, section: &Section| size.cost_of(section).map(Money::amount);
        assert_eq!(cost(&whole, &section()), Some(2321.5));
        let mut straight = section();
        straight.join.angle = None;
        assert_eq!(cost(&whole, &straight), Some(2321.0));
        // What is not sold cannot be built of.
        let lacking: [fn(&mut StockSize); 4] = [
            |size| size.hose_per_metre = None,
            |size| size.elbow = None,
            |size| size.gate = None,
            |size| size.wye = None,
        ];
        for (i, take) in lacking.into_iter().enumerate() {
            let mut size = whole.clone();
            take(&mut size);
            assert_eq!(cost(&size, &section()), None, "{i}");
        }
        // What is not needed need not be sold.
        let bare = StockSize::new(Length::from_mm(125.0), Money::new(1000.0));
        straight
            .parts
            .retain(|part| matches!(part, Part::Duct(_) | Part::K(_)));
        assert_eq!(cost(&bare, &straight), Some(2000.0));
    }
}
