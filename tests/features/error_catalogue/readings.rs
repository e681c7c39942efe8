//! What instruments showed.

use super::*;

fn station() -> Station {
    Station::new(round_mm(160.0), Air::standard().properties().unwrap())
}

fn square() -> Station {
    Station {
        bore: Bore::Rectangular {
            width: mm(300.0),
            height: mm(200.0),
        },
        ..station()
    }
}

fn m_s(velocity: f64) -> Velocity {
    Velocity::from_m_s(velocity)
}

fn traverse(lines: Vec<Vec<f64>>) -> Traverse {
    let lines = lines
        .into_iter()
        .map(|line| line.into_iter().map(m_s).collect());
    Traverse::of_velocities(TraverseRule::LogLinear, lines.collect())
}

fn even(velocity: f64) -> Vec<Vec<f64>> {
    vec![vec![velocity; 6]; 3]
}

pub(crate) fn errors() -> Told {
    let mut told = Told::default();
    told.refused(velocity_of_pressure(pa(-100.0), Density::STANDARD_AIR));
    let mut odd = even(20.0);
    odd[1][2] = f64::NAN;
    told.refused(traverse(odd).flow(&station()));
    told.refused(traverse(Vec::new()).flow(&station()));
    let mut both = traverse(even(20.0));
    both.velocity_pressures = vec![vec![pa(240.0); 6]; 3];
    told.refused(both.flow(&station()));
    told.refused(TraverseRule::EqualArea.fractions(round_mm(160.0), 0));
    told.refused(TraverseRule::LogLinear.fractions(square().bore, 6));
    told.refused(traverse(vec![vec![20.0; 5]; 3]).flow(&station()));
    let mut ragged = even(20.0);
    ragged[2].pop();
    told.refused(traverse(ragged).flow(&station()));
    told.refused(Instrument::RotatingVane.pressure(pa(100.0)));
    let exact = Instrument::Own {
        share: 0.0,
        least: m_s(0.0),
    };
    told.refused(exact.class());
    let smooth = mm(0.09);
    told.refused(CentreReading::of_velocity(m_s(20.0), smooth).flow(&square()));
    told.by_hand(&MeasuringError::NoMean { centre_m_s: 20.0 });
    let vane = VaneReading::new([m_s(5.0); 4]);
    told.refused(vane.clone().with_head(mm(300.0)).flow(&station()));
    told.refused(VaneReading::new([]).flow(&station()));
    let mut backward = even(20.0);
    backward[0] = vec![-20.0; 6];
    told.refused(traverse(backward).flow(&station()));
    told
}

#[test]
fn texts() {
    insta::assert_snapshot!(errors().table(), @r##"
    MeasuringError::Value: velocity pressure is -100 Pa; allowed: 0 Pa to 10000 Pa
    MeasuringError::Reading: line 2, point 3: velocity is NaN m/s; allowed: -100 m/s to 100 m/s
    MeasuringError::Readings: give velocities or velocity pressures, one of the two; none is given
    MeasuringError::Readings: give velocities or velocity pressures, one of the two; both are given
    MeasuringError::Count: 0 points on a line in a duct of 0.16 m; the equal-area rule has an even number, 4 to 24
    MeasuringError::Shape: the log-linear rule has no points for a duct of 0.3 m x 0.2 m; use log-Tchebycheff
    MeasuringError::Count: 5 points on a line in a duct of 0.16 m; the log-linear rule has 6, 8 or 10
    MeasuringError::Ragged: line 3 has 5 readings and line 1 has 6; give every line as many
    MeasuringError::Instrument: a rotating vane shows no pressure; read it with another instrument
    MeasuringError::Exact: an own instrument without uncertainty; give its share or its least, above 0
    MeasuringError::CentreOfRectangle: a reading at the centre tells the flow of round duct only, not of 0.3 m x 0.2 m; traverse it
    MeasuringError::NoMean: no mean velocity fits 20 m/s at the centre; read it again, or traverse the duct
    MeasuringError::Head: a vane head of 0.3 m is as large as the opening of 0.16 m; use a smaller one
    MeasuringError::Readings: give velocities or velocity pressures, one of the two; none is given
    MeasuringError::Void: the traverse is void: readings below zero: 6; air flows back there, find another place; only 12 of 18 velocity pressures are above a tenth of the largest; find another place
    "##);
}
