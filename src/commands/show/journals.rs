//! The journals of shows on the disk: where they lie, what they begin with, whether one is free or of a show that was
//! cut short.

use std::collections::BTreeMap;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};

use jiff::Timestamp;

use super::super::Failure;
use super::super::opened::{Opened, ShowArgs};
use crate::live::clock::Reading;
use crate::live::journal::{self, Header, Record};
use crate::units::Span;

/// What the journal of a show begins with; its tracks are hashed apart.
pub fn header_of(opened: &Opened, arguments: &ShowArgs) -> Header {
    Header {
        abeam_journal: journal::FORMAT,
        title: opened.show.title.clone(),
        profile: opened.profile.to_string(),
        show_blake3: blake3::hash(opened.show.source.text.as_bytes()).to_string(),
        wind: arguments.wind.clone(),
        temperature: arguments.temperature.clone(),
        mirrored: arguments.mirrored,
        practice: false,
        tracks_blake3: BTreeMap::new(),
    }
}

/// The hash of each track's file, for the debrief. One that cannot be read is a fault of its own, told
/// before, and keeps no show from running.
pub fn track_hashes(opened: &Opened) -> BTreeMap<String, String> {
    let files = opened.show.tracks.iter().zip(&opened.media);
    files
        .filter_map(|(track, file)| Some((track.id.to_string(), hash_file(file.as_ref()?).ok()?)))
        .collect()
}

fn hash_file(path: &Path) -> std::io::Result<String> {
    let mut hasher = blake3::Hasher::new();
    std::io::copy(&mut std::fs::File::open(path)?, &mut hasher)?;
    Ok(hasher.finalize().to_string())
}

/// The user's folder for journals and logs.
pub fn state_folder() -> Result<PathBuf, Failure> {
    let folder = dirs::state_dir()
        .or_else(dirs::data_local_dir)
        .unwrap_or_else(std::env::temp_dir)
        .join("abeam");
    std::fs::create_dir_all(&folder)
        .map_err(|error| Failure::Outside(format!("{}: {error}", folder.display())))?;
    Ok(folder)
}

/// Where a show's journal lies unless somebody says another place.
pub fn default_journal(opened: &Opened) -> Result<PathBuf, Failure> {
    Ok(state_folder()?.join(journal_name(opened)))
}

/// One journal for each document: named after it and its contents.
pub fn journal_name(opened: &Opened) -> String {
    let source = &opened.show.source;
    let hash = blake3::hash(source.text.as_bytes()).to_hex();
    let name = Path::new(&*source.name)
        .file_stem()
        .map_or("show".into(), |stem| stem.to_string_lossy().into_owned());
    format!("{name}-{}.journal", &hash[..8])
}

/// Whether there is no journal at `path`, or one nobody is writing: a device or a running show's journal
/// must not be moved away.
pub fn check_free(path: &Path) -> Result<(), Failure> {
    if !path.exists() {
        return Ok(());
    }
    let shown = path.display();
    if !path.is_file() {
        return Err(Failure::Usage(format!(
            "{shown} is no file: give --journal the name of a file"
        )));
    }
    // Only the last file of a journal is written; one that cannot be read is told later.
    let last = journal::chain(path)
        .ok()
        .and_then(|chain| chain.files.last().cloned());
    let in_use = journal::is_in_use(last.as_deref().unwrap_or(path))
        .map_err(|error| Failure::Outside(format!("{shown}: {error}")))?;
    if in_use {
        return Err(Failure::Usage(format!(
            "a show that is running writes {shown}: leave that one first, or give this one a --journal of its own"
        )));
    }
    Ok(())
}

/// The journal at `path`, if it is of a show that was cut short.
pub fn cut_short(path: &Path) -> Result<Option<Record>, Failure> {
    match journal::read(path) {
        Ok(record) => Ok((!record.is_closed() && record.first_clock().is_some()).then_some(record)),
        // None there, or none begun.
        Err(error) if matches!(error.kind(), ErrorKind::NotFound | ErrorKind::UnexpectedEof) => {
            Ok(None)
        }
        Err(error) => Err(Failure::Outside(format!(
            "{}: {error}; say --fresh to begin anew (it is kept beside the new one), or give another --journal",
            path.display()
        ))),
    }
}

/// Moves a journal out of the way; nothing in it is lost.
pub fn set_aside(path: &Path) -> Result<(), Failure> {
    let stamp = Timestamp::now().strftime("%Y%m%dT%H%M%S%3f").to_string();
    let aside = path.with_extension(format!("{stamp}.journal"));
    std::fs::rename(path, &aside)
        .map_err(|error| Failure::Outside(format!("{}: {error}", path.display())))
}

/// How long ago a journal was last written.
pub fn idle(record: &Record) -> Span {
    Span::from_us(Reading::now().wall_us - record.last_wall_us().unwrap_or(0))
}
