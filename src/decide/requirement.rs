//! What a machine needs: a figure of one's own, or one looked up in a public rule.

mod table;

use super::{dust::DustClass, source::Source};
use crate::{
    bore::Bore,
    loss::LossError,
    place::Name,
    quantity::{Length, Power, VolumeFlow},
};
use std::borrow::Cow;

/// What a machine needs, beyond what the model says of it.
///
/// Stands in documents as one of a list (TOML here):
///
/// ```toml
/// [[requirement]]
/// machine = "planer"
/// need = { look_up = { planer = { cutter_width = "410 mm" } } }
/// hoods = [{ hood = "planer port", flow = "600 m3/h" }]
/// dust = "light_shavings"
/// ```
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
#[non_exhaustive]
pub struct Requirement {
    /// The machine.
    pub machine: Name,
    /// The flow that its hoods need together; `None`: as the model says.
    #[cfg_attr(
        feature = "serde",
        serde(default, skip_serializing_if = "Option::is_none")
    )]
    pub need: Option<Need>,
    /// What single hoods need; a sum can hide a starved hood. Others as the model says.
    #[cfg_attr(
        feature = "serde",
        serde(default, skip_serializing_if = "Vec::is_empty")
    )]
    pub hoods: Vec<HoodNeed>,
    /// What the machine throws into its duct; `None`: as the options of the check say.
    #[cfg_attr(
        feature = "serde",
        serde(default, skip_serializing_if = "Option::is_none")
    )]
    pub dust: Option<DustClass>,
}

/// The flow that a hood needs by itself.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
pub struct HoodNeed {
    /// The hood.
    pub hood: Name,
    /// Its flow: above 0, at most 1000 m3/s.
    pub flow: VolumeFlow,
}

/// The flow that a machine needs.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "snake_case", deny_unknown_fields)
)]
#[non_exhaustive]
pub enum Need {
    /// A figure of one's own.
    Own {
        /// The flow: above 0, at most 1000 m3/s.
        flow: VolumeFlow,
        /// Where it is from.
        #[cfg_attr(
            feature = "serde",
            serde(default, skip_serializing_if = "Option::is_none")
        )]
        source: Option<String>,
    },
    /// Looked up by the kind and size of the machine.
    LookUp(MachineKind),
}

/// A machine as the two public rule tables know it.
///
/// Wood: TRGS 553 "Holzstaub", Annex 2 (German technical rule; read). Grinding, buffing and
/// polishing: 29 CFR 1910.94(b)(3) (as reproduced elsewhere). A size on the limit of two rows of
/// the first goes by the words of the rule ("below", "up to"), of the second into the smaller row.
///
/// ```
/// use airsplit::{Length, MachineKind};
/// let planer = MachineKind::Planer { cutter_width: Length::from_mm(410.0) };
/// let needed = planer.required()?;
/// assert_eq!(needed.flow.as_m3_h().round(), 1110.0);
/// println!("{}: {}", needed.row, needed.source);
/// # Ok::<(), airsplit::RequirementError>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "snake_case", deny_unknown_fields)
)]
#[non_exhaustive]
pub enum MachineKind {
    /// Surface planer or thicknesser.
    Planer {
        /// Width of the cutter block: 10 mm to 5 m.
        cutter_width: Length,
    },
    /// Spindle moulder (shaper).
    SpindleMoulder {
        /// Whether a hood stands below the table as well.
        below_table: bool,
        /// Power of its drive: 10 W to 1 MW. Asked only without a hood below the table.
        drive: Power,
    },
    /// Table or panel saw, one hood below and one above.
    TableSaw {
        /// Diameter of the blade: 10 mm to 5 m.
        blade: Length,
        /// Power of its drive: 10 W to 1 MW.
        drive: Power,
    },
    /// Pull or pendulum cross-cut saw with a channel under its slot.
    CrossCutSaw,
    /// Any machine that makes chips, by its port: 20 m/s times the area, as is the whole of the
    /// table for wood.
    Port {
        /// Inner size of the port: 1 mm to 20 m.
        size: Bore,
    },
    /// Grinding wheel.
    GrindingWheel {
        /// Its diameter, up to 36 in.
        diameter: Length,
        /// Its width; a wheel wider than its row needs more in proportion, a narrower one no less.
        width: Length,
    },
    /// Buffing or polishing wheel.
    BuffingWheel {
        /// Its diameter, up to 36 in.
        diameter: Length,
        /// Its width; a wheel wider than its row needs more in proportion, a narrower one no less.
        width: Length,
    },
    /// Horizontal single-spindle disc grinder.
    HorizontalDisc {
        /// Diameter of the disc, up to 36 in.
        diameter: Length,
    },
    /// Horizontal double-spindle disc grinder.
    HorizontalDoubleDisc {
        /// Diameter of the discs, up to 72 in.
        diameter: Length,
    },
    /// Vertical-spindle disc grinder.
    VerticalDisc {
        /// Diameter of the disc, up to 72 in.
        diameter: Length,
        /// Whether half of the disc or more is covered.
        covered: bool,
    },
    /// Grinding or polishing belt.
    Belt {
        /// Its width, up to 9 in.
        width: Length,
    },
}

/// A flow that a machine needs, with its source.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct RequiredFlow {
    /// The flow of all its hoods together.
    pub flow: VolumeFlow,
    /// The row it stands in, in words.
    pub row: Cow<'static, str>,
    /// Diameters of the ports that the row names.
    pub ports: Vec<Length>,
    /// Diameter of the duct for all of them, where the row names one.
    pub duct: Option<Length>,
    /// Where it stands.
    pub source: Source,
}

/// Why a requirement could not be told.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum RequirementError {
    /// A size out of range, or beyond the last row of its table.
    #[error(transparent)]
    Size(#[from] LossError),
    /// The table has no row for it.
    #[error("no row for a {machine}: {why}")]
    NoRow {
        /// The kind of machine.
        machine: &'static str,
        /// What the rows are for.
        why: &'static str,
    },
}

impl Requirement {
    /// A requirement that says nothing yet of this machine.
    #[must_use]
    pub fn new(machine: impl Into<Name>) -> Self {
        Self {
            machine: machine.into(),
            need: None,
            hoods: Vec::new(),
            dust: None,
        }
    }

    /// Needing this much.
    #[must_use]
    pub fn needing(mut self, need: Need) -> Self {
        self.need = Some(need);
        self
    }

    /// One of its hoods needing this much by itself.
    #[must_use]
    pub fn with_hood(mut self, hood: impl Into<Name>, flow: VolumeFlow) -> Self {
        self.hoods.push(HoodNeed {
            hood: hood.into(),
            flow,
        });
        self
    }

    /// Throwing this into its duct.
    #[must_use]
    pub fn with_dust(mut self, dust: DustClass) -> Self {
        self.dust = Some(dust);
        self
    }
}

impl HoodNeed {
    pub(super) fn check(&self) -> Result<VolumeFlow, RequirementError> {
        checked_flow(self.flow)
    }
}

impl Need {
    /// The flow with its source.
    ///
    /// # Errors
    ///
    /// A flow or size out of range; a machine without a row in its table.
    pub fn required(&self) -> Result<RequiredFlow, RequirementError> {
        match self {
            Self::Own { flow, source } => Ok(RequiredFlow {
                flow: checked_flow(*flow)?,
                row: Cow::Borrowed("own figure"),
                ports: Vec::new(),
                duct: None,
                source: match source {
                    Some(source) => Source::given(source.clone()),
                    None => Source::given("own figure"),
                },
            }),
            Self::LookUp(kind) => kind.required(),
        }
    }
}

fn checked_flow(flow: VolumeFlow) -> Result<VolumeFlow, RequirementError> {
    let m3_s = flow.as_m3_s();
    LossError::within("required flow", m3_s, " m3/s", f64::MIN_POSITIVE, 1000.0)?;
    Ok(flow)
}

impl MachineKind {
    /// The least flow that its rule asks for.
    ///
    /// # Errors
    ///
    /// A size that is no number, out of range or beyond the last row of its table; a spindle
    /// moulder whose drive has no row.
    pub fn required(&self) -> Result<RequiredFlow, RequirementError> {
        match *self {
            Self::Planer { cutter_width } => {
                let row = |text, duct, flow, source| wood(text, &[], duct, flow, source);
                check_mm("cutter width", cutter_width)?;
                Ok(if cutter_width < Length::from_mm(410.0) {
                    row("planer, cutter below 410 mm", 120.0, 820.0, table::WOOD)
                } else if cutter_width < Length::from_mm(520.0) {
                    row("planer, cutter below 520 mm", 140.0, 1110.0, table::WOOD)
                } else {
                    let source = table::WOOD_WIDE_PLANER;
                    row("planer, wider cutter", 160.0, 1450.0, source)
                })
            }
            Self::SpindleMoulder {
                below_table: true, ..
            } => Ok(wood(
                "spindle moulder, hoods above and below the table",
                &[120.0, 100.0],
                160.0,
                1450.0,
                table::WOOD,
            )),
            Self::SpindleMoulder { drive, .. } => {
                check_kw(drive)?;
                if drive < Power::from_kw(2.5) {
                    let text = "spindle moulder below 2.5 kW, hood above only";
                    Ok(wood(text, &[120.0], 120.0, 820.0, table::WOOD))
                } else {
                    Err(RequirementError::NoRow {
                        machine: "spindle moulder",
                        why: "with a hood above only, its drive must be below 2.5 kW",
                    })
                }
            }
            Self::TableSaw { blade, drive } => {
                check_mm("blade", blade)?;
                check_kw(drive)?;
                let small = blade <= Length::from_mm(250.0) && drive <= Power::from_kw(2.5);
                Ok(if small {
                    wood(
                        "saw, blade up to 250 mm, up to 2.5 kW, hood on the riving knife",
                        &[40.0, 100.0],
                        120.0,
                        560.0,
                        table::WOOD_SMALL_SAW,
                    )
                } else if blade <= Length::from_mm(315.0) {
                    wood(
                        "saw, blade up to 315 mm, hood on the riving knife",
                        &[40.0, 100.0],
                        120.0,
                        820.0,
                        table::WOOD,
                    )
                } else {
                    wood(
                        "saw, blade above 315 mm, separate hood",
                        &[80.0, 120.0],
                        140.0,
                        1110.0,
                        table::WOOD,
                    )
                })
            }
            Self::CrossCutSaw => Ok(wood(
                "pull or pendulum saw, channel under the slot",
                &[],
                120.0,
                820.0,
                table::WOOD,
            )),
            Self::Port { size } => {
                size.check()?;
                Ok(RequiredFlow {
                    flow: VolumeFlow::from_m3_s(20.0 * size.area().as_m2()),
                    row: Cow::Borrowed("20 m/s in the port"),
                    ports: match size {
                        Bore::Round(diameter) => vec![diameter],
                        Bore::Rectangular { .. } => Vec::new(),
                    },
                    duct: None,
                    source: table::WOOD_PORT,
                })
            }
            Self::GrindingWheel { diameter, width } => {
                let row = row_of("wheel diameter", diameter, table::GRINDING_WHEELS)?;
                wheel("grinding wheel", row, width, table::GRINDING)
            }
            Self::BuffingWheel { diameter, width } => {
                let row = row_of("wheel diameter", diameter, table::BUFFING_WHEELS)?;
                wheel("buffing wheel", row, width, table::BUFFING)
            }
            Self::HorizontalDisc { diameter } => {
                let cfm = row_of("disc diameter", diameter, table::DISCS)?;
                Ok(cfm_row("horizontal disc", cfm, table::DISC))
            }
            Self::HorizontalDoubleDisc { diameter } => {
                let cfm = row_of("disc diameter", diameter, table::DOUBLE_DISCS)?;
                Ok(cfm_row("horizontal double disc", cfm, table::DOUBLE_DISC))
            }
            Self::VerticalDisc { diameter, covered } => {
                let (cover, rows) = match covered {
                    true => ("covered", table::COVERED_DISCS),
                    false => ("not covered", table::OPEN_DISCS),
                };
                let [outlets, cfm] = row_of("disc diameter", diameter, rows)?;
                let text = format!("vertical disc, {cover}, outlets: {outlets}");
                Ok(cfm_row(text, cfm, table::VERTICAL_DISC))
            }
            Self::Belt { width } => {
                let cfm = row_of("belt width", width, table::BELTS)?;
                Ok(cfm_row("belt", cfm, table::BELT))
            }
        }
    }
}

// Sizes are compared as lengths, never as numbers of a unit: 410 mm must not become 409.99.

fn check_mm(what: &'static str, size: Length) -> Result<(), LossError> {
    LossError::within(what, size.as_mm(), " mm", 10.0, 5000.0).map(drop)
}

fn check_kw(drive: Power) -> Result<(), LossError> {
    LossError::within("power of the drive", drive.as_kw(), " kW", 0.01, 1000.0).map(drop)
}

fn wood(
    row: &'static str,
    ports_mm: &[f64],
    duct_mm: f64,
    m3_h: f64,
    source: Source,
) -> RequiredFlow {
    RequiredFlow {
        flow: VolumeFlow::from_m3_h(m3_h),
        row: Cow::Borrowed(row),
        ports: ports_mm.iter().copied().map(Length::from_mm).collect(),
        duct: Some(Length::from_mm(duct_mm)),
        source,
    }
}

fn cfm_row(row: impl Into<Cow<'static, str>>, cfm: f64, source: Source) -> RequiredFlow {
    RequiredFlow {
        flow: VolumeFlow::from_cfm(cfm),
        row: row.into(),
        ports: Vec::new(),
        duct: None,
        source,
    }
}

/// The first row whose largest size \[in\] is not below this one.
fn row_of<T, const N: usize>(
    what: &'static str,
    size: Length,
    rows: [(f64, T); N],
) -> Result<T, LossError> {
    let max = rows.iter().map(|&(to, _)| to).fold(0.0, f64::max);
    let least = Length::from_in(0.1);
    let mut rows = rows.into_iter();
    match rows.find(|&(to, _)| least <= size && size <= Length::from_in(to)) {
        Some((_, row)) => Ok(row),
        None => Err(LossError {
            what,
            value: size.as_in(),
            unit: " in",
            min: 0.1,
            max,
        }),
    }
}

fn wheel(
    kind: &'static str,
    [listed, cfm]: [f64; 2],
    width: Length,
    source: Source,
) -> Result<RequiredFlow, RequirementError> {
    let inches = LossError::within("wheel width", width.as_in(), " in", 0.05, 100.0)?;
    let wider = (inches / listed).max(1.0);
    let row = if wider > 1.0 {
        format!("{kind}, {cfm} cfm for {listed} in of width, more in proportion")
    } else {
        format!("{kind}, up to {listed} in wide")
    };
    Ok(cfm_row(row, cfm * wider, source))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn drives_of_machines_are_of_machines() {
        let of = |kw| check_kw(Power::from_kw(kw)).is_ok();
        let told = [
            of(0.009),
            of(0.01),
            of(7.5),
            of(1000.0),
            of(1001.0),
            of(f64::NAN),
        ];
        assert_eq!(told, [false, true, true, true, false, false]);
    }
}
