//! A fan whose curve rises somewhere settles, from rest, at the lowest stable crossing: against a
//! fine scan.

#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::print_stdout,
    reason = "a test that cannot go on must stop, and a long one says what it saw"
)]

use airsplit::{
    Air, Basis, Bore, Collector, Density, DynamicViscosity, Entry, FanCurve, Fitted, Hood, Length,
    Network, Part, Pressure, RatedDrop, Run, Section, Separator, SolveError, Stability, Status,
    System, VolumeFlow, Wall, Workspace,
};
use proptest::prelude::*;

const DENSITY: f64 = 1.2;

fn fan(points: &[(f64, f64)], basis: Basis) -> FanCurve {
    let points = points
        .iter()
        .map(|&(q, p)| (VolumeFlow::from_m3_s(q), Pressure::from_pa(p)));
    FanCurve::new(points, basis, Fitted::NOTHING, Density::from_kg_m3(DENSITY)).unwrap()
}

/// Two hoods of different loss on one main, so that the tree is not a plain square law.
fn system(fan: FanCurve, k: f64, after: Option<f64>) -> System {
    let round = |d| Bore::Round(Length::from_m(d));
    let wall = || Wall::Galvanised;
    let air = Air::Given {
        density: Density::from_kg_m3(DENSITY),
        viscosity: DynamicViscosity::from_pa_s(1.8e-5),
    };
    let separator = Separator::Rated(RatedDrop {
        drop: Pressure::from_pa(k),
        at: VolumeFlow::from_m3_s(1.0),
    });
    let mut collector = Collector::new(fan)
        .with_before(Run::new(round(0.2), wall()).with_part(Part::Separator(separator)));
    if let Some(d) = after {
        collector = collector.with_after(Run::new(round(d), wall()));
    }
    System::new(air, collector)
        .with_section(
            Section::new("main", round(0.2), wall()).with_part(Part::Duct(Length::from_m(3.0))),
        )
        .with_section(
            Section::new("a", round(0.15), wall())
                .draining_into("main")
                .with_part(Part::Duct(Length::from_m(4.0)))
                .with_hood(Hood::new("a", Entry::Flanged)),
        )
        .with_section(
            Section::new("b", round(0.12), wall())
                .draining_into("main")
                .joining_at(airsplit::Angle::from_deg(45.0))
                .with_part(Part::Duct(Length::from_m(2.0)))
                .with_hood(Hood::new("b", Entry::Plain)),
        )
}

/// What the fan gives beyond what the system asks, with the flow imposed.
fn surplus(network: &Network, fan: &FanCurve, q: f64) -> f64 {
    let flow = VolumeFlow::from_m3_s(q);
    let asked = network.point_at_flow(&network.open_all(), flow).unwrap();
    fan.pressure(flow).as_pa() - asked.fan.curve_pressure.as_pa()
}

/// First flow of a fine scan at which the surplus is gone.
fn first_crossing(network: &Network, fan: &FanCurve, until: f64, steps: u32) -> Option<f64> {
    (1..=steps)
        .map(|i| until * f64::from(i) / f64::from(steps))
        .find(|&q| surplus(network, fan, q) <= 0.0)
}

/// Curves with dips: any positive pressures at rising flows, the last one low.
fn curves() -> impl Strategy<Value = Vec<(f64, f64)>> {
    prop::collection::vec((0.02..0.12f64, 400.0..3000.0f64), 4..9).prop_map(|steps| {
        let mut q = 0.0;
        let mut points: Vec<_> = steps
            .into_iter()
            .map(|(step, p)| {
                let point = (q, p);
                q += step;
                point
            })
            .collect();
        points.push((q, 50.0));
        points
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(60))]

    #[test]
    fn prop_the_lowest_crossing_is_found(
        points in curves(), k in 300.0..40_000.0f64, total in any::<bool>(),
    ) {
        let (basis, after) = if total { (Basis::Total, Some(0.18)) } else { (Basis::Static, None) };
        let fan = fan(&points, basis);
        let network = Network::new(&system(fan.clone(), k, after)).unwrap();
        let (until, steps) = (points.last().unwrap().0, 1500);
        let point = network.operating_point(&network.open_all()).unwrap();
        if surplus(&network, &fan, until) >= 0.0 && point.status == Status::BeyondCurve {
            // Little is asked and the curve ends early: nothing was passed over on the way there.
            prop_assert_eq!(first_crossing(&network, &fan, until * (1.0 - 1e-9), steps), None);
            return Ok(());
        }
        prop_assert_eq!(point.status, Status::Converged);
        let q = point.flow.as_m3_s();
        prop_assert!(surplus(&network, &fan, q).abs() < 1e-8);
        let scanned = first_crossing(&network, &fan, until, steps).unwrap();
        // The scan sees a crossing at most one step late, and misses two within one step.
        prop_assert!(q <= scanned * (1.0 + 1e-12), "{} after {}", q, scanned);
        let one = until / f64::from(steps);
        prop_assert!(
            q > scanned - one * 1.000_001 || surplus(&network, &fan, q + 1e-3 * one) < 0.0,
            "{} before {}", q, scanned
        );
    }
}

#[test]
fn prop_a_curve_that_rises_from_rest_starts_when_it_gives_pressure() {
    // Rises, falls, rises again, falls: three crossings for a weak system.
    let points = [
        (0.0, 900.0),
        (0.1, 1400.0),
        (0.2, 500.0),
        (0.3, 1500.0),
        (0.5, 100.0),
    ];
    let fan = fan(&points, Basis::Static);
    let network = Network::new(&system(fan.clone(), 14_000.0, None)).unwrap();
    let point = network.operating_point(&network.open_all()).unwrap();
    let first = first_crossing(&network, &fan, 0.5, 5000).unwrap();
    assert!(
        (point.flow.as_m3_s() - first).abs() < 2e-4,
        "{} {first}",
        point.flow
    );
    // From there the surplus comes back at a higher flow: there is more than one crossing.
    assert!((1..50).any(|i| surplus(&network, &fan, first + 0.005 * f64::from(i)) > 0.0));
}

#[test]
fn prop_a_used_workspace_answers_as_a_new_one() {
    let points = [(0.0, 900.0), (0.1, 700.0), (0.25, 1100.0), (0.5, 200.0)];
    let mut used = Workspace::default();
    for k in [100.0, 400.0, 3000.0] {
        let network = Network::new(&system(fan(&points, Basis::Static), k, None)).unwrap();
        for names in [&["a"][..], &["b"], &["a", "b"], &["a"]] {
            let open = network.open(names).unwrap();
            let mut fresh = Workspace::default();
            let flows = |work: &mut Workspace| -> Vec<f64> {
                let balance = network.solve(&open, work).unwrap();
                balance.hood_flows().map(|q| q.as_m3_s()).collect()
            };
            assert_eq!(flows(&mut used), flows(&mut fresh), "{k} {names:?}");
        }
    }
}

#[test]
fn prop_beyond_the_curve_is_said_to_be() {
    let short = fan(
        &[(0.0, 2000.0), (0.05, 1950.0), (0.1, 1900.0)],
        Basis::Static,
    );
    let network = Network::new(&system(short, 10.0, None)).unwrap();
    let point = network.operating_point(&network.open_all()).unwrap();
    assert_eq!(point.status, Status::BeyondCurve);
    assert!(point.flow.as_m3_s() > 0.1);
    // What the system would need at the end of the curve is less than the curve still gives.
    let end = point.fan.curve_end.unwrap();
    assert_eq!((end.flow.as_m3_s(), end.given.as_pa()), (0.1, 1900.0));
    let needed = network
        .point_at_flow(&network.open_all(), end.flow)
        .unwrap();
    assert_eq!(needed.fan.curve_pressure, end.needed);
    assert!(end.needed < end.given);
    let crossing = &network.crossings(&network.open_all()).unwrap()[0];
    assert!(!crossing.within_curve && crossing.below_curve_end < 0.0);
    // The straight continuation of a curve that still rises is met as well.
    let rising = fan(
        &[(0.0, 1500.0), (0.05, 1700.0), (0.1, 1950.0)],
        Basis::Static,
    );
    let network = Network::new(&system(rising, 10.0, None)).unwrap();
    let point = network.operating_point(&network.open_all()).unwrap();
    assert_eq!(point.status, Status::BeyondCurve);
}

#[test]
fn prop_before_the_curve_is_said_to_be() {
    let late = fan(&[(0.3, 1500.0), (0.4, 1000.0), (0.5, 300.0)], Basis::Static);
    let network = Network::new(&system(late, 60_000.0, None)).unwrap();
    let point = network.operating_point(&network.open_all()).unwrap();
    assert_eq!(point.status, Status::BelowCurve);
}

#[test]
fn prop_a_fan_without_pressure_at_rest_never_starts() {
    // Drawn back to rest this curve has lost all pressure.
    let late = fan(&[(0.2, 100.0), (0.3, 1500.0), (0.5, 300.0)], Basis::Static);
    let network = Network::new(&system(late, 1000.0, None)).unwrap();
    let error = network.operating_point(&network.open_all()).unwrap_err();
    assert!(matches!(error, SolveError::CannotStart { .. }), "{error}");
}

/// A bare fan, its outlet opening without loss into a wide stack.
fn with_stack(outlet: f64, stack: f64) -> (FanCurve, System) {
    let curve = fan(&[(0.0, 1200.0), (0.2, 1000.0), (0.4, 200.0)], Basis::Static);
    let curve = curve
        .with_outlet(Bore::Round(Length::from_m(outlet)))
        .unwrap();
    let mut system = system(curve.clone(), 1.0, Some(stack));
    system.collector.before.clear();
    let stack = &mut system.collector.after[0];
    stack
        .parts
        .push(Part::Transition(airsplit::Transition::K(0.0)));
    (curve, system)
}

#[test]
fn prop_a_stack_that_regains_pressure_is_met_as_well() {
    // What the stack gives back exceeds what the rest of the collector loses.
    let (curve, system) = with_stack(0.16, 0.2);
    let network = Network::new(&system).unwrap();
    let point = network.operating_point(&network.open_all()).unwrap();
    assert!(surplus(&network, &curve, point.flow.as_m3_s()).abs() < 1e-8);
    let fan = &point.fan;
    let outlet = fan.total_pressure.unwrap().as_pa() - fan.static_pressure.unwrap().as_pa();
    let area = Bore::Round(Length::from_m(0.16)).area().as_m2();
    let velocity = point.flow.as_m3_s() / area;
    assert!((outlet / (DENSITY * velocity * velocity / 2.0) - 1.0).abs() < 1e-12);
}

#[test]
fn prop_a_fan_that_never_meets_its_system_is_told() {
    // A lossless stack that gives back more than the whole system loses cannot be.
    let (_, system) = with_stack(0.1, 0.3);
    let network = Network::new(&system).unwrap();
    let error = network.operating_point(&network.open_all()).unwrap_err();
    assert!(matches!(error, SolveError::NeverMet { .. }), "{error}");
}

/// A random number generator small enough to read: G. Marsaglia, Xorshift RNGs, 2003.
struct Random(u64);

impl Random {
    fn between(&mut self, low: f64, high: f64) -> f64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        low + (high - low) * (self.0 >> 11) as f64 / (1_u64 << 53) as f64
    }
}

/// Steps of the scan over the flows of a curve.
const STEPS: usize = 20_000;

/// Finds all crossings of random curves with dips and compares them with a scan: each change of
/// sign in the scan is a crossing found, in its step and of its sense; each crossing found and not
/// seen by the scan is one of two of opposite sense within one step, or a touch.
fn against_a_scan(cases: usize, seed: u64) {
    let mut random = Random(seed);
    let (mut several, mut hidden) = (0, 0);
    let width = 0.6;
    for _ in 0..cases.div_ceil(100) {
        let k = 10.0_f64.powf(random.between(2.0, 5.0));
        let dummy = fan(&[(0.0, 900.0), (0.3, 500.0), (width, 50.0)], Basis::Static);
        let network = Network::new(&system(dummy, k, None)).unwrap();
        let mut asked = network.system_curve(&network.open_all()).unwrap();
        let at = |i: usize| width * i as f64 / STEPS as f64;
        let tree: Vec<f64> = (1..=STEPS)
            .map(|i| {
                asked
                    .pressure(VolumeFlow::from_m3_s(at(i)))
                    .unwrap()
                    .as_pa()
            })
            .collect();
        for _ in 0..100 {
            let count = random.between(4.0, 10.0) as usize;
            // Near the tree's own pressure, so that crossings and near touches are many.
            let points: Vec<_> = (0..count)
                .map(|i| {
                    let q = width * i as f64 / (count - 1) as f64;
                    let near = tree[((q / width * STEPS as f64) as usize).clamp(1, STEPS) - 1];
                    let p = match i {
                        0 => random.between(200.0, 3000.0),
                        i if i + 1 == count => random.between(0.0, 0.9) * near,
                        _ => near * random.between(0.5, 1.7) + random.between(0.0, 300.0),
                    };
                    (q, p)
                })
                .collect();
            let fan = fan(&points, Basis::Static);
            let network = Network::new(&system(fan.clone(), k, None)).unwrap();
            let found = network.crossings(&network.open_all()).unwrap();
            let surplus = |i: usize| {
                let flow = VolumeFlow::from_m3_s(at(i));
                fan.pressure(flow).as_pa() - tree[i - 1]
            };
            let mut unseen = found.clone();
            let mut above = true;
            for i in 1..=STEPS {
                if (surplus(i) > 0.0) == above {
                    continue;
                }
                let sense = if above {
                    Stability::Stable
                } else {
                    Stability::Unstable
                };
                above = !above;
                let here = at(i - 1) * (1.0 - 1e-12)..=at(i) * (1.0 + 1e-12);
                let own = |c: &airsplit::Crossing| {
                    here.contains(&c.flow.as_m3_s()) && c.stability == sense
                };
                let own = unseen.iter().position(own);
                let own = own.unwrap_or_else(|| panic!("missed near {}: {points:?} {k}", at(i)));
                unseen.remove(own);
            }
            // Invented, unless two of opposite sense hide within a step, or a touch.
            unseen.retain(|crossing| crossing.stability != Stability::Touch);
            assert!(unseen.len().is_multiple_of(2), "{unseen:?}: {points:?} {k}");
            for pair in unseen.chunks(2) {
                assert_ne!(pair[0].stability, pair[1].stability);
                let apart = pair[1].flow.as_m3_s() - pair[0].flow.as_m3_s();
                assert!(apart < width / STEPS as f64, "{pair:?}: {points:?} {k}");
                hidden += 1;
            }
            several += usize::from(found.len() > 1);
            let settled = network.operating_point(&network.open_all()).unwrap();
            let from_rest = found.iter().find(|crossing| crossing.from_rest).unwrap();
            let off = settled.flow.as_m3_s() / from_rest.flow.as_m3_s() - 1.0;
            assert!(off.abs() < 1e-9, "{off:e}");
        }
    }
    println!("{cases} curves, {several} with several crossings, {hidden} pairs within one step");
    assert!(several > cases / 20, "the curves were too tame: {several}");
}

#[test]
fn prop_every_crossing_is_found() {
    against_a_scan(2_000, 0x9e37_79b9_7f4a_7c15);
}

/// The long form of [`prop_every_crossing_is_found`].
#[test]
#[ignore = "half a minute: cargo test --release --test laws_solve prop_crossings:: -- --ignored"]
fn prop_every_crossing_of_20_000_curves_is_found() {
    against_a_scan(20_000, 0x2545_f491_4f6c_dd1d);
}

/// A curve lowered onto the tree until it just touches: told as a touch, and as two crossings or
/// none a hair to either side.
#[test]
fn prop_a_touch_is_told() {
    let base = [(0.0, 1500.0), (0.1, 600.0), (0.3, 1500.0), (0.5, 100.0)];
    let lowered = |by: f64| {
        let dip: Vec<_> = base
            .iter()
            .map(|&(q, p)| (q, if q == 0.1 { p - by } else { p }))
            .collect();
        let network = Network::new(&system(fan(&dip, Basis::Static), 9000.0, None)).unwrap();
        network.crossings(&network.open_all()).unwrap()
    };
    // Bisection between one crossing and three.
    let (mut few, mut many) = (0.0, 590.0);
    assert_eq!((lowered(few).len(), lowered(many).len()), (1, 3));
    for _ in 0..60 {
        let middle = 0.5 * (few + many);
        if lowered(middle)
            .iter()
            .filter(|c| c.stability == Stability::Stable)
            .count()
            > 1
        {
            many = middle;
        } else {
            few = middle;
        }
    }
    assert!(many - few < 1e-9);
    let touching = lowered(few);
    let touches = touching.iter().filter(|c| c.stability == Stability::Touch);
    assert_eq!(touches.count(), 1, "{touching:?}");
    assert_eq!(lowered(few - 1e-3).len(), 1);
    assert_eq!(lowered(many + 1e-3).len(), 3);
}

/// What is told of a crossing besides its flow, by hand from that.
#[test]
fn prop_a_crossing_tells_its_pressure_and_how_far_its_edges_are() {
    let hump = [(0.0, 1000.0), (0.2, 1500.0), (0.5, 100.0)];
    let fall = [(0.0, 1500.0), (0.2, 1200.0), (0.5, 100.0)];
    let outlet = Bore::Round(Length::from_m(0.18));
    for (points, basis, after, peak) in [
        (hump, Basis::Static, None, Some(0.2)),
        (hump, Basis::Total, Some(0.18), Some(0.2)),
        (fall, Basis::Static, Some(0.18), None),
    ] {
        let mut fan = fan(&points, basis);
        if after.is_some() {
            fan = fan.with_outlet(outlet).unwrap();
        }
        let network = Network::new(&system(fan.clone(), 3000.0, after)).unwrap();
        let crossings = network.crossings(&network.open_all()).unwrap();
        for crossing in &crossings {
            let q = crossing.flow.as_m3_s();
            let given = fan.pressure(crossing.flow).as_pa();
            assert!((crossing.pressure.as_pa() / given - 1.0).abs() < 1e-9);
            assert_eq!(crossing.over_stall, peak.map(|peak: f64| q / peak - 1.0));
            assert_eq!(crossing.below_curve_end, 1.0 - q / 0.5);
        }
        assert_eq!(crossings.iter().filter(|at| at.from_rest).count(), 1);
    }
}

#[test]
fn prop_the_system_curve_inverts() {
    let falling = fan(&[(0.0, 2000.0), (0.3, 1500.0), (0.6, 100.0)], Basis::Total);
    let network = Network::new(&system(falling, 800.0, Some(0.18))).unwrap();
    let mut curve = network.system_curve(&network.open_all()).unwrap();
    let mut before = 0.0;
    for i in 1..60 {
        let flow = VolumeFlow::from_m3_s(0.01 * f64::from(i));
        let pressure = curve.pressure(flow).unwrap();
        assert!(pressure.as_pa() > before);
        before = pressure.as_pa();
        let back = curve.flow(pressure).unwrap().as_m3_s();
        assert!((back / flow.as_m3_s() - 1.0).abs() < 1e-12);
        let h = 1e-5 * flow.as_m3_s();
        let mut at = |d| {
            curve
                .pressure(VolumeFlow::from_m3_s(flow.as_m3_s() + d))
                .unwrap()
                .as_pa()
        };
        let difference = (at(h) - at(-h)) / (2.0 * h);
        let slope = curve.slope(flow).unwrap();
        assert!(
            (slope / difference - 1.0).abs() < 1e-6,
            "{slope} {difference}"
        );
        assert_eq!(curve.split(flow).unwrap().fan.curve_pressure, pressure);
    }
}
