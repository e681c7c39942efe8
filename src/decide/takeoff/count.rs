//! Walks the model once and counts what it is built from.

use super::{
    Item, Joints, JunctionInlet, Quantity, ReducerShape, StockUse, Takeoff, TakeoffLine,
    TakeoffOptions,
    cutting::{self, Pieces},
    item::{ElbowShape, HoseMake, size_key},
};
use crate::{
    bore::Bore,
    loss::{HoseKind, Part, Transition, Wall},
    quantity::{Angle, Length},
    system::{Resolved, Start, System},
};
use std::collections::BTreeMap;

/// What a run ends in, as the joint after it sees it.
#[derive(Debug, Clone, Copy)]
struct Tail<'a> {
    size: Bore,
    is_hose: bool,
    /// The last part, where there is one: a vessel takes care of its own sizes.
    last: Option<&'a Part>,
}

/// The whole count of a checked system.
pub(super) fn count(system: &System, resolved: &Resolved, options: &TakeoffOptions) -> Takeoff {
    let mut count = Count {
        options,
        lengths_m: BTreeMap::new(),
        pieces: BTreeMap::new(),
        cuts: BTreeMap::new(),
        joints: BTreeMap::new(),
    };
    let topology = &resolved.topology;
    let mut tails: Vec<Option<Tail<'_>>> = vec![None; system.sections.len()];
    for &i in &topology.order {
        let Some(section) = system.sections.get(i) else {
            continue;
        };
        let inlets = topology.inlets.get(i).map_or(&[][..], Vec::as_slice);
        let solid = Tail::solid(section.size);
        let head = match section.start {
            Start::Hood(_) => Some(solid),
            Start::Capped | Start::Leak(_) => {
                count.piece(Item::Cap { size: section.size }, 1);
                Some(solid)
            }
            Start::Joins => count.head(system, inlets, section.size, &tails),
        };
        let tail = count.run(head, section.size, &section.wall, &section.parts);
        if let Some(slot) = tails.get_mut(i) {
            *slot = tail;
        }
    }
    let collector = &system.collector;
    let first = collector.before.first().map(|run| run.size);
    let mut tail = match (topology.mains.as_slice(), first) {
        ([only], _) => tails.get(*only).copied().flatten(),
        (mains, Some(outlet)) => count.head(system, mains, outlet, &tails),
        _ => None,
    };
    for run in &collector.before {
        tail = count.run(tail, run.size, &run.wall, &run.parts);
    }
    // Onto the fan's inlet, the size of which nobody tells: as the duct before it.
    if let Some(tail) = tail {
        count.joint(tail.size, tail.is_hose);
    }
    let outlet = collector.fan.as_ref().and_then(|fan| fan.outlet());
    let first = collector.after.first().map(|run| run.size);
    let mut tail = outlet.or(first).map(Tail::solid);
    for run in &collector.after {
        tail = count.run(tail, run.size, &run.wall, &run.parts);
    }
    count.finish()
}

impl Tail<'_> {
    /// Sheet metal of this size: a hood, a cap, a junction, the fan.
    fn solid(size: Bore) -> Self {
        Self {
            size,
            is_hose: false,
            last: None,
        }
    }
}

struct Count<'a> {
    options: &'a TakeoffOptions,
    /// What is bought by length \[m\].
    lengths_m: BTreeMap<Item, f64>,
    /// What is bought by the piece.
    pieces: BTreeMap<Item, i64>,
    /// Of each duct its stock length \[m\], whole lengths and cut pieces \[m\].
    cuts: BTreeMap<Item, (f64, i64, Vec<f64>)>,
    joints: BTreeMap<[i64; 3], Joints>,
}

impl Count<'_> {
    fn piece(&mut self, item: Item, pieces: i64) {
        *self.pieces.entry(item).or_insert(0) += pieces;
    }

    fn length(&mut self, item: Item, metres: f64) {
        *self.lengths_m.entry(item).or_insert(0.0) += metres;
    }

    fn joint(&mut self, size: Bore, with_hose: bool) {
        let [rigid, hose] = if with_hose { [0, 1] } else { [1, 0] };
        self.joints(Joints { size, rigid, hose });
    }

    fn joints(&mut self, more: Joints) {
        let joints = self.joints.entry(size_key(more.size));
        joints.or_insert(Joints::none(more.size)).add(&more, 1);
    }

    /// What enters a section or the collector: a junction where several do.
    fn head<'s>(
        &mut self,
        system: &System,
        inlets: &[usize],
        outlet: Bore,
        tails: &[Option<Tail<'s>>],
    ) -> Option<Tail<'s>> {
        if let [only] = inlets {
            return tails.get(*only).copied().flatten();
        }
        let mut meeting = Vec::with_capacity(inlets.len());
        for &i in inlets {
            let Some(section) = system.sections.get(i) else {
                continue;
            };
            meeting.push(JunctionInlet {
                size: section.size,
                angle: section.join.angle.unwrap_or(Angle::from_deg(0.0)),
            });
            if let Some(tail) = tails.get(i).copied().flatten() {
                self.joint(tail.size, tail.is_hose);
            }
        }
        let inlets = meeting;
        self.piece(Item::Junction { outlet, inlets }, 1);
        Some(Tail::solid(outlet))
    }

    /// The parts of a run of one size, after what it is joined to; returns its end.
    fn run<'p>(
        &mut self,
        mut tail: Option<Tail<'p>>,
        size: Bore,
        wall: &Wall,
        parts: &'p [Part],
    ) -> Option<Tail<'p>> {
        if let Some(before) = tail {
            let told = matches!(parts.first(), Some(Part::Transition(_)));
            let vessel = |part: Option<&Part>| part.is_some_and(Part::is_vessel);
            if !told && !vessel(parts.first()) && !vessel(before.last) {
                tail = Some(self.change(before, size, &Transition::Sharp));
            }
        }
        for part in parts {
            let fitting = |count: &mut Self, item: Item| {
                count.joint_after(tail, size, false);
                count.piece(item, 1);
                Tail::solid(size)
            };
            let end = match part {
                Part::Duct(length) => {
                    let pieces = self.duct(size, wall, length.as_m());
                    if pieces == 0 {
                        continue;
                    }
                    self.joint_after(tail, size, false);
                    let rigid = pieces - 1;
                    self.joints(Joints {
                        size,
                        rigid,
                        hose: 0,
                    });
                    Tail::solid(size)
                }
                Part::Hose(hose) => {
                    // A slack hose is longer than the way that it hangs.
                    let taut = match hose.kind {
                        HoseKind::Wire { compression } => 1.0 - compression,
                        _ => 1.0,
                    };
                    let make = HoseMake::from(&hose.kind);
                    self.length(Item::Hose { size, make }, hose.length.as_m() / taut);
                    self.joint_after(tail, size, true);
                    Tail {
                        is_hose: true,
                        ..Tail::solid(size)
                    }
                }
                Part::Transition(transition) => match tail {
                    Some(before) if size_key(before.size) != size_key(size) => {
                        self.change(before, size, transition)
                    }
                    // A change to its own size loses nothing, but somebody asked for the piece.
                    _ => fitting(
                        self,
                        Item::Reducer {
                            from: size,
                            to: size,
                            shape: ReducerShape::from(transition),
                        },
                    ),
                },
                Part::Elbow(elbow) => fitting(
                    self,
                    Item::Elbow {
                        size,
                        shape: ElbowShape::from(elbow),
                    },
                ),
                Part::Gate(_) => fitting(self, Item::Gate { size }),
                Part::Filter(_) => fitting(self, Item::Filter { size }),
                Part::Separator(_) => fitting(self, Item::Separator { size }),
                Part::Port(port) => fitting(
                    self,
                    Item::Port {
                        size,
                        port: port.size,
                    },
                ),
                Part::Silencer(_) => fitting(self, Item::Silencer { size }),
                Part::K(_) => fitting(self, Item::Other { size }),
            };
            tail = Some(end);
        }
        tail.map(|tail| Tail {
            size,
            last: parts.last(),
            ..tail
        })
    }

    /// A joint of this size, if anything stands before it.
    fn joint_after(&mut self, tail: Option<Tail<'_>>, size: Bore, hose: bool) {
        if let Some(tail) = tail {
            self.joint(size, hose || tail.is_hose);
        }
    }

    /// A change of size, where there is one.
    fn change<'p>(&mut self, before: Tail<'p>, size: Bore, transition: &Transition) -> Tail<'p> {
        if size_key(before.size) == size_key(size) {
            return before;
        }
        self.joint(before.size, before.is_hose);
        let item = Item::Reducer {
            from: before.size,
            to: size,
            shape: ReducerShape::from(transition),
        };
        self.piece(item, 1);
        Tail::solid(size)
    }

    /// Counts a length of duct and returns of how many pieces it is.
    fn duct(&mut self, size: Bore, wall: &Wall, length_m: f64) -> i64 {
        let item = Item::Duct { size, wall: *wall };
        let stock_m = self.options.stock_m(size, wall);
        let pieces = Pieces::of(length_m, stock_m);
        let cuts = self.cuts.entry(item.clone());
        let (_, whole, cuts) = cuts.or_insert((stock_m, 0, Vec::new()));
        *whole += pieces.whole;
        cuts.extend((pieces.cut_m > 0.0).then_some(pieces.cut_m));
        self.length(item, length_m);
        pieces.count()
    }

    fn finish(mut self) -> Takeoff {
        let joints: Vec<Joints> = std::mem::take(&mut self.joints).into_values().collect();
        for at in &joints {
            let rigid = at.rigid;
            let turns_m = self.options.seal * at.size.perimeter().as_m();
            self.piece(Item::Screw, rigid * self.options.screws_at(at.size));
            self.length(Item::Seal, rigid as f64 * turns_m);
            if at.hose > 0 {
                let clamps = at.hose * i64::from(self.options.clamps);
                self.piece(Item::Clamp { size: at.size }, clamps);
            }
        }
        let mut lines: Vec<TakeoffLine> = Vec::new();
        for (item, metres) in self.lengths_m {
            let stock = self.cuts.remove(&item).map(|(stock_m, whole, cuts)| {
                let bought = whole + cutting::stock_lengths(cuts, stock_m);
                StockUse {
                    length: Length::from_m(stock_m),
                    bought,
                    least: cutting::least(metres, stock_m).min(bought),
                    waste: Length::from_m((bought as f64 * stock_m - metres).max(0.0)),
                }
            });
            lines.push(TakeoffLine {
                item,
                quantity: Quantity::Length(Length::from_m(metres)),
                stock,
            });
        }
        lines.extend(self.pieces.into_iter().map(|(item, pieces)| TakeoffLine {
            item,
            quantity: Quantity::Pieces(pieces),
            stock: None,
        }));
        lines.sort_by(|a, b| a.item.cmp(&b.item));
        Takeoff { lines, joints }
    }
}
