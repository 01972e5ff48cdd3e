//! The debrief in JSON: SI, seconds of the show.

use serde::Serialize;

use super::{Read, logs, text};
use crate::debrief::Lessons;
use crate::debrief::correct::Value;

#[derive(Serialize)]
pub(super) struct Report {
    shows: Vec<ShowRow>,
    figures: Vec<HabitRow>,
    /// Parts of figures too little seen to teach anything.
    unseen: Vec<String>,
    narrator: Option<NarratorRow>,
    corrections: Vec<CorrectionRow>,
}

#[derive(Serialize)]
struct ShowRow {
    journal: String,
    document: String,
    title: String,
    profile: String,
    flown: String,
    notes: Vec<String>,
    points: Vec<PointRow>,
    passes: Vec<logs::PassRow>,
    gaps: Vec<logs::GapRow>,
    drift: Vec<DriftRow>,
    words: Vec<WordsRow>,
    cues: Vec<CueRow>,
    hits: Vec<HitRow>,
    music: Vec<MusicRow>,
    changes: Vec<ChangeRow>,
    output: Option<OutputRow>,
}

#[derive(Serialize)]
struct PointRow {
    figure: String,
    point: String,
    planned_s: Option<f64>,
    flown_s: f64,
    spread_s: f64,
    late_s: Option<f64>,
    known: &'static str,
}

#[derive(Serialize)]
struct DriftRow {
    figure: String,
    late_at_start_s: f64,
    late_at_end_s: f64,
    gained_s: f64,
    seen: bool,
}

#[derive(Serialize)]
struct WordsRow {
    block: String,
    short: bool,
    took_s: f64,
    planned_s: f64,
    /// Words a minute between the rests.
    words_per_minute: Option<f64>,
}

#[derive(Serialize)]
struct CueRow {
    cue: String,
    planned_s: Option<f64>,
    was_s: f64,
    late_s: Option<f64>,
}

#[derive(Serialize)]
struct HitRow {
    track: String,
    hit: String,
    wanted_s: f64,
    wanted_known: &'static str,
    heard_s: f64,
    heard_by: &'static str,
    miss_s: f64,
    met: bool,
}

#[derive(Serialize)]
struct MusicRow {
    track: String,
    title: Option<String>,
    composer: Option<String>,
    publisher: Option<String>,
    from_s: f64,
    lasted_s: f64,
    known_by: &'static str,
}

#[derive(Serialize)]
struct ChangeRow {
    at_s: f64,
    what: String,
}

#[derive(Serialize)]
struct OutputRow {
    underruns: u64,
    reopened: u64,
    refused: u64,
}

#[derive(Serialize)]
struct HabitRow {
    part: String,
    times: usize,
    longer_s: f64,
    bias_s: f64,
    bias_spread_s: f64,
    /// How far the bias was drawn towards the plan, 0 to 1.
    drawn: f64,
    stated_spread_s: f64,
    spread_s: f64,
}

#[derive(Serialize)]
struct NarratorRow {
    blocks: usize,
    words_per_minute: f64,
    /// One standard deviation of a block's time, as a share of it.
    spread: f64,
    stated_words_per_minute: f64,
    stated_spread: f64,
}

#[derive(Serialize)]
struct CorrectionRow {
    place: String,
    was: Option<String>,
    becomes: String,
    because: String,
}

/// All of it.
pub(super) fn report(read: &[Read], lessons: &Lessons) -> Report {
    let habits = lessons.habits.iter().map(|habit| HabitRow {
        part: habit.name(),
        times: habit.times,
        longer_s: habit.longer.s(),
        bias_s: habit.bias.s(),
        bias_spread_s: habit.bias_spread.s(),
        drawn: habit.drawn,
        stated_spread_s: habit.stated.s(),
        spread_s: habit.spread.s(),
    });
    let unseen = lessons
        .unseen
        .iter()
        .map(|(figure, part)| part.name(figure));
    let corrections = lessons.corrections.iter().map(|correction| CorrectionRow {
        place: correction.place.to_string(),
        was: correction.was.clone(),
        becomes: match &correction.becomes {
            Value::Text(text) => text.clone(),
            Value::Number(number) => number.to_string(),
        },
        because: correction.because.clone(),
    });
    Report {
        shows: read.iter().map(show_row).collect(),
        figures: habits.collect(),
        unseen: unseen.collect(),
        narrator: lessons.voice.as_ref().map(|voice| NarratorRow {
            blocks: voice.blocks,
            words_per_minute: voice.learned.words_per_minute,
            spread: voice.learned.spread.whole(),
            stated_words_per_minute: voice.stated.words_per_minute,
            stated_spread: voice.stated.spread.whole(),
        }),
        corrections: corrections.collect(),
    }
}

fn show_row(one: &Read) -> ShowRow {
    let (show, went) = (&one.opened.show, &one.went);
    let track = |i: usize| show.tracks.get(i);
    let id = |i: usize| track(i).map_or(String::new(), |track| track.id.to_string());
    let points = went.points.iter().map(|flown| PointRow {
        figure: flown.key.to_string(),
        point: flown.point.to_string(),
        planned_s: flown.planned.map(|at| at.s()),
        flown_s: flown.at.s(),
        spread_s: flown.spread.s(),
        late_s: flown.late().map(|late| late.s()),
        known: flown.how.word(),
    });
    let drift = went.drift.iter().map(|drift| DriftRow {
        figure: drift.key.to_string(),
        late_at_start_s: drift.late[0].s(),
        late_at_end_s: drift.late[1].s(),
        gained_s: drift.gained().s(),
        seen: drift.seen,
    });
    let words = went.paces.iter().map(|pace| WordsRow {
        block: pace.block.to_string(),
        short: pace.short,
        took_s: pace.took.s(),
        planned_s: pace.reading.lasts().s(),
        words_per_minute: pace.words_per_minute(),
    });
    let cues = went.done.iter().map(|done| CueRow {
        cue: done.what.clone(),
        planned_s: done.planned.map(|at| at.s()),
        was_s: done.at.s(),
        late_s: done.planned.map(|planned| (done.at - planned).s()),
    });
    let hits = went.hits.iter().map(|hit| HitRow {
        track: id(hit.track),
        hit: hit.hit.to_string(),
        wanted_s: hit.wanted.s(),
        wanted_known: hit.how.word(),
        heard_s: hit.heard.s(),
        heard_by: hit.source.words(),
        miss_s: hit.miss().s(),
        met: hit.met(),
    });
    let music = went.sounded.iter().map(|sounded| {
        let credits = track(sounded.track)
            .map(|track| track.credits.clone())
            .unwrap_or_default();
        MusicRow {
            track: id(sounded.track),
            title: credits.title,
            composer: credits.composer,
            publisher: credits.publisher,
            from_s: sounded.from.s(),
            lasted_s: sounded.lasted.s(),
            known_by: sounded.source.words(),
        }
    });
    ShowRow {
        journal: one.name.clone(),
        document: show.source.name.to_string(),
        title: show.title.clone(),
        profile: one.opened.profile.to_string(),
        flown: text::date(went),
        notes: one.notes.clone(),
        points: points.collect(),
        passes: logs::rows(&one.traced),
        gaps: logs::gap_rows(&one.traced),
        drift: drift.collect(),
        words: words.collect(),
        cues: cues.collect(),
        hits: hits.collect(),
        music: music.collect(),
        changes: went
            .folded
            .changes
            .iter()
            .map(|(at, what)| ChangeRow {
                at_s: at.s(),
                what: what.clone(),
            })
            .collect(),
        output: went.folded.output.map(|counts| OutputRow {
            underruns: counts.underruns,
            reopened: counts.reopened,
            refused: counts.refused,
        }),
    }
}
