//! An [`Instant`] on the show clock and the [`Span`] between two of them.
//!
//! Both are whole microseconds, so that adding, comparing and replaying them is exact.
//! Arithmetic saturates at the ends (about 292,000 years) instead of overflowing.

use std::fmt;
use std::ops::{Add, AddAssign, Div, Mul, Neg, Sub};
use std::str::FromStr;

use serde::{Deserialize, Serialize};

use super::{UnitError, number_and_unit, trimmed};

/// An instant on the show clock: microseconds after show zero, negative before it.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize, Deserialize,
)]
#[serde(transparent)]
pub struct Instant(i64);

/// A signed length of time in microseconds.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize, Deserialize,
)]
#[serde(transparent)]
pub struct Span(i64);

impl Instant {
    /// Show zero.
    pub const ZERO: Instant = Instant(0);
    /// Later than any instant of a show.
    pub const NEVER: Instant = Instant(i64::MAX);

    /// The instant `us` microseconds after show zero.
    pub const fn from_us(us: i64) -> Self {
        Instant(us)
    }

    /// The instant `s` seconds after show zero, to the nearest microsecond (saturating; NaN is zero).
    pub fn from_s(s: f64) -> Self {
        Instant((s * 1e6).round() as i64)
    }

    /// Microseconds after show zero.
    pub const fn us(self) -> i64 {
        self.0
    }

    /// Seconds after show zero.
    pub fn s(self) -> f64 {
        self.0 as f64 / 1e6
    }
}

impl Span {
    /// No time at all.
    pub const ZERO: Span = Span(0);

    /// `us` microseconds.
    pub const fn from_us(us: i64) -> Self {
        Span(us)
    }

    /// `ms` milliseconds.
    pub const fn from_ms(ms: i64) -> Self {
        Span(ms.saturating_mul(1_000))
    }

    /// `s` seconds, to the nearest microsecond (saturating; NaN is zero).
    pub fn from_s(s: f64) -> Self {
        Span((s * 1e6).round() as i64)
    }

    /// Microseconds.
    pub const fn us(self) -> i64 {
        self.0
    }

    /// Seconds.
    pub fn s(self) -> f64 {
        self.0 as f64 / 1e6
    }

    /// The span without its sign.
    pub const fn abs(self) -> Self {
        Span(self.0.saturating_abs())
    }

    /// Minutes and seconds, `1:12.480`, with `places` decimals of a second; a leading `-` if negative.
    pub fn clock(self, places: usize) -> String {
        let unit = 10_i64.pow(6 - places.min(6) as u32);
        let rounded = (self.0.saturating_abs().saturating_add(unit / 2)) / unit * unit;
        let sign = if self.0 < 0 && rounded > 0 { "-" } else { "" };
        let (minutes, us) = (rounded / 60_000_000, rounded % 60_000_000);
        let whole = us / 1_000_000;
        if places == 0 {
            return format!("{sign}{minutes}:{whole:02}");
        }
        let part = us % 1_000_000 / unit;
        format!("{sign}{minutes}:{whole:02}.{part:0places$}")
    }
}

impl fmt::Display for Instant {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&Span(self.0).clock(1))
    }
}

impl fmt::Display for Span {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.0.saturating_abs() >= 60_000_000 {
            f.pad(&self.clock(1))
        } else {
            f.pad(&format!("{} s", trimmed(self.s(), 3)))
        }
    }
}

/// Reads `"90 s"`, `"250 ms"`, `"2 min"`, `"1 h"`, `"1:12.480"`, `"1:02:03"`, each with an optional sign.
impl FromStr for Span {
    type Err = UnitError;

    fn from_str(text: &str) -> Result<Self, UnitError> {
        read_span(text.trim()).ok_or_else(|| UnitError {
            text: text.into(),
            what: "a length of time",
            expected: "it as \"90 s\", \"250 ms\", \"2 min\" or \"1:12.480\"",
        })
    }
}

fn read_span(text: &str) -> Option<Span> {
    let (sign, body) = match text.strip_prefix(['-', '−']) {
        Some(rest) => (-1.0, rest.trim_start()),
        None => (1.0, text.strip_prefix('+').unwrap_or(text).trim_start()),
    };
    if body.starts_with(['-', '+', '−']) {
        return None;
    }
    let seconds = if body.contains(':') {
        read_clock(body)?
    } else {
        let (number, unit) = number_and_unit(body)?;
        number
            * match unit {
                "s" | "sec" | "second" | "seconds" => 1.0,
                "ms" => 1e-3,
                "min" | "minute" | "minutes" => 60.0,
                "h" | "hour" | "hours" => 3_600.0,
                _ => return None,
            }
    };
    (seconds <= 1e9).then(|| Span::from_s(sign * seconds))
}

/// `m:ss.fff` or `h:mm:ss.fff`, in seconds; only the first part may exceed 59.
fn read_clock(text: &str) -> Option<f64> {
    let parts: Vec<&str> = text.split(':').collect();
    let (last, leading) = parts.split_last()?;
    if leading.len() > 2 || last.is_empty() || !last.starts_with(|c: char| c.is_ascii_digit()) {
        return None;
    }
    let seconds: f64 = last.parse().ok()?;
    if !(0.0..60.0).contains(&seconds) {
        return None;
    }
    let mut total = 0.0;
    for (i, part) in leading.iter().enumerate() {
        if part.is_empty() || !part.bytes().all(|b| b.is_ascii_digit()) {
            return None;
        }
        let value: f64 = part.parse().ok()?;
        if i > 0 && value > 59.0 {
            return None;
        }
        total = total * 60.0 + value;
    }
    Some(total * 60.0 + seconds)
}

impl Add<Span> for Instant {
    type Output = Instant;
    fn add(self, span: Span) -> Instant {
        Instant(self.0.saturating_add(span.0))
    }
}

impl AddAssign<Span> for Instant {
    fn add_assign(&mut self, span: Span) {
        *self = *self + span;
    }
}

impl Sub<Span> for Instant {
    type Output = Instant;
    fn sub(self, span: Span) -> Instant {
        Instant(self.0.saturating_sub(span.0))
    }
}

impl Sub for Instant {
    type Output = Span;
    fn sub(self, earlier: Instant) -> Span {
        Span(self.0.saturating_sub(earlier.0))
    }
}

impl Add for Span {
    type Output = Span;
    fn add(self, other: Span) -> Span {
        Span(self.0.saturating_add(other.0))
    }
}

impl AddAssign for Span {
    fn add_assign(&mut self, other: Span) {
        *self = *self + other;
    }
}

impl Sub for Span {
    type Output = Span;
    fn sub(self, other: Span) -> Span {
        Span(self.0.saturating_sub(other.0))
    }
}

impl Neg for Span {
    type Output = Span;
    fn neg(self) -> Span {
        Span(self.0.saturating_neg())
    }
}

impl Mul<f64> for Span {
    type Output = Span;
    fn mul(self, factor: f64) -> Span {
        Span((self.0 as f64 * factor).round() as i64)
    }
}

impl Div<f64> for Span {
    type Output = Span;
    fn div(self, divisor: f64) -> Span {
        Span((self.0 as f64 / divisor).round() as i64)
    }
}

impl std::iter::Sum for Span {
    fn sum<I: Iterator<Item = Span>>(spans: I) -> Span {
        spans.fold(Span::ZERO, Add::add)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn spans_are_read_as_people_write_them() {
        for (text, us) in [
            ("90 s", 90_000_000),
            ("90s", 90_000_000),
            ("250 ms", 250_000),
            ("2 min", 120_000_000),
            ("1:12.480", 72_480_000),
            ("0:00", 0),
            ("-0:01.5", -1_500_000),
            ("- 3 s", -3_000_000),
            ("1:02:03", 3_723_000_000),
            ("75:00", 4_500_000_000),
        ] {
            assert_eq!(text.parse::<Span>(), Ok(Span::from_us(us)), "{text}");
        }
    }

    #[test]
    fn what_is_not_a_span_says_what_to_write() {
        for text in [
            "",
            "s",
            "90",
            "NaN s",
            "inf s",
            "1e400 s",
            "1:60",
            "1:2:3:4",
            "--3 s",
            "4 furlongs",
            ":12",
            "1:",
        ] {
            let error = text.parse::<Span>().expect_err(text);
            assert!(error.to_string().contains("\"1:12.480\""), "{error}");
        }
    }

    #[test]
    fn clock_text_rounds_and_carries() {
        assert_eq!(Span::from_s(59.96).clock(1), "1:00.0");
        assert_eq!(Span::from_s(-0.04).clock(1), "0:00.0");
        assert_eq!(Span::from_s(-61.0).clock(0), "-1:01");
        assert_eq!(Span::from_s(72.48).clock(3), "1:12.480");
    }

    #[test]
    fn arithmetic_saturates() {
        assert_eq!(Instant::NEVER + Span::from_s(1.0), Instant::NEVER);
        assert_eq!(Span::from_us(i64::MIN).abs(), Span::from_us(i64::MAX));
        assert_eq!(Span::from_s(f64::NAN), Span::ZERO);
    }
}
