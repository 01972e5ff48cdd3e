//! Writing a document back.

use std::fs::{self, Metadata};
use std::io::{self, Write};
use std::os::unix::fs::{MetadataExt, fchown};
use std::path::{Path, PathBuf};

use super::{EditError, Manuscript};
use crate::show::aside::{Part, with_suffix};

impl Manuscript {
    /// Writes the text to its file: aside first, so that the file is the old one or the new one whatever
    /// happens. It keeps its permissions, and a link to it stays a link.
    ///
    /// # Errors
    /// When the file is not as it was read, or cannot be written; then it is left as it is, and the
    /// changes stay in memory.
    pub fn save(&mut self) -> Result<(), EditError> {
        let unwritten = |error: io::Error| {
            let name = &self.name;
            EditError::Unwritten(match error.kind() {
                io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded => {
                    format!("{name} cannot be written, the disk is full")
                }
                io::ErrorKind::PermissionDenied => {
                    format!("{name} or its folder may not be written")
                }
                _ => format!("{name} cannot be written: {error}"),
            })
        };
        let before = match fs::read(&self.file) {
            Ok(bytes) if bytes == self.on_disk => fs::metadata(&self.file).map_err(unwritten)?,
            Ok(_) => return Err(EditError::Overtaken(self.name.clone())),
            Err(error) if error.kind() == io::ErrorKind::NotFound => {
                return Err(EditError::Overtaken(self.name.clone()));
            }
            Err(error) => return Err(unwritten(error)),
        };
        if before.permissions().readonly() {
            return Err(unwritten(io::ErrorKind::PermissionDenied.into()));
        }
        write_like(&self.file, &before, self.text.as_bytes()).map_err(unwritten)?;
        self.on_disk = self.text.clone().into_bytes();
        self.saved = self.done.len();
        Ok(())
    }

    /// Writes the text to a new file beside the document, for when the document is not its own any more.
    /// Gives that file.
    ///
    /// # Errors
    /// When it cannot be written.
    pub fn save_beside(&self) -> Result<PathBuf, EditError> {
        /// Nobody keeps more of them; something else is wrong then.
        const MOST: u32 = 99;
        let write = |beside: &Path| {
            let mut file = fs::File::create_new(beside)?;
            let written = file
                .write_all(self.text.as_bytes())
                .and_then(|()| file.sync_all());
            if written.is_err() {
                let _ = fs::remove_file(beside);
            }
            written
        };
        let mut failed = io::Error::from(io::ErrorKind::AlreadyExists);
        for i in 1..=MOST {
            let beside = with_suffix(&self.file.with_extension(""), &format!(".mine-{i}.toml"));
            match write(&beside) {
                Ok(()) => return Ok(beside),
                Err(error) if error.kind() == io::ErrorKind::AlreadyExists => {}
                Err(error) => {
                    failed = error;
                    break;
                }
            }
        }
        Err(EditError::Unwritten(format!(
            "nothing can be written beside {}: {failed}",
            self.name
        )))
    }
}

/// Writes a file anew with the owner and the permissions it had.
fn write_like(file: &Path, before: &Metadata, bytes: &[u8]) -> io::Result<()> {
    let mut part = Part::begin(file)?;
    // Only who may give files away can keep another's; whoever edits it then owns it.
    let _ = fchown(part.file(), Some(before.uid()), Some(before.gid()));
    part.file().set_permissions(before.permissions())?;
    part.file().write_all(bytes)?;
    part.finish()
}
