//! Script: how long words take to say, and which version of each block fits.
//!
//! * [`number`]: numbers as words: cardinals, ordinals, years, decimals.
//! * [`spoken()`]: a text as it is said, numerals, units, names and abbreviations read out.
//! * [`speaking`]: how long that takes, whole, phrase by phrase and between waits.
//! * [`rate`]: a narrator's own rate, from how long blocks have taken.
//! * [`fit`]: the best choice of versions of all blocks together.

mod chunks;
mod dates;
mod designations;
mod dictionary;
pub mod fit;
pub mod number;
pub mod rate;
mod rule;
pub mod speaking;
pub mod spoken;
mod syllables;
mod symbols;

pub use fit::Version;
pub use rate::fit_rate;
pub use speaking::{Phrase, Reader, Reading, readings, readings_of, speaking_time};
pub use spoken::spoken;
