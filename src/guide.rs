//! The guide: how to use the crate, in five chapters.
//!
//! - [`answers`]: from question to answer; every name of the crate by the question that it serves.
//! - [`cookbook`]: complete short programs, each with the question that it answers.
//! - [`document`]: the document of a shop, table by table and key by key.
//! - [`physics`]: what is computed, by which equations, from which sources.
//! - [`changes`]: what each version changed.
//!
//! It is there in the documentation only; no program pays for it.

#[doc = include_str!("guide/answers.md")]
pub mod answers {}

#[cfg_attr(
    any(not(doctest), feature = "serde"),
    doc = include_str!("guide/cookbook.md")
)]
pub mod cookbook {}

#[doc = include_str!("guide/document.md")]
///
/// ```toml
#[doc = include_str!("guide/every_key.toml")]
/// ```
pub mod document {}

#[doc = include_str!("guide/physics.md")]
pub mod physics {}

#[doc = include_str!("guide/changes.md")]
pub mod changes {}
