//! Keeps standard error off the screen: the audio library writes there whenever it likes.

use std::fs::OpenOptions;
use std::io;
use std::os::fd::OwnedFd;
use std::path::Path;

/// While it lives, standard error goes to a file; dropped, it goes where it went before.
#[derive(Debug)]
pub struct StderrGuard {
    before: OwnedFd,
}

/// Sends standard error, of this program and of every library in it, to the end of the file at
/// `path`, until the guard is dropped.
pub fn stderr_to(path: &Path) -> io::Result<StderrGuard> {
    let log = OpenOptions::new().create(true).append(true).open(path)?;
    let before = rustix::io::fcntl_dupfd_cloexec(rustix::stdio::stderr(), 3)?;
    rustix::stdio::dup2_stderr(&log)?;
    Ok(StderrGuard { before })
}

impl Drop for StderrGuard {
    fn drop(&mut self) {
        // If it cannot be restored there is nowhere left to say so.
        let _ = rustix::stdio::dup2_stderr(&self.before);
    }
}
