//! Changes of the document.

use std::path::PathBuf;

use toml_edit::{Array, Value};

use super::thing::{FADE_STEP, LEVEL_STEP};
use super::{Amount, NO_BEATS, Spotting, Thing, place_text};
use crate::show::edit::{Draft, EditError, Place};
use crate::show::{Name, TimeExpression};
use crate::sound::Vamping;
use crate::units::{Gain, Span};

/// Bar lines the document states and ends of a vamp that was found are the same within this.
const SAME_LINE: Span = Span::from_ms(60);

impl Spotting {
    /// Sets a hit at a place, chooses it, and gives its name.
    pub fn add_hit(&mut self, at: Span) -> Option<Name> {
        let taken = |name: &String| {
            let hits = self.track().map(|track| track.hits.as_slice());
            let hits = hits.unwrap_or_default();
            hits.iter().any(|(hit, _)| hit == name.as_str())
        };
        let mut names = (1..).map(|count| format!("hit_{count}"));
        let name = names.find(|name| !taken(name))?;
        let place = Thing::Hit(name.as_str().into()).place(&self.track);
        let text = place_text(at);
        let said = format!("hit {name} set at {text}");
        self.change(None, said, |draft| draft.set(&place, text.as_str()))?;
        self.choose_thing(&Thing::Hit(name.as_str().into()));
        Some(name.as_str().into())
    }

    /// Adds a place where the track may begin.
    pub fn add_entry(&mut self, at: Span) {
        let count = self.track().map_or(0, |track| track.entries.len());
        let text = place_text(at);
        let said = format!("it may begin at {text}");
        let place = Thing::Entry(count).place(&self.track);
        let list = self.entries_as_they_are();
        let changed = self.change(None, said, |draft| {
            list.write(draft)?;
            draft.set(&place, text.as_str())
        });
        if changed.is_some() {
            self.choose_thing(&Thing::Entry(count));
        }
    }

    /// Moves the chosen thing by so many steps; the playhead goes with a place.
    pub fn nudge(&mut self, steps: i32) {
        let Some((thing, amount)) = self.chosen_amount() else {
            return;
        };
        let amount = match amount {
            Amount::Place(at) => match self.moved(at, steps) {
                Some(at) => Amount::Place(at),
                None => return self.complain(NO_BEATS),
            },
            Amount::After(offset) => match self.later(offset, steps, self.playhead) {
                Some(offset) => Amount::After(offset),
                None => return self.complain(NO_BEATS),
            },
            Amount::Takes(takes) => {
                Amount::Takes((takes + FADE_STEP * f64::from(steps)).max(Span::ZERO))
            }
            Amount::Level(level) => {
                let by = LEVEL_STEP.db() * f64::from(steps);
                Amount::Level(Gain::from_db(level.db() + by))
            }
        };
        self.set(thing, amount);
    }

    /// Brings the chosen place to another.
    pub fn bring(&mut self, at: Span) {
        match self.chosen_amount() {
            Some((thing, Amount::Place(_))) => {
                self.moving = None;
                self.set(thing, Amount::Place(at));
            }
            _ => self.complain("what is chosen is no place: choose a hit, an entry or the vamp"),
        }
    }

    /// Takes the chosen thing away.
    pub fn remove(&mut self) {
        let Some(thing) = self.chosen() else {
            return;
        };
        let place = match &thing {
            // Half a vamp is none.
            Thing::VampFrom | Thing::VampTo => {
                Place::item("track", self.track.as_str()).key("vamp")
            }
            thing => thing.place(&self.track),
        };
        let said = format!("{} taken away", thing.title());
        self.change(None, said, |draft| draft.remove(&place));
        self.choose(0);
    }

    /// Begins to type a name for the chosen hit.
    pub fn begin_naming(&mut self) {
        match self.chosen() {
            Some(Thing::Hit(_)) => {
                self.naming = Some(String::new());
                self.proposal = None;
            }
            _ => self.complain("only hits have names: choose one"),
        }
    }

    /// Types a letter of the name; none takes one away.
    pub fn type_letter(&mut self, letter: Option<char>) {
        if let Some(name) = &mut self.naming {
            match letter {
                Some(' ') => name.push('_'),
                Some(letter) => name.push(letter),
                None => {
                    name.pop();
                }
            }
        }
    }

    /// Leaves the name as it was.
    pub fn leave_naming(&mut self) {
        self.naming = None;
    }

    /// Gives the chosen hit the name that was typed, wherever the document speaks of it.
    pub fn name_it(&mut self) {
        let (Some(name), Some(Thing::Hit(old))) = (self.naming.take(), self.chosen()) else {
            return;
        };
        if name.is_empty() || old == name.as_str() {
            return;
        }
        let said = format!("hit {old} is called {name} now");
        let (show, track) = (self.show.clone(), self.track.clone());
        let changed = self.change(None, said, |draft| {
            draft.rename_hit(&show, &track, &old, &name)
        });
        if changed.is_some() {
            self.choose_thing(&Thing::Hit(name.as_str().into()));
        }
    }

    /// Makes the vamp that is looked at that of the track.
    pub fn take_vamp(&mut self) {
        let Some((found, ..)) = self.proposal() else {
            return;
        };
        let (from, to, step) = self.as_written(&found);
        let vamp = Place::item("track", self.track.as_str()).key("vamp");
        let said = format!("the vamp is from {from} to {to}");
        let changed = self.change(None, said, |draft| {
            draft.set(&vamp.clone().key("from"), from.as_str())?;
            draft.set(&vamp.clone().key("to"), to.as_str())?;
            draft.set(&vamp.key("step"), step.as_str())
        });
        if changed.is_some() {
            self.proposal = None;
            self.choose_thing(&Thing::VampTo);
        }
    }

    /// On the bar lines that the document states, if its ends are there; else as it was found. A vamp of
    /// unlike bars goes back as a whole.
    fn as_written(&self, found: &Vamping) -> (String, String, String) {
        let length = found.to - found.from;
        let bar = length / f64::from(found.bars.max(1));
        let step = if found.even { bar } else { length };
        let text = |step: Span| format!("{} s", step.us() as f64 / 1e6);
        let as_found = (place_text(found.from), place_text(found.to), text(step));
        let Some(bars) = self.track().and_then(|track| track.bars) else {
            return as_found;
        };
        let line = |at: Span| {
            let count = (at - bars.first).us() as f64 / bars.length.us().max(1) as f64;
            let line = bars.first + bars.length * count.round();
            ((line - at).abs() <= SAME_LINE).then_some(line)
        };
        match (line(found.from), line(found.to)) {
            (Some(from), Some(to)) if to > from => {
                let step = if found.even {
                    "bar".into()
                } else {
                    text(to - from)
                };
                (place_text(from), place_text(to), step)
            }
            _ => as_found,
        }
    }

    /// Undoes the last change.
    pub fn undo(&mut self) {
        let what = self.manuscript.undo().map(str::to_owned);
        self.after_turning("undone", what);
    }

    /// Makes the last change that was undone again.
    pub fn redo(&mut self) {
        let what = self.manuscript.redo().map(str::to_owned);
        self.after_turning("done again", what);
    }

    fn after_turning(&mut self, turned: &str, what: Option<String>) {
        self.moving = None;
        match what {
            Some(what) => {
                self.read_again();
                self.choose(0);
                self.say(format!("{turned}: {what}"));
            }
            None => self.complain(format!("nothing is left to be {turned}")),
        }
    }

    /// Writes the document. What cannot be written stays here and can be written later.
    ///
    /// # Errors
    /// When the file is another's by now, or cannot be written.
    pub fn write(&mut self) -> Result<(), EditError> {
        self.manuscript.save()?;
        let name = self.manuscript.name();
        self.say(format!("{name} is written: in force from the next start"));
        Ok(())
    }

    /// Writes the document to a file of its own beside the one it came from.
    ///
    /// # Errors
    /// When that cannot be written.
    pub fn write_beside(&self) -> Result<PathBuf, EditError> {
        self.manuscript.save_beside()
    }

    /// What was changed and is not written, in words.
    pub fn unwritten(&self) -> impl Iterator<Item = &str> {
        self.manuscript.unsaved()
    }

    fn chosen_amount(&self) -> Option<(Thing, Amount)> {
        let thing = self.chosen()?;
        let amount = self.amount(&thing)?;
        Some((thing, amount))
    }

    fn choose_thing(&mut self, thing: &Thing) {
        if let Some(chosen) = self.things().iter().position(|other| other == thing) {
            self.chosen = chosen;
            self.go_to_chosen();
        }
    }

    fn set(&mut self, thing: Thing, amount: Amount) {
        let place = thing.place(&self.track);
        let text = self.text_of(&thing, amount);
        let said = format!("{} {text}", thing.title());
        let list = match thing {
            Thing::Entry(_) => self.entries_as_they_are(),
            _ => Unwritten::Nothing,
        };
        let changed = self.change(Some(thing.clone()), said, |draft| {
            list.write(draft)?;
            draft.set(&place, text.as_str())
        });
        if changed.is_some() {
            // Hits are listed in order of time: the chosen one may have another place now.
            self.choose_thing(&thing);
            self.moving = Some(thing);
        }
    }

    /// What the document says of a thing that is set to an amount.
    fn text_of(&self, thing: &Thing, amount: Amount) -> String {
        let time = self.track().and_then(|track| thing.time(track));
        match (time, amount) {
            (Some(time), Amount::After(offset)) => TimeExpression {
                offset,
                ..time.clone()
            }
            .to_string(),
            _ => amount.text(),
        }
    }

    /// The list of entries, where the document leaves it out.
    fn entries_as_they_are(&self) -> Unwritten {
        let place = Place::item("track", self.track.as_str()).key("entries");
        if self.manuscript.get(&place).is_some() {
            return Unwritten::Nothing;
        }
        let entries = self.track().map(|track| track.entries.clone());
        let texts = entries.unwrap_or_default().into_iter().map(place_text);
        Unwritten::List(place, texts.collect())
    }

    /// Makes a change and says so; `moved` is gone on with if it was what the last change moved.
    fn change(
        &mut self,
        moved: Option<Thing>,
        said: String,
        edit: impl FnOnce(&mut Draft) -> Result<(), EditError>,
    ) -> Option<()> {
        let goes_on = moved.is_some() && moved == self.moving;
        let changed = if goes_on {
            self.manuscript.go_on(&said, edit)
        } else {
            self.manuscript.change(&said, edit)
        };
        match changed {
            Ok(()) => {
                self.moving = None;
                self.read_again();
                self.say(said);
                Some(())
            }
            Err(error) => {
                self.complain(error.to_string());
                None
            }
        }
    }

    fn read_again(&mut self) {
        if let Ok(show) = self.manuscript.show() {
            self.show = show;
        }
    }
}

/// What has to be written before something can be put into it.
enum Unwritten {
    Nothing,
    List(Place, Vec<String>),
}

impl Unwritten {
    fn write(self, draft: &mut Draft) -> Result<(), EditError> {
        match self {
            Unwritten::Nothing => Ok(()),
            Unwritten::List(place, texts) => {
                let list: Array = texts.into_iter().collect();
                draft.set(&place, Value::Array(list))
            }
        }
    }
}
