//! What the gauge across the filter shows when a machine begins to fall short.

mod growth;
mod watch;

use self::{growth::Growth, watch::Watch};
use super::transport::HINT;
use crate::{
    loss::{Filter, LossError, Part},
    place::{Name, Place},
    quantity::{Area, Pressure, VolumeFlow},
    solve::{Network, SolveError, Status},
    system::{Index, ModelErrors, System, UnknownName},
};
use std::{collections::BTreeMap, fmt};

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
        decide::by_hand::{m3_s, mm, pa, shop},
        system::Run,
    };

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
}
