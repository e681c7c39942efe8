//! A filter that gathers dust, watched until a machine falls short.

use super::{FilterGaugeError, GaugeMark, GaugeOutcome, MachineGauge, growth::Growth};
use crate::{
    decide::transport::{Needs, hood_flows},
    loss::Part,
    place::{Name, Place},
    quantity::{Pressure, VolumeFlow},
    root::bracketed_root,
    solve::{Network, OperatingPoint},
    system::{Run, System},
};

/// Most that dust may add to the filter, Pa per m3/s: 10 bar at 1 l/s.
const MOST_DUST: f64 = 1e9;

/// Shares this near to 1 are 1; a fan that leaps leaves them farther.
const MET: f64 = 1e-9;

/// A system whose filter gathers dust.
pub(super) struct Watch<'n> {
    /// The system as it is now.
    pub(super) now: &'n Network,
    pub(super) system: System,
    pub(super) place: Place,
    pub(super) growth: Growth,
}

impl Watch<'_> {
    pub(super) fn machine(
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
        let Some(high) = too_much(&mut spare) else {
            return Ok(Mark::Never);
        };
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

/// An amount of dust with which nothing is to spare, or of which that is not known, found by
/// doubling; none if there is enough with the most.
fn too_much(mut spare: impl FnMut(f64) -> f64) -> Option<f64> {
    let mut dust = 1.0;
    while dust < MOST_DUST {
        dust *= 2.0;
        let left = spare(dust);
        if left < 0.0 || left.is_nan() {
            return Some(dust);
        }
    }
    None
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
#[cfg(test)]
mod tests {
    use super::super::{FilterGaugeOptions, filter_gauge};
    use super::*;
    use crate::{
        decide::by_hand::{filter, m3_s, not_converged, rising_fan, shop, solved},
        loss::FilterTerms,
        solve::SolveError,
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

    /// Of a filter that costs nothing when clean no pressure is a multiple.
    #[test]
    fn times_clean_is_told_of_a_filter_that_costs_something() {
        let system = shop();
        let now = Network::new(&system).unwrap();
        let mut watch = watch(&now, system.clone(), Place::Collector);
        let state = || Dusty {
            spare: 0.0,
            whose: Place::System,
            point: solved(&system, &["saw"]),
        };
        let q = state().point.flow.as_m3_s();
        // As much again as the clean filter costs.
        let dust = watch.growth.clean.drop_pa(q) / q;
        let told = watch.told(dust, state()).times_clean.unwrap();
        assert!((told - 2.0).abs() < 1e-12, "{told}");
        watch.growth.clean = FilterTerms {
            linear_pa_s_m3: 0.0,
            quadratic_pa_s2_m6: 0.0,
        };
        let told = watch.told(dust, state());
        assert!(
            told.times_clean.is_none() && told.pressure.as_pa() > 0.0,
            "{told:?}"
        );
    }

    #[test]
    fn too_much_is_found_by_doubling() {
        let mut tried = Vec::new();
        let found = too_much(|dust| {
            tried.push(dust);
            50.0 - dust
        });
        assert_eq!(
            (found, &tried[..]),
            (Some(64.0), &[2.0, 4.0, 8.0, 16.0, 32.0, 64.0][..])
        );
        assert_eq!(too_much(|dust| 8.0 - dust), Some(16.0));
        assert_eq!(
            too_much(|dust| if dust < 8.0 { 1.0 } else { f64::NAN }),
            Some(8.0)
        );
        // Of next to no flow without end.
        let mut tried = 0;
        assert_eq!(
            too_much(|_| {
                tried += 1;
                f64::INFINITY
            }),
            None
        );
        assert_eq!(tried, 30);
        assert_eq!(too_much(|dust| MOST_DUST - dust), Some(2.0_f64.powi(30)));
    }

    /// Next to no air gets through any filter.
    #[test]
    fn a_machine_that_wants_next_to_nothing_is_never_short() {
        let mut system = shop();
        system.machines[0].required = m3_s(1e-9);
        let gauge = filter_gauge(&system, &FilterGaugeOptions::default()).unwrap();
        assert!(gauge.failures.is_empty(), "{gauge}");
        assert_eq!(gauge.machines[0].outcome, GaugeOutcome::NeverShort);
    }

    /// Whichever side of a leap the search ends on, the mark is where there is still enough.
    #[test]
    fn a_leap_is_marked_where_there_is_still_enough() {
        let mut leaps = 0;
        for hundredths in 5..25 {
            let need = m3_s(f64::from(hundredths) * 0.01);
            let mut system = shop();
            system.collector.fan = Some(rising_fan());
            system.machines[0].required = need;
            let gauge = filter_gauge(&system, &FilterGaugeOptions::default()).unwrap();
            if let GaugeOutcome::FallsShort(mark) = &gauge.machines[0].outcome {
                assert!(
                    mark.flow.as_m3_s() >= need.as_m3_s() * (1.0 - 1e-8),
                    "{need} {mark:?}"
                );
                leaps += u32::from(mark.leaps);
            }
        }
        assert!(leaps > 5, "{leaps}");
    }
}
