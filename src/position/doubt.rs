//! What of a log was not taken, and why; each kind counted, with the first place it occurs.

use std::fmt;

/// Why something in a log was not taken, or not as it stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum DoubtKind {
    /// A line that is nothing this program reads, where it should be.
    Unreadable,
    /// A sentence whose checksum is missing or wrong.
    Checksum,
    /// The receiver itself says that it has no measured position.
    Unmeasured,
    /// A time or place is missing.
    Incomplete,
    /// A time with no date, and none known.
    Dateless,
    /// Time runs backwards; the fix is put where its time belongs.
    Backwards,
    /// A second fix at the same instant.
    Twice,
    /// No aircraft gets there from the fix before.
    Impossible,
    /// The log ends in the middle of something.
    BrokenOff,
}

impl DoubtKind {
    fn words(self) -> (&'static str, &'static str) {
        match self {
            DoubtKind::Unreadable => ("line cannot be read", "lines cannot be read"),
            DoubtKind::Checksum => (
                "sentence has a missing or wrong checksum",
                "sentences have a missing or wrong checksum",
            ),
            DoubtKind::Unmeasured => (
                "fix was not measured, as the receiver says",
                "fixes were not measured, as the receiver says",
            ),
            DoubtKind::Incomplete => (
                "fix lacks its time or place",
                "fixes lack their time or place",
            ),
            DoubtKind::Dateless => ("fix has no date", "fixes have no date"),
            DoubtKind::Backwards => (
                "time runs backwards once: put in order",
                "times the time runs backwards: put in order",
            ),
            DoubtKind::Twice => (
                "fix is at the instant of another",
                "fixes are at the instant of another",
            ),
            DoubtKind::Impossible => (
                "fix cannot have been reached from the one before",
                "fixes cannot have been reached from the one before",
            ),
            DoubtKind::BrokenOff => (
                "end in the middle of something",
                "ends in the middle of something",
            ),
        }
    }
}

/// One kind of doubt.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Doubt {
    /// Which.
    pub kind: DoubtKind,
    /// How often.
    pub count: usize,
    /// The line of the log where first, counted from 1.
    pub first_line: u64,
}

impl fmt::Display for Doubt {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (one, many) = self.kind.words();
        let (count, line) = (self.count, self.first_line);
        if count == 1 {
            write!(f, "1 {one} (line {line})")
        } else {
            write!(f, "{count} {many} (the first on line {line})")
        }
    }
}

/// All doubts about a log.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Doubts(Vec<Doubt>);

impl Doubts {
    /// Counts one more.
    pub fn add(&mut self, kind: DoubtKind, line: u64) {
        match self.0.iter_mut().find(|doubt| doubt.kind == kind) {
            Some(doubt) => {
                doubt.count += 1;
                doubt.first_line = doubt.first_line.min(line);
            }
            None => {
                self.0.push(Doubt {
                    kind,
                    count: 1,
                    first_line: line,
                });
                self.0.sort_unstable_by_key(|doubt| doubt.kind);
            }
        }
    }

    /// Each kind that occurs.
    pub fn iter(&self) -> impl Iterator<Item = &Doubt> {
        self.0.iter()
    }

    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// How often one kind occurs.
    pub fn count(&self, kind: DoubtKind) -> usize {
        self.0
            .iter()
            .find(|doubt| doubt.kind == kind)
            .map_or(0, |doubt| doubt.count)
    }
}
