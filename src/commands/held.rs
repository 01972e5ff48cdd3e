//! Tracks that are not as loud as the show asks.

use serde::Serialize;

use crate::show::{Fault, Track};
use crate::sound::{CEILING, Gauge, held_by_peak};
use crate::units::Gain;

/// Softer than asked by less than this is as loud as asked.
const AUDIBLE: Gain = Gain::from_db(0.1);

/// A track that is not as loud as it is asked to be.
#[derive(Serialize)]
pub struct Held {
    pub track: String,
    /// How far below that its peak keeps it; `null`: too short or too quiet to have a loudness, it is as it came.
    pub below_db: Option<f64>,
    /// Whether a level or a trim is asked for at all.
    #[serde(skip)]
    asked: bool,
}

impl Held {
    /// What keeps a track so gauged from its level, if anything does.
    pub fn of(track: &Track, gauge: &Gauge) -> Option<Held> {
        let by = held_by_peak(gauge, track.level, track.trim);
        let unmeasured = track.level.is_some() && gauge.integrated.is_none();
        (by > AUDIBLE || unmeasured).then(|| Held {
            track: track.id.to_string(),
            below_db: (!unmeasured).then_some(by.db()),
            asked: track.level.is_some() || track.trim != Gain::ZERO,
        })
    }

    /// The same in words.
    pub fn told(&self) -> String {
        let Held {
            track,
            below_db,
            asked,
        } = self;
        match below_db {
            Some(db) if !asked => format!(
                "\"{track}\" is turned down by {db:.1} dB: as it is, its peak is above {:.0} dBTP",
                CEILING.db()
            ),
            Some(db) => format!(
                "\"{track}\" is {db:.1} dB softer than asked: louder, its peak would be above {:.0} dBTP",
                CEILING.db()
            ),
            None => format!(
                "\"{track}\" has no loudness, being too short or too quiet: `level` does nothing for it, `trim` does"
            ),
        }
    }

    /// Advice on it.
    pub fn advice(&self, track: &Track) -> Fault {
        let help = match self.below_db {
            Some(_) if !self.asked => "write a level for it, level = \"-18 LUFS\"",
            Some(_) => "ask for less, or have the peaks of the file taken down",
            None => "leave its level out, and write trim = \"-3 dB\" if it is too loud",
        };
        Fault::advice(track.at.clone(), self.told()).help(help)
    }
}
