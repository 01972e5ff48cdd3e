//! The journal: every event of a show, one JSON object a line, written before its effects show.
//!
//! The first line says which document and tracks it belongs to. `opened` lines fix the show clock; `sent`
//! lines name each effect just before it leaves the machine, so that none is sent twice. `heard` and `output`
//! lines are playout's own account of what it played, for the debrief; a journal without them is as whole. A
//! thread of its own syncs to disk.

mod record;
mod seal;

use std::collections::BTreeMap;
use std::fs::{File, OpenOptions, TryLockError};
use std::io::{self, Write};
use std::path::Path;
use std::sync::mpsc::{Receiver, SyncSender, TrySendError, sync_channel};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use serde::{Deserialize, Serialize};

use super::clock::{Reading, ShowClock};
use super::event::Event;
use crate::show::Name;
use crate::units::{Instant as ShowInstant, Span};

pub use record::Record;
pub use seal::{Chain, chain};

/// From one sync to the next: a line waits this long for its own, and for as long as a sync takes.
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
    /// The wind the command line put in the document's place.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub wind: Option<String>,
    /// The temperature the command line put in the document's place.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub temperature: Option<String>,
    /// Whether every figure was planned from the other side than the document says.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub mirrored: bool,
    /// Whether it was a practice: nobody flew.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub practice: bool,
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
    /// A track was heard to begin, or a hit of it was heard.
    Heard(Heard),
    /// How the output has done since the program began to run the show, whenever that changes.
    Output(OutputCounts),
    /// The show was ended on purpose.
    Closed(Reading),
    /// Nothing is written here any more: BLAKE3 of all before this line, and the file the show goes on in.
    Sealed {
        /// In hexadecimal.
        blake3: String,
        /// Its name, beside this one.
        next: String,
    },
    /// What was before is in another file, which is sealed.
    Follows {
        /// Its name, beside this one.
        file: String,
        /// BLAKE3 of it up to its seal, in hexadecimal.
        blake3: String,
    },
}

/// Something the device played, when the crowd heard it: by the frames it had really taken.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Heard {
    /// The track.
    pub track: Name,
    /// Which hit of it; `None`: it began, or came in again.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub hit: Option<Name>,
    /// When, on the show clock.
    #[serde(rename = "at_us")]
    pub at: ShowInstant,
    /// The place in the track.
    #[serde(rename = "place_us")]
    pub place: Span,
}

/// How the output has done.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct OutputCounts {
    /// How often the device ran out of sound, or a voice did.
    pub underruns: u64,
    /// How often a lost device was opened again.
    pub reopened: u64,
    /// Starts that found every voice taken.
    pub refused: u64,
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
    /// What went wrong with the last sync, until it is told.
    unsynced: Unsynced,
}

/// An error of a sync. The system tells of it once only: kept until the next line is written.
#[derive(Debug, Clone, Default)]
struct Unsynced(Arc<Mutex<Option<io::Error>>>);

impl Unsynced {
    fn keep(&self, error: io::Error) {
        *self.0.lock().unwrap_or_else(PoisonError::into_inner) = Some(error);
    }

    fn take(&self) -> Option<io::Error> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).take()
    }
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
            // A folder that cannot be synced is no reason to go without.
            let synced = File::open(folder).and_then(|folder| folder.sync_all());
            if let Err(error) = synced {
                journal.unsynced.keep(error);
            }
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
        // Where files cannot be locked nobody is kept out.
        if let Err(TryLockError::WouldBlock) = file.try_lock() {
            return Err(io::Error::other("another show is writing it"));
        }
        let (sync, wanted) = sync_channel(1);
        let synced = file.try_clone()?;
        let unsynced = Unsynced::default();
        let failed = unsynced.clone();
        let syncer = std::thread::Builder::new()
            .name("journal sync".into())
            .spawn(move || keep_synced(&synced, &wanted, &failed))?;
        Ok(Journal {
            file,
            whole: true,
            sync: Some(sync),
            syncer: Some(syncer),
            unsynced,
        })
    }

    /// Writes one line to the operating system and asks for it to be synced. After an error the next line
    /// starts afresh. That an earlier line could not be synced is told here, once.
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
        let earlier = self.unsynced.take();
        if let Some(Err(TrySendError::Disconnected(()))) =
            self.sync.as_ref().map(|sync| sync.try_send(()))
        {
            return Err(io::Error::other(
                "the thread that syncs the journal has stopped",
            ));
        }
        earlier.map_or(Ok(()), Err)
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
fn keep_synced(file: &File, wanted: &Receiver<()>, unsynced: &Unsynced) {
    while wanted.recv().is_ok() {
        let begun = Instant::now();
        if let Err(error) = file.sync_data() {
            unsynced.keep(error);
        }
        std::thread::sleep(SYNC_EVERY.saturating_sub(begun.elapsed()));
    }
    // The show is over, and nobody is left to be told.
    let _ = file.sync_data();
}

/// Whether a show that is running writes this journal.
pub fn is_in_use(path: &Path) -> io::Result<bool> {
    let file = File::open(path)?;
    Ok(matches!(
        file.try_lock_shared(),
        Err(TryLockError::WouldBlock)
    ))
}

/// Reads a journal back, with the files it goes on in after an accident. Torn lines are counted and left out;
/// where even the first is torn nothing had begun, and the error is an unexpected end of the file.
pub fn read(path: &Path) -> io::Result<Record> {
    seal::read_all(path)
}

impl std::ops::Add for OutputCounts {
    type Output = OutputCounts;
    fn add(self, other: OutputCounts) -> OutputCounts {
        OutputCounts {
            underruns: self.underruns.saturating_add(other.underruns),
            reopened: self.reopened.saturating_add(other.reopened),
            refused: self.refused.saturating_add(other.refused),
        }
    }
}
