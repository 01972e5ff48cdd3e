//! Why a block is said in the version it is, in plain words.

use super::clock::told;
use super::layout::{Cause, Layout, Version};
use super::moments::Moments;
use crate::show::Show;
use crate::units::Instant;

/// What made a shorter version of a block necessary, or what the block runs into: `the full text is not over
/// by 19:41:02, its ends_by`. `None` where it is said in full and fits.
pub fn why(show: &Show, moments: &Moments, layout: &Layout, block: usize) -> Option<String> {
    let laid = layout.blocks.get(block)?;
    let cause = laid.because?;
    let short = show.blocks.get(block)?.short.is_some();
    let id = |i: usize| show.blocks.get(i).map_or("", |block| block.id.as_str());
    let key = |i: usize| {
        moments
            .figures
            .get(i)
            .map_or("", |figure| figure.key.as_str())
    };
    let told = |at: Instant| told(show, at - (moments.zero - Instant::ZERO));
    let text = match (laid.version, short) {
        (Version::Short, _) if laid.slack.is_none_or(|slack| slack.us() >= 0) => "the full text",
        (Version::LeftOut, true) => "even the short text",
        _ => "the text",
    };
    Some(match cause {
        Cause::EndsBy => match laid.ends_by {
            Some(by) => format!("{text} is not over by {}, its ends_by", told(by)),
            None => format!("{text} is not over by its ends_by"),
        },
        Cause::Hush(i) => format!("{text} runs into {}, too loud to talk over", key(i)),
        Cause::InHush(i) => format!("{text} begins while {} is too loud to talk over", key(i)),
        Cause::Silence(i) => match layout.silences.get(i).and_then(|(from, _)| from.instant()) {
            Some(at) => format!("{text} runs into the silence at {}", told(at)),
            None => format!("{text} runs into a silence"),
        },
        Cause::InSilence(_) => format!("{text} begins in a silence"),
        Cause::Block(i) => format!("{text} is not over when \"{}\" begins", id(i)),
        Cause::Tight => format!("{text} would have less to spare than its own spread"),
        Cause::RoomFor(i) => format!("{text} leaves no room for \"{}\"", id(i)),
    })
}
