//! The least flow and power of each section that is to be sized.

use crate::{
    bore::Bore,
    decide::size::{demands::SetDemands, isolated::isolated, problem::Problem},
    loss::{Junction, Tightness},
    system::{Join, Resolved, Section, System},
};

/// Least flow that a section must carry, and power that it then takes by itself.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Load {
    /// At its downstream end \[m3/s\].
    pub(super) q_m3s: f64,
    /// \[W\]
    pub(super) power_w: f64,
}

/// The loads of an open set.
#[derive(Debug)]
pub(super) struct SetLoads {
    /// Of each option of each section to be sized.
    pub(super) options: Vec<Vec<Load>>,
    /// The least power of the sections to be sized from each position on, and of all that keep their
    /// size. \[W\]
    pub(super) rest_w: Vec<f64>,
    /// The least flow whatever is chosen \[m3/s\].
    pub(super) least_q_m3s: f64,
}

/// Every section's law, in each size that it may have.
pub(super) struct Laws {
    /// For each section of the system.
    sections: Vec<SectionLaws>,
}

struct SectionLaws {
    /// Of each option, or of the one size it keeps.
    laws: Vec<Option<Resolved>>,
    areas_m2: Vec<f64>,
    /// Position among the sections to be sized.
    position: Option<usize>,
    airtight: bool,
    /// Whether its loss only rises; a join that gives pressure back may spoil that.
    rises: bool,
}

impl Laws {
    pub(super) fn new(problem: &Problem<'_>) -> Self {
        let system = problem.system;
        let sections = (0..).zip(&system.sections).map(|(i, section)| {
            let position = problem.sized.iter().position(|sized| sized.section == i);
            let sized = position.and_then(|position| problem.sized.get(position));
            let areas_m2 = match sized {
                Some(sized) => sized.options.iter().map(|o| o.area.as_m2()).collect(),
                None => vec![section.size.area().as_m2()],
            };
            let laws = match (sized, section.size) {
                (Some(sized), _) => {
                    let options = sized.options.iter();
                    options.map(|o| isolated(system, i, o.diameter)).collect()
                }
                (None, Bore::Round(diameter)) => vec![isolated(system, i, diameter)],
                // Counted as if it lost nothing.
                _ => vec![None],
            };
            SectionLaws {
                laws,
                areas_m2,
                position,
                airtight: section.tightness == Tightness::Airtight,
                rises: own_k(section, system) >= 0.0,
            }
        });
        Self {
            sections: sections.collect(),
        }
    }

    pub(super) fn loads(&self, problem: &Problem<'_>, set: &SetDemands) -> SetLoads {
        let count = problem.sized.len();
        let mut options = vec![Vec::new(); count];
        let mut kept_w = 0.0;
        let tree = &problem.tree;
        // What a hood needs by itself, at its section.
        let mut of_hood = vec![0.0_f64; self.sections.len()];
        for (at, needed) in tree.hoods.iter().zip(&set.hoods) {
            if let Some(slot) = of_hood.get_mut(at.section) {
                *slot = slot.max(needed.as_m3_s());
            }
        }
        // Least flow at each section's downstream end, whatever is chosen.
        let mut least = vec![0.0_f64; self.sections.len()];
        let mut least_q_m3s = 0.0_f64;
        for &i in &tree.order {
            let (Some(section), Some(&velocity)) = (self.sections.get(i), set.sections.get(i))
            else {
                continue;
            };
            if set.carries.get(i) != Some(&true) {
                if let Some(position) = section.position
                    && let Some(loads) = options.get_mut(position)
                {
                    *loads = vec![Load::default(); section.laws.len()];
                }
                continue;
            }
            let inlets = tree.inlets.get(i).map_or(&[][..], Vec::as_slice);
            let from_above = inlets
                .iter()
                .filter_map(|&inlet| least.get(inlet))
                .sum::<f64>();
            let needed = tree.needed_through(i, set, true);
            let needed = needed.max(of_hood.get(i).copied().unwrap_or(0.0));
            let body = from_above.max(needed);
            let loads: Vec<Load> = section
                .laws
                .iter()
                .zip(&section.areas_m2)
                .map(|(law, area_m2)| {
                    let q_m3s = body.max(velocity.as_m_s() * area_m2);
                    // What leaks in counts for the velocity at its end, not for its own loss.
                    let within = if section.airtight { q_m3s } else { body };
                    let law = law.as_ref().and_then(|law| law.sections.first());
                    let loss_pa = law
                        .filter(|_| section.rises)
                        .map(|law| law.conduit.loss(within));
                    Load {
                        q_m3s,
                        power_w: loss_pa.unwrap_or(0.0) * within,
                    }
                })
                .collect();
            let lowest = loads
                .iter()
                .map(|load| load.q_m3s)
                .fold(f64::INFINITY, f64::min);
            if let Some(least) = least.get_mut(i) {
                *least = lowest;
            }
            least_q_m3s = least_q_m3s.max(lowest);
            match section.position {
                Some(position) => {
                    if let Some(slot) = options.get_mut(position) {
                        *slot = loads;
                    }
                }
                None => kept_w += loads.iter().map(|load| load.power_w).sum::<f64>(),
            }
        }
        let mut rest_w = vec![kept_w; count + 1];
        for position in (0..count).rev() {
            let own = options.get(position).into_iter().flatten();
            let own = own
                .map(|load: &Load| load.power_w)
                .fold(f64::INFINITY, f64::min);
            let after = rest_w.get(position + 1).copied().unwrap_or(0.0);
            if let Some(rest) = rest_w.get_mut(position) {
                *rest = after + own;
            }
        }
        // `rest_w[n]` is what is left once n sections are chosen.
        SetLoads {
            options,
            rest_w,
            least_q_m3s,
        }
    }
}

/// The coefficient that a section's join adds on its own velocity pressure, if it adds one.
fn own_k(section: &Section, system: &System) -> f64 {
    let Join { k, extra_k, .. } = section.join;
    let below = section.into.as_ref();
    let below = below.and_then(|into| system.sections.iter().find(|s| s.id == *into));
    let model = match below {
        Some(below) => below.junction,
        None => system.collector.junction,
    };
    match model.unwrap_or(system.junction) {
        Junction::FixedK => extra_k + k.unwrap_or(0.0),
        _ => extra_k,
    }
}

/// Whether no junction of the system can give the air more power than it takes; see bounds.md.
pub(super) fn dissipates(system: &System) -> bool {
    let sections = system.sections.iter();
    let mut models = sections
        .map(|section| section.junction)
        .chain([system.collector.junction])
        .map(|junction| junction.unwrap_or(system.junction));
    let sound = models.all(|model| matches!(model, Junction::Momentum | Junction::FixedK));
    // A join that gives pressure back is paid for by its section at the same flow, which is another
    // one where the walls leak.
    let leaks = |section: &Section| section.tightness != Tightness::Airtight;
    let mut sections = system.sections.iter();
    sound && !sections.any(|section| leaks(section) && own_k(section, system) < 0.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        Air, Angle, Collector, Density, DynamicViscosity, Entry, Hood, Length, Money, Network,
        Part, Sizing, StockSize, Velocity, Wall,
        decide::{
            by_hand::{m3_s, mm, pa},
            size::{bounds::Bounds, bounds::Refused},
        },
        fan::{Basis, FanCurve, Fitted},
        solve::OpenSet,
    };

    const KG_M3: f64 = 1.2;

    /// What a coefficient takes of a flow \[W\].
    fn watts(k: f64, bore: Bore, q: f64) -> f64 {
        k * KG_M3 / 2.0 * (q / bore.area().as_m2()).powi(2) * q
    }

    fn near(a: f64, b: f64) -> bool {
        (a - b).abs() <= 1e-12 * a.abs().max(b.abs())
    }

    /// A saw with two hoods at `left` and `right`, and a lathe, which asks at its hood; all by
    /// coefficients.
    ///
    /// ```text
    /// left  (saw 0.3) ---+
    /// right (saw) -------+-- trunk --+-- main
    /// lathe (hood 0.2) --------------+
    /// ```
    fn system() -> System {
        let points = [(0.0, 3000.0), (0.5, 2000.0), (1.0, 1000.0)];
        let points = points.map(|(q, p)| (m3_s(q), pa(p)));
        let density = Density::from_kg_m3(KG_M3);
        let fan = FanCurve::new(points, Basis::Static, Fitted::NOTHING, density).unwrap();
        let air = Air::Given {
            density,
            viscosity: DynamicViscosity::from_pa_s(1.8e-5),
        };
        let section = |id: &str, wide: f64, k: f64| {
            Section::new(id, mm(wide), Wall::Galvanised).with_part(Part::K(k))
        };
        let angle = Angle::from_deg(30.0);
        let saw = |id: &str| Hood::new(id, Entry::K(0.5)).serving("saw");
        let lathe = Hood {
            required: Some(m3_s(0.2)),
            ..Hood::new("lathe", Entry::K(0.25))
        };
        let left = section("left", 125.0, 1.0).with_hood(saw("left hood"));
        let right = section("right", 100.0, 2.0).with_hood(saw("right hood"));
        let lathe = section("lathe", 140.0, 3.0).with_hood(lathe);
        System::new(air, Collector::new(fan))
            .with_section(left.draining_into("trunk").joining_at(angle))
            .with_section(right.draining_into("trunk").joining_at(angle))
            .with_section(
                section("trunk", 200.0, 4.0)
                    .draining_into("main")
                    .joining_at(angle),
            )
            .with_section(lathe.draining_into("main").joining_at(angle))
            .with_section(section("main", 250.0, 5.0))
            .with_machine("saw", m3_s(0.3))
    }

    fn question() -> Sizing {
        let stock = [200.0, 250.0].map(|wide| {
            let price = Money::new(wide);
            StockSize::new(Length::from_mm(wide), price).with_wye(price)
        });
        Sizing::new(["main", "trunk"], stock)
    }

    fn open(system: &System, hoods: &[&str]) -> OpenSet {
        Network::new(system)
            .unwrap()
            .open(hoods.iter().copied())
            .unwrap()
    }

    fn loads(question: &Sizing, system: &System, hoods: &[&str]) -> SetLoads {
        let open = open(system, hoods);
        let problem = Problem::new(question, system, &[open]).unwrap();
        Laws::new(&problem).loads(&problem, &problem.sets[0])
    }

    #[test]
    fn every_section_carries_what_is_needed_upstream_of_it() {
        let system = system();
        let all = ["left hood", "right hood", "lathe"];
        let SetLoads {
            options,
            rest_w,
            least_q_m3s,
        } = loads(&question(), &system, &all);
        // Neither hood of the saw must carry any of its air by itself.
        let lathe = watts(3.25, mm(140.0), 0.2);
        assert!(near(rest_w[2], lathe), "{rest_w:?} {lathe}");
        // From the fan upstream: main, then trunk; narrow before wide.
        let [main, trunk] = &options[..] else {
            panic!("{options:?}")
        };
        for (load, wide) in main.iter().zip([200.0, 250.0]) {
            assert!(near(load.q_m3s, 0.5), "{load:?}");
            assert!(near(load.power_w, watts(5.0, mm(wide), 0.5)), "{load:?}");
        }
        for (load, wide) in trunk.iter().zip([200.0, 250.0]) {
            assert!(near(load.q_m3s, 0.3), "{load:?}");
            assert!(near(load.power_w, watts(4.0, mm(wide), 0.3)), "{load:?}");
        }
        assert_eq!((main.len(), trunk.len()), (2, 2));
        // The widest takes least.
        assert!(near(rest_w[1], lathe + watts(4.0, mm(250.0), 0.3)));
        assert!(near(rest_w[0], rest_w[1] + watts(5.0, mm(250.0), 0.5)));
        assert!(near(least_q_m3s, 0.5));
    }

    #[test]
    fn a_machine_with_one_open_hood_takes_all_its_air_there() {
        let system = system();
        let SetLoads {
            options,
            rest_w,
            least_q_m3s,
        } = loads(&question(), &system, &["left hood"]);
        // Its own section keeps its size; nothing is asked where nothing is open.
        assert!(near(rest_w[2], watts(1.5, mm(125.0), 0.3)));
        assert!(options.iter().flatten().all(|load| near(load.q_m3s, 0.3)));
        assert!(near(least_q_m3s, 0.3));
        let lathe = loads(&question(), &system, &["lathe"]);
        let [main, trunk] = &lathe.options[..] else {
            panic!("{lathe:?}")
        };
        assert!(main.iter().all(|load| near(load.q_m3s, 0.2)));
        assert!(
            trunk
                .iter()
                .all(|load| load.q_m3s == 0.0 && load.power_w == 0.0)
        );
        assert_eq!(trunk.len(), 2);
    }

    #[test]
    fn a_least_velocity_asks_for_more_in_the_wider() {
        let system = system();
        let asked = question().with_velocity_in("main", Velocity::from_m_s(15.0));
        let set = loads(&asked, &system, &["left hood"]);
        let areas = [200.0, 250.0].map(|wide| mm(wide).area().as_m2());
        for (load, (area, wide)) in set.options[0]
            .iter()
            .zip(areas.into_iter().zip([200.0, 250.0]))
        {
            assert!(near(load.q_m3s, 15.0 * area), "{load:?}");
            assert!(
                near(load.power_w, watts(5.0, mm(wide), 15.0 * area)),
                "{load:?}"
            );
        }
        // Whatever is chosen: the narrowest.
        assert!(near(set.least_q_m3s, 15.0 * areas[0]));
    }

    /// Air that leaks in on the way counts for the velocity at the end, not for the loss.
    #[test]
    fn a_leaky_section_is_not_charged_for_what_leaks_in() {
        let mut system = system();
        for section in &mut system.sections {
            section.tightness = match section.id.as_str() {
                "main" => Tightness::Atc5,
                _ => Tightness::Airtight,
            };
        }
        let asked = question().with_velocity_in("main", Velocity::from_m_s(15.0));
        let set = loads(&asked, &system, &["left hood"]);
        for (load, wide) in set.options[0].iter().zip([200.0, 250.0]) {
            assert!(near(load.q_m3s, 15.0 * mm(wide).area().as_m2()), "{load:?}");
            assert!(near(load.power_w, watts(5.0, mm(wide), 0.3)), "{load:?}");
        }
    }

    /// With the coefficient of its join against it, a section may take less as it carries more.
    #[test]
    fn a_section_whose_join_gives_back_is_charged_nothing() {
        for (model, given, extra, charged) in [
            (Junction::FixedK, Some(-0.5), 0.0, false),
            (Junction::FixedK, Some(-0.5), 0.5, true),
            (Junction::FixedK, Some(0.5), 0.0, true),
            (Junction::Momentum, None, 0.0, true),
            (Junction::Momentum, None, 0.5, true),
        ] {
            let mut system = system().with_junction(model);
            for section in &mut system.sections {
                section.join.k =
                    (model == Junction::FixedK && section.into.is_some()).then_some(0.0);
                if section.id.as_str() == "trunk" {
                    section.join.extra_k = extra;
                    section.join.k = given;
                }
            }
            let trunk = loads(&question(), &system, &["left hood"])
                .options
                .remove(1);
            assert!(
                trunk.iter().all(|load| (load.power_w > 0.0) == charged),
                "{model:?} {given:?} {extra}: {trunk:?}"
            );
        }
    }

    #[test]
    fn power_proves_nothing_where_a_junction_may_give_it() {
        let mut system = system();
        assert!(dissipates(&system));
        assert!(dissipates(&system.clone().with_junction(Junction::FixedK)));
        for model in [Junction::Gardel, Junction::Crane, Junction::Automatic] {
            assert!(!dissipates(&system.clone().with_junction(model)));
            system.sections[2].junction = Some(model);
            assert!(!dissipates(&system));
            system.sections[2].junction = None;
            system.collector.junction = Some(model);
            assert!(!dissipates(&system));
            system.collector.junction = None;
        }
        // A join that gives back is paid for by its section, if the same air passes both.
        system.junction = Junction::FixedK;
        system.sections[0].join.k = Some(-0.1);
        assert!(dissipates(&system));
        system.sections[0].tightness = Tightness::Atc5;
        assert!(!dissipates(&system));
        // By the model of the section that it drains into.
        system.sections[0].join.k = None;
        system.sections[3].join.k = Some(-0.1);
        system.sections[3].tightness = Tightness::Atc5;
        assert!(!dissipates(&system));
        system.sections[4].junction = Some(Junction::Momentum);
        assert!(dissipates(&system));
    }

    /// What is refused, at its edge: by hand the power that the sections take, against the fan's.
    #[test]
    fn a_choice_is_refused_from_the_power_on_that_the_fan_has_not() {
        let mut system = system();
        let hoods = ["left hood", "lathe"];
        let question = question().allowing_narrowing();
        let sets = [open(&system, &hoods)];
        let refused = |system: &System, choice: &[u16]| {
            let problem = Problem::new(&question, system, &sets).unwrap();
            Bounds::new(&problem).refuse(choice, &[0])
        };
        assert_eq!(refused(&system, &[]), None);
        assert_eq!(refused(&system, &[1, 1]), None);
        // In a long narrow trunk the saw's air takes more than the fan has; a wide one will do.
        let room = {
            let problem = Problem::new(&question, &system, &sets).unwrap();
            Bounds::new(&problem).fan.room(0.5 * (1.0 - 1e-9))
        };
        let kept = watts(1.5, mm(125.0), 0.3) + watts(3.25, mm(140.0), 0.2);
        let main = watts(5.0, mm(250.0), 0.5);
        let edge = (room - kept - main) / watts(1.0, mm(200.0), 0.3);
        let trunk = |system: &mut System, k: f64| system.sections[2].parts = vec![Part::K(k)];
        trunk(&mut system, edge * (1.0 - 1e-6));
        assert_eq!(refused(&system, &[1, 0]), None);
        trunk(&mut system, edge * (1.0 + 1e-6));
        assert_eq!(refused(&system, &[1, 0]), Some(Refused::AirPower));
        assert_eq!(refused(&system, &[1, 1]), None);
        assert_eq!(refused(&system, &[1]), None);
        // No fan with a shorter curve: more air than it goes to.
        let beyond = Some(Refused::CurveEnd);
        // To the last bits of its end is not beyond it.
        let rounded = (0.8 * (1.0 + 0.9e-9), None);
        for (needed, expected) in [(0.8 - 1e-6, None), rounded, (0.8 + 1e-6, beyond)] {
            let mut system = system.clone();
            trunk(&mut system, 0.0);
            for section in &mut system.sections {
                section.parts = vec![Part::K(0.0)];
            }
            system.sections[0].size = mm(500.0);
            system.sections[3].size = mm(500.0);
            system.machines[0].required = m3_s(needed);
            assert_eq!(refused(&system, &[1, 1]), expected, "{needed}");
        }
    }
}
