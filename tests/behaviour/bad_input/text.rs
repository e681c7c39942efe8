//! Text of every kind.

use super::*;

/// Reads, completes, writes and reads again whatever it is.
fn take(text: &str) {
    let json: Result<Draft, _> = serde_json::from_str(text);
    let toml: Result<Draft, _> = toml::from_str(text);
    for draft in [
        json.map_err(|e| e.to_string()),
        toml.map_err(|e| e.to_string()),
    ] {
        match draft.map(Draft::complete) {
            Ok(Ok(study)) => {
                let written = toml::to_string(&study).unwrap();
                let again: Study = toml::from_str(&written).unwrap();
                assert_eq!(again, study);
                if let Ok(network) = Network::new(&study.system) {
                    let _ = network.operating_point(&network.open_all());
                }
            }
            Ok(Err(faults)) => assert!(faults.iter().count() > 0),
            Err(told) => assert!(!told.is_empty()),
        }
    }
}

/// Pieces that a document is made of, and some that it is not.
fn pieces() -> impl Strategy<Value = String> {
    let words: Vec<String> = [SHOP, EVERY_WORD, LITTLE_KNOWN]
        .iter()
        .flat_map(|text| text.split_inclusive([' ', '\n', ',', '{', '}', '"']))
        .map(String::from)
        .collect();
    prop_oneof![
        8 => prop::sample::select(words),
        1 => any::<f64>().prop_map(|number| number.to_string()),
        1 => any::<i64>().prop_map(|number| number.to_string()),
        1 => any::<char>().prop_map(String::from),
        1 => Just(String::new()),
    ]
}

fn at(text: &str, share: f64) -> usize {
    let mut at = (share * text.len() as f64) as usize;
    while !text.is_char_boundary(at) {
        at -= 1;
    }
    at
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(600))]

    #[test]
    fn prop_arbitrary_bytes(bytes in prop::collection::vec(any::<u8>(), 0..400)) {
        take(&String::from_utf8_lossy(&bytes));
    }

    #[test]
    fn prop_mutated_documents(
        which in 0..3_usize,
        json in any::<bool>(),
        cuts in prop::collection::vec((0.0..1.0_f64, 0..40_usize, pieces()), 1..4),
    ) {
        let mut text = [SHOP, EVERY_WORD, LITTLE_KNOWN][which].to_owned();
        if json {
            let value: serde_json::Value = toml::from_str(&text).unwrap();
            text = value.to_string();
        }
        for (share, length, piece) in cuts {
            let from = at(&text, share);
            let mut to = (from + length).min(text.len());
            while !text.is_char_boundary(to) {
                to += 1;
            }
            text.replace_range(from..to, &piece);
        }
        take(&text);
    }

    /// One value for another: mostly well formed, seldom sensible.
    #[test]
    fn prop_exchanged_lines(which in 0..3_usize, swaps in prop::collection::vec((any::<usize>(), any::<usize>()), 1..4)) {
        let text = [SHOP, EVERY_WORD, LITTLE_KNOWN][which];
        let mut lines: Vec<&str> = text.lines().collect();
        let count = lines.len();
        for (a, b) in swaps {
            lines.swap(a % count, b % count);
        }
        take(&lines.join("\n"));
    }
}

#[test]
fn deep_nesting_is_refused_and_ends_no_stack() {
    let deep = |open: &str, close: &str| {
        format!(
            "format = 1\nair = {}1{}",
            open.repeat(100_000),
            close.repeat(100_000)
        )
    };
    take(&deep("[", "]"));
    take(&deep("{ a = ", "}"));
    let cycle = "{ filter = { cycle = { now = \"due\", due = ";
    take(&deep(cycle, "} } }"));
    take(&format!(
        "{{\"air\":{}1{}",
        "[".repeat(100_000),
        "]".repeat(100_000)
    ));
}
