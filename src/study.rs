//! The whole document, as people write it.

#[cfg(feature = "serde")]
use crate::{
    air::AirText,
    loss::{Junction, Wall},
    system::{CollectorText, MachineText, ModelErrors, SectionText, SystemText},
};
use crate::{
    decide::{
        CheckOptions, FilterGaugeOptions, FutureHood, PriceTable, Room, Sizing, TakeoffOptions,
        TransportLimits, Upgrade, Use,
    },
    survey::{CalibratePlan, Reading},
    system::{Assumption, System},
};

/// A whole document: the system, and what had to be assumed to complete it.
///
/// Reads from and writes to any self-describing serde format (feature `serde`); the examples use
/// TOML:
///
/// ```
/// # #[cfg(feature = "serde")]
/// # fn main() -> Result<(), Box<dyn std::error::Error>> {
/// let study: airsplit::Study = toml::from_str(r#"
///     format = 1
///     wall = "galvanised"
///     air = { altitude = "250 m", temperature = "20 C", relative_humidity = 0.5 }
///     [collector.fan]
///     basis = "static"
///     density = "1.2 kg/m3"
///     fitted = { separator = false, filter = false, silencer = false }
///     points = [["0 m3/h", "2400 Pa"], ["1500 m3/h", "1900 Pa"], ["3000 m3/h", "300 Pa"]]
///     [[section]]
///     id = "main"
///     size = { round = "160 mm" }
///     parts = [{ duct = "6 m" }, { k = 0.3 }]
///     hood = { id = "planer port", entry = { k = 0.5 }, machine = "planer" }
///     [[machine]]
///     id = "planer"
///     required = "1450 m3/h"
/// "#)?;
/// assert!(study.assumptions.is_empty());
/// # Ok(())
/// # }
/// # #[cfg(not(feature = "serde"))]
/// # fn main() {}
/// ```
///
/// Every quantity carries its unit. Unknown keys are errors. What the document leaves out is an
/// error that names it, unless it says `assume = true`: then defaults stand in, and each of them is
/// told in [`assumptions`](Self::assumptions). A syntax fault comes alone, with its line and key;
/// faults of the model come all at once, each with its place. A study whose system has faults
/// cannot be written: what was written can be read.
///
/// Two studies are equal when title, system, assumptions and plans are, however they were written.
#[derive(Debug, Clone)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Deserialize),
    serde(try_from = "Draft")
)]
#[non_exhaustive]
pub struct Study {
    /// What the document calls itself.
    pub title: Option<String>,
    /// The system, complete.
    pub system: System,
    /// What was assumed to complete it.
    pub assumptions: Vec<Assumption>,
    /// What the owner asks about it.
    pub plans: Plans,
    /// As it was read, so that what was left out stays left out when it is written again.
    #[cfg(feature = "serde")]
    draft: Option<Box<Draft>>,
}

/// What the owner asks about a system: tables of the document beside it, each optional, for the
/// functions named below. The names in them are judged there.
///
/// ```
/// # #[cfg(feature = "serde")]
/// # fn main() -> Result<(), Box<dyn std::error::Error>> {
/// let mut text = std::fs::read_to_string("examples/chair_shop.toml")?;
/// text += r#"
///     [use]
///     at_most = 2
///     [check]
///     dust = "dry_chips"
///     [[upgrade]]
///     name = "wider main"
///     cost = 420
///     changes = [{ size = { section = "main east", to = { round = "200 mm" } } }]
///     [[price]]
///     item = "screw"
///     price = 0.05
///     per = "piece"
/// "#;
/// let study: airsplit::Study = toml::from_str(&text)?;
/// assert_eq!(study.plans.usage.at_most, Some(2));
/// let wider = study.system.with(&study.plans.upgrades[0].changes)?;
/// assert_ne!(wider, study.system);
/// # Ok(())
/// # }
/// # #[cfg(not(feature = "serde"))]
/// # fn main() {}
/// ```
#[derive(Debug, Clone, PartialEq, Default)]
#[non_exhaustive]
pub struct Plans {
    /// `[use]`: which hoods are ever open together, for [`Use::sets`].
    pub usage: Use,
    /// `[check]`: what is checked against which limit, for [`check`](crate::check).
    pub check: CheckOptions,
    /// `[[upgrade]]`: what might be bought, for [`rank_upgrades`](crate::rank_upgrades).
    pub upgrades: Vec<Upgrade>,
    /// `[sizing]`: what duct is to be had and which sections it is for, for
    /// [`Sizing::cheapest`].
    pub sizing: Option<Sizing>,
    /// `[[price]]`: what things cost, for [`Takeoff::priced`](crate::Takeoff::priced).
    pub prices: PriceTable,
    /// `[takeoff]`: how material is bought and joined, for [`takeoff`](crate::takeoff()).
    pub takeoff: TakeoffOptions,
    /// `[transport]`: air speeds that keep chips moving, for
    /// [`gate_schedule`](crate::gate_schedule) and [`balance_gates`](crate::balance_gates).
    pub transport: Option<TransportLimits>,
    /// `[filter_gauge]`: which filter, and how it loads, for [`filter_gauge`](crate::filter_gauge).
    pub filter_gauge: FilterGaugeOptions,
    /// `[room]`: how air gets back in, for [`Room::effect`].
    pub room: Option<Room>,
    /// `[[future]]`: hoods that may come at capped branches, for [`growth`](crate::growth()).
    pub future: Vec<FutureHood>,
    /// `[[reading]]`: what was measured; [`Reading::observe`] makes numbers of it for
    /// [`compare_readings`](crate::compare_readings) and [`calibrate`](crate::calibrate()).
    pub readings: Vec<Reading>,
    /// `[calibrate]`: what the readings are to tell, for [`calibrate`](crate::calibrate()).
    pub calibrate: CalibratePlan,
}

impl Study {
    /// A study of a system that is known completely.
    #[must_use]
    pub fn new(system: System) -> Self {
        Self {
            title: None,
            system,
            assumptions: Vec::new(),
            plans: Plans::default(),
            #[cfg(feature = "serde")]
            draft: None,
        }
    }
}

impl PartialEq for Study {
    fn eq(&self, other: &Self) -> bool {
        self.title == other.title
            && self.system == other.system
            && self.assumptions == other.assumptions
            && self.plans == other.plans
    }
}

#[cfg(feature = "serde")]
impl serde::Serialize for Study {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        self.system.check().map_err(serde::ser::Error::custom)?;
        Draft::from(self.clone()).serialize(serializer)
    }
}

/// A document as it was read: syntax is known to be right, the model is not yet judged.
///
/// Deserialising a [`Study`] directly turns faults of the model into text; deserialising a `Draft`
/// and completing it keeps them as data.
///
/// ```
/// # #[cfg(feature = "serde")]
/// # fn main() -> Result<(), Box<dyn std::error::Error>> {
/// let draft: airsplit::Draft = toml::from_str("format = 1\n[collector]\n")?;
/// let faults = draft.complete().unwrap_err();
/// assert!(faults.iter().any(|f| f.place == airsplit::Place::System));
/// # Ok(())
/// # }
/// # #[cfg(not(feature = "serde"))]
/// # fn main() {}
/// ```
#[cfg(feature = "serde")]
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Draft {
    format: Format,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    title: Option<String>,
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    assume: bool,
    // The keys of a system stand here again: serde cannot combine `flatten` with
    // `deny_unknown_fields`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    air: Option<AirText>,
    #[serde(default)]
    junction: Junction,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    wall: Option<Wall>,
    collector: CollectorText,
    #[serde(default)]
    section: Vec<SectionText>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    machine: Vec<MachineText>,
    #[serde(default, rename = "use", skip_serializing_if = "is_default")]
    usage: Use,
    #[serde(default, skip_serializing_if = "is_default")]
    check: CheckOptions,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    upgrade: Vec<Upgrade>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    sizing: Option<Sizing>,
    #[serde(default, skip_serializing_if = "is_default")]
    price: PriceTable,
    #[serde(default, skip_serializing_if = "is_default")]
    takeoff: TakeoffOptions,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    transport: Option<TransportLimits>,
    #[serde(default, skip_serializing_if = "is_default")]
    filter_gauge: FilterGaugeOptions,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    room: Option<Room>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    future: Vec<FutureHood>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    reading: Vec<Reading>,
    #[serde(default, skip_serializing_if = "is_default")]
    calibrate: CalibratePlan,
}

#[cfg(feature = "serde")]
fn is_default<T: Default + PartialEq>(value: &T) -> bool {
    *value == T::default()
}

/// The version of the document format: 1.
#[cfg(feature = "serde")]
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize, serde::Deserialize)]
#[serde(try_from = "u32", into = "u32")]
struct Format;

#[cfg(feature = "serde")]
impl TryFrom<u32> for Format {
    type Error = String;
    fn try_from(number: u32) -> Result<Self, String> {
        if number == 1 {
            Ok(Self)
        } else {
            Err(format!(
                "format {number} is not known; this version reads format 1"
            ))
        }
    }
}

#[cfg(feature = "serde")]
impl From<Format> for u32 {
    fn from(_: Format) -> Self {
        1
    }
}

#[cfg(feature = "serde")]
impl Draft {
    /// Completes and judges the model.
    ///
    /// # Errors
    ///
    /// Every fault at once, each with its [`Place`](crate::Place): what is missing without
    /// `assume = true`, and what is wrong with the rest.
    pub fn complete(self) -> Result<Study, ModelErrors> {
        let title = self.title.clone();
        let (system, assumptions) = self.system().complete(self.assume)?;
        Ok(Study {
            title,
            system,
            assumptions,
            plans: Plans {
                usage: self.usage.clone(),
                check: self.check.clone(),
                upgrades: self.upgrade.clone(),
                sizing: self.sizing.clone(),
                prices: self.price.clone(),
                takeoff: self.takeoff.clone(),
                transport: self.transport.clone(),
                filter_gauge: self.filter_gauge.clone(),
                room: self.room,
                future: self.future.clone(),
                readings: self.reading.clone(),
                calibrate: self.calibrate.clone(),
            },
            draft: Some(Box::new(self)),
        })
    }

    fn system(&self) -> SystemText {
        SystemText {
            air: self.air.clone(),
            junction: self.junction,
            wall: self.wall,
            collector: self.collector.clone(),
            sections: self.section.clone(),
            machines: self.machine.clone(),
        }
    }

    fn of(title: Option<String>, assume: bool, system: SystemText, plans: Plans) -> Self {
        Self {
            format: Format,
            title,
            assume,
            air: system.air,
            junction: system.junction,
            wall: system.wall,
            collector: system.collector,
            section: system.sections,
            machine: system.machines,
            usage: plans.usage,
            check: plans.check,
            upgrade: plans.upgrades,
            sizing: plans.sizing,
            price: plans.prices,
            takeoff: plans.takeoff,
            transport: plans.transport,
            filter_gauge: plans.filter_gauge,
            room: plans.room,
            future: plans.future,
            reading: plans.readings,
            calibrate: plans.calibrate,
        }
    }
}

#[cfg(feature = "serde")]
impl TryFrom<Draft> for Study {
    type Error = ModelErrors;
    fn try_from(draft: Draft) -> Result<Self, ModelErrors> {
        draft.complete()
    }
}

/// What was left out stays left out as long as the system is the one that was read; once it was
/// changed everything is written, and what was assumed is given from then on.
#[cfg(feature = "serde")]
impl From<Study> for Draft {
    fn from(study: Study) -> Self {
        let Study {
            title,
            system,
            plans,
            draft,
            ..
        } = study;
        if let Some(draft) = draft {
            let read = draft.system();
            let as_read = read.clone().complete(draft.assume);
            if as_read.is_ok_and(|(as_read, _)| as_read == system) {
                return Self::of(title, draft.assume, read, plans);
            }
        }
        Self::of(title, false, system.into(), plans)
    }
}
