//! A sound file's bytes, and how far they have been read.

use std::fs::File;
use std::io::{self, Read, Seek, SeekFrom};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

use symphonia::core::io::MediaSource;

/// A file that counts how far it has been read.
pub(super) struct Counted {
    file: File,
    len: u64,
    read: Arc<AtomicU64>,
}

/// How far a [`Counted`] file has been read.
pub(super) struct Reading {
    read: Arc<AtomicU64>,
    len: u64,
}

impl Reading {
    /// How long the file is, in bytes.
    pub fn len(&self) -> u64 {
        self.len
    }

    /// The share of the file that has been read, 0 to 1.
    pub fn share(&self) -> f32 {
        (self.read.load(Ordering::Relaxed) as f32 / self.len.max(1) as f32).min(1.0)
    }
}

impl Counted {
    /// Counts the reading of `file`, which is `len` bytes long.
    pub fn new(file: File, len: u64) -> (Counted, Reading) {
        let read = Arc::new(AtomicU64::new(0));
        let reading = Reading {
            read: read.clone(),
            len,
        };
        (Counted { file, len, read }, reading)
    }
}

impl Read for Counted {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let bytes = self.file.read(buffer)?;
        self.read.fetch_add(bytes as u64, Ordering::Relaxed);
        Ok(bytes)
    }
}

impl Seek for Counted {
    fn seek(&mut self, to: SeekFrom) -> io::Result<u64> {
        let at = self.file.seek(to)?;
        self.read.store(at, Ordering::Relaxed);
        Ok(at)
    }
}

impl MediaSource for Counted {
    fn is_seekable(&self) -> bool {
        true
    }

    fn byte_len(&self) -> Option<u64> {
        Some(self.len)
    }
}
