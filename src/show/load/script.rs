//! Reads what is said: `[[block]]`, `[[silence]]`, `[[call]]`.

use super::narration;
use super::reader::Section;
use crate::show::{Block, Call, Keep, Silence};

/// One `[[block]]`.
pub(super) fn block(mut section: Section<'_>) -> Option<Block> {
    let at = section.at.clone();
    let id = section
        .must("id", "\"memorial-words\"")
        .and_then(|item| item.name());
    let text = narration::wording(&mut section, "text");
    let short = section
        .has("short")
        .then(|| narration::wording(&mut section, "short"));
    section.get("short");
    let say = narration::say(section.get("say"));
    let keep = section.get("keep").and_then(|item| {
        item.choice(&[
            ("must", Keep::Must),
            ("should", Keep::Should),
            ("may", Keep::May),
        ])
    });
    let starts = section.get("starts").and_then(|item| item.time());
    let ends_by = section.get("ends_by").and_then(|item| item.time());
    section.finish();
    Some(Block {
        id: id?,
        text: text.unwrap_or_default(),
        short: short.flatten(),
        say,
        keep: keep.unwrap_or(Keep::Should),
        starts,
        ends_by,
        at,
    })
}

/// One `[[silence]]`.
pub(super) fn silence(mut section: Section<'_>) -> Option<Silence> {
    let at = section.at.clone();
    let mut time = |key| {
        section
            .must(key, "\"memorial.abeam - 3 s\"")
            .and_then(|item| item.time())
    };
    let (from, until) = (time("from"), time("until"));
    section.finish();
    Some(Silence {
        from: from?,
        until: until?,
        at,
    })
}

/// One `[[call]]`.
pub(super) fn call(mut section: Section<'_>) -> Option<Call> {
    let at = section.at.clone();
    let id = section.must("id", "\"smoke\"").and_then(|item| item.name());
    let who = section.must_text("who", "\"coordinator\"");
    let when = section
        .must("at", "\"memorial.abeam - 10 s\"")
        .and_then(|item| item.time());
    let text = section.must_text("text", "\"Smoke on\"");
    section.finish();
    Some(Call {
        id: id?,
        who: who?,
        when: when?,
        text: text?,
        at,
    })
}
