//! The debrief as people read it.

use jiff::Timestamp;

use super::{Read, logs};
use crate::commands::table::table;
use crate::debrief::correct::Correction;
use crate::debrief::learn::{Habit, Voice};
use crate::debrief::seen::{Flown, How, can_be_marked};
use crate::debrief::stretch::ENOUGH;
use crate::debrief::{Lessons, Went};
use crate::show::Show;
use crate::timeline::clock::told_finely;
use crate::units::{Instant, Span};

/// What the corrections are, and what they are not.
pub(super) const CORRECTIONS: &str = "Corrections change the times of the plan, never how anything is flown: the music waits for the aircraft.\n";

/// Every show, then what they teach.
pub(super) fn report(read: &[Read], lessons: &Lessons) -> String {
    let mut parts: Vec<String> = read.iter().flat_map(of_show).collect();
    parts.extend(learned(lessons));
    parts.retain(|part| !part.is_empty());
    parts.join("\n")
}

fn of_show(one: &Read) -> Vec<String> {
    let (show, went) = (&one.opened.show, &one.went);
    vec![
        format!(
            "{}, profile {}, flown {}; late in s, - is early\n",
            show.title,
            one.opened.profile,
            date(went)
        ),
        flight(show, went),
        logs::table_of(show, &one.traced),
        drift(went),
        words(show, went),
        done(show, went),
        hits(show, went),
        played(show, went),
        output(went),
    ]
}

/// The points that can be keyed or that begin and end a figure.
fn flight(show: &Show, went: &Went) -> String {
    let rows = went
        .points
        .iter()
        .filter(|flown| is_told(flown))
        .map(|flown| {
            [
                format!("{} {}", flown.key, flown.point),
                maybe(flown.planned.map(|at| told(show, at))),
                told(show, flown.at),
                late(flown.late()),
                flown.how.word().to_owned(),
            ]
        });
    table(["flight", "planned", "flown", "late", "known"], rows)
}

/// What nobody saw and nobody could have keyed says nothing that its neighbours do not.
pub(super) fn is_told(flown: &Flown) -> bool {
    can_be_marked(&flown.point) || flown.how != How::Estimated
}

fn drift(went: &Went) -> String {
    let rows = went.drift.iter().map(|drift| {
        [
            drift.key.to_string(),
            late(Some(drift.late[0])),
            late(Some(drift.late[1])),
            late(Some(drift.gained())),
            if drift.seen { "seen" } else { "not seen" }.to_owned(),
        ]
    });
    table(["drift", "begun", "ended", "gained", ""], rows)
}

fn words(show: &Show, went: &Went) -> String {
    let rows = went.folded.spoken.iter().filter_map(|spoken| {
        let id = &show.blocks.get(spoken.block)?.id;
        let took = spoken.until.map(|until| until - spoken.from);
        let pace = went
            .paces
            .iter()
            .find(|pace| pace.block == *id && Some(pace.took) == took);
        Some([
            id.to_string(),
            told(show, spoken.from),
            maybe(took.map(|took| format!("{:.1} s", took.s()))),
            maybe(pace.map(|pace| format!("{:.1} s", pace.reading.lasts().s()))),
            maybe(pace.and_then(|pace| Some(format!("{:.0}", pace.words_per_minute()?)))),
        ])
    });
    table(["words", "begun", "took", "planned", "a minute"], rows)
}

fn done(show: &Show, went: &Went) -> String {
    let rows = went.done.iter().map(|done| {
        [
            done.what.clone(),
            maybe(done.planned.map(|at| told(show, at))),
            told(show, done.at),
            late(done.planned.map(|planned| done.at - planned)),
        ]
    });
    table(["cue", "planned", "was", "late"], rows)
}

fn hits(show: &Show, went: &Went) -> String {
    let rows = went.hits.iter().map(|hit| {
        [
            format!("{} {}", track(show, hit.track), hit.hit),
            told(show, hit.wanted),
            hit.how.word().to_owned(),
            told(show, hit.heard),
            hit.source.words().to_owned(),
            format!("{:+.2} s", hit.miss().s()),
            if hit.met() { "met" } else { "missed" }.to_owned(),
        ]
    });
    table(["hit", "wanted", "known", "heard", "by", "late", ""], rows)
}

fn played(show: &Show, went: &Went) -> String {
    let rows = went.sounded.iter().map(|sounded| {
        let credits = show.tracks.get(sounded.track).map(|track| &track.credits);
        let title = credits.and_then(|credits| credits.title.clone());
        let composer = credits.and_then(|credits| credits.composer.clone());
        [
            track(show, sounded.track),
            told(show, sounded.from),
            sounded.lasted.clock(0),
            sounded.source.words().to_owned(),
            maybe(title),
            maybe(composer),
        ]
    });
    table(["music", "from", "lasted", "by", "title", "composer"], rows)
}

fn output(went: &Went) -> String {
    match went.folded.output {
        None => String::new(),
        Some(counts) => format!(
            "Output: {} underrun(s), opened again {} time(s), {} start(s) refused\n",
            counts.underruns, counts.reopened, counts.refused
        ),
    }
}

fn learned(lessons: &Lessons) -> Vec<String> {
    vec![
        habits(&lessons.habits),
        unseen(lessons),
        lessons.voice.as_ref().map_or(String::new(), voice),
        corrections(&lessons.corrections),
    ]
}

fn habits(habits: &[Habit]) -> String {
    let rows = habits.iter().map(|habit| {
        [
            habit.name(),
            habit.times.to_string(),
            late(Some(habit.longer)),
            format!("{:+.1} ±{:.1}", habit.bias.s(), habit.bias_spread.s()),
            format!("{:.0} %", 100.0 * habit.drawn),
            format!("{:.1}", habit.stated.s()),
            format!("{:.1}", habit.spread.s()),
        ]
    });
    let head = [
        "learned, s",
        "times",
        "longer",
        "bias",
        "drawn",
        "spread stated",
        "spread",
    ];
    table(head, rows)
}

/// What nothing is learned of, and why.
fn unseen(lessons: &Lessons) -> String {
    if lessons.unseen.is_empty() {
        return String::new();
    }
    let parts: Vec<String> = lessons
        .unseen
        .iter()
        .map(|(figure, part)| part.name(figure))
        .collect();
    format!(
        "Too little seen to learn from, less than {ENOUGH} between things seen: {}\n",
        parts.join(", ")
    )
}

fn voice(voice: &Voice) -> String {
    format!(
        "Narrator: {:.0} words a minute, spread {:.1} %, by {} block(s); stated {:.0} and {}\n",
        voice.learned.words_per_minute,
        100.0 * voice.learned.spread.whole(),
        voice.blocks,
        voice.stated.words_per_minute,
        voice.stated.spread
    )
}

fn corrections(corrections: &[Correction]) -> String {
    if corrections.is_empty() {
        return format!("No correction is worth writing.\n{CORRECTIONS}");
    }
    let rows = corrections.iter().map(|correction| {
        [
            correction.place.to_string(),
            correction.was.clone().unwrap_or_else(|| "-".into()),
            correction.becomes.to_string(),
            correction.because.clone(),
        ]
    });
    table(["correction", "now", "write", "because"], rows) + CORRECTIONS
}

fn track(show: &Show, track: usize) -> String {
    show.tracks
        .get(track)
        .map_or(String::new(), |track| track.id.to_string())
}

/// When the show was flown, by the clock on the wall, in UTC.
pub(super) fn date(went: &Went) -> String {
    let stamp = went
        .folded
        .wall_us
        .and_then(|us| Timestamp::from_microsecond(us).ok());
    maybe(stamp.map(|stamp| stamp.strftime("%Y-%m-%d %H:%M UTC").to_string()))
}

/// An instant to a tenth of a second, by the clock if the show has one.
pub(super) fn told(show: &Show, at: Instant) -> String {
    told_finely(show, at)
}

pub(super) fn late(span: Option<Span>) -> String {
    maybe(span.map(|span| format!("{:+.1}", span.s())))
}

fn maybe(text: Option<String>) -> String {
    text.unwrap_or_else(|| "-".into())
}
