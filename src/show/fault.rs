//! What is wrong with a show, and where in the document.

use std::fmt;
use std::ops::Range;
use std::sync::Arc;

/// A document's text and the name it is spoken of by.
#[derive(Clone)]
pub struct Source {
    /// The path, as given.
    pub name: Arc<str>,
    /// The text.
    pub text: Arc<str>,
}

/// How bad a fault is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Severity {
    /// Worth knowing; the show can run.
    Advice,
    /// The show has a fault: `check` exits 1.
    Error,
}

/// Something wrong with a show.
#[derive(Debug, Clone)]
pub struct Fault {
    /// How bad.
    pub severity: Severity,
    /// What is wrong, in one sentence.
    pub message: String,
    /// What to write or do instead; may be empty.
    pub help: String,
    /// The bytes of the document that it is about; `None` if it has no place.
    pub at: Option<Range<usize>>,
}

impl Fault {
    /// An error at a place in the document.
    pub fn error(at: Range<usize>, message: impl Into<String>) -> Self {
        Fault {
            severity: Severity::Error,
            message: message.into(),
            help: String::new(),
            at: Some(at),
        }
    }

    /// Advice at a place in the document.
    pub fn advice(at: Range<usize>, message: impl Into<String>) -> Self {
        Fault {
            severity: Severity::Advice,
            ..Fault::error(at, message)
        }
    }

    /// The same, saying what to do instead.
    pub fn help(mut self, help: impl Into<String>) -> Self {
        self.help = help.into();
        self
    }
}

impl Source {
    /// Line and column, from 1, of a byte of the text; columns count characters.
    pub fn line_column(&self, byte: usize) -> (usize, usize) {
        let mut end = byte.min(self.text.len());
        while !self.text.is_char_boundary(end) {
            end -= 1;
        }
        let before = &self.text[..end];
        let line = before.matches('\n').count() + 1;
        let start = before.rfind('\n').map_or(0, |i| i + 1);
        (line, before[start..].chars().count() + 1)
    }
}

impl fmt::Debug for Source {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Source({}, {} bytes)", self.name, self.text.len())
    }
}
