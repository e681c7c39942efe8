//! The shop that benches and the speed example solve.

use airsplit::{
    Air, Angle, Basis, Bore, Collector, Density, Elbow, Entry, FanCurve, Filter, Fitted, Hood,
    Length, Part, Pressure, RatedDrop, Run, Section, Separator, System, VolumeFlow, Wall,
};
use std::f64::consts::FRAC_PI_4;

/// A trunk with a side branch of two hoods every few metres; the trunk narrows upstream so that
/// the air keeps about 20 m/s.
pub(crate) fn shop(hoods: usize) -> System {
    let round = |d_m| Bore::Round(Length::from_m(d_m));
    let duct = |metres| Part::Duct(Length::from_m(metres));
    let per_hood_m3s = 0.1;
    let bore_for = |hoods: usize| round((hoods as f64 * per_hood_m3s / 20.0 / FRAC_PI_4).sqrt());
    let whole_m3s = hoods as f64 * per_hood_m3s;
    let points = [
        (0.0, 1.25),
        (0.25, 1.23),
        (0.5, 1.12),
        (0.75, 0.9),
        (1.0, 0.6),
        (1.3, 0.1),
    ];
    let scale = 2500.0 + 6.0 * hoods as f64;
    let fan = FanCurve::new(
        points.map(|(q, p)| {
            (
                VolumeFlow::from_m3_s(q * whole_m3s),
                Pressure::from_pa(p * scale),
            )
        }),
        Basis::Static,
        Fitted::NOTHING,
        Density::STANDARD_AIR,
    )
    .unwrap_or_else(|error| unreachable!("a falling curve: {error}"));
    let vessels = Run::new(bore_for(hoods), Wall::Galvanised)
        .with_part(Part::Separator(Separator::VelocityHeads(3.0)))
        .with_part(Part::Filter(Filter::Rated(RatedDrop {
            drop: Pressure::from_pa(250.0),
            at: VolumeFlow::from_m3_s(whole_m3s),
        })));
    let collector = Collector::new(fan).with_before(vessels);
    let mut system = System::new(Air::standard(), collector);
    let branches = hoods / 2;
    for branch in 0..branches {
        let upstream = hoods - 2 * branch;
        let trunk = Section::new(
            format!("trunk {branch}"),
            bore_for(upstream),
            Wall::Galvanised,
        )
        .with_part(duct(2.0 + (branch % 3) as f64));
        let side = Section::new(format!("side {branch}"), bore_for(2), Wall::Galvanised)
            .draining_into(format!("trunk {branch}"))
            .with_part(duct(1.0 + (branch % 4) as f64))
            .with_part(Part::Elbow(Elbow::K(0.3)));
        // The last trunk has the last branch alone.
        let side = if branch + 1 < branches {
            side.joining_at(Angle::from_deg(45.0))
        } else {
            side
        };
        let trunk = match branch {
            0 => trunk,
            _ => trunk.draining_into(format!("trunk {}", branch - 1)),
        };
        system = system.with_section(trunk).with_section(side);
        for hood in 0..2 {
            let id = format!("hood {branch} {hood}");
            let drop = Section::new(id.clone(), bore_for(1), Wall::Galvanised)
                .draining_into(format!("side {branch}"))
                .with_part(duct(1.5 + hood as f64))
                .with_hood(Hood::new(id, Entry::K(0.5 + 0.2 * (branch % 5) as f64)));
            system = system.with_section(if hood == 0 {
                drop
            } else {
                drop.joining_at(Angle::from_deg(45.0))
            });
        }
    }
    system
}
