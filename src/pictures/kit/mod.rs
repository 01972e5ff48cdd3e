//! The drawing kit: what every picture is made with.
//!
//! * [`area`]: rectangles of a picture. [`drawing`]: shapes and text, as SVG. [`letters`]: how wide a text is.
//! * [`ink`]: colours, dashes and markers. [`scale`]: values on an axis, and round ones to mark on it.
//!   [`smooth`]: a line through points without corners.
//! * [`placer`]: labels on a map, [`rows`]: labels along an axis, neither over one another.

pub mod area;
pub mod drawing;
pub mod ink;
pub mod letters;
pub mod placer;
pub mod rows;
pub mod scale;
pub mod smooth;

pub use area::{Area, Point};
pub use drawing::{Drawing, Side};
pub use ink::{Fill, Marker, Pen, Style};
pub use placer::Placer;
pub use scale::Scale;
