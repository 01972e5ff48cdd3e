//! The Stand: what to say now, how long until the next thing, when to stop talking.

use ratatui::buffer::Buffer;
use ratatui::layout::{Constraint, Layout, Rect};
use ratatui::style::Style;
use ratatui::text::{Line, Span as Piece};

use super::digits::to_go;
use super::facts::{Scene, TrackFacts};
use super::status::{self, heading};
use super::text::{below, cut, put, width};
use super::theme::Styles;
use super::wave::{Outlines, Wave};
use super::{countdown, naming, say, strip};
use crate::live::CueState;
use crate::live::session::{Next, NextKind};
use crate::timeline::CueTime;
use crate::timeline::slot::slot_end;
use crate::units::{Instant, Span};

/// Where there are this many columns, words and things to come stand side by side.
const SIDE_BY_SIDE: u16 = 110;

/// Draws the Stand.
pub(super) fn draw(
    scene: &Scene,
    outlines: &mut Outlines,
    area: Rect,
    styles: &Styles,
    buffer: &mut Buffer,
) {
    let reads = say::is_reading(scene.session);
    let (digits, strip, music) = match area.height {
        0..34 => (4, 3, 2),
        // The room of the outline goes to the words while somebody reads.
        34..54 => (8, 4, if reads { 2 } else { 6 }),
        _ => (
            if countdown::is_shared(scene) { 8 } else { 15 },
            5,
            if reads { 2 } else { 8 },
        ),
    };
    let rows = [1, 1, digits].map(Constraint::Length);
    let last = [strip, music, 1].map(Constraint::Length);
    let [state, title, digits_at, middle, line, track, said] = area.layout(&Layout::vertical([
        rows[0],
        rows[1],
        rows[2],
        Constraint::Min(0),
        last[0],
        last[1],
        last[2],
    ]));
    let coming = scene.session.coming();
    status::draw(scene, state, styles, buffer);
    draw_title(scene, title, styles, buffer);
    countdown::draw(scene, &coming, digits_at, styles, buffer);
    draw_middle(scene, &coming, middle, styles, buffer);
    strip::draw(scene, line, styles, buffer);
    draw_music(scene, outlines, track, styles, buffer);
    status::draw_last(scene, said, styles, buffer);
}

/// The call to be made now, or else what the display is called; when it ends, and when it has to.
fn draw_title(scene: &Scene, area: Rect, styles: &Styles, buffer: &mut Buffer) {
    let session = scene.session;
    let calls = session
        .calls()
        .iter()
        .zip(&session.layout().calls)
        .enumerate();
    let now = calls
        .filter(|(_, (cue, _))| matches!(cue.state, CueState::Due | CueState::Running))
        .min_by_key(|(_, (_, at))| at.instant());
    let (text, style) = match now {
        None => (format!(" {}", session.show().title), styles.quiet),
        Some((i, (cue, at))) => {
            let call = &session.show().calls[i];
            let when = match at.instant().filter(|_| cue.state == CueState::Due) {
                Some(at) => format!("in {}", to_go(at - session.now())),
                None => "now".into(),
            };
            let text = format!(" CALL {when}, {}: {} ", call.who, session.call_text(i));
            (text, styles.urgent)
        }
    };
    let text = cut(&text, usize::from(area.width));
    let (end, end_style) = ending(scene, styles);
    if width(&text) + width(&end) < usize::from(area.width) {
        let line = Line::styled(end, end_style).right_aligned();
        put(buffer, area, 0, line);
    }
    put(buffer, area, 0, Line::styled(text, style));
}

/// When the display ends by the estimate, and when its slot does.
fn ending(scene: &Scene, styles: &Styles) -> (String, Style) {
    let session = scene.session;
    let held = session.programme().iter().any(|flying| flying.held);
    let Some(end) = session.moments().end().filter(|_| !held) else {
        return (String::new(), styles.base);
    };
    let ends = format!(" ends {} estimated", scene.clock.text(end, 0));
    let slot = slot_end(session.show());
    match slot.map(|slot| session.as_hacked(slot)) {
        None => (format!("{ends} "), styles.quiet),
        Some(slot) if end > slot => {
            let over = (end - slot).clock(0);
            (format!("{ends}, {over} AFTER ITS SLOT "), styles.urgent)
        }
        Some(slot) => {
            let slot = scene.clock.text(slot, 0);
            (format!("{ends}, slot {slot} "), styles.quiet)
        }
    }
}

/// Words now, next words, things to come.
fn draw_middle(scene: &Scene, coming: &[Next], area: Rect, styles: &Styles, buffer: &mut Buffer) {
    let wide = area.width >= SIDE_BY_SIDE;
    let reads = say::is_reading(scene.session);
    let (words, list) = if wide && !reads {
        let halves = Layout::horizontal([Constraint::Fill(1), Constraint::Fill(1)]).spacing(2);
        let [words, list] = area.layout(&halves);
        (words, list)
    } else {
        let rows = match (wide, area.height) {
            (true, 0..30) => 4,
            (true, _) => 7,
            (false, height) => (height / 3).max(4),
        };
        let [words, list] = area.layout(&Layout::vertical([
            Constraint::Min(0),
            Constraint::Length(rows),
        ]));
        (words, list)
    };
    let rows = match words.height {
        0..14 => 2,
        _ if reads => 3,
        14..24 => 4,
        _ => 6,
    };
    let [now, next] = words.layout(&Layout::vertical([
        Constraint::Min(0),
        Constraint::Length(rows),
    ]));
    say::draw(scene, now, next, styles, buffer);
    draw_coming(scene, coming, list, styles, buffer);
}

/// The next things, estimated beside planned.
fn draw_coming(scene: &Scene, coming: &[Next], area: Rect, styles: &Styles, buffer: &mut Buffer) {
    let row = |estimated: &str, planned: &str, lateness: &str, what: &str| {
        let head = format!("{estimated:>9} {planned:>9}  {lateness:<11} ");
        let room = usize::from(area.width).saturating_sub(width(&head));
        (head, cut(what, room))
    };
    let (head, what) = row("estimated", "planned", "late, early", "what is to come");
    let line = Line::styled(
        head + &what,
        styles.edge.add_modifier(ratatui::style::Modifier::BOLD),
    );
    put(buffer, area, 0, line);
    for (i, next) in coming.iter().enumerate().take(usize::from(area.height)) {
        let planned = next
            .planned
            .map_or("—".into(), |planned| scene.clock.text(planned, 0));
        let (head, what) = row(
            &scene.clock.text(next.at, 0),
            &planned,
            &naming::lateness(next.at, next.planned),
            &format!(
                "{}: {}",
                naming::kind(next),
                naming::which(scene.session, next)
            ),
        );
        let style = match next.kind {
            NextKind::Point { .. } => styles.flight,
            NextKind::Track(_) => styles.music,
            _ => styles.base,
        };
        let line = Line::from(vec![
            Piece::styled(head, styles.base),
            Piece::styled(what, style),
        ]);
        put(buffer, area, 1 + i as u16, line);
    }
}

/// What is playing, or will play next.
pub(super) fn draw_music(
    scene: &Scene,
    outlines: &mut Outlines,
    area: Rect,
    styles: &Styles,
    buffer: &mut Buffer,
) {
    let Some(index) = shown_track(scene) else {
        return heading("music: none to come", area, styles, buffer);
    };
    let session = scene.session;
    let track = &session.show().tracks[index];
    let unknown = TrackFacts::default();
    let facts = scene.desk.tracks.get(index).unwrap_or(&unknown);
    let playhead = session.playhead(index);
    heading(&music_words(scene, index, facts), area, styles, buffer);
    let wave = Wave {
        index,
        track,
        facts,
        playhead,
    };
    wave.draw(outlines, below(area, 1), styles, buffer);
}

/// The track that sounds (the last begun), else the next to start.
fn shown_track(scene: &Scene) -> Option<usize> {
    let session = scene.session;
    let cues = || session.tracks().iter().enumerate();
    let playing = cues()
        .filter(|(_, cue)| cue.state == CueState::Running)
        .max_by_key(|(_, cue)| cue.begun);
    let to_come = cues()
        .filter(|(_, cue)| matches!(cue.state, CueState::Ahead | CueState::Due))
        .map(|(i, _)| (i, session.layout().tracks[i].starts))
        .filter(|(_, starts)| matches!(starts, CueTime::At(_) | CueTime::Held))
        // What is held up comes after what has a time.
        .min_by_key(|(_, starts)| starts.instant().unwrap_or(Instant::NEVER))
        .map(|(i, _)| i);
    playing.map(|(i, _)| i).or(to_come)
}

fn music_words(scene: &Scene, index: usize, facts: &TrackFacts) -> String {
    let session = scene.session;
    let track = &session.show().tracks[index];
    let cue = &session.tracks()[index];
    let mut parts = vec![match session.playhead(index) {
        Some(at) => {
            let going = if cue.fading.is_some() {
                "fading"
            } else {
                "playing"
            };
            let length = facts.duration.map_or("?".into(), |all| all.clock(0));
            format!("music: {} {going}, {} of {length}", track.id, at.clock(0))
        }
        None => match session.layout().tracks[index].starts.instant() {
            Some(at) if at > session.now() => {
                format!("music: {} in {}", track.id, to_go(at - session.now()))
            }
            Some(_) => format!("music: {} waits to be started", track.id),
            None => format!("music: {} is held up", track.id),
        },
    }];
    if facts.loaded < 1.0 {
        parts.push(format!("decoded {:.0} %", facts.loaded * 100.0));
    }
    let next = track
        .hits
        .iter()
        .filter_map(|(name, place)| Some((name, session.heard_at(index, *place)?)))
        .min_by_key(|(_, at)| *at);
    if let Some((name, at)) = next {
        parts.push(format!("hit {name} in {}", to_go(at - session.now())));
    }
    parts.extend(naming::way(session, index));
    if let Some(meeting) = session.layout().tracks[index].meeting {
        let miss = meeting.miss.abs().s();
        parts.push(match (meeting.met, meeting.miss > Span::ZERO) {
            (true, _) => format!("meets at {}", scene.clock.text(meeting.wanted, 0)),
            (false, true) => format!("misses by {miss:.1} s late"),
            (false, false) => format!("misses by {miss:.1} s early"),
        });
        let bars = meeting.rounds_fixed_from.filter(|at| *at > session.now());
        let fixed = bars.unwrap_or(meeting.fixed_from);
        if session.playhead(index).is_some() && fixed > session.now() {
            parts.push(format!("fixed from {}", scene.clock.text(fixed, 0)));
        }
    }
    parts.join(", ")
}
