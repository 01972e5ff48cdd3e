//! The document a journal is of: given, or found near it.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use crate::commands::Failure;
use crate::commands::opened::{Opened, ShowArgs};
use crate::live::journal::{Header, Record};
use crate::show::load::{Loaded, load};

/// The show of a journal as it was planned.
pub(super) struct Flown {
    pub opened: Opened,
    /// What should be known of it.
    pub notes: Vec<String>,
}

/// Opens the document `given`, or the one near the journal at `path` that it names, in the profile and the day the
/// journal says. Another version of the document is said so.
pub(super) fn open(
    path: &Path,
    record: &Record,
    given: Option<&Path>,
    json: bool,
) -> Result<Flown, Failure> {
    let header = &record.header;
    let document = match given {
        Some(given) => given.to_path_buf(),
        None => find(path, header)?,
    };
    let mut notes = Vec::new();
    if hash(&document).as_deref() != Some(&header.show_blake3) {
        notes.push(format!(
            "{} is not as it was flown: what is planned here is planned from the document as it is now",
            document.display()
        ));
    }
    let arguments = ShowArgs {
        show: document.clone(),
        profile: Some(header.profile.clone()),
        wind: header.wind.clone(),
        temperature: header.temperature.clone(),
        mirrored: header.mirrored,
    };
    let opened = arguments.open(json).map_err(|failure| match failure {
        Failure::Usage(why) => Failure::Usage(format!(
            "{}: {} is not the document that was flown ({why}): give --show the one that was",
            path.display(),
            document.display()
        )),
        other => other,
    })?;
    if opened.show.title != header.title {
        return Err(Failure::Usage(format!(
            "{} is of \"{}\", and {} is \"{}\": give --show the document that was flown",
            path.display(),
            header.title,
            document.display(),
            opened.show.title
        )));
    }
    Ok(Flown { opened, notes })
}

/// The document near a journal that it is of: the very one, or else another version of it.
fn find(journal: &Path, header: &Header) -> Result<PathBuf, Failure> {
    let near = near(journal);
    let same = |document: &&PathBuf| hash(document).as_deref() == Some(&header.show_blake3);
    let titled = |document: &&PathBuf| matches!(load(document), Ok(Loaded { show, .. }) if show.title == header.title);
    let found = near.iter().find(same).or_else(|| near.iter().find(titled));
    found.cloned().ok_or_else(|| {
        Failure::Usage(format!(
            "{} is of \"{}\", which is not near it: give --show its document",
            journal.display(),
            header.title
        ))
    })
}

/// The documents near a journal: in its folder, in this one, and in `cues` of either or beside it.
fn near(journal: &Path) -> Vec<PathBuf> {
    let beside = journal.parent().unwrap_or(Path::new(""));
    let folders = [beside, Path::new("")].map(|folder| {
        let folder = if folder.as_os_str().is_empty() {
            Path::new(".")
        } else {
            folder
        };
        [
            folder.to_path_buf(),
            folder.join("cues"),
            folder.join("../cues"),
        ]
    });
    let mut documents = BTreeSet::new();
    for folder in folders.into_iter().flatten() {
        // A folder that is not there has no documents.
        let entries = std::fs::read_dir(&folder).into_iter().flatten().flatten();
        documents.extend(entries.map(|entry| entry.path()).filter(|path| {
            path.extension()
                .is_some_and(|extension| extension == "toml")
        }));
    }
    documents.into_iter().collect()
}

fn hash(document: &Path) -> Option<String> {
    Some(blake3::hash(&std::fs::read(document).ok()?).to_string())
}
