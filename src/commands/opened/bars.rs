//! Bars that the document does not state, as gauging hears them.

use std::path::{Path, PathBuf};

use rayon::prelude::*;

use super::super::gauge::cache_folder;
use crate::show::{Bars, Show, Track, VampStep};
use crate::sound::kept_survey;

/// Gives each track that goes round by bars the document does not state those that are heard in it. Of each track,
/// whether it has such.
pub fn gauge_bars(show: &mut Show, media: &[Option<PathBuf>]) -> Vec<bool> {
    let tracks: Vec<_> = show.tracks.iter().zip(media).collect();
    let heard: Vec<Option<Bars>> = tracks
        .par_iter()
        .map(|(track, file)| heard_in(track, file.as_deref()?))
        .collect();
    for (track, heard) in show.tracks.iter_mut().zip(&heard) {
        track.bars = track.bars.or(*heard);
    }
    heard.iter().map(Option::is_some).collect()
}

fn heard_in(track: &Track, file: &Path) -> Option<Bars> {
    let vamp = track.vamp?;
    if track.bars.is_some() || vamp.step != VampStep::Bar {
        return None;
    }
    // A file that cannot be read is a fault of its own.
    let survey = kept_survey(file, &cache_folder(), &mut |_| {}).ok()?;
    survey.pulse.bars(vamp.from, vamp.to)
}
