//! What the tests of whole networks share: random systems, and a referee that solves them by
//! other means.
#![allow(dead_code, reason = "every program uses its own share")]
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    reason = "a test that cannot go on must stop"
)]

pub(crate) mod audited;
pub(crate) mod bare_tree;
pub(crate) mod dense;
pub(crate) mod gated;
pub(crate) mod random;
pub(crate) mod three_hoods;
