//! Music that is not heard where it should be: a hit after the end, an end after the music.

use super::clock::{excess, told};
use super::layout::{Layout, PlayedTrack};
use super::meet::Meeting;
use crate::show::{Fault, Show, Track};
use crate::units::Span;

/// A hit that is to be met after the track has ended, or while it goes out or comes in.
pub(super) fn hit(
    show: &Show,
    track: &Track,
    played: &PlayedTrack,
    meeting: &Meeting,
) -> Option<Fault> {
    let meet = track.meets.as_ref()?;
    let (id, hit, on) = (&track.id, &meet.hit, &meet.on.anchor);
    let ends = played.ends.filter(|_| !meeting.left_out)?;
    let wanted = meeting.wanted;
    if ends <= wanted {
        let message = format!(
            "\"{id}\" ends at {}, before its hit \"{hit}\" meets {on} at {}",
            told(show, ends),
            told(show, wanted)
        );
        return Some(
            Fault::error(track.at.clone(), message)
                .help("end it later (`ends`), or meet an earlier hit"),
        );
    }
    let (fade, key) = if played.fades.is_some_and(|fades| fades < wanted) {
        ("fades out", "fade_out")
    } else if wanted < meeting.start + track.fade_in {
        ("fades in", "fade_in")
    } else {
        return None;
    };
    let message = format!("\"{id}\" {fade} while its hit \"{hit}\" meets {on}");
    Some(Fault::advice(track.at.clone(), message).help(format!(
        "write a shorter `{key}`, or let it begin earlier and end later"
    )))
}

/// Advice on a track whose music is over well before it is to end.
pub(super) fn after_its_music(show: &Show, layout: &Layout, i: usize) -> Option<Fault> {
    const NOTICED: Span = Span::from_ms(1_000);
    let (track, played) = (&show.tracks[i], &layout.tracks[i]);
    let (stated, ends) = (played.asked_end?, played.ends?);
    (stated - ends > NOTICED && !played.meeting.is_some_and(|met| met.left_out)).then(|| {
        let message = format!(
            "the music of \"{}\" is over {} before its `ends`, at {}",
            track.id,
            excess(stated - ends),
            told(show, ends)
        );
        Fault::advice(track.at.clone(), message)
            .help("let a part of it go round (`loop`), or end it by then")
    })
}
