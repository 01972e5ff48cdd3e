//! A show document as it is written, and changes to it: its comments and its layout stay as they are.
//!
//! A change puts text in the place of other text and touches no byte beside it. Changes are made in memory,
//! where they can be undone, and written to the file when somebody says so.
//!
//! ```
//! use abeam::show::edit::{Manuscript, Place};
//!
//! let folder = std::env::temp_dir().join(format!("abeam-edit-{}", std::process::id()));
//! std::fs::create_dir_all(&folder)?;
//! let file = folder.join("show.toml");
//! std::fs::write(&file, "[narrator]\nwords_per_minute = 130   # on a good day\n")?;
//!
//! let mut manuscript = Manuscript::open(&file)?;
//! let rate = Place::top("narrator").key("words_per_minute");
//! manuscript.change("reads slower", |draft| draft.set(&rate, 121))?;
//! manuscript.save()?;
//! assert_eq!(std::fs::read_to_string(&file)?, "[narrator]\nwords_per_minute = 121   # on a good day\n");
//! # std::fs::remove_dir_all(&folder)?;
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

mod draft;
mod place;
mod rename;
mod save;

use std::fmt;
use std::path::{Path, PathBuf};

use toml_edit::Value;

pub use draft::Draft;
pub use place::Place;

use super::load::{self, LoadError};
use super::{Fault, Severity, Show};
use draft::Splice;

/// A document as it is written.
#[derive(Debug, Clone)]
pub struct Manuscript {
    /// As people called it.
    name: String,
    /// The file itself, where `name` is a link to it.
    file: PathBuf,
    text: String,
    /// What the file held when it was last read or written.
    on_disk: Vec<u8>,
    done: Vec<Change>,
    undone: Vec<Change>,
    /// How many changes the file has.
    saved: usize,
}

/// What was changed, and how it is changed back.
#[derive(Debug, Clone)]
struct Change {
    what: String,
    splices: Vec<Splice>,
}

/// Why a document was not changed or not written. Whatever it is, nothing is lost: neither what is in the
/// file nor what was changed in memory.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum EditError {
    /// The file cannot be read.
    Unreadable(String),
    /// The document is no TOML: somebody has to mend it first.
    NotToml(String),
    /// There is no such place in the document.
    NoPlace(String),
    /// The show would not load any more: what would be wrong with it.
    Faulty(String),
    /// Somebody else has changed the file since it was read.
    Overtaken(String),
    /// The file cannot be written.
    Unwritten(String),
}

impl fmt::Display for EditError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            EditError::Unreadable(why) | EditError::NoPlace(why) | EditError::Faulty(why) => {
                f.write_str(why)
            }
            EditError::NotToml(why) => write!(f, "the document is no TOML, mend it first: {why}"),
            EditError::Overtaken(file) => write!(
                f,
                "{file} was changed by somebody else since it was read: nothing is written over it"
            ),
            EditError::Unwritten(why) => write!(f, "{why}; the file is as it was"),
        }
    }
}

impl std::error::Error for EditError {}

impl Manuscript {
    /// Reads the document at `path`.
    ///
    /// # Errors
    /// When it cannot be read, or is no TOML.
    pub fn open(path: &Path) -> Result<Manuscript, EditError> {
        let name = path.display().to_string();
        let outside = |why: String| EditError::Unreadable(format!("{name}: {why}"));
        let bytes = load::read_file(path).map_err(outside)?;
        let file = path
            .canonicalize()
            .map_err(|error| outside(error.to_string()))?;
        let text = String::from_utf8(bytes.clone())
            .map_err(|_| EditError::NotToml(format!("{name} is not UTF-8 text")))?;
        draft::parse(&text)?;
        Ok(Manuscript {
            name,
            file,
            text,
            on_disk: bytes,
            done: Vec::new(),
            undone: Vec::new(),
            saved: 0,
        })
    }

    /// The text as it is now.
    pub fn text(&self) -> &str {
        &self.text
    }

    /// The file, as people called it.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// What is written at a place; `None` if nothing is, or a table with a header.
    pub fn get(&self, place: &Place) -> Option<Value> {
        let document = draft::parse(&self.text).ok()?;
        let way = place::find(document.as_table(), place).ok()?;
        let value = way.end.value().filter(|_| way.rest.is_empty())?;
        Some(value.clone().decorated("", ""))
    }

    /// The show the text is now.
    ///
    /// # Errors
    /// When it has faults.
    pub fn show(&self) -> Result<Show, LoadError> {
        match load::read(&self.name, &self.text) {
            (Some(show), _) => Ok(show),
            (None, faults) => {
                let source = super::Source {
                    name: self.name.as_str().into(),
                    text: self.text.as_str().into(),
                };
                Err(LoadError::Faults(source, faults))
            }
        }
    }

    /// Makes a change, said in words for whoever may undo it. All of it is made or none.
    ///
    /// # Errors
    /// When `edit` fails, or when a show that could be loaded could not be loaded any more.
    pub fn change(
        &mut self,
        what: impl Into<String>,
        edit: impl FnOnce(&mut Draft) -> Result<(), EditError>,
    ) -> Result<(), EditError> {
        let splices = self.make(edit)?;
        if !splices.is_empty() {
            let what = what.into();
            self.done.push(Change { what, splices });
            self.undone.clear();
        }
        Ok(())
    }

    /// Goes on with the last change, so that both are undone as one: a hit moved frame by frame.
    ///
    /// # Errors
    /// As for [`change`](Self::change).
    pub fn go_on(
        &mut self,
        what: impl Into<String>,
        edit: impl FnOnce(&mut Draft) -> Result<(), EditError>,
    ) -> Result<(), EditError> {
        let splices = self.make(edit)?;
        let what = what.into();
        match self.done.last_mut() {
            Some(last) => {
                last.what = what;
                last.splices.extend(splices);
            }
            None => self.done.push(Change { what, splices }),
        }
        self.undone.clear();
        Ok(())
    }

    fn make(
        &mut self,
        edit: impl FnOnce(&mut Draft) -> Result<(), EditError>,
    ) -> Result<Vec<Splice>, EditError> {
        let mut draft = Draft::new(&self.text);
        edit(&mut draft)?;
        draft::parse(&draft.text)?;
        if let (None, faults) = load::read(&self.name, &draft.text)
            && load::read(&self.name, &self.text).0.is_some()
        {
            return Err(EditError::Faulty(first_error(&faults)));
        }
        self.text = draft.text;
        Ok(draft.splices)
    }

    /// Undoes the last change; says which.
    pub fn undo(&mut self) -> Option<&str> {
        let change = self.done.pop()?;
        for splice in change.splices.iter().rev() {
            splice.undo(&mut self.text);
        }
        self.undone.push(change);
        self.undone.last().map(|change| change.what.as_str())
    }

    /// Makes the change undone last again; says which.
    pub fn redo(&mut self) -> Option<&str> {
        let change = self.undone.pop()?;
        for splice in &change.splices {
            splice.redo(&mut self.text);
        }
        self.done.push(change);
        self.done.last().map(|change| change.what.as_str())
    }

    /// Whether the file has what was changed.
    pub fn is_saved(&self) -> bool {
        self.on_disk == self.text.as_bytes()
    }

    /// What was changed and is not in the file, in words.
    pub fn unsaved(&self) -> impl Iterator<Item = &str> {
        let unsaved = self.done.iter().skip(self.saved);
        unsaved.map(|change| change.what.as_str())
    }

    /// How many changes could be undone.
    pub fn changes(&self) -> usize {
        self.done.len()
    }
}

fn first_error(faults: &[Fault]) -> String {
    let error = faults
        .iter()
        .find(|fault| fault.severity == Severity::Error);
    match error {
        Some(fault) if fault.help.is_empty() => fault.message.clone(),
        Some(fault) => format!("{}: {}", fault.message, fault.help),
        None => "the show would not load".into(),
    }
}
