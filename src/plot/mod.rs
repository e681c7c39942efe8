//! Pictures of results, as SVG text.
//!
//! Six functions, each takes the data of an answer and returns a whole SVG document, to be written
//! to a file or put into a page. The same input gives the same bytes.
//!
//! How they are drawn:
//!
//! - Marks and dashes come first, colours second: what is told by colour is told by shape, dash or
//!   a written figure too. Blue is what is well, orange what is wrong or not sure: those two stay
//!   apart in all common kinds of colour blindness, as they differ along the axis from blue to
//!   yellow, and besides in lightness. Where colour stands for an amount (air speed) its steps are
//!   steps of lightness: away from the paper is faster.
//! - Every text and line colour has a contrast of 4.5 or more on its paper. The paper is drawn, light,
//!   or dark where the reader prefers dark pages; a printed page is light.
//! - Names stand beside what they name. What finds no place there stands in a list below; a name
//!   longer than its place is cut in its middle, and is told whole in the `title` of its text.
//! - Each document has the role of an image, a `title` and a `desc` with the figures, for those who
//!   do not see it.
//! - Text is measured by a table of a wide font before it is written, so that in any usual font
//!   nothing overlaps and nothing is cut.

mod chart;
mod fan_and_system;
mod ink;
mod machines;
mod measured;
mod options;
mod path_pressure;
mod tree;
mod upgrades;
mod width;

pub use fan_and_system::{PlottedPoint, PlottedSet, fan_and_system_svg};
pub use machines::machines_svg;
pub use measured::{MeasuredPredicted, PlottedQuantity, measured_against_predicted_svg};
pub use options::{PlotError, PlotOptions};
pub use path_pressure::path_pressure_svg;
pub use tree::tree_svg;
pub use upgrades::upgrades_svg;
