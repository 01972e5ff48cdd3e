//! Every time expression of a show, and where it is written.

use std::ops::Range;

use super::{Show, TimeExpression, Wording};

impl Show {
    /// Every time expression of the show.
    pub fn times(&self) -> Vec<&TimeExpression> {
        let mut times: Vec<&TimeExpression> = self.zero.iter().collect();
        let figures = self.figures.iter();
        times.extend(figures.filter_map(|figure| figure.starts.as_ref()));
        for block in &self.blocks {
            times.extend(block.starts.iter().chain(&block.ends_by));
            times.extend(block.text.waits());
            times.extend(block.short.iter().flat_map(Wording::waits));
        }
        for silence in &self.silences {
            times.extend([&silence.from, &silence.until]);
        }
        times.extend(self.calls.iter().map(|call| &call.when));
        for track in &self.tracks {
            times.extend(track.starts.iter().chain(&track.ends));
            times.extend(track.meets.as_ref().map(|meet| &meet.on));
        }
        times
    }

    /// The bytes of `part` inside a time expression; all of it where the part does not stand there as it is spoken of.
    pub fn narrowed(&self, time: &TimeExpression, part: &str) -> Range<usize> {
        let written = self.source.text.get(time.at.clone()).unwrap_or_default();
        match written.find(part) {
            Some(i) => time.at.start + i..time.at.start + i + part.len(),
            None => time.at.clone(),
        }
    }
}
