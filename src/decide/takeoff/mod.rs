//! The list of material: what a system is built from, counted from its document.

mod count;
mod cutting;
mod item;
mod options;
mod price;

pub use item::{ElbowShape, HoseMake, Item, JunctionInlet, ReducerShape};
pub use options::{Stock, TakeoffOptions};
pub use price::{Per, Price, PriceError, PriceFault, PriceTable, Priced, PricedLine};

use crate::{
    bore::Bore,
    loss::LossError,
    quantity::Length,
    system::{Model, ModelErrors, Resolved, System},
};
use std::{collections::BTreeMap, fmt};

/// What a system is built from; or, from [`minus`](Self::minus), what one takes more than another.
///
/// Not on the list: the fan, hoods and machines' own ports, hangers, and the building.
///
/// # Rules
///
/// All of them common practice or our own, no source; none is a standard.
///
/// - Each length of duct is put together from whole stock lengths and a piece cut from one more.
///   Cut pieces of one size and wall come from common stock lengths all over the shop, the longest
///   first, each from the first length that still has enough. Nothing is added for the width of the
///   saw or for sleeves.
/// - A slack wire hose is as long as when stretched: its length as it hangs over 1 - compression.
/// - Sections that meet make one wye of their sizes and angles, and several mains the inlet adapter
///   of the collector.
/// - A change of size that the document does not tell is a step; none stands at a separator or
///   filter, which has its own.
/// - Each thing is joined to the next one: pieces of duct among themselves, to fittings, to gates,
///   hoods, caps, junctions and the fan. A joint is of the size upstream of it. What blows into the
///   open at the end has no joint there.
/// - A joint takes screws and seal, but clamps where either side is a hose: [`TakeoffOptions`].
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct Takeoff {
    /// One for each item, in its order: by kind, the largest first.
    pub lines: Vec<TakeoffLine>,
    /// The joints of each size, the largest first.
    pub joints: Vec<Joints>,
}

/// How much of one item.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct TakeoffLine {
    /// What.
    pub item: Item,
    /// How much is built in; below zero in a difference that needs less.
    pub quantity: Quantity,
    /// What of it is bought, for duct.
    pub stock: Option<StockUse>,
}

/// An amount of material.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize),
    serde(rename_all = "snake_case")
)]
#[non_exhaustive]
pub enum Quantity {
    /// By length.
    Length(Length),
    /// By the piece.
    Pieces(i64),
}

/// Duct as it is bought.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct StockUse {
    /// Length of one.
    pub length: Length,
    /// How many are bought.
    pub bought: i64,
    /// Fewer cannot do, however they are cut: all of the duct over the stock length, rounded up.
    pub least: i64,
    /// What is left over of them.
    pub waste: Length,
}

/// Joints of one size; sizes are told apart as those of an [`Item`].
#[derive(Debug, Clone, Copy)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct Joints {
    /// The size.
    pub size: Bore,
    /// Between rigid things.
    pub rigid: i64,
    /// With a hose on a side.
    pub hose: i64,
}

/// Why there is no list of material.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum TakeoffError {
    /// Faults of the model.
    #[error(transparent)]
    Model(#[from] ModelErrors),
    /// An option out of its range.
    #[error("takeoff: {0}")]
    Option(#[from] LossError),
}

/// Counts what a system is built from.
///
/// ```
/// use airsplit::*;
/// # fn main() -> Result<(), Box<dyn std::error::Error>> {
/// # let points = [("0 cfm", "12 in wg"), ("600 cfm", "11 in wg"), ("1500 cfm", "2 in wg")];
/// # let points = points
/// #     .into_iter()
/// #     .map(|(flow, pressure)| Ok((flow.parse()?, pressure.parse()?)))
/// #     .collect::<Result<Vec<_>, QuantityError>>()?;
/// # let fan = FanCurve::new(points, Basis::Static, Fitted::ALL, Density::STANDARD_AIR)?;
/// let five = Bore::Round("5 in".parse()?);
/// let drop = Section::new("drop", five, Wall::Galvanised)
///     .with_part(Part::Duct("7 m".parse()?))
///     .with_hood(Hood::new("planer port", Entry::Flanged));
/// let system = System::new(Air::standard(), Collector::new(fan)).with_section(drop);
/// let list = takeoff(&system, &TakeoffOptions::default())?;
/// let duct = &list.lines[0];
/// assert_eq!(duct.item.to_string(), "duct 5 in galvanised");
/// assert_eq!(duct.quantity.to_string(), "7.0 m");
/// let stock = duct.stock.ok_or("duct comes in lengths")?;
/// assert_eq!((stock.bought, stock.waste), (3, "2 m".parse()?));
/// // Hood, three pieces of duct, fan: four joints.
/// assert_eq!(list.joints[0].rigid, 4);
/// # Ok(())
/// # }
/// ```
///
/// # Errors
///
/// Every fault of the model, or the first option out of its range.
pub fn takeoff(system: &System, options: &TakeoffOptions) -> Result<Takeoff, TakeoffError> {
    options.check()?;
    let resolved = Resolved::of(Model::plain(system))?;
    Ok(count::count(system, &resolved, options))
}

impl Takeoff {
    /// The line of an item.
    #[must_use]
    pub fn line(&self, item: &Item) -> Option<&TakeoffLine> {
        self.lines.iter().find(|line| line.item == *item)
    }

    /// What this one takes more than the other: below zero where it takes less.
    ///
    /// Lines without any difference are left out. Of duct in other stock lengths each has its own
    /// line, because their numbers do not compare.
    #[must_use]
    pub fn minus(&self, other: &Self) -> Self {
        let mut lines: BTreeMap<_, TakeoffLine> = BTreeMap::new();
        let signed = (self.lines.iter().map(|line| (line, 1)))
            .chain(other.lines.iter().map(|line| (line, -1)));
        for (line, sign) in signed {
            let stock_mm = line.stock.map(|stock| stock.length.as_mm().round() as i64);
            lines
                .entry((line.item.clone(), stock_mm))
                .and_modify(|sum| sum.add(line, sign))
                .or_insert_with(|| line.times(sign));
        }
        let mut joints: BTreeMap<_, Joints> = BTreeMap::new();
        let signed = (self.joints.iter().map(|joints| (joints, 1)))
            .chain(other.joints.iter().map(|joints| (joints, -1)));
        for (at, sign) in signed {
            let sum = joints.entry(item::size_key(at.size));
            sum.or_insert(Joints::none(at.size)).add(at, sign);
        }
        Self {
            lines: lines.into_values().filter(|line| !line.is_none()).collect(),
            joints: joints
                .into_values()
                .filter(|joints| joints.rigid != 0 || joints.hose != 0)
                .collect(),
        }
    }

    /// What it costs.
    ///
    /// Duct is paid for as it is bought, in whole stock lengths; hose and seal by what is built in.
    ///
    /// # Errors
    ///
    /// The first price that is negative or no number, that is for another unit than its item is
    /// bought by, or that stands twice. An item without a price is no error: it stands in
    /// [`Priced::missing`].
    pub fn priced(&self, prices: &PriceTable) -> Result<Priced, PriceError> {
        price::price(self, prices)
    }
}

impl PartialEq for Joints {
    fn eq(&self, other: &Self) -> bool {
        let numbers = |joints: &Self| (item::size_key(joints.size), joints.rigid, joints.hose);
        numbers(self) == numbers(other)
    }
}

impl Joints {
    fn none(size: Bore) -> Self {
        Self {
            size,
            rigid: 0,
            hose: 0,
        }
    }

    fn add(&mut self, more: &Self, sign: i64) {
        self.rigid += sign * more.rigid;
        self.hose += sign * more.hose;
    }
}

impl TakeoffLine {
    fn times(&self, sign: i64) -> Self {
        Self {
            item: self.item.clone(),
            quantity: match self.quantity {
                Quantity::Length(length) => Quantity::Length(length * sign as f64),
                Quantity::Pieces(pieces) => Quantity::Pieces(sign * pieces),
            },
            stock: self.stock.map(|stock| StockUse {
                length: stock.length,
                bought: sign * stock.bought,
                least: sign * stock.least,
                waste: stock.waste * sign as f64,
            }),
        }
    }

    /// Adds a line of the same item and stock length.
    fn add(&mut self, line: &Self, sign: i64) {
        let line = line.times(sign);
        match (&mut self.quantity, line.quantity) {
            (Quantity::Length(sum), Quantity::Length(length)) => *sum = *sum + length,
            (Quantity::Pieces(sum), Quantity::Pieces(pieces)) => *sum += pieces,
            // One item is always bought by one unit.
            _ => {}
        }
        if let (Some(sum), Some(stock)) = (&mut self.stock, line.stock) {
            sum.bought += stock.bought;
            sum.least += stock.least;
            sum.waste = sum.waste + stock.waste;
        }
    }

    /// Whether nothing is left of it, but for the rounding of sums of lengths.
    fn is_none(&self) -> bool {
        let little = |length: Length| length.as_m().abs() < cutting::HAIR_M;
        let quantity = match self.quantity {
            Quantity::Length(length) => little(length),
            Quantity::Pieces(pieces) => pieces == 0,
        };
        quantity
            && (self.stock)
                .is_none_or(|stock| stock.bought == 0 && stock.least == 0 && little(stock.waste))
    }
}

/// `12.5 m`, `4`.
impl fmt::Display for Quantity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Length(length) => f.pad(&format!("{:.1} m", length.as_m())),
            Self::Pieces(pieces) => f.pad(&pieces.to_string()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        Part, Run,
        decide::by_hand::{filter, mm, shop},
    };

    #[test]
    fn prop_quantities_are_told_and_joints_of_one_size_are_told_apart() {
        assert_eq!(
            Quantity::Length(Length::from_m(12.46)).to_string(),
            "12.5 m"
        );
        assert_eq!(Quantity::Pieces(-4).to_string(), "-4");
        let joints = |mm: f64, rigid, hose| Joints {
            size: Bore::Round(Length::from_mm(mm)),
            rigid,
            hose,
        };
        let two = joints(100.0, 2, 1);
        assert_eq!(two, joints(100.0, 2, 1));
        for other in [
            joints(125.0, 2, 1),
            joints(100.0, 3, 1),
            joints(100.0, 2, 0),
        ] {
            assert_ne!(two, other);
        }
    }

    #[test]
    fn a_line_is_none_only_where_nothing_at_all_is_left() {
        let line = |length_m, bought, least, waste_m| TakeoffLine {
            item: Item::Duct {
                size: Bore::Round(Length::from_mm(100.0)),
                wall: crate::Wall::Galvanised,
            },
            quantity: Quantity::Length(Length::from_m(length_m)),
            stock: Some(StockUse {
                length: Length::from_m(3.0),
                bought,
                least,
                waste: Length::from_m(waste_m),
            }),
        };
        // A hair of rounding counts for nothing.
        assert!(line(0.0, 0, 0, 0.0).is_none() && line(1e-9, 0, 0, -1e-9).is_none());
        for some in [
            line(0.2, 0, 0, 0.0),
            line(0.0, 1, 0, 0.0),
            line(0.0, 0, 1, 0.0),
            line(0.0, 0, 0, 0.5),
            line(0.0, -1, -1, -0.5),
            line(0.0, -1, -1, 0.0),
        ] {
            assert!(!some.is_none(), "{some:?}");
        }
    }

    fn pieces(takeoff: &Takeoff, of: impl Fn(&Item) -> bool) -> i64 {
        let lines = takeoff.lines.iter().filter(|line| of(&line.item));
        let each = lines.map(|line| match line.quantity {
            Quantity::Pieces(pieces) => pieces,
            Quantity::Length(_) => 0,
        });
        each.sum()
    }

    /// A shop whose main, 180 mm wide, goes on in these runs before the fan.
    fn with_runs(runs: Vec<(f64, Vec<Part>)>) -> System {
        let mut system = shop();
        let runs = runs.into_iter().map(|(wide, parts)| {
            let mut run = Run::new(mm(wide), crate::Wall::Galvanised);
            run.parts = parts;
            run
        });
        system.collector.before = runs.collect();
        system
    }

    #[test]
    fn a_vessel_takes_care_of_its_own_sizes() {
        let reducers = |runs| {
            let takeoff = takeoff(&with_runs(runs), &TakeoffOptions::default()).unwrap();
            pieces(&takeoff, |item| matches!(item, Item::Reducer { .. }))
        };
        let k = || Part::K(0.1);
        let vessel = || Part::Filter(filter());
        assert_eq!(reducers(vec![(180.0, vec![k()])]), 0);
        assert_eq!(reducers(vec![(200.0, vec![k(), vessel()])]), 1);
        assert_eq!(reducers(vec![(200.0, vec![vessel(), k()])]), 0);
        assert_eq!(
            reducers(vec![(180.0, vec![k(), vessel()]), (200.0, vec![k()])]),
            0
        );
        // What comes behind it, with or without parts, has the size that it is said to have.
        let bare = vec![(180.0, vec![vessel()]), (200.0, vec![]), (200.0, vec![k()])];
        assert_eq!(reducers(bare), 0);
        let told = || Part::Transition(crate::Transition::Sharp);
        assert_eq!(reducers(vec![(200.0, vec![told(), k()])]), 1);
    }

    #[test]
    fn a_change_of_size_is_told_from_where_to_where() {
        let told = Part::Transition(crate::Transition::Sharp);
        let system = with_runs(vec![(200.0, vec![told])]);
        let takeoff = takeoff(&system, &TakeoffOptions::default()).unwrap();
        let mut sizes = takeoff.lines.iter().filter_map(|line| match line.item {
            Item::Reducer { from, to, .. } => Some([from, to]),
            _ => None,
        });
        assert_eq!(sizes.next(), Some([mm(180.0), mm(200.0)]));
        assert_eq!(sizes.next(), None);
    }

    #[test]
    fn whole_lengths_are_bought_whole_and_hoses_are_clamped() {
        let mut system = shop();
        let options = TakeoffOptions {
            clamps: 3,
            ..TakeoffOptions::default()
        };
        let stock = options.stock;
        let clamps = |system: &System| {
            let takeoff = takeoff(system, &options).unwrap();
            let lines = takeoff.lines.iter();
            let clamps = lines.filter(|line| matches!(line.item, Item::Clamp { .. }));
            clamps.map(|line| line.quantity).collect::<Vec<_>>()
        };
        assert_eq!(clamps(&system), []);
        system.sections[3].parts.push(Part::Duct(stock));
        let takeoff = takeoff(&system, &options).unwrap();
        let duct = takeoff
            .lines
            .iter()
            .find(|line| matches!(line.item, Item::Duct { .. }))
            .unwrap();
        assert_eq!(duct.stock.unwrap().bought, 1);
        // Gate, coefficient, hose, hood: a joint at each end of the hose.
        let hose = Part::Hose(crate::Hose {
            length: Length::from_m(1.0),
            kind: crate::HoseKind::Wire { compression: 0.1 },
            bend: None,
        });
        system.sections[0].parts.insert(1, hose);
        assert_eq!(clamps(&system), [Quantity::Pieces(6)]);
    }

    /// A round duct whose perimeter is just 12 spaces has 12 screws, and not one more for its last
    /// bit.
    #[test]
    fn val_screws_by_hand() {
        let mut options = TakeoffOptions {
            screws: 1,
            ..TakeoffOptions::default()
        };
        let size = mm(200.0);
        for spaces in [5.0, 12.0, 13.0, 29.0] {
            options.screw_spacing = size.perimeter() / spaces;
            assert_eq!(options.screws_at(size), spaces as i64);
        }
        options.screw_spacing = size.perimeter() / 12.1;
        assert_eq!(options.screws_at(size), 13);
        options.screws = 20;
        assert_eq!(options.screws_at(size), 20);
    }
}
