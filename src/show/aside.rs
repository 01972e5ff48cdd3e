//! Files that are never there in part.

use std::fs::{self, File};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

/// Writes a file aside, on the disk before it has its name, so that it is never there in part. Its folder
/// is made if there is none.
pub fn write(file: &Path, bytes: &[u8]) -> io::Result<()> {
    let mut part = Part::begin(file)?;
    part.file().write_all(bytes)?;
    part.finish()
}

/// A file being written aside; what is not finished is taken away again.
pub struct Part {
    file: File,
    aside: PathBuf,
    name: PathBuf,
}

impl Part {
    /// Begins what is to be called `name`.
    pub fn begin(name: &Path) -> io::Result<Part> {
        if let Some(folder) = name.parent() {
            fs::create_dir_all(folder)?;
        }
        // A name nobody else has taken: another's file is not written over, nor what another run is writing.
        let aside = with_suffix(name, &format!(".{}.part", std::process::id()));
        Ok(Part {
            file: File::create_new(&aside)?,
            aside,
            name: name.to_owned(),
        })
    }

    /// What is written to.
    pub fn file(&mut self) -> &mut File {
        &mut self.file
    }

    /// Gives it its name.
    pub fn finish(self) -> io::Result<()> {
        self.file.sync_all()?;
        fs::rename(&self.aside, &self.name)?;
        // The name is to outlast a power cut too; a file system that cannot promise that has it all the same.
        if let Some(folder) = self
            .name
            .parent()
            .and_then(|folder| File::open(folder).ok())
        {
            let _ = folder.sync_all();
        }
        Ok(())
    }
}

impl Drop for Part {
    fn drop(&mut self) {
        // One that has its name is not there any more; the failure that is told is the first one.
        let _ = fs::remove_file(&self.aside);
    }
}

/// The path with more at its end.
pub fn with_suffix(path: &Path, suffix: &str) -> PathBuf {
    // A folder written `show/` is the folder `show`.
    let mut name = path.components().as_path().as_os_str().to_owned();
    name.push(suffix);
    name.into()
}
