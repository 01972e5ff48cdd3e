//! What a stage writes into its journal. What cannot be written is a warning, and the show goes on.

use std::io;
use std::path::{Path, PathBuf};

use super::super::event::Effect;
use super::super::journal::{Journal, Line, Record, chain};
use super::Stage;

impl Stage {
    /// Goes on with the last file of a journal.
    pub(super) fn go_on_writing(&mut self, path: &Path, record: &Record) {
        let chain = chain(path).unwrap_or_default();
        if chain.broken > 0 {
            self.warnings.push(format!(
                "{} of the sealed files of the journal are not as they were sealed",
                chain.broken
            ));
        }
        let last = chain.files.last().map_or(path, PathBuf::as_path);
        self.take_journal(Journal::reopen(last));
        self.file = Some((last.to_owned(), record.header.clone()));
    }

    /// Seals the journal at an accident; what comes after it is written to another file.
    pub(super) fn seal(&mut self) {
        let (Some(journal), Some((path, header))) = (&mut self.journal, &mut self.file) else {
            return;
        };
        match journal.seal(path, header) {
            Ok(next) => *path = next,
            Err(error) => self
                .warnings
                .push(format!("the journal could not be sealed: {error}")),
        }
    }

    pub(super) fn take_journal(&mut self, journal: io::Result<Journal>) {
        match journal {
            Ok(journal) => self.journal = Some(journal),
            Err(error) => self.warnings.push(format!(
                "no journal: {error}; after a crash this show cannot be resumed"
            )),
        }
    }

    /// Takes down what playout has really played.
    pub(super) fn note_heard(&mut self) {
        for heard in self.desk.take_heard() {
            self.write(&Line::Heard(heard));
        }
        if let Some(counts) = self.desk.take_counts() {
            self.write(&Line::Output(counts));
        }
    }

    /// Names effects in the journal, each once.
    pub(super) fn note_sent(&mut self, effects: &[Effect]) {
        for effect in effects {
            if effect.id > self.sent {
                self.sent = effect.id;
                self.write(&Line::Sent(effect.id));
            }
        }
    }

    pub(super) fn write(&mut self, line: &Line) {
        let Some(journal) = &mut self.journal else {
            return;
        };
        if let Err(error) = journal.append(line) {
            let warning =
                format!("the journal cannot be written ({error}): the show goes on without it");
            if !self.warnings.contains(&warning) {
                self.warnings.push(warning);
            }
        }
    }
}
