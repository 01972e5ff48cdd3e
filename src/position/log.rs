//! Reads a position log: GPX 1.1, NMEA 0183 or CSV, told apart by how it begins.

use std::fmt;
use std::fs::File;
use std::io::{self, BufRead, BufReader};
use std::path::Path;

use jiff::civil::Date;

use super::epoch::{Joined, Joiner};
use super::order::Gathered;
use super::{DoubtKind, Log, csv, gpx, nmea};

/// More than any sentence has; what is longer is none. The standard has 82.
pub const LONGEST_LINE: usize = 1_024;
/// What some programs write before UTF-8.
const BYTE_ORDER_MARK: &[u8] = &[0xef, 0xbb, 0xbf];

/// Why a log gives nothing.
#[derive(Debug)]
pub struct LogError {
    /// The file, or what it was called.
    pub name: String,
    /// Where in it, from 1; `None` where it is the whole of it.
    pub at: Option<(u64, u64)>,
    /// What is wrong.
    pub message: String,
    /// What to do.
    pub help: String,
}

impl fmt::Display for LogError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.name)?;
        if let Some((line, column)) = self.at {
            write!(f, ":{line}:{column}")?;
        }
        write!(f, ": {}\n  help: {}", self.message, self.help)
    }
}

impl std::error::Error for LogError {}

/// Reads the log at `path`. `day` (UTC) is the date of its first fix, for logs whose times have no date.
/// An aircraft without a name is called like the file.
pub fn open(path: &Path, day: Option<Date>) -> Result<Log, LogError> {
    let name = path.display().to_string();
    let file = File::open(path).map_err(|error| unreadable(&name, &error))?;
    let stem = path
        .file_stem()
        .map_or_else(|| name.clone(), |stem| stem.to_string_lossy().into_owned());
    read_as(BufReader::with_capacity(1 << 16, file), &name, &stem, day)
}

/// Reads a log that is called `name`, as [`open`] does.
pub fn read(source: impl BufRead, name: &str, day: Option<Date>) -> Result<Log, LogError> {
    read_as(source, name, name, day)
}

fn read_as(
    mut source: impl BufRead,
    name: &str,
    aircraft: &str,
    day: Option<Date>,
) -> Result<Log, LogError> {
    let failed = |error: &io::Error| unreadable(name, error);
    let first = first_byte(&mut source).map_err(|error| failed(&error))?;
    let mut gathered = Gathered::default();
    match first {
        Some(b'<') => gpx::read(source, aircraft, &mut gathered).map_err(|error| failed(&error))?,
        Some(b'$' | b'!' | b'\\') => {
            sentences(source, aircraft, day, &mut gathered).map_err(|error| failed(&error))?
        }
        Some(_) => csv::read(source, name, aircraft, day, &mut gathered)?,
        None => {}
    }
    let log = gathered.into_log();
    if log.tracks.is_empty() {
        return Err(nothing(name, &log));
    }
    Ok(log)
}

/// The first byte that is not white space.
fn first_byte(source: &mut impl BufRead) -> io::Result<Option<u8>> {
    loop {
        let buffer = source.fill_buf()?;
        if buffer.is_empty() {
            return Ok(None);
        }
        // The whole first buffer is looked through, but only the mark of the encoding is taken: lines are
        // counted by whoever reads them.
        let marks = if buffer.starts_with(BYTE_ORDER_MARK) {
            BYTE_ORDER_MARK.len()
        } else {
            0
        };
        let first = buffer[marks..]
            .iter()
            .copied()
            .find(|b| !b.is_ascii_whitespace());
        if first.is_some() {
            source.consume(marks);
            return Ok(first);
        }
        let taken = buffer.len();
        source.consume(taken);
    }
}

/// Reads sentences of NMEA 0183, one a line.
fn sentences(
    mut source: impl BufRead,
    aircraft: &str,
    day: Option<Date>,
    into: &mut Gathered,
) -> io::Result<()> {
    let number = into.aircraft(aircraft);
    let mut joiner = Joiner::new(day);
    let keep = |joined: Option<Joined>, into: &mut Gathered| match joined {
        Some((Ok(fix), line)) => into.add(number, fix, line),
        Some((Err(kind), line)) => into.doubts.add(kind, line),
        None => {}
    };
    let mut line = Vec::with_capacity(128);
    let mut at = 0;
    while next_line(&mut source, &mut line)? {
        at += 1;
        match nmea::sentence(&line) {
            Ok(sentence) => keep(joiner.take(sentence, at), into),
            Err(nmea::Broken::Checksum) => into.doubts.add(DoubtKind::Checksum, at),
            Err(_) => into.doubts.add(DoubtKind::Unreadable, at),
        }
    }
    keep(joiner.finish(), into);
    Ok(())
}

/// Reads the next line into `line`, without its end and no more of it than any sentence has; `false` at
/// the end of the source.
pub fn next_line(source: &mut impl BufRead, line: &mut Vec<u8>) -> io::Result<bool> {
    line.clear();
    let mut any = false;
    loop {
        let buffer = match source.fill_buf() {
            Ok(buffer) => buffer,
            Err(error) if error.kind() == io::ErrorKind::Interrupted => continue,
            Err(error) => return Err(error),
        };
        if buffer.is_empty() {
            return Ok(any);
        }
        any = true;
        let end = buffer.iter().position(|&b| b == b'\n');
        let part = &buffer[..end.unwrap_or(buffer.len())];
        let room = LONGEST_LINE.saturating_sub(line.len());
        line.extend_from_slice(&part[..part.len().min(room)]);
        let taken = part.len() + usize::from(end.is_some());
        source.consume(taken);
        if end.is_some() {
            return Ok(true);
        }
    }
}

fn unreadable(name: &str, error: &io::Error) -> LogError {
    LogError {
        name: name.to_owned(),
        at: None,
        message: format!("cannot be read: {error}"),
        help: "give a GPX, NMEA or CSV file with positions".into(),
    }
}

/// Why a log that could be read has no fix.
fn nothing(name: &str, log: &Log) -> LogError {
    let first = log.doubts.iter().next();
    let doubts: Vec<String> = log.doubts.iter().map(ToString::to_string).collect();
    let message = if doubts.is_empty() {
        "has no positions with a time".to_owned()
    } else {
        format!("has no position that can be used: {}", doubts.join("; "))
    };
    let dateless = log.doubts.count(DoubtKind::Dateless) > 0;
    LogError {
        name: name.to_owned(),
        at: first.map(|doubt| (doubt.first_line, 1)),
        message,
        help: if dateless {
            "log RMC sentences too: GGA sentences state no date".into()
        } else {
            "give a GPX file with times, a log of NMEA RMC sentences, or a CSV file whose first line names \
             its columns: time, lat_deg, lon_deg"
                .into()
        },
    }
}
