//! What the gauge across the filter shows when a machine begins to fall short.

use super::transport::{HINT, Needs, hood_flows};
use crate::{
    loss::{Filter, FilterTerms, LossError, Part, RatedDrop},
    place::{Name, Place},
    quantity::{Area, Pressure, VolumeFlow},
    root::bracketed_root,
    solve::{Network, OperatingPoint, SolveError, Status},
    system::{Index, ModelErrors, Run, System, UnknownName},
};
use std::{collections::BTreeMap, fmt};

/// Most that dust may add to the filter, Pa per m3/s: 10 bar at 1 l/s.
const MOST_DUST: f64 = 1e9;

/// Shares this near to 1 are 1; a fan that leaps leaves them farther.
const MET: f64 = 1e-9;

/// Flow at which a filter is told as rated drops: a power of two, so that nothing is rounded.
const TOLD_AT_M3S: f64 = 1.0 / 131_072.0;

/// What a filter gauge is to be marked for.
#[derive(Debug, Clone, PartialEq, Default)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields, default)
)]
#[non_exhaustive]
pub struct FilterGaugeOptions {
    /// Which filter, by its part; needed only where there are several.
    pub filter: Option<Place>,
    /// Machines that run with further gates open (names of hoods or machines); the others run
    /// alone.
    pub companions: BTreeMap<Name, Vec<Name>>,
    /// How fast dust gathers, where that is known: then hours are told.
    pub loading: Option<DustLoading>,
}

/// How fast dust gathers on a filter.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
pub struct DustLoading {
    /// Dust that reaches the cloth and stays there \[kg/h\]: 1e-9 to 1e6. What a separator before
    /// it catches does not count.
    pub kg_per_h: f64,
    /// Area of the cloth, 0.001 to 100 000 m2; not needed where the filter is told as cloth.
    #[cfg_attr(feature = "serde", serde(default))]
    pub area: Option<Area>,
    /// Specific resistance K2 of the dust \[1/s\], above 0 to 1e9; not needed where the filter is
    /// told as cloth with a cake. See [`DustCake`](crate::DustCake) for two wood dusts.
    #[cfg_attr(feature = "serde", serde(default))]
    pub k2_per_s: Option<f64>,
}

impl FilterGaugeOptions {
    /// For this filter.
    #[must_use]
    pub fn with_filter(mut self, filter: Place) -> Self {
        self.filter = Some(filter);
        self
    }

    /// With these gates open besides when that machine runs.
    #[must_use]
    pub fn with_companions<N: Into<Name>>(
        mut self,
        machine: impl Into<Name>,
        gates: impl IntoIterator<Item = N>,
    ) -> Self {
        let gates = gates.into_iter().map(Into::into).collect();
        self.companions.insert(machine.into(), gates);
        self
    }

    /// With dust gathering so fast.
    #[must_use]
    pub fn with_loading(mut self, loading: DustLoading) -> Self {
        self.loading = Some(loading);
        self
    }
}

/// The marks of a filter gauge: the pressure across the filter at which each machine falls short.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct FilterGauge {
    /// The filter.
    pub filter: Place,
    /// One for each machine with an answer, in the order of the model.
    pub machines: Vec<MachineGauge>,
    /// The machines without one.
    pub failures: Vec<GaugeFailure>,
}

/// The mark of one machine.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct MachineGauge {
    /// The machine.
    pub machine: Name,
    /// The gates that are open (hoods).
    pub open: Vec<Name>,
    /// The least flow over requirement, of the machine or of a hood of it with one of its own, with
    /// the filter as it is now; `None` where nothing is required.
    pub share_now: Option<f64>,
    /// The filter's pressure drop now.
    pub pressure_now: Pressure,
    /// How the answer of now stands.
    pub status: Status,
    /// When it falls short.
    pub outcome: GaugeOutcome,
}

/// When a machine falls short.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize),
    serde(rename_all = "snake_case")
)]
#[non_exhaustive]
pub enum GaugeOutcome {
    /// It has enough now, and falls short at this mark.
    FallsShort(GaugeMark),
    /// It is short already, with the filter as it is now.
    AlreadyShort {
        /// The mark below which a cleaner filter would be enough; `None` where the machine is short
        /// even with the filter clean (as it is told, where no cleaner state of it is known).
        enough_below: Option<GaugeMark>,
    },
    /// However much dust there is, it never falls short: it needs nothing, or draws past the filter.
    NeverShort,
}

/// A mark on the gauge.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct GaugeMark {
    /// The filter's loss of total pressure: what a gauge shows between two taps in ducts of one
    /// size.
    pub pressure: Pressure,
    /// Flow through the filter there.
    pub flow: VolumeFlow,
    /// Whose requirement is the first not to be met: the machine's, or that of one of its hoods.
    pub falls_short: Place,
    /// The loss there over that of the clean filter at the same flow; `None` where that is zero.
    pub times_clean: Option<f64>,
    /// Dust on the cloth there \[kg/m2\]; `None` where area or K2 are not known.
    pub load_kg_m2: Option<f64>,
    /// Hours until then, from the state of now; `None` without a loading, or where it is past.
    pub hours: Option<f64>,
    /// The fan's curve rises somewhere and the balance leaps there to a lower flow, past the
    /// requirement: the mark is that of the last balance with enough.
    pub leaps: bool,
    /// How the answer stands there.
    pub status: Status,
}

/// A machine without a mark.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct GaugeFailure {
    /// The machine.
    pub machine: Name,
    /// Why; serialised as text.
    #[cfg_attr(feature = "serde", serde(serialize_with = "crate::solve::as_text"))]
    pub error: FilterGaugeError,
}

/// Why there is no filter gauge.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum FilterGaugeError {
    /// Faults of the model.
    #[error(transparent)]
    Model(#[from] ModelErrors),
    /// A machine or hood that the model does not have.
    #[error(transparent)]
    Unknown(#[from] UnknownName),
    /// A value outside its range.
    #[error(transparent)]
    Value(#[from] LossError),
    /// No filter to watch.
    #[error("the model has no filter; give the collector one among its parts")]
    NoFilter,
    /// More than one filter.
    #[error("the model has {} filters; say which: {}", places.len(), one_by_one(places))]
    SeveralFilters {
        /// Where they are.
        places: Vec<Place>,
    },
    /// The place that was named holds no filter.
    #[error("there is no filter at {place}; name the part that is one")]
    NotAFilter {
        /// The place.
        place: Place,
    },
    /// The fan's curve was measured with its filter fitted, so that its loss is not told apart.
    #[error(
        "{place}: the fan's curve contains this filter, so its loss cannot change; give a curve of the bare fan"
    )]
    InFanCurve {
        /// The filter.
        place: Place,
    },
    /// Hours were asked for without all that they depend on.
    #[error("hours need {what}: give it with the loading, or tell the filter as cloth with a cake")]
    LoadingUnknown {
        /// What is missing.
        what: &'static str,
    },
    /// The solver has no answer for a state of the filter.
    #[error(transparent)]
    Solve(#[from] SolveError),
    /// The search for the mark lost its way.
    #[error("no mark found up to {most_pa_s_m3:.0} Pa per m3/s of dust")]
    NoMark {
        /// The most that was tried \[Pa s/m3\].
        most_pa_s_m3: f64,
    },
}

fn one_by_one(places: &[Place]) -> String {
    let places: Vec<_> = places.iter().map(ToString::to_string).collect();
    places.join("; ")
}

impl FilterGaugeError {
    /// Whether the question was at fault, rather than the search for its answer.
    #[must_use]
    pub fn is_input(&self) -> bool {
        match self {
            Self::Solve(error) => error.is_input(),
            Self::NoMark { .. } => false,
            _ => true,
        }
    }
}

/// The pressure across the filter at which each machine falls short, in its own open set.
///
/// Dust adds a loss in step with flow, dp = K2 W Q/A, to that of the clean filter: a cycle in its
/// clean state, cloth without its cake, any other filter as it is told. It grows until the least
/// share of the machine's requirement, or of one of its hoods', is 1: the root of a function that
/// falls, bracketed between no dust and the first of a doubling row that leaves too little, found
/// to the last bits. The mark does not depend on that law, only the load and the hours do: what
/// a machine gets is decided by the pressure across the filter alone.
///
/// Hours are load x area / rate. They stand on a K2 that is known within a factor of some units
/// ([`DustCake`](crate::DustCake)), on dust that spreads evenly and on no cleaning in between: a
/// rough guess. Source of the law: *EPA Air Pollution Control Cost Manual*, EPA/452/B-02-001,
/// section 6, ch. 1 (form transcribed from memory, not re-read).
///
/// ```
/// # use airsplit::*;
/// # fn main() -> Result<(), Box<dyn std::error::Error>> {
/// # #[cfg(feature = "serde")] {
/// let study: Study = toml::from_str(&std::fs::read_to_string("examples/chair_shop.toml")?)?;
/// let gauge = filter_gauge(&study.system, &FilterGaugeOptions::default())?;
/// if let GaugeOutcome::FallsShort(mark) = &gauge.machines[0].outcome {
///     println!("planer: mark the gauge at {:.0} Pa", mark.pressure.as_pa());
/// }
/// # }
/// # Ok(())
/// # }
/// ```
///
/// # Errors
///
/// [`FilterGaugeError`]: a fault of the model, an unknown name, no filter or several, one that the
/// fan's curve contains, a loading that is out of range or lacks area or K2. A machine without an
/// answer is no error: it stands in [`FilterGauge::failures`].
pub fn filter_gauge(
    system: &System,
    options: &FilterGaugeOptions,
) -> Result<FilterGauge, FilterGaugeError> {
    let network = Network::new(system)?;
    let (place, filter) = watched(system, options.filter.as_ref())?;
    let growth = Growth::new(filter, options.loading.as_ref())?;
    let index = Index::new("machine", system.machines.iter().map(|machine| &machine.id));
    for (machine, gates) in &options.companions {
        index.find(machine.as_str())?;
        network.open(gates)?;
    }
    let mut watch = Watch {
        now: &network,
        system: system.clone(),
        place: place.clone(),
        growth,
    };
    let mut gauge = FilterGauge {
        filter: place,
        machines: Vec::new(),
        failures: Vec::new(),
    };
    for machine in &system.machines {
        let own = system.hoods_of(&machine.id);
        let own = own.map(|(_, hood)| hood.id.clone());
        let with = options.companions.get(&machine.id).into_iter().flatten();
        let open: Vec<Name> = own.chain(with.cloned()).collect();
        match watch.machine(system, &machine.id, open) {
            Ok(mark) => gauge.machines.push(mark),
            Err(error) => gauge.failures.push(GaugeFailure {
                machine: machine.id.clone(),
                error,
            }),
        }
    }
    Ok(gauge)
}

/// The filter to watch, which must be charged.
fn watched<'s>(
    system: &'s System,
    asked: Option<&Place>,
) -> Result<(Place, &'s Filter), FilterGaugeError> {
    let mut found: Vec<(Place, &Filter)> = Vec::new();
    let mut look = |parts: &'s [Part], place: &dyn Fn(usize) -> Place| {
        for (i, part) in parts.iter().enumerate() {
            if let Part::Filter(filter) = part {
                found.push((place(i), filter));
            }
        }
    };
    for section in &system.sections {
        look(&section.parts, &|part| Place::Part {
            section: section.id.clone(),
            part,
        });
    }
    for (run, at) in system.collector.before.iter().zip(0..) {
        let part = |part| Place::Before {
            run: at,
            part: Some(part),
        };
        look(&run.parts, &part);
    }
    for (run, at) in system.collector.after.iter().zip(0..) {
        let part = |part| Place::After {
            run: at,
            part: Some(part),
        };
        look(&run.parts, &part);
    }
    let (place, filter) = match (asked, found.as_slice()) {
        (_, []) => return Err(FilterGaugeError::NoFilter),
        (None, [only]) => only.clone(),
        (None, several) => {
            return Err(FilterGaugeError::SeveralFilters {
                places: several.iter().map(|(place, _)| place.clone()).collect(),
            });
        }
        (Some(asked), several) => {
            let named = several.iter().find(|(place, _)| place == asked);
            named.cloned().ok_or_else(|| FilterGaugeError::NotAFilter {
                place: asked.clone(),
            })?
        }
    };
    let fan = system.collector.fan.as_ref();
    let is_section = matches!(place, Place::Part { .. });
    if !is_section && fan.is_some_and(|fan| fan.fitted().filter) {
        return Err(FilterGaugeError::InFanCurve { place });
    }
    Ok((place, filter))
}

/// What dust makes of a filter.
#[derive(Debug, Clone, Copy)]
struct Growth {
    clean: FilterTerms,
    now: FilterTerms,
    /// kg/m2 of dust for each Pa s/m3 that it adds: area over K2.
    load_per_dust: Option<f64>,
    /// Hours for each kg/m2.
    hours_per_load: Option<f64>,
}

impl Growth {
    fn new(filter: &Filter, loading: Option<&DustLoading>) -> Result<Self, FilterGaugeError> {
        // However deep the states are nested: the cleanest of the cleanest.
        let mut clean = filter;
        while let Filter::Cycle { clean: cleaner, .. } = clean {
            clean = cleaner;
        }
        let cloth = filter.cloth().or(clean.cloth());
        let clean = match clean {
            Filter::Cloth(cloth) => {
                let mut bare = *cloth;
                bare.cake = None;
                Filter::Cloth(bare).terms()?
            }
            told => told.terms()?,
        };
        let area = loading.and_then(|loading| loading.area);
        let area = area.or(cloth.map(|cloth| cloth.area));
        let k2 = loading.and_then(|loading| loading.k2_per_s);
        let k2 = k2.or(cloth.and_then(|cloth| cloth.cake).map(|cake| cake.k2_per_s));
        if let Some(area) = area {
            LossError::within("filter area", area.as_m2(), " m2", 1e-3, 1e5)?;
        }
        if let (Some(_), Some(k2)) = (loading, k2) {
            LossError::within("K2 of the dust", k2, " 1/s", 1e-9, 1e9)?;
        }
        let mut hours_per_load = None;
        if let Some(loading) = loading {
            let what = "rate at which dust gathers";
            let rate = LossError::within(what, loading.kg_per_h, " kg/h", 1e-9, 1e6)?;
            let missing = |what| FilterGaugeError::LoadingUnknown { what };
            let area = area.ok_or_else(|| missing("the area of the cloth"))?;
            k2.ok_or_else(|| missing("K2 of the dust"))?;
            hours_per_load = Some(area.as_m2() / rate);
        }
        let known = area.zip(k2.filter(|k2| *k2 > 0.0));
        Ok(Self {
            clean,
            now: filter.terms()?,
            load_per_dust: known.map(|(area, k2)| area.as_m2() / k2),
            hours_per_load,
        })
    }

    /// The filter with dust that adds so many Pa s/m3.
    fn with_dust(&self, dust_pa_s_m3: f64) -> Filter {
        let at = VolumeFlow::from_m3_s(TOLD_AT_M3S);
        let linear = (self.clean.linear_pa_s_m3 + dust_pa_s_m3) * TOLD_AT_M3S;
        let quadratic = self.clean.quadratic_pa_s2_m6 * TOLD_AT_M3S * TOLD_AT_M3S;
        let told = |drop| RatedDrop {
            drop: Pressure::from_pa(drop),
            at,
        };
        Filter::Terms {
            linear: told(linear),
            quadratic: told(quadratic),
        }
    }
}

/// A system whose filter gathers dust.
struct Watch<'n> {
    /// The system as it is now.
    now: &'n Network,
    system: System,
    place: Place,
    growth: Growth,
}

impl Watch<'_> {
    fn machine(
        &mut self,
        system: &System,
        machine: &Name,
        open: Vec<Name>,
    ) -> Result<MachineGauge, FilterGaugeError> {
        let point = self.now.operating_point(&self.now.open(&open)?)?;
        // Only the machine's own hoods count: its companions are open for the sake of the air.
        let own = point
            .hoods
            .iter()
            .map(|h| h.open && h.machine.as_ref() == Some(machine));
        let needs = Needs::of(system, &own.collect::<Vec<_>>());
        let share_now = needs
            .least_share(&hood_flows(&point))
            .map(|(share, _)| share);
        let q_now = self.through(&point);
        let is_short = share_now.is_some_and(|share| share < 1.0);
        let mark = self.mark(&needs, &open)?;
        let outcome = match mark {
            Mark::Never if !is_short => GaugeOutcome::NeverShort,
            Mark::At(mark) if !is_short => GaugeOutcome::FallsShort(mark),
            Mark::At(mark) => GaugeOutcome::AlreadyShort {
                enough_below: Some(GaugeMark {
                    hours: None,
                    ..mark
                }),
            },
            Mark::ShortWhenClean | Mark::Never => GaugeOutcome::AlreadyShort { enough_below: None },
        };
        Ok(MachineGauge {
            machine: machine.clone(),
            open: point
                .hoods
                .iter()
                .filter(|h| h.open)
                .map(|h| h.name.clone())
                .collect(),
            share_now,
            pressure_now: Pressure::from_pa(self.growth.now.drop_pa(q_now)),
            status: point.status,
            outcome,
        })
    }

    /// The dust with which the least share is 1.
    fn mark(&mut self, needs: &Needs, open: &[Name]) -> Result<Mark, FilterGaugeError> {
        let clean = self.with_dust(needs, open, 0.0)?.spare;
        if clean < 0.0 {
            return Ok(Mark::ShortWhenClean);
        }
        let mut failed = None;
        let mut spare = |dust| match self.with_dust(needs, open, dust) {
            Ok(state) => state.spare,
            // The fan's curve and the system's only touch there; a trace more dust and it leaps.
            Err(error) if self.is_edge(&error) => -1.0,
            Err(error) => {
                failed = Some(error);
                f64::NAN
            }
        };
        let (mut high, mut at_high) = (1.0, clean);
        while (0.0..f64::INFINITY).contains(&at_high) && high < MOST_DUST {
            high *= 2.0;
            at_high = spare(high);
        }
        if at_high >= 0.0 {
            return Ok(Mark::Never);
        }
        let dust = bracketed_root(&mut spare, 0.0, high, 0.0);
        if let Some(error) = failed {
            return Err(error);
        }
        // At a leap the root is either side of it: back to where there is enough.
        let back = [0.0, 8.0 * f64::EPSILON, 1e-12, 1e-9, 1e-6];
        for dust in dust
            .iter()
            .flat_map(|dust| back.map(|back| dust * (1.0 - back)))
        {
            match self.with_dust(needs, open, dust) {
                Ok(state) if state.spare >= -MET => return Ok(Mark::At(self.told(dust, state))),
                Err(error) if !self.is_edge(&error) => return Err(error),
                _ => {}
            }
        }
        Err(FilterGaugeError::NoMark { most_pa_s_m3: high })
    }

    /// Whether that is a balance where two curves only touch, which no iteration finds.
    fn is_edge(&self, error: &FilterGaugeError) -> bool {
        let fan = self.system.collector.fan.as_ref();
        let rises = fan.is_some_and(|fan| fan.rises());
        rises && matches!(error, FilterGaugeError::Solve(error) if error.is_not_converged())
    }

    /// The answer with so much dust.
    fn with_dust(
        &mut self,
        needs: &Needs,
        open: &[Name],
        dust: f64,
    ) -> Result<Dusty, FilterGaugeError> {
        let filter = self.growth.with_dust(dust);
        if let Some(part) = part_at(&mut self.system, &self.place) {
            *part = Part::Filter(filter);
        }
        let network = Network::new(&self.system)?;
        let point = network.operating_point(&network.open(open)?)?;
        let (share, whose) = match needs.least_share(&hood_flows(&point)) {
            Some((share, whose)) => (share, whose.clone()),
            None => (f64::INFINITY, Place::System),
        };
        Ok(Dusty {
            spare: share - 1.0,
            whose,
            point,
        })
    }

    fn told(&self, dust: f64, state: Dusty) -> GaugeMark {
        let growth = &self.growth;
        let q = self.through(&state.point);
        let clean = growth.clean.drop_pa(q);
        let pressure = clean + dust * q;
        let load = growth.load_per_dust.map(|per_dust| dust * per_dust);
        // What is there now, as dust that costs as much at this flow.
        let now = (growth.now.drop_pa(q) - clean) / q;
        let left = growth.load_per_dust.map(|per_dust| (dust - now) * per_dust);
        let hours = left
            .zip(growth.hours_per_load)
            .map(|(left, hours)| left * hours);
        GaugeMark {
            pressure: Pressure::from_pa(pressure),
            flow: VolumeFlow::from_m3_s(q),
            falls_short: state.whose,
            times_clean: (clean > 0.0).then(|| pressure / clean),
            load_kg_m2: load,
            hours: hours.filter(|hours| *hours >= 0.0),
            leaps: state.spare > MET,
            status: state.point.status,
        }
    }

    /// The flow through the filter \[m3/s\].
    fn through(&self, point: &OperatingPoint) -> f64 {
        match &self.place {
            // The leak of a section's walls enters behind its parts.
            Place::Part { section, .. } => {
                let section = point.sections.iter().find(|s| s.id == *section);
                section.map_or(0.0, |s| s.flow.as_m3_s() - s.leak.as_m3_s())
            }
            _ => point.flow.as_m3_s(),
        }
    }
}

/// A state of the filter.
struct Dusty {
    /// The least share less 1.
    spare: f64,
    /// Whose share that is.
    whose: Place,
    point: OperatingPoint,
}

enum Mark {
    At(GaugeMark),
    ShortWhenClean,
    Never,
}

fn part_at<'s>(system: &'s mut System, place: &Place) -> Option<&'s mut Part> {
    let of_run = |runs: &'s mut [Run], run: usize, part: Option<usize>| {
        runs.get_mut(run)?.parts.get_mut(part?)
    };
    match place {
        Place::Before { run, part } => of_run(&mut system.collector.before, *run, *part),
        Place::After { run, part } => of_run(&mut system.collector.after, *run, *part),
        Place::Part { section, part } => {
            let mut sections = system.sections.iter_mut();
            sections.find(|s| s.id == *section)?.parts.get_mut(*part)
        }
        _ => None,
    }
}

/// One machine a line.
impl fmt::Display for FilterGauge {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let machines = self.machines.iter().map(|machine| &machine.machine);
        let machines = machines.chain(self.failures.iter().map(|failure| &failure.machine));
        let width = machines.map(|name| name.as_str().chars().count()).max();
        let width = width.unwrap_or(0);
        for gauge in &self.machines {
            write!(
                f,
                "{:width$}  {:.0} Pa now; ",
                gauge.machine,
                gauge.pressure_now.as_pa()
            )?;
            let mark = match &gauge.outcome {
                GaugeOutcome::FallsShort(mark) => {
                    write!(f, "falls short at {:.0} Pa", mark.pressure.as_pa())?;
                    Some(mark)
                }
                GaugeOutcome::AlreadyShort {
                    enough_below: Some(mark),
                } => {
                    write!(
                        f,
                        "short already, enough below {:.0} Pa",
                        mark.pressure.as_pa()
                    )?;
                    Some(mark)
                }
                GaugeOutcome::AlreadyShort { enough_below: None } => {
                    f.write_str("short even with the filter clean")?;
                    None
                }
                GaugeOutcome::NeverShort => {
                    f.write_str("never falls short")?;
                    None
                }
            };
            if let Some(hours) = mark.and_then(|mark| mark.hours) {
                write!(f, ", in about {hours:.0} h")?;
            }
            let hint = |status| status != Status::Converged;
            if hint(gauge.status) || mark.is_some_and(|mark| hint(mark.status)) {
                write!(f, " ({HINT})")?;
            }
            writeln!(f)?;
        }
        for failure in &self.failures {
            writeln!(f, "{:width$}  {}", failure.machine, failure.error)?;
        }
        write!(f, "Gauge across {}.", self.filter)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        Wall,
        decide::by_hand::{filter, m3_s, mm, not_converged, pa, rising_fan, shop, solved},
    };

    fn watch(now: &Network, system: System, place: Place) -> Watch<'_> {
        let growth = Growth::new(&filter(), None).unwrap();
        Watch {
            now,
            system,
            place,
            growth,
        }
    }

    /// Where two curves only touch no iteration ends; a curve that falls touches nothing.
    #[test]
    fn only_a_balance_not_found_on_a_curve_that_rises_is_an_edge() {
        let system = shop();
        let now = Network::new(&system).unwrap();
        let mut rising = system.clone();
        rising.collector.fan = Some(rising_fan());
        let lost = FilterGaugeError::from(not_converged());
        let nothing = FilterGaugeError::from(SolveError::NothingOpen);
        let falling = watch(&now, system.clone(), Place::Collector);
        let rising = watch(&now, rising, Place::Collector);
        assert!(rising.is_edge(&lost));
        assert!(!rising.is_edge(&nothing) && !rising.is_edge(&FilterGaugeError::NoFilter));
        assert!(!falling.is_edge(&lost) && !falling.is_edge(&nothing));
    }

    /// The walls leak behind the filter: what leaks in does not pass it.
    #[test]
    fn through_a_filter_in_a_section_goes_what_the_hood_takes_in() {
        let system = shop();
        let now = Network::new(&system).unwrap();
        let mut point = solved(&system, &["saw"]);
        point.flow = m3_s(0.7);
        point.sections[0].flow = m3_s(0.5);
        point.sections[0].leak = m3_s(0.125);
        let part = Place::Part {
            section: "left".into(),
            part: 1,
        };
        assert_eq!(watch(&now, system.clone(), part).through(&point), 0.375);
        let before = Place::Before {
            run: 0,
            part: Some(0),
        };
        assert_eq!(watch(&now, system.clone(), before).through(&point), 0.7);
    }

    /// With a bare static fan it is one and the same resistance before and after the fan, but for
    /// what the run ends with: nothing, where it is as wide as a hall.
    #[test]
    fn a_filter_after_the_fan_is_marked_as_one_before_it() {
        let mut before = shop();
        before
            .collector
            .after
            .push(Run::new(mm(2000.0), Wall::Galvanised).with_part(Part::K(0.0)));
        let fan = before.collector.fan.take().unwrap();
        before.collector.fan = Some(fan.with_outlet(mm(2000.0)).unwrap());
        let mut after = before.clone();
        let filter = std::mem::take(&mut after.collector.before[0].parts);
        after.collector.after[0].parts = filter;
        let gauge = |system: &System| filter_gauge(system, &FilterGaugeOptions::default()).unwrap();
        let (before, after) = (gauge(&before), gauge(&after));
        assert!(matches!(
            after.filter,
            Place::After {
                run: 0,
                part: Some(0)
            }
        ));
        assert_eq!(after.machines.len(), 2);
        for (before, after) in before.machines.iter().zip(&after.machines) {
            let (GaugeOutcome::FallsShort(before), GaugeOutcome::FallsShort(after)) =
                (&before.outcome, &after.outcome)
            else {
                panic!("{before:?} {after:?}")
            };
            assert!((after.flow / m3_s(0.1) - 1.0).abs() < 1e-9, "{after:?}");
            let ratio = after.pressure / before.pressure;
            assert!((ratio - 1.0).abs() < 1e-6, "{ratio}");
        }
    }

    #[test]
    fn a_hint_is_told_where_the_answer_or_its_mark_lies_outside_the_curve() {
        let at = |now, later| {
            let mark = GaugeMark {
                pressure: pa(400.0),
                flow: m3_s(0.3),
                falls_short: Place::Machine("saw".into()),
                times_clean: None,
                load_kg_m2: None,
                hours: None,
                leaps: false,
                status: later,
            };
            let gauge = FilterGauge {
                filter: Place::Collector,
                machines: vec![MachineGauge {
                    machine: "saw".into(),
                    open: Vec::new(),
                    share_now: None,
                    pressure_now: pa(300.0),
                    status: now,
                    outcome: GaugeOutcome::FallsShort(mark),
                }],
                failures: Vec::new(),
            };
            gauge.to_string().contains(HINT)
        };
        let (within, beyond) = (Status::Converged, Status::BeyondCurve);
        assert!(!at(within, within));
        assert!(at(beyond, within) && at(within, beyond) && at(beyond, beyond));
    }

    /// Hoods of other machines are open for the sake of the air: what they need is not asked.
    #[test]
    fn companions_are_not_judged() {
        let mut system = shop();
        // The planer is always short, the saw never.
        system.machines[1].required = m3_s(0.9);
        let now = Network::new(&system).unwrap();
        let mut watch = watch(
            &now,
            system.clone(),
            Place::Before {
                run: 0,
                part: Some(0),
            },
        );
        let open = vec!["saw".into(), "planer".into()];
        let gauge = watch.machine(&system, &"saw".into(), open).unwrap();
        assert_eq!(gauge.open.len(), 2);
        assert!(gauge.share_now.unwrap() > 1.0, "{gauge:?}");
    }
}
