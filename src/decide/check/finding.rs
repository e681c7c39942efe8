//! What a check found: value, limit, margin, source, and how sure.

use crate::{
    decide::source::Source,
    place::Place,
    quantity::{Pressure, Velocity, VolumeFlow},
};
use std::fmt;

/// What was looked at.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "snake_case")
)]
#[non_exhaustive]
pub enum Check {
    /// Flow of a machine against its need.
    MachineFlow,
    /// Flow of a hood against its own need.
    HoodFlow,
    /// Velocity against what carries the dust.
    Transport,
    /// Velocity against what is still sensible.
    TopVelocity,
    /// Static suction behind a hood against what a machine's maker may count on.
    HoodSuction,
    /// Flow through filter cloth against its loading limit.
    FilterLoading,
    /// The fan's point against the part of its curve that rises.
    Stall,
    /// The fan's point against the ends of its published curve.
    FanCurve,
    /// Load of the motor.
    MotorLoad,
    /// Load of the motor at the flow where the fan takes most, as when a duct comes off.
    MotorPeak,
    /// Suction against the collapse of the duct, as the system runs.
    Collapse,
    /// The same with every gate shut, when the fan's highest pressure may stand in the whole duct.
    CollapseShutOff,
    /// Suction against what air of one density may be computed at.
    Incompressible,
    /// That the answer leans on gates.
    Gates,
    /// A gate that stands part open.
    PartOpenGate,
    /// What an answer for some open gates is worth.
    OpenSet,
    /// Dust that burns.
    CombustibleDust,
    /// Bonding and earthing.
    Bonding,
    /// Air that must come back in.
    MakeUpAir,
    /// Who decides.
    LocalCodes,
}

/// What came out of a check.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "snake_case")
)]
#[non_exhaustive]
pub enum Verdict {
    /// The limit is kept.
    Passes,
    /// No limit is broken, but something speaks against it.
    Advice,
    /// The limit is broken.
    Fails,
    /// It could not be checked: the text says what is missing.
    Unknown,
    /// Said always, or wherever its cause is there; nothing was compared.
    Caution,
}

/// How sure a verdict is, given how uncertain the solver's result is.
///
/// By the distance of the value from its limit in standard uncertainties of the value: beyond 2
/// surely, beyond 1 probably, within 1 nobody can say. These thresholds are judgement, no source.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "snake_case")
)]
#[non_exhaustive]
pub enum Sureness {
    /// More than two standard uncertainties from the limit.
    Surely,
    /// One to two.
    Probably,
    /// Less than one: it may as well be the other way round.
    CannotSay,
    /// No uncertainty was given, or nothing was compared.
    NotStated,
}

/// A value or limit, with its quantity.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize),
    serde(rename_all = "snake_case")
)]
#[non_exhaustive]
pub enum Measure {
    /// A flow.
    Flow(VolumeFlow),
    /// A velocity; a filter's loading, flow per area, among them.
    Velocity(Velocity),
    /// A pressure or suction.
    Pressure(Pressure),
    /// A share, 1 the whole.
    Share(f64),
}

/// What a check found.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct Finding {
    /// What was looked at.
    pub check: Check,
    /// Where.
    pub place: Place,
    /// What came out.
    pub verdict: Verdict,
    /// How sure that is.
    pub sure: Sureness,
    /// What was found there.
    pub value: Option<Measure>,
    /// What it was held against.
    pub limit: Option<Measure>,
    /// How far the value is on the good side of the limit, as a share of the limit: below 0 on the
    /// bad side. `None` where nothing was compared.
    pub margin: Option<f64>,
    /// Which of the points this is from, the worst of all: its index, in their order. `None` where
    /// it does not hang on the point.
    pub point: Option<usize>,
    /// The finding in words.
    pub text: String,
    /// Where the limit stands, or the caution.
    pub source: Source,
}

/// What all checks found, in the order of the checks.
#[derive(Debug, Clone, PartialEq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize), serde(transparent))]
#[non_exhaustive]
pub struct Findings {
    /// All of them, passed checks and cautions among them.
    pub all: Vec<Finding>,
}

impl Findings {
    /// Those with this verdict.
    pub fn with(&self, verdict: Verdict) -> impl Iterator<Item = &Finding> {
        self.all.iter().filter(move |f| f.verdict == verdict)
    }

    /// Those of this check.
    pub fn of(&self, check: Check) -> impl Iterator<Item = &Finding> {
        self.all.iter().filter(move |f| f.check == check)
    }

    /// Those that broke a limit.
    pub fn failures(&self) -> impl Iterator<Item = &Finding> {
        self.with(Verdict::Fails)
    }
}

impl Finding {
    /// Whether this and another finding are about the same thing.
    #[must_use]
    pub fn is_about_the_same(&self, other: &Self) -> bool {
        self.check == other.check && self.place == other.place
    }

    pub(super) fn is_worse_than(&self, other: &Self) -> bool {
        match (self.margin, other.margin) {
            (Some(own), Some(other)) => own < other,
            (Some(_), None) => true,
            _ => false,
        }
    }
}

/// Which side of its limit a value should be on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Side {
    AtLeast,
    AtMost,
}

/// A comparison, before it is judged.
pub(super) struct Comparing {
    pub(super) check: Check,
    pub(super) place: Place,
    pub(super) value: Measure,
    pub(super) limit: Measure,
    pub(super) side: Side,
    /// Verdict where the limit is broken.
    pub(super) broken: Verdict,
    /// Relative standard uncertainty of the value.
    pub(super) relative: Option<f64>,
    pub(super) point: Option<usize>,
    pub(super) text: String,
    pub(super) source: Source,
}

impl Comparing {
    pub(super) fn judge(self) -> Finding {
        let (value, limit) = (self.value.number(), self.limit.number());
        let margin = match self.side {
            Side::AtLeast => value / limit - 1.0,
            Side::AtMost => 1.0 - value / limit,
        };
        let kept = match self.side {
            Side::AtLeast => value >= limit,
            Side::AtMost => value <= limit,
        };
        Finding {
            check: self.check,
            place: self.place,
            verdict: if kept { Verdict::Passes } else { self.broken },
            sure: match self.relative {
                None => Sureness::NotStated,
                Some(relative) => sureness(value, limit, relative),
            },
            value: Some(self.value),
            limit: Some(self.limit),
            margin: Some(margin),
            point: self.point,
            text: self.text,
            source: self.source,
        }
    }
}

fn sureness(value: f64, limit: f64, relative: f64) -> Sureness {
    let away = (value - limit).abs();
    let sigma = relative * value.abs();
    if away > 2.0 * sigma {
        Sureness::Surely
    } else if away > sigma {
        Sureness::Probably
    } else {
        Sureness::CannotSay
    }
}

impl Measure {
    /// The number in SI units.
    #[must_use]
    pub fn number(self) -> f64 {
        match self {
            Self::Flow(flow) => flow.as_m3_s(),
            Self::Velocity(velocity) => velocity.as_m_s(),
            Self::Pressure(pressure) => pressure.as_pa(),
            Self::Share(share) => share,
        }
    }
}

/// Rounded for reading: `820 m3/h`, `18.3 m/s`, `1240 Pa`, `84 %`.
impl fmt::Display for Measure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&match self {
            Self::Flow(flow) => format!("{:.0} m3/h", flow.as_m3_h()),
            Self::Velocity(velocity) if velocity.as_m_s().abs() < 1.0 => {
                format!("{:.4} m/s", velocity.as_m_s())
            }
            Self::Velocity(velocity) => format!("{:.1} m/s", velocity.as_m_s()),
            Self::Pressure(pressure) => format!("{:.0} Pa", pressure.as_pa()),
            Self::Share(share) => format!("{:.0} %", 100.0 * share),
        })
    }
}

/// `machine "planer": gets 970 m3/h of the 1110 m3/h it needs; fails, probably`
impl fmt::Display for Finding {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}", self.place, self.text)?;
        if self.verdict != Verdict::Caution {
            write!(f, "; {}", self.verdict)?;
        }
        match self.sure {
            Sureness::NotStated => Ok(()),
            sure => write!(f, ", {sure}"),
        }
    }
}

impl fmt::Display for Verdict {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Self::Passes => "passes",
            Self::Advice => "better avoided",
            Self::Fails => "fails",
            Self::Unknown => "not checked",
            Self::Caution => "caution",
        })
    }
}

impl fmt::Display for Sureness {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Self::Surely => "surely",
            Self::Probably => "probably",
            Self::CannotSay => "but within its uncertainty: cannot say",
            Self::NotStated => "without a stated uncertainty",
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn comparing(value: f64, limit: f64, side: Side, relative: Option<f64>) -> Finding {
        let comparing = Comparing {
            check: Check::MachineFlow,
            place: Place::Machine("planer".into()),
            value: Measure::Share(value),
            limit: Measure::Share(limit),
            side,
            broken: Verdict::Fails,
            relative,
            point: None,
            text: "so it is".into(),
            source: Source::given("the owner"),
        };
        comparing.judge()
    }

    #[test]
    fn prop_margins_are_shares_of_the_limit_and_fall_below_zero_where_it_is_broken() {
        let margin = |value, side| comparing(value, 2.0, side, None).margin.unwrap();
        assert_eq!(margin(3.0, Side::AtLeast), 0.5);
        assert_eq!(margin(1.0, Side::AtLeast), -0.5);
        assert_eq!(margin(3.0, Side::AtMost), -0.5);
        assert_eq!(margin(1.0, Side::AtMost), 0.5);
        for side in [Side::AtLeast, Side::AtMost] {
            assert_eq!(comparing(2.0, 2.0, side, None).verdict, Verdict::Passes);
        }
        let of = |margin| Finding {
            margin,
            ..comparing(1.0, 2.0, Side::AtLeast, None)
        };
        assert!(of(Some(-0.1)).is_worse_than(&of(Some(0.1))));
        assert!(!of(Some(0.1)).is_worse_than(&of(Some(0.1))));
        assert!(of(Some(0.1)).is_worse_than(&of(None)));
        assert!(!of(None).is_worse_than(&of(Some(0.1))) && !of(None).is_worse_than(&of(None)));
    }

    #[test]
    fn prop_findings_say_their_verdict_and_how_sure_it_is() {
        // 0.5 below a limit of 2: beyond two, beyond one and within one standard uncertainty of 1.5.
        let told = |relative| comparing(1.5, 2.0, Side::AtLeast, relative).to_string();
        assert_eq!(
            told(Some(0.16)),
            "machine \"planer\": so it is; fails, surely"
        );
        assert_eq!(
            told(Some(0.17)),
            "machine \"planer\": so it is; fails, probably"
        );
        assert_eq!(
            told(Some(0.34)),
            "machine \"planer\": so it is; fails, but within its uncertainty: cannot say"
        );
        assert_eq!(told(None), "machine \"planer\": so it is; fails");
        let caution = Finding {
            verdict: Verdict::Caution,
            ..comparing(1.5, 2.0, Side::AtLeast, None)
        };
        assert_eq!(caution.to_string(), "machine \"planer\": so it is");
    }

    #[test]
    fn two_standard_uncertainties_away_it_is_sure() {
        // A quarter of 1: edges at 0.75 and 0.5, which belong to the less sure.
        for (limit, sure) in [
            (0.49, Sureness::Surely),
            (0.5, Sureness::Probably),
            (0.74, Sureness::Probably),
            (0.75, Sureness::CannotSay),
            (1.0, Sureness::CannotSay),
            (1.26, Sureness::Probably),
            (1.51, Sureness::Surely),
        ] {
            assert_eq!(sureness(1.0, limit, 0.25), sure, "{limit}");
        }
    }

    #[test]
    fn measures_are_rounded_for_reading() {
        let m_s = |v| Measure::Velocity(Velocity::from_m_s(v)).to_string();
        assert_eq!(
            [m_s(18.26), m_s(1.0), m_s(-1.0)],
            ["18.3 m/s", "1.0 m/s", "-1.0 m/s"]
        );
        assert_eq!([m_s(0.04167), m_s(-0.5)], ["0.0417 m/s", "-0.5000 m/s"]);
        let flow = Measure::Flow(VolumeFlow::from_m3_h(820.4));
        let pressure = Measure::Pressure(Pressure::from_pa(1239.6));
        assert_eq!(format!("{flow:>9}|{pressure}"), " 820 m3/h|1240 Pa");
        assert_eq!(Measure::Share(0.836).to_string(), "84 %");
    }
}
