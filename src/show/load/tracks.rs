//! Reads `[[track]]`.

mod passages;
mod vamp;

use std::ops::Range;

use super::reader::{Item, Section};
use super::setting::known;
use super::wording::quoted;
use crate::show::{Credits, Fault, Go, IfMissed, Meet, Name, PointName, Track};
use crate::units::{Gain, Loudness, Share, Span};
use passages::Places;

/// Nothing in a track lies later; what is written there is a slip.
const LONGEST: Span = Span::from_ms(2 * 3_600_000);
/// How far off a meet may be and still count, unless the show says.
const WITHIN: Span = Span::from_ms(1_000);
/// How far music goes down under words, unless the show says (common practice, no published source).
const DUCK: Gain = Gain::from_db(12.0);

/// One `[[track]]`.
pub(super) fn track(mut section: Section<'_>) -> Option<Track> {
    let at = section.at.clone();
    let id = section.must("id", "\"hymn\"").and_then(|item| item.name());
    let file = section
        .must("file", "\"hymn.flac\"")
        .and_then(|item| file(&item));
    let credits = credits(&mut section);
    let go = section
        .get("go")
        .and_then(|item| item.choice(&[("auto", Go::Auto), ("hand", Go::Hand)]));
    let level = section.get("level").and_then(|item| {
        item.within(
            "-18 LUFS",
            Loudness::from_lufs(-70.0)..=Loudness::from_lufs(0.0),
        )
    });
    let trim = section
        .get("trim")
        .and_then(|item| item.within("-3 dB", Gain::from_db(-60.0)..=Gain::from_db(24.0)));
    let mut fade = |key| {
        section
            .get(key)
            .and_then(|item| item.within("4 s", Span::ZERO..=Span::from_ms(600_000)))
            .unwrap_or(Span::ZERO)
    };
    let (fade_in, fade_out) = (fade("fade_in"), fade("fade_out"));
    let hits = section
        .get("hits")
        .and_then(|item| item.table("`hits`"))
        .map(hits);
    let (hit_names, hits) = hits.unwrap_or_default();
    let entries = section.get("entries").map(|item| entries(&item));
    let vamp = section
        .get("vamp")
        .and_then(|item| item.table("`vamp`"))
        .and_then(vamp::vamp);
    let bars = vamp::bars(&mut section);
    let looped = passages::looped(&mut section);
    let cuts = passages::cuts(&mut section);
    let stretch = section
        .get("stretch")
        .and_then(|item| item.within("2 %", Share::ZERO..=Share::from_whole(0.2)));
    let starts = section.get("starts").and_then(|item| item.time());
    let ends = section.get("ends").and_then(|item| item.time());
    let meets = section
        .get("meets")
        .and_then(|item| item.table("`meets`"))
        .and_then(|table| {
            meet(
                table,
                &hit_names,
                &hits,
                entries.as_deref().unwrap_or_default(),
            )
        });
    let duck = section
        .get("duck")
        .and_then(|item| item.within("12 dB", Gain::ZERO..=Gain::from_db(60.0)));
    let under = section.get("under").and_then(|item| item.flag());
    passages::check(
        &section,
        looped,
        &cuts,
        &Places {
            hits: &hits,
            entries: entries.as_deref().unwrap_or_default(),
            vamp,
            ends: ends.is_some() || go == Some(Go::Hand),
        },
    );
    if section.has("starts") && section.has("meets") && !section.faults.broken {
        Fault::error(
            at.clone(),
            "a track with both `starts` and `meets`: the meet says when it starts",
        )
        .help("leave one of them out")
        .add(section.faults);
    }
    let planned = section.has("starts") || section.has("meets") || go == Some(Go::Hand);
    if !planned && !section.faults.broken {
        Fault::error(at.clone(), "nothing says when this track starts")
            .help("write starts = \"memorial.start\", or `meets`, or go = \"hand\" if a key starts it")
            .add(section.faults);
    }
    section.finish();
    let entries: Vec<Span> = entries
        .unwrap_or_default()
        .into_iter()
        .map(|(entry, _)| entry)
        .collect();
    Some(Track {
        id: id?,
        file: file.unwrap_or_default(),
        credits,
        go: go.unwrap_or(Go::Auto),
        level,
        trim: trim.unwrap_or(Gain::ZERO),
        fade_in,
        fade_out,
        hits,
        entries: if entries.is_empty() {
            vec![Span::ZERO]
        } else {
            entries
        },
        bars,
        vamp,
        looped,
        cuts,
        stretch: stretch.unwrap_or(Share::ZERO),
        starts,
        ends,
        meets,
        duck: duck.unwrap_or(DUCK),
        under: under.unwrap_or(false),
        at,
    })
}

/// What returns to rights societies name.
fn credits(section: &mut Section<'_>) -> Credits {
    let mut text = |key| {
        let item = section.get(key)?;
        item.text().map(str::to_owned)
    };
    Credits {
        title: text("title"),
        composer: text("composer"),
        publisher: text("publisher"),
    }
}

/// The file's name: never an absolute path.
fn file(item: &Item<'_>) -> Option<String> {
    let text = item.text()?;
    let drive = text.as_bytes().get(1) == Some(&b':');
    if text.trim().is_empty() {
        item.fault("the track has no file")
            .help("write file = \"hymn.flac\"")
            .add(item.faults);
    } else if text.starts_with(['/', '\\', '~']) || drive {
        item.fault(format!(
            "\"{}\" is a place on one machine only",
            quoted(text)
        ))
        .help(
            "a show is carried from machine to machine: put the track into the media folder \
                 beside the show and write its name alone, such as \"hymn.flac\"",
        )
        .add(item.faults);
    } else if text.chars().any(char::is_control) {
        item.fault(format!("no file is called \"{}\"", quoted(text)))
            .add(item.faults);
    }
    Some(text.to_owned())
}

/// Their names, and those that can be placed, in order of time.
fn hits(section: Section<'_>) -> (Vec<Name>, Vec<(Name, Span)>) {
    let mut names = Vec::new();
    let mut hits = Vec::new();
    for (name, item) in section.named() {
        if !matches!(PointName::read(name.as_str()), PointName::Hit(_)) {
            Fault::error(
                item.key_at.clone(),
                format!("a hit cannot be called `{name}`: other points have that name"),
            )
            .help("call it by what is heard there, such as last_verse")
            .add(item.faults);
        }
        names.push(name.clone());
        let at = item.within("1:12.480", Span::ZERO..=LONGEST);
        hits.extend(at.map(|at| (name, at)));
    }
    hits.sort_by_key(|(_, at)| *at);
    (names, hits)
}

/// Where it may begin, each with its place in the document.
fn entries(item: &Item<'_>) -> Vec<(Span, Range<usize>)> {
    let list = item.list("[\"0:00\"]");
    if list.is_empty() && item.value.get_ref().is_array() {
        item.fault("a track must be able to begin somewhere")
            .help("write entries = [\"0:00\"], or leave it out")
            .add(item.faults);
    }
    let mut entries: Vec<(Span, Range<usize>)> = Vec::new();
    for item in &list {
        let Some(entry) = item.within("0:16.000", Span::ZERO..=LONGEST) else {
            continue;
        };
        if entries.iter().any(|(other, _)| *other == entry) {
            item.fault("the same entry twice").add(item.faults);
        }
        entries.push((entry, item.at()));
    }
    entries
}

fn meet(
    mut section: Section<'_>,
    names: &[Name],
    hits: &[(Name, Span)],
    entries: &[(Span, Range<usize>)],
) -> Option<Meet> {
    let hit = section
        .must("hit", "\"last_verse\", one of the track's hits")
        .and_then(|item| known(&item, names, "hit"));
    let on = section
        .must("on", "\"memorial.abeam\"")
        .and_then(|item| item.time());
    let within = section
        .get("within")
        .and_then(|item| item.within("1 s", Span::from_ms(1)..=Span::from_ms(600_000)));
    let if_missed = section.get("if_missed").and_then(|item| {
        item.choice(&[
            ("late", IfMissed::Late),
            ("nearest", IfMissed::Nearest),
            ("fade", IfMissed::Fade),
        ])
    });
    let faults = section.faults;
    section.finish();
    let hit = hit?;
    let hit_at = hits.iter().find(|(name, _)| *name == hit)?.1;
    for (_, at) in entries.iter().filter(|(entry, _)| *entry >= hit_at) {
        Fault::error(
            at.clone(),
            format!(
                "this entry lies after the hit `{hit}` it must meet, at {}",
                hit_at.clock(3)
            ),
        )
        .help("leave it out, or write an earlier one")
        .add(faults);
    }
    Some(Meet {
        hit,
        hit_at,
        on: on?,
        within: within.unwrap_or(WITHIN),
        if_missed: if_missed.unwrap_or(IfMissed::Late),
    })
}
