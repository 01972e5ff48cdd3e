//! Reads who speaks and what is said: `[narrator]`, texts with brackets in them, `say`.

use std::ops::Range;

use super::item::Item;
use super::reader::Section;
use super::wording::{nearest, quoted};
use crate::show::{Aside, Fault, Narrator, Pauses, Pronunciation, Rest, TimeExpression, Wording};
use crate::units::{Share, Span};

/// The longest rest in the middle of words.
const LONGEST_PAUSE: Span = Span::from_ms(600_000);

/// `[narrator]`: how fast, how steadily and with what rests somebody speaks.
pub(super) fn narrator(section: Option<Section<'_>>) -> Narrator {
    let mut narrator = Narrator::default();
    let Some(mut section) = section else {
        return narrator;
    };
    let rate = section
        .get("words_per_minute")
        .and_then(|item| item.number("130", 40.0..=300.0));
    narrator.words_per_minute = rate.unwrap_or(narrator.words_per_minute);
    let spread = section
        .get("spread")
        .and_then(|item| item.within("6 %", Share::ZERO..=Share::from_whole(0.5)));
    narrator.spread = spread.unwrap_or(narrator.spread);
    let table = section.get("pauses").and_then(|item| item.table("pauses"));
    if let Some(table) = table {
        narrator.pauses = pauses(table, narrator.pauses);
    }
    section.finish();
    narrator
}

fn pauses(mut section: Section<'_>, usual: Pauses) -> Pauses {
    let mut rest = |key, usual| {
        let rest = section
            .get(key)
            .and_then(|item| item.within("0.4 s", Span::ZERO..=Span::from_ms(10_000)));
        rest.unwrap_or(usual)
    };
    let pauses = Pauses {
        comma: rest("comma", usual.comma),
        clause: rest("clause", usual.clause),
        sentence: rest("sentence", usual.sentence),
        paragraph: rest("paragraph", usual.paragraph),
    };
    section.finish();
    pauses
}

/// A text, with what stands in brackets in it.
pub(super) fn wording(section: &mut Section<'_>, key: &'static str) -> Option<Wording> {
    let text = section.must_text(key, "\"Ladies and gentlemen, …\"")?;
    let item = section.get(key)?;
    let mut asides = Vec::new();
    let mut from = 0;
    while let Some(range) = brackets(&text, from) {
        from = range.end;
        let what = rest(
            &item,
            &text[range.start + 1..range.end - 1],
            place(&item, &text, &range),
        );
        asides.extend(what.map(|what| Aside { range, what }));
    }
    Some(Wording { text, asides })
}

/// The next `[…]` after byte `from`.
fn brackets(text: &str, from: usize) -> Option<Range<usize>> {
    let start = from + text.get(from..)?.find('[')?;
    let end = start + text[start..].find(']')?;
    Some(start..end + 1)
}

/// The bytes of the document at which a piece of the item's text stands; the whole item where it is written
/// with escapes.
fn place(item: &Item<'_>, text: &str, range: &Range<usize>) -> Range<usize> {
    let at = item.at();
    let quotes = match at.len().checked_sub(text.len()) {
        Some(2) => 1,
        Some(6) => 3,
        Some(7) => 4,
        _ => return at,
    };
    at.start + quotes + range.start..at.start + quotes + range.end
}

/// What brackets say to do; `None` where they hold words, or a fault was told.
fn rest(item: &Item<'_>, inside: &str, at: Range<usize>) -> Option<Rest> {
    let inside = inside.trim();
    let (word, argument) = inside
        .split_once(char::is_whitespace)
        .unwrap_or((inside, ""));
    let wrong = |message: String, help: &str| {
        Fault::error(at.clone(), message)
            .help(help)
            .add(item.faults);
        None
    };
    match word {
        "pause" => match argument.trim().parse::<Span>() {
            Ok(span) if (Span::ZERO..=LONGEST_PAUSE).contains(&span) => Some(Rest::Pause(span)),
            _ => wrong(
                format!("\"[{}]\" is no pause", quoted(inside)),
                "write how long the voice rests: [pause 2 s]",
            ),
        },
        "wait" => match argument.trim().parse::<TimeExpression>() {
            Ok(time) => Some(Rest::Wait(TimeExpression { at, ..time })),
            Err(_) => wrong(
                format!("\"[{}]\" does not say what is waited for", quoted(inside)),
                "write a point of the show: [wait memorial.abeam]",
            ),
        },
        _ => {
            let meant = nearest(word, &["pause", "wait"])?;
            wrong(
                format!("\"[{}]\" is neither a pause nor a wait", quoted(inside)),
                &format!("did you mean [{meant} …]? Other words in brackets are said"),
            )
        }
    }
}

/// `say = { "Tarnwing" = "TARN-wing" }`.
pub(super) fn say(item: Option<Item<'_>>) -> Vec<Pronunciation> {
    let Some(item) = item else { return Vec::new() };
    let Some(table) = item.value.get_ref().as_table() else {
        item.table("hard names");
        return Vec::new();
    };
    let mut said = Vec::new();
    for (written, value) in table {
        let written: &str = written.get_ref();
        let of = Item {
            key: written,
            key_at: value.span(),
            value,
            ..item.clone()
        };
        let Some(text) = of.text() else { continue };
        if text.trim().is_empty() || written.trim().is_empty() {
            of.fault(format!("`{}` is said as nothing", quoted(written)))
                .help("write how it is said, syllables apart by hyphens: \"TARN-wing\"")
                .add(of.faults);
            continue;
        }
        said.push(Pronunciation {
            written: written.trim().to_owned(),
            said: text.trim().to_owned(),
        });
    }
    said
}
