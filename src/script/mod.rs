//! Script: how long words take to say.
//!
//! * [`number`]: numbers as words: cardinals, ordinals, years, decimals.
//! * [`spoken()`]: a text as it is said, numerals, units and abbreviations read out.
//! * [`speaking`]: how long that takes, whole and phrase by phrase.

mod chunks;
pub mod number;
pub mod speaking;
pub mod spoken;
mod symbols;
mod syllables;

pub use speaking::{Phrase, phrases, speaking_time};
pub use spoken::spoken;
