//! What does not fit: words against words, words against noise, music against music, meets that cannot be made.

use super::lay::{CueTime, Layout};
use super::moments::Moments;
use crate::show::{Fault, Keep, Severity, Show};
use crate::units::{Instant, Span};

/// Everything in `layout` that does not fit.
pub fn clashes(show: &Show, moments: &Moments, layout: &Layout) -> Vec<Fault> {
    let mut faults = Vec::new();
    for block in 0..show.blocks.len() {
        faults.extend(block_clash(show, moments, layout, block));
    }
    faults.extend(track_overlaps(show, layout));
    for track in 0..show.tracks.len() {
        faults.extend(missed_meet(show, moments, layout, track));
    }
    faults
}

/// A fault for a block that does not fit; only advice for one that may go.
fn block_clash(show: &Show, moments: &Moments, layout: &Layout, i: usize) -> Option<Fault> {
    let block = &show.blocks[i];
    let spoken = &layout.blocks[i];
    let (start, end) = (spoken.starts.instant()?, spoken.ends?);
    let over = |limit: Instant| end - limit;
    let message = if let Some((figure, until)) = hush_around(moments, start) {
        format!(
            "\"{}\" begins while {figure} is too loud to talk over, until {until}",
            block.id
        )
    } else if let Some(from) = silence_around(layout, start) {
        format!(
            "\"{}\" begins in the silence that begins at {from}",
            block.id
        )
    } else if let Some(by) = spoken.ends_by.filter(|by| end > *by) {
        format!(
            "\"{}\" ends {} after its ends_by ({by})",
            block.id,
            over(by)
        )
    } else if let Some((figure, from)) = hush_before(moments, start, end) {
        format!(
            "\"{}\" runs {} into {figure}, too loud to talk over from {from}",
            block.id,
            over(from)
        )
    } else if let Some(from) = silence_before(layout, start, end) {
        format!(
            "\"{}\" runs {} into the silence at {from}",
            block.id,
            over(from)
        )
    } else {
        let (next, from) = next_block(show, layout, i, start).filter(|&(_, from)| end > from)?;
        format!(
            "\"{}\" is still being said when \"{next}\" begins: {} over",
            block.id,
            over(from)
        )
    };
    let help = match (&block.short, block.keep) {
        (None, _) => "shorten it, give it a `short` text, or start it earlier",
        (Some(_), _) => "even its short text is too long: shorten that, or start it earlier",
    };
    let severity = if block.keep == Keep::May {
        Severity::Advice
    } else {
        Severity::Error
    };
    Some(Fault {
        severity,
        ..Fault::error(block.at.clone(), message).help(help)
    })
}

/// The figure too loud to talk over at `at`, and until when.
fn hush_around(moments: &Moments, at: Instant) -> Option<(String, Instant)> {
    moments.figures.iter().find_map(|figure| {
        let hush = figure
            .hush
            .iter()
            .find(|(from, until)| (*from..*until).contains(&at))?;
        Some((figure.key.to_string(), hush.1))
    })
}

/// The first figure that gets too loud to talk over between `start` and `end`, and when.
fn hush_before(moments: &Moments, start: Instant, end: Instant) -> Option<(String, Instant)> {
    moments
        .figures
        .iter()
        .flat_map(|figure| {
            figure
                .hush
                .iter()
                .map(|hush| (figure.key.to_string(), hush.0))
        })
        .filter(|(_, from)| (start..end).contains(from))
        .min_by_key(|(_, from)| *from)
}

fn silence_around(layout: &Layout, at: Instant) -> Option<Instant> {
    layout.silences.iter().find_map(|(from, until)| {
        let (from, until) = (from.instant()?, until.instant()?);
        (from..until).contains(&at).then_some(from)
    })
}

fn silence_before(layout: &Layout, start: Instant, end: Instant) -> Option<Instant> {
    layout
        .silences
        .iter()
        .filter_map(|(from, _)| from.instant())
        .filter(|from| (start..end).contains(from))
        .min()
}

fn next_block<'a>(
    show: &'a Show,
    layout: &Layout,
    i: usize,
    start: Instant,
) -> Option<(&'a str, Instant)> {
    layout
        .blocks
        .iter()
        .enumerate()
        // Of two that begin at one instant, the later in the document counts as next.
        .filter_map(|(other, block)| Some((other, block.starts.instant()?)))
        .filter(|&(other, from)| other != i && (from, other) > (start, i))
        .min_by_key(|&(other, from)| (from, other))
        .map(|(other, from)| (show.blocks[other].id.as_str(), from))
}

/// Tracks that sound together without one fading out under the other.
fn track_overlaps(show: &Show, layout: &Layout) -> Vec<Fault> {
    let mut sounding: Vec<(Instant, Instant, usize)> = layout
        .tracks
        .iter()
        .enumerate()
        .filter(|(i, track)| !show.tracks[*i].under && !track.meeting.is_some_and(|m| m.left_out))
        .filter_map(|(i, track)| Some((track.starts.instant()?, track.ends?, i)))
        .collect();
    sounding.sort();
    let mut faults = Vec::new();
    for pair in sounding.windows(2) {
        let ((_, end, before), (start, _, after)) = (pair[0], pair[1]);
        let (before, after) = (&show.tracks[before], &show.tracks[after]);
        let overlap = end - start;
        if overlap > before.fade_out.max(Span::ZERO) {
            let message = format!(
                "\"{}\" starts {overlap} before \"{}\" ends",
                after.id, before.id
            );
            let help = format!(
                "end \"{}\" earlier (`ends`), give it a `fade_out` of {overlap} to cross-fade, or say `under = true`",
                before.id
            );
            faults.push(Fault::error(after.at.clone(), message).help(help));
        }
    }
    faults
}

/// A meet that misses, or that has to be begun on a guess.
fn missed_meet(show: &Show, moments: &Moments, layout: &Layout, i: usize) -> Option<Fault> {
    let track = &show.tracks[i];
    let meet = track.meets.as_ref()?;
    let played = &layout.tracks[i];
    if played.starts == CueTime::Orphaned {
        let message = format!(
            "\"{}\" meets {}, which is not flown in this profile",
            track.id, meet.on.anchor
        );
        return Some(Fault::advice(track.at.clone(), message));
    }
    let meeting = played.meeting?;
    if !meeting.met {
        let direction = if meeting.miss > Span::ZERO {
            "late"
        } else {
            "early"
        };
        let message = format!(
            "\"{}\" cannot meet {}: it would have to start before the display begins; its hit \"{}\" comes {} {direction}",
            track.id,
            meet.on.anchor,
            meet.hit,
            meeting.miss.abs()
        );
        let help = "give it a later entry (`entries`), an earlier hit, or meet a later instant";
        return Some(Fault::error(track.at.clone(), message).help(help));
    }
    provisional_until(moments, meeting.start, meeting.wanted).map(|(figure, early)| {
        let message = format!(
            "\"{}\" must start {early} before {figure} is planned inbound: until then its meet rests on the length of the hold",
            track.id
        );
        Fault::advice(track.at.clone(), message).help("a later entry, or a longer run-in, would let it wait for inbound")
    })
}

/// The figure whose hold is still on when a track that meets `wanted` starts, and how long before its end.
fn provisional_until(moments: &Moments, start: Instant, wanted: Instant) -> Option<(String, Span)> {
    moments.figures.iter().find_map(|figure| {
        let waits = figure.expected(&crate::show::PointName::Inbound)?.at;
        let within = figure.start() <= wanted && wanted <= figure.end();
        let held = waits > figure.start();
        (within && held && start < waits).then(|| (figure.key.to_string(), waits - start))
    })
}
