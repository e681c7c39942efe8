//! The law of one run of duct: its parts folded, each with its place.

use super::fault::{ModelError, ModelFault};
use crate::{
    air::AirProperties,
    bore::Bore,
    loss::{
        Gate, LossError, Note, Part, Transition, Wall,
        coefficients::{Coefficients, head_per_q2},
        friction_factor,
        part::Conduit,
    },
    place::Place,
};

/// A run of one size: what it loses at any flow.
#[derive(Debug, Clone, Default)]
pub(crate) struct ConduitLaw {
    pub(crate) area_m2: f64,
    /// rho / (2 A^2): velocity pressure per squared flow \[Pa s2/m6\].
    pub(crate) head: f64,
    /// One entry for each friction factor that the run needs; `k2` and `k1` of these are zero.
    pub(crate) frictions: Vec<Coefficients>,
    /// Quadratic share of everything else \[Pa s2/m6\].
    pub(crate) k2: f64,
    /// Linear share \[Pa s/m3\].
    pub(crate) k1: f64,
    /// What shutting its gates adds to `k2`; `None` where that lets no air by.
    pub(crate) shut_k2: Option<f64>,
    /// Whether a gate stands shut and lets no air by.
    pub(crate) cut_off: bool,
    /// Where a law left its tested range.
    pub(crate) notes: Vec<(Place, Note)>,
    /// Parts that the fan's curve contains already and that are not charged again.
    pub(crate) in_fan_curve: Vec<Place>,
}

impl ConduitLaw {
    /// The law of an empty run of this size, or the fault of its size.
    pub(crate) fn empty(bore: Bore, air: &AirProperties) -> Result<Self, LossError> {
        bore.check()?;
        let area_m2 = bore.area().as_m2();
        Ok(Self {
            area_m2,
            head: head_per_q2(air.density.as_kg_m3(), area_m2),
            ..Self::default()
        })
    }

    /// Adds a law in series.
    pub(crate) fn add(&mut self, c: &Coefficients) {
        self.k2 += c.k2;
        self.k1 += c.k1;
        if c.kf != 0.0 {
            let same =
                |f: &&mut Coefficients| f.re_per_q == c.re_per_q && f.rel_rough == c.rel_rough;
            match self.frictions.iter_mut().find(same) {
                Some(friction) => friction.kf += c.kf,
                None => self.frictions.push(Coefficients {
                    k2: 0.0,
                    k1: 0.0,
                    ..*c
                }),
            }
        }
    }

    /// Loss of total pressure at flow `q >= 0` \[Pa\], with the exact friction factor.
    pub(crate) fn loss(&self, q: f64) -> f64 {
        let friction: f64 = self.frictions.iter().map(|f| f.friction(q)).sum();
        ((self.k2 + friction) * q + self.k1) * q
    }

    /// Slope of that loss \[Pa s/m3\].
    pub(crate) fn slope(&self, q: f64) -> f64 {
        let friction: f64 = self.frictions.iter().map(|f| f.friction_slope(q)).sum();
        2.0 * self.k2 * q + friction + self.k1
    }

    /// Whether nothing in it takes any pressure.
    pub(crate) fn is_lossless(&self) -> bool {
        self.k2 == 0.0 && self.k1 == 0.0 && self.frictions.is_empty()
    }

    /// The least that its quadratic share can be at any flow \[Pa s2/m6\].
    ///
    /// f falls all the way to Re 1e7, which no shop's duct passes, but for a dip to 0.029 where
    /// turbulence sets in.
    pub(crate) fn least_k2(&self) -> f64 {
        let least_f = |rel_rough| friction_factor(1e7, rel_rough).f.min(0.029);
        let friction = self.frictions.iter().map(|f| f.kf * least_f(f.rel_rough));
        self.k2 + friction.sum::<f64>()
    }
}

/// What a run is put together from; the places of its parts are given by `place`.
pub(crate) struct Assembly<'a, P> {
    pub(crate) bore: Bore,
    pub(crate) wall: &'a Wall,
    pub(crate) parts: &'a [Part],
    /// The run upstream, where it is inline: its bore and its parts.
    pub(crate) upstream: Option<(Bore, &'a [Part])>,
    pub(crate) place: P,
    /// Which parts the fan's curve contains already.
    pub(crate) fitted: &'a dyn Fn(&Part) -> bool,
    /// What the loss of a part is multiplied by.
    pub(crate) factor: &'a dyn Fn(usize) -> Result<f64, LossError>,
}

impl<P: Fn(Option<usize>) -> Place> Assembly<'_, P> {
    /// Folds the parts, or adds every fault to `faults`.
    pub(crate) fn fold(&self, air: &AirProperties, faults: &mut Vec<ModelError>) -> ConduitLaw {
        let mut fault = |part: Option<usize>, error: LossError| {
            faults.push(ModelError::new((self.place)(part), error));
        };
        let roughness = match self.wall.roughness() {
            Ok(roughness) => roughness,
            Err(error) => {
                fault(None, error);
                return ConduitLaw::default();
            }
        };
        let mut law = match ConduitLaw::empty(self.bore, air) {
            Ok(law) => law,
            Err(error) => {
                fault(None, error);
                return ConduitLaw::default();
            }
        };
        let conduit = Conduit {
            bore: self.bore,
            roughness,
            upstream: self.upstream.map(|(bore, _)| bore),
        };
        if let Some(joint) = joint(self.bore, self.parts, self.upstream) {
            match joint.law(&conduit, air) {
                Ok(part) => law.add(&part.coefficients),
                Err(error) => fault(None, error),
            }
        }
        law.shut_k2 = self.shut(&law, &mut fault);
        for (i, part) in self.parts.iter().enumerate() {
            if matches!(part, Part::Gate(gate) if gate.is_shut()) {
                law.cut_off = true;
                continue;
            }
            if (self.fitted)(part) {
                law.in_fan_curve.push((self.place)(Some(i)));
                continue;
            }
            match part
                .law(&conduit, air)
                .and_then(|law| Ok((law, (self.factor)(i)?)))
            {
                Ok((part, factor)) => {
                    law.add(&part.coefficients.times(factor));
                    let place = (self.place)(Some(i));
                    law.notes
                        .extend(part.notes.into_iter().map(|note| (place.clone(), note)));
                }
                Err(error) => fault(Some(i), error),
            }
        }
        law
    }

    /// What shutting every gate adds to the quadratic share: the leaks of the shut gates in place of
    /// the openings. `None` without a gate that leaks.
    fn shut(
        &self,
        law: &ConduitLaw,
        fault: &mut impl FnMut(Option<usize>, LossError),
    ) -> Option<f64> {
        let mut added = None;
        for (i, part) in self.parts.iter().enumerate() {
            let Part::Gate(gate) = part else { continue };
            let shut = Gate {
                opening: 0.0,
                ..*gate
            };
            if shut.is_shut() || gate.is_shut() {
                return None;
            }
            match (shut.loss(self.bore), gate.loss(self.bore)) {
                (Ok(shut), Ok(open)) => {
                    let factor = (self.factor)(i).unwrap_or(1.0);
                    let k = factor * (shut.heads.fixed - open.heads.fixed);
                    added = Some(added.unwrap_or(0.0) + k * law.head);
                }
                // A fault of the opening is told by the part's own law.
                (Err(error), Ok(_)) => fault(Some(i), error),
                _ => {}
            }
        }
        added
    }
}

/// The sharp change of size that stands where a run of this bore and these parts meets the one
/// upstream of it inline, and nobody says how.
///
/// A separator or filter at the joint is a vessel: how it narrows, and what it lets out, is part
/// of its own loss. But where the air comes into a vessel's wider run its velocity pressure is
/// lost (Borda and Carnot): otherwise a filter first after the fan would give back the whole
/// velocity pressure of the outlet.
pub(crate) fn joint(bore: Bore, parts: &[Part], upstream: Option<(Bore, &[Part])>) -> Option<Part> {
    let (from, before) = upstream?;
    let vessel = |part: Option<&Part>| part.is_some_and(Part::is_vessel);
    let told = matches!(parts.first(), Some(Part::Transition(_)))
        || vessel(parts.first()) && bore.area() <= from.area()
        || vessel(before.last());
    // An unusable size upstream is that run's own fault.
    (!told && from != bore && from.check().is_ok()).then_some(Part::Transition(Transition::Sharp))
}

/// Refuses a transition that does not stand first in a run entered inline.
pub(super) fn check_transitions(
    parts: &[Part],
    inline: bool,
    faults: &mut Vec<ModelError>,
    place: impl Fn(usize) -> Place,
) {
    for (i, part) in parts.iter().enumerate() {
        if matches!(part, Part::Transition(_)) && !(i == 0 && inline) {
            faults.push(ModelError::new(place(i), ModelFault::TransitionPlace));
        }
    }
}
