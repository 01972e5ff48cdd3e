//! What is said of a mix.

use serde::Serialize;

use super::tape::Tape;
use super::voice::SpokenBlock;
use crate::sound::{CEILING, held_by_peak};
use crate::units::Gain;

#[derive(Serialize)]
pub struct Report {
    pub file: String,
    pub begins_s: f64,
    pub duration_s: f64,
    pub sample_rate_hz: u32,
    pub channels: u16,
    pub integrated_lufs: Option<f64>,
    pub true_peak_dbtp: Option<f64>,
    pub limited_db: f64,
    pub first_timecode: Option<String>,
    pub unplayed: Vec<String>,
    pub damaged: Vec<Damage>,
    pub held: Vec<Held>,
    pub spoken: Vec<SpokenBlock>,
}

#[derive(Serialize)]
pub struct Damage {
    pub track: String,
    pub lost_s: f64,
}

/// A track that is not as loud as it is asked to be.
#[derive(Serialize)]
pub struct Held {
    pub track: String,
    /// How far below that its peak keeps it; `null`: too short or too quiet to have a loudness, it is as it came.
    pub below_db: Option<f64>,
}

/// The tracks that are not as loud as the show asks.
pub fn held(tape: &Tape) -> Vec<Held> {
    const AUDIBLE: Gain = Gain::from_db(0.1);
    let tracks = tape.opened.show.tracks.iter().zip(tape.media);
    let held = tracks.filter_map(|(track, media)| {
        let gauge = &media.as_ref()?.gauge;
        let by = held_by_peak(gauge, track.level, track.trim);
        let unmeasured = track.level.is_some() && gauge.integrated.is_none();
        (by > AUDIBLE || unmeasured).then(|| Held {
            track: track.id.to_string(),
            below_db: (!unmeasured).then_some(by.db()),
        })
    });
    held.collect()
}

pub fn held_told(Held { track, below_db }: &Held) -> String {
    match below_db {
        Some(db) => format!(
            "  \"{track}\" is {db:.1} dB softer than asked: louder, its peak would be above {:.0} dBTP\n",
            CEILING.db()
        ),
        None => format!(
            "  \"{track}\" has no loudness, being too short or too quiet: `level` does nothing for it, `trim` does\n"
        ),
    }
}

pub fn spoken_told(spoken: &SpokenBlock) -> String {
    let SpokenBlock {
        block,
        start_s,
        planned_end_s,
        end_s,
        over_s,
    } = spoken;
    let fits = over_s.map_or("it fits".into(), |over| {
        format!("{over:.1} s too long for its gap")
    });
    format!(
        "  \"{block}\" spoken in {:.1} s, planned in {:.1} s: {fits}\n",
        end_s - start_s,
        planned_end_s - start_s
    )
}
