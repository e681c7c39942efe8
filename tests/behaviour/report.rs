//! The report as its reader meets it: nothing of the study is missing, nothing in a name breaks it,
//! and it is as long as the shop deserves.

#![allow(
    clippy::unwrap_used,
    clippy::panic,
    reason = "a test that cannot go on must stop"
)]
#![cfg(feature = "serde")]

use airsplit::{
    Chapter, Network, Report, ReportError, ReportOptions, Study, UnitSystem, Use, Verdict, check,
    report,
};
use std::fmt::Write;

const SHOP: &str = include_str!("../../examples/chair_shop.toml");
const READINGS: &str = include_str!("../../examples/chair_shop_readings.toml");
const PLANS: &str = include_str!("../../examples/chair_shop_plans.toml");
const UPGRADES: &str = include_str!("../../examples/chair_shop_upgrades.toml");
const PRICES: &str = include_str!("../../examples/takeoff_prices.toml");
const LITTLE_KNOWN: &str = include_str!("../data/documents/little_known.toml");

/// A document of one hood.
const ONE: &str = r#"
format = 1
title = "One hood"
wall = "spiral"
air = { altitude = "0 m", temperature = "20 C", relative_humidity = 0.5 }
[collector.fan]
basis = "static"
density = "1.2 kg/m3"
fitted = { separator = true, filter = true, silencer = true }
points = [["0 m3/h", "2000 Pa"], ["800 m3/h", "1600 Pa"], ["1600 m3/h", "200 Pa"]]
[[section]]
id = "drop"
size = { round = "125 mm" }
parts = [{ duct = "4 m" }]
hood = { id = "port", machine = "planer", entry = { k = 0.5 } }
[[machine]]
id = "planer"
required = "880 m3/h"
"#;

fn study(text: &str) -> Study {
    toml::from_str(text).unwrap()
}

fn plain(text: &str) -> Report {
    report(&study(text), &ReportOptions::new()).unwrap()
}

/// A cell's text as a reader of the Markdown sees it.
fn unescaped(markdown: &str) -> String {
    let mut out = String::new();
    let mut chars = markdown.chars();
    while let Some(c) = chars.next() {
        match c {
            '\\' => out.extend(chars.next()),
            c => out.push(c),
        }
    }
    out.replace("&lt;", "<")
        .replace("&gt;", ">")
        .replace("&amp;", "&")
}

/// The cells of a row: bars that no backslash escapes part them.
fn cells(row: &str) -> Vec<String> {
    let mut cells = vec![String::new()];
    let mut escaped = false;
    for c in row.chars() {
        if c == '|' && !escaped {
            cells.push(String::new());
        } else if let Some(cell) = cells.last_mut() {
            cell.push(c);
        }
        escaped = c == '\\' && !escaped;
    }
    cells
}

/// Every table: its rows have as many cells as its head, and a rule below that.
fn assert_tables_are_whole(markdown: &str) {
    let mut tables = 0;
    let mut lines = markdown.lines().peekable();
    while let Some(line) = lines.next() {
        if !line.starts_with('|') {
            continue;
        }
        tables += 1;
        let columns = cells(line).len();
        let rule = lines.next().unwrap();
        assert!(rule.chars().all(|c| "|-: ".contains(c)), "{rule}");
        assert_eq!(cells(rule).len(), columns, "{line}");
        let mut rows = 0;
        while let Some(row) = lines.next_if(|line| line.starts_with('|')) {
            rows += 1;
            assert_eq!(cells(row).len(), columns, "{row}");
            assert!(row.ends_with(" |"), "{row}");
        }
        assert!(rows > 0, "a table without rows: {line}");
        assert!(lines.next().is_none_or(str::is_empty), "after {line}");
    }
    assert!(tables > 3, "only {tables} tables");
    for gone in ["NaN", "inf", "-0 "] {
        assert!(!markdown.contains(gone), "{gone}");
    }
}

fn demo() -> Study {
    study(&[SHOP, READINGS, PLANS, UPGRADES, PRICES].join("\n"))
}

#[test]
fn prop_everything_of_the_study_appears() {
    let study = demo();
    let options = ReportOptions::new().with_gates();
    let report = report(&study, &options).unwrap();
    let text = report.markdown();
    assert_tables_are_whole(&text);
    let read = unescaped(&text);
    let machines = unescaped(report.chapter(Chapter::Machines).unwrap());
    for machine in &study.system.machines {
        assert!(machines.contains(machine.id.as_str()), "{}", machine.id);
    }
    for section in &study.system.sections {
        assert!(read.contains(section.id.as_str()), "{}", section.id);
    }
    for reading in &study.plans.readings {
        assert!(read.contains(reading.id.as_str()), "{}", reading.id);
    }
    for upgrade in &study.plans.upgrades {
        assert!(read.contains(upgrade.name.as_str()), "{}", upgrade.name);
    }
    // No chapter gave up.
    assert!(!read.contains("More cannot be told"), "{read}");
    // The reading that is wrong on purpose is told of.
    let readings = unescaped(report.chapter(Chapter::Readings).unwrap());
    assert!(
        readings.contains("saw guard drop, pitot at the centre: "),
        "{readings}"
    );
}

#[test]
fn prop_each_machine_is_told_where_it_is_served_worst_of_all_sets() {
    let study = study(&[SHOP, PLANS, UPGRADES].join("\n"));
    let network = Network::new(&study.system).unwrap();
    let report = report(&study, &ReportOptions::new()).unwrap();
    let told = report.chapter(Chapter::Machines).unwrap();
    for machine in &study.system.machines {
        // The saw has a hood of its own need, which decides.
        if machine.id.as_str() == "table saw" {
            continue;
        }
        let flows = study
            .plans
            .usage
            .sets(&network)
            .unwrap()
            .filter_map(|open| {
                let point = network.operating_point(&open).unwrap();
                let state = point.machine(machine.id.as_str()).unwrap();
                state.open.then(|| state.flow.as_m3_h())
            });
        let least = flows.reduce(f64::min).unwrap();
        let start = format!("| {} |", machine.id);
        let row = told.lines().find(|line| line.starts_with(&start)).unwrap();
        let gets: f64 = cells(row)[3].trim().parse().unwrap();
        // Three digits are told.
        assert!((gets / least - 1.0).abs() < 0.006, "{row}: {least}");
    }
    let saw = told
        .lines()
        .find(|line| line.starts_with("| table saw |"))
        .unwrap();
    assert!(saw.contains("(its hood saw guard)"), "{saw}");
}

#[test]
fn prop_every_caution_appears_with_its_source() {
    let study = study(&[SHOP, PLANS, UPGRADES].join("\n"));
    let network = Network::new(&study.system).unwrap();
    let open = network.open(["planer", "table saw"]).unwrap();
    let point = network.operating_point(&open).unwrap();
    let found = check(&study.system, [&point], &study.plans.check).unwrap();
    let report = report(&study, &ReportOptions::new()).unwrap();
    let text = unescaped(report.chapter(Chapter::Findings).unwrap());
    let mut cautions = 0;
    for caution in found.with(Verdict::Caution) {
        cautions += 1;
        assert!(text.contains(&caution.text), "{}", caution.text);
        assert!(
            text.contains(&caution.source.to_string()),
            "{}",
            caution.source
        );
    }
    assert!(cautions >= 5);
    let caution = report.chapter(Chapter::Caution).unwrap();
    for word in [
        "explodes",
        "lungs",
        "bonded",
        "lock it out",
        "smoke",
        "Local codes",
    ] {
        assert!(caution.contains(word), "{word}");
    }
}

#[test]
fn prop_what_is_assumed_is_told_with_its_source_and_its_reading() {
    let study = study(LITTLE_KNOWN);
    let report = report(&study, &ReportOptions::new()).unwrap();
    let inputs = unescaped(report.chapter(Chapter::Inputs).unwrap());
    assert!(!study.assumptions.is_empty());
    for assumed in &study.assumptions {
        assert!(inputs.contains(assumed.source), "{assumed}");
        assert!(inputs.contains(assumed.replaced_by()), "{assumed}");
    }
    assert_tables_are_whole(&report.markdown());
    let machines = report.chapter(Chapter::Machines).unwrap();
    assert!(machines.contains("rough guess"), "{machines}");
    // Three readings that would replace the assumptions that matter most.
    assert!(
        machines.contains("\n3. ") && !machines.contains("\n4. "),
        "{machines}"
    );
    // Nothing rests on a fan of two numbers and is called adequate.
    assert!(!machines.contains("| adequate |"), "{machines}");
}

#[test]
fn prop_names_may_hold_anything() {
    let nasty = r"a|b `c` <img src=x> *d* _e_ [f](g) \\ # 1. & ~~h~~ $i$ \u{0007}\n| j | 😀👩‍🔧";
    let nasty = nasty.replace(r"\u{0007}", r"\u0007");
    let text = ONE
        .replace("\"planer\"", &format!("\"{nasty}\""))
        .replace("\"port\"", &format!("\"{nasty} port\""))
        .replace("\"drop\"", "\"- drop\\n\\n# heading | x\"")
        .replace("One hood", &format!("{nasty}\\n\\n## title"));
    let report = plain(&text);
    let markdown = report.markdown();
    assert_tables_are_whole(&markdown);
    assert!(!markdown.contains("<img"), "{markdown}");
    // Headings are ours alone: one of level 1, those of the chapters and of the findings.
    let headings: Vec<&str> = markdown
        .lines()
        .filter(|line| line.starts_with('#'))
        .collect();
    assert_eq!(
        headings
            .iter()
            .filter(|line| line.starts_with("# "))
            .count(),
        1
    );
    assert!(headings.iter().all(|line| !line.contains("# heading")));
    assert!(
        unescaped(&markdown).contains("a|b `c` <img src=x> *d* _e_ [f](g) \\ # 1. & ~~h~~ $i$")
    );
}

#[test]
fn prop_a_study_without_plans_has_a_report() {
    let report = plain(ONE);
    let text = report.markdown();
    assert_tables_are_whole(&text);
    for absent in [Chapter::Upgrades, Chapter::Readings, Chapter::Gates] {
        assert!(report.chapter(absent).is_none());
    }
    assert!(
        report.chapter(Chapter::Job).unwrap().contains("alone"),
        "{text}"
    );
    assert!(text.contains("Nothing was assumed") || text.contains("nothing was assumed"));
}

#[test]
fn prop_the_same_study_gives_the_same_bytes() {
    let text = [SHOP, READINGS, PLANS, UPGRADES, PRICES].join("\n");
    let options = ReportOptions::new().with_units(UnitSystem::Us);
    let [one, other] = [0, 1].map(|_| report(&study(&text), &options).unwrap());
    assert_eq!(one.markdown(), other.markdown());
    // US units throughout: metric ones stand only in sources and in items of duct.
    for chapter in [Chapter::Machines, Chapter::OperatingPoint, Chapter::Budget] {
        let text = one.chapter(chapter).unwrap();
        for metric in [" m3/h", " Pa"] {
            assert!(!text.contains(metric), "{metric} in {text}");
        }
    }
}

#[test]
fn prop_a_shop_of_forty_hoods_has_a_report_of_bounded_length() {
    let mut text = ONE.replace("id = \"drop\"", "id = \"drop\"\ninto = \"main 0\"");
    for i in 0..40 {
        let into = match i {
            39 => String::new(),
            _ => format!("into = \"main {}\"\n", i + 1),
        };
        write!(
            text,
            "[[section]]\nid = \"main {i}\"\n{into}size = {{ round = \"{} mm\" }}\nparts = [{{ duct = \"2 m\" }}]\n",
            140 + 2 * i
        )
        .unwrap();
        if i > 0 {
            write!(
                text,
                "[[section]]\nid = \"drop {i}\"\ninto = \"main {i}\"\njoin = {{ angle = \"45 deg\" }}\nsize = {{ round = \"100 mm\" }}\nparts = [{{ duct = \"3 m\" }}, {{ gate = {{ opening = 1.0 }} }}]\nhood = {{ id = \"hood {i}\", machine = \"machine {i}\", entry = {{ k = 0.5 }} }}\n[[machine]]\nid = \"machine {i}\"\nrequired = \"500 m3/h\"\n"
            )
            .unwrap();
        }
    }
    let mut study = study(&text);
    study.plans.usage = Use::any().at_most(2);
    let report = report(&study, &ReportOptions::new()).unwrap();
    let markdown = report.markdown();
    assert_tables_are_whole(&markdown);
    assert!(markdown.len() < 60_000, "{} bytes", markdown.len());
    let machines = report.chapter(Chapter::Machines).unwrap();
    for machine in &study.system.machines {
        assert!(
            machines.contains(&format!("| {} |", machine.id)),
            "{}",
            machine.id
        );
    }
    // More sets than anybody could solve: bounded in time and length, and nobody goes without.
    study.plans.usage = Use::any().exclusive(["machine 1", "machine 2"]);
    let report = airsplit::report(&study, &ReportOptions::new()).unwrap();
    assert_tables_are_whole(&report.markdown());
    assert!(report.markdown().len() < 60_000);
    let machines = report.chapter(Chapter::Machines).unwrap();
    assert!(!machines.contains("not open in any set"), "{machines}");
}

#[test]
fn prop_a_chapter_that_cannot_be_told_says_why_and_the_rest_stands() {
    // A reading at a section that is not there.
    let text = format!(
        "{ONE}[[reading]]\nid = \"r\"\nat = {{ section = \"nowhere\" }}\nopen = [\"planer\"]\nshows = {{ static = {{ pressure = \"-500 Pa\" }} }}\n"
    );
    let report = plain(&text);
    let readings = report.chapter(Chapter::Readings).unwrap();
    assert!(readings.contains("More cannot be told here:"), "{readings}");
    assert!(readings.contains("nowhere"), "{readings}");
    assert!(report.chapter(Chapter::Caution).unwrap().len() > 500);
}

#[test]
fn prop_a_shop_without_a_fan_has_a_report_of_what_it_is() {
    let mut study = study(ONE);
    study.system.collector.fan = None;
    let report = report(&study, &ReportOptions::new().with_gates()).unwrap();
    let text = report.markdown();
    assert!(text.contains("the collector has no fan"), "{text}");
    assert!(
        report
            .chapter(Chapter::Machines)
            .unwrap()
            .contains("| planer |"),
        "{text}"
    );
    assert!(
        report
            .chapter(Chapter::Takeoff)
            .unwrap()
            .contains("duct 125 mm spiral"),
        "{text}"
    );
}

#[test]
fn regress_what_the_machine_of_a_tiny_shop_gets() {
    let report = plain(ONE);
    insta::assert_snapshot!(report.chapter(Chapter::Machines).unwrap(), @r"
    ## What each machine gets

    Each machine where it is served worst. Low to high is meant to hold the truth 19 times in 20, as far as the doubts about the numbers are right. Adequate is only what is enough in the low case.

    | machine | needs, m3/h | gets, m3/h | low to high | of its need | is it enough? | open beside it |
    | --- | ---: | ---: | --- | ---: | --- | --- |
    | planer | 880 | 1390 | 1330 to 1440 | 158 % | adequate | nothing |

    Nothing was assumed, so every figure is graded calculated.
    ");
}

#[test]
fn prop_questions_that_do_not_fit_are_errors() {
    let study = study(ONE);
    let nobody = ReportOptions::new().with_open(["lathe"]);
    assert!(matches!(
        report(&study, &nobody),
        Err(ReportError::Unknown(_))
    ));
    let nothing = ReportOptions::new().with_open([""; 0]);
    assert_eq!(report(&study, &nothing), Err(ReportError::NothingOpen));
}

#[test]
fn prop_pictures_stand_in_their_chapters() {
    let options = ReportOptions::new()
        .with_picture(Chapter::OperatingPoint, "fan curve.svg", "fan | system")
        .with_picture(Chapter::Upgrades, "up>.svg", "no such chapter");
    let report = report(&study(ONE), &options).unwrap();
    let point = report.chapter(Chapter::OperatingPoint).unwrap();
    assert!(
        point.contains("![fan \\| system](<fan curve.svg>)"),
        "{point}"
    );
    let job = report.chapter(Chapter::Job).unwrap();
    assert!(job.contains("(<up\\>.svg>)"), "{job}");
}
