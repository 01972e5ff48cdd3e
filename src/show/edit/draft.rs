//! A change being made: text put in place of other text, and nothing else touched.

use std::ops::Range;

use toml_edit::{Document, Key, Value};

use super::EditError;
use super::place::{Place, Step, Way, entries, find};

/// Text put in place of other text.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Splice {
    at: usize,
    before: String,
    after: String,
}

impl Splice {
    pub fn undo(&self, text: &mut String) {
        text.replace_range(self.at..self.at + self.after.len(), &self.before);
    }

    pub fn redo(&self, text: &mut String) {
        text.replace_range(self.at..self.at + self.before.len(), &self.after);
    }
}

/// A document's text while a change is made to it.
pub struct Draft {
    pub(super) text: String,
    pub(super) splices: Vec<Splice>,
}

/// Where something new is written, and what stands before and after it.
struct Gap {
    at: Range<usize>,
    text: String,
}

impl Draft {
    pub(super) fn new(text: &str) -> Draft {
        Draft {
            text: text.to_owned(),
            splices: Vec::new(),
        }
    }

    /// Puts a value at a place, whether or not there is one already. Tables that are not there are made,
    /// except those of a list.
    ///
    /// # Errors
    /// When something on the way is not there and cannot be made, or is no table.
    pub fn set(&mut self, place: &Place, value: impl Into<Value>) -> Result<(), EditError> {
        let value = value.into().decorated("", "").to_string();
        let document = parse(&self.text)?;
        let way = find(document.as_table(), place).map_err(EditError::NoPlace)?;
        let gap = match way.rest.as_slice() {
            [] => {
                let old = way.end.value().and_then(Value::span);
                let old = old.ok_or_else(|| {
                    EditError::NoPlace(format!("{place} is a table of several values"))
                })?;
                Gap {
                    at: old,
                    text: value,
                }
            }
            [Step::At(_)] => self.new_element(&way, value)?,
            rest => {
                let keys: Option<Vec<String>> = rest
                    .iter()
                    .map(|step| match step {
                        Step::Key(key) => Some(key.clone()),
                        _ => None,
                    })
                    .collect();
                let keys =
                    keys.ok_or_else(|| EditError::NoPlace(format!("there is no list at {place}")))?;
                self.new_entry(&way, &keys, &value)?
            }
        };
        self.put(gap);
        Ok(())
    }

    /// Takes away what stands at a place: the whole line, or what is between two commas.
    ///
    /// # Errors
    /// When nothing stands there.
    pub fn remove(&mut self, place: &Place) -> Result<(), EditError> {
        let document = parse(&self.text)?;
        let way = find(document.as_table(), place).map_err(EditError::NoPlace)?;
        let missing = || EditError::NoPlace(format!("there is no {place}"));
        let value = way.end.value().filter(|_| way.rest.is_empty());
        let span = value.and_then(Value::span).ok_or_else(missing)?;
        let at = match (&way.list, way.base) {
            (Some((list, _)), _) => {
                let all = list.elements().unwrap_or_default();
                let all: Vec<_> = all.iter().filter_map(|node| node.span()).collect();
                self.between_commas(list.span().ok_or_else(missing)?, &all, span)
            }
            (None, base) if base.value().is_some() => {
                let all = base.table().map(entries).unwrap_or_default();
                self.between_commas(base.span().ok_or_else(missing)?, &all, span)
            }
            _ => {
                let key = way.key.and_then(Key::span).ok_or_else(missing)?;
                self.line_start(key.start)..self.line_end(span.end)
            }
        };
        self.put(Gap {
            at,
            text: String::new(),
        });
        Ok(())
    }

    /// Gives another name to the key at a place.
    ///
    /// # Errors
    /// When nothing stands there, or something stands at the new name already.
    pub fn rename(&mut self, place: &Place, name: &str) -> Result<(), EditError> {
        let document = parse(&self.text)?;
        let way = find(document.as_table(), place).map_err(EditError::NoPlace)?;
        let key = way.key.filter(|_| way.rest.is_empty()).and_then(Key::span);
        let at = key.ok_or_else(|| EditError::NoPlace(format!("there is no {place}")))?;
        let mut other = place.clone();
        other.0.pop();
        let other = other.key(name);
        let taken = find(document.as_table(), &other).is_ok_and(|way| way.rest.is_empty());
        if taken {
            return Err(EditError::NoPlace(format!("there is {other} already")));
        }
        self.put(Gap {
            at,
            text: written(name),
        });
        Ok(())
    }

    /// Puts text in the place of other text.
    pub(super) fn replace(&mut self, at: Range<usize>, text: String) {
        self.put(Gap { at, text });
    }

    fn put(&mut self, gap: Gap) {
        let splice = Splice {
            at: gap.at.start,
            before: self.text[gap.at].to_owned(),
            after: gap.text,
        };
        splice.redo(&mut self.text);
        self.splices.push(splice);
    }

    fn new_element(&self, way: &Way<'_>, value: String) -> Result<Gap, EditError> {
        let list = way.list.and_then(|(list, _)| list.value());
        let span = list.and_then(Value::span);
        let span = span.ok_or_else(|| {
            EditError::NoPlace("to a list of tables nothing can be added here".into())
        })?;
        let last = list
            .and_then(Value::as_array)
            .and_then(|array| array.iter().last()?.span());
        Ok(match last {
            Some(last) => Gap {
                at: last.end..last.end,
                text: format!(", {value}"),
            },
            None => Gap {
                at: span,
                text: format!("[{value}]"),
            },
        })
    }

    /// Where a new entry goes: behind the others of its table, written as they are.
    fn new_entry(&self, way: &Way<'_>, keys: &[String], value: &str) -> Result<Gap, EditError> {
        let table = way.end.table().ok_or_else(|| {
            EditError::NoPlace(format!("`{}` can only be put into a table", keys.join(".")))
        })?;
        let header = way.base.span();
        if way.is_root() && keys.len() > 1 {
            return Ok(self.new_table(&keys[0], &in_braces(&keys[1..], value)));
        }
        let dotted = way.dotted.iter().map(|key| written(key) + ".");
        let entry = dotted.collect::<String>() + &in_braces(keys, value);
        if let Some(braces) = way.base.value().and_then(Value::span) {
            let last = way.base.table().and_then(|base| entries(base).pop());
            return Ok(match last {
                Some(last) => Gap {
                    at: last.end..last.end,
                    text: format!(", {entry}"),
                },
                None => Gap {
                    at: braces,
                    text: format!("{{ {entry} }}"),
                },
            });
        }
        match (entries(table).last(), header) {
            (Some(last), _) => Ok(self.new_line(last.end, Some(last.start), &entry)),
            (None, _) if way.is_root() => Ok(Gap {
                at: 0..0,
                text: entry + self.newline(),
            }),
            (None, Some(header)) => Ok(self.new_line(header.end, None, &entry)),
            (None, None) => Err(EditError::NoPlace(format!(
                "`{entry}` has no table with a header to stand in"
            ))),
        }
    }

    /// A table of its own behind everything.
    fn new_table(&self, name: &str, entry: &str) -> Gap {
        let (end, newline) = (self.text.len(), self.newline());
        let first = match self.text.as_str() {
            "" => "",
            text if text.ends_with('\n') => newline,
            _ => &newline.repeat(2),
        };
        Gap {
            at: end..end,
            text: format!("{first}[{}]{newline}{entry}{newline}", written(name)),
        }
    }

    /// A line below the one `after` is in; its sign of equality stands below that of the value at `like`.
    fn new_line(&self, after: usize, like: Option<usize>, entry: &str) -> Gap {
        let (end, newline) = (self.line_end(after), self.newline());
        let mut entry = entry.to_owned();
        let mut indent = "";
        if let Some((line, (key, value))) = like
            .map(|like| &self.text[self.line_start(like)..like])
            .zip(entry.split_once(" = "))
        {
            indent = &line[..line.len() - line.trim_start().len()];
            let equals = line.rfind('=').map_or(0, |at| line[..at].chars().count());
            let wide = equals.saturating_sub(indent.chars().count() + 1);
            entry = format!("{key:<wide$} = {value}");
        }
        let first = if self.text[..end].ends_with('\n') {
            ""
        } else {
            newline
        };
        Gap {
            at: end..end,
            text: format!("{first}{indent}{entry}{newline}"),
        }
    }

    /// The bytes to take out so that the others of a list in brackets or braces stay with their commas.
    fn between_commas(
        &self,
        list: Range<usize>,
        all: &[Range<usize>],
        span: Range<usize>,
    ) -> Range<usize> {
        let i = all.iter().position(|other| *other == span).unwrap_or(0);
        if let Some(before) = i.checked_sub(1).and_then(|before| all.get(before)) {
            return before.end..span.end;
        }
        let blank = |from: usize| {
            let rest = &self.text[from..];
            from + (rest.len() - rest.trim_start().len())
        };
        let open = list.start + 1;
        match all.get(1) {
            None => open..blank(span.end),
            Some(_) => {
                let comma = self.text[span.end..].find(',').map_or(0, |at| at + 1);
                blank(open)..blank(span.end + comma)
            }
        }
    }

    fn line_start(&self, byte: usize) -> usize {
        self.text[..byte].rfind('\n').map_or(0, |at| at + 1)
    }

    /// Behind the line's end.
    fn line_end(&self, byte: usize) -> usize {
        let rest = self.text[byte..].find('\n');
        rest.map_or(self.text.len(), |at| byte + at + 1)
    }

    fn newline(&self) -> &'static str {
        if self.text.contains("\r\n") {
            "\r\n"
        } else {
            "\n"
        }
    }
}

/// `last_verse = "0:48.000"`; of several keys the first, and the others in braces:
/// `hits = { last_verse = "0:48.000" }`.
fn in_braces(keys: &[String], value: &str) -> String {
    let mut text = value.to_owned();
    for (i, key) in keys.iter().enumerate().rev() {
        text = format!("{} = {text}", written(key));
        if i > 0 {
            text = format!("{{ {text} }}");
        }
    }
    text
}

/// A key as it is written.
fn written(key: &str) -> String {
    Key::new(key).display_repr().into_owned()
}

/// Whether a key needs no quotes (TOML 1.0, bare keys).
pub(super) fn is_bare(key: &str) -> bool {
    written(key) == key
}

pub(super) fn parse(text: &str) -> Result<Document<&str>, EditError> {
    Document::parse(text).map_err(|error| EditError::NotToml(error.message().to_owned()))
}
