//! The sources and the guide, read as text: public items, their docs, the floors, the names in the
//! guide, the files of the tests.

#[path = "../common/public/mod.rs"]
mod public;

mod document_guide;
mod floors;
mod guide_names;
mod programs;
mod public_api;
mod public_docs;
