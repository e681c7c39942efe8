//! Duct sizes: the cheapest that give every machine its air and keep the dust moving.

mod answer;
mod bounds;
#[cfg(test)]
mod by_hand;
mod demands;
mod design_flow;
mod isolated;
mod narrowing;
mod nearest;
mod problem;
mod question;
mod search;
mod stock;
mod tree;

pub use answer::{Cuts, Demand, Proof, SectionSize, SetReport, SizingAnswer, SizingVerdict};
pub use design_flow::{balanced_flow, flow_for_width};
pub use question::{SectionVelocity, Sizing, SizingError};
pub use stock::StockSize;

use crate::{
    decide::Money,
    solve::{OpenSet, Workspace},
    system::System,
};
use bounds::Bounds;
use nearest::{Found, nearest};
use problem::{Choice, Problem};
use search::{Ended, Searched, cheapest};
use std::borrow::Borrow;

/// Most balances that go into finding the nearest sizes where none are possible, and into settling
/// which open sets are possible alone.
const MOST_FOR_REPORT: u64 = 50_000;

impl Sizing {
    /// The cheapest choice of diameters that meets every demand in every open set.
    ///
    /// Demands are the flows of the system's machines and hoods and the least velocities of this
    /// question; an answer outside the published points of the fan's curve meets none. Open sets are
    /// those of [`Use::sets`](crate::Use::sets), [`Network::machine_sets`](crate::Network) or a list.
    /// Mind that velocities are hardest to keep with *few* gates open: ask the sets that happen.
    ///
    /// Flow is not monotone in size, so no rule of thumb finds the cheapest: choices are tried in the
    /// order of their cost, and passed over only by what is proved below. Where that takes more than
    /// [`most_solves`](Self::most_solves) balances, a climb without proof follows and tells its
    /// [gap](Proof::gap): from the sizes of the velocity rule and from the widest, single and paired
    /// changes of size as long as they help.
    ///
    /// ```
    /// # use airsplit::*;
    /// # fn main() -> Result<(), Box<dyn std::error::Error>> {
    /// # #[cfg(feature = "serde")] {
    /// let study: Study = toml::from_str(&std::fs::read_to_string("examples/chair_shop.toml")?)?;
    /// let stock = [(100.0, 9.0), (125.0, 11.0), (160.0, 14.5)].map(|(mm, price)| {
    ///     StockSize::new(Length::from_mm(mm), Money::new(price))
    ///         .with_elbow(Money::new(2.0 * price))
    ///         .with_gate(Money::new(3.0 * price))
    /// });
    /// let network = Network::new(&study.system)?;
    /// let sander = network.open(["disc sander"])?;
    /// let answer = Sizing::new(["far end", "sander drop"], stock)
    ///     .with_velocity_in("sander drop", "20 m/s".parse()?)
    ///     .cheapest(&study.system, [sander])?;
    /// assert_eq!(answer.verdict, SizingVerdict::Cheapest);
    /// assert_eq!(answer.sizes[1].diameter, Length::from_mm(100.0));
    /// # }
    /// # Ok(())
    /// # }
    /// ```
    ///
    #[doc = include_str!("bounds.md")]
    ///
    /// # Errors
    ///
    /// [`SizingError`]: faults of the system or of the question. That no sizes meet the demands is no
    /// error but a [`SizingVerdict`].
    pub fn cheapest<I>(&self, system: &System, sets: I) -> Result<SizingAnswer, SizingError>
    where
        I: IntoIterator,
        I::Item: Borrow<OpenSet>,
    {
        let sets: Vec<OpenSet> = sets.into_iter().map(|set| set.borrow().clone()).collect();
        let mut problem = Problem::new(self, system, &sets)?;
        let bounds = Bounds::new(&problem);
        let all: Vec<usize> = (0..sets.len()).collect();
        let searched = cheapest(&mut problem, &bounds, &all, self.most_solves);
        let cuts = problem.cuts;

        let sure = searched.unanswered == 0;
        let (found, search_solves, verdict) = match &searched.ended {
            Ended::Cheapest(choice) => {
                let verdict = if sure {
                    SizingVerdict::Cheapest
                } else {
                    SizingVerdict::Found
                };
                (choice.clone(), 0, verdict)
            }
            ended => {
                let impossible = matches!(ended, Ended::Impossible);
                let most = match impossible {
                    true => self.most_solves.min(MOST_FOR_REPORT),
                    false => self.most_solves,
                };
                let (Found { choice, grade }, solves) = nearest(&problem, most);
                let verdict = match (grade.missed == 0.0, impossible && sure) {
                    (true, _) => SizingVerdict::Found,
                    (false, true) => SizingVerdict::Impossible,
                    (false, false) => SizingVerdict::NotFound,
                };
                (choice, solves, verdict)
            }
        };
        let cost = problem.cost(&found);
        let met = matches!(verdict, SizingVerdict::Cheapest | SizingVerdict::Found);
        let lower = lower_bound(&searched);
        let mut reports = report(&problem, &found);
        if !met {
            settle_alone(&mut problem, &bounds, &mut reports, self.most_solves);
        }
        Ok(SizingAnswer {
            verdict,
            sizes: problem.sizes(self, &found),
            cost: Money::new(cost),
            sets: reports,
            proof: Proof {
                exact: matches!(verdict, SizingVerdict::Cheapest | SizingVerdict::Impossible),
                choices: problem.choices(),
                tried: searched.tried,
                solves: searched.solves,
                search_solves,
                cuts,
                unanswered: searched.unanswered,
                lower_bound: (verdict != SizingVerdict::Impossible).then_some(Money::new(lower)),
                gap: met.then(|| Money::new((cost - lower).max(0.0))),
            },
        })
    }
}

/// No choice that meets the demands costs less.
fn lower_bound(searched: &Searched) -> f64 {
    let unanswered = searched.first_unanswered.unwrap_or(f64::INFINITY);
    searched.lower.min(unanswered)
}

fn report(problem: &Problem<'_>, choice: &Choice) -> Vec<SetReport> {
    let network = problem.network(choice);
    let mut work = Workspace::default();
    let sets = problem.sets.iter();
    sets.map(|set| {
        let judged = network
            .as_ref()
            .map(|network| set.judge(problem.system, network, &mut work));
        let (status, demands) = match judged {
            Some(judged) => (judged.status, judged.demands),
            None => {
                let why = "the model refuses every choice that was tried".into();
                (None, vec![Demand::Answer { why }])
            }
        };
        SetReport {
            open: set.names.clone(),
            status,
            tightest: demands.first().cloned(),
            missed: demands.into_iter().filter(|d| d.share() < 1.0).collect(),
            alone: None,
        }
    })
    .collect()
}

/// Whether each set whose demands are missed could be met if it were the only one.
fn settle_alone(
    problem: &mut Problem<'_>,
    bounds: &Bounds,
    reports: &mut [SetReport],
    most_solves: u64,
) {
    let mut left = most_solves.min(MOST_FOR_REPORT);
    for (i, report) in reports.iter_mut().enumerate() {
        if report.missed.is_empty() {
            continue;
        }
        let searched = cheapest(problem, bounds, &[i], left);
        left = left.saturating_sub(searched.solves);
        report.alone = match searched.ended {
            Ended::Cheapest(_) => Some(true),
            Ended::Impossible if searched.unanswered == 0 => Some(false),
            _ => None,
        };
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::decide::by_hand::{m3_s, shop};
    use by_hand::{question, sets};

    fn answer(needed: f64) -> SizingAnswer {
        let mut system = shop();
        system.machines[0].required = m3_s(needed);
        let sets = sets(&system, &[&["saw"]]);
        let question = question(&["left"], &[80.0, 100.0, 125.0]);
        question.cheapest(&system, sets).unwrap()
    }

    #[test]
    fn a_proof_bounds_the_cost_unless_nothing_will_do() {
        let cheapest = answer(0.1);
        assert_eq!(cheapest.verdict, SizingVerdict::Cheapest);
        assert_eq!(cheapest.proof.lower_bound, Some(cheapest.cost));
        assert_eq!(cheapest.proof.gap, Some(Money::default()));
        let impossible = answer(0.95);
        assert_eq!(impossible.verdict, SizingVerdict::Impossible);
        assert_eq!(
            (impossible.proof.lower_bound, impossible.proof.gap),
            (None, None)
        );
        assert_eq!(impossible.sets[0].alone, Some(false));
    }

    /// Just what is needed is enough.
    #[test]
    fn a_demand_that_is_just_met_is_not_missed() {
        let Some(Demand::Machine { found, .. }) = answer(0.1).sets[0].tightest.clone() else {
            panic!("a machine")
        };
        let just = answer(found.as_m3_s());
        assert_eq!(just.verdict, SizingVerdict::Cheapest);
        assert_eq!(just.sets[0].tightest.as_ref().unwrap().share(), 1.0);
        assert!(just.sets[0].missed.is_empty());
    }
}
