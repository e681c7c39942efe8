//! A list of errors that were met.

use airsplit::{Error, ModelErrors};
use std::{any::type_name, collections::BTreeSet, fmt::Debug};

/// Errors that speak of the search for an answer, not of what was asked.
pub(crate) const NUMERICS: &[&str] = &[
    "SolveError::NotConverged",
    "UncertaintyError::Solve of numerics",
    "GateError::NotBalanced",
    "FilterGaugeError::NoMark",
    "FitError::Blocked",
    "FitError::NotConverged",
    "CalibrateError::Fit of numerics",
];

#[derive(Default)]
pub(crate) struct Told {
    /// Names of variants.
    pub(crate) met: BTreeSet<String>,
    /// Those of them that were made by hand.
    pub(crate) made: BTreeSet<String>,
    /// Name and text, in the order in which they were met.
    pub(crate) lines: Vec<(String, String)>,
    /// The same as the union of all errors.
    pub(crate) top: Vec<(String, Error)>,
}

/// `FanError::TooSteep`, of the type and the first word of `Debug`.
fn name<E: Debug>(error: &E) -> String {
    let of = type_name::<E>().split('<').next().unwrap();
    let of = of.rsplit("::").next().unwrap();
    let debug = format!("{error:?}");
    let word = |c: char| !(c.is_alphanumeric() || c == '_');
    let variant = debug.split(word).next().unwrap();
    if variant == of {
        of.to_string()
    } else {
        format!("{of}::{variant}")
    }
}

impl Told {
    /// An error inside another one, or one that no function returns by itself.
    pub(crate) fn inner<E: std::error::Error>(&mut self, error: &E) {
        let name = name(error);
        self.met.insert(name.clone());
        self.lines.push((name, error.to_string()));
    }

    /// An error that a function returned.
    pub(crate) fn add<E: std::error::Error + Clone + Into<Error>>(&mut self, error: &E) {
        self.inner(error);
        self.class(name(error), error.clone().into());
    }

    /// An error that no question brings about: its text, from a value made here.
    pub(crate) fn by_hand<E: std::error::Error + Clone + Into<Error>>(&mut self, error: &E) {
        self.made.insert(name(error));
        self.add(error);
    }

    /// An error that is of the numerics where others of its variant are not.
    pub(crate) fn class(&mut self, as_name: String, error: Error) {
        let own = name(&error);
        assert_ne!(own, "Error");
        self.met.insert(own);
        self.top.push((as_name, error));
    }

    /// What a function must have refused.
    #[track_caller]
    pub(crate) fn refused<T, E: std::error::Error + Clone + Into<Error>>(
        &mut self,
        result: Result<T, E>,
    ) {
        match result {
            Ok(_) => panic!("{} was expected", type_name::<E>()),
            Err(error) => self.add(&error),
        }
    }

    /// Faults of a model, each by itself.
    pub(crate) fn model(&mut self, errors: &ModelErrors) {
        self.class("ModelErrors".into(), errors.clone().into());
        for error in errors {
            let name = name(&error.fault);
            self.met.insert(name.clone());
            self.lines.push((name, error.to_string()));
        }
    }

    /// One error a line.
    pub(crate) fn table(&self) -> String {
        let lines = self.lines.iter();
        let lines: Vec<_> = lines
            .map(|(name, text)| format!("{name}: {text}"))
            .collect();
        lines.join("\n")
    }
}
