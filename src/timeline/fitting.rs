//! The choice of versions, put to the fitter as blocks and stretches of quiet.

use super::layout::{CueTime, Said, Version};
use super::table::Table;
use crate::script::Reading;
use crate::script::fit::{Candidate, Problem, Quiet, Timed, When};
use crate::show::{Anchor, Block, Name, PointName, TimeExpression, Wording};
use crate::units::{Instant, Span};

/// What is to be chosen in a laying, with `keep` settled already. Times that hang on the end of a block by
/// way of a track which something else ends, or which meets, are taken as they are laid.
pub(super) fn problem<'s>(table: &Table<'s>, keep: &[Option<Version>]) -> Problem<'s> {
    let blocks = table.show.blocks.iter().enumerate();
    let hushes = table.moments.hushes().into_iter();
    let hushes = hushes.map(|(from, until)| Quiet {
        from: When::At(from),
        until: When::At(until),
    });
    let silences = table.show.silences.iter().enumerate().map(|(i, silence)| {
        let round = table.silence_round(i);
        Quiet {
            from: when(table, &silence.from, round),
            until: when(table, &silence.until, round),
        }
    });
    Problem {
        blocks: blocks
            .map(|(i, block)| candidate(table, i, block, keep.get(i).copied().flatten()))
            .collect(),
        quiet: hushes.chain(silences).collect(),
    }
}

fn candidate<'s>(
    table: &Table<'s>,
    i: usize,
    block: &'s Block,
    settled: Option<Version>,
) -> Candidate<'s> {
    let said = table.said(i);
    let round = table.block_round(i);
    if matches!(said, Said::Ended(_) | Said::Never) {
        return Candidate {
            settled: settled.or(Some(Version::Full)),
            ..Candidate::default()
        };
    }
    let timed = |reading: &Reading, words: &Wording, spread: f64| Timed {
        pieces: reading.pieces.clone(),
        waits: words.waits().map(|time| when(table, time, round)).collect(),
        spares: reading.pieces.iter().map(|lasts| *lasts * spread).collect(),
    };
    // One spread to spare, where there is a shorter text that would have it.
    let is_choice = said != Said::Now && block.short.is_some();
    let spread = table.show.narrator.spread.whole();
    let read = |version| {
        let spread = match version {
            Version::Full if is_choice => spread,
            _ => 0.0,
        };
        table
            .reading(i, version)
            .map(|(reading, words)| timed(reading, words, spread))
    };
    let by = block.ends_by.as_ref();
    Candidate {
        id: block.id.as_str(),
        keep: block.keep,
        starts: match block.starts.as_ref().filter(|_| said != Said::Now) {
            Some(starts) => when(table, starts, round),
            None => at(table.block_start(i).time),
        },
        ends_by: by.map_or(When::Never, |by| when(table, by, round)),
        full: read(Version::Full).unwrap_or_default(),
        short: block
            .short
            .is_some()
            .then(|| read(Version::Short))
            .flatten(),
        settled,
        begun: said != Said::Ahead,
    }
}

fn at(time: CueTime) -> When {
    time.instant().map_or(When::Never, When::At)
}

/// A time, by the block whose end it hangs on if it hangs on one.
fn when(table: &Table<'_>, time: &TimeExpression, round: usize) -> When {
    let hangs = match &time.anchor {
        Anchor::Point { of, point } => after_words(table, of, point),
        Anchor::Show | Anchor::Clock(_) => None,
    };
    match hangs {
        Some((block, by)) => When::AfterEnd {
            block,
            by: by + time.offset,
        },
        None => at(table.due(time, round).time),
    }
}

/// The block on whose end a point hangs, and how long after it the point comes.
fn after_words(table: &Table<'_>, of: &Name, point: &PointName) -> Option<(usize, Span)> {
    let show = table.show;
    if let Some(i) = show.blocks.iter().position(|block| block.id == *of) {
        if !matches!(table.said(i), Said::Ahead | Said::Due) {
            return None;
        }
        if *point == PointName::End {
            return Some((i, Span::ZERO));
        }
        return hangs(table, show.blocks[i].starts.as_ref()?);
    }
    let i = show.tracks.iter().position(|track| track.id == *of)?;
    let track = &show.tracks[i];
    let begun = table.begun.tracks.get(i).is_some_and(Option::is_some);
    if begun || track.meets.is_some() {
        return None;
    }
    let (block, after) = hangs(table, track.starts.as_ref()?)?;
    let (played, _) = table.track(i);
    let start = played.starts.instant()?;
    let point_at: Instant = match point {
        PointName::End if track.ends.is_none() => played.ends?,
        PointName::End => return None,
        PointName::Hit(hit) => {
            let (_, at) = track.hits.iter().find(|(name, _)| name == hit)?;
            start + (*at - played.entry)
        }
        _ => start,
    };
    Some((block, after + (point_at - start)))
}

fn hangs(table: &Table<'_>, time: &TimeExpression) -> Option<(usize, Span)> {
    let Anchor::Point { of, point } = &time.anchor else {
        return None;
    };
    let (block, after) = after_words(table, of, point)?;
    Some((block, after + time.offset))
}
