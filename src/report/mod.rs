//! A whole study as a report in Markdown: data in, text out.

mod answers;
mod findings;
mod gates;
mod inputs;
mod job;
mod limits;
mod machines;
mod markdown;
mod pressure;
mod purchases;
mod readings;
mod settles;
mod words;

use crate::{
    decide::UseError,
    place::Name,
    quantity::UnitSystem,
    solve::{Network, SolveError, TooManySets},
    study::Study,
    system::{ModelErrors, UnknownName},
};
use answers::Answers;
use markdown::Page;
use std::fmt;
use words::Words;

/// What a report shows, and how.
///
/// ```
/// use airsplit::{Chapter, ReportOptions, UnitSystem};
/// let options = ReportOptions::new()
///     .with_units(UnitSystem::Us)
///     .with_open(["planer"])
///     .with_picture(Chapter::OperatingPoint, "curves.svg", "fan and system curves")
///     .with_gates();
/// assert_eq!(options.pictures.len(), 1);
/// ```
#[derive(Debug, Clone, PartialEq, Default)]
#[non_exhaustive]
pub struct ReportOptions {
    /// The units that it speaks in.
    pub units: UnitSystem,
    /// The hoods and machines that are open. `None`: every set that the document's `[use]` allows; or
    /// each machine alone, where it does not tell.
    pub open: Option<Vec<Name>>,
    /// Pictures to be linked, each in its chapter, in this order.
    pub pictures: Vec<Picture>,
    /// Whether it tells which gates to open and how far.
    pub gates: bool,
}

/// A picture that a report links to.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct Picture {
    /// The chapter in which it stands; the first one where the report does not have it.
    pub chapter: Chapter,
    /// Where it lies, as seen from the report.
    pub file: String,
    /// What it shows, for those who cannot see it.
    pub alt: String,
}

/// A chapter of a report, in their order.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[non_exhaustive]
pub enum Chapter {
    /// The job: title, shop, the answer in short.
    Job,
    /// What was given and what was assumed.
    Inputs,
    /// Where the fan settles.
    OperatingPoint,
    /// What each machine gets against its need.
    Machines,
    /// What the checks found.
    Findings,
    /// Where the pressure goes.
    Budget,
    /// What to buy first; where the document has upgrades.
    Upgrades,
    /// Readings against the model, and what they tell; where the document has readings.
    Readings,
    /// Which gates to open; where it was asked for.
    Gates,
    /// The list of material.
    Takeoff,
    /// What the model does not know.
    Limits,
    /// Cautions.
    Caution,
}

/// A report: chapters of Markdown, by [`report()`].
///
/// `Display` writes the whole.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct Report {
    /// The chapters, in their order.
    pub chapters: Vec<ReportChapter>,
}

/// A chapter with its text.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct ReportChapter {
    /// Which.
    pub chapter: Chapter,
    /// Its Markdown, the heading among it.
    pub text: String,
}

/// Why there is no report at all. A chapter that alone cannot be told is no error: it says why.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum ReportError {
    /// Faults of the model.
    #[error(transparent)]
    Model(#[from] ModelErrors),
    /// A name among the open ones that the model does not have.
    #[error(transparent)]
    Unknown(#[from] UnknownName),
    /// Nothing was to be open.
    #[error("no hood or machine is to be open; name one, or leave the open set to the report")]
    NothingOpen,
    /// The document's use does not fit its model.
    #[error("[use]: {0}")]
    Use(#[from] UseError),
    /// Open sets that cannot be listed.
    #[error(transparent)]
    Sets(#[from] TooManySets),
    /// Open sets of another network; not reached.
    #[error(transparent)]
    Solve(#[from] SolveError),
}

impl ReportOptions {
    /// Metric units, the sets of the document's use, no pictures, no gates.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// In these units.
    #[must_use]
    pub fn with_units(mut self, units: UnitSystem) -> Self {
        self.units = units;
        self
    }

    /// Of this open set alone, by names of hoods and machines.
    #[must_use]
    pub fn with_open<N: Into<Name>>(mut self, open: impl IntoIterator<Item = N>) -> Self {
        self.open = Some(open.into_iter().map(Into::into).collect());
        self
    }

    /// With one more picture.
    #[must_use]
    pub fn with_picture(
        mut self,
        chapter: Chapter,
        file: impl Into<String>,
        alt: impl Into<String>,
    ) -> Self {
        self.pictures.push(Picture {
            chapter,
            file: file.into(),
            alt: alt.into(),
        });
        self
    }

    /// With the gates to open for each machine, and how far for the hardest set.
    #[must_use]
    pub fn with_gates(mut self) -> Self {
        self.gates = true;
        self
    }
}

impl Report {
    /// The whole report.
    #[must_use]
    pub fn markdown(&self) -> String {
        self.to_string()
    }

    /// The text of a chapter, where the report has it.
    #[must_use]
    pub fn chapter(&self, chapter: Chapter) -> Option<&str> {
        let mut chapters = self.chapters.iter();
        let found = chapters.find(|at| at.chapter == chapter);
        found.map(|at| at.text.as_str())
    }
}

impl fmt::Display for Report {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.chapters
            .iter()
            .try_for_each(|at| f.write_str(&at.text))
    }
}

/// A whole study as a report in Markdown.
///
/// The job in short, inputs with their sources, where the fan settles, what each machine gets in low,
/// likely and high case, what the checks found, where the pressure goes, what the readings say, what to
/// buy, the list of material, what the model does not know, and cautions. Chapters that the document
/// gives no cause for are left out; one whose question cannot be answered says why, and the others
/// stand. The same study gives the same bytes.
///
/// It looks at the open sets of [`ReportOptions::open`], solves up to 1000 of them, and tells of each
/// machine the set in which it is served worst. Some seconds for a shop with readings and a dozen upgrades.
///
/// ```
/// # #[cfg(feature = "serde")]
/// # fn main() -> Result<(), Box<dyn std::error::Error>> {
/// use airsplit::{Chapter, ReportOptions, Study, report};
/// let study: Study = toml::from_str(&std::fs::read_to_string("examples/chair_shop.toml")?)?;
/// let report = report(&study, &ReportOptions::new().with_open(["planer", "table saw"]))?;
/// assert!(report.chapter(Chapter::Machines).is_some_and(|text| text.contains("planer")));
/// assert!(report.markdown().starts_with("# Chair shop in the barn"));
/// # Ok(())
/// # }
/// # #[cfg(not(feature = "serde"))]
/// # fn main() {}
/// ```
///
/// # Errors
///
/// [`ReportError`]: faults of the model, an open set or a use that does not fit it.
pub fn report(study: &Study, options: &ReportOptions) -> Result<Report, ReportError> {
    let network = Network::new(&study.system)?;
    if options.open.as_ref().is_some_and(Vec::is_empty) {
        return Err(ReportError::NothingOpen);
    }
    let answers = Answers::of(study, &network, options.open.as_deref())?;
    let shop = Shop {
        study,
        network: &network,
        answers: &answers,
        words: Words {
            units: options.units,
        },
    };
    let plans = &study.plans;
    let mut writers: Vec<(Chapter, &str, Writer)> = vec![
        (
            Chapter::Inputs,
            "What was given, and what was assumed",
            inputs::write,
        ),
        (
            Chapter::OperatingPoint,
            "Where the fan settles",
            settles::write,
        ),
        (Chapter::Machines, "What each machine gets", machines::write),
        (Chapter::Findings, "What the checks found", findings::write),
        (Chapter::Budget, "Where the pressure goes", pressure::write),
    ];
    if !plans.upgrades.is_empty() {
        let writer = purchases::upgrades;
        writers.push((Chapter::Upgrades, "What to buy first", writer));
    }
    if !plans.readings.is_empty() {
        let writer = readings::write;
        writers.push((Chapter::Readings, "What the readings say", writer));
    }
    if options.gates {
        writers.push((Chapter::Gates, "Which gates to open", gates::write));
    }
    writers.push((Chapter::Takeoff, "Material", purchases::takeoff));
    writers.push((
        Chapter::Limits,
        "What the model does not know",
        limits::write,
    ));
    writers.push((Chapter::Caution, "Caution", limits::caution));

    let has = |chapter: Chapter| writers.iter().any(|(at, ..)| *at == chapter);
    let mut page = Page::default();
    job::write(&mut page, &shop);
    let homeless = |at: &&Picture| at.chapter == Chapter::Job || !has(at.chapter);
    link(&mut page, options.pictures.iter().filter(homeless));
    let mut chapters = vec![ReportChapter {
        chapter: Chapter::Job,
        text: page.into_text(),
    }];
    for (chapter, title, write) in writers {
        let mut page = Page::default();
        page.heading(2, title);
        let own = |at: &&Picture| at.chapter == chapter;
        link(&mut page, options.pictures.iter().filter(own));
        if let Err(Why(why)) = write(&mut page, &shop) {
            page.paragraph(&format!("More cannot be told here: {why}."));
        }
        let text = page.into_text();
        chapters.push(ReportChapter { chapter, text });
    }
    Ok(Report { chapters })
}

fn link<'p>(page: &mut Page, pictures: impl Iterator<Item = &'p Picture>) {
    for picture in pictures {
        page.picture(&picture.file, &picture.alt);
    }
}

/// What every chapter is written from.
struct Shop<'a> {
    study: &'a Study,
    network: &'a Network,
    answers: &'a Answers,
    words: Words,
}

impl Shop<'_> {
    /// Significant digits of a flow that no case was told of.
    fn deserved(&self) -> usize {
        if self.study.assumptions.is_empty() {
            3
        } else {
            2
        }
    }
}

/// Writes a chapter, as far as its question can be answered.
type Writer = fn(&mut Page, &Shop<'_>) -> Result<(), Why>;

/// Why a chapter ends early, in words.
struct Why(String);

impl<E: std::error::Error> From<E> for Why {
    fn from(error: E) -> Self {
        Self(error.to_string())
    }
}
