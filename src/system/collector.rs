//! The collector: its runs, and the velocity pressures between the fan's basis and the open air.

use super::{
    conduit::{Assembly, ConduitLaw, check_transitions},
    fault::{ModelError, ModelFault},
    model::{Collector, Run, System},
    setting::{Model, Spot},
    topology::Topology,
};
use crate::{
    air::AirProperties,
    bore::Bore,
    fan::Basis,
    loss::{LossError, Part, coefficients::head_per_q2},
    place::Place,
};

/// Velocity pressures between the published basis of a fan curve and the open air, each per
/// squared flow \[Pa s2/m6\] at the density of the air in the ducts.
///
/// The path ends in the open: the exit velocity pressure is charged once. A fan-static curve has
/// paid for the velocity pressure at the fan's outlet already, so with a bare outlet the two
/// cancel and no outlet size is needed.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(crate) struct HeadBalance {
    /// What the system asks of the curve beyond its losses: exit head plus conversion of basis.
    pub(crate) beyond_losses: f64,
    /// Fan total pressure minus the curve's pressure; `None` without the size of the outlet.
    pub(crate) total_over_curve: Option<f64>,
    /// Fan static pressure minus the curve's pressure; `None` without the size of the outlet
    /// where the curve is of total pressure.
    pub(crate) static_over_curve: Option<f64>,
    /// The exit velocity pressure where the path ends; `None` where it cancels unseen.
    pub(crate) exit: Option<f64>,
}

/// Folds the runs before and after the fan; what the fan's curve contains is charged nothing.
pub(crate) fn fold_collector(
    model: Model<'_>,
    topology: &Topology,
    air: &AirProperties,
    faults: &mut Vec<ModelError>,
) -> (Vec<ConduitLaw>, Vec<ConduitLaw>) {
    let system = model.system;
    let collector = &system.collector;
    let in_curve = |part: &Part| collector.in_fan_curve(part);
    let mut fold =
        |runs: &[Run], first: Option<(Bore, &[Part])>, spot: fn(usize, Option<usize>) -> Spot| {
            let place = |run, part| spot(run, part).place(system);
            let mut laws = Vec::with_capacity(runs.len());
            for (i, run) in runs.iter().enumerate() {
                let upstream = match i.checked_sub(1).and_then(|i| runs.get(i)) {
                    Some(before) => Some((before.size, before.parts.as_slice())),
                    None => first,
                };
                check_transitions(&run.parts, upstream.is_some(), faults, |part| {
                    place(i, Some(part))
                });
                let law = Assembly {
                    bore: run.size,
                    wall: &run.wall,
                    parts: &run.parts,
                    upstream,
                    place: |part| place(i, part),
                    fitted: &in_curve,
                    factor: &|part| model.factors.factor(spot(i, Some(part))),
                }
                .fold(air, faults);
                let k = law.least_k2() / law.head;
                if k < 0.0 {
                    faults.push(ModelError::new(
                        place(i, None),
                        ModelFault::NegativeLoss { k },
                    ));
                }
                laws.push(law);
            }
            laws
        };
    let main = match topology.mains.as_slice() {
        [only] => system.sections.get(*only),
        _ => None,
    };
    let main = main.map(|section| (section.size, section.parts.as_slice()));
    let before = fold(&collector.before, main, |run, part| Spot::Before {
        run,
        part,
    });
    let outlet = collector.fan.as_ref().and_then(|fan| fan.outlet());
    let outlet = outlet.map(|bore| (bore, [].as_slice()));
    let after = fold(&collector.after, outlet, |run, part| Spot::After {
        run,
        part,
    });
    (before, after)
}

impl Collector {
    /// Whether the fan's curve contains the loss of such a part already.
    pub(crate) fn in_fan_curve(&self, part: &Part) -> bool {
        let fitted = self.fan.as_ref().map(|fan| fan.fitted());
        fitted.is_some_and(|fitted| match part {
            Part::Separator(_) => fitted.separator,
            Part::Filter(_) => fitted.filter,
            Part::Silencer(_) => fitted.silencer,
            _ => false,
        })
    }
}

/// A curve is judged for its shape when it is made, but not for its scale: there a unit was
/// mistaken, and numbers beyond these would overflow on the way to an answer.
pub(super) fn check_fan(model: Model<'_>, faults: &mut Vec<ModelError>) {
    let Some(fan) = &model.system.collector.fan else {
        return;
    };
    let peak = fan.peak().pressure.as_pa();
    let largest = fan.largest_flow().as_m3_s();
    let density = fan.density().as_kg_m3();
    let mut ranges = vec![
        LossError::within("largest pressure of the fan", peak, " Pa", 1.0, 1e5),
        LossError::within("largest flow of the fan", largest, " m3/s", 1e-6, 1e3),
        LossError::within("density of the fan curve", density, " kg/m3", 0.01, 100.0),
    ];
    // Faster than this the density would not hold, and the velocity pressure, which stands on the
    // fan's side, could drive any flow.
    let speed = |what, bore: Bore| {
        let m_s = largest / bore.area().as_m2();
        LossError::within(what, m_s, " m/s", 0.0, 200.0)
    };
    if let Some(outlet) = fan.outlet() {
        let sides = [
            "diameter of the fan outlet",
            "width of the fan outlet",
            "height of the fan outlet",
        ];
        let what = "air speed in the fan outlet at the largest flow";
        ranges.push(check_sides(outlet, sides).and_then(|()| speed(what, outlet)));
    }
    if let Basis::TestPipe { bore } = fan.basis() {
        let sides = [
            "diameter of the test pipe",
            "width of the test pipe",
            "height of the test pipe",
        ];
        let what = "air speed in the test pipe at the largest flow";
        ranges.push(check_sides(bore, sides).and_then(|()| speed(what, bore)));
    }
    ranges.push(model.factors.of_fan());
    let errors = ranges.into_iter().filter_map(Result::err);
    faults.extend(errors.map(|error| ModelError::new(Place::Fan, error)));
}

/// Judges the sides of a bore, calling diameter, width and height by these names.
fn check_sides(bore: Bore, [diameter, width, height]: [&'static str; 3]) -> Result<(), LossError> {
    bore.check().map_err(|error| LossError {
        what: match error.what {
            "diameter" => diameter,
            "width" => width,
            _ => height,
        },
        ..error
    })
}

/// What lies between the fan's basis and the open air, or which size is needed to tell.
pub(crate) fn balance_heads(
    system: &System,
    air: &AirProperties,
    after: &[ConduitLaw],
    faults: &mut Vec<ModelError>,
) -> HeadBalance {
    let density = air.density.as_kg_m3();
    let head = |bore: Bore| head_per_q2(density, bore.area().as_m2());
    let end = after.last().map(|law| law.head);
    let Some(fan) = system.collector.fan.as_ref() else {
        // Only the pressure asked of a fan is sought: its total pressure where the duct goes on
        // after it, else its static pressure, for which the exit head cancels.
        return HeadBalance {
            beyond_losses: end.unwrap_or(0.0),
            total_over_curve: end.map(|_| 0.0),
            static_over_curve: if end.is_none() { Some(0.0) } else { None },
            exit: end,
        };
    };
    let outlet = fan.outlet().map(head);
    let exit = end.or(outlet);
    let mut ask = |why| {
        faults.push(ModelError::new(Place::Fan, ModelFault::OutletSize { why }));
    };
    if fan.basis() == Basis::Total {
        if exit.is_none() {
            ask("the curve is of fan total pressure and nothing follows the fan");
        }
        return HeadBalance {
            beyond_losses: exit.unwrap_or(0.0),
            total_over_curve: Some(0.0),
            static_over_curve: outlet.map(|outlet| -outlet),
            exit,
        };
    }
    // A tap in a test pipe reads the suction that accelerated the air as well.
    let pipe = match fan.basis() {
        Basis::TestPipe { bore } => head(bore),
        _ => 0.0,
    };
    if end.is_some() && outlet.is_none() {
        ask("the curve is not of fan total pressure and duct follows the fan");
    }
    let exit_over_outlet = match (end, outlet) {
        (Some(end), Some(outlet)) => end - outlet,
        _ => 0.0,
    };
    HeadBalance {
        beyond_losses: exit_over_outlet + pipe,
        total_over_curve: outlet.map(|outlet| outlet - pipe),
        static_over_curve: Some(-pipe),
        exit,
    }
}
