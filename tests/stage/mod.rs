//! A show on the stage: an invented display whose session is brought to any instant, and what it looks like.

#![allow(dead_code)] // each test file uses its part

use std::sync::Arc;

use abeam::live::session::NextKind;
use abeam::live::{Event, Mark, MarkKind, Session, What};
use abeam::screens::{
    ClockFace, DeskFacts, Outline, Output, Panel, PracticeFacts, Scene, Theme, TrackFacts,
};
use abeam::script::readings;
use abeam::show;
use abeam::timeline::{Facts, Plan};
use abeam::units::{Gain, Instant, Loudness, Span};
use jiff::civil;
use ratatui::buffer::Buffer;
use ratatui::crossterm::event::{KeyCode, KeyEvent, KeyModifiers};
use ratatui::layout::Rect;

/// Lengths of the tracks in the document, in seconds.
const LENGTHS: [f64; 3] = [150.0, 134.0, 200.0];

/// The show as it stands before anything has happened, one minute before show zero.
pub fn opening() -> Session {
    of_text(include_str!("show.toml"))
}

/// The same five minutes before show zero, with nothing flown yet.
pub fn long_before() -> Session {
    at(include_str!("show.toml"), -300.0)
}

/// The same of another document with as many tracks.
pub fn of_text(document: &str) -> Session {
    at(document, -60.0)
}

pub fn at(document: &str, s: f64) -> Session {
    let (show, faults) = show::load::read("lake.toml", document);
    let show = show.unwrap_or_else(|| panic!("{faults:#?}"));
    let facts = Facts {
        readings: readings(&show),
        track_lengths: LENGTHS.map(Span::from_s).into(),
    };
    let plan = Plan::new(&show, &show.profile, &show.day, facts);
    Session::new(Arc::new(show), Arc::new(plan), Instant::from_s(s))
}

/// Lets something happen at `s` seconds of the show.
pub fn happen(session: &mut Session, s: f64, what: What) {
    let at = Instant::from_s(s);
    session.apply(&Event { at, what });
}

/// Lets time pass until `s` seconds of the show.
pub fn wait(session: &mut Session, s: f64) {
    happen(session, s, What::Tick);
}

/// When a point of the show is expected, in seconds.
pub fn expected(session: &Session, figure: &str, point: &str) -> f64 {
    let point = show::PointName::read(point);
    let times = session.times_of(&figure.into()).expect("a figure");
    times.expected(&point).expect("a point").at.s()
}

/// Marks what is seen at `s` seconds.
pub fn mark(session: &mut Session, kind: MarkKind, s: f64) {
    let observed = Instant::from_s(s);
    let mark = Mark {
        kind,
        observed,
        point: None,
    };
    happen(session, s, What::Mark(mark));
}

/// Flies the show until `until` is next, marking every inbound and abeam where it is expected; the arrival
/// comes 2.6 s late.
pub fn fly_until(session: &mut Session, until: (&str, &str)) {
    let until = (until.0, show::PointName::read(until.1));
    let mut late = 2.6;
    loop {
        let coming = session.coming();
        let next = coming.iter().find_map(|next| match &next.kind {
            NextKind::Point { key, point } => match point {
                show::PointName::Inbound => Some((key, point, MarkKind::Inbound, next.at)),
                show::PointName::Abeam(_) => Some((key, point, MarkKind::Abeam, next.at)),
                _ => None,
            },
            _ => None,
        });
        let (key, point, kind, at) = next.expect("a point to come");
        if (key.as_str(), point) == (until.0, &until.1) {
            return;
        }
        mark(session, kind, at.s() + late);
        late = 0.0;
    }
}

/// The memorial run-in, 25 s before abeam: the hymn plays, its words are being said, the show runs late.
pub fn run_in() -> Session {
    let mut session = opening();
    fly_until(&mut session, ("memorial", "inbound"));
    let inbound = expected(&session, "memorial", "inbound");
    let block = "memorial-words".into();
    happen(&mut session, inbound + 2.0, What::BeginBlock { block });
    mark(&mut session, MarkKind::Inbound, inbound + 4.0);
    let abeam = expected(&session, "memorial", "abeam");
    wait(&mut session, abeam - 25.0);
    session
}

struct Swell;

impl Outline for Swell {
    fn peaks(&self, from: Span, until: Span, columns: usize) -> Vec<(f32, f32)> {
        let step = (until - from).s() / columns.max(1) as f64;
        (0..columns)
            .map(|i| {
                let at = from.s() + step * i as f64;
                let high = (0.15 + 0.8 * (at / 21.0).sin().abs().powi(2)) as f32;
                (-high * 0.9, high)
            })
            .collect()
    }
}

/// A desk with a device, all tracks decoded.
pub fn desk() -> DeskFacts {
    let track = |seconds: f64| TrackFacts {
        loaded: 1.0,
        duration: Some(Span::from_s(seconds)),
        integrated: Some(Loudness::from_lufs(-16.2)),
        true_peak: Some(Gain::from_db(-1.1)),
        played: None,
        outline: Some(Arc::new(Swell)),
    };
    let mut desk = DeskFacts {
        output: Output::Device {
            name: "Built-in Audio, 48 kHz".into(),
        },
        underruns: 0,
        meters: vec![Gain::from_db(-14.0), Gain::from_db(-15.5)],
        held: Gain::ZERO,
        warnings: Vec::new(),
        tracks: LENGTHS.map(track).into(),
    };
    desk.tracks[1].played = Some(Gain::from_db(-14.0));
    desk
}

/// The clock on the wall, right to the second.
pub fn clock(session: &Session) -> ClockFace {
    let zero = civil::time(19, 40, 0, 0);
    let second = jiff::SignedDuration::from_secs(session.now().s().floor() as i64);
    ClockFace {
        time_of_day: Some(zero.wrapping_add(second)),
        zero: Some(zero),
        behind: session.hack().unwrap_or(Span::ZERO),
        is_followed: true,
    }
}

/// An interface past its cautions.
pub fn panel(session: &Session, theme: Theme) -> Panel {
    let mut panel = Panel::new(theme);
    press(&mut panel, session, KeyCode::Null);
    panel
}

/// Presses a key.
pub fn press(panel: &mut Panel, session: &Session, code: KeyCode) -> Vec<abeam::screens::Wish> {
    panel.key(KeyEvent::new(code, KeyModifiers::NONE), session)
}

/// What is drawn.
pub fn drawn(panel: &mut Panel, session: &Session, desk: &DeskFacts, size: (u16, u16)) -> Buffer {
    drawn_with(panel, session, desk, None, size)
}

/// What is drawn, of a practice if it is one.
pub fn drawn_with(
    panel: &mut Panel,
    session: &Session,
    desk: &DeskFacts,
    practice: Option<&PracticeFacts>,
    size: (u16, u16),
) -> Buffer {
    let scene = Scene {
        session,
        clock: clock(session),
        desk,
        practice,
    };
    let mut buffer = Buffer::empty(Rect::new(0, 0, size.0, size.1));
    panel.paint(&scene, buffer.area, &mut buffer);
    buffer
}

/// The text of a buffer, row by row; what a wide character covers is left out.
pub fn text(buffer: &Buffer) -> String {
    let mut text = String::new();
    for y in 0..buffer.area.height {
        let mut row = String::new();
        let mut covered = 0;
        for x in 0..buffer.area.width {
            if covered > 0 {
                covered -= 1;
                continue;
            }
            let symbol = buffer[(x, y)].symbol();
            covered = ratatui::text::Span::raw(symbol).width().saturating_sub(1);
            row.push_str(symbol);
        }
        text.push_str(row.trim_end());
        text.push('\n');
    }
    text
}
