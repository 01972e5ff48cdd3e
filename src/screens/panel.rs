//! The state of the interface, and which face of it is drawn.

use ratatui::Frame;
use ratatui::buffer::Buffer;
use ratatui::crossterm::event::KeyCode;
use ratatui::layout::Rect;

use super::facts::Scene;
use super::hack::{self, Seen, Taken};
use super::mending::Mending;
use super::naming;
use super::practice::{self, Figures, PracticeWish};
use super::programme::Programme;
use super::script::{Reread, Search};
use super::theme::{Styles, Theme};
use super::wave::Outlines;
use super::{desk, emergency, overlay, pool, spotting, stand};
use crate::live::session::RELEASE_WITHIN;
use crate::live::{Mode, Session, What};
use crate::show::Name;
use crate::spotting::{Audition, Spotting};
use crate::units::{Instant, Span};

/// What somebody at the keys wants.
#[derive(Debug, Clone, PartialEq)]
pub enum Wish {
    /// That something happens to the show.
    Happen(What),
    /// Something of the practice.
    Practise(PracticeWish),
    /// To leave the program.
    Quit,
    /// To work on a track close up, by its index.
    Spot(usize),
    /// To hear something on the headphones.
    Hear(Audition),
    /// To hear nothing there.
    HearNothing,
    /// That the document is written.
    Write,
}

/// A screen.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Page {
    /// The narrator's.
    #[default]
    Stand,
    /// The audio technician's.
    Desk,
    /// What is really flown, while one practises.
    Practice,
    /// A track of the Desk close up, its hits and its vamp.
    Track,
}

/// The interface: everything about it that is not the show.
#[derive(Debug, Clone, Default)]
pub struct Panel {
    pub(super) page: Page,
    pub(super) theme: Theme,
    /// Whether the cautions have been read past.
    pub(super) cautioned: bool,
    /// Whether this is a practice, which has a screen and keys of its own.
    pub(super) practises: bool,
    /// Whether the practice is drawn by the clock, where there is no room to draw it from above as well.
    pub(super) by_clock: bool,
    pub(super) overlay: Option<Overlay>,
    pub(super) pending: Option<Pending>,
    /// The track that keys act on, by index.
    pub(super) selected: usize,
    /// The last key and when, to tell a held key.
    pub(super) last_key: Option<(KeyCode, Span)>,
    /// When words that wait for a time of the show were asked to go on.
    pub(super) asked: Option<Instant>,
    /// What the clock on the wall said when a frame was last drawn.
    pub(super) wall: Option<Seen>,
    outlines: Outlines,
    /// The work on tracks of the document, once it is begun.
    pub(super) spotting: Option<Spotting>,
    /// The place of its track that is heard on the headphones.
    pub(super) heard: Option<Span>,
    /// Why something was not done; until the next key.
    pub(super) refusal: Option<String>,
}

/// What lies over a screen.
#[derive(Debug, Clone)]
pub(super) enum Overlay {
    /// The keys.
    Help,
    /// The programme and changes to it.
    Programme(Programme),
    /// Words for a gap nobody planned.
    Pool,
    /// Why the display is halted.
    Halts,
    /// The time hack, and what was taken at it.
    Hack(Option<Taken>),
    /// The script being searched.
    Search(Search),
    /// Words looked at before they are due.
    Reread(Reread),
    /// Words being changed.
    Mending(Mending),
    /// The figures a practice may go to.
    Figures(Figures),
}

/// What waits for a second key.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Pending {
    /// Leaving the program while the show runs.
    Quit,
    /// The accident state.
    Accident,
    /// Ending the display early.
    Ended,
    /// Beginning words out of their turn.
    Begin(Name),
    /// Leaving a block out.
    Skip(Name),
}

impl Panel {
    /// The interface as it opens: cautions over the Stand.
    pub fn new(theme: Theme) -> Panel {
        Panel {
            theme,
            ..Panel::default()
        }
    }

    /// The interface of a practice as it opens: cautions over the Practice screen.
    pub fn practising(theme: Theme) -> Panel {
        Panel {
            page: Page::Practice,
            practises: true,
            ..Panel::new(theme)
        }
    }

    /// Brings a screen up, with nothing over it.
    pub fn show(&mut self, page: Page) {
        self.page = page;
        self.overlay = None;
    }

    /// Which screen is up.
    pub fn page(&self) -> Page {
        self.page
    }

    /// Begins the work on tracks of a document.
    pub fn begin_spotting(&mut self, spotting: Spotting) {
        self.spotting = Some(spotting);
    }

    /// The work on tracks of the document, if it was begun.
    pub fn spotting(&mut self) -> Option<&mut Spotting> {
        self.spotting.as_mut()
    }

    /// Shows the track that is worked on close up.
    pub fn open_track(&mut self) {
        self.page = Page::Track;
    }

    /// Says why something is not done.
    pub fn refuse(&mut self, why: String) {
        self.refusal = Some(why);
    }

    /// Notes which place of the track is heard on the headphones now.
    pub fn hear(&mut self, place: Option<Span>) {
        self.heard = place;
    }

    /// Draws the whole terminal.
    pub fn draw(&mut self, scene: &Scene, frame: &mut Frame) {
        let area = frame.area();
        self.paint(scene, area, frame.buffer_mut());
    }

    /// Draws on `area` of a buffer, whatever its size.
    pub fn paint(&mut self, scene: &Scene, area: Rect, buffer: &mut Buffer) {
        let area = area.intersection(buffer.area);
        if area.is_empty() {
            return;
        }
        self.wall = scene.clock.time_of_day.map(|time| Seen {
            at: scene.session.now(),
            time,
            is_followed: scene.clock.is_followed,
        });
        let styles = self.theme.styles();
        buffer.set_style(area, styles.base);
        match scene.session.mode() {
            Mode::Accident { release, .. } => {
                let now = scene.session.now();
                let left = release.map(|first| first + RELEASE_WITHIN - now);
                let left = left.filter(|left| left.us() >= 0);
                return emergency::accident(scene, left, area, &styles, buffer);
            }
            Mode::KnockedOff(since) => {
                emergency::knocked_off(scene, since, area, &styles, buffer);
            }
            Mode::Halted(since, why) => {
                emergency::halted(scene, (since, why), area, &styles, buffer);
            }
            Mode::Running | Mode::Delayed(_) => {
                if area.width < overlay::SMALLEST.0 || area.height < overlay::SMALLEST.1 {
                    return overlay::too_small(scene, area, &styles, buffer);
                }
                self.paint_screen(scene, area, &styles, buffer);
            }
        }
        self.paint_pending(scene.session, area, &styles, buffer);
    }

    fn paint_screen(&mut self, scene: &Scene, area: Rect, styles: &Styles, buffer: &mut Buffer) {
        self.selected = self
            .selected
            .min(scene.session.tracks().len().saturating_sub(1));
        match self.page {
            Page::Practice if let Some(facts) = scene.practice => {
                let by_clock = self.by_clock;
                practice::draw(
                    scene,
                    facts,
                    by_clock,
                    &mut self.outlines,
                    area,
                    styles,
                    buffer,
                );
            }
            Page::Stand | Page::Practice => {
                stand::draw(scene, &mut self.outlines, area, styles, buffer);
            }
            Page::Desk => desk::draw(
                scene,
                &mut self.outlines,
                self.selected,
                area,
                styles,
                buffer,
            ),
            Page::Track => {
                if let Some(spotting) = &self.spotting {
                    spotting::draw(scene, spotting, self.heard, area, styles, buffer);
                }
            }
        }
        if let Some(why) = &self.refusal {
            let lines = [why.clone(), String::new(), "Any key goes on.".into()];
            overlay::message("not now", &lines, false, area, styles, buffer);
        }
        match &self.overlay {
            Some(Overlay::Help) => {
                overlay::help(self.practises, area, styles, buffer);
            }
            Some(Overlay::Programme(programme)) => programme.draw(scene, area, styles, buffer),
            Some(Overlay::Halts) => overlay::halts(area, styles, buffer),
            Some(Overlay::Hack(taken)) => hack::draw(scene, *taken, area, styles, buffer),
            Some(Overlay::Search(search)) => search.draw(scene.session, area, styles, buffer),
            Some(Overlay::Reread(reread)) => reread.draw(scene, area, styles, buffer),
            Some(Overlay::Pool) => pool::draw(scene, area, styles, buffer),
            Some(Overlay::Mending(mending)) => mending.draw(scene, area, styles, buffer),
            Some(Overlay::Figures(figures)) => figures.draw(scene, area, styles, buffer),
            None => {}
        }
        if let Some(ask) = scene.session.ask() {
            overlay::ask(scene, ask, area, styles, buffer);
        }
        if !self.cautioned {
            overlay::cautions(area, styles, buffer);
        }
    }

    fn paint_pending(&self, session: &Session, area: Rect, styles: &Styles, buffer: &mut Buffer) {
        let (title, does) = match &self.pending {
            None => return,
            Some(Pending::Quit) => (
                "leave the program?".to_owned(),
                format!("The show is {}. Leaving stops the music.", naming::mode(session)),
            ),
            Some(Pending::Accident) => (
                "accident?".to_owned(),
                "Music out, every start disarmed, the script hidden; only the approved statement stays."
                    .to_owned(),
            ),
            Some(Pending::Ended) => (
                "display ended early?".to_owned(),
                "Music fades, starts are disarmed, nothing more is flown until somebody carries on."
                    .to_owned(),
            ),
            Some(Pending::Begin(block)) => (
                format!("begin {block} now?"),
                "They are begun out of their turn; what is being said ends.".to_owned(),
            ),
            Some(Pending::Skip(block)) => (
                format!("leave out {block}?"),
                "Its words will not come up again.".to_owned(),
            ),
        };
        let keys = "Enter yes     Esc, or any other key, no".to_owned();
        overlay::message(&title, &[does, keys], false, area, styles, buffer);
    }
}
