//! The tables of the page: everything its pictures show, and the rest.

use maud::{Markup, html};

use super::{Told, lateness};
use crate::debrief::seen::{How, can_be_marked};
use crate::units::Length;
use crate::units::quantity::KNOT;

/// A table: what it is called, its columns (those that begin with `#` are numbers, with `=` one of a few words), its
/// rows. Nothing without rows.
pub(super) fn table(caption: &str, columns: &[&str], rows: &[Vec<String>]) -> Markup {
    let class = |i: usize| match columns.get(i)?.chars().next()? {
        '#' => Some("number"),
        '=' => Some("word"),
        _ => None,
    };
    html! {
        @if !rows.is_empty() {
            table {
                caption { (caption) }
                thead { tr {
                    @for (i, column) in columns.iter().enumerate() {
                        th scope="col" class=[class(i)] { (column.trim_start_matches(['#', '='])) }
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
        &["Point", "#Planned", "#Flown", "#Late", "=Known"],
        &rows,
    )
}

/// What position logs say of the passes of the programme.
pub(super) fn passes(told: &Told) -> Markup {
    let metres = |length: Length| format!("{:.0} m", length.m());
    let passed = told.traced.passed.iter().map(|one| {
        let pass = &one.pass;
        vec![
            format!("{} {}", told.name_of(&one.key), one.point),
            one.aircraft.to_string(),
            told.clock(one.at),
            maybe(one.planned.map(|planned| lateness(one.at - planned))),
            format!("{:.0} kt", pass.ground_speed.mps() / KNOT),
            metres(pass.nearest_to_centre.distance),
            metres(pass.nearest_to_line.distance),
            pass.in_gap.map_or("fixes".into(), |gap| {
                format!("guessed: a gap of {:.0} s", gap.s())
            }),
        ]
    });
    let unlogged = told.traced.unlogged.iter().map(|one| {
        let mut row = vec!["–".to_owned(); 8];
        row[0] = format!("{} {}", told.name_of(&one.key), one.point);
        row[1] = one.aircraft.to_string();
        row[7] = "not in the log".into();
        row
    });
    let columns = [
        "Pass",
        "Aircraft",
        "#Abeam",
        "#Late",
        "#Over the ground",
        "#Nearest to centre",
        "#Nearest to crowd line",
        "=Known by",
    ];
    let rows: Vec<Vec<String>> = passed.chain(unlogged).collect();
    html! {
        @if !rows.is_empty() {
            h3 { "Passes by position logs" }
            (table("Passes of crowd centre, over the ground", &columns, &rows))
            (gaps(told))
        }
    }
}

fn gaps(told: &Told) -> Markup {
    let rows: Vec<Vec<String>> = told
        .traced
        .gaps
        .iter()
        .map(|gap| {
            vec![
                gap.aircraft.to_string(),
                told.clock(gap.from),
                told.clock(gap.until),
                format!("{:.0} s", gap.lasts().s()),
            ]
        })
        .collect();
    html! {
        @if rows.is_empty() { p { "The logs have no gap while the show was on." } }
        (table("Gaps of the logs", &["Aircraft", "#From", "#Until", "#Lasts"], &rows))
    }
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
            "=Known",
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
    let columns = [
        "Hit", "#Wanted", "=Known", "#Heard", "=By", "#Late", "=Meet",
    ];
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
        "=Known by",
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

pub(super) fn maybe(text: Option<String>) -> String {
    text.unwrap_or_else(|| "–".into())
}
