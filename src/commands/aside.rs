//! Files that are never there in part.

use std::fs::{self, File};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

/// Writes a file aside, on the disk before it has its name, so that it is never there in part. Its folder
/// is made if there is none.
pub(super) fn write(file: &Path, bytes: &[u8]) -> io::Result<()> {
    if let Some(folder) = file.parent() {
        fs::create_dir_all(folder)?;
    }
    // A name nobody else has taken: another's file is not written over, nor what another run is writing.
    let aside = with_suffix(file, &format!(".{}.part", std::process::id()));
    let mut part = File::create_new(&aside)?;
    let written = part
        .write_all(bytes)
        .and_then(|()| part.sync_all())
        .and_then(|()| fs::rename(&aside, file));
    if written.is_err() {
        // The failure that is told is the first one.
        let _ = fs::remove_file(&aside);
    }
    written
}

/// The path with more at its end.
pub(super) fn with_suffix(path: &Path, suffix: &str) -> PathBuf {
    // A folder written `show/` is the folder `show`.
    let mut name = path.components().as_path().as_os_str().to_owned();
    name.push(suffix);
    name.into()
}
