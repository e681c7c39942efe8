//! Converging wyes against a handbook's tables and against measurements.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on must stop")]

use airsplit::{Angle, Area, Density, Inlet, Junction, VolumeFlow};
use serde_json::Value;

/// Coefficients of branch and straight inlet on the velocity pressure of the outlet.
fn coefficients(model: Junction, degrees: f64, area_ratio: f64, q: f64) -> [f64; 2] {
    let inlet = |share: f64, degrees| Inlet {
        area: Area::from_m2(0.02 * share),
        angle: Angle::from_deg(degrees),
        k: 0.0,
    };
    let flow = VolumeFlow::from_m3_s;
    let wye = [
        (inlet(area_ratio, degrees), flow(q)),
        (inlet(1.0, 0.0), flow(1.0 - q)),
    ];
    let density = Density::from_kg_m3(1.2);
    let head = 1.2 / (2.0 * 0.02 * 0.02);
    let losses = model.losses(density, Area::from_m2(0.02), &wye).unwrap();
    [0, 1].map(|i| losses.inlets[i].loss.as_pa() / head)
}

/// The handbook's tables, cell by cell, at the larger of 0.06 and 6 %; flagged cells are left out.
/// Its straight run at 90 degrees is a column of its own, 1.55 q - q^2, which Crane's form carries.
#[test]
fn val_handbook_tables() {
    let all: Value = serde_json::from_str(include_str!("../data/idelchik_wye.json")).unwrap();
    let mut seen = 0;
    for table in all["tables"].as_array().unwrap() {
        let degrees = table["angle_deg"].as_f64().unwrap();
        let which = usize::from(table["inlet"] == "straight");
        let model = if degrees == 90.0 && which == 1 {
            Junction::Crane
        } else {
            Junction::Momentum
        };
        let ratios = table["area_ratio"].as_array().unwrap();
        for row in table["rows"].as_array().unwrap() {
            let q = row[0].as_f64().unwrap();
            for (i, ratio) in ratios.iter().enumerate() {
                let Some(printed) = row[i + 1].as_f64() else {
                    continue;
                };
                let ratio = ratio.as_f64().unwrap();
                let ours = coefficients(model, degrees, ratio, q)[which];
                let off = (ours - printed).abs();
                assert!(
                    off <= 0.06_f64.max(0.06 * printed.abs()),
                    "{degrees} deg, area ratio {ratio}, q {q}: {ours:.3} against {printed}"
                );
                seen += 1;
            }
        }
    }
    assert_eq!(seen, 77 + 77 + 70 + 70 + 20 + 20 - 7);
}

/// Branch of a 45 degree wye of equal bores, as Bassett, Winterbone and Pearson measured it (Proc.
/// IMechE C 215 (2001) 861, Fig. 10a, digitised; as reproduced elsewhere), beside the models. The
/// docs of `Junction` print this table.
#[test]
fn val_models_beside_measurements() {
    let measured = [
        (0.0, -1.00),
        (0.2, -0.47),
        (0.4, -0.02),
        (0.5, 0.10),
        (0.6, 0.22),
        (0.8, 0.31),
        (1.0, 0.30),
    ];
    let printed = [
        [-0.92, -0.90, -1.00],
        [-0.41, -0.21, -0.30],
        [-0.03, 0.12, 0.21],
        [0.11, 0.22, 0.40],
        [0.22, 0.29, 0.53],
        [0.35, 0.36, 0.66],
        [0.35, 0.32, 0.59],
    ];
    let models = [Junction::Gardel, Junction::Crane, Junction::Momentum];
    let mut worst = [0.0_f64; 3];
    for ((q, measured), printed) in measured.into_iter().zip(printed) {
        for (i, model) in models.into_iter().enumerate() {
            let ours = coefficients(model, 45.0, 1.0, q)[0];
            assert!(
                (ours - printed[i]).abs() < 0.0055,
                "{model:?} at {q}: {ours}"
            );
            worst[i] = worst[i].max((ours - measured).abs());
        }
    }
    // What the docs say of each model's distance from these measurements.
    assert!(
        worst[0] < 0.09 && worst[1] < 0.26 && worst[2] < 0.36,
        "{worst:?}"
    );
}
