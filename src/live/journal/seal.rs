//! A sealed journal: what was written up to an accident is synced, closed with its hash and made read-only;
//! the show goes on in a file that names it.

use std::collections::BTreeSet;
use std::fs::OpenOptions;
use std::io;
use std::path::{Path, PathBuf};

use super::record::{invalid, read_one};
use super::{Header, Journal, Line, Record};

/// A show is sealed no more often than this.
const MOST: usize = 1_000;

/// The files of one show, in order, as each names the next.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Chain {
    /// The files.
    pub files: Vec<PathBuf>,
    /// How many of them are not what was sealed.
    pub broken: usize,
}

impl Journal {
    /// Seals the journal at `path`, which this one writes, and goes on in a file beside it: that file's path.
    /// Where that cannot be done it goes on as before.
    pub fn seal(&mut self, path: &Path, header: &Header) -> io::Result<PathBuf> {
        let hash = blake3::hash(&std::fs::read(path)?).to_string();
        let (next, mut journal) = begin_next(path, header)?;
        let name = |path: &Path| {
            path.file_name()
                .map(|name| name.to_string_lossy().into_owned())
        };
        let (this, after) = (
            name(path).unwrap_or_default(),
            name(&next).unwrap_or_default(),
        );
        let sealed = journal
            .append(&Line::Follows {
                file: this,
                blake3: hash.clone(),
            })
            .and_then(|()| {
                self.append(&Line::Sealed {
                    blake3: hash,
                    next: after,
                })
            });
        if let Err(error) = sealed {
            // Nothing names it.
            let _ = std::fs::remove_file(&next);
            return Err(error);
        }
        *self = journal;
        let file = OpenOptions::new().append(true).open(path)?;
        file.sync_all()?;
        let mut permissions = file.metadata()?.permissions();
        permissions.set_readonly(true);
        file.set_permissions(permissions)?;
        Ok(next)
    }
}

/// The first name beside `path` that is free: `show.after-1.journal`.
fn begin_next(path: &Path, header: &Header) -> io::Result<(PathBuf, Journal)> {
    let stem = path.file_stem().unwrap_or_default().to_string_lossy();
    let stem = stem.split(".after-").next().unwrap_or_default();
    for number in 1..=MOST {
        let next = path.with_file_name(format!("{stem}.after-{number}.journal"));
        match Journal::create(&next, header) {
            Err(error) if error.kind() == io::ErrorKind::AlreadyExists => {}
            other => return Ok((next, other?)),
        }
    }
    Err(io::Error::other("there is no name left to go on under"))
}

/// The file at `path` and those that follow it.
pub fn chain(path: &Path) -> io::Result<Chain> {
    if !path.is_file() {
        // A device would be read without end.
        return Ok(Chain::default());
    }
    follow(path).map(|(_, chain)| chain)
}

/// Reads a journal back, with all that follows it.
pub(super) fn read_all(path: &Path) -> io::Result<Record> {
    follow(path).map(|(record, _)| record)
}

fn follow(path: &Path) -> io::Result<(Record, Chain)> {
    let (mut record, mut whole) = read_one(path)?;
    let mut chain = Chain {
        files: vec![path.to_owned()],
        broken: usize::from(!whole),
    };
    let mut seen = BTreeSet::from([path.to_owned()]);
    let mut last = path.to_owned();
    while let Some(Line::Sealed { next, .. }) = record.lines.last() {
        // A name, and no way out of the folder.
        let name = Path::new(next).file_name().unwrap_or_default();
        last = last.with_file_name(name);
        if !seen.insert(last.clone()) {
            return Err(invalid("a file of it names one before it"));
        }
        let after;
        (after, whole) = read_one(&last).map_err(|error| {
            io::Error::new(
                io::ErrorKind::InvalidData,
                format!("it goes on in {}: {error}", last.display()),
            )
        })?;
        record.lines.extend(after.lines);
        record.torn += after.torn;
        chain.broken += usize::from(!whole);
        chain.files.push(last.clone());
    }
    Ok((record, chain))
}
