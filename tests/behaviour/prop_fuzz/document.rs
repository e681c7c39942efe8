//! Documents of any bytes: an error or a study, which is written and read again as itself, in both
//! formats, and whose system is compiled and solved.

use super::balance;
use airsplit::{Draft, Network, Study};

/// JSON where the bytes begin with a brace, else TOML.
pub(crate) fn holds(bytes: &[u8]) {
    let text = String::from_utf8_lossy(bytes);
    let json = text.starts_with('{');
    let study: Result<Study, String> = if json {
        serde_json::from_str(&text).map_err(|error| error.to_string())
    } else {
        toml::from_str(&text).map_err(|error| error.to_string())
    };
    let draft: Result<Draft, String> = if json {
        serde_json::from_str(&text).map_err(|error| error.to_string())
    } else {
        toml::from_str(&text).map_err(|error| error.to_string())
    };
    match study {
        Err(error) => {
            assert!(!error.is_empty());
            // What is read as a draft is refused by the judge, and that with a reason.
            if let Ok(draft) = draft {
                let faults = draft.complete().unwrap_err();
                assert!(faults.iter().all(|fault| !fault.to_string().is_empty()));
            }
        }
        Ok(study) => {
            assert_eq!(draft.unwrap().complete().unwrap(), study);
            written_and_read_again(&study);
            let network = Network::new(&study.system).unwrap();
            balance::holds(&study.system, &network, &network.open_all());
        }
    }
}

fn written_and_read_again(study: &Study) {
    let written = toml::to_string(study).unwrap_or_else(|error| panic!("{error}"));
    let again: Study = toml::from_str(&written).unwrap_or_else(|e| panic!("{e}\n{written}"));
    assert_eq!(again, *study, "{written}");
    assert_eq!(toml::to_string(&again).unwrap(), written);
    let json = serde_json::to_string(study).unwrap_or_else(|error| panic!("{error}"));
    let again: Study = serde_json::from_str(&json).unwrap_or_else(|e| panic!("{e}\n{json}"));
    assert_eq!(again, *study, "{json}");
    // Written out whole, as a system that was made in code.
    let whole = Study::new(study.system.clone());
    let written = toml::to_string(&whole).unwrap_or_else(|error| panic!("{error}"));
    let again: Study = toml::from_str(&written).unwrap_or_else(|e| panic!("{e}\n{written}"));
    assert_eq!(again.system, study.system, "{written}");
}
