//! Which single fault explains readings that do not balance: a leak, a reading, an instrument.

use super::{
    chances::{LEVEL, chi_square_above},
    least_squares::{Adjusted, Fault},
    reconcile::Ready,
};
use crate::{place::Name, quantity::VolumeFlow};
use std::fmt;

/// Twice the logarithm of 20: so much less chi-square makes readings 20 times as likely.
const RIVALS: f64 = 5.991_464_547_107_982;

/// What the readings as a whole say.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize),
    serde(rename_all = "snake_case")
)]
#[non_exhaustive]
pub enum Imbalance {
    /// No reading checks another.
    Unchecked,
    /// They balance as well as their uncertainties let expect.
    Balanced,
    /// They do not, and one fault alone explains it: every other makes them 20 times less likely.
    One(Explanation),
    /// They do not, and the first of these faults explains it, but none of the others, the likeliest
    /// first, is 20 times less likely: the readings cannot tell which it is.
    Several(Vec<Explanation>),
    /// They do not, and no single fault explains it: there are several, or the uncertainties are
    /// larger than was said.
    Unexplained,
}

/// A fault that would make readings balance.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct Explanation {
    /// What would be wrong, and by how much.
    pub cause: Cause,
    /// What is left of the chi-square, which has no unit.
    pub chi_square: f64,
    /// Probability of as much or more by chance.
    pub chance: f64,
}

/// What may be wrong where readings do not balance.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize),
    serde(rename_all = "snake_case")
)]
#[non_exhaustive]
pub enum Cause {
    /// The duct leaks.
    Leak {
        /// The sections read upstream.
        upstream: Vec<Name>,
        /// The section read downstream.
        downstream: Name,
        /// How much.
        flow: VolumeFlow,
        /// Its standard uncertainty.
        standard: VolumeFlow,
    },
    /// One reading is wrong.
    Reading {
        /// Which, counted from 0.
        reading: usize,
        /// Its section.
        section: Name,
        /// How much it reads too high; below 0 where too low.
        off_by: VolumeFlow,
        /// Its standard uncertainty.
        standard: VolumeFlow,
    },
    /// Every reading of an instrument is wrong by one factor, beyond what its shared uncertainty lets
    /// expect.
    Instrument {
        /// Which.
        instrument: Name,
        /// Share by which it reads too high; below 0 where too low.
        relative: f64,
        /// Its standard uncertainty, a share of the flow.
        standard: f64,
    },
}

impl Ready<'_> {
    /// The likeliest single faults.
    pub(super) fn blame(&self, adjusted: &Adjusted) -> Imbalance {
        let degrees = self.balances.len();
        let chi_square = adjusted.chi_square();
        if degrees == 0 {
            return Imbalance::Unchecked;
        }
        if chi_square_above(chi_square, degrees) > LEVEL {
            return Imbalance::Balanced;
        }
        let mut found: Vec<Explanation> = self
            .causes(adjusted)
            .into_iter()
            .map(|(fault, cause)| {
                let left = (chi_square - fault.deviate().powi(2)).max(0.0);
                Explanation {
                    cause,
                    chi_square: left,
                    chance: chi_square_above(left, degrees - 1),
                }
            })
            .collect();
        // Equally likely ones differ by rounding only, and keep their order.
        let rank = |at: &Explanation| (at.chi_square / (1e-7 * chi_square)).round();
        found.sort_by(|a, b| rank(a).total_cmp(&rank(b)));
        match found.first().cloned() {
            Some(best) if best.chance > LEVEL => {
                found.retain(|at| at.chi_square < best.chi_square + RIVALS);
            }
            _ => found.clear(),
        }
        match found.len() {
            0 => Imbalance::Unexplained,
            1 => found.pop().map_or(Imbalance::Unexplained, Imbalance::One),
            _ => Imbalance::Several(found),
        }
    }

    /// Every fault that is tried, with what it would have to be.
    fn causes(&self, adjusted: &Adjusted) -> Vec<(Fault, Cause)> {
        let flow = VolumeFlow::from_m3_s;
        let mut causes = Vec::new();
        for (balance, end) in self.tight.iter().enumerate() {
            // Air leaks in, not out.
            let fault = adjusted
                .balance_off(balance)
                .filter(|fault| fault.size > 0.0);
            let stretch = self.stretches.ends.get(*end);
            if let (Some(fault), Some(stretch)) = (fault, stretch) {
                let cause = Cause::Leak {
                    upstream: self.stretches.names(&stretch.upstream),
                    downstream: self.stretches.name(*end),
                    flow: flow(fault.size),
                    standard: flow(fault.standard),
                };
                causes.push((fault, cause));
            }
        }
        for (reading, at) in self.given.readings.iter().enumerate() {
            if let Some(fault) = adjusted.reading_off(reading) {
                let cause = Cause::Reading {
                    reading,
                    section: at.section.clone(),
                    off_by: flow(fault.size),
                    standard: flow(fault.standard),
                };
                causes.push((fault, cause));
            }
        }
        for (instrument, shared) in self.given.shared.iter().enumerate() {
            let by = self.instrument.iter().enumerate();
            let by = by.filter(|(_, by)| **by == Some(instrument));
            let readings: Vec<usize> = by.map(|(i, _)| i).collect();
            // One reading that is off by a factor is one that is off.
            let fault = (readings.len() > 1)
                .then(|| adjusted.factor_off(&readings))
                .flatten();
            if let Some(fault) = fault {
                let cause = Cause::Instrument {
                    instrument: shared.instrument.clone(),
                    relative: fault.size,
                    standard: fault.standard,
                };
                causes.push((fault, cause));
            }
        }
        causes
    }
}

/// `a leak between "planer drop" and "main" of 0.0361 +- 0.0139 m3/s`
impl fmt::Display for Cause {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Leak {
                upstream,
                downstream,
                flow,
                standard,
            } => {
                let below = downstream.as_str();
                let (flow, standard) = (flow.as_m3_s(), standard.as_m3_s());
                let names: Vec<_> = upstream
                    .iter()
                    .map(|name| format!("{:?}", name.as_str()))
                    .collect();
                match names.as_slice() {
                    [] => write!(f, "a leak upstream of {below:?}")?,
                    names => write!(f, "a leak between {} and {below:?}", names.join(", "))?,
                }
                write!(f, " of {flow:.4} +- {standard:.4} m3/s")
            }
            Self::Reading {
                reading,
                section,
                off_by,
                standard,
            } => write!(
                f,
                "reading {} in {:?} is off by {:+.4} +- {:.4} m3/s",
                reading + 1,
                section.as_str(),
                off_by.as_m3_s(),
                standard.as_m3_s()
            ),
            Self::Instrument {
                instrument,
                relative,
                standard,
            } => write!(
                f,
                "{:?} is off by {:+.1} +- {:.1} % in all its readings",
                instrument.as_str(),
                100.0 * relative,
                100.0 * standard
            ),
        }
    }
}

/// What to tell the owner.
impl fmt::Display for Imbalance {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Unchecked => f.write_str("no reading checks another"),
            Self::Balanced => f.write_str("the readings balance"),
            Self::One(only) => write!(f, "the readings do not balance: {}", only.cause),
            Self::Several(rivals) => {
                f.write_str("the readings do not balance, and cannot tell which it is:")?;
                rivals
                    .iter()
                    .try_for_each(|at| write!(f, "\n  {}", at.cause))
            }
            Self::Unexplained => f.write_str(
                "the readings do not balance, and no single leak or wrong reading explains it",
            ),
        }
    }
}
