//! The same places surveyed before and after a change: what it did, against what was predicted.

use super::{
    chances::{ONE_SIDED, TWO_SIDED},
    flow_at::{FlowAt, ReconcileError, SharedError},
    reconcile::{FlowEstimate, STANDARD, judge},
};
use crate::{
    place::Name,
    quantity::VolumeFlow,
    system::{UnknownName, unknown},
};
use std::{
    collections::{HashMap, HashSet},
    fmt,
};

/// Two surveys of the same places, and what the change between them was to do.
///
/// ```
/// use airsplit::*;
/// let m3_h = VolumeFlow::from_m3_h;
/// let read = |flow| FlowAt::new("saw drop", m3_h(flow), m3_h(10.0)).by("vane");
/// let surveys = BeforeAfter::new([read(500.0)], [read(620.0)])
///     .with_shared("vane", 0.03)
///     .with_predicted("saw drop", 25.0, 2.0);
/// let saw = &surveys.compare()?.changes[0];
/// assert!((saw.percent - 24.0).abs() < 1e-9); // +- 3.2: what the vane reads too high cancels
/// assert_eq!(saw.verdict, Some(ChangeVerdict::AsPredicted));
/// # Ok::<(), BeforeAfterError>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
#[non_exhaustive]
pub struct BeforeAfter {
    /// The readings before; several of one section are averaged.
    pub before: Vec<FlowAt>,
    /// The readings after.
    pub after: Vec<FlowAt>,
    /// The instruments whose readings share an error, the same one in both surveys.
    #[cfg_attr(
        feature = "serde",
        serde(default, skip_serializing_if = "Vec::is_empty")
    )]
    pub shared: Vec<SharedError>,
    /// What the change was to do.
    #[cfg_attr(
        feature = "serde",
        serde(default, skip_serializing_if = "Vec::is_empty")
    )]
    pub predicted: Vec<PredictedChange>,
    /// Difference from the prediction that does not matter, in percent of the flow before: above 0,
    /// up to 100. 10 if not said; judgement, no source.
    #[cfg_attr(feature = "serde", serde(default = "ten"))]
    pub tolerance_percent: f64,
}

/// A predicted change of flow.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
pub struct PredictedChange {
    /// The section.
    pub section: Name,
    /// The change in percent of the flow before: -100 to 100000.
    pub percent: f64,
    /// Its standard uncertainty in the same percent: 0 to 100000.
    pub standard: f64,
}

/// What two surveys say.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct FlowChanges {
    /// Every section that was read in both, in the order of the readings before.
    pub changes: Vec<FlowChange>,
    /// The sections that were read in one only.
    pub unpaired: Vec<Name>,
}

/// The change of a flow.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct FlowChange {
    /// The section.
    pub section: Name,
    /// Its flow before.
    pub before: FlowEstimate,
    /// Its flow after.
    pub after: FlowEstimate,
    /// The change in percent of the flow before.
    pub percent: f64,
    /// Its standard uncertainty in the same percent, to first order: good while that of the flow
    /// before is below a fifth of it. What an instrument adds to both surveys cancels.
    pub standard: f64,
    /// What was predicted.
    pub predicted: Option<PredictedChange>,
    /// How that compares; `None` where nothing was predicted.
    pub verdict: Option<ChangeVerdict>,
}

/// How a change compares with its prediction.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize),
    serde(rename_all = "snake_case")
)]
#[non_exhaustive]
pub enum ChangeVerdict {
    /// The difference is surely less than matters: both ends of its band of 90 % are within the
    /// tolerance (two one-sided tests of 5 %: D. J. Schuirmann, 1987; from memory).
    AsPredicted,
    /// The flow after is more than predicted, beyond 95 % of chance.
    More,
    /// It is less.
    Less,
    /// The readings, or the prediction, are too uncertain to tell.
    CannotTell,
}

/// Why two surveys cannot be compared.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum BeforeAfterError {
    /// A reading that cannot be.
    #[error("{survey}: {error}")]
    Reading {
        /// `before` or `after`.
        survey: &'static str,
        /// What is wrong.
        error: ReconcileError,
    },
    /// No flow before, so that nothing can be told in percent of it.
    #[error("section {section:?}: the flow before is {flow}; a change is told in percent of a flow of 1e-9 m3/s or more; leave the section out", section = section.as_str())]
    NoFlow {
        /// The section.
        section: Name,
        /// What was read, at the mean.
        flow: VolumeFlow,
    },
    /// A prediction for a section that was not read in both surveys.
    #[error(transparent)]
    Unread(UnknownName),
    /// Two predictions for one section.
    #[error("section {section:?} has two predicted changes; give one", section = section.as_str())]
    Twice {
        /// The section.
        section: Name,
    },
    /// A prediction that cannot be.
    #[error("section {section:?}: the {what} is {value} %; allowed: {least} to 100000 %", section = section.as_str())]
    Predicted {
        /// The section.
        section: Name,
        /// `predicted change` or `standard uncertainty of the predicted change`.
        what: &'static str,
        /// What was given, in percent.
        value: f64,
        /// The least that is allowed, in percent.
        least: f64,
    },
    /// A tolerance that cannot be.
    #[error("the tolerance is {percent} %; allowed: above 0 to 100 %")]
    Tolerance {
        /// What was given, in percent.
        percent: f64,
    },
}

#[cfg(feature = "serde")]
fn ten() -> f64 {
    BeforeAfter::TOLERANCE
}

/// The mean of the readings of a section.
#[derive(Debug)]
struct Mean {
    flow: f64,
    /// Variance of that by the readings' own errors.
    own: f64,
    /// Share of each instrument in the mean.
    shares: Vec<f64>,
}

impl BeforeAfter {
    /// Percent of the flow before that do not matter.
    const TOLERANCE: f64 = 10.0;

    /// Two surveys without a prediction.
    #[must_use]
    pub fn new(
        before: impl IntoIterator<Item = FlowAt>,
        after: impl IntoIterator<Item = FlowAt>,
    ) -> Self {
        Self {
            before: before.into_iter().collect(),
            after: after.into_iter().collect(),
            shared: Vec::new(),
            predicted: Vec::new(),
            tolerance_percent: Self::TOLERANCE,
        }
    }

    /// With an instrument whose readings share an error of this relative standard uncertainty.
    #[must_use]
    pub fn with_shared(mut self, instrument: impl Into<Name>, relative: f64) -> Self {
        self.shared.push(SharedError {
            instrument: instrument.into(),
            relative,
        });
        self
    }

    /// With a change predicted, in percent of the flow before, and its standard uncertainty.
    #[must_use]
    pub fn with_predicted(mut self, section: impl Into<Name>, percent: f64, standard: f64) -> Self {
        self.predicted.push(PredictedChange {
            section: section.into(),
            percent,
            standard,
        });
        self
    }

    /// With another difference that does not matter, in percent of the flow before.
    #[must_use]
    pub fn with_tolerance_percent(mut self, percent: f64) -> Self {
        self.tolerance_percent = percent;
        self
    }

    /// What changed, and whether as predicted.
    ///
    /// Readings of one section are averaged by the inverse of their own variances. The relative
    /// variance of the ratio is that of both flows, and for each instrument that of its factor times
    /// the square of the difference of its shares in both (JCGM 100:2008, 5.1.2, and 5.2.2 for the
    /// correlated part; see [`Balance::uncertainty`](crate::Balance::uncertainty)).
    ///
    /// # Errors
    ///
    /// [`BeforeAfterError`]: a reading, a shared error, a prediction or the tolerance out of its
    /// range, no flow before, a prediction for a section that was not read twice.
    pub fn compare(&self) -> Result<FlowChanges, BeforeAfterError> {
        let tolerance = self.tolerance_percent;
        if !(tolerance > 0.0 && tolerance <= 100.0) {
            return Err(BeforeAfterError::Tolerance { percent: tolerance });
        }
        let (order, before) = self.means("before", &self.before)?;
        let (later, after) = self.means("after", &self.after)?;
        let pairs: Vec<_> = order
            .iter()
            .filter_map(|name| Some((*name, before.get(name)?, after.get(name)?)))
            .collect();
        let predicted = self.predictions(pairs.iter().map(|(name, ..)| *name).collect())?;
        let changes = pairs.iter().map(|(section, from, to)| {
            // Below, the percentage and its uncertainty leave the range of numbers.
            if from.flow < *STANDARD.start() {
                return Err(BeforeAfterError::NoFlow {
                    section: (*section).clone(),
                    flow: VolumeFlow::from_m3_s(from.flow),
                });
            }
            let predicted = predicted.get(section).copied();
            Ok(self.change(section, from, to, predicted))
        });
        let only_before = order.iter().filter(|name| !after.contains_key(*name));
        let only_after = later.iter().filter(|name| !before.contains_key(*name));
        Ok(FlowChanges {
            changes: changes.collect::<Result<_, _>>()?,
            unpaired: only_before
                .chain(only_after)
                .map(|name| (*name).clone())
                .collect(),
        })
    }

    /// The sections of a survey in their order, and their means.
    fn means<'a>(
        &self,
        survey: &'static str,
        readings: &'a [FlowAt],
    ) -> Result<(Vec<&'a Name>, HashMap<&'a Name, Mean>), BeforeAfterError> {
        let instruments = judge(readings, &self.shared)
            .map_err(|error| BeforeAfterError::Reading { survey, error })?;
        let mut order = Vec::new();
        let mut means: HashMap<&Name, Mean> = HashMap::new();
        for (at, instrument) in readings.iter().zip(instruments) {
            let mean = means.entry(&at.section).or_insert_with(|| {
                order.push(&at.section);
                Mean {
                    flow: 0.0,
                    own: f64::INFINITY,
                    shares: vec![0.0; self.shared.len()],
                }
            });
            // One reading after another into the mean: no weight can overflow.
            let own = at.standard.as_m3_s().powi(2);
            let share = 1.0 / (1.0 + own / mean.own);
            mean.flow += share * (at.flow.as_m3_s() - mean.flow);
            mean.own = own * share;
            mean.shares
                .iter_mut()
                .for_each(|others| *others *= 1.0 - share);
            if let Some(its) = instrument.and_then(|i| mean.shares.get_mut(i)) {
                *its += share;
            }
        }
        Ok((order, means))
    }

    fn predictions(
        &self,
        read: Vec<&Name>,
    ) -> Result<HashMap<&Name, &PredictedChange>, BeforeAfterError> {
        let known: HashSet<&Name> = read.iter().copied().collect();
        let mut found = HashMap::new();
        for at in &self.predicted {
            if !known.contains(&at.section) {
                let what = "section read before and after";
                let error = unknown(what, at.section.as_str(), read);
                return Err(BeforeAfterError::Unread(error));
            }
            for (what, value, least) in [
                ("predicted change", at.percent, -100.0),
                (
                    "standard uncertainty of the predicted change",
                    at.standard,
                    0.0,
                ),
            ] {
                if !(least..=1e5).contains(&value) {
                    return Err(BeforeAfterError::Predicted {
                        section: at.section.clone(),
                        what,
                        value,
                        least,
                    });
                }
            }
            if found.insert(&at.section, at).is_some() {
                let section = at.section.clone();
                return Err(BeforeAfterError::Twice { section });
            }
        }
        Ok(found)
    }

    fn change(
        &self,
        section: &Name,
        from: &Mean,
        to: &Mean,
        predicted: Option<&PredictedChange>,
    ) -> FlowChange {
        let ratio = to.flow / from.flow;
        let shares = from.shares.iter().zip(&to.shares).zip(&self.shared);
        let shared = shares.map(|((from, to), at)| (at.relative * (to - from)).powi(2));
        let variance = to.own / from.flow.powi(2)
            + ratio.powi(2) * (from.own / from.flow.powi(2) + shared.sum::<f64>());
        let (percent, standard) = (100.0 * (ratio - 1.0), 100.0 * variance.sqrt());
        FlowChange {
            section: section.clone(),
            before: self.estimate(from),
            after: self.estimate(to),
            percent,
            standard,
            predicted: predicted.cloned(),
            verdict: predicted.map(|predicted| {
                let difference = percent - predicted.percent;
                let standard = standard.hypot(predicted.standard);
                if difference.abs() + ONE_SIDED * standard <= self.tolerance_percent {
                    ChangeVerdict::AsPredicted
                } else if difference > TWO_SIDED * standard {
                    ChangeVerdict::More
                } else if difference < -TWO_SIDED * standard {
                    ChangeVerdict::Less
                } else {
                    ChangeVerdict::CannotTell
                }
            }),
        }
    }

    fn estimate(&self, mean: &Mean) -> FlowEstimate {
        let shares = mean.shares.iter().zip(&self.shared);
        let shared = shares.map(|(share, at)| (at.relative * share * mean.flow).powi(2));
        FlowEstimate {
            flow: VolumeFlow::from_m3_s(mean.flow),
            standard: VolumeFlow::from_m3_s((mean.own + shared.sum::<f64>()).sqrt()),
        }
    }
}

/// What to tell the owner.
impl fmt::Display for ChangeVerdict {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Self::AsPredicted => "as predicted",
            Self::More => "more than predicted",
            Self::Less => "less than predicted",
            Self::CannotTell => "the readings cannot tell",
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn read(section: &str, flow: f64, standard: f64) -> FlowAt {
        let m3_s = VolumeFlow::from_m3_s;
        FlowAt::new(section, m3_s(flow), m3_s(standard))
    }

    fn close(ours: f64, theirs: f64) {
        assert!((ours / theirs - 1.0).abs() < 1e-12, "{ours}, not {theirs}");
    }

    /// By hand, JCGM 100:2008 5.1.6 (relative variances of a ratio add up; from memory): 0.40 +- 2 %
    /// becomes 0.50 +- 2 %: 25 % +- 125 sqrt(2 * 0.0004) = 3.5355 %.
    #[test]
    fn val_a_ratio_by_hand() {
        let by = |one: &str, other: &str| {
            let (before, after) = (
                read("a", 0.4, 0.008).by(one),
                read("a", 0.5, 0.01).by(other),
            );
            BeforeAfter::new([before], [after])
                .with_shared("vane", 0.03)
                .with_shared("tube", 0.03)
                .with_predicted("a", 30.0, 2.0)
        };
        let change = |surveys: &BeforeAfter| surveys.compare().unwrap().changes[0].clone();
        let same = change(&by("vane", "vane"));
        close(same.percent, 25.0);
        close(same.standard, 12.5_f64.sqrt());
        // The flows themselves keep the error of the vane: 0.008^2 + 0.012^2.
        close(same.before.standard.as_m3_s(), 2.08e-4_f64.sqrt());
        // Two instruments of 3 %: 125 sqrt(0.0008 + 0.0018).
        close(
            change(&by("vane", "tube")).standard,
            125.0 * 0.0026_f64.sqrt(),
        );
        // 5 +- sqrt(12.5 + 4) = 4.06 below the prediction: not beyond 1.96 of them, and 5 + 1.645 *
        // 4.06 = 11.7 is more than 10.
        assert_eq!(same.verdict, Some(ChangeVerdict::CannotTell));
        let verdict = |surveys: BeforeAfter| change(&surveys).verdict.unwrap();
        let wide = by("vane", "vane").with_tolerance_percent(12.0);
        assert_eq!(verdict(wide), ChangeVerdict::AsPredicted);
        let mut far = by("vane", "vane");
        far.predicted[0].percent = 40.0;
        assert_eq!(verdict(far.clone()), ChangeVerdict::Less);
        far.predicted[0].percent = 10.0;
        assert_eq!(verdict(far), ChangeVerdict::More);
    }

    /// Two readings of 1 and 4 +- 1 and 2 have the mean (1/1 + 4/4) / (1/1 + 1/4) = 1.6, variance 0.8,
    /// and the first has 4/5 of it; by hand.
    #[test]
    fn val_a_mean_by_hand() {
        let surveys = BeforeAfter::new(
            [read("a", 1.0, 1.0).by("vane"), read("a", 4.0, 2.0)],
            [read("a", 1.6, 1e-6), read("b", 1.0, 0.1)],
        );
        let result = surveys.with_shared("vane", 0.1).compare().unwrap();
        let change = &result.changes[0];
        close(change.before.flow.as_m3_s(), 1.6);
        close(
            change.before.standard.as_m3_s().powi(2),
            0.8 + (0.1 * 0.8 * 1.6_f64).powi(2),
        );
        close(
            (change.standard / 100.0).powi(2),
            0.8 / 2.56 + 0.08_f64.powi(2) + 1e-12 / 2.56,
        );
        assert_eq!(result.unpaired, ["b".into()]);
    }

    /// Found by the random surveys below.
    #[test]
    fn prop_a_vanishing_flow_before_is_refused() {
        let surveys = BeforeAfter::new([read("a", 3.09e-93, 1e-9)], [read("a", 1e-9, 1e-9)]);
        let told = surveys.compare();
        assert!(matches!(told, Err(BeforeAfterError::NoFlow { .. })));
    }

    #[test]
    fn prop_errors_say_what_and_where() {
        let good = || BeforeAfter::new([read("a", 0.4, 0.01)], [read("a", 0.5, 0.01)]);
        let told = |surveys: BeforeAfter| surveys.compare().unwrap_err().to_string();
        insta::assert_snapshot!(told(good().with_predicted("b", 1.0, 1.0)), @r#"no section read before and after is called "b"; known, nearest first: "a""#);
        insta::assert_snapshot!(told(good().with_predicted("a", 1.0, -1.0)), @r#"section "a": the standard uncertainty of the predicted change is -1 %; allowed: 0 to 100000 %"#);
        let twice = good()
            .with_predicted("a", 1.0, 1.0)
            .with_predicted("a", 1.0, 1.0);
        insta::assert_snapshot!(told(twice), @r#"section "a" has two predicted changes; give one"#);
        insta::assert_snapshot!(told(good().with_tolerance_percent(0.0)), @"the tolerance is 0 %; allowed: above 0 to 100 %");
        let mut surveys = good();
        surveys.after[0].standard = VolumeFlow::from_m3_s(0.0);
        insta::assert_snapshot!(told(surveys), @r#"after: reading 1, section "a": the standard uncertainty is 0 L/s; it must be above zero: 1e-9 m3/s to 1000 m3/s"#);
        let mut surveys = good();
        surveys.before[0].flow = VolumeFlow::from_m3_s(0.0);
        insta::assert_snapshot!(told(surveys), @r#"section "a": the flow before is 0 L/s; a change is told in percent of a flow of 1e-9 m3/s or more; leave the section out"#);
    }

    #[cfg(feature = "serde")]
    #[test]
    fn prop_text_of_two_surveys() {
        let text = r#"{
            "before": [{ "section": "a", "flow": "400 m3/h", "standard": "10 m3/h" }],
            "after": [{ "section": "a", "flow": "500 m3/h", "standard": "10 m3/h" }]
        }"#;
        let read: BeforeAfter = serde_json::from_str(text).unwrap();
        assert_eq!(read.tolerance_percent, 10.0);
        let again: BeforeAfter =
            serde_json::from_str(&serde_json::to_string(&read).unwrap()).unwrap();
        assert_eq!(again, read);
        assert!(serde_json::from_str::<BeforeAfter>(&text.replace("after", "later")).is_err());
    }

    fn number() -> impl Strategy<Value = f64> {
        prop_oneof![
            any::<f64>(),
            1e-9..2.0_f64,
            Just(0.0),
            Just(1e-9),
            Just(1000.0)
        ]
    }

    proptest! {
        #[test]
        fn prop_any_input_is_answered(
            before in proptest::collection::vec((number(), number()), 0..4),
            after in proptest::collection::vec((number(), number()), 0..4),
            shared in number(), percent in number(), standard in number(), tolerance in number(),
        ) {
            let all = |from: Vec<(f64, f64)>| -> Vec<FlowAt> {
                from.into_iter().map(|(q, u)| read("a", q, u).by("vane")).collect()
            };
            let surveys = BeforeAfter::new(all(before), all(after))
                .with_shared("vane", shared)
                .with_predicted("a", percent, standard)
                .with_tolerance_percent(tolerance);
            if let Ok(changes) = surveys.compare() {
                let change = &changes.changes[0];
                prop_assert!(change.percent >= -100.0 && change.standard > 0.0);
                prop_assert!(change.standard.is_finite());
            }
        }

        /// A verdict is never of both sides, and a surer reading never turns a told one into another.
        #[test]
        fn prop_surer_readings_tell_more(
            flow in 0.1..1.0, predicted in -50.0..50.0, standard in 0.001..0.1,
        ) {
            let verdict = |standard: f64| {
                let surveys = BeforeAfter::new(
                    [read("a", 0.5, standard)],
                    [read("a", flow, standard)],
                );
                let surveys = surveys.with_predicted("a", predicted, 0.0);
                surveys.compare().unwrap().changes[0].verdict.unwrap()
            };
            let (coarse, fine) = (verdict(standard), verdict(standard / 4.0));
            prop_assert!(coarse == fine
                || coarse == ChangeVerdict::CannotTell
                || fine == ChangeVerdict::AsPredicted);
            prop_assert_ne!(verdict(1e-7), ChangeVerdict::CannotTell);
        }
    }
}
