//! Pictures are sound documents in which no text touches another or the edge, whatever the shop is
//! and whatever its machines are called.
#![allow(
    clippy::expect_used,
    clippy::unwrap_used,
    clippy::panic,
    reason = "a test that cannot go on must stop"
)]

#[allow(dead_code, reason = "only what measures text is asked")]
#[path = "../../src/plot/width.rs"]
mod width;

use crate::common::random::{Junctions, Recipe, Rng};
use airsplit::{
    Bore, Budget, Change, Length, Machine, MeasuredPredicted, Money, Name, Network, OpenSet,
    OperatingPoint, PlotError, PlotOptions, PlottedPoint, PlottedQuantity, PlottedSet, Pressure,
    Section, Start, Status, System, TransportLimits, UnitSystem, Upgrade, Velocity, VolumeFlow,
    Wall, fan_and_system_svg, machines_svg, measured_against_predicted_svg, path_pressure_svg,
    rank_upgrades, tree_svg, upgrades_svg,
};
use proptest::prelude::*;

/// An element of a document with what stands in it.
#[derive(Debug, Default)]
struct Element {
    name: String,
    attributes: Vec<(String, String)>,
    text: String,
    children: Vec<Element>,
}

impl Element {
    fn get(&self, name: &str) -> Option<&str> {
        let found = self.attributes.iter().find(|(own, _)| own == name);
        found.map(|(_, value)| value.as_str())
    }

    fn number(&self, name: &str) -> f64 {
        let text = self.get(name).unwrap_or_else(|| panic!("no {name}"));
        text.parse().unwrap_or_else(|_| panic!("{name}={text:?}"))
    }

    fn all(&self) -> Vec<&Element> {
        let below = self.children.iter().flat_map(Element::all);
        std::iter::once(self).chain(below).collect()
    }
}

/// Reads a document of elements, attributes and text; whatever is not well formed ends the test.
///
/// By the productions 1, 2, 14, 39 to 43, 66 and 68 of W3C, Extensible Markup Language (XML) 1.0,
/// fifth edition (from memory), as far as they are used here: no comments, no declarations.
fn read(svg: &str) -> Element {
    let allowed = |c: char| {
        matches!(c, '\t' | '\n' | '\r' | '\u{20}'..='\u{d7ff}' | '\u{e000}'..='\u{fffd}')
            || c >= '\u{10000}'
    };
    assert!(svg.chars().all(allowed), "a character that XML forbids");
    let mut open: Vec<Element> = vec![Element::default()];
    let mut rest = svg;
    while let Some(at) = rest.find('<') {
        let text = resolved(&rest[..at]);
        open.last_mut().unwrap().text.push_str(&text);
        let end = rest.find('>').expect("a tag that does not end");
        let tag = &rest[at + 1..end];
        rest = &rest[end + 1..];
        if let Some(name) = tag.strip_prefix('/') {
            let done = open.pop().unwrap();
            assert_eq!(done.name, name, "closes another element");
            open.last_mut()
                .expect("closes too much")
                .children
                .push(done);
            continue;
        }
        let (tag, closed) = match tag.strip_suffix('/') {
            Some(tag) => (tag, true),
            None => (tag, false),
        };
        let element = opened(tag);
        if closed {
            open.last_mut().unwrap().children.push(element);
        } else {
            open.push(element);
        }
    }
    assert!(rest.trim().is_empty(), "text behind the end");
    assert_eq!(
        open.len(),
        1,
        "not closed: {:?}",
        open.last().map(|e| &e.name)
    );
    let mut document = open.pop().unwrap();
    assert_eq!(document.children.len(), 1, "one root");
    document.children.pop().unwrap()
}

fn opened(tag: &str) -> Element {
    let (name, mut rest) = tag.split_once(' ').unwrap_or((tag, ""));
    assert!(name.chars().all(|c| c.is_ascii_alphanumeric()), "{name:?}");
    let mut attributes: Vec<(String, String)> = Vec::new();
    while !rest.trim().is_empty() {
        let (key, after) = rest.trim_start().split_once("=\"").expect("no value");
        let (value, after) = after.split_once('"').expect("no end of a value");
        let fine = key.chars().all(|c| c.is_ascii_alphanumeric() || c == '-');
        assert!(fine && !key.is_empty(), "{key:?}");
        assert!(attributes.iter().all(|(own, _)| own != key), "{key} twice");
        assert!(!value.contains('<'), "{value:?}");
        attributes.push((key.into(), resolved(value)));
        assert!(after.is_empty() || after.starts_with(' '), "{after:?}");
        rest = after;
    }
    Element {
        name: name.into(),
        attributes,
        ..Element::default()
    }
}

fn resolved(text: &str) -> String {
    let mut out = String::new();
    let mut rest = text;
    while let Some((before, after)) = rest.split_once('&') {
        out.push_str(before);
        let (entity, after) = after.split_once(';').expect("a bare ampersand");
        out.push(match entity {
            "amp" => '&',
            "lt" => '<',
            "gt" => '>',
            "quot" => '"',
            "#39" => '\'',
            other => panic!("&{other};"),
        });
        rest = after;
    }
    out.push_str(rest);
    out
}

/// Left, top, right and bottom of a text, by the table that the pictures are laid out with.
fn extent(text: &Element) -> [f64; 4] {
    let size = text.number("font-size");
    let bold = text.get("font-weight") == Some("bold");
    let w = width::width(&text.text, size, bold);
    let x = match text.get("text-anchor") {
        None => text.number("x"),
        Some("middle") => text.number("x") - w / 2.0,
        Some("end") => text.number("x") - w,
        Some(other) => panic!("anchor {other}"),
    };
    let y = text.number("y");
    [x, y - width::rise(size), x + w, y + width::fall(size)]
}

/// Everything that is promised of every picture.
fn assert_sound(svg: &str) {
    let root = read(svg);
    assert_eq!(root.name, "svg");
    assert_eq!(root.get("role"), Some("img"));
    let ids: Vec<_> = root.get("aria-labelledby").unwrap().split(' ').collect();
    for (name, id) in ["title", "desc"].into_iter().zip(ids) {
        let child = root.children.iter().find(|child| child.name == name);
        let child = child.unwrap_or_else(|| panic!("no {name}"));
        assert_eq!(child.get("id"), Some(id));
        assert!(!child.text.trim().is_empty(), "{name} is empty");
    }
    let (w, h) = (root.number("width"), root.number("height"));
    assert!((320.0..=40_000.0).contains(&w) && (20.0..=40_000.0).contains(&h));
    let all = root.all();
    for element in &all {
        for (key, value) in &element.attributes {
            let numbers = value.split([' ', ',', '(', ')']);
            for number in numbers.filter_map(|n| n.parse::<f64>().ok()) {
                assert!(number.is_finite(), "{key}={value:?}");
            }
            assert!(key == "id" || key == "aria-labelledby" || !value.contains("NaN"));
        }
    }
    let texts: Vec<_> = all
        .iter()
        .filter(|element| element.name == "text")
        .collect();
    assert!(texts.len() > 2, "hardly any text");
    let boxes: Vec<_> = texts
        .iter()
        .map(|text| (&text.text, extent(text)))
        .collect();
    let slack = 0.02;
    for (i, (text, a)) in boxes.iter().enumerate() {
        let inside = a[0] >= -slack && a[1] >= -slack && a[2] <= w + slack && a[3] <= h + slack;
        assert!(inside, "{text:?} at {a:?} is cut by the edge of {w} by {h}");
        for (other, b) in &boxes[i + 1..] {
            let apart = a[2] <= b[0] + slack
                || b[2] <= a[0] + slack
                || a[3] <= b[1] + slack
                || b[3] <= a[1] + slack;
            assert!(apart, "{text:?} at {a:?} touches {other:?} at {b:?}");
        }
    }
}

/// Draws twice: the same input gives the same bytes.
fn sound(draw: impl Fn() -> Result<String, PlotError>) -> Result<String, PlotError> {
    let svg = draw()?;
    assert_eq!(draw().as_ref(), Ok(&svg));
    assert_sound(&svg);
    Ok(svg)
}

/// Parts of names: plain, hostile to XML, wide, from the right, without width, and far too long.
const WORDS: [&str; 14] = [
    "planer",
    "saw",
    "\"the\" <old> & 'new'",
    "🪚",
    "👩‍🏭🏽",
    "מסור",
    "منشار",
    "Säge",
    "鋸",
    "]]>",
    "\u{202e}\u{0}\u{1b}",
    "e\u{301}\u{323}",
    "WWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWW",
    "in the far corner behind the oven, next to the window that never shuts",
];

fn name(rng: &mut Rng, i: usize) -> Name {
    let words: Vec<_> = (0..rng.below(6)).map(|_| rng.pick(&WORDS)).collect();
    // Some are told apart by an end that has no width, and some have nothing to show at all.
    format!("{}\u{202e}{}", words.join(" "), "\u{200b}".repeat(i)).into()
}

/// A random shop of so many hoods, each at a machine of its own with a random name.
fn shop(recipe: Recipe) -> System {
    let mut rng = Rng(recipe.seed ^ 0x9e1c);
    let mut system = recipe.system();
    let (mut i, mut machines) = (0, Vec::new());
    for section in &mut system.sections {
        if let Start::Hood(hood) = &mut section.start {
            hood.id = name(&mut rng, i);
            let machine = name(&mut rng, i);
            let required = VolumeFlow::from_m3_h(rng.pick(&[0.0, 1.0, 400.0, 1200.0]));
            hood.required = rng.chance(0.3).then_some(required);
            hood.machine = Some(machine.clone());
            machines.push(Machine {
                id: machine,
                required,
            });
            i += 1;
        }
    }
    system.machines = machines;
    system
}

fn open(recipe: Recipe, network: &Network) -> OpenSet {
    let mut rng = Rng(recipe.seed ^ 0x0be7);
    let share = rng.pick(&[0.1, 0.5, 1.0]);
    let hoods: Vec<_> = network.hoods().cloned().collect();
    let mut names: Vec<_> = hoods.iter().filter(|_| rng.chance(share)).collect();
    if names.is_empty() {
        names.extend(hoods.first());
    }
    // By hood: machines and hoods may share names.
    network.open(names).unwrap()
}

fn options() -> impl Strategy<Value = PlotOptions> {
    let units = prop_oneof![Just(UnitSystem::Metric), Just(UnitSystem::Us)];
    (320..1500_u32, 320..900_u32, units, any::<bool>()).prop_map(|(w, h, units, titled)| {
        let options = PlotOptions::new().with_size(w, h).with_units(units);
        if titled {
            options.with_title(WORDS.concat())
        } else {
            options
        }
    })
}

fn recipes() -> impl Strategy<Value = Recipe> {
    (1..=20_usize, any::<u64>()).prop_map(|(hoods, seed)| Recipe {
        hoods,
        seed,
        junctions: Junctions::Momentum,
    })
}

fn solved(recipe: Recipe) -> (System, Network, OpenSet, OperatingPoint) {
    let system = shop(recipe);
    let network = Network::new(&system).unwrap();
    let open = open(recipe, &network);
    let point = network.operating_point(&open).unwrap();
    (system, network, open, point)
}

fn budgets_of(system: &System, point: &OperatingPoint) -> Vec<airsplit::PathBudget> {
    let budget = Budget::new(system, point).unwrap();
    let open = point.hoods.iter().filter(|hood| hood.open);
    open.filter_map(|hood| budget.path(hood.name.as_str()).ok())
        .take(3)
        .collect()
}

proptest! {
    #[test]
    fn prop_random_shops_are_drawn_soundly(recipe in recipes(), options in options()) {
        let (system, network, open, point) = solved(recipe);
        let doubts = network.doubts(&[]);
        let sure = network.uncertainty(&open, &doubts).ok();
        sound(|| machines_svg(&point, sure.as_ref(), &options)).unwrap();
        let limits = TransportLimits::new(Velocity::from_m_s(20.0));
        sound(|| tree_svg(&system, &point, &limits, &options)).unwrap();

        let mut rng = Rng(recipe.seed);
        let mut sets = vec![PlottedSet::solve(name(&mut rng, 0), &network, &open, &doubts).unwrap()];
        for hood in network.hoods().take(4) {
            let alone = network.open([hood]).unwrap();
            sets.push(PlottedSet::solve(hood.clone(), &network, &alone, &[]).unwrap());
        }
        let read: Vec<_> = (0..rng.below(5))
            .map(|i| {
                let (flow, pressure) = (rng.between(0.5, 1.5), rng.between(0.5, 1.5));
                PlottedPoint::new(name(&mut rng, i), flow * point.flow, pressure * point.fan.curve_pressure)
                    .give_or_take(0.02 * point.flow, 0.01 * point.fan.curve_pressure)
            })
            .collect();
        sound(|| fan_and_system_svg(&system, &sets, &read, &options)).unwrap();

        let paths = budgets_of(&system, &point);
        let layouts: Vec<_> = paths.iter().map(|path| (path.hood.as_str(), path)).collect();
        if !layouts.is_empty() {
            sound(|| path_pressure_svg(&layouts, &options)).unwrap();
        }

        let pairs: Vec<_> = point
            .hoods
            .iter()
            .map(|hood| {
                let (flow, suction) = (hood.flow.as_m3_s(), hood.static_pressure.as_pa());
                let (quantity, value) = rng.pick(&[
                    (PlottedQuantity::Flow, flow),
                    (PlottedQuantity::Pressure, suction),
                ]);
                let off = rng.between(0.8, 1.2);
                MeasuredPredicted::new(hood.name.clone(), quantity, off * value, value)
                    .give_or_take(rng.between(0.0, 0.1) * value.abs(), 0.0)
            })
            .collect();
        sound(|| measured_against_predicted_svg(&pairs, &options)).unwrap();
    }

    #[test]
    fn prop_upgrades_are_drawn_soundly(recipe in recipes(), options in options()) {
        let (system, _, _, point) = solved(recipe);
        let mut rng = Rng(recipe.seed);
        let upgrades: Vec<_> = system
            .sections
            .iter()
            .take(4)
            .enumerate()
            .map(|(i, section)| Upgrade {
                name: name(&mut rng, i),
                cost: Money::new(rng.pick(&[0.0, 12.5, 300.0, 4000.0])),
                changes: vec![Change::Size {
                    section: section.id.clone(),
                    to: Bore::Round(Length::from_mm(rng.between(80.0, 400.0))),
                }],
            })
            .collect();
        let all: Vec<Name> = point.hoods.iter().map(|hood| hood.name.clone()).collect();
        if let Ok(ranking) = rank_upgrades(&system, &upgrades, &[all]) {
            let svg = sound(|| upgrades_svg(&ranking, &options)).unwrap();
            prop_assert!(svg.contains("Order to buy"));
        }
    }

    /// Points and readings may be anything: they are left out, not drawn wrong, and nothing panics.
    #[test]
    fn prop_any_number_is_borne(numbers in prop::collection::vec(any::<f64>(), 8 * 4), options in options()) {
        let recipe = Recipe { hoods: 2, seed: 7, junctions: Junctions::Momentum };
        let system = shop(recipe);
        let rows: Vec<&[f64]> = numbers.chunks(4).collect();
        let flow = VolumeFlow::from_m3_s;
        let points: Vec<_> = rows
            .iter()
            .map(|row| {
                PlottedPoint::new("read", flow(row[0]), Pressure::from_pa(row[1]))
                    .give_or_take(flow(row[2]), Pressure::from_pa(row[3]))
            })
            .collect();
        let curve = rows.iter().map(|row| (flow(row[2]), Pressure::from_pa(row[0])));
        let set = PlottedSet::new("any", curve).settling_at(points[0].clone(), Status::BeyondCurve);
        sound(|| fan_and_system_svg(&system, std::slice::from_ref(&set), &points, &options)).unwrap();
        for quantity in [PlottedQuantity::Flow, PlottedQuantity::Pressure] {
            let pairs: Vec<_> = rows
                .iter()
                .map(|row| {
                    MeasuredPredicted::new("read", quantity, row[0], row[1]).give_or_take(row[2], row[3])
                })
                .collect();
            sound(|| measured_against_predicted_svg(&pairs, &options)).unwrap();
        }
    }

    #[test]
    fn prop_cut_text_fits_and_keeps_its_ends(text in ".{0,60}", size in 8.0..20.0, room in 0.0..400.0, bold: bool) {
        let cut = width::fit(&text, size, bold, room);
        prop_assert!(width::width(&cut, size, bold) <= room + 1e-9);
        if width::width(&text, size, bold) <= room {
            prop_assert_eq!(cut, text);
        } else if let Some((head, tail)) = cut.split_once('…') {
            prop_assert!(text.starts_with(head) || text.contains('…'));
            prop_assert!(text.ends_with(tail) || text.contains('…'));
        } else {
            prop_assert!(cut.is_empty());
        }
    }
}

#[test]
fn prop_what_cannot_be_drawn_is_told() {
    let recipe = Recipe {
        hoods: 3,
        seed: 1,
        junctions: Junctions::Momentum,
    };
    let (system, _, _, point) = solved(recipe);
    let options = PlotOptions::new();
    let nothing =
        |drawn: Result<String, PlotError>| matches!(drawn, Err(PlotError::Nothing { .. }));
    assert!(nothing(path_pressure_svg(&[], &options)));
    assert!(nothing(measured_against_predicted_svg(&[], &options)));
    let mut bare = system.clone();
    bare.collector.fan = None;
    assert!(nothing(fan_and_system_svg(&bare, &[], &[], &options)));
    let limits = TransportLimits::new(Velocity::from_m_s(20.0));
    bare.sections.clear();
    assert!(nothing(tree_svg(&bare, &point, &limits, &options)));
    let mut none = point.clone();
    none.machines.clear();
    none.hoods.clear();
    assert!(nothing(machines_svg(&none, None, &options)));

    let extra = Section::new(
        "extra",
        Bore::Round(Length::from_mm(100.0)),
        Wall::Galvanised,
    );
    let other = system.clone().with_section(extra);
    assert_eq!(
        tree_svg(&other, &point, &limits, &options),
        Err(PlotError::ForeignPoint {
            section: "extra".into()
        })
    );
    let large = options.with_size(200, 400);
    let told = machines_svg(&point, None, &large).unwrap_err().to_string();
    assert_eq!(
        told,
        "the width of a picture is 200 pixels; it must be 320 to 4000"
    );
    // No limit at all, and one that is no number, are no reason to panic.
    for velocity in [0.0, f64::NAN, -1.0] {
        let limits = TransportLimits::new(Velocity::from_m_s(velocity));
        sound(|| tree_svg(&system, &point, &limits, &PlotOptions::new())).unwrap();
    }
}

/// The checks above can fail.
#[test]
fn prop_the_reader_finds_faults() {
    for broken in [
        "<svg><g></svg></g>",
        "<svg x=\"1\" x=\"2\"/>",
        "<svg>a & b</svg>",
        "<svg><text></svg>",
        "<svg>\u{1}</svg>",
    ] {
        assert!(
            std::panic::catch_unwind(|| read(broken)).is_err(),
            "{broken:?}"
        );
    }
    let sheet = |x: u32| {
        format!(
            "<svg role=\"img\" aria-labelledby=\"a b\" width=\"400\" height=\"400\">\
             <title id=\"a\">t</title><desc id=\"b\">d</desc>\
             <text x=\"10\" y=\"30\" font-size=\"12\">one</text>\
             <text x=\"{x}\" y=\"30\" font-size=\"12\">two</text>\
             <text x=\"10\" y=\"60\" font-size=\"12\">three</text></svg>"
        )
    };
    assert_sound(&sheet(100));
    for x in [20, 395] {
        assert!(
            std::panic::catch_unwind(|| assert_sound(&sheet(x))).is_err(),
            "{x}"
        );
    }
}
