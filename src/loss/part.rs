//! What the air passes in a run of duct, one thing after another.

use super::{
    Filter, Heads, Hose, LossError, Note, Separator, Transition,
    coefficients::{Coefficients, head_per_q2, re_per_q},
    elbow::Elbow,
    friction::RELATIVE_ROUGHNESS_MAX,
    gate::Gate,
    heads::MAX_K,
};
use crate::{air::AirProperties, bore::Bore, quantity::Length};

/// One thing that the air passes, in flow order within its run.
///
/// Loss coefficients are on the velocity pressure of the run unless said otherwise.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "snake_case")
)]
#[non_exhaustive]
pub enum Part {
    /// Straight rigid duct of the run's size and wall, by length.
    Duct(Length),
    /// Flexible hose of the run's size.
    Hose(Hose),
    /// An elbow.
    Elbow(Elbow),
    /// How the run is entered from one of another size; only as the first part of a run.
    ///
    /// Where two sizes meet inline and no transition is given, a sharp one is charged.
    Transition(Transition),
    /// A blast gate, at the opening that it has when its hood is in use.
    ///
    /// In the section of a hood it shuts when the hood is not in the open set; then only its leak
    /// is left. Shut by its own opening and without a leak it cuts off what lies upstream.
    Gate(Gate),
    /// Filter bags or cartridges.
    Filter(Filter),
    /// A separator before the filter: drop box, cyclone.
    Separator(Separator),
    /// Something of another size, told on its own area: a port adapter, the inside of a machine.
    Port(Port),
    /// A silencer, by its loss coefficient.
    Silencer(f64),
    /// Anything else, by its loss coefficient.
    K(f64),
}

/// A loss told on the area of a port: adapters, and what the air passes inside a machine.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
pub struct Port {
    /// Inner size of the port: 1 mm to 20 m.
    pub size: Bore,
    /// Loss coefficient on the velocity pressure in the port, 0 to 1e6.
    pub k: f64,
}

/// A run of one size and wall, as its parts see it.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Conduit {
    pub(crate) bore: Bore,
    pub(crate) roughness: Length,
    /// Size of what lies upstream, where that is another run inline.
    pub(crate) upstream: Option<Bore>,
}

/// What one part adds to its run, and what its law says of its own range.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct PartLaw {
    pub(crate) coefficients: Coefficients,
    pub(crate) notes: Vec<Note>,
}

impl Conduit {
    /// Coefficients of losses told in velocity pressures of this conduit's bore.
    pub(crate) fn heads(&self, heads: Heads, air: &AirProperties) -> Coefficients {
        let head = head_per_q2(air.density.as_kg_m3(), self.bore.area().as_m2());
        Coefficients {
            k2: heads.fixed * head,
            kf: heads.friction * head,
            k1: 0.0,
            re_per_q: re_per_q(air, self.bore),
            // No rougher than [`friction_factor`](super::friction_factor) takes it, or the solver
            // would step along another curve.
            rel_rough: (self.roughness / self.bore.hydraulic_diameter())
                .min(RELATIVE_ROUGHNESS_MAX),
        }
    }
}

impl Part {
    /// Whether it is a vessel, a separator or filter: how air comes in and goes out is part of its
    /// own loss.
    pub(crate) const fn is_vessel(&self) -> bool {
        matches!(self, Self::Filter(_) | Self::Separator(_))
    }

    /// What the part adds to its run.
    pub(crate) fn law(&self, run: &Conduit, air: &AirProperties) -> Result<PartLaw, LossError> {
        let plain = |heads| Ok(PartLaw::plain(run.heads(heads, air)));
        match self {
            Self::Duct(length) => {
                let length = LossError::within("length", length.as_m(), " m", 0.0, 1e4)?;
                plain(Heads {
                    fixed: 0.0,
                    friction: length / run.bore.hydraulic_diameter().as_m(),
                })
            }
            Self::Hose(hose) => {
                let friction = hose.friction(run.bore)?;
                // Its friction factor is that of its own wall, not of the run's.
                let own = Conduit {
                    roughness: friction.roughness,
                    ..*run
                };
                Ok(PartLaw {
                    coefficients: own.heads(
                        Heads {
                            fixed: friction.fixed,
                            friction: friction.friction_length_over_d,
                        },
                        air,
                    ),
                    notes: friction.notes,
                })
            }
            Self::Elbow(elbow) => {
                let rated = elbow.heads(run.bore.hydraulic_diameter())?;
                Ok(PartLaw {
                    coefficients: run.heads(rated.heads, air),
                    notes: rated.notes,
                })
            }
            Self::Transition(transition) => {
                let from = run.upstream.unwrap_or(run.bore);
                let rated = transition.heads(from, run.bore)?;
                let smaller = transition.reference(from, run.bore) != run.bore.area();
                // Told on the smaller bore, with the friction factor of a duct of that size.
                let told_on = Conduit {
                    bore: if smaller { from } else { run.bore },
                    ..*run
                };
                Ok(PartLaw {
                    coefficients: told_on.heads(rated.heads, air),
                    notes: rated.notes,
                })
            }
            Self::Gate(gate) => {
                let loss = gate.loss(run.bore)?;
                Ok(PartLaw {
                    coefficients: run.heads(loss.heads, air),
                    notes: loss.notes,
                })
            }
            Self::Filter(filter) => {
                let terms = filter.terms()?;
                Ok(PartLaw::plain(Coefficients {
                    k2: terms.quadratic_pa_s2_m6,
                    k1: terms.linear_pa_s_m3,
                    ..Coefficients::default()
                }))
            }
            Self::Separator(separator) => {
                let loss = separator.quadratic(run.bore, air.density)?;
                Ok(PartLaw {
                    coefficients: Coefficients {
                        k2: loss.pa_s2_m6,
                        ..Coefficients::default()
                    },
                    notes: loss.notes,
                })
            }
            Self::Port(port) => {
                port.size.check()?;
                let k = LossError::within("k", port.k, "", 0.0, MAX_K)?;
                let head = head_per_q2(air.density.as_kg_m3(), port.size.area().as_m2());
                Ok(PartLaw::plain(Coefficients {
                    k2: k * head,
                    ..Coefficients::default()
                }))
            }
            Self::Silencer(k) | Self::K(k) => {
                plain(Heads::fixed(LossError::within("k", *k, "", 0.0, MAX_K)?))
            }
        }
    }
}

impl Bore {
    /// Refuses a side outside 1 mm to 20 m: there a unit was mistaken.
    pub(crate) fn check(self) -> Result<(), LossError> {
        let side = |what, length: Length| {
            LossError::within(what, length.as_mm(), " mm", 1.0, 20_000.0).map(drop)
        };
        match self {
            Self::Round(diameter) => side("diameter", diameter),
            Self::Rectangular { width, height } => {
                side("width", width).and_then(|()| side("height", height))
            }
        }
    }
}

impl PartLaw {
    fn plain(coefficients: Coefficients) -> Self {
        Self {
            coefficients,
            notes: Vec::new(),
        }
    }
}
