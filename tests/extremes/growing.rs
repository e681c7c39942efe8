//! Work and memory grow with a document and not faster: bytes allocated while it is read, judged,
//! solved and written, counted by an allocator, for one, two and four times as much of it.

use super::{counting::bytes, *};

/// Bytes for twice as much are at most so many times those for once.
const TWICE: f64 = 2.5;

#[track_caller]
fn assert_linear(what: &str, size: usize, work: impl Fn(usize)) {
    work(1);
    let [one, two, four] = [size, 2 * size, 4 * size].map(|size| bytes(|| work(size)));
    assert!(one > 0.0);
    let within = two <= TWICE * one && four <= TWICE * two;
    assert!(
        within,
        "{what}: {one} bytes, {two} for twice, {four} for four times as much"
    );
}

/// So many sections one after another, the last with a hood.
fn chain(sections: usize) -> System {
    let mut system = System::new(Air::standard(), Collector::new(fan()));
    for i in 0..sections {
        let mut section = Section::new(format!("s{i}"), round(160.0), Wall::Galvanised)
            .with_part(Part::Duct(Length::from_mm(10.0)));
        if i > 0 {
            section = section.draining_into(format!("s{}", i - 1));
        }
        if i + 1 == sections {
            section = section.with_hood(Hood::new("end", Entry::Plain));
        }
        system = system.with_section(section);
    }
    system
}

/// A main with so many drops, each with a machine of its own.
fn comb(drops: usize) -> System {
    let mut system = System::new(Air::standard(), Collector::new(fan()));
    for i in 0..drops {
        let mut main = Section::new(format!("m{i}"), round(400.0), Wall::Galvanised);
        if i > 0 {
            main = main.draining_into(format!("m{}", i - 1));
        }
        if i + 1 == drops {
            main = main.with_hood(Hood::new("end", Entry::Plain));
        }
        let drop = Section::new(format!("d{i}"), round(80.0), Wall::Galvanised)
            .draining_into(format!("m{i}"))
            .joining_at(Angle::from_deg(45.0))
            .with_part(Part::Duct(Length::from_m(2.0)))
            .with_hood(Hood::new(format!("h{i}"), Entry::Plain).serving(format!("x{i}")));
        system = system.with_section(main);
        if i + 1 < drops {
            system = system.with_section(drop);
            system = system.with_machine(format!("x{i}"), VolumeFlow::from_cfm(100.0));
        }
    }
    system
}

fn there_and_back(system: &System) {
    let study = Study::new(system.clone());
    let written = toml::to_string(&study).unwrap();
    let read: Study = toml::from_str(&written).unwrap();
    let network = Network::new(&read.system).unwrap();
    let point = network.operating_point(&network.open_all()).unwrap();
    assert!(audit(system, &point).unwrap().is_sound(1e-9));
}

#[test]
fn prop_reading_solving_and_writing_is_linear() {
    assert_linear("chain", 400, |size| there_and_back(&chain(size)));
    assert_linear("comb", 200, |size| there_and_back(&comb(size.max(2))));
    assert_linear("parts", 1000, |size| {
        let mut system = chain(1);
        system.sections[0].parts = vec![Part::K(0.001); size];
        there_and_back(&system);
    });
    assert_linear("points of a fan", 1000, |size| {
        let count = size.max(4);
        let points = (0..count).map(|i| {
            let q = i as f64 / count as f64;
            (
                VolumeFlow::from_m3_s(q),
                Pressure::from_pa(2000.0 * (1.0 - q * q)),
            )
        });
        let density = Density::from_kg_m3(1.2);
        let fan = FanCurve::new(points, Basis::Static, Fitted::ALL, density).unwrap();
        let mut system = chain(2);
        system.collector.fan = Some(fan);
        there_and_back(&system);
    });
}

#[test]
fn prop_questions_about_a_large_system_are_linear() {
    let checked = |size: usize| {
        let system = comb(size.max(2));
        let network = Network::new(&system).unwrap();
        let point = network.operating_point(&network.open_all()).unwrap();
        assert!(check(&system, [&point], &CheckOptions::new()).is_ok());
        assert!(takeoff(&system, &TakeoffOptions::default()).is_ok());
        let gradient = network
            .gradient(&network.open_all(), &Output::TotalFlow)
            .unwrap();
        assert!(!gradient.ranked().is_empty());
    };
    assert_linear("checks, takeoff and gradient", 100, checked);
    // One machine or another: as many sets as machines, and no more work for each to be found.
    let used = |size: usize| {
        let network = Network::new(&comb(size.max(2))).unwrap();
        let sets = Use::any().at_most(1).sets(&network).unwrap();
        assert_eq!(sets.take(5).count(), 5.min(network.hoods().len()));
    };
    // A set holds a bit for each hood: some share grows with the square, 64 times smaller.
    assert_linear("use", 500, used);
}

#[test]
fn prop_text_that_is_no_document_is_refused_in_linear_memory() {
    let head = "format = 1\n";
    for (what, piece, open) in [
        ("comments", "# nothing here\n", ""),
        ("blanks", " ", ""),
        ("one long string", "x", "title = \""),
        ("an array without an end", "1,", "title = ["),
        ("keys that are unknown", "a.b = 1\n", ""),
        ("tables", "[[section]]\n", ""),
        ("quantities", "[\"1 m\", \"2 m\"],", "points = ["),
        ("nonsense", "\u{1f980}\u{202e}\"=[", ""),
    ] {
        assert_linear(what, 20_000, |size| {
            let text = format!("{head}{open}{}", piece.repeat(size));
            let error = toml::from_str::<Draft>(&text).unwrap_err().to_string();
            assert!(
                error.len() < text.len() * 2 + 1000,
                "{what}: {}",
                error.len()
            );
        });
    }
    // Nested ever deeper: refused at a depth, before the stack ends.
    for piece in ["[", "{a=", "{\"a\":", "[[", "(\""] {
        let nested = piece.repeat(100_000);
        assert!(toml::from_str::<Draft>(&format!("{head}title = {nested}")).is_err());
        assert!(serde_json::from_str::<Draft>(&nested).is_err());
    }
}

/// 64 MB: `cargo test --test extremes -- --ignored`; 5.4 GB of memory at its most.
#[test]
#[ignore = "a quarter of a minute and five gigabytes of memory"]
fn prop_sixty_four_megabytes_are_read_or_refused() {
    let megabytes = 64 << 20;
    let padded = format!("{SHOP}\n{}", "# sawdust\n".repeat(megabytes / 10));
    assert!(toml::from_str::<Study>(&padded).is_ok());
    let nonsense = "[[section]]\nid = \"a\"\n".repeat(megabytes / 21);
    assert!(toml::from_str::<Study>(&nonsense).is_err());
    let long = format!("title = \"{}", "x".repeat(megabytes));
    let titled = SHOP.replacen("title = \"", &long, 1);
    assert!(titled.len() > megabytes);
    assert!(toml::from_str::<Study>(&titled).is_ok());
}
