//! The memorial pass of the demonstration show as a show of its own: its document, derived from the demo's
//! text, in a folder with the same media.
#![allow(dead_code, reason = "each test uses its own part")]

use std::path::{Path, PathBuf};
use std::sync::Arc;

use abeam::live::Session;
use abeam::live::journal::Record;
use abeam::live::{Act, Effect, Event, What};
use abeam::script::readings;
use abeam::show::load::load;
use abeam::show::{PointName, Show};
use abeam::sound::probe;
use abeam::timeline::{Facts, Plan};
use abeam::units::{Instant, Span};

/// The memorial pass and what it cannot be without.
const FLOWN: [&str; 3] = ["memorial", "farewell-turn", "departure"];
const ROOT: &str = env!("CARGO_MANIFEST_DIR");

/// A folder with the document in it, and with everything a user's home would be asked for.
pub struct Folder {
    folder: tempfile::TempDir,
}

impl Folder {
    pub fn new() -> Folder {
        let folder = tempfile::tempdir().expect("a folder");
        let demo = std::fs::read_to_string(Path::new(ROOT).join("cues/lantern-lake.toml"));
        let document = only_the_memorial(&demo.expect("the demonstration show"));
        std::fs::create_dir(folder.path().join("cues")).expect("a folder");
        std::fs::write(folder.path().join("cues/memorial.toml"), document).expect("the document");
        let media = Path::new(ROOT).join("media");
        std::os::unix::fs::symlink(media, folder.path().join("media")).expect("the media");
        Folder { folder }
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    pub fn document(&self) -> PathBuf {
        self.path("cues/memorial.toml")
    }

    /// A home of its own.
    pub fn env(&self) -> Vec<(String, String)> {
        let homes = [
            ("HOME", ""),
            ("XDG_STATE_HOME", "state"),
            ("XDG_DATA_HOME", "data"),
            ("XDG_CONFIG_HOME", "config"),
        ];
        homes
            .map(|(name, folder)| (name.to_owned(), self.path(folder).display().to_string()))
            .into()
    }
}

/// The demo's text with only the memorial's figures in it, the memorial's abeam as show zero, and without
/// whatever hangs on a figure that is not flown.
fn only_the_memorial(demo: &str) -> String {
    let mut parts: Vec<String> = Vec::new();
    for line in demo.lines() {
        if line.starts_with('[') || parts.is_empty() {
            parts.push(String::new());
        }
        if let (Some(part), false) = (parts.last_mut(), line.starts_with('#')) {
            *part += line;
            *part += "\n";
        }
    }
    let id = |part: &str| {
        let line = part.lines().find(|line| line.starts_with("id "))?;
        line.split('"').nth(1).map(str::to_owned)
    };
    let not_flown: Vec<String> = parts
        .iter()
        .filter(|part| part.starts_with("[[figure]]"))
        .filter_map(|part| id(part))
        .filter(|id| !FLOWN.contains(&id.as_str()))
        .collect();
    let is_kept = |part: &String| {
        let hangs = |id: &String| part.contains(&format!("\"{id}."));
        match part.lines().next().unwrap_or_default() {
            "[[figure]]" => !not_flown.contains(&id(part).unwrap_or_default()),
            heading if heading.starts_with("[profile.") => heading.starts_with("[profile.high]"),
            heading if heading.starts_with("[figure.versions.") => false,
            "[show]" => true,
            _ => !not_flown.iter().any(hangs),
        }
    };
    let kept: String = parts.into_iter().filter(is_kept).collect();
    let begin = kept.find("order = [").expect("the order of figures");
    let end = begin + kept[begin..].find("\n]").expect("its end") + 2;
    let order = format!("order = {FLOWN:?}");
    format!("{}{order}{}", &kept[..begin], &kept[end..])
        .replace("\"arrival.abeam\"", "\"memorial.abeam\"")
}

/// The show as the program plans it.
pub struct Planned {
    pub show: Arc<Show>,
    pub plan: Arc<Plan>,
}

impl Planned {
    pub fn of(folder: &Folder) -> Planned {
        let loaded = load(&folder.document()).unwrap_or_else(|error| panic!("{error:?}"));
        let show = Arc::new(loaded.show);
        let lengths = show.tracks.iter().map(|track| {
            let facts = probe(&folder.path("media").join(&track.file)).expect("a track");
            facts.duration
        });
        let facts = Facts {
            readings: readings(&show),
            track_lengths: lengths.collect(),
        };
        let plan = Plan::new(&show, &show.profile, &show.day, facts);
        Planned {
            show,
            plan: Arc::new(plan),
        }
    }

    /// When the plan has a point of the memorial pass.
    pub fn point(&self, point: &str) -> Instant {
        let moments = &self.plan.moments;
        let times = moments
            .figures
            .iter()
            .find(|figure| figure.key == "memorial");
        let times = times.expect("the memorial");
        let expected = times.expected(&PointName::read(point)).expect("its point");
        expected.at
    }

    /// What a journal makes of the show by an instant, and what the show has done by then.
    pub fn fold(&self, record: &Record, until: Instant) -> (Session, Vec<Effect>) {
        let from = record.first_clock().expect("a journal that was begun").at;
        let mut session = Session::new(self.show.clone(), self.plan.clone(), from);
        let mut effects = Vec::new();
        for event in record.events().filter(|event| event.at <= until) {
            effects.extend(session.apply(event));
        }
        let what = What::Tick;
        effects.extend(session.apply(&Event { at: until, what }));
        (session, effects)
    }

    /// When the track is heard from where, by these effects.
    pub fn start_of(&self, effects: &[Effect], id: &str) -> Option<(Instant, Span)> {
        let index = self.show.tracks.iter().position(|track| track.id == *id);
        effects.iter().find_map(|effect| match effect.act {
            Act::Start { track, entry, .. } if Some(track) == index => Some((effect.at, entry)),
            _ => None,
        })
    }
}

/// When a session expects a point of the memorial pass.
pub fn expected(session: &Session, point: &str) -> Instant {
    let times = session.times_of(&"memorial".into()).expect("the memorial");
    let expected = times.expected(&PointName::read(point)).expect("its point");
    expected.at
}
