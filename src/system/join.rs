//! How sections meet: the junction at the head of each outlet, and what it takes of its inlets.

use super::{
    fault::{ModelError, ModelFault},
    model::{Join, Section, Start, System},
    resolve::SectionLaw,
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
    system: &System,
    topology: &Topology,
    air: &AirProperties,
    laws: &mut [SectionLaw],
    faults: &mut Vec<ModelError>,
) -> Head {
    for (i, (inlets, outlet)) in topology.inlets.iter().zip(&system.sections).enumerate() {
        let junction = outlet.junction.unwrap_or(system.junction);
        let place = Place::Section(outlet.id.clone());
        let meeting = Meeting {
            system,
            inlets,
            junction,
            outlet: outlet.size,
            place,
        };
        laws[i].head = meeting.join(air, laws, faults);
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
    let meeting = Meeting {
        system,
        inlets: &topology.mains,
        junction: system.collector.junction.unwrap_or(system.junction),
        // Without an adapter the fault is told already; any size lets the rest be judged.
        outlet: adapter.map_or(Bore::Round(crate::quantity::Length::from_m(1.0)), |run| {
            run.size
        }),
        place: Place::Collector,
    };
    meeting.join(air, laws, faults)
}

/// Inlets about to meet in an outlet.
struct Meeting<'a> {
    system: &'a System,
    inlets: &'a [usize],
    junction: Junction,
    outlet: Bore,
    place: Place,
}

impl Meeting<'_> {
    fn section(&self, i: usize) -> &Section {
        &self.system.sections[i]
    }

    fn join(
        &self,
        air: &AirProperties,
        laws: &mut [SectionLaw],
        faults: &mut Vec<ModelError>,
    ) -> Head {
        if self.inlets.len() < 2 {
            for &i in self.inlets {
                if self.section(i).join != Join::default() {
                    self.fault(i, ModelFault::NoJunction, faults);
                }
            }
            return Head::default();
        }
        let before = faults.len();
        for &i in self.inlets {
            laws[i].foot.join_k = self.own_k(i, faults);
        }
        self.check_straight(faults);
        if faults.len() > before {
            return Head::default();
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
            Ok(law) => self.head(law, laws),
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
                Head::default()
            }
        }
    }

    fn head(&self, law: JunctionLaw, laws: &mut [SectionLaw]) -> Head {
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
                for (&i, (&momentum, &own_head)) in self.inlets.iter().zip(terms) {
                    laws[i].foot.momentum = momentum;
                    laws[i].foot.own_head = own_head;
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
        match LossError::within("extra k", join.extra_k, "", 0.0, MAX_K) {
            Ok(k) => sum += k,
            Err(error) => self.fault(i, error, faults),
        }
        let k = join.k.map(|k| LossError::within("k", k, "", -MAX_K, MAX_K));
        match (self.junction, k) {
            (_, Some(Err(error))) => self.fault(i, error, faults),
            (Junction::FixedK, None) => self.fault(i, ModelFault::NoK, faults),
            (Junction::FixedK, Some(Ok(k))) => sum += k,
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
