//! What does not fit: words against words, words against noise, music against music, meets that cannot be made.

use super::clock::excess;
use super::layout::{Cause, CueTime, Facts, Layout, Version};
use super::meet::{Means, Meeting, Round};
use super::moments::Moments;
use super::spread::{spread_of, told_within};
use super::unheard;
use crate::show::{Block, Fault, Keep, PointName, Severity, Show, TimeExpression, Track};
use crate::units::{Instant, Span};

/// Everything in `layout` that does not fit.
pub fn clashes(show: &Show, facts: &Facts, moments: &Moments, layout: &Layout) -> Vec<Fault> {
    let blocks =
        (0..show.blocks.len()).filter_map(|i| block_clash(show, facts, moments, layout, i));
    let meets = (0..show.tracks.len()).filter_map(|i| missed_meet(show, facts, moments, layout, i));
    // Of a file that is not there nothing says when its music is over.
    let known = (0..show.tracks.len()).filter(|&i| has_length(facts, i));
    blocks
        .chain(track_overlaps(show, moments, layout))
        .chain(meets)
        .chain(known.filter_map(|i| unheard::after_its_music(show, layout, i)))
        .chain(show.tracks.iter().filter_map(vamp_without_bars))
        .collect()
}

fn has_length(facts: &Facts, track: usize) -> bool {
    let length = facts.track_lengths.get(track);
    length.is_some_and(|length| *length > Span::ZERO)
}

/// Something a speaker must have stopped for.
struct Limit {
    at: Instant,
    /// What is wrong when it is passed, after the block's name and before by how much.
    passed: String,
}

/// A fault for a block that does not fit; only advice for one that may go.
fn block_clash(
    show: &Show,
    facts: &Facts,
    moments: &Moments,
    layout: &Layout,
    i: usize,
) -> Option<Fault> {
    let (block, spoken) = (&show.blocks[i], &layout.blocks[i]);
    if spoken.starts == CueTime::Orphaned && block.keep == Keep::Must {
        return Some(never_said(show, block));
    }
    let start = spoken.starts.instant()?;
    let left_out = spoken.version == Version::LeftOut;
    let words = if left_out {
        vec![(start, start + shortest(facts, i))]
    } else {
        layout.pieces[i].clone()
    };
    let begins = words.iter().enumerate().find_map(|(piece, &(from, _))| {
        let what = begins_in(show, moments, layout, from)?;
        let verb = if piece == 0 { "begins" } else { "goes on" };
        Some(format!("\"{}\" {verb} {what}", block.id))
    });
    let (message, help) = match (begins, spoken.because) {
        (Some(message), _) => (message, "start it later, or early enough to be over before"),
        (None, Some(Cause::RoomFor(other))) if left_out => (
            format!(
                "\"{}\" is left out, to leave room for \"{}\"",
                block.id, show.blocks[other].id
            ),
            "shorten one of them, or give them more time",
        ),
        _ => {
            let (limit, end) = limits(show, moments, layout, i, &words)
                .into_iter()
                .filter(|(limit, end)| *end > limit.at)
                .min_by_key(|(limit, _)| limit.at)?;
            let over = excess(end - limit.at);
            let message = format!("\"{}\" {}: {over} too long", block.id, limit.passed);
            let help = match block.short {
                None => "shorten it, give it a `short` text, or start it earlier",
                Some(_) => "even its short text is too long: shorten that, or start it earlier",
            };
            (message, help)
        }
    };
    let severity = match block.keep {
        Keep::May => Severity::Advice,
        Keep::Should | Keep::Must => Severity::Error,
    };
    let meanwhile = match (left_out, spoken.because) {
        (false, _) | (_, Some(Cause::RoomFor(_))) => "",
        _ => "; as it stands, it is left out",
    };
    Some(Fault {
        severity,
        ..Fault::error(block.at.clone(), message).help(format!("{help}{meanwhile}"))
    })
}

/// How long a block takes in its shortest version.
fn shortest(facts: &Facts, i: usize) -> Span {
    let Some((full, short)) = facts.readings.get(i) else {
        return Span::ZERO;
    };
    short.as_ref().unwrap_or(full).lasts()
}

fn never_said(show: &Show, block: &Block) -> Fault {
    if let Some(figure) = show
        .figure_of_block(block)
        .filter(|figure| !show.site.permits(figure))
    {
        let message = format!(
            "\"{}\" must be said, but \"{}\" is not flown: the site does not permit it",
            block.id, figure.id
        );
        return Fault::advice(block.at.clone(), message)
            .help("start it by a figure that this site permits, or leave out its keep = \"must\"");
    }
    let anchor = block
        .starts
        .as_ref()
        .map(|starts| starts.anchor.to_string());
    let message = format!(
        "\"{}\" must be said, but {} is not flown in this profile",
        block.id,
        anchor.unwrap_or_default()
    );
    Fault::advice(block.at.clone(), message)
        .help("start it by a figure that every profile flies, or leave out its keep = \"must\"")
}

/// The noise or the silence that is on at `at`.
fn begins_in(show: &Show, moments: &Moments, layout: &Layout, at: Instant) -> Option<String> {
    let noise = moments.figures.iter().find_map(|figure| {
        let on = |hush: &&(Instant, Instant)| (hush.0..hush.1).contains(&at);
        let (_, until) = figure.hush.iter().find(on)?;
        Some(format!(
            "while {} is too loud to talk over, until {}",
            figure.key,
            told_within(show, *until, Some(figure.spread_near(*until)))
        ))
    });
    let silence = || {
        let silences = layout.silences.iter().zip(&show.silences);
        silences.into_iter().find_map(|((from, until), silence)| {
            let (from, until) = (from.instant()?, until.instant()?);
            (from..until).contains(&at).then(|| {
                let spread = spread_of(show, moments, &silence.until);
                let until = told_within(show, until, spread);
                format!("in the silence that lasts until {until}")
            })
        })
    };
    noise.or_else(silence)
}

/// Everything that stops a speaker who says block `i` in these pieces, and the end of the piece it stops.
fn limits(
    show: &Show,
    moments: &Moments,
    layout: &Layout,
    i: usize,
    words: &[(Instant, Instant)],
) -> Vec<(Limit, Instant)> {
    let (Some(&(start, _)), Some(&(_, end))) = (words.first(), words.last()) else {
        return Vec::new();
    };
    let told = |at, time: Option<&TimeExpression>| {
        told_within(
            show,
            at,
            time.and_then(|time| spread_of(show, moments, time)),
        )
    };
    let ends_by = layout.blocks[i].ends_by.map(|at| {
        let by = told(at, show.blocks[i].ends_by.as_ref());
        Limit {
            at,
            passed: format!("is not over by {by}, its ends_by"),
        }
    });
    let others = layout.blocks.iter().enumerate();
    let others = others.filter_map(|(other, block)| {
        let said = other != i && block.version != Version::LeftOut;
        let at = block.starts.instant().filter(|at| said && *at >= start)?;
        let next = &show.blocks[other];
        let passed = format!(
            "is still being said when \"{}\" begins at {}",
            next.id,
            told(at, next.starts.as_ref())
        );
        Some(Limit { at, passed })
    });
    let whole = ends_by.into_iter().chain(others).map(|limit| (limit, end));
    let pieces = words.iter().flat_map(|&(from, until)| {
        let quiet = quiet(show, moments, layout).into_iter();
        quiet
            .filter(move |limit| limit.at >= from)
            .map(move |limit| (limit, until))
    });
    whole.chain(pieces).collect()
}

/// Everything that nobody may talk over.
fn quiet(show: &Show, moments: &Moments, layout: &Layout) -> Vec<Limit> {
    let noise = moments.figures.iter().flat_map(|figure| {
        figure.hush.iter().map(|&(at, _)| Limit {
            at,
            passed: format!(
                "runs into {}, too loud to talk over from {}",
                figure.key,
                told_within(show, at, Some(figure.spread_near(at)))
            ),
        })
    });
    let silences = layout.silences.iter().zip(&show.silences);
    let silences = silences.filter_map(|((from, _), silence)| {
        let at = from.instant()?;
        let from = told_within(show, at, spread_of(show, moments, &silence.from));
        let passed = format!("runs into the silence at {from}");
        Some(Limit { at, passed })
    });
    noise.chain(silences).collect()
}

/// A track that sounds, and when.
struct Sounding<'a> {
    track: &'a Track,
    starts: Instant,
    /// From here on another track may come in: its fade out, or its end.
    free: Instant,
    ends: Instant,
    meeting: Option<Meeting>,
}

/// Tracks that sound together without one fading out under the other.
fn track_overlaps(show: &Show, moments: &Moments, layout: &Layout) -> Vec<Fault> {
    let mut sounding: Vec<Sounding<'_>> = show
        .tracks
        .iter()
        .zip(&layout.tracks)
        .filter(|(track, played)| !track.under && !played.meeting.is_some_and(|m| m.left_out))
        .filter_map(|(track, played)| {
            let ends = played.ends?;
            Some(Sounding {
                track,
                starts: played.starts.instant()?,
                free: played.fades.unwrap_or(ends),
                ends,
                meeting: played.meeting,
            })
        })
        .collect();
    sounding.sort_by_key(|sounding| sounding.starts);
    let mut faults = Vec::new();
    for (i, after) in sounding.iter().enumerate() {
        let over = sounding[..i]
            .iter()
            .filter(|before| after.starts < before.free);
        faults.extend(over.map(|before| overlap(show, moments, before, after)));
    }
    faults
}

/// A track that starts before the one before it is over; in the words of its meet if that is why.
fn overlap(show: &Show, moments: &Moments, before: &Sounding<'_>, after: &Sounding<'_>) -> Fault {
    let (first, second) = (&before.track.id, &after.track.id);
    let by = excess(before.ends - after.starts);
    let end_first = format!(
        "end \"{first}\" earlier (`ends`), with a `fade_out` of {by} to cross-fade, or say `under = true` of one of them"
    );
    let at = after.track.at.clone();
    let (Some(means), Some(meeting)) = (Means::of(after.track), after.meeting) else {
        let message = format!("\"{second}\" starts {by} before \"{first}\" ends");
        return Fault::error(at, message).help(end_first);
    };
    let meet = means.meet;
    let message = format!(
        "\"{second}\" cannot meet {} before \"{first}\" ends: it starts at {}, {by} too early",
        meet.on.anchor,
        told_within(show, after.starts, spread_of(show, moments, &meet.on))
    );
    let later = after.track.entries.iter().find(|entry| {
        let music = means.music_from(**entry);
        music.is_some_and(|music| meeting.wanted - music >= before.free)
    });
    let help = match later {
        Some(entry) => format!(
            "write the entry \"{}\" first: begun there it starts late enough; or {end_first}",
            entry.clock(3)
        ),
        None => format!("give \"{second}\" a later entry (`entries`), or {end_first}"),
    };
    Fault::error(at, message).help(help)
}

/// A meet that misses, or that has to be begun on a guess.
fn missed_meet(
    show: &Show,
    facts: &Facts,
    moments: &Moments,
    layout: &Layout,
    i: usize,
) -> Option<Fault> {
    let track = &show.tracks[i];
    let meet = track.meets.as_ref()?;
    let played = &layout.tracks[i];
    let (id, on) = (&track.id, &meet.on.anchor);
    if played.starts == CueTime::Orphaned {
        let message = format!("\"{id}\" meets {on}, which is not flown in this profile");
        return Some(Fault::advice(track.at.clone(), message).help("it is not played"));
    }
    let meeting = played.meeting?;
    if has_length(facts, i)
        && let Some(unheard) = unheard::hit(show, track, played, &meeting)
    {
        return Some(unheard);
    }
    if !meeting.met {
        let miss = excess(meeting.miss);
        let outcome = if meeting.left_out {
            "it is left out".into()
        } else {
            format!("its hit \"{}\" comes {miss} late", meet.hit)
        };
        let message = format!(
            "\"{id}\" cannot meet {on}: it would have to start {miss} before the display begins, at {}; {outcome}",
            told_within(show, meeting.start, spread_of(show, moments, &meet.on))
        );
        let help = "give it a later entry (`entries`), an earlier hit, or meet a later instant";
        return Some(Fault::error(track.at.clone(), message).help(help));
    }
    let (figure, early) = provisional_until(moments, meeting.start, meeting.wanted)?;
    let message = format!(
        "\"{id}\" must start {} before {figure} is planned inbound: until then its meet rests on the length of the hold",
        excess(early)
    );
    let help = "a later entry, or a longer run-in, would let it wait for inbound";
    Some(Fault::advice(track.at.clone(), message).help(help))
}

/// The figure whose hold is still on when a track that meets `wanted` starts, and how long before its end.
fn provisional_until(moments: &Moments, start: Instant, wanted: Instant) -> Option<(String, Span)> {
    moments.figures.iter().find_map(|figure| {
        let inbound = figure.expected(&PointName::Inbound)?.at;
        let within = figure.start() <= wanted && wanted <= figure.end();
        let held = inbound > figure.start();
        (within && held && start < inbound).then(|| (figure.key.to_string(), inbound - start))
    })
}

/// A vamp that goes round by bars nobody knows.
fn vamp_without_bars(track: &Track) -> Option<Fault> {
    track.vamp?;
    if Round::of(track).is_some() {
        return None;
    }
    let id = &track.id;
    let (message, help) = match track.bars {
        None => (
            format!(
                "nothing says where the bars of \"{id}\" are, and no even ones were heard: its vamp is not used"
            ),
            "write its tempo and bar, tempo = \"100 bpm\" and bar = \"4 beats\", or step = \"2.4 s\" in the vamp",
        ),
        Some(_) => (
            format!("no whole bar is in the vamp of \"{id}\": it is not used"),
            "let `from` and `to` be bar lines, at least a bar apart; `first_bar` says where one is",
        ),
    };
    Some(Fault::advice(track.at.clone(), message).help(help))
}
