//! How loud an aircraft is.

use std::str::FromStr;

use crate::units::{Gain, Length, Level, UnitError};

/// What a show says of an aircraft's noise.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Noise {
    /// How loud it is abeam; `None`: only relative to itself.
    pub loudness: Option<LevelAt>,
    /// How much louder it is straight astern than straight ahead.
    pub astern: Gain,
}

/// A sound level at a distance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LevelAt {
    /// The level.
    pub level: Level,
    /// How far from the aircraft.
    pub at: Length,
}

/// Reads `"105 dB at 300 m"`.
impl FromStr for LevelAt {
    type Err = UnitError;

    fn from_str(text: &str) -> Result<Self, UnitError> {
        let read = || {
            let (level, at) = text.split_once(" at ")?;
            let read = LevelAt {
                level: level.parse().ok()?,
                at: at.parse().ok()?,
            };
            let sensible = read.at.m() >= 1.0 && (0.0..=220.0).contains(&read.level.db());
            sensible.then_some(read)
        };
        read().ok_or_else(|| UnitError {
            text: text.into(),
            what: "a loudness",
            expected: "the level abeam, up to 220 dB, and how far away it is that loud: \"105 dB at 300 m\"",
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_loudness_is_a_level_at_a_distance() {
        let read: LevelAt = "105 dB at 300 m".parse().expect("a loudness");
        assert_eq!((read.level.db(), read.at.m()), (105.0, 300.0));
        let far: LevelAt = "88 dB(A) at 1000 ft".parse().expect("a loudness");
        assert_eq!((far.level.db(), far.at.m()), (88.0, 304.8));
        for wrong in [
            "105 dB",
            "105 at 300 m",
            "105 dB at 0 m",
            "300 m at 105 dB",
            "990 dB at 1 m",
        ] {
            let error = wrong.parse::<LevelAt>().expect_err(wrong).to_string();
            assert!(error.contains("\"105 dB at 300 m\""), "{error}");
        }
    }
}
