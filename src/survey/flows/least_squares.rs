//! Readings adjusted to linear balances: weighted least squares with an exact covariance.
//!
//! Readings y of covariance V that must fulfil A y = 0 are adjusted by V A' H^-1 A y, with
//! H = A V A'; the adjusted ones have the covariance V - V A' H^-1 A V (the solution of linear data
//! reconciliation: S. Narasimhan & C. Jordache, Data reconciliation and gross error detection, 2000,
//! ch. 3; from memory, its chapters and eqs. 7-3, 7-13 for H and the last term named in a public
//! repository).

use nalgebra::{DMatrix, DVector};

/// Steps to the factor of an instrument; each gains a digit where it is 10 %.
const FACTOR_STEPS: usize = 12;

/// A sum of readings by index, each with its sign.
pub(super) type Terms = Vec<(usize, f64)>;

/// Readings and the balances that they must fulfil.
#[derive(Debug)]
pub(super) struct Problem {
    /// What was read \[m3/s\].
    pub(super) read: Vec<f64>,
    /// Variance of each by itself \[(m3/s)^2\].
    pub(super) own: Vec<f64>,
    /// The instrument of each.
    pub(super) instrument: Vec<Option<usize>>,
    /// Variance of the factor of each instrument.
    pub(super) shared: Vec<f64>,
    /// Flow at each reading \[m3/s\], on which the factor of its instrument acts.
    ///
    /// A fitted flow, the same for all readings of one place. The read ones would pull the estimate
    /// below all readings where they scatter (known as Peelle's puzzle; from memory).
    pub(super) level: Vec<f64>,
    /// The balances: sums of readings, each with its sign, that must be 0.
    pub(super) balances: Vec<Terms>,
}

/// What the balances make of the readings.
#[derive(Debug)]
pub(super) struct Adjusted {
    /// The adjusted readings \[m3/s\].
    pub(super) flow: DVector<f64>,
    /// Their covariance.
    pub(super) covariance: DMatrix<f64>,
    /// The residuals of the balances made independent, each of variance 1.
    residual: DVector<f64>,
    /// What a change of each reading makes of them.
    of_reading: DMatrix<f64>,
    /// What a change of each balance makes of them.
    of_balance: DMatrix<f64>,
    /// What each of them takes from the readings.
    weighed: DMatrix<f64>,
}

/// How well a single fault of a given kind explains the residuals, and how large it must be.
///
/// The generalised likelihood ratio of a fault that shifts the residuals of the balances in a known
/// direction (S. Narasimhan & R. S. H. Mah, Generalized likelihood ratio method for gross error
/// identification, AIChE Journal, 1987; title, journal and year seen in a list of references, the
/// method from memory).
#[derive(Debug, Clone, Copy)]
pub(super) struct Fault {
    /// Size in the unit of the direction.
    pub(super) size: f64,
    pub(super) standard: f64,
}

impl Fault {
    /// Its size over its standard uncertainty; the square is what the chi-square loses when it is
    /// allowed for.
    pub(super) fn deviate(self) -> f64 {
        self.size / self.standard
    }
}

impl Problem {
    /// How a balance sums the errors of the instruments.
    fn by_instrument(&self, balance: &[(usize, f64)]) -> DVector<f64> {
        let mut sums = DVector::zeros(self.shared.len());
        for &(reading, sign) in balance {
            let instrument = self.instrument.get(reading).copied().flatten();
            let sum = instrument.and_then(|i| sums.get_mut(i));
            if let (Some(sum), Some(level)) = (sum, self.level.get(reading)) {
                *sum += sign * level;
            }
        }
        sums
    }

    /// Share of the covariance of two readings that stems from their common instrument.
    fn common(&self, a: usize, b: usize) -> f64 {
        let instrument = |i: usize| self.instrument.get(i).copied().flatten();
        match (instrument(a), instrument(b)) {
            (Some(one), Some(other)) if one == other => {
                let level = |i: usize| self.level.get(i).copied().unwrap_or(0.0);
                self.shared.get(one).copied().unwrap_or(0.0) * level(a) * level(b)
            }
            _ => 0.0,
        }
    }

    /// `None` where the variances are too uneven for the digits of a number.
    pub(super) fn adjust(&self) -> Option<Adjusted> {
        let (n, r) = (self.read.len(), self.balances.len());
        let own = DVector::from_column_slice(&self.own);
        let read = DVector::from_column_slice(&self.read);
        let mut covariance = DMatrix::from_fn(n, n, |i, j| self.common(i, j));
        let diagonal = covariance.diagonal() + &own;
        covariance.set_diagonal(&diagonal);

        let mut a = DMatrix::zeros(r, n);
        let mut by_instrument = DMatrix::zeros(r, self.shared.len());
        for (k, balance) in self.balances.iter().enumerate() {
            for &(reading, sign) in balance {
                *a.get_mut((k, reading))? += sign;
            }
            by_instrument
                .row_mut(k)
                .tr_copy_from(&self.by_instrument(balance));
        }
        let shared = DVector::from_column_slice(&self.shared);
        // A V A' from the parts of V: where a balance cancels what an instrument adds, it cancels
        // exactly. A row holds few readings.
        let mut h = &by_instrument * DMatrix::from_diagonal(&shared) * by_instrument.transpose();
        let mut rows_at: Vec<Terms> = vec![Vec::new(); n];
        for (k, balance) in self.balances.iter().enumerate() {
            for &(reading, sign) in balance {
                rows_at.get_mut(reading)?.push((k, sign));
            }
        }
        for (rows, variance) in rows_at.iter().zip(&self.own) {
            for &(k, one) in rows {
                for &(l, other) in rows {
                    *h.get_mut((k, l))? += one * variance * other;
                }
            }
        }
        // Each balance in units of its own standard uncertainty.
        let scale = h.diagonal().map(|variance| variance.sqrt().recip());
        let scale = DMatrix::from_diagonal(&scale);
        let root = (&scale * h * &scale).cholesky()?.unpack();
        let of_balance = root.solve_lower_triangular(&scale)?;
        let of_reading = &of_balance * &a;
        let residual = &of_reading * &read;
        let weighed = &of_reading * &covariance;
        let flow = read - weighed.tr_mul(&residual);
        let covariance = covariance - weighed.tr_mul(&weighed);
        let sound = flow.iter().chain(&covariance).all(|x| x.is_finite());
        sound.then_some(Adjusted {
            flow,
            covariance,
            residual,
            of_reading,
            of_balance,
            weighed,
        })
    }
}

impl Adjusted {
    /// Sum of squares of the residuals: chi-square of as many degrees of freedom as balances.
    pub(super) fn chi_square(&self) -> f64 {
        self.residual.norm_squared()
    }

    /// A weighted sum of the adjusted readings, and its standard uncertainty.
    pub(super) fn sum(&self, terms: &[(usize, f64)]) -> (f64, f64) {
        let flow = |i: usize| self.flow.get(i).copied().unwrap_or(0.0);
        // Not `sum()`: that of nothing is -0.
        let sum = terms
            .iter()
            .fold(0.0, |sum, &(i, sign)| sum + sign * flow(i));
        let mut variance = 0.0;
        for &(i, one) in terms {
            for &(j, other) in terms {
                variance += one * other * self.covariance.get((i, j)).copied().unwrap_or(0.0);
            }
        }
        (sum, f64::max(variance, 0.0).sqrt())
    }

    /// An error of a reading; `None` where no balance would show it.
    pub(super) fn reading_off(&self, reading: usize) -> Option<Fault> {
        self.fault(&self.of_reading.column(reading).into_owned())
    }

    /// Something that enters at a balance.
    pub(super) fn balance_off(&self, balance: usize) -> Option<Fault> {
        self.fault(&self.of_balance.column(balance).into_owned())
    }

    /// A factor of these readings, which acts on the flows that are fitted with it.
    pub(super) fn factor_off(&self, readings: &[usize]) -> Option<Fault> {
        let mut flow = self.flow.clone();
        let mut found = None;
        // The factor moves the flows and they the factor, by less each time.
        for _ in 0..FACTOR_STEPS {
            let mut change = DVector::zeros(flow.len());
            let mut parts = 0.0;
            for &reading in readings {
                let level = flow.get(reading).copied()?;
                *change.get_mut(reading)? = level;
                parts += (self.of_reading.column(reading) * level).norm_squared();
            }
            let shift = &self.of_reading * &change;
            // What cancels but for rounding shows nothing.
            let fault = self.fault(&shift)?;
            if shift.norm_squared() <= 1e-20 * parts {
                return None;
            }
            flow = &self.flow - (change - self.weighed.tr_mul(&shift)) * fault.size;
            found = Some(fault);
        }
        found
    }

    fn fault(&self, shift: &DVector<f64>) -> Option<Fault> {
        let square = shift.norm_squared();
        let fault = Fault {
            size: shift.dot(&self.residual) / square,
            standard: square.sqrt().recip(),
        };
        (square > 0.0 && fault.size.is_finite() && fault.standard.is_finite()).then_some(fault)
    }
}
