//! A journal as read back.

use std::io;
use std::path::Path;

use serde::Deserialize;

use super::{FORMAT, Header, Heard, Line, OutputCounts, Stamped};
use crate::live::clock::{Reading, ShowClock};
use crate::live::event::{Event, What};

/// A journal as read back.
#[derive(Debug, Clone, PartialEq)]
pub struct Record {
    /// What it belongs to.
    pub header: Header,
    /// Every whole line after the first.
    pub lines: Vec<Line>,
    /// How many lines could not be read: torn by a kill or a full disk.
    pub torn: usize,
}

/// What every version's first line says.
#[derive(Deserialize)]
struct Format {
    abeam_journal: u32,
}

/// Reads one file back, and whether it is still what was sealed, if it was.
pub(super) fn read_one(path: &Path) -> io::Result<(Record, bool)> {
    let bytes = std::fs::read(path)?;
    let text = String::from_utf8_lossy(&bytes);
    let Some((first, rest)) = text.split_once('\n') else {
        return Err(io::ErrorKind::UnexpectedEof.into());
    };
    let written: Format = serde_json::from_str(first)
        .map_err(|_| invalid("its first line does not say which show it belongs to"))?;
    if written.abeam_journal != FORMAT {
        return Err(invalid("it was written by another version of this program"));
    }
    let header = serde_json::from_str(first)
        .map_err(|_| invalid("its first line does not say which show it belongs to"))?;
    let lines = rest.split('\n');
    let mut record = Record {
        header,
        lines: Vec::new(),
        torn: 0,
    };
    let mut whole = true;
    for line in lines.filter(|line| !line.trim().is_empty()) {
        match serde_json::from_str(line) {
            Ok(Line::Sealed { blake3, next }) => {
                let before = line.as_ptr() as usize - text.as_ptr() as usize;
                let hash = blake3::hash(text.as_bytes().get(..before).unwrap_or_default());
                whole &= hash.to_string() == blake3;
                record.lines.push(Line::Sealed { blake3, next });
            }
            Ok(line) => record.lines.push(line),
            Err(_) => record.torn += 1,
        }
    }
    Ok((record, whole))
}

pub(super) fn invalid(message: &str) -> io::Error {
    io::Error::new(io::ErrorKind::InvalidData, message)
}

impl Record {
    /// The events, in order.
    pub fn events(&self) -> impl Iterator<Item = &Event> {
        self.lines.iter().filter_map(|line| match line {
            Line::Event(stamped) => Some(&stamped.event),
            _ => None,
        })
    }

    /// What was heard, in the order it was noted.
    pub fn heard(&self) -> impl Iterator<Item = &Heard> {
        self.lines.iter().filter_map(|line| match line {
            Line::Heard(heard) => Some(heard),
            _ => None,
        })
    }

    /// How the output did in all, over every run of the program; `None` where nobody noted it.
    pub fn output(&self) -> Option<OutputCounts> {
        let (mut before, mut now, mut noted) = (OutputCounts::default(), None, false);
        for line in &self.lines {
            match line {
                Line::Opened(_) => before = before + now.take().unwrap_or_default(),
                Line::Output(counts) => (now, noted) = (Some(*counts), true),
                _ => {}
            }
        }
        noted.then(|| before + now.unwrap_or_default())
    }

    /// The show clock where the journal begins; `None` if it was never opened.
    pub fn first_clock(&self) -> Option<&ShowClock> {
        self.lines.iter().find_map(|line| match line {
            Line::Opened(clock) => Some(clock),
            _ => None,
        })
    }

    /// The show clock to go on with at `reading`: fixed by the last `opened` line, or by whatever was written
    /// last when the machine has been restarted since.
    pub fn clock(&self, reading: &Reading) -> Option<ShowClock> {
        let opened = self.lines.iter().rev().find_map(|line| match line {
            Line::Opened(clock) => Some(clock.clone()),
            _ => None,
        })?;
        if opened.reading.boot_id == reading.boot_id {
            return Some(opened);
        }
        // What was written last may be of an earlier instant of the show: the clock itself says where it stood.
        let last = self.lines.iter().rev().find_map(|line| match line {
            Line::Event(stamped) => Some(&stamped.reading),
            Line::Opened(clock) => Some(&clock.reading),
            _ => None,
        })?;
        Some(ShowClock::new(last.clone(), opened.at(last), opened.rate))
    }

    /// The wall clock when something was last written, in microseconds since 1970; `None` if nothing was.
    pub fn last_wall_us(&self) -> Option<i64> {
        self.lines.iter().rev().find_map(|line| match line {
            Line::Opened(ShowClock { reading, .. })
            | Line::Event(Stamped { reading, .. })
            | Line::Closed(reading) => Some(reading.wall_us),
            Line::Sent(_) | Line::Heard(_) | Line::Output(_) => None,
            Line::Sealed { .. } | Line::Follows { .. } => None,
        })
    }

    /// The id of the last effect that left the machine; 0 if none did.
    pub fn last_sent(&self) -> u64 {
        let sent = self.lines.iter().filter_map(|line| match line {
            Line::Sent(id) => Some(*id),
            _ => None,
        });
        sent.max().unwrap_or(0)
    }

    /// Whether an accident was the last that was written, and the journal is not sealed at it yet.
    pub fn awaits_seal(&self) -> bool {
        let accident = |line: &Line| match line {
            Line::Event(stamped) => stamped.event.what == What::Accident,
            _ => false,
        };
        let sealed = |line: &Line| matches!(line, Line::Sealed { .. });
        let last = self
            .lines
            .iter()
            .rev()
            .find(|line| accident(line) || sealed(line));
        last.is_some_and(accident)
    }

    /// Whether the show was ended on purpose.
    pub fn is_closed(&self) -> bool {
        matches!(self.lines.last(), Some(Line::Closed(_)))
    }
}
