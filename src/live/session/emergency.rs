//! What stops a show: a halt, a knock-it-off, an accident; and the way back, which leaves it held up.

use super::{Mode, RELEASE_WITHIN, Session};
use crate::live::event::{Act, Halt};
use crate::units::{Instant, Span};

/// Everything fades this fast on a knock-it-off.
const KNOCK_IT_OFF_FADE: Span = Span::from_ms(2_000);
/// Everything fades this fast on a halt, which is no emergency.
const HALT_FADE: Span = Span::from_ms(4_000);
/// Everything is silent this fast on an accident.
const ACCIDENT_FADE: Span = Span::from_ms(500);

impl Session {
    pub(super) fn knock_it_off(&mut self) {
        if matches!(self.mode, Mode::Accident { .. }) {
            return;
        }
        self.mode = Mode::KnockedOff(self.now);
        self.silence_all(KNOCK_IT_OFF_FADE);
    }

    /// An emergency comes before it.
    pub(super) fn halt(&mut self, why: Halt) {
        let same = matches!(self.mode, Mode::Halted(_, now) if now == why);
        if same || matches!(self.mode, Mode::KnockedOff(_) | Mode::Accident { .. }) {
            return;
        }
        self.mode = Mode::Halted(self.now, why);
        let armed = self.armed && why != Halt::EndedEarly;
        self.silence_all(HALT_FADE);
        self.armed = armed;
    }

    pub(super) fn accident(&mut self) {
        if matches!(self.mode, Mode::Accident { .. }) {
            return;
        }
        self.mode = Mode::Accident {
            since: self.now,
            release: None,
        };
        self.silence_all(ACCIDENT_FADE);
    }

    /// Music out, every start disarmed, and what is not flown yet held up until somebody says "go on".
    fn silence_all(&mut self, over: Span) {
        self.armed = false;
        self.ask = None;
        self.stop_tracks(over);
        self.emit(self.now, Act::FadeAll { over });
        self.hold_unflown();
        self.expect();
    }

    pub(super) fn release(&mut self) {
        match self.mode {
            Mode::KnockedOff(since) | Mode::Halted(since, _) => {
                self.mode = self.mode_left(since);
                let armed = if self.armed { "armed" } else { "disarmed" };
                self.notice(format!(
                    "Still held up: c carries on; automatic starts {armed}"
                ));
            }
            Mode::Accident { since, release } => match release {
                Some(first) if self.now - first <= RELEASE_WITHIN => {
                    self.mode = self.mode_left(since);
                    self.notice("Automatic starts stay disarmed".into());
                }
                _ => {
                    self.mode = Mode::Accident {
                        since,
                        release: Some(self.now),
                    };
                }
            },
            Mode::Running | Mode::Delayed(_) => {}
        }
    }

    /// The mode in which a halt since an instant leaves the show: held up, if anything is left to fly.
    fn mode_left(&self, since: Instant) -> Mode {
        if self.is_held_up() {
            Mode::Delayed(since)
        } else {
            Mode::Running
        }
    }

    /// Whether the show waits for somebody to say "go on", an emergency meanwhile or not.
    pub(super) fn is_held_up(&self) -> bool {
        matches!(self.mode, Mode::Delayed(_)) || self.programme.iter().any(|flying| flying.held)
    }
}
