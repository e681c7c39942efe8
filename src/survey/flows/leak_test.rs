//! Whether duct leaks between sections that were read.

use super::{
    chances::{LEVEL, ONE_SIDED, normal_above},
    flow_at::{FlowReadings, ReconcileError},
    least_squares::Adjusted,
    reconcile::Ready,
    stretches::Stretches,
};
use crate::{
    place::{Name, Place},
    quantity::VolumeFlow,
    system::System,
};
use std::{collections::HashSet, fmt};

/// What enters between sections that were read, where no hood should let any in.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct LeakTest {
    /// The sections upstream; none where all upstream is shut.
    pub upstream: Vec<Name>,
    /// The section downstream.
    pub downstream: Name,
    /// The flow downstream less that of all upstream: the best estimate of the leak, below 0 where
    /// less was read downstream.
    pub leak: VolumeFlow,
    /// Its standard uncertainty. What an instrument adds to all of its readings cancels as far as it
    /// adds to both sides.
    pub standard: VolumeFlow,
    /// Probability that readings of a tight duct would show as large a leak or a larger one
    /// (one-sided, errors normally distributed).
    pub chance: f64,
    /// The smallest leak that such readings would have shown 19 times in 20.
    ///
    /// 3.29 standard uncertainties: 1.645 until a leak counts as shown, and 1.645 above that (L. A.
    /// Currie, Limits for qualitative detection and quantitative determination, Analytical Chemistry
    /// 40, 1968, detection limit; from memory).
    pub detectable: VolumeFlow,
    /// What it says.
    pub verdict: LeakVerdict,
}

/// What a leak test says. Of twenty tight ducts one is shown to leak by chance.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize),
    serde(rename_all = "snake_case")
)]
#[non_exhaustive]
pub enum LeakVerdict {
    /// More was read downstream than would happen by chance once in twenty times.
    Shown,
    /// The duct may be tight, or leak less than can be detected.
    NotShown,
    /// Less was read downstream than would happen by chance once in twenty times: a reading is wrong,
    /// or air is blown out.
    Contradiction,
}

/// What enters at hoods that nobody read, between sections that were.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct UnmeteredInflow {
    /// The sections upstream.
    pub upstream: Vec<Name>,
    /// The section downstream.
    pub downstream: Name,
    /// Where the air enters.
    pub sources: Vec<Place>,
    /// What enters there, leaks of the duct between among it.
    pub flow: VolumeFlow,
    /// Its standard uncertainty.
    pub standard: VolumeFlow,
    /// Whether it is below 0 by more than would happen by chance once in twenty times: a reading is
    /// wrong, or air comes out of a hood.
    pub backward: bool,
}

impl FlowReadings {
    /// Whether duct leaks between sections that were read: the flow of all those upstream against
    /// that of the one downstream.
    ///
    /// Only conservation of mass at one density, and that readings of one section agree, is taken for
    /// granted; nothing of the rest of the duct is, and sections read in between are passed over.
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
    ///         FlowAt::new("main east", m3_h(1320.0), m3_h(40.0)),
    ///     ],
    ///     ["planer"],
    /// );
    /// let test = readings.leak_between(&study.system, &["planer drop".into()], &"main east".into())?;
    /// assert_eq!(test.verdict, LeakVerdict::Shown); // 130 +- 50 m3/h
    /// assert!((test.detectable.as_m3_h() - 164.5).abs() < 0.1); // a test that might have missed it
    /// # }
    /// # Ok(())
    /// # }
    /// ```
    ///
    /// # Errors
    ///
    /// As [`reconcile`](Self::reconcile); sections without a reading, sections that do not drain
    /// through `downstream` or drain through each other, and open hoods in between that none of them
    /// counts.
    pub fn leak_between(
        &self,
        system: &System,
        upstream: &[Name],
        downstream: &Name,
    ) -> Result<LeakTest, ReconcileError> {
        let ready = Ready::of(self, system)?;
        let stretches = &ready.stretches;
        let end = stretches.end(downstream)?;
        let mut from = Vec::new();
        for name in upstream {
            from.push(stretches.end(name)?);
        }
        let chosen: HashSet<usize> = from.iter().copied().collect();
        for (i, (&start, name)) in from.iter().zip(upstream).enumerate() {
            let twice = |below: usize| ReconcileError::Twice {
                upstream: name.clone(),
                below: stretches.name(below),
            };
            if from.iter().take(i).any(|&other| other == start) {
                return Err(twice(start));
            }
            let mut at = stretches.next(start);
            while let Some(below) = at.filter(|&below| below != end) {
                if chosen.contains(&below) {
                    return Err(twice(below));
                }
                at = stretches.next(below);
            }
            if at.is_none() {
                return Err(ReconcileError::NotUpstream {
                    upstream: name.clone(),
                    downstream: downstream.clone(),
                });
            }
        }
        let mut sources = Vec::new();
        let mut ends = vec![end];
        while let Some(stretch) = ends.pop().and_then(|end| stretches.ends.get(end)) {
            sources.extend_from_slice(&stretch.sources);
            let further = stretch.upstream.iter().copied();
            ends.extend(further.filter(|up| !chosen.contains(up)));
        }
        if !sources.is_empty() {
            sources.truncate(32);
            return Err(ReconcileError::Unread { sources });
        }
        Ok(leak_at(stretches, &ready.sections_only()?, end, &from))
    }
}

/// The test between these ends, from readings that only agree section by section.
pub(super) fn leak_at(
    stretches: &Stretches<'_>,
    sections: &Adjusted,
    end: usize,
    upstream: &[usize],
) -> LeakTest {
    let (leak, standard) = sections.sum(&stretches.balance(end, upstream));
    let deviate = leak / standard;
    let chance = normal_above(deviate);
    LeakTest {
        upstream: stretches.names(upstream),
        downstream: stretches.name(end),
        leak: VolumeFlow::from_m3_s(leak),
        standard: VolumeFlow::from_m3_s(standard),
        chance,
        detectable: VolumeFlow::from_m3_s(2.0 * ONE_SIDED * standard),
        verdict: if deviate >= ONE_SIDED {
            LeakVerdict::Shown
        } else if deviate <= -ONE_SIDED {
            LeakVerdict::Contradiction
        } else {
            LeakVerdict::NotShown
        },
    }
}

/// What enters at the unread hoods of a stretch.
pub(super) fn inflow_at(
    stretches: &Stretches<'_>,
    sections: &Adjusted,
    end: usize,
) -> Option<UnmeteredInflow> {
    let stretch = stretches.ends.get(end)?;
    let (flow, standard) = sections.sum(&stretches.balance(end, &stretch.upstream));
    Some(UnmeteredInflow {
        upstream: stretches.names(&stretch.upstream),
        downstream: stretches.name(end),
        sources: stretch.sources.clone(),
        flow: VolumeFlow::from_m3_s(flow),
        standard: VolumeFlow::from_m3_s(standard),
        backward: normal_above(-flow / standard) <= LEVEL,
    })
}

/// What to tell the owner.
impl fmt::Display for LeakVerdict {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Self::Shown => "it leaks",
            Self::NotShown => "no leak shown",
            Self::Contradiction => "the readings contradict each other",
        })
    }
}
