//! The fan, and what must be known of its outlet.

use super::*;

#[test]
fn outlet_sizes() {
    let ask = |text: &str| {
        let error = fault(text, &Place::Fan);
        assert!(matches!(error.fault, ModelFault::OutletSize { .. }));
        error
    };
    let total = spoilt(SHOP, "basis = \"static\"", "basis = \"total\"");
    assert_snapshot!(ask(&total), @"fan: the curve is of fan total pressure and nothing follows the fan; give the size of the fan's `outlet`");
    let stack = "after = [{ size = { round = \"8 in\" }, parts = [{ duct = \"2 m\" }] }]\n\n[collector.fan]";
    assert_snapshot!(ask(&spoilt(SHOP, "[collector.fan]", stack)), @"fan: the curve is not of fan total pressure and duct follows the fan; give the size of the fan's `outlet`");
    // Each is cured by what the text says.
    for text in [total, spoilt(SHOP, "[collector.fan]", stack)] {
        let cured = spoilt(
            &text,
            "density = \"1.2 kg/m3\"",
            "density = \"1.2 kg/m3\"\noutlet = { round = \"8 in\" }",
        );
        assert!(toml::from_str::<Study>(&cured).is_ok());
    }
}

#[test]
fn no_fan() {
    let start = SHOP.find("[collector.fan]").unwrap();
    let end = SHOP.find("[[section]]").unwrap();
    let network = network(&format!("{}{}", &SHOP[..start], &SHOP[end..]));
    let open = network.open_all();
    let error = network.operating_point(&open).unwrap_err();
    assert_eq!(error, SolveError::NoFan);
    assert_snapshot!(error, @"the collector has no fan; give it one, or impose a flow");
    for flow in [0.0, -1.0, f64::NAN, f64::INFINITY] {
        let error = network
            .point_at_flow(&open, VolumeFlow::from_m3_s(flow))
            .unwrap_err();
        assert!(matches!(error, SolveError::ImposedFlow { .. }) && error.is_input());
    }
    assert_snapshot!(network.point_at_flow(&open, VolumeFlow::from_cfm(-400.0)).unwrap_err(), @"cannot impose a flow of -400 cfm; it must be above zero");
    let mut curve = network.system_curve(&open).unwrap();
    for pressure in [0.0, -1.0, f64::NAN, f64::INFINITY] {
        let error = curve.flow(Pressure::from_pa(pressure)).unwrap_err();
        assert!(matches!(error, SolveError::ImposedPressure { .. }));
    }
    let error = curve.flow(Pressure::from_in_wg(-4.0)).unwrap_err();
    assert_snapshot!(error, @"cannot impose a pressure of -4 in wg; it must be above zero");
    let point = network
        .point_at_flow(&open, VolumeFlow::from_m3_h(1500.0))
        .unwrap();
    assert_eq!(point.status, Status::FlowImposed);
}
