//! What the sheets tell of, and in which words.

use std::fmt::Display;

use maud::{Markup, html};

use crate::pictures::programme::{Part, Programme, point_name};
use crate::show::{Anchor, Figure, Show, Side, TimeExpression};
use crate::timeline::Plan;
use crate::timeline::clock::{told, told_finely};
use crate::units::{Instant, Span};

/// A show and its plan.
pub(super) struct Planned<'a> {
    pub show: &'a Show,
    pub plan: &'a Plan,
    /// What is flown, numbered and named.
    pub programme: Programme<'a>,
}

impl<'a> Planned<'a> {
    pub fn of(show: &'a Show, plan: &'a Plan) -> Self {
        Planned {
            show,
            plan,
            programme: Programme::of(show, plan),
        }
    }

    /// An instant to the second, by the clock and under it by the show.
    pub fn when(&self, at: Instant) -> Markup {
        self.both(told(self.show, at), at, 0)
    }

    /// An instant to a tenth of a second, by the clock and under it by the show.
    pub fn when_finely(&self, at: Instant) -> Markup {
        self.both(told_finely(self.show, at), at, 1)
    }

    /// An instant to the second: by the clock, or by the show if it has none.
    pub fn clock(&self, at: Instant) -> String {
        match self.show.start {
            Some(_) => told(self.show, at),
            None => signed(at - Instant::ZERO, 0),
        }
    }

    fn both(&self, clock: String, at: Instant, places: usize) -> Markup {
        let shown = signed(at - Instant::ZERO, places);
        match self.show.start {
            Some(_) => html! { span.clock { (clock) } " " span.shown { (shown) } },
            None => html! { span.clock { (shown) } },
        }
    }

    /// The first flying of a figure.
    pub fn part_of(&self, figure: &Figure) -> Option<&Part<'a>> {
        let mut parts = self.programme.parts.iter();
        parts.find(|part| part.times.id == figure.id)
    }

    /// The side of the crowd a flying of a figure is begun from, as it is planned to be flown.
    pub fn side_of(&self, part: &Part) -> &'static str {
        self.show
            .figure(&part.times.id)
            .map_or("", |figure| self.side_flown(figure, part).word())
    }

    /// The same, in types.
    pub fn side_flown(&self, figure: &Figure, part: &Part) -> Side {
        let mut entries = self.plan.entries.iter();
        let mirrored = entries
            .find(|entry| entry.key == part.times.key)
            .is_some_and(|entry| entry.mirrored);
        if mirrored {
            figure.from.mirrored()
        } else {
            figure.from
        }
    }

    /// When the hit of a track that meets something falls, as planned.
    pub fn hit_falls(&self, track: usize) -> Option<Instant> {
        let meeting = self.plan.layout.tracks[track].meeting?;
        Some(meeting.wanted + meeting.miss)
    }

    /// A time as people say it: `Memorial pass abeam − 10 s`.
    pub fn said(&self, time: &TimeExpression) -> String {
        let anchor = match &time.anchor {
            Anchor::Show => "show zero".into(),
            Anchor::Clock(clock) => format!("the clock {clock}"),
            Anchor::Point { of, point } => {
                let name = self
                    .show
                    .figure(of)
                    .map_or(of.as_str(), |figure| &figure.name);
                format!("{name} {}", point_name(point))
            }
        };
        match time.offset {
            Span::ZERO => anchor,
            offset if offset > Span::ZERO => format!("{anchor} + {offset}"),
            offset => format!("{anchor} − {}", offset.abs()),
        }
    }
}

/// A time from some zero with its sign: `+0:12`, `−1:05.3`, `0:00`.
pub(super) fn signed(span: Span, places: usize) -> String {
    let text = span.clock(places);
    match text.strip_prefix('-') {
        Some(before) => format!("−{before}"),
        None if text.bytes().any(|b| b.is_ascii_digit() && b != b'0') => format!("+{text}"),
        None => text,
    }
}

/// `±1.2 s`; number and unit stay on one line.
pub(super) fn spread(spread: Span) -> String {
    format!("±{:.1}\u{a0}s", spread.s())
}

/// A level or gain with the sign that print has for it: `−18 LUFS`.
pub(super) fn level(level: impl Display) -> String {
    level.to_string().replace('-', "−")
}

/// Seconds as people say them, whole ones: `16 s`, `1:05`.
pub(super) fn seconds(span: Span) -> String {
    if span.abs() < Span::from_ms(59_500) {
        format!("{:.0}\u{a0}s", span.s())
    } else {
        span.clock(0)
    }
}

/// Text as its writer divided it: paragraphs are parted by an empty line.
pub(super) fn paragraphs(text: &str) -> Vec<String> {
    let lines = text.lines().map(str::trim);
    let mut paragraphs = vec![String::new()];
    for line in lines {
        match paragraphs.last_mut() {
            Some(last) if line.is_empty() && !last.is_empty() => paragraphs.push(String::new()),
            Some(last) => {
                if !last.is_empty() {
                    last.push(' ');
                }
                last.push_str(line);
            }
            None => {}
        }
    }
    paragraphs.retain(|paragraph| !paragraph.is_empty());
    paragraphs
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_from_a_zero_carry_their_sign() {
        for (s, text) in [
            (0.0, "0:00"),
            (12.0, "+0:12"),
            (-65.0, "−1:05"),
            (0.3, "0:00"),
        ] {
            assert_eq!(signed(Span::from_s(s), 0), text);
        }
        assert_eq!(signed(Span::from_s(-0.26), 1), "−0:00.3");
    }

    #[test]
    fn seconds_round_before_they_are_minutes() {
        assert_eq!(seconds(Span::from_s(59.4)), "59\u{a0}s");
        assert_eq!(seconds(Span::from_s(59.6)), "1:00");
    }

    #[test]
    fn an_empty_line_parts_paragraphs_and_a_line_end_does_not() {
        let text = "\n  Good evening,\n  all.\n\n\nNow.\n";
        assert_eq!(paragraphs(text), ["Good evening, all.", "Now."]);
        assert!(paragraphs("  \n ").is_empty());
    }
}
