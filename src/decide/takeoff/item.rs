//! What can stand on a list of material, and when two of them are the same thing to buy.

use crate::{
    bore::Bore,
    loss::{Elbow, HoseKind, Transition, Wall},
    quantity::{Angle, Length},
};
use std::{cmp::Ordering, fmt, hash};

/// A thing to buy, by what the buyer must say of it; also the key of a price.
///
/// Two items are one when a buyer could not tell them apart: sizes are compared to 0.01 mm, angles
/// to 0.01 deg, r/D to 0.001, and a rectangular size either way round.
///
/// ```
/// use airsplit::{Bore, Item, Length};
/// let six_inches = Item::Gate { size: Bore::Round(Length::from_in(6.0)) };
/// assert_eq!(six_inches, Item::Gate { size: Bore::Round(Length::from_mm(152.4)) });
/// assert_eq!(six_inches.to_string(), "gate 6 in");
/// ```
#[derive(Debug, Clone)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "snake_case", deny_unknown_fields)
)]
#[non_exhaustive]
pub enum Item {
    /// Straight rigid duct, by length.
    Duct {
        /// Inner size.
        size: Bore,
        /// Wall.
        wall: Wall,
    },
    /// Flexible hose, by length.
    Hose {
        /// Inner size.
        size: Bore,
        /// How it is made.
        make: HoseMake,
    },
    /// An elbow.
    Elbow {
        /// Inner size.
        size: Bore,
        /// Kind, radius and angle.
        shape: ElbowShape,
    },
    /// A wye, tee or inlet adapter: several inlets into one outlet.
    Junction {
        /// Size of the outlet.
        outlet: Bore,
        /// Its inlets; their order does not matter.
        inlets: Vec<JunctionInlet>,
    },
    /// A change of size, either way round.
    Reducer {
        /// One end.
        from: Bore,
        /// The other end.
        to: Bore,
        /// Step or cone.
        shape: ReducerShape,
    },
    /// A blast gate.
    Gate {
        /// Inner size.
        size: Bore,
    },
    /// A cap on the end of a branch kept for later, or on one that is closed but leaks.
    Cap {
        /// Inner size.
        size: Bore,
    },
    /// A separator.
    Separator {
        /// Size of the run that it stands in.
        size: Bore,
    },
    /// A filter.
    Filter {
        /// Size of the run that it stands in.
        size: Bore,
    },
    /// A silencer.
    Silencer {
        /// Size of the run that it stands in.
        size: Bore,
    },
    /// An adapter to a port of another size.
    Port {
        /// Size of the run that it stands in.
        size: Bore,
        /// Size of the port.
        port: Bore,
    },
    /// Something of which the document tells a loss coefficient and nothing else.
    Other {
        /// Size of the run that it stands in.
        size: Bore,
    },
    /// A hose clamp.
    Clamp {
        /// Inner size of the hose.
        size: Bore,
    },
    /// Screws or rivets, of all sizes.
    Screw,
    /// Tape or a bead of sealant, by length.
    Seal,
}

/// How a hose is made; slack and friction are no matter for the buyer.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "snake_case")
)]
#[non_exhaustive]
pub enum HoseMake {
    /// Film or fabric over a wire helix.
    Wire,
    /// Ribbed shop hose.
    Ribbed,
    /// Of rings or a helix of known pitch.
    Corrugated,
}

/// The shape of an elbow.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "snake_case", deny_unknown_fields)
)]
#[non_exhaustive]
pub enum ElbowShape {
    /// Known by its loss coefficient only.
    Untold,
    /// Of sheet-metal pieces.
    Gored {
        /// How many, both end pieces counted.
        pieces: u8,
        /// Radius of the centre line over the diameter.
        r_over_d: f64,
        /// Angle of the turn.
        angle: Angle,
    },
    /// Stamped of sheet metal.
    Stamped {
        /// Radius of the centre line over the diameter.
        r_over_d: f64,
        /// Angle of the turn.
        angle: Angle,
    },
    /// A smooth bend of pipe.
    Smooth {
        /// Radius of the centre line over the diameter.
        r_over_d: f64,
        /// Angle of the turn.
        angle: Angle,
    },
    /// One sharp joint.
    Mitre {
        /// Angle of the turn.
        angle: Angle,
    },
}

/// The shape of a change of size.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "snake_case", deny_unknown_fields)
)]
#[non_exhaustive]
pub enum ReducerShape {
    /// Known by its loss coefficient only.
    Untold,
    /// A step.
    Sharp,
    /// A cone.
    Cone {
        /// Total angle between opposite walls.
        angle: Angle,
    },
}

/// An inlet of a wye.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
pub struct JunctionInlet {
    /// Inner size.
    pub size: Bore,
    /// Angle to the axis of the outlet; 0 is straight on.
    pub angle: Angle,
}

impl Item {
    /// Whether it is bought by length; everything else is bought by the piece.
    #[must_use]
    pub fn is_by_length(&self) -> bool {
        matches!(self, Self::Duct { .. } | Self::Hose { .. } | Self::Seal)
    }

    /// What makes it the thing that it is, in whole numbers; also the order of a list: by kind,
    /// and within a kind the largest first.
    fn key(&self) -> Vec<i64> {
        let mut key = Vec::with_capacity(8);
        let bore = |key: &mut Vec<i64>, size: Bore| key.extend(size_key(size));
        let kind = match self {
            Self::Duct { size, wall } => {
                bore(&mut key, *size);
                let (rank, roughness) = wall_key(wall);
                key.extend([rank, roughness]);
                0
            }
            Self::Hose { size, make } => {
                bore(&mut key, *size);
                key.push(*make as i64);
                1
            }
            Self::Elbow { size, shape } => {
                bore(&mut key, *size);
                let degrees = |angle: Angle| -grid(angle.as_deg(), 100.0);
                let radius = |r: f64| grid(r, 1000.0);
                key.extend(match *shape {
                    ElbowShape::Untold => [4, 0, 0, 0],
                    ElbowShape::Gored {
                        pieces,
                        r_over_d,
                        angle,
                    } => [0, degrees(angle), radius(r_over_d), i64::from(pieces)],
                    ElbowShape::Stamped { r_over_d, angle } => {
                        [1, degrees(angle), radius(r_over_d), 0]
                    }
                    ElbowShape::Smooth { r_over_d, angle } => {
                        [2, degrees(angle), radius(r_over_d), 0]
                    }
                    ElbowShape::Mitre { angle } => [3, degrees(angle), 0, 0],
                });
                2
            }
            Self::Junction { outlet, inlets } => {
                bore(&mut key, *outlet);
                for inlet in sorted(inlets) {
                    key.push(grid(inlet.angle.as_deg(), 100.0));
                    bore(&mut key, inlet.size);
                }
                3
            }
            Self::Reducer { from, to, shape } => {
                let (larger, smaller) = by_area(*from, *to);
                bore(&mut key, larger);
                bore(&mut key, smaller);
                key.extend(match shape {
                    ReducerShape::Sharp => [0, 0],
                    ReducerShape::Cone { angle } => [1, grid(angle.as_deg(), 100.0)],
                    ReducerShape::Untold => [2, 0],
                });
                4
            }
            Self::Gate { size } => {
                bore(&mut key, *size);
                5
            }
            Self::Cap { size } => {
                bore(&mut key, *size);
                6
            }
            Self::Separator { size } => {
                bore(&mut key, *size);
                7
            }
            Self::Filter { size } => {
                bore(&mut key, *size);
                8
            }
            Self::Silencer { size } => {
                bore(&mut key, *size);
                9
            }
            Self::Port { size, port } => {
                bore(&mut key, *size);
                bore(&mut key, *port);
                10
            }
            Self::Other { size } => {
                bore(&mut key, *size);
                11
            }
            Self::Clamp { size } => {
                bore(&mut key, *size);
                12
            }
            Self::Screw => 13,
            Self::Seal => 14,
        };
        key.insert(0, kind);
        key
    }
}

/// A number on a grid of `1 / per_unit`.
///
/// The edges of the grid lie off the middle: eighths and sixteenths of an inch fall on the middle
/// of many decimal grids, where their last bit would decide.
fn grid(value: f64, per_unit: f64) -> i64 {
    (value * per_unit + 0.37).floor() as i64
}

fn length(length: Length) -> i64 {
    grid(length.as_mm(), 100.0)
}

/// By what sizes are told apart; larger ones come before smaller ones.
pub(super) fn size_key(size: Bore) -> [i64; 3] {
    match size {
        Bore::Round(diameter) => [0, -length(diameter), 0],
        Bore::Rectangular { width, height } => {
            let (a, b) = (length(width), length(height));
            [1, -a.max(b), -a.min(b)]
        }
    }
}

/// The larger and the smaller of two sizes.
fn by_area(a: Bore, b: Bore) -> (Bore, Bore) {
    // Of equal areas the order of the keys decides, so that either way round is one item.
    let order = b.area().as_m2().total_cmp(&a.area().as_m2());
    match order.then_with(|| size_key(a).cmp(&size_key(b))) {
        Ordering::Greater => (b, a),
        _ => (a, b),
    }
}

/// The straight inlet first, then by angle and size.
fn sorted(inlets: &[JunctionInlet]) -> Vec<JunctionInlet> {
    let mut inlets = inlets.to_vec();
    inlets.sort_by_key(|inlet| (grid(inlet.angle.as_deg(), 100.0), size_key(inlet.size)));
    inlets
}

fn wall_key(wall: &Wall) -> (i64, i64) {
    match wall {
        Wall::DrawnTube => (0, 0),
        Wall::SmoothPlastic => (1, 0),
        Wall::Steel => (2, 0),
        Wall::Aluminium => (3, 0),
        Wall::Galvanised => (4, 0),
        Wall::Spiral => (5, 0),
        Wall::RibbedSpiral => (6, 0),
        Wall::RectangularGalvanised => (7, 0),
        Wall::CorrugatedSpiral => (8, 0),
        Wall::Concrete => (9, 0),
        // A roughness is told finer than a size.
        Wall::Roughness(own) => (10, grid(own.as_mm(), 1e5)),
    }
}

impl PartialEq for Item {
    fn eq(&self, other: &Self) -> bool {
        self.key() == other.key()
    }
}

impl Eq for Item {}

impl PartialOrd for Item {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

/// By kind in the order of the variants, and within a kind the largest first.
impl Ord for Item {
    fn cmp(&self, other: &Self) -> Ordering {
        self.key().cmp(&other.key())
    }
}

impl hash::Hash for Item {
    fn hash<H: hash::Hasher>(&self, state: &mut H) {
        self.key().hash(state);
    }
}

impl From<&HoseKind> for HoseMake {
    fn from(kind: &HoseKind) -> Self {
        match kind {
            HoseKind::Wire { .. } => Self::Wire,
            HoseKind::Ribbed { .. } => Self::Ribbed,
            HoseKind::Corrugated { .. } => Self::Corrugated,
        }
    }
}

impl From<&Elbow> for ElbowShape {
    fn from(elbow: &Elbow) -> Self {
        match *elbow {
            Elbow::K(_) => Self::Untold,
            Elbow::Gored {
                pieces,
                r_over_d,
                angle,
            } => Self::Gored {
                pieces,
                r_over_d,
                angle,
            },
            Elbow::Stamped { r_over_d, angle } => Self::Stamped { r_over_d, angle },
            Elbow::Smooth { r_over_d, angle } => Self::Smooth { r_over_d, angle },
            Elbow::Mitre { angle } => Self::Mitre { angle },
        }
    }
}

impl From<&Transition> for ReducerShape {
    fn from(transition: &Transition) -> Self {
        match *transition {
            Transition::Sharp => Self::Sharp,
            Transition::Cone { angle } => Self::Cone { angle },
            Transition::K(_) => Self::Untold,
        }
    }
}

/// A size as people say it: below a metre in millimetres or inches, whichever is shorter.
struct Size(Bore);

impl fmt::Display for Size {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let side = |side: Length| {
            let shortest = side.to_string();
            if shortest.ends_with(" m") && side.as_m() < 1.0 {
                format!("{} mm", (side.as_mm() * 100.0).round() / 100.0)
            } else {
                shortest
            }
        };
        match self.0 {
            Bore::Round(diameter) => f.write_str(&side(diameter)),
            Bore::Rectangular { width, height } => {
                write!(f, "{} x {}", side(width), side(height))
            }
        }
    }
}

/// `duct 160 mm spiral`, `elbow 120 mm stamped r/D 1.5 90 deg`.
impl fmt::Display for Item {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let text = match self {
            Self::Duct { size, wall } => format!("duct {} {}", Size(*size), wall_text(wall)),
            Self::Hose { size, make } => {
                let make = match make {
                    HoseMake::Wire => "wire",
                    HoseMake::Ribbed => "ribbed",
                    HoseMake::Corrugated => "corrugated",
                };
                format!("hose {} {make}", Size(*size))
            }
            Self::Elbow { size, shape } => format!("elbow {} {shape}", Size(*size)),
            Self::Junction { outlet, inlets } => {
                let inlets: Vec<_> = sorted(inlets).iter().map(ToString::to_string).collect();
                format!("wye {} from {}", Size(*outlet), inlets.join(" + "))
            }
            Self::Reducer { from, to, shape } => {
                let (larger, smaller) = by_area(*from, *to);
                format!("reducer {} to {}, {shape}", Size(larger), Size(smaller))
            }
            Self::Gate { size } => format!("gate {}", Size(*size)),
            Self::Cap { size } => format!("cap {}", Size(*size)),
            Self::Separator { size } => format!("separator in {}", Size(*size)),
            Self::Filter { size } => format!("filter in {}", Size(*size)),
            Self::Silencer { size } => format!("silencer in {}", Size(*size)),
            Self::Port { size, port } => {
                format!("port adapter {} to {}", Size(*size), Size(*port))
            }
            Self::Other { size } => format!("fitting in {}, of known loss only", Size(*size)),
            Self::Clamp { size } => format!("hose clamp {}", Size(*size)),
            Self::Screw => "screws or rivets".into(),
            Self::Seal => "tape or sealant".into(),
        };
        f.pad(&text)
    }
}

impl fmt::Display for ElbowShape {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Untold => f.write_str("of untold kind"),
            Self::Gored {
                pieces,
                r_over_d,
                angle,
            } => write!(f, "of {pieces} pieces, r/D {r_over_d}, {angle}"),
            Self::Stamped { r_over_d, angle } => write!(f, "stamped, r/D {r_over_d}, {angle}"),
            Self::Smooth { r_over_d, angle } => write!(f, "smooth, r/D {r_over_d}, {angle}"),
            Self::Mitre { angle } => write!(f, "mitred, {angle}"),
        }
    }
}

impl fmt::Display for ReducerShape {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Untold => f.write_str("of untold shape"),
            Self::Sharp => f.write_str("step"),
            Self::Cone { angle } => write!(f, "cone of {angle}"),
        }
    }
}

/// `140 mm at 45 deg`; straight on has no angle.
impl fmt::Display for JunctionInlet {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        Size(self.size).fmt(f)?;
        if self.angle.as_deg() == 0.0 {
            Ok(())
        } else {
            write!(f, " at {}", self.angle)
        }
    }
}

fn wall_text(wall: &Wall) -> String {
    match wall {
        Wall::DrawnTube => "drawn tube".into(),
        Wall::SmoothPlastic => "plastic".into(),
        Wall::Steel => "steel".into(),
        Wall::Aluminium => "aluminium".into(),
        Wall::Galvanised => "galvanised".into(),
        Wall::Spiral => "spiral".into(),
        Wall::RibbedSpiral => "ribbed spiral".into(),
        Wall::RectangularGalvanised => "galvanised".into(),
        Wall::CorrugatedSpiral => "corrugated spiral".into(),
        Wall::Concrete => "concrete".into(),
        Wall::Roughness(own) => format!("of roughness {own}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn round(mm: f64) -> Bore {
        Bore::Round(Length::from_mm(mm))
    }

    fn inlet(mm: f64, deg: f64) -> JunctionInlet {
        JunctionInlet {
            size: round(mm),
            angle: Angle::from_deg(deg),
        }
    }

    #[test]
    fn prop_sixteenths_of_an_inch_are_one_size_however_they_were_made() {
        for n in 1..2000 {
            let inches = f64::from(n) / 16.0;
            let size = |length| Item::Gate {
                size: Bore::Round(length),
            };
            let ways = [
                size(Length::from_in(inches)),
                size(Length::from_mm(inches * 25.4)),
                size(Length::from_m(inches * 25.4 / 1000.0)),
                size(Length::from_ft(inches / 12.0)),
            ];
            assert!(ways.iter().all(|way| *way == ways[0]), "{inches}");
            let next = size(Length::from_in(inches + 0.001));
            assert!(next != ways[0], "{inches}");
        }
    }

    #[test]
    fn prop_a_wye_is_one_however_its_inlets_are_listed_and_a_reducer_either_way() {
        let wye = |inlets: [JunctionInlet; 3]| Item::Junction {
            outlet: round(180.0),
            inlets: inlets.into(),
        };
        let [a, b, c] = [inlet(160.0, 0.0), inlet(140.0, 45.0), inlet(100.0, 45.0)];
        assert_eq!(wye([a, b, c]), wye([c, a, b]));
        assert_ne!(wye([a, b, c]), wye([a, b, b]));
        let reducer = |from, to| Item::Reducer {
            from,
            to,
            shape: ReducerShape::Sharp,
        };
        assert_eq!(
            reducer(round(100.0), round(120.0)),
            reducer(round(120.0), round(100.0))
        );
        let flat = |w, h| Bore::Rectangular {
            width: Length::from_mm(w),
            height: Length::from_mm(h),
        };
        assert_eq!(
            reducer(flat(100.0, 400.0), flat(200.0, 200.0)),
            reducer(flat(200.0, 200.0), flat(400.0, 100.0))
        );
    }

    #[test]
    fn items_speak_plainly() {
        let items = [
            Item::Duct {
                size: round(160.0),
                wall: Wall::Spiral,
            },
            Item::Elbow {
                size: Bore::Round(Length::from_in(5.0)),
                shape: ElbowShape::Gored {
                    pieces: 5,
                    r_over_d: 1.5,
                    angle: Angle::from_deg(90.0),
                },
            },
            Item::Junction {
                outlet: round(180.0),
                inlets: vec![inlet(140.0, 45.0), inlet(160.0, 0.0)],
            },
            Item::Reducer {
                from: round(100.0),
                to: round(120.0),
                shape: ReducerShape::Sharp,
            },
        ];
        insta::assert_snapshot!(items.map(|item| item.to_string()).join("\n"), @r"
        duct 160 mm spiral
        elbow 5 in of 5 pieces, r/D 1.5, 90 deg
        wye 180 mm from 160 mm + 140 mm at 45 deg
        reducer 120 mm to 100 mm, step
        ");
    }

    #[test]
    fn larger_items_come_first() {
        let duct = |size| Item::Duct {
            size,
            wall: Wall::Galvanised,
        };
        let round = |mm| Bore::Round(Length::from_mm(mm));
        let flat = |width, height| Bore::Rectangular {
            width: Length::from_mm(width),
            height: Length::from_mm(height),
        };
        let sizes = [
            round(160.0),
            round(125.0),
            flat(300.0, 200.0),
            flat(300.0, 100.0),
            flat(200.0, 150.0),
        ];
        for pair in sizes.windows(2) {
            assert!(duct(pair[0]) < duct(pair[1]), "{pair:?}");
        }
        // Either way round.
        assert_eq!(duct(flat(300.0, 200.0)), duct(flat(200.0, 300.0)));
        let elbow = |degrees| Item::Elbow {
            size: round(125.0),
            shape: ElbowShape::from(&crate::Elbow::Smooth {
                r_over_d: 1.5,
                angle: Angle::from_deg(degrees),
            }),
        };
        assert!(elbow(90.0) < elbow(45.0) && elbow(45.0) < elbow(30.0));
    }

    #[test]
    fn every_wall_is_a_duct_of_its_own() {
        let walls = [
            Wall::DrawnTube,
            Wall::SmoothPlastic,
            Wall::Steel,
            Wall::Aluminium,
            Wall::Galvanised,
            Wall::Spiral,
            Wall::RibbedSpiral,
            Wall::RectangularGalvanised,
            Wall::CorrugatedSpiral,
            Wall::Concrete,
            Wall::Roughness(Length::from_mm(0.1)),
            Wall::Roughness(Length::from_mm(0.1001)),
        ];
        let ducts = walls.map(|wall| Item::Duct {
            size: Bore::Round(Length::from_mm(125.0)),
            wall,
        });
        for pair in ducts.windows(2) {
            assert!(pair[0] < pair[1], "{pair:?}");
        }
    }

    /// Off the middle: what lies there in inches goes one way, whatever its last bit.
    #[test]
    fn val_a_grid_by_hand() {
        let of = [0.0, 0.5, 0.62, 0.64, 1.0, 1.62, -0.36, -0.38].map(|value| grid(value, 1.0));
        assert_eq!(of, [0, 0, 0, 1, 1, 1, 0, -1]);
        // An eighth of an inch is 3.175 mm.
        let bits = 3.175_f64.to_bits();
        let near = [bits - 1, bits, bits + 1].map(|bits| grid(f64::from_bits(bits), 100.0));
        assert_eq!(near, [317; 3]);
    }

    #[test]
    fn items_hash_as_they_compare() {
        use std::hash::{BuildHasher, RandomState};
        let state = RandomState::new();
        let gate = |mm| Item::Gate {
            size: Bore::Round(Length::from_mm(mm)),
        };
        assert_eq!(state.hash_one(gate(100.0)), state.hash_one(gate(100.001)));
        assert_ne!(state.hash_one(gate(100.0)), state.hash_one(gate(125.0)));
    }

    #[test]
    fn sizes_are_told_as_people_say_them() {
        let round = |mm| Size(Bore::Round(Length::from_mm(mm))).to_string();
        assert_eq!([round(1000.0), round(180.0)], ["1 m", "180 mm"]);
    }
}
