//! The Desk: every track, where it is, how loud, and whether it meets what it should.

use ratatui::buffer::Buffer;
use ratatui::layout::{Constraint, Layout, Rect};
use ratatui::text::{Line, Span as Piece};

use super::facts::{Output, Scene, TrackFacts};
use super::naming;
use super::status::{self, heading};
use super::text::{below, cut, put, wrap};
use super::theme::Styles;
use super::wave::{Outlines, Wave, level_bar};
use crate::live::CueState;
use crate::show::Go;
use crate::timeline::CueTime;
use crate::units::Gain;

/// Rows a track takes at least and at most.
const ROWS: (u16, u16) = (4, 12);

/// Peaks that are held by less than this are not told of.
const TOLD: Gain = Gain::from_db(0.1);

/// Draws the Desk; `selected` is the track that keys act on.
pub(super) fn draw(
    scene: &Scene,
    outlines: &mut Outlines,
    selected: usize,
    area: Rect,
    styles: &Styles,
    buffer: &mut Buffer,
) {
    let rows = [1, 1, 1].map(Constraint::Length);
    let [state, output, title, tracks, said] = area.layout(&Layout::vertical([
        rows[0],
        rows[1],
        rows[2],
        Constraint::Min(0),
        Constraint::Length(1),
    ]));
    status::draw(scene, state, styles, buffer);
    draw_output(scene, output, styles, buffer);
    let count = scene.session.show().tracks.len();
    let each = (tracks.height / count.clamp(1, 64) as u16).clamp(ROWS.0, ROWS.1);
    let shown = usize::from(tracks.height / each).max(1);
    // The list moves only when the selected track would leave it.
    let first = (selected + 1)
        .saturating_sub(shown)
        .min(count.saturating_sub(shown));
    let text = if count > shown {
        format!(
            "tracks {} to {} of {count}",
            first + 1,
            (first + shown).min(count)
        )
    } else {
        format!("tracks, {count}")
    };
    heading(&text, title, styles, buffer);
    for row in 0..shown.min(count) {
        let index = first + row;
        let top = below(tracks, each * row as u16);
        let room = Rect {
            height: each.min(top.height),
            ..top
        };
        draw_track(
            scene,
            outlines,
            (index, index == selected),
            room,
            styles,
            buffer,
        );
    }
    if count == 0 {
        put(
            buffer,
            tracks,
            0,
            Line::styled(" this show has no tracks", styles.base),
        );
    }
    status::draw_last(scene, said, styles, buffer);
}

/// Where the sound goes, whether it ever ran dry, how loud it is, and by how much it would be too loud.
fn draw_output(scene: &Scene, area: Rect, styles: &Styles, buffer: &mut Buffer) {
    let desk = scene.desk;
    let (output, style) = match &desk.output {
        Output::Device { name } => (format!(" output {name} "), styles.base),
        Output::Silent { why } => (format!(" SILENT: {why} "), styles.urgent),
    };
    let (dry, dry_style) = match desk.underruns {
        0 => (" no underruns ".to_owned(), styles.base),
        1 => (" 1 underrun ".to_owned(), styles.urgent),
        count => (format!(" {count} underruns "), styles.urgent),
    };
    let meters = desk.meters.iter().take(2).map(|level| {
        format!(
            " {} {:>4.0} dB",
            level_bar(Some(level.db()), 10),
            level.db().max(-99.0)
        )
    });
    let meters: String = meters.collect();
    let held = match desk.held {
        held if held >= TOLD => format!(" peaks held by {:.1} dB ", held.db()),
        _ => String::new(),
    };
    let taken = super::text::width(&meters) + dry.len() + held.len() + 1;
    let room = usize::from(area.width).saturating_sub(taken);
    let line = Line::from(vec![
        Piece::styled(cut(&output, room), style),
        Piece::styled(dry, dry_style),
        Piece::styled(held, styles.urgent),
    ]);
    put(buffer, area, 0, line);
    put(
        buffer,
        area,
        0,
        Line::styled(meters, styles.music).right_aligned(),
    );
}

fn draw_track(
    scene: &Scene,
    outlines: &mut Outlines,
    (index, selected): (usize, bool),
    area: Rect,
    styles: &Styles,
    buffer: &mut Buffer,
) {
    let unknown = TrackFacts::default();
    let facts = scene.desk.tracks.get(index).unwrap_or(&unknown);
    draw_track_line(scene, (index, selected), facts, area, styles, buffer);
    let inner = Rect {
        x: area.x + 2.min(area.width),
        width: area.width.saturating_sub(2),
        ..below(area, 1)
    };
    let meet = naming::meet(scene, index).or_else(|| naming::way(scene.session, index));
    let meet = meet.unwrap_or_default();
    let lines = wrap(&meet, usize::from(inner.width));
    let most = inner.height.saturating_sub(1);
    let rows = (lines.len().min(usize::from(u16::MAX)) as u16).min(most);
    let missed = scene.session.layout().tracks[index]
        .meeting
        .is_some_and(|meeting| !meeting.met);
    let style = if missed { styles.urgent } else { styles.base };
    let wave = Wave {
        index,
        track: &scene.session.show().tracks[index],
        facts,
        playhead: scene.session.playhead(index),
    };
    let outline = Rect {
        height: inner.height - rows,
        ..inner
    };
    wave.draw(outlines, outline, styles, buffer);
    for (row, line) in lines.into_iter().take(usize::from(rows)).enumerate() {
        let text = if row + 1 == usize::from(rows) {
            &meet[line.start..]
        } else {
            &meet[line]
        };
        let text = cut(text, usize::from(inner.width));
        put(
            buffer,
            below(inner, outline.height),
            row as u16,
            Line::styled(text, style),
        );
    }
}

/// One row: which track, its state, its place, its levels; as much as fits, the most needed first.
fn draw_track_line(
    scene: &Scene,
    (index, selected): (usize, bool),
    facts: &TrackFacts,
    area: Rect,
    styles: &Styles,
    buffer: &mut Buffer,
) {
    let session = scene.session;
    let track = &session.show().tracks[index];
    let cue = &session.tracks()[index];
    let name = cut(track.id.as_str(), usize::from(area.width / 4));
    let pointer = if selected { "▸ " } else { "  " };
    let mut parts = vec![
        format!("{pointer}{name}"),
        match cue.fading {
            Some(_) if cue.state == CueState::Running => "▷ fading".into(),
            _ => naming::state(cue.state).into(),
        },
        place(scene, index, facts),
        match facts.played {
            Some(level) => format!("{} {:.0} dB", level_bar(Some(level.db()), 8), level.db()),
            None => format!("{} silent", level_bar(None, 8)),
        },
        match track.go {
            Go::Auto => "starts itself".into(),
            Go::Hand => "started by hand".into(),
        },
        format!("fader {:+.0} dB", cue.gain.db()),
    ];
    if facts.loaded < 1.0 {
        parts.insert(2, format!("decoded {:.0} %", facts.loaded * 100.0));
    }
    if let Some(level) = track.level {
        parts.push(format!("at {level}"));
    }
    if let Some(integrated) = facts.integrated {
        parts.push(format!("file {integrated}"));
    }
    if let Some(peak) = facts.true_peak {
        parts.push(format!("true peak {:.1} dBTP", peak.db()));
    }
    let mut text = String::new();
    for part in parts {
        let longer = if text.is_empty() {
            part
        } else {
            format!("{text}   {part}")
        };
        if super::text::width(&longer) > usize::from(area.width) {
            break;
        }
        text = longer;
    }
    let style = if selected { styles.strong } else { styles.base };
    put(buffer, area, 0, Line::styled(text, style));
}

/// Where a track is, or when it starts.
fn place(scene: &Scene, index: usize, facts: &TrackFacts) -> String {
    let session = scene.session;
    let length = facts.duration.map_or("?".into(), |all| all.clock(0));
    if let Some(at) = session.playhead(index) {
        return format!("{} of {length}", at.clock(1));
    }
    let laid = &session.layout().tracks[index];
    let ahead = matches!(
        session.tracks()[index].state,
        CueState::Ahead | CueState::Due
    );
    match laid.starts {
        CueTime::At(at) if ahead => format!("{} estimated, {length} long", scene.clock.text(at, 0)),
        CueTime::Held if ahead => format!("held up, {length} long"),
        CueTime::Free if ahead => format!("at any time, {length} long"),
        CueTime::Orphaned => format!("its figure is not flown, {length} long"),
        _ => format!("{length} long"),
    }
}
