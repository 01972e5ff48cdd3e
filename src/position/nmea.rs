//! NMEA 0183 sentences: RMC and GGA, of any talker.
//!
//! Fields by their places as gpsd's "NMEA Revealed" (gpsd.io/NMEA.html) lists them.

use jiff::civil::{Date, Time};

use super::Place;
use crate::units::{Angle, Length, Speed};

/// What one line says.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Sentence {
    /// Recommended minimum: time, date, place, speed, track.
    Rmc(Rmc),
    /// Fix data: time, place, height.
    Gga(Gga),
    /// Another sentence, or an empty line.
    Other,
}

/// An RMC sentence.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rmc {
    /// Time of day, UTC.
    pub time: Option<Time>,
    /// Date, UTC.
    pub date: Option<Date>,
    /// Whether the receiver says that it measured the position.
    pub measured: bool,
    /// Where.
    pub place: Option<Place>,
    /// Over the ground.
    pub ground_speed: Option<Speed>,
    /// True.
    pub track: Option<Angle>,
}

/// A GGA sentence.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gga {
    /// Time of day, UTC.
    pub time: Option<Time>,
    /// Whether the receiver says that it measured the position.
    pub measured: bool,
    /// Where.
    pub place: Option<Place>,
    /// Above mean sea level.
    pub height: Option<Length>,
}

/// Why a line is no sentence.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Broken {
    /// It does not begin as one, or has bytes that none has.
    NoSentence,
    /// The checksum is missing or wrong.
    Checksum,
    /// A field holds what it cannot.
    Field,
}

/// Reads one line, with or without its end. A tag block before the sentence is passed over.
pub fn sentence(line: &[u8]) -> Result<Sentence, Broken> {
    let text = std::str::from_utf8(line).map_err(|_| Broken::NoSentence)?;
    let text = text.trim_matches(|c: char| c.is_ascii_whitespace() || c == '\0');
    if text.is_empty() {
        return Ok(Sentence::Other);
    }
    let text = match text.strip_prefix('\\') {
        Some(tagged) => tagged.split_once('\\').ok_or(Broken::NoSentence)?.1,
        None => text,
    };
    if text.starts_with('!') {
        return Ok(Sentence::Other);
    }
    let body = text.strip_prefix('$').ok_or(Broken::NoSentence)?;
    let body = checked(body)?;
    let mut fields = Fields(body.split(','));
    let address = fields.next();
    // Proprietary sentences begin with P; every talker has two letters.
    let formatter = if address.starts_with('P') {
        None
    } else {
        address.get(2..)
    };
    match formatter {
        Some("RMC") => rmc(fields).map(Sentence::Rmc),
        Some("GGA") => gga(fields).map(Sentence::Gga),
        _ => Ok(Sentence::Other),
    }
}

/// The checksum of what stands between `$` and `*`: all bytes, exclusive or.
pub fn checksum(body: &str) -> u8 {
    body.bytes().fold(0, |sum, byte| sum ^ byte)
}

/// What the checksum covers, if it is right.
fn checked(body: &str) -> Result<&str, Broken> {
    let (covered, stated) = body.rsplit_once('*').ok_or(Broken::Checksum)?;
    let hex = stated.len() == 2 && stated.bytes().all(|b| b.is_ascii_hexdigit());
    let stated = u8::from_str_radix(stated, 16).ok().filter(|_| hex);
    if stated == Some(checksum(covered)) {
        Ok(covered)
    } else {
        Err(Broken::Checksum)
    }
}

/// The fields of a sentence, in order; empty ones beyond its end.
struct Fields<'a>(std::str::Split<'a, char>);

impl<'a> Fields<'a> {
    fn next(&mut self) -> &'a str {
        self.0.next().unwrap_or("")
    }

    /// `None` where the field is empty.
    fn number(&mut self) -> Result<Option<f64>, Broken> {
        number(self.next())
    }

    fn place(&mut self) -> Result<Option<Place>, Broken> {
        let (lat, north) = (self.next(), self.next());
        let (lon, east) = (self.next(), self.next());
        if [lat, north, lon, east].iter().any(|field| field.is_empty()) {
            return Ok(None);
        }
        let lat = degrees(lat, 2)? * sign(north, "N", "S")?;
        let lon = degrees(lon, 3)? * sign(east, "E", "W")?;
        Place::from_deg(lat, lon)
            .filter(|_| lon <= 180.0)
            .map(Some)
            .ok_or(Broken::Field)
    }

    fn time(&mut self) -> Result<Option<Time>, Broken> {
        let text = self.next();
        if text.is_empty() {
            return Ok(None);
        }
        let (hour, minute) = (pair(text, 0)?, pair(text, 2)?);
        let seconds = number(text.get(4..).unwrap_or(""))?.ok_or(Broken::Field)?;
        // Sixty is a leap second: the last instant before the next minute.
        if !(0.0..61.0).contains(&seconds) {
            return Err(Broken::Field);
        }
        let us = ((seconds * 1e6).round() as i64).min(59_999_999);
        let (whole, part) = (us / 1_000_000, us % 1_000_000);
        Time::new(hour, minute, whole as i8, part as i32 * 1_000)
            .map(Some)
            .map_err(|_| Broken::Field)
    }

    fn date(&mut self) -> Result<Option<Date>, Broken> {
        let text = self.next();
        if text.is_empty() {
            return Ok(None);
        }
        if text.len() != 6 {
            return Err(Broken::Field);
        }
        let (day, month, year) = (pair(text, 0)?, pair(text, 2)?, pair(text, 4)?);
        // GPS time begins in 1980.
        let century = if year >= 80 { 1900 } else { 2000 };
        Date::new(century + i16::from(year), month, day)
            .map(Some)
            .map_err(|_| Broken::Field)
    }
}

fn rmc(mut fields: Fields<'_>) -> Result<Rmc, Broken> {
    let time = fields.time()?;
    let status = fields.next();
    let place = fields.place()?;
    let speed_kt = fields.number()?.filter(|kt| *kt >= 0.0);
    let track_deg = fields.number()?;
    let date = fields.date()?;
    let (_variation, _to) = (fields.next(), fields.next());
    let mode = fields.next();
    Ok(Rmc {
        time,
        date,
        // Before version 2.3 there is no mode; estimated, manual, simulated and invalid ones count for nothing.
        measured: matches!(status, "A" | "D") && !matches!(mode, "E" | "M" | "N" | "S"),
        place,
        ground_speed: speed_kt.map(Speed::from_kt),
        track: track_deg.map(Angle::from_deg),
    })
}

fn gga(mut fields: Fields<'_>) -> Result<Gga, Broken> {
    let time = fields.time()?;
    let place = fields.place()?;
    let quality = fields.next();
    let (_satellites, _dilution) = (fields.next(), fields.next());
    let height_m = fields.number()?;
    Ok(Gga {
        time,
        // 0 is invalid, 6 estimated, 7 manual, 8 simulated.
        measured: matches!(quality, "1" | "2" | "3" | "4" | "5" | "9"),
        place,
        height: height_m.map(Length::from_m),
    })
}

/// `ddmm.mmm` or `dddmm.mmm`, as `whole` digits of degrees are.
fn degrees(text: &str, whole: usize) -> Result<f64, Broken> {
    let (degrees, minutes) = text.split_at_checked(whole).ok_or(Broken::Field)?;
    if !degrees.bytes().all(|b| b.is_ascii_digit()) {
        return Err(Broken::Field);
    }
    let degrees: f64 = degrees.parse().map_err(|_| Broken::Field)?;
    let minutes = number(minutes)?.ok_or(Broken::Field)?;
    if !(0.0..60.0).contains(&minutes) {
        return Err(Broken::Field);
    }
    Ok(degrees + minutes / 60.0)
}

fn sign(text: &str, positive: &str, negative: &str) -> Result<f64, Broken> {
    match text {
        _ if text == positive => Ok(1.0),
        _ if text == negative => Ok(-1.0),
        _ => Err(Broken::Field),
    }
}

/// A plain decimal; `None` for nothing.
fn number(text: &str) -> Result<Option<f64>, Broken> {
    if text.is_empty() {
        return Ok(None);
    }
    let plain = text
        .bytes()
        .all(|b| b.is_ascii_digit() || b == b'.' || b == b'-');
    text.parse()
        .ok()
        .filter(|_| plain)
        .map(Some)
        .ok_or(Broken::Field)
}

/// The two digits at a place.
fn pair(text: &str, at: usize) -> Result<i8, Broken> {
    text.get(at..at + 2)
        .filter(|pair| pair.bytes().all(|b| b.is_ascii_digit()))
        .and_then(|pair| pair.parse().ok())
        .ok_or(Broken::Field)
}
