//! The outline of a track with its hits, its entries and the place it has got to.

use std::collections::HashMap;

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::text::Line;

use super::facts::TrackFacts;
use super::text::{cut, put, width};
use super::theme::Styles;
use crate::show::Track;
use crate::units::Span;

/// Outlines already asked for, so that a frame asks for none that has not changed.
#[derive(Debug, Clone, Default)]
pub(super) struct Outlines(HashMap<(usize, u16), Kept>);

#[derive(Debug, Clone)]
struct Kept {
    loaded: f32,
    duration: Span,
    /// Highest magnitude of each column, 0 to 1.
    heights: Vec<f32>,
}

impl Outlines {
    /// How high each of `columns` columns of a track is; empty while nothing is known of it.
    fn heights(&mut self, track: usize, columns: u16, facts: &TrackFacts) -> &[f32] {
        /// Widths come and go with the terminal; more than this many is litter.
        const MOST: usize = 256;
        let (Some(outline), Some(duration)) = (&facts.outline, facts.duration) else {
            return &[];
        };
        if self.0.len() > MOST {
            self.0.clear();
        }
        let kept = self.0.entry((track, columns)).or_insert_with(|| Kept {
            loaded: -1.0,
            duration,
            heights: Vec::new(),
        });
        if kept.loaded != facts.loaded || kept.duration != duration {
            let peaks = outline.peaks(Span::ZERO, duration, usize::from(columns));
            kept.heights = peaks
                .iter()
                .map(|(low, high)| low.abs().max(high.abs()))
                .collect();
            (kept.loaded, kept.duration) = (facts.loaded, duration);
        }
        &kept.heights
    }
}

/// Where a track stands, for drawing.
pub(super) struct Wave<'a> {
    pub index: usize,
    pub track: &'a Track,
    pub facts: &'a TrackFacts,
    pub playhead: Option<Span>,
}

const BARS: [&str; 9] = [" ", "▁", "▂", "▃", "▄", "▅", "▆", "▇", "█"];

impl Wave<'_> {
    /// Draws hits on the first row, the outline below; the last row marks entries when there are four or more.
    pub fn draw(&self, outlines: &mut Outlines, area: Rect, styles: &Styles, buffer: &mut Buffer) {
        let Some(duration) = self.facts.duration.filter(|span| *span > Span::ZERO) else {
            let text = cut(
                "no outline: its file is not decoded",
                usize::from(area.width),
            );
            return put(buffer, area, 0, Line::styled(text, styles.quiet));
        };
        if area.width == 0 || area.height == 0 {
            return;
        }
        let column = |at: Span| {
            let share = (at.s() / duration.s()).clamp(0.0, 1.0);
            ((share * f64::from(area.width)) as u16).min(area.width - 1)
        };
        let played = self.playhead.map(column);
        let marks = u16::from(area.height > 1);
        let entries = u16::from(area.height > 3);
        let body = Rect {
            y: area.y + marks,
            height: area.height - marks - entries,
            ..area
        };
        let heights = outlines.heights(self.index, area.width, self.facts);
        let known = (self.facts.loaded.clamp(0.0, 1.0) * f32::from(body.width)).ceil() as u16;
        let known = if heights.is_empty() { 0 } else { known };
        let ground = Ground {
            body,
            played,
            known,
        };
        draw_columns(heights, ground, styles, buffer);
        if marks > 0 {
            for (i, (name, at)) in self.track.hits.iter().enumerate() {
                let x = column(*at);
                let next = self.track.hits.get(i + 1).map(|(_, at)| column(*at));
                let room = next.unwrap_or(area.width).saturating_sub(x);
                self.draw_hit(name.as_str(), x, room, area, styles, buffer);
            }
        }
        if entries > 0 {
            for at in &self.track.entries {
                let place = (area.x + column(*at), area.bottom() - 1);
                if let Some(cell) = buffer.cell_mut(place) {
                    cell.set_symbol("▹").set_style(styles.music);
                }
            }
        }
        if let Some(x) = played {
            for y in area.y..area.bottom() - entries {
                if let Some(cell) = buffer.cell_mut((area.x + x, y)) {
                    cell.set_symbol("┃").set_style(styles.strong);
                }
            }
        }
    }

    /// `▼` over the hit, its name after it as far as there is room, before it at the very end.
    fn draw_hit(
        &self,
        name: &str,
        x: u16,
        room: u16,
        area: Rect,
        styles: &Styles,
        buffer: &mut Buffer,
    ) {
        let before = width(name) as u16;
        let at_end = x + room >= area.width && room <= before && before < x;
        let (text, from) = if at_end {
            (format!("{name}▼"), x - before)
        } else {
            let name = cut(name, usize::from(room.saturating_sub(2)));
            (format!("▼{name}"), x)
        };
        let place = Rect {
            x: area.x + from,
            width: area.width - from,
            ..area
        };
        put(buffer, place, 0, Line::styled(text, styles.strong));
    }
}

/// Where columns are drawn, how many of them are known, and how many are played.
pub(super) struct Ground {
    pub body: Rect,
    pub played: Option<u16>,
    pub known: u16,
}

/// Columns as high as their heights, 1 at most.
pub(super) fn draw_columns(heights: &[f32], ground: Ground, styles: &Styles, buffer: &mut Buffer) {
    let body = ground.body;
    for x in 0..body.width {
        let height = heights
            .get(usize::from(x))
            .copied()
            .unwrap_or(0.0)
            .clamp(0.0, 1.0);
        let known = x < ground.known;
        let style = if ground.played.is_some_and(|at| x < at) {
            styles.quiet
        } else {
            styles.music
        };
        let eighths = (height * f32::from(body.height) * 8.0).round() as u16;
        for row in 0..body.height {
            let above = (body.height - 1 - row) * 8;
            let symbol = match (known, row + 1 == body.height) {
                (false, true) => "·",
                (false, false) => " ",
                // Silence still shows where the track is.
                (true, true) => BARS[usize::from(eighths.clamp(1, 8))],
                (true, false) => BARS[usize::from(eighths.saturating_sub(above).min(8))],
            };
            if let Some(cell) = buffer.cell_mut((body.x + x, body.y + row)) {
                cell.set_symbol(symbol).set_style(style);
            }
        }
    }
}

/// A level as a bar of `columns`, full at 0 dB and empty at −48 dB.
pub(super) fn level_bar(db: Option<f64>, columns: usize) -> String {
    let share = db.map_or(0.0, |db| ((db + 48.0) / 48.0).clamp(0.0, 1.0));
    let full = (share * columns as f64).round() as usize;
    "▰".repeat(full) + &"▱".repeat(columns - full)
}
