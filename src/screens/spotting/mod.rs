//! A track close up: all of it, a part of it as large as the screen lets it be, and what is set in it.

mod keys;
mod list;

use ratatui::buffer::Buffer;
use ratatui::layout::{Constraint, Layout, Rect};
use ratatui::text::Line;

use super::facts::{Outline, Scene, TrackFacts};
use super::status::{self, heading};
use super::text::{cut, put, width};
use super::theme::Styles;
use super::wave::{Ground, draw_columns};
use crate::spotting::{Amount, Spotting, Thing, place_text};
use crate::units::Span;

/// Draws the page; `heard` is the place that is heard on the headphones.
pub(super) fn draw(
    scene: &Scene,
    spotting: &Spotting,
    heard: Option<Span>,
    area: Rect,
    styles: &Styles,
    buffer: &mut Buffer,
) {
    let high = (area.height / 10).clamp(2, 5);
    let list = (area.height / 7).clamp(3, 8);
    let rows = [1, 1, high, 1].map(Constraint::Length);
    let last = [1, 1, 1, 1, list, 1, 3, 1].map(Constraint::Length);
    let [
        status,
        title,
        whole,
        part,
        close,
        ruler,
        times,
        vamp,
        set,
        things,
        said,
        help,
        notice,
    ] = area.layout(&Layout::vertical(
        rows.into_iter().chain([Constraint::Min(3)]).chain(last),
    ));
    let unknown = TrackFacts::default();
    let index = scene
        .session
        .show()
        .tracks
        .iter()
        .position(|track| track.id == *spotting.track_id());
    let facts = index
        .and_then(|index| scene.desk.tracks.get(index))
        .unwrap_or(&unknown);
    let page = CloseUp {
        spotting,
        outline: facts.outline.as_deref(),
        at: heard.unwrap_or(spotting.playhead()),
        styles,
    };
    status::draw(scene, status, styles, buffer);
    heading(&page.title(), title, styles, buffer);
    page.draw_whole(whole, part, buffer);
    page.draw_close(close, ruler, times, buffer);
    put(
        buffer,
        vamp,
        0,
        Line::styled(cut(&page.vamp(), vamp.width.into()), styles.base),
    );
    heading(&page.settings(), set, styles, buffer);
    page.draw_things(things, buffer);
    page.draw_said(said, buffer);
    for (row, line) in keys::HELP.iter().enumerate() {
        put(
            buffer,
            help,
            row as u16,
            Line::styled(cut(line, help.width.into()), styles.quiet),
        );
    }
    status::draw_last(scene, notice, styles, buffer);
}

struct CloseUp<'a> {
    spotting: &'a Spotting,
    outline: Option<&'a dyn Outline>,
    /// Where the playhead is: what is heard, or looked at.
    at: Span,
    styles: &'a Styles,
}

impl CloseUp<'_> {
    fn title(&self) -> String {
        let spotting = self.spotting;
        let file = spotting.track().map_or("", |track| track.file.as_str());
        let found = match spotting.landmarks() {
            None => "being listened to".to_owned(),
            Some(found) => match found.pulse.tempo {
                Some(tempo) => format!("{:.1} beats a minute by ear", tempo.bpm()),
                None => "no beats".into(),
            },
        };
        let written = if spotting.is_written() {
            "written"
        } else {
            "NOT WRITTEN"
        };
        let length = spotting.length().clock(1);
        format!(
            "{}, {written}   {file}, {length}, {found}",
            spotting.track_id()
        )
    }

    /// The whole track, and below it which part is seen close up.
    fn draw_whole(&self, area: Rect, part: Rect, buffer: &mut Buffer) {
        let whole = (Span::ZERO, self.spotting.length());
        self.draw_wave(whole, area, buffer);
        let (from, until) = self.spotting.close_up(self.at);
        let (left, right) = (
            column(from, whole, area.width),
            column(until, whole, area.width),
        );
        for x in left..=right {
            let symbol = match x {
                x if x == left => "┗",
                x if x == right => "┛",
                _ => "━",
            };
            self.set(buffer, (part.x + x, part.y), symbol, self.styles.edge);
        }
    }

    /// The part of it: hits and entries over it, bar lines, beats and the vamp below it, and the times.
    fn draw_close(&self, area: Rect, ruler: Rect, times: Rect, buffer: &mut Buffer) {
        let seen = self.spotting.close_up(self.at);
        self.draw_wave(seen, area, buffer);
        self.draw_ruler(seen, ruler, buffer);
        let middle = self.at.clock(6);
        let texts = [
            (0, seen.0.clock(3)),
            (column(self.at, seen, times.width), format!("▲{middle}")),
            (times.width, seen.1.clock(3)),
        ];
        for (x, text) in texts {
            let long = width(&text) as u16;
            let x = x.min(times.width.saturating_sub(long));
            let place = Rect {
                x: times.x + x,
                width: long.min(times.width),
                ..times
            };
            put(buffer, place, 0, Line::styled(text, self.styles.strong));
        }
    }

    /// What is heard of the track from one place to another, hits and entries on the row over it.
    fn draw_wave(&self, seen: (Span, Span), area: Rect, buffer: &mut Buffer) {
        let body = Rect {
            y: area.y + 1,
            height: area.height.saturating_sub(1),
            ..area
        };
        let peaks = |from, until| {
            let columns = area.width.into();
            let peaks = self
                .outline
                .map(|outline| outline.peaks(from, until, columns));
            let heights = peaks.unwrap_or_default().into_iter();
            heights
                .map(|(low, high): (f32, f32)| low.abs().max(high.abs()))
                .collect::<Vec<f32>>()
        };
        // As high as the loudest of the whole track, so that what is soft stays so close up.
        let whole = peaks(Span::ZERO, self.spotting.length());
        let loudest = whole.into_iter().fold(1e-6, f32::max);
        let heights = peaks(seen.0, seen.1);
        let heights: Vec<f32> = heights.into_iter().map(|height| height / loudest).collect();
        let playhead = column(self.at, seen, area.width);
        let ground = Ground {
            body,
            played: None,
            known: if heights.is_empty() { 0 } else { body.width },
        };
        draw_columns(&heights, ground, self.styles, buffer);
        for y in body.y..body.bottom() {
            self.set(buffer, (area.x + playhead, y), "┃", self.styles.strong);
        }
        let things = self.spotting.things().into_iter().filter_map(|thing| {
            match (self.spotting.amount(&thing)?, &thing) {
                (Amount::Place(at), Thing::Hit(name)) => Some((at, format!("▼{name}"), thing)),
                (Amount::Place(at), Thing::Entry(_)) => Some((at, "▹".into(), thing)),
                _ => None,
            }
        });
        let mut marks: Vec<(u16, String, bool)> = things
            .filter(|(at, ..)| (seen.0..=seen.1).contains(at))
            .map(|(at, text, thing)| {
                (
                    column(at, seen, area.width),
                    text,
                    Some(thing) == self.spotting.chosen(),
                )
            })
            .collect();
        marks.sort_by_key(|(x, ..)| *x);
        for (i, (x, text, chosen)) in marks.iter().enumerate() {
            let next = marks.get(i + 1).map_or(area.width, |(next, ..)| *next);
            let room = usize::from(next.saturating_sub(*x).max(1));
            let place = Rect {
                x: area.x + x,
                width: area.width - x,
                height: 1,
                ..area
            };
            let style = if *chosen {
                self.styles.urgent
            } else {
                self.styles.strong
            };
            put(buffer, place, 0, Line::styled(cut(text, room), style));
        }
    }

    /// `│` where a bar begins, `·` where a beat is, and the vamp from `╞` to `╡`.
    fn draw_ruler(&self, seen: (Span, Span), area: Rect, buffer: &mut Buffer) {
        let mut mark = |at: Span, symbol: &str, style| {
            if (seen.0..=seen.1).contains(&at) {
                let x = area.x + column(at, seen, area.width);
                self.set(buffer, (x, area.y), symbol, style);
            }
        };
        if let Some(found) = self.spotting.landmarks() {
            for at in &found.pulse.beats {
                mark(*at, "·", self.styles.quiet);
            }
            for at in &found.pulse.downbeats {
                mark(*at, "│", self.styles.base);
            }
        }
        let vamp = match self.spotting.proposal() {
            Some((vamp, ..)) => Some((vamp.from, vamp.to)),
            None => {
                let vamp = self.spotting.track().and_then(|track| track.vamp);
                vamp.map(|vamp| (vamp.from, vamp.to))
            }
        };
        let Some((from, to)) = vamp.filter(|(from, to)| *to >= seen.0 && *from <= seen.1) else {
            return;
        };
        let (left, right) = (column(from, seen, area.width), column(to, seen, area.width));
        for x in left..=right {
            let (first, last) = (x == left && from >= seen.0, x == right && to <= seen.1);
            let symbol = match (first, last) {
                (true, _) => "╞",
                (_, true) => "╡",
                _ => "═",
            };
            self.set(buffer, (area.x + x, area.y), symbol, self.styles.music);
        }
    }

    fn vamp(&self) -> String {
        let ends = |from: Span, to: Span| format!("{} to {}", place_text(from), place_text(to));
        if let Some((vamp, which, count)) = self.spotting.proposal() {
            let bars = match (vamp.bars, vamp.even) {
                (1, _) => "1 bar".into(),
                (bars, true) => format!("{bars} bars alike"),
                (bars, false) => format!("{bars} bars as a whole"),
            };
            return format!(
                " vamp {which} of {count} found: {}, {bars}, join {:.0} % like the track's own",
                ends(vamp.from, vamp.to),
                100.0 * vamp.alike
            );
        }
        match self.spotting.track().and_then(|track| track.vamp) {
            Some(vamp) => format!(" vamp in the document: {}", ends(vamp.from, vamp.to)),
            None => " no vamp in the document".into(),
        }
    }

    fn set(
        &self,
        buffer: &mut Buffer,
        place: (u16, u16),
        symbol: &str,
        style: ratatui::style::Style,
    ) {
        if let Some(cell) = buffer.cell_mut(place) {
            cell.set_symbol(symbol).set_style(style);
        }
    }
}

/// The column of a place in what is seen.
fn column(at: Span, (from, until): (Span, Span), columns: u16) -> u16 {
    let length = (until - from).s().max(1e-6);
    let share = ((at - from).s() / length).clamp(0.0, 1.0);
    ((share * f64::from(columns)) as u16).min(columns.saturating_sub(1))
}
