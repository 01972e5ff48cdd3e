//! What is said of a mix.

use serde::Serialize;

use super::super::held::Held;
use super::tape::Tape;
use super::voice::SpokenBlock;

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

/// The tracks that are not as loud as the show asks.
pub fn held(tape: &Tape) -> Vec<Held> {
    let tracks = tape.opened.show.tracks.iter().zip(tape.media);
    let held = tracks.filter_map(|(track, media)| Held::of(track, &media.as_ref()?.gauge));
    held.collect()
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
