//! The usual doubts, one by one: the table of [`Network::doubts`], as it stands in its doc.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    reason = "a test that cannot go on must stop, and says of what"
)]
#![cfg(feature = "serde")]

use super::prop_gradient::with_machines;
use airsplit::{
    Air, Barometer, Density, Doubt, DynamicViscosity, FanCurve, Fitted, Junction, Length, Network,
    Parameter, Place, Pressure, Spread, System, Temperature, VolumeFlow,
};

/// 95 % of a normal distribution lie within so many standard deviations.
const HALF_BAND: f64 = 1.96;

/// Of a number that 95 % would put within this factor either way.
fn within_factor(factor: f64) -> f64 {
    factor.ln() / HALF_BAND
}

struct Told(Vec<Doubt>);

impl Told {
    fn of(system: &System) -> Self {
        Self(Network::new(system).unwrap().doubts(&[]))
    }

    fn find(&self, place: &Place, parameter: Parameter) -> Option<&Doubt> {
        let mut at = self.0.iter();
        at.find(|at| at.place == *place && at.parameter == parameter)
    }

    fn by(&self, place: &Place, parameter: Parameter, standard: f64) {
        self.is(place, parameter, standard, Spread::Even);
    }

    fn share(&self, place: &Place, parameter: Parameter, standard: f64) {
        self.is(place, parameter, standard, Spread::Scaled);
    }

    fn is(&self, place: &Place, parameter: Parameter, standard: f64, spread: Spread) {
        let Some(told) = self.find(place, parameter) else {
            panic!("{place}: no doubt of {parameter:?}")
        };
        assert_eq!(told.spread, spread, "{told:?}");
        assert!((told.standard / standard - 1.0).abs() < 1e-4, "{told:?}");
    }

    fn none(&self, place: &Place, parameter: Parameter) {
        assert_eq!(self.find(place, parameter), None);
    }
}

fn section(id: &str) -> Place {
    Place::Section(id.into())
}

fn part(section: &str, part: usize) -> Place {
    Place::Part {
        section: section.into(),
        part,
    }
}

fn before(run: usize, part: usize) -> Place {
    Place::Before {
        run,
        part: Some(part),
    }
}

#[test]
fn regress_usual_doubts_of_ducts_and_vessels() {
    let told = Told::of(&with_machines());
    let main = section("main");
    told.share(&main, Parameter::Diameter, 0.005);
    told.by(&Place::Join("side".into()), Parameter::ExtraK, 0.1);
    told.share(&section("torn"), Parameter::LeakArea, within_factor(2.0));
    told.share(&section("vessel"), Parameter::Leakage, within_factor(2.0));
    told.share(&section("pin holes"), Parameter::LeakFlow, 0.1);
    told.by(&section("pin holes"), Parameter::Exponent, 0.03);
    let elbow = part("elbows", 4);
    told.share(&elbow, Parameter::K, 0.2);
    told.none(&elbow, Parameter::Factor);
    told.share(&part("elbows", 0), Parameter::Factor, 0.15);
    told.share(&part("elbows", 0), Parameter::RadiusRatio, 0.05);
    told.by(&part("elbows", 0), Parameter::Angle, 2.0);
    told.share(&part("elbows", 5), Parameter::Factor, 0.15);
    told.by(&part("elbows", 5), Parameter::Opening, 0.02);
    told.share(&part("widening", 0), Parameter::Factor, 0.15);
    told.share(&part("narrowing", 1), Parameter::Factor, 0.05);
    told.share(&part("narrowing", 1), Parameter::Length, 0.02);
    told.share(&part("hoses", 0), Parameter::Factor, 0.25);
    told.by(&part("hoses", 0), Parameter::Compression, 0.025);
    told.none(&part("ribs", 0), Parameter::Factor);
    told.share(
        &part("ribs", 0),
        Parameter::HoseFactor,
        0.5 * within_factor(6.0 / 1.7),
    );
    told.share(&before(0, 0), Parameter::Factor, 0.15);
    told.share(&before(1, 2), Parameter::K, 0.15);
    let cloth = before(1, 1);
    told.none(&cloth, Parameter::Factor);
    told.share(&cloth, Parameter::DustLoad, 0.5);
    told.share(&cloth, Parameter::CakeResistance, 0.5);
    told.share(&cloth, Parameter::Permeability, 0.2);
    let terms = part("vessel", 1);
    told.none(&terms, Parameter::Factor);
    told.share(&terms, Parameter::LinearDrop, 0.2);
    told.share(&terms, Parameter::QuadraticDrop, 0.2);
    told.share(&part("vessel", 0), Parameter::Drop, 0.15);
}

#[test]
fn regress_usual_doubts_of_air_fan_and_joins() {
    let mut system = with_machines();
    let told = Told::of(&system);
    told.by(&Place::Air, Parameter::Altitude, 85.0);
    told.by(&Place::Air, Parameter::Temperature, 3.0);
    told.by(&Place::Air, Parameter::Humidity, 0.1);
    told.none(&Place::Air, Parameter::Density);
    told.none(&Place::Air, Parameter::Viscosity);
    told.share(&Place::Fan, Parameter::Factor, 0.05);
    told.share(&Place::Fan, Parameter::Speed, 0.01);
    told.none(&Place::Fan, Parameter::Shape);
    let barometer = Barometer::Pressure(Pressure::from_pa(99_000.0));
    system.air = Air::moist(barometer, Temperature::from_celsius(20.0), 0.5);
    Told::of(&system).by(&Place::Air, Parameter::Barometer, 300.0);
    let density = Density::from_kg_m3(1.2);
    system.air = Air::Given {
        density,
        viscosity: DynamicViscosity::from_pa_s(1.8e-5),
    };
    let (flow, pressure) = (VolumeFlow::from_m3_s(0.8), Pressure::from_pa(2500.0));
    let fan = FanCurve::from_extremes(flow, pressure, Fitted::NOTHING, density).unwrap();
    let outlet = airsplit::Bore::Round(Length::from_mm(240.0));
    system.collector.fan = Some(fan.with_outlet(outlet).unwrap());
    system.junction = Junction::FixedK;
    let into: Vec<_> = system.sections.iter().map(|at| at.into.clone()).collect();
    for section in &mut system.sections {
        let meet = into.iter().filter(|into| **into == section.into).count() > 1;
        section.join.k = meet.then_some(0.4);
    }
    let told = Told::of(&system);
    told.share(&Place::Air, Parameter::Density, 0.01);
    told.share(&Place::Air, Parameter::Viscosity, 0.02);
    told.by(&Place::Fan, Parameter::Shape, 0.25 / HALF_BAND);
    told.by(&Place::Join("side".into()), Parameter::K, 0.1);
}
