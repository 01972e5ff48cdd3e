//! The technician's cue list: tracks, fades, calls and words, in order of time.

use maud::{Markup, html};

use super::planned::{self, Planned, signed};
use crate::show::{Go, IfMissed, Track};
use crate::timeline::{CueTime, Meeting};
use crate::units::{Gain, Instant, Span};

/// Something that happens at the desk, or that it waits for; each by its place in the show.
#[derive(Clone, Copy)]
enum Cue {
    Start(usize),
    Fade(usize),
    Call(usize),
    Words(usize),
}

/// The cue list.
pub(super) fn cue_list(planned: &Planned) -> Markup {
    let by_hand = tracks(planned, |starts| starts == CueTime::Free);
    let orphaned = tracks(planned, |starts| starts == CueTime::Orphaned);
    html! {
        p.note {
            "Times are as planned, by the clock and from show zero; on the day they move with the aircraft, "
            "and the music waits for it. Times in a track are from its beginning."
        }
        table.cues {
            caption { "Cues in order of time" }
            thead { tr {
                th scope="col" { "At" }
                th scope="col" { "Cue" }
                th scope="col" { "Begin" }
                th scope="col" { "Hit and meet" }
                th scope="col" { "Out" }
            } }
            tbody { @for (at, cue) in cues(planned) { (row(planned, at, cue)) } }
        }
        (apart(planned, "Started by hand, whenever it is wanted", &by_hand))
        (apart(planned, "Not played in this profile", &orphaned))
    }
}

fn tracks(planned: &Planned, which: impl Fn(CueTime) -> bool) -> Vec<usize> {
    let laid = planned.plan.layout.tracks.iter().enumerate();
    laid.filter(|(_, laid)| which(laid.starts))
        .map(|(i, _)| i)
        .collect()
}

fn cues(planned: &Planned) -> Vec<(Instant, Cue)> {
    let layout = &planned.plan.layout;
    let mut cues: Vec<(Instant, Cue)> = Vec::new();
    for (i, laid) in layout.tracks.iter().enumerate() {
        cues.extend(laid.starts.instant().map(|at| (at, Cue::Start(i))));
        cues.extend(laid.fades.map(|at| (at, Cue::Fade(i))));
    }
    let calls = layout.calls.iter().enumerate();
    cues.extend(calls.filter_map(|(i, at)| Some((at.instant()?, Cue::Call(i)))));
    let blocks = layout.blocks.iter().enumerate();
    cues.extend(blocks.filter_map(|(i, laid)| Some((laid.starts.instant()?, Cue::Words(i)))));
    cues.sort_by_key(|&(at, _)| at);
    cues
}

fn row(planned: &Planned, at: Instant, cue: Cue) -> Markup {
    let show = planned.show;
    match cue {
        Cue::Start(i) => html! {
            tr.start {
                th scope="row" { (planned.when_finely(at)) }
                (track(planned, i))
            }
        },
        Cue::Fade(i) => html! {
            tr.slight {
                th scope="row" { (planned.when_finely(at)) }
                td colspan="4" {
                    strong { (show.tracks[i].id) } " begins to fade, over " (show.tracks[i].fade_out)
                }
            }
        },
        Cue::Call(i) => html! {
            tr.slight {
                th scope="row" { (planned.when_finely(at)) }
                td colspan="4" {
                    strong { "Call" } " to " (show.calls[i].who) ": " (show.calls[i].text)
                    " (" (planned.said(&show.calls[i].when)) ")"
                }
            }
        },
        Cue::Words(i) => {
            let end = planned.plan.layout.blocks[i].ends;
            html! {
                tr.slight {
                    th scope="row" { (planned.when_finely(at)) }
                    td colspan="4" {
                        "Words: " (show.blocks[i].id)
                        @if let Some(end) = end { ", until " (planned.clock(end)) }
                    }
                }
            }
        }
    }
}

/// The cells of a track behind its time.
fn track(planned: &Planned, i: usize) -> Markup {
    let (track, laid) = (&planned.show.tracks[i], &planned.plan.layout.tracks[i]);
    html! {
        td {
            strong.name { (track.id) }
            br; (track.file)
            @if let Some(length) = planned.plan.facts.track_lengths.get(i).filter(|length| **length > Span::ZERO) {
                br; (length.clock(1)) " long"
            }
        }
        td {
            strong { (go(track.go)) }
            br; "from " (laid.entry.clock(3))
            br; (level(track))
            @if track.fade_in > Span::ZERO { br; "fade in " (track.fade_in) }
            @if track.duck != Gain::ZERO { br; (track.duck.abs()) " down for words" }
            @if track.under { br; "may sound under another" }
        }
        td { (meet(planned, i)) }
        td {
            @if let Some(fades) = laid.fades {
                "fades " (planned.clock(fades)) ", over " (track.fade_out) br;
            }
            @match laid.ends {
                Some(ends) if ends > laid.starts.instant().unwrap_or(ends) => { "silent " (planned.clock(ends)) }
                _ => { "at its own end" }
            }
        }
    }
}

fn go(go: Go) -> &'static str {
    match go {
        Go::Auto => "automatic",
        Go::Hand => "by hand",
    }
}

fn level(track: &Track) -> String {
    let level = match track.level {
        Some(lufs) => planned::level(lufs),
        None => "level as it is".into(),
    };
    match track.trim {
        Gain::ZERO => level,
        trim => format!("{level}, trim {}", planned::level(trim)),
    }
}

/// The hits of a track, what must fall where, and what becomes of it.
fn meet(planned: &Planned, i: usize) -> Markup {
    let (track, laid) = (&planned.show.tracks[i], &planned.plan.layout.tracks[i]);
    let others = track.hits.iter().filter(|(name, _)| {
        let meets = track.meets.as_ref();
        meets.is_none_or(|meet| meet.hit != *name)
    });
    html! {
        @if let Some(meet) = &track.meets {
            strong { "hit " (meet.hit) } " at " (meet.hit_at.clock(3))
            @if let Some((falls, starts)) = planned.hit_falls(i).zip(laid.starts.instant()) {
                ", " (signed(falls - starts, 1)) " after the start"
                br; "falls " (planned.when_finely(falls))
            }
            br; "meets " (planned.said(&meet.on)) " within " (meet.within.to_string().replace(' ', "\u{a0}"))
            @if let Some(meeting) = laid.meeting { (missed(planned, &meeting)) }
            br; "If it cannot: " (if_missed(meet.if_missed))
        } @else { "–" }
        @for (name, at) in others { br; "hit " (name) " at " (at.clock(3)) }
    }
}

/// What a meet misses by, where it does.
fn missed(planned: &Planned, meeting: &Meeting) -> Markup {
    html! {
        @if meeting.left_out {
            br; strong { "Left out: it cannot meet " (planned.clock(meeting.wanted)) }
        } @else if !meeting.met {
            br; strong { "Misses by " (format!("{:.1} s", meeting.miss.abs().s())) }
        }
    }
}

fn if_missed(what: IfMissed) -> &'static str {
    match what {
        IfMissed::Late => "from the first entry, late",
        IfMissed::Nearest => "whatever misses by least",
        IfMissed::Fade => "it is not played, or fades",
    }
}

/// Tracks without a time, if there are any.
fn apart(planned: &Planned, title: &str, tracks: &[usize]) -> Markup {
    html! {
        @if !tracks.is_empty() {
            table.cues.apart {
                caption { (title) }
                thead { tr {
                    th scope="col" { "Track" }
                    th scope="col" { "Begin" }
                    th scope="col" { "Hit and meet" }
                    th scope="col" { "Out" }
                } }
                tbody { @for &i in tracks { tr.start { (track(planned, i)) } } }
            }
        }
    }
}
