//! What lies over a screen: cautions, keys, questions; and the word for a terminal that is too small.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::text::Line;

use super::digits::to_go;
use super::facts::Scene;
use super::text::{cut, put, width, wrap};
use super::theme::Styles;
use super::{naming, practice};
use crate::live::session::Ask;

/// The smallest terminal the screens are made for.
pub(super) const SMALLEST: (u16, u16) = (80, 24);

/// Every key and what it does.
const KEYS: [(&str, &str); 33] = [
    ("a", "mark abeam now"),
    ("g", "mark a gate now"),
    ("n", "mark inbound now"),
    ("u", "undo the last mark"),
    ("← →", "mark ½ s earlier, later"),
    ("PageDown", "words: begin, go on, end"),
    ("PageUp", "words: a phrase back"),
    ("e", "end words at once"),
    ("o", "offer fillers that fit"),
    ("m", "mend words not yet said"),
    ("/", "search the script, try it"),
    ("s", "leave words out (asks)"),
    ("t", "can talk: end the hush"),
    ("w", "wait: hold the show up"),
    ("c", "carry on"),
    ("h", "prepared words: hold, end"),
    ("k", "knock it off, at once"),
    ("!", "accident (asks)"),
    ("x", "disarm automatic starts"),
    ("r", "ready: arm them again"),
    ("d", "duck music, or not"),
    ("p", "programme, its changes"),
    ("Tab", "Stand, Desk"),
    ("↑ ↓", "Desk: choose a track"),
    ("Enter", "Desk: start the track"),
    ("f", "Desk: fade the track"),
    ("+ −", "Desk: fader 1 dB"),
    ("v", "Desk: a track close up"),
    ("1 … 9", "which point was marked"),
    ("z", "time hack, system clock"),
    ("b", "bright or dark ground"),
    ("? Esc", "keys; close what is open"),
    ("q", "leave the program (asks)"),
];

/// What the program is not for, shown before the first key.
const CAUTIONS: [&str; 6] = [
    "This program times words and music, and nothing else.",
    "It is no flight instrument. It clears nobody to do anything.",
    "Never steer an aircraft towards the music: the music waits for the aircraft.",
    "The display director, air traffic control and the crew's own rules decide. Distances and heights are those of the authority's permission.",
    "It must not fire pyrotechnics.",
    "In any emergency k fades everything and brings up the prepared words.",
];

/// A framed box of lines at the bottom or in the middle of `area`; the room inside the frame.
pub(super) fn frame(
    title: &str,
    (columns, rows): (u16, u16),
    low: bool,
    area: Rect,
    styles: &Styles,
    buffer: &mut Buffer,
) -> Rect {
    let wide = columns.saturating_add(4).min(area.width);
    let high = rows.saturating_add(2).min(area.height);
    let free = area.height - high;
    let place = Rect {
        x: area.x + (area.width - wide) / 2,
        y: area.y
            + if low {
                free.saturating_sub(1)
            } else {
                free / 2
            },
        width: wide,
        height: high,
    };
    let across = usize::from(wide.saturating_sub(2));
    let title = cut(&format!(" {title} "), across);
    for row in 0..high {
        let text = match row {
            0 => format!("┏{title}{}┓", "━".repeat(across - width(&title))),
            _ if row + 1 == high => format!("┗{}┛", "━".repeat(across)),
            _ => format!("┃{}┃", " ".repeat(across)),
        };
        put(buffer, place, row, Line::styled(text, styles.strong));
    }
    Rect {
        x: place.x + 2.min(wide),
        y: place.y + 1.min(high),
        width: wide.saturating_sub(4),
        height: high.saturating_sub(2),
    }
}

/// A box of text, wrapped.
pub(super) fn message(
    title: &str,
    paragraphs: &[String],
    low: bool,
    area: Rect,
    styles: &Styles,
    buffer: &mut Buffer,
) {
    let columns = area.width.saturating_sub(8).min(76);
    let lines: Vec<String> = paragraphs
        .iter()
        .flat_map(|text| {
            let mut lines: Vec<String> = wrap(text, usize::from(columns))
                .into_iter()
                .map(|line| text[line].to_owned())
                .collect();
            if lines.is_empty() {
                lines.push(String::new());
            }
            lines
        })
        .collect();
    let rows = lines.len().min(200) as u16;
    let inside = frame(title, (columns, rows), low, area, styles, buffer);
    for (row, line) in lines
        .into_iter()
        .enumerate()
        .take(usize::from(inside.height))
    {
        put(buffer, inside, row as u16, Line::styled(line, styles.base));
    }
}

/// The cautions, over a show that already runs.
pub(super) fn cautions(area: Rect, styles: &Styles, buffer: &mut Buffer) {
    let mut lines: Vec<String> = CAUTIONS.map(String::from).into();
    lines.extend([String::new(), "Any key goes on.".into()]);
    message("before you begin", &lines, false, area, styles, buffer);
}

/// Every key, in as many columns as fit.
pub(super) fn help(practises: bool, area: Rect, styles: &Styles, buffer: &mut Buffer) {
    const EACH: usize = 36;
    let columns = (usize::from(area.width.saturating_sub(8)) / EACH).clamp(1, 3);
    let practice = if practises { &practice::KEYS[..] } else { &[] };
    let other = |(key, _): &&(&str, &str)| practice.iter().all(|(own, _)| own != key);
    let keys: Vec<_> = KEYS.iter().filter(other).chain(practice).collect();
    let rows = keys.len().div_ceil(columns);
    let inside = frame(
        "keys",
        ((columns * EACH) as u16, rows as u16 + 1),
        false,
        area,
        styles,
        buffer,
    );
    for (i, (key, what)) in keys.into_iter().enumerate() {
        let at = Rect {
            x: inside.x + ((i / rows) * EACH).min(usize::from(inside.width)) as u16,
            width: (EACH as u16).min(inside.width),
            ..inside
        };
        let text = cut(&format!("{key:<9} {what}"), EACH - 1);
        put(
            buffer,
            at,
            (i % rows) as u16,
            Line::styled(text, styles.base),
        );
    }
    let last = inside.height.saturating_sub(1);
    put(
        buffer,
        inside,
        last,
        Line::styled("Esc closes this; every key still works.", styles.quiet),
    );
}

/// Why the display is halted: a digit says so.
pub(super) fn halts(area: Rect, styles: &Styles, buffer: &mut Buffer) {
    let lines = [
        "1  weather hold: music fades, the show is held up",
        "2  technical delay: the same",
        "3  knock it off, at once",
        "4  display ended early (asks)",
        "",
        "Each brings up its prepared words.   Esc closes",
    ];
    let lines = lines.map(String::from);
    message("prepared words", &lines, true, area, styles, buffer);
}

/// The question which point a mark is of.
pub(super) fn ask(scene: &Scene, ask: &Ask, area: Rect, styles: &Styles, buffer: &mut Buffer) {
    let session = scene.session;
    let mut lines: Vec<String> = Vec::new();
    for (i, point) in ask.offered.iter().enumerate().take(9) {
        let times = session.times_of(&point.key);
        let expected = times.and_then(|times| times.expected(&point.point));
        let when = expected.map_or(String::new(), |expected| {
            format!(
                ", estimated {}, {}",
                scene.clock.text(expected.at, 0),
                naming::lateness(ask.observed, Some(expected.at))
            )
        });
        lines.push(format!(
            "{}  {}{when}",
            i + 1,
            naming::point_of(session, point)
        ));
    }
    if lines.is_empty() {
        lines.push("No figure of the programme has such a point.".into());
    }
    lines.push("Esc  none of them; the show goes on either way".into());
    let title = format!(
        "{} marked at {}: of which?",
        ask.kind.word(),
        scene.clock.text(ask.observed, 1)
    );
    message(&title, &lines, true, area, styles, buffer);
}

/// The word for a terminal that is too small, and the countdown if there is room for it.
pub(super) fn too_small(scene: &Scene, area: Rect, styles: &Styles, buffer: &mut Buffer) {
    let (columns, rows) = SMALLEST;
    let mut text = format!(
        "abeam needs {columns} columns by {rows} rows; here are {} by {}.",
        area.width, area.height
    );
    let session = scene.session;
    if let Some(next) = session.coming().first() {
        let (kind, which) = (naming::kind(next), naming::which(session, next));
        text += &format!(" {} to {kind}: {which}.", to_go(next.at - session.now()));
    }
    for (row, line) in wrap(&text, usize::from(area.width)).into_iter().enumerate() {
        if row >= usize::from(area.height) {
            break;
        }
        put(
            buffer,
            area,
            row as u16,
            Line::styled(text[line].to_owned(), styles.strong),
        );
    }
}
