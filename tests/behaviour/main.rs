//! What is read and what is told: documents, quantities as text, faults, any bytes, the report.

mod bad_input;
mod documents;
mod prop_fuzz;
mod quantity;
mod report;
