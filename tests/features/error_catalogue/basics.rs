//! Quantities, air, pictures of fan curves.

use super::*;

pub(crate) fn errors() -> Told {
    let mut told = Told::default();
    told.refused("6".parse::<Length>());
    told.refused("6 furlongs".parse::<Length>());
    told.refused("six in".parse::<Length>());
    let air = |humidity| {
        let height = Barometer::Altitude(Length::from_m(250.0));
        Air::moist(height, Temperature::from_celsius(20.0), humidity).properties()
    };
    told.refused(air(50.0));
    let cold = Barometer::Altitude(Length::from_m(0.0));
    told.refused(Air::moist(cold, Temperature::from_celsius(-300.0), 0.5).properties());
    for text in [
        "altitude = \"250 m\"\nrelative_humidity = 0.5",
        "altitude = \"250 m\"\nbarometer = \"100 kPa\"\ntemperature = \"20 C\"\nrelative_humidity = 0.5",
    ] {
        let error = toml::from_str::<Air>(text).unwrap_err().to_string();
        let text = error.lines().last().unwrap();
        told.lines.push(("Air in a document".into(), text.into()));
    }
    told.by_hand(&AirError::Missing {
        missing: vec!["temperature"],
    });
    told.by_hand(&AirError::Conflict {
        first: "altitude",
        second: "barometer",
    });
    let at = |x, y| PickedPoint { x, y };
    let both = |x, y, flow, pressure| Reference::new(at(x, y), m3_h(flow), pa(pressure));
    let fit = |references: Vec<Reference>, scale| Axes::fit(references, AxisScale::Linear, scale);
    let corners = || {
        vec![
            both(0.0, 0.0, 0.0, 0.0),
            both(100.0, 0.0, 2000.0, 0.0),
            both(0.0, 100.0, 0.0, 2500.0),
        ]
    };
    told.refused(fit(corners()[..2].to_vec(), AxisScale::Linear));
    let mut odd = corners();
    odd[1] = both(f64::NAN, 0.0, 2000.0, 0.0);
    told.refused(fit(odd, AxisScale::Linear));
    told.refused(fit(corners(), AxisScale::Logarithmic));
    let line = (0..3).map(|i| f64::from(i) * 10.0);
    let line = line.map(|x| both(x, x, 100.0 * x, 100.0 * x)).collect();
    told.refused(fit(line, AxisScale::Linear));
    let level = corners()
        .into_iter()
        .map(|one| Reference::new(one.at, m3_h(500.0), pa(1.0)));
    told.refused(fit(level.collect(), AxisScale::Linear));
    let parallel = vec![
        both(0.0, 0.0, 0.0, 0.0),
        both(100.0, 0.0, 2000.0, 2000.0),
        both(0.0, 100.0, 0.0, 0.0),
    ];
    told.refused(fit(parallel, AxisScale::Linear));
    told.refused(Wall::Roughness(mm(-1.0)).loss_error());
    told
}

trait Refuses {
    fn loss_error(self) -> Result<(), LossError>;
}

impl Refuses for Wall {
    /// What a section of that wall is refused for.
    fn loss_error(self) -> Result<(), LossError> {
        let errors = refused(|system| system.sections[0].wall = self);
        match &errors.iter().next().unwrap().fault {
            ModelFault::Loss(error) => Err(error.clone()),
            other => panic!("{other:?}"),
        }
    }
}

#[test]
fn texts() {
    insta::assert_snapshot!(errors().table(), @r##"
    QuantityError: "6": a number needs a unit at character 2; accepted units: m, mm, in, ft, cm
    QuantityError: "6 furlongs": unknown unit at character 3; accepted units: m, mm, in, ft, cm
    QuantityError: "six in": no number at character 1; accepted units: m, mm, in, ft, cm
    AirError::OutOfRange: relative humidity (a fraction) is 50; allowed: 0 to 1
    AirError::OutOfRange: temperature is -300 C; allowed: -40 C to 60 C
    Air in a document: missing: temperature; give altitude (or barometer), temperature and relative_humidity, or density and viscosity
    Air in a document: altitude and barometer exclude each other; give altitude (or barometer), temperature and relative_humidity, or density and viscosity
    AirError::Missing: missing: temperature; give altitude (or barometer), temperature and relative_humidity, or density and viscosity
    AirError::Conflict: altitude and barometer exclude each other; give altitude (or barometer), temperature and relative_humidity, or density and viscosity
    DigitiseError::TooFewReferences: 2 of the references tell a flow; the flow axis needs 3 or more, not on one line
    DigitiseError::Number: reference 2: the x is NaN px; it must be a finite number, at most 1e100 in size
    DigitiseError::NotPositive: reference 1: the pressure is 0 Pa; on a logarithmic axis it must be above zero
    DigitiseError::OnOneLine: the references that tell a flow lie on one line of the picture, or so nearly that the way it is turned cannot be told; add one well off that line
    DigitiseError::OneValue: the references tell one flow only; the flow axis needs two different ones
    DigitiseError::Parallel: flow and pressure change in the same direction of the picture; one of the references is at the wrong place, or tells a wrong value
    LossError: roughness of the wall is -1 mm; allowed: 0 mm to 10 mm
    "##);
}
