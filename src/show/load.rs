//! Loads a show document and checks it by itself: no file of its tracks is opened and nothing is flown.
//!
//! Everything that is wrong is told at once, each fault at its bytes of the document.

mod aircraft;
mod check;
mod circles;
mod figures;
mod item;
mod legs;
mod manner;
mod narration;
mod noise;
mod points;
mod reader;
mod script;
mod setting;
mod sides;
mod syntax;
mod tracks;
mod wording;

use std::fs::File;
use std::io::Read;
use std::path::Path;

use toml::de::DeTable;

use super::{Fault, Name, Severity, Show, Source};
use points::{Declared, Kind};
use reader::{Faults, Section};

/// The largest document read; a real one is a few tens of kilobytes.
const LARGEST: usize = 4_000_000;

/// A show that can be planned.
#[derive(Debug, Clone)]
pub struct Loaded {
    /// The show.
    pub show: Show,
    /// What is worth knowing about it; none of it an error.
    pub advice: Vec<Fault>,
}

/// Why there is no show.
#[derive(Debug, Clone)]
pub enum LoadError {
    /// The file cannot be read.
    Outside(String),
    /// The document has faults; at least one is an error.
    Faults(Source, Vec<Fault>),
}

/// Reads and checks the show document at `path`.
///
/// # Errors
/// When the file cannot be read, or when the document has faults.
pub fn load(path: &Path) -> Result<Loaded, LoadError> {
    let name = path.display().to_string();
    let bytes = read_file(path).map_err(|why| LoadError::Outside(format!("{name}: {why}")))?;
    let text = String::from_utf8_lossy(&bytes);
    let source = Source {
        name: name.as_str().into(),
        text: text.as_ref().into(),
    };
    if let Err(error) = std::str::from_utf8(&bytes) {
        let fault = not_utf8(error.valid_up_to());
        return Err(LoadError::Faults(source, vec![fault]));
    }
    match read(&name, &text) {
        (Some(show), advice) => Ok(Loaded { show, advice }),
        (None, faults) => Err(LoadError::Faults(source, faults)),
    }
}

/// The bytes of the file, and no more of them than show that it is too large.
pub(super) fn read_file(path: &Path) -> Result<Vec<u8>, String> {
    let file = File::open(path).map_err(|error| match error.kind() {
        std::io::ErrorKind::NotFound => "there is no such file".to_owned(),
        std::io::ErrorKind::PermissionDenied => "this file may not be read".to_owned(),
        _ => error.to_string(),
    })?;
    if file.metadata().is_ok_and(|data| data.is_dir()) {
        return Err(
            "this is a folder: name the show document in it, a file that ends in .toml".into(),
        );
    }
    let mut bytes = Vec::new();
    file.take(LARGEST as u64 + 1)
        .read_to_end(&mut bytes)
        .map_err(|error| error.to_string())?;
    if bytes.len() > LARGEST {
        bytes.truncate(0);
        return Err(TOO_LARGE.into());
    }
    Ok(bytes)
}

const TOO_LARGE: &str =
    "this is larger than 4 MB, and no show document is: name the document, not one of its tracks";

fn not_utf8(byte: usize) -> Fault {
    Fault::error(
        byte..byte + 1,
        format!("the document is not UTF-8 text: byte {} is no character", byte + 1),
    )
    .help("save it from your editor with the encoding UTF-8; what stands here may be an accented letter")
}

/// Reads and checks the text of a document called `name`.
///
/// Gives the show and advice about it, or no show and at least one error.
pub fn read(name: &str, text: &str) -> (Option<Show>, Vec<Fault>) {
    if text.len() > LARGEST {
        let fault = Fault {
            severity: Severity::Error,
            message: TOO_LARGE.into(),
            help: String::new(),
            at: None,
        };
        return (None, vec![fault]);
    }
    let source = Source {
        name: name.into(),
        text: text.into(),
    };
    let (tree, errors) = DeTable::parse_recoverable(text);
    let faults = Faults::new(!errors.is_empty());
    let root = Section::new("the document", tree.get_ref(), 0..0, &faults);
    let show = document(source, root);
    let mut list = faults.into_list();
    if !errors.is_empty() {
        list = syntax::explain(text, &errors, list);
    }
    let sound = list.iter().all(|fault| fault.severity < Severity::Error);
    (show.filter(|_| sound), list)
}

/// Reads every section, then checks what they say of each other. What could not be read is left out
/// or stands at its default; the faults keep such a show from being used.
fn document(source: Source, mut root: Section<'_>) -> Option<Show> {
    let faults = root.faults;
    let show = root.section("show", "[show]");
    let narrator = root.section("narrator", "[narrator]");
    let words = root.section("words", "[words]");
    let profiles = root.section("profile", "[profile]");
    let site = root.section("site", "[site]");
    let day = root.section("day", "[day]");
    let aircraft = root.section("aircraft", "[aircraft]");
    let figures = root.sections("figure", "a figure");
    let blocks = root.sections("block", "a block");
    let silences = root.sections("silence", "a silence");
    let calls = root.sections("call", "a call");
    let tracks = root.sections("track", "a track");
    for section in ["show", "site", "profile"] {
        if !root.has(section) {
            setting::missing(section, faults);
        }
    }
    root.finish();

    let mut declared = Vec::new();
    let profiles = profiles.map(Section::named).unwrap_or_default();
    let profile_names: Vec<Name> = profiles.iter().map(|(name, _)| name.clone()).collect();
    let aircraft = aircraft.map(Section::named).unwrap_or_default();
    let aircraft = aircraft::aircraft(aircraft);
    let aircraft_ids: Vec<Name> = aircraft
        .iter()
        .map(|aircraft| aircraft.id.clone())
        .collect();
    let figures = gather(Kind::Figure, figures, &mut declared, |section| {
        figures::figure(section, &aircraft_ids, &profile_names)
    });
    let blocks = gather(Kind::Block, blocks, &mut declared, script::block);
    let calls = gather(Kind::Call, calls, &mut declared, script::call);
    let tracks = gather(Kind::Track, tracks, &mut declared, tracks::track);
    let silences = silences.into_iter().filter_map(script::silence).collect();
    let figure_ids: Vec<Name> = declared
        .iter()
        .filter(|declared| declared.kind == Kind::Figure)
        .map(|declared| declared.id.clone())
        .collect();
    let profiles = setting::profiles(profiles, &figure_ids);
    let heading = setting::heading(show?, &profile_names);
    let prepared = setting::prepared(words);
    let show = Show {
        source,
        title: heading.title,
        start: heading.start,
        zero: heading.zero,
        slot_ends: heading.slot_ends,
        profile: heading.profile.or_else(|| profile_names.first().cloned())?,
        delay_music: heading.delay_music,
        talk_over: heading.talk_over,
        hush_above: heading.hush_above,
        narrator: narration::narrator(narrator),
        say: prepared.say,
        knock_it_off_words: prepared.knock_it_off,
        accident_words: prepared.accident,
        halt_words: prepared.halts,
        profiles,
        site: setting::site(site?),
        day: setting::day(day),
        aircraft,
        figures,
        blocks,
        silences,
        calls,
        tracks,
    };
    if !faults.broken {
        check::check(&show, &declared, heading.has_start, faults);
    }
    Some(show)
}

/// Reads each section as `read` does, and keeps the ids, also of those that have faults.
fn gather<'d, T>(
    kind: Kind,
    sections: Vec<Section<'d>>,
    declared: &mut Vec<Declared>,
    read: impl Fn(Section<'d>) -> Option<T>,
) -> Vec<T> {
    let mut list = Vec::new();
    for section in sections {
        let (faults, before) = (section.faults, section.faults.count());
        let id = section.id();
        list.extend(read(section));
        if let Some((id, at)) = id {
            declared.push(Declared {
                kind,
                id: id.into(),
                at,
                sound: faults.count() == before,
            });
        }
    }
    list
}
