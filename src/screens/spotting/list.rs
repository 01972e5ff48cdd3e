//! What is set in a track, as a list, and what was last said.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::text::Line;

use super::super::text::{cut, put, width};
use super::CloseUp;
use crate::show::Track;
use crate::spotting::{Amount, Step};

/// Columns a thing takes in the list.
const EACH: u16 = 26;

impl CloseUp<'_> {
    /// How the track is started and ended, as the document has it.
    pub fn settings(&self) -> String {
        let Some(track) = self.spotting.track() else {
            return String::new();
        };
        let mut parts: Vec<String> = track
            .level
            .map(|level| format!("at {level}"))
            .into_iter()
            .collect();
        parts.push(starts(track));
        parts.extend(track.ends.as_ref().map(|ends| format!("ends {ends}")));
        parts.join(", ")
    }

    /// What can be set, in columns; the chosen one with a pointer.
    pub fn draw_things(&self, area: Rect, buffer: &mut Buffer) {
        let things = self.spotting.things();
        let chosen = self.spotting.chosen();
        let chosen = things
            .iter()
            .position(|thing| Some(thing) == chosen.as_ref())
            .unwrap_or(0);
        let rows = usize::from(area.height.max(1));
        let columns = usize::from((area.width / EACH).max(1));
        let first = (chosen / rows + 1).saturating_sub(columns) * rows;
        for (i, thing) in things.iter().enumerate().skip(first).take(rows * columns) {
            let place = i - first;
            let amount = self
                .spotting
                .amount(thing)
                .map(Amount::text)
                .unwrap_or_default();
            let pointer = if i == chosen { "▸" } else { " " };
            let title = match (self.spotting.naming(), i == chosen) {
                (Some(typed), true) => format!("name {typed}▏"),
                _ => thing.title(),
            };
            let style = if i == chosen {
                self.styles.strong
            } else {
                self.styles.base
            };
            let room = usize::from(EACH) - 3 - width(&amount).min(20);
            let text = format!("{pointer}{} {amount}", cut(&title, room));
            let cell = Rect {
                x: area.x + (place / rows) as u16 * EACH,
                width: EACH.min(area.width),
                ..area
            };
            put(
                buffer,
                cell,
                (place % rows) as u16,
                Line::styled(text, style),
            );
        }
    }

    pub fn draw_said(&self, area: Rect, buffer: &mut Buffer) {
        let said = self.spotting.said();
        let style = if said.trouble {
            self.styles.urgent
        } else {
            self.styles.base
        };
        let text = match self.spotting.naming() {
            Some(_) => " type a name, Enter gives it, Esc leaves it as it is".into(),
            None => format!(" {}", said.text),
        };
        put(
            buffer,
            area,
            0,
            Line::styled(cut(&text, area.width.into()), style),
        );
        let step = match self.spotting.step() {
            Step::Frame => format!("step: frame, 1/{} s ", self.spotting.rate()),
            Step::Hundredth => "step: 10 ms ".into(),
            Step::Beat => "step: beat ".into(),
            Step::Bar => "step: bar ".into(),
        };
        if width(&text) + width(&step) < usize::from(area.width) {
            put(
                buffer,
                area,
                0,
                Line::styled(step, self.styles.quiet).right_aligned(),
            );
        }
    }
}

fn starts(track: &Track) -> String {
    match (&track.meets, &track.starts) {
        (Some(meet), _) => format!("{} meets {}", meet.hit, meet.on),
        (None, Some(starts)) => format!("starts {starts}"),
        (None, None) => "started by hand".into(),
    }
}
