//! What the doubts about the numbers of a system amount to, by drawing them again and again.

use super::{
    Doubt, Network, OpenSet, Output, SolveError, UncertaintyError, Workspace,
    plan::Plan,
    probe::{self, Number},
    uncertainty::Causes,
};
use crate::{
    place::Place,
    system::{Parameter, Setting, Spot},
};
use std::collections::HashMap;

/// How often to draw, and from where.
///
/// ```
/// let quick = airsplit::MonteCarlo::default().draws(200);
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(default, deny_unknown_fields)
)]
#[non_exhaustive]
pub struct MonteCarlo {
    /// How many systems are drawn and solved: 2 to [`MOST_DRAWS`](Self::MOST_DRAWS). The standard deviation of n draws is
    /// itself uncertain by a share of 1 / sqrt(2 n).
    pub draws: u32,
    /// Where the sequence of random numbers begins: the same seed gives the same answer, on every
    /// machine.
    pub seed: u64,
}

impl Default for MonteCarlo {
    /// 1000 draws: their standard deviation is good to about 2 %.
    fn default() -> Self {
        Self {
            draws: 1000,
            seed: 1,
        }
    }
}

impl MonteCarlo {
    /// Most draws: their standard deviation is good to 0.07 %.
    pub const MOST_DRAWS: u32 = 1_000_000;

    /// With so many draws.
    #[must_use]
    pub const fn draws(mut self, draws: u32) -> Self {
        self.draws = draws;
        self
    }

    /// From this seed.
    #[must_use]
    pub const fn seed(mut self, seed: u64) -> Self {
        self.seed = seed;
        self
    }
}

/// How the answers of drawn systems lie, by [`Network::monte_carlo`].
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct Sampled {
    /// How many systems were drawn.
    pub draws: u32,
    /// How many of them gave no answer, and are left out: numbers that together make no system,
    /// or a system without a balance.
    pub failed: u32,
    /// Total flow, at the fan.
    pub flow: SampledValue,
    /// Pressure on the basis of the fan's curve.
    pub fan_pressure: SampledValue,
    /// Flow of every hood, in the order of their sections.
    pub hoods: Vec<SampledValue>,
    /// Flow of every machine, in the order of the model.
    pub machines: Vec<SampledValue>,
}

/// How one output lies over all draws, in [its unit](Output::unit).
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct SampledValue {
    /// What it is.
    pub output: Output,
    /// Mean of all draws, in the SI unit of the output.
    pub mean: f64,
    /// Standard deviation of all draws, in the SI unit of the output.
    pub standard: f64,
    /// 2.5 % of the draws lie below.
    pub low: f64,
    /// Half of the draws lie below, in the SI unit of the output.
    pub median: f64,
    /// 2.5 % of the draws lie above.
    pub high: f64,
}

impl Sampled {
    /// Every value: total flow, fan pressure, hoods, machines.
    pub fn values(&self) -> impl Iterator<Item = &SampledValue> {
        [&self.flow, &self.fan_pressure]
            .into_iter()
            .chain(&self.hoods)
            .chain(&self.machines)
    }
}

impl Network {
    /// Draws every doubtful number, compiles and solves the system so drawn, and tells how the
    /// answers lie: what [`uncertainty`](Self::uncertainty) takes for straight is followed as it is.
    ///
    /// Each cause is drawn once a system, normally. A draw that would take a number out of what it
    /// can be (an opening beyond wide open, a humidity below 0) is drawn again; of several numbers
    /// that one cause puts off, those stop at the end of what they can be. Random numbers:
    /// `SplitMix64` (G. L. Steele, D. Lea and C. H. Flood, "Fast splittable pseudorandom number
    /// generators", OOPSLA 2014), made normal by the transform of G. E. P. Box and M. E. Muller
    /// ("A note on the generation of random normal deviates", 1958).
    ///
    /// # Errors
    ///
    /// [`UncertaintyError`]: as [`Balance::uncertainty`](super::Balance::uncertainty); no balance
    /// of the system as it stands; fewer than two answers.
    pub fn monte_carlo(
        &self,
        open: &OpenSet,
        doubts: &[Doubt],
        how: &MonteCarlo,
    ) -> Result<Sampled, UncertaintyError> {
        if how.draws > MonteCarlo::MOST_DRAWS {
            return Err(UncertaintyError::TooManyDraws { draws: how.draws });
        }
        let mut work = Workspace::default();
        self.solve(open, &mut work)?;
        let causes = Causes::of(doubts)?;
        let about = self.about(doubts)?;
        let plan = self.plan();
        let hoods = plan
            .hoods
            .iter()
            .map(|hood| Output::Hood(hood.name.clone()));
        let machines = plan.machines.iter();
        let machines = machines.map(|machine| Output::Machine(machine.name.clone()));
        let both = [Output::TotalFlow, Output::FanPressure];
        let outputs: Vec<Output> = both.into_iter().chain(hoods).chain(machines).collect();
        let mut samples: Vec<Vec<f64>> = vec![Vec::new(); outputs.len()];
        let mut random = Normal::new(how.seed);
        for _ in 0..how.draws {
            let drawn = draw(&causes, doubts, &about, &mut random);
            // Systems that cannot be, or that find no balance, are counted below.
            let Ok(network) = self.redrawn(&drawn) else {
                continue;
            };
            let Ok(balance) = network.solve(open, &mut work) else {
                continue;
            };
            for (output, sample) in outputs.iter().zip(&mut samples) {
                sample.push(balance.value(output).map_err(SolveError::from)?);
            }
        }
        let good = samples.first().map_or(0, Vec::len) as u32;
        if good < 2 {
            let draws = how.draws;
            return Err(UncertaintyError::Draws { draws, good });
        }
        let mut told = outputs.into_iter().zip(samples).map(tell);
        let (Some(flow), Some(fan_pressure)) = (told.next(), told.next()) else {
            return Err(UncertaintyError::Draws {
                draws: how.draws,
                good,
            });
        };
        Ok(Sampled {
            draws: how.draws,
            failed: how.draws - good,
            flow,
            fan_pressure,
            hoods: told.by_ref().take(plan.hoods.len()).collect(),
            machines: told.collect(),
        })
    }

    /// The number that each doubt is about, as it stands.
    fn about(&self, doubts: &[Doubt]) -> Result<Vec<About>, UncertaintyError> {
        let plan = self.plan();
        let numbers = probe::numbers(plan);
        let place = |at: &Number| at.spot.place(&plan.origin.system);
        let known: HashMap<(Place, Parameter), &Number> = numbers
            .iter()
            .map(|at| ((place(at), at.parameter), at))
            .collect();
        doubts
            .iter()
            .map(|doubt| {
                let key = (doubt.place.clone(), doubt.parameter);
                match known.get(&key) {
                    Some(number) => Ok(About {
                        value: number.value,
                        range: range(plan, number),
                    }),
                    None => Err(UncertaintyError::NoNumber {
                        place: key.0,
                        parameter: key.1,
                    }),
                }
            })
            .collect()
    }
}

/// A number that is in doubt.
struct About {
    value: f64,
    /// What it can be.
    range: [f64; 2],
}

impl About {
    fn holds(&self, value: f64) -> bool {
        let [least, most] = self.range;
        (least..=most).contains(&value)
    }
}

/// What a number can be while the others stand.
fn range(plan: &Plan, number: &Number) -> [f64; 2] {
    let section = match (number.spot, number.parameter) {
        (Spot::Join(i), Parameter::K | Parameter::ExtraK) => plan.sections.get(i),
        _ => None,
    };
    match section {
        // A run must not gain pressure (system/join.rs); the others in doubt leave it some room.
        Some(section) => {
            let conduit = &section.conduit;
            let loses = conduit.least_k2() / conduit.head + section.foot.join_k;
            [number.value - 0.8 * loses.max(0.0), f64::INFINITY]
        }
        None => number.parameter.range(),
    }
}

/// How often a draw out of range is repeated before the end of the range is taken.
const TRIES: usize = 100;

/// One number for each doubt, those of one cause off by as many standard uncertainties.
fn draw(causes: &Causes, doubts: &[Doubt], about: &[About], random: &mut Normal) -> Vec<Setting> {
    let mut drawn = Vec::with_capacity(doubts.len());
    for members in causes.iter() {
        let pairs = || {
            members
                .iter()
                .filter_map(|&i| Some((doubts.get(i)?, about.get(i)?)))
        };
        let mut z = random.next();
        for _ in 0..TRIES {
            let fits = |(doubt, about): (&Doubt, &About)| about.holds(doubt.at(about.value, z));
            if members.len() > 1 || pairs().all(fits) {
                break;
            }
            z = random.next();
        }
        drawn.extend(pairs().map(|(doubt, about)| {
            let [least, most] = about.range;
            let value = doubt.at(about.value, z).max(least).min(most);
            Setting::new(doubt.place.clone(), doubt.parameter, value)
        }));
    }
    drawn
}

fn tell((output, mut sample): (Output, Vec<f64>)) -> SampledValue {
    let count = sample.len() as f64;
    let mean = sample.iter().sum::<f64>() / count;
    let squares: f64 = sample.iter().map(|x| (x - mean) * (x - mean)).sum();
    sample.sort_by(f64::total_cmp);
    // Straight between the two draws about the share.
    let at = |share: f64| {
        let place = share * (count - 1.0);
        let below = place.floor();
        let draw = |i: f64| sample.get(i as usize).or(sample.last()).copied();
        let (low, high) = (draw(below), draw(below + 1.0));
        let (low, high) = (low.unwrap_or(mean), high.unwrap_or(mean));
        low + (place - below) * (high - low)
    };
    SampledValue {
        output,
        mean,
        standard: (squares / (count - 1.0)).sqrt(),
        low: at(0.025),
        median: at(0.5),
        high: at(0.975),
    }
}

/// Standard normal numbers.
pub(crate) struct Normal {
    state: u64,
    spare: Option<f64>,
}

impl Normal {
    pub(crate) const fn new(seed: u64) -> Self {
        Self {
            state: seed,
            spare: None,
        }
    }

    /// `SplitMix64`: even over 0 to below 1.
    pub(crate) fn even(&mut self) -> f64 {
        self.state = self.state.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.state;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
    }

    pub(crate) fn next(&mut self) -> f64 {
        if let Some(spare) = self.spare.take() {
            return spare;
        }
        // Above 0, so that the logarithm is finite.
        let radius = (-2.0 * (1.0 - self.even()).ln()).sqrt();
        let (sin, cos) = (std::f64::consts::TAU * self.even()).sin_cos();
        self.spare = Some(radius * sin);
        radius * cos
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        loss::Junction,
        solve::by_hand::{FALLING, ready, system},
    };

    #[test]
    fn val_the_generator_is_the_published_one() {
        // First outputs of SplitMix64 from seed 1234567: 6457827717110365317, 3203168211198807973
        // (the widely copied test vector of its reference code; from memory).
        let mut normal = Normal::new(1_234_567);
        for expected in [6_457_827_717_110_365_317_u64, 3_203_168_211_198_807_973] {
            let even = (expected >> 11) as f64 / (1_u64 << 53) as f64;
            assert_eq!(normal.even(), even);
        }
    }

    #[test]
    fn val_normal_numbers_have_the_moments_of_a_normal_distribution() {
        let mut normal = Normal::new(7);
        let n = 100_000;
        let draws: Vec<f64> = (0..n).map(|_| normal.next()).collect();
        let moment = |power: i32| draws.iter().map(|x| x.powi(power)).sum::<f64>() / f64::from(n);
        // Five standard errors: variances of the first moments are 1, 2, 15, 96 over n.
        for (power, exact, variance) in
            [(1, 0.0, 1.0), (2, 1.0, 2.0), (3, 0.0, 15.0), (4, 3.0, 96.0)]
        {
            let error = 5.0 * f64::sqrt(variance / f64::from(n));
            let got: f64 = moment(power);
            assert!((got - exact).abs() < error, "{power}: {got}");
        }
    }

    #[test]
    fn val_percentiles_of_a_ladder() {
        let told = tell((Output::TotalFlow, (0..=1000).rev().map(f64::from).collect()));
        assert_eq!(
            [told.low, told.median, told.high, told.mean],
            [25.0, 500.0, 975.0, 500.0]
        );
        // The variance of n numbers one apart is n (n + 1) / 12.
        assert!((told.standard.powi(2) / (1001.0 * 1002.0 / 12.0) - 1.0).abs() < 1e-12);
    }

    #[test]
    fn val_quantiles_of_few_draws_by_hand() {
        let of = |sample: &[f64]| tell((Output::TotalFlow, sample.to_vec()));
        // 0.025 of the way from the first to the last of five: a tenth of a step.
        let five = of(&[50.0, 10.0, 30.0, 40.0, 20.0]);
        assert!((five.low - 11.0).abs() < 1e-12 && (five.high - 49.0).abs() < 1e-12);
        assert_eq!((five.mean, five.median), (30.0, 30.0));
        // sqrt((400 + 100 + 0 + 100 + 400) / 4)
        assert!((five.standard - 250.0_f64.sqrt()).abs() < 1e-12);
        assert_eq!(of(&[10.0, 20.0]).median, 15.0);
    }

    #[test]
    fn a_number_holds_what_it_can_be() {
        let about = About {
            value: 1.0,
            range: [0.5, 2.0],
        };
        let held: Vec<bool> = [0.4, 0.5, 1.0, 2.0, 2.1]
            .map(|value| about.holds(value))
            .into();
        assert_eq!(held, [false, true, true, true, false]);
    }

    /// How a section joins may give back four fifths of what it loses.
    #[test]
    fn a_join_may_not_give_back_all_that_its_section_loses() {
        let mut system = system(FALLING, None).with_junction(Junction::FixedK);
        for section in &mut system.sections[1..] {
            section.join.k = Some(0.4);
        }
        let network = Network::new(&system).unwrap();
        let plan = network.plan();
        let (i, section) = plan.section(&"long".into()).unwrap();
        let number = |spot, parameter| Number {
            spot,
            parameter,
            value: 0.3,
        };
        let [least, most] = range(plan, &number(Spot::Join(i as usize), Parameter::ExtraK));
        // The section's loss at Re 1e7, where friction is about as little as it gets, in velocity
        // pressures.
        let q = 1e7 / section.conduit.frictions[0].re_per_q;
        let loses = section.conduit.loss(q) / (section.conduit.head * q * q);
        let expected = 0.3 - 0.8 * (loses + 0.4);
        assert!((least - expected).abs() < 1e-12, "{least} {expected}");
        assert_eq!(most, f64::INFINITY);
        let length = number(Spot::Section(i as usize), Parameter::Length);
        assert_eq!(range(plan, &length), Parameter::Length.range());
    }

    /// Drawn again until it fits; where a cause puts off several they stop at their ends.
    #[test]
    fn draws_stay_in_range() {
        let place = |i: usize| Place::Before { run: i, part: None };
        let doubt = |i, cause: Option<&'static str>| Doubt {
            cause: cause.map(Into::into),
            ..Doubt::new(place(i), Parameter::Humidity, 1.0, "a test")
        };
        let about = || About {
            value: 0.5,
            range: [0.4, 0.6],
        };
        let drawn = |doubts: &[Doubt]| {
            let causes = Causes::of(doubts).unwrap();
            let about: Vec<About> = doubts.iter().map(|_| about()).collect();
            let mut random = Normal::new(7);
            let mut at_end = 0;
            for _ in 0..100 {
                for setting in draw(&causes, doubts, &about, &mut random) {
                    assert!((0.4..=0.6).contains(&setting.value));
                    at_end += usize::from(setting.value == 0.4 || setting.value == 0.6);
                }
            }
            at_end
        };
        assert_eq!(drawn(&[doubt(0, None)]), 0);
        let together = [doubt(0, Some("weather")), doubt(1, Some("weather"))];
        assert!(drawn(&together) > 150);
    }

    #[test]
    fn draws_are_counted_up_to_their_bound() {
        let (network, open) = ready(FALLING, None);
        let sampled = |draws| {
            let how = MonteCarlo { draws, seed: 1 };
            network.monte_carlo(&open, &[], &how)
        };
        // With nothing in doubt all are alike; one tells no spread.
        assert!(matches!(
            sampled(1),
            Err(UncertaintyError::Draws { good: 1, .. })
        ));
        let two = sampled(2).unwrap();
        assert_eq!((two.draws, two.failed), (2, 0));
        let most = MonteCarlo::MOST_DRAWS;
        let too_many = sampled(most + 1).unwrap_err();
        assert_eq!(too_many, UncertaintyError::TooManyDraws { draws: most + 1 });
    }
}
