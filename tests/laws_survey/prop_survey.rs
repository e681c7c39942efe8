//! Laws that readings obey, and what any input does to them.
#![allow(
    clippy::unwrap_used,
    reason = "clippy knows tests by their attribute, not their helpers"
)]

use airsplit::*;
use proptest::prelude::*;

fn pipe(mm: f64) -> Station {
    let air = Air::standard().properties().unwrap();
    Station::new(Bore::Round(Length::from_mm(mm)), air)
}

fn velocities(lines: &[Vec<f64>]) -> Vec<Vec<Velocity>> {
    let of_line = |line: &Vec<f64>| line.iter().copied().map(Velocity::from_m_s).collect();
    lines.iter().map(of_line).collect()
}

fn pressures(lines: &[Vec<f64>]) -> Vec<Vec<Pressure>> {
    let of_line = |line: &Vec<f64>| line.iter().copied().map(Pressure::from_pa).collect();
    lines.iter().map(of_line).collect()
}

fn traverse(lines: &[Vec<f64>]) -> Traverse {
    Traverse::of_velocities(TraverseRule::LogLinear, velocities(lines))
        .with_probe(Probe::new(Instrument::Thermal))
        .with_straight(Length::from_m(3.0), Length::from_m(3.0))
}

fn doubt(flow: &MeasuredFlow, cause: MeasuringCause) -> f64 {
    let mut doubts = flow.doubts.iter();
    let doubt = doubts.find(|doubt| doubt.cause == cause);
    doubt.map_or(0.0, |doubt| doubt.standard)
}

fn lines(count: usize) -> impl Strategy<Value = Vec<Vec<f64>>> {
    proptest::collection::vec(proptest::collection::vec(8.0..20.0_f64, 6), count)
}

fn number() -> impl Strategy<Value = f64> {
    prop_oneof![any::<f64>(), 0.0..30.0_f64, Just(0.0)]
}

proptest! {
    #[test]
    fn prop_twice_the_velocity_is_twice_the_flow(lines in lines(2)) {
        let twice: Vec<Vec<f64>> = lines.iter().map(|line| line.iter().map(|v| 2.0 * v).collect()).collect();
        let one = traverse(&lines).flow(&pipe(150.0)).unwrap();
        let two = traverse(&twice).flow(&pipe(150.0)).unwrap();
        prop_assert!((two.flow / one.flow - 2.0).abs() < 1e-12);
        prop_assert!((two.standard / one.standard - 2.0).abs() < 1e-9);
    }

    #[test]
    fn prop_four_times_the_pressure_is_twice_the_flow(lines in lines(3)) {
        let of = |factor: f64| {
            let lines: Vec<Vec<f64>> = lines.iter().map(|line| line.iter().map(|v| factor * v * v).collect()).collect();
            let traverse = Traverse::of_pressures(TraverseRule::LogLinear, pressures(&lines));
            traverse.flow(&pipe(150.0)).unwrap().flow
        };
        prop_assert!((of(4.0) / of(1.0) - 2.0).abs() < 1e-12);
    }

    #[test]
    fn prop_equal_readings_are_the_mean(v in 1.0..40.0_f64, count in 1..=3_usize) {
        let result = traverse(&vec![vec![v; 8]; count]).measure(&pipe(200.0)).unwrap();
        let measured = result.measured.unwrap();
        prop_assert!((measured.velocity.velocity.as_m_s() / v - 1.0).abs() < 1e-12);
        prop_assert!((measured.profile.largest_over_mean - 1.0).abs() < 1e-12);
        prop_assert!(measured.profile.lean < 1e-12);
        let area = pipe(200.0).bore.area().as_m2();
        prop_assert!((measured.flow.flow.as_m3_s() / (v * area) - 1.0).abs() < 1e-12);
    }

    #[test]
    fn prop_the_doubts_make_up_the_whole(lines in lines(2)) {
        let flow = traverse(&lines).flow(&pipe(100.0)).unwrap();
        let squares: f64 = flow.doubts.iter().map(|doubt| doubt.standard.powi(2)).sum();
        prop_assert!((squares.sqrt() / flow.standard.as_m3_s() - 1.0).abs() < 1e-12);
    }

    #[test]
    fn prop_more_lines_leave_less_doubt(line in proptest::collection::vec(8.0..20.0_f64, 6)) {
        // The same unevenness on every line.
        let at = |count| traverse(&vec![line.clone(); count]).flow(&pipe(150.0)).unwrap();
        let [one, two, three] = [1, 2, 3].map(at);
        for cause in [MeasuringCause::Spread, MeasuringCause::Placement] {
            prop_assert!(doubt(&one, cause) > doubt(&two, cause));
            prop_assert!(doubt(&two, cause) > doubt(&three, cause));
        }
        prop_assert!(one.standard > two.standard && two.standard > three.standard);
    }

    #[test]
    fn prop_any_traverse_is_answered(
        readings in proptest::collection::vec(proptest::collection::vec(number(), 0..8), 0..4),
        mm in number(), rest in number(), which in 0..3_usize,
    ) {
        let rule = [TraverseRule::LogLinear, TraverseRule::LogTchebycheff, TraverseRule::EqualArea][which];
        let probe = Probe::new(Instrument::Pitot).with_width(Length::from_mm(rest));
        let all = [
            Traverse::of_velocities(rule, velocities(&readings)),
            Traverse::of_velocities(rule, velocities(&readings)).with_probe(probe),
            Traverse::of_pressures(rule, pressures(&readings)),
            Traverse::of_pressures(rule, pressures(&readings))
                .with_straight(Length::from_m(rest), Length::from_m(rest)),
        ];
        let square = Bore::Rectangular { width: Length::from_mm(mm), height: Length::from_mm(300.0) };
        let places = [
            pipe(150.0), pipe(mm), Station { bore: square, ..pipe(150.0) },
            pipe(150.0).with_size_share(rest), pipe(150.0).with_density_share(rest),
        ];
        for traverse in all {
            for place in &places {
                let Ok(result) = traverse.measure(place) else { continue };
                match result.measured {
                    Some(at) => {
                        prop_assert!(at.flow.flow.as_m3_s() > 0.0 && at.flow.flow.is_finite());
                        prop_assert!(at.flow.standard.as_m3_s() > 0.0 && at.flow.standard.is_finite());
                        prop_assert!(at.standard_flow.standard.is_finite());
                        prop_assert!(at.profile.least_over_mean <= 1.0 + 1e-12);
                        prop_assert!(!result.notes.iter().any(ReadingNote::voids));
                    }
                    None => prop_assert!(result.notes.iter().any(ReadingNote::voids)),
                }
            }
        }
    }

    #[test]
    fn prop_any_other_reading_is_answered(
        spots in proptest::collection::vec(number(), 0..5), a in number(), b in number(),
        pa in number(), share in number(),
    ) {
        let length = Length::from_m;
        let places = [pipe(150.0), pipe(a), pipe(150.0).with_size_share(share)];
        for place in &places {
            let mut flows = Vec::new();
            let vane = VaneReading::new(spots.iter().copied().map(Velocity::from_m_s));
            let opening = Bore::Rectangular { width: length(a), height: length(b) };
            flows.push(vane.flow(place));
            flows.push(vane.clone().with_head(length(b)).flow(place));
            flows.push(vane.clone().with_head(Length::from_mm(60.0)).flow(place));
            flows.push(vane.with_opening(opening).with_head(Length::from_mm(60.0)).flow(place));
            for pa in [pa, 300.0] {
                let suction = HoodSuction::new(Pressure::from_pa(pa));
                flows.push(suction.flow(place, &Entry::K(share)));
                flows.push(suction.with_k_share(share).flow(place, &Entry::Flanged));
                let centre = CentreReading::of_pressure(Pressure::from_pa(pa), Length::from_mm(b));
                flows.push(centre.clone().flow(place));
                flows.push(centre.with_upstream(length(a)).flow(place));
                let centre = CentreReading::of_velocity(Velocity::from_m_s(pa), Length::from_mm(0.1));
                flows.push(centre.flow(place));
            }
            for flow in flows.into_iter().flatten() {
                prop_assert!(flow.flow.as_m3_s() >= 0.0 && flow.flow.is_finite());
                prop_assert!(flow.standard.as_m3_s() >= 0.0 && flow.standard.is_finite());
            }
        }
    }

    #[test]
    fn prop_a_centre_reading_fits_its_own_profile(v in 0.2..40.0_f64, mm in 50.0..400.0_f64) {
        let place = pipe(mm);
        let reading = CentreReading::of_velocity(Velocity::from_m_s(v), Length::from_mm(0.09));
        let flow = reading.with_upstream(Length::from_m(2.0)).flow(&place).unwrap();
        let mean = flow.flow.as_m3_s() / place.bore.area().as_m2();
        let air = place.air;
        let re = air.density.as_kg_m3() * mean * mm / 1000.0 / air.viscosity.as_pa_s();
        let ratio = mean_over_centre(re, 0.09 / mm, 2000.0 / mm).unwrap();
        prop_assert!((mean / v / ratio.ratio - 1.0).abs() < 1e-9);
    }
}

/// Twelve readings, changed in some places.
fn changed(change: &[(usize, f64)]) -> Vec<Vec<f64>> {
    let mut flat = [10.0; 12];
    for (i, v) in change {
        flat[*i] = *v;
    }
    flat.chunks(6).map(<[f64]>::to_vec).collect()
}

fn measured(change: &[(usize, f64)]) -> TraverseResult {
    traverse(&changed(change)).measure(&pipe(350.0)).unwrap()
}

#[test]
fn prop_a_void_traverse_says_why_and_gives_no_flow() {
    // Below zero; too uneven (three of twelve slow: just nine above a tenth); still.
    let backward = measured(&[(3, -0.1)]);
    assert_eq!(backward.notes, [ReadingNote::Backward { readings: 1 }]);
    let slow = [(0, 3.0), (1, 3.0), (2, 3.0)];
    let uneven = measured(&slow);
    assert!(uneven.measured.is_none());
    let error = traverse(&changed(&slow)).flow(&pipe(350.0)).unwrap_err();
    assert_eq!(
        error.to_string(),
        "the traverse is void: only 9 of 12 velocity pressures are above a tenth of the largest; \
         find another place"
    );
    // Above a tenth in pressure is above 0.316 in velocity.
    assert!(measured(&[(0, 3.2), (1, 3.2), (2, 3.2)]).measured.is_some());
    let still: Vec<(usize, f64)> = (0..12).map(|i| (i, 0.0)).collect();
    assert!(measured(&still).notes.contains(&ReadingNote::Still));
    // One or two zeros are told and stand.
    let zero = measured(&[(0, 0.0)]);
    assert_eq!(zero.notes, [ReadingNote::Zeros { readings: 1 }]);
    assert!(zero.measured.is_some());
}

#[test]
fn prop_faults_of_a_traverse_are_told() {
    let told = |lines: &[Vec<f64>]| traverse(lines).flow(&pipe(150.0)).unwrap_err().to_string();
    assert_eq!(
        told(&[]),
        "give velocities or velocity pressures, one of the two; none is given"
    );
    assert_eq!(
        told(&[vec![5.0; 6], vec![5.0; 5]]),
        "line 2 has 5 readings and line 1 has 6; give every line as many"
    );
    assert_eq!(
        told(&[vec![5.0; 5], vec![5.0; 5]]),
        "5 points on a line in a duct of 0.15 m; the log-linear rule has 6, 8 or 10"
    );
    assert_eq!(
        told(&vec![vec![5.0; 6]; 4]),
        "4 lines in a duct of 0.15 m; the log-linear rule has 1 to 3 diameters"
    );
    let mut wrong = vec![vec![5.0; 6]; 2];
    wrong[1][2] = f64::NAN;
    assert_eq!(
        told(&wrong),
        "line 2, point 3: velocity is NaN m/s; allowed: -100 m/s to 100 m/s"
    );
    let mut both = traverse(&[vec![5.0; 6]]);
    both.velocity_pressures = pressures(&[vec![5.0; 6]]);
    assert!(both.flow(&pipe(150.0)).is_err());
}

#[test]
fn prop_straight_duct_is_judged_in_diameters() {
    let at = |upstream: f64, downstream: f64| {
        let lines = changed(&[]);
        let [upstream, downstream] = [upstream, downstream].map(|d| Length::from_mm(350.0 * d));
        let traverse = traverse(&lines).with_straight(upstream, downstream);
        traverse.measure(&pipe(350.0)).unwrap()
    };
    assert!(at(7.5, 3.0).notes.is_empty());
    let texts: Vec<_> = at(1.0, 1.0).notes.iter().map(ToString::to_string).collect();
    assert_eq!(
        texts,
        [
            "1.0 diameters of straight duct before the reading; 7.5 are wanted, and with fewer than 2 \
             EPA Method 1 refuses the place",
            "1.0 diameters of straight duct after the reading; 3 are wanted",
        ]
    );
    let siting = |diameters| {
        doubt(
            &at(diameters, 3.0).measured.unwrap().flow,
            MeasuringCause::Siting,
        )
    };
    assert!(siting(0.0) > siting(4.0) && siting(4.0) > 0.0 && siting(7.5) == 0.0);
}

#[test]
fn prop_a_large_head_is_told_and_doubted() {
    let spots = [8.0; 4].map(Velocity::from_m_s);
    let at = |head_mm: f64| {
        let reading = VaneReading::new(spots).with_head(Length::from_mm(head_mm));
        reading.flow(&pipe(100.0))
    };
    let [small, large] = [16.0, 70.0].map(|mm| at(mm).unwrap());
    assert!(small.notes.is_empty(), "{:?}", small.notes);
    assert!(matches!(
        large.notes[..],
        [ReadingNote::HeadInTheWay { .. }]
    ));
    assert!(large.flow < small.flow && large.standard > small.standard);
    assert_eq!(
        at(100.0).unwrap_err().to_string(),
        "a vane head of 0.1 m is as large as the opening of 0.1 m; use a smaller one"
    );
    let face = Bore::Rectangular {
        width: Length::from_mm(600.0),
        height: Length::from_mm(400.0),
    };
    let one = VaneReading::new([Velocity::from_m_s(3.0)])
        .with_opening(face)
        .with_head(Length::from_mm(100.0));
    let notes = one.flow(&pipe(100.0)).unwrap().notes;
    assert_eq!(
        notes,
        [ReadingNote::FewSpots {
            spots: 1,
            wanted: 11
        }]
    );
}

#[test]
fn prop_a_coefficient_of_entry_comes_back() {
    let place = pipe(125.0);
    let reading = HoodSuction::new(Pressure::from_pa(400.0));
    let flow = reading.flow(&place, &Entry::Flanged).unwrap().flow;
    let v = flow.as_m3_s() / place.bore.area().as_m2();
    let pv = Pressure::from_pa(place.air.density.as_kg_m3() / 2.0 * v * v);
    let ce = coefficient_of_entry(pv, Pressure::from_pa(400.0)).unwrap();
    let again = reading.flow(&place, &Entry::Coefficient(ce)).unwrap().flow;
    assert!((again / flow - 1.0).abs() < 1e-12);
    for bad in [0.0, -1.0, f64::NAN, 500.0] {
        assert!(coefficient_of_entry(Pressure::from_pa(bad), Pressure::from_pa(400.0)).is_err());
    }
}

#[test]
fn prop_a_centre_reading_is_for_round_duct() {
    let side = Length::from_mm(100.0);
    let bore = Bore::Rectangular {
        width: side,
        height: side,
    };
    let reading = CentreReading::of_velocity(Velocity::from_m_s(10.0), Length::from_mm(0.1));
    let place = Station {
        bore,
        ..pipe(100.0)
    };
    assert!(matches!(
        reading.flow(&place),
        Err(MeasuringError::CentreOfRectangle { .. })
    ));
}

#[cfg(feature = "serde")]
#[test]
fn prop_readings_stand_in_documents() {
    #[derive(Debug, PartialEq, serde::Serialize, serde::Deserialize)]
    struct Document {
        traverse: Traverse,
        centre: CentreReading,
        vane: VaneReading,
        hood: HoodSuction,
        pitot: PitotReading,
        plan: TraversePlan,
    }
    let text = r#"
        traverse = { rule = "log_linear", upstream = "4 ft", velocities = [["20 m/s", "22 m/s"], ["21 m/s", "23 m/s"]] }
        centre = { velocity_pressure = "1 in wg", roughness = "0.09 mm", probe = { tube = { coefficient = 0.84 } } }
        vane = { velocities = ["5 m/s"], head = "4 in", opening = { round = "8 in" } }
        hood = { suction = "1.5 in wg" }
        pitot = { velocity_pressure = "1 in wg" }
        plan = { lines = 3, probe = "1/8 in" }
    "#;
    let read: Document = toml::from_str(text).unwrap();
    assert_eq!(read.traverse.rule, TraverseRule::LogLinear);
    assert_eq!(read.centre.probe.instrument, Instrument::Pitot);
    assert_eq!(read.vane.instrument, Instrument::RotatingVane);
    assert_eq!(read.hood.instrument, Instrument::StaticTap);
    let again: Document = toml::from_str(&toml::to_string(&read).unwrap()).unwrap();
    assert_eq!(again, read);
    assert!(toml::from_str::<Document>(&text.replace("upstream", "up")).is_err());
}
