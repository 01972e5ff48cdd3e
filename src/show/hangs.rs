//! Which figure a time hangs on.

use super::{Anchor, Block, Figure, Show, TimeExpression};

impl Show {
    /// The figure a block hangs on: by its start, else by when it must have ended.
    pub fn figure_of_block<'a>(&'a self, block: &'a Block) -> Option<&'a Figure> {
        let times = block.starts.iter().chain(&block.ends_by);
        times.filter_map(|time| self.figure_of(time)).next()
    }

    /// The figure a time hangs on, by way of as many blocks and tracks as it takes.
    pub fn figure_of<'a>(&'a self, time: &'a TimeExpression) -> Option<&'a Figure> {
        let mut time = time;
        // Loading refuses circles, but asks before it has looked for them.
        for _ in 0..=self.blocks.len() + self.tracks.len() {
            let Anchor::Point { of, .. } = &time.anchor else {
                return None;
            };
            if let Some(figure) = self.figure(of) {
                return Some(figure);
            }
            time = match (self.block(of), self.track(of)) {
                (Some(block), _) => block.starts.as_ref()?,
                (None, Some(track)) => match &track.meets {
                    Some(meet) => &meet.on,
                    None => track.starts.as_ref()?,
                },
                (None, None) => return None,
            };
        }
        None
    }
}
