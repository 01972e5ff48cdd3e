//! CSV logs: the first line names the columns, each quantity with its unit (`altitude_ft`, `speed (kt)`).
//!
//! | column | names |
//! |---|---|
//! | time, UTC | `time`, `utc`, `timestamp`, with or without a date; `date` beside it; `unix_s`, `unix_ms` |
//! | place | `lat`, `latitude`; `lon`, `longitude`; in degrees |
//! | height above sea | `altitude`, `height` or `elevation` with `_m` or `_ft` |
//! | ground speed | `speed`, `ground_speed` or `gs` with `_kt`, `_mps` or `_kmh` |
//! | true track | `track`, `course` |
//! | aircraft | `aircraft`, `callsign`, `name` |
//!
//! Columns apart by comma, semicolon or tab; other columns are passed over.

use std::io::BufRead;

use ::csv::{ErrorKind, ReaderBuilder, StringRecord};
use jiff::Timestamp;
use jiff::civil::{Date, Time};

use super::calendar::Calendar;
use super::order::Gathered;
use super::{DoubtKind, Fix, LogError, Place, gpx};
use crate::units::quantity::{FOOT, KNOT};
use crate::units::{Angle, Length, Speed};

/// What is known of a quantity, and the units its columns may be in.
struct Quantity {
    names: &'static [&'static str],
    units: &'static [(&'static str, f64)],
    expected: &'static str,
}

const HEIGHT: Quantity = Quantity {
    names: &["altitude", "alt", "height", "elevation", "ele"],
    units: &[("m", 1.0), ("ft", FOOT), ("feet", FOOT)],
    expected: "`altitude_m` or `altitude_ft`",
};
const SPEED: Quantity = Quantity {
    names: &["ground_speed", "groundspeed", "speed", "gs"],
    units: &[
        ("kt", KNOT),
        ("kts", KNOT),
        ("knots", KNOT),
        ("mps", 1.0),
        ("m_s", 1.0),
        ("kmh", 1.0 / 3.6),
        ("km_h", 1.0 / 3.6),
    ],
    expected: "`speed_kt`, `speed_mps` or `speed_kmh`",
};

/// Where in a line each thing stands.
struct Columns {
    when: When,
    lat: usize,
    lon: usize,
    height: Option<(usize, f64)>,
    speed: Option<(usize, f64)>,
    track: Option<usize>,
    aircraft: Option<usize>,
    /// Whether numbers may have a comma for their point.
    comma: bool,
}

enum When {
    /// Date and time, or a time of day, in one column.
    Time(usize),
    /// A column each.
    DateAndTime(usize, usize),
    /// Since 1970, and how many of its units are a second.
    Unix(usize, f64),
}

/// Reads every line; one that gives no fix is counted and passed over.
pub(super) fn read(
    mut source: impl BufRead,
    name: &str,
    aircraft: &str,
    day: Option<Date>,
    into: &mut Gathered,
) -> Result<(), LogError> {
    let delimiter = delimiter(&mut source);
    let mut reader = ReaderBuilder::new()
        .delimiter(delimiter)
        .comment(Some(b'#'))
        .flexible(true)
        .trim(::csv::Trim::All)
        .from_reader(source);
    let header = reader
        .byte_headers()
        .map_err(|error| broken(name, &error))?;
    let header: Vec<String> = header.iter().map(plain).collect();
    let columns = Columns::of(&header, delimiter, name)?;
    let mut calendar = Calendar::new(day);
    let mut record = StringRecord::new();
    loop {
        let line = reader.position().line();
        match reader.read_record(&mut record) {
            Ok(false) => return Ok(()),
            Ok(true) => {}
            Err(error) if matches!(error.kind(), ErrorKind::Io(_)) => {
                return Err(broken(name, &error));
            }
            Err(_) => {
                into.doubts.add(DoubtKind::Unreadable, line);
                continue;
            }
        }
        let line = record.position().map_or(line, ::csv::Position::line);
        match columns.fix(&record, &mut calendar) {
            Ok(fix) => {
                let named = columns.aircraft.and_then(|column| record.get(column));
                let named = named.filter(|name| !name.is_empty()).unwrap_or(aircraft);
                let number = into.aircraft(named);
                into.add(number, fix, line);
            }
            Err(kind) => into.doubts.add(kind, line),
        }
    }
}

/// The commonest of the usual ones in the first line.
fn delimiter(source: &mut impl BufRead) -> u8 {
    let start = source.fill_buf().unwrap_or_default();
    let header = start
        .split(|&b| b == b'\n')
        .find(|line| !line.trim_ascii().is_empty() && !line.starts_with(b"#"))
        .unwrap_or_default();
    let count = |delimiter: u8| header.iter().filter(|&&b| b == delimiter).count();
    // The last of equals is chosen: a comma.
    [b'\t', b';', b',']
        .into_iter()
        .max_by_key(|&delimiter| count(delimiter))
        .unwrap_or(b',')
}

/// A column's name in small letters and digits, everything between them one underscore.
fn plain(name: &[u8]) -> String {
    let mut plain = String::with_capacity(name.len());
    for c in String::from_utf8_lossy(name).chars() {
        if c.is_ascii_alphanumeric() {
            plain.push(c.to_ascii_lowercase());
        } else if !plain.is_empty() && !plain.ends_with('_') {
            plain.push('_');
        }
    }
    plain.truncate(plain.trim_end_matches('_').len());
    plain
}

impl Columns {
    fn of(header: &[String], delimiter: u8, name: &str) -> Result<Columns, LogError> {
        let find = |names: &[&str]| header.iter().position(|h| names.contains(&h.as_str()));
        let must = |names: &[&str], what: &str| {
            find(names).ok_or_else(|| LogError {
                name: name.to_owned(),
                at: Some((1, 1)),
                message: format!("no column has the {what}"),
                help: format!("name the one that has it `{}` in the first line", names[0]),
            })
        };
        Ok(Columns {
            lat: must(&["lat_deg", "lat", "latitude", "latitude_deg"], "latitude")?,
            lon: must(
                &[
                    "lon_deg",
                    "lon",
                    "long",
                    "lng",
                    "longitude",
                    "longitude_deg",
                ],
                "longitude",
            )?,
            when: When::of(&find, &must)?,
            height: HEIGHT.column(header, name)?,
            speed: SPEED.column(header, name)?,
            track: find(&["track", "track_deg", "course", "course_deg"]),
            aircraft: find(&["aircraft", "callsign", "name"]),
            comma: delimiter != b',',
        })
    }

    fn fix(&self, record: &StringRecord, calendar: &mut Calendar) -> Result<Fix, DoubtKind> {
        let text = |column: usize| record.get(column).unwrap_or("");
        let number = |column: usize| self.number(text(column));
        // A date counts even where the place does not.
        let at = match self.when {
            When::Time(column) => moment(text(column), calendar),
            When::DateAndTime(date, time) => dated(text(date), text(time), calendar),
            When::Unix(column, of_a_second) => number(column)
                .and_then(|count| unix(count / of_a_second))
                .ok_or(DoubtKind::Incomplete),
        };
        let place = number(self.lat).zip(number(self.lon));
        let place = place.and_then(|(lat, lon)| Place::from_deg(lat, lon));
        let scaled = |column: Option<(usize, f64)>| {
            let (column, scale) = column?;
            Some(number(column)? * scale)
        };
        Ok(Fix {
            place: place.ok_or(DoubtKind::Incomplete)?,
            at: at?,
            height: scaled(self.height).map(Length::from_m),
            ground_speed: scaled(self.speed)
                .filter(|speed| *speed >= 0.0)
                .map(Speed::from_mps),
            track: self.track.and_then(number).map(Angle::from_deg),
        })
    }

    fn number(&self, text: &str) -> Option<f64> {
        let number: f64 = if self.comma && text.contains(',') {
            text.replace(',', ".").parse().ok()?
        } else {
            text.parse().ok()?
        };
        number.is_finite().then_some(number)
    }
}

impl When {
    fn of(
        find: &impl Fn(&[&str]) -> Option<usize>,
        must: &impl Fn(&[&str], &str) -> Result<usize, LogError>,
    ) -> Result<When, LogError> {
        if let Some(column) = find(&["unix_s", "epoch_s"]) {
            return Ok(When::Unix(column, 1.0));
        }
        if let Some(column) = find(&["unix_ms", "epoch_ms"]) {
            return Ok(When::Unix(column, 1_000.0));
        }
        let time = must(
            &["time", "utc", "timestamp", "time_utc", "datetime"],
            "time",
        )?;
        Ok(match find(&["date", "date_utc"]) {
            Some(date) => When::DateAndTime(date, time),
            None => When::Time(time),
        })
    }
}

impl Quantity {
    /// The column and what its numbers are multiplied with; a column without a unit is an error.
    fn column(&self, header: &[String], name: &str) -> Result<Option<(usize, f64)>, LogError> {
        let mut bare = None;
        for (column, title) in header.iter().enumerate() {
            for quantity in self.names {
                let Some(unit) = title.strip_prefix(quantity) else {
                    continue;
                };
                if unit.is_empty() {
                    bare = bare.or(Some((column, title)));
                }
                let unit = unit.strip_prefix('_').unwrap_or("");
                if let Some((_, scale)) = self.units.iter().find(|(name, _)| *name == unit) {
                    return Ok(Some((column, *scale)));
                }
            }
        }
        bare.map_or(Ok(None), |(column, title)| {
            Err(LogError {
                name: name.to_owned(),
                at: Some((1, column as u64 + 1)),
                message: format!("column {} is `{title}`, with no unit", column + 1),
                help: format!("name it {}", self.expected),
            })
        })
    }
}

/// A date and time, or a time of day.
fn moment(text: &str, calendar: &mut Calendar) -> Result<Timestamp, DoubtKind> {
    if let Some(at) = gpx::time(text) {
        return Ok(at);
    }
    let time = time_of_day(text).ok_or(DoubtKind::Incomplete)?;
    calendar.undated(time).ok_or(DoubtKind::Dateless)
}

fn dated(date: &str, time: &str, calendar: &mut Calendar) -> Result<Timestamp, DoubtKind> {
    let time = time_of_day(time).ok_or(DoubtKind::Incomplete)?;
    let date: Option<Date> = date.parse().ok();
    match date {
        Some(date) => calendar.dated(date, time),
        None => calendar.undated(time),
    }
    .ok_or(DoubtKind::Dateless)
}

/// `12:03:04.5`, with or without a `Z`.
fn time_of_day(text: &str) -> Option<Time> {
    text.strip_suffix(['Z', 'z']).unwrap_or(text).parse().ok()
}

fn unix(seconds: f64) -> Option<Timestamp> {
    // Whole microseconds of any year that has four digits.
    let us = seconds * 1e6;
    (us.abs() < 2e17)
        .then(|| Timestamp::from_microsecond(us.round() as i64).ok())
        .flatten()
}

fn broken(name: &str, error: &::csv::Error) -> LogError {
    let at = error.position().map(|position| (position.line(), 1));
    LogError {
        name: name.to_owned(),
        at,
        message: format!("cannot be read: {error}"),
        help: "give a text file in UTF-8 whose first line names its columns".into(),
    }
}
