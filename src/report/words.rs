//! Numbers with no more digits than they deserve, and places as a shop owner calls them.

use crate::{
    bore::Bore,
    loss::{Elbow, Filter, HoseKind, Part, Separator},
    place::{Name, Place},
    quantity::{Length, Pressure, Temperature, UnitSystem, Velocity, VolumeFlow},
    solve::{Grade, Output},
    system::{Parameter, System},
};

/// Names of a list that are told; of more only how many.
const NAMES: usize = 6;

/// Words and numbers in a system of units.
#[derive(Debug, Clone, Copy)]
pub(super) struct Words {
    pub(super) units: UnitSystem,
}

/// A number to so many significant digits, without an exponent.
pub(super) fn digits(value: f64, count: usize) -> String {
    if !value.is_finite() {
        return "-".into();
    }
    let rounded: f64 = format!("{value:.*e}", count.saturating_sub(1))
        .parse()
        .unwrap_or(value);
    if rounded.abs() < 1e-8 {
        return "0".into();
    }
    let before = rounded.abs().log10().floor() as i32 + 1;
    let decimals = usize::try_from(count as i32 - before).unwrap_or(0).min(8);
    format!("{rounded:.decimals$}")
}

/// The same without zeros at its end: of sizes and lengths, which are as they were given.
fn plain(value: f64, count: usize) -> String {
    let text = digits(value, count);
    match text.contains('.') {
        true => text.trim_end_matches('0').trim_end_matches('.').to_owned(),
        false => text,
    }
}

/// `84 %`.
pub(super) fn percent(share: f64) -> String {
    match format!("{:.0}", 100.0 * share).as_str() {
        "0" | "-0" if share != 0.0 => "under 1 %".into(),
        "-0" => "0 %".into(),
        text => format!("{text} %"),
    }
}

/// How many significant digits a value of this grade deserves.
pub(super) const fn deserved(grade: Grade) -> usize {
    match grade {
        Grade::Calculated => 3,
        Grade::Estimate | Grade::RoughGuess => 2,
    }
}

/// `1 hood`, `2 hoods`.
pub(super) fn count(number: usize, one: &str) -> String {
    match number {
        1 => format!("1 {one}"),
        _ => format!("{number} {one}s"),
    }
}

/// Names with ` + ` between; of many only the first.
pub(super) fn together<'n>(names: impl IntoIterator<Item = &'n Name>) -> String {
    let names: Vec<&str> = names.into_iter().map(Name::as_str).collect();
    let told = names.iter().take(NAMES).copied().collect::<Vec<_>>();
    let told = told.join(" + ");
    match names.len().saturating_sub(NAMES) {
        0 => told,
        more => format!("{told} and {more} more"),
    }
}

impl Words {
    fn is_us(self) -> bool {
        self.units == UnitSystem::Us
    }

    pub(super) const fn flow_unit(self) -> &'static str {
        match self.units {
            UnitSystem::Metric => "m3/h",
            UnitSystem::Us => "cfm",
        }
    }

    pub(super) const fn pressure_unit(self) -> &'static str {
        self.units.pressure_unit()
    }

    pub(super) const fn velocity_unit(self) -> &'static str {
        match self.units {
            UnitSystem::Metric => "m/s",
            UnitSystem::Us => "fpm",
        }
    }

    pub(super) const fn length_unit(self) -> &'static str {
        match self.units {
            UnitSystem::Metric => "m",
            UnitSystem::Us => "ft",
        }
    }

    /// A flow in m3/s as a number in the unit of flows.
    pub(super) fn of_flow(self, m3_s: f64) -> f64 {
        self.units.flow(VolumeFlow::from_m3_s(m3_s))
    }

    fn of_pressure(self, pa: f64) -> f64 {
        self.units.pressure(Pressure::from_pa(pa))
    }

    fn of_length(self, length: Length) -> f64 {
        if self.is_us() {
            length.as_ft()
        } else {
            length.as_m()
        }
    }

    pub(super) fn flow(self, flow: VolumeFlow, count: usize) -> String {
        digits(self.of_flow(flow.as_m3_s()), count)
    }

    pub(super) fn flow_with_unit(self, flow: VolumeFlow, count: usize) -> String {
        format!("{} {}", self.flow(flow, count), self.flow_unit())
    }

    pub(super) fn pressure(self, pressure: Pressure, count: usize) -> String {
        digits(self.of_pressure(pressure.as_pa()), count)
    }

    pub(super) fn pressure_with_unit(self, pressure: Pressure, count: usize) -> String {
        format!(
            "{} {}",
            self.pressure(pressure, count),
            self.pressure_unit()
        )
    }

    /// A loss per length in Pa/m as a number in the units of pressure and length.
    pub(super) fn pressure_per_length(self, pa_per_m: f64) -> f64 {
        self.of_pressure(pa_per_m) / self.of_length(Length::from_m(1.0))
    }

    pub(super) fn velocity(self, velocity: Velocity) -> String {
        digits(self.units.velocity(velocity), 3)
    }

    pub(super) fn velocity_with_unit(self, velocity: Velocity) -> String {
        format!("{} {}", self.velocity(velocity), self.velocity_unit())
    }

    pub(super) fn length(self, length: Length) -> String {
        format!(
            "{} {}",
            plain(self.of_length(length), 3),
            self.length_unit()
        )
    }

    pub(super) fn temperature(self, kelvin: f64) -> String {
        let temperature = Temperature::from_k(kelvin);
        if self.is_us() {
            format!("{} F", plain(temperature.as_fahrenheit(), 3))
        } else {
            format!("{} C", plain(temperature.as_celsius(), 3))
        }
    }

    pub(super) fn size(self, bore: Bore) -> String {
        let side = |length: Length| {
            if self.is_us() {
                plain(length.as_in(), 3)
            } else {
                plain(length.as_mm(), 3)
            }
        };
        let unit = if self.is_us() { "in" } else { "mm" };
        match bore {
            Bore::Round(diameter) => format!("{} {unit}", side(diameter)),
            Bore::Rectangular { width, height } => {
                format!("{} x {} {unit}", side(width), side(height))
            }
        }
    }

    /// A number of an output, with its unit.
    pub(super) fn output(self, output: &Output, value: f64, count: usize) -> String {
        match output {
            Output::Hood(_) | Output::Machine(_) | Output::Section(_) | Output::TotalFlow => {
                self.flow_with_unit(VolumeFlow::from_m3_s(value), count)
            }
            _ => self.pressure_with_unit(Pressure::from_pa(value), count),
        }
    }

    /// A number of an element, with its unit.
    pub(super) fn parameter(self, parameter: Parameter, value: f64) -> String {
        match parameter {
            Parameter::Required => self.flow_with_unit(VolumeFlow::from_m3_s(value), 3),
            Parameter::Temperature => self.temperature(value),
            Parameter::Altitude | Parameter::Length => self.length(Length::from_m(value)),
            Parameter::Humidity | Parameter::Opening => percent(value),
            Parameter::Shape => plain(value, 2),
            Parameter::Roughness => format!("{} mm", plain(1e3 * value, 2)),
            Parameter::Drop | Parameter::LinearDrop | Parameter::QuadraticDrop => {
                self.pressure_with_unit(Pressure::from_pa(value), 3)
            }
            _ => format!("{}{}", plain(value, 3), parameter.unit()),
        }
    }

    /// A part as the table of inputs tells it.
    pub(super) fn part(self, part: &Part) -> String {
        let rated = |what: &str, drop: Pressure, at: VolumeFlow| {
            let drop = self.pressure_with_unit(drop, 3);
            format!("{what} ({drop} at {})", self.flow_with_unit(at, 3))
        };
        match part {
            Part::Duct(length) => format!("{} duct", self.length(*length)),
            Part::Hose(hose) => {
                let kind = match hose.kind {
                    HoseKind::Wire { .. } => "wire hose",
                    HoseKind::Ribbed { .. } => "ribbed hose",
                    HoseKind::Corrugated { .. } => "corrugated hose",
                };
                format!("{} {kind}", self.length(hose.length))
            }
            Part::Elbow(elbow) => match elbow {
                Elbow::K(k) => format!("elbow of K {}", plain(*k, 2)),
                Elbow::Gored { pieces, angle, .. } => {
                    format!("elbow {} deg of {pieces} pieces", plain(angle.as_deg(), 3))
                }
                Elbow::Stamped { angle, .. } => {
                    format!("stamped elbow {} deg", plain(angle.as_deg(), 3))
                }
                Elbow::Smooth { angle, .. } => format!("bend {} deg", plain(angle.as_deg(), 3)),
                Elbow::Mitre { angle } => format!("mitre {} deg", plain(angle.as_deg(), 3)),
            },
            Part::Gate(gate) if gate.opening < 1.0 => {
                format!("gate ({} open)", percent(gate.opening))
            }
            Part::Filter(Filter::Rated(rating)) => rated("filter", rating.drop, rating.at),
            Part::Separator(Separator::Rated(rating)) => rated("separator", rating.drop, rating.at),
            other => kind(other).to_owned(),
        }
    }
}

/// A place as the shop owner calls it.
pub(super) fn place(system: &System, place: &Place) -> String {
    let collector = &system.collector;
    let run = |side: &str, runs: &[crate::system::Run], run: usize, part: Option<usize>| {
        let part = part.and_then(|part| runs.get(run)?.parts.get(part));
        match part {
            Some(part) => format!("{} {side} the fan", kind(part)),
            None => format!("run {} {side} the fan", run.saturating_add(1)),
        }
    };
    match place {
        Place::System => "the whole system".into(),
        Place::Air => "air".into(),
        Place::Fan => "fan".into(),
        Place::Collector => "collector".into(),
        Place::Before { run: at, part } => run("before", &collector.before, *at, *part),
        Place::After { run: at, part } => run("after", &collector.after, *at, *part),
        Place::Section(name) => format!("section {name}"),
        Place::Part { section, part } => {
            let mut sections = system.sections.iter();
            let found = sections.find(|at| at.id == *section);
            match found.and_then(|at| at.parts.get(*part)) {
                Some(part) => format!("{} of {section}", kind(part)),
                None => format!("part {} of {section}", part.saturating_add(1)),
            }
        }
        Place::Join(name) => format!("wye of {name}"),
        Place::Hood(name) => format!("hood {name}"),
        Place::Machine(name) => format!("machine {name}"),
    }
}

fn kind(part: &Part) -> &'static str {
    match part {
        Part::Duct(_) => "duct",
        Part::Hose(_) => "hose",
        Part::Elbow(_) => "elbow",
        Part::Transition(_) => "change of size",
        Part::Gate(_) => "gate",
        Part::Filter(_) => "filter",
        Part::Separator(_) => "separator",
        Part::Port(_) => "port",
        Part::Silencer(_) => "silencer",
        Part::K(_) => "fitting",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn digits_are_significant_ones_without_exponent() {
        assert_eq!(digits(1234.5, 3), "1230");
        assert_eq!(digits(0.099_96, 3), "0.100");
        assert_eq!(digits(-8.13, 2), "-8.1");
        assert_eq!(digits(0.0, 3), "0");
        assert_eq!(digits(-1e-300, 3), "0");
        assert_eq!(digits(f64::NAN, 3), "-");
        assert_eq!(plain(6.0, 3), "6");
        assert_eq!(plain(2.50, 3), "2.5");
        assert_eq!(plain(100.0, 3), "100");
    }

    #[test]
    fn of_many_names_the_first_are_told() {
        let names: Vec<Name> = (0..9).map(|i| Name::from(format!("m{i}"))).collect();
        assert_eq!(together(&names), "m0 + m1 + m2 + m3 + m4 + m5 and 3 more");
    }
}
