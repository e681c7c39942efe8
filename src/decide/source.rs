//! Where a figure stands, and how sure we are that it stands so there.

use std::{borrow::Cow, fmt};

/// Where a figure stands, and how sure we are that it stands so there.
#[derive(Debug, Clone, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct Source {
    /// Title, issuer, edition, table or section.
    pub text: Cow<'static, str>,
    /// How the figure came from there to here.
    pub transcription: Transcription,
}

/// How a figure came from its source into this crate.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "snake_case")
)]
#[non_exhaustive]
pub enum Transcription {
    /// Read in the text of the source or a full conversion of it.
    Read,
    /// Read in a second text that reproduces the source.
    ReadElsewhere,
    /// From memory, not re-read.
    Memory,
    /// Common practice of the trade, without a source.
    CommonPractice,
    /// A judgement of this crate, without a source.
    Judgement,
    /// Assumed, because nobody gave it.
    Assumed,
    /// Given by whoever asked.
    Given,
}

impl Source {
    pub(super) const fn new(text: &'static str, transcription: Transcription) -> Self {
        Self {
            text: Cow::Borrowed(text),
            transcription,
        }
    }

    /// A figure that stands in for what nobody gave.
    pub(super) const fn assumed(text: &'static str) -> Self {
        Self::new(text, Transcription::Assumed)
    }

    /// A figure of the user's own, under the name that they gave it.
    pub(super) fn given(text: impl Into<Cow<'static, str>>) -> Self {
        Self {
            text: text.into(),
            transcription: Transcription::Given,
        }
    }
}

/// `TRGS 553, Annex 2 (read)`
impl fmt::Display for Source {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} ({})", self.text, self.transcription)
    }
}

impl fmt::Display for Transcription {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Self::Read => "read",
            Self::ReadElsewhere => "as reproduced elsewhere; the source was not read",
            Self::Memory => "from memory, not re-read",
            Self::CommonPractice => "common practice, no source",
            Self::Judgement => "judgement, no source",
            Self::Assumed => "assumed",
            Self::Given => "as given",
        })
    }
}
