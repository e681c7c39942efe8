//! A balance in three cases, and whether it is enough in the worst of them.

use super::{
    CheckError, CheckOptions,
    check::{NeededFlow, Needs},
    source::Source,
};
use crate::{
    place::{Name, Place},
    quantity::VolumeFlow,
    solve::{Grade, Network, OperatingPoint, Output, Status, UncertainValue, UncertaintyError},
    system::{Assumption, ModelErrors, Parameter, System, UnknownName, unknown},
};
use std::fmt;

/// Assumptions that an answer names.
const NAMED: usize = 3;

/// A balance in its low, likely and high case, by [`low_likely_high`].
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct LowLikelyHigh {
    /// How the likely answer stands.
    pub status: Status,
    /// Total flow, at the fan.
    pub flow: Likely,
    /// Pressure on the basis of the fan's curve.
    pub fan_pressure: Likely,
    /// Every machine, in the order of the model.
    pub machines: Vec<LikelyMachine>,
    /// Every hood, in the order of their sections.
    pub hoods: Vec<LikelyHood>,
    /// The likely answer.
    pub point: OperatingPoint,
}

/// A value in its low, likely and high case.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct Likely {
    /// What it is.
    pub output: Output,
    /// Low case, in [the output's unit](Output::unit): the lower end of the band of 95 %, or what the
    /// [low case of an estimated fan](crate::FanCurve::low_case) gives where that is less.
    pub low: f64,
    /// The value as the model stands, in the same unit.
    pub likely: f64,
    /// High case: the upper end of the band of 95 %.
    pub high: f64,
    /// Its standard uncertainty, in the same unit.
    pub standard: f64,
    /// How much it deserves to be called calculated.
    pub grade: Grade,
    /// The assumptions that carry most of its variance: three at most, the largest share first.
    pub assumptions: Vec<WeighingAssumption>,
}

/// An assumption and how much of an answer's variance it carries.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct WeighingAssumption {
    /// The assumption; of several that are off alike, such as the friction of assumed hoses, the one
    /// that does most.
    pub assumption: Assumption,
    /// How many others are off alike.
    pub others: usize,
    /// Share of the variance, above 0 to 1.
    pub share: f64,
}

/// A machine in three cases.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct LikelyMachine {
    /// The machine.
    pub machine: Name,
    /// Whether any of its hoods is open.
    pub open: bool,
    /// What its hoods take in together.
    pub flow: Likely,
    /// What they need together; `None` where nothing is needed.
    pub need: Option<LikelyNeed>,
    /// Whether that is enough, for the machine and for each open hood of it with a need of its own.
    /// `None` where nothing is needed, and of a machine that is shut.
    pub adequacy: Option<Adequacy>,
    /// The hood that is served worse than the machine as a whole, if one is.
    pub starved: Option<Name>,
}

/// A hood in three cases.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct LikelyHood {
    /// The hood.
    pub hood: Name,
    /// The machine that it serves.
    pub machine: Option<Name>,
    /// Whether it is open.
    pub open: bool,
    /// What it takes in.
    pub flow: Likely,
    /// What it needs by itself, where that was said.
    pub need: Option<LikelyNeed>,
    /// Whether that is enough; `None` where nothing is needed, and of a hood that is shut.
    pub adequacy: Option<Adequacy>,
}

/// A need, and where it is from.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct LikelyNeed {
    /// The need.
    pub flow: VolumeFlow,
    /// The most that it may be: of an assumed need the upper end of its band, else the need itself.
    pub most: VolumeFlow,
    /// Where it stands.
    pub source: Source,
    /// Whether it was assumed.
    pub assumed: bool,
}

/// Whether a flow is enough, in its three cases; the worst first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "snake_case")
)]
#[non_exhaustive]
pub enum Adequacy {
    /// Even the high case is below the need.
    Short,
    /// The likely case is below the need.
    ProbablyShort,
    /// The likely case meets the need, the low case does not; or the answer lies outside the points
    /// of the fan's curve, which makes it a hint only.
    NotSurely,
    /// The low case meets the need, and the most that an assumed need may be.
    Adequate,
}

/// Why there are no cases to tell.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum LowLikelyHighError {
    /// The model is at fault.
    #[error(transparent)]
    Model(#[from] ModelErrors),
    /// A name that the network does not have.
    #[error(transparent)]
    Unknown(#[from] UnknownName),
    /// What machines need cannot be told.
    #[error(transparent)]
    Needs(#[from] CheckError),
    /// There is no balance, or no uncertainty to tell.
    #[error(transparent)]
    Uncertainty(#[from] UncertaintyError),
}

impl LowLikelyHighError {
    /// Whether the question itself was at fault.
    #[must_use]
    pub fn is_input(&self) -> bool {
        match self {
            Self::Uncertainty(error) => error.is_input(),
            _ => true,
        }
    }
}

/// The balance of an open set (names of hoods or machines) in its low, likely and high case, with the
/// assumptions that matter most to it.
///
/// The band is that of [`Network::uncertainty`] with the usual doubts about given numbers
/// ([`Network::doubts`]) and the bands of the assumptions, to first order. A fan known by two numbers
/// counts as an assumption whether or not it stands among them, and its own low case is solved as
/// well. Needs are those of the model, or of `options` where they say otherwise.
///
/// ```
/// # fn main() -> Result<(), Box<dyn std::error::Error>> {
/// # #[cfg(feature = "serde")] {
/// use airsplit::*;
/// let study: Study = toml::from_str(&std::fs::read_to_string("tests/data/documents/little_known.toml")?)?;
/// let open = ["planer".into()];
/// let cases = low_likely_high(&study.system, &study.assumptions, &open, &study.plans.check)?;
/// let planer = cases.machine("planer")?;
/// let [low, likely, high] = planer.flow.rounded(3600.0);
/// println!("{low:.0} / {likely:.0} / {high:.0} m3/h, {}", planer.flow.grade);
/// for one in &planer.flow.assumptions {
///     println!("{}\n  instead: {}", one.assumption, one.assumption.replaced_by());
/// }
/// assert_ne!(planer.adequacy, Some(Adequacy::Adequate));
/// # }
/// # Ok(())
/// # }
/// ```
///
/// # Errors
///
/// [`LowLikelyHighError`]: faults of the model, an unknown name, options that do not fit, no balance.
pub fn low_likely_high(
    system: &System,
    assumptions: &[Assumption],
    open: &[Name],
    options: &CheckOptions,
) -> Result<LowLikelyHigh, LowLikelyHighError> {
    let needs = Needs::of(system, options)?;
    let mut assumptions = assumptions.to_vec();
    let fan = system.collector.fan.as_ref();
    // Behind those given, of which the first of its kind counts; a published curve has no such
    // number.
    assumptions.push(Assumption::shape_of_fan());
    let network = Network::new(system)?;
    let doubts = network.doubts(&assumptions);
    let set = network.open(open)?;
    let uncertain = network.uncertainty(&set, &doubts)?;
    let point = network
        .operating_point(&set)
        .map_err(UncertaintyError::from)?;
    let low_fan = match fan.and_then(|fan| fan.low_case()) {
        None => LowFan::None,
        Some(fan) => {
            let mut low = system.clone();
            low.collector.fan = Some(fan);
            let answer = Network::new(&low)?.operating_point(&set);
            answer.map_or(LowFan::NoAir, |point| LowFan::Point(Box::new(point)))
        }
    };
    let telling = Telling {
        assumptions: &assumptions,
        low_fan,
        status: point.status,
    };
    let hoods: Vec<LikelyHood> = (point.hoods.iter().zip(&uncertain.hoods).zip(&needs.hoods))
        .map(|((state, value), need)| {
            let flow = telling.value(value);
            let need = need.as_ref().map(|need| telling.need(need, None));
            LikelyHood {
                hood: state.name.clone(),
                machine: state.machine.clone(),
                open: state.open,
                adequacy: telling.judge(state.open, &flow, need.as_ref()),
                flow,
                need,
            }
        })
        .collect();
    let machines = (point.machines.iter().zip(&uncertain.machines)).zip(&needs.machines);
    let machines = machines
        .map(|((state, value), need)| {
            let flow = telling.value(value);
            let need = need.as_ref();
            let need = need.map(|need| telling.need(need, Some(&state.name)));
            let own = telling.judge(state.open, &flow, need.as_ref());
            let hoods = hoods
                .iter()
                .filter(|hood| hood.machine.as_ref() == Some(&state.name));
            let worst = hoods
                .filter_map(|hood| Some((hood.adequacy?, hood)))
                .min_by_key(|(adequacy, _)| *adequacy);
            let starved = worst.filter(|(adequacy, _)| own.is_none_or(|own| *adequacy < own));
            LikelyMachine {
                machine: state.name.clone(),
                open: state.open,
                flow,
                need,
                adequacy: starved.map(|(adequacy, _)| adequacy).or(own),
                starved: starved.map(|(_, hood)| hood.hood.clone()),
            }
        })
        .collect();
    Ok(LowLikelyHigh {
        status: point.status,
        flow: telling.value(&uncertain.flow),
        fan_pressure: telling.value(&uncertain.fan_pressure),
        machines,
        hoods,
        point,
    })
}

/// The answer with the low case of an estimated fan.
enum LowFan {
    /// The fan is no estimate.
    None,
    /// It has none.
    NoAir,
    Point(Box<OperatingPoint>),
}

impl LowFan {
    fn value(&self, output: &Output) -> Option<f64> {
        let point = match self {
            Self::None => return None,
            Self::NoAir => return Some(0.0),
            Self::Point(point) => point,
        };
        match output {
            Output::TotalFlow => Some(point.flow.as_m3_s()),
            Output::FanPressure => Some(point.fan.curve_pressure.as_pa()),
            Output::Hood(name) => Some(point.hood(name.as_str()).ok()?.flow.as_m3_s()),
            Output::Machine(name) => Some(point.machine(name.as_str()).ok()?.flow.as_m3_s()),
            _ => None,
        }
    }
}

/// What every value is told with.
struct Telling<'a> {
    assumptions: &'a [Assumption],
    low_fan: LowFan,
    /// How the likely answer stands.
    status: Status,
}

impl Telling<'_> {
    fn value(&self, value: &UncertainValue) -> Likely {
        let low = value.low().min(value.value);
        let by_fan = self.low_fan.value(&value.output);
        let weighing = value.assumptions.iter().filter_map(|at| {
            let mut among = self.assumptions.iter();
            let is_it = |known: &&Assumption| {
                known.parameter == at.parameter && known.place == at.place && at.share > 0.0
            };
            Some(WeighingAssumption {
                assumption: among.find(is_it)?.clone(),
                others: at.others,
                share: at.share,
            })
        });
        Likely {
            output: value.output.clone(),
            low: by_fan.map_or(low, |by_fan| by_fan.min(low)),
            likely: value.value,
            high: value.high().max(value.value),
            standard: value.standard,
            grade: value.grade(),
            assumptions: weighing.take(NAMED).collect(),
        }
    }

    fn need(&self, need: &NeededFlow, machine: Option<&Name>) -> LikelyNeed {
        let assumed = machine.and_then(|machine| {
            let mut among = self.assumptions.iter();
            among.find(|at| {
                at.parameter == Parameter::Required
                    && matches!(&at.place, Place::Machine(name) if name == machine)
                    // The options may have put another need in its place.
                    && at.value == need.flow.as_m3_s()
            })
        });
        LikelyNeed {
            flow: need.flow,
            most: assumed.map_or(need.flow, |at| VolumeFlow::from_m3_s(at.high.max(at.value))),
            source: match assumed {
                Some(at) => Source::assumed(at.source),
                None => need.source.clone(),
            },
            assumed: assumed.is_some(),
        }
    }

    fn judge(&self, open: bool, flow: &Likely, need: Option<&LikelyNeed>) -> Option<Adequacy> {
        let need = need.filter(|_| open)?;
        let cases = [flow.low, flow.likely, flow.high];
        let found = Adequacy::of(cases, need.flow.as_m3_s(), need.most.as_m3_s());
        Some(found.at_most(self.status))
    }
}

impl Likely {
    /// Low, likely and high case times `factor`, to two significant digits: 3600 for m3/h.
    #[must_use]
    pub fn rounded(&self, factor: f64) -> [f64; 3] {
        [self.low, self.likely, self.high].map(|value| two_digits(factor * value))
    }
}

/// Rounded to two significant digits.
fn two_digits(value: f64) -> f64 {
    format!("{value:.1e}").parse().unwrap_or(value)
}

impl LowLikelyHigh {
    /// The machine of that name.
    ///
    /// # Errors
    ///
    /// When there is none, with the names that exist, nearest first.
    pub fn machine(&self, name: &str) -> Result<&LikelyMachine, UnknownName> {
        let mut among = self.machines.iter();
        let found = among.find(|at| at.machine.as_str() == name);
        let names = self.machines.iter().map(|at| &at.machine);
        found.ok_or_else(|| unknown("machine", name, names))
    }

    /// The worst grade of the total flow and of what is open.
    #[must_use]
    pub fn grade(&self) -> Grade {
        let values = self.open_values().map(|value| value.grade);
        values.fold(self.flow.grade, Grade::max)
    }

    /// The assumptions that carry most of the variance of the total flow or of any open machine or
    /// hood: three at most, each with its largest share, the largest first.
    #[must_use]
    pub fn assumptions(&self) -> Vec<&WeighingAssumption> {
        let mut found: Vec<&WeighingAssumption> = Vec::new();
        let values = std::iter::once(&self.flow).chain(self.open_values());
        for one in values.flat_map(|value| &value.assumptions) {
            let mut known = found.iter_mut();
            let same = known.find(|at| {
                at.assumption.place == one.assumption.place
                    && at.assumption.parameter == one.assumption.parameter
            });
            match same {
                Some(known) if known.share < one.share => *known = one,
                Some(_) => {}
                None => found.push(one),
            }
        }
        // Stable: of equals the first.
        found.sort_by(|a, b| b.share.total_cmp(&a.share));
        found.truncate(NAMED);
        found
    }

    fn open_values(&self) -> impl Iterator<Item = &Likely> {
        let machines = self.machines.iter().filter(|at| at.open);
        let hoods = self.hoods.iter().filter(|at| at.open);
        machines.map(|at| &at.flow).chain(hoods.map(|at| &at.flow))
    }
}

impl Adequacy {
    /// Of low, likely and high flow against a need and the most that it may be.
    pub(crate) fn of([low, likely, high]: [f64; 3], need: f64, most: f64) -> Self {
        if low >= need.max(most) {
            Self::Adequate
        } else if likely >= need {
            Self::NotSurely
        } else if high >= need {
            Self::ProbablyShort
        } else {
            Self::Short
        }
    }

    /// Nothing outside the points of the fan's curve is surely enough: it is a hint only.
    pub(crate) fn at_most(self, status: Status) -> Self {
        match status {
            Status::Converged | Status::FlowImposed => self,
            Status::BeyondCurve | Status::BelowCurve => self.min(Self::NotSurely),
        }
    }
}

/// `0.24 / 0.29 / 0.34 m3/s, estimate`
impl fmt::Display for Likely {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let [low, likely, high] = self.rounded(1.0);
        let unit = self.output.unit();
        write!(f, "{low} / {likely} / {high}{unit}, {}", self.grade)
    }
}

impl fmt::Display for Adequacy {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Self::Short => "too little",
            Self::ProbablyShort => "probably too little",
            Self::NotSurely => "probably enough, not surely",
            Self::Adequate => "adequate",
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        FanCurve, Fitted,
        decide::by_hand::{m3_s, not_converged, pa, shop, solved, with_need_at_table},
        solve::{Contribution, SolveError},
    };

    #[test]
    fn prop_three_cases_are_told_to_two_digits() {
        let flow = Likely {
            output: Output::TotalFlow,
            low: 0.23456,
            likely: 0.28765,
            high: 0.3449,
            standard: 0.03,
            grade: Grade::Estimate,
            assumptions: Vec::new(),
        };
        assert_eq!(flow.to_string(), "0.23 / 0.29 / 0.34 m3/s, estimate");
        // 844.4, 1035.5 and 1241.6 m3/h.
        assert_eq!(flow.rounded(3600.0), [840.0, 1000.0, 1200.0]);
        assert_eq!(two_digits(-0.000_123), -0.000_12);
    }

    #[test]
    fn prop_what_the_solver_could_not_do_is_no_fault_of_the_question() {
        let unknown = LowLikelyHighError::from(unknown("machine", "saw", []));
        assert!(unknown.is_input());
        let solve = |error: SolveError| LowLikelyHighError::from(UncertaintyError::from(error));
        assert!(solve(SolveError::NothingOpen).is_input());
        assert!(!solve(not_converged()).is_input());
    }

    #[test]
    fn the_low_case_of_a_fan_gives_every_flow_and_its_pressure() {
        let point = solved(&shop(), &["saw"]);
        let (saw, planer) = (point.hoods[0].flow, point.hoods[1].flow);
        assert!(saw != planer && saw.as_m3_s() > 0.0);
        let pressure = point.fan.curve_pressure.as_pa();
        let total = point.flow.as_m3_s();
        let low = LowFan::Point(Box::new(point));
        for (output, value) in [
            (Output::TotalFlow, Some(total)),
            (Output::FanPressure, Some(pressure)),
            (Output::Hood("table".into()), Some(saw.as_m3_s())),
            (Output::Hood("chute".into()), Some(planer.as_m3_s())),
            (Output::Machine("saw".into()), Some(saw.as_m3_s())),
            (Output::Hood("nobody".into()), None),
            (Output::Section("main".into()), None),
        ] {
            assert_eq!(low.value(&output), value, "{output:?}");
            assert_eq!(LowFan::NoAir.value(&output), Some(0.0));
            assert_eq!(LowFan::None.value(&output), None);
        }
    }

    fn assumption(place: Place, parameter: Parameter) -> Assumption {
        Assumption {
            place,
            parameter,
            value: 1.0,
            low: 0.9,
            high: 1.1,
            source: "the owner",
        }
    }

    #[test]
    fn a_value_names_its_own_assumptions_and_none_that_carries_nothing() {
        let section = |id: &str| Place::Section(id.into());
        let known = [
            assumption(section("main"), Parameter::Diameter),
            assumption(section("left"), Parameter::Roughness),
            assumption(section("main"), Parameter::Roughness),
        ];
        let telling = Telling {
            assumptions: &known,
            low_fan: LowFan::None,
            status: Status::Converged,
        };
        let of = |place, parameter, share| Contribution {
            place,
            parameter,
            others: 0,
            cause: None,
            change: 0.1,
            share,
            assumed: true,
            source: "the owner".into(),
        };
        let value = UncertainValue {
            output: Output::TotalFlow,
            value: 1.0,
            standard: 0.1,
            contributions: Vec::new(),
            assumptions: vec![
                of(section("main"), Parameter::Roughness, 0.5),
                of(section("left"), Parameter::Roughness, 0.0),
                of(section("right"), Parameter::Roughness, 0.3),
            ],
            assumed_share: 0.8,
        };
        let told = telling.value(&value).assumptions;
        let told: Vec<_> = told.iter().map(|at| (&at.assumption, at.share)).collect();
        assert_eq!(told, [(&known[2], 0.5)]);
    }

    /// Not another machine's, however like it is, and none that is not what the machine needs now.
    #[test]
    fn a_need_is_assumed_only_where_its_own_machine_says_so() {
        let machine = |id: &str| Place::Machine(id.into());
        let known = [
            assumption(machine("planer"), Parameter::Required),
            assumption(machine("saw"), Parameter::Roughness),
            assumption(machine("saw"), Parameter::Required),
        ];
        let need = |assumptions: &[Assumption], machine: Option<&str>, flow| {
            let telling = Telling {
                assumptions,
                low_fan: LowFan::None,
                status: Status::Converged,
            };
            let need = NeededFlow::of_model(m3_s(flow)).unwrap();
            let told = telling.need(&need, machine.map(Name::from).as_ref());
            assert_eq!(told.flow, need.flow);
            (told.assumed, told.most.as_m3_s())
        };
        assert_eq!(need(&known, Some("saw"), 1.0), (true, 1.1));
        assert_eq!(need(&known[..2], Some("saw"), 1.0), (false, 1.0));
        assert_eq!(need(&known, Some("saw"), 2.0), (false, 2.0));
        assert_eq!(need(&known, None, 1.0), (false, 1.0));
    }

    #[test]
    fn of_all_answers_the_largest_share_of_each_assumption_is_told_and_of_equals_the_first() {
        let mut cases =
            low_likely_high(&shop(), &[], &["saw".into()], &CheckOptions::new()).unwrap();
        let weighs = |id: &str, parameter, share, others| WeighingAssumption {
            assumption: assumption(Place::Section(id.into()), parameter),
            others,
            share,
        };
        use Parameter::{Diameter, Roughness};
        cases.hoods.clear();
        cases.flow.assumptions = vec![
            weighs("main", Roughness, 0.3, 0),
            weighs("main", Diameter, 0.2, 0),
            weighs("left", Roughness, 0.1, 0),
        ];
        cases.machines[0].flow.assumptions = vec![
            weighs("main", Roughness, 0.5, 7),
            weighs("main", Diameter, 0.2, 7),
            weighs("left", Roughness, 0.05, 7),
        ];
        // The planer is shut.
        cases.machines[1].flow.assumptions = vec![weighs("right", Roughness, 0.9, 7)];
        let told: Vec<_> = cases.assumptions().into_iter().cloned().collect();
        assert_eq!(
            told,
            [
                weighs("main", Roughness, 0.5, 7),
                weighs("main", Diameter, 0.2, 0),
                weighs("left", Roughness, 0.1, 0),
            ]
        );
    }

    #[test]
    fn a_hood_served_as_well_as_its_machine_is_not_starved() {
        let of_saw = |need: f64| {
            let system = with_need_at_table(shop(), need);
            let open = ["saw".into()];
            let cases = low_likely_high(&system, &[], &open, &CheckOptions::new()).unwrap();
            let saw = cases.machine("saw").unwrap();
            (saw.adequacy, saw.starved.clone())
        };
        assert_eq!(of_saw(0.1), (Some(Adequacy::Adequate), None));
        // More than the fan moves at all.
        assert_eq!(of_saw(1.5), (Some(Adequacy::Short), Some("table".into())));
    }

    /// A fan known by two numbers has an assumed shape, whatever else of it is assumed.
    #[test]
    fn the_shape_of_a_guessed_fan_is_an_assumption() {
        let mut system = shop();
        let names = |system: &System, assumptions: &[Assumption]| {
            let open = ["saw".into()];
            let cases = low_likely_high(system, assumptions, &open, &CheckOptions::new());
            let told = cases.unwrap().flow.assumptions;
            let of_fan = told.iter().filter(|at| at.assumption.place == Place::Fan);
            of_fan.map(|at| at.assumption.clone()).collect::<Vec<_>>()
        };
        assert_eq!(names(&system, &[]), []);
        let density = system.air.properties().unwrap().density;
        let (flow, pressure) = (m3_s(1.0), pa(3000.0));
        let fan = FanCurve::from_extremes(flow, pressure, Fitted::NOTHING, density);
        system.collector.fan = Some(fan.unwrap());
        let shape = Assumption::shape_of_fan();
        assert_eq!(names(&system, &[]), std::slice::from_ref(&shape));
        let speed = assumption(Place::Fan, Parameter::Speed);
        assert!(names(&system, &[speed]).contains(&shape));
        // One that was told counts, not the usual one.
        let own = Assumption {
            low: 0.6,
            high: 0.8,
            ..shape
        };
        let own = [own];
        assert_eq!(names(&system, &own), own);
    }
}
