//! Solving, gradients, doubts and sweeps asked with odd numbers.

use super::*;

#[test]
fn prop_imposed_flows_are_split_or_refused() {
    let system = shop();
    let network = Network::new(&system).unwrap();
    let open = network.open_all();
    let mut split = 0;
    for odd in ODD {
        let flow = VolumeFlow::from_m3_s(odd);
        if let Some(point) = value(network.point_at_flow(&open, flow)) {
            split += 1;
            finite(point.fan.curve_pressure.as_pa());
            // Far beyond any duct the laws of junctions end.
            assert!(
                odd > 1000.0 || audit(&system, &point).unwrap().is_sound(1e-9),
                "{odd}"
            );
        }
        let mut curve = network.system_curve(&open).unwrap();
        value(curve.pressure(flow))
            .into_iter()
            .for_each(|p| finite(p.as_pa()));
        value(curve.slope(flow)).into_iter().for_each(finite);
        let pressure = Pressure::from_pa(odd);
        value(curve.flow(pressure))
            .into_iter()
            .for_each(|q| finite(q.as_m3_s()));
    }
    assert!(split > 2);
}

#[test]
fn prop_every_number_of_a_system_may_be_odd() {
    let system = shop();
    let network = Network::new(&system).unwrap();
    let settings = network.settings();
    assert!(settings.len() > 30);
    let mut accepted = 0;
    for setting in settings {
        for odd in ODD {
            let changed = Setting::new(setting.place.clone(), setting.parameter, odd);
            let Some(network) = value(Network::varied(&system, &[changed])) else {
                continue;
            };
            accepted += 1;
            if let Some(point) = value(network.operating_point(&network.open_all())) {
                finite(point.flow.as_m3_s());
                finite(point.fan.curve_pressure.as_pa());
            }
        }
    }
    assert!(accepted > 100, "{accepted}");
}

#[test]
fn prop_doubts_are_drawn_or_refused() {
    let network = Network::new(&shop()).unwrap();
    let open = network.open_all();
    let setting = network.settings().swap_remove(3);
    for odd in ODD {
        for spread in [Spread::Even, Spread::Scaled] {
            let doubt = Doubt::new(setting.place.clone(), setting.parameter, odd, "odd");
            let doubts = [doubt.spread(spread)];
            if let Some(point) = value(network.uncertainty(&open, &doubts)) {
                assert!(point.flow.standard >= 0.0);
            }
            let how = MonteCarlo::default().draws(3);
            if let Some(sampled) = value(network.monte_carlo(&open, &doubts, &how)) {
                assert!(sampled.values().count() > 2);
            }
        }
    }
    for draws in [0, 1] {
        let how = MonteCarlo::default().draws(draws);
        assert!(network.monte_carlo(&open, &[], &how).is_err());
    }
}

#[test]
fn prop_sweeps_list_as_many_as_there_are() {
    let network = Network::new(&shop()).unwrap();
    for odd in ODD {
        let options = SweepOptions::new(Velocity::from_m_s(odd)).listing(usize::MAX);
        let sets = network.open_sets().unwrap();
        if let Some(summary) = value(network.sweep(sets.take(20)).summary(&options)) {
            assert_eq!(summary.sets, 20);
        }
    }
    let options = SweepOptions::new(Velocity::from_m_s(20.0));
    let none = network
        .sweep(Vec::<OpenSet>::new())
        .summary(&options)
        .unwrap();
    assert_eq!((none.sets, none.flow), (0, None));
    for most in [0, 1, usize::MAX] {
        assert_eq!(network.open_sets_up_to(most).unwrap().len() == 0, most == 0);
    }
    let nothing = network.open(Vec::<&str>::new()).unwrap();
    assert_eq!(
        network.operating_point(&nothing).unwrap_err(),
        SolveError::NothingOpen
    );
    assert_eq!(
        network.crossings(&nothing).unwrap_err(),
        SolveError::NothingOpen
    );
}
