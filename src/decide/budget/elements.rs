//! The elements of an answer, worked out anew from the model's parts at the answer's flows.

use super::{BudgetError, Element, ElementKind, Piece};
use crate::{
    bore::Bore,
    loss::{Gate, LossError, Part, Wall, part::Conduit},
    place::Place,
    quantity::Length,
    solve::{HoodState, OperatingPoint, SectionState},
    system::{self, Resolved, Section, Start, System, joint},
};

/// What the elements are worked out from.
pub(super) struct Shop<'a> {
    pub(super) system: &'a System,
    pub(super) resolved: &'a Resolved,
    pub(super) point: &'a OperatingPoint,
}

/// A section or run, and what stands upstream of it inline.
struct Run<'a> {
    bore: Bore,
    wall: &'a Wall,
    parts: &'a [Part],
    upstream: Option<(Bore, &'a [Part])>,
    place: &'a dyn Fn(Option<usize>) -> Place,
    /// Whether its gates are shut.
    shut: bool,
}

impl Shop<'_> {
    fn head_pa(&self, bore: Bore, q_m3s: f64) -> f64 {
        let velocity = q_m3s / bore.area().as_m2();
        0.5 * self.resolved.air.density.as_kg_m3() * velocity * velocity
    }

    /// A section at its flow, its join and the leak of its walls among its elements.
    pub(super) fn section(
        &self,
        i: usize,
        section: &Section,
        state: &SectionState,
        hood_state: Option<&HoodState>,
    ) -> Result<Piece, BudgetError> {
        let inlets = self.resolved.topology.inlets.get(i);
        let upstream = match inlets.map_or(&[][..], Vec::as_slice) {
            [only] => self.system.sections.get(*only),
            _ => None,
        };
        let place = Place::Section(section.id.clone());
        let (end_m3s, leak_m3s) = (state.flow.as_m3_s(), state.leak.as_m3_s());
        // The hood's own figure: of a shut one the difference would leave rounding only.
        let q_m3s = hood_state.map_or(end_m3s - leak_m3s, |hood| hood.flow.as_m3_s());
        let mut elements = Vec::with_capacity(section.parts.len() + 2);
        if let Start::Hood(hood) = &section.start {
            let place = Place::Hood(hood.id.clone());
            let k = hood.entry.heads(section.size);
            let k = k.map_err(|error| BudgetError::Part {
                place: place.clone(),
                error,
            })?;
            elements.push(Element {
                kind: ElementKind::Hood,
                place,
                q_m3s,
                loss_pa: k.heads.fixed * self.head_pa(section.size, q_m3s),
                length_m: None,
            });
        }
        let run = Run {
            bore: section.size,
            wall: &section.wall,
            parts: &section.parts,
            upstream: upstream.map(|s| (s.size, s.parts.as_slice())),
            place: &|part| match part {
                Some(part) => Place::Part {
                    section: section.id.clone(),
                    part,
                },
                None => Place::Section(section.id.clone()),
            },
            shut: hood_state.is_some_and(|hood| !hood.open),
        };
        self.parts(&run, q_m3s, &mut elements)?;
        let mut leak = None;
        if leak_m3s > 0.0 {
            let of_parts: f64 = elements.iter().map(|element| element.loss_pa).sum();
            let (kind, place) = (ElementKind::WallLeak, place);
            elements.push(Element {
                kind,
                place: place.clone(),
                q_m3s,
                loss_pa: state.loss.as_pa() - of_parts,
                length_m: None,
            });
            leak = Some(Element {
                kind,
                place,
                q_m3s: leak_m3s,
                loss_pa: -state.total_pressure.as_pa(),
                length_m: None,
            });
        }
        let join_pa = state.junction_loss.as_pa();
        Ok(Piece {
            elements,
            head_pa: self.head_pa(section.size, q_m3s),
            end_head_pa: self.head_pa(section.size, end_m3s),
            leak,
            join: (join_pa != 0.0).then(|| Element {
                kind: ElementKind::Junction,
                place: Place::Join(section.id.clone()),
                q_m3s: end_m3s,
                loss_pa: join_pa,
                length_m: None,
            }),
        })
    }

    /// Every part at this flow, and the sharp change of size where nobody said how.
    fn parts(
        &self,
        run: &Run<'_>,
        q_m3s: f64,
        elements: &mut Vec<Element>,
    ) -> Result<(), BudgetError> {
        let part_error = |part: Option<usize>| {
            let place = (run.place)(part);
            move |error| BudgetError::Part { place, error }
        };
        let roughness = run.wall.roughness().map_err(part_error(None))?;
        let conduit = Conduit {
            bore: run.bore,
            roughness,
            upstream: run.upstream.map(|(bore, _)| bore),
        };
        let loss_pa = |part: &Part| -> Result<f64, LossError> {
            let law = part.law(&conduit, &self.resolved.air)?;
            Ok(law.coefficients.loss(q_m3s))
        };
        let mut add = |kind, part: Option<usize>, loss_pa, length: Option<Length>| {
            elements.push(Element {
                kind,
                place: (run.place)(part),
                q_m3s,
                loss_pa,
                length_m: length.map(Length::as_m),
            });
        };
        if let Some(sharp) = joint(run.bore, run.parts, run.upstream) {
            let loss_pa = loss_pa(&sharp).map_err(part_error(None))?;
            add(ElementKind::Transition, None, loss_pa, None);
        }
        for (i, part) in run.parts.iter().enumerate() {
            let place = (run.place)(Some(i));
            if self.point.in_fan_curve.contains(&place) {
                continue;
            }
            let shut = match part {
                Part::Gate(gate) if run.shut => Some(Part::Gate(Gate {
                    opening: 0.0,
                    ..*gate
                })),
                _ => None,
            };
            let (kind, length) = kind_of(part);
            let part = shut.as_ref().unwrap_or(part);
            // Nothing passes a gate that is shut and tight, whose law has no value.
            let tight = matches!(part, Part::Gate(gate) if gate.is_shut());
            let loss_pa = match tight {
                true => 0.0,
                false => loss_pa(part).map_err(part_error(Some(i)))?,
            };
            add(kind, Some(i), loss_pa, length);
        }
        Ok(())
    }

    /// The runs before and after the fan.
    pub(super) fn collector(&self) -> Result<(Vec<Piece>, Vec<Piece>), BudgetError> {
        let collector = &self.system.collector;
        let q_m3s = self.point.flow.as_m3_s();
        let runs = |runs: &[system::Run],
                    first: Option<(Bore, &[Part])>,
                    place: fn(usize, Option<usize>) -> Place| {
            let mut upstream = first;
            let mut pieces = Vec::with_capacity(runs.len());
            for (i, at) in runs.iter().enumerate() {
                let run = Run {
                    bore: at.size,
                    wall: &at.wall,
                    parts: &at.parts,
                    upstream,
                    place: &|part| place(i, part),
                    shut: false,
                };
                let mut elements = Vec::with_capacity(at.parts.len() + 1);
                self.parts(&run, q_m3s, &mut elements)?;
                let head_pa = self.head_pa(at.size, q_m3s);
                pieces.push(Piece {
                    elements,
                    head_pa,
                    end_head_pa: head_pa,
                    leak: None,
                    join: None,
                });
                upstream = Some((at.size, &at.parts));
            }
            Ok::<_, BudgetError>(pieces)
        };
        let main = match self.resolved.topology.mains.as_slice() {
            [only] => self.system.sections.get(*only),
            _ => None,
        };
        let main = main.map(|section| (section.size, section.parts.as_slice()));
        let outlet = collector.fan.as_ref().and_then(|fan| fan.outlet());
        let outlet = outlet.map(|bore| (bore, [].as_slice()));
        Ok((
            runs(&collector.before, main, |run, part| Place::Before {
                run,
                part,
            })?,
            runs(&collector.after, outlet, |run, part| Place::After {
                run,
                part,
            })?,
        ))
    }

    /// The velocity pressure that is lost in the open.
    pub(super) fn exit(&self) -> Option<Element> {
        let collector = &self.system.collector;
        let last = collector.after.len().checked_sub(1);
        let (bore, place) = match last.and_then(|run| Some((run, collector.after.get(run)?))) {
            Some((run, last)) => (last.size, Place::After { run, part: None }),
            None => (collector.fan.as_ref()?.outlet()?, Place::Fan),
        };
        let q_m3s = self.point.flow.as_m3_s();
        Some(Element {
            kind: ElementKind::Exit,
            place,
            q_m3s,
            loss_pa: self.head_pa(bore, q_m3s),
            length_m: None,
        })
    }
}

fn kind_of(part: &Part) -> (ElementKind, Option<Length>) {
    match part {
        Part::Duct(length) => (ElementKind::Duct, Some(*length)),
        Part::Hose(hose) => (ElementKind::Hose, Some(hose.length)),
        Part::Elbow(_) => (ElementKind::Elbow, None),
        Part::Transition(_) => (ElementKind::Transition, None),
        Part::Gate(_) => (ElementKind::Gate, None),
        Part::Filter(_) => (ElementKind::Filter, None),
        Part::Separator(_) => (ElementKind::Separator, None),
        Part::Port(_) => (ElementKind::Port, None),
        Part::Silencer(_) => (ElementKind::Silencer, None),
        Part::K(_) => (ElementKind::Other, None),
    }
}
