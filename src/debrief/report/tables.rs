//! The tables of the page: everything its pictures show, and the rest.

use maud::{Markup, html};

use super::{Told, lateness};
use crate::debrief::Lessons;
use crate::debrief::correct::Value;
use crate::debrief::seen::{How, can_be_marked};
use crate::debrief::stretch::PartOf;

/// A table: what it is called, its columns (those that begin with `#` are numbers), its rows. Nothing without rows.
pub(super) fn table(caption: &str, columns: &[&str], rows: &[Vec<String>]) -> Markup {
    let is_number = |i: usize| columns.get(i).is_some_and(|column| column.starts_with('#'));
    let class = |i: usize| is_number(i).then_some("number");
    html! {
        @if !rows.is_empty() {
            table {
                caption { (caption) }
                thead { tr {
                    @for (i, column) in columns.iter().enumerate() {
                        th scope="col" class=[class(i)] { (column.trim_start_matches('#')) }
                    }
                } }
                tbody {
                    @for row in rows {
                        tr {
                            @for (i, cell) in row.iter().enumerate() {
                                @if i == 0 { th scope="row" { (cell) } }
                                @else { td class=[class(i)] { (cell) } }
                            }
                        }
                    }
                }
            }
        }
    }
}

pub(super) fn points(told: &Told) -> Markup {
    let shown = told
        .went
        .points
        .iter()
        .filter(|flown| can_be_marked(&flown.point) || flown.how != How::Estimated);
    let rows: Vec<Vec<String>> = shown
        .map(|flown| {
            vec![
                format!("{} {}", told.name_of(&flown.key), flown.point),
                maybe(flown.planned.map(|at| told.clock(at))),
                told.clock(flown.at),
                maybe(flown.late().map(lateness)),
                flown.how.word().into(),
            ]
        })
        .collect();
    table(
        "Every instant of flight",
        &["Point", "#Planned", "#Flown", "#Late", "Known"],
        &rows,
    )
}

pub(super) fn cues(told: &Told) -> Markup {
    let rows: Vec<Vec<String>> = told
        .went
        .done
        .iter()
        .map(|done| {
            vec![
                done.what.clone(),
                maybe(done.planned.map(|at| told.clock(at))),
                told.clock(done.at),
                maybe(done.planned.map(|planned| lateness(done.at - planned))),
            ]
        })
        .collect();
    table(
        "Words, music and calls",
        &["What", "#Planned", "#Was", "#Late"],
        &rows,
    )
}

pub(super) fn changes(told: &Told) -> Markup {
    let changes = &told.went.folded.changes;
    let rows: Vec<Vec<String>> = changes
        .iter()
        .map(|(at, what)| vec![what.clone(), told.clock(*at)])
        .collect();
    table(
        "What was changed in the running show",
        &["Change", "#At"],
        &rows,
    )
}

pub(super) fn drift(told: &Told) -> Markup {
    let rows: Vec<Vec<String>> = told
        .went
        .drift
        .iter()
        .map(|drift| {
            vec![
                told.name_of(&drift.key).to_owned(),
                lateness(drift.late[0]),
                lateness(drift.late[1]),
                lateness(drift.gained()),
                if drift.seen { "seen" } else { "between others" }.into(),
            ]
        })
        .collect();
    table(
        "Drift",
        &[
            "Figure",
            "#Late at its start",
            "#Late at its end",
            "#Gained",
            "Known",
        ],
        &rows,
    )
}

pub(super) fn hits(told: &Told) -> Markup {
    let rows: Vec<Vec<String>> = told
        .went
        .hits
        .iter()
        .map(|hit| {
            vec![
                format!("{} {}", told.track(hit.track), hit.hit),
                told.clock(hit.wanted),
                hit.how.word().into(),
                told.clock(hit.heard),
                hit.source.words().into(),
                format!("{:+.2} s", hit.miss().s()).replace('-', "−"),
                if hit.met() { "met" } else { "missed" }.into(),
            ]
        })
        .collect();
    let columns = ["Hit", "#Wanted", "Known", "#Heard", "By", "#Late", "Meet"];
    table("Hits against the flight", &columns, &rows)
}

pub(super) fn words(told: &Told) -> Markup {
    let rows: Vec<Vec<String>> = told
        .went
        .paces
        .iter()
        .map(|pace| {
            vec![
                format!("{}{}", pace.block, if pace.short { ", short" } else { "" }),
                format!("{:.1} s", pace.took.s()),
                format!("{:.1} s", pace.reading.lasts().s()),
                maybe(pace.words_per_minute().map(|rate| format!("{rate:.0}"))),
            ]
        })
        .collect();
    html! {
        @if rows.is_empty() { p { "No words were begun and ended by key." } }
        (table("Words from key to key", &["Block", "#Took", "#Planned", "#Words a minute"], &rows))
    }
}

pub(super) fn music(told: &Told) -> Markup {
    let rows: Vec<Vec<String>> = told
        .went
        .sounded
        .iter()
        .map(|sounded| {
            let credits = told
                .show
                .tracks
                .get(sounded.track)
                .map(|track| &track.credits);
            let credit = |of: Option<&Option<String>>| maybe(of.cloned().flatten());
            vec![
                told.track(sounded.track).to_owned(),
                credit(credits.map(|credits| &credits.title)),
                credit(credits.map(|credits| &credits.composer)),
                credit(credits.map(|credits| &credits.publisher)),
                told.clock(sounded.from),
                sounded.lasted.clock(0),
                sounded.source.words().into(),
            ]
        })
        .collect();
    let columns = [
        "Track",
        "Title",
        "Composer",
        "Publisher",
        "#From",
        "#Lasted",
        "Known by",
    ];
    html! {
        @if rows.is_empty() { p { "No music was played." } }
        (table("Music played", &columns, &rows))
    }
}

pub(super) fn output(told: &Told) -> Markup {
    html! {
        @if let Some(counts) = told.went.folded.output {
            p {
                "The output ran dry " (counts.underruns) " time(s), was opened again " (counts.reopened)
                " time(s), and refused " (counts.refused) " start(s)."
            }
        }
    }
}

/// What all shows teach.
pub(super) fn lessons(lessons: &Lessons) -> Markup {
    let habits: Vec<Vec<String>> = lessons
        .habits
        .iter()
        .map(|habit| {
            vec![
                match habit.part {
                    PartOf::Flight => habit.figure.to_string(),
                    PartOf::Hold => format!("{}, its hold", habit.figure),
                },
                habit.times.to_string(),
                lateness(habit.longer),
                format!("{} ±{:.1}", lateness(habit.bias), habit.bias_spread.s()),
                format!("{:.0} %", 100.0 * habit.drawn),
                format!("{:.1} s", habit.stated.s()),
                format!("{:.1} s", habit.spread.s()),
            ]
        })
        .collect();
    let corrections: Vec<Vec<String>> = lessons
        .corrections
        .iter()
        .map(|correction| {
            vec![
                correction.place.to_string(),
                correction.was.clone().unwrap_or_else(|| "–".into()),
                match &correction.becomes {
                    Value::Text(text) => text.clone(),
                    Value::Number(number) => number.to_string(),
                },
                correction.because.clone(),
            ]
        })
        .collect();
    let columns = [
        "Part",
        "#Flyings",
        "#Longer than planned",
        "#Taken as",
        "#Drawn to the plan",
        "#Spread stated",
        "#Spread",
    ];
    html! {
        section.lessons {
            h2 { "What the plan could learn" }
            p {
                "How much longer than planned each part took on the mean, and what that is taken as once chance is \
                 allowed for: each is drawn towards the plan, the more so the fewer times it was seen."
            }
            (table("Figures", &columns, &habits))
            @if let Some(voice) = &lessons.voice {
                p {
                    "The narrator said " (format!("{:.0}", voice.learned.words_per_minute)) " words a minute (stated "
                    (format!("{:.0}", voice.stated.words_per_minute)) "), a block's time spreading by "
                    (format!("{:.1}", 100.0 * voice.learned.spread.whole())) " % (stated " (voice.stated.spread) ")."
                }
            }
            @if corrections.is_empty() { p { "No correction is worth writing." } }
            (table("Corrections of the plan's times", &["Where", "#Now", "#Write", "Because"], &corrections))
        }
    }
}

pub(super) fn maybe(text: Option<String>) -> String {
    text.unwrap_or_else(|| "–".into())
}
