//! Places in a document, and where they are in its text.

use std::fmt;
use std::ops::Range;

use toml_edit::{Item, Key, Table, TableLike, Value};

/// A place in a document: the keys that lead to it.
///
/// ```
/// use abeam::show::edit::Place;
///
/// let hit = Place::item("track", "hymn").key("hits").key("last_verse");
/// assert_eq!(hit.to_string(), "track hymn: hits.last_verse");
/// let spread = Place::item("figure", "memorial").key("legs").at(0).key("spread");
/// assert_eq!(spread.to_string(), "figure memorial: legs[0].spread");
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Place(pub(super) Vec<Step>);

/// One step towards a place.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Step {
    /// To what stands at a key.
    Key(String),
    /// To the table with this `id` of those written `[[list]]`.
    Item { list: String, id: String },
    /// To an element of a list, counted from 0.
    At(usize),
}

impl Place {
    /// What stands at a key of the document itself: `[day]`.
    pub fn top(key: impl Into<String>) -> Place {
        Place::default().key(key)
    }

    /// The table with the given `id` of those written `[[list]]`.
    pub fn item(list: impl Into<String>, id: impl Into<String>) -> Place {
        Place(vec![Step::Item {
            list: list.into(),
            id: id.into(),
        }])
    }

    /// What stands at a key of the table at this place.
    pub fn key(mut self, key: impl Into<String>) -> Place {
        self.0.push(Step::Key(key.into()));
        self
    }

    /// An element of the list at this place, counted from 0; the one after the last is a new one.
    pub fn at(mut self, index: usize) -> Place {
        self.0.push(Step::At(index));
        self
    }
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (i, step) in self.0.iter().enumerate() {
            match (step, i.checked_sub(1).and_then(|before| self.0.get(before))) {
                (Step::Item { list, id }, _) => write!(f, "{list} {id}")?,
                (Step::Key(key), None) => f.write_str(key)?,
                (Step::Key(key), Some(Step::Item { .. })) => write!(f, ": {key}")?,
                (Step::Key(key), Some(_)) => write!(f, ".{key}")?,
                (Step::At(index), _) => write!(f, "[{index}]")?,
            }
        }
        Ok(())
    }
}

/// Something in a document that has been found.
#[derive(Clone, Copy)]
pub(super) enum Node<'d> {
    Item(&'d Item),
    Table(&'d Table),
    Value(&'d Value),
}

impl<'d> Node<'d> {
    /// As a table, whichever way it is written.
    pub fn table(self) -> Option<&'d dyn TableLike> {
        match self {
            Node::Item(item) => item.as_table_like(),
            Node::Table(table) => Some(table),
            Node::Value(value) => value.as_inline_table().map(|table| table as &dyn TableLike),
        }
    }

    /// As a value with bytes of its own: no table of several lines.
    pub fn value(self) -> Option<&'d Value> {
        let value = match self {
            Node::Item(item) => item.as_value()?,
            Node::Value(value) => value,
            Node::Table(_) => return None,
        };
        let dotted = value
            .as_inline_table()
            .is_some_and(|table| table.is_dotted());
        (!dotted).then_some(value)
    }

    /// Its elements, if it is a list.
    pub fn elements(self) -> Option<Vec<Node<'d>>> {
        match self {
            Node::Item(Item::ArrayOfTables(tables)) => {
                Some(tables.iter().map(Node::Table).collect())
            }
            node => {
                let array = node.value()?.as_array()?;
                Some(array.iter().map(Node::Value).collect())
            }
        }
    }

    /// Its bytes: of a table with a header those of the header, of a table nobody wrote none.
    pub fn span(self) -> Option<Range<usize>> {
        match self {
            Node::Item(item) => item.span(),
            Node::Table(table) => table.span(),
            Node::Value(value) => value.span(),
        }
    }

    /// Whether its keys stand in one table with those of the table it is in: `hits.last = "0:48"`.
    fn is_dotted(self) -> bool {
        self.table().is_some_and(|table| table.is_dotted())
    }
}

/// How far the way to a place goes in a document.
pub(super) struct Way<'d> {
    /// What was reached last.
    pub end: Node<'d>,
    /// The key it stands at, if it stands at one.
    pub key: Option<&'d Key>,
    /// The last table with a header or braces, and the keys written with dots since.
    pub base: Node<'d>,
    pub dotted: Vec<String>,
    /// The list it is an element of, if it is one, and which.
    pub list: Option<(Node<'d>, usize)>,
    /// The steps that lead on to what is not there.
    pub rest: Vec<Step>,
    root: &'d Table,
}

/// Goes towards a place as far as there is a way; an error names the first thing that is not there and
/// cannot be made.
pub(super) fn find<'d>(root: &'d Table, place: &Place) -> Result<Way<'d>, String> {
    let mut way = Way {
        root,
        end: Node::Table(root),
        key: None,
        base: Node::Table(root),
        dotted: Vec::new(),
        list: None,
        rest: Vec::new(),
    };
    for (i, step) in place.0.iter().enumerate() {
        let before = Place(place.0[..i].to_vec());
        let more = match step {
            Step::Key(key) => way.go_to_key(key, &before)?,
            Step::Item { list, id } => {
                way.go_to_item(list, id)?;
                true
            }
            Step::At(index) => way.go_to_element(*index, &before)?,
        };
        if !more {
            way.rest = place.0[i..].to_vec();
            break;
        }
    }
    Ok(way)
}

impl<'d> Way<'d> {
    /// Whether the last table on the way is the document itself.
    pub fn is_root(&self) -> bool {
        matches!(self.base, Node::Table(table) if std::ptr::eq(table, self.root))
    }

    fn go_to_key(&mut self, key: &str, before: &Place) -> Result<bool, String> {
        let Some(table) = self.end.table() else {
            return Err(format!("{before} is no table: there is no `{key}` in it"));
        };
        let Some((written, item)) = table.get_key_value(key) else {
            return Ok(false);
        };
        let node = Node::Item(item);
        if node.is_dotted() {
            self.dotted.push(key.to_owned());
        } else if node.table().is_some() {
            self.base = node;
            self.dotted.clear();
        }
        (self.end, self.key, self.list) = (node, Some(written), None);
        Ok(true)
    }

    fn go_to_item(&mut self, list: &str, id: &str) -> Result<(), String> {
        let missing = || format!("no {list} of this document is called {id}");
        let table = self.end.table().ok_or_else(missing)?;
        let elements = table.get(list).and_then(|item| Node::Item(item).elements());
        let named = |node: &Node| {
            let table = node.table();
            table.and_then(|table| table.get("id")?.as_str()) == Some(id)
        };
        let found = elements.unwrap_or_default().into_iter().find(named);
        let node = found.ok_or_else(missing)?;
        (self.end, self.base, self.key, self.list) = (node, node, None, None);
        self.dotted.clear();
        Ok(())
    }

    fn go_to_element(&mut self, index: usize, before: &Place) -> Result<bool, String> {
        let Some(elements) = self.end.elements() else {
            return Err(format!("{before} is no list"));
        };
        if index > elements.len() {
            return Err(format!("{before} has only {} elements", elements.len()));
        }
        let list = self.end;
        self.list = Some((list, index));
        self.key = None;
        let Some(&node) = elements.get(index) else {
            return Ok(false);
        };
        self.end = node;
        if node.table().is_some() {
            self.base = node;
            self.dotted.clear();
        }
        Ok(true)
    }
}

/// The bytes of every value written in this very table, in the order of the text: also of those with dotted
/// keys, not of those in tables with a header of their own.
pub(super) fn entries(table: &dyn TableLike) -> Vec<Range<usize>> {
    let mut spans = Vec::new();
    gather(table, &mut spans);
    spans.sort_by_key(|span| span.start);
    spans
}

fn gather(table: &dyn TableLike, spans: &mut Vec<Range<usize>>) {
    for (_, item) in table.iter() {
        match (item.as_table_like(), Node::Item(item).value()) {
            (_, Some(value)) => spans.extend(value.span()),
            (Some(inner), None) if inner.is_dotted() => gather(inner, spans),
            _ => {}
        }
    }
}
