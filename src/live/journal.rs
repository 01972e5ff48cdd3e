//! The journal: every event of a show, one JSON object a line, written before its effects show.
//!
//! The first line says which document and tracks it belongs to. `opened` lines fix the show clock; `sent`
//! lines name each effect just before it leaves the machine, so that none is sent twice. A thread of its own
//! syncs to disk.

use std::collections::BTreeMap;
use std::fs::{File, OpenOptions};
use std::io::{self, Write};
use std::path::Path;
use std::sync::mpsc::{Receiver, SyncSender, TrySendError, sync_channel};
use std::thread::JoinHandle;
use std::time::Duration;

use serde::{Deserialize, Serialize};

use super::clock::{Reading, ShowClock};
use super::event::Event;

/// Lines reach the disk within this.
const SYNC_EVERY: Duration = Duration::from_millis(50);

/// What a journal belongs to.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Header {
    /// The format of the journal.
    pub abeam_journal: u32,
    /// What the display is called.
    pub title: String,
    /// The profile that was flown at first.
    pub profile: String,
    /// BLAKE3 of the document, in hexadecimal.
    pub show_blake3: String,
    /// BLAKE3 of each track's file, by track.
    pub tracks_blake3: BTreeMap<String, String>,
}

/// One line after the first.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Line {
    /// The program began to run the show, with the show clock so.
    Opened(ShowClock),
    /// Something happened.
    Event(Stamped),
    /// An effect is about to leave the machine: its id.
    Sent(u64),
    /// The show was ended on purpose.
    Closed(Reading),
}

/// An event and the machine's clocks when it was taken.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Stamped {
    /// The clocks.
    #[serde(flatten)]
    pub reading: Reading,
    /// The event.
    #[serde(flatten)]
    pub event: Event,
}

/// The format written by this program.
pub const FORMAT: u32 = 1;

/// A journal being written.
#[derive(Debug)]
pub struct Journal {
    file: File,
    /// Whether the last line went out whole.
    whole: bool,
    sync: Option<SyncSender<()>>,
    syncer: Option<JoinHandle<()>>,
}

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

impl Journal {
    /// Begins a journal; refuses to write over one.
    pub fn create(path: &Path, header: &Header) -> io::Result<Journal> {
        let file = OpenOptions::new()
            .append(true)
            .create_new(true)
            .open(path)?;
        let mut journal = Journal::over(file)?;
        journal.write(header)?;
        if let Some(folder) = path
            .parent()
            .filter(|folder| !folder.as_os_str().is_empty())
        {
            File::open(folder)?.sync_all()?;
        }
        Ok(journal)
    }

    /// Goes on with a journal.
    pub fn reopen(path: &Path) -> io::Result<Journal> {
        let file = OpenOptions::new().append(true).open(path)?;
        let mut journal = Journal::over(file)?;
        // Whatever the last run left unfinished stays a line of its own.
        journal.whole = false;
        Ok(journal)
    }

    fn over(file: File) -> io::Result<Journal> {
        let (sync, wanted) = sync_channel(1);
        let synced = file.try_clone()?;
        let syncer = std::thread::Builder::new()
            .name("journal sync".into())
            .spawn(move || keep_synced(&synced, &wanted))?;
        Ok(Journal {
            file,
            whole: true,
            sync: Some(sync),
            syncer: Some(syncer),
        })
    }

    /// Writes one line to the operating system and asks for it to be synced. After an error the next line
    /// starts afresh.
    pub fn append(&mut self, line: &Line) -> io::Result<()> {
        self.write(line)
    }

    fn write(&mut self, line: &impl Serialize) -> io::Result<()> {
        let mut text = Vec::with_capacity(256);
        if !self.whole {
            text.push(b'\n');
        }
        serde_json::to_writer(&mut text, line)?;
        text.push(b'\n');
        self.whole = false;
        self.file.write_all(&text)?;
        self.whole = true;
        match self.sync.as_ref().map(|sync| sync.try_send(())) {
            Some(Err(TrySendError::Disconnected(()))) => Err(io::Error::other(
                "the thread that syncs the journal has stopped",
            )),
            _ => Ok(()),
        }
    }
}

impl Drop for Journal {
    fn drop(&mut self) {
        drop(self.sync.take());
        if let Some(syncer) = self.syncer.take() {
            // A panic there has nothing left to tell anybody.
            let _ = syncer.join();
        }
    }
}

/// Syncs once for any number of lines, and once more when the journal is closed.
fn keep_synced(file: &File, wanted: &Receiver<()>) {
    while wanted.recv().is_ok() {
        // An error here shows again, and is reported, at the next write.
        let _ = file.sync_data();
        std::thread::sleep(SYNC_EVERY);
    }
    let _ = file.sync_data();
}

/// Reads a journal back. Torn lines are counted and left out.
pub fn read(path: &Path) -> io::Result<Record> {
    let bytes = std::fs::read(path)?;
    let text = String::from_utf8_lossy(&bytes);
    let mut lines = text.split('\n');
    let header: Header = lines
        .next()
        .and_then(|line| serde_json::from_str(line).ok())
        .ok_or_else(|| invalid("its first line does not say which show it belongs to"))?;
    if header.abeam_journal != FORMAT {
        return Err(invalid("it was written by another version of this program"));
    }
    let mut record = Record {
        header,
        lines: Vec::new(),
        torn: 0,
    };
    for line in lines.filter(|line| !line.trim().is_empty()) {
        match serde_json::from_str(line) {
            Ok(line) => record.lines.push(line),
            Err(_) => record.torn += 1,
        }
    }
    Ok(record)
}

fn invalid(message: &str) -> io::Error {
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
        let last = self.lines.iter().rev().find_map(|line| match line {
            Line::Event(stamped) => Some((stamped.reading.clone(), stamped.event.at)),
            Line::Opened(clock) => Some((clock.reading.clone(), clock.at)),
            _ => None,
        });
        last.map(|(reading, at)| ShowClock::new(reading, at, opened.rate))
    }

    /// The id of the last effect that left the machine; 0 if none did.
    pub fn last_sent(&self) -> u64 {
        let sent = self.lines.iter().filter_map(|line| match line {
            Line::Sent(id) => Some(*id),
            _ => None,
        });
        sent.max().unwrap_or(0)
    }

    /// Whether the show was ended on purpose.
    pub fn is_closed(&self) -> bool {
        matches!(self.lines.last(), Some(Line::Closed(_)))
    }
}
