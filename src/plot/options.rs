//! How large a picture is, in which units it speaks, and what keeps it from being drawn.

use crate::{
    bore::Bore,
    place::Name,
    quantity::{Length, Pressure, UnitSystem, Velocity, VolumeFlow},
};

/// Smallest and largest side of a picture, in pixels.
const SIDES: std::ops::RangeInclusive<u32> = 320..=4000;

/// How a picture writes its numbers.
impl UnitSystem {
    pub(super) const fn flow_unit(self) -> &'static str {
        match self {
            Self::Metric => "m³/h",
            Self::Us => "cfm",
        }
    }

    /// Decimals that a pressure deserves.
    pub(super) const fn pressure_decimals(self) -> usize {
        match self {
            Self::Metric => 0,
            Self::Us => 2,
        }
    }

    /// Without its unit.
    pub(super) fn flow_figure(self, flow: VolumeFlow) -> String {
        figure(self.flow(flow), 0)
    }

    pub(super) fn flow_text(self, flow: VolumeFlow) -> String {
        format!("{} {}", self.flow_figure(flow), self.flow_unit())
    }

    pub(super) fn pressure_text(self, pressure: Pressure) -> String {
        let figure = figure(self.pressure(pressure), self.pressure_decimals());
        format!("{figure} {}", self.pressure_unit())
    }

    pub(super) fn velocity_text(self, velocity: Velocity) -> String {
        match self {
            Self::Metric => format!("{} m/s", figure(self.velocity(velocity), 1)),
            Self::Us => format!("{} fpm", figure(self.velocity(velocity), 0)),
        }
    }

    pub(super) fn size_text(self, size: Bore) -> String {
        let side = |length: Length| match self {
            Self::Metric => figure(length.as_mm(), 0),
            Self::Us => {
                let text = figure(length.as_in(), 1);
                text.strip_suffix(".0").map(str::to_owned).unwrap_or(text)
            }
        };
        let unit = match self {
            Self::Metric => "mm",
            Self::Us => "in",
        };
        match size {
            Bore::Round(diameter) => format!("{} {unit}", side(diameter)),
            Bore::Rectangular { width, height } => {
                format!("{} × {} {unit}", side(width), side(height))
            }
        }
    }
}

/// A number for reading, with a true minus; a dash where there is none to tell.
pub(super) fn figure(value: f64, decimals: usize) -> String {
    if !value.is_finite() {
        return "–".into();
    }
    let text = if value.abs() < 1e7 {
        format!("{value:.decimals$}")
    } else {
        format!("{value:.1e}")
    };
    match text.strip_prefix('-') {
        // No number is less than nothing once it is rounded to it.
        Some(rest) if rest.chars().all(|c| matches!(c, '0' | '.')) => rest.to_owned(),
        Some(rest) => format!("−{rest}"),
        None => text,
    }
}

/// How large a picture is and in which units it speaks.
///
/// ```
/// use airsplit::{PlotOptions, UnitSystem};
/// let options = PlotOptions::new()
///     .with_units(UnitSystem::Us)
///     .with_size(1000, 620)
///     .with_title("Barn, after the new main");
/// assert_eq!(options.width, 1000);
/// ```
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct PlotOptions {
    /// Width in pixels, 320 to 4000. A picture grows wider where its columns need it, as that of a
    /// tree with many joins in a row.
    pub width: u32,
    /// Height in pixels, 320 to 4000, of what has no rows of its own to count; lists of machines,
    /// elements and names make a picture as tall as they need.
    pub height: u32,
    /// The units.
    pub units: UnitSystem,
    /// The heading; `None`: each picture says what it shows.
    pub title: Option<String>,
}

impl Default for PlotOptions {
    fn default() -> Self {
        Self::new()
    }
}

impl PlotOptions {
    /// 920 by 560 pixels, in metric units.
    #[must_use]
    pub const fn new() -> Self {
        Self {
            width: 920,
            height: 560,
            units: UnitSystem::Metric,
            title: None,
        }
    }

    /// In these units.
    #[must_use]
    pub const fn with_units(mut self, units: UnitSystem) -> Self {
        self.units = units;
        self
    }

    /// Of this size, in pixels.
    #[must_use]
    pub const fn with_size(mut self, width: u32, height: u32) -> Self {
        self.width = width;
        self.height = height;
        self
    }

    /// Under this heading.
    #[must_use]
    pub fn with_title(mut self, title: impl Into<String>) -> Self {
        self.title = Some(title.into());
        self
    }

    /// Width and height, judged; no picture is narrower than its columns need.
    pub(super) fn size(&self, least_width: u32) -> Result<(f64, f64), PlotError> {
        for (what, side) in [("width", self.width), ("height", self.height)] {
            if !SIDES.contains(&side) {
                return Err(PlotError::Size { what, side });
            }
        }
        Ok((
            f64::from(self.width.max(least_width)),
            f64::from(self.height),
        ))
    }

    pub(super) fn heading(&self, usual: &str) -> String {
        self.title.clone().unwrap_or_else(|| usual.to_owned())
    }
}

/// Why there is no picture.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum PlotError {
    /// A side of the picture that cannot be.
    #[error("the {what} of a picture is {side} pixels; it must be 320 to 4000")]
    Size {
        /// Which side.
        what: &'static str,
        /// What was asked for.
        side: u32,
    },
    /// There is nothing to show.
    #[error("nothing to show: {missing}; give what is missing")]
    Nothing {
        /// What is missing.
        missing: &'static str,
    },
    /// More than can be told apart in one picture.
    #[error("{given} {what} are too many for one picture; give at most {most}")]
    TooMany {
        /// Of what.
        what: &'static str,
        /// How many were given.
        given: usize,
        /// How many can be shown.
        most: usize,
    },
    /// The operating point was made from another system.
    #[error("the operating point is of another system: it has no section {section:?}; give the one that a network of this system found", section = .section.as_str())]
    ForeignPoint {
        /// A section that it lacks.
        section: Name,
    },
    /// The fan's curve cannot be told in the air of the system.
    #[error("the fan's curve cannot be told in the air of the system: {reason}; check the air")]
    Fan {
        /// Why.
        reason: String,
    },
    /// Lines could not be drawn.
    #[error("cannot draw: {reason}; tell the keepers of this crate, with the data")]
    Drawing {
        /// What the drawing says.
        reason: String,
    },
}
