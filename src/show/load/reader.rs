//! Reads tables of a document key by key and collects what is wrong with them, each fault at its bytes.

use std::cell::{Cell, RefCell};
use std::ops::Range;

use toml::de::DeTable;

pub(super) use super::item::Item;
use super::item::read_name;
use super::wording::{nearest, quoted};
use crate::show::{Fault, Name, Severity};

/// Faults kept; a document with more is not a show document at all.
const MOST_FAULTS: usize = 1000;
/// Faults after which no nearest name is looked for: with many names that is slow.
const MOST_SUGGESTIONS: usize = 100;

/// Things of one kind, or elements of one list, that are read: what is compared with each other stays quick.
pub(super) const MOST_LISTED: usize = 2000;

/// What is wrong, as it is found.
pub(super) struct Faults {
    /// The document is not TOML throughout: what is missing or unknown may only be misread,
    /// so only wrong values are told.
    pub(super) broken: bool,
    list: RefCell<Vec<Fault>>,
    found: Cell<usize>,
}

impl Faults {
    /// None yet.
    pub(super) fn new(broken: bool) -> Self {
        Faults {
            broken,
            list: RefCell::default(),
            found: Cell::default(),
        }
    }

    /// Notes a fault.
    pub(super) fn add(&self, fault: Fault) {
        self.found.set(self.found.get() + 1);
        let mut list = self.list.borrow_mut();
        if list.len() < MOST_FAULTS {
            list.push(fault);
        }
    }

    /// How many were found so far.
    pub(super) fn count(&self) -> usize {
        self.found.get()
    }

    /// The faults, in the order of the document.
    pub(super) fn into_list(self) -> Vec<Fault> {
        let mut list = self.list.into_inner();
        list.sort_by_key(|fault| fault.at.as_ref().map_or(usize::MAX, |at| at.start));
        let more = self.found.get().saturating_sub(list.len());
        if more > 0 {
            list.push(Fault {
                severity: Severity::Error,
                message: format!("and {more} more faults"),
                help: String::new(),
                at: None,
            });
        }
        list
    }

    /// ``did you mean `speed`?``, or what else there is to choose from.
    pub(super) fn did_you_mean<'k>(
        &self,
        word: &str,
        known: impl IntoIterator<Item = &'k str>,
        what: &str,
    ) -> String {
        if self.count() > MOST_SUGGESTIONS {
            return String::new();
        }
        let known: Vec<&str> = known.into_iter().collect();
        match nearest(word, &known) {
            Some(near) => format!("did you mean `{near}`?"),
            None if known.is_empty() => {
                let noun = what.strip_suffix(" are").unwrap_or(what);
                let noun = noun.strip_prefix("the ").or(noun.strip_prefix("its "));
                format!("there are no {} yet", noun.unwrap_or(what))
            }
            None if known.len() <= 24 => format!("{what}: `{}`", known.join("`, `")),
            None => String::new(),
        }
    }
}

/// One table, and the keys asked for so far.
pub(super) struct Section<'d> {
    /// What it is, in a sentence: "a run leg".
    pub(super) what: &'static str,
    /// Bytes that state it: its header or its braces.
    pub(super) at: Range<usize>,
    pub(super) faults: &'d Faults,
    table: &'d DeTable<'d>,
    asked: Vec<&'static str>,
}

impl<'d> Section<'d> {
    pub(super) fn new(
        what: &'static str,
        table: &'d DeTable<'d>,
        at: Range<usize>,
        faults: &'d Faults,
    ) -> Self {
        Section {
            what,
            at,
            faults,
            table,
            asked: Vec::new(),
        }
    }

    /// Whether `key` is written.
    pub(super) fn has(&self, key: &str) -> bool {
        self.table.get(key).is_some()
    }

    /// The id it gives itself, fit or not, and its bytes.
    pub(super) fn id(&self) -> Option<(&'d str, Range<usize>)> {
        let value = self.table.get("id")?;
        Some((value.get_ref().as_str()?, value.span()))
    }

    /// What is written at `key`.
    pub(super) fn get(&mut self, key: &'static str) -> Option<Item<'d>> {
        self.asked.push(key);
        let (written, value) = self.table.get_key_value(key)?;
        Some(Item {
            key,
            key_at: written.span(),
            element: false,
            what: self.what,
            value,
            faults: self.faults,
        })
    }

    /// What is written at `key`; a fault if nothing is.
    pub(super) fn must(&mut self, key: &'static str, example: &str) -> Option<Item<'d>> {
        let item = self.get(key);
        if item.is_none() && !self.faults.broken {
            self.faults.add(
                Fault::error(self.at.clone(), format!("{} needs `{key}`", self.what))
                    .help(format!("write {key} = {example}")),
            );
        }
        item
    }

    /// The text at `key`; a fault if there is none or it is empty.
    pub(super) fn must_text(&mut self, key: &'static str, example: &str) -> Option<String> {
        let item = self.must(key, example)?;
        let text = item.text()?;
        if text.trim().is_empty() {
            item.fault(format!("`{key}` of {} is empty", self.what))
                .help(format!("write {key} = {example}"))
                .add(self.faults);
        }
        Some(text.to_owned())
    }

    /// Its tables at `key`, written `[[key]]`.
    pub(super) fn sections(&mut self, key: &'static str, what: &'static str) -> Vec<Section<'d>> {
        let Some(item) = self.get(key) else {
            return Vec::new();
        };
        if item.value.get_ref().is_table() {
            item.fault(format!(
                "`{key}` comes many times, so its header has two brackets"
            ))
            .help(format!("write [[{key}]]"))
            .add(self.faults);
            return Vec::new();
        }
        let items = item.list(&format!("written [[{key}]]"));
        items.iter().filter_map(|item| item.table(what)).collect()
    }

    /// Its table at `key`, written `[key]`.
    pub(super) fn section(&mut self, key: &'static str, what: &'static str) -> Option<Section<'d>> {
        let item = self.get(key)?;
        if item.value.get_ref().is_array() {
            item.fault(format!("`{key}` comes only once, with single brackets"))
                .help(format!("write [{key}]"))
                .add(self.faults);
            return None;
        }
        item.table(what)
    }

    /// Everything in it whose names the show chooses itself, in the order of the document.
    pub(super) fn named(self) -> Vec<(Name, Item<'d>)> {
        let mut items: Vec<(Name, Item<'d>)> = Vec::new();
        for (written, value) in self.table {
            let item = Item {
                key: written.get_ref(),
                key_at: written.span(),
                element: false,
                what: self.what,
                value,
                faults: self.faults,
            };
            if let Some(name) = read_name(written.get_ref(), written.span(), self.faults) {
                items.push((name, item));
            }
        }
        items.sort_by_key(|(_, item)| item.key_at.start);
        if let Some((_, item)) = items.get(MOST_LISTED) {
            Fault::error(item.key_at.clone(), too_many(self.what)).add(self.faults);
        }
        items.truncate(MOST_LISTED);
        items
    }

    /// Reports every key nobody asked for.
    pub(super) fn finish(self) {
        if self.faults.broken {
            return;
        }
        for (written, _) in self.table {
            let key: &str = written.get_ref();
            if !self.asked.contains(&key) {
                let help =
                    self.faults
                        .did_you_mean(key, self.asked.iter().copied(), "the keys here are");
                self.faults.add(
                    Fault::error(
                        written.span(),
                        format!("unknown key `{}` in {}", quoted(key), self.what),
                    )
                    .help(help),
                );
            }
        }
    }
}

impl Fault {
    /// Adds it to `faults`.
    pub(super) fn add(self, faults: &Faults) {
        faults.add(self);
    }
}

/// What is said of a list that is too long.
pub(super) fn too_many(what: &str) -> String {
    format!("{what} has more than {MOST_LISTED} entries, and no show needs so many")
}
