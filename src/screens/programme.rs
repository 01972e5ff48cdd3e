//! The programme: what is flown, and changing it on the day. Whatever a change would leave without its
//! figure is listed before it is confirmed.

use ratatui::buffer::Buffer;
use ratatui::crossterm::event::KeyCode;
use ratatui::layout::Rect;
use ratatui::text::Line;

use super::facts::Scene;
use super::naming;
use super::overlay::frame;
use super::text::{cut, put};
use super::theme::Styles;
use crate::flight;
use crate::live::session::{Flying, Orphan};
use crate::live::{CueState, Session, What};
use crate::show::{Name, Side};

/// The programme overlay.
#[derive(Debug, Clone)]
pub(super) struct Programme {
    /// The entry that keys act on, by index.
    at: usize,
    step: Step,
}

/// How far a change has come.
#[derive(Debug, Clone)]
enum Step {
    /// The list is up.
    Entries,
    /// Which figure is put in before the entry: index in the show's figures.
    Figures(usize),
    /// Which profile is flown from here on: index in the show's profiles.
    Profiles(usize),
    /// A change waits for Enter.
    Confirm {
        change: What,
        title: String,
        orphans: Vec<Orphan>,
    },
}

const KEYS: &str = "d drop, take back   m other side   v other profile   Esc close";
const MORE_KEYS: &str = "e fly once more   s swap with next   i insert before   ↑ ↓ choose";

impl Programme {
    /// The list with the first entry not yet flown chosen.
    pub fn new(session: &Session) -> Programme {
        let ahead = |flying: &Flying| session.figure_state(flying) == CueState::Ahead;
        Programme {
            at: session.programme().iter().position(ahead).unwrap_or(0),
            step: Step::Entries,
        }
    }

    /// Whether a key closes the overlay.
    pub fn is_left_by(&self, code: KeyCode) -> bool {
        let list = matches!(self.step, Step::Entries);
        code == KeyCode::PageUp || (list && matches!(code, KeyCode::Esc | KeyCode::Char('p')))
    }

    /// Takes a key: `None` if it is not one of the overlay's, else the change it confirms, if any.
    pub fn key(&mut self, code: KeyCode, session: &Session) -> Option<Option<What>> {
        self.at = self.at.min(session.programme().len().saturating_sub(1));
        let show = session.show();
        match (&mut self.step, code) {
            (Step::Confirm { change, .. }, KeyCode::Enter) => {
                let change = change.clone();
                self.step = Step::Entries;
                return Some(Some(change));
            }
            (Step::Entries, KeyCode::Up) => self.at = self.at.saturating_sub(1),
            (Step::Entries, KeyCode::Down) => {
                self.at = (self.at + 1).min(session.programme().len().saturating_sub(1));
            }
            (Step::Figures(i) | Step::Profiles(i), KeyCode::Up) => *i = i.saturating_sub(1),
            (Step::Figures(i), KeyCode::Down) => {
                *i = (*i + 1).min(show.figures.len().saturating_sub(1));
            }
            (Step::Profiles(i), KeyCode::Down) => {
                *i = (*i + 1).min(show.profiles.len().saturating_sub(1));
            }
            (Step::Figures(i), KeyCode::Enter) => {
                let figure = show.figures.get(*i)?;
                let before = session.programme().get(self.at);
                let title = format!("put in {}", figure.name);
                let change = What::Insert {
                    figure: figure.id.clone(),
                    before: before.map(|flying| flying.entry.key.clone()),
                };
                self.ask(change, title, session);
            }
            (Step::Profiles(i), KeyCode::Enter) => {
                let name = show.profiles.get(*i)?.name.clone();
                let title = format!("profile {name} from the next figure on");
                self.ask(What::Profile { name }, title, session);
            }
            (Step::Entries, KeyCode::Char(letter)) => return self.entry_key(letter, session),
            // Enter starts a track on the Desk, but not from under this.
            (Step::Entries, KeyCode::Enter) => {}
            (Step::Entries, _) => return None,
            (_, KeyCode::Esc) => self.step = Step::Entries,
            _ => return None,
        }
        Some(None)
    }

    /// A change of the chosen entry.
    fn entry_key(&mut self, letter: char, session: &Session) -> Option<Option<What>> {
        let flying = session.programme().get(self.at)?;
        let key = flying.entry.key.clone();
        let name = naming::figure_name(session, &key);
        match letter {
            'd' if flying.dropped => {
                self.ask(
                    What::Reinstate { key },
                    format!("{name} is flown after all"),
                    session,
                );
            }
            'd' => self.ask(What::Drop { key }, format!("drop {name}"), session),
            'e' => {
                let figure = flying.entry.figure.clone();
                self.ask(
                    What::Repeat { figure },
                    format!("fly {name} once more"),
                    session,
                );
            }
            'm' => {
                let title = format!("{name} from the other side");
                self.ask(What::Mirror { key }, title, session);
            }
            's' => {
                let mut later = session.programme().iter().skip(self.at + 1);
                let next = later.find(|next| session.figure_state(next) == CueState::Ahead);
                if let Some(next) = next {
                    let second = next.entry.key.clone();
                    let title =
                        format!("swap {name} with {}", naming::figure_name(session, &second));
                    self.ask(What::Swap { first: key, second }, title, session);
                }
            }
            'i' => self.step = Step::Figures(0),
            'v' => self.step = Step::Profiles(0),
            _ => return None,
        }
        Some(None)
    }

    /// Lists what a change orphans, and waits for Enter.
    fn ask(&mut self, change: What, title: String, session: &Session) {
        self.step = Step::Confirm {
            orphans: session.orphans_of(&change),
            change,
            title,
        };
    }

    /// Draws the overlay.
    pub fn draw(&self, scene: &Scene, area: Rect, styles: &Styles, buffer: &mut Buffer) {
        let session = scene.session;
        let show = session.show();
        let (title, lines, chosen, keys): (&str, Vec<String>, usize, [&str; 2]) = match &self.step {
            Step::Entries => {
                let lines = session.programme().iter().map(|flying| line(scene, flying));
                ("programme", lines.collect(), self.at, [MORE_KEYS, KEYS])
            }
            Step::Figures(i) => {
                let lines = show.figures.iter().map(|figure| {
                    let permitted = show.site.permits(figure);
                    let word = if permitted {
                        ""
                    } else {
                        ": not permitted here"
                    };
                    format!("{}{word}", figure.name)
                });
                let keys = ["↑ ↓ choose   Enter this one", "Esc back"];
                ("put in which figure?", lines.collect(), *i, keys)
            }
            Step::Profiles(i) => {
                let lines = show.profiles.iter().map(|profile| {
                    let count = flight::entries(show, &profile.name).len();
                    format!("{}, {count} figures", profile.name)
                });
                let keys = ["↑ ↓ choose   Enter this one", "Esc back"];
                ("which profile from here on?", lines.collect(), *i, keys)
            }
            Step::Confirm { title, orphans, .. } => {
                let keys = ["Enter do it   Esc back", ""];
                (title, orphan_lines(orphans), usize::MAX, keys)
            }
        };
        draw_list(title, &lines, chosen, keys, area, styles, buffer);
    }
}

/// One entry: its state, when it starts, its name, its side and profile.
pub(super) fn line(scene: &Scene, flying: &Flying) -> String {
    let session = scene.session;
    let entry = &flying.entry;
    let state = naming::state(session.figure_state(flying));
    let start = session.times_of(&entry.key).filter(|times| !times.held);
    let start = match (flying.held, start) {
        (true, _) => "held up".into(),
        (false, Some(times)) => scene.clock.text(times.start(), 0),
        (false, None) => "—".into(),
    };
    let from = session.show().figure(&entry.figure).map(|figure| {
        if entry.mirrored {
            figure.from.mirrored()
        } else {
            figure.from
        }
    });
    let side = match from {
        Some(Side::Left) => "from left",
        Some(Side::Right) => "from right",
        None => "",
    };
    let name = cut(&naming::figure_name(session, &entry.key), 24);
    // Padded by columns, not by characters.
    let pad = " ".repeat(24_usize.saturating_sub(super::text::width(&name)));
    format!(
        "{state:<10} {start:>9}  {name}{pad}  {side:<10}  {}",
        entry.profile
    )
}

fn orphan_lines(orphans: &[Orphan]) -> Vec<String> {
    if orphans.is_empty() {
        return vec!["No words, music or calls lose their figure.".into()];
    }
    let mut lines = vec!["These lose their figure and will not happen:".to_owned()];
    let word = |kind: &str| match kind {
        "block" => "words",
        "track" => "music",
        _ => "call",
    };
    let named = |id: &Name, kind| format!("  {}: {id}", word(kind));
    lines.extend(orphans.iter().map(|orphan| named(&orphan.id, orphan.kind)));
    lines
}

/// A list with the chosen line in view, and its keys.
pub(super) fn draw_list(
    title: &str,
    lines: &[String],
    chosen: usize,
    keys: [&str; 2],
    area: Rect,
    styles: &Styles,
    buffer: &mut Buffer,
) {
    let rows =
        (lines.len().min(usize::from(u16::MAX / 2)) as u16 + 3).min(area.height.saturating_sub(4));
    let inside = frame(title, (72, rows), false, area, styles, buffer);
    let list = usize::from(inside.height.saturating_sub(3)).max(1);
    let columns = usize::from(inside.width);
    let first = if chosen < lines.len() {
        (chosen + 1).saturating_sub(list)
    } else {
        0
    };
    for (row, text) in lines.iter().enumerate().skip(first).take(list) {
        let (pointer, style) = if row == chosen {
            ("▸ ", styles.strong)
        } else {
            ("  ", styles.base)
        };
        let text = cut(&format!("{pointer}{text}"), columns);
        put(
            buffer,
            inside,
            (row - first) as u16,
            Line::styled(text, style),
        );
    }
    for (row, text) in keys.iter().enumerate() {
        let row = (inside.height + row as u16).saturating_sub(2);
        put(
            buffer,
            inside,
            row,
            Line::styled(cut(text, columns), styles.quiet),
        );
    }
}
