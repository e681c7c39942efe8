//! Why a solve gave no answer.

use super::{quality::Quality, work::Pass};
use crate::{
    place::Name,
    quantity::{Pressure, Velocity, VolumeFlow},
    system::UnknownName,
};

/// Why a solve gave no answer.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum SolveError {
    /// No open hood reaches the fan: there is no path for air.
    #[error(
        "no open hood reaches the fan: open at least one, and let no gate on its way stand shut"
    )]
    NothingOpen,
    /// The open set was made for other hoods.
    #[error(
        "the open set was made for a network with other hoods; make it anew with this network's `open`"
    )]
    ForeignOpenSet,
    /// A hood or machine that the network does not have.
    #[error(transparent)]
    UnknownName(#[from] UnknownName),
    /// The collector has no fan and no flow was imposed.
    #[error("the collector has no fan; give it one, or impose a flow")]
    NoFan,
    /// The imposed flow is not a positive number.
    #[error("cannot impose a flow of {flow}; it must be above zero")]
    ImposedFlow {
        /// What was asked for.
        flow: VolumeFlow,
    },
    /// The imposed pressure is not a positive number.
    #[error("cannot impose a pressure of {pressure}; it must be above zero")]
    ImposedPressure {
        /// What was asked for.
        pressure: Pressure,
    },
    /// The least velocity of a sweep is negative or no number.
    #[error("cannot look for sections slower than {velocity}; it must be zero or more")]
    LeastVelocity {
        /// What was asked for.
        velocity: Velocity,
    },
    /// The fan has no pressure at rest and so never starts the air.
    #[error(
        "the fan cannot move air through this system: its curve gives {:.1} Pa at rest; give its \
         points from zero flow on",
        .at_rest.as_pa()
    )]
    CannotStart {
        /// The curve's pressure at zero flow.
        at_rest: Pressure,
    },
    /// The fan gives more than the system asks for at every flow that makes sense.
    #[error(
        "up to {flow} the fan gives more than the system asks for; check the sizes of the fan's outlet and of the discharge, and the end of the fan's curve"
    )]
    NeverMet {
        /// How far was looked.
        flow: VolumeFlow,
    },
    /// The iteration ended without a balance.
    #[error("no balance after {} passes: pressures off by {:.1e} of the fan's at {}; the model is a case for a report", .0.quality.passes, .0.quality.pressure.value, .0.quality.pressure.at)]
    NotConverged(Box<Unbalanced>),
}

/// Where an iteration stood when it was given up.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Unbalanced {
    /// Residuals of the last pass.
    pub quality: Quality,
    /// Flow of each open hood at the last pass.
    pub hoods: Vec<(Name, VolumeFlow)>,
    /// Every pass.
    pub trace: Vec<Pass>,
}

impl SolveError {
    /// Whether the question itself was at fault, rather than the search for its answer.
    #[must_use]
    pub fn is_input(&self) -> bool {
        !self.is_not_converged()
    }

    /// Whether the search ended without a balance.
    #[must_use]
    pub fn is_not_converged(&self) -> bool {
        matches!(self, Self::NotConverged(_))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Error, GateError, GrowthError, RoomError, place::Place, solve::Residual};

    /// No network is known that brings it about; so it is put together here.
    #[test]
    fn a_balance_that_was_not_found_is_no_fault_of_the_input() {
        let residual = |value| Residual {
            value,
            at: Place::Section("main".into()),
        };
        let error = SolveError::NotConverged(Box::new(Unbalanced {
            quality: Quality {
                passes: 60,
                runs: 9,
                pressure: residual(2.5e-4),
                flow: residual(0.0),
                step: residual(1e-3),
                rounding: 1e-15,
            },
            hoods: Vec::new(),
            trace: Vec::new(),
        }));
        insta::assert_snapshot!(error, @r##"no balance after 60 passes: pressures off by 2.5e-4 of the fan's at section "main"; the model is a case for a report"##);
        assert!(error.is_not_converged() && !error.is_input());
        let open = vec![Name::from("planer")];
        let wrapped = error.clone();
        for error in [
            Error::from(error.clone()),
            GrowthError::from(error.clone()).into(),
            RoomError::from(error.clone()).into(),
            GateError::Solve {
                open,
                error: wrapped,
            }
            .into(),
            crate::SizingError::from(error.clone()).into(),
            crate::UseError::from(error.clone()).into(),
            crate::UncertaintyError::from(error.clone()).into(),
            crate::FilterGaugeError::from(error).into(),
        ] {
            assert!(error.is_not_converged(), "{error}");
            assert!(!error.is_model() && !error.is_question(), "{error}");
        }
    }
}
