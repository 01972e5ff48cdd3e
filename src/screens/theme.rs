//! Colours. None carries a fact by itself: every fact is also a word or a shape.

use ratatui::style::{Color, Modifier, Style};

/// Which colours are used.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Theme {
    /// Light on black, for a tent or the evening.
    #[default]
    Dark,
    /// Black on white, for sunlight.
    Light,
    /// The terminal's own two colours, for NO_COLOR.
    Plain,
}

/// The style of each kind of thing.
#[derive(Debug, Clone, Copy)]
pub(super) struct Styles {
    /// Ordinary text, and the ground everything stands on.
    pub base: Style,
    /// What is looked at last: keys, words already said.
    pub quiet: Style,
    /// What is looked at first.
    pub strong: Style,
    /// What must be acted on now.
    pub urgent: Style,
    /// Headings and frames.
    pub edge: Style,
    /// What flies.
    pub flight: Style,
    /// What sounds.
    pub music: Style,
}

// Colours are from the fixed part of the 256, so that they do not hang on how the terminal is set up.
const WHITE: Color = Color::Indexed(231);
const BLACK: Color = Color::Indexed(16);

impl Theme {
    /// The theme after this one; plain stays plain.
    pub(super) fn other(self) -> Theme {
        match self {
            Theme::Dark => Theme::Light,
            Theme::Light => Theme::Dark,
            Theme::Plain => Theme::Plain,
        }
    }

    pub(super) fn styles(self) -> Styles {
        match self {
            Theme::Dark => coloured(
                [WHITE, BLACK],
                [
                    Color::Indexed(249),
                    Color::Indexed(222),
                    Color::Indexed(117),
                ],
                [Color::Indexed(158), Color::Indexed(215)],
            ),
            Theme::Light => coloured(
                [BLACK, WHITE],
                [Color::Indexed(238), Color::Indexed(52), Color::Indexed(18)],
                [Color::Indexed(22), Color::Indexed(124)],
            ),
            Theme::Plain => plain(),
        }
    }
}

/// Styles from a text colour and its ground; quiet, heading and flight; music and urgent.
fn coloured(
    [text, ground]: [Color; 2],
    [quiet, edge, flight]: [Color; 3],
    [music, urgent]: [Color; 2],
) -> Styles {
    let base = Style::new().fg(text).bg(ground);
    Styles {
        base,
        quiet: base.fg(quiet),
        strong: base.add_modifier(Modifier::BOLD),
        urgent: Style::new()
            .fg(ground)
            .bg(urgent)
            .add_modifier(Modifier::BOLD),
        edge: base.fg(edge),
        flight: base.fg(flight).add_modifier(Modifier::BOLD),
        music: base.fg(music),
    }
}

fn plain() -> Styles {
    let base = Style::new();
    let strong = base.add_modifier(Modifier::BOLD);
    Styles {
        base,
        quiet: base,
        strong,
        urgent: strong.add_modifier(Modifier::REVERSED),
        edge: base,
        flight: strong,
        music: base,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn plain_uses_no_colour_at_all() {
        let styles = Theme::Plain.styles();
        for style in [
            styles.base,
            styles.quiet,
            styles.strong,
            styles.urgent,
            styles.edge,
            styles.flight,
            styles.music,
        ] {
            assert_eq!((style.fg, style.bg), (None, None));
        }
    }
}
