//! The pictures in the README are what the program draws of the demonstration show today.
//!
//! `cargo test --test pictures -- --ignored` draws them anew.

mod stage;

use std::fs;
use std::path::PathBuf;
use std::sync::Arc;

use abeam::live::{MarkKind, Session, What};
use abeam::screens::{DeskFacts, Outline, Output, Theme, TrackFacts, svg};
use abeam::script::readings;
use abeam::show::load;
use abeam::sound::{Overview, decode, gauge};
use abeam::timeline::{Facts, Plan};
use abeam::units::{Gain, Instant, Span};
use ratatui::crossterm::event::KeyCode;
use stage::*;

const SIZE: (u16, u16) = (100, 32);

fn file(name: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join(name)
}

struct Music(Overview);

impl Outline for Music {
    fn peaks(&self, from: Span, until: Span, columns: usize) -> Vec<(f32, f32)> {
        self.0.slice(from, until, columns)
    }
}

/// The demonstration show before it begins, and its desk with every track decoded.
fn demonstration() -> (Session, DeskFacts) {
    let show = load(&file("cues/lantern-lake.toml"))
        .unwrap_or_else(|_| panic!("it does not load"))
        .show;
    let mut desk = DeskFacts {
        output: Output::Device {
            name: "Built-in Audio, 48 kHz".into(),
        },
        meters: vec![Gain::from_db(-14.0), Gain::from_db(-14.5)],
        ..DeskFacts::default()
    };
    let mut track_lengths = Vec::new();
    for track in &show.tracks {
        let path = file("media").join(&*track.file);
        let pcm = decode(&path, &mut |_| {}).expect("a track");
        let gauge = gauge(&pcm);
        track_lengths.push(pcm.duration());
        desk.tracks.push(TrackFacts {
            loaded: 1.0,
            duration: Some(pcm.duration()),
            integrated: gauge.integrated,
            true_peak: gauge.true_peak,
            played: (track.id.as_str() == "hymn").then_some(Gain::from_db(-14.0)),
            outline: Some(Arc::new(Music(Overview::new(&pcm, 200)))),
        });
    }
    let facts = Facts {
        readings: readings(&show),
        track_lengths,
    };
    let plan = Plan::new(&show, &show.profile, &show.day, facts);
    let session = Session::new(Arc::new(show), Arc::new(plan), Instant::from_s(-120.0));
    (session, desk)
}

/// The memorial run-in, its first gate marked: the hymn plays, its words are being said.
fn memorial(mut session: Session) -> Session {
    fly_until(&mut session, ("memorial", "inbound"));
    let inbound = expected(&session, "memorial", "inbound");
    mark(&mut session, MarkKind::Inbound, inbound + 5.0);
    let gate = expected(&session, "memorial", "gate.1");
    let block = "memorial-words".into();
    happen(&mut session, gate - 1.0, What::BeginBlock { block });
    mark(&mut session, MarkKind::Gate, gate + 0.3);
    wait(&mut session, gate + 4.0);
    session
}

/// Every picture by the name of its file.
fn pictures() -> Vec<(PathBuf, String)> {
    let (session, desk) = demonstration();
    let run_in = memorial(session);
    let mut stopped = run_in.clone();
    let now = stopped.now();
    happen(&mut stopped, now.s() + 1.0, What::KnockItOff);
    wait(&mut stopped, (now + Span::from_s(8.0)).s());
    let picture = |name: &str, session: &Session, theme, keys: &[KeyCode]| {
        let mut panel = panel(session, theme);
        for key in keys {
            press(&mut panel, session, *key);
        }
        let drawn = svg(&drawn(&mut panel, session, &desk, SIZE));
        (file("media/pictures").join(name), drawn)
    };
    let plan = abeam::pictures::pictures(run_in.show(), run_in.plan())
        .into_iter()
        .find(|picture| picture.name == "plan.svg");
    let to_the_hymn = [KeyCode::Tab, KeyCode::Down, KeyCode::Down, KeyCode::Down];
    vec![
        picture("stand.svg", &run_in, Theme::Dark, &[]),
        picture("stand-bright.svg", &run_in, Theme::Light, &[]),
        picture("desk.svg", &run_in, Theme::Dark, &to_the_hymn),
        picture("knock-it-off.svg", &stopped, Theme::Dark, &[]),
        (file("media/pictures/plan.svg"), plan.expect("a plan").svg),
    ]
}

#[test]
fn the_committed_pictures_are_current() {
    for (path, picture) in pictures() {
        let committed = fs::read_to_string(&path).unwrap_or_default();
        assert!(
            committed == picture,
            "{} is out of date: cargo test --test pictures -- --ignored",
            path.display()
        );
    }
}

#[test]
#[ignore = "draws the pictures anew"]
fn draw_the_pictures() {
    for (path, picture) in pictures() {
        fs::create_dir_all(path.with_file_name("")).expect("a folder");
        fs::write(path, picture).expect("a picture");
    }
}
