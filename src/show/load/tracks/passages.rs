//! Reads the passages of a track that go round until it ends, and those that are not played.

use super::super::reader::{Item, Section};
use super::LONGEST;
use crate::show::{Fault, Name, Passage, Vamp};
use crate::units::Span;

/// What loops is no shorter: anything less is a buzz.
const SHORTEST_LOOP: Span = Span::from_ms(1_000);

/// What else the document says of places in the track.
pub(super) struct Places<'a> {
    pub hits: &'a [(Name, Span)],
    pub entries: &'a [(Span, std::ops::Range<usize>)],
    pub vamp: Option<Vamp>,
    /// Whether something ends it: `ends`, or a hand.
    pub ends: bool,
}

/// `loop = { from = "0:08.000", to = "0:40.000" }`.
pub(super) fn looped(section: &mut Section<'_>) -> Option<Passage> {
    let item = section.get("loop")?;
    let looped = passage(item.table("`loop`")?)?;
    if looped.to - looped.from < SHORTEST_LOOP {
        item.fault(format!("what loops must last {SHORTEST_LOOP} at the least"))
            .help("`from` and `to` are places in the track, some bars apart")
            .add(item.faults);
        return None;
    }
    Some(looped)
}

/// `cuts = [{ from = "0:30.000", to = "0:45.000" }]`, in order.
pub(super) fn cuts(section: &mut Section<'_>) -> Vec<Passage> {
    let Some(item) = section.get("cuts") else {
        return Vec::new();
    };
    let mut cuts: Vec<Passage> = Vec::new();
    for item in item.list("[{ from = \"0:30.000\", to = \"0:45.000\" }]") {
        let Some(cut) = item.table("`cuts`").and_then(passage) else {
            continue;
        };
        if cuts
            .iter()
            .any(|other| cut.from <= other.to && other.from <= cut.to)
        {
            item.fault("this cut touches another")
                .help("write one cut from where the first begins to where the last is over")
                .add(item.faults);
            continue;
        }
        cuts.push(cut);
    }
    cuts.sort_by_key(|cut| cut.from);
    cuts
}

/// What cannot be together.
pub(super) fn check(
    section: &Section<'_>,
    looped: Option<Passage>,
    cuts: &[Passage],
    places: &Places<'_>,
) {
    let fault = |message: String| Fault::error(section.at.clone(), message);
    if let Some(looped) = looped {
        if section.has("vamp") || section.has("meets") {
            fault("a track that loops cannot meet anything or go round by its vamp".into())
                .help("leave out `loop`: a vamp goes round as often as the meet needs")
                .add(section.faults);
        }
        if !places.ends {
            fault("nothing ends this track: what loops goes round until something does".into())
                .help("write ends = \"memorial.abeam - 4 s\", or go = \"hand\" if a key fades it")
                .add(section.faults);
        }
        if let Some((_, at)) = places.entries.iter().find(|(entry, _)| *entry >= looped.to) {
            Fault::error(at.clone(), "this entry lies behind what loops")
                .help("leave it out, or write an earlier one")
                .add(section.faults);
        }
    }
    for cut in cuts {
        let told = format!("{} to {}", cut.from.clock(3), cut.to.clock(3));
        let lost = places
            .hits
            .iter()
            .find(|(_, at)| cut.from < *at && *at < cut.to);
        if let Some((name, _)) = lost {
            fault(format!("the hit `{name}` is in what is cut out, {told}"))
                .help("cut less, or leave the hit out")
                .add(section.faults);
        }
        if let Some((_, at)) = places.entries.iter().find(|(entry, _)| cut.holds(*entry)) {
            Fault::error(
                at.clone(),
                format!("this entry is in what is cut out, {told}"),
            )
            .help(format!("write \"{}\", where it goes on", cut.to.clock(3)))
            .add(section.faults);
        }
        let edges = |passage: Passage| {
            cut.holds(passage.from) || cut.from < passage.to && passage.to <= cut.to
        };
        if looped.is_some_and(edges) {
            fault(format!(
                "what loops begins or ends in what is cut out, {told}"
            ))
            .help("let `loop` begin and end where something is played")
            .add(section.faults);
        }
        if places
            .vamp
            .is_some_and(|vamp| cut.overlaps(vamp.from, vamp.to))
        {
            fault(format!("the vamp overlaps what is cut out, {told}"))
                .help("let the vamp lie before the cut or after it")
                .add(section.faults);
        }
    }
}

fn passage(mut section: Section<'_>) -> Option<Passage> {
    let limits = Span::ZERO..=LONGEST;
    let place = |item: Item<'_>| item.within("0:40.000", limits.clone());
    let from: Option<Span> = section.must("from", "\"0:08.000\"").and_then(&place);
    let to = section.must("to", "\"0:40.000\"").and_then(|item| {
        let to: Span = item.within("0:40.000", limits.clone())?;
        if from.is_some_and(|from| to <= from) {
            item.fault("it ends before it begins")
                .help("`from` and `to` are places in the track; `to` is the later")
                .add(item.faults);
            return None;
        }
        Some(to)
    });
    section.finish();
    Some(Passage {
        from: from?,
        to: to?,
    })
}
