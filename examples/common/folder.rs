//! What an example that writes into a folder is asked: the folder, the shop, the units.

use airsplit::{Draft, Study, UnitSystem};
use std::{error::Error, fs, path::PathBuf};

/// `FOLDER [--file FILE] [--us]`
pub(crate) struct Asked {
    pub(crate) folder: PathBuf,
    /// The document; `None`: the demo's.
    pub(crate) file: Option<String>,
    pub(crate) units: UnitSystem,
}

impl Asked {
    /// As the command line says, the folder made.
    pub(crate) fn of(mut args: impl Iterator<Item = String>) -> Result<Self, Box<dyn Error>> {
        let (mut folder, mut file, mut units) = (None, None, UnitSystem::Metric);
        while let Some(arg) = args.next() {
            match arg.as_str() {
                "--us" => units = UnitSystem::Us,
                "--file" => file = Some(args.next().ok_or("--file needs a document")?),
                other if other.starts_with("--") => {
                    return Err(format!("unknown option {other}; known: --file FILE, --us").into());
                }
                _ if folder.is_some() => return Err("one folder at a time".into()),
                _ => folder = Some(PathBuf::from(arg)),
            }
        }
        let folder = folder.ok_or("say into which folder to write")?;
        fs::create_dir_all(&folder)
            .map_err(|error| format!("cannot make {}: {error}", folder.display()))?;
        Ok(Self {
            folder,
            file,
            units,
        })
    }

    /// The study of the document, or of the demo's documents together.
    pub(crate) fn study(&self, demo: &[&str]) -> Result<Study, Box<dyn Error>> {
        let Some(file) = &self.file else {
            return Ok(toml::from_str::<Draft>(&demo.join("\n"))?.complete()?);
        };
        let text =
            fs::read_to_string(file).map_err(|error| format!("cannot read {file}: {error}"))?;
        let draft: Draft = toml::from_str(&text).map_err(|error| format!("{file}: {error}"))?;
        Ok(draft
            .complete()
            .map_err(|faults| format!("{file}: {faults}"))?)
    }

    /// Writes a file into the folder, and tells where it is.
    pub(crate) fn write(&self, name: &str, text: &str) -> Result<PathBuf, Box<dyn Error>> {
        let path = self.folder.join(name);
        fs::write(&path, text)
            .map_err(|error| format!("cannot write {}: {error}", path.display()))?;
        Ok(path)
    }
}
