//! Puts what was read from a log in order, aircraft by aircraft.

use std::collections::BTreeMap;

use super::{DoubtKind, Doubts, Fix, Lie, Log, Track, Watch};

/// Fixes as they stand in a log, each with its line.
#[derive(Debug, Default)]
pub(super) struct Gathered {
    /// In the order in which the aircraft first occur.
    tracks: Vec<(String, Vec<(Fix, u64)>)>,
    numbers: BTreeMap<String, usize>,
    pub(super) doubts: Doubts,
}

impl Gathered {
    /// The number by which an aircraft's fixes are added.
    pub(super) fn aircraft(&mut self, name: &str) -> usize {
        if let Some(&number) = self.numbers.get(name) {
            return number;
        }
        self.numbers.insert(name.to_owned(), self.tracks.len());
        self.tracks.push((name.to_owned(), Vec::new()));
        self.tracks.len() - 1
    }

    pub(super) fn add(&mut self, aircraft: usize, fix: Fix, line: u64) {
        if let Some((_, fixes)) = self.tracks.get_mut(aircraft) {
            fixes.push((fix, line));
        }
    }

    /// The log: each track in the order of time, without what cannot have been flown.
    pub(super) fn into_log(self) -> Log {
        let mut doubts = self.doubts;
        let mut tracks = Vec::with_capacity(self.tracks.len());
        for (name, fixes) in self.tracks {
            let fixes = ordered(fixes, &mut doubts);
            if !fixes.is_empty() {
                tracks.push(Track { name, fixes });
            }
        }
        Log { tracks, doubts }
    }
}

fn ordered(mut fixes: Vec<(Fix, u64)>, doubts: &mut Doubts) -> Vec<Fix> {
    let mut backwards = false;
    for pair in fixes.windows(2) {
        if let [(before, _), (fix, line)] = pair
            && fix.at < before.at
        {
            backwards = true;
            doubts.add(DoubtKind::Backwards, *line);
        }
    }
    if backwards {
        fixes.sort_by_key(|(fix, _)| fix.at);
    }
    let mut watch = Watch::default();
    let mut flown = Vec::with_capacity(fixes.len());
    for (fix, line) in fixes {
        match watch.take(&fix) {
            Ok(()) => flown.push(fix),
            Err(Lie::Twice) => doubts.add(DoubtKind::Twice, line),
            Err(_) => doubts.add(DoubtKind::Impossible, line),
        }
    }
    flown
}
