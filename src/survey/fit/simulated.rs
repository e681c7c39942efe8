//! Fits of simulated readings: intervals hold the truth, and wrong readings are found.

use super::{Fit, Fitting, OutlierTreatment, Reading, Unknown, fit, problems::Model};
use crate::solve::{Normal, Spread};

/// A shop that can be drawn at random.
struct Shop {
    kind: &'static str,
    x: Vec<Vec<f64>>,
    unknowns: Vec<Unknown>,
    /// Of each reading, where the unknowns are at their starts.
    standards: Vec<f64>,
}

fn unknowns(rows: &[(f64, f64, Spread)]) -> Vec<Unknown> {
    (rows.iter().enumerate())
        .map(|(k, &(start, standard, spread))| Unknown {
            name: format!("t{k}"),
            start,
            standard,
            spread,
        })
        .collect()
}

use Spread::{Even, Scaled};

/// Three unknowns and ten readings of random gradients, new at every call.
fn linear(random: &mut Normal) -> Shop {
    Shop {
        kind: "linear",
        x: (0..10)
            .map(|_| (0..3).map(|_| random.next()).collect())
            .collect(),
        unknowns: unknowns(&[(1.0, 1.0, Even), (-2.0, 3.0, Even), (0.0, 0.3, Even)]),
        standards: vec![0.3; 10],
    }
}

/// A fan and three branches read alone and together: twelve readings to 3 %.
fn duct() -> Shop {
    let x: [[f64; 4]; 12] = [
        [1.0, 0.0, 0.0, 0.0],
        [0.0, 1.0, 0.0, 1.0],
        [0.0, 0.0, 1.0, 2.0],
        [1.0, 1.0, 0.0, 0.0],
        [1.0, 1.0, 0.0, 1.0],
        [1.0, 0.0, 1.0, 2.0],
        [1.0, 1.0, 1.0, 0.0],
        [1.0, 1.0, 1.0, 1.0],
        [1.0, 1.0, 1.0, 2.0],
        [1.0, 0.0, 0.0, -2.0],
        [1.0, 1.0, 1.0, -2.0],
        [1.0, 1.0, 1.0, -1.0],
    ];
    let x: Vec<Vec<f64>> = x.into_iter().map(Vec::from).collect();
    let rows = [
        (1.0, 0.05, Scaled),
        (5.0e3, 0.2, Scaled),
        (1.8e4, 0.2, Scaled),
        (3.5e4, 0.2, Scaled),
        (1.5e4, 0.2, Scaled),
    ];
    let unknowns = unknowns(&rows);
    let starts: Vec<f64> = rows.iter().map(|row| row.0).collect();
    let standards = predicted("duct", &x, &starts);
    Shop {
        kind: "duct",
        standards: standards.into_iter().map(|y| 0.03 * y).collect(),
        x,
        unknowns,
    }
}

/// A power law of a pressure drop, ten readings.
fn power() -> Shop {
    Shop {
        kind: "power",
        x: (0..10).map(|i| vec![0.4 + 0.16 * f64::from(i)]).collect(),
        unknowns: unknowns(&[(100.0, 0.2, Scaled), (1.9, 0.1, Even), (10.0, 10.0, Even)]),
        standards: vec![5.0; 10],
    }
}

fn draw(name: &str, random: &mut Normal) -> Shop {
    match name {
        "linear" => linear(random),
        "power" => power(),
        _ => duct(),
    }
}

fn predicted(kind: &str, x: &[Vec<f64>], theta: &[f64]) -> Vec<f64> {
    use super::Predict;
    let mut values = vec![0.0; x.len()];
    let mut jacobian = vec![0.0; x.len() * theta.len()];
    Model { kind, x }
        .predict(theta, &mut values, &mut jacobian)
        .unwrap();
    values
}

impl Shop {
    /// The truth, drawn from the priors.
    fn truth(&self, random: &mut Normal) -> Vec<f64> {
        let at = |unknown: &Unknown| match unknown.spread {
            Even => unknown.start + unknown.standard * random.next(),
            _ => unknown.start * (unknown.standard * random.next()).exp(),
        };
        self.unknowns.iter().map(at).collect()
    }

    /// Readings of it, some wrong by so many standard uncertainties more.
    fn read(&self, truth: &[f64], random: &mut Normal, wrong: &[(usize, f64)]) -> Vec<Reading> {
        let values = predicted(self.kind, &self.x, truth);
        (values.iter().zip(&self.standards).enumerate())
            .map(|(i, (value, &standard))| {
                let more = wrong.iter().find(|(at, _)| *at == i).map_or(0.0, |at| at.1);
                Reading {
                    name: format!("y{i}"),
                    value: value + standard * (random.next() + more),
                    standard,
                }
            })
            .collect()
    }

    fn fit(&self, readings: &[Reading], treatment: OutlierTreatment) -> Fit {
        let (kind, x) = (self.kind, &self.x[..]);
        let how = Fitting::default().treatment(treatment);
        fit(&self.unknowns, readings, &mut Model { kind, x }, &how).unwrap()
    }
}

#[test]
fn prop_intervals_hold_the_truth_19_times_in_20() {
    let mut random = Normal::new(20);
    for name in SHOPS {
        let (mut held, mut count) = (0, 0);
        let (mut reduced, mut in_band, mut squares, mut cost) = (0.0, 0, 0.0, 0);
        let draws = 2000;
        for _ in 0..draws {
            let shop = draw(name, &mut random);
            let truth = shop.truth(&mut random);
            let got = shop.fit(&shop.read(&truth, &mut random, &[]), OutlierTreatment::All);
            cost += got.evaluations;
            for (estimate, truth) in got.unknowns.iter().zip(&truth) {
                count += 1;
                held += usize::from(estimate.low <= *truth && *truth <= estimate.high);
            }
            let value = got.reduced_chi_square().unwrap();
            let (low, high) = got.band_of_reduced_chi_square().unwrap();
            reduced += value / f64::from(draws);
            in_band += usize::from(low <= value && value <= high);
            let standardised = got
                .readings
                .iter()
                .map(|at| at.standardised.unwrap().powi(2));
            squares += standardised.sum::<f64>() / got.readings.len() as f64 / f64::from(draws);
        }
        let share = f64::from(held as u32) / f64::from(count as u32);
        let in_band = f64::from(in_band as u32) / f64::from(draws);
        println!(
            "{name}: {:.2} % of {count} hold the truth; reduced chi-square {reduced:.3}, in its band \
             {:.1} %; mean square of standardised residuals {squares:.3}; {} evaluations a fit",
            100.0 * share,
            100.0 * in_band,
            cost / draws as usize
        );
        assert!((0.94..=0.96).contains(&share), "{name}: {share}");
        assert!((reduced - 1.0).abs() < 0.05, "{name}: {reduced}");
        assert!((0.93..=0.97).contains(&in_band), "{name}: {in_band}");
        assert!((squares - 1.0).abs() < 0.05, "{name}: {squares}");
    }
}

/// What became of draws with so many wrong readings.
#[derive(Default, Debug)]
struct Rates {
    draws: u32,
    /// Exactly the wrong ones were named.
    right: u32,
    /// The wrong ones and others.
    more: u32,
    /// Not all wrong ones.
    missed: u32,
}

impl Rates {
    fn share(&self, count: u32) -> f64 {
        f64::from(count) / f64::from(self.draws)
    }
}

/// Draws with readings that are wrong by a size between these, in standard uncertainties, either
/// way. All uncertainties are said to be smaller than they are by the factor `understated`.
fn rates(name: &str, draws: u32, wrong_count: usize, sizes: (f64, f64), understated: f64) -> Rates {
    let mut random = Normal::new(7);
    let mut rates = Rates::default();
    for _ in 0..draws {
        let shop = draw(name, &mut random);
        let truth = shop.truth(&mut random);
        let mut wrong: Vec<(usize, f64)> = Vec::new();
        while wrong.len() < wrong_count {
            let i = (random.even() * shop.x.len() as f64) as usize;
            let size = sizes.0 + (sizes.1 - sizes.0) * random.even();
            let sign = if random.even() < 0.5 { -1.0 } else { 1.0 };
            if wrong.iter().all(|at| at.0 != i) {
                wrong.push((i, sign * size));
            }
        }
        let mut readings = shop.read(&truth, &mut random, &wrong);
        for reading in &mut readings {
            reading.standard /= understated;
        }
        let got = shop.fit(&readings, OutlierTreatment::All);
        let found = wrong.iter().filter(|at| got.readings[at.0].outlier).count();
        rates.draws += 1;
        if found < wrong.len() {
            rates.missed += 1;
        } else if got.outliers().count() > found {
            rates.more += 1;
        } else {
            rates.right += 1;
        }
    }
    println!("{name}, {wrong_count} wrong by {sizes:?}, understated {understated}: {rates:?}");
    rates
}

const SHOPS: [&str; 3] = ["linear", "power", "duct"];

#[test]
fn prop_one_wrong_reading_is_named() {
    for name in SHOPS {
        for sizes in [(8.0, 8.0), (8.0, 30.0)] {
            let rates = rates(name, 300, 1, sizes, 1.0);
            assert!(rates.share(rates.right) > 0.95, "{name}: {rates:?}");
        }
    }
}

#[test]
fn prop_wrong_readings_do_not_hide_each_other() {
    for name in SHOPS {
        for (count, least) in [(2, 0.96), (3, 0.94)] {
            let rates = rates(name, 300, count, (8.0, 30.0), 1.0);
            assert!(rates.share(rates.right) > least, "{name}: {rates:?}");
        }
    }
}

#[test]
fn prop_honest_readings_are_rarely_named() {
    for name in SHOPS {
        let rates = rates(name, 1000, 0, (0.0, 0.0), 1.0);
        assert!(rates.share(rates.more) < 0.02, "{name}: {rates:?}");
    }
}

/// A known weakness, told in the doc: it must not get worse unseen.
#[test]
fn regress_honest_readings_of_understated_uncertainty() {
    for name in SHOPS {
        let rates = rates(name, 200, 0, (0.0, 0.0), 2.0);
        assert!(rates.share(rates.more) < 0.5, "{name}: {rates:?}");
    }
}
