//! Changes to what is flown: drop, repeat, insert, swap, mirror, another profile; resuming after a delay.

use super::{Flying, Session};
use crate::flight::{self, Entry};
use crate::live::event::What;
use crate::show::{Anchor, Name};
use crate::timeline::CueTime;
use crate::units::Instant;

/// A cue that a change would leave without its figure.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Orphan {
    /// What it is: "block", "track", "call".
    pub kind: &'static str,
    /// What the show calls it.
    pub id: Name,
}

impl Session {
    /// What a change of the programme would leave without its figure, listed before it is made.
    pub fn orphans_of(&self, change: &What) -> Vec<Orphan> {
        let mut after = self.clone();
        after.take(change);
        let mut orphans = Vec::new();
        let mut compare = |kind, id: &Name, before: CueTime, then: CueTime| {
            if then == CueTime::Orphaned && before != CueTime::Orphaned {
                let id = id.clone();
                orphans.push(Orphan { kind, id });
            }
        };
        for (i, block) in self.show.blocks.iter().enumerate() {
            let (before, then) = (&self.layout.blocks[i], &after.layout.blocks[i]);
            compare("block", &block.id, before.starts, then.starts);
        }
        for (i, track) in self.show.tracks.iter().enumerate() {
            let (before, then) = (&self.layout.tracks[i], &after.layout.tracks[i]);
            compare("track", &track.id, before.starts, then.starts);
        }
        for (i, call) in self.show.calls.iter().enumerate() {
            compare(
                "call",
                &call.id,
                self.layout.calls[i],
                after.layout.calls[i],
            );
        }
        orphans
    }

    pub(super) fn change(&mut self, what: &What) {
        match what {
            What::Drop { key } => self.drop_figure(key),
            What::Reinstate { key } => self.reinstate(key),
            What::Repeat { figure } => self.repeat(figure),
            What::Insert { figure, before } => self.insert(figure, before.as_ref()),
            What::Swap { first, second } => self.swap(first, second),
            What::Mirror { key } => self.mirror(key),
            What::Profile { name } => self.change_profile(name),
            _ => {}
        }
    }

    /// Entries not yet begun, by index in the programme; dropped ones left out.
    pub(super) fn unflown(&self) -> Vec<usize> {
        (0..self.programme.len())
            .filter(|&i| !self.programme[i].dropped && !self.is_begun(i))
            .collect()
    }

    fn is_begun(&self, i: usize) -> bool {
        self.start_of(i).is_some_and(|start| start <= self.now) && !self.programme[i].held
    }

    fn start_of(&self, i: usize) -> Option<Instant> {
        let key = &self.programme[i].entry.key;
        let figure = self
            .moments
            .figures
            .iter()
            .find(|figure| figure.key == *key)?;
        Some(figure.start())
    }

    fn position(&self, key: &Name) -> Option<usize> {
        self.programme
            .iter()
            .position(|flying| flying.entry.key == *key)
    }

    fn drop_figure(&mut self, key: &Name) {
        let Some(i) = self.position(key).filter(|&i| !self.programme[i].dropped) else {
            return;
        };
        if !self.is_begun(i) {
            self.programme[i].dropped = true;
            self.notice(format!("{key} dropped"));
            return self.refly();
        }
        let over = self
            .moments
            .figures
            .iter()
            .any(|figure| figure.key == *key && figure.end() <= self.now);
        if over || self.programme[i].broken.is_some() {
            return self.notice(format!("{key} is over"));
        }
        self.programme[i].broken = Some(self.now);
        // Whatever waited only for it starts now.
        for next in self.next_to_start(Some(i)) {
            self.programme[next].restart = Some(self.now);
        }
        self.notice(format!("{key} broken off"));
        self.expect();
    }

    fn reinstate(&mut self, key: &Name) {
        let Some(i) = self.position(key).filter(|&i| self.programme[i].dropped) else {
            return;
        };
        // It can only come back where nothing after it has begun.
        let passed = (i + 1..self.programme.len())
            .any(|later| !self.programme[later].dropped && self.is_begun(later));
        let mut flying = self.programme.remove(i);
        flying.dropped = false;
        flying.held = self.is_held_up();
        let at = if passed { self.next_unflown() } else { i };
        self.programme.insert(at.min(self.programme.len()), flying);
        self.notice(format!("{key} is flown after all"));
        self.refly();
    }

    /// Where in the programme the next figure not yet begun is.
    fn next_unflown(&self) -> usize {
        self.unflown()
            .first()
            .copied()
            .unwrap_or(self.programme.len())
    }

    fn repeat(&mut self, figure: &Name) {
        if !self.may_fly(figure) {
            return;
        }
        let at = self.next_unflown();
        self.add(figure, at);
        self.hand_on_restart(at);
        self.notice(format!("{figure} is flown once more"));
        self.refly();
    }

    /// An entry put before one that was told when to start takes that start over.
    fn hand_on_restart(&mut self, at: usize) {
        let later = self
            .programme
            .get_mut(at + 1)
            .and_then(|next| next.restart.take());
        if let Some(flying) = self.programme.get_mut(at) {
            flying.restart = later;
        }
    }

    fn insert(&mut self, figure: &Name, before: Option<&Name>) {
        if !self.may_fly(figure) {
            return;
        }
        let at = match before {
            Some(key) => match self.position(key).filter(|&i| !self.is_begun(i)) {
                Some(at) => at,
                None => return self.has_begun(key),
            },
            None => self.programme.len(),
        };
        self.add(figure, at);
        self.hand_on_restart(at);
        self.notice(format!("{figure} put into the programme"));
        self.refly();
    }

    /// Whether there is such a figure and the site permits it; if not that, says so.
    fn may_fly(&mut self, figure: &Name) -> bool {
        let Some(found) = self.show.figure(figure) else {
            return false;
        };
        let permitted = self.show.site.permits(found);
        if !permitted {
            self.notice(format!("{figure} is not permitted at this site"));
        }
        permitted
    }

    fn add(&mut self, figure: &Name, at: usize) {
        let flown = self
            .programme
            .iter()
            .filter(|flying| flying.entry.figure == *figure)
            .count();
        // Keys are never used twice, or a mark could be taken for another flying's.
        let key = (flown..)
            .map(|n| Entry::key_of(figure, n))
            .find(|key| self.position(key).is_none());
        // As it was flown before; a figure new to the programme as what is flown there.
        let before = self
            .programme
            .iter()
            .rev()
            .find(|flying| flying.entry.figure == *figure);
        let there = self.programme.get(at).or(self.programme.last());
        let like = before.or(there);
        let (profile, mirrored) = like.map_or((self.show.profile.clone(), false), |flying| {
            (flying.entry.profile.clone(), flying.entry.mirrored)
        });
        let mut flying = Flying::new(Entry {
            key: key.unwrap_or_else(|| figure.clone()),
            figure: figure.clone(),
            profile,
            mirrored,
        });
        flying.held = self.is_held_up();
        self.programme.insert(at, flying);
    }

    fn swap(&mut self, first: &Name, second: &Name) {
        let unflown = self.unflown();
        let at = |key| self.position(key).filter(|i| unflown.contains(i));
        let (Some(a), Some(b)) = (at(first), at(second)) else {
            let begun = if at(first).is_none() { first } else { second };
            return self.has_begun(begun);
        };
        self.programme.swap(a, b);
        // What was told to start stays with the place in the programme, not with the figure.
        let restart = self.programme[a].restart;
        self.programme[a].restart = self.programme[b].restart;
        self.programme[b].restart = restart;
        self.notice(format!("{first} and {second} change places"));
        self.refly();
    }

    fn mirror(&mut self, key: &Name) {
        let unflown = self.unflown();
        let Some(i) = self.position(key).filter(|i| unflown.contains(i)) else {
            return self.has_begun(key);
        };
        let entry = &mut self.programme[i].entry;
        entry.mirrored = !entry.mirrored;
        self.notice(format!("{key} is flown from the other side"));
        self.refly();
    }

    fn change_profile(&mut self, name: &Name) {
        if self.show.profile(name).is_none() {
            return;
        }
        let held = self.is_held_up();
        let unflown = self.unflown();
        let restart = unflown.first().and_then(|&i| self.programme[i].restart);
        let mirrored = unflown
            .first()
            .is_some_and(|&i| self.programme[i].entry.mirrored);
        let mut index = 0;
        self.programme.retain(|_| {
            index += 1;
            !unflown.contains(&(index - 1))
        });
        let flown: Vec<Name> = self
            .programme
            .iter()
            .map(|f| f.entry.figure.clone())
            .collect();
        let mut rest: Vec<Flying> = flight::entries(&self.show, name)
            .into_iter()
            .filter(|entry| !flown.contains(&entry.figure))
            .map(|entry| Flying {
                held,
                ..Flying::new(Entry { mirrored, ..entry })
            })
            .collect();
        if let Some(first) = rest.first_mut() {
            first.restart = restart;
        }
        self.programme.append(&mut rest);
        self.notice(format!("Profile {name} from here on"));
        self.refly();
    }

    /// After a delay, what can start starts now, if it would not start later anyway.
    pub(super) fn restart_first_unflown(&mut self) {
        for i in self.next_to_start(None) {
            if self.start_of(i).is_some_and(|start| start < self.now) {
                self.programme[i].restart = Some(self.now);
            }
        }
    }

    /// Entries not begun that wait for none that is not over: what can start when somebody says so. `over`
    /// is over whatever the estimate says.
    fn next_to_start(&self, over: Option<usize>) -> Vec<usize> {
        let unflown = self.unflown();
        let is_ahead = |figure: &usize| {
            let entry = self.chains.entries[*figure];
            entry.is_some_and(|entry| Some(entry) != over && !self.is_over(entry))
        };
        let figures = self.chains.entries.iter().zip(&self.chains.places);
        figures
            .filter_map(|(entry, place)| Some(((*entry)?, place)))
            .filter(|(entry, place)| {
                unflown.contains(entry)
                    && !place.behind.iter().any(is_ahead)
                    && !(place.stated && self.hangs_on(*entry, &unflown))
            })
            .map(|(entry, _)| entry)
            .collect()
    }

    /// Whether the document has an entry start by a point of one of `others`.
    fn hangs_on(&self, entry: usize, others: &[usize]) -> bool {
        let figure = self.show.figure(&self.programme[entry].entry.figure);
        let starts = figure.and_then(|figure| figure.starts.as_ref());
        let Some(Anchor::Point { of, .. }) = starts.map(|starts| &starts.anchor) else {
            return false;
        };
        let mut others = others.iter().filter(|&&other| other != entry);
        others.any(|&other| self.programme[other].entry.figure == *of)
    }

    /// Whether an entry has been flown, or broken off.
    fn is_over(&self, i: usize) -> bool {
        let flying = &self.programme[i];
        let times = self
            .moments
            .figures
            .iter()
            .find(|figure| figure.key == flying.entry.key);
        flying.broken.is_some()
            || !flying.held && times.is_some_and(|times| times.end() <= self.now)
    }

    /// Says that an entry is begun and cannot be changed any more.
    fn has_begun(&mut self, key: &Name) {
        self.notice(format!("{key} has begun: choose one that is to come"));
    }
}
