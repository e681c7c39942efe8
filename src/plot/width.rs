//! How wide a text comes out, without a font to ask, and how it is cut to fit.
//!
//! A picture is laid out before anybody knows with which font it will be drawn. So every text is
//! taken to be as wide as in a wide one: advances of DejaVu Sans and DejaVu Sans Bold 2.37 (its
//! `hmtx` table, in thousandths of the size, rounded up). The usual sans-serif fonts are narrower.
//! What this table does not list is taken wide. Nothing is imported here: the tests read this very
//! file.

/// Advances of the characters from space to tilde.
const REGULAR: [u16; 95] = [
    318, 401, 460, 838, 637, 951, 780, 275, 391, 391, 500, 838, 318, 361, 318, 337, 637, 637, 637,
    637, 637, 637, 637, 637, 637, 637, 337, 337, 838, 838, 838, 531, 1000, 685, 687, 699, 771, 632,
    576, 775, 752, 295, 295, 656, 558, 863, 749, 788, 604, 788, 695, 635, 611, 732, 685, 989, 686,
    611, 686, 391, 337, 391, 838, 500, 500, 613, 635, 550, 635, 616, 353, 635, 634, 278, 278, 580,
    278, 975, 634, 612, 635, 635, 412, 521, 393, 634, 592, 818, 592, 592, 525, 637, 337, 637, 838,
];
const BOLD: [u16; 95] = [
    349, 457, 521, 838, 696, 1002, 873, 307, 458, 458, 523, 838, 380, 416, 380, 366, 696, 696, 696,
    696, 696, 696, 696, 696, 696, 696, 400, 400, 838, 838, 838, 581, 1000, 774, 763, 734, 831, 684,
    684, 821, 837, 373, 373, 775, 638, 996, 837, 851, 733, 851, 771, 721, 683, 813, 774, 1104, 771,
    725, 726, 458, 366, 458, 838, 500, 500, 675, 716, 593, 716, 679, 436, 716, 712, 343, 343, 666,
    343, 1042, 712, 688, 716, 716, 494, 596, 479, 712, 652, 924, 646, 652, 583, 712, 366, 712, 838,
];

/// What stands for the middle of a text that was cut.
const ELLIPSIS: char = '…';

/// Whether a character adds nothing to the width: it sits on the one before it, or only joins.
fn clings(c: char) -> bool {
    matches!(u32::from(c),
        0x0300..=0x036f | 0x0483..=0x0489 | 0x0591..=0x05bd | 0x0610..=0x061a | 0x064b..=0x065f
        | 0x200b..=0x200f | 0x20d0..=0x20f0 | 0x2066..=0x2069 | 0xfe00..=0xfe0f | 0xfe20..=0xfe2f
        | 0xe0000..=0xe01ef)
}

/// Advance of one character in thousandths of the size.
fn advance(c: char, bold: bool) -> u16 {
    let table = if bold { &BOLD } else { &REGULAR };
    let code = u32::from(c);
    let index = code.checked_sub(0x20).and_then(|i| usize::try_from(i).ok());
    if let Some(&width) = index.and_then(|i| table.get(i)) {
        return width;
    }
    match c {
        _ if clings(c) => 0,
        '·' => 380,
        '²' | '³' => 440,
        '°' | '–' => 500,
        '±' | '×' | '−' | '≤' | '≥' | '→' => 838,
        'æ' | 'Æ' => 1100,
        'ß'..='ÿ' => 740,
        'À'..='Þ' => 860,
        ELLIPSIS | '—' => 1000,
        // Hebrew, then Arabic.
        '\u{5d0}'..='\u{5ea}' => 800,
        '\u{620}'..='\u{64a}' => 1000,
        // Ideographs, emoji and all that lies beyond.
        _ if code >= 0x1100 => 1300,
        _ => 1250,
    }
}

/// Width of a text of this size, in the unit of the size.
pub(super) fn width(text: &str, size: f64, bold: bool) -> f64 {
    let advances = text.chars().map(|c| f64::from(advance(c, bold)));
    size * advances.sum::<f64>() / 1000.0
}

/// How far a text of this size reaches above its base line, accents among it.
pub(super) fn rise(size: f64) -> f64 {
    0.94 * size
}

/// How far it reaches below.
pub(super) fn fall(size: f64) -> f64 {
    0.24 * size
}

/// The text, or where it is wider than `room` its start and its end with an ellipsis between; where
/// not even that fits, nothing.
pub(super) fn fit(text: &str, size: f64, bold: bool, room: f64) -> String {
    if width(text, size, bold) <= room {
        return text.to_owned();
    }
    let dots = width("…", size, bold);
    if dots > room {
        return String::new();
    }
    // Characters with what clings to them stay together.
    let mut pieces: Vec<String> = Vec::new();
    for c in text.chars() {
        match pieces.last_mut() {
            Some(piece) if clings(c) || piece.ends_with('\u{200d}') => piece.push(c),
            _ => pieces.push(c.to_string()),
        }
    }
    let (mut head, mut tail) = (String::new(), String::new());
    let mut left = room - dots;
    let mut ends = pieces.iter();
    // In turn, the start first: it tells more.
    for from_start in [true, false].into_iter().cycle() {
        let next = if from_start {
            ends.next()
        } else {
            ends.next_back()
        };
        let Some(piece) = next else { break };
        left -= width(piece, size, bold);
        if left < 0.0 {
            break;
        }
        if from_start {
            head.push_str(piece);
        } else {
            tail.insert_str(0, piece);
        }
    }
    format!("{}{ELLIPSIS}{}", head.trim_end(), tail.trim_start())
}
