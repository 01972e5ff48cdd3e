//! Files that are never there in part, and those of others.

use std::fs::File;
use std::io::Read;
use std::path::Path;

pub(super) use crate::show::aside::{Part, with_suffix, write};

/// Whether there is something at this path that does not begin as our own files do, with `mark`.
pub(super) fn is_of_others(path: &Path, mark: &str) -> bool {
    if path.symlink_metadata().is_err() {
        return false;
    }
    let mut start = vec![0; mark.len()];
    let read = File::open(path).and_then(|mut file| file.read_exact(&mut start));
    read.is_err() || start != mark.as_bytes()
}
