//! Ten thousand sections, on the two megabytes of stack of a test's thread.

use super::*;

const MANY: usize = 10_000;
/// A bound against what grows with the square, not a measure: all of it takes seconds.
const BOUND: Duration = Duration::from_secs(60);

const HEAD: &str = r#"
    format = 1
    wall = "galvanised"
    air = { altitude = "0 m", temperature = "20 C", relative_humidity = 0.5 }
    [collector]
    [collector.fan]
    basis = "static"
    density = "1.2 kg/m3"
    fitted = { separator = false, filter = false, silencer = false }
    points = [["0 m3/h", "2400 Pa"], ["1500 m3/h", "1900 Pa"], ["3000 m3/h", "300 Pa"]]
"#;

/// A document of these sections; `into` of the first is none.
fn document(lines: impl Fn(usize) -> String) -> String {
    let mut text = HEAD.to_owned();
    for i in 0..MANY {
        text += &lines(i);
    }
    text
}

/// One after another, each a little shorter than the one before.
fn chain() -> String {
    document(|i| {
        let into = if i == 0 {
            String::new()
        } else {
            format!("into = \"s{}\"", i - 1)
        };
        let hood = if i == MANY - 1 {
            "hood = { id = \"end\", entry = \"plain\" }"
        } else {
            ""
        };
        format!(
            "[[section]]\nid = \"s{i}\"\n{into}\nsize = {{ round = \"160 mm\" }}\nparts = [{{ duct = \"10 mm\" }}]\n{hood}\n"
        )
    })
}

/// A main of 5000 pieces, a branch at each.
fn comb() -> String {
    document(|i| match i % 2 {
        0 => {
            let into = if i == 0 {
                String::new()
            } else {
                format!("into = \"s{}\"", i - 2)
            };
            let hood = if i == MANY - 2 {
                "hood = { id = \"end\", entry = \"plain\" }"
            } else {
                ""
            };
            format!(
                "[[section]]\nid = \"s{i}\"\n{into}\nsize = {{ round = \"400 mm\" }}\nparts = [{{ duct = \"10 mm\" }}]\n{hood}\n"
            )
        }
        _ => {
            // The last piece of the main starts at a hood: its branch joins the one before.
            let into = if i == MANY - 1 { i - 3 } else { i - 1 };
            format!(
                "[[section]]\nid = \"s{i}\"\ninto = \"s{into}\"\njoin = {{ angle = \"{} deg\" }}\nsize = {{ round = \"50 mm\" }}\nparts = [{{ duct = \"2 m\" }}]\nhood = {{ id = \"h{i}\", entry = \"plain\" }}\n",
                30 + i % 30
            )
        }
    })
}

#[test]
fn chain_and_comb_are_read_judged_solved_and_written() {
    for text in [chain(), comb()] {
        let start = Instant::now();
        let study: Study = toml::from_str(&text).unwrap();
        let network = Network::new(&study.system).unwrap();
        let point = network.operating_point(&network.open_all()).unwrap();
        assert!(point.flow.as_m3_s() > 0.1);
        let some = network.open(["end"]).unwrap();
        let one = network.operating_point(&some).unwrap();
        assert!(one.hood("end").unwrap().flow.as_m3_s() > 0.01);
        let written = toml::to_string(&study).unwrap();
        assert_eq!(toml::from_str::<Study>(&written).unwrap(), study);
        // Also through a system in code, copied and compared.
        let copy = study.system.clone();
        assert!(copy == study.system && copy.check().is_ok());
        assert!(start.elapsed() < BOUND, "{:?}", start.elapsed());
        println!("{:?}", start.elapsed());
    }
}

#[test]
fn the_same_with_faults_everywhere() {
    let chain = chain();
    for (what, text) in [
        (
            "ring",
            spoilt(&chain, "id = \"s0\"\n", "id = \"s0\"\ninto = \"s9998\"\n"),
        ),
        ("one name", chain.replace("id = \"s", "id = \"s\" # ")),
        ("no such section", chain.replace("into = \"s", "into = \"x")),
        (
            "nothing that is given",
            chain.replace("wall = \"galvanised\"", ""),
        ),
        ("no size", chain.replace("160 mm", "0 mm")),
        ("two starts", chain.replace("parts", "capped = true\nparts")),
        ("machines", {
            let machines = |i| format!("[[machine]]\nid = \"m{i}\"\n");
            format!("{chain}{}", (0..MANY).map(machines).collect::<String>())
        }),
        (
            "star",
            comb()
                .replace("into = \"s", "into = \"s0\" # ")
                .replace("join = {", "# "),
        ),
    ] {
        let start = Instant::now();
        let errors = match toml::from_str::<Draft>(&text) {
            Ok(draft) => draft.complete().unwrap_err(),
            Err(error) => panic!("{what}: {error}"),
        };
        let told = errors.to_string();
        assert!(told.len() < 10_000_000, "{what}: {}", told.len());
        assert!(start.elapsed() < BOUND, "{what}: {:?}", start.elapsed());
        println!(
            "{what}: {} faults, {} characters, {:?}",
            errors.iter().count(),
            told.len(),
            start.elapsed()
        );
    }
}
