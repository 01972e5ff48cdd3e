//! Physical quantities, SI inside, one type each.

use std::fmt;
use std::ops::{Add, Div, Mul, Neg, Sub};
use std::str::FromStr;

use super::{UnitError, number_and_unit, trimmed};

/// One quantity: a newtype over `f64` in its SI unit, with the units people write it in.
/// The first unit listed is the one it is printed in.
macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident, $what:literal, $expected:literal,
     $from:ident / $get:ident; $($unit:literal => $scale:expr),+ ; print $places:literal) => {
        $(#[$doc])*
        #[derive(
            Debug, Clone, Copy, PartialEq, PartialOrd, Default, serde::Serialize, serde::Deserialize,
        )]
        #[serde(transparent)]
        pub struct $name(f64);

        impl $name {
            /// Nothing of it.
            pub const ZERO: $name = $name(0.0);

            /// From its SI value.
            pub const fn $from(value: f64) -> Self {
                $name(value)
            }

            /// Its SI value.
            pub const fn $get(self) -> f64 {
                self.0
            }

            /// Without its sign.
            pub const fn abs(self) -> Self {
                $name(self.0.abs())
            }
        }

        impl FromStr for $name {
            type Err = UnitError;

            fn from_str(text: &str) -> Result<Self, UnitError> {
                let error = || UnitError { text: text.into(), what: $what, expected: $expected };
                let (number, unit) = number_and_unit(text).ok_or_else(error)?;
                match unit {
                    $($unit => Ok($name(number * $scale)),)+
                    _ => Err(error()),
                }
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                let (unit, scale) = [$(($unit, $scale)),+][0];
                f.pad(&format!("{} {unit}", trimmed(self.0 / scale, $places)))
            }
        }

        impl Add for $name {
            type Output = $name;
            fn add(self, other: $name) -> $name {
                $name(self.0 + other.0)
            }
        }

        impl Sub for $name {
            type Output = $name;
            fn sub(self, other: $name) -> $name {
                $name(self.0 - other.0)
            }
        }

        impl Neg for $name {
            type Output = $name;
            fn neg(self) -> $name {
                $name(-self.0)
            }
        }

        impl Mul<f64> for $name {
            type Output = $name;
            fn mul(self, factor: f64) -> $name {
                $name(self.0 * factor)
            }
        }

        impl Div<f64> for $name {
            type Output = $name;
            fn div(self, divisor: f64) -> $name {
                $name(self.0 / divisor)
            }
        }
    };
}

/// Metres in a foot (exact).
pub const FOOT: f64 = 0.3048;
/// Metres in a nautical mile (exact).
pub const NAUTICAL_MILE: f64 = 1852.0;
/// Metres a second in a knot (exact).
pub const KNOT: f64 = NAUTICAL_MILE / 3600.0;

quantity!(
    /// A length or height, in metres.
    Length, "a length", "it as \"1500 ft\", \"3.2 nmi\", \"230 m\" or \"2 km\"",
    from_m / m; "m" => 1.0, "ft" => FOOT, "nmi" => NAUTICAL_MILE, "nm" => NAUTICAL_MILE,
    "NM" => NAUTICAL_MILE, "km" => 1000.0, "mi" => 1609.344; print 1
);

impl Length {
    /// In whole feet; zero has no sign.
    pub fn whole_feet(self) -> f64 {
        (self.m() / FOOT).round() + 0.0
    }

    /// A distance as it was most likely written: in nautical miles where it is so many tenths of one, else in metres.
    pub fn as_written(self) -> String {
        let tenths = self.m() / NAUTICAL_MILE * 10.0;
        let whole = tenths.round();
        if whole > 0.0 && (tenths - whole).abs() < 1e-6 {
            format!("{} nmi", whole / 10.0)
        } else {
            self.to_string()
        }
    }
}

quantity!(
    /// A speed, in metres a second.
    Speed, "a speed", "it as \"350 kt\", \"180 m/s\" or \"650 km/h\"",
    from_mps / mps; "kt" => KNOT, "kts" => KNOT, "m/s" => 1.0, "mps" => 1.0, "km/h" => 1.0 / 3.6,
    "mph" => 0.44704, "ft/min" => FOOT / 60.0; print 1
);

quantity!(
    /// A rate of change of speed, in metres a second squared.
    Acceleration, "a gain of speed", "it as \"3 kt/s\", \"2 m/s2\" or \"0.3 g\"",
    from_mps2 / mps2; "kt/s" => KNOT, "m/s2" => 1.0, "m/s²" => 1.0, "g" => 9.806_65; print 2
);

quantity!(
    /// A difference of sound level, in decibels.
    Gain, "a gain", "it as \"-3 dB\"",
    from_db / db; "dB" => 1.0; print 1
);

quantity!(
    /// A sound pressure level, in decibels above 20 µPa.
    Level, "a sound level", "it as \"80 dB\"",
    from_db / db; "dB" => 1.0, "dB(A)" => 1.0, "dBA" => 1.0; print 1
);

quantity!(
    /// Programme loudness, in LUFS (ITU-R BS.1770).
    Loudness, "a loudness", "it as \"-18 LUFS\"",
    from_lufs / lufs; "LUFS" => 1.0, "LKFS" => 1.0; print 1
);

quantity!(
    /// How fast music goes, in beats a minute.
    Tempo, "a tempo", "it as \"120 bpm\"",
    from_bpm / bpm; "bpm" => 1.0; print 1
);

quantity!(
    /// A pressure, in pascals.
    Pressure, "a pressure", "it as \"1013.25 hPa\" or \"29.92 inHg\"",
    from_pa / pa; "hPa" => 100.0, "mb" => 100.0, "mbar" => 100.0, "inHg" => 3386.389, "Pa" => 1.0;
    print 2
);

quantity!(
    /// An angle, in radians.
    Angle, "an angle", "it as \"180 deg\"",
    from_rad / rad; "deg" => DEGREE, "°" => DEGREE, "rad" => 1.0; print 1
);

quantity!(
    /// A share of a whole: 1 is all of it.
    Share, "a share", "it as \"2 %\"",
    from_whole / whole; "%" => 0.01; print 2
);

const DEGREE: f64 = std::f64::consts::PI / 180.0;

impl Angle {
    /// From degrees.
    pub const fn from_deg(deg: f64) -> Self {
        Angle(deg * DEGREE)
    }

    /// In degrees.
    pub const fn deg(self) -> f64 {
        self.0 / DEGREE
    }
}

impl Gain {
    /// The factor by which amplitudes are multiplied.
    pub fn amplitude(self) -> f64 {
        10_f64.powf(self.0 / 20.0)
    }
}

impl Speed {
    /// From knots.
    pub const fn from_kt(kt: f64) -> Self {
        Speed(kt * KNOT)
    }

    /// In knots.
    pub const fn kt(self) -> f64 {
        self.0 / KNOT
    }
}

/// A temperature, in kelvins.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct Temperature(f64);

impl Temperature {
    /// Kelvins at zero degrees Celsius.
    const ICE: f64 = 273.15;

    /// From kelvins.
    pub const fn from_k(k: f64) -> Self {
        Temperature(k)
    }

    /// From degrees Celsius.
    pub const fn from_c(c: f64) -> Self {
        Temperature(c + Self::ICE)
    }

    /// In kelvins.
    pub const fn k(self) -> f64 {
        self.0
    }

    /// In degrees Celsius.
    pub const fn c(self) -> f64 {
        self.0 - Self::ICE
    }
}

impl FromStr for Temperature {
    type Err = UnitError;

    fn from_str(text: &str) -> Result<Self, UnitError> {
        let error = || UnitError {
            text: text.into(),
            what: "a temperature",
            expected: "it as \"24 C\", \"75 F\" or \"297 K\", above absolute zero",
        };
        let (number, unit) = number_and_unit(text).ok_or_else(error)?;
        let k = match unit {
            "C" | "°C" => number + Self::ICE,
            "F" | "°F" => (number - 32.0) / 1.8 + Self::ICE,
            "K" => number,
            _ => return Err(error()),
        };
        if k > 0.0 {
            Ok(Temperature(k))
        } else {
            Err(error())
        }
    }
}

impl fmt::Display for Temperature {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&format!("{} C", trimmed(self.c(), 1)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quantities_are_read_and_printed_in_the_units_people_write() {
        assert_eq!("3.2 nmi".parse::<Length>().map(Length::m), Ok(3.2 * 1852.0));
        assert_eq!(
            "1500ft".parse::<Length>().map(|h| h.to_string()),
            Ok("457.2 m".into())
        );
        assert_eq!(
            "350 kt".parse::<Speed>().map(|v| v.to_string()),
            Ok("350 kt".into())
        );
        assert_eq!(
            "1009 hPa".parse::<Pressure>().map(Pressure::pa),
            Ok(100_900.0)
        );
        assert_eq!("-3 dB".parse::<Gain>().map(Gain::db), Ok(-3.0));
        assert_eq!(
            "−18 LUFS".parse::<Loudness>().map(Loudness::lufs),
            Ok(-18.0)
        );
        assert_eq!(
            "24 C".parse::<Temperature>().map(|t| t.to_string()),
            Ok("24 C".into())
        );
        assert!(
            ("59 F"
                .parse::<Temperature>()
                .map(Temperature::c)
                .unwrap_or(0.0)
                - 15.0)
                .abs()
                < 1e-9
        );
    }

    #[test]
    fn an_unknown_unit_or_number_says_what_to_write() {
        for text in ["350", "350 knotz", "NaN kt", "inf kt", "kt", "", "1.2.3 kt"] {
            let error = text.parse::<Speed>().expect_err(text);
            assert!(error.to_string().contains("\"350 kt\""), "{error}");
        }
        assert!("-300 C".parse::<Temperature>().is_err());
    }
}
