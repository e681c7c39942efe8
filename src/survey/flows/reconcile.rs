//! Readings that over-determine the flows: the best estimate, and which of them is doubtful.

use super::{
    blame::Imbalance,
    chances::{LEVEL, chi_square_above, normal_above},
    flow_at::{FlowAt, FlowReadings, ReconcileError, SharedError},
    leak_test::{LeakTest, UnmeteredInflow, inflow_at, leak_at},
    least_squares::{Adjusted, Problem, Terms},
    stretches::Stretches,
};
use crate::{
    place::Name,
    quantity::VolumeFlow,
    system::{Start, System, UnknownName, unknown},
};
use std::collections::{HashMap, HashSet};

/// Ratio of standard uncertainties above which the balances lose their digits.
const UNEVEN: f64 = 1e5;

/// Largest and smallest standard uncertainty, largest flow \[m3/s\].
pub(super) const STANDARD: std::ops::RangeInclusive<f64> = 1e-9..=1000.0;
const FLOW: std::ops::RangeInclusive<f64> = 0.0..=1000.0;

/// What readings say together, by [`FlowReadings::reconcile`].
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct Reconciled {
    /// Every section whose flow the readings determine, in the order of the model.
    pub sections: Vec<SectionFlow>,
    /// The sections whose flow they leave open.
    pub undetermined: Vec<Name>,
    /// Every reading, in the order given.
    pub readings: Vec<ReadingCheck>,
    /// Readings that check each other, by index; those that check nothing are in none.
    pub groups: Vec<Vec<usize>>,
    /// Whether the readings balance as a whole.
    pub global: GlobalTest,
    /// The readings that are most likely wrong if one is: those with the largest normalised residual,
    /// when it would be as large by chance once in twenty such sets of readings. More than one where
    /// the readings cannot tell which.
    pub suspects: Vec<usize>,
    /// What explains readings that do not balance: a leak, a wrong reading, an instrument.
    pub imbalance: Imbalance,
    /// The leak in every stretch between readings where no hood is open, upstream first; each by
    /// itself, without taking the others to be tight.
    pub leaks: Vec<LeakTest>,
    /// What enters at unread open hoods between readings, likewise.
    pub inflows: Vec<UnmeteredInflow>,
}

/// The flow of a section.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct SectionFlow {
    /// The section.
    pub section: Name,
    /// The hood that it starts at.
    pub hood: Option<Name>,
    /// Its best estimate. Below 0 only where readings contradict each other.
    pub flow: VolumeFlow,
    /// The standard uncertainty of that; 0 where all upstream is shut and tight.
    pub standard: VolumeFlow,
}

/// A flow and its standard uncertainty.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct FlowEstimate {
    /// The flow.
    pub flow: VolumeFlow,
    /// Its standard uncertainty.
    pub standard: VolumeFlow,
}

/// A reading as all the others see it.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct ReadingCheck {
    /// Its section.
    pub section: Name,
    /// What was read.
    pub read: VolumeFlow,
    /// The best estimate there from all readings.
    pub adjusted: FlowEstimate,
    /// How much it reads too high by what the others say; below 0 where too low. `None` where no
    /// other reading checks it.
    pub off_by: Option<FlowEstimate>,
    /// Its normalised residual: how far it is off over the standard uncertainty of that, a normal
    /// deviate if nothing is wrong. `None` where no other reading checks it.
    ///
    /// Without shared errors this is the adjustment over the standard uncertainty of the adjustment,
    /// the measurement test of R. S. H. Mah & A. C. Tamhane, Detection of gross errors in process
    /// data, AIChE Journal 28, 1982, 828 (title, journal and year seen in a list of references,
    /// volume and page from memory); with them the adjustments are first weighed by the inverse
    /// covariance, which finds a single wrong reading most surely (same source, from memory).
    pub normalised: Option<f64>,
    /// The readings that check each other with it, an index into [`Reconciled::groups`].
    pub group: Option<usize>,
}

/// Whether readings balance as a whole.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct GlobalTest {
    /// Sum of the squares of the adjustments, each over its standard uncertainty.
    pub chi_square: f64,
    /// How many balances check the readings.
    pub degrees_of_freedom: usize,
    /// Probability of such a sum or a larger one by chance; 1 where nothing is checked. Below 0.05
    /// the readings do not balance.
    pub chance: f64,
}

impl FlowReadings {
    /// Makes the most of readings that say more than is needed: at a wye what leaves is what enters.
    ///
    /// Weighted least squares under conservation of mass at one density; no fan, no loss law. Readings
    /// of one section are taken to be of one flow, and duct to be tight: leaks are what is tested. The
    /// error of an instrument is put on the flow that its readings are fitted with when each of them
    /// has an error of its own only.
    ///
    /// ```
    /// # fn main() -> Result<(), Box<dyn std::error::Error>> {
    /// # #[cfg(feature = "serde")] {
    /// use airsplit::*;
    /// let study: Study = toml::from_str(&std::fs::read_to_string("examples/chair_shop.toml")?)?;
    /// let m3_h = VolumeFlow::from_m3_h;
    /// let readings = FlowReadings::new(
    ///     [
    ///         FlowAt::new("planer drop", m3_h(1190.0), m3_h(30.0)),
    ///         FlowAt::new("main east", m3_h(1240.0), m3_h(40.0)),
    ///     ],
    ///     ["planer"],
    /// );
    /// let all = readings.reconcile(&study.system)?;
    /// // (1190 / 30^2 + 1240 / 40^2) / (1 / 30^2 + 1 / 40^2)
    /// let drop = all.section("planer drop")?;
    /// assert!((drop.flow.as_m3_h() - 1208.0).abs() < 1e-6);
    /// assert_eq!(all.imbalance, Imbalance::Balanced);
    /// # }
    /// # Ok(())
    /// # }
    /// ```
    ///
    /// # Errors
    ///
    /// [`ReconcileError`]: faults of the model, an unknown name, no readings or more than
    /// [`MOST`](Self::MOST), a flow or uncertainty out of its range, a reading where no air passes, or
    /// uncertainties too uneven to be worked out.
    pub fn reconcile(&self, system: &System) -> Result<Reconciled, ReconcileError> {
        let ready = Ready::of(self, system)?;
        let adjusted = ready.together()?;
        let sections = ready.sections_only()?;
        let (readings, groups) = ready.readings(&adjusted);
        let degrees_of_freedom = ready.balances.len();
        let chi_square = adjusted.chi_square();
        let (flows, undetermined) = ready.flows(&adjusted);
        let mut leaks = Vec::new();
        let mut inflows = Vec::new();
        for (end, stretch) in ready.stretches.ends.iter().enumerate() {
            if stretch.sources.is_empty() {
                leaks.push(leak_at(&ready.stretches, &sections, end, &stretch.upstream));
            } else if !stretch.upstream.is_empty() {
                inflows.extend(inflow_at(&ready.stretches, &sections, end));
            }
        }
        Ok(Reconciled {
            sections: flows,
            undetermined,
            suspects: suspects(&readings),
            readings,
            groups,
            global: GlobalTest {
                chi_square,
                degrees_of_freedom,
                chance: chi_square_above(chi_square, degrees_of_freedom),
            },
            imbalance: ready.blame(&adjusted),
            leaks,
            inflows,
        })
    }
}

impl Reconciled {
    /// The flow of the section of that name.
    ///
    /// # Errors
    ///
    /// When no section of that name has a flow that the readings determine, with those that have,
    /// nearest first.
    pub fn section(&self, name: &str) -> Result<&SectionFlow, UnknownName> {
        let found = self.sections.iter().find(|at| at.section.as_str() == name);
        let known = self.sections.iter().map(|at| &at.section);
        found.ok_or_else(|| unknown("section of known flow", name, known))
    }
}

/// Readings that were judged, and what they must fulfil.
#[derive(Debug)]
pub(super) struct Ready<'a> {
    pub(super) given: &'a FlowReadings,
    pub(super) stretches: Stretches<'a>,
    /// The instrument of each reading.
    pub(super) instrument: Vec<Option<usize>>,
    /// The ends of the stretches where nothing enters, in the order of the first balances.
    pub(super) tight: Vec<usize>,
    /// Sums of readings that are 0: what enters in tight stretches, then differences of readings of
    /// one section.
    pub(super) balances: Vec<Terms>,
}

impl<'a> Ready<'a> {
    pub(super) fn of(given: &'a FlowReadings, system: &'a System) -> Result<Self, ReconcileError> {
        let count = given.readings.len();
        if count > FlowReadings::MOST {
            return Err(ReconcileError::TooMany { given: count });
        }
        let instrument = judge(&given.readings, &given.shared)?;
        let stretches = Stretches::of(system, given)?;
        let all = || stretches.ends.iter().enumerate();
        let tight: Vec<usize> = all()
            .filter(|(_, stretch)| stretch.sources.is_empty())
            .map(|(end, _)| end)
            .collect();
        let mut balances = Vec::new();
        for (end, stretch) in all().filter(|(_, stretch)| stretch.sources.is_empty()) {
            balances.push(stretches.balance(end, &stretch.upstream));
        }
        for (_, stretch) in all() {
            if let Some((&first, others)) = stretch.readings.split_first() {
                balances.extend(
                    others
                        .iter()
                        .map(|&other| vec![(other, 1.0), (first, -1.0)]),
                );
            }
        }
        Ok(Self {
            given,
            stretches,
            instrument,
            tight,
            balances,
        })
    }

    /// The readings adjusted to every balance.
    pub(super) fn together(&self) -> Result<Adjusted, ReconcileError> {
        self.adjust(&self.balances)
    }

    /// The readings adjusted to each other section by section only.
    pub(super) fn sections_only(&self) -> Result<Adjusted, ReconcileError> {
        self.adjust(self.balances.get(self.tight.len()..).unwrap_or_default())
    }

    fn adjust(&self, balances: &[Terms]) -> Result<Adjusted, ReconcileError> {
        let readings = &self.given.readings;
        let own = readings.iter().map(|at| at.standard.as_m3_s().powi(2));
        let mut problem = Problem {
            read: readings.iter().map(|at| at.flow.as_m3_s()).collect(),
            own: own.collect(),
            instrument: self.instrument.clone(),
            shared: self
                .given
                .shared
                .iter()
                .map(|at| at.relative.powi(2))
                .collect(),
            level: vec![0.0; readings.len()],
            balances: balances.to_vec(),
        };
        self.even(&problem)?;
        let mut adjusted = problem.adjust();
        let shares = |at: &Option<usize>| {
            let shared = at.and_then(|at| problem.shared.get(at));
            shared.is_some_and(|&shared| shared > 0.0)
        };
        if let Some(alone) = adjusted
            .as_ref()
            .filter(|_| self.instrument.iter().any(shares))
        {
            problem.level = alone.flow.iter().map(|flow| flow.max(0.0)).collect();
            self.even(&problem)?;
            adjusted = problem.adjust();
        }
        adjusted.ok_or_else(|| self.evenness(&problem).1)
    }

    /// Refuses uncertainties among which the finer ones would be lost.
    fn even(&self, problem: &Problem) -> Result<(), ReconcileError> {
        let (ratio, error) = self.evenness(problem);
        if ratio > UNEVEN { Err(error) } else { Ok(()) }
    }

    /// The largest ratio of two uncertainties, and the error that names their readings.
    fn evenness(&self, problem: &Problem) -> (f64, ReconcileError) {
        let own: Vec<f64> = problem.own.iter().map(|own| own.sqrt()).collect();
        let whole = own.iter().zip(&problem.level).zip(&self.instrument);
        let whole = whole.map(|((own, level), at)| {
            let shared = at.and_then(|at| problem.shared.get(at)).copied();
            own.hypot(shared.unwrap_or(0.0).sqrt() * level)
        });
        let coarse = whole.enumerate().max_by(|a, b| a.1.total_cmp(&b.1));
        let fine = own.iter().enumerate().min_by(|a, b| a.1.total_cmp(b.1));
        let (coarse, most) = coarse.unwrap_or((0, 1.0));
        let (fine, least) = fine.unwrap_or((0, &1.0));
        let error = ReconcileError::Uneven {
            coarse: coarse + 1,
            fine: fine + 1,
        };
        (most / least, error)
    }

    /// Flows of the sections, and those that are left open.
    fn flows(&self, adjusted: &Adjusted) -> (Vec<SectionFlow>, Vec<Name>) {
        let (of, sums) = self.stretches.flows();
        let sums: Vec<(f64, f64)> = sums.iter().map(|terms| adjusted.sum(terms)).collect();
        let mut known = Vec::new();
        let mut open = Vec::new();
        for (section, sum) in self.stretches.system.sections.iter().zip(of) {
            match sum.and_then(|sum| sums.get(sum)) {
                Some(&(flow, standard)) => known.push(SectionFlow {
                    section: section.id.clone(),
                    hood: match &section.start {
                        Start::Hood(hood) => Some(hood.id.clone()),
                        _ => None,
                    },
                    flow: VolumeFlow::from_m3_s(flow),
                    standard: VolumeFlow::from_m3_s(standard),
                }),
                None => open.push(section.id.clone()),
            }
        }
        (known, open)
    }

    /// The readings, and which of them check each other.
    fn readings(&self, adjusted: &Adjusted) -> (Vec<ReadingCheck>, Vec<Vec<usize>>) {
        let readings = &self.given.readings;
        let estimate = |flow: f64, standard: f64| FlowEstimate {
            flow: VolumeFlow::from_m3_s(flow),
            standard: VolumeFlow::from_m3_s(standard),
        };
        let (group_of, groups) = self.groups();
        let mut reference: Vec<usize> = (0..readings.len()).collect();
        for stretch in &self.stretches.ends {
            for &reading in &stretch.readings {
                if let (Some(to), Some(&first)) =
                    (reference.get_mut(reading), stretch.readings.first())
                {
                    *to = first;
                }
            }
        }
        let checks = readings
            .iter()
            .zip(reference)
            .enumerate()
            .map(|(i, (at, reference))| {
                let (flow, standard) = adjusted.sum(&[(reference, 1.0)]);
                let off = adjusted.reading_off(i);
                ReadingCheck {
                    section: at.section.clone(),
                    read: at.flow,
                    adjusted: estimate(flow, standard),
                    off_by: off.map(|off| estimate(off.size, off.standard)),
                    normalised: off.map(|off| off.deviate()),
                    group: group_of.get(&i).copied(),
                }
            });
        (checks.collect(), groups)
    }

    /// Readings that one balance joins, and those that these are joined to by others.
    fn groups(&self) -> (HashMap<usize, usize>, Vec<Vec<usize>>) {
        let mut balances_of: HashMap<usize, Vec<&Terms>> = HashMap::new();
        for balance in &self.balances {
            for (reading, _) in balance {
                balances_of.entry(*reading).or_default().push(balance);
            }
        }
        let mut group_of = HashMap::new();
        let mut groups = Vec::new();
        let mut told: HashSet<usize> = HashSet::new();
        for first in 0..self.given.readings.len() {
            if !balances_of.contains_key(&first) || !told.insert(first) {
                continue;
            }
            let mut group = vec![first];
            let mut next = 0;
            while let Some(reading) = group.get(next).copied() {
                next += 1;
                for balance in balances_of.remove(&reading).unwrap_or_default() {
                    group.extend(
                        balance
                            .iter()
                            .map(|(at, _)| *at)
                            .filter(|at| told.insert(*at)),
                    );
                }
            }
            group.sort_unstable();
            group_of.extend(group.iter().map(|&reading| (reading, groups.len())));
            groups.push(group);
        }
        (group_of, groups)
    }
}

/// Judges the readings by themselves, and finds the instrument of each.
pub(super) fn judge(
    readings: &[FlowAt],
    shared: &[SharedError],
) -> Result<Vec<Option<usize>>, ReconcileError> {
    if readings.is_empty() {
        return Err(ReconcileError::NoReadings);
    }
    let mut instruments = HashMap::new();
    for (i, shared) in shared.iter().enumerate() {
        let instrument = shared.instrument.clone();
        let relative = shared.relative;
        if !(0.0..=0.5).contains(&relative) {
            return Err(ReconcileError::Shared {
                instrument,
                relative,
            });
        }
        if instruments.insert(&shared.instrument, i).is_some() {
            return Err(ReconcileError::SharedTwice { instrument });
        }
    }
    let mut of = Vec::with_capacity(readings.len());
    for (i, at) in readings.iter().enumerate() {
        let (reading, section) = (i + 1, || at.section.clone());
        if !FLOW.contains(&at.flow.as_m3_s()) {
            return Err(ReconcileError::Flow {
                reading,
                section: section(),
                flow: at.flow,
            });
        }
        if !STANDARD.contains(&at.standard.as_m3_s()) {
            return Err(ReconcileError::Standard {
                reading,
                section: section(),
                standard: at.standard,
            });
        }
        of.push(match &at.instrument {
            None => None,
            Some(name) => Some(*instruments.get(name).ok_or_else(|| {
                let known = shared.iter().map(|shared| &shared.instrument);
                ReconcileError::Instrument {
                    reading,
                    error: unknown("instrument", name.as_str(), known),
                }
            })?),
        });
    }
    Ok(of)
}

/// The readings of the largest normalised residual, if that is too large for the largest of so many.
///
/// Each residual is given the level 1 - (1 - 0.05)^(1/n), so that of n independent ones one exceeds
/// it once in twenty times (Mah & Tamhane 1982, after Z. Sidak 1967; from memory).
fn suspects(readings: &[ReadingCheck]) -> Vec<usize> {
    let sizes = || {
        let all = readings.iter().enumerate();
        all.filter_map(|(i, at)| Some((i, at.normalised?.abs())))
    };
    let checked = sizes().count();
    let largest = sizes().map(|(_, size)| size).fold(0.0, f64::max);
    let level = -((-LEVEL).ln_1p() / checked.max(1) as f64).exp_m1();
    if 2.0 * normal_above(largest) > level {
        return Vec::new();
    }
    let equal = sizes().filter(|(_, size)| *size > largest * (1.0 - 1e-7));
    equal.map(|(i, _)| i).collect()
}
