//! The two public rule tables, row by row as their sources print them.

use super::super::source::{Source, Transcription};

pub(super) const WOOD: Source = Source::new(
    "TRGS 553 \"Holzstaub\", Annex 2, table of least flows at 20 m/s",
    Transcription::Read,
);

/// The third row of planers is printed with the limit of the second.
pub(super) const WOOD_WIDE_PLANER: Source = Source::new(
    "TRGS 553 \"Holzstaub\", Annex 2, third row of planers, whose limit is printed as \"< 520\" once \
     more, presumably for wider ones; an older edition has 1450 m3/h above 630 mm",
    Transcription::Read,
);

/// The first row of saws is printed with the wrong duct.
pub(super) const WOOD_SMALL_SAW: Source = Source::new(
    "TRGS 553 \"Holzstaub\", Annex 2, first row of saws; its duct is printed as 120 mm, but the flow \
     is that of 100 mm",
    Transcription::Read,
);

pub(super) const WOOD_PORT: Source = Source::new(
    "20 m/s in the port: the rule behind TRGS 553 \"Holzstaub\", Annex 2, and DGUV Information \
     209-044",
    Transcription::Read,
);

pub(super) const GRINDING: Source = Source::new(
    "29 CFR 1910.94(b)(3), Table G-4, grinding wheels; Cal/OSHA Title 8 section 5152",
    Transcription::ReadElsewhere,
);

pub(super) const BUFFING: Source = Source::new(
    "29 CFR 1910.94(b)(3), Table G-5, buffing and polishing wheels; Cal/OSHA Title 8 section 5152",
    Transcription::ReadElsewhere,
);

pub(super) const DISC: Source = Source::new(
    "29 CFR 1910.94(b)(3), Table G-6, horizontal single-spindle disc grinders; Cal/OSHA Title 8 \
     section 5152",
    Transcription::ReadElsewhere,
);

pub(super) const DOUBLE_DISC: Source = Source::new(
    "29 CFR 1910.94(b)(3), Table G-7, horizontal double-spindle disc grinders; the rows above 30 in \
     as in Cal/OSHA Title 8 section 5152",
    Transcription::ReadElsewhere,
);

pub(super) const VERTICAL_DISC: Source = Source::new(
    "29 CFR 1910.94(b)(3), table of vertical-spindle disc grinders; Cal/OSHA Title 8 section 5152",
    Transcription::ReadElsewhere,
);

pub(super) const BELT: Source = Source::new(
    "29 CFR 1910.94(b)(3), table of grinding and polishing belts; Cal/OSHA Title 8 section 5152 \
     (wider belts than 9 in were not seen)",
    Transcription::ReadElsewhere,
);

/// Largest diameter \[in\], then width \[in\] and flow \[cfm\].
pub(super) const GRINDING_WHEELS: [(f64, [f64; 2]); 6] = [
    (9.0, [1.5, 220.0]),
    (16.0, [2.0, 390.0]),
    (19.0, [3.0, 500.0]),
    (24.0, [4.0, 610.0]),
    (30.0, [5.0, 880.0]),
    (36.0, [6.0, 1200.0]),
];

/// The same of buffing wheels.
pub(super) const BUFFING_WHEELS: [(f64, [f64; 2]); 6] = [
    (9.0, [2.0, 300.0]),
    (16.0, [3.0, 500.0]),
    (19.0, [4.0, 610.0]),
    (24.0, [5.0, 740.0]),
    (30.0, [6.0, 1040.0]),
    (36.0, [6.0, 1200.0]),
];

/// Largest diameter \[in\] and flow \[cfm\].
pub(super) const DISCS: [(f64, f64); 4] =
    [(12.0, 220.0), (19.0, 390.0), (30.0, 610.0), (36.0, 880.0)];

/// Largest diameter \[in\] and flow \[cfm\].
pub(super) const DOUBLE_DISCS: [(f64, f64); 5] = [
    (19.0, 610.0),
    (25.0, 880.0),
    (30.0, 1200.0),
    (53.0, 1770.0),
    (72.0, 6280.0),
];

/// Largest diameter \[in\], then outlets and flow \[cfm\] of a covered disc.
pub(super) const COVERED_DISCS: [(f64, [f64; 2]); 4] = [
    (20.0, [1.0, 500.0]),
    (30.0, [2.0, 780.0]),
    (53.0, [2.0, 1770.0]),
    (72.0, [2.0, 3140.0]),
];

/// The same of one that is not covered.
pub(super) const OPEN_DISCS: [(f64, [f64; 2]); 4] = [
    (20.0, [2.0, 780.0]),
    (30.0, [2.0, 1480.0]),
    (53.0, [4.0, 3530.0]),
    (72.0, [5.0, 6010.0]),
];

/// Largest width \[in\] and flow \[cfm\].
pub(super) const BELTS: [(f64, f64); 4] = [(3.0, 220.0), (5.0, 300.0), (7.0, 390.0), (9.0, 500.0)];
