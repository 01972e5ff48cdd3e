//! Reads where a track's bars are, and the part of it that can go round.

use std::str::FromStr;

use super::super::reader::{Item, Section};
use super::LONGEST;
use crate::show::{Bars, Vamp, VampStep};
use crate::units::{Span, UnitError};

/// Where its bars are: `tempo = "100 bpm"`, `bar = "4 beats"` and, if it does not begin with one, `first_bar`.
/// A bar may be a length of time as well, and then needs no tempo.
pub(super) fn bars(section: &mut Section<'_>) -> Option<Bars> {
    let tempo: Option<Tempo> = section.get("tempo").and_then(|item| item.parsed("100 bpm"));
    let first = section
        .get("first_bar")
        .and_then(|item| item.within("0:00.250", Span::ZERO..=LONGEST));
    let at = section.at.clone();
    let Some(item) = section.get("bar") else {
        if tempo.is_some() || first.is_some() {
            crate::show::Fault::error(at, "a tempo alone does not say where the bars are")
                .help("write bar = \"4 beats\" beside it")
                .add(section.faults);
        }
        return None;
    };
    let beat = tempo.map(|tempo| 60.0 / tempo.0);
    let length = match (item.parsed::<Bar>("4 beats")?, beat) {
        (Bar::Of(length), _) => length,
        (Bar::Beats(beats), Some(beat)) => Span::from_s(beats * beat),
        // A tempo that cannot be read has been told.
        (Bar::Beats(_), None) if section.has("tempo") => return None,
        (Bar::Beats(_), None) => {
            item.fault("nothing says how long a beat is")
                .help("write tempo = \"100 bpm\" beside it, or the bar as a time: bar = \"2.4 s\"")
                .add(item.faults);
            return None;
        }
    };
    if !(SHORTEST_BAR..=LONGEST_BAR).contains(&length) {
        item.fault(format!("no bar is {length} long"))
            .help(format!("a bar lasts from {SHORTEST_BAR} to {LONGEST_BAR}, such as \"4 beats\" at \"100 bpm\""))
            .add(item.faults);
        return None;
    }
    Some(Bars {
        length,
        first: first.unwrap_or(Span::ZERO),
        beat: beat.map(Span::from_s),
    })
}

const SHORTEST_BAR: Span = Span::from_ms(200);
const LONGEST_BAR: Span = Span::from_ms(60_000);

/// Beats a minute.
struct Tempo(f64);

impl FromStr for Tempo {
    type Err = UnitError;

    fn from_str(text: &str) -> Result<Self, UnitError> {
        let number = text.trim().strip_suffix("bpm").map(str::trim);
        let tempo = number.and_then(|number| number.parse::<f64>().ok());
        let tempo = tempo.filter(|tempo| (20.0..=400.0).contains(tempo));
        tempo.map(Tempo).ok_or_else(|| UnitError {
            text: text.into(),
            what: "a tempo",
            expected: "it as \"100 bpm\", from 20 to 400",
        })
    }
}

/// How long a bar is.
enum Bar {
    Beats(f64),
    Of(Span),
}

impl FromStr for Bar {
    type Err = UnitError;

    fn from_str(text: &str) -> Result<Self, UnitError> {
        let beats = ["beats", "beat"]
            .iter()
            .find_map(|word| text.trim().strip_suffix(word));
        let read = match beats {
            Some(number) => number.trim().parse::<u16>().ok().filter(|beats| *beats > 0),
            None => return text.parse().map(Bar::Of).map_err(|_| not_a_bar(text)),
        };
        read.map(|beats| Bar::Beats(f64::from(beats)))
            .ok_or_else(|| not_a_bar(text))
    }
}

fn not_a_bar(text: &str) -> UnitError {
    UnitError {
        text: text.into(),
        what: "a bar",
        expected: "it as \"4 beats\", or as a time such as \"2.4 s\"",
    }
}

pub(super) fn vamp(mut section: Section<'_>) -> Option<Vamp> {
    let limits = Span::ZERO..=LONGEST;
    let from: Option<Span> = section
        .must("from", "\"0:40.000\"")
        .and_then(|item| item.within("0:40.000", limits.clone()));
    let to: Option<Span> = section.must("to", "\"0:56.000\"").and_then(|item| {
        let to: Span = item.within("0:56.000", limits)?;
        if from.is_some_and(|from| to <= from) {
            item.fault("the vamp ends before it begins")
                .help("`from` and `to` are places in the track; `to` is the later")
                .add(item.faults);
        }
        Some(to)
    });
    let step = section.get("step").and_then(|item| step(&item, from, to));
    let planned = section
        .get("planned")
        .and_then(|item| item.number("2", 0.0..=1_000.0).map(|steps| (steps, item)));
    let planned = planned.map_or(0.0, |(steps, item)| {
        if steps.fract() != 0.0 {
            item.fault("a vamp goes round by whole steps")
                .help("write planned = 2, or another whole number")
                .add(item.faults);
        }
        steps
    });
    section.finish();
    Some(Vamp {
        from: from?,
        to: to?,
        step: step.unwrap_or(VampStep::Bar),
        planned: planned as u32,
    })
}

fn step(item: &Item<'_>, from: Option<Span>, to: Option<Span>) -> Option<VampStep> {
    if item.value.get_ref().as_str() == Some("bar") {
        return Some(VampStep::Bar);
    }
    let step: Span = item.within("2 s", Span::from_ms(10)..=LONGEST)?;
    if let (Some(from), Some(to)) = (from, to)
        && step > to - from
        && to > from
    {
        item.fault("the step is longer than the vamp")
            .help(format!(
                "the vamp is {} long; write step = \"bar\" or less than that",
                to - from
            ))
            .add(item.faults);
    }
    Some(VampStep::Of(step))
}
