//! A speed through the air, and which of an aircraft's speeds it is.

use std::fmt;
use std::str::FromStr;

use super::{Speed, UnitError, number_and_unit, trimmed};

/// A speed as the crew states it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Airspeed {
    /// Calibrated: what a perfect instrument reads. What is meant when nothing is said.
    Calibrated(Speed),
    /// True: through the air.
    True(Speed),
    /// As a share of the speed of sound where the aircraft is.
    Mach(f64),
    /// Over the ground.
    Ground(Speed),
}

impl Airspeed {
    /// Its bare number: m/s, or Mach.
    pub(crate) const fn value(self) -> f64 {
        match self {
            Airspeed::Calibrated(speed) | Airspeed::True(speed) | Airspeed::Ground(speed) => {
                speed.mps()
            }
            Airspeed::Mach(mach) => mach,
        }
    }
}

/// Reads `"350 kt"` (calibrated), `"350 kt cas"`, `"180 m/s tas"`, `"210 kt ground"`, `"0.94 mach"`.
/// A speed is never negative.
impl FromStr for Airspeed {
    type Err = UnitError;

    fn from_str(text: &str) -> Result<Self, UnitError> {
        read(text).ok_or_else(|| UnitError {
            text: text.into(),
            what: "an airspeed",
            expected: "it as \"350 kt cas\", \"180 m/s tas\", \"210 kt ground\" or \"0.94 mach\", not below zero",
        })
    }
}

fn read(text: &str) -> Option<Airspeed> {
    let text = text.trim();
    let (body, kind) = match text.rsplit_once(char::is_whitespace) {
        Some((body, kind @ ("cas" | "tas" | "ground" | "mach"))) => (body, kind),
        _ => (text, "cas"),
    };
    if kind == "mach" {
        let (number, rest) = number_and_unit(body)?;
        return (rest.is_empty() && number >= 0.0).then_some(Airspeed::Mach(number));
    }
    let speed: Speed = body
        .parse()
        .ok()
        .filter(|speed: &Speed| speed.mps() >= 0.0)?;
    Some(match kind {
        "tas" => Airspeed::True(speed),
        "ground" => Airspeed::Ground(speed),
        _ => Airspeed::Calibrated(speed),
    })
}

impl fmt::Display for Airspeed {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Airspeed::Calibrated(speed) => f.pad(&format!("{speed} cas")),
            Airspeed::True(speed) => f.pad(&format!("{speed} tas")),
            Airspeed::Ground(speed) => f.pad(&format!("{speed} ground")),
            Airspeed::Mach(mach) => f.pad(&format!("{} mach", trimmed(*mach, 3))),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn airspeeds_carry_their_kind() {
        assert_eq!(
            "350 kt".parse(),
            Ok(Airspeed::Calibrated(Speed::from_kt(350.0)))
        );
        assert_eq!(
            "350 kt tas".parse(),
            Ok(Airspeed::True(Speed::from_kt(350.0)))
        );
        assert_eq!("0.94 mach".parse(), Ok(Airspeed::Mach(0.94)));
        assert_eq!(
            "0.94 mach".parse::<Airspeed>().map(|v| v.to_string()),
            Ok("0.94 mach".into())
        );
        for wrong in ["-20 kt", "0.94", "mach", "350 kt xas", "NaN mach"] {
            assert!(wrong.parse::<Airspeed>().is_err(), "{wrong}");
        }
    }
}
