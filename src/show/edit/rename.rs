//! Another name for something, wherever a document speaks of it.

use std::ops::Range;

use super::draft::is_bare;
use super::{Draft, EditError, Place};
use crate::show::{Anchor, Name, PointName, Show, TimeExpression};

impl Draft {
    /// Gives a hit of a track another name: where it is set, where it is met, and in every time that hangs on it.
    /// `show` is the one that the text is.
    ///
    /// # Errors
    /// When there is no such hit, another has the name already, or a time could not be written with it.
    pub fn rename_hit(
        &mut self,
        show: &Show,
        track: &Name,
        hit: &Name,
        name: &str,
    ) -> Result<(), EditError> {
        let mut spoken_of = spoken_of(show, track, hit)?;
        if !spoken_of.is_empty() && !is_bare(name) {
            return Err(EditError::NoPlace(format!(
                "other times hang on {hit}: call it by letters, digits, - and _"
            )));
        }
        // From the last on, so that those before it stay where they are.
        spoken_of.sort_by_key(|at| std::cmp::Reverse(at.start));
        for at in spoken_of {
            self.replace(at, name.to_owned());
        }
        let place = Place::item("track", track.as_str());
        let meets = show.track(track).and_then(|track| track.meets.as_ref());
        self.rename(&place.clone().key("hits").key(hit.as_str()), name)?;
        if meets.is_some_and(|meet| meet.hit == *hit) {
            self.set(&place.key("meets").key("hit"), name)?;
        }
        Ok(())
    }
}

/// The bytes of a hit's name in every time that hangs on it.
fn spoken_of(show: &Show, track: &Name, hit: &Name) -> Result<Vec<Range<usize>>, EditError> {
    let point = PointName::Hit(hit.clone());
    let hangs = |time: &&TimeExpression| matches!(&time.anchor, Anchor::Point { of, point: other } if of == track && *other == point);
    let whole = format!("{track}.{hit}");
    let times = show.times().into_iter().filter(hangs);
    times
        .map(|time| {
            let at = show.narrowed(time, &whole);
            if show.source.text.get(at.clone()) != Some(whole.as_str()) {
                let (line, _) = show.source.line_column(time.at.start);
                return Err(EditError::NoPlace(format!(
                    "{whole} is spoken of in line {line} in another way: change its name there by hand"
                )));
            }
            Ok(at.end - hit.as_str().len()..at.end)
        })
        .collect()
}
