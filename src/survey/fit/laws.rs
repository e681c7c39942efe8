//! Laws that every fit keeps, and its errors.

use super::{
    Candidate, Fit, FitError, Fitting, NextError, OutlierTreatment, Reading, Unknown, Weighting,
    fit, problems::Model,
};
use crate::solve::Spread;
use nalgebra::{DMatrix, DVector};
use proptest::prelude::*;

/// Readings that are straight in the unknowns.
#[derive(Debug, Clone)]
struct Linear {
    x: Vec<Vec<f64>>,
    y: Vec<f64>,
    s: Vec<f64>,
    start: Vec<f64>,
    sigma: Vec<f64>,
}

fn unknown(name: &str, start: f64, standard: f64) -> Unknown {
    Unknown {
        name: name.into(),
        start,
        standard,
        spread: Spread::Even,
    }
}

fn reading(name: &str, value: f64, standard: f64) -> Reading {
    Reading {
        name: name.into(),
        value,
        standard,
    }
}

impl Linear {
    fn fit(&self) -> Fit {
        self.fit_as(OutlierTreatment::All)
    }

    fn fit_as(&self, treatment: OutlierTreatment) -> Fit {
        let start = self.start.iter().zip(&self.sigma).enumerate();
        let unknowns: Vec<_> = start
            .map(|(k, (&start, &sigma))| unknown(&format!("t{k}"), start, sigma))
            .collect();
        let rows = self.y.iter().zip(&self.s).enumerate();
        let readings: Vec<_> = rows
            .map(|(i, (&y, &s))| reading(&format!("y{i}"), y, s))
            .collect();
        let mut model = Model {
            kind: "linear",
            x: &self.x,
        };
        let how = Fitting::default().treatment(treatment);
        fit(&unknowns, &readings, &mut model, &how).unwrap()
    }

    fn without(&self, i: usize) -> Self {
        let mut rest = self.clone();
        rest.x.remove(i);
        rest.y.remove(i);
        rest.s.remove(i);
        rest
    }

    /// Readings of a truth half a prior uncertainty above the start: off by up to 1.5 uncertainties, but
    /// for one.
    fn plausible(mut self, wrong: usize) -> Self {
        let wrong = wrong % self.y.len();
        let truth = self
            .start
            .iter()
            .zip(&self.sigma)
            .map(|(start, sigma)| start + 0.5 * sigma);
        let truth: Vec<f64> = truth.collect();
        for (i, y) in self.y.iter_mut().enumerate() {
            let at: f64 = self.x[i].iter().zip(&truth).map(|(x, t)| x * t).sum();
            let off = if i == wrong { 20.0 } else { 0.5 * *y };
            *y = at + self.s[i] * off;
        }
        self
    }

    /// (X' S^-2 X + P^-2)^-1 and the estimate, by the normal equations.
    fn closed_form(&self) -> (DMatrix<f64>, DVector<f64>) {
        let (m, n) = (self.y.len(), self.start.len());
        let x = DMatrix::from_fn(m, n, |i, k| self.x[i][k]);
        let inverse = |squares: &[f64]| {
            DMatrix::from_diagonal(&DVector::from_iterator(
                squares.len(),
                squares.iter().map(|s| s.powi(-2)),
            ))
        };
        let (w, p) = (inverse(&self.s), inverse(&self.sigma));
        let start = DVector::from_column_slice(&self.start);
        let y = DVector::from_column_slice(&self.y);
        let covariance = (x.transpose() * &w * &x + &p).cholesky().unwrap().inverse();
        let estimate = &covariance * (x.transpose() * w * y + p * start);
        (covariance, estimate)
    }
}

fn linear() -> impl Strategy<Value = Linear> {
    (1_usize..6, 2_usize..10).prop_flat_map(|(n, m)| {
        let numbers = |count| prop::collection::vec(-3.0..3.0, count);
        let sizes = |count| prop::collection::vec(0.05..2.0, count);
        (
            prop::collection::vec(numbers(n), m),
            numbers(m),
            sizes(m),
            numbers(n),
            sizes(n),
        )
            .prop_map(|(x, y, s, start, sigma)| Linear {
                x,
                y,
                s,
                start,
                sigma,
            })
    })
}

/// How far two numbers are apart, of a size that is given.
fn near(one: f64, other: f64, size: f64) -> bool {
    (one - other).abs() <= 1e-9 * size.abs()
}

proptest! {
    /// Straight readings of normal error and normal priors: the posterior is known in closed form.
    #[test]
    fn prop_straight_readings_give_the_closed_form(problem in linear()) {
        let got = problem.fit();
        let (covariance, estimate) = problem.closed_form();
        let mut told = 0.0;
        for (k, at) in got.unknowns.iter().enumerate() {
            let standard = covariance[(k, k)].sqrt();
            prop_assert!(near(at.value, estimate[k], at.value.abs() + standard));
            prop_assert!(near(at.standard, standard, standard));
            told += 1.0 - covariance[(k, k)] / problem.sigma[k].powi(2);
            for j in 0..got.unknowns.len() {
                let size = (covariance[(k, k)] * covariance[(j, j)]).sqrt();
                let own = got.posterior.covariance(k, j).unwrap();
                prop_assert!(near(own, covariance[(k, j)], size));
                let correlation = got.posterior.correlation(k, j).unwrap();
                prop_assert!(near(correlation, covariance[(k, j)] / size, 1.0));
            }
        }
        prop_assert!(near(got.told, told, 1.0 + told));
        // The hat matrix in full.
        let mut trace = 0.0;
        for (i, at) in got.readings.iter().enumerate() {
            let row = DVector::from_column_slice(&problem.x[i]);
            let variance = row.dot(&(&covariance * &row));
            trace += variance / problem.s[i].powi(2);
            prop_assert!(near(at.predicted_standard, variance.sqrt(), variance.sqrt()));
            prop_assert!(near(got.posterior.variance_of(&problem.x[i]).unwrap(), variance, variance));
        }
        prop_assert!(near(got.told, trace, 1.0 + trace));
        let degrees = problem.y.len() as f64 - trace;
        prop_assert!(near(got.degrees_of_freedom, degrees, problem.y.len() as f64));
    }

    /// What is said of a reading by formula is what a fit without it says.
    #[test]
    fn prop_a_reading_against_all_others(problem in linear()) {
        let got = problem.fit();
        for (i, at) in got.readings.iter().enumerate() {
            let rest = problem.without(i).fit();
            let row = &problem.x[i];
            let predicted: f64 = row.iter().zip(&rest.unknowns).map(|(x, t)| x * t.value).sum();
            let variance = rest.posterior.variance_of(row).unwrap() + problem.s[i].powi(2);
            let apart = (predicted - problem.y[i]) / variance.sqrt();
            prop_assert!(near(at.standardised.unwrap(), apart, 1.0 + apart.abs()));
            let checked = problem.s[i].powi(2) / variance;
            prop_assert!(near(at.checked, checked, 1.0));
        }
    }

    /// The unit of a reading does not matter, nor that of an unknown.
    #[test]
    fn prop_units_do_not_matter(problem in linear(), unit in 1e-6..1e6, other in 1e-6..1e6) {
        let got = problem.fit();
        let mut scaled = problem.clone();
        scaled.y[0] *= unit;
        scaled.s[0] *= unit;
        scaled.x[0].iter_mut().for_each(|x| *x *= unit);
        scaled.start[0] *= other;
        scaled.sigma[0] *= other;
        scaled.x.iter_mut().for_each(|row| row[0] /= other);
        let scaled = scaled.fit();
        for (k, (a, b)) in got.unknowns.iter().zip(&scaled.unknowns).enumerate() {
            let unit = if k == 0 { other } else { 1.0 };
            prop_assert!(near(a.value * unit, b.value, b.value.abs() + b.standard));
            prop_assert!(near(a.standard * unit, b.standard, b.standard));
            prop_assert!(near(a.told, b.told, 1.0));
        }
        prop_assert!(near(got.chi_square, scaled.chi_square, 1.0 + got.chi_square));
        for (a, b) in got.readings.iter().zip(&scaled.readings) {
            prop_assert!(near(a.residual, b.residual, 1.0 + a.residual.abs()));
            prop_assert_eq!(a.outlier, b.outlier);
        }
    }

    /// Nor does the order of readings and unknowns; whatever wrong readings may do, of which there is
    /// one. (Readings that contradict each other altogether have several least misfits.)
    #[test]
    fn prop_order_does_not_matter(problem in linear(), which in 0_usize..4, wrong in 0_usize..9) {
        let problem = problem.plausible(wrong);
        let treatment = [
            OutlierTreatment::All,
            OutlierTreatment::WithoutOutliers,
            OutlierTreatment::Weighted(Weighting::Huber),
            OutlierTreatment::Weighted(Weighting::Biweight),
        ][which];
        let got = problem.fit_as(treatment);
        let mut turned = problem.clone();
        turned.x.reverse();
        turned.x.iter_mut().for_each(|row| row.reverse());
        for list in [&mut turned.y, &mut turned.s, &mut turned.start, &mut turned.sigma] {
            list.reverse();
        }
        let turned = turned.fit_as(treatment);
        for (a, b) in got.unknowns.iter().zip(turned.unknowns.iter().rev()) {
            prop_assert!((a.value - b.value).abs() <= 1e-6 * a.standard, "{:?} {:?}", a, b);
            prop_assert!((a.standard / b.standard - 1.0).abs() <= 1e-6);
        }
        for (a, b) in got.readings.iter().zip(turned.readings.iter().rev()) {
            prop_assert_eq!(a.outlier, b.outlier);
            prop_assert!((a.weight - b.weight).abs() <= 1e-6);
        }
        prop_assert_eq!(got.pairs.len(), turned.pairs.len());
        prop_assert_eq!(got.directions.len(), turned.directions.len());
        // Twice the same is the same to the last bit.
        prop_assert_eq!(got, problem.fit_as(treatment));
    }

    /// One more reading never makes an unknown less certain, and does what was said it would do.
    #[test]
    fn prop_one_more_reading_does_what_was_said(problem in linear()) {
        let last = problem.y.len() - 1;
        let before = problem.without(last).fit();
        let after = problem.fit();
        let candidate = Candidate {
            gradient: problem.x[last].clone(),
            standard: problem.s[last],
        };
        let unit = |k: usize| (0..problem.start.len()).map(|i| f64::from(u8::from(i == k))).collect();
        let wanted: Vec<Vec<f64>> = (0..problem.start.len()).map(unit).collect();
        let ranked = before.posterior.rank_next(std::slice::from_ref(&candidate), &wanted).unwrap();
        let with = before.posterior.with(&candidate.gradient, candidate.standard).unwrap();
        let mut reduction = 0.0;
        for (k, (old, new)) in before.unknowns.iter().zip(&after.unknowns).enumerate() {
            prop_assert!(new.standard <= old.standard * (1.0 + 1e-12));
            prop_assert!(near(ranked[0].standards[k], new.standard, new.standard));
            prop_assert!(near(with.covariance(k, k).unwrap().sqrt(), new.standard, new.standard));
            reduction += 1.0 - (new.standard / old.standard).powi(2);
        }
        reduction /= wanted.len() as f64;
        prop_assert!(near(ranked[0].reduction, reduction, 1.0));
    }

    /// Whatever is put in, no panic; and no answer that is no number.
    #[test]
    fn prop_any_numbers_give_an_answer_or_an_error(
        numbers in prop::collection::vec(any::<f64>(), 24),
        sane in prop::collection::vec(any::<bool>(), 24),
        scaled in any::<bool>(),
    ) {
        let at = |i: usize| if sane[i] { (i as f64 - 8.0) / 7.0 } else { numbers[i] };
        let size = |i: usize| if sane[i] { 0.3 } else { numbers[i].abs() };
        let mut unknowns = vec![unknown("a", at(0), size(1)), unknown("b", at(2), size(3))];
        if scaled {
            unknowns[0].spread = Spread::Scaled;
            unknowns[0].start = size(0);
        }
        let readings: Vec<_> = (0..4).map(|i| reading(&format!("{i}"), at(4 + i), size(8 + i))).collect();
        let mut predict = |t: &[f64], values: &mut [f64], jacobian: &mut [f64]| {
            for i in 0..4 {
                let (c, d) = (at(12 + i), at(16 + i));
                values[i] = c * t[0] + d * t[0] * t[1] + at(20);
                jacobian[2 * i] = c + d * t[1];
                jacobian[2 * i + 1] = d * t[0];
            }
            if t[1] > at(21) && sane[22] { Err("beyond") } else { Ok(()) }
        };
        for treatment in [OutlierTreatment::All, OutlierTreatment::Weighted(Weighting::Biweight)] {
            let how = Fitting::default().treatment(treatment);
            match fit(&unknowns, &readings, &mut predict, &how) {
                Ok(got) => {
                    for at in &got.unknowns {
                        prop_assert!(at.value.is_finite() && at.standard >= 0.0, "{:?}", at);
                        prop_assert!((0.0..=1.0).contains(&at.told));
                    }
                    prop_assert!(got.chi_square.is_finite());
                    prop_assert!(got.told <= 2.0 && got.degrees_of_freedom >= 0.0);
                    let texts: Vec<String> = got.directions.iter().map(ToString::to_string).collect();
                    prop_assert_eq!(texts.len(), got.directions.len());
                }
                Err(error) => prop_assert!(!error.to_string().is_empty()),
            }
        }
    }
}

fn refused(unknowns: &[Unknown], readings: &[Reading]) -> String {
    let mut model = Model {
        kind: "linear",
        x: &[vec![1.0, 1.0], vec![1.0, 2.0]],
    };
    let error = fit(unknowns, readings, &mut model, &Fitting::default()).unwrap_err();
    assert!(error.is_input());
    error.to_string()
}

#[test]
fn bad_input_is_named() {
    let (a, b) = (unknown("a", 1.0, 1.0), unknown("b", 1.0, 1.0));
    let (y, z) = (reading("y", 1.0, 1.0), reading("z", 1.0, 1.0));
    let (two, pair) = ([a.clone(), b.clone()], [y.clone(), z.clone()]);
    assert_eq!(
        refused(&[], &pair),
        "nothing to fit: there is no unknown; name at least one"
    );
    assert_eq!(
        refused(&two, &[]),
        "nothing to fit to: there is no reading; give at least one"
    );
    assert_eq!(
        refused(&[a.clone(), a.clone()], &pair),
        "two unknowns are called \"a\"; each needs a name of its own"
    );
    assert_eq!(
        refused(&two, &[y.clone(), y.clone()]),
        "two readings are called \"y\"; each needs a name of its own"
    );
    for standard in [0.0, -1.0, f64::NAN, f64::INFINITY] {
        let text = refused(&two, &[y.clone(), reading("z", 1.0, standard)]);
        let expected = format!(
            "reading \"z\": its standard uncertainty is {standard} in its own unit; it must be above 0, and finite"
        );
        assert_eq!(text, expected);
        let text = refused(&[a.clone(), unknown("b", 1.0, standard)], &pair);
        assert!(
            text.starts_with("unknown \"b\": its standard uncertainty is"),
            "{text}"
        );
    }
    assert_eq!(
        refused(&two, &[y.clone(), reading("z", f64::NAN, 1.0)]),
        "reading \"z\": its value is NaN in its own unit; it must be finite"
    );
    let scaled = Unknown {
        spread: Spread::Scaled,
        ..unknown("b", 0.0, 1.0)
    };
    assert_eq!(
        refused(&[a.clone(), scaled], &pair),
        "unknown \"b\": its start is 0 in its own unit; it must be above 0, and finite"
    );
    let far = [y, reading("z", 1e300, 1e-100)];
    assert!(refused(&two, &far).starts_with("reading \"z\": with every unknown at its start"));
}

/// A root that is predicted only for unknowns above 0: sqrt(t) = y.
fn root(t: &[f64], values: &mut [f64], jacobian: &mut [f64]) -> Result<(), &'static str> {
    if t[0] <= 0.0 {
        return Err("below 0");
    }
    values[0] = t[0].sqrt();
    jacobian[0] = 0.5 / t[0].sqrt();
    Ok(())
}

#[test]
fn a_failing_prediction_is_gone_around() {
    // The first step from 100, (0.5 - 10) / 0.05, leads to -90.
    let unknowns = [unknown("t", 100.0, 1e4)];
    let readings = [reading("y", 0.5, 1e-3)];
    let got = fit(&unknowns, &readings, &mut root, &Fitting::default()).unwrap();
    assert!(got.failed > 0);
    assert!((got.unknowns[0].value - 0.25).abs() < 1e-6);
}

#[test]
fn predictions_that_fail_all_along_the_way_stop_the_search() {
    // The least misfit lies beyond the edge.
    let unknowns = [unknown("t", 4.0, 1e4)];
    let readings = [reading("y", -1.0, 1e-3)];
    let error = fit(&unknowns, &readings, &mut root, &Fitting::default()).unwrap_err();
    assert!(
        matches!(
            error,
            FitError::Blocked {
                error: Some("below 0"),
                ..
            }
        ),
        "{error}"
    );
    assert!(!error.is_input());
    let error = fit(
        &[unknown("t", -1.0, 1.0)],
        &readings,
        &mut root,
        &Fitting::default(),
    );
    assert_eq!(error, Err(FitError::Start { error: "below 0" }));
}

#[test]
fn too_little_patience_is_told() {
    let unknowns = [unknown("t", 1e4, 1e4)];
    let readings = [reading("y", 0.5, 1e-3)];
    let how = Fitting {
        patience: 1,
        ..Fitting::default()
    };
    let mut square = |t: &[f64], values: &mut [f64], jacobian: &mut [f64]| {
        values[0] = t[0] * t[0];
        jacobian[0] = 2.0 * t[0];
        Ok::<(), String>(())
    };
    let error = fit(&unknowns, &readings, &mut square, &how).unwrap_err();
    assert!(
        error
            .to_string()
            .starts_with("no convergence: the limit of evaluations"),
        "{error}"
    );
}

#[test]
fn what_no_reading_tells_stays_as_it_was() {
    let problem = Linear {
        x: vec![vec![1.0, 0.0], vec![1.0, 0.0], vec![2.0, 0.0]],
        y: vec![1.0, 1.1, 2.1],
        s: vec![0.1; 3],
        start: vec![0.0, 5.0],
        sigma: vec![10.0, 2.0],
    };
    let got = problem.fit();
    let [told, untold] = &got.unknowns[..] else {
        panic!("two unknowns")
    };
    assert!(told.told > 0.99);
    assert_eq!(
        (untold.value, untold.standard, untold.told),
        (5.0, 2.0, 0.0)
    );
    assert!(got.pairs.is_empty() && got.directions.is_empty());
    let names: Vec<&str> = got.untold().map(|at| at.name.as_str()).collect();
    assert_eq!(names, ["t1"]);
}

#[test]
fn a_lone_reading_is_checked_by_the_prior_alone() {
    let lone = |sigma: f64| Linear {
        x: vec![vec![1.0]],
        y: vec![3.0],
        s: vec![1.0],
        start: vec![0.0],
        sigma: vec![sigma],
    };
    let got = lone(1.0).fit();
    assert!((got.readings[0].checked - 0.5).abs() < 1e-12);
    assert!((got.readings[0].standardised.unwrap() + 3.0 / 2_f64.sqrt()).abs() < 1e-12);
    // Nothing was known: whatever it reads is believed.
    let got = lone(1e6).fit();
    assert_eq!(got.readings[0].standardised, None);
    assert!(got.readings[0].checked < 1e-11);
    assert_eq!(got.reduced_chi_square(), None);
}

#[test]
fn two_that_only_their_product_tells_are_named() {
    let scaled = |name: &str, start| Unknown {
        name: name.into(),
        start,
        standard: 0.5,
        spread: Spread::Scaled,
    };
    let unknowns = [
        scaled("fan", 2.0),
        unknown("level", 0.0, 3.0),
        scaled("leak", 1.0),
    ];
    let x: Vec<Vec<f64>> = (1..8).map(|i| vec![f64::from(i)]).collect();
    let readings: Vec<_> = (1..8)
        .map(|i| reading(&format!("{i}"), 3.0 * f64::from(i) + 1.0, 0.05))
        .collect();
    // fan x leak x place + level: "product" with its last two unknowns changed.
    let mut predict = |t: &[f64], values: &mut [f64], jacobian: &mut [f64]| {
        for (i, x) in x.iter().enumerate() {
            values[i] = t[0] * t[2] * x[0] + t[1];
            jacobian[3 * i..3 * i + 3].copy_from_slice(&[t[2] * x[0], 1.0, t[0] * x[0]]);
        }
        Ok::<(), String>(())
    };
    let got = fit(&unknowns, &readings, &mut predict, &Fitting::default()).unwrap();
    assert_eq!(got.pairs.len(), 1);
    assert_eq!(got.pairs[0].unknowns, [0, 2]);
    assert!(got.pairs[0].correlation < -0.99);
    let [direction] = &got.directions[..] else {
        panic!("{:?}", got.directions)
    };
    assert_eq!(
        direction.to_string(),
        "raising \"fan\" while lowering \"leak\" moves no reading noticeably"
    );
    // As much up as down in logarithms, and all of the prior variance left.
    assert!((direction.changes[0].by - 0.5_f64.sqrt()).abs() < 1e-3);
    assert!((direction.left - 1.0).abs() < 1e-3);
    // What they do together is told: the readings say 3.
    let [fan, level, leak] = &got.unknowns[..] else {
        panic!("three unknowns")
    };
    assert!((fan.value * leak.value - 3.0).abs() < 0.02 && (level.value - 1.0).abs() < 0.1);
    assert!(fan.low > 0.0 && fan.low < fan.value && fan.value < fan.high);
    assert!(fan.told < 0.6);
    let product = [leak.value, 0.0, fan.value];
    assert!(got.posterior.variance_of(&product).unwrap().sqrt() < 0.02);
}

#[test]
fn three_that_only_their_sum_tells_make_two_directions_of_two() {
    // And one that no reading tells, which must not be mixed in.
    let problem = Linear {
        x: vec![vec![1.0, 0.0, 1.0, 1.0]; 5],
        y: vec![3.0; 5],
        s: vec![0.1; 5],
        start: vec![1.0; 4],
        sigma: vec![1.0; 4],
    };
    let got = problem.fit();
    assert_eq!(got.directions.len(), 2);
    for direction in &got.directions {
        let names: Vec<&str> = direction
            .changes
            .iter()
            .map(|at| at.name.as_str())
            .collect();
        assert_eq!(names.len(), 2, "{direction}");
        assert!(!names.contains(&"t1"));
        let by: Vec<f64> = direction.changes.iter().map(|at| at.by).collect();
        assert!((by[0] + by[1]).abs() < 1e-9, "{by:?}");
    }
    assert!((got.told - 1.0).abs() < 0.01);
}

#[test]
fn the_next_reading_is_the_one_that_tells_the_wanted_number() {
    let problem = Linear {
        x: vec![vec![1.0, 1.0, 0.0]; 3],
        y: vec![2.0; 3],
        s: vec![0.1; 3],
        start: vec![1.0; 3],
        sigma: vec![1.0; 3],
    };
    let got = problem.fit();
    let candidate = |gradient: [f64; 3], standard| Candidate {
        gradient: gradient.to_vec(),
        standard,
    };
    // The sum again, far sharper; the third alone; the difference of the first two.
    let candidates = [
        candidate([1.0, 1.0, 0.0], 1e-3),
        candidate([0.0, 0.0, 1.0], 0.1),
        candidate([1.0, -1.0, 0.0], 0.5),
    ];
    let first = [vec![1.0, 0.0, 0.0]];
    let ranked = got.posterior.rank_next(&candidates, &first).unwrap();
    let order: Vec<usize> = ranked.iter().map(|at| at.candidate).collect();
    assert_eq!(order, [2, 0, 1]);
    assert!(ranked[0].reduction > 0.8 && ranked[1].reduction < 0.01);
    assert_eq!(ranked[2].reduction, 0.0);
    // A reading that is nearly exact leaves what it cannot tell, and no less than nothing.
    let sharp = [candidate([1.0, 0.0, 0.0], 1e-200)];
    let ranked = got.posterior.rank_next(&sharp, &first).unwrap();
    assert!((ranked[0].standards[0] / 1e-200 - 1.0).abs() < 1e-9 || ranked[0].standards[0] < 1e-7);

    let rank = |candidate, wanted: &[Vec<f64>]| got.posterior.rank_next(&[candidate], wanted);
    let short = Candidate {
        gradient: vec![1.0],
        standard: 1.0,
    };
    assert_eq!(
        rank(short, &first).unwrap_err().to_string(),
        "candidate 1: its gradient must be 3 finite numbers, one for each unknown"
    );
    assert_eq!(
        rank(candidate([0.0; 3], 0.0), &first)
            .unwrap_err()
            .to_string(),
        "candidate 1: its standard uncertainty is 0 in its own unit; it must be above 0, and finite"
    );
    let nan = || vec![f64::NAN; 3];
    assert!(matches!(
        rank(candidate([0.0; 3], 1.0), &[nan()]),
        Err(NextError::Gradient {
            what: "wanted number",
            ..
        })
    ));
    assert_eq!(
        rank(candidate([0.0; 3], 1.0), &[]),
        Err(NextError::NothingWanted)
    );
    assert_eq!(got.posterior.variance_of(&nan()), None);
    assert_eq!(got.posterior.variance_of(&[1.0]), None);
    assert_eq!(got.posterior.covariance(0, 3), None);
    assert_eq!(got.posterior.correlation(3, 0), None);
    assert_eq!(got.posterior.with(&first[0], 0.0), None);
    let (one, other) = (vec![1.0, 0.0, 0.0], vec![0.0, 1.0, 0.0]);
    let covariance = got.posterior.covariance_of(&one, &other).unwrap();
    assert!(near(
        covariance,
        got.posterior.covariance(0, 1).unwrap(),
        1.0
    ));
}

#[test]
fn a_wrong_reading_is_named_and_does_not_pull() {
    // A straight line through ten readings, the seventh 12 uncertainties too high.
    let mut problem = Linear {
        x: (0..10).map(|i| vec![1.0, f64::from(i)]).collect(),
        y: (0..10).map(|i| 2.0 + 0.5 * f64::from(i)).collect(),
        s: vec![0.1; 10],
        start: vec![0.0, 0.0],
        sigma: vec![10.0, 10.0],
    };
    let true_fit = problem.without(6).fit();
    problem.y[6] += 1.2;
    let all = problem.fit();
    let named: Vec<&str> = all.outliers().map(|at| at.name.as_str()).collect();
    assert_eq!(named, ["y6"]);
    // Less than the 12, for the others' prediction is uncertain too.
    let apart = all.readings[6].apart.unwrap();
    assert!((-12.0..-10.0).contains(&apart), "{apart}");
    assert!(all.reduced_chi_square().unwrap() > all.band_of_reduced_chi_square().unwrap().1);

    let left_out = problem.fit_as(OutlierTreatment::WithoutOutliers);
    assert_eq!(left_out.readings[6].weight, 0.0);
    assert!((left_out.degrees_of_freedom - true_fit.degrees_of_freedom).abs() < 1e-9);
    let biweight = problem.fit_as(OutlierTreatment::Weighted(Weighting::Biweight));
    let huber = problem.fit_as(OutlierTreatment::Weighted(Weighting::Huber));
    assert_eq!(biweight.readings[6].weight, 0.0);
    assert!((0.1..0.15).contains(&huber.readings[6].weight));
    assert!(huber.rounds > 1 && biweight.rounds > huber.rounds);
    for (k, truth) in true_fit.unknowns.iter().enumerate() {
        let off = |fit: &Fit| (fit.unknowns[k].value - truth.value).abs() / truth.standard;
        assert!(off(&left_out) < 1e-6 && off(&biweight) < 1e-6);
        assert!(off(&huber) < 0.7 && off(&huber) < off(&all));
    }
}
