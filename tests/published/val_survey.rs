//! Readings against published examples, tables and formulas.
#![allow(
    clippy::unwrap_used,
    reason = "clippy knows tests by their attribute, not their helpers"
)]

use airsplit::*;

fn air(density_kg_m3: f64) -> AirProperties {
    let air = Air::Given {
        density: Density::from_kg_m3(density_kg_m3),
        viscosity: DynamicViscosity::from_pa_s(1.82e-5),
    };
    air.properties().unwrap()
}

fn round(length: Length, density_kg_m3: f64) -> Station {
    Station::new(Bore::Round(length), air(density_kg_m3))
}

/// 2021 ASHRAE Handbook - Fundamentals, ch. 38, sec. 6.4, example 2: a log-Tchebycheff traverse of a
/// duct of 610 x 610 mm, air of 1.185 kg/m3. By row, 46 to 564 mm.
const VELOCITIES: [[f64; 5]; 5] = [
    [5.644, 5.878, 5.578, 6.253, 5.761],
    [6.142, 6.330, 5.949, 6.452, 6.325],
    [6.182, 6.980, 6.655, 6.965, 6.360],
    [6.147, 6.711, 6.843, 6.985, 5.959],
    [5.796, 5.781, 5.690, 5.832, 5.928],
];
const PRESSURES: [[f64; 5]; 5] = [
    [18.87, 20.47, 18.43, 23.17, 19.66],
    [22.35, 23.74, 20.97, 24.66, 23.70],
    [22.65, 28.87, 26.24, 28.74, 23.97],
    [22.39, 26.68, 27.74, 28.91, 21.04],
    [19.91, 19.80, 19.18, 20.15, 20.82],
];

fn square_duct() -> Station {
    let side = Length::from_mm(610.0);
    let bore = Bore::Rectangular {
        width: side,
        height: side,
    };
    Station::new(bore, air(1.185))
}

fn of_velocities() -> Traverse {
    let lines = VELOCITIES.map(|line| line.map(Velocity::from_m_s).to_vec());
    Traverse::of_velocities(TraverseRule::LogTchebycheff, lines.to_vec())
}

fn of_pressures() -> Traverse {
    let lines = PRESSURES.map(|line| line.map(Pressure::from_pa).to_vec());
    Traverse::of_pressures(TraverseRule::LogTchebycheff, lines.to_vec())
}

#[test]
fn val_traverse_of_the_handbook() {
    // The same example: mean 6.203 m/s, 2.308 m3/s, 2.278 m3/s of standard air. The means of the
    // printed tables are 6.205: a digit of a table may be off, hence 0.1 %.
    for traverse in [of_velocities(), of_pressures()] {
        let result = traverse.measure(&square_duct()).unwrap();
        let measured = result.measured.unwrap();
        let near = |value: f64, printed: f64| {
            assert!((value / printed - 1.0).abs() < 1e-3, "{value} {printed}");
        };
        near(measured.velocity.velocity.as_m_s(), 6.203);
        near(measured.flow.flow.as_m3_s(), 2.308);
        near(measured.standard_flow.flow.as_m3_s(), 2.278);
    }
}

#[test]
fn val_the_wrong_order_of_averaging_misses_the_handbook() {
    // The velocity of the mean pressure is 6.220 m/s, 0.25 % high, and outside what the example allows.
    let mean = PRESSURES.iter().flatten().sum::<f64>() / 25.0;
    let wrong = velocity_of_pressure(Pressure::from_pa(mean), Density::from_kg_m3(1.185)).unwrap();
    assert!((wrong.as_m_s() - 6.220).abs() < 5e-4);
    assert!((wrong.as_m_s() / 6.203 - 1.0).abs() > 2e-3);
    let right = of_pressures().measure(&square_duct()).unwrap();
    let right = right.measured.unwrap().velocity.velocity;
    assert!(wrong.as_m_s() / right.as_m_s() > 1.002);
}

#[test]
fn val_positions_of_the_handbook() {
    // The same example: 46, 175, 305, 434 and 564 mm.
    let layout = TraversePlan::default().layout(square_duct().bore).unwrap();
    assert_eq!(layout.rule, TraverseRule::LogTchebycheff);
    assert_eq!(layout.lines.len(), 5);
    let printed = [46.0, 175.0, 305.0, 434.0, 564.0];
    for (point, mm) in layout.lines[0].points.iter().zip(printed) {
        assert!((point.from_wall.as_mm() - mm).abs() <= 1.0, "{mm}");
    }
}

#[test]
fn val_velocity_of_a_pitot_reading() {
    // 2021 ASHRAE Handbook - Fundamentals, ch. 38, example 1: 93.16 +- 0.95 Pa, 1.185 +- 0.020 kg/m3,
    // bias 1 %: 12.54 m/s +- 1.4 %, 0.18 m/s.
    let manometer = Instrument::OwnManometer {
        share: 0.0,
        least: Pressure::from_pa(0.95 * 1.96),
    };
    let reading = PitotReading::new(Pressure::from_pa(93.16)).with_instrument(manometer);
    let density = Density::from_kg_m3(1.185);
    let at = reading.velocity(density, 0.020 / 1.185).unwrap();
    assert!((at.velocity.as_m_s() - 12.54).abs() < 0.005);
    assert!((at.standard.as_m_s() - 0.18).abs() < 0.005);
    assert!((100.0 * (at.standard / at.velocity) - 1.404).abs() < 0.002);
}

#[test]
fn val_positions_by_the_printed_digits() {
    // Log-linear (round) and log-Tchebycheff (rectangular): an instrument manual, its two misprints
    // (.32 and .979) set right.
    let round = Bore::Round(Length::from_mm(100.0));
    let square = square_duct().bore;
    let at = |rule: TraverseRule, bore, points| rule.fractions(bore, points).unwrap();
    let log_linear = |points| at(TraverseRule::LogLinear, round, points);
    assert_eq!(log_linear(6), [0.032, 0.135, 0.321, 0.679, 0.865, 0.968]);
    assert_eq!(
        log_linear(8),
        [0.021, 0.117, 0.184, 0.345, 0.655, 0.816, 0.883, 0.979]
    );
    assert_eq!(
        log_linear(10),
        [
            0.019, 0.077, 0.153, 0.217, 0.361, 0.639, 0.783, 0.847, 0.923, 0.981
        ]
    );
    let tchebycheff = |points| at(TraverseRule::LogTchebycheff, square, points);
    assert_eq!(tchebycheff(5), [0.074, 0.288, 0.5, 0.712, 0.926]);
    assert_eq!(tchebycheff(6), [0.061, 0.235, 0.437, 0.563, 0.765, 0.939]);
    assert_eq!(
        tchebycheff(7),
        [0.053, 0.203, 0.366, 0.5, 0.634, 0.797, 0.947]
    );
    // 40 CFR 60, appendix A-1, Method 1, table 1-2, percent of the diameter; from memory.
    let table: [&[f64]; 5] = [
        &[6.7, 25.0, 75.0, 93.3],
        &[4.4, 14.6, 29.6, 70.4, 85.4, 95.6],
        &[3.2, 10.5, 19.4, 32.3, 67.7, 80.6, 89.5, 96.8],
        &[2.6, 8.2, 14.6, 22.6, 34.2, 65.8, 77.4, 85.4, 91.8, 97.4],
        &[
            2.1, 6.7, 11.8, 17.7, 25.0, 35.6, 64.4, 75.0, 82.3, 88.2, 93.3, 97.9,
        ],
    ];
    for row in table {
        let answer = at(TraverseRule::EqualArea, round, row.len());
        for (answer, percent) in answer.iter().zip(row) {
            assert!((100.0 * answer - percent).abs() <= 0.0501, "{answer}");
        }
    }
}

/// Inches of water at 68 F, 998.2 kg/m3 (from memory): those of the trade's 4005 = 1096.7 / sqrt 0.075.
fn in_of_water(inches: f64) -> Pressure {
    Pressure::from_pa(inches * 998.2 * 9.806_65 * 0.0254)
}

#[test]
fn val_constants_of_method_2() {
    // 40 CFR 60, appendix A-1, Method 2: v = Kp Cp sqrt(dp) sqrt(Ts / (Ps Ms)), Kp 34.97 in m/s, mm of
    // water, K, mm of mercury, g/mol, and 85.49 in ft/s, in of water, R, in of mercury, lb/lb-mol; Cp
    // 0.84 of a type S tube. The gas constant, 8.31446 J/(mol K), and the conventional mercury, 133.322
    // Pa/mm, are from memory. The two constants differ by 0.03 % among themselves (34.97 m/s are 85.52
    // in the other units), so 0.05 % is what they deserve.
    let kp = |dp: Pressure, kelvin: f64, pa: f64, tube: PitotTube| {
        let density = pa * 0.029 / (8.314_46 * kelvin);
        let reading = PitotReading::new(dp).with_tube(tube);
        let at = reading.velocity(Density::from_kg_m3(density), 0.01);
        at.unwrap().velocity
    };
    let pa_of_mm_hg = 133.322;
    let metric = |tube| {
        let v = kp(Pressure::from_mm_wg(9.0), 310.0, 745.0 * pa_of_mm_hg, tube);
        v.as_m_s() / (9.0_f64 * 310.0 / (745.0 * 29.0)).sqrt()
    };
    let near = |kp: f64, printed: f64| assert!((kp / printed - 1.0).abs() < 5e-4, "{kp} {printed}");
    near(metric(PitotTube::STANDARD), 34.97);
    near(metric(PitotTube::TYPE_S), 34.97 * 0.84);
    let rankine = 560.0;
    let in_hg = 29.5;
    let v = kp(
        Pressure::from_in_wg(0.5),
        rankine / 1.8,
        in_hg * 25.4 * pa_of_mm_hg,
        PitotTube::STANDARD,
    );
    let kp = v.as_fpm() / 60.0 / (0.5 * rankine / (in_hg * 29.0_f64)).sqrt();
    near(kp, 85.49);
}

#[test]
fn val_velocity_pressures_of_the_question_bank() {
    // An industrial-hygiene question bank on the ABIH equation sheet: V = 1.29 sqrt VP in SI (the
    // printed constant stands for sqrt(2 / 1.2)), 4005 sqrt VP in inches and fpm.
    let si = |pa| velocity_of_pressure(Pressure::from_pa(pa), Density::from_kg_m3(1.2)).unwrap();
    assert!((si(900.0).as_m_s() - 38.7).abs() < 0.05);
    assert!((si(100.0).as_m_s() - 12.9).abs() < 0.05);
    let us = |inches| velocity_of_pressure(in_of_water(inches), Density::STANDARD_AIR).unwrap();
    assert!((us(4.0).as_fpm() - 8010.0).abs() < 1.0);
    assert!((us(1.0).as_fpm() - 4005.0).abs() < 0.5);
}

#[test]
fn val_hoods_of_the_question_bank() {
    // The same bank: F 0.6 at VP 2 in has SPh -3.2 in; SPh 0.8 and VP 0.4 in give Ce 0.707; Ce 0.98,
    // SPh 4 in, 0.196 ft2 give 1539 cfm.
    let ce = coefficient_of_entry(Pressure::from_in_wg(0.4), Pressure::from_in_wg(0.8)).unwrap();
    assert!((ce - 0.707).abs() < 5e-4);
    let station = |ft2: f64| {
        let diameter = Length::from_ft((4.0 * ft2 / std::f64::consts::PI).sqrt());
        round(diameter, Density::STANDARD_AIR.as_kg_m3())
    };
    let flow = |inches: f64, entry| {
        let reading = HoodSuction::new(in_of_water(inches));
        reading.flow(&station(0.196), &entry).unwrap().flow
    };
    let answer = flow(4.0, Entry::Coefficient(0.98)).as_cfm();
    assert!((answer - 1539.0).abs() < 1.0, "{answer}");
    // The velocity pressure behind -3.2 in of a hood with F 0.6 is 2 in: 4005 sqrt 2 fpm.
    let fpm = flow(3.2, Entry::K(0.6)).as_cfm() / 0.196;
    assert!(
        (fpm / (4005.0 * 2.0_f64.sqrt()) - 1.0).abs() < 2e-4,
        "{fpm}"
    );
}

#[test]
fn val_doubts_of_a_hood() {
    // By hand: K 0.93 known to 20 % puts the flow off by 0.93 / (2 * 1.93) * 20 %, a suction of
    // 1000 Pa known to 2 % by 1 %, sizes known to 0.5 % by 1 %, a density known to 1 % by 0.5 %
    // (JCGM 100:2008, 5.1.2; from memory).
    let tap = Instrument::OwnManometer {
        share: 0.02 * 1.959_964,
        least: Pressure::from_pa(0.0),
    };
    let reading = HoodSuction::new(Pressure::from_pa(1000.0)).with_instrument(tap);
    let at = reading.flow(&round(Length::from_in(5.0), 1.2), &Entry::Plain);
    let at = at.unwrap();
    let of_k = 0.93 / (2.0 * 1.93) * 0.2;
    let whole = (of_k * of_k + 0.01 * 0.01 + 0.01 * 0.01 + 0.005 * 0.005_f64).sqrt();
    assert!((at.standard / at.flow / whole - 1.0).abs() < 1e-3);
}
