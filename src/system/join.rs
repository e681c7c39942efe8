//! How sections meet: the junction at the head of each outlet, and what it takes of its inlets.
#![allow(
    clippy::indexing_slicing,
    reason = "sections are numbered by the model, and every list of them is as long"
)]

use super::{
    fault::{ModelError, ModelFault},
    model::{Join, Section, Start, System},
    resolve::SectionLaw,
    setting::Model,
    topology::Topology,
};
use crate::{
    air::AirProperties,
    bore::Bore,
    loss::{
        Inlet, Junction, LossError, Note,
        heads::MAX_K,
        junction::{JunctionKind, JunctionLaw},
        wye::WyeLaw,
    },
    place::{Name, Place},
    quantity::Angle,
};

/// The junction at the head of a section or of the collector.
#[derive(Debug, Clone, Default)]
pub(crate) struct Head {
    /// Its model, resolved; `None` where fewer than two inlets meet.
    pub(crate) model: Option<Junction>,
    /// rho / (2 `A_c`^2) of a momentum junction, 0 of any other \[Pa s2/m6\].
    pub(crate) outlet_head: f64,
    /// A wye by formula: its branch and straight section.
    pub(crate) wye: Option<Wye>,
    /// Where the model left its range.
    pub(crate) notes: Vec<Note>,
}

/// A wye by formula.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Wye {
    pub(crate) branch: usize,
    pub(crate) straight: usize,
    pub(crate) law: WyeLaw,
}

/// What a junction makes of one inlet.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Foot {
    /// Coefficient of joining on the section's own velocity pressure, beyond the model.
    pub(crate) join_k: f64,
    /// Velocity pressure per squared flow that a momentum junction counts to the leg, else 0.
    pub(crate) own_head: f64,
    /// rho cos(alpha) / (`A_c` A) in a momentum junction, else 0.
    pub(crate) momentum: f64,
}

/// Judges every join and fills in heads and feet; returns the head of the collector.
pub(super) fn join_all(
    model: Model<'_>,
    topology: &Topology,
    air: &AirProperties,
    laws: &mut [SectionLaw],
    faults: &mut Vec<ModelError>,
) -> Head {
    let system = model.system;
    let mut meet = |outlet: Option<usize>, inlets: &[usize], faults: &mut Vec<ModelError>| {
        let joined = join_at(model, outlet, inlets, air, faults);
        for (&i, foot) in inlets.iter().zip(joined.feet) {
            laws[i].foot = foot;
        }
        match outlet {
            Some(i) => laws[i].head = joined.head,
            None => return joined.head,
        }
        Head::default()
    };
    for (i, inlets) in topology.inlets.iter().enumerate() {
        meet(Some(i), inlets, faults);
    }
    let adapter = system.collector.before.first();
    if topology.mains.len() > 1 && adapter.is_none() {
        let mains = topology
            .mains
            .iter()
            .map(|&i| system.sections[i].id.clone())
            .collect();
        faults.push(ModelError::new(
            Place::Collector,
            ModelFault::AdapterSize { mains },
        ));
    }
    meet(None, &topology.mains, faults)
}

/// A junction and what it makes of its inlets, in their order; no feet where fewer than two meet.
#[derive(Debug, Clone, Default)]
pub(crate) struct Joined {
    pub(crate) head: Head,
    pub(crate) feet: Vec<Foot>,
}

/// The junction at the head of a section, or at that of the collector, of these inlets.
pub(crate) fn join_at(
    model: Model<'_>,
    outlet: Option<usize>,
    inlets: &[usize],
    air: &AirProperties,
    faults: &mut Vec<ModelError>,
) -> Joined {
    let system = model.system;
    let meeting = match outlet.map(|i| system.sections.get(i)) {
        Some(None) => return Joined::default(),
        Some(Some(outlet)) => Meeting {
            model,
            inlets,
            junction: outlet.junction.unwrap_or(system.junction),
            outlet: outlet.size,
            place: Place::Section(outlet.id.clone()),
        },
        None => Meeting {
            model,
            inlets,
            junction: system.collector.junction.unwrap_or(system.junction),
            // Without an adapter the fault is told already; any size lets the rest be judged.
            outlet: match system.collector.before.first() {
                Some(run) => run.size,
                None => Bore::Round(crate::quantity::Length::from_m(1.0)),
            },
            place: Place::Collector,
        },
    };
    meeting.join(air, faults)
}

/// Inlets about to meet in an outlet.
struct Meeting<'a> {
    model: Model<'a>,
    inlets: &'a [usize],
    junction: Junction,
    outlet: Bore,
    place: Place,
}

impl Meeting<'_> {
    fn section(&self, i: usize) -> &Section {
        &self.model.system.sections[i]
    }

    fn join(&self, air: &AirProperties, faults: &mut Vec<ModelError>) -> Joined {
        if self.inlets.len() < 2 {
            for &i in self.inlets {
                if self.section(i).join != Join::default() {
                    self.fault(i, ModelFault::NoJunction, faults);
                }
            }
            return Joined::default();
        }
        let before = faults.len();
        let mut joined = Joined::default();
        for &i in self.inlets {
            joined.feet.push(Foot {
                join_k: self.own_k(i, faults),
                ..Foot::default()
            });
        }
        self.check_straight(faults);
        if faults.len() > before {
            return joined;
        }
        let shapes: Vec<Inlet> = self
            .inlets
            .iter()
            .map(|&i| Inlet {
                area: self.section(i).size.area(),
                angle: self.section(i).join.angle.unwrap_or(Angle::from_deg(0.0)),
                k: 0.0,
            })
            .collect();
        match self.junction.law(air.density, self.outlet.area(), &shapes) {
            Ok(law) => joined.head = self.head(law, &mut joined.feet),
            Err(error) => {
                // A size out of range is told where it stands.
                if self.outlet.check().is_ok()
                    && self
                        .inlets
                        .iter()
                        .all(|&i| self.section(i).size.check().is_ok())
                {
                    faults.push(ModelError::new(
                        self.place.clone(),
                        ModelFault::Shape {
                            inlets: self.names(self.inlets),
                            error,
                        },
                    ));
                }
            }
        }
        joined
    }

    fn head(&self, law: JunctionLaw, feet: &mut [Foot]) -> Head {
        let mut head = Head {
            model: Some(law.model),
            notes: law.notes,
            ..Head::default()
        };
        match law.kind {
            JunctionKind::Plain => {}
            JunctionKind::Momentum(momentum) => {
                head.outlet_head = momentum.outlet_head;
                let terms = momentum.momentum.iter().zip(&momentum.own_head);
                for (foot, (&momentum, &own_head)) in feet.iter_mut().zip(terms) {
                    foot.momentum = momentum;
                    foot.own_head = own_head;
                }
            }
            JunctionKind::Wye {
                branch,
                straight,
                law,
            } => {
                if let (Some(&branch), Some(&straight)) =
                    (self.inlets.get(branch), self.inlets.get(straight))
                {
                    head.wye = Some(Wye {
                        branch,
                        straight,
                        law,
                    });
                }
            }
        }
        head
    }

    /// The join's own coefficient, judged.
    fn own_k(&self, i: usize, faults: &mut Vec<ModelError>) -> f64 {
        let join = self.section(i).join;
        let mut sum = 0.0;
        if let Some(angle) = join.angle {
            let angle = LossError::within("angle", angle.as_deg(), " deg", 0.0, 180.0);
            if let Err(error) = angle {
                self.fault(i, error, faults);
            }
        }
        let extra_k = match self.model.factors.extra_k(i) {
            // How far the junction's model may be off goes both ways.
            Some(k) => LossError::within("extra k", k, "", -MAX_K, MAX_K),
            None => LossError::within("extra k", join.extra_k, "", 0.0, MAX_K),
        };
        match extra_k {
            Ok(k) => sum += k,
            Err(error) => self.fault(i, error, faults),
        }
        let k = join.k.map(|k| LossError::within("k", k, "", -MAX_K, MAX_K));
        match (self.junction, k) {
            (_, Some(Err(error))) => self.fault(i, error, faults),
            (Junction::FixedK, None) => self.fault(i, ModelFault::NoK, faults),
            (Junction::FixedK, Some(Ok(k))) => {
                // What the junction's law is asked for.
                match LossError::within("k and extra k together", sum + k, "", -MAX_K, MAX_K) {
                    Ok(together) => sum = together,
                    Err(error) => self.fault(i, error, faults),
                }
            }
            // Kept for the day the model is switched.
            _ => {}
        }
        sum
    }

    /// At most one inlet goes straight unsaid; the handbook's coefficients need no angles.
    fn check_straight(&self, faults: &mut Vec<ModelError>) {
        let straight: Vec<usize> = self
            .inlets
            .iter()
            .copied()
            .filter(|&i| self.section(i).join.angle.is_none())
            .collect();
        if let ([first, _, ..], true) = (straight.as_slice(), self.junction != Junction::FixedK) {
            let inlets = self.names(&straight);
            self.fault(*first, ModelFault::TwoStraight { inlets }, faults);
        }
    }

    fn names(&self, sections: &[usize]) -> Vec<Name> {
        sections
            .iter()
            .map(|&i| self.section(i).id.clone())
            .collect()
    }

    fn fault(&self, i: usize, fault: impl Into<ModelFault>, faults: &mut Vec<ModelError>) {
        let place = Place::Join(self.section(i).id.clone());
        faults.push(ModelError::new(place, fault));
    }
}

/// Refuses runs that gain pressure and splits that nothing determines.
pub(super) fn check_losses(
    system: &System,
    topology: &Topology,
    laws: &[SectionLaw],
    collector: &Head,
    faults: &mut Vec<ModelError>,
) {
    // The hood at the end of a leg that has lost nothing so far.
    let mut lossless: Vec<Option<&Name>> = vec![None; laws.len()];
    let mut meet = |inlets: &[usize], head: &Head, lossless: &[Option<&Name>]| {
        if head.model != Some(Junction::FixedK) {
            return;
        }
        for &i in inlets {
            if let Some(hood) = lossless[i] {
                faults.push(ModelError::new(
                    Place::Join(system.sections[i].id.clone()),
                    ModelFault::Lossless { hood: hood.clone() },
                ));
            }
        }
    };
    for &i in &topology.order {
        let law = &laws[i];
        let inlets = &topology.inlets[i];
        let upstream = match (&system.sections[i].start, inlets.as_slice()) {
            (Start::Hood(hood), _) => Some(&hood.id),
            (_, [only]) => lossless[*only],
            _ => None,
        };
        meet(inlets, &law.head, &lossless);
        lossless[i] = upstream.filter(|_| law.conduit.is_lossless() && law.foot.join_k == 0.0);
    }
    meet(&topology.mains, collector, &lossless);
    for (section, law) in system.sections.iter().zip(laws) {
        let k = law.conduit.least_k2() / law.conduit.head + law.foot.join_k;
        if k < 0.0 {
            faults.push(ModelError::new(
                Place::Section(section.id.clone()),
                ModelFault::NegativeLoss { k },
            ));
        }
    }
}
