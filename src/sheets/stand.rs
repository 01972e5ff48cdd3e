//! The narrator's script: what to say and when to stop, in order of time; fillers; the prepared words.

use maud::{Markup, html};

use super::planned::{Planned, paragraphs, seconds, spread};
use super::words::Words;
use crate::pictures::programme::{Part, point_name};
use crate::show::PointName;
use crate::timeline::{CueTime, Expected};
use crate::units::{Instant, Span};

/// Microseconds.
const SECOND: i64 = 1_000_000;

/// Something on the narrator's clock.
enum Item {
    /// A pass that may be talked over: the place of its figure, and which.
    Pass(usize, PointName, Expected),
    /// Too loud to talk over: the place of its figure, and until when.
    Hush(usize, Instant),
    /// Nobody speaks until then.
    Silence(Instant),
    /// A block, by its place in the show.
    Words(usize),
}

/// The script.
pub(super) fn script(planned: &Planned) -> Markup {
    let fillers = blocks(planned, CueTime::Free);
    let orphaned = blocks(planned, CueTime::Orphaned);
    html! {
        p.note {
            "Times are as planned, by the clock and from show zero; on the day they move with the aircraft. "
            "What is said is large. Grey behind dots is the other version of it."
        }
        section.script {
            h2 { "In order of time" }
            @for (at, item) in items(planned) { (told(planned, at, &item)) }
        }
        @if !fillers.is_empty() {
            section {
                h2 { "Fillers, for a gap nobody planned" }
                @for i in fillers { (block(planned, i, None)) }
            }
        }
        @if !orphaned.is_empty() {
            section {
                h2 { "Not said in this profile" }
                @for i in orphaned { (block(planned, i, None)) }
            }
        }
        (prepared(planned))
    }
}

/// Blocks with such a start.
fn blocks(planned: &Planned, starts: CueTime) -> Vec<usize> {
    let laid = planned.plan.layout.blocks.iter().enumerate();
    laid.filter(|(_, laid)| laid.starts == starts)
        .map(|(i, _)| i)
        .collect()
}

/// Everything with a time, in its order.
fn items(planned: &Planned) -> Vec<(Instant, Item)> {
    let (parts, layout) = (&planned.programme.parts, &planned.plan.layout);
    let mut items = Vec::new();
    for (i, part) in parts.iter().enumerate() {
        let hushes = part.times.hush.iter();
        items.extend(hushes.map(|&(from, until)| (from, Item::Hush(i, until))));
        let quiet = |at| {
            let mut hushes = part.times.hush.iter();
            hushes.any(|&(from, until)| (from..=until).contains(&at))
        };
        let heard = passes(part).filter(|(_, expected)| !quiet(expected.at));
        items.extend(heard.map(|(point, at)| (at.at, Item::Pass(i, point.clone(), *at))));
    }
    items.extend(layout.silences.iter().filter_map(|(from, until)| {
        let until = until.instant()?;
        Some((from.instant()?, Item::Silence(until)))
    }));
    let laid = layout.blocks.iter().enumerate();
    items.extend(laid.filter_map(|(i, laid)| Some((laid.starts.instant()?, Item::Words(i)))));
    items.sort_by_key(|&(at, _)| at);
    items
}

fn told(planned: &Planned, at: Instant, item: &Item) -> Markup {
    match item {
        Item::Pass(i, point, expected) => html! {
            div.row.pass {
                p.when { (planned.when(at)) }
                p { (pass(planned, *i, point, expected)) }
            }
        },
        Item::Hush(i, until) => html! {
            div.row.hush {
                p.when { (planned.when(down(at))) }
                p {
                    strong { "Stop talking: too loud" } " for " (seconds(*until - at)) ", until "
                    (planned.clock(up(*until))) ". " (under(planned, *i, at, *until))
                }
            }
        },
        Item::Silence(until) => html! {
            div.row.silence {
                p.when { (planned.when(down(at))) }
                p {
                    strong { "Silence: nobody speaks" } " for " (seconds(*until - at)) ", until "
                    (planned.clock(up(*until))) "."
                }
            }
        },
        Item::Words(i) => block(planned, *i, Some(at)),
    }
}

/// A pass and how sure it is: `4 Slow pass from the left, abeam 19:43:17 ±9.2 s`.
fn pass(planned: &Planned, i: usize, point: &PointName, expected: &Expected) -> String {
    let part = &planned.programme.parts[i];
    let side = match point {
        PointName::Abeam(1) => format!(" from the {}", planned.side_of(part)),
        _ => String::new(),
    };
    let (at, spread) = (planned.clock(expected.at), spread(expected.spread));
    format!(
        "{}{side}, {} {at} {spread}",
        part.numbered(),
        point_name(point)
    )
}

/// The passes of a figure.
fn passes<'a>(part: &'a Part) -> impl Iterator<Item = &'a (PointName, Expected)> {
    let points = part.times.points.iter();
    points.filter(|(point, _)| matches!(point, PointName::Abeam(_)))
}

/// The whole second of the show at or before an instant: nobody is told to stop too late.
fn down(at: Instant) -> Instant {
    Instant::from_us(at.us().div_euclid(SECOND).saturating_mul(SECOND))
}

/// The whole second of the show at or after an instant: nobody is told to begin too early.
fn up(at: Instant) -> Instant {
    let down = down(at);
    if down == at {
        at
    } else {
        down + Span::from_us(SECOND)
    }
}

/// What is flown in a hush.
fn under(planned: &Planned, i: usize, from: Instant, until: Instant) -> String {
    let part = &planned.programme.parts[i];
    let within: Vec<String> = passes(part)
        .filter(|(_, expected)| (from..=until).contains(&expected.at))
        .map(|(point, expected)| pass(planned, i, point, expected))
        .collect();
    match within.as_slice() {
        [] => part.numbered(),
        within => within.join("; "),
    }
}

/// A block: when, what, for how long, and what may be said instead.
fn block(planned: &Planned, i: usize, at: Option<Instant>) -> Markup {
    let words = Words::of(planned, i);
    html! {
        section.row.block {
            p.when { @if let Some(at) = at { (planned.when(at)) } }
            div {
                h3 { (planned.show.blocks[i].id) " " span.about { (words.about()) } }
                @if let Some(text) = words.text() {
                    @for paragraph in paragraphs(&text) { p.words { (paragraph) } }
                }
                @for (label, other) in words.others() {
                    div.other {
                        @for (n, paragraph) in paragraphs(&other).into_iter().enumerate() {
                            p { @if n == 0 { strong { (label) } " " } (paragraph) }
                        }
                    }
                }
                p.stop { (stop(planned, i)) }
            }
        }
    }
}

/// How long a block takes, and by when to have stopped.
fn stop(planned: &Planned, i: usize) -> Markup {
    let laid = &planned.plan.layout.blocks[i];
    let (takes, short) = Words::of(planned, i).takes();
    html! {
        "Takes " (seconds(takes))
        @if let Some(short) = short { " (short " (seconds(short)) ")" }
        @if let Some(end) = laid.ends {
            ", until " (planned.clock(end)) ". "
            @if let Some(slack) = laid.slack {
                strong { "Stop talking by " (planned.clock(down(end + slack))) } (why(planned, i, end + slack)) "; "
                @if slack < Span::ZERO {
                    strong { "it is " (format!("{:.1} s", -slack.s())) " too long." }
                } @else {
                    (seconds(slack)) " to spare."
                }
            } @else {
                "Nothing follows that you must stop for."
            }
        } @else { "." }
    }
}

/// What a speaker must have stopped for at `stop`.
fn why(planned: &Planned, i: usize, stop: Instant) -> String {
    let layout = &planned.plan.layout;
    if let Some(by) = &planned.show.blocks[i].ends_by
        && layout.blocks[i].ends_by == Some(stop)
    {
        return format!(", {}", planned.said(by));
    }
    let loud = |&&(from, _): &&(Instant, Instant)| from == stop;
    let mut parts = planned.programme.parts.iter();
    if let Some(part) = parts.find(|part| part.times.hush.iter().any(|hush| loud(&hush))) {
        return format!(", {} is too loud", part.numbered());
    }
    if layout
        .silences
        .iter()
        .any(|(from, _)| from.instant() == Some(stop))
    {
        return ", the silence".into();
    }
    let mut next = planned.show.blocks.iter().zip(&layout.blocks);
    let next = next.find(|(_, laid)| laid.starts.instant() == Some(stop));
    next.map_or(String::new(), |(block, _)| format!(", {} begins", block.id))
}

/// The words for a knock-it-off and an accident, on a page of their own.
fn prepared(planned: &Planned) -> Markup {
    let show = planned.show;
    html! {
        section.prepared {
            h2 { "If the display is stopped" }
            section.row.block {
                h3 { "Knock-it-off" }
                (spoken(&show.knock_it_off_words, "No words are prepared."))
            }
            @for (why, words) in [
                ("Weather hold", &show.halt_words.weather),
                ("Technical delay", &show.halt_words.technical),
                ("Display ended early", &show.halt_words.ended),
            ] {
                @if !words.is_empty() {
                    section.row.block {
                        h3 { (why) }
                        (spoken(words, ""))
                    }
                }
            }
            section.row.block {
                h3 { "Accident: only this, and nothing more" }
                (spoken(&show.accident_words, "No statement is prepared. Say nothing more."))
            }
        }
    }
}

fn spoken(text: &str, none: &str) -> Markup {
    let paragraphs = paragraphs(text);
    html! {
        @for paragraph in &paragraphs { p.words { (paragraph) } }
        @if paragraphs.is_empty() { p.words { (none) } }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn who_must_stop_is_told_the_second_before_and_who_may_begin_the_second_after() {
        for (s, before, after) in [(9.9, 9.0, 10.0), (-0.1, -1.0, 0.0), (7.0, 7.0, 7.0)] {
            let at = Instant::from_s(s);
            assert_eq!(down(at), Instant::from_s(before), "{s}");
            assert_eq!(up(at), Instant::from_s(after), "{s}");
        }
    }
}
