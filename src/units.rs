//! Units: every quantity of a display as its own type, read and printed as people write it.
//!
//! * [`time`]: an instant on the show clock, and a span between two instants; whole microseconds.
//! * [`quantity`]: length, speed, acceleration, angle, temperature, pressure, gain, sound level,
//!   loudness, tempo; SI inside.
//! * [`airspeed`]: a speed through the air and which kind of speed it is.

pub mod airspeed;
pub mod quantity;
pub mod time;

pub use airspeed::Airspeed;
pub use quantity::{
    Acceleration, Angle, Gain, Length, Level, Loudness, Pressure, Share, Speed, Temperature, Tempo,
};
pub use time::{Instant, Span};

/// Why a text is not a quantity, and what to write instead.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct UnitError {
    /// What was written.
    pub text: String,
    /// What it was read as: "a speed".
    pub what: &'static str,
    /// What may be written: `"350 kt", "180 m/s"`.
    pub expected: &'static str,
}

impl std::fmt::Display for UnitError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(
            f,
            "\"{}\" is not {}: write {}",
            self.text, self.what, self.expected
        )
    }
}

impl std::error::Error for UnitError {}

/// Splits `"350 kt cas"` into the number and what follows it; `None` if no finite number leads.
fn number_and_unit(text: &str) -> Option<(f64, &str)> {
    let text = text.trim();
    let digits = text
        .find(|c: char| !(c.is_ascii_digit() || matches!(c, '.' | '-' | '+' | '−')))
        .unwrap_or(text.len());
    let (number, unit) = text.split_at(digits);
    let number: f64 = number.replace('−', "-").parse().ok()?;
    number.is_finite().then_some((number, unit.trim()))
}

/// Prints `value` with at most `places` decimals and no trailing zeros.
fn trimmed(value: f64, places: usize) -> String {
    let text = format!("{value:.places$}");
    if !text.contains('.') {
        return text;
    }
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" {
        "0".into()
    } else {
        text.into()
    }
}
