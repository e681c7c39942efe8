//! The public items of the crate, read from its sources: what the tests of the public surface
//! walk over.
#![allow(dead_code, unused_imports, reason = "every program uses its own share")]
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    reason = "a walk that cannot go on must stop the test"
)]

mod items;
mod sources;
mod text;

pub(crate) use items::{Public, walk};
